"""A run beside the approved print before it, as its page shows it."""

from __future__ import annotations

from dataclasses import dataclass

from tickets.domain.runs.as_run import doubt_said
from tickets.domain.runs.comparison import ComparedLine
from tickets.queries import garments, repeats
from tickets.queries.garments import OnGarment
from tickets.queries.run_plan import Plan
from tickets.queries.run_setup import AheadSaid, ahead_of
from tickets.queries.said import Reader


@dataclass(frozen=True, slots=True)
class ComparedNow:
    """`found`: the comparison on one garment (None: no print before it was approved); `garments`: those whose print is
    approved, `garment`: the one looked at; `groups`: the lines by print order; `ahead`: what differed to be told before
    it was printed; `small`: what differs by little; `doubt`: what stands where a line is not sure."""

    plan: Plan
    found: repeats.SideBySide | None
    garments: tuple[OnGarment, ...] = ()
    garment: str = ""
    groups: tuple[tuple[int, tuple[ComparedLine, ...]], ...] = ()
    ahead: AheadSaid | None = None
    small: AheadSaid | None = None
    doubt: str = ""


def of(reader: Reader, plan: Plan, garment: str) -> ComparedNow:
    """A run compared on the garment of this number (empty, or no such one: on that of now)."""
    db = reader.db
    printed = [one for one in garments.of_run(db, plan) if one.approved]
    chosen = next((one for one in printed if str(one.number) == garment), None)
    found = repeats.compared(db, plan.run.id, chosen.garment if chosen else None)
    if found is None:
        return ComparedNow(plan, None, tuple(printed))
    groups: dict[int, list[ComparedLine]] = {}
    for one in found.lines:
        groups.setdefault(one.station, []).append(one)
    return ComparedNow(
        plan,
        found,
        tuple(printed),
        found.garment,
        tuple((station, tuple(lines)) for station, lines in groups.items()),
        ahead_of(reader, plan),
        AheadSaid((), found.differing.small_head, tuple(found.differing.small_told)),
        doubt_said(),
    )
