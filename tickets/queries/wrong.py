"""What goes wrong: faults, stops and misprints by cause and circumstance; the step that each lamp holds over time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import NamedTuple

from sqlite_utils import Database

from tickets.domain.desk import control
from tickets.domain.desk.reclaim import Reclaimed, reclaimed
from tickets.domain.steps import SWAPPED
from tickets.queries.learning import CM_PER_IN, step_chart, units_of
from tickets.queries.shop_rules import day_span, zone
from tickets.store import desk

SCREEN_STOPS = frozenset({"pinhole", "screen breakdown", *SWAPPED})
"""Stops of a press, and swaps, that are the screen's doing."""


MOST_RUNS = 200
"""Runs whose screens are counted against their stops: the newest of the window."""


class GroupAtPress(NamedTuple):
    """The stencils of one group at the press: so many of them hung in a run that stopped for a screen, and so many
    pieces of their runs were misprinted for one."""

    name: str
    stopped: control.Share
    misprinted: control.Share


@dataclass(frozen=True, slots=True)
class Wrong:
    """Faults, stops and misprints of a window, each with the number that it is out of.

    `washouts`, `checks`: faults by cause out of all washouts and out of all checks at the light table. `by`: by
    exposure unit, emulsion, bucket, mesh: (name, share of washouts with a fault, of checks); `left_out`: the share of
    stencils with a fault, with and without a step. `stops` by cause: how many, and their minutes. `swaps` by cause: how
    many screens were swapped. `misprints` by cause out of all pieces printed; `presses`: misprinted pieces out of those
    of each press. `screens`: by exposure unit, emulsion, bucket, mesh and steps left out, the stencils that hung in a
    run that stopped for a screen or had one swapped, and of the pieces of their runs those misprinted for one.
    `reclaimed`: how reclaiming went. `newest`: where the window holds more, only so many of each were counted (0: all
    were).
    """

    washouts: tuple[control.Share, ...]
    checks: tuple[control.Share, ...]
    by: tuple[tuple[str, tuple[control.Beside, ...]], ...]
    left_out: tuple[control.Share, ...]
    stops: tuple[tuple[str, int, float], ...]
    swaps: tuple[tuple[str, int], ...]
    runs: int
    misprints: tuple[control.Share, ...]
    presses: tuple[control.Share, ...]
    screens: tuple[tuple[str, tuple[GroupAtPress, ...]], ...]
    newest: int = 0
    reclaimed: Reclaimed | None = None


def first_day(db: Database, now: datetime, days: int) -> date:
    """The first day of a window of so many: from its beginning on all is counted, as the log of these days has it."""
    return (now - timedelta(days=days)).astimezone(zone(db)).date()


def _added_up(
    upset: Iterable[desk.UpsetSum],
) -> tuple[dict[str, list[float]], Counter[str], Counter[str], Counter[str], Counter[str]]:
    """Stops by cause (how many, minutes), swaps by cause, misprinted pieces by cause and by press, all by press."""
    stops: dict[str, list[float]] = {}
    swapped: Counter[str] = Counter()
    misprinted: Counter[str] = Counter()
    press_bad: Counter[str] = Counter()
    press_all: Counter[str] = Counter()
    for one in upset:
        if one.step == "stop":
            number, minutes = stops.get(one.cause, [0, 0.0])
            stops[one.cause] = [number + one.number, minutes + one.minutes]
        elif one.step == "swap":
            swapped[one.cause] += one.number
        else:
            misprinted[one.cause] += one.misprinted
            press_bad[one.press] += one.misprinted
            press_all[one.press] += one.good + one.misprinted
    return stops, swapped, misprinted, press_bad, press_all


def wrong(db: Database, now: datetime, days: int) -> Wrong:
    """What went wrong in the last `days`."""
    since, _end = day_span(db, first_day(db, now, days))
    washed, checked = desk.seen(db, "washouts", since), desk.seen(db, "checks", since)
    hung = desk.hung_in(db, since, sorted(SCREEN_STOPS), runs=MOST_RUNS)
    numbers = {one.bucket for one in (*washed, *checked)} | {one.bucket for one in hung}
    known = desk.emulsions(db, [number for number in numbers if number is not None])

    def code(number: int | None) -> str:
        return known.get(number or 0, ("", ""))[0]

    def emulsion(number: int | None) -> str:
        return known.get(number or 0, ("", ""))[1]

    groups: tuple[tuple[str, Callable[[desk.SeenAlike], str]], ...] = (
        ("exposure unit", lambda one: one.exposure_unit),
        ("emulsion", lambda one: emulsion(one.bucket)),
        ("bucket", lambda one: code(one.bucket)),
        ("mesh", lambda one: _count_name(one.count_per_cm)),
    )

    def shares(found: Iterable[desk.SeenAlike], key: Callable[[desk.SeenAlike], str]) -> list[control.Share]:
        return control.shares((key(one), bool(one.fault), one.number) for one in found)

    left = desk.left_out(db, since)
    skipped = _with_and_without((missed, bad, number) for missed, bad, number in left)
    upset = desk.upset(db, since)
    stops, swapped, misprinted, press_bad, press_all = _added_up(upset)
    pieces = press_all.total()
    full = {sum(one.number for one in found) for found in (washed, checked, upset)}
    at_press: tuple[tuple[str, Callable[[desk.HungAlike], str]], ...] = (
        ("exposure unit", lambda one: one.exposure_unit),
        ("emulsion", lambda one: emulsion(one.bucket)),
        ("bucket", lambda one: code(one.bucket)),
        ("mesh", lambda one: one.mesh),
    )
    return Wrong(
        control.causes((one.fault, one.number) for one in washed),
        control.causes((one.fault, one.number) for one in checked),
        tuple(
            (name, tuple(control.beside(shares(washed, key), shares(checked, key))))
            for name, key in groups
            if washed or checked
        ),
        tuple(skipped),
        tuple((cause, int(some[0]), some[1]) for cause, some in sorted(stops.items(), key=lambda one: -one[1][0])),
        tuple(swapped.most_common()),
        desk.runs_upset(db, since),
        tuple(control.Share(cause, number, pieces) for cause, number in misprinted.most_common() if number),
        tuple(control.Share(press, press_bad[press], number) for press, number in press_all.most_common() if number),
        (
            *((name, _at_press((key(one), one) for one in hung)) for name, key in at_press),
            ("left out", _left_out_at_press(hung)),
        )
        if hung
        else (),
        desk.MOST if desk.MOST in full else 0,
        reclaimed(desk.reclaiming(db, since)),
    )


def _with_and_without(seen: Iterable[tuple[str, bool, int]]) -> list[control.Share]:
    """For each step that was left out before some stencil: how often something happened without it (`-STEP`), and with
    it (`+STEP`); (steps left out, happened, how many)."""
    known = list(seen)
    found: list[control.Share] = []
    for step in _left_out(missed for missed, _so, _number in known):
        pair = control.shares((_mark(step, missed), so, number) for missed, so, number in known)
        found += sorted(pair, key=lambda one: one.name)[::-1]
    return found


def _left_out(missed: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(step for some in missed for step in some.split("|") if step))


def _mark(step: str, missed: str) -> str:
    return f"-{step}" if step in missed.split("|") else f"+{step}"


def _at_press(hung: Iterable[tuple[str, desk.HungAlike]]) -> tuple[GroupAtPress, ...]:
    """The groups of what hung, the most often stopped first: (group, stencils alike)."""
    known = list(hung)
    misprinted = control.shares(
        part for name, one in known
        for part in ((name, True, one.misprinted), (name, False, one.pieces - one.misprinted))
    )  # fmt: skip
    by_name = {one.name: one for one in misprinted}
    stopped = control.shares((name, one.stopped, one.number) for name, one in known)
    return tuple(GroupAtPress(one.name, one, by_name[one.name]) for one in stopped)


def _left_out_at_press(hung: Sequence[desk.HungAlike]) -> tuple[GroupAtPress, ...]:
    found: list[GroupAtPress] = []
    for step in _left_out(one.missed for one in hung):
        pair = _at_press((_mark(step, one.missed), one) for one in hung)
        found += sorted(pair, key=lambda one: one.name)[::-1]
    return tuple(found)


def _count_name(count_per_cm: float | None) -> str:
    return f"{count_per_cm * CM_PER_IN:.0f}/in" if count_per_cm else ""


def step_charts(db: Database, now: datetime) -> list[tuple[str, str, control.Chart]]:
    """The steps held on each exposure unit since its lamp was put in: (unit, since when, chart)."""
    return [(name, *step_chart(db, name, now)) for name in units_of(db)]
