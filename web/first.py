"""The first day of a shop: what it is called and how it works on one page, then the first steps, which tick themselves
off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import first as acts
from tickets.domain.desk.shop_settings import LOGGED, ON_PAGE
from tickets.domain.papers.ticket import is_loopback
from tickets.domain.refusal import NotAllowed, Refused
from tickets.domain.stages import ALWAYS_LOGGED, LOGGED_BY_DEFAULT
from tickets.domain.steps import SCREEN_STEPS
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import addresses
from tickets.queries.addresses import QrDrawing
from tickets.store import first as store_first
from web.support import actor, confirm, faults_by_field, form_lists, one_of, page

bp = Blueprint("first", __name__)

BY_HAND = "list"
"""The choice of steps that is ticked one by one."""


@dataclass(frozen=True, slots=True)
class FirstPage:
    """The first page: what stands in its fields, how much may be logged, the steps with those that are ticked, the
    address of this machine with its code (None: it is on no network)."""

    values: Mapping[str, str]
    rows: Mapping[str, Any]
    logged: Sequence[tuple[str, str]]
    chosen: str
    steps: Sequence[tuple[str, str]]
    ticked: Sequence[str]
    reach: str
    code: QrDrawing | None


class FirstStep(NamedTuple):
    """A step of the first days: what is to be there, why, where it is done, and who comes to it first."""

    name: str
    word: str
    about: str
    path: str


STEPS = (
    FirstStep("people", N_("Add the people"), N_("each with a role and a PIN"), "/people"),
    FirstStep("presses", N_("Add the presses"), N_("each with its heads; they get tags too"), "/places"),
    FirstStep("racks", N_("Add the racks"), N_("many at once, below"), "/first-steps#racks"),
    FirstStep("frames", N_("Bring in the frames"), N_("from a spreadsheet, or a few by hand"), "/bring?kind=frames"),
    FirstStep("tags", N_("Print the tags of the frames"), N_("and fix them on"), "/bring"),
    FirstStep("job", N_("Enter the first job"), N_("and print its ticket"), "/jobs/new"),
    FirstStep("scan", N_("Scan the first tag"), N_("with any phone, and log what was done"), "/screen-room"),
)


@bp.get("/start")
def start() -> Response:
    """What a new shop is asked, on one page."""
    return _start()


def _start(refused: Refused | None = None) -> Response:
    sent, kept = form_lists() if refused else {}, g.settings
    reach = _reach()
    usual = {"zone": addresses.machine_zone() if kept["zone"] == ON_PAGE["zone"].default else "", "address": reach}
    values = {name: one_of(sent, name) if sent else str(kept[name]) or usual.get(name, "") for name in acts.ASKED}
    if not sent and usual["zone"]:
        values["zone"] = usual["zone"]
    ticked = sent.get("step", ()) if sent else kept["steps"]
    asked = FirstPage(
        values,
        ON_PAGE,
        [*((name, word) for name, (word, _steps) in LOGGED.items()), (BY_HAND, N_("what I tick below"))],
        one_of(sent, "logged") or _logged_as(kept["steps"]),
        [(name, _(SCREEN_STEPS[name].title)) for name in LOGGED_BY_DEFAULT if name not in ALWAYS_LOGGED],
        ticked,
        reach,
        addresses.qr_drawing(f"{reach}/") if reach else None,
    )
    return page("first/start.html", refused.status if refused else 200, it=asked, faults=faults_by_field(refused))


def _logged_as(steps: Sequence[str]) -> str:
    """Which of the choices a shop logs by; what is ticked where it is none of them."""
    return next((name for name, (_word, some) in LOGGED.items() if set(some) == set(steps)), BY_HAND)


def _reach() -> str:
    """The address by which phones reach this machine; empty: it is on no network. What this page was asked by, where
    that is not this machine's own loop."""
    asked = request.host_url.rstrip("/")
    if not is_loopback(asked):
        return asked
    lan = addresses.lan_address()
    port = request.host.rpartition(":")[2] if ":" in request.host else ""
    return f"http://{lan}{':' + port if port else ''}" if lan else ""


@bp.post("/start")
def keep() -> AnyResponse:
    """Keeps them all, or says what is wrong with each."""
    sent = form_lists()
    given: dict[str, Any] = {name: one_of(sent, name) for name in acts.ASKED if name != "steps"}
    logged = one_of(sent, "logged")
    given["steps"] = list(LOGGED[logged][1]) if logged in LOGGED else [*sent.get("step", ()), *ALWAYS_LOGGED]
    try:
        confirm()  # every code printed from now on leads to the address
        acts.set_up(g.db, actor(), given, now=g.now)
    except NotAllowed:
        raise
    except Refused as refused:
        return _start(refused)
    return redirect("/first-steps", code=303)


@bp.get("/first-steps")
def steps() -> Response:
    """The steps of the first days; what is there is ticked off."""
    return _steps()


def _steps(refused: Refused | None = None) -> Response:
    done = store_first.there(g.db)
    values = form_lists() if refused else {}
    return page(
        "first/steps.html",
        refused.status if refused else 200,
        steps=STEPS,
        done=done,
        faults=faults_by_field(refused),
        values=values,
    )


@bp.post("/first-steps/racks")
def racks() -> AnyResponse:
    """Racks, many at once."""
    sent = form_lists()
    try:
        acts.add_places(
            g.db, actor(), one_of(sent, "name"), "rack", one_of(sent, "many"), post=one_of(sent, "entry"), now=g.now
        )
    except NotAllowed:
        raise
    except Refused as refused:
        return _steps(refused)
    return redirect("/first-steps", code=303)
