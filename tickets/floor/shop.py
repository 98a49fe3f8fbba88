"""The shop as a whole: opened, set up, worked out anew, proved sound."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from tickets import store
from tickets.floor import pictures
from tickets.floor.people import built_in
from tickets.floor.posting import settle_bucket, settle_limits, settle_run, settle_screen, the_spec, ways_of
from tickets.records import bucket as bucket_rules
from tickets.records import nights, tracing, works
from tickets.records import readings as readings_rules
from tickets.records import run as run_rules
from tickets.records import screen as screen_rules
from tickets.records.entry import Entry, stamp
from tickets.records.person import Actor
from tickets.records.pool import read_shifts
from tickets.records.refusal import Fault, NotAllowed, Refused, TryLater
from tickets.records.run import AGAIN
from tickets.records.spec import Row, Spec, brought_back, check_new, to_ship
from tickets.store import buckets, desk, entries, files, jobs, people, places, proof, readings, runs, screens
from tickets.store import spec as spec_rows
from tickets.store.settings import DEFAULTS, save_setting, setting, settings
from tickets.words import N_
from tickets.words import gettext as _

RULES = 13
"""Raised by one with every change of what replay makes of a log (records/screen, run, readings, tracing, bucket) and of
any other worked-out table: a shop made by earlier rules is then worked out anew once, when it is opened."""


def open_shop(folder: Path, now: datetime) -> Database:
    """A connection to the shop of a folder. A new one gets its built-in person; one that lacks limits which the
    program ships now gets them, and keeps what it set itself; one made by earlier rules is worked out anew.

    Raises NotNow: the shop cannot be opened, or a newer program wrote it."""
    store.prepare(folder)
    db = store.connect(folder)
    try:
        person = built_in(db, now)
        if to_ship(spec_rows.rows(db), spec_rows.came(db)):
            with store.writing(db):
                for row in to_ship(spec_rows.rows(db), spec_rows.came(db)):
                    spec_rows.ship(db, replace(row, id=0, at=stamp(now), person=person))
                settle_limits(db)
        rules = store.rules_of(db)
        if rules > RULES:
            raise store.newer_shop(store.shop_file(folder), rules, RULES)
        if rules < RULES:
            _bring_up(db, now)
    except BaseException:
        db.close()
        raise
    return db


def _bring_up(db: Database, now: datetime) -> None:
    """Every worked-out table anew by the rules of now, then the note that it was done: a stop on the way begins again.

    Raises TryLater: another program is at it."""
    with store.only_one(db, "working.lock") as mine:
        if not mine:
            raise TryLater(_("The shop is being worked out anew: try again in a minute."), 60)
        if store.rules_of(db) < RULES:  # no other process was first
            rebuild(db)
            with store.writing(db):
                store.note_rules(db, RULES, stamp(now))


def command_line(db: Database, now: datetime) -> Actor:
    """The built-in person, who acts as a manager and cannot sign in."""
    return Actor(built_in(db, now), people.COMMAND_LINE, "built-in", "command line")


def set_up(db: Database, actor: Actor, name: str, value: Any, *, now: datetime) -> None:
    """Changes one setting."""
    if not actor.manages:
        raise NotAllowed(_("The manager changes settings."))
    if name not in DEFAULTS:
        raise Refused(_("There is no setting “{name}”.").format(name=name))
    if name in nights.PLACES and actor.signed != "command line":
        raise NotAllowed(_("A folder of the machine is set at the machine: tickets settings set NAME FOLDER"))
    _check_setting(name, value)
    with store.writing(db):
        if setting(db, name) == value:
            return
        save_setting(db, name, value, stamp(now), actor.id)
        if name == "steps":
            store.note_rules(db, 0, stamp(now))  # to be worked out anew, by whoever opens the shop next if not here
    if name == "steps":
        _bring_up(db, now)


def _check_setting(name: str, value: Any) -> None:
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    if name == "zone":
        try:
            ZoneInfo(str(value))
        except (ZoneInfoNotFoundError, ValueError):
            raise Refused(
                _("“{zone}” is no time zone; write one like Europe/Warsaw.").format(zone=value), "zone"
            ) from None
    if name == "units" and value not in {"metric", "us"}:
        raise Refused(_("Units are metric or us."), "units")
    _check_backup(name, value)
    if name in AGAIN.values() and value not in {"yes", "no"}:
        raise Refused(_("One of: {choices}.").format(choices="yes, no"), name)
    if name == "emulsion_water_resistant" and value not in {"yes", "no", "unknown"}:
        raise Refused(_("One of: {choices}.").format(choices="yes, no, unknown"), name)
    if name == "shifts":
        read_shifts(value)
    if name == "steps":
        unknown = set(value) - set(screen_rules.MOVES)
        if unknown:
            raise Refused(_("No such steps: {steps}.").format(steps=", ".join(sorted(unknown))), "steps")


def _check_backup(name: str, value: Any) -> None:
    least, most = nights.WHOLE.get(name, (0, 0))
    if name in nights.WHOLE and not (type(value) is int and least <= value <= most):
        raise Refused(_("A whole number from {least} to {most} would do.").format(least=least, most=most), name)
    if name in nights.PLACES and value:
        if not Path(str(value)).is_absolute():
            raise Refused(_("Write the whole path of the folder, from the root."), name)
        if not Path(str(value)).is_dir():
            raise Refused(_("There is no folder {folder}: make it, or plug it in.").format(folder=value), name)


def add_spec_row(db: Database, actor: Actor, row: Row, *, now: datetime) -> None:
    """Appends a limit (value None withdraws the row with these conditions; one that came with the
    program and stood in its place counts again)."""
    if not actor.manages:
        raise NotAllowed(_("The manager changes the limits."))
    if row.value is not None and not row.source.strip():
        raise Refused(_("Say where the limit comes from: a data sheet, a test of yours, judgement."), "source")
    with store.writing(db):
        back = brought_back(spec_rows.rows(db), row, spec_rows.came(db))
        check_new(the_spec(db), back or row)
        if back is not None:  # what came with the program counts again: never no limit
            spec_rows.ship(db, replace(back, at=stamp(now), person=actor.id))
        else:
            spec_rows.add(db, Row(0, row.key, row.value, row.unit, row.conditions, row.source, stamp(now), actor.id))
        settle_limits(db)


# Worked-out tables ---------------------------------------------------------------------------------------------------


def rebuild(db: Database) -> None:
    """Works everything out of the entries anew, a few things at a time, so that phones wait for none of it long."""

    def screen(number: int) -> None:
        settle_screen(db, number, setting(db, "steps"), places.outside(db))

    def job(number: int) -> None:
        found = jobs.get(db, number)
        assert found is not None
        jobs.save_stations(db, number, found.sheet)

    store.in_turns(db, screens.every_number(db), screen)
    store.in_turns(db, runs.every_number(db), lambda number: settle_run(db, number))
    store.in_turns(db, jobs.every_number(db), job)
    every = [bucket.id for bucket in buckets.every(db, limit=10**9)]
    store.in_turns(db, every, lambda number: settle_bucket(db, number, the_spec(db)))
    if not (readings.burnt_as_exposed(db) and readings.coated_as_traced(db)):
        with store.writing(db):
            readings.add_up(db)
    with store.writing(db):
        screens.count_anew(db)


REPAIR = N_("Make it anew from the log with: tickets repair")
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


def check(db: Database) -> list[str]:
    """What is not sound and what to do about it, a line each.

    An empty list: the worked-out tables equal the log, the guards stand, the file is whole.
    """
    return [str(finding) for finding in findings(db)]


def findings(db: Database, pictures_in: Path | None = None) -> list[Finding]:
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
            found += [Finding("worked out", line) for line in _not_as_logged(db)]
            found += [Finding("picture", line) for line in pictures.missing(db, pictures_in)]
        except store.Damaged as error:
            if not pages:
                found.append(Finding("pages", str(error)))
    return found


def _not_as_logged(db: Database) -> Iterator[str]:
    """The worked-out rows that are not what the log says, a line each."""
    yield from _screens_not_as_logged(db)
    if not readings.burnt_as_exposed(db):
        yield _("The hours of the lamps do not add up.")
    if not readings.coated_as_traced(db):
        yield _("What the buckets coated does not add up.")
    for number in runs.every_number(db):
        lines, run = entries.of(db, "run", number), runs.get(db, number)
        ways = ways_of(db, run) if run else {}
        story = run_rules.replay(lines, ways)
        if runs.saved(db, number) != runs.worked_out(db, number, story):
            yield _("Run {number} is not what its log says.").format(number=number)
        elif desk.saved_run(db, number) != tracing.of_run(lines, ways):
            yield _("Run {number}: its stops, counts and lots are not what its log says.").format(number=number)
    for bucket in buckets.every(db, limit=10**9):
        if bucket_rules.replay(bucket, entries.of(db, "bucket", bucket.id), the_spec(db)) != bucket:
            yield _("Bucket {code} is not what its log says.").format(code=bucket.code)
    for number in jobs.every_number(db):
        job = jobs.get(db, number)
        if job is None or jobs.stations_of(db, number, job.sheet, make=False) != jobs.saved_stations(db, number):
            yield _("Job {number}: its stations are not what its sheet says.").format(number=number)


def _screens_not_as_logged(db: Database) -> Iterator[str]:
    logged, outside = setting(db, "steps"), places.outside(db)
    counted: dict[tuple[str, str], int] = {}
    for number in list(screens.every_number(db)):
        life, lesson = readings_rules.replay(entries.of(db, "screen", number), logged, outside)
        if readings.saved(db, number) != lesson:
            yield _("Screen {number}: its readings are not what its log says.").format(number=number)
        row = screens.standing_row(number, life, works.slackness(life, the_spec(db)))
        if screens.saved_row(db, number) != row:
            yield _("Screen {number}: its standing is not what its log says.").format(number=number)
        numbers = {found for found in screens.carried(life) if jobs.separation(db, found)}
        if screens.saved_carries(db, number) != numbers:
            yield _("Screen {number}: what it carries is not what its log says.").format(number=number)
        key = (row["standing"], row["mesh"])
        counted[key] = counted.get(key, 0) + 1
    if counted != screens.saved_counts(db):
        yield _("The counts by standing and mesh do not add up.")


def summary(db: Database) -> dict[str, Any]:
    """A few figures for the more curious: screens, entries, jobs."""
    return {"entries": entries.count(db), "settings": settings(db), "spec_rows": len(Spec(spec_rows.rows(db)).rows)}


def log_of(db: Database, thing: str, number: int) -> list[tuple[Entry, Entry | None]]:
    """The entries of a thing, newest first, each with the entry that crossed it out."""
    lines = entries.of(db, thing, number)
    crossed = entries.crossed_by(db, [line.entry for line in lines])
    return [(line, crossed.get(line.entry)) for line in reversed(lines)]


__all__ = ["Fault", "check", "command_line", "open_shop", "rebuild", "set_up"]
