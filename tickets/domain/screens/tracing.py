"""What became of each stencil of a screen: how long it stood where, what it was coated from, which runs it printed.

Worked out beside the life, in the same replay, so that a lot can be followed to its jobs and a job back to its lots
without reading the log.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, astuple, dataclass
from typing import Any

from tickets.calculator.numerals import numbers_in
from tickets.domain.entry import Entry, read_stamp, stamp, text_of, whole_of
from tickets.domain.runs.run_trace import OF_THE_MESH, swapped
from tickets.domain.screens.screen import Life, Stencil
from tickets.domain.stages import Standing
from tickets.i18n import N_

UNNAMED = N_("not named")
"""A fault of which nobody noted what it was."""


@dataclass(frozen=True, slots=True)
class Stay:
    """One time at a standing. `until` is empty and `hours` None while it lasts."""

    standing: str
    mesh: str
    count_per_cm: float | None
    since: str
    until: str
    hours: float | None


@dataclass(frozen=True, slots=True)
class StencilLife:
    """One stencil from its beginning to its end; what was not logged is empty or None.

    `mesh` counts the screen's meshes, `number` the mesh's stencils; `bucket` is the last one it was coated from.
    `separations` are numbers, `faults` and `missed` words (of washouts, checks and swaps; of steps that the shop logs
    but that were left out), each with a blank or a bar between. `turnaround_h`: from beginning to end.
    """

    mesh: int
    number: int
    mesh_label: str
    count_per_cm: float | None
    bucket: int | None
    preset: str
    begun_at: str
    coated_at: str
    imaged_at: str
    means: str
    separations: str
    exposed_at: str
    exposure_unit: str
    exposure_s: float | None
    exposure_units: float | None
    washed_at: str
    washout: str
    step_held: float | None
    checked_at: str
    checked: str
    faults: str
    missed: str
    ready_at: str
    impressions: int
    ended_at: str
    turnaround_h: float | None

    @property
    def images(self) -> tuple[int, ...]:
        """The separations on it, by number."""
        return numbers_in(self.separations)

    @property
    def fault_list(self) -> tuple[str, ...]:
        """Its faults, in the order in which they were seen."""
        return tuple(text for text in self.faults.split("|") if text)

    @property
    def missed_list(self) -> tuple[str, ...]:
        """The steps that were left out."""
        return tuple(text for text in self.missed.split("|") if text)


@dataclass(frozen=True, slots=True)
class Coat:
    """A coat of a stencil (its place among the screen's stencils, from 0) out of a bucket that was noted."""

    stencil: int
    bucket: int
    at: str
    entry: str


@dataclass(frozen=True, slots=True)
class Hanging:
    """One time on a press; `stencil` is its place among the screen's stencils (None: hung without one, by the log)."""

    stencil: int | None
    run: int
    head: int | None
    station: int | None
    at: str
    off_at: str
    impressions: int


@dataclass(frozen=True, slots=True)
class Past:
    """All that became of one screen."""

    stays: tuple[Stay, ...] = ()
    stencils: tuple[StencilLife, ...] = ()
    coats: tuple[Coat, ...] = ()
    hangings: tuple[Hanging, ...] = ()


class Follower:
    """Follows a replay step by step; `past` is what it came to.

    It may go on from the end of a past (`begun`, its rows of the last stencil from the place `first` on; `life`: of
    then): no entry looks back further than that.
    """

    def __init__(self, begun: Past = Past(), life: Life | None = None, first: int = 0) -> None:
        self._stays: list[list[Any]] = [
            [one.standing, one.mesh, one.count_per_cm, one.since, one.until] for one in begun.stays
        ]
        self._first = first
        stencil = life.stencil if life is not None else None
        self._stencils = [_thawed(one, stencil) for one in begun.stencils] if stencil is not None else []
        self._key = (life.meshes, stencil.number) if life is not None and stencil is not None else None
        self._coats = list(begun.coats)
        self._hangings: list[list[Any]] = [list(astuple(one)) for one in begun.hangings]

    @property
    def _last(self) -> int:
        """The place of the newest stencil among the screen's."""
        return self._first + len(self._stencils) - 1

    def see(self, before: Life, life: Life, entry: Entry) -> None:
        """Takes note of one entry: the life before and after it."""
        at = stamp(entry.at)
        if life.standing is not before.standing:
            self._stay(life, at)
        if life.stencil is not before.stencil or life.gaps != before.gaps:
            self._stencil(life, at)
        if entry.step in {"washout", "check"} and entry.values.get("result") == "fault" and self._key is not None:
            self._fault(text_of(entry.values, "fault") or UNNAMED)
        if entry.step == "pull" and self._key is not None and (cause := swapped(entry.values)) not in OF_THE_MESH:
            self._fault(cause)
        if life.standing is Standing.READY and self._key is not None and not self._stencils[-1]["ready_at"]:
            self._stencils[-1]["ready_at"] = at
        if entry.step == "coat" and self._key is not None:
            bucket = whole_of(entry.values, "bucket")
            if bucket is not None:
                self._coats.append(Coat(self._last, bucket, at, entry.entry))
        self._press(before, life, entry, at)

    def _stay(self, life: Life, at: str) -> None:
        stays = self._stays
        if stays and stays[-1][3] == at:
            stays.pop()  # found and led on at once: no stay
        elif stays:
            stays[-1][4] = at
        standing = str(life.standing)
        if stays and stays[-1][0] == standing:
            stays[-1][4] = ""
            return
        mesh = life.mesh
        stays.append(
            [standing, mesh.count_as_labelled if mesh else "", round(mesh.count_per_cm, 4) if mesh else None, at, ""]
        )

    def _stencil(self, life: Life, at: str) -> None:
        stencil = life.stencil
        key = (life.meshes, stencil.number) if stencil is not None else None
        if key != self._key:
            if self._key is not None:
                self._stencils[-1]["ended_at"] = at
            self._key = key
            if stencil is not None:
                self._stencils.append({"begun_at": at, "ended_at": "", "ready_at": "", "faults": (), "missed": ()})
        if stencil is None:
            return
        row, mesh = self._stencils[-1], life.mesh
        row["mesh"], row["number"] = life.meshes, stencil.number
        row["mesh_label"] = mesh.count_as_labelled if mesh else ""
        row["count_per_cm"] = round(mesh.count_per_cm, 4) if mesh else None
        row["stencil"] = stencil
        if life.gaps:
            row["missed"] = tuple(dict.fromkeys((*row["missed"], *(step for gap in life.gaps for step in gap[1]))))

    def _fault(self, fault: str) -> None:
        seen = self._stencils[-1]["faults"]
        if not seen or seen[-1] != fault:
            self._stencils[-1]["faults"] = (*seen, fault)

    def _press(self, before: Life, life: Life, entry: Entry, at: str) -> None:
        hangings = self._hangings
        if before.run is not None and (life.run is None or entry.step == "hang") and hangings:
            hangings[-1][5] = hangings[-1][5] or at
        here = self._last if self._key is not None else None
        run = entry.run if entry.run is not None else whole_of(entry.values, "run")
        if entry.step == "hang" and run is not None:
            head, station = whole_of(entry.values, "head"), whole_of(entry.values, "station")
            hangings.append([here, run, head, station, at, "" if life.run is not None else at, 0])
        elif entry.step == "print":
            count = whole_of(entry.values, "impressions") or 0
            run = run if run is not None else life.run
            if run is None or not count:
                return
            if not hangings or hangings[-1][1] != run:  # it printed there, though the log never hung it
                hangings.append([here, run, None, None, at, at, 0])
            hangings[-1][6] += count

    @property
    def past(self) -> Past:
        """What was followed, frozen."""
        return Past(
            tuple(Stay(row[0], row[1], row[2], row[3], row[4], _hours(row[3], row[4])) for row in self._stays),
            tuple(map(_frozen, self._stencils)),
            tuple(self._coats),
            tuple(Hanging(*row) for row in self._hangings),
        )


def _hours(since: str, until: str) -> float | None:
    """Hours between two stamps, to a thousandth; None while it lasts."""
    return round((read_stamp(until) - read_stamp(since)).total_seconds() / 3600, 3) if until else None


def _thawed(one: StencilLife, stencil: Stencil) -> dict[str, Any]:
    """A stencil that is on the screen still, as it is followed on."""
    row = asdict(one)
    return {**row, "faults": one.fault_list, "missed": one.missed_list, "stencil": stencil}


def _frozen(row: Mapping[str, Any]) -> StencilLife:
    stencil = row["stencil"]
    return StencilLife(
        mesh=row["mesh"],
        number=row["number"],
        mesh_label=row["mesh_label"],
        count_per_cm=row["count_per_cm"],
        bucket=stencil.bucket,
        preset=stencil.preset,
        begun_at=row["begun_at"],
        coated_at=stencil.coated_at,
        imaged_at=stencil.imaged_at,
        means=stencil.means,
        separations=" ".join(map(str, stencil.separations)),
        exposed_at=stencil.exposed_at,
        exposure_unit=stencil.exposure_unit,
        exposure_s=stencil.exposure_s,
        exposure_units=stencil.exposure_units,
        washed_at=stencil.washed_at,
        washout=stencil.washout,
        step_held=stencil.step_held,
        checked_at=stencil.checked_at,
        checked=stencil.check,
        faults="|".join(row["faults"]),
        missed="|".join(row["missed"]),
        ready_at=row["ready_at"],
        impressions=stencil.impressions,
        ended_at=row["ended_at"],
        turnaround_h=_hours(row["begun_at"], row["ended_at"]),
    )
