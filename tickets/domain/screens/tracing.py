"""What became of each stencil of a screen: how long it stood where, what it was coated from, which runs it printed.

Worked out beside the life, in the same replay, so that a lot can be followed to its jobs and a job back to its lots
without reading the log.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, astuple, dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from tickets.domain.entry import Entry, read_stamp, stamp, standing_lines, text_of, whole_of
from tickets.domain.jobs.colourways import LOT_OF, Ways, takes
from tickets.domain.runs.run import first_garment, garment_in
from tickets.domain.runs.setup import RUN, parts_of
from tickets.domain.screens.screen import Life, Stencil
from tickets.domain.stages import Standing
from tickets.domain.steps import SWAPPED
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
        if entry.step == "pull" and self._key is not None and (cause := _swapped(entry.values)) not in OF_THE_MESH:
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
    cause. A swap is a fault as a stop is, with its reason as the cause."""

    at: str
    step: str
    cause: str
    minutes: float | None
    good: int
    misprinted: int


@dataclass(frozen=True, slots=True)
class InkLot:
    """What a station of a run was printed with: a bucket by its code, a maker's lot by its text; `station` 0: all.

    `good`, `misprinted`: the pieces that took it, by the counts: what is counted was printed with what is there then,
    on the garment of then. Where a count came only after a change, nobody knows how many were printed before it:
    `unsure` of the pieces may have taken what was there before, and what was there may have had `more`. `counts`:
    those counts, for who puts several stations together (`pieces_of`).
    """

    station: int
    bucket: str
    lot: str
    good: int = 0
    misprinted: int = 0
    unsure: int = 0
    more: int = 0
    counts: str = ""


@dataclass(frozen=True, slots=True)
class Pieces:
    """Pieces that took a lot; `unsure` and `more` as of `InkLot`."""

    good: int = 0
    misprinted: int = 0
    unsure: int = 0
    more: int = 0


_SURE, _UNSURE, _MORE = "sure", "unsure", "more"


def pieces_of(counts: Iterable[str]) -> Pieces:
    """The pieces that took one of some lots of a run, by their `counts`, each piece once."""
    found: dict[str, tuple[int, int, str]] = {}
    for one in " ".join(counts).split():
        place, good, misprinted, how = one.split(":")
        known = found.get(place, (0, 0, _MORE))[2]
        # what two of them between them had for sure nobody doubts any more
        how = min(how, known, key=(_SURE, _UNSURE, _MORE).index)
        found[place] = int(good), int(misprinted), how
    took = [one for one in found.values() if one[2] != _MORE]
    both = {how: sum(one[0] + one[1] for one in found.values() if one[2] == how) for how in (_UNSURE, _MORE)}
    return Pieces(sum(one[0] for one in took), sum(one[1] for one in took), both[_UNSURE], both[_MORE])


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


_Pot = tuple[int, str]
"""Where ink or garments come from: a print order with the ink that it takes; 0 with a garment: its lot."""


AT_ONCE = timedelta(minutes=10)
"""A change so soon after a count or a start was made before more was printed (judgement); only doubt hangs on it."""


class _Poured:
    """What each pot is filled from, as a run's log is read, and which counts fall to it."""

    def __init__(self, ways: Ways, on: str) -> None:
        self._ways, self._on = ways, on
        self._bucket: dict[_Pot, str] = {}
        self._lot: dict[_Pot, str] = {}
        self._beside: dict[_Pot, str] = {}
        self._left: dict[int, dict[InkLot | None, None]] = {}
        self._empty: dict[_Pot, int] = {}
        self._counts: list[tuple[tuple[int, int, int], str]] = []
        self._since: datetime | None = None
        self._at = datetime.min
        self.found: dict[InkLot, list[tuple[int, int, int, str]]] = {}

    def see(self, entry: Entry) -> None:
        """Takes note of one entry."""
        values, self._at = entry.values, entry.at
        match entry.step:
            case "start":
                self._since = self._at
            case "pause":
                self._since = None
            case "sheet":
                self._sheet(values)
            case "change" if values.get("field"):
                self._change(values)
            case "change" if garment := garment_in(entry):
                self._go_on_with(garment)
            case "count":
                self._count(whole_of(values, "good") or 0, whole_of(values, "misprinted") or 0)

    @property
    def _printed(self) -> bool:
        """Whether something may have been printed that nobody counted."""
        return self._since is not None and self._at - self._since > AT_ONCE

    def _pot(self, station: int, garment: str = "") -> _Pot:
        return station, garment or (self._ways.get(self._on, {}).get(station, "") if station else self._on)

    def _pot_on(self, garment: str, station: int) -> _Pot | None:
        """The pot that a garment takes somewhere; None: none."""
        if not station:
            return 0, garment
        ink = self._ways.get(garment, {}).get(station, "")
        return (station, ink) if takes(self._ways, garment, station) else None

    def _pots_now(self) -> list[_Pot]:
        """The pots that a piece of now takes."""
        every = dict.fromkeys((*self._bucket, *self._lot))
        return [pot for pot in every if pot == self._pot(pot[0]) and self._takes(pot[0])]

    def _takes(self, station: int) -> bool:
        return not station or takes(self._ways, self._on, station)

    def _now(self, pot: _Pot) -> InkLot | None:
        """What a pot is filled from. A lot that stands beside its bucket is the bucket's own, by which it is found."""
        bucket, lot = self._bucket.get(pot, ""), self._lot.get(pot, "")
        return InkLot(pot[0], bucket, "" if bucket else lot) if bucket or lot else None

    def _go_on_with(self, garment: str) -> None:
        stations = {0, *(pot[0] for pot in (*self._bucket, *self._lot))}
        stations |= {number for way in self._ways.values() for number in way}
        before = {one: self._pot(one) for one in sorted(stations) if self._takes(one)}
        self._on = garment
        for station in stations if self._printed else ():
            pot = before.get(station)
            if pot != (self._pot(station) if self._takes(station) else None):
                self._left.setdefault(station, {})[self._now(pot) if pot else None] = None

    def _sheet(self, values: Mapping[str, Any]) -> None:
        for part, settings in parts_of(values).items():
            if part != RUN:
                pot = self._pot(int(part))
                self._fill(pot, str(settings.get("bucket") or ""), str(settings.get("ink_lot") or ""))
                continue
            for name, lot in settings.items():
                if name == "garment_lot" or name.startswith(LOT_OF):
                    self._fill(self._pot(0, name.removeprefix(LOT_OF) if name != "garment_lot" else ""), "", str(lot))

    def _change(self, values: Mapping[str, Any]) -> None:
        name, station = text_of(values, "field"), whole_of(values, "station") or 0
        was, to = text_of(values, "from"), text_of(values, "to")
        if name == "bucket" and station:
            pot = self._pot(station)
            self._was(pot, InkLot(station, was, "") if was else None)
            self._beside[pot] = self._lot.get(pot, "")
            self._fill(pot, to, self._beside[pot] if to else "")  # a lot beside a bucket goes with it
        elif name == "ink_lot" and station:
            pot = self._pot(station)
            if not self._bucket.get(pot) and was != self._beside.get(pot):
                self._was(pot, InkLot(station, "", was) if was else None)
            self._fill(pot, self._bucket.get(pot, ""), to)
        elif name == "garment_lot" or name.startswith(LOT_OF):
            pot = self._pot(0, name.removeprefix(LOT_OF) if name != "garment_lot" else "")
            self._was(pot, InkLot(0, "", was) if was else None)
            self._fill(pot, "", to)

    def _was(self, pot: _Pot, told: InkLot | None) -> None:
        """A change says what was there before, which the log may not have known."""
        if told is not None and self._now(pot) is None:
            self._fill(pot, told.bucket, told.lot)

    def _fill(self, pot: _Pot, bucket: str, lot: str) -> None:
        before = self._now(pot)
        self._bucket[pot], self._lot[pot] = bucket, lot
        now = self._now(pot)
        if before is not None and before != now and self._printed and pot in self._pots_now():
            self._left.setdefault(pot[0], {})[before] = None
        if now is None:
            if before is not None:  # else nothing was known of it before either
                self._empty[pot] = len(self._counts)
            return
        rows = self.found.setdefault(now, [])
        if before is None:  # noted late: it tells of what was printed before too
            late = self._counts[self._empty.get(pot, 0) :]
            rows += [(*told, _SURE) for told, garment in late if self._pot_on(garment, pot[0]) == pot]

    def _count(self, good: int, misprinted: int) -> None:
        told = (len(self._counts) + 1, good, misprinted)
        self._counts.append((told, self._on))
        there: dict[int, InkLot] = {}
        for pot in self._pots_now():
            now = self._now(pot)
            if now is not None:
                there[pot[0]] = now
                self.found[now].append((*told, _UNSURE if set(self._left.get(pot[0], ())) - {now} else _SURE))
        for station, some in self._left.items():
            for one in some:
                if one is not None and one != there.get(station):
                    self.found[one].append((*told, _MORE))
        self._left = {}
        if self._since is not None:
            self._since = self._at


def ink_lots(entries: Iterable[Entry], ways: Ways | None = None) -> tuple[InkLot, ...]:
    """The ink buckets and lots of a run, each with the pieces that took it: those of its set-up sheets, and those that
    it changed to and from. `ways`: which ink each garment takes where, so that a garment that takes none of an ink, or
    another one there, took nothing of its lot."""
    lines = standing_lines(entries)
    poured = _Poured(ways or {}, first_garment(lines))
    for entry in lines:
        poured.see(entry)
    found = []
    for one, rows in poured.found.items():
        counts = " ".join(":".join(map(str, row)) for row in rows)
        found.append(replace(one, **asdict(pieces_of([counts])), counts=counts))
    return tuple(found)


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


def of_run(entries: Iterable[Entry], ways: Ways | None = None) -> RunTrace:
    """The stops, counts, lots and cautions of one run; `ways` as `ink_lots` takes it."""
    lines = list(entries)
    return RunTrace(upsets(lines), ink_lots(lines, ways), cautions(lines))
