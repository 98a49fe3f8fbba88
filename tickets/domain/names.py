"""The one reader of names and other words that people type: nothing in them that nobody sees.

A character that is not seen, or that turns the order of those beside it, makes two names that look alike, or a line
that reads as another (Unicode Technical Report 36, 2.6; Technical Standard 39, 3.1). It is refused where it was typed,
and what would do is said; nothing is taken out of what somebody typed without a word.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from tickets.domain.refusal import Fault
from tickets.i18n import N_, pgettext
from tickets.i18n import gettext as _

NAME, MARK, LINE, WHY, NOTE = 60, 60, 200, 300, 2000
"""Characters that a name (of a person, a place, the shop), a painted mark, another line, a reason, and a note have at
most (judgement: what a phone's page and a tag can show)."""

_BREAKS = "\t\n\r"
_TURNS = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_BLANKS = frozenset("\u034f\u115f\u1160\u17b4\u17b5\u180b\u180c\u180d\u180f\u2800\u3164\uffa0")
"""They count as letters, marks or signs, and show nothing."""
_LEAVE_MARKS = frozenset("\u200e\u200f\u061c")
"""Which way what stands beside them is read: keyboards put them into right-to-left writing by themselves."""
_NOT_JOINED = frozenset("اآأإٱدذڈرزڑژوؤةى")
"""Arabic letters that never join the one behind them: a joiner there is not seen."""
_ZWNJ, _ZWJ, _EMOJI = "\u200c", "\u200d", "\ufe0f"


class BadName(ValueError):
    """A name that will not do; the text says what would."""


def name(text: str, most: int = NAME, example: str = "") -> str:
    """A name: several blanks become one, a letter with its signs one character (NFC).

    Raises BadName for one that is empty (`example`: what would do), too long or has a character that nobody sees."""
    tidy = one_line(text)
    if fault := unseen(tidy) or mixed(tidy):
        raise BadName(fault)
    if not tidy or len(tidy) > most:
        said = _("A name of 1 to {most} characters is needed, such as “{example}”.")
        raise BadName(said.format(most=most, example=example or pgettext("an example of a name", "Rack 3")))
    return tidy


def mark(text: str) -> str:
    """A mark as it can be painted, in one line: breaks and tabs become blanks. Raises BadName."""
    return name(text.translate(dict.fromkeys(map(ord, _BREAKS), " ")), MARK, "A 12")


def take(text: str, faults: list[Fault], where: str = "name", example: str = "") -> str:
    """As `name`; what is wrong is put among the faults, and what was typed comes back."""
    try:
        return name(text, NAME, example)
    except BadName as fault:
        faults.append(Fault(where, str(fault)))
        return text


def words(text: str, most: int = NOTE) -> str:
    """What somebody says, in one line or several, trimmed. Raises BadName where it is too long, or has a character that
    cannot be printed or turns the order of others."""
    tidy = text.replace("\r\n", "\n").strip()
    if fault := unseen(tidy, lines=True):
        raise BadName(fault)
    if len(tidy) > most:
        raise BadName(_("At most {most} characters: this has {many}.").format(most=f"{most:,}", many=f"{len(tidy):,}"))
    return tidy


def one_line(text: str) -> str:
    """Text as a name is kept. (`str.split` alone would take controls for blanks.)"""
    composed = unicodedata.normalize("NFC", text)
    blanks = (" " if unicodedata.category(one) == "Zs" else one for one in composed)
    return " ".join(part for part in "".join(blanks).split(" ") if part)


ALPHABETS = {"LATIN": N_("Latin"), "CYRILLIC": N_("Cyrillic"), "GREEK": N_("Greek")}
"""Those whose letters are easily taken for one another; by what Unicode calls them."""
_LOOK_ALIKE = ("ABCEHIJKMOPSTXYaceijopsxy", "АВСЕНІЈКМОРЅТХУасеіјорѕху", "ΑΒ ΕΗΙ ΚΜΟΡ ΤΧΥ     ο    ")
"""Letters that are painted and printed alike, in each of them (Technical Standard 39, its table of confusables)."""


def mixed(text: str) -> str:
    """What is wrong with a text in which one word has letters of two alphabets; empty: nothing is. Nobody writes so:
    one of them was taken for the other."""
    if text.isascii():
        return ""
    for word in re.findall(r"[^\W\d_]+", text):
        found = {alphabet: one for one in reversed(word) if (alphabet := _alphabet(one)) in ALPHABETS}
        if len(found) > 1:
            letters = ", ".join(f"“{found[one]}” {_(ALPHABETS[one])}" for one in ALPHABETS if one in found)
            told = _("“{word}” has letters of two alphabets ({letters}): type it again in one of them.")
            return told.format(word=word, letters=letters)
    return ""


def _alphabet(letter: str) -> str:
    return unicodedata.name(letter, "").partition(" ")[0]


def spelled_alike(text: str) -> tuple[str, ...]:
    """The text as it looks just so in another alphabet (`A 1` in Cyrillic letters), in each that has all its letters
    which look like others."""
    found = []
    for target in _LOOK_ALIKE:
        table = {
            ord(one): other
            for row in _LOOK_ALIKE
            for one, other in zip(row, target, strict=True)
            if row is not target and " " not in (one, other)
        }
        if (alike := text.translate(table)) != text and not mixed(alike):
            found.append(alike)
    return tuple(found)


def taken_alike(name: str, there: str) -> str:
    """What is said of a name that looks like another which is there."""
    told = _("“{name}” looks like “{there}”, which is there already in letters of another alphabet. Type it in those.")
    return told.format(name=name, there=there)


def unseen(text: str, lines: bool = False) -> str:
    """What is wrong with a text that has a character nobody sees, naming it and where it is; empty: nothing is.

    `lines`: of a note, whose breaks and tabs are right, and in which what is merely not seen does no harm."""
    if text.isascii() and text.isprintable():
        return ""
    for at, character in enumerate(text):
        if _unfit_for_a_note(character) if lines else _unfit_for_a_name(text, at):
            told = _("There is a character here that cannot be seen ({sign}, {where}): delete it, or type this again.")
            before = "".join(one for one in text[:at] if one.isprintable())[-12:].strip()
            where = _("behind “{text}”").format(text=before) if before else _("at the beginning")
            return told.format(sign=f"U+{ord(character):04X}", where=where)
    return ""


def _unfit_for_a_note(character: str) -> bool:
    if character in _TURNS:
        return character not in _LEAVE_MARKS
    return character not in _BREAKS and unicodedata.category(character) in ("Cc", "Cs", "Zl", "Zp")


def _unfit_for_a_name(text: str, at: int) -> bool:
    character = text[at]
    if character in (_ZWNJ, _ZWJ, _EMOJI):
        return not _joins(text, at)
    selects = unicodedata.name(character, "").startswith("VARIATION")
    blank = unicodedata.category(character) == "Zs"  # a wide one, one that keeps words together: a blank all the same
    return selects or character in _BLANKS or not (character.isprintable() or blank)


def _joins(text: str, at: int) -> bool:
    """True for a joiner that changes what is seen: of emoji, behind a virama, or between Arabic letters that would join
    (RFC 5892, appendix A, without its list of all joining letters)."""
    character, before, behind = text[at], text[at - 1 : at], text[at + 1 : at + 2]
    if not before:
        return False
    if character == _EMOJI:
        return unicodedata.category(before) == "So"
    if not behind:
        return False
    if character == _ZWJ and (before == _EMOJI or unicodedata.category(before) in ("So", "Sk")):
        return unicodedata.category(behind) == "So"
    if unicodedata.combining(before) == 9:
        return True
    arabic = unicodedata.bidirectional(before) == unicodedata.bidirectional(behind) == "AL"
    return character == _ZWNJ and arabic and before not in _NOT_JOINED


def faults_of(sent: Mapping[str, Any]) -> list[Fault]:
    """What no text of a form may hold, whatever it is for, each with the field that it came in."""
    return [
        Fault(where, fault)
        for where, text in _texts("", sent)
        if (fault := unseen(text, lines=True) or _too_long(text))
    ]


LONGEST = 500_000
"""Of any text at all: a list of frames that is pasted."""


def _too_long(text: str) -> str:
    return _("At most {most} characters.").format(most=f"{LONGEST:,}") if len(text) > LONGEST else ""


def _texts(where: str, value: Any) -> Iterator[tuple[str, str]]:
    if isinstance(value, str):
        yield where, value
    elif isinstance(value, Mapping):
        for key, one in value.items():
            yield from _texts(where or str(key), one)
    elif isinstance(value, Sequence) and not isinstance(value, bytes):
        for one in value:
            yield from _texts(where, one)
