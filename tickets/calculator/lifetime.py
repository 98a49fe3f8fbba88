"""How long meshes last, from those that ended and those still in service: Kaplan-Meier with Greenwood's errors, for
lives that were not watched from their first use too (left truncation), and of two ends that exclude each other."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from tickets.calculator.units import CannotBe
from tickets.calculator.verdict import Level, Reason, phrases
from tickets.i18n import N_
from tickets.i18n import gettext as _

SURE = 1.959963984540054
"""Standard deviations to either side that hold the truth 95 times in 100."""


@dataclass(frozen=True, slots=True)
class UsesOfMesh:
    """One mesh: its uses, and whether it ended there or is still in service (or was lost sight of).

    `worn`: of those that ended, whether wear ended it (torn, slack, ghosted); else it was restretched in good time.
    `entered`: the uses that it had when it was seen first: of those that ended before, nobody knows.
    """

    uses: float
    ended: bool
    entered: float = 0.0
    worn: bool = True


@dataclass(frozen=True, slots=True)
class CurveStep:
    """The curve just after `uses`: how many were at risk, how many ended, the share that lasts longer.

    `standard_error` is None where the last mesh at risk ended: the formula says nothing there. `worn`: the share that
    wear ended by then (A. J. Aalen and S. Johansen, 1978); the others that ended were restretched in good time.
    """

    uses: float
    at_risk: int
    ended: int
    survival: float
    standard_error: float | None
    worn: float = 0.0
    variance: float | None = None


@dataclass(frozen=True, slots=True)
class Survival:
    """`median`: None while more than half last; `median_low` to `median_high`: where it surely lies (95 %; None: no end
    seen). `mean_to_last`: the area under the curve to the longest life, which is `longest`; beyond it the curve says
    nothing."""

    rows: tuple[CurveStep, ...]
    median: float | None
    mean_to_last: float
    lives: int
    ended: int
    longest: float = math.inf
    median_low: float | None = None
    median_high: float | None = None

    def at(self, uses: float) -> CurveStep | None:
        """The last row up to `uses`; None before the first."""
        found = None
        for row in self.rows:
            if row.uses > uses:
                break
            found = row
        return found

    def share(self, uses: float) -> float:
        """The share of meshes that last longer than `uses`."""
        row = self.at(uses)
        return row.survival if row else 1.0


def survival(lives: Iterable[UsesOfMesh]) -> Survival:
    """The Kaplan-Meier curve. A mesh still in service counts as at risk at its own uses, one that was seen from some
    use on only after that. Raises CannotBe for none."""
    known: Sequence[UsesOfMesh] = sorted(lives, key=lambda life: life.uses)
    if not known:
        raise CannotBe(_("There is no mesh to learn from yet."))
    if any(not math.isfinite(life.uses) or life.uses < 0 or life.entered < 0 for life in known):
        raise CannotBe(_("Uses cannot be below zero."))
    if any(life.entered > life.uses for life in known):
        raise CannotBe(_("A mesh cannot have had more uses when it was seen first than it has now."))
    rows: list[CurveStep] = []
    share, greenwood, worn = 1.0, 0.0, 0.0
    area, since = 0.0, 0.0
    every, entered = [life.uses for life in known], sorted(life.entered for life in known)
    worn_at = Counter(life.uses for life in known if life.ended and life.worn)
    for uses, ended in sorted(Counter(life.uses for life in known if life.ended).items()):
        not_yet = len(every) - bisect_left(entered, uses) if uses > 0 else 0  # seen first at these uses, or later
        at_risk = len(every) - bisect_left(every, uses) - not_yet
        if at_risk < ended:  # those seen first where they ended were never at risk
            continue
        area += share * (uses - since)
        since = uses
        worn += share * worn_at[uses] / at_risk
        share *= 1 - ended / at_risk
        error = variance = None
        if ended < at_risk:
            greenwood += ended / (at_risk * (at_risk - ended))
            error, variance = share * math.sqrt(greenwood), greenwood
        rows.append(CurveStep(uses, at_risk, ended, share, error, worn, variance))
    area += share * (known[-1].uses - since)
    low, high = (_crosses(rows, side) for side in (-1, 1))
    middle = next((row.uses for row in rows if row.survival <= 0.5 + 1e-12), None)
    ends = sum(row.ended for row in rows)
    return Survival(tuple(rows), middle, area, len(known), ends, known[-1].uses, low, high)


def _crosses(rows: Iterable[CurveStep], side: int) -> float | None:
    """Where one end of the curve's interval comes to a half: the interval of the median (R. Brookmeyer and J. Crowley,
    1982, on the log-log scale)."""
    return next((row.uses for row in rows if _end(row.survival, row.variance, side) <= 0.5 + 1e-12), None)


def _end(share: float, variance: float | None, side: int) -> float:
    """One end (-1: the lower, 1: the upper) of the 95 % interval of a share, which never leaves 0 to 1."""
    if variance is None or not 0 < share < 1:
        return share
    return float(share ** math.exp(-side * SURE * math.sqrt(variance) / abs(math.log(share))))


LEAST_ENDED = 5


def chance_of_next(curve: Survival, uses: float, further: float) -> float | None:
    """The chance that a mesh of `uses` lasts `further` more; None beyond what the curve has seen."""
    now = curve.share(uses)
    if now <= 0 or (uses + further > curve.longest and curve.share(curve.longest) > 0):
        return None
    return curve.share(uses + further) / now


def sure_of_next(curve: Survival, uses: float, further: float) -> tuple[float, float]:
    """Where that chance surely lies (95 %): by Greenwood's errors of what ended in between. Where none of those left
    ended in between, or all, it is within three in their number of that (the rule of three)."""
    now, then = curve.at(uses), curve.at(uses + further)
    before = now.variance if now and now.variance else 0.0
    chance = curve.share(uses + further) / curve.share(uses)
    if then is None or then is now:  # none ended in between: of n at risk, surely fewer than three in n
        left = next((row.at_risk for row in curve.rows if row.uses > uses), 0)
        return max(0.0, 1 - 3 / left) if left else 0.0, 1.0
    if then.variance is None:
        left = next(row.at_risk for row in curve.rows if row.uses > uses)
        return 0.0, min(1.0, 3 / left)
    between = max(then.variance - before, 0.0)
    return _end(chance, between, -1), _end(chance, between, 1)


def judge_life(
    curve: Survival | None, uses: float, *, further: float, least_chance: float, spec: tuple[int, ...] = ()
) -> list[Reason]:
    """Whether a mesh is likely near its end. Fewer than five ended meshes: unknown; and so is a chance whose interval
    reaches to both sides of the least one, but for a mesh that has surely outlasted half of its like."""
    if curve is None or curve.ended < LEAST_ENDED:
        numbers = {"ended": curve.ended if curve else 0, "least": LEAST_ENDED}
        return [Reason("life-too-few", Level.UNKNOWN, numbers, spec)]
    chance = chance_of_next(curve, uses, further)
    said = {"uses": round(uses), "further": round(further), "lives": curve.lives}
    if chance is None and (uses >= curve.longest or curve.share(uses) <= 0):
        return [Reason("life-beyond", Level.CAUTION, said, spec)]
    if chance is None:
        return [Reason("life-unseen", Level.UNKNOWN, {**said, "longest": round(curve.longest)}, spec)]
    low, high = sure_of_next(curve, uses, further)
    said_too = {**said, "chance_pct": round(100 * chance), "low_pct": round(100 * low), "high_pct": round(100 * high)}
    if high < least_chance:
        return [Reason("life-near-end", Level.CAUTION, said_too, spec)]
    if low >= least_chance:
        return [Reason("life-long", Level.OK, said_too, spec)]
    if curve.median_high is not None and uses >= curve.median_high:
        return [Reason("life-past-half", Level.CAUTION, said_too, spec)]
    return [Reason("life-open", Level.UNKNOWN, said_too, spec)]


def judge_unknown() -> list[Reason]:
    """What is said of a mesh that was in use before anybody counted."""
    return [Reason("life-before-unknown", Level.UNKNOWN)]


phrases(
    {
        "life-no-limit": (
            N_("No limit says how many more uses a mesh is to last, and how surely: this is not judged."),
            N_("Set both under the limits of mesh."),
        ),
        "life-too-few": (
            N_("Not enough worn-out meshes yet: {ended} of {least}."),
            N_("Log why a mesh ends, each time."),
        ),
        "life-beyond": (
            N_("{uses} uses: none of the {lives} other meshes like it lasted longer."),
            N_("Have a spare screen ready for a long run."),
        ),
        "life-unseen": (
            N_(
                "{uses} uses: no mesh like it was seen beyond {longest}, so nobody can say whether it lasts {further} "
                "more."
            ),
            N_("Have a spare screen ready for a long run."),
        ),
        "life-near-end": (
            N_(
                "{uses} uses: of meshes like it, {chance_pct} last another {further} uses, surely no more than "
                "{high_pct}."
            ),
            N_("Have a spare screen ready for a long run; measure its tension."),
        ),
        "life-past-half": (
            N_(
                "{uses} uses: it has surely outlasted half of the meshes like it. Nobody can say whether it lasts "
                "{further} more."
            ),
            N_("Have a spare screen ready for a long run; measure its tension."),
        ),
        "life-open": (
            N_(
                "{uses} uses: of meshes like it, {low_pct} to {high_pct} last another {further} uses. Too few were "
                "seen to be sure."
            ),
            N_("Measure its tension before a long run."),
        ),
        "life-long": (
            N_(
                "{uses} uses: of meshes like it, {chance_pct} last another {further} uses, surely no fewer than "
                "{low_pct}."
            ),
            "",
        ),
        "life-before-unknown": (
            N_("The mesh was used before the log began; the number of uses is not known."),
            N_("Measure its tension before a long run."),
        ),
    }
)
