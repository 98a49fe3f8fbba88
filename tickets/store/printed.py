"""What was printed, with which address: kept, so that a reprint of an old paper says the same.

Papers of a run (its set-up sheet, its comparisons) stand under the code of its job; what they say names the run.
"""

from __future__ import annotations

import json
from typing import Any

from sqlite_utils import Database

OF_RUN = ("set-up", "comparison", "customer")
"""Kinds of paper that are of a run: nothing hangs by them, so they are never out of date."""
_TICKET = "kind NOT IN ('set-up', 'comparison', 'customer')"


def add(
    db: Database, kind: str, code: str, address: str, at: str, person: int, says: dict[str, Any], version: int | None
) -> int:
    """Keeps what was printed; its number."""
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
            f"WHERE p.id = (SELECT max(id) FROM printed WHERE code = p.code AND {_TICKET}) AND p.address <> ? "
            "ORDER BY p.id LIMIT ?",
            [address, limit],
        )
    )


def outdated_jobs(db: Database, limit: int = 200) -> list[dict[str, Any]]:
    """Job tickets whose job was changed after they were printed: code, version printed, version now, at."""
    return list(
        db.query(
            "SELECT p.code, p.version AS printed, j.version AS now, p.at, j.title "
            "FROM printed p JOIN jobs j ON j.code = p.code "
            f"WHERE p.kind = 'job' AND p.id = (SELECT max(id) FROM printed WHERE code = p.code AND {_TICKET}) "
            "AND p.version < j.version AND j.closed_at IS NULL ORDER BY p.id LIMIT ?",
            [limit],
        )
    )


def of(db: Database, code: str, papers: bool = False) -> list[dict[str, Any]]:
    """What was printed for a code, newest first, by whom (`who`); `says` as kept. `papers`: those of its runs too."""
    rows = db.query(
        "SELECT p.id, p.kind, p.code, p.address, p.at, p.version, p.says, e.name AS who "
        f"FROM printed p JOIN people e ON e.id = p.person WHERE p.code = ?{'' if papers else ' AND p.' + _TICKET} "
        "ORDER BY p.id DESC",
        [code],
    )
    return [{**row, "says": json.loads(row["says"])} for row in rows]


def of_run(db: Database, code: str, run: int) -> list[dict[str, Any]]:
    """The papers of a run of the job with that code, as `of` gives them."""
    return [row for row in of(db, code, papers=True) if row["kind"] in OF_RUN and row["says"]["run_number"] == run]
