"""Places (racks, carts, cabinets, presses) and exposure units."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from tickets.store import while_log_stays
from tickets.store.people import name_key

KINDS = ("rack", "cart", "cabinet", "press")
LAMPS = ("point", "fluorescent", "led")


@dataclass(frozen=True, slots=True)
class Place:
    """Where screens are; `outside`: not in the shop (a screen racked there reads `away`); `heads` of a press."""

    id: int
    code: str
    name: str
    kind: str
    outside: bool
    heads: int | None


_COLUMNS = "id, code, name, kind, outside, heads"


def _place(row: tuple[int, str, str, str, int, int | None]) -> Place:
    return Place(row[0], row[1], row[2], row[3], bool(row[4]), row[5])


def add(db: Database, number: int, code: str, name: str, kind: str, outside: bool, heads: int | None, at: str) -> None:
    """A new place with the code issued for it."""
    db.execute(
        "INSERT INTO places (id, code, name, key, kind, outside, heads, made_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        [number, code, " ".join(name.split()), name_key(name), kind, int(outside), heads, at],
    )


def get(db: Database, number: int) -> Place | None:
    """A place by number."""
    row = db.execute(f"SELECT {_COLUMNS} FROM places WHERE id = ?", [number]).fetchone()
    return _place(row) if row else None


def find(db: Database, name: str) -> Place | None:
    """A place by name."""
    row = db.execute(f"SELECT {_COLUMNS} FROM places WHERE key = ?", [name_key(name)]).fetchone()
    return _place(row) if row else None


def every(db: Database, kind: str = "") -> list[Place]:
    """All places, or those of one kind."""
    where, values = ("WHERE kind = ?", [kind]) if kind else ("", [])
    return [
        _place(row)
        for row in db.execute(f"SELECT {_COLUMNS} FROM places {where} ORDER BY kind, key", values).fetchall()
    ]


def names(db: Database) -> dict[int, str]:
    """Names by number."""
    return dict(db.execute("SELECT id, name FROM places").fetchall())


def outside(db: Database) -> frozenset[int]:
    """The places outside the shop."""
    return frozenset(row[0] for row in db.execute("SELECT id FROM places WHERE outside = 1").fetchall())


@dataclass(frozen=True, slots=True)
class ExposureUnit:
    """An exposure unit and its lamp: point (one lamp at a distance), fluorescent, led."""

    id: int
    name: str
    lamp: str


def add_unit(db: Database, name: str, lamp: str, at: str) -> int:
    """A new exposure unit; its number."""
    cursor = db.execute(
        "INSERT INTO exposure_units (name, key, lamp, made_at) VALUES (?, ?, ?, ?)",
        [" ".join(name.split()), name_key(name), lamp, at],
    )
    return int(cursor.lastrowid or 0)


def units(db: Database) -> list[ExposureUnit]:
    """All exposure units."""
    return [
        ExposureUnit(*row) for row in db.execute("SELECT id, name, lamp FROM exposure_units ORDER BY key").fetchall()
    ]


def find_unit(db: Database, name: str) -> ExposureUnit | None:
    """An exposure unit by name."""
    row = db.execute("SELECT id, name, lamp FROM exposure_units WHERE key = ?", [name_key(name)]).fetchone()
    return ExposureUnit(*row) if row else None


# Lamps ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LampChange:
    """A new lamp in an exposure unit: when it was put in, and the number of the person who noted it."""

    id: int
    at: str
    person: int


def add_lamp_change(db: Database, unit: int, at: str, saved_at: str, person: int, withdraws: int | None = None) -> int:
    """Notes a new lamp, or takes such a note back (`withdraws`: its number)."""
    cursor = db.execute(
        "INSERT INTO lamp_changes (exposure_unit, at, saved_at, person, withdraws) VALUES (?, ?, ?, ?, ?)",
        [unit, at, saved_at, person, withdraws],
    )
    return int(cursor.lastrowid or 0)


def lamp_changes(db: Database, unit: int) -> list[LampChange]:
    """The lamps that an exposure unit got, oldest first, without the notes that were taken back."""
    rows = db.execute(
        "SELECT id, at, person FROM lamp_changes WHERE exposure_unit = ? AND withdraws IS NULL AND id NOT IN "
        "(SELECT withdraws FROM lamp_changes WHERE exposure_unit = ? AND withdraws IS NOT NULL) ORDER BY at, id",
        [unit, unit],
    ).fetchall()
    return [LampChange(*row) for row in rows]


def room_reading(db: Database, since: str) -> dict[str, Any]:
    """How warm and damp the room was by the last coat since then that noted it: `room_c`, `room_rh_pct`, or neither."""
    return while_log_stays(db, "room reading", since, lambda: _room_reading(db, since))


def _room_reading(db: Database, since: str) -> dict[str, Any]:
    row = db.execute(
        "SELECT e.vals FROM entries e WHERE e.at >= ? AND e.step = 'coat' AND (json_extract(e.vals, '$.room_c') "
        "IS NOT NULL OR json_extract(e.vals, '$.room_rh_pct') IS NOT NULL) "
        "AND NOT EXISTS (SELECT 1 FROM entries c WHERE c.crosses = e.entry) ORDER BY e.at DESC, e.id DESC LIMIT 1",
        [since],
    ).fetchone()
    values = json.loads(row[0]) if row else {}
    return {name: values[name] for name in ("room_c", "room_rh_pct") if name in values}
