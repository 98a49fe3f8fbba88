"""Days, times, data and files as they come from outside: pages, addresses, commands. With `calculator.numerals` and
`calculator.typed`, which read numbers, the one place where such text is read.

Each has a bound: what is read here can be said in any time zone, stored, and counted with.
"""

from __future__ import annotations

import json
import math
import re
from datetime import date, datetime
from pathlib import Path
from typing import Any

from tickets.calculator.numerals import counted

YEARS = range(1900, 2200)
"""Years of the days that people plan for, or look back to."""
_NEVER = (1, 9999)
"""Years whose ends leave the calendar in another time zone."""
LONGEST = 40
"""Characters of a time, its fractions and its zone with it."""
DEEPEST = 60
"""Lists within lists of data."""
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


def day(text: str) -> date | None:
    """The day of `2026-03-09`; None: it is none, or at an end of the calendar, which counting on leaves."""
    plain = text.strip()
    if not _DAY.fullmatch(plain):
        return None
    try:
        found = date.fromisoformat(plain)
    except ValueError:
        return None
    return None if found.year in _NEVER else found


def moment(text: str) -> datetime | None:
    """The time of `2026-03-09T14:05` (ISO 8601, with its zone or without); None: it is none, or at the very end of the
    calendar, where another zone has no such time."""
    plain = text.strip()
    if not plain.isascii() or len(plain) > LONGEST:
        return None
    try:
        found = datetime.fromisoformat(plain)
    except ValueError:
        return None
    return None if found.year in _NEVER else found


def data(text: str | bytes) -> Any:
    """What JSON of somebody else's holds. ValueError: it is none, it is nested more deeply than any of ours, or has a
    number or a character that cannot be stored."""
    try:
        found = json.loads(text, parse_float=_finite, parse_int=_whole, parse_constant=_finite)
    except RecursionError:
        raise ValueError("nested too deeply") from None
    _look_over(found, 0)
    return found


class TooLong(ValueError):
    """A file that holds more than is asked for, or that never ends."""


def content(path: Path, most: int) -> bytes:
    """What a file holds that somebody named, `most` bytes of it; a device or a pipe is read no further either. Raises
    OSError, TooLong."""
    with path.open("rb") as file:
        found = file.read(most + 1)
    if len(found) > most:
        raise TooLong(path.name)
    return found


def _finite(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError("no number")
    return value


def _whole(text: str) -> int:
    size = counted(text.removeprefix("-"), -1)
    if size < 0:
        raise ValueError("too many digits")
    return -size if text.startswith("-") else size


def _look_over(found: Any, depth: int) -> None:
    if isinstance(found, str):
        found.encode()  # half of a pair of characters is no text: UnicodeEncodeError, which is a ValueError
    elif isinstance(found, (dict, list)):
        if depth == DEEPEST:
            raise ValueError("nested too deeply")
        for one in [*found, *found.values()] if isinstance(found, dict) else found:
            _look_over(one, depth + 1)
