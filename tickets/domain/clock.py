"""Whether the clock of the shop's computer can be believed: it is held against when the newest entry was saved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from tickets.domain.entry import read_stamp, stamp
from tickets.i18n import gettext as _

SLACK = timedelta(minutes=5)
"""A clock that a time server puts right is set back by seconds; within this the order of saving carries on by itself
(judgement)."""
LONGEST_REST = timedelta(days=300)
"""A shop may rest for a season; a clock that lies further ahead is asked about, such as one with a wrong year
(judgement)."""
EARLIEST = datetime(2025, 1, 1, tzinfo=UTC)
"""No clock that says less can be right: the program is younger. A machine without a battery wakes in 1970 or 2000."""
ANSWERS = ("right", "wrong")


@dataclass(frozen=True, slots=True)
class ClockDoubt:
    """What speaks against a clock that says `now`. `kind`: unset (no such time can be), before (it lies before the
    newest entry, or before a time that the manager called right), after (far after it); `since`: that time, None where
    nothing was logged; `wrong`: the manager said since then that the clock is wrong."""

    kind: str
    now: datetime
    since: datetime | None
    wrong: bool = False


def doubt(now: datetime, newest: int, saved: str | None, answer: Mapping[str, Any]) -> ClockDoubt | None:
    """What speaks against the clock; None: nothing. `newest`, `saved`: number of the newest entry (0: there is none)
    and when it was saved; `answer`: what the manager said last (`answered`), empty: nothing."""
    kept = since_right(newest, answer) or saved or ""
    since = read_stamp(kept) if kept else None
    if now < EARLIEST:
        kind = "unset"
    elif since is None or since - SLACK <= now <= since + LONGEST_REST:
        return None
    else:
        kind = "before" if now < since else "after"
    return ClockDoubt(kind, now, since, answer.get("wrong") == newest)


def since_right(newest: int, answer: Mapping[str, Any]) -> str:
    """The time at which the manager called the clock right, where nothing was logged since: what was saved before may
    have had a wrong one. Empty: the newest entry is to be believed."""
    right = answer.get("right") or {}
    return str(right["at"]) if right and right["newest"] >= newest else ""


def answered(answer: Mapping[str, Any], said: str, now: datetime, newest: int) -> dict[str, Any]:
    """What is kept once the manager `said` that the clock, or that it is wrong: what was called right before stays."""
    if said == "right":
        return {"right": {"at": stamp(now), "newest": newest}}
    return {**answer, "wrong": newest}


def told(found: ClockDoubt, now: str, since: str) -> str:
    """A doubt in words; the two times as the shop says them."""
    said = _("Nothing can be saved now: the clock of the shop’s computer says {now}.").format(now=now)
    if found.since is None:
        return said + " " + _("It was not set since the computer was switched on.")
    if found.kind == "after":
        return said + " " + _("The newest entry is of {since}, long before.").format(since=since)
    return said + " " + _("The newest entry is of {since}: that would be yet to come.").format(since=since)
