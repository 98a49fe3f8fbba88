"""What other programs read, by a token that opens some parts of the shop: JSON, and its description.

A token stands in the header `Authorization: Bearer`, never in an address, which proxies and browsers keep."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from flask import Blueprint, Response, g, request

from tickets import __version__
from tickets.actions import tokens
from tickets.calculator.numerals import counted
from tickets.domain.refusal import Refused
from tickets.i18n import gettext as _
from tickets.queries import interface

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


def _not_for(part: str) -> Response | None:
    """Why this request may not read a part; None: it may."""
    kind, _blank, text = request.headers.get("Authorization", "").partition(" ")
    token = tokens.opens(g.db, text, "interface") if kind.casefold() == "bearer" else None
    if token is None:
        told = _("A token is wanted, in the header Authorization: Bearer. The manager makes one under Settings.")
        return _problem(401, told)
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
    return _answer(interface.description(__version__, str(g.settings["shop"])))


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
    try:
        return _answer(known.one(g.db, code, g.now))
    except Refused as fault:
        return _problem(fault.status, "; ".join(one.message for one in fault.faults))
