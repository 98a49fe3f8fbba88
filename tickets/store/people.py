"""People, sign-ins and wrong tries."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from tickets.store import finding
from tickets.store.reads import NEWEST, Newest, once, told

COMMAND_LINE = "command line"


@dataclass(frozen=True, slots=True)
class Person:
    """One person: `role` is one of `person.ROLES`, or built-in for the command line, who cannot sign in. `language` and
    `units`: what they chose to read in (None: nothing)."""

    id: int
    name: str
    role: str
    secret: str | None
    left_at: str | None
    language: str | None = None
    units: str | None = None


def name_key(name: str) -> str:
    """A name as it is compared: trimmed, single spaces, without case."""
    return " ".join(name.split()).casefold()


def _person(row: tuple[Any, ...] | None) -> Person | None:
    return Person(*row) if row else None


_COLUMNS = "id, name, role, secret, left_at, language, units"


@once
def get(db: Database, number: int) -> Person | None:
    """A person by number."""
    return _person(db.execute(f"SELECT {_COLUMNS} FROM people WHERE id = ?", [number]).fetchone())


def find(db: Database, name: str) -> Person | None:
    """A person by name."""
    return _person(db.execute(f"SELECT {_COLUMNS} FROM people WHERE key = ?", [name_key(name)]).fetchone())


@once
def _all(db: Database) -> list[Person]:
    rows = db.execute(f"SELECT {_COLUMNS} FROM people ORDER BY key").fetchall()
    return [Person(*row) for row in rows]


def every(db: Database) -> list[Person]:
    """All people who are here, without the built-in one."""
    return [one for one in _all(db) if one.role != "built-in" and one.left_at is None]


def gone(db: Database) -> list[Person]:
    """All who left the shop."""
    return [one for one in _all(db) if one.left_at is not None]


def names(db: Database) -> dict[int, str]:
    """Every name by number, those who left too: the log still names them."""
    return {one.id: one.name for one in _all(db)}


def add(db: Database, name: str, role: str, secret: str | None, at: str) -> int:
    """A new person; the number."""
    cursor = db.execute(
        "INSERT INTO people (name, key, role, secret, made_at) VALUES (?, ?, ?, ?, ?)",
        [" ".join(name.split()), name_key(name), role, secret, at],
    )
    number = int(cursor.lastrowid or 0)
    finding.settle(db, person=[number])
    return number


def change(db: Database, number: int, role: str, secret: str | None, left_at: str | None) -> None:
    """A person's role, secret and leaving."""
    db.execute("UPDATE people SET role = ?, secret = ?, left_at = ? WHERE id = ?", [role, secret, left_at, number])


def reads_in(db: Database, number: int, language: str | None, units: str | None) -> None:
    """In which language and units a person reads from here on (None: as the phone and the shop have it)."""
    db.execute("UPDATE people SET language = ?, units = ? WHERE id = ?", [language, units, number])


@once
def alone(db: Database, number: int) -> bool:
    """True when nobody but this person works here and can sign in."""
    row = db.execute(
        "SELECT 1 FROM people WHERE id <> ? AND left_at IS NULL AND secret IS NOT NULL LIMIT 1", [number]
    ).fetchone()
    return row is None


def any_manager(db: Database) -> bool:
    """True when somebody manages the shop."""
    row = db.execute("SELECT 1 FROM people WHERE role = 'manager' AND left_at IS NULL LIMIT 1").fetchone()
    return row is not None


@dataclass(frozen=True, slots=True)
class SignIn:
    """A phone's sign-in: who holds it, how they signed, who gave their PIN on it this shift (`shift`: number -> time),
    what the phone is doing, and its view (day or safelight)."""

    token: str
    person: int | None
    signed: str
    at: str
    secret_at: str | None
    seen_at: str
    shift: dict[str, str]
    doing: dict[str, Any]
    view: str


_SIGN_IN = "token, person, signed, at, secret_at, seen_at, shift, doing, view"


def sign_in(db: Database, token: str) -> SignIn | None:
    """The sign-in of a (hashed) token."""
    row = db.execute(f"SELECT {_SIGN_IN} FROM sign_ins WHERE token = ?", [token]).fetchone()
    return _sign_in(row) if row else None


def _sign_in(row: tuple[Any, ...]) -> SignIn:
    token, person, signed, at, secret_at, seen_at, shift, doing, view = row
    return SignIn(token, person, signed, at, secret_at, seen_at, json.loads(shift), json.loads(doing), view)


def at_task(db: Database, task: str) -> list[SignIn]:
    """The phones that have a task in hand."""
    rows = db.execute(f"SELECT {_SIGN_IN} FROM sign_ins WHERE json_extract(doing, '$.task') = ?", [task]).fetchall()
    return [_sign_in(row) for row in rows]


Held = tuple[SignIn, Person]
"""A sign-in, and the person who holds the phone by it."""


def begin(db: Database, token: str) -> tuple[Newest, Held | None]:
    """What every page asks first: what is newest, and the holder of a (hashed) token (None: it is nobody's)."""
    row = db.execute(
        f"SELECT {NEWEST}, s.token, s.person, s.signed, s.at, s.secret_at, s.seen_at, s.shift, s.doing, s.view, "
        "p.id, p.name, p.role, p.secret, p.left_at, p.language, p.units "
        "FROM (SELECT 1) LEFT JOIN sign_ins s ON s.token = ? LEFT JOIN people p ON p.id = s.person",
        [token],
    ).fetchone()
    newest = Newest(*row[:4])
    told(db, newest)
    return newest, (_sign_in(row[4:13]), Person(*row[13:])) if row[13] is not None else None


def holder(db: Database, token: str) -> Held | None:
    """The sign-in of a (hashed) token, with the person who holds the phone by it."""
    return begin(db, token)[1]


def save_sign_in(db: Database, sign_in: SignIn) -> None:
    """Writes a sign-in."""
    db.execute(
        f"INSERT INTO sign_ins ({_SIGN_IN}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (token) DO UPDATE SET "
        "person = excluded.person, signed = excluded.signed, secret_at = excluded.secret_at, "
        "seen_at = excluded.seen_at, shift = excluded.shift, doing = excluded.doing, view = excluded.view",
        [
            sign_in.token,
            sign_in.person,
            sign_in.signed,
            sign_in.at,
            sign_in.secret_at,
            sign_in.seen_at,
            json.dumps(sign_in.shift),
            json.dumps(sign_in.doing),
            sign_in.view,
        ],
    )


def save_doing(db: Database, token: str, doing: dict[str, Any]) -> None:
    """What the phone of a (hashed) token does from now on."""
    db.execute("UPDATE sign_ins SET doing = ? WHERE token = ?", [json.dumps(doing), token])


def end_sign_in(db: Database, token: str) -> None:
    """Ends one sign-in."""
    db.execute("DELETE FROM sign_ins WHERE token = ?", [token])


def end_sign_ins_of(db: Database, person: int) -> None:
    """Ends all sign-ins of a person: they left, or their secret changed."""
    db.execute("DELETE FROM sign_ins WHERE person = ?", [person])


def end_old_sign_ins(db: Database, before: str) -> None:
    """Ends the sign-ins not seen since `before`."""
    db.execute("DELETE FROM sign_ins WHERE seen_at < ?", [before])


def tries(db: Database, key: str) -> tuple[int, str]:
    """Wrong tries in a row by a key (a person, and where they came from), and when the last one was."""
    row = db.execute("SELECT failures, at FROM tries WHERE key = ?", [key]).fetchone()
    return (row[0], row[1]) if row else (0, "")


def save_tries(db: Database, key: str, failures: int, at: str) -> None:
    """Notes the wrong tries by a key; none clears them."""
    if failures == 0:
        db.execute("DELETE FROM tries WHERE key = ?", [key])
        return
    db.execute(
        "INSERT INTO tries (key, failures, at) VALUES (?, ?, ?) "
        "ON CONFLICT (key) DO UPDATE SET failures = excluded.failures, at = excluded.at",
        [key, failures, at],
    )


def clear_tries_of(db: Database, person: int) -> None:
    """Clears the wrong tries in a row of a person, wherever they came from."""
    db.execute("DELETE FROM tries WHERE key LIKE ? || ' %'", [person])


def forget_tries(db: Database, before: str) -> None:
    """Drops counts whose last try is older: they make nobody wait any more."""
    db.execute("DELETE FROM tries WHERE at < ?", [before])


MOST_SOURCES = 50
"""So many places are told apart for one person in one day; the rest is counted as one."""
ELSEWHERE = "*"


@dataclass(frozen=True, slots=True)
class WrongSecrets:
    """Wrong secrets that came from one place on one day; `source`: an address, empty: a phone known for this person."""

    day: str
    person: int
    source: str
    many: int
    at: str


def note_wrong(db: Database, day: str, person: int, source: str, at: str, keep_from: str) -> None:
    """Counts a wrong secret of a day; days before `keep_from` are dropped."""
    there = "SELECT 1 FROM wrong_tries WHERE day = ? AND person = ?"
    if not db.execute(f"{there} AND source = ?", [day, person, source]).fetchone():
        db.execute("DELETE FROM wrong_tries WHERE day < ?", [keep_from])
        if len(db.execute(there, [day, person]).fetchall()) >= MOST_SOURCES:
            source = ELSEWHERE
    db.execute(
        "INSERT INTO wrong_tries (day, person, source, many, at) VALUES (?, ?, ?, 1, ?) "
        "ON CONFLICT (day, person, source) DO UPDATE SET many = many + 1, at = excluded.at",
        [day, person, source, at],
    )


def wrong(db: Database, since: str) -> list[WrongSecrets]:
    """The wrong secrets since a day, the newest day first, in a day the most first."""
    rows = db.execute(
        "SELECT day, person, source, many, at FROM wrong_tries WHERE day >= ? ORDER BY day DESC, many DESC, source",
        [since],
    ).fetchall()
    return [WrongSecrets(*row) for row in rows]


def guessed(db: Database, since: str, least: int) -> list[tuple[str, str, int]]:
    """For whom at least so many wrong secrets were tried in one day since then: day, name, how many."""
    rows = db.execute(
        "SELECT w.day, p.name, sum(w.many) AS tried FROM wrong_tries w JOIN people p ON p.id = w.person "
        "WHERE w.day >= ? GROUP BY w.day, w.person HAVING tried >= ? ORDER BY w.day DESC, tried DESC LIMIT 5",
        [since, least],
    ).fetchall()
    return [(day, name, many) for day, name, many in rows]


def knows(db: Database, device: str, person: int) -> bool:
    """True when this person signed in before on the phone of a (hashed) device token."""
    return bool(db.execute("SELECT 1 FROM devices WHERE device = ? AND person = ?", [device, person]).fetchone())


def save_device(db: Database, device: str, person: int, at: str, keep_from: str) -> None:
    """A person signed in on a phone; phones on which nobody did since `keep_from` are forgotten."""
    db.execute("DELETE FROM devices WHERE at < ?", [keep_from])
    db.execute("INSERT OR REPLACE INTO devices (device, person, at) VALUES (?, ?, ?)", [device, person, at])


def forget_devices_of(db: Database, person: int) -> None:
    """No phone is known for this person any more."""
    db.execute("DELETE FROM devices WHERE person = ?", [person])
