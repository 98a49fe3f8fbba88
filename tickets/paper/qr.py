"""The QR code of a ticket: which symbol, how large, and how it is drawn.

Rules by ISO/IEC 18004 and by what phones were seen to read: level Q or better, never a Micro QR (phones don't read
them), version 4 at most (more modules mean smaller ones), a quiet zone of 4 modules, dark on light.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import segno

from tickets.domain.papers.ticket import LONGEST_QR_TEXT
from tickets.domain.refusal import Refused
from tickets.i18n import gettext as _

QUIET_ZONE = 4
DPI = 300
"""Dots per inch of a printer of which nothing else is known."""
DOT = 25.4 / DPI
"""A dot of such a printer in mm; a module of whole dots prints with even edges (600 dpi too)."""

Run = tuple[int, int, int]
"""A row from the top, a first column, a number of dark modules side by side."""


@dataclass(frozen=True, slots=True)
class Symbol:
    """A QR code without a size: `side` in modules without the quiet zone, dark `runs` row by row."""

    text: str
    version: int
    level: str
    side: int
    runs: tuple[Run, ...]

    @property
    def across(self) -> int:
        """Modules from edge to edge, quiet zone included."""
        return self.side + 2 * QUIET_ZONE


@lru_cache(maxsize=512)
def symbol(text: str) -> Symbol:
    """The QR code of `text` (the same for the same text). Raises Refused where it would take more than version 4."""
    if len(text.encode()) > LONGEST_QR_TEXT:
        message = _("“{text}” is too long for a QR code that a phone reads off a wet frame: at most {n} characters.")
        raise Refused(message.format(text=text[:80], n=LONGEST_QR_TEXT), "address")
    made = segno.make(text, error="q", micro=False, boost_error=True)
    matrix = [list(row) for row in made.matrix]
    return Symbol(text, int(made.version), str(made.error), len(matrix), tuple(_runs(matrix)))


def _runs(matrix: list[list[int]]) -> list[Run]:
    """Neighbouring dark modules of a row merged: no hairline gaps on screens, a third of the drawing commands."""
    found: list[Run] = []
    for row, cells in enumerate(matrix):
        start: int | None = None
        for column, dark in enumerate([*cells, 0]):
            if dark and start is None:
                start = column
            elif not dark and start is not None:
                found.append((row, start, column - start))
                start = None
    return found


def module_size(across: int, room: float, least: float, most: float = 1.6) -> float | None:
    """The module in mm for a symbol of `across` modules in `room` mm: whole printer dots where these fit, else as large
    as fits; None where even `least` doesn't."""
    fits = min(room / across, most)
    return whole_module(across, room, least, most=most) or (fits if fits >= least - 1e-9 else None)


def whole_module(across: int, room: float, least: float, dot: float = DOT, most: float = 1.6) -> float | None:
    """The largest module of whole dots in `room` mm; None where that is under `least`."""
    whole = int(min(room / across, most) / dot + 1e-9) * dot
    return whole if whole >= least - 1e-9 else None
