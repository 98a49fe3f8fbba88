"""A request as it comes from outside, made fit to be read: what no page could make anything of is put right, or left
out, here, before any page looks at it."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote_from_bytes

from flask import Request
from werkzeug.datastructures import ImmutableMultiDict


class Fields(ImmutableMultiDict[str, Any]):
    """What was sent, by name. A part of a form whose header names no field belongs to none."""

    def __init__(self, sent: Any = None) -> None:
        if isinstance(sent, list):
            for name, value in sent:
                if name is None and hasattr(value, "close"):  # a file, which nobody will close
                    value.close()
            sent = [pair for pair in sent if pair[0] is not None]
        super().__init__(sent)


class Incoming(Request):
    """A request whose query is plain ASCII and whose fields all have names.

    Browsers send no other query; what else does is read as a browser would have sent it (werkzeug decodes it as UTF-8
    or not at all).
    """

    parameter_storage_class = Fields

    def __init__(self, environ: dict[str, Any], *more: Any, **named: Any) -> None:
        query = environ.get("QUERY_STRING", "")
        if not query.isascii():
            environ["QUERY_STRING"] = quote_from_bytes(query.encode("latin-1", "replace"), "/%:@!$&'()*+,;=?-._~[]")
        super().__init__(environ, *more, **named)
