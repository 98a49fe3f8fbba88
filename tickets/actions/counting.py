"""Pieces are counted, and the run is paused or finished.

A pause takes the screens off as kept for the run; going on hangs and checks them again. With nothing counted since the
start a pause asks (`later`); a count while a head is empty asks (`before`) and goes to the screen that came off there.
A count that comes along with another step is taken in any case, with what spoke against it noted; before any start was
logged it asks for what a start asks for.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.actions import coming_off, run_act
from tickets.actions.posting import line, numbered
from tickets.actions.run_act import MOMENT, Sent
from tickets.calculator.numerals import counted
from tickets.domain import names, step_reading, steps
from tickets.domain.entry import Entry, read_stamp, stamp, standing_lines, whole_of
from tickets.domain.jobs import colourways
from tickets.domain.person import Actor
from tickets.domain.posted import Doubt, Form
from tickets.domain.refusal import Clash, Refused
from tickets.domain.runs import run as run_rules
from tickets.domain.runs.run import Hung, Story
from tickets.domain.screens import press_checks
from tickets.i18n import gettext as _
from tickets.queries import at_press, run_plan
from tickets.queries.asked import kept_for_run
from tickets.queries.run_plan import Plan
from tickets.queries.shop_rules import the_spec
from tickets.store import entries, people


def all_hung(plan: Plan) -> None:
    missing = plan.missing()
    if missing:
        names = ", ".join(f"{one.number} ({one.image.name})" for one in missing)
        raise Refused(
            _("These have no screen yet: position {names}. Scan their screens first.").format(names=names), "screen"
        )


def counted_mark(story: Story) -> str:
    """What was counted as a page shows it (field `counted`): a count that another phone made meanwhile is told."""
    return f"{story.good}.{story.misprinted}"


def _doubted(sent: Sent, values: Mapping[str, Any]) -> dict[str, Any]:
    """Raises Doubt where somebody else counted since the form was shown, or where this makes more pieces than were
    ordered; what was answered, to be kept with the count."""
    db, story, form, good = sent.db, sent.plan.story, sent.form, int(values.get("good", 0))
    if form.one("counted") not in {"", counted_mark(story)}:
        raise Doubt(_counted_since(sent, good), "good", again=True)
    garment, sheet = run_plan.garment_now(sent.plan), sent.plan.job.sheet
    counted = run_plan.pieces_counted(db, sent.plan)
    name = f"{garment.style}, {garment.colour}" if garment else ""
    same = sum(one.pieces for one in sheet.garments if f"{one.style}, {one.colour}" == name)
    before, ordered = (counted[name], same) if same else (counted.total(), sheet.pieces)
    log = standing_lines(entries.of(db, "run", sent.plan.run.id))
    answered = any(one.step == "count" and one.values.get("over") for one in log)
    over = press_checks.over_ordered(before, good, ordered, answered, the_spec(db))
    if over and not form.one("over"):
        told = _("That makes {all} good pieces of {ordered} ordered ({good} just now). Is that right?")
        raise Doubt(told.format(all=before + good, ordered=ordered, good=good), "over")
    return {"over": form.words("over", names.WHY)} if over else {}


def _counted_since(sent: Sent, good: int) -> str:
    """What was counted since a form was shown, by whom and when, beside what is to be counted now."""
    db, story = sent.db, sent.plan.story
    was_good, _dot, was_bad = sent.form.one("counted").partition(".")
    counts = [one for one in standing_lines(entries.of(db, "run", sent.plan.run.id)) if one.step == "count"]
    last = max(counts, key=lambda one: one.saved_at, default=None)
    who = people.names(db).get(last.person, "–") if last else "–"
    more = [now - counted(was) for now, was in ((story.good, was_good), (story.misprinted, was_bad))]  # fmt: skip
    told = _(
        "Counted since this page was opened: {good} good, {bad} misprinted (last by {who}, {when}); {all} good of "
        "{ordered} in all. Are your {own} extra? Then send it again. If they are the same pieces, clear the boxes."
    )
    when = run_act.clock_said(db, last.saved_at, sent.now) if last else "–"
    return told.format(good=more[0], bad=more[1], who=who, when=when, all=story.good,
                       ordered=sent.plan.job.sheet.pieces, own=good)  # fmt: skip


def count(sent: Sent) -> list[Entry]:
    db, actor, plan, step, values, typed, form, at, now = sent
    run_act.is_open(plan)
    before = _printed_before(sent)
    values = {**values, **_doubted(sent, values), **before}
    return _count_lines(db, actor, _as_of(sent), values, at, now, **(_noted(sent) if before else run_act.go_on(sent)))


def _printed_before(sent: Sent) -> dict[str, Any]:
    """Raises Doubt on a count while a head is empty: the pieces were printed before its screen came off, or they were
    not printed at all; what was answered, to be kept with the count. A screen that never hung is asked for."""
    plan, missing = sent.plan, {one.number: one for one in sent.plan.missing()}
    off = _came_off(sent.db, plan) if missing else {}
    if not missing:
        return {}
    if not plan.story.started_at or set(missing) - set(off):
        all_hung(plan)
    if sent.form.one("before"):
        return {"before": sent.form.words("before", names.WHY)}
    told = [
        _("position {number} ({image}): {screen} until {when}").format(
            number=number, image=missing[number].image.name, screen=at_press.code_of(sent.db, hung.screen),
            when=run_act.clock_said(sent.db, until, sent.now))
        for number, (hung, until) in sorted(off.items()) if number in missing
    ]  # fmt: skip
    question = _("No screen hangs now at {off}. Were these pieces printed before that?")
    raise Doubt(question.format(off="; ".join(told)), "before")


def _as_of(sent: Sent) -> Plan:
    """The run as it was at the time that was typed in: a count that is dated back to before a swap, or before another
    garment or other strokes, goes to what printed then. A station that had no screen yet keeps the one of now, and a
    sheet that was noted only later tells of then too."""
    plan = sent.plan
    if not sent.form.one("at") or not plan.story.last_at or stamp(sent.at) >= plan.story.last_at:
        return plan
    log = entries.of(sent.db, "run", plan.run.id)
    ways = colourways.ways_of(plan.job.sheet, plan.placement)
    then = run_rules.replay((one for one in log if one.at <= sent.at or one.step == "cross-out"), ways)
    hung_then = {hung.screen for hung in then.hung.values()}
    others = {station: hung for station, hung in plan.story.hung.items() if hung.screen not in hung_then}
    sheet = then if then.sheet_entry else plan.story
    story = replace(
        plan.story,
        hung={**others, **then.hung},
        sheet=sheet.sheet,
        sheet_entry=sheet.sheet_entry,
        sheet_at=sheet.sheet_at,
        sheet_on=sheet.sheet_on,
        changes=then.changes,
        on=then.on or plan.story.on,
    )
    return replace(plan, run=replace(plan.run, story=story))


def counted_first(sent: Sent) -> list[Entry]:
    """The count that came along with another step: it goes to the screens and the garment of before that step."""
    counted = _sent_count(sent.form)
    if not counted:
        return []
    counted |= _doubted(sent, counted)
    return _count_lines(sent.db, sent.actor, _as_of(sent), counted, sent.at, sent.now, **_noted(sent))


def _noted(sent: Sent) -> dict[str, Any]:
    """What spoke against printing what is printed by now: it is counted in any case. Where nobody logged a start, these
    pieces are one: what stops the start asks for the same reason."""
    verdict = at_press.going(sent.db, sent.plan, sent.at)
    begun = bool(sent.plan.story.started_at or sent.plan.story.good)
    override = None if begun else run_act.passed(sent.actor, verdict, sent.form)
    return {"verdict": verdict if verdict.reasons else None, "override": override}


def _count_lines(
    db: Database, actor: Actor, plan: Plan, values: dict[str, Any], at: datetime, now: datetime, **judged: Any
) -> list[Entry]:
    """The count, and its impressions on the screens that printed it: a misprinted piece took its strokes too.

    A screen that is off by now (a pause) printed before it came off; one that this garment does not take printed none.
    """
    good, misprinted = int(values.get("good", 0)), int(values.get("misprinted", 0))
    lines = [line(actor, "count", at, now, {"good": good, **values}, run=plan.run.id, **judged)]
    pieces = good + misprinted
    on = {station: (hung, max(at, read_stamp(hung.at))) for station, hung in plan.story.hung.items()}
    then = {**_came_off(db, plan), **on}  # dated back, but never to before a screen hung
    for station, (hung, when) in sorted(then.items()):
        impressions = pieces * strokes_of(plan, station) if station in run_plan.prints_now(plan) else 0
        if impressions:
            values = {"run": plan.run.id, "impressions": impressions}
            lines.append(line(actor, "print", when, now, values, screen=hung.screen, run=plan.run.id))
    return lines


def _came_off(db: Database, plan: Plan) -> dict[int, tuple[Hung, datetime]]:
    """The screens that hang here no more and have no successor, by station, with the last moment that each hung."""
    found: dict[int, tuple[Hung, datetime]] = {}
    asked = {one.number for one in plan.asked} - set(plan.story.hung)
    last = {hung.station: hung for hung in plan.story.was_hung if hung.station in asked}
    if not last:
        return found
    log = list(standing_lines(entries.of(db, "run", plan.run.id)))
    for station, hung in last.items():
        since = read_stamp(hung.at)
        off = next(
            (one.at for one in log if one.screen == hung.screen and one.step in {"pull", "found"} and one.at >= since),
            None,
        )
        if off is not None:
            found[station] = (hung, max(since, off - MOMENT))
    return found


def strokes_of(plan: Plan, station: int) -> int:
    as_run = counted(plan.story.settings.get(str(station), {}).get("strokes"), -1)
    return as_run if as_run >= 0 else next((one.strokes for one in plan.asked if one.number == station), 1)


def _sent_count(form: Form) -> dict[str, Any]:
    if not form.one("good") and not form.one("misprinted"):
        return {}
    sent = {name: form.sent[name] for name in ("good", "misprinted", "cause") if form.one(name)}
    return step_reading.read(steps.RUN_STEPS["count"], sent)[0]


def pause(sent: Sent) -> list[Entry]:
    db, actor, plan, step, values, typed, form, at, now = sent
    run_act.is_open(plan)
    if plan.story.state == "paused" and not plan.story.hung:
        raise Clash(_("Run {number} is paused already, its screens are off.").format(number=plan.run.id))
    picks = coming_off.picked(db, plan.story, form)
    values = {**values, **_count_wanted(sent)}
    lines = counted_first(sent)
    kept_for = kept_for_run(plan.run.id, plan.job.sheet.title, plan.placement.name)
    lines += coming_off.pull_lines(db, actor, plan.run.id, plan.story, picks, at, now, kept_for)
    return [*lines, line(actor, step, at, now, values, typed, run=plan.run.id)]


def _count_wanted(sent: Sent) -> dict[str, str]:
    """Raises Doubt on a pause of a run of which nobody counted anything since it went on: its screens come off, and
    what they printed would be forgotten with them; what was answered, to be kept with the pause."""
    form = sent.form
    if sent.plan.story.state != "printing" or form.one("good") or form.one("misprinted"):
        return {}
    log = [one for one in standing_lines(entries.of(sent.db, "run", sent.plan.run.id)) if one.screen is None]
    last = next((one for one in reversed(log) if one.step in {"start", "count"}), None)
    if last is None or last.step == "count":
        return {}
    if form.one("later"):
        return {"later": form.words("later", names.WHY)}
    told = _("Nothing was counted since {when}. Type the good pieces so far (0: none). Or will you count them later?")
    raise Doubt(told.format(when=run_act.clock_said(sent.db, last.at, sent.now)), "later")


def finish(sent: Sent) -> list[Entry]:
    db, actor, plan, step, values, typed, form, at, now = sent
    if plan.story.state == "finished" or plan.run.done_at:
        raise Clash(_("Run {number} was finished already.").format(number=plan.run.id))
    picks = coming_off.picked(db, plan.story, form)
    lines = counted_first(sent)
    values = {**values, **(_nothing_counted(sent, lines) or _few_counted(sent, lines))}
    lines += coming_off.pull_lines(db, actor, plan.run.id, plan.story, picks, at, now)
    lines += coming_off.finish_lines(db, actor, plan.run.id, plan.story, picks, at, now)
    return [*lines, line(actor, step, at, now, values, typed, run=plan.run.id)]


def _few_counted(sent: Sent, counted: list[Entry]) -> dict[str, str]:
    """Raises Doubt on a finish with far fewer pieces counted than were ordered, in all runs of the placement: its
    screens come off, and a pause would have kept them; what was answered, to be kept with the finish. A page is asked
    (it sends what it showed as counted), and a command without `--anyway` (`ask_few`)."""
    if not sent.form.one("counted") and not sent.form.yes("ask_few"):
        return {}
    more = sum(whole_of(one.values, "good") or 0 for one in counted if one.step == "count")
    good, ordered = run_plan.pieces_counted(sent.db, sent.plan).total() + more, sent.plan.job.sheet.pieces
    if not press_checks.few_printed(good, ordered, the_spec(sent.db)):
        return {}
    if answer := sent.form.words("fewer", names.WHY):
        return {"fewer": answer}
    told = _("{good} of {ordered} printed. Close the run anyway?")
    raise Doubt(told.format(good=good, ordered=ordered), "fewer")


def _nothing_counted(sent: Sent, counted: list[Entry]) -> dict[str, str]:
    """Raises Doubt on a finish where nothing was counted, of the run or of a garment of it: its pieces would be missing
    for good; what was answered, to be kept with the finish."""
    log = entries.of(sent.db, "run", sent.plan.run.id)
    bare = run_rules.nothing_counted([*log, *numbered("", counted)])
    if not bare:
        return {}
    if answer := sent.form.one("uncounted"):
        answer = "none" if answer == "yes" else answer
        if answer not in run_rules.UNCOUNTED:
            known = ", ".join(run_rules.UNCOUNTED)
            raise Refused(_("One of: {choices}.").format(choices=known), "uncounted")
        return {"uncounted": answer}
    told = _("Nothing was counted in this run.")
    if names := ", ".join(filter(None, bare)):
        told = _("Nothing was counted of {garments}.").format(garments=names)
    ask = _("How many were printed? Type the pieces, wherever they were counted. Or was nothing printed?")
    raise Doubt(f"{told} {ask}", "uncounted", answers=run_rules.UNCOUNTED)
