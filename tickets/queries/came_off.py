"""The screens that came off in a run and lie there still, with what was said of them then."""

from __future__ import annotations

from dataclasses import dataclass

from sqlite_utils import Database

from tickets.domain.entry import Entry, standing_lines, text_of
from tickets.domain.runs.run import Story
from tickets.domain.stages import MOVES, Standing
from tickets.store import entries, screens

ANEW = frozenset({"stretch", "coat", "image", "strip", "hang", "retire"})
"""Steps after which a screen is not the one that came off any more."""


@dataclass(frozen=True, slots=True)
class SaidOfScreen:
    """`then` and `condition` of one screen, or of all; empty: nobody said."""

    then: str = ""
    condition: str = ""


@dataclass(frozen=True, slots=True)
class Lying:
    """A screen that came off in this run before and carries the same stencil still: what was said of it then.

    `free`: nobody decided what becomes of it, or a pause kept it for the run alone; what is said of all holds for it.
    """

    screen: screens.Screen
    station: int
    said: SaidOfScreen
    paused: bool
    free: bool


def lying(db: Database, run: int, story: Story) -> list[Lying]:
    """The screens that came off in a run, at a pause or swapped, and lie there still as they came off; in print
    order."""
    hanging = {hung.screen for hung in story.hung.values()}
    stations = {hung.screen: hung.station for hung in story.was_hung if hung.screen not in hanging}
    found = []
    for number, station in stations.items():
        screen = screens.get(db, number)
        stencil = screen.life.stencil if screen else None
        if screen is None or stencil is None or screen.life.standing not in MOVES["decide"][0]:
            continue
        since: list[Entry] = []
        for entry in standing_lines(entries.of(db, "screen", number)):
            since = [entry] if entry.step == "pull" else [*since, entry]
        if not since or since[0].step != "pull" or since[0].run != run or ANEW & {one.step for one in since}:
            continue  # another run had it since, or it is not the same stencil any more
        pull, life = since[0].values, screen.life
        kept = text_of(pull, "for")
        free = not life.decided or bool(kept and life.keep_for == kept)
        said = SaidOfScreen("" if kept else text_of(pull, "then"), stencil.condition or text_of(pull, "condition"))
        found.append(Lying(screen, station, said, "why" not in pull, free and life.standing is Standing.KEPT))
    return sorted(found, key=lambda one: one.station)
