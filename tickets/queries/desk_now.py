"""The manager's desk as its page shows it: jobs against screens and frames, and what is due."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from tickets.calculator.verdict import Said, say
from tickets.domain.stages import Standing
from tickets.i18n import gettext as _
from tickets.queries import board_words, boards, colour, desk, desk_pictures, desk_today, learning, mesh_lives
from tickets.queries.boards import Stage
from tickets.queries.desk import MeshAhead
from tickets.queries.desk_pictures import Dot, MeshBar, WeekAhead
from tickets.queries.desk_today import BucketDue, Desk, JobAhead
from tickets.queries.learning import LampStory, SetTimeOff
from tickets.queries.mesh_lives import NearEnd
from tickets.queries.said import Reader
from tickets.store import jobs, places, runs

FIRST_NEAR = 5
DAYS = 7
"""Days ahead that the desk shows where nobody says how many."""


@dataclass(frozen=True, slots=True)
class WaitsFor:
    """A station that keeps a placement from being set up: how near its screen is (`state`, then `how` it is), and the
    code of that screen (empty: there is none)."""

    station: int
    name: str
    covered: bool
    state: str
    how: str
    code: str


@dataclass(frozen=True, slots=True)
class JobWaits:
    """A job of the days looked at: when it is due, in words (`day`: weekday and date), a dot for each of its images
    (`desk_pictures.dots`), and what each of its placements still waits for."""

    job: JobAhead
    due: str
    day: tuple[str, str]
    dots: tuple[Dot, ...]
    placements: tuple[tuple[str, tuple[WaitsFor, ...]], ...]


@dataclass(frozen=True, slots=True)
class ColourOff:
    """A run that printed on in spite of its colour: what was said, and who overrode it (None: nobody did)."""

    run: runs.Run
    job: jobs.Saved
    told: tuple[Said, ...]
    passed: Mapping[str, Any] | None


@dataclass(frozen=True, slots=True)
class DeskNow:
    """The desk. `failed`, `expired` and `soon`: buckets whose test strip failed, past their time, near it, each with
    what is wrong; `groups`: the stages side by side, each as the key of its column, its word, its stages; `bars`: the
    same frames as bars; `week`: frames left day by day; `to_do`: what waits in the screen room; `many`: so many are not
    counted further."""

    desk: Desk
    jobs: tuple[JobWaits, ...]
    failed: tuple[tuple[BucketDue, str], ...]
    expired: tuple[tuple[BucketDue, str], ...]
    soon: tuple[tuple[BucketDue, str], ...]
    off_colour: tuple[ColourOff, ...]
    shortages: tuple[MeshAhead, ...]
    near: tuple[NearEnd, ...]
    lamps: tuple[LampStory, ...]
    times_off: tuple[SetTimeOff, ...]
    groups: tuple[tuple[str, str, tuple[Standing, ...]], ...]
    bars: tuple[MeshBar, ...]
    week: WeekAhead
    to_do: tuple[tuple[Stage, str], ...]
    places: Mapping[int, str]
    many: int = desk_today.MOST_COUNTED

    @property
    def groups_there(self) -> tuple[tuple[str, str, tuple[Standing, ...]], ...]:
        """Those of the groups that have a frame."""
        there = {part.name for bar in self.bars for part in bar.parts}
        return tuple(one for one in self.groups if one[0] in there)

    @property
    def nothing_due(self) -> bool:
        """Whether there is nothing to do but print."""
        found, looked = self.desk, (self.near, self.lamps, self.times_off)
        return not any((*looked, found.due, found.buckets, found.old_job, found.old_address))


def of(reader: Reader, days: int) -> DeskNow:
    """The desk now, for the jobs of so many days."""
    db, now = reader.db, reader.now
    found = desk_today.desk(db, now, days)
    late = colour.off_lately(runs.latest(db, boards.NEWEST_RUNS))
    meshes = desk.ahead(db, now, days).meshes
    buckets = [(one, board_words.bucket_words(reader, one)) for one in found.buckets]
    return DeskNow(
        found,
        tuple(_waits(reader, one) for one in found.jobs),
        tuple(one for one in buckets if one[0].failed),
        tuple(one for one in buckets if one[0].expired),
        tuple(one for one in buckets if not one[0].failed and not one[0].expired),
        tuple(_off(reader, *one) for one in late),
        tuple(one for one in meshes if one.short or one.rests),
        tuple(mesh_lives.near_end(db, FIRST_NEAR)),
        tuple(learning.lamps_due(db, now)),
        tuple(learning.every_set_time_off(db, now)),
        tuple((name, _(word), desk_today.GROUPS[name]) for name, word in desk_pictures.GROUP_WORDS.items()),
        desk_pictures.bars(found.meshes, found.coated),
        desk_pictures.week(reader, meshes),
        tuple((stage, board_words.to_do_words(stage)) for stage in boards.to_do(db, now)),
        places.names(db),
    )


def _waits(reader: Reader, job: JobAhead) -> JobWaits:
    told = tuple((place.name, tuple(_waits_for(reader, one) for one in place.lacking)) for place in job.placements)
    due, day = board_words.due_words(reader, job.due), desk_pictures.day_words(reader, job.due)
    return JobWaits(job, due, day, desk_pictures.dots(job.placements), told)


def _waits_for(reader: Reader, one: desk_today.StationAhead) -> WaitsFor:
    state, how = board_words.state_words(reader, one.progress, one.ready_at)
    frame = one.progress.frame
    return WaitsFor(one.station, one.name, one.progress.has.covered, state, how, str(frame.code) if frame else "")


def _off(reader: Reader, run: runs.Run, told: Any, passed: Mapping[str, Any] | None) -> ColourOff:
    job = jobs.get(reader.db, run.job, run.version)
    assert job is not None
    return ColourOff(run, job, tuple(say(one) for one in told), passed)
