"""Quantities of the trade: one registry, the spellings we take, and how numbers are said.

User text never reaches pint's parser, which reads "25,5" as 255: the number is read by `numerals`, the unit is looked
up in a table of the trade's spellings, and pint only converts and refuses wrong dimensions. `typed.take` is the one
reader of a quantity: pages, files and commands all come to it. Fields and stored numbers carry their unit in their name
(`exposure_s`, `readings_n_per_cm`).

pint takes some 0.3 s to load, and its own list of units as long again: it is told of ours alone (units.txt), and loaded
when the first conversion needs it, never by formatting.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from tickets.calculator.kinds import INKS, fibre_said
from tickets.calculator.numerals import (
    NBSP,
    NUMERAL,
    Ambiguous,
    NotAQuantity,
    clear,
    clock,
    in_thousands,
    number,
    said_plainly,
    split,
    tidy,
)
from tickets.i18n import gettext as _
from tickets.i18n import ngettext

if TYPE_CHECKING:
    import pint
    from pint import Quantity

    ureg: pint.UnitRegistry[Any]

__all__ = [
    "NBSP",
    "NUMERAL",
    "Ambiguous",
    "NotAQuantity",
    "clear",
    "clock",
    "in_thousands",
    "number",
    "said_plainly",
    "split",
    "tidy",
]
"""Names of `numerals` that whoever reads a quantity needs beside these."""

SYSTEMS = ("metric", "us")


class CannotBe(ValueError):
    """The quantities cannot be so together (a thread wider than its pitch); the message says what would do."""


@lru_cache(maxsize=1)
def registry() -> pint.UnitRegistry[Any]:
    """The one registry of the process. Quantities of two registries do not mix, so nobody makes another."""
    import pint

    return pint.UnitRegistry(_UNITS)


def __getattr__(name: str) -> Any:
    if name == "ureg":
        return registry()
    raise AttributeError(name)


# ---------------------------------------------------------------------------------------------------------- units

# Our name of a unit (as in `--json`, exports and messages) -> pint's name. Only these are ever handed to pint, which
# knows them and no others from this file.
_UNITS = Path(__file__).with_name("units.txt")
_PINT = {
    "um": "micrometer",
    "mil": "thou",
    "mm": "millimeter",
    "cm": "centimeter",
    "m": "meter",
    "in": "inch",
    "ft": "foot",
    "cm2": "centimeter**2",
    "m2": "meter**2",
    "in2": "inch**2",
    "ft2": "foot**2",
    "/in": "threads_per_inch",
    "/cm": "threads_per_cm",
    "lines/in": "halftone_line/inch",
    "lines/cm": "halftone_line/centimeter",
    "N/cm": "newton/centimeter",
    "lbf/in": "force_pound/inch",
    "s": "second",
    "min": "minute",
    "h": "hour",
    "d": "day",
    "degC": "degree_Celsius",
    "degF": "degree_Fahrenheit",
    "m/min": "meter/minute",
    "ft/min": "foot/minute",
    "cm/min": "centimeter/minute",
    "in/min": "inch/minute",
    "cm/s": "centimeter/second",
    "in/s": "inch/second",
    "Shore A": "shore_a",
    "g": "gram",
    "kg": "kilogram",
    "oz": "ounce",
    "lb": "pound",
    "g/cm3": "gram/centimeter**3",
    "lb/gal": "pound/gallon",
    "cm3": "centimeter**3",
    "ml": "milliliter",
    "l": "liter",
    "gal": "gallon",
    "mW/cm2": "milliwatt/centimeter**2",
    "W/m2": "watt/meter**2",
    "mJ/cm2": "millijoule/centimeter**2",
    "J/m2": "joule/meter**2",
    "%": "percent",
    "deg": "degree",
    "cm3/m2": "centimeter**3/meter**2",
    "": "dimensionless",
}


@dataclass(frozen=True, slots=True)
class Kind:
    """A sort of quantity: the units that would do (the first is the one we store), and every spelling that is taken,
    those of units that are not offered too.

    `ask`: spellings (empty: none) that are a question, and the units that may be meant; `fractions`: whether `1/16`
    is a number here; `least` and `most`: what none can go beyond, in the first unit (judgement: what its gauges can
    show, or what there is).
    """

    units: tuple[str, ...]
    spellings: Mapping[str, str]
    ask: Mapping[str, tuple[str, ...]]
    signed: bool = False
    fractions: bool = True
    most: float = math.inf
    least: float = -math.inf


def _kind(
    units: Mapping[str, str],
    signed: bool = False,
    more: Mapping[str, str] = MappingProxyType({}),
    fractions: bool = True,
    ask: Mapping[str, tuple[str, ...]] = MappingProxyType({}),
    most: float = math.inf,
    least: float = -math.inf,
) -> Kind:
    """`units`: our name -> its further spellings, separated by commas; `more`: units that are taken, not offered;
    `ask`: spellings, separated by commas -> the units that may be meant."""
    spellings: dict[str, str] = {}
    for unit, others in (*units.items(), *more.items()):
        for spelling in (unit, *(other.strip() for other in others.split(","))):
            if spelling:
                spellings[spelling] = unit
    asked = {fold(one.strip()) or "": meant for some, meant in ask.items() for one in some.split(",")}
    return Kind(tuple(units), spellings, asked, signed, fractions, most, least)


def fold(spelling: str) -> str | None:
    """The spelling for a look-up that forgives capitals and full stops; None where capitals carry sense (MW is not
    mW)."""
    bare = re.sub(r"\s*([/^])\s*", r"\1", spelling).replace(".", "")
    return None if re.match(r"M[WJ]", bare) else " ".join(bare.lower().split())


KINDS: Mapping[str, Kind] = {
    "length": _kind(
        {
            "um": "u, micron, microns, micrometer, micrometre, micrometers, micrometres",
            "mm": "millimeter, millimetre, millimeters, millimetres",
            "cm": "centimeter, centimetre, centimeters, centimetres",
            "m": "meter, metre, meters, metres",
            "mil": "mils, thou",
            "in": "inch, inches, \", ''",
            "ft": "foot, feet, '",
        },
        most=1e9,  # a kilometre
    ),
    "area": _kind(
        {
            "cm2": "sq cm, cm^2",
            "m2": "sq m, m^2",
            "in2": "sq in, in^2, square inches",
            "ft2": "sq ft, ft^2, square feet",
        }
    ),
    "mesh count": _kind(
        {
            "/in": 'per inch, per in, 1/in, tpi, threads/in, threads/inch, threads per inch, /inch, /"',
            "/cm": "per cm, 1/cm, tpcm, threads/cm, threads per cm, T, T/cm",
        },
        fractions=False,
        ask={
            "": ("/in", "/cm"),
            "mesh, mesh count, threads, count, #, m": ("/in", "/cm"),
            "in, inch": ("/in",),
            "cm": ("/cm",),
        },
        most=2540.0,
    ),
    "ruling": _kind(
        {
            "lines/in": '/in, per inch, per in, 1/in, lpi, lines per inch, /inch, /"',
            "lines/cm": "/cm, per cm, 1/cm, lpcm, lines per cm",
        },
        fractions=False,
        ask={
            "": ("/in", "/cm"),
            "line, lines, screen, halftone, l": ("/in", "/cm"),
            "in, inch": ("/in",),
            "cm": ("/cm",),
        },
    ),
    "tension": _kind(
        {
            "N/cm": "N per cm, newton/cm, newtons/cm, newton per cm, newtons per cm",
            "lbf/in": "lb/in, lbs/in, lbf per inch, lbf/inch",
        },
        fractions=False,
        ask={"n, newton, newtons": ("N/cm",)},
        most=80.0,
    ),
    "time": _kind(
        {
            "s": "sec, secs, second, seconds",
            "min": "mins, minute, minutes",
            "h": "hr, hrs, hour, hours",
            "d": "day, days",
        },
        ask={"m": ("min",), "'": ("min",), "\", ''": ("s",)},
    ),
    "temperature": _kind(
        {
            "degC": "C, °C, ° C, deg C, degs C, degree C, degrees C, degrees celsius, celsius, centigrade, oC, o C",
            "degF": "F, °F, ° F, deg F, degs F, degree F, degrees F, degrees fahrenheit, fahrenheit, oF, o F",
        },
        signed=True,
        fractions=False,
        least=-60.0,
        most=600.0,
        ask={"°, deg, degs, degree, degrees, o": ("degC", "degF")},
    ),
    "speed": _kind(
        {
            "m/min": "m per min, m per minute, metres/min, meters/min, metres per minute, meters per minute",
            "ft/min": "fpm, ft per min, ft per minute, ft/minute, feet/min, feet per minute, feet per min, '/min",
        },
        ask={"m": ("m/min",), "ft, feet, '": ("ft/min",)},
        more={
            "cm/min": "cm per min",
            "in/min": "in per min, inch/min, inches/min, ipm",
            "cm/s": "cm per s, cm/sec",
            "in/s": "in per s, in/sec, inch/s, inches/s, ips",
        },
        most=400.0,
    ),
    "mass": _kind(
        {
            "g": "gram, grams, gr",
            "kg": "kilo, kilos, kilogram, kilograms",
            "oz": "ounce, ounces",
            "lb": "lbs, pound, pounds",
        }
    ),
    "density": _kind(
        {"g/cm3": "g/cc, g/ml, kg/l, g/cm^3", "lb/gal": "lbs/gal, lb per gal, lbs per gal, lb/gallon, lbs/gallon, ppg"},
        most=25.0,  # no matter on earth is denser
    ),
    "volume": _kind(
        {"cm3": "cc, cm^3", "ml": "", "l": "litre, liter, litres, liters", "gal": "gallon, gallons, US gal"}
    ),
    "irradiance": _kind({"mW/cm2": "mW/cm^2, mW per cm2, mW/sq cm", "W/m2": "W/m^2"}, ask={"mW": ("mW/cm2",)}),
    "dose": _kind({"mJ/cm2": "mJ/cm^2, mJ per cm2, mJ/sq cm", "J/m2": "J/m^2"}, ask={"mJ": ("mJ/cm2",)}),
    "percent": _kind({"%": "percent, per cent, pct"}, most=1000.0),
    "angle": _kind({"deg": "°, degree, degrees"}, most=360.0),
    "hardness": _kind({"Shore A": "A, Sh A, ShA, Shore, ° Shore A, °Shore A, °Sh, ° Sh, duro, durometer"}),
    "film": _kind(
        {
            "cm3/m2": "cm^3/m^2, cc/m2, ml/m2",
            "um": "u, micron, microns, micrometer, micrometre",
            "mil": "mils, thou",
        },
        ask={"cm3, cc, ml": ("cm3/m2",)},
    ),
}
# g/cm3 and kg/l are one unit in size, and um of wet film and cm3/m2 likewise.

KIND_OF_UNIT = {unit: name for name, kind in reversed(list(KINDS.items())) for unit in kind.units}


@lru_cache(maxsize=len(KINDS) + 1)
def _spelled(kind: str) -> dict[str, str]:
    return {fold(spelling) or spelling: unit for spelling, unit in KINDS[kind].spellings.items()}


def unit_named(text: str, kind: str) -> str | None:
    """Our name of the unit that `text` spells within `kind`, or None."""
    folded = fold(tidy(text))
    return None if folded is None else _spelled(kind).get(folded)


def would_do(kind: str) -> str:
    """The units of `kind` as they can be typed, for a message: `N/cm, lbf/in`."""
    return ", ".join(unit.removeprefix("lines") for unit in KINDS[kind].units)


# --------------------------------------------------------------------------------------------------------- reading


Within = tuple[float, float, str]
"""What a field takes: from, to, and the unit of both."""


def only_within(readings: Sequence[str], unit: str | None, within: Within | None) -> str | None:
    """The one of two readings of a number in `unit` that lies within the bounds; None where both do, or neither."""
    if within is None or unit is None or len(readings) < 2:
        return None
    low, high, own = within
    fit = [one for one in readings if low - 1e-9 <= convert(number(one), unit, own) <= high * (1 + 1e-9)]
    return fit[0] if len(fit) == 1 else None


def bounds_of(kind: str) -> Within | None:
    """What a kind of quantity can be at all, where its gauges end somewhere."""
    known = KINDS[kind]
    return (known.least, known.most, known.units[0]) if math.isfinite(known.most) else None


def quantity(value: float, unit: str) -> Quantity[float]:
    """`value` in one of our own units (a key of the unit table, such as "N/cm" or "cm3/m2"). Raises CannotBe for what
    is no number: no comparison would notice it."""
    if math.isnan(value):
        raise CannotBe(_("That is not a number: nothing can be worked out from it."))
    return registry().Quantity(float(value), _PINT[unit])


def magnitude(q: Quantity[float], unit: str) -> float:
    """The number of `q` in our unit `unit`. Raises pint's DimensionalityError for a wrong dimension."""
    return float(q.to(_PINT[unit]).magnitude)


@lru_cache(maxsize=256)
def _line(was: str, now: str) -> tuple[float, float]:
    """Every conversion of ours is value x factor + offset; pint is asked once for each pair."""
    offset = magnitude(quantity(0.0, was), now)
    if not offset:
        return magnitude(quantity(1.0, was), now), 0.0
    step = registry().Quantity(1.0, f"delta_{_PINT[was]}").to(f"delta_{_PINT[now]}")
    return float(step.magnitude), offset


def convert(value: float, was: str, now: str) -> float:
    """`value` of our unit `was` in our unit `now`, without making quantities."""
    if was == now:
        return value
    factor, offset = _line(was, now)
    return value * factor + offset


# ---------------------------------------------------------------------------------------------------- named fields

# Longest first, so that `_n_per_cm` is not taken for `_cm`, nor `_cm3_m2` for `_m2`.
_SUFFIXES = {
    "_n_per_cm": "N/cm",
    "_m_per_min": "m/min",
    "_lines_per_in": "lines/in",
    "_lines_per_cm": "lines/cm",
    "_mw_cm2": "mW/cm2",
    "_mj_cm2": "mJ/cm2",
    "_cm3_m2": "cm3/m2",
    "_g_cm3": "g/cm3",
    "_per_cm": "/cm",
    "_per_in": "/in",
    "_degc": "degC",
    "_cm2": "cm2",
    "_cm3": "cm3",
    "_pct": "%",
    "_deg": "deg",
    "_min": "min",
    "_um": "um",
    "_mm": "mm",
    "_cm": "cm",
    "_kg": "kg",
    "_m": "m",
    "_s": "s",
    "_h": "h",
    "_d": "d",
    "_c": "degC",
    "_g": "g",
}


@lru_cache(maxsize=1024)
def unit_of(name: str) -> str | None:
    """Our unit that a field's name ends in (`exposure_s` -> "s"), or None for a plain number or a text."""
    for suffix, unit in _SUFFIXES.items():
        if name.endswith(suffix):
            return unit
    return None


def known(unit: str) -> bool:
    """True for one of our units, of which `kind_of` tells the kind."""
    return unit in KIND_OF_UNIT


def kind_of(unit: str) -> str:
    """The kind that one of our units is of, a key of KINDS; KeyError: none."""
    return KIND_OF_UNIT[unit]


# --------------------------------------------------------------------------------------------------------- showing

# What a reader with US habits sees; microns, grams, seconds and tension (tension meters read N/cm everywhere) stay as
# the trade says them.
_US = {
    "degC": "degF",
    "m/min": "ft/min",
    "mm": "in",
    "cm": "in",
    "m": "ft",
    "cm2": "in2",
    "m2": "ft2",
    "g/cm3": "lb/gal",
    "/cm": "/in",
    "lines/cm": "lines/in",
}
_METRIC = {theirs: ours for ours, theirs in _US.items() if theirs not in ("/in", "lines/in", "in", "ft", "in2", "ft2")}
_METRIC |= {"lbf/in": "N/cm", "in": "mm", "ft": "m", "in2": "cm2", "ft2": "m2", "mil": "um"}
_SHOWN = {
    "um": "µm",
    "cm2": "cm²",
    "m2": "m²",
    "in2": "in²",
    "ft2": "ft²",
    "degC": "°C",
    "degF": "°F",
    "deg": "°",
    "cm3": "cm³",
    "g/cm3": "g/cm³",
    "mW/cm2": "mW/cm²",
    "W/m2": "W/m²",
    "mJ/cm2": "mJ/cm²",
    "J/m2": "J/m²",
    "cm3/m2": "cm³/m²",
    "lines/in": "/in",
    "lines/cm": "/cm",
}
_CLOSE = ("/in", "/cm", "lines/in", "lines/cm", "deg")
_WHOLE = ("degC", "degF")


def unit_text(unit: str) -> str:
    """How our unit is written for people: `cm3/m2` -> `cm³/m²`."""
    return _SHOWN.get(unit, unit)


def number_text(value: float, decimals: int | None = None) -> str:
    """A number with the figures that mean something on the shop floor: three or four, never an exponent."""
    if not math.isfinite(value):
        return "–"
    if decimals is None:
        size = abs(value)
        if size >= 1000 or size == 0:
            decimals = 0
        elif size >= 10:
            decimals = 1
        elif size >= 1:
            decimals = 2
        else:
            decimals = min(6, 2 - math.floor(math.log10(size)))
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def exact_text(value: float) -> str:
    """A limit or what was typed, to six figures and never with an exponent; thousands apart from five figures on."""
    text = f"{value:.6g}"
    if "e" in text:
        text = f"{value:.0f}" if "e+" in text else f"{value:.9f}".rstrip("0").rstrip(".")
    whole, point, rest = text.partition(".")
    if len(whole.lstrip("-")) > 4:
        whole = f"{int(whole):,}".replace(",", "\u202f")
    return whole + point + rest


def unit_in(unit: str, system: str) -> str:
    """The unit in which the reader's system says what is in `unit`."""
    return (_US if system == "us" else _METRIC).get(unit, unit)


def show_value(value: float, unit: str, system: str = "metric") -> str:
    """`value` of our unit `unit` in the reader's system, with its unit."""
    now = unit_in(unit, system)
    value = convert(value, unit, now)
    # Short times are said in the smaller unit, as people say them.
    if now == "d" and 0 < abs(value) < 1:
        value, now = 24 * value, "h"
    if now == "h" and 0 < abs(value) < 1:
        value, now = 60 * value, "min"
    if now == "d":
        shown = number_text(value)
        return (
            ngettext("{number} day", "{number} days", 1 if shown == "1" else 2).format(number=shown).replace(" ", NBSP)
        )
    return _with_unit(value, now)


def show_difference(value: float, unit: str, system: str = "metric") -> str:
    """By how much two quantities in `unit` may differ, in the reader's system: 2 °C are 3.6 °F apart."""
    now = unit_in(unit, system)
    value = value if now == unit else value * _line(unit, now)[0]
    return f"{number_text(value)}{'' if now in _CLOSE else NBSP}{unit_text(now)}"


def show_as_is(value: float, unit: str) -> str:
    """`value` of our unit `unit`, in that unit, whatever the reader's system."""
    return _with_unit(value, unit)


@lru_cache(maxsize=4096)
def _with_unit(value: float, unit: str) -> str:
    """The same in every language. Limits and readings come again and again: a page may show the same dozen times."""
    text = number_text(value, 0 if unit in _WHOLE else None)
    if not unit:
        return text
    return f"{text}{'' if unit in _CLOSE else NBSP}{unit_text(unit)}"


def show(q: Quantity[float], system: str = "metric") -> str:
    """A quantity in the reader's system (metric or us), with its unit."""
    unit = _ours().get(q.units)
    return f"{q:.4g~P}" if unit is None else show_value(float(q.magnitude), unit, system)


@lru_cache(maxsize=1)
def _ours() -> dict[Any, str]:
    """Our units by those of pint; where two are one to pint, the first."""
    return {registry().Unit(_PINT[unit]): unit for unit in reversed(_PINT)}


_LONGER = {"min": (120.0, 60.0, "h"), "h": (72.0, 24.0, "d")}
_SHORTER = {"d": (24.0, "h"), "h": (60.0, "min")}


def span_text(value: float, unit: str) -> str:
    """A span of `min`, `h` or `d` as people say it: `51 min`, `6 h`, `1 day`; a half that was meant stays.

    Rounded down, as an age is said; only short hours keep a tenth. What is typed and worked out is shown by
    `show_value`, which rounds less.
    """
    size = abs(value)
    while unit in _SHORTER and 0 < size < 1:
        factor, unit = _SHORTER[unit]
        size *= factor
    while unit in _LONGER and size >= _LONGER[unit][0]:
        _least, factor, unit = _LONGER[unit]
        size /= factor
    if abs(2 * size - round(2 * size)) > 1e-6:
        size = math.floor(10 * size) / 10 if unit == "h" and size < 10 else max(1.0, math.floor(size))
    return show_value(math.copysign(round(size, 3), value), unit)


def show_named(name: str, value: object, system: str = "metric") -> str:
    """`value` for a message, in the unit that `name` ends in, said in the reader's system. Never raises."""
    try:
        if value is None:
            return "–"
        if isinstance(value, bool):
            return _("yes") if value else _("no")
        if isinstance(value, (list, tuple, set, frozenset)):
            return ", ".join(show_named(name, part, system) for part in _in_order(value))
        unit = unit_of(name)
        if isinstance(value, (int, float)):
            if unit in ("min", "h", "d") and math.isfinite(value):
                return span_text(float(value), unit)
            if unit is not None:
                return show_value(float(value), unit, system)
            return str(value) if isinstance(value, int) else number_text(value)
        if name in ("ink", "inks"):
            return ", ".join(_(INKS[kind]) if kind in INKS else kind for kind in str(value).split(", "))
        if name == "fibre":
            return fibre_said(str(value))
        # A word of ours, such as the place of a reading, has its translation; what people typed has none.
        return _(str(value)) if name.endswith("_word") else str(value)
    except Exception:  # a message with one odd number in it is better than no message
        return repr(value)


def show_apart(name: str, value: object, beside: Iterable[object], system: str = "metric") -> str:
    """As `show_named`, with as many decimals as tell it from the quantities `beside` it in its unit: 159.9 °C beside
    160 °C is never said as 160 °C. Never raises."""
    said, unit = show_named(name, value, system), unit_of(name)
    if unit is None or not isinstance(value, (int, float)) or isinstance(value, bool):
        return said
    near = [
        float(one)
        for one in beside
        if isinstance(one, (int, float)) and one != value and abs(one - value) <= 0.01 * abs(value)
    ]
    near = [one for one in near if show_named(name, one, system) == said]
    if not near:
        return said
    now = unit_in(unit, system)
    mine, theirs = convert(value, unit, now), [convert(one, unit, now) for one in near]
    decimals = next((n for n in range(1, 5) if all(round(mine - one, n) for one in theirs)), 4)
    return f"{mine:.{decimals}f}{'' if now in _CLOSE else NBSP}{unit_text(now)}"


def _in_order(values: Iterable[object]) -> Iterable[object]:
    return sorted(values, key=str) if isinstance(values, (set, frozenset)) else values
