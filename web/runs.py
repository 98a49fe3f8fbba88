"""The press: what is on it, the set-up of a run screen by screen, the set-up sheet, the count, taking off."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.calculator.verdict import Level, Verdict, say
from tickets.floor import boards, repeats, sheets
from tickets.floor import buckets as floor_buckets
from tickets.floor import runs as floor
from tickets.floor import screens as floor_screens
from tickets.floor.posting import Form, Worse
from tickets.records import lab, setup
from tickets.records.as_run import NOT_MEASURED, field_word
from tickets.records.bucket import Bucket
from tickets.records.checks import Asked, AtPress
from tickets.records.code import shown
from tickets.records.entry import Entry
from tickets.records.job import Station
from tickets.records.person import NOBODY_PASSES, may_pass
from tickets.records.refusal import Clash, NotFound, Refused
from tickets.records.run import COLOURWAY, STATES, Hung
from tickets.records.screen import STANDING_WORDS, Life
from tickets.records.steps import RUN_STEPS, SCREEN_STEPS, THEN, Field, Step
from tickets.store import buckets, entries, jobs, people, pictures, places, runs, screens
from tickets.words import N_
from tickets.words import gettext as _
from web import learning
from web import pictures as sent_pictures
from web.log import cross_page, seen_at
from web.steps import WHYS
from web.support import (
    actor,
    confirm,
    digit_rows,
    faults_by_field,
    form_lists,
    held,
    in_safelight,
    new_entry_id,
    page,
    set_doing,
)

bp = Blueprint("runs", __name__)

WHY_PASSED = (
    N_("no other screen in time"),
    N_("customer agreed"),
    N_("lead said so"),
    N_("looked at it: it is fine"),
)
WHY_SWAPPED = (N_("pinholes"), N_("torn"), N_("stencil breaks down"), N_("slack"))
HOW_APPROVED = (N_("piece in hand"), N_("photo sent"), N_("next to the last print"), N_("on the phone"))
CONDITIONS = (("good", N_("good")), ("worn", N_("worn")), ("torn", N_("torn")), ("pinholes", N_("pinholes")))
WHY_CHANGED = (
    N_("colour drifts"),
    N_("ink flow"),
    N_("edge not sharp"),
    N_("misregister"),
    N_("other garment or lot"),
    N_("flash or cure"),
)
BANDS = {
    "set-up": N_("Setting up run {run}: {about}"),
    "printing": N_("Printing run {run}: {about}"),
    "paused": N_("Run {run} is paused: {about}"),
    "finished": N_("Run {run} is finished: {about}"),
}
"""What the band says of the run that a phone works on."""
DOES = {"flash": N_("flash"), "cool": N_("cool")}
NO_FAULTS: Mapping[str, str] = MappingProxyType({})
JOBS_SHOWN = 12


def post_of() -> tuple[Form, str]:
    """What was sent, and the id that the sender made for it."""
    form = Form(form_lists())
    return form, form.one("entry")


# The press crew's first page ---------------------------------------------------------------------------------------


@bp.get("/press")
def press() -> Response:
    """Open runs press by press, and the jobs due next."""
    by_press: dict[int, list[dict[str, Any]]] = {}
    for run in runs.open_ones(g.db, limit=60):
        plan = floor.plan(g.db, run.id)
        line = {"plan": plan, "next": next_word(plan), "state": STATES[plan.story.state]}
        by_press.setdefault(run.press, []).append(line)
    presses = places.every(g.db, "press")
    day, _dot, number = request.args.get("after", "").rpartition(".")
    after = (day, int(number)) if day and number.isdecimal() and len(number) < 16 else None
    due = jobs.listed(g.db, after, JOBS_SHOWN + 1)
    return page(
        "runs/press.html",
        presses=[(one, by_press.get(one.id, [])) for one in presses],
        due=[due_line(line) for line in due[:JOBS_SHOWN]],
        later=f"{due[JOBS_SHOWN - 1].due}.{due[JOBS_SHOWN - 1].id}" if len(due) > JOBS_SHOWN else "",
    )


def due_line(line: jobs.Line) -> dict[str, Any]:
    """A job that is due: its placements, each with how many of its screens are ready to hang."""
    job = jobs.get(g.db, line.id)
    assert job is not None
    missing = jobs.short(g.db, job)
    return {
        "job": job,
        "placements": [
            {
                "number": number,
                "name": placement.name,
                "done": number not in missing,
                "missing": missing.get(number, 0) if missing.get(number, 0) < job.sheet.pieces else 0,
                **ready(job, number),
            }
            for number, placement in enumerate(job.sheet.placements, 1)
        ],
    }


def ready(job: jobs.Saved, placement: int) -> dict[str, int]:
    """Of how many stations of a placement that ask for a screen how many have one ready or hanging, how many one on the
    way: what the boards say, so a screen that the spec stops is none."""
    asked = boards.placement_ahead(g.db, job, placement, g.now).stations
    there = sum(one.progress.has in boards.TO_HAND for one in asked)
    covered = sum(one.progress.has.covered for one in asked)
    return {"ready": there, "under_way": covered - there, "none": len(asked) - covered, "asked": len(asked)}


@bp.post("/runs")
def open_run() -> AnyResponse:
    """Opens a run (fields job, placement, press); this phone sets it up from here on."""
    form, post = post_of()
    number = floor.open_run(g.db, actor(), form, post=post, now=g.now)
    take_up(floor.plan(g.db, number))
    return redirect(f"/runs/{number}", code=303)


def take_up(plan: floor.Plan) -> None:
    """This phone works on the run: scans give the press verdict."""
    about = _("{job}, {placement} on {press}").format(
        job=plan.job.sheet.title, placement=plan.placement.name, press=plan.press.name
    )
    text = _(BANDS[plan.story.state]).format(run=plan.run.id, about=about)
    set_doing({"task": "run", "run": plan.run.id, "about": about, "text": text})


@bp.before_app_request
def band() -> None:
    """The band of a phone that works on a run: where the run is now, whichever phone brought it there."""
    mine = held()
    sign_in = mine.get("sign_in")
    if sign_in is None or sign_in.doing.get("task") != "run" or not sign_in.doing.get("about"):
        return
    run = runs.get(mine.db, sign_in.doing["run"])
    if run is not None:
        text = _(BANDS[run.story.state]).format(run=run.id, about=sign_in.doing["about"])
        mine.sign_in = replace(sign_in, doing={**sign_in.doing, "text": text})


@bp.post("/runs/<int:number>/here")
def here_too(number: int) -> AnyResponse:
    """Another phone joins the run."""
    take_up(floor.plan(g.db, number))
    return redirect(f"/runs/{number}", code=303)


# The run ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Row:
    """A line of the print order on the run's page."""

    station: Station
    asked: Asked | None
    hung: Hung | None
    screen: screens.Screen | None
    others: tuple[dict[str, Any], ...]
    """Screens that carry the separation, where none hangs yet: screen, stage, place."""
    needed: bool = True
    """False where no garment that is printed takes it."""


def rows_of(plan: floor.Plan) -> list[Row]:
    """The print order: what hangs, or where the screen is that should."""
    asked = {one.number: one for one in plan.asked}
    names = places.names(g.db)
    needed = floor.prints_now(plan)
    out = []
    for station in plan.placement.stations:
        hung = plan.story.hung.get(station.number)
        one = asked.get(station.number)
        found: tuple[dict[str, Any], ...] = ()
        if one is not None and hung is None:
            found = tuple(carriers(one.separation, names))
        screen = screens.get(g.db, hung.screen) if hung else None
        out.append(Row(station, one, hung, screen, found, station.number in needed))
    return out


def place_said(life: Life, names: Mapping[int, str]) -> str:
    """The place of a screen, said to be where it was last seen when it was worked on since; empty: nobody noted one."""
    return seen_at(life, names.get(life.place, "") if life.place else "")


def carriers(separation: int, names: Mapping[int, str] | None = None) -> list[dict[str, Any]]:
    """The screens that carry a separation: screen, the word of its stage, the name of its place."""
    names = places.names(g.db) if names is None else names
    return [
        {
            "screen": screen,
            "stage": STANDING_WORDS[screen.life.standing],
            "place": place_said(screen.life, names),
        }
        for screen in screens.carrying(g.db, separation)
    ]


def phase_of(plan: floor.Plan) -> str:
    """What comes next: hang, sheet, approve, start, print, done."""
    story = plan.story
    if story.state == "finished":
        return "done"
    if plan.missing():
        return "hang"
    if story.state == "printing":
        return "print"
    if not story.sheet:
        return "sheet"
    return "start" if story.approved else "approve"


NEXT = {
    "hang": N_("scan the next screen"),
    "sheet": N_("note the set-up"),
    "approve": N_("have the first print approved"),
    "start": N_("start printing"),
    "print": N_("count, finish"),
    "done": N_("finished"),
}


FORMS = {
    "hang": {"hang"},
    "sheet": {"sheet", "approve", "start", "stop", "change"},
    "approve": {"sheet", "approve", "start", "stop", "change"},
    "start": {"sheet", "start", "stop", "change"},
    "print": {"sheet", "approve", "start", "count", "swap", "stop", "change"},
    "done": {"use-next-time"},
}
"""The forms on the run's page at each phase, beside those that are always there."""


def forms_of(plan: floor.Plan) -> set[str]:
    """The forms that the run's page has now."""
    found = FORMS[phase_of(plan)] | {"note", "cross-out"}
    if plan.story.approved:
        found -= {"approve"}
    if plan.story.state != "finished":
        found |= {"finish", "pause"} if plan.story.hung else {"finish"}
    return found


def next_word(plan: floor.Plan) -> str:
    """What comes next, in words, with the print orders that have no screen."""
    missing = ", ".join(str(one.number) for one in plan.missing())
    if missing and plan.story.state != "finished":
        return _("no screen yet at print order {numbers}").format(numbers=missing)
    return _("next: {next}").format(next=_(NEXT[phase_of(plan)]))


def may_approve(plan: floor.Plan) -> bool:
    """True while the page has the form that approves the first print."""
    return not plan.story.approved and phase_of(plan) in ("sheet", "approve", "print")


def counting(plan: floor.Plan) -> dict[str, Step]:
    """The steps of a run, with counts that say since when they are and what stands already."""
    labels = {
        "good": _("Good pieces since the last count (so far: {number})").format(number=plan.story.good),
        "misprinted": _("Misprinted since the last count (so far: {number})").format(number=plan.story.misprinted),
    }
    count = RUN_STEPS["count"]
    fields = tuple(replace(one, label=labels.get(one.name, one.label)) for one in count.fields)
    return {**RUN_STEPS, "count": replace(count, fields=fields)}


def system() -> str:
    """The shop's units."""
    return str((g.get("settings") or {}).get("units", "metric"))


def astray_of(plan: floor.Plan) -> list[str]:
    """What was printed and not counted before something changed, and where a count takes it now."""
    found = floor.uncounted(g.db, plan)
    codes = {one: shown(screen.code) for station in found.screens.values() for one in station
             if (screen := screens.get(g.db, one)) is not None}  # fmt: skip
    out = []
    for station, gone in found.screens.items():
        hung = plan.story.hung.get(station)
        screen = screens.get(g.db, hung.screen) if hung else None
        told = _("Print order {station}: what {old} printed and nobody counted goes to {new}, which hangs there now.")
        if screen is not None:
            old = ", ".join(codes.get(one, "–") for one in gone)
            out.append(told.format(station=station, old=old, new=shown(screen.code)))
    if found.garment is not None:
        names = [_garment(found.garment), _garment(plan.story.garment or {})]
        told = _("What was printed on {old} and not counted goes to the screens that {new} takes.")
        out.append(told.format(old=names[0] or _("the garment before"), new=names[1]))
    for station, strokes in found.strokes.items():
        now = plan.story.settings.get(str(station), {}).get("strokes", "–")
        told = _("Print order {station}: what was printed and not counted is taken for {now} strokes, not {old}.")
        out.append(told.format(station=station, now=now, old=strokes or "–"))
    return out


def _garment(change: Mapping[str, Any]) -> str:
    return ", ".join(str(change[name]) for name in ("garment_style", "garment_colour") if change.get(name))


def used_of(plan: floor.Plan) -> list[dict[str, Any]]:
    """The screens that a run used: where each hung, its impressions there, how it came off, what it is now."""
    names = {one.number: one.separation for one in plan.placement.printing}
    where = places.names(g.db)
    out = []
    for one in floor.used(g.db, plan):
        screen = screens.get(g.db, one.screen)
        if screen is None:
            continue
        life = screen.life
        off = [_("taken elsewhere")] if one.taken else [] if not one.condition else [_(dict(CONDITIONS)[one.condition])]
        off += [_(dict(THEN)[one.then])] if one.then in ("keep", "strip") and not one.taken else []
        now = [_(STANDING_WORDS[life.standing]), place_said(life, where)]
        told = {"off": ", ".join(off), "now": ", ".join(filter(None, now))}
        out.append({"one": one, "screen": screen, "name": names.get(one.station, ""), **told})
    return out


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


@bp.get("/runs/<int:number>")
def run(number: int) -> Response:
    """Where the run is; with `screen`, the verdict on that screen."""
    plan = floor.plan(g.db, number)
    typed = request.args.get("screen", "").strip()
    if typed:
        try:
            screen = find_screen(typed)
        except Refused as refused:
            return run_page(plan, refused.status, "hang", refused, {"screen": [typed]})
        return verdict_page(plan, screen)
    return run_page(plan)


def find_screen(text: str) -> screens.Screen:
    """The screen of a code or of a painted mark."""
    marked = screens.by_mark(g.db, text)
    try:
        return floor_screens.find(g.db, text)
    except Refused:
        if len(marked) == 1 and (screen := screens.get(g.db, marked[0])) is not None:
            return screen
        if marked:
            codes = ", ".join(shown(screen.code) for screen in screens.many(g.db, marked))
            raise Refused(
                _("Several screens are marked “{mark}”: {codes}. Type the code.").format(mark=text[:40], codes=codes),
                "screen",
            ) from None
        raise


def run_page(
    plan: floor.Plan,
    status: int = 200,
    step: str = "",
    refused: Refused | None = None,
    values: Mapping[str, Any] | None = None,
) -> Response:
    """The run's page. `step`, `refused`, `values`: a form that comes back, with what was typed."""
    faults = faults_by_field(refused)
    if step == "hang":
        faults = {"screen": " ".join(faults.values())} if faults else {}
    aim, source = floor.target(g.db, plan)
    phase = phase_of(plan)
    log = entries.latest_of(g.db, "run", plan.run.id, 60)
    on_top = bool(faults) and (isinstance(refused, Clash) or step not in forms_of(plan))
    return page(
        "runs/run.html",
        status,
        plan=plan,
        story=plan.story,
        phase=phase,
        rows=rows_of(plan),
        state=STATES[plan.story.state],
        step=step,
        faults=faults,
        worse=refused.verdict if isinstance(refused, Worse) else None,
        on_top=on_top,
        values=values or {},
        target_from=source,
        parts=parts_of(plan, aim, faults if step == "sheet" else {}, offer=True),
        unsaid=floor.without_bucket(plan) if phase != "done" else [],
        lots=[say(one, system()) for one in sheets.lots(g.db, plan)] if may_approve(plan) else [],
        astray=astray_of(plan) if phase != "done" else [],
        used=used_of(plan) if phase == "done" else [],
        told=told_of(values or {}, step) if on_top and step not in forms_of(plan) else [],
        sheet_seen=floor.sheet_mark(plan.story),
        why_changed=WHY_CHANGED,
        whys=WHYS,
        changes=change_lines(plan),
        garments=garments_of(plan),
        garment=floor.garment_now(plan),
        idle=idle_of(plan),
        short=short_of(plan) if phase != "done" else [],
        ahead=ahead_of(plan) if phase in ("hang", "sheet") else None,
        ordered=plan.job.sheet.pieces,
        lacking=jobs.short(g.db, plan.job).get(plan.run.placement, 0),
        job_closed=(jobs.get(g.db, plan.job.id) or plan.job).closed_at,
        earlier=repeats.against(g.db, plan.run) if plan.story.approved else None,
        colours=[(lab.field_name(one.number), one) for one in plan.placement.printing],
        differences=differences_of(plan),
        passed=passed_lines(plan),
        names=people.names(g.db),
        steps=counting(plan),
        cautions=cautions_of(plan),
        picture=pictures.of_job(g.db, plan.run.job, plan.run.version),
        then=THEN,
        conditions=CONDITIONS,
        colour=learning.colour_panel(plan, floor.marked_run(g.db, plan)),
        lab_conditions=learning.last_conditions(),
        why_passed=WHY_PASSED,
        why_swapped=WHY_SWAPPED,
        how_approved=[(_(how), _(how)) for how in HOW_APPROVED],
        leads=actor().leads,
        log=log_lines(log),
        now_version=(jobs.get(g.db, plan.job.id) or plan.job).version,
        hung_now=request.args.get("hung", "") if refused is None else "",
        shown=shown,
        stops=[line for line in plan.story.stops],
        new_entry=new_entry_id,
        here_now=(g.sign_in.doing or {}).get("run") == plan.run.id,
    )


# The set-up sheet ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the set-up sheet: a station, or the whole run. `aim` and `now` by field; `faulty`: has a fault."""

    key: str
    start: str
    title: str
    head: int | None
    asks: tuple[setup.Ask, ...]
    folded: tuple[setup.Ask, ...]
    aim: Mapping[str, str]
    now: Mapping[str, str]
    faulty: bool = False
    buckets: tuple[tuple[str, str], ...] = ()
    taps: Mapping[str, list[tuple[str, str]]] = field(default_factory=dict)
    """Under the safelight: what can be tapped, by setting."""
    digits: Mapping[str, Field] = field(default_factory=dict)
    """Under the safelight: the times that are tapped digit by digit, `now` being their number in seconds."""

    @property
    def summary(self) -> str:
        """What it is set to, in a line."""
        names = ("squeegee", "strokes", "ink", "time", "surface", "platen", "garment_lot", "placement")
        said = {name: self.now.get(name, "") for name in names}
        if said["strokes"]:
            said["strokes"] = _("strokes {number}").format(number=said["strokes"])
        return " · ".join(text for text in said.values() if text)

    @property
    def folded_summary(self) -> str:
        """What the folded part holds already."""
        return " · ".join(f"{ask.word}: {_(self.now[ask.name])}" for ask in self.folded if self.now.get(ask.name))


def parts_of(
    plan: floor.Plan, aim: Mapping[str, Mapping[str, str]], faults: Mapping[str, str] = NO_FAULTS, offer: bool = False
) -> list[Part]:
    """The set-up sheet, part by part: the target, and what is set now (the target, until something was noted).

    `offer`: with what can be tapped.
    """
    settings = plan.story.settings or aim
    inks = {str(one.number): one.inks for one in plan.asked}
    open_buckets = buckets.open_ones(g.db, emulsions=False) if offer else []
    dark = offer and in_safelight()
    lately = floor.lately_set(g.db) if dark else {}
    found = []
    for station in plan.placement.stations:
        hung = plan.story.hung.get(station.number)
        title = station.separation if station.prints else _(DOES[station.does])
        key, start = str(station.number), f"s{station.number}."
        found.append((key, start, f"{station.number}. {title}", hung.head if hung else None, setup.asks_of(station)))
    found.append((setup.RUN, f"{setup.RUN}.", _("The whole run"), None, setup.WHOLE))
    parts = []
    for key, start, title, head, asks in found:
        target, now = {"order": key, **aim.get(key, {})}, {"order": key, **settings.get(key, {})}
        kinds = inks.get(key, frozenset())
        here = {**lately, "ink": [one for one in lately.get("ink", ()) if kinds & {*one.split(" · ")}]}
        taps, digits = _tapped(asks, target, now, here, len(plan.placement.stations)) if dark else ({}, {})
        parts.append(
            Part(
                key,
                start,
                title,
                head,
                tuple(ask for ask in asks if not ask.folded),
                tuple(ask for ask in asks if ask.folded),
                target,
                now,
                any(where.startswith(start) for where in faults),
                tuple(_bucket_tiles(open_buckets, kinds, now.get("bucket", ""))),
                taps,
                digits,
            )
        )
    return parts


def _tapped(
    asks: Sequence[setup.Ask],
    aim: Mapping[str, str],
    now: Mapping[str, str],
    lately: Mapping[str, Sequence[str]],
    count: int,
) -> tuple[dict[str, list[tuple[str, str]]], dict[str, Field]]:
    """What can be tapped for the settings of a part, and those that are tapped digit by digit."""
    taps, digits = {}, {}
    for ask in asks:
        value = now.get(ask.name, "")
        seconds = value.removesuffix(" s")
        number = Field(ask.name, ask.word, "number", low=0.1, high=60)
        if ask.seconds and (value in ("", NOT_MEASURED) or (value != seconds and digit_rows(number, seconds))):
            digits[ask.name] = number
        elif some := setup.taps(ask, aim.get(ask.name, ""), value, lately.get(ask.name, ()), count):
            taps[ask.name] = some
    return taps, digits


def _bucket_tiles(open_ones: Sequence[Bucket], inks: frozenset[str], now: str) -> Iterator[tuple[str, str]]:
    """The open buckets that hold one of these inks, and the one that was said."""
    kinds = {kind for ink in inks for kind in setup.INK_BUCKETS.get(ink, ())}
    for one in open_ones:
        if one.code == now or not kinds or one.kind in kinds:
            name = floor_buckets.named(one)
            yield one.code, _("{bucket} – past its time").format(bucket=name) if one.past(g.now) else name
    if now and now not in {one.code for one in open_ones}:
        yield now, shown(now)


def part_named(plan: floor.Plan, key: str) -> str:
    """A part of the sheet by its key, in words."""
    return _("the whole run") if key == setup.RUN else key


def differences_of(plan: floor.Plan) -> list[tuple[str, str, str, str]]:
    """What was set up otherwise than the target, in words: (where, setting, target, as run)."""
    return [
        (part_named(plan, key), field_word(name), was, _(now))
        for key, name, was, now in setup.differences(plan.story.sheet)
    ]


def change_lines(plan: floor.Plan) -> list[dict[str, Any]]:
    """The changes of the run in words: when, where, what, why."""
    out = []
    for one in plan.story.changes:
        name = one.get("field")
        if name:
            told = _("{setting}: {was} → {now}").format(
                setting=field_word(str(name)), was=_(str(one.get("from") or "–")), now=_(str(one.get("to") or "–"))
            )
        elif one.get("what") == COLOURWAY:
            told = _("goes on with {style}, {colour}").format(
                style=one.get("garment_style"), colour=one.get("garment_colour")
            )
        else:
            told = str(one.get("what", ""))
        out.append({**one, "told": told})
    return out


def garments_of(plan: floor.Plan) -> list[tuple[str, str]]:
    """The garments to choose from where the colourways differ: (number, in words)."""
    if not plan.job.sheet.colourways:
        return []
    return [(str(place), f"{one.style}, {one.colour}") for place, one in enumerate(plan.job.sheet.garments, 1)]


def idle_of(plan: floor.Plan) -> list[str]:
    """The stations that do not print on the garment that runs now."""
    running = floor.prints_now(plan)
    return [f"{one.number} ({one.image.name})" for one in plan.asked if one.number not in running]


def short_of(plan: floor.Plan) -> list[dict[str, Any]]:
    """The jobs that run short because their screens hang here."""
    return [
        {"screen": screen, "job": one.job, "placement": one.placement, "station": one.station, "run": one.run}
        for hung in plan.story.hung.values()
        if (screen := screens.get(g.db, hung.screen)) is not None
        for one in floor.runs_short(g.db, plan, screen)
    ]


def ahead_of(plan: floor.Plan) -> list[dict[str, Any]]:
    """What will differ from the last approved print, for whom there is one; a discharge job's remark in any case."""
    (found,) = repeats.ahead(g.db, plan.job, g.now, run=plan.run)
    return said_ahead(found, always=bool(plan.job.repeats))


def said_ahead(found: repeats.Ahead, always: bool = True) -> list[dict[str, Any]]:
    """Differences in words, the worst first."""
    shown = [one for one in found.differences if always or found.origin or one.key == "repeat-dye-lot"]
    shown = sorted(shown, key=lambda one: -one.level.rank)
    return [{"key": one.key, "level": str(one.level), "said": say(one.reason, system())} for one in shown]


@bp.get("/runs/<int:number>/sheet")
def sheet(number: int) -> Response:
    """The whole set-up sheet to read and to print: target left, as run right."""
    plan = floor.plan(g.db, number)
    aim, source = plan.story.sheet.get("target"), plan.story.sheet.get("target_from")
    if not aim:
        aim, source = floor.target(g.db, plan)
    return page(
        "runs/sheet.html",
        plan=plan,
        story=plan.story,
        parts=parts_of(plan, aim),
        noted=bool(plan.story.sheet_entry),
        source=source,
        changes=change_lines(plan),
        differ={(key, name) for key, name, _was, _now in setup.differences(plan.story.sheet)},
        shown=shown,
        rows={row.station.number: row for row in rows_of(plan)},
    )


@bp.get("/runs/<int:number>/comparison")
def comparison(number: int) -> Response:
    """The run beside the approved print before it: every setting, what differed, the colour with its verdict."""
    plan = floor.plan(g.db, number)
    found = repeats.compared(g.db, number)
    groups: dict[int, list[Any]] = {}
    for one in found.lines if found else ():
        groups.setdefault(one.station, []).append(one)
    return page(
        "runs/comparison.html",
        plan=plan,
        story=plan.story,
        found=found,
        groups=groups,
        ahead=ahead_of(plan) if found else [],
        shown=shown,
    )


# The run, in words ---------------------------------------------------------------------------------------------------


def cautions_of(plan: floor.Plan) -> list[str]:
    """The cautions of printing this placement: heat always, discharge where it is used."""
    inks = {ink for one in plan.asked for ink in one.inks}
    return ["discharge", "heat"] if "discharge" in inks else ["heat"]


def passed_lines(plan: floor.Plan) -> list[dict[str, Any]]:
    """What somebody went past to hang what was hung: it stays visible on the run."""
    found = []
    for hung in plan.story.was_hung:
        if hung.passed or hung.level not in ("", "ok"):
            screen = screens.get(g.db, hung.screen)
            verdict = next((one.verdict for one in [entries.find(g.db, hung.entry)] if one is not None), None)
            if screen is not None and verdict:
                found.append({"hung": hung, "screen": screen, "verdict": Verdict.from_dict(verdict)})
    return found


def log_lines(log: list[Entry]) -> list[dict[str, Any]]:
    """The log of a run, newest first, with what was crossed out and by whom."""
    crossed = entries.crossed_by(g.db, [entry.entry for entry in log])
    numbers = [entry.screen for entry in log if entry.screen is not None]
    codes = {screen.id: screen.code for screen in screens.many(g.db, list(dict.fromkeys(numbers)))}
    out = []
    for entry in log:
        step = RUN_STEPS.get(entry.step) or SCREEN_STEPS.get(entry.step)
        labels = {one.name: _(one.label) for one in step.fields} if step else {}
        if entry.step == "change":
            labels |= {"from": _("from"), "to": _("to"), "garment_style": _("garment"), "garment_colour": _("in")}
        elif entry.step == "approve":
            labels |= {"sample": _("sample")}
        told = " · ".join(
            f"{labels[name]}: {_(str(value)) if value else '–'}"
            for name, value in {**entry.values}.items()
            if name in labels and name != "run"
        )
        out.append(
            {
                "entry": entry,
                "done": step.done if step else entry.step,
                "screen": codes.get(entry.screen) if entry.screen is not None else None,
                "told": told,
                "crossed": crossed.get(entry.entry),
            }
        )
    return out


# The steps of a run -------------------------------------------------------------------------------------------------


@bp.post("/runs/<int:number>/<step>")
def log(number: int, step: str) -> AnyResponse:
    """A step of a run; a faulty form comes back with what was typed, a stop with its reasons."""
    floor.plan(g.db, number)
    form, post = post_of()
    try:
        if step in ("approve", "cross-out") or form.one("override"):
            confirm()
        if step in ("approve", "sheet"):
            box, name = ("picture", "photo") if step == "approve" else ("panel_photo", "panel")
            if (picture := sent_pictures.take(box)) is not None:
                form = Form({**form.sent, name: [picture]})
        if step == "sheet":
            _say_why(number, form)
        if step == "hang":
            screen = find_screen(form.one("screen"))
            sent = {**form.sent, "screen": [str(screen.code)]}
            floor.hang(g.db, actor(), number, Form(sent), post=post, now=g.now)
            return redirect(f"/runs/{number}?hung={screen.code}", code=303)
        floor.log(g.db, actor(), number, step, form, post=post, now=g.now)
    except NotFound as refused:
        if any(fault.where == "step" for fault in refused.faults):
            raise
        return _back(number, step, form, refused)
    except Refused as refused:
        return _back(number, step, form, refused)
    if step in ("finish", "pause") and (g.sign_in.doing or {}).get("run") == number:
        set_doing({})
    return redirect(f"/runs/{number}", code=303)


def _say_why(number: int, form: Form) -> None:
    """What is changed after the approval is an entry of its own: the page asks why."""
    story = floor.plan(g.db, number).story
    if story.approved and story.sheet_entry and not form.one("why"):
        raise Refused(_("The first print is approved: say why it was changed, so that the next run knows."), "why")


def _back(number: int, step: str, form: Form, refused: Refused) -> Response:
    """The page that a refused step came from, with what was typed."""
    plan = floor.plan(g.db, number)
    if step == "cross-out":
        wrong = entries.find(g.db, form.one("crosses") or form.one("entry"))
        if wrong is None or wrong.run != number:
            return cross_page(f"/runs/{number}/cross-out", f"/runs/{number}", form.sent, refused)
    values = {name: list(sent) for name, sent in form.sent.items() if name not in ("entry", "secret")}
    typed = form.one("screen") if step == "hang" else form.one("new") if step == "swap" else ""
    if typed:
        try:
            screen = find_screen(typed)
        except Refused:
            return run_page(plan, refused.status, step, refused, values)
        return verdict_page(plan, screen, refused, values)
    return run_page(plan, refused.status, step, refused, values)


# The verdict at the press ------------------------------------------------------------------------------------------


def at_press_page(screen: screens.Screen) -> Response:
    """What a scan shows while this phone sets up a run: whether that screen is the right one, and one button."""
    return verdict_page(floor.plan(g.db, int(g.sign_in.doing["run"])), screen)


def verdict_page(
    plan: floor.Plan, screen: screens.Screen, refused: Refused | None = None, values: Mapping[str, Any] | None = None
) -> Response:
    """The press verdict on a screen for a run. After a refusal: why, with what was typed."""
    values = values or {}
    form = Form({name: [str(one) for one in sent] for name, sent in values.items()})
    in_hand = request.args.get("in_hand") == "yes" or (refused is not None and form.yes("in_hand"))
    first = floor.check(g.db, plan, screen, g.now, in_hand=in_hand)
    taken = plan.story.hung.get(first.station) if first.station is not None else None
    swap = taken if taken is not None and taken.screen != screen.id else None
    head = _head(form, plan, first, swap)
    with_it = floor.without(plan, swap.screen) if swap else plan
    found = floor.check(g.db, with_it, screen, g.now, head=head, in_hand=in_hand)
    verdict = refused.verdict if isinstance(refused, Worse) and not found.question else found.verdict
    causes = [reason.key for reason in verdict.reasons if reason.level in (Level.STOP, Level.UNKNOWN)]
    hangs = "already-hung" in verdict.keys and verdict.level is not Level.STOP
    names = places.names(g.db)
    free = [one for one in plan.asked if one.number not in plan.story.hung]
    heads = plan.press.heads or max([12, *(one.number for one in plan.placement.stations)])
    busy = {hung.head for hung in plan.story.hung.values() if hung.head and hung.screen != screen.id}
    faults = faults_by_field(refused)
    if isinstance(refused, Worse) and refused.faults and refused.faults[0].where != "seen":
        faults = {}
    return page(
        "runs/verdict.html",
        refused.status if refused else 200,
        plan=plan,
        screen=screen,
        life=screen.life,
        verdict=verdict,
        level=str(verdict.level),
        found=found,
        station=next((one for one in plan.asked if one.number == found.station), None),
        finished=plan.story.state == "finished",
        hangs=hangs,
        swap=swap,
        swap_screen=screens.get(g.db, swap.screen) if swap else None,
        question=found.question,
        in_hand=in_hand,
        elsewhere=_elsewhere(screen) if found.question else None,
        head=head,
        heads=[number for number in range(1, min(heads, 40) + 1) if number not in busy],
        nobody=bool(set(causes) & NOBODY_PASSES),
        may=may_pass(actor(), causes),
        passing=bool(causes),
        free=free,
        place=place_said(screen.life, names),
        stage=STANDING_WORDS[screen.life.standing],
        meant_for=_meant_for(screen) if found.station is None else [],
        missing=plan.missing(),
        short=floor.runs_short(g.db, plan, screen) if found.station is not None and not hangs else [],
        counting=counting(plan)["count"].fields if plan.story.started_at and (swap or not free) else (),
        to_swap=_to_swap(plan) if found.station is None and not free else [],
        why_passed=WHY_PASSED,
        why_swapped=WHY_SWAPPED,
        values=values,
        faults=faults,
        cautions=cautions_of(plan),
        picture=pictures.of_job(g.db, plan.run.job, plan.run.version),
        shown=shown,
    )


def _head(form: Form, plan: floor.Plan, found: AtPress, swap: Hung | None) -> int | None:
    typed = form.one("head")
    if typed.isdigit() and 1 <= int(typed) <= 40:
        return int(typed)
    if swap is not None:
        return swap.head
    return floor.free_head(plan, found.station) if found.station is not None else None


def _to_swap(plan: floor.Plan) -> list[tuple[str, str]]:
    """The screens that one without a station of its own could take the place of: (code, in words)."""
    found = []
    names = {one.number: one.image.name for one in plan.asked}
    for station, hung in sorted(plan.story.hung.items()):
        screen = screens.get(g.db, hung.screen)
        if screen is not None:
            found.append((str(screen.code), f"{station} {names.get(station, '')} – {shown(screen.code)}"))
    return found


def _elsewhere(screen: screens.Screen) -> dict[str, Any]:
    """Where the log has a screen that somebody holds in hands here."""
    other = floor.plan(g.db, screen.life.run) if screen.life.run and runs.get(g.db, screen.life.run) else None
    place = places.get(g.db, screen.life.place) if screen.life.place else None
    return {"plan": other, "place": place.name if place else "", "since": screen.life.since}


def _meant_for(screen: screens.Screen) -> list[dict[str, Any]]:
    """The open jobs that a screen of another job is for."""
    out = []
    for separation in screen.life.stencil.separations if screen.life.stencil else ():
        for number, placement, station in jobs.asking(g.db, separation, limit=3):
            job = jobs.get(g.db, number)
            if job is not None:
                out.append({"job": job, "placement": job.sheet.placements[placement - 1].name, "station": station})
    return out
