"""How many frames a shop needs: how long screens stay where, how many are made, and Little's law."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from statistics import fmean, median, quantiles
from zoneinfo import ZoneInfo

FEW = 5
"""Below so many, a median is only shown with its number beside it, and no slow tenth."""

SHIFTS = ((6, 14), (14, 22), (22, 6))
"""Hours of the day from which to which, as most shops with shifts have them (common practice)."""


@dataclass(frozen=True, slots=True)
class Span:
    """How long something took, in hours: how many were seen, the median, and what one in ten goes beyond (None: too
    few)."""

    number: int
    median_h: float
    slow_h: float | None
    mean_h: float


def span(hours: Sequence[float]) -> Span | None:
    """The spread of some durations in hours; None for none. The slow tenth is the 90th percentile, between neighbours
    in proportion."""
    if not hours:
        return None
    slow = quantiles(hours, n=10, method="inclusive")[8] if len(hours) >= FEW else None
    return Span(len(hours), median(hours), slow, fmean(hours))


def little(per_day: float, hours: float) -> float:
    """How many are under way on average: those that come in a day, times the days that each stays.

    J. D. C. Little, A Proof for the Queuing Formula L = λW, Operations Research 9 (1961).
    """
    return per_day * hours / 24


@dataclass(frozen=True, slots=True)
class MeshPool:
    """One mesh: stencils begun a day, how long a frame is taken by each, and what that comes to in frames.

    `needed` is the average by Little's law; `needed_slow` the same for the slow tenth of the turnarounds (None: too
    few). `frames`: in service now, `taken`: of them with a stencil on.
    """

    mesh: str
    begun: int
    per_day: float
    turnaround: Span | None
    needed: float | None
    needed_slow: float | None
    frames: int
    taken: int

    @property
    def short_by(self) -> int:
        """Frames missing at the average rate; 0 or more."""
        return max(0, math.ceil(self.needed - 1e-9) - self.frames) if self.needed is not None else 0


def by_mesh(
    begun: Iterable[str], ended: Iterable[tuple[str, float]], frames: dict[str, tuple[int, int]], days: float
) -> list[MeshPool]:
    """The pool by mesh. `begun`: the mesh of each stencil begun within `days`; `ended`: mesh and hours of each that
    ended within them; `frames`: frames in service and taken, by mesh."""
    started = Counter(begun)
    hours: dict[str, list[float]] = {}
    for mesh, taken in ended:
        hours.setdefault(mesh, []).append(taken)
    found = []
    for mesh in dict.fromkeys([*frames, *started, *hours]):
        per_day = started[mesh] / days if days > 0 else 0.0
        took = span(hours.get(mesh, []))
        here, taken_now = frames.get(mesh, (0, 0))
        found.append(
            MeshPool(
                mesh,
                started[mesh],
                per_day,
                took,
                little(per_day, took.mean_h) if took else None,
                little(per_day, took.slow_h) if took and took.slow_h is not None else None,
                here,
                taken_now,
            )
        )
    return found


def shift_of(at: datetime) -> tuple[date, int]:
    """The day and shift (0, 1, 2 of SHIFTS) of a local time; after midnight the night shift is still that of the day
    before."""
    for number, (start, end) in enumerate(SHIFTS[:2]):
        if start <= at.hour < end:
            return at.date(), number
    return (at.date() if at.hour >= SHIFTS[2][0] else at.date() - timedelta(days=1)), 2


def per_shift(times: Iterable[datetime], zone: ZoneInfo) -> list[tuple[date, tuple[int, int, int]]]:
    """How many in each shift, by day of the shop, the newest first; days without any are left out."""
    counted: dict[date, list[int]] = {}
    for at in times:
        day, shift = shift_of(at.astimezone(zone))
        counted.setdefault(day, [0, 0, 0])[shift] += 1
    return [(day, (row[0], row[1], row[2])) for day, row in sorted(counted.items(), reverse=True)]


# What runs short ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Day:
    """One day to come for one mesh: images that need a frame by then, frames that come back, frames left in the evening
    (below zero: short)."""

    day: date
    needed: int
    back: int
    left: int


def ahead(
    today: date, days: int, free: int, waiting: int, covered: Iterable[date], needed: Iterable[date], back_days: int
) -> list[Day]:
    """The frames of one mesh day by day, from today for so many days.

    `free`: frames that can take an image now; `waiting`: frames off the press that wait to be stripped. `covered`: due
    days of images that have their screen, `needed`: of those that have none. A frame printed or waiting on one day can
    carry another image from `back_days` on. What is late is wanted today.
    """
    back: Counter[date] = Counter()
    back[today + timedelta(days=back_days)] += waiting
    want: Counter[date] = Counter(max(day, today) for day in needed)
    for day in covered:
        back[max(day, today) + timedelta(days=back_days)] += 1
    out, left = [], free
    for number in range(days + 1):
        day = today + timedelta(days=number)
        left += back[day] - want[day]
        # what is made for this day is printed on it, and comes back in its turn
        back[day + timedelta(days=back_days)] += want[day]
        out.append(Day(day, want[day], back[day], left))
    return out
