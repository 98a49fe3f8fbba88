"""How far a run is, what comes next, which steps are then in their turn: for its page and for the command line."""

from __future__ import annotations

from collections import Counter
from typing import NamedTuple

from sqlite_utils import Database

from tickets.domain.posted import Doubt
from tickets.domain.runs.run import state_said
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries.run_plan import Plan, open_parts, pieces_counted
from tickets.store import entries

NEXT = {
    "hang": N_("scan the next screen"),
    "sheet": N_("note the set-up"),
    "approve": N_("have the first print approved"),
    "start": N_("start printing"),
    "print": N_("count, or finish the run"),
    "done": N_("finished"),
}
FORMS = {
    "hang": {"hang", "sheet", "change"},
    "sheet": {"sheet", "approve", "start", "stop", "change"},
    "approve": {"sheet", "approve", "start", "stop", "change"},
    "start": {"sheet", "start", "stop", "change"},
    "print": {"sheet", "approve", "start", "count", "swap", "stop", "change"},
    "done": {"use-next-time"},
}
"""The forms of a run at each phase, beside those that are always there."""
EARLY = {"sheet": {"approve", "start"}, "approve": {"start"}}
"""Those of them that leave out what comes next: a page keeps them apart, a command wants to be told."""


def phase_of(plan: Plan) -> str:
    """What comes next: hang, sheet, approve, start, print, done."""
    story = plan.story
    if story.state == "finished":
        return "done"
    if plan.missing():
        return "hang"
    if story.state == "printing":
        return "print"
    if not wants_approval(plan):
        return "start"  # an approved run starts, whatever nobody has noted
    return "sheet" if open_parts(plan) and not story.frozen else "approve"


def next_word(plan: Plan) -> str:
    """What comes next, in words, with the print orders that have no screen."""
    missing = ", ".join(str(one.number) for one in plan.missing())
    if missing and plan.story.state != "finished":
        return _("no screen yet at position {numbers}").format(numbers=missing)
    now = phase_of(plan)
    then = N_("go on printing") if now == "start" and plan.story.started_at else NEXT[now]
    if plan.to_approve and now in ("approve", "print"):
        then = N_("have a first print approved again")
    return _("next: {next}").format(next=_(then))


def state_of(plan: Plan) -> str:
    """How far the run is, in words: more than its state where screens hang again, or a print was approved."""
    story = plan.story
    if story.state == "paused" and story.hung:
        return _("paused, screens hang again in part") if plan.missing() else _("paused, all screens hang again")
    if story.state == "set-up" and not plan.missing():
        if story.approved_now and not plan.to_approve:
            return _("approved, not started")
        if not open_parts(plan):
            return _("set up, not approved")
    return state_said(story.state)


def wants_approval(plan: Plan) -> bool:
    """True while a first print of this garment is to be approved: none was, or something changed since."""
    return not plan.story.approved_now or bool(plan.to_approve)


def approval_fell(db: Database, plan: Plan) -> bool:
    """True where a first print was approved and that was crossed out since."""
    return not plan.story.approved and any(one.step == "approve" for one in entries.of(db, "run", plan.run.id))


def forms_of(db: Database, plan: Plan) -> set[str]:
    """The steps that a run has forms for now."""
    found = FORMS[phase_of(plan)] | {"note", "cross-out"}
    if plan.story.started_at and phase_of(plan) == "hang":
        found |= {"count"}
    if not plan.story.hung and phase_of(plan) == "hang":
        found -= {"sheet"}
    if not wants_approval(plan):
        found -= {"approve"}
    if plan.story.state != "finished":
        found |= {"finish", "pause"} if plan.story.hung else {"finish"}
    elif approval_fell(db, plan):
        found |= {"approve"}
    return found


def in_turn(db: Database, plan: Plan, step: str) -> None:
    """Raises Doubt on a step that comes before its turn (`anyway`: the answer). What is over, what a screen needs to
    hang, and a step that there is none of is the step's own to say."""
    phase = phase_of(plan)
    early = EARLY.get(phase, set())
    if phase == "done" or step in {"hang", "swap"} or (step not in {*early} and step in forms_of(db, plan)):
        return
    if step not in set().union(*FORMS.values()) | {"pause"}:
        return
    told = _("“{step}” does not come now: the next step of run {run} is to {next}.")
    raise Doubt(told.format(step=step, run=plan.run.id, next=_(NEXT[phase])), "anyway")


class PiecesOfGarment(NamedTuple):
    """The pieces of one garment in all runs of a placement; `ordered` 0: counted before anybody said on which."""

    name: str
    good: int
    misprinted: int
    ordered: int


def pieces_of(db: Database, plan: Plan) -> list[PiecesOfGarment]:
    """Where several garments are ordered: each with what was counted of it in all runs of this placement."""
    garments = plan.job.sheet.garments
    if len(garments) < 2:
        return []
    counted, spoiled = pieces_counted(db, plan), pieces_counted(db, plan, "misprinted")
    ordered: Counter[str] = Counter()
    for one in garments:
        ordered[f"{one.style}, {one.colour}"] += one.pieces
    rest = sum(counted.values()) - sum(counted[name] for name in ordered)
    if rest and rest == sum(counted.values()):
        return []  # nobody says here on which garment
    found = [PiecesOfGarment(name, counted[name], spoiled[name], pieces) for name, pieces in ordered.items()]
    unsaid = PiecesOfGarment(_("garment not said"), rest, spoiled.total() - sum(one.misprinted for one in found), 0)
    return [*found, unsaid] if rest else found
