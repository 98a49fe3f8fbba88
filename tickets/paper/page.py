"""Pages to draw on: lengths in mm from the top left corner, black on white; letters of Polish, Greek and Cyrillic too.

Every text and QR code drawn is also noted with its box, so that a test can prove that nothing overlaps or runs over.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from tickets.paper.letters import CAP, FONT, Piece, box_of, face_of, layout_now, pieces, plain
from tickets.paper.qr import DOT, QUIET_ZONE, Symbol

PT = 25.4 / 72
ASCENT, DESCENT = 0.97, 0.25
"""Of the size: room for Ż and for g (measured on the font's own glyphs)."""
LEADING = 1.24
_HEAVY = 0.03
"""The outline of bold letters, of the size, where bold has no face of its own."""
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}

_WORDS_FROM = 3
"""The layout since which an image is no separation and an order again is a reorder."""
_DOTS_FROM = 4
"""The layout since which codes and the pages of labels are whole dots of the printer."""


def worded(now: str, before: str) -> str:
    """The word of now, or on a paper of an earlier layout the one that it was printed with."""
    return now if layout_now.get() >= _WORDS_FROM else before


def whole_cautions() -> bool:
    """False for a tag of an earlier layout, whose cautions may end in mid sentence."""
    return layout_now.get() >= _WORDS_FROM


def by_dots() -> bool:
    """False for a paper of an earlier layout, whose codes begin between dots."""
    return layout_now.get() >= _DOTS_FROM


def width(text: str, size: float, bold: bool = False) -> float:
    """Width of `text` in mm at `size` points."""
    return sum(piece.wide(size) for piece in pieces(text, bold))


def cut(text: str, size: float, room: float, bold: bool = False) -> str:
    """`text`, or as much of it as fits `room` mm with an ellipsis."""
    if width(text, size, bold) <= room:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if width(text[:middle].rstrip() + "…", size, bold) <= room:
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + "…"


def fit(text: str, room: float, size: float, least: float, bold: bool = False) -> tuple[str, float]:
    """`text` and its size in points: shrunk from `size` towards `least` to fit `room` mm, then cut with an ellipsis."""
    text = plain(text)
    natural = width(text, 100, bold)
    if natural:
        size = max(least, min(size, 100 * room / natural - 1e-6))
    return cut(text, size, room, bold), size


_NUMBER = re.compile(r"[\d.,]+")
_UNIT = re.compile(r"([^\W\d]{1,3}[²³]?(/[^\W\d]{1,3})?|[%°][CF]?)[,.;]?")


def wrap(text: str, size: float, room: float, bold: bool = False) -> list[str]:
    """`text` in lines of at most `room` mm; a number stays with its unit, a word longer than a line is broken."""
    words: list[str] = []
    for word in plain(text).split(" "):
        if words and _NUMBER.fullmatch(words[-1]) and _UNIT.fullmatch(word):
            words[-1] += " " + word
        else:
            words.append(word)
    lines: list[str] = []
    line = ""
    for word in words:
        while word:
            joined = f"{line} {word}" if line else word
            if width(joined, size, bold) <= room:
                line, word = joined, ""
            elif line:
                lines.append(line)
                line = ""
            else:
                taken = max(1, len(cut(word, size, room, bold)) - 1)
                lines.append(word[:taken])
                word = word[taken:]
    return [*lines, line] if line else lines


@dataclass(frozen=True, slots=True)
class Drawn:
    """A text, QR code (quiet zone included), rule or picture as drawn: page from 0, mm from the top left corner."""

    kind: str
    page: int
    left: float
    top: float
    right: float
    bottom: float
    text: str = ""
    size: float = 0.0
    module: float = 0.0
    version: int = 0
    level: str = ""


class Pages:
    """A document being drawn. `turned`: what follows is drawn along the long side of an upright page. `dot`: of the
    printer, in mm: codes begin at whole ones."""

    def __init__(self, title: str, shop: str, language: str = "en", dot: float = DOT) -> None:
        self.dot = dot
        self._bytes = io.BytesIO()
        # invariant: no time and no random id in the file, so that the same ticket gives the same bytes
        self._canvas = Canvas(self._bytes, invariant=1, lang=language, pageCompression=1)
        self._canvas.setTitle(plain(title))
        self._canvas.setAuthor(plain(shop))
        self._canvas.setCreator("Shop Tickets")
        self._canvas.setSubject("")
        self.drawn: list[Drawn] = []
        self.sizes: list[tuple[float, float]] = []
        self._left = self._top = 0.0

    def new(self, wide: float, high: float, turned: bool = False) -> None:
        """The next page; `turned`: drawn on as if it were `high` wide and `wide` high."""
        if self.sizes:
            self._canvas.showPage()
        self._canvas.setPageSize((wide * mm, high * mm))
        self.sizes.append((high, wide) if turned else (wide, high))
        self._left = self._top = 0.0
        if turned:
            self._canvas.translate(wide * mm, 0)
            self._canvas.rotate(90)

    def origin(self, left: float, top: float) -> None:
        """From here on this page, lengths are taken from this point."""
        self._left, self._top = left, top

    def _at(self, x: float, y: float) -> tuple[float, float]:
        return (self._left + x) * mm, (self.sizes[-1][1] - self._top - y) * mm

    def text(self, x: float, baseline: float, text: str, size: float, bold: bool = False, align: str = "left") -> None:
        """`text` (as it comes out of `fit`, `cut` or `wrap`) on `baseline`; `x` is its left, middle or right."""
        if not text:
            return
        wide = width(text, size, bold)
        x -= {"left": 0.0, "middle": wide / 2, "right": wide}[align]
        begin = x
        for piece in pieces(text, bold):
            self._piece(piece, begin, baseline, size, bold)
            begin += piece.wide(size)
        high = size * PT
        self._note(Drawn("text", 0, x, baseline - ASCENT * high, x + wide, baseline + DESCENT * high, text, size))

    def _piece(self, piece: Piece, x: float, baseline: float, size: float, bold: bool) -> None:
        canvas = self._canvas
        left, base = self._at(x, baseline)
        canvas.saveState()  # the way of filling letters outlives a text, so it is put back
        if piece.face:
            self._letters(piece.face, left, base, piece.text, size, bold and piece.face == FONT)
        else:
            box = box_of(piece.text, size)
            canvas.setLineWidth(box.line)
            canvas.rect(left + box.left, base, box.wide, box.high, stroke=1, fill=0)
            for digit in box.digits:
                self._letters(face_of(False), left + digit.x, base + digit.up, digit.text, digit.size, False)
        canvas.restoreState()

    def _letters(self, face: str, left: float, base: float, text: str, size: float, outlined: bool) -> None:
        canvas = self._canvas
        piece = canvas.beginText(left, base)
        piece.setFont(face, size)
        if outlined:
            canvas.setLineWidth(size * _HEAVY)
            canvas.setLineJoin(1)
            piece.setTextRenderMode(2)
        piece.textOut(text)
        canvas.drawText(piece)

    def qr(self, left: float, top: float, symbol: Symbol, module: float) -> None:
        """`symbol` with its quiet zone, its top left corner at the dot nearest to the given point, as one
        filled path."""
        if by_dots():
            left = round((self._left + left) / self.dot) * self.dot - self._left
            top = round((self._top + top) / self.dot) * self.dot - self._top
        path = self._canvas.beginPath()
        for row, column, count in symbol.runs:
            x, y = self._at(left + (column + QUIET_ZONE) * module, top + (row + 1 + QUIET_ZONE) * module)
            path.rect(x, y, count * module * mm, module * mm)
        self._canvas.drawPath(path, stroke=0, fill=1)
        side = symbol.across * module
        self._note(
            Drawn("qr", 0, left, top, left + side, top + side, symbol.text, 0.0, module, symbol.version, symbol.level)
        )

    def grey(self, share: float) -> None:
        """What is drawn from here on this page is so light: 0 black, 1 white."""
        self._canvas.setFillGray(share)
        self._canvas.setStrokeGray(share)

    def line(self, x1: float, y1: float, x2: float, y2: float, weight: float = 0.2) -> None:
        """A line, `weight` in mm."""
        self._canvas.setLineWidth(weight * mm)
        self._canvas.line(*self._at(x1, y1), *self._at(x2, y2))
        self._note(Drawn("rule", 0, min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2)))

    def box(self, left: float, top: float, right: float, bottom: float, weight: float = 0.2) -> None:
        """An empty box."""
        x, y = self._at(left, bottom)
        self._canvas.setLineWidth(weight * mm)
        self._canvas.rect(x, y, (right - left) * mm, (bottom - top) * mm, stroke=1, fill=0)
        for y in (top, bottom):
            self._note(Drawn("rule", 0, left, y, right, y))
        for x in (left, right):
            self._note(Drawn("rule", 0, x, top, x, bottom))

    def bar(self, left: float, top: float, right: float, bottom: float) -> None:
        """A black bar."""
        x, y = self._at(left, bottom)
        self._canvas.rect(x, y, (right - left) * mm, (bottom - top) * mm, stroke=0, fill=1)
        self._note(Drawn("rule", 0, left, top, right, bottom))

    def patch(self, left: float, top: float, right: float, bottom: float, colour: str) -> None:
        """A patch of a colour, `#rrggbb`."""
        x, y = self._at(left, bottom)
        self._canvas.saveState()
        self._canvas.setFillColor(HexColor(colour))
        self._canvas.rect(x, y, (right - left) * mm, (bottom - top) * mm, stroke=0, fill=1)
        self._canvas.restoreState()
        self._note(Drawn("picture", 0, left, top, right, bottom, colour))

    def whole_picture(self, left: float, top: float, image: ImageReader, wide: float, high: float) -> float:
        """`image` as large as fits so wide and high, from its top left corner, with a hairline round it; answers how
        wide it is."""
        own_wide, own_high = image.getSize()
        scale = min(wide / own_wide, high / own_high)
        right, bottom = left + own_wide * scale, top + own_high * scale
        self.picture(left, top, right, bottom, image)
        self.box(left, top, right, bottom, 0.1)
        return own_wide * scale

    def picture(self, left: float, top: float, right: float, bottom: float, image: ImageReader) -> None:
        """`image` as large as fits the box, in its middle."""
        wide, high = image.getSize()
        scale = min((right - left) / wide, (bottom - top) / high)
        spare_x, spare_y = (right - left - wide * scale) / 2, (bottom - top - high * scale) / 2
        x, y = self._at(left + spare_x, bottom - spare_y)
        self._canvas.drawImage(image, x, y, wide * scale * mm, high * scale * mm, mask="auto")
        self._note(Drawn("picture", 0, left, top, right, bottom))

    def _note(self, drawn: Drawn) -> None:
        self.drawn.append(
            Drawn(
                drawn.kind,
                len(self.sizes) - 1,
                drawn.left + self._left,
                drawn.top + self._top,
                drawn.right + self._left,
                drawn.bottom + self._top,
                drawn.text,
                drawn.size,
                drawn.module,
                drawn.version,
                drawn.level,
            )
        )

    def finish(self) -> bytes:
        """The PDF."""
        self._canvas.showPage()
        self._canvas.save()
        return self._bytes.getvalue()


@dataclass(frozen=True, slots=True)
class StackRow:
    """A text of a stack: wished and least size in points; `spare` ones are left out where there is no room; `lines`: in
    how many it may stand, where one would be small."""

    text: str
    size: float
    least: float
    bold: bool = False
    spare: bool = False
    gap: float = 0.0
    lines: int = 1


SPARE_FROM = 72
"""Per cent of the wished sizes under which spare rows are given up rather than everything made smaller."""


def stack(
    pages: Pages,
    rows: Sequence[StackRow],
    left: float,
    top: float,
    right: float,
    bottom: float,
    align: str = "left",
    middle: bool = False,
) -> None:
    """Draws `rows` under one another in a box. All shrink together; spare ones go first; the first one always stays."""
    rows = [row for row in rows if plain(row.text)]
    x = {"left": left, "middle": (left + right) / 2, "right": right}[align]
    while rows:
        spare = [row for row in rows if row.spare]
        for percent in range(100, SPARE_FROM if spare else 20, -4):
            share = percent / 100
            pieces = _sized(rows, share, right - left)
            high = sum(size * PT * LEADING + row.gap * share for row, _text, size in pieces)
            if high <= bottom - top:
                y = top + ((bottom - top - high) / 2 if middle else 0)
                for row, text, size in pieces:
                    y += row.gap * share
                    pages.text(x, y + ASCENT * size * PT, text, size, row.bold, align)
                    y += size * PT * LEADING
                return
        if len(rows) == 1:
            row, text, size = _sized(rows, 0.2, right - left)[0]
            pages.text(x, (top + bottom) / 2 + CAP / 2 * size * PT, text, size, row.bold, align)
            return
        rows.remove(spare[-1] if spare else rows[-1])


_SMALL_FOR_ONE, _OF_SEVERAL = 0.38, 0.6
"""Share of its wished size under which a text in one line is set in several, where it may be; and theirs at most."""


def _in_lines(row: StackRow, size: float, room: float) -> list[tuple[StackRow, str, float]]:
    """The lines of a row with their size: one, or as many as let it be larger; none is cut where there are enough."""
    size = max(size, row.least)
    one, small = fit(row.text, room, size, row.least, row.bold)
    if row.lines == 1 or not by_dots() or (one == plain(row.text) and small >= size * _SMALL_FOR_ONE):
        return [(row, one, small)]
    tried = max(row.least, size * _OF_SEVERAL)
    while True:
        lines = wrap(row.text, tried, room, row.bold)
        whole = len(lines) <= row.lines and not _broken(row, tried, room)
        if whole or tried <= row.least:
            break
        tried = max(row.least, tried * 0.94)
    if one == plain(row.text) and small >= tried:
        return [(row, one, small)]
    if len(lines) > row.lines:
        rest = plain(row.text)[len(" ".join(lines[: row.lines - 1])) :].strip()
        lines = [*lines[: row.lines - 1], cut(rest, tried, room, row.bold)]
    later = replace(row, gap=0.0)
    return [(later if n else row, line, tried) for n, line in enumerate(lines)]


def _broken(row: StackRow, size: float, room: float) -> bool:
    """True where a word is longer than a line."""
    return any(width(word, size, row.bold) > room for word in plain(row.text).split(" "))


def _sized(rows: Sequence[StackRow], share: float, room: float) -> list[tuple[StackRow, str, float]]:
    """Each row with its text and size; rows wished alike come out alike."""
    fitted = [each for row in rows for each in _in_lines(row, row.size * share, room)]
    alike: dict[tuple[float, bool], float] = {}
    for row, _text, size in fitted:
        alike[row.size, row.bold] = min(size, alike.get((row.size, row.bold), size))
    return [(row, text, alike[row.size, row.bold]) for row, text, _size in fitted]
