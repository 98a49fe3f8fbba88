"""Runs as lines of a list: what printed where and when, and how many pieces, a page at a time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from sqlite_utils import Database

from tickets.store.ordered import Order, PageStart, page_of, parts, way_of


class ListedRun(NamedTuple):
    """A run in a line: its number; the job's code, title and customer; the placement's name; the press by number; when
    it was opened and when it was done (None: it is not), its state, good pieces, prints that were made."""

    id: int
    job: str
    title: str
    customer: str
    placement: str
    press: int
    opened_at: str
    done_at: str | None
    state: str
    good: int
    impressions: int


@dataclass(frozen=True, slots=True)
class RunsAsked:
    """What a list of runs is narrowed to: a press, a job (by number), open ones alone or ended ones alone (None: both),
    a span of time in which they were on the press (stamps: from, and until before; empty: any)."""

    press: int | None = None
    job: int | None = None
    ended: bool | None = None
    since: str = ""
    until: str = ""


IN_ORDER: Mapping[str, Order] = {
    "ended": Order("r.done_at", "runs_by_end", empty=True, first=True),
    "press": Order("r.press", "runs_by_press", number=True),
    "good": Order("r.good", "runs_by_good", number=True),
}
"""What runs can be listed by, besides their numbers, which are in the order in which they were opened."""


def place_of(db: Database, order: str, down: bool, run: int, back: bool = False) -> PageStart:
    """Where a page begins that goes on behind a run (0: at the top) or, `back`, ends before it."""
    by_it = IN_ORDER.get(order)
    if not run:
        return PageStart(down)
    if by_it is None:
        return PageStart(down, (None, run), back)
    row = db.execute(f"SELECT {by_it.column} FROM runs r WHERE r.id = ?", [run]).fetchone()
    return PageStart(down, (row[0], run), back) if row else PageStart(down)


_LINE = (
    "r.id, j.code, j.title, j.customer, "
    "coalesce(json_extract(v.sheet, '$.placements[' || (r.placement - 1) || '].name'), ''), "
    "r.press, r.opened_at, r.done_at, r.state, r.good, r.impressions"
)
_JOINED = "JOIN jobs j ON j.id = r.job JOIN job_versions v ON v.job = r.job AND v.version = r.version"


def in_order(db: Database, asked: RunsAsked, order: str, start: PageStart, limit: int = 50) -> list[ListedRun]:
    """A page of runs in an order; `order` not of IN_ORDER: by their numbers."""
    by_it = IN_ORDER.get(order)
    where, given = _narrowed(asked)

    def ask(condition: str, values: list[Any], most: int) -> list[ListedRun]:
        # which runs, out of the index, before anything is read of their jobs
        chosen = f"SELECT * FROM runs r WHERE {' AND '.join([*where, condition])} ORDER BY {way} LIMIT ?"
        sql = f"SELECT {_LINE} FROM ({chosen}) r {_JOINED} ORDER BY {way}"
        return [ListedRun(*row) for row in db.execute(sql, [*given, *values, most]).fetchall()]

    way = way_of(by_it, "r.id", start)
    return page_of(ask, parts(by_it, "r.id", start), start, limit)


def _narrowed(asked: RunsAsked) -> tuple[list[str], list[Any]]:
    where, values = list[str](), list[Any]()
    for column, value in (("press", asked.press), ("job", asked.job)):
        if value is not None:
            where.append(f"r.{column} = ?")
            values.append(value)
    if asked.ended is not None:
        where.append("r.done_at IS NOT NULL" if asked.ended else "r.done_at IS NULL")
    if asked.since:
        where.append("(r.done_at IS NULL OR r.done_at >= ?)")
        values.append(asked.since)
    if asked.until:
        where.append("r.opened_at < ?")
        values.append(asked.until)
    return where, values
