"""The manager's questions: traces of lots, the pool, what goes wrong, kept screens.

Each is answered from an index, bounded by a window of time and a number of rows, so that a shop of a million entries
answers like a small one.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import partial
from operator import itemgetter
from typing import Any

from sqlite_utils import Database

from tickets.domain.bucket import Bucket
from tickets.domain.code import Code
from tickets.domain.desk.reclaim import ReclaimEvent
from tickets.domain.runs.run_trace import InkLot, RunTrace, ShownCaution, Upset
from tickets.domain.screens.frames import Alike
from tickets.domain.screens.tracing import UNNAMED, StencilLife
from tickets.domain.separation import Separation
from tickets.domain.stages import STENCIL_ON, Standing
from tickets.store import buckets, finding
from tickets.store.placed import Placed, save_placed
from tickets.store.reads import Question, ahead, ask_together, once, together
from tickets.store.screens import COULD_TAKE, NOT_THERE, Slack, missing

# Runs, worked out ---------------------------------------------------------------------------------------------------


_RUN: dict[str, tuple[type[Any], tuple[str, ...]]] = {
    table: (kind, tuple(field.name for field in fields(kind)))
    for table, kind in {"upsets": Upset, "ink_lots": InkLot, "cautions": ShownCaution}.items()
}
"""The tables of a run, each named like its field of RunTrace."""


def save_run(db: Database, run: int, trace: RunTrace, was: RunTrace | None = None, first: int = 0) -> None:
    """Writes what is worked out of one run beside its story; what `was` so already is not written again (None: what
    stands in the file). `first`: the place of the first of the upsets, where a run was led on."""
    was = was or saved_run(db, run)
    for table, (_kind, columns) in _RUN.items():
        there, rows, start = getattr(was, table), getattr(trace, table), first if table == "upsets" else 0
        save_placed(db, table, columns, "run", [Placed(run, there, rows, start)])
    lots, before = ({one.lot for one in some.ink_lots} for some in (trace, was))
    finding.settle(db, lot=(lots ^ before) - {""})


def saved_run(db: Database, run: int) -> RunTrace:
    """What is worked out of one run, as it is in the file."""
    rows: dict[str, list[Any]] = {}
    questions = [
        Question(
            f"SELECT place, {', '.join(columns)} FROM {table} WHERE run = ?",
            [run],
            len(columns) + 1,
            partial(rows.__setitem__, table),
        )
        for table, (_kind, columns) in _RUN.items()
    ]
    ask_together(db, questions)
    found = {table: sorted(some, key=itemgetter(0)) for table, some in rows.items()}
    return RunTrace(
        **{table: tuple(kind(*row[1:]) for row in found[table]) for table, (kind, _columns) in _RUN.items()}
    )


# Limits that nag ----------------------------------------------------------------------------------------------------


def warned(db: Database, runs: int) -> list[tuple[int, ShownCaution]]:
    """What the newest set-ups were warned of: (run, what), of so many runs at most."""
    rows = db.execute(
        "SELECT run, key, row, value FROM cautions WHERE run > (SELECT coalesce(max(run), 0) - ? FROM cautions)", [runs]
    ).fetchall()
    return [(row[0], ShownCaution(*row[1:])) for row in rows]


# Traces -------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Traced:
    """One line of a trace: a stencil coated from a bucket, and one run that it printed (None: none yet).

    `stencil` is its place among the screen's stencils, from 0; `mesh_number` and `number` are how the log counts it:
    which of the screen's meshes, and which stencil of that mesh, from 1. `impressions` are those of this run; `now`: it
    is still on.
    """

    bucket: int | None
    bucket_code: str
    lot: str
    screen: int
    code: Code
    mark: str
    mesh: str
    stencil: int | None
    coated_at: str
    washed_at: str
    faults: str
    separations: str
    now: bool
    run: int | None = None
    station: int | None = None
    run_at: str = ""
    impressions: int = 0
    press: str = ""
    job: int | None = None
    job_code: str = ""
    job_title: str = ""
    customer: str = ""
    mesh_number: int | None = None
    number: int | None = None


_TRACED = (
    "b.id, coalesce(b.code, ''), coalesce(b.lot, ''), s.id, s.code, coalesce(w.mark, ''), coalesce(t.mesh_label, ''), "
    "{stencil}, coalesce({at}, ''), coalesce(t.washed_at, ''), coalesce(t.faults, ''), coalesce(t.separations, ''), "
    "coalesce(t.ended_at = '', 0), h.run, h.station, coalesce(h.at, ''), coalesce(h.impressions, 0), "
    "coalesce(p.name, ''), j.id, coalesce(j.code, ''), coalesce(j.title, ''), coalesce(j.customer, ''), "
    "t.mesh, t.number"
)


def _traced(row: Sequence[object]) -> Traced:
    values = list(row)
    values[4], values[12] = Code(str(values[4])), bool(values[12])
    return Traced(*values)  # type: ignore[arg-type]


def from_bucket(db: Database, buckets: Sequence[int], limit: int = -1) -> list[Traced]:
    """What was coated from these buckets, oldest coat first: each stencil with each run that it printed.

    A stencil of several coats from one bucket is one line; `limit` below 0: all.
    """
    columns = _TRACED.format(stencil="c.stencil", at="min(c.at)")
    rows = db.execute(
        f"SELECT {columns} FROM coats c JOIN buckets b ON b.id = c.bucket JOIN screens s ON s.id = c.screen "
        "LEFT JOIN standings w ON w.screen = c.screen "
        "LEFT JOIN stencils t ON t.screen = c.screen AND t.place = c.stencil "
        "LEFT JOIN hangings h ON h.screen = c.screen AND h.stencil = c.stencil "
        "LEFT JOIN runs r ON r.id = h.run LEFT JOIN places p ON p.id = r.press LEFT JOIN jobs j ON j.id = r.job "
        f"WHERE c.bucket IN ({', '.join('?' * len(buckets))}) "
        "GROUP BY c.bucket, c.screen, c.stencil, h.place ORDER BY min(c.at), c.screen, h.at LIMIT ?",
        [*buckets, limit],
    ).fetchall()
    return [_traced(row) for row in rows]


def to_buckets(db: Database, job: int, limit: int = -1) -> list[Traced]:
    """Back from a job: each screen that hung in its runs, newest run first, with each bucket of its stencil (None: not
    noted)."""
    columns = _TRACED.format(stencil="h.stencil", at="min(c.at)")
    rows = db.execute(
        f"SELECT {columns} FROM runs r JOIN hangings h ON h.run = r.id JOIN screens s ON s.id = h.screen "
        "JOIN jobs j ON j.id = r.job JOIN places p ON p.id = r.press LEFT JOIN standings w ON w.screen = h.screen "
        "LEFT JOIN stencils t ON t.screen = h.screen AND t.place = h.stencil "
        "LEFT JOIN coats c ON c.screen = h.screen AND c.stencil = h.stencil LEFT JOIN buckets b ON b.id = c.bucket "
        "WHERE r.job = ? GROUP BY h.screen, h.place, c.bucket ORDER BY r.id DESC, h.station, s.id LIMIT ?",
        [job, limit],
    ).fetchall()
    return [_traced(row) for row in rows]


def carrying_now(db: Database, job: int, limit: int = 200) -> list[Traced]:
    """Screens that carry an image of a job now, each once, with the last bucket of their stencil and the last run that
    the stencil hung in, of whatever job (None: it never hung)."""
    columns = _TRACED.format(stencil="t.place", at="t.coated_at")
    rows = db.execute(
        f"SELECT {columns} FROM screens s JOIN standings w ON w.screen = s.id "
        "JOIN stencils t ON t.screen = s.id AND t.place = (SELECT max(place) FROM stencils WHERE screen = s.id) "
        "LEFT JOIN buckets b ON b.id = t.bucket LEFT JOIN hangings h ON h.screen = s.id AND h.place = "
        "(SELECT max(place) FROM hangings WHERE screen = s.id AND stencil = t.place) "
        "LEFT JOIN runs r ON r.id = h.run LEFT JOIN places p ON p.id = r.press LEFT JOIN jobs j ON j.id = r.job "
        "WHERE s.id IN (SELECT c.screen FROM stations q JOIN carries c ON c.separation = q.separation WHERE q.job = ?) "
        "ORDER BY s.id LIMIT ?",
        [job, limit],
    ).fetchall()
    return [_traced(row) for row in rows]


@dataclass(frozen=True, slots=True)
class InkUse:
    """A run that was printed with an ink bucket or a maker's lot. `station` 0: the whole run (a garment lot).
    `good`, `misprinted`: the pieces that took it there; `unsure`, `more`, `counts`: as of `run_trace.InkLot`."""

    run: int
    station: int
    bucket: str
    lot: str
    at: str
    press: str
    job: int
    job_code: str
    job_title: str
    customer: str
    good: int
    misprinted: int
    unsure: int = 0
    more: int = 0
    counts: str = ""


_INK_USE = (
    "SELECT r.id, i.station, i.bucket, i.lot, r.opened_at, p.name, j.id, j.code, j.title, j.customer, "
    "i.good, i.misprinted, i.unsure, i.more, i.counts "
    "FROM ink_lots i JOIN runs r ON r.id = i.run JOIN jobs j ON j.id = r.job JOIN places p ON p.id = r.press WHERE "
)


def ink_uses(db: Database, *, bucket: str = "", lot: str = "", job: int | None = None, limit: int = -1) -> list[InkUse]:
    """The runs of an ink bucket (its code), of a maker's lot, or the lots of a job's runs; newest run first."""
    where, value = "r.job = ?", bucket or lot or job
    if bucket or lot:  # `<> ''` says that the index of those that are noted will do
        noted = "bucket" if bucket else "lot"
        where = f"i.{noted} = ? AND i.{noted} <> ''"
    rows = db.execute(f"{_INK_USE} {where} ORDER BY r.id DESC, i.station LIMIT ?", [value, limit]).fetchall()
    return [InkUse(*row) for row in rows]


def buckets_of_lot(db: Database, lot: str) -> list[Bucket]:
    """The buckets mixed from a maker's lot, newest first."""
    noted = f"SELECT {buckets.COLUMNS} FROM buckets WHERE lot = ? AND lot <> ''"
    rows = db.execute(f"{noted} ORDER BY id DESC LIMIT 500", [lot]).fetchall()
    return [Bucket(*row) for row in rows]


def lots(db: Database, names: Sequence[str]) -> list[tuple[str, int, int, int]]:
    """Of each of these lots: how many buckets were mixed from it, how many runs it was the ink of, of how many it was
    the garments: (lot, buckets, runs, runs)."""
    rows = db.execute(
        "SELECT n.value, (SELECT count(*) FROM buckets WHERE lot = n.value AND lot <> ''), "
        "count(DISTINCT CASE WHEN i.station <> 0 THEN i.run END), "
        "count(DISTINCT CASE WHEN i.station = 0 THEN i.run END) "
        "FROM json_each(?) n LEFT JOIN ink_lots i ON i.lot = n.value AND i.lot <> '' GROUP BY n.key ORDER BY n.key",
        [json.dumps(list(names))],
    ).fetchall()
    return [(row[0], row[1], row[2], row[3]) for row in rows]


def coats_of(db: Database, bucket: int) -> tuple[int, int, str]:
    """What a bucket coated: how many stencils, how many of them had a fault at washout or check, and when last."""
    row = db.execute("SELECT stencils, faulty FROM coated WHERE bucket = ?", [bucket]).fetchone()
    last = db.execute("SELECT max(at) FROM coats WHERE bucket = ?", [bucket]).fetchone()[0]
    return (row[0], row[1], last or "") if row else (0, 0, "")


_STENCIL = ", ".join(field.name for field in fields(StencilLife))


# One screen's life --------------------------------------------------------------------------------------------------


def stencils_of(db: Database, screen: int, before: int | None = None, limit: int = 10) -> list[tuple[int, StencilLife]]:
    """A screen's stencils, newest first, each with its place from 0; `before`: the place of the last one shown."""
    where, values = ("AND place < ?", [before]) if before is not None else ("", [])
    rows = db.execute(
        f"SELECT place, {_STENCIL} FROM stencils WHERE screen = ? {where} ORDER BY place DESC LIMIT ?",
        [screen, *values, limit],
    ).fetchall()
    return [(row[0], StencilLife(*row[1:])) for row in rows]


def printed_by_day(db: Database, screen: int) -> list[tuple[str, int]]:
    """A screen's times on a press: (when it was hung, impressions), oldest first."""
    rows = db.execute("SELECT at, impressions FROM hangings WHERE screen = ? ORDER BY place", [screen]).fetchall()
    return [(row[0], row[1]) for row in rows]


def ends_of(db: Database, screen: int) -> list[tuple[str, str, str]]:
    """A screen's stencils for a picture: (begun, ended, faults), oldest first."""
    rows = db.execute(
        "SELECT begun_at, ended_at, faults FROM stencils WHERE screen = ? ORDER BY place", [screen]
    ).fetchall()
    return [(row[0], row[1], row[2]) for row in rows]


@dataclass(frozen=True, slots=True)
class TimeOnPress:
    """One time on a press, with the run's job."""

    stencil: int | None
    run: int
    head: int | None
    station: int | None
    at: str
    off_at: str
    impressions: int
    press: str
    job_code: str
    job_title: str


def printed_by(db: Database, screen: int, stencils: Sequence[int]) -> list[TimeOnPress]:
    """The times on a press of some of a screen's stencils, oldest first."""
    marks = ", ".join("?" * len(stencils))
    rows = db.execute(
        "SELECT h.stencil, h.run, h.head, h.station, h.at, h.off_at, h.impressions, coalesce(p.name, ''), "
        "coalesce(j.code, ''), coalesce(j.title, '') FROM hangings h LEFT JOIN runs r ON r.id = h.run "
        "LEFT JOIN places p ON p.id = r.press LEFT JOIN jobs j ON j.id = r.job "
        f"WHERE h.screen = ? AND h.stencil IN ({marks}) ORDER BY h.place",
        [screen, *stencils],
    ).fetchall()
    return [TimeOnPress(*row) for row in rows]


def coated_from(db: Database, limit: int = 1000) -> dict[int, int]:
    """How many screens stand coated from each bucket, of the first thousand coated ones."""
    rows = db.execute(
        "SELECT bucket, count(*) FROM (SELECT coated_from AS bucket FROM standings "
        "INDEXED BY standings_coated_from WHERE standing = 'coated' LIMIT ?) WHERE bucket IS NOT NULL GROUP BY bucket",
        [limit],
    ).fetchall()
    return dict(rows)


# The pool -----------------------------------------------------------------------------------------------------------

MOST = 1200
"""The newest rows that a figure is worked out from, at most."""
MOST_STAYS = 500


@once
def stays(db: Database, standing: str, since: str, limit: int = MOST_STAYS) -> list[float]:
    """How long the newest stays at a standing that ended since a time took, in hours."""
    return _several_stays(db, [(standing, since, limit)])[standing, since, limit]


_stays = stays


def stays_ahead(db: Database, standings: Iterable[str], since: str, limit: int) -> None:
    """The newest stays at several standings, for a page that asks for those of each."""
    ahead(db, _stays, [(one, since, limit) for one in standings], lambda new: _several_stays(db, new))


def _several_stays(db: Database, asked: Sequence[tuple[str, str, int]]) -> dict[tuple[str, str, int], list[float]]:
    of_one = (
        "SELECT standing, hours FROM stays WHERE standing = ? AND until <> '' AND until >= ? "
        "ORDER BY until DESC LIMIT ?"
    )
    found: dict[str, list[float]] = {one[0]: [] for one in asked}
    for standing, hours in db.execute(together([of_one] * len(asked)), [value for one in asked for value in one]):
        found[standing].append(hours)
    return {one: found[one[0]] for one in asked}


OfMesh = tuple[float | None, float | None]
"""A mesh without its label: count per cm and thread in um (None: not known)."""


@once
def begun(db: Database, since: str, limit: int = MOST) -> list[tuple[str, OfMesh, str]]:
    """The newest stencils begun since a time: (when, mesh, its label), newest first."""
    rows = db.execute(
        "SELECT t.begun_at, t.count_per_cm, m.thread_um, t.mesh_label FROM stencils t LEFT JOIN meshes m "
        "ON m.screen = t.screen AND m.number = t.mesh WHERE t.begun_at >= ? ORDER BY t.begun_at DESC LIMIT ?",
        [since, limit],
    ).fetchall()
    return [(row[0], (row[1], row[2]), row[3]) for row in rows]


@once
def ended(db: Database, since: str, limit: int = MOST) -> list[tuple[float, OfMesh, str, str]]:
    """The newest stencils ended since a time: (hours from their beginning, mesh, its label, when)."""
    rows = db.execute(
        "SELECT t.turnaround_h, t.count_per_cm, m.thread_um, t.mesh_label, t.ended_at FROM stencils t "
        "LEFT JOIN meshes m ON m.screen = t.screen AND m.number = t.mesh WHERE t.ended_at <> '' AND t.ended_at >= ? "
        "ORDER BY t.ended_at DESC LIMIT ?",
        [since, limit],
    ).fetchall()
    return [(row[0], (row[1], row[2]), row[3], row[4]) for row in rows]


_ON = ", ".join(f"'{standing}'" for standing in sorted({*STENCIL_ON, Standing.AWAY, Standing.UNKNOWN}))


@once
def on_frames(db: Database, since: str) -> list[tuple[OfMesh, str, str, str]]:
    """The stencils that are on a frame still, and those that were given up with it since a time: (mesh, its label,
    begun when, until when the frame was of use). A frame that is retired or to be restretched is given up then; one
    that a stock-take did not find, from then on; empty: it is on."""
    asked = (
        "SELECT w.count_per_cm, w.thread_um, w.mesh, t.begun_at, {until} FROM standings w "
        "JOIN stencils t ON t.screen = w.screen AND t.ended_at = '' WHERE w.standing IN ({which})"
    )
    until = f"CASE WHEN w.screen IN ({NOT_THERE}) THEN max(t.begun_at, w.place_since) ELSE '' END"
    gone = asked.format(until="w.since", which="'retired', 'to restretch'") + " AND w.since >= ?"
    rows = db.execute(together([asked.format(until=until, which=_ON), gone]), [since]).fetchall()
    return [((row[0], row[1]), *row[2:]) for row in rows]


@once
def in_work(db: Database, since: str, limit: int = MOST) -> list[tuple[OfMesh, str, str, str]]:
    """The times in which frames were not free though no stencil was on, of those that ended since a time the newest:
    degreased and drying, to be restretched, away; (mesh, its label, from when, until when; empty: still)."""
    bare = (
        "s.standing <> 'away' OR NOT EXISTS (SELECT 1 FROM stencils t WHERE t.screen = s.screen "
        "AND t.begun_at <= s.since AND (t.ended_at = '' OR t.ended_at > s.since))"
    )
    before = (
        "SELECT s.count_per_cm, (SELECT m.thread_um FROM meshes m WHERE m.screen = s.screen "
        "AND m.stretched_at <= s.since ORDER BY m.number DESC LIMIT 1), s.mesh, s.since, s.until FROM stays s "
        f"WHERE s.standing = ? AND s.until <> '' AND s.until >= ? AND ({bare}) ORDER BY s.until DESC LIMIT ?"
    )
    now = (
        "SELECT s.count_per_cm, s.thread_um, s.mesh, s.since, '' FROM standings s "
        f"WHERE s.standing = ? AND s.screen NOT IN ({NOT_THERE}) AND ({bare})"
    )
    stages = ("degreased", "to restretch", "away")
    values = [value for one in stages for value in (one, since, limit, one)]
    rows = db.execute(together([before, now] * len(stages)), values).fetchall()
    return [((row[0], row[1]), *row[2:]) for row in rows]


@once
def log_began(db: Database) -> str:
    """When the first entry was saved, or a stencil begun that was written down later (empty: neither yet). Days of
    stretching, which a list of frames may set years back, do not tell."""
    row = db.execute(
        "SELECT (SELECT saved_at FROM entries WHERE id = (SELECT min(id) FROM entries)), "
        "(SELECT min(begun_at) FROM stencils)"
    ).fetchone()
    return min((at for at in row if at), default="")


@once
def still_there(db: Database, standing: str) -> tuple[int, str]:
    """How many screens stand at a stage now, and since when the first of them (empty: none); without those that a
    stock-take did not find."""
    return _there(db, [standing])[standing]


_still_there = still_there


def still_there_ahead(db: Database, standings: Iterable[str]) -> None:
    """The same of several stages, for a page that asks for each."""
    ahead(db, _still_there, standings, lambda new: _there(db, new))


def _there(db: Database, standings: Sequence[str]) -> dict[str, tuple[int, str]]:
    rows = db.execute(
        "SELECT a.value, (SELECT sum(screens) FROM counts WHERE standing = a.value) - "
        f"(SELECT count(*) FROM standings WHERE screen IN ({NOT_THERE}) AND +standing = a.value), "
        f"(SELECT since FROM standings WHERE standing = a.value AND screen NOT IN ({NOT_THERE}) "
        "ORDER BY since LIMIT 1) FROM json_each(?) a",
        [json.dumps(list(standings))],
    ).fetchall()
    return {row[0]: (row[1] or 0, row[2] or "") for row in rows}


@once
def frames_by_mesh(db: Database) -> list[tuple[str, OfMesh, int, int]]:
    """Frames by standing and mesh, by an index alone: (standing, mesh, how many are there, how many more a stock-take
    did not find)."""
    rows = db.execute("SELECT standing, count_per_cm, thread_um, count(*) FROM standings GROUP BY 1, 2, 3").fetchall()
    gone = Counter((standing, frame.count_per_cm, frame.thread_um) for standing, _mesh, frame in missing(db))
    return [(*row[:1], row[1:3], row[3] - gone[row[:3]], gone[row[:3]]) for row in rows]


@once
def slack_by_mesh(db: Database, slack: Slack) -> list[tuple[str, OfMesh, int]]:
    """Frames that could take an image but for their tension, by standing and mesh: (standing, mesh, how many)."""
    where, values = slack.where()
    rows = db.execute(
        "SELECT w.standing, w.count_per_cm, w.thread_um, count(*) FROM standings w INDEXED BY standings_slack "
        f"WHERE {where} AND w.standing IN {COULD_TAKE} GROUP BY 1, 2, 3",
        values,
    ).fetchall()
    return [(row[0], (row[1], row[2]), row[3]) for row in rows]


def made_since(db: Database, since: str, limit: int = MOST) -> list[tuple[str, str]]:
    """When the newest stencils that became ready since a time were coated, and when ready; newest first."""
    return db.execute(
        "SELECT coated_at, ready_at FROM stencils WHERE ready_at <> '' AND ready_at >= ? AND coated_at <> '' "
        "ORDER BY ready_at DESC LIMIT ?",
        [since, limit],
    ).fetchall()


def coats_by_hour(db: Database, since: str) -> list[int]:
    """How many stencils were begun in each hour since a time in which any was."""
    sql = "SELECT count(*) FROM stencils WHERE begun_at >= ? GROUP BY substr(begun_at, 1, 13)"
    return [row[0] for row in db.execute(sql, [since]).fetchall()]


def made_ready(db: Database, since: str, limit: int = MOST) -> list[str]:
    """When the newest stencils since a time were ready for the press, newest first."""
    rows = db.execute(
        "SELECT ready_at FROM stencils WHERE ready_at <> '' AND ready_at >= ? ORDER BY ready_at DESC LIMIT ?",
        [since, limit],
    ).fetchall()
    return [row[0] for row in rows]


# What goes wrong ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SeenAlike:
    """Washouts, or checks, alike: of one exposure unit, emulsion (its bucket's number) and mesh, with one fault (empty:
    good), and how many they are."""

    exposure_unit: str
    bucket: int | None
    count_per_cm: float | None
    fault: str
    number: int


def seen(db: Database, table: str, since: str, limit: int = MOST) -> list[SeenAlike]:
    """The newest results in `washouts` or `checks` since a time, those alike put together; what has no result says
    nothing and is left out."""
    rows = db.execute(
        "SELECT exposure_unit, emulsion, count_per_cm, CASE WHEN result <> 'fault' THEN '' WHEN fault = '' THEN ? "
        "ELSE fault END AS fault, count(*) FROM (SELECT exposure_unit, emulsion, count_per_cm, result, fault "
        f"FROM {table} WHERE at >= ? AND result <> '' ORDER BY at DESC LIMIT ?) GROUP BY 1, 2, 3, 4",
        [UNNAMED, since, limit],
    ).fetchall()
    return [SeenAlike(*row) for row in rows]


def left_out(db: Database, since: str, limit: int = MOST) -> list[tuple[str, bool, int]]:
    """The newest stencils washed out since a time: (steps left out before, whether a fault was seen, how many)."""
    rows = db.execute(
        "SELECT missed, bad, count(*) FROM (SELECT missed, faults <> '' AS bad FROM stencils "
        "WHERE washed_at <> '' AND washed_at >= ? ORDER BY washed_at DESC LIMIT ?) GROUP BY 1, 2",
        [since, limit],
    ).fetchall()
    return [(row[0], bool(row[1]), row[2]) for row in rows]


@dataclass(frozen=True, slots=True)
class UpsetSum:
    """Stops, swaps, or counts, alike: of one press and cause; how many, and what they come to."""

    press: str
    step: str
    cause: str
    number: int
    minutes: float
    good: int
    misprinted: int


_NEWEST = "SELECT run, step, cause, minutes, good, misprinted FROM upsets WHERE at >= ? ORDER BY at DESC LIMIT ?"


def upset(db: Database, since: str, limit: int = MOST) -> list[UpsetSum]:
    """The newest stops, swaps and counts since a time, those alike put together."""
    rows = db.execute(
        "SELECT coalesce(p.name, ''), u.step, u.cause, sum(u.number), sum(u.minutes), sum(u.good), sum(u.misprinted) "
        "FROM (SELECT run, step, cause, count(*) AS number, coalesce(sum(minutes), 0) AS minutes, sum(good) AS good, "
        f"sum(misprinted) AS misprinted FROM ({_NEWEST}) GROUP BY 1, 2, 3) u JOIN runs r ON r.id = u.run "
        "LEFT JOIN places p ON p.id = r.press GROUP BY 1, 2, 3 ORDER BY 1, 2, 3",
        [since, limit],
    ).fetchall()
    return [UpsetSum(*row) for row in rows]


RECLAIMING = ("strip", "haze", "fault", "stretch", "retire")
"""Steps that say how reclaiming goes."""


def reclaiming(db: Database, since: str, until: str = "9999", limit: int = MOST) -> list[ReclaimEvent]:
    """The newest entries of each of those steps since a time, those crossed out left out; of faults, ghosts alone."""
    one = (
        "SELECT * FROM (SELECT screen, at, step, coalesce(json_extract(vals, '$.remover_s'), "
        "json_extract(vals, '$.haze_s')), coalesce(json_extract(vals, '$.kind'), json_extract(vals, '$.cause'), ''), "
        "entry FROM entries e WHERE step = ? AND at >= ? AND at < ? AND screen IS NOT NULL "
        "AND (step <> 'fault' OR json_extract(vals, '$.kind') = 'ghost') "
        "AND NOT EXISTS (SELECT 1 FROM entries c WHERE c.crosses = e.entry) ORDER BY at DESC LIMIT ?)"
    )
    values = [value for step in RECLAIMING for value in (step, since, until, limit)]
    rows = db.execute(" UNION ALL ".join([one] * len(RECLAIMING)), values).fetchall()
    return [ReclaimEvent(*row) for row in rows]


def upsets(db: Database) -> Iterator[dict[str, Any]]:
    """Every stop, swap and count with misprints, the oldest first, as the lines of a file."""
    yield from db.query(
        "SELECT u.run, p.name AS press, j.code AS job, j.title, u.at, u.step, u.cause, u.minutes, u.good, u.misprinted "
        "FROM upsets u JOIN runs r ON r.id = u.run JOIN jobs j ON j.id = r.job LEFT JOIN places p ON p.id = r.press "
        "WHERE u.step <> 'count' OR u.misprinted > 0 ORDER BY u.at, u.run, u.place"
    )


def garment_lots(db: Database, runs: int = 300, limit: int = 20) -> list[tuple[str, int]]:
    """The garment lots of the newest runs, each with its newest run, the newest first."""
    rows = db.execute(
        "SELECT lot, max(run) FROM ink_lots WHERE run > (SELECT coalesce(max(id), 0) - ? FROM runs) AND station = 0 "
        "AND lot <> '' GROUP BY lot ORDER BY 2 DESC, 1 LIMIT ?",
        [runs, limit],
    ).fetchall()
    return [(row[0], row[1]) for row in rows]


@dataclass(frozen=True, slots=True)
class HungAlike:
    """Stencils alike that hung in runs: of one mesh, bucket, exposure unit and steps left out before, in runs that
    stopped, or had a screen swapped, for one of some causes or did not; how many they are, and of the pieces of their
    runs those misprinted for such a cause."""

    mesh: str
    bucket: int | None
    exposure_unit: str
    missed: str
    stopped: bool
    number: int
    misprinted: int
    pieces: int


def hung_in(db: Database, since: str, causes: Sequence[str], limit: int = MOST, runs: int = 300) -> list[HungAlike]:
    """The stencils that hung in the newest runs with a stop or a count since a time, each once a run. `causes`: the
    stops, swaps and misprints that are asked for."""
    marks = ", ".join("?" * len(causes))
    rows = db.execute(
        f"WITH picked AS (SELECT run, max(step IN ('stop', 'swap') AND cause IN ({marks})) AS stopped, "
        f"sum(CASE WHEN cause IN ({marks}) THEN misprinted ELSE 0 END) AS misprinted, "
        f"sum(good + misprinted) AS pieces FROM ({_NEWEST}) GROUP BY run ORDER BY run DESC LIMIT ?) "
        "SELECT t.mesh_label, t.bucket, t.exposure_unit, t.missed, o.stopped, count(*), sum(o.misprinted), "
        "sum(o.pieces) FROM (SELECT DISTINCT h.screen, h.stencil, h.run, p.stopped, p.misprinted, p.pieces "
        "FROM picked p CROSS JOIN hangings h ON h.run = p.run) o "
        "JOIN stencils t ON t.screen = o.screen AND t.place = o.stencil GROUP BY 1, 2, 3, 4, 5",
        [*causes, *causes, since, limit, runs],
    ).fetchall()
    return [HungAlike(row[0], row[1], row[2], row[3], bool(row[4]), row[5], row[6], row[7]) for row in rows]


def runs_upset(db: Database, since: str, limit: int = MOST) -> int:
    """How many runs the newest stops and counts since a time are of."""
    return int(db.execute(f"SELECT count(DISTINCT run) FROM ({_NEWEST})", [since, limit]).fetchone()[0])


def emulsions(db: Database, numbers: Sequence[int]) -> dict[int, tuple[str, str]]:
    """Buckets by number: (code, what is in it)."""
    marks = ", ".join("?" * len(numbers))
    rows = db.execute(f"SELECT id, code, kind, product FROM buckets WHERE id IN ({marks})", list(numbers)).fetchall()
    return {row[0]: (row[1], f"{row[2]} {row[3]}".strip()) for row in rows}


# Frames -------------------------------------------------------------------------------------------------------------


Span = tuple[float, float]
"""Counts per cm from and to."""

AT_ONCE = 200
"""Spans in one statement; SQLite puts up to 500 questions together."""


GivenUp = dict[str, list[tuple[int, Alike]]]


def frames_of(
    db: Database, spans: Sequence[Span], free: Sequence[str], floors: Sequence[float], given_up: Sequence[str] = (),
    each: int = 300,
) -> tuple[list[list[Alike]], list[GivenUp]]:  # fmt: skip
    """Of each span of counts the frames at the standings `free`, those alike put together; and, by standing, the
    screens at those of `given_up` that nobody keeps, whether a job needs them or not: (screen, frame), at most `each`.

    `floors`: tensions in N/cm that must tell frames apart; of each group the lowest is given. A frame that a stock-take
    did not find is left out.
    """
    above = " + ".join(["(minimum_n_per_cm >= ?)"] * len(floors)) or "NULL"
    alike = (
        "SELECT ? AS span, NULL, NULL, count_per_cm, thread_um, frame, min(minimum_n_per_cm), count(*), standing = ? "
        "FROM standings WHERE standing IN (SELECT value FROM json_each(?)) AND count_per_cm BETWEEN ? AND ? "
        f"AND screen NOT IN ({NOT_THERE}) GROUP BY count_per_cm, thread_um, frame, minimum_n_per_cm IS NULL, {above}, "
        "standing = ?"
    )
    single = (
        "SELECT ? AS span, w.standing, w.screen, w.count_per_cm, w.thread_um, w.frame, w.minimum_n_per_cm, 1, 0 "
        "FROM standings w WHERE w.standing = ? AND w.count_per_cm BETWEEN ? AND ? "
        f"AND coalesce(json_extract(w.life, '$.decided'), '') <> 'keep' AND w.screen NOT IN ({NOT_THERE}) LIMIT ?"
    )
    named, coated = json.dumps(list(free)), str(Standing.COATED)
    asked: list[tuple[str, tuple[object, ...]]] = []
    for number, span in enumerate(spans):
        asked.append((alike, (number, coated, named, *span, *floors, coated)))
        asked += [(single, (number, one, *span, each)) for one in given_up]
    groups: list[list[Alike]] = [[] for _span in spans]
    found: list[GivenUp] = [{one: [] for one in given_up} for _span in spans]
    for start in range(0, len(asked), AT_ONCE):
        some = asked[start : start + AT_ONCE]
        values = [value for _sql, of in some for value in of]
        rows = db.execute(together(sql for sql, _of in some), values).fetchall()
        for place, standing, screen, count, thread, frame, lowest, alike_n, on in rows:
            one = Alike(count, thread, frame, lowest, alike_n, bool(on))
            if standing is None:
                groups[place].append(one)
            else:
                found[place][standing].append((screen, one))
    return groups, found


def frames_missing(db: Database) -> list[Alike]:
    """The frames that a stock-take did not find, each by itself, whatever their standing."""
    return [frame for _standing, _mesh, frame in missing(db) if (frame.count_per_cm or 0) > 0]


# Kept screens -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class KeptUntil:
    """A kept screen: its images by number, since when it is kept and until when (empty: not said), for what, when it
    last hung on a press (empty: never), and the first open job that asks for one of its images. `not_at`: the place
    where a stock-take did not find it (None: nothing was missed)."""

    screen: int
    code: Code
    mark: str
    mesh: str
    place: int | None
    since: str
    until: str
    kept_for: str
    said: bool
    images: Mapping[int, Separation]
    impressions: int
    last_hung: str
    last_job: str
    asked_by: int | None
    not_at: int | None
    frame: Alike


def kept(
    db: Database, after: int = 0, limit: int = 50, mesh: str = "", span: tuple[float, float] | None = None,
    lost: bool = False, order: str = "number", down: bool = False,
) -> list[KeptUntil]:  # fmt: skip
    """A page of the kept screens in the order of their numbers, or (`order`: since) of the time since when they are
    kept, behind the screen `after`; `mesh`: only those of a mesh as labelled, `span`: of counts per cm from and to;
    `lost`: only those that a stock-take did not find (by number alone)."""
    by_time = order == "since"
    index = "standings_missing" if lost else "standings_since" if by_time else "standings_kept"
    sign, way = ("<", "DESC") if down else (">", "ASC")
    behind = f"AND w.screen {sign} :after"
    if by_time:
        behind = f"AND (w.since, w.screen) {sign} (SELECT since, screen FROM standings WHERE screen = :after)"
    gone = "AND w.not_at IS NOT NULL" if lost else ""
    only = "AND w.mesh = :mesh" if mesh else "AND +w.count_per_cm BETWEEN :low AND :high" if span else ""
    low, high = span or (0.0, 0.0)
    rows = db.execute(
        "SELECT s.id, s.code, w.mark, w.mesh, w.place, w.since, w.keep_until, "
        "json_extract(w.life, '$.keep_for'), json_extract(w.life, '$.decided') = 'keep', "
        "(SELECT json_group_array(json_array(p.id, p.customer, p.art, p.revision, p.width_mm, p.name)) FROM carries c "
        "JOIN separations p ON p.id = c.separation WHERE c.screen = s.id), "
        "coalesce(json_extract(w.life, '$.stencil.impressions'), 0), "
        "coalesce(h.at, ''), "
        "coalesce((SELECT j.title FROM runs r JOIN jobs j ON j.id = r.job WHERE r.id = h.run), ''), "
        "(SELECT j.id FROM carries c JOIN stations t ON t.separation = c.separation JOIN jobs j ON j.id = t.job "
        "WHERE c.screen = s.id AND j.closed_at IS NULL ORDER BY j.due, j.id LIMIT 1), "
        "w.not_at, "
        f"w.count_per_cm, w.thread_um, w.frame, w.minimum_n_per_cm FROM standings w INDEXED BY {index} "
        "CROSS JOIN screens s ON s.id = w.screen "
        "LEFT JOIN hangings h ON h.screen = w.screen "
        "AND h.place = (SELECT max(place) FROM hangings WHERE screen = w.screen) "
        f"WHERE w.standing = 'kept' {gone} {behind if after else ''} {only} "
        f"ORDER BY {f'w.since {way}, ' if by_time else ''}w.screen {way} LIMIT :limit",
        {
            **({"after": after} if after else {}),
            "limit": limit,
            **({"mesh": mesh} if mesh else {"low": low, "high": high} if span else {}),
        },
    ).fetchall()
    return [_kept(row) for row in rows]


def _kept(row: Sequence[Any]) -> KeptUntil:
    values = list(row)
    values[1], values[8] = Code(values[1]), bool(values[8])
    for place in (6, 7):
        values[place] = values[place] or ""
    values[9] = {number: Separation(*image) for number, *image in sorted(json.loads(values[9]))}
    values[-4:] = [Alike(*values[-4:])]
    return KeptUntil(*values)
