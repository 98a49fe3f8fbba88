"""What the log of a run comes to, act by act, and what is kept of its readings: the first and the last of a thing,
and what is not there."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from shop import ink_lots
from test_repeat import STATIONS, TEE, job
from test_repeat import run as as_run
from test_rules_edges import NOW, STRETCHED, log

from tickets.calculator import several
from tickets.calculator.colour import Lab
from tickets.calculator.numerals import Ambiguous
from tickets.calculator.verdict import Level, Verdict, judge, say
from tickets.calculator.verdict import Reason as Said
from tickets.domain import cautions, limits, usual
from tickets.domain.desk import shop_settings
from tickets.domain.entry import stamp
from tickets.domain.jobs import colourways, heads
from tickets.domain.jobs.job import Ink
from tickets.domain.refusal import Refused
from tickets.domain.runs import first_seen, lab, print_colour, run, setup
from tickets.domain.runs.as_run import Changed
from tickets.domain.runs.comparison import ColourOf, ComparedLine, compare
from tickets.domain.screens import readings
from tickets.domain.spec import Spec, shipped
from tickets.domain.stages import LOGGED_BY_DEFAULT

Acts = tuple[str, dict[str, Any]]


def story(*acts: Acts, screen: int | None = None, ways: Any = None) -> run.Story:
    """The run that those acts come to, one a day; acts on a screen say which with `screen`."""
    lines = []
    for line in log(*acts):
        values = dict(line.values)
        lines.append(replace(line, screen=values.pop("screen", screen), values=values))
    return run.replay(lines, ways)


# -- a run's story


def test_what_is_counted_of_a_run() -> None:
    found = story(("count", {"good": 10, "misprinted": 2, "cause": "smear"}), ("count", {"good": 5}),
                  ("count", {"misprinted": 1}), ("count", {"misprinted": 3, "cause": "smear"}))  # fmt: skip
    assert (found.good, found.misprinted, dict(found.causes)) == (15, 6, {"smear": 5, "other": 1})
    assert story(("open", {})).good == story(("open", {})).misprinted == story(("open", {})).impressions == 0


def test_test_prints_are_counted_once_and_not_with_a_screen() -> None:
    assert story(("note", {"test_prints": 3}), ("note", {"test_prints": 2})).tests == 5
    assert story(("print", {"screen": 7, "impressions": 4, "test_prints": 3})).tests == 0


def test_impressions_add_up() -> None:
    found = story(("print", {"screen": 7, "impressions": 4}), ("print", {"screen": 7, "impressions": 5}),
                  ("print", {"screen": 7}))  # fmt: skip
    assert found.impressions == 9


def test_a_screen_hangs_at_one_print_order_and_comes_off_it() -> None:
    hung = ("hang", {"screen": 7, "station": 1, "head": 2})
    assert {at: (one.screen, one.head) for at, one in story(hung).hung.items()} == {1: (7, 2)}
    moved = story(hung, ("hang", {"screen": 7, "station": 3, "head": 4}))
    assert {at: (one.screen, one.head) for at, one in moved.hung.items()} == {3: (7, 4)}
    assert [one.station for one in moved.was_hung] == [1, 3]
    assert story(hung, ("pull", {"screen": 7})).hung == {} and story(hung, ("pull", {"screen": 8})).hung.keys() == {1}
    gone = story(hung, ("found", {"screen": 7}))
    assert gone.hung == {} and [one.screen for one in gone.lost] == [7]
    back = story(hung, ("found", {"screen": 7}), ("hang", {"screen": 8, "station": 1}))
    assert back.lost == () and story(hung, ("pull", {"screen": 7})).lost == ()


def test_a_run_begins_once_and_goes_on_after_a_pause() -> None:
    first, then = story(("start", {})), story(("start", {}), ("pause", {}), ("start", {}))
    assert first.state == then.state == "printing" and story(("start", {}), ("pause", {})).state == "paused"
    assert then.started_at < first.started_at, "it began two days before the last start"
    over = story(("start", {}), ("finish", {}), ("pause", {}))
    assert over.state == "finished" and story(("finish", {}), ("start", {})).state == "finished"


def test_an_approval_keeps_what_proves_the_one_before_it_and_no_more() -> None:
    found = story(
        ("approve", {"how": "piece", "photo": "p1", "approved_by": "Vera Lind"}), ("approve", {"how": "photo"})
    )
    assert found.approved is not None
    assert (found.approved["how"], found.approved["photo"]) == ("photo", "p1")
    assert "approved_by" not in found.approved


def test_a_run_without_ways_and_one_with_them() -> None:
    ways = {"Tee": {1: "white"}, "Hood": {1: "cream"}}
    assert story(("open", {})).ways == {} and story(("open", {}), ways=ways).ways == {
        "Tee": {"1": "white"},
        "Hood": {"1": "cream"},
    }


def test_the_garment_that_was_said_first_was_on_before_it_was_said() -> None:
    first = log(
        ("open", {}), ("sheet", {"stations": {}}), ("approve", {run.GARMENT: "Tee"}), ("sheet", {run.GARMENT: "Hood"})
    )
    assert run.first_garment(first) == "Tee" and run.first_garment(first[:2]) == ""
    assert [run.garment_in(one) for one in first] == ["", "", "Tee", "Hood"]


# -- readings of an approval


def test_readings_of_an_approval_are_read_as_far_as_they_can_be() -> None:
    found = lab.kept({
        "lab": {"1": [50, 1, 2], "x": [1, 2, 3], "3": [1, "x", 3], "4": None}, "lab_conditions": "D50, 2°",
        "lab_under": {"1": "D65, 10°", "x": "D50"},
        "lab_readings": {"1": [[50, 0, 2], [50, 2, 2]], "5": [["x"]]},
    })  # fmt: skip
    assert dict(found.readings) == {1: Lab(50, 1, 2)} and dict(found.under) == {1: "D65, 10°"}
    assert found.several == {1: (Lab(50, 0, 2), Lab(50, 2, 2))}
    assert found.read_under(1) == "D65, 10°" and found.read_under(2) == found.conditions
    spread = found.spread(1)
    assert spread is not None and spread[0] == 2 and spread[1] > 0 and found.spread(2) is None
    none = lab.kept({})
    assert (none.readings, none.conditions, none.under, none.several) == ({}, "", {}, {})


def test_what_nobody_read_again_is_that_of_the_approval_before() -> None:
    first = {"lab": {"1": [50, 1, 2], "2": [60, 0, 0]}, "lab_readings": {"2": [[60, 0, 0], [60, 0, 0]]}}
    second = {**lab.before(first), "lab": {"1": [52, 1, 2]}}
    found = lab.last(second)
    assert dict(found.readings) == {1: Lab(52, 1, 2), 2: Lab(60, 0, 0)} and set(found.several) == {2}
    assert set(found.under) == {1, 2}
    third = lab.last({**lab.before(second), "lab": {"2": [61, 0, 0]}})
    assert dict(third.readings) == {1: Lab(52, 1, 2), 2: Lab(61, 0, 0)} and third.several == {}
    assert lab.before({}) == {} and lab.last({}).readings == {}


@pytest.mark.parametrize(("text", "parts"), [
    ("D50, 2°, M1, bench instrument", ("D50", "2°", "M1", "bench instrument")), ("", ("", "", "", "")),
    ("D 65/10", ("D65", "10°", "", "")),
    ("A", ("A", "", "", "")), ("M3", ("", "", "M3", "")), ("M4", ("", "", "", "M4")),
    ("illuminant F11", ("F11", "", "", "")),
    ("x" * 90, ("", "", "", "x" * 80))])  # fmt: skip
def test_how_a_reading_was_taken_as_it_is_typed(text: str, parts: tuple[str, str, str, str]) -> None:
    found = lab.under_of(text)
    assert (found.light, found.observer, found.mode, found.instrument) == parts


def test_what_one_reading_does_not_say_comes_from_the_other() -> None:
    one, other = lab.Under("D50", "", lab.NO_MODE, ""), lab.Under("D65", "2°", "M1", "bench")
    assert one.over(other) == lab.Under("D50", "2°", lab.NO_MODE, "bench")
    assert one.said == "D50" and other.said == "D65, 2°, M1, bench"
    assert len(one.lacks) == 1 and other.lacks == [] and len(lab.Under().lacks) == 2


# -- the colour of a print


def colour_of(level: Level, key: str, printed: Lab | None = None, approved: Lab | None = None) -> ColourOf:
    numbers = {"difference": 1.5, "warn": 1.0, "fail": 2.0}
    verdict = judge([Said(key, level, numbers, (4,))])
    return ColourOf(1, approved or Lab(50, 0, 0), printed or Lab(51, 0, 0), 1.5, verdict)


@pytest.mark.parametrize(("level", "key", "limit"), [
    (Level.STOP, "print-colour-far", 2.0), (Level.CAUTION, "print-colour-off", 1.0)])  # fmt: skip
def test_a_colour_that_is_off_says_by_how_much_and_which_way_to_turn_it(level: Level, key: str, limit: float) -> None:
    (found,) = print_colour.judged([colour_of(level, "colour-far")], {1: "white"}, 3)
    assert (found.key, found.level, found.spec) == (key, level, (4,))
    assert found.numbers == {
        "station": 1,
        "image": "white",
        "difference": 1.5,
        "limit": limit,
        "run": 3,
        "turn_word": ["darker"],
    }
    words = say(found)
    assert "{" not in words.sentence + words.advice and "darker" in words.advice


@pytest.mark.parametrize(("why", "key"), [
    ("colour-not-measured", "print-colour-unread"), ("colour-first-not-measured", "print-colour-unknown"),
    ("colour-other-light", "print-colour-uncompared")])  # fmt: skip
def test_colours_that_nobody_knows_are_told_together(why: str, key: str) -> None:
    two = replace(colour_of(Level.UNKNOWN, why), station=2)
    (found,) = print_colour.judged([colour_of(Level.UNKNOWN, why), two], {1: "white"}, 3)
    assert (found.key, found.level, found.numbers) == (key, Level.CAUTION, {"images": ["1 white", "2"], "run": 3})


def test_a_colour_as_approved_says_nothing() -> None:
    assert print_colour.judged([colour_of(Level.OK, "colour-close")], {}, 3) == []
    assert isinstance(colour_of(Level.OK, "colour-close").verdict, Verdict)


# -- in few words


def test_an_ink_is_said_by_what_is_known_of_it() -> None:
    assert colourways.ink_said(Ink("plastisol", "white")) == "white · plastisol"
    assert colourways.ink_said(Ink("plastisol", "red", "Series A", "C 44")) == "red · plastisol · Series A · C 44"


def test_no_small_difference_is_no_line() -> None:
    assert first_seen.small_head(0, []) == "" and first_seen.small_line([], []) == ""
    assert first_seen.small_head(1, ["3 %"]).startswith("1 small difference,")
    assert first_seen.small_line(["a", "b"], ["3 %", "3 %"]).endswith("(3 %): a; b.")


def test_a_limit_of_another_program_is_called_by_its_key() -> None:
    assert limits.called("no-such-limit") == "no-such-limit" and limits.called("wanted-step") != "wanted-step"


# -- what a shop settles


@pytest.mark.parametrize(("rows", "taken"), [
    ([("a" * 40, "0", "9")], True), ([("a" * 41, "1", "1")], False), ([("a", "1", "1"), ("a", "2", "1")], False),
    ([("a", "1", "1"), ("b", "2", "1")], True), ([("", "1", "1")], False), ([], False), ([("a", "-1", "1")], False),
    ([("a", "x", "1")], False),
    ([(" a  b ", "1", "1"), ("a b", "1", "1")], False)])  # fmt: skip
def test_presets_have_names_of_their_own_and_strokes_that_can_be(rows: list[tuple[str, str, str]], taken: bool) -> None:
    sent = [dict(zip(shop_settings.PRESET, row, strict=True)) for row in rows]
    if taken:
        found = shop_settings.read("presets", sent)
        assert [one["name"] for one in found] == [row[0] for row in rows]
        return
    with pytest.raises(Refused):
        shop_settings.read("presets", sent)


SETTLED: list[tuple[str, list[Any], list[Any]]] = [
    ("shop", ["a", "b" * 60, "  Grey  Heron "], ["", "  ", "b" * 61, "a\x07b"]),
    ("zone", ["Europe/Warsaw", "UTC"], ["", "Warsaw/Nowhere", "../etc"]),
    ("language", ["en"], ["", "xx"]),
    ("units", ["metric", "us"], ["", "imperial"]),
    (
        "shifts",
        ["0", "6 14 22", "6,14", "0 4 8 12 16 20", "23"],
        ["", "24", "14 6", "6 6", "0 1 2 3 4 5 6", "6 x", "-1"],
    ),
    ("shift_hours", ["1", "24", "7,5", "7:30", "8 h"], ["0.9", "24.1", "", "x"]),
    ("own_minutes", [0, 120], [-1, 121, ""]),
    ("backup_hour", [0, 23, "2"], [-1, 24, "", "x", True, 1.5]),
    ("backup_days", [1, 366], [0, 367]),
    ("backup_months", [0, 240], [-1, 241]),
    ("backup_folder", ["", "/srv/kept"], ["kept", "./kept"]),
    ("backup_second", ["", "/srv/kept"], ["kept"]),
    ("approve_after_ink", ["yes", "no"], ["", "unknown"]),
    ("approve_after_pause", ["yes", "no"], ["", "unknown"]),
    ("approve_after_garment", ["yes", "no"], ["", "unknown"]),
    ("emulsion_water_resistant", ["yes", "no", "unknown"], ["", "maybe"]),
    ("steps", ["coat", ["coat", "image"]], ["coat, knit", ["knit"]]),
]
"""What a shop may settle, by setting: the first and last that would do, and what would not."""


@pytest.mark.parametrize(("name", "right", "wrong"), SETTLED)
def test_what_a_shop_may_settle(name: str, right: list[Any], wrong: list[Any]) -> None:
    for given in right:
        shop_settings.read(name, given)
    for given in wrong:
        with pytest.raises(Refused):
            shop_settings.read(name, given)


def test_what_a_new_shop_settles() -> None:
    """Each is common practice, and one that says nothing wrong of a shop that never looked at it."""
    new = {name: one.default for name, one in shop_settings.BY_HAND.items()}
    assert new["zone"] == "UTC" and new["language"] == "en" and new["units"] == "metric"
    assert new["shifts"] == "6 14 22" and new["shift_hours"] == 10
    assert new["own_minutes"] == 10
    assert (new["backup_hour"], new["backup_days"], new["backup_months"]) == (2, 14, 12)
    assert [(one["print_side"], one["squeegee_side"]) for one in new["presets"]] == [(1, 1), (2, 1), (2, 2)]
    assert [new[f"approve_after_{what}"] for what in ("ink", "pause", "garment")] == ["yes", "no", "no"]
    assert new["emulsion_water_resistant"] == "unknown"
    assert {name for name in shop_settings.BY_HAND if name not in shop_settings.ON_PAGE} == {
        "backup_folder",
        "backup_second",
        *shop_settings.OF_MAIL,
    }
    assert new["mail_server"] == new["mail_to"] == "" and new["mail_secured"] == "starttls", "nothing leaves a new shop"
    assert {"demo", "first_manager"}.isdisjoint(shop_settings.BY_HAND)


def test_a_setting_is_kept_as_it_counts() -> None:
    assert shop_settings.read("shift_hours", "7,5") == 7.5 and shop_settings.read("shift_hours", "8 h") == 8
    assert isinstance(shop_settings.read("shift_hours", "8"), int) and shop_settings.read("shop", " a  b ") == "a b"
    assert shop_settings.read("shifts", "6,14") == "6 14" and shop_settings.read("backup_hour", " 3 ") == 3
    found = shop_settings.read("steps", "image, coat")
    assert found.index("coat") < found.index("image"), "in the order of the work"
    assert shop_settings.ALWAYS_LOGGED <= set(found)
    with pytest.raises(Refused):
        shop_settings.read("no-such-setting", "1")


# -- coats on coats


@pytest.mark.parametrize(("buckets", "bucket", "under"), [
    ([4], 4, ()), ([4, 4], 4, ()), ([4, 5], 5, (4,)), ([4, 5, 4], 4, (5,)), ([4, None], 4, ()), ([None, 5], 5, ()),
    ([4, 5, None], 5, (4,)),
    ([4, 5, 6], 6, (4, 5))])  # fmt: skip
def test_the_emulsions_that_lie_under_the_last_coat(
    buckets: list[int | None], bucket: int | None, under: tuple[int, ...]
) -> None:
    acts = [STRETCHED, *(("coat", {"bucket": one} if one else {}) for one in buckets)]
    life, _lesson = readings.replay(log(*acts), LOGGED_BY_DEFAULT)
    assert life.stencil is not None
    assert (life.stencil.bucket, life.stencil.under, life.stencil.coats) == (bucket, under, len(buckets))


def test_a_coat_says_nothing_of_what_was_measured_of_the_one_before() -> None:
    first = {"bucket": 4, "preset": "1+1", "room_c": 22.0, "room_rh_pct": 40.0, "coated_thickness_um": 90.0}
    life, _lesson = readings.replay(log(STRETCHED, ("coat", first), ("coat", {})), LOGGED_BY_DEFAULT)
    assert life.stencil is not None and life.stencil.preset == "1+1"
    assert life.stencil.room_c is life.stencil.room_rh_pct is life.stencil.coated_thickness_um is None
    assert life.stencil.coated_at == stamp(NOW), "its age is that of the last coat"


# -- what is not usual is asked once

SHIPPED = Spec(shipped())
USUAL_ROWS = {row.key: row for row in shipped() if row.key.startswith("usual-")}


@pytest.mark.parametrize("name", usual.USUAL)
def test_a_setting_is_asked_about_beyond_what_is_usual_not_at_it(name: str) -> None:
    known = usual.USUAL[name]
    for key, beyond in ((known.least, 0.99), (known.most, 1.01)):
        if not key:
            continue
        at = USUAL_ROWS[key].value
        assert at is not None
        usual.ask_of_setting(name, f"{at:g} {known.unit}", at, known.unit, SHIPPED)
        with pytest.raises(Ambiguous) as asked:
            usual.ask_of_setting(name, f"{at * beyond:g} {known.unit}", at * beyond, known.unit, SHIPPED)
        assert asked.value.readings[-1].endswith(usual.SURE)
        usual.ask_of_setting(name, f"{at * beyond:g} {known.unit}{usual.SURE}", at * beyond, known.unit, SHIPPED)
        usual.ask_of_setting(name, "", at * beyond, known.unit, None)
        usual.ask_of_setting(name, "", at * beyond, known.unit, Spec(()))


def test_a_mark_that_slipped_is_offered_first() -> None:
    most = USUAL_ROWS[usual.USUAL["off_contact"].most].value or 0
    with pytest.raises(Ambiguous) as asked:
        usual.ask_of_setting("off_contact", "", 10 * most, "mm", SHIPPED)
    assert asked.value.readings == (f"{most:g} mm", f"{10 * most:g} mm{usual.SURE}")
    with pytest.raises(Ambiguous) as asked:
        usual.ask_of_setting("off_contact", "", 1000 * most, "mm", SHIPPED)
    assert len(asked.value.readings) == 1
    one_sided = Spec([replace(USUAL_ROWS[usual.USUAL["off_contact"].least], id=1)])
    with pytest.raises(Ambiguous, match="or more"):
        usual.ask_of_setting("off_contact", "", 0.001, "mm", one_sided)
    other = Spec([replace(USUAL_ROWS[usual.USUAL["off_contact"].most], id=1)])
    with pytest.raises(Ambiguous, match="at most"):
        usual.ask_of_setting("off_contact", "", 99, "mm", other)


@pytest.mark.parametrize(("more", "asked"), [(0, False), (0.01, True)])
def test_a_recipe_is_asked_about_where_more_is_stirred_in_than_is_usual(more: float, asked: bool) -> None:
    share = USUAL_ROWS["usual-added-most"].value or 0
    parts = {"white base": 100.0, "activator": share + more}
    if asked:
        with pytest.raises(Ambiguous):
            usual.ask_of_recipe("", parts, SHIPPED)
        usual.ask_of_recipe(f"sure{usual.SURE}", parts, SHIPPED)
    for fine in ({"white base": 100.0, "activator": share}, {"activator": 50.0}, {"white": 1.0, "activator": 50.0},
                 {"white base": 100.0, "red pigment": 99.0}):  # fmt: skip
        usual.ask_of_recipe("", fine, SHIPPED)
    usual.ask_of_recipe("", parts, None)
    usual.ask_of_recipe("", parts, Spec(()))


@pytest.mark.parametrize("side", [1, -1])
def test_a_weight_is_asked_about_beyond_so_many_times_of_theory_or_its_middle(side: int) -> None:
    times = USUAL_ROWS["usual-weight-times"].value or 0
    edge = 2.0 * times**side
    usual.ask_of_weights([edge], 2.0, "", SHIPPED)
    with pytest.raises(Ambiguous, match="Theory"):
        usual.ask_of_weights([edge * 1.01**side], 2.0, "", SHIPPED)
    with pytest.raises(Ambiguous, match="middle"):
        usual.ask_of_weights([1.0, 1.0, times * 1.01], times * 0.9, "", SHIPPED)
    usual.ask_of_weights([edge * 1.01**side], 2.0, f"x{usual.SURE}", SHIPPED)
    row = USUAL_ROWS["usual-weight-times"]
    for off in ([], [replace(row, value=1.0)]):
        usual.ask_of_weights([99.0], 2.0, "", Spec(off))


@pytest.mark.parametrize(("share", "asked"), [(1.0, False), (1.01, True)])
def test_a_life_is_asked_about_beyond_so_many_times_of_what_such_a_mix_has(share: float, asked: bool) -> None:
    times, life = USUAL_ROWS["usual-life-times"].value or 0, SHIPPED.value("pot-life", ink="discharge")
    hours = times * life * share
    if asked:
        with pytest.raises(Ambiguous):
            usual.ask_of_life("discharge ink", ["discharge"], hours, "", SHIPPED)
    else:
        usual.ask_of_life("discharge ink", ["discharge"], hours, "", SHIPPED)
    usual.ask_of_life("plastisol ink", [], hours, "", SHIPPED)
    usual.ask_of_life("discharge ink", ["discharge"], hours, f"9 h{usual.SURE}", SHIPPED)
    usual.ask_of_life("discharge ink", ["discharge"], hours, "", Spec(()))


# -- a job's garments


@pytest.mark.parametrize(("second", "wrong"), [
    ({}, True), ({"lot": "L8"}, False), ({"colour": "black"}, False), ({"style": "Hood"}, False),
    ({"style": " heavy  TEE", "colour": "NAVY", "lot": "l7"}, True)])  # fmt: skip
def test_a_garment_is_said_once_unless_something_tells_it_apart(second: dict[str, str], wrong: bool) -> None:
    if wrong:
        with pytest.raises(Refused, match="garment 1 again"):
            job(garment=[TEE, {**TEE, **second}])
    else:
        job(garment=[TEE, {**TEE, **second}])


def test_garments_that_lack_style_and_colour_are_not_said_to_be_one() -> None:
    """What is missing is told; that they are alike is not."""
    with pytest.raises(Refused) as told:
        job(garment=[{"pieces": 5, "style": "Tee"}, {"pieces": 5, "style": "Tee"}])
    assert "again" not in str(told.value)


# -- two runs side by side


def side_by_side(**second: Any) -> dict[str, tuple[str, str]]:
    found = compare(as_run(), as_run(2, **second), SHIPPED)
    return {line.what: (line.a, line.b) for line in found if not line.station}


def test_what_neither_run_has_is_no_line() -> None:
    whole = side_by_side()
    assert whole["garment_lot"] == ("L7", "L7")
    assert "belt_speed" not in whole
    noted = side_by_side(sheet={"stations": STATIONS, "run": {"belt_speed": "2 m/min", "set": ""}})
    assert "belt_speed" in noted and "set" not in noted


# -- what the job sheet says of a station, as the set-up sheet has it


def test_a_station_of_the_job_sheet_fills_the_set_up_sheet_with_what_it_says() -> None:
    said = {"hardness": "70", "edge": "square", "angle": "15 deg", "pressure": "low", "speed": "30 m/min",
            "length": "350 mm"}  # fmt: skip
    order = job(placement__0__station__0__squeegee=said, placement__0__station__0__flood="flood",
                placement__0__station__0__off_contact="3 mm")  # fmt: skip
    found = setup.of_job(order.placements[0])["1"]
    assert found["squeegee"] == "70 · square" and found["length"] == "350 mm"
    assert {"angle", "pressure", "speed", "flood", "off_contact"} <= found.keys() and "angle_mark" not in found
    bare = setup.of_job(job(placement__0__station__0__squeegee={}).placements[0])["1"]
    assert bare["squeegee"] == "" and bare["ink"] == "white · plastisol · White A"
    assert {"angle", "length", "speed", "off_contact", "recipe"}.isdisjoint(bare)


# -- how many pieces took a lot


def test_a_lot_took_the_pieces_that_were_counted_while_it_was_on() -> None:
    acts = [("sheet", {"stations": {"1": {"ink_lot": "L-1"}}}), ("start", {}), ("count", {"good": 10, "misprinted": 1}),
            ("change", {"field": "ink_lot", "station": 1, "from": "L-1", "to": "L-2"}), ("count", {"good": 5}),
            ("count", {"good": 7, "misprinted": 2})]  # fmt: skip
    found = {one.lot: (one.good, one.misprinted, one.unsure, one.more) for one in ink_lots(log(*acts))}
    assert found == {"L-1": (10, 1, 0, 5), "L-2": (12, 2, 5, 0)}, "of the five nobody knows which lot they took"


# -- few words, one by one


@pytest.mark.parametrize(("when", "said"), [
    ({"count_over_per_in": 170, "count_to_per_in": 240}, "over 170/in up to 240/in"),
    ({"count_over_per_in": 170}, "over 170/in"), ({"count_to_per_in": 240}, "up to 240/in"), ({}, "")])  # fmt: skip
def test_a_span_of_counts_is_said_by_the_ends_that_it_has(when: dict[str, Any], said: str) -> None:
    found = limits.case_said(when).replace("\u00a0", " ").replace(" /", "/")
    assert (said in found) if said else found == ""
    assert ("up to" in found) is ("count_to_per_in" in when) and ("over" in found) is ("count_over_per_in" in when)


@pytest.mark.parametrize(("was", "why", "late"), [("", "", True), ("70", "", False), ("", "too thin", False)])
def test_what_an_approval_left_open_and_was_noted_later_is_no_change(was: str, why: str, late: bool) -> None:
    one = Changed(1, "", "angle", was, "75", why)
    assert one.late is late and not Changed(1, "words alone").late
    assert one.said().endswith(f"({why})") is bool(why) and "(" not in one.said(False)


def test_cautions_are_parted_by_what_was_read_in_this_shift() -> None:
    found = cautions.told(["a", "b", "a", "c"], {"b", "z"})
    assert found == cautions.Told(("a", "c"), ("b",))


def test_a_line_counts_as_a_setting_that_differs() -> None:
    line = ComparedLine(1, "white", "angle", "70", "75", True)
    assert line.counts and not replace(line, differs=False).counts and not replace(line, differs=None).counts
    assert not replace(line, what="approved").counts
    verdict = judge([Said("colour-close", Level.OK)])
    assert replace(line, verdict=verdict).judged and not line.judged
    assert not replace(line, verdict=verdict, differs=False, b="70").judged
    assert replace(line, verdict=verdict, differs=False).judged, "within the limits, and not the very same"


@pytest.mark.parametrize(("text", "parts"), [
    ("940 base, 60 activator", {"base": "940", "activator": "60"}), ("base 0.25 kg;; activator 5 g;", None),
    ("940 base + 60 activator", {"base": "940", "activator": "60"}), ("base; activator", {"base": "", "activator": ""}),
    ("940 base · 60 activator", {"base": "940", "activator": "60"})])  # fmt: skip
def test_the_parts_of_a_recipe(text: str, parts: dict[str, str] | None) -> None:
    found = several.amounts(text)
    assert found == (parts or {"base": "0.25 kg", "activator": "5 g"})


def test_one_flash_serves_two_revolutions_of_different_length() -> None:
    """White, flash in the first; red, flash, blue, yellow in the second: five heads do with one flash for both."""
    mesh = {"mesh": {"count": "156/in"}, "does": "print", "ink": "plastisol"}
    flash = {"does": "flash", "time": "6 s"}
    rows = [{**mesh, "colour": "white"}, flash, {**mesh, "colour": "red", "revolution": 2}, {**flash, "revolution": 2},
            {**mesh, "colour": "blue", "revolution": 2}, {**mesh, "colour": "green", "revolution": 2}]  # fmt: skip
    found = heads.layout(job(placement__0__station=rows).placements[0].stations, {1, 3, 5, 6}, heads.Press(5))
    assert found == {1: 1, 3: 2, 2: 3, 4: 3, 5: 4, 6: 5}


@pytest.mark.parametrize(("inks", "called_for"), [
    ({"plastisol"}, ["heat", "hot", "solvent"]),
    ({"discharge"}, ["discharge", "wash", "heat", "hot", "mix", "solvent"]),
    (set(), ["heat", "hot", "solvent"])])  # fmt: skip
def test_a_set_up_sheet_says_the_cautions_of_its_inks_in_one_line(inks: set[str], called_for: list[str]) -> None:
    """Heat and solvent are at every press; a discharge is mixed, and gives off what it gives off first of all."""
    said = cautions.at_press(inks)
    lines = {key: cautions.CAUTIONS[key].line for key in cautions.CAUTIONS if cautions.CAUTIONS[key].line}
    there = sorted((said.index(line), key) for key, line in lines.items() if line in said)
    assert [key for _at, key in there] == called_for
    assert said.endswith(cautions.RULE)


def test_a_garment_is_compared_with_its_fibre() -> None:
    other = job(garment__0__fibre={"cotton": 50, "polyester": 50})
    found = compare(as_run(), as_run(2, other), SHIPPED)
    (line,) = [one for one in found if one.what == "garment"]
    assert line.differs and "polyester" in line.b and "Heavy tee" in line.b and "navy" in line.b
