"""A job as its page shows it: its placements with what each row is to be set to, its runs, its ticket, its orders."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from tickets.domain.jobs import colourways
from tickets.domain.jobs.job import Job, Placement, Station
from tickets.domain.papers.ticket import with_signs
from tickets.domain.runs import setup
from tickets.domain.screens.frame_checks import Asked
from tickets.i18n import gettext as _
from tickets.queries import boards, target
from tickets.store import jobs, pictures, printed, runs
from tickets.store.settings import setting

Told = tuple[tuple[str, str], ...]
"""Settings, each as (its label, its value as people read it)."""


@dataclass(frozen=True, slots=True)
class RowNow:
    """A row of the print order: its settings by the target, what is asked of its screen (None: it prints nothing), and
    its ink on the garments that take another."""

    station: Station
    settings: Told
    asked: Asked | None
    ways: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlacementNow:
    """A placement: its rows, the settings of the whole run, and the target (`aim`) with where it comes from."""

    number: int
    placement: Placement
    rows: tuple[RowNow, ...]
    settings: Told
    aim: target.Aim
    source: str


@dataclass(frozen=True, slots=True)
class JobNow:
    """`short`: the pieces that are missing of a placement, by its number; `frozen`: it has been printed; `ticket`: the
    one that was printed last, `outdated` where it says an earlier version, `moved` where its QR code leads
    elsewhere."""

    job: jobs.Saved
    placements: tuple[PlacementNow, ...]
    runs: tuple[runs.Run, ...]
    short: Mapping[int, int]
    frozen: bool
    earlier: jobs.Saved | None
    repeats: tuple[jobs.JobLine, ...]
    versions: tuple[Mapping[str, Any], ...]
    picture: Any
    ticket: Mapping[str, Any] | None
    outdated: bool
    moved: bool

    @property
    def sheet(self) -> Job:
        """What the job asks for."""
        return self.job.sheet

    @property
    def under_way(self) -> frozenset[int]:
        """The placements that a run is at, by number."""
        return frozenset(run.placement for run in self.runs if run.story.state != "finished")

    @property
    def lacking(self) -> list[tuple[str, int]]:
        """Of a job that was printed the placements that are short and that nobody prints now, each with its pieces."""
        if not self.frozen:
            return []
        left = ((number, pieces) for number, pieces in self.short.items() if number not in self.under_way)
        return [(self.sheet.placements[number - 1].name, pieces) for number, pieces in left]


def of(db: Database, job: jobs.Saved) -> JobNow:
    """A job as it is now."""
    boards.look_ahead(db, [job.id])
    ticket = next(iter(printed.of(db, job.code)), None)
    address = setting(db, "address")
    return JobNow(
        job,
        tuple(_placement(db, job, number) for number in range(1, len(job.sheet.placements) + 1)),
        tuple(runs.of_job(db, job.id)),
        jobs.short(db, job),
        runs.any_impressions(db, job.id),
        jobs.get(db, job.repeats) if job.repeats else None,
        tuple(jobs.repeats_of(db, job.id)),
        tuple(jobs.versions(db, job.id)),
        pictures.of_job(db, job.id, job.version),
        ticket,
        bool(ticket and (ticket["version"] or job.version) < job.version),
        bool(ticket and address and ticket["address"] != address),
    )


def _placement(db: Database, job: jobs.Saved, number: int) -> PlacementNow:
    placement = job.sheet.placements[number - 1]
    asked = {one.number: one for one in jobs.asked(db, job, number)}
    aim, source = target.aim(db, job, number, target.under_way(db, job, number))
    told = {key: _told(values) for key, values in setup.told(placement, aim).items()}
    ways = colourways.at_rows(job.sheet, placement)
    rows = (
        RowNow(one, told[str(one.number)], asked.get(one.number), tuple(ways.get(one.number, ())))
        for one in placement.stations
    )
    return PlacementNow(number, placement, tuple(rows), told[setup.RUN], aim, source)


def _told(values: Any) -> Told:
    return tuple((word, with_signs(_(text))) for word, text in values)
