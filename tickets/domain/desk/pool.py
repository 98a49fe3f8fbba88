"""How many frames a shop needs: how long screens stay where, how many are made, how many frames are not free."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Hashable, Iterable, Mapping, Sequence
from dataclasses import astuple, dataclass
from datetime import date, datetime, timedelta
from operator import add
from statistics import fmean, median, quantiles
from typing import NamedTuple
from zoneinfo import ZoneInfo

FEW = 5
"""Below so many, a median is only shown with its number beside it, and no slow tenth."""


@dataclass(frozen=True, slots=True)
class Durations:
    """How long something took, in hours: how many were seen, the median, and what one in ten goes beyond (None: too
    few)."""

    number: int
    median_h: float
    slow_h: float | None
    mean_h: float


def span(hours: Sequence[float]) -> Durations | None:
    """The spread of some durations in hours; None for none. The slow tenth is the 90th percentile, between neighbours
    in proportion."""
    if not hours:
        return None
    slow = quantiles(hours, n=10, method="inclusive")[8] if len(hours) >= FEW else None
    return Durations(len(hours), median(hours), slow, fmean(hours))


@dataclass(frozen=True, slots=True)
class Stock:
    """Frames in service: how many are there; how many of them are taken up (a stencil or a coat on, degreased, to be
    restretched, away), as the frames needed are counted; how many more a stock-take did not find, and how many more
    are too slack to take an image, which count neither as there nor as taken. `free`: those that can take an
    image now (`screen.FREE`), `coated` of them coated already."""

    there: int = 0
    taken: int = 0
    missing: int = 0
    slack: int = 0
    free: int = 0
    coated: int = 0

    def __add__(self, other: Stock) -> Stock:
        return Stock(*map(add, astuple(self), astuple(other)))


class Busy(NamedTuple):
    """A time in which a frame of a mesh was not free, in hours from the beginning of the days looked at (below zero:
    before) to its end (None: it is not free still). `stencil`: with a stencil on, from its first coat."""

    mesh: str
    since: float
    until: float | None
    stencil: bool = True


@dataclass(frozen=True, slots=True)
class MeshPool:
    """One mesh: stencils begun a day, how long those that ended took a frame (None: none ended), how many frames were
    not free on average, and for how much of the time how many were.

    `carried`: with a stencil on, on average; `busy`: not free for whatever reason, on average (None: nothing was).
    `needed`: frames that are enough for the share of the time that is asked for (None: too little was seen to say).
    `frames`: those in service now; `also`: meshes by other names that are the same to the shop, and counted with it.
    """

    mesh: str
    begun: int
    per_day: float
    turnaround: Durations | None
    carried: float
    busy: float | None
    needed: int | None
    frames: Stock
    also: tuple[str, ...] = ()

    @property
    def short_by(self) -> int:
        """Frames missing to what is needed; 0 or more, 0 too where nobody can say."""
        return max(0, self.needed - self.frames.there) if self.needed is not None else 0


LEAST_STAYS = 10
"""Stencils that must have ended before it is said how many frames are needed (judgement: of fewer the number is off by
more than a third as often as not)."""


def by_mesh(busy: Iterable[Busy], frames: Mapping[str, Stock], days: float, share: float = 0.95) -> list[MeshPool]:
    """The pool by mesh over so many days, what is short first. `frames`: those in service; `share` of the time that
    frames are to be enough for."""
    hours = days * 24
    every: dict[str, list[Busy]] = {mesh: [] for mesh in frames}
    for one in busy:
        every.setdefault(one.mesh, []).append(one)
    found = []
    for mesh, some in every.items():
        begun = [one.since for one in some if one.stencil and one.since >= 0]
        took = [one.until - one.since for one in some if one.stencil and one.until is not None]
        carried = sum(_within(one, hours) for one in some if one.stencil) / hours
        mean = sum(_within(one, hours) for one in some) / hours
        enough = max(enough_seen(some, hours, share), enough_reckoned(some, hours, share))
        found.append(
            MeshPool(
                mesh,
                len(begun),
                len(begun) / days,
                span(took),
                carried,
                mean if mean > 0 else None,
                enough if len(took) >= LEAST_STAYS else None,
                frames.get(mesh, Stock()),
            )
        )
    return sorted(found, key=lambda one: -one.short_by)


def _within(one: Busy, hours: float) -> float:
    return max(0.0, min(hours, hours if one.until is None else one.until) - max(0.0, one.since))


def enough_seen(busy: Sequence[Busy], hours: float, share: float) -> int:
    """The least number that was not exceeded for `share` of the time, as it was seen."""
    moves = sorted(
        (at, by)
        for one in busy
        if _within(one, hours) > 0
        for at, by in ((max(0.0, one.since), 1), (hours if one.until is None else min(hours, one.until), -1))
    )
    lasted: Counter[int] = Counter()
    number, last = 0, 0.0
    for at, by in moves:
        lasted[number] += at - last  # type: ignore[assignment]
        number, last = number + by, at
    lasted[number] += hours - last  # type: ignore[assignment]
    so_far = 0.0
    for number in sorted(lasted):
        so_far += lasted[number]
        if so_far >= share * hours - 1e-6:
            break
    return number


def enough_reckoned(busy: Sequence[Busy], hours: float, share: float) -> int:
    """The same as it would be in the long run: frames that come and go at random are so many at once as a Poisson
    distribution with their mean has it (the queue with a server for everybody; L. Takács, 1962), spread wider where
    several are begun on one day (a negative binomial). Those that were not free all the time are added as they are."""
    always = sum(1 for one in busy if one.since <= 0 and (one.until is None or one.until >= hours))
    coming = [one for one in busy if one.since > 0 or (one.until is not None and one.until < hours)]
    mean = sum(_within(one, hours) for one in coming) / hours
    days = max(1, round(hours / 24))
    daily = Counter(min(days - 1, int(one.since // 24)) for one in coming if one.since > 0)
    a_day = daily.total() / days
    apart = sum((daily[day] - a_day) ** 2 for day in range(days)) / max(1, days - 1)
    return always + _at_most(mean, max(1.0, apart / a_day) if a_day else 1.0, share)


def _at_most(mean: float, uneven: float, share: float) -> int:
    """The least number that a count with this mean, and `uneven` times it as its variance, exceeds with a chance of
    1 - `share` at most."""
    number, ratio = 0, 1 - 1 / uneven
    chance = math.exp(-mean) if ratio < 1e-3 else math.exp(-mean / (uneven - 1) * math.log(uneven))
    so_far = chance
    while so_far < share and number < 10_000:
        number += 1
        chance *= mean / number if ratio < 1e-3 else (mean / (uneven - 1) + number - 1) / number * ratio
        so_far += chance
    return number


def shift_of(at: datetime, starts: Sequence[int]) -> tuple[date, int]:
    """The day and shift (its place in `starts`, the hours at which shifts begin, in order) of a local time; what is
    before the first of a day still belongs to the last shift of the day before."""
    number = sum(start <= at.hour for start in starts) - 1
    return (at.date(), number) if number >= 0 else (at.date() - timedelta(days=1), len(starts) - 1)


def per_shift(times: Iterable[datetime], zone: ZoneInfo, starts: Sequence[int]) -> list[tuple[date, tuple[int, ...]]]:
    """How many in each shift, by day of the shop, the newest first; days without any are left out."""
    counted: dict[date, list[int]] = {}
    for at in times:
        day, shift = shift_of(at.astimezone(zone), starts)
        counted.setdefault(day, [0] * len(starts))[shift] += 1
    return [(day, tuple(row)) for day, row in sorted(counted.items(), reverse=True)]


def shift_hours(starts: Sequence[int]) -> list[tuple[int, int]]:
    """From which hour to which each shift goes."""
    return list(zip(starts, [*starts[1:], *starts[:1]], strict=True))


# What runs short ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Supply:
    """Frames alike: the day from which on they can take an image, the wants (by number) that they serve, how many."""

    day: date
    serves: frozenset[int]
    number: int = 1


@dataclass(frozen=True, slots=True)
class Day:
    """One day to come: screens wanted on it that have no frame yet, frames that come back, frames left in the evening
    (below zero: so many wanted by then went without).

    `given`: frames that would do here too, given to wants of others. `spare`: where some went without, frames left that
    fit none of these. So `left + spare` is that of the day before, plus `back`, less `needed` and `given`.
    """

    day: date
    needed: int
    back: int
    left: int
    given: int = 0
    spare: int = 0


class FrameNeed(NamedTuple):
    """A screen that has no frame yet: the want (by number), the day it is due, the print that it is for, and the last
    day that any print asks for its image (None: that day itself)."""

    want: int
    due: date
    print: Hashable = None
    until: date | None = None


Kind = tuple[date, frozenset[int]]
"""Frames alike: from which day on they can take an image, and the wants that they serve."""


class _Given(NamedTuple):
    """Frames alike that were given to screens alike."""

    print: Hashable
    want: int
    until: date
    day: date
    kind: Kind


class FramePlan:
    """Frames given out day by day, each to one want, from `today` for so many days.

    What is late is wanted today. The images of one print hang together: their frames are held until the last of them
    has its frame, and can carry other images `back_days` after that day (or after the last print that asks for the
    image). The earliest due is served first; a frame that would do for several wants goes where it lets most of them
    be served (augmenting paths: H. W. Kuhn, The Hungarian Method for the Assignment Problem, 1955). What goes without
    waits for the next frame. `held`: frames of a print's screens that are made already, with that print.
    """

    def __init__(
        self,
        today: date,
        days: int,
        supply: Iterable[Supply],
        wanted: Iterable[FrameNeed],
        back_days: int,
        held: Iterable[tuple[Hashable, Supply]] = (),
    ) -> None:
        self.days = [today + timedelta(days=number) for number in range(days + 1)]
        self._back = timedelta(days=back_days)
        self._supply: Counter[Kind] = Counter()
        for one in supply:
            self._supply[max(one.day, today), one.serves] += one.number
        needs = [
            FrameNeed(want, max(due, today), ("alone", place) if whole is None else whole, until)
            for place, (want, due, whole, until) in enumerate(wanted)
        ]
        self._due = Counter((one.want, one.due) for one in needs)
        self._without = Counter(one.print for one in needs)
        waits_for: dict[Hashable, list[Supply]] = {}
        for whole, one in held:
            if self._without[whole]:
                waits_for.setdefault(whole, []).append(one)
            else:
                self._supply[max(one.day, today), one.serves] += one.number
        self._free = Counter(self._supply)
        self._given: Counter[_Given] = Counter()
        self._printed: dict[Hashable, date] = {}
        waits: list[FrameNeed] = []
        for day in self.days:
            waits += sorted((one for one in needs if one.due == day), key=lambda one: one.want)
            waits = self._serve_all(waits, day)
            for whole in [whole for whole, number in self._without.items() if not number]:
                del self._without[whole]
                self._print(whole, day, waits_for.pop(whole, []))

    def _serve_all(self, waits: Sequence[FrameNeed], day: date) -> list[FrameNeed]:
        """Gives frames to what waits, the earliest due first; what goes without."""
        left: list[FrameNeed] = []
        in_vain: set[int] = set()
        for one in waits:
            if one.want in in_vain or not self._serve(one, day, set()):
                in_vain.add(one.want)
                left.append(one)
            else:
                self._without[one.print] -= 1
        return left

    def _print(self, whole: Hashable, day: date, made: Iterable[Supply]) -> None:
        """All images of a print have their frames: they come back, with those that it had before."""
        self._printed[whole] = day
        for given, number in self._given.items():
            if given.print == whole:
                self._free[self._after(given)] += number
        for one in made:
            kind = (max(one.day, day + self._back), one.serves)
            self._supply[kind] += one.number
            self._free[kind] += one.number

    def _after(self, given: _Given) -> Kind:
        """What frames that were given out are once their print is done."""
        return max(self._printed[given.print], given.until) + self._back, given.kind[1]

    def _serve(self, need: FrameNeed, day: date, tried: set[Kind]) -> bool:
        """Gives a frame to a need on a day, out of what is free or by giving another one a different frame."""
        fit = [one for one in self._free if one[0] <= day and need.want in one[1] and one not in tried]
        fit.sort(key=lambda one: (len(one[1]), one[0], sorted(one[1])))
        for kind in fit:
            if self._free[kind] > 0:
                self._free[kind] -= 1
                self._take(need, day, kind)
                return True
        for kind in fit:
            if kind in tried:
                continue
            tried.add(kind)
            for given in [one for one, number in self._given.items() if one.kind == kind and number]:
                if given.print in self._printed:
                    if self._free[self._after(given)] <= 0:  # it was given out again since
                        continue
                    self._free[self._after(given)] -= 1
                if self._serve(FrameNeed(given.want, given.day, given.print, given.until), given.day, tried):
                    self._given[given] -= 1
                    self._take(need, day, kind)
                    return True
                if given.print in self._printed:
                    self._free[self._after(given)] += 1
        return False

    def _take(self, need: FrameNeed, day: date, kind: Kind) -> None:
        given = _Given(need.print, need.want, max(need.until or need.due, need.due), day, kind)
        self._given[given] += 1
        if need.print in self._printed:
            self._free[self._after(given)] += 1

    def of(self, wants: Collection[int]) -> list[Day]:
        """The days of some wants together. A frame that would also do for another want is left for both."""
        mine = frozenset(wants)
        there = Counter({kind: number for kind, number in self._supply.items() if kind[1] & mine})
        for given, number in self._given.items():
            if given.kind[1] & mine and given.print in self._printed:
                there[self._after(given)] += number
        found = []
        for day in self.days:
            due = sum(number for (want, when), number in self._due.items() if want in mine and when <= day)
            so_far = [(given.want, given.kind, number) for given, number in self._given.items() if given.day <= day]
            without = due - sum(number for want, _kind, number in so_far if want in mine)
            left = sum(number for kind, number in there.items() if kind[0] <= day)
            left -= sum(number for _want, kind, number in so_far if kind[1] & mine)
            needed = sum(number for (want, when), number in self._due.items() if want in mine and when == day)
            back = sum(number for kind, number in there.items() if kind[0] == day) if day != self.days[0] else 0
            others = sum(
                number for one, number in self._given.items()
                if one.day == day and one.kind[1] & mine and one.want not in mine
            )  # fmt: skip
            found.append(Day(day, needed, back, -without if without else left, others, left if without else 0))
        return found

    def held(self, wants: Collection[int], day: date) -> Counter[tuple[Hashable, int]]:
        """Frames out on a day with prints of other wants, that would do for one of these that goes without then: how
        many by print and want."""
        going = Counter({want: number for (want, due), number in self._due.items() if want in wants and due <= day})
        found: Counter[tuple[Hashable, int]] = Counter()
        for given, number in self._given.items():
            if given.day <= day and given.want in going:
                going[given.want] -= number
        waits = frozenset(want for want, number in going.items() if number > 0)
        for given, number in self._given.items():
            out = given.day <= day and (given.print not in self._printed or self._after(given)[0] > day)
            if number and out and given.want not in wants and given.kind[1] & waits:
                found[given.print, given.want] += number
        return found

    def stuck(self, whole: Hashable) -> bool:
        """True for a print that has no frame for one of its images until the last of these days."""
        return bool(self._without.get(whole))

    def free_now(self, wants: Collection[int]) -> int:
        """How many frames that would do for some of these wants can take an image today, before any is given out."""
        mine = frozenset(wants)
        return sum(number for kind, number in self._supply.items() if kind[0] == self.days[0] and kind[1] & mine)
