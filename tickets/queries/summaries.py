"""How much a shop holds, and the log of one thing."""

from __future__ import annotations

from typing import Any

from sqlite_utils import Database

from tickets.domain.entry import Entry
from tickets.domain.spec import Spec
from tickets.store import entries
from tickets.store import spec as spec_rows
from tickets.store.settings import settings


def summary(db: Database) -> dict[str, Any]:
    """A few figures for the more curious: screens, entries, jobs."""
    return {"entries": entries.count(db), "settings": settings(db), "spec_rows": len(Spec(spec_rows.rows(db)).rows)}


def log_of(db: Database, thing: str, number: int) -> list[tuple[Entry, Entry | None]]:
    """The entries of a thing, newest first, each with the entry that crossed it out."""
    lines = entries.of(db, thing, number)
    crossed = entries.crossed_by(db, [line.entry for line in lines])
    return [(line, crossed.get(line.entry)) for line in reversed(lines)]
