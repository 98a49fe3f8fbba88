"""Jobs, their versions, the separations they ask for, and the boards' questions about them."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import itemgetter
from typing import Any, NamedTuple

from sqlite_utils import Database

from tickets.domain.jobs import job as sheets
from tickets.domain.jobs.job import Job, Placement, ink_for, needed
from tickets.domain.screens.frame_checks import Asked
from tickets.domain.separation import Separation
from tickets.domain.stages import mesh_said
from tickets.store import finding
from tickets.store.changes import Change
from tickets.store.ordered import Order, PageStart, page_of, parts, way_of
from tickets.store.reads import Common, Question, ahead, all_at_once, answered, known, once, unasked


@dataclass(frozen=True, slots=True)
class Saved:
    """A job as it is in the shop: number, code, version, sheet; `repeats` is the number of the earlier job."""

    id: int
    code: str
    version: int
    repeats: int | None
    closed_at: str | None
    sheet: Job


@dataclass(frozen=True, slots=True)
class JobLine:
    """A job in a list."""

    id: int
    code: str
    title: str
    customer: str
    due: str
    reference: str
    version: int
    closed_at: str | None


def _key(separation: Separation) -> str:
    return json.dumps(separation.key, ensure_ascii=False)


@once
def _number_of(db: Database, key: str) -> int | None:
    row = db.execute("SELECT id FROM separations WHERE key = ?", [key]).fetchone()
    return int(row[0]) if row else None


def _numbers_ahead(db: Database, images: Iterable[Separation]) -> None:
    def of(keys: list[str]) -> dict[str, int | None]:
        known = "SELECT key, id FROM separations WHERE key IN (SELECT value FROM json_each(?))"
        return {**dict.fromkeys(keys), **dict(db.execute(known, [json.dumps(keys)]).fetchall())}

    ahead(db, _number_of, [_key(image) for image in images], of)


def separation_number(db: Database, separation: Separation, make: bool = True) -> int | None:
    """The number of a separation; the same five always get the same one. None: not known, and not to be made."""
    key = _key(separation)
    found = _number_of(db, key)
    if found is not None or not make:
        return found
    cursor = db.execute(
        "INSERT INTO separations (key, customer, art, revision, width_mm, name) VALUES (?, ?, ?, ?, ?, ?)",
        [key, separation.customer, separation.art, separation.revision, separation.width_mm, separation.name],
    )
    return int(cursor.lastrowid or 0)


@once
def separation(db: Database, number: int) -> Separation | None:
    """A separation by number."""
    row = db.execute(
        "SELECT customer, art, revision, width_mm, name FROM separations WHERE id = ?", [number]
    ).fetchone()
    return Separation(*row) if row else None


def separations_ahead(db: Database, numbers: Iterable[int]) -> None:
    """Many separations, for a page that asks for each."""

    def of(new: list[int]) -> dict[int, Separation | None]:
        sql = (
            "SELECT id, customer, art, revision, width_mm, name FROM separations "
            "WHERE id IN (SELECT value FROM json_each(?))"
        )
        return {row[0]: Separation(*row[1:]) for row in db.execute(sql, [json.dumps(new)]).fetchall()}

    ahead(db, separation, numbers, of)


def separations(db: Database, numbers: list[int]) -> dict[int, Separation]:
    """Several separations by number; unknown ones are left out."""
    separations_ahead(db, numbers)
    return {number: found for number in numbers if (found := separation(db, number)) is not None}


def add(db: Database, number: int, code: str, sheet: Job, repeats: int | None, at: str, person: int) -> None:
    """A new job, version 1."""
    db.execute(
        "INSERT INTO jobs (id, code, title, customer, due, reference, repeats, version, pieces, made_at) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, 1, ?, ?)",
        [number, code, sheet.title, sheet.customer, sheet.due.isoformat(), sheet.reference, repeats, sheet.pieces, at],
    )
    _save_version(db, number, 1, sheet, at, person)


def change(db: Database, number: int, version: int, sheet: Job, repeats: int | None, at: str, person: int) -> None:
    """A changed job: version `version`."""
    before = db.execute("SELECT customer FROM jobs WHERE id = ?", [number]).fetchone()[0]
    db.execute(
        "UPDATE jobs SET title = ?, customer = ?, due = ?, reference = ?, repeats = ?, version = ?, pieces = ? "
        "WHERE id = ?",
        [sheet.title, sheet.customer, sheet.due.isoformat(), sheet.reference, repeats, version, sheet.pieces, number],
    )
    _save_version(db, number, version, sheet, at, person)
    if before != sheet.customer:
        finding.settle(db, customer=[before])


def set_repeats(db: Database, number: int, repeats: int) -> None:
    """Which earlier job this one prints again."""
    db.execute("UPDATE jobs SET repeats = ? WHERE id = ?", [repeats, number])


def _save_version(db: Database, number: int, version: int, sheet: Job, at: str, person: int) -> None:
    db.execute(
        "INSERT INTO job_versions (job, version, sheet, at, person) VALUES (?, ?, ?, ?, ?)",
        [number, version, json.dumps(sheet.to_dict(), ensure_ascii=False), at, person],
    )
    last = db.execute("SELECT coalesce(max(id), 0) FROM separations").fetchone()[0]
    save_stations(db, number, sheet)
    new = db.execute("SELECT id FROM separations WHERE id > ?", [last]).fetchall()
    finding.settle(db, separation=[row[0] for row in new], customer=[sheet.customer], job=[number])


def save_stations(db: Database, number: int, sheet: Job) -> None:
    """Works out again what the stations of a job ask for; a separation that nobody asked for before gets its number."""
    db.execute("DELETE FROM stations WHERE job = ?", [number])
    for row in stations_of(db, number, sheet, make=True):
        db.execute(
            "INSERT INTO stations (job, placement, station, separation, mesh, count_per_cm, thread_um, ink, work) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            row,
        )


def stations_of(db: Database, number: int, sheet: Job, make: bool) -> list[list[Any]]:
    """The worked-out rows of the stations that ask for a screen: those that print on some garment of the job.
    One that prints on none asks for no screen and has no row.

    `make`: a separation of any printing station that has no number yet gets one, so that a screen can be named for it.
    """
    rows = []
    for place, placement in enumerate(sheet.placements, 1):
        wanted = needed(sheet, placement, sheet.garments)
        for station in placement.printing:
            assert station.mesh is not None
            separation = separation_number(db, sheet.separation(placement, station), make)
            if station.number not in wanted:
                continue
            rows.append(
                [
                    number,
                    place,
                    station.number,
                    separation,
                    station.mesh.count_as_labelled,
                    station.mesh.count_per_cm,
                    station.mesh.thread_um,
                    station.ink,
                    placement.work,
                ]
            )
    return rows


def saved_stations(db: Database, number: int) -> list[list[Any]]:
    """The worked-out rows as they are in the file, for the proof of soundness."""
    rows = db.execute(
        "SELECT job, placement, station, separation, mesh, count_per_cm, thread_um, ink, work FROM stations "
        "WHERE job = ? ORDER BY placement, station",
        [number],
    ).fetchall()
    return [list(row) for row in rows]


@lru_cache(maxsize=512)
def read_sheet(text: str) -> Job:
    """The sheet of a job as it is kept; one text is read once, however many tables of an export ask for it."""
    return sheets.read(json.loads(text), stored=True)


def get(db: Database, number: int, version: int | None = None) -> Saved | None:
    """A job by number, as it is or as it was at `version`."""
    now = answered(db, _now, number)
    if not version or (now is not None and now.version == version):
        return _now(db, number)
    return _at(db, number, version)


def still(db: Database, one: Saved) -> None:
    """A job as it is, which what was just written did not change."""
    known(db, _now, {one.id: one})


@once
def _now(db: Database, number: int) -> Saved | None:
    row = db.execute(f"SELECT {_SAVED} {_OF_NOW} WHERE j.id = ?", [number]).fetchone()
    return _saved(row) if row else None


@once
def _at(db: Database, number: int, version: int) -> Saved | None:
    joined = "FROM jobs j JOIN job_versions v ON v.job = j.id AND v.version = ?"
    row = db.execute(f"SELECT {_SAVED} {joined} WHERE j.id = ?", [version, number]).fetchone()
    return _saved(row) if row else None


_SAVED = "j.id, j.code, v.version, j.repeats, j.closed_at, v.sheet"
_OF_NOW = "FROM jobs j JOIN job_versions v ON v.job = j.id AND v.version = j.version"


def _saved(row: Sequence[Any]) -> Saved:
    return Saved(row[0], row[1], row[2], row[3], row[4], read_sheet(row[5]))


def sheets_ahead(db: Database, numbers: Iterable[int]) -> None:
    """Many jobs as they are, for a page that asks for each."""
    ahead(db, _now, numbers, lambda new: _each(db, new))


def read_ahead(db: Database, numbers: Iterable[int]) -> list[int]:
    """What a page with many jobs asks of each: itself, its images, what is printed of it. The images, by number."""
    wanted = list(dict.fromkeys(numbers))
    whole_ahead(db, wanted)
    return list(dict.fromkeys(image for number in wanted for image in images_of(db, number)))


def whole_ahead(db: Database, numbers: Iterable[int]) -> None:
    """The same, for a page that asks for the images itself."""
    ahead(db, images_of, numbers, lambda new: _whole(db, new))


@once
def images_of(db: Database, job: int) -> list[int]:
    """The images that a job prints, by number."""
    rows = db.execute("SELECT DISTINCT separation FROM stations WHERE job = ? ORDER BY 1", [job]).fetchall()
    return [row[0] for row in rows]


_WHOLE = (
    f"SELECT {_SAVED}, j.version, "
    "(SELECT json_group_object(placement, good) FROM (SELECT placement, sum(good) AS good "
    "FROM runs WHERE job = j.id AND state = 'finished' GROUP BY placement)), "
    "(SELECT json_group_array(json_array(s.id, s.key, s.customer, s.art, s.revision, s.width_mm, s.name)) "
    "FROM separations s WHERE s.id IN (SELECT separation FROM stations WHERE job = j.id)), j.press, j.on_day "
    "FROM jobs j JOIN job_versions v ON v.job = j.id AND {version} WHERE {job}"
)


def whole_asked(db: Database, which: str, then: str = "", values: Sequence[object] = ()) -> Question:
    """The question for what is asked of some jobs (`which`: the condition on `j`), to be asked with others; `then`:
    beside the version of now, the one that it was at."""
    version = f"v.version IN (j.version, {then})" if then else "v.version = j.version"
    sql = _WHOLE.format(version=version, job=which)
    return Question(sql, values, 11, lambda rows: known(db, images_of, _take_whole(db, rows)))


def _whole(db: Database, numbers: list[int]) -> dict[int, list[int]]:
    """The images of some jobs, by job; what else their pages ask of them and of their jobs is known from then on."""
    sql = _WHOLE.format(version="v.version = j.version", job="j.id IN (SELECT value FROM json_each(?))")
    found = _take_whole(db, db.execute(sql, [json.dumps(numbers)]).fetchall())
    return {number: found.get(number, []) for number in numbers}


def _take_whole(db: Database, every: Iterable[Sequence[Any]]) -> dict[int, list[int]]:
    rows = []
    for row in every:
        known(db, _at, {(row[0], row[2]): _saved(row)})
        if row[2] == row[6]:
            rows.append(row)
    known(db, _now, {row[0]: _saved(row) for row in rows})
    known(db, printed, {row[0]: {int(place): good for place, good in json.loads(row[7]).items()} for row in rows})
    known(db, planned, {row[0]: Planned(row[9], row[10]) for row in rows})
    images = {row[0]: json.loads(row[8]) for row in rows}
    several = [one for some in images.values() for one in some]
    known(db, separation, {number: Separation(*image) for number, _key, *image in several})
    known(db, _number_of, {key: number for number, key, *_image in several})
    return {number: [one[0] for one in some] for number, some in images.items()}


@once
def family(db: Database, number: int) -> list[int]:
    """A job and those that it repeats, back to the first one; their sheets are known from then on."""
    rows = db.execute(
        "WITH RECURSIVE back (id, deep) AS (SELECT ?, 0 UNION SELECT j.repeats, back.deep + 1 FROM back "
        "JOIN jobs j ON j.id = back.id WHERE j.repeats IS NOT NULL AND back.deep < 1000) "
        f"SELECT {_SAVED} FROM (SELECT id, min(deep) AS deep FROM back GROUP BY id) b JOIN jobs j ON j.id = b.id "
        "JOIN job_versions v ON v.job = j.id AND v.version = j.version ORDER BY b.deep",
        [number],
    ).fetchall()
    known(db, _now, {row[0]: _saved(row) for row in rows})
    return [row[0] for row in rows]


def _each(db: Database, numbers: list[int]) -> dict[int, Saved | None]:
    rows = db.execute(
        f"SELECT {_SAVED} {_OF_NOW} WHERE j.id IN (SELECT value FROM json_each(?))",
        [json.dumps(numbers)],
    ).fetchall()
    return {row[0]: _saved(row) for row in rows}


def versions(db: Database, number: int) -> list[dict[str, Any]]:
    """The versions of a job, newest first: version, at, person (name)."""
    return past(db, number)[0]


@once
def past(db: Database, number: int) -> tuple[list[dict[str, Any]], list[Change]]:
    """The versions of a job, and what was changed of it beside its sheet (planned, closed, reopened); newest first."""
    rows = db.execute(
        "SELECT 0, v.version, '', '', '', v.at, p.name FROM job_versions v JOIN people p ON p.id = v.person "
        "WHERE v.job = ? UNION ALL SELECT 1, c.id, c.what, c.was, c.becomes, c.at, p.name FROM changes c "
        "JOIN people p ON p.id = c.person WHERE c.thing = 'job' AND c.number = ? ORDER BY 1, 2 DESC",
        [number, number],
    ).fetchall()
    found = [{"version": row[1], "at": row[5], "person": row[6]} for row in rows if not row[0]]
    return found, [Change(number, *row[2:]) for row in rows if row[0]]


@once
def by_reference(db: Database, reference: str) -> list[int]:
    """The jobs with the customer's number `reference`, newest first."""
    rows = db.execute("SELECT id FROM jobs WHERE reference = ? ORDER BY id DESC LIMIT 20", [reference]).fetchall()
    return [row[0] for row in rows]


def due_on(db: Database, due: str) -> list[int]:
    """The jobs with the press date `due` (ISO), newest first."""
    return [row[0] for row in db.execute("SELECT id FROM jobs WHERE due = ? ORDER BY id DESC", [due]).fetchall()]


_LINE = "id, code, title, customer, due, reference, version, closed_at"


IN_ORDER: Mapping[str, Order] = {
    "due": Order("due", "jobs_open"),
    "customer": Order("customer", "jobs_open_by_customer"),
    "title": Order("title", "jobs_open_by_title"),
}
"""What open jobs can be listed by; closed ones by the first alone."""


def place_of(db: Database, order: str, down: bool, job: int, back: bool = False) -> PageStart:
    """Where a page begins that goes on behind a job (0: at the top) or, `back`, ends before it."""
    row = db.execute(f"SELECT {IN_ORDER[order].column} FROM jobs WHERE id = ?", [job]).fetchone() if job else None
    return PageStart(down, (row[0], job), back) if row else PageStart(down)


def in_order(db: Database, order: str, start: PageStart, limit: int = 50, closed: bool = False) -> list[JobLine]:
    """A page of jobs in one of the orders IN_ORDER: open ones, or closed ones."""
    by_it = IN_ORDER[order]

    def ask(condition: str, values: list[Any], most: int) -> list[JobLine]:
        which = "closed_at IS NOT NULL" if closed else "closed_at IS NULL"
        by = f"ORDER BY {way_of(by_it, 'id', start)} LIMIT ?"
        rows = db.execute(f"SELECT {_LINE} FROM jobs WHERE {which} AND {condition} {by}", [*values, most]).fetchall()
        return [JobLine(*row) for row in rows]

    return page_of(ask, parts(by_it, "id", start), start, limit)


def listed(db: Database, after: tuple[str, int] | None = None, limit: int = 50, closed: bool = False) -> list[JobLine]:
    """A page of jobs: open ones by due date, or closed ones, the newest first. `after`: (due, number) shown last."""
    return in_order(db, "due", PageStart(closed, after), limit, closed)


def lines(db: Database, numbers: Sequence[int]) -> list[JobLine]:
    """Some jobs, as lines of a list."""
    found = f"SELECT {_LINE} FROM jobs WHERE id IN (SELECT value FROM json_each(?))"
    return [JobLine(*row) for row in db.execute(found, [json.dumps(list(numbers))]).fetchall()]


def of_customers(db: Database, names: Sequence[str]) -> list[tuple[str, int, int]]:
    """How many jobs some customers have, and how many of them are open: (customer, all, open)."""
    rows = db.execute(
        "SELECT customer, count(*), sum(closed_at IS NULL) FROM jobs "
        "WHERE customer IN (SELECT value FROM json_each(?)) GROUP BY customer",
        [json.dumps(list(names))],
    ).fetchall()
    return [(row[0], row[1], row[2]) for row in rows]


def newest_asking(db: Database, images: Sequence[int]) -> dict[int, str]:
    """The code of the newest job that asks for each of these images."""
    rows = db.execute(
        "SELECT n.separation, j.code FROM (SELECT separation, max(job) AS job FROM stations "
        "WHERE separation IN (SELECT value FROM json_each(?)) GROUP BY separation) n JOIN jobs j ON j.id = n.job",
        [json.dumps(list(images))],
    ).fetchall()
    return dict(rows)


LONGEST_SEARCH = 1_000
"""Characters that are looked for: no job has more to be found by (and SQLite fails from 50,000 on)."""


def search(db: Database, text: str, limit: int = 50) -> list[JobLine]:
    """Jobs, open or closed, whose customer's number or code is `text`, then those that hold it in title or customer,
    as it stands: its `%` and `_` mean themselves."""
    if len(text) > LONGEST_SEARCH:
        return []
    plain = text.strip().replace("-", "").replace(" ", "").upper()
    like = "%" + re.sub("([%_!])", r"!\1", text.strip()) + "%"
    rows = db.execute(
        f"SELECT {_LINE} FROM jobs "
        "WHERE reference = ? OR code = ? OR reference LIKE ? ESCAPE '!' "
        "OR title LIKE ? ESCAPE '!' OR customer LIKE ? ESCAPE '!' "
        "ORDER BY (reference = ? OR code = ?) DESC, due DESC, id DESC LIMIT ?",
        [text.strip(), plain, like, like, like, text.strip(), plain, limit],
    ).fetchall()
    return [JobLine(*row) for row in rows]


@once
def repeats_of(db: Database, number: int) -> list[JobLine]:
    """The jobs that repeat this one."""
    return [
        JobLine(*row)
        for row in db.execute(f"SELECT {_LINE} FROM jobs WHERE repeats = ? ORDER BY id", [number]).fetchall()
    ]


def every_number(db: Database) -> list[int]:
    """The numbers of all jobs."""
    return [row[0] for row in db.execute("SELECT id FROM jobs ORDER BY id").fetchall()]


def close(db: Database, number: int, at: str | None) -> None:
    """Closes a job (or opens it again with None)."""
    db.execute("UPDATE jobs SET closed_at = ? WHERE id = ?", [at, number])


@once
def printed(db: Database, number: int) -> dict[int, int]:
    """How many good pieces the finished runs of a job came to, by placement (counted from 1); one without such a run
    is not among them."""
    rows = db.execute(
        "SELECT placement, sum(good) FROM runs WHERE job = ? AND state = 'finished' GROUP BY placement", [number]
    ).fetchall()
    return dict(rows)


def short(db: Database, job: Saved) -> dict[int, int]:
    """How many pieces are still missing, by placement (counted from 1); those that are complete are left out."""
    done, ordered = printed(db, job.id), job.sheet.pieces
    missing = {number: ordered - done.get(number, 0) for number in range(1, len(job.sheet.placements) + 1)}
    return {number: pieces for number, pieces in missing.items() if pieces > 0}


def left_of(db: Database, job: Saved, placement: int) -> int:
    """How many pieces of a placement are still to be printed: what open runs counted is printed too."""
    sql = "SELECT coalesce(sum(good), 0) FROM runs WHERE job = ? AND placement = ?"
    (good,) = db.execute(sql, [job.id, placement]).fetchone()
    left: int = max(0, job.sheet.pieces - good)
    return left


def asked(db: Database, job: Saved, place: int) -> list[Asked]:
    """What the printing stations of a placement (counted from 1) ask for."""
    placement = job.sheet.placements[place - 1]
    _numbers_ahead(db, [job.sheet.separation(placement, station) for station in placement.stations if station.prints])
    return [
        _asked(db, job.sheet, placement, number)
        for number in range(len(placement.stations))
        if placement.stations[number].prints
    ]


def _asked(db: Database, sheet: Job, placement: Placement, index: int) -> Asked:
    station = placement.stations[index]
    assert station.mesh is not None
    image = sheet.separation(placement, station)
    inks = {
        ink.kind
        for garment in sheet.garments
        if (ink := ink_for(sheet, sheet.colourway_of(garment), placement, station))
    }
    return Asked(
        number=station.number,
        separation=separation_number(db, image, make=False) or 0,
        image=image,
        mesh=mesh_said(station.mesh.count_as_labelled, station.mesh.thread_um),
        count_per_cm=station.mesh.count_per_cm,
        thread_um=station.mesh.thread_um,
        work=placement.work,
        inks=frozenset(inks or {station.ink}),
        strokes=station.strokes,
        revolution=station.revolution,
        head=station.head,
    )


def images_ahead(db: Database, images: Sequence[int]) -> None:
    """What the jobs ask of some images: the images themselves, the kinds of work, who asks for them still, with the
    sheets of the first of these."""
    if not images or not unasked(db, works, [(tuple(images),)]):
        return

    def work(rows: list[Any]) -> None:
        known(db, works, {(tuple(images),): _works(rows)})

    still = still_asked(db, images, 0)
    questions = [
        images_asked(db),
        still,
        Question(_WORKS.format(of="IN (SELECT image FROM images)"), (), 2, work),
        whole_asked(db, f"j.id IN (SELECT id FROM ({still.sql}) WHERE place <= {FIRST})", values=still.values),
    ]
    all_at_once(db, questions, [Common.numbers("images", "image", images)])


FIRST = 8
"""Stations that ask for one image whose job sheets are read with it."""


def images_asked(db: Database) -> Question:
    """The question for the images in the table `images (image)`, to be asked with others."""

    def take(rows: list[Any]) -> None:
        known(db, separation, {row[0]: Separation(*row[1:]) for row in rows})

    sql = "SELECT id, customer, art, revision, width_mm, name FROM separations WHERE id IN (SELECT image FROM images)"
    return Question(sql, (), 6, take)


@once
def works(db: Database, separations: list[int]) -> list[str]:
    """The kinds of work that open jobs ask these separations for; where no open job does, those that any job did."""
    marks = ", ".join("?" * len(separations))
    return _works(db.execute(_WORKS.format(of=f"IN ({marks})"), separations).fetchall())


_WORKS = (
    "SELECT DISTINCT j.closed_at IS NULL, t.work FROM stations t JOIN jobs j ON j.id = t.job WHERE t.separation {of}"
)


def _works(rows: Iterable[Sequence[Any]]) -> list[str]:
    found = [(bool(row[0]), str(row[1])) for row in rows]
    return [work for is_open, work in found if is_open] or [work for _open, work in found]


@once
def asked_of_mesh(db: Database, low_per_cm: float, high_per_cm: float) -> list[tuple[float, float | None, str]]:
    """What the open jobs ask of the meshes in a span of counts: (count per cm, thread in um, kind of work), each
    once."""
    rows = db.execute(
        "SELECT DISTINCT t.count_per_cm, t.thread_um, t.work FROM jobs j CROSS JOIN stations t ON t.job = j.id "
        "WHERE j.closed_at IS NULL AND t.count_per_cm BETWEEN ? AND ?",
        [low_per_cm, high_per_cm],
    ).fetchall()
    return [(row[0], row[1], row[2]) for row in rows]


@dataclass(frozen=True, slots=True)
class Still:
    """A station that a separation is still asked for at: of an open job, or of one with a run under way. `missing`:
    good pieces that no finished run has printed; `runs`: how many runs of the placement are under way, `run` the newest
    of them."""

    job: int
    code: str
    title: str
    due: str
    repeats: bool
    placement: int
    station: int
    missing: int
    runs: int
    run: int | None


@once
def still_asking(db: Database, separation: int, apart: int) -> list[Still]:
    """The stations that ask for a separation still, the earliest due first, as if the run `apart` were over (0: as it
    is)."""
    return _still(db, [separation], apart)[separation]


def still_asked(db: Database, images: Iterable[int], apart: int) -> Question:
    """The question for the stations that ask for the images in the table `images (image)` still, which are these."""

    def take(rows: list[Any]) -> None:
        found = _take_still(images, sorted(rows, key=itemgetter(0, 11)))
        known(db, still_asking, {(number, apart): some for number, some in found.items()})

    return Question(_STILL.format(images="SELECT image FROM images"), [apart] * 4, 12, take)


_OWN = "FROM runs r WHERE r.job = j.id AND r.placement = t.placement AND r.id <> ? AND"
_STILL = (
    "SELECT * FROM (SELECT t.separation, j.id, j.code, j.title, j.due, j.repeats IS NOT NULL, t.placement, "
    f"t.station, j.pieces - coalesce((SELECT sum(r.good) {_OWN} r.state = 'finished'), 0), "
    f"(SELECT count(*) {_OWN} r.done_at IS NULL) AS under_way, (SELECT max(r.id) {_OWN} r.done_at IS NULL), "
    "row_number() OVER (PARTITION BY t.separation ORDER BY j.due, j.id, t.placement, t.station) AS place "
    "FROM stations t JOIN jobs j ON j.id = t.job WHERE "
    f"(j.closed_at IS NULL OR (SELECT count(*) {_OWN} r.done_at IS NULL)) AND t.separation IN ({{images}})) "
    "WHERE place <= 40 ORDER BY 1, place"
)


def _still(db: Database, separations: list[int], apart: int) -> dict[int, list[Still]]:
    sql = _STILL.format(images="SELECT value FROM json_each(?)")
    return _take_still(separations, db.execute(sql, [*[apart] * 4, json.dumps(separations)]).fetchall())


def _take_still(images: Iterable[int], rows: Iterable[Sequence[Any]]) -> dict[int, list[Still]]:
    found: dict[int, list[Still]] = {image: [] for image in images}
    for row in rows:
        found[row[0]].append(Still(row[1], row[2], row[3], row[4], bool(row[5]), *row[6:11]))
    return found


@dataclass(frozen=True, slots=True)
class WantedImage:
    """A separation that an open job asks for: where, of which mesh, and when."""

    job: int
    code: str
    title: str
    customer: str
    due: str
    placement: int
    station: int
    separation: int
    mesh: str
    count_per_cm: float
    thread_um: float | None
    ink: str
    work: str


_GOOD = "coalesce((SELECT sum(r.good) FROM runs r WHERE r.job = j.id AND r.placement = t.placement {which}), 0)"
_TO_PRINT = _GOOD.format(which="AND r.state = 'finished'") + " < j.pieces"
"""Whether a placement is still to be printed: its finished runs came to too few pieces."""
_WANTED = (
    "SELECT j.id, j.code, j.title, j.customer, j.due, t.placement, t.station, t.separation, t.mesh, "
    "t.count_per_cm, t.thread_um, t.ink, t.work FROM jobs j JOIN stations t ON t.job = j.id "
    f"WHERE {{which}} AND {_TO_PRINT} {{more}} ORDER BY j.due, j.id, t.placement, t.station LIMIT ?"
)


@once
def wanted(
    db: Database, until: str = "9999", after: tuple[str, int, int, int] | None = None, limit: int = 60
) -> list[WantedImage]:
    """A page of what the open jobs ask for, by due date; placements whose pieces are all printed are left out."""
    where, values = ("AND (j.due, j.id, t.placement, t.station) > (?, ?, ?, ?)", list(after)) if after else ("", [])
    sql = _WANTED.format(which="j.closed_at IS NULL AND j.due <= ?", more=where)
    return [WantedImage(*row) for row in db.execute(sql, [until, *values, limit]).fetchall()]


@once
def wanted_or_planned(db: Database, until: str, limit: int) -> list[WantedImage]:
    """What the open jobs ask for that are due by a day, or planned on a press by then."""
    which = (
        "j.id IN (SELECT id FROM jobs WHERE closed_at IS NULL AND due <= ? "
        "UNION SELECT id FROM jobs WHERE closed_at IS NULL AND on_day <> '' AND on_day <= ?)"
    )
    rows = db.execute(_WANTED.format(which=which, more=""), [until, until, limit]).fetchall()
    return [WantedImage(*row) for row in rows]


def wanted_of(db: Database, numbers: Sequence[int], limit: int) -> list[WantedImage]:
    """The same of some jobs, open or not."""
    sql = _WANTED.format(which="j.id IN (SELECT value FROM json_each(?))", more="")
    return [WantedImage(*row) for row in db.execute(sql, [json.dumps(list(numbers)), limit]).fetchall()]


class Planned(NamedTuple):
    """On which press (its number) and day (ISO) a job is planned."""

    press: int | None
    day: str


NOT_PLANNED = Planned(None, "")


@once
def planned(db: Database, number: int) -> Planned:
    """On which press and day a job is planned; NOT_PLANNED: on none."""
    return _planned(db, [number])[number]


def planned_ahead(db: Database, numbers: Iterable[int]) -> None:
    """The same of many jobs, for a page that asks for each."""
    ahead(db, planned, numbers, lambda new: _planned(db, new))


def _planned(db: Database, numbers: list[int]) -> dict[int, Planned]:
    sql = "SELECT id, press, on_day FROM jobs WHERE id IN (SELECT value FROM json_each(?))"
    rows = db.execute(sql, [json.dumps(numbers)]).fetchall()
    return {**dict.fromkeys(numbers, NOT_PLANNED), **{row[0]: Planned(row[1], row[2]) for row in rows}}


class CalendarJob(NamedTuple):
    """An open job as a calendar shows it; `revised_at`: when its sheet or its plan was last changed, for the `times`th
    time (0: never)."""

    code: str
    title: str
    customer: str
    due: str
    pieces: int
    press: int | None
    on_day: str
    made_at: str
    revised_at: str
    times: int


def for_calendar(db: Database, limit: int) -> list[CalendarJob]:
    """The open jobs by press date."""
    changed = "FROM changes c WHERE c.thing = 'job' AND c.number = j.id"
    rows = db.execute(
        "SELECT j.code, j.title, j.customer, j.due, j.pieces, j.press, j.on_day, j.made_at, max(j.made_at, "
        "coalesce((SELECT v.at FROM job_versions v WHERE v.job = j.id AND v.version = j.version), ''), "
        f"coalesce((SELECT max(c.at) {changed}), '')), j.version - 1 + (SELECT count(*) {changed}) "
        "FROM jobs j WHERE j.closed_at IS NULL ORDER BY j.due, j.id LIMIT ?",
        [limit],
    ).fetchall()
    return [CalendarJob(*row) for row in rows]


_LEFT = (
    f"SELECT j.id, j.on_day, j.press, max(max(j.pieces - {_GOOD.format(which='')}, 0)) "
    f"FROM jobs j JOIN stations t ON t.job = j.id WHERE {{which}} AND {_TO_PRINT} GROUP BY j.id"
)


def to_print(db: Database, numbers: Iterable[int]) -> dict[int, int]:
    """How many pieces of some jobs are still to be printed, of the placement that has most of them left; what open
    runs counted is printed too. Those that are printed are left out."""
    sql = _LEFT.format(which="j.id IN (SELECT value FROM json_each(?))")
    return {number: pieces for number, _day, _press, pieces in db.execute(sql, [json.dumps(list(numbers))]).fetchall()}


def planned_between(db: Database, since: str, until: str) -> list[tuple[str, int | None, int, int]]:
    """The open jobs planned on the days from `since` to `until` that are still to be printed: (day, press, how many,
    their pieces, as `to_print` counts them)."""
    planned_then = "j.closed_at IS NULL AND j.on_day <> '' AND j.on_day BETWEEN ? AND ?"
    found: dict[tuple[str, int | None], list[int]] = {}
    for _number, day, press, pieces in db.execute(_LEFT.format(which=planned_then), [since, until]).fetchall():
        found.setdefault((day, press), []).append(pieces)
    return [(day, press, len(some), sum(some)) for (day, press), some in found.items()]


def plan(db: Database, number: int, then: Planned) -> None:
    """Plans a job on a press and a day."""
    db.execute("UPDATE jobs SET press = ?, on_day = ? WHERE id = ?", [then.press, then.day, number])
