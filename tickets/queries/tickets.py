"""The job’s ticket and what was printed, as they are now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.calculator.verdict import say
from tickets.domain.code import shown
from tickets.domain.entry import read_stamp, stamp
from tickets.domain.papers import ticket
from tickets.domain.papers.ticket import AssignedScreen, JobTicket
from tickets.domain.runs.job_remarks import CURE, ON_THE_GARMENT
from tickets.domain.separation import Key
from tickets.domain.stages import STANDING_WORDS
from tickets.i18n import gettext as _
from tickets.queries import boards, colour, shop_rules, target
from tickets.queries import ink as ink_now
from tickets.queries.picture_files import name_for_job
from tickets.queries.repeats import changed_since
from tickets.queries.shop_rules import zone
from tickets.store import jobs, printed
from tickets.store.settings import setting

LABEL = "100x50mm"


@dataclass(frozen=True, slots=True)
class PrintedPaper:
    """A PDF, what to say beside it, and the numbers under which what it says is kept."""

    pdf: bytes
    warnings: tuple[str, ...] = ()
    numbers: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class OnEach:
    """What every ticket of one printing carries."""

    db: Database
    address: str
    now: datetime

    @property
    def common(self) -> dict[str, Any]:
        return {
            "address": self.address,
            "shop": str(setting(self.db, "shop")),
            "demo": bool(setting(self.db, "demo")),
            "printed_on": self.day(stamp(self.now)),
        }

    def day(self, at: str) -> str:
        """A date in the shop's zone."""
        return read_stamp(at).astimezone(zone(self.db)).date().isoformat()

    def time(self, at: str) -> str:
        """A date and time in the shop's zone."""
        return read_stamp(at).astimezone(zone(self.db)).strftime("%Y-%m-%d %H:%M") if at else ""


def job_ticket(
    db: Database,
    job: jobs.Saved,
    address: str,
    now: datetime,
    known: Mapping[int, tuple[dict[str, dict[str, str]], str]] | None = None,
) -> JobTicket:
    """What the ticket of a job says now: its sheet, the screens that carry its images, the target. `known`: the target
    of a placement (counted from 1) and where it comes from, where that is not what its open run, or its next one, is to
    meet."""
    sheet = job.sheet
    carried: dict[Key, list[AssignedScreen]] = {}
    for number in range(1, len(sheet.placements) + 1):
        there = boards.serving(db, job, number, now)
        for asked in jobs.asked(db, job, number):
            carried[asked.image.key] = [
                AssignedScreen(code=one.code, mark=one.life.mark, stage=_(STANDING_WORDS[one.life.standing]))
                for one, _progress in there[asked.number]
            ]
    aims = _aims(db, job, known or {})
    repeats = jobs.get(db, job.repeats) if job.repeats else None
    system = shop_rules.units_read(db)
    found = target.remarked(db, job, aims=aims.targets)
    said = [(one.reason.key in ON_THE_GARMENT | CURE, say(one.reason, system)) for one in found]
    told = [(first, " ".join(filter(None, (one.word + ":", one.sentence, one.advice)))) for first, one in said]
    return ticket.job_ticket(
        sheet,
        job.code,
        version=str(job.version),
        repeats=shown(repeats.code) if repeats else "",
        picture=name_for_job(db, job.id, job.version),
        screens=carried,
        first=[text for first, text in told if first],
        remarks=[text for first, text in told if not first],
        where_from=aims.sources,
        targets=aims.targets,
        changed=aims.changed,
        colours=aims.colours,
        notes=aims.notes,
        needs=ink_now.at_rows(db, job, system),
        **OnEach(db, address, now).common,
    )


@dataclass(frozen=True, slots=True)
class _Aims:
    """What each placement is to meet, where that comes from, what was set otherwise since, its colours as read, and in
    which run each note of it was noted."""

    targets: dict[str, dict[str, dict[str, str]]]
    sources: dict[str, str]
    changed: dict[tuple[str, int], str]
    colours: dict[tuple[str, int], str]
    notes: dict[str, int]


def _aims(db: Database, job: jobs.Saved, known: Mapping[int, tuple[dict[str, dict[str, str]], str]]) -> _Aims:
    aims = _Aims({}, {}, {}, {}, {})
    for number, placement in enumerate(job.sheet.placements, 1):
        before = target.against(db, job, number, target.under_way(db, job, number)).run
        aims.notes.update(target.notes_of(db, before))
        for station, told in colour.said(db, job, number, before).items():
            aims.colours[placement.name, station] = told
        if number in known:
            aims.targets[placement.name], aims.sources[placement.name] = known[number]
            continue
        run = target.under_way(db, job, number)
        aim, aims.sources[placement.name] = target.aim(db, job, number, run)
        aims.targets[placement.name] = aim
        for station, told in changed_since(db, job, number, aim, run).items():
            aims.changed[placement.name, station] = told
    return aims


def left_behind(db: Database) -> list[dict[str, Any]]:
    """Printed tickets that carry another address than the one set now: kind, code, address, at."""
    address = str(setting(db, "address"))
    return printed.left_behind(db, address) if address else []


def outdated_jobs(db: Database) -> list[dict[str, Any]]:
    """Job tickets whose job was changed since: code, title, version printed, version now, at."""
    return printed.outdated_jobs(db)
