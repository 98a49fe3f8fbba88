"""The boards: what the screen room does next, and the manager's desk; each also as a sheet to print and pin up."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from flask import Blueprint, Response, current_app, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import mail, nightly
from tickets.actions import people as people_acts
from tickets.calculator.numerals import counted
from tickets.domain import outside
from tickets.domain.refusal import NotFound
from tickets.i18n import gettext as _
from tickets.queries import boards as boards_now
from tickets.queries import desk_now, find, room_now
from web.may import may
from web.support import form_lists, page, reader, set_doing

bp = Blueprint("boards", __name__)

DAYS = (3, 7, 14, 30)


def _guessed() -> list[tuple[str, str, int]]:
    """For whom many PINs were tried of late: day, name, how many; for the manager alone."""
    if not may("people.people"):
        return []
    return people_acts.guessed(g.db, current_app.config["FILE"], g.now)


@bp.get("/screen-room")
def screen_room() -> Response:
    """Screens to make, the frames that would serve, and what waits; `need=1`: only those without a screen."""
    paper, need = request.args.get("print") == "1", request.args.get("need") == "1"
    most = boards_now.SHEET if paper else boards_now.PAGE
    it = room_now.of(reader(), _after(request.args.get("after", "")), need, most)
    return page("boards/screen_room.html", it=it, need=need, paper=paper, more=_next(it.after, need, paper), now=g.now)


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


@dataclass(frozen=True, slots=True)
class DeskAsked:
    """The desk as it was asked for (`days`: so many; `paper`: to print), and what is the manager's alone: for whom many
    PINs were tried, how the backups are (None: the demo makes none) and what is said of them, and why the daily mail
    could not be sent (empty: it could)."""

    days: int
    paper: bool
    guessed: tuple[tuple[str, str, int], ...]
    backups: nightly.BackupStanding | None
    told: tuple[str, ...]
    mail: str
    choices: tuple[int, ...] = DAYS

    @property
    def warned(self) -> bool:
        """Whether somebody is to look at the backups."""
        return self.backups is not None and self.backups.warned


@bp.get("/desk")
def desk() -> Response:
    """Jobs of the next days against screens, frames by mesh and stage, and what is due."""
    asked = request.args.get("days", "")
    days = counted(asked) if counted(asked) in DAYS else desk_now.DAYS
    backups = None if g.settings["demo"] else nightly.standing(g.db, g.now)
    paper = request.args.get("print") == "1"
    told = nightly.told(reader(), backups) if backups and backups.warned else ()
    unsent = mail.wrong(g.db, g.now) if may("settings.change_mail") else ""
    shown = DeskAsked(days, paper, tuple(_guessed()), backups, tuple(told), unsent)
    template = "boards/desk_paper.html" if paper else "boards/desk.html"
    return page(template, it=desk_now.of(reader(), days), asked=shown, paper=paper, now=g.now)
