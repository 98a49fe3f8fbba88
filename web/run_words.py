"""What the pages of a run show, put into words: how far it is, its screens, its set-up sheet, its log."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from flask import g

from tickets.actions import coming_off
from tickets.calculator.numerals import counted
from tickets.calculator.verdict import Level, Said, Verdict, say
from tickets.domain import cautions as risks
from tickets.domain.code import shown
from tickets.domain.entry import read_stamp, stamp, standing_lines
from tickets.domain.jobs import colourways
from tickets.domain.jobs.job import Colourway, Ink, Station, ink_for
from tickets.domain.papers.ticket import with_signs
from tickets.domain.runs import first_seen, lab, setup
from tickets.domain.runs.as_run import field_word, target_word
from tickets.domain.runs.run import STATES, Hung
from tickets.domain.screens.frame_checks import Asked
from tickets.domain.screens.needs import covers_none, let_go, stage_said
from tickets.domain.screens.press_checks import TO_HANG, OnHead, unnamed
from tickets.domain.screens.screen import Life
from tickets.domain.stages import STANDING_WORDS
from tickets.domain.steps import CONDITIONS, RUN_STEPS, THEN, Step
from tickets.i18n import N_, ngettext
from tickets.i18n import gettext as _
from tickets.queries import at_press, boards, desk_today, find, heads, phase, repeats, run_plan, target
from tickets.queries import said as said_now
from tickets.queries.phase import phase_of, wants_approval
from tickets.queries.shop_rules import the_spec
from tickets.store import entries, jobs, people, places, screens
from web import run_log
from web.buckets import clock
from web.log import seen_at
from web.run_parts import Part
from web.support import cautions_told, local_time


def ready(job: jobs.Saved, placement: int) -> dict[str, int]:
    """Of how many stations of a placement that ask for a screen how many have one ready or hanging, how many one on the
    way: what the boards say, so a screen that the spec stops is none."""
    asked = desk_today.placement_ahead(g.db, job, placement, g.now).stations
    there = sum(one.progress.has in boards.TO_HAND for one in asked)
    covered = sum(one.progress.has.covered for one in asked)
    return {"ready": there, "under_way": covered - there, "none": len(asked) - covered, "asked": len(asked)}


@dataclass(frozen=True, slots=True)
class Opening:
    """What the form asks that opens a run: placements and presses to tap, what the prints take, which are chosen."""

    placements: tuple[tuple[str, str], ...]
    presses: tuple[tuple[str, str], ...]
    takes: tuple[str, ...]
    placement: str
    press: str


def opening(
    job: jobs.Saved,
    missing: Mapping[int, int],
    presses: Sequence[places.Place],
    taken: Mapping[int, Mapping[int, int]],
    under_way: Collection[int] = (),
) -> Opening:
    """The form for a job whose placements `missing` are not printed yet; a press with too few free heads says so. Of
    those that are not printed one is chosen that no open run prints (`under_way`)."""
    every = [(number, one.name) for number, one in enumerate(job.sheet.placements, 1)]
    left = [number for number, _name in every if number in missing] or [number for number, _name in every]
    rooms = {number: heads.rooms_of(g.db, job, number, presses, taken) for number in left}
    shown_presses, fit = [], []
    for place, one in enumerate(presses):
        few = [name for number, name in every if number in rooms and not rooms[number][place].enough]
        fit += [one.code] if not few else []
        free = rooms[left[0]][place].free
        said = [one.name]
        if one.heads:
            count = ngettext("{n} head", "{n} heads", one.heads).format(n=one.heads)
            said.append(count if free == one.heads else _("{heads}, {free} free").format(heads=count, free=free))
        if few:
            many = len(every) > 1
            said.append("! " + (_("too few for {names}").format(names=", ".join(few)) if many else _("too few")))
        shown_presses.append((one.code, ", ".join(said)))
    return Opening(
        tuple((str(number), name if number in missing else f"{name} ({_('printed')})") for number, name in every),
        tuple(shown_presses),
        tuple(f"{name}: {heads.said(rooms[number])}" for number, name in every if number in rooms and presses),
        str(next((number for number in left if number not in under_way), left[0])),
        (fit or [one.code for one in presses] or [""])[0],
    )


@dataclass(frozen=True, slots=True)
class PrintOrderRow:
    """A line of the print order on the run's page."""

    station: Station
    asked: Asked | None
    hung: Hung | None
    screen: screens.Screen | None
    others: tuple[dict[str, Any], ...]
    """Screens that carry the separation, where none hangs yet: screen, stage, place."""
    needed: bool = True
    """False where no garment that is printed takes it."""
    idle: bool = False
    """True where it does nothing on the garment of now: no ink, or a flash that only served what isn't printed."""
    ink: Ink | None = None
    """What it prints on the garment that runs now; None where it prints nothing there."""
    stops: tuple[Said, ...] = ()
    """What the job, as it was changed since, says against the screen that hangs there."""

    @property
    def nameless(self) -> bool:
        """Whether the log does not know what is on the screen that hangs there (`press_checks.unnamed`)."""
        if self.asked is None or self.hung is None or self.screen is None:
            return False
        on = OnHead(self.asked, self.screen.code, self.screen.life, self.hung.head, self.hung.at)
        return bool(unnamed([on]))


def rows_of(plan: run_plan.Plan) -> list[PrintOrderRow]:
    """The print order: what hangs, or where the screen is that should."""
    asked = {one.number: one for one in plan.asked}
    names = places.names(g.db)
    needed, idle = run_plan.prints_now(plan), run_plan.idle_now(plan)
    way = _way_now(plan)
    out = []
    screens.read_ahead(g.db, [hung.screen for hung in plan.story.hung.values()])
    screens.carrying_ahead(g.db, [one.separation for one in plan.asked])
    for station in plan.placement.stations:
        hung = plan.story.hung.get(station.number)
        one = asked.get(station.number)
        found: tuple[dict[str, Any], ...] = ()
        if one is not None and hung is None:
            found = tuple(sorted(carriers(one.separation, names), key=_far))
        screen = screens.get(g.db, hung.screen) if hung else None
        ink = ink_for(plan.job.sheet, way, plan.placement, station)
        old = tuple(map(say, at_press.job_changed(g.db, plan, screen, station.number))) if screen is not None else ()
        out.append(
            PrintOrderRow(station, one, hung, screen, found, station.number in needed, station.number in idle, ink, old)
        )
    return out


def swapping(plan: run_plan.Plan, code: str) -> dict[str, Any] | None:
    """The screen of this code that hangs in the run and is to be swapped: hung, screen, name of its print order, the
    other screens that carry its image (as `PrintOrderRow.others`); None: no such one hangs."""
    for one in plan.asked:
        hung = plan.story.hung.get(one.number)
        screen = screens.get(g.db, hung.screen) if hung and code else None
        if screen is not None and screen.code == code:
            others = [other for other in carriers(one.separation) if other["screen"].id != screen.id]
            return {"hung": hung, "screen": screen, "name": one.image.name, "others": sorted(others, key=_far)}
    return None


def _way_now(plan: run_plan.Plan) -> Colourway | None:
    """The colourway of the garment that runs now; None: the stations' own inks, or the run did not say which."""
    garments = plan.job.sheet.garments
    garment = run_plan.garment_now(plan) or (garments[0] if len(garments) == 1 else None)
    return plan.job.sheet.colourway_of(garment) if garment else None


def inks_now(plan: run_plan.Plan) -> list[str]:
    """What the garment that runs now takes otherwise than the stations' own inks, in words."""
    job, way = plan.job.sheet, _way_now(plan)
    found = []
    for station in plan.placement.printing:
        ink, own = ink_for(job, way, plan.placement, station), ink_for(job, None, plan.placement, station)
        if ink is not None and own is not None and ink != own:
            pairs = ((ink.colour, own.colour), (_(ink.kind), _(own.kind)), (ink.series, own.series),
                     (ink.reference, own.reference))  # fmt: skip
            new = [now for now, was in pairs if now and now != was] or [ink.colour]
            found.append(f"{station.number} {station.separation}: {', '.join(new)}")
    return found


def pieces_of(plan: run_plan.Plan) -> list[phase.PiecesOfGarment]:
    """Each of several garments with its pieces and how many are ordered (`phase.pieces_of`)."""
    return phase.pieces_of(g.db, plan)


def _far(carrier: Mapping[str, Any]) -> bool:
    """Whether a screen cannot be hung as it is: those that can come first."""
    return carrier["screen"].life.standing not in TO_HANG


def place_said(life: Life, names: Mapping[int, str]) -> str:
    """The place of a screen, said to be where it was last seen when it was worked on since; empty: nobody noted one."""
    return seen_at(life, names.get(life.place, "") if life.place else "")


def carriers(separation: int, names: Mapping[int, str] | None = None, job: str = "") -> list[dict[str, Any]]:
    """The screens that carry a separation, those that serve first: screen, its stage in words, the name of its place,
    why it covers no job (`going`); `keep`: whether to ask that it is kept after all, for this job (its code)."""
    names, found = places.names(g.db) if names is None else names, []
    for screen in screens.carrying(g.db, separation):
        why = covers_none(screen.life)
        asks = bool(job) and why in ("strip", "worn") and not let_go(screen.life, job)
        place = place_said(screen.life, names)
        found.append({"screen": screen, "stage": stage_said(screen.life), "place": place, "going": why, "keep": asks})
    return sorted(found, key=lambda one: bool(one["going"]))


def forms_of(plan: run_plan.Plan) -> set[str]:
    """The forms that the run's page has now."""
    return phase.forms_of(g.db, plan)


def next_word(plan: run_plan.Plan) -> str:
    """What comes next, in words, with the print orders that have no screen."""
    missing = ", ".join(str(one.number) for one in plan.missing())
    if missing and plan.story.state != "finished":
        return _("no screen yet at position {numbers}").format(numbers=missing)
    now = phase_of(plan)
    then = N_("go on printing") if now == "start" and plan.story.started_at else phase.NEXT[now]
    if plan.to_approve and now in ("approve", "print"):
        then = N_("have a first print approved again")
    return _("next: {next}").format(next=_(then))


def state_of(plan: run_plan.Plan) -> str:
    """How far the run is, in words: more than its state where screens hang again, or a print was approved."""
    story = plan.story
    if story.state == "paused" and story.hung:
        return _("paused, screens hang again in part") if plan.missing() else _("paused, all screens hang again")
    if story.state == "set-up" and not plan.missing():
        if story.approved_now and not plan.to_approve:
            return _("approved, not started")
        if not run_plan.open_parts(plan):
            return _("set up, not approved")
    return _(STATES[story.state])


def readings_of(plan: run_plan.Plan) -> list[tuple[int, str, str]]:
    """The colour readings of the approved print as they were typed: (print order, its name, L* a* b* in words)."""
    names = {station.number: station.separation for station in plan.placement.stations}
    found = lab.kept(plan.story.approved_now or {}).readings
    return [(number, names.get(number, ""), said_now.colour(one)) for number, one in sorted(found.items())]


def crossed_approval(plan: run_plan.Plan) -> dict[str, Any] | None:
    """The newest approval that was crossed out, where none stands: what it `said`, its time, by whom, when and
    why it was crossed out; `target`: what the next run has as its target now, in words, where this run was that."""
    if plan.story.approved:
        return None
    log = entries.of(g.db, "run", plan.run.id)
    approvals = [entry for entry in log if entry.step == "approve"]
    if not approvals:
        return None
    last = approvals[-1]
    crossing = entries.crossed_by(g.db, [last.entry])[last.entry]
    marks = [entry.entry for entry in log if entry.step == "use-next-time"]
    fallen = entries.crossed_by(g.db, marks)  # with the approval, or on its own before
    marked = any(one not in fallen or fallen[one].saved_at == crossing.saved_at for one in marks)
    source = target.aim(g.db, plan.job, plan.run.placement)[1] if marked else ""
    return {
        "said": last.values,
        "at": last.at,
        "who": people.names(g.db).get(crossing.person, ""),
        "when": crossing.at,
        "why": crossing.values.get("why", ""),
        "target": source,
    }


def colour_off(panel: Mapping[str, Any] | None) -> list[dict[str, Any]]:
    """The colours that are not as approved, the worst first: row, name, level."""
    found = [
        {"row": row, "name": panel["names"].get(row.station, ""), "level": row.verdict.level}
        for row in (panel["rows"] if panel else ())
        if panel and row.verdict.level in (Level.STOP, Level.CAUTION)
    ]
    return sorted(found, key=lambda one: -one["level"].rank)


def may_approve(plan: run_plan.Plan) -> bool:
    """True while the page has the form that approves the first print."""
    return wants_approval(plan) and phase_of(plan) in ("sheet", "approve", "print")


def counting(plan: run_plan.Plan) -> dict[str, Step]:
    """The steps of a run, with counts that say since when they are and what stands already."""
    labels = {
        "good": _("Good pieces since the last count (so far: {number})").format(number=plan.story.good),
        "misprinted": _("Misprinted since the last count (so far: {number})").format(number=plan.story.misprinted),
    }
    count = RUN_STEPS["count"]
    fields = tuple(replace(one, label=labels.get(one.name, one.label)) for one in count.fields)
    return {**RUN_STEPS, "count": replace(count, fields=fields)}


def astray_of(plan: run_plan.Plan) -> list[str]:
    """What was printed and not counted before something changed, and where a count takes it now."""
    found = run_plan.uncounted(g.db, plan)
    codes = {one: shown(screen.code) for station in found.screens.values() for one in station
             if (screen := screens.get(g.db, one)) is not None}  # fmt: skip
    out = []
    for station, gone in found.screens.items():
        hung = plan.story.hung.get(station)
        screen = screens.get(g.db, hung.screen) if hung else None
        told = _("Position {station}: what {old} printed and nobody counted goes to {new}, which hangs there now.")
        if screen is not None:
            old = ", ".join(codes.get(one, "–") for one in gone)
            out.append(told.format(station=station, old=old, new=shown(screen.code)))
    if found.garment is not None:
        names = [_garment(found.garment), _garment(plan.story.garment or {})]
        told = _("What was printed on {old} and not counted is taken for {new}.")
        if plan.job.sheet.colourways:
            told = _("What was printed on {old} and not counted goes to the screens that {new} takes.")
        out.append(told.format(old=names[0] or _("the garment before"), new=names[1]))
    for station, strokes in found.strokes.items():
        now = plan.story.settings.get(str(station), {}).get("strokes", "–")
        told = ngettext(
            "Position {station}: what was printed and not counted is taken for {now} stroke, not {old}.",
            "Position {station}: what was printed and not counted is taken for {now} strokes, not {old}.",
            counted(now),
        )
        out.append(told.format(station=station, now=now, old=strokes or "–"))
    return out


def _garment(change: Mapping[str, Any]) -> str:
    return ", ".join(str(change[name]) for name in ("garment_style", "garment_colour") if change.get(name))


def used_of(plan: run_plan.Plan) -> list[dict[str, Any]]:
    """The screens that a run used: where each hung, its impressions there, how it came off, what it is now."""
    names = {one.number: one.separation for one in plan.placement.printing}
    where = places.names(g.db)
    out = []
    every = run_plan.used(g.db, plan)
    screens.read_ahead(g.db, [one.screen for one in every])
    for one in every:
        screen = screens.get(g.db, one.screen)
        if screen is None:
            continue
        life = screen.life
        off = [_("taken elsewhere")] if one.taken else [] if not one.condition else [_(dict(CONDITIONS)[one.condition])]
        off += [_(dict(THEN)[one.then])] if one.then in ("keep", "strip") and not one.taken else []
        now = [_(STANDING_WORDS[life.standing]), place_said(life, where)]
        if one.unhung:
            stands = one.impressions > 0
            now.append(
                _("its hanging was crossed out, what it printed counts") if stands else _("its hanging was crossed out")
            )
        told = {"off": ", ".join(off), "now": ", ".join(filter(None, now))}
        out.append({"one": one, "screen": screen, "name": names.get(one.station, ""), **told})
    return out


@dataclass(frozen=True, slots=True)
class Pick:
    """A screen of which the end of a run, or a pause, may say how it comes off; `said`: what was said of one that is
    off already."""

    number: int
    name: str
    screen: screens.Screen
    hangs: bool
    said: str = ""


def picks_of(plan: run_plan.Plan) -> list[Pick]:
    """The screens that come off with the run, and those that came off before and lie there still, in print order."""
    names = {one.number: one.image.name for one in plan.asked}
    found = [
        Pick(station, names.get(station, ""), screen, True)
        for station, hung in plan.story.hung.items()
        if (screen := screens.get(g.db, hung.screen)) is not None
    ]
    for one in coming_off.lying(g.db, plan.run.id, plan.story):
        kept = _("kept for this run") if one.free and one.paused else ""
        told = [
            _(dict(CONDITIONS).get(one.said.condition, "")) if one.said.condition else "",
            _(dict(THEN)[one.said.then]) if one.said.then else kept,
        ]
        said = ", ".join(filter(None, told)) or _("nothing said")
        found.append(Pick(one.station, names.get(one.station, ""), one.screen, False, said))
    return sorted(found, key=lambda one: one.number)


def told_of(values: Mapping[str, Any], step: str) -> list[tuple[str, str]]:
    """What was typed into a form that is not on the page any more, by its labels."""
    fields = [*(RUN_STEPS[step].fields if step in RUN_STEPS else ()), *RUN_STEPS["count"].fields]
    labels = {one.name: _(one.label) for one in fields} | {"sample": _("Where the sample is kept")}
    out = []
    for name, sent in values.items():
        label = _("Colour readings, L* a* b*") if name.startswith(lab.PREFIX) else labels.get(name)
        told = " ".join(_(str(text)) for text in sent if text)
        if label and told and name != lab.CONDITIONS:
            out.append((label, told))
    return out


def part_named(plan: run_plan.Plan, key: str) -> str:
    """A part of the sheet by its key, in words."""
    return _("the whole run") if key == setup.RUN else key


def clocks_of(plan: run_plan.Plan) -> list[dict[str, str]]:
    """The ink buckets in use, each with how long it is good: its print order, name, code, the words, how bad it is."""
    found = []
    for number, bucket in at_press.buckets_in_use(g.db, plan):
        told, level = clock(bucket, g.now)
        level = "caution" if bucket.discarded_at else level
        found.append({"station": str(number), "code": bucket.code, "named": find.bucket_named(bucket), "told": told,
                      "level": level})  # fmt: skip
    return found


@dataclass(frozen=True, slots=True)
class Otherwise:
    """What is set otherwise than the target now, in words and in the order of `first_seen`. `lines`: where, name, was
    (the target), now, and `change` since the approval (what was approved, when and why it was last changed);
    `small_head` and `small` as in `AheadSaid`; `line`: all of it in one line."""

    lines: list[dict[str, Any]]
    small_head: str = ""
    small: tuple[str, ...] = ()
    line: str = ""


def differences_of(plan: run_plan.Plan) -> Otherwise:
    """What is set otherwise than the target now."""
    story, limits = plan.story, the_spec(g.db)
    sheet = run_plan.sheet_now(g.db, plan)
    approved = setup.parts_of(story.sheet)
    last = {(str(one.get("station") or setup.RUN), one["field"]): one for one in story.changes
            if one.get("field") and one["at"] >= story.sheet_at and not setup.first_measured(one)}  # fmt: skip
    lines, found = [], setup.differences(sheet, limits)
    for key, name, was, now in found:
        change = last.get((key, name))
        told = change and {
            "was": _(approved.get(key, {}).get(name) or (key if name == "order" else "–")),
            "at": change["at"],
            "why": change.get("why", ""),
        }
        where = part_named(plan, key)
        lines.append({"where": where, "name": field_word(name), "was": was, "now": _(now), "change": told})
    small = run_plan.near_target(g.db, plan, limits, run_log.system())
    return Otherwise(
        lines,
        first_seen.small_head(len(small), [one[4] for one in small]),
        tuple(
            first_seen.told(f"{part_named(plan, key)}, {field_word(name)}", was, now)
            for key, name, was, now, _limit in small
        ),
        first_seen.one_line([name for _key, name, _was, _now in found], len(small)),
    )


def not_yet_of(plan: run_plan.Plan) -> list[str]:
    """What the target has of measurements and nobody measured in this run yet, each with its target."""
    sheet = run_plan.sheet_now(g.db, plan)
    return [
        f"{part_named(plan, key)}, {target_word(name)}: {with_signs(value)}"
        for key, name, value in setup.not_yet(sheet)
    ]


def garments_of(plan: run_plan.Plan) -> list[tuple[str, str]]:
    """The garments to choose from where the job has two or more: (number, in words); lots of one garment as one."""
    counted = {one.name: f" ({one.good}/{one.ordered})" for one in pieces_of(plan)}
    found = [(number, name + counted.get(name, "")) for number, name in run_plan.numbered_garments(plan)]
    return found if len(found) > 1 else []


def asks_garment(plan: run_plan.Plan) -> bool:
    """True while the start of the run has to say which garment comes first."""
    asked = "start" in forms_of(plan) and not plan.story.started_at
    return asked and run_plan.garment_now(plan) is None and run_plan.several_garments(plan)


def may_say_garment(plan: run_plan.Plan) -> bool:
    """True while an approval can say which garment it is of, since the run did not yet."""
    return run_plan.garment_now(plan) is None and bool(garments_of(plan)) and plan.story.state != "finished"


def _approved_when(plan: run_plan.Plan) -> dict[str, list[str]]:
    """By entry of each approval that stands the times of those of its garment, the first one first."""
    found: dict[str, list[str]] = {}
    by_garment: dict[str, list[str]] = {}
    for entry in standing_lines(entries.of(g.db, "run", plan.run.id)):
        if entry.step == "approve":
            found[entry.entry] = by_garment.setdefault(str(entry.values.get(colourways.GARMENT) or ""), [])
            found[entry.entry].append(stamp(entry.at))
    return found


def approvals_of(plan: run_plan.Plan) -> list[tuple[str, Mapping[str, Any]]]:
    """The approvals of a run that stand, each with its garment (empty where the job has only one), that of the garment
    of now first; `before`: when the same garment's print was approved earlier in this run."""
    when = _approved_when(plan)
    every = [
        (name, {**one, "before": [at for at in when.get(one["entry"], ()) if at < one["at"]]})
        for name, one in plan.story.approvals.items()
    ]
    told = [("" if not run_plan.several_garments(plan) else name or _("garment not said"), one) for name, one in every]
    return sorted(told, key=lambda one: one[0] != plan.story.on)


def ways_of(plan: run_plan.Plan) -> list[tuple[str, list[str]]]:
    """Which garment takes which ink here, print order by print order, where they differ; with what stands idle."""
    job, found = plan.job.sheet, []
    ways = colourways.ways_of(job, plan.placement)
    for name in ways:
        idle = colourways.idle(plan.placement, ways[name].keys())
        said = [f"{number} {ink}" for number, ink in sorted(ways[name].items())]
        said += [_("{stations} idle").format(stations=", ".join(map(str, sorted(idle))))] if idle else []
        found.append((name, said))
    return found


def idle_of(plan: run_plan.Plan) -> list[str]:
    """What stands idle on the garment that runs now: the print orders that don't print on it, and their flashes."""
    names = {one.number: one.image.name for one in plan.asked}
    does = {one.number: _(setup.DOES.get(one.does, one.does)) for one in plan.placement.stations}
    return [f"{number} ({names.get(number) or does[number]})" for number in sorted(run_plan.idle_now(plan))]


def short_of(plan: run_plan.Plan) -> list[dict[str, Any]]:
    """The jobs that run short because their screens hang here: job, placement, run, and which print orders lack which
    screens, in words."""
    found: dict[tuple[int, str, int | None], dict[str, Any]] = {}
    for _station, hung in sorted(plan.story.hung.items()):
        screen = screens.get(g.db, hung.screen)
        for one in at_press.runs_short(g.db, plan, screen, g.now) if screen else ():
            line = {"job": one.job, "placement": one.placement, "run": one.run, "lacks": []}
            key = (one.job.id, one.placement.name, one.run)
            found.setdefault(key, line)["lacks"].append(f"{one.station} ({shown(screen.code) if screen else '–'})")
    return list(found.values())


@dataclass(frozen=True, slots=True)
class AheadSaid:
    """What will differ, in words. `lines`: each with its key, level and what is said, in the order of `first_seen`,
    without the small ones; those as a line that says how many, and within what (`small_head`), and each (`small`)."""

    lines: list[dict[str, Any]]
    small_head: str = ""
    small: tuple[str, ...] = ()


def ahead_of(plan: run_plan.Plan) -> AheadSaid:
    """What will differ from the run that is compared with, where there is one; a discharge job's remark in any case."""
    found = repeats.differences(g.db, plan.job, plan.run.placement, g.now, run=plan.run)
    return said_ahead(found, always=bool(plan.job.repeats))


def said_ahead(found: repeats.ToDiffer, always: bool = True) -> AheadSaid:
    """Differences in words, what a customer would see first at the top."""
    shown = [one for one in found.differences if always or found.origin or one.key == "repeat-dye-lot"]
    small = [one for one in shown if one.within]
    return AheadSaid(
        [
            {"key": one.key, "level": str(one.level), "said": say(one.reason, run_log.system())}
            for one in shown
            if not one.within
        ],
        first_seen.small_head(len(small), [one.within for one in small]),
        tuple(str(one.numbers["told"]) for one in small),
    )


def cautions_of(plan: run_plan.Plan, parts: Sequence[Part]) -> dict[str, Any]:
    """The cautions of printing this placement as the page says them to who holds the phone: `cautions` those of the
    inks, `risks` those of the set-up by the part that has the risk, `risks_read` what was read of these this shift."""
    asked = {str(one.number): one.inks for one in plan.asked}
    does = {str(one.number): one.does for one in plan.placement.stations}
    inks = risks.of_inks({ink for one in asked.values() for ink in one})
    said = cautions_told([*inks, *RUN_STEPS["sheet"].cautions])
    cards = [one.key for one in parts if one.hangs]
    there = {key: risks.PartWork(does.get(key, "run"), asked.get(key, frozenset())) for key in cards}
    return {"cautions": cautions_told(inks), "risks": risks.beside(said.new, there), "risks_read": said.read}


def passed_lines(plan: run_plan.Plan) -> list[dict[str, Any]]:
    """What somebody overrode to hang a screen, to start, to go on or to count, and cautions: on the run for good."""
    found = []
    doubted = [hung for hung in plan.story.was_hung if hung.passed or hung.level not in ("", "ok")]
    screens.read_ahead(g.db, [hung.screen for hung in doubted])
    entries.find_ahead(g.db, [hung.entry for hung in doubted])
    for hung in doubted:
        screen = screens.get(g.db, hung.screen)
        verdict = next((one.verdict for one in [entries.find(g.db, hung.entry)] if one is not None), None)
        if screen is not None and verdict:
            about = f"{hung.station}. {shown(screen.code)}"
            found.append({"about": about, "passed": hung.passed, "verdict": Verdict.from_dict(verdict)})
    when = _approved_when(plan) if any(one.step == "approve" for one in plan.story.judged) else {}
    for one in plan.story.judged:
        step = RUN_STEPS.get(one.step)
        about = f"{_(step.done) if step else one.step}, {local_time(read_stamp(one.at))}"
        if when.get(one.entry, [one.at])[-1] > one.at:
            about += "; " + _("approved again, {when}").format(when=local_time(read_stamp(when[one.entry][-1])))
        told = Verdict.from_dict({"level": one.level, "reasons": one.reasons})
        found.append({"about": about, "passed": one.passed, "verdict": told})
    return found
