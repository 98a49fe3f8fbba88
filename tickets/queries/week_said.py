"""The week in words, and as plain data: what the days need, where the pace comes from, what is planned."""

from __future__ import annotations

from datetime import date, timedelta

from tickets.domain.desk.pace import Pace, WorkingHours
from tickets.i18n import WEEKDAYS, ngettext, weekday
from tickets.i18n import gettext as _
from tickets.i18n.spans import hours_said
from tickets.queries import desk_pictures, week
from tickets.queries.said import Reader
from tickets.store import places
from tickets.store.jobs import Planned


def pace_said(known: Pace) -> tuple[str, ...]:
    """Where the pace comes from, a sentence each."""
    weeks = ngettext("{n} week", "{n} weeks", round(known.weeks)).format(n=round(known.weeks))
    found = []
    if known.screens:
        told = ngettext(
            "From coat to ready {hours} of working time: the middle of {n} screen of the last {weeks}.",
            "From coat to ready {hours} of working time: the middle of {n} screens of the last {weeks}.",
            known.screens,
        )
        found.append(told.format(hours=hours_said(known.ready_h or 0), n=known.screens, weeks=weeks))
    elif known.ready_h is not None:
        told = _("From coat to ready {hours} of working time: a judgement of ours, until the log has enough screens.")
        found.append(told.format(hours=hours_said(known.ready_h)))
    if known.coats and known.an_hour:
        told = ngettext(
            "{n} screens an hour: {coats} coats in {hours} hour in which somebody coated, in the last {weeks}.",
            "{n} screens an hour: {coats} coats in {hours} hours in which somebody coated, in the last {weeks}.",
            known.hours,
        )
        found.append(told.format(n=f"{known.an_hour:.2g}", coats=known.coats, hours=known.hours, weeks=weeks))
    elif known.an_hour:
        told = _("{n} screens an hour: a judgement of ours, until the log has enough coats.")
        found.append(told.format(n=f"{known.an_hour:.2g}"))
    return tuple(found)


def day_said(reader: Reader, day: week.WeekDay) -> str:
    """Whether the screens of a day can still be made, in words with its numbers."""
    lacking = day.needed - day.ready
    if not lacking:
        return _("all screens ready") if day.needed else ""
    if day.needs_h is None:
        return _("the pace is not known")
    left = hours_said(day.left_h)
    today = reader.now.astimezone(reader.zone).date()
    told = _("needs {needs}, {left} left today") if _ends_today(day, today) else _("needs {needs}, {left} left")
    return told.format(needs=hours_said(day.needs_h), left=left)


def _ends_today(day: week.WeekDay, today: date) -> bool:
    """Whether what is left until a day is over today."""
    return day.day is None or day.day <= today + timedelta(days=1)


def days_said(hours: WorkingHours) -> str:
    """The days on which the screen room works: `Mon Tue Wed`."""
    return " ".join(_(WEEKDAYS[one - 1]) for one in sorted(hours.days))


def load_said(planned: tuple[int, int] | None) -> str:
    """What is planned on a day and press already: `2 jobs, 140 pieces`; empty: nothing."""
    if planned is None:
        return ""
    jobs_there, pieces = planned
    return ", ".join(
        [
            ngettext("{n} job", "{n} jobs", jobs_there).format(n=jobs_there),
            ngettext("{n} piece", "{n} pieces", pieces).format(n=pieces),
        ]
    )


def plan_said(reader: Reader, plan: Planned) -> str:
    """On which press and day a job is planned: `Press 1, Thu 12 Mar`; empty: not planned."""
    on = desk_pictures.day_words(reader, plan.day) if plan.day else ()
    press = places.names(reader.db).get(plan.press or 0, "")
    return ", ".join(one for one in (press, " ".join(on)) if one)


# As plain data -------------------------------------------------------------------------------------------------------


def as_data(reader: Reader, found: week.Week) -> dict[str, object]:
    """The week as plain data."""
    return {
        "until": found.until,
        "late": found.late,
        "more": found.more,
        "pace": {
            "coat_to_ready_h": found.pace.ready_h,
            "screens": found.pace.screens,
            "coats_an_hour": found.pace.an_hour,
            "coats": found.pace.coats,
            "hours_with_a_coat": found.pace.hours,
            "weeks": found.pace.weeks,
        },
        "days": [_day_data(reader, one) for one in found.days],
        "planned_later": [_job_data(one) for one in found.later],
    }


def _day_data(reader: Reader, day: week.WeekDay) -> dict[str, object]:
    return {
        "day": day.day.isoformat() if day.day else None,
        "weekday": weekday(day.day) if day.day else "",
        "jobs": [_job_data(one) for one in day.jobs],
        "pieces": day.pieces,
        "screens_ready": day.ready,
        "screens_needed": day.needed,
        "screens_to_coat": day.to_coat,
        "needs_h": None if day.needs_h is None else round(day.needs_h, 2),
        "left_h": round(day.left_h, 2),
        "level": day.level,
        "said": day_said(reader, day),
    }


def _job_data(one: week.WeekJob) -> dict[str, object]:
    ahead = one.ahead
    return {
        "code": ahead.code,
        "title": ahead.title,
        "customer": ahead.customer,
        "due": ahead.due,
        "day": one.day,
        "press": one.press,
        "pieces": one.pieces,
        "screens_ready": ahead.ready,
        "screens_on_the_way": ahead.under_way,
        "screens_needed": one.needed,
        "late": one.late,
        "planned_after_due": one.after_due,
    }
