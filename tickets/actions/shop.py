"""The shop as a whole: opened, set up, worked out again, proved sound."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from tickets import store
from tickets.actions.people import built_in
from tickets.actions.posting import settle_bucket, settle_limits, settle_run, settle_screen
from tickets.domain import clock, overtaken
from tickets.domain.desk import shop_settings
from tickets.domain.desk.shop_settings import SETTINGS
from tickets.domain.entry import stamp
from tickets.domain.person import Actor
from tickets.domain.refusal import Fault, NotAllowed, Refused, TryLater
from tickets.domain.spec import Row, brought_back, check_new, to_ship
from tickets.domain.told import Told, nobody
from tickets.i18n import gettext as _
from tickets.queries import shop_rules
from tickets.queries.shop_rules import the_spec
from tickets.store import buckets, finding, jobs, people, places, readings, reads, runs, screens
from tickets.store import spec as spec_rows
from tickets.store.settings import save_setting, setting

RULES = 16
"""Raised by one with every change of what replay makes of a log (`screen_log`, `run`, `readings`,
`tracing`, `bucket` of the domain) and of any other worked-out table: a shop made by earlier rules is then worked out
again once, when it is opened."""


def open_shop(folder: Path, now: datetime) -> Database:
    """A connection to the shop of a folder. A new one gets its built-in person; one that lacks limits which the
    program ships now gets them, and keeps what it set itself; one made by earlier rules is worked out again.

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
    """Every worked-out table again by the rules of now, then the note that it was done: a stop on the way begins again.

    Raises TryLater: another program is at it."""
    with store.only_one(db, "working.lock") as mine:
        if not mine:
            raise TryLater(_("The shop is being updated. Try again in a minute."), 60)
        if store.rules_of(db) < RULES:  # no other process was first
            rebuild(db)
            with store.writing(db):
                store.note_rules(db, RULES, stamp(now))


def command_line(db: Database, now: datetime) -> Actor:
    """The built-in person, who acts as a manager and cannot sign in."""
    return Actor(built_in(db, now), people.COMMAND_LINE, "built-in", "command line")


def set_up(db: Database, actor: Actor, name: str, given: Any, *, now: datetime, seen: str = "") -> None:
    """Changes one setting to what was given for it: typed, tapped, or as it is kept. Raises Refused. `seen`: what the
    form showed (a setting by its name)."""
    if not actor.manages:
        raise NotAllowed(_("The manager changes settings."))
    value = shop_settings.read(name, given)
    if SETTINGS[name].machine:
        if actor.signed != "command line":
            raise NotAllowed(_("A folder of the machine is set at the machine: tickets settings set NAME FOLDER"))
        if value and not Path(value).is_dir():
            raise Refused(_("There is no folder {folder}: make it, or plug it in.").format(folder=value), name)
    with store.writing(db):
        there = setting(db, name)
        if there == value:
            return
        overtaken.check(seen, {name: there}, {name: value})
        save_setting(db, name, value, stamp(now), actor.id)
        if name == "steps":
            store.note_rules(db, 0, stamp(now))  # to be worked out again, by whoever opens the shop next if not here
    if name == "steps":
        _bring_up(db, now)


@store.held(None)
def say_of_clock(db: Database, actor: Actor, said: str, *, now: datetime) -> None:
    """The manager says whether the clock, which says `now`, is right or wrong (`clock.ANSWERS`). Kept with who and when
    in the history of the settings; what is logged from here on goes by it.

    Raises Refused: nothing is asked now, or no clock can be right that says so."""
    if not actor.manages:
        raise NotAllowed(_("The manager says whether the clock is right."))
    if said not in clock.ANSWERS:
        raise Refused(_("Tap one of the two."), "clock")
    with store.writing(db):
        found, newest = shop_rules.clock_doubt(db, now), reads.newest(db).entry or 0
        if found is None:
            raise Refused(_("The clock and the log agree now: there is nothing to say."), "clock")
        if said == "right" and found.kind == "unset":
            raise Refused(_("This clock cannot be right. Set it on the shop’s computer first."), "clock")
        save_setting(db, "clock", clock.answered(setting(db, "clock"), said, now, newest), stamp(now), actor.id)


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


@store.held(None)
def rebuild(db: Database, told: Told = nobody) -> None:
    """Works everything out of the entries again, a few things at a time, so that phones wait for none of it long."""

    def screen(number: int) -> None:
        settle_screen(db, number, setting(db, "steps"), places.outside(db))

    def job(number: int) -> None:
        found = jobs.get(db, number)
        assert found is not None
        jobs.save_stations(db, number, found.sheet)

    store.in_turns(db, screens.every_number(db), screen, told)
    store.in_turns(db, runs.every_number(db), lambda number: settle_run(db, number), told)
    store.in_turns(db, jobs.every_number(db), job)
    every = [bucket.id for bucket in buckets.every(db, limit=10**9)]
    store.in_turns(db, every, lambda number: settle_bucket(db, number, the_spec(db)))
    if not (readings.burnt_as_exposed(db) and readings.coated_as_traced(db)):
        with store.writing(db):
            readings.add_up(db)
    with store.writing(db):
        screens.count_anew(db)
    store.in_turns(db, list(finding.every(db)), lambda some: finding.settle(db, **{some[0]: some[1]}))
    if not finding.indexed_as_written(db):
        with store.writing(db):
            finding.index_anew(db)


__all__ = ["Fault", "command_line", "open_shop", "rebuild", "set_up"]
