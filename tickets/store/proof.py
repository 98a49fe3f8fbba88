"""What a shop's file must never lose: proved equal by its digest, and carried over into a new file when pages of it are
damaged."""

from __future__ import annotations

import hashlib
import sqlite3
from pathlib import Path

from sqlite_utils import Database

from tickets.domain.refusal import NotNow
from tickets.i18n import gettext as _
from tickets.store import private
from tickets.store.schema import GUARDED, guard

WORKED_OUT = frozenset({
    "standings", "counts", "carries", "tensions", "washouts", "checks", "exposures", "burnt", "meshes", "stays",
    "stencils", "coats", "coated", "hangings", "upsets", "ink_lots", "cautions", "stations",
    "findable", "findable_words", "findable_terms", "slips",
})  # fmt: skip
"""Tables that hold only what entries and job sheets say, and are made again from them. All others are carried over."""

_MADE_BY_HAND = "name NOT LIKE 'sqlite!_%' ESCAPE '!' AND name NOT LIKE 'findable!_words!_%' ESCAPE '!'"
"""Leaves out the tables that SQLite makes by itself: its own, and those behind the index of words."""

Digest = dict[str, list[object]]
"""Of each guarded table: how many rows, and the SHA-256 of all that they hold in the order in which they were added."""


class Lost(NotNow):
    """Rows that nothing can make again cannot be read."""


def carried(db: Database) -> list[str]:
    """The tables of a file that nothing else can make."""
    rows = db.execute(f"SELECT name FROM sqlite_master WHERE type = 'table' AND {_MADE_BY_HAND} ORDER BY rowid")
    return [row[0] for row in rows.fetchall() if row[0] not in WORKED_OUT]


def digest(db: Database) -> Digest:
    """What the guarded tables hold. Raises Lost where it cannot be read."""
    there = set(carried(db))
    return {table: _digest(db, table) for table in GUARDED if table in there}


def _digest(db: Database, table: str) -> list[object]:
    held, number = hashlib.sha256(), 0
    try:
        for row in db.execute(f"SELECT * FROM {table} NOT INDEXED ORDER BY rowid"):
            held.update(repr(tuple(row)).encode())
            number += 1
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        raise _lost(table, number, error) from None
    return [number, held.hexdigest()]


def _lost(table: str, number: int, error: Exception) -> Lost:
    return Lost(
        _("The rows of “{table}” cannot be read after the first {number} ({error}): restore a backup.").format(
            table=table, number=number, error=error
        )
    )


def whole_log(db: Database) -> bool:
    """True when no entry is missing between the first and the last: their numbers run on, since none is deleted."""
    number, newest = db.execute("SELECT count(*), coalesce(max(id), 0) FROM entries NOT INDEXED").fetchone()
    return bool(number == newest)


def carry_over(old: Database, target: Path) -> None:
    """Makes a new file with the tables of the old one: those that nothing else can make with all their rows, the
    worked-out ones empty. Nothing of the old file is changed.

    Raises Lost: a row cannot be read, an entry is missing, or what was carried over is not the same."""
    try:
        made = _schema(old)
        before = digest(old)
        if not whole_log(old):
            raise Lost(_("Entries are missing from the log: restore a backup."))
    except sqlite3.DatabaseError as error:
        raise Lost(_("The shop file cannot be read ({error}): restore a backup.").format(error=error)) from None
    private.opened(target, "xb").close()
    new = Database(sqlite3.connect(target, isolation_level=None))
    try:
        new.execute("PRAGMA synchronous=FULL")
        new.execute("BEGIN")
        for kind, sql in made:
            if kind == "table":
                new.execute(sql)
        for table in carried(old):
            _carry(old, new, table)
        for kind, sql in made:
            if kind != "table":
                new.execute(sql)
        new.execute(f"PRAGMA user_version={old.execute('PRAGMA user_version').fetchone()[0]}")
        new.conn.commit()
        if digest(new) != before:
            raise Lost(_("What was carried over is not the same: nothing was changed. Restore a backup."))
    finally:
        new.close()


def put_back(db: Database, names: list[str]) -> None:
    """Puts back guards of the log that are missing (`store.guards_missing`)."""
    for name in names:
        table, _no, act = name.rpartition("_no_")
        guard(db, table, act)


def without_secrets(db: Database) -> None:
    """Takes the hashes of PINs and passwords out of a copy, so that no trace of them stays in its pages."""
    _take_out(db, "UPDATE people SET secret = NULL")


def without_sign_ins(db: Database) -> None:
    """Takes the sign-ins, the phones that are known and the counts of wrong tries out of a copy, likewise."""
    _take_out(db, "DELETE FROM sign_ins", "DELETE FROM tries", "DELETE FROM devices")


def _take_out(db: Database, *statements: str) -> None:
    db.execute("PRAGMA secure_delete=ON")
    for statement in statements:
        db.execute(statement)


def _schema(old: Database) -> list[tuple[str, str]]:
    rows = old.execute(f"SELECT type, sql FROM sqlite_master WHERE sql IS NOT NULL AND {_MADE_BY_HAND} ORDER BY rowid")
    return [(row[0], row[1]) for row in rows.fetchall()]


def _carry(old: Database, new: Database, table: str) -> None:
    number = 0
    try:
        rows = old.execute(f"SELECT * FROM {table} NOT INDEXED")
        marks = ", ".join("?" * len(rows.description))
        while some := rows.fetchmany(1000):
            new.conn.executemany(f"INSERT INTO {table} VALUES ({marks})", some)
            number += len(some)
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        raise _lost(table, number, error) from None
