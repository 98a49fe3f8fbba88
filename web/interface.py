"""What other programs read and send, by a token that is good for some parts of the shop: JSON, and its description.

A token stands in the header `Authorization: Bearer`, never in an address, which proxies and browsers keep."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from typing import Any

from flask import Blueprint, Response, g, request
from werkzeug.exceptions import HTTPException

from tickets import __version__
from tickets.actions import people, programs, tokens
from tickets.calculator.numerals import counted
from tickets.domain import outside
from tickets.domain.entry import post_id
from tickets.domain.jobs.job import toml_data, toml_text
from tickets.domain.posted import Worse
from tickets.domain.refusal import Fault, Refused, SentBefore, Trouble, TryLater
from tickets.i18n import gettext as _
from tickets.queries import interface
from tickets.store import entries
from tickets.store.tokens import ReadToken

bp = Blueprint("interface", __name__, url_prefix="/api")


def _answer(found: Any, status: int = 200, kind: str = "application/json") -> Response:
    body = json.dumps(found, ensure_ascii=False, separators=(",", ":"))
    return Response(body, status, {"Cache-Control": "no-store"}, mimetype=kind)


def _problem(status: int, title: str, faults: Mapping[str, str] | None = None) -> Response:
    """What is wrong, as RFC 9457 has it."""
    told: dict[str, Any] = {"status": status, "title": title, **({"faults": faults} if faults else {})}
    response = _answer(told, status, "application/problem+json")
    if status == 401:
        response.headers["WWW-Authenticate"] = "Bearer"
    return response


def _token() -> ReadToken | None:
    """The token of this request. Raises TryLater where many wrong ones came from its address; one that came along and
    opens nothing is counted."""
    kind, _blank, text = request.headers.get("Authorization", "").partition(" ")
    token = tokens.opens(g.db, text, "interface") if kind.casefold() == "bearer" else None
    if token is None and text:
        people.wrong_token(g.db, g.now, people.Come(request.remote_addr or ""))
    return token


def _not_for(part: str) -> Response | None:
    """Why this request may not read or do a part; None: it may."""
    token = _token()
    if token is None:
        told = _("A token is wanted, in the header Authorization: Bearer. The manager makes one under Settings.")
        return _problem(401, told)
    g.program = token
    if part not in token.parts:
        parts = ", ".join(token.parts)
        return _problem(403, _("This token is not for {part}, but for: {parts}.").format(part=part, parts=parts))
    return None


@bp.get("/")
def index() -> Response:
    """Which parts there are, and where they are described."""
    return _answer({"parts": {name: f"/api/{name}" for name in interface.PARTS}, "described": "/api/openapi.json"})


@bp.get("/openapi.json")
def described() -> Response:
    """The interface in the words of OpenAPI; it says nothing of what the shop keeps."""
    return _answer(interface.description(__version__, str(g.settings["shop"]), programs.THINGS))


def _no_such(part: str) -> Response:
    parts = ", ".join(interface.PARTS)
    return _problem(404, _("There is no {part} here; there are: {parts}.").format(part=part[:40], parts=parts))


@bp.get("/<part>")
def listed(part: str) -> Response:
    """A page of a part. `since`: after this number; `limit`: so many at most."""
    if part not in interface.PARTS:
        return _no_such(part)
    if (refused := _not_for(part)) is not None:
        return refused
    since, most = (counted(request.args.get(name, str(usual)), -1) for name, usual in
                   (("since", 0), ("limit", interface.USUAL)))  # fmt: skip
    faults = {}
    if since < 0:
        faults["since"] = _("A whole number from 0 on would do.")
    if not 1 <= most <= interface.MOST:
        faults["limit"] = _("A whole number from {least} to {most} would do.").format(least=1, most=interface.MOST)
    if faults:
        return _problem(422, _("What was asked cannot be read."), faults)
    return _answer(interface.page(g.db, part, since, most))


@bp.get("/<part>/<code>")
def single(part: str, code: str) -> Response:
    """One of a part by its code, as `show --json` prints it."""
    known = interface.PARTS.get(part)
    if known is None or known.one is None:
        return _no_such(f"{part}/{code}")
    if (refused := _not_for(part)) is not None:
        return refused
    return _answer(known.one(g.db, code, g.now))


# What is sent -------------------------------------------------------------------------------------------------------

MOST_OF_A_JOB, MOST_OF_A_LINE = 1_000_000, 64_000
"""Bytes that are read of what is sent."""


def _refused(refused: Refused) -> Response:
    """A refusal as a problem: by the names of what is wrong."""
    faults: dict[str, str] = {}
    for one in refused.faults:
        faults[one.where] = f"{faults[one.where]} {one.message}" if one.where in faults else one.message
    answer = _problem(refused.status, "; ".join(map(str, refused.faults)), faults)
    if isinstance(refused, Worse):
        told = {**(answer.get_json() or {}), "verdict": refused.verdict.to_dict()}
        answer = _answer(told, refused.status, "application/problem+json")
    if isinstance(refused, TryLater):
        answer.headers["Retry-After"] = str(refused.seconds)
    return answer


def _sent_before(first: SentBefore) -> Response:
    return _problem(first.status, first.message, {"Idempotency-Key": first.message})


def _trouble(known: Trouble) -> Response:
    answer = _problem(known.status, known.message)
    if known.seconds is not None:
        answer.headers["Retry-After"] = str(known.seconds)
    return answer


def _error(error: HTTPException) -> Response:
    """What is larger than is read, and the like."""
    return _problem(error.code or 500, error.name)


for kind_, told_ in ((Refused, _refused), (SentBefore, _sent_before), (Trouble, _trouble), (HTTPException, _error)):
    bp.register_error_handler(kind_, told_)


class Unread(Refused):
    """What was sent is not what it says it is."""

    status = 400


class OtherKind(Refused):
    """What was sent is of a kind that is not read here."""

    status = 415


_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")


def _key() -> str:
    """The id of a post, which its sender made: a UUID in its usual spelling is taken too."""
    name = "Idempotency-Key"
    text = request.headers.get(name, "").strip().strip('"').casefold()
    try:
        return post_id(text.replace("-", "") if _UUID.fullmatch(text) else text)
    except Refused as refused:
        raise Unread([Fault(name, one.message) for one in refused.faults]) from None


def _sent(most: int, *kinds: str) -> Any:
    """The data that was sent, as JSON or TOML, `most` bytes of it."""
    request.max_content_length = most
    if request.mimetype not in kinds:
        raise OtherKind(_("One of: {kinds}.").format(kinds=", ".join(kinds)), "Content-Type")
    body = request.get_data(cache=False)
    try:
        if request.mimetype == "application/toml":
            return toml_data(toml_text(body, ""), "")
        return outside.data(body)
    except Refused as refused:
        raise Unread(refused.faults) from None
    except ValueError:
        raise Unread(_("This cannot be read as JSON.")) from None


def _done(part: str, act: Callable[[Any, str], dict[str, Any]], most: int, *kinds: str) -> Response:
    """What comes of what was sent: 201, or 200 where it was sent before."""
    if (refused := _not_for(part)) is not None:
        return refused
    post, data = _key(), _sent(most, *kinds)
    before = entries.earlier(g.db, post) is not None
    return _answer(act(data, post), 200 if before else 201)


@bp.post("/jobs")
def enter() -> Response:
    """Enters a job out of a job file."""

    def act(data: Any, post: str) -> dict[str, Any]:
        if not isinstance(data, Mapping):
            raise Refused(_("An object is wanted, as a job file has it."))
        asked = {name: request.args.get(name, "") for name in ("twice", "bare")}
        by = tokens.actor_of(g.db, g.program)
        return programs.enter(g.db, by, data, twice=asked["twice"], bare=asked["bare"], post=post, now=g.now)

    return _done("post-jobs", act, MOST_OF_A_JOB, "application/json", "application/toml")


@bp.post("/log")
def log() -> Response:
    """Logs a step of a screen, a run or a bucket."""

    def act(data: Any, post: str) -> dict[str, Any]:
        return programs.log(g.db, tokens.actor_of(g.db, g.program), programs.line_in(data), post=post, now=g.now)

    return _done("post-entries", act, MOST_OF_A_LINE, "application/json")
