"""Measured settings are quantities: read with their unit, refused where they cannot be right, compared as quantities.

Check values: 320 F is 160 C and 120 s at 2.4 m is 1.2 m/min (trade notes on dryers); 1 in is 25.4 mm, 1 ft 0.3048 m.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tickets.calculator.units import NotAQuantity
from tickets.domain import setting
from tickets.domain.jobs.job import Placement, read
from tickets.domain.refusal import Refused
from tickets.domain.runs import setup
from tickets.domain.runs.as_run import alike_as
from tickets.domain.spec import SHIPPED, Row, Spec

JOB = {
    "title": "Kite club tees",
    "customer": "Meadow Kite Club",
    "due": "2031-06-01",
    "art": {"name": "Box kite", "revision": "2"},
    "garment": [{"style": "Heavy tee", "colour": "black", "pieces": 60, "fibre": {"cotton": 100}}],
}
STATIONS = [
    {"does": "print", "colour": "white", "ink": "plastisol", "mesh": {"count": "156/in"}},
    {"does": "flash", "time": "8 s"},
]


def placement(squeegee: dict[str, str] | None = None, flash: dict[str, str] | None = None, **more: object) -> Placement:
    stations = [{**STATIONS[0], **({"squeegee": squeegee} if squeegee else {})}, {**STATIONS[1], **(flash or {})}]
    return read({**JOB, "placement": [{"name": "Front", "width": "300 mm", "station": stations, **more}]}).placements[0]


@pytest.mark.parametrize(
    ("field", "text", "said"),
    [
        ("run.belt_speed", "abc", "no number in front"),
        ("run.belt_speed", "1.2", "no unit"),
        ("run.belt_speed", "900 m/min", "from 0.05 to 50 m/min"),
        ("run.garment_peak", "999 °C", "from 20 to 260 degC"),
        ("run.garment_peak", "999 F", "from 68 to 500 degF"),
        ("run.garment_peak", "160", "no unit"),
        ("run.garment_peak", "hot", "no number in front"),
        ("run.hold", "-3 s", "below zero"),
        ("run.hold", "0 s", "from 1 to 1800 s"),
        ("run.set", "2000 °C", "from 20 to 600 degC"),
        ("run.belt_set", "300 ft/min", "from"),
        ("s1.angle", "500", "from 0 to 90 deg"),
        ("s1.angle", "notch 4", "Angle, mark on the press"),
        ("s1.hardness_measured", "700", "from 30 to 100"),
        ("s1.hardness_measured", "soft", "no number in front"),
        ("s1.squeegee", "7 · square", "30 to 100"),
        ("s1.off_contact", "80 mm", "from 0.1 to 50 mm"),
        ("s1.off_contact", "2", "no unit"),
        ("s1.length", "9 m", "from 0.02 to 2 m"),
        ("s1.speed", "900 m/min", "from 0.1 to 200 m/min"),
        ("s2.time", "-3", "below zero"),
        ("s2.time", "1 h", "cannot be right"),
        ("s2.time_cold", "soon", "no number in front"),
        ("s2.time_steady", "5 kg", "not a unit for this"),
        ("s2.surface", "warm", "Surface, by touch"),
        ("s2.surface", "700 °C", "from 20 to 260 degC"),
    ],
)
def test_what_cannot_be_right_is_refused_beside_its_field(field: str, text: str, said: str) -> None:
    here = placement()
    _found, faults = setup.read({field: [text]}, here, {})
    assert [one.where for one in faults] == [field]
    assert said in faults[0].message, faults[0].message


@pytest.mark.parametrize(
    ("field", "text", "kept", "number"),
    [
        ("run.belt_speed", "120 cm/min", "120 cm/min", ("belt_speed_m_per_min", 1.2)),
        ("run.belt_speed", "4 ft/min", "4 ft/min", ("belt_speed_m_per_min", 1.2192)),
        ("run.garment_peak", "320 °F", "320 °F", ("garment_peak_c", 160)),
        ("run.hold", "1 min", "1 min", ("hold_s", 60)),
        ("run.hold", "45", "45 s", ("hold_s", 45)),
        ("s1.angle", "15", "15 deg", ("angle_deg", 15)),
        ("s1.hardness_measured", "68", "68 Shore A", ("hardness_measured_shore_a", 68)),
        ("s1.hardness_measured", "68 A", "68 A", ("hardness_measured_shore_a", 68)),
        ("s1.off_contact", "0.08 in", "0.08 in", ("off_contact_mm", 2.032)),
        ("s2.time", "8", "8 s", ("time_s", 8)),
        ("s2.surface", "220 F", "220 F", ("surface_c", pytest.approx(104.44, abs=0.01))),
        ("s1.speed", "40 cm/s", "40 cm/s", ("speed_m_per_min", 24)),
    ],
)
def test_what_is_typed_is_kept_and_its_number_beside_it(
    field: str, text: str, kept: str, number: tuple[str, float]
) -> None:
    found, faults = setup.read({field: [text]}, placement(), {})
    part, name = field.split(".")
    key = part.removeprefix("s")
    assert faults == [] and found[key][name].replace("°", "deg") in (kept, kept.replace("°", "deg"))
    assert setup.numbers_of(found)[key][number[0]] == number[1]


def test_marks_on_a_dial_have_their_own_fields_and_stay_text() -> None:
    sent = {"s1.angle_mark": ["notch 4"], "s1.pressure": ["4 on the dial"], "s1.speed": ["4 on the dial"],
            "run.belt_set": ["6"], "run.set": ["zone 2 at 60 %"], "s2.surface_feel": ["tacky"]}  # fmt: skip
    found, faults = setup.read(sent, placement(), {})
    assert faults == []
    assert found["1"] == {"angle_mark": "notch 4", "pressure": "4 on the dial", "speed": "4 on the dial"}
    assert found["2"] == {"surface_feel": "tacky"} and found["run"]["belt_set"] == "6"


def test_not_measured_is_no_quantity_and_is_taken() -> None:
    found, faults = setup.read({"s1.off_contact": ["not measured"], "run.hold.not": ["yes"]}, placement(), {})
    assert faults == [] and found["1"]["off_contact"] == found["run"]["hold"] == "not measured"


@pytest.mark.parametrize(
    ("name", "a", "b", "same"),
    [
        ("time", "8", "8 s", True),
        ("time", "8 s", "8 sec", True),
        ("time", "8", "9 s", False),
        ("hold", "60 s", "1 min", True),
        ("belt_speed", "120 cm/min", "1.2 m/min", True),
        ("belt_speed", "4 ft/min", "1.2 m/min", True),
        ("belt_speed", "1.5 m/min", "1.2 m/min", False),
        ("off_contact", "0.08 in", "2 mm", True),
        ("off_contact", "1/16 in", "2 mm", False),
        ("off_contact", "1.6 mm", "2 mm", False),
        ("garment_peak", "320 °F", "160 °C", True),
        ("garment_peak", "160 degC", "150 degC", False),
        ("angle", "15", "15°", True),
        ("angle", "15 deg", "20 deg", False),
        ("hardness_measured", "68", "69 A", True),
        ("hardness_measured", "68", "72", False),
        ("belt_set", "6", "7", False),
        ("surface_feel", "tacky", "Tacky", True),
        ("surface_feel", "dry to the touch", "touch dry, nothing on the finger", True),
        ("surface_feel", "tacky", "sticky", True),
        ("surface_feel", "wet", "dry to the touch", False),
        ("surface_feel", "tacky", "like Monday’s", None),
        ("surface_feel", "not dry", "dry to the touch", None),
    ],
)
def test_the_same_setting_in_other_words_is_the_same(name: str, a: str, b: str, same: bool | None) -> None:
    assert alike_as(name, a, b) is same and alike_as(name, b, a) is same
    if name in setting.SETTINGS:
        key, asked = ("2", "2") if name == "time" else ("run", "run")
        sheet = {"stations": {}, "run": {}, "target": {key: {name: a}}}
        sheet["stations" if key != "run" else key] = {asked: {name: b}} if key != "run" else {name: b}
        assert bool(setup.differences(sheet)) is not same


def test_how_near_is_the_same_is_a_limit_of_the_shop() -> None:
    """0.08 in is 2.032 mm (1 in = 25.4 mm): the same within 3 %, another one in a shop that allows 1 %."""
    strict = Spec([*SHIPPED.rows, Row(900, "same-length", 1.0, "%")])
    assert alike_as("off_contact", "0.08 in", "2 mm") is True
    assert alike_as("off_contact", "0.08 in", "2 mm", strict) is False
    sheet = {"stations": {"1": {"off_contact": "0.08 in"}}, "target": {"1": {"off_contact": "2 mm"}}}
    assert setup.differences(sheet) == []
    assert setup.differences(sheet, strict) == [("1", "off_contact", "2\u00a0mm", "2.03\u00a0mm")]  # 0.08 in


def test_another_unit_for_the_very_same_is_no_change_on_the_press_but_a_small_step_is() -> None:
    was = {"run": {"belt_speed": "1.2 m/min", "hold": "60 s"}}
    assert setup.changed(was, {"run": {"belt_speed": "120 cm/min", "hold": "1 min"}}) == []
    now = {"run": {"belt_speed": "1.21 m/min", "hold": "60 s"}}
    assert setup.changed(was, now) == [("run", "belt_speed", "1.2 m/min", "1.21 m/min")]


@pytest.mark.parametrize(
    ("where", "sent", "said"),
    [
        ("squeegee.angle", {"squeegee": {"angle": "steep"}}, "angle_mark"),
        ("squeegee.angle", {"squeegee": {"angle": "-5 deg"}}, "below zero"),
        ("squeegee.angle", {"squeegee": {"angle": "500 deg"}}, "cannot be right"),
        ("squeegee.length", {"squeegee": {"length": "long"}}, "no number"),
        ("squeegee.speed", {"squeegee": {"speed": "900 m/min"}}, "cannot be right"),
        ("surface", {"flash": {"surface": "-3 degC"}}, "cannot be right"),
        ("time", {"flash": {"time": "soon"}}, "no number"),
        ("dryer.garment_peak", {"dryer": {"garment_peak": "999 degC"}}, "cannot be right"),
        ("dryer.hold", {"dryer": {"hold": "-3 s"}}, "below zero"),
        ("dryer.belt_speed", {"dryer": {"belt_speed": "abc"}}, "no number"),
    ],
)
def test_the_settings_of_a_job_file_are_read_by_the_same_rows(where: str, sent: dict, said: str) -> None:
    with pytest.raises(Refused) as refused:
        placement(**sent)
    (fault,) = refused.value.faults
    assert fault.where.endswith(where) and said in fault.message.replace("Angle, mark on the press", "angle_mark")


def test_a_job_kept_before_marks_had_a_field_opens_still() -> None:
    station = {**STATIONS[0], "squeegee": {"angle": "notch 4"}}
    data = {**JOB, "placement": [{"name": "Front", "width": "300 mm", "station": [station]}]}
    with pytest.raises(Refused):
        read(data)
    blade = read(data, stored=True).placements[0].stations[0].squeegee
    assert blade is not None and (blade.angle, blade.angle_mark) == ("", "notch 4")
    aim = setup.of_job(read(data, stored=True).placements[0])
    assert aim["1"]["angle_mark"] == "notch 4" and "angle" not in aim["1"]


def test_rubbish_of_an_earlier_run_is_nobodys_target() -> None:
    here = placement(dryer={"garment_peak": "160 degC"})
    sheet = {"stations": {"1": {"angle": "notch 4", "off_contact": "2 mm"}, "2": {"surface": "tacky"}},
             "run": {"belt_speed": "abc", "garment_peak": "hot"}}  # fmt: skip
    aim = setup.onto(here, sheet, here)
    assert aim["1"]["angle_mark"] == "notch 4" and aim["1"]["off_contact"] == "2 mm"
    assert aim["2"]["surface_feel"] == "tacky" and "surface" not in aim["2"]
    assert aim["run"] == {"garment_peak": "160 °C"}


@given(st.sampled_from(sorted(setting.SETTINGS)), st.text(max_size=12), st.sampled_from(["", "s", "mm", "C", "deg"]))
def test_whatever_is_read_can_be_right(name: str, text: str, unit: str) -> None:
    known = setting.SETTINGS[name]
    try:
        number, kept = setting.read(name, f"{text} {unit}".strip())
    except NotAQuantity as refused:
        assert str(refused)
        return
    assert known.low - 1e-9 <= number <= known.high + 1e-9
    assert setting.number(name, kept) == pytest.approx(number)
    assert setting.same(name, kept, kept) is True


def test_how_flashed_ink_felt_is_a_choice_and_other_words_are_no_difference() -> None:
    (asked,) = [one for one in setup.STATION["flash"] if one.name == "surface_feel"]
    assert [key for key, _word in asked.choices] == ["dry to the touch", "tacky", "wet"]
    assert setup.taps(asked, "", "", (), 3) == list(asked.choices), "and can be tapped in the dark"

    def told(felt: str) -> list[tuple[str, str, str, str]]:
        aim = {"2": {"surface_feel": "tacky"}}
        return setup.differences({"stations": {"2": {"surface_feel": felt}}, "target": aim})

    assert told("like Monday’s") == told("a little sticky") == []
    assert told("wet") == [("2", "surface_feel", "tacky", "wet")], "that would smear"


@pytest.mark.parametrize(("a", "b", "same"), [
    ("500 s", "500.0000003 s", True), ("500 s", "500.000001 s", False),  # a billionth of a large one
    ("0.5 s", "0.5000000008 s", True), ("0.5 s", "0.500000002 s", False),  # and of one, where it is smaller
])  # fmt: skip
def test_what_a_conversion_leaves_in_the_last_places_is_no_difference(a: str, b: str, same: bool) -> None:
    assert setting.same("time", a, b, Spec(())) is same
