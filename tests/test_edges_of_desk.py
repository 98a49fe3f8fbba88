"""The figures of the desk at the edge of each rule: how many frames are enough, when a reading is no chance, which
faults come first, where a limit would have to lie."""

from __future__ import annotations

import random
from datetime import date, timedelta
from itertools import pairwise

import pytest
from scipy.stats import nbinom, poisson

from tickets.domain.desk import control, pool
from tickets.domain.desk.control import Beside, Drifted, Moved, Share
from tickets.domain.desk.pool import Busy, Stock

MESH = "230/in"


# -- how many frames are enough


@pytest.mark.parametrize("seed", range(12))
def test_what_was_enough_is_what_was_there_for_so_much_of_the_time(seed: int) -> None:
    """Held against a look at the middle of each stretch in which nothing changed."""
    dice, hours = random.Random(seed), 100.0
    ends = [(dice.randint(-30, 110), dice.choice([None, dice.randint(-20, 130)])) for _one in range(dice.randint(0, 9))]
    busy = [Busy(MESH, since, until) for since, until in ends if until is None or until > since]
    edges = sorted({0, 100, *(min(100, max(0, at)) for one in ends for at in one if at is not None)})
    for share in (0.2, 0.5, 0.95, 1.0):
        lasted: dict[int, float] = {}
        for start, end in pairwise(edges):
            there = sum(one.since <= start and (one.until is None or one.until >= end) for one in busy)
            lasted[there] = lasted.get(there, 0) + end - start
        so_far, enough = 0.0, 0
        for enough in sorted(lasted):
            so_far += lasted[enough]
            if so_far >= share * hours - 1e-9:
                break
        assert pool.enough_seen(busy, hours, share) == enough


EVEN = [(0.5 + 24 * day, 24 * day + (51.625 if day < 8 else 24)) for day in range(10)]
"""One begun on each of ten days; they take 8 x 51.125 + 2 x 23.5 = 456 hours of 240: 1.9 on average."""


@pytest.mark.parametrize("share", [0.5, 0.9, 0.95, 0.955, 0.96, 0.99])
def test_frames_that_are_begun_evenly_are_a_poisson_number(share: float) -> None:
    """One a day varies less than by chance; that is not believed to go on."""
    busy = [Busy(MESH, since, until) for since, until in EVEN]
    assert pool.enough_reckoned(busy, 240, share) == poisson.ppf(share, 1.9)
    always = [Busy(MESH, 0, 240), Busy(MESH, -5, None), Busy(MESH, 0, None), Busy(MESH, -1, 250)]
    assert pool.enough_reckoned([*busy, *always], 240, share) == 4 + poisson.ppf(share, 1.9)
    # not free when the days began, and then free: it comes and goes too, but was not begun on any of them
    assert pool.enough_reckoned([*busy, Busy(MESH, -10, 24), Busy(MESH, 0, 120)], 240, share) == poisson.ppf(share, 2.5)


@pytest.mark.parametrize("share", [0.5, 0.9, 0.95, 0.99])
def test_frames_that_are_begun_together_are_spread_wider(share: float) -> None:
    """Twelve on one day of six: 2 a day on average, and (100 + 5 x 4) / 5 = 24 about it, twelve times as much."""
    busy = [Busy(MESH, 24.5, 36.5) for _one in range(12)]
    mean = 12 * 12 / 144
    assert pool.enough_reckoned(busy, 144, share) == nbinom.ppf(share, mean / 11, 1 / 12)
    late = [Busy(MESH, 143.9, 150.0)] * 2  # of the last day, whatever rounding makes of it
    assert pool.enough_reckoned(late, 144, share) == nbinom.ppf(share, 0.2 / 144 / 1, 1 / 2) == 0


def test_frames_are_begun_on_so_many_days() -> None:
    """Twelve on two days of fifteen: how they are spread about 12/15 a day makes none enough for 0.6365; about 12/14,
    over fourteen days, one."""
    busy = [Busy(MESH, 24.5 + 48 * (number % 2), 60.5 + 48 * (number % 2)) for number in range(12)]
    mean, uneven = 12 * 36 / 360, (2 * 5.2**2 + 13 * 0.8**2) / 14 / 0.8
    assert pool.enough_reckoned(busy, 360, 0.6365) == nbinom.ppf(0.6365, mean / (uneven - 1), 1 / uneven) == 0
    assert pool.enough_reckoned(busy, 360, 0.638) == nbinom.ppf(0.638, mean / (uneven - 1), 1 / uneven) == 1


def test_a_day_in_which_nothing_was_begun_needs_what_was_there() -> None:
    assert pool.enough_reckoned([], 240, 0.95) == 0 == pool.enough_seen([], 240, 0.95)
    assert pool.enough_reckoned([Busy(MESH, 0, None)], 10, 0.95) == 1 == pool.enough_seen([Busy(MESH, 0, None)], 10, 1)


def test_what_is_counted_of_a_mesh() -> None:
    busy = [Busy(MESH, -1, 5), Busy(MESH, 0, 12), Busy(MESH, 30, None), Busy(MESH, 40, 44, stencil=False)]
    (one, other) = pool.by_mesh(busy, {MESH: Stock(1, 1), "305/in": Stock(2)}, 2)
    assert (one.begun, one.per_day) == (2, 1.0) and (other.begun, other.busy, other.needed) == (0, None, None)
    assert one.turnaround is not None and (one.turnaround.number, one.turnaround.mean_h) == (2, 9.0)
    assert (one.carried, one.busy) == ((5 + 12 + 18) / 48, (5 + 12 + 18 + 4) / 48)
    many = [Busy("305/in", 4.0 * at, 4.0 * at + 30) for at in range(10)]
    assert [one.mesh for one in pool.by_mesh([*busy, *many], {MESH: Stock(1), "305/in": Stock(2)}, 3)] == [
        "305/in", MESH]  # fmt: skip


@pytest.mark.parametrize(("hours", "slow"), [([1, 2, 3, 4], None), ([1, 2, 3, 4, 5], 4.6)])
def test_the_slow_tenth_is_said_of_five_or_more(hours: list[float], slow: float | None) -> None:
    found = pool.span(hours)
    assert found is not None and found.slow_h == (None if slow is None else pytest.approx(slow))


# -- when a reading is no chance


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize(("off", "found"), [
    ([4.0], None), ([0, 4.01], Drifted(1, "outside")), ([2.75, 2.75, 2.25], None),
    ([2.75, 2.75, 2.26], Drifted(0, "adds up")), ([0.75] * 50, None),
    ([0, 0.5, 2.75, 2.75, 2.26], Drifted(2, "adds up")),
    ([2, -3, 2.75, 2.75, 2.26], Drifted(2, "adds up")), ([], None)])  # fmt: skip
def test_readings_that_add_up(off: list[float], found: Drifted | None, side: int) -> None:
    """By hand with a slack of 0.75: 2.75 twice is 4, with 2.25 it is 5.5, which is not beyond 5.5 yet."""
    assert control.drifted(enumerate(side * one for one in off)) == found


# -- which faults come first


def test_faults_by_how_often_then_by_how_many() -> None:
    seen = [("A", True, 1), ("A", False, 3), ("B", True, 2), ("B", False, 6), ("C", False, 9), ("D", True, 0),
            ("E", False, 9)]  # fmt: skip
    assert control.shares(seen) == [
        Share("B", 2, 8), Share("A", 1, 4), Share("C", 0, 9), Share("E", 0, 9), Share("D", 0, 0)]  # fmt: skip
    assert control.causes([("", 5), ("scum", 1), ("pinholes", 3), ("scum", 1)]) == (
        Share("pinholes", 3, 10), Share("scum", 2, 10))  # fmt: skip
    washed, checked = [Share("A", 1, 10), Share("B", 1, 20)], [Share("B", 3, 10), Share("C", 1, 5), Share("D", 2, 10)]
    assert Beside("none", Share("none", 0, 0), None).worst == 0
    assert Beside("none", Share("none", 0, 0), Share("none", 1, 4)).worst == 0.25
    assert control.beside(washed, checked) == [
        Beside("B", washed[1], checked[0]), Beside("D", None, checked[2]), Beside("C", None, checked[1]),
        Beside("A", washed[0], None)]  # fmt: skip


# -- where a limit would have to lie


@pytest.mark.parametrize(("values", "of", "below", "found"), [
    ([15, 16, 17], 10, True, Moved(17, 2)), ([15, 16], 10, True, None), ([15, 16, 17.25], 10, True, Moved(17.2, 2)),
    ([15, 17.25, 17.25], 10, True, Moved(17.2, 1)), ([3.21, 3.1, 3], 10, False, Moved(3.0, 2)),
    ([3.21, 3.1, 3.01], 10, False, Moved(3.1, 1)), ([3], 4, False, Moved(3, 0)), ([3], 5, False, None),
    ([0.3, 0.1, 0.2], 10, True, Moved(0.3, 2))])  # fmt: skip
def test_a_limit_that_would_caution_a_fifth(values: list[float], of: int, below: bool, found: Moved | None) -> None:
    assert control.moved(values, of, below) == found


# -- frames given out, by hand

D = [date(2026, 3, 2) + timedelta(days=number) for number in range(8)]
Frames, Need = pool.Supply, pool.FrameNeed
FIRST, SECOND, THIRD = (frozenset(some) for some in ((0, 1), (0, 2), (0,)))
PLANS: dict[str, tuple[pool.FramePlan, dict[int, list[tuple[int, int, int, int]]]]] = {
    # the frame that serves least is given first, and the other is left for the second image
    "the narrower one": (
        pool.FramePlan(D[0], 2, [Frames(D[0], FIRST), Frames(D[0], THIRD)], [Need(0, D[0]), Need(1, D[1])], 5),
        {0: [(1, 0, 1, 0), (0, 0, 0, 1), (0, 0, 0, 0)], 1: [(0, 0, 1, 0), (1, 0, 0, 0), (0, 0, 0, 0)]}),
    # the first image gives its frame up to the second and takes the other: the third has none
    "one moves": (
        pool.FramePlan(D[0], 2, [Frames(D[0], FIRST), Frames(D[0], SECOND)],
                       [Need(0, D[0]), Need(1, D[1]), Need(2, D[1])], 5),
        {1: [(0, 0, 1, 0), (1, 0, 0, 0), (0, 0, 0, 0)], 2: [(0, 0, 0, 1), (1, 0, -1, 0), (0, 0, -1, 0)]}),
    # printed on Monday, back on Wednesday, and there for the one that waited; back again on Friday
    "back after two days": (
        pool.FramePlan(D[0], 4, [Frames(D[0], THIRD)], [Need(0, D[0], "p"), Need(0, D[1], "q")], 2),
        {0: [(1, 0, 0, 0), (1, 0, -1, 0), (0, 1, 0, 0), (0, 0, 0, 0), (0, 1, 1, 0)]}),
    # asked for until Wednesday, so back on Thursday
    "asked for longer": (
        pool.FramePlan(D[0], 4, [Frames(D[0], THIRD)], [Need(0, D[0], "p", D[2]), Need(0, D[1], "q")], 1),
        {0: [(1, 0, 0, 0), (1, 0, -1, 0), (0, 0, -1, 0), (0, 1, 0, 0), (0, 1, 1, 0)]}),
    # two images of one print: held until both have theirs, and back with the two screens that it had
    "all of a print": (
        pool.FramePlan(D[0], 4, [Frames(D[0], THIRD)], [Need(0, D[0], "p"), Need(0, D[1], "p")], 1,
                       [("p", Frames(D[0], THIRD, 2)), ("x", Frames(D[2], THIRD))]),
        {0: [(1, 0, 0, 0), (1, 0, -1, 0), (0, 1, 0, 0), (0, 4, 4, 0), (0, 0, 4, 0)]}),
    # a print that is done gives its frame of Monday up all the same, and what comes back of it is the other one
    "one that was printed moves": (
        pool.FramePlan(D[0], 5, [Frames(D[0], FIRST), Frames(D[0], SECOND)],
                       [Need(0, D[0], "a"), Need(1, D[1], "b"), Need(0, D[2], "c"), Need(2, D[2], "d"),
                        Need(1, D[3], "e")], 2),
        {1: [(0, 0, 1, 0), (1, 0, 0, 0), (0, 0, 0, 0), (1, 1, 0, 0), (0, 0, 0, 0), (0, 1, 1, 0)],
         2: [(0, 0, 0, 1), (0, 0, 0, 0), (1, 1, -1, 1), (0, 0, -1, 0), (0, 1, 0, 0), (0, 0, 0, 0)]}),
    # what was due last week is wanted today, and what was free then is free now
    "late": (
        pool.FramePlan(D[0], 2, [Frames(D[1], THIRD, 2), Frames(date(2026, 2, 1), THIRD)],
                       [Need(0, date(2026, 2, 27)), Need(0, D[0]), Need(0, D[1])], 1),
        {0: [(2, 0, -1, 0), (1, 3, 1, 0), (0, 2, 3, 0)]}),
}  # fmt: skip


@pytest.mark.parametrize("name", PLANS)
def test_frames_are_given_out_by_hand(name: str) -> None:
    plan, told = PLANS[name]
    for want, days in told.items():
        assert [(day.needed, day.back, day.left, day.given) for day in plan.of([want])] == days
        assert [day.day for day in plan.of([want])] == D[: len(days)]


def test_who_holds_the_frames_that_another_goes_without() -> None:
    moves, printed = PLANS["one moves"][0], PLANS["one that was printed moves"][0]
    assert [dict(moves.held([2], day)) for day in D[:2]] == [{}, {(("alone", 0), 0): 1}]
    assert [dict(printed.held([2], day)) for day in D[1:5]] == [{}, {("c", 0): 1}, {("c", 0): 1}, {}]
    assert moves.free_now([0]) == 2 and moves.free_now([2]) == 1 and PLANS["late"][0].free_now([0]) == 1
    stuck = pool.FramePlan(D[0], 1, [Frames(D[0], THIRD)], [Need(0, D[0], "p"), Need(1, D[0], "p")], 1)
    assert stuck.stuck("p") and not stuck.stuck("q") and not printed.stuck("d")
