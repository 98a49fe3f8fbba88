"""The log: appended, read in the order of replay, never changed."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from tickets.domain.entry import Entry, read_stamp, stamp
from tickets.store.reads import NEWEST, Newest, Question, ahead, known, once, told

COLUMNS = (
    "entry, post, part, step, screen, run, job, bucket, person, signed, at, saved_at, vals, typed, verdict, override"
)
"""What `read_row` reads an entry out of."""
_NAMES = COLUMNS.split(", ")
_ORDER = "ORDER BY at, saved_at, part, entry"
_THINGS = ("screen", "run", "job", "bucket")


_PART_OF = "post = ? AND post <> entry"
"""Of a post of several: the one entry of any other has the id of its post (`entries_by_post` leaves those out)."""


def read_row(row: Sequence[Any]) -> Entry:
    """An entry out of its columns."""
    entry, post, part, step, screen, run, job, bucket, person, signed, at, saved_at, vals, typed, verdict, override = (
        row
    )
    return Entry(
        entry=entry,
        post=post,
        part=part,
        step=step,
        screen=screen,
        run=run,
        job=job,
        bucket=bucket,
        person=person,
        signed=signed,
        at=read_stamp(at),
        saved_at=read_stamp(saved_at),
        values=json.loads(vals),
        typed=json.loads(typed) if typed else {},
        verdict=json.loads(verdict) if verdict else None,
        override=json.loads(override) if override else None,
    )


_as_text = json.JSONEncoder(ensure_ascii=False).encode


def row_of(entry: Entry) -> list[Any]:
    """An entry as the columns of its row, in the order of `insert`."""
    return [
        entry.entry,
        entry.post or entry.entry,
        entry.part,
        entry.step,
        entry.screen,
        entry.run,
        entry.job,
        entry.bucket,
        entry.person,
        entry.signed,
        stamp(entry.at),
        stamp(entry.saved_at),
        _as_text(entry.values),
        _as_text(entry.typed) if entry.typed else None,
        _as_text(entry.verdict) if entry.verdict else None,
        _as_text(entry.override) if entry.override else None,
        entry.crosses,
    ]


def as_kept(entry: Entry) -> Entry:
    """An entry as it will be read back."""
    return read_row(tuple(row_of(entry)[: len(_NAMES)]))


INSERT = f"INSERT INTO entries ({COLUMNS}, crosses) VALUES ({', '.join('?' * 17)})"


MOST = 200
"""Entries that one statement appends, at most."""


def insert(db: Database, lines: Sequence[Entry]) -> None:
    """Appends entries."""
    for begin_at in range(0, len(lines), MOST):
        some = lines[begin_at : begin_at + MOST]
        more = f", ({', '.join('?' * 17)})" * (len(some) - 1)
        db.execute(INSERT + more, [value for one in some for value in row_of(one)])


@once
def of(db: Database, thing: str, number: int) -> list[Entry]:
    """Every entry of one thing (`thing`: screen, run, job, bucket) in the order of replay, those crossed out too."""
    if thing not in _THINGS:
        raise ValueError(thing)
    rows = db.execute(f"SELECT {COLUMNS} FROM entries WHERE {thing} = ? {_ORDER}", [number]).fetchall()
    return [read_row(row) for row in rows]


def of_ahead(db: Database, thing: str, numbers: Iterable[int]) -> None:
    """The logs of many things, for a page that asks for each."""

    def fetch(new: list[tuple[str, int]]) -> dict[tuple[str, int], list[Entry]]:
        found: dict[tuple[str, int], list[Entry]] = {about: [] for about in new}
        rows = db.execute(
            f"SELECT {COLUMNS} FROM entries WHERE {thing} IN (SELECT value FROM json_each(?)) {_ORDER}",
            [json.dumps([number for _thing, number in new])],
        ).fetchall()
        for one in map(read_row, rows):
            found[thing, getattr(one, thing)].append(one)
        return found

    if thing not in _THINGS:
        raise ValueError(thing)
    ahead(db, of, [(thing, number) for number in numbers], fetch)


def logs_asked(db: Database, thing: str, numbers: str, values: Sequence[object] = ()) -> Question:
    """The question for the logs of some things (`numbers`: the statement that gives them), to be asked with others."""

    def take(rows: list[Any]) -> None:
        found: dict[tuple[str, int], list[Entry]] = {}
        for _number, *row in sorted((row for row in rows if row[1] is not None), key=_in_order):
            one = read_row(tuple(row))
            found.setdefault((thing, getattr(one, thing)), []).append(one)
        known(db, of, {(thing, row[0]): found.get((thing, row[0]), []) for row in rows})

    if thing not in _THINGS:
        raise ValueError(thing)
    columns = ", ".join(f"e.{name}" for name in _NAMES)
    sql = f"SELECT a.number, {columns} FROM ({numbers}) a LEFT JOIN entries e ON e.{thing} = a.number"
    return Question(sql, values, len(_NAMES) + 1, take)


_PLACES = [_NAMES.index(name) + 1 for name in _ORDER.removeprefix("ORDER BY ").split(", ")]


def _in_order(row: Sequence[Any]) -> tuple[Any, ...]:
    return tuple(row[place] for place in _PLACES)


def last_at(db: Database, thing: str, number: int) -> str:
    """The time of the last act on one thing, those crossed out too; empty: nothing was logged of it."""
    if thing not in _THINGS:
        raise ValueError(thing)
    return str(db.execute(f"SELECT coalesce(max(at), '') FROM entries WHERE {thing} = ?", [number]).fetchone()[0])


@once
def latest_of(db: Database, thing: str, number: int, limit: int = 20, before: str = "") -> list[Entry]:
    """The newest entries of one thing, newest first, `limit` at most, those before the time `before` when given."""
    if thing not in _THINGS:
        raise ValueError(thing)
    older = "AND at < ?" if before else ""
    rows = db.execute(
        f"SELECT {COLUMNS} FROM entries WHERE {thing} = ? {older} "
        "ORDER BY at DESC, saved_at DESC, part DESC, entry DESC LIMIT ?",
        [number, *([before] if before else []), limit],
    ).fetchall()
    return [read_row(row) for row in rows]


def between(db: Database, thing: str, number: int, since: str, until: str, limit: int = 1000) -> list[Entry]:
    """The entries of one thing from the time `since` to `until`, both included, in the order of replay, `limit` at
    most."""
    if thing not in _THINGS:
        raise ValueError(thing)
    rows = db.execute(
        f"SELECT {COLUMNS} FROM entries WHERE {thing} = ? AND at >= ? AND at <= ? {_ORDER} LIMIT ?",
        [number, since, until, limit],
    ).fetchall()
    return [read_row(row) for row in rows]


@once
def of_steps(db: Database, thing: str, number: int, steps: Sequence[str], limit: int = 1000) -> list[Entry]:
    """The entries of some steps of one thing in the order of replay, the newest `limit` at most."""
    if thing not in _THINGS:
        raise ValueError(thing)
    rows = db.execute(
        f"SELECT {COLUMNS} FROM entries WHERE {thing} = ? AND step IN ({', '.join('?' * len(steps))}) "
        "ORDER BY at DESC, saved_at DESC, part DESC, entry DESC LIMIT ?",
        [number, *steps, limit],
    ).fetchall()
    return [read_row(row) for row in reversed(rows)]


def last_exposure(db: Database, screen: int) -> Entry | None:
    """The exposure of what is on a screen now, by its log; None: none since it was coated, stripped or stretched."""
    row = db.execute(
        f"SELECT {COLUMNS} FROM entries e WHERE screen = ? AND step IN ('expose', 'coat', 'strip', 'stretch') "
        "AND NOT EXISTS (SELECT 1 FROM entries c WHERE c.crosses = e.entry) "
        "ORDER BY at DESC, saved_at DESC, part DESC, entry DESC LIMIT 1",
        [screen],
    ).fetchone()
    found = read_row(row) if row else None
    return found if found is not None and found.step == "expose" else None


def probes(db: Database, limit: int = 20) -> list[Entry]:
    """The newest probe runs of all jobs and dryers, newest first, those crossed out left out."""
    rows = db.execute(
        f"SELECT {COLUMNS} FROM entries WHERE step = 'probe' "
        "AND entry NOT IN (SELECT crosses FROM entries WHERE crosses IS NOT NULL) ORDER BY at DESC LIMIT ?",
        [limit],
    ).fetchall()
    return [read_row(row) for row in rows]


@once
def said(db: Database, thing: str, number: int, step: str, field: str) -> dict[str, str]:
    """What the entries of one step of one thing have in a field, by their time."""
    if thing not in _THINGS:
        raise ValueError(thing)
    sql = f"SELECT at, json_extract(vals, '$.' || ?) FROM entries WHERE {thing} = ? AND step = ?"
    return {at: str(value) for at, value in db.execute(sql, [field, number, step]).fetchall() if value is not None}


@once
def find(db: Database, entry: str) -> Entry | None:
    """One entry by its id; the id of a post of one part finds that part too."""
    row = db.execute(f"SELECT {COLUMNS} FROM entries WHERE entry = ?", [entry]).fetchone()
    if row is None:
        rows = db.execute(f"SELECT {COLUMNS} FROM entries WHERE {_PART_OF} LIMIT 2", [entry]).fetchall()
        row = rows[0] if len(rows) == 1 else None
    return read_row(row) if row else None


def find_ahead(db: Database, names: Iterable[str]) -> None:
    """Many entries by their ids, for a page that asks for each."""

    def fetch(new: list[str]) -> dict[str, Entry | None]:
        sql = f"SELECT {COLUMNS} FROM entries WHERE entry IN (SELECT value FROM json_each(?))"
        return {one.entry: one for one in map(read_row, db.execute(sql, [json.dumps(new)]).fetchall())}

    ahead(db, find, names, fetch)


def crossed_by(db: Database, entries: list[str]) -> dict[str, Entry]:
    """Which of `entries` were crossed out, and the entry that did it."""
    if not entries:
        return {}
    marks = ", ".join("?" * len(entries))
    rows = db.execute(f"SELECT {COLUMNS} FROM entries WHERE crosses IN ({marks})", entries).fetchall()
    return {str(entry.crosses): entry for entry in map(read_row, rows)}


def of_post(db: Database, post: str) -> list[Entry]:
    """The entries that carry this id, as a post or as an entry, in their order."""
    rows = db.execute(f"SELECT {COLUMNS} FROM entries WHERE ({_PART_OF}) OR entry = ? ORDER BY part", [post, post])
    return [read_row(row) for row in rows.fetchall()]


def ahead_of(db: Database, at: str, limit: int) -> list[Entry]:
    """The entries of acts after the time `at`, the last first, `limit` at most."""
    rows = db.execute(f"SELECT {COLUMNS} FROM entries WHERE at > ? ORDER BY at DESC, id DESC LIMIT ?", [at, limit])
    return [read_row(row) for row in rows.fetchall()]


def steps_by(db: Database, person: int, since: str) -> list[tuple[str, int | None]]:
    """What a person logged since a time: each step once, with the run that it was of."""
    rows = db.execute("SELECT DISTINCT step, run FROM entries WHERE at >= ? AND person = ?", [since, person]).fetchall()
    return [(step, run) for step, run in rows]


def after(db: Database, since: int, most: int) -> list[tuple[int, Entry]]:
    """The entries that were written after the one with the number `since`, in the order of writing, `most` at most,
    each with its number."""
    rows = db.execute(f"SELECT id, {COLUMNS} FROM entries WHERE id > ? ORDER BY id LIMIT ?", [since, most]).fetchall()
    return [(row[0], read_row(row[1:])) for row in rows]


def every(db: Database) -> Iterator[Entry]:
    """The whole log in the order of writing, row by row."""
    for row in db.execute(f"SELECT {COLUMNS} FROM entries ORDER BY id"):
        yield read_row(row)


@dataclass(frozen=True, slots=True)
class Earlier:
    """What was saved under the id of a post: by whom and when, and the digest of its content with the answer that it
    got; both None where only an entry has the id."""

    person: int
    saved_at: str
    digest: str | None
    answer: Any


_EARLIER = (
    "SELECT 0 AS by, person, saved_at, digest, answer FROM posts WHERE post = ? UNION ALL "
    "SELECT 1, person, saved_at, NULL, NULL FROM entries WHERE "
    f"({_PART_OF}) OR entry = ? ORDER BY by LIMIT 1"
)


@once
def earlier(db: Database, post: str) -> Earlier | None:
    """What was saved under an id; None: it is new."""
    row = db.execute(_EARLIER, [post] * 3).fetchone()
    return _earlier(row) if row else None


def _earlier(row: Sequence[Any]) -> Earlier:
    return Earlier(row[1], row[2], row[3], json.loads(row[4]) if row[4] else None)


@once
def begin(db: Database, post: str) -> Earlier | None:
    """What every act asks first: as `earlier`; with it what is newest."""
    row = db.execute(_BEGIN, [post] * 3).fetchone()
    return _begun(db, post, row)


_BEGIN = f"SELECT {NEWEST}, e.* FROM (SELECT 1) LEFT JOIN ({_EARLIER}) e"


def _begun(db: Database, post: str, row: Sequence[Any]) -> Earlier | None:
    told(db, Newest(*row[:4]))
    found = _earlier(row[4:]) if row[4] is not None else None
    known(db, earlier, {post: found})
    known(db, begin, {post: found})
    return found


def begin_asked(db: Database, post: str) -> Question:
    """The question for what every act asks first, to be asked with others."""

    def take(rows: list[Any]) -> None:
        _begun(db, post, rows[0])

    return Question(_BEGIN, [post] * 3, 9, take)


def answer(db: Database, post: str) -> Any:
    """The answer that a post of this id got; None: there was none."""
    found = earlier(db, post)
    return found.answer if found else None


def save_answer(db: Database, post: str, person: int, digest: str, answer_: Any, at: str) -> None:
    """Keeps the answer to a post, so that the same post again gets it again."""
    db.execute(
        "INSERT INTO posts (post, person, digest, answer, saved_at) VALUES (?, ?, ?, ?, ?)",
        [post, person, digest, json.dumps(answer_), at],
    )
