"""The print order of a run: what hangs, and where the screens are that should."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlite_utils import Database

from tickets.calculator.verdict import Said, say
from tickets.domain.code import shown
from tickets.domain.jobs.job import Ink, Station, ink_for
from tickets.domain.runs.run import Hung
from tickets.domain.screens.frame_checks import Asked
from tickets.domain.screens.needs import covers_none, let_go, stage_said
from tickets.domain.screens.press_checks import TO_HANG, OnHead, unnamed
from tickets.domain.screens.screen import Life
from tickets.i18n import gettext as _
from tickets.i18n import ngettext
from tickets.queries import asked as asked_now
from tickets.queries import at_press, run_garments, run_plan
from tickets.queries.run_plan import Plan
from tickets.queries.screen_steps import seen_at
from tickets.store import jobs, places, screens


@dataclass(frozen=True, slots=True)
class Carrier:
    """A screen that carries a separation: its stage in words, the name of its place, why it covers no job (`going`);
    `keep`: whether to ask that it is kept after all."""

    screen: screens.Screen
    stage: str
    place: str
    going: str
    keep: bool


@dataclass(frozen=True, slots=True)
class Swapping:
    """A screen that hangs and is to be swapped: the name of its print order, the others that carry its image."""

    hung: Hung
    screen: screens.Screen
    name: str
    others: tuple[Carrier, ...]


@dataclass(frozen=True, slots=True)
class Lacking:
    """A position whose screen hangs no more and has no successor: that screen, the name of the position, the others
    that carry its image; `torn`: that is why, else it was taken elsewhere."""

    hung: Hung
    screen: screens.Screen
    name: str
    torn: bool
    others: tuple[Carrier, ...]


@dataclass(frozen=True, slots=True)
class PrintOrderRow:
    """A line of the print order on the run's page."""

    station: Station
    asked: Asked | None
    hung: Hung | None
    screen: screens.Screen | None
    others: tuple[Carrier, ...]
    """Screens that carry the separation, where none hangs yet."""
    needed: bool = True
    """False where no garment that is printed takes it."""
    idle: bool = False
    """True where it does nothing on the garment of now: no ink, or a flash that only served what isn't printed."""
    ink: Ink | None = None
    """What it prints on the garment that runs now; None where it prints nothing there."""
    stops: tuple[Said, ...] = ()
    """What the job, as it was changed since, says against the screen that hangs there."""

    @property
    def nameless(self) -> bool:
        """Whether the log does not know what is on the screen that hangs there (`press_checks.unnamed`)."""
        if self.asked is None or self.hung is None or self.screen is None:
            return False
        on = OnHead(self.asked, self.screen.code, self.screen.life, self.hung.head, self.hung.at)
        return bool(unnamed([on]))


def rows_of(db: Database, plan: Plan) -> list[PrintOrderRow]:
    """The print order: what hangs, or where the screen is that should."""
    asked = {one.number: one for one in plan.asked}
    names = places.names(db)
    needed, idle = run_plan.prints_now(plan), run_plan.idle_now(plan)
    way = run_garments.way_now(plan)
    out = []
    screens.read_ahead(db, [hung.screen for hung in plan.story.hung.values()])
    screens.carrying_ahead(db, [one.separation for one in plan.asked])
    for station in plan.placement.stations:
        hung = plan.story.hung.get(station.number)
        one = asked.get(station.number)
        found: tuple[Carrier, ...] = ()
        if one is not None and hung is None:
            found = tuple(sorted(carriers(db, one.separation, names), key=_far))
        screen = screens.get(db, hung.screen) if hung else None
        ink = ink_for(plan.job.sheet, way, plan.placement, station)
        old = tuple(map(say, at_press.job_changed(db, plan, screen, station.number))) if screen is not None else ()
        out.append(
            PrintOrderRow(station, one, hung, screen, found, station.number in needed, station.number in idle, ink, old)
        )
    return out


def lacking(db: Database, plan: Plan, rows: Sequence[PrintOrderRow]) -> list[Lacking]:
    """The positions of a run under way whose screen tore, or was hung elsewhere."""
    found = []
    there, last = {row.station.number: row.others for row in rows}, {hung.station: hung for hung in plan.story.was_hung}
    gone = {hung.screen for hung in plan.gone}
    for one in plan.missing() if plan.story.state != "finished" else ():
        hung = last.get(one.number)
        screen = screens.get(db, hung.screen) if hung is not None else None
        if hung is not None and screen is not None and (screen.life.torn or hung.screen in gone):
            others = tuple(other for other in there.get(one.number, ()) if other.screen.id != screen.id)
            found.append(Lacking(hung, screen, one.image.name, screen.life.torn, others))
    return found


def swapping(db: Database, plan: Plan, code: str) -> Swapping | None:
    """The screen of this code that hangs in the run and is to be swapped; None: no such one hangs."""
    for one in plan.asked:
        hung = plan.story.hung.get(one.number)
        screen = screens.get(db, hung.screen) if hung and code else None
        if hung is not None and screen is not None and screen.code == code:
            others = [other for other in carriers(db, one.separation) if other.screen.id != screen.id]
            return Swapping(hung, screen, one.image.name, tuple(sorted(others, key=_far)))
    return None


def _far(carrier: Carrier) -> bool:
    """Whether a screen cannot be hung as it is: those that can come first."""
    return carrier.screen.life.standing not in TO_HANG


def place_said(life: Life, names: Mapping[int, str]) -> str:
    """The place of a screen, said to be where it was last seen when it was worked on since; empty: nobody noted one."""
    return seen_at(life, names.get(life.place, "") if life.place else "")


def carriers(db: Database, separation: int, names: Mapping[int, str] | None = None, job: str = "") -> list[Carrier]:
    """The screens that carry a separation, those that serve first. `names`: of the places, where they were asked
    already; `job`: the code of the one that they are looked at for."""
    names, found = places.names(db) if names is None else names, []
    for screen in screens.carrying(db, separation):
        why = covers_none(screen.life)
        asks = bool(job) and why in ("strip", "worn") and not let_go(screen.life, job)
        place = place_said(screen.life, names)
        found.append(Carrier(screen, stage_said(screen.life), place, why, asks))
    return sorted(found, key=lambda one: bool(one.going))


def image_made(db: Database, screen: screens.Screen) -> list[str]:
    """What an image just put on a screen comes to: which other screens carry it already, and what of that print has no
    screen yet."""
    out = []
    for separation in screen.life.stencil.separations if screen.life.stencil else ():
        image, asking = jobs.separation(db, separation), asked_now.still(db, separation)
        others = [one for one in carriers(db, separation) if one.screen.id != screen.id and not one.going]
        if others and image is not None:
            codes = ", ".join(shown(one.screen.code) for one in others)
            told = ngettext("{codes} carries {image} already.", "{codes} carry {image} already.", len(others))
            out.append(told.format(codes=codes, image=image.name))
        job = jobs.get(db, asking[0].job) if asking else None
        if job is None:
            continue
        wanted = jobs.asked(db, job, asking[0].placement)
        screens.carrying_ahead(db, [one.separation for one in wanted])
        left = [one.image.name for one in wanted if all(other.going for other in carriers(db, one.separation))]
        told = _("Still to make for {job}: {images}.") if left else _("Every image of {job} is on a screen.")
        out.append(told.format(job=job.sheet.title, images=", ".join(left)))
    return list(dict.fromkeys(out))
