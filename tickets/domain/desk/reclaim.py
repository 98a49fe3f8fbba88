"""How reclaiming goes: how long remover and haze remover stay on the mesh, and what becomes of a ghost image."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import NamedTuple

GONE, STAYS, LOST, WAITING = "gone", "stays", "lost", "waiting"
"""What became of a ghost: not reported again after the haze remover; reported again on the same mesh; the mesh was
replaced or the frame retired; nothing was done about it yet."""


class ReclaimEvent(NamedTuple):
    """One entry about reclaiming: of which screen, when, its step, how long something stayed on the mesh (None: not
    noted), the fault or cause that it names; `entry`: its id."""

    screen: int
    at: str
    step: str
    seconds: float | None
    cause: str
    entry: str = ""

    @property
    def ghost(self) -> bool:
        """Whether it reports a ghost."""
        return self.step == "fault" and self.cause == "ghost"


@dataclass(frozen=True, slots=True)
class TimesOn:
    """How often something was done, and, of those with a time noted, how many, their median, shortest and longest in
    seconds (None: no time was noted)."""

    number: int
    noted: int
    median_s: float | None = None
    shortest_s: float | None = None
    longest_s: float | None = None


class Ghost(NamedTuple):
    """A ghost that was reported, what became of it, how long the haze remover was on it (None: none, or no time)."""

    report: ReclaimEvent
    outcome: str
    haze_s: float | None


@dataclass(frozen=True, slots=True)
class Reclaimed:
    """How reclaiming went in a span. `haze_gone`, `haze_stays`: the times of the haze remover on ghosts that went, and
    that stayed; `retired`: frames by cause, the commonest first."""

    remover: TimesOn
    haze: TimesOn
    ghosts: tuple[Ghost, ...]
    outcomes: tuple[tuple[str, int], ...]
    haze_gone: TimesOn
    haze_stays: TimesOn
    retired: tuple[tuple[str, int], ...]


def times(seconds: Sequence[float | None]) -> TimesOn:
    """The times of some acts, in s."""
    noted = [one for one in seconds if one is not None]
    if not noted:
        return TimesOn(len(seconds), 0)
    return TimesOn(len(seconds), len(noted), median(noted), min(noted), max(noted))


def reclaimed(events: Iterable[ReclaimEvent]) -> Reclaimed:
    """What some entries come to."""
    known = sorted(events, key=lambda one: (one.at, one.entry))
    found = tuple(ghosts(known))
    outcomes = Counter(one.outcome for one in found)
    return Reclaimed(
        times([one.seconds for one in known if one.step == "strip"]),
        times([one.seconds for one in known if one.step == "haze"]),
        found,
        tuple((name, outcomes[name]) for name in (GONE, STAYS, LOST, WAITING) if outcomes[name]),
        times([one.haze_s for one in found if one.outcome == GONE]),
        times([one.haze_s for one in found if one.outcome == STAYS]),
        tuple(Counter(one.cause for one in known if one.step == "retire").most_common()),
    )


def ghosts(events: Sequence[ReclaimEvent]) -> list[Ghost]:
    """What became of each ghost, by entries in the order of time. One that is reported again before anything was done
    is the same ghost."""
    of: dict[int, list[ReclaimEvent]] = {}
    for one in events:
        if one.ghost or one.step in ("haze", "stretch", "retire"):
            of.setdefault(one.screen, []).append(one)
    found = []
    for own in of.values():
        for place, one in enumerate(own):
            behind = own[place + 1 :]
            if one.ghost and not (behind and behind[0].ghost):
                found.append(Ghost(one, *_became(behind)))
    return sorted(found, key=lambda one: one.report.at)


def _became(behind: Sequence[ReclaimEvent]) -> tuple[str, float | None]:
    if not behind:
        return WAITING, None
    if behind[0].step != "haze":
        return LOST, None
    hazed = [one for one in behind if one.step == "haze"]
    first = next((one for one in behind if one.step != "haze"), None)
    treated = [one for one in hazed if first is None or (one.at, one.entry) <= (first.at, first.entry)]
    noted = [one.seconds for one in treated if one.seconds is not None]
    if first is not None and first.ghost:
        return STAYS, sum(noted) if noted else None
    lost = first is not None and first.step == "retire" and first.cause == "ghost"
    return (LOST if lost else GONE), sum(noted) if noted else None
