"""What every act of a run reads, and refuses."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from sqlite_utils import Database

from tickets.actions.posting import line
from tickets.calculator.numerals import counted
from tickets.calculator.verdict import Level, Verdict
from tickets.domain import names
from tickets.domain.entry import Entry, read_stamp
from tickets.domain.jobs import colourways
from tickets.domain.person import NOBODY_PASSES, Actor, may_pass, to_pass
from tickets.domain.posted import Form, Worse
from tickets.domain.refusal import NotAllowed, Refused
from tickets.domain.runs import run as run_rules
from tickets.domain.runs.run import COLOURWAY
from tickets.i18n import day_text
from tickets.i18n import gettext as _
from tickets.queries import at_press, run_plan
from tickets.queries.run_plan import Plan
from tickets.queries.shop_rules import zone
from tickets.store import entries

MOMENT = timedelta(microseconds=1)


def clock_said(db: Database, at: datetime, now: datetime) -> str:
    """A time in the shop's zone, as people say it."""
    here = at.astimezone(zone(db))
    return f"{day_text(here.date(), now.astimezone(zone(db)).date())}, {here:%H:%M}"


def passed(actor: Actor, verdict: Verdict, form: Form) -> dict[str, Any] | None:
    """Who overrode what, and why; None where nothing needs it. Raises Worse (a reason is needed) or NotAllowed."""
    causes = to_pass(verdict)
    if not causes:
        return None
    if set(causes) & NOBODY_PASSES:
        raise Worse(_("Stop: nobody may hang this screen. Take another one."), verdict)
    if "head-in-use" in causes:
        raise Worse(_("The log has a screen of another run on this head. Is it free now?"), verdict, "head_taken")
    if "hanging-elsewhere" in causes or "away" in causes:
        raise Worse(_("The log has it elsewhere. Do you have it in front of you?"), verdict, "in_hand")
    why = form.words("override", names.WHY)
    if not why:
        if verdict.level is Level.CAUTION:
            message = _(
                "This screen’s image was only judged by eye: another person logs a good check, or a press lead hangs "
                "it with a reason."
            )
            raise Worse(message, verdict)
        if not may_pass(actor, causes):
            raise Worse(_("Stop. Only a press lead or a manager may go on, with a reason."), verdict)
        raise Worse(_("Stop. Put right what is wrong, or say why you go on anyway."), verdict)
    if not may_pass(actor, causes):
        raise NotAllowed(_("Only a press lead or a manager may go on in spite of this stop."), "override")
    return {"who": actor.name, "person": actor.id, "why": why, "causes": causes}


def go_on(sent: Sent) -> dict[str, Any]:
    """The verdict on going on with this run, and who overrode it, as keywords of its entry. Raises as `passed` does,
    and Worse where it got worse than what the form showed (field `seen`)."""
    verdict = at_press.going(sent.db, sent.plan, sent.at if sent.form.one("at") else sent.now)
    override = passed(sent.actor, verdict, sent.form)
    as_seen(verdict, override, sent.form)
    noted = verdict if verdict.reasons else None
    return {"verdict": noted, "override": override}


def as_seen(verdict: Verdict, override: Mapping[str, Any] | None, form: Form) -> None:
    """Refuses what got worse than the level that the form showed, unless somebody overrode it."""
    seen = form.one("seen")
    if override is None and seen in {str(level) for level in Level} and verdict.level.rank > Level(seen).rank:
        raise Worse(_("Something changed. Check it again."), verdict, "seen")


def since_opened(db: Database, plan: Plan, at: datetime, now: datetime) -> None:
    """Refuses an act that is dated back to before its run was opened."""
    opened = read_stamp(plan.run.opened_at)
    if at < opened.replace(second=0, microsecond=0):  # people type minutes
        message = _("Run {number} was opened {when}: give a later time.")
        raise Refused(message.format(number=plan.run.id, when=clock_said(db, opened, now)), "at")


def is_open(plan: Plan) -> None:
    if plan.story.state == "finished" or plan.run.done_at:
        raise Refused(_("Run {number} is finished. Open a new one.").format(number=plan.run.id), "run")


def whole_number(form: Form, name: str, low: int, high: int) -> int | None:
    text = form.one(name)
    if not text:
        return None
    if not low <= counted(text, low - 1) <= high:
        raise Refused(_("A whole number from {low} to {high} would do.").format(low=low, high=high), name)
    return counted(text)


class SaidParts(NamedTuple):
    """The parts of a sheet that are said with a post: one by one (`noted`), as the target all in one (`claimed`), and
    by posts before it (`before`)."""

    noted: set[str]
    claimed: set[str]
    before: set[str]

    @property
    def all(self) -> set[str]:
        """Every part of which somebody said something by then."""
        return self.noted | self.claimed | self.before


class Sent(NamedTuple):
    """A step of a run as it was sent, and who sent it when: what each act below takes."""

    db: Database
    actor: Actor
    plan: Plan
    step: str
    values: dict[str, Any]
    typed: dict[str, Any]
    form: Form
    at: datetime
    now: datetime


def colourway_line(
    actor: Actor, plan: Plan, form: Form, values: Mapping[str, Any], at: datetime, now: datetime
) -> Entry:
    garments = plan.job.sheet.garments
    number = whole_number(form, "garment", 1, len(garments))
    if number is None:
        raise Refused(_("Which garment is printed now? {names}.").format(names=_garment_names(plan)), "garment")
    garment = garments[number - 1]
    told = {"garment_style": garment.style, "garment_colour": garment.colour, "garment": number}
    return line(actor, "change", at, now, {**values, "what": COLOURWAY, **told}, run=plan.run.id)


def _garment_names(plan: Plan) -> str:
    every = enumerate(plan.job.sheet.garments, 1)
    return "; ".join(f"{place} {colourways.called(one)}" for place, one in every)


def said_garment(sent: Sent) -> tuple[Plan, list[Entry]]:
    """The run as it is printed on the garment that was sent along (field garment), with the change that says so. Where
    a job has several, the pieces are of one of them: refused until that is said."""
    plan, form = sent.plan, sent.form
    if not run_plan.several_garments(plan) or (run_plan.garment_now(plan) and not form.one("garment")):
        return plan, []
    if not form.one("garment"):
        if sent.step in {"approve", "sheet"}:  # of the one that the start says
            return plan, []
        told = _("Say which garment is printed first: the pieces of each are counted apart. {names}.")
        raise Refused(told.format(names=_garment_names(plan)), "garment")
    said = colourway_line(sent.actor, plan, form, {}, sent.at, sent.now)
    name = colourways.named(said.values["garment_style"], said.values["garment_colour"])
    if run_plan.garment_now(plan) and plan.story.on == name:
        return plan, []
    ways = colourways.ways_of(plan.job.sheet, plan.placement)
    log = entries.of(sent.db, "run", plan.run.id)
    story = run_rules.replay([*log, replace(said, entry=f"{said.entry}-0")], ways)
    fresh = replace(plan, run=replace(plan.run, story=replace(story, hung=plan.story.hung)))
    return replace(fresh, to_approve=run_plan.still_to_approve(sent.db, story)), [said]


def said_on(db: Database, actor: Actor, plan: Plan, form: Form, now: datetime) -> Plan:
    """The run as it is on the garment that a form says (field garment), before anything of that is written. Without
    one, or with one that the job has not: as it is."""
    try:
        return said_garment(Sent(db, actor, plan, "approve", {}, {}, form, now, now))[0]
    except Refused:
        return plan
