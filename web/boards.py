"""The boards: what the screen room does next, and the manager's desk; each also as a sheet to print and pin up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Response, current_app, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import nightly
from tickets.actions import people as people_acts
from tickets.calculator.numerals import counted
from tickets.calculator.verdict import say
from tickets.domain import outside
from tickets.domain.refusal import NotFound
from tickets.domain.screens import works
from tickets.domain.screens.frames import Has, Progress, Serves
from tickets.domain.screens.needs import WHY_NONE, going
from tickets.domain.screens.screen import Life
from tickets.domain.stages import STANDING_WORDS
from tickets.domain.steps import SCREEN_STEPS, WASHOUT_FAULTS
from tickets.i18n import N_, ngettext
from tickets.i18n import gettext as _
from tickets.queries import boards as boards_now
from tickets.queries import colour, desk_today, find, learning, mesh_lives
from tickets.queries import desk as desk_now
from tickets.store import jobs, places, runs
from web.log import seen_at
from web.may import may
from web.support import form_lists, local_date, local_time, page, set_doing, zone

bp = Blueprint("boards", __name__)

DAYS = (3, 7, 14, 30)
FIRST_NEAR = 5

TO_DO = {
    "washout": (N_("Wash out {n} screen"), N_("Wash out {n} screens")),
    "check": (N_("Check {n} screen on the light table"), N_("Check {n} screens on the light table")),
    "expose": (N_("Expose {n} screen"), N_("Expose {n} screens")),
    "image": (N_("Image {n} coated screen"), N_("Image {n} coated screens")),
    "clean": (N_("Clean {n} screen that came off a press"), N_("Clean {n} screens that came off a press")),
    "strip": (N_("Reclaim {n} screen"), N_("Reclaim {n} screens")),
    "decide": (
        N_("Decide about {n} screen: it was to be reclaimed, but a job needs it"),
        N_("Decide about {n} screens: they were to be reclaimed, but jobs need them"),
    ),
    "stretch": (N_("Restretch {n} frame"), N_("Restretch {n} frames")),
    "retension": (N_("Retension {n} frame: under the floor"), N_("Retension {n} frames: under the floor")),
    "found": (
        N_("Look at {n} screen: its log does not say how far it is"),
        N_("Look at {n} screens: their log does not say how far they are"),
    ),
}
"""What is to be done with the screens that wait, by the step that comes next."""

OF_STANDING = {
    "kept": (
        N_("Clean {n} kept screen, then put it away"),
        N_("Clean {n} kept screens, then put them away"),
    ),
    "slack": (
        N_("Stretch new mesh on {n} frame: under the floor"),
        N_("Stretch new mesh on {n} frames: under the floor"),
    ),
}
"""The same step in other words, for screens of a stage by themselves."""


def to_do_words(stage: boards_now.Stage) -> str:
    """A line of the list of what is to be done: an act and how many."""
    own = OF_STANDING.get(stage.standing) if stage.step != "retension" else None
    words = own or TO_DO.get(stage.step)
    if words is None:
        title = _(SCREEN_STEPS[stage.step].title) if stage.step in SCREEN_STEPS else _(STANDING_WORDS[stage.standing])
        return _("{step}: {n}").format(step=title, n=stage.screens)
    return ngettext(*words, stage.screens).format(n=stage.screens)


GROUP_WORDS = {
    "free": N_("free"),
    "slack": N_("too slack"),
    "in work": N_("in work"),
    "ready": N_("ready"),
    "on press": N_("on press"),
    "kept": N_("kept"),
    "to clean or strip": N_("to clean or reclaim"),
    "to restretch": N_("to restretch"),
    "away": N_("away"),
    "unknown": N_("unknown"),
}


DESK_PAGES = (
    ("/desk", N_("Desk")),
    ("/desk/short", N_("Where frames run out")),
    ("/desk/pool", N_("Frames: have and need")),
    ("/desk/wrong", N_("What goes wrong")),
    ("/desk/limits", N_("Warnings shown too often")),
    ("/desk/kept", N_("Kept screens")),
    ("/desk/trace", N_("Trace a lot")),
    ("/desk/stocktake", N_("Stock-take")),
    ("/desk/files", N_("Files")),
)
"""The desk's pages, as each of them leads to the others."""
KEPT_PAGES = (
    ("/spec", N_("Limits")),
    ("/people", N_("People")),
    ("/places", N_("Racks, presses, other places")),
    ("/exposure-units", N_("Exposure units")),
    ("/settings", N_("Settings, steps that are logged")),
)
"""What the manager keeps, each change with who and when."""


def _guessed() -> list[tuple[str, str, int]]:
    """For whom many PINs were tried of late: day, name, how many; for the manager alone."""
    if not may("people.people"):
        return []
    return people_acts.guessed(g.db, current_app.config["FILE"], g.now)


def desk_pages() -> tuple[tuple[str, str], ...]:
    """The desk's pages that this person may open, as each of them leads to the others."""
    return tuple(one for one in DESK_PAGES + KEPT_PAGES if one[0] != "/people" or may("people.people"))


@bp.get("/screen-room")
def screen_room() -> Response:
    """Screens to make, the frames that would serve, and what waits; `need=1`: only those without a screen."""
    paper, need = request.args.get("print") == "1", request.args.get("need") == "1"
    most = boards_now.SHEET if paper else boards_now.PAGE
    board = boards_now.screen_room(g.db, g.now, _after(request.args.get("after", "")), need, most)
    return page(
        "boards/screen_room.html",
        jobs=_by_job(board.groups),
        to_do=boards_now.to_do(g.db, g.now),
        place_names=boards_now.place_names(g.db),
        need=need,
        paper=paper,
        now=g.now,
        more=_next(board.after, need, paper),
        state_words=state_words,
        going=going,
        why_words=why_words,
        to_do_words=to_do_words,
        made_tight=works.made_tight,
        standing_words=STANDING_WORDS,
        steps=SCREEN_STEPS,
        today=g.now.astimezone(zone()).date().isoformat(),
        due_words=due_words,
    )


@dataclass(frozen=True, slots=True)
class JobLines:
    """A job of the board, said once; its placements, each with the lines that wait and the ready ones."""

    first: boards_now.PlacementGroup
    placements: tuple[
        tuple[boards_now.PlacementGroup, tuple[boards_now.BoardLine, ...], tuple[boards_now.BoardLine, ...]], ...
    ]


def _by_job(groups: Sequence[boards_now.PlacementGroup]) -> list[JobLines]:
    """The placements under their jobs: what needs a screen first, then what is on its way; ready ones apart."""
    jobs: dict[
        str, list[tuple[boards_now.PlacementGroup, tuple[boards_now.BoardLine, ...], tuple[boards_now.BoardLine, ...]]]
    ] = {}
    for group in groups:
        waiting = [line for line in group.lines if line.progress.has not in boards_now.TO_HAND]
        waiting.sort(key=lambda line: line.progress.has.covered)
        ready = tuple(line for line in group.lines if line.progress.has in boards_now.TO_HAND)
        jobs.setdefault(group.code, []).append((group, tuple(waiting), ready))
    return [JobLines(parts[0][0], tuple(parts)) for parts in jobs.values()]


def _after(text: str) -> boards_now.Place | None:
    """Where the page starts: `2026-03-09.17.1.4`; anything else starts at the top."""
    first, *rest = text.split(".")
    day, numbers = outside.day(first), [counted(part, -1) for part in rest]
    if day is None or len(numbers) != 3 or min(numbers) < 0:
        return None
    return (day.isoformat(), numbers[0], numbers[1], numbers[2])


def _next(after: boards_now.Place | None, need: bool, paper: bool) -> str:
    if after is None:
        return ""
    asked = {
        "after": ".".join(str(part) for part in after),
        **({"need": 1} if need else {}),
        **({"print": 1} if paper else {}),
    }
    return "/screen-room?" + urlencode(asked)


def due_words(due: str) -> str:
    """A due day as it is said on a board: today, tomorrow, or how many days are left."""
    days = (date.fromisoformat(due) - g.now.astimezone(zone()).date()).days
    if days < 0:
        return ngettext("{days} day late", "{days} days late", -days).format(days=-days)
    if days == 0:
        return _("today")
    if days == 1:
        return _("tomorrow")
    return ngettext("in {days} day", "in {days} days", days).format(days=days)


def state_words(progress: Progress, names: dict[int, str], ready_at: datetime | None = None) -> tuple[str, str]:
    """What screen a separation has: the word first, then where, how far, and when it can be ready."""
    frame = progress.frame
    if frame is None:
        return _("no screen"), ""
    life = frame.life
    where = names.get(life.place or 0, "")
    on = seen_at(life, on_place(life.place, where)) if where else _("place not noted")
    match progress.has:
        case Has.READY:
            return _("ready"), on
        case Has.KEPT:
            return _("kept from an earlier run"), on
        case Has.ON_PRESS:
            return _("on press"), _("run {number}").format(number=life.run) if life.run else ""
        case Has.ELSEWHERE:
            return _("on press now for another print:"), _("run {number}").format(number=life.run)
        case Has.UNDER_WAY:
            return _("on the way:"), " · ".join([", ".join(_on_the_way(progress, life, ready_at)), on])
        case Has.OFF_PRESS:
            return _("off press, stencil still on"), " · ".join([_("clean it, check it, keep it"), on])
        case Has.GOING:
            return _(WHY_NONE[going(life)]), on
        case Has.MISSING:
            gone = names.get(life.not_at or 0, "")
            return _("missing"), _("missing since the stock-take of {place}").format(place=gone)
        case Has.AWAY:
            return _("away"), _("since {time}").format(time=local_date(life.since))
        case Has.UNSURE:
            return _("unclear"), _("its log does not say how far it is: look at it") + f" · {on}"
    stops = [say(reason).sentence for reason in progress.verdict.reasons[:1]] if progress.verdict else []
    return _("no right screen"), " ".join(stops)


def _on_the_way(progress: Progress, life: Life, ready_at: datetime | None) -> list[str]:
    """How far a screen is that is being made: its stage, its fault, when it is dry, next step, when it is ready."""
    how = [] if progress.next_step == "check" else [_(STANDING_WORDS[life.standing])]
    if life.stencil is not None and life.stencil.failed:
        fault = _(dict(WASHOUT_FAULTS).get(life.stencil.fault, "")) or _("a fault")
        how.insert(0, _("{fault} seen at the washout, to be mended").format(fault=fault))
    if progress.dry_at is not None:
        how.append(_("dry about {time}").format(time=clock(progress.dry_at)))
    if progress.next_step in SCREEN_STEPS:
        how.append(_("next: {step}").format(step=_(SCREEN_STEPS[progress.next_step].title).lower()))
    if ready_at is not None and g.now < ready_at != progress.dry_at:
        at = local_time(ready_at) if ready_at - g.now > timedelta(hours=12) else clock(ready_at)
        how.append(_("ready about {time}").format(time=at))
    return how


def clock(at: datetime) -> str:
    """The time of day, in the shop's zone."""
    return f"{at.astimezone(zone()):%H:%M}"


def on_place(number: int | None, name: str) -> str:
    """Where a screen lies: on a rack, in a cabinet."""
    if "cabinets" not in g:
        g.cabinets = frozenset(place.id for place in places.every(g.db, "cabinet"))
    said = _("in {place}") if number in g.cabinets else _("on {place}")
    return said.format(place=name)


def why_words(serves: Serves) -> list[tuple[str, str]]:
    """Why a frame would serve, in a few words each: (level, words)."""
    return [(str(reason.level), say(reason, g.settings["units"]).sentence) for reason in serves.why]


@bp.post("/screen-room/pick")
def pick() -> AnyResponse:
    """From here on each scanned frame is answered for one separation: fit, or not and why."""
    form = form_lists()
    job = find.job(g.db, _one(form, "job"))
    placement, station = _one(form, "placement"), _one(form, "station")
    placements = job.sheet.placements
    number = counted(placement)
    if not 1 <= number <= len(placements):
        raise NotFound(_("This job has no such placement."))
    found = next((one for one in placements[number - 1].printing if str(one.number) == station), None)
    if found is None or found.mesh is None:
        raise NotFound(_("This placement prints nothing at that place of its order."))
    text = _("Pick a frame for {image}, {mesh} ({job}): scan frames").format(
        image=found.separation, mesh=found.mesh.count_as_labelled, job=job.sheet.title
    )
    work = placements[number - 1].work
    task = {"task": "fit", "job": job.id, "placement": number, "station": found.number, "work": work, "text": text}
    set_doing(task)
    return redirect("/screen-room", code=303)


def _one(form: dict[str, list[str]], name: str) -> str:
    return next((text.strip() for text in form.get(name, ()) if text.strip()), "")


@bp.get("/desk")
def desk() -> Response:
    """Jobs of the next days against screens, frames by mesh and stage, and what is due."""
    asked = request.args.get("days", "")
    days = counted(asked) if counted(asked) in DAYS else 7
    return page(
        "boards/desk.html",
        more=desk_pages()[1:],
        desk=desk_today.desk(g.db, g.now, days),
        backups=None if g.settings["demo"] else nightly.standing(g.db, g.now),
        backup_wrong=nightly.wrong,
        guessed=_guessed(),
        off_colour=[
            (run, jobs.get(g.db, run.job, run.version), [say(one) for one in told], passed)
            for run, told, passed in colour.off_lately(runs.latest(g.db, boards_now.NEWEST_RUNS))
        ],
        shortages=[one for one in desk_now.ahead(g.db, g.now, days).meshes if one.short or one.rests],
        near=mesh_lives.near_end(g.db, FIRST_NEAR),
        lamps=learning.lamps_due(g.db, g.now),
        times_off=learning.every_set_time_off(g.db, g.now),
        days=days,
        choices=DAYS,
        groups=[(name, _(word), list(desk_today.GROUPS[name])) for name, word in GROUP_WORDS.items()],
        place_names=boards_now.place_names(g.db),
        paper=request.args.get("print") == "1",
        now=g.now,
        due_words=due_words,
        state_words=state_words,
        bucket_words=_bucket_words,
        standing_words=STANDING_WORDS,
        many=desk_today.MOST_COUNTED,
    )


def _bucket_words(due: Any) -> str:
    """What is wrong with a bucket, in a few words."""
    if due.failed:
        return _("its test strip failed: discard it")
    hours = due.hours or 0.0
    days = round(abs(hours) / 24)
    if hours < 0:
        left = (
            ngettext("{days} day", "{days} days", days).format(days=days)
            if days
            else _("{hours} h").format(hours=round(-hours))
        )
        return _("expired {left} ago").format(left=left)
    return _("good until {time}").format(time=local_time(due.bucket.good_until))
