"""A lot followed to the screens, runs and jobs it went into, and a job back to its lots: reading only."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from tickets.calculator.numerals import numbers_in
from tickets.domain.bucket import Bucket, named_by
from tickets.domain.entry import read_stamp
from tickets.domain.runs.run_trace import PiecesOfLot, pieces_of
from tickets.domain.screens import checks
from tickets.i18n import N_, ngettext
from tickets.i18n import gettext as _
from tickets.queries.exports import Images
from tickets.queries.shop_rules import zone
from tickets.queries.table_file import Clock, Column
from tickets.store import desk, jobs, screens
from tickets.store.desk import InkUse, Traced

SHOWN = 200
"""Lines of a trace on a page; its file has all of them."""


@dataclass(frozen=True, slots=True)
class Totals:
    """What a trace comes to. `faulty` of the `stencils` had a fault at washout or check; `garments`: a lot of garments
    alone."""

    stencils: int
    faulty: int
    runs: int
    jobs: int
    on_now: int
    garments: bool = False


@dataclass(frozen=True, slots=True)
class Trace:
    """A lot followed to its jobs, or a job back to its lots. `inks` are the runs of ink buckets and of lots by name;
    `carrying` the screens that carry an image of the job now and did not print it with that stencil."""

    rows: tuple[Traced, ...]
    inks: tuple[InkUse, ...]
    carrying: tuple[Traced, ...] = ()

    @property
    def totals(self) -> Totals:
        """What it comes to."""
        stencils = {(one.screen, one.stencil): one for one in self.rows}
        runs = {one.run for one in self.rows if one.run} | {one.run for one in self.inks}
        jobs_ = {one.job for one in self.rows if one.job} | {one.job for one in self.inks}
        return Totals(
            len(stencils),
            sum(1 for one in stencils.values() if one.faults),
            len(runs),
            len(jobs_),
            sum(1 for one in stencils.values() if one.now),
            bool(self.inks) and not self.rows and all(one.station == 0 for one in self.inks),
        )

    @property
    def pieces(self) -> PiecesOfLot:
        """Pieces printed with it, each once, at however many print orders of a run it served."""
        counts: dict[int, list[str]] = {}
        for one in self.inks:
            counts.setdefault(one.run, []).append(one.counts)
        found = [pieces_of(some) for some in counts.values()]
        return PiecesOfLot(
            *(sum(getattr(one, name) for one in found) for name in ("good", "misprinted", "unsure", "more"))
        )

    @property
    def jobs(self) -> list[tuple[str, str]]:
        """The jobs that it leads to: (code, what to call it), each once."""
        rows = [(one.job_code, one.job_title, one.customer) for one in self.rows if one.job_code]
        rows += [(one.job_code, one.job_title, one.customer) for one in self.inks]
        return [(code, f"{title} · {customer}") for code, title, customer in dict.fromkeys(rows)]


def trace_buckets(db: Database, many: Sequence[Bucket], lot: str = "") -> Trace:
    """What was coated from these buckets or printed with them; `lot`: also the runs that name this lot."""
    rows = desk.from_bucket(db, [one.id for one in many]) if many else []
    inks = [use for one in many if not one.emulsion for use in desk.ink_uses(db, bucket=one.code)]
    inks += desk.ink_uses(db, lot=lot) if lot else []
    return Trace(tuple(rows), tuple(inks))


def trace_job(db: Database, job: int) -> Trace:
    """The lots behind a job's runs, and behind the screens that wait for it."""
    rows = desk.to_buckets(db, job)
    hung = {(one.screen, one.stencil) for one in rows}
    waiting = [one for one in desk.carrying_now(db, job, -1) if (one.screen, one.stencil) not in hung]
    return Trace(tuple(rows), tuple(desk.ink_uses(db, job=job)), tuple(waiting))


TRACE = (
    Column("bucket", N_("Code of the bucket (emulsion or ink); empty: not noted")),
    Column("lot", N_("The maker’s lot")),
    Column("screen", N_("Code of the screen; empty in a line about ink")),
    Column("mark", N_("Its painted mark")),
    Column("mesh", N_("Which of the screen’s meshes, counted from 1; as in the file “stencils”")),
    Column("mesh_count", N_("Its count, as labelled")),
    Column("stencil", N_("Which of the mesh’s stencils, counted from 1; as in the file “stencils”")),
    Column("images", N_("What is on it"), many=True),
    Column("coated_at", N_("First coat from this bucket"), "time"),
    Column("washed_at", N_("Last washout of this stencil"), "time"),
    Column("faults", N_("Faults seen at washout and check"), many=True),
    Column("still_on", N_("yes while the stencil is on the screen")),
    Column("run", N_("Number of the run that it printed; empty: none yet")),
    Column("print_order", N_("Position in the print order, counted from 1; of ink: 0 is the whole run")),
    Column("press", N_("The press")),
    Column("run_at", N_("When it was hung, or the run opened"), "time"),
    Column("impressions", N_("Impressions of this stencil in this run")),
    Column("good", N_("Of ink and garment lots: good pieces that took it there, by the counts")),
    Column("misprinted", N_("Misprinted ones that took it")),
    Column("unsure", N_("How many of both may have taken what was there before: counted only after a change")),
    Column("more", N_("How many more may have taken it: counted only after it was changed")),
    Column("job", N_("Code of the job")),
    Column("title", N_("Title of the job")),
    Column("customer", N_("Its customer")),
)


def trace_rows(db: Database, trace: Trace) -> Iterator[dict[str, Any]]:
    """A trace as the lines of its file."""
    clock = Clock(db)
    image = Images(db)
    for one in (*trace.rows, *trace.carrying):
        yield {
            "bucket": one.bucket_code,
            "lot": one.lot,
            "screen": one.code,
            "mark": one.mark,
            "mesh": one.mesh_number,
            "mesh_count": one.mesh,
            "stencil": one.number,
            "images": [image(number) for number in numbers_in(one.separations)],
            "coated_at": clock(one.coated_at),
            "washed_at": clock(one.washed_at),
            "faults": [fault for fault in one.faults.split("|") if fault],
            "still_on": "yes" if one.now else "",
            "run": one.run,
            "print_order": one.station,
            "press": one.press,
            "run_at": clock(one.run_at),
            "impressions": one.impressions if one.run else None,
            "job": one.job_code,
            "title": one.job_title,
            "customer": one.customer,
        }
    for use in trace.inks:
        yield {
            "bucket": use.bucket,
            "lot": use.lot,
            "run": use.run,
            "print_order": use.station,
            "press": use.press,
            "run_at": clock(use.at),
            "good": use.good,
            "misprinted": use.misprinted,
            "unsure": use.unsure,
            "more": use.more,
            "job": use.job_code,
            "title": use.job_title,
            "customer": use.customer,
        }


def next_uses(db: Database, many: Sequence[Bucket]) -> list[tuple[str, str, str]]:
    """What each open bucket is for next: (text, the day it is due or "", address).

    Of an emulsion the coated screens that wait with it, else the first due job that lacks a screen and whose inks it
    stands; of an ink the first due job that names its colour, series or reference, else the next one in its kind.
    """
    found = []
    lines = jobs.wanted(db, limit=120) if many else []
    coated = desk.coated_from(db) if any(one.emulsion for one in many) else {}
    waits = any(one.emulsion and not coated.get(one.id) for one in many)
    has = screens.carried_anywhere(db, [line.separation for line in lines]) if waits else set()
    for one in many:
        name = one.product or _(one.kind)
        if one.emulsion and coated.get(one.id):
            text = ngettext("{bucket}: {n} coated screen waits", "{bucket}: {n} coated screens wait", coated[one.id])
            found.append((text.format(bucket=name, n=coated[one.id]), "", f"/desk/trace/{one.code}"))
            continue
        if one.emulsion:
            lacking = (line for line in lines if line.separation not in has)
            fit = (line for line in lacking if not checks.emulsion_fit(one, frozenset({line.ink})))
            line, text = next(fit, None), _("{bucket}: next to coat for {job}")
        else:
            kind = [line for line in lines if line.ink == one.sort]
            line = next((line for line in kind if _named(db, line, one.product)), None)
            text = _("{bucket}: next for {job}")
            if line is None and kind:
                line, text = kind[0], _("{bucket}: no open job asks for it; the next one in {ink} is {job}")
        if line is not None:
            said = text.format(bucket=name, job=line.title, ink=_(one.sort))
            if one.good_until and _day(db, one.good_until) < line.due:
                said += " – " + _("it has expired by then: mix a fresh one")
            found.append((said, line.due, f"/jobs/{line.code}"))
    return found


def _day(db: Database, stored: str) -> str:
    """The shop's day of a stored time, as press dates are kept."""
    return read_stamp(stored).astimezone(zone(db)).date().isoformat()


def _named(db: Database, line: jobs.WantedImage, product: str) -> bool:
    """Whether a station's colour, series or reference is among the words on a bucket of ink."""
    job = jobs.get(db, line.job)
    if job is None or not product:
        return False
    station = next(one for one in job.sheet.placements[line.placement - 1].stations if one.number == line.station)
    return named_by(product, (station.colour, station.series, station.reference))
