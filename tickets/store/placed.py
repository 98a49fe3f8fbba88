"""Rows that are worked out of screens or runs, each at its place: only what is not so already is written."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from operator import attrgetter
from typing import Any, NamedTuple

from sqlite_utils import Database

MOST = 200
"""Rows that one statement writes, at most."""


class Placed(NamedTuple):
    """The rows of one thing: its number, what is `there`, what they should be, and the place of the first of both."""

    number: int
    there: Sequence[Any]
    rows: Sequence[Any]
    first: int = 0


def save_placed(
    db: Database,
    table: str,
    columns: Sequence[str],
    owner: str,
    things: Iterable[Placed],
    values: Callable[[Any], tuple[Any, ...]] | None = None,
) -> None:
    """Makes the rows of some things (numbered in the column `owner`) what they should be, all in one statement. Of a
    row that is there only the columns are written that change in any of them: an index on another stays as it is.
    `values`: what a row holds, where that is not what its fields named like the columns hold."""
    values = values or attrgetter(*columns)
    new: list[list[Any]] = []
    changed: set[str] = set()
    for number, there, rows, first in things:
        if len(there) > len(rows):
            db.execute(f"DELETE FROM {table} WHERE {owner} = ? AND place >= ?", [number, first + len(rows)])
        for place, row in enumerate(rows):
            if place < len(there) and there[place] == row:
                continue
            told = values(row)
            new.append([number, first + place, *told])
            if place < len(there):
                pairs = zip(columns, told, values(there[place]), strict=True)
                changed.update(name for name, now, was in pairs if now != was)
    if new:
        upsert(db, table, (owner, "place", *columns), (owner, "place"), new, [one for one in columns if one in changed])


def upsert(
    db: Database,
    table: str,
    columns: Sequence[str],
    key: Sequence[str],
    rows: Sequence[Sequence[Any]],
    changed: Sequence[str] = (),
) -> None:
    """Adds rows; of those whose `key` is there the columns `changed` (none named: all) become what they say."""
    changed = changed or [name for name in columns if name not in key]
    _insert(db, table, columns, key, rows, [f"{name} = excluded.{name}" for name in changed])


def add_to(
    db: Database,
    table: str,
    columns: Sequence[str],
    key: Sequence[str],
    sums: Sequence[str],
    rows: Sequence[Sequence[Any]],
) -> None:
    """Adds what rows say to the `sums` of those that have their `key`, or makes them."""
    _insert(db, table, columns, key, rows, [f"{name} = {name} + excluded.{name}" for name in sums])


def _insert(
    db: Database,
    table: str,
    columns: Sequence[str],
    key: Sequence[str],
    rows: Sequence[Sequence[Any]],
    changes: Sequence[str],
) -> None:
    one = f"({', '.join('?' * len(columns))})"
    for begin in range(0, len(rows), MOST):
        some = rows[begin : begin + MOST]
        db.execute(
            f"INSERT INTO {table} ({', '.join(columns)}) VALUES {', '.join([one] * len(some))} "
            f"ON CONFLICT ({', '.join(key)}) DO UPDATE SET {', '.join(changes)}",
            [value for row in some for value in row],
        )
