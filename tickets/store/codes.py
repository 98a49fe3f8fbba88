"""The one table of codes: which code leads to what. A code is never used again."""

from __future__ import annotations

import json
import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from tickets.domain.code import Code, mint
from tickets.store.reads import Question, ahead, known, once

_rng = random.SystemRandom()


@dataclass(frozen=True, slots=True)
class Issued:
    """Where a code leads. `replaced`: the ticket was lost and the thing has a newer code, `current`."""

    code: Code
    kind: str
    thing: int
    replaced: bool
    current: Code


def issue(db: Database, kind: str, thing: int, at: str, rng: random.Random = _rng) -> Code:
    """A new code for a thing (kind: screen, job, bucket, place)."""
    while True:
        code = mint(rng)
        new = "INSERT INTO codes (code, kind, thing, made_at) VALUES (?, ?, ?, ?) ON CONFLICT (code) DO NOTHING"
        if db.execute(new, [code, kind, thing, at]).rowcount:
            return code


def replace(db: Database, kind: str, thing: int, at: str) -> Code:
    """A new code for a thing whose ticket was lost; the old one still leads to it."""
    db.execute("UPDATE codes SET replaced = 1 WHERE kind = ? AND thing = ?", [kind, thing])
    return issue(db, kind, thing, at)


@once
def find(db: Database, code: str) -> Issued | None:
    """What a code leads to; None when it was never issued."""
    row = db.execute("SELECT code, kind, thing, replaced FROM codes WHERE code = ?", [code]).fetchone()
    if row is None:
        return None
    current = row[0]
    if row[3]:
        current = db.execute(
            "SELECT code FROM codes WHERE kind = ? AND thing = ? AND replaced = 0", [row[1], row[2]]
        ).fetchone()[0]
    return Issued(Code(row[0]), row[1], row[2], bool(row[3]), Code(current))


def issued_among(db: Database, codes: Iterable[str]) -> list[Issued]:
    """Those of `codes` that were issued."""
    return [found for code in codes if (found := find(db, code)) is not None]


def current_ahead(db: Database, things: Iterable[tuple[str, int]]) -> None:
    """The codes of many things, each (kind, number), for a page that asks for each."""

    def of(new: list[tuple[str, int]]) -> dict[tuple[str, int], str | None]:
        rows = db.execute(
            "SELECT kind, thing, code FROM codes WHERE replaced = 0 AND (kind, thing) IN "
            "(SELECT json_extract(value, '$[0]'), json_extract(value, '$[1]') FROM json_each(?))",
            [json.dumps(new)],
        ).fetchall()
        return {**dict.fromkeys(new), **{(kind, thing): code for kind, thing, code in rows}}

    ahead(db, current, things, of)


def find_asked(db: Database, asked: Sequence[str]) -> Question:
    """The question for what some codes lead to, to be asked with others."""

    def take(rows: list[Any]) -> None:
        found = {row[0]: Issued(Code(row[0]), row[1], row[2], bool(row[3]), Code(row[4])) for row in rows}
        known(db, find, {one: found.get(one) for one in asked if one})

    now = "SELECT code FROM codes WHERE kind = c.kind AND thing = c.thing AND replaced = 0"
    sql = f"SELECT code, kind, thing, replaced, ({now}) FROM codes c WHERE code IN (SELECT value FROM json_each(?))"
    return Question(sql, [json.dumps(list(asked))], 5, take)


@once
def current(db: Database, kind: str, thing: int) -> str | None:
    """The code of a thing now."""
    row = db.execute("SELECT code FROM codes WHERE kind = ? AND thing = ? AND replaced = 0", [kind, thing]).fetchone()
    return row[0] if row else None
