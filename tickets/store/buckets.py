"""Mixed lots with a clock, worked out from their entries."""

from __future__ import annotations

import json
from collections.abc import Iterable

from sqlite_utils import Database

from tickets.domain.bucket import Bucket
from tickets.store import finding
from tickets.store.reads import Question, ahead, known, once

COLUMNS = (
    "id, code, kind, product, lot, water_resistant, mixed_at, good_until, used_at, test, discarded_at, "
    "colour, series, recipe"
)


def add(db: Database, number: int, code: str, kind: str) -> None:
    """A new bucket with the code issued for it; `save` fills it in from its entries."""
    db.execute("INSERT INTO buckets (id, code, kind) VALUES (?, ?, ?)", [number, code, kind])


def save(db: Database, bucket: Bucket) -> None:
    """Writes what was worked out of a bucket's entries."""
    before = db.execute("SELECT lot FROM buckets WHERE id = ?", [bucket.id]).fetchone()[0]
    db.execute(
        "UPDATE buckets SET kind = ?, product = ?, lot = ?, water_resistant = ?, mixed_at = ?, good_until = ?, "
        "used_at = ?, test = ?, discarded_at = ?, colour = ?, series = ?, recipe = ? WHERE id = ?",
        [
            bucket.kind,
            bucket.product,
            bucket.lot,
            bucket.water_resistant,
            bucket.mixed_at,
            bucket.good_until,
            bucket.used_at,
            bucket.test,
            bucket.discarded_at,
            bucket.colour,
            bucket.series,
            bucket.recipe,
            bucket.id,
        ],
    )
    finding.settle(db, bucket=[bucket.id], lot={before, bucket.lot} - {""} if before != bucket.lot else ())


@once
def get(db: Database, number: int) -> Bucket | None:
    """A bucket by number."""
    row = db.execute(f"SELECT {COLUMNS} FROM buckets WHERE id = ?", [number]).fetchone()
    return Bucket(*row) if row else None


def read_ahead(db: Database, numbers: Iterable[int]) -> None:
    """Many buckets, for a page that asks for each."""
    ahead(db, get, numbers, lambda new: _each(db, new))


_EACH = f"SELECT {COLUMNS} FROM buckets WHERE id IN (SELECT value FROM json_each(?))"


def _each(db: Database, numbers: list[int]) -> dict[int, Bucket | None]:
    return {row[0]: Bucket(*row) for row in db.execute(_EACH, [json.dumps(numbers)]).fetchall()}


def asked(db: Database, numbers: list[int]) -> Question:
    """The question for many buckets, to be asked with others."""
    width = len(COLUMNS.split(", "))
    return Question(
        _EACH, [json.dumps(numbers)], width, lambda rows: known(db, get, {row[0]: Bucket(*row) for row in rows})
    )


def behind(db: Database, code: str) -> Bucket | None:
    """The bucket that a code leads to; None where it leads to none."""
    columns = ", ".join(f"b.{name}" for name in COLUMNS.split(", "))
    row = db.execute(
        f"SELECT {columns} FROM codes c JOIN buckets b ON b.id = c.thing WHERE c.code = ? AND c.kind = 'bucket'", [code]
    ).fetchone()
    found = Bucket(*row) if row else None
    if found is not None:
        known(db, get, {found.id: found})
    return found


@once
def open_ones(db: Database, emulsions: bool | None = None, limit: int = 100) -> list[Bucket]:
    """Buckets not discarded, the last one taken into use first."""
    like = {None: "", True: "AND kind LIKE '%emulsion'", False: "AND kind NOT LIKE '%emulsion'"}[emulsions]
    rows = db.execute(
        f"SELECT {COLUMNS} FROM buckets WHERE discarded_at IS NULL {like} "
        "ORDER BY used_at IS NULL, used_at DESC, mixed_at DESC LIMIT ?",
        [limit],
    ).fetchall()
    found = [Bucket(*row) for row in rows]
    known(db, get, {one.id: one for one in found})
    return found


def emulsions_then(db: Database, at: str, limit: int = 20) -> list[Bucket]:
    """The emulsions that were mixed by then and not discarded by then, the newest mix first; the rest of what is said
    of them is of now."""
    rows = db.execute(
        f"SELECT {COLUMNS} FROM buckets WHERE kind LIKE '%emulsion' AND mixed_at <> '' AND mixed_at <= ? "
        "AND (discarded_at IS NULL OR discarded_at > ?) ORDER BY mixed_at DESC LIMIT ?",
        [at, at, limit],
    ).fetchall()
    return [Bucket(*row) for row in rows]


def every(db: Database, after: int = 0, limit: int = 100) -> list[Bucket]:
    """A page of all buckets, newest first; `after`: the last number shown."""
    rows = db.execute(
        f"SELECT {COLUMNS} FROM buckets WHERE (? = 0 OR id < ?) ORDER BY id DESC LIMIT ?", [after, after, limit]
    ).fetchall()
    return [Bucket(*row) for row in rows]
