"""Runs and what is worked out from their entries."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from operator import itemgetter
from typing import Any

from sqlite_utils import Database

from tickets.domain.runs.led import Led
from tickets.domain.runs.run import Story
from tickets.store.reads import Common, Question, answered, known, newest, once, told, unasked


@dataclass(frozen=True, slots=True)
class Run:
    """One printing of one placement (counted from 1) of a job at a version, on a press."""

    id: int
    job: int
    version: int
    placement: int
    press: int
    opened_at: str
    done_at: str | None
    story: Story


_COLUMNS = "id, job, version, placement, press, opened_at, done_at, story"


def _run(row: tuple[int, int, int, int, int, str, str | None, str]) -> Run:
    story = Story.from_dict(json.loads(row[7]))
    if row[6] and story.state != "finished":  # the next one took its place
        story = replace(story, state="finished")
    return Run(*row[:7], story=story)


def add(db: Database, job: int, version: int, placement: int, press: int, at: str) -> int:
    """A new run; its number. What is newest stays so, and the run itself is known from here on."""
    last = newest(db)
    cursor = db.execute(
        "INSERT INTO runs (job, version, placement, press, opened_at) VALUES (?, ?, ?, ?, ?)",
        [job, version, placement, press, at],
    )
    number = int(cursor.lastrowid or 0)
    told(db, last)
    known(db, get, {number: Run(number, job, version, placement, press, at, None, Story())})
    known(db, begun, {number: (Story(), None, False)})
    return number


@once
def get(db: Database, number: int) -> Run | None:
    """A run by number."""
    row = db.execute(f"SELECT {_COLUMNS} FROM runs WHERE id = ?", [number]).fetchone()
    return _run(row) if row else None


def read_ahead(db: Database, numbers: Iterable[int], jobs: Iterable[int] = (), newest: int = 0) -> None:
    """Many runs, those of many jobs, and the `newest` ones, for a page that asks for each."""
    of_jobs, new = unasked(db, _of_job, jobs), unasked(db, get, numbers)
    if not (of_jobs or new or newest):
        return
    sql = (
        f"SELECT {_COLUMNS} FROM runs WHERE id IN (SELECT value FROM json_each(?)) "
        "OR job IN (SELECT value FROM json_each(?)) OR id > (SELECT max(id) FROM runs) - ? ORDER BY id DESC"
    )
    found = [_run(row) for row in db.execute(sql, [json.dumps(new), json.dumps(of_jobs), newest]).fetchall()]
    known(db, get, {one.id: one for one in found})
    known(db, latest, {newest: found[:newest]})
    known(db, _of_job, {job: [one for one in found if one.job == job] for job in of_jobs})


Begun = tuple[Story, Mapping[str, Any] | None, bool]


@once
def begun(db: Database, number: int) -> Begun:
    """A run's story as its log has it, what was kept with it (`domain.runs.led`; None: nothing), and whether it is
    done."""
    return _begun(db.execute("SELECT story, led, done_at FROM runs WHERE id = ?", [number]).fetchone())


def _begun(row: Sequence[Any]) -> Begun:
    story, led, done_at = row
    return Story.from_dict(json.loads(story)), json.loads(led) if led else None, done_at is not None


HUNG, EVER = ("$.hung",), ("$.hung", "$.was_hung")
"""Where a story has the screens that hang in it now, and those that came off as well."""


def hung_in(number: int, where: Sequence[str] = HUNG) -> Common:
    """The screens of a run, as the table `these (screen)`."""
    one = "SELECT json_extract(h.value, '$.screen') FROM runs r, json_each(r.story, ?) h WHERE r.id = ?"
    return Common("these", "screen", " UNION ".join([one] * len(where)), [v for path in where for v in (path, number)])


def asked(db: Database, number: int) -> list[Question]:
    """The questions for a run, with what leads it on, and for the heads that are busy beside it, to be asked with
    others."""
    found: list[Run] = []

    def take(rows: list[Any]) -> None:
        found.extend(_run(row[:8]) for row in rows)
        known(db, get, {number: found[0] if found else None})
        known(db, begun, {row[0]: _begun((row[7], row[8], row[6])) for row in rows})

    def busy(rows: list[Any]) -> None:
        for one in found:
            known(db, busy_heads, {(one.press, number): _busy(rows).get(one.press, {})})

    press = "(SELECT press FROM runs WHERE id = ?)"
    return [
        Question(f"SELECT {_COLUMNS}, led FROM runs WHERE id = ?", [number], 9, take),
        Question(_BUSY.format(press=f"r.press = {press}"), [number, number], 3, busy),
    ]


def of_job_asked(db: Database, number: int) -> Question:
    """The question for all runs of the job of one, to be asked with others."""

    def take(rows: list[Any]) -> None:
        some = sorted(map(_run, rows), key=lambda one: -one.id)
        known(db, _of_job, {one.job: some for one in some})

    sql = f"SELECT {_COLUMNS} FROM runs WHERE job = (SELECT job FROM runs WHERE id = ?)"
    return Question(sql, [number], 8, take)


def worked_out(db: Database, number: int, led: Led, under_way: bool = False) -> dict[str, Any]:
    """What is worked out of a run's entries, by column. `under_way`: it was not done before these entries.

    A run whose finish was crossed out when the next one of its placement and press was opened already stays done: the
    next one took its place. While a run is under way none is opened that could.
    """
    story = led.story
    followed = (
        "SELECT min(later.opened_at) FROM runs later JOIN runs own ON own.id = ? WHERE later.job = own.job "
        "AND later.placement = own.placement AND later.press = own.press AND later.id > own.id"
    )
    done_at = story.finished_at or (None if under_way else db.execute(followed, [number]).fetchone()[0])
    return {
        "state": "finished" if done_at else story.state,
        "done_at": done_at,
        "impressions": story.impressions,
        "good": story.good,
        "story": json.dumps(story.to_dict(), ensure_ascii=False, sort_keys=True),
        "led": json.dumps(led.kept, ensure_ascii=False, sort_keys=True),
    }


def save_led(db: Database, number: int, led: Led, under_way: bool = False) -> None:
    """Writes what was worked out of a run's entries."""
    row = worked_out(db, number, led, under_way)
    if under_way and row["done_at"] is None:  # as it is: the index of what is under way stays
        del row["done_at"]
    db.execute(f"UPDATE runs SET {' = ?, '.join(row)} = ? WHERE id = ?", [*row.values(), number])


def saved(db: Database, number: int) -> dict[str, Any]:
    """What was worked out of a run, by column, as it is in the file: for the proof of soundness."""
    names = ("state", "done_at", "impressions", "good", "story", "led")
    row = db.execute(f"SELECT {', '.join(names)} FROM runs WHERE id = ?", [number]).fetchone()
    return dict(zip(names, row, strict=True))


@once
def open_run(db: Database, job: int, placement: int, press: int) -> Run | None:
    """The open run of a placement on a press."""
    row = db.execute(
        f"SELECT {_COLUMNS} FROM runs WHERE job = ? AND placement = ? AND press = ? AND done_at IS NULL",
        [job, placement, press],
    ).fetchone()
    return _run(row) if row else None


@once
def open_ones(db: Database, press: int | None = None, limit: int = 100) -> list[Run]:
    """Open runs, those of one press or all, the newest first."""
    where, values = ("AND press = ?", [press]) if press is not None else ("", [])
    rows = db.execute(
        f"SELECT {_COLUMNS} FROM runs WHERE done_at IS NULL {where} ORDER BY id DESC LIMIT ?", [*values, limit]
    ).fetchall()
    return [_run(row) for row in rows]


@dataclass(frozen=True, slots=True)
class StandsOpen:
    """An open run as somebody sees it who scans a screen: what it prints, on which press; `asks`: one of its positions
    prints an image of that screen, by the job as it is; `changed`: the job is another since; `had`: the screen hung in
    it last; `hangs`: screens are being hung in it, or one is lacking while it prints."""

    id: int
    state: str
    job: str
    press: str
    asks: bool
    changed: bool
    had: bool
    hangs: bool


@once
def beside(db: Database, screen: int, images: tuple[int, ...], limit: int = 100) -> list[StandsOpen]:
    """The open runs, the newest first, each with what a screen with these images (separations) has to do with it."""
    rows = db.execute(
        "SELECT r.id, r.state, j.title, p.name, EXISTS (SELECT 1 FROM stations t WHERE t.job = r.job "
        "AND t.placement = r.placement AND t.separation IN (SELECT value FROM json_each(?))), j.version <> r.version, "
        "r.id = (SELECT h.run FROM hangings h WHERE h.screen = ? ORDER BY h.place DESC LIMIT 1), "
        "r.state <> 'printing' OR (SELECT count(*) FROM stations t WHERE t.job = r.job AND t.placement = r.placement) "
        "> (SELECT count(*) FROM json_each(r.story, '$.hung') h JOIN standings w "
        "ON w.screen = json_extract(h.value, '$.screen') WHERE w.standing = 'on press') "
        "FROM runs r JOIN jobs j ON j.id = r.job JOIN places p ON p.id = r.press WHERE r.done_at IS NULL "
        "ORDER BY r.id DESC LIMIT ?",
        [json.dumps(images), screen, limit],
    ).fetchall()
    return [StandsOpen(*row[:4], *map(bool, row[4:])) for row in rows]


@once
def busy_heads(db: Database, press: int, but: int) -> dict[int, int]:
    """The heads of a press that screens of its open runs have, all but those of the run `but`: head -> run."""
    return busy_everywhere(db, but, press).get(press, {})


@once
def busy_everywhere(db: Database, but: int = 0, press: int | None = None) -> dict[int, dict[int, int]]:
    """By press (one, or all) the heads that screens of its open runs have, but those of the run `but`: head -> run."""
    rows = db.execute(_BUSY.format(press="(? IS NULL OR r.press = ?)"), [but, press, press]).fetchall()
    return _busy(rows)


_BUSY = (
    "SELECT r.press, json_extract(h.value, '$.head'), r.id FROM runs r, json_each(r.story, '$.hung') h "
    "WHERE r.done_at IS NULL AND r.id <> ? AND {press}"
)


def _busy(rows: Iterable[Sequence[Any]]) -> dict[int, dict[int, int]]:
    found: dict[int, dict[int, int]] = {}
    for place, head, run in sorted(rows, key=itemgetter(2)):
        if head is not None:
            found.setdefault(place, {})[head] = run
    return found


@once
def latest(db: Database, limit: int = 40) -> list[Run]:
    """The newest runs, newest first."""
    rows = db.execute(f"SELECT {_COLUMNS} FROM runs ORDER BY id DESC LIMIT ?", [limit]).fetchall()
    found = [_run(row) for row in rows]
    known(db, get, {one.id: one for one in found})
    return found


@once
def read_under(db: Database, among: int = 60) -> list[str]:
    """How the colours of the newest runs were read (light, observer, mode, instrument), the last first, each once."""
    rows = db.execute(
        "SELECT coalesce(u.value, json_extract(b.value, '$.under')) FROM "
        "(SELECT id, story FROM runs ORDER BY id DESC LIMIT ?) r, json_each(r.story, '$.approvals') a "
        "LEFT JOIN json_each(a.value, '$.lab_under') u LEFT JOIN json_each(a.value, '$.lab_before') b "
        "WHERE u.value IS NOT NULL OR b.value IS NOT NULL "
        "ORDER BY r.id DESC, json_extract(a.value, '$.at') DESC",
        [among],
    ).fetchall()
    return list(dict.fromkeys(row[0] for row in rows))


def of_job(db: Database, job: int, placement: int | None = None) -> list[Run]:
    """A job's runs, newest first."""
    return [run for run in _of_job(db, job) if placement in (None, run.placement)]


@once
def _of_job(db: Database, job: int) -> list[Run]:
    rows = db.execute(f"SELECT {_COLUMNS} FROM runs WHERE job = ? ORDER BY id DESC", [job]).fetchall()
    return [_run(row) for row in rows]


HungIn = tuple[Run, int]


@once
def hung_last(db: Database, screen: int) -> HungIn | None:
    """The run under way that a screen's present stencil hung in last, and at which station; None: there is none."""
    return _hung_last(db, [screen])[screen]


_HUNG_LAST = (
    f"SELECT {', '.join(f'r.{name}' for name in _COLUMNS.split(', '))}, h.station, h.screen FROM hangings h "
    "JOIN runs r ON r.id = h.run WHERE h.screen IN ({screens}) AND r.done_at IS NULL "
    "AND h.place = (SELECT max(place) FROM hangings WHERE screen = h.screen) "
    "AND h.stencil = (SELECT max(place) FROM stencils WHERE screen = h.screen)"
)


def hung_last_asked(db: Database, screens: Sequence[int]) -> Question:
    """The same of many screens as a question, to be asked with others."""
    sql = _HUNG_LAST.format(screens="SELECT value FROM json_each(?)")
    return Question(sql, [json.dumps(screens)], 10, lambda rows: known(db, hung_last, _take_last(screens, rows)))


def _hung_last(db: Database, screens: list[int]) -> dict[int, HungIn | None]:
    sql = _HUNG_LAST.format(screens="SELECT value FROM json_each(?)")
    return _take_last(screens, db.execute(sql, [json.dumps(screens)]).fetchall())


def _take_last(screens: Sequence[int], rows: Iterable[Sequence[Any]]) -> dict[int, HungIn | None]:
    return {**dict.fromkeys(screens), **{row[9]: (_run(tuple(row[:8])), row[8] or 0) for row in rows}}


def any_impressions(db: Database, job: int) -> bool:
    """True once a run of the job has printed anything: from then on the job is not changed any more."""
    there = answered(db, _of_job, job)
    if there is not None:
        return any(run.story.impressions for run in there)
    row = db.execute("SELECT 1 FROM runs WHERE job = ? AND impressions > 0 LIMIT 1", [job]).fetchone()
    return row is not None


def every_number(db: Database) -> list[int]:
    """The numbers of all runs."""
    return [row[0] for row in db.execute("SELECT id FROM runs ORDER BY id").fetchall()]
