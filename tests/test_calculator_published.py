"""The calculator as `tickets calc` runs it, against published figures (tests/published/README.md names each source)."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from tickets.cli.calc import group

PUBLISHED = Path(__file__).parent / "published"


def rows(name: str) -> list[dict[str, str]]:
    with (PUBLISHED / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def calc(*arguments: str) -> dict[str, Any]:
    """The answer of `tickets calc ... --json`."""
    ran = CliRunner().invoke(group, [*arguments, "--json"], catch_exceptions=False)
    assert ran.exit_code == 0, ran.output
    answer: dict[str, Any] = json.loads(ran.output)
    return answer


def result(answer: dict[str, Any], name: str, unit: str) -> Any:
    assert answer["results"][name]["unit"] == unit
    return answer["results"][name]["value"]


@pytest.mark.parametrize("row", rows("mesh.csv"), ids=lambda row: f"{row['count']}{row['unit']}-{row['thread_um']}")
def test_mesh_rows_come_out_as_printed(row: dict[str, str]) -> None:
    """Tolerances: half a unit of the printed integers, since the formulas are nominal."""
    options = ["--count", row["count"] + row["unit"], "--thread", row["thread_um"] + " um"]
    if row["thickness_um"]:
        options += ["--thickness", row["thickness_um"] + " um"]
    answer = calc("mesh", *options)
    assert result(answer, "open_area", "%") == pytest.approx(
        float(row["open_area_pct"]), abs=float(row["area_tolerance"])
    )
    if row["opening_um"]:
        assert result(answer, "opening", "um") == pytest.approx(float(row["opening_um"]), abs=0.5)
    if row["ink_volume_cm3_m2"]:
        assert result(answer, "ink_volume", "cm3/m2") == pytest.approx(float(row["ink_volume_cm3_m2"]), abs=0.5)


def test_nominal_thread_overstates_a_woven_mesh() -> None:
    """Screen Printing, June 2009 prints 25 % for 305/in with 40 um; the formula gives 27: the sheet must win."""
    open_area = result(calc("mesh", "--count", "305/in", "--thread", "40 um"), "open_area", "%")
    assert 26.5 < open_area < 27.5


def test_mesh_counts_convert_as_printed() -> None:
    """Screen Printing, April 2003: 120/cm is 304.8/in; an Italian guide to mesh codes: 140/in is 55/cm."""
    assert result(calc("mesh", "--count", "120/cm", "--thread", "34 um"), "count_per_inch", "/in") == pytest.approx(
        304.8
    )
    per_cm = result(calc("mesh", "--count", "140 per inch", "--thread", "64 um"), "count_per_cm", "/cm")
    assert per_cm == pytest.approx(55.1, abs=0.05)


def test_without_the_thickness_the_volume_is_a_span_and_never_one_number() -> None:
    answer = calc("mesh", "--count", "225/in", "--thread", "40 um")
    assert "ink_volume" not in answer["results"]
    low, high = (result(answer, f"ink_volume_{end}", "cm3/m2") for end in ("low", "high"))
    assert low < 25 < high  # the printed volume of this mesh


def test_stencil_build_as_printed() -> None:
    """A trade article: 20 % on 110/in with 80 um is about 23 um, which implies a fabric of 115 um."""
    answer = calc("stencil", "--coated", "138 um", "--fabric", "115 um")
    assert result(answer, "build", "um") == pytest.approx(23)
    assert result(answer, "build_ratio", "%") == pytest.approx(20)


def test_halftone_ratio_as_printed() -> None:
    """Screen Printing, April 2003: 65 lines want 3.5 x 65 = 227.5, so 230/in, and 4 x 65 = 260, so 255 to 265/in."""
    answer = calc("halftone", "--ruling", "65 /in", "--count", "230/in", "--thread", "48 um", "--angle", "22.5 deg")
    assert result(answer, "ratio", "") == pytest.approx(230 / 65)
    assert answer["verdict"]["level"] == "ok"
    assert result(calc("halftone", "--ruling", "65 /in", "--count", "260/in", "--thread", "40 um",
                       "--angle", "22.5 deg"), "ratio", "") == pytest.approx(4)  # fmt: skip


@pytest.mark.parametrize(
    ("count", "thread", "dot_um", "tones"),
    [("120/cm", "34 um", 117, (7.1, 5.1, 3.4)), ("120/cm", "40 um", 123, (7.8, 5.6, 3.7)),
     ("90/cm", "48 um", 159, (13, 9.3, 6.2)), ("61/cm", "64 um", 228, (27, 19, 13))],
)  # fmt: skip
def test_smallest_dot_and_tone(count: str, thread: str, dot_um: float, tones: tuple[float, ...]) -> None:
    """Opening + two threads (common practice), and its tone at 65, 55 and 45 lines an inch (plane geometry)."""
    for ruling, tone in zip((65, 55, 45), tones, strict=True):
        answer = calc(
            "halftone", "--ruling", f"{ruling} lpi", "--count", count, "--thread", thread, "--angle", "22.5 deg"
        )
        assert result(answer, "smallest_dot", "um") == pytest.approx(dot_um, abs=0.6)
        assert result(answer, "smallest_tone", "%") == pytest.approx(tone, rel=0.02)


@pytest.mark.parametrize(
    ("angle", "level"),
    [("0 deg", "caution"), ("45 deg", "caution"), ("90 deg", "caution"), ("7.5 deg", "ok"), ("22.5 deg", "ok"),
     ("52.5 deg", "ok"), ("82.5 deg", "ok"), ("15 deg", "ok"), ("75 deg", "ok"), ("44 deg", "caution")],
)  # fmt: skip
def test_angles_are_judged_as_a_mesh_maker_prints(angle: str, level: str) -> None:
    """A mesh maker's answers on halftones: worst at 0, 45 and 90 degrees; good at 7.5, 22.5, 52.5, 82.5."""
    answer = calc("halftone", "--ruling", "50 lpi", "--count", "280/in", "--thread", "34 um", "--angle", angle)
    assert answer["verdict"]["level"] == level


@pytest.mark.parametrize("row", rows("exposure.csv"), ids=lambda row: row["options"])
def test_exposure_examples(row: dict[str, str]) -> None:
    answer = calc(row["calculation"], *row["options"].split("|"))
    assert result(answer, "time", "s") == pytest.approx(float(row["time_s"]), rel=1e-3)


def test_the_two_forms_of_a_step_agree_within_one_percent() -> None:
    """Published step value: 0.15 of density (10^0.15 = 1.41254), half a stop (1.41421)."""
    for steps in range(1, 8):
        answer = calc("step", "--time", "100 s", "--held", "1", "--wanted", str(1 + steps))
        assert result(answer, "factor", "") == pytest.approx(10 ** (0.15 * steps), rel=0.01)


def test_dose_is_irradiance_times_time() -> None:
    assert result(calc("dose", "--irradiance", "8 mW/cm2", "--time", "10 s"), "dose", "mJ/cm2") == pytest.approx(80)
    assert result(calc("dose", "--dose", "80 mJ/cm2", "--irradiance", "8 mW/cm2"), "time", "s") == pytest.approx(10)


@pytest.mark.parametrize("row", rows("belt.csv"), ids=lambda row: f"{row['length']} {row['dwell']}")
def test_belt_examples(row: dict[str, str]) -> None:
    speed = result(calc("belt", "--length", row["length"], "--dwell", row["dwell"]), "speed", "m/min")
    assert speed == pytest.approx(float(row["m_per_min"]), abs=0.005)
    assert speed / 0.3048 == pytest.approx(float(row["ft_per_min"]), abs=0.005)


def test_pieces_an_hour_follow_physics_and_not_a_printed_slip() -> None:
    """Impressions, March 2022 prints 60 an hour for six shirts in a one-minute cycle; it is 360."""
    answer = calc("belt", "--length", "6 ft", "--dwell", "60 s", "--inside", "6")
    assert result(answer, "pieces_per_hour", "/h") == pytest.approx(360)


def test_ink_of_a_worked_job() -> None:
    """Worked out by hand: 0.07742 m2 x 0.5 x 35 cm3/m2 = 1.355 cm3; x 1.2 = 1.626 g; x 500 x 1.1 = 894 g."""
    answer = calc("ink", "--area", "774.2 cm2", "--coverage", "50 %", "--film", "35 cm3/m2", "--density", "1.2 g/cm3",
                  "--strokes", "1", "--transfer", "1", "--pieces", "500", "--waste", "10 %")  # fmt: skip
    assert result(answer, "volume", "cm3") == pytest.approx(1.35485, rel=1e-6)
    assert result(answer, "per_print", "g") == pytest.approx(1.62582, rel=1e-6)
    assert result(answer, "job", "g") == pytest.approx(894.201, rel=1e-6)


def test_a_weighed_print_gives_the_transfer_factor_whatever_factor_was_typed() -> None:
    """By hand: 0.07742 m2 x 0.5 x 35 cm3/m2 x 1.2 g/cm3 = 1.62582 g computed; 2 g weighed is 1.230 times that."""
    for transfer in ("1", "1.4"):
        image = ["--area", "774.2 cm2", "--coverage", "50 %", "--film", "35 cm3/m2", "--density", "1.2 g/cm3"]
        answer = calc("ink", *image, "--transfer", transfer, "--pieces", "1", "--weighed", "2 g")
        assert result(answer, "weighed_transfer", "") == pytest.approx(2 / 1.62582, rel=1e-6)


@pytest.mark.parametrize("row", rows("ciede2000.csv"), ids=lambda row: row["pair"])
def test_colour_differences_as_published(row: dict[str, str]) -> None:
    """All 34 pairs, to the four decimals printed; the difference is the same the other way round."""
    one = " ".join(row[name] for name in ("l1", "a1", "b1"))
    two = " ".join(row[name] for name in ("l2", "a2", "b2"))
    for approved, printed in ((one, two), (two, one)):
        answer = calc("colour", "--approved", approved, "--print", printed)
        assert result(answer, "delta_e_2000", "") == pytest.approx(float(row["difference"]), abs=5.1e-5)


def test_the_survival_table_of_six_mp() -> None:
    answer = calc("lifetime", "--file", str(PUBLISHED / "six_mp.csv"))
    found = result(answer, "survival", "")
    for got, row in zip(found, rows("six_mp_table.csv"), strict=True):
        assert (got["uses"], got["at_risk"], got["ended"]) == tuple(
            int(row[name]) for name in ("uses", "at_risk", "ended")
        )
        assert got["survival"] == pytest.approx(float(row["survival"]), abs=5e-5)
        assert got["standard_error"] == pytest.approx(float(row["standard_error"]), abs=5e-5)
    assert result(answer, "median", "uses") == 23


@pytest.mark.filterwarnings("ignore")  # the reference library's own warnings are not ours
def test_survival_agrees_with_lifelines() -> None:
    """lifelines as the reference library: curve, median and restricted mean on the same data."""
    lifelines = pytest.importorskip("lifelines")
    from lifelines.utils import median_survival_times, restricted_mean_survival_time

    data = [(float(row["uses"]), int(row["ended"])) for row in rows("six_mp.csv")]
    fitter = lifelines.KaplanMeierFitter().fit([uses for uses, _ended in data], [ended for _uses, ended in data])
    answer = calc("lifetime", "--file", str(PUBLISHED / "six_mp.csv"))
    for got in result(answer, "survival", ""):
        assert got["survival"] == pytest.approx(float(fitter.predict(got["uses"])), rel=1e-9)
    assert result(answer, "median", "uses") == float(median_survival_times(fitter.survival_function_))
    longest = max(uses for uses, _ended in data)
    expected = float(restricted_mean_survival_time(fitter, t=longest))
    assert result(answer, "mean_to_last", "uses") == pytest.approx(expected, rel=1e-9)


def test_tension_of_five_readings() -> None:
    """Worked out by hand; the unit conversion is 1 N/cm = 0.571015 lbf/in (a supplier prints about 0.57)."""
    answer = calc("tension", "--readings", "25 24.5 24 25.5 24", "--unit", "N/cm", "--count", "230/in",
                  "--frame", "aluminium", "--work", "colours")  # fmt: skip
    assert result(answer, "mean", "N/cm") == pytest.approx(24.6)
    assert result(answer, "spread", "N/cm") == pytest.approx(1.5)
    assert result(answer, "worst_from_centre", "N/cm") == pytest.approx(1)
    assert result(answer, "minimum", "N/cm") == pytest.approx(24)
    assert answer["verdict"]["level"] == "ok"
    us = calc("tension", "--readings", "14.2754", "--unit", "lbf/in")
    assert result(us, "mean", "N/cm") == pytest.approx(25, rel=1e-4)


def test_a_known_bad_set_is_stopped() -> None:
    """Images, Aug 2019: the best of four screens averaged about 16, one corner was under 11; it would not register."""
    answer = calc("tension", "--readings", "16 16.5 17 16 10.9", "--unit", "N/cm", "--frame", "aluminium")
    assert answer["verdict"]["level"] == "stop"
    assert "tension-under-floor" in [reason["key"] for reason in answer["verdict"]["reasons"]]


def test_weighed_ink_as_published() -> None:
    """An ink maker's blog, Nov 2011: 12 lb/gal, 3 g a print: 5443 g in a gallon, 1814 prints."""
    from tickets.calculator.typed import read_value
    from tickets.calculator.units import magnitude, quantity

    density = magnitude(quantity(*read_value("12 lb/gal", "density")), "g/cm3")
    gallon = magnitude(quantity(*read_value("1 gal", "volume")), "cm3") * density
    assert gallon == pytest.approx(5443.1, abs=0.1)
    assert gallon / 3 == pytest.approx(1814.4, abs=0.1)
