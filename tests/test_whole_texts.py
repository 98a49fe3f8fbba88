"""What is made of a text that somebody types, whatever it is meant to be: read, asked about or refused,
with the words of
the answer; and how numbers are said. Read whole and checked by hand, beside the cases of `typed_things.txt`."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

from whole import same_as_read

from tickets.calculator import colour_text, numerals, several, typed, units
from tickets.calculator.numerals import Ambiguous, NotAQuantity

TEXTS = (
    "", "48", "48 um", "48um", "-3", "-3 C", "−3 °C", "0", "0.7", ".5", "5.", "1,5", "1.5", "1,250", "1.250 kg",
    "1.2.3",
    "1 250", "12,5,3", "1/2", "1/2 in", "2 1/2 in", "2-1/2\"", "3/17 in", "8/10 s", "25/24 N/cm", "½ in", "8' 6\"",
    "8'",
    "8' 13\"", "1:30", "1:75", "1:02:30", "1:30 min", "1 min 30 s", "1 min 75 s", "30 s 1 min", "2 lb 4 oz",
    "90 s", "90 sec",
    "1.5 h", "2 days", "24h", "1e3 s", "1e3", "160", "160 C", "160C", "320 F", "160 deg", "15 deg", "15°", "160 °",
    "20 %",
    "20%", "0.2 %", "20 percent", "230/in", "230 /in", "90/cm", "90T", "156T", "230 mesh", "90-48", "90.55/cm",
    "24 N/cm",
    "24 N", "24 newton", "3 lbf/in", "1.2 m/min", "4 ft/min", "4 fpm", "940 g", "2 lb", "16 oz", "5 ml", "3 m",
    "3 M", "3 mW",
    "9.5 mW/cm2", "120 mJ/cm2", "10 in2", "100 cm^2", "1.2 g/cm3", "70", "70 Shore A", "about 48 um", "48 um!",
    "48!", "48 elephants",
    "forty", "48 um 3", "1000000000000 um", "nan", "inf", "٣", "48 um, 50 um", "-1/2 in", "24-25", "1 to 2",
    "10 bis 12", "+5", "1" * 60, "nan 3", "x" * 60, "1:02:00", "1:00", "24T", "181T", "182T", "5.000 in", "0,125 in",
)  # fmt: skip


def outcome(act: Callable[..., Any], *given: Any, **more: Any) -> str:
    try:
        found = act(*given, **more)
    except Ambiguous as asked:
        return f"? {' ; '.join(asked.readings)} ({asked})"
    except (NotAQuantity, units.CannotBe) as fault:
        return f"! {fault}" + (f" [{' ; '.join(fault.readings)}]" if getattr(fault, "readings", ()) else "")
    if isinstance(found, typed.Typed):
        return f"= {found.value:.9g} {found.unit} “{found.said}”" + ("" if found.own else " of the box")
    return f"= {found:.9g}" if isinstance(found, float) else f"= {found}"


def grouped(name: str, outcomes: dict[str, str]) -> Iterator[str]:
    """Each outcome once, with all that it is of."""
    found: dict[str, list[str]] = {}
    for what, one in outcomes.items():
        own = one if name.startswith("“”") else re.split(" (?:Units that would do|Type digits, then one)", one)[0]
        found.setdefault(own, []).append(what)
    yield f"== {name}"
    for one, some in found.items():
        if len(found) == 1 or ("is not a unit for this" not in one and "has no unit. Units" not in one):
            yield f"{one} << {', '.join(some)}"


def taken() -> Iterator[str]:
    for text in TEXTS:
        outcomes = {}
        for kind, one in units.KINDS.items():
            unit = one.units[0]
            outcomes[kind] = outcome(typed.take, text, kind)
            outcomes[f"{kind}/{unit}"] = outcome(typed.take, text, kind, unit)
        kept = {f"{kind} kept": outcome(typed.read_value, text, kind, kept=True) for kind in ("length", "time")}
        flags = [name for name, is_so in (
            ("bare", typed.is_bare), ("share", typed.is_share), ("sure", numerals.is_sure), ("fraction",
            numerals.is_fraction),
            ("thousands", numerals.in_thousands)) if is_so(text)]  # fmt: skip
        yield from grouped(f"“{text}” {' '.join(flags)}".strip(), outcomes | kept)


def test_what_is_taken_for_a_quantity() -> None:
    same_as_read("texts_taken", taken())


def numbers() -> Iterator[str]:
    for text in TEXTS:
        outcomes = {
            "number": outcome(numerals.number, text), "no fractions": outcome(numerals.number, text, False),
            "point": outcome(numerals.number, text, point=True),
            "counted": outcome(numerals.counted, text),
            "clock": outcome(numerals.clock, text), "split": outcome(numerals.split, text),
            "tidy": outcome(numerals.tidy, text), "whole": outcome(typed.whole, text),
            "whole 1 to 50": outcome(typed.whole, text, 1, 50),
            "unsure": outcome(numerals.unsure, text),
        }  # fmt: skip
        yield from grouped(f"“{text}”", outcomes)


def test_what_is_taken_for_a_number() -> None:
    same_as_read("texts_numbers", numbers())


ROWS = (
    "24 25 23", "24, 25, 23", "24,25,23", "24,5 25,5", "24.5, 25", "24,5,25", "18,5,19", "25,24", "25/24",
    "25 - 24", "25 and 24",
    "25-24", "24;25;23 N/cm", "24 N/cm 25 N/cm", "24 N/cm 25", "24 25 N/cm", "3 lbf/in, 24 N/cm", "24 x", "", "24",
    "24,", "1,250 1,300",
    "24.123 25", "1 2 3 4 5 6 7 8 9 10", "0,5", "5,0 6,0 7,0", "24 25 N/cm 26", "24\n25\n23",
)  # fmt: skip
SIZES = ("23 x 31 in", "23\" x 31\"", "23x31", "584 x 787 mm", "58,4 x 78,7 cm", "23 in x 787 mm", "23 by 31 in",
"23", "0 x 31 in",
         "23 x 31 x 2 in", "20 × 24\"", "a x b", "23 x in", "2.5 x 3 ft", "23 x 31 elephants",
         "23/31 in", "1x2", "300x400", "99x99", "2000 x 5000", "x" * 60, "-2 x 3 in", "1,250 x 3 in")  # fmt: skip
FIBRES = (
    "100 cotton",
    "cotton",
    "60 cotton, 40 polyester",
    "90 cotton 10 poly",
    "cotton 60% poly 40%",
    "60/40",
    "60/40 cotton/poly",
    "50% recycled polyester 50% cotton",
    "60 cotton 60 polyester",
    "cotton, cotton",
    "0 cotton 100 viscose",
    "33.3 cotton 33.3 poly 33.3 modal",
    "",
    "tri-blend",
    "-5 cotton 105 poly",
    "cotton 60, 40",
    "100%",
    "cotton 100 %; elastane 5 %",
    "x" * 60,
    "60 cotton and 40 poly",
    "60 cotton & 40 poly",
)
RECIPES = (
    "940 base, 60 activator",
    "base 0.25 kg",
    "base 940 g, activator 60 g",
    "base 940, base 60",
    "base",
    "940",
    "",
    "base 9 g; fixer 1 oz",
    "2 lb white, 4 oz red",
    "base 0 g",
    "base 1,250 g",
    "base 5 ml",
    "10 % retarder",
    "x" * 60,
    "940 g",
)
LABS = ("52.1 -3.4 18", "L* 52.1 a* -3.4 b* 18", "52,1 -3,4 18", "52,1,-3,4,18,0", "52.1,-3.4,18", "52", "52 1",
"52 1 2 3", "101 0 0", "-1 0 0",
        "50 0 0\n51 0 0", "50\n0\n0\n51\n0\n0", "50 0 0 51 0 0", "50/0/0", "L 50 a 0", "L 50 L 51 a 0 b 0", "x",
        "", "50 200 0", "50;0;0",
        "52,1 -3 18", "1,2,3", "52,104 -3,412 18,003", "b 1 a 2 L 3", "50 0 1e2")  # fmt: skip


def row(texts: list[str], bare: str | None) -> str:
    return several.row_said(several.in_a_row(texts, "tension", bare))


def rows() -> Iterator[str]:
    for text in ROWS:
        outcomes = {}
        for bare in (None, "N/cm"):
            outcomes[str(bare)] = outcome(row, [text], bare)
        parts = text.split(" ")
        outcomes["boxes"] = outcome(row, parts, "N/cm")
        yield from grouped(f"“{text}”", outcomes)
    for name, act, texts in (
        ("size", several.size_mm, SIZES), ("sides", several.sides, SIZES), ("fibres", several.fibres, FIBRES),
        ("amounts", several.amounts, RECIPES), ("masses", several.masses, RECIPES), ("if amounts",
        several.read_if_amounts, RECIPES),
        ("colour", lambda text: [(one.lightness, one.a, one.b) for one in colour_text.readings(text)], LABS),
    ):  # fmt: skip
        for text in texts:
            yield f"{name} “{text}”: {outcome(act, text)}"


def test_what_is_taken_for_several_numbers() -> None:
    same_as_read("texts_rows", rows())


VALUES = (0.0, 0.0004, 0.01, 0.05, 0.099, 0.1, 0.5, 0.9949, 0.999, 1.0, 1.25, 1.2555, 2.5, 9.949, 9.995, 10.0,
12.34, 59.4, 59.6, 60.0, 89.9, 90.0,
          99.94, 99.95, 100.0, 119.0, 120.0, 999.4, 999.6, 1000.0, 1234.5, 3599.0, 9999.0, 10000.0, 123456.0, 1e6,
          2e9, -0.5, -12.34, -1234.0)  # fmt: skip


def said() -> Iterator[str]:
    for value in VALUES:
        told = [
            units.number_text(value),
            units.number_text(value, 1),
            units.exact_text(value),
            numerals.said_plainly(value),
        ]
        yield f"{value}: {' | '.join(told)}"
        if value >= 0:
            yield f"{value} span: {' | '.join(units.span_text(value, unit) for unit in ('min', 'h', 'd'))}"
    for unit in sorted(unit for kind in units.KINDS.values() for unit in kind.units):
        some = (0.5, 12.345, 1500.0)
        metric, us = ([units.show_value(value, unit, system) for value in some] for system in ("metric", "us"))
        apart = units.show_difference(2.0, unit, "us")
        name = f"{unit} ({units.unit_text(unit)}, {units.kind_of(unit)})"
        yield f"{name}: {' | '.join(metric)}; us: {' | '.join(us)}; apart: {apart}"
    for name, value in (("exposure_s", 90.0), ("days_d", 1.5), ("left_min", 61.0), ("past_h", 30.0), ("room_c",
    21.25), ("held", 7.0), ("who", "Vera"),
                        ("images", ["a", "b"]), ("asked_per_in", 230.0), ("least_pct", 12.5), ("lowest_n_per_cm",
                        17.0), ("wide_mm", 300), ("x", None),
                        ("left_min", 0.4), ("age_d", 400.0), ("age_d", 0.02), ("since_at",
                        "2026-03-02T08:00:00.000000Z")):  # fmt: skip
        yield f"{name} {value}: {units.show_named(name, value)} | {units.show_named(name, value, 'us')}"
    for low, high in ((20.0, 25.0), (20.04, 20.06), (0.0, 1e9), (1 / 3, 2 / 3)):
        for own, told in (("N/cm", "lbf/in"), ("degC", "degF"), ("mm", "in"), ("s", "min"), ("mm", "mm")):
            yield f"{low:g} to {high:g} {own} in {told}: {typed.span_typed(low, high, own, told)}"
    for kind in units.KINDS:
        yield f"{kind} lies in {units.bounds_of(kind)}; would do: {units.would_do(kind)}"
    for one in (
        units.quantity(12.5, "N/cm"),
        units.quantity(50.0, "%"),
        units.quantity(3.0, "mm") * units.quantity(2.0, "mm"),
        units.quantity(2.0, "m/min"),
    ):
        yield f"{units.show(one)} | {units.show(one, 'us')}"
    for name, value in (("held", True), ("left_min", True), ("age_d", "x")):
        yield f"{name} {value}: {units.show_named(name, value)}"
    for value, beside in (
        (159.9, [160.0]),
        (159.96, [160.0]),
        (160.0, [160.0]),
        (23.914, [23.915]),
        (20.0, [20.4, 19.6]),
        (160.0, [161.6]),
        (160.0, [161.61]),
        (160.0, ["x", True]),
    ):
        both = [units.show_apart("peak_c", value, beside, system) for system in ("metric", "us")]
        yield f"{value} beside {beside}: {' | '.join(both)}"


def test_how_numbers_are_said() -> None:
    same_as_read("texts_said", said())
