"""Which backups of past nights are kept."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date

from tickets.domain import outside

NAME = re.compile(r"shop-(\d{4}-\d{2}-\d{2})\.zip")


def day_of(name: str) -> date | None:
    """The day of a nightly backup by the name of its file; None: it is another file."""
    found = NAME.fullmatch(name)
    return None if found is None else outside.day(found[1])


def to_keep(days: Iterable[date], today: date, most_days: int, most_months: int) -> set[date]:
    """Of the days that have a backup those to keep: the last `most_days`, the first of each of the last `most_months`
    months, the newest in any case, and what lies ahead of a clock that was wrong."""
    every = sorted(days)
    keep = {day for day in every if (today - day).days < most_days} | set(every[-1:])
    first: dict[int, date] = {}
    for day in every:
        first.setdefault(day.year * 12 + day.month, day)
    this = today.year * 12 + today.month
    return keep | {day for month, day in first.items() if this - month < most_months}
