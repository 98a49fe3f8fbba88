"""Whether a screen that press people scan belongs to a run that stands open, whichever phone scans it."""

from __future__ import annotations

from dataclasses import dataclass

from sqlite_utils import Database

from tickets.calculator.verdict import Level
from tickets.domain.screens.press_checks import TO_HANG
from tickets.domain.stages import IMAGE_ON, Standing
from tickets.i18n import gettext as _
from tickets.i18n import ngettext
from tickets.queries import run_plan
from tickets.store import runs
from tickets.store.runs import StandsOpen
from tickets.store.screens import Screen

LOUD = TO_HANG | {Standing.ON_PRESS}
"""Stages of a screen that could be hung by mistake: that it is for no run is a stop there, while a run has heads to
fill. One that is being made or cleaned has a plain line, and with several runs open none; so has any while the runs
print with all of theirs on: whoever looks at the screens of the next job hangs none of them."""


@dataclass(frozen=True, slots=True)
class HangsIn:
    """A run that a screen can be hung in now, in words."""

    run: int
    said: str


@dataclass(frozen=True, slots=True)
class AtRuns:
    """What is said of a screen while runs stand open: how bad it is, in one line, and the run that it leads to (0: to
    none); `waiting`: the runs that it can be hung in now; `lacks`: it hung in that run and is torn, which is what to
    do first."""

    level: Level
    said: str
    run: int = 0
    waiting: tuple[HangsIn, ...] = ()
    lacks: bool = False


@dataclass(frozen=True, slots=True)
class _Of:
    """What a screen has to do with one run: it hangs in it, tore in it, fits a position that lacks one, or is a
    spare."""

    how: str
    run: StandsOpen
    position: int
    head: int | None

    def __str__(self) -> str:
        text = _("Run {run} on {press}, position {position}")
        return text.format(run=self.run.id, press=self.run.press, position=self.position)


def of(db: Database, screen: Screen) -> AtRuns | None:
    """What a screen has to do with the open runs, said plainly; None: none stands open."""
    life, images = screen.life, _images(screen)
    every = runs.beside(db, screen.id, images)
    if not every:
        return None
    near = [run for run in every if run.asks or run.changed or run.had]
    found = [one for run in near if (one := _of_run(db, run, screen)) is not None]
    by = {how: [one for one in found if one.how == how] for how in ("hangs", "torn", "waits", "spare")}
    if hangs := by["hangs"]:
        text = _("Head {head} of run {run} on {press}: {job}")
        return AtRuns(Level.OK, _in_words(text, hangs[0].run, head=hangs[0].head or "–"), hangs[0].run.id)
    if torn := by["torn"]:
        told = _("{place}, lacks a screen now: this one is torn.").format(place=torn[0])
        return AtRuns(Level.STOP, told, torn[0].run.id, lacks=True)
    if (waits := by["waits"]) and life.standing in TO_HANG:
        text = _("For run {run} on {press}: {job}")
        waiting = tuple(HangsIn(one.run.id, _in_words(text, one.run)) for one in waits)
        return AtRuns(Level.OK, waiting[0].said, waits[0].run.id, waiting)
    if waits:
        return AtRuns(Level.UNKNOWN, _("For {place}, when it is ready.").format(place=waits[0]), waits[0].run.id)
    if spare := by["spare"]:
        told = _("{place}, has another screen: this one is a spare.").format(place=spare[0])
        return AtRuns(Level.CAUTION if life.standing in TO_HANG else Level.UNKNOWN, told, spare[0].run.id)
    loud = life.standing in LOUD and any(one.hangs for one in every)
    if len(every) > 1 and not loud:
        return None
    told = ngettext("Not for the one open run.", "For none of the {n} open runs.", len(every)).format(n=len(every))
    if len(every) == 1:
        told = _in_words(_("Not for run {run} on {press}: {job}"), every[0])
    return AtRuns(Level.STOP if loud else Level.UNKNOWN, told, every[0].id if len(every) == 1 else 0)


def _images(screen: Screen) -> tuple[int, ...]:
    """The separations that a screen carries, ready or on their way."""
    life = screen.life
    return tuple(life.stencil.separations) if life.stencil is not None and life.standing in IMAGE_ON else ()


def _in_words(text: str, run: StandsOpen, **more: object) -> str:
    return text.format(run=run.id, press=run.press, job=run.job, **more)


def _of_run(db: Database, run: StandsOpen, screen: Screen) -> _Of | None:
    """What a screen has to do with a run that may be its own; None: nothing."""
    plan, life, images = run_plan.plan(db, run.id), screen.life, _images(screen)
    hung = next((one for one in plan.story.hung.values() if one.screen == screen.id), None)
    if hung is not None:
        return _Of("hangs", run, hung.station, hung.head)
    missing = plan.missing()
    gone = next((one for one in reversed(plan.story.was_hung) if one.screen == screen.id), None)
    if life.torn and run.had and gone is not None and gone.station in {one.number for one in missing}:
        return _Of("torn", run, gone.station, gone.head)
    waits = next((one.number for one in missing if one.separation in images), None)
    if waits is not None and not life.torn:
        return _Of("waits", run, waits, None)
    spare = next((one.number for one in plan.asked if one.separation in images), None)
    return _Of("spare", run, spare, None) if spare is not None and not life.torn else None
