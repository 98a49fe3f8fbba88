"""Probe runs: what a job asks of one, the runs that were kept, and keeping one with its press, dryer and job."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.actions.posting import before, in_one, line, numbered, once, write
from tickets.calculator import units
from tickets.calculator.catalogue import Answer
from tickets.calculator.numerals import counted
from tickets.domain import setting
from tickets.domain.entry import Entry
from tickets.domain.person import Actor
from tickets.domain.posted import Form
from tickets.domain.refusal import Refused
from tickets.domain.runs import curing, setup
from tickets.i18n import gettext as _
from tickets.queries import target
from tickets.queries.run_plan import Plan
from tickets.queries.shop_rules import act_time, the_spec, zone
from tickets.store import entries, jobs, places

OFFERED = 5
LONGEST = 100


@dataclass(frozen=True, slots=True)
class About:
    """What a probe run is made for: a job, the place of its placement (counted from 1), the run and press if any."""

    job: jobs.Saved
    placement: int
    run: int | None = None
    press: int | None = None


def about_run(plan: Plan) -> About:
    """A probe run for a run that is set up."""
    return About(plan.job, plan.run.placement, plan.run.id, plan.press.id)


def asked(db: Database, about: About, plan: Plan | None = None) -> dict[str, str]:
    """The fields of the probe's form that the job answers: the cure and hold that its inks need, where the dye of its
    garments may move, the belt speed as measured, else as the target of the run has it, else as planned."""
    placement = about.job.sheet.placements[about.placement - 1]
    needs, stands = curing.needs_of(about.job.sheet, placement, the_spec(db), code=about.job.code)
    cures = [one.cure.value for one in needs if one.cure]
    holds = [one.hold.value for one in needs if one.hold]
    bleeds = [one.bleed.value for one in stands if one.bleed]
    run_with = plan.story.settings.get(setup.RUN, {}) if plan else {}
    aim = target.aim(db, about.job, about.placement, plan.run)[0].get(setup.RUN, {}) if plan else {}
    speeds = (setting.number("belt_speed", known.get("belt_speed", "")) for known in (run_with, aim))
    speed = next((one for one in speeds if one is not None), None)
    if speed is None and placement.dryer:
        speed = placement.dryer.belt_speed_m_per_min
    found = {
        "cure": (max(cures, default=None), "degC"),
        "hold": (max(holds, default=None), "s"),
        "bleed": (min(bleeds, default=None), "degC"),
        "speed": (speed, "m/min"),
    }
    return {name: f"{units.exact_text(value)} {unit}" for name, (value, unit) in found.items() if value is not None}


def kept(db: Database, about: About | None = None) -> list[Entry]:
    """The newest probe runs that were kept, those of the same job before those of the same press, then the others."""
    found = entries.probes(db)
    if about is not None:
        found.sort(key=lambda one: (one.job != about.job.id, one.values.get("press") != about.press))
    return found[:OFFERED]


@in_one
def keep(db: Database, actor: Actor, about: About, form: Form, answer: Answer, *, post: str, now: datetime) -> None:
    """Keeps a probe run that was worked out, with its marks as sent, for the job it was made for.

    Fields beside those of the calculation: `press` (its number; else that of the run), `dryer` (which one).
    """
    content = {"step": "probe", "job": about.job.id, **form.sent}
    if before(db, actor, post, content) is not None:
        return
    press = about.press
    if form.one("press"):
        place = places.get(db, counted(form.one("press"))) if form.one("press") else None
        if place is None or place.kind != "press":
            raise Refused(_("There is no such press: choose one of the list."), "press")
        press = place.id
    results = {name: value.to_dict() for name, value in answer.results.items()}
    values: dict[str, Any] = {
        "placement": about.placement,
        "dryer": form.words("dryer", LONGEST),
        **({"press": press} if press else {}),
        **({"run": about.run} if about.run else {}),
        "sent": {one.name: form.one(one.name) for one in answer.calculation.inputs if form.one(one.name)},
        "results": {name: one["value"] for name, one in results.items() if one["value"] is not None},
    }
    at = act_time(form.one("at"), zone(db), now)

    def act() -> Mapping[str, Any]:
        made = line(actor, "probe", at, now, values, verdict=answer.verdict, job=about.job.id)
        write(db, numbered(post, [made]))
        return {"entries": [post]}

    once(db, actor, post, content, now, lambda: dict(act()))
