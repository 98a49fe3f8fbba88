"""Whether something holds steady: an individuals chart, and the day on which it left its limits."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import fmean

D2 = 1.128
"""Expected range of two readings, in standard deviations (2/√π), as rounded in the NIST/SEMATECH e-Handbook of
Statistical Methods, 6.3.2.2 (from memory)."""

BASELINE = 20
LEAST = 10
"""Readings that limits are drawn from: the first twenty, and none from fewer than ten."""

IN_A_ROW = 8
"""So many in a row on one side of the mean are no chance (Western Electric; e-Handbook 6.3.2, from memory)."""

HALF_STEP = 0.5
"""A grey scale is read to the half step at best: limits are never drawn nearer than that (judgement)."""


@dataclass(frozen=True, slots=True)
class Limits:
    """The mean of the baseline and its control limits; `moving_range` is the mean of the differences of neighbours."""

    mean: float
    moving_range: float
    low: float
    high: float
    readings: int


@dataclass(frozen=True, slots=True)
class Drifted:
    """The reading (its place, from 0) from which on something is no longer what it was. `how`: outside, in a row."""

    place: int
    how: str


def limits(values: Sequence[float], least: float = 0.0) -> Limits | None:
    """Limits of an individuals chart: the mean, plus and minus three times the mean moving range over d2.

    `least`: how near to the mean a limit may come. None for fewer than two readings.
    """
    if len(values) < 2:
        return None
    mean = fmean(values)
    moving = fmean(abs(after - before) for before, after in zip(values, values[1:], strict=False))
    reach = max(3 * moving / D2, least)
    return Limits(mean, moving, mean - reach, mean + reach, len(values))


def drifted(values: Sequence[float], held: Limits, start: int = 0) -> Drifted | None:
    """The first reading from `start` on that is outside its limits, or that ends eight in a row on one side."""
    side, row = 0, 0
    for place, value in enumerate(values):
        now = (value > held.mean) - (value < held.mean)
        row = row + 1 if now and now == side else int(bool(now))
        side = now
        if place < start:
            continue
        if not held.low <= value <= held.high:
            return Drifted(place, "outside")
        if row >= IN_A_ROW:
            return Drifted(place - IN_A_ROW + 1, "in a row")
    return None


@dataclass(frozen=True, slots=True)
class Chart:
    """Readings in the order of time, the limits of the first ones, and the day of the drift (None: none seen).

    `apart`: the places of those among the first ones that lie outside the limits drawn from them; nothing drifted by
    them, but they are looked into. `judged`: how many readings came after the first ones, and were held against them.
    """

    at: tuple[str, ...]
    values: tuple[float, ...]
    limits: Limits | None
    drifted: Drifted | None
    apart: tuple[int, ...] = ()
    judged: int = 0


def step_chart(readings: Sequence[tuple[str, float]]) -> Chart:
    """The individuals chart of steps held on one lamp, oldest reading first: (time, step)."""
    at, values = tuple(time for time, _step in readings), tuple(step for _time, step in readings)
    if len(values) < LEAST:
        return Chart(at, values, None, None)
    first = values[:BASELINE]
    held = limits(first, HALF_STEP)
    if held is None:
        return Chart(at, values, None, None)
    apart = tuple(place for place, value in enumerate(first) if not held.low <= value <= held.high)
    return Chart(at, values, held, drifted(values, held, len(first)), apart, len(values) - len(first))


# What goes wrong ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Share:
    """So many of so many, for one group (an exposure unit, a mesh, a cause)."""

    name: str
    number: int
    of: int


def shares(seen: Iterable[tuple[str, bool, int]]) -> list[Share]:
    """How often something happened in each group, the most often first, then the larger group: (group, happened, how
    many times)."""
    every: Counter[str] = Counter()
    happened: Counter[str] = Counter()
    for name, so, number in seen:
        every[name] += number
        happened[name] += number * so
    found = [Share(name, happened[name], number) for name, number in every.items()]
    return sorted(found, key=lambda one: (-one.number / max(one.of, 1), -one.of, one.name))


def causes(seen: Iterable[tuple[str, int]]) -> tuple[Share, ...]:
    """How many times each cause was seen, out of all, the commonest first: (cause, empty where all was good; how many
    times)."""
    found: Counter[str] = Counter()
    for cause, number in seen:
        found[cause] += number
    return tuple(Share(cause, number, found.total()) for cause, number in found.most_common() if cause)


@dataclass(frozen=True, slots=True)
class Beside:
    """Faults of one group, seen in two ways: at the washout, and at the check on the light table (None: none there)."""

    name: str
    washed: Share | None
    checked: Share | None

    @property
    def worst(self) -> float:
        """The larger of the two rates."""
        return max(one.number / one.of for one in (self.washed, self.checked) if one is not None)


def beside(washed: Iterable[Share], checked: Iterable[Share]) -> list[Beside]:
    """The same groups side by side, the larger rate first, then the larger group."""
    first, second = {one.name: one for one in washed}, {one.name: one for one in checked}
    found = [Beside(name, first.get(name), second.get(name)) for name in dict.fromkeys([*first, *second])]
    return sorted(found, key=lambda one: (-one.worst, -(one.washed or one.checked or Share("", 0, 0)).of, one.name))


# Limits that nag ----------------------------------------------------------------------------------------------------

NAG_SHARE = 0.2
"""A limit that cautions more than a fifth of set-ups nags: people stop reading what is always said."""
NAG_LEAST = 5
"""Set-ups below which nothing is said of a limit."""


@dataclass(frozen=True, slots=True)
class Moved:
    """Where a limit would have to lie to caution no more than a fifth of these set-ups, and how many it would then."""

    value: float
    number: int


def moved(values: Sequence[float], of: int, below: bool) -> Moved | None:
    """The nearest limit that cautions at most a fifth of `of` set-ups. `values`: the worst number of each that was
    cautioned; `below`: bad is what lies under the limit. None where there is nothing to move. The limit is in whole
    tenths, so that it does what is said of it when it is typed as it is shown.
    """
    allowed = int(of * NAG_SHARE)
    if len(values) <= allowed:
        return None
    ordered = sorted(values) if below else sorted(values, reverse=True)
    tenths = 10 * ordered[allowed]
    value = (math.floor(tenths + 1e-6) if below else math.ceil(tenths - 1e-6)) / 10
    number = sum(1 for one in values if (one < value if below else one > value))
    return Moved(value, number)
