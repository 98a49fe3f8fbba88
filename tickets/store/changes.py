"""Who changed people, places, exposure units, read tokens, and of jobs what no version of their sheet says, and when:
appended, never changed, guarded as the log is.

Every act that changes one of them notes it here: pages say who did it and when."""

from __future__ import annotations

from dataclasses import dataclass

from sqlite_utils import Database


@dataclass(frozen=True, slots=True)
class Change:
    """One change of a thing: `what` (added, name, role, ...), what it was and became, when, and who did it (a name)."""

    number: int
    what: str
    was: str
    becomes: str
    at: str
    person: str


def note(
    db: Database, thing: str, number: int, what: str, at: str, person: int, *, was: str = "", becomes: str = ""
) -> None:
    """Appends a change of a thing (`thing`: person, place, exposure unit, job, token) by its number."""
    db.execute(
        "INSERT INTO changes (thing, number, what, was, becomes, at, person) VALUES (?, ?, ?, ?, ?, ?, ?)",
        [thing, number, what, was, becomes, at, person],
    )


def of(db: Database, thing: str, number: int | None = None) -> list[Change]:
    """The changes of one thing, or of all of a kind; the newest first."""
    where, values = ("AND c.number = ?", [thing, number]) if number is not None else ("", [thing])
    rows = db.execute(
        "SELECT c.number, c.what, c.was, c.becomes, c.at, p.name FROM changes c JOIN people p ON p.id = c.person "
        f"WHERE c.thing = ? {where} ORDER BY c.id DESC",
        values,
    ).fetchall()
    return [Change(*row) for row in rows]
