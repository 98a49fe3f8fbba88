"""Quantities of the trade: one registry, the spellings we take, and how numbers are said.

User text never reaches pint's parser, which reads "25,5" as 255: the number is read by `numerals`, the unit is looked
up in a table of the trade's spellings, and pint only converts and refuses wrong dimensions. `take` is the one reader
of a quantity: pages, files and commands all come to it. Fields and stored numbers carry their unit in their name
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

from tickets.calculator.numerals import (
    NBSP,
    NUMERAL,
    Asks,
    NotAQuantity,
    clear,
    clock,
    in_thousands,
    number,
    said_plainly,
    split,
    tidy,
    unsure,
)
from tickets.words import gettext as _
from tickets.words import ngettext

if TYPE_CHECKING:
    import pint
    from pint import Quantity

    ureg: pint.UnitRegistry[Any]

__all__ = [
    "NBSP",
    "NUMERAL",
    "Asks",
    "NotAQuantity",
    "clear",
    "clock",
    "in_thousands",
    "number",
    "said_plainly",
    "split",
    "tidy",
]
"""What is known here and ."""

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
    asked = {_fold(one.strip()) or "": meant for some, meant in ask.items() for one in some.split(",")}
    return Kind(tuple(units), spellings, asked, signed, fractions, most, least)


def _fold(spelling: str) -> str | None:
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

_KIND_OF_UNIT = {unit: name for name, kind in reversed(list(KINDS.items())) for unit in kind.units}


@lru_cache(maxsize=len(KINDS) + 1)
def _spelled(kind: str) -> dict[str, str]:
    return {_fold(spelling) or spelling: unit for spelling, unit in KINDS[kind].spellings.items()}


def unit_named(text: str, kind: str) -> str | None:
    """Our name of the unit that `text` spells within `kind`, or None."""
    folded = _fold(tidy(text))
    return None if folded is None else _spelled(kind).get(folded)


def would_do(kind: str) -> str:
    """The units of `kind` as they can be typed, for a message: `N/cm, lbf/in`."""
    return ", ".join(unit.removeprefix("lines") for unit in KINDS[kind].units)


# --------------------------------------------------------------------------------------------------------- reading


@dataclass(frozen=True, slots=True)
class Typed:
    """A quantity as read: its number in our `unit`; `said`: what was typed, with its unit, such that it reads as the
    very same again; `own`: the unit stood in the text itself."""

    value: float
    unit: str
    said: str
    own: bool = True


Within = tuple[float, float, str]
"""What a field takes: from, to, and the unit of both."""


def take(
    text: str,
    kind: str,
    bare: str | None = None,
    kept: bool = False,
    bounded: bool = True,
    within: Within | None = None,
) -> Typed:
    """The quantity in `text`, such as "25,5 N/cm", "2 1/2 in", "8' 6\"", "1 min 30 s", "1:30" (a time); `kind` is a key
    of KINDS. A bare number is in the unit `bare`; where that is None it is refused. `kept`: it was read once and stands
    in the log, so that it is not asked about again. `bounded`: held within what the kind can be; False where the caller
    holds it within narrower bounds of its own, and says those. `within`: those; a number that may be in thousands
    is not asked about where only one of its readings lies within them (without them: within what the kind can be).

    Raises NotAQuantity, naming the units that would do, and Asks where it can be read in more than one way.
    """
    plain = unsure(tidy(text))
    found = _in_parts(plain, kind) or _by_clock(plain, kind, bare) or _one_number(plain, kind, bare, kept, within)
    asked = KINDS[kind]
    if found.value < 0 and not asked.signed:
        raise NotAQuantity(_("“{text}” is below zero, which cannot be here.").format(text=plain[:40]))
    if kind == "temperature" and convert(found.value, found.unit, "degC") < -273.15:
        raise NotAQuantity(_("“{text}” is below absolute zero.").format(text=plain[:40]))
    if not bounded or not math.isfinite(asked.most):
        return found
    size = convert(found.value, found.unit, asked.units[0])
    if size < asked.least - 1e-9:
        span = span_typed(asked.least, asked.most, asked.units[0], found.unit)
        raise NotAQuantity(
            _("“{text}” cannot be right: {low} {unit} is the least that would do.").format(text=plain[:40], **span)
        )
    if size > asked.most * (1 + 1e-9):
        span = span_typed(0, asked.most, asked.units[0], found.unit)
        raise NotAQuantity(
            _("“{text}” cannot be right: {high} {unit} is the most that would do.").format(text=plain[:40], **span)
        )
    return found


def _is_clear(digits: str, spelling: str, kind: str, bare: str | None) -> bool:
    """Whether a point before three digits can only be a decimal mark here: behind it stands a unit of which nobody has
    a thousand times as many, or inches, whose eighths have three decimals (`1.125 in`)."""
    if not in_thousands(digits) or "." not in digits:
        return False
    unit = (unit_named(spelling, kind) if spelling else bare) or KINDS[kind].units[0]
    return unit == "in" or convert(float(digits.replace(".", "")), unit, KINDS[kind].units[0]) > KINDS[kind].most


_QUARTERS = 4
"""Into how many parts a second or a minute is parted by those who say it as a fraction (judgement)."""


def _ask_of_span(plain: str, digits: str, spelling: str, kind: str) -> None:
    """Asks for `8/10 s`: a share to one, a span from 8 to 10 to another."""
    found = re.fullmatch(r"([0-9]{1,2})/([0-9]{1,2})", digits)
    if found is None or not 0 < int(found[1]) < int(found[2]):
        return
    parts = int(found[2])
    if parts != 10 and (kind != "time" or parts <= _QUARTERS):
        return
    readings = [f"{one} {spelling}".strip() for one in (f"{int(found[1]) / parts:.4g}", found[1], found[2])]
    said = _("“{text}”: {one}, or a span from {low} to {high}? Type the one number that is meant.")
    raise Asks(said.format(text=plain[:40], one=readings[0], low=found[1], high=readings[2]), readings)


def only_within(readings: Sequence[str], unit: str | None, within: Within | None) -> str | None:
    """The one of two readings of a number in `unit` that lies within the bounds; None where both do, or neither."""
    if within is None or unit is None or len(readings) < 2:
        return None
    low, high, own = within
    fit = [one for one in readings if low - 1e-9 <= convert(number(one), unit, own) <= high * (1 + 1e-9)]
    return fit[0] if len(fit) == 1 else None


def _bounds_of(kind: str) -> Within | None:
    """What a kind of quantity can be at all, where its gauges end somewhere."""
    known = KINDS[kind]
    return (known.least, known.most, known.units[0]) if math.isfinite(known.most) else None


def _one_number(plain: str, kind: str, bare: str | None, kept: bool = False, within: Within | None = None) -> Typed:
    """One number with one unit behind it, or none."""
    digits, spelling = split(plain)
    narrowed = False
    if kind == "mesh count":
        _ask_of_label(plain)
    if not digits and spelling:
        raise NotAQuantity(
            _("“{text}” has no number in front: type a number with its unit. Units that would do: {units}.").format(
                text=plain[:40], units=would_do(kind)
            )
        )
    if KINDS[kind].fractions and not kept:
        _ask_of_span(plain, digits, spelling or bare or KINDS[kind].units[0], kind)
    try:
        value = number(digits, KINDS[kind].fractions, kept or _is_clear(digits, spelling, kind, bare))
    except NotAQuantity as fault:
        beside = unit_named(spelling, kind) if spelling else bare
        only = only_within(fault.readings, beside, within or _bounds_of(kind))
        if only is not None:
            value, narrowed = number(only), True
            digits = only if only.isdigit() else digits.replace(",", ".")  # no thousand: its mark is the decimal one
        elif fault.readings and (spelling or bare is None):
            readings = _each_with_unit(fault.readings, plain, digits, spelling, kind)
            said = _("“{text}” can be read in two ways: type {whole}, or {fraction}.")
            raise Asks(said.format(text=plain[:40], whole=readings[0], fraction=readings[-1]), readings) from None
        else:
            told = _("{fault} Units that would do: {units}.").format(fault=fault, units=would_do(kind))
            raise (Asks(told, fault.readings) if fault.readings else NotAQuantity(told)) from None
    if not spelling and not kept:
        _ask_of_bare(plain, digits, value, kind, bare)
    unit = unit_named(spelling, kind) if spelling else bare
    if unit is None and bare and bare in _may_mean(spelling, kind):
        if kind == "mesh count":
            _ask_of_count(plain, digits, spelling, value, bare)
        unit, spelling = bare, ""  # the unit that was chosen beside it answers what it could mean
    if unit is None:
        raise _no_unit(plain, digits, spelling, kind)
    if kind == "mesh count" and not kept:
        _ask_of_count(plain, digits, spelling, value, bare)
    if narrowed and digits != split(plain)[0]:  # said such that it reads so again
        return Typed(value, unit, f"{digits} {spelling}" if spelling else _joined(digits, unit), False)
    return Typed(value, unit, plain if spelling else _joined(digits, unit), bool(spelling))


def is_share(text: str) -> bool:
    """Whether a number without a unit is below one, so that beside % it may be the share itself: 0.7 for 70 %."""
    digits, spelling = split(tidy(text))
    try:
        return not spelling and 0 < number(digits) < 1
    except NotAQuantity:
        return False


def _ask_of_bare(plain: str, digits: str, value: float, kind: str, bare: str | None) -> None:
    """Asks for a bare number that may be in another unit than the one beside its box: inches and a share of one are
    written so."""
    if kind == "length" and "/" in digits and bare != "in":
        readings = [f"{digits} in", f"{said_plainly(value)} {bare or 'mm'}"]
        said = _("“{text}” is written as inches are: is {readings} meant?")
    elif kind == "percent" and is_share(plain):
        readings = [f"{said_plainly(100 * value)} %", f"{said_plainly(value)} %"]
        said = _("“{text}”: is {readings} meant?")
    else:
        return
    raise Asks(said.format(text=plain[:40], readings=_(" or ").join(readings)), readings)


def _each_with_unit(readings: Iterable[str], plain: str, digits: str, spelling: str, kind: str) -> list[str]:
    """The readings of a number that can be read in two ways, each with the unit that may be meant. Raises NotAQuantity
    where there is none."""
    if spelling.upper() == "T" and kind == "mesh count":
        spelling = "/cm"
    if unit_named(spelling, kind):
        return [f"{one} {spelling}" for one in readings]
    meant = _may_mean(spelling, kind)
    if not meant:
        raise _no_unit(plain, digits, spelling, kind) from None
    return [_joined(one, unit) for unit in meant for one in readings]


def _joined(digits: str, unit: str) -> str:
    """A number with our unit behind it, as it can be typed: `65/in`, `25.5 N/cm`."""
    shown = unit.removeprefix("lines")
    return f"{digits}{'' if shown.startswith('/') or not shown else ' '}{shown}"


_FINEST_T = 200
"""Threads per cm of the finest mesh that is woven for printing (judgement): `230T` cannot be per cm."""
_ON_BOTH = frozenset({80, 110, 125, 137, 140, 155, 156, 158, 160, 175, 180, 195, 196})
"""Counts per inch that shops stock (common practice) and that are, or may be taken for, a count per cm with a T."""


def _ask_of_count(plain: str, digits: str, spelling: str, value: float, bare: str | None) -> None:
    """Asks for a count that may be meant in the other unit: `156T`, which is stocked per inch; a T against the unit
    that was tapped; a bare count that no mesh has per cm; `77 mesh` beside a unit that stands there untouched."""
    if spelling.upper() == "T":
        if value > _FINEST_T:
            raise _which(plain, digits, ("/in",), "mesh count")
        if value in _ON_BOTH or bare == "/in":
            raise _which(plain, digits, ("/in", "/cm"), "mesh count")
    elif bare == "/cm" and not unit_named(spelling, "mesh count"):
        if value > _FINEST_T:
            raise _which(plain, digits, ("/in",), "mesh count")
        if _fold(spelling) in ("mesh", "mesh count"):
            raise _which(plain, digits, ("/in", "/cm"), "mesh count")


_LABEL = re.compile(r"([0-9]{2,3})\s*[-/]\s*([0-9]{2,3})\s*(?:[A-Za-z]{1,2})?")


def _ask_of_label(plain: str) -> None:
    """Asks for a label that names count and thread, `90-48`: per cm in one country, per inch in the other."""
    found = _LABEL.fullmatch(plain)
    if found is None:
        return
    count, thread_um = int(found[1]), int(found[2])
    # a thread as wide as its pitch leaves nothing open, so that reading cannot be meant
    fit = [unit for unit, um in (("/cm", 10_000), ("/in", 25_400)) if count and thread_um < um / count]
    readings = [f"{count}{unit}" for unit in fit or ("/cm", "/in")]
    raise Asks(
        _("“{text}” names a count and a thread: type the count alone with its unit, {readings}; {thread} um goes with "
          "the thread.").format(text=plain, readings=_(" or ").join(readings), thread=thread_um),
        readings,
    )  # fmt: skip


def _may_mean(spelling: str, kind: str) -> tuple[str, ...]:
    """The units that a spelling may mean without being one; empty: none."""
    folded = _fold(spelling)
    found = () if folded is None else KINDS[kind].ask.get(folded, ())
    return tuple(f"lines{unit}" if kind == "ruling" else unit for unit in found)


def _no_unit(plain: str, digits: str, spelling: str, kind: str) -> NotAQuantity:
    """Why a text without a unit of ours is refused, or asked about."""
    meant = _may_mean(spelling, kind)
    if meant:
        return _which(plain, digits, meant, kind)
    if not spelling:
        return NotAQuantity(
            _("“{text}” has no unit. Units that would do: {units}.").format(text=digits, units=would_do(kind))
        )
    if re.match(r"/ ?[0-9]", spelling):
        return NotAQuantity(
            _("“{text}” is a fraction: type it with a decimal mark, as in 0.125 for 1/8. Units: {units}.").format(
                text=plain[:40], units=would_do(kind)
            )
        )
    if re.search(r"(?:^|[\s\"'])[xX*] ?[0-9]", spelling) or re.search(r"[a-z0-9]\s*(?:[xX*]|by) [0-9]", spelling):
        return NotAQuantity(
            _(
                "“{text}” is a size, two numbers: type one here, with its unit ({units}), and the other beside it."
            ).format(text=plain[:40], units=would_do(kind))
        )
    if re.match(r"(?:-|–|to\b|\.\.) ?[0-9]", spelling):
        return NotAQuantity(
            _("“{text}” is a span: type one number with its unit. Units that would do: {units}.").format(
                text=plain[:40], units=would_do(kind)
            )
        )
    if re.match(r"[*0-9:]", spelling):
        return NotAQuantity(
            _("“{text}” is no number with a unit: type digits with at most one decimal mark. Units: {units}.").format(
                text=plain[:40], units=would_do(kind)
            )
        )
    return NotAQuantity(
        _("“{unit}” is no unit for this. Units that would do: {units}.").format(
            unit=spelling[:20], units=would_do(kind)
        )
    )


def _which(plain: str, digits: str, meant: tuple[str, ...], kind: str) -> Asks:
    """The question which unit is meant, with a text for each that reads in that unit only."""
    readings = [_joined(digits, unit) for unit in meant]
    if kind == "mesh count" and len(readings) == 2:
        said = _("“{text}”: per inch or per cm? Type {readings}.")
    elif len(readings) == 1:
        said = _("“{text}”: is {readings} meant? Units that would do: {units}.")
    else:
        said = _("“{text}” has no unit that tells which is meant: type {readings}. Units that would do: {units}.")
    return Asks(said.format(text=plain[:40], readings=_(" or ").join(readings), units=would_do(kind)), readings)


_WORD = r"(?:[A-Za-z]+\.?|''|[\"'])"
_PART = re.compile(rf"({NUMERAL})\s*({_WORD})")
_BETWEEN = r"\s*(?:,|-|\band\b)?\s*"
_PARTS = re.compile(rf"{_PART.pattern}(?:{_BETWEEN}{_PART.pattern}){{1,3}}")
_CUT_SHORT = re.compile(rf"{_PART.pattern}{_BETWEEN}({NUMERAL})")
_NEXT = {"ft": "in", "h": "min", "min": "s", "lb": "oz"}
_IN_PARTS: Mapping[str, Mapping[str, str]] = {
    "length": {},
    "mass": {},
    # what nobody takes for metres, feet or inches behind another part of a time
    "time": {"m": "min", "'": "min", '"': "s", "''": "s"},
}
"""Kinds that are said in parts, each with what its units are called there only."""


def _in_parts(plain: str, kind: str) -> Typed | None:
    """`8' 6"`, `1 min 30 s`, `2 lb 4 oz`: each part of a smaller unit, less than one of the unit before it."""
    if kind not in _IN_PARTS:
        return None
    also = _IN_PARTS[kind]

    def unit_in(word: str) -> str | None:
        return also.get(word) or unit_named(word, kind)

    short = _CUT_SHORT.fullmatch(plain)
    if short and (bigger := unit_in(short[2])) in _NEXT and not _PARTS.fullmatch(plain):
        meant = f"{plain} {_NEXT[bigger]}"
        said = _("“{text}” ends without a unit: is {readings} meant?").format(text=plain[:40], readings=meant)
        raise Asks(said, (meant,))
    if not _PARTS.fullmatch(plain):
        return None
    parts = [(part[1], unit_in(part[2])) for part in _PART.finditer(plain)]
    total, last, last_unit = 0.0, 0.0, ""
    for order, (digits, unit) in enumerate(parts):
        if unit is None:
            return None
        value = number(digits, KINDS[kind].fractions)
        if order:
            size = convert(1.0, last_unit, unit)
            if size <= 1 + 1e-9 or last != int(last) or value >= size - 1e-9:
                raise NotAQuantity(
                    _("“{text}” does not add up: each part must be less than one of the unit before it.").format(
                        text=plain[:40]
                    )
                )
            total = convert(total, last_unit, unit)
        total, last, last_unit = total + value, value, unit
    return Typed(round(total, 9), last_unit, plain)


def _by_clock(plain: str, kind: str, bare: str | None) -> Typed | None:
    """`1:30` as a time: minutes and seconds where seconds are asked, hours and minutes where hours or days are."""
    digits, spelling = split(plain)
    parts = clock(digits) if kind == "time" else None
    if parts is None:
        return None
    unit = unit_named(spelling, kind) if spelling else bare or "s"
    first, second, third = parts
    minutes, hours = f"{first} min {second} s", f"{first} h {second} min"
    if unit is None:
        raise _no_unit(plain, digits, spelling, kind)
    if third >= 0 and spelling:
        meant = f"{first} h {second} min {third} s"
        said = _("“{text}”: is {readings} meant? Units that would do: {units}.")
        raise Asks(said.format(text=plain[:40], readings=meant, units=would_do(kind)), (meant,))
    if third >= 0:
        return Typed(3600 * first + 60 * second + third, "s", f"{first} h {second} min {third} s", False)
    if (unit == "min" and not spelling) or (unit in ("s", "d") and spelling):
        said = _("“{text}” can be read in two ways: type {whole}, or {fraction}.")
        raise Asks(said.format(text=plain[:40], whole=minutes, fraction=hours), (minutes, hours))
    if unit in ("s", "min"):
        return Typed(60 * first + second, "s", minutes, False)
    return Typed(60 * first + second, "min", hours, False)


OTHERS: Mapping[str, tuple[str, ...]] = {
    "degC": ("degF",),
    "degF": ("degC",),
    "mm": ("in",),
    "cm": ("in",),
    "in": ("mm", "cm"),
    "N/cm": ("lbf/in",),
    "lbf/in": ("N/cm",),
    "s": ("min",),
    "min": ("s",),
    "m/min": ("ft/min",),
    "ft/min": ("m/min",),
}
"""A unit, and those of its kind that another gauge in the same shop reads in."""
FAR = 0.25
"""By what share of its target a reading may be off before its unit is doubted (judgement: no press or dryer that is set
up at all is off by as much, and no two of these units are as near as that)."""


SLIP = 0.03
"""Within what share of its target a tenth of a number, or ten times it, is taken for a slip of the mark (judgement)."""


def sure_of_unit(text: str, kind: str, unit: str, aim: str) -> None:
    """Asks for a number without a unit that would be far from its target in `unit`, the target's own, and near it in
    another (160 beside 325 °F) or with its mark moved (21 beside 2.1 m/min), and for a bare degree sign. `aim` is the
    target as typed; one that is no number with its unit asks nothing."""
    digits, spelling = split(text)
    try:
        value, typed = number(digits, KINDS[kind].fractions), take(aim, kind, unit, kept=True)
    except NotAQuantity:
        return
    wanted = convert(typed.value, typed.unit, unit)
    meant = _may_mean(spelling, kind)
    if unit in meant and len(meant) > 1:
        raise _which(text, digits, meant, kind)

    def near(one: str) -> bool:
        return abs(convert(value, one, unit) - wanted) <= FAR * abs(wanted)

    if spelling or near(unit):
        return
    readings = [f"{digits} {unit_text(one)}" for one in OTHERS.get(unit, ()) if near(one)]
    if not readings and wanted and any(abs(value * by - wanted) <= SLIP * wanted for by in (0.1, 10)):
        by = 0.1 if value > wanted else 10
        readings = [f"{said_plainly(round(value * by, 6))} {unit_text(unit)}"]
    if not readings:
        return
    readings.append(f"{digits} {unit_text(unit)}")
    said = _("“{text}”: {readings}? The target is {aim}.")
    raise Asks(said.format(text=digits, readings=_(" or ").join(readings), aim=aim), readings)


def unit_behind(text: str, kind: str) -> str | None:
    """Our unit that the quantity in `text` was typed in; None where it says none, or is none."""
    try:
        found = take(text, kind)
    except NotAQuantity:
        return unit_named(split(text)[1], kind)  # its number may be what is wrong
    return found.unit


def is_bare(text: str) -> bool:
    """Whether no unit stands behind the number in `text`, so that the one beside its box counts."""
    return not split(text)[1]


def is_quantity(text: str, kind: str) -> bool:
    """Whether `text` is a number of `kind` with its unit, whether or not it can be right."""
    digits, _spelling = split(text)
    return bool(digits) and unit_behind(text, kind) is not None


def read_value(text: str, kind: str, bare: str | None = None, kept: bool = False) -> tuple[float, str]:
    """The number and our name of its unit, as `take` reads them."""
    found = take(text, kind, bare, kept)
    return found.value, found.unit


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


def take_field(
    name: str, text: str, unit: str | None = None, kept: bool = False, span: tuple[float, float] | None = None
) -> Typed:
    """The quantity of a field, in the unit that it was typed in.

    A bare number is in `unit` (a spelling from the table) where one is given, else in the name's own unit; a unit
    inside the text wins; `kept` as in `take`; `span`: what the field takes, in its own unit.

    Raises NotAQuantity for another kind of unit, and for a unit where none
    belongs.
    """
    own = unit_of(name)
    if own is None:
        if unit and tidy(unit):
            raise NotAQuantity(_("“{unit}” is not wanted here: a plain number would do.").format(unit=unit[:20]))
        try:
            return Typed(number(text, False, kept), "", clear(tidy(text)), False)
        except Asks as asks:
            only = only_within(asks.readings, "", (*span, "") if span else None)
            if only is None:
                raise
            return Typed(number(only), "", only, False)
    return take(text, _KIND_OF_UNIT[own], bare_unit(name, unit), kept, within=(*span, own) if span else None)


def bare_unit(name: str, unit: str | None = None) -> str:
    """Our unit of a bare number in the field `name`: `unit` (a spelling from the table) where one is given, else the
    name's own. Raises NotAQuantity for a unit of another kind."""
    own = unit_of(name) or ""
    if not unit or not tidy(unit):
        return own
    kind = _KIND_OF_UNIT[own]
    found = unit_named(unit, kind)
    if found is None:
        raise NotAQuantity(
            _("“{unit}” is no unit for this. Units that would do: {units}.").format(
                unit=unit[:20], units=would_do(kind)
            )
        )
    return found


def whole(text: str, low: float = -math.inf, high: float = math.inf) -> int:
    """The whole number in `text`, from `low` to `high`. Raises NotAQuantity, saying what would do; Asks for "1.000":
    nobody writes three decimals of a count, and many part thousands with a point."""
    try:
        value = number(text, fractions=False)
    except Asks as asks:
        only = only_within(asks.readings, "", (low, high, ""))
        if only is not None and "." not in only and not 1000 <= float(only):
            return int(only)
        readings = [one for one in asks.readings if "." not in one]
        said = _("“{text}”: a whole number is needed. Is {readings} meant?")
        shown = _(" or ").join(readings)
        raise Asks(said.format(text=tidy(text)[:40], readings=shown), readings) from None
    if value != int(value):
        raise NotAQuantity(_("A whole number is needed, such as {example}.").format(example=int(value)))
    if not low <= value <= high:
        raise NotAQuantity(
            _("Between {low} and {high} would do; this reads as {value}.").format(
                low=exact_text(low), high=exact_text(high), value=exact_text(value)
            )
        )
    return int(value)


def known(unit: str) -> bool:
    """True for one of our units, of which `kind_of` tells the kind."""
    return unit in _KIND_OF_UNIT


def kind_of(unit: str) -> str:
    """The kind that one of our units is of, a key of KINDS; KeyError: none."""
    return _KIND_OF_UNIT[unit]


def read_field(
    name: str, text: str, unit: str | None = None, kept: bool = False, span: tuple[float, float] | None = None
) -> float:
    """The number of `text` in the unit of the field's name; see `take_field`."""
    found = take_field(name, text, unit, kept, span)
    return convert(found.value, found.unit, unit_of(name) or "")


def typed_unit(name: str, text: str, unit: str | None = None) -> str | None:
    """Our unit in which `text` was typed into the field `name` (see `take_field`); None for a plain number."""
    own = unit_of(name)
    if own is None:
        return None
    try:
        return take_field(name, text, unit).unit
    except NotAQuantity:
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
        text = f"{value:.0f}" if abs(value) >= 1 else f"{value:.9f}".rstrip("0").rstrip(".")
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
