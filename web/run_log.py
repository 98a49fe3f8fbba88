"""What happened on a run, each entry said in a line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from flask import g

from tickets.domain.entry import Entry
from tickets.queries import said as said_now
from tickets.store import entries, people, screens
from web.log import may_cross_out
from web.support import reader


@dataclass(frozen=True, slots=True)
class RunLine:
    """A line of a run's log: what was done, by whom, on which screen (its code), what is told of it; by what it was
    crossed out (`by`: whose name), whether who holds the phone may."""

    entry: Entry
    who: str
    done: str
    screen: str
    told: str
    crossed: Entry | None
    by: str
    may_cross: bool


def log_lines(log: Sequence[Entry]) -> list[RunLine]:
    """The log of a run, newest first, with what was crossed out and by whom, and whether this person may."""
    crossed = entries.crossed_by(g.db, [entry.entry for entry in log])
    may, own = may_cross_out(), reader()
    numbers = [entry.screen for entry in log if entry.screen is not None]
    codes = {screen.id: screen.code for screen in screens.many(g.db, list(dict.fromkeys(numbers)))}
    names = people.names(g.db)
    out = []
    for entry in log:
        by = crossed.get(entry.entry)
        out.append(
            RunLine(
                entry,
                names.get(entry.person, ""),
                said_now.title(entry),
                str(codes.get(entry.screen, "")) if entry.screen is not None else "",
                said_now.text(own, entry, without=said_now.IN_RUN),
                by,
                names.get(by.person, "") if by is not None else "",
                entry.step != "open" and by is None and may(entry),
            )
        )
    return out
