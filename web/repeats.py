"""The papers of a run: its set-up sheet, and the comparison with the print before it; what was printed of them."""

from __future__ import annotations

from flask import Blueprint, Response, current_app, g, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import run_papers
from tickets.domain.papers.ticket import address_fault
from tickets.domain.refusal import NotFound, Refused
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import addresses, garments, run_plan, target
from tickets.queries.tickets import PrintedPaper
from tickets.store import printed
from web.printing import KINDS, PAPERS, answers, asked_form, download, newest, on_printer, usual_paper
from web.support import actor, faults_by_field, page

bp = Blueprint("repeats", __name__)

WHAT = (
    ("set-up", N_("Set-up sheet, with lines to write on")),
    ("comparison", N_("Comparison, with names and notes")),
    ("customer", N_("Sheet for the customer")),
)


@bp.get("/print/run/<int:number>")
def form(number: int) -> Response:
    """Which paper of the run, and what was printed before (`what`: the one that is chosen)."""
    return _page(number, request.args.get("what", ""))


@bp.post("/print/run/<int:number>")
def make(number: int) -> AnyResponse:
    """The set-up sheet or the comparison as a PDF (fields what: set-up, comparison, customer; paper)."""
    sent = asked_form()
    what, paper, how = sent.one("what"), sent.one("paper") or usual_paper(), answers(sent)

    def drawn() -> PrintedPaper:
        if what == "set-up":
            return run_papers.print_setup(g.db, actor(), number, now=g.now, paper=paper, **how)
        if what not in ("comparison", "customer"):
            raise Refused(_("Choose what to print."), "what")
        of = {"for_customer": what == "customer", "garment": sent.one("garment"), **how}
        return run_papers.print_comparison(g.db, actor(), number, now=g.now, paper=paper, **of)

    try:
        gone = on_printer(sent, _("Paper of run {number}").format(number=number), drawn)
        if gone is not None:
            return gone
        made = drawn()
    except NotFound:
        raise
    except Refused as refused:
        return _page(number, what, refused)
    current_app.logger.info("printed: %s of run %s", what, number)
    return download(made.pdf, f"{what}-{number}")


def _page(number: int, what: str, refused: Refused | None = None) -> Response:
    plan = run_plan.plan(g.db, number)
    address = g.settings["address"]
    demo_here = bool(g.settings["demo"] and address)
    fault = None if demo_here else address_fault(address or None, addresses.known_addresses(address) if address else ())
    before = target.against(g.db, plan.job, plan.run.placement, plan.run).run
    offered = WHAT if before else (WHAT[0], WHAT[2]) if plan.story.approved else WHAT[:1]
    printed_on = [one for one in garments.of_run(g.db, plan) if one.approved]
    return page(
        "printing/run.html",
        refused.status if refused else 200,
        plan=plan,
        garments=[(str(one.number), one.garment) for one in printed_on] if len(printed_on) > 1 else [],
        garment=request.values.get("garment", ""),
        what=what if what in dict(offered) else offered[0][0],
        offered=offered,
        papers=PAPERS,
        paper=usual_paper(),
        faults=faults_by_field(refused),
        warning=fault,
        earlier=newest(printed.of_run(g.db, plan.job.code, number)),
        kinds=KINDS,
    )
