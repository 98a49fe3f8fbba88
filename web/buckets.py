"""Mixed lots with their clocks: what is open, mixing, one bucket and its steps."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import buckets as buckets_acts
from tickets.domain.bucket import Bucket
from tickets.domain.entry import Entry
from tickets.domain.posted import form
from tickets.domain.refusal import Clash, NotAllowed, NotFound, Refused
from tickets.domain.steps import BUCKET_KINDS, BUCKET_STEPS
from tickets.i18n import N_
from tickets.queries import find
from tickets.queries import said as said_now
from tickets.store import buckets, entries
from web import log
from web.lists import PER_PAGE, ListHead, Listing, asked_for, listing
from web.steps import WHYS
from web.support import (
    actor,
    confirm_once,
    faults_by_field,
    form_lists,
    new_entry_id,
    not_by_enter,
    one_of,
    page,
    reader,
)

bp = Blueprint("buckets", __name__)

STEPS = ("use", "test", "discard", "note")


HEADS = (
    ListHead("", N_("Code")),
    ListHead("product", N_("Product")),
    ListHead("kind", N_("Kind")),
    ListHead("lot", N_("Lot")),
    ListHead("clock", N_("Good until")),
    ListHead("mixed", N_("Mixed"), down=True),
)
EVERY_HEADS = tuple(head._replace(order="") for head in HEADS)
ORDERS: Mapping[str, Callable[[Bucket], str]] = {
    "product": lambda bucket: (bucket.product or bucket.kind).casefold(),
    "kind": lambda bucket: bucket.kind,
    "lot": lambda bucket: bucket.lot,
    "clock": lambda bucket: bucket.good_until or "~",
    "mixed": lambda bucket: bucket.mixed_at or "",
}
"""What the open buckets can be listed by: they are few, and all on one page."""
MOST_OPEN = 200


@dataclass(frozen=True, slots=True)
class BucketsShown:
    """The list of buckets: each with its clock in words and how bad that is; `old`: the discarded ones too."""

    list: Listing
    rows: Sequence[tuple[Bucket, Any]]
    old: bool
    kinds: Mapping[str, str]


@bp.get("/buckets")
def every() -> Response:
    """What is open, the one in use first or in the order of a head; older ones page by page."""
    old = request.args.get("all") == "1"
    asked = asked_for("/buckets", {"all": "1"} if old else {}, [] if old else list(ORDERS), "")
    more = False
    if old:
        found = buckets.every(g.db, asked.row, PER_PAGE + 1)
        more, rows = len(found) > PER_PAGE, found[:PER_PAGE]
    else:
        rows = buckets.open_ones(g.db, limit=MOST_OPEN)
        if asked.order:
            rows = sorted(rows, key=ORDERS[asked.order], reverse=asked.down)
    shown = BucketsShown(
        listing(asked, EVERY_HEADS if old else HEADS, 0, rows[-1].id if rows else 0, (False, more)),
        [(bucket, said_now.clock(reader(), bucket)) for bucket in rows],
        old,
        dict(BUCKET_KINDS),
    )
    return page("buckets/list.html", it=shown)


@bp.get("/buckets/new")
def new() -> Response:
    """The form for mixing."""
    kind = request.args.get("kind", "")
    return page("buckets/new.html", step=BUCKET_STEPS["mix"], values={"kind": kind}, faults={})


@bp.post("/buckets")
@bp.post("/buckets/mix")
def mix() -> AnyResponse:
    """A new bucket."""
    sent = form_lists()
    post = one_of(sent, "entry")
    try:
        code = buckets_acts.mix(g.db, actor(), form(sent), post=post, now=g.now)
    except NotAllowed:
        raise
    except Refused as refused:
        faults = faults_by_field(refused)
        entry = new_entry_id() if isinstance(refused, Clash) or "entry" in faults else post
        return page(
            "buckets/new.html", refused.status, step=BUCKET_STEPS["mix"], values=sent, faults=faults, entry=entry
        )
    return redirect(f"/buckets/{code}?done={post}", code=303)


@bp.get("/buckets/<code>")
def bucket(code: str) -> Response:
    """One bucket: its clock, its steps, its log."""
    one = find.bucket(g.db, code)
    crossing = entries.find(g.db, request.args["cross"]) if request.args.get("cross") else None
    done = entries.find(g.db, request.args["done"]) if request.args.get("done") else None
    return _page(
        one,
        crossing=crossing if crossing is not None and crossing.bucket == one.id else None,
        done=done if done is not None and done.bucket == one.id else None,
    )


def _page(
    one: Bucket,
    *,
    status: int = 200,
    crossing: Entry | None = None,
    done: Entry | None = None,
    step: str = "",
    values: Mapping[str, Any] | None = None,
    faults: Mapping[str, str] | None = None,
) -> Response:
    said, level = said_now.clock(reader(), one)
    first = _first(one, level)
    return page(
        "buckets/bucket.html",
        status,
        bucket=one,
        kind=dict(BUCKET_KINDS).get(one.kind, one.kind),
        clock=said,
        level=level,
        first=BUCKET_STEPS[first] if first else None,
        others=[BUCKET_STEPS[name] for name in STEPS if name != first],
        lines=log.lines(g.db, entries.latest_of(g.db, "bucket", one.id, 30)),
        crossing=log.lines(g.db, [crossing])[0] if crossing else None,
        done=log.lines(g.db, [done])[0] if done else None,
        step=step,
        values=values or {},
        faults=faults or {},
        whys=WHYS,
        ids={name: new_entry_id() for name in STEPS},
    )


def _first(one: Bucket, level: str) -> str:
    """The step that a bucket waits for: into use; past its time a test strip; discard after a failed one."""
    if one.discarded_at:
        return ""
    if one.test == "fault":
        return "discard"
    if level == "caution":
        return "test" if one.emulsion and one.test != "good" else "discard"
    return "" if one.used_at else "use"


@bp.post("/buckets/<code>/<step>")
def log_step(code: str, step: str) -> AnyResponse:
    """Logs a step of a bucket."""
    one = find.bucket(g.db, code)
    sent = form_lists()
    post = one_of(sent, "entry")
    try:
        not_by_enter(sent)
        if step == "cross-out":
            confirm_once(step, sent, post)
        written = buckets_acts.log(g.db, actor(), one, step, form(sent), post=post, now=g.now)
    except (NotFound, NotAllowed):
        raise
    except Refused as refused:
        crossing = None
        if step == "cross-out":
            crossing = entries.find(g.db, one_of(sent, "crosses") or post)
            if crossing is None or crossing.bucket != one.id:
                return log.cross_page(f"/buckets/{one.code}/cross-out", f"/buckets/{one.code}", sent, refused)
        return _page(
            one, status=refused.status, crossing=crossing, step=step, values=sent, faults=faults_by_field(refused)
        )
    return redirect(f"/buckets/{one.code}?done={written[0]}", code=303)
