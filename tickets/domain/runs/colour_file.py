"""Measured patches in the open text format of ISO 28178 (CGATS.17 before it): keywords, a data format, rows of data.

Only what a print's colour needs is read: each patch's name and its CIE L*a*b*, and what the file says of light,
observer, mode and instrument. Keywords are those of ISO 28178:2009, "Graphic technology: Exchange format for colour and
process control data using XML or ASCII text".
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from tickets.calculator.colour import Lab
from tickets.calculator.colour_text import number
from tickets.calculator.numerals import counted
from tickets.calculator.units import CannotBe, NotAQuantity
from tickets.i18n import gettext as _

MOST_PATCHES = 200
MOST_LETTERS = 200_000
NAMES = ("SAMPLE_NAME", "SAMPLE_ID")
LAB = ("LAB_L", "LAB_A", "LAB_B")
SAYS_HOW = frozenset({"ILLUMINATION_NAME", "OBSERVER_ANGLE", "WEIGHTING_FUNCTION", "MEASUREMENT_SOURCE", "FILTER"})
_WORD = re.compile(r'"((?:[^"]|"")*)"|(\S+)')


@dataclass(frozen=True, slots=True)
class Patch:
    """A patch: its name in the file (empty: it has none) and its number there, and what was read."""

    number: int
    name: str
    lab: Lab


@dataclass(frozen=True, slots=True)
class Measured:
    """What a file has: its patches, and in its own words how they were measured and with which instrument."""

    patches: tuple[Patch, ...] = ()
    how: str = ""
    instrument: str = ""
    faults: tuple[str, ...] = field(default=())


def is_one(text: str) -> bool:
    """Whether a text is meant as such a file or a block of one."""
    return bool(re.search(r"(?m)^\s*BEGIN_DATA(_FORMAT)?\b", text))


# whole: one pass over the lines of a file; what a line means hangs on those before it
def read(text: str) -> Measured:
    """The patches of a file or of a pasted block of it; several tables come one after the other.

    `faults`: each thing that is wrong, in words; there are no patches then.
    """
    faults: list[str] = []
    if len(text) > MOST_LETTERS:
        return Measured(faults=(_("The file is too long: send the patches of this print alone."),))
    found: list[Patch] = []
    how: list[str] = []
    instrument = ""
    columns: list[str] = []
    rows: list[list[str]] = []
    inside = ""
    expected: int | None = None
    for words in _lines(text):
        word = words[0].upper()
        if word in {"BEGIN_DATA_FORMAT", "BEGIN_DATA"}:
            inside = word.removeprefix("BEGIN_")
            columns, rows = ([], []) if inside == "DATA_FORMAT" else (columns, [])
            words = words[1:]
            word = words[0].upper() if words else ""
        if word in {"END_DATA_FORMAT", "END_DATA"}:
            if inside == "DATA":
                found += _patches(columns, rows, expected, len(found), faults)
                expected = None
            inside = ""
        elif inside == "DATA_FORMAT":
            columns += [one.upper() for one in words]
        elif inside == "DATA" and words:
            rows.append(words)
        elif word == "NUMBER_OF_SETS" and len(words) > 1 and counted(words[1]):
            expected = counted(words[1])
        elif word == "INSTRUMENTATION" and len(words) > 1:
            instrument = words[1]
        elif word in SAYS_HOW:
            how += words[1:]
    if inside:
        faults.append(_("The file breaks off: END_{part} is missing.").format(part=inside))
    if not found and not faults:
        faults.append(_("There are no data in it: BEGIN_DATA_FORMAT, BEGIN_DATA and their rows are needed."))
    if len(found) > MOST_PATCHES:
        faults.append(_("The file has {many} patches: send those of this print alone.").format(many=len(found)))
    return Measured(() if faults else tuple(found), ", ".join(how), instrument, tuple(faults))


def _lines(text: str) -> Iterator[list[str]]:
    """Each line as its words, without comments; a quoted text is one word."""
    for line in text.splitlines():
        words = []
        for match in _WORD.finditer(line):
            quoted, plain = match[1], match[2]
            if quoted is None and plain.startswith("#"):
                break
            words.append(plain if quoted is None else quoted.replace('""', '"'))
        if words:
            yield words


def _patches(
    columns: Sequence[str], rows: Sequence[Sequence[str]], expected: int | None, before: int, faults: list[str]
) -> list[Patch]:
    """The patches of one table; what is wrong with it goes to `faults`."""
    lacking = [name for name in LAB if name not in columns]
    if lacking:
        told = _("The data have no {columns}: export them as CIE L*a*b*.")
        faults.append(told.format(columns=", ".join(lacking)))
        return []
    if expected is not None and expected != len(rows):
        told = _("The file says {expected} patches and has {rows}: was all of it sent?")
        faults.append(told.format(expected=expected, rows=len(rows)))
    found = []
    for place, row in enumerate(rows, before + 1):
        if len(row) != len(columns):
            told = _("Patch {number} has {values} values for {columns} columns.")
            faults.append(told.format(number=place, values=len(row), columns=len(columns)))
            continue
        values = dict(zip(columns, row, strict=True))
        name = next((values[one] for one in NAMES if values.get(one)), "")
        try:
            found.append(Patch(place, name, Lab(*(number(values[one]) for one in LAB))))
        except (NotAQuantity, CannotBe) as fault:
            faults.append(_("Patch {number} ({name}): {fault}").format(number=place, name=name or "–", fault=fault))
    return found
