"""What goes over a shop's thin Wi-Fi, made small: static files once, pages behind the head that they have in common.

The core of the look stands in the head of every page, so that a scan is two requests: the page and the script. A head
is packed once; each page goes on from there, and its own text is all that is packed anew."""

from __future__ import annotations

import base64
import gzip
import hashlib
import re
import zlib
from collections import OrderedDict
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from flask import Response
from markupsafe import Markup

STATIC = Path(__file__).parent / "static"
KINDS = {".css": "text/css", ".js": "text/javascript"}
SHORT = 1_000
"""Bytes up to which nothing is won by packing: it fits into one packet of a network as it is."""
LEVEL = 6
"""How hard a page is packed. Measured on the page of a scan behind its packed head: one by day (19 kB) 0.12 ms and
6,032 bytes at level 4, 0.14 and 5,914 at 5, 0.15 and 5,896 at 6, 0.16 and 5,892 at 9; one with digits to tap (35 kB)
0.18 ms and 7,231 at 4, 0.21 and 7,084 at 5, 0.26 and 7,017 at 6, 0.36 and 6,998 at 9."""
HEADS = 64
"""How many heads are kept packed: two views in each language of a shop, and no more than that."""
_END = b"</style>"


def bare(name: str, text: str) -> str:
    """A static file without what only its readers need: comments, indents, in a stylesheet whatever room is left. In a
    script a comment stands on a line of its own, or behind the end of a statement."""
    if name.endswith(".css"):
        text = re.sub(r"/\*.*?\*/", "", text, flags=re.DOTALL)
        close = re.sub(r" ?([{};,>]) ?", r"\1", re.sub(r"\s+", " ", text)).replace(";}", "}").strip()
        return re.sub(r"(?<=[\w-]): ", ":", close)
    return re.sub(r"\n\s+", "\n", re.sub(r"(?m)(?:^[ \t]*|(?<=[;{},)]) +)// .*$", "", text)).lstrip()


@dataclass(frozen=True, slots=True)
class StaticFile:
    """A static file as it is sent: its kind, its text, that packed, and a mark of what is in it."""

    kind: str
    text: bytes
    packed: bytes
    mark: str

    def answer(self, packed: bool) -> Response:
        """The file, packed where the browser takes that."""
        response = Response(self.packed if packed else self.text, mimetype=self.kind)
        response.set_etag(f"{self.mark}{'-gzip' if packed else ''}")
        response.vary.add("Accept-Encoding")
        if packed:
            response.headers["Content-Encoding"] = "gzip"
        return response


@cache
def ready(name: str) -> StaticFile | None:
    """A stylesheet or script of ours by its name; None for anything else."""
    path = STATIC / name
    if path.suffix not in KINDS or path.parent != STATIC or not path.is_file():
        return None
    text = bare(name, path.read_text(encoding="utf-8")).encode()
    return StaticFile(KINDS[path.suffix], text, gzip.compress(text, 9, mtime=0), hashlib.sha256(text).hexdigest()[:8])


@cache
def core(safelight: bool = False) -> Markup:
    """The core of the look in its light, as it stands in the head of a page."""
    names = ("core.css", "light-safelight.css" if safelight else "light-day.css")
    return Markup("".join(bare(name, (STATIC / name).read_text(encoding="utf-8")) for name in names))  # noqa: S704 - ours


@cache
def core_marks() -> str:
    """What the policy of a page's content names the two by (CSP Level 3, hash sources)."""
    found = (hashlib.sha256(core(safelight).encode()).digest() for safelight in (False, True))
    return " ".join(f"'sha256-{base64.b64encode(one).decode()}'" for one in found)


_heads: OrderedDict[bytes, tuple[bytes, Any]] = OrderedDict()


def packed(page: bytes) -> bytes:
    """A page as gzip: where its head was packed before, only what follows it is packed now."""
    end = page.find(_END) + len(_END)
    if end < len(_END):
        return gzip.compress(page, LEVEL, mtime=0)
    head = page[:end]
    known = _heads.get(head)
    if known is None:
        begun = zlib.compressobj(LEVEL, zlib.DEFLATED, 31)
        known = _heads[head] = (begun.compress(head) + begun.flush(zlib.Z_SYNC_FLUSH), begun)
        if len(_heads) > HEADS:
            _heads.popitem(last=False)
    first, begun = known
    rest = begun.copy()
    return b"".join((first, rest.compress(page[end:]), rest.flush()))
