"""The one run that a placement is compared with: target, “last time”, colour and comparison all ask here."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.domain.entry import stamp, standing_lines, whole_of
from tickets.domain.jobs import colourways
from tickets.domain.jobs.job import Job
from tickets.domain.runs import lab, setup
from tickets.domain.runs.job_remarks import Remark, remarks
from tickets.domain.separation import folded
from tickets.i18n import gettext as _
from tickets.queries.shop_rules import the_spec, zone
from tickets.store import entries, jobs, places, runs

Aim = dict[str, dict[str, str]]
"""What a run is to meet: by the print order's number as text, and `run` for the whole of it, each setting by field."""


@dataclass(frozen=True, slots=True)
class Against:
    """The run that another one is compared with. `marked`: somebody said “use these next time”, so its settings are the
    target. Where no run is marked the target is the job sheet, and `run` the one that was printed last (None: none)."""

    run: runs.Run | None = None
    marked: bool = False

    def said(self) -> str:
        """Which run it is, in a sentence for pages and paper; empty where nothing was printed before."""
        if self.run is None:
            return ""
        if not self.marked:
            told = _(
                "No run is marked “use these next time”, so the job sheet is the target; compared is run {number}, "
                "printed last."
            )
            return told.format(number=self.run.id)
        if not self.run.story.approved:
            told = _("Compared with run {number}, the target; its approval was crossed out since.")
            return told.format(number=self.run.id)
        return _("Compared with approved run {number}, the target.").format(number=self.run.id)


def against(db: Database, job: jobs.Saved, place: int, run: runs.Run | None = None) -> Against:
    """The run that a placement (counted from 1) is compared with; `run`: the one that is set up, or was printed.

    It is the run marked “use these next time” last, of this job or those that it repeats. A run whose set-up is noted
    stays with the one that it was set up by. Where none is marked: the approved run with good pieces that was printed
    last, of this job before those that it repeats.
    """
    if run is not None and run.story.sheet_entry:
        number = whole_of(run.story.sheet, "target_run")
        met = runs.get(db, number) if number else None
        return Against(met, True) if met else Against(_printed_last(db, job, place, run))
    marked = _marked_last(db, job, place, run)
    return Against(marked, True) if marked else Against(_printed_last(db, job, place, run))


def marked_since(db: Database, job: jobs.Saved, place: int, run: runs.Run) -> runs.Run | None:
    """The run that was marked as the target after the set-up of `run` was noted, while its first print is not approved
    yet: who notes the set-up again takes it over. None where it is the one that the set-up was noted by."""
    if run.story.approved or run.story.started_at or not run.story.sheet_entry:
        return None
    now = _marked_last(db, job, place, run)
    return now if now and now.id != whole_of(run.story.sheet, "target_run") else None


def aim(db: Database, job: jobs.Saved, place: int, run: runs.Run | None = None) -> tuple[Aim, str]:
    """What a run of the placement should meet, and where that comes from: the marked run, else the job sheet."""
    if run is not None and run.story.sheet.get("target") and run.story.sheet_on == run.story.on:
        return run.story.sheet["target"], str(run.story.sheet.get("target_from", ""))
    return to_meet(db, job, place, run)[:2]


def to_meet(
    db: Database, job: jobs.Saved, place: int, run: runs.Run | None = None, by: str = ""
) -> tuple[Aim, str, runs.Run | None]:
    """As `aim`, for a set-up that is noted now, with the marked run: what is marked by now counts until a piece is
    printed. `by`: the set-up is dated back to then, and what was marked by then counts."""
    met = run is not None and run.story.sheet.get("target") and run.story.sheet_on == run.story.on
    if run is not None and run.story.started_at and met:
        number = whole_of(run.story.sheet, "target_run")
        return *aim(db, job, place, run), runs.get(db, number) if number else None
    placement, garment = job.sheet.placements[place - 1], run.story.on if run is not None else ""
    inks = colourways.inks_on(job.sheet, placement, garment)
    marked = _marked_last(db, job, place, run, by)
    its_job = jobs.get(db, marked.job, marked.version) if marked else None
    if marked is None or its_job is None:
        return setup.of_job(placement, inks), _("job sheet"), None
    was = its_job.sheet.placements[marked.placement - 1]
    first = next(iter(colourways.garments_of(job.sheet)), "")  # nobody said it yet: it is set up for the first one
    theirs = garment_like(marked, its_job, job, garment or first)
    sheet_on, sheet = marked.story.sheet_of(theirs if theirs is not None else marked.story.sheet_on)
    sheet = setup.with_later(sheet, marked.story.changes)
    found = setup.onto(placement, sheet, was, inks, colourways.inks_on(its_job.sheet, was, sheet_on))
    if setup.unmeasured(sheet):
        said = _("approved run {number}, what it did not measure as before").format(number=marked.id)
        return found, said, marked
    return found, _("approved run {number}").format(number=marked.id), marked


MOST_BACK = 20
"""How many runs back a note is looked for (judgement)."""


def notes_of(db: Database, met: runs.Run | None) -> dict[str, int]:
    """In which run each note of a target was noted: `met`, whose settings are the target, or one whose settings were
    its own, the nearest of them."""
    found: dict[str, int] = {}
    for _back in range(MOST_BACK):
        if met is None:
            break
        sheets = [met.story.sheet, *(one["sheet"] for one in met.story.sheets.values())]
        for values in (values for sheet in sheets for values in setup.parts_of(sheet).values()):
            if note := str(values.get("note") or ""):
                found.setdefault(note, met.id)
        number = whole_of(met.story.sheet, "target_run")
        met = runs.get(db, number) if number and number < met.id else None
    return found


def garment_like(met: runs.Run, its_job: jobs.Saved, job: jobs.Saved, garment: str) -> str | None:
    """By which garment of `met` a print of `garment` is compared with it; None: it was approved on none like it."""
    return colourways.like(met.story.approvals, its_job.sheet, job.sheet, garment)


def approval_like(db: Database, met: runs.Run, job: jobs.Saved, garment: str) -> Mapping[str, Any] | None:
    """The approval of `met` that a print of `garment` is compared with: never another garment's. None: none."""
    its_job = jobs.get(db, met.job, met.version)
    name = garment_like(met, its_job, job, garment) if its_job else None
    return met.story.approvals[name] if name is not None else None


def remarked(
    db: Database, job: jobs.Saved, now: datetime | None = None, aims: Mapping[str, Aim] | None = None
) -> tuple[Remark, ...]:
    """What is to be said of a job, on its page, its ticket and by command: by the shop's limits and presses, its cure
    by what each placement is to meet (`aims`, by name: else that of its open run, or its next one). `now`: the press
    date of an open job is looked at too."""
    if aims is None:
        every = enumerate(job.sheet.placements, 1)
        aims = {one.name: aim(db, job, number, under_way(db, job, number))[0] for number, one in every}
    return remarked_sheet(db, job.sheet, None if job.closed_at else now, aims)


def remarked_sheet(
    db: Database | None, sheet: Job, now: datetime | None = None, aims: Mapping[str, Aim] | None = None
) -> tuple[Remark, ...]:
    """As `remarked`, of a job sheet, also of one that is only read over; `now`: the press date is looked at too. `db`
    None: there is no shop, and the limits that come with the program judge."""
    if db is None:
        return remarks(sheet, targets=aims)
    day = now.astimezone(zone(db)).date() if now is not None else None
    return remarks(sheet, the_spec(db), day, [one.press for one in places.every(db, "press")], aims)


def under_way(db: Database, job: jobs.Saved, place: int) -> runs.Run | None:
    """The newest open run of the placement, planned by the job sheet as it is now: what is said of the job meanwhile is
    what that run is set up by."""
    found = runs.of_job(db, job.id, place)
    return next((one for one in found if one.story.state != "finished" and one.version == job.version), None)


def chain(db: Database, job: jobs.Saved) -> list[jobs.Saved]:
    """The job and those that it repeats, the first one last."""
    found = [job]
    if job.repeats:
        family = jobs.family(db, job.id)
        runs.read_ahead(db, (), family)
    while (number := found[-1].repeats) and number not in {one.id for one in found}:
        earlier = jobs.get(db, number)
        if earlier is None:
            break
        found.append(earlier)
    return found


def first_measured(db: Database, job: jobs.Saved, place: int, before: int) -> runs.Run | None:
    """The first approved print of all whose colour was measured, of the runs under number `before`."""
    found = [
        run
        for run in _approved(db, job, place, None)
        if run.id < before and any(lab.last(one).readings for one in run.story.approvals.values())
    ]
    return min(found, key=lambda run: run.id, default=None)


def _approved(db: Database, job: jobs.Saved, place: int, run: runs.Run | None) -> Iterator[runs.Run]:
    """The approved runs of the placement, known by its name, of the nearest job first, the newest of each first; `run`
    itself is left out."""
    wanted = folded(job.sheet.placements[place - 1].name)
    for one in chain(db, job):
        names = [folded(placement.name) for placement in one.sheet.placements]
        numbers = [number for number, name in enumerate(names, 1) if name == wanted]
        if not numbers and len(names) == len(job.sheet.placements) == 1:  # one position under another name
            numbers = [1]
        for number in numbers:
            for other in runs.of_job(db, one.id, number):
                if other.story.approved and (run is None or other.id != run.id):
                    yield other


def _marked_last(db: Database, job: jobs.Saved, place: int, run: runs.Run | None, by: str = "") -> runs.Run | None:
    """The run that was marked last (`by` then); for a run that was approved without a set-up sheet only what was marked
    by its approval."""
    until = str(run.story.approved["at"]) if run is not None and run.story.approved else by
    found = [one for one in _approved(db, job, place, run) if one.story.target]
    if not until and len(found) < 2:
        return found[0] if found else None
    marks = [(at, -place, one) for place, one in enumerate(found) if (at := _mark_of(db, one, until))]
    return max(marks, key=lambda mark: mark[:2])[2] if marks else None


def _mark_of(db: Database, run: runs.Run, until: str) -> str:
    """When a run was marked as the target last, up to a time; empty: not by then."""
    marks = [stamp(one.at) for one in standing_lines(entries.of(db, "run", run.id)) if one.step == "use-next-time"]
    return max((at for at in marks if not until or at <= until), default="")


def _printed_last(db: Database, job: jobs.Saved, place: int, run: runs.Run | None) -> runs.Run | None:
    """The newest approved run with good pieces, before `run`."""
    before = run.id if run is not None and run.id else None
    return next(
        (one for one in _approved(db, job, place, run) if one.story.good and (before is None or one.id < before)), None
    )
