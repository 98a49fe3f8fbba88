"""The shop’s own limits, zone and shifts, as they are now."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from tickets import i18n as words
from tickets.domain import clock, outside
from tickets.domain.desk import pool
from tickets.domain.desk.shop_settings import shifts
from tickets.domain.entry import stamp
from tickets.domain.jobs import colourways
from tickets.domain.refusal import Refused
from tickets.domain.spec import Spec
from tickets.i18n import gettext as _
from tickets.store import jobs, runs, spec
from tickets.store.reads import newest, remembered
from tickets.store.settings import setting

AHEAD = timedelta(minutes=5)
"""How far ahead of the server's clock a phone's may be."""


def zone(db: Database) -> ZoneInfo:
    """The shop's zone."""
    return ZoneInfo(setting(db, "zone"))


def units_read(db: Database) -> str:
    """The units that are read now: those that the reader chose, else the shop's."""
    return words.units() or str(setting(db, "units"))


P = ParamSpec("P")
R = TypeVar("R")


def in_its_language(act: Callable[Concatenate[Database, P], R]) -> Callable[Concatenate[Database, P], R]:
    """Paper hangs where everybody reads it: it speaks the shop's language and units, whoever asked for it."""

    @wraps(act)
    def of_shop(db: Database, /, *args: P.args, **kwargs: P.kwargs) -> R:
        with words.speaking(str(setting(db, "language"))):
            return act(db, *args, **kwargs)

    return of_shop


def day_span(db: Database, day: date) -> tuple[str, str]:
    """From when to when (as stamps) a day of the shop's zone lasts."""
    ends = (datetime.combine(one, time(), zone(db)) for one in (day, day + timedelta(days=1)))
    first, last = (stamp(end) for end in ends)
    return first, last


def shift_begun(db: Database, at: datetime) -> str:
    """When the shift of a time began, by the shop's hours, as it is stored."""
    starts = remembered(db, "shifts", newest(db).setting, lambda: shifts(setting(db, "shifts")))
    shop = zone(db)
    day, shift = pool.shift_of(at.astimezone(shop), starts)
    return stamp(datetime.combine(day, time(starts[shift]), shop))


def act_time(text: str, shop: ZoneInfo, now: datetime) -> datetime:
    """The time of an act: ISO 8601; without an offset in the shop's zone. Empty: now.

    Refused: what is no time, an hour that the clock change makes twice or never, more than 5 min ahead.
    """
    if not text:
        return now
    at = outside.moment(text)
    if at is None:
        raise Refused(
            _("“{text}” cannot be read as a time. Write it like 2026-03-09T14:05.").format(text=text[:40]), "at"
        )
    if not 2000 <= at.year < 9000:
        raise Refused(_("“{text}” is too long ago or too far ahead to be meant.").format(text=text[:40]), "at")
    if at.tzinfo is None:
        first, second = at.replace(tzinfo=shop, fold=0), at.replace(tzinfo=shop, fold=1)
        if first.utcoffset() != second.utcoffset():
            if first.astimezone(ZoneInfo("UTC")).astimezone(shop).replace(tzinfo=None) != at:
                raise Refused(_("The clocks skipped {text} that night: give another time.").format(text=text), "at")
            offsets = " / ".join(one.isoformat() for one in (first, second))
            raise Refused(_("That hour came twice that night; say which: {offsets}.").format(offsets=offsets), "at")
        at = first
    if at > now + AHEAD:
        raise Refused(
            _("That is more than 5 minutes ahead of the shop’s clock ({now}).").format(
                now=f"{now.astimezone(shop):%Y-%m-%d %H:%M}"
            ),
            "at",
        )
    return at


def clock_doubt(db: Database, now: datetime) -> clock.ClockDoubt | None:
    """What speaks against a clock that says `now`; None: nothing."""
    there = newest(db)
    return clock.doubt(now, there.entry or 0, there.saved, setting(db, "clock"))


def clock_told(db: Database, found: clock.ClockDoubt) -> str:
    """A doubt of the clock in words."""
    now, since = (f"{at.astimezone(zone(db)):%Y-%m-%d %H:%M}" if at else "" for at in (found.now, found.since))
    return clock.told(found, now, since)


def ways_of(db: Database, run: runs.Run) -> colourways.Ways:
    """Which ink each garment of a run takes where, by the job sheet of the run's own version: older logs read as
    they did."""
    job = jobs.get(db, run.job, run.version)
    return colourways.ways_of(job.sheet, job.sheet.placements[run.placement - 1]) if job else {}


def the_spec(db: Database) -> Spec:
    """The shop's spec as it is; read again only when a row was added."""
    return remembered(db, "spec", spec.newest(db), lambda: Spec(spec.rows(db)))
