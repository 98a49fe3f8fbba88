"""The work that a frame is judged for, and whether it is too slack for what it could print.

All of it is asked of the tension check, so that the shop's rows decide and nothing is said here in numbers.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from tickets.calculator import kinds
from tickets.calculator import tension as tension_rules
from tickets.domain.screens import frame_checks
from tickets.domain.screens.screen import Life, Mesh, Tension
from tickets.domain.spec import Spec
from tickets.domain.stages import Standing

LEAST = kinds.ONE_COLOUR
"""The least demanding work."""

WORK = tuple(kinds.WORK)
"""Every kind of work, the least demanding first."""

OUT = frozenset({Standing.RETIRED, Standing.AWAY, Standing.TO_RESTRETCH})
"""Frames that nobody would print with now: they get new mesh, or are not here."""

FIT, FOR_LESS, SLACK, FOR_USUAL = 0, 1, 2, 3
"""How slack a frame is by its last reading: fit for all that it could print, or never measured; fit for the least
demanding work alone; under the floor for all that it could print; fit for its usual work, not for the most demanding
one."""


def made_tight(frame: str) -> str:
    """The step that makes a slack mesh tight again: a roller frame is tightened; on every other the mesh is glued or
    stapled down, so that it gets new mesh (common practice)."""
    return "retension" if frame == kinds.ROLLER else "stretch"


def under_floor(life: Life, work: str, spec: Spec) -> bool:
    """True when the last reading is under the floor of a work."""
    reading = life.tension
    if reading is None:
        return False
    limits = frame_checks.tension_limits(life, work, spec)
    return tension_rules.under_floor(reading.readings_n_per_cm, reading.readings_weft_n_per_cm, limits)


def too_slack_for(frame: str, count_per_cm: float, minimum_n_per_cm: float | None, work: str, spec: Spec) -> bool:
    """True for a frame whose lowest reading is under the floor of a work; never measured: not known, so not said."""
    reading = Tension("", "", (minimum_n_per_cm,)) if minimum_n_per_cm is not None else None
    return under_floor(Life(mesh=Mesh("", count_per_cm, frame=frame), tension=reading), work, spec)


def judged_for(life: Life, asked: Collection[str], spec: Spec) -> str:
    """The work that a frame without an image is judged for, out of those that the open jobs ask of its mesh: the most
    demanding that it would be suggested for; where it is too slack for all of them, the least demanding. Nothing asked:
    the usual one."""
    fit_for = [work for work in WORK if work in asked and frame_checks.holds_register(life, work, spec)]
    fit_for = fit_for or [frame_checks.usual_work(life, spec)]
    serving = [work for work in fit_for if not under_floor(life, work, spec)]
    return serving[-1] if serving else fit_for[0]


def hardest(works: Iterable[str]) -> str:
    """The most demanding of some works."""
    return max(works, key=WORK.index)


def slackness(life: Life, spec: Spec) -> int:
    """How slack a frame is: FIT, FOR_USUAL, FOR_LESS or SLACK."""
    mesh, reading = life.mesh, life.tension
    if mesh is None or reading is None or life.standing in OUT:
        return FIT
    return slackness_of(mesh.frame, round(mesh.count_per_cm, 4), mesh.colour, reading.minimum_n_per_cm, spec)


def slackness_of(frame: str, count_per_cm: float, colour: str, minimum_n_per_cm: float, spec: Spec) -> int:
    """As `slackness`, of a frame that is in service, by what tells its limits and its lowest reading."""
    return spec.kept(
        ("slack", frame, count_per_cm, colour, minimum_n_per_cm),
        lambda: _slackness(frame, count_per_cm, colour, minimum_n_per_cm, spec),
    )


def _slackness(frame: str, count_per_cm: float, colour: str, minimum_n_per_cm: float, spec: Spec) -> int:
    mesh = Mesh("", count_per_cm, frame=frame, colour=colour)
    reading = Tension("", "", (minimum_n_per_cm,))
    life = Life(standing=Standing.STRIPPED, mesh=mesh, tension=reading)
    prints = [work for work in WORK if frame_checks.holds_register(life, work, spec)]
    if not under_floor(life, frame_checks.usual_work(life, spec), spec):
        return FOR_USUAL if any(under_floor(life, work, spec) for work in prints) else FIT
    return SLACK if all(under_floor(life, work, spec) for work in prints) else FOR_LESS
