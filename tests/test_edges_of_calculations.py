"""The calculations of the calculator where one input, one line of a file or one limit is other than in the examples."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tickets.calculator import catalogue
from tickets.calculator.catalogue import CATALOGUE, Answer, Faulty, LimitInForce, Shipped, Value, compute

FALLING = "uses,n_per_cm\n0,25\n3,23.1\n8,22.4\n15,21.2\n"
PROBE = "s,c\n0,25\n20,95\n40,130\n60,150\n80,162\n100,168\n"
WARM = {"file": PROBE, "cure": "160 degC", "hold": "0 s", "length": "3 m", "speed": "1.8 m/min"}


class Without:
    """The shipped limits without some, each as the row of a shop."""

    whose = "ours"

    def __init__(self, *keys: str, **other: float) -> None:
        self.keys, self.other = keys, {name.replace("_", "-"): value for name, value in other.items()}

    def find(self, key: str, **conditions: Any) -> LimitInForce | None:
        found = Shipped().find(key, **conditions)
        if found is None or key in self.keys:
            return None
        return replace(found, row=7, value=self.other.get(key, found.value))


def fault(name: str, *limits: Any, **texts: str) -> str:
    with pytest.raises(Faulty) as told:
        compute(name, texts, *limits)
    return str(told.value)


@pytest.mark.parametrize(("name", "texts", "said"), [
    ("tension-loss", {"file": FALLING.replace("23.1", "-23.1"), "floor": "18 N/cm"}, "Line 3: “-23.1” is below zero"),
    ("tension-loss", {"file": FALLING, "floor": "18"}, "floor:"), ("tension-loss", {"file": FALLING}, "floor: Needed"),
    ("probe", {**WARM, "file": PROBE.replace("162", "1620")}, "file: "), ("dose", {"time": "60 s"}, "Give irradiance"),
    ("dose", {"time": "60 s", "irradiance": "9 mW/cm2", "dose": "300 mJ/cm2"}, "Give irradiance"),
    ("lifetime", {"file": "uses,ended\n10,1\n20,2\n"}, "1 for a mesh that ended"),
    ("lifetime", {"file": "uses,ended\n10,1\n20\n"}, "Line 3 has 1 cells, not 2"),
    ("lifetime", {"file": "uses,ended\n\n10,x\n"}, "Line 3: "), ("lifetime", {"file": "uses;ended\n"}, "is empty"),
    ("lifetime", {"file": "used,ended\n1,1\n"}, "column names uses, ended"),
    ("probe", {**WARM, "file": "s,c,f\n0,25,77\n"}, "has both s, c or s, f"),
    ("mesh", {"count": "90/cm", "thread": "48 um", "colour": "red"}, "colour: This calculation does not ask"),
    ("mesh", {"count": "90", "thread": "48"}, "count: "), ("mesh", {}, "count: Needed"),
])  # fmt: skip
def test_what_is_wrong_is_told_with_its_input(name: str, texts: dict[str, str], said: str) -> None:
    assert said in fault(name, **texts)


def test_a_file_may_have_further_columns_other_marks_and_empty_lines() -> None:
    want = compute("lifetime", {"file": "uses,ended\n10,1\n20,0\n"}).results["survival"].value
    for text in (
        "\ufeffUSES;who;Ended\n\n10;a;1\n;;\n20;b;0\n",
        "ended\tuses\n1\t10\n0\t20\n",
        "uses,ended\n10.0,1\n20,0\n",
    ):
        assert compute("lifetime", {"file": text}).results["survival"].value == want
    fahrenheit = compute("probe", {**WARM, "file": "s,f\n0,77\n20,203\n40,266\n60,302\n80,323.6\n100,334.4\n"})
    assert fahrenheit.results["peak"].value == pytest.approx(168)
    found = catalogue.table("\n s , c \n0,25\n\n20,30\n", ["s", "c"])
    assert (found.rows, found.lines, found.columns) == ([(0, 25), (20, 30)], [3, 5], ("s", "c"))


def test_a_probe_is_read_however_far_it_lies_from_a_warm_up_where_no_limit_says() -> None:
    jumps = PROBE.replace("130", "90").replace("150", "155")
    for file, limits, fits in (
        (PROBE, Shipped(), True), (PROBE, Without(probe_fit=0.0), False), (jumps, Shipped(), False),
        (jumps, Without("probe-fit"), True), (jumps, Without(probe_fit=100.0), True),
    ):  # fmt: skip
        found = compute("probe", {**WARM, "file": file}, limits)
        assert found.verdict is not None and ("warm-up-not-fitted" in found.verdict.keys) == (not fits)
        assert (found.results["fastest_speed"].value is not None) == fits
    hot = {**WARM, "file": PROBE.replace("168", "590")}
    assert "file: " in fault("probe", **hot)
    assert compute("probe", hot, Without("probe-mark-highest")).results["peak"].value == 590


@pytest.mark.parametrize(
    ("bleed", "serves"), [(None, True), ("200 degC", True), ("160 degC", False), ("150 degC", False)]
)
def test_a_belt_speed_is_said_where_the_dye_stands_more_than_the_cure(bleed: str | None, serves: bool) -> None:
    found = compute("probe", {**WARM, **({"bleed": bleed} if bleed else {})})
    assert (
        found.results["slowest_speed"].value is not None or found.results["fastest_speed"].value is not None
    ) == serves
    assert ("time_above_bleed" in found.results) and (found.results["time_above_bleed"].value is None) == (
        bleed is None
    )


def test_what_a_calculation_rests_on() -> None:
    asked = {"coated": "90 um", "fabric": "75 um"}
    ours = compute("stencil", asked, Without(build_least=5, build_most=15))
    assert [(one.key, one.value, one.row) for one in ours.limits] == [("build-least", 5, 7), ("build-most", 15, 7)]
    assert ours.verdict is not None and ours.verdict.reasons[0].spec == (7, 7) and ours.whose == "ours"
    assert ours.to_dict()["basis"]["spec"] == "ours" and ours.to_dict()["basis"]["limits"][0]["row"] == 7
    assert compute("stencil", asked).verdict != ours.verdict and compute("stencil", asked).limits[0].row is None
    assert "build-most" in fault("stencil", Without("build-most"), **asked)
    mesh = compute("mesh", {"count": "90/cm", "thread": "48 um"})
    assert (mesh.whose, mesh.limits, mesh.verdict, mesh.to_dict()["verdict"]) == ("", (), None, None)
    assert mesh.to_dict()["basis"]["spec"] is None
    nobody = compute("tension", {"readings": "24 23 24", "unit": "N/cm", "work": "colours"}, Without())
    (new,) = [one for one in nobody.limits if one.key == "new-mesh-tension"]
    every = [Shipped().find("new-mesh-tension", frame=frame) for frame in ("aluminium", "roller", "wood")]
    assert new.value == max(one.value for one in every if one)


@pytest.mark.parametrize(("typed", "system", "leaning", "said"), [
    (["90/cm"], "us", "metric", "62.4 µm"), (["90/cm"], "metric", "metric", "62.4 µm")])  # fmt: skip
def test_an_answer_leans_to_the_units_that_were_typed(typed: list[str], system: str, leaning: str, said: str) -> None:
    found = compute("mesh", {"count": typed[0], "thread": "48 um"})
    assert found.leaning(system) == leaning
    belt = compute("belt", {"length": "10 ft", "dwell": "60 s"})
    assert belt.said("speed", "metric").replace("\u00a0", " ") == "10 ft/min"
    plain = compute("belt", {"length": "3 m", "dwell": "60 s"})
    assert plain.said("speed", "us").replace("\u00a0", " ") == "3 m/min"
    nothing = Answer(CATALOGUE["mesh"], {"a": Value(1.0, "s")}, {}, None, "")
    assert nothing.leaning("us") == "us" and nothing.leaning("metric") == "metric"
    both = Answer(CATALOGUE["mesh"], {"a": Value(1.0, "m"), "b": Value(1.0, "ft")}, {}, None, "")
    assert both.leaning("us") == "us" and both.leaning("metric") == "metric"


@pytest.mark.parametrize(("value", "unit", "said"), [
    (None, "um", "–"), ([1.0, 2.0], "um", "1 µm, 2 µm"), (1.0, "uses", "1 use"), (2.0, "uses", "2 uses"),
    (40.0, "/h", "40/h"),
    (True, "", "True"), ("inside", "", "inside"), (25.4, "mm", "25.4 mm")])  # fmt: skip
def test_a_value_is_said_for_people(value: Any, unit: str, said: str) -> None:
    assert Value(value, unit).text().replace("\u00a0", " ") == said
    assert Value(25.4, "mm").text("us").replace("\u00a0", " ") == "1 in"
    assert Value(25.4, "mm", as_is=True).text("us").replace("\u00a0", " ") == "25.4 mm"
    assert Value([float("nan"), {"a": 1 / 3}], "lines/in").to_dict() == {
        "value": [None, {"a": 0.3333333333}],
        "unit": "/in",
    }


def test_ink_for_screens_and_what_was_weighed() -> None:
    """100 cm2 at 30 cm3/m2 and 1.2 g/cm3 is 0.36 g a stroke at full transfer."""
    asked = {"area": "100 cm2", "coverage": "100 %", "film": "30 cm3/m2", "density": "1.2 g/cm3", "transfer": "0.5",
             "pieces": "100"}  # fmt: skip
    found = compute("ink", asked).results
    assert found["per_print"].value == pytest.approx(0.18) and "load" not in found and "weighed_transfer" not in found
    weighed = compute("ink", {**asked, "weighed": "0.09 g"}).results
    assert weighed["weighed_transfer"].value == pytest.approx(0.25)
    loads = [
        compute("ink", {**asked, "side": "30 cm", "screens": str(screens)}).results["load"].value for screens in (1, 3)
    ]
    assert loads[1] == pytest.approx(3 * loads[0]) and "screens" in fault("ink", **asked, screens="0").lower()
