"""A screen is hung on a head."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.actions import run_act
from tickets.actions.posting import before, in_one, line, numbered, once, write
from tickets.calculator.verdict import Level, Reason, Verdict, judge
from tickets.domain.code import shown
from tickets.domain.entry import Entry, standing_lines
from tickets.domain.person import Actor
from tickets.domain.posted import Form, Worse
from tickets.domain.refusal import Refused
from tickets.domain.screens.press_checks import AtPress
from tickets.domain.stages import Standing
from tickets.i18n import gettext as _
from tickets.i18n import ngettext
from tickets.queries import at_press, run_plan
from tickets.queries import heads as press_heads
from tickets.queries.find import screen as find_screen
from tickets.queries.run_plan import Plan
from tickets.queries.shop_rules import act_time, zone
from tickets.store import entries, screens, to_log


@in_one
def hang(
    db: Database,
    actor: Actor,
    number: int,
    form: Form,
    *,
    post: str,
    now: datetime,
    find: Callable[[Database, str], screens.Screen] = find_screen,
) -> AtPress:
    """Hangs a screen (fields screen, head, station, in_hand, override, seen): checked again, refused when it is wrong.

    A stop or an unknown needs `override`, a reason, from somebody who may; one that hangs elsewhere needs `in_hand`.
    `find`: how the screen is found that the form names.
    """
    content = {"step": "hang", "run": number, **form.sent}
    to_log.run(db, number, "hang", post)
    answer = before(db, actor, post, content)
    if answer is not None:
        return AtPress(Verdict.from_dict(answer["verdict"]), answer["station"])
    to_log.named(db, [form.one("screen")])
    screen = find(db, form.one("screen"))
    head = run_act.whole_number(form, "head", 1, 40)
    at = act_time(form.one("at"), zone(db), now)
    result: list[AtPress] = []

    def act() -> dict[str, Any]:
        the_plan = run_plan.plan(db, number)
        run_act.is_open(the_plan)
        fresh = screens.get(db, screen.id)
        assert fresh is not None
        meant = run_act.whole_number(form, "station", 1, 60)
        when = free_since(db, fresh, at, form, now)
        said = {"in_hand": form.yes("in_hand"), "head_taken": form.yes("head_taken")}
        found = at_press.check(db, the_plan, fresh, when, head=head, station=meant, **said)
        station = meant or found.station
        on = head
        if on is None and station in {one.number for one in the_plan.asked} - set(the_plan.story.hung):
            on = _next_head(db, the_plan, station)
            found = at_press.check(db, the_plan, fresh, when, head=on, station=meant, **said)
        lines, verdict = hang_lines(actor, the_plan, fresh, found, station, on, form, when, now)
        result.append(replace(found, verdict=verdict, code=str(fresh.code)))
        lines = numbered(post, lines)
        write(db, lines)
        return {"entries": [line.entry for line in lines], "verdict": verdict.to_dict(), "station": station}

    answer = once(db, actor, post, content, now, act)
    return result[0] if result else AtPress(Verdict.from_dict(answer["verdict"]), answer["station"])


def _next_head(db: Database, plan: Plan, station: int) -> int:
    """The head that a screen gets where nobody said one. Refused, with what would do, where none is free."""
    head = run_plan.free_head(plan, station)
    if head is None:
        raise Refused(press_heads.none_free(db, plan.job, plan.run.placement, plan.press, plan.run.id), "head")
    return head


AT_THE_PRESS = frozenset({"hang", "print", "pull"})


def free_since(db: Database, screen: screens.Screen, at: datetime, form: Form, now: datetime) -> datetime:
    """The time of an act that hangs a screen or takes it off: not before what the log has of it at a press.

    One that is dated back further is refused: the screen would hang in two runs at once, or print while it is off.
    """
    log = standing_lines(entries.of(db, "screen", screen.id))
    last = next((one for one in reversed(log) if one.step in AT_THE_PRESS), None)
    if last is None or last.at <= at:
        return at
    if not form.one("at"):  # a phone's clock that is a little ahead wrote the last one
        return last.at
    message = _("The log has screen {code} on the press in run {run} at {when}: give a later time.").format(
        code=shown(screen.code), run=last.run or "–", when=run_act.clock_said(db, last.at, now)
    )
    raise Refused(message, "at")


def hang_lines(
    actor: Actor,
    plan: Plan,
    screen: screens.Screen,
    found: AtPress,
    station: int | None,
    head: int | None,
    form: Form,
    at: datetime,
    now: datetime,
) -> tuple[list[Entry], Verdict]:
    verdict = found.verdict
    if "already-hung" in verdict.keys and screen.life.station == station:
        raise Refused(_("This screen is already on press in this run."), "screen")
    if station not in {one.number for one in plan.asked}:
        if station is not None:
            raise Refused(_("Position {station} prints nothing in this placement.").format(station=station), "station")
        if not form.one("override"):
            raise Worse(_("Stop: this screen is not for this run."), verdict)
        run_act.passed(actor, verdict, form)  # what nobody may go past comes before the question where it should go
        raise Refused(_("For which position? Choose one."), "station")
    if found.station is not None and station != found.station:
        verdict = judge([*verdict.reasons, Reason("not-called-for", Level.STOP, {"carries": ""})])
    override = run_act.passed(actor, verdict, form)
    run_act.as_seen(verdict, override, form)
    _free(plan, screen, station, head)
    lines = []
    if form.yes("in_hand") and screen.life.standing.value in {"on press", "away"}:
        on_press = screen.life.standing is Standing.ON_PRESS
        left = screen.life.run if on_press and screen.life.run != plan.run.id else None
        there = (screen.life.back or Standing.READY) if on_press else screen.life.under
        lines.append(line(actor, "found", at, now, {"standing_seen": str(there)}, screen=screen.id, run=left))
    values = {"run": plan.run.id, "head": head, "station": station, "press": plan.press.id}
    if "head-taken" in verdict.keys and head is not None:
        values["head_of_run"] = plan.busy[head]
    lines.append(
        line(
            actor,
            "hang",
            at,
            now,
            {name: value for name, value in values.items() if value is not None},
            verdict=verdict,
            override=override,
            screen=screen.id,
            run=plan.run.id,
        )
    )
    return lines, verdict


def _free(plan: Plan, screen: screens.Screen, station: int | None, head: int | None) -> None:
    """Refuses a place that another screen has, and a head that the press does not have."""
    if head is not None and plan.press.heads is not None and head > plan.press.heads:
        raise Refused(
            ngettext(
                "{press} has {heads} head only: choose that.",
                "{press} has {heads} heads: choose one of them.",
                plan.press.heads,
            ).format(press=plan.press.name, heads=plan.press.heads),
            "head",
        )
    for number, hung in plan.story.hung.items():
        if hung.screen == screen.id:
            if number == station:
                continue
            raise Refused(
                _("This screen is already on press in this run, at position {station}.").format(station=number),
                "station",
            )
        if number == station:
            raise Refused(
                _("Position {station} has a screen already: swap it, or take it off first.").format(station=station),
                "station",
            )
        if head is not None and hung.head == head:
            raise Refused(
                _("Head {head} has the screen of position {station}: choose another head.").format(
                    head=head, station=number
                ),
                "head",
            )
