"""The approved prints of a run: who approved what, how their colours were read, what speaks of another colour."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.calculator.verdict import Level, Said, say
from tickets.domain.entry import stamp, standing_lines
from tickets.domain.jobs import colourways
from tickets.domain.runs import lab
from tickets.domain.runs.comparison import ColourOf
from tickets.i18n import gettext as _
from tickets.queries import colour, run_plan, sheets, target
from tickets.queries import said as said_now
from tickets.queries.phase import phase_of, wants_approval
from tickets.queries.run_plan import Plan
from tickets.queries.said import Reader
from tickets.store import entries, people, runs


@dataclass(frozen=True, slots=True)
class ColourPanel:
    """The readings of a first print beside those of the run that is its target (`approved`); `names`: by station."""

    rows: tuple[ColourOf, ...]
    own: lab.KeptReadings
    names: Mapping[int, str]
    approved: runs.Run | None

    def off(self) -> list[tuple[ColourOf, str]]:
        """The colours that are not as approved, each with its name, the worst first."""
        found = [row for row in self.rows if row.verdict.level in (Level.STOP, Level.CAUTION)]
        return [
            (row, self.names.get(row.station, "")) for row in sorted(found, key=lambda one: -one.verdict.level.rank)
        ]


@dataclass(frozen=True, slots=True)
class CrossedApproval:
    """An approval that was crossed out: what it `said`, its time, by whom, when and why it was crossed out; `target`:
    what the next run has as its target now, in words, where this run was that."""

    said: Mapping[str, Any]
    at: datetime
    who: str
    when: datetime
    why: str
    target: str


@dataclass(frozen=True, slots=True)
class ApprovalsNow:
    """The approvals of a run. `every`: those that stand, each with its garment; `lots`: what moves the colour though
    everything is set as it was, while a print is to be approved; `readings`: of the approved print as they were typed;
    `crossed`: the newest that was crossed out, where none stands; `earlier`: the run that an approved one is compared
    with."""

    every: tuple[tuple[str, Mapping[str, Any]], ...]
    lots: tuple[Said, ...]
    readings: tuple[tuple[int, str, str], ...]
    crossed: CrossedApproval | None
    earlier: runs.Run | None
    colour: ColourPanel | None

    @property
    def off(self) -> list[tuple[ColourOf, str]]:
        """The colours that are not as approved, each with its name, the worst first."""
        return self.colour.off() if self.colour else []


def of(reader: Reader, plan: Plan, approved: runs.Run | None) -> ApprovalsNow:
    """The approvals of a run as they are now. `approved`: the run that it is compared with."""
    db = reader.db
    return ApprovalsNow(
        tuple(_every(db, plan)),
        tuple(say(one, reader.system) for one in sheets.lots(db, plan)) if may_approve(plan) else (),
        tuple(_readings(plan)),
        _crossed(db, plan),
        approved if plan.story.approved else None,
        _colour(db, plan, approved),
    )


def approved_when(db: Database, plan: Plan) -> dict[str, list[str]]:
    """By entry of each approval that stands the times of those of its garment, the first one first."""
    found: dict[str, list[str]] = {}
    by_garment: dict[str, list[str]] = {}
    for entry in standing_lines(entries.of(db, "run", plan.run.id)):
        if entry.step == "approve":
            found[entry.entry] = by_garment.setdefault(str(entry.values.get(colourways.GARMENT) or ""), [])
            found[entry.entry].append(stamp(entry.at))
    return found


def _every(db: Database, plan: Plan) -> list[tuple[str, Mapping[str, Any]]]:
    """The approvals of a run that stand, each with its garment (empty where the job has only one), that of the garment
    of now first; `before`: when the same garment's print was approved earlier in this run."""
    when = approved_when(db, plan)
    every = [
        (name, {**one, "before": [at for at in when.get(one["entry"], ()) if at < one["at"]]})
        for name, one in plan.story.approvals.items()
    ]
    told = [("" if not run_plan.several_garments(plan) else name or _("garment not said"), one) for name, one in every]
    return sorted(told, key=lambda one: one[0] != plan.story.on)


def _readings(plan: Plan) -> list[tuple[int, str, str]]:
    """The colour readings of the approved print as they were typed: (print order, its name, L* a* b* in words)."""
    names = {station.number: station.separation for station in plan.placement.stations}
    found = lab.kept(plan.story.approved_now or {}).readings
    return [(number, names.get(number, ""), said_now.colour(one)) for number, one in sorted(found.items())]


def _crossed(db: Database, plan: Plan) -> CrossedApproval | None:
    """The newest approval that was crossed out, where none stands."""
    if plan.story.approved:
        return None
    log = entries.of(db, "run", plan.run.id)
    approvals = [entry for entry in log if entry.step == "approve"]
    if not approvals:
        return None
    last = approvals[-1]
    crossing = entries.crossed_by(db, [last.entry])[last.entry]
    marks = [entry.entry for entry in log if entry.step == "use-next-time"]
    fallen = entries.crossed_by(db, marks)  # with the approval, or on its own before
    marked = any(one not in fallen or fallen[one].saved_at == crossing.saved_at for one in marks)
    source = target.aim(db, plan.job, plan.run.placement)[1] if marked else ""
    who = people.names(db).get(crossing.person, "")
    return CrossedApproval(last.values, last.at, who, crossing.at, str(crossing.values.get("why", "")), source)


def _colour(db: Database, plan: Plan, approved: runs.Run | None) -> ColourPanel | None:
    """The readings of a run's first print beside the approved ones; None where nobody read any, or approved it yet."""
    if not plan.story.approved_now:
        return None
    found = colour.against_approved(db, plan.job, plan.run, approved)
    own = lab.kept(plan.story.approved_now)
    if not found and not own.readings:
        return None
    names = {station.number: station.separation for station in plan.placement.stations}
    return ColourPanel(tuple(found), own, names, approved)


def may_approve(plan: Plan) -> bool:
    """True while the page has the form that approves the first print."""
    return wants_approval(plan) and phase_of(plan) in ("sheet", "approve", "print")
