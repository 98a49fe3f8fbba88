"""The chart of step strips: against published figures and SciPy, by hand, and in shops where nothing moves."""

from __future__ import annotations

import math
import random
import statistics
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from simulated_figures import STRIP_SHOPS, StripShop, table

from tickets.domain.desk import control
from tickets.domain.desk.control import Chart, Drifted, Strip, step_chart

DAY = datetime(2026, 3, 1, tzinfo=UTC)

MEANS = (
    324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
    324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
)  # fmt: skip
"""Means of groups of four, target 325: the example of a cumulative sum in the NIST/SEMATECH e-Handbook of Statistical
Methods, 6.3.2.3, with its slack of 0.3175 and its limit of 4.1959 (from memory)."""


def chart(*held: float, like: str = "a", time: float | None = None) -> Chart:
    return step_chart(strips(*held, like=like, time=time))


def strips(*held: float, like: str = "a", time: float | None = None, first: int = 0) -> list[Strip]:
    return [
        Strip((DAY + timedelta(days=first + number)).isoformat(), step, like, time) for number, step in enumerate(held)
    ]


def test_the_cumulative_sum_is_the_published_one() -> None:
    sums, found = (0.0, 0.0), []
    for mean in MEANS:
        sums = control.summed(mean - 325, sums, 0.3175)
        found.append(sums)
    # the e-Handbook prints, upwards, 0.03 at the 5th, and 3.01, 4.94, 7.45 from the 13th on: out of control at the 14th
    assert [round(up, 2) for up, _down in found[:13]] == [0, 0, 0, 0, 0.03, 0, 0, 0, 0, 0, 0, 0, 3.01]
    assert [round(up, 2) for up, _down in found[13:15]] == [4.94, 7.45]
    assert next(place for place, (up, _down) in enumerate(found, 1) if up > 4.1959) == 14
    assert max(down for _up, down in found) < 4.1959


@given(st.floats(-30, 30), st.integers(2, 400))
def test_students_t_as_a_normal_number_is_that_of_scipy(t: float, free: int) -> None:
    exact = math.copysign(float(stats.norm.isf(stats.t.sf(abs(t), free))), t)
    near = 0.15 if free < 6 else 0.07 if free < 9 else 0.03  # farthest off, t from 0 to 30: 0.133, 0.061, 0.029
    if abs(exact) < 5:
        assert control.as_normal(t, free) == pytest.approx(exact, abs=near)


def test_a_reading_is_off_by_the_prediction_interval_of_students_t() -> None:
    """Of 12 readings and one more: the t of a mean of 12 and one reading, with 11 degrees of freedom (SciPy's test of
    two samples, of 12 and of 1, is the same number)."""
    rng = random.Random(4)
    before, more = [rng.gauss(7, 1) for _ in range(12)], 9.4
    known = control._Like()
    for value in before:
        known.add("a", value)
    t = float(stats.ttest_ind([more], before).statistic)
    assert known.free == 11 and known.spread == pytest.approx(statistics.stdev(before))
    assert known.off("a", more) == pytest.approx(stats.norm.isf(stats.t.sf(t, 11)), abs=0.02)


def test_nothing_is_judged_before_twenty_have_their_like() -> None:
    """Nineteen at 7 and one at 8, then 7, 7, 7: nothing moved. Two sorts: the first of each has no like."""
    assert chart(*[7.0] * 19, 8, 7, 7, 7).drifted is None
    assert chart(*[7.0] * 21, 3.0).drifted == Drifted(21, "outside")
    assert chart(*[7.0] * 20, 3.0).drifted is None and chart(*[7.0] * 20, 3.0).judged == 0
    both = [*strips(7, 7), *strips(5, 5, like="b", first=2), *strips(*[7.0] * 17, first=4), *strips(3, first=30)]
    assert step_chart(both).drifted is None and step_chart(both).groups == 2
    longer = [*both[:-1], *strips(7, first=25), both[-1]]
    assert step_chart(longer).drifted == Drifted(22, "outside")


def test_many_to_one_side_add_up_from_the_first_of_them_on() -> None:
    """A step over the least scatter of 0.4 is 2.4 standard deviations of a prediction from 25 or more: 1.7 over the
    slack, so that the fourth makes more than 5.5."""
    steady = chart(*[7.0] * 40)
    assert steady.drifted is None and steady.spread == control.LEAST_SPREAD and steady.judged == 19
    fell = chart(*[7.0] * 25, *[6.0] * 10)
    assert fell.drifted == Drifted(25, "adds up")
    assert chart(*[7.0] * 25, 6, 6, 6).drifted is None and chart(*[7.0] * 25, 6, 6, 6, 6).drifted == fell.drifted
    assert chart(*[7.0] * 25, *[8.0] * 10).drifted == fell.drifted
    assert chart(*[7.0] * 25, *[6.0, 8.0] * 10).drifted is None
    assert fell.off[24:27] == (0.0, -1.0, pytest.approx(-1.0, abs=0.05))


def test_like_is_compared_with_like() -> None:
    """Two meshes of which one holds step 9 and one step 5, in turn: mixed up they would scatter by two steps, and a
    fall of two would be hidden; a mesh that comes in later is no drift."""
    turns = [one for number in range(30) for one in strips(9 if number % 2 else 5, like=str(number % 2), first=number)]
    assert step_chart(turns).drifted is None and step_chart(turns).spread == control.LEAST_SPREAD
    later = [*turns, *strips(*[3.0] * 10, like="new", first=40)]
    assert step_chart(later).drifted is None and step_chart(later).off[30] is None
    assert step_chart([*turns, *strips(7, 7, like="1", first=40)]).drifted == Drifted(30, "outside")


def test_a_longer_exposure_is_no_drift_and_hides_none() -> None:
    """Twice the time holds two steps more, by the scale's half stops."""
    longer = [*strips(*[7.0] * 25, time=60), *strips(*[9.0] * 10, time=120, first=25)]
    assert step_chart(longer).drifted is None and step_chart(longer).off[25] == pytest.approx(0)
    weak = [*strips(*[7.0] * 25, time=60), *strips(*[7.0] * 10, time=120, first=25)]
    assert step_chart(weak).drifted == Drifted(25, "outside")


def test_a_first_strip_far_from_its_like_is_named_and_left_out() -> None:
    few = chart(*[7.0] * 14, 4.0, *[7.0] * 10)
    assert (few.apart, few.drifted, few.judged) == ((14,), None, 4)
    assert few.spread == control.LEAST_SPREAD
    assert chart(*[7.0] * 9).spread == control.LEAST_SPREAD and chart(7.0).spread is None and chart().judged == 0


def first_signal(shop: StripShop, rng: random.Random, moves: float, before: int, after: int) -> int | None:
    """After how many strips of another level a drift is seen; one seen before counts as a false alarm (0 or less)."""
    made = shop.strips(rng, before + after, before, moves)
    for number in range(before + 1, before + after + 1):
        if step_chart(made[:number]).drifted is not None:
            return number - before
    return None


def test_shops_where_nothing_moves_in_small() -> None:
    rng = random.Random(9)
    alarms = sum(
        step_chart(shop.strips(rng, 220)).drifted is not None
        for shop in STRIP_SHOPS
        if shop.noise < 0.8
        for _ in range(3)
    )
    assert alarms <= 3  # of 36 times 200 readings
    found = first_signal(StripShop(0.3, 0.5, 3), rng, -1, 60, 25)
    assert found is not None and 1 <= found <= 15


@pytest.mark.slow
def test_a_shop_where_nothing_moves_has_at_most_one_false_alarm_in_200_readings() -> None:
    """Twenty runs of 200 judged readings in each shop; and how soon a move of a step and of half a step is seen."""
    rows = []
    for shop in STRIP_SHOPS:
        rng = random.Random(3)
        alarms = 0
        for _run in range(20):
            made = shop.strips(rng, 220 + shop.sorts)
            alarms += step_chart(made).drifted is not None
        seen = [sorted(first_signal(shop, rng, by, 60, 60) or 999 for _ in range(12)) for by in (-1.0, -0.5)]
        rows.append((shop.noise, shop.unit, shop.sorts, alarms, *(soon[place] for soon in seen for place in (6, 9))))
    head = ("noise", "read to", "sorts", "alarms", "a step: half", "3 of 4", "half a step: half", "3 of 4")
    table("20 runs of 200 strips where nothing moves, and strips until a move is seen (999: not in 60)", head, rows)
    alarms, runs = sum(row[3] for row in rows), 20 * len(rows)
    print(f"false alarms in 200 readings: {alarms / runs:.3f}")
    assert alarms / runs < 0.15 and all(row[3] <= 6 for row in rows)  # the bar is 1 in 200 readings
    assert all(row[4] <= 20 for row in rows if row[0] <= 0.6)
