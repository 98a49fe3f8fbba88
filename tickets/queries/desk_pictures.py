"""What the manager's desk draws: a dot for each image of a job, frames by mesh and stage as bars, and the frames that
are left on each day to come."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlite_utils import Database

from tickets.calculator.colour import of_name
from tickets.domain import outside
from tickets.domain.desk.pool import Day
from tickets.domain.screens.frames import Has
from tickets.domain.stages import Standing
from tickets.i18n import N_, ngettext, weekday
from tickets.i18n import gettext as _
from tickets.queries.boards import TO_HAND
from tickets.queries.desk import MeshAhead
from tickets.queries.desk_today import GROUPS, MOST_STATIONS, PlacementAhead, jobs_of
from tickets.queries.said import Reader
from tickets.queries.shop_rules import zone
from tickets.store import jobs

GROUP_WORDS = {
    "free": N_("free"),
    "slack": N_("free, but too slack"),
    "in work": N_("in work"),
    "ready": N_("ready"),
    "on press": N_("on press"),
    "kept": N_("kept"),
    "to clean or strip": N_("to clean or reclaim"),
    "to restretch": N_("to restretch"),
    "away": N_("away"),
    "unknown": N_("unknown"),
}

STATE_OF_DOT = {True: "ready", False: "half"}


Dot = tuple[str, str]
"""How an image's dot is drawn, and the colour of its ink as `#rrggbb` (empty: no name says one)."""


def dots(placements: Sequence[PlacementAhead]) -> tuple[Dot, ...]:
    """A dot for each image of a job, its placements in order and each in print order: `ready` (to hand), `half` (on the
    way), `none` (no screen); in the colour that its ink's name says, else the image's."""
    stations = [one for place in placements for one in place.stations]
    return tuple((_dot(one.progress.has), of_name(one.ink) or of_name(one.name)) for one in stations)


def dots_of(db: Database, numbers: Sequence[int], now: datetime) -> dict[int, tuple[Dot, ...]]:
    """The dots of some open jobs by number, of a whole page of a list at once; those that want no image any more are
    left out."""
    lines = jobs.wanted_of(db, numbers, MOST_STATIONS) if numbers else []
    today = now.astimezone(zone(db)).date().isoformat()
    return {one.job: dots(one.placements) for one in jobs_of(db, now, today, lines)} if lines else {}


def _dot(has: Has) -> str:
    return STATE_OF_DOT[has in TO_HAND] if has.covered or has in TO_HAND else "none"


# Frames by mesh and stage -------------------------------------------------------------------------------------------

PARTS = 40
"""A bar is drawn in so many parts."""


@dataclass(frozen=True, slots=True)
class BarPart:
    """The frames of a mesh in one group of stages: the group's key and word, how many, its share of the bar (of PARTS,
    at least one), its stages."""

    name: str
    word: str
    number: int
    share: int
    standings: tuple[Standing, ...]


@dataclass(frozen=True, slots=True)
class MeshBar:
    """A mesh as labelled (empty: not known): its parts that have frames, how many frames, how many of the free ones are
    coated."""

    mesh: str
    parts: tuple[BarPart, ...]
    number: int
    coated: int


def bars(meshes: Sequence[tuple[str, Mapping[str, int]]], coated: Mapping[str, int]) -> tuple[MeshBar, ...]:
    """The frames of each mesh as a bar."""
    return tuple(_bar(mesh, row, coated.get(mesh, 0)) for mesh, row in meshes)


def _bar(mesh: str, row: Mapping[str, int], coated: int) -> MeshBar:
    number = sum(row.values())
    parts = tuple(
        BarPart(name, _(word), row[name], max(1, round(PARTS * row[name] / number)), GROUPS[name])
        for name, word in GROUP_WORDS.items()
        if row[name]
    )
    return MeshBar(mesh, parts, number, coated)


# Frames left, day by day --------------------------------------------------------------------------------------------

MOST_DAYS = 15
"""So many days have a bar each."""
NEAR_DAYS, WEEK_DAYS = 8, 7
"""Of more days the near ones do; after them a bar stands for up to a week."""
MOST_MESHES = 8
HIGH, LOW = 22, 12
"""How high a bar of frames left can be, and how deep one of frames that lack, in pixels."""


@dataclass(frozen=True, slots=True)
class DayLeft:
    """A mesh in the evening of a day, or in that of several which has the fewest: frames left (below zero: too few),
    how high its bar is, or how deep; how many screens these days ask for that have none."""

    left: int
    up: int
    down: int
    needed: int


@dataclass(frozen=True, slots=True)
class WeekOfMesh:
    """A mesh on the days to come."""

    of: MeshAhead
    days: tuple[DayLeft, ...]


@dataclass(frozen=True, slots=True)
class WeekAhead:
    """The frames left day by day: the bars (weekday, date; of several days how many, from when), the meshes that jobs
    ask for, those that run short first; `more`: so many more meshes are not drawn, none of which runs short before
    these; `weeks`: how many bars stand for several days."""

    days: tuple[tuple[str, str], ...]
    meshes: tuple[WeekOfMesh, ...]
    more: int
    weeks: int = 0

    @property
    def short(self) -> tuple[MeshAhead, ...]:
        """The meshes that run short."""
        return tuple(one.of for one in self.meshes if one.of.short)


def week(reader: Reader, meshes: Sequence[MeshAhead]) -> WeekAhead:
    """The picture of the days to come: as `desk.ahead` has the meshes, the first to run short first."""
    asked = [one for one in meshes if one.days and (one.needs or one.short or one.rests)]
    drawn = asked[:MOST_MESHES]
    bars_of = [_spans(one.days) for one in drawn]
    most = max((min(day.left for day in span) for some in bars_of for span in some), default=1)
    spans = bars_of[0] if bars_of else []
    return WeekAhead(
        tuple(_named(reader, span) for span in spans),
        tuple(
            WeekOfMesh(one, tuple(_left(min(day.left for day in span), sum(day.needed for day in span), most)
                                  for span in some))
            for one, some in zip(drawn, bars_of, strict=True)
        ),
        len(asked) - len(drawn),
        sum(len(span) > 1 for span in spans),
    )  # fmt: skip


def _spans(days: Sequence[Day]) -> list[Sequence[Day]]:
    """The days of each bar: near ones by themselves, then a week at a time."""
    each = MOST_DAYS if len(days) <= MOST_DAYS else NEAR_DAYS
    near, far = days[:each], days[each:]
    return [*([day] for day in near), *(far[at : at + WEEK_DAYS] for at in range(0, len(far), WEEK_DAYS))]


def _named(reader: Reader, span: Sequence[Day]) -> tuple[str, str]:
    """What stands over a bar."""
    date = reader.day(span[0].day.isoformat())
    if len(span) == 1:
        return weekday(span[0].day), date
    return ngettext("{n} day", "{n} days", len(span)).format(n=len(span)), _("from {date}").format(date=date)


def _left(left: int, needed: int, most: int) -> DayLeft:
    up = max(3, round(HIGH * left / max(most, 1))) if left > 0 else 0
    return DayLeft(left, up, min(LOW, 6 * -left) if left < 0 else 0, needed)


def day_words(reader: Reader, due: str) -> tuple[str, str]:
    """A due day as a list by days has it: today or the weekday, then the date."""
    day, today = outside.day(due), reader.now.astimezone(reader.zone).date()
    return _("Today") if day == today else weekday(day) if day else "", reader.day(due)
