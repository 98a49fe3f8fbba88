"""A request as it comes from outside, made fit to be read: what no page could make anything of is put right, or left
out, here, before any page looks at it. No more of a form is read than a page of ours sends, however it is sent."""

from __future__ import annotations

from io import BytesIO
from typing import IO, Any
from urllib.parse import quote_from_bytes

from flask import Request
from werkzeug.datastructures import FileStorage, ImmutableMultiDict, MultiDict
from werkzeug.exceptions import RequestEntityTooLarge
from werkzeug.formparser import FormDataParser

MOST_BYTES = 1_000_000
"""Of the text of a form (a list of frames that is pasted is the longest)."""
MOST_FIELDS = 6_000
"""Of a form: a job of eight heads on four places with all that can be said of each has some 900 (judgement)."""


class Fields(ImmutableMultiDict[str, Any]):
    """What was sent, by name. A part of a form whose header names no field belongs to none."""

    def __init__(self, sent: Any = None) -> None:
        if isinstance(sent, list):
            for name, value in sent:
                if name is None and hasattr(value, "close"):  # a file, which nobody will close
                    value.close()
            sent = [pair for pair in sent if pair[0] is not None]
        super().__init__(sent)


class TooManyFields(RequestEntityTooLarge):
    """A form of more fields than any page of ours has."""


class _Parser(FormDataParser):
    """As Werkzeug's own, whose bounds leave out what is sent the plain way."""

    def _parse_urlencoded(
        self, stream: IO[bytes], mimetype: str, content_length: int | None, options: dict[str, str]
    ) -> tuple[IO[bytes], MultiDict[str, str], MultiDict[str, FileStorage]]:
        body = stream.read()
        if len(body) > MOST_BYTES:
            raise RequestEntityTooLarge
        if body.count(b"&") >= MOST_FIELDS:
            raise TooManyFields
        return super()._parse_urlencoded(BytesIO(body), mimetype, len(body), options)


class Incoming(Request):
    """A request whose query is plain ASCII and whose fields all have names.

    Browsers send no other query; what else does is read as a browser would have sent it (werkzeug decodes it as UTF-8
    or not at all).
    """

    parameter_storage_class = Fields
    form_data_parser_class = _Parser

    def __init__(self, environ: dict[str, Any], *more: Any, **named: Any) -> None:
        query = environ.get("QUERY_STRING", "")
        if not query.isascii():
            environ["QUERY_STRING"] = quote_from_bytes(query.encode("latin-1", "replace"), "/%:@!$&'()*+,;=?-._~[]")
        super().__init__(environ, *more, **named)
