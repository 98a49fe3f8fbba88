"""What jobs cost: by month, and one job."""

from __future__ import annotations

from datetime import date

from flask import Blueprint, Response, g, request

from tickets.i18n import MONTHS
from tickets.i18n import gettext as _
from tickets.i18n.spans import minutes_said
from tickets.queries import cost, find
from tickets.queries.log_now import CAUSE_WORDS
from web.desk import desk_page

bp = Blueprint("cost", __name__)


@bp.get("/desk/cost")
def month() -> Response:
    """What the runs that were done in a month came to, by job and by cause."""
    view = cost.of_month(g.db, g.now, request.args.get("month", ""))
    assert view.month is not None
    return _page(view, "", [cost.after(view.month, -1), view.month, cost.after(view.month)])


@bp.get("/desk/cost/<code>")
def job(code: str) -> Response:
    """What all runs of a job came to."""
    found = find.job(g.db, code)
    return _page(cost.of_job(g.db, found.id), found.sheet.title, [])


def _page(view: cost.CostView, title: str, months: list[date]) -> Response:
    return desk_page(
        "cost.html",
        view=view,
        title=title,
        months=[(one.isoformat()[:7], month_words(one)) for one in months],
        causes=CAUSE_WORDS,
        minutes_words=minutes_words,
        amount_words=amount_words,
    )


def month_words(first: date) -> str:
    """A month as it is said, such as November 2026."""
    return f"{_(MONTHS[first.month - 1])} {first.year}"


def minutes_words(minutes: float | None) -> str:
    """A time at the press; a dash where it is not known."""
    if minutes is None:
        return "–"
    return minutes_said(minutes)


def amount_words(amount: float) -> str:
    """An amount of money, to the cent."""
    return f"{amount:,.2f}".replace(",", "\N{NARROW NO-BREAK SPACE}")
