"""How a lamp fades: worked a second way, and against lamps whose truth is known."""

from __future__ import annotations

import math
import random
import statistics
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from simulated_figures import LAMP_SHOPS, SORTS, LampShop, fading, falling, steady, table

from tickets.calculator import lamp
from tickets.calculator.exposure import Washout
from tickets.calculator.verdict import Level

LIMIT = 0.25
WEAK = 2 * math.log2(1 + LIMIT)
"""Steps of light lost at which a lamp asks for a quarter more time."""


def strips(*held: float, sort: int = 0, time: float = 60.0, first: float = 0.0, apart: int = 1) -> list[Washout]:
    return [Washout(SORTS[sort], time, step, first + apart * number) for number, step in enumerate(held)]


def judged(drift: lamp.Drift | None, hours: float | None = None) -> tuple[Level, str]:
    (reason,) = lamp.judge_lamp(hours=hours, age_d=None, drift=drift, limit_h=500, limit_d=182, limit_drift=LIMIT)
    return reason.level, reason.key


def test_a_fading_lamp_falls_due() -> None:
    """Twelve strips at step 7, then sixteen at 6 at the same time: 41 % more is asked for."""
    found = lamp.drift(strips(*[7.0] * 12, *[6.0] * 16), "table")
    assert found.latest is not None and 1.25 < found.latest < 1.5 and found.low and found.low > 1
    assert judged(found) == (Level.CAUTION, "lamp-weak")
    assert judged(lamp.drift(strips(*[7.0] * 24), "table")) == (Level.OK, "lamp-fine")
    assert lamp.drift(strips(*[7.0] * 24), "table").latest == pytest.approx(1)


def test_a_change_of_mesh_hides_no_fading_lamp() -> None:
    """Two steps are lost in half a year, and after 90 days everything is exposed with another mesh and emulsion."""
    held = [round(2 * (7 - 2 * day / 180)) / 2 for day in range(180)]
    before = strips(*held[:90])
    after = strips(*held[90:], sort=1, time=35.0, first=90)
    after = [replace(one, of=replace(one.of, emulsion="emulsion B")) for one in after]
    found = lamp.drift([*before, *after], "table")
    assert found.combinations == 2 and found.low is not None and found.high is not None
    assert found.low < 2 < found.high and found.low > 1.4  # two steps are twice the time
    assert judged(found) == (Level.CAUTION, "lamp-weak")
    alone = lamp.drift(after, "table")  # by themselves the later ones know of half of it only
    assert alone.latest is not None and alone.latest < 1.7


def test_another_distance_is_compared_with_itself() -> None:
    """Half the light by twice the square of the distance is no weak lamp."""
    near = [replace(one, distance_mm=1000) for one in strips(*[7.0] * 12)]
    far = [replace(one, distance_mm=1414) for one in strips(*[5.0] * 12, first=12)]
    found = lamp.drift([*near, *far], "table")
    assert found.combinations == 2 and found.latest == pytest.approx(1, abs=0.01)
    as_noted = [replace(one, distance_mm=1010) for one in far]  # within the two hundredths that people measure by
    assert lamp.drift([*near, *as_noted], "table").combinations == 1


def test_too_few_strips_say_nothing_and_an_open_question_is_not_fine() -> None:
    few = lamp.drift(strips(*[7.0] * 3, *[5.0] * 4), "table")
    assert few.latest is None and len(few.points) == 7 and judged(few) == (Level.UNKNOWN, "lamp-unknown")
    noisy = lamp.drift(strips(7, 8, 6, 7, 5, 7, 6, 5, apart=12), "table")
    assert noisy.high is not None and noisy.high > 1.25 and judged(noisy) == (Level.UNKNOWN, "lamp-open")
    assert judged(noisy, hours=10) == (Level.OK, "lamp-fine")  # its hours say so
    assert lamp.drift([], "table") == lamp.Drift() == lamp.drift(strips(7, 7), "another unit")
    every = [replace(one, held=21.0) for one in strips(*[7.0] * 9)]
    assert lamp.drift(every, "table") == lamp.Drift()  # a strip that held every step is a bound
    apart = [one for number, sort in enumerate(SORTS) for one in strips(7, sort=number, first=number)] * 2
    assert lamp.drift(apart[:5], "table").latest is None


def test_one_misread_strip_makes_no_lamp_weak_however_far_off_it_is() -> None:
    found, further = (lamp.drift(strips(*[7.0] * 12, last), "table") for last in (3.0, 1.0))
    assert found.latest is not None and found.latest < 1.2 and judged(found)[1] != "lamp-weak"
    assert further.latest == pytest.approx(found.latest)


@pytest.mark.parametrize(
    ("latest", "error", "weak"), [(1.25, 0.2, True), (1.24, 0.2, False), (1.3, 0.3, True), (1.3, 0.4, False)]
)
def test_weak_is_over_the_limit_and_surely_weaker_than_at_first(latest: float, error: float, weak: bool) -> None:
    """1.3 times the time are 0.757 steps: 2.5 standard deviations of 0.3, 1.9 of 0.4; 2.33 are once in 100."""
    assert lamp.Drift(latest=latest, error=error).weak(LIMIT) is weak


def gls(days: list[int], sorts: list[int], needs: list[float], noise: float) -> tuple[float, float]:
    """The loss on the last day and its variance by Bayes' rule for one large normal vector: no filter, no recursion."""
    number = len(days)
    both = np.zeros((2 * number, 2 * number))  # loss and pace on each day
    both[1, 1] = lamp.PACE**2
    for at in range(1, number):
        gap = days[at] - days[at - 1]
        move = np.array([[1.0, gap], [0.0, 1.0]])
        now, before = slice(2 * at, 2 * at + 2), slice(2 * at - 2, 2 * at)
        both[now, : 2 * at] = move @ both[before, : 2 * at]
        both[: 2 * at, now] = both[now, : 2 * at].T
        both[now, now] = move @ both[before, before] @ move.T + np.diag([lamp.WANDER * gap, lamp.PACE_WANDER * gap])
    loss = both[::2, ::2]
    of = np.eye(max(sorts) + 1)[sorts]
    seen = loss + 1e7 * of @ of.T + (noise**2 + lamp.SHARED**2) * np.eye(number)
    last = loss[-1]
    return float(last @ np.linalg.solve(seen, needs)), float(loss[-1, -1] - last @ np.linalg.solve(seen, last))


def test_the_filter_is_bayes_rule_worked_out_at_once() -> None:
    rng = random.Random(3)
    days = sorted(rng.sample(range(200), 40))
    sorts = [0] * 15 + [1] * 10 + [rng.choice([0, 1, 2]) for _ in range(15)]
    held = [7 - 0.004 * day + rng.gauss(0, 0.4) for day in days]
    made = [Washout(SORTS[sort], 60, step, day) for day, sort, step in zip(days, sorts, held, strict=True)]
    found = lamp.drift(made, "table")
    needs = [2 * math.log2(60) - step for step in held]
    loss, spread = gls(days, sorts, needs, found.noise)
    assert found.latest is not None and found.low is not None
    assert 2 * math.log2(found.latest) == pytest.approx(loss, abs=1e-4)
    assert 2 * math.log2(found.latest / found.low) / lamp.SURE == pytest.approx(math.sqrt(spread), rel=1e-4)


def test_the_scatter_is_that_of_the_strips_whatever_the_lamp_does() -> None:
    rng = random.Random(8)
    for true in (0.4, 0.8):
        needs = [0.01 * number + rng.gauss(0, true) for number in range(400)]
        assert lamp.scatter(needs, [0] * 400) == pytest.approx(true, rel=0.12)
    assert lamp.scatter([1.0] * 400, [0] * 400) == lamp.LEAST_NOISE
    assert lamp.scatter([], []) == lamp.USUAL_NOISE


def found_at(made: list[Washout], every: int) -> int | None:
    """How many strips it takes until the lamp is called weak, looked at after every so many."""
    for number in range(lamp.LEAST_STRIPS, len(made) + 1, every):
        if lamp.drift(made[:number], "table").weak(LIMIT):
            return number
    return None


def false_alarms(shop: LampShop, rng: random.Random, lamps: int, every: int) -> int:
    return sum(found_at(shop.strips(rng, steady, 180), every) is not None for _ in range(lamps))


def late(shop: LampShop, rng: random.Random, loss: Callable[[float], float], since: float, days: float = 360) -> float:
    """Strips from the day that the truth is past the limit until it is found (below zero: before)."""
    made = shop.strips(rng, loss, days)
    number = found_at(made, 1)
    return math.inf if number is None else number - sum(one.day < since for one in made)


def coverage(
    shop: LampShop, rng: random.Random, loss: Callable[[float], float], lamps: int, day: float
) -> tuple[float, float]:
    """The mean error, in steps, and how often the truth lies within the interval, on a day."""
    errors, inside = [], 0
    for _ in range(lamps):
        found = lamp.drift(shop.strips(rng, loss, day), "table")
        assert found.latest is not None and found.low is not None and found.high is not None
        errors.append(2 * math.log2(found.latest) - loss(day))
        inside += found.low <= 2 ** (loss(day) / 2) <= found.high
    return statistics.fmean(errors), inside / lamps


def test_lamps_of_known_truth_in_small() -> None:
    rng = random.Random(21)
    shop = LampShop(1.0, 0.3, 0.5, "change")
    assert false_alarms(shop, rng, 4, 20) == 0
    assert late(shop, rng, fading(2), WEAK / 2 * 180, 200) <= 40
    assert abs(coverage(shop, rng, fading(1), 10, 120)[0]) < 0.3


@pytest.mark.slow
def test_a_lamp_that_loses_nothing_is_called_weak_in_fewer_than_one_of_100_months() -> None:
    rows, wrong, months = [], 0, 0
    for shop in LAMP_SHOPS:
        number = false_alarms(shop, random.Random(7), 10, max(1, round(shop.per_day * 3.5)))
        wrong, months = wrong + number, months + 60
        rows.append((shop.per_day, shop.noise, shop.unit, shop.meshes, number, 60))
    table("Lamps that lose nothing", ("a day", "noise", "read to", "meshes", "false", "months"), rows)
    print(f"false alarms in 100 months: {100 * wrong / months:.2f}")
    assert 100 * wrong / months < 1


@pytest.mark.slow
def test_how_many_strips_it_takes_until_a_weak_lamp_is_found() -> None:
    """A lamp that loses a step evenly in half a year, and one that loses a step in a day: the numbers are of strips
    after the truth is past 25 % more time, the middle one of 16 lamps and the one that three in four are found by."""
    rows = []
    for shop in (one for one in LAMP_SHOPS if one.per_day <= 1):
        rng = random.Random(11)
        slow = sorted(late(shop, rng, fading(1), WEAK * 180) for _ in range(16))
        days = [rng.uniform(60, 120) for _ in range(16)]
        sudden = sorted(late(shop, rng, falling(day, 1), day) for day in days)
        rows.append((shop.per_day, shop.noise, shop.meshes, slow[8], slow[11], sudden[8], sudden[11]))
    head = ("a day", "noise", "meshes", "fades: half", "3 of 4", "falls: half", "3 of 4")
    table("Strips until a weak lamp is found", head, rows)
    one_mesh = [row for row in rows if row[2] != "change"]
    assert all(row[3] <= 25 and row[5] <= 15 for row in one_mesh)
    assert all(row[3] <= 60 for row in rows if row[2] == "change")  # found through a change of mesh


@pytest.mark.slow
def test_the_interval_of_a_lamp_holds_the_truth() -> None:
    rows = []
    for shop in LAMP_SHOPS:
        rng = random.Random(5)
        still, kept = coverage(shop, rng, steady, 30, 150), coverage(shop, rng, fading(1), 30, 150)
        rows.append((shop.per_day, shop.noise, shop.meshes, *still, *kept))
    head = ("a day", "noise", "meshes", "bias, steady", "inside", "bias, fading", "inside")
    table("What the strips say of a lamp after 150 days (steps; 95 % interval)", head, rows)
    inside = statistics.fmean(share for row in rows for share in (row[4], row[6]))
    assert 0.9 <= inside and all(abs(row[3]) < 0.2 and abs(row[5]) < 0.35 for row in rows)
