"""What would light a phone up white, held back under the safelight: paper on the screen, PDFs, tables, data."""

from __future__ import annotations

from flask import Response

from web import support

TABLES = (".csv", ".jsonl")
"""How the addresses of tables end."""


def lights_up() -> bool:
    """True where what is asked for is no page of ours, or is one that looks like paper."""
    this = support.asked()
    if this.method == "POST":
        return this.path.startswith("/print/")
    paper, data = this.args.get("print") == "1", this.args.get("format") == "json"
    return paper or data or this.path.endswith(TABLES)


def hold_back() -> Response | None:
    """In its place, a dark page that says so: in daylight view it opens."""
    mine = support.held()
    if not support.in_safelight() or mine.get("person") is None or not lights_up():
        return None
    post = support.asked().method == "POST"
    return support.page("white.html", 409 if post else 200, post=post, not_done="", then=support.here())
