"""Where one rule of the shop ends and the next begins: the last day, the first step, the one more than was ordered.
Each case stands on the line, and a hair to either side of it; the limits are the shipped ones."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from shop import ink_lots
from test_boards import ASKED, GOOD, NOW, SPEC, life
from test_repeat import BASE, STATIONS, TEE, differing, job, run

from tickets.calculator import cure
from tickets.calculator.numerals import Ambiguous, NotAQuantity
from tickets.calculator.units import magnitude
from tickets.calculator.verdict import Level
from tickets.domain import entry, setting, spec
from tickets.domain.bucket import usual_emulsion
from tickets.domain.desk import control, nights, pool
from tickets.domain.entry import Entry, stamp
from tickets.domain.jobs import heads, table
from tickets.domain.papers.ticket import job_ticket as ticket_of
from tickets.domain.refusal import Refused
from tickets.domain.runs import curing
from tickets.domain.runs.run_trace import InkLot
from tickets.domain.screens import checks, frame_checks, frames, press_checks, readings
from tickets.domain.screens.frame_checks import Asked
from tickets.domain.screens.frames import Frame
from tickets.domain.screens.press_checks import Seen
from tickets.domain.screens.screen import Life, Mesh, Stencil
from tickets.domain.separation import Separation
from tickets.domain.spec import Row, Spec, shipped
from tickets.domain.stages import LOGGED_BY_DEFAULT, Standing


def keys(found: Any) -> list[str]:
    return [one.key for one in found]


# -- a frame that would serve


@pytest.mark.parametrize(("days", "key"), [(1.99, "serves-coated-hours"), (2.0, "serves-coated-days")])
def test_a_coat_is_two_days_old_from_48_hours_on(days: float, key: str) -> None:
    (served,) = frames.best([Frame(0, "F0", life(Standing.COATED, coated_days=days), GOOD)], ASKED, {}, SPEC, NOW)
    (said,) = [one for one in served.why if one.key.startswith("serves-coat")]
    assert said.key == key and set(said.numbers) == {"age_h" if days < 2 else "age_d"}


@pytest.mark.parametrize(("free", "keys_said"), [
    (life(uses=1), {"serves-mesh-and-thread", "serves-tension-share", "serves-uses"}),
    (life(), {"serves-mesh-and-thread", "serves-tension-share", "serves-unused"}),
    (life(tension=None), {"serves-mesh-and-thread", "serves-not-measured", "serves-unused"}),
    (life(thread=None), {"serves-thread-unknown", "serves-tension-share", "serves-unused"}),
])  # fmt: skip
def test_a_frame_says_what_is_so_and_nothing_else(free: Life, keys_said: set[str]) -> None:
    (served,) = frames.best([Frame(0, "F0", free, GOOD)], ASKED, {}, SPEC, NOW)
    assert set(keys(served.why)) == keys_said


# -- the hard limits


def asked_of(count_per_in: float) -> Asked:
    return Asked(1, 7, ASKED.image, "", count_per_in / 2.54, 48.0, "colours", frozenset())


@pytest.mark.parametrize(("share", "found"), [(-1e-3, []), (0, []), (1e-3, ["mesh-far-off"])])
@pytest.mark.parametrize("side", [1, -1])
def test_a_count_is_far_off_only_beyond_the_hard_limit(share: float, found: list[str], side: int) -> None:
    screen = life(count=230 / 2.54)
    most = SPEC.value("mesh-count-hard", **frame_checks.frame_facts(screen, "colours"))
    off = 1 + side * (most + share) / 100
    assert keys(frame_checks.too_far(screen, asked_of(230 / off), SPEC)) == found


@pytest.mark.parametrize(("more", "found"), [(-0.1, ["tension-under-hard-floor"]), (0, []), (0.1, [])])
def test_a_tension_is_too_low_for_all_only_under_the_hard_floor(more: float, found: list[str]) -> None:
    floor = SPEC.value("tension-hard-floor", **frame_checks.frame_facts(life(), "colours"))
    assert keys(frame_checks.too_far(life(tension=floor + more), asked_of(230), SPEC)) == found
    assert keys(frame_checks.too_far(life(tension=None), asked_of(230), SPEC)) == []


def test_without_the_rows_nothing_is_too_far() -> None:
    rows = [one for one in shipped() if one.key not in ("mesh-count-hard", "tension-hard-floor")]
    assert frame_checks.too_far(life(tension=1), asked_of(60), Spec(rows)) == []


def test_the_row_behind_each_hard_limit_is_named() -> None:
    found = frame_checks.too_far(life(tension=1), asked_of(60), SPEC)
    named = {row.id: row.key for row in SPEC.rows}
    assert [[named[row] for row in one.spec] for one in found] == [["mesh-count-hard"], ["tension-hard-floor"]]
    assert [one.level for one in found] == [Level.STOP, Level.STOP]


# -- the wedge at washout, and the stencil by its step


@pytest.mark.parametrize(("held", "key"), [
    (None, None), (0, "step-nothing"), (0.9, "step-none"), (1, "step-low"), (6.9, "step-low"), (7, "step-held"),
    (21, "step-all"), (21.1, "step-none"), (-1, "step-none")])  # fmt: skip
def test_a_step_that_no_wedge_has_is_said_and_the_first_and_last_are_steps(held: float | None, key: str | None) -> None:
    found = checks.washout({"result": "good", "step_held": held}, 80, SPEC)
    assert found.keys == (("washout-good",) if key is None else found.keys)
    assert key is None or key in found.keys
    assert ("step-none" in found.keys) == (key == "step-none")


@pytest.mark.parametrize(("held", "said"), [
    (-0.1, []), (0, ["stencil-weak"]), (6.9, ["stencil-weak"]), (7, ["step-held"]), (21, ["step-held"]), (21.1, []),
    (None, [])])  # fmt: skip
def test_a_stencil_is_judged_by_steps_that_a_wedge_has(held: float | None, said: list[str]) -> None:
    stencil = Stencil(1, coated_at=stamp(NOW), coats=1, step_held=held)
    assert keys(press_checks.step_held(stencil, GOOD, frozenset({"plastisol"}), SPEC)) == said


@pytest.mark.parametrize(("coated", "key"), [(59.9, "build-not-possible"), (60, "build-thin"), (None, None)])
def test_a_coat_as_thick_as_the_mesh_is_thin_and_a_thinner_one_cannot_be(coated: float | None, key: str | None) -> None:
    screen = life()
    assert screen.mesh is not None
    measured = replace(screen, mesh=replace(screen.mesh, fabric_thickness_um=60.0))
    assert keys(checks.build(measured, coated, "colours", SPEC)) == ([key] if key else [])
    assert checks.build(screen, coated, "colours", SPEC) == []  # nobody measured the bare mesh


# -- an image that is not called for


def test_a_wrong_image_is_named_and_one_that_nobody_can_name_has_its_number() -> None:
    other = Separation("Invented Bakery", "Loaf", "2", 120, "blue")
    screen = life(Standing.READY, coated_days=3)
    assert screen.stencil is not None
    for images, said in (({9: other}, other.name), ({}, "#9")):
        carries = replace(screen, stencil=replace(screen.stencil, separations=(9,), check="good"))
        seen = Seen(1, "7K32XM", carries, GOOD, images)
        found = press_checks.at_press(seen, [ASKED], {}, 5, SPEC, NOW).verdict
        (reason,) = [one for one in found.reasons if one.key == "not-called-for"]
        (named,) = reason.numbers["carries"]
        assert said in named or named == said


# -- more than was ordered


@pytest.mark.parametrize(("good", "more", "answered", "over"), [
    (90, 10, False, 0), (90, 11, False, 1), (100, 0, False, 0), (120, 0, False, 0), (100, 1, False, 1),
    (120, 1, True, 1), (110, 10, True, 1), (0, 100, False, 0)])  # fmt: skip
def test_one_more_than_was_ordered_is_asked_about(good: int, more: int, answered: bool, over: int) -> None:
    bare = Spec(one for one in shipped() if one.key != "pieces-over")
    assert len(press_checks.over_ordered(good, more, 100, answered, bare)) == over


@pytest.mark.parametrize(("more", "over"), [(5, 0), (6, 1)])
def test_the_shops_allowance_is_on_top_of_what_was_ordered(more: int, over: int) -> None:
    rows = [*(one for one in shipped() if one.key != "pieces-over"), Row(900, "pieces-over", 5.0, "%", {}, "judgement")]
    found = press_checks.over_ordered(100, more, 100, False, Spec(rows))
    assert [(one.numbers, one.spec) for one in found] == ([({"good": 106, "ordered": 100}, (900,))] if over else [])


@pytest.mark.parametrize(("heads", "busy", "said"), [
    ([1, 2], {2: 7}, [(2, 7)]), ([None, 3], {2: 7}, []), ([], {2: 7}, []),
    ([1, 2], {1: 5, 2: 7}, [(1, 5), (2, 7)])])  # fmt: skip
def test_a_head_that_another_run_prints_from_is_named(
    heads: list[int | None], busy: dict[int, int], said: list[tuple[int, int]]
) -> None:
    assert [(one.numbers["head"], one.numbers["run"]) for one in press_checks.heads_shared(heads, busy)] == said


# -- a reorder


def test_two_garments_of_one_ink_say_once_that_it_changed() -> None:
    hood = {**TEE, "style": "Hood", "lot": "H1"}
    old = run(order=job(garment=[TEE, hood]))
    found = differing(job(garment=[TEE, hood], placement__0__station__0__series="White B"), old)
    assert [(one.key, one.station) for one in found] == [("repeat-ink-series", 1)]


@pytest.mark.parametrize(("was", "target", "key"), [
    ({"platen": "16 in"}, {"platen": "14 in"}, "repeat-setting-whole"),
    ({"platen": "16 in"}, {"platen": "16 in"}, None),
    ({}, {"platen": "14 in"}, None),  # nobody noted how it was: the job sheets are compared, and they are alike
])  # fmt: skip
def test_a_setting_of_the_whole_placement_is_compared_where_it_was_noted(
    was: dict[str, str], target: dict[str, str], key: str | None
) -> None:
    old = run(sheet={"stations": STATIONS, "run": was})
    assert keys(differing(job(), old, target={**STATIONS, "run": target})) == ([key] if key else [])


@pytest.mark.parametrize(("noted", "target", "said"), [
    ({}, {}, True), ({"platen": "16 in"}, {}, True), ({}, {"platen": "16 in"}, True),
    ({"platen": "16 in"}, {"platen": "16 in"}, False)])  # fmt: skip
def test_job_sheets_are_compared_where_a_run_and_its_target_do_not_both_say_how_it_was(
    noted: dict[str, str], target: dict[str, str], said: bool
) -> None:
    old = run(order=job(placement__0__platen="16 in"), sheet={"stations": STATIONS, "run": noted})
    found = differing(job(placement__0__platen="14 in"), old, target={**STATIONS, "run": target})
    assert ("repeat-sheet-whole" in keys(found)) is said


# -- the heat of a run


def test_a_heat_that_nobody_measured_is_noted_not_measured() -> None:
    order = job()
    place = order.placements[0]
    read = {"garment_peak": "165 degC", "hold": "60 s"}
    both = curing.heat_of(place, read)
    assert (both.peak_c, both.hold_s, both.peak_word, both.hold_word) == (165, 60, cure.MEASURED, cure.MEASURED)
    one = curing.heat_of(place, read, doubted={"hold"})
    assert (one.peak_word, one.hold_word) == (cure.MEASURED, cure.NOTED)
    aimed = curing.heat_of(place, None, (), {"garment_peak": "160 degC"})
    assert (aimed.peak_c, aimed.peak_word, aimed.hold_s, aimed.hold_word) == (160, cure.AIMED, None, cure.PLANNED)


def test_a_target_as_planned_is_the_plan() -> None:
    place = job(placement__0__dryer={"garment_peak": "160 degC", "hold": "60 s"}).placements[0]
    same = curing.heat_of(place, None, (), {"garment_peak": "160 degC", "hold": "60 s"})
    assert (same.peak_word, same.hold_word) == (cure.PLANNED, cure.PLANNED)
    other = curing.heat_of(place, None, (), {"garment_peak": "160.5 degC", "hold": "60 s"})
    assert (other.peak_c, other.peak_word, other.hold_word) == (160.5, cure.AIMED, cure.PLANNED)


# -- job files


def test_a_key_of_a_message_is_cut_at_forty_letters() -> None:
    assert table.shown_key("k" * 41) == "k" * 40
    assert table.shown_key("k" * 40) == "k" * 40
    assert table.shown_key("a\nb") == "a?b" and table.shown_key("") == '""'


@pytest.mark.parametrize(("number", "said"), [
    (1.0, "1"), (1000.0, "1000"), (1.5, "1.5"), (1e-7, "0.0000001"), (1e15, "1" + "0" * 15), (-2.0, "-2")])  # fmt: skip
def test_a_number_of_a_file_has_no_exponent(number: float, said: str) -> None:
    assert table.plain_text(number) == said


@pytest.mark.parametrize(("value", "number"), [
    (True, None), (False, None), (3, 3.0), ("3", 3.0), ("2,5", 2.5), ("x", None), (None, None), (float("nan"), None),
    (float("inf"), None), ([], None), ("1/2", None)])  # fmt: skip
def test_what_is_a_number_of_a_file(value: object, number: float | None) -> None:
    assert table.plain_number(value) == number


@pytest.mark.parametrize(("name", "fits"), [
    ("a", True), ("", False), ("  ", False), ("a" * table.LONGEST_TEXT, True), ("a" * (table.LONGEST_TEXT + 1), False),
    ("a\nb", False), (3, False)])  # fmt: skip
def test_what_is_a_name(name: object, fits: bool) -> None:
    assert table.fit_name(name) is fits


@pytest.mark.parametrize(("key", "low", "high"), [
    ("garment__0__pieces", 1, 1_000_000), ("placement__0__station__0__strokes", 1, 20),
    ("placement__0__station__0__revolution", 1, 9), ("placement__0__station__0__head", 1, 40)])  # fmt: skip
def test_a_whole_number_of_a_job_is_taken_from_its_first_to_its_last(key: str, low: int, high: int) -> None:
    for right in (low, high):
        job(**{key: right})
    for wrong in (low - 1, high + 1, 1.5, True):
        with pytest.raises(Refused):
            job(**{key: wrong})


def test_artwork_of_its_own_is_named_at_its_placement_alone() -> None:
    own = {**BASE["placement"][0], "name": "Back", "art": {"name": "Anchor", "revision": "1"}}
    order = job(placement=[BASE["placement"][0], own])
    ticket = ticket_of(order, "7K32XM", "http://192.168.1.20:8600")
    assert [one.art for one in ticket.placements] == ["", "Anchor 1"]


# -- a screen's log


def log(*acts: tuple[str, dict[str, Any]]) -> list[Entry]:
    """Acts of one day each, the last one now."""
    first = NOW - timedelta(days=len(acts))
    at = [first + timedelta(days=number) for number in range(1, len(acts) + 1)]
    return [
        Entry(entry=f"e{number}", step=step, at=when, saved_at=when, person=1, values=values)
        for number, ((step, values), when) in enumerate(zip(acts, at, strict=True))
    ]


STRETCHED = ("stretch", {"mesh_count_as_labelled": "230/in", "thread_um": 48, "frame": "aluminium"})
READY = [STRETCHED, ("found", {"standing_seen": "ready", "separations_seen": [11]})]


@pytest.mark.parametrize(("seen", "condition", "torn"), [
    ("good", "", False), ("worn", "worn", False), ("pinholes", "pinholes", False), ("torn", "torn", True)])  # fmt: skip
def test_a_screen_taken_off_good_has_nothing_noted_on_it(seen: str, condition: str, torn: bool) -> None:
    acts = [*READY, ("hang", {"run": 2}), ("pull", {"run": 2, "then": "keep", "condition": seen})]
    found, _lesson = readings.replay(log(*acts), LOGGED_BY_DEFAULT)
    assert found.torn is torn
    assert found.stencil is None or found.stencil.condition == condition


def test_a_mesh_that_was_given_up_and_is_found_in_use_has_not_ended() -> None:
    gone = [STRETCHED, ("retire", {"cause": "mesh"})]
    _life, lesson = readings.replay(log(*gone), LOGGED_BY_DEFAULT)
    assert [bool(one.ended_at) for one in lesson.meshes] == [True]
    for seen, ended in (("stripped", False), ("unknown", True), ("to restretch", True)):
        _life, lesson = readings.replay(log(*gone, ("found", {"standing_seen": seen})), LOGGED_BY_DEFAULT)
        assert [bool(one.ended_at) for one in lesson.meshes] == [ended], seen


def test_new_mesh_ends_the_one_before_it_once() -> None:
    acts = [STRETCHED, ("coat", {"bucket": 4}), ("strip", {}), STRETCHED, ("coat", {"bucket": 4})]
    _life, lesson = readings.replay(log(*acts), LOGGED_BY_DEFAULT)
    assert [one.ended_at for one in lesson.meshes] == [stamp(NOW - timedelta(days=1)), ""]
    torn = [STRETCHED, ("fault", {"kind": "slack", "then": "restretch"}), STRETCHED]
    _life, lesson = readings.replay(log(*torn), LOGGED_BY_DEFAULT)
    assert [one.ended_at for one in lesson.meshes] == [stamp(NOW - timedelta(days=1)), ""], "when it was given up"


@pytest.mark.parametrize(("thickness", "low", "high"), [(80, 25.57, 25.57), (None, 22.09, 24.24)])
def test_the_ink_volume_of_a_mesh_is_one_value_where_its_thickness_is_known(
    thickness: float | None, low: float, high: float
) -> None:
    """230/in with 48 um: pitch 110.43, opening 62.43, so 31.96 % open; 80 um of fabric hold 25.57 cm3/m2. A fabric is
    1.44 to 1.58 threads thick."""
    found = Mesh("230/in", 230 / 2.54, 48.0, fabric_thickness_um=thickness).computed()
    assert [magnitude(one, "cm3/m2") for one in found["ink_volume_cm3_m2"]] == pytest.approx([low, high], abs=0.01)
    assert set(found) == {"opening_um", "open_area_pct", "ink_volume_cm3_m2"}
    assert Mesh("230/in", 230 / 2.54, None).computed() == {} == Mesh("", 0.0, 48.0).computed()


# -- what a lot is traced by


@pytest.mark.parametrize(("was", "traced"), [
    ("L-1", {InkLot(1, "", "L-1"), InkLot(1, "", "L-2")}), ("", {InkLot(1, "", "L-2")})])  # fmt: skip
def test_a_change_says_what_lot_was_there_before(was: str, traced: set[InkLot]) -> None:
    """Nobody had noted a lot; the one that the change names was printed with too."""
    acts = [("open", {}), ("approve", {}), ("change", {"field": "ink_lot", "station": 1, "from": was, "to": "L-2"})]
    assert set(ink_lots(log(*acts))) == traced


@pytest.mark.parametrize(("name", "text", "where"), [
    ("angle", "notch 4", True), ("angle", "500 deg", True), ("belt_speed", "abc", False)])  # fmt: skip
def test_what_is_no_quantity_is_told_where_it_goes_instead(name: str, text: str, where: bool) -> None:
    with pytest.raises(NotAQuantity) as told:
        setting.read(name, text)
    assert ("mark on the press" in str(told.value)) is where and not told.value.readings


def test_what_may_be_meant_in_two_ways_is_asked_without_another_place() -> None:
    with pytest.raises(Ambiguous) as told:
        setting.read("angle", "1 1/2", aim="15 deg")
    assert told.value.readings and "mark on the press" not in str(told.value)


# -- limits as rows


def limit(number: int, key: str, value: float | None, unit: str = "", source: str = "judgement", **when: Any) -> Row:
    return Row(number, key, value, unit, when, source)


@pytest.mark.parametrize(("key", "unit", "low", "high"), [
    ("wanted-step", "", 1, 21), ("discharge-cotton", "%", 0, 100), ("tension-watch-share", "%", 0, 100),
    ("mesh-chance-least", "%", 0, 100), ("frames-enough", "%", 0, 100), ("discharge-cotton-least", "%", 0, 100),
    ("moire-angle", "deg", 1, 90), ("x", "min", 0, 1e6), ("x", "h", 0, 1e5), ("x", "d", 0, 36_525), ("x", "%", 0, 1000),
    ("x", "degC", 0, 600), ("x", "s", 0, 1e6), ("x", "N/cm", 0, 1e9)])  # fmt: skip
def test_a_limit_can_be_what_its_sort_can_be_and_no_more(key: str, unit: str, low: float, high: float) -> None:
    assert spec.span_of(key, unit) == (low, high)
    for right in (low, high):
        assert spec.beyond(limit(1, key, right, unit)) is None
    for wrong in (low - 0.1, high * 1.001):
        assert spec.beyond(limit(1, key, wrong, unit)) == (low, high)
        with pytest.raises(Refused):
            spec.check_new(Spec(()), limit(1, key, wrong, unit))
    assert spec.beyond(limit(1, key, None, unit)) is None


def test_a_value_that_no_limit_can_have_judges_nothing_and_is_named() -> None:
    rows = Spec([limit(1, "wanted-step", 22), limit(2, "step-above", 2)])
    assert rows.find("wanted-step") is None and [row.id for row in rows.faulty] == [1]
    assert rows.value("step-above") == 2 and [row.id for row in rows.rows] == [1, 2]


def ship(rows: list[Row], came: set[int], *ships: Row) -> list[tuple[str, float | None]]:
    return [(row.key, row.value) for row in spec.to_ship(rows, came, ships)]


def test_what_a_shop_lacks_of_what_the_program_ships() -> None:
    old = limit(1, "x", 1.0, source="paper of 2001")
    assert ship([], set(), old) == [("x", 1.0)]  # a new limit
    assert ship([old], {1}, old) == []
    assert ship([old], {1}, replace(old, value=2.0)) == [("x", 2.0)]  # the program knows better now
    assert ship([old], {1}, replace(old, source="paper of 2024")) == [("x", 1.0)]
    assert ship([old], {1}, replace(old, unit="s")) == [("x", 1.0)]
    assert ship([old], {1}) == [("x", None)]  # it ships it no more
    assert ship([replace(old, value=None)], {1}) == []  # and said so already
    assert ship([old], set()) == []  # the shop's own stays, whatever is shipped


def test_no_row_comes_that_would_count_in_place_of_the_shops_own() -> None:
    own = limit(1, "x", 1.0)
    assert ship([own], set(), limit(9, "x", 2.0)) == []
    assert ship([own], set(), limit(9, "x", 2.0, work="halftone")) == []  # more particular: it would win
    assert ship([own], set(), limit(9, "y", 2.0)) == [("y", 2.0)]
    particular = limit(1, "x", 1.0, work="halftone")
    assert ship([particular], set(), limit(9, "x", 2.0)) == [("x", 2.0)]  # less particular: the shop's wins
    assert ship([particular], set(), limit(9, "x", 2.0, work="colours")) == [("x", 2.0)]  # they never meet
    assert ship([limit(1, "x", None)], set(), limit(9, "x", 2.0)) == []  # removed by the shop: it stays so
    assert ship([limit(1, "x", None)], {1}, limit(9, "x", 2.0)) == [("x", 2.0)]  # removed by the program


def test_a_row_of_the_program_counts_again_where_the_shop_removes_its_own() -> None:
    first = shipped()[0]
    own = replace(first, id=900, value=(first.value or 0) + 1)
    removed = replace(own, id=901, value=None)
    back = spec.brought_back([first, own], removed, {first.id})
    assert back is not None and back.value == first.value
    assert spec.brought_back([first, own], own, {first.id}) is None  # nothing is removed
    assert spec.brought_back([first], replace(first, value=None), {first.id}) is None  # it is the program's own
    assert spec.brought_back([], removed, set()) is None
    foreign = limit(900, "x", 1.0)
    assert spec.brought_back([foreign], replace(foreign, id=901, value=None), set()) is None  # none is shipped


def test_limits_that_count_no_more_are_told_with_their_last_value() -> None:
    rows = [limit(1, "x", 1.0), limit(2, "x", 2.0), limit(3, "x", None), limit(4, "y", 1.0), limit(5, "z", None)]
    assert [(gone.id, last.id) for gone, last in spec.withdrawn(rows)] == [(3, 2)]
    assert spec.withdrawn([*rows, limit(6, "x", 4.0)]) == []


@pytest.mark.parametrize(("low", "high", "clash"), [(1.0, 1.0, False), (1.001, 1.0, True), (0.5, 1.0, False)])
@pytest.mark.parametrize("pair", spec.ORDERED)
def test_of_two_limits_in_order_the_first_never_lies_above_the_second(
    pair: tuple[str, str], low: float, high: float, clash: bool
) -> None:
    rows = Spec([limit(1, pair[0], low), limit(2, pair[1], high)])
    for row in rows.rows:
        found = spec.contradictions(rows, row)
        assert [(one.low_key, one.low.row, one.high_key, one.high.row) for one in found] == (
            [(pair[0], 1, pair[1], 2)] if clash else []
        )


@pytest.mark.parametrize(("one", "two", "meet"), [
    ({}, {}, True), ({"work": "halftone"}, {"work": "colours"}, False), ({"work": "halftone"}, {"frame": "wood"}, True),
    ({"count_to_per_in": 170}, {"count_over_per_in": 170}, False),
    ({"count_to_per_in": 171}, {"count_over_per_in": 170}, True),
    ({"count_over_per_in": 170}, {"count_over_per_in": 200}, True)])  # fmt: skip
def test_two_rows_meet_where_some_case_fits_both(one: dict[str, Any], two: dict[str, Any], meet: bool) -> None:
    """Two rows of one key and as many conditions, both for one case: that is refused."""
    rows = Spec([limit(1, "x", 1.0, **one)])
    if meet and one != two:
        with pytest.raises(Refused):
            spec.check_new(rows, limit(2, "x", 2.0, **two))
    else:
        spec.check_new(rows, limit(2, "x", 2.0, **two))


# -- what a log holds, read leniently


@pytest.mark.parametrize(("value", "number", "whole"), [
    (0, 0, 0), (3, 3, 3), (3.0, 3.0, 3), (-1, -1, None), (2.5, 2.5, None), (True, None, None), ("3", None, None),
    (float("nan"), None, None), (float("inf"), None, None), (None, None, None)])  # fmt: skip
def test_a_number_of_a_log(value: object, number: float | None, whole: int | None) -> None:
    assert entry.number_of({"x": value}, "x") == number and entry.whole_of({"x": value}, "x") == whole


@pytest.mark.parametrize(("sent", "numbers", "wholes"), [
    ([1, 2.5], (1, 2.5), (1,)), ([0, 1], (1,), (0, 1)), ([1, "x"], (), (1,)), ([2, 1, 2], (2, 1, 2), (2, 1)),
    ((3,), (3,), (3,)),    ("12", (), ()), (None, (), ()), ([], (), ()), ([-1, 1], (1,), (1,))])  # fmt: skip
def test_several_numbers_of_a_log(sent: object, numbers: tuple[float, ...], wholes: tuple[int, ...]) -> None:
    assert entry.numbers_of({"x": sent}, "x") == numbers and entry.wholes_of({"x": sent}, "x") == wholes


def test_a_crossing_and_what_it_crosses_count_no_more() -> None:
    one, two = log(("coat", {}), ("note", {}))
    crossing = replace(two, step="cross-out", values={"entry": one.entry})
    assert one.crosses is None and crossing.crosses == one.entry
    assert entry.standing_lines([two, one]) == [one, two]
    assert entry.standing_lines([one, crossing]) == []


# -- buckets


@pytest.mark.parametrize(("hours", "past"), [(-0.001, False), (0, False), (0.001, True)])
def test_a_bucket_is_good_until_its_time_and_no_longer(hours: float, past: bool) -> None:
    known = replace(GOOD, good_until=stamp(NOW))
    assert known.past(NOW + timedelta(hours=hours)) is past
    assert not replace(GOOD, good_until="").past(NOW)


@pytest.mark.parametrize(("said", "known"), [
    ([("2026-03-01T00:00:00.000000Z", "yes")], "yes"), ([], None), ([("2026-03-01T00:00:00.000000Z", "unknown")], None),
    ([("2026-01-01T00:00:00.000000Z", "no"), ("2026-03-01T00:00:00.000000Z", "yes")], "yes"),
    ([("2026-01-01T00:00:00.000000Z", "no"), ("2026-03-05T00:00:00.000000Z", "yes")], None),  # while it may have waited
    ([("2026-01-01T00:00:00.000000Z", "no"), ("2026-03-20T00:00:00.000000Z", "yes")], "no"),
    ([("2026-03-20T00:00:00.000000Z", "yes")], "yes"),  # older than every answer
    ([("2026-03-20T00:00:00.000000Z", "yes"), ("2026-03-21T00:00:00.000000Z", "no")], None),
    ([("2026-01-01T00:00:00.000000Z", "no"), ("2026-03-02T12:00:00.000000Z", "yes")], "yes"),  # at its very beginning
    ([("2026-01-01T00:00:00.000000Z", "no"), ("2026-03-09T12:00:00.000000Z", "yes")], None)])  # fmt: skip
def test_the_usual_emulsion_of_a_stencil_is_known_where_one_answer_held(
    said: list[tuple[str, str]], known: str | None
) -> None:
    """Seen on 9 March at noon; its coat may have waited for a week before."""
    found = usual_emulsion(said, stamp(NOW), "Emulsion A", 7)
    assert (found.water_resistant if found else None) == known
    assert found is None or (found.usual and found.product == "Emulsion A")


# -- frames needed


@pytest.mark.parametrize(("hour", "shift"), [
    (5, (-1, 2)), (6, (0, 0)), (13, (0, 0)), (14, (0, 1)), (21, (0, 1)), (22, (0, 2)), (23, (0, 2)),
    (0, (-1, 2))])  # fmt: skip
def test_a_shift_begins_at_its_hour_and_the_small_hours_belong_to_the_day_before(
    hour: int, shift: tuple[int, int]
) -> None:
    at = NOW.replace(hour=hour, minute=0)
    assert pool.shift_of(at, (6, 14, 22)) == (at.date() + timedelta(days=shift[0]), shift[1])


def test_shifts_end_where_the_next_begins() -> None:
    assert pool.shift_hours((6, 14, 22)) == [(6, 14), (14, 22), (22, 6)] and pool.shift_hours((7,)) == [(7, 7)]


def busy(*times: tuple[float, float | None]) -> list[pool.Busy]:
    return [pool.Busy("a", since, until) for since, until in times]


@pytest.mark.parametrize(("times", "share", "frames"), [
    ([], 0.95, 0), ([(0, None)], 0.95, 1), ([(0, 100)], 1, 1), ([(0, 5)], 0.95, 0), ([(0, 5.1)], 0.95, 1),
    ([(0, 100), (50, 60)], 1, 2), ([(0, 100), (50, 55)], 0.95, 1), ([(-50, 0)], 1, 0), ([(-50, 10)], 1, 1),
    ([(0, 50), (50, 100)], 1, 1),
    ([(90, None)], 1, 1), ([(100, None)], 1, 0), ([(99, 200)], 1, 1)])  # fmt: skip
def test_so_many_frames_were_enough_for_the_share_of_the_time(
    times: list[tuple[float, float | None]], share: float, frames: int
) -> None:
    """Over 100 hours, counted by hand."""
    assert pool.enough_seen(busy(*times), 100, share) == frames


def test_a_mesh_is_short_by_what_is_needed_and_not_there() -> None:
    always = [pool.Busy("a", -1, None)] * 3
    ended = [pool.Busy("a", hour, hour + 1) for hour in range(pool.LEAST_STAYS)]
    (found,) = pool.by_mesh([*always, *ended], {"a": pool.Stock(there=2)}, 10, 0.95)
    assert found.needed is not None and found.needed >= 3
    assert found.short_by == found.needed - 2 and found.begun == pool.LEAST_STAYS and found.per_day == 1
    (few,) = pool.by_mesh([*always, *ended[1:]], {"a": pool.Stock(there=2)}, 10, 0.95)
    assert few.needed is None and few.short_by == 0
    (none,) = pool.by_mesh([], {"a": pool.Stock(there=2)}, 10, 0.95)
    assert none.busy is None and none.turnaround is None and none.carried == 0
    bare = [pool.Busy("a", 0, None, stencil=False)]
    (degreased,) = pool.by_mesh(bare, {}, 10, 0.95)
    assert degreased.begun == 0 and degreased.carried == 0 and degreased.busy == 1
    both = pool.by_mesh(always * 4, {"b": pool.Stock(there=1)}, 10, 0.95)
    assert {one.mesh for one in both} == {"a", "b"}


def test_the_slow_tenth_is_said_of_enough_stencils_only() -> None:
    few, enough = pool.span([1.0] * (pool.FEW - 1)), pool.span([1.0] * pool.FEW)
    assert few is not None and few.slow_h is None and enough is not None and enough.slow_h == 1
    assert pool.span([]) is None


# -- heads


@pytest.mark.parametrize(("turns", "one", "other", "first"), [
    (heads.CLOCKWISE, 1, 2, True), (heads.CLOCKWISE, 2, 1, False), (heads.CLOCKWISE, 2, 2, False),
    (heads.ANTICLOCKWISE, 1, 2, False), (heads.ANTICLOCKWISE, 2, 1, True),
    (heads.ANTICLOCKWISE, 2, 2, False)])  # fmt: skip
def test_which_head_a_garment_comes_to_first(turns: str, one: int, other: int, first: bool) -> None:
    assert heads.Press(6, turns).before(one, other) is first


def test_the_way_round_a_press() -> None:
    assert heads.Press(4).route == [1, 2, 3, 4] and heads.Press(4, heads.ANTICLOCKWISE).route == [4, 3, 2, 1]
    assert (
        heads.Press(None).route == heads.Press(None, heads.ANTICLOCKWISE).route == list(range(1, heads.MOST_HEADS + 1))
    )


@pytest.mark.parametrize(("head", "others", "rounds", "flashes", "key"), [
    (3, {1: 1}, {1: 1, 2: 1, 3: 1}, {2}, None),  # one head between, for the flash
    (2, {1: 1}, {1: 1, 2: 1, 3: 1}, {2}, "no-head-between"),
    (2, {1: 1}, {1: 1, 2: 1, 3: 1}, set(), None),  # nothing between needs to flash
    (2, {1: 1}, {1: 1, 2: 2, 3: 1}, {2}, None),  # it flashes in another revolution
    (1, {1: 1}, {1: 1, 3: 1}, set(), "print-order-changed"),  # the same head
    (1, {1: 2}, {1: 1, 3: 1}, set(), "print-order-changed"),
    (1, {1: 2}, {1: 2, 3: 1}, set(), None), (1, {1: None}, {1: 1, 3: 1}, set(), None),
    (None, {1: 2}, {1: 1, 3: 1}, set(), None),    (5, {1: 1, 6: 8}, {1: 1, 3: 1, 6: 1}, set(), None)])  # fmt: skip
def test_a_head_keeps_the_print_order_and_room_for_the_flash(
    head: int | None, others: dict[int, int | None], rounds: dict[int, int], flashes: set[int], key: str | None
) -> None:
    found = heads.in_order(3, head, others, rounds, flashes, heads.Press(8))
    assert keys(found) == ([key] if key else [])
    assert heads.in_order(3, head, others, rounds, flashes, heads.Press(8, heads.ANY_ORDER)) == []


# -- backups by night


@pytest.mark.parametrize(("back", "kept"), [(0, True), (2, True), (3, False), (5, True), (40, True), (69, False)])
def test_a_backup_is_kept_for_its_days_and_the_first_of_each_month(back: int, kept: bool) -> None:
    """Three days and three months are kept; today is 9 March: of its month the 4th (5 days back) is the first
    that there is, of January the 28th (40 days back); 30 December is of a month too long ago."""
    today = NOW.date()
    days = [today - timedelta(days=number) for number in (0, 2, 3, 5, 40, 69)]
    found = nights.to_keep(days, today, 3, 3)
    assert (today - timedelta(days=back) in found) is kept
    assert nights.to_keep([date(2020, 1, 1)], today, 3, 3) == {date(2020, 1, 1)}, "the newest stays, however old"
    assert nights.to_keep(days, today, 1, 0) == {today}


# -- control charts


@pytest.mark.parametrize(("offs", "found"), [
    ([0.0] * 9, None), ([control.OUTSIDE], None), ([control.OUTSIDE + 0.01], (0, "outside")),
    ([0, -control.OUTSIDE - 0.01], (1, "outside"))])  # fmt: skip
def test_a_reading_is_outside_beyond_the_line_not_on_it(offs: list[float], found: tuple[int, str] | None) -> None:
    drifted = control.drifted(enumerate(offs))
    assert (drifted and (drifted.place, drifted.how)) == found


@pytest.mark.parametrize("side", [1, -1])
def test_readings_that_add_up_are_told_from_where_they_began(side: int) -> None:
    step = control.SLACK + 1.0
    many = math.ceil(control.SUM) + 1
    calm = [0.0, 0.0]
    found = control.drifted(enumerate([*calm, *[side * step] * many]))
    assert found is not None and (found.place, found.how) == (2, "adds up")
    assert control.drifted(enumerate([*calm, *[side * step] * math.floor(control.SUM)])) is None, (
        "on the line is within"
    )


def test_sums_leave_nothing_below_nought() -> None:
    assert control.summed(1.0, (0.0, 0.0), 0.5) == (0.5, 0.0)
    assert control.summed(-1.0, (0.2, 0.0), 0.5) == (0.0, 0.5)


def test_the_most_often_is_named_first_then_the_larger_group() -> None:
    seen = [("a", True, 1), ("a", False, 3), ("b", True, 2), ("b", False, 6), ("c", True, 1), ("d", False, 9)]
    assert [(one.name, one.number, one.of) for one in control.shares(seen)] == [
        ("c", 1, 1), ("b", 2, 8), ("a", 1, 4), ("d", 0, 9)]  # fmt: skip
    assert [(one.name, one.number, one.of) for one in control.causes([("x", 1), ("", 5), ("y", 2)])] == [
        ("y", 2, 8), ("x", 1, 8)]  # fmt: skip


@pytest.mark.parametrize(("values", "of", "below", "moved"), [
    ([18.04, 17.0], 10, True, None),  # two of ten are a fifth
    ([18.04, 17.0, 16.0], 10, True, (18.0, 2)), ([31.0, 32.0, 33.04], 10, False, (31.0, 2)),
    ([1.0, 1.0, 1.0], 10, True, (1.0, 0)), ([5.02], 4, False, (5.1, 0))])  # fmt: skip
def test_where_a_limit_would_caution_a_fifth(
    values: list[float], of: int, below: bool, moved: tuple[float, int] | None
) -> None:
    found = control.moved(values, of, below)
    assert (found and (found.value, found.number)) == moved


# -- the rows that a verdict rests on

ROWS = {row.id: row.key for row in SPEC.rows}


def rests_on(found: Any, key: str) -> list[str]:
    (reason,) = [one for one in found if one.key == key]
    return [ROWS[row] for row in reason.spec]


def screen(**more: Any) -> Life:
    return life(Standing.COATED, coated_days=more.pop("coated_days", 3), **more)


def exposed(time: float | None, wanted: float | None, units: float | None = None) -> Any:
    values = {"exposure_s": time, "exposure_units": units}
    return checks.expose(screen(), values, wanted, ["colours"], GOOD, SPEC, NOW, wanted_units=80).reasons


THICK = replace(life(), mesh=Mesh("230/in", 230 / 2.54, 48.0, frame="aluminium", fabric_thickness_um=60.0))
BEHIND: list[tuple[str, Any, list[str]]] = [
    ("exposure-time-right", lambda: exposed(60, 60), ["exposure-tolerance"]),
    ("exposure-time-off", lambda: exposed(90, 60), ["exposure-tolerance"]),
    ("exposure-time-off-units", lambda: exposed(None, 60, 40), ["exposure-tolerance"]),
    ("exposure-time-unknown", lambda: exposed(60, None), ["exposure-tolerance"]),
    ("step-low", lambda: checks.washout({"result": "good", "step_held": 5}, 60, SPEC).reasons,
     ["wanted-step", "step-above"]),
    ("room-hot", lambda: checks.room(50, 10, SPEC), ["drying-temperature-highest"]),
    ("room-warm", lambda: checks.room(36, 10, SPEC), ["drying-temperature"]),
    ("room-damp", lambda: checks.room(20, 80, SPEC), ["drying-humidity"]),
    ("build-thick", lambda: checks.build(THICK, 200.0, "colours", SPEC), ["build-least", "build-most"]),
    ("lamp-too-near", lambda: checks.lamp_distance(500, 900, SPEC), ["lamp-distance-diagonals"]),
    ("tension-far-from-neighbours",
     lambda: frame_checks.neighbours(life(tension=20), {"N": life(tension=30)}, SPEC), ["tension-neighbours"]),
    ("mesh-count-differs", lambda: frame_checks.same_mesh(life(), asked_of(305), SPEC),
     ["mesh-count-tolerance", "mesh-thread-tolerance"]),
    ("tension-under-floor", lambda: frame_checks.tension(life(tension=8), "colours", SPEC, NOW), ["tension-floor"]),
    ("tension-under-watch", lambda: frame_checks.tension(life(tension=16), "colours", SPEC, NOW), ["tension-watch"]),
    ("tension-over-ceiling", lambda: frame_checks.tension(life(tension=60), "colours", SPEC, NOW),
     ["tension-over-new", "new-mesh-tension"]),
    ("still-drying", lambda: checks.dry(screen(coated_days=1e-4), SPEC, NOW),
     ["minutes-to-dry", "minutes-to-touch-dry"]),
    ("stencil-weak", lambda: press_checks.step_held(Stencil(1, step_held=6), GOOD, frozenset(), SPEC), ["wanted-step"]),
    ("stencil-weak-for-ink",
     lambda: press_checks.step_held(Stencil(1, step_held=2), GOOD, frozenset({"discharge"}), SPEC),
     ["wanted-step", "step-weak-most"]),
]  # fmt: skip


@pytest.mark.parametrize(("key", "judged", "rows"), BEHIND)
def test_a_verdict_names_the_limits_that_it_rests_on(key: str, judged: Any, rows: list[str]) -> None:
    assert rests_on(judged(), key) == rows


@pytest.mark.parametrize(("step", "key"), [
    ("exposure-tolerance", "exposure-time-right"), ("minutes-to-dry", ""),
    ("wanted-step", "washout-good")])  # fmt: skip
def test_without_its_row_a_check_rests_on_none(step: str, key: str) -> None:
    bare = Spec(row for row in shipped() if row.key != step)
    if step == "exposure-tolerance":
        found = checks.expose(screen(), {"exposure_s": 60}, 60, [], GOOD, bare, NOW).reasons
        assert [one.spec for one in found if one.key == key] == [()]
    elif step == "minutes-to-dry":
        assert checks.dry(screen(coated_days=1e-4), bare, NOW) == []
    else:
        assert checks.washout({"result": "good", "step_held": 5}, 60, bare).keys == (key,)
