"""The log as it is asked for: what it is narrowed to, read out of an address or a command, and its lines to take
along."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any, NamedTuple

from sqlite_utils import Database

from tickets.domain import outside
from tickets.domain.code import shown
from tickets.domain.entry import Entry, read_stamp, stamp
from tickets.domain.person import Actor
from tickets.domain.refusal import Fault, NotAllowed, Refused
from tickets.domain.steps import (
    BUCKET_STEPS,
    CAUSES,
    FAULTS,
    RUN_STEPS,
    SCREEN_STEPS,
    STOP_CAUSES,
    SWAPPED,
    WASHOUT_FAULTS,
)
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import as_data, find, said
from tickets.queries.said import Reader
from tickets.queries.shop_rules import day_span
from tickets.queries.table_file import Clock, Column
from tickets.store import log, people
from tickets.store.log import LogAsked

OVERRIDDEN, CROSSED = "overridden", "crossed-out"
ONLY = {OVERRIDDEN: N_("overridden"), CROSSED: N_("crossed out")}
"""What alone can be asked for."""
CAUSE_WORDS = {
    **dict(CAUSES), **dict(FAULTS), **dict(STOP_CAUSES), **dict(WASHOUT_FAULTS),
    **dict(zip(SWAPPED, SWAPPED, strict=True)),
}  # fmt: skip
"""The faults and causes that entries name, in words; some are in words of somebody's own."""
AT_A_TIME = 500
"""Entries of a file that are read at a time."""


def steps() -> dict[str, str]:
    """Every step of the log with its title, in the order of the titles."""
    found = {name: _(step.title) for name, step in {**BUCKET_STEPS, **RUN_STEPS, **SCREEN_STEPS}.items()}
    return dict(sorted(found.items(), key=lambda one: one[1].casefold()))


class LogFilter(NamedTuple):
    """One thing that the log is narrowed to: what stands for it in an address, and how it is said."""

    value: str
    said: str


@dataclass(frozen=True, slots=True)
class LogNarrowed:
    """What the log is narrowed to: `used`: by the name of each filter; `first`, `last`: the days, both included."""

    asked: LogAsked
    used: Mapping[str, LogFilter]
    first: date | None = None
    last: date | None = None


def narrowed(reader: Reader, who: Actor, given: Mapping[str, str]) -> tuple[LogNarrowed, list[Fault]]:
    """The log narrowed by what was given (day, or from and to; who, step, place, press, job, screen, cause, only); what
    cannot be is left out, and said. Another person is asked for by a manager alone."""
    used: dict[str, LogFilter] = {}
    asked, faults = LogAsked(), list[Fault]()
    for name, read in _FILTERS.items():
        if not (text := given.get(name, "").strip()):
            continue
        try:
            more, used[name] = read(reader, who, text)
        except Refused as refused:
            faults += [Fault(name, fault.message) for fault in refused.faults]
            continue
        asked = replace(asked, **more)
    if "only" in used:
        asked = replace(asked, overridden=used["only"].value == OVERRIDDEN, crossed=used["only"].value == CROSSED)
    days = {name: outside.day(used[name].value) for name in ("day", "from", "to") if name in used}
    if days.get("day"):
        used = {name: one for name, one in used.items() if name not in ("from", "to")}
    first, last = days.get("day") or days.get("from"), days.get("day") or days.get("to")
    if first and last and last < first:
        first, last = last, first
    since, until = (day_span(reader.db, day)[end] if day else "" for end, day in enumerate((first, last)))
    return LogNarrowed(replace(asked, since=since, until=until), used, first, last), faults


_Read = tuple[dict[str, Any], LogFilter]


def _day(reader: Reader, _who: Actor, text: str) -> _Read:
    if (day := outside.day(text)) is None or not date(1990, 1, 1) <= day <= date(9998, 12, 30):
        raise Refused(_("“{text}” is not a day. Write it like 2026-03-09.").format(text=text[:40]))
    return {}, LogFilter(day.isoformat(), reader.day(day.isoformat()))


def _from(reader: Reader, who: Actor, text: str) -> _Read:
    _more, one = _day(reader, who, text)
    return {}, one._replace(said=_("from {day}").format(day=one.said))


def _to(reader: Reader, who: Actor, text: str) -> _Read:
    _more, one = _day(reader, who, text)
    return {}, one._replace(said=_("until {day}").format(day=one.said))


def _who(reader: Reader, who: Actor, text: str) -> _Read:
    names = people.names(reader.db)
    named = people.find(reader.db, text)
    number = named.id if named else next((one for one in names if str(one) == text), 0)
    if not number:
        raise Refused(_("There is no “{name}” here.").format(name=text[:60]))
    if number != who.id and not who.manages:
        raise NotAllowed(_("Only a manager sees what one other person logged."))
    return {"person": number}, LogFilter(str(number), names[number])


def _step(_reader: Reader, _who: Actor, text: str) -> _Read:
    if text not in (known := steps()):
        raise Refused(
            _("There is no step “{step}”; there are: {steps}.").format(step=text[:40], steps=", ".join(known))
        )
    return {"step": text}, LogFilter(text, known[text])


def _place(reader: Reader, _who: Actor, text: str) -> _Read:
    place = find.place(reader.db, text)
    if place.kind == "press":
        raise Refused(_("{press} is a press: ask for the press.").format(press=place.name))
    return {"place": place.id}, LogFilter(place.code, place.name)


def _press(reader: Reader, _who: Actor, text: str) -> _Read:
    place = find.place(reader.db, text)
    if place.kind != "press":
        raise Refused(_("{place} is not a press.").format(place=place.name))
    return {"press": place.id}, LogFilter(place.code, place.name)


def _job(reader: Reader, _who: Actor, text: str) -> _Read:
    job = find.job(reader.db, text)
    return {"job": job.id}, LogFilter(job.code, _("job {title}").format(title=job.sheet.title))


def _screen(reader: Reader, _who: Actor, text: str) -> _Read:
    screen = find.screen(reader.db, text)
    return {"screen": screen.id}, LogFilter(screen.code, _("screen {code}").format(code=shown(screen.code)))


def _cause(_reader: Reader, _who: Actor, text: str) -> _Read:
    return {"cause": text}, LogFilter(text, _(CAUSE_WORDS.get(text, text)))


def _only(_reader: Reader, _who: Actor, text: str) -> _Read:
    if text not in ONLY:
        raise Refused(_("One of: {kinds}.").format(kinds=", ".join(ONLY)))
    return {}, LogFilter(text, _(ONLY[text]))


_FILTERS: Mapping[str, Callable[[Reader, Actor, str], _Read]] = {
    "day": _day,
    "from": _from,
    "to": _to,
    "who": _who,
    "step": _step,
    "place": _place,
    "press": _press,
    "job": _job,
    "screen": _screen,
    "cause": _cause,
    "only": _only,
}
"""By name, in the order in which they are shown."""
NAMES = tuple(_FILTERS)


def nearest(reader: Reader, asked: LogAsked) -> tuple[date | None, date | None]:
    """The last day before an empty span that has such entries, and the first one behind it."""
    times = log.nearest(reader.db, asked)
    before, behind = (read_stamp(at).astimezone(reader.zone).date() if at else None for at in times)
    return before, behind


LOG = (
    Column("when", N_("When it was done"), "time"),
    Column("saved", N_("When it was noted"), "time"),
    Column("person", N_("Who did it")),
    Column("signed", N_("How they were signed in")),
    Column("step", N_("The step")),
    Column("done", N_("What was done, in words")),
    Column("screen", N_("Code of the screen")),
    Column("run", N_("Number of the run")),
    Column("job", N_("Code of the job")),
    Column("bucket", N_("Code of the bucket")),
    Column("said", N_("What was measured and noted")),
    Column("verdict", N_("What the program said: ok, caution, stop, unknown")),
    Column("override", N_("Why it was overridden")),
    Column("overridden_by", N_("Who overrode it")),
    Column("crossed_out", N_("When it was crossed out"), "time"),
    Column("crossed_out_by", N_("Who crossed it out")),
    Column("crossed_out_why", N_("Why it was crossed out")),
    Column("entry", N_("The id of the entry")),
)
"""The columns of the file of the log as it is narrowed."""


def every(db: Database, asked: LogAsked, most: int | None = None) -> Iterator[Entry]:
    """All such entries, the newest first; `most`: so many at most."""
    row, left = 0, most
    while left is None or left > 0:
        start = log.place_in(db, True, row)
        some = AT_A_TIME if left is None else min(AT_A_TIME, left)
        found, further = log.page(db, asked, start, some)
        yield from (entry for _number, entry in found)
        left = left - len(found) if left is not None else None
        row = further or (found[-1][0] if len(found) == some else 0)
        if not row:
            return


def file_lines(db: Database, asked: LogAsked, now: datetime) -> Iterator[dict[str, Any]]:
    """The lines of the file, by its columns."""
    clock, reader, few = Clock(db), Reader.of(db, now), list[Entry]()

    def lines(some: list[Entry]) -> Iterator[dict[str, Any]]:
        for entry, one in zip(some, as_data.log_lines(db, some, now), strict=True):
            past, by = one["override"] or {}, one["crossed_out"]
            yield {
                "when": clock(stamp(entry.at)), "saved": clock(stamp(entry.saved_at)),
                **{name: one[name] for name in ("person", "signed", "step", "screen", "run", "job", "bucket")},
                "done": said.title(entry), "said": said.text(reader, entry),
                "verdict": one["verdict"]["level"] if one["verdict"] else "",
                "override": past.get("why", ""), "overridden_by": past.get("who", ""),
                "crossed_out": clock(by["at"]) if by else "", "crossed_out_by": by["person"] if by else "",
                "crossed_out_why": by["why"] if by else "", "entry": entry.entry,
            }  # fmt: skip

    for entry in every(db, asked):
        few.append(entry)
        if len(few) == AT_A_TIME:
            yield from lines(few)
            few = []
    yield from lines(few)
