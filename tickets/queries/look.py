"""What a scan at the press shows before anybody hangs the screen: the verdict, its place, the heads to choose from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from sqlite_utils import Database

from tickets.calculator.verdict import Verdict
from tickets.domain.code import shown
from tickets.domain.person import NOBODY_PASSES, to_pass
from tickets.domain.runs.run import Hung
from tickets.domain.screens.frame_checks import Asked
from tickets.domain.screens.press_checks import FACES, AtPress
from tickets.domain.screens.screen import Life
from tickets.domain.stages import STANDING_WORDS
from tickets.queries import asked
from tickets.queries import heads as press_heads
from tickets.queries.at_press import ShortJob, check, runs_short
from tickets.queries.print_order import place_said
from tickets.queries.run_plan import Plan, free_head, plan, without
from tickets.store import jobs, people, pictures, places, runs, screens
from tickets.store.pictures import Picture
from tickets.store.screens import Screen

MOST_HEADS = 40


@dataclass(frozen=True, slots=True)
class Looked:
    """`found`: the verdict on the head `head` (None: none is free); `swap`: the screen in whose place it would come;
    `heads`: those that no screen has, by the log."""

    found: AtPress
    swap: Hung | None
    head: int | None
    heads: tuple[int, ...]


def look(
    db: Database,
    plan: Plan,
    screen: Screen,
    now: datetime,
    *,
    head: int | None = None,
    station: int | None = None,
    in_hand: bool = False,
    head_taken: bool = False,
) -> Looked:
    """A screen compared with a run, as hanging it, or swapping it in, would judge it. `head`: the one that somebody
    wants; else that of the screen that hangs in its place, else the one to offer. One that hangs in the run has its
    head and print order. `station`: the print order that it is for, where its image prints at several."""
    hangs = next((one for one in plan.story.hung.values() if one.screen == screen.id), None)
    if hangs is not None:  # nothing is to be chosen: it has its head
        found = check(db, plan, screen, now, head=hangs.head, station=hangs.station, in_hand=in_hand)
        return Looked(replace(found, station=hangs.station), None, hangs.head, _free_heads(plan))
    first = check(db, plan, screen, now, station=station, in_hand=in_hand)
    taken = plan.story.hung.get(first.station) if first.station is not None else None
    swap = taken if taken is not None and taken.screen != screen.id else None
    if head is None and swap is not None:
        head = swap.head
    elif head is None and first.station is not None:
        head = free_head(plan, first.station)
    with_it = without(plan, swap.screen) if swap else plan
    if swap and head == swap.head:  # it has that head already
        with_it = replace(with_it, busy={})
    found = check(db, with_it, screen, now, head=head, station=station, in_hand=in_hand, head_taken=head_taken)
    return Looked(found, swap, head, _free_heads(plan))


def _free_heads(plan: Plan) -> tuple[int, ...]:
    """The heads that no screen has, of this run or another, by the log."""
    most = plan.press.heads or max([12, *(one.number for one in plan.placement.stations)])
    busy = {hung.head for hung in plan.story.hung.values() if hung.head} | set(plan.busy)
    return tuple(number for number in range(1, min(most, MOST_HEADS) + 1) if number not in busy)


def headless(db: Database, plan: Plan, looked: Looked) -> str:
    """What is said of a right screen for which no head is free; empty: there is one."""
    station = looked.found.station
    if looked.head is not None or station is None or station in plan.story.hung:
        return ""
    return press_heads.none_free(db, plan.job, plan.run.placement, plan.press, plan.run.id)


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """Where the log has a screen that somebody holds in hands here: in another run, or at a place; since when."""

    plan: Plan | None
    place: str
    since: str


@dataclass(frozen=True, slots=True)
class MeantFor:
    """An open job that a screen of another job is for."""

    job: jobs.Saved
    placement: str
    station: int


@dataclass(frozen=True, slots=True)
class AtPressNow:
    """A screen at the press, for a run. `causes`: what an override answers for; `station`: where it goes (None: it has
    none here); `hangs`: it hangs in this run already; `swap`: the screen in whose place it would come; `headless`: what
    is said where no head is free; `free`: the print orders without a screen; `short`: what else waits for it;
    `to_swap`: those that it could take the place of, where it has no station of its own: (code, in words)."""

    plan: Plan
    screen: Screen
    verdict: Verdict
    causes: tuple[str, ...]
    question: bool
    station: Asked | None
    hangs: bool
    swap: Screen | None
    head: int | None
    heads: tuple[int, ...]
    headless: str
    free: tuple[Asked, ...]
    missing: tuple[Asked, ...]
    place: str
    elsewhere: Elsewhere | None
    meant_for: tuple[MeantFor, ...]
    short: tuple[ShortJob, ...]
    to_swap: tuple[tuple[str, str], ...]
    picture: Picture | None

    @property
    def life(self) -> Life:
        """What the log says of the screen."""
        return self.screen.life

    @property
    def level(self) -> str:
        """How bad the verdict is."""
        return str(self.verdict.level)

    @property
    def face(self) -> str:
        """The word that it begins with."""
        return FACES[self.verdict.level]

    @property
    def stage(self) -> str:
        """How far the screen is, in words."""
        return STANDING_WORDS[self.life.standing]

    @property
    def finished(self) -> bool:
        """Whether the run is over."""
        return self.plan.story.state == "finished"

    @property
    def head_asked(self) -> bool:
        """Whether somebody is to say that the head is free, which another run has by the log."""
        return "head-in-use" in self.causes

    @property
    def nobody(self) -> bool:
        """Whether nobody may hang it."""
        return bool(set(self.causes) & NOBODY_PASSES)


def at_press(
    db: Database,
    run: Plan,
    screen: Screen,
    looked: Looked,
    now: datetime,
    worse: Verdict | None = None,
    instead: Hung | None = None,
) -> AtPressNow:
    """What a look at a screen comes to. `worse`: the verdict of a post that was refused, since it had got worse;
    `instead`: the screen that somebody wants to swap it for."""
    found, swap = looked.found, looked.swap
    verdict = worse if worse is not None and not found.question else found.verdict
    hangs = any(one.screen == screen.id for one in run.story.hung.values())
    free = tuple(one for one in run.asked if one.number not in run.story.hung)
    return AtPressNow(
        run,
        screen,
        verdict,
        tuple(to_pass(verdict)),
        found.question,
        next((one for one in run.asked if one.number == found.station), None),
        hangs,
        screens.get(db, swap.screen) if swap else None,
        looked.head,
        looked.heads,
        headless(db, run, looked),
        free,
        tuple(run.missing()),
        place_said(screen.life, places.names(db)),
        _elsewhere(db, screen) if found.question else None,
        tuple(_meant_for(db, screen)) if found.station is None else (),
        tuple(runs_short(db, run, screen, now)) if found.station is not None and not hangs else (),
        tuple(_to_swap(db, run)) if found.station is None and (instead or not free) else (),
        pictures.of_job(db, run.run.job, run.run.version),
    )


def second_eyes(db: Database, screen: Screen, me: int) -> bool:
    """Whether a good check by this person vouches for a stencil that was named by eye."""
    return screen.life.stencil is not None and (screen.life.stencil.by_eye != me or people.alone(db, me))


def _to_swap(db: Database, run: Plan) -> list[tuple[str, str]]:
    found = []
    names = {one.number: one.image.name for one in run.asked}
    for station, hung in sorted(run.story.hung.items()):
        screen = screens.get(db, hung.screen)
        if screen is not None:
            found.append((str(screen.code), f"{station} {names.get(station, '')} – {shown(screen.code)}"))
    return found


def _elsewhere(db: Database, screen: Screen) -> Elsewhere:
    life = screen.life
    other = plan(db, life.run) if life.run and runs.get(db, life.run) else None
    place = places.get(db, life.place) if life.place else None
    return Elsewhere(other, place.name if place else "", life.since)


def _meant_for(db: Database, screen: Screen) -> list[MeantFor]:
    out = []
    for separation in screen.life.stencil.separations if screen.life.stencil else ():
        for one in asked.still(db, separation)[:3]:
            job = jobs.get(db, one.job)
            if job is not None:
                out.append(MeantFor(job, job.sheet.placements[one.placement - 1].name, one.station))
    return out
