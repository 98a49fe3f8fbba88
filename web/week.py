"""This week by day and press, and planning a job: a tap chooses its press and day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import jobs as jobs_acts
from tickets.calculator.numerals import counted
from tickets.domain.overtaken import Overtaken
from tickets.domain.posted import Form
from tickets.domain.refusal import Refused
from tickets.i18n import gettext as _
from tickets.queries import desk as desk_queries
from tickets.queries import desk_pictures, find, heads, week_said
from tickets.queries import week as week_now
from tickets.store import jobs, places
from web.support import actor, faults_by_field, form_lists, page, reader

bp = Blueprint("week", __name__)

WEEKS = 4
"""Weeks from this one on that a job can be planned in by a tap; `tickets job plan` takes any day."""


@bp.get("/week")
def week() -> Response:
    """The days from today on: the jobs of each by press, and whether their screens can still be made."""
    it, mine = week_now.of(reader()), reader()
    meshes = desk_queries.ahead(g.db, g.now, week_now.DAYS - 1).meshes
    return page(
        "boards/week.html",
        it=it,
        codes=[one.ahead.code for day in it.days for one in day.jobs],
        frames=desk_pictures.week(mine, meshes),
        said={one.day: week_said.day_said(mine, one) for one in it.days},
        pace=week_said.pace_said(it.pace),
        hours=g.settings["work_hours"],
        days=week_said.days_said(it.hours),
    )


@dataclass(frozen=True, slots=True)
class Slot:
    """A day and press to tap: what is sent for it (`DAY PRESS`), the press, what is planned there already, whether the
    job is planned there, whether nothing of it can be printed there."""

    value: str
    press: str
    load: str
    chosen: bool
    never: bool


@dataclass(frozen=True, slots=True)
class PlanShown:
    """The form that plans a job: its days (ISO, weekday, date), each with its slots; `planned` as it is said; `week`:
    how many weeks on it begins."""

    job: jobs.Saved
    days: tuple[tuple[str, tuple[str, str], tuple[Slot, ...]], ...]
    planned: str
    week: int
    weeks: int = WEEKS


@bp.get("/jobs/<code>/plan")
def plan_form(code: str) -> Response:
    """Days and presses to tap, with what is planned there already."""
    return _plan_page(find.job(g.db, code))


def _plan_page(saved: jobs.Saved, refused: Refused | None = None) -> Response:
    asked = counted(request.args.get("week", ""), 0)
    at = asked if 0 <= asked < WEEKS else 0
    return page(
        "jobs/plan.html",
        refused.status if refused else 200,
        it=_shown(saved, at),
        faults=faults_by_field(refused),
        seen=jobs_acts.plan_said(g.db, jobs.planned(g.db, saved.id)),
        overtaken=refused if isinstance(refused, Overtaken) else None,
    )


def _shown(saved: jobs.Saved, at: int) -> PlanShown:
    plan, presses, mine = jobs.planned(g.db, saved.id), places.every(g.db, "press"), reader()
    there = week_now.load(g.db, g.now, (at + 1) * week_now.DAYS)
    none = {one.id for one in presses if heads.never_fits(g.db, saved, one)}
    first = g.now.astimezone(mine.zone).date() + timedelta(days=at * week_now.DAYS)
    days = []
    for day in (first + timedelta(days=one) for one in range(week_now.DAYS)):
        iso = day.isoformat()
        slots = tuple(
            Slot(
                f"{iso} {one.code}", one.name, week_said.load_said(there.get((iso, one.id))),
                plan == (one.id, iso), one.id in none,
            )
            for one in presses
        )  # fmt: skip
        days.append((iso, desk_pictures.day_words(mine, iso), slots))
    return PlanShown(saved, tuple(days), week_said.plan_said(mine, plan), at)


@bp.post("/jobs/<code>/plan")
def plan(code: str) -> AnyResponse:
    """Plans the job on the day and press that was tapped (`slot`; `none`: no more)."""
    saved = find.job(g.db, code)
    form = Form(form_lists())
    day, _space, press = form.one("slot").partition(" ")
    seen = form.one("seen") if "seen" in form.sent else None
    try:
        if not day:
            raise Refused(_("Tap a day and press."), "slot")
        on = ("", "") if day == "none" else (press, day)
        jobs_acts.plan(g.db, actor(), saved, *on, post=form.one("entry"), now=g.now, seen=seen)
    except Refused as refused:
        return _plan_page(saved, refused)
    return redirect(f"/week#{saved.code}", code=303)
