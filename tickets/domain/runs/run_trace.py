"""What a run cost and what it was printed with: its stops, counts, lots and cautions, worked out beside its story."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from tickets.calculator.numerals import counted
from tickets.domain.entry import Entry, read_stamp, stamp, text_of, whole_of
from tickets.domain.jobs.colourways import LOT_OF, Ways, takes
from tickets.domain.plain import keyed, pairs
from tickets.domain.runs.run import garment_in
from tickets.domain.runs.setup import RUN, parts_of
from tickets.domain.steps import SWAPPED

OF_THE_MESH = frozenset({"", "torn", "slack"})
"""What a screen is swapped for that is no fault of its stencil."""


def swapped(values: Mapping[str, Any]) -> str:
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
class PiecesOfLot:
    """Pieces that took a lot; `unsure` and `more` as of `InkLot`."""

    good: int = 0
    misprinted: int = 0
    unsure: int = 0
    more: int = 0


_SURE, _UNSURE, _MORE = "sure", "unsure", "more"


def pieces_of(counts: Iterable[str]) -> PiecesOfLot:
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
    return PiecesOfLot(sum(one[0] for one in took), sum(one[1] for one in took), both[_UNSURE], both[_MORE])


def upset(entry: Entry) -> Upset | None:
    """The stop, swap or count that an entry of a run is; None: it is something else."""
    values = entry.values
    match entry.step:
        case "stop":
            minutes = values.get("minutes")
            number = float(minutes) if isinstance(minutes, int | float) and not isinstance(minutes, bool) else None
            return Upset(stamp(entry.at), "stop", text_of(values, "cause") or "other", number, 0, 0)
        case "swap":
            return Upset(stamp(entry.at), "swap", swapped(values) or "other", None, 0, 0)
        case "count":
            misprinted = whole_of(values, "misprinted") or 0
            cause = (text_of(values, "cause") or "other") if misprinted else ""
            return Upset(stamp(entry.at), "count", cause, None, whole_of(values, "good") or 0, misprinted)
    return None


_Pot = tuple[int, str]
"""Where ink or garments come from: a print order with the ink that it takes; 0 with a garment: its lot."""


AT_ONCE = timedelta(minutes=10)
"""A change so soon after a count or a start was made before more was printed (judgement); only doubt hangs on it."""


class Poured:
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

    def lots(self) -> tuple[InkLot, ...]:
        """The buckets and lots by now, each with the pieces that took it."""
        found = []
        for one, rows in self.found.items():
            counts = " ".join(":".join(map(str, row)) for row in rows)
            found.append(replace(one, **asdict(pieces_of([counts])), counts=counts))
        return tuple(found)

    def kept(self) -> dict[str, Any]:
        """All of it but the ways as plain data, to be led on by later entries (`led_on`)."""
        left = {station: [_lot_kept(one) if one else None for one in some] for station, some in self._left.items()}
        return {
            "on": self._on,
            "bucket": pairs(self._bucket),
            "lot": pairs(self._lot),
            "beside": pairs(self._beside),
            "left": pairs(left),
            "empty": pairs(self._empty),
            "counts": [[*told, garment] for told, garment in self._counts],
            "since": stamp(self._since) if self._since else "",
            "found": [[_lot_kept(one), [list(row) for row in rows]] for one, rows in self.found.items()],
        }

    @classmethod
    def led_on(cls, ways: Ways, kept: Mapping[str, Any]) -> Poured:
        """What was `kept`, to go on from there."""
        one = cls(ways, kept["on"])
        one._bucket, one._lot, one._beside = keyed(kept["bucket"]), keyed(kept["lot"]), keyed(kept["beside"])
        one._empty, left = keyed(kept["empty"]), keyed(kept["left"])
        one._left = {number: {InkLot(*lot) if lot else None: None for lot in some} for number, some in left.items()}
        one._counts = [((place, good, bad), garment) for place, good, bad, garment in kept["counts"]]
        one._since = read_stamp(kept["since"]) if kept["since"] else None
        one.found = {
            InkLot(*lot): [(place, good, bad, how) for place, good, bad, how in rows] for lot, rows in kept["found"]
        }
        return one

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
                pot = self._pot(counted(part))
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


def _lot_kept(lot: InkLot) -> list[Any]:
    return [lot.station, lot.bucket, lot.lot]


MEASURED = {
    "tension-under-watch": ("lowest_n_per_cm", "below"),
    "tension-under-floor": ("lowest_n_per_cm", "below"),
    "tension-uneven": ("spread_n_per_cm", "above"),
    "tension-over-ceiling": ("highest_n_per_cm", "above"),
    "tension-old": ("age_d", "above"),
    "tension-far-from-neighbours": ("", "above"),
    "coated-too-long": ("age_d", "above"),
}
"""For a reason that rests on a limit: the number that was compared with it, and on which side it was bad."""


@dataclass(frozen=True, slots=True)
class ShownCaution:
    """A reason shown at a set-up that was not good: its key, the row of the spec that it rests on (None: no limit), and
    the number compared with it. The key is empty in the one line that says that screens were hung at all."""

    key: str
    row: int | None
    value: float | None


class Warned:
    """What a set-up was warned of, as the run's log is read: each key and row once with its worst number."""

    def __init__(self, kept: Iterable[Sequence[Any]] = (), hung: bool = False) -> None:
        self._worst: dict[tuple[str, int | None], float | None] = keyed(kept)
        self._hung = hung

    def see(self, entry: Entry) -> None:
        """One more entry of the run."""
        if entry.step != "hang":
            return
        self._hung = True
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
            before = self._worst.get((key, row))
            if before is not None and value is not None:
                value = min(before, value) if side == "below" else max(before, value)
            self._worst[key, row] = before if value is None else value

    def cautions(self) -> tuple[ShownCaution, ...]:
        """The rows; none where no screen was hung."""
        if not self._hung:
            return ()
        return (
            ShownCaution("", None, None),
            *(ShownCaution(key, row, value) for (key, row), value in self._worst.items()),
        )

    def kept(self) -> dict[str, Any]:
        """As plain data, to be led on by later entries."""
        return {"kept": pairs(self._worst), "hung": self._hung}


@dataclass(frozen=True, slots=True)
class RunTrace:
    """What is worked out of a run beside its story."""

    upsets: tuple[Upset, ...] = ()
    ink_lots: tuple[InkLot, ...] = ()
    cautions: tuple[ShownCaution, ...] = ()
