"""Labels for frames, places and buckets: one a page for a label printer, or sheets to cut.

What is read at arm's length is large (the mark, the mesh, the code); two codes stand as far apart as they can, since
ink or emulsion over one corner kills a QR code.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from tickets.domain.code import shown
from tickets.domain.papers.ticket import PlaceTag, ScreenTag, Tag, qr_text
from tickets.domain.refusal import Refused
from tickets.domain.told import Told, each, nobody
from tickets.i18n import gettext as _
from tickets.paper.letters import laid_out, plain
from tickets.paper.page import LEADING, PT, Pages, StackRow, by_dots, stack, whole_cautions, width, wrap
from tickets.paper.qr import DPI, Symbol, module_size, symbol, whole_module
from tickets.paper.stock import LARGE, Label, LabelSheet, dots_up, label_size, plain_sheet

LEAST_LARGE, LEAST_SMALL = 0.8, 0.5
"""Least module in mm on large and on smaller labels."""
EDGE = 1.0
"""Left free all round, in mm: label printers run off by as much."""
_TEXT = 14.0
"""Least width beside the QR code of a small label, for the code in letters."""


def tags_pdf(
    tags: Sequence[Tag],
    label: str = "100x50mm",
    sheet: LabelSheet | str | None = None,
    language: str = "en",
    dpi: int = DPI,
    told: Told = nobody,
) -> bytes:
    """The labels as a PDF: one a page, or on sheets (`A4`, `Letter`) with cut marks, or on sheets of labels by their
    measures. The same tags, the same bytes. `dpi`: dots per inch of the label printer, of which every module of a code
    has a whole number.

    Raises Refused for a label too small for a code, an address too long for one, or an unknown sheet.
    """
    return draw_tags(tags, label, sheet, language, dpi, told)[0]


def draw_tags(
    tags: Sequence[Tag],
    label: str,
    sheet: LabelSheet | str | None,
    language: str = "en",
    dpi: int = DPI,
    told: Told = nobody,
) -> tuple[bytes, Pages]:
    """`tags_pdf`, and the pages with all that was drawn."""
    size = label_size(label)
    if not tags:
        raise Refused(_("Nothing to print on paper: give a code."), "codes")
    with laid_out(tags[0].layout):
        pages = Pages(_title(tags), tags[0].shop, language, 25.4 / dpi)
        if sheet is None:
            wide, high = (dots_up(one, pages.dot) if by_dots() else one for one in (size.wide, size.high))
            for tag in each(tags, told):
                pages.new(wide, high, turned=size.high > size.wide)
                _draw(pages, tag, size)
        else:
            _sheets(pages, tags, size, plain_sheet(size, sheet) if isinstance(sheet, str) else sheet)
        return pages.finish(), pages


def _title(tags: Sequence[Tag]) -> str:
    codes = ", ".join(shown(tag.code) for tag in tags[:5]) + (" …" if len(tags) > 5 else "")
    return _("Tags {codes}").format(codes=codes)


def _sheets(pages: Pages, tags: Sequence[Tag], size: Label, sheet: LabelSheet) -> None:
    """Labels side by side. Those cut out of plain paper lie, with their lines marked where they cross and at the edge;
    upright ones of a sheet by its measures are drawn along it."""
    wide, high = sheet.paper
    upright = not sheet.cut and size.high > size.wide
    across, down = (size.long, size.short) if sheet.cut else (size.wide, size.high)
    for some in sheet.on_sheets(len(tags)):
        pages.new(wide, high, turned=upright)
        if sheet.cut:
            lines = [sheet.left + n * across for n in range(sheet.columns + 1)]
            _cut_marks(pages, lines, [sheet.top + n * down for n in range(sheet.rows + 1)])
        for number, place in some:
            left, top = sheet.of_number(place, (across, down))
            pages.origin(*((high - top - down, left) if upright else (left, top)))
            _draw(pages, tags[number], size)


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
    if tag.discarded:
        lot = _("lot {lot}").format(lot=tag.lot) if tag.lot else ""
        return _Said(_("DISCARDED"), tag.discarded, "", (tag.kind, tag.product, lot), tag.cautions)
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
    shop = wrap(tag.shop, 6, room) if by_dots() else [plain(tag.shop)]
    return [line for line in (*shop, printed, *wrap(tag.address.split("://")[-1], 6, room)) if line]


def _draw_large(pages: Pages, tag: Tag, said: _Said, made: Symbol, wide: float, high: float) -> None:
    """Head and mesh across the top, a QR code in each lower corner, the code in letters between them."""
    rooms = [min((wide - 2 * EDGE - middle) / 2, high - EDGE - 13) for middle in (0.34 * wide, 26.0)]
    module = _module(pages, made, rooms, LEAST_LARGE) or LEAST_LARGE
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
    rows += [StackRow(line, 11 * grow, 6, spare=n > 0, lines=2) for n, line in enumerate(said.lines)]
    if tag.demo:
        rows.append(StackRow(_("DEMO"), 13 * grow, 9, bold=True, gap=0.5))
    small = _small_print(tag, right - left)
    rows += [StackRow(line, 7 * grow, 5, spare=True, gap=0 if n else 1.2) for n, line in enumerate(small)]
    stack(pages, rows, left, top + 1, right, high - EDGE - 0.5, "middle", True)


def _module(pages: Pages, made: Symbol, rooms: Sequence[float], least: float) -> float | None:
    """The module in the first of these rooms where it is whole dots of the printer, else the first where it fits."""
    whole = (whole_module(made.across, room, least, pages.dot) for room in rooms) if by_dots() else ()
    found = next((one for one in whole if one), None)
    return found or next((one for room in rooms if (one := module_size(made.across, room, least))), None)


_ONE_LINE = 6.5
"""Height in mm under which the word over the second large text stands before it."""
_STACKED = 22.0
"""Height in mm from which the two large texts stand under one another."""


def _heads(pages: Pages, said: _Said, left: float, top: float, right: float, bottom: float, grow: float) -> None:
    """The two large texts: side by side and shrunk alike, or under one another where there is height for both."""
    head, beside = plain(said.head), plain(said.beside)
    low = by_dots() and bottom - top < _ONE_LINE
    if said.over and low:
        beside = f"{said.over} {beside}"
    over = [StackRow(said.over, 9 * grow, 7)] if said.over and not low else []
    if beside and bottom - top >= _STACKED:
        rows = [
            StackRow(head, 60 * grow, 8, True, lines=3),
            *over,
            StackRow(beside, 1.5 * said.beside_size * grow, 6, True, lines=2),
        ]
        stack(pages, rows, left, top, right, bottom, middle=True)
        return
    room, space = right - left, 4.0
    wide, other = (width(text, size * grow, bold=True) for text, size in ((head, 40), (beside, said.beside_size)))
    split = right
    if beside:
        share = min(1.0, (room - space) / (wide + other))
        split = left + max(0.3 * room, min(0.72 * room, wide * share + 0.1))
        rows = [*over, StackRow(beside, said.beside_size * grow * share, 6, bold=True, lines=2)]
        stack(pages, rows, split + space, top, right, bottom, "right", middle=True)
    stack(pages, [StackRow(head, 40 * grow, 8, bold=True, lines=3)], left, top, split, bottom, middle=True)


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
    rooms = [min(most, wide - 2 * EDGE - beside) for beside in (max(_TEXT, 0.48 * wide), _TEXT)]
    module = _module(pages, made, rooms, LEAST_SMALL)
    if module is None:
        least = made.across * LEAST_SMALL + 2 * EDGE
        message = _("A label of {a} x {b} mm is too small for a QR code that a phone reads: at least {c} x {d} mm.")
        raise Refused(
            message.format(a=f"{wide:g}", b=f"{high:g}", c=math.ceil(least + _TEXT), d=math.ceil(least)), "label"
        )
    side = made.across * module
    pages.qr(EDGE, (high - side) / 2, made, module)
    left, right = EDGE + side + 0.8, wide - EDGE - 0.5
    rows = [StackRow(said.head, 30, 6, bold=True, lines=4)] if said.head else []
    rows += [StackRow(said.over, 7, 5)] if said.over else []
    rows += [StackRow(said.beside, 17 if said.beside_size > 20 else 9, 5, bold=said.beside_size > 20, lines=2)]
    rows += [StackRow(shown(tag.code), 20, 5.5, bold=True)]
    if tag.demo:
        rows.append(StackRow(_("DEMO"), 9, 6, bold=True))
    if said.cautions:
        rows.append(StackRow(_("Caution: see the safety data sheet"), 6, 4.5, lines=2))
    rows += [StackRow(line, 9, 5, spare=True, lines=2) for line in said.lines]
    rows += [StackRow(tag.shop, 6, 5, spare=True, lines=2)]
    stack(pages, rows, left, EDGE, right, high - EDGE, middle=True)
