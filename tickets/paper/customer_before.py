"""The customer's sheet as it was drawn up to the third layout: what was sent out then is printed again as it was."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from reportlab.lib.utils import ImageReader

from tickets.domain.papers.customer_sheet import CustomerColour, CustomerSheet, Swatch, not_measured
from tickets.i18n import gettext as _
from tickets.paper.flow import Flow
from tickets.paper.job import picture_of
from tickets.paper.letters import plain
from tickets.paper.page import ASCENT, LEADING, PT, Pages, fit, width, wrap
from tickets.paper.stock import paper_size

_PHOTO = 74.0
"""Most height in mm of a picture."""
_PATCH = 11.0
"""Side in mm of a colour's patch."""


def draw_before(sheet: CustomerSheet, paper: str, pictures: Path | None, language: str) -> tuple[bytes, Pages]:
    """The sheet and its pages, as papers of the first three layouts have them."""
    images = [
        (word, image)
        for word, name in ((_("The artwork"), sheet.art), (_("The approved print"), sheet.photo))
        if (image := picture_of(name, pictures)) is not None
    ]
    made = partial(_EarlierPage, sheet, paper_size(paper), language=language)
    best, fewest = _PHOTO, 0
    for high in (_PHOTO, 60.0, 46.0) if images else (0.0,):
        counted = made(1)
        _draw(counted, sheet, images, high)
        pages = len(counted.pages.sizes)
        if not fewest or pages < fewest:
            best, fewest = high, pages
        if fewest == 1:
            break
    flow = made(fewest)
    _draw(flow, sheet, images, best)
    return flow.pages.finish(), flow.pages


class _EarlierPage(Flow):
    """A page under the shop's name, without code and address."""

    def __init__(self, sheet: CustomerSheet, size: tuple[float, float], total: int, language: str) -> None:
        title = ": ".join(filter(None, (plain(sheet.job.title), plain(sheet.placement))))
        super().__init__(sheet.job, size, total, language, _("Your print"), inside=False, title=title)

    def turn(self) -> None:
        self.pages.new(*self.size)
        ticket, top = self.ticket, 14.0
        demo = _("DEMO") if ticket.demo else ""
        name, small = fit(" · ".join(filter(None, (demo, plain(ticket.shop)))), 110, 10, 7)
        self.pages.text(self.left, top + 2, name, small)
        self.pages.text(self.right, top + 2, ticket.printed_on, 9, align="right")
        title, size = fit(ticket.title, self.right - self.left, 24, 12, bold=True)
        self.pages.text(self.left, top + 14, title, size, bold=True)
        who = " · ".join(filter(None, (plain(ticket.customer), plain(ticket.reference))))
        said, size = fit(who, self.right - self.left, 12, 8)
        self.pages.text(self.left, top + 20.5, said, size)
        self.pages.bar(self.left, top + 24, self.right, top + 24.5)
        page = _("Page {n} of {total}").format(n=len(self.pages.sizes), total=self.total)
        self.pages.text(self.right, self.size[1] - 9, page, 8, align="right")
        self.y = top + 27


def _draw(flow: Flow, sheet: CustomerSheet, images: Sequence[tuple[str, ImageReader]], high: float) -> None:
    stops = [colour for colour in sheet.colours if colour.stop]
    flow.words(sheet.lead, 11, True)
    flow.y += 1
    if stops:
        _stop(flow, stops)
    if images:
        _pictures(flow, images, high)
    _facts(flow, sheet)
    if sheet.colours:
        _colours(flow, sheet)
    if not sheet.first:
        flow.heading(_("What changed"), 10)
    nothing = _("Nothing that we know of but the colour.") if stops else _("Nothing that we know of.")
    for text in sheet.changed or (() if sheet.first else (nothing,)):
        flow.words(plain(text), 10, whole=True)
        flow.y += 0.6
    for text in (*sheet.during, *sheet.remarks):
        flow.words(plain(text), 10, whole=True)
        flow.y += 0.6
    if sheet.same:
        flow.heading(_("What is the same"), 10)
        flow.words(sheet.same, 10, whole=True)
    if sheet.not_compared:
        flow.y += 1.5
        flow.words(sheet.not_compared, 9, whole=True)
    if sheet.notes:
        flow.y += 3
        for text in sheet.notes:
            flow.words(text, 8, whole=True)


def _stop(flow: Flow, stops: Sequence[CustomerColour]) -> None:
    """Colours that are clearly off, behind a bar."""
    said = _("Clearly off the approved print: {colours}. Please look at the print before it is worn or sold.")
    text = said.format(colours="; ".join(f"{one.name} ({one.said})" for one in stops))
    lines = wrap(text, 11, flow.right - flow.left - 5, bold=True)
    flow.pages.bar(flow.left, flow.y + 0.5, flow.left + 2, flow.y + 0.5 + len(lines) * 11 * PT * LEADING)
    flow.words(text, 11, True, left=flow.left + 5)
    flow.y += 2


def _pictures(flow: Flow, images: Sequence[tuple[str, ImageReader]], high: float) -> None:
    """Pictures side by side, each as large as fits its half, with its word under it."""
    gap = 6.0
    wide = (flow.right - flow.left - gap) / 2
    flow.need(high + 7)
    flow.y += 1
    for place, (word, image) in enumerate(images):
        left = flow.left + place * (wide + gap)
        flow.pages.picture(left, flow.y, left + wide, flow.y + high, image)
        flow.pages.box(left, flow.y, left + wide, flow.y + high, 0.1)
        flow.pages.text(left, flow.y + high + 4.2, word, 9)
    flow.y += high + 7


def _facts(flow: Flow, sheet: CustomerSheet) -> None:
    """What the print is, each with its word."""
    label = max((width(plain(word), 9) for word, _said in sheet.facts), default=0.0) + 5
    last = ""
    for word, said in sheet.facts:
        pieces = wrap(said, 10, flow.right - flow.left - label)
        flow.need(len(pieces) * 10 * PT * LEADING + 0.6)
        if word != last:
            flow.pages.text(flow.left, flow.y + ASCENT * 10 * PT, word, 9)
        last = word
        flow.words(said, 10, left=flow.left + label)
        flow.y += 0.6


def _colours(flow: Flow, sheet: CustomerSheet) -> None:
    """Each colour with its two readings, patch beside patch, and the difference in words."""
    room = flow.right - flow.left
    marks = [flow.left + room * share for share in (0.0, 0.27, 0.51, 0.75)]
    title = _("Colours")

    def headings(text: str) -> None:
        flow.heading(text, 8 + _PATCH)
        words = (_("As approved"), "", "") if sheet.first else (*sheet.headings, _("Difference"))
        for x, word in zip(marks[1:], words, strict=True):
            said, size = fit(word, room * 0.23, 8, 6)
            flow.pages.text(x, flow.y + ASCENT * 8 * PT, said, size)
        flow.y += 8 * PT * LEADING + 0.8
        flow.pages.line(flow.left, flow.y, flow.right, flow.y, 0.2)

    headings(title)
    for colour in sheet.colours:
        name = wrap(colour.name, 10.5, room * 0.25, bold=True)
        ink = wrap(colour.ink, 8, room * 0.25)
        word = wrap(colour.word, 10, room * 0.25, bold=True)
        said = [line for text in (colour.said, colour.drift) for line in wrap(text, 8, room * 0.25)]
        high = max(_PATCH, _high(name, 10.5) + _high(ink, 8), _high(word, 10) + _high(said, 8)) + 3
        if high > flow.room:
            flow.turn()
            headings(_("{what}, continued").format(what=title))
        top = flow.y + 1.5
        _stacked(flow, marks[0], top, ((name, 10.5, True), (ink, 8, False)))
        swatches = (colour.now,) if sheet.first else (colour.before, colour.now)
        for x, swatch in zip(marks[1:3], swatches, strict=False):
            _patch(flow, x, top, swatch, room * 0.23 - _PATCH - 2)
        _stacked(flow, marks[3], top, ((word, 10, True), (said, 8, False)))
        flow.y += high
        flow.pages.line(flow.left, flow.y, flow.right, flow.y, 0.1)


def _high(lines: Sequence[str], size: float) -> float:
    return len(lines) * size * PT * LEADING


def _stacked(flow: Flow, x: float, y: float, parts: Sequence[tuple[Sequence[str], float, bool]]) -> None:
    for lines, size, bold in parts:
        for text in lines:
            flow.pages.text(x, y + ASCENT * size * PT, text, size, bold)
            y += size * PT * LEADING


def _patch(flow: Flow, x: float, y: float, swatch: Swatch, room: float) -> None:
    """A reading with its patch; one that nobody took is an empty frame that says so."""
    if swatch.colour:
        flow.pages.patch(x, y, x + _PATCH, y + _PATCH, swatch.colour)
    flow.pages.box(x, y, x + _PATCH, y + _PATCH, 0.1)
    text = swatch.said.replace(" a*", "\n a*").replace(" b*", "\n b*") if swatch.said else not_measured()
    lines = [fit(part, room, 8, 6)[0] for part in text.split("\n")]
    _stacked(flow, x + _PATCH + 1.5, y, ((lines, 8, False),))
