"""Which face draws each letter: the paper's own, a face of signs, or a box with the letter's number.

A letter that no face has is never left out: without it a painted mark would be another mark. Signs such as arrows come
from the two faces that every reader of PDF brings (ISO 32000-1, 9.6.2.2: Symbol, ZapfDingbats).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

import fontpkg_noto_sans
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from tickets.domain.papers.kept import LAYOUT
from tickets.i18n import gettext as _

FONT, BOLD = "Noto Sans", "Noto Sans Bold"
CAP = 0.714
"""Height of a capital and of a figure, of the size (the font's OS/2 table)."""
BOLD_FROM = 3
"""The layout since which bold has a face and widths of its own; before, it was the regular one with an outline."""
BOXED_FROM = 4
"""The layout since which a letter that the face lacks is drawn from another, or as a box; before, it was left out."""
_SIGNS = ("Symbol", "ZapfDingbats")

layout_now: ContextVar[int] = ContextVar("layout", default=LAYOUT)


@contextmanager
def laid_out(layout: int) -> Iterator[None]:
    """Within it, text is measured and drawn as papers of that layout have it."""
    token = layout_now.set(layout)
    try:
        yield
    finally:
        layout_now.reset(token)


@lru_cache(maxsize=1)
def _register() -> frozenset[str]:
    """Both faces; answers which letters they have. The package brings one variable font, which reportlab draws at its
    regular weight; its bold weight is a file of ours (`tests/bold_face.py` makes it)."""
    files = Path(fontpkg_noto_sans.ROOT) / "files"
    upright = next(path for path in sorted(files.glob("NotoSans*.ttf")) if "Italic" not in path.name)
    faces = (TTFont(FONT, upright), TTFont(BOLD, Path(__file__).parent / "bold" / "NotoSans-Bold.ttf"))
    for face in faces:
        pdfmetrics.registerFont(face)
    return frozenset(map(chr, faces[0].face.charToGlyph)) & frozenset(map(chr, faces[1].face.charToGlyph))


def face_of(bold: bool) -> str:
    _register()
    return BOLD if bold and layout_now.get() >= BOLD_FROM else FONT


def plain(text: str) -> str:
    """`text` on one line, letters and their marks composed, without what nobody sees (controls, joiners, selectors)."""
    text = " ".join(unicodedata.normalize("NFC", text).split())
    if layout_now.get() < BOXED_FROM:
        return "".join(one for one in text if unicodedata.category(one)[0] != "C")
    return "".join(one for one in text if unicodedata.category(one) not in ("Cc", "Cf") and not _selects(one))


def _selects(one: str) -> bool:
    """A variation selector: it says how the sign before it looks, and is none itself (Unicode, 23.4)."""
    return "\ufe00" <= one <= "\ufe0f" or "\U000e0100" <= one <= "\U000e01ef"


class Piece(NamedTuple):
    """Letters side by side that one face draws; without a face it is one letter, drawn as a box."""

    face: str
    text: str

    def wide(self, size: float) -> float:
        """In mm at `size` points."""
        if self.face:
            return float(pdfmetrics.stringWidth(self.text, self.face, size)) / mm
        return (box_columns(self.text) * _DIGIT * _DIGITS + 2 * _PAD + 2 * _APART) * size / mm


_DIGITS = 0.34
"""Size of the digits in a box, of the size of the text."""
_DIGIT = 0.572
"""Width of a figure, of its size (the font's hmtx table; `A` to `F` are fitted into it)."""
_PAD, _APART = 0.06, 0.05
"""Within a box and on either side of it, of the size."""


def number_of(letter: str) -> str:
    """The number of a letter as Unicode writes it."""
    return f"{ord(letter):04X}"


def box_columns(letter: str) -> int:
    """Digits in each of the two lines of its box."""
    return -(-len(number_of(letter)) // 2)


class Digit(NamedTuple):
    """A digit in a box: from its left and above the base line, and its size, all in points."""

    x: float
    up: float
    text: str
    size: float


class LetterBox(NamedTuple):
    """A letter's box, in points from where it begins on the base line."""

    left: float
    wide: float
    high: float
    line: float
    digits: tuple[Digit, ...]


def box_of(letter: str, size: float) -> LetterBox:
    """How a letter that no face has is drawn at `size` points: as high as a capital, its number in two lines."""
    columns, number = box_columns(letter), number_of(letter)
    number = number.rjust(2 * columns, "0")
    wide = (columns * _DIGIT * _DIGITS + 2 * _PAD) * size
    small, high = _DIGITS * size, CAP * size
    tall = CAP * small
    gap = (high - 2 * tall) / 3
    digits = []
    for n, digit in enumerate(number):
        row, column = divmod(n, columns)
        own = pdfmetrics.stringWidth(digit, FONT, small)
        fitted = small * min(1.0, _DIGIT * small / own)
        x = (_APART + _PAD) * size + (column + 0.5) * _DIGIT * small - own * fitted / small / 2
        digits.append(Digit(x, high - gap - tall - row * (tall + gap), digit, fitted))
    return LetterBox(_APART * size, wide, high, 0.03 * size, tuple(digits))


def pieces(text: str, bold: bool = False) -> Sequence[Piece]:
    """`text` in pieces, each with what draws it."""
    face = face_of(bold)
    if layout_now.get() < BOXED_FROM or text.isascii():
        return (Piece(face, text),)
    return _pieces(text, face)


@lru_cache(maxsize=2048)
def _pieces(text: str, face: str) -> tuple[Piece, ...]:
    found: list[Piece] = []
    for letter in text:
        drawn_by = face if letter in _register() else _sign_face(letter)
        if found and drawn_by and found[-1].face == drawn_by:
            found[-1] = Piece(drawn_by, found[-1].text + letter)
        else:
            found.append(Piece(drawn_by, letter))
    return tuple(found)


@lru_cache(maxsize=512)
def _sign_face(letter: str) -> str:
    """The face of signs that has a letter; empty: none."""
    for name in _SIGNS:
        try:
            letter.encode(pdfmetrics.getFont(name).encName)
        except UnicodeEncodeError:
            continue
        return name
    return ""


def boxed(text: str) -> tuple[str, ...]:
    """The letters of a text that the paper draws as boxes, each once."""
    return tuple(dict.fromkeys(one.text for one in pieces(plain(text)) if not one.face))


_NAMED = 3
"""Texts that a warning names; of more it says how many."""


def warnings(says: Any) -> tuple[str, ...]:
    """What to say before a paper of these texts (`kept.as_data`) is printed: which letters will stand as boxes."""
    found = {text: letters for text in dict.fromkeys(_texts(says)) if (letters := boxed(text))}
    said = _("“{text}”: this paper has no {letters}. A box with that number is printed in its place.")
    told = []
    for text, letters in list(found.items())[:_NAMED]:
        named = ", ".join(f"{one} (U+{number_of(one)})" for one in letters[:6])
        told.append(said.format(text=plain(text)[:60], letters=named + (" …" if len(letters) > 6 else "")))
    if len(found) > _NAMED:
        told.append(_("More texts with such letters: {count}.").format(count=len(found) - _NAMED))
    return tuple(told)


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for part in value.values():
            yield from _texts(part)
    elif isinstance(value, Iterable):
        for part in value:
            yield from _texts(part)
