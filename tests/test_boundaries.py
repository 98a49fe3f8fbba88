"""At each limit itself: a source that says "or more" or "below" includes the value, one that says "at most" does not.

Each case is judged with the shipped row, a hair under it, at it, and a hair over it. Where the levels stand beside a
published wording, that is quoted.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tickets.calculator import colour, exposure, ink, mesh, stencil, tension
from tickets.calculator import lamp as lamps
from tickets.calculator.verdict import Level, Reason, judge
from tickets.domain.screens import checks
from tickets.domain.spec import Spec, shipped

SPEC = Spec(shipped())
OK, CAUTION, STOP = Level.OK, Level.CAUTION, Level.STOP
HALF = {"work": "halftone"}
ROLLER = tension.limits(SPEC.find, frame="roller", count_per_in=110, work="colours")
FINE = tension.limits(SPEC.find, frame="roller", count_per_in=110, work="halftone")


def limit(key: str, **facts: object) -> float:
    return SPEC.value(key, **facts)


def lowest(value: float) -> list[Reason]:
    return tension.judge([value], None, ROLLER, work="colours")


def steps(held: float) -> list[Reason]:
    return exposure.judge_step(held, limit("wanted-step"), 60, above=limit("step-above"))


def room(c: float = 20, damp: float = 30) -> list[Reason]:
    return checks.room(c, damp, SPEC)


def lamp(hours: float | None = 1, age: float | None = 1, drift: float | None = 1) -> list[Reason]:
    limits = {"limit_h": limit("lamp-hours", lamp="point"), "limit_d": limit("lamp-age", lamp="point")}
    told = lamps.Drift(latest=drift, low=1.0, high=1.01, error=0.001) if drift else None
    return lamps.judge_lamp(hours=hours, age_d=age, drift=told, limit_drift=limit("lamp-drift") / 100, **limits)


def age(days: float = 1, stencils: int = 0) -> list[Reason]:
    numbers = {"limit_d": limit("tension-age"), "limit_stencils": limit("tension-age-stencils")}
    return tension.judge_age(days, stencils, **numbers)


def same(count: float = 230, thread: float = 48) -> list[Reason]:
    pct, um = limit("mesh-count-tolerance"), limit("mesh-thread-tolerance")
    return mesh.judge_same(230, 48, count, thread, count_tolerance_pct=pct, thread_tolerance_um=um)


def build(pct: float) -> list[Reason]:
    return stencil.judge_build(pct, least=limit("build-least"), most=limit("build-most"))


# what is judged, the limit, and the levels a hair under it, at it, a hair over it
CASES: dict[str, tuple[Callable[[float], list[Reason]], float, tuple[Level, Level, Level]]] = {
    "tension: caution below": (lowest, limit("tension-watch", work="colours"), (CAUTION, OK, OK)),
    "tension: under the floor": (lowest, limit("tension-floor", work="colours"), (STOP, CAUTION, CAUTION)),
    "tension: over the ceiling": (lowest, limit("tension-ceiling"), (OK, OK, CAUTION)),
    "a spread of 5 N/cm or more": (
        lambda spread: tension.judge([30, 30 - spread], None, ROLLER), limit("tension-spread"), (OK, CAUTION, CAUTION)),
    "3 N/cm is too much for halftone": (
        lambda spread: tension.judge([30, 30 - spread], None, FINE), limit("tension-spread", **HALF),
        (OK, CAUTION, CAUTION)),
    "warp may carry 5 to 15 % more": (
        lambda pct: tension.judge([20 * (1 + pct / 100)], [20], ROLLER), limit("tension-warp-weft"),
        (OK, OK, CAUTION)),
    "more than 15 points apart": (
        lambda apart: tension.judge_neighbours(60, {"A": 60 + apart}, limit_pct=limit("tension-neighbours")),
        limit("tension-neighbours"), (OK, OK, CAUTION)),
    "a reading is old after 90 days": (lambda days: age(days), limit("tension-age"), (OK, OK, CAUTION)),
    "counts within 3 %": (lambda pct: same(count=230 * (1 + pct / 100)), limit("mesh-count-tolerance"), (OK, OK, STOP)),
    "threads within 2 um": (lambda um: same(thread=48 + um), limit("mesh-thread-tolerance"), (OK, OK, STOP)),
    "at most a week": (
        lambda days: stencil.judge_coated_age(days, limit_d=limit("coated-age", work="halftone", emulsion="diazo")),
        limit("coated-age", work="halftone", emulsion="diazo"), (OK, OK, CAUTION)),
    "at least a solid step 7": (steps, limit("wanted-step"), (CAUTION, OK, OK)),
    "two steps over": (lambda over: steps(limit("wanted-step") + over), limit("step-above"), (OK, OK, CAUTION)),
    "at least 1.5 diagonals": (
        lambda far: exposure.judge_distance(far, 1, diagonals=limit("lamp-distance-diagonals")),
        limit("lamp-distance-diagonals"), (CAUTION, OK, OK)),
    "after 500 hours": (lambda hours: lamp(hours=hours), limit("lamp-hours", lamp="point"), (OK, CAUTION, CAUTION)),
    "every 6 months": (lambda days: lamp(age=days), limit("lamp-age", lamp="point"), (OK, CAUTION, CAUTION)),
    "25 % more time": (lambda pct: lamp(drift=1 + pct / 100), limit("lamp-drift"), (OK, CAUTION, CAUTION)),
    "drying air below 35 degC": (lambda c: room(c=c), limit("drying-temperature"), (OK, CAUTION, CAUTION)),
    "drying air below 50 %": (lambda damp: room(damp=damp), limit("drying-humidity"), (OK, CAUTION, CAUTION)),
    "emulsion over mesh 10 % at least": (build, limit("build-least"), (CAUTION, OK, OK)),
    "emulsion over mesh 25 % at most": (build, limit("build-most"), (OK, OK, CAUTION)),
    "an opening three times the particle": (
        lambda times: mesh.judge_flake(100 * times, 100, factor=limit("flake-factor")), limit("flake-factor"),
        (CAUTION, OK, OK)),
    "colour over 1": (
        lambda far: colour.judge(far, warn=limit("colour-warn"), fail=limit("colour-fail")), limit("colour-warn"),
        (OK, OK, CAUTION)),
    "colour over 2": (
        lambda far: colour.judge(far, warn=limit("colour-warn"), fail=limit("colour-fail")), limit("colour-fail"),
        (CAUTION, CAUTION, STOP)),
    "an ink past its time": (lambda past: ink.judge_pot_life(past, at_set_up=True), 0.0, (OK, OK, STOP)),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_a_limit_is_judged_on_both_sides_and_at_itself(name: str) -> None:
    judged, at, expected = CASES[name]
    found = [judged(value) for value in (at - 1e-3, at, at + 1e-3)]
    # where nothing is wrong some say nothing
    assert tuple(judge(reasons).level if reasons else OK for reasons in found) == expected


def test_five_stencils_are_five() -> None:
    assert [judge(age(stencils=number)).level for number in (4, 5)] == [OK, CAUTION]


def test_emulsion_hardens_by_heat_above_40_degc() -> None:
    """An emulsion maker: above 40 degC."""
    keys = [[one.key for one in room(c=c)] for c in (40, 40.1)]
    assert keys == [["room-warm"], ["room-hot"]]
