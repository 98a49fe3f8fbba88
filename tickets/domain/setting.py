"""The quantities of press, flash and dryer: the unit that each is kept in, what is possible, when two of them are the
same, and whether it is set or measured. One row each; the job file, the set-up sheet and every comparison read it here.

What is set stands as the target has it until somebody sets it otherwise. What is measured is nobody's knowledge until
somebody measured it in this very run: its target stands beside it and is never taken for it.

What is a mark on a machine's own dial, or was felt with a finger, is no quantity: it has a field of its own and stays
text.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from tickets.calculator import numerals, units
from tickets.calculator import typed as typed_units
from tickets.calculator.numerals import unsure
from tickets.calculator.units import NotAQuantity
from tickets.domain import usual
from tickets.domain.separation import folded
from tickets.domain.spec import SHIPPED, Spec
from tickets.i18n import N_
from tickets.i18n import gettext as _


@dataclass(frozen=True, slots=True)
class Setting:
    """A quantity of the set-up: its `kind`, from `low` to `high` in `unit` (judgement: what a garment press can
    be set to). `same`: the limit that says by how much two may differ and still be one setting, in `unit` or, where
    that is so (`share`), in per cent. `bare`: the unit of a number without one; empty: such a number is refused.
    `mark`: the field that takes what is no quantity; `free`: it may be no quantity itself, as a dial's mark.
    `measured`: read off a gauge in this run, not set."""

    kind: str
    unit: str
    low: float
    high: float
    same: str
    share: bool = False
    bare: str = ""
    mark: str = ""
    free: bool = False
    measured: bool = False


_BLADE = Setting("hardness", "Shore A", 30, 100, "same-hardness", bare="Shore A", measured=True)
_FLASH = Setting("time", "s", 0.1, 600, "same-time", share=True, bare="s")
_FLASHED = replace(_FLASH, measured=True)
_GAP = Setting("length", "mm", 0.1, 50, "same-length", share=True)
_HEAT = Setting("temperature", "degC", 20, 260, "same-temperature", measured=True)
SETTINGS: Mapping[str, Setting] = {
    "hardness_measured": _BLADE,
    "angle": Setting("angle", "deg", 0, 90, "same-angle", bare="deg", mark="angle_mark"),
    "length": Setting("length", "mm", 20, 2000, "same-length", share=True),
    "off_contact": _GAP,
    "off_contact_measured": replace(_GAP, measured=True),
    "speed": Setting("speed", "m/min", 0.1, 200, "same-speed", share=True, free=True),
    "time": _FLASH,
    "time_cold": _FLASHED,
    "time_steady": _FLASHED,
    "surface": replace(_HEAT, mark="surface_feel"),
    "belt_speed": Setting("speed", "m/min", 0.05, 50, "same-speed", share=True, measured=True),
    "belt_set": Setting("speed", "m/min", 0.05, 50, "same-speed", share=True, free=True),
    "set": Setting("temperature", "degC", 20, 600, "same-temperature", free=True),
    "garment_peak": _HEAT,
    "hold": Setting("time", "s", 1, 1800, "same-time", share=True, bare="s", measured=True),
}
"""By the name that job file and set-up sheet have for it."""
TOLD = frozenset({"peak_how", "surface_feel"})
"""What is told in words of a measuring: how it was done, how the print felt."""
FELT: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("wet", N_("wet"), ("wet", "comes off", "smears")),
    ("tacky", N_("tacky"), ("tacky", "sticky")),
    ("dry to the touch", N_("dry to the touch"), ("dry", "nothing on the finger")),
)
"""How flashed ink feels, each as it is kept and as it is said, and what else people write for it (judgement), the
wettest first."""
MEASURED = frozenset(name for name, one in SETTINGS.items() if one.measured) | TOLD
"""What of a set-up sheet is measured, by name; all else is set."""
_MARKS = {
    "angle_mark": N_("A mark on the press’s own dial goes into “Angle, mark on the press”."),
    "surface_feel": N_("What was felt with a finger goes into “Surface, by touch”."),
}


def read(
    name: str, text: str, unit: str = "", aim: str = "", limits: Spec | None = None, stands: Sequence[str] = ()
) -> tuple[float, str]:
    """The number of `text` in the setting's own unit, and the text with its unit. A bare number is in `unit` (that of
    its target, or what was tapped beside it), else in the setting's `bare`; where that is far from the target `aim`,
    and another unit would be near it, it is asked about. What is possible and not usual by `limits` is asked about too,
    but for what the same setting reads already (`stands`).

    Raises NotAQuantity, saying what would do, for what is no such quantity or cannot be right.
    """
    known = SETTINGS[name]
    bare = (units.unit_named(unit, known.kind) if unit else None) or known.bare or None
    try:
        if aim and bare:
            typed_units.sure_of_unit(text, known.kind, bare, aim)
        found = typed_units.take(text, known.kind, bare, bounded=False, within=(known.low, known.high, known.unit))
        value = units.convert(found.value, found.unit, known.unit)
        if not known.low - 1e-9 <= value <= known.high + 1e-9:
            raise NotAQuantity(
                _("“{text}” cannot be right: from {low} to {high} {unit} would do.").format(
                    text=text, **typed_units.span_typed(known.low, known.high, known.unit, found.unit)
                )
            )
        if not any(_the_same(name, value, one) for one in stands):
            usual.ask_of_setting(name, text, found.value, found.unit, limits)
    except NotAQuantity as fault:
        message = " ".join(filter(None, (str(fault), "" if fault.readings else aside(name))))
        raise (units.Ambiguous(message, fault.readings) if fault.readings else NotAQuantity(message)) from None
    text = unsure(text)
    if found.own:
        return round(value, 9), text
    said = unit if unit and units.unit_named(unit, known.kind) else found.unit
    clocked = units.split(found.said)[0] != units.split(text)[0]
    return round(value, 9), found.said if clocked else f"{units.split(text)[0]} {said}"


def _the_same(name: str, value: float, text: str) -> bool:
    other = number(name, text)
    return other is not None and abs(other - value) <= 1e-9 * max(1.0, abs(value))


def felt(text: str) -> str:
    """Which of `FELT` a text means; empty: none that we know, so that nothing can be compared with it."""
    said = folded(text)
    own = [key for key, word, _others in FELT if said in (key, folded(_(word)))]
    told = [key for key, _word, others in FELT if any(re.search(rf"\b{one}\b", said) for one in others)]
    return next(iter([*own, *told]), "") if not re.search(r"\bnot\b", said) else ""


def aside(name: str) -> str:
    """Where what is no quantity goes instead; empty where there is no such place."""
    mark = SETTINGS[name].mark
    return _(_MARKS[mark]) if mark else ""


_STAMPED = re.compile("[0-9]+")


def stamped(text: str) -> None:
    """Refuses a blade whose stamp, before the first `·`, is no Shore A that a squeegee has: `70`, `70/90/70`."""
    known = SETTINGS["hardness_measured"]
    numbers_on = [numerals.counted(digits) for digits in _STAMPED.findall(text.split("·")[0])]
    if any(not known.low <= one <= known.high for one in numbers_on):
        raise NotAQuantity(
            _("A blade is stamped Shore A, {low} to {high}, such as 70, or 70/90/70 for a composite.").format(
                low=f"{known.low:g}", high=f"{known.high:g}"
            )
        )


def counted(text: str) -> bool:
    """Whether a text begins with a number, as a quantity does."""
    return re.match(r"[-+−]?[.,]?[0-9]", text) is not None


def is_mark(name: str, text: str) -> bool:
    """Whether a setting that may be a dial's mark is one: as soon as it has a unit of its kind it was measured."""
    known = SETTINGS[name]
    return known.free and not typed_units.is_quantity(text, known.kind)


def number(name: str, text: str, like: str = "") -> float | None:
    """A setting as noted, in its own unit; None where it is no quantity. A bare number has the unit of `like`."""
    known = SETTINGS.get(name)
    if known is None or not text:
        return None
    unit = typed_units.unit_behind(like, known.kind) if like else None
    try:
        value, typed = typed_units.read_value(text, known.kind, unit or known.bare or None, kept=True)
    except NotAQuantity:
        return None
    return units.convert(value, typed, known.unit)


def numbers(values: Mapping[str, str]) -> dict[str, float]:
    """The quantities among the settings of a part of the sheet, each under its name with its unit (`hold_s`)."""
    found = {}
    for name, text in values.items():
        value = number(name, text)
        if value is not None:
            found[name + SUFFIX[SETTINGS[name].unit]] = round(value, 9)
    return found


SUFFIX = {"mm": "_mm", "s": "_s", "degC": "_c", "m/min": "_m_per_min", "deg": "_deg", "Shore A": "_shore_a"}
"""What a setting's name ends in where it is kept as a number."""


def same(name: str, a: str, b: str, limits: Spec = SHIPPED) -> bool | None:
    """Whether two measured settings are one, within what the shop allows; None where either is no quantity."""
    known = SETTINGS.get(name)
    if known is None:
        return None
    one, other = number(name, a, like=b), number(name, b, like=a)
    if one is None or other is None:
        return None
    limit = limits.find(known.same)
    allowed = limit.value if limit else 0.0
    if known.share:
        allowed *= max(abs(one), abs(other)) / 100
    return abs(one - other) <= allowed + 1e-9 * max(1.0, abs(one))


_EXACT = Spec(())


def within(name: str, a: str, b: str, limits: Spec = SHIPPED, system: str = "metric") -> str:
    """The limit within which two settings that read differently are still one, as it is said (`2 Shore A`, `3 %`);
    empty where they are the same to the digit, or are not one."""
    if same(name, a, b, limits) is not True or same(name, a, b, _EXACT):
        return ""
    known = SETTINGS[name]
    limit = limits.find(known.same)
    return units.show_difference(limit.value, "%" if known.share else known.unit, system) if limit else ""


def sorted_out(values: Mapping[str, str]) -> dict[str, str]:
    """Settings of before marks had a field of their own: what is no quantity goes into the field for marks, and what
    can be neither is left out, so that it is nobody's target."""
    found: dict[str, str] = {}
    for name, text in values.items():
        known = SETTINGS.get(name)
        if known is None or known.free or number(name, text, f"1 {known.unit}") is not None:
            found[name] = text
        elif known.mark:
            found.setdefault(known.mark, text)
    return found
