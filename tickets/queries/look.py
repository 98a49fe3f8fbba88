"""What a scan at the press shows before anybody hangs the screen: the verdict, its place, the heads to choose from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from sqlite_utils import Database

from tickets.domain.runs.run import Hung
from tickets.domain.screens.press_checks import AtPress
from tickets.queries import heads as press_heads
from tickets.queries.at_press import check
from tickets.queries.run_plan import Plan, free_head, without
from tickets.store.screens import Screen

MOST_HEADS = 40


@dataclass(frozen=True, slots=True)
class Looked:
    """`found`: the verdict on the head `head` (None: none is free); `swap`: the screen in whose place it would come;
    `heads`: those that no screen has, by the log."""

    found: AtPress
    swap: Hung | None
    head: int | None
    heads: tuple[int, ...]


def look(
    db: Database,
    plan: Plan,
    screen: Screen,
    now: datetime,
    *,
    head: int | None = None,
    station: int | None = None,
    in_hand: bool = False,
    head_taken: bool = False,
) -> Looked:
    """A screen compared with a run, as hanging it, or swapping it in, would judge it. `head`: the one that somebody
    wants; else that of the screen that hangs in its place, else the one to offer. One that hangs in the run has its
    head and print order. `station`: the print order that it is for, where its image prints at several."""
    hangs = next((one for one in plan.story.hung.values() if one.screen == screen.id), None)
    if hangs is not None:  # nothing is to be chosen: it has its head
        found = check(db, plan, screen, now, head=hangs.head, station=hangs.station, in_hand=in_hand)
        return Looked(replace(found, station=hangs.station), None, hangs.head, _free_heads(plan))
    first = check(db, plan, screen, now, station=station, in_hand=in_hand)
    taken = plan.story.hung.get(first.station) if first.station is not None else None
    swap = taken if taken is not None and taken.screen != screen.id else None
    if head is None and swap is not None:
        head = swap.head
    elif head is None and first.station is not None:
        head = free_head(plan, first.station)
    with_it = without(plan, swap.screen) if swap else plan
    if swap and head == swap.head:  # it has that head already
        with_it = replace(with_it, busy={})
    found = check(db, with_it, screen, now, head=head, station=station, in_hand=in_hand, head_taken=head_taken)
    return Looked(found, swap, head, _free_heads(plan))


def _free_heads(plan: Plan) -> tuple[int, ...]:
    """The heads that no screen has, of this run or another, by the log."""
    most = plan.press.heads or max([12, *(one.number for one in plan.placement.stations)])
    busy = {hung.head for hung in plan.story.hung.values() if hung.head} | set(plan.busy)
    return tuple(number for number in range(1, min(most, MOST_HEADS) + 1) if number not in busy)


def headless(db: Database, plan: Plan, looked: Looked) -> str:
    """What is said of a right screen for which no head is free; empty: there is one."""
    station = looked.found.station
    if looked.head is not None or station is None or station in plan.story.hung:
        return ""
    return press_heads.none_free(db, plan.job, plan.run.placement, plan.press, plan.run.id)
