"""One line of the log."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any

from tickets.domain.refusal import Refused
from tickets.i18n import gettext as _

_POST = re.compile(r"[a-z0-9-]{16,32}")


def post_id(text: str) -> str:
    """The id that the sender made for a post: 16 to 32 of a-z, 0-9 and hyphen. Anything else is refused."""
    if not _POST.fullmatch(text):
        raise Refused(_("The entry's id must be 16 to 32 characters of a-z, 0-9 and “-”."), "entry")
    return text


def stamp(at: datetime) -> str:
    """A time as it is stored: UTC, ISO 8601, always of one length, so that text order is time order."""
    return _stamped(at.astimezone(UTC))


@lru_cache(maxsize=256)
def _stamped(at: datetime) -> str:
    """One post asks for the stamp of its time a dozen times. Of UTC alone: in a zone with summer time two hours of a
    night are equal."""
    return f"{at.isoformat(timespec='microseconds')[:-6]}Z"


def read_stamp(text: str) -> datetime:
    """The time that `stamp` wrote."""
    return datetime.fromisoformat(text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """Who did what, when, and what was measured. Never changed; a wrong one is crossed out by a later one.

    `values` are in the units of their names, `typed` keeps what was typed where that differs. Things are named by
    their row numbers (`screen`, `run`, `job`, `bucket`), since a retagged screen keeps its log;
    places, buckets and presses in `values` too. Exposure units are named there by their name.
    """

    entry: str
    step: str
    at: datetime
    saved_at: datetime
    person: int
    post: str = ""
    part: int = 1
    signed: str = "pin"
    screen: int | None = None
    run: int | None = None
    job: int | None = None
    bucket: int | None = None
    values: Mapping[str, Any] = field(default_factory=dict)
    typed: Mapping[str, Any] = field(default_factory=dict)
    verdict: Mapping[str, Any] | None = None
    override: Mapping[str, Any] | None = None

    @property
    def key(self) -> tuple[datetime, datetime, int, str]:
        """The order of replay: time of the act, then time of saving, then part, then id."""
        return (self.at, self.saved_at, self.part, self.entry)

    @property
    def crosses(self) -> str | None:
        """The id of the entry that this one crosses out."""
        return str(self.values.get("entry", "")) if self.step == "cross-out" else None


def standing_lines(entries: Iterable[Entry]) -> list[Entry]:
    """The entries that count, in the order of replay: without those crossed out and the crossings themselves."""
    entries = list(entries)
    crossed = {entry.crosses for entry in entries if entry.step == "cross-out"}
    counted = [entry for entry in entries if entry.step != "cross-out" and entry.entry not in crossed]
    return sorted(counted, key=lambda entry: entry.key)


# Values as a replay takes them ---------------------------------------------------------------------------------------
# A log may hold values of an older program, or of a damaged import: what makes no sense reads as not said.


def text_of(values: Mapping[str, Any], name: str) -> str:
    """The text of a field, empty where none was given."""
    value = values.get(name)
    return value if isinstance(value, str) else ""


def number_of(values: Mapping[str, Any], name: str) -> float | None:
    """The number of a field; None where none that is finite was given."""
    value = values.get(name)
    return value if isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value) else None


def whole_of(values: Mapping[str, Any], name: str) -> int | None:
    """The whole number of a field (a row's number, a count of pieces); None where none was given, one below zero, or
    one of more digits than a number that names a thing has (`numerals.counted`)."""
    value = number_of(values, name)
    return int(value) if value is not None and 0 <= value < 10**15 and value == int(value) else None


def numbers_of(values: Mapping[str, Any], name: str) -> tuple[float, ...]:
    """The readings of a field, all above zero; empty where one of them makes no sense."""
    sent = values.get(name)
    if not isinstance(sent, (list, tuple)):
        return ()
    numbers = [number_of({name: one}, name) for one in sent]
    return tuple(number for number in numbers if number is not None and number > 0) if None not in numbers else ()


def wholes_of(values: Mapping[str, Any], name: str) -> tuple[int, ...]:
    """The row numbers of a field, each once, in their order."""
    sent = values.get(name)
    if not isinstance(sent, (list, tuple)):
        return ()
    found = (whole_of({name: one}, name) for one in sent)
    return tuple(dict.fromkeys(number for number in found if number is not None))
