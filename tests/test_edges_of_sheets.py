"""A set-up sheet at the edge of each of its rules: who said what when, what is as another head, what differs from its
target, and what of a form is refused."""

from __future__ import annotations

from typing import Any

import pytest
from test_repeat import FLASH, RED, WHITE, job

from tickets.domain.runs import setup
from tickets.domain.runs.setup import RUN, MeasuredOnce, Reading, SaidBy
from tickets.domain.spec import SHIPPED

PLACE = job(placement__0__station=[WHITE, FLASH, RED, FLASH]).placements[0]
VERA, OTTO = {"who": "Vera", "at": "2026-03-02"}, {"who": "Otto", "at": "2026-03-01"}


def faults(**sent: str) -> dict[str, str]:
    fields = {name.replace("__", "."): [text] for name, text in sent.items()}
    return {one.where: one.message for one in setup.read(fields, PLACE, {})[1]}


@pytest.mark.parametrize(("field", "text", "refused"), [
    ("s1.strokes", "1", False), ("s1.strokes", str(setup.MOST_STROKES), False), ("s1.strokes", "0", True),
    ("s1.strokes", str(setup.MOST_STROKES + 1), True), ("s1.strokes", "two", True), ("s1.order", "60", False),
    ("s1.order", "61", True), ("s1.order", "0", True), ("s1.order", "1", False),
    ("s1.note", "x" * setup.MOST, False), ("s1.note", "x" * (setup.MOST + 1), True), ("s1.note", "a\nb", False),
    ("s1.note", "a\x00b", True), ("s9.strokes", "2", True), ("s1.dance", "2", True), ("s2.strokes", "2", True),
    ("run.strokes", "2", True), ("run.platen", "wide", False), ("sx.strokes", "2", False), ("other", "2", False),
    ("s2.time", "0.1 s", False), ("s2.time", "0.09 s", True), ("s2.time", "600 s", False), ("s2.time", "601 s", True),
    ("s1.off_contact", "50 mm", False), ("s1.off_contact", "50.1 mm", True), ("s1.squeegee", "70/90/70", False),
    ("s1.squeegee", "70/101/70", True), ("s1.squeegee", "70 · 15 deg", False), ("s1.squeegee", "29", True),
    ("s1.squeegee", "30", False), ("s1.squeegee", "100", False)])  # fmt: skip
def test_what_a_sheet_takes(field: str, text: str, refused: bool) -> None:
    assert set(faults(**{field.replace(".", "__"): text})) == ({field} if refused else set())


def test_two_positions_cannot_be_one_and_each_is_told_who_has_it() -> None:
    assert faults(s1__order="3", s3__order="1") == {}
    found = faults(s1__order="3")
    assert list(found) == ["s3.order"] and "3" in found["s3.order"] and "by 1" in found["s3.order"]
    values, _wrong = setup.read({"s1.order": ["3"], "s3.order": ["1"], "s2.order": ["2"]}, PLACE, {})
    assert (values["1"]["order"], values["3"]["order"]) == ("3", "1") and "order" not in values["2"]


@pytest.mark.parametrize(("text", "unit", "aim", "kept"), [
    ("6", "", "6 s", "6 s"), ("6", "min", "", "6 min"), ("not measured", "", "6 s", "not measured"),
    ("NOT MEASURED", "", "", "not measured"), ("6 s!", "", "", "6 s")])  # fmt: skip
def test_a_number_has_the_unit_of_its_target_or_of_what_was_tapped(text: str, unit: str, aim: str, kept: str) -> None:
    sent = {"s2.time_cold": [text], **({"s2.time_cold.unit": [unit]} if unit else {})}
    values, wrong = setup.read(sent, PLACE, {"2": {"time_cold": aim}} if aim else {})
    assert (values["2"].get("time_cold"), wrong) == (kept, [])


# -- who said what


def test_who_noted_a_sheet_first_what_was_looked_at() -> None:
    by = {
        "3": OTTO,
        "1": VERA,
        "run": {**VERA, "as_target": True, "at": "2026-03-04"},
        "2": {**VERA, "at": "2026-03-03"},
    }
    assert setup.said_by({"noted_by": by}) == [
        SaidBy("Otto", False, "2026-03-01", "2026-03-01", ("3",)),
        SaidBy("Vera", False, "2026-03-02", "2026-03-03", ("1", "2")),
        SaidBy("Vera", True, "2026-03-04", "2026-03-04", ("run",))]  # fmt: skip
    assert [one.parts for one in setup.said_by({"noted_by": by}, "2026-03-03")] == [("2",)]
    assert setup.said_by({}) == [] and setup.said_by({"noted_by": by}, "2026-03-09") == []
    assert setup.parts_said(["10", "2", RUN]) == "position 2, 10, the whole run"
    assert (setup.parts_said(["2"]), setup.parts_said([RUN]), setup.parts_said([])) == (
        "position 2",
        "the whole run",
        "",
    )
    assert [setup.part_said(key, PLACE) for key in ("1", "2", RUN)] == ["1. white", "2. flash", "the whole run"]


@pytest.mark.parametrize(
    ("sheet", "opened", "asked"),
    [
        ({}, ["1", "2", "3", "4", RUN], []),
        ({"stations": {}}, [], []),
        ({"noted": ["1", RUN]}, ["2", "3", "4"], ["2", "3", "4"]),
        ({"noted": ["1", "2", "3", "4", RUN], "idle": ["3"]}, ["3"], ["3"]),
        ({"run": {"platen": "x"}}, [], []),
    ],
)
def test_which_parts_are_open(sheet: Any, opened: list[str], asked: list[str]) -> None:
    assert setup.open_parts(sheet, PLACE) == opened and setup.left_open(sheet, PLACE) == asked
    assert setup.left_open(sheet, PLACE, {}) == asked and setup.left_open(sheet, PLACE, {"unnoted": "ask"}) == asked
    assert setup.left_open(sheet, PLACE, {"unnoted": "leave"}) == []


@pytest.mark.parametrize(("text", "shown", "found"), [
    ("3.1", None, {"ink": "red", "strokes": "3", "squeegee": "70", "note": "mine"}),
    ("3.1", {"3": {"strokes": "4"}}, {"ink": "red", "strokes": "1", "squeegee": "70", "note": "mine"}),
    ("3.1", {"3": {"strokes": "1"}}, {"ink": "red", "strokes": "3", "squeegee": "70", "note": "mine"}),
    ("1.1", None, None), ("3.2", None, None), ("9.1", None, None), ("3.9", None, None), ("3", None, None),
    ("2.4", None, {"time": "8 s", "surface": "dry"})])  # fmt: skip
def test_a_head_that_is_set_as_another_one(text: str, shown: Any, found: dict[str, str] | None) -> None:
    settings = {
        "1": {"ink": "white", "strokes": "3", "squeegee": "70", "note": "hers"},
        "2": {"surface": "dry"},
        "3": {"ink": "red", "strokes": "1", "note": "mine"},
        "4": {"time": "8 s", "surface": "wet"},
    }
    assert setup.same_as(settings, PLACE, text, shown) == (None if found is None else (text[0], found))


# -- measured, by whom, and again


def test_each_reading_keeps_the_one_before_it() -> None:
    before = {"1": {"hardness_measured": "71", "off_contact_measured": "2 mm"}, RUN: {"hold": "not measured"}}
    after = {"1": {"hardness_measured": "70", "off_contact_measured": "0.2 cm", "strokes": "2"},
             RUN: {"hold": "60 s", "garment_peak": "not measured"}, "2": {"surface": "105 C"}}  # fmt: skip
    known = {"1": {"hardness_measured": OTTO, "off_contact_measured": OTTO}}
    assert setup.taken(after, before, known, VERA) == {
        "1": {"hardness_measured": {**VERA, "before": {"value": "71", **OTTO}}, "off_contact_measured": OTTO},
        RUN: {"hold": VERA}, "2": {"surface": VERA}}  # fmt: skip
    assert setup.taken(before, before, {}, VERA) == {}, "nobody knows who"
    again = {**VERA, "before": {"value": "71", **OTTO, "before": {"value": "72"}}}
    assert setup.readings("70", again) == [
        Reading("72"), Reading("71", "Otto", "2026-03-01"), Reading("70", "Vera", "2026-03-02")]  # fmt: skip
    found = setup.by_whom({"1": {"hardness_measured": "70", "angle": "15 deg"}, RUN: {"hold": "not measured"}},
                          {"1": {"hardness_measured": again}})  # fmt: skip
    assert found == [
        MeasuredOnce("Otto", "2026-03-01", (("1", "hardness_measured", "71"),)),
        MeasuredOnce("Vera", "2026-03-02", (("1", "hardness_measured", "70"),)),
        MeasuredOnce("", "", (("1", "hardness_measured", "72"),))]  # fmt: skip


@pytest.mark.parametrize(("change", "stands"), [
    ({"field": "surface", "station": 2, "to": "105 C"}, "105 C"),
    ({"field": "surface", "station": 2, "to": "105 C", "from": "not measured"}, "105 C"),
    ({"field": "surface", "station": 2, "to": "105 C", "from": "100 C"}, None),
    ({"field": "surface", "station": 2, "to": ""}, None), ({"field": "time", "station": 2, "to": "7 s"}, None),
    ({"field": "surface", "station": 4, "to": "105 C"}, None)])  # fmt: skip
def test_what_was_measured_first_after_the_approval_belongs_to_it(change: dict[str, Any], stands: str | None) -> None:
    sheet = {"stations": {"4": {"surface": "90 C"}, "1": {"strokes": "2"}}}
    found = setup.with_later(sheet, [change])
    assert found["stations"].get("2", {}).get("surface") == stands and found["stations"]["4"] == {"surface": "90 C"}
    assert "measured" not in found and sheet["stations"] == {"4": {"surface": "90 C"}, "1": {"strokes": "2"}}
    told = setup.with_later({**sheet, "measured": {}}, [{**change, "measured": VERA}])
    assert told["measured"] == ({"2": {"surface": VERA}} if stands else {})
    whole = setup.with_later({}, [{"field": "hold", "to": "60 s", "measured": VERA}])
    assert whole[RUN] == {"hold": "60 s"} and whole["measured"] == {RUN: {"hold": VERA}}


@pytest.mark.parametrize(
    ("now", "open_still", "unmeasured"),
    [({}, True, False), ({"hold": "not measured"}, True, True), ({"hold": "60 s"}, False, False)],
)
def test_what_nobody_measured_yet(now: dict[str, str], open_still: bool, unmeasured: bool) -> None:
    sheet = {"run": now, "target": {RUN: {"hold": "60 s", "platen": "wide", "garment_peak": "not measured"}}}
    assert setup.not_yet(sheet) == ([(RUN, "hold", "60 s")] if open_still else [])
    assert setup.unmeasured(sheet) is unmeasured and setup.not_yet({}) == []


# -- what differs


@pytest.mark.parametrize(("aim", "as_run", "told"), [
    ({"strokes": "2"}, {"strokes": "3"}, ["strokes"]), ({"strokes": "2"}, {}, ["strokes"]), ({}, {"strokes": "3"}, []),
    ({"hold": "60 s"}, {}, []), ({"hold": "60 s"}, {"hold": "not measured"}, []),
    ({"hold": "60 s"}, {"hold": "80 s"}, ["hold"]),
    ({"note": "a", "bucket": "b", "ink_lot": "c"}, {"note": "x", "bucket": "y", "ink_lot": "z"}, []),
    ({"surface_feel": "dry"}, {"surface_feel": "like glue"}, []),
    ({"surface_feel": "dry"}, {"surface_feel": "wet"}, ["surface_feel"]),
    ({"angle": "15 deg"}, {"angle": "not measured"}, ["angle"]), ({}, {"order": "3"}, ["order"]),
    ({"order": "3"}, {"order": "3"}, []), ({"order": "3"}, {}, ["order"])])  # fmt: skip
def test_what_was_run_otherwise_than_its_target(aim: Any, as_run: Any, told: list[str]) -> None:
    sheet = {"stations": {"1": as_run}, "target": {"1": aim}}
    assert [one[1] for one in setup.differences(sheet)] == told
    assert [one[0] for one in setup.changed({"1": aim}, {"1": aim})] == []


def test_what_changed_between_two_states_of_a_sheet_the_run_last() -> None:
    before = {RUN: {"hold": "60 s", "platen": "x"}, "10": {"strokes": "2"}, "2": {"time": "6 s"}}
    after = {RUN: {"hold": "1 min"}, "10": {"strokes": "3", "note": "n"}, "2": {"time": "7 s"}}
    assert setup.changed(before, after) == [
        ("2", "time", "6 s", "7 s"), ("10", "strokes", "2", "3"), ("10", "note", "", "n"),
        (RUN, "platen", "x", "")]  # fmt: skip


@pytest.mark.parametrize(("name", "aim", "now", "found"), [
    ("strokes", "", "", ["1", "2", "3", "4"]), ("strokes", "6", "5", ["1", "2", "3", "4", "5", "as target: 6"]),
    ("strokes", "2", "x", ["1", "as target: 2", "3", "4"]), ("order", "", "", ["1", "2", "3", "4", "5"]),
    ("angle", "15 deg", "not measured", ["as target: 15 deg", "20 deg", "not measured"]), ("bucket", "", "", None),
    ("note", "", "", None)])  # fmt: skip
def test_what_can_be_tapped(name: str, aim: str, now: str, found: list[str] | None) -> None:
    ask = next(one for one in setup.STATION["print"] if one.name == name)
    taps = setup.taps(ask, aim, now, ["20 deg", "15 deg", "not measured", "25 deg"], 5, most=3)
    assert (taps and [said for _value, said in taps]) == found
    if taps:
        assert [value for value, _said in taps] == [one.removeprefix("as target: ") for one in found or []]


@pytest.mark.parametrize(
    ("taken", "said"), [({"1": {"hardness_measured": VERA}}, "70, measured 76"), ({}, ""), (None, "")]
)
def test_a_blade_is_not_what_its_stamp_says_where_somebody_measured_it(taken: Any, said: str) -> None:
    sheet = {"stations": {"1": {"squeegee": "70/90/70 · round", "hardness_measured": "76"}}, "measured": taken}
    found = setup.apart_of(sheet, PLACE, SHIPPED, "metric")
    assert (said.replace("70,", "70/90/70,") in found) if said else found == ""


def test_what_the_job_sheet_does_not_say_is_no_target() -> None:
    bare = job(placement__0__station=[WHITE, {"does": "flash", "time": "6 s"}, RED]).placements[0]
    assert set(setup.of_job(bare)["2"]) == {"time"}
    said = job(placement__0__station=[WHITE, FLASH, RED]).placements[0]
    assert set(setup.of_job(said)["2"]) == {"time", "surface"}
