"""Every row of what a file to take along is made of, read one after another."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from tickets.domain.jobs.job import Job
from tickets.store.jobs import read_sheet


@contextmanager
def still(db: Database) -> Iterator[None]:
    """One look at the shop, whatever is written meanwhile, so that the files agree with each other."""
    if db.conn.in_transaction:
        yield
        return
    db.execute("BEGIN")
    try:
        yield
    finally:
        db.conn.rollback()


def numbers_after(db: Database, table: str, since: int, most: int) -> list[int]:
    """The numbers of the first `most` rows of a table (jobs, runs, buckets) after one."""
    if table not in {"jobs", "runs", "buckets"}:
        raise ValueError(table)
    rows = db.execute(f"SELECT id FROM {table} WHERE id > ? ORDER BY id LIMIT ?", [since, most]).fetchall()
    return [row[0] for row in rows]


def crossings(db: Database) -> dict[str, str]:
    """The entries that were crossed out, each with the one that did it."""
    return dict(db.execute("SELECT crosses, entry FROM entries WHERE crosses IS NOT NULL").fetchall())


def jobs(db: Database, since: int = 0, most: int = -1) -> Iterator[dict[str, Any]]:
    """Every job with a number after `since`, `most` at most (below 0: all); `repeats`: the code of the job that it
    prints again."""
    yield from db.query(
        "SELECT j.code AS job, j.title, j.customer, j.reference, j.due, j.version, o.code AS repeats, j.made_at, "
        "j.closed_at, p.name AS planned_press, j.on_day AS planned_day FROM jobs j "
        "LEFT JOIN jobs o ON o.id = j.repeats LEFT JOIN places p ON p.id = j.press "
        "WHERE j.id > ? ORDER BY j.id LIMIT ?",
        [since, most],
    )


def runs(db: Database, since: int = 0, most: int = -1) -> Iterator[dict[str, Any]]:
    """Every run with a number after `since`, `most` at most (below 0: all), with what was counted in it."""
    yield from db.query(
        "SELECT r.id AS run, j.code AS job, r.version, r.placement, p.name AS press, r.state, r.opened_at, r.done_at, "
        "r.impressions, coalesce(sum(u.good), 0) AS good, coalesce(sum(u.misprinted), 0) AS misprinted, "
        "coalesce(sum(u.step = 'stop'), 0) AS stops, coalesce(sum(u.minutes), 0) AS stop_minutes "
        "FROM runs r JOIN jobs j ON j.id = r.job JOIN places p ON p.id = r.press LEFT JOIN upsets u ON u.run = r.id "
        "WHERE r.id > ? GROUP BY r.id ORDER BY r.id LIMIT ?",
        [since, most],
    )


def buckets(db: Database, since: int = 0, most: int = -1) -> Iterator[dict[str, Any]]:
    """Every bucket with a number after `since`, `most` at most (below 0: all), with the stencils coated from it."""
    yield from db.query(
        "SELECT b.code AS bucket, b.kind, b.product, b.colour, b.series, b.lot, b.recipe, b.mixed_at, b.good_until, "
        "b.discarded_at, "
        "count(DISTINCT c.screen || '.' || c.stencil) AS stencils, "
        "count(DISTINCT CASE WHEN t.faults <> '' THEN c.screen || '.' || c.stencil END) AS stencils_with_a_fault "
        "FROM buckets b LEFT JOIN coats c ON c.bucket = b.id "
        "LEFT JOIN stencils t ON t.screen = c.screen AND t.place = c.stencil WHERE b.id > ? "
        "GROUP BY b.id ORDER BY b.id LIMIT ?",
        [since, most],
    )


@dataclass(frozen=True, slots=True)
class Version:
    """A job as one version of its sheet has it: who wrote that version and when; `picture` is its hash, or empty."""

    job: str
    version: int
    at: str
    person: str
    picture: str
    sheet: Job


def job_versions(db: Database) -> Iterator[Version]:
    """Every version of every job, the older first."""
    rows = db.execute(
        "SELECT j.code, v.version, v.at, p.name, coalesce(i.hash, ''), v.sheet FROM job_versions v "
        "JOIN jobs j ON j.id = v.job JOIN people p ON p.id = v.person "
        "LEFT JOIN job_pictures i ON i.job = v.job AND i.version = v.version ORDER BY v.job, v.version"
    )
    for row in rows:
        yield Version(row[0], row[1], row[2], row[3], row[4], read_sheet(row[5]))


def separations(db: Database) -> Iterator[dict[str, Any]]:
    """Every separation."""
    yield from db.query("SELECT id AS separation, customer, art, revision, name, width_mm FROM separations ORDER BY id")


def people(db: Database) -> Iterator[dict[str, Any]]:
    """Everybody, those who left too; never a secret."""
    yield from db.query(
        "SELECT name AS person, role, secret IS NOT NULL AS signs_in, made_at, left_at FROM people ORDER BY id"
    )


def places(db: Database) -> Iterator[dict[str, Any]]:
    """Every place."""
    yield from db.query(
        "SELECT name AS place, code, kind, outside, heads, CASE kind WHEN 'press' THEN turns END AS turns, made_at, "
        "retired_at FROM places ORDER BY id"
    )


def exposure_units(db: Database) -> Iterator[dict[str, Any]]:
    """Every exposure unit."""
    yield from db.query("SELECT name AS exposure_unit, lamp, made_at, retired_at FROM exposure_units ORDER BY id")


def lamp_changes(db: Database) -> Iterator[dict[str, Any]]:
    """Every note of a new lamp, and of taking such a note back."""
    yield from db.query(
        "SELECT l.id AS number, u.name AS exposure_unit, l.at, l.saved_at, p.name AS person, l.withdraws "
        "FROM lamp_changes l JOIN exposure_units u ON u.id = l.exposure_unit JOIN people p ON p.id = l.person "
        "ORDER BY l.id"
    )


def settings(db: Database) -> Iterator[dict[str, Any]]:
    """Every setting ever made, the older first; `stands`: none came after it. Without the one-time link's."""
    rows = db.query(
        "SELECT s.name AS setting, s.value, s.at, p.name AS person, "
        "s.id = (SELECT max(id) FROM settings o WHERE o.name = s.name) AS stands "
        "FROM settings s JOIN people p ON p.id = s.person WHERE s.name <> 'first_manager' ORDER BY s.id"
    )
    for row in rows:
        yield {**row, "value": json.loads(row["value"])}


def changes(db: Database) -> Iterator[dict[str, Any]]:
    """Every change of a person, a place or an exposure unit, by the name that the thing has now."""
    yield from db.query(
        "SELECT c.thing, coalesce(e.name, l.name, u.name) AS name, c.what, c.was, c.becomes, c.at, p.name AS person "
        "FROM changes c JOIN people p ON p.id = c.person "
        "LEFT JOIN people e ON e.id = c.number AND c.thing = 'person' "
        "LEFT JOIN places l ON l.id = c.number AND c.thing = 'place' "
        "LEFT JOIN exposure_units u ON u.id = c.number AND c.thing = 'exposure unit' ORDER BY c.id"
    )


def codes(db: Database) -> Iterator[dict[str, Any]]:
    """Every code, with the one that the thing has now: a tag that was lost still leads to it."""
    yield from db.query(
        "SELECT c.code, c.kind, coalesce(n.code, c.code) AS code_now, c.made_at FROM codes c "
        "LEFT JOIN codes n ON c.replaced = 1 AND n.kind = c.kind AND n.thing = c.thing AND n.replaced = 0 "
        "ORDER BY c.made_at, c.code"
    )


def printed(db: Database) -> Iterator[dict[str, Any]]:
    """Every paper that was printed, without what it says."""
    yield from db.query(
        "SELECT t.id AS number, t.kind, t.code, t.version, t.address, t.at, p.name AS person "
        "FROM printed t JOIN people p ON p.id = t.person ORDER BY t.id"
    )
