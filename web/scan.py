"""What a scan shows, finding by code or painted mark, and what this phone is doing.

A scan has a template of its own that gets finished texts (`screens/scanned.html`, which the screen's page extends).
What hangs on few things only (stage, step, language, view) is made once and kept; nothing of a screen itself is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Response, current_app, g, make_response, redirect, request
from werkzeug.exceptions import HTTPException
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import people as people_acts
from tickets.calculator.verdict import Level
from tickets.domain.code import Code, NoCode, fold, near, read, shown
from tickets.domain.entry import stamp
from tickets.domain.person import HANGS
from tickets.domain.refusal import NotFound, Refused
from tickets.domain.screens import checks
from tickets.domain.stages import IMAGE_ON, STANDING_WORDS, Standing
from tickets.domain.steps import SCREEN_STEPS
from tickets.i18n import gettext as _
from tickets.queries import find as find_now
from tickets.queries import judging, open_runs, run_plan, screen_steps
from tickets.queries import said as said_now
from tickets.queries import search as search_now
from tickets.queries.asked import emulsion_of, next_step
from tickets.queries.search import KIND_WORDS
from tickets.queries.shop_rules import the_spec
from tickets.store import codes, entries, jobs, places, reads, screens
from tickets.store.codes import Issued
from web import doing as doing_web
from web.at_press import at_press_page, verdict_page
from web.may import may
from web.screens import needs_first, screen_page
from web.steps import ACCEPTS, NOT_REPEATED, again, form_html, form_of
from web.stocktake import stocktake_scan
from web.support import PATHS, actor, form_lists, local_path, one_of, page, reader, set_doing

bp = Blueprint("scan", __name__)

# Scanning -----------------------------------------------------------------------------------------------------------


@bp.get("/t/<path:text>")
def scan(text: str) -> AnyResponse:
    """What is behind a ticket, for what this phone is doing. Reads only."""
    try:
        code = read(text)
    except NoCode as fault:
        return _unknown(text, str(fault), fault.near)
    found = screens.behind(g.db, code)
    if found is not None:
        screen, replaced = found
        return _screen(screen, code if replaced else "")
    issued = codes.find(g.db, code)
    if issued is None:
        said = _("This shop never gave out the code {code}.").format(code=shown(code))
        return _unknown(text, said, near(code))
    return _own_page(issued)


def _unknown(text: str, said: str, one_slip: Iterable[Code]) -> Response:
    return page("scan/unknown.html", 404, text=text[:40], said=said, offers=_offers(one_slip))


def _offers(one_slip: Iterable[Code]) -> list[tuple[Issued, str]]:
    """Issued codes one slip away, each with what it is."""
    out = []
    for issued in codes.issued_among(g.db, one_slip):
        about = ""
        if issued.kind == "screen":
            life = screens.life(g.db, issued.thing)
            about = " · ".join(part for part in (life.mark, life.mesh.said if life.mesh else "") if part)
        elif issued.kind == "place":
            place = places.get(g.db, issued.thing)
            about = place.name if place else ""
        elif issued.kind == "job":
            job = jobs.get(g.db, issued.thing)
            about = job.sheet.title if job else ""
        out.append((issued, about))
    return out


USED = {("run", "bucket")}
"""Tickets of another kind that belong to what a phone is doing: the ink of the run that it sets up."""


def _end_task(kind: str) -> None:
    """A ticket of another kind ends what the phone was doing to every screen; nothing of the shop is written by it."""
    task = g.sign_in.doing
    if task.get("task") not in people_acts.MODES or (task["task"], kind) in USED:
        return
    reads.read_enough(g.db)
    set_doing({})
    g.over = task.get("text", "")
    if task["task"] == "place":
        g.since = task.get("begun", "")
    reads.read_on(g.db)


def _own_page(issued: Issued) -> AnyResponse:
    """The page of a job, a bucket or a place, under the address that was scanned."""
    _end_task(issued.kind)
    path = f"{PATHS[issued.kind]}/{issued.current}"
    try:
        endpoint, given = current_app.url_map.bind("").match(path, method="GET")
    except HTTPException:
        raise NotFound(_("There is no page for this code yet.")) from None
    return make_response(current_app.ensure_sync(current_app.view_functions[endpoint])(**given))


def _screen(screen: screens.Screen, replaced: str) -> AnyResponse:
    task = g.sign_in.doing
    match task.get("task"):
        case "run":
            return make_response(at_press_page(screen))
        case "fit":
            fitting = _fit(screen, task)
            if fitting is not None:
                return fitting
        case "repeat" | "place" if task.get("step") in SCREEN_STEPS:
            return _once_more(screen, task, replaced)
        case "stocktake":
            return stocktake_scan(screen, task)
    at_runs = open_runs.of(g.db, screen) if g.person.role in HANGS else None
    if at_runs is not None and len(at_runs.waiting) == 1:  # one run waits for it: its verdict, and one tap to hang it
        return verdict_page(run_plan.plan(g.db, at_runs.run), screen)
    return screen_page(screen, replaced=replaced, scanned=True, at_runs=at_runs)


def _once_more(screen: screens.Screen, task: dict[str, Any], replaced: str) -> Response:
    """The screen with one button: the step in hand, with the values that were given once."""
    step, life = task["step"], screen.life
    there = task["task"] == "place" and life.place == task.get("place") and not screen_steps.moved_on(life)
    button, given = _("{done}: this one too").format(done=_(SCREEN_STEPS[step].done)), task.get("values", {})
    hidden = [("then_to", "scan")]
    if step == "rack" and one_of(given, "place"):  # the button names the place, so no other one may be chosen beside it
        said = _("Put in {place}") if task.get("kind") == "cabinet" else _("Put on {place}")
        button, hidden = said.format(place=one_of(given, "place")), [*hidden, ("place", one_of(given, "place"))]
    without = [name for name, _value in hidden]
    form = form_of(screen, step, values=given, settled=True, hidden=hidden, without=without, button=button)
    following = next_step(g.db, screen, g.now)[0]
    return page(
        "scan/one.html",
        screen=screen,
        life=life,
        standing=_(STANDING_WORDS[life.standing]),
        form_html=form_html(form),
        there=there,
        first=needs_first(screen),
        following=_(SCREEN_STEPS[following].title) if following and following != step else "",
        against=screen_steps.against_log(g.db, screen, step),
        replaced=replaced,
    )


def _fit(screen: screens.Screen, task: dict[str, Any]) -> Response | None:
    """Whether this frame serves the separation that is looked for; None where the task no longer makes sense."""
    job = jobs.get(g.db, int(task.get("job", 0)))
    placement = int(task.get("placement", 0))
    if job is None or not 1 <= placement <= len(job.sheet.placements):
        return None
    asked = next((one for one in jobs.asked(g.db, job, placement) if one.number == task.get("station")), None)
    if asked is None:
        return None
    life = screen.life
    if life.standing in {Standing.COATED, Standing.IMAGED}:
        values = {"separations": [asked.separation]}
        verdict = judging.judged(g.db, screen.id, life, "image", values, g.now, g.person.id)
    else:
        verdict = None
    if verdict is None:
        verdict = checks.fit(life, asked, emulsion_of(g.db, life), the_spec(g.db), g.now)
    what = f"{asked.image.name}, {asked.mesh}"
    match verdict.level:
        case Level.STOP:
            fits = _("This screen does not fit: {what}")
        case Level.UNKNOWN:
            fits = _("Not known whether this screen fits: {what}")
        case _:
            fits = _("This screen fits: {what}")
    carried = life.stencil.separations if life.stencil and life.standing in IMAGE_ON else ()
    substitute = any(reason.key.startswith("mesh-") and reason.level is Level.STOP for reason in verdict.reasons)
    return page(
        "scan/fit.html",
        screen=screen,
        life=life,
        standing=_(STANDING_WORDS[life.standing]),
        asked=asked,
        verdict=verdict,
        fits=fits.format(what=what.replace(" µm", "\u00a0µm")),
        carries=asked.separation in carried,
        coated=life.standing in {Standing.COATED, Standing.IMAGED},
        substitute=substitute,
        never=any(reason.key in {"torn", "not-free"} for reason in verdict.reasons),
        accepts=ACCEPTS,
        form=form_of(screen, "coat")
        if life.standing in {Standing.BARE, Standing.STRIPPED, Standing.DEGREASED}
        else None,
    )


# Finding ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class FoundHit:
    """A thing that was found: where it leads, its name, what to know of it, and further ways (address, name, what to
    know of it)."""

    path: str
    name: str
    about: str
    ways: tuple[tuple[str, str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class FoundPage:
    """What was looked for and found. `groups`: (heading, hits, where there is more of them); `instead`: the words that
    were looked for instead; `said`: what is wrong with what looks like a code; `alike`: marks that end in the same
    number."""

    text: str
    groups: Sequence[tuple[str, Sequence[FoundHit], str]] = ()
    kind: str = ""
    instead: str = ""
    said: str = ""
    alike: Sequence[FoundHit] = ()


@bp.get("/find")
def find() -> AnyResponse:
    """By code, painted mark, or any words: of places, jobs, customers, images, buckets, lots, people. What is named
    exactly, and alone, is led to at once."""
    text = request.args.get("q", "").strip()[:200]
    kind = request.args.get("kind", "")
    if not text:
        return page("scan/found.html", it=FoundPage(""), offers=[])
    said, one_slip = "", ()  # type: tuple[str, tuple[Code, ...]]
    try:
        code = read(text)
    except NoCode as fault:
        one_slip = fault.near
        # a mark such as "A 12" is no slip of a code; only what has a code's length is told about its check character
        said = str(fault) if len(fold(text)) == 6 else ""
    else:
        if codes.find(g.db, code) is not None:
            return redirect(f"/t/{code}", code=303)
        said = _("This shop never gave out the code {code}.").format(code=shown(code))
        one_slip = near(code)
    marked = screens.by_mark(g.db, text)
    named = [] if kind else _named(text, marked)
    if len(named) == 1:
        return redirect(named[0], code=303)
    found = search_now.search(reader(), actor(), text, kind, marked)
    groups = [
        (_(KIND_WORDS[one.kind]), [_shown_hit(hit) for hit in one.hits], _more(text, one)) for one in found.groups
    ]
    alike = [] if found.groups or said else search_now.said_of_screens(reader(), screens.marks_alike(g.db, text))
    shown_now = FoundPage(
        text, groups, kind if kind in KIND_WORDS else "", found.instead, said, [_shown_hit(hit) for hit in alike]
    )
    offers = [] if found.groups and not found.instead else _offers(one_slip)
    return page("scan/found.html", 200 if groups else 404, it=shown_now, offers=offers)


def _named(text: str, marked: Sequence[int]) -> list[str]:
    """Where what carries just this mark, name or number leads."""
    out = [_way_to("screen", one.code) for one in screens.many(g.db, list(marked))]
    place = places.find(g.db, text)
    if place is not None:
        out.append(_way_to("place", place.code))
    numbers = jobs.by_reference(g.db, text)
    out += [_way_to("job", one.code) for one in jobs.lines(g.db, numbers)] if numbers else []
    return out


def _shown_hit(hit: search_now.FoundThing) -> FoundHit:
    """A hit with the ways that this person may take from it."""
    match hit.kind:
        case "customer":
            return FoundHit(f"/jobs?{urlencode({'q': hit.key})}", hit.name, hit.about)
        case "lot":
            return FoundHit(f"/desk/trace?{urlencode({'lot': hit.key})}", hit.name, hit.about)
        case "person":
            more = (("/people", _("Role and PIN"), ""),) if may("people.people") else ()
            return FoundHit(f"/log?{urlencode({'who': hit.key})}", hit.name, hit.about, more)
        case "separation":
            ways = tuple((_way_to("screen", code), shown(Code(code)), about) for code, about in hit.screens)
            return FoundHit(_way_to("job", hit.job) if hit.job else "", hit.name, hit.about, ways)
    return FoundHit(_way_to(hit.kind, hit.key), hit.name, hit.about)


def _more(text: str, group: search_now.HitGroup) -> str:
    return f"/find?{urlencode({'q': text, 'kind': group.kind})}" if group.more else ""


def _way_to(kind: str, code: str) -> str:
    """The page of what was found; while this phone is doing something, as if it had been scanned."""
    return f"/t/{code}" if g.sign_in.doing.get("task") else f"{PATHS[kind]}/{code}"


# What the phone is doing --------------------------------------------------------------------------------------------


@bp.get("/doing")
def doing() -> Response:
    """What this phone is doing, and how to go on."""
    task = g.sign_in.doing
    step = SCREEN_STEPS.get(task.get("step", ""))
    place = places.get(g.db, int(task["place"])) if task.get("task") == "place" and task.get("place") else None
    return page("scan/doing.html", task=task, step=step, place=place)


@bp.post("/doing/repeat")
def repeat() -> AnyResponse:
    """From here on: this step, with the values of the entry `of`, on every screen scanned."""
    entry = entries.find(g.db, one_of(form_lists(), "of"))
    if entry is None or entry.screen is None:
        raise NotFound(_("There is no such entry: log the step on one screen first."))
    if entry.step in NOT_REPEATED or entry.step not in SCREEN_STEPS:
        raise Refused(_("This step is about one screen only: log it on each by itself."))
    values = again(g.db, entry)
    left_out = [one.name for one in SCREEN_STEPS[entry.step].fields if one.name not in values]
    said = said_now.text(reader(), entry, without=tuple(left_out))
    task: dict[str, Any] = {"task": "repeat", "step": entry.step, "values": values, "said": said, "count": 0}
    if entry.step == "rack" and (place := places.get(g.db, int(entry.values.get("place", 0)))) is not None:
        task["kind"] = place.kind
    set_doing(doing_web.with_text(task))
    return redirect("/doing", code=303)


@bp.post("/doing/place")
def into_place() -> AnyResponse:
    """From here on: every screen scanned is put on the place `place`."""
    place = find_now.place(g.db, one_of(form_lists(), "place"))
    task = {
        "task": "place",
        "step": "rack",
        "place": place.id,
        "name": place.name,
        "code": place.code,
        "kind": place.kind,
        "values": {"place": [place.name]},
        "count": 0,
        "begun": stamp(g.now),
    }
    set_doing(doing_web.with_text(task))
    return redirect("/doing", code=303)


@bp.post("/doing/done")
def done() -> AnyResponse:
    """The task is finished; on to `next`."""
    set_doing({})
    return redirect(local_path(one_of(form_lists(), "next")), code=303)
