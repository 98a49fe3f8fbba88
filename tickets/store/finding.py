"""What can be found by its words: a row for each thing in `findable`, an index of its words (SQLite FTS5), and for
each word what a slip makes of it (`slips`). All of it is worked out of other tables by whoever writes those (`settle`),
again by `tickets rebuild`, and compared by `tickets check`.

The index goes by the rows of `findable`, which are its content; what is put in or taken out is told to it here alone.
sqlite-utils has helpers for such an index (`enable_fts`, `search`), not used: they keep it by triggers or write it
afresh as a whole, know neither `detail` nor `columnsize`, and search in one order, where this asks kind by kind."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, NamedTuple

from sqlite_utils import Database

from tickets.calculator.numerals import counted
from tickets.domain import searched

KINDS = ("screen", "job", "customer", "separation", "place", "bucket", "lot", "person")
"""What can be found."""


class _Source(NamedTuple):
    """Where the words of a kind come from."""

    sql: str
    """A statement for the thing, its texts and its names (`searched.all_words`), as arrays; `{which}` stands for the
    condition on the thing."""
    thing: str
    """The column that the condition is on."""
    by_name: bool = False
    """Whether a thing is known by its text, not by a number."""


_SOURCES = {
    "screen": _Source(
        "SELECT s.id, json_array(s.code), json_array(w.mark) FROM screens s LEFT JOIN standings w ON w.screen = s.id "
        "WHERE {which}", "s.id",
    ),
    "job": _Source(
        "SELECT j.id, json_array(j.code, j.title, j.customer, "
        "(SELECT group_concat(art, ' ') FROM (SELECT DISTINCT p.art FROM stations t "
        "JOIN separations p ON p.id = t.separation WHERE t.job = j.id))), "
        "(SELECT json_group_array(name) FROM (SELECT j.reference AS name UNION ALL "
        "SELECT json_extract(value, '$.lot') FROM json_each(v.sheet, '$.garment'))) "
        "FROM jobs j JOIN job_versions v ON v.job = j.id AND v.version = j.version WHERE {which}", "j.id",
    ),
    "customer": _Source(
        "SELECT DISTINCT customer, json_array(customer), '[]' FROM jobs WHERE {which}", "customer", by_name=True
    ),
    "separation": _Source(
        "SELECT id, json_array(customer, art, revision, name), '[]' FROM separations WHERE {which}", "id"
    ),
    "place": _Source("SELECT id, json_array(code), json_array(name) FROM places WHERE {which}", "id"),
    "bucket": _Source(
        "SELECT id, json_array(code, kind, product, colour, series), json_array(lot) FROM buckets WHERE {which}", "id"
    ),
    "lot": _Source(
        "SELECT lot, '[]', json_array(lot) FROM (SELECT lot FROM ink_lots WHERE lot <> '' AND {which} "
        "UNION SELECT lot FROM buckets WHERE lot <> '' AND {which})", "lot", by_name=True,
    ),
    "person": _Source("SELECT id, json_array(name), '[]' FROM people WHERE role <> 'built-in' AND {which}", "id"),
}  # fmt: skip
"""By kind. A replaced code is not among them: it is found whole, by the table of codes."""


def _asked(kind: str, things: Sequence[int | str] | None) -> tuple[str, list[Any]]:
    """The statement for (kind, thing, texts, names) of some things of a kind, or (None) of all, and its values."""
    source, which, values = _SOURCES[kind], "TRUE", list[Any]()
    if things is not None:
        which = f"{source.thing} IN (SELECT value FROM json_each(?))"
        asked = list(map(str, things)) if source.by_name else [counted(str(one)) for one in things]
        values = [json.dumps(asked)] * source.sql.count("{which}")
    return f"SELECT '{kind}', * FROM ({source.sql.format(which=which)})", values


_Thing = tuple[str, str]
"""A kind, and a thing of it."""


def _words(row: Sequence[Any]) -> tuple[_Thing, str]:
    """What a row of `_asked` is found by; things that are not there any more have none."""
    kind, thing, texts, names = row
    there, named = ([text or "" for text in json.loads(some)] for some in (texts, names))
    return (kind, str(thing)), searched.all_words(there, named)


def settle(db: Database, **things: Iterable[int | str]) -> None:
    """Works out again what some things are found by (kind = their numbers, or texts); writes what is not so already."""
    asked = {kind: list(dict.fromkeys(some)) for kind, some in things.items()}
    asked = {kind: some for kind, some in asked.items() if some}
    if not asked:
        return
    questions = [_asked(kind, some) for kind, some in asked.items()]
    these = json.dumps([(kind, str(thing)) for kind, some in asked.items() for thing in some])
    questions.append((f"SELECT kind, thing, words, NULL FROM findable WHERE {_THESE}", [these]))
    rows = db.execute(
        " UNION ALL ".join(sql for sql, _values in questions), [value for _sql, values in questions for value in values]
    ).fetchall()
    there = {(row[0], row[1]): row[2] for row in rows if row[3] is None}
    wanted = dict(_words(row) for row in rows if row[3] is not None)
    if gone := json.dumps([thing for thing, words in there.items() if wanted.get(thing) != words])[1:-1]:
        out = "INSERT INTO findable_words (findable_words, rowid, kind, words) SELECT 'delete', id, kind, words"
        db.execute(f"{out} FROM findable WHERE {_THESE}", [f"[{gone}]"])
        db.execute(f"DELETE FROM findable WHERE {_THESE}", [f"[{gone}]"])
    if new := [(*thing, words) for thing, words in wanted.items() if there.get(thing) != words]:
        db.execute(
            "INSERT INTO findable (kind, thing, words) "
            "SELECT json_extract(value, '$[0]'), json_extract(value, '$[1]'), json_extract(value, '$[2]') "
            "FROM json_each(?)",
            [json.dumps(new)],
        )
        db.execute(
            f"INSERT INTO findable_words (rowid, kind, words) SELECT id, kind, words FROM findable WHERE {_THESE}",
            [json.dumps(new)],
        )
        _put_slips(db, [words for _kind, _thing, words in new])


_THESE = "(kind, thing) IN (SELECT json_extract(value, '$[0]'), json_extract(value, '$[1]') FROM json_each(?))"


def _put_slips(db: Database, some: Iterable[str]) -> None:
    spelled = {word for words in some for word in words.split() if searched.spelled(word)}
    slips = [(short, word) for word in sorted(spelled) for short in sorted(searched.shorter(word))]
    for begin in range(0, len(slips), 2000):
        db.execute(
            "INSERT OR IGNORE INTO slips (short, word) "
            "SELECT json_extract(value, '$[0]'), json_extract(value, '$[1]') FROM json_each(?)",
            [json.dumps(slips[begin : begin + 2000])],
        )


def every(db: Database) -> Iterator[tuple[str, list[str]]]:
    """Everything that can be found or is said to be, a few hundred things of a kind at a time."""
    for kind in KINDS:
        there = [row[0] for row in db.execute("SELECT thing FROM findable WHERE kind = ?", [kind]).fetchall()]
        things = list(dict.fromkeys([*(str(row[1]) for row in db.execute(*_asked(kind, None)).fetchall()), *there]))
        for begin in range(0, len(things), 500):
            yield kind, things[begin : begin + 500]


def index_anew(db: Database) -> None:
    """The index and the slips from the rows that there are."""
    db.execute("INSERT INTO findable_words (findable_words) VALUES ('rebuild')")
    db.execute("DELETE FROM slips")
    _put_slips(db, (row[0] for row in db.execute("SELECT words FROM findable").fetchall()))


def indexed_as_written(db: Database) -> bool:
    """True when the index is what stands in its rows, and every word of them is there with its slips. A word by which
    nothing is found any more may keep them: it finds nothing."""
    there: Counter[str] = Counter()
    for kind, words in db.execute("SELECT kind, words FROM findable").fetchall():
        there.update({kind, *words.split()})
    spelled = {word for word in there if searched.spelled(word)} - set(KINDS)
    slips = {row[0] for row in db.execute("SELECT DISTINCT word FROM slips").fetchall()}
    return dict(there) == dict(db.execute("SELECT term, doc FROM findable_terms").fetchall()) and spelled <= slips


def unlike(db: Database) -> list[str]:
    """The kinds that are not found by what is written of them."""
    rows = db.execute("SELECT kind, thing, words FROM findable").fetchall()
    there = {(kind, thing): words for kind, thing, words in rows}
    wanted = dict(_words(row) for kind in KINDS for row in db.execute(*_asked(kind, None)).fetchall())
    return sorted({kind for (kind, _thing), _its in there.items() ^ wanted.items()})


def matching(db: Database, kind: str, asked: Sequence[Sequence[str]], limit: int) -> list[str]:
    """The things of a kind that have all the words of one of `asked`, or words that begin so: the newest first."""
    either = " OR ".join(f"({' AND '.join(f'{_quoted(word)} *' for word in words)})" for words in asked if words)
    if not either:
        return []
    rows = db.execute(
        "SELECT f.thing FROM findable_words w JOIN findable f ON f.id = w.rowid "
        "WHERE findable_words MATCH ? ORDER BY w.rowid DESC LIMIT ?",
        [f"kind : {kind} AND words : ({either})", limit],
    ).fetchall()
    return [row[0] for row in rows]


def _quoted(word: str) -> str:
    return '"' + word.replace('"', '""') + '"'


def begins(db: Database, word: str) -> bool:
    """Whether anything is found by a word that begins so."""
    row = db.execute("SELECT 1 FROM findable_terms WHERE term >= ? AND term < ? LIMIT 1", [word, word + "\U0010ffff"])
    return row.fetchone() is not None


def one_slip_away(db: Database, word: str) -> list[str]:
    """Words that something is found by, one slip from this one."""
    if not searched.spelled(word):
        return []
    rows = db.execute(
        "SELECT DISTINCT word FROM slips WHERE short IN (SELECT value FROM json_each(?)) ORDER BY word",
        [json.dumps(sorted(searched.shorter(word)))],
    ).fetchall()
    return [row[0] for row in rows if searched.one_slip(word, row[0])]
