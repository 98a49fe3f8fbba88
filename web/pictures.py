"""Pictures on pages: served to whoever is signed in, taken from a plain file input."""

from __future__ import annotations

import re

from flask import Blueprint, Response, g, make_response, request

from tickets.actions import picture_reader
from tickets.actions import pictures as pictures_acts
from tickets.domain.refusal import Refused
from tickets.i18n import gettext as _
from tickets.queries import picture_files
from web.support import actor

bp = Blueprint("pictures", __name__)

TYPES = {"jpg": "image/jpeg", "png": "image/png"}
"""By what the shop wrote itself, never by what was sent."""

WITH_PICTURE = re.compile(r"/runs/[0-9]+/(?:approve|sheet|panel)|/jobs|/jobs/[^/]+(?:/picture|/change)?")
"""Posts that may carry a picture, so may be larger than any other one."""
READ = 45_000_000
"""Bytes of such a form that are read: more than a picture may have, so that a photo that is too large is refused at its
field and what was typed beside it comes back."""


class TooLarge(Refused):
    """A picture of more bytes than are taken."""

    status = 413

    def __init__(self, field: str) -> None:
        message = _("This picture is too large: at most {most} MB. Take it at a lower resolution.")
        super().__init__(message.format(most=pictures_acts.MOST_BYTES // 1_000_000), field)


@bp.before_app_request
def _room() -> None:
    """Before anything of the form is read: how much of it is taken."""
    if request.method != "POST" or not WITH_PICTURE.fullmatch(request.path):
        return
    request.max_content_length = READ
    if (request.content_length or 0) > READ:
        raise TooLarge("")


@bp.get("/pictures/<found>")
@bp.get("/pictures/<found>/<any(small):size>")
def picture(found: str, size: str = "") -> Response:
    """A picture, or the small one. A phone may keep it and asks each time whether it still may show it: that is for who
    is signed in. Its address says what it holds, so the answer is short."""
    body, kind = picture_files.read(g.db, found, small=bool(size))
    response = make_response(body)
    response.headers["Content-Type"] = TYPES[kind]
    response.headers["Content-Disposition"] = "inline"
    response.headers["Cache-Control"] = "private, no-cache"
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.set_etag(f"{found}{size}")
    response.make_conditional(request)
    return response


def take(field: str = "picture") -> str | None:
    """Keeps the picture that this form sends under `field`; its hash, None where none was chosen.

    The name of the file is not looked at. Raises Refused at `field` for what is no picture.
    """
    sent = request.files.get(field)
    if sent is None:
        return None
    raw = sent.stream.read(pictures_acts.MOST_BYTES + 1)
    if len(raw) > pictures_acts.MOST_BYTES:
        raise TooLarge(field)
    if not raw:
        return None
    return pictures_acts.take(g.db, actor(), raw, now=g.now, where=field, reader=picture_reader.aside)
