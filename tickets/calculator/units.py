"""Quantities of the trade: one registry, the spellings we take, and how numbers are said.

User text never reaches pint's parser, which reads "25,5" as 255: the number is read here, the unit is looked up in a
table of the trade's spellings, and pint only converts and refuses wrong dimensions. Fields and stored numbers carry
their unit in their name (`exposure_s`, `readings_n_per_cm`).

pint takes some 0.3 s to load, so it is loaded when the first conversion needs it, and never by formatting alone.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from tickets.words import gettext as _
from tickets.words import ngettext

if TYPE_CHECKING:
    import pint
    from pint import Quantity

    ureg: pint.UnitRegistry[Any]

SYSTEMS = ("metric", "us")
NBSP = "\u00a0"


class NotAQuantity(ValueError):
    """The text is no such number or quantity; the message says what would do."""


class CannotBe(ValueError):
    """The quantities cannot be so together (a thread wider than its pitch); the message says what would do."""


@lru_cache(maxsize=1)
def registry() -> pint.UnitRegistry[Any]:
    """The one registry of the process. Quantities of two registries do not mix, so nobody makes another."""
    import pint

    made: pint.UnitRegistry[Any] = pint.UnitRegistry()
    # Threads are a dimension of their own: a mesh count cannot be mistaken for any other number per length.
    made.define("thread = [thread_count] = thr")
    made.define("threads_per_inch = thread/inch = tpi")
    made.define("threads_per_cm = thread/centimeter = tpcm")
    # The lines of a halftone likewise.
    made.define("halftone_line = [line_count]")
    # What a durometer of type A reads is a scale of its own.
    made.define("shore_a = [hardness]")
    return made


def __getattr__(name: str) -> Any:
    if name == "ureg":
        return registry()
    raise AttributeError(name)


# ---------------------------------------------------------------------------------------------------------- units

# Our name of a unit (as in `--json`, exports and messages) -> pint's name. Only these are ever handed to pint.
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
    those of units that are not offered too."""

    units: tuple[str, ...]
    spellings: Mapping[str, str]
    signed: bool = False


def _kind(units: Mapping[str, str], signed: bool = False, more: Mapping[str, str] = MappingProxyType({})) -> Kind:
    """`units`: our name -> its further spellings, separated by commas; `more`: units that are taken, not offered."""
    spellings: dict[str, str] = {}
    for unit, others in (*units.items(), *more.items()):
        for spelling in (unit, *(other.strip() for other in others.split(","))):
            if spelling:
                spellings[spelling] = unit
    return Kind(tuple(units), spellings, signed)


KINDS: Mapping[str, Kind] = {
    "length": _kind(
        {
            "um": "micron, microns, micrometer, micrometre",
            "mm": "millimeter, millimetre",
            "cm": "centimeter, centimetre",
            "m": "meter, metre, meters, metres",
            "mil": "mils, thou",
            "in": "inch, inches, in., \", ''",
            "ft": "foot, feet, ft., '",
        }
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
            "/in": 'per inch, per in, 1/in, tpi, threads/in, threads/inch, threads per inch, /inch, mesh, /"',
            "/cm": "per cm, 1/cm, tpcm, threads/cm, threads per cm",
        }
    ),
    "ruling": _kind(
        {
            "lines/in": '/in, per inch, per in, 1/in, lpi, lines per inch, /inch, /"',
            "lines/cm": "/cm, per cm, 1/cm, lpcm, lines per cm",
        }
    ),
    "tension": _kind({"N/cm": "N per cm, newton/cm", "lbf/in": "lb/in, lbs/in, lbf per inch, lbf/inch"}),
    "time": _kind(
        {
            "s": "sec, secs, second, seconds",
            "min": "mins, minute, minutes",
            "h": "hr, hrs, hour, hours",
            "d": "day, days",
        }
    ),
    "temperature": _kind(
        {"degC": "C, °C, deg C, degrees C, celsius", "degF": "F, °F, deg F, degrees F, fahrenheit"},
        signed=True,
    ),
    "speed": _kind(
        {
            "m/min": "m per min, metres/min, meters/min",
            "ft/min": "fpm, ft per min, ft/minute, feet/min, feet per minute",
        },
        more={
            "cm/min": "cm per min",
            "in/min": "in per min, inch/min, inches/min, ipm",
            "cm/s": "cm per s, cm/sec",
            "in/s": "in per s, in/sec, inch/s, inches/s, ips",
        },
    ),
    "mass": _kind(
        {
            "g": "gram, grams, gr",
            "kg": "kilo, kilos, kilogram, kilograms",
            "oz": "ounce, ounces",
            "lb": "lbs, pound, pounds",
        }
    ),
    "density": _kind({"g/cm3": "g/cc, g/ml, kg/l, g/cm^3", "lb/gal": "lbs/gal, lb per gal"}),
    "volume": _kind(
        {"cm3": "cc, cm^3", "ml": "", "l": "litre, liter, litres, liters", "gal": "gallon, gallons, US gal"}
    ),
    "irradiance": _kind({"mW/cm2": "mW/cm^2, mW per cm2", "W/m2": "W/m^2"}),
    "dose": _kind({"mJ/cm2": "mJ/cm^2, mJ per cm2", "J/m2": "J/m^2"}),
    "percent": _kind({"%": "percent, per cent, pct"}),
    "angle": _kind({"deg": "°, degree, degrees"}),
    "hardness": _kind({"Shore A": "A, Sh A, ShA, ° Shore A, °Shore A, duro, durometer"}),
    "film": _kind({"cm3/m2": "cm^3/m^2, cc/m2, ml/m2"}),
}
# kg/l and g/cm3 are one unit in size, and um of wet film and cm3/m2 likewise; the latter is left to `film` alone.

_KIND_OF_UNIT = {unit: name for name, kind in KINDS.items() for unit in kind.units}

_LOOKALIKES = str.maketrans(
    {
        "\u00b5": "u",
        "\u03bc": "u",
        "\u00b2": "2",
        "\u00b3": "3",
        "\u2033": '"',
        "\u201d": '"',
        "\u2032": "'",
        "\u2019": "'",
        "\u00ba": "°",
        "\u2212": "-",
        "\u2009": " ",
        "\u202f": " ",
        NBSP: " ",
    }
)


def _tidy(text: str) -> str:
    return " ".join(text.translate(_LOOKALIKES).split())


def _fold(spelling: str) -> str | None:
    """The spelling for a look-up that forgives capitals; None where capitals carry sense (MW is not mW)."""
    bare = re.sub(r"\s*([/^])\s*", r"\1", spelling)
    return None if re.match(r"M[WJ]", bare) else bare.lower()


@lru_cache(maxsize=len(KINDS) + 1)
def _spelled(kind: str) -> dict[str, str]:
    return {_fold(spelling) or spelling: unit for spelling, unit in KINDS[kind].spellings.items()}


def unit_named(text: str, kind: str) -> str | None:
    """Our name of the unit that `text` spells within `kind`, or None."""
    folded = _fold(_tidy(text))
    return None if folded is None else _spelled(kind).get(folded)


def would_do(kind: str) -> str:
    """The units of `kind` as they can be typed, for a message: `N/cm, lbf/in`."""
    return ", ".join(unit.removeprefix("lines") for unit in KINDS[kind].units)


# --------------------------------------------------------------------------------------------------------- reading

_NUMBER = re.compile(r"-?(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)")
_TWO_WAYS = re.compile(r"-?[1-9][0-9]{0,2},[0-9]{3}")
_LONGEST = 24


def number(text: str) -> float:
    """The number in `text`: digits with at most one decimal mark, `.` or `,`.

    Raises NotAQuantity for anything else, and for "1,250": that is 1250 to one reader and 1.25 to another.
    """
    tidy = _tidy(text)
    shown = tidy[:40]
    if not tidy:
        raise NotAQuantity(_("A number is wanted, such as 25.5."))
    if "." in tidy and "," in tidy or tidy.count(".") > 1 or tidy.count(",") > 1:
        raise NotAQuantity(
            _("“{text}” has more than one mark: type the number with one decimal mark only, such as 1250.5.").format(
                text=shown
            )
        )
    if not _NUMBER.fullmatch(tidy) or len(tidy) > _LONGEST:
        raise NotAQuantity(
            _("“{text}” is not a number we take: type digits with at most one decimal mark, such as 25.5.").format(
                text=shown
            )
        )
    if _TWO_WAYS.fullmatch(tidy):
        raise NotAQuantity(
            _("“{text}” can be read in two ways: type {whole}, or {fraction}.").format(
                text=shown, whole=tidy.replace(",", ""), fraction=tidy.replace(",", ".")
            )
        )
    return float(tidy.replace(",", "."))


def split(text: str) -> tuple[str, str]:
    """The number's text and the unit's text, either may be empty; neither is judged yet."""
    tidy = _tidy(text)
    found = re.match(r"[-+]?[0-9.,_]*(?:[eE][-+]?[0-9]+)?", tidy)
    end = found.end() if found else 0
    if end == 0 and re.match(r"(?i)[-+]?(nan|inf)", tidy):
        end = len(tidy.split(" ")[0])
    return tidy[:end].strip(), tidy[end:].strip()


def read_value(text: str, kind: str, bare: str | None = None) -> tuple[float, str]:
    """The number and our name of its unit. A bare number is in the unit `bare`; where that is None it is refused."""
    asked = KINDS[kind]
    digits, spelling = split(text)
    if not digits and spelling:
        raise NotAQuantity(
            _("“{text}” has no number in front: type a number with its unit. Units that would do: {units}.").format(
                text=_tidy(text)[:40], units=would_do(kind)
            )
        )
    try:
        value = number(digits)
    except NotAQuantity as fault:
        raise NotAQuantity(
            _("{fault} Units that would do: {units}.").format(fault=fault, units=would_do(kind))
        ) from None
    if not spelling:
        if bare is None:
            raise NotAQuantity(
                _("“{text}” has no unit. Units that would do: {units}.").format(text=digits, units=would_do(kind))
            )
        unit: str | None = bare
    else:
        unit = unit_named(spelling, kind)
    if unit is None and re.match(r"/ ?[0-9]", spelling):
        raise NotAQuantity(
            _("“{text}” is a fraction: type it with a decimal mark, as in 0.125 for 1/8. Units: {units}.").format(
                text=_tidy(text)[:40], units=would_do(kind)
            )
        )
    if unit is None and re.match(r"[*x0-9]", spelling):
        raise NotAQuantity(
            _("“{text}” is no number with a unit: type digits with at most one decimal mark. Units: {units}.").format(
                text=_tidy(text)[:40], units=would_do(kind)
            )
        )
    if unit is None:
        raise NotAQuantity(
            _("“{unit}” is no unit for this. Units that would do: {units}.").format(
                unit=spelling[:20], units=would_do(kind)
            )
        )
    if value < 0 and not asked.signed:
        raise NotAQuantity(_("“{text}” is below zero, which cannot be here.").format(text=_tidy(text)[:40]))
    if kind == "temperature" and convert(value, unit, "degC") < -273.15:
        raise NotAQuantity(_("“{text}” is below absolute zero.").format(text=_tidy(text)[:40]))
    return value, unit


def read(text: str, kind: str) -> Quantity[float]:
    """The quantity in `text`, such as "25,5 N/cm"; `kind` is a key of KINDS.

    Raises NotAQuantity, naming the units that would do, for a bare number, an unknown unit or one of another kind.
    """
    value, unit = read_value(text, kind)
    return quantity(value, unit)


def quantity(value: float, unit: str) -> Quantity[float]:
    """`value` in one of our own units (a key of the unit table, such as "N/cm" or "cm3/m2")."""
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


def units_for(name: str) -> tuple[str, ...]:
    """The units that a form may offer beside the field `name`, its own first; empty for a plain number."""
    unit = unit_of(name)
    if unit is None:
        return ()
    return (unit, *(other for other in KINDS[_KIND_OF_UNIT[unit]].units if other != unit))


def read_field(name: str, text: str, unit: str | None = None) -> float:
    """The number of `text` in the unit of the field's name.

    A bare number is in `unit` (a spelling from the table) where one is given, else in the name's own unit; a unit
    inside the text wins. Raises NotAQuantity for another kind of unit, and for a unit where none belongs.
    """
    own = unit_of(name)
    if own is None:
        if unit and _tidy(unit):
            raise NotAQuantity(_("“{unit}” is not wanted here: a plain number would do.").format(unit=unit[:20]))
        return number(text)
    kind = _KIND_OF_UNIT[own]
    bare: str | None = own
    if unit and _tidy(unit):
        bare = unit_named(unit, kind)
        if bare is None:
            raise NotAQuantity(
                _("“{unit}” is no unit for this. Units that would do: {units}.").format(
                    unit=unit[:20], units=would_do(kind)
                )
            )
    value, read_unit = read_value(text, kind, bare)
    return convert(value, read_unit, own)


def typed_unit(name: str, text: str, unit: str | None = None) -> str | None:
    """Our unit in which `text` was typed into the field `name` (see `read_field`); None for a plain number."""
    own = unit_of(name)
    if own is None:
        return None
    kind = _KIND_OF_UNIT[own]
    return unit_named(split(text)[1] or unit or "", kind) or own


def span_typed(low: float, high: float, own: str, typed: str) -> dict[str, str]:
    """The ends of a span in `own` for a message, said in the unit that was `typed`: low, high, unit. Rounded inwards,
    so that both ends would do."""
    if own == typed:
        return {"low": exact_text(low), "high": exact_text(high), "unit": own.removeprefix("lines")}
    ends = []
    for end, inwards in ((low, math.ceil), (high, math.floor)):
        value = convert(end, own, typed)
        step = 10.0 ** (math.floor(math.log10(abs(value))) - 2) if value else 1.0
        ends.append(exact_text(inwards(round(value / step, 6)) * step))
    return {"low": ends[0], "high": ends[1], "unit": typed.removeprefix("lines")}


# --------------------------------------------------------------------------------------------------------- showing

# What a reader with US habits sees; mesh counts, microns, grams and seconds stay as the trade says them everywhere.
_US = {
    "N/cm": "lbf/in",
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
_METRIC |= {"in": "mm", "ft": "m", "in2": "cm2", "ft2": "m2", "mil": "um"}
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
        text = f"{value:.0f}" if abs(value) >= 1 else f"{value:.9f}".rstrip("0").rstrip(".")
    whole, point, rest = text.partition(".")
    if len(whole.lstrip("-")) > 4:
        whole = f"{int(whole):,}".replace(",", "\u202f")
    return whole + point + rest


def show_value(value: float, unit: str, system: str = "metric") -> str:
    """`value` of our unit `unit` in the reader's system, with its unit."""
    now = (_US if system == "us" else _METRIC).get(unit, unit)
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
    now = (_US if system == "us" else _METRIC).get(unit, unit)
    value = value if now == unit else value * _line(unit, now)[0]
    return f"{number_text(value)}{'' if now in _CLOSE else NBSP}{unit_text(now)}"


@lru_cache(maxsize=4096)
def _with_unit(value: float, unit: str) -> str:
    """The same in every language. Limits and readings come again and again: a page may show the same dozen times."""
    text = number_text(value, 0 if unit in _WHOLE else None)
    if not unit:
        return text
    return f"{text}{'' if unit in _CLOSE else NBSP}{unit_text(unit)}"


def show(q: Quantity[float], system: str = "metric") -> str:
    """A quantity in the reader's system (metric or us), with its unit."""
    for unit in _PINT:
        if q.units == registry().Unit(_PINT[unit]):
            return show_value(float(q.magnitude), unit, system)
    return f"{q:.4g~P}"


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
        # A word of ours, such as the place of a reading, has its translation; what people typed has none.
        return _(str(value)) if name.endswith("_word") else str(value)
    except Exception:  # a message with one odd number in it is better than no message
        return repr(value)


def _in_order(values: Iterable[object]) -> Iterable[object]:
    return sorted(values, key=str) if isinstance(values, (set, frozenset)) else values
