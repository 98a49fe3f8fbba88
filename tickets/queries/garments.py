"""What a run comes to garment by garment, where its job has several: inks, settings, lot, approval, pieces."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from sqlite_utils import Database

from tickets.domain.jobs import colourways
from tickets.domain.jobs.colourways import LOT_OF
from tickets.domain.runs import setup
from tickets.queries import run_plan


@dataclass(frozen=True, slots=True)
class OnGarment:
    """A garment of a run, called as on pages; `number`: on the job sheet, from 1. `inks`: by print order; `idle`: the
    lines of the print order that do nothing on it; `settings`: of the set-up sheet as they are, or were, on it;
    `approved`: None where its first print has no approval; `good`, `misprinted`: of all runs of the placement."""

    number: int
    garment: str
    now: bool
    ordered: int
    good: int
    misprinted: int
    inks: Mapping[str, str]
    idle: tuple[int, ...]
    lot: str
    settings: Mapping[str, Mapping[str, str]]
    approved: Mapping[str, Any] | None


def of_run(db: Database, plan: run_plan.Plan) -> list[OnGarment]:
    """The garments of a run in the order of the job sheet; nothing where the job has one only."""
    job, story = plan.job.sheet, plan.story
    if not run_plan.several_garments(plan):
        return []
    good, misprinted = run_plan.pieces_counted(db, plan), run_plan.pieces_counted(db, plan, "misprinted")
    found = []
    for name, garment in colourways.garments_of(job).items():
        inks = colourways.inks_on(job, plan.placement, name) or {}
        settings = replace(story, on=name).settings
        known = story.sheets.get(name)
        if known is not None:
            mine = {"sheet": known["sheet"], "sheet_at": known["at"], "sheet_on": name}
            settings = replace(story, on=name, **mine).settings
        whole = settings.get(setup.RUN, {})
        found.append(
            OnGarment(
                job.garments.index(garment) + 1,
                name,
                name == story.on,
                sum(one.pieces for one in job.garments if colourways.called(one) == name),
                good[name],
                misprinted[name],
                {str(number): ink for number, ink in sorted(inks.items())},
                tuple(sorted(colourways.idle(plan.placement, inks.keys()))),
                whole.get(LOT_OF + name, "") or whole.get("garment_lot", "") or garment.lot,
                settings,
                story.approvals.get(name),
            )
        )
    return found
