"""A form that was sent when nobody, or somebody else, held the phone: nothing of it is logged, nothing of it is lost.

The sign-in page carries what was sent; whoever signs in gets the form back as it was filled in, and sends it anew.
"""

from __future__ import annotations

import json
import re
from contextlib import suppress
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

from flask import Flask, current_app, g, request
from werkzeug.datastructures import MultiDict
from werkzeug.exceptions import HTTPException
from werkzeug.routing import RequestRedirect
from werkzeug.test import EnvironBuilder
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import posting
from tickets.calculator.numerals import counted
from tickets.domain import outside
from tickets.i18n import gettext as _
from web import support

MADE_FOR = re.compile(r"([0-9]{1,7})-[0-9a-f]{20}[a-z]?[0-9]*")
"""The id of an entry to come (`support.new_entry_id`, with what a page of several forms puts behind it): it begins with
the number of the person it was made for."""

SECRET = re.compile(r"(new_|mail_)?secret\b")
NEW_SECRET = "new_secret"
"""What somebody is to sign in with from now on: never kept, so whoever sends the form again types it again."""
UNREAD = {"entry", "usual", "seen", "then_to", "late", support.ASK}
"""Fields that people do not read."""

BY_SCRIPT = "Sent-By"
"""The header of what `app.js` sends: an answer that leads on is then given as it is, for the script to follow."""


@dataclass(frozen=True, slots=True)
class SentForm:
    """What a form sent but secrets, by name; where it goes (`to`) and the page it was on (`back`); whether a picture
    came along, which no page can send again."""

    to: str
    back: str
    sent: tuple[tuple[str, str], ...]
    files: bool = False

    @property
    def typed(self) -> list[tuple[str, str]]:
        """What people read of it."""
        return [
            (name, text)
            for name, text in self.sent
            if name not in UNREAD and not name.endswith(".unit") and text.strip()
        ]

    @property
    def entry(self) -> str:
        """The id of the entry to come; empty: the form has none, and each sending of it counts."""
        return next((text for name, text in self.sent if name == "entry"), "")

    @property
    def text(self) -> str:
        """As a form carries it."""
        return json.dumps([self.to, self.back, self.sent, self.files])

    def renewed(self) -> list[tuple[str, str]]:
        """What was sent, under an id of its own."""
        return [(name, support.new_entry_id() if name == "entry" else text) for name, text in self.sent]


def as_sent() -> SentForm:
    """What this request sends."""
    sent: list[tuple[str, str]] = []
    files = False
    if request.method == "POST":
        with suppress(HTTPException):
            files = any(file.filename for file in request.files.values())
            sent = [
                (name, text)
                for name in request.form
                for text in request.form.getlist(name)
                if not SECRET.match(name) and name != KEPT
            ] + [(NEW_SECRET, "")] * bool(request.form.get(NEW_SECRET))
    return SentForm(request.full_path.rstrip("?"), support.here(), tuple(sent), files)


KEPT = "kept"
"""The field of the sign-in page that carries it."""


def carried() -> SentForm | None:
    """What the sign-in page carries; None: nothing, or something that no page of ours made."""
    try:
        to, back, sent, files = outside.data(request.form.get(KEPT, ""))
        pairs = tuple((str(name), str(text)) for name, text in sent)
    except (ValueError, TypeError):
        return None
    kept = SentForm(support.local_path(str(to)), support.local_path(str(back)), pairs, bool(files))
    return kept if _is_post(urlsplit(kept.to).path) else None


def _is_post(path: str) -> bool:
    try:
        current_app.url_map.bind("").match(path, method="POST")
    except (HTTPException, RequestRedirect):
        return False
    return True


def made_for(entry: str) -> int | None:
    """The number of the person for whom a form was made; None: its id does not say."""
    found = MADE_FOR.fullmatch(entry)
    return counted(found[1]) if found else None


def form_again(kept: SentForm, token: str) -> AnyResponse:
    """The form of a page as it was filled in, for whoever holds the phone by `token`: the page's own answer to it, but
    that nothing is logged yet."""
    if not kept.entry:  # each sending of it counts, so it is shown and not tried
        return support.page("people/not_logged.html", kept=kept)
    app: Flask = current_app._get_current_object()  # type: ignore[attr-defined]
    host = request.host_url.rstrip("/")
    cookie = f"{support.cookie(support.COOKIE)}={token}; view={g.view}"
    headers = [("Origin", host), ("Referer", host + kept.back), ("Cookie", cookie)]
    data: MultiDict[str, Any] = MultiDict(kept.sent)
    asked = EnvironBuilder(path=kept.to, base_url=request.host_url, method="POST", data=data, headers=headers)
    told = _("You were signed out: this was not logged. Look it over and send it.")
    if kept.files:
        told += " " + _("Choose the picture again.")
    environ = {**asked.get_environ(), support.TOLD_FIRST: told}
    with app.app_context(), app.request_context(environ), posting.only_read():
        return app.full_dispatch_request()


def for_script(response: AnyResponse, sent_by: str) -> None:
    """An answer that leads on, for a script: it would be followed before the script sees it."""
    if sent_by and response.status_code == 303:
        response.status_code = 204
        response.headers["Next"] = response.headers.pop("Location")
        response.set_data(b"")
