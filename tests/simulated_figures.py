"""Shops whose truth is known, one figure at a time: what the program works out of their logs is held against it.

Each gives the readings that people would have noted; nothing here knows how the program reckons.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from tickets.calculator.exposure import Combination, Washout
from tickets.domain.desk.control import Strip

SORTS = tuple(
    Combination("table", "emulsion A", count, thread, colour, "2+1")
    for count, thread, colour in (
        (230, 48, "dyed"), (110, 80, "white"), (156, 64, "white"), (305, 34, "dyed"), (60, 120, "white"),
    )
)  # fmt: skip


def table(title: str, head: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
    """Prints a table of a simulation, for whoever runs it (pytest -s)."""
    said = [[f"{cell:.2f}" if isinstance(cell, float) else str(cell) for cell in row] for row in (head, *rows)]
    wide = [max(len(row[place]) for row in said) for place in range(len(head))]
    print(f"\n{title}")
    for row in said:
        print("  ".join(cell.rjust(width) for cell, width in zip(row, wide, strict=True)))


@dataclass(frozen=True, slots=True)
class LampShop:
    """How a shop reads strips: so many a day, each off by `noise` steps, rounded to `unit` (1 or 0.5), another bucket
    after every 15 strips (0.15 steps apart). `meshes`: "one"; "change" (another combination for good after 50 strips);
    "mixed" (three at a time, two of them others after every 40)."""

    per_day: float
    noise: float
    unit: float
    meshes: str

    def strips(self, rng: random.Random, loss: Callable[[float], float], days: float) -> list[Washout]:
        """The strips of so many days, under a lamp that lost `loss` steps of light by a day."""
        base = [rng.uniform(-1, 1) for _sort in SORTS]
        day, bucket = rng.expovariate(self.per_day), 0.0
        made: list[Washout] = []
        while day <= days:
            number = len(made)
            if number % 15 == 0:
                bucket = rng.gauss(0, 0.15)
            sort = {
                "one": 0, "change": int(number >= 50), "mixed": (rng.randrange(3) + number // 40) % len(SORTS),
            }[self.meshes]  # fmt: skip
            held = 7 + bucket + rng.gauss(0, self.noise) - loss(day)
            held = round(held / self.unit) * self.unit
            made.append(Washout(SORTS[sort], 60 * 2 ** (base[sort] / 2), held, day))
            day += rng.expovariate(self.per_day)
        return made


LAMP_SHOPS = [
    LampShop(per_day, noise, unit, meshes)
    for per_day in (0.3, 1.0, 4.0)
    for noise, unit in ((0.3, 0.5), (0.6, 1.0))
    for meshes in ("one", "change", "mixed")
]


def steady(_day: float) -> float:
    """A lamp that loses nothing."""
    return 0.0


def fading(steps_in_half_a_year: float) -> Callable[[float], float]:
    """A lamp that loses so many steps of light in 180 days, evenly."""
    return lambda day: steps_in_half_a_year * day / 180


def falling(day: float, steps: float) -> Callable[[float], float]:
    """A lamp that loses so many steps at once, on a day."""
    return lambda when: steps if when >= day else 0.0


@dataclass(frozen=True, slots=True)
class StripShop:
    """How a shop's strips scatter: by `noise` steps, rounded to `unit`, over so many sorts (combinations) that hold
    different steps; another bucket after every 15 strips (0.1 steps apart)."""

    noise: float
    unit: float
    sorts: int

    def strips(self, rng: random.Random, number: int, moves_at: int | None = None, by: float = 0.0) -> list[Strip]:
        """So many strips; from `moves_at` on they all hold `by` steps more."""
        level = [rng.uniform(6.5, 7.5) for _sort in range(self.sorts)]
        bucket = 0.0
        made = []
        for place in range(number):
            if place % 15 == 0:
                bucket = rng.gauss(0, 0.1)
            sort = rng.randrange(self.sorts)
            moved = by if moves_at is not None and place >= moves_at else 0.0
            held = level[sort] + bucket + rng.gauss(0, self.noise) + moved
            made.append(Strip(str(place), round(held / self.unit) * self.unit, sort, 60.0))
        return made


STRIP_SHOPS = [
    StripShop(noise, unit, sorts) for unit in (1.0, 0.5) for noise in (0.1, 0.3, 0.6, 0.9) for sorts in (1, 4)
]


@dataclass(frozen=True, slots=True)
class PoolShop:
    """How a shop uses the frames of a mesh: so many jobs a day, each of up to so many screens begun together, which
    keep their frames for about so many days (log-normal); `kept` more never come back."""

    jobs_a_day: float
    screens: int
    days: float
    kept: int = 0

    def uses(self, rng: random.Random, until: float) -> list[tuple[float, float]]:
        """When each frame was taken and given back, in days, from long before the day 0 on, as if there were frames
        without end."""
        made = [(-400.0, until + 400.0)] * self.kept
        day = -30 * self.days
        while day < until:
            day += rng.expovariate(self.jobs_a_day)
            about = rng.lognormvariate(math.log(self.days) - 0.32, 0.8)
            made += [(day, day + about * rng.uniform(0.8, 1.2)) for _screen in range(rng.randint(1, self.screens))]
        return made


POOL_SHOPS = [PoolShop(1, 1, 8), PoolShop(0.5, 4, 6), PoolShop(2, 1, 4, 5), PoolShop(0.6, 4, 10), PoolShop(0.25, 6, 8)]


def how_many(uses: Sequence[tuple[float, float]], since: float, until: float) -> dict[int, float]:
    """For how many days how many frames were taken at once."""
    moves = sorted((at, by) for start, end in uses for at, by in ((start, 1), (end, -1)))
    found: dict[int, float] = {}
    number, last = 0, since
    for at, by in moves:
        if since < at <= until:
            found[number] = found.get(number, 0.0) + at - last
            last = at
        number += by if at <= until else 0
    found[number] = found.get(number, 0.0) + until - last
    return found
