"""Colour readings as instruments and people write them: L*a*b* with its letters, or three numbers in a row.

What can be read in two ways is never guessed: it is refused with the question which one is meant.
"""

from __future__ import annotations

import re

from tickets.calculator.colour import Lab
from tickets.calculator.units import NotAQuantity
from tickets.i18n import gettext as _

LONGEST = 2000
_MINUS = str.maketrans(dict.fromkeys("−–‒﹣－", "-"))  # noqa: RUF001
_NUMBER = re.compile(r"[-+]?(?:[0-9]{1,3}(?:[.,][0-9]{1,6})?|[.,][0-9]{1,6})")
_HEADED = re.compile(r"(?i)^(?:cie)?\s*l ?\*?\s*,?\s*a ?\*?\s*,?\s*b ?\*?(?:\s*[:=(]+\s*|\s+(?=[-+0-9]))(.*?)\s*\)?$")
_LABEL = re.compile(r"(?i)(?<![a-z])(?:cie\s*)?(l|a|b|c|h)(?:\s*\*|\s*°)?(?:ab)?\s*[:=]?\s*(?=[-+.,0-9])")
_MARKS = ",;/|"
_BESIDE = frozenset("ch")
"""Chroma and hue angle, which instruments write beside the three: they follow from a* and b*."""


def number(text: str) -> float:
    """One number of a reading: digits with at most one decimal mark, `.` or `,`. NotAQuantity: anything else."""
    plain = text.strip().translate(_MINUS)
    if not _NUMBER.fullmatch(plain):
        raise NotAQuantity(
            _("“{text}” is not a number we take: type digits with at most one decimal mark, such as 25.5.").format(
                text=text.strip()[:40]
            )
        )
    return float(plain.replace(",", "."))  # no colour has a thousand of anything: a comma is a decimal mark


def readings(text: str) -> list[Lab]:
    """One or several readings in CIE L*a*b*, a line each: `L* 52.10 a* -3.40 b* 18.00`, `52.1 -3.4 18`,
    `52,1; -3,4; 18,0`; or each of its three numbers on a line of its own, as instruments list them.

    Raises NotAQuantity for what is none or can be read in two ways, CannotBe for a colour that cannot be.
    """
    plain = text.translate(_MINUS).replace("\u00a0", " ").strip()
    if not plain or len(plain) > LONGEST:
        raise NotAQuantity(_three())
    found: list[Lab] = []
    for line in _whole_lines([one.strip() for one in plain.splitlines() if one.strip()]):
        headed = _HEADED.match(line)
        if headed:
            line = headed[1]
        found += _labelled(line) if _LABEL.search(line) else _listed(line)
    return found


def _whole_lines(lines: list[str]) -> list[str]:
    """The lines, three by three as one where each has but one number."""
    numbers = [_LABEL.sub("", line, count=1).strip(_MARKS + " ") for line in lines]
    if len(lines) % 3 or not all(_NUMBER.fullmatch(one) for one in numbers):
        return lines
    return [" ".join(line.strip(_MARKS + " ") for line in lines[at : at + 3]) for at in range(0, len(lines), 3)]


def reading(text: str) -> Lab:
    """The one reading in a text. Raises as `readings`, also where there are several."""
    found = readings(text)
    if len(found) != 1:
        raise NotAQuantity(_("Give one reading here, L* a* b*, such as 52.1 -3.4 18.0."))
    return found[0]


def _three() -> str:
    return _("Three numbers are needed, L*, a* and b*, such as 52.1 -3.4 18.0.")


def _labelled(line: str) -> list[Lab]:
    """Readings with a letter before each number, in any order."""
    labels = list(_LABEL.finditer(line))
    if line[: labels[0].start()].strip(_MARKS + " ("):
        raise NotAQuantity(_three())
    found: list[Lab] = []
    parts: dict[str, float] = {}
    for place, label in enumerate(labels):
        end = labels[place + 1].start() if place + 1 < len(labels) else len(line)
        name, value = label[1].casefold(), number(line[label.end() : end].strip().rstrip(_MARKS + " )°"))
        if name in _BESIDE:
            continue
        if name in parts:
            raise NotAQuantity(_three())
        parts[name] = value
        if len(parts) == 3:
            found.append(Lab(parts["l"], parts["a"], parts["b"]))
            parts = {}
    if parts:
        raise NotAQuantity(_three())
    return found


def _listed(line: str) -> list[Lab]:
    """Readings without letters, three numbers each."""
    parts: list[str] = []
    for part in filter(None, re.split(r"[\s;/|]+", line.strip(" ;/|()"))):
        bare = part.rstrip(",")
        pieces = bare.split(",")
        if len(pieces) == 1 or (len(pieces) == 2 and "." not in bare):  # at most one mark: a decimal one
            parts.append(bare)
        elif len(pieces) == 3 or "." in bare:
            parts += pieces
        else:
            raise NotAQuantity(_which(line, pieces))
    if len(parts) == 6 and "," in line and not any(mark in one for one in parts for mark in ",."):
        raise NotAQuantity(_which(line, parts))
    if not parts or len(parts) % 3:
        raise NotAQuantity(_three())
    numbers = [number(one) for one in parts]
    return [Lab(*numbers[start : start + 3]) for start in range(0, len(numbers), 3)]


def _which(line: str, pieces: list[str]) -> str:
    """The question for commas that may be both marks, with what they are as decimal ones where that comes to three."""
    if len(pieces) == 6 and all(one.isdigit() for one in pieces[1::2]):
        meant = " ".join(f"{whole}.{part}" for whole, part in zip(pieces[::2], pieces[1::2], strict=True))
        told = _("“{text}” can be read in two ways: is it {meant}? Type it so, with spaces between the three numbers.")
        return told.format(text=line[:40], meant=meant)
    told = _("“{text}” can be read in several ways: put spaces between the three numbers, such as 52,1 -3,4 18,0.")
    return told.format(text=line[:40])
