"""What was printed, with which address: kept, so that a reprint of an old paper says the same.

Papers of a run (its set-up sheet, its comparisons) stand under the code of its job; what they say names the run.
"""

from __future__ import annotations

import json
from typing import Any

from sqlite_utils import Database

from tickets.store.reads import together

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


_BEHIND = (
    "SELECT p.kind, p.code, p.address, p.at, NULL AS printed, NULL AS now, NULL AS title FROM printed p "
    "JOIN codes c ON c.code = p.code AND c.replaced = 0 "
    f"WHERE p.id = (SELECT max(id) FROM printed WHERE code = p.code AND {_TICKET}) AND p.address <> ? "
    "ORDER BY p.id LIMIT ?"
)
_OUTDATED = (
    "SELECT NULL, p.code, NULL, p.at, p.version AS printed, j.version AS now, j.title "
    "FROM printed p JOIN jobs j ON j.code = p.code "
    f"WHERE p.kind = 'job' AND p.id = (SELECT max(id) FROM printed WHERE code = p.code AND {_TICKET}) "
    "AND p.version < j.version AND j.closed_at IS NULL ORDER BY p.id LIMIT ?"
)


def out_of_date(db: Database, address: str, limit: int = 200) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Paper to print anew, as one question: the newest ticket of each code when it carries another address than
    `address` (kind, code, address, at; none where that is empty); job tickets whose job was changed after they were
    printed (code, version printed, version now, at, title)."""
    behind, values = ([_BEHIND], [address, limit]) if address else ([], [])
    rows = db.execute(together([*behind, _OUTDATED]), [*values, limit]).fetchall()
    old = [dict(zip(("kind", "code", "address", "at"), row[:4], strict=True)) for row in rows if row[0] is not None]
    names = ("code", "printed", "now", "at", "title")
    jobs = [dict(zip(names, (row[1], *row[4:6], row[3], row[6]), strict=True)) for row in rows if row[0] is None]
    return old, jobs


def left_behind(db: Database, address: str, limit: int = 200) -> list[dict[str, Any]]:
    """The first of `out_of_date`."""
    return out_of_date(db, address, limit)[0]


def outdated_jobs(db: Database, limit: int = 200) -> list[dict[str, Any]]:
    """The second of `out_of_date`."""
    return out_of_date(db, "", limit)[1]


_IN_USE = (
    "SELECT 1 AS sort, c.code AS code, c.thing AS thing FROM codes c JOIN standings w ON w.screen = c.thing "
    "WHERE c.kind = 'screen' AND c.replaced = 0 AND w.standing <> 'retired'",
    "SELECT 2, c.code, c.thing FROM codes c JOIN places p ON p.id = c.thing "
    "WHERE c.kind = 'place' AND c.replaced = 0 AND p.retired_at IS NULL",
    "SELECT 3, c.code, c.thing FROM codes c JOIN buckets b ON b.id = c.thing "
    "WHERE c.kind = 'bucket' AND c.replaced = 0 AND b.discarded_at IS NULL",
)
"""The codes of screens, places and buckets that are in use."""


def tags_in_use(
    db: Database,
    *,
    place: int | None = None,
    counts: tuple[float, float] | None = None,
    left_by: str = "",
) -> list[str]:
    """The codes of all that is in use and carries a tag: screens, then places, then buckets. `place`, `counts` (per cm,
    from and to): only screens that are there, or have such a mesh. `left_by`: only those whose last tag carries another
    address than this one."""
    parts, values = list(_IN_USE), list[Any]()
    if place is not None or counts is not None:
        parts = parts[:1]
    if place is not None:
        parts[0] += " AND w.place = ?"
        values.append(place)
    if counts is not None:
        parts[0] += " AND w.count_per_cm BETWEEN ? AND ?"
        values += counts
    asked = " UNION ALL ".join(parts)
    if left_by:
        asked = (
            f"SELECT u.* FROM ({asked}) u JOIN printed l ON l.id = (SELECT max(id) FROM printed WHERE code = u.code "
            f"AND {_TICKET}) WHERE l.address <> ?"
        )
        values.append(left_by)
    return [code for (code,) in db.execute(f"SELECT code FROM ({asked}) ORDER BY sort, thing", values).fetchall()]


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
