"""Whether something holds steady: a chart of like with like, and the day on which it left its limits."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

BASELINE = 20
"""Readings that nothing is judged by: they only say how the others are to be read."""

OUTSIDE = 4.0
"""Standard deviations beyond which one reading alone is no chance (judgement, by simulation: the usual 3 are passed by
chance once in 370 readings, and more often by readings in whole steps)."""

SLACK, SUM = 0.75, 5.5
"""A cumulative sum (E. S. Page, Continuous Inspection Schemes, Biometrika 1954): what each reading is off by, less the
slack, added up; at the sum, in standard deviations, the readings have moved (judgement, by simulation)."""

LEAST_SPREAD = 0.4
"""The least scatter that is believed, in steps: strips are read to the whole or half step, so that twenty alike do not
mean that the next is no other; and what moves by less matters to nobody (judgement, by simulation)."""


class Strip(NamedTuple):
    """A step strip: when, the step held, what it may be compared with (the same `like`: combination, wanted step), and
    the time or units that it was exposed for (None: not noted)."""

    at: str
    held: float
    like: Hashable = ""
    time: float | None = None


@dataclass(frozen=True, slots=True)
class Drifted:
    """The reading (its place, from 0) from which on something is no longer what it was. `how`: outside (one reading
    alone), adds up (one after another to the same side)."""

    place: int
    how: str


@dataclass(frozen=True, slots=True)
class Chart:
    """Strips in the order of time, and the day of the drift (None: none seen).

    `off`: how many steps each lies from the mean of its like before it, had it been exposed as long as the first of
    these (None: the first of its like). `spread`: the standard deviation of one such reading (None: too few).
    `drifted`: the first drift. `apart`: the places of those among the first ones that lie far from their like; nothing
    drifted by them and they are left out, but they are looked into. `judged`: how many came after the first ones, and
    were compared with their like. `groups`: how many sorts of like there are.
    """

    at: tuple[str, ...]
    held: tuple[float, ...]
    off: tuple[float | None, ...]
    spread: float | None
    drifted: Drifted | None
    apart: tuple[int, ...] = ()
    judged: int = 0
    groups: int = 0


@dataclass(slots=True)
class _Like:
    """What was read so far: the number and mean of each sort, and the squares about them in all."""

    number: Counter[Hashable] = field(default_factory=Counter)
    mean: dict[Hashable, float] = field(default_factory=dict)
    squares: float = 0.0

    def add(self, like: Hashable, value: float) -> None:
        self.number[like] += 1
        before = self.mean.get(like, value)
        self.mean[like] = now = before + (value - before) / self.number[like]
        self.squares += (value - before) * (value - now)

    @property
    def free(self) -> int:
        """Degrees of freedom: readings less the means taken from them."""
        return self.number.total() - len(self.mean)

    @property
    def spread(self) -> float:
        """The standard deviation of one reading."""
        return max(math.sqrt(self.squares / self.free), LEAST_SPREAD) if self.free else LEAST_SPREAD

    def apart(self, like: Hashable, value: float) -> float | None:
        """How many steps a reading lies from the mean of its like; None for the first of them."""
        return value - self.mean[like] if like in self.mean else None

    def off(self, like: Hashable, value: float) -> float:
        """How far a reading is off its like, as a standard normal number would be: the mean and the scatter are only
        known as well as so many readings tell (a self-starting chart; D. M. Hawkins, The Statistician 1987)."""
        error = self.spread * math.sqrt(1 + 1 / self.number[like])
        return as_normal((value - self.mean[like]) / error, self.free)


def as_normal(t: float, free: int) -> float:
    """Student's t as the standard normal number that is as rare (D. L. Wallace, Annals of Mathematical Statistics
    1959)."""
    said = (8 * free + 1) / (8 * free + 3) * math.sqrt(free * math.log1p(t * t / free))
    return math.copysign(said, t)


def summed(value: float, before: tuple[float, float], slack: float) -> tuple[float, float]:
    """The cumulative sums of what is above and of what is below, each less the slack, never below nothing."""
    return max(0.0, before[0] + value - slack), max(0.0, before[1] - value - slack)


def drifted(judged: Iterable[tuple[int, float]]) -> Drifted | None:
    """The first of the judged readings (place, and how far off in standard deviations) that is outside, or the one from
    which on they add up to too much."""
    sums = (0.0, 0.0)
    since: list[int | None] = [None, None]
    for place, off in judged:
        if abs(off) > OUTSIDE:
            return Drifted(place, "outside")
        sums = summed(off, sums, SLACK)
        since = [
            None if not total else place if begun is None else begun for begun, total in zip(since, sums, strict=True)
        ]
        if max(sums) > SUM:
            return Drifted(since[sums[1] > sums[0]] or 0, "adds up")
    return None


def step_chart(strips: Sequence[Strip]) -> Chart:
    """The chart of the strips under one lamp, oldest first: each against the mean of its like before it. The first
    BASELINE that can be compared are never judged; from a drift on all are compared with what was before."""
    values = _as_long(strips)
    first = _first(strips)
    apart = _apart(first, strips, values)
    known = _Like()
    off: list[float | None] = []

    def judged() -> Iterator[tuple[int, float]]:
        for place, (one, value) in enumerate(zip(strips, values, strict=True)):
            off.append(known.apart(one.like, value))
            if place >= first and off[-1] is not None and known.free:
                yield place, known.off(one.like, value)
            if place not in apart:
                known.add(one.like, value)

    moved = drifted(judged())
    off += [known.apart(one.like, value) for one, value in zip(strips[len(off) :], values[len(off) :], strict=True)]
    return Chart(
        tuple(one.at for one in strips),
        tuple(one.held for one in strips),
        tuple(off),
        known.spread if known.free else None,
        moved,
        apart,
        sum(one is not None for one in off[first:]),
        len({one.like for one in strips}),
    )


def _first(strips: Sequence[Strip]) -> int:
    """How many strips there are up to the last of the baseline."""
    seen: set[Hashable] = set()
    compared = 0
    for place, one in enumerate(strips):
        compared += one.like in seen
        seen.add(one.like)
        if compared > BASELINE:
            return place
    return len(strips)


def _as_long(strips: Sequence[Strip]) -> list[float]:
    """The step that each would have held had it been exposed as long as the first of its like: half a stop a step. What
    has no time is compared as it was read."""
    first: dict[Hashable, float] = {}
    found = []
    for one in strips:
        if one.time is not None and one.time > 0:
            found.append(one.held - 2 * math.log2(one.time / first.setdefault(one.like, one.time)))
        else:
            found.append(one.held)
    return found


def _apart(first: int, strips: Sequence[Strip], values: Sequence[float]) -> tuple[int, ...]:
    """The places of those of the first strips that lie far from all the others of their like."""
    found = []
    for place in range(first):
        others = _Like()
        for other in range(first):
            if other != place:
                others.add(strips[other].like, values[other])
        like = strips[place].like
        if others.number[like] > 1 and others.free and abs(others.off(like, values[place])) > OUTSIDE:
            found.append(place)
    return tuple(found)


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
        return max((one.number / one.of for one in (self.washed, self.checked) if one and one.of), default=0.0)


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
