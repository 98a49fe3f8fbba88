"""What comes from outside, at the edge of what is taken: signs in names, files, numbers of a log, settings, clocks."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tickets.calculator import units
from tickets.calculator.verdict import Level, Reason, Said, judge
from tickets.domain import clock, entry, names, outside, person, plain, step_reading
from tickets.domain.clock import ClockDoubt
from tickets.domain.desk import shop_settings
from tickets.domain.entry import stamp
from tickets.domain.posted import Asks, Doubt, form
from tickets.domain.refusal import Clash, NotFound, Refused, together
from tickets.domain.spec import Row, Spec, contradictions
from tickets.domain.steps import BUCKET_STEPS, RUN_STEPS, SCREEN_STEPS, Step

SUN, SKIN, SIGN = "\u2600", "\U0001f3fb", "\ufe0f"
JOINED, APART = "\u200d", "\u200c"


@pytest.mark.parametrize(("text", "at"), [
    # the sign that asks for a picture shows behind a sign only, joiners between two signs only
    (SUN + SIGN, None), (SIGN + SUN, 0), ("a" + SIGN, 1), (SUN + SIGN + JOINED + SUN, None), (SUN + JOINED + SUN, None),
    (SUN + SKIN + JOINED + SUN, None), (SUN + JOINED, 1), (JOINED + SUN, 0), (SUN + JOINED + "a", 1),
    ("a" + JOINED + SUN, 1), (SUN + APART + SUN, 1),
    # behind a virama both show, before anything; between Arabic letters that join only the one that keeps apart
    ("\u0915\u094d" + JOINED + "\u0937", None), ("\u0915\u094d" + APART + "\u0937", None),
    ("\u0915\u094d" + APART, 2), ("\u0645" + APART + "\u0645", None), ("\u0645" + APART + "a", 1),
    ("a" + APART + "\u0645", 1), ("\u062f" + APART + "\u0645", 1), ("\u0645" + JOINED + "\u0645", 1),
    ("a\u3000b", None), ("a\u2800", 1), ("a\ue000", 1)])  # fmt: skip
def test_a_sign_that_nobody_sees_is_told_where_it_is(text: str, at: int | None) -> None:
    """RFC 5892, appendix A, for joiners; Unicode Technical Standard 51 for signs that are pictures."""
    told = names.unseen(text)
    assert bool(told) is (at is not None), told
    if at is not None:
        assert f"U+{ord(text[at]):04X}" in told and ("at the beginning" in told) == (not at)


def test_what_stands_before_an_unseen_sign_is_said_short() -> None:
    assert "behind “34567890abcd”" in names.unseen("1234567890abcd\x07")
    assert "behind “abc”" in names.unseen("abc  \x07") and "at the beginning" in names.unseen("\x07\x07")
    assert names.unseen("a\u200eb", lines=True) == "" and names.unseen("a\u202eb", lines=True)
    assert names.unseen("one\ttwo\r\nthree", lines=True) == "" and names.unseen("a\tb")


@pytest.mark.parametrize(("size", "said"), [(500_000, []), (500_001, ["list"])])
def test_any_text_of_a_form_is_looked_over_and_has_an_end(size: int, said: list[str]) -> None:
    assert [one.where for one in names.faults_of({"list": "x" * size})] == said
    deep = {"a": [{"b": "x\x00"}], "c": "x" * 20, "d": b"\x00", "e": 3, "f": "\u200b"}
    assert [one.where for one in names.faults_of(deep)] == ["a"]


def test_a_note_may_be_as_long_as_it_may_be_and_no_longer() -> None:
    assert names.words("x" * 2000) and names.words("x" * 9, 9) == "x" * 9
    for text, most in (("x" * 2001, 2000), ("x" * 10, 9)):
        with pytest.raises(names.BadName, match=f"At most {most:,} characters: this has {len(text):,}"):
            names.words(text, most)


# -- files, data


def test_a_file_is_read_as_far_as_is_asked_for(tmp_path: Path) -> None:
    file = tmp_path / "frames.csv"
    file.write_bytes(b"x" * 100)
    assert outside.content(file, 100) == b"x" * 100
    with pytest.raises(outside.TooLong, match="frames.csv"):
        outside.content(file, 99)


@pytest.mark.parametrize(("text", "found"), [
    ('{"a": {"b": [1, -7, 0, -0, 2.5]}}', {"a": {"b": [1, -7, 0, 0, 2.5]}}), ("9" * 15, int("9" * 15)),
    ("-" + "9" * 15, -int("9" * 15)), ("--1", None), ("-", None), ('{"a": Infinity}', None),
    ('{"a": "\\ud800"}', None), ("[" * 60 + "]" * 60, 60), ("[" * 61 + "]" * 61, None),
    ('{"a":' * 60 + "{}" + "}" * 60, None), ('{"a":' * 59 + "{}" + "}" * 59, 60)])  # fmt: skip
def test_data_of_somebody_else(text: str, found: Any) -> None:
    if found is None:
        with pytest.raises(ValueError):
            outside.data(text)
    elif found == 60:
        assert outside.data(text) is not None
    else:
        assert outside.data(text) == found


@pytest.mark.parametrize(("value", "whole", "number"), [
    (0, 0, 0), (3, 3, 3), (3.0, 3, 3.0), (2.5, None, 2.5), (-1, None, -1), (10**15 - 1, 10**15 - 1, 10**15 - 1),
    (10**15, None, 10**15), (True, None, None), ("3", None, None), (None, None, None), (float("nan"), None, None),
    (float("inf"), None, None)])  # fmt: skip
def test_a_number_of_a_log_is_taken_as_far_as_it_makes_sense(value: Any, whole: Any, number: Any) -> None:
    assert (entry.whole_of({"a": value}, "a"), entry.number_of({"a": value}, "a")) == (whole, number)
    assert entry.whole_of({}, "a") is None and entry.text_of({"a": value}, "a") == (value if value == "3" else "")
    assert entry.wholes_of({"a": [value, 7, 7, value]}, "a") == tuple(
        dict.fromkeys([*([] if whole is None else [whole]), 7]))  # fmt: skip
    taken = () if number is None else tuple(one for one in (number, 7) if one > 0)
    assert entry.numbers_of({"a": [value, 7]}, "a") == taken
    assert entry.numbers_of({"a": value}, "a") == entry.wholes_of({"a": value}, "a") == ()


def test_what_was_sent_is_read_by_its_first_word_that_says_something() -> None:
    sent = form({"a": ["", " x ", "y"], "b": None, "c": 3, "d": ("1",), "e": "On", "f": "no"})
    assert [sent.one(name) for name in "abcdef"] == ["x", "", "3", "1", "On", "no"]
    assert [sent.yes(name) for name in "abcdef"] == [False, False, False, True, True, False]
    assert Doubt("sure?", "a").answers == {} and Doubt("sure?", "a", answers={"b": "c"}).answers == {"b": "c"}
    assert not Doubt("sure?", "a").again
    asks = Asks("strip", still_needed=["One.", "Two."])
    assert asks.fields == ("still_needed",) and [one.message for one in asks.faults] == ["One. Two."]


# -- who may go past what


@pytest.mark.parametrize(
    ("level", "key", "asked"),
    [
        (Level.OK, "tension-under-watch", False),
        (Level.CAUTION, "no-such-caution", False),
        (Level.STOP, "torn", True),
        (Level.UNKNOWN, "mesh-unknown", True),
        *((Level.CAUTION, key, True) for key in sorted(person.LEAD_HANGS)),
    ],
)
def test_what_somebody_must_go_past_to_hang_a_screen(level: Level, key: str, asked: bool) -> None:
    assert person.to_pass(judge([Reason(key, level)])) == ([key] if asked else [])


def test_a_reason_without_advice_is_said_without_a_blank_behind_it() -> None:
    assert Said(Level.OK, "OK", "It fits.", "").text == "OK: It fits."
    assert Said(Level.OK, "OK", "It fits.", "Go on.").text == "OK: It fits. Go on."


# -- the clock of the computer

NEWEST = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("now", "kind"),
    [
        (NEWEST, None),
        (NEWEST - clock.SLACK, None),
        (NEWEST - clock.SLACK - timedelta(seconds=1), "before"),
        (NEWEST + clock.LONGEST_REST, None),
        (NEWEST + clock.LONGEST_REST + timedelta(seconds=1), "after"),
        (datetime(2025, 1, 1, tzinfo=UTC), "before"),
        (datetime(2024, 12, 31, 23, 59, tzinfo=UTC), "unset"),
    ],
)
def test_a_clock_is_believed_near_the_newest_entry(now: datetime, kind: str | None) -> None:
    found = clock.doubt(now, 7, stamp(NEWEST), {})
    assert (found and found.kind) == kind
    if found:
        assert (found.now, found.since, found.wrong) == (now, NEWEST, False)
        told = clock.doubt(now, 7, stamp(NEWEST), clock.answered({}, "wrong", now, 7))
        assert told is not None and told.wrong
        right = clock.answered({"wrong": 7}, "right", now, 7)
        held = clock.doubt(now, 7, stamp(NEWEST), right)
        assert (held is None) == (kind != "unset"), "what no clock can say is never right"
        assert clock.doubt(now, 8, stamp(NEWEST), right) == found, "something was logged since"


@pytest.mark.parametrize(("kind", "since", "said"), [
    ("unset", None, "was not set since"), ("after", NEWEST, "of 2 March, long before"),
    ("before", NEWEST, "of 2 March: that would be yet to come")])  # fmt: skip
def test_a_doubt_of_the_clock_in_words(kind: str, since: datetime | None, said: str) -> None:
    told = clock.told(ClockDoubt(kind, NEWEST, since), "1 May", "2 March")
    assert said in told and "says 1 May" in told and ("2 March" in told) == (since is not None)


# -- what a shop settles


@pytest.mark.parametrize(("name", "given", "kept"), [
    ("shift_hours", "1", 1), ("shift_hours", "24", 24), ("shift_hours", "7:30", 7.5), ("shift_hours", "0.9", None),
    ("shift_hours", "24.1", None), ("shifts", "6,14 22", "6 14 22"), ("shifts", "0 23", "0 23"),
    ("shifts", "6 24", None), ("shifts", "", None), ("shifts", "14 6", None), ("shifts", "6 6", None),
    ("shifts", "1 2 3 4 5 6", "1 2 3 4 5 6"), ("shifts", "1 2 3 4 5 6 7", None), ("zone", "Nowhere/At all", None),
    ("zone", "Europe/Warsaw", "Europe/Warsaw"), ("language", "xx", None), ("units", " us ", "us"),
    ("backup_folder", "", ""), ("backup_folder", "backups", None), ("backup_folder", "/backups", "/backups"),
    ("pin_digits", 4, 4), ("pin_digits", "8", 8), ("pin_digits", "3", None), ("pin_digits", 9, None),
    ("pin_digits", True, None), ("backup_hour", "0", 0), ("backup_hour", "23", 23), ("backup_hour", "24", None),
    ("backup_days", "0", None), ("backup_days", "366", 366), ("backup_days", "367", None),
    ("backup_months", "240", 240), ("backup_months", "241", None), ("backup_months", "0", 0),
    ("presets", '[{"name": "' + "x" * 41 + '", "print_side": 1, "squeegee_side": 1}]', None),
    ("presets", "3", None), ("presets", '[{"name": "a"}]', None), ("presets", "[]", None), ("presets", "{", None),
    ("steps", "coat, dance", None)])  # fmt: skip
def test_a_setting_is_taken_as_far_as_it_goes(name: str, given: Any, kept: Any) -> None:
    if kept is not None:
        assert shop_settings.read(name, given) == kept and type(shop_settings.read(name, given)) is type(kept)
        return
    with pytest.raises(Refused) as refused:
        shop_settings.read(name, given)
    assert {one.where.partition("[")[0] for one in refused.value.faults} == {name}


def test_a_setting_that_there_is_not_is_told_short_with_those_that_there_are() -> None:
    for ask in (shop_settings.by_hand, lambda name: shop_settings.read(name, "")):
        with pytest.raises(NotFound) as told:
            ask("x" * 50)
        assert f"“{'x' * 40}”" in str(told.value) and ", shop_hours" not in str(told.value)
        assert ", ".join(shop_settings.BY_HAND) in str(told.value)
    assert shop_settings.by_hand("zone") is shop_settings.SETTINGS["zone"]
    with pytest.raises(NotFound):
        shop_settings.by_hand("demo")  # no person sets it
    with pytest.raises(Refused) as refused:
        shop_settings.read("zone", "z" * 61)
    assert f"“{'z' * 60}”" in str(refused.value)


def test_what_two_readings_of_one_form_refuse_is_said_together() -> None:
    def refuses(where: str, kind: type[Refused] = Refused) -> Any:
        def act() -> Any:
            raise kind(f"no {where}", where)

        return act

    assert together(lambda: 1, lambda: 2) == (1, 2)
    for one, other, said in (
        (refuses("a"), refuses("b"), ["a", "b"]), (refuses("a"), lambda: 2, ["a"]), (lambda: 1, refuses("b"), ["b"]),
    ):  # fmt: skip
        with pytest.raises(Refused) as told:
            together(one, other)
        assert [fault.where for fault in told.value.faults] == said and told.value.status == Refused.status
    with pytest.raises(Clash):  # somebody else was first: that is no fault of a field
        together(refuses("a", Clash), refuses("b"))


# -- the forms of the steps

ALL_STEPS = [*SCREEN_STEPS.values(), *RUN_STEPS.values(), *BUCKET_STEPS.values()]
TEXTS = {field.name: (step, field) for step in ALL_STEPS for field in step.fields if field.kind == "text"}
SPANS = {
    field.name: (step, field)
    for step in ALL_STEPS
    for field in step.fields
    if field.kind in ("number", "numbers", "whole") and field.high < 1e9
}


def told(step: Step, **sent: str | list[str]) -> dict[str, str]:
    """What is wrong with the fields of a step, but for those that are needed and were not sent."""
    form = {name.replace("__", "."): [text] if isinstance(text, str) else text for name, text in sent.items()}
    try:
        step_reading.read(step, form)
    except Refused as refused:
        return {one.where: one.message for one in refused.faults if one.where in form}
    return {}


@pytest.mark.parametrize("name", TEXTS)
def test_a_text_is_as_long_as_it_may_be_and_holds_nothing_unseen(name: str) -> None:
    step, field = TEXTS[name]
    if field.choices:
        return
    assert told(step, **{name: "x" * field.longest}) == {}
    assert list(told(step, **{name: "x" * (field.longest + 1)})) == [name]
    assert "cannot be seen" in told(step, **{name: "a\x00b"})[name]
    assert bool(told(step, **{name: "a\nb"})) == (field.longest != names.NOTE and name != "mark")


@pytest.mark.parametrize("name", SPANS)
def test_a_number_of_a_step_is_taken_from_its_least_to_its_most(name: str) -> None:
    step, field = SPANS[name]
    whole = field.kind == "whole"
    off = 1 if whole else max(abs(field.low) / 100, 0.001)
    for value, right in ((field.low, True), (field.high, True), (field.low - off, False), (field.high + off, False)):
        text = f"{value:.0f}" if whole else units.said_plainly(value)
        found = told(step, **{name: text})
        assert (not found) == right or "?" in " ".join(found.values()), (name, text, found)


@pytest.mark.parametrize(("sent", "said"), [
    ({"room": "23 degC, 45 %"}, set()), ({"room": "45 % rh / 23 C"}, set()), ({"room": "73 F"}, set()),
    ({"room": "45"}, {"room"}),
    ({"room": "warm"}, {"room"}), ({"room": "23 C 24 C"}, {"room"}), ({"room": "23 C", "room_c": "23"}, {"room"}),
    ({"room": "45 %", "room_c": "23"}, set()), ({"colour": "red"}, {"colour"}),
    ({"room_c.unit": "degC"}, set())])  # fmt: skip
def test_a_room_is_said_in_one_field_or_two(sent: dict[str, str], said: set[str]) -> None:
    assert set(told(SCREEN_STEPS["coat"], **sent)) == said


@pytest.mark.parametrize(("count", "thread", "said"), [
    ("100/cm", "99.9", ""), ("100/cm", "100", "below 100 um"), ("100/cm", "0.1 mm", "below 0.1 mm"), ("5/cm", "", ""),
    ("4.9/cm", "", "between 5/cm and 250/cm"), ("250/cm", "", ""), ("250.1/cm", "", "between 5/cm"),
    ("12.6/in", "", "between 12.7/in and 635/in"), ("230/in", "unknown", "")])  # fmt: skip
def test_a_mesh_leaves_something_open(count: str, thread: str, said: str) -> None:
    found = told(SCREEN_STEPS["stretch"], mesh_count_as_labelled=count, thread_um=thread)
    assert (said in " ".join(found.values())) if said else found == {}


@pytest.mark.parametrize(("images", "numbers"), [
    (["1 2", "2,3"], [1, 2, 3]), (["later"], []), (["0"], None), (["x"], None), (["1 " + "9" * 10], [1, 9_999_999_999]),
    (["9" * 11], None),
    ([" ".join(map(str, range(1, 41)))], None)])  # fmt: skip
def test_images_are_told_by_their_numbers(images: list[str], numbers: list[int] | None) -> None:
    found = told(SCREEN_STEPS["image"], separations=images)
    assert ("separations" in found) == (numbers is None)
    if numbers is not None:
        kept, _typed = step_reading.read(SCREEN_STEPS["image"], {"separations": images, "means": ["film"]})
        assert kept["separations"] == numbers


def test_a_room_that_cannot_be_read_is_repeated_as_far_as_a_line_goes() -> None:
    found = told(SCREEN_STEPS["coat"], room="w" * 60)
    assert re.findall("“(w+)”", found["room"]) == ["w" * 40]


# -- where two limits meet

A, B = {"count_over_per_in": 170, "count_to_per_in": 240}, {"count_over_per_in": 200, "count_to_per_in": 300}


@pytest.mark.parametrize(("one", "other", "meet"), [
    (A, A, True), (A, B, True), (A, {"count_over_per_in": 240}, False), ({"count_over_per_in": 240}, B, True),
    (A, {}, True),
    ({"count_over_per_in": 240}, {"count_over_per_in": 300}, True), ({}, {}, True),
    ({"count_to_per_in": 170}, A, False),
    ({"work": "colours"}, {"work": "halftone"}, False), ({"work": "colours"}, {"work": "colours"}, True),
    ({"work": "colours", **A}, B, True)])  # fmt: skip
def test_a_floor_above_its_watch_is_found_where_a_case_fits_both(one: Any, other: Any, meet: bool) -> None:
    """Over 170 up to 240 threads and over 200 up to 300 meet over 200 up to 240."""
    for low, high, found in ((30, 20, meet), (20, 20, False), (10, 20, False)):
        both = Spec([Row(1, "tension-floor", low, "N/cm", one), Row(2, "tension-watch", high, "N/cm", other)])
        for row in both.rows:
            told_of = [(each.low.row, each.high.row) for each in contradictions(both, row)]
            assert told_of == ([(1, 2)] if found else [])


@dataclass
class Kept:
    """Something that is kept as plain data."""

    name: str
    seen: int = 0
    at: tuple[int, ...] = ()


def test_what_a_thing_is_by_default_is_not_kept_and_what_it_must_say_is_no_default() -> None:
    assert plain.defaults(Kept) == {"seen": 0, "at": ()}
    assert plain.said(Kept("", 0, ())) == {"name": ""}
    assert plain.said(Kept("a", 1, (2, 3))) == {"name": "a", "seen": 1, "at": (2, 3)}


@pytest.mark.parametrize(("text", "which"), [("24 0.05 25", "Reading 2: "), ("24 25 0", "Reading 3: "), ("0.05", "")])
def test_a_reading_below_all_that_would_do_says_which_of_several_it_is(text: str, which: str) -> None:
    (said,) = told(SCREEN_STEPS["tension"], readings_n_per_cm=text).values()
    assert said.startswith(f"{which}Between 0.5 and 80 N/cm would do")
