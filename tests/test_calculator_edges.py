"""The ends of what can be worked out: nothing is no length, 100 % is all, one is the fewest, and the last value that a
thing can have is still taken. Each case is a statement about the thing, not about the arithmetic."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import pytest

from tickets.calculator import (
    catalogue,
    colour,
    colour_text,
    cure,
    dryer,
    drying,
    exposure,
    ink,
    lamp,
    lifetime,
    mesh,
    several,
    stencil,
    tension,
    typed,
    units,
)
from tickets.calculator.numerals import NotAQuantity, number
from tickets.calculator.units import CannotBe, magnitude, quantity
from tickets.calculator.verdict import Level, Reason


def q(value: float, unit: str) -> Any:
    return quantity(value, unit)


def ink_need(**other: Any) -> ink.InkNeed:
    given = {"area": q(1, "m2"), "coverage": q(50, "%"), "film": q(20, "cm3/m2"), "density": q(1.2, "g/cm3")}
    return ink.need(**{**given, "pieces": 1, **other})


def probe(*marks: tuple[float, float], **other: Any) -> list[dryer.Mark]:
    return dryer.checked([dryer.Mark(*mark) for mark in marks], **other)


def belt(**given: Any) -> dryer.Belt:
    return dryer.belt(**{"length": q(3, "m"), "speed": q(2, "m/min"), **given})


def run(length: float = 3, speed: float = 2) -> dryer.Window:
    return dryer.window([dryer.Mark(0, 20), dryer.Mark(60, 120)], q(100, "degC"), q(5, "s"), None, q(length, "m"),
                        q(speed, "m/min"), largest_error_c=5)  # fmt: skip


def lives(*uses: tuple[float, bool]) -> list[lifetime.UsesOfMesh]:
    return [lifetime.UsesOfMesh(one, ended) for one, ended in uses]


# what cannot be, and the nearest that can
CANNOT_BE: dict[str, tuple[Callable[[], object], Callable[[], object]]] = {
    "a bare mesh without thickness": (
        lambda: stencil.build(q(60, "um"), q(0, "um")), lambda: stencil.build(q(60, "um"), q(0.1, "um"))),
    "a coat thinner than the mesh": (
        lambda: stencil.build(q(59, "um"), q(60, "um")), lambda: stencil.build(q(60, "um"), q(60, "um"))),
    "a dryer of no length": (lambda: belt(length=q(0, "m")), lambda: belt(length=q(0.01, "m"))),
    "a belt that stands": (lambda: belt(speed=q(0, "m/min")), lambda: belt(speed=q(0.01, "m/min"))),
    "nought pieces inside": (lambda: belt(inside=0), lambda: belt(inside=1)),
    "one of three": (lambda: dryer.belt(length=q(3, "m")), lambda: dryer.belt(length=q(3, "m"), dwell=q(1, "min"))),
    "three of three": (lambda: belt(dwell=q(1, "min")), lambda: belt()),
    "a probe run of one mark": (lambda: probe((0, 20)), lambda: probe((0, 20), (1, 20))),
    "two marks at one time": (lambda: probe((5, 20), (5, 30)), lambda: probe((5, 20), (5.1, 30))),
    "a mark before the chamber": (lambda: probe((-0.1, 20), (1, 30)), lambda: probe((0, 20), (1, 30))),
    "a mark colder than any": (
        lambda: probe((0, -21), (9, 30), lowest_c=-20), lambda: probe((0, -20), (9, 30), lowest_c=-20)),
    "a mark hotter than any": (
        lambda: probe((0, 20), (9, 301), highest_c=300), lambda: probe((0, 20), (9, 300), highest_c=300)),
    "a chamber of no length": (lambda: run(length=0), lambda: run(length=0.01)),
    "a run on a belt that stands": (lambda: run(speed=0), lambda: run(speed=0.01)),
    "a step under the first": (lambda: exposure.step_factor(0.9, 7), lambda: exposure.step_factor(1, 7)),
    "a step over the last": (lambda: exposure.step_factor(7, 21.1), lambda: exposure.step_factor(7, 21)),
    "a film that lets nothing through": (
        lambda: exposure.film_time(q(60, "s"), 0), lambda: exposure.film_time(q(60, "s"), 0.01)),
    "a film that lets more than all through": (
        lambda: exposure.film_time(q(60, "s"), 1.01), lambda: exposure.film_time(q(60, "s"), 1)),
    "a lamp on the glass, then": (
        lambda: exposure.distance_time(q(60, "s"), q(0, "m"), q(1, "m")),
        lambda: exposure.distance_time(q(60, "s"), q(0.01, "m"), q(1, "m"))),
    "a lamp on the glass, now": (
        lambda: exposure.distance_time(q(60, "s"), q(1, "m"), q(0, "m")),
        lambda: exposure.distance_time(q(60, "s"), q(1, "m"), q(0.01, "m"))),
    "a lamp without light": (
        lambda: exposure.dose_time(q(100, "mJ/cm2"), q(0, "mW/cm2")),
        lambda: exposure.dose_time(q(100, "mJ/cm2"), q(0.01, "mW/cm2"))),
    "an exposure of no time": (
        lambda: exposure.step_time(q(0, "s"), 5, 7), lambda: exposure.step_time(q(0.1, "s"), 5, 7)),
    "more than the whole image": (
        lambda: ink_need(coverage=q(100.1, "%")), lambda: ink_need(coverage=q(100, "%"))),
    "no stroke": (lambda: ink_need(strokes=0), lambda: ink_need(strokes=1)),
    "no piece": (lambda: ink_need(pieces=0), lambda: ink_need(pieces=1)),
    "no ink leaves the mesh": (lambda: ink_need(transfer=0), lambda: ink_need(transfer=0.01)),
    "ink without weight": (lambda: ink_need(density=q(0, "g/cm3")), lambda: ink_need(density=q(0.1, "g/cm3"))),
    "a print that weighs nothing": (
        lambda: ink.calibrate([q(2, "g"), q(0, "g")], q(1, "g")),
        lambda: ink.calibrate([q(2, "g"), q(0.1, "g")], q(1, "g"))),
    "no print weighed": (lambda: ink.calibrate([], q(1, "g")), lambda: ink.calibrate([q(2, "g")], q(1, "g"))),
    "a computed print of nothing": (
        lambda: ink.calibrate([q(2, "g")], q(0, "g")), lambda: ink.calibrate([q(2, "g")], q(0.1, "g"))),
    "a mesh of no threads": (lambda: mesh.opening_um(0, 48), lambda: mesh.opening_um(0.1, 48)),
    "a thread of nothing": (lambda: mesh.opening_um(90, 0), lambda: mesh.opening_um(90, 0.1)),
    "threads that leave no opening": (lambda: mesh.opening_um(100, 100), lambda: mesh.opening_um(100, 99.9)),
    "a fabric no thicker than its thread": (
        lambda: mesh.geometry(q(90, "/cm"), q(48, "um"), q(48, "um")),
        lambda: mesh.geometry(q(90, "/cm"), q(48, "um"), q(48.1, "um"))),
    "a fabric thicker than two and a half threads": (
        lambda: mesh.geometry(q(90, "/cm"), q(48, "um"), q(120, "um")),
        lambda: mesh.geometry(q(90, "/cm"), q(48, "um"), q(119.9, "um"))),
    "a halftone of no lines": (
        lambda: mesh.halftone(q(0, "lines/in"), q(90, "/cm"), q(48, "um")),
        lambda: mesh.halftone(q(0.1, "lines/in"), q(90, "/cm"), q(48, "um"))),
    "blacker than black": (lambda: colour.Lab(-0.1, 0, 0), lambda: colour.Lab(0, 0, 0)),
    "whiter than white": (lambda: colour.Lab(100.1, 0, 0), lambda: colour.Lab(100, 0, 0)),
    "an a* of no print": (lambda: colour.Lab(50, 200.1, 0), lambda: colour.Lab(50, 200, 0)),
    "an a* that is no number": (lambda: colour.Lab(50, math.nan, 0), lambda: colour.Lab(50, 0, 0)),
    "a b* that is no number": (lambda: colour.Lab(50, 0, math.nan), lambda: colour.Lab(50, 0, 0)),
    "a speed that is no number": (lambda: units.quantity(math.nan, "m/min"), lambda: units.quantity(0, "m/min")),
    "a b* of no print": (lambda: colour.Lab(50, 0, -200.1), lambda: colour.Lab(50, 0, -200)),
    "no reading of the tension": (lambda: tension.summary([]), lambda: tension.summary([q(20, "N/cm")])),
    "ten readings of the tension": (
        lambda: tension.summary([q(20, "N/cm")] * 10), lambda: tension.summary([q(20, "N/cm")] * 9)),
    "uses below nought": (
        lambda: tension.fit_loss([(-1, q(20, "N/cm"))], q(15, "N/cm")),
        lambda: tension.fit_loss([(0, q(20, "N/cm"))], q(15, "N/cm"))),
    "no mesh to learn from": (lambda: lifetime.survival([]), lambda: lifetime.survival(lives((1, True)))),
    "a life below nought": (
        lambda: lifetime.survival(lives((-1, True))), lambda: lifetime.survival(lives((0, False)))),
    "a life seen first after its end": (
        lambda: lifetime.survival([replace(lives((10, True))[0], entered=11)]),
        lambda: lifetime.survival([replace(lives((10, True))[0], entered=10)])),
    "a life seen first below nought": (
        lambda: lifetime.survival([replace(lives((10, True))[0], entered=-1)]),
        lambda: lifetime.survival([replace(lives((10, True))[0], entered=0)])),
}  # fmt: skip


@pytest.mark.parametrize("name", CANNOT_BE)
def test_what_cannot_be_is_refused_and_the_nearest_that_can_is_taken(name: str) -> None:
    wrong, right = CANNOT_BE[name]
    with pytest.raises(CannotBe):
        wrong()
    right()


# -- tables


def test_a_table_is_full_at_its_last_row_not_before(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(catalogue, "MOST_ROWS", 3)
    assert len(catalogue.table("uses,ended\n1,0\n2,1\n3,1\n", ["uses", "ended"]).rows) == 3
    with pytest.raises(NotAQuantity, match="3"):
        catalogue.table("uses,ended\n1,0\n2,1\n3,1\n4,1\n", ["uses", "ended"])


@pytest.mark.parametrize(
    ("text", "rows", "lines"),
    [
        ("s,f\n0,70\n1.500,350.125\n", [(0, 70), (1.5, 350.125)], [2, 3]),  # an instrument's point is its decimal mark
        ("s\tf\n0\t70\n9\t300\n", [(0, 70), (9, 300)], [2, 3]),
        ("s;f\n0;70\n9,5;300\n", [(0, 70), (9.5, 300)], [2, 3]),
        ("\n\nS, F ,note\n\n0,70,in\n\n9,300,out\n", [(0, 70), (9, 300)], [5, 7]),
    ],
)
def test_a_table_is_read_as_instruments_write_it(text: str, rows: list[Any], lines: list[int]) -> None:
    found = catalogue.table(text, ["s", "f"])
    assert (found.rows, found.lines, found.columns) == (rows, lines, ("s", "f"))


# -- the last that counts


@pytest.mark.parametrize(
    ("readings", "within", "one"),
    [
        (["1.5", "1500"], (0, 1500, "mm"), None),  # both lie within: nobody knows which is meant
        (["1.5", "1500"], (0, 1499, "mm"), "1.5"),
        (["1.5", "1500"], (1.6, 1500, "mm"), "1500"),
        (["1.5", "1500"], (1.5, 1499, "mm"), "1.5"),
        (["1.5", "1500"], (1501, 1600, "mm"), None),
    ],
)
def test_only_what_lies_within_the_bounds_is_meant_and_the_bounds_lie_within(
    readings: list[str], within: units.Within, one: str | None
) -> None:
    assert units.only_within(readings, "mm", within) == one
    assert units.only_within(readings[:1], "mm", within) is None and units.only_within(readings, None, within) is None


@pytest.mark.parametrize(
    ("held", "key"),
    [(None, None), (0, "step-nothing"), (1, "step-low"), (20, "step-high"), (20.9, "step-high"), (21, "step-all")],
)
def test_a_wedge_ends_at_both_ends(held: float | None, key: str | None) -> None:
    """Under the scale and over it nobody can read how far."""
    assert [one.key for one in exposure.judge_step(held, 7, 60, above=2)] == ([key] if key else [])


@pytest.mark.parametrize(
    ("time", "wanted", "key", "way"),
    [
        (60, None, "exposure-time-unknown", None),
        (60, 0, "exposure-time-unknown", None),
        (None, 60, "exposure-not-logged", None),
        (54, 60, "exposure-time-right", None),
        (53.99, 60, "exposure-time-off", "shorter"),
        (66, 60, "exposure-time-right", None),
        (66.01, 60, "exposure-time-off", "longer"),
    ],
)
def test_a_time_is_right_up_to_its_tolerance(
    time: float | None, wanted: float | None, key: str, way: str | None
) -> None:
    (found,) = exposure.judge_time(time, wanted, tolerance=0.1)
    assert (found.key, found.numbers.get("way_word")) == (key, way)


def test_the_smallest_dot_of_a_coarse_halftone_never_covers_more_than_all() -> None:
    """A ruling so fine that the dot is wider than its place: the tone ends at 100 %."""
    fine = mesh.halftone(q(200, "lines/in"), q(43, "/cm"), q(80, "um"))
    assert magnitude(fine.smallest_tone, "%") == 100
    assert magnitude(mesh.halftone(q(30, "lines/in"), q(120, "/cm"), q(34, "um")).smallest_tone, "%") < 5


@pytest.mark.parametrize(("opening", "key"), [
    (99.9, "flake-never-passes"), (100, "flake-never-passes"), (100.1, "flake-clogs"), (299.9, "flake-clogs"),
    (300, "flake-passes"), (None, "flake-opening-unknown")])  # fmt: skip
def test_a_flake_as_wide_as_the_opening_never_passes(opening: float | None, key: str) -> None:
    assert [one.key for one in mesh.judge_flake(opening, 100, factor=3)] == [key]


@pytest.mark.parametrize(("angle", "bad"), [(0, 0), (4.9, 0), (5, None), (22.5, None), (40, None), (40.1, 45),
                                            (45, 45), (86, 90), (90, 90), (None, None)])  # fmt: skip
def test_an_angle_too_near_the_threads_says_which_one_is_bad(angle: float | None, bad: float | None) -> None:
    limits = mesh.HalftoneLimits(4, 3, 45, 5)
    found = mesh.judge_halftone(50, 250, angle, limits)
    assert [one.numbers.get("bad_deg") for one in found if one.key == "moire-angle"] == ([] if bad is None else [bad])
    assert ("halftone-angle-unknown" in [one.key for one in found]) == (angle is None)


@pytest.mark.parametrize(("count", "key"), [
    (149, "halftone-too-fine"), (150, "halftone-fine"), (199, "halftone-fine"), (200, "halftone-suits")])  # fmt: skip
def test_a_halftone_has_its_threads_to_a_line(count: float, key: str) -> None:
    assert [one.key for one in mesh.judge_halftone(50, count, 22.5, mesh.HalftoneLimits(4, 3, 45, 5))] == [key]


@pytest.mark.parametrize(("lab", "said"), [
    ((10, 0, 0), "black"), ((19.9, 0, 0), "black"), ((20, 0, 0), "dark grey"), ((34.9, 0, 0), "dark grey"),
    ((35, 0, 0), "middle grey"), ((69.9, 0, 0), "middle grey"), ((70, 0, 0), "light grey"), ((90, 0, 0), "light grey"),
    ((90.1, 0, 0), "white"), ((50, 7.9, 0), "middle grey"), ((50, 8, 0), "middle magenta"),
    ((50, 50, 30), "middle red"), ((30, 40, 50), "dark orange"), ((80, 0, 60), "light yellow"),
    ((50, -40, 20), "middle green"), ((50, -30, -20), "middle blue-green"), ((40, 10, -50), "middle blue"),
    ((40, 40, -30), "middle violet"), ((50, 50, -5), "middle magenta")])  # fmt: skip
def test_a_colour_in_words(lab: tuple[float, float, float], said: str) -> None:
    assert colour.in_words(colour.Lab(*lab)) == said


@pytest.mark.parametrize(("by", "said"), [(0.04, []), (0.06, ["lighter 0.1"]), (-0.06, ["darker 0.1"])])
def test_less_than_half_a_tenth_is_no_way_to_turn(by: float, said: list[str]) -> None:
    assert [one.said for one in colour.turns(colour.Lab(50 + by, 0, 0), colour.Lab(50, 0, 0))] == said


def test_the_furthest_way_to_turn_is_said_first() -> None:
    found = colour.turns(colour.Lab(50, 3, -9), colour.Lab(51, 0, 0))
    assert [one.said for one in found] == ["bluer 9.0", "redder 3.0", "darker 1.0"]


# -- heat


def limit(value: float) -> cure.CureLimit:
    return cure.CureLimit(value, 1)


def keys(found: list[Reason]) -> list[str]:
    return [one.key for one in found]


@pytest.mark.parametrize(
    ("peak", "key"), [(159.9, "under-cure"), (160, None), (180, None), (180.1, "over-ink-ceiling"), (None, None)]
)
def test_an_ink_is_cured_at_its_temperature_and_spoilt_only_above_its_ceiling(
    peak: float | None, key: str | None
) -> None:
    need = cure.CureNeed("plastisol", cure=limit(160), ceiling=limit(180))
    found = keys(cure.judge([need], [], cure.Heat(peak)))
    assert [one for one in found if one != "cure-span"] == ([key] if key else [])


@pytest.mark.parametrize(("hold", "key"), [(59.9, "under-hold"), (60, None), (None, None)])
def test_an_ink_is_held_as_long_as_it_needs(hold: float | None, key: str | None) -> None:
    need = cure.CureNeed("water-based", cure=limit(160), hold=limit(60))
    assert keys(cure.judge([need], [], cure.Heat(165, hold))) == ([key] if key else [])


@pytest.mark.parametrize(("peak", "key"), [(149.9, "under-activation"), (150, "under-cure"), (160, None)])
def test_a_dye_that_does_not_even_start_to_go_is_said_before_the_cure(peak: float, key: str | None) -> None:
    need = cure.CureNeed("discharge", cure=limit(160), start=limit(150))
    assert keys(cure.judge([need], [], cure.Heat(peak))) == ([key] if key else [])


@pytest.mark.parametrize(("dried", "expected"), [
    (0, "still-drying"), (9.9, "still-drying"), (10, "touch-dry"), (19.9, "touch-dry"), (20, None),
    (21, None)])  # fmt: skip
def test_a_coat_is_touch_dry_then_dry_at_its_minute(dried: float, expected: str | None) -> None:
    found = keys(drying.judge_dry(drying.COAT, dried, ready_min=20, touch_min=10))
    assert found == ([expected] if expected else [])
    if expected:  # without a time to the touch nothing is said of it
        assert keys(drying.judge_dry(drying.COAT, dried, ready_min=20)) == ["still-drying"]


@pytest.mark.parametrize(("air", "said"), [
    (drying.Air(25, 40), ["still-drying", "drying-room"]),
    (drying.Air(25, None), ["still-drying", "drying-room-warmth"]),
    (drying.Air(None, 40), ["still-drying", "drying-room-damp"]), (drying.Air(), ["still-drying"])])  # fmt: skip
def test_only_what_was_read_of_the_room_is_said(air: drying.Air, said: list[str]) -> None:
    assert keys(drying.judge_dry(drying.COAT, 0, ready_min=20, air=air)) == said


def test_a_room_as_damp_as_it_can_be_dries_in_the_longest_time() -> None:
    plain, true_in, longest = q(60, "min"), drying.Air(25, 40), q(8, "h")
    assert magnitude(drying.drying_time(plain, true_in, drying.Air(25, 100), longest), "min") == pytest.approx(480)
    assert magnitude(drying.drying_time(plain, true_in, drying.Air(25, 40), longest), "min") == pytest.approx(60)
    # what takes longer than the longest in the plain room is not said to be dry sooner
    assert magnitude(drying.drying_time(plain, true_in, drying.Air(25, 100), q(30, "min")), "min") == pytest.approx(60)
    # what was not read is as in the room that the time is true in
    assert magnitude(drying.drying_time(plain, true_in, drying.Air(None, 40), longest), "min") == pytest.approx(60)


# -- marks of a probe


@pytest.mark.parametrize(("lines", "said"), [((), "Line 2"), ((4, 7), "Line 7")])
def test_a_mark_at_fault_is_named_by_its_line_or_its_place(lines: tuple[int, ...], said: str) -> None:
    with pytest.raises(CannotBe, match=said):
        probe((5, 20), (5, 30), lines=lines)


@pytest.mark.parametrize(("unit", "hint"), [("degC", True), ("degF", False)])
def test_only_marks_said_to_be_in_degc_may_have_been_in_degf(unit: str, hint: bool) -> None:
    with pytest.raises(CannotBe) as told:
        probe((0, 20), (9, 301), highest_c=300, unit=unit)
    assert ("Are these" in str(told.value)) is hint
    with pytest.raises(CannotBe) as told:
        probe((0, -30), (9, 30), lowest_c=-20)
    assert "Are these" not in str(told.value)


@pytest.mark.parametrize("dwell", [9.995, 10, 10.005])
def test_a_mark_just_behind_the_exit_is_not_inside(dwell: float) -> None:
    inside = dryer.before_exit([dryer.Mark(0, 20), dryer.Mark(10, 100), dryer.Mark(20, 20)], dwell)
    assert inside[-1].s == dwell and len(inside) == (2 if dwell <= 10 else 3)
    warming = dryer.in_the_heat([dryer.Mark(0, 20), dryer.Mark(10, 100), dryer.Mark(20, 20)], dwell)
    assert len(warming) == (1 if dwell < 10 else 2)


@pytest.mark.parametrize(("limit", "seconds"), [(20, 30), (60, 20), (80, 15), (100, 10), (100.1, 0)])
def test_seconds_at_or_above_a_temperature(limit: float, seconds: float) -> None:
    marks = [dryer.Mark(0, 20), dryer.Mark(10, 100), dryer.Mark(20, 100), dryer.Mark(30, 20)]
    assert dryer.time_above(marks, limit) == pytest.approx(seconds)


@pytest.mark.parametrize(("limit", "at"), [(10, 0), (19.9, 0), (20, 0), (60, 5), (100, None), (99, 9.875)])
def test_when_marks_first_pass_a_temperature(limit: float, at: float | None) -> None:
    found = dryer.first_at([dryer.Mark(0, 20), dryer.Mark(10, 100)], limit)
    assert found is None if at is None else found == pytest.approx(at)
    assert dryer.first_at([], limit) is None


@pytest.mark.parametrize(("dwell", "marks"), [
    (5, [(0, 20), (5, 60)]), (10, [(0, 20), (10, 100)]), (15, [(0, 20), (10, 100), (15, 90)]),
    (20, [(0, 20), (10, 100), (20, 80)]), (25, [(0, 20), (10, 100), (20, 80)])])  # fmt: skip
def test_the_marks_before_the_exit_end_where_the_line_crosses_it(
    dwell: float, marks: list[tuple[float, float]]
) -> None:
    run = [dryer.Mark(0, 20), dryer.Mark(10, 100), dryer.Mark(20, 80)]
    assert [(one.s, one.c) for one in dryer.before_exit(run, dwell)] == marks
    hottest = [(0, 20), (10, 100)] if dwell >= 10 else [(0, 20)]
    assert [(one.s, one.c) for one in dryer.in_the_heat(run, dwell)] == hottest


@pytest.mark.parametrize(
    ("to", "seconds"), [(20, 0), (19, 0), (180, None), (181, None), (100, 60 * 0.6931471805599453)]
)
def test_a_warm_up_reaches_what_lies_between_its_start_and_its_air(to: float, seconds: float | None) -> None:
    found = dryer.WarmUp(180, 160, 60, 0).reaches(to)
    assert found is None if seconds is None else found == pytest.approx(seconds)


# -- lives of meshes


def curve(*uses: tuple[float, bool]) -> lifetime.Survival:
    return lifetime.survival(lives(*uses))


def test_the_share_that_lasts_changes_at_the_use_that_ends_one() -> None:
    found = curve((10, True), (20, True), (30, True), (40, False))
    assert [found.share(uses) for uses in (0, 9.9, 10, 19.9, 20)] == pytest.approx([1, 1, 0.75, 0.75, 0.5])
    assert found.median == 20 and found.at(9.9) is None
    assert found.lives == 4 and found.ended == 3 and found.longest == 40


def test_half_is_reached_at_half() -> None:
    assert curve((10, True), (20, True)).median == 10
    assert curve((10, True), (20, False)).median == 10
    assert curve((10, True), (20, False), (20, False)).median is None


@pytest.mark.parametrize(("uses", "further", "chance"), [
    (0, 10, 0.75), (0, 9, 1.0), (10, 10, 2 / 3), (0, 41, None), (30, 10, 1.0), (30, 10.1, None)])  # fmt: skip
def test_the_chance_of_the_next_uses_is_known_as_far_as_one_was_seen(
    uses: float, further: float, chance: float | None
) -> None:
    found = lifetime.chance_of_next(curve((10, True), (20, True), (30, True), (40, False)), uses, further)
    assert found is None if chance is None else found == pytest.approx(chance)


@pytest.mark.parametrize(("ended", "key"), [(4, "life-too-few"), (5, "life-beyond")])
def test_five_ended_meshes_say_something(ended: int, key: str) -> None:
    found = curve(*((10.0 * number, True) for number in range(1, ended + 1)))
    assert keys(lifetime.judge_life(found, 500, further=10, least_chance=0.8)) == [key]
    assert keys(lifetime.judge_life(None, 500, further=10, least_chance=0.8)) == ["life-too-few"]


# -- lamps


@pytest.mark.parametrize(("latest", "error", "weak"), [
    (1.25, 0.1, True), (1.249, 0.1, False), (1.25, 0.5, False), (None, 0.1, False), (1.25, None, False)])  # fmt: skip
def test_a_lamp_is_weak_at_its_limit_and_only_surely(latest: float | None, error: float | None, weak: bool) -> None:
    assert lamp.Drift(latest=latest, error=error).weak(0.25) is weak


@pytest.mark.parametrize(("high", "strong"), [(1.249, True), (1.25, False), (None, False)])
def test_a_lamp_is_strong_while_even_its_highest_is_under_the_limit(high: float | None, strong: bool) -> None:
    assert lamp.Drift(high=high).strong(0.25) is strong


# -- tension


@pytest.mark.parametrize(("own", "others", "furthest"), [
    (60, {"A": 76}, "A"), (60, {"A": 75}, None), (60, {"A": 61, "B": 40, "C": 80.5}, "C"),
    (60, {"A": 61, "B": 39, "C": 80.5}, "B"), (60, {}, None), (None, {"A": 10}, None)])  # fmt: skip
def test_the_screen_that_is_furthest_off_is_named(
    own: float | None, others: dict[str, float], furthest: str | None
) -> None:
    found = tension.judge_neighbours(own, others, limit_pct=15)
    assert [one.numbers["other"] for one in found] == ([furthest] if furthest else [])


@pytest.mark.parametrize(("warp", "weft", "said"), [
    ([20, 23.1], [20], []),  # only places where both were measured are compared
    ([20], [23, 99], []), ([20], [23.1], ["tension-warp-weft"]), ([23.1], [20], ["tension-warp-weft"]),
    ([20], [], [])])  # fmt: skip
def test_warp_and_weft_are_compared_where_both_were_measured(
    warp: list[float], weft: list[float], said: list[str]
) -> None:
    limits = tension.TensionLimits(watch=10, floor=5, ceiling=200, spread_caution=500, warp_weft_pct=15)
    found = keys(tension.judge(warp, weft, limits))
    assert [one for one in found if one == "tension-warp-weft"] == said


@pytest.mark.parametrize("readings", [[], [float("nan")], [float("inf")], [-0.1]])
def test_no_reading_is_no_tension(readings: list[float]) -> None:
    found = tension.judge(readings, None, tension.TensionLimits(watch=20, floor=15))
    assert [(one.key, one.level) for one in found] == [("tension-not-measured", Level.UNKNOWN)]
    nought = tension.judge([0.0], None, tension.TensionLimits(watch=20, floor=15))
    assert nought[0].key == "tension-under-floor"


def test_where_every_reading_is_at_one_use_nothing_is_said_of_the_loss() -> None:
    with pytest.raises(CannotBe):
        tension.fit_loss([(10, q(20, "N/cm"))] * 3, q(15, "N/cm"))


@pytest.mark.parametrize(("readings", "place"), [
    ([[20, 18, 20, 20, 20]], (2, "a corner")), ([[18, 20, 20]], (1, "the centre")),
    ([[20, 20, 20, 20, 20, 18]], (6, "a side")), ([[20]], None), ([], None),
    ([[20, 30], [20, 10]], (1, "the centre"))])  # fmt: skip
def test_the_place_that_is_lowest_on_average(readings: list[list[float]], place: tuple[int, str] | None) -> None:
    assert tension.lowest_place(readings) == place


# -- what is asked

LEFT_OUT = {
    "mesh": "thickness", "halftone": "angle", "stencil": "", "step": "", "filter-film": "best",
    "distance": "diagonal lamp", "dose": "irradiance time dose was_irradiance now_irradiance",
    "tension": "weft count frame work", "tension-loss": "", "belt": "length dwell speed inside", "probe": "bleed",
    "ink": "strokes transfer waste weighed side screens", "colour": "", "lifetime": "",
}  # fmt: skip
"""What nobody need say: a fabric that nobody measured, a garment whose dye does not bleed, one stroke, one screen."""


def test_what_may_be_left_out_of_each_calculation() -> None:
    assert {
        name: " ".join(one.name for one in each.inputs if not one.required)
        for name, each in catalogue.CATALOGUE.items()
    } == LEFT_OUT


@pytest.mark.parametrize("name", LEFT_OUT)
def test_what_is_needed_and_not_given_is_named_with_an_example(name: str) -> None:
    needed = [one for one in catalogue.CATALOGUE[name].inputs if one.required and one.default is None]
    if not needed:
        return
    with pytest.raises(catalogue.Faulty) as faulty:
        catalogue.compute(name, {one.name: "  " for one in needed})
    assert [place for place, _said in faulty.value.faults] == [one.name for one in needed]
    assert all(one.example in said for one, (_place, said) in zip(needed, faulty.value.faults, strict=True))


@pytest.mark.parametrize(("system", "said"), [("us", "230/in"), ("metric", "90/cm")])
def test_an_example_is_in_the_unit_of_the_reader(system: str, said: str) -> None:
    inputs = catalogue.CATALOGUE["mesh"]
    assert inputs.input("count").such_as(system) == said
    assert inputs.input("thread").such_as("us") == inputs.input("thread").example


@pytest.mark.parametrize(("typed", "system", "leaning"), [
    (("in",), "metric", "us"), (("cm",), "us", "metric"), (("in", "cm"), "us", "us"),
    (("in", "cm"), "metric", "metric"), ((), "us", "us"), ((), "metric", "metric"), (("um",), "us", "us")])  # fmt: skip
def test_an_answer_leans_to_the_units_that_were_typed(typed: tuple[str, ...], system: str, leaning: str) -> None:
    inputs = {str(number): catalogue.Value(1.0, unit) for number, unit in enumerate(typed)}
    answer = catalogue.Answer(catalogue.CATALOGUE["mesh"], inputs, {}, None, "")
    assert answer.leaning(system) == leaning


@pytest.mark.parametrize(("value", "unit", "said"), [
    (None, "um", "–"), ([1.0, 2.0], "um", "1\u00a0µm, 2\u00a0µm"), (1.0, "uses", "1 use"), (1200.0, "/h", "1200/h"),
    (True, "", "True"), ("white", "", "white"), (2.0, "uses", "2 uses")])  # fmt: skip
def test_a_value_is_said_as_people_say_it(value: object, unit: str, said: str) -> None:
    assert catalogue.Value(value, unit).text() == said


@pytest.mark.parametrize(("value", "kept"), [
    (1 / 3, 0.3333333333), (float("inf"), None), (float("nan"), None), ([1 / 3], [0.3333333333]),
    ({"a": 2 / 3}, {"a": 0.6666666667}),
    (7, 7), ("x", "x")])  # fmt: skip
def test_a_value_is_kept_to_ten_figures(value: object, kept: object) -> None:
    assert catalogue.Value(value, "").to_dict()["value"] == kept


@pytest.mark.parametrize(("text", "labs"), [
    ("52.1 -3.4 18.0", [(52.1, -3.4, 18.0)]), ("52.1\n-3.4\n18.0", [(52.1, -3.4, 18.0)]),
    ("L 52.1\na -3.4\nb 18.0\nL 50\na 1\nb 2", [(52.1, -3.4, 18.0), (50, 1, 2)]),
    ("52.1 -3.4 18.0\n50 1 2", [(52.1, -3.4, 18.0), (50, 1, 2)]),
    ("L*=52.1 a*=-3.4 b*=18", [(52.1, -3.4, 18)])])  # fmt: skip
def test_readings_of_a_colour_one_to_a_line_or_three_lines_to_one(
    text: str, labs: list[tuple[float, float, float]]
) -> None:
    assert [(one.lightness, one.a, one.b) for one in colour_text.readings(text)] == labs


@pytest.mark.parametrize("text", ["", "52.1", "52.1 -3.4", "52.1\n-3.4", "52.1\n-3.4\n18.0\n50", "a b c"])
def test_a_colour_has_three_numbers(text: str) -> None:
    with pytest.raises(NotAQuantity):
        colour_text.reading(text)


def test_one_reading_is_one() -> None:
    with pytest.raises(NotAQuantity):
        colour_text.reading("52.1 -3.4 18.0\n50 1 2")


# -- how a span and a value are said


@pytest.mark.parametrize(("value", "unit", "said"), [
    (119.9, "min", "119 min"), (120, "min", "2 h"), (90, "min", "90 min"), (71.9, "h", "71 h"), (72, "h", "3 days"),
    (0.5, "h", "30 min"), (0.99, "d", "23 h"), (1, "d", "1 day"), (1.5, "d", "1.5 days"), (2.7, "d", "2 days"),
    (2.55, "h", "2.5 h"), (9.99, "h", "9.9 h"), (10.9, "h", "10 h"), (0, "min", "0 min"), (-3, "h", "-3 h"),
    (0.4, "min", "1 min"), (2.5, "min", "2.5 min"), (4319, "min", "71 h"), (4320, "min", "3 days")])  # fmt: skip
def test_a_span_is_said_as_an_age_is(value: float, unit: str, said: str) -> None:
    assert units.span_text(value, unit).replace("\u00a0", " ") == said


@pytest.mark.parametrize(("value", "beside", "said"), [
    (159.9, [160], "159.9 °C"), (159.99, [160], "159.99 °C"), (159.996, [160], "159.996 °C"), (160, [160], "160 °C"),
    (159.99, [170], "160 °C"), (159.96, [158.5], "160 °C"), (159.99, [True], "160 °C"),
    (159.99999999, [160], "160.0000 °C")])  # fmt: skip
def test_what_differs_is_never_said_as_the_same(value: float, beside: list[object], said: str) -> None:
    assert units.show_apart("peak_c", value, beside).replace("\u00a0", "") == said.replace(" ", "")


@pytest.mark.parametrize(("name", "value", "said"), [
    ("x_c", None, "–"), ("x", True, "yes"), ("x", False, "no"), ("x", 3, "3"), ("x", 2.5, "2.5"), ("x_um", 48, "48 µm"),
    ("x_mm", [1, 2], "1 mm, 2 mm"), ("x_h", 90.0, "3 days"), ("x_min", 30, "30 min"), ("x", {"b", "a"}, "a, b"),
    ("where_word", "the centre", "the centre"), ("x", "free text", "free text")])  # fmt: skip
def test_a_number_of_a_message_is_said_with_its_unit(name: str, value: object, said: str) -> None:
    assert units.show_named(name, value).replace("\u00a0", " ") == said


# -- what a kind of quantity can be


BOUNDED = sorted(name for name, kind in units.KINDS.items() if kind.most != float("inf"))


@pytest.mark.parametrize("kind", BOUNDED)
def test_a_quantity_is_taken_up_to_what_its_kind_can_be(kind: str) -> None:
    known = units.KINDS[kind]
    own = known.units[0].removeprefix("lines")
    most, least = f"{known.most:.0f} {own}!", f"{known.least:.0f} {own}!"
    assert typed.take(most, kind).value == known.most
    with pytest.raises(NotAQuantity):
        typed.take(f"{known.most * 1.001:.3f} {own}!", kind)
    if known.signed:
        assert typed.take(least, kind).value == known.least
        with pytest.raises(NotAQuantity):
            typed.take(f"{known.least - 0.01:.2f} {own}!", kind)
    else:
        with pytest.raises(NotAQuantity):
            typed.take(f"-0.01 {own}!", kind)


@pytest.mark.parametrize(("size", "taken"), [
    ((several.LEAST_MM, several.LEAST_MM), True), ((several.MOST_MM, several.MOST_MM), True),
    ((several.LEAST_MM - 1, 500), False), ((500, several.LEAST_MM - 1), False), ((several.MOST_MM + 1, 500), False),
    ((500, several.MOST_MM + 1), False)])  # fmt: skip
def test_a_frame_is_as_small_and_as_large_as_frames_are(size: tuple[float, float], taken: bool) -> None:
    text = f"{size[0]:.0f} x {size[1]:.0f} mm"
    if taken:
        assert several.size_mm(text)[0] == size
    else:
        with pytest.raises(NotAQuantity):
            several.size_mm(text)


LONG = "q" * 60


@pytest.mark.parametrize(("text", "said"), [
    (f"12 mm to {LONG}", 20), (f"1/{LONG}", None), (f"-5 mm{LONG}", None), (f"12 x 12 {LONG}", 40),
    (f"12 - 15 {LONG}", 40),    (f"12 {LONG}", 20)])  # fmt: skip
def test_a_message_repeats_no_more_of_what_was_typed_than_a_line_holds(text: str, said: int | None) -> None:
    with pytest.raises(NotAQuantity) as told:
        typed.take(text, "length")
    quoted = str(told.value).partition("“")[2].partition("”")[0]
    assert len(quoted) == said if said else len(quoted) <= 40


@pytest.mark.parametrize(("text", "said"), [
    ("1/200 mm", "is a fraction"), ("12 x 15", "a size"), ("12 in by 15", "a size"), ("12-15", "span"),
    ("12 to 15", "span"),
    ("12", "no unit"), ("12 furlongs", "not a unit for this"), ("-3 mm", "below zero")])  # fmt: skip
def test_what_is_no_one_quantity_says_what_it_is(text: str, said: str) -> None:
    with pytest.raises(NotAQuantity, match=said):
        typed.take(text, "length")


@pytest.mark.parametrize(("value", "unit", "said"), [
    (0.5, "d", "12 h"), (0.02, "d", "28.8 min"), (0.5, "h", "30 min"), (1, "d", "1 day"), (2, "d", "2 days"),
    (0, "d", "0 days"), (1.5, "d", "1.5 days"), (1, "h", "1 h"), (0, "h", "0 h"), (-0.5, "d", "-12 h"),
    (1.04, "d", "1.04 days")])  # fmt: skip
def test_a_time_shorter_than_its_unit_is_said_in_the_smaller_one(value: float, unit: str, said: str) -> None:
    assert units.show_value(value, unit).replace("\u00a0", " ") == said


@pytest.mark.parametrize(("text", "said"), [
    ("1.2.3", "more than one mark"), ("1,2,3", "more than one mark"), ("1.2,3", "more than one mark"), ("1,25", None),
    ("1.25", None)])  # fmt: skip
def test_a_number_has_one_mark(text: str, said: str | None) -> None:
    if said is None:
        assert number(text) == 1.25
        return
    with pytest.raises(NotAQuantity, match=said):
        number(text)


@pytest.mark.parametrize(("text", "taken"), [
    ("2 ft 11.9951 in", True), ("2 ft 12 in", False), ("2.5 ft 3 in", False), ("2 in 1 ft", False),
    ("2 ft 0 in", True)])  # fmt: skip
def test_each_part_of_a_length_is_less_than_one_of_the_part_before(text: str, taken: bool) -> None:
    if taken:
        typed.take(text, "length")
        return
    with pytest.raises(NotAQuantity):
        typed.take(text, "length")


@pytest.mark.parametrize(("system", "said"), [("metric", "2 °C"), ("us", "3.6 °F")])
def test_how_far_two_temperatures_are_apart_has_no_nought(system: str, said: str) -> None:
    assert units.show_difference(2, "degC", system).replace("\u00a0", " ").replace(" ", "") == said.replace(" ", "")


# -- what is left of a mesh


def loss(low: float | None, middle: float | None, high: float | None, last: float = 20) -> tension.Loss:
    some = q(1, "N/cm")
    return tension.Loss(some, some, some, middle, low, high, 5, last)


@pytest.mark.parametrize(("found", "uses_now", "key", "said"), [
    (loss(50, 80, 120), None, "tension-loss-range", {"uses": 80, "left": 60, "low": 50, "high": 120}),
    (loss(50, 80, 120), 79.5, "tension-loss-range", {"uses": 80, "left": 0, "low": 50, "high": 120}),
    (loss(50, 80, None), 30, "tension-loss-open", {"uses": 80, "left": 50, "low": 50}),
    (loss(None, 80, 120), 30, "tension-loss-range", {"uses": 80, "left": 50, "low": 0, "high": 120}),
    (loss(50, 80, 120), 80, "tension-loss-reached", {"uses": 80, "left": 0, "low": 50, "high": 120}),
    (loss(5, 10, 15), None, "tension-loss-reached", {"uses": 10, "left": 0, "low": 5, "high": 15}),
    (loss(None, None, None), None, "tension-loss-none-foreseen", {}),
    (loss(50.9, None, None), None, "tension-loss-scattered", {"low": 50})])  # fmt: skip
def test_how_many_uses_are_left_of_a_mesh(
    found: tension.Loss, uses_now: float | None, key: str, said: dict[str, int]
) -> None:
    (reason,) = tension.judge_loss(found, 5, 15.0, settled_uses=3, uses_now=uses_now)
    assert (reason.key, dict(reason.numbers)) == (key, {"floor_n_per_cm": 15.0, **said})


@pytest.mark.parametrize(("last", "settled", "keys_said"), [
    (2, 3, ["tension-mesh-new"]), (3, 3, ["tension-loss-range"]), (4, 3, ["tension-loss-range"])])  # fmt: skip
def test_a_mesh_is_new_until_it_has_settled(last: float, settled: float, keys_said: list[str]) -> None:
    assert keys(tension.judge_loss(loss(50, 80, 120, last), 5, 15.0, settled_uses=settled)) == keys_said
    too_few = tension.judge_loss(None, 2, 15.0, settled_uses=settled)
    assert [(one.key, one.numbers["readings"]) for one in too_few] == [("tension-loss-too-few", 2)]


def test_a_new_mesh_that_is_under_its_floor_already_says_both() -> None:
    found = tension.judge_loss(loss(0, 1, 2, last=2), 5, 15.0, settled_uses=3)
    assert keys(found) == ["tension-mesh-new", "tension-loss-reached"]


def test_an_ink_held_too_short_says_at_what_heat_where_that_is_known() -> None:
    for cured, known in ((limit(160), True), (None, False)):
        need = cure.CureNeed("water-based", cure=cured, hold=limit(60))
        (short,) = [one for one in cure.judge([need], [], cure.Heat(165, 30)) if one.key == "under-hold"]
        assert ("cure_c" in short.numbers) is known and short.numbers["needed_s"] == 60


@pytest.mark.parametrize(("value", "said"), [
    (0.5, "0.5"), (1e-5, "0.00001"), (1.0, "1"), (1.5, "1.5"), (-0.25, "-0.25"), (0.0, "0"), (1234.0, "1234"),
    (12345.0, "12\u202f345"), (1e7, "10\u202f000\u202f000"), (-1e7, "-10\u202f000\u202f000"), (1e-7, "0.0000001"),
    (123456.7, "123\u202f457")])  # fmt: skip
def test_a_typed_number_has_no_exponent_and_thousands_apart(value: float, said: str) -> None:
    assert units.exact_text(value) == said


@dataclass(frozen=True)
class Found:
    value: float
    row: int


@pytest.mark.parametrize(("typed_as", "at", "key"), [
    ("opening", 40.0, "sheet-opening-odd"), ("open_area_pct", 16.0, "sheet-area-odd"),
    ("thickness_um", 60.0, "sheet-thickness-odd"), ("thickness_um", 120.0, "sheet-thickness-odd")])  # fmt: skip
def test_a_makers_sheet_is_odd_beyond_its_limit_not_at_it(typed_as: str, at: float, key: str) -> None:
    """100/cm with a thread of 50 um: pitch 100, opening 50, open area 25 %; 20 % of the opening are 10 um, 9 points of
    the area are 16 %, and 1.2 to 2.4 threads are 60 to 120 um."""
    limits = {"sheet-opening-off": Found(20, 1), "sheet-area-off": Found(9, 2), "sheet-thickness-least": Found(1.2, 3),
              "sheet-thickness-most": Found(2.4, 4)}  # fmt: skip
    over = at * (1.01 if at == 120 else 0.99)
    assert mesh.judge_sheet(100, 50, limits=limits, **{typed_as: at}) == []
    (found,) = mesh.judge_sheet(100, 50, limits=limits, **{typed_as: over})
    assert found.key == key and set(found.spec) <= {1, 2, 3, 4} and found.spec
    assert mesh.judge_sheet(100, 50, limits={}, **{typed_as: over}) == []


def test_an_uneven_screen_says_how_much_where_and_by_which_reading() -> None:
    limits = tension.TensionLimits(watch=1, floor=1, ceiling=99, spread_caution=5)
    (found,) = [one for one in tension.judge([25, 25, 19, 25, 25, 25], None, limits) if one.key == "tension-uneven"]
    assert dict(found.numbers) == {"spread_n_per_cm": 6, "limit_n_per_cm": 5, "low_n_per_cm": 19,
                                   "place_word": "a corner", "reading": 3}  # fmt: skip


@pytest.mark.parametrize(("held", "teaches"), [(0, False), (1, True), (20, True), (21, False)])
def test_a_wedge_teaches_from_its_first_step_to_the_last_but_one(held: float, teaches: bool) -> None:
    of = exposure.Combination("vacuum unit", "Emulsion A")
    found = exposure.learn([exposure.Washout(of, 60.0, held, 1.0)], of, 7)
    assert (found is not None) is teaches
    assert exposure.learn([exposure.Washout(of, 0.0, 7, 1.0)], of, 7) is None, "no time teaches nothing"


@pytest.mark.parametrize(("value", "unit", "said"), [(3.0, "", "3"), (48.0, "um", "48 µm"), (15.0, "deg", "15°")])
def test_a_number_without_a_unit_has_nothing_behind_it(value: float, unit: str, said: str) -> None:
    assert units.show_as_is(value, unit).replace("\u00a0", " ") == said
