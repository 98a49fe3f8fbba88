"""Lists of a shop's own that are brought in: what was sent, what its columns were taken for, which line made what."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from sqlite_utils import Database

from tickets.domain.lists.cells import Line
from tickets.domain.lists.columns import Chosen, Sheet


class NewList(NamedTuple):
    """A list as it comes: its kind, the file's name and sheets (a line each, the one that was read first), who sent it
    and when, its lines, what its columns are taken for, and a mark of all that it says."""

    kind: str
    name: str
    sheet_name: str
    person: int
    at: str
    sheet: Sheet
    columns: tuple[Chosen, ...]
    digest: str


@dataclass(frozen=True, slots=True)
class KeptList:
    """A list as it was sent: its kind, the file's name and sheet, who sent it and when; its columns as chosen;
    `make_places`: places that it names and that are not there are made; `measured`: the day of readings that have none
    of their own (empty: that of the sending). Once it was brought in (`taken_at`, by `taker`): how many it `made`, and
    the lines that it did not are its lines. `others`: sheets of its file that were not read."""

    id: int
    kind: str
    name: str
    sheet_name: str
    person: int
    at: str
    sheet: Sheet
    columns: tuple[Chosen, ...]
    make_places: bool
    measured: str
    token: str
    digest: str
    taken_at: str | None
    taker: int | None
    made: int
    others: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ListLine:
    """A list in a line: what it is, who sent and who brought it in and when, how many it made and left out."""

    id: int
    kind: str
    name: str
    at: str
    person: str
    taken_at: str | None
    made: int
    left: int


_OWN = (
    "id, kind, name, sheet, person, at, heads, lines, columns, make_places, measured, token, digest, taken_at, "
    "taker, made"
)


def _kept(row: Sequence[Any]) -> KeptList:
    number, kind, name, sheet, person, at, heads, lines, columns, make_places, *rest = row
    read = tuple(Line(line, tuple(cells)) for line, cells in json.loads(lines))
    chosen = tuple(Chosen(*one) for one in json.loads(columns))
    whole = Sheet(tuple(json.loads(heads)), read)
    own, *others = sheet.split("\n")
    kept = KeptList(number, kind, name, own, person, at, whole, chosen, bool(make_places), *rest)
    return replace(kept, others=tuple(others))


def add(db: Database, new: NewList, token: str) -> int:
    """Keeps a list that was sent; its number. `token`: what the ids of what it makes begin with."""
    cursor = db.execute(
        "INSERT INTO lists (kind, name, sheet, person, at, heads, lines, columns, make_places, measured, token, "
        "digest) VALUES (?, ?, ?, ?, ?, ?, ?, ?, 0, '', ?, ?)",
        [
            *new[:5],
            json.dumps(new.sheet.heads, ensure_ascii=False),
            _lines_text(new.sheet.lines),
            json.dumps(new.columns),
            token,
            new.digest,
        ],
    )
    return int(cursor.lastrowid or 0)


def _lines_text(lines: Iterable[Line]) -> str:
    return json.dumps(list(lines), ensure_ascii=False)


def get(db: Database, number: int) -> KeptList | None:
    """A list by its number."""
    row = db.execute(f"SELECT {_OWN} FROM lists WHERE id = ?", [number]).fetchone()
    return _kept(row) if row else None


def by_token(db: Database, token: str) -> KeptList | None:
    """The list whose ids begin so."""
    row = db.execute(f"SELECT {_OWN} FROM lists WHERE token = ?", [token]).fetchone()
    return _kept(row) if row else None


def choose(db: Database, number: int, columns: Sequence[Chosen], make_places: bool, measured: str) -> None:
    """What its columns are, from now on."""
    db.execute(
        "UPDATE lists SET columns = ?, make_places = ?, measured = ? WHERE id = ?",
        [json.dumps(columns), int(make_places), measured, number],
    )


def taken(db: Database, number: int, person: int, at: str, made: int, left: Iterable[Line]) -> None:
    """Notes that a list was brought in; of its lines are kept those that made nothing."""
    db.execute(
        "UPDATE lists SET taken_at = ?, taker = ?, made = ?, lines = ? WHERE id = ?",
        [at, person, made, _lines_text(left), number],
    )


def made_by(db: Database, number: int) -> dict[int, int]:
    """What a list made, by the number of the line."""
    return dict(db.execute("SELECT line, thing FROM list_things WHERE list = ? ORDER BY line", [number]).fetchall())


def note_made(db: Database, number: int, made: Iterable[tuple[int, int]]) -> None:
    """Notes which line of a list made which thing."""
    rows = [[number, line, thing] for line, thing in made]
    db.conn.executemany("INSERT INTO list_things (list, line, thing) VALUES (?, ?, ?)", rows)


def codes_of(db: Database, number: int, limit: int = 10**6, after: int = 0) -> list[str]:
    """The codes of the screens, or places, that a list made, in the order of its lines, from the one behind so many."""
    rows = db.execute(
        "SELECT c.code FROM list_things t JOIN lists l ON l.id = t.list JOIN codes c ON c.thing = t.thing "
        "AND c.kind = CASE l.kind WHEN 'frames' THEN 'screen' ELSE 'place' END AND c.replaced = 0 "
        "WHERE t.list = ? AND l.kind IN ('frames', 'places') ORDER BY t.line LIMIT ? OFFSET ?",
        [number, limit, after],
    ).fetchall()
    return [row[0] for row in rows]


def same_file(db: Database, kind: str, digest: str) -> KeptList | None:
    """The last list that was brought in from the very same file."""
    row = db.execute(
        f"SELECT {_OWN} FROM lists WHERE kind = ? AND digest = ? AND (taken_at IS NOT NULL OR id IN "
        "(SELECT list FROM list_things)) ORDER BY id DESC LIMIT 1",
        [kind, digest],
    ).fetchone()
    return _kept(row) if row else None


def waiting(db: Database, kind: str, digest: str, person: int, *, begun: bool = False) -> int | None:
    """The same file sent by the same person, and not brought in yet; `begun`: that made something already."""
    half = "AND id IN (SELECT list FROM list_things)" if begun else ""
    row = db.execute(
        f"SELECT max(id) FROM lists WHERE kind = ? AND digest = ? AND person = ? AND taken_at IS NULL {half}",
        [kind, digest, person],
    ).fetchone()
    return int(row[0]) if row[0] else None


def go_on_under(db: Database, number: int, token: str) -> None:
    """Gives a list that was broken off the id under which it goes on."""
    db.execute("UPDATE lists SET token = ? WHERE id = ?", [token, number])


def drop(db: Database, number: int) -> None:
    """Throws a list away that was never brought in, and made nothing."""
    made = "SELECT list FROM list_things"
    db.execute(f"DELETE FROM lists WHERE id = ? AND taken_at IS NULL AND id NOT IN ({made})", [number])


def forget(db: Database, before: str) -> None:
    """Throws away what was sent before that time and never brought in; what made something stays."""
    old = "SELECT id FROM lists WHERE taken_at IS NULL AND at < ? AND id NOT IN (SELECT list FROM list_things)"
    db.execute(f"DELETE FROM lists WHERE id IN ({old})", [before])


def every(db: Database, limit: int = 50) -> list[ListLine]:
    """The lists that were brought in, or are half, and those that wait; the newest first."""
    rows = db.execute(
        "SELECT l.id, l.kind, l.name, l.at, p.name, l.taken_at, "
        "(SELECT count(*) FROM list_things WHERE list = l.id), json_array_length(l.lines) "
        "FROM lists l JOIN people p ON p.id = coalesce(l.taker, l.person) ORDER BY l.id DESC LIMIT ?",
        [limit],
    ).fetchall()
    return [ListLine(*row) for row in rows]


def remembered(db: Database, kind: str, heads: str) -> tuple[Chosen, ...]:
    """What columns with these headings were taken for when such a list was brought in last; empty: never."""
    row = db.execute("SELECT columns FROM list_heads WHERE kind = ? AND heads = ?", [kind, heads]).fetchone()
    return tuple(Chosen(*one) for one in json.loads(row[0])) if row else ()


def remember(db: Database, kind: str, heads: str, columns: Sequence[Chosen], at: str) -> None:
    """Remembers what columns with these headings are."""
    db.execute(
        "INSERT INTO list_heads (kind, heads, columns, at) VALUES (?, ?, ?, ?) ON CONFLICT (kind, heads) "
        "DO UPDATE SET columns = excluded.columns, at = excluded.at",
        [kind, heads, json.dumps(columns), at],
    )
