"""A lot followed to its screens, runs and jobs, and a job back to its lots."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.floor import buckets as floor_buckets
from tickets.floor import jobs as floor_jobs
from tickets.floor import trace as traces
from tickets.records.code import NoCode, read, shown
from tickets.records.refusal import NotFound
from tickets.store import buckets, codes, desk
from tickets.words import gettext as _
from web.boards import due_words
from web.buckets import clock
from web.desk import desk_page
from web.files import csv_answer

bp = Blueprint("trace", __name__)


@bp.get("/desk/trace")
def trace_start() -> AnyResponse:
    """Where to start a trace; `lot`: a code, or a maker's lot."""
    asked = request.args.get("lot", "").strip()
    if asked:
        try:
            code = read(asked)
        except NoCode:
            code = None
        if code is not None and codes.find(g.db, code) is not None:
            return redirect(f"/desk/trace/{code}")
        found = traces.trace_buckets(g.db, mixed := desk.buckets_of_lot(g.db, asked), asked)
        if mixed or found.inks:
            if request.args.get("file"):
                return csv_answer("lot", traces.TRACE, traces.trace_rows(g.db, found))
            return _trace(found, "lot", _("Lot {lot}").format(lot=asked), f"{request.full_path}&file=1", buckets=mixed)
    open_ones = buckets.open_ones(g.db, limit=60)
    return desk_page(
        "trace_start.html",
        404 if asked else 200,
        open=[(one, clock(one, g.now)[0], desk.coats_of(g.db, one.id)) for one in open_ones],
        next_up=traces.next_uses(g.db, open_ones),
        due_words=due_words,
        asked=asked,
        fault=_("No bucket was mixed from a lot “{lot}”, and no run names it.").format(lot=asked[:60]) if asked else "",
    )


def _trace(found: traces.Trace, kind: str, title: str, file: str, **more: Any) -> Response:
    lots = dict.fromkeys((one.bucket_code, one.lot) for one in (*found.rows, *found.carrying) if one.bucket_code)
    return desk_page(
        "trace.html",
        kind=kind,
        title=title,
        rows=found.rows[: traces.SHOWN],
        more=len(found.rows) > traces.SHOWN,
        inks=found.inks[: traces.SHOWN],
        carrying=found.carrying[: traces.SHOWN],
        totals=found.totals,
        pieces=found.pieces,
        jobs=found.jobs[: traces.SHOWN],
        lots=[(code, _("lot {lot}").format(lot=lot) if lot else _("lot not noted")) for code, lot in lots],
        file=file,
        **more,
    )


@bp.get("/desk/trace/<code>")
def trace(code: str) -> AnyResponse:
    """A bucket followed to its screens, runs and jobs; a job back to its lots; a screen's life. `CODE.csv`: a file."""
    text, dot, kind = code.partition(".")
    as_file = dot and kind == "csv"
    try:
        issued = codes.find(g.db, read(text))
    except NoCode as fault:
        raise NotFound(str(fault), "code") from None
    if issued is not None and issued.kind == "screen":
        return redirect(f"/desk/screens/{issued.current}")
    if issued is not None and issued.kind == "bucket":
        bucket = floor_buckets.find(g.db, text)
        found = traces.trace_buckets(g.db, [bucket])
        if as_file:
            return csv_answer(f"bucket-{bucket.code}", traces.TRACE, traces.trace_rows(g.db, found))
        title = _("What bucket {code} went into").format(code=shown(bucket.code))
        return _trace(found, "bucket", title, f"/desk/trace/{bucket.code}.csv", bucket=bucket)
    if issued is None or issued.kind != "job":
        raise NotFound(_("There is no bucket and no job {code} here.").format(code=text[:20]), "code")
    job = floor_jobs.find(g.db, text)
    found = traces.trace_job(g.db, job.id)
    if as_file:
        return csv_answer(f"job-{job.code}", traces.TRACE, traces.trace_rows(g.db, found))
    title = _("Lots behind {job}").format(job=job.sheet.title)
    return _trace(found, "job", title, f"/desk/trace/{job.code}.csv", job=job)
