"""Whether the file says what the log says, and what to do where it does not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sqlite_utils import Database

from tickets import store
from tickets.domain import bucket as bucket_rules
from tickets.domain.runs import led
from tickets.domain.screens import readings as readings_rules
from tickets.domain.screens import works
from tickets.domain.told import Told, each, nobody
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import picture_files
from tickets.queries.shop_rules import the_spec, ways_of
from tickets.store import buckets, desk, entries, files, finding, jobs, places, proof, readings, runs, screens
from tickets.store.settings import setting

REPAIR = N_("Rebuild it from the log with: tickets repair")


WHAT_TO_DO: dict[str, str] = {
    "worked out": REPAIR,
    "pages": N_("Make a backup of what can be read, then: tickets repair"),
    "rows": N_("Restore the newest backup that was sound; keep this folder as it is."),
    "guard": N_("Put it back with: tickets repair. Compare the log with a backup: something else wrote into the file."),
    "picture": N_("Restore a backup into a new folder and copy the file from there, or take the picture again."),
}
"""What answers each kind of finding."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is not sound: its kind (a key of `WHAT_TO_DO`), and what it is."""

    kind: str
    what: str

    def __str__(self) -> str:
        return f"{self.what} {_(WHAT_TO_DO[self.kind])}"


def check(db: Database, told: Told = nobody) -> list[str]:
    """What is not sound and what to do about it, a line each.

    An empty list: the worked-out tables equal the log, the guards stand, the file is whole.
    """
    return [str(finding) for finding in findings(db, told=told)]


def findings(db: Database, pictures_in: Path | None = None, told: Told = nobody) -> list[Finding]:
    """What is not sound, as the shop was at one moment, whatever is written meanwhile. `pictures_in`: where its
    pictures lie, if not beside its file."""
    with files.still(db):  # not `store.reading`, which would keep every answer, the whole log in the end
        found = [Finding("guard", _("The guard {name} is missing.").format(name=name))
                 for name in store.guards_missing(db)]  # fmt: skip
        pages = store.integrity(db)
        found += [Finding("pages", line) for line in pages]
        found += [Finding("rows", line) for line in store.strays(db)]
        try:
            if not proof.whole_log(db):
                found.append(Finding("rows", _("Entries are missing from the log.")))
            found += [Finding("worked out", line) for line in _not_as_logged(db, told)]
            found += [Finding("picture", line) for line in picture_files.missing(db, pictures_in)]
        except store.Damaged as error:
            if not pages:
                found.append(Finding("pages", str(error)))
    return found


def _not_as_logged(db: Database, told: Told) -> Iterator[str]:
    """The worked-out rows that are not what the log says, a line each."""
    yield from _screens_not_as_logged(db, told)
    if not readings.burnt_as_exposed(db):
        yield _("The hours of the lamps do not add up.")
    if not readings.coated_as_traced(db):
        yield _("What the buckets coated does not add up.")
    for number in each(runs.every_number(db), told):
        lines, run = entries.of(db, "run", number), runs.get(db, number)
        ways = ways_of(db, run) if run else {}
        now, there = led.whole(lines, ways), runs.saved(db, number)
        worked_out = runs.worked_out(db, number, now)
        if there != (worked_out if there["led"] else {**worked_out, "led": None}):
            yield _("Run {number} is not what its log says.").format(number=number)
        elif desk.saved_run(db, number) != now.trace:
            yield _("Run {number}: its press stops, counts and lots are not what its log says.").format(number=number)
    for bucket in buckets.every(db, limit=10**9):
        if bucket_rules.replay(bucket, entries.of(db, "bucket", bucket.id), the_spec(db)) != bucket:
            yield _("Bucket {code} is not what its log says.").format(code=bucket.code)
    for number in jobs.every_number(db):
        job = jobs.get(db, number)
        if job is None or jobs.stations_of(db, number, job.sheet, make=False) != jobs.saved_stations(db, number):
            yield _("Job {number}: its positions are not what its job sheet says.").format(number=number)
    for kind in finding.unlike(db):
        yield _("What is found by its words is not what is written of it ({kind}).").format(kind=_(kind))
    if not finding.indexed_as_written(db):
        yield _("The index of words is not what can be found.")


def _screens_not_as_logged(db: Database, told: Told) -> Iterator[str]:
    logged, outside = setting(db, "steps"), places.outside(db)
    counted: dict[tuple[str, str], int] = {}
    for number in each(screens.every_number(db), told):
        life, lesson = readings_rules.replay(entries.of(db, "screen", number), logged, outside)
        if readings.saved(db, number) != lesson:
            yield _("Screen {number}: its readings are not what its log says.").format(number=number)
        tail, there = readings_rules.Tail().then(lesson, life), screens.saved_row(db, number)
        row = screens.standing_row(number, life, works.slackness(life, the_spec(db)), tail)
        if there != (row if there is None or there["led"] else {**row, "led": None}):
            yield _("Screen {number}: its stage is not what its log says.").format(number=number)
        numbers = {found for found in screens.carried(life) if jobs.separation(db, found)}
        if screens.saved_carries(db, number) != numbers:
            yield _("Screen {number}: what it carries is not what its log says.").format(number=number)
        key = (row["standing"], row["mesh"])
        counted[key] = counted.get(key, 0) + 1
    if counted != screens.saved_counts(db):
        yield _("The counts by stage and mesh do not add up.")
