"""The job ticket: the whole print order, its settings and screens, cautions, and lines to write on.

Every page carries the QR code and the code, since pages of a job part company. Where something is longer than its
place it is wrapped; a table goes on over the page with its headings repeated.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from PIL import Image, ImageOps
from reportlab.lib.utils import ImageReader

from tickets.domain.code import shown
from tickets.domain.papers.ticket import JobTicket, PlacementSheet, StationRow
from tickets.i18n import gettext as _
from tickets.i18n import ngettext, pgettext
from tickets.paper.flow import (
    HEADING,
    MODULE,
    PAD,
    TOP,
    Cell,
    Flow,
    PaperColumn,
    Piece,
    TableRow,
    cell,
    columns_of,
    first_high,
    headings_high,
    table,
)
from tickets.paper.letters import laid_out, plain
from tickets.paper.page import ASCENT, LEADING, PT, Pages, fit, width, worded, wrap
from tickets.paper.qr import QUIET_ZONE
from tickets.paper.stock import paper_size

PICTURE = 30.0
"""Side in mm of the box that the art stands in."""
PIXELS = 800
"""Most pixels of the art's longer side: over 600 dpi in its box."""
MOST_PIXELS = 60_000_000
"""A larger picture is not opened: it would take the memory of the whole server."""


def job_pdf(ticket: JobTicket, paper: str = "A4", pictures: Path | None = None, language: str = "en") -> bytes:
    """The ticket as a PDF on `A4` or `Letter`. The same ticket, the same bytes. `pictures`: the folder that the art's
    file name is taken from; a picture that is gone is left out. Raises Refused for another paper or a long address.
    """
    return draw_job(ticket, paper, pictures, language)[0]


def jobs_pdf(tickets: Sequence[JobTicket], paper: str, pictures: Path | None, language: str = "en") -> bytes:
    """Several tickets as one PDF, one after the other, each with its own pages; a single one as `job_pdf`."""
    if len(tickets) == 1:
        return job_pdf(tickets[0], paper, pictures, language)
    title = ngettext("{n} job ticket", "{n} job tickets", len(tickets)).format(n=len(tickets))
    onto = Pages(title, tickets[0].shop, language)
    for ticket in tickets:
        with laid_out(ticket.layout):
            _drawn_job(ticket, paper, pictures, language, onto)
    return onto.finish()


def draw_job(ticket: JobTicket, paper: str, pictures: Path | None, language: str = "en") -> tuple[bytes, Pages]:
    """`job_pdf`, and the pages with all that was drawn. Drawn the first way that takes no more pages than the ticket is
    to, else the first that takes the fewest; once more, since a page says how many there are."""
    with laid_out(ticket.layout):
        return _draw_job(ticket, paper, pictures, language)


def _draw_job(ticket: JobTicket, paper: str, pictures: Path | None, language: str) -> tuple[bytes, Pages]:
    found = _drawn_job(ticket, paper, pictures, language)
    return found.finish(), found


def _drawn_job(ticket: JobTicket, paper: str, pictures: Path | None, language: str, onto: Pages | None = None) -> Pages:
    """The pages of a ticket; `onto`: behind those of a document."""
    size, picture = paper_size(paper), picture_of(ticket.picture, pictures)

    def drawn(how: Closeness, total: int = 1, onto: Pages | None = None) -> Pages:
        flow = Flow(ticket, size, total, language, onto=onto)
        _job(flow, ticket, picture, how)
        return flow.pages

    best, fewest = TICKETS[0], 0
    for how in TICKETS if ticket.layout > 1 and ticket.pages else TICKETS[:1]:
        pages = len(drawn(how).sizes)
        if not fewest or pages < fewest:
            best, fewest = how, pages
        if fewest <= ticket.pages:
            break
    return drawn(best, fewest, onto)


def pages_of(ticket: JobTicket, paper: str, pictures: Path | None, language: str = "en") -> int:
    """How many pages a ticket takes where nothing is set closer."""
    return len(draw_job(replace(ticket, pages=0), paper, pictures, language)[1].sizes)


@dataclass(frozen=True, slots=True)
class Closeness:
    """How closely the print order is set: type by `scale`; `wide`: more room for what makes a row high."""

    scale: float = 1.0
    wide: bool = False

    def points(self, size: float) -> float:
        """The size of type that is `size` where there is room; never so small that it is not read."""
        return max(6.5, size * self.scale)

    def cell(self, wide: float, *pieces: Piece) -> Cell:
        """As `flow.cell`, in this size."""
        every = ((piece, 9.0, False) if isinstance(piece, str) else piece for piece in pieces)
        return cell(wide, *((text, self.points(size), bold) for text, size, bold in every))

    def columns(self, room: float) -> list[PaperColumn]:
        """The columns of a print order."""
        shares = (8, 28, 46, 27, 46, 19, 13) if self.wide else (10, 30, 40, 31.5, 32, 23, 17.5)
        prints = pgettext("what a position does", "Prints")
        names = (_("Order"), prints, _("Ink"), _("Mesh"), _("Squeegee and stroke"), _("Screen"), _("As run"))
        return columns_of(room, *zip(names, shares, strict=True))


TICKETS = (Closeness(), Closeness(0.92, True), Closeness(0.84, True), Closeness(0.74, True))
"""From the one that reads best to the closest one."""


def picture_of(name: str | None, folder: Path | None) -> ImageReader | None:
    """A picture, upright, and no larger than it prints: as it comes from a camera it would make paper slow to print."""
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


# -- what stands on it ----------------------------------------------------------------------------------------------


def _job(flow: Flow, ticket: JobTicket, picture: ImageReader | None, how: Closeness) -> None:
    beside = _garments(flow, ticket, picture)
    first = (*ticket.first, *ticket.cautions)
    if first:
        _cautions(flow, first, flow.right - PICTURE - 4 if flow.y + 8 < beside else flow.right)
    flow.y = max(flow.y, beside)
    for sheet in ticket.placements:
        _placement(flow, ticket, sheet, how)
    if ticket.colourways:
        _colourways(flow, ticket, how)
    if ticket.remarks:
        said = ["– " + plain(remark) for remark in ticket.remarks]
        flow.heading(_("Remarks"), min(len(wrap(said[0], 8.5, flow.right - flow.left)) * 8.5 * PT * LEADING, 80))
        for remark in said:
            flow.words(remark, 8.5, whole=True)
    _by_hand(flow)


def _garments(flow: Flow, ticket: JobTicket, picture: ImageReader | None) -> float:
    """The order's garments, the art at their right; answers down to where the art stands on this page."""
    room = flow.right - flow.left
    flow.y += 1
    top, page = flow.y, len(flow.pages.sizes)
    art = " · ".join(filter(None, (plain(ticket.art), plain(ticket.revision))))
    if art:
        piece, size = fit(_("Art: {art}").format(art=art), room - (PICTURE + 4 if picture else 0), 11, 7, bold=True)
        flow.pages.text(flow.left, flow.y + ASCENT * size * PT, piece, size, bold=True)
        flow.y += size * PT * LEADING + 1
    if picture:
        flow.pages.picture(flow.right - PICTURE, top, flow.right, top + PICTURE, picture)
        flow.pages.box(flow.right - PICTURE, top, flow.right, top + PICTURE, 0.15)
        room -= PICTURE + 4
    if ticket.garments:
        columns = columns_of(
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
            style: list[Piece] = [(row.style, 10.0, True), *([(row.note, 9.0, True)] if row.note else [])]
            rows.append(
                TableRow(
                    [
                        cell(wide[0], *style),
                        cell(wide[1], (row.colour, 10, False)),
                        cell(wide[2], (row.pieces, 11, True)),
                        cell(wide[3], row.fibre),
                        cell(wide[4], row.lot),
                        [],
                    ]
                )
            )
        table(flow, columns, rows, 7.5, again=_("Garments") if ticket.layout > 1 else "")
    return top + PICTURE + 2 if picture and len(flow.pages.sizes) == page else 0.0


def _cautions(flow: Flow, cautions: Sequence[str], right: float) -> None:
    size, indent = 8.5, 4.0
    lines = [line for text in cautions for line in wrap(text, size, right - flow.left - indent)]
    high = (len(lines) + 1.2) * size * PT * LEADING
    flow.y += 2.5
    whole = high < 0.6 * (flow.bottom - TOP)
    if whole:
        flow.need(high)
        flow.pages.bar(flow.left, flow.y, flow.left + 1.4, flow.y + high)
    flow.words(_("Caution"), 10, True, flow.left + indent)
    for text in cautions:
        flow.words(text, size, left=flow.left + indent, right=right)
    flow.y += 0.5


_APPROVAL = 11.0
"""Height in mm of the line for the approval under a print order."""


def _placement(flow: Flow, ticket: JobTicket, sheet: PlacementSheet, how: Closeness) -> None:
    room = flow.right - flow.left
    columns = how.columns(room)
    wide = [column.wide for column in columns]
    rows = [_station(station, wide, how) for station in sheet.stations]
    facts = [
        sheet.size,
        _("from {where}").format(where=sheet.measured_from) if sheet.measured_from else "",
        _("platen {platen}").format(platen=sheet.platen) if sheet.platen else "",
        _("art {art}").format(art=sheet.art) if sheet.art else "",
    ]
    dryer = _("Dryer: {dryer}").format(dryer=sheet.dryer) if sheet.dryer else ""
    said = [" · ".join(filter(None, map(plain, facts))), dryer, plain(sheet.more), plain(sheet.changed)]
    whole = 32 + sum(max(10.5, row.high) for row in rows) + _APPROVAL
    if ticket.layout > 1:
        lines = sum(len(wrap(text, 10, room, text == said[-1])) for text in said)
        high = 5.5 + (16 + 10 * lines) * PT * LEADING
        flow.need(high + first_high(columns, rows, 10.5) + (_APPROVAL if len(rows) == 1 else 0))
    else:
        flow.need(whole if whole < 80 else 32 + min(rows[0].high, 60))
    flow.y += 4
    where = sheet.where_from or ticket.where_from
    settings = _("settings: {where}").format(where=plain(where)) if where else ""
    note, note_size = fit(settings, room * 0.45, 9, 7)
    name, size = fit(sheet.name, room - width(note, note_size) - 4, 16, 9, bold=True)
    base = flow.y + ASCENT * 16 * PT
    flow.pages.text(flow.left, base, name, size, bold=True)
    flow.pages.text(flow.right, base, note, note_size, align="right")
    flow.y += 16 * PT * LEADING
    for text in said:
        flow.words(text, 10, text == said[-1])
    flow.y += 1.5
    if rows:
        table(flow, columns, rows, 10.5, _APPROVAL, sheet.name if ticket.layout > 1 else "")
    flow.need(_APPROVAL)
    flow.y += 8
    blanks = (_("First print approved by"), _("how"), _("Good"), _("Misprinted"))
    _blanks(flow, blanks, (0.44, 0.24, 0.14, 0.18))
    flow.y += 2


# whole: the cells of one row, left to right; each part would need all of the widths and texts of the others
def _station(row: StationRow, wide: Sequence[float], how: Closeness) -> TableRow:
    order = how.cell(wide[0], (row.order, 17, True))
    beside = list(filter(None, (row.head, row.revolution, row.choke)))
    changed: list[Piece] = [(row.changed, 9.0, True)] if row.changed else []
    if not row.prints:
        does = f"{row.does}: {row.flash}" if row.flash else row.does
        rest = " · ".join(filter(None, (*beside, row.note)))
        under = [*([rest] if rest else []), *((one, 9.0, True) for one in row.ways), *changed]
        return TableRow([order, how.cell(sum(wide[1:-1]), (does, 12, True), *under)])
    colour = row.colour if row.colour.casefold() != row.separation.casefold() else ""
    inks: list[Piece] = [(", ".join(filter(None, (colour, row.ink))), 9.0, True)]
    covers = _("coverage {share}").format(share=row.coverage) if row.coverage else ""
    inks.append(" · ".join(filter(None, (row.series, row.reference, row.recipe, covers))))
    inks += [(one, 9.0, True) for one in row.ways]
    if row.to_meet:
        inks.append(_("to meet: {colour}").format(colour=row.to_meet))
    if row.need:
        inks.append(row.need)
    press = [row.strokes, row.squeegee]
    if row.flash:
        press.append(_("flash {flash}").format(flash=row.flash))
    if row.off_contact:
        press.append(_("off-contact {distance}").format(distance=row.off_contact))
    screens: list[Piece] = []
    for screen in row.screens:
        screens.append((shown(screen.code), 11.0, True))
        if screen.mark:
            screens.append((screen.mark, 10.0, False))
        if screen.stage:
            screens.append((screen.stage, 8.0, False))
    whole = width(plain(row.mesh), how.points(12), bold=True) <= wide[3] - 2 * PAD
    mesh: list[Piece] = [(part, 12.0, True) for part in ([row.mesh] if whole else row.mesh.split(" · "))]  # else under
    if row.halftone:
        mesh.append(row.halftone)
    prints: list[Piece] = [(row.separation, 12.0, True), *beside]

    def made(beneath: bool) -> TableRow:
        named = [*prints, *([row.note] if row.note and not beneath else [])]
        cells = [
            order,
            how.cell(wide[1], *named),
            how.cell(wide[2], *inks),
            how.cell(wide[3], *mesh),
            how.cell(wide[4], *filter(None, press)),
            how.cell(wide[5], *screens),
            [],
        ]
        return TableRow(cells, how.cell(sum(wide[1:]), *([row.note] if beneath else []), *changed))

    beside_it = made(False)  # a note that makes its row higher in the narrow column runs under it instead
    return min(beside_it, made(True), key=lambda one: one.high) if row.note else beside_it


def _blanks(flow: Flow, labels: Sequence[str], shares: Sequence[float]) -> None:
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


def _colourways(flow: Flow, ticket: JobTicket, how: Closeness) -> None:
    title = _("Colourways: what differs")
    image = worded(_("Image"), _("Separation"))
    columns = columns_of(flow.right - flow.left, (_("Garment"), 50), (image, 40), (_("Ink on this garment"), 80))
    wide = [column.wide for column in columns]
    rows: list[TableRow] = []
    for way in ticket.colourways:
        for n, (separation, ink) in enumerate(way.inks):
            rows.append(
                TableRow(
                    [
                        how.cell(wide[0], (way.garment if n == 0 else "", 10, True)),
                        how.cell(wide[1], (separation, 10, False)),
                        how.cell(wide[2], (ink, 10, True)),
                    ]
                )
            )
    again = title if ticket.layout > 1 else ""
    if again and not rows:
        return
    flow.heading(title, first_high(columns, rows) if again else 18)
    if rows:
        table(flow, columns, rows, again=again)


_LINE, _FEWEST = 8.0, 2
"""Height in mm of a line to write on, and how few are worth their heading."""


def _by_hand(flow: Flow) -> None:
    """Lines for a shop whose network is down: they fill what is left of the page, and never ask for another one.

    With room beside them a second QR code stands there, in case the first one is dirty.
    """
    across = flow.symbol.across * MODULE
    quiet = QUIET_ZONE * MODULE
    coded = flow.room >= across + 22
    room = flow.right + quiet - across - 1 - flow.left if coded else flow.right - flow.left
    columns = columns_of(
        room,
        (_("Time"), 16),
        (_("Who"), 20),
        (_("Screen or order"), 26),
        (_("What was done and measured"), 66),
        (_("In"), 8),
    )
    advice = wrap(
        _("One line for each act. Later: scan, or type the code, enter each line with its time, and tick it."),
        8.5,
        room,
    )
    high = headings_high(columns)
    head = 2 + HEADING + len(advice) * 8.5 * PT * LEADING + 1.5 + high
    count = int((flow.room - head) / _LINE - 1e-6)
    if count < _FEWEST:
        return
    flow.y += 2
    flow.heading(_("By hand, while the network is down"), 0)
    if coded:
        flow.pages.qr(flow.right + quiet - across, flow.y - 1, flow.symbol, MODULE)
        middle = flow.right + quiet - across / 2
        flow.pages.text(middle, flow.y + across + 3.2, shown(flow.ticket.code), 15, bold=True, align="middle")
    for words in advice:
        flow.pages.text(flow.left, flow.y + ASCENT * 8.5 * PT, words, 8.5)
        flow.y += 8.5 * PT * LEADING
    flow.y += 1.5
    top = flow.y + high
    table(flow, columns, [TableRow([[] for _column in columns]) for _n in range(count)], _LINE)
    x = flow.left
    for column in columns[:-1]:
        x += column.wide
        flow.pages.line(x - 0.8, top, x - 0.8, flow.y, 0.1)
