"""What a printer holds: labels of a size, or sheets of a paper."""

from __future__ import annotations

from tickets.calculator import several, typed, units
from tickets.domain.refusal import Refused
from tickets.i18n import gettext as _

SHEETS = ("A4", "Letter")
"""The papers that are drawn on, by the names of ISO 216 and ANSI/ASME Y14.1."""
_LONGEST = 420


def size_of_label(text: str) -> tuple[float, float]:
    """Width and height in mm of `100x50mm`, `4x2in`, `62 x 29 mm`. Raises NotAQuantity."""
    sides = [typed.read_value(side, "length") for side in several.sides(text) or ("", "")]
    wide, high = (units.convert(value, unit, "mm") for value, unit in sides)
    if max(wide, high) > _LONGEST:
        raise units.NotAQuantity(text)
    return wide, high


def held(text: str) -> str:
    """What a printer holds, as it is kept: `A4`, `Letter`, or the size of its labels as it was typed. Raises Refused
    (field `holds`)."""
    said = "".join(text.split())
    for sheet in SHEETS:
        if said.casefold() == sheet.casefold():
            return sheet
    try:
        size_of_label(said)
    except units.NotAQuantity:
        message = _("What does it hold? A4, Letter, or labels by their size with its unit: 100x50mm, 62x29mm, 4x2in.")
        raise Refused(message, "holds") from None
    return said


def is_sheet(holds: str) -> bool:
    """True for a printer of sheets, false for one of labels."""
    return holds in SHEETS
