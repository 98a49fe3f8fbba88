"""Screens and inks judged at the press, for a run."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.calculator.kinds import INKS
from tickets.calculator.numerals import counted
from tickets.calculator.verdict import Level, Reason, Verdict, judge
from tickets.domain.bucket import Bucket
from tickets.domain.code import shown
from tickets.domain.entry import stamp
from tickets.domain.jobs.job import Placement, needed
from tickets.domain.runs import curing as curing_records
from tickets.domain.runs import ink_fit, setup
from tickets.domain.runs.as_run import FIELDS
from tickets.domain.screens import checks, press_checks
from tickets.domain.screens.frame_checks import Asked
from tickets.domain.screens.press_checks import AtPress, Seen
from tickets.domain.separation import folded
from tickets.queries import colour, run_plan, target
from tickets.queries.air import air_of
from tickets.queries.asked import Look, emulsion_of
from tickets.queries.run_plan import Plan
from tickets.queries.shop_rules import the_spec
from tickets.store import buckets, entries, jobs, people, runs, screens, to_log
from tickets.store import codes as codes_store
from tickets.store.settings import setting


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
    hung = [one for number in plan.story.hung.values() if (one := screens.get(db, number.screen)) is not None]
    to_log.stencils(db, [one.life for one in (screen, *hung)])
    found = press_checks.at_press(
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
    more = press_checks.head_in_use(head, plan.busy, head_taken)
    more += job_changed(db, plan, screen, found.station)
    return replace(found, verdict=judge([*found.verdict.reasons, *more])) if more else found


def job_changed(db: Database, plan: Plan, screen: screens.Screen, station: int | None) -> list[Reason]:
    """What the job, as it was changed since the run was planned, says against this screen at its station. Whoever leads
    passes it for each screen; what was gone past for the whole run does not answer for what hangs after it."""
    asked = next((one for one in plan.asked if one.number == station), None)
    if asked is None or not plan.changed_since or asked.number not in run_plan.prints_now(plan):
        return []
    on = [press_checks.OnHead(asked, screen.code, screen.life)]
    old = press_checks.old_art(on, _asked_now(db, plan), the_spec(db), plan.version_now)
    return [one for one in old if one.key != "image-added"]


@dataclass(frozen=True, slots=True)
class ShortJob:
    """What else waits for a screen and has no other one: a job's placement, its open run if there is one."""

    job: jobs.Saved
    placement: Placement
    station: int
    run: int | None


def runs_short(db: Database, plan: Plan, screen: screens.Screen, now: datetime) -> list[ShortJob]:
    """The other jobs that wait for what this screen carries and have no second one that serves, the earliest due first;
    also those that somebody let the stencil go for: it is still there, and they wait."""
    found: list[ShortJob] = []
    look = Look(db, now)
    for separation in screen.life.stencil.separations if screen.life.stencil else ():
        theirs = [one for one in look.still(separation) if one.job != plan.job.id]
        for one in look.waiting(separation, screen.id, theirs):
            job = jobs.get(db, one.job)
            if job is not None:
                found.append(ShortJob(job, job.sheet.placements[one.placement - 1], one.station, one.run))
    return found


def going(db: Database, plan: Plan, now: datetime) -> Verdict:
    """What speaks against starting, going on or counting in this run now: shown above those forms, asked by those acts
    (`run_act.go_on`). A further reason is a further line here, its rule one of `press_checks`. Whoever overrides it is
    asked once: the answer holds for that cause until a pause (`run.Judged.held`)."""
    spec, begun = the_spec(db), bool(plan.story.started_at)
    on = _on_heads(db, plan)
    reasons = [
        *press_checks.old_art(on, _asked_now(db, plan), spec, plan.version_now),
        *press_checks.unnamed(on),
        *press_checks.heads_shared([hung.head for _station, hung in sorted(plan.story.hung.items())], plan.busy),
        *(reason for _at, bucket in buckets_in_use(db, plan) for reason in checks.ink_running(bucket, now, begun)),
        *press_checks.first_print(plan.story.approved is not None, _said_again(db, plan, now)),
        *curing(db, plan),
        *colour.speaks(db, plan.job, plan.run),
        *other_inks(db, plan),
    ]
    return press_checks.may_run(reasons, run_plan.held_by(plan))


def buckets_in_use(db: Database, plan: Plan) -> list[tuple[int, Bucket]]:
    """The ink buckets that the run prints from now: print order, bucket; each bucket once."""
    used, found, seen = run_plan.prints_now(plan), [], set()
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
    settings, garment = plan.story.settings, run_plan.garment_now(plan)
    whole = settings.get(setup.RUN, {})
    poured = {
        station.number: kind
        for station in plan.placement.printing
        for kind in settings.get(str(station.number), {}).get("ink", "").split(" · ")
        if kind in INKS
    }
    return curing_records.cure(
        plan.job.sheet,
        plan.placement,
        curing_records.heat_of(
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
    return press_checks.may_run(curing(db, plan), run_plan.held_by(plan))


def to_mark(db: Database, plan: Plan) -> Verdict:
    """What speaks against these settings as the target. It is asked whoever printed on in spite of it: a colour that is
    off in the target is off in every repeat."""
    every = list(plan.story.approvals) or [plan.story.on]
    return press_checks.may_run([one for name in every for one in colour.speaks(db, plan.job, plan.run, name)])


def _on_heads(db: Database, plan: Plan) -> list[press_checks.OnHead]:
    """What the run prints on the garment said (else on any), with the screen that hangs there."""
    used, found = run_plan.prints_now(plan), []
    for one in plan.asked:
        hung = plan.story.hung.get(one.number)
        screen = screens.get(db, hung.screen) if hung else None
        if one.number in used:
            where = (hung.head, hung.at) if hung else (None, "")
            found.append(
                press_checks.OnHead(one, screen.code if screen else "", screen.life if screen else None, *where)
            )
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
        told = [code_of(db, part) if isinstance(part, int) else str(part or "–") for part in (one.was, one.now)]
        if one.field == "bucket":
            told = [shown(part) for part in told]
        numbers: dict[str, Any] = {"since_at": one.at, "was": told[0], "now": told[1]}
        if one.station is not None:
            numbers |= {"station": one.station, "image": names.get(one.station, "")}
        if one.field:
            numbers["setting_word"] = FIELDS[one.field].form or FIELDS[one.field].said
        found.append((one.why, numbers))
    return found


def code_of(db: Database, screen: int) -> str:
    found = screens.get(db, screen)
    return shown(found.code) if found else "–"


def _asked_now(db: Database, plan: Plan) -> list[Asked]:
    """What the job, as it is now, asks for in this placement, on the garment said; nothing where it was taken out."""
    if not plan.changed_since:
        return [one for one in plan.asked if one.number in run_plan.prints_now(plan)]
    job = jobs.get(db, plan.job.id)
    assert job is not None
    names = [folded(one.name) for one in job.sheet.placements]
    wanted = folded(plan.placement.name)
    place = names.index(wanted) + 1 if wanted in names else 0
    if not place:
        return []
    placement, said = job.sheet.placements[place - 1], run_plan.garment_now(plan)
    same = [one for one in job.sheet.garments if said and (one.style, one.colour) == (said.style, said.colour)]
    takes = needed(job.sheet, placement, same or job.sheet.garments)
    return [one for one in jobs.asked(db, job, place) if one.number in takes]


def led_to(db: Database, plan: Plan, made: Iterable[str]) -> Verdict:
    """What a step of SETS led to (`made`: its entries): what was judged with it, whether the ink cures, and of an
    approval whether its colours meet the print before, as the run's page says it."""
    lines = [found for entry in made if (found := entries.find(db, entry))]
    reasons = [reason for one in lines if one.verdict for reason in Verdict.from_dict(one.verdict).reasons]
    if any(one.step == "approve" for one in lines):
        reasons += press_checks.may_run(colour.speaks(db, plan.job, plan.run), run_plan.held_by(plan)).reasons
    return press_checks.may_run([*reasons, *to_approve(db, plan).reasons])


def ink_of(plan: Plan, station: int, bucket: Bucket) -> list[Reason]:
    """What speaks against the ink in a bucket at a print order."""
    inks = run_plan.inks_of(plan)
    others = [one for number, some in inks.items() if number != station for one in some]
    return ink_fit.against(bucket, station, inks.get(station, []), others)


def other_inks(db: Database, plan: Plan) -> list[Reason]:
    """What speaks against the inks that the run prints from now."""
    found = []
    for number in sorted(run_plan.prints_now(plan)):
        code = plan.story.settings.get(str(number), {}).get("bucket", "")
        issued = codes_store.find(db, code) if code else None
        bucket = buckets.get(db, issued.thing) if issued and issued.kind == "bucket" else None
        found += ink_of(plan, number, bucket) if bucket is not None else []
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
