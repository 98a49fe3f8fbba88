"""Press dates as a calendar file: iCalendar, RFC 5545."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

PRODUCT = "-//Screen print job tickets//Press dates//EN"
LONGEST = 75
"""Octets of a line, its end not counted (RFC 5545, 3.1)."""


@dataclass(frozen=True, slots=True)
class DueDay:
    """A job on its press date: `uid`: what it is known by for good; `revised`: when it was last changed, for the
    `times`th time (0: never); `about`: what else is said; `address`: of its page (empty: none)."""

    uid: str
    day: date
    title: str
    about: str
    address: str
    revised: datetime
    times: int


def written(name: str, days: Iterable[DueDay]) -> str:
    """The calendar `name` with an event of a whole day for each."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{PRODUCT}", "CALSCALE:GREGORIAN", f"X-WR-CALNAME:{_text(name)}"]
    for one in days:
        lines += _event(one)
    lines.append("END:VCALENDAR")
    return "".join(part + "\r\n" for line in lines for part in _folded(line))


def _event(one: DueDay) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"UID:{_text(one.uid)}"
    yield f"DTSTAMP:{one.revised.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    yield f"SEQUENCE:{one.times}"
    yield f"DTSTART;VALUE=DATE:{one.day:%Y%m%d}"
    yield f"DTEND;VALUE=DATE:{one.day + timedelta(days=1):%Y%m%d}"  # the day after: an end is not part of it (3.6.1)
    yield f"SUMMARY:{_text(one.title)}"
    if one.about:
        yield f"DESCRIPTION:{_text(one.about)}"
    if one.address:
        yield f"URL:{one.address}"
    yield "TRANSP:TRANSPARENT"
    yield "END:VEVENT"


def _text(said: str) -> str:
    """A text as a value (3.3.11): no line break, comma, semicolon or backslash as itself; no control character."""
    plain = said.replace("\r\n", "\n").replace("\r", "\n")
    plain = plain.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")
    return "".join(one for one in plain if one >= " " and one != "\x7f")


def _folded(line: str) -> Iterator[str]:
    """A line in pieces of at most LONGEST octets, never within a character; each but the first begins with a blank."""
    piece, room = "", LONGEST
    for one in line:
        size = len(one.encode())
        if size > room:
            yield piece
            piece, room = " ", LONGEST - 1
        piece, room = piece + one, room - size
    yield piece
