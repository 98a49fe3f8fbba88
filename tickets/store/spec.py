"""The shop's limits: appended rows."""

from __future__ import annotations

import json
from collections.abc import Collection

from sqlite_utils import Database

from tickets.domain.spec import Row
from tickets.store import reads


def rows(db: Database) -> list[Row]:
    """Every spec row, oldest first; read again only when one was added."""
    return list(reads.remembered(db, "spec rows", newest(db), lambda: _read(db)))


def _read(db: Database) -> list[Row]:
    found = db.execute("SELECT id, key, value, unit, conditions, source, at, person FROM spec ORDER BY id").fetchall()
    return [Row(r[0], r[1], json.loads(r[2]), r[3], json.loads(r[4]), r[5], r[6], r[7]) for r in found]


def newest(db: Database) -> int:
    """The number of the newest row: a cache of the spec is right while this stays."""
    return reads.newest(db).spec or 0


def last_at(db: Database, keys: Collection[str]) -> str:
    """When the newest row of some keys was added; empty: there is none. Asked again once a row was added."""
    names = sorted(keys)

    def last() -> str:
        return max((row.at for row in rows(db) if row.key in names), default="")

    return reads.remembered(db, f"spec last {names}", newest(db), last)


def came(db: Database) -> frozenset[int]:
    """The numbers of the rows that came with the program."""
    return frozenset(row[0] for row in db.execute("SELECT spec FROM shipped").fetchall())


def ship(db: Database, row: Row) -> None:
    """Appends a row that comes with the program."""
    db.execute("INSERT INTO shipped (spec) VALUES (?)", [add(db, row)])


def add(db: Database, row: Row) -> int:
    """Appends a row; its number, which the store gives."""
    cursor = db.execute(
        "INSERT INTO spec (key, value, unit, conditions, source, at, person) VALUES (?, ?, ?, ?, ?, ?, ?)",
        [row.key, json.dumps(row.value), row.unit, json.dumps(dict(row.conditions)), row.source, row.at, row.person],
    )
    return int(cursor.lastrowid or 0)
