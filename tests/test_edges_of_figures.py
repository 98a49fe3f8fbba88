"""What is learned from strips and lamps at the edge of each rule, by hand: a step is half a stop, so that two steps are
twice the time; 0 is the first day."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, NamedTuple

import pytest

from tickets.calculator import exposure, lamp, lifetime, mesh
from tickets.calculator.exposure import POINT, Combination, Washout
from tickets.calculator.lamp import Drift
from tickets.calculator.lifetime import UsesOfMesh
from tickets.calculator.verdict import Level
from tickets.domain import code
from tickets.domain.runs.as_run import texts_of

HERE = Combination("A", "Aqua", 230.0, 48.0, "yellow", "1+1")


def washed(*times: float, held: float = 7.0, of: Combination = HERE, **more: Any) -> list[Washout]:
    return [Washout(of, time, held, float(day), **more) for day, time in enumerate(times)]


@pytest.mark.parametrize(("other", "names"), [
    ({}, ()), ({"exposure_unit": "B"}, ("exposure_unit",)), ({"emulsion": "Dual"}, ("emulsion",)),
    ({"count_per_in": 236.9}, ()), ({"count_per_in": 223.1}, ()), ({"count_per_in": 237.0}, ("mesh_count",)),
    ({"count_per_in": None}, ("mesh_count",)), ({"thread_um": 50.0}, ()), ({"thread_um": 50.1}, ("thread",)),
    ({"thread_um": None}, ("thread",)), ({"mesh_colour": "white"}, ("mesh_colour",)), ({"coats": "2+1"}, ("coats",)),
    ({"thread_um": 64.0, "coats": None}, ("thread", "coats"))])  # fmt: skip
def test_in_what_two_exposures_differ(other: dict[str, Any], names: tuple[str, ...]) -> None:
    """3 % of 230 is 6.9."""
    assert HERE.differs(replace(HERE, **other)) == names
    bare = Combination("A", "Aqua")
    assert bare.differs(bare) == () and bare.unnoted() == ("mesh_count", "thread", "mesh_colour", "coats")
    assert HERE.unnoted() == () and replace(HERE, coats="").unnoted() == ("coats",)


@pytest.mark.parametrize(("seen", "time", "readings", "before"), [
    (washed(0.5), 0.5, 1, None), (washed(0.0), None, 0, None), (washed(60, held=0.9), None, 0, None),
    (washed(60, held=1), 480, 1, None), (washed(60, held=20.9), 60 / 2**6.95, 1, None),
    (washed(60, held=21), None, 0, None),
    (washed(60, held=5), 120, 1, None), (washed(40, 50, 90), 50, 3, None),
    (washed(10, *[60] * 15), 60, 15, None), (washed(*[60] * 7, *[70] * 9), 70, 15, None),
    # the last three agree with each other and not with all; with three there is nothing before them
    (washed(*[100] * 6, 150, 150, 150), 150, 3, 100), (washed(*[100] * 6, 150, 150, 170), 100, 9, None),
    (washed(*[100] * 6, 110, 110, 110), 100, 9, None), (washed(*[100] * 6, 110.1, 110.1, 110.1), 110.1, 3, 100),
    (washed(100, 150, 150, 150), 150, 4, None), (washed(100, 90, 150), 100, 3, None)])  # fmt: skip
def test_the_time_that_a_shop_learned(seen: list[Washout], time: float | None, readings: int, before: Any) -> None:
    found = exposure.learn(reversed(seen), HERE, 7, tolerance=0.1)
    if time is None:
        assert found is None
        return
    assert (
        found is not None and found.time == pytest.approx(time) and (found.readings, found.before) == (readings, before)
    )
    assert (found.differs, found.nearest, found.unnoted) == ((), None, ())
    assert (found.low, found.high) == (pytest.approx(time), pytest.approx(time))
    assert (found.spread is None) == (readings == 1)


def test_the_spread_and_the_times_that_are_fine() -> None:
    found = exposure.learn(washed(100, 110, 120, 150), HERE, 7)
    assert found is not None and found.time == 115 and found.spread == pytest.approx(1.4826 * 10 / 115)
    # a step over the wanted one is fine with two allowed: nothing pushes it down; 7 to 9 is the time to twice of that
    over = exposure.learn(washed(80, held=8), HERE, 7, above=2)
    assert over is not None and over.time == 80
    assert (over.low, over.high) == (pytest.approx(80 / 2**0.5), pytest.approx(80 * 2**0.5))
    high = exposure.learn(washed(80, held=20), HERE, 20, above=5)
    assert high is not None and high.high == pytest.approx(80 * 2**0.5), "the strip ends at 21"


@pytest.mark.parametrize(("seen", "now", "lamp_kind", "factor"), [
    ({"irradiance_mw_cm2": 10.0}, {"irradiance_mw_cm2": 8.0}, None, 1.25), ({}, {"irradiance_mw_cm2": 8.0}, None, 1),
    ({"irradiance_mw_cm2": 10.0}, {}, None, 1), ({"distance_mm": 500.0}, {"distance_mm": 1000.0}, POINT, 4),
    ({"distance_mm": 500.0}, {"distance_mm": 1000.0}, "tubes", 1), ({}, {"distance_mm": 1000.0}, POINT, 1),
    ({"distance_mm": 500.0}, {}, POINT, 1),
    ({"distance_mm": 500.0, "irradiance_mw_cm2": 10.0}, {"distance_mm": 1000.0, "irradiance_mw_cm2": 8.0}, POINT, 1.25),
])  # fmt: skip
def test_a_time_is_brought_to_the_light_of_today(seen: Any, now: Any, lamp_kind: str | None, factor: float) -> None:
    (one,) = washed(60, **seen)
    assert exposure.corrected(one, 7, lamp=lamp_kind, **now) == pytest.approx(60 * factor)
    counted = exposure.learn([one], HERE, 7, lamp=lamp_kind, counts_units=True, **now)
    assert counted is not None and counted.time == 60, "an integrator counts the light itself"


@pytest.mark.parametrize(("near", "far", "chosen"), [
    ({"count_per_in": 200.0}, {"count_per_in": 160.0}, "near"),
    ({"coats": "2+1", "thread_um": 64.0}, {"coats": "2+2"}, "far"),
    ({"count_per_in": 300.0}, {"count_per_in": 160.0}, "near"),
    ({"count_per_in": None}, {"count_per_in": 160.0}, "near"),
])  # fmt: skip
def test_the_nearest_combination_is_the_one_that_differs_in_fewest_ways(near: Any, far: Any, chosen: str) -> None:
    """ln(300/230) is 0.27, ln(230/160) is 0.36."""
    seen = [*washed(200, of=replace(HERE, **far)), *washed(50, of=replace(HERE, **near))]
    found = exposure.learn(seen, HERE, 7)
    assert found is not None and found.time == (50 if chosen == "near" else 200) and found.differs
    assert found.nearest == replace(HERE, **(near if chosen == "near" else far))


@pytest.mark.parametrize(("times", "tolerance", "set_time", "key"), [
    ([100, 100, 100], 0.1, 110, None), ([100, 100, 100], 0.1, 90.5, "more"), ([100, 100, 100], 0.1, 91, None),
    ([100, 100, 100], 0.1, 112, "less"), ([100, 100], 0.1, 200, None)])  # fmt: skip
def test_a_set_time_is_doubted_beyond_what_is_the_same(times: Any, tolerance: float, set_time: float, key: Any) -> None:
    """A tenth of 90.5 is 9.05: 100 is further off. A tenth of 112 is 11.2."""
    found = exposure.judge_set_time(set_time, exposure.learn(washed(*times), HERE, 7), tolerance=tolerance)
    assert [one.numbers["way_word"] for one in found] == ([key] if key else [])
    assert [one.key for one in found] == (["exposure-set-time-off"] if key else [])
    assert exposure.judge_set_time(set_time, None, tolerance=tolerance) == []


# -- lamps


@pytest.mark.parametrize(("latest", "error", "high", "weak", "strong"), [
    (1.25, 0.1, 1.3, True, False), (1.2499, 0.1, 1.25, False, False), (1.25, 0.277, 1.2, False, True),
    (1.25, 0.276, 1.2499, True, True), (None, 0.1, None, False, False), (1.3, None, None, False, False)])  # fmt: skip
def test_a_lamp_is_weak_where_it_is_sure(latest: Any, error: Any, high: Any, weak: bool, strong: bool) -> None:
    """A quarter more time is 0.6439 steps, which is 2.33 times 0.27634."""
    found = Drift(latest=latest, error=error, high=high, low=1.0)
    assert (found.weak(0.25), found.strong(0.25)) == (weak, strong)


@pytest.mark.parametrize(("hours", "age", "latest", "keys"), [
    (500, 181, None, ["lamp-hours-due"]), (499, 182, None, ["lamp-age-due"]), (499, 181, None, ["lamp-fine"]),
    (500, 182, 1.5, ["lamp-hours-due", "lamp-age-due", "lamp-weak"]), (None, None, None, ["lamp-unknown"]),
    (None, None, 1.1, ["lamp-open"]), (None, 181, 1.1, ["lamp-fine"]), (499, None, 1.1, ["lamp-fine"])])  # fmt: skip
def test_a_lamp_is_due_by_hours_by_age_or_by_its_strips(hours: Any, age: Any, latest: Any, keys: list[str]) -> None:
    drift = None if latest is None else Drift(latest=latest, error=0.1, high=latest + 0.2, low=latest - 0.2)
    found = lamp.judge_lamp(hours=hours, age_d=age, drift=drift, limit_h=500, limit_d=182, limit_drift=0.25)
    assert [one.key for one in found] == keys
    if "lamp-open" in keys:
        assert found[0].level is Level.UNKNOWN and found[0].numbers["more_pct"] == pytest.approx(10)
        assert found[0].numbers["least_pct"] == 0 and found[0].numbers["most_pct"] == pytest.approx(30)


@pytest.mark.parametrize(("distances", "sorts"), [
    ((900.0, 918.0), [0, 0]), ((900.0, 918.1), [0, 1]), ((900.0, None), [0, 1]), ((None, None), [0, 0]),
    ((900.0, 882.0, 881.0), [0, 0, 1])])  # fmt: skip
def test_strips_from_as_far_are_alike(distances: tuple[float | None, ...], sorts: list[int]) -> None:
    assert lamp.alike((HERE, far) for far in distances) == sorts


def test_how_strips_scatter() -> None:
    """Six of 0.55 beside one pair a step apart: (6 x 0.3025 + 0.5) / 7; a slip counts as 2.75 steps at most."""
    assert lamp.scatter([0, 1], [0, 0]) == pytest.approx(math.sqrt((6 * 0.55**2 + 0.5) / 7))
    assert lamp.scatter([0, 1], [0, 1]) == pytest.approx(0.55) == lamp.scatter([], [])
    assert lamp.scatter([0, 9], [0, 0]) == pytest.approx(math.sqrt((6 * 0.55**2 + 2.75**2 / 2) / 7))
    assert lamp.scatter([0] * 60, [0] * 60) == 0.3


@pytest.mark.parametrize(("strips", "known"), [(7, False), (8, True)])
def test_a_lamp_is_said_from_eight_strips_on(strips: int, known: bool) -> None:
    found = lamp.drift([*washed(*[60.0] * strips), *washed(0.0), *washed(60.0, held=0.5)], "A")
    assert (found.latest is not None) == known and len(found.points) == strips
    tenths = lamp.drift(washed(*[0.5] * strips), "A")
    assert len(tenths.points) == strips
    apart = [one for at in range(8) for one in washed(60.0, of=replace(HERE, count_per_in=100.0 + 20 * at))]
    assert lamp.drift(apart, "A").latest is None, "each is compared with itself only"
    assert lamp.drift([*apart, *washed(60.0, of=replace(HERE, count_per_in=100.0))], "A").latest is not None


# -- codes, and what a sheet keeps


def test_a_code_is_told_short_and_with_those_one_slip_away() -> None:
    right = next(one for one in (f"7K32X{last}" for last in code.ALPHABET) if code.holds(one))
    assert code.read(code.shown(right)) == right
    with pytest.raises(code.NoCode) as refused:
        code.read("x" * 41)
    assert f"“{'x' * 40}”" in str(refused.value)
    for typed in (right[:2] + right[3] + right[2] + right[4:], right[:-1], right + "7", "8" + right[1:]):
        assert right in code.near(code.fold(typed)) and typed not in code.near(code.fold(typed))
    assert code.near("") == () == code.near(right + "77") and right not in code.near(right)
    for text in (
        f"https://a.example/t/{right}",
        f"/T/{right}/?x=1",
        f"a/b/{right}",
        f" {right.lower()} ",
        "-".join(right),
    ):
        assert code.fold(text) == right


def test_a_sheet_says_what_is_text_or_a_number() -> None:
    assert texts_of({"a": "x", "b": "", "c": 0, "d": None, "e": [1], "f": {"g": 1}, "h": 2.5}) == {
        "a": "x", "c": "0", "h": "2.5"}  # fmt: skip


class OfSheets(NamedTuple):
    """A limit of what a mesh maker's sheet may say."""

    value: float
    row: int = 1


@pytest.mark.parametrize(("volume", "off_pct", "odd"), [
    (18.94, 0, False), (18.96, 0, True), (17.06, 0, False), (17.04, 0, True), (18.96, 10, False), (19.79, 10, False),
    (18.9499, 0, False), (18.9501, 0, True), (19.81, 10, True)])  # fmt: skip
def test_a_volume_of_a_sheet_is_off_beyond_what_rounding_loses(volume: float, off_pct: float, odd: bool) -> None:
    """60 um at 30 % hold 18 cm3/m2. Half of each whole number printed: 0.5 x (1 + 0.6 + 0.3) is 0.95; 10 % is 1.8."""
    limits = {"sheet-volume-off": OfSheets(off_pct)}
    found = mesh.judge_sheet(90, 48, limits=limits, open_area_pct=30, thickness_um=60, volume_cm3_m2=volume)
    assert [one.key for one in found] == (["sheet-volume-odd"] if odd else [])


def test_a_lamp_is_thought_to_have_jumped_beyond_a_sum_not_at_it() -> None:
    """4.75 deviations less 0.75 are 4: as much as is not yet taken for a jump of one step."""
    seen = lamp._Filter(noise=0.5)
    seen._jumped(lamp.JUMP_SUM + lamp.JUMP_SLACK)
    assert seen.summed == [4.0, 0.0] and seen.spread[0][0] == 0
    seen._jumped(lamp.JUMP_SLACK + 0.01)
    assert seen.summed == [0.0, 0.0] and seen.spread[0][0] == 1  # it is summed up from nought again


def test_a_chance_from_the_first_use_on_is_as_sure_as_the_curve_there() -> None:
    """Two of ten ended at 10: log 0.8 has Greenwood's variance 2 / (10 x 8); the interval is of its logarithm."""
    curve = lifetime.survival([UsesOfMesh(10, True)] * 2 + [UsesOfMesh(50, True)] * 8)
    low, high = (0.8 ** math.exp(side * 1.959964 * math.sqrt(2 / 80) / -math.log(0.8)) for side in (1, -1))
    assert lifetime.sure_of_next(curve, 0, 20) == pytest.approx((low, high), rel=1e-5)
