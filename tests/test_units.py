"""Reading and showing quantities, against scipy.constants (CODATA and exact definitions) and the rules of the shop."""

from __future__ import annotations

import math
import subprocess
import sys
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import constants

from tickets.calculator import typed, units
from tickets.calculator.units import KINDS, NBSP, NotAQuantity, convert, magnitude, number, quantity, show_named

# The first conversion loads pint, which no deadline for one example should count.
settings.register_profile("calculator", deadline=None)
settings.load_profile("calculator")


def read(text: str, kind: str) -> units.Quantity[float]:
    return quantity(*typed.read_value(text, kind))


@pytest.mark.parametrize(
    ("was", "now", "factor"),
    [
        ("in", "mm", constants.inch / constants.milli),
        ("ft", "m", constants.foot),
        ("mil", "um", constants.mil / constants.micro),
        ("lbf/in", "N/cm", constants.lbf / constants.inch * constants.centi),
        ("oz", "g", constants.oz / constants.gram),
        ("lb", "kg", constants.lb),
        ("lb/gal", "g/cm3", constants.lb / constants.gallon / 1000),
        ("gal", "l", constants.gallon / constants.liter),
        ("in2", "cm2", constants.inch**2 / constants.centi**2),
        ("ft2", "m2", constants.foot**2),
        ("ft/min", "m/min", constants.foot),
        ("/cm", "/in", constants.inch / constants.centi),
        ("lines/cm", "lines/in", constants.inch / constants.centi),
        ("h", "s", constants.hour),
        ("d", "h", constants.day / constants.hour),
        ("deg", "deg", 1.0),
        ("mW/cm2", "W/m2", constants.milli / constants.centi**2),
        ("mJ/cm2", "J/m2", constants.milli / constants.centi**2),
    ],
)
def test_conversions_agree_with_scipy(was: str, now: str, factor: float) -> None:
    assert convert(7.0, was, now) == pytest.approx(7.0 * factor, rel=1e-9)
    assert convert(7.0 * factor, now, was) == pytest.approx(7.0, rel=1e-9)


@pytest.mark.parametrize("fahrenheit", [32.0, 75.0, 212.0, 320.0, -40.0])
def test_temperatures_agree_with_scipy(fahrenheit: float) -> None:
    celsius = float(constants.convert_temperature(fahrenheit, "F", "C"))
    assert convert(fahrenheit, "degF", "degC") == pytest.approx(celsius, abs=1e-9)
    assert magnitude(read(f"{fahrenheit} °F", "temperature"), "degC") == pytest.approx(celsius, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "kind", "value", "unit"),
    [
        ("25,5 N/cm", "tension", 25.5, "N/cm"),
        ("25.5N/cm", "tension", 25.5, "N/cm"),
        ("14 lbf/in", "tension", 14, "lbf/in"),
        ("230/in", "mesh count", 230, "/in"),
        ("230 per inch", "mesh count", 230, "/in"),
        ("160 tpi", "mesh count", 160, "/in"),
        ("90 per cm", "mesh count", 90, "/cm"),
        ("65 /in", "ruling", 65, "lines/in"),
        ("65 lpi", "ruling", 65, "lines/in"),
        ("40 µm", "length", 40, "um"),
        ("40 μm", "length", 40, "um"),
        ("40 micron", "length", 40, "um"),
        ("5 mil", "length", 5, "mil"),
        ('12"', "length", 12, "in"),
        ("2 ft", "length", 2, "ft"),
        ("1.5 min", "time", 1.5, "min"),
        ("320 F", "temperature", 320, "degF"),
        ("-5 degC", "temperature", -5, "degC"),
        ("8 mW/cm²", "irradiance", 8, "mW/cm2"),
        ("80 mJ/cm2", "dose", 80, "mJ/cm2"),
        ("50%", "percent", 50, "%"),
        ("22,5°", "angle", 22.5, "deg"),
        ("12 lb/gal", "density", 12, "lb/gal"),
        ("35 cm3/m2", "film", 35, "cm3/m2"),
        ("6 ft/min", "speed", 6, "ft/min"),
        (f"60{NBSP}s", "time", 60, "s"),
        (".5 m", "length", 0.5, "m"),
    ],
)
def test_the_trades_spellings_are_read(text: str, kind: str, value: float, unit: str) -> None:
    found = read(text, kind)
    assert magnitude(found, unit) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    "text",
    ["25", "", "N/cm", "1e5 N/cm", "nan N/cm", "inf N/cm", "-inf N/cm", "1_000 N/cm",
     "1.2.3 N/cm", "25 mm", "25 N", "25 N/cm2", "2**9 N/cm", "9**9**9 N/cm", "__import__('os') N/cm", "-3 N/cm",
     "+3 N/cm", "٢٥ N/cm", "25. N/cm", "0x19 N/cm", "3/16 N/cm", "9" * 400 + " N/cm", "25 N/cm N/cm"],
)  # fmt: skip
def test_anything_else_is_refused_naming_the_units_that_would_do(text: str) -> None:
    with pytest.raises(NotAQuantity) as refused:
        read(text, "tension")
    assert "N/cm, lbf/in" in str(refused.value) or "below zero" in str(refused.value)


@pytest.mark.parametrize("text", ["1,250 g", "12,500 g", "999,999 g"])
def test_a_comma_that_may_part_thousands_is_refused_with_both_readings(text: str) -> None:
    with pytest.raises(NotAQuantity, match="two ways"):
        read(text, "mass")


def test_megawatts_are_not_milliwatts() -> None:
    with pytest.raises(NotAQuantity):
        read("8 MW/cm2", "irradiance")


def test_below_absolute_zero_is_refused() -> None:
    with pytest.raises(NotAQuantity, match="absolute zero"):
        read("-460 F", "temperature")


def test_a_mesh_count_is_no_other_reciprocal_length() -> None:
    import pint

    with pytest.raises(pint.DimensionalityError):
        quantity(90, "/cm").to("1/cm")
    with pytest.raises(pint.DimensionalityError):
        magnitude(quantity(65, "lines/in"), "/in")


def test_there_is_one_registry() -> None:
    assert units.ureg is units.registry()
    assert (quantity(1, "cm") + units.ureg.Quantity(1, "inch")).to("cm").magnitude == pytest.approx(3.54)


def test_each_unit_is_what_pint_itself_has_it_to_be() -> None:
    """Our short list of units against the long one that comes with pint, both for scales and for what lies between."""
    import pint

    theirs: pint.UnitRegistry[Any] = pint.UnitRegistry()
    ours_alone = ("thread = [thread_count]", "threads_per_inch = thread/inch", "threads_per_cm = thread/centimeter")
    for line in (*ours_alone, "halftone_line = [line_count]", "shore_a = [hardness]"):
        theirs.define(line)
    compared = 0
    for name, kind in KINDS.items():
        for was in set(kind.spellings.values()):
            for now in set(kind.spellings.values()) - {was}:
                for value in (0.0, 1.0, 250.0):
                    known = theirs.Quantity(value, units._PINT[was]).to(units._PINT[now]).magnitude
                    assert convert(value, was, now) == pytest.approx(known, rel=1e-12, abs=1e-12), (name, was, now)
                    compared += 1
    assert compared > 200


def test_judging_and_formatting_do_not_load_pint() -> None:
    """pint takes some 0.3 s to load, which a metric page or a refusal need not wait for."""
    code = (
        "import sys\n"
        "from tickets.calculator import verdict, units, tension, mesh, catalogue\n"
        "units.show_named('a_n_per_cm', 25.5)\n"
        "sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("readings_n_per_cm", "N/cm"),
        ("exposure_s", "s"),
        ("thread_um", "um"),
        ("distance_mm", "mm"),
        ("width_cm", "cm"),
        ("length_m", "m"),
        ("open_area_pct", "%"),
        ("room_c", "degC"),
        ("irradiance_mw_cm2", "mW/cm2"),
        ("dose_mj_cm2", "mJ/cm2"),
        ("ink_volume_cm3_m2", "cm3/m2"),
        ("mass_g", "g"),
        ("count_per_cm", "/cm"),
        ("count_per_in", "/in"),
        ("age_d", "d"),
        ("left_h", "h"),
        ("dry_min", "min"),
        ("belt_m_per_min", "m/min"),
        ("angle_deg", "deg"),
        ("step_held", None),
        ("impressions", None),
    ],
)
def test_a_field_carries_its_unit_in_its_name(name: str, unit: str | None) -> None:
    assert units.unit_of(name) == unit


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("25,5", None, 25.5),
        ("25.5 N/cm", None, 25.5),
        ("14", "lbf/in", 14 * constants.lbf / constants.inch * constants.centi),
        ("14 lbf/in", None, 14 * constants.lbf / constants.inch * constants.centi),
        ("25.5 N/cm", "lbf/in", 25.5),
    ],
)
def test_a_field_takes_a_bare_number_a_chosen_unit_or_its_own(text: str, unit: str | None, value: float) -> None:
    assert typed.read_field("readings_n_per_cm", text, unit) == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize(("text", "unit"), [("25 mm", None), ("25", "mm"), ("25", "lbs"), ("", None), ("x", None)])
def test_a_field_refuses_another_kind(text: str, unit: str | None) -> None:
    with pytest.raises(NotAQuantity):
        typed.read_field("readings_n_per_cm", text, unit)


@given(st.floats(min_value=0, max_value=1e6), st.sampled_from([".", ","]))
def test_what_is_written_is_what_is_read(value: float, mark: str) -> None:
    text = f"{value:.4f}".replace(".", mark)
    assert number(text) == pytest.approx(float(f"{value:.4f}"), rel=1e-12)


@given(st.text(max_size=12))
def test_a_number_is_finite_or_refused(text: str) -> None:
    try:
        assert math.isfinite(number(text))
    except NotAQuantity as refused:
        assert str(refused)


@given(st.sampled_from(sorted(KINDS)), st.data(), st.floats(min_value=0.001, max_value=1e5))
def test_conversions_round_trip(kind: str, data: st.DataObject, value: float) -> None:
    one = data.draw(st.sampled_from(KINDS[kind].units))
    two = data.draw(st.sampled_from(KINDS[kind].units))
    assert convert(convert(value, one, two), two, one) == pytest.approx(value, rel=1e-9, abs=1e-9)


def test_every_spelling_is_read_as_its_unit() -> None:
    for kind, asked in KINDS.items():
        for spelling, unit in asked.spellings.items():
            assert typed.read_value(f"5 {spelling}", kind)[1] == unit, (kind, spelling)


@pytest.mark.parametrize(
    ("name", "value", "metric", "us"),
    [
        ("lowest_n_per_cm", 25.0, "25 N/cm", "25 N/cm"),
        ("thread_um", 48, "48 µm", "48 µm"),
        ("next_time_s", 169.7056, "169.7 s", "169.7 s"),
        ("cure_c", 160, "160 °C", "320 °F"),
        ("speed_m_per_min", 2.4384, "2.44 m/min", "8 ft/min"),
        ("distance_cm", 127, "127 cm", "50 in"),
        ("size_mm", 254, "254 mm", "10 in"),
        ("count_per_in", 230, "230/in", "230/in"),
        ("age_d", 1, "1 day", "1 day"),
        ("age_d", 28, "28 days", "28 days"),
        ("age_d", 1.35, "1 day", "1 day"),
        ("age_d", 0.25, "6 h", "6 h"),
        ("age_d", 0.0069, "9 min", "9 min"),
        ("limit_d", 1.5, "1.5 days", "1.5 days"),
        ("left_min", 51.7, "51 min", "51 min"),
        ("dry_min", 12.0, "12 min", "12 min"),
        ("left_min", 0.2, "1 min", "1 min"),
        ("dried_min", 719.2, "11 h", "11 h"),
        ("left_h", 3.77, "3.7 h", "3.7 h"),
        ("left_h", 75, "3 days", "3 days"),
        ("left_h", 0, "0 h", "0 h"),
        ("angle_deg", 22.5, "22.5°", "22.5°"),
        ("readings_n_per_cm", [25, 24.5], "25 N/cm, 24.5 N/cm", "25 N/cm, 24.5 N/cm"),
        ("held", 5, "5", "5"),
        ("held", 5.5, "5.5", "5.5"),
        ("when", "2026-03-01", "2026-03-01", "2026-03-01"),
        ("place_word", "a corner", "a corner", "a corner"),
        ("exposure_s", "seven", "seven", "seven"),
        ("exposure_s", None, "–", "–"),
    ],
)
def test_numbers_are_shown_in_the_readers_units(name: str, value: object, metric: str, us: str) -> None:
    assert show_named(name, value).replace(NBSP, " ") == metric
    assert show_named(name, value, "us").replace(NBSP, " ") == us


@given(
    st.sampled_from(["a_n_per_cm", "b_s", "c_d", "d", "e_c", "f_word"]),
    st.one_of(st.none(), st.floats(), st.integers(), st.text(), st.lists(st.floats()), st.booleans(), st.binary()),
    st.sampled_from(["metric", "us", "other"]),
)
def test_showing_never_raises(name: str, value: object, system: str) -> None:
    assert isinstance(show_named(name, value, system), str)


def test_a_quantity_is_shown_in_either_system() -> None:
    assert units.show(quantity(14, "lbf/in"), "us") == f"14{NBSP}lbf/in"
    assert units.show(quantity(30, "cm"), "us") == f"11.8{NBSP}in"
    assert units.show(quantity(25, "N/cm")) == f"25{NBSP}N/cm"
    assert units.show(quantity(3, "cm") / quantity(2, "s"))
