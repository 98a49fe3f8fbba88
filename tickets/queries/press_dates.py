"""The press dates of the open jobs, as a calendar shows them."""

from __future__ import annotations

from datetime import date

from tickets.domain.code import shown
from tickets.domain.entry import read_stamp
from tickets.domain.jobs import calendar
from tickets.domain.jobs.calendar import DueDay
from tickets.i18n import gettext as _
from tickets.i18n import ngettext
from tickets.queries import week_said
from tickets.queries.said import Reader
from tickets.store import jobs
from tickets.store.jobs import CalendarJob, Planned
from tickets.store.settings import setting

MOST = 1_000
"""Open jobs in a calendar, the earliest press date first."""


def calendar_file(reader: Reader, customers: bool) -> str:
    """The open jobs as an iCalendar file; `customers`: whether their names may stand in it."""
    address = str(setting(reader.db, "address")).rstrip("/")
    days = [_day(reader, one, address, customers) for one in jobs.for_calendar(reader.db, MOST)]
    name = _("{shop}: press dates").format(shop=setting(reader.db, "shop") or _("The shop"))
    return calendar.written(name, days)


def _day(reader: Reader, one: CalendarJob, address: str, customers: bool) -> DueDay:
    pieces = ngettext("{n} piece", "{n} pieces", one.pieces).format(n=one.pieces)
    plan = week_said.plan_said(reader, Planned(one.press, one.on_day))
    about = [
        one.customer if customers else "",
        _("Job {code}").format(code=shown(one.code)),
        _("Planned: {plan}").format(plan=plan) if plan else "",
    ]
    return DueDay(
        f"{one.code}-{one.made_at[:19]}",  # a code is issued once, in one shop; the time parts the shops
        date.fromisoformat(one.due),
        f"{one.title} ({pieces})",
        "\n".join(text for text in about if text),
        f"{address}/t/{one.code}" if address else "",
        read_stamp(one.revised_at),
        one.times,
    )
