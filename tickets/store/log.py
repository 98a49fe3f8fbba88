"""The whole log, narrowed and counted: each way to narrow it has an index in the order of time, which a page is read
along of; what else is asked of an entry is looked at on the way, of so many entries at most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from sqlite_utils import Database

from tickets.domain.entry import Entry
from tickets.store.entries import COLUMNS, read_row
from tickets.store.ordered import Order, PageStart, parts, way_of

LOOKED_THROUGH = 5_000
"""Entries of the first way to narrow the log that a page looks through for what else is asked: a log may be long."""


@dataclass(frozen=True, slots=True)
class LogAsked:
    """What the log is narrowed to: from a time on (`since`), up to one (`until`), of a person, a step, a place, a
    press, a job, a screen, a fault or cause that it names; only what was overridden, only what was crossed out. 0,
    empty, False: any.

    What was crossed out goes by the time when that was done."""

    since: str = ""
    until: str = ""
    person: int = 0
    step: str = ""
    place: int = 0
    press: int = 0
    job: int = 0
    screen: int = 0
    cause: str = ""
    overridden: bool = False
    crossed: bool = False


class _Narrowed(NamedTuple):
    """A way to narrow the log: what it is of an entry (`e`), its values, the columns that say so, and the index that
    has such entries in the order of time (`ORDERED`: they are few, and put in order)."""

    condition: str
    values: Sequence[Any]
    columns: tuple[str, ...]
    by: str = ""


ORDERED = "-"


CAUSES = ("cause", "fault", "kind", "why")
"""The values of an entry that name a fault or a cause."""
_PLACE = "json_extract(e.vals, '$.place')"
"""As the index has it."""


def _ways(asked: LogAsked) -> list[_Narrowed]:
    """How the log is narrowed, the way that leaves least first."""
    found = []
    if asked.screen:
        found.append(_Narrowed("e.screen = ?", [asked.screen], ("screen",), "entries_by_screen"))
    if asked.job:
        of = "(e.job = ? OR e.run IN (SELECT id FROM runs WHERE job = ?))"
        found.append(_Narrowed(of, [asked.job] * 2, ("job", "run"), ORDERED))
    if asked.place:
        at = f"e.step = 'rack' AND {_PLACE} = ?"
        found.append(_Narrowed(at, [asked.place], ("step", "vals"), "entries_by_place"))
    if asked.overridden:
        found.append(_Narrowed("e.override IS NOT NULL", [], ("override",), "entries_overridden"))
    if asked.step:
        found.append(_Narrowed("e.step = ?", [asked.step], ("step",), "entries_by_step"))
    if asked.person:
        found.append(_Narrowed("e.person = ?", [asked.person], ("person",), "entries_by_person"))
    if asked.cause:
        named = ", ".join(f"json_extract(e.vals, '$.{name}')" for name in CAUSES)
        of = f"? IN ({named})"
        found.append(_Narrowed(of, [asked.cause], ("vals",)))
    if asked.press:
        of = "e.run IS NOT NULL AND (SELECT press FROM runs WHERE id = e.run) = ?"
        found.append(_Narrowed(of, [asked.press], ("run",)))
    return found


class _Question(NamedTuple):
    """The entries that are read along (`within`: their source, condition and order, to which a limit is put), and what
    is looked at of each (`of`), with the values of both."""

    within: str
    values: list[Any]
    of: str
    its: list[Any]
    columns: str


def _question(asked: LogAsked, start: PageStart) -> _Question:
    ways, table, source = _ways(asked), "e", "entries e"
    first = next((way for way in ways if way.by), None)
    if asked.crossed:
        table, first = "c", None
        source = "entries c INDEXED BY entries_cross_outs CROSS JOIN entries e ON e.entry = c.crosses"
    elif first is None:
        index = "entries_in_runs" if asked.press else "entries_by_time"
        source = f"entries e INDEXED BY {index}"
    elif first.by != ORDERED:
        source = f"entries e INDEXED BY {first.by}"
    order = Order(f"{table}.at", "")
    condition, values = parts(order, f"{table}.id", start)[0]
    where = [condition, *(f"{table}.at {sign} ?" for sign, at in ((">=", asked.since), ("<", asked.until)) if at)]
    values = [*values, *(at for at in (asked.since, asked.until) if at)]
    if asked.crossed:
        where.append("c.crosses IS NOT NULL")
    elif first is not None:
        where, values = [first.condition, *where], [*first.values, *values]
    elif asked.press:
        where.append("e.run IS NOT NULL")
    rest = [way for way in ways if way is not first]
    columns = sorted({column for way in rest for column in way.columns})
    said = "".join(f", e.{column}" for column in columns)
    within = f"FROM {source} WHERE {' AND '.join(where)} ORDER BY {way_of(order, f'{table}.id', start)} LIMIT"
    of = " AND ".join(way.condition for way in rest) or "TRUE"
    return _Question(
        within, values, of, [value for way in rest for value in way.values], f"{table}.id AS number, e.id{said}"
    )


def place_in(db: Database, down: bool, number: int, back: bool = False) -> PageStart:
    """Where a page of the log begins that goes on behind the entry of a row number (0: at the top)."""
    row = db.execute("SELECT at FROM entries WHERE id = ?", [number]).fetchone() if number else None
    return PageStart(down, (row[0], number), back) if row else PageStart(down)


def page(db: Database, asked: LogAsked, start: PageStart, limit: int = 50) -> tuple[list[tuple[int, Entry]], int]:
    """A page of the log by time: (row number, entry); and the row number from which to look further (0: all were looked
    through, or the page is full)."""
    one = _question(asked, start)
    most = LOOKED_THROUGH if one.of != "TRUE" else limit
    found = ", ".join(f"its.{name}" for name in COLUMNS.split(", "))
    rows = db.execute(
        f"SELECT e.number, {found} FROM (SELECT number, id FROM (SELECT {one.columns} {one.within} {most}) e "
        f"WHERE {one.of} LIMIT ?) e CROSS JOIN entries its ON its.id = e.id",
        [*one.values, *one.its, limit],
    ).fetchall()
    further = 0
    if one.of != "TRUE" and len(rows) < limit:
        last = db.execute(f"SELECT {one.columns} {one.within} 1 OFFSET {LOOKED_THROUGH - 1}", one.values).fetchone()
        further = last[0] if last else 0
    lines = [(row[0], read_row(row[1:])) for row in rows]
    return (lines[::-1] if start.back else lines), further


class Count(NamedTuple):
    """How many entries there are of a span; `more`: not all of its entries were looked at."""

    entries: int
    more: bool


def counted(db: Database, asked: LogAsked, spans: Sequence[tuple[str, str]]) -> list[Count]:
    """How many entries each of some spans of time has (from, up to), as the log is narrowed."""
    if not spans:
        return []
    sql, values = [], list[Any]()
    for place, (since, until) in enumerate(spans):
        one = _question(replace(asked, since=since, until=until), PageStart())
        sql.append(
            f"SELECT {place} AS place, count(*) AS looked, coalesce(sum({one.of}), 0) AS these FROM "
            f"(SELECT {one.columns} {one.within} {LOOKED_THROUGH}) e"
        )
        values += [*one.its, *one.values]
    rows = db.execute(f"SELECT * FROM ({' UNION ALL '.join(sql)}) ORDER BY place", values).fetchall()
    return [Count(row[2], row[1] >= LOOKED_THROUGH) for row in rows]


def by_person(db: Database, asked: LogAsked) -> dict[int, int]:
    """How many entries each person has in a span of time, as the log is narrowed, of the newest so many."""
    one = _question(replace(asked, person=0), PageStart(down=True))
    columns = one.columns if ", e.person" in one.columns else f"{one.columns}, e.person"
    rows = db.execute(
        f"SELECT person, count(*) FROM (SELECT {columns} {one.within} {LOOKED_THROUGH}) e "
        f"WHERE {one.of} GROUP BY person",
        [*one.values, *one.its],
    ).fetchall()
    return dict(rows)


def nearest(db: Database, asked: LogAsked) -> tuple[str, str]:
    """The time of the last such entry before a span, and of the first one behind it; empty: there is none near."""
    before, _further = page(db, replace(asked, since="", until=asked.since), PageStart(down=True), 1)
    behind, _further = page(db, replace(asked, since=asked.until, until=""), PageStart(), 1)
    return tuple(_time(db, found[0][0]) if found else "" for found in (before, behind))  # type: ignore[return-value]


def _time(db: Database, number: int) -> str:
    return str(db.execute("SELECT at FROM entries WHERE id = ?", [number]).fetchone()[0])
