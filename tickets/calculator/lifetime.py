"""How long meshes last, from those that ended and those still in service: Kaplan-Meier with Greenwood's errors."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from tickets.calculator.units import CannotBe
from tickets.calculator.verdict import Level, Reason, phrases
from tickets.words import N_
from tickets.words import gettext as _


@dataclass(frozen=True, slots=True)
class Life:
    """One mesh: its uses, and whether it ended there (torn, slack, ghosted) or is still in service."""

    uses: float
    ended: bool


@dataclass(frozen=True, slots=True)
class Row:
    """The curve just after `uses`: how many were at risk, how many ended, the share that lasts longer.

    `standard_error` is None where the last mesh at risk ended: the formula says nothing there.
    """

    uses: float
    at_risk: int
    ended: int
    survival: float
    standard_error: float | None


@dataclass(frozen=True, slots=True)
class Survival:
    """`median`: None while more than half last. `mean_to_last`: the area under the curve to the longest life, which is
    `longest`; beyond it the curve says nothing."""

    rows: tuple[Row, ...]
    median: float | None
    mean_to_last: float
    lives: int
    ended: int
    longest: float = math.inf

    def share(self, uses: float) -> float:
        """The share of meshes that last longer than `uses`."""
        out = 1.0
        for row in self.rows:
            if row.uses > uses:
                break
            out = row.survival
        return out


def survival(lives: Iterable[Life]) -> Survival:
    """The Kaplan-Meier curve. A mesh still in service counts as at risk at its own uses. Raises CannotBe for none."""
    known: Sequence[Life] = sorted(lives, key=lambda life: life.uses)
    if not known:
        raise CannotBe(_("There is no mesh to learn from yet."))
    if any(not math.isfinite(life.uses) or life.uses < 0 for life in known):
        raise CannotBe(_("Uses cannot be below zero."))
    rows: list[Row] = []
    share, greenwood = 1.0, 0.0
    middle: float | None = None
    area, since = 0.0, 0.0
    every = [life.uses for life in known]
    for uses, ended in sorted(Counter(life.uses for life in known if life.ended).items()):
        at_risk = len(every) - bisect_left(every, uses)
        area += share * (uses - since)
        since = uses
        share *= 1 - ended / at_risk
        error: float | None = None
        if ended < at_risk:
            greenwood += ended / (at_risk * (at_risk - ended))
            error = share * math.sqrt(greenwood)
        rows.append(Row(uses, at_risk, ended, share, error))
        if middle is None and share <= 0.5 + 1e-12:
            middle = uses
    area += share * (known[-1].uses - since)
    return Survival(tuple(rows), middle, area, len(known), sum(life.ended for life in known), known[-1].uses)


LEAST_ENDED = 5


def chance_of_next(curve: Survival, uses: float, further: float) -> float | None:
    """The chance that a mesh of `uses` lasts `further` more; None beyond what the curve has seen."""
    now = curve.share(uses)
    if now <= 0 or (uses + further > curve.longest and curve.share(curve.longest) > 0):
        return None
    return curve.share(uses + further) / now


def judge_life(curve: Survival | None, uses: float, *, further: float = 5, least_chance: float = 0.8) -> list[Reason]:
    """Whether a mesh is likely near its end. Fewer than five ended meshes: unknown."""
    if curve is None or curve.ended < LEAST_ENDED:
        numbers = {"ended": curve.ended if curve else 0, "least": LEAST_ENDED}
        return [Reason("life-too-few", Level.UNKNOWN, numbers)]
    chance = chance_of_next(curve, uses, further)
    said = {"uses": round(uses), "further": round(further), "lives": curve.lives}
    if chance is None and (uses >= curve.longest or curve.share(uses) <= 0):
        return [Reason("life-beyond", Level.CAUTION, said)]
    if chance is None:
        return [Reason("life-unseen", Level.UNKNOWN, {**said, "longest": round(curve.longest)})]
    said_too = {**said, "chance_pct": 100 * chance}
    if chance < least_chance:
        return [Reason("life-near-end", Level.CAUTION, said_too)]
    return [Reason("life-long", Level.OK, said_too)]


phrases(
    {
        "life-too-few": (
            N_("Only {ended} meshes of this sort have ended: {least} are needed to say how long one lasts."),
            N_("Log why a mesh ends, each time."),
        ),
        "life-beyond": (
            N_("At {uses} uses this mesh has lasted as long as any of the {lives} of its sort, or longer."),
            N_("Have a spare ready for a long run."),
        ),
        "life-unseen": (
            N_("At {uses} uses: none of its sort was seen beyond {longest}, so nobody can say about {further} more."),
            N_("Have a spare ready for a long run."),
        ),
        "life-near-end": (
            N_("At {uses} uses, {chance_pct} of its sort last another {further}."),
            N_("Have a spare ready for a long run; measure its tension."),
        ),
        "life-long": (N_("At {uses} uses, {chance_pct} of its sort last another {further}."), ""),
    }
)
