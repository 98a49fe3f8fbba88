"""The set-up sheet's rules, on hand-worked cases."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import shop as shops
from shop import clock

from tickets import store
from tickets.domain.jobs.job import Placement, read
from tickets.domain.runs import setup
from tickets.queries import sheets
from tickets.store import runs

WHITE = {"does": "print", "colour": "white", "ink": "plastisol", "mesh": {"count": "156/in"}, "strokes": 2,
         "squeegee": {"hardness": "70", "edge": "square", "angle": "15 deg"}}  # fmt: skip
FLASH = {"does": "flash", "time": "6 s", "surface": "105 degC"}
BLUE = {"does": "print", "colour": "blue", "ink": "plastisol", "mesh": {"count": "230/in"}, "off_contact": "1.6 mm",
        "recipe": {"base": 940, "activator": 60}}  # fmt: skip


def placement(*stations: dict[str, Any], **more: Any) -> Placement:
    """An invented placement of these stations."""
    sheet = {
        "title": "Kite club tees",
        "customer": "Meadow Kite Club",
        "due": "2031-06-01",
        "art": {"name": "Box kite", "revision": "2"},
        "garment": [{"style": "Heavy tee", "colour": "black", "pieces": 60, "fibre": {"cotton": 100}}],
        "placement": [{"name": "Full front", "width": "300 mm", "station": list(stations), **more}],
    }
    return read(sheet).placements[0]


def test_the_target_out_of_the_job_sheet() -> None:
    dryer = {"belt_speed": "2.4 m/min", "garment_peak": "320 degF"}
    aim = setup.of_job(placement(WHITE, FLASH, BLUE, platen="wide", dryer=dryer, **{"from": "80 mm below the collar"}))
    assert aim["1"] == {"squeegee": "70 · square", "strokes": "2", "ink": "white · plastisol", "angle": "15 deg"}
    assert aim["2"] == {"time": "6 s", "surface": "105 degC"}
    assert aim["3"]["off_contact"] == "1.6 mm" and aim["3"]["recipe"] == "base 940 g, activator 60 g"
    assert aim["run"] == {"platen": "wide", "placement": "80 mm below the collar", "belt_speed": "2.4 m/min",
                          "garment_peak": "320 °F"}  # fmt: skip


def test_what_is_sent_and_what_is_not() -> None:
    here = placement(WHITE, FLASH, BLUE)
    sent = {"s1.squeegee": ["75"], "s1.angle.not": ["yes"], "s1.angle": ["15 deg"], "s2.time": [""]}
    found, faults = setup.read(sent, here, setup.of_job(here))
    assert faults == []
    assert found["1"] == {"squeegee": "75", "strokes": "2", "ink": "white · plastisol", "angle": "not measured"}
    assert found["2"] == {}  # its surface is what nobody has measured yet
    _found, faults = setup.read({"s1.strokes": ["0"], "s3.strokes": ["٣"], "s2.order": ["zwei"]}, here, {})
    assert [one.where for one in faults] == ["s1.strokes", "s3.strokes", "s2.order"]


def test_a_bare_number_has_the_unit_of_its_target() -> None:
    here = placement(WHITE, FLASH, BLUE, platen="wide", dryer={"belt_speed": "2.4 m/min", "garment_peak": "320 degF"})
    sent = {"s1.angle": ["12"], "s2.time": ["7,5"], "s2.surface": ["110"], "run.belt_speed": ["2"],
            "run.garment_peak": ["310"], "s1.squeegee": ["75"], "run.platen": ["3"]}  # fmt: skip
    found, faults = setup.read(sent, here, setup.of_job(here))
    assert faults == [] and found["1"]["angle"] == "12 deg" and found["1"]["squeegee"] == "75"
    assert found["2"] == {"time": "7,5 s", "surface": "110 degC"}
    assert (found["run"]["belt_speed"], found["run"]["garment_peak"]) == ("2 m/min", "310 °F")
    assert found["run"]["platen"] == "3"


@pytest.mark.parametrize(
    ("field", "aim", "typed", "readings"),
    [
        ("run.garment_peak", "325 degF", "160", ("160 °C", "160 °F")),
        ("run.garment_peak", "160 degC", "320", ("320 °F", "320 °C")),  # more than a garment's peak can be, so °F
        ("run.set", "400 degF", "205", ("205 °C", "205 °F")),
        ("run.belt_speed", "12 ft/min", "3,7", ("3,7 m/min", "3,7 ft/min")),
        ("run.hold", "90 s", "1.5", ("1.5 min", "1.5 s")),
        ("s3.off_contact", "1.6 mm", "1/16", ("1/16 in", "1/16 mm")),
    ],
)
def test_a_bare_number_far_from_its_target_and_near_it_in_another_unit_is_asked_about(
    field: str, aim: str, typed: str, readings: tuple[str, ...]
) -> None:
    dryer = {"garment_peak": "160 degC"}
    part, _dot, name = field.partition(".")
    key = part.removeprefix("s")
    here = placement(WHITE, FLASH, BLUE, dryer=dryer)
    wanted = setup.of_job(here)
    wanted[key][name] = aim
    _found, (fault,) = setup.read({field: [typed]}, here, wanted)
    assert fault.where == field and fault.readings == readings
    assert f"“{typed}”: {readings[0]} or {readings[1]}? The target is {aim}." in fault.message
    found, faults = setup.read({field: [readings[0]]}, here, wanted)
    assert faults == [] and found[key][name] == readings[0]


def test_a_bare_number_that_is_off_in_every_unit_or_whose_unit_was_tapped_is_not_asked_about() -> None:
    here = placement(WHITE, FLASH, BLUE, dryer={"garment_peak": "325 degF"})
    wanted = setup.of_job(here)
    for sent in ({"run.garment_peak": ["240"]}, {"run.garment_peak": ["290"]}, {"s2.time": ["12"]},
                 {"run.garment_peak": ["160"], "run.garment_peak.unit": ["degF"]}):  # fmt: skip
        assert setup.read(sent, here, wanted)[1] == [], sent


def test_a_setting_that_the_sheet_does_not_ask_is_refused_with_those_that_it_asks() -> None:
    here = placement(WHITE, FLASH, BLUE)
    for field, said in (("s1.bogus", "it asks"), ("s9.strokes", "Its parts are"), ("run.nonsense", "platen")):
        _found, (fault,) = setup.read({field: ["7"]}, here, {})
        assert fault.where == field and said in fault.message
    assert setup.read({"s1.angle.not": ["yes"], "then.7K32XM": ["keep"]}, here, {})[1] == []


def test_what_differs_is_what_the_target_says_otherwise() -> None:
    sheet = {
        "stations": {
            "1": {"squeegee": "75 · square", "strokes": "2", "angle": "not measured", "ink_lot": "7", "order": "3"},
            "3": {"off_contact": "1,6 mm", "pressure": "firm", "order": "1"},
        },
        "run": {"platen": "standard"},
        "target": {
            "1": {"squeegee": "70 · square", "strokes": "2", "angle": "15 deg", "ink_lot": "6"},
            "3": {"off_contact": "1.6 mm"},
            "run": {"platen": "wide", "adhesive": "web"},
        },
    }
    assert setup.differences(sheet) == [
        ("1", "order", "1", "3"),  # colours that change places are seen first
        ("3", "order", "3", "1"),
        ("1", "squeegee", "70 · square", "75 · square"),
        ("1", "angle", "15 deg", "not measured"),
        ("run", "platen", "wide", "standard"),
        ("run", "adhesive", "web", ""),
    ]
    assert setup.differences({}) == []
    assert setup.differences({"stations": {"1": {"squeegee": "75"}}}) == []  # of before targets were kept


def test_an_approved_run_is_the_target_where_the_order_is_the_same() -> None:
    """A repeat in another print order, with three strokes of white asked for now, and another ink in place of blue."""
    was = placement(WHITE, FLASH, BLUE, platen="wide")
    now = placement(FLASH, {**WHITE, "strokes": 3}, {**BLUE, "ink": "discharge", "separation": "blue"}, platen="wide")
    sheet = {
        "stations": {
            "1": {"squeegee": "75", "strokes": "1", "ink_lot": "L1", "pressure": "4 on the dial"},
            "2": {"time": "8 s"},
            "3": {"ink": "blue 2 · plastisol", "off_contact": "2 mm", "bucket": "7K32XM"},
        },
        "run": {"platen": "standard", "garment_lot": "L-7"},
    }
    aim = setup.onto(now, sheet, was)
    assert aim["1"]["time"] == "8 s"
    assert aim["2"] == {"squeegee": "75", "strokes": "3", "ink": "white · plastisol", "angle": "15 deg",
                        "pressure": "4 on the dial"}  # fmt: skip
    assert aim["3"]["ink"] == "blue · discharge" and aim["3"]["off_contact"] == "2 mm" and "bucket" not in aim["3"]
    assert aim["run"] == {"platen": "standard"}


def test_what_can_be_tapped_in_the_dark() -> None:
    ask = {one.name: one for one in (*setup.STATION["print"], *setup.STATION["flash"], *setup.WHOLE)}
    used = ["75 · square", "not measured", "70 · square", "80"]
    tapped = setup.taps(ask["squeegee"], "70 · square", "65", used, 3) or []
    assert tapped[0] == ("70 · square", "as target: 70 · square")
    assert tapped[1:] == [("65", "65"), ("75 · square", "75 · square"), ("80", "80")]
    assert setup.taps(ask["order"], "1", "1", [], 3) == [("1", "1"), ("2", "2"), ("3", "3")]
    assert [value for value, _said in setup.taps(ask["strokes"], "6", "2", [], 3) or ()] == ["1", "2", "3", "4", "6"]
    assert setup.taps(ask["angle"], "", "not measured", [], 3) == [("not measured", "not measured")]
    assert setup.taps(ask["belt"], "", "", [], 3) == [("A", "belt A"), ("B", "belt B")]
    for name in ("note", "recipe", "additives", "garment_lot", "placement"):
        assert setup.taps(ask[name], "as it was", "x", ["y"], 3) is None, name


def test_a_time_that_was_tapped_digit_by_digit_gets_its_unit() -> None:
    here = placement(WHITE, FLASH, BLUE)
    found, faults = setup.read({"s2.time": ["7.5"], "s2.time.unit": ["s"]}, here, {})
    assert found["2"]["time"] == "7.5 s" and not faults
    for typed in ("7 s", "not measured", "", "7 · on the dial"):
        found, _faults = setup.read({"s2.time": [typed], "s2.time.unit": ["s"]}, here, {})
        assert found["2"].get("time", "") == typed


def test_the_off_contact_stands_in_one_place_only(tmp_path: Path) -> None:
    """On every sheet of the invented shop: once among what is aimed at, and as run in its own field alone."""
    now = clock()
    shops.the_demo(tmp_path)
    db = store.connect(tmp_path)
    told = 0
    for number in runs.every_number(db):
        for station in sheets.setup_of(db, number, "http://shop.test", now).stations:
            assert sum("off-contact" in text.casefold() for text in station.target) <= 1
            others = [one for one in station.settings if one.label != "Off-contact"]
            assert not any("off-contact" in one.as_run.casefold() for one in others), (number, station.order)
            told += sum(bool(one.as_run) for one in station.settings if one.label == "Off-contact")
    db.close()
    assert told
