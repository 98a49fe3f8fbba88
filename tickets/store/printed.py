"""What was printed on tickets, with which address: kept, so that a reprint of an old ticket says the same."""

from __future__ import annotations

import json
from typing import Any

from sqlite_utils import Database


def add(
    db: Database, kind: str, code: str, address: str, at: str, person: int, says: dict[str, Any], version: int | None
) -> int:
    """Keeps a printed ticket; its number."""
    cursor = db.execute(
        "INSERT INTO printed (kind, code, address, at, person, version, says) VALUES (?, ?, ?, ?, ?, ?, ?)",
        [kind, code, address, at, person, version, json.dumps(says, ensure_ascii=False)],
    )
    return int(cursor.lastrowid or 0)


def left_behind(db: Database, address: str, limit: int = 200) -> list[dict[str, Any]]:
    """The newest ticket of each code when it carries another address than `address`: kind, code, address, at."""
    return list(
        db.query(
            "SELECT p.kind, p.code, p.address, p.at FROM printed p JOIN codes c ON c.code = p.code AND c.replaced = 0 "
            "WHERE p.id = (SELECT max(id) FROM printed WHERE code = p.code) AND p.address <> ? ORDER BY p.id LIMIT ?",
            [address, limit],
        )
    )


def outdated_jobs(db: Database, limit: int = 200) -> list[dict[str, Any]]:
    """Job tickets whose job was changed after they were printed: code, version printed, version now, at."""
    return list(
        db.query(
            "SELECT p.code, p.version AS printed, j.version AS now, p.at, j.title "
            "FROM printed p JOIN jobs j ON j.code = p.code "
            "WHERE p.kind = 'job' AND p.id = (SELECT max(id) FROM printed WHERE code = p.code) "
            "AND p.version < j.version AND j.closed_at IS NULL ORDER BY p.id LIMIT ?",
            [limit],
        )
    )


def of(db: Database, code: str) -> list[dict[str, Any]]:
    """What was printed for a code, newest first; `says` as kept."""
    rows = db.query(
        "SELECT id, kind, code, address, at, version, says FROM printed WHERE code = ? ORDER BY id DESC", [code]
    )
    return [{**row, "says": json.loads(row["says"])} for row in rows]
