"""What a run's log comes to where two acts fit together oddly: one garment said twice, a lot noted late, a number that
is nought, a screen that nobody hung."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from shop import ink_lots
from test_run_story import START, entry

from tickets.domain.entry import Entry, stamp
from tickets.domain.runs import led, run
from tickets.domain.runs.run import Used, nothing_counted, replay, same_reasons, uncounted, used
from tickets.domain.runs.run_trace import PiecesOfLot, Upset, Warned, pieces_of, upset

RED, BLACK = "Tee, red", "Tee, black"
OF_RED, OF_BLACK = {run.GARMENT: RED}, {run.GARMENT: BLACK}
WAYS: dict[str, dict[int, str]] = {RED: {1: "white", 2: "blue"}, BLACK: {1: "white"}}


def on(hours: float, garment: str, **more: Any) -> Entry:
    style, colour = garment.split(", ")
    return entry("change", hours, what=run.COLOURWAY, garment_style=style, garment_colour=colour, **more)


def change(hours: float, field: str, was: str, to: str, station: int = 0) -> Entry:
    return entry("change", hours, field=field, station=station, to=to, **{"from": was})


# -- garments and sheets


def test_who_says_the_garment_that_is_on_again_changes_nothing() -> None:
    sheets = [entry("sheet", 1, **OF_RED, stations={"1": {"strokes": "2"}}), on(1.5, RED),
              entry("sheet", 2, **OF_BLACK, stations={"1": {"strokes": "3"}})]  # fmt: skip
    before, after = replay(sheets), replay([*sheets, on(3, RED)])
    assert (after.sheet_on, after.sheet, after.sheets) == (before.sheet_on, before.sheet, before.sheets)
    assert after.on == RED and after.sheet_on == BLACK
    gone = replay([*sheets, on(3, BLACK), on(4, RED)])
    assert (gone.sheet_on, gone.sheet["stations"]["1"]["strokes"]) == (RED, "2"), "each has its own whole sheet"
    assert set(gone.sheets) == {BLACK} and gone.sheets[BLACK]["at"] == stamp(START + timedelta(hours=2))


def test_a_second_sheet_of_one_garment_takes_the_place_of_the_first() -> None:
    first = entry("sheet", 1, **OF_RED, stations={"1": {"strokes": "2"}})
    again = replay([first, replace(entry("sheet", 2, **OF_RED, stations={}), entry="again")])
    assert (again.sheets, again.sheet_entry, again.sheet_on) == ({}, "again", RED)
    alone = replay([entry("sheet", 1, stations={})])
    assert (alone.sheets, alone.sheet_on) == ({}, "")


def test_an_approval_keeps_photo_and_sample_of_its_own_garment_only() -> None:
    log = [entry("approve", 1, **OF_RED, photo="a.png", sample="yes", lab={"1": [1, 2, 3]}, how="eye"),
           entry("approve", 2, **OF_BLACK), entry("approve", 3, **OF_RED, photo="b.png")]  # fmt: skip
    found = replay(log)
    assert "photo" not in found.approvals[BLACK] and "how" not in found.approvals[RED]
    assert (found.approvals[RED]["photo"], found.approvals[RED]["sample"]) == ("b.png", "yes")
    assert found.approved == found.approvals[RED] and found.approved["at"] == stamp(START + timedelta(hours=3))


@pytest.mark.parametrize(
    ("values", "screen", "tests"),
    [({"test_prints": 3}, None, 3), ({"test_prints": 0}, None, 0), ({}, None, 0), ({"test_prints": 3}, 21, 0)],
)
def test_test_prints_are_no_impressions(values: dict[str, Any], screen: int | None, tests: int) -> None:
    found = replay([entry("note", 1, screen, **values)])
    assert (found.tests, found.impressions, found.good) == (tests, 0, 0)


def test_numbers_that_nobody_gave_are_nought() -> None:
    found = replay([entry("hang", 1, 21), entry("print", 2, 21), entry("count", 3), entry("count", 4, cause="smear")])
    assert (found.hung[0].station, found.impressions, found.good, found.misprinted, found.causes) == (0, 0, 0, 0, {})
    assert nothing_counted([entry("count", 1, good=0)]) == ("",) and nothing_counted([entry("count", 1, good=2)]) == ()
    assert nothing_counted([on(0, RED), entry("count", 1, good=2), on(2, BLACK)]) == ()


def test_what_is_to_be_approved_again_stands_by_its_time_then_by_its_position() -> None:
    log = [entry("hang", 1, 21, station=2), entry("hang", 1, 22, station=1), on(1.5, RED),
           entry("approve", 2, **OF_RED),
           change(3, "bucket", "A", "B", 2), change(3, "bucket", "A", "C", 1), on(3, BLACK), on(3, RED),
           entry("hang", 4, 23, station=1), entry("hang", 5, 24, station=1)]  # fmt: skip
    found = replay(log, WAYS).to_approve
    assert [(one.why, one.station, one.was, one.now) for one in found] == [
        ("back", None, BLACK, RED), ("ink", 1, "A", "C"), ("ink", 2, "A", "B"), ("swap", 1, 22, 24)]  # fmt: skip
    assert found[-1].at == stamp(START + timedelta(hours=4)), "since the first change"


def test_a_reason_of_the_log_is_the_same_though_the_clock_went_on() -> None:
    old = {"key": "bucket-old", "numbers": {"age_d": 3, "left_h": 4, "bucket": "K"}}
    assert same_reasons([old], [{"key": "bucket-old", "numbers": {"age_d": 9, "bucket": "K"}}])
    assert not same_reasons([old], [{"key": "bucket-old", "numbers": {"bucket": "L"}}])
    assert not same_reasons([old], []) and same_reasons([], []) and not same_reasons([old, old], [old])
    moved = {"key": "x", "numbers": {run.VERSION: 2, "screens": [1], "images": ["a"]}}
    assert same_reasons([moved], [{"key": "x", "numbers": {run.VERSION: 2, "screens": [4]}}])
    assert not same_reasons([{"key": "x", "numbers": {"screens": [1]}}], [{"key": "x", "numbers": {"screens": [2]}}])


def test_what_spoke_against_a_step_is_kept_once_until_a_pause() -> None:
    def judged(hours: float, step: str = "count", level: str = "caution", key: str = "a", **more: Any) -> Entry:
        told = [{"key": key, "level": level, "numbers": {}}, {"key": "fine", "level": "ok"}]
        return entry(step, hours, verdict={"level": level, "reasons": told}, **more)

    def kept(*log: Entry) -> list[tuple[str, str, bool]]:
        return [(one.step, one.level, one.held) for one in replay(log).judged]

    assert kept(judged(1), judged(2)) == [("count", "caution", True)]
    assert kept(judged(1), judged(2, level="stop")) == [("count", "caution", True), ("count", "stop", True)]
    assert kept(judged(1), judged(2, key="b")) == [("count", "caution", True)] * 2
    assert kept(judged(1), judged(2, override={"who": "Otto"})) == [("count", "caution", True)] * 2
    assert kept(judged(1), entry("pause", 2), judged(3)) == [("count", "caution", False), ("count", "caution", True)]
    assert kept(judged(1, level="ok"), judged(2, "stop"), judged(3, "hang", screen=21)) == []


# -- what nobody counted, which screens printed


def test_what_a_count_would_go_astray_by() -> None:
    def said(*log: Entry) -> run.Uncounted:
        return uncounted(log, replay(log))

    first, second = entry("hang", 1, 21, station=1), entry("hang", 3, 22, station=1)
    start = entry("start", 2)
    assert not said(first, second, entry("start", 4)) and said(first, start, second).screens == {1: (21,)}
    assert not said(first, start, entry("hang", 3, 21, station=1)), "the same one again"
    assert said(first, start, second, entry("hang", 4, 21, station=1)).screens == {1: (22,)}, "back to the first"
    third = entry("hang", 4, 23, station=1)
    assert said(first, start, second, third).screens == {1: (21, 22)}
    assert not said(first, start, second, entry("count", 4, good=3))
    zero = entry("hang", 1, 21)
    assert said(zero, start, entry("hang", 3, 22)).screens == {0: (21,)}
    counted = entry("count", 4, good=3)
    along = replace(entry("pull", 4, 22), saved_at=counted.saved_at, part=2)
    assert not said(first, start, entry("hang", 2.5, 22, station=1), counted, along, entry("hang", 5, 24, station=1))
    left = entry("hang", 5, 24, station=1)
    assert said(first, start, counted, replace(entry("pull", 4.5, 21)), left).screens == {1: (21,)}


def test_how_each_screen_came_off() -> None:
    log = [entry("hang", 1, 22, station=2), entry("hang", 1, 21, head=4), entry("print", 2, 21),
           entry("print", 3, 21, impressions=5), entry("pull", 4, 21, condition="worn", then="keep"),
           entry("decide", 5, 21, then="strip"), entry("found", 6, 22),
           entry("print", 7, 99, impressions=9)]  # fmt: skip
    assert used(log) == [Used(21, 0, 4, 5, "worn", "strip"), Used(22, 2, None, taken=True)]
    assert used([*log, entry("pull", 8, 22, then="keep")])[1] == Used(22, 2, None, then="keep")
    assert used([*log, entry("hang", 8, 21, head=5)])[0] == Used(21, 0, 5, 5)


# -- what it cost, and which lots it took


@pytest.mark.parametrize(("step", "values", "found"), [
    ("stop", {"minutes": 4}, Upset("", "stop", "other", 4.0, 0, 0)), ("stop", {"minutes": True, "cause": "ink"},
     Upset("", "stop", "ink", None, 0, 0)), ("stop", {"minutes": "4"}, Upset("", "stop", "other", None, 0, 0)),
    ("count", {"good": 5}, Upset("", "count", "", None, 5, 0)), ("count", {}, Upset("", "count", "", None, 0, 0)),
    ("count", {"misprinted": 2}, Upset("", "count", "other", None, 0, 2)),
    ("count", {"misprinted": 2, "cause": "smear"},
     Upset("", "count", "smear", None, 0, 2)), ("pause", {}, None), ("print", {"impressions": 3}, None)])  # fmt: skip
def test_what_an_act_cost(step: str, values: dict[str, Any], found: Upset | None) -> None:
    cost = upset(entry(step, 1, **values))
    assert (cost and replace(cost, at="")) == found
    assert cost is None or cost.at == stamp(START + timedelta(hours=1))


def lots(*log: Entry) -> dict[str, tuple[int, int, int, int]]:
    return {f"{one.station} {one.bucket or one.lot}": (one.good, one.misprinted, one.unsure, one.more)
            for one in ink_lots(list(log), WAYS)}  # fmt: skip


def test_a_lot_that_is_noted_late_tells_of_its_own_garment_and_ink_only() -> None:
    log = [on(0, RED), entry("start", 0.1), entry("count", 1, good=10), on(1.01, BLACK), entry("count", 2, good=7)]
    assert lots(*log, change(3, "garment_lot", "", "G2")) == {"0 G2": (7, 0, 0, 0)}
    assert lots(*log, change(3, f"garment_lot.{RED}", "", "G1")) == {"0 G1": (10, 0, 0, 0)}
    assert lots(*log, change(3, "ink_lot", "", "W", 1)) == {"1 W": (17, 0, 0, 0)}, "both take the white"
    assert lots(*log, on(2.01, RED), change(3, "ink_lot", "", "B", 2)) == {"2 B": (10, 0, 0, 0)}, "red alone takes blue"


def test_a_pot_that_was_empty_tells_nothing_of_what_was_counted_then() -> None:
    log = [on(0, RED), entry("sheet", 0.05, stations={"1": {"bucket": "A"}}), entry("start", 0.1),
           entry("count", 1, good=10),
           change(1.01, "bucket", "A", "", 1), entry("count", 2, good=7),
           change(2.01, "bucket", "", "B", 1)]  # fmt: skip
    assert lots(*log, entry("count", 3, good=5, misprinted=1)) == {"1 A": (10, 0, 0, 0), "1 B": (12, 1, 0, 0)}
    late = [one for one in log if one.step != "sheet"]
    assert lots(*late) == {"1 A": (10, 0, 0, 0), "1 B": (7, 0, 0, 0)}, "the change says what was there before"


@pytest.mark.parametrize(("minutes", "unsure"), [(9, 0), (10, 0), (11, 5)])
def test_a_change_soon_after_a_count_was_made_at_once(minutes: float, unsure: int) -> None:
    """Ten minutes (judgement)."""
    log = [on(0, RED), entry("sheet", 0.05, stations={"1": {"bucket": "A"}}), entry("start", 0.1),
           entry("count", 1, good=10),
           change(1 + minutes / 60, "bucket", "A", "B", 1), entry("count", 3, good=5)]  # fmt: skip
    assert lots(*log) == {"1 A": (10, 0, 0, unsure), "1 B": (5, 0, unsure, 0)}


def test_pieces_of_several_lots_are_counted_once_and_what_is_sure_is_sure() -> None:
    assert pieces_of(["1:10:1:sure 2:5:0:unsure", "2:5:0:sure 3:4:0:more", "4:2:2:unsure"]) == PiecesOfLot(17, 3, 4, 4)
    assert pieces_of(["3:4:0:more", "3:4:0:unsure"]) == PiecesOfLot(4, 0, 4, 0) and pieces_of([]) == PiecesOfLot()


def test_a_set_up_keeps_the_worst_of_each_caution() -> None:
    def hung(*reasons: tuple[str, dict[str, Any]], level: str = "caution") -> Entry:
        told = [{"key": key, "level": level, "spec": [4], "numbers": numbers} for key, numbers in reasons]
        return entry("hang", 1, 21, verdict={"level": level, "reasons": told})

    warned = Warned()
    assert warned.cautions() == ()
    for one in (("tension-under-watch", {"lowest_n_per_cm": 18}), ("tension-under-watch", {"lowest_n_per_cm": 17.5}),
                ("tension-under-watch", {"lowest_n_per_cm": 19}), ("tension-old", {"age_d": 91}),
                ("tension-old", {"age_d": 95}), ("tension-old", {}), ("tension-uneven", {}),
                ("tension-far-from-neighbours", {"own_pct": 80, "other_pct": 95.5}), ("mesh-unknown", {})):  # fmt: skip
        warned.see(hung(one))
    warned.see(hung(("tension-over-ceiling", {}), level="ok"))
    warned.see(entry("pull", 2, 21, verdict={"reasons": [{"key": "x"}]}))
    assert [(one.key, one.row, one.value) for one in warned.cautions()] == [
        ("", None, None), ("tension-under-watch", 4, 17.5), ("tension-old", 4, 95.0), ("tension-uneven", 4, None),
        ("tension-far-from-neighbours", 4, 15.5), ("mesh-unknown", 4, None)]  # fmt: skip


# -- led on


@pytest.mark.parametrize(("log", "more", "leads"), [
    ([entry("start", 1)], [entry("count", 2, good=3)], True), ([entry("start", 2)], [entry("count", 1, good=3)], False),
    ([entry("start", 1)], [entry("count", 1, good=3)], True), ([entry("start", 1)], [on(2, RED)], False),
    ([on(0, RED), entry("start", 1)], [on(2, BLACK)], True),
    ([entry("start", 1)], [entry("approve", 2, **OF_RED)], False),
    ([entry("start", 1)], [entry("approve", 2)], True),
    ([entry("start", 1)], [entry("cross-out", 2, entry="x")], False), ([entry("start", 1)], [], True)])  # fmt: skip
def test_when_a_run_is_led_on_by_its_last_entries(log: list[Entry], more: list[Entry], leads: bool) -> None:
    before, whole = led.whole(log, WAYS), led.whole([*log, *more], WAYS)
    found = led.on(before.story, before.kept, more, WAYS)
    assert (found is not None) == leads
    if found:
        assert (found.story, found.kept) == (whole.story, whole.kept)
        assert found.first == len(before.trace.upsets) and found.trace.upsets == whole.trace.upsets[found.first :]
    assert led.on(before.story, None, more, WAYS) is None and led.again(before.story, None, WAYS) is None
    again = led.again(before.story, before.kept, WAYS)
    assert again is not None and again.story == before.story and again.trace.upsets == ()
