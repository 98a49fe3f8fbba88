"""What is typed into the log's forms: read as meant, or refused beside its field."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tickets.calculator import units
from tickets.domain.refusal import Refused
from tickets.domain.step_reading import count_per_cm, mesh_label, read
from tickets.domain.steps import BUCKET_STEPS, CAUTIONS, RUN_STEPS, SCREEN_STEPS, SHEET_RULE, Step

ALL_STEPS = [*SCREEN_STEPS.values(), *RUN_STEPS.values(), *BUCKET_STEPS.values()]


def values(step: str, **sent: str | list[str]) -> dict[str, Any]:
    form = {name.replace("__", "."): [text] if isinstance(text, str) else text for name, text in sent.items()}
    return read(SCREEN_STEPS[step], form)[0]


def refused(step: Step | str, **sent: str | list[str]) -> dict[str, str]:
    with pytest.raises(Refused) as fault:
        known = SCREEN_STEPS[step] if isinstance(step, str) else step
        form = {name.replace("__", "."): [text] if isinstance(text, str) else text for name, text in sent.items()}
        read(known, form)
    assert fault.value.status == 422
    return {one.where: one.message for one in fault.value.faults}


# The fields of section "the log" of the design: what is asked and what is folded away. A contract of forms and exports.
ASKED = {
    "stretch": (["mesh_count_as_labelled", "thread_um", "mesh_colour", "frame"],
                ["frame_size_mm", "mark", "by", "opening_um", "open_area_pct", "fabric_thickness_um",
                 "ink_volume_cm3_m2"]),
    "retension": ([], []),
    "tension": (["readings_n_per_cm"], ["readings_weft_n_per_cm", "after"]),
    "degrease": ([], []),
    "coat": (["bucket", "preset"], ["strokes_print_side", "strokes_squeegee_side", "coated_thickness_um"]),
    "image": (["separations", "means"], []),
    "expose": (["exposure_s", "exposure_units", "exposure_unit"],
               ["separations", "purpose", "distance_mm", "irradiance_mw_cm2"]),
    "washout": (["result", "fault"], ["step_held"]),
    "check": (["result"], ["fault", "note"]),
    "harden": (["agent"], ["exposure_s"]),
    "hang": (["run", "head", "station"], []),
    "print": (["run", "impressions"], []),
    "pull": (["condition", "then"], ["run"]),
    "clean": ([], []),
    "decide": (["then"], ["until", "for"]),
    "rack": (["place"], []),
    "strip": ([], ["remover_s"]),
    "haze": ([], ["haze_s"]),
    "fault": (["kind", "then"], []),
    "found": (["standing_seen", "separations_seen"], ["why"]),
    "retire": (["cause"], []),
}  # fmt: skip


@pytest.mark.parametrize("step", ASKED)
def test_the_fields_of_each_step(step: str) -> None:
    shown, folded = ASKED[step]
    fields = SCREEN_STEPS[step].fields
    assert [field.name for field in fields if not field.folded] == shown
    assert set(folded) <= {field.name for field in fields if field.folded}


def test_every_step_of_the_log_is_there() -> None:
    assert set(SCREEN_STEPS) == set(ASKED) | {"retag", "note", "cross-out"}
    assert set(RUN_STEPS) >= {"approve", "start", "stop", "swap", "change", "count", "pause", "finish", "use-next-time"}
    assert set(BUCKET_STEPS) >= {"mix", "use", "discard"}
    for step in ALL_STEPS:
        assert step.title and step.done
        assert set(step.cautions) <= set(CAUTIONS)


@pytest.mark.parametrize("step", ALL_STEPS, ids=lambda step: step.name)
def test_every_step_says_in_one_line_how_it_is_done_or_measured(step: Step) -> None:
    assert 40 <= len(step.how) <= 110 and step.how.endswith("."), step.how
    assert step.to_dict()["how"] == step.how


def test_no_two_steps_say_the_same() -> None:
    said = [step.how for step in {id(step): step for step in ALL_STEPS}.values()]
    assert len(set(said)) == len(said)


def test_the_steps_that_can_hurt_say_so() -> None:
    """The usual cautions of the trade's safety notes: UV, remover, jet, haze remover, solvent, heat."""
    cautioned = {"expose": "uv", "harden": "uv", "strip": "remover", "haze": "haze", "clean": "solvent"}
    assert "heat" in SCREEN_STEPS["print"].cautions and "heat" in RUN_STEPS["start"].cautions
    for step, caution in cautioned.items():
        assert caution in SCREEN_STEPS[step].cautions
    assert "jet" in SCREEN_STEPS["strip"].cautions and "jet" in SCREEN_STEPS["haze"].cautions
    assert "safety data sheet" in SHEET_RULE


@pytest.mark.parametrize(
    ("typed", "unit", "expected"),
    [
        ("25.5", "", [25.5]),
        ("25,5", "", [25.5]),
        ("25 24,5 24 25.5 24", "", [25, 24.5, 24, 25.5, 24]),
        ("25;24;24", "N/cm", [25, 24, 24]),
        ("25; 24,5; 24", "", [25, 24.5, 24]),
        ("25, 24, 23", "", [25, 24, 23]),
        ("25.5, 24 , 23.5", "", [25.5, 24, 23.5]),
        ("25 N/cm, 24 N/cm", "lbf/in", [25, 24]),
        ("14 lbf/in 25 N/cm", "", [24.518, 25]),
        ("25 24.5 N/cm", "", [25, 24.5]),
        ("25N/cm 24N/cm", "", [25, 24]),
        ("14 13", "lbf/in", [24.518, 22.766]),  # 1 lbf = 4.4482216152605 N (NIST SP 811), 1 in = 2.54 cm
    ],
)
def test_readings(typed: str, unit: str, expected: list[float]) -> None:
    sent = {"readings_n_per_cm": typed} | ({"readings_n_per_cm__unit": unit} if unit else {})
    assert values("tension", **sent)["readings_n_per_cm"] == pytest.approx(expected, abs=0.001)


@pytest.mark.parametrize("typed", ["255", "25,24,24", "2.5e1", "nan", "inf", "-25", "", "twenty", "25 lb",
                                   "1 2 3 4 5 6 7 8 9 10", "0", "25_5"])  # fmt: skip
def test_readings_that_are_refused_beside_the_field(typed: str) -> None:
    assert set(refused("tension", readings_n_per_cm=typed)) == {"readings_n_per_cm"}


@pytest.mark.parametrize(
    "typed", ["25,24,23", "25,5, 24,5", "25, 24,23", "25 ,24", "25,,24", "25.5,24", ["25,", "24,5"]]
)
def test_commas_that_may_part_or_be_decimal_marks_are_refused_with_what_would_do(typed: str | list[str]) -> None:
    assert "put spaces between the readings" in refused("tension", readings_n_per_cm=typed)["readings_n_per_cm"]


@pytest.mark.parametrize("typed", ["14 lbf/in 24", ["25", "14 lbf/in"], "25 14 lbf/in 24"])
def test_a_unit_that_may_be_of_one_reading_or_of_all_is_refused(typed: str | list[str]) -> None:
    assert "behind the last one" in refused("tension", readings_n_per_cm=typed)["readings_n_per_cm"]


@pytest.mark.parametrize("typed", [["25", "24.5", "N/cm"], ["25,", "24.5"], ["25 24.5"]])
def test_readings_typed_apart_on_a_command_line(typed: list[str]) -> None:
    assert values("tension", readings_n_per_cm=typed)["readings_n_per_cm"] == [25, 24.5]


TENTHS = st.integers(5, 800).map(lambda tenths: tenths / 10)  # what a tension meter shows, in the range of the field


BETWEEN = st.sampled_from([" ", ";", "; ", ", ", ",", " ,"])


@given(st.lists(TENTHS, min_size=1, max_size=9), st.sampled_from(".,"), BETWEEN)
def test_readings_come_back_as_the_numbers_meant_or_not_at_all(meant: list[float], mark: str, between: str) -> None:
    """However people write a list, nobody's reading becomes another number in silence."""
    typed = between.join(f"{one:g}".replace(".", mark) for one in meant)
    try:
        found = values("tension", readings_n_per_cm=typed)["readings_n_per_cm"]
    except Refused:
        assert between in {",", " ,"} or (between == ", " and mark == ","), typed
    else:
        # one comma between two whole numbers is the decimal mark: the design's rule for every number
        assert found == pytest.approx(meant) or (between == "," and typed.count(",") == 1 and "." not in typed), typed


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("23 degC 45 %", {"room_c": 23, "room_rh_pct": 45}),
        ("23 C, 45 %", {"room_c": 23, "room_rh_pct": 45}),
        ("45% RH / 23,5 °C", {"room_c": 23.5, "room_rh_pct": 45}),
        (["23", "C", "45", "%"], {"room_c": 23, "room_rh_pct": 45}),
        ("73,4 F", {"room_c": 23}),  # 73.4 F = 23 C
        ("45 %", {"room_rh_pct": 45}),
    ],
)
def test_the_room_in_one_line(typed: str | list[str], found: dict[str, float]) -> None:
    assert values("coat", room=typed, room_c__unit="degC") == pytest.approx(found)


def test_what_was_typed_of_the_room_is_kept() -> None:
    assert read(SCREEN_STEPS["coat"], {"room": ["73,4 F, 45 %"]})[1] == {"room_c": "73,4 F", "room_rh_pct": "45 %"}


@pytest.mark.parametrize("typed", ["23", "23 45", "23 C 24 C", "23 C x", "warm", "1e5 C", "23.5.1 C", "-", "45 kg"])
def test_a_room_that_cannot_be_read_is_refused_with_what_would_do(typed: str) -> None:
    assert "23 degC, 45 %" in refused("coat", room=typed)["room"]


def test_the_room_is_said_once_and_within_reason() -> None:
    assert "twice" in refused("coat", room="23 C", room_c="22")["room"]
    assert set(refused("coat", room="300 C, 45 %")) == {"room_c"}
    assert "room" in refused("coat", colour="red")["colour"].split(": ")[1].split(", ")[-1]
    assert set(refused("expose", room="23 C")) == {"room"}


def test_numbers_in_messages_are_written_as_people_write_them() -> None:
    said = refused("print", impressions="20000000")["impressions"]
    assert said == "Between 0 and 1\u202f000\u202f000 would do; this reads as 20\u202f000\u202f000."
    assert "100\u202f000" in refused("expose", exposure_units="0.00001")["exposure_units"]
    assert "0.00001" in refused("expose", exposure_units="0.00001")["exposure_units"]


def test_a_unit_beside_the_number_and_one_in_it() -> None:
    assert values("expose", exposure_s="2", exposure_s__unit="min")["exposure_s"] == 120
    assert values("expose", exposure_s="1,5 min", exposure_s__unit="s")["exposure_s"] == 90
    assert values("stretch", mesh_count_as_labelled="230/in", thread_um="1.9 mil")["thread_um"] == pytest.approx(48.26)
    assert set(refused("expose", exposure_s="2 mm")) == {"exposure_s"}
    assert set(refused("expose", exposure_s="7201")) == {"exposure_s"}
    assert "7200" in refused("expose", exposure_s="7201")["exposure_s"]


def test_what_was_typed_is_kept_where_it_reads_otherwise() -> None:
    form = {"exposure_s": ["2"], "exposure_s.unit": ["min"], "exposure_unit": ["Unit A"]}
    read_values, typed = read(SCREEN_STEPS["expose"], form)
    assert read_values == {"exposure_s": 120, "exposure_unit": "Unit A"}
    assert typed == {"exposure_s": "2 min"}
    assert read(SCREEN_STEPS["expose"], {"exposure_s": ["60"]}) == ({"exposure_s": 60}, {})


@pytest.mark.parametrize(
    ("typed", "unit", "label"),
    [("230/in", None, "230/in"), ("230 per inch", None, "230/in"), ("90/cm", None, "90/cm"), ("90", "/cm", "90/cm"),
     ("230", "/in", "230/in"), ("228,6/in", None, "228.6/in"), ("230 tpi", None, "230/in"), ("90 /cm", "/in", "90/cm")],
)  # fmt: skip
def test_a_mesh_count_keeps_the_label_s_own_unit(typed: str, unit: str | None, label: str) -> None:
    sent = {"mesh_count_as_labelled": typed} | ({"mesh_count_as_labelled__unit": unit} if unit else {})
    assert values("stretch", **sent) == {"mesh_count_as_labelled": label}


@pytest.mark.parametrize("typed", ["230", "1000/in", "2/cm", "230/km", "x", "-90/cm", "0/in"])
def test_a_mesh_count_without_sense_is_refused(typed: str) -> None:
    assert set(refused("stretch", mesh_count_as_labelled=typed)) == {"mesh_count_as_labelled"}


def test_counts_per_centimetre() -> None:
    """1 in = 2.54 cm exactly; 90/cm is 228.6/in."""
    assert count_per_cm("228.6/in") == pytest.approx(90)
    assert count_per_cm("90/cm") == 90
    assert mesh_label("90/cm") == "90/cm"


def test_all_that_is_wrong_is_said_together() -> None:
    faults = refused("stretch", thread_um="thick", frame="gold", open_area_pct="120 %", colour="red")
    assert set(faults) == {"mesh_count_as_labelled", "thread_um", "frame", "open_area_pct", "colour"}
    assert "aluminium" in faults["frame"]
    assert "mesh_count_as_labelled" in faults["colour"], "an unknown field is answered with those that there are"


def test_blanks_are_not_said_and_not_needed_where_sense_can_be_made() -> None:
    assert values("coat", bucket=" ", preset="") == {}
    assert values("pull") == {}
    assert set(refused("washout")) == {"result"}
    assert set(refused("note", note="  ")) == {"note"}


def test_separations_are_named_by_number() -> None:
    assert values("image", separations=["11", "12 13", "11"])["separations"] == [11, 12, 13]
    assert values("image", separations="11,12")["separations"] == [11, 12]
    for typed in ("white", "11.5", "\u00b2", "-3", "9" * 30, " ".join(map(str, range(13)))):
        assert set(refused("image", separations=typed)) == {"separations"}


def test_whole_numbers_and_dates() -> None:
    assert values("print", run="5", impressions="1250") == {"run": 5, "impressions": 1250}
    for typed in ("1,250", "12.5", "-1", "many", "1e3"):
        assert set(refused("print", impressions=typed)) == {"impressions"}
    assert values("decide", then="keep", until="2026-12-01") == {"then": "keep", "until": "2026-12-01"}
    assert set(refused("decide", then="keep", until="1 December")) == {"until"}
    assert set(refused("decide", then="undecided")) == {"then"}


def test_what_the_floor_adds_to_any_step_is_let_through() -> None:
    assert values("degrease", entry="a" * 16, at="2026-03-02T10:00", in_hand="yes", override="why") == {}
    assert set(refused("degrease", exposure_s="60")) == {"exposure_s"}


@given(st.sampled_from(ALL_STEPS), st.data())
def test_any_form_is_read_or_refused(step: Step, data: st.DataObject) -> None:
    names = [field.name for field in step.fields] + ["odd"]
    quantities = st.from_regex(r"[0-9]{1,4}([.,][0-9]{1,2})?( ?(N/cm|s|um|/in))?", fullmatch=True)
    texts = st.one_of(st.text(max_size=8), quantities)
    form = data.draw(st.dictionaries(st.sampled_from(names), st.lists(texts, max_size=2), max_size=4))
    unit_names = st.sampled_from([f"{name}.unit" for name in names])
    units_sent = data.draw(st.dictionaries(unit_names, st.lists(texts, max_size=1)))
    try:
        read_values, typed = read(step, {**form, **units_sent})
    except Refused as fault:
        assert all(one.message and one.where for one in fault.faults)
        return
    assert set(typed) <= set(read_values) <= set(form)
    for name, value in read_values.items():
        field = step.field(name)
        for number in value if isinstance(value, list) else [value]:
            if isinstance(number, float):
                assert math.isfinite(number) and field.low <= number <= field.high
                assert units.unit_of(name) is not None or field.kind in {"number", "numbers"}


@pytest.mark.parametrize(
    "step, sent, low_high",
    [  # exact: 1 in = 2.54 cm, F = 1.8 C + 32, 1 min = 60 s
        (
            "coat",
            {"room_c": ["300"], "room_c.unit": ["F"]},
            "Between 14 and 140 degF would do; this reads as 300 degF.",
        ),
        ("coat", {"room_c": ["300"]}, "Between -10 and 60 degC would do; this reads as 300 degC."),
        ("expose", {"exposure_s": ["500 min"]}, "120 min would do; this reads as 500 min."),
        ("stretch", {"mesh_count_as_labelled": ["900"], "mesh_count_as_labelled.unit": ["/in"]}, "12.7/in and 635/in"),
        ("stretch", {"mesh_count_as_labelled": ["300 /cm"]}, "5/cm and 250/cm"),
    ],
)
def test_a_range_is_answered_in_the_unit_that_was_typed(step: str, sent: dict[str, list[str]], low_high: str) -> None:
    with pytest.raises(Refused) as refused:
        read(SCREEN_STEPS[step], sent)
    assert low_high in str(refused.value)
