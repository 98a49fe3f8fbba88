"""The desk: what is due, what is late, how many frames there are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from tickets.domain.bucket import Bucket
from tickets.domain.entry import read_stamp, stamp
from tickets.domain.jobs.job import needed
from tickets.domain.screens.frame_checks import Asked
from tickets.domain.screens.frames import Progress
from tickets.domain.screens.screen import FREE
from tickets.domain.stages import Standing
from tickets.queries import boards as boards_now
from tickets.queries.asked import too_slack
from tickets.queries.boards import NEWEST_RUNS, TO_HAND
from tickets.queries.shop_rules import the_spec
from tickets.store import boards, buckets, jobs, printed, screens
from tickets.store.jobs import Saved, WantedImage
from tickets.store.reads import while_log_stays
from tickets.store.settings import settings
from tickets.store.spec import newest as newest_row


@dataclass(frozen=True, slots=True)
class StationAhead:
    """A printing station of a job to come, how near it is to a screen, and when a screen on the way can be ready.
    `ink`: what its ink's colour is called."""

    station: int
    name: str
    progress: Progress
    ready_at: datetime | None = None
    ink: str = ""


@dataclass(frozen=True, slots=True)
class PlacementAhead:
    """A placement that is still to be printed: its stations in print order."""

    name: str
    stations: tuple[StationAhead, ...]

    @property
    def lacking(self) -> tuple[StationAhead, ...]:
        """The stations that keep it from being set up, the ones without a screen first."""
        waits = [one for one in self.stations if one.progress.has not in TO_HAND]
        return tuple(sorted(waits, key=lambda one: one.progress.has.covered))


@dataclass(frozen=True, slots=True)
class JobAhead:
    """An open job of the next days, by its number: how many stations have a screen ready, one on the way, none, and
    which."""

    job: int
    code: str
    title: str
    customer: str
    due: str
    ready: int
    under_way: int
    none: int
    late: bool
    placements: tuple[PlacementAhead, ...] = ()


@dataclass(frozen=True, slots=True)
class Due:
    """Screens that are due for something: how many, the first few, and (slack) how many of which mesh."""

    what: str
    number: int
    first: tuple[boards.Short, ...] = ()
    limits: Mapping[str, float] = field(default_factory=dict)
    by_mesh: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class BucketDue:
    """A bucket past its time or near it; `hours` left (below zero: past)."""

    bucket: Bucket
    hours: float | None
    failed: bool

    @property
    def expired(self) -> bool:
        """True when its time is past, and that is what is said of it: a failed test strip counts for more."""
        return not self.failed and self.hours is not None and self.hours < 0


@dataclass(frozen=True, slots=True)
class Desk:
    """What the manager looks at first."""

    jobs: tuple[JobAhead, ...]
    more_jobs: bool
    meshes: tuple[tuple[str, Mapping[str, int]], ...]
    coated: Mapping[str, int]
    due: tuple[Due, ...]
    buckets: tuple[BucketDue, ...]
    old_address: tuple[Mapping[str, Any], ...]
    old_job: tuple[Mapping[str, Any], ...]


GROUPS: dict[str, tuple[Standing, ...]] = {
    "free": FREE,
    "slack": FREE,
    "in work": (Standing.IMAGED, Standing.EXPOSED, Standing.TO_CHECK),
    "ready": (Standing.READY,),
    "on press": (Standing.ON_PRESS,),
    "kept": (Standing.KEPT,),
    "to clean or strip": (Standing.TO_CLEAN, Standing.TO_STRIP),
    "to restretch": (Standing.TO_RESTRETCH,),
    "away": (Standing.AWAY,),
    "unknown": (Standing.UNKNOWN,),
}
"""The stages side by side, as the manager's table has them, coated frames among the free; retired frames are left out,
and those of the free ones that are too slack stand by themselves."""


SOON_H = {True: 72.0, False: 2.0}
"""Hours before its end that a bucket is shown as running out: emulsion (True), ink (False)."""


AGES_S = 600
"""What falls due by its age alone shows within ten minutes; what the log changes shows at once."""


MOST_STATIONS = 400


MOST_COUNTED = boards.MANY


def desk(db: Database, now: datetime, days: int = 7) -> Desk:
    """The manager's first page: jobs of the next `days`, frames by mesh and stage, what is due."""
    today = now.astimezone(ZoneInfo(settings(db)["zone"])).date()
    mixed = _buckets(db, now)  # those in use: the stencils ahead were coated from most of them
    ahead, more = _jobs_ahead(db, now, today.isoformat(), (today + timedelta(days=days)).isoformat())
    address, loose = settings(db)["address"], too_slack(db)
    meshes, coated = _meshes(db, loose)
    behind, outdated = printed.out_of_date(db, address, 50)
    return Desk(
        jobs=ahead,
        more_jobs=more,
        meshes=meshes,
        coated=coated,
        due=while_log_stays(
            db,
            "due",
            (newest_row(db), today, int(now.timestamp()) // AGES_S, loose),
            lambda: _due(db, now, today.isoformat(), loose),
        ),
        buckets=mixed,
        old_address=tuple(behind),
        old_job=tuple(outdated),
    )


def _jobs_ahead(db: Database, now: datetime, today: str, until: str) -> tuple[tuple[JobAhead, ...], bool]:
    lines = jobs.wanted(db, until=until, limit=MOST_STATIONS + 1)
    return jobs_of(db, now, today, lines[:MOST_STATIONS]), len(lines) > MOST_STATIONS


def jobs_of(db: Database, now: datetime, today: str, lines: Sequence[WantedImage]) -> tuple[JobAhead, ...]:
    """The jobs that want something, each with its stations and how near they are to a screen."""
    reader = boards_now.BoardReader(db, now)
    tally: dict[int, list[int]] = {}
    placements: dict[int, dict[int, list[StationAhead]]] = {}
    heads: dict[int, WantedImage] = {}
    boards_now.look_ahead(db, [line.job for line in lines], NEWEST_RUNS)
    for line in lines:
        known = reader.progress(line)
        if known is None:
            continue
        heads.setdefault(line.job, line)
        numbers = tally.setdefault(line.job, [0, 0, 0])
        asked, progress = known
        numbers[0 if progress.has in TO_HAND else 1 if progress.has.covered else 2] += 1
        ink = reader.job(line.job).sheet.placements[line.placement - 1].stations[line.station - 1].colour
        told = StationAhead(line.station, asked.image.name, progress, reader.ready_at(progress), ink)
        placements.setdefault(line.job, {}).setdefault(line.placement, []).append(told)
    return tuple(
        JobAhead(
            head.job,
            head.code,
            head.title,
            head.customer,
            head.due,
            ready,
            under_way,
            none,
            head.due < today,
            tuple(
                PlacementAhead(reader.job(job).sheet.placements[place - 1].name, tuple(stations))
                for place, stations in placements[job].items()
            ),
        )
        for job, head in heads.items()
        for ready, under_way, none in [tally[job]]
    )


def placement_ahead(db: Database, job: Saved, placement: int, now: datetime) -> PlacementAhead:
    """The printing stations of one placement (counted from 1), each with its screen, as the boards have it."""
    reader = boards_now.BoardReader(db, now)
    here, stations = job.sheet.placements[placement - 1], []
    wanted = needed(job.sheet, here, job.sheet.garments)
    for asked in jobs.asked(db, job, placement):
        if asked.number not in wanted:
            continue
        found = reader.progress_of(asked, job.id, placement)
        ink = here.stations[asked.number - 1].colour
        stations.append(StationAhead(asked.number, asked.image.name, found, reader.ready_at(found), ink))
    return PlacementAhead(here.name, tuple(stations))


def stations_ahead(
    db: Database, now: datetime, until: str, most: int = MOST_STATIONS
) -> tuple[list[tuple[WantedImage, Asked, Progress]], bool]:
    """What the open jobs due until a day want, the earliest due first, each with the screen that it has; whether there
    is more than `most`."""
    reader = boards_now.BoardReader(db, now)
    lines = jobs.wanted(db, until=until, limit=most + 1)
    boards_now.look_ahead(db, [line.job for line in lines[:most]])
    known = [(line, reader.progress(line)) for line in lines[:most]]
    return [(line, *found) for line, found in known if found is not None], len(lines) > most


def _meshes(db: Database, loose: screens.Slack) -> tuple[tuple[tuple[str, Mapping[str, int]], ...], Mapping[str, int]]:
    """The frames of each mesh by group, and by mesh how many of the free ones are coated already."""
    of = {str(standing): name for name, standings in GROUPS.items() if name != "slack" for standing in standings}
    of[screens.SLACK] = "slack"
    found: dict[str, dict[str, int]] = {}
    coated: Counter[str] = Counter()
    for standing, mesh, _count, number in screens.counts(db, loose):
        if standing in of:
            row = found.setdefault(mesh, dict.fromkeys(GROUPS, 0))
            row[of[standing]] += number
            coated[mesh] += number * (standing == Standing.COATED)
    return tuple(found.items()), coated


def _due(db: Database, now: datetime, today: str, loose: screens.Slack) -> tuple[Due, ...]:
    spec = the_spec(db)
    age, stencils, coated = spec.find("tension-age"), spec.find("tension-age-stencils"), spec.find("coated-age")
    asked: list[tuple[str, str, int, dict[str, float]]] = [
        (
            "tension",
            stamp(now - timedelta(days=age.value)) if age else "",
            int(stencils.value) if stencils else 10**9,
            {"limit_d": age.value if age else 0, "limit_stencils": stencils.value if stencils else 0},
        ),
        (
            "coated",
            stamp(now - timedelta(days=coated.value)) if coated else "",
            0,
            {"limit_d": coated.value if coated else 0},
        ),
        ("keep", today, 0, {}),
        ("unclear", "", 0, {}),
        ("missing", "", 0, {}),
    ]
    numbers = boards.due_counts(db, [one[:3] for one in asked])
    there = [(one, number) for one, number in zip(asked, numbers, strict=True) if number]
    by_mesh = tuple(screens.slack_meshes(db, loose))
    slack = min(sum(number for _mesh, number in by_mesh), MOST_COUNTED)
    first = [tuple(some) for some in boards.due(db, [one[:3] for one, _number in there], loose if slack else None)]
    found = [Due(what, number, some, limits)
             for ((what, _before, _most, limits), number), some in zip(there, first, strict=False)]  # fmt: skip
    return ((Due("slack", slack, first[-1], by_mesh=by_mesh),) if slack else ()) + tuple(found)


def _buckets(db: Database, now: datetime) -> tuple[BucketDue, ...]:
    found = []
    for bucket in buckets.open_ones(db, limit=200):
        hours = (read_stamp(bucket.good_until) - now).total_seconds() / 3600 if bucket.good_until else None
        failed = bucket.test == "fault"
        if failed or (hours is not None and hours <= SOON_H[bucket.emulsion]):
            found.append(BucketDue(bucket, hours, failed))
    return tuple(sorted(found, key=lambda one: (not one.failed, one.hours if one.hours is not None else 0.0)))
