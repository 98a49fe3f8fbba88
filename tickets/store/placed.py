"""Rows that are worked out of one screen or run, each at its place: only what is not so already is written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import astuple
from typing import Any

from sqlite_utils import Database

MOST = 200
"""Rows that one statement writes, at most."""


def save_placed(
    db: Database,
    table: str,
    columns: Sequence[str],
    of: tuple[str, int],
    there: Sequence[Any],
    rows: Sequence[Any],
    first: int = 0,
    values: Callable[[Any], tuple[Any, ...]] = astuple,
) -> None:
    """Makes the rows of one thing (`of`: its column and number) from the place `first` on what they should be, out of
    what is `there`."""
    owner, number = of
    if len(there) > len(rows):
        db.execute(f"DELETE FROM {table} WHERE {owner} = ? AND place >= ?", [number, first + len(rows)])
    new = [(place, *values(row)) for place, row in enumerate(rows) if place >= len(there) or there[place] != row]
    one = f"({', '.join('?' * (len(columns) + 2))})"
    changes = ", ".join(f"{name} = excluded.{name}" for name in columns)
    for begin in range(0, len(new), MOST):
        some = new[begin : begin + MOST]
        db.execute(
            f"INSERT INTO {table} ({owner}, place, {', '.join(columns)}) VALUES {', '.join([one] * len(some))} "
            f"ON CONFLICT ({owner}, place) DO UPDATE SET {changes}",
            [value for place, *row in some for value in (number, first + place, *row)],
        )
