"""The garments of a run, where its job has several: which runs now, what it takes, which can be chosen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlite_utils import Database

from tickets.domain.jobs import colourways
from tickets.domain.jobs.job import Colourway, Garment, ink_for
from tickets.domain.runs import setup
from tickets.i18n import gettext as _
from tickets.queries import phase, run_plan
from tickets.queries.phase import PiecesOfGarment
from tickets.queries.run_plan import Plan


@dataclass(frozen=True, slots=True)
class GarmentsNow:
    """The garments of a run. `choices`: (number, in words) where there are two or more; `now`: the one that is printed
    (None: the job has only one, or the run did not say), `name`: how it is called; `asked`: the start has to say which
    comes first; `may_be_said`: an approval can say which it is of, since the run did not yet; `inks`: what it takes
    otherwise than the stations' own; `idle`: what does nothing on it; `ways`: which garment takes which inks, where
    they differ; `pieces`: of each what was counted."""

    choices: tuple[tuple[str, str], ...]
    now: Garment | None
    name: str
    asked: bool
    may_be_said: bool
    inks: tuple[str, ...]
    idle: tuple[str, ...]
    ways: tuple[tuple[str, list[str]], ...]
    pieces: tuple[PiecesOfGarment, ...]


def of(db: Database, plan: Plan) -> GarmentsNow:
    """The garments of a run as they are now."""
    now, pieces = run_plan.garment_now(plan), phase.pieces_of(db, plan)
    choices, open_still = _choices(plan, pieces), plan.story.state != "finished"
    starts = not plan.story.started_at and "start" in phase.forms_of(db, plan)
    return GarmentsNow(
        tuple(choices),
        now,
        plan.story.on,
        starts and now is None and run_plan.several_garments(plan),
        now is None and bool(choices) and open_still,
        tuple(_inks(plan)),
        tuple(_idle(plan)),
        tuple(_ways(plan)),
        tuple(pieces),
    )


def way_now(plan: Plan) -> Colourway | None:
    """The colourway of the garment that runs now; None: the stations' own inks, or the run did not say which."""
    garments = plan.job.sheet.garments
    garment = run_plan.garment_now(plan) or (garments[0] if len(garments) == 1 else None)
    return plan.job.sheet.colourway_of(garment) if garment else None


def _inks(plan: Plan) -> list[str]:
    """What the garment that runs now takes otherwise than the stations' own inks, in words."""
    job, way = plan.job.sheet, way_now(plan)
    found = []
    for station in plan.placement.printing:
        ink, own = ink_for(job, way, plan.placement, station), ink_for(job, None, plan.placement, station)
        if ink is not None and own is not None and ink != own:
            pairs = ((ink.colour, own.colour), (_(ink.kind), _(own.kind)), (ink.series, own.series),
                     (ink.reference, own.reference))  # fmt: skip
            new = [now for now, was in pairs if now and now != was] or [ink.colour]
            found.append(f"{station.number} {station.separation}: {', '.join(new)}")
    return found


def _choices(plan: Plan, pieces: Sequence[PiecesOfGarment]) -> list[tuple[str, str]]:
    """The garments to choose from where the job has two or more: (number, in words); lots of one garment as one."""
    counted = {one.name: f" ({one.good}/{one.ordered})" for one in pieces}
    found = [(number, name + counted.get(name, "")) for number, name in run_plan.numbered_garments(plan)]
    return found if len(found) > 1 else []


def _ways(plan: Plan) -> list[tuple[str, list[str]]]:
    """Which garment takes which ink here, print order by print order, where they differ; with what stands idle."""
    job, found = plan.job.sheet, []
    ways = colourways.ways_of(job, plan.placement)
    for name in ways:
        idle = colourways.idle(plan.placement, ways[name].keys())
        said = [f"{number} {ink}" for number, ink in sorted(ways[name].items())]
        said += [_("{stations} idle").format(stations=", ".join(map(str, sorted(idle))))] if idle else []
        found.append((name, said))
    return found


def _idle(plan: Plan) -> list[str]:
    """What stands idle on the garment that runs now: the print orders that don't print on it, and their flashes."""
    names = {one.number: one.image.name for one in plan.asked}
    does = {one.number: _(setup.DOES.get(one.does, one.does)) for one in plan.placement.stations}
    return [f"{number} ({names.get(number) or does[number]})" for number in sorted(run_plan.idle_now(plan))]
