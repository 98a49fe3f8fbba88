"""How a lamp fades, from the step strips of all that is exposed under it, and when it is due."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from tickets.calculator.exposure import STEPS, Combination, Washout
from tickets.calculator.verdict import Level, Reason, phrases
from tickets.i18n import N_

LEAST_STRIPS = 8
"""Fewer strips say nothing of a lamp: a step more or less is how they are read (judgement, by simulation)."""

PACE, PACE_WANDER = 0.004, 1e-7
"""How fast lamps fade: the standard deviation of the pace at first, in steps a day (a step and a half in a year, as
likely as not), and how its variance grows a day. Judgement, from a point lamp's life of about half a year and the 80 %
of its output that a lamp study leaves at the end."""

WANDER = 0.0016
"""How far a lamp moves beside that (dirt on the glass, the mains): variance in steps squared a day (judgement: a third
of a step in two months)."""

SHARED = 0.2
"""What the strips of one day and combination have in common (bucket, room), in steps: however many they are, the day
is known no better than that (judgement)."""

USUAL_NOISE, NOISE_WEIGHT, LEAST_NOISE = 0.55, 6, 0.3
"""How a strip scatters, in steps, before a shop's own strips tell it (as if so many had), and the least that is
believed: whole steps alone scatter by a step over the root of 12."""

MOST_OFF = 2.5
"""Standard deviations beyond which a strip counts as no further off: one misread strip moves a lamp no more."""

JUMP, JUMP_SLACK, JUMP_SUM = 1.0, 0.75, 4.0
"""How far a lamp may fall at once, in steps, and the cumulative sum of what is off, in standard deviations, at which
that is thought of (judgement, by simulation)."""

SURE, ALARM = 1.96, 2.33
"""Standard deviations to either side that hold the truth 95 times in 100; those by which a lamp must be weaker than at
first before it is called weak, which a lamp that loses nothing is once in 100."""


@dataclass(frozen=True, slots=True)
class Drift:
    """How one exposure unit's need of time moved since the first strip under its lamp.

    `points`: (day, time wanted relative to the first) of each strip, that of its own combination brought onto the same
    line; `line`: the same as it was judged on each day. `latest`, with `low` to `high` (95 %): now; None where there
    are too few strips. 1.25 means that a quarter more time is needed. `error`: the standard deviation of what it is
    now, and `noise`: how single strips scatter, both in steps.
    """

    points: tuple[tuple[float, float], ...] = ()
    line: tuple[tuple[float, float], ...] = ()
    latest: float | None = None
    low: float | None = None
    high: float | None = None
    error: float | None = None
    combinations: int = 0
    noise: float = USUAL_NOISE

    def weak(self, limit: float) -> bool:
        """True when the lamp asks for `limit` (a fraction) more time, and surely for more than at first."""
        if self.latest is None or self.error is None or self.latest < 1 + limit - 1e-9:
            return False
        return 2 * math.log2(self.latest) > ALARM * self.error

    def strong(self, limit: float) -> bool:
        """True when it surely asks for less than that."""
        return self.high is not None and self.high < 1 + limit

    def said(self) -> dict[str, float]:
        """What the strips say, for a sentence."""
        latest, low, high = (100 * (one or 1.0) for one in (self.latest, self.low, self.high))
        return {
            "more_pct": latest - 100, "least_pct": max(low - 100, 0.0), "most_pct": high - 100,
            "low_pct": low, "high_pct": high, "strips": len(self.points),
        }  # fmt: skip


@dataclass(slots=True)
class _Filter:
    """Kalman's filter (1960) of a lamp's loss, in steps, and its pace, in steps a day, beside one fixed base for each
    combination.

    A combination that comes in later begins at the loss of then, as sure or unsure as that is: so a change of mesh
    hides nothing, and nothing is known of the lamp that its strips do not say.
    """

    noise: float
    mean: list[float] = field(default_factory=lambda: [0.0, 0.0])
    spread: list[list[float]] = field(default_factory=lambda: [[0.0, 0.0], [0.0, PACE**2]])
    place: dict[int, int] = field(default_factory=dict)
    summed: list[float] = field(default_factory=lambda: [0.0, 0.0])

    def wait(self, days: float) -> None:
        self.mean[0] += days * self.mean[1]
        loss, pace = self.spread[:2]
        self.spread[0] = loss = [one + days * other for one, other in zip(loss, pace, strict=True)]
        for row in self.spread:
            row[0] += days * row[1]
        for at, one in enumerate(loss[1:], 1):
            self.spread[at][0] = one
        loss[0] += WANDER * days
        pace[1] += PACE_WANDER * days

    def see(self, combination: int, need: float, strips: int) -> None:
        noise = self.noise**2 / strips + SHARED**2
        at = self.place.get(combination)
        if at is None:
            self.place[combination] = len(self.mean)
            self.mean.append(need - self.mean[0])
            row = [-one[0] for one in self.spread]
            for one, value in zip(self.spread, row, strict=True):
                one.append(value)
            self.spread.append([*row, self.spread[0][0] + noise])
            return
        gain = [one[0] + one[at] for one in self.spread]
        of = gain[0] + gain[at] + noise
        off = need - self.mean[0] - self.mean[at]
        off = math.copysign(min(abs(off), MOST_OFF * math.sqrt(of)), off)
        self._jumped(off / math.sqrt(of))
        for number, (one, step) in enumerate(zip(self.spread, gain, strict=True)):
            self.mean[number] += step * off / of
            self.spread[number] = [value - step * other / of for value, other in zip(one, gain, strict=True)]

    def _jumped(self, off: float) -> None:
        """Whether one strip after another is off to the same side (a cumulative sum; E. S. Page, 1954): then the lamp
        may have lost its light at once, and the next strips count for more."""
        self.summed = [max(0.0, one + side * off - JUMP_SLACK) for one, side in zip(self.summed, (1, -1), strict=True)]
        if max(self.summed) > JUMP_SUM:
            self.summed = [0.0, 0.0]
            self.spread[0][0] += JUMP**2


def drift(washouts: Iterable[Washout], exposure_unit: str) -> Drift:
    """The drift of an exposure unit, by every strip whose time and step are known: also of a washout with a fault,
    since a strip says what light there was whatever became of the stencil.

    Each combination (and each distance of the lamp, since light falls with it) is only compared with itself, and all
    of them tell of one lamp. Irradiance is not corrected for: the lamp's weakening is what is looked for. A strip that
    held every step or none is a bound, no value, and left out.
    """
    strips = sorted(
        (
            one for one in washouts
            if one.of.exposure_unit == exposure_unit and one.time > 0 and 1 <= one.held < STEPS
        ),
        key=lambda one: one.day,
    )  # fmt: skip
    if not strips:
        return Drift()
    groups = alike((one.of, one.distance_mm) for one in strips)
    needs = [2 * math.log2(one.time) - one.held for one in strips]
    noise = scatter(needs, groups)
    follow = _Filter(noise)
    line: list[tuple[float, float]] = []
    day = strips[0].day
    for when, some in _by_day(strips, groups, needs).items():
        follow.wait(when - day)
        day = when
        for group, (total, number) in some.items():
            follow.see(group, total / number, number)
        line.append((when, _ratio(follow.mean[0])))
    base = {group: follow.mean[at] for group, at in follow.place.items()}
    points = [(one.day, _ratio(need - base[group])) for one, need, group in zip(strips, needs, groups, strict=True)]
    found = Drift(tuple(points), tuple(line), combinations=len(base), noise=noise)
    if len(strips) < LEAST_STRIPS or len(strips) <= len(base):
        return found
    error = math.sqrt(max(follow.spread[0][0], 0.0))
    latest, low, high = (_ratio(follow.mean[0] + side) for side in (0.0, -SURE * error, SURE * error))
    return replace(found, latest=latest, low=low, high=high, error=error)


def _ratio(steps: float) -> float:
    return float(2 ** (steps / 2))


def alike(strips: Iterable[tuple[Combination, float | None]]) -> list[int]:
    """The number of the sort that each strip belongs to, by its combination and the distance of the lamp in mm."""
    seen: list[tuple[Combination, float | None]] = []
    known: dict[tuple[Combination, float | None], int] = {}
    found = []
    for key in strips:
        if key not in known:
            of, far = key
            same = (at for at, one in enumerate(seen) if not one[0].differs(of) and _as_far(one[1], far))
            known[key] = next(same, len(seen))
            if known[key] == len(seen):
                seen.append(key)
        found.append(known[key])
    return found


def _as_far(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return abs(one - other) <= 0.02 * one


def _by_day(
    strips: Sequence[Washout], groups: Sequence[int], needs: Sequence[float]
) -> Mapping[float, Mapping[int, tuple[float, int]]]:
    """The strips of a day and a combination together: what they ask for in all, and how many they are."""
    found: dict[float, dict[int, tuple[float, int]]] = {}
    for one, group, need in zip(strips, groups, needs, strict=True):
        day = found.setdefault(math.floor(one.day), {})
        total, number = day.get(group, (0.0, 0))
        day[group] = (total + need, number + 1)
    return found


def scatter(needs: Sequence[float], groups: Sequence[int]) -> float:
    """How single readings scatter, in steps: by the differences of neighbours of the same group, which no slow change
    moves; beside few of these, by what is usual."""
    last: dict[int, float] = {}
    squares, number = NOISE_WEIGHT * USUAL_NOISE**2, NOISE_WEIGHT
    for need, group in zip(needs, groups, strict=True):
        if group in last:
            apart = min(abs(need - last[group]), 2 * MOST_OFF * USUAL_NOISE)
            squares, number = squares + apart**2 / 2, number + 1
        last[group] = need
    return max(math.sqrt(squares / number), LEAST_NOISE)


def judge_lamp(
    *,
    hours: float | None,
    age_d: float | None,
    drift: Drift | None,
    limit_h: float | None,
    limit_d: float | None,
    limit_drift: float,
    spec: tuple[int, ...] = (),
) -> list[Reason]:
    """Whether a lamp is due: by hours burnt, by age, or because it asks for `limit_drift` (a fraction) more time, and
    surely for more than at first. Strips that leave it open whether it does are no proof that it is fine."""
    reasons: list[Reason] = []
    if hours is not None and limit_h is not None and hours >= limit_h:
        reasons.append(Reason("lamp-hours-due", Level.CAUTION, {"burnt_h": hours, "limit_h": limit_h}, spec))
    if age_d is not None and limit_d is not None and age_d >= limit_d:
        reasons.append(Reason("lamp-age-due", Level.CAUTION, {"age_d": age_d, "limit_d": limit_d}, spec))
    if drift is not None and drift.weak(limit_drift):
        reasons.append(Reason("lamp-weak", Level.CAUTION, {**drift.said(), "limit_pct": 100 * limit_drift}, spec))
    if reasons:
        return reasons
    known = (hours is not None and limit_h is not None) or (age_d is not None and limit_d is not None)
    if drift is not None and drift.strong(limit_drift):
        return [Reason("lamp-fine", Level.OK, {}, spec)]
    if drift is not None and drift.latest is not None and not known:
        return [Reason("lamp-open", Level.UNKNOWN, {**drift.said(), "limit_pct": 100 * limit_drift}, spec)]
    return [Reason("lamp-fine", Level.OK, {}, spec) if known else Reason("lamp-unknown", Level.UNKNOWN, {}, spec)]


phrases(
    {
        "lamp-hours-due": (
            N_("The lamp has burnt {burnt_h} (limit {limit_h})."),
            N_("Change it, then shoot a step wedge. Lamps hold mercury: dispose as local rules say."),
        ),
        "lamp-age-due": (
            N_("The lamp is {age_d} old (limit {limit_d})."),
            N_("Change it, then shoot a step wedge. Lamps hold mercury: dispose as local rules say."),
        ),
        "lamp-weak": (
            N_(
                "The same stencils take {more_pct} more time than when the lamp was new, surely between {least_pct} "
                "and {most_pct} more (limit {limit_pct})."
            ),
            N_("The lamp may look bright and still be weak: change it, then shoot a step wedge."),
        ),
        "lamp-open": (
            N_(
                "By the step wedges, the lamp now takes {low_pct} to {high_pct} of the time it took when new. The "
                "range is too wide to say whether it is weak."
            ),
            N_("Write down the exposure step held with the next screens."),
        ),
        "lamp-fine": (N_("The lamp need not be changed yet."), ""),
        "lamp-unknown": (N_("Nothing is known about this lamp."), N_("Log steps held, or its hours.")),
    }
)
