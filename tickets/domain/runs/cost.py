"""What jobs cost: time at the press, screens made and made again, pieces spoilt; in money where the shop gave rates.

Pure: what the log says of runs and stencils comes in, sums come out. A figure is only what was logged: a time that
nobody can have meant (a set-up or a printing time longer than a shift) is not counted, and how often that was is said.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from tickets.domain.runs.run_trace import Upset


@dataclass(frozen=True, slots=True)
class RunMoment:
    """A step of a run that says when it was set up and printed: hang, start, pause, finish."""

    step: str
    at: datetime


@dataclass(frozen=True, slots=True)
class PressTime:
    """The minutes of a run: from its first screen hung to its first piece (`set_up`; None: not known), and printing,
    from each start to the next pause or the finish (None: not known). `unsure`: so many of those times were longer than
    a shift and were left out."""

    set_up_min: float | None = None
    printing_min: float | None = None
    unsure: int = 0


def at_press(steps: Iterable[RunMoment], shift: timedelta) -> PressTime:
    """The minutes of a run by its steps, in their order. Screens that are hung while it prints, or in a pause, are
    no set-up of their own."""
    hung: datetime | None = None
    since: datetime | None = None
    set_up: timedelta | None = None
    printed = timedelta()
    known, unsure, begun = False, 0, False
    for one in steps:
        if one.step == "hang" and hung is None:
            hung = one.at
        elif one.step == "start":
            if not begun and hung is not None and one.at >= hung:
                set_up = one.at - hung
            begun, since = True, since or one.at
        elif one.step in {"pause", "finish"} and since is not None:
            if one.at - since > shift:
                unsure += 1
            else:
                printed, known = printed + (one.at - since), True
            since = None
    if set_up is not None and set_up > shift:
        set_up, unsure = None, unsure + 1
    return PressTime(_minutes(set_up), _minutes(printed) if known else None, unsure)


def _minutes(span: timedelta | None) -> float | None:
    return None if span is None else span.total_seconds() / 60


@dataclass(frozen=True, slots=True)
class RunCost:
    """A run with what it took: its minutes, stops (minutes as noted), pieces and misprints by cause."""

    run: int
    job: int
    done_at: str
    press: str
    placement: int
    times: PressTime
    good: int
    misprinted: int
    stops: Mapping[str, tuple[int, float]] = field(default_factory=dict)
    misprints: Mapping[str, int] = field(default_factory=dict)

    @property
    def stop_min(self) -> float:
        """The minutes of its stops."""
        return sum(minutes for _number, minutes in self.stops.values())

    @property
    def pieces(self) -> int:
        """All that came off the press."""
        return self.good + self.misprinted


def run_cost(
    run: int, job: int, done_at: str, press: str, placement: int, times: PressTime, upsets: Iterable[Upset]
) -> RunCost:
    """A run by its stops and counts; swaps cost what their pause or stop is noted with."""
    stops: dict[str, tuple[int, float]] = {}
    misprints: Counter[str] = Counter()
    good = 0
    for one in upsets:
        if one.step == "stop":
            number, minutes = stops.get(one.cause, (0, 0.0))
            stops[one.cause] = number + 1, minutes + (one.minutes or 0.0)
        elif one.step == "count":
            good += one.good
            if one.misprinted:
                misprints[one.cause] += one.misprinted
    return RunCost(run, job, done_at, press, placement, times, good, misprints.total(), stops, dict(misprints))


@dataclass(frozen=True, slots=True)
class Imaged:
    """A stencil that was imaged: its screen, its place among the screen's stencils, when, its images by number, its
    faults, when it ended (empty: it is on), and whether its mesh tore then."""

    screen: int
    stencil: int
    at: str
    images: tuple[int, ...]
    faults: tuple[str, ...] = ()
    ended_at: str = ""
    torn: bool = False

    @property
    def spoilt(self) -> str:
        """What made it useless, the last of it; empty: nothing is noted."""
        return "torn" if self.torn else self.faults[-1] if self.faults else ""


@dataclass(frozen=True, slots=True)
class RunAsks:
    """A run that is done and asked for images, by number; `since`: when its job was entered."""

    run: int
    job: int
    images: frozenset[int]
    since: str
    done_at: str


@dataclass(frozen=True, slots=True)
class ScreenMade:
    """A screen made for a run. `instead`: what spoilt the one that it replaces (empty: it replaces none)."""

    run: int
    job: int
    what: Imaged
    instead: str = ""


def made_for(runs: Iterable[RunAsks], stencils: Iterable[Imaged]) -> tuple[ScreenMade, ...]:
    """The screens that were made for runs, each for one of them: of those that ask for its image and whose job was
    entered by then, the one that was done first afterwards. It was made again where the one before with the same image
    had been spoilt since the job was entered."""
    waiting = sorted(runs, key=lambda one: (one.done_at, one.run))
    found: list[ScreenMade] = []
    before: dict[int, Imaged] = {}
    for one in sorted(stencils, key=lambda each: (each.at, each.screen)):
        for_run = next(
            (run for run in waiting if run.since <= one.at <= run.done_at and not run.images.isdisjoint(one.images)),
            None,
        )
        earlier = [before[image] for image in one.images if image in before]
        before |= dict.fromkeys(one.images, one)
        if for_run is not None:
            instead = next((old.spoilt for old in earlier if old.spoilt and old.at >= for_run.since), "")
            found.append(ScreenMade(for_run.run, for_run.job, one, instead))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Rates:
    """What the shop counts for an hour at the press, a screen made, a garment spoilt (None: no rate), and its
    currency."""

    press_hour: float | None = None
    screen: float | None = None
    garment: float | None = None
    currency: str = ""

    def __bool__(self) -> bool:
        return any(one is not None for one in (self.press_hour, self.screen, self.garment))


@dataclass(frozen=True, slots=True)
class Money:
    """An amount, and how much of it went into what had to be done again or was lost: stops, screens made again,
    misprints."""

    all: float = 0.0
    lost: float = 0.0


@dataclass(frozen=True, slots=True)
class JobCost:
    """What the runs of a job came to, and the screens made for it; `needed`: the images that those runs asked for."""

    job: int
    runs: tuple[RunCost, ...]
    made: tuple[ScreenMade, ...]
    needed: int

    @property
    def remade(self) -> tuple[ScreenMade, ...]:
        """The screens that were made instead of spoilt ones."""
        return tuple(one for one in self.made if one.instead)

    @property
    def good(self) -> int:
        """Good pieces."""
        return sum(one.good for one in self.runs)

    @property
    def misprinted(self) -> int:
        """Misprinted pieces."""
        return sum(one.misprinted for one in self.runs)

    @property
    def stop_min(self) -> float:
        """Minutes of stops."""
        return sum(one.stop_min for one in self.runs)

    @property
    def set_up_min(self) -> float | None:
        """Minutes of set-up of the runs that have them; None: none has."""
        return added(one.times.set_up_min for one in self.runs)

    @property
    def printing_min(self) -> float | None:
        """Minutes of printing of the runs that have them; None: none has."""
        return added(one.times.printing_min for one in self.runs)

    @property
    def pieces_an_hour(self) -> float | None:
        """Pieces in an hour of printing, its stops included, of the runs whose time is known; None: of none."""
        known = [one for one in self.runs if one.times.printing_min]
        minutes = sum(one.times.printing_min or 0.0 for one in known)
        return sum(one.pieces for one in known) / minutes * 60 if minutes else None

    @property
    def left_out(self) -> int:
        """How many times of its runs were too long to be meant."""
        return sum(one.times.unsure for one in self.runs)

    def money(self, rates: Rates) -> Money:
        """What it came to at the shop's rates: set-up and printing by the hour (a stop is part of the printing), each
        screen made, each garment spoilt. What has no rate counts nothing."""
        hour, screen, garment = (one or 0.0 for one in (rates.press_hour, rates.screen, rates.garment))
        spoilt = self.misprinted * garment
        hours = ((self.set_up_min or 0.0) + (self.printing_min or 0.0)) / 60
        lost = self.stop_min / 60 * hour + len(self.remade) * screen + spoilt
        return Money(hours * hour + len(self.made) * screen + spoilt, lost)


def added(numbers: Iterable[float | None]) -> float | None:
    """The sum of what is known; None: nothing is."""
    known = [one for one in numbers if one is not None]
    return sum(known) if known else None


@dataclass(frozen=True, slots=True)
class CauseOf:
    """A cause with how often it was, its minutes or pieces (`amount`), and the runs or screens that it was in."""

    cause: str
    number: int
    amount: float
    where: tuple[int, ...]


def by_cause(rows: Iterable[tuple[str, int, float, int]]) -> tuple[CauseOf, ...]:
    """Causes with the most first: from (cause, how often, amount, where)."""
    found: dict[str, tuple[int, float, dict[int, None]]] = {}
    for cause, number, amount, where in rows:
        n, a, seen = found.get(cause, (0, 0.0, {}))
        found[cause] = n + number, a + amount, {**seen, where: None}
    some = (CauseOf(cause, n, a, tuple(seen)) for cause, (n, a, seen) in found.items())
    return tuple(sorted(some, key=lambda one: (-one.amount, -one.number, one.cause)))


@dataclass(frozen=True, slots=True)
class Costs:
    """What some jobs cost together; the stops by minutes, misprints by pieces, screens made again by how many."""

    jobs: tuple[JobCost, ...]

    @property
    def all(self) -> JobCost:
        """All of them as if they were one."""
        return JobCost(
            0,
            tuple(run for one in self.jobs for run in one.runs),
            tuple(made for one in self.jobs for made in one.made),
            sum(one.needed for one in self.jobs),
        )

    def stops(self) -> tuple[CauseOf, ...]:
        """Stops by cause, with their minutes and runs."""
        runs = self.all.runs
        return by_cause((cause, n, minutes, run.run) for run in runs for cause, (n, minutes) in run.stops.items())

    def misprints(self) -> tuple[CauseOf, ...]:
        """Misprints by cause, with the runs."""
        return by_cause((cause, n, n, run.run) for run in self.all.runs for cause, n in run.misprints.items())

    def remakes(self) -> tuple[CauseOf, ...]:
        """Screens made again by what spoilt the one before, with their numbers."""
        return by_cause((one.instead, 1, 1, one.what.screen) for one in self.all.remade)


def costs(runs: Sequence[RunCost], made: Iterable[ScreenMade], needed: Mapping[int, int]) -> Costs:
    """The costs by job, the one with the newest run first. `needed`: the images that the runs of a job asked for."""
    newest = dict.fromkeys(run.job for run in sorted(runs, key=lambda one: (one.done_at, one.run), reverse=True))
    screens = list(made)
    return Costs(
        tuple(
            JobCost(
                job,
                tuple(run for run in runs if run.job == job),
                tuple(one for one in screens if one.job == job),
                needed.get(job, 0),
            )
            for job in newest
        )
    )
