"""One state of the shop is read, and each question asked once of it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Generator, Hashable, Iterable, Mapping, Sequence
from functools import lru_cache, wraps
from typing import Any, Concatenate, NamedTuple, ParamSpec, TypeVar

from sqlite_utils import Database

Worked = TypeVar("Worked")


Thing = TypeVar("Thing")


Asked = ParamSpec("Asked")


Key = TypeVar("Key", bound=Hashable)


class Connection(Database):
    """A connection that remembers what it worked out of rows that seldom change (see `remembered`), and which file it
    opened."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        super().__init__(connection, strict=True)
        self.opened: dict[str, tuple[int, int]] = {}
        """The files of the shop that it has open, by path: what the system knows each by."""
        self.recalled: dict[str, tuple[object, Any]] = {}
        self.reads = False
        """True from `read_on` to `read_enough`: one state of the shop answers, and nothing is written."""
        self.writes_from: int | None = None
        """While `writing` holds: the rows that the connection had changed before it; None outside of it."""
        self.changed = 0
        """The rows that it had changed when `seen` and `answers` were asked."""
        self.seen: Newest | None = None
        """What is newest in the state that `read_on` or `writing` holds; None: not asked yet, or outside of them."""
        self.answers: dict[object, Any] = {}
        """What was asked in that state already (see `once`): it can't have changed."""

    def query(self, sql: str, params: Any = None) -> Generator[dict[str, Any], None, None]:
        """Rows by the names of their columns, without the savepoint that the library lays around each question."""
        asked = self.conn.execute(sql, params or ())
        names = [column[0] for column in asked.description]
        for row in asked:
            yield dict(zip(names, row, strict=True))

    def hold(self) -> None:
        """One state answers from here on."""
        self.changed = self.conn.total_changes

    def let_go(self) -> None:
        """What was asked in a state that is over."""
        self.seen = None
        self.answers.clear()
        self.reads, self.writes_from = False, None


class Newest(NamedTuple):
    """The numbers of the newest rows that are only ever added: what was worked out of them is right while they stay.
    `saved`: when the newest entry was saved."""

    setting: int | None
    spec: int | None
    entry: int | None
    saved: str | None


def held(db: Database) -> Connection | None:
    """The connection where it holds one state, so that what was asked stays answered: while a page reads on, or while
    something is written, until the next row of it is. None: each question is asked again."""
    if not isinstance(db, Connection) or not (db.reads or db.writes_from is not None):
        return None
    if db.changed != db.conn.total_changes:
        db.seen = None
        db.answers.clear()
        db.hold()
    return db


def newest(db: Database) -> Newest:
    """What is newest now; while a state is held it is asked once."""
    there = held(db)
    if there is not None and there.seen is not None:
        return there.seen
    found = Newest(*db.execute(f"SELECT {NEWEST}").fetchone())
    if there is not None:
        there.seen = found
    return found


NEWEST = (
    "(SELECT max(id) FROM settings), (SELECT max(id) FROM spec), (SELECT max(id) FROM entries), "
    "(SELECT saved_at FROM entries WHERE id = (SELECT max(id) FROM entries))"
)
"""The columns of `Newest`."""


def told(db: Database, found: Newest) -> None:
    """What is newest, by a question that asked for more as well."""
    there = held(db)
    if there is not None:
        there.seen = found


def read_on(db: Database) -> None:
    """From here on one state of the shop answers all questions, and nothing is written, until `read_enough`.

    A page that asks ten things saves SQLite the locks of each, and shows no half of what was written meanwhile.
    """
    if isinstance(db, Connection) and not db.conn.in_transaction:
        db.execute("BEGIN")
        db.hold()
        db.reads = True


def read_enough(db: Database) -> None:
    """Ends what `read_on` began."""
    if isinstance(db, Connection) and db.reads:
        db.let_go()
        db.conn.rollback()


def once(ask: Callable[Concatenate[Database, Asked], Worked]) -> Callable[Concatenate[Database, Asked], Worked]:
    """A question that many parts of one page or act ask: while one state is `held`, SQLite hears it once."""

    @wraps(ask)
    def answer(db: Database, /, *about: Asked.args, **how: Asked.kwargs) -> Worked:
        there = held(db)
        if there is None:
            return ask(db, *about, **how)
        asked: tuple[object, ...] = (ask, *about, *how.items())
        if list in map(type, asked):
            asked = tuple(tuple(one) if isinstance(one, list) else one for one in asked)
        if asked not in there.answers:
            there.answers[asked] = ask(db, *about, **how)
        found: Any = there.answers[asked]
        own: Any = found.copy() if isinstance(found, (list, dict, set)) else found
        return own  # type: ignore[no-any-return]

    return answer


def ahead(
    db: Database, ask: Callable[..., Worked], about: Iterable[Key], fetch: Callable[[list[Key]], dict[Key, Worked]]
) -> None:
    """Asks a question of many things in one statement, so that `ask`, one asked `once`, has its answers at hand.

    `fetch` answers those that were not asked yet, each thing that it leaves out aside. Where no state is held nothing
    is asked: each thing is asked when its turn comes.
    """
    if new := unasked(db, ask, about):
        known(db, ask, fetch(new))


def unasked(db: Database, ask: Callable[..., Worked], about: Iterable[Key]) -> list[Key]:
    """What a question, one asked `once`, has no answer about yet; nothing, where no state is held."""
    there, asked = held(db), ask.__wrapped__  # type: ignore[attr-defined]
    if there is None:
        return []
    return [one for one in dict.fromkeys(about) if (asked, *_several(one)) not in there.answers]


def answered(db: Database, ask: Callable[..., Worked], about: Hashable) -> Worked | None:
    """The answer that a question, one asked `once`, has about a thing already; None: none yet, or it is None."""
    there, asked = held(db), ask.__wrapped__  # type: ignore[attr-defined]
    found: Worked | None = there.answers.get((asked, *_several(about))) if there is not None else None
    return found


def known(db: Database, ask: Callable[..., object], found: Mapping[Key, object]) -> None:
    """Answers to a question, one asked `once`, that another one brought along."""
    there, asked = held(db), ask.__wrapped__  # type: ignore[attr-defined]
    if there is not None:
        there.answers.update(((asked, *_several(one)), answer) for one, answer in found.items())


class Question(NamedTuple):
    """One that can be asked together with others (`all_at_once`): its statement, with `?` for its values; how many
    columns its rows have; and who takes them, in any order."""

    sql: str
    values: Sequence[object]
    columns: int
    take: Callable[[list[Any]], None]


class Common(NamedTuple):
    """What several questions have in common, as a table: its name, its one column, the statement that it comes from."""

    name: str
    column: str
    sql: str
    values: Sequence[object] = ()

    @classmethod
    def numbers(cls, name: str, column: str, numbers: Iterable[int]) -> Common:
        """Such a table of numbers."""
        return cls(name, column, "SELECT value FROM json_each(?)", [json.dumps(list(numbers))])


def all_at_once(db: Database, questions: Iterable[Question], given: Sequence[Common] = ()) -> None:
    """Asks several questions in one statement, and hands each its rows: an act knows beforehand what it will ask.
    Nothing is asked where no state is held: each is asked when its turn comes."""
    if held(db) is not None:
        ask_together(db, questions, given)


def ask_together(db: Database, questions: Iterable[Question], given: Sequence[Common] = ()) -> None:
    """Asks several questions in one statement, and hands each its rows."""
    asked = list(questions)
    sql = _put_together(tuple((one.sql, one.columns) for one in asked), tuple(one[:3] for one in given))
    found: list[list[Any]] = [[] for _one in asked]
    values = [value for one in given for value in one.values] + [value for one in asked for value in one.values]
    for number, *row in db.execute(sql, values).fetchall():
        found[number].append(row[: asked[number].columns])
    for one, rows in zip(asked, found, strict=True):
        one.take(rows)


@lru_cache(maxsize=256)
def _put_together(questions: tuple[tuple[str, int], ...], given: tuple[tuple[str, str, str], ...]) -> str:
    width = max(columns for _sql, columns in questions)
    parts = (f"SELECT {place}, *{', NULL' * (width - columns)} FROM ({sql})"
             for place, (sql, columns) in enumerate(questions))  # fmt: skip
    tables = ", ".join(f"{name} ({column}) AS MATERIALIZED ({sql})" for name, column, sql in given)
    return (f"WITH {tables} " if given else "") + " UNION ALL ".join(parts)


def together(parts: Iterable[str]) -> str:
    """Several questions as one, the rows of each after those of the one before."""
    return " UNION ALL ".join(f"SELECT * FROM ({part})" for part in parts)


def _several(about: object) -> tuple[object, ...]:
    """What a question is about, as the values that it was asked with."""
    return about if isinstance(about, tuple) else (about,)


def remembered(db: Database, name: str, version: object, make: Callable[[], Worked]) -> Worked:
    """What `make` works out, kept with the connection until `version` is another one."""
    recalled = db.recalled if isinstance(db, Connection) else {}
    held = recalled.get(name)
    if held is None or held[0] != version:
        held = recalled[name] = (version, make())
    known: Worked = held[1]
    return known


def while_log_stays(db: Database, name: str, about: object, make: Callable[[], Worked]) -> Worked:
    """What `make` works out of the log about `about`, kept with the connection until an entry or a setting is added.

    One answer is kept for each `name`. Of what a transaction wrote, which may yet be undone, nothing is kept.
    """
    there = held(db)
    as_written = there is not None and there.writes_from in (None, there.changed)
    if db.conn.in_transaction and not as_written:
        return make()
    now = newest(db)
    return remembered(db, name, (now.entry, now.setting, about), make)
