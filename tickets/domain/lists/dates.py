"""Days as lists write them: year first, or day and month in either order, with their names in English or Spanish."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

from tickets.calculator.numerals import counted

DAY_FIRST, MONTH_FIRST = "day-first", "month-first"
_PLAIN = re.compile(r"([0-9]{1,2})[./ -]([0-9]{1,2})[./ -]([0-9]{4}|[0-9]{2})")
_YEAR_FIRST = re.compile(r"([0-9]{4})[./-]([0-9]{1,2})[./-]([0-9]{1,2})(?:[T ][0-9:.]+)?")
_NAMED = re.compile(
    r"(?:([0-9]{1,2})\.?[ -](?:de )?([a-z]{3,10})\.?|([a-z]{3,10})\.? ([0-9]{1,2}),?)[ -](?:de )?([0-9]{4}|[0-9]{2})"
)
_MONTHS = (
    ("jan", "ene"), ("feb",), ("mar",), ("apr", "abr"), ("may",), ("jun",),
    ("jul",), ("aug", "ago"), ("sep", "set"), ("oct",), ("nov",), ("dec", "dic"),
)  # fmt: skip


def day(text: str, order: str = "") -> date | None:
    """The day that a text names; None: it names none, or it can be read in two ways and `order` does not say how."""
    plain = " ".join(text.casefold().split())
    if found := _YEAR_FIRST.fullmatch(plain):
        return _date(found[1], found[2], found[3])
    if found := _NAMED.fullmatch(plain):
        named, number = found[2] or found[3], found[1] or found[4]
        month = next((at for at, words in enumerate(_MONTHS, 1) if named.startswith(words)), 0)
        return _date(found[5], month, number)
    if found := _PLAIN.fullmatch(plain):
        first, second = counted(found[1]), counted(found[2])
        order = order or (DAY_FIRST if first > 12 or first == second else MONTH_FIRST if second > 12 else "")
        if not order:
            return None
        number, month = (first, second) if order == DAY_FIRST else (second, first)
        return _date(found[3], month, number)
    return None


def _date(year: str, month: str | int, number: str | int) -> date | None:
    whole = counted(year) if len(year) == 4 else 2000 + counted(year)
    try:
        return date(whole, counted(str(month)), counted(str(number)))
    except ValueError:
        return None


def in_two_ways(text: str) -> bool:
    """Whether a text is a day whose day and month can be taken for one another."""
    found = _PLAIN.fullmatch(text.strip())
    return (
        found is not None
        and counted(found[1]) <= 12
        and counted(found[2]) <= 12
        and counted(found[1]) != counted(found[2])
    )


def looks_like_one(text: str) -> bool:
    """Whether a text is written as a day is."""
    plain = " ".join(text.casefold().split())
    return any(pattern.fullmatch(plain) for pattern in (_YEAR_FIRST, _NAMED, _PLAIN))


def order_of(cells: Sequence[str]) -> str:
    """In which order the days of a column are written, where one of them tells; empty: none does, or they differ."""
    told = set()
    for cell in cells:
        found = _PLAIN.fullmatch(cell.strip())
        if found and max(counted(found[1]), counted(found[2])) > 12:
            told.add(DAY_FIRST if counted(found[1]) > 12 else MONTH_FIRST)
    return told.pop() if len(told) == 1 else ""
