"""A lot followed to its screens, runs and jobs, and a job back to its lots."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.calculator.numerals import counted
from tickets.domain import searched
from tickets.domain.code import NoCode, read, shown
from tickets.domain.refusal import NotFound
from tickets.i18n import gettext as _
from tickets.queries import find, said
from tickets.queries import trace as traces
from tickets.store import buckets, codes, desk, finding, jobs, screens
from web.desk import desk_page
from web.files import csv_answer
from web.support import reader

bp = Blueprint("trace", __name__)


@bp.get("/desk/trace")
def trace_start() -> AnyResponse:
    """Where to start a trace. `find`: a code, a painted mark, a job's customer number, or a maker's lot; `lot`: a lot
    before anything else."""
    lot, asked = (request.args.get(name, "").strip() for name in ("lot", "find"))
    if lot and (there := _of_lot(lot)) is not None:
        return there
    asked = asked or lot
    if asked:
        try:
            code = read(asked)
        except NoCode:
            code = None
        if code is not None and codes.find(g.db, code) is not None:
            return redirect(f"/desk/trace/{code}")
    hits = _hits(asked) if asked else []
    if len(hits) == 1:
        return redirect(hits[0].path)
    open_ones = buckets.open_ones(g.db, limit=60)
    nothing = _("Nothing found for “{text}”: no code, no painted mark, no customer’s number of a job, no maker’s lot.")
    return desk_page(
        "trace_start.html",
        404 if asked and not hits else 200,
        hits=hits,
        open=[(one, said.clock(reader(), one)[0], desk.coats_of(g.db, one.id)) for one in open_ones],
        next_up=traces.next_uses(g.db, open_ones),
        garments=desk.garment_lots(g.db),
        asked=asked,
        fault=nothing.format(text=asked[:60]) if asked and not hits else "",
    )


@dataclass(frozen=True, slots=True)
class Hit:
    """Something that goes by a text: what it is, what it is called, where its trace is."""

    kind: str
    name: str
    path: str


def _hits(asked: str) -> list[Hit]:
    """What goes by a text that is no code: screens by their painted mark, jobs by their customer's number, a lot."""
    found = [
        Hit(_("screen"), f"{one.life.mark} · {shown(one.code)}", f"/desk/screens/{one.code}")
        for one in screens.many(g.db, screens.by_mark(g.db, asked))
    ]
    numbers = dict.fromkeys([*jobs.by_reference(g.db, asked), *jobs.by_reference(g.db, asked.upper())])
    for job in (jobs.get(g.db, number) for number in numbers):
        if job is not None:
            name = f"{job.sheet.reference} · {job.sheet.title} · {job.sheet.customer}"
            found.append(Hit(_("job"), name, f"/desk/trace/{job.code}"))
    if not found and not desk.ink_uses(g.db, lot=asked, limit=1):
        found += _ordered_with(asked)
    if desk.buckets_of_lot(g.db, asked) or desk.ink_uses(g.db, lot=asked, limit=1):
        found.append(Hit(_("lot"), asked, f"/desk/trace?{urlencode({'lot': asked})}"))
    return found


def _ordered_with(lot: str) -> list[Hit]:
    """Jobs whose sheets name a lot of garments that no set-up sheet names (yet)."""
    numbers = [counted(one) for one in finding.matching(g.db, "job", [[searched.in_one(lot)]], 20)]
    jobs.sheets_ahead(g.db, numbers)
    found = [one for number in numbers if (one := jobs.get(g.db, number)) and _names_lot(one, lot)]
    return [Hit(_("job"), f"{one.sheet.title} · {one.sheet.customer}", f"/jobs/{one.code}") for one in found]


def _names_lot(job: jobs.Saved, lot: str) -> bool:
    return any(searched.in_one(one.lot) == searched.in_one(lot) for one in job.sheet.garments if one.lot)


def _of_lot(lot: str) -> AnyResponse | None:
    """The trace of a maker's lot, as a page or (`file`) as a file; None: nobody noted such a lot."""
    mixed = desk.buckets_of_lot(g.db, lot)
    found = traces.trace_buckets(g.db, mixed, lot)
    if not mixed and not found.inks:
        return None
    if request.args.get("file"):
        return csv_answer("lot", traces.TRACE, traces.trace_rows(g.db, found))
    file = f"/desk/trace?{urlencode({'lot': lot, 'file': 1})}"
    return _trace(found, "lot", _("Lot {lot}").format(lot=lot), file, buckets=mixed)


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
        bucket = find.bucket(g.db, text)
        found = traces.trace_buckets(g.db, [bucket])
        if as_file:
            return csv_answer(f"bucket-{bucket.code}", traces.TRACE, traces.trace_rows(g.db, found))
        title = _("What bucket {code} went into").format(code=shown(bucket.code))
        return _trace(found, "bucket", title, f"/desk/trace/{bucket.code}.csv", bucket=bucket)
    if issued is None or issued.kind != "job":
        raise NotFound(_("This shop has no bucket and no job {code}.").format(code=text[:20]), "code")
    job = find.job(g.db, text)
    found = traces.trace_job(g.db, job.id)
    if as_file:
        return csv_answer(f"job-{job.code}", traces.TRACE, traces.trace_rows(g.db, found))
    title = _("Lots behind {job}").format(job=job.sheet.title)
    return _trace(found, "job", title, f"/desk/trace/{job.code}.csv", job=job)
