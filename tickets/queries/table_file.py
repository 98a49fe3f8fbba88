"""How a table to take along is written: CSV that spreadsheets read right, JSON lines for programs, columns told."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from tickets.domain.entry import read_stamp
from tickets.i18n import gettext as _
from tickets.queries.shop_rules import zone


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a file: its name, what it holds, and its unit ("" for a text, "time" for a time of the shop).

    `many`: a line may have several values there; `of`: what stands there, by what the line is made from (None: the line
    comes from the store, under the column's name).
    """

    name: str
    about: str
    unit: str = ""
    many: bool = False
    of: Callable[[Any], Any] | None = None

    @property
    def said(self) -> str:
        """What it holds, in the reader's language."""
        about = _(self.about) if self.about else ""
        return f"{about} ({_('several are parted by semicolons; in JSON lines a list')})" if self.many else about

    @property
    def unit_said(self) -> str:
        """Its unit, or how a time is written."""
        return _("time of the shop, YYYY-MM-DD HH:MM") if self.unit == "time" else self.unit


Lines = Callable[[Database], Iterator[dict[str, Any]]]
"""How the lines of a table are read."""


@dataclass(frozen=True, slots=True)
class Table:
    """A file that can be taken along: its name, what a line of it is, its columns, and how its lines are read.

    `office`: it is the manager's alone, since it tells more of people than pages do; others see what pages show anyway.
    """

    name: str
    about: str
    columns: tuple[Column, ...]
    rows: Lines
    office: bool = False


class Clock:
    """Writes stored times as spreadsheets take them: the shop's zone, to the minute, without an offset."""

    def __init__(self, db: Database) -> None:
        self._zone = zone(db)

    def __call__(self, stamp: str | None) -> str:
        return read_stamp(stamp).astimezone(self._zone).strftime("%Y-%m-%d %H:%M") if stamp else ""


LEFT_OUT = object()
"""What a column gives where a line has nothing to say there, so that JSON lines do without it."""


def lines_of(
    columns: Sequence[Column], made_from: Iterable[Any], db: Database, clock: Callable[[str | None], Any] | None = None
) -> Iterator[dict[str, Any]]:
    """The lines of a table, each by its columns of what it is made from; stored times as the shop's clock says them,
    or as `clock` does."""
    clock = clock or Clock(db)
    reads = [(one.name, one.of, one.unit == "time") for one in columns if one.of is not None]
    for one in made_from:
        found = ((name, of(one), is_time) for name, of, is_time in reads)
        yield {name: clock(value) if is_time else value for name, value, is_time in found if value is not LEFT_OUT}


def timed(columns: Sequence[Column], rows: Iterable[dict[str, Any]], db: Database) -> Iterator[dict[str, Any]]:
    """Rows with their stored times as the shop's clock says them."""
    clock = Clock(db)
    times = [column.name for column in columns if column.unit == "time"]
    for row in rows:
        yield {**row, **{name: clock(row[name]) for name in times}}


def yes(value: object) -> str:
    """A flag as a file has it."""
    return "yes" if value else "no"


def csv_file(columns: Sequence[Column], rows: Iterable[Mapping[str, Any]], mark: bool = True) -> Iterator[str]:
    """A table as CSV (RFC 4180), a line at a time. Text that begins like a formula is made harmless.

    `mark`: with a mark in front that makes spreadsheets read it as UTF-8 (programs would take it for part of a name).
    """
    held = io.StringIO()
    writer = csv.writer(held)
    writer.writerow([column.name for column in columns])
    if mark:
        yield "\N{ZERO WIDTH NO-BREAK SPACE}"
    for row in rows:
        writer.writerow([safe_cell(row.get(column.name), column.many) for column in columns])
        yield held.getvalue()
        held.seek(0)
        held.truncate()
    yield held.getvalue()


RUN = ("=", "+", "-", "@", "\t", "\r", "\n", "\0", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What a cell begins with that a spreadsheet may run."""
_SIGN = "[" + "".join(map(re.escape, RUN)) + "]"
_NUMBER = r"'*[-+]\d[\d.]*(?: *;|$)"
_BEGINS = re.compile(rf"(^(?='*{_SIGN})|[;\t\r\n] *(?='*{_SIGN})(?!{_NUMBER}))")
_QUOTED = re.compile(rf"(^(?='+{_SIGN})|[;\t\r\n] *(?='+{_SIGN})(?!{_NUMBER}))'")
"""Where a cell begins, and where one would begin for a spreadsheet that parts a line at `;` or at tabs, before such a
sign; a number behind a `;` is none."""


def safe_cell(value: Any, many: bool = False) -> Any:
    """A cell that no spreadsheet runs: text that begins like a formula gets a quote in front (OWASP ASVS 1.2.10; the
    wide signs and the line feed: OWASP, CSV injection), and so does what follows a `;` or a tab in it, where other
    spreadsheets part the line. A number stays one, a negative one too.

    Text that has such a quote already gets one more, so that `as_written` gives every text back as it was. Several
    values stand behind each other (`32.5; 32.0`), so do named ones where `many` (`cotton 60; polyester 40`); what is
    deeper is JSON.
    """
    if value is None:
        return ""
    if isinstance(value, bool | int | float):
        return value
    if isinstance(value, Mapping) and many:
        value = [f"{name} {amount}" for name, amount in value.items()]
    if isinstance(value, list | tuple) and not any(isinstance(one, list | tuple | dict) for one in value):
        value = "; ".join(map(str, value))
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    return _BEGINS.sub(r"\1'", text)


def as_written(cell: str) -> str:
    """The text that `safe_cell` put a quote in front of; any other text as it is."""
    return _QUOTED.sub(r"\1", cell)


def json_lines(rows: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    """The lines of a table as JSON, one a line."""
    for row in rows:
        yield json.dumps(row, ensure_ascii=False, default=str) + "\n"


def column_lines(files: Iterable[tuple[str, Sequence[Column]]], mark: bool = True) -> Iterator[str]:
    """What each column of each file (its name, its columns) holds, as a CSV file."""
    columns = (Column("file", ""), Column("column", ""), Column("unit", ""), Column("about", ""))
    return csv_file(
        columns,
        (
            {"file": name, "column": one.name, "unit": one.unit_said, "about": one.said}
            for name, its in files
            for one in its
        ),
        mark,
    )
