"""Addresses that only read, by a token in them: the wall and the calendar; and the page that makes and withdraws them.

Nothing but the token is asked, and nothing but the one page is answered: no sign-in comes of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import tokens as acts
from tickets.domain.posted import Form
from tickets.domain.refusal import NotFound, Refused
from tickets.i18n import gettext as _
from tickets.queries import press_dates, wall_now
from tickets.store import tokens
from tickets.store.tokens import ReadToken
from web.changes import HistoryLine, past
from web.support import actor, confirm, faults_by_field, form_lists, page, reader

bp = Blueprint("readers", __name__)

LIGHTS = ("day", "dim", "safelight")
PATHS = {"wall": "/wall", "calendar": "/calendar.ics", "interface": "/api/"}


def _opened(scope: str) -> ReadToken:
    """The token of this address. Raises NotFound where it opens nothing, or something else."""
    found = acts.opens(g.db, request.args.get("token", ""), scope)
    if found is None:
        raise NotFound(_("Nothing is at this address, or not any more. The manager makes a new one under Settings."))
    return found


@bp.get("/wall")
def wall() -> Response:
    """What to do now, what the presses wait for, what just became ready; `light`: day, dim, safelight."""
    token = _opened("wall")  # what says that there is none is in the light of whoever asked
    light = request.args.get("light", "day")
    light = light if light in LIGHTS else "day"
    g.view = "safelight" if light == "safelight" else "day"
    found = wall_now.of(reader(), token.customers)
    return page(
        "wall/wall.html",
        it=found,
        light=light,
        late=wall_now.late_said(found),
        hours=wall_now.JUST_H,
        days=wall_now.DAYS,
    )


@bp.get("/calendar.ics")
def calendar() -> Response:
    """The press dates of the open jobs, for any calendar that subscribes to it."""
    token = _opened("calendar")
    text = press_dates.calendar_file(reader(), token.customers)
    named = {"Content-Disposition": 'inline; filename="press-dates.ics"'}
    return Response(text, mimetype="text/calendar", headers=named)


@dataclass(frozen=True, slots=True)
class WallsShown:
    """The page of such addresses: those there are, with who did what; `made`: one that was just made, which is shown
    once, as address by light (a calendar: one); `token`: that of a program, which stands in no address."""

    tokens: tuple[ReadToken, ...]
    past: dict[int, list[HistoryLine]]
    made: tuple[tuple[str, str], ...]
    again: bool
    token: str = ""
    scopes: tuple[tuple[str, str], ...] = tuple(acts.SCOPES.items())
    reads: tuple[tuple[str, str], ...] = tuple(acts.READS.items())
    posts: tuple[tuple[str, str], ...] = tuple(acts.POSTS.items())

    def parts_of(self, token: ReadToken) -> str:
        """What a program may read and do."""
        return ", ".join(_(acts.PARTS.get(one, one)) for one in token.parts)

    def word_of(self, token: ReadToken) -> str:
        """What a token is for."""
        return _(acts.SCOPES.get(token.scope, token.scope))


@bp.get("/walls")
def walls() -> Response:
    """The addresses that only read, and a form for a new one."""
    return _walls_page()


def _walls_page(
    refused: Refused | None = None,
    values: dict[str, list[str]] | None = None,
    made: tuple[tuple[str, str], ...] = (),
    again: bool = False,
    token: str = "",
) -> Response:
    it = WallsShown(tuple(tokens.every(g.db)), past("token"), made, again, token)
    status = refused.status if refused else 200
    return page("wall/walls.html", status, it=it, faults=faults_by_field(refused), values=values or {})


@bp.post("/walls")
def make() -> AnyResponse:
    """A new address. It is shown on this answer and never again: only its digest is kept."""
    sent = Form(form_lists())
    scope = sent.one("scope") or "wall"
    try:
        confirm()
        customers, parts = sent.yes("customers"), sent.sent.get("parts", ())
        made = acts.make(g.db, actor(), scope, sent.one("name"), customers, parts, post=sent.one("entry"), now=g.now)
    except Refused as refused:
        return _walls_page(refused, {name: list(some) for name, some in sent.sent.items()})
    return _walls_page(
        made=_addresses(scope, made[1]), again=not made[1], token=made[1] if scope == "interface" else ""
    )


def _addresses(scope: str, token: str) -> tuple[tuple[str, str], ...]:
    """The addresses of a token: of a wall one for each light."""
    if not token:
        return ()
    base = (g.settings["address"] or request.host_url).rstrip("/") + PATHS[scope]
    if scope == "interface":
        return (("", base),)
    more: list[dict[str, Any]] = [{"light": one} for one in LIGHTS] if scope == "wall" else [{}]
    return tuple((one.get("light", ""), f"{base}?{urlencode({'token': token, **one})}") for one in more)


@bp.post("/walls/<int:number>/withdraw")
def withdraw(number: int) -> AnyResponse:
    """From now on that address opens nothing."""
    acts.withdraw(g.db, actor(), number, post=Form(form_lists()).one("entry"), now=g.now)
    return redirect("/walls", code=303)
