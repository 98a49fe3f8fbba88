"""The press: what is on it, the set-up of a run screen by screen, the set-up sheet, the count, taking off."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import hanging, run_act
from tickets.actions import runs as runs_acts
from tickets.calculator.numerals import counted
from tickets.calculator.verdict import Level, Verdict, judge, say
from tickets.domain.code import shown
from tickets.domain.person import NOBODY_PASSES, may_pass, to_pass
from tickets.domain.posted import Asks, Form, Worse
from tickets.domain.refusal import Clash, Fault, NotFound, Refused
from tickets.domain.runs import setup
from tickets.domain.runs.as_run import doubt_said, note_told
from tickets.domain.runs.job_remarks import CURE, garment_remarks
from tickets.domain.runs.run import STATES
from tickets.domain.screens.press_checks import FACES
from tickets.domain.stages import STANDING_WORDS
from tickets.domain.steps import CONDITIONS, RUN_STEPS, SWAPPED, THEN
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import asked as asked_now
from tickets.queries import at_press, boards, find, garments, heads, noted, repeats, run_plan, sheets, target
from tickets.queries import colour as colour_now
from tickets.queries import look as look_now
from tickets.queries.colour import Checked
from tickets.queries.phase import phase_of
from tickets.queries.shop_rules import the_spec
from tickets.store import entries, jobs, people, pictures, places, runs, screens
from web import colours, learning
from web import pictures as sent_pictures
from web.log import cross_page
from web.run_log import causes_of, change_lines, events_of, kept_of, log_lines, system
from web.run_parts import Part, parts_of
from web.run_words import (
    AheadSaid,
    ahead_of,
    approvals_of,
    asks_garment,
    astray_of,
    cautions_of,
    clocks_of,
    colour_off,
    counting,
    crossed_approval,
    differences_of,
    forms_of,
    garments_of,
    idle_of,
    inks_now,
    may_approve,
    may_say_garment,
    next_word,
    not_yet_of,
    opening,
    passed_lines,
    picks_of,
    pieces_of,
    place_said,
    readings_of,
    ready,
    rows_of,
    short_of,
    state_of,
    swapping,
    told_of,
    used_of,
    ways_of,
)
from web.steps import WHYS, question_page, sent_again
from web.support import (
    actor,
    answered,
    confirm_once,
    faults_by_field,
    fold_digits,
    form_lists,
    held,
    new_entry_id,
    not_by_enter,
    page,
    saved_by_me,
    set_doing,
    to_tap,
)

bp = Blueprint("runs", __name__)

WHY_PASSED = to_tap(
    N_("no other screen in time"),
    N_("customer agreed"),
    N_("lead said so"),
    N_("looked at it: it is fine"),
)
WHY_UNCURED = to_tap(N_("cured again after a test"), N_("wash test passed"), N_("the customer accepts it"))
WHY_SWAPPED = to_tap(*SWAPPED)
HOW_APPROVED = (N_("piece in hand"), N_("photo sent"), N_("next to the last print"), N_("on the phone"))
WHY_CHANGED = to_tap(
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
    states: dict[int, str] = {}
    for run in runs.open_ones(g.db, limit=60):
        plan = run_plan.plan(g.db, run.id)
        late = [one for one in clocks_of(plan) if one["level"] == "caution"]
        states[run.id] = state_of(plan)
        line = {"plan": plan, "next": next_word(plan), "state": states[run.id], "late": late}
        by_press.setdefault(run.press, []).append(line)
    presses = places.every(g.db, "press")
    day, _dot, number = request.args.get("after", "").rpartition(".")
    after = (day, counted(number)) if day and counted(number) else None
    due, taken = jobs.listed(g.db, after, JOBS_SHOWN + 1), runs.busy_everywhere(g.db)
    boards.look_ahead(g.db, [line.id for line in due])
    return page(
        "runs/press.html",
        presses=[(one, by_press.get(one.id, [])) for one in presses],
        due=[due_line(line, presses, taken, states) for line in due[:JOBS_SHOWN]],
        later=f"{due[JOBS_SHOWN - 1].due}.{due[JOBS_SHOWN - 1].id}" if len(due) > JOBS_SHOWN else "",
    )


def due_line(
    line: jobs.JobLine,
    presses: Sequence[places.Place],
    taken: Mapping[int, Mapping[int, int]],
    states: Mapping[int, str],
) -> dict[str, Any]:
    """A job that is due: its placements, each with how many of its screens are ready to hang and the open runs that
    print it, and the presses for it (`taken`: the heads in use; `states`: in words how far open runs are)."""
    job = jobs.get(g.db, line.id)
    assert job is not None
    missing, names = jobs.short(g.db, job), {one.id: one.name for one in presses}
    running: dict[int, list[dict[str, Any]]] = {}
    for run in reversed(runs.of_job(g.db, job.id)):
        if run.story.state != "finished":
            state = states.get(run.id) or _(STATES[run.story.state])
            told = {"number": run.id, "press": names.get(run.press, ""), "state": state}
            running.setdefault(run.placement, []).append(told)
    return {
        "job": job,
        "opening": opening(job, missing, presses, taken, running),
        "all_running": bool(missing) and set(missing) <= set(running),
        "placements": [
            {
                "number": number,
                "name": placement.name,
                "done": number not in missing,
                "running": running.get(number, ()),
                "missing": missing.get(number, 0) if missing.get(number, 0) < job.sheet.pieces else 0,
                **ready(job, number),
            }
            for number, placement in enumerate(job.sheet.placements, 1)
        ],
    }


@bp.post("/runs")
def open_run() -> AnyResponse:
    """Opens a run (fields job, placement, press); this phone sets it up from here on. A press with too few free heads
    is asked about first, beside those that have enough."""
    form, post = post_of()
    try:
        number = runs_acts.open_run(g.db, actor(), form, post=post, now=g.now)
    except heads.TooFew as few:
        again = sent_again(form.sent, {"entry", "press", heads.SHORT})
        told = {"few": few, "hidden": again, "press": form.one("press"), "name": heads.SHORT}
        return page("runs/heads.html", few.status, **told, new_entry=new_entry_id, back=f"/jobs/{form.one('job')}")
    take_up(run_plan.plan(g.db, number))
    return redirect(f"/runs/{number}", code=303)


def take_up(plan: run_plan.Plan) -> None:
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
    take_up(run_plan.plan(g.db, number))
    return redirect(f"/runs/{number}", code=303)


# The run ------------------------------------------------------------------------------------------------------------


@bp.get("/runs/<int:number>")
def run(number: int) -> Response:
    """Where the run is; with `screen`, the verdict on that screen."""
    plan = run_plan.plan(g.db, number)
    typed = request.args.get("screen", "").strip()
    if typed:
        try:
            screen = find_screen(typed)
        except Refused as refused:
            return run_page(plan, refused.status, "hang", refused, {"screen": [typed]})
        return verdict_page(plan, screen)
    opened = request.args.get("open", "")
    if request.args.get("part") and any("." in name for name in request.args):
        opened = "sheet"  # another card, with what was typed in those before
    if opened in AT_REQUEST:
        typed_so_far = {name: request.args.getlist(name) for name in request.args if name != "open"}
        return run_page(plan, step=opened, values=answered(fold_digits(typed_so_far)))
    return run_page(plan)


AT_REQUEST = ("sheet", "stop", "change", "start", "pause", "finish", "note", "cross-out")
"""The forms of a run's page that come once they are asked for (`open`), with what was typed so far. Their screens, or
lines, are many."""


def _cure_of(plan: run_plan.Plan) -> dict[str, Any]:
    """What the page says of cure and migration: whether the cure stops an approval, who may go past it, which
    setting may be put right instead, the job’s other remarks on its garments, and the probe page of this run."""
    stops = [one.key for one in at_press.to_approve(g.db, plan).reasons if one.level is Level.STOP]
    own = f"placement[{plan.run.placement}]"
    wrong = "hold" if stops and set(stops) <= {"under-hold"} else "garment_peak"
    remarked = garment_remarks(plan.job.sheet, the_spec(g.db), own) if plan.story.state != "finished" else []
    return {
        "cure_stops": bool(stops),
        "may_pass_cure": may_pass(actor(), stops),
        "cure_field": wrong,
        "whys_cured": whys_past(stops),
        "garment_remarks": [say(one.reason, system()) for one in remarked],
        "probe_page": f"/calculator/probe?run={plan.run.id}",
    }


def whys_past(causes: Iterable[str]) -> list[tuple[str, str]]:
    """The reasons to tap for going past these causes: no other screen is none for a cure or an ink."""
    keys = set(causes)
    others = keys - CURE
    found = [*(WHY_UNCURED if keys & CURE else ()), *(WHY_PASSED if others or not keys else ())]
    if others and all(key.startswith(("ink-", "bucket-", "print-colour-", "again-")) for key in others):
        found.remove(WHY_PASSED[0])
    return [(_(why), _(why)) for why in found]


def find_screen(text: str) -> screens.Screen:
    """The screen of a code or of a painted mark."""
    marked = screens.by_mark(g.db, text)
    try:
        return find.screen(g.db, text)
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


# whole: the values of one template, each by its name
def run_page(
    plan: run_plan.Plan,
    status: int = 200,
    step: str = "",
    refused: Refused | None = None,
    values: Mapping[str, Any] | None = None,
    checked: Mapping[int, Checked] | None = None,
) -> Response:
    """The run's page. `step`, `refused`, `values`: a form that comes back, with what was typed; `checked`: what the
    colours in it come to."""
    faults = faults_by_field(refused)
    if step == "hang":
        faults = {"screen": " ".join(faults.values())} if faults else {}
    over = plan.story.state == "finished"
    going = at_press.to_mark(g.db, plan) if over else at_press.going(g.db, plan, g.now)
    against = to_pass(going)
    aim, source = target.aim(g.db, plan.job, plan.run.placement, plan.run)
    versus = target.against(g.db, plan.job, plan.run.placement, plan.run)
    phase = phase_of(plan)
    if phase == "hang":  # nobody approves a print before its screens hang
        told = [one for one in going.reasons if one.key != "first-print-open"]
        going = judge(told) if told else Verdict(Level.OK)
    parts = parts_of(plan, aim, faults if step == "sheet" else {}, offer=True)
    log = entries.latest_of(g.db, "run", plan.run.id, 60)
    colour = learning.colour_panel(plan, versus.run)
    if step == "approve":
        values = _whose_name(values or {})
    on_top = bool(faults) and (isinstance(refused, Clash) or step not in forms_of(plan))
    return page(
        "runs/run.html",
        status,
        plan=plan,
        story=plan.story,
        phase=phase,
        rows=rows_of(plan),
        state=state_of(plan),
        next=next_word(plan),
        step=step,
        faults=faults,
        worse=refused.verdict if isinstance(refused, Worse) else None,
        may_pass_worse=isinstance(refused, Worse) and may_pass(actor(), to_pass(refused.verdict)),
        on_top=on_top,
        values=values or {},
        target_from=source,
        against=versus,
        marked_since=target.marked_since(g.db, plan.job, plan.run.placement, plan.run),
        parts=parts,
        open_part=_open_part(parts, step),
        all_noted=all(part.noted for part in parts),
        left_open=[setup.part_said(key, plan.placement) for key in run_plan.left_open(plan)],
        any_noted=bool(plan.story.sheet_entry) and not plan.story.frozen,
        unsaid=run_plan.without_bucket(plan) if phase != "done" else [],
        lots=[say(one, system()) for one in sheets.lots(g.db, plan)] if may_approve(plan) else [],
        astray=astray_of(plan) if phase != "done" else [],
        used=used_of(plan) if phase == "done" else [],
        told=told_of(values or {}, step) if on_top and step not in forms_of(plan) else [],
        sheet_seen=run_plan.sheet_mark(plan.story),
        why_changed=WHY_CHANGED,
        whys=WHYS,
        garments=garments_of(plan),
        garment=run_plan.garment_now(plan),
        garment_name=plan.story.on,
        may_say_garment=may_say_garment(plan),
        approvals=approvals_of(plan),
        ways=ways_of(plan),
        parts_by={number: part for part in parts if (number := counted(part.key, -1)) >= 0},
        asks_garment=asks_garment(plan),
        idle=idle_of(plan),
        inks_now=inks_now(plan),
        pieces=pieces_of(plan),
        short=short_of(plan) if phase != "done" else [],
        ahead=ahead_of(plan) if phase in ("hang", "sheet") else None,
        ordered=plan.job.sheet.pieces,
        lacking=jobs.short(g.db, plan.job).get(plan.run.placement, 0),
        job_closed=(jobs.get(g.db, plan.job.id) or plan.job).closed_at,
        earlier=versus.run if plan.story.approved else None,
        colours=colours.form_of(
            _as_typed(plan, values) if step == "approve" and values else plan,
            versus.run,
            values or {} if step == "approve" else {},
            faults if step == "approve" else {},
            checked,
        ),
        differences=differences_of(plan),
        not_yet=not_yet_of(plan) if plan.story.sheet_entry else [],
        passed=passed_lines(plan),
        names=people.names(g.db),
        steps=counting(plan),
        **cautions_of(plan, parts),
        picture=pictures.of_job(g.db, plan.run.job, plan.run.version),
        picks=picks_of(plan) if phase != "done" else [],
        then=THEN,
        conditions=CONDITIONS,
        colour=colour,
        colour_off=colour_off(colour),
        going=going,
        clocks=clocks_of(plan) if phase != "done" else [],
        **_cure_of(plan),
        apart=run_plan.set_apart(g.db, plan),
        passing=bool(against),
        may_go_past=may_pass(actor(), against),
        start_word=_start_word(plan, bool(against)),
        whys_past=whys_past(to_pass(refused.verdict) if isinstance(refused, Worse) and step == "sheet" else against),
        readings=readings_of(plan),
        crossed=crossed_approval(plan),
        how_approved=[(_(how), _(how)) for how in HOW_APPROVED],
        approvers=[(one.name, one.name) for one in people.every(g.db)],
        leads=actor().leads,
        log=log_lines(log),
        now_version=(jobs.get(g.db, plan.job.id) or plan.job).version,
        hung_now=request.args.get("hung", "") if refused is None else "",
        swapping=swapping(plan, request.args.get("swap", "")) if refused is None and not over else None,
        shown=shown,
        events=events_of(plan),
        causes=causes_of(plan),
        new_entry=new_entry_id,
        here_now=(g.sign_in.doing or {}).get("run") == plan.run.id,
    )


def _open_part(parts: Sequence[Part], step: str = "") -> str:
    """The card of the sheet that is open: one with a fault, the one asked for (all of them: `all`), else the first that
    can be noted now."""
    asked = request.args.get("part", "")
    if asked == "all":
        return asked
    faulty = [part.key for part in parts if part.faulty and step == "sheet"]
    here = [part.key for part in parts if part.key == asked and part.hangs]
    waiting = [part.key for part in parts if not part.noted and part.hangs]
    return next(iter([*faulty, *here, *waiting]), parts[0].key)


def _next_part(number: int, form: Form) -> str:
    """Where a head that was noted leads: to the next card that is open still."""
    if not {"noted", "same"} & set(form.sent):
        return f"/runs/{number}"
    plan = run_plan.plan(g.db, number)
    left = run_plan.open_parts(plan)
    if not left:
        return f"/runs/{number}"
    missing = {str(one.number) for one in plan.missing()}
    here = next((key for key in left if key not in missing), "")
    return f"/runs/{number}?part={here}#card-{here}" if here else f"/runs/{number}"


def _start_word(plan: run_plan.Plan, passing: bool) -> str:
    """What the button says that starts the run, or goes on with it."""
    if passing:
        return _("Go on printing anyway") if plan.story.started_at else _("Start printing anyway")
    return _("Go on printing") if plan.story.started_at else _("Start printing")


def _whose_name(values: Mapping[str, Any]) -> Mapping[str, Any]:
    """An approval that comes back: a name that is nobody's here stands where the customer's person is asked for."""
    named = next(iter(values.get("approved_by", ())), "")
    if not named or people.find(g.db, named) or any(values.get("customer_person", ())):
        return values
    return {**values, "customer_person": [named]}


# The set-up sheet ---------------------------------------------------------------------------------------------------


@bp.get("/runs/<int:number>/sheet")
def sheet(number: int) -> Response:
    """The whole set-up sheet to read and to print: target left, as run right."""
    plan = run_plan.plan(g.db, number)
    aim, source = target.aim(g.db, plan.job, plan.run.placement, plan.run)
    kept = plan.story.sheet if plan.story.sheet_on == plan.story.on else run_plan.sheet_now(g.db, plan)
    met = target.against(g.db, plan.job, plan.run.placement, plan.run)
    notes = target.notes_of(g.db, met.run)
    return page(
        "runs/sheet.html",
        plan=plan,
        story=plan.story,
        parts=parts_of(plan, aim),
        noted=bool(plan.story.sheet_entry),
        curing=at_press.to_approve(g.db, plan),
        clocks=clocks_of(plan) if plan.story.state != "finished" else [],
        source=source,
        against=met.said(),
        note_told=lambda note: note_told(note, notes),
        changes=change_lines(plan),
        kept=kept_of(plan),
        measured=noted.measured_said(g.db, plan),
        differ={(key, name) for key, name, _was, _now in setup.differences(kept, the_spec(g.db))},
        shown=shown,
        rows={row.station.number: row for row in rows_of(plan)},
    )


@bp.get("/runs/<int:number>/comparison")
def comparison(number: int) -> Response:
    """The run beside the approved print before it: every setting, what differed, the colour with its verdict."""
    plan = run_plan.plan(g.db, number)
    asked, every = request.args.get("garment", ""), garments.of_run(g.db, plan)
    printed = [one for one in every if one.approved]
    chosen = next((one for one in printed if str(one.number) == asked), None)
    found = repeats.compared(g.db, number, chosen.garment if chosen else None)
    groups: dict[int, list[Any]] = {}
    for one in found.lines if found else ():
        groups.setdefault(one.station, []).append(one)
    return page(
        "runs/comparison.html",
        plan=plan,
        story=plan.story,
        found=found,
        garments=printed,
        garment=found.garment if found else "",
        groups=groups,
        doubt_said=doubt_said,
        ahead=ahead_of(plan) if found else None,
        small=AheadSaid([], found.differing.small_head, tuple(found.differing.small_told)) if found else None,
        shown=shown,
    )


# The steps of a run -------------------------------------------------------------------------------------------------


@bp.post("/runs/<int:number>/<step>")
def log(number: int, step: str) -> AnyResponse:
    """A step of a run; a faulty form comes back with what was typed, a stop with its reasons."""
    form, post = post_of()
    try:
        if step == "approve":
            form = colours.with_file(form)
            if form.one("check"):
                return _checked(number, form)
        if step in ("approve", "cross-out") or form.one("override"):
            confirm_once(step, form.sent, post)
        if step in ("approve", "sheet"):
            box, name = ("picture", "photo") if step == "approve" else ("panel_photo", "panel")
            try:
                if (picture := sent_pictures.take(box)) is not None:
                    form = Form({**form.sent, name: [picture]})
            except Refused as refused:
                refused.faults += tuple(_reading_faults(number, form))  # all that is wrong, together
                raise
        not_by_enter(form.sent)
        if step == "sheet" and not form.one("why"):
            _say_why(number, form, post)
        if step == "hang":
            hung = hanging.hang(
                g.db, actor(), number, form, post=post, now=g.now, find=lambda _db, text: find_screen(text)
            )
            return redirect(f"/runs/{number}?hung={hung.code or _hung_by(post)}", code=303)
        runs_acts.log(g.db, actor(), number, step, form, post=post, now=g.now)
    except Asks as asks:
        return question_page(f"/runs/{number}/{step}", f"/runs/{number}", RUN_STEPS[step], form.sent, asks)
    except NotFound as refused:
        if any(fault.where == "step" for fault in refused.faults):
            raise
        return _back(number, step, form, refused)
    except Refused as refused:
        return _back(number, step, form, refused)
    if step == "sheet":
        return redirect(_next_part(number, form), code=303)
    if step in ("finish", "pause") and (g.sign_in.doing or {}).get("run") == number:
        set_doing({})
    return redirect(f"/runs/{number}", code=303)


def _say_why(number: int, form: Form, post: str) -> None:
    """Refuses a set-up that is changed after the approval without a reason (`run_plan.say_why`)."""
    if run_plan.known(g.db, number).story.frozen and not saved_by_me(post):
        run_plan.say_why(g.db, run_plan.plan(g.db, number), form)


def _hung_by(post: str) -> str:
    """The code of the screen that a post hung."""
    lines = entries.of_post(g.db, post)
    screen = screens.get(g.db, lines[-1].screen) if lines and lines[-1].screen is not None else None
    return screen.code if screen is not None else ""


def _checked(number: int, form: Form) -> Response:
    """The page with what the readings in an approval's form come to; nothing is saved."""
    plan = run_plan.plan(g.db, number)
    said = run_act.said_on(g.db, actor(), plan, form, g.now)
    versus = target.against(g.db, said.job, said.run.placement, said.run)
    if len(colours.on_each(said, versus.run)) > 1:
        told = _("On which garment is it? The colours to meet are not the same on each.")
        return _back(number, "approve", form, Refused(told, "garment"))
    found = colour_now.checked(g.db, said.job, said.run, versus.run, run_plan.readings_of(g.db, said, form))
    return run_page(plan, 200, "approve", None, _typed(form), found)


def _as_typed(plan: run_plan.Plan, values: Mapping[str, Any]) -> run_plan.Plan:
    """The run as it is on the garment that was chosen in a form that comes back."""
    return run_act.said_on(g.db, actor(), plan, Form({name: list(sent) for name, sent in values.items()}), g.now)


def _typed(form: Form) -> dict[str, list[str]]:
    """What was typed into a form, to stand in it again: never a secret."""
    return {name: list(sent) for name, sent in form.sent.items() if name not in ("entry", "secret")}


def _reading_faults(number: int, form: Form) -> list[Fault]:
    """What is wrong with the colour readings of a form, to be said together with what is wrong with its picture."""
    try:
        run_plan.readings_of(g.db, run_plan.plan(g.db, number), form)
    except Refused as refused:
        return list(refused.faults)
    return []


def _back(number: int, step: str, form: Form, refused: Refused) -> Response:
    """The page that a refused step came from, with what was typed."""
    plan = run_plan.plan(g.db, number)
    if step == "cross-out":
        wrong = entries.find(g.db, form.one("crosses") or form.one("entry"))
        if wrong is None or wrong.run != number:
            return cross_page(f"/runs/{number}/cross-out", f"/runs/{number}", form.sent, refused)
    values = _typed(form)
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
    return verdict_page(run_plan.plan(g.db, int(g.sign_in.doing["run"])), screen)


# whole: the values of one template, each by its name
def verdict_page(
    plan: run_plan.Plan, screen: screens.Screen, refused: Refused | None = None, values: Mapping[str, Any] | None = None
) -> Response:
    """The press verdict on a screen for a run. After a refusal: why, with what was typed."""
    values = values or {}
    form = Form({name: [str(one) for one in sent] for name, sent in values.items()})
    in_hand = request.args.get("in_hand") == "yes" or (refused is not None and form.yes("in_hand"))
    head_taken = request.args.get("head_taken") == "yes" or (refused is not None and form.yes("head_taken"))
    old = form.one("old") or request.args.get("old", "")
    instead = next((one for one in plan.story.hung.values() if _is_screen(one.screen, old)), None)
    looked = look_now.look(
        g.db,
        plan,
        screen,
        g.now,
        head=_head(form),
        station=instead.station if instead else None,
        in_hand=in_hand,
        head_taken=head_taken,
    )
    found, swap, head = looked.found, looked.swap, looked.head
    verdict = refused.verdict if isinstance(refused, Worse) and not found.question else found.verdict
    causes = to_pass(verdict)
    hangs = any(one.screen == screen.id for one in plan.story.hung.values())
    names = places.names(g.db)
    free = [one for one in plan.asked if one.number not in plan.story.hung]
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
        face=FACES[verdict.level],
        may_check=to_pass(verdict) == ["named-by-eye"] and _second_eyes(screen),
        found=found,
        station=next((one for one in plan.asked if one.number == found.station), None),
        finished=plan.story.state == "finished",
        hangs=hangs,
        swap=swap,
        swap_screen=screens.get(g.db, swap.screen) if swap else None,
        question=found.question,
        in_hand=in_hand,
        head_taken=head_taken,
        head_asked="head-in-use" in causes,
        elsewhere=_elsewhere(screen) if found.question else None,
        head=head,
        headless=look_now.headless(g.db, plan, looked),
        heads=looked.heads,
        nobody=bool(set(causes) & NOBODY_PASSES),
        may=may_pass(actor(), causes),
        passing=bool(causes),
        free=free,
        place=place_said(screen.life, names),
        stage=STANDING_WORDS[screen.life.standing],
        meant_for=_meant_for(screen) if found.station is None else [],
        missing=plan.missing(),
        short=at_press.runs_short(g.db, plan, screen, g.now) if found.station is not None and not hangs else [],
        counting=counting(plan)["count"].fields if plan.story.started_at and (swap or not free) else (),
        to_swap=_to_swap(plan) if found.station is None and (instead or not free) else [],
        old=old,
        whys_past=whys_past(causes),
        then=THEN,
        conditions=CONDITIONS,
        swap_reasons=[(_(why), _(why)) for why in WHY_SWAPPED],
        values=values,
        faults=faults,
        picture=pictures.of_job(g.db, plan.run.job, plan.run.version),
        shown=shown,
    )


def _is_screen(screen: int, code: str) -> bool:
    """Whether a screen has this code."""
    found = screens.get(g.db, screen) if code else None
    return found is not None and found.code == code


def _second_eyes(screen: screens.Screen) -> bool:
    """Whether a good check by who holds the phone vouches for a stencil that was named by eye."""
    me = actor().id
    return screen.life.stencil is not None and (screen.life.stencil.by_eye != me or people.alone(g.db, me))


def _head(form: Form) -> int | None:
    """The head that somebody chose; None: nobody did."""
    chosen = counted(form.one("head") or request.args.get("head"))
    return chosen if 1 <= chosen <= look_now.MOST_HEADS else None


def _to_swap(plan: run_plan.Plan) -> list[tuple[str, str]]:
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
    other = run_plan.plan(g.db, screen.life.run) if screen.life.run and runs.get(g.db, screen.life.run) else None
    place = places.get(g.db, screen.life.place) if screen.life.place else None
    return {"plan": other, "place": place.name if place else "", "since": screen.life.since}


def _meant_for(screen: screens.Screen) -> list[dict[str, Any]]:
    """The open jobs that a screen of another job is for."""
    out = []
    for separation in screen.life.stencil.separations if screen.life.stencil else ():
        for one in asked_now.still(g.db, separation)[:3]:
            job = jobs.get(g.db, one.job)
            if job is not None:
                placement = job.sheet.placements[one.placement - 1].name
                out.append({"job": job, "placement": placement, "station": one.station})
    return out
