"""The customer's sheet: pictures, colours with their readings, what is the same and what changed; no code of ours.

It is not a form: nothing on it is to be filled in, and a customer keeps it for the next order. So it is set apart by
space and hairlines, and the two prints of a colour stand edge to edge, where an eye sees a difference first.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial
from itertools import groupby
from pathlib import Path
from typing import TypeAlias

from reportlab.lib.utils import ImageReader

from tickets.domain.papers.customer_sheet import CustomerColour, CustomerSheet, Swatch, not_measured
from tickets.i18n import gettext as _
from tickets.paper.customer_before import draw_before
from tickets.paper.flow import Flow
from tickets.paper.job import picture_of
from tickets.paper.letters import laid_out, plain
from tickets.paper.page import ASCENT, LEADING, PT, Pages, StackRow, fit, stack, wrap
from tickets.paper.stock import paper_size

_FROM = 4
"""The layout since which the sheet is drawn as here."""
_SIDE, _TOP, _FOOT = 19.0, 17.0, 20.0
_PICTURES = (78.0, 64.0, 50.0, 36.0)
"""Heights in mm of a picture, the first of which all is on one page counts; with the last, rows stand closer too."""
_BESIDE = 60.0
"""Least width in mm beside the pictures for what the print is; with less, that stands under them."""
_PATCH = 18.0
"""Width in mm of a colour's patch."""
_ROW, _CLOSE = (10.0, 3.6), (6.5, 2.2)
"""Height of a patch and the space round it in mm; where rows stand close."""
_QUIET, _HAIR = 0.32, 0.62
"""How light small words and hairlines are: 0 black, 1 white."""
_BODY, _SMALL = 10.0, 8.0


def customer_pdf(sheet: CustomerSheet, paper: str, pictures: Path | None, language: str = "en") -> bytes:
    """The sheet as a PDF on `A4` or `Letter`; the same sheet, the same bytes. `pictures`: the folder of the shop's; one
    that is gone is left out. Refused: another paper."""
    return draw_customer(sheet, paper, pictures, language)[0]


def draw_customer(sheet: CustomerSheet, paper: str, pictures: Path | None, language: str = "en") -> tuple[bytes, Pages]:
    """`customer_pdf`, and the pages with all that was drawn. Pictures shrink before a second page is begun."""
    with laid_out(sheet.layout):
        if sheet.layout < _FROM:
            return draw_before(sheet, paper, pictures, language)
        return _draw_customer(sheet, paper, pictures, language)


def _draw_customer(sheet: CustomerSheet, paper: str, pictures: Path | None, language: str) -> tuple[bytes, Pages]:
    images = [
        (word, image)
        for word, name in ((_("The artwork"), sheet.art), (_("The approved print"), sheet.photo))
        if (image := picture_of(name, pictures)) is not None
    ]
    made = partial(_CustomerPage, sheet, paper_size(paper), language=language)
    tried = []
    for number, high in enumerate(_PICTURES if images else (0.0, 0.0)):
        counted = made(1)
        close = number == (len(_PICTURES) if images else 2) - 1
        _draw(counted, sheet, images, high, close)
        tried.append((len(counted.pages.sizes), number, high, close))
        if tried[-1][0] == 1:
            break
    pages, _number, high, close = min(tried)
    flow = made(pages)
    _draw(flow, sheet, images, high, close)
    return flow.pages.finish(), flow.pages


class _CustomerPage(Flow):
    """A page under the shop's name, without code and address."""

    def __init__(self, sheet: CustomerSheet, size: tuple[float, float], total: int, language: str) -> None:
        title = ": ".join(filter(None, (plain(sheet.job.title), plain(sheet.placement))))
        super().__init__(sheet.job, size, total, language, _("Your print"), inside=False, title=title)

    def turn(self) -> None:
        self.pages.new(*self.size)
        self.left, self.right, self.bottom = _SIDE, self.size[0] - _SIDE, self.size[1] - _FOOT
        ticket, room = self.ticket, self.right - self.left
        demo = _("DEMO") if ticket.demo else ""
        name, size = fit(" · ".join(filter(None, (demo, plain(ticket.shop)))), room * 0.7, 11, 7, bold=True)
        self.pages.text(self.left, _TOP + 3, name, size, bold=True)
        self.pages.text(self.right, _TOP + 3, ticket.printed_on, 9, align="right")
        self.pages.grey(_HAIR)
        self.pages.line(self.left, _TOP + 6, self.right, _TOP + 6, 0.15)
        self.pages.grey(0)
        who = " · ".join(filter(None, (plain(ticket.customer), plain(ticket.reference))))
        first = len(self.pages.sizes) == 1
        large, less = (26, 12) if first else (14, 9)
        rows = [StackRow(ticket.title, large, 9, bold=True, lines=2), StackRow(who, less, 7)]
        high = 24.0 if first else 12.0
        stack(self.pages, rows, self.left, _TOP + 7.5, self.right, _TOP + 7.5 + high)
        if self.total > 1:
            page = _("Page {n} of {total}").format(n=len(self.pages.sizes), total=self.total)
            self.pages.text(self.right, self.size[1] - 11, page, _SMALL, align="right")
        self.y = _TOP + 7.5 + (19.5 if first and who else high)

    def title(self, text: str, keep: float = 12.0) -> None:
        """A heading over a part of the sheet, with the `keep` mm that follow it."""
        self.need(11.5 + keep)
        self.y += 4.5
        said, size = fit(text, self.right - self.left, 12, 8, bold=True)
        self.pages.text(self.left, self.y + ASCENT * size * PT, said, size, bold=True)
        self.y += size * PT * LEADING + 1.2

    def hairline(self) -> None:
        self.pages.grey(_HAIR)
        self.pages.line(self.left, self.y, self.right, self.y, 0.12)
        self.pages.grey(0)

    def quietly(self, x: float, y: float, text: str, size: float = _SMALL) -> None:
        """A small grey word, its top at `y`."""
        self.pages.grey(_QUIET)
        self.pages.text(x, y + ASCENT * size * PT, text, size)
        self.pages.grey(0)


def _draw(
    flow: _CustomerPage, sheet: CustomerSheet, images: Sequence[tuple[str, ImageReader]], high: float, close: bool
) -> None:
    stops = [colour for colour in sheet.colours if colour.stop]
    flow.words(sheet.lead, 11)
    flow.y += 3
    if stops:
        _stop(flow, stops)
    _shown(flow, sheet.facts, images, high)
    if sheet.colours:
        _colours(flow, sheet, _CLOSE if close else _ROW)
    nothing = _("Nothing that we know of but the colour.") if stops else _("Nothing that we know of.")
    changed = sheet.changed or (() if sheet.first else (nothing,))
    if changed or sheet.during or sheet.remarks:
        flow.title(_("Good to know") if sheet.first else _("What changed"))
        _each(flow, (*changed, *sheet.during, *sheet.remarks))
    if sheet.same or sheet.not_compared:
        flow.title(_("What is the same") if sheet.same else _("Not compared"))
        for text in filter(None, (sheet.same, sheet.not_compared)):
            flow.words(text, _BODY if text == sheet.same else 9, whole=True)
            flow.y += 1
    _small_print(flow, sheet.notes)


def _each(flow: _CustomerPage, texts: Iterable[str]) -> None:
    """Sentences, each behind a dot of its own."""
    for text in texts:
        lines = wrap(text, _BODY, flow.right - flow.left - 4)
        flow.need(len(lines) * _BODY * PT * LEADING)
        flow.pages.text(flow.left + 0.6, flow.y + ASCENT * _BODY * PT, "·", _BODY, bold=True)
        flow.words(plain(text), _BODY, left=flow.left + 4, whole=True)
        flow.y += 0.7


def _small_print(flow: _CustomerPage, notes: Sequence[str]) -> None:
    """How the colours were read, at the foot of the page where there is room above it."""
    lines = [line for text in notes for line in wrap(text, 7.5, flow.right - flow.left)]
    high = len(lines) * 7.5 * PT * LEADING
    flow.need(high + 3)
    y = max(flow.y + 3, flow.bottom + 2 - high)
    for line in lines:
        flow.quietly(flow.left, y, line, 7.5)
        y += 7.5 * PT * LEADING
    flow.y = y


def _stop(flow: _CustomerPage, stops: Sequence[CustomerColour]) -> None:
    """Colours that are clearly off, behind a bar."""
    said = _("Clearly off the approved print: {colours}. Please look at the print before it is worn or sold.")
    text = said.format(colours="; ".join(f"{one.name} ({one.said})" for one in stops))
    lines = wrap(text, 11, flow.right - flow.left - 5, bold=True)
    flow.pages.bar(flow.left, flow.y + 0.5, flow.left + 1.6, flow.y + 0.5 + len(lines) * 11 * PT * LEADING)
    flow.words(text, 11, True, left=flow.left + 5)
    flow.y += 3.5


def _shown(
    flow: _CustomerPage, facts: Sequence[tuple[str, str]], images: Sequence[tuple[str, ImageReader]], high: float
) -> None:
    """Pictures side by side, as high as one another, each with its word under it; and what the print is, beside them
    where there is room."""
    gap = 8.0
    shapes = [wide / tall for wide, tall in (image.getSize() for _word, image in images)]
    room = flow.right - flow.left - gap * (len(images) - 1)
    high = min(high, room / sum(shapes)) if images else 0.0
    x = flow.left + high * sum(shapes) + gap * len(images)
    beside = bool(images) and flow.right - x >= _BESIDE and _facts_high(facts, flow.right - x) <= high + 4
    if images:
        flow.need(high + 8)
        top, begin = flow.y, flow.left
        for (word, image), shape in zip(images, shapes, strict=True):
            flow.pages.grey(_HAIR)
            wide = flow.pages.whole_picture(begin, top, image, high * shape, high)
            flow.pages.grey(0)
            said, size = fit(word, wide, _SMALL, 5)
            flow.quietly(begin, top + high + 1.2, said, size)
            begin += wide + gap
        if beside:
            for fact in _grouped(facts):
                _fact(flow, fact, x, flow.right - x)
        flow.y = top + high + 8.5
    if not beside:
        _facts(flow, facts)


Fact: TypeAlias = tuple[str, list[str]]
"""The word of a fact, and what is said of it, each from a line of its own."""


def _grouped(facts: Sequence[tuple[str, str]]) -> list[Fact]:
    return [(word, [said for _word, said in some]) for word, some in groupby(facts, key=lambda fact: fact[0])]


def _fact_high(fact: Fact, wide: float) -> float:
    return _SMALL * PT * LEADING + _said_of(fact, wide).high + 2


def _facts_high(facts: Sequence[tuple[str, str]], wide: float) -> float:
    return sum(_fact_high(fact, wide) for fact in _grouped(facts))


def _said_of(fact: Fact, wide: float) -> _Block:
    return _Block(*((text, _BODY, False) for text in fact[1]), wide=wide)


def _fact(flow: _CustomerPage, fact: Fact, x: float, wide: float) -> None:
    """A fact under its word, and the page goes on below it."""
    flow.quietly(x, flow.y, fact[0])
    _said_of(fact, wide).draw(flow, x, flow.y + _SMALL * PT * LEADING)
    flow.y += _fact_high(fact, wide)


def _facts(flow: _CustomerPage, facts: Sequence[tuple[str, str]]) -> None:
    """What the print is: two facts a row."""
    half = (flow.right - flow.left - 8) / 2
    cells = _grouped(facts)
    for two in (cells[n : n + 2] for n in range(0, len(cells), 2)):
        high = max(_fact_high(fact, half) for fact in two)
        flow.need(high)
        top = flow.y
        for column, fact in enumerate(two):
            flow.y = top
            _fact(flow, fact, flow.left + column * (half + 8), half)
        flow.y = top + high


def _colours(flow: _CustomerPage, sheet: CustomerSheet, row: tuple[float, float]) -> None:
    """Each colour: its two prints as patches edge to edge, their readings in figures, and the difference in words."""
    room, (low, space) = flow.right - flow.left, row
    shown = [_("As approved")] if sheet.first else list(sheet.headings)
    patch = flow.left + room * 0.25
    figures = patch + len(shown) * _PATCH + 4
    words = figures + (flow.right - figures) * 0.5
    title = _("Colours")

    def headings(text: str) -> None:
        flow.title(text, 12 + low)
        lines = [wrap(word, 7, _PATCH - 1) for word in shown]
        for number, some in enumerate(lines):
            for row, line in enumerate(some):
                y = flow.y + (max(map(len, lines)) - len(some) + row) * 7 * PT * LEADING
                flow.quietly(patch + number * _PATCH, y, line, 7)
        flow.y += max(map(len, lines)) * 7 * PT * LEADING + 0.8
        flow.hairline()

    headings(title)
    for colour in sheet.colours:
        named = _Block((colour.name, 10.5, True), (colour.ink, _SMALL, False), wide=room * 0.24)
        swatches = (colour.now,) if sheet.first else (colour.before, colour.now)
        read = _Block(*((one, _SMALL, False) for one in _figures(swatches)), wide=words - figures - 2)
        told = _Block((colour.word, 10, True), (colour.said, _SMALL, False), (colour.drift, 7.5, False),
                      wide=flow.right - words)  # fmt: skip
        high = max(low, named.high, read.high, told.high) + space
        if high > flow.room:
            flow.turn()
            headings(_("{what}, continued").format(what=title))
        top = flow.y + space / 2
        for number, swatch in enumerate(swatches):
            _patch(flow, patch + number * _PATCH, top, low, swatch)
        for x, block in ((flow.left, named), (figures, read), (words, told)):
            block.draw(flow, x, top)
        flow.y += high
        flow.hairline()


class _Block:
    """Texts under one another, each wrapped to `wide` mm with its size and whether it is bold."""

    def __init__(self, *parts: tuple[str, float, bool], wide: float) -> None:
        self.lines = [(line, size, bold) for text, size, bold in parts for line in wrap(text, size, wide, bold)]
        self.high = sum(size for _line, size, _bold in self.lines) * PT * LEADING

    def draw(self, flow: Flow, x: float, y: float) -> None:
        """From its top left corner."""
        for line, size, bold in self.lines:
            flow.pages.text(x, y + ASCENT * size * PT, line, size, bold)
            y += size * PT * LEADING


def _figures(swatches: Sequence[Swatch]) -> list[str]:
    """The readings in figures; one that nobody took says so."""
    said = [one.said or not_measured() for one in swatches]
    if len(said) == 1:
        return said
    return [_("before: {reading}").format(reading=said[0]), _("now: {reading}").format(reading=said[1])]


def _patch(flow: Flow, x: float, y: float, high: float, swatch: Swatch) -> None:
    """About how a reading looks; one that nobody took is an empty frame."""
    if swatch.colour:
        flow.pages.patch(x, y, x + _PATCH, y + high, swatch.colour)
        return
    flow.pages.grey(_HAIR)
    flow.pages.box(x + 0.1, y + 0.1, x + _PATCH - 0.1, y + high - 0.1, 0.12)
    flow.pages.grey(0)
