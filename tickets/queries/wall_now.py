"""What a wall shows, to be read from far: what to do now, what the presses wait for, what just became ready."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

from tickets.domain.code import shown
from tickets.domain.entry import read_stamp, stamp
from tickets.domain.runs.run import state_said
from tickets.domain.steps import SCREEN_STEPS
from tickets.i18n import gettext as _
from tickets.i18n import ngettext
from tickets.queries import board_words, boards, week
from tickets.queries.desk_today import StationAhead
from tickets.queries.said import Reader
from tickets.store import jobs, places, runs, screens

MOST = 4
"""Lines of a list: more would not be read from four metres."""
DAYS = 4
"""Days whose jobs the presses wait for, today among them: a weekend lies within."""
JUST_H = 8
"""Hours back in which a screen just became ready."""


@dataclass(frozen=True, slots=True)
class PressWaits:
    """A job of these days that a press waits for, or a run that is open: the press (empty: none yet), its title,
    the customer (empty: not to be shown), what is said of it (a run: how far it is; a job: screens ready of needed,
    when), what it waits for; `stop`: there is too little time."""

    press: str
    title: str
    customer: str
    about: str
    waits: str
    stop: bool


@dataclass(frozen=True, slots=True)
class WallNow:
    """`to_do`: what waits in the screen room, with where; `ready`: screens (what they are called, their images, since
    when); `more`: so many lines of each list are not shown; `late`: how many press dates are past; `at`: when it was
    worked out."""

    to_do: tuple[tuple[str, str], ...]
    presses: tuple[PressWaits, ...]
    ready: tuple[tuple[str, str, str], ...]
    more: tuple[int, int, int]
    late: int
    at: str


def of(reader: Reader, customers: bool) -> WallNow:
    """The wall now; `customers`: whether their names may stand there."""
    db = reader.db
    names = places.names(db)
    stages = boards.to_do(db, reader.now)
    to_do = [
        (board_words.to_do_words(one), ", ".join(names[place] for place, _some in one.places[:2] if place in names))
        for one in stages
    ]
    found = week.of(reader, DAYS)
    presses = [*_open_runs(reader, customers), *_waiting(reader, found, customers)]
    ready, all_ready = _ready(reader)
    return WallNow(
        tuple(to_do[:MOST]),
        tuple(presses[:MOST]),
        tuple(ready),
        (max(len(to_do) - MOST, 0), max(len(presses) - MOST, 0), all_ready - len(ready)),
        found.late,
        board_words.clock(reader, reader.now),
    )


def _open_runs(reader: Reader, customers: bool) -> Iterator[PressWaits]:
    """The open runs that do not print: a press stands there."""
    names = places.names(reader.db)
    for run in runs.open_ones(reader.db):
        if run.story.state == "printing":
            continue
        job = jobs.get(reader.db, run.job, run.version)
        if job is not None:
            customer = job.sheet.customer if customers else ""
            state = state_said(run.story.state)
            yield PressWaits(names.get(run.press, ""), job.sheet.title, customer, state, "", False)


def _waiting(reader: Reader, found: week.Week, customers: bool) -> Iterator[PressWaits]:
    """The jobs of these days whose screens are not all ready, the latest first, those planned on a press before the
    others of their day."""
    for day in found.days:
        for one in day.jobs:
            lacking = [station for place in one.ahead.placements for station in place.lacking]
            if not lacking:
                continue
            screens_of = _("{ready} of {all} screens").format(ready=one.ahead.ready, all=one.needed)
            customer = one.ahead.customer if customers else ""
            when = one.due if one.late or day.day is None else " ".join(day.words[:1])
            about = f"{when} · {screens_of}"
            stop = day.level == "stop"
            yield PressWaits(one.press, one.ahead.title, customer, about, _waits_for(lacking), stop)


def _waits_for(lacking: list[StationAhead]) -> str:
    """What the first images need next: `white: coat, blue: check`."""
    said = []
    for one in lacking[:3]:
        step = one.progress.next_step if one.progress.has.covered else ""
        then = _(SCREEN_STEPS[step].title).lower() if step in SCREEN_STEPS else ""
        said.append(f"{one.name}: {then or _('no screen')}")
    more = len(lacking) - len(said)
    return ", ".join([*said, *([ngettext("{n} more", "{n} more", more).format(n=more)] if more else [])])


def _ready(reader: Reader) -> tuple[list[tuple[str, str, str]], int]:
    """The screens that became ready last, and how many did in those hours (counted up to a hundred)."""
    db = reader.db
    found = screens.newest_at(db, "ready", stamp(reader.now - timedelta(hours=JUST_H)), 100)
    told = []
    for screen, since in zip(screens.many(db, [one[0] for one in found[:MOST]]), found, strict=False):
        numbers = list(screen.life.stencil.separations) if screen.life.stencil else []
        images = ", ".join(one.name for one in jobs.separations(db, numbers).values())
        told.append((screen.life.mark or shown(screen.code), images, board_words.clock(reader, read_stamp(since[1]))))
    return told, len(found)


def late_said(found: WallNow) -> str:
    """How many press dates are past; empty: none."""
    told = ngettext("{n} press date has passed", "{n} press dates have passed", found.late)
    return told.format(n=found.late) if found.late else ""
