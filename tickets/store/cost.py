"""What was done at the press in a span of time, and the screens made for it: from indexes, bounded."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sqlite_utils import Database

from tickets.calculator.numerals import numbers_in
from tickets.domain.entry import read_stamp
from tickets.domain.runs.cost import Imaged, RunAsks, RunMoment
from tickets.domain.runs.run_trace import Upset


@dataclass(frozen=True, slots=True)
class RunDone:
    """A run that is done, with its job and press."""

    run: int
    job: int
    placement: int
    press: str
    done_at: str
    job_code: str
    title: str
    customer: str
    made_at: str


_DONE = (
    "SELECT r.id, r.job, r.placement, coalesce(p.name, ''), r.done_at, j.code, j.title, j.customer, j.made_at "
    "FROM runs r JOIN jobs j ON j.id = r.job LEFT JOIN places p ON p.id = r.press "
)


def done_between(db: Database, since: str, until: str, limit: int) -> list[RunDone]:
    """The runs done from one time to before another, the newest first, `limit` at most."""
    rows = db.execute(
        f"{_DONE} WHERE r.done_at >= ? AND r.done_at < ? AND r.done_at IS NOT NULL ORDER BY r.done_at DESC LIMIT ?",
        [since, until, limit],
    ).fetchall()
    return [RunDone(*row) for row in rows]


def done_of_job(db: Database, job: int, limit: int) -> list[RunDone]:
    """The runs of a job that are done, the newest first."""
    rows = db.execute(
        f"{_DONE} WHERE r.job = ? AND r.done_at IS NOT NULL ORDER BY r.id DESC LIMIT ?", [job, limit]
    ).fetchall()
    return [RunDone(*row) for row in rows]


def _in(numbers: Iterable[int]) -> str:
    return json.dumps(sorted(set(numbers)))


SAYS_WHEN = ("hang", "start", "pause", "finish")


def steps_of(db: Database, runs: Sequence[int]) -> dict[int, list[RunMoment]]:
    """By run, the steps that say when it was set up and printed, in the order of replay, without those crossed out."""
    found: dict[int, list[RunMoment]] = {one: [] for one in runs}
    rows = db.execute(
        "SELECT e.run, e.step, e.at FROM entries e WHERE e.run IN (SELECT value FROM json_each(?)) "
        f"AND e.step IN ({', '.join('?' * len(SAYS_WHEN))}) "
        "AND NOT EXISTS (SELECT 1 FROM entries c WHERE c.crosses = e.entry) "
        "ORDER BY e.run, e.at, e.saved_at, e.part, e.entry",
        [_in(runs), *SAYS_WHEN],
    ).fetchall()
    for run, step, at in rows:
        found[run].append(RunMoment(step, read_stamp(at)))
    return found


def upsets_of(db: Database, runs: Sequence[int]) -> dict[int, list[Upset]]:
    """By run its stops, swaps and counts."""
    found: dict[int, list[Upset]] = {one: [] for one in runs}
    rows = db.execute(
        "SELECT run, at, step, cause, minutes, good, misprinted FROM upsets "
        "WHERE run IN (SELECT value FROM json_each(?)) ORDER BY run, place",
        [_in(runs)],
    ).fetchall()
    for run, *values in rows:
        found[run].append(Upset(*values))
    return found


def asked_in(db: Database, runs: Sequence[int]) -> dict[int, frozenset[int]]:
    """By run the images that its placement asks for, as the job says now."""
    found: dict[int, set[int]] = {one: set() for one in runs}
    rows = db.execute(
        "SELECT r.id, s.separation FROM runs r JOIN stations s ON s.job = r.job AND s.placement = r.placement "
        "WHERE r.id IN (SELECT value FROM json_each(?))",
        [_in(runs)],
    ).fetchall()
    for run, separation in rows:
        found[run].add(separation)
    return {run: frozenset(images) for run, images in found.items()}


def asking_for(db: Database, images: Iterable[int], since: str, limit: int) -> list[RunAsks]:
    """The runs done since a time that asked for one of some images, of whatever job; the newest `limit`."""
    rows = db.execute(
        "SELECT r.id, r.job, group_concat(s.separation, ' '), j.made_at, r.done_at FROM stations s "
        "JOIN runs r ON r.job = s.job AND r.placement = s.placement JOIN jobs j ON j.id = r.job "
        "WHERE s.separation IN (SELECT value FROM json_each(?)) AND r.done_at >= ? "
        "GROUP BY r.id ORDER BY r.done_at DESC LIMIT ?",
        [_in(images), since, limit],
    ).fetchall()
    return [RunAsks(run, job, frozenset(numbers_in(asked)), at, done) for run, job, asked, at, done in rows]


def imaged(db: Database, images: Iterable[int], since: str, until: str, limit: int) -> tuple[list[Imaged], bool]:
    """The stencils with one of some images that were imaged from one time to another, of the newest `limit` of all
    images; and whether there were more."""
    wanted = frozenset(images)
    rows = db.execute(
        "SELECT screen, place, imaged_at, separations FROM stencils WHERE imaged_at >= ? AND imaged_at <= ? "
        "AND imaged_at <> '' ORDER BY imaged_at DESC LIMIT ?",
        [since, until, limit],
    ).fetchall()
    some = [(screen, place) for screen, place, _at, on in rows if not wanted.isdisjoint(numbers_in(on))]
    found = db.execute(
        "SELECT t.screen, t.place, t.imaged_at, t.separations, t.faults, t.ended_at, "
        "EXISTS (SELECT 1 FROM meshes m WHERE m.screen = t.screen AND m.number = t.mesh AND m.cause = 'torn' "
        "AND (t.ended_at = '' OR t.ended_at >= m.ended_at)) FROM json_each(?) a JOIN stencils t "
        "ON t.screen = json_extract(a.value, '$[0]') AND t.place = json_extract(a.value, '$[1]')",
        [json.dumps(some)],
    ).fetchall()
    return [
        Imaged(screen, place, at, numbers_in(on), tuple(one for one in faults.split("|") if one), ended, bool(torn))
        for screen, place, at, on, faults, ended, torn in found
    ], len(rows) == limit
