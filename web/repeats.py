"""What will differ on a repeat, said of a job; the set-up sheet and the comparison on paper."""

from __future__ import annotations

import re
from typing import Any

from flask import Blueprint, Response, current_app, g, request

from tickets.calculator.verdict import Level, say
from tickets.floor import repeats as floor
from tickets.floor import sheets
from tickets.floor.jobs import find as find_job
from tickets.records.code import shown
from tickets.records.refusal import NotFound
from tickets.store import jobs
from tickets.words import gettext as _
from web.support import page

bp = Blueprint("repeats", __name__)

PAPERS = ("A4", "Letter")


def said(ahead: floor.Ahead) -> dict[str, Any]:
    """What will differ for one placement, for the template: what needs an eye first, then what is as before."""
    found = [(one, say(one.reason, str(g.settings["units"]))) for one in ahead.differences]
    return {
        "ahead": ahead,
        "differ": [words for one, words in found if one.level is not Level.OK],
        "as_before": [words for one, words in found if one.level is Level.OK],
    }


@bp.get("/jobs/<code>/differs")
def differs(code: str) -> Response:
    """What will differ from the last approved prints, placement by placement."""
    job = find_job(g.db, code)
    earlier = jobs.get(g.db, job.repeats) if job.repeats else None
    placements = [said(one) for one in floor.ahead(g.db, job, g.now)]
    return page("repeats/differs.html", job=job, earlier=earlier, placements=placements, shown=shown)


@bp.get("/runs/<int:number>/comparison.pdf")
def comparison_paper(number: int) -> Response:
    """The comparison on paper (`for=customer`: without staff names and internal notes)."""
    customer = request.args.get("for") == "customer"
    made = sheets.print_comparison(
        g.db, number, now=g.now, for_customer=customer, paper=_paper(), anyway="anyway" in request.args
    )
    return _download(made.pdf, f"comparison-{number}")


@bp.get("/runs/<int:number>/set-up.pdf")
def setup_paper(number: int) -> Response:
    """The set-up sheet on paper."""
    made = sheets.print_setup(g.db, number, now=g.now, paper=_paper(), anyway="anyway" in request.args)
    return _download(made.pdf, f"set-up-{number}")


def _paper() -> str:
    asked = request.args.get("paper") or ("Letter" if g.settings["units"] == "us" else "A4")
    if asked not in PAPERS:
        raise NotFound(_("Papers are: {papers}.").format(papers=", ".join(PAPERS)), "paper")
    return asked


def _download(pdf: bytes, name: str) -> Response:
    response = current_app.response_class(pdf, mimetype="application/pdf")
    response.headers["Content-Disposition"] = f'attachment; filename="{re.sub("[^a-z0-9-]", "", name)}.pdf"'
    return response
