"""The shop's settings: appended, the newest counts."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from sqlite_utils import Database

from tickets.domain.desk.shop_settings import SETTINGS
from tickets.store.reads import Newest, newest, remembered


def setting(db: Database, name: str) -> Any:
    """The value of one setting (KeyError: there is no such setting)."""
    return settings(db)[name]


def settings(db: Database, now: Newest | None = None) -> dict[str, Any]:
    """All settings, as they are; not to be changed in place. `now`: what is newest, where it was asked already."""
    return remembered(db, "settings", (now or newest(db)).setting, lambda: _read(db))


def _read(db: Database) -> dict[str, Any]:
    rows = db.execute("SELECT name, value FROM settings ORDER BY id").fetchall()
    shipped = {name: one.default for name, one in SETTINGS.items()}
    return {**shipped, **{name: json.loads(value) for name, value in rows}}


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
    SETTINGS[name]
    db.execute(
        "INSERT INTO settings (name, value, at, person) VALUES (?, ?, ?, ?)", [name, json.dumps(value), at, person]
    )
