"""The list of runs: what printed on which press and when, open ones first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from flask import Blueprint, Response, g, request

from tickets.domain import outside
from tickets.domain.refusal import Refused
from tickets.domain.runs.run import STATES, state_said
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import find
from tickets.queries.shop_rules import day_span
from tickets.store import places, run_lines
from web.lists import PER_PAGE, ListHead, Listing, asked_for, listing, turned
from web.support import local_date, page, row_number

bp = Blueprint("run_list", __name__)

HEADS = (
    ListHead("number", N_("Run"), down=True),
    ListHead("", N_("Job")),
    ListHead("press", N_("Press")),
    ListHead("", N_("Opened")),
    ListHead("ended", N_("Ended"), down=True),
    ListHead("", N_("State")),
    ListHead("good", N_("Good pieces"), True, True),
)
WHICH = {"open": N_("open ones"), "ended": N_("ended ones")}


@dataclass(frozen=True, slots=True)
class RunsShown:
    """The list of runs: its rows, what it is narrowed to (name, as said), the presses that it can be narrowed to."""

    list: Listing
    rows: Sequence[run_lines.ListedRun]
    filters: Sequence[tuple[str, str]]
    presses: Sequence[tuple[str, str]]
    names: Mapping[int, str]
    states: Mapping[str, str]
    which: Mapping[str, str]

    @property
    def used(self) -> Mapping[str, str]:
        """The filters of the address."""
        return self.list.asked.used


@bp.get("/runs")
def listed() -> Response:
    """Runs, a page at a time: open ones first, then the last that ended, or in the order of a head; those of a press, a
    job, a day."""
    sent = {name: request.args.get(name, "").strip() for name in ("which", "press", "job", "day")}
    said = {name: _said(name, text) for name, text in sent.items() if text}
    used = {name: sent[name] for name, words in said.items() if words}  # what cannot be is left out
    asked = asked_for("/runs", used, [head.order for head in HEADS if head.order], "ended", down=True)
    start = run_lines.place_of(g.db, asked.order, asked.down, asked.row, asked.back)
    rows, before, behind = turned(asked, run_lines.in_order(g.db, _wanted(used), asked.order, start, PER_PAGE + 1))
    first, last = (rows[0].id, rows[-1].id) if rows else (0, 0)
    shown = RunsShown(
        listing(asked, HEADS, first, last, (before, behind)),
        rows,
        [(name, said[name]) for name in used],
        [(str(one.id), one.name) for one in places.every(g.db, "press")],
        places.names(g.db),
        {state: state_said(state) for state in STATES},
        WHICH,
    )
    return page("runs/list.html", it=shown)


def _said(name: str, text: str) -> str:
    """A filter in words; empty: it asks for nothing that there is."""
    if name == "which":
        return _(WHICH[text]) if text in WHICH else ""
    if name == "press":
        place = places.get(g.db, row_number(text))
        return place.name if place is not None and place.kind == "press" else ""
    if name == "job":
        try:
            return find.job(g.db, text).sheet.title
        except Refused:
            return ""
    return local_date(text) if outside.day(text) else ""


def _wanted(used: Mapping[str, str]) -> run_lines.RunsAsked:
    day = outside.day(used.get("day", ""))
    since, until = day_span(g.db, day) if day else ("", "")
    return run_lines.RunsAsked(
        row_number(used["press"]) if "press" in used else None,
        find.job(g.db, used["job"]).id if "job" in used else None,
        used["which"] == "ended" if "which" in used else None,
        since,
        until,
    )
