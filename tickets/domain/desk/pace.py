"""How quickly this shop makes screens, by its log, and whether the screens of a day can still be made in time.

All times are working hours: a night between coat and check is not counted, here or there.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from statistics import median
from zoneinfo import ZoneInfo


@dataclass(frozen=True, slots=True)
class WorkingHours:
    """When the screen room works: from minute `begins` to minute `ends` of the day (not after it: over midnight), on
    `days` of the week (Monday is 1), by the clock of `zone`."""

    begins: int
    ends: int
    days: frozenset[int]
    zone: ZoneInfo

    def of(self, day: date) -> tuple[datetime, datetime] | None:
        """From when to when it works on a day; None: not at all."""
        if day.isoweekday() not in self.days:
            return None
        midnight = datetime(day.year, day.month, day.day)
        over = self.ends + (24 * 60 if self.ends <= self.begins else 0)
        begin, end = (
            (midnight + timedelta(minutes=one)).replace(tzinfo=self.zone).astimezone(UTC) for one in (self.begins, over)
        )
        return begin, end

    def between(self, start: datetime, end: datetime) -> float:
        """The working hours from `start` to `end`; 0 where that is not later."""
        found = timedelta()
        for begin, close in self._spans(start, end):
            found += max(min(close, end) - max(begin, start), timedelta())
        return found.total_seconds() / 3600

    def _spans(self, start: datetime, end: datetime) -> Iterator[tuple[datetime, datetime]]:
        day, last = start.astimezone(self.zone).date() - timedelta(days=1), end.astimezone(self.zone).date()
        while day <= last:
            if (span := self.of(day)) is not None:
                yield span
            day += timedelta(days=1)

    def works_at(self, at: datetime) -> bool:
        """Whether somebody works then."""
        return any(begin <= at <= close for begin, close in self._spans(at, at))

    def left_before(self, day: date, now: datetime) -> float:
        """The working hours from now until the screens of a day must be there: before its work begins; those of today
        until its end."""
        today = now.astimezone(self.zone).date()
        if day <= today:
            span = self.of(today)
            return self.between(now, span[1]) if span else 0.0
        span = self.of(day)
        until = span[0] if span else datetime(day.year, day.month, day.day, tzinfo=self.zone)
        return self.between(now, until)


@dataclass(frozen=True, slots=True)
class Pace:
    """How quickly screens are made. `ready_h`: working hours from coat to ready, the median of so many `screens` (0: a
    limit says it; None: nothing does). `an_hour`: screens coated in an hour in which anybody coats: so many `coats` in
    so many `hours` (0: a limit says it). Both of the last `weeks` weeks."""

    ready_h: float | None
    screens: int
    an_hour: float | None
    coats: int
    hours: int
    weeks: float

    def needs(self, to_coat: int, on_the_way: Sequence[float | None]) -> float | None:
        """The working hours until so many screens that are not coated yet, and those on the way, are ready; on the way:
        the hours that each takes still (None: not known, then those of a whole screen). None: nothing says it."""
        takes = [self.ready_h if one is None else one for one in on_the_way]
        if to_coat:
            coated = to_coat / self.an_hour if self.an_hour else None
            takes.append(None if coated is None or self.ready_h is None else coated + self.ready_h)
        known = [one for one in takes if one is not None]
        return None if len(known) < len(takes) else max(known, default=0.0)


def measured(
    made: Iterable[tuple[datetime, datetime]],
    coats: Sequence[int],
    hours: WorkingHours,
    limits: dict[str, float | None],
) -> Pace:
    """The pace by the log. `made`: (coat, ready) of each screen of the weeks looked at; `coats`: how many were coated
    in each hour in which anybody coated; `limits`: those of `pace-`, by what follows it (None: not set).

    A screen counts that was ready within the longest time from its coat, both while the shop worked: one coated ahead
    lay on the rack, and says nothing. Of fewer than the least the limits speak.
    """
    longest, least = limits["longest"], limits["least"] or 0
    quick = [
        hours.between(coat, ready)
        for coat, ready in made
        if (longest is None or ready - coat <= timedelta(hours=longest))
        and hours.works_at(coat)
        and hours.works_at(ready)
    ]
    own = bool(quick) and len(quick) >= least
    coated = sum(coats)
    often = bool(coated) and coated >= least
    return Pace(
        median(quick) if own else limits["coat-to-ready"],
        len(quick) if own else 0,
        coated / len(coats) if often else limits["coats"],
        coated if often else 0,
        len(coats) if often else 0,
        limits["weeks"] or 0,
    )
