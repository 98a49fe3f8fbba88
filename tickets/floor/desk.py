"""What the manager asks, gathered: reading only, from worked-out tables, each within a window and a number of rows."""

from __future__ import annotations

import csv
import io
import json
import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from sqlite_utils import Database

from tickets.calculator import units
from tickets.floor import shop
from tickets.floor.boards import stations_ahead
from tickets.floor.learning import CM_PER_IN, units_of
from tickets.floor.posting import the_spec, zone
from tickets.records import control, frames, pool, tracing
from tickets.records.bucket import Bucket
from tickets.records.checks import Asked
from tickets.records.entry import read_stamp, stamp
from tickets.records.frames import Has, Progress
from tickets.records.screen import STENCIL_ON, Standing
from tickets.records.spec import Row, Spec
from tickets.records.steps import BUCKET_STEPS, RUN_STEPS, SCREEN_STEPS
from tickets.store import boards, buckets, desk, jobs, places, readings, screens
from tickets.store.desk import InkUse, Traced
from tickets.store.jobs import Wanted
from tickets.store.settings import setting
from tickets.words import N_
from tickets.words import gettext as _

SHOWN = 200
"""Lines of a trace on a page; its file has all of them."""


# Files --------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a file: its name, what it holds, and its unit ("" for a text, "time" for a time of the shop)."""

    name: str
    about: str
    unit: str = ""


def csv_file(columns: Sequence[Column], rows: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    """A table as CSV (RFC 4180), a line at a time, with a mark in front that makes spreadsheets read it as UTF-8.

    Text that begins like a formula is made harmless.
    """
    held = io.StringIO()
    writer = csv.writer(held)
    writer.writerow([column.name for column in columns])
    yield "\N{ZERO WIDTH NO-BREAK SPACE}"
    for row in rows:
        writer.writerow([shop.safe_cell(row.get(column.name)) for column in columns])
        yield held.getvalue()
        held.seek(0)
        held.truncate()
    yield held.getvalue()


class Clock:
    """Writes stored times as spreadsheets take them: the shop's zone, to the minute, without an offset."""

    def __init__(self, db: Database) -> None:
        self._zone = zone(db)

    def __call__(self, stamp: str | None) -> str:
        return read_stamp(stamp).astimezone(self._zone).strftime("%Y-%m-%d %H:%M") if stamp else ""


# Traces -------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Totals:
    """What a trace comes to. `faulty` of the `stencils` had a fault at washout or check."""

    stencils: int
    faulty: int
    runs: int
    jobs: int
    on_now: int


@dataclass(frozen=True, slots=True)
class Trace:
    """A lot followed to its jobs, or a job back to its lots. `inks` are the runs of ink buckets and of lots by name."""

    rows: tuple[Traced, ...]
    inks: tuple[InkUse, ...]

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
    """The lots behind a job's runs."""
    return Trace(tuple(desk.to_buckets(db, job)), tuple(desk.ink_uses(db, job=job)))


TRACE = (
    Column("bucket", N_("Code of the bucket (emulsion or ink); empty: not noted")),
    Column("lot", N_("The maker’s lot")),
    Column("screen", N_("Code of the screen; empty in a line about ink")),
    Column("mark", N_("Its painted mark")),
    Column("mesh", N_("Its mesh count, as labelled")),
    Column("stencil", N_("Which of the screen’s stencils, counted from 1")),
    Column("images", N_("What is on it")),
    Column("coated_at", N_("First coat from this bucket"), "time"),
    Column("washed_at", N_("Last washout of this stencil"), "time"),
    Column("faults", N_("Faults seen at washout and check")),
    Column("still_on", N_("yes while the stencil is on the screen")),
    Column("run", N_("Number of the run that it printed; empty: none yet")),
    Column("print_order", N_("The printing station, counted from 1; of ink: 0 is the whole run")),
    Column("press", N_("The press")),
    Column("run_at", N_("When it was hung, or the run opened"), "time"),
    Column("impressions", N_("Impressions of this stencil in this run")),
    Column("job", N_("Code of the job")),
    Column("title", N_("Title of the job")),
    Column("customer", N_("Its customer")),
)


def trace_rows(db: Database, trace: Trace) -> Iterator[dict[str, Any]]:
    """A trace as the lines of its file."""
    clock = Clock(db)
    names: dict[int, str] = {}

    def image(number: int) -> str:
        if number not in names:
            found = jobs.separation(db, number)
            names[number] = f"{found.name} ({found.art} {found.revision})" if found else str(number)
        return names[number]

    for one in trace.rows:
        yield {
            "bucket": one.bucket_code,
            "lot": one.lot,
            "screen": one.code,
            "mark": one.mark,
            "mesh": one.mesh,
            "stencil": one.stencil + 1 if one.stencil is not None else None,
            "images": "; ".join(image(int(number)) for number in one.separations.split()),
            "coated_at": clock(one.coated_at),
            "washed_at": clock(one.washed_at),
            "faults": one.faults.replace("|", "; "),
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
            "job": use.job_code,
            "title": use.job_title,
            "customer": use.customer,
        }


def next_uses(db: Database, many: Sequence[Bucket]) -> list[tuple[str, str]]:
    """What waits for each open bucket: coated screens with this emulsion, the first due job that asks for this ink;
    (text, address)."""
    found = []
    lines = jobs.wanted(db, limit=120) if any(not one.emulsion for one in many) else []
    coated = desk.coated_from(db) if any(one.emulsion for one in many) else {}
    for one in many:
        name = one.product or _(one.kind)
        if one.emulsion and coated.get(one.id):
            text = _("{bucket}: {number} coated screens wait with it").format(bucket=name, number=coated[one.id])
            found.append((text, f"/desk/trace/{one.code}"))
        elif not one.emulsion:
            line = next((line for line in lines if line.ink == one.sort), None)
            if line is not None:
                text = _("{bucket}: next for {job}, due {day}").format(bucket=name, job=line.title, day=line.due)
                found.append((text, f"/jobs/{line.code}"))
    return found


# One screen's life --------------------------------------------------------------------------------------------------

LIFE = (
    Column("mesh", N_("Which of the screen’s meshes, counted from 1")),
    Column("mesh_count", N_("Its count, as labelled")),
    Column("stencil", N_("Which of the mesh’s stencils, counted from 1")),
    Column("images", N_("What was on it")),
    Column("bucket", N_("Code of the bucket of its last coat")),
    Column("preset", N_("How it was coated")),
    Column("coated_at", N_("Last coat"), "time"),
    Column("exposed_at", N_("Exposed"), "time"),
    Column("exposure_unit", N_("The exposure unit")),
    Column("exposure_s", N_("Exposure time"), "s"),
    Column("exposure_units", N_("Exposure by the integrator"), "units"),
    Column("washed_at", N_("Last washout"), "time"),
    Column("washout", N_("Its result: good or fault")),
    Column("step_held", N_("Solid step held on the step wedge")),
    Column("checked_at", N_("Last check on the light table"), "time"),
    Column("check", N_("Its result: good or fault")),
    Column("faults", N_("Faults seen at washout and check")),
    Column("left_out", N_("Steps that the shop logs, left out for this stencil")),
    Column("ready_at", N_("Ready for the press"), "time"),
    Column("impressions", N_("Impressions of this stencil")),
    Column("ended_at", N_("Stripped, or gone with its mesh; empty: still on"), "time"),
    Column("turnaround_h", N_("From its first coat to its end"), "h"),
)


def life_rows(db: Database, screen: int) -> Iterator[dict[str, Any]]:
    """Every stencil of a screen as the lines of its file, oldest first."""
    clock = Clock(db)
    codes_: dict[int, str] = {}
    for _place, one in reversed(desk.stencils_of(db, screen, None, -1)):
        images = jobs.separations(db, list(one.images))
        if one.bucket and one.bucket not in codes_:
            bucket = buckets.get(db, one.bucket)
            codes_[one.bucket] = bucket.code if bucket else ""
        yield {
            "mesh": one.mesh,
            "mesh_count": one.mesh_label,
            "stencil": one.number,
            "images": "; ".join(f"{image.name} ({image.art} {image.revision})" for image in images.values()),
            "bucket": codes_.get(one.bucket or 0, ""),
            "preset": one.preset,
            "coated_at": clock(one.coated_at),
            "exposed_at": clock(one.exposed_at),
            "exposure_unit": one.exposure_unit,
            "exposure_s": one.exposure_s,
            "exposure_units": one.exposure_units,
            "washed_at": clock(one.washed_at),
            "washout": one.washout,
            "step_held": one.step_held,
            "checked_at": clock(one.checked_at),
            "check": one.checked,
            "faults": "; ".join(one.fault_list),
            "left_out": "; ".join(one.missed_list),
            "ready_at": clock(one.ready_at),
            "impressions": one.impressions,
            "ended_at": clock(one.ended_at),
            "turnaround_h": one.turnaround_h,
        }


# The pool -----------------------------------------------------------------------------------------------------------

WINDOWS = (30, 90, 365)
"""Days back that a figure may be worked out from."""


@dataclass(frozen=True, slots=True)
class PoolView:
    """How long screens stay at each stage, what is made in a shift, and how many frames that takes.

    `days`: how far back the figures reach, which is less than asked where the log is younger or very full.
    """

    stays: tuple[tuple[str, pool.Span], ...]
    meshes: tuple[pool.MeshPool, ...]
    shifts: tuple[tuple[date, tuple[int, int, int]], ...]
    days: float


def pool_of(db: Database, now: datetime, days: int) -> PoolView:
    """The pool by the last `days`."""
    since = stamp(now - timedelta(days=days))
    spans = [(str(one), pool.span(desk.stays(db, str(one), since))) for one in Standing if one not in _NO_STAY]
    begun = desk.begun(db, since)
    reach = days / 1.0
    if begun:
        # a young log, or one so full that only its newest part was read, must not water down the rate
        reach = min(reach, max((now - read_stamp(begun[-1][0])).total_seconds() / 86400, 1.0))
    frames: dict[str, tuple[int, int]] = {}
    for standing, mesh, _count, number in screens.counts(db):
        if standing in _NOT_IN_SERVICE or not mesh:
            continue
        here, taken = frames.get(mesh, (0, 0))
        frames[mesh] = (here + number, taken + (number if standing in STENCIL_ON else 0))
    meshes = pool.by_mesh((mesh for _at, mesh in begun), desk.ended(db, since), frames, reach)
    ready = [read_stamp(at) for at in desk.made_ready(db, stamp(now - timedelta(days=14)))]
    return PoolView(
        tuple((name, one) for name, one in spans if one is not None),
        tuple(one for one in meshes if one.mesh),
        tuple(pool.per_shift(ready, zone(db))),
        reach,
    )


_NO_STAY = frozenset({Standing.RETIRED, Standing.UNKNOWN})
_NOT_IN_SERVICE = frozenset({Standing.RETIRED, Standing.TO_RESTRETCH, Standing.AWAY})


# What goes wrong ----------------------------------------------------------------------------------------------------

SCREEN_STOPS = frozenset({"pinhole", "screen breakdown"})
"""Stops of a press that are the screen's doing."""


MOST_RUNS = 300
"""Runs whose screens are counted against their stops: the newest of the window."""


@dataclass(frozen=True, slots=True)
class Wrong:
    """Faults, stops and misprints of a window, each with the number that it is out of.

    `washouts`: faults by cause out of all washouts. `by`: by exposure unit, emulsion, bucket, mesh, step left out: the
    share of washouts (stencils, for a step left out) with a fault. `stops` by cause: how many, and their minutes.
    `misprints` by cause out of all pieces printed; `presses`: misprinted pieces out of those of each press.
    `screen_stops`: stencils that hung in a run with a stop for the screen, by the same groups. `newest`: where the
    window holds more, only so many of each were counted (0: all were).
    """

    washouts: tuple[control.Share, ...]
    by: tuple[tuple[str, tuple[control.Share, ...]], ...]
    stops: tuple[tuple[str, int, float], ...]
    runs: int
    misprints: tuple[control.Share, ...]
    presses: tuple[control.Share, ...]
    screen_stops: tuple[tuple[str, tuple[control.Share, ...]], ...]
    newest: int = 0


def wrong(db: Database, now: datetime, days: int) -> Wrong:
    """What went wrong in the last `days`."""
    since = stamp(now - timedelta(days=days))
    washed = desk.washed(db, since)
    of: dict[int | None, Bucket | None] = {None: None}

    def bucket(number: int | None) -> Bucket | None:
        if number not in of:
            of[number] = buckets.get(db, number) if number is not None else None
        return of[number]

    def names(number: int | None) -> tuple[str, str]:
        known = bucket(number)
        if known is None:
            return "", ""
        return f"{known.kind} {known.product}".strip(), known.code

    faulty = [one for one in washed if one.fault]
    causes = Counter(one.fault for one in faulty)
    left = desk.left_out(db, since)
    steps = dict.fromkeys(step for missed, _fault in left for step in missed.split("|") if step)
    skipped: list[control.Share] = []
    for step in steps:
        pair = control.shares((f"-{step}" if step in missed.split("|") else f"+{step}", bad) for missed, bad in left)
        skipped += sorted(pair, key=lambda one: one.name)[::-1]
    groups = (
        ("exposure unit", control.shares((one.exposure_unit, bool(one.fault)) for one in washed)),
        ("emulsion", control.shares((names(one.bucket)[0], bool(one.fault)) for one in washed)),
        ("bucket", control.shares((names(one.bucket)[1], bool(one.fault)) for one in washed)),
        ("mesh", control.shares((_count_name(one.count_per_cm), bool(one.fault)) for one in washed)),
        ("left out", skipped),
    )
    upset = desk.upset(db, since)
    stops: dict[str, list[float]] = {}
    misprinted: Counter[str] = Counter()
    press_bad: Counter[str] = Counter()
    press_all: Counter[str] = Counter()
    for _run, press, one in upset:
        if one.step == "stop":
            stops.setdefault(one.cause, []).append(one.minutes or 0.0)
        else:
            misprinted[one.cause] += one.misprinted
            press_bad[press] += one.misprinted
            press_all[press] += one.good + one.misprinted
    pieces = press_all.total()
    runs = sorted({run for run, _press, _one in upset}, reverse=True)[:MOST_RUNS]
    stopped = {run for run, _press, one in upset if one.step == "stop" and one.cause in SCREEN_STOPS}
    hung = desk.hung_in(db, runs)
    return Wrong(
        tuple(control.Share(name, number, len(washed)) for name, number in causes.most_common()),
        tuple((name, tuple(found)) for name, found in groups if found),
        tuple(sorted(((cause, len(some), sum(some)) for cause, some in stops.items()), key=lambda one: -one[1])),
        len(runs),
        tuple(control.Share(cause, number, pieces) for cause, number in misprinted.most_common() if number),
        tuple(control.Share(press, press_bad[press], number) for press, number in press_all.most_common() if number),
        tuple(
            (name, tuple(control.shares((key(one), one.run in stopped) for one in hung)))
            for name, key in (
                ("exposure unit", lambda one: one.exposure_unit),
                ("bucket", lambda one: names(one.bucket)[1]),
                ("mesh", lambda one: one.mesh),
            )
            if hung
        ),
        desk.MOST if desk.MOST in {len(washed), len(upset)} else 0,
    )


def _count_name(count_per_cm: float | None) -> str:
    return f"{count_per_cm * CM_PER_IN:.0f}/in" if count_per_cm else ""


def step_charts(db: Database, now: datetime) -> list[tuple[str, str, control.Chart]]:
    """The steps held on each exposure unit since its lamp was put in: (unit, since when, chart)."""
    found = []
    for name in units_of(db):
        unit = places.find_unit(db, name)
        changes = [one.at for one in places.lamp_changes(db, unit.id)] if unit else []
        since = max((at for at in changes if at <= stamp(now)), default="")
        rows = readings.washouts_of_unit(db, name, since, until=stamp(now))
        steps = [(one.at, one.step_held) for one in rows if one.step_held is not None]
        found.append((name, since, control.step_chart(steps)))
    return found


# Kept screens -------------------------------------------------------------------------------------------------------

KEPT_PAGE = 40
LOOKED_THROUGH = 400
"""Kept screens looked through for a page of the strip list: it stays quick however many are kept."""


@dataclass(frozen=True, slots=True)
class KeptScreen:
    """A kept screen and whether it is worth keeping by the shop's rule. `why`: asked, until, young, over, idle.

    `asked`: the job that asks for it; `idle_d`: days since it was printed last, or kept; `images`: what is on it.
    """

    one: desk.Kept
    keep: bool
    why: str
    idle_d: int
    asked: jobs.Saved | None
    images: tuple[str, ...]


def worth_keeping(
    asked: bool, until: str, idle_d: float, today: str, limit_d: float | None
) -> tuple[bool, str]:
    """The shop's rule: what an open job asks for is kept; else what somebody kept until a day, up to that day; else for
    so many days without a print (`limit_d` None: for ever). Days as ISO dates."""
    if asked:
        return True, "asked"
    if until:
        return (True, "until") if until >= today else (False, "over")
    if limit_d is None or idle_d <= limit_d:
        return True, "young"
    return False, "idle"


def kept(
    db: Database, now: datetime, after: int = 0, strip_only: bool = False, mesh: str = "", most: int = KEPT_PAGE
) -> tuple[list[KeptScreen], int]:
    """A page of the kept screens, or of those not worth keeping; and where the next page starts (0: the last one)."""
    rule = the_spec(db).find("keep-days")
    limit = rule.value if rule else None
    today = now.astimezone(zone(db)).date().isoformat()
    found: list[KeptScreen] = []
    looked = 0
    while looked < LOOKED_THROUGH:
        rows = desk.kept(db, after, most + 1, mesh)
        for one in rows[:most]:
            if len(found) == most:
                return found, after
            after, looked = one.screen, looked + 1
            last = max(one.since, one.last_hung)
            idle = max(0.0, (now - read_stamp(last)).total_seconds() / 86400) if last else 0.0
            keep, why = worth_keeping(one.asked_by is not None, one.until, idle, today, limit)
            if strip_only and keep:
                continue
            images = jobs.separations(db, [int(text) for text in one.separations.split()])
            found.append(
                KeptScreen(
                    one,
                    keep,
                    why,
                    int(idle),
                    jobs.get(db, one.asked_by) if one.asked_by else None,
                    tuple(f"{one.name} · {one.art} {one.revision} · {one.customer}" for one in images.values()),
                )
            )
        if len(rows) <= most:
            return found, 0
    return found, after


# Files of everything ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Table:
    """A file that can be taken along: its name, what a line of it is, its columns, and how its lines are read."""

    name: str
    about: str
    columns: tuple[Column, ...]
    rows: Callable[[Database], Iterator[dict[str, Any]]]


SCREENS = (
    Column("screen", N_("Code of the screen")),
    Column("mark", N_("Its painted mark")),
    Column("stage", N_("How far it is in its cycle")),
    Column("since", N_("Since when"), "time"),
    Column("place", N_("Where it is")),
    Column("mesh_count", N_("Mesh count, as labelled")),
    Column("thread_um", N_("Thread; empty: not known"), "um"),
    Column("frame", N_("Frame")),
    Column("lowest_tension_n_per_cm", N_("Lowest reading of the last measuring"), "N/cm"),
    Column("tension_at", N_("When it was measured"), "time"),
    Column("uses", N_("Uses of this mesh")),
    Column("impressions", N_("Impressions of this mesh")),
)
JOBS = (
    Column("job", N_("Code of the job")),
    Column("title", N_("Its title")),
    Column("customer", N_("Its customer")),
    Column("reference", N_("The customer’s number")),
    Column("due", N_("Press date")),
    Column("version", N_("How often it was changed, plus one")),
    Column("closed_at", N_("When it was closed; empty: open"), "time"),
)
RUNS = (
    Column("run", N_("Number of the run")),
    Column("job", N_("Code of its job")),
    Column("placement", N_("Which placement, counted from 1")),
    Column("press", N_("The press")),
    Column("state", N_("set-up, printing, paused or finished")),
    Column("opened_at", N_("When it was opened"), "time"),
    Column("done_at", N_("When it was finished"), "time"),
    Column("impressions", N_("Impressions of all its screens together")),
    Column("good", N_("Good pieces counted")),
    Column("misprinted", N_("Misprinted pieces counted")),
    Column("stops", N_("Stops noted")),
    Column("stop_minutes", N_("Minutes of these stops"), "min"),
)
BUCKETS = (
    Column("bucket", N_("Code of the bucket")),
    Column("kind", N_("What it is")),
    Column("product", N_("Product")),
    Column("lot", N_("The maker’s lot")),
    Column("mixed_at", N_("When it was mixed"), "time"),
    Column("good_until", N_("Until when it is good; empty: no clock"), "time"),
    Column("discarded_at", N_("When it was discarded; empty: not yet"), "time"),
    Column("stencils", N_("Stencils coated from it")),
    Column("stencils_with_a_fault", N_("Of these, with a fault at washout or check")),
)


def _screen_lines(db: Database) -> Iterator[dict[str, Any]]:
    clock, names, after = Clock(db), places.names(db), 0
    while rows := screens.inventory(db, screens.Wanted(), after, 500):
        for row in rows:
            yield {
                "screen": row.code, "mark": row.mark, "stage": row.standing, "since": clock(row.since),
                "place": names.get(row.place or 0, ""), "mesh_count": row.mesh, "thread_um": row.thread_um,
                "frame": row.frame, "lowest_tension_n_per_cm": row.minimum_n_per_cm,
                "tension_at": clock(row.tension_at), "uses": row.uses, "impressions": row.impressions,
            }  # fmt: skip
        after = rows[-1].id


def _stencil_lines(db: Database) -> Iterator[dict[str, Any]]:
    for number in list(screens.every_number(db)):
        screen = screens.get(db, number)
        for row in life_rows(db, number):
            yield {"screen": screen.code if screen else number, **row}


def _timed(columns: Sequence[Column], rows: Iterable[dict[str, Any]], db: Database) -> Iterator[dict[str, Any]]:
    clock = Clock(db)
    times = [column.name for column in columns if column.unit == "time"]
    for row in rows:
        yield {**row, **{name: clock(row[name]) for name in times}}


def _entry_columns() -> tuple[Column, ...]:
    """The log's columns: what every entry has, then the fields of the steps under their own names and units."""
    about = dict.fromkeys(("press", "placement", "version", "stations", "target", "target_from", "accept", "lab"), "")
    for steps in (SCREEN_STEPS, RUN_STEPS, BUCKET_STEPS):
        for step in steps.values():
            for one in step.fields:
                about[one.name] = about.get(one.name) or one.label
    return (
        *(Column(name, ENTRY_ABOUT.get(name, "")) for name in shop.FIXED),
        *(Column(name, about.get(name, ""), units.unit_of(name) or "") for name in shop.field_names()),
        *(Column(name, ENTRY_ABOUT.get(name, "")) for name in shop.TAIL),
        Column("more", N_("What else the entry carries, as JSON")),
    )


def _entry_lines(db: Database) -> Iterator[dict[str, Any]]:
    known = {column.name for column in _entry_columns()}
    for row in shop.exported(db):
        more = {name: value for name, value in row.items() if name not in known}
        yield {**row, "more": json.dumps(more, ensure_ascii=False)} if more else row


ENTRY_ABOUT = {
    "entry": N_("Id of the entry"),
    "post": N_("Id of what was sent; several entries may come of one"),
    "part": N_("Which of them, counted from 1"),
    "step": N_("What was done"),
    "screen": N_("Code of the screen that it is about"),
    "run": N_("Number of the run that it is about"),
    "job": N_("Code of the job that it is about"),
    "bucket": N_("Code of the bucket that it is about, or that was used"),
    "person": N_("Who did it"),
    "signed": N_("pin, password, tap on a name, or command line"),
    "at": N_("When it was done (UTC)"),
    "saved_at": N_("When it was written down (UTC)"),
    "typed": N_("What was typed, where that read otherwise"),
    "verdict": N_("The verdict shown with it: level, reasons, limits used"),
    "override": N_("Who went past a verdict, and why"),
    "crosses": N_("Id of the entry that it crosses out"),
    "crossed_out_by": N_("Id of the entry that crossed it out"),
}


def tables() -> dict[str, Table]:
    """Everything that can be taken along, by name."""
    found = (
        Table("screens", N_("A screen as it is now"), SCREENS, _screen_lines),
        Table("stencils", N_("A stencil, from its coat to its stripping"), (SCREENS[0], *LIFE), _stencil_lines),
        Table("jobs", N_("A job"), JOBS, lambda db: _timed(JOBS, desk.job_rows(db), db)),
        Table("runs", N_("A run"), RUNS, lambda db: _timed(RUNS, desk.run_rows(db), db)),
        Table("buckets", N_("A bucket"), BUCKETS, lambda db: _timed(BUCKETS, desk.bucket_rows(db), db)),
        Table("entries", N_("A line of the log"), _entry_columns(), _entry_lines),
    )
    return {one.name: one for one in found}


def json_lines(rows: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    """The lines of a table as JSON, one a line."""
    for row in rows:
        yield json.dumps(row, ensure_ascii=False, default=str) + "\n"


def column_lines(every: Iterable[Table]) -> Iterator[str]:
    """What each column of each file holds, as a CSV file."""
    columns = (Column("file", ""), Column("column", ""), Column("unit", ""), Column("about", ""))
    return csv_file(
        columns,
        (
            {"file": table.name, "column": one.name, "unit": _unit_said(one), "about": _(one.about)}
            for table in every
            for one in table.columns
        ),
    )


def _unit_said(column: Column) -> str:
    return _("time of the shop, YYYY-MM-DD HH:MM") if column.unit == "time" else column.unit


# What runs short ----------------------------------------------------------------------------------------------------

AHEAD_DAYS = 14
BACK = (Standing.TO_CLEAN, Standing.TO_STRIP)
MAKE = (Standing.DEGREASED, Standing.COATED, Standing.IMAGED, Standing.EXPOSED, Standing.TO_CHECK)


@dataclass(frozen=True, slots=True)
class Soon:
    """Frames that come free of a job: how many of this mesh, and from which day on."""

    job: str
    title: str
    due: str
    number: int
    from_day: date


@dataclass(frozen=True, slots=True)
class MeshAhead:
    """One mesh in the days to come. `free` frames are fit, `slack` ones are free too but under the floor.

    `short` is the first day with too few (None: enough). What would help: kept screens not worth keeping, frames to
    restretch, frames that come free of a run.
    """

    mesh: str
    free: int
    slack: int
    waiting: int
    days: tuple[pool.Day, ...]
    needs: tuple[tuple[str, str, str, int], ...]
    short: pool.Day | None
    strip: tuple[KeptScreen, ...] = ()
    strip_more: bool = False
    restretch: int = 0
    soon: tuple[Soon, ...] = ()


@dataclass(frozen=True, slots=True)
class Ahead:
    """What runs short: meshes with a shortage first. `back_h`, `make_h`: hours from the press to a stripped frame, and
    from there to a ready screen, by the medians of the log (None: too few); `back_days` what that comes to."""

    meshes: tuple[MeshAhead, ...]
    back_h: float | None
    make_h: float | None
    back_days: int
    more: bool


def ahead(db: Database, now: datetime, days: int = AHEAD_DAYS) -> Ahead:
    """Frames by mesh against what the open jobs want in the days to come."""
    today = now.astimezone(zone(db)).date()
    found, more = stations_ahead(db, now, (today + timedelta(days=days)).isoformat())
    back_h, make_h = _through(db, now, BACK), _through(db, now, MAKE)
    hours = (back_h or 24.0) + (make_h or 24.0)
    back_days = max(1, math.ceil(hours / 24))
    spec, logged = the_spec(db), setting(db, "steps")
    share = (limit.value if (limit := spec.find("mesh-count-tolerance")) else 0.0) / 100 + 0.002
    groups: list[tuple[Asked, list[tuple[Wanted, Progress]]]] = []
    for line, asked, progress in found:
        for first, lines in groups:
            if abs(first.count_per_cm - asked.count_per_cm) <= share * first.count_per_cm:
                lines.append((line, progress))
                break
        else:
            groups.append((asked, [(line, progress)]))
    out = []
    for asked, lines in groups:
        low, high = asked.count_per_cm * (1 - share), asked.count_per_cm * (1 + share)
        free, slack = _free(db, asked, low, high, spec, logged)
        waiting = sum(
            number for standing, _mesh, count, number in screens.counts(db)
            if standing in BACK and count is not None and low <= count <= high
        )  # fmt: skip
        covered = [(line, one) for line, one in lines if one.has.covered]
        needed = [line for line, one in lines if not one.has.covered]
        table = pool.ahead(
            today, days, free, waiting,
            (date.fromisoformat(line.due) for line, one in covered if one.has is not Has.OFF_PRESS),
            (date.fromisoformat(line.due) for line in needed), back_days,
        )  # fmt: skip
        short = next((day for day in table if day.left < 0), None)
        needs = Counter((line.code, line.title, line.due) for line in needed)
        mesh = MeshAhead(
            asked.mesh, free, slack, waiting, tuple(table),
            tuple((code, title, due, number) for (code, title, due), number in needs.items()), short,
        )  # fmt: skip
        out.append(_helped(db, now, mesh, covered, low, high, back_days, today) if short else mesh)
    out.sort(key=lambda one: (one.short is None, one.short.day if one.short else today))
    return Ahead(tuple(out), back_h, make_h, back_days, more)


def _through(db: Database, now: datetime, standings: Iterable[Standing]) -> float | None:
    """Hours through some stages, by the median of each in the last 90 days; None where nobody went through any."""
    since = stamp(now - timedelta(days=90))
    spans = [pool.span(desk.stays(db, str(one), since, 200)) for one in standings]
    known = [one.median_h for one in spans if one is not None]
    return sum(known) if known else None


def _free(
    db: Database, asked: Asked, low: float, high: float, spec: Spec, logged: Sequence[str]
) -> tuple[int, int]:
    """Frames of a mesh that can take an image now: how many are fit, how many are under the floor."""
    facts = {"work": asked.work, "count_per_in": asked.count_per_cm * CM_PER_IN}
    floor = spec.find("tension-floor", **facts)
    standings = [str(one) for one in frames.free_standings(logged)]
    rows = boards.frames_of_mesh(db, low, high, standings)
    slack = sum(
        1 for one in rows if floor and one.minimum_n_per_cm is not None and one.minimum_n_per_cm < floor.value
    )
    return len(rows) - slack, slack


def _helped(
    db: Database, now: datetime, mesh: MeshAhead, covered: Sequence[tuple[Wanted, Progress]], low: float, high: float,
    back_days: int, today: date,
) -> MeshAhead:  # fmt: skip
    """What would help a mesh that runs short."""
    labels = {
        (standing, label): number for standing, label, count, number in screens.counts(db)
        if count is not None and low <= count <= high
    }  # fmt: skip
    strip: list[KeptScreen] = []
    further = False
    for label in dict.fromkeys(label for _standing, label in labels):
        if labels.get((str(Standing.KEPT), label)):
            some, after = kept(db, now, strip_only=True, mesh=label, most=6)
            strip, further = strip + some, further or bool(after)
    coming = Counter((line.code, line.title, line.due) for line, one in covered)
    assert mesh.short is not None
    soon = [
        Soon(code, title, due, number, max(date.fromisoformat(due), today) + timedelta(days=back_days))
        for (code, title, due), number in coming.items()
    ]
    restretch = sum(number for (standing, _label), number in labels.items() if standing == Standing.TO_RESTRETCH)
    return replace(mesh, strip=tuple(strip), strip_more=further, restretch=restretch, soon=tuple(soon[:6]))


# Limits that nag ----------------------------------------------------------------------------------------------------

SET_UPS = 300
"""The newest runs that the limits are looked at over."""


@dataclass(frozen=True, slots=True)
class Nag:
    """A reason that cautioned `number` of the `of` newest set-ups. `row`: the limit that it rests on (None: it rests on
    none); `moved`: where that limit would have to lie, and what would then be cautioned."""

    key: str
    number: int
    of: int
    row: Row | None
    moved: control.Moved | None
    nags: bool


def nags(db: Database) -> tuple[list[Nag], int]:
    """What set-ups are warned of, the most often first, those over a fifth marked; and how many set-ups there were."""
    seen = desk.warned(db, SET_UPS)
    set_ups = len({run for run, one in seen if not one.key})
    rows = {row.id: row for row in the_spec(db).rows}
    groups: dict[tuple[str, int | None], dict[int, float | None]] = {}
    for run, one in seen:
        if one.key:
            groups.setdefault((one.key, one.row), {})[run] = one.value
    found = []
    for (key, number), values in groups.items():
        nag = set_ups >= control.NAG_LEAST and len(values) > control.NAG_SHARE * set_ups
        below = tracing.MEASURED.get(key, ("", "above"))[1] == "below"
        known = [value for value in values.values() if value is not None]
        shift = control.moved(known, set_ups, below) if nag and len(known) == len(values) else None
        row = rows.get(number) if number is not None else None
        found.append(Nag(key, len(values), set_ups, row, shift if row is not None else None, nag))
    return sorted(found, key=lambda one: -one.number), set_ups
