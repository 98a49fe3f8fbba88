"""How many pieces took a lot: runs made by chance, whose truth is kept piece by piece while they are printed."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from shop import ink_lots

from tickets.domain.entry import Entry
from tickets.domain.runs.run import first_garment
from tickets.domain.runs.run_trace import InkLot, PiecesOfLot, Poured, Warned, pieces_of, upset

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


# -- what is kept of a run, and what it cost


def made(*acts: tuple[float, str, dict[str, Any]]) -> list[Entry]:
    """Acts at so many minutes."""
    at = [(START + timedelta(minutes=minutes), step, values) for minutes, step, values in acts]
    return [Entry(entry=f"e{n}", step=step, at=when, saved_at=when, person=1, values=values, run=1)
            for n, (when, step, values) in enumerate(at)]  # fmt: skip


@pytest.mark.parametrize("seed", range(6))
def test_lots_are_led_on_from_what_was_kept_at_any_entry(seed: int) -> None:
    lines = a_run(seed, tidy=False).log
    on = first_garment(lines)
    whole = Poured(WAYS, on)
    for line in lines:
        whole = Poured.led_on(WAYS, json.loads(json.dumps(whole.kept())))
        whole.see(line)
    assert whole.lots() == ink_lots(lines, WAYS)


def changed(minutes: float, field: str, to: str, was: str = "", station: int = 1) -> tuple[float, str, dict[str, Any]]:
    return minutes, "change", {"field": field, "station": station, "from": was, "to": to}


def counted_for(*acts: tuple[float, str, dict[str, Any]]) -> dict[tuple[int, str, str], tuple[int, int, int, int]]:
    found = ink_lots(made(*acts))
    return {(one.station, one.bucket, one.lot): (one.good, one.misprinted, one.unsure, one.more) for one in found}


SHEET = (0, "sheet", {"stations": {"1": {"bucket": "A", "ink_lot": "a"}}, "run": {"garment_lot": "G"}})
GO, COUNT = (1, "start", {}), (60, "count", {"good": 9, "misprinted": 1})


def test_a_change_long_after_the_start_leaves_its_pieces_in_doubt() -> None:
    """Ten minutes are at once (judgement): nothing was printed before it."""
    sure, unsure = {(1, "A", ""): (0, 0, 0, 0), (1, "B", ""): (9, 1, 0, 0), (0, "", "G"): (9, 1, 0, 0)}, (9, 1, 10, 0)
    assert counted_for(SHEET, GO, changed(11, "bucket", "B", "A"), COUNT) == sure
    late = counted_for(SHEET, GO, changed(11.1, "bucket", "B", "A"), COUNT)
    assert late == {**sure, (1, "B", ""): unsure, (1, "A", ""): (0, 0, 0, 10)}
    paused = counted_for(SHEET, GO, (5, "pause", {}), changed(30, "bucket", "B", "A"), COUNT)
    assert paused == sure, "nothing prints in a pause"
    assert counted_for(SHEET, changed(30, "bucket", "B", "A"), COUNT) == sure, "it had not begun"
    after = counted_for(SHEET, GO, COUNT, changed(70, "bucket", "B", "A"), (90, "count", {"good": 5}))
    assert after == {(1, "A", ""): (9, 1, 0, 0), (1, "B", ""): (5, 0, 0, 0), (0, "", "G"): (14, 1, 0, 0)}
    back = counted_for(SHEET, GO, changed(20, "bucket", "B", "A"), changed(30, "bucket", "A", "B"), COUNT)
    assert back[1, "A", ""] == unsure and back[1, "B", ""] == (0, 0, 0, 10)


def test_a_lot_beside_a_bucket_goes_with_it_and_one_alone_is_its_own() -> None:
    assert counted_for(SHEET, GO, changed(2, "ink_lot", "b", "a"), COUNT)[1, "A", ""] == (9, 1, 0, 0)
    assert (1, "", "a") not in counted_for(SHEET, GO, COUNT)
    alone = counted_for(GO, changed(2, "ink_lot", "b", "a"), COUNT)
    assert alone == {(1, "", "a"): (0, 0, 0, 0), (1, "", "b"): (9, 1, 0, 0)}, "what was there before is told too"
    none = counted_for(SHEET, GO, changed(2, "bucket", "", "A"), COUNT)
    assert none == {(1, "A", ""): (0, 0, 0, 0), (0, "", "G"): (9, 1, 0, 0)}
    other = counted_for(GO, changed(2, "garment_lot", "H", "G"), changed(3, "garment_lot.Hood", "K", "J"), COUNT)
    assert other == {(0, "", "G"): (0, 0, 0, 0), (0, "", "H"): (9, 1, 0, 0), (0, "", "J"): (0, 0, 0, 0),
                     (0, "", "K"): (0, 0, 0, 0)}  # fmt: skip
    assert counted_for(GO, (2, "change", {"field": "bucket", "from": "", "to": "B"}), COUNT) == {}, "of which head?"
    assert counted_for((0, "sheet", {"run": {"garment_lot.Hood": "H", "platen": "wide"}}), GO, COUNT) == {
        (0, "", "H"): (0, 0, 0, 0)}  # fmt: skip


@pytest.mark.parametrize(("counts", "pieces"), [
    (["1:9:1:sure 2:5:0:unsure 3:4:2:more"], (14, 1, 5, 6)),
    (["1:9:1:unsure", "1:9:1:sure"], (9, 1, 0, 0)),
    (["1:9:1:more", "1:9:1:unsure"], (9, 1, 10, 0)),
    (["1:9:1:sure", "1:9:1:more"], (9, 1, 0, 0)),
    ([""], (0, 0, 0, 0)),
])  # fmt: skip
def test_pieces_that_two_lots_had_between_them(counts: list[str], pieces: tuple[int, ...]) -> None:
    assert pieces_of(counts) == PiecesOfLot(*pieces)


@pytest.mark.parametrize(("step", "values", "cost"), [
    ("stop", {"minutes": 12, "cause": "lint"}, ("stop", "lint", 12, 0, 0)),
    ("stop", {"minutes": True}, ("stop", "other", None, 0, 0)),
    ("stop", {"minutes": "12"}, ("stop", "other", None, 0, 0)),
    ("stop", {"minutes": 0.5}, ("stop", "other", 0.5, 0, 0)),
    ("swap", {"cause": "pinholes"}, ("swap", "pinholes", None, 0, 0)),
    ("swap", {"why": "pinholes"}, ("swap", "pinholes", None, 0, 0)),
    ("swap", {"cause": "because"}, ("swap", "other", None, 0, 0)),
    ("count", {"good": 9, "misprinted": 1, "cause": "lint"}, ("count", "lint", None, 9, 1)),
    ("count", {"misprinted": 1}, ("count", "other", None, 0, 1)),
    ("count", {"good": 9, "cause": "lint"}, ("count", "", None, 9, 0)),
    ("note", {"good": 9}, None),
])  # fmt: skip
def test_what_a_stop_a_swap_and_a_count_cost(step: str, values: dict[str, Any], cost: Any) -> None:
    found = upset(made((0, step, values))[0])
    assert (found and (found.step, found.cause, found.minutes, found.good, found.misprinted)) == cost


def hung(*reasons: dict[str, Any], step: str = "hang") -> Entry:
    return replace(made((0, step, {}))[0], verdict={"reasons": list(reasons)})


def test_a_set_up_is_warned_once_of_each_thing_by_its_worst_number() -> None:
    def warned(*lines: Entry) -> list[tuple[str, int | None, float | None]]:
        found = Warned()
        for line in lines:
            found = Warned(**json.loads(json.dumps(found.kept())))
            found.see(line)
        return [(one.key, one.row, one.value) for one in found.cautions()]

    def of(key: str, **numbers: Any) -> dict[str, Any]:
        return {"key": key, "level": "caution", "numbers": numbers, "spec": [7, 8]}

    none = ("", None, None)
    assert warned() == warned(hung(of("tension-old", age_d=9), step="pull")) == []
    assert warned(hung(), hung({"key": "right-image", "level": "ok"})) == [none]
    low = [hung(of("tension-under-watch", lowest_n_per_cm=value)) for value in (18, 17, 19)]
    assert warned(*low) == [none, ("tension-under-watch", 7, 17)]
    high = [hung(of("tension-over-ceiling", highest_n_per_cm=value)) for value in (38, 40, 39)]
    assert warned(*high) == [none, ("tension-over-ceiling", 7, 40)]
    far = [hung(of("tension-far-from-neighbours", own_pct=own, other_pct=2)) for own in (-9, 1, 5)]
    assert warned(*far) == [none, ("tension-far-from-neighbours", 7, 11)]
    assert warned(hung(of("tension-far-from-neighbours", own_pct=3)))[1] == ("tension-far-from-neighbours", 7, None)
    assert warned(hung(of("tension-old", age_d=9)), hung(of("tension-old")))[1] == ("tension-old", 7, 9)
    assert warned(hung(of("tension-old", age_d="old")))[1] == ("tension-old", 7, None)
    assert warned(hung({"key": "wrong-image", "level": "stop", "numbers": {"own_pct": 3, "other_pct": 1}}))[1] == (
        "wrong-image", None, None)  # fmt: skip
