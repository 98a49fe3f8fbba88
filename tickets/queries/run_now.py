"""A run as its page shows it, part by part: one frozen value each, made by the question of that part."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from tickets.domain.entry import stamp, standing_lines, text_of
from tickets.domain.runs.run import Story
from tickets.queries import phase, print_order, run_approval, run_counts, run_garments, run_going, run_setup
from tickets.queries import said as said_now
from tickets.queries.print_order import Lacking, PrintOrderRow
from tickets.queries.run_plan import Plan
from tickets.queries.said import Reader
from tickets.store import entries, pictures
from tickets.store.pictures import Picture


@dataclass(frozen=True, slots=True)
class CameUp:
    """What came up during a run: when, what, with why and a photo of the press's panel."""

    at: datetime
    said: str
    why: str
    panel: str


@dataclass(frozen=True, slots=True)
class RunNow:
    """A run: how far it is (`phase`: the word that the program goes by, `state` and `next` in words), and its parts."""

    plan: Plan
    phase: str
    state: str
    next: str
    going: run_going.GoingNow
    setup: run_setup.SetupNow
    order: tuple[PrintOrderRow, ...]
    lacking: tuple[Lacking, ...]
    garment: run_garments.GarmentsNow
    approval: run_approval.ApprovalsNow
    counts: run_counts.CountsNow
    events: tuple[CameUp, ...]
    picture: Picture | None

    @property
    def story(self) -> Story:
        """What the log says of the run."""
        return self.plan.story

    @property
    def over(self) -> bool:
        """Whether it is finished."""
        return self.phase == "done"


def of(reader: Reader, plan: Plan) -> RunNow:
    """A run as it is now."""
    db, order = reader.db, print_order.rows_of(reader.db, plan)  # first: it reads the screens that the others ask for
    set_up = run_setup.of(reader, plan)
    return RunNow(
        plan,
        phase.phase_of(plan),
        phase.state_of(plan),
        phase.next_word(plan),
        run_going.of(reader, plan),
        set_up,
        tuple(order),
        tuple(print_order.lacking(db, plan, order)),
        run_garments.of(db, plan),
        run_approval.of(reader, plan, set_up.against.run),
        run_counts.of(reader, plan),
        tuple(_events(reader, plan)),
        pictures.of_job(db, plan.run.job, plan.run.version),
    )


EVENTS = ("stop", "swap", "pause", "start", "change")
"""What comes up during a run, and is told of it afterwards; a finish where nothing was counted is told too."""


def _events(reader: Reader, plan: Plan) -> list[CameUp]:
    """What came up during the run, in its order."""
    out = []
    for entry in standing_lines(entries.of(reader.db, "run", plan.run.id)):
        began = entry.step == "start" and plan.story.started_at == stamp(entry.at)
        if (entry.step in EVENTS and not began) or (entry.step == "finish" and entry.values.get("uncounted")):
            said = said_now.line(reader, entry, without=(*said_now.IN_RUN, "why", "panel"))
            why = "" if entry.step == "swap" else text_of(entry.values, "why")  # it says of which screen
            out.append(CameUp(entry.at, said, why, text_of(entry.values, "panel")))
    return out
