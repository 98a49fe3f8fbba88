"""A document that flows over pages: each with its head, QR code and foot; tables whose headings are repeated."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

from tickets.domain.code import shown
from tickets.domain.papers.ticket import JobTicket, qr_text
from tickets.i18n import gettext as _
from tickets.paper.letters import plain
from tickets.paper.page import ASCENT, LEADING, PT, Pages, StackRow, by_dots, fit, stack, width, worded, wrap
from tickets.paper.qr import DOT, QUIET_ZONE, Symbol, symbol

MODULE = 10 * DOT
"""0.847 mm: over the 0.8 mm of large tickets, and whole dots at 300 and 600 dpi."""
SIDE, TOP, BOTTOM = 13.0, 11.0, 15.0
PAD = 1.1
"""Beside and above what stands in a cell, mm."""
HEADING = 2.5 + 12 * PT * LEADING + 0.8
"""Height of a heading in mm."""


# -- a page at a time -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class WrappedLine:
    """A line of a cell, already wrapped to its width. Lengths in mm.

    `more`: further texts on it, each from `x` on; `rules`: lines to write on, from and to; `least`: its least height.
    """

    text: str
    size: float = 9.0
    bold: bool = False
    more: tuple[tuple[float, str, float, bool], ...] = ()
    rules: tuple[tuple[float, float], ...] = ()
    least: float = 0.0

    @property
    def high(self) -> float:
        """With the room for writing, where it has any."""
        return max(self.least, self.size * PT * LEADING)


Cell: TypeAlias = list[WrappedLine]


def high_of(cell: Sequence[WrappedLine]) -> float:
    """How high the lines of a cell stand."""
    return sum(line.high for line in cell)


class Flow:
    """Where the next thing goes. `y` counts down the page; `need` turns over when there is no room.

    `label` says what the paper is, `note` stands in the place of the press date. `inside`: False leaves out the QR
    code, whose address is of no use to anybody outside. `title`: of the document, where it isn't the job with its code.
    `onto`: a document that it goes on in; its own pages are counted from one.
    """

    def __init__(
        self,
        ticket: JobTicket,
        size: tuple[float, float],
        total: int,
        language: str,
        label: str = "",
        note: str = "",
        inside: bool = True,
        title: str = "",
        onto: Pages | None = None,
    ) -> None:
        title = title or _("Job {code}: {title}").format(code=shown(ticket.code), title=plain(ticket.title))
        self.label, self.note, self.inside = label or _("Job ticket"), note, inside
        self.pages = onto or Pages(title, ticket.shop, language)
        self.before = len(self.pages.sizes)
        self.ticket, self.size, self.total = ticket, size, total
        self.symbol: Symbol = symbol(qr_text(ticket.address, ticket.code))
        self.left, self.right = SIDE, size[0] - SIDE
        self.bottom = size[1] - BOTTOM
        self.y = 0.0
        self.turn()

    @property
    def room(self) -> float:
        """What is left of the page."""
        return self.bottom - self.y

    def turn(self) -> None:
        """The next page, with head and foot."""
        self.pages.new(*self.size)
        self.y = _head(self)
        _foot(self)

    def need(self, high: float) -> None:
        """Turns over where there is less room than that."""
        if high > self.room:
            self.turn()

    def words(
        self,
        text: str,
        size: float = 9.0,
        bold: bool = False,
        left: float | None = None,
        right: float | None = None,
        whole: bool = False,
    ) -> None:
        """A paragraph, over as many pages as it takes; a `whole` one stays on one page where a page can hold it."""
        start = self.left if left is None else left
        pieces = wrap(text, size, (right or self.right) - start, bold)
        if whole:
            self.need(min(len(pieces) * size * PT * LEADING, (self.bottom - TOP) / 2))
        for piece in pieces:
            line = WrappedLine(piece, size, bold)
            self.need(line.high)
            self.pages.text(start, self.y + ASCENT * size * PT, piece, size, bold)
            self.y += line.high

    def heading(self, text: str, keep: float = 20.0) -> None:
        """A heading that stays with the `keep` mm that follow it."""
        self.need(HEADING + keep)
        self.y += 2.5
        piece, size = fit(text, self.right - self.left, 12, 8, bold=True)
        self.pages.text(self.left, self.y + ASCENT * size * PT, piece, size, bold=True)
        self.y += size * PT * LEADING + 0.8


_HEAD = 29 * MODULE
"""Least height in mm of a head: that of a QR code of version 3, which a short address falls below."""


def _head(flow: Flow) -> float:
    """Title, customer, code and press date at the left, the QR code at the right; answers where the page goes on."""
    ticket, pages, quiet = flow.ticket, flow.pages, QUIET_ZONE * MODULE
    across = flow.symbol.across * MODULE
    right = flow.right
    if flow.inside:
        pages.qr(flow.right + quiet - across, TOP - quiet, flow.symbol, MODULE)
        right = flow.right + quiet - across - 1.5
    bottom = TOP + max(across - 2 * quiet if flow.inside else 0.0, _HEAD)
    small = 8.5
    first = TOP + ASCENT * small * PT - 0.6
    label = flow.label
    if ticket.version:
        label += " · " + _("version {version}").format(version=plain(ticket.version))
    if ticket.repeats:
        again = worded(_("reorder of {code}"), _("repeats {code}"))
        label += " · " + again.format(code=plain(ticket.repeats))
    start = flow.left
    if ticket.demo:
        pages.text(flow.left + 1.4, first + 0.3, _("DEMO"), 11, bold=True)
        start += width(_("DEMO"), 11, bold=True) + 2.8
        pages.box(flow.left, TOP - 1.0, start, TOP + 4.0, 0.5)
        start += 2.5
    text, size = fit(" · ".join(filter(None, (label, plain(ticket.shop)))), right - start, small, 6)
    pages.text(start, first, text, size)

    due = plain(flow.note or ticket.due)
    code, code_size = fit(shown(ticket.code), right - flow.left, 32, 20, bold=True)
    base = bottom - 0.6
    pages.text(flow.left, base, code, code_size, bold=True)
    if due:
        begin = flow.left + width(code, code_size, bold=True) + 8
        text, size = fit(due, right - begin, 20, 8, bold=True)
        pages.text(right, base, text, size, bold=True, align="right")
        pages.text(right, base - size * PT * ASCENT - 1.2, "" if flow.note else _("press date"), 8, align="right")
    who = " · ".join(filter(None, (plain(ticket.customer), plain(ticket.reference))))
    stack(
        pages,
        [
            StackRow(ticket.title, 23, 8 if by_dots() else 11, bold=True, lines=2),
            StackRow(who, 12, 6 if by_dots() else 8, lines=2),
        ],
        flow.left,
        TOP + 4.4,
        right,
        base - code_size * PT * 0.76 - 0.8,
        middle=True,
    )
    rule = bottom + quiet + 0.3
    pages.bar(flow.left, rule, flow.right, rule + 0.7)
    return rule + 2.0


def _foot(flow: Flow) -> None:
    ticket, pages = flow.ticket, flow.pages
    base = flow.size[1] - 8.5
    pages.line(flow.left, base - 3.6, flow.right, base - 3.6, 0.15)
    page = _("Page {n} of {total}").format(n=len(pages.sizes) - flow.before, total=flow.total)
    pages.text(flow.right, base, page, 8, bold=True, align="right")
    printed = _("printed {date}").format(date=ticket.printed_on) if ticket.printed_on else ""
    where = qr_text(ticket.address, ticket.code) if flow.inside else shown(ticket.code)
    left = " · ".join(filter(None, (_("DEMO") if ticket.demo else "", where, printed)))
    text, size = fit(left, flow.right - flow.left - width(page, 8, bold=True) - 6, 8, 6)
    pages.text(flow.left, base, text, size)


# -- tables ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PaperColumn:
    heading: str
    wide: float


@dataclass(frozen=True, slots=True)
class TableRow:
    """Cells; with fewer of them than columns the last one may run on to the right. `under`: runs under them all but the
    first one."""

    cells: Sequence[Cell]
    under: Cell = field(default_factory=list)

    @property
    def high(self) -> float:
        return max(map(high_of, self.cells)) + high_of(self.under) + 2 * PAD


_SMALL = 7.5
"""Points of a column's heading."""
_WHOLE = 120.0
"""A row up to that many mm high stays with the headings of its table; a longer one goes on over the page."""


def first_high(columns: Sequence[PaperColumn], rows: Sequence[TableRow], least: float = 0.0) -> float:
    """What a heading over a table has to stay with: the headings of its columns and the first row."""
    return headings_high(columns) + max(least, min(rows[0].high, _WHOLE)) if rows else 0.0


def headings_high(columns: Sequence[PaperColumn]) -> float:
    """How high the headings of a table stand, mm, their rule included."""
    return max(len(wrap(one.heading, _SMALL, one.wide - PAD)) for one in columns) * _SMALL * PT * LEADING + 0.5


def table(
    flow: Flow,
    columns: Sequence[PaperColumn],
    rows: Sequence[TableRow],
    least: float = 0.0,
    keep: float = 0.0,
    again: str = "",
) -> None:
    """Rows stay whole where a page can hold them, else they go on over the page, headings repeated; the last one stays
    with the `keep` mm that follow. `again`: what the table is of, said once more over the headings of each page."""
    start = flow.left

    def headings() -> None:
        x, size = start, _SMALL
        lines = [wrap(column.heading, size, column.wide - PAD) for column in columns]
        high = headings_high(columns) - 0.5
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
        if again:
            told = _("{what}, continued").format(what=plain(again))
            said, size = fit(told, flow.right - flow.left, 11, 7, bold=True)
            flow.pages.text(flow.left, flow.y + ASCENT * size * PT, said, size, bold=True)
            flow.y += 11 * PT * LEADING
        headings()

    flow.need(headings_high(columns) + max(least, min(rows[0].high, _WHOLE if again else 40)))
    headings()
    for n, row in enumerate(rows, 1):
        if max(least, row.high) + (keep if n == len(rows) else 0) > flow.room and (n > 1 or row.high > flow.room):
            turn()
        cells, under = [list(cell) for cell in row.cells], list(row.under)
        while max(map(high_of, cells)) + 2 * PAD > flow.room:  # longer than a page: as much as fits, then the rest
            cells = _part(flow, columns, cells)
            turn()
        _part(flow, columns, cells, 0 if under else least)
        while under:
            under = _part(flow, columns, [[], under], 0)[1]
            if under:
                turn()
        flow.pages.line(start, flow.y, start + sum(column.wide for column in columns), flow.y, 0.15)


def _part(flow: Flow, columns: Sequence[PaperColumn], cells: Sequence[Cell], least: float = 0.0) -> list[Cell]:
    """Draws what fits of `cells`; answers what is left."""
    room, taken, x, rest = flow.room - 2 * PAD, 0.0, flow.left, []
    for column, cell in zip(columns, cells, strict=False):
        y = 0.0
        lines = list(cell)
        while lines and y + lines[0].high <= room + 1e-6:
            line = lines.pop(0)
            base = flow.y + PAD + y + line.high - line.size * PT * LEADING + ASCENT * line.size * PT
            flow.pages.text(x, base, line.text, line.size, line.bold)
            for right, text, size, bold in line.more:
                flow.pages.text(x + right, base, text, size, bold)
            for begin, end in line.rules:
                flow.pages.line(x + begin, base + 0.7, x + end, base + 0.7, 0.15)
            y += line.high
        taken = max(taken, y)
        rest.append(lines)
        x += column.wide
    flow.y += max(least, taken + 2 * PAD)
    return rest


Piece: TypeAlias = tuple[str, float, bool] | str
"""A text with its size and whether it is bold; a plain one is 9 points."""


def cell(wide: float, *pieces: Piece) -> Cell:
    """Pieces of text, each from a new line."""
    lines: Cell = []
    for piece in pieces:
        text, size, bold = (piece, 9.0, False) if isinstance(piece, str) else piece
        lines += [WrappedLine(line, size, bold) for line in wrap(text, size, wide - 2 * PAD, bold)]
    return lines


def columns_of(room: float, *shares: tuple[str, float]) -> list[PaperColumn]:
    """Columns that share the room."""
    whole = sum(share for _heading, share in shares)
    return [PaperColumn(heading, room * share / whole) for heading, share in shares]
