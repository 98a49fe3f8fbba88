"""What can be, and is seldom meant: asked back once (“Really 16 mm?”), and taken with a `!` behind it.

One mechanism for settings, steps of a screen, recipes, weighings and days, on pages, in files and for commands. What is
usual is a limit of the shop (`usual-...`), of exposures how far from the shop's own time; where it has none nothing is
asked. What stands there already, or is the target, is never asked. A set-up sheet and an entry keep what was meant
without its `!`; a job sheet keeps it as it was typed, so that reading it again asks nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tickets.calculator import typed, units
from tickets.calculator.numerals import SURE, Ambiguous, is_sure, said_plainly
from tickets.domain.separation import folded
from tickets.domain.spec import Spec, facts_of
from tickets.i18n import gettext as _


@dataclass(frozen=True, slots=True)
class Usual:
    """The limits between which a setting usually lies (empty: none), and their unit."""

    unit: str
    least: str = ""
    most: str = ""


_GAP = Usual("mm", "usual-off-contact-least", "usual-off-contact-most")
_FLASH = Usual("s", most="usual-flash-most")
_BELT = Usual("m/min", "usual-belt-least", "usual-belt-most")
USUAL: Mapping[str, Usual] = {
    "off_contact": _GAP,
    "off_contact_measured": _GAP,
    "time": _FLASH,
    "time_cold": _FLASH,
    "time_steady": _FLASH,
    "belt_speed": _BELT,
}
"""By the names of the settings (`domain.setting`)."""
_TENSION = Usual("N/cm", "usual-tension-least", "usual-tension-most")
_REMOVER = Usual("s", most="usual-remover-most")
OF_STEPS: Mapping[str, Usual] = {
    "readings_n_per_cm": _TENSION,
    "readings_weft_n_per_cm": _TENSION,
    "remover_s": _REMOVER,
    "haze_s": _REMOVER,
}
"""By the names of the fields of steps (`domain.steps`)."""


def ask_of_setting(name: str, text: str, value: float, unit: str, limits: Spec | None) -> None:
    """Asks for a setting typed as `text`, `value` in `unit`, that is possible and not usual; first whether the number
    is meant whose decimal mark slipped. None of `limits`: it was asked before, and nothing is asked."""
    known = USUAL.get(name)
    if known is None or limits is None or is_sure(text):
        return
    _ask_between(value, unit, known, limits)


def _ask_between(value: float, unit: str, known: Usual, limits: Spec, row: Sequence[float] = ()) -> None:
    """Asks for `value` in `unit` where it lies outside of what is usual. `row`: it is one of these readings."""
    found = {side: limits.find(key) for side, key in (("low", known.least), ("high", known.most)) if key}
    low, high = (one.value if (one := found.get(side)) else None for side in ("low", "high"))

    def usual(number: float) -> bool:
        size = units.convert(number, unit, known.unit)
        return (low is None or size >= low - 1e-9) and (high is None or size <= high + 1e-9)

    if usual(value):
        return
    shown = units.unit_text(unit)
    slips = [round(value * by, 6) for by in (0.1, 10) if usual(value * by)]
    span = typed.span_typed(low or 0.0, high if high is not None else 0.0, known.unit, unit)
    if low is None:
        told = _("usual is at most {high} {unit}").format(**span)
    elif high is None:
        told = _("usual is {low} {unit} or more").format(**span)
    else:
        told = _("usual is {low} to {high} {unit}").format(**span)
    readings = [_row_with(row, value, one, shown) for one in (*slips, value)]
    really(f"{said_plainly(value)} {shown}", told, [*readings[:-1], f"{readings[-1]}{SURE}"])


def _row_with(row: Sequence[float], value: float, meant: float, shown: str) -> str:
    """One number with its unit; of a row of readings, all of them with `meant` in the place of `value`."""
    return f"{' '.join(said_plainly(meant if one == value else one) for one in row or (value,))} {shown}"


def ask_of_step(name: str, sent: Sequence[str], value: Any, unit: str, limits: Spec) -> None:
    """Asks for a number of a step's field, or for the first of several readings, that is possible and not usual."""
    known = OF_STEPS.get(name)
    if known is None or any(map(is_sure, sent)):
        return
    row = value if isinstance(value, list) else [value]
    for one in row:
        _ask_between(one, unit, known, limits, row if len(row) > 1 else ())


def ask_of_exposure(text: str, value: float, own: float, unit: str, limits: Spec) -> None:
    """Asks for an exposure many times as long as the shop's own, or as short; `unit`: "s" or "units"."""
    times = limits.find("usual-exposure-times")
    if times is None or times.value <= 1 or own <= 0 or is_sure(text):
        return
    if own / times.value - 1e-9 <= value <= own * times.value + 1e-9:
        return

    def said(number: float) -> str:
        plain = said_plainly(number)
        return f"{plain} s" if unit == "s" else _("{number} light units").format(number=plain)

    def typed_as(number: float) -> str:
        return said(number) if unit == "s" else said_plainly(number)

    slips = [round(value * by, 6) for by in (0.1, 10) if own / times.value <= value * by <= own * times.value]
    readings = [*map(typed_as, slips), f"{typed_as(value)}{SURE}"]
    really(said(value), _("usual is {time}").format(time=said(own)), readings)


def ask_of_mesh(text: str, count_per_cm: float, thread_um: float, limits: Spec) -> None:
    """Asks for a thread that leaves a mesh hardly open, or hardly closed: mostly count or thread was mistyped."""
    least, most = limits.find("usual-open-area-least"), limits.find("usual-open-area-most")
    if least is None or most is None or is_sure(text):
        return
    area = 100 * (1 - thread_um * count_per_cm / 10_000) ** 2
    if least.value - 1e-9 <= area <= most.value + 1e-9:
        return
    really(
        _("{area} % open").format(area=f"{area:.0f}"),
        _("usual is {low} to {high} %, look at count and thread on the label").format(
            low=f"{least.value:g}", high=f"{most.value:g}"
        ),
        [f"{said_plainly(thread_um)} um{SURE}"],
    )


def really(what: str, usual: str, readings: Sequence[str]) -> None:
    """Asks for something possible that is not usual: `readings`, the last of which says that it is meant."""
    said = _("Really {what}? {usual}: type {sure} if it is meant.")
    usual = usual[:1].upper() + usual[1:]
    raise Ambiguous(said.format(what=what, usual=usual, sure=readings[-1]), readings)


_BASES = ("base", "ink", "binder", "paste")
_ADDED = ("activator", "discharge agent", "catalyst", "hardener", "fixer", "retarder")
"""What the large part of a mixed ink is called, and the parts that are stirred into it (common practice)."""


def ask_of_recipe(text: str, grams: Mapping[str, float], limits: Spec | None) -> None:
    """Asks for a recipe with more of what is stirred in than is usual for its base: mostly the numbers were swapped."""
    limit = limits.find("usual-added-most") if limits else None
    if limit is None or is_sure(text):
        return
    base = sum(mass for name, mass in grams.items() if any(one in folded(name) for one in _BASES))
    for name, mass in grams.items():
        if any(one in folded(name) for one in _ADDED) and base > 0 and mass > limit.value / 100 * base + 1e-9:
            told = ", ".join(f"{said_plainly(one)} {part}" for part, one in grams.items())
            really(
                _("{share} % of {part}").format(share=round(100 * mass / base), part=name),
                _("usual is at most {share} % of the base").format(share=f"{limit.value:g}"),
                [f"{told}{SURE}"],
            )


def ask_of_weights(weighed: Sequence[float], theory_g: float, text: str, limits: Spec) -> None:
    """Asks for weights on one garment that lie many times over or under what theory says, or over their own middle:
    mostly the blank was not taken off."""
    limit = limits.find("usual-weight-times")
    if limit is None or limit.value <= 1 or is_sure(text):
        return
    middle = sorted(weighed)[len(weighed) // 2]
    for one in weighed:
        for other, said in (
            (theory_g, _("theory says {grams} g for one print")),
            (middle, _("the middle one of these is {grams} g")),
        ):
            if not other / limit.value - 1e-9 <= one <= other * limit.value + 1e-9:
                usual = said.format(grams=units.number_text(other)) + ", " + _("take the blank garment’s weight off")
                row = " ".join(said_plainly(weight) for weight in weighed)
                really(f"{said_plainly(one)} g", usual, [f"{row}{SURE}"])


def ask_of_life(kind: str, inks: Sequence[str], hours: float, text: str, limits: Spec) -> None:
    """Asks for a mix that is to be good for many times the life that such a mix has."""
    times = limits.find("usual-life-times")
    lives = [found.value for ink in inks if (found := limits.find("pot-life", **facts_of(ink=ink)))]
    if times is None or not lives or is_sure(text) or hours <= times.value * max(lives) + 1e-9:
        return
    really(
        _("good for {time}").format(time=units.span_text(hours, "h")),
        _("usual for {kind} is {time}, by the limit of its life").format(
            kind=kind, time=units.span_text(max(lives), "h")
        ),
        [f"{text.strip()}{SURE}"],
    )
