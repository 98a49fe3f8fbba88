"""What must hold for any numbers (hypothesis), and how the shop's log is judged.

Where no source is named, the expectation is the rule itself, worked out by hand, or common practice.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from tickets.calculator import (
    colour,
    defaults,
    dryer,
    drying,
    exposure,
    ink,
    kinds,
    lamp,
    lifetime,
    mesh,
    stencil,
    tension,
    verdict,
)
from tickets.calculator.catalogue import Faulty, Shipped, compute, tension_limits
from tickets.calculator.tension import TensionLimits
from tickets.calculator.units import CannotBe, magnitude, quantity
from tickets.calculator.verdict import Level, Reason, judge, say
from tickets.domain.limits import LIMITS

# The first conversion loads pint, which no deadline for one example should count.
settings.register_profile("calculator", deadline=None)
settings.load_profile("calculator")

COLOURS = TensionLimits(watch=20, floor=15, new_mesh=24)
# Up to the ceiling of 230/in on aluminium: above it less is better.
in_bounds = st.lists(st.floats(min_value=0, max_value=34), min_size=1, max_size=9)


def level(reasons: list[verdict.Reason]) -> Level:
    return judge(reasons).level


def keys(reasons: list[verdict.Reason]) -> set[str]:
    return {reason.key for reason in reasons}


# ------------------------------------------------------------------------------------------------------------- mesh


@given(st.floats(min_value=5, max_value=200), st.floats(min_value=0.05, max_value=0.95))
def test_opening_and_open_area_agree(per_cm: float, share: float) -> None:
    """Open area from opening and pitch equals that from opening and thread."""
    thread = share * 10000 / per_cm
    found = mesh.geometry(quantity(per_cm, "/cm"), quantity(thread, "um"))
    opening = magnitude(found.opening, "um")
    assert magnitude(found.open_area, "%") == pytest.approx(100 * (opening / (opening + thread)) ** 2, rel=1e-9)
    assert opening + thread == pytest.approx(10000 / per_cm, rel=1e-9)


@given(st.floats(min_value=20, max_value=400), st.floats(min_value=20, max_value=60))
def test_a_thicker_thread_never_opens_more(per_inch: float, thread: float) -> None:
    assume(thread + 1 < 25400 / per_inch * 0.95)
    thin, thick = (mesh.geometry(quantity(per_inch, "/in"), quantity(one, "um")) for one in (thread, thread + 1))
    assert magnitude(thick.opening, "um") < magnitude(thin.opening, "um")
    assert magnitude(thick.open_area, "%") < magnitude(thin.open_area, "%")


@pytest.mark.parametrize(
    ("count", "unit", "thread", "expected"),
    [(90, "/cm", 48.0, {"mesh-same"}), (225, "/in", 48.0, {"mesh-same"}), (230, "/in", 46.0, {"mesh-same"}),
     (230, "/in", 40.0, {"mesh-thread-differs"}), (230, "/in", None, {"mesh-thread-unknown"}),
     (156, "/in", 64.0, {"mesh-count-differs", "mesh-thread-differs"})],
)  # fmt: skip
def test_the_same_mesh_under_other_labels(count: float, unit: str, thread: float | None, expected: set[str]) -> None:
    """90/cm, 225 and 230/in with 48 um are one mesh as makers label it."""
    found = mesh.judge_same(
        230, 48, magnitude(quantity(count, unit), "/in"), thread, count_tolerance_pct=3, thread_tolerance_um=2
    )
    assert keys(found) == expected


def test_where_the_job_gives_no_thread_it_is_not_compared() -> None:
    found = mesh.judge_same(230, None, 230, None, count_tolerance_pct=3, thread_tolerance_um=2)
    assert keys(found) == {"mesh-same"}


@pytest.mark.parametrize(
    ("opening", "flake", "expected"),
    [(467, 100, Level.OK), (280, 100, Level.CAUTION), (90, 100, Level.STOP), (None, 100, Level.UNKNOWN)],
)
def test_flakes_want_an_opening_three_times_as_wide(opening: float | None, flake: float, expected: Level) -> None:
    """Common practice; a glitter maker's 100 um flake passes 38/in (467 um) and hardly 60/in (about 280 um)."""
    assert level(mesh.judge_flake(opening, flake, factor=3)) is expected


@dataclass(frozen=True)
class Limit:
    value: float
    row: int


def sheet_limits(**own: float) -> dict[str, Limit]:
    """The shipped limits of a maker's sheet, or others (`opening_off=30`)."""
    return {
        key: Limit(own.get(key.removeprefix("sheet-").replace("-", "_"), defaults.value(key)), number)
        for number, key in enumerate(mesh.SHEET_LIMITS, 1)
    }


def judge_life(curve: lifetime.Survival | None, uses: float) -> list[Reason]:
    """By the shipped limits."""
    further, chance = defaults.value("mesh-further-uses"), defaults.value("mesh-chance-least")
    return lifetime.judge_life(curve, uses, further=further, least_chance=chance / 100)


def test_a_published_sheet_row_looks_right_and_a_slip_does_not() -> None:
    """A mesh maker's row for 225/in with 48 um: 65 um, 33 %, 72 um, 24 cm3/m2."""
    count = magnitude(quantity(225, "/in"), "/cm")
    limits = sheet_limits()
    row = {"opening": 65, "open_area_pct": 33, "thickness_um": 72, "volume_cm3_m2": 24}
    assert mesh.judge_sheet(count, 48, limits=limits, **row) == []
    assert keys(mesh.judge_sheet(count, 48, limits=limits, opening=95, thickness_um=27)) == {
        "sheet-opening-odd", "sheet-thickness-odd"}  # fmt: skip
    assert keys(mesh.judge_sheet(count, 48, limits=limits, open_area_pct=33, thickness_um=72, volume_cm3_m2=42)) == {
        "sheet-volume-odd"}  # fmt: skip


@pytest.mark.parametrize(
    ("limit", "moved", "typed"),
    [
        ("opening_off", 50, {"opening": 85.0}),
        ("area_off", 20, {"open_area_pct": 45.0}),
        ("thickness_least", 1.1, {"thickness_um": 60.0}),
        ("thickness_most", 2.5, {"thickness_um": 100.0}),
        ("volume_off", 80, {"open_area_pct": 33.0, "thickness_um": 72.0, "volume_cm3_m2": 42.0}),
    ],
)
def test_a_makers_sheet_is_judged_by_the_shops_limits(limit: str, moved: float, typed: dict[str, float]) -> None:
    """Each limit moved, and each one that is not there, lets pass what the shipped one cautions."""
    (reason,) = mesh.judge_sheet(90, 48, limits=sheet_limits(), **typed)  # type: ignore[arg-type]
    assert reason.level is Level.CAUTION and reason.spec
    assert mesh.judge_sheet(90, 48, limits=sheet_limits(**{limit: moved}), **typed) == []  # type: ignore[arg-type]
    left = {key: one for key, one in sheet_limits().items() if key != f"sheet-{limit.replace('_', '-')}"}
    assert mesh.judge_sheet(90, 48, limits=left, **typed) == []  # type: ignore[arg-type]


# ---------------------------------------------------------------------------------------------------------- tension


@given(in_bounds, st.floats(min_value=0.1, max_value=20), st.sampled_from(sorted(kinds.WORK)))
def test_a_verdict_never_improves_when_the_lowest_reading_falls(values: list[float], less: float, work: str) -> None:
    limits = tension_limits(Shipped(), work, "aluminium", 230)
    lowest = values.index(min(values))
    worse = [*values]
    worse[lowest] = max(0.0, worse[lowest] - less)
    before, after = (judge(tension.judge(one, None, limits, work=work)).level.rank for one in (values, worse))
    assert after >= before


@given(st.lists(st.floats(min_value=20, max_value=40), min_size=1, max_size=9), st.floats(min_value=0.1, max_value=20))
def test_a_slacker_screen_is_never_judged_better_under_the_ceiling(values: list[float], less: float) -> None:
    slacker = [value - less for value in values]  # all fall alike, so the spread stays
    before, after = (judge(tension.judge(one, None, COLOURS)).level.rank for one in (values, slacker))
    assert after >= before


@given(st.lists(st.floats(min_value=0, max_value=60), min_size=2, max_size=9), st.floats(min_value=0.1, max_value=20))
def test_an_uneven_screen_is_never_judged_better(values: list[float], more: float) -> None:
    assume(min(values) < max(values))  # so that the lowest stays as it is
    highest = values.index(max(values))
    worse = [*values]
    worse[highest] += more
    before, after = (judge(tension.judge(one, None, COLOURS)).level.rank for one in (values, worse))
    assert after >= before


@pytest.mark.parametrize(
    ("values", "expected", "key"),
    [
        ([25, 24.5, 24, 25.5, 24], Level.OK, "tension-in-spec"),
        ([20], Level.OK, "tension-evenness-not-measured"),
        ([19.9], Level.CAUTION, "tension-under-watch"),
        ([15], Level.CAUTION, "tension-under-watch"),
        ([14.9], Level.STOP, "tension-under-floor"),
        ([26, 25, 25, 25, 20.9], Level.CAUTION, "tension-uneven"),
        ([26, 25, 25, 25, 21], Level.CAUTION, "tension-uneven"),  # "5 N/cm or more" is the failure sign
        ([26, 25, 25, 25, 21.1], Level.OK, "tension-in-spec"),
        ([41, 40, 40, 40, 40], Level.CAUTION, "tension-over-ceiling"),
        ([], Level.UNKNOWN, "tension-not-measured"),
        ([math.nan], Level.UNKNOWN, "tension-not-measured"),
    ],
)
def test_the_lowest_reading_decides(values: list[float], expected: Level, key: str) -> None:
    found = tension.judge(values, None, COLOURS, work="colours")
    assert level(found) is expected
    assert key in keys(found)


@pytest.mark.parametrize(
    ("low", "place"), [(0, "the centre"), (1, "a corner"), (4, "a corner"), (5, "a side"), (8, "a side")]
)
def test_the_place_of_the_low_reading_is_named(low: int, place: str) -> None:
    values = [27.0] * 9
    values[low] = 21
    found = next(one for one in tension.judge(values, None, COLOURS) if one.key == "tension-uneven")
    assert found.numbers["place_word"] == place
    assert place in say(found).sentence


def test_weft_counts_for_the_lowest_but_not_against_the_warp_for_evenness() -> None:
    """Warp may carry 5 to 15 % more than weft (a maker's mesh guide), which is no uneven stretch."""
    found = tension.judge([30, 30, 30], [24, 24, 24], COLOURS)
    assert "tension-uneven" not in keys(found)
    assert level(tension.judge([30, 30, 30], [14, 15, 15], COLOURS)) is Level.STOP


def test_wood_is_for_one_colour_only() -> None:
    one = tension_limits(Shipped(), "one-colour", "wood", 110)
    assert (one.watch, one.floor, one.new_mesh) == (10, 7, 15)
    assert level(tension.judge([12], None, one, work="one-colour")) is Level.OK
    for work in ("colours", "halftone"):
        limits = tension_limits(Shipped(), work, "wood", 110)
        found = tension.judge([30], None, limits, work=work)
        assert level(found) is Level.STOP and "wood-several-colours" in keys(found)


@pytest.mark.parametrize(
    ("frame", "count", "expected"),
    [("aluminium", 110, 25), ("aluminium", 170, 25), ("aluminium", 171, 24), ("aluminium", 230, 24),
     ("aluminium", 240, 24), ("aluminium", 305, 21), ("roller", 110, 35), ("roller", 156, 26), ("roller", 230, 26),
     ("roller", 280, 21), ("wood", 305, 15), (None, 230, None), ("aluminium", None, None)],
)  # fmt: skip
def test_finer_mesh_is_stretched_less(frame: str | None, count: float | None, expected: float | None) -> None:
    """Judgement between published levels: finer mesh takes less (Images, June 2024)."""
    assert tension_limits(Shipped(), "colours", frame, count).new_mesh == expected


@pytest.mark.parametrize(
    ("age", "stencils", "expected"),
    [(90, 4, Level.OK), (91, 0, Level.CAUTION), (1, 5, Level.CAUTION), (None, None, Level.CAUTION)],
)
def test_a_reading_grows_old(age: float | None, stencils: int | None, expected: Level) -> None:
    assert level(tension.judge_age(age, stencils, limit_d=90, limit_stencils=5)) is expected


def test_screens_of_a_placement_are_compared_by_their_share() -> None:
    shares = {"7K32XM": tension.share_pct(24, 24), "0A1B2C": tension.share_pct(18, 21)}
    assert tension.judge_neighbours(tension.share_pct(21, 25), shares, limit_pct=16) == []
    found = tension.judge_neighbours(tension.share_pct(20, 25), shares, limit_pct=15)
    assert keys(found) == {"tension-far-from-neighbours"} and found[0].numbers["other"] == "7K32XM"
    assert tension.judge_neighbours(None, shares, limit_pct=15) == []


# ----------------------------------------------------------------------------------------------------- tension loss


@given(st.floats(min_value=19, max_value=40), st.floats(min_value=0.2, max_value=3))
def test_a_loss_is_found_again(start: float, loss: float) -> None:
    """Readings made by the formula give its numbers back."""
    uses = [0, 2, 5, 12, 30]
    made = [(use, quantity(start - loss * math.log1p(use), "N/cm")) for use in uses]
    found = tension.fit_loss(made, quantity(10, "N/cm"))
    assert found is not None
    assert magnitude(found.start, "N/cm") == pytest.approx(start, rel=1e-6)
    assert magnitude(found.loss_per_log_use, "N/cm") == pytest.approx(loss, rel=1e-6)
    expected = math.expm1((start - 10) / loss)
    if expected < tension.FORESEEN_USES * 0.99:
        assert found.uses_to_floor == pytest.approx(expected, rel=1e-3)
    else:
        assert found.uses_to_floor is None or expected < tension.FORESEEN_USES * 1.01


def test_the_fit_and_its_range_agree_with_scipy() -> None:
    """scipy.stats.linregress as the reference for the line, Student's t for the band."""
    rng = random.Random(7)
    uses = [0, 1, 3, 6, 10, 18, 30]
    values = [25 - 1.4 * math.log1p(use) + rng.gauss(0, 0.3) for use in uses]
    xs = [math.log1p(use) for use in uses]
    line = stats.linregress(xs, values)
    found = tension.fit_loss(
        [(u, quantity(v, "N/cm")) for u, v in zip(uses, values, strict=True)], quantity(18, "N/cm")
    )
    assert found is not None
    assert magnitude(found.start, "N/cm") == pytest.approx(line.intercept, rel=1e-9)
    assert magnitude(found.loss_per_log_use, "N/cm") == pytest.approx(-line.slope, rel=1e-9)
    assert found.uses_to_floor_low is not None and found.uses_to_floor is not None
    assert found.uses_to_floor_high is not None
    assert found.uses_to_floor_low < found.uses_to_floor < found.uses_to_floor_high
    mean = sum(xs) / len(xs)
    sxx = sum((x - mean) ** 2 for x in xs)
    residual = math.sqrt(
        sum((v - line.intercept - line.slope * x) ** 2 for x, v in zip(xs, values, strict=True)) / (len(xs) - 2)
    )
    for side, uses_at in ((-1, found.uses_to_floor_low), (1, found.uses_to_floor_high)):
        x = math.log1p(uses_at)
        band = stats.t.ppf(0.9, len(xs) - 2) * residual * math.sqrt(1 + 1 / len(xs) + (x - mean) ** 2 / sxx)
        assert line.intercept + line.slope * x + side * band == pytest.approx(18, abs=1e-3)


def test_the_table_of_t_is_that_of_scipy() -> None:
    for freedom, printed in enumerate(tension._T80, start=1):
        assert printed == pytest.approx(float(stats.t.ppf(0.9, freedom)), abs=6e-5)


@pytest.mark.parametrize("count", [0, 1, 2])
def test_fewer_than_three_readings_say_so(count: int) -> None:
    made = [(float(use), quantity(25 - use, "N/cm")) for use in range(count)]
    found = tension.fit_loss(made, quantity(18, "N/cm"))
    assert found is None
    reasons = tension.judge_loss(found, count, 18, settled_uses=2)
    assert level(reasons) is Level.UNKNOWN and keys(reasons) == {"tension-loss-too-few"}


def test_new_mesh_is_told_apart_from_settled_mesh() -> None:
    first = [(0, quantity(25, "N/cm")), (0.5, quantity(23, "N/cm")), (1, quantity(22, "N/cm"))]
    young = tension.fit_loss(first, quantity(18, "N/cm"))
    assert keys(tension.judge_loss(young, 3, 18, settled_uses=2)) == {"tension-mesh-new"}  # no number of uses with it
    slack = tension.fit_loss(first, quantity(22.5, "N/cm"))
    assert keys(tension.judge_loss(slack, 3, 22.5, settled_uses=2)) == {"tension-mesh-new", "tension-loss-reached"}
    old = tension.fit_loss([(0, quantity(25, "N/cm")), (3, quantity(23, "N/cm")), (9, quantity(22, "N/cm"))],
                           quantity(18, "N/cm"))  # fmt: skip
    assert "tension-mesh-new" not in keys(tension.judge_loss(old, 3, 18, settled_uses=2))


def test_a_mesh_that_loses_nothing_has_no_last_day() -> None:
    steady = tension.fit_loss([(use, quantity(25, "N/cm")) for use in (0.0, 4.0, 9.0)], quantity(18, "N/cm"))
    assert steady is not None and steady.uses_to_floor is None
    assert keys(tension.judge_loss(steady, 3, 18, settled_uses=2)) == {"tension-loss-none-foreseen"}


def test_the_corner_that_stays_low_is_named() -> None:
    assert tension.lowest_place([[25, 24, 25, 21, 25], [24, 23.5, 24, 20, 24]]) == (4, "a corner")
    assert tension.lowest_place([[25], [24]]) is None


# --------------------------------------------------------------------------------------------------------- exposure


@given(st.integers(1, 21), st.integers(1, 20), st.floats(min_value=0.1, max_value=3600))
def test_more_steps_never_mean_less_time(held: int, wanted: int, seconds: float) -> None:
    less, more = (
        magnitude(exposure.step_time(quantity(seconds, "s"), held, step), "s") for step in (wanted, wanted + 1)
    )
    assert more > less
    back = exposure.step_time(quantity(less, "s"), wanted, held)
    assert magnitude(back, "s") == pytest.approx(seconds, rel=1e-9)


@pytest.mark.parametrize(
    ("held", "expected", "key"),
    [
        (0, Level.CAUTION, "step-nothing"),  # nothing held is a bound, as everything is
        (5, Level.CAUTION, "step-low"),
        (7, Level.OK, "step-held"),
        (9, Level.OK, "step-held"),
        (10, Level.CAUTION, "step-high"),
    ],
)
def test_a_step_held_is_judged_with_the_next_time(held: float, expected: Level, key: str) -> None:
    found = exposure.judge_step(held, 7, 60, above=2)
    assert level(found) is expected and keys(found) == {key}


def test_step_five_where_seven_was_wanted_says_the_double() -> None:
    (found,) = exposure.judge_step(5, 7, 60, above=2)
    sentence = say(found).sentence.replace("\u00a0", " ")
    assert sentence == "Exposure step 5 held, 7 wanted: by this reading alone, expose 120 s next time instead of 60 s."
    (units,) = exposure.judge_step(5, 7, 30, above=2, unit="units")
    assert "by this reading alone, expose 60 light units next time, not 30" in say(units).sentence
    (untimed,) = exposure.judge_step(5, 7, None, above=2)
    assert "2 times" in say(untimed).sentence
    assert exposure.judge_step(None, 7, 60, above=2) == []


@given(st.integers(1, 9), st.integers(1, 9))
def test_a_weaker_stencil_is_never_judged_better(one: int, two: int) -> None:
    weaker, stronger = sorted((one, two))
    before, after = (level(exposure.judge_step(held, 7, 60, above=2)).rank for held in (stronger, weaker))
    assert after >= before


@pytest.mark.parametrize(
    ("time", "wanted", "expected"),
    [(60, 60, Level.OK), (72, 60, Level.OK), (73, 60, Level.CAUTION), (48, 60, Level.OK), (47, 60, Level.CAUTION),
     (60, None, Level.UNKNOWN), (None, 60, Level.UNKNOWN), (None, None, Level.UNKNOWN)],
)  # fmt: skip
def test_an_exposure_is_judged_by_the_wanted_time(time: float | None, wanted: float | None, expected: Level) -> None:
    for unit in ("s", "units"):
        found = exposure.judge_time(time, wanted, tolerance=0.2, unit=unit)
        assert level(found) is expected
        assert all(say(reason).sentence for reason in found)


@given(st.floats(min_value=0, max_value=500), st.floats(min_value=0, max_value=500))
def test_a_time_further_off_is_never_judged_better(one: float, two: float) -> None:
    near, far = sorted((one, two), key=lambda time: abs(time - 60))
    before, after = (level(exposure.judge_time(time, 60, tolerance=0.2)).rank for time in (near, far))
    assert after >= before


def test_a_point_lamp_nearer_than_one_and_a_half_diagonals_is_a_caution() -> None:
    """An emulsion maker on light sources: at least 1.5 diagonals."""
    assert level(exposure.judge_distance(0.74, 0.5, diagonals=1.5)) is Level.CAUTION
    assert level(exposure.judge_distance(0.75, 0.5, diagonals=1.5)) is Level.OK
    assert level(exposure.judge_distance(0.75, None, diagonals=1.5)) is Level.UNKNOWN
    (near,) = exposure.judge_distance(0.7, 0.5, diagonals=1.5)
    assert "70 cm away; 75 cm (1.5 diagonals)" in say(near).sentence.replace("\u00a0", " ")


HERE = exposure.Combination("vacuum unit", "dual-cure A", 230, 48, "yellow", "2+1")


def washouts(of: exposure.Combination, *read: tuple[float, float]) -> list[exposure.Washout]:
    return [exposure.Washout(of, time, held, day) for day, (time, held) in enumerate(read)]


def test_a_time_is_learned_from_the_shops_own_washouts() -> None:
    """By hand: 60 s held 5 wants 120; 120 s held 7 wants 120; 170 s held 8 wants 120.2; one slip does not move it."""
    made = washouts(HERE, (60, 5), (120, 7), (170, 8), (120, 7), (20, 9))
    found = exposure.learn(made, HERE, 7)
    assert found is not None
    assert found.time == pytest.approx(120, rel=0.01)
    assert found.readings == 5 and found.differs == () and found.spread is not None and found.spread < 0.05
    assert level(exposure.judge_learned(found)) is Level.OK


def test_another_mesh_gives_only_a_start_and_says_so() -> None:
    other = exposure.Combination("vacuum unit", "dual-cure A", 110, 80, "white", "2+1")
    found = exposure.learn(washouts(other, (60, 7), (60, 7)), HERE, 7)
    assert found is not None
    assert set(found.differs) == {"mesh_count", "thread", "mesh_colour"}
    assert found.time == pytest.approx(60)  # no factor is made up
    reasons = exposure.judge_learned(found)
    assert level(reasons) is Level.UNKNOWN and "mesh colour" in say(reasons[0]).sentence


@pytest.mark.parametrize(
    "other",
    [
        exposure.Combination("LED unit", "dual-cure A", 230, 48, "yellow", "2+1"),
        exposure.Combination("vacuum unit", "photopolymer B", 230, 48, "yellow", "2+1"),
    ],
)
def test_another_unit_or_emulsion_teaches_nothing(other: exposure.Combination) -> None:
    found = exposure.learn(washouts(other, (60, 7), (60, 7)), HERE, 7)
    assert found is None
    assert level(exposure.judge_learned(found)) is Level.UNKNOWN


def test_a_weaker_lamp_wants_more_time_and_distance_counts_for_point_lamps_only() -> None:
    """90 s at full output is 112.5 s at 80 % (worked out); double distance, four times the time (inverse square)."""
    one = [exposure.Washout(HERE, 90, 7, 0, irradiance_mw_cm2=10)]
    found = exposure.learn(one, HERE, 7, irradiance_mw_cm2=8)
    assert found is not None and found.time == pytest.approx(112.5)
    far = [exposure.Washout(HERE, 90, 7, 0, distance_mm=500)]
    for kind, expected in (("point", 360), ("led", 90), ("fluorescent", 90), (None, 90)):
        found = exposure.learn(far, HERE, 7, distance_mm=1000, lamp=kind)
        assert found is not None and found.time == pytest.approx(expected)
    found = exposure.learn(one, HERE, 7, irradiance_mw_cm2=8, counts_units=True)
    assert found is not None and found.time == pytest.approx(90)


@pytest.mark.parametrize(
    ("reasons", "expected"),
    [
        (stencil.judge_build(20, least=10, most=25), Level.OK),
        (stencil.judge_build(8, least=10, most=25), Level.CAUTION),
        (stencil.judge_build(30, least=10, most=25), Level.CAUTION),
        (stencil.judge_build(None, least=10, most=25), Level.UNKNOWN),
        (stencil.judge_coated_age(7, limit_d=7), Level.OK),
        (stencil.judge_coated_age(7.1, limit_d=7), Level.CAUTION),
        (stencil.judge_coated_age(None, limit_d=7), Level.UNKNOWN),
        (drying.judge_dry("washout", 59.9, ready_min=60), Level.CAUTION),
        (ink.judge_pot_life(-1, at_set_up=True), Level.OK),
        (ink.judge_pot_life(0.1, at_set_up=True), Level.STOP),
        (ink.judge_pot_life(0.1, at_set_up=False), Level.CAUTION),
        (ink.judge_pot_life(None, at_set_up=True), Level.UNKNOWN),
        (colour.judge(0.9, warn=1, fail=2), Level.OK),
        (colour.judge(1.1, warn=1, fail=2), Level.CAUTION),
        (colour.judge(2.1, warn=1, fail=2), Level.STOP),
        (colour.judge(None, warn=1, fail=2), Level.UNKNOWN),
    ],
)
def test_each_limit_has_its_side_and_the_unknown_is_never_ok(reasons: list[verdict.Reason], expected: Level) -> None:
    assert level(reasons) is expected
    for reason in reasons:
        for system in ("metric", "us"):
            said = say(reason, system)
            assert said.sentence and "{" not in said.sentence + said.advice
            assert said.advice or reason.level is Level.OK


@given(st.integers(1, 5), st.floats(min_value=0.01, max_value=3), st.floats(min_value=1, max_value=100))
def test_twice_the_strokes_twice_the_ink(strokes: int, transfer: float, coverage: float) -> None:
    def need(times: int) -> ink.InkNeed:
        return ink.need(quantity(774.2, "cm2"), quantity(coverage, "%"), quantity(35, "cm3/m2"), quantity(1.2, "g/cm3"),
                        strokes=times, transfer=transfer, pieces=100, waste=quantity(5, "%"))  # fmt: skip

    once, twice = need(strokes), need(2 * strokes)
    assert magnitude(twice.per_print, "g") == pytest.approx(2 * magnitude(once.per_print, "g"))
    assert magnitude(twice.job, "g") == pytest.approx(2 * magnitude(once.job, "g"))


def test_weighing_prints_calibrates_the_transfer() -> None:
    computed = quantity(1.626, "g")
    factor = ink.calibrate([quantity(one, "g") for one in (1.9, 2.0, 5.0)], computed)
    assert factor == pytest.approx(2.0 / 1.626)
    with pytest.raises(CannotBe):
        ink.calibrate([], computed)


# ------------------------------------------------------------------------------------------------------------ dryer


def run(air: float, tau: float, seconds: float, start: float = 24, every: float = 6) -> list[dryer.Mark]:
    count = int(seconds // every)
    return [dryer.Mark(i * every, air - (air - start) * math.exp(-i * every / tau)) for i in range(count + 1)]


def window(marks: Sequence[dryer.Mark], *asked: Any) -> dryer.Window:
    """By the shipped limit of how far marks may lie from one warm-up."""
    return dryer.window(marks, *asked, largest_error_c=defaults.value("probe-fit"))


@given(st.floats(min_value=165, max_value=260), st.floats(min_value=12, max_value=60))
def test_a_made_warm_up_is_found_again_with_its_window(air: float, tau: float) -> None:
    """By hand: fastest = length / (tau ln((air - start) / (air - cure)) + hold), slowest likewise for the dye."""
    marks = run(air, tau, 120)
    cure, hold, bleed = quantity(150, "degC"), quantity(20, "s"), quantity(162, "degC")
    found = window(marks, cure, hold, bleed, quantity(3, "m"), quantity(1.5, "m/min"))
    assert found.fits and found.warm_up is not None
    assert found.warm_up.air_c == pytest.approx(air, rel=1e-3)
    assert found.warm_up.tau_s == pytest.approx(tau, rel=1e-2)
    to_cure = tau * math.log((air - 24) / (air - 150))
    to_bleed = tau * math.log((air - 24) / (air - 162))
    assert found.fastest is not None and found.slowest is not None
    assert magnitude(found.fastest, "m/min") == pytest.approx(180 / (to_cure + 20), rel=1e-2)
    assert magnitude(found.slowest, "m/min") == pytest.approx(180 / to_bleed, rel=2e-2)
    assert found.open == (magnitude(found.slowest, "m/min") <= magnitude(found.fastest, "m/min"))


@pytest.mark.parametrize(("air_f", "taus"), [(400.0, 1.40), (350.0, 2.22)])
def test_time_to_target_as_worked_out(air_f: float, taus: float) -> None:
    """Start 75 F, target 320 F: 1.40 tau in air of 400 F, 2.22 tau in 350 F (standard first-order warm-up)."""
    warm_up = dryer.WarmUp(air_f, air_f - 75, 1.0, 0.0)
    assert warm_up.reaches(320) == pytest.approx(taus, abs=0.005)
    assert warm_up.reaches(air_f) is None


@given(st.floats(min_value=0.3, max_value=6), st.floats(min_value=0.1, max_value=3))
def test_a_longer_dwell_is_a_slower_belt(minutes: float, more: float) -> None:
    def speed(dwell: float) -> float:
        return float(magnitude(dryer.belt(quantity(3, "m"), quantity(dwell, "min")).speed, "m/min"))

    assert speed(minutes + more) < speed(minutes)
    whole = dryer.belt(None, quantity(minutes, "min"), quantity(speed(minutes), "m/min"))
    assert magnitude(whole.length, "m") == pytest.approx(3)


def test_how_far_marks_may_lie_from_one_warm_up_is_the_shops_limit() -> None:
    """Marks of a wet garment, which stay at 100 degC for a while, lie some 10 degC and more from any one warm-up."""
    wet = [dryer.Mark(10 * i, c) for i, c in enumerate((24, 80, 99, 100, 100, 100, 100, 101, 130, 155, 168, 172, 174))]
    asked = (quantity(150, "degC"), quantity(10, "s"), None, quantity(3, "m"), quantity(1.5, "m/min"))
    strict, loose = (dryer.window(wet, *asked, largest_error_c=most) for most in (defaults.value("probe-fit"), 60))
    assert strict.warm_up is not None and 6 < strict.warm_up.error_c < 60
    assert (strict.fits, loose.fits) == (False, True)
    (reason,) = [one for one in dryer.judge_window(strict, *asked[:3], asked[-1]) if one.key == "warm-up-not-fitted"]
    assert reason.numbers["largest_c"] == defaults.value("probe-fit")


def judged(
    marks: list[dryer.Mark], cure: float, hold: float, bleed: float | None
) -> tuple[dryer.Window, set[str], Level]:
    limit = None if bleed is None else quantity(bleed, "degC")
    speed = quantity(1.5, "m/min")
    found = window(marks, quantity(cure, "degC"), quantity(hold, "s"), limit, quantity(3, "m"), speed)
    reasons = dryer.judge_window(found, quantity(cure, "degC"), quantity(hold, "s"), limit, speed)
    for reason in reasons:
        assert "{" not in say(reason, "us").sentence
    return found, keys(reasons), level(reasons)


def test_a_cure_above_the_dyes_limit_has_no_speed_and_asks_for_another_ink() -> None:
    _found, said, worst = judged(run(180, 30, 120), 160, 60, 132)
    assert "cure-over-bleed" in said and worst is Level.STOP


def test_where_heat_is_too_strong_cooler_and_slower_is_the_way_out() -> None:
    """Facts of the trade (common practice): on a cotton/polyester blend the belt runs slower and cooler."""
    found, said, worst = judged(run(230, 30, 120), 150, 40, 160)
    assert "no-speed-serves" in said and worst is Level.STOP
    assert found.fastest is not None
    slower = dryer.cooler(found, 150, 40, 160)
    assert slower is not None and slower < magnitude(found.fastest, "m/min")
    # and a run at that heat has a window that holds the speed advised
    cooled, cooled_said, _worst = judged(run(160, 30, 120), 150, 40, 160.5)
    assert "speed-window-open" in cooled_said and cooled.fastest is not None
    assert magnitude(cooled.fastest, "m/min") == pytest.approx(slower, rel=0.01)


def test_a_run_too_cold_for_the_ink_and_too_hot_for_the_dye_is_told_once_what_to_do() -> None:
    for heat, hold, bleed, by in ((230, 40, 160, "no-speed-serves"), (180, 90, 132, "cure-over-bleed")):
        marks = run(heat, 30, 120)
        asked = (quantity(150, "degC"), quantity(hold, "s"), quantity(bleed, "degC"))
        found = window(marks, *asked, quantity(3, "m"), quantity(4.0, "m/min"))
        told = {one.key: say(one).advice for one in dryer.judge_window(found, *asked, quantity(4.0, "m/min"))}
        assert told[by] and not any(advice for key, advice in told.items() if key != by), told


def test_weak_heat_never_cures() -> None:
    found, said, worst = judged(run(140, 30, 120), 160, 30, None)
    assert found.fastest is None and {"air-under-cure", "cure-short"} <= said and worst is Level.STOP


def test_marks_of_a_wet_garment_give_no_speeds() -> None:
    """A wet textile stays near boiling until it is dry, then climbs: no first-order warm-up."""
    marks = [
        dryer.Mark(10 * i, c) for i, c in enumerate((24, 80, 99, 100, 100, 100, 100, 101, 130, 155, 168, 172, 174))
    ]
    found, said, worst = judged(marks, 150, 10, None)
    assert not found.fits and "warm-up-not-fitted" in said and worst is Level.UNKNOWN


def test_the_probe_never_claims_cure() -> None:
    (reached,) = [one for one in dryer.judge_window(
        window(run(190, 25, 120), quantity(160, "degC"), quantity(30, "s"), None, quantity(3, "m"),
                     quantity(1.5, "m/min")),
        quantity(160, "degC"), quantity(30, "s"), None, quantity(1.5, "m/min"),
    ) if one.key == "cure-reached"]  # fmt: skip
    said = say(reached)
    assert "No proof of cure" in said.sentence and "ash-test" in said.advice


def test_cooling_marks_count_for_what_was_measured_but_not_for_the_warm_up() -> None:
    marks = run(190, 25, 120)
    cooled = [*marks, dryer.Mark(130, 150), dryer.Mark(140, 110)]
    one = window(marks, quantity(160, "degC"), quantity(30, "s"), None, quantity(3, "m"), quantity(1.5, "m/min"))
    two = window(cooled, quantity(160, "degC"), quantity(30, "s"), None, quantity(3, "m"), quantity(1.5, "m/min"))
    assert one.fastest is not None and two.fastest is not None
    assert magnitude(one.fastest, "m/min") == pytest.approx(magnitude(two.fastest, "m/min"))
    assert magnitude(two.time_above_cure, "s") > magnitude(one.time_above_cure, "s")


@st.composite
def probe_runs(draw: st.DrawFn) -> list[dryer.Mark]:
    """A run that warms up, as noted by a shaky hand, and goes on after the exit (120 s) in any way at all."""
    air, tau = draw(st.floats(min_value=110, max_value=235)), draw(st.floats(min_value=8, max_value=90))
    every, shake = draw(st.sampled_from([5.0, 11.0, 20.0, 30.0])), draw(st.sampled_from([0.0, 0.5, 4.0]))
    noise = st.floats(min_value=-shake, max_value=shake)
    marks = [dryer.Mark(one.s, one.c + draw(noise)) for one in run(air, tau, 120, every=every)]
    later = draw(st.lists(st.floats(min_value=20, max_value=230), max_size=5))
    return marks + [dryer.Mark(marks[-1].s + 10.0 * (place + 1), c) for place, c in enumerate(later)]


@settings(max_examples=400)
@given(probe_runs(), st.floats(min_value=100, max_value=190), st.floats(min_value=0, max_value=120),
       st.sampled_from(["none", "at the peak", "anywhere"]), st.floats(min_value=90, max_value=220),
       st.sampled_from([1.5, 1.499, 0.6, 4.0]) | st.floats(min_value=0.4, max_value=6))  # fmt: skip
def test_a_probe_run_and_its_window_never_contradict_each_other(
    marks: list[dryer.Mark], cure: float, hold: float, which: str, anywhere: float, speed: float
) -> None:
    """Good at its own speed just where that speed lies in the window that is printed, whatever follows the exit."""
    bleed = {"none": None, "at the peak": max(mark.c for mark in marks), "anywhere": anywhere}[which]
    asked = (quantity(cure, "degC"), quantity(hold, "s"), None if bleed is None else quantity(bleed, "degC"))
    found = window(marks, *asked, quantity(3, "m"), quantity(speed, "m/min"))
    reasons = dryer.judge_window(found, *asked, quantity(speed, "m/min"))
    printed = [one.numbers for one in reasons if one.key in ("speed-window", "speed-window-open")]
    inside = [one for one in printed if one.get("slowest_m_per_min", 0) <= speed <= one["fastest_m_per_min"]]
    assert (level(reasons) is Level.OK) == bool(inside), (reasons, found)
    for one in printed:  # said inwards: whoever sets the belt to what stands there keeps the limit
        assert found.fastest is not None
        assert one["fastest_m_per_min"] <= magnitude(found.fastest, "m/min") * (1 + 1e-9)
        assert found.slowest is None or one["slowest_m_per_min"] >= magnitude(found.slowest, "m/min") * (1 - 1e-9)
    if found.fastest is not None and found.open:
        low = 0 if found.slowest is None else magnitude(found.slowest, "m/min")
        within = low <= speed <= magnitude(found.fastest, "m/min") * (1 + 1e-12)
        assert (found.cured and not found.bled) == within


def test_time_after_the_exit_is_no_time_in_the_heat() -> None:
    """A garment that stays hot on the cooling belt was once called good at a speed outside its own window."""
    marks = [*run(175, 40, 120), *(dryer.Mark(120.0 + 10 * later, 165 - later) for later in range(1, 7))]
    found, said, worst = judged(marks, 160, 60, None)
    assert magnitude(found.time_above_cure, "s") > 60 > magnitude(found.held, "s")
    assert "cure-short" in said and worst is Level.STOP
    assert found.fastest is not None and magnitude(found.fastest, "m/min") < 1.5


def probed(text: str) -> dict[str, object]:
    asked = {"cure": "160 degC", "hold": "30 s", "length": "3 m", "speed": "1.5 m/min", "file": text}
    return compute("probe", asked).to_dict()


def test_a_probe_file_in_degf_reads_as_the_same_run_in_degc() -> None:
    """Check values of the trade notes (C = (F - 32) / 1.8): 320 F is 160 C, 350 F is 177 C, 75 F is 24 C."""
    marks = [(0, 24), (20, 110), (40, 149), (60, 160), (80, 166), (100, 171), (120, 177)]
    celsius = "s,c\n" + "".join(f"{s},{c}\n" for s, c in marks)
    fahrenheit = "s,f\n" + "".join(f"{s},{c * 1.8 + 32:.1f}\n" for s, c in marks)
    one, two = probed(celsius)["results"], probed(fahrenheit)["results"]
    assert isinstance(one, dict) and isinstance(two, dict)
    for name, value in one.items():
        assert two[name]["value"] == (value["value"] and pytest.approx(value["value"], rel=1e-3)), name
    assert two["peak"] == {"value": pytest.approx(177), "unit": "degC"}


@pytest.mark.parametrize(
    ("text", "line", "more"),
    [
        ("s,c\n0,75\n20,230\n40,300\n60,331\n", 4, "°F"),  # marks in degF under c were once good at 331
        ("s,f\n0,75\n20,230\n\n40,300\n60,631\n", 6, "631"),
        ("s,c\n0,24\n20,110\n20,140\n40,160\n", 4, "20 s"),
        ("s,c\n0,24\n20,110\n15,140\n", 4, "15 s"),
        ("s,c\n0,24\n20,-12\n40,140\n", 3, "12"),
        ("s,c\n-5,24\n20,110\n", 2, "“-5” is below zero"),
    ],
)
def test_a_mark_that_cannot_be_is_refused_with_its_line(text: str, line: int, more: str) -> None:
    with pytest.raises(Faulty) as refused:
        probed(text)
    ((where, message),) = refused.value.faults
    assert where == "file" and f"Line {line}:" in message and more in message


def test_a_probe_file_that_names_both_units_is_refused() -> None:
    with pytest.raises(Faulty, match="both"):
        probed("s,c,f\n0,24,75\n20,110,230\n")


def test_time_above_a_limit_joins_marks_by_straight_lines() -> None:
    marks = [dryer.Mark(0, 100), dryer.Mark(10, 200), dryer.Mark(20, 200), dryer.Mark(30, 100)]
    assert dryer.time_above(marks, 150) == pytest.approx(20)
    assert dryer.time_above(marks, 200) == pytest.approx(10)
    assert dryer.time_above(marks, 201) == 0


# ------------------------------------------------------------------------------------------------------- mesh lives


@given(st.lists(st.tuples(st.integers(1, 60), st.booleans()), min_size=1, max_size=40))
def test_a_survival_curve_only_falls(data: list[tuple[int, bool]]) -> None:
    found = lifetime.survival([lifetime.UsesOfMesh(uses, ended) for uses, ended in data])
    shares = [1.0, *(row.survival for row in found.rows)]
    assert all(later <= earlier for earlier, later in zip(shares, shares[1:], strict=False))
    assert 0 <= found.mean_to_last <= max(uses for uses, _ended in data) + 1e-9
    assert sum(row.ended for row in found.rows) == found.ended


def test_a_mesh_near_its_end_is_named_and_few_lives_say_nothing() -> None:
    lives = [lifetime.UsesOfMesh(uses, True) for uses in (10, 11, 12, 13, 14, 15, 16, 17, 18, 40)]
    curve = lifetime.survival(lives)
    assert level(judge_life(lifetime.survival(lives * 3), 1)) is Level.OK
    assert keys(judge_life(curve, 1)) == {"life-open"}  # of ten nobody can say surely
    assert keys(judge_life(curve, 12)) == {"life-near-end"}
    assert keys(judge_life(curve, 41)) == {"life-beyond"}
    watched = lifetime.survival([*lives[:5], lifetime.UsesOfMesh(30, False)])
    assert lifetime.chance_of_next(watched, 20, 5) == 1  # 30 uses were seen
    assert lifetime.chance_of_next(watched, 27, 5) is None and level(judge_life(watched, 27)) is Level.UNKNOWN
    assert level(judge_life(lifetime.survival(lives[:4]), 12)) is Level.UNKNOWN
    assert level(judge_life(None, 12)) is Level.UNKNOWN


# --------------------------------------------------------------------------------------------------------- defaults


def test_every_default_has_a_source_and_no_two_are_equally_particular() -> None:
    seen: set[tuple[str, frozenset[tuple[str, object]]]] = set()
    for row in defaults.DEFAULTS:
        assert row.source.strip() and math.isfinite(row.value)
        mark = (row.key, frozenset(row.when.items()))
        assert mark not in seen
        seen.add(mark)


@given(
    st.sampled_from([None, *kinds.WORK]),
    st.sampled_from([None, *kinds.FRAMES]),
    st.one_of(st.none(), st.floats(min_value=20, max_value=420)),
    st.sampled_from([None, "diazo", "dual-cure", "photopolymer"]),
    st.sampled_from([None, "plastisol", "water-base", "discharge", "silicone", "other"]),
)
def test_one_default_wins_alone(
    work: str | None, frame: str | None, count: float | None, emulsion: str | None, ink_kind: str | None
) -> None:
    conditions = {"work": work, "frame": frame, "count_per_in": count, "emulsion": emulsion, "ink": ink_kind}
    for key in {row.key for row in defaults.DEFAULTS}:
        fitting = [row for row in defaults.DEFAULTS if row.key == key and row.fits(conditions)]
        if fitting:
            best = max(row.weight for row in fitting)
            assert sum(row.weight == best for row in fitting) == 1, (key, conditions)


@pytest.mark.parametrize(
    ("conditions", "days"),
    [({"work": "halftone", "emulsion": "diazo"}, 7), ({"work": "halftone", "emulsion": "photopolymer"}, 28),
     ({"work": "colours", "emulsion": "diazo"}, 28), ({}, 28)],
)  # fmt: skip
def test_coated_screens_for_halftones_on_diazo_are_old_after_a_week(conditions: dict[str, str], days: float) -> None:
    """Screen Printing, Sept 2003: at most a week to keep 3-4 % dots."""
    assert defaults.value("coated-age", **conditions) == days


def test_each_kind_of_work_has_limits_of_its_own() -> None:
    for key in ("tension-watch", "tension-floor", "tension-hard-floor"):
        assert {row.when["work"] for row in defaults.DEFAULTS if row.key == key} == set(kinds.WORK)


def test_every_limit_is_shipped_or_measured_in_the_shop() -> None:
    measured = {"exposure-time", "exposure-units", "ink-transfer", "ink-density"}  # nothing is shipped for these
    assert {row.key for row in defaults.DEFAULTS} | measured == set(LIMITS)
    assert not measured & {row.key for row in defaults.DEFAULTS}


# --------------------------------------------------------------------------------------------------------- phrases


def every_reason() -> list[verdict.Reason]:
    """At least one reason of every key that the calculator's modules can make."""
    out: list[verdict.Reason] = []
    limits = mesh.HalftoneLimits(3.5, 2.5, 45, 5)
    for count, thread in ((230.0, 48.0), (156, None), (230, 40), (0, 48)):
        out += mesh.judge_same(230, 48, count, thread, count_tolerance_pct=3, thread_tolerance_um=2)
    sheet = {"opening": 95, "open_area_pct": 50, "thickness_um": 27, "volume_cm3_m2": 42}
    out += mesh.judge_sheet(90, 48, limits=sheet_limits(), **sheet)
    for ruling, angle in ((65, 22.5), (70, 45), (130, None)):
        out += mesh.judge_halftone(ruling, 230, angle, limits)
    for opening in (467, 280, 90, None):
        out += mesh.judge_flake(opening, 100, factor=3)
    for values in ([25.0], [19.0], [14.0], [41.0, 30], []):
        out += tension.judge(values, None, COLOURS, work="colours")
    for age, stencils in ((1, 1), (91, 1), (1, 5), (None, None)):
        out += tension.judge_age(age, stencils, limit_d=90, limit_stencils=5)
    out += tension.judge([30], [22], replace(COLOURS, warp_weft_pct=15))
    out += tension.judge([30], None, replace(COLOURS, floor=None))
    out += tension.judge([30], None, replace(COLOURS, holds_register=False), work="colours")
    for uses, hours in ((0, 1), (0, 30), (2, 30)):
        out += tension.judge_settled(tension.Since(1, 0), tension.Since(hours, uses), settled_h=24, settled_uses=2)
    out += tension.judge_neighbours(80, {"7K32XM": 100}, limit_pct=15)
    for floor, made in ((18, [25, 23.1, 22.4, 21.2]), (22, [25, 23.1, 22.4, 21.2]), (18, [25, 25, 25]), (18, [25]),
                        (12, [25, 21, 24, 22]), (17, [25, 22, 23, 21])):  # fmt: skip
        points = [(float(use * use), quantity(one, "N/cm")) for use, one in enumerate(made)]
        loss = tension.fit_loss(points, quantity(floor, "N/cm"))
        for settled in (2, 5):
            out += tension.judge_loss(loss, len(made), floor, settled_uses=settled)
    for time, unit in ((60, "s"), (60, "units"), (None, "s")):
        for held in (5, 7, 10, 21):
            out += exposure.judge_step(held, 7, time, above=2, unit=unit)
    for unit in ("s", "units"):
        for time, wanted in ((60, 60), (90, 60), (None, 60), (60, None)):
            out += exposure.judge_time(time, wanted, tolerance=0.2, unit=unit)
        other = exposure.Combination("vacuum unit", "dual-cure A", 110, 80, "white", "2+1")
        learned = exposure.learn(washouts(HERE, *[(60.0, 7.0)] * 3), HERE, 7)
        out += exposure.judge_set_time(90, learned, tolerance=0.2, unit=unit)
        suffix, name = ("", "set_s") if unit == "s" else ("-units", "set")  # made elsewhere, said here
        out.append(verdict.Reason(f"exposure-set{suffix}", Level.OK, {name: 60}))
        moved = [*[(95.0, 7.0)] * 5, *[(95.0, 5.0)] * 3]
        here = ([(60.0, 7.0)] * 3, [(60.0, 7.0)] * 2, moved, [(60.0, 7.0)], [])
        for of, read in (*((HERE, one) for one in here), (other, [(60.0, 7.0)])):
            out += exposure.judge_learned(exposure.learn(washouts(of, *read), HERE, 7, tolerance=0.2), unit=unit)
    bare = exposure.Combination("vacuum unit", "dual-cure A", 230)
    out += exposure.judge_learned(exposure.learn(washouts(bare, (60, 7), (60, 7), (60, 7)), bare, 7))
    for distance, diagonal in ((1, 0.5), (0.5, 0.5), (1, None)):
        out += exposure.judge_distance(distance, diagonal, diagonals=1.5)
    weak, unsure = (lamp.Drift(latest=latest, low=0.9, high=1.8, error=0.2) for latest in (1.5, 1.1))
    for hours, age, told in ((600, 600, weak), (1, 1, None), (None, None, None), (None, None, unsure)):
        out += lamp.judge_lamp(hours=hours, age_d=age, drift=told, limit_h=500, limit_d=182, limit_drift=0.25)
    for ratio in (20, 5, 30, None):
        out += stencil.judge_build(ratio, least=10, most=25)
    for age in (1, 8, None):
        out += stencil.judge_coated_age(age, limit_d=7)
    for after in drying.AFTER:
        for air in (None, drying.Air(25, 60), drying.Air(25), drying.Air(None, 60)):
            out += drying.judge_dry(after, 10, ready_min=75, touch_min=60, air=air)
    out += drying.judge_dry("coat", 60, ready_min=75, touch_min=60)
    for past in (-1, 1, None):
        out += ink.judge_pot_life(past, at_set_up=True)
    for difference in (0.5, 1.5, 2.5, None):
        out += colour.judge(difference, warn=1, fail=2)
    for conditions in (("D50", "D65"), ("", "D65")):
        out += colour.judge_conditions(*conditions)
    for best in ("clearest", "darkest"):
        out += exposure.judge_film(best)
    out += exposure.judge_step(0, 7, 60, above=2)
    for key in ("colour-no-limit", "tension-loss-same-uses", "life-no-limit"):  # made elsewhere, said here
        out.append(verdict.Reason(key, Level.UNKNOWN, {"readings": 3}))
    seen = [*(lifetime.UsesOfMesh(uses, True) for uses in (1, 2, 3, 4, 5)), lifetime.UsesOfMesh(30, False)]
    out += judge_life(lifetime.survival(seen), 27)
    lives = [lifetime.UsesOfMesh(uses, True) for uses in (10, 11, 12, 13, 14, 40)]
    for uses in (1, 12, 41):
        out += judge_life(lifetime.survival(lives), uses)
    steady = [lifetime.UsesOfMesh(20 + number % 10, True) for number in range(60)]
    out += judge_life(lifetime.survival(steady), 2) + judge_life(lifetime.survival(steady[:10]), 27)
    out += lifetime.judge_unknown() + judge_life(None, 1) + exposure.judge_no_step()
    wet = [dryer.Mark(10 * i, c) for i, c in enumerate((24, 80, 99, 100, 100, 100, 100, 101, 130, 155, 168, 172, 174))]
    probes: list[tuple[list[dryer.Mark], float, float, float | None]] = [
        (run(180, 30, 120), 160, 60, 132), (run(230, 30, 120), 150, 40, 160), (run(230, 30, 120), 150, 400, 155),
        (run(140, 30, 120), 160, 30, None), (run(180, 30, 120), 150, 30, 178), (run(190, 25, 120), 160, 30, None),
        (wet, 150, 10, None), (run(230, 30, 120, start=170), 150, 10, 160),
    ]  # fmt: skip
    for marks, cure, hold, bleed in probes:
        limit, speed = None if bleed is None else quantity(bleed, "degC"), quantity(1.5, "m/min")
        asked = (quantity(cure, "degC"), quantity(hold, "s"), limit)
        out += dryer.judge_window(window(marks, *asked, quantity(3, "m"), speed), *asked, speed)
    return out


def test_every_reason_is_said_in_full_in_both_systems() -> None:
    """Each key that the modules register is really made, and said with its numbers, and with advice where not ok."""
    made = every_reason()
    for reason in made:
        for system in ("metric", "us"):
            said = say(reason, system)
            text = said.sentence + said.advice
            assert said.sentence and "{" not in text and "None" not in text, reason
        # what another reason beside it says to do is said once
        assert said.advice or reason.level is Level.OK or reason.numbers.get("advised"), reason
        assert verdict.Reason.from_dict(reason.to_dict()) == reason
    folder = Path(verdict.__file__).parent
    modules = ("mesh", "tension", "exposure", "stencil", "drying", "ink", "dryer", "colour", "lifetime")
    source = "".join((folder / f"{module}.py").read_text(encoding="utf-8") for module in modules)
    ours = {key for key in verdict._PHRASES if f'"{key}": (' in source}
    assert len(ours) > 80
    assert ours - keys(made) == set()
