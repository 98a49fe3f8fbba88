"""This week by weekday and press: what is printed, on what, and whether its screens can still be made in time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlite_utils import Database

from tickets.domain.desk import pace
from tickets.domain.desk.pace import Pace, WorkingHours
from tickets.domain.desk.shop_settings import working_days, working_hours
from tickets.domain.entry import read_stamp, stamp
from tickets.i18n import gettext as _
from tickets.queries import board_words, desk_pictures, desk_today
from tickets.queries.desk_today import JobAhead
from tickets.queries.said import Reader
from tickets.queries.shop_rules import the_spec, zone
from tickets.store import desk, jobs, places
from tickets.store.jobs import Planned
from tickets.store.reads import while_log_stays
from tickets.store.settings import setting
from tickets.store.spec import newest as newest_row

DAYS = 7
"""Days that a week shows, today among them."""
MOST_MADE = 1_000
"""The newest screens that the pace is worked out from, at most."""
HALF_DAY_S = 12 * 3600
"""How long a pace is kept while nothing is logged: its weeks move on by the clock."""
LIMITS = ("pace-weeks", "pace-least", "pace-longest", "pace-coat-to-ready", "pace-coats")


@dataclass(frozen=True, slots=True)
class WeekJob:
    """A job of the week. `day`: the one it is planned for, else its press date (ISO); `press`: the planned one (empty:
    none yet); `pieces`: still to be printed; `late`: its press date is past, said in `due`; `after_due`: it is planned
    for a day after its press date."""

    ahead: JobAhead
    day: str
    press: str
    pieces: int
    due: str
    dots: tuple[desk_pictures.Dot, ...]
    after_due: bool

    @property
    def needed(self) -> int:
        """The screens that it needs."""
        return self.ahead.ready + self.ahead.under_way + self.ahead.none

    @property
    def late(self) -> bool:
        """Whether its press date is past."""
        return self.ahead.late


@dataclass(frozen=True, slots=True)
class WeekDay:
    """A day of the week, or all days before (`day` is None): its weekday and date in words, its jobs by press (empty
    name: no press yet), and whether its screens can still be made: `needs_h` of the `left_h` working hours until then
    (None: not known), with the screens of the days before."""

    day: date | None
    words: tuple[str, str]
    presses: tuple[tuple[str, tuple[WeekJob, ...]], ...]
    to_coat: int
    on_the_way: int
    needs_h: float | None
    left_h: float
    works: bool

    @property
    def jobs(self) -> tuple[WeekJob, ...]:
        """All of its jobs."""
        return tuple(one for _press, some in self.presses for one in some)

    @property
    def pieces(self) -> int:
        """The pieces still to be printed of them."""
        return sum(one.pieces for one in self.jobs)

    @property
    def ready(self) -> int:
        """The screens of them that are ready, or hang."""
        return sum(one.ahead.ready for one in self.jobs)

    @property
    def needed(self) -> int:
        """The screens that they need."""
        return sum(one.needed for one in self.jobs)

    @property
    def level(self) -> str:
        """ok: all its screens are ready, or can be made; stop: there is too little time; unknown: nothing says it."""
        if self.ready == self.needed:
            return "ok"
        if self.needs_h is None:
            return "unknown"
        return "ok" if self.needs_h <= self.left_h else "stop"


@dataclass(frozen=True, slots=True)
class Week:
    """`days`: those before today first where they have jobs, then today and the days after; `later`: jobs whose press
    date is in the week and that are planned for a day behind it; `late`: how many press dates are past; `more`: there
    are more jobs than are looked at; `presses`: those of the shop, by name."""

    days: tuple[WeekDay, ...]
    later: tuple[WeekJob, ...]
    late: int
    more: bool
    pace: Pace
    hours: WorkingHours
    presses: tuple[str, ...]
    until: str

    @property
    def jobs(self) -> int:
        """How many jobs it shows on its days."""
        return sum(len(one.jobs) for one in self.days)

    @property
    def pieces(self) -> int:
        """The pieces of them."""
        return sum(one.pieces for one in self.days)


def of(reader: Reader, days: int = DAYS) -> Week:
    """The week from today on."""
    db, now = reader.db, reader.now
    today = now.astimezone(reader.zone).date()
    until = (today + timedelta(days=days - 1)).isoformat()
    lines = jobs.wanted_or_planned(db, until, desk_today.MOST_STATIONS + 1)
    found = desk_today.jobs_of(db, now, today.isoformat(), lines[: desk_today.MOST_STATIONS])
    jobs.planned_ahead(db, [one.job for one in found])
    names = places.names(db)
    left = jobs.to_print(db, [one.job for one in found])
    shown = [_job(reader, one, jobs.planned(db, one.job), names, left.get(one.job, 0)) for one in found]
    hours, known = hours_of(db), pace_of(db, now)
    by_day: dict[date | None, list[WeekJob]] = {today + timedelta(days=one): [] for one in range(days)}
    later = []
    for one in shown:
        on = date.fromisoformat(one.day)
        if one.day > until:
            later.append(one)
        else:
            by_day.setdefault(on if on >= today else None, []).append(one)
    order = sorted(by_day, key=lambda day: day or date.min)
    return Week(
        tuple(_days(reader, {day: by_day[day] for day in order}, hours, known)),
        tuple(later),
        sum(one.late for one in shown),
        len(lines) > desk_today.MOST_STATIONS,
        known,
        hours,
        tuple(one.name for one in places.every(db, "press")),
        until,
    )


def _job(reader: Reader, one: JobAhead, plan: Planned, names: Mapping[int, str], pieces: int) -> WeekJob:
    return WeekJob(
        one,
        plan.day or one.due,
        names.get(plan.press or 0, ""),
        pieces,
        board_words.due_words(reader, one.due),
        desk_pictures.dots(one.placements),
        bool(plan.day) and plan.day > one.due,
    )


def _days(
    reader: Reader, by_day: Mapping[date | None, Sequence[WeekJob]], hours: WorkingHours, known: Pace
) -> Iterable[WeekDay]:
    """The days with what each needs; the screens of a day come behind those of the days before it."""
    to_coat, on_the_way = 0, list[float | None]()
    today = reader.now.astimezone(reader.zone).date()
    for day, some in by_day.items():
        for one in some:
            to_coat += one.ahead.none
            on_the_way += _left_of(one, hours, reader.now)
        of_press: dict[str, list[WeekJob]] = {}
        for one in sorted(some, key=lambda one: (not one.press, one.press.casefold(), not one.late, one.ahead.due)):
            of_press.setdefault(one.press, []).append(one)
        yield WeekDay(
            day,
            _words(reader, day),
            tuple((press, tuple(jobs_of)) for press, jobs_of in of_press.items()),
            sum(one.ahead.none for one in some),
            sum(one.ahead.under_way for one in some),
            known.needs(to_coat, on_the_way),
            hours.left_before(day or today, reader.now),
            hours.of(day or today) is not None,
        )


def _words(reader: Reader, day: date | None) -> tuple[str, str]:
    if day is None:
        return _("Before today"), ""
    return desk_pictures.day_words(reader, day.isoformat()) if day else ("", "")


def _left_of(job: WeekJob, hours: WorkingHours, now: datetime) -> list[float | None]:
    """The working hours that each screen on the way takes still; None: not known."""
    waits = [one for place in job.ahead.placements for one in place.lacking if one.progress.has.covered]
    return [None if one.ready_at is None else hours.between(now, one.ready_at) for one in waits]


# The pace ------------------------------------------------------------------------------------------------------------


def hours_of(db: Database) -> WorkingHours:
    """When the screen room works, by the settings."""
    begins, ends = working_hours(setting(db, "work_hours"))
    return WorkingHours(begins, ends, working_days(setting(db, "work_days")), zone(db))


def pace_of(db: Database, now: datetime) -> Pace:
    """How quickly this shop makes screens, by the last weeks of its log."""
    spec, hours = the_spec(db), hours_of(db)
    limits = {key.removeprefix("pace-"): found.value if (found := spec.find(key)) else None for key in LIMITS}

    def measured() -> Pace:
        since = stamp(now - timedelta(weeks=limits["weeks"] or 0))
        made = [(read_stamp(coat), read_stamp(ready)) for coat, ready in desk.made_since(db, since, MOST_MADE)]
        return pace.measured(made, desk.coats_by_hour(db, since), hours, limits)

    about = (newest_row(db), int(now.timestamp()) // HALF_DAY_S)
    return while_log_stays(db, "pace", about, measured)


# One job -------------------------------------------------------------------------------------------------------------


def load(db: Database, now: datetime, days: int) -> dict[tuple[str, int | None], tuple[int, int]]:
    """How many jobs are planned on each day and press (its number; None: none yet) of the days from today on, and how
    many pieces they are."""
    today = now.astimezone(zone(db)).date()
    rows = jobs.planned_between(db, today.isoformat(), (today + timedelta(days=days - 1)).isoformat())
    return {(day, press): (number, pieces) for day, press, number, pieces in rows}
