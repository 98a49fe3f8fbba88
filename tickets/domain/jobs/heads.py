"""The heads of a press: how many a print takes, in which order a garment comes to them, and which one to offer."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from tickets.calculator.verdict import Level, Reason, phrases
from tickets.domain.jobs.job_sheet import Job, Placement, Station, needed
from tickets.i18n import N_

CLOCKWISE, ANTICLOCKWISE, ANY_ORDER = "clockwise", "anticlockwise", "any order"
TURNS = (CLOCKWISE, ANTICLOCKWISE, ANY_ORDER)
"""How a press turns. Heads are numbered clockwise, as a garment comes to them there; on a hand press whoever prints
brings down the head that is wanted (common practice)."""
MOST_HEADS = 40


@dataclass(frozen=True, slots=True)
class Press:
    """A press as the rules take it: how many heads (None: not noted), and how it turns."""

    heads: int | None = None
    turns: str = CLOCKWISE

    def before(self, one: int, other: int) -> bool:
        """Whether a garment comes to head `one` before head `other` in the same revolution."""
        return one > other if self.turns == ANTICLOCKWISE else one < other

    @property
    def route(self) -> list[int]:
        """All heads as a garment comes to them; of a press whose heads nobody noted as many as there can be."""
        numbers = list(range(1, (self.heads or MOST_HEADS) + 1))
        return numbers[::-1] if self.turns == ANTICLOCKWISE and self.heads else numbers


# How many heads a print takes -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Takes:
    """The heads that a print takes. `prints`: its screens, each on a head of its own in whichever revolution it prints;
    `flashes`, `cools`: heads with a flash, and those left empty to cool; `one_garment`: the most screens that one
    garment takes."""

    prints: int
    flashes: int = 0
    cools: int = 0
    one_garment: int = 0

    @property
    def heads(self) -> int:
        """All of them, as the job sheet has the print."""
        return self.prints + self.flashes + self.cools

    @property
    def least(self) -> int:
        """The fewest that would do: the garments one after the other, flashed over a platen beside the heads, cooled by
        a longer stop."""
        return self.one_garment


def takes(job: Job, placement: Placement, press: Press) -> Takes:
    """What a placement takes of a press, over all garments of its job.

    A flash that is wanted in two revolutions is the same one; cooling takes an empty head, and any head that prints in
    another revolution is one. On a hand press the flash stands over a platen beside the heads (common practice).
    """
    prints = needed(job, placement, job.garments)
    one = max((len(needed(job, placement, [garment])) for garment in job.garments), default=len(prints))
    if press.turns == ANY_ORDER:
        return Takes(len(prints), one_garment=one)
    flashes = Counter(each.revolution for each in placement.stations if each.does == "flash")
    cools = [each for each in placement.stations if each.does == "cool"]
    rounds = {each.revolution for each in placement.stations}
    return Takes(len(prints), max(flashes.values(), default=0), len(cools) if len(rounds) == 1 else 0, one)


# Which head ---------------------------------------------------------------------------------------------------------


def layout(stations: Sequence[Station], prints: Collection[int], press: Press) -> dict[int, int]:
    """The head for each print order of a placement (`prints`: those that hang a screen), as a garment comes to them;
    where they are too few for that, without empty ones to cool on, then with flashes that serve in every revolution."""
    own = [one for one in stations if one.number in prints or not one.prints]
    hot = [one for one in own if one.does != "cool"]
    bare = [[one.number] for one in hot if one.prints]
    plans = [[[one.number] for one in own], [[one.number] for one in hot], _shared(hot), bare]
    if press.turns == ANY_ORDER:
        plans = [bare]
    heads = press.route
    plan = next((one for one in plans if len(one) <= len(heads)), bare)
    return {number: head for group, head in zip(plan, heads, strict=False) for number in group}


def _shared(stations: Sequence[Station]) -> list[list[int]]:
    """Print orders by head where each flash serves in every revolution: what comes before it in any, then it."""
    parts: dict[int, list[list[int]]] = {}
    burns: dict[int, list[int]] = {}
    for one in stations:
        own = parts.setdefault(one.revolution, [[]])
        if one.prints:
            own[-1].append(one.number)
        else:
            burns.setdefault(len(own), []).append(one.number)
            own.append([])
    found: list[list[int]] = []
    for place in range(max((len(own) for own in parts.values()), default=0)):
        for own in parts.values():
            found += [[number] for number in (own[place] if place < len(own) else ())]
        if place + 1 in burns:
            found.append(burns[place + 1])
    return found


def in_order(
    station: int,
    head: int | None,
    others: Mapping[int, int | None],
    rounds: Mapping[int, int],
    flashes: Collection[int],
    press: Press,
) -> list[Reason]:
    """What speaks against a head for a print order (`others`: heads by print order): one that prints later would come
    first, or too few heads are left between for a flash and for what else hangs there.

    `rounds`: the revolution of every print order that takes a head; `flashes`: those that flash."""
    if head is None or press.turns == ANY_ORDER:
        return []
    near: list[tuple[int, int]] = []
    for number, other in sorted(others.items()):
        if other is None or number == station or rounds.get(number) != rounds.get(station):
            continue
        if other == head or (number < station) != press.before(other, head):
            return [Reason("print-order-changed", Level.CAUTION, {"station": station, "other": number})]
        near.append((number, other))
    for number, other in near:
        first, last = sorted((number, station))
        between = [one for one in rounds if first < one < last and rounds[one] == rounds[station]]
        room = abs(head - other) - 1
        if room < len(between) and not set(between).isdisjoint(flashes):
            numbers = {"station": first, "other": last, "room": room, "wanted": len(between)}
            return [Reason("no-head-between", Level.CAUTION, numbers)]
    return []


def offer(
    station: Station,
    others: Mapping[int, int | None],
    free: Collection[int],
    stations: Sequence[Station],
    prints: Collection[int],
    press: Press,
) -> int | None:
    """The head to offer for a print order: the one that the job wishes for, else its own by the layout or the next free
    one behind it that keeps the order; where none does, any free one. None: no head is free."""
    if station.head in free:
        return station.head
    heads = [head for head in press.route if head in free]
    own = layout(stations, prints, press).get(station.number)
    behind = [head for head in heads if own is None or head == own or press.before(own, head)]
    rounds, flashes = of_stations(stations, prints)
    good = [one for one in (*behind, *heads) if not in_order(station.number, one, others, rounds, flashes, press)]
    return next(iter((*good, *behind, *heads[::-1])), None)


def of_stations(stations: Sequence[Station], prints: Collection[int]) -> tuple[dict[int, int], frozenset[int]]:
    """The print orders that take a head, each with its revolution, and those of them that flash."""
    flashes = frozenset(one.number for one in stations if one.does == "flash")
    return {one.number: one.revolution for one in stations if one.number in flashes or one.number in prints}, flashes


phrases(
    {
        "print-order-changed": (
            N_("With this head, position {station} and position {other} change places."),
            N_("Choose another head, unless you want that."),
        ),
        "no-head-between": (
            N_("Heads between position {station} and position {other}: {room}; needed for the flash and what prints "
               "there: {wanted}."),
            N_("Choose a head further along, or make sure that it is flashed in another way."),
        ),
    }
)  # fmt: skip
