"""A run at the press: choose, check, hang, approve, print, count, take off."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from sqlite_utils import Database

from tickets.calculator.numerals import counted
from tickets.calculator.verdict import Level, Reason, Verdict, judge
from tickets.floor import colour, coming_off, target
from tickets.floor import heads as press_heads
from tickets.floor.asked import Ending, emulsion_of, kept_for_run
from tickets.floor.posting import Doubt, Form, Worse, act_time, before, numbered, once, the_spec, write, zone
from tickets.floor.screens import air_of, asked_first, cross_out, find_place, line
from tickets.floor.screens import find as find_screen
from tickets.records import checks, colourways, heads, ink_fit, lab, setup, steps
from tickets.records import run as run_rules
from tickets.records import setting as setting_rules
from tickets.records.as_run import FIELDS, field_word
from tickets.records.bucket import Bucket
from tickets.records.checks import Asked, AtPress, Seen
from tickets.records.code import shown
from tickets.records.colourways import GARMENT
from tickets.records.entry import Entry, read_stamp, stamp, standing_lines, whole_of
from tickets.records.job import INKS, Garment, Ink, Placement, ink_for, needed
from tickets.records.person import NOBODY_PASSES, Actor, may_pass, to_pass
from tickets.records.refusal import Clash, Fault, NotAllowed, NotFound, Refused, together
from tickets.records.run import COLOURWAY, Again, Hung, Story, Uncounted, Used
from tickets.records.screen import Standing
from tickets.records.separation import folded
from tickets.records.spec import Spec
from tickets.store import buckets, entries, jobs, people, pictures, places, runs, screens
from tickets.store import codes as codes_store
from tickets.store.settings import setting
from tickets.words import day_text, ngettext
from tickets.words import gettext as _

MOST_WORDS = 300
MOMENT = timedelta(microseconds=1)


@dataclass(frozen=True, slots=True)
class Plan:
    """A run with what it was planned from: the job at the run's version, the placement, what its stations ask for;
    `version_now`: that of the job by now; `to_approve`: why its first print is to be approved again, by the shop's
    rules; `busy`: the heads of its press that screens of other open runs have, each with that run."""

    run: runs.Run
    job: jobs.Saved
    placement: Placement
    asked: tuple[Asked, ...]
    press: places.Place
    version_now: int
    gone: tuple[Hung, ...] = ()
    to_approve: tuple[Again, ...] = ()
    busy: Mapping[int, int] = field(default_factory=dict)

    @property
    def story(self) -> Story:
        """What the log says of the run."""
        return self.run.story

    @property
    def changed_since(self) -> bool:
        """Whether the job was changed since the run was opened."""
        return self.version_now != self.run.version

    def missing(self) -> list[Asked]:
        """The stations without a screen that need one: those that print on some garment, or on the one said."""
        wanted = prints_now(self)
        return [one for one in self.asked if one.number in wanted and one.number not in self.story.hung]


def plan(db: Database, number: int) -> Plan:
    """A run by number."""
    run = runs.get(db, number)
    if run is None:
        raise NotFound(_("There is no run {number} here.").format(number=number), "run")
    jobs.whole_ahead(db, [run.job])
    job = jobs.get(db, run.job, run.version)
    now_job = jobs.get(db, run.job)
    press = places.get(db, run.press)
    assert job is not None and now_job is not None and press is not None
    asked = tuple(jobs.asked(db, job, run.placement))
    there = {station: hung for station, hung in run.story.hung.items() if _hangs(db, hung, number)}
    gone = tuple(hung for station, hung in sorted(run.story.hung.items()) if station not in there)
    gone += tuple(hung for hung in run.story.lost if hung.station not in there)
    if len(there) < len(run.story.hung):
        run = replace(run, story=replace(run.story, hung=there))
    placement, again = job.sheet.placements[run.placement - 1], _again(db, run.story)
    busy = runs.busy_heads(db, run.press, number) if run.done_at is None else {}
    return Plan(run, job, placement, asked, press, now_job.version, gone, again, busy)


def _again(db: Database, story: Story) -> tuple[Again, ...]:
    """Why the first print is to be approved again by the rules of this shop; another bucket of the same maker's lot is
    no reason."""
    wanted = []
    for one in story.to_approve:
        rule = run_rules.AGAIN[one.why]
        if (rule and setting(db, rule) != "yes") or (one.field == "bucket" and _same_lot(db, one.was, one.now)):
            continue
        wanted.append(one)
    return tuple(wanted)


def _same_lot(db: Database, *codes: str) -> bool:
    """Whether buckets hold the same product of one maker's lot. One whose lot nobody noted is like no other."""
    found = [buckets.get(db, issued.thing) for issued in (codes_store.find(db, one) for one in codes) if issued]
    held = {(one.kind, folded(one.product), folded(one.lot)) for one in found if one is not None}
    return len(found) == len(codes) and len(held) == 1 and all(one is not None and one.lot for one in found)


def _hangs(db: Database, hung: Hung, run: int) -> bool:
    """Whether a screen still hangs in a run: another run may have taken it, with the question answered there."""
    life = screens.life(db, hung.screen)
    return life.standing is Standing.ON_PRESS and life.run == run


def open_run(db: Database, actor: Actor, form: Form, *, post: str, now: datetime) -> int:
    """Opens a run (fields job, placement, press); the one that is open already for these three is given back.

    A press with fewer free heads than the print takes is asked about (`heads_short`: the answer); one on which it can't
    be printed at all is refused.
    """
    from tickets.floor.jobs import find as find_job

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
            faults.append(Fault("press", _("{place} is no press.").format(place=press.name)))
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
        values = {"placement": place, "press": press.id, "version": current.version, **answered}
        write(db, numbered(post, [line(actor, "open", at, now, values, run=number, job=job.id)]))
        return {"run": number}

    return int(once(db, actor, post, content, now, act)["run"])


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


# The right screen ------------------------------------------------------------------------------------------


def seen_screen(db: Database, screen: screens.Screen, now: datetime) -> Seen:
    """A screen as the press check takes it."""
    stencil = screen.life.stencil
    images = jobs.separations(db, list(stencil.separations)) if stencil else {}
    said = stencil is not None and (stencil.shown or stencil.condition) or screen.life.fault
    names = people.names(db) if said else {}
    air = air_of(db, screen.life, now)
    return Seen(screen.id, screen.code, screen.life, emulsion_of(db, screen.life), images, names, air)


def hung_screens(db: Database, plan: Plan, now: datetime) -> dict[int, Seen]:
    """The screens of a run that hang now, by station."""
    found = {}
    for station, hung in plan.story.hung.items():
        screen = screens.get(db, hung.screen)
        if screen is not None:
            found[station] = seen_screen(db, screen, now)
    return found


def check(
    db: Database,
    plan: Plan,
    screen: screens.Screen,
    now: datetime,
    *,
    head: int | None = None,
    in_hand: bool = False,
    station: int | None = None,
    head_taken: bool = False,
) -> AtPress:
    """Whether this is a right screen for the run, as `hang` will judge it again. `head_taken`: somebody said that
    a head which another run has by the log is free."""
    found = checks.at_press(
        seen_screen(db, screen, now),
        plan.asked,
        hung_screens(db, plan, now),
        plan.run.id,
        the_spec(db),
        now,
        heads={station: hung.head for station, hung in plan.story.hung.items()},
        head=head,
        in_hand=in_hand,
        checks_logged="check" in setting(db, "steps"),
        station=station,
        press=plan.press.press,
        flashes={one.number: one.revolution for one in plan.placement.stations if one.does == "flash"},
    )
    more = checks.head_in_use(head, plan.busy, head_taken)
    more += job_changed(db, plan, screen, found.station)
    return replace(found, verdict=judge([*found.verdict.reasons, *more])) if more else found


def job_changed(db: Database, plan: Plan, screen: screens.Screen, station: int | None) -> list[Reason]:
    """What the job, as it was changed since the run was planned, says against this screen at its station. Whoever leads
    passes it for each screen; what was gone past for the whole run does not answer for what hangs after it."""
    asked = next((one for one in plan.asked if one.number == station), None)
    if asked is None or not plan.changed_since or asked.number not in prints_now(plan):
        return []
    on = [checks.OnHead(asked, screen.code, screen.life)]
    old = checks.old_art(on, _asked_now(db, plan), the_spec(db), plan.version_now)
    return [one for one in old if one.key != "image-added"]


@dataclass(frozen=True, slots=True)
class Short:
    """What else waits for a screen and has no other one: a job's placement, its open run if there is one."""

    job: jobs.Saved
    placement: Placement
    station: int
    run: int | None


TO_HANG = (Standing.READY, Standing.KEPT, Standing.TO_CHECK)


def runs_short(db: Database, plan: Plan, screen: screens.Screen) -> list[Short]:
    """The other open jobs that have no second screen for what this one carries, the earliest due first."""
    found: list[Short] = []
    for separation in screen.life.stencil.separations if screen.life.stencil else ():
        others = [one for one in screens.carrying(db, separation) if one.id != screen.id]
        for number, place, station in jobs.asking(db, separation, limit=8):
            if number == plan.job.id:
                continue
            theirs = runs.of_job(db, number, place)
            if any(run.story.state == "finished" for run in theirs) and not any(run.done_at is None for run in theirs):
                continue
            own = {run.id for run in theirs}
            if any(one.life.standing in TO_HANG or one.life.run in own for one in others):
                continue
            job = jobs.get(db, number)
            if job is not None:
                open_run = next((run.id for run in theirs if run.done_at is None), None)
                found.append(Short(job, job.sheet.placements[place - 1], station, open_run))
    return found


def without(plan: Plan, screen: int) -> Plan:
    """The run as it would be with that screen taken off: how a swap is checked."""
    left = {station: hung for station, hung in plan.story.hung.items() if hung.screen != screen}
    return replace(plan, run=replace(plan.run, story=replace(plan.story, hung=left)))


def free_head(plan: Plan, station: int) -> int | None:
    """The head to offer for a station (`heads.offer`); None: the press has none free."""
    wanted = next(one for one in plan.placement.stations if one.number == station)
    others = {number: hung.head for number, hung in plan.story.hung.items()}
    taken = {head for head in others.values() if head} | set(plan.busy)
    free = [head for head in plan.press.press.route if head not in taken]
    prints = [one.number for one in plan.asked]
    return heads.offer(wanted, others, free, plan.placement.stations, prints, plan.press.press)


def hang(db: Database, actor: Actor, number: int, form: Form, *, post: str, now: datetime) -> AtPress:
    """Hangs a screen (fields screen, head, station, in_hand, override, seen): checked again, refused when it is wrong.

    A stop or an unknown needs `override`, a reason, from somebody who may; one that hangs elsewhere needs `in_hand`.
    """
    content = {"step": "hang", "run": number, **form.sent}
    answer = before(db, actor, post, content)
    if answer is not None:
        return AtPress(Verdict.from_dict(answer["verdict"]), answer["station"])
    screen = find_screen(db, form.one("screen"))
    head = _whole(form, "head", 1, 40)
    at = act_time(form.one("at"), zone(db), now)
    result: list[AtPress] = []

    def act() -> dict[str, Any]:
        the_plan = plan(db, number)
        _is_open(the_plan)
        fresh = screens.get(db, screen.id)
        assert fresh is not None
        meant = _whole(form, "station", 1, 60)
        when = _free_since(db, fresh, at, form, now)
        said = {"in_hand": form.yes("in_hand"), "head_taken": form.yes("head_taken")}
        found = check(db, the_plan, fresh, when, head=head, station=meant, **said)
        station = meant or found.station
        on = head
        if on is None and station in {one.number for one in the_plan.asked} - set(the_plan.story.hung):
            on = _next_head(db, the_plan, station)
            found = check(db, the_plan, fresh, when, head=on, station=meant, **said)
        lines, verdict = _hang_lines(actor, the_plan, fresh, found, station, on, form, when, now)
        result.append(replace(found, verdict=verdict))
        lines = numbered(post, lines)
        write(db, lines)
        return {"entries": [line.entry for line in lines], "verdict": verdict.to_dict(), "station": station}

    answer = once(db, actor, post, content, now, act)
    return result[0] if result else AtPress(Verdict.from_dict(answer["verdict"]), answer["station"])


def _next_head(db: Database, plan: Plan, station: int) -> int:
    """The head that a screen gets where nobody said one. Refused, with what would do, where none is free."""
    head = free_head(plan, station)
    if head is None:
        raise Refused(press_heads.none_free(db, plan.job, plan.run.placement, plan.press, plan.run.id), "head")
    return head


AT_THE_PRESS = frozenset({"hang", "print", "pull"})


def _free_since(db: Database, screen: screens.Screen, at: datetime, form: Form, now: datetime) -> datetime:
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
        code=shown(screen.code), run=last.run or "–", when=_said(db, last.at, now)
    )
    raise Refused(message, "at")


def _said(db: Database, at: datetime, now: datetime) -> str:
    """A time in the shop's zone, as people say it."""
    here = at.astimezone(zone(db))
    return f"{day_text(here.date(), now.astimezone(zone(db)).date())}, {here:%H:%M}"


def _hang_lines(
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
        raise Refused(_("It hangs here already."), "screen")
    if station not in {one.number for one in plan.asked}:
        if station is not None:
            raise Refused(
                _("Print order {station} prints nothing in this placement.").format(station=station), "station"
            )
        if not form.one("override"):
            raise Worse(_("Stop: this screen is not for this run."), verdict)
        passed(actor, verdict, form)  # what nobody may go past comes before the question where it should go
        raise Refused(_("For which print order? Choose one."), "station")
    if found.station is not None and station != found.station:
        verdict = judge([*verdict.reasons, Reason("not-called-for", Level.STOP, {"carries": ""})])
    override = passed(actor, verdict, form)
    _as_seen(verdict, override, form)
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
                "{press} has {heads} head only: choose that.", "{press} has {heads} heads: choose one of them.",
                plan.press.heads,
            ).format(press=plan.press.name, heads=plan.press.heads),
            "head",
        )
    for number, hung in plan.story.hung.items():
        if hung.screen == screen.id:
            if number == station:
                continue
            raise Refused(_("It hangs here already, at print order {station}.").format(station=number), "station")
        if number == station:
            raise Refused(
                _("Print order {station} has a screen already: swap it, or take it off first.").format(station=station),
                "station",
            )
        if head is not None and hung.head == head:
            raise Refused(
                _("Head {head} has the screen of print order {station}: choose another head.").format(
                    head=head, station=number
                ),
                "head",
            )


def passed(actor: Actor, verdict: Verdict, form: Form) -> dict[str, Any] | None:
    """Who went past what, and why; None where nothing needs it. Raises Worse (a reason is needed) or NotAllowed."""
    causes = to_pass(verdict)
    if not causes:
        return None
    if set(causes) & NOBODY_PASSES:
        raise Worse(_("Stop: nobody may go past this. Take another screen."), verdict)
    if "head-in-use" in causes:
        raise Worse(_("The log has a screen of another run on this head. Is it free now?"), verdict, "head_taken")
    if "hanging-elsewhere" in causes or "away" in causes:
        raise Worse(_("The log has it elsewhere. In your hands now?"), verdict, "in_hand")
    why = form.one("override")
    if not why:
        if verdict.level is Level.CAUTION:
            message = _("Named by eye: another person logs a good check, or a press lead hangs it and gives a reason.")
            raise Worse(message, verdict)
        if not may_pass(actor, causes):
            raise Worse(_("Stop. Only a press lead or a manager may go past it, with a reason."), verdict)
        raise Worse(_("Stop. Say why you go past it, or put right what is wrong."), verdict)
    if not may_pass(actor, causes):
        raise NotAllowed(_("Only a press lead or a manager may go past this stop."), "override")
    return {"who": actor.name, "person": actor.id, "why": why, "causes": causes}


def going(db: Database, plan: Plan, now: datetime) -> Verdict:
    """What speaks against starting, going on or counting in this run now: shown above those forms, asked by those acts
    (`_go_on`). A further reason is a further line here, its rule one of `records.checks`."""
    spec, begun = the_spec(db), bool(plan.story.started_at)
    on = _on_heads(db, plan)
    reasons = [
        *checks.old_art(on, _asked_now(db, plan), spec, plan.version_now),
        *checks.unnamed(on),
        *checks.heads_shared([hung.head for _station, hung in sorted(plan.story.hung.items())], plan.busy),
        *(reason for _at, bucket in buckets_in_use(db, plan) for reason in checks.ink_running(bucket, now, begun)),
        *checks.first_print(plan.story.approved is not None, _said_again(db, plan, now)),
        *curing(db, plan),
        *colour.speaks(db, plan.job, plan.run),
        *_other_inks(db, plan),
    ]
    return checks.may_run(reasons, _held(plan))


def buckets_in_use(db: Database, plan: Plan) -> list[tuple[int, Bucket]]:
    """The ink buckets that the run prints from now: print order, bucket; each bucket once."""
    used, found, seen = prints_now(plan), [], set()
    for number in sorted(used):
        code = plan.story.settings.get(str(number), {}).get("bucket", "")
        issued = codes_store.find(db, code) if code else None
        bucket = buckets.get(db, issued.thing) if issued and issued.kind == "bucket" else None
        if bucket is not None and bucket.id not in seen:
            seen.add(bucket.id)
            found.append((number, bucket))
    return found


def curing(db: Database, plan: Plan) -> list[Reason]:
    """What speaks against the cure on the garment that is printed (else on any): as measured at the set-up, else as the
    target has it, else as the job plans it."""
    settings, garment = plan.story.settings, garment_now(plan)
    whole = settings.get(setup.RUN, {})
    poured = {
        station.number: kind
        for station in plan.placement.printing
        for kind in settings.get(str(station.number), {}).get("ink", "").split(" · ")
        if kind in INKS
    }
    return checks.cure(
        plan.job.sheet,
        plan.placement,
        checks.heat_of(
            plan.placement,
            whole,
            set(whole) - set(plan.story.measured.get(setup.RUN, {})),
            target.aim(db, plan.job, plan.run.placement, plan.run)[0].get(setup.RUN),
        ),
        the_spec(db),
        garments=[garment] if garment else (),
        as_run=poured,
        code=plan.job.code,
    )


def to_approve(db: Database, plan: Plan) -> Verdict:
    """What a first print is approved in spite of: a stop needs the reason of somebody who may, once for the run."""
    return checks.may_run(curing(db, plan), _held(plan))


def to_mark(db: Database, plan: Plan) -> Verdict:
    """What speaks against these settings as the target. It is asked whoever printed on in spite of it: a colour that is
    off in the target is off in every repeat."""
    every = list(plan.story.approvals) or [plan.story.on]
    return checks.may_run([one for name in every for one in colour.speaks(db, plan.job, plan.run, name)])


def _on_heads(db: Database, plan: Plan) -> list[checks.OnHead]:
    """What the run prints on the garment said (else on any), with the screen that hangs there."""
    used, found = prints_now(plan), []
    for one in plan.asked:
        hung = plan.story.hung.get(one.number)
        screen = screens.get(db, hung.screen) if hung else None
        if one.number in used:
            where = (hung.head, hung.at) if hung else (None, "")
            found.append(checks.OnHead(one, screen.code if screen else "", screen.life if screen else None, *where))
    return found


def _said_again(db: Database, plan: Plan, now: datetime) -> list[tuple[str, dict[str, Any]]]:
    """Why a first print is to be approved again, each as its `why` and its numbers; what came after `now` is left out:
    a count may be dated back."""
    names = {one.number: one.image.name for one in plan.asked}
    poured = {one.station for one in plan.to_approve if one.field == "bucket"}
    found = []
    for one in plan.to_approve:
        if one.at > stamp(now) or (one.field == "ink_lot" and one.station in poured):  # the lot came with its bucket
            continue
        told = [_code_of(db, part) if isinstance(part, int) else str(part or "–") for part in (one.was, one.now)]
        if one.field == "bucket":
            told = [shown(part) for part in told]
        numbers: dict[str, Any] = {"since_at": one.at, "was": told[0], "now": told[1]}
        if one.station is not None:
            numbers |= {"station": one.station, "image": names.get(one.station, "")}
        if one.field:
            numbers["setting_word"] = setup.LABELS.get(one.field) or FIELDS[one.field]
        found.append((one.why, numbers))
    return found


def _code_of(db: Database, screen: int) -> str:
    found = screens.get(db, screen)
    return shown(found.code) if found else "–"


def _asked_now(db: Database, plan: Plan) -> list[Asked]:
    """What the job, as it is now, asks for in this placement, on the garment said; nothing where it was taken out."""
    if not plan.changed_since:
        return [one for one in plan.asked if one.number in prints_now(plan)]
    job = jobs.get(db, plan.job.id)
    assert job is not None
    names = [folded(one.name) for one in job.sheet.placements]
    wanted = folded(plan.placement.name)
    place = names.index(wanted) + 1 if wanted in names else 0
    if not place:
        return []
    placement, said = job.sheet.placements[place - 1], garment_now(plan)
    same = [one for one in job.sheet.garments if said and (one.style, one.colour) == (said.style, said.colour)]
    takes = needed(job.sheet, placement, same or job.sheet.garments)
    return [one for one in jobs.asked(db, job, place) if one.number in takes]


def _go_on(sent: Sent) -> dict[str, Any]:
    """The verdict on going on with this run, and who went past it, as keywords of its entry. Raises as `passed` does,
    and Worse where it got worse than what the form showed (field `seen`)."""
    verdict = going(sent.db, sent.plan, sent.at if sent.form.one("at") else sent.now)
    override = passed(sent.actor, verdict, sent.form)
    _as_seen(verdict, override, sent.form)
    noted = verdict if verdict.reasons else None
    return {"verdict": noted, "override": override}


def _as_seen(verdict: Verdict, override: Mapping[str, Any] | None, form: Form) -> None:
    """Refuses what got worse than the level that the form showed, unless somebody went past it."""
    seen = form.one("seen")
    if override is None and seen in {str(level) for level in Level} and verdict.level.rank > Level(seen).rank:
        raise Worse(_("This got worse since you saw it: look again."), verdict, "seen")


def _since_opened(db: Database, plan: Plan, at: datetime, now: datetime) -> None:
    """Refuses an act that is dated back to before its run was opened."""
    opened = read_stamp(plan.run.opened_at)
    if at < opened.replace(second=0, microsecond=0):  # people type minutes
        message = _("Run {number} was opened {when}: give a later time.")
        raise Refused(message.format(number=plan.run.id, when=_said(db, opened, now)), "at")


def _is_open(plan: Plan) -> None:
    if plan.story.state == "finished" or plan.run.done_at:
        raise Refused(_("Run {number} is finished. Open a new one.").format(number=plan.run.id), "run")


def _whole(form: Form, name: str, low: int, high: int) -> int | None:
    text = form.one(name)
    if not text:
        return None
    if not low <= counted(text, low - 1) <= high:
        raise Refused(_("A whole number from {low} to {high} would do.").format(low=low, high=high), name)
    return counted(text)


# The set-up sheet -----------------------------------------------------------------------------------------------


def save_sheet(db: Database, actor: Actor, number: int, form: Form, *, post: str, now: datetime) -> Verdict:
    """The settings as run: fields `sN.squeegee`, `sN.strokes`, ... per station and `run.platen`, ... (records.setup);
    what is not sent is as it was noted, else what is set is as the target. A measurement is nobody's until it is sent;
    who took it and when is kept with it. `panel`: a picture of the press's own panel.

    Once a first print is approved the sheet stands: what is otherwise then becomes `change` entries, with their reason
    (`why`). An ink bucket past its time is a stop that a press lead or manager may go past. Where it is dated back
    (`at`), the bucket is held against its time then, and the target is what was marked by then.
    """
    form = Form({name: [" ".join(text.split()) for text in sent] for name, sent in form.sent.items()})
    the_plan = plan(db, number)
    _is_open(the_plan)
    at = act_time(form.one("at"), zone(db), now)
    sent = Sent(db, actor, the_plan, "sheet", {}, {}, form, at, now)
    the_plan, _said = _said_garment(sent)
    by = stamp(at) if form.one("at") else ""
    if by:
        _since_opened(db, the_plan, at, now)
    aim, source, marked = target.to_meet(db, the_plan.job, the_plan.run.placement, the_plan.run, by)
    settings, noted, faults = _read_sheet(db, form, the_plan, aim)
    reasons, wrong = _buckets_read(db, the_plan, settings, {**aim, **noted_settings(the_plan)}, at)
    faults += wrong
    panel, tests = form.one("panel"), 0
    if panel and pictures.get(db, panel) is None:
        faults.append(Fault("panel", _("There is no such picture here: take it again.")))
    try:
        tests = int(steps.read(steps.RUN_STEPS["sheet"], form.sent, tuple(form.sent))[0].get("test_prints", 0))
    except Refused as refused:
        faults += refused.faults
    if faults:
        raise Refused(faults)
    verdict = checks.may_run(reasons, _held(the_plan))
    override = passed(actor, verdict, form)
    judged = verdict.to_dict() if reasons else None  # of the buckets alone: nothing is good that was not looked at

    def act() -> dict[str, Any]:
        fresh, said = _said_garment(sent._replace(plan=plan(db, number)))
        story, by = fresh.story, {"who": actor.name, "person": actor.id, "at": stamp(at)}
        if form.one("sheet_seen") not in {"", sheet_mark(story)}:
            raise Clash(_("Another phone noted the set-up since you opened this page. Look at it, then send yours."))
        if story.frozen:
            told = _change_values(setup.changed(_own_lots(fresh), settings), by, panel)
            told += [{"what": _("test prints"), "test_prints": tests}] if tests else []
            lines = _change_lines(actor, number, told, form, at, now)
            lines[0] = replace(lines[0], verdict=judged, override=override)
        else:
            kept = panel or str(story.sheet.get("panel") or "")
            sheet: dict[str, Any] = {
                **_sheet_values(settings, noted, story, by, idle_now(fresh)),
                **_met(aim, source, marked),
                **_of_garment(fresh),
                **_idle_of(fresh),
                **({"panel": kept} if kept else {}),
                **({"test_prints": tests} if tests else {}),
            }
            lines = [line(actor, "sheet", at, now, sheet, override=override, run=number)]
            lines[0] = replace(lines[0], verdict=judged)
        lines = numbered(post, [*said, *lines, *_test_lines(actor, fresh, settings, tests, at, now)])
        write(db, lines)
        return {"entries": [line.entry for line in lines]}

    once(db, actor, post, {"step": "sheet", "run": number, **form.sent}, now, act)
    return led_to(db, plan(db, number), [post])


SETS = frozenset({"sheet", "change", "approve"})
"""The steps that say how press and dryer are set, and what came of it: a script reads of them what they led to."""


def led_to(db: Database, plan: Plan, made: Iterable[str]) -> Verdict:
    """What a step of SETS led to (`made`: its entries): what was judged with it, whether the ink cures, and of an
    approval whether its colours meet the print before, as the run's page says it."""
    lines = [found for entry in made if (found := entries.find(db, entry))]
    reasons = [reason for one in lines if one.verdict for reason in Verdict.from_dict(one.verdict).reasons]
    if any(one.step == "approve" for one in lines):
        reasons += checks.may_run(colour.speaks(db, plan.job, plan.run), _held(plan)).reasons
    return checks.may_run([*reasons, *to_approve(db, plan).reasons])


def _buckets_read(
    db: Database,
    plan: Plan,
    settings: dict[str, dict[str, str]],
    before: Mapping[str, Mapping[str, str]],
    at: datetime,
) -> tuple[list[Reason], list[Fault]]:
    """The buckets of a sheet: what speaks against them, and what is wrong. Each is written by its code, and its lot and
    recipe go with it."""
    reasons: list[Reason] = []
    faults: list[Fault] = []
    elsewhere = buckets_elsewhere(db, plan.run.id)
    for key, values in settings.items():
        if not values.get("bucket"):
            continue
        known = dict(before.get(key, {}))
        try:
            bucket = _bucket(db, values["bucket"])
            was = _bucket(db, known["bucket"]) if known.get("bucket") else None
        except Refused as refused:
            faults += [Fault(f"s{key}.bucket", fault.message) for fault in refused.faults]
            continue
        values["bucket"] = bucket.code
        reasons += checks.ink_in_time(bucket, at, plan.story.state == "printing")
        reasons += _ink_of(plan, int(key), bucket)
        reasons += elsewhere.get(bucket.code, []) if was is None or was.id != bucket.id else []
        faults += ink_fit.goes_with(values, known, bucket, was, f"s{key}.")
    return reasons, faults


def inks_of(plan: Plan) -> dict[int, list[Ink]]:
    """By print order the inks that it prints: on the garment said, else on any."""
    job, garment = plan.job.sheet, garment_now(plan)
    ways = [job.colourway_of(one) for one in ([garment] if garment else job.garments)]
    found = {}
    for station in plan.placement.printing:
        inks = [ink_for(job, way, plan.placement, station) for way in ways]
        found[station.number] = list(dict.fromkeys(one for one in inks if one is not None))
    return found


def _ink_of(plan: Plan, station: int, bucket: Bucket) -> list[Reason]:
    """What speaks against the ink in a bucket at a print order."""
    inks = inks_of(plan)
    others = [one for number, some in inks.items() if number != station for one in some]
    return ink_fit.against(bucket, station, inks.get(station, []), others)


def _other_inks(db: Database, plan: Plan) -> list[Reason]:
    """What speaks against the inks that the run prints from now."""
    found = []
    for number in sorted(prints_now(plan)):
        code = plan.story.settings.get(str(number), {}).get("bucket", "")
        issued = codes_store.find(db, code) if code else None
        bucket = buckets.get(db, issued.thing) if issued and issued.kind == "bucket" else None
        found += _ink_of(plan, number, bucket) if bucket is not None else []
    return found


def buckets_elsewhere(db: Database, run: int) -> dict[str, list[Reason]]:
    """By their codes the buckets that other open runs print from, each with where."""
    found: dict[str, list[Reason]] = {}
    for other in runs.open_ones(db):
        if other.id == run:
            continue
        for key, values in other.story.settings.items():
            code = str(values.get("bucket") or "")
            if code:
                hung = other.story.hung.get(counted(key)) if counted(key) else None
                numbers = {"bucket": shown(code), "run": other.id, "station": key, "head": (hung and hung.head) or "–"}
                found.setdefault(code, []).append(Reason("ink-in-use", Level.CAUTION, numbers))
    return found


def _held(plan: Plan) -> list[dict[str, Any]]:
    """What somebody went past on this run, and need not go past again until a pause."""
    return [asdict(one) for one in plan.story.judged if one.held]


def noted_settings(plan: Plan) -> dict[str, dict[str, str]]:
    """The settings of the parts of the sheet that somebody has noted, as they are now."""
    settings, idle = plan.story.settings, idle_now(plan)
    noted = setup.parts_noted(plan.story.sheet, plan.placement)
    return {key: settings.get(key, {}) for key in noted if not (key.isdecimal() and int(key) in idle)}


def standing_settings(plan: Plan, aim: Mapping[str, Mapping[str, str]]) -> dict[str, dict[str, str]]:
    """What a sheet that is sent stands on, by its parts: what was noted; of a part that nobody noted what is set as the
    target has it, and once the approval left it open nothing but what was noted since."""
    settings, filled = plan.story.settings, {} if plan.story.frozen else setup.as_set(aim)
    idle = {str(one) for one in idle_now(plan)}
    rest = {key: {**filled.get(key, {}), **settings.get(key, {})} for key in open_parts(plan) if key not in idle}
    return {**rest, **noted_settings(plan)}


class Said(NamedTuple):
    """The parts of a sheet that are said with a post: one by one (`noted`), as the target all in one (`claimed`), and
    by posts before it (`before`)."""

    noted: set[str]
    claimed: set[str]
    before: set[str]

    @property
    def all(self) -> set[str]:
        """Every part of which somebody said something by then."""
        return self.noted | self.claimed | self.before


def _read_sheet(
    db: Database, form: Form, plan: Plan, aim: Mapping[str, Mapping[str, str]]
) -> tuple[dict[str, dict[str, str]], Said, list[Fault]]:
    """The settings that were sent, and which parts of the sheet are said with that. Noted is what was
    typed otherwise than it stood, and what the field `noted` names (`-`: nothing besides); with `rest`, or without the
    field, what nobody said is claimed to stand as the target: that is no noting of a head, and is kept as what it is.
    `same`: `3.1` sets print order 3 as 1 but for what was typed there otherwise than the form had it, and notes it."""
    before = noted_settings(plan)
    standing = standing_settings(plan, aim)
    settings, faults = setup.read(form.sent, plan.placement, aim, standing, the_spec(db))
    setup.lots_of(settings, form.sent, list(colourways.garments_of(plan.job.sheet)), plan.story.on)
    for key in map(str, idle_now(plan)):  # nothing is asked of it, so it stands as it was left
        if not any(field.startswith(f"s{key}.") for field in form.sent):
            settings[key] = dict(plan.story.settings.get(key, {}))
    known = set(settings)
    named = {one for one in form.sent.get("noted", ()) if one and one != "-"}
    rest = setup.REST in named or not {"noted", "same"} & set(form.sent)
    wanted = named - {setup.REST}
    if form.one("same"):
        found = setup.same_as(settings, plan.placement, form.one("same"), standing)
        if found is None:
            faults.append(Fault("same", _("Only a head that does the same can be taken over, such as 3.1: 3 as 1.")))
        else:
            settings[found[0]] = found[1]
            wanted.add(found[0])
    if wanted - known:
        message = _("There is no such part of the sheet; its parts are {parts}.").format(parts=", ".join(settings))
        faults.append(Fault("noted", message))
    typed = {key for key, values in settings.items() if values != _nonempty(standing.get(key, {}))}
    said = Said((wanted & known) | typed, set(), set(before))
    if rest:
        said = said._replace(claimed=known - said.all - set(map(str, idle_now(plan))))
    elif not faults and not wanted and settings == {**settings, **before} and not typed:
        faults.append(Fault("sheet", _("Nothing is set otherwise than the target: tap the button of the head.")))
    return settings, said, faults


def just_said(plan: Plan, made: Collection[str]) -> list[setup.SaidBy]:
    """What these entries said of the parts of the set-up sheet that stands; nothing where it is an earlier one."""
    at = plan.story.sheet_at if plan.story.sheet_entry in made else ""
    return setup.said_by(plan.story.sheet, at) if at else []


def _nonempty(values: Mapping[str, str]) -> dict[str, str]:
    return {name: value for name, value in values.items() if value and name != "order"}


def idle_now(plan: Plan) -> frozenset[int]:
    """The lines of the print order that do nothing on the garment that is printed now: nothing is asked of them."""
    return colourways.idle(plan.placement, prints_now(plan)) if several_garments(plan) else frozenset()


def _idle_of(plan: Plan) -> dict[str, list[str]]:
    idle = sorted(idle_now(plan))
    return {"idle": list(map(str, idle))} if idle else {}


def sheet_now(db: Database, plan: Plan) -> dict[str, Any]:
    """The set-up sheet as it is now on the garment that is printed, beside the target of that garment; of what stands
    idle on it nothing."""
    story, idle = plan.story, set(map(str, idle_now(plan)))
    stations = {key: values for key, values in story.settings.items() if key != setup.RUN and key not in idle}
    sheet = {**story.sheet, "stations": stations, setup.RUN: story.settings.get(setup.RUN, {})}
    if story.sheet and story.sheet_on != story.on:
        sheet["target"], sheet["target_from"] = target.aim(db, plan.job, plan.run.placement, plan.run)
    aims = {key: values for key, values in (sheet.get("target") or {}).items() if key not in idle}
    return {**sheet, "target": aims} if aims else sheet


def off_target(db: Database, plan: Plan, limits: Spec) -> list[tuple[str, str, str, str]]:
    """What a run is set to otherwise than its target now: (print order or `run`, field, target, as run)."""
    return setup.differences(sheet_now(db, plan), limits, str(setting(db, "units")))


def near_target(db: Database, plan: Plan, limits: Spec, system: str) -> list[tuple[str, str, str, str, str]]:
    """What a run is set to otherwise than its target by no more than the shop calls the same; and within what."""
    return setup.small(sheet_now(db, plan), limits, system)


def set_apart(db: Database, plan: Plan) -> str:
    """What was measured otherwise than it is set, in a sentence; empty where nothing was."""
    story, system = plan.story, str(setting(db, "units"))
    return setup.set_apart(story.settings, story.measured, plan.placement, the_spec(db), system)


def open_parts(plan: Plan) -> list[str]:
    """The parts of the set-up sheet that nobody has noted yet, of those that do something on this garment."""
    idle = {str(one) for one in idle_now(plan)}
    return [key for key in setup.open_parts(plan.story.sheet, plan.placement) if key not in idle]


def left_open(plan: Plan) -> list[str]:
    """The parts of this garment's sheet that an approval asks about (`setup.left_open`)."""
    idle = {str(one) for one in idle_now(plan)}
    left = setup.left_open(plan.story.sheet, plan.placement, plan.story.approved_now)
    return [key for key in left if key not in idle]


def _sheet_values(
    settings: Mapping[str, dict[str, str]],
    said: Said,
    story: Story,
    by: Mapping[str, Any],
    idle: Collection[int] = (),
) -> dict[str, Any]:
    """What a set-up entry keeps of the settings: of each part of which somebody said something, who did so, when and
    how, and who measured what; which parts those are, while some are open (`idle`: print orders that do nothing here,
    and never are)."""
    still = set(settings) - said.all - set(map(str, idle))
    left = {key for key in map(str, idle) if settings.get(key, {}) == story.settings.get(key, {})}
    kept = {key: values for key, values in settings.items() if key in said.all - left}
    known = story.sheet.get("noted_by") or {}
    new = {key: {**by, **({setup.AS_TARGET: True} if key in said.claimed else {})} for key in said.noted | said.claimed}
    noted_by = {key: one for key in kept if (one := new.get(key) or known.get(key))}
    return {
        "stations": {key: values for key, values in kept.items() if key != setup.RUN},
        setup.RUN: kept.get(setup.RUN, {}),
        "numbers": setup.numbers_of(kept),
        "measured": setup.taken(kept, story.settings, story.measured, by),
        "noted_by": noted_by,
        **({"noted": sorted(said.all)} if still else {}),
    }


def _test_lines(
    actor: Actor,
    plan: Plan,
    settings: Mapping[str, Mapping[str, str]],
    tests: int,
    at: datetime,
    now: datetime,
) -> list[Entry]:
    """Test prints on the screens that hang: strokes that wear them, and no pieces."""
    lines = []
    for station, hung in sorted(plan.story.hung.items()) if tests else ():
        text = settings.get(str(station), {}).get("strokes", "")
        strokes = counted(text) or _strokes(plan, station)
        values = {"run": plan.run.id, "impressions": tests * strokes, "test_prints": tests}
        when = max(at, read_stamp(hung.at))
        lines.append(line(actor, "print", when, now, values, screen=hung.screen, run=plan.run.id))
    return lines


def lately_set(db: Database) -> dict[str, list[str]]:
    """What the shop's last runs were set to, by setting, the most frequent first."""
    counted: dict[str, Counter[str]] = {}
    for run in runs.latest(db):
        for values in run.story.settings.values():
            for name, text in values.items():
                counted.setdefault(name, Counter())[text] += 1
    return {name: [text for text, _times in some.most_common()] for name, some in counted.items()}


def without_bucket(plan: Plan) -> list[Asked]:
    """The stations that print an ink with a clock and have no bucket said: nobody can see whether it is in time."""
    used, settings = prints_now(plan), plan.story.settings
    return [
        one
        for one in plan.asked
        if one.number in used and one.inks & setup.CLOCKED and not settings.get(str(one.number), {}).get("bucket")
    ]


def sheet_mark(story: Story) -> str:
    """Which state of the set-up a page shows (field `sheet_seen`), so that one phone does not undo another's."""
    return f"{story.sheet_entry or '-'}.{len(story.changes)}"


def _change_values(
    changed: list[tuple[str, str, str, str]], by: Mapping[str, Any], panel: str
) -> list[dict[str, Any]]:
    """What was set otherwise or measured after the approval, as the values of an entry each. `by`: who, and when."""
    told: list[dict[str, Any]] = [
        {
            "what": field_word(name),
            "field": name,
            **({} if key == setup.RUN else {"station": int(key)}),
            "from": was,
            "to": to,
            **({"numbers": found} if (found := setting_rules.numbers({name: to})) else {}),
            **({"measured": dict(by)} if to and name in setting_rules.MEASURED else {}),
        }
        for key, name, was, to in changed
    ]
    return [*told, {"what": _("the press’s panel"), "panel": panel}] if panel else told


def say_why(db: Database, plan: Plan, form: Form) -> None:
    """Refuses a sheet that changes what was approved and says no reason: pages and commands ask for it, so that the
    next run knows. What was only measured needs none."""
    if plan.story.frozen and not form.one("why") and not only_measured(db, plan, form):
        raise Refused(_("The first print is approved: say why it was changed, so that the next run knows."), "why")


def _own_lots(plan: Plan) -> dict[str, dict[str, str]]:
    """The settings as they are now, with a lot of garments that was noted before anybody said which garment under the
    name of the one that it was for: that is no change on the press."""
    settings = {setup.RUN: {}, **{key: dict(values) for key, values in plan.story.settings.items()}}
    setup.lots_of(settings, {}, list(colourways.garments_of(plan.job.sheet)), plan.story.on)
    return settings


def only_measured(db: Database, plan: Plan, form: Form) -> bool:
    """Whether a sheet that is sent after the approval holds nothing but new measurements, or what the approval left
    open: nobody says that anything was changed on the press then, so there is no reason to ask for."""
    aim, _source, _run = target.to_meet(db, plan.job, plan.run.placement, plan.run)
    settings, _faults = setup.read(form.sent, plan.placement, aim, standing_settings(plan, aim))
    setup.lots_of(settings, form.sent, list(colourways.garments_of(plan.job.sheet)), plan.story.on)
    told, left = setup.changed(_own_lots(plan), settings), set(open_parts(plan))
    return bool(told) and all(
        setup.first_measured({"field": name, "from": was}) or (key in left and not was) for key, name, was, _to in told
    )


def _change_lines(
    actor: Actor, number: int, told: list[dict[str, Any]], form: Form, at: datetime, now: datetime
) -> list[Entry]:
    """What was set otherwise after the approval: an entry each, with the reason."""
    if not told:
        raise Refused(_("Nothing is set otherwise than the log has it. Change what was changed on the press."), "sheet")
    why = {"why": form.one("why")[:MOST_WORDS]} if form.one("why") else {}
    return [line(actor, "change", at, now, {**values, **why}, run=number) for values in told]


def _bucket(db: Database, text: str) -> Bucket:
    from tickets.floor.buckets import find

    return find(db, text)


# The run's other steps -----------------------------------------------------------------------------------------


def log(db: Database, actor: Actor, number: int, step: str, form: Form, *, post: str, now: datetime) -> list[str]:
    """A step of a run (records.steps.RUN_STEPS); the ids of its entries."""
    if step == "hang":
        hang(db, actor, number, form, post=post, now=now)
        return [post]
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
    answer = before(db, actor, post, content)
    if answer is not None:
        return [post] if step == "sheet" else list(answer["entries"])
    if step == "sheet":
        save_sheet(db, actor, number, form, post=post, now=now)
        return [post]
    values, typed = steps.read(known, form.sent, (*counted, *extra))
    at = act_time(form.one("at"), zone(db), now)
    act = _ACTS.get(step, _plain)
    if step == "count" and form.one("at"):
        _since_opened(db, plan(db, number), at, now)

    def once_act() -> dict[str, Any]:
        the_plan = plan(db, number)
        lines = act(Sent(db, actor, the_plan, step, values, typed, form, at, now))
        lines = numbered(post, asked_first(db, lines, step, form, now, ending=_ending(the_plan, step, lines)))
        write(db, lines)
        if step == "finish":
            _close_when_done(db, the_plan, now)
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


def _plain(sent: Sent) -> list[Entry]:
    db, actor, plan, step, values, typed, form, at, now = sent
    if step == "stop":
        _is_open(plan)
    return [line(actor, step, at, now, values, typed, run=plan.run.id)]


def _change(sent: Sent) -> list[Entry]:
    """A change during the run. What = colourway: on to another garment (field garment: its number on the job sheet)."""
    db, actor, plan, step, values, typed, form, at, now = sent
    _is_open(plan)
    counted = _counted_first(sent)
    if str(values.get("what", "")).casefold() == COLOURWAY:
        return [*counted, _colourway_line(actor, plan, form, values, at, now)]
    return [*counted, line(actor, step, at, now, values, typed, run=plan.run.id)]


def _colourway_line(
    actor: Actor, plan: Plan, form: Form, values: Mapping[str, Any], at: datetime, now: datetime
) -> Entry:
    garments = plan.job.sheet.garments
    number = _whole(form, "garment", 1, len(garments))
    if number is None:
        raise Refused(_("Which garment is printed now? {names}.").format(names=_garment_names(plan)), "garment")
    garment = garments[number - 1]
    told = {"garment_style": garment.style, "garment_colour": garment.colour, "garment": number}
    return line(actor, "change", at, now, {**values, "what": COLOURWAY, **told}, run=plan.run.id)


def _garment_names(plan: Plan) -> str:
    every = enumerate(plan.job.sheet.garments, 1)
    return "; ".join(f"{place} {colourways.called(one)}" for place, one in every)


def numbered_garments(plan: Plan) -> list[tuple[str, str]]:
    """The garments of the job as forms have them (number on the job sheet, name); lots of one garment as one."""
    numbers: dict[str, str] = {}
    for place, one in enumerate(plan.job.sheet.garments, 1):
        numbers.setdefault(colourways.called(one), str(place))
    return [(number, name) for name, number in numbers.items()]


def several_garments(plan: Plan) -> bool:
    """Whether the job has more than one garment, so that each has its inks, its counts and its first print."""
    return len(colourways.garments_of(plan.job.sheet)) > 1


def _said_garment(sent: Sent) -> tuple[Plan, list[Entry]]:
    """The run as it is printed on the garment that was sent along (field garment), with the change that says so. Where
    a job has several, the pieces are of one of them: refused until that is said."""
    plan, form = sent.plan, sent.form
    if not several_garments(plan) or (garment_now(plan) and not form.one("garment")):
        return plan, []
    if not form.one("garment"):
        if sent.step in {"approve", "sheet"}:  # of the one that the start says
            return plan, []
        told = _("Say which garment is printed first: the pieces of each are counted apart. {names}.")
        raise Refused(told.format(names=_garment_names(plan)), "garment")
    said = _colourway_line(sent.actor, plan, form, {}, sent.at, sent.now)
    name = colourways.named(said.values["garment_style"], said.values["garment_colour"])
    if garment_now(plan) and plan.story.on == name:
        return plan, []
    ways = colourways.ways_of(plan.job.sheet, plan.placement)
    log = entries.of(sent.db, "run", plan.run.id)
    story = run_rules.replay([*log, replace(said, entry=f"{said.entry}-0")], ways)
    fresh = replace(plan, run=replace(plan.run, story=replace(story, hung=plan.story.hung)))
    return replace(fresh, to_approve=_again(sent.db, story)), [said]


def said_on(db: Database, actor: Actor, plan: Plan, form: Form, now: datetime) -> Plan:
    """The run as it is on the garment that a form says (field garment), before anything of that is written. Without
    one, or with one that the job has not: as it is."""
    try:
        return _said_garment(Sent(db, actor, plan, "approve", {}, {}, form, now, now))[0]
    except Refused:
        return plan


def garment_now(plan: Plan) -> Garment | None:
    """The garment that is printed now; None where the job has only one, or the run did not say."""
    said = plan.story.garment
    if said is None:
        return None
    wanted = (str(said.get("garment_style")), str(said.get("garment_colour")))
    return next((one for one in plan.job.sheet.garments if (one.style, one.colour) == wanted), None)


def prints_now(plan: Plan) -> frozenset[int]:
    """The stations that print on the garment that runs now: a colourway may leave some out. Until the run said which
    garment: those that print on any."""
    garment = garment_now(plan)
    return needed(plan.job.sheet, plan.placement, [garment] if garment else plan.job.sheet.garments)


def _all_hung(plan: Plan) -> None:
    missing = plan.missing()
    if missing:
        names = ", ".join(f"{one.number} ({one.image.name})" for one in missing)
        raise Refused(
            _("These have no screen yet: print order {names}. Scan their screens first.").format(names=names), "screen"
        )


def _approve(sent: Sent) -> list[Entry]:
    db, actor, plan, step, values, typed, form, at, now = sent
    plan, said = _said_garment(sent) if plan.story.state != "finished" else (plan, [])
    values = {name: value for name, value in values.items() if name != "garment"}
    # in place of one that was crossed out it may come when the run is over and its screens are off
    log = entries.of(db, "run", plan.run.id)
    crossed = {one.crosses for one in log if one.step == "cross-out"}
    fallen = [one.at for one in log if one.step == "approve" and one.entry in crossed]
    over = bool(fallen) and plan.story.state == "finished"
    if plan.story.approved_now and not plan.to_approve:
        raise Clash(_approved_already(db, plan, now))
    if not over:
        _is_open(plan)
        _all_hung(sent.plan)
    elif not form.one("at"):
        at = max(fallen)  # the same first print: what was changed after it stays a change
    values = {name: value for name, value in values.items() if name != "customer_person"}
    approver, readings = together(
        lambda: _approver(db, sent.values),
        lambda: readings_of(db, plan, form),
    )
    values = {name: value for name, value in values.items() if name != lab.CONDITIONS}
    values["approved_by"] = approver
    if form.one("sample"):
        values = {**values, "sample": form.one("sample")[:MOST_WORDS]}
    if form.one("photo"):
        if pictures.get(db, form.one("photo")) is None:
            raise Refused(_("There is no such picture here: take it again."), "picture")
        values = {**values, "photo": form.one("photo")}
    sheet = [] if over else _sheet_again(db, actor, plan, at, now)
    if not over and (left := left_open(plan)):
        if "unnoted" not in values:
            raise Refused(_unnoted(plan, left), "unnoted")
        if values["unnoted"] == "as-target":
            sheet = _rest_as_target(sent._replace(plan=plan))
    verdict = to_approve(db, plan)
    judged: dict[str, Any] = {}
    if not over and verdict.reasons:
        judged = {"verdict": verdict, "override": passed(actor, verdict, form)}
    approved = {**values, **readings, **_of_garment(plan)}
    return [*said, *sheet, line(actor, step, at, now, approved, typed, run=plan.run.id, **judged)]


def _unnoted(plan: Plan, parts: Sequence[str]) -> str:
    """What is asked where a first print is approved while some parts of its sheet are open."""
    return _("Nothing is noted of {parts}: is it set as the target, or does it stay not noted?").format(
        parts=", ".join(setup.part_said(key, plan.placement) for key in parts)
    )


def _rest_as_target(sent: Sent) -> list[Entry]:
    """What nobody noted yet, noted as it stands in the target: nothing of it is measured."""
    db, actor, plan, at = sent.db, sent.actor, sent.plan, sent.at
    by = stamp(at) if sent.form.one("at") else ""
    aim, source, marked = target.to_meet(db, plan.job, plan.run.placement, plan.run, by)
    before = noted_settings(plan)
    settings, _faults = setup.read({}, plan.placement, aim, before)
    said = Said(set(), set(settings) - set(before) - set(map(str, idle_now(plan))), set(before))
    sheet = {
        **{name: value for name, value in plan.story.sheet.items() if name not in ("noted", "idle", "test_prints")},
        **_sheet_values(settings, said, plan.story, {"who": actor.name, "person": actor.id, "at": stamp(at)}),
        **_met(aim, source, marked),
        **_of_garment(plan),
        **_idle_of(plan),
    }
    return [line(actor, "sheet", at, sent.now, sheet, run=plan.run.id)]


def _met(aim: Mapping[str, Any], source: str, marked: runs.Run | None) -> dict[str, Any]:
    """What a set-up entry keeps of its target: the settings, whose they are, the run that they are of."""
    return {"target": aim, "target_from": source, **({"target_run": marked.id} if marked else {})}


def _of_garment(plan: Plan) -> dict[str, str]:
    """The garment that a sheet or an approval is of, as it keeps it; nothing where the job has one only."""
    garment = garment_now(plan)
    return {GARMENT: colourways.called(garment)} if garment and several_garments(plan) else {}


def readings_of(db: Database, plan: Plan, form: Form) -> dict[str, Any]:
    """The colour readings in a form, as an approval keeps them: of what prints on the garment. Refuses all that is
    wrong with them, and those of which nobody says how they were taken."""
    last = next(iter(runs.read_under(db)), "")
    prints = prints_now(plan)
    return lab.read(
        form.sent, {one.number: one.separation for one in plan.placement.printing if one.number in prints}, last
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
    ).format(who=approved.get("approved_by", "–"), when=_said(db, read_stamp(str(approved["at"])), now))


def _sheet_again(db: Database, actor: Actor, plan: Plan, at: datetime, now: datetime) -> list[Entry]:
    """An approval in place of one that was crossed out takes what was changed since into the sheet that it freezes."""
    settings = plan.story.settings
    mine = plan.story.sheet_on == plan.story.on
    if not plan.story.sheet_entry or (mine and settings == setup.parts_of(plan.story.sheet)):
        return []
    stations = {key: values for key, values in settings.items() if key != setup.RUN}
    sheet = {**plan.story.sheet, "stations": stations, setup.RUN: settings.get(setup.RUN, {}), **_of_garment(plan)}
    if not mine:  # the first one of its own
        sheet = {name: value for name, value in sheet.items() if name not in {"target_run", "noted", "idle"}}
        sheet |= _met(*target.to_meet(db, plan.job, plan.run.placement, plan.run)) | _idle_of(plan)
        sheet |= {"noted": sorted(noted_settings(plan))} if open_parts(plan) else {}
    elif "noted" in sheet:  # what the approval before left open, as far as it was noted since
        noted = {*sheet["noted"], *(key for key, values in settings.items() if values)}
        left = set(open_parts(plan)) - noted
        sheet = {**sheet, "noted": sorted(noted)} if left else {k: v for k, v in sheet.items() if k != "noted"}
    sheet.pop("test_prints", None)
    if "measured" in sheet or plan.story.measured:
        sheet["measured"] = plan.story.measured
    return [line(actor, "sheet", at, now, sheet, run=plan.run.id)]


def _start(sent: Sent) -> list[Entry]:
    db, actor, plan, step, values, typed, form, at, now = sent
    _is_open(plan)
    _all_hung(plan)  # the set-up judges every colourway, until one was said
    plan, said = _said_garment(sent)
    values = {name: value for name, value in values.items() if name != "garment"}
    lines = [line(actor, step, at, now, values, typed, run=plan.run.id, **_go_on(sent._replace(plan=plan)))]
    return [*lines, *_test_lines(actor, plan, plan.story.settings, int(values.get("test_prints", 0)), at, now), *said]


def pieces_counted(db: Database, plan: Plan, which: str = "good") -> Counter[str]:
    """The pieces that all runs of this placement of the job come to, good or (`which`) misprinted ones, by garment as
    it is called on pages; what a run counted before it said its first garment is of that one (empty: it said none)."""
    counted: Counter[str] = Counter()
    for run in runs.of_job(db, plan.job.id, plan.run.placement):
        log = standing_lines(entries.of(db, "run", run.id))
        now = run_rules.first_garment(log)
        for entry in log:
            if entry.step == "change":
                now = run_rules.garment_in(entry) or now
            elif entry.step == "count":
                counted[now] += whole_of(entry.values, which) or 0
    return counted


def counted_mark(story: Story) -> str:
    """What was counted as a page shows it (field `counted`): a count that another phone made meanwhile is told."""
    return f"{story.good}.{story.misprinted}"


def _doubted(sent: Sent, values: Mapping[str, Any]) -> dict[str, Any]:
    """Raises Doubt where somebody else counted since the form was shown, or where this makes more pieces than were
    ordered; what was answered, to be kept with the count."""
    db, story, form, good = sent.db, sent.plan.story, sent.form, int(values.get("good", 0))
    if form.one("counted") not in {"", counted_mark(story)}:
        raise Doubt(_counted_since(sent, good), "good", again=True)
    garment, sheet = garment_now(sent.plan), sent.plan.job.sheet
    counted = pieces_counted(db, sent.plan)
    name = f"{garment.style}, {garment.colour}" if garment else ""
    same = sum(one.pieces for one in sheet.garments if f"{one.style}, {one.colour}" == name)
    before, ordered = (counted[name], same) if same else (counted.total(), sheet.pieces)
    log = standing_lines(entries.of(db, "run", sent.plan.run.id))
    answered = any(one.step == "count" and one.values.get("over") for one in log)
    over = checks.over_ordered(before, good, ordered, answered, the_spec(db))
    if over and not form.one("over"):
        told = _("That makes {all} good pieces of {ordered} ordered ({good} just now). Is that right?")
        raise Doubt(told.format(all=before + good, ordered=ordered, good=good), "over")
    return {"over": form.one("over")[:MOST_WORDS]} if over else {}


def _counted_since(sent: Sent, good: int) -> str:
    """What was counted since a form was shown, by whom and when, beside what is to be counted now."""
    db, story = sent.db, sent.plan.story
    was_good, _dot, was_bad = sent.form.one("counted").partition(".")
    counts = [one for one in standing_lines(entries.of(db, "run", sent.plan.run.id)) if one.step == "count"]
    last = max(counts, key=lambda one: one.saved_at, default=None)
    who = people.names(db).get(last.person, "–") if last else "–"
    more = [now - int(was) if was.isdecimal() and len(was) < 10 else now
            for now, was in ((story.good, was_good), (story.misprinted, was_bad))]  # fmt: skip
    told = _(
        "Counted since this page was opened: {good} good, {bad} misprinted (last by {who}, {when}); {all} good of "
        "{ordered} in all. Do your {own} come on top? Then send it again; if they are the same pieces, clear the boxes."
    )
    when = _said(db, last.saved_at, sent.now) if last else "–"
    return told.format(good=more[0], bad=more[1], who=who, when=when, all=story.good,
                       ordered=sent.plan.job.sheet.pieces, own=good)  # fmt: skip


def _count(sent: Sent) -> list[Entry]:
    db, actor, plan, step, values, typed, form, at, now = sent
    _is_open(plan)
    before = _printed_before(sent)
    values = {**values, **_doubted(sent, values), **before}
    return _count_lines(db, actor, _as_of(sent), values, at, now, **(_noted(sent) if before else _go_on(sent)))


def _printed_before(sent: Sent) -> dict[str, Any]:
    """Raises Doubt on a count while a head is empty: the pieces were printed before its screen came off, or they were
    not printed at all; what was answered, to be kept with the count. A screen that never hung is asked for."""
    plan, missing = sent.plan, {one.number: one for one in sent.plan.missing()}
    off = _came_off(sent.db, plan) if missing else {}
    if not missing:
        return {}
    if not plan.story.started_at or set(missing) - set(off):
        _all_hung(plan)
    if sent.form.one("before"):
        return {"before": sent.form.one("before")[:MOST_WORDS]}
    told = [
        _("print order {number} ({image}): {screen} until {when}").format(
            number=number, image=missing[number].image.name, screen=_code_of(sent.db, hung.screen),
            when=_said(sent.db, until, sent.now))
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


def _counted_first(sent: Sent) -> list[Entry]:
    """The count that came along with another step: it goes to the screens and the garment of before that step."""
    counted = _sent_count(sent.form)
    if not counted:
        return []
    counted |= _doubted(sent, counted)
    return _count_lines(sent.db, sent.actor, _as_of(sent), counted, sent.at, sent.now, **_noted(sent))


def _noted(sent: Sent) -> dict[str, Any]:
    """What spoke against printing what is printed by now: it is counted in any case. Where nobody logged a start, these
    pieces are one: what stops the start asks for the same reason."""
    verdict = going(sent.db, sent.plan, sent.at)
    begun = bool(sent.plan.story.started_at or sent.plan.story.good)
    override = None if begun else passed(sent.actor, verdict, sent.form)
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
        impressions = pieces * _strokes(plan, station) if station in prints_now(plan) else 0
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


def _strokes(plan: Plan, station: int) -> int:
    as_run = plan.story.settings.get(str(station), {}).get("strokes", "")
    if as_run.isascii() and as_run.isdigit():
        return int(as_run)
    return next((one.strokes for one in plan.asked if one.number == station), 1)


def _sent_count(form: Form) -> dict[str, Any]:
    if not form.one("good") and not form.one("misprinted"):
        return {}
    sent = {name: form.sent[name] for name in ("good", "misprinted", "cause") if form.one(name)}
    return steps.read(steps.RUN_STEPS["count"], sent)[0]


def _pause(sent: Sent) -> list[Entry]:
    db, actor, plan, step, values, typed, form, at, now = sent
    _is_open(plan)
    if plan.story.state == "paused" and not plan.story.hung:
        raise Clash(_("Run {number} is paused already, its screens are off.").format(number=plan.run.id))
    picks = coming_off.picked(db, plan.story, form)
    values = {**values, **_count_wanted(sent)}
    lines = _counted_first(sent)
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
        return {"later": form.one("later")[:MOST_WORDS]}
    told = _("Nothing was counted since {when}. Type the good pieces until now (0: none). Or are they counted later?")
    raise Doubt(told.format(when=_said(sent.db, last.at, sent.now)), "later")


def _finish(sent: Sent) -> list[Entry]:
    db, actor, plan, step, values, typed, form, at, now = sent
    if plan.story.state == "finished" or plan.run.done_at:
        raise Clash(_("Run {number} was finished already.").format(number=plan.run.id))
    picks = coming_off.picked(db, plan.story, form)
    lines = _counted_first(sent)
    values = {**values, **_nothing_counted(sent, lines)}
    lines += coming_off.pull_lines(db, actor, plan.run.id, plan.story, picks, at, now)
    lines += coming_off.finish_lines(db, actor, plan.run.id, plan.story, picks, at, now)
    return [*lines, line(actor, step, at, now, values, typed, run=plan.run.id)]


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
    ask = _("How many were printed? Type the pieces, counted elsewhere too. Or was nothing printed?")
    raise Doubt(f"{told} {ask}", "uncounted", answers=run_rules.UNCOUNTED)


def _close_when_done(db: Database, plan: Plan, now: datetime) -> None:
    """A job whose pieces have all been printed leaves the boards; one that is short stays until somebody closes it."""
    job = jobs.get(db, plan.job.id)
    if job is not None and not jobs.short(db, job):
        jobs.close(db, plan.job.id, stamp(now))


def _swap(sent: Sent) -> list[Entry]:
    """Another screen on a head: the old one comes off with its reason and as that says, whatever speaks against the new
    one, which is checked as at set-up. What is said of it (fields condition, then) goes before what its reason says;
    good it is only where somebody says so.

    Pieces that are counted along (fields good, misprinted, cause) were printed with the old one.
    """
    db, actor, plan, step, values, typed, form, at, now = sent
    _is_open(plan)
    old, new = find_screen(db, values["old"]), find_screen(db, values["new"])
    hung = next((one for one in plan.story.hung.values() if one.screen == old.id), None)
    if hung is None:
        raise Refused(_("Screen {code} does not hang in this run.").format(code=values["old"]), "old")
    if not values.get("why"):
        raise Refused(_("Say why it is swapped: it goes into the log of the screen that comes off."), "why")
    at = max(_free_since(db, one, at, form, now) for one in (old, new))
    counted = _counted_first(sent._replace(at=at))
    off = without(plan, old.id)
    head = _whole(form, "head", 1, 40) or hung.head or free_head(off, hung.station)
    if head == hung.head:  # it has that head already
        off = replace(off, busy={})
    said = {"in_hand": form.yes("in_hand"), "head_taken": form.yes("head_taken")}
    found = check(db, off, new, at, head=head, station=hung.station, **said)
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
    more, _verdict = _hang_lines(actor, off, new, found, hung.station, head, form, at, now)
    return counted + lines + more


def uncounted(db: Database, plan: Plan) -> Uncounted:
    """What a count from now on would lay on other screens than those that printed."""
    return run_rules.uncounted(entries.of(db, "run", plan.run.id), plan.story)


def used(db: Database, plan: Plan) -> list[Used]:
    """The screens that a run used, in print order."""
    return run_rules.used(entries.of(db, "run", plan.run.id))


def _use_next_time(sent: Sent) -> list[Entry]:
    db, actor, plan, step, values, typed, form, at, now = sent
    if not plan.story.approved:
        raise Refused(_("Only an approved run can be the target for the next one."))
    if not actor.leads:
        raise NotAllowed(_("A press lead or a manager decides what is used next time."))
    verdict = to_mark(db, plan)
    override = passed(actor, verdict, form)
    _as_seen(verdict, override, form)
    noted = verdict if verdict.reasons else None
    return [line(actor, step, at, now, values, typed, run=plan.run.id, verdict=noted, override=override)]


_ACTS = {
    "approve": _approve,
    "change": _change,
    "start": _start,
    "count": _count,
    "pause": _pause,
    "finish": _finish,
    "swap": _swap,
    "use-next-time": _use_next_time,
}
