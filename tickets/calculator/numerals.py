"""Numbers as people write them: either decimal mark, `.` or `,`; fractions; thousands apart; a clock's `1:30`.

What can be read in two ways is never guessed: `Ambiguous` holds every reading, each typed so that it can be read in
one way only. Nothing here knows of units (`units` does).
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from tickets.i18n import gettext as _

NBSP = "\u00a0"


class NotAQuantity(ValueError):
    """The text is no such number or quantity; the message says what would do. `part`: which of several numbers in one
    field it is about, counted from 1; 0: all, or there is only one."""

    part = 0
    readings: tuple[str, ...] = ()


class Ambiguous(NotAQuantity):
    """The text can be read in more than one way, or nearly: `readings` are those, each typed clearly."""

    def __init__(self, message: str, readings: Sequence[str]) -> None:
        super().__init__(message)
        self.readings = tuple(readings)


SURE = "!"
"""Behind what was asked about, that it is meant all the same: `16 mm!`."""


def is_sure(text: str) -> bool:
    """Whether somebody said of a quantity that it is meant, however unusual it is."""
    return text.rstrip().endswith(SURE)


def unsure(text: str) -> str:
    """The text without the mark that says so."""
    return text.rstrip().removesuffix(SURE).rstrip()


_LOOKALIKES = str.maketrans(
    {
        "\u00b5": "u",
        "\u03bc": "u",
        "\u2033": '"',
        "\u201d": '"',
        "\u201c": '"',
        "\u2032": "'",
        "\u2019": "'",
        "\u2018": "'",
        "\u00b4": "'",
        "\u00ba": "°",
        "\u02da": "°",
        "\u2218": "°",
        "\u2070": "°",
        "\u2103": "°C",
        "\u2109": "°F",
        "\u2212": "-",
        "\u2044": "/",
        "\u2215": "/",
        "\u2009": " ",
        "\u202f": " ",
        NBSP: " ",
        "\u00d7": "x",
        # the digits and marks of an East Asian keyboard, which are twice as wide
        **{chr(0xFF10 + digit): str(digit) for digit in range(10)},
        "\uff0e": ".",
        "\uff0c": ",",
        "\uff0f": "/",
        "\uff05": "%",
        **{mark: f" {over}/{under}" for mark, over, under in (
            ("\u00bd", 1, 2), ("\u00bc", 1, 4), ("\u00be", 3, 4), ("\u2153", 1, 3), ("\u2154", 2, 3), ("\u215b", 1, 8),
            ("\u215c", 3, 8), ("\u215d", 5, 8), ("\u215e", 7, 8), ("\u2155", 1, 5), ("\u2156", 2, 5), ("\u2157", 3, 5),
            ("\u2158", 4, 5), ("\u2159", 1, 6), ("\u215a", 5, 6))},
    }
)  # fmt: skip
_SQUARES = str.maketrans({"\u00b2": "2", "\u00b3": "3"})


def tidy(text: str) -> str:
    """The text in one line, its look-alikes (the wrong degree sign, a curly quote, `½`) in one spelling.

    A raised 2 or 3 becomes a digit behind a letter only, as in cm²: behind a digit it is a power, and no number.
    """
    plain = re.sub(r"(?<=[A-Za-z])[\u00b2\u00b3]", lambda found: found[0].translate(_SQUARES), text)
    return " ".join(plain.translate(_LOOKALIKES).split())


_PLAIN = r"(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)"
_FRACTION = r"[0-9]{1,2}/[0-9]{1,2}(?![0-9./,])"
_APART = r"[1-9][0-9]{0,2}(?: [0-9]{3})+(?![0-9])(?:[.,][0-9]+)?"
_BOTH = r"[1-9][0-9]{0,2}(?:(?:\.[0-9]{3})+,|(?:,[0-9]{3})+\.)[0-9]+(?![0-9.,])"
_CLOCK = r"[0-9]{1,3}:[0-5][0-9](?::[0-5][0-9])?(?![0-9:.,])"
NUMERAL = rf"(?:{_CLOCK}|[0-9]{{1,4}}[ -]{_FRACTION}|{_FRACTION}|{_APART}|{_BOTH}|{_PLAIN})"
"""One number as a pattern: the longest way of writing first."""

_WHOLE = re.compile(rf"-?{NUMERAL}")
_MIXED = re.compile(r"(?P<whole>[0-9]{1,4}(?=[ -]))?[ -]?(?P<over>[0-9]{1,2})/(?P<under>[0-9]{1,2})")
_TWO_WAYS = re.compile(r"-?[1-9][0-9]{0,2}[.,][0-9]{3}")
_PARTS = frozenset({2, 3, 4, 5, 6, 8, 16, 32, 64})
"""What rulers and scales are parted into; any other fraction is more likely something else."""
LONGEST = 24
"""Characters that a number may have: nobody types a longer one, and none overflows."""
HIGHEST = 1e12


def number(text: str, fractions: bool = True, point: bool = False) -> float:
    """The number in `text`: digits with at most one decimal mark, `.` or `,`; `2 1/2`, `1/16` (where `fractions` by
    themselves are taken), `1 000`; `1,250.5` and `1.250,5`, where each mark tells what the other is. Finite, and below
    HIGHEST. `point`: a `.` is a decimal mark whatever stands behind it, as in what an instrument or this program wrote.

    Raises NotAQuantity for anything else, and Ambiguous for "1,250" and "1.250": those are 1250 to one reader and
    1.25 to another.
    """
    plain = tidy(text)
    if not plain:
        raise NotAQuantity(_("A number is wanted, such as 25.5."))
    if len(plain) > LONGEST:
        raise NotAQuantity(_("“{text}” is longer than any number needs to be.").format(text=plain[:40] + "…"))
    if plain.startswith("+"):
        raise _no_number(plain)
    if plain.endswith("%") and _WHOLE.fullmatch(plain[:-1].strip()):
        share = number(plain[:-1], fractions, point) / 100
        raise Ambiguous(
            _("“{text}”: type a plain number. Do you mean {share} or {number}?").format(
                text=plain, share=f"{share:.10g}", number=plain[:-1].strip()
            ),
            (f"{share:.10g}", plain[:-1].strip()),
        )
    if re.fullmatch(f"-?{_BOTH}", plain):  # with both marks it can be read in one way only
        decimal = max(".", ",", key=plain.rfind)
        plain = plain.replace("," if decimal == "." else ".", "")
    if "." in plain and "," in plain or plain.count(".") > 1 or plain.count(",") > 1:
        raise NotAQuantity(
            _("“{text}” has more than one mark: type the number with one decimal mark only, such as 1250.5.").format(
                text=plain
            )
        )
    if ":" in plain or not _WHOLE.fullmatch(plain):
        raise _no_number(plain)
    if "/" in plain:
        return _fraction(plain, fractions)
    if in_thousands(plain) and not (point and "." in plain):
        readings = (re.sub("[.,]", "", plain), clear(plain.replace(",", ".")))
        raise Ambiguous(
            _("“{text}” can be read in two ways: type {whole}, or {fraction}.").format(
                text=plain, whole=readings[0], fraction=readings[1]
            ),
            readings,
        )
    value = float(plain.replace(" ", "").replace(",", "."))
    if abs(value) >= HIGHEST:
        raise NotAQuantity(_("“{text}” is larger than anything that is asked for.").format(text=plain))
    return value


def in_thousands(digits: str) -> bool:
    """Whether a mark stands before three digits and no nought is in front, so that it may part thousands."""
    return _TWO_WAYS.fullmatch(digits) is not None


def clear(digits: str) -> str:
    """Digits with a decimal point such that it cannot be taken for one that parts thousands: 1.250 is 1.25, and 1.255
    is 1.2550."""
    if not in_thousands(digits):
        return digits
    short = digits.rstrip("0").rstrip(".")
    return f"{short}0" if in_thousands(short) else short


def _no_number(plain: str) -> NotAQuantity:
    if re.match(r"[-+]?[0-9.,]+\s*(?:-|–|to|bis|a)\s*[0-9]", plain):
        return NotAQuantity(_("“{text}” is a span: type one number, such as 25.5.").format(text=plain))
    return NotAQuantity(
        _("“{text}” is not a number we take: type digits with at most one decimal mark, such as 25.5.").format(
            text=plain
        )
    )


def _fraction(plain: str, alone: bool) -> float:
    """`2 1/2`, `2-1/2`, `1/16`; below one in itself, and of what rulers are parted into."""
    sign, found = (-1, plain[1:]) if plain.startswith("-") else (1, plain)
    part = _MIXED.fullmatch(found)
    over, under = (int(part["over"]), int(part["under"])) if part else (0, 0)
    if part is None or under not in _PARTS or not 0 < over < under or (part["whole"] is None and not alone):
        raise NotAQuantity(
            _("“{text}” cannot be read as a fraction: type it with a decimal mark, as in 0.125 for 1/8.").format(
                text=plain
            )
        )
    return sign * (int(part["whole"] or 0) + over / under)


def is_fraction(text: str) -> bool:
    """Whether a text is one fraction as rulers and scales are parted: 1/2, 3/4; not 25/24."""
    try:
        return "/" in text and number(text) > 0
    except NotAQuantity:
        return False


def counted(text: str | None, otherwise: int = 0) -> int:
    """The number that names a thing (a row, a station, a head): plain digits, fewer than 16; `otherwise` for anything
    else, such as raised digits or hundreds of them, which Python takes for digits and cannot turn into a number."""
    plain = (text or "").strip()
    return int(plain) if plain.isascii() and plain.isdigit() and len(plain) < 16 else otherwise


def numbers_in(text: str) -> tuple[int, ...]:
    """The whole numbers of a text that has blanks between them."""
    return tuple(counted(word) for word in text.split())


def clock(text: str) -> tuple[int, int, int] | None:
    """`1:30` as (1, 30, -1), `1:02:30` as (1, 2, 30); None: it is no such text."""
    plain = tidy(text)
    if not re.fullmatch(_CLOCK, plain):
        return None
    first, second, *third = (int(part) for part in plain.split(":"))
    return first, second, third[0] if third else -1


_LOOSE = re.compile(r"[-+]?[0-9.,_]*(?:[eE][-+]?[0-9]+)?")
_TIGHT = re.compile(rf"-?{NUMERAL}(?![0-9.,_:]|[eE][-+]?[0-9])")


def split(text: str) -> tuple[str, str]:
    """The number's text and the text behind it (a unit, mostly); either may be empty, and neither is judged yet."""
    plain = tidy(text)
    found = _TIGHT.match(plain) or _LOOSE.match(plain)
    end = found.end() if found else 0
    if end == 0 and re.match(r"(?i)[-+]?(nan|inf)", plain):
        end = len(plain.split(" ")[0])
    return plain[:end].strip(), plain[end:].strip()


def said_plainly(value: float) -> str:
    """A number such that `number` reads the very same: no exponent, `.` as its mark."""
    text = clear(f"{value:.10f}".rstrip("0").rstrip("."))
    return "0" if text in ("-0", "") else text
