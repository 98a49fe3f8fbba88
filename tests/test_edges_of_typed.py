"""What people type, at the edge of each question: the first number that is asked about, and the last that is not; where
two numbers in one text fit together, and where they do not."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable
from typing import Any

import pytest

from tickets.calculator import colour_text, numerals, several, typed, units
from tickets.calculator.numerals import Ambiguous, NotAQuantity
from tickets.calculator.units import KINDS


def told(act: Callable[[], Any]) -> str:
    """What comes of it: `= …` taken, `? …` asked about with these readings, `! …` refused with these words."""
    try:
        found = act()
    except Ambiguous as asked:
        return f"? {' ; '.join(asked.readings)}"
    except NotAQuantity as fault:
        return f"! {fault}"
    return f"= {found.value:.9g} {found.unit}" if isinstance(found, typed.Typed) else f"= {found}"


def same(found: str, wanted: str) -> bool:
    """Refusals by a part of their words."""
    return found.startswith("! ") and wanted[2:] in found if wanted.startswith("!") else found == wanted


@pytest.mark.parametrize(("kind", "bare", "text", "wanted"), [
    # 100 threads of 100 um leave nothing open on a centimetre, 127 of 200 um nothing on an inch
    ("mesh count", None, "100-100", "? 100/in"), ("mesh count", None, "100-99", "? 100/cm ; 100/in"),
    ("mesh count", None, "127-200", "? 127/cm ; 127/in"), ("mesh count", None, "127-199", "? 127/in"),
    ("mesh count", None, "00-48", "? 0/cm ; 0/in"),
    # no mesh has over 200 threads per cm
    ("mesh count", None, "200T", "= 200 /cm"), ("mesh count", None, "201T", "? 201/in"),
    ("mesh count", "/in", "200T", "? 200/in ; 200/cm"), ("mesh count", "/cm", "196T", "? 196/in ; 196/cm"),
    ("mesh count", "/cm", "90T", "= 90 /cm"), ("mesh count", "/cm", "200", "= 200 /cm"),
    ("mesh count", "/cm", "201", "? 201/in"), ("mesh count", "/in", "201", "= 201 /in"),
    ("mesh count", "/cm", "77 mesh", "? 77/in ; 77/cm"), ("mesh count", "/in", "77 mesh", "= 77 /in"),
    # a share, or a span: tenths of anything, and parts of a second that nobody says
    ("time", None, "1/10 s", "? 0.1 s ; 1 s ; 10 s"), ("time", None, "9/10 s", "? 0.9 s ; 9 s ; 10 s"),
    ("time", None, "10/10 s", "! cannot be read as a fraction"), ("time", None, "1/4 s", "= 0.25 s"),
    ("time", None, "0/10 s", "! cannot be read as a fraction"), ("time", None, "1/5 s", "? 0.2 s ; 1 s ; 5 s"),
    ("length", None, "5/10 m", "? 0.5 m ; 5 m ; 10 m"), ("length", None, "1/5 m", "= 0.2 m"),
    ("percent", "%", "0.999", "? 99.9 % ; 0.999 %"), ("percent", "%", "1", "= 1 %"), ("percent", "%", "0", "= 0 %"),
    ("percent", "%", "0.7 %", "= 0.7 %"), ("length", "mm", "1/8", "? 1/8 in ; 0.125 mm"),
    ("length", "in", "1/8", "= 0.125 in"),
    # parts: each less than one of the unit before it
    ("time", None, "1 min 59.9 s", "= 119.9 s"), ("time", None, "1 min 60 s", "! does not add up"),
    ("time", None, "1.5 min 30 s", "! does not add up"), ("time", None, "1 h 1 min 1 s", "= 3661 s"),
    ("time", None, "1 m 30 s", "= 90 s"), ("time", None, "1' 30\"", "= 90 s"), ("time", None, "1 s 1 s", "! add up"),
    ("length", None, "8' 11.99\"", "= 107.99 in"), ("length", None, "8' 12\"", "! does not add up"),
    ("mass", None, "2 lb 15.9 oz", "= 47.9 oz"), ("mass", None, "2 lb 16 oz", "! does not add up"),
    ("length", None, "8' 6", "? 8' 6 in"), ("time", None, "1 min 30", "? 1 min 30 s"),
    # a clock: minutes and seconds beside seconds, hours and minutes beside hours, else asked
    *(("time", bare, "1:30", "= 90 s") for bare in (None, "s")), *(("time", bare, "1:30", "= 90 min") for bare in "hd"),
    *(("time", "s", text, "? 1 min 30 s ; 1 h 30 min") for text in ("1:30 s", "1:30 d")),
    ("time", "min", "1:30", "? 1 min 30 s ; 1 h 30 min"), ("time", "s", "1:30 min", "= 90 s"),
    ("time", "s", "1:30 h", "= 90 min"), ("time", "s", "1:30 x", "! not a unit"), ("time", None, "1:02:03", "= 3723 s"),
    ("time", "h", "1:02:03", "= 3723 s"), ("time", None, "1:02:03 h", "? 1 h 2 min 3 s"),
    ("time", "s", "0:00:01", "= 1 s"),
    # three digits behind a point: a thousand of it cannot be, or it is an eighth of an inch
    ("density", None, "1.250 g/cm3", "= 1.25 g/cm3"), ("density", "g/cm3", "1.250", "= 1.25 g/cm3"),
    ("length", None, "1.125 in", "= 1.125 in"), ("length", "in", "1.125", "= 1.125 in"),
    ("length", None, "1.125 ft", "? 1125 ft ; 1.1250 ft"), ("length", None, "20.000 mm", "? 20000 mm ; 20 mm"),
    ("temperature", None, "-273.16 C", "! below absolute zero"), ("temperature", None, "-459.68 F", "! absolute zero"),
])  # fmt: skip
def test_where_a_question_begins(kind: str, bare: str | None, text: str, wanted: str) -> None:
    assert same(told(lambda: typed.take(text, kind, bare)), wanted)


def test_nothing_is_colder_than_absolute_zero() -> None:
    for text in ("-273.15 C", "-459.67 F"):
        assert typed.take(text, "temperature", bounded=False).said == text
        assert same(told(lambda text=text: typed.take(text, "temperature")), "! is the least that would do")


@pytest.mark.parametrize("kind", [name for name, one in KINDS.items() if math.isfinite(one.most)])
def test_a_kind_has_a_least_and_a_most_that_are_taken(kind: str) -> None:
    known = KINDS[kind]
    unit = known.units[0]
    assert typed.take(f"{known.most:.0f} {unit}", kind).value == known.most
    assert same(told(lambda: typed.take(f"{known.most * 1.001:.3f} {unit}", kind)), "! is the most that would do")
    assert typed.take(f"{known.most + 0.1:.1f} {unit}", kind, bounded=False).unit == unit
    if known.signed:
        assert typed.take(f"{known.least:.0f} {unit}", kind).value == known.least
        assert same(told(lambda: typed.take(f"{known.least - 0.1:.1f} {unit}", kind)), "! is the least that would do")
    else:
        assert typed.take(f"0 {unit}", kind).value == 0
        assert same(told(lambda: typed.take(f"-0.1 {unit}", kind)), "! is below zero")


# -- beside a target


@pytest.mark.parametrize(("text", "kind", "unit", "aim", "wanted"), [
    # a quarter off is a setting all the same; beyond it another unit that comes near is asked about
    ("75", "temperature", "degC", "100 degC", "= None"), ("125", "temperature", "degC", "100 degC", "= None"),
    ("160", "temperature", "degF", "325 degF", "? 160 °C ; 160 °F"),
    ("160", "temperature", "degC", "325 degF", "= None"), ("74", "temperature", "degC", "100 degC", "= None"),
    ("160 F", "temperature", "degF", "325 degF", "= None"),
    ("320", "temperature", "degC", "160 degC", "? 320 °F ; 320 °C"),
    ("6", "time", "min", "6 s", "? 6 s ; 6 min"),
    # ten times too much or too little, within 3 %
    ("20.5", "speed", "m/min", "2 m/min", "? 2.05 m/min ; 20.5 m/min"), ("20.7", "speed", "m/min", "2 m/min", "= None"),
    ("0.205", "speed", "m/min", "2 m/min", "? 2.05 m/min ; 0.205 m/min"),
    ("0.207", "speed", "m/min", "2 m/min", "= None"),
    ("19.5", "speed", "m/min", "2 m/min", "? 1.95 m/min ; 19.5 m/min"), ("19.3", "speed", "m/min", "2 m/min", "= None"),
    ("5", "speed", "m/min", "0 m/min", "= None"), ("5", "speed", "m/min", "fast", "= None"),
    ("fast", "speed", "m/min", "2 m/min", "= None"),
    ("160 °", "temperature", "degC", "160 degC", "? 160 degC ; 160 degF"),
])  # fmt: skip
def test_a_bare_number_far_from_its_target_is_asked_about(
    text: str, kind: str, unit: str, aim: str, wanted: str
) -> None:
    found = told(lambda: typed.sure_of_unit(text, kind, unit, aim)).replace("\u00a0", " ")
    assert found == wanted


@pytest.mark.parametrize(
    ("text", "low", "high", "wanted"),
    [
        ("1", 1, 5, "= 1"),
        ("5", 1, 5, "= 5"),
        ("0", 1, 5, "! Between 1 and 5 would do; this reads as 0"),
        ("6", 1, 5, "! Between 1 and 5"),
        ("2.5", 1, 5, "! A whole number is needed, such as 2"),
        ("3.0", 1, 5, "= 3"),
        ("1.000", 1, 999, "= 1"),
        ("1.000", 1, 1000, "? 1000 ; 1"),
        ("1,200", 1, 9, "? 1200"),
        ("0.007", 1, 9, "! whole"),
    ],
)
def test_a_whole_number(text: str, low: int, high: int, wanted: str) -> None:
    assert same(told(lambda: typed.whole(text, low, high)), wanted)


@pytest.mark.parametrize(
    ("low", "high", "own", "unit", "ends"),
    [
        (5, 2000, "mm", "mm", ("5", "2000", "mm")),
        (5, 2000, "mm", "in", ("0.197", "78.7", "in")),
        (5, 2000, "mm", "m", ("0.005", "2", "m")),
        (0, 80, "N/cm", "lbf/in", ("0", "45.6", "lbf/in")),
        (20, 260, "degC", "degF", ("68", "500", "degF")),
        (25.4 * (1 + 4e-9), 508 * (1 - 4e-10), "mm", "in", ("1", "20", "in")),
        (5, 200, "lines/in", "lines/in", ("5", "200", "/in")),
    ],
)
def test_the_ends_of_a_span_are_rounded_inwards(low: float, high: float, own: str, unit: str, ends: Any) -> None:
    """5 mm is 0.19685 in, 2 m is 78.74 in, 80 N/cm is 45.68 lbf/in."""
    found = typed.span_typed(low, high, own, unit)
    assert (found["low"], found["high"], found["unit"]) == ends


# -- several in one field


@pytest.mark.parametrize(("text", "wanted"), [
    ("300 x 400", "= ((300.0, 400.0), '300 x 400 mm')"), ("299 x 400", "? 299 x 400 mm"),
    ("40 x 50", "? 40 x 50 in ; 40 x 50 cm"), ("10 x 10", "? 10 x 10 in ; 10 x 10 cm"), ("9.9 x 10", "? 9.9 x 10 in"),
    ("118 x 118", "? 118 x 118 in ; 118 x 118 cm ; 118 x 118 mm"), ("100 x 300", "? 100 x 300 cm ; 100 x 300 mm"),
    ("119 x 119", "? 119 x 119 cm ; 119 x 119 mm"), ("3000 x 3000", "= ((3000.0, 3000.0), '3000 x 3000 mm')"),
    ("3001 x 3000", "? 3001 x 3000 in ; 3001 x 3000 cm ; 3001 x 3000 mm"),
    ("1 x 2", "? 1 x 2 in ; 1 x 2 cm ; 1 x 2 mm"),
    ("100 x 3000 mm", "= ((100.0, 3000.0), '100 x 3000 mm')"), ("99 x 300 mm", "! a side from 100 to 3000 mm"),
    ("300 x 3001 mm", "! a side from 100 to 3000 mm"), ("23 x 31 in", "= ((584.2, 787.4), '23 x 31 in')"),
    ("23 in x 31", "? 23 in x 31 in"), ("23 x", "! frame size"), ("23 x 31 x 2 in", "! frame size"),
])  # fmt: skip
def test_a_size_is_asked_about_where_it_has_no_unit(text: str, wanted: str) -> None:
    assert same(told(lambda: several.size_mm(text)), wanted)


@pytest.mark.parametrize(("text", "wanted"), [
    ("940 base, 60 activator", "= {'base': 940.0, 'activator': 60.0}"),
    ("940 base 60 activator", "? 940 base, 60 activator"), ("base 940 activator 60", "? base 940, activator 60"),
    ("1 kg base, 60 activator", "? 1 kg base, 60 kg activator ; 1 kg base, 60 g activator"),
    ("base 1 kg, sand 60, ink 2 g", "? 1 kg base, 60 kg sand, 2 g ink ; 1 kg base, 60 g sand, 2 g ink"),
    ("900 g base, 60 activator", "= {'base': 900.0, 'activator': 60.0}"),
    ("base 0.25 kg", "= {'base': 250.0}"), ("base 1,250 g", "? 1250 g base ; 1.25 g base"), ("base", "! its grams"),
    ("base 940 g!", "= {'base': 940.0}"), ("base 900\nblack 3", "= {'base': 900.0, 'black': 3.0}")])  # fmt: skip
def test_a_recipe_in_grams(text: str, wanted: str) -> None:
    assert same(told(lambda: several.masses(text)), wanted)


@pytest.mark.parametrize(("sent", "wanted"), [
    (["24 25,5 26"], "24 25.5 26 N/cm"), (["24", "25", "N/cm"], "24 25 N/cm"), (["24 25 lbf/in"], "24 25 lbf/in"),
    (["24 25", "26 N/cm"], "24 25 26 N/cm"), (["24 25", "26 lbf/in"], "! some have none"),
    (["24, 25, 26"], "24 25 26 N/cm"),
    (["24", "", "25"], "24 25 N/cm"), (["24 N/cm 25 lbf/in"], "24 N/cm; 25 lbf/in"), ([""], "! at least one reading"),
    (["25,24"], "? 25.24 ; 25 24"), (["25,24 N/cm"], "? 25.24 N/cm ; 25 24 N/cm"), (["25,2"], "25.2 N/cm"),
    (["25,24", "26"], "? 25.24 26 ; 25 24 26"), (["25,24", "26.5"], "25.24 26.5 N/cm"), (["24 - 25"], "? 24 25"),
    (["24 and 25,5"], "! in several ways"), (["22,23,21"], "? 22 23 21"), (["18,5,19"], "? 18.5 19 ; 18 5 19"),
    (["24/25"], "? 24 25"), (["24/25 26"], "! in several ways"), (["24 x"], "! not a unit"),
    (["24 tight 25"], "! some have none"),
])  # fmt: skip
def test_readings_in_a_row(sent: list[str], wanted: str) -> None:
    found = told(lambda: several.row_said(several.in_a_row(sent, "tension", "N/cm"))).removeprefix("= ")
    assert same(found, wanted), found


def test_a_number_that_is_no_quantity_is_read_as_far_as_it_can_be_meant() -> None:
    assert typed.take_field("step_held", "7,5") == typed.Typed(7.5, "", "7,5", False)
    assert same(told(lambda: typed.take_field("step_held", "7", "s")), "! Leave out “s”")
    assert told(lambda: typed.take_field("step_held", "1,250")) == "? 1250 ; 1.25"
    assert typed.take_field("step_held", "1,250", span=(0, 21)).value == 1.25
    assert typed.take_field("step_held", "1,250", span=(100, 2000)).value == 1250
    assert units.unit_of("step_held") is None


LONG = "y" * 60
REPEATED: list[tuple[Callable[[], Any], int]] = [
    *((lambda text=text: typed.take(text, "length", "mm"), 40) for text in (
        LONG, f"5 /6{LONG}", f"5 x 6 {LONG}", f"5 to 6{LONG}", f"5 *{LONG}")),
    (lambda: typed.take(f"5 {LONG}", "length", "mm"), 20), (lambda: typed.bare_unit("exposure_s", LONG), 20),
    (lambda: typed.take_field("step_held", "7", LONG), 20), (lambda: several.size_mm(LONG), 40),
    (lambda: several.size_mm(f"5 in x {'6' * 60}"), 40), (lambda: several.fibres(f"50 {LONG}9"), 40),
    (lambda: several.masses(f"base {LONG}"), 40), (lambda: several.masses(f"9 {LONG} 8 {LONG}"), 40),
    *((lambda text=text: several.in_a_row([text], "tension", "N/cm"), 40) for text in (
        f"24 - {'25 ' * 30}", f"24,25,{'26,' * 20}1", f"{LONG} 3")),
    (lambda: colour_text.number(LONG), 40), (lambda: colour_text.readings(",".join(["5"] * 60)), 40),
    (lambda: colour_text.readings("5,2,3,4,1,6" + " " * 60 + "7 8 9"), 40), (lambda: typed.whole("1" * 60), 41),
]  # fmt: skip


@pytest.mark.parametrize("at", range(len(REPEATED)))
def test_a_message_repeats_so_much_of_what_was_typed_and_no_more(at: int) -> None:
    act, most = REPEATED[at]
    said = told(act)
    with pytest.raises(NotAQuantity) as fault:
        act()
    quoted = re.findall("“(.*?)”", str(fault.value))[0]
    assert len(quoted) == most, (said, quoted)


def test_readings_of_colour_have_an_end() -> None:
    text = "52 1" + " " * (colour_text.LONGEST - 5) + "2"
    assert len(text) == colour_text.LONGEST and len(colour_text.readings(text)) == 1
    assert len(colour_text.readings(f"  {text}\n")) == 1, "what stands around it does not count"
    with pytest.raises(NotAQuantity):
        colour_text.readings(text.replace("52 1", "52  1"))


@pytest.mark.parametrize(("text", "found"), [
    ("L* 52.1 a* -3.4 b* 18", [(52.1, -3.4, 18)]), ("(L* 52,1; a* −3,4; b* 18°)", [(52.1, -3.4, 18)]),
    ("b 18 a -3.4 L 52.1 C 18.3 h 100", [(52.1, -3.4, 18)]), ("CIE L*a*b* = 52.1 -3.4 18", [(52.1, -3.4, 18)]),
    ("red L* 52 a* 1 b* 2", None), ("L* 52 L* 53 a* 1 b* 2", None), ("L* 52 a* 1", None), ("L* 52 a* 1 b* x", None),
    ("52.1 -3.4 18", [(52.1, -3.4, 18)]), ("52,1 -3,4 18,0", [(52.1, -3.4, 18)]), ("52,1,2", [(52, 1, 2)]),
    ("52.1,-3.4,18", [(52.1, -3.4, 18)]), ("52 1 2 53 1 2", [(52, 1, 2), (53, 1, 2)]), ("52 1", None), ("", None),
    ("52\n1\n2", [(52, 1, 2)]), ("52\n1\n2\n53\n1\n2", [(52, 1, 2), (53, 1, 2)]), ("52 1 2\n53 1 2", [(52, 1, 2),
    (53, 1, 2)]),
    ("52,1,-3,4,18,0", None), ("52,1 -3,4 18,0 1", None), ("52 1 2 3 4", None), ("+52 .5 -,5", [(52, 0.5, -0.5)]),
    ("1000 1 2", None), ("52/1/2", [(52, 1, 2)]), ("52|1|2", [(52, 1, 2)])])  # fmt: skip
def test_readings_of_colour(text: str, found: list[tuple[float, ...]] | None) -> None:
    if found is None:
        with pytest.raises(NotAQuantity):
            colour_text.readings(text)
    else:
        assert [(one.lightness, one.a, one.b) for one in colour_text.readings(text)] == found
        if len(found) == 1:
            assert colour_text.reading(text) == colour_text.readings(text)[0]
        else:
            with pytest.raises(NotAQuantity, match="one reading"):
                colour_text.reading(text)


@pytest.mark.parametrize("sign", "½¼¾⅓⅔⅛⅜⅝⅞⅕⅖⅗⅘⅙⅚")
def test_a_fraction_of_one_sign_is_what_unicode_says_it_is(sign: str) -> None:
    assert numerals.number(numerals.tidy("2" + sign)) == pytest.approx(2 + unicodedata.numeric(sign), abs=1e-9)


@pytest.mark.parametrize("digit", range(10))
def test_a_wide_digit_is_that_digit(digit: int) -> None:
    assert numerals.number(numerals.tidy(chr(0xFF10 + digit) + "5")) == 10 * digit + 5
