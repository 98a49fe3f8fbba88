"""The colour of a run's first print beside that of the run it is compared with: for its page, its acts, its papers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from tickets.calculator.colour import Lab, Turn, turns
from tickets.calculator.verdict import Level, Reason, Verdict
from tickets.domain.jobs import colourways
from tickets.domain.runs import comparison, lab, print_colour
from tickets.domain.runs.as_run import pairs
from tickets.domain.runs.comparison import ColourOf, colours
from tickets.queries import target
from tickets.queries.shop_rules import the_spec
from tickets.store import jobs, runs


def against_approved(
    db: Database,
    job: jobs.Saved,
    run: runs.Run,
    approved: runs.Run | None,
    readings: Mapping[str, Any] | None = None,
    garment: str | None = None,
) -> list[ColourOf]:
    """A run's first print against the print of the run that it is compared with (`approved`), colour by colour, by the
    one rule that the comparison of two prints goes by too. `job`: as the run was planned with.

    Only stations that either print has a reading of; readings that were taken otherwise, or nobody knows how, are not
    compared. `garment`: compared with the same one's print there, never another's; without it the one that is printed
    now. `readings`: of an approval that is not logged yet (`lab.read`).
    """
    was_job = jobs.get(db, approved.job, approved.version) if approved else None
    if approved is None or was_job is None:
        return []
    was, now = was_job.sheet.placements[approved.placement - 1], job.sheet.placements[run.placement - 1]
    garment = run.story.on if garment is None else garment
    theirs = target.approval_like(db, approved, job, garment)
    mine = run.story.approvals.get(garment) if readings is None else readings
    found = colours(was, theirs, now, mine, job.sheet, str(job.code), the_spec(db), was_job.sheet, garment)
    takes = colourways.inks_on(job.sheet, now, garment)
    return [one for one in found if takes is None or one.station in takes]


def speaks(db: Database, job: jobs.Saved, run: runs.Run, garment: str | None = None) -> list[Reason]:
    """What the colour of an approved first print says of printing on, or of having it as the target: on the garment
    that is printed now, or the one that is asked for."""
    if not run.story.approvals.get(run.story.on if garment is None else garment):
        return []
    approved = target.against(db, job, run.placement, run).run
    found = against_approved(db, job, run, approved, garment=garment)
    names = {one.number: one.separation for one in job.sheet.placements[run.placement - 1].printing}
    return print_colour.judged(found, names, approved.id) if approved else []


@dataclass(frozen=True, slots=True)
class Aim:
    """What a print's colour is to meet at one station: the reading of run `run`, how it was taken, the limits there
    (None: the shop has none), how many readings it is the mean of and how far those lie apart."""

    station: int
    name: str
    lab: Lab
    under: str
    run: int
    warn: float | None
    fail: float | None
    spread: tuple[int, float] | None = None


def aims(db: Database, job: jobs.Saved, place: int, approved: runs.Run | None, garment: str = "") -> dict[int, Aim]:
    """The colours that a placement (counted from 1) is to meet on a garment, by print order: as they were read on the
    same garment's print of `approved`, the run that it is compared with. Colours that nobody read then have none."""
    was_job = jobs.get(db, approved.job, approved.version) if approved else None
    theirs = target.approval_like(db, approved, job, garment) if approved else None
    if approved is None or was_job is None or not theirs:
        return {}
    kept, now = lab.last(theirs), job.sheet.placements[place - 1]
    takes = colourways.inks_on(job.sheet, now, garment)
    found = {}
    for old, station in pairs(was_job.sheet.placements[approved.placement - 1], now):
        read = kept.readings.get(old.number) if old is not None else None
        if read is None or old is None or station is None or not station.prints:
            continue
        if takes is not None and station.number not in takes:
            continue
        warn, fail = comparison.colour_limits(station.ink, job.sheet, str(job.code), the_spec(db))
        found[station.number] = Aim(
            station.number,
            station.separation,
            read,
            kept.read_under(old.number),
            approved.id,
            warn.value if warn else None,
            fail.value if fail else None,
            kept.spread(old.number),
        )
    return found


def aims_of_each(
    db: Database, job: jobs.Saved, place: int, approved: runs.Run | None, garment: str = ""
) -> dict[int, list[tuple[str, Aim]]]:
    """As `aims`; while nobody said on which of several garments: those of each, with its name. Where all have the same
    one it is named by none."""
    names = [garment] if garment else list(colourways.garments_of(job.sheet))
    each = [(name, aims(db, job, place, approved, name)) for name in names]
    found: dict[int, list[tuple[str, Aim]]] = {}
    for station in sorted({number for _name, some in each for number in some}):
        some = [(name, here[station]) for name, here in each if station in here]
        takes = [name for name, _here in each if _takes(job, place, station, name)]
        same = len(some) == len(takes) and all(one == some[0][1] for _name, one in some)
        found[station] = [("", some[0][1])] if same else some
    return found


def _takes(job: jobs.Saved, place: int, station: int, garment: str) -> bool:
    """Whether a garment takes an ink at a print order."""
    takes = colourways.inks_on(job.sheet, job.sheet.placements[place - 1], garment)
    return takes is None or station in takes


def said(db: Database, job: jobs.Saved, place: int, approved: runs.Run | None, garment: str = "") -> dict[int, str]:
    """The colours to meet as paper says them, by print order: L*a*b* and how it was read, of each garment where they
    differ and nobody said which."""
    return {
        station: "; ".join(
            (f"{name}: " if name else "") + ", ".join(filter(None, (lab.said(one.lab), one.under)))
            for name, one in some
        )
        for station, some in aims_of_each(db, job, place, approved, garment).items()
    }


@dataclass(frozen=True, slots=True)
class Checked:
    """A reading that is looked at before it is approved: the difference from the approved one (None: it can't be said),
    its verdict (None: there is nothing to compare it with), where to turn, and of several the number and the spread."""

    lab: Lab
    difference: float | None
    verdict: Verdict | None
    turn: Sequence[Turn] = ()
    spread: tuple[int, float] | None = None


def checked(
    db: Database, job: jobs.Saved, run: runs.Run, approved: runs.Run | None, readings: Mapping[str, Any]
) -> dict[int, Checked]:
    """What the readings of an approval that is not logged yet come to, by print order."""
    kept = lab.kept(readings)
    rows = {one.station: one for one in against_approved(db, job, run, approved, readings)}
    found = {}
    for station, one in kept.readings.items():
        row = rows.get(station)
        turn = turns(row.approved, one) if row and row.approved and row.difference is not None else ()
        verdict = row.verdict if row else None
        found[station] = Checked(one, row.difference if row else None, verdict, turn, kept.spread(station))
    return found


def off_lately(latest: Sequence[runs.Run]) -> list[tuple[runs.Run, list[Reason], Mapping[str, Any] | None]]:
    """Of some runs those that printed on, or became the target, in spite of a colour that stops: each with what the log
    keeps of it and who overrode it (None: nobody did)."""
    found = []
    for run in latest:
        for one in reversed(run.story.judged):
            reasons = [Reason.from_dict(reason) for reason in one.reasons if reason["key"] == "print-colour-far"]
            if reasons:
                first = next((two.passed for two in run.story.judged if two.passed and _about(two.reasons)), None)
                found.append((run, [Reason(each.key, Level.STOP, each.numbers, each.spec) for each in reasons], first))
                break
    return found


def _about(reasons: Sequence[Mapping[str, Any]]) -> bool:
    return any(one["key"] == "print-colour-far" for one in reasons)
