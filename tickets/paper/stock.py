"""What labels come on: the size of a label, a roll of them at the dots of its printer, a sheet by its measures."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from tickets.calculator import several, typed, units
from tickets.calculator.numerals import counted
from tickets.domain.refusal import Fault, Refused
from tickets.i18n import gettext as _
from tickets.paper.page import PAPERS

LARGE = (100.0, 50.0)
"""From this size on (mm, long and short side) a label carries two codes."""
ROLLS = ("100x50mm", "100x75mm", "62x29mm", "50x30mm", "4x2in", "50x25mm")
"""Sizes of labels that pages offer (common practice: what label printers are sold with)."""
_LONGEST = 420.0
_SHEET_EDGE = 3.0
_MOST_ACROSS = 50
_SLACK = 0.6
"""What a sheet's measures may be beyond its paper, in mm: they are measured with a ruler."""


@dataclass(frozen=True, slots=True)
class Label:
    """The size of a label in mm."""

    wide: float
    high: float

    @property
    def long(self) -> float:
        return max(self.wide, self.high)

    @property
    def short(self) -> float:
        return min(self.wide, self.high)

    @property
    def large(self) -> bool:
        """True when it carries two codes."""
        return self.long >= LARGE[0] - 0.01 and self.short >= LARGE[1] - 0.01


def label_size(text: str) -> Label:
    """The label in `100x50mm`, `4x2in` or `62 x 29 mm`. Raises Refused when it is none, or beyond all labels."""
    found = _pair(text)
    if found is None or min(found) <= 0:
        message = _("“{text}” cannot be read as a label size. Type it with its unit: 100x50mm, 62x29mm, 4x2in.")
        raise Refused(message.format(text=text.strip()[:40]), "label")
    if max(found) > _LONGEST:
        raise Refused(_("A label is at most {n} mm long.").format(n=int(_LONGEST)), "label")
    return Label(*found)


def _pair(text: str) -> tuple[float, float] | None:
    """Two lengths in mm, such as `7 x 15 mm`; None: the text is no such thing."""
    try:
        one, other = (typed.read_value(side, "length") for side in several.sides(text) or ("", ""))
    except units.NotAQuantity:
        return None
    return units.convert(*one, "mm"), units.convert(*other, "mm")


def paper_size(name: str) -> tuple[float, float]:
    """Width and height in mm of `A4` or `Letter`, in any case. Raises Refused."""
    for known, size in PAPERS.items():
        if known.lower() == name.strip().lower():
            return size
    raise Refused(
        _("“{name}” is not a paper size that can be printed. Choose A4 or Letter.").format(name=name.strip()[:40]),
        "paper",
    )


_HAIR = 0.0005
"""In mm: a page that is a hair longer than its dots is drawn on one dot more, and all of it a little larger."""


def dots_up(length: float, dot: float) -> float:
    """A length in mm as whole dots of a printer, none of it cut off."""
    return math.ceil(length / dot - 1e-6) * dot - _HAIR


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """A sheet of labels, all lengths in mm: where the first one begins, how many there are, how far they are apart.
    `cut`: labels are cut out of plain paper, and the lines are marked; `used`: labels at its top that are gone."""

    paper: tuple[float, float]
    columns: int
    rows: int
    left: float
    top: float
    across: float = 0.0
    down: float = 0.0
    cut: bool = False
    used: int = 0

    @property
    def places(self) -> int:
        return self.columns * self.rows

    def of_number(self, number: int, size: tuple[float, float]) -> tuple[float, float]:
        """Where a label begins, from the left and the top of its sheet; counted from 0, along the rows."""
        row, column = divmod(number, self.columns)
        return self.left + column * (size[0] + self.across), self.top + row * (size[1] + self.down)

    def on_sheets(self, count: int) -> Iterator[Sequence[tuple[int, int]]]:
        """For each sheet which things go on it, each with its place."""
        places = [divmod(self.used + number, self.places) for number in range(count)]
        for sheet in range(places[-1][0] + 1 if places else 0):
            yield [(number, place) for number, (on, place) in enumerate(places) if on == sheet]


def plain_sheet(label: Label, paper: str) -> LabelSheet:
    """As many labels as a paper holds, lying, with lines to cut along. Raises Refused where it holds none."""
    wide, high = paper_size(paper)
    columns = int((wide - 2 * _SHEET_EDGE) / label.long + 1e-6)
    rows = int((high - 2 * _SHEET_EDGE) / label.short + 1e-6)
    if not columns or not rows:
        message = _("A label of {a} x {b} mm does not fit on {sheet}.")
        raise Refused(message.format(a=f"{label.long:g}", b=f"{label.short:g}", sheet=paper.strip()), "label")
    left, top = (wide - columns * label.long) / 2, (high - rows * label.short) / 2
    return LabelSheet((wide, high), columns, rows, left, top, cut=True)


def measured_sheet(label: Label, paper: str, grid: str, edges: str = "", gaps: str = "", used: int = 0) -> LabelSheet:
    """A sheet of labels by its measures: how many (`3x8`, across and down), where the first one begins from the left
    and the top (`7 x 15 mm`; empty: in the middle of the paper), what is between them (`2.5 x 0 mm`; empty: nothing).

    Raises Refused, each fault at its field, for what cannot be read and for labels that run off the paper."""
    size, faults = paper_size(paper), list[Fault]()
    many = [counted(part.strip()) for part in grid.lower().replace("×", "x").split("x")]
    first, apart = _lengths("edges", edges, faults), _lengths("gaps", gaps, faults) or (0.0, 0.0)
    wrong = len(many) != 2 or not all(0 < one <= _MOST_ACROSS for one in many)
    if wrong and (grid.strip() or not faults):
        said = _("“{text}” cannot be read. Type how many labels across and how many down, such as 3x8.")
        faults.append(Fault("grid", said.format(text=grid.strip()[:40])))
    if faults:
        raise Refused(faults)
    if not 0 <= used < many[0] * many[1]:
        raise Refused(_("From 0 to {n} labels of a sheet can be gone.").format(n=many[0] * many[1] - 1), "used")
    taken = [n * one + (n - 1) * gap for n, one, gap in zip(many, (label.wide, label.high), apart, strict=True)]
    begin = first or ((size[0] - taken[0]) / 2, (size[1] - taken[1]) / 2)
    messages = (
        _("These labels take {a} mm across, and the paper has {b} mm: {over} mm too many."),
        _("These labels take {a} mm down, and the paper has {b} mm: {over} mm too many."),
    )
    for start, run, room, told in zip(begin, taken, size, messages, strict=True):
        over = max(start + run - room, -start)
        if over > _SLACK:
            numbers = {"a": f"{run if not first else start + run:.1f}", "b": f"{room:g}"}
            over *= 1 if first else 2  # in the middle of the paper, it is over on both sides
            faults.append(Fault("edges" if first else "grid", told.format(over=f"{over:.1f}", **numbers)))
    if faults:
        raise Refused(faults)
    return LabelSheet(size, many[0], many[1], *begin, *apart, used=used)


def _lengths(field: str, text: str, faults: list[Fault]) -> tuple[float, float] | None:
    """Two lengths of a field, none below 0; None where nothing was typed, or where it is a fault."""
    if not text.strip():
        return None
    found = _pair(text)
    if found is None or min(found) < 0:
        said = _("“{text}” cannot be read. Type two lengths, across and down, such as 7 x 15 mm.")
        faults.append(Fault(field, said.format(text=text.strip()[:40])))
        return None
    return found
