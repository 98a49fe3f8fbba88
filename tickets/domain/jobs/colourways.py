"""The garments of a job at one placement: which ink each print order takes on which, and what stands idle there."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from tickets.domain.jobs.job import Garment, Ink, Job, Placement, Station, ink_for, needed
from tickets.domain.separation import folded
from tickets.i18n import gettext as _

GARMENT = "garment_printed"
"""Under which approvals and sheets keep the garment that they are of, where the run said so: style and colour."""
OF_INK = frozenset({"ink", "bucket", "ink_lot", "recipe", "additives"})
"""Settings of a print order that go with its ink: on a garment that takes another ink there they are not the same,
and are no target. All other settings of the head stay when the garment changes."""
LOT_OF = "garment_lot."
"""How the setting starts that holds the lot of one garment, where a job has several: the garment's name follows."""

Ways = Mapping[str, Mapping[int, str]]
"""By garment (as `named`) the ink that each print order takes on it, in words; what it doesn't take is left out."""


def named(style: object, colour: object) -> str:
    """A garment as logs, pages and papers call it."""
    return ", ".join(str(part) for part in (style, colour) if part)


def called(garment: Garment | None) -> str:
    """As `named`; empty where nobody said which garment."""
    return named(garment.style, garment.colour) if garment else ""


def garments_of(job: Job) -> dict[str, Garment]:
    """The garments of a job by name; several lots or sizes of one garment are one."""
    found: dict[str, Garment] = {}
    for one in job.garments:
        found.setdefault(called(one), one)
    return found


def ink_said(ink: Ink) -> str:
    """An ink in words, as the set-up sheet has it."""
    return " · ".join(part for part in (ink.colour, ink.kind, ink.series, ink.reference) if part)


def ways_of(job: Job, placement: Placement) -> dict[str, dict[int, str]]:
    """Which ink each garment takes where; nothing where all garments take the same."""
    found: dict[str, dict[int, str]] = {}
    for name, garment in garments_of(job).items():
        inks = [(one.number, ink_for(job, job.colourway_of(garment), placement, one)) for one in placement.printing]
        found[name] = {number: ink_said(ink) for number, ink in inks if ink is not None}
    return found if any(one != other for one in found.values() for other in found.values()) else {}


def same_pot(ways: Ways, one: str, other: str, station: int) -> bool:
    """Whether two garments take the same ink at a print order; True where nobody knows better."""
    if one == other or one not in ways or other not in ways:
        return True
    return ways[one].get(station) == ways[other].get(station)


def takes(ways: Ways, garment: str, station: int) -> bool:
    """Whether a print order prints on a garment; True where nobody knows better."""
    return garment not in ways or station in ways[garment]


def idle(placement: Placement, prints: Collection[int]) -> frozenset[int]:
    """The lines of the print order that do nothing while only `prints` print: the other printing ones, and each flash
    or cool-down that only served those. It serves what was printed since the one before it, for what comes after."""
    order = sorted(placement.stations, key=lambda one: (one.revolution, one.number))
    found = {one.number for one in placement.printing} - set(prints)
    before: list[int] = []
    served: list[int] = []
    for place, one in enumerate(order):
        if one.prints:
            before.append(one.number)
            continue
        served, before = before or served, []
        after = [other.number for other in order[place + 1 :] if other.prints]
        if any(some and found.issuperset(some) for some in (served, after)):
            found.add(one.number)
    return frozenset(found)


def prints_on(job: Job, placement: Placement, garment: Garment | None) -> frozenset[int]:
    """The print orders that print on a garment; None: on any of the job's."""
    return needed(job, placement, [garment] if garment else job.garments)


def inks_on(job: Job, placement: Placement, garment: str) -> dict[int, str] | None:
    """By print order the ink that a garment takes, in words; a job's only one needs no name. None: nobody said which of
    several it is."""
    every = garments_of(job)
    one = every.get(garment) or (next(iter(every.values())) if len(every) == 1 else None)
    if one is None:
        return None
    inks = [(each.number, ink_for(job, job.colourway_of(one), placement, each)) for each in placement.printing]
    return {number: ink_said(ink) for number, ink in inks if ink is not None}


def like(approvals: Mapping[str, Mapping[str, Any]], was_job: Job, job: Job, garment: str) -> str | None:
    """By which name among the `approvals` of an earlier run that one stands which a print of `garment` (of `job`;
    empty: nobody said which) is compared with: that of the same garment, never another garment's. One that doesn't say
    its garment is of the only one there was, or of any: then its inks decide what compares. None: there is none,
    or several and nobody said which."""
    here, there = garments_of(job), garments_of(was_job)
    wanted = garment or (next(iter(here)) if len(here) == 1 else "")
    by_name = {folded(name): name for name in approvals if name}
    if folded(wanted) in by_name:
        return by_name[folded(wanted)]
    if "" in approvals and (len(there) > 1 or len(here) == 1 or folded(wanted) in map(folded, there)):
        return ""
    if (wanted and (len(here) > 1 or len(there) > 1)) or (not wanted and len(by_name) > 1):
        return None
    return max(approvals, key=lambda name: str(approvals[name].get("at", "")), default=None)


def at_rows(job: Job, placement: Placement) -> dict[int, tuple[str, ...]]:
    """What is otherwise on some garments, line by line of the print order, each in words: another ink than its own,
    none, or idle. A garment is named in full: its colour alone reads like an ink's."""
    ways, own = ways_of(job, placement), {one.number: one for one in placement.printing}
    found: dict[int, list[str]] = {}
    for name, inks in ways.items():
        resting = idle(placement, inks.keys())
        for station in placement.stations:
            said = ""
            if station.number in resting:
                said = _("{garment}: not printed") if station.number in own else _("{garment}: idle")
            elif station.number in own and inks[station.number] != _own_ink(job, placement, station):
                said = _("{garment}: {ink}")
            if said:
                told = said.format(garment=name, ink=inks.get(station.number, ""))
                found.setdefault(station.number, []).append(told)
    return {number: tuple(some) for number, some in found.items()}


def _own_ink(job: Job, placement: Placement, station: Station) -> str:
    ink = ink_for(job, None, placement, station)
    return ink_said(ink) if ink is not None else ""
