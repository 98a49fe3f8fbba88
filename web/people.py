"""Who holds the phone: sign-in, hand-over, what it is doing, its view; the people of the shop."""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import timedelta
from urllib.parse import quote

from flask import Blueprint, Response, current_app, g, redirect, request
from werkzeug.exceptions import HTTPException
from werkzeug.wrappers import Response as AnyResponse

from tickets import i18n
from tickets.actions import people as people_acts
from tickets.domain import overtaken
from tickets.domain.desk.shop_settings import SETTINGS
from tickets.domain.grounds import GROUNDS
from tickets.domain.person import ROLES, role_said
from tickets.domain.refusal import NotFound, Refused
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.store import first as store_first
from tickets.store import people as rows
from tickets.store.people import Person
from web import coming_back, menu
from web.changes import HistoryLine, past
from web.coming_back import SentForm
from web.glossary import explained
from web.lists import ListHead, Listing, asked_for, listing
from web.may import ANYBODY
from web.support import (
    COOKIE,
    LANGUAGE,
    actor,
    asked,
    confirm,
    cookie,
    faults_by_field,
    form_lists,
    held,
    here,
    keep_count,
    local_path,
    page,
    page_exists,
    row_number,
    set_doing,
)

bp = Blueprint("people", __name__)

UNKEPT = re.compile(r"/hand-over|/sign-out|/doing/.*")
"""Posts in which nothing is filled in."""
MOST = 1_000_000
"""Bytes of a form that are read of a phone that is signed out."""
DEVICE = "device"
"""The cookie that a phone on which somebody signed in is known by; it signs nobody in."""

ANYTHING = frozenset({"frames", "job"})
"""Of what a new shop's first days need that which the desk shows: without any there is nothing on it."""
FIRST_PAGE = {"screen room": "/screen-room", "press": "/press", "press lead": "/press", "manager": "/desk"}


@bp.get("/ping")
def ping() -> Response:
    """Says that the server is there."""
    return current_app.response_class("ok", mimetype="text/plain")


@bp.get("/favicon.ico")
def icon() -> Response:
    """The mark that browsers ask for on their own."""
    return current_app.send_static_file("icon.svg")


YEAR_S = 365 * 24 * 3600
"""How long a phone keeps its view and its language."""


@bp.get("/")
def first() -> AnyResponse:
    """The first page of this person's role; the manager's of a shop with nothing in it yet are its first steps."""
    path = FIRST_PAGE.get(g.person.role, "/more")
    if g.person.role == "manager" and not store_first.there(g.db) & ANYTHING:
        path = "/first-steps"
    return redirect(path if page_exists(path) else "/more", code=303)


@bp.get("/more")
def more() -> Response:
    """Every page that this person may open, with what it is about."""
    return page("people/more.html", groups=menu.every_page(g.person.role))


@bp.get("/words")
def words() -> Response:
    """The trade's words as the program uses them; whoever is not signed in may read them too."""
    return page("words.html", groups=explained(), grounds=GROUNDS)


# -- who holds the phone


def wall() -> AnyResponse | None:
    """Before every page: who is signed out signs in first, and what was filled in by one person is not logged as
    another's."""
    mine, this = held(), asked()
    if mine.get("db") is None or current_app.config["WHO"].get(this.endpoint) is ANYBODY:
        return None
    post = this.method == "POST" and not UNKEPT.fullmatch(this.path)
    if mine.person is not None:
        anothers = post and coming_back.made_for(this.form.get("entry", "")) not in (None, mine.person.id)
        return _not_logged(409, "another") if anothers else None
    if post:
        this.max_content_length = MOST
        with suppress(HTTPException):
            if cookie(COOKIE) in this.cookies or coming_back.made_for(this.form.get("entry", "")) is not None:
                return _not_logged(401, "signed-out")
    return redirect(f"/sign-in?next={quote(here(), safe='/')}", code=303)


def _not_logged(status: int, why: str) -> Response:
    """The sign-in page with what was sent. `why`: signed-out, another; the header `Not-Logged` tells the script."""
    kept = coming_back.as_sent()
    number = coming_back.made_for(kept.entry)
    name = rows.names(g.db).get(number, "") if number is not None else ""
    response = sign_in_page(kept.back, name=name, kept=kept, status=status)
    response.headers["Not-Logged"] = why
    return response


@bp.get("/sign-in")
def sign_in_form() -> Response:
    """Names to tap, PIN or password to type. A language that is chosen here is kept on this phone, and for whoever then
    signs in by this page."""
    chosen = request.args.get("language", "")
    if chosen not in i18n.LANGUAGES:
        return sign_in_page(request.args.get("next"))
    i18n.use(chosen)
    response = sign_in_page(request.args.get("next"), language=chosen)
    response.set_cookie(LANGUAGE, chosen, max_age=YEAR_S, httponly=True, samesite="Lax", secure=request.is_secure)
    return response


def sign_in_page(
    back_to: str | None,
    refused: Refused | None = None,
    name: str = "",
    kept: SentForm | None = None,
    status: int = 200,
    language: str = "",
) -> Response:
    """Names to tap, PIN or password to type. `kept`: what was sent and not logged, which this page carries on;
    `language`: what was just chosen."""
    held().chosen = language
    taps = people_acts.may_tap(g.db, g.sign_in, g.now) if g.sign_in else []
    taps = [person for person in taps if g.person is None or person.id != g.person.id]
    here_by_tap = {person.id for person in taps}
    return page(
        "people/sign_in.html",
        refused.status if refused else status,
        not_done=_("Not signed in") if refused else _("Not saved") if kept else "",
        taps=taps,
        people=[person for person in rows.every(g.db) if person.secret and person.id not in here_by_tap],
        back_to=local_path(back_to),
        name=name,
        faults=faults_by_field(refused),
        kept=kept,
    )


@bp.post("/sign-in")
def sign_in() -> AnyResponse:
    """Signs in by name and secret, and goes back to what was scanned."""
    form = form_lists()
    name = _one(form, "name") or _one(form, "who")
    back_to = local_path(_one(form, "next") or request.args.get("next"))
    come = _come()
    try:
        token, made = people_acts.sign_in(
            g.db, name, _one(form, "secret", strip=False), g.now, phone=g.token, view=g.view, come=come
        )
    except Refused as refused:
        current_app.logger.warning("sign-in refused for %r (%s)", name[:60], refused.status)
        response = sign_in_page(back_to, refused, name, coming_back.carried(), language=_chosen(form))
        if seconds := getattr(refused, "seconds", None):
            response.headers["Retry-After"] = str(seconds)
        return response
    current_app.logger.info("signed in: person %s", made.person)
    _keep_chosen(made.person, form)
    return _hold(_on(back_to, token), token, come)


def _chosen(form: dict[str, list[str]]) -> str:
    """The language that was chosen on the page to sign in before this form was sent; the page goes on in it."""
    language = _one(form, "language")
    if language not in i18n.LANGUAGES:
        return ""
    i18n.use(language)
    return language


def _keep_chosen(person: int | None, form: dict[str, list[str]]) -> None:
    """What was chosen on the page to sign in goes with who signed in by it, to any phone."""
    if person is not None and (language := _chosen(form)):
        people_acts.reads_in(g.db, person, language=language)


def _on(back_to: str, token: str) -> AnyResponse:
    """Where who holds the phone now goes on: at the form that was not logged, else where they came from."""
    kept = coming_back.carried()
    return redirect(back_to, code=303) if kept is None else coming_back.form_again(kept, token)


def _come() -> people_acts.Come:
    """Where a sign-in comes from; a phone that nobody signed in on before gets what it is known by when one does."""
    kept = request.cookies.get(cookie(DEVICE), "")
    device = kept if re.fullmatch(r"[\w-]{43}", kept) else secrets.token_urlsafe(32)
    return people_acts.Come(request.remote_addr or "", device)


def _hold(response: AnyResponse, token: str, come: people_acts.Come) -> AnyResponse:
    """Gives the phone its token, and what it is known by later; `Secure` where a proxy speaks HTTPS with the phone."""
    for name, value, longest in ((COOKIE, token, people_acts.LONGEST), (DEVICE, come.device, people_acts.KNOWN_FOR)):
        age, secure = int(longest.total_seconds()), request.is_secure
        response.set_cookie(cookie(name), value, max_age=age, httponly=True, samesite="Lax", secure=secure)
    return response


@bp.post("/hand-over")
def hand_over() -> AnyResponse:
    """A tap on a name."""
    form = form_lists()
    taken = people_acts.hand_over(g.db, g.token, _one(form, "name"), g.now)
    current_app.logger.info("handed over: person %s", taken.person)
    _keep_chosen(taken.person, form)
    return _on(local_path(_one(form, "next") or request.args.get("next")), g.token)


@bp.post("/sign-out")
def sign_out() -> AnyResponse:
    """Ends the phone's sign-in."""
    keep_count()
    people_acts.sign_out(g.db, g.token)
    response = redirect("/sign-in", code=303)
    response.delete_cookie(cookie(COOKIE), httponly=True, samesite="Lax", secure=request.is_secure)
    return response


@bp.post("/doing/leave")
def leave_task() -> AnyResponse:
    """The way out of what the phone is doing."""
    set_doing({})
    return redirect(here(), code=303)


@bp.post("/view")
def view() -> AnyResponse:
    """Day or safelight. SentForm in a cookie too, so that the sign-in page of a phone in the dark stays dark."""
    wanted = request.form.get("view", "")
    wanted = wanted if wanted in people_acts.VIEWS else "day"
    if g.token:
        people_acts.set_view(g.db, g.token, wanted)
    response = redirect(local_path(request.form.get("next")), code=303)
    secure = request.is_secure
    response.set_cookie("view", wanted, max_age=YEAR_S, httponly=True, samesite="Lax", secure=secure)
    return response


# -- what somebody reads in


@bp.get("/mine")
def mine() -> Response:
    """The language and the units that who holds the phone reads in."""
    return _mine_page()


@dataclass(frozen=True, slots=True)
class MineShown:
    """What somebody may read in, and does: each name with its words; `shops`: the shop's units in words."""

    languages: Sequence[tuple[str, str]]
    language: str
    systems: Sequence[tuple[str, str]]
    system: str
    shops: str


def _mine_page(refused: Refused | None = None) -> Response:
    systems = [(system, _(said)) for system, said in SETTINGS["units"].choices]
    shown = MineShown(
        list(i18n.LANGUAGES.items()),
        g.person.language or "",
        systems,
        g.person.units or "",
        dict(systems)[str(g.settings["units"])],
    )
    status, faults = refused.status if refused else 200, faults_by_field(refused)
    return page("people/mine.html", status, it=shown, faults=faults, saved="saved" in request.args)


@bp.post("/mine")
def choose() -> AnyResponse:
    """Chooses them: for this person on any phone, and for nobody else."""
    form = form_lists()
    try:
        people_acts.reads_in(g.db, g.person.id, language=_one(form, "language"), units=_one(form, "units"))
    except Refused as refused:
        return _mine_page(refused)
    return redirect("/mine?saved=1", code=303)


# -- the people of the shop


HEADS = (
    ListHead("name", N_("Name")),
    ListHead("role", N_("Role")),
    ListHead("", N_("Signs in with")),
    ListHead("changed", N_("Last change"), down=True),
)


@dataclass(frozen=True, slots=True)
class PeopleShown:
    """The people of the shop as a table; `one`: whose form is shown; `gone`: who left, shown where `left`; `past`: the
    changes of each by number; `wrong`: wrong PINs and passwords of the last days."""

    list: Listing
    rows: Sequence[Person]
    one: Person | None
    gone: Sequence[Person]
    left: bool
    past: Mapping[int, Sequence[HistoryLine]]
    wrong: Sequence[WrongDay]
    roles: Sequence[tuple[str, str]]
    role: str
    rules: Sequence[str]
    seen: str


@bp.get("/people")
def people() -> Response:
    """Everybody here by name, role or last change, those of a role; `who`: the form to change one; `left`: who left."""
    return _people_page()


def _people_page(refused: Refused | None = None, about: int = 0) -> Response:
    form = form_lists() if refused else {}
    role = request.args.get("role", "")
    asked = asked_for("/people", {"role": role} if role in ROLES else {}, ["name", "role", "changed"], "name")
    here, changed = rows.every(g.db), past("person")
    orders: dict[str, Callable[[Person], str]] = {
        "name": lambda one: one.name.casefold(),
        "role": lambda one: one.role,
        "changed": lambda one: changed[one.id][0].at if one.id in changed else "",
    }
    found = [one for one in here if role not in ROLES or one.role == role]
    found.sort(key=lambda one: one.name.casefold())
    found.sort(key=orders[asked.order], reverse=asked.down)
    who = about or row_number(request.args.get("who"))
    one = next((one for one in here if one.id == who), None)
    shown = PeopleShown(
        listing(asked, HEADS, 0, 0, (False, False)),
        found,
        one,
        rows.gone(g.db),
        "left" in request.args,
        changed,
        _wrong(),
        [(role, role_said(role)) for role in ROLES],
        role,
        [people_acts.secret_rule(role, people_acts.pin_digits(g.db)) for role in ("press", "manager")],
        overtaken.mark(people_acts.shown_of(one)) if one else "",
    )
    return page(
        "people/people.html",
        refused.status if refused else 200,
        it=shown,
        faults=faults_by_field(refused),
        values=form,
        about=about,
        overtaken=refused if isinstance(refused, overtaken.Overtaken) else None,
    )


WRONG_SHOWN = timedelta(days=30)
WrongDay = tuple[str, str, int, list[tuple[str, int]]]


def _wrong() -> list[WrongDay]:
    """Wrong PINs and passwords of the last days: day, name, how many, and from where how many."""
    names, found = rows.names(g.db), rows.wrong(g.db, (g.now - WRONG_SHOWN).date().isoformat())
    by_day: dict[tuple[str, int], list[rows.WrongSecrets]] = {}
    for one in found:
        by_day.setdefault((one.day, one.person), []).append(one)
    return [
        (day, names[person], sum(one.many for one in group), [(_source(one.source), one.many) for one in group])
        for (day, person), group in by_day.items()
    ]


def _source(source: str) -> str:
    if not source:
        return _("a phone that signed in before")
    return _("other addresses") if source == rows.ELSEWHERE else source


@bp.post("/people")
def add_person() -> AnyResponse:
    """A new person."""
    form = form_lists()
    try:
        confirm()
        people_acts.add_person(
            g.db,
            _one(form, "name"),
            _one(form, "role"),
            _one(form, "new_secret", strip=False) or None,
            g.now,
            demo=bool(g.settings["demo"]),
            back="back" in form,
            by=actor(),
        )
    except Refused as refused:
        return _people_page(refused)
    return redirect("/people", code=303)


@bp.post("/people/<int:number>")
def change_person(number: int) -> AnyResponse:
    """Another role, another PIN or password."""
    form = form_lists()
    secret = _one(form, "new_secret", strip=False) or None
    try:
        confirm()
        demo = bool(g.settings["demo"])
        seen = _one(form, "seen")
        people_acts.change_person(g.db, number, _one(form, "role"), secret, g.now, demo=demo, by=actor(), seen=seen)
    except Refused as refused:
        return _people_page(refused, number)
    return redirect("/people", code=303)


@bp.post("/people/<int:number>/leave")
def leave(number: int) -> AnyResponse:
    """Somebody leaves the shop."""
    try:
        confirm()
        people_acts.leave(g.db, number, g.now, by=actor())
    except Refused as refused:
        return _people_page(refused, number)
    return redirect("/people", code=303)


@bp.get("/first-manager/<token>")
def first_manager_form(token: str) -> Response:
    """Where the one-time link of the first start leads."""
    if not people_acts.first_manager_waits(g.db, token, g.now):
        raise NotFound(_("This link is used up or too old. Starting the server again prints a new one."))
    return page("people/first_manager.html", faults={}, name="")


@bp.post("/first-manager/<token>")
def make_first_manager(token: str) -> AnyResponse:
    """Makes the manager, and signs in."""
    form = form_lists()
    name, secret = _one(form, "name"), _one(form, "secret", strip=False)
    try:
        people_acts.make_first_manager(g.db, token, name, secret, g.now)
    except NotFound:
        raise
    except Refused as refused:
        return page("people/first_manager.html", refused.status, faults=faults_by_field(refused), name=name)
    come = _come()
    new, _made = people_acts.sign_in(g.db, name, secret, g.now, view=g.view, come=come)
    return _hold(redirect("/start", code=303), new, come)


def _one(form: dict[str, list[str]], name: str, strip: bool = True) -> str:
    found = next((text for text in form.get(name, ()) if text.strip()), "")
    return found.strip() if strip else found
