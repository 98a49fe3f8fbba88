"""How many pieces took a lot: runs made by chance, whose truth is kept piece by piece while they are printed."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from shop import ink_lots

from tickets.domain.entry import Entry
from tickets.domain.runs.run_trace import InkLot, PiecesOfLot, pieces_of

START = datetime(2026, 3, 2, 8, tzinfo=UTC)
GARMENTS = ("stone", "black", "sand")
WAYS = {
    "Tee, stone": {2: "blue · water-base", 3: "red · water-base"},  # no white under it
    "Tee, black": {1: "white · water-base", 2: "blue · water-base", 3: "red · water-base"},
    "Tee, sand": {1: "white · water-base", 2: "orange · water-base"},
}


class Press:
    """A press that prints piece by piece, and the log of whoever writes it down."""

    def __init__(self, rng: random.Random, *, tidy: bool) -> None:
        self.rng, self.tidy = rng, tidy
        self.log: list[Entry] = []
        self.took: dict[tuple[int, str, str], set[int]] = {}
        self.counted: set[int] = set()
        self.printed: list[int] = []
        self.since: list[int] = []
        self.spoiled: set[int] = set()
        self.lots = 0
        self.pots: dict[tuple[int, str], tuple[str, str]] = {}
        self.cartons = {one: f"G-{one}" for one in GARMENTS}
        self.on, self.clock = "stone", START
        for station, ink in {(n, ink) for way in WAYS.values() for n, ink in way.items()}:
            self.pots[station, ink] = self.fresh()

    def fresh(self) -> tuple[str, str]:
        self.lots += 1
        return (f"B{self.lots}", "") if self.rng.random() < 0.6 else ("", f"L-{self.lots}")

    def note(self, step: str, **values: Any) -> None:
        self.clock += timedelta(minutes=1)
        at = self.clock
        name = f"e{len(self.log)}"
        self.log.append(Entry(entry=name, step=step, at=at, saved_at=at, person=1, values=values, run=1))

    @property
    def way(self) -> dict[int, str]:
        return WAYS[f"Tee, {self.on}"]

    def sheet(self) -> None:
        stations = {}
        for station, ink in self.way.items():
            bucket, lot = self.pots[station, ink]
            stations[str(station)] = {"bucket": bucket} if bucket else {"ink_lot": lot}
        lots = {f"garment_lot.Tee, {one}": lot for one, lot in self.cartons.items()}
        self.note("sheet", garment_printed=f"Tee, {self.on}", stations=stations, run=lots)

    def print(self) -> None:
        for _each in range(self.rng.randint(1, 30)):
            piece = len(self.printed)
            self.clock += timedelta(minutes=11)
            self.printed.append(piece)
            self.since.append(piece)
            if self.rng.random() < 0.1:
                self.spoiled.add(piece)
            for station, ink in self.way.items():
                self.took.setdefault((station, *self.pots[station, ink]), set()).add(piece)
            self.took.setdefault((0, "", self.cartons[self.on]), set()).add(piece)

    def count(self) -> None:
        bad = len(self.spoiled & set(self.since))
        self.note("count", good=len(self.since) - bad, misprinted=bad)
        self.counted |= set(self.since)
        self.since = []

    def change(self) -> None:
        if self.since and (self.tidy or self.rng.random() < 0.5):
            self.count()
        what = self.rng.choice(("garment", "pot", "carton", "pot"))
        if what == "garment":
            self.on = self.rng.choice([one for one in GARMENTS if one != self.on])
            self.note("change", what="colourway", garment_style="Tee", garment_colour=self.on)
            self.sheet()
        elif what == "pot":
            station = self.rng.choice(sorted(self.way))
            was = self.pots[station, self.way[station]]
            now = self.pots[station, self.way[station]] = self.fresh()
            for name, one, other in zip(("bucket", "ink_lot"), was, now, strict=True):
                if one != other:
                    self.note("change", field=name, station=station, **{"from": one, "to": other})
        else:
            was = self.cartons[self.on]
            self.lots += 1
            now = self.cartons[self.on] = f"G-{self.lots}"
            self.note("change", field=f"garment_lot.Tee, {self.on}", **{"from": was, "to": now})


def a_run(seed: int, *, tidy: bool) -> Press:
    press = Press(random.Random(seed), tidy=tidy)
    press.note("change", what="colourway", garment_style="Tee", garment_colour=press.on)
    press.sheet()
    press.note("start")
    for _each in range(press.rng.randint(2, 14)):
        press.print()
        press.change()
        if press.rng.random() < 0.15:
            press.note("pause")
            press.note("start")
    press.print()
    press.count()
    press.note("finish")
    return press


def said(press: Press) -> Iterator[tuple[tuple[int, str, str], InkLot]]:
    for one in ink_lots(press.log, WAYS):
        yield (one.station, one.bucket, one.lot), one


@pytest.mark.parametrize("seed", range(60))
def test_each_lot_has_just_the_pieces_that_took_it(seed: int) -> None:
    """Where every change was counted first: to the piece, misprints by themselves, nothing in doubt."""
    press = a_run(seed, tidy=True)
    told = dict(said(press))
    truth = {key: some for key, some in press.took.items() if some}
    assert {key for key, one in told.items() if one.good + one.misprinted} == set(truth)
    for key, some in truth.items():
        bad = len(some & press.spoiled)
        assert (told[key].good, told[key].misprinted, told[key].unsure) == (len(some) - bad, bad, 0), key


@pytest.mark.parametrize("seed", range(60))
def test_what_was_not_counted_at_a_change_is_in_doubt_and_never_left_out(seed: int) -> None:
    press = a_run(seed, tidy=False)
    told = dict(said(press))
    for key, some in press.took.items():
        one = told[key]
        assert one.good + one.misprinted - one.unsure <= len(some) <= one.good + one.misprinted + one.more, key


@pytest.mark.parametrize("seed", range(20))
def test_the_pieces_of_several_print_orders_are_counted_once(seed: int) -> None:
    press = a_run(seed, tidy=True)
    rows = dict(said(press))
    for one in rows:
        for other in rows:
            both = press.took.get(one, set()) | press.took.get(other, set())
            found = pieces_of([rows[one].counts, rows[other].counts])
            bad = len(both & press.spoiled)
            assert found == PiecesOfLot(len(both) - bad, bad)


def test_a_garment_that_takes_none_of_an_ink_took_nothing_of_its_lot() -> None:
    """120 of 200: the white is not printed on stone."""
    press = Press(random.Random(1), tidy=True)
    press.note("change", what="colourway", garment_style="Tee", garment_colour="black")
    press.note("sheet", stations={"1": {"bucket": "WHITE"}, "2": {"bucket": "BLUE"}})
    press.note("start")
    press.note("count", good=120)
    press.note("change", what="colourway", garment_style="Tee", garment_colour="stone")
    press.note("count", good=80)
    found = {one.bucket: one.good for one in ink_lots(press.log, WAYS)}
    assert found == {"WHITE": 120, "BLUE": 200}
    press.note("change", what="colourway", garment_style="Tee", garment_colour="sand")
    press.note("count", good=10)
    found = {one.bucket: one.good for one in ink_lots(press.log, WAYS)}
    assert found == {"WHITE": 130, "BLUE": 200}, "sand takes orange in the place of the blue"
    assert {one.bucket: one.good for one in ink_lots(press.log)} == {"WHITE": 210, "BLUE": 210}, "inks not known"


def test_a_lot_noted_for_an_idle_head_is_in_no_piece() -> None:
    """A sheet may carry on what stands on a head that the garment doesn't take."""
    press = Press(random.Random(1), tidy=True)
    press.note("change", what="colourway", garment_style="Tee", garment_colour="stone")
    press.note("sheet", stations={"1": {"bucket": "WHITE"}, "2": {"bucket": "BLUE"}})
    press.note("start")
    press.note("count", good=80)
    assert {one.bucket: one.good for one in ink_lots(press.log, WAYS)} == {"WHITE": 0, "BLUE": 80}


def test_a_lot_that_was_noted_late_tells_of_what_was_printed_before() -> None:
    press = Press(random.Random(1), tidy=True)
    press.note("start")
    press.note("sheet", stations={"1": {}})
    press.note("count", good=40, misprinted=2)
    press.note("change", field="bucket", station=1, **{"from": "", "to": "B1"})
    press.note("count", good=10)
    press.note("change", field="bucket", station=1, **{"from": "B1", "to": "B2"})
    press.note("count", good=5)
    found = {one.bucket: (one.good, one.misprinted, one.unsure) for one in ink_lots(press.log)}
    assert found == {"B1": (50, 2, 0), "B2": (5, 0, 0)}


def test_nothing_prints_while_a_run_is_paused() -> None:
    press = Press(random.Random(1), tidy=True)
    press.note("sheet", stations={"1": {"bucket": "B1"}})
    press.note("start")
    press.note("count", good=40)
    press.note("pause")
    press.note("change", field="bucket", station=1, **{"from": "B1", "to": "B2"})
    press.note("change", field="bucket", station=1, **{"from": "B2", "to": "B3"})
    press.note("start")
    press.note("count", good=10)
    found = {one.bucket: (one.good, one.unsure) for one in ink_lots(press.log)}
    assert found == {"B1": (40, 0), "B2": (0, 0), "B3": (10, 0)}


def test_a_lot_noted_late_tells_of_the_pieces_before_it_whatever_sheets_named_none() -> None:
    """10 and 5 pieces are counted on sheets that name no lot for position 1, the second one written by a further
    approval; then the lot is noted, and 3 more are counted: it has 18. A lot that was taken out again ends it: what is
    noted after it has the pieces since."""
    press = Press(random.Random(1), tidy=True)
    nothing = {"stations": {"1": {"strokes": "2"}}, "run": {}}
    press.note("sheet", **nothing)
    press.note("count", good=10)
    press.note("sheet", **nothing)
    press.note("count", good=5)
    press.note("change", field="ink_lot", station=1, **{"from": "", "to": "L-1"})
    press.note("count", good=3)
    assert {one.lot: one.good for one in ink_lots(press.log)} == {"L-1": 18}
    press.note("change", field="ink_lot", station=1, **{"from": "L-1", "to": ""})
    press.note("count", good=4)
    press.note("change", field="ink_lot", station=1, **{"from": "", "to": "L-2"})
    assert {one.lot: one.good for one in ink_lots(press.log)} == {"L-1": 18, "L-2": 4}
