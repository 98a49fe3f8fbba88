"""Tokens in addresses that only read: a wall, a calendar. Of a token only its digest is kept."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database


@dataclass(frozen=True, slots=True)
class ReadToken:
    """A token: what it opens (`scope`), what the manager called it, whether it shows customers' names; when and by whom
    it was made; since when it opens nothing (None: it does); of an interface which parts of the shop."""

    id: int
    scope: str
    name: str
    customers: bool
    made_at: str
    person: str
    withdrawn_at: str | None
    parts: tuple[str, ...] = ()


_SELECT = (
    "SELECT t.id, t.scope, t.name, t.customers, t.made_at, p.name, t.withdrawn_at, t.parts "
    "FROM read_tokens t JOIN people p ON p.id = t.person "
)


def _token(row: Any) -> ReadToken:
    number, scope, name, customers, made_at, person, withdrawn_at, parts = row
    return ReadToken(number, scope, name, bool(customers), made_at, person, withdrawn_at, tuple(parts.split()))


def add(
    db: Database, digest: str, scope: str, name: str, customers: bool, at: str, person: int, parts: Iterable[str] = ()
) -> int:
    """A new token by its digest; its number."""
    cursor = db.execute(
        "INSERT INTO read_tokens (digest, scope, name, customers, made_at, person, parts) VALUES (?, ?, ?, ?, ?, ?, ?)",
        [digest, scope, name, int(customers), at, person, " ".join(parts)],
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
