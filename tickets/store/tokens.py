"""Tokens of a wall, a calendar, a program. Of a token only its digest is kept."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from tickets.calculator.numerals import counted


@dataclass(frozen=True, slots=True)
class ReadToken:
    """A token: what it opens (`scope`), what the manager called it, whether it shows customers' names; when and by whom
    it was made; since when it opens nothing (None: it does); of an interface which parts of the shop, and the number of
    the built-in person by whose name it logs (None: it only reads)."""

    id: int
    scope: str
    name: str
    customers: bool
    made_at: str
    person: str
    withdrawn_at: str | None
    parts: tuple[str, ...] = ()
    acts_as: int | None = None


_SELECT = (
    "SELECT t.id, t.scope, t.name, t.customers, t.made_at, p.name, t.withdrawn_at, t.parts "
    "FROM read_tokens t JOIN people p ON p.id = t.person "
)


_AS = "as:"
"""Among the parts that are kept of a token: by whose name it logs."""


def _token(row: Any) -> ReadToken:
    number, scope, name, customers, made_at, person, withdrawn_at, parts = row
    said = parts.split()
    acts_as = next((counted(one.removeprefix(_AS)) for one in said if one.startswith(_AS)), None)
    own = tuple(one for one in said if not one.startswith(_AS))
    return ReadToken(number, scope, name, bool(customers), made_at, person, withdrawn_at, own, acts_as)


def add(
    db: Database,
    digest: str,
    scope: str,
    name: str,
    customers: bool,
    at: str,
    person: int,
    parts: Iterable[str] = (),
    acts_as: int | None = None,
) -> int:
    """A new token by its digest; its number."""
    kept = " ".join([*parts, *([f"{_AS}{acts_as}"] if acts_as is not None else [])])
    cursor = db.execute(
        "INSERT INTO read_tokens (digest, scope, name, customers, made_at, person, parts) VALUES (?, ?, ?, ?, ?, ?, ?)",
        [digest, scope, name, int(customers), at, person, kept],
    )
    return int(cursor.lastrowid or 0)


def by_digest(db: Database, digest: str) -> ReadToken | None:
    """The token with this digest, withdrawn or not."""
    row = db.execute(f"{_SELECT} WHERE t.digest = ?", [digest]).fetchone()
    return _token(row) if row else None


def get(db: Database, number: int) -> ReadToken | None:
    """A token by number."""
    row = db.execute(f"{_SELECT} WHERE t.id = ?", [number]).fetchone()
    return _token(row) if row else None


def every(db: Database) -> list[ReadToken]:
    """All tokens, the newest first."""
    return [_token(row) for row in db.execute(f"{_SELECT} ORDER BY t.id DESC").fetchall()]


def withdraw(db: Database, number: int, at: str) -> None:
    """From then on it opens nothing."""
    db.execute("UPDATE read_tokens SET withdrawn_at = ? WHERE id = ? AND withdrawn_at IS NULL", [at, number])
