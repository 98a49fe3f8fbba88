"""The job ticket: the whole print order, its settings and screens, cautions, and lines to write on.

Every page carries the QR code and the code, since pages of a job part company. Where something is longer than its
place it is wrapped; a table goes on over the page with its headings repeated.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeAlias

from PIL import Image, ImageOps
from reportlab.lib.utils import ImageReader

from tickets.paper.page import ASCENT, LEADING, PT, Pages, Row, fit, plain, stack, width, wrap
from tickets.paper.qr import DOT, QUIET_ZONE, Symbol, symbol
from tickets.paper.tags import paper_size
from tickets.records.code import shown
from tickets.records.ticket import JobTicket, PlacementSheet, StationRow, qr_text
from tickets.words import gettext as _

MODULE = 10 * DOT
"""0.847 mm: over the 0.8 mm of large tickets, and whole dots at 300 and 600 dpi."""
SIDE, TOP, BOTTOM = 13.0, 11.0, 15.0
PICTURE = 34.0
"""Side in mm of the box that the art stands in."""
PIXELS = 800
"""Most pixels of the art's longer side: 600 dpi in its box."""
MOST_PIXELS = 60_000_000
"""A larger picture is not opened: it would take the memory of the whole server."""
_PAD = 1.1
"""Beside and above what stands in a cell, mm."""


def job_pdf(ticket: JobTicket, paper: str = "A4", pictures: Path | None = None, language: str = "en") -> bytes:
    """The ticket as a PDF on `A4` or `Letter`. The same ticket, the same bytes. `pictures`: the folder that the art's
    file name is taken from; a picture that is gone is left out. Raises Refused for another paper or a long address.
    """
    return draw_job(ticket, paper, pictures, language)[0]


def draw_job(ticket: JobTicket, paper: str, pictures: Path | None, language: str = "en") -> tuple[bytes, Pages]:
    """`job_pdf`, and the pages with all that was drawn. Drawn twice, since a page says how many there are."""
    size, picture = paper_size(paper), _picture(ticket.picture, pictures)
    counted = _Flow(ticket, size, 1, language)
    _job(counted, ticket, picture)
    flow = _Flow(ticket, size, len(counted.pages.sizes), language)
    _job(flow, ticket, picture)
    return flow.pages.finish(), flow.pages


def _picture(name: str | None, folder: Path | None) -> ImageReader | None:
    """The art, upright, and no larger than it prints: a camera's picture would make the ticket slow to print."""
    if not name:
        return None
    try:
        with Image.open((folder or Path()) / name) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                return None
            opened.thumbnail((PIXELS, PIXELS))
            image = ImageOps.exif_transpose(opened).convert("RGBA")
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError, Image.DecompressionBombWarning):
        return None  # the paper is still of use without it
    white = Image.new("RGB", image.size, "white")
    white.paste(image, mask=image.getchannel("A"))
    return ImageReader(white)


# -- a page at a time -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Line:
    """A line of a cell, already wrapped to its width."""

    text: str
    size: float = 9.0
    bold: bool = False

    @property
    def high(self) -> float:
        return self.size * PT * LEADING


_Cell: TypeAlias = list[_Line]


def _high(cell: Sequence[_Line]) -> float:
    return sum(line.high for line in cell)


class _Flow:
    """Where the next thing goes. `y` counts down the page; `need` turns over when there is no room."""

    def __init__(self, ticket: JobTicket, size: tuple[float, float], total: int, language: str) -> None:
        title = _("Job {code}: {title}").format(code=shown(ticket.code), title=plain(ticket.title))
        self.pages = Pages(title, ticket.shop, language)
        self.ticket, self.size, self.total = ticket, size, total
        self.symbol: Symbol = symbol(qr_text(ticket.address, ticket.code))
        self.left, self.right = SIDE, size[0] - SIDE
        self.bottom = size[1] - BOTTOM
        self.y = 0.0
        self.turn()

    @property
    def room(self) -> float:
        return self.bottom - self.y

    def turn(self) -> None:
        """The next page, with head and foot."""
        self.pages.new(*self.size)
        self.y = _head(self)
        _foot(self)

    def need(self, high: float) -> None:
        if high > self.room:
            self.turn()

    def words(self, text: str, size: float = 9.0, bold: bool = False, left: float | None = None) -> None:
        """A paragraph, over as many pages as it takes."""
        start = self.left if left is None else left
        for piece in wrap(text, size, self.right - start):
            line = _Line(piece, size, bold)
            self.need(line.high)
            self.pages.text(start, self.y + ASCENT * size * PT, piece, size, bold)
            self.y += line.high

    def heading(self, text: str, keep: float = 20.0) -> None:
        """A heading that stays with the `keep` mm that follow it."""
        self.need(8 + keep)
        self.y += 2.5
        piece, size = fit(text, self.right - self.left, 12, 8)
        self.pages.text(self.left, self.y + ASCENT * size * PT, piece, size, bold=True)
        self.y += size * PT * LEADING + 0.8


def _head(flow: _Flow) -> float:
    """Title, customer, code and press date at the left, the QR code at the right; answers where the page goes on."""
    ticket, pages, quiet = flow.ticket, flow.pages, QUIET_ZONE * MODULE
    across = flow.symbol.across * MODULE
    pages.qr(flow.right + quiet - across, TOP - quiet, flow.symbol, MODULE)
    right = flow.right + quiet - across - 1.5
    bottom = TOP + across - 2 * quiet
    small = 8.5
    first = TOP + ASCENT * small * PT - 0.6
    label = _("Job ticket")
    if ticket.version:
        label += " · " + _("version {version}").format(version=plain(ticket.version))
    if ticket.repeats:
        label += " · " + _("repeats {code}").format(code=plain(ticket.repeats))
    start = flow.left
    if ticket.demo:
        pages.text(flow.left + 1.4, first + 0.3, _("DEMO"), 11, bold=True)
        start += width(_("DEMO"), 11) + 2.8
        pages.box(flow.left, TOP - 1.0, start, TOP + 4.0, 0.5)
        start += 2.5
    text, size = fit(" · ".join(filter(None, (label, plain(ticket.shop)))), right - start, small, 6)
    pages.text(start, first, text, size)

    due = plain(ticket.due)
    code, code_size = fit(shown(ticket.code), right - flow.left, 32, 20)
    base = bottom - 0.6
    pages.text(flow.left, base, code, code_size, bold=True)
    if due:
        begin = flow.left + width(code, code_size) + 8
        text, size = fit(due, right - begin, 20, 8)
        pages.text(right, base, text, size, bold=True, align="right")
        pages.text(right, base - size * PT * ASCENT - 1.2, _("press date"), 8, align="right")
    who = " · ".join(filter(None, (plain(ticket.customer), plain(ticket.reference))))
    stack(
        pages,
        [Row(ticket.title, 23, 11, bold=True), Row(who, 12, 8)],
        flow.left,
        TOP + 4.4,
        right,
        base - code_size * PT * 0.76 - 0.8,
        middle=True,
    )
    rule = bottom + quiet + 0.3
    pages.bar(flow.left, rule, flow.right, rule + 0.7)
    return rule + 2.0


def _foot(flow: _Flow) -> None:
    ticket, pages = flow.ticket, flow.pages
    base = flow.size[1] - 8.5
    pages.line(flow.left, base - 3.6, flow.right, base - 3.6, 0.15)
    page = _("Page {n} of {total}").format(n=len(pages.sizes), total=flow.total)
    pages.text(flow.right, base, page, 8, bold=True, align="right")
    printed = _("printed {date}").format(date=ticket.printed_on) if ticket.printed_on else ""
    left = " · ".join(filter(None, (_("DEMO") if ticket.demo else "", qr_text(ticket.address, ticket.code), printed)))
    text, size = fit(left, flow.right - flow.left - width(page, 8) - 6, 8, 6)
    pages.text(flow.left, base, text, size)


# -- tables ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Column:
    heading: str
    wide: float


@dataclass(frozen=True, slots=True)
class _Row:
    """Cells; with fewer of them than columns the last one may run on to the right. `under`: runs under them all but the
    first one."""

    cells: Sequence[_Cell]
    under: _Cell = field(default_factory=list)

    @property
    def high(self) -> float:
        return max(map(_high, self.cells)) + _high(self.under) + 2 * _PAD


def _table(
    flow: _Flow, columns: Sequence[_Column], rows: Sequence[_Row], least: float = 0.0, keep: float = 0.0
) -> None:
    """Rows stay whole where a page can hold them, else they go on over the page, headings repeated; the last one stays
    with the `keep` mm that follow."""
    start = flow.left

    def headings() -> None:
        x = start
        size = 7.5
        lines = [wrap(column.heading, size, column.wide - _PAD) for column in columns]
        high = max(map(len, lines)) * size * PT * LEADING
        for column, words in zip(columns, lines, strict=True):
            y = flow.y + high - len(words) * size * PT * LEADING
            for word in words:
                flow.pages.text(x, y + ASCENT * size * PT, word, size)
                y += size * PT * LEADING
            x += column.wide
        flow.y += high + 0.5
        flow.pages.line(start, flow.y, start + sum(column.wide for column in columns), flow.y, 0.4)

    def turn() -> None:
        flow.turn()
        flow.y += 1
        headings()

    flow.need(8 + max(least, min(rows[0].high, 40)))
    headings()
    for n, row in enumerate(rows, 1):
        if max(least, row.high) + (keep if n == len(rows) else 0) > flow.room and (n > 1 or row.high > flow.room):
            turn()
        cells, under = [list(cell) for cell in row.cells], list(row.under)
        while max(map(_high, cells)) + 2 * _PAD > flow.room:  # longer than a page: as much as fits, then the rest
            cells = _part(flow, columns, cells)
            turn()
        _part(flow, columns, cells, 0 if under else least)
        while under:
            under = _part(flow, columns, [[], under], 0)[1]
            if under:
                turn()
        flow.pages.line(start, flow.y, start + sum(column.wide for column in columns), flow.y, 0.15)


def _part(flow: _Flow, columns: Sequence[_Column], cells: Sequence[_Cell], least: float = 0.0) -> list[_Cell]:
    """Draws what fits of `cells`; answers what is left."""
    room, taken, x, rest = flow.room - 2 * _PAD, 0.0, flow.left, []
    for column, cell in zip(columns, cells, strict=False):
        y = 0.0
        lines = list(cell)
        while lines and y + lines[0].high <= room + 1e-6:
            line = lines.pop(0)
            flow.pages.text(x, flow.y + _PAD + y + ASCENT * line.size * PT, line.text, line.size, line.bold)
            y += line.high
        taken = max(taken, y)
        rest.append(lines)
        x += column.wide
    flow.y += max(least, taken + 2 * _PAD)
    return rest


_Piece: TypeAlias = tuple[str, float, bool] | str
"""A text with its size and whether it is bold; a plain one is 9 points."""


def _cell(wide: float, *pieces: _Piece) -> _Cell:
    """Pieces of text, each from a new line."""
    lines: _Cell = []
    for piece in pieces:
        text, size, bold = (piece, 9.0, False) if isinstance(piece, str) else piece
        lines += [_Line(line, size, bold) for line in wrap(text, size, wide - 2 * _PAD)]
    return lines


def _columns(room: float, *shares: tuple[str, float]) -> list[_Column]:
    whole = sum(share for _heading, share in shares)
    return [_Column(heading, room * share / whole) for heading, share in shares]


# -- what stands on it ----------------------------------------------------------------------------------------------


def _job(flow: _Flow, ticket: JobTicket, picture: ImageReader | None) -> None:
    _garments(flow, ticket, picture)
    if ticket.cautions:
        _cautions(flow, ticket.cautions)
    for sheet in ticket.placements:
        _placement(flow, ticket, sheet)
    if ticket.colourways:
        _colourways(flow, ticket)
    if ticket.remarks:
        flow.heading(_("Remarks"), 8)
        for remark in ticket.remarks:
            flow.words("– " + plain(remark))
    _by_hand(flow)


def _garments(flow: _Flow, ticket: JobTicket, picture: ImageReader | None) -> None:
    room = flow.right - flow.left
    flow.y += 1
    top, page = flow.y, len(flow.pages.sizes)
    art = " · ".join(filter(None, (plain(ticket.art), plain(ticket.revision))))
    if art:
        piece, size = fit(_("Art: {art}").format(art=art), room - (PICTURE + 4 if picture else 0), 11, 7)
        flow.pages.text(flow.left, flow.y + ASCENT * size * PT, piece, size, bold=True)
        flow.y += size * PT * LEADING + 1
    if picture:
        flow.pages.picture(flow.right - PICTURE, top, flow.right, top + PICTURE, picture)
        flow.pages.box(flow.right - PICTURE, top, flow.right, top + PICTURE, 0.15)
        room -= PICTURE + 4
    if ticket.garments:
        columns = _columns(
            room,
            (_("Garment"), 34),
            (_("Colour"), 24),
            (_("Pieces"), 15),
            (_("Fibre"), 34),
            (_("Lot"), 20),
            (_("Counted"), 18),
        )
        wide = [column.wide for column in columns]
        rows = []
        for row in ticket.garments:
            style: list[_Piece] = [(row.style, 10.0, True), *([(row.note, 9.0, True)] if row.note else [])]
            rows.append(
                _Row(
                    [
                        _cell(wide[0], *style),
                        _cell(wide[1], (row.colour, 10, False)),
                        _cell(wide[2], (row.pieces, 11, True)),
                        _cell(wide[3], row.fibre),
                        _cell(wide[4], row.lot),
                        [],
                    ]
                )
            )
        _table(flow, columns, rows, 7.5)
    if picture and len(flow.pages.sizes) == page:
        flow.y = max(flow.y, top + PICTURE + 2)


def _cautions(flow: _Flow, cautions: Sequence[str]) -> None:
    size, indent = 8.5, 4.0
    lines = [line for text in cautions for line in wrap(text, size, flow.right - flow.left - indent)]
    high = (len(lines) + 1.2) * size * PT * LEADING
    flow.y += 2.5
    whole = high < 0.6 * (flow.bottom - TOP)
    if whole:
        flow.need(high)
        flow.pages.bar(flow.left, flow.y, flow.left + 1.4, flow.y + high)
    flow.words(_("Caution"), 10, True, flow.left + indent)
    for text in cautions:
        flow.words(text, size, left=flow.left + indent)
    flow.y += 0.5


_APPROVAL = 11.0
"""Height in mm of the line for the approval under a print order."""


def _placement(flow: _Flow, ticket: JobTicket, sheet: PlacementSheet) -> None:
    room = flow.right - flow.left
    columns = _columns(
        room,
        (_("Order"), 10),
        (_("Prints"), 31),
        (_("Ink"), 34),
        (_("Mesh"), 31.5),
        (_("Squeegee and stroke"), 32),
        (_("Screen"), 25),
        (_("As run"), 20.5),
    )
    wide = [column.wide for column in columns]
    rows = [_station(station, wide) for station in sheet.stations]
    whole = 32 + sum(max(12, row.high) for row in rows) + _APPROVAL
    flow.need(whole if whole < 80 else 32 + min(rows[0].high, 60))
    flow.y += 4
    settings = _("settings: {where}").format(where=plain(ticket.where_from)) if ticket.where_from else ""
    note, note_size = fit(settings, room * 0.45, 9, 7)
    name, size = fit(sheet.name, room - width(note, note_size) - 4, 16, 9)
    base = flow.y + ASCENT * 16 * PT
    flow.pages.text(flow.left, base, name, size, bold=True)
    flow.pages.text(flow.right, base, note, note_size, align="right")
    flow.y += 16 * PT * LEADING
    facts = [
        sheet.size,
        _("from {where}").format(where=sheet.measured_from) if sheet.measured_from else "",
        _("platen {platen}").format(platen=sheet.platen) if sheet.platen else "",
        _("art {art}").format(art=sheet.art) if sheet.art else "",
    ]
    flow.words(" · ".join(filter(None, map(plain, facts))), 10)
    if sheet.dryer:
        flow.words(_("Dryer: {dryer}").format(dryer=sheet.dryer), 10)
    flow.y += 1.5
    if rows:
        _table(flow, columns, rows, 12, keep=_APPROVAL)
    flow.need(_APPROVAL)
    flow.y += 8
    blanks = (_("First print approved by"), _("how"), _("Good"), _("Misprinted"))
    _blanks(flow, blanks, (0.44, 0.24, 0.14, 0.18))
    flow.y += 2


_LONG_NOTE = 48
"""Letters from which on a note runs under its station rather than in the narrow column."""


def _station(row: StationRow, wide: Sequence[float]) -> _Row:
    order = _cell(wide[0], (row.order, 17, True))
    if not row.prints:
        does = f"{row.does}: {row.flash}" if row.flash else row.does
        return _Row([order, _cell(sum(wide[1:-1]), (does, 12, True), row.note)])
    inks: list[_Piece] = [(row.ink, 9.0, True), *(text for text in (row.series, row.reference, row.recipe) if text)]
    if row.colour and row.colour.casefold() != row.separation.casefold():
        inks.insert(0, (row.colour, 9.0, True))
    if row.coverage:
        inks.append(_("coverage {share}").format(share=row.coverage))
    press = [row.strokes, row.squeegee]
    if row.flash:
        press.append(_("flash {flash}").format(flash=row.flash))
    if row.off_contact:
        press.append(_("off-contact {distance}").format(distance=row.off_contact))
    screens: list[_Piece] = []
    for screen in row.screens:
        screens.append((shown(screen.code), 11.0, True))
        if screen.mark:
            screens.append((screen.mark, 10.0, False))
    whole = width(plain(row.mesh), 12) <= wide[3] - 2 * _PAD  # else the thread goes under the count
    mesh: list[_Piece] = [(part, 12.0, True) for part in ([row.mesh] if whole else row.mesh.split(" · "))]
    if row.halftone:
        mesh.append(row.halftone)
    prints: list[_Piece] = [(row.separation, 12.0, True)]
    long = len(row.note) > _LONG_NOTE
    if row.note and not long:
        prints.append(row.note)
    cells = [
        order,
        _cell(wide[1], *prints),
        _cell(wide[2], *inks),
        _cell(wide[3], *mesh),
        _cell(wide[4], *filter(None, press)),
        _cell(wide[5], *screens),
        [],
    ]
    return _Row(cells, _cell(sum(wide[1:]), row.note) if long else [])


def _blanks(flow: _Flow, labels: Sequence[str], shares: Sequence[float]) -> None:
    """Lines to write on, each after its label, side by side."""
    x, room = flow.left, flow.right - flow.left
    for label, share in zip(labels, shares, strict=True):
        end = x + room * share
        text, size = fit(label, room * share * 0.55, 8.5, 6)
        flow.pages.text(x, flow.y, text, size)
        flow.pages.line(
            x + width(text, size) + 1.5, flow.y + 0.6, end - (3 if share != shares[-1] else 0), flow.y + 0.6, 0.2
        )
        x = end


def _colourways(flow: _Flow, ticket: JobTicket) -> None:
    flow.heading(_("Colourways: what differs"), 18)
    columns = _columns(
        flow.right - flow.left, (_("Garment"), 50), (_("Separation"), 40), (_("Ink on this garment"), 80)
    )
    wide = [column.wide for column in columns]
    rows: list[_Row] = []
    for way in ticket.colourways:
        for n, (separation, ink) in enumerate(way.inks):
            rows.append(
                _Row(
                    [
                        _cell(wide[0], (way.garment if n == 0 else "", 10, True)),
                        _cell(wide[1], (separation, 10, False)),
                        _cell(wide[2], (ink, 10, True)),
                    ]
                )
            )
    if rows:
        _table(flow, columns, rows)


def _by_hand(flow: _Flow) -> None:
    """Lines for a shop whose network is down, beside a second QR code in case the first one is dirty."""
    across, line = flow.symbol.across * MODULE, 8.0
    flow.need(across + 24)
    flow.y += 2
    flow.heading(_("By hand, while the network is down"), across)
    quiet = QUIET_ZONE * MODULE
    flow.pages.qr(flow.right + quiet - across, flow.y - 1, flow.symbol, MODULE)
    middle = flow.right + quiet - across / 2
    flow.pages.text(middle, flow.y + across + 3.2, shown(flow.ticket.code), 15, bold=True, align="middle")
    room = flow.right + quiet - across - 1 - flow.left
    advice = _("One line for each act. Later: scan, or type the code, enter each line with its time, and tick it.")
    for words in wrap(advice, 8.5, room):
        flow.pages.text(flow.left, flow.y + ASCENT * 8.5 * PT, words, 8.5)
        flow.y += 8.5 * PT * LEADING
    flow.y += 1.5
    columns = _columns(
        room,
        (_("Time"), 16),
        (_("Who"), 20),
        (_("Screen or order"), 26),
        (_("What was done and measured"), 66),
        (_("In"), 8),
    )
    count = min(16, int((flow.room - 6) / line))
    rows = [_Row([[] for _column in columns]) for _n in range(count)]
    top = flow.y + 4
    _table(flow, columns, rows, line)
    x = flow.left
    for column in columns[:-1]:
        x += column.wide
        flow.pages.line(x - 0.8, top, x - 0.8, flow.y, 0.1)
