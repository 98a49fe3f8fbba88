"""What a reorder says of the run before it, at the edge of each rule: what is the same after all, what is nobody's
knowledge, and which of two things that are both so is said."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from test_repeat import FLASH, RED, SCREENS, STATIONS, TEE, WHITE, differing, job, keys, run

from tickets.calculator.verdict import Level
from tickets.domain import overtaken
from tickets.domain.jobs.job import Station
from tickets.domain.jobs.job_sheet import _station_data
from tickets.domain.refusal import Refused
from tickets.domain.runs import first_seen, job_remarks, lab, repeat
from tickets.domain.runs.as_run import Changed
from tickets.domain.runs.repeat import SpecChange
from tickets.domain.spec import Spec, shipped

PLACE = "placement__0"
NOTED = {"garment_lot": "L9"}
OF_ONE = {"garment_lot.Heavy tee, navy": "L9"}


# -- the lot of a garment


@pytest.mark.parametrize(("before", "noted", "now", "told"), [
    ("L7", {}, "L7", None), ("L7", NOTED, "L7", None), ("L7", NOTED, "L9", ("L7", "L9")),  # the job's own lot counts
    (None, NOTED, "l9", None), (None, NOTED, "L7", ("L9", "L7")), (None, {}, "L7", ("–", "L7")),
    ("L7", {}, None, ("L7", "–")), (None, NOTED, None, ("L9", "–")), (None, {}, None, ("–", "–")),
])  # fmt: skip
def test_which_lot_a_garment_was_of(before: str | None, noted: Any, now: str | None, told: Any) -> None:
    old = run(order=job(garment__0={**TEE, "lot": before or ""}), sheet={"stations": STATIONS, "run": noted})
    found = [one for one in differing(job(garment__0={**TEE, "lot": now or ""}), old)]
    assert [(one.numbers["was"], one.numbers["now"]) for one in found] == ([told] if told else [])
    for one in found:
        unknown = "–" in (told or ())
        assert one.key == ("repeat-garment-lot-unknown" if unknown else "repeat-garment-lot")
        assert one.level is (Level.UNKNOWN if unknown else Level.CAUTION)


@pytest.mark.parametrize(("noted", "said"), [({"garment_lot": "L9"}, "unknown"), (OF_ONE, "known")])
def test_of_several_garments_a_lot_is_that_of_the_one_it_was_noted_for(noted: dict[str, str], said: str) -> None:
    bare, hood = {**TEE, "lot": ""}, {**TEE, "style": "Hood", "lot": "H1"}
    old = run(order=job(garment=[bare, hood]), sheet={"stations": STATIONS, "run": noted})
    assert keys(job(garment=[{**TEE, "lot": "L9"}, hood]), old) == (
        [] if said == "known" else ["repeat-garment-lot-unknown"])  # fmt: skip


# -- size, order, lots of ink, limits


@pytest.mark.parametrize(("was", "now", "told"), [
    ("250 mm", "250.4 mm", []), ("250 mm", "251 mm", ["repeat-height"]), ("250 mm", None, []), (None, "251 mm", []),
])  # fmt: skip
def test_a_height_differs_where_both_are_known_and_the_width_is_the_same(was: Any, now: Any, told: list[str]) -> None:
    assert keys(job(**{f"{PLACE}__height": now}), run(order=job(**{f"{PLACE}__height": was}))) == told
    wider = job(**{f"{PLACE}__height": now, f"{PLACE}__width": "301 mm"})
    assert keys(wider, run(order=job(**{f"{PLACE}__height": was}))) == ["repeat-size"]


@pytest.mark.parametrize(
    ("lots", "key"),
    [
        (("", "B2"), None),
        (("A1", "a1"), None),
        (("A1", "B2"), "repeat-ink-lot"),
        (("A1", ""), "repeat-ink-lot-unknown"),
    ],
)
def test_an_ink_lot_differs_where_it_is_known(lots: tuple[str, str], key: str | None) -> None:
    found = differing(job(), lots={3: lots})
    assert [one.key for one in found] == ([key] if key else [])
    if key:
        assert (found[0].numbers["was"], found[0].numbers["now"]) == (lots[0], lots[1] or "–")
        assert found[0].level is (Level.CAUTION if lots[1] else Level.UNKNOWN)
    other = job(**{f"{PLACE}__station__2__colour": "blue", f"{PLACE}__station__2__separation": "red"})
    assert "repeat-ink-colour" in keys(other, lots={3: lots}) and key not in keys(other, lots={3: lots})


def test_what_a_limit_was_before_it_was_set_is_a_dash() -> None:
    changes = [SpecChange("Floor", "", "15"), SpecChange("Watch", "18", "")]
    assert [(one.numbers["was"], one.numbers["now"]) for one in differing(job(), spec_changes=changes)] == [
        ("–", "15"), ("18", "–")]  # fmt: skip


@pytest.mark.parametrize(("count", "thread", "told"), [
    ("230/in", "48 um", []), ("90.6/cm", "48 um", []), ("231/in", "48 um", []), ("232/in", "48 um", ["repeat-small"]),
    ("230/in", "49 um", ["repeat-small"]), ("230/in", None, [])])  # fmt: skip
def test_a_mesh_by_another_label_is_one_figure_within_half_a_per_cent(count: str, thread: Any, told: list[str]) -> None:
    """90.6/cm is 230.1/in, and 0.5 % of 230 is 1.15 (judgement: what rounding a label makes)."""
    mesh = {"count": count, "thread": thread} if thread else {"count": count}
    assert keys(job(**{f"{PLACE}__station__2__mesh": mesh})) == told


def test_a_mesh_is_held_against_what_was_asked_for_where_no_one_knows_what_hung() -> None:
    hung = replace(SCREENS[3], count_per_cm=None, thread_um=40.0)  # a thread alone is no mesh
    for screens in ({1: SCREENS[1]}, {**SCREENS, 3: hung}):
        assert keys(job(), run(screens=screens)) == []
    (found,) = differing(job(**{f"{PLACE}__station__2__mesh__count": "200/in"}), run(screens={1: SCREENS[1]}))
    assert (found.numbers["was"], found.numbers["now"]) == ("230/in · 48 µm", "200/in · 48 µm")


def test_a_mesh_without_limits_is_the_same_to_the_digit_only() -> None:
    bare = Spec(one for one in shipped() if one.key not in ("mesh-count-tolerance", "mesh-thread-tolerance"))
    assert [one.key for one in differing(job(), limits=bare)] == []
    thicker = job(**{f"{PLACE}__station__2__mesh__thread": "49 um"})
    assert [one.key for one in differing(thicker, limits=bare)] == ["repeat-mesh"]


# -- changed after the approval


@pytest.mark.parametrize(("changes", "target", "told"), [
    ([("strokes", "2", "3")], {}, [1]), ([("strokes", "2", "3")], {"strokes": "3"}, []),
    ([("strokes", "2", "3"), ("strokes", "3", "2")], {"strokes": "2"}, []),
    ([("strokes", "2", "3"), ("strokes", "3", "4")], {"strokes": "3"}, [1, 1]),
    ([("ink_lot", "A", "B")], {}, []), ([("", "", "")], {"strokes": "3"}, [1])])  # fmt: skip
def test_a_change_is_told_until_the_target_says_it(changes: Any, target: dict[str, str], told: list[int]) -> None:
    made = [Changed(1, "by hand", name, was, to, "thin") for name, was, to in changes]
    old = run(changes=tuple(made))
    placement = job().placements[0]
    assert [at for at, _one in repeat.changed_after(old, placement, {"1": target})] == told
    gone = job(**{f"{PLACE}__station": [FLASH, RED]}).placements[0]
    assert [at for at, _one in repeat.changed_after(old, gone, {"1": target})] == []
    moved = job(**{f"{PLACE}__station": [FLASH, RED, WHITE]}).placements[0]
    assert [at for at, _one in repeat.changed_after(old, moved, {"3": target})] == [3 for _at in told]


# -- what the two job sheets say


@pytest.mark.parametrize(("was", "now", "told"), [
    ({}, {"note": "soft hand."}, ("–", "soft hand")), ({"note": "soft hand"}, {}, ("soft hand", "–")),
    ({}, {"strokes": 1}, None), ({"strokes": 2}, {}, ("2", "1")), ({"revolution": 2}, {"revolution": 2}, None),
    ({"revolution": 2}, {}, ("2", "1")), ({}, {"head": 3}, ("–", "3")), ({"flood": "no"}, {"flood": "NO"}, None),
    ({"coverage": "30 %"}, {"coverage": "30.0 %"}, None),
    ({"coverage": "30 %"}, {"coverage": "31 %"}, ("30 %", "31 %")),
    ({"halftone": {"ruling": "45/in"}}, {"halftone": {"ruling": "55/in"}}, ("45/in", "55/in")),
])  # fmt: skip
def test_what_two_job_sheets_say_of_a_position(was: Any, now: Any, told: Any) -> None:
    bare = {"does": "print", "colour": "red", "ink": "plastisol", "mesh": {"count": "230/in", "thread": "48 um"}}
    path = f"{PLACE}__station__2"
    found = differing(job(**{path: {**bare, **now}}), run(order=job(**{path: {**bare, **was}}), sheet={}))
    assert [(one.key, one.numbers["was"], one.numbers["now"]) for one in found] == (
        [("repeat-sheet", *told)] if told else [])  # fmt: skip


@pytest.mark.parametrize(("noted", "aim", "told"), [
    ({}, {}, ["repeat-sheet-whole"]), ({"platen": "wide"}, {}, ["repeat-sheet-whole"]),
    ({}, {"platen": "wide"}, ["repeat-sheet-whole"]), ({"platen": "wide"}, {"platen": "wide"}, []),
    ({"platen": "wide"}, {"platen": "sleeve"}, ["repeat-setting-whole"])])  # fmt: skip
def test_the_sheets_of_a_placement_are_compared_where_no_run_says_how_it_was(noted: Any, aim: Any, told: Any) -> None:
    old = run(order=job(**{f"{PLACE}__platen": "standard"}), sheet={"stations": STATIONS, "run": noted})
    assert keys(job(**{f"{PLACE}__platen": "wide"}), old, target={**STATIONS, "run": aim}) == told


def test_a_station_writes_what_it_says_and_no_more() -> None:
    said = _station_data(Station(1, "print", colour="red", separation="red", ink="plastisol"))
    assert said == {"does": "print", "colour": "red", "ink": "plastisol"}
    assert _station_data(Station(2, "flash", time_s=6.0)) == {"does": "flash", "time": "6 s"}


# -- in one line


@pytest.mark.parametrize(("whats", "small", "said"), [
    ([], 0, ""), ([], 1, "1 small one"), ([], 2, "2 small ones"), (["strokes"], 0, "1 difference: strokes"),
    (["strokes", "mesh", "flood"], 1, "3 differences: mesh, strokes; 1 small one"),
    (["note", "garment_lot.Hood, black"], 0, "2 differences: garment, other")])  # fmt: skip
def test_differences_in_one_line(whats: list[str], small: int, said: str) -> None:
    assert first_seen.one_line(whats, small) == said


@pytest.mark.parametrize(("head", "said"), [
    (first_seen.small_head(1, ["3 %"]), "1 small difference, within what the shop calls the same (3 %)"),
    (first_seen.small_head(2, ["3 %", "3 %"]),
     "2 small differences, each within what the shop calls the same (3 %)"),
    (first_seen.small_line(["a", "b"], ["3 %", "2 s"]),
     "2 small differences, each within what the shop calls the same (3 %, 2 s): a; b.")])  # fmt: skip
def test_small_differences_name_each_limit_once(head: str, said: str) -> None:
    assert head == said


# -- two people at one thing


@pytest.mark.parametrize(("wanted", "told"), [
    ({"title": "Tees"}, []), ({"title": "Tees", "due": 3}, [("due", "", "3")]),
    ({"title": "Hoods", "inks": ["red", {"a": 1, "b": None}]},
     [("title", "Tees", "Hoods"), ("inks", "white", "red, 1 ")])])  # fmt: skip
def test_who_was_overtaken_reads_what_differs_and_nothing_else(wanted: dict[str, Any], told: list[Any]) -> None:
    now = {"title": "Tees", "inks": ["white"], "due": None}
    overtaken.check("", now, wanted)
    overtaken.check(overtaken.mark(now), now, wanted)
    if not told:
        overtaken.check("older", now, wanted, "Vera")
        return
    for who in ("Vera", ""):
        with pytest.raises(overtaken.Overtaken) as clash:
            overtaken.check("older", now, wanted, who)
        assert clash.value.differences == told and clash.value.who == who
        assert str(clash.value).startswith(who or "Somebody else")


# -- colours that were read


FILE = """BEGIN_DATA_FORMAT
SAMPLE_NAME LAB_L LAB_A LAB_B
END_DATA_FORMAT
BEGIN_DATA
"white" 92 0 -2
END_DATA
"""
FAR = {"lab_light": ["D50"], "lab_observer": ["2°"], "lab_mode": ["M0"]}


@pytest.mark.parametrize(("sent", "where", "said"), [
    ({"lab_patches": ["92 0 -2"]}, "lab_patches", "not a measurement file"),
    ({"lab.9": ["92 0 -2"]}, "lab.9", "Nothing is printed there"),
    ({"lab.x": ["92 0 -2"]}, "lab.x", "Nothing is printed"),
    ({"lab.1": ["92 0"]}, "lab.1", ""), ({"lab.1": ["92 0 -2"], "lab_light": ["D50"]}, "lab_observer", "say it too"),
    ({"lab.1": ["92 0 -2"], **FAR, "lab_light": ["D51"]}, "lab_light", "One of"),
    ({"lab.1": ["92 0 -2"], **FAR, "lab_instrument": ["x" * (lab.MOST_LETTERS + 1)]}, "lab_instrument", "At most"),
    ({"lab_patches": [FILE.replace('"white"', '"green"')]}, "lab_patch.1", "Which colour is patch 1 “green”"),
    ({"lab.1": [FILE + "\n" + FILE.replace("white", "red")]}, "lab.1", "")])  # fmt: skip
def test_readings_that_cannot_be_taken_are_told_at_their_field(sent: Any, where: str, said: str) -> None:
    with pytest.raises(Refused) as refused:
        lab.read(sent, {1: "white", 3: "red"})
    assert [one.where for one in refused.value.faults if said in one.message][:1] == [where]


def test_an_instrument_may_have_a_name_as_long_as_is_kept() -> None:
    sent = {"lab.1": ["92 0 -2"], **FAR, "lab_instrument": ["x" * lab.MOST_LETTERS]}
    found = lab.read(sent, {1: "white", 3: "red"})
    assert found["lab"] == {"1": [92, 0, -2]} and "x" * lab.MOST_LETTERS in found["lab_conditions"]
    assert "lab_readings" not in found and set(found["lab_under"]) == {"1"}
    both = lab.read({**sent, "lab.1": ["92 0 -2; 94 0 -2"]}, {1: "white"})
    assert both["lab"] == {"1": [93, 0, -2]} and both["lab_readings"] == {"1": [[92, 0, -2], [94, 0, -2]]}


# -- one image at two positions of a job


@pytest.mark.parametrize(("names", "note", "told"), [
    (("Red", "red"), "", "Red"), (("red", "RED"), "", "red"), (("red", "red"), "wet on wet", None),
    (("red", "blue"), "", None)])  # fmt: skip
def test_an_image_twice_in_one_placement_is_called_as_it_was_first(names: Any, note: str, told: str | None) -> None:
    again = {**RED, "colour": "red", "separation": names[1], **({"note": note} if note else {})}
    order = job(**{f"{PLACE}__station": [WHITE, FLASH, {**RED, "separation": names[0]}, again]})
    found = [one for one in job_remarks.remarks(order) if one.reason.key == "job-one-separation-twice"]
    assert [(one.place, one.reason.numbers["separation"], one.reason.numbers["stations"]) for one in found] == (
        [("placement[1].station[4]", told, "3, 4")] if told else [])  # fmt: skip


@pytest.mark.parametrize(
    ("flake", "key"),
    [("99.9 um", "flake-opening-unknown"), ("100 um", "flake-never-passes"), ("100.1 um", "flake-never-passes")],
)
def test_a_flake_as_wide_as_a_mesh_counts_passes_none_whatever_its_thread(flake: str, key: str) -> None:
    """100 threads to the cm leave less than 100 um open."""
    order = job(**{f"{PLACE}__station__2": {**RED, "mesh": {"count": "100 /cm"}, "flake": flake}})
    assert [one.reason.key for one in job_remarks.remarks(order) if "flake" in one.reason.key] == [key]
