"""The press: what is on it, the set-up of a run screen by screen, the set-up sheet, the count, taking off."""

from __future__ import annotations

from dataclasses import replace

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import hanging, run_act
from tickets.actions import runs as runs_acts
from tickets.calculator.numerals import counted
from tickets.domain.posted import Asks, Form
from tickets.domain.refusal import Fault, NotFound, Refused
from tickets.domain.steps import RUN_STEPS
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import colour as colour_now
from tickets.queries import compared_now, heads, press_now, run_plan, sheet_now, target
from tickets.store import entries, runs, screens
from web import colours
from web import pictures as sent_pictures
from web.at_press import find_screen, verdict_page
from web.log import cross_page
from web.run_page import run_page
from web.run_parts import parts_of
from web.steps import question_page, sent_again
from web.support import (
    actor,
    answered,
    confirm_once,
    fold_digits,
    form_lists,
    held,
    keep_count,
    not_by_enter,
    page,
    reader,
    saved_by_me,
    set_doing,
)

bp = Blueprint("runs", __name__)

BANDS = {
    "set-up": N_("Setting up run {run}: {about}"),
    "printing": N_("Printing run {run}: {about}"),
    "paused": N_("Run {run} is paused: {about}"),
    "finished": N_("Run {run} is finished: {about}"),
}
"""What the band says of the run that a phone works on."""


def post_of() -> tuple[Form, str]:
    """What was sent, and the id that the sender made for it."""
    form = Form(form_lists())
    return form, form.one("entry")


# The press crew's first page ---------------------------------------------------------------------------------------


@bp.get("/press")
def press() -> Response:
    """Open runs press by press, and the jobs due next."""
    day, _dot, number = request.args.get("after", "").rpartition(".")
    after = (day, counted(number)) if day and counted(number) else None
    return page("runs/press.html", it=press_now.of(reader(), after))


@bp.post("/runs")
def open_run() -> AnyResponse:
    """Opens a run (fields job, placement, press); this phone sets it up from here on. A press with too few free heads
    is asked about first, beside those that have enough."""
    form, post = post_of()
    keep_count()
    try:
        number = runs_acts.open_run(g.db, actor(), form, post=post, now=g.now, phone=g.token)
    except heads.TooFew as few:
        again = sent_again(form.sent, {"entry", "press", heads.SHORT})
        told = {"few": few, "hidden": again, "press": form.one("press"), "name": heads.SHORT}
        return page("runs/heads.html", few.status, **told, back=f"/jobs/{form.one('job')}")
    return redirect(f"/runs/{number}", code=303)


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
    plan = run_plan.plan(g.db, number)
    set_doing(runs_acts.working_on(number, plan.job, plan.placement.name, plan.press.name))
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


# The set-up sheet ---------------------------------------------------------------------------------------------------


@bp.get("/runs/<int:number>/sheet")
def sheet(number: int) -> Response:
    """The whole set-up sheet to read and to print: target left, as run right."""
    now = sheet_now.of(reader(), run_plan.plan(g.db, number))
    return page("runs/sheet.html", it=now, parts=parts_of(now.plan, now.aim))


@bp.get("/runs/<int:number>/comparison")
def comparison(number: int) -> Response:
    """The run beside the approved print before it: every setting, what differed, the colour with its verdict."""
    plan = run_plan.plan(g.db, number)
    return page("runs/comparison.html", it=compared_now.of(reader(), plan, request.args.get("garment", "")))


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
    if step == "finish" and (g.sign_in.doing or {}).get("run") == number:  # a pause goes on checking
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
    if step == "cross-out" and not form.yes("whole"):
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
