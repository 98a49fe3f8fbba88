"""Screens and what is worked out from their logs: standings, what they carry, counts; and the inventory's questions."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

from sqlite_utils import Database

from tickets.calculator.numerals import counted
from tickets.domain.code import Code
from tickets.domain.screens.frames import Alike
from tickets.domain.screens.needs import TO_NAME
from tickets.domain.screens.readings import Tail
from tickets.domain.screens.screen import FREE, TEST_STRIP, Life
from tickets.domain.stages import STENCIL_ON, Standing
from tickets.store import finding, places
from tickets.store.ordered import Order, PageStart, page_of, parts, way_of
from tickets.store.placed import add_to, upsert
from tickets.store.reads import (
    Common,
    Question,
    ahead,
    all_at_once,
    known,
    once,
    together,
    unasked,
    while_log_stays,
)

SLACK = "slack"
"""How frames that an image could be put on, but for their tension, stand among the counts."""

COULD_TAKE = tuple(map(str, FREE))
"""The standings of frames that an image can be put on, as the queries have them."""

MISSING = "missing"
"""How frames that a stock-take did not find stand among the counts, whatever their standing by the log."""


CARRIERS = 20
"""Screens of one image that a page looks at: more of the same image nobody has."""


@dataclass(frozen=True, slots=True)
class Screen:
    """One screen: its number in the store, its code now, and its life."""

    id: int
    code: Code
    life: Life


@lru_cache(maxsize=4096)
def mark_key(mark: str) -> str:
    """A painted mark as it is looked up: without case, spaces and hyphens (`A-12` is typed for `A 12`)."""
    return re.sub(r"[\s\-\u2010-\u2015\u2212]+", "", mark).casefold()


def add(db: Database, code: str, number: int, at: str) -> None:
    """A new screen with the code issued for it."""
    db.execute("INSERT INTO screens (id, code, made_at) VALUES (?, ?, ?)", [number, code, at])


def next_number(db: Database, table: str = "screens") -> int:
    """The number that the next row of a table gets (asked and used in one transaction)."""
    if table not in {"screens", "places", "jobs", "buckets"}:
        raise ValueError(table)
    return int(db.execute(f"SELECT coalesce(max(id), 0) + 1 FROM {table}").fetchone()[0])


def recode(db: Database, screen: int, code: str) -> None:
    """The screen's code from now on."""
    db.execute("UPDATE screens SET code = ? WHERE id = ?", [code, screen])
    finding.settle(db, screen=[screen])


def life(db: Database, screen: int) -> Life:
    """The worked-out life of a screen."""
    found = get(db, screen)
    return found.life if found else Life()


@once
def led(db: Database, screen: int) -> str | None:
    """What leading a screen on by an entry takes besides its life (`readings.Tail`, as JSON); None: its log is to be
    read again."""
    row = db.execute("SELECT led FROM standings WHERE screen = ?", [screen]).fetchone()
    return row[0] if row else None


def tail_of(kept: str) -> Tail:
    """The tail that `led` has as text."""
    return Tail.from_kept(json.loads(kept))


def led_ahead(db: Database, numbers: Iterable[int]) -> None:
    """The same of many screens."""
    sql = "SELECT screen, led FROM standings WHERE screen IN (SELECT value FROM json_each(?))"
    ahead(db, led, numbers, lambda new: dict(db.execute(sql, [json.dumps(new)]).fetchall()))


@once
def get(db: Database, screen: int) -> Screen | None:
    """A screen by its number."""
    row = db.execute(
        "SELECT s.code, w.life FROM screens s LEFT JOIN standings w ON w.screen = s.id WHERE s.id = ?", [screen]
    ).fetchone()
    return _screen((screen, *row)) if row else None


def read_ahead(db: Database, numbers: Iterable[int]) -> None:
    """Many screens, for a page that asks for each."""
    ahead(db, get, numbers, lambda new: _each(db, new))


def _each(db: Database, numbers: list[int]) -> dict[int, Screen | None]:
    rows = db.execute(
        "SELECT s.id, s.code, w.life FROM screens s LEFT JOIN standings w ON w.screen = s.id "
        "WHERE s.id IN (SELECT value FROM json_each(?))",
        [json.dumps(numbers)],
    ).fetchall()
    return {row[0]: _screen(row) for row in rows}


def behind(db: Database, code: str) -> tuple[Screen, bool] | None:
    """The screen that a code leads to, and whether the code was replaced; None where it leads to no screen. Its place
    comes along: whoever asks by code says where the screen is."""
    row = db.execute(
        f"SELECT s.id, s.code, w.life, c.replaced, {places.columns('p')} "
        "FROM codes c JOIN screens s ON s.id = c.thing "
        "LEFT JOIN standings w ON w.screen = s.id LEFT JOIN places p ON p.id = w.place "
        "WHERE c.code = ? AND c.kind = 'screen'",
        [code],
    ).fetchone()
    if row is None:
        return None
    if row[4] is not None:
        places.came_along(db, row[4:])
    return _screen(row), bool(row[3])


def _screen(row: Sequence[Any]) -> Screen:
    return Screen(row[0], Code(row[1]), Life.from_dict(json.loads(row[2])) if row[2] else Life())


def asked(db: Database) -> Question:
    """The question for the screens in the table `these (screen)`, with what leads them on, to be asked with others."""

    def take(rows: list[Any]) -> None:
        known(db, get, {row[0]: _screen(row) for row in rows})
        known(db, led, {row[0]: row[3] for row in rows})

    sql = (
        "SELECT s.id, s.code, w.life, w.led FROM these JOIN screens s ON s.id = these.screen "
        "LEFT JOIN standings w ON w.screen = s.id"
    )
    return Question(sql, (), 4, take)


def carrying_asked(db: Database) -> Question:
    """The question for the screens that carry the images in the table `images (image)`, to be asked with others."""

    def take(rows: list[Any]) -> None:
        there = {row[1]: _screen(row[1:]) for row in rows if row[1] is not None}
        found: dict[int, list[Screen]] = {row[0]: [] for row in rows}
        for row in sorted((row for row in rows if row[1] is not None), key=lambda row: row[1]):
            found[row[0]].append(there[row[1]])
        known(db, get, there)
        known(db, carrying, found)

    sql = (
        "SELECT i.image, s.id, s.code, w.life FROM images i LEFT JOIN (SELECT separation, screen, row_number() OVER "
        "(PARTITION BY separation ORDER BY screen) AS place FROM carries WHERE separation IN (SELECT image FROM images)"
        ") few ON few.separation = i.image AND few.place <= ? LEFT JOIN screens s ON s.id = few.screen "
        "LEFT JOIN standings w ON w.screen = few.screen"
    )
    return Question(sql, [CARRIERS], 4, take)


def many(db: Database, screens: list[int]) -> list[Screen]:
    """Several screens by their numbers, in that order."""
    read_ahead(db, screens)
    return [found for number in screens if (found := get(db, number)) is not None]


def standing_row(screen: int, life: Life, slack: int = 0, tail: Tail | str | None = None) -> dict[str, Any]:
    """The worked-out row of a screen; `slack`: how slack its frame is by the limits (`works.slackness`); `tail`: what
    leads it on (a text: as it is in the file)."""
    led_by = _as_text(tail.kept()) if isinstance(tail, Tail) else tail
    return {**_asked_often(screen, life, slack), "life": _as_text(life.kept()), "led": led_by}


_as_text = json.JSONEncoder(ensure_ascii=False, sort_keys=True).encode


def _asked_often(screen: int, life: Life, slack: int) -> dict[str, Any]:
    """What lists ask of a life, a column each."""
    mesh, tension, stencil = life.mesh, life.tension, life.stencil
    return {
        "screen": screen,
        "standing": str(life.standing),
        "since": life.since,
        "mark": life.mark,
        "mark_key": mark_key(life.mark),
        "mesh": mesh.count_as_labelled if mesh else "",
        "count_per_cm": round(mesh.count_per_cm, 4) if mesh else None,
        "thread_um": mesh.thread_um if mesh else None,
        "frame": mesh.frame if mesh else "",
        "place": life.place,
        "run": life.run,
        "conflict": int(life.conflict),
        "tension_at": tension.at if tension else "",
        "minimum_n_per_cm": tension.minimum_n_per_cm if tension else None,
        "stencils_since": tension.stencils_since if tension else None,
        "coated_at": stencil.coated_at if stencil else "",
        "uses": life.uses,
        "impressions": life.impressions,
        "cycles": life.cycles,
        "inked": int(life.inked and life.standing is Standing.KEPT),
        "last_at": life.last_at,
        "slack": slack,
        "not_at": life.not_at,
        "keep_until": life.keep_until,
        "place_since": life.place_since,
        "coated_from": stencil.bucket if stencil else None,
    }


_STANDING_COLUMNS = tuple(standing_row(0, Life()))


_NOTHING: frozenset[int] = frozenset()
_Counted = tuple[str, str, float | None]
"""Where a screen counts: standing, mesh as labelled, count per cm."""


def carried(life: Life) -> frozenset[int]:
    """The separations that a screen carries now."""
    return frozenset(life.stencil.separations) if life.stencil and life.standing in STENCIL_ON else _NOTHING


class LifeNow(NamedTuple):
    """What a screen's life is by now, how slack its frame is, what leads it on (a text: what the file has), and the
    life that the file has (None: not known; of a `new` one there is none)."""

    screen: int
    life: Life
    slack: int
    tail: Tail | str | None
    before: Life | None = None
    new: bool = False


def save_lives(db: Database, lives: Sequence[LifeNow]) -> None:
    """Writes the worked-out tables of some screens, each in one statement for all; of what is there only what changes,
    so that the many indexes on the rest stay as they are."""
    rows: list[list[Any]] = []
    counted: Counter[_Counted] = Counter()
    changed = {"slack", "life"}
    gone: list[tuple[int, int]] = []
    new: list[tuple[int, int]] = []
    unknown = [one.screen for one in lives if one.before is None and not one.new]
    in_file = _in_file(db, unknown) if unknown else {}
    for one in lives:
        row = standing_row(one.screen, one.life, one.slack, one.tail)
        rows.append(list(row.values()))
        if one.before is None:
            changed.update(_STANDING_COLUMNS[1:])
            was, carries = in_file.get(one.screen, (None, _NOTHING))
        else:
            there = _asked_often(one.screen, one.before, one.slack)
            changed.update(name for name, value in there.items() if row[name] != value)
            changed.update(() if isinstance(one.tail, str) else ("led",))
            was, carries = _counted_as(one.before), carried(one.before)
        if was is not None:
            counted[was] -= 1
        counted[_counted_as(one.life)] += 1
        now = carried(one.life)
        gone += [(one.screen, image) for image in carries - now]
        new += [(one.screen, image) for image in now - carries]
    upsert(db, "standings", _STANDING_COLUMNS, ["screen"], rows, [one for one in _STANDING_COLUMNS if one in changed])
    more = [(*which, number) for which, number in counted.items() if number]
    add_to(db, "counts", ("standing", "mesh", "count_per_cm", "screens"), ("standing", "mesh"), ["screens"], more)
    marked = [one.screen for one in lives if one.before is None or one.before.mark != one.life.mark]
    finding.settle(db, screen=marked)
    if gone:
        db.execute(f"DELETE FROM carries WHERE (screen, separation) IN ({_PAIRS})", [json.dumps(gone)])
    if new:
        known_ones = f"SELECT * FROM ({_PAIRS}) WHERE image IN (SELECT id FROM separations)"
        db.execute(f"INSERT OR IGNORE INTO carries (screen, separation) {known_ones}", [json.dumps(new)])


_PAIRS = "SELECT json_extract(value, '$[0]') AS screen, json_extract(value, '$[1]') AS image FROM json_each(?)"


def _in_file(db: Database, screens: Sequence[int]) -> dict[int, tuple[_Counted, frozenset[int]]]:
    """Where some screens count by the file, and what they carry by it."""
    carries = "(SELECT json_group_array(separation) FROM carries WHERE screen = w.screen)"
    rows = db.execute(
        f"SELECT screen, standing, mesh, count_per_cm, {carries} FROM standings w "
        "WHERE screen IN (SELECT value FROM json_each(?))",
        [json.dumps(screens)],
    ).fetchall()
    return {row[0]: ((row[1], row[2], row[3]), frozenset(json.loads(row[4]))) for row in rows}


def _counted_as(life: Life) -> _Counted:
    """Where a screen counts: standing, mesh, count per cm."""
    mesh = life.mesh
    return str(life.standing), mesh.count_as_labelled if mesh else "", round(mesh.count_per_cm, 4) if mesh else None


Measured = tuple[int, int, str, str, float, str, float]
"""A screen with a reading: its number, how slack it is held to be, standing, frame, count per cm, colour of the mesh,
lowest reading in N/cm."""


def measured(db: Database) -> list[Measured]:
    """Every screen that has a reading."""
    return [
        tuple(row)
        for row in db.execute(
            "SELECT screen, slack, standing, frame, count_per_cm, coalesce(json_extract(life, '$.mesh.colour'), ''), "
            "minimum_n_per_cm FROM standings WHERE minimum_n_per_cm IS NOT NULL AND count_per_cm IS NOT NULL"
        ).fetchall()
    ]


def save_slack(db: Database, screen: int, slack: int) -> None:
    """How slack a frame is held to be from now on."""
    db.execute("UPDATE standings SET slack = ? WHERE screen = ?", [slack, screen])


def every_number(db: Database) -> Iterator[int]:
    """The numbers of all screens."""
    for row in db.execute("SELECT id FROM screens ORDER BY id"):
        yield row[0]


def saved_row(db: Database, screen: int) -> dict[str, Any] | None:
    """The worked-out row as it is in the file, for the proof of soundness."""
    rows = db.query(f"SELECT {', '.join(_STANDING_COLUMNS)} FROM standings WHERE screen = ?", [screen])
    return next(iter(rows), None)


def saved_carries(db: Database, screen: int) -> set[int]:
    """What the file says a screen carries."""
    return {row[0] for row in db.execute("SELECT separation FROM carries WHERE screen = ?", [screen]).fetchall()}


def saved_counts(db: Database) -> dict[tuple[str, str], int]:
    """Screens by (standing, mesh as labelled), those at nought left out."""
    rows = db.execute("SELECT standing, mesh, screens FROM counts WHERE screens <> 0").fetchall()
    return {(standing, mesh): screens for standing, mesh, screens in rows}


def count_anew(db: Database) -> None:
    """Works out again how many screens there are by standing and mesh."""
    db.execute("DELETE FROM counts")
    db.execute(
        "INSERT INTO counts (standing, mesh, count_per_cm, screens) "
        "SELECT standing, mesh, min(count_per_cm), count(*) FROM standings GROUP BY standing, mesh"
    )


NOT_THERE = "SELECT screen FROM standings WHERE not_at IS NOT NULL"
"""The screens that a stock-take did not find: nobody can count on them, work on them or retension them."""


Span = tuple[float, float, float | None]


@dataclass(frozen=True, slots=True)
class Slack:
    """Which frames are too slack: those under the floor for all that they could print; those under that of their usual
    work, but for the meshes that are asked for in the least demanding one (`asked`); those under that of the most
    demanding one, where their mesh is asked for in it (`tight`) and in nothing easier (`usual`). Each mesh is a span of
    counts per cm and the thread in um (None: any), with what it may differ by."""

    asked: tuple[Span, ...] = ()
    thread_um: float = 0.0
    usual: tuple[Span, ...] = ()
    tight: tuple[Span, ...] = ()

    def where(self, table: str = "w") -> tuple[str, list[Any]]:
        """The condition of a query, on the index of the slack ones, and its values."""
        easy, one = self._of_any(table, self.asked)
        tight, two = self._of_any(table, self.tight)
        usual, three = self._of_any(table, self.usual)
        sorts = (
            f"{table}.slack = 2 OR ({table}.slack = 1 AND NOT {easy}) "
            f"OR ({table}.slack = 3 AND {tight} AND NOT {usual})"
        )
        there = f"{table}.screen NOT IN ({NOT_THERE})"
        return f"{table}.slack > 0 AND ({sorts}) AND {there}", [*one, *two, *three]

    def _of_any(self, table: str, meshes: Sequence[Span]) -> tuple[str, list[Any]]:
        """Whether a frame has one of some meshes."""
        found, values = [], list[Any]()
        for low, high, thread in meshes:
            one = f"{table}.count_per_cm BETWEEN ? AND ?"
            values += [low, high]
            if thread is not None:
                one += f" AND ({table}.thread_um IS NULL OR abs({table}.thread_um - ?) <= ?)"
                values += [thread, self.thread_um + 1e-6]
            found.append(f"({one})")
        return f"({' OR '.join(found) or 'FALSE'})", values


@once
def slack_counts(db: Database, slack: Slack) -> list[tuple[str, str, float, int]]:
    """How many frames are too slack: (standing, mesh as labelled, count per cm, how many)."""
    rows = db.execute(*_slack_counts(slack)).fetchall()
    return [(row[0], row[1], row[2], row[3]) for row in rows]


def _slack_counts(slack: Slack) -> tuple[str, list[Any]]:
    where, values = slack.where()
    return (
        "SELECT w.standing, w.mesh, min(w.count_per_cm), count(*) FROM standings w INDEXED BY standings_slack "
        f"WHERE {where} GROUP BY 1, 2",
        values,
    )


def slack_meshes(db: Database, slack: Slack) -> list[tuple[str, int]]:
    """How many frames are too slack by mesh as labelled, in the order of counts."""
    found: dict[str, tuple[float, int]] = {}
    for _standing, mesh, count, number in slack_counts(db, slack):
        lowest, before = found.get(mesh, (count, 0))
        found[mesh] = min(lowest, count), before + number
    return [(mesh, found[mesh][1]) for mesh in sorted(found, key=lambda mesh: (found[mesh][0], mesh))]


@dataclass(frozen=True, slots=True)
class InventoryRow:
    """A line of the inventory. `missing`: a stock-take did not find it."""

    id: int
    code: Code
    mark: str
    mesh: str
    thread_um: float | None
    frame: str
    standing: str
    since: str
    place: int | None
    minimum_n_per_cm: float | None
    tension_at: str
    uses: int
    impressions: int
    missing: int


_ROW = (
    "s.id, s.code, w.mark, w.mesh, w.thread_um, w.frame, w.standing, w.since, w.place, w.minimum_n_per_cm, "
    "w.tension_at, w.uses, w.impressions, w.not_at IS NOT NULL"
)


@dataclass(frozen=True, slots=True)
class InventoryAsked:
    """What the inventory is asked for; empty or None: any. Counts are per cm, from low to high; `there`: without those
    that a stock-take did not find, nor, of frames that could take an image, those that are too slack (`slack`). `only`:
    of these numbers."""

    standing: str = ""
    count_low: float | None = None
    count_high: float | None = None
    place: int | None = None
    separation: int | None = None
    job: int | None = None
    due: str = ""
    tension_before: str = ""
    coated_before: str = ""
    idle_before: str = ""
    stencils_over: int = 10**9
    there: bool = False
    kept_before: str = ""
    slack: Slack | None = None
    only: tuple[int, ...] | None = None


IN_ORDER: Mapping[str, Order] = {
    "mark": Order("w.mark_key", "standings_in_mark", blank=True),
    "mesh": Order("w.count_per_cm", "standings_by_mesh", number=True, empty=True),
    "stage": Order("w.standing", "standings_by_standing"),
    "tension": Order("w.minimum_n_per_cm", "standings_in_tension", number=True, empty=True),
    "measured": Order("w.tension_at", "standings_in_measured", blank=True),
    "uses": Order("w.uses", "standings_in_uses", number=True),
}
"""What screens can be listed by, besides their numbers."""


def place_of(db: Database, order: str, down: bool, screen: int, back: bool = False) -> PageStart:
    """Where a page begins that goes on behind a screen (0: at the top) or, `back`, ends before it, as it stands now."""
    by_it = IN_ORDER.get(order)
    if not screen:
        return PageStart(down)
    if by_it is None:
        return PageStart(down, (None, screen), back)
    row = db.execute(f"SELECT {by_it.column} FROM standings w WHERE w.screen = ?", [screen]).fetchone()
    return PageStart(down, (row[0], screen), back) if row else PageStart(down)


def in_order(db: Database, wanted: InventoryAsked, order: str, place: PageStart, limit: int = 50) -> list[InventoryRow]:
    """A page of screens in an order. Where nothing narrows them down they are read straight out of its index; else
    SQLite chooses, and puts the few in order."""
    by_it = IN_ORDER.get(order)
    tables, where, values = _narrowed(wanted)
    if by_it and not where:
        tables = f"standings w INDEXED BY {by_it.indexed} CROSS JOIN screens s ON s.id = w.screen"

    def ask(condition: str, more: list[Any], most: int) -> list[InventoryRow]:
        all_of_it = " AND ".join([*where, condition])
        way = way_of(by_it, "w.screen", place)
        sql = f"SELECT {_ROW} FROM {tables} WHERE {all_of_it} ORDER BY {way} LIMIT ?"
        return [InventoryRow(*row) for row in db.execute(sql, [*values, *more, most]).fetchall()]

    return page_of(ask, parts(by_it, "w.screen", place), place, limit)


def inventory(db: Database, wanted: InventoryAsked, after: int = 0, limit: int = 50) -> list[InventoryRow]:
    """A page of screens in the order of their numbers, from the number after `after` on."""
    return in_order(db, wanted, "", PageStart(key=(None, after)), limit)


def _narrowed(wanted: InventoryAsked) -> tuple[str, list[str], list[Any]]:
    """The tables, conditions and values of what the inventory is asked for."""
    tables = "screens s JOIN standings w ON w.screen = s.id"
    where, values = list[str](), list[Any]()
    if wanted.standing:
        several = wanted.standing.split(",")
        where.append(f"w.standing IN ({', '.join('?' * len(several))})")
        values += several
    if wanted.there:
        where.append("w.not_at IS NULL")
    if wanted.there and wanted.slack is not None and set(wanted.standing.split(",")) & set(COULD_TAKE):
        loose, more = wanted.slack.where()
        where.append(f"NOT (w.standing IN {COULD_TAKE} AND {loose})")
        values += more
    if wanted.only is not None:
        where.append(f"s.id IN ({', '.join('?' * len(wanted.only))})")
        values += wanted.only
    if wanted.count_low is not None:
        where.append("w.count_per_cm BETWEEN ? AND ?")
        values += [wanted.count_low, wanted.count_high]
    if wanted.place is not None:
        where.append("w.place = ?")
        values.append(wanted.place)
    if wanted.separation is not None:
        where.append("s.id IN (SELECT screen FROM carries WHERE separation = ?)")
        values.append(wanted.separation)
    if wanted.job is not None:
        where.append(
            "s.id IN (SELECT c.screen FROM carries c JOIN stations t ON t.separation = c.separation WHERE t.job = ?)"
        )
        values.append(wanted.job)
    if wanted.due == "tension":
        where.append("w.standing NOT IN ('retired', 'away') AND (w.tension_at < ? OR w.stencils_since > ?)")
        values += [wanted.tension_before, wanted.stencils_over]
    elif wanted.due == "coated":
        where.append("w.standing = 'coated' AND w.coated_at < ?")
        values.append(wanted.coated_before)
    elif wanted.due == "idle":
        where.append(f"w.standing IN ({', '.join('?' * len(MAY_LIE))}) AND w.since < ? AND w.not_at IS NULL")
        values += [*MAY_LIE, wanted.idle_before]
    elif wanted.due in BY_LOG:
        where.append(BY_LOG[wanted.due])
    elif wanted.due == "keep":
        where.append("w.standing = 'kept' AND w.keep_until > '' AND w.keep_until < ?")
        values.append(wanted.kept_before)
    elif wanted.due == SLACK:
        tables = "standings w INDEXED BY standings_slack JOIN screens s ON s.id = w.screen"
        loose, more = (wanted.slack or Slack()).where()
        where, values = [loose, *where], [*more, *values]
    return tables, where, values


UNNAMED = "unnamed"
NOT_NAMED = (
    f"w.standing IN ({', '.join(sorted(repr(str(one)) for one in TO_NAME))}) "
    "AND NOT EXISTS (SELECT 1 FROM carries c WHERE c.screen = w.screen) "
    f"AND coalesce(json_extract(w.life, '$.stencil.purpose'), '') <> '{TEST_STRIP}'"
)
"""Of a row of `standings` (w): it has an image that nobody named, and may print still (`needs.nameless`)."""
BY_LOG = {"unclear": "w.conflict = 1", UNNAMED: NOT_NAMED, "missing": "w.not_at IS NOT NULL"}
"""What screens are due for by the log alone, whatever the time and the limits."""

MAY_LIE = tuple(
    str(one)
    for one in Standing
    if one not in {Standing.RETIRED, Standing.AWAY, Standing.UNKNOWN, Standing.KEPT, Standing.ON_PRESS}
)
"""Stages at which a frame that stays there is idle: whatever it is used for changes its stage. Kept ones have a rule of
their own (`keep-days`)."""

BY_MARK = "SELECT screen FROM standings WHERE mark_key = ? AND mark_key <> '' ORDER BY screen LIMIT 20"
"""`<> ''` says that the index of the marks that are there will do."""


@once
def by_mark(db: Database, mark: str) -> list[int]:
    """The screens with a painted mark (case, spaces and hyphens do not matter)."""
    key = mark_key(mark)
    if not key:
        return []
    return [row[0] for row in db.execute(BY_MARK, [key]).fetchall()]


def by_mark_asked(db: Database, marks: Sequence[str]) -> Question:
    """The question for the screens with some painted marks, to be asked with others."""

    def take(rows: list[Any]) -> None:
        found = {mark: sorted(number for number, key in rows if key == mark_key(mark))[:20] for mark in marks}
        known(db, by_mark, found)

    sql = "SELECT screen, mark_key FROM standings WHERE mark_key <> '' AND mark_key IN (SELECT value FROM json_each(?))"
    return Question(sql, [json.dumps([mark_key(one) for one in marks])], 2, take)


def marks_alike(db: Database, mark: str, limit: int = 8) -> list[int]:
    """The screens whose painted mark ends in the same number, zeros before it aside (`H 02` for `h 2`)."""
    asked = re.search(r"[0-9]+$", mark_key(mark))
    if asked is None or len(asked.group()) > 6:
        return []
    number = counted(asked.group())
    rows = db.execute(
        "SELECT screen, mark_key FROM standings WHERE mark_key LIKE ? AND standing <> 'retired' ORDER BY screen",
        [f"%{number}"],
    )
    found = []
    for screen, key in rows:
        ending = re.search(r"[0-9]+$", key)
        if ending is not None and counted(ending.group()) == number:
            found.append(screen)
            if len(found) == limit:
                break
    return found


def at_place(db: Database, place: int, limit: int = 500, after: int = 0) -> list[Screen]:
    """What is at a place now, in the order of their numbers, from the number after `after` on."""
    rows = db.execute(
        "SELECT s.id, s.code, w.life FROM standings w JOIN screens s ON s.id = w.screen "
        "WHERE w.place = ? AND w.screen > ? AND w.standing <> 'retired' ORDER BY w.screen LIMIT ?",
        [place, after, limit],
    ).fetchall()
    return [Screen(row[0], Code(row[1]), Life.from_dict(json.loads(row[2]))) for row in rows]


def count_at(db: Database, there: Sequence[int]) -> dict[int, int]:
    """How many screens are at each of these places."""
    marks = ", ".join("?" * len(there))
    asked = f"SELECT place, count(*) FROM standings WHERE place IN ({marks}) AND standing <> 'retired' GROUP BY place"
    return dict(db.execute(asked, list(there)).fetchall())


def carried_anywhere(db: Database, separations: list[int]) -> set[int]:
    """Those of `separations` that some screen carries now."""
    marks = ", ".join("?" * len(separations))
    rows = db.execute(f"SELECT DISTINCT separation FROM carries WHERE separation IN ({marks})", separations).fetchall()
    return {row[0] for row in rows}


def last_values(db: Database, step: str, mesh: str = "", among: int = 200, until: str = "") -> dict[str, Any]:
    """The values of the newest entry of a step, on whatever screen (or one that now has `mesh`), among the newest
    entries of the whole log: a habit is what was done lately, and the log may be long. `until`: the habit of then.

    Worked out again once an entry was added; not to be changed in place."""
    name = f"last values: {step} {mesh}"
    return while_log_stays(db, name, (among, until), lambda: _last_values(db, step, mesh, among, until))


def _last_values(db: Database, step: str, mesh: str, among: int, until: str) -> dict[str, Any]:
    has_mesh = "AND EXISTS (SELECT 1 FROM standings w WHERE w.screen = n.screen AND w.mesh = ?)" if mesh else ""
    row = db.execute(
        "SELECT n.vals FROM (SELECT id, at, step, screen, entry, vals FROM entries WHERE at <= ? "
        "ORDER BY at DESC, id DESC LIMIT ?) n "
        "WHERE n.step = ? AND NOT EXISTS (SELECT 1 FROM entries c WHERE c.crosses = n.entry) "
        f"{has_mesh} ORDER BY n.at DESC, n.id DESC LIMIT 1",
        [until or "~", among, step, *([mesh] if mesh else [])],
    ).fetchone()
    return json.loads(row[0]) if row else {}


def usual_frame_size(db: Database, among: int = 200) -> str:
    """The size that most of the newest frames have, of those whose size was noted; empty: of none. Asked again once
    an entry was added."""
    return while_log_stays(db, "usual frame size", among, lambda: _usual_frame_size(db, among))


def _usual_frame_size(db: Database, among: int) -> str:
    row = db.execute(
        "SELECT size FROM (SELECT json_extract(life, '$.mesh.frame_size_mm') AS size FROM standings "
        "WHERE standing <> 'retired' ORDER BY screen DESC LIMIT ?) "
        "WHERE size <> '' GROUP BY size ORDER BY count(*) DESC, size LIMIT 1",
        [among],
    ).fetchone()
    return str(row[0]) if row else ""


@once
def carrying(db: Database, separation: int, limit: int = CARRIERS) -> list[Screen]:
    """The screens that carry a separation now."""
    rows = db.execute(
        "SELECT s.id, s.code, w.life FROM carries c JOIN screens s ON s.id = c.screen "
        "JOIN standings w ON w.screen = c.screen WHERE c.separation = ? ORDER BY c.screen LIMIT ?",
        [separation, limit],
    ).fetchall()
    found = [_screen(row) for row in rows]
    known(db, get, {one.id: one for one in found})
    return found


def carrying_ahead(db: Database, separations: Iterable[int]) -> None:
    """The carriers of many separations, for a page that asks for those of each."""
    if new := unasked(db, carrying, separations):
        all_at_once(db, [carrying_asked(db)], [Common.numbers("images", "image", new)])


def some_at(db: Database, standing: str, limit: int) -> list[Screen]:
    """A few screens of a stage that are there."""
    rows = db.execute(
        "SELECT s.id, s.code, w.life FROM standings w JOIN screens s ON s.id = w.screen WHERE w.standing = ? "
        f"AND w.screen NOT IN ({NOT_THERE}) LIMIT ?",
        [standing, limit],
    ).fetchall()
    return [Screen(row[0], Code(row[1]), Life.from_dict(json.loads(row[2]))) for row in rows]


def newest_at(db: Database, standing: str, since: str, limit: int) -> list[tuple[int, str]]:
    """The screens that came to a stage since a time and are there still, the last first: (number, since when)."""
    sql = "SELECT screen, since FROM standings WHERE standing = ? AND since >= ? ORDER BY since DESC LIMIT ?"
    return db.execute(sql, [standing, since, limit]).fetchall()


def carrying_wanted(db: Database, standings: Iterable[str], limit: int = 300) -> list[Screen]:
    """Screens of some stages, at most so many of each, that carry an image which some open job asks for, or a job with
    a run under way: those that may be needed still."""
    of_one = (
        "SELECT s.id, s.code, w.life FROM standings w JOIN screens s ON s.id = w.screen WHERE w.standing = ? "
        "AND EXISTS (SELECT 1 FROM carries c "
        "JOIN stations t ON t.separation = c.separation JOIN jobs j ON j.id = t.job WHERE c.screen = w.screen "
        "AND (j.closed_at IS NULL OR EXISTS (SELECT 1 FROM runs r WHERE r.job = j.id AND r.done_at IS NULL))) "
        "ORDER BY w.screen LIMIT ?"
    )
    values = [value for standing in standings for value in (standing, limit)]
    if not values:
        return []
    rows = db.execute(together([of_one] * (len(values) // 2)), values).fetchall()
    found = [Screen(row[0], Code(row[1]), Life.from_dict(json.loads(row[2]))) for row in rows]
    known(db, get, {one.id: one for one in found})
    return found


@once
def missing(db: Database) -> list[tuple[str, str, Alike]]:
    """The frames that a stock-take did not find, each by itself: standing, mesh as labelled, the frame."""
    return _stock(db, None)[1]


@once
def _counted(db: Database) -> list[tuple[str, str, float | None, int]]:
    return _stock(db, None)[0]


Stock = tuple[list[tuple[str, str, float | None, int]], list[tuple[str, str, Alike]], list[tuple[str, str, float, int]]]


def _stock(db: Database, slack: Slack | None) -> Stock:
    """What the shop has, in one question: how many screens by standing and mesh (in the order of counts), the
    missing ones, the slack ones."""
    parts = [
        "SELECT 0, standing, mesh, count_per_cm, screens, NULL, NULL, NULL FROM counts WHERE screens > 0",
        "SELECT 1, standing, mesh, count_per_cm, NULL, thread_um, frame, minimum_n_per_cm FROM standings "
        "INDEXED BY standings_missing WHERE not_at IS NOT NULL",
    ]
    values: list[Any] = []
    if slack is not None:
        loose, values = _slack_counts(slack)
        parts.append(f"SELECT 2, *, NULL, NULL, NULL FROM ({loose})")
    found: tuple[list[Any], list[Any], list[Any]] = ([], [], [])
    for which, standing, mesh, count, number, *frame in db.execute(together(parts), values).fetchall():
        found[which].append((standing, mesh, Alike(count, *frame)) if which == 1 else (standing, mesh, count, number))
    found[0].sort(key=lambda one: (one[2] is not None, one[2] or 0.0, one[1], one[0]))
    known(db, _counted, {(): found[0]})
    known(db, missing, {(): found[1]})
    if slack is not None:
        known(db, slack_counts, {slack: found[2]})
    return found


@once
def counts(db: Database, slack: Slack | None = None) -> list[tuple[str, str, float | None, int]]:
    """Screens by standing and mesh: (standing, mesh as labelled, count per cm, screens). Those that a stock-take did
    not find are none of their standing: they stand under `MISSING`. So do frames that could take an image but for their
    tension, where `slack` says which are too slack: under `SLACK`."""
    there, lost_ones, loose_ones = _stock(db, slack) if slack else (_counted(db), missing(db), [])
    gone = Counter((standing, mesh) for standing, mesh, _frame in lost_ones)
    too_slack = {one[:2]: one[3] for one in loose_ones if one[0] in COULD_TAKE}
    found: dict[tuple[str, str, float | None], int] = {}
    for standing, mesh, count, number in there:
        lost, loose = gone.get((standing, mesh), 0), too_slack.get((standing, mesh), 0)
        for name, some in ((standing, number - lost - loose), (SLACK, loose), (MISSING, lost)):
            if some:
                found[name, mesh, count] = found.get((name, mesh, count), 0) + some
    return [(*key, number) for key, number in found.items()]
