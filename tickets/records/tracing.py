"""What became of each stencil of a screen: how long it stood where, what it was coated from, which runs it printed.

Worked out beside the life, in the same replay, so that a lot can be followed to its jobs and a job back to its lots
without reading the log.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from tickets.records.entry import Entry, read_stamp, stamp, standing_lines, text_of, whole_of
from tickets.records.run import Story
from tickets.records.screen import Life, Standing
from tickets.records.setup import RUN, parts_of
from tickets.records.steps import SWAPPED
from tickets.words import N_

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
        return tuple(int(text) for text in self.separations.split())

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
    """Follows a replay step by step; `past` is what it came to."""

    def __init__(self) -> None:
        self._stays: list[list[Any]] = []
        self._stencils: list[dict[str, Any]] = []
        self._key: tuple[int, int] | None = None
        self._coats: list[Coat] = []
        self._hangings: list[list[Any]] = []

    def see(self, before: Life, life: Life, entry: Entry) -> None:
        """Takes note of one entry: the life before and after it."""
        at = stamp(entry.at)
        if life.standing is not before.standing:
            self._stay(life, at)
        if life.stencil is not before.stencil or life.gaps != before.gaps:
            self._stencil(life, at)
        if entry.step in {"washout", "check"} and entry.values.get("result") == "fault" and self._key is not None:
            self._fault(text_of(entry.values, "fault") or UNNAMED)
        if entry.step == "pull" and self._key is not None and (cause := _swapped(entry.values)) not in OF_THE_MESH:
            self._fault(cause)
        if life.standing is Standing.READY and self._key is not None and not self._stencils[-1]["ready_at"]:
            self._stencils[-1]["ready_at"] = at
        if entry.step == "coat" and self._key is not None:
            bucket = whole_of(entry.values, "bucket")
            if bucket is not None:
                self._coats.append(Coat(len(self._stencils) - 1, bucket, at, entry.entry))
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
        here = len(self._stencils) - 1 if self._key is not None else None
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


# Runs ----------------------------------------------------------------------------------------------------------


OF_THE_MESH = frozenset({"", "torn", "slack"})
"""What a screen is swapped for that is no fault of its stencil."""


def _swapped(values: Mapping[str, Any]) -> str:
    """The fault that a screen was swapped for, by its coming off; empty: it came off for another reason."""
    why = text_of(values, "cause") or text_of(values, "why")
    return why if why in SWAPPED else ""


@dataclass(frozen=True, slots=True)
class Upset:
    """A stop, a swap or a count of a run: what it cost. `step`: stop, swap, count; a count without misprints has no
    cause."""

    at: str
    step: str
    cause: str
    minutes: float | None
    good: int
    misprinted: int


@dataclass(frozen=True, slots=True)
class InkLot:
    """What a station of a run was printed with: a bucket by its code, a maker's lot by its text; `station` 0: all."""

    station: int
    bucket: str
    lot: str


def upsets(entries: Iterable[Entry]) -> tuple[Upset, ...]:
    """The stops, swaps and counts among the entries of one run, in the order of time."""
    found = []
    for entry in standing_lines(entries):
        values = entry.values
        if entry.step == "stop":
            minutes = values.get("minutes")
            number = float(minutes) if isinstance(minutes, int | float) and not isinstance(minutes, bool) else None
            found.append(Upset(stamp(entry.at), "stop", text_of(values, "cause") or "other", number, 0, 0))
        elif entry.step == "swap":
            found.append(Upset(stamp(entry.at), "swap", _swapped(values) or "other", None, 0, 0))
        elif entry.step == "count":
            misprinted = whole_of(values, "misprinted") or 0
            cause = (text_of(values, "cause") or "other") if misprinted else ""
            found.append(Upset(stamp(entry.at), "count", cause, None, whole_of(values, "good") or 0, misprinted))
    return tuple(found)


def ink_lots(story: Story) -> tuple[InkLot, ...]:
    """The ink buckets and lots of a run: those of its set-up sheet, and those that it changed to and from later.

    A lot that stands beside its bucket is the bucket's own, by which it is found: it is not counted a second time.
    """
    found: dict[InkLot, None] = {}
    poured: dict[str, Any] = {}
    for part, values in parts_of(story.sheet).items():
        poured[part] = values.get("bucket")
        for name in ("bucket", "garment_lot", *(() if poured[part] else ("ink_lot",))):
            _note_lot(found, part, name, values.get(name))
    told = {(_part(one), one["at"]): one for one in story.changes if one.get("field") == "bucket"}
    for change in story.changes:
        name, part = str(change.get("field") or ""), _part(change)
        with_it = told.get((part, change["at"]))
        if name in ("bucket", "ink_lot", "garment_lot"):
            for side in ("from", "to"):
                bucket = with_it.get(side) if with_it else poured.get(part)
                if name != "ink_lot" or not bucket:
                    _note_lot(found, part, name, change.get(side))
        if name == "bucket":
            poured[part] = change.get("to")
    return tuple(found)


def _part(change: Mapping[str, Any]) -> str:
    return str(change.get("station") or RUN)


def _note_lot(found: dict[InkLot, None], part: str, name: str, value: object) -> None:
    text = str(value or "").strip()
    if text:
        station = int(part) if part.isdigit() else 0
        found[InkLot(station, text, "") if name == "bucket" else InkLot(station, "", text)] = None


MEASURED = {
    "tension-under-watch": ("lowest_n_per_cm", "below"),
    "tension-under-floor": ("lowest_n_per_cm", "below"),
    "tension-uneven": ("spread_n_per_cm", "above"),
    "tension-over-ceiling": ("highest_n_per_cm", "above"),
    "tension-old": ("age_d", "above"),
    "tension-far-from-neighbours": ("", "above"),
    "coated-too-long": ("age_d", "above"),
}
"""For a reason that rests on a limit: the number that was held against it, and on which side it was bad."""


@dataclass(frozen=True, slots=True)
class Caution:
    """A reason shown at a set-up that was not good: its key, the row of the spec that it rests on (None: no limit), and
    the number held against it. The key is empty in the one line that says that screens were hung at all."""

    key: str
    row: int | None
    value: float | None


def cautions(entries: Iterable[Entry]) -> tuple[Caution, ...]:
    """What the set-up of a run was warned of, each key and row once with its worst number; nothing where no screen was
    hung."""
    worst: dict[tuple[str, int | None], float | None] = {}
    hung = False
    for entry in standing_lines(entries):
        if entry.step != "hang":
            continue
        hung = True
        for reason in (entry.verdict or {}).get("reasons", ()):
            if reason.get("level") == "ok":
                continue
            key, rows, numbers = str(reason.get("key", "")), reason.get("spec") or (), reason.get("numbers") or {}
            row = int(rows[0]) if rows else None
            name, side = MEASURED.get(key, ("", "above"))
            if key == "tension-far-from-neighbours" and {"own_pct", "other_pct"} <= set(numbers):
                value: float | None = abs(float(numbers["own_pct"]) - float(numbers["other_pct"]))
            else:
                found = numbers.get(name)
                value = float(found) if isinstance(found, int | float) else None
            before = worst.get((key, row))
            if before is not None and value is not None:
                value = min(before, value) if side == "below" else max(before, value)
            worst[key, row] = before if value is None else value
    if not hung:
        return ()
    return (Caution("", None, None), *(Caution(key, row, value) for (key, row), value in worst.items()))


@dataclass(frozen=True, slots=True)
class RunTrace:
    """What is worked out of a run beside its story."""

    upsets: tuple[Upset, ...] = ()
    ink_lots: tuple[InkLot, ...] = ()
    cautions: tuple[Caution, ...] = ()


def of_run(entries: Iterable[Entry], story: Story) -> RunTrace:
    """The stops, counts, lots and cautions of one run."""
    lines = list(entries)
    return RunTrace(upsets(lines), ink_lots(story), cautions(lines))
