"""A quantity as people type it: read, or asked back where it can be read in two ways."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tickets.calculator import units
from tickets.calculator.numerals import (
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
    unsure,
)
from tickets.calculator.units import KINDS, Within
from tickets.i18n import gettext as _

if TYPE_CHECKING:
    pass


@dataclass(frozen=True, slots=True)
class Typed:
    """A quantity as read: its number in our `unit`; `said`: what was typed, with its unit, such that it reads as the
    very same again; `own`: the unit stood in the text itself."""

    value: float
    unit: str
    said: str
    own: bool = True


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

    Raises NotAQuantity, naming the units that would do, and Ambiguous where it can be read in more than one way.
    """
    plain = unsure(tidy(text))
    found = _in_parts(plain, kind) or _by_clock(plain, kind, bare) or _one_number(plain, kind, bare, kept, within)
    asked = KINDS[kind]
    if found.value < 0 and not asked.signed:
        raise NotAQuantity(_("“{text}” is below zero: type a number from zero up.").format(text=plain))
    if kind == "temperature" and units.convert(found.value, found.unit, "degC") < -273.15:
        raise NotAQuantity(_("“{text}” is below absolute zero.").format(text=plain))
    if not bounded or not math.isfinite(asked.most):
        return found
    size = units.convert(found.value, found.unit, asked.units[0])
    if size < asked.least - 1e-9:
        span = span_typed(asked.least, asked.most, asked.units[0], found.unit)
        raise NotAQuantity(
            _("“{text}” cannot be right: {low} {unit} is the least that would do.").format(text=plain, **span)
        )
    if size > asked.most * (1 + 1e-9):
        span = span_typed(0, asked.most, asked.units[0], found.unit)
        raise NotAQuantity(
            _("“{text}” cannot be right: {high} {unit} is the most that would do.").format(text=plain, **span)
        )
    return found


def _is_clear(digits: str, spelling: str, kind: str, bare: str | None) -> bool:
    """Whether a point before three digits can only be a decimal mark here: behind it stands a unit of which nobody has
    a thousand times as many, or inches, whose eighths have three decimals (`1.125 in`)."""
    if not in_thousands(digits) or "." not in digits:
        return False
    unit = (units.unit_named(spelling, kind) if spelling else bare) or KINDS[kind].units[0]
    return unit == "in" or units.convert(float(digits.replace(".", "")), unit, KINDS[kind].units[0]) > KINDS[kind].most


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
    raise Ambiguous(said.format(text=plain[:40], one=readings[0], low=found[1], high=readings[2]), readings)


# whole: the order in which a text is doubted is the rule; each question rests on those before it
def _one_number(plain: str, kind: str, bare: str | None, kept: bool = False, within: Within | None = None) -> Typed:
    """One number with one unit behind it, or none."""
    digits, spelling = split(plain)
    narrowed = False
    if kind == "mesh count":
        _ask_of_label(plain)
    if not digits and spelling:
        raise NotAQuantity(
            _("“{text}” has no number in front: type a number with its unit. Units that would do: {units}.").format(
                text=plain[:40], units=units.would_do(kind)
            )
        )
    if KINDS[kind].fractions and not kept and (not spelling or units.unit_named(spelling, kind)):
        _ask_of_span(plain, digits, spelling or bare or KINDS[kind].units[0], kind)
    try:
        value = number(digits, KINDS[kind].fractions, kept or _is_clear(digits, spelling, kind, bare))
    except NotAQuantity as fault:
        beside = units.unit_named(spelling, kind) if spelling else bare
        only = units.only_within(fault.readings, beside, within or units.bounds_of(kind))
        if only is not None:
            if kind in NO_THOUSANDTHS and "," in digits and not kept:
                raise _thousands(plain, digits, only, beside or "") from None
            value, narrowed = number(only), True
            digits = only if only.isdigit() else digits.replace(",", ".")  # no thousand: its mark is the decimal one
        elif fault.readings and (spelling or bare is None):
            readings = _each_with_unit(fault.readings, plain, digits, spelling, kind)
            said = _("“{text}” can be read in two ways: type {whole}, or {fraction}.")
            raise Ambiguous(said.format(text=plain[:40], whole=readings[0], fraction=readings[-1]), readings) from None
        else:
            told = _("{fault} Units that would do: {units}.").format(fault=fault, units=units.would_do(kind))
            raise (Ambiguous(told, fault.readings) if fault.readings else NotAQuantity(told)) from None
    if not spelling and not kept:
        _ask_of_bare(plain, digits, value, kind, bare)
    unit = units.unit_named(spelling, kind) if spelling else bare
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


NO_THOUSANDTHS = frozenset({"tension"})
"""What no gauge shows three decimals of (common practice): a comma before three digits is no decimal mark there, and
whoever types one means another number."""


def _thousands(plain: str, digits: str, only: str, unit: str) -> Ambiguous:
    """The question for `1,250` where it can be no thousand and is hardly 1.25."""
    whole, meant = _joined(digits.replace(",", ""), unit), _joined(said_plainly(number(only)), unit)
    told = _("“{text}”: {whole} cannot be right. Is {readings} meant? Then type that.")
    return Ambiguous(told.format(text=plain[:40], whole=whole, readings=meant), (meant,))


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
    raise Ambiguous(said.format(text=plain[:40], readings=_(" or ").join(readings)), readings)


def _each_with_unit(readings: Iterable[str], plain: str, digits: str, spelling: str, kind: str) -> list[str]:
    """The readings of a number that can be read in two ways, each with the unit that may be meant. Raises NotAQuantity
    where there is none."""
    if spelling.upper() == "T" and kind == "mesh count":
        spelling = "/cm"
    if units.unit_named(spelling, kind):
        return [f"{one} {spelling}" for one in readings]
    meant = _may_mean(spelling, kind)
    if not meant:
        raise _no_unit(plain, digits, spelling, kind) from None
    return [_joined(one, unit) for unit in meant for one in readings]


def _joined(digits: str, unit: str) -> str:
    """A number with our unit behind it, as it can be typed: `65/in`, `25.5 N/cm`."""
    shown = unit.removeprefix("lines")
    close = not shown or (shown.startswith("/") and "/" not in digits)  # 10 1/2 /in: 1/2/in reads as one fraction
    return f"{digits}{'' if close else ' '}{shown}"


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
    elif bare == "/cm" and not units.unit_named(spelling, "mesh count"):
        if value > _FINEST_T:
            raise _which(plain, digits, ("/in",), "mesh count")
        if units.fold(spelling) in ("mesh", "mesh count"):
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
    raise Ambiguous(
        _("“{text}” is a count and a thread. Type only the count with its unit, {readings}; {thread} um goes into the "
          "box for the thread.").format(text=plain, readings=_(" or ").join(readings), thread=thread_um),
        readings,
    )  # fmt: skip


def _may_mean(spelling: str, kind: str) -> tuple[str, ...]:
    """The units that a spelling may mean without being one; empty: none."""
    folded = units.fold(spelling)
    found = () if folded is None else KINDS[kind].ask.get(folded, ())
    return tuple(f"lines{unit}" if kind == "ruling" else unit for unit in found)


def _no_unit(plain: str, digits: str, spelling: str, kind: str) -> NotAQuantity:
    """Why a text without a unit of ours is refused, or asked about."""
    meant = _may_mean(spelling, kind)
    if meant:
        return _which(plain, digits, meant, kind)
    if not spelling:
        return NotAQuantity(
            _("“{text}” has no unit. Units that would do: {units}.").format(text=digits, units=units.would_do(kind))
        )
    if re.match(r"/ ?[0-9]", spelling):
        return NotAQuantity(
            _("“{text}” is a fraction: type it with a decimal mark, as in 0.125 for 1/8. Units: {units}.").format(
                text=plain[:40], units=units.would_do(kind)
            )
        )
    if re.search(r"(?:^|[\s\"'])[xX*] ?[0-9]", spelling) or re.search(r"[a-z0-9]\s*(?:[xX*]|by) [0-9]", spelling):
        return NotAQuantity(
            _(
                "“{text}” is a size, two numbers: type one of them with its unit ({units}), and the other in the box "
                "beside it."
            ).format(text=plain[:40], units=units.would_do(kind))
        )
    if re.match(r"(?:-|–|to\b|\.\.) ?[0-9]", spelling):
        return NotAQuantity(
            _("“{text}” is a span: type one number with its unit. Units that would do: {units}.").format(
                text=plain[:40], units=units.would_do(kind)
            )
        )
    if re.match(r"[*0-9:]", spelling):
        return NotAQuantity(
            _("“{text}” is not one number with a unit. Type digits, then one of these units: {units}.").format(
                text=plain[:40], units=units.would_do(kind)
            )
        )
    return NotAQuantity(
        _("“{unit}” is not a unit for this. Use one of: {units}.").format(
            unit=spelling[:20], units=units.would_do(kind)
        )
    )


def _which(plain: str, digits: str, meant: tuple[str, ...], kind: str) -> Ambiguous:
    """The question which unit is meant, with a text for each that reads in that unit only."""
    readings = [_joined(digits, unit) for unit in meant]
    if kind == "mesh count" and len(readings) == 2:
        said = _("“{text}”: per inch or per cm? Type {readings}.")
    elif len(readings) == 1:
        said = _("“{text}”: is {readings} meant? Units that would do: {units}.")
    else:
        said = _("“{text}” has no unit that tells which is meant: type {readings}. Units that would do: {units}.")
    return Ambiguous(
        said.format(text=plain[:40], readings=_(" or ").join(readings), units=units.would_do(kind)), readings
    )


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
        return also.get(word) or units.unit_named(word, kind)

    short = _CUT_SHORT.fullmatch(plain)
    if short and (bigger := unit_in(short[2])) in _NEXT and not _PARTS.fullmatch(plain):
        meant = f"{plain} {_NEXT[bigger]}"
        said = _("The last number of “{text}” has no unit. If you mean {readings}, type that.").format(
            text=plain[:40], readings=meant
        )
        raise Ambiguous(said, (meant,))
    if not _PARTS.fullmatch(plain):
        return None
    parts = [(part[1], unit_in(part[2])) for part in _PART.finditer(plain)]
    total, last, last_unit = 0.0, 0.0, ""
    for order, (digits, unit) in enumerate(parts):
        if unit is None:
            return None
        value = number(digits, KINDS[kind].fractions)
        if order:
            size = units.convert(1.0, last_unit, unit)
            if size <= 1 + 1e-9 or last != int(last) or value >= size - 1e-9:
                raise NotAQuantity(
                    _("“{text}” does not add up: each part must be less than one of the unit before it.").format(
                        text=plain[:40]
                    )
                )
            total = units.convert(total, last_unit, unit)
        total, last, last_unit = total + value, value, unit
    return Typed(round(total, 9), last_unit, plain)


def _by_clock(plain: str, kind: str, bare: str | None) -> Typed | None:
    """`1:30` as a time: minutes and seconds where seconds are asked, hours and minutes where hours or days are."""
    digits, spelling = split(plain)
    parts = clock(digits) if kind == "time" else None
    if parts is None:
        return None
    unit = units.unit_named(spelling, kind) if spelling else bare or "s"
    first, second, third = parts
    minutes, hours = f"{first} min {second} s", f"{first} h {second} min"
    if unit is None:
        raise _no_unit(plain, digits, spelling, kind)
    if third >= 0 and spelling:
        meant = f"{first} h {second} min {third} s"
        said = _("“{text}”: is {readings} meant? Units that would do: {units}.")
        raise Ambiguous(said.format(text=plain[:40], readings=meant, units=units.would_do(kind)), (meant,))
    if third >= 0:
        return Typed(3600 * first + 60 * second + third, "s", f"{first} h {second} min {third} s", False)
    if (unit == "min" and not spelling) or (unit in ("s", "d") and spelling):
        said = _("“{text}” can be read in two ways: type {whole}, or {fraction}.")
        raise Ambiguous(said.format(text=plain[:40], whole=minutes, fraction=hours), (minutes, hours))
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
    wanted = units.convert(typed.value, typed.unit, unit)
    meant = _may_mean(spelling, kind)
    if unit in meant and len(meant) > 1:
        raise _which(text, digits, meant, kind)

    def near(one: str) -> bool:
        return abs(units.convert(value, one, unit) - wanted) <= FAR * abs(wanted)

    if spelling or near(unit):
        return
    readings = [f"{digits} {units.unit_text(one)}" for one in OTHERS.get(unit, ()) if near(one)]
    if not readings and wanted and any(abs(value * by - wanted) <= SLIP * wanted for by in (0.1, 10)):
        by = 0.1 if value > wanted else 10
        readings = [f"{said_plainly(round(value * by, 6))} {units.unit_text(unit)}"]
    if not readings:
        return
    readings.append(f"{digits} {units.unit_text(unit)}")
    said = _("“{text}”: {readings}? The target is {aim}.")
    raise Ambiguous(said.format(text=digits, readings=_(" or ").join(readings), aim=aim), readings)


def unit_behind(text: str, kind: str) -> str | None:
    """Our unit that the quantity in `text` was typed in; None where it says none, or is none."""
    try:
        found = take(text, kind)
    except NotAQuantity:
        return units.unit_named(split(text)[1], kind)  # its number may be what is wrong
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


def take_field(
    name: str, text: str, unit: str | None = None, kept: bool = False, span: tuple[float, float] | None = None
) -> Typed:
    """The quantity of a field, in the unit that it was typed in.

    A bare number is in `unit` (a spelling from the table) where one is given, else in the name's own unit; a unit
    inside the text wins; `kept` as in `take`; `span`: what the field takes, in its own unit.

    Raises NotAQuantity for another kind of unit, and for a unit where none
    belongs.
    """
    own = units.unit_of(name)
    if own is None:
        if unit and tidy(unit):
            raise NotAQuantity(_("Leave out “{unit}”: type only the number.").format(unit=unit[:20]))
        try:
            return Typed(number(text, False, kept), "", clear(tidy(text)), False)
        except Ambiguous as asks:
            only = units.only_within(asks.readings, "", (*span, "") if span else None)
            if only is None:
                raise
            return Typed(number(only), "", only, False)
    return take(text, units.KIND_OF_UNIT[own], bare_unit(name, unit), kept, within=(*span, own) if span else None)


def bare_unit(name: str, unit: str | None = None) -> str:
    """Our unit of a bare number in the field `name`: `unit` (a spelling from the table) where one is given, else the
    name's own. Raises NotAQuantity for a unit of another kind."""
    own = units.unit_of(name) or ""
    if not unit or not tidy(unit):
        return own
    kind = units.KIND_OF_UNIT[own]
    found = units.unit_named(unit, kind)
    if found is None:
        raise NotAQuantity(
            _("“{unit}” is not a unit for this. Use one of: {units}.").format(
                unit=unit[:20], units=units.would_do(kind)
            )
        )
    return found


def whole(text: str, low: float = -math.inf, high: float = math.inf) -> int:
    """The whole number in `text`, from `low` to `high`. Raises NotAQuantity, saying what would do; Ambiguous for
    "1.000": nobody writes three decimals of a count, and many part thousands with a point."""
    try:
        value = number(text, fractions=False)
    except Ambiguous as asks:
        only = units.only_within(asks.readings, "", (low, high, ""))
        if only is not None and "." not in only and not 1000 <= float(only):
            return int(only)
        readings = [one for one in asks.readings if "." not in one]
        said = _("“{text}”: a whole number is needed. Is {readings} meant?")
        shown = _(" or ").join(readings)
        raise Ambiguous(said.format(text=tidy(text)[:40], readings=shown), readings) from None
    if value != int(value):
        raise NotAQuantity(_("A whole number is needed, such as {example}.").format(example=int(value)))
    if not low <= value <= high:
        raise NotAQuantity(
            _("Between {low} and {high} would do; this reads as {value}.").format(
                low=units.exact_text(low),
                high=units.exact_text(high),
                value=units.exact_text(value),
            )
        )
    return int(value)


def read_field(
    name: str, text: str, unit: str | None = None, kept: bool = False, span: tuple[float, float] | None = None
) -> float:
    """The number of `text` in the unit of the field's name; see `take_field`."""
    found = take_field(name, text, unit, kept, span)
    return units.convert(found.value, found.unit, units.unit_of(name) or "")


def typed_unit(name: str, text: str, unit: str | None = None) -> str | None:
    """Our unit in which `text` was typed into the field `name` (see `take_field`); None for a plain number."""
    own = units.unit_of(name)
    if own is None:
        return None
    try:
        return take_field(name, text, unit).unit
    except NotAQuantity:
        kind = units.KIND_OF_UNIT[own]
        return units.unit_named(split(text)[1] or unit or "", kind) or own


def span_typed(low: float, high: float, own: str, typed: str) -> dict[str, str]:
    """The ends of a span in `own` for a message, said in the unit that was `typed`: low, high, unit. Rounded inwards,
    so that both ends would do."""
    if own == typed:
        return {
            "low": units.exact_text(low),
            "high": units.exact_text(high),
            "unit": own.removeprefix("lines"),
        }
    ends = []
    for end, inwards in ((low, math.ceil), (high, math.floor)):
        value = units.convert(end, own, typed)
        step = 10.0 ** (math.floor(math.log10(abs(value))) - 2) if value else 1.0
        ends.append(units.exact_text(inwards(round(value / step, 6)) * step))
    return {"low": ends[0], "high": ends[1], "unit": typed.removeprefix("lines")}
