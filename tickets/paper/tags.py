"""Labels for frames, places and buckets: one a page for a label printer, or sheets to cut.

What is read at arm's length is large (the mark, the mesh, the code); two codes stand as far apart as they can, since
ink or emulsion over one corner kills a QR code.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from tickets.calculator import several, typed, units
from tickets.domain.code import shown
from tickets.domain.papers.ticket import PlaceTag, ScreenTag, Tag, qr_text
from tickets.domain.refusal import Refused
from tickets.i18n import gettext as _
from tickets.paper.page import LEADING, PAPERS, PT, Pages, StackRow, laid_out, plain, stack, whole_cautions, width, wrap
from tickets.paper.qr import Symbol, module_size, symbol

LARGE = (100.0, 50.0)
"""From this size on (mm, long and short side) a label carries two codes."""
LEAST_LARGE, LEAST_SMALL = 0.8, 0.5
"""Least module in mm on large and on smaller labels."""
EDGE = 1.0
"""Left free all round, in mm: label printers run off by as much."""
_TEXT = 14.0
"""Least width beside the QR code of a small label, for the code in letters."""
_LONGEST = 420.0
_SHEET_EDGE = 3.0


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
    try:
        found = [typed.read_value(side, "length") for side in several.sides(text) or ("", "")]
    except units.NotAQuantity:
        message = _("“{text}” cannot be read as a label size. Type it with its unit: 100x50mm, 62x29mm, 4x2in.")
        raise Refused(message.format(text=text.strip()[:40]), "label") from None
    wide, high = (units.convert(value, unit, "mm") for value, unit in found)
    if max(wide, high) > _LONGEST:
        raise Refused(_("A label is at most {n} mm long.").format(n=int(_LONGEST)), "label")
    return Label(wide, high)


def tags_pdf(tags: Sequence[Tag], label: str = "100x50mm", sheet: str | None = None, language: str = "en") -> bytes:
    """The labels as a PDF: one a page, or on sheets (`A4`, `Letter`) with cut marks. The same tags, the same bytes.

    Raises Refused for a label too small for a code, an address too long for one, or an unknown sheet.
    """
    return draw_tags(tags, label, sheet, language)[0]


def draw_tags(tags: Sequence[Tag], label: str, sheet: str | None, language: str = "en") -> tuple[bytes, Pages]:
    """`tags_pdf`, and the pages with all that was drawn."""
    size = label_size(label)
    if not tags:
        raise Refused(_("Nothing to print on paper: give a code."), "codes")
    pages = Pages(_title(tags), tags[0].shop, language)
    if sheet is None:
        for tag in tags:
            pages.new(size.wide, size.high, turned=size.high > size.wide)
            _draw(pages, tag, size)
    else:
        _sheets(pages, tags, size, sheet)
    return pages.finish(), pages


def _title(tags: Sequence[Tag]) -> str:
    codes = ", ".join(shown(tag.code) for tag in tags[:5]) + (" …" if len(tags) > 5 else "")
    return _("Tags {codes}").format(codes=codes)


def paper_size(name: str) -> tuple[float, float]:
    """Width and height in mm of `A4` or `Letter`, in any case. Raises Refused."""
    for known, size in PAPERS.items():
        if known.lower() == name.strip().lower():
            return size
    raise Refused(
        _("“{name}” is not a paper size that can be printed. Choose A4 or Letter.").format(name=name.strip()[:40]),
        "paper",
    )


def _sheets(pages: Pages, tags: Sequence[Tag], size: Label, sheet: str) -> None:
    """Labels side by side, lying; the cut lines are marked where they cross and at the edge of the sheet."""
    wide, high = paper_size(sheet)
    columns = int((wide - 2 * _SHEET_EDGE) / size.long + 1e-6)
    rows = int((high - 2 * _SHEET_EDGE) / size.short + 1e-6)
    if not columns or not rows:
        message = _("A label of {a} x {b} mm does not fit on {sheet}.")
        raise Refused(message.format(a=f"{size.long:g}", b=f"{size.short:g}", sheet=sheet.strip()), "label")
    left, top = (wide - columns * size.long) / 2, (high - rows * size.short) / 2
    for first in range(0, len(tags), columns * rows):
        pages.new(wide, high)
        _cut_marks(
            pages, [left + n * size.long for n in range(columns + 1)], [top + n * size.short for n in range(rows + 1)]
        )
        for n, tag in enumerate(tags[first : first + columns * rows]):
            pages.origin(left + n % columns * size.long, top + n // columns * size.short)
            _draw(pages, tag, size)


def _cut_marks(pages: Pages, across: Sequence[float], down: Sequence[float]) -> None:
    for x in across:
        for y in down:
            pages.line(x - 2.5, y, x + 2.5, y, 0.1)
            pages.line(x, y - 2.5, x, y + 2.5, 0.1)


# -- one label, drawn along its long side ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Said:
    """What a tag says: two large texts, a word over the second, small lines, cautions."""

    head: str
    beside: str
    over: str = ""
    lines: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    beside_size: float = 25.0


def _said(tag: Tag) -> _Said:
    if isinstance(tag, ScreenTag):
        return _Said(tag.mark or tag.mesh, tag.mesh if tag.mark else "", lines=(tag.frame,))
    if isinstance(tag, PlaceTag):
        return _Said(tag.name, tag.kind, beside_size=15)
    mixed = _("mixed {time}").format(time=tag.mixed_at) if tag.mixed_at else ""
    lot = _("lot {lot}").format(lot=tag.lot) if tag.lot else ""
    over = _("good until") if tag.good_until else ""
    return _Said(tag.kind, tag.good_until, over, (mixed, tag.product, lot), tag.cautions)


def _draw(pages: Pages, tag: Tag, size: Label) -> None:
    said, made = _said(tag), symbol(qr_text(tag.address, tag.code))
    with laid_out(tag.layout):
        (_draw_large if size.large else _draw_small)(pages, tag, said, made, size.long, size.short)


def _small_print(tag: Tag, room: float) -> list[str]:
    printed = _("printed {date}").format(date=tag.printed_on) if tag.printed_on else ""
    return [line for line in (plain(tag.shop), printed, *wrap(tag.address.split("://")[-1], 6, room)) if line]


def _draw_large(pages: Pages, tag: Tag, said: _Said, made: Symbol, wide: float, high: float) -> None:
    """Head and mesh across the top, a QR code in each lower corner, the code in letters between them."""
    module = None
    for middle in (0.34 * wide, 26.0):
        module = module or module_size(made.across, min((wide - 2 * EDGE - middle) / 2, high - EDGE - 13), LEAST_LARGE)
    module = module or LEAST_LARGE
    side = made.across * module
    top = high - EDGE - side
    pages.qr(EDGE, top, made, module)
    pages.qr(wide - EDGE - side, top, made, module)

    grow = math.sqrt(wide * high / (LARGE[0] * LARGE[1]))
    margin, low = 2.5 * min(grow, 2), top - 0.5
    if said.cautions:
        room = (top - 1.5) * (0.5 if high < 65 else 0.45)
        low = _cautions(pages, said.cautions, margin, wide - margin, top, room)
    _heads(pages, said, margin, EDGE, wide - margin, low, grow)

    gap = 0.6 * module  # beyond the quiet zone
    left, right = EDGE + side + gap, wide - EDGE - side - gap
    rows = [StackRow(shown(tag.code), 30 * grow, 9, bold=True)]
    rows += [StackRow(line, 11 * grow, 6, spare=n > 0) for n, line in enumerate(said.lines)]
    if tag.demo:
        rows.append(StackRow(_("DEMO"), 13 * grow, 9, bold=True, gap=0.5))
    small = _small_print(tag, right - left)
    rows += [StackRow(line, 7 * grow, 5, spare=True, gap=0 if n else 1.2) for n, line in enumerate(small)]
    stack(pages, rows, left, top + 1, right, high - EDGE - 0.5, "middle", True)


_STACKED = 22.0
"""Height in mm from which the two large texts stand under one another."""


def _heads(pages: Pages, said: _Said, left: float, top: float, right: float, bottom: float, grow: float) -> None:
    """The two large texts: side by side and shrunk alike, or under one another where there is height for both."""
    head, beside = plain(said.head), plain(said.beside)
    over = [StackRow(said.over, 9 * grow, 7)] if said.over else []
    if beside and bottom - top >= _STACKED:
        rows = [StackRow(head, 60 * grow, 8, True), *over, StackRow(beside, 1.5 * said.beside_size * grow, 6, True)]
        stack(pages, rows, left, top, right, bottom, middle=True)
        return
    room, space = right - left, 4.0
    wide, other = (width(text, size * grow, bold=True) for text, size in ((head, 40), (beside, said.beside_size)))
    split = right
    if beside:
        share = min(1.0, (room - space) / (wide + other))
        split = left + max(0.3 * room, min(0.72 * room, wide * share + 0.1))
        rows = [*over, StackRow(beside, said.beside_size * grow * share, 6, bold=True)]
        stack(pages, rows, split + space, top, right, bottom, "right", middle=True)
    stack(pages, [StackRow(head, 40 * grow, 8, bold=True)], left, top, split, bottom, middle=True)


_HEAD_LEAST = 5.5
"""Height in mm that the head keeps, whatever the cautions need."""


def _cautions(pages: Pages, cautions: Sequence[str], left: float, right: float, bottom: float, room: float) -> float:
    """Cautions as large as `room` mm above `bottom` takes them, 11 points at most; answers where they begin. Those too
    long for it at 5 points take from the head what they need; where that is too little, the last but one goes, whole:
    the risk comes first, the safety data sheet last."""

    def lines_of(some: Sequence[str], size: float) -> list[str]:
        return wrap(" ".join((_("Caution:"), *some)), size, right - left)

    for tenths in range(110, 49, -5):
        size = tenths / 10
        lines = lines_of(cautions, size)
        if len(lines) * size * PT * LEADING <= room:
            break
    most = max(1, int(room / (size * PT * LEADING)))
    if len(lines) > most and whole_cautions():
        most = int((bottom - EDGE - _HEAD_LEAST) / (size * PT * LEADING))
        while len(lines) > most and len(cautions) > 1:
            cautions = [*cautions[:-2], cautions[-1]]
            lines = lines_of(cautions, size)
    if len(lines) > most:
        lines = [*lines[: most - 1], " ".join(lines[most - 1 :])]
    begin = bottom - len(lines) * size * PT * LEADING
    stack(pages, [StackRow(line, size, size) for line in lines], left, begin - 0.05, right, bottom)
    return begin - 0.3


def _draw_small(pages: Pages, tag: Tag, said: _Said, made: Symbol, wide: float, high: float) -> None:
    """The QR code at the left, everything else beside it."""
    most = high - 2 * EDGE
    module = module_size(made.across, min(most, wide - 2 * EDGE - max(_TEXT, 0.48 * wide)), LEAST_SMALL)
    module = module or module_size(made.across, min(most, wide - 2 * EDGE - _TEXT), LEAST_SMALL)
    if module is None:
        least = made.across * LEAST_SMALL + 2 * EDGE
        message = _("A label of {a} x {b} mm is too small for a QR code that a phone reads: at least {c} x {d} mm.")
        raise Refused(
            message.format(a=f"{wide:g}", b=f"{high:g}", c=math.ceil(least + _TEXT), d=math.ceil(least)), "label"
        )
    side = made.across * module
    pages.qr(EDGE, (high - side) / 2, made, module)
    left, right = EDGE + side + 0.8, wide - EDGE - 0.5
    rows = [StackRow(said.head, 30, 7, bold=True)] if said.head else []
    rows += [StackRow(said.over, 7, 5)] if said.over else []
    rows += [StackRow(said.beside, 17 if said.beside_size > 20 else 9, 5, bold=said.beside_size > 20)]
    rows += [StackRow(shown(tag.code), 20, 5.5, bold=True)]
    if tag.demo:
        rows.append(StackRow(_("DEMO"), 9, 6, bold=True))
    if said.cautions:
        rows.append(StackRow(_("Caution: see the safety data sheet"), 6, 4.5))
    rows += [StackRow(line, 9, 5, spare=True) for line in said.lines]
    rows += [StackRow(tag.shop, 6, 5, spare=True)]
    stack(pages, rows, left, EDGE, right, high - EDGE, middle=True)
