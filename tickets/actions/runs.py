"""A run at the press: choose, check, hang, approve, print, count, take off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.actions import coming_off, counting, hanging, noting, run_act
from tickets.actions.people import set_doing
from tickets.actions.posting import before, in_one, line, numbered, once, write
from tickets.actions.run_act import Sent
from tickets.actions.screens import asked_first, cross_out, cross_out_all
from tickets.calculator.numerals import counted
from tickets.domain import names, step_reading, steps
from tickets.domain.entry import Entry, read_stamp, stamp, whole_of
from tickets.domain.person import Actor
from tickets.domain.posted import Form
from tickets.domain.refusal import Clash, Fault, NotAllowed, NotFound, Refused, together
from tickets.domain.runs import lab, setup
from tickets.domain.runs.run import COLOURWAY
from tickets.i18n import gettext as _
from tickets.queries import at_press, run_plan
from tickets.queries import heads as press_heads
from tickets.queries.asked import Ending
from tickets.queries.find import place as find_place
from tickets.queries.find import screen as find_screen
from tickets.queries.run_plan import Plan
from tickets.queries.shop_rules import act_time, zone
from tickets.store import entries, jobs, people, pictures, runs, to_log


@in_one
def open_run(db: Database, actor: Actor, form: Form, *, post: str, now: datetime, phone: str = "") -> int:
    """Opens a run (fields job, placement, press); the one that is open already for these three is given back. `phone`:
    the token of the phone that works on it from then on.

    A press with fewer free heads than the print takes is asked about (`heads_short`: the answer); one on which it can't
    be printed at all is refused.
    """
    from tickets.queries.find import job as find_job

    content = {"step": "open", **form.sent}
    answer = before(db, actor, post, content)
    if answer is not None:
        return int(answer["run"])
    faults: list[Fault] = []
    job, press, place = None, None, 0
    try:
        job = find_job(db, form.one("job"))
        place = _placement(job, form.one("placement"))
    except Refused as refused:
        faults += [
            Fault(fault.where if fault.where == "placement" else "job", fault.message) for fault in refused.faults
        ]
    try:
        press = find_place(db, form.one("press"))
        if press.kind != "press":
            faults.append(Fault("press", _("{place} is not a press.").format(place=press.name)))
        elif press.retired_at:
            faults.append(Fault("press", _("{place} is out of use: choose another press.").format(place=press.name)))
    except Refused as refused:
        faults += [Fault("press", fault.message) for fault in refused.faults]
    if faults or job is None or press is None:
        raise Refused(faults)
    at = act_time(form.one("at"), zone(db), now)

    def act() -> dict[str, Any]:
        there = runs.open_run(db, job.id, place, press.id)
        if there is not None:
            return {"run": there.id}
        current = jobs.get(db, job.id)
        assert current is not None
        answered = press_heads.asked_first(db, current, place, press, form)
        if current.closed_at:
            jobs.close(db, job.id, None)
        number = runs.add(db, job.id, current.version, place, press.id, stamp(at))
        if not current.closed_at:
            jobs.still(db, current)
        values = {"placement": place, "press": press.id, "version": current.version, **answered}
        write(db, numbered(post, [line(actor, "open", at, now, values, run=number, job=job.id)]))
        return {"run": number}

    number = int(once(db, actor, post, content, now, act)["run"])
    if phone:
        set_doing(db, phone, working_on(number, job, job.sheet.placements[place - 1].name, press.name))
    return number


def working_on(number: int, job: jobs.Saved, placement: str, press: str) -> dict[str, Any]:
    """What a phone does that works on a run, as `people.set_doing` keeps it: scans give the press verdict."""
    about = _("{job}, {placement} on {press}").format(job=job.sheet.title, placement=placement, press=press)
    return {"task": "run", "run": number, "about": about}


def _placement(job: jobs.Saved, text: str) -> int:
    placements = job.sheet.placements
    if not text and len(placements) == 1:
        return 1
    if 1 <= counted(text) <= len(placements):
        return counted(text)
    for number, placement in enumerate(placements, 1):
        if placement.name.casefold() == text.casefold():
            return number
    names = ", ".join(f"{number} {placement.name}" for number, placement in enumerate(placements, 1))
    raise Refused(_("Which placement? {names}.").format(names=names), "placement")


@in_one
def log(db: Database, actor: Actor, number: int, step: str, form: Form, *, post: str, now: datetime) -> list[str]:
    """A step of a run (`steps.RUN_STEPS`); the ids of its entries."""
    if step not in {"hang", "cross-out"}:
        to_log.run(db, number, step, post)
    if step == "hang":
        hanging.hang(db, actor, number, form, post=post, now=now)
        return [post]
    if step == "cross-out" and form.yes("whole"):  # the end of a run: its screens hang again
        why = form.one("why")
        return list(cross_out_all(db, actor, form.one("crosses"), why, post=post, now=now, run=number).entries)
    if step == "cross-out":
        return list(cross_out(db, actor, form, post=post, now=now, of=("run", [number])).entries)
    known = steps.RUN_STEPS.get(step)
    if known is None or step == "open":
        names = ", ".join(name for name in steps.RUN_STEPS if name != "open")
        raise NotFound(_("A run has no step “{step}”; it has: {names}.").format(step=step, names=names), "step")
    counted = ("good", "misprinted", "cause") if step in COUNTS_FIRST else ()
    extra = coming_off.own_fields(form) if step in {"finish", "pause"} else []
    if step == "approve":
        extra += ["sample", "photo", *(name for name in form.sent if name.startswith("lab"))]
    if step in {"change", "start", "approve", "sheet"}:
        extra.append("garment")
    if step == "swap":
        extra.append("head")
    content = {"step": step, "run": number, **form.sent}
    if step == "sheet":
        if before(db, actor, post, content) is None:
            noting.save_sheet(db, actor, number, form, post=post, now=now)
        return [post]
    act = _ACTS.get(step, _plain)

    def once_act() -> dict[str, Any]:
        values, typed = step_reading.read(known, form.sent, (*counted, *extra))
        at, the_plan = act_time(form.one("at"), zone(db), now), run_plan.plan(db, number)
        if step == "count" and form.one("at"):
            run_act.since_opened(db, the_plan, at, now)
        lines = act(Sent(db, actor, the_plan, step, values, typed, form, at, now))
        ending = _ending(the_plan, step, lines)
        lines = numbered(post, asked_first(db, lines, step, form, now, ending=ending))
        complete = ending is not None and _complete(db, the_plan, ending)
        write(db, lines)
        if complete:
            jobs.close(db, the_plan.job.id, stamp(now))
        return {"entries": [line.entry for line in lines]}

    return list(once(db, actor, post, content, now, once_act)["entries"])


def _ending(plan: Plan, step: str, lines: list[Entry]) -> Ending | None:
    """The run that a finish ends, with the pieces that it comes to."""
    if step != "finish":
        return None
    counted = sum(whole_of(one.values, "good") or 0 for one in lines if one.step == "count")
    return Ending(plan.run, plan.story.good + counted)


COUNTS_FIRST = frozenset({"finish", "pause", "swap", "change"})
"""Steps after which strokes go to other screens: they take the count so far along, which is entered before them."""


def _plain(sent: Sent) -> list[Entry]:
    db, actor, plan, step, values, typed, form, at, now = sent
    if step == "stop":
        run_act.is_open(plan)
    return [line(actor, step, at, now, values, typed, run=plan.run.id)]


def _change(sent: Sent) -> list[Entry]:
    """A change during the run. What = colourway: on to another garment (field garment: its number on the job sheet)."""
    db, actor, plan, step, values, typed, form, at, now = sent
    run_act.is_open(plan)
    counted = counting.counted_first(sent)
    if str(values.get("what", "")).casefold() == COLOURWAY:
        return [*counted, run_act.colourway_line(actor, plan, form, values, at, now)]
    return [*counted, line(actor, step, at, now, values, typed, run=plan.run.id)]


def _approve(sent: Sent) -> list[Entry]:
    """The sheet as it is by now, with the changes since the last approval, is what this one freezes. Parts that nobody
    noted are asked about (`unnoted`): `as-target` notes them, nothing of it measured; `leave` keeps them open. A run of
    which no set-up was noted is asked nothing."""
    db, actor, plan, step, values, typed, form, at, now = sent
    plan, said = run_act.said_garment(sent) if plan.story.state != "finished" else (plan, [])
    values = {name: value for name, value in values.items() if name != "garment"}
    # in place of one that was crossed out it may come when the run is over and its screens are off
    log = entries.of(db, "run", plan.run.id)
    crossed = {one.crosses for one in log if one.step == "cross-out"}
    fallen = [one.at for one in log if one.step == "approve" and one.entry in crossed]
    over = bool(fallen) and plan.story.state == "finished"
    if plan.story.approved_now and not plan.to_approve:
        raise Clash(_approved_already(db, plan, now))
    if not over:
        run_act.is_open(plan)
        counting.all_hung(sent.plan)
    elif not form.one("at"):
        at = max(fallen)  # the same first print: what was changed after it stays a change
    values = {name: value for name, value in values.items() if name != "customer_person"}
    approver, readings = together(
        lambda: _approver(db, sent.values),
        lambda: run_plan.readings_of(db, plan, form),
    )
    values = {name: value for name, value in values.items() if name != lab.CONDITIONS}
    values["approved_by"] = approver
    if form.one("sample"):
        values = {**values, "sample": form.words("sample", names.WHY)}
    if form.one("photo"):
        if pictures.get(db, form.one("photo")) is None:
            raise Refused(_("That picture did not arrive: take it again."), "picture")
        values = {**values, "photo": form.one("photo")}
    sheet = [] if over else noting.sheet_again(db, actor, plan, at, now)
    if not over and (left := run_plan.left_open(plan)):
        if "unnoted" not in values:
            raise Refused(_unnoted(plan, left), "unnoted")
        if values["unnoted"] == "as-target":
            sheet = noting.rest_as_target(sent._replace(plan=plan))
    verdict = at_press.to_approve(db, plan)
    judged: dict[str, Any] = {}
    if not over and verdict.reasons:
        judged = {"verdict": verdict, "override": run_act.passed(actor, verdict, form)}
    approved = {**values, **readings, **run_plan.of_garment(plan)}
    return [*said, *sheet, line(actor, step, at, now, approved, typed, run=plan.run.id, **judged)]


def _unnoted(plan: Plan, parts: Sequence[str]) -> str:
    """What is asked where a first print is approved while some parts of its sheet are open."""
    return _("Nothing is noted for {parts}. Is it set as the target, or does it stay not noted?").format(
        parts=", ".join(setup.part_said(key, plan.placement) for key in parts)
    )


def _approver(db: Database, values: Mapping[str, Any]) -> str:
    """Who approved: a person of the shop who works here, or the customer's person by name."""
    named, theirs = str(values.get("approved_by", "")), str(values.get("customer_person", ""))
    here = {people.name_key(one.name): one.name for one in people.every(db)}
    ours = here.get(people.name_key(named))
    if values["approved_as"] == "customer":
        if theirs or (named and ours is None):
            return theirs or named
        raise Refused(_("Which person of the customer approved it? Write the name."), "customer_person")
    if ours is None and (here or not named):  # a shop that has listed nobody yet cannot be asked whom it has
        message = _("Which person of the shop approved it? “{name}” does not work here. There are: {names}.")
        names = ", ".join(here.values()) or _("nobody yet")
        raise Refused(message.format(name=named[:60] or "–", names=names), "approved_by")
    return ours or named


def _approved_already(db: Database, plan: Plan, now: datetime) -> str:
    """By whom and when the first print was approved, for the second phone that does so."""
    approved = plan.story.approved_now or {}
    return _(
        "The first print was approved already, by {who}, {when}. To approve another one, cross that approval out "
        "first, in the log of this run."
    ).format(who=approved.get("approved_by", "–"), when=run_act.clock_said(db, read_stamp(str(approved["at"])), now))


def _start(sent: Sent) -> list[Entry]:
    db, actor, plan, step, values, typed, form, at, now = sent
    run_act.is_open(plan)
    counting.all_hung(plan)  # the set-up judges every colourway, until one was said
    plan, said = run_act.said_garment(sent)
    values = {name: value for name, value in values.items() if name != "garment"}
    lines = [line(actor, step, at, now, values, typed, run=plan.run.id, **run_act.go_on(sent._replace(plan=plan)))]
    return [
        *lines,
        *noting.test_lines(actor, plan, plan.story.settings, int(values.get("test_prints", 0)), at, now),
        *said,
    ]


def _complete(db: Database, plan: Plan, ending: Ending) -> bool:
    """Whether all pieces of the job are printed when its run ends: it leaves the boards then; one that is short stays
    until somebody closes it."""
    job = jobs.get(db, plan.job.id)
    if job is None:
        return False
    short = jobs.short(db, job)
    return all(missing <= (ending.good if place == plan.run.placement else 0) for place, missing in short.items())


def _swap(sent: Sent) -> list[Entry]:
    """Another screen on a head: the old one comes off with its reason and as that says, whatever speaks against the new
    one, which is checked as at set-up. What is said of it (fields condition, then) goes before what its reason says;
    good it is only where somebody says so.

    Pieces that are counted along (fields good, misprinted, cause) were printed with the old one.
    """
    db, actor, plan, step, values, typed, form, at, now = sent
    run_act.is_open(plan)
    to_log.named(db, [values["old"], values["new"]])
    old, new = find_screen(db, values["old"]), find_screen(db, values["new"])
    hung = next((one for one in plan.story.hung.values() if one.screen == old.id), None)
    if hung is None:
        raise Refused(_("Screen {code} does not hang in this run.").format(code=values["old"]), "old")
    if not values.get("why"):
        raise Refused(_("Say why it is swapped: it goes into the log of the screen that comes off."), "why")
    at = max(hanging.free_since(db, one, at, form, now) for one in (old, new))
    counted = counting.counted_first(sent._replace(at=at))
    off = run_plan.without(plan, old.id)
    head = run_act.whole_number(form, "head", 1, 40) or hung.head or run_plan.free_head(off, hung.station)
    if head == hung.head:  # it has that head already
        off = replace(off, busy={})
    said = {"in_hand": form.yes("in_hand"), "head_taken": form.yes("head_taken")}
    found = at_press.check(db, off, new, at, head=head, station=hung.station, **said)
    why = next((why for why in steps.SWAPPED if str(values["why"]) in (why, _(why))), "")
    condition, then = steps.SWAPPED.get(why, ("", "undecided"))
    cause = {"cause": why} if why else {}
    pulled = {"run": plan.run.id, "then": values.get("then") or then, "why": str(values["why"]), **cause}
    if condition := values.get("condition") or condition:
        pulled["condition"] = condition
    values = {**values, "old": old.code, "new": new.code, **cause}
    lines = [
        line(actor, "swap", at, now, values, typed, run=plan.run.id),
        line(actor, "pull", at, now, pulled, screen=old.id, run=plan.run.id),
    ]
    if why == "slack":
        lines.append(line(actor, "fault", at, now, {"kind": "slack"}, screen=old.id))
    more, _verdict = hanging.hang_lines(actor, off, new, found, hung.station, head, form, at, now)
    return counted + lines + more


def _use_next_time(sent: Sent) -> list[Entry]:
    db, actor, plan, step, values, typed, form, at, now = sent
    if not plan.story.approved:
        raise Refused(_("Only an approved run can be the target for the next one."))
    if not actor.leads:
        raise NotAllowed(_("A press lead or a manager decides what is used next time."))
    verdict = at_press.to_mark(db, plan)
    override = run_act.passed(actor, verdict, form)
    run_act.as_seen(verdict, override, form)
    noted = verdict if verdict.reasons else None
    return [line(actor, step, at, now, values, typed, run=plan.run.id, verdict=noted, override=override)]


_ACTS = {
    "approve": _approve,
    "change": _change,
    "start": _start,
    "count": counting.count,
    "pause": counting.pause,
    "finish": counting.finish,
    "swap": _swap,
    "use-next-time": _use_next_time,
}
