"""The shop's settings: appended, the newest counts."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from sqlite_utils import Database

from tickets.domain.stages import LOGGED_BY_DEFAULT
from tickets.store.reads import Newest, newest, remembered

DEFAULTS: dict[str, Any] = {
    "shop": "",
    "zone": "UTC",
    "language": "en",
    "units": "metric",
    "address": "",
    "steps": list(LOGGED_BY_DEFAULT),
    "demo": False,
    "presets": [
        {"name": "1+1 round edge", "print_side": 1, "squeegee_side": 1},
        {"name": "2+1 round edge", "print_side": 2, "squeegee_side": 1},
        {"name": "2+2 round edge", "print_side": 2, "squeegee_side": 2},
    ],
    "shift_hours": 10,
    "shifts": "6 14 22",
    "backup_hour": 2,
    "backup_days": 14,
    "backup_months": 12,
    "backup_folder": "",
    "backup_second": "",
    "first_manager": "",
    "approve_after_pause": "no",
    "approve_after_ink": "yes",
    "approve_after_garment": "no",
    "emulsion_water_resistant": "unknown",
}


def setting(db: Database, name: str) -> Any:
    """The value of one setting (KeyError: there is no such setting)."""
    return settings(db)[name]


def settings(db: Database, now: Newest | None = None) -> dict[str, Any]:
    """All settings, as they stand; not to be changed in place. `now`: what is newest, where it was asked already."""
    return remembered(db, "settings", (now or newest(db)).setting, lambda: _read(db))


def _read(db: Database) -> dict[str, Any]:
    rows = db.execute("SELECT name, value FROM settings ORDER BY id").fetchall()
    return {**DEFAULTS, **{name: json.loads(value) for name, value in rows}}


def histories(db: Database, names: Iterable[str]) -> dict[str, list[dict[str, Any]]]:
    """What some settings have been: value, at, person's name; the newest first."""
    found: dict[str, list[dict[str, Any]]] = {name: [] for name in names}
    rows = db.query(
        "SELECT s.name, s.value, s.at, p.name AS person FROM settings s JOIN people p ON p.id = s.person "
        "WHERE s.name IN (SELECT value FROM json_each(?)) ORDER BY s.id DESC",
        [json.dumps(list(found))],
    )
    for row in rows:
        found[row.pop("name")].append(row)
    return found


def told(db: Database, name: str) -> list[tuple[str, Any]]:
    """All that a setting was set to, the oldest first: when (as `entry.stamp` writes it), and its value."""
    sql = "SELECT at, value FROM settings WHERE name = ? ORDER BY id"
    return remembered(
        db,
        f"all that was told of {name}",
        newest(db).setting,
        lambda: [(at, json.loads(value)) for at, value in db.execute(sql, [name]).fetchall()],
    )


def save_setting(db: Database, name: str, value: Any, at: str, person: int) -> None:
    """Appends a setting (KeyError: there is no such setting)."""
    DEFAULTS[name]
    db.execute(
        "INSERT INTO settings (name, value, at, person) VALUES (?, ?, ?, ?)", [name, json.dumps(value), at, person]
    )
