"""A run with all that it was planned from, and what is asked of that."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from sqlite_utils import Database

from tickets.calculator.kinds import MIXED_INKS
from tickets.calculator.numerals import counted
from tickets.domain.entry import standing_lines, whole_of
from tickets.domain.jobs import colourways, heads
from tickets.domain.jobs.colourways import GARMENT
from tickets.domain.jobs.job import Garment, Ink, Placement, ink_for, needed
from tickets.domain.posted import Form
from tickets.domain.refusal import NotFound, Refused
from tickets.domain.runs import lab, setup
from tickets.domain.runs import run as run_rules
from tickets.domain.runs.run import Again, Hung, Story, Uncounted, Used
from tickets.domain.screens.frame_checks import Asked
from tickets.domain.separation import folded
from tickets.domain.spec import Spec
from tickets.domain.stages import Standing
from tickets.i18n import gettext as _
from tickets.queries import shop_rules, target
from tickets.queries.shop_rules import the_spec
from tickets.store import buckets, entries, jobs, places, runs, screens, to_log
from tickets.store import codes as codes_store
from tickets.store.settings import setting


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


def known(db: Database, number: int) -> runs.Run:
    """A run by number, without what it was planned from. Raises NotFound."""
    run = runs.get(db, number)
    if run is None:
        raise NotFound(_("This shop has no run {number}.").format(number=number), "run")
    return run


def plan(db: Database, number: int) -> Plan:
    """A run by number. Raises NotFound."""
    to_log.planned(db, number)
    run = known(db, number)
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
    placement, again = job.sheet.placements[run.placement - 1], still_to_approve(db, run.story)
    busy = runs.busy_heads(db, run.press, number) if run.done_at is None else {}
    return Plan(run, job, placement, asked, press, now_job.version, gone, again, busy)


def still_to_approve(db: Database, story: Story) -> tuple[Again, ...]:
    """Why the first print is to be approved again by the rules of this shop; another bucket of the same maker's lot is
    no reason. Asked when a run is read: the story keeps whatever came, so a changed rule leaves no stored row
    behind."""
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


SETS = frozenset({"sheet", "change", "approve"})
"""The steps that say how press and dryer are set, and what came of it: a script reads of them what they led to."""


def inks_of(plan: Plan) -> dict[int, list[Ink]]:
    """By print order the inks that it prints: on the garment said, else on any."""
    job, garment = plan.job.sheet, garment_now(plan)
    ways = [job.colourway_of(one) for one in ([garment] if garment else job.garments)]
    found = {}
    for station in plan.placement.printing:
        inks = [ink_for(job, way, plan.placement, station) for way in ways]
        found[station.number] = list(dict.fromkeys(one for one in inks if one is not None))
    return found


def held_by(plan: Plan) -> list[dict[str, Any]]:
    """What somebody overrode on this run, and need not override again until a pause."""
    return [asdict(one) for one in plan.story.judged if one.held]


def noted_settings(plan: Plan) -> dict[str, dict[str, str]]:
    """The settings of the parts of the sheet that somebody has noted, as they are now."""
    settings, idle = plan.story.settings, idle_now(plan)
    noted = setup.parts_noted(plan.story.sheet, plan.placement)
    return {key: settings.get(key, {}) for key in noted if counted(key, -1) not in idle}


def standing_settings(plan: Plan, aim: Mapping[str, Mapping[str, str]]) -> dict[str, dict[str, str]]:
    """What a sheet that is sent stands on, by its parts: what was noted; of a part that nobody noted what is set as the
    target has it, and once the approval left it open nothing but what was noted since."""
    settings, filled = plan.story.settings, {} if plan.story.frozen else setup.as_set(aim)
    idle = {str(one) for one in idle_now(plan)}
    rest = {key: {**filled.get(key, {}), **settings.get(key, {})} for key in open_parts(plan) if key not in idle}
    return {**rest, **noted_settings(plan)}


def just_said(plan: Plan, made: Collection[str]) -> list[setup.SaidBy]:
    """What these entries said of the parts of the set-up sheet that stands; nothing where it is an earlier one."""
    at = plan.story.sheet_at if plan.story.sheet_entry in made else ""
    return setup.said_by(plan.story.sheet, at) if at else []


def idle_now(plan: Plan) -> frozenset[int]:
    """The lines of the print order that do nothing on the garment that is printed now: nothing is asked of them."""
    return colourways.idle(plan.placement, prints_now(plan)) if several_garments(plan) else frozenset()


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
    return setup.differences(sheet_now(db, plan), limits, shop_rules.units_read(db))


def near_target(db: Database, plan: Plan, limits: Spec, system: str) -> list[tuple[str, str, str, str, str]]:
    """What a run is set to otherwise than its target by no more than the shop calls the same; and within what."""
    return setup.small(sheet_now(db, plan), limits, system)


def set_apart(db: Database, plan: Plan) -> str:
    """What was measured otherwise than it is set, in a sentence; empty where nothing was."""
    story, system = plan.story, shop_rules.units_read(db)
    return setup.set_apart(story.settings, story.measured, plan.placement, the_spec(db), system)


def open_parts(plan: Plan) -> list[str]:
    """The parts of the set-up sheet that nobody has noted yet, of those that do something on this garment."""
    idle = {str(one) for one in idle_now(plan)}
    return [key for key in setup.open_parts(plan.story.sheet, plan.placement) if key not in idle]


def open_like(plan: Plan, other: str) -> list[str]:
    """Of the parts that nobody has noted yet, those of the set-up that do the same as another one, and whose screen
    hangs."""
    does = {str(one.number): one.does for one in plan.placement.stations}
    missing = {str(one.number) for one in plan.missing()}
    return [one for one in open_parts(plan) if does.get(one, "") == does.get(other) and one not in {other, *missing}]


def left_open(plan: Plan) -> list[str]:
    """The parts of this garment's sheet that an approval asks about (`setup.left_open`)."""
    idle = {str(one) for one in idle_now(plan)}
    left = setup.left_open(plan.story.sheet, plan.placement, plan.story.approved_now)
    return [key for key in left if key not in idle]


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
        if one.number in used and one.inks & MIXED_INKS and not settings.get(str(one.number), {}).get("bucket")
    ]


def sheet_mark(story: Story) -> str:
    """Which state of the set-up a page shows (field `sheet_seen`), so that one phone does not undo another's."""
    return f"{story.sheet_entry or '-'}.{len(story.changes)}"


def say_why(db: Database, plan: Plan, form: Form) -> None:
    """Refuses a sheet that changes what was approved and says no reason: pages and commands ask for it, so that the
    next run knows. What was only measured needs none."""
    if plan.story.frozen and not form.one("why") and not only_measured(db, plan, form):
        raise Refused(_("The first print is approved: say why it was changed, so that the next run knows."), "why")


def own_lots(plan: Plan) -> dict[str, dict[str, str]]:
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
    told, left = setup.changed(own_lots(plan), settings), set(open_parts(plan))
    return bool(told) and all(
        setup.first_measured({"field": name, "from": was}) or (key in left and not was) for key, name, was, _to in told
    )


def numbered_garments(plan: Plan) -> list[tuple[str, str]]:
    """The garments of the job as forms have them (number on the job sheet, name); lots of one garment as one."""
    numbers: dict[str, str] = {}
    for place, one in enumerate(plan.job.sheet.garments, 1):
        numbers.setdefault(colourways.called(one), str(place))
    return [(number, name) for name, number in numbers.items()]


def several_garments(plan: Plan) -> bool:
    """Whether the job has more than one garment, so that each has its inks, its counts and its first print."""
    return len(colourways.garments_of(plan.job.sheet)) > 1


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


def of_garment(plan: Plan) -> dict[str, str]:
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


def uncounted(db: Database, plan: Plan) -> Uncounted:
    """What a count from now on would lay on other screens than those that printed."""
    return run_rules.uncounted(entries.of(db, "run", plan.run.id), plan.story)


def used(db: Database, plan: Plan) -> list[Used]:
    """The screens that a run used, in print order."""
    return run_rules.used(entries.of(db, "run", plan.run.id))
