"""The papers of a run: the set-up sheet, and the comparison with the print before it."""

from __future__ import annotations

import re

from flask import Blueprint, Response, current_app, g, request

from tickets.floor import sheets
from tickets.records.refusal import NotFound
from tickets.words import gettext as _

bp = Blueprint("repeats", __name__)

PAPERS = ("A4", "Letter")


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
