"""One advice: what the step wedges teach, what the lamp's page says and what the next form fills in."""

from __future__ import annotations

from pathlib import Path

import pytest
from test_learning import wanted, with_lamps

from tickets.calculator import exposure
from tickets.calculator.exposure import Combination, Washout, judge_learned, judge_set_time, judge_step, learn
from tickets.calculator.verdict import Level, judge
from tickets.queries import screen_steps

HERE = Combination("Big lamp", "dual-cure A", 230, 48, "yellow", "2+1")


def read(*found: tuple[float, float]) -> list[Washout]:
    return [Washout(HERE, time, held, day) for day, (time, held) in enumerate(found)]


def learned(*found: tuple[float, float]) -> exposure.Learned:
    one = learn(read(*found), HERE, 7, above=2, tolerance=0.2)
    assert one is not None
    return one


def test_the_last_three_count_where_they_agree_and_not_with_those_before() -> None:
    """By hand: step 5 held where 7 is wanted asks for twice the time (a step of a grey scale is half a stop)."""
    one = learned(*[(95, 7)] * 12, *[(95, 5)] * 3)
    assert (one.time, one.before, one.readings) == (pytest.approx(190), pytest.approx(95), 3)
    assert judge(judge_learned(one)).level is Level.CAUTION
    assert learned(*[(95, 7)] * 12, (95, 5), (95, 5)).time == pytest.approx(95), "two are a hint"
    assert learned(*[(95, 7)] * 12, (95, 5), (95, 7), (95, 5)).before is None, "they do not agree with each other"


@pytest.mark.parametrize("held", [7, 8, 9])
def test_nothing_pushes_a_time_down_that_holds_no_more_than_is_fine(held: float) -> None:
    one = learned(*[(95, held)] * 4)
    assert one.time == pytest.approx(95)
    assert judge_set_time(95, one, tolerance=0.2) == []


def test_a_step_over_what_is_fine_is_brought_down_to_that() -> None:
    one = learned(*[(95, 11)] * 4)
    assert one.time == pytest.approx(47.5) and one.low == pytest.approx(23.75)
    assert [found.key for found in judge_set_time(95, one, tolerance=0.2)] == ["exposure-set-time-off"]
    assert judge_set_time(30, one, tolerance=0.2) == [], "holds 7 to 9 as well"


def test_two_readings_are_a_hint() -> None:
    one = learned((95, 7), (95, 7))
    assert [(found.key, found.level) for found in judge_learned(one)] == [("exposure-from-two", Level.CAUTION)]
    assert judge_set_time(40, one, tolerance=0.2) == []
    assert judge(judge_learned(learned(*[(95, 7)] * 3))).level is Level.OK


@pytest.mark.parametrize("held", [0, 21])
def test_all_or_nothing_held_is_a_bound_and_no_value(held: float) -> None:
    """Two readings at step 21 of 600 s would have asked for 4.69 s."""
    assert learn(read((600, held), (600, held)), HERE, 7, above=2) is None
    assert learned(*[(95, 7)] * 3, (600, held)).time == pytest.approx(95)
    if held:
        (found,) = judge_step(held, 7, 600, above=2)
        assert (found.key, "next_time_s" in found.numbers) == ("step-all", False)


def test_the_form_the_lamps_page_and_the_washout_say_one_thing(tmp_path: Path) -> None:
    shop = with_lamps(tmp_path)
    code = shop.frame()
    shop.limit("exposure-time", 95, "s", exposure_unit="Big lamp")
    for _once in range(12):
        shop.taught(code, 7, exposure_s=95)
    shop.coated(code)
    assert wanted(shop, code).seconds.other == ""
    shop.log(code, "strip", still_needed="yes")
    for _once in range(3):
        shop.taught(code, 5, exposure_s=95)
    shop.coated(code)
    known = wanted(shop, code).seconds
    assert (known.source, known.typed, known.other) == ("set", "95", "190")
    assert screen_steps.habits(shop.db, shop.find(code), "expose", shop.now)["exposure_s"] == "95"
    (row,) = [one for one in known.reasons if one.key == "exposure-set-time-off"]
    assert row.numbers["time_s"] == pytest.approx(190)
    shop.limit("exposure-time", 190, "s", exposure_unit="Big lamp")
    assert (wanted(shop, code).seconds.typed, wanted(shop, code).seconds.other) == ("190", "")
