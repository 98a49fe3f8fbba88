"""The log as it is read: lines with who, when, what was measured, what was crossed out; the whole log page by page."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import NamedTuple
from urllib.parse import urlencode

from flask import Blueprint, Response, g, request
from sqlite_utils import Database

from tickets.domain.code import NoCode, shown
from tickets.domain.code import read as code_of
from tickets.domain.entry import Entry, stamp
from tickets.domain.person import MANAGES
from tickets.domain.refusal import Fault, Refused
from tickets.i18n import N_, weekday
from tickets.i18n import gettext as _
from tickets.queries import log_now
from tickets.queries import said as said_now
from tickets.queries.shop_rules import day_span
from tickets.queries.table_file import csv_file, json_lines
from tickets.store import codes, entries, jobs, people, places
from tickets.store import log as store_log
from web.files import sent_file
from web.lists import ListAsked, ListHead, Listing, asked_for, listing, turned
from web.may import may
from web.steps import WHYS
from web.support import PATHS, actor, faults_by_field, local_date, one_of, page, reader, zone

bp = Blueprint("log", __name__)

PAGE = 50
AT_ONCE = timedelta(minutes=10)
"""What is noted within this was noted at once."""


@dataclass(frozen=True, slots=True)
class LogLine:
    """One entry as people read it. `about`: (address, text) of what it is about, what it was done to first; `crossed`:
    (who, why, when)."""

    entry: Entry
    title: str
    who: str
    said: tuple[tuple[str, str], ...]
    crossed: tuple[str, str, str] | None = None
    may_cross: bool = False
    about: tuple[tuple[str, str], ...] = ()

    @property
    def later(self) -> bool:
        """Whether it was noted later than it was done."""
        return self.entry.saved_at - self.entry.at > AT_ONCE

    @property
    def text(self) -> str:
        """What was measured and noted, in one text."""
        return said_now.joined(self.said)


def lines(db: Database, found: Sequence[Entry], *, about: bool = False, crossing: bool = True) -> list[LogLine]:
    """Entries as they are read, in the order given; `about`: with a link to the thing that each is about; `crossing`:
    with whether this person may cross it out."""
    who, may = people.names(db), may_cross_out() if crossing else _never
    crossed = entries.crossed_by(db, [entry.entry for entry in found])
    _read_ahead(db, found, about)
    own = reader()
    out = []
    for entry in found:
        by = crossed.get(entry.entry)
        out.append(
            LogLine(
                entry=entry,
                title=said_now.title(entry),
                who=who.get(entry.person, str(entry.person)),
                said=said_now.values(own, entry),
                crossed=(who.get(by.person, "?"), str(by.values.get("why", "")), stamp(by.at)) if by else None,
                may_cross=by is None and may(entry),
                about=_about(db, entry) if about else (),
            )
        )
    return out


def _never(entry: Entry) -> bool:
    return False


def may_cross_out() -> Callable[[Entry], bool]:
    """Whether this person may cross an entry out: own ones of today, others' by the manager, as
    `actions.screens.cross_out` has it."""
    person, shop = g.person, zone()
    today = g.now.astimezone(shop).date()

    def may(entry: Entry) -> bool:
        if entry.step == "cross-out":
            return False
        own = entry.person == person.id
        return person.role in MANAGES or (own and entry.saved_at.astimezone(shop).date() == today)

    return may


def _read_ahead(db: Database, found: Sequence[Entry], about: bool) -> None:
    """What the lines will ask for one by one: images, places, and codes of what they are about."""
    images = [number for entry in found for number in entry.values.get("separations") or ()]
    jobs.separations_ahead(db, [number for number in images if isinstance(number, int)])
    where = [entry.values.get("place") for entry in found]
    places.read_ahead(db, [number for number in where if isinstance(number, int)])
    if about:
        things = [(kind, getattr(entry, kind)) for entry in found for kind in ("screen", "bucket", "job")]
        codes.current_ahead(db, [(kind, number) for kind, number in things if number is not None])


def _about(db: Database, entry: Entry) -> tuple[tuple[str, str], ...]:
    out = []
    for kind in ("screen", "bucket", "job"):
        number = getattr(entry, kind)
        if number is None or (kind == "job" and entry.run is not None):
            continue
        if code := codes.current(db, kind, number):
            out.append((f"{PATHS[kind]}/{code}", shown(code)))
    if entry.run is not None:
        out.append((f"/runs/{entry.run}", _("run {number}").format(number=entry.run)))
    return tuple(out)


def cross_page(action: str, back: str, sent: Mapping[str, Sequence[str]], refused: Refused) -> Response:
    """A crossing out whose entry is not to be found here, again: with what was typed, the message beside its field."""
    return page(
        "log/cross.html",
        refused.status,
        action=action,
        back=back,
        wrong=one_of(sent, "crosses") or one_of(sent, "entry"),
        whys=WHYS,
        values=sent,
        faults=faults_by_field(refused),
    )


HEADS = (
    ListHead("", N_("About")),
    ListHead("", N_("Logged")),
    ListHead("", N_("What was noted")),
    ListHead("", N_("Who")),
    ListHead("time", N_("When"), down=True),
)
DAYS = 7
"""Days with their counts, to be tapped."""
FEW_PLACES = 24
"""Racks and carts that are offered one by one; in a larger shop the page of each leads to its log."""


class LogDay(NamedTuple):
    """A day to be tapped: where it leads, the day of the week, the date, how many entries, whether it is chosen."""

    link: str
    word: str
    date: str
    entries: str
    chosen: bool


class LogChoice(NamedTuple):
    """One way to narrow the log: where it leads, what it is, whether it is chosen."""

    link: str
    word: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class LogShown:
    """The log as its page shows it: the lines, what it is narrowed to, a week of days, the people of that span (a
    manager's), what it can be narrowed to; `further`: where to look on, where not all was looked through; `nearest`:
    where a span without an entry is left for (address, day); `files`: where it is as a file."""

    list: Listing
    lines: Sequence[LogLine]
    filters: Sequence[tuple[str, str]]
    days: Sequence[LogDay]
    earlier: str
    later: str
    people: Sequence[LogChoice]
    choices: Sequence[tuple[str, Sequence[LogChoice]]]
    further: str
    span: str
    nearest: Sequence[tuple[str, str]]
    files: Sequence[tuple[str, str]]
    faults: Sequence[str]
    crossed: bool

    @property
    def used(self) -> Mapping[str, str]:
        """The filters of the address."""
        return self.list.asked.used


@bp.get("/log")
def log() -> Response:
    """The log page by page, the newest first, narrowed as the address says."""
    found, faults = _narrowed()
    used = {name: one.value for name, one in found.used.items()}
    asked = asked_for("/log", used, ["time"], "time", down=True)
    start = store_log.place_in(g.db, asked.down, asked.row, asked.back)
    entries_found, further = store_log.page(g.db, found.asked, start, PAGE + 1)
    rows, before, behind = turned(asked, entries_found, PAGE)
    days = _week(found)
    empty = not rows and not asked.row and bool(found.asked.since or found.asked.until)
    shown = LogShown(
        listing(asked, HEADS, rows[0][0] if rows else 0, rows[-1][0] if rows else 0, (before, behind)),
        lines(g.db, [entry for _id, entry in rows], about=True, crossing=False),
        [(name, one.said) for name, one in found.used.items()],
        _days_shown(asked, found, days),
        _at_day(asked, days[-1] - timedelta(days=1)),
        _at_day(asked, days[0] + timedelta(days=1)) if days[0] < _today() else "",
        _people_of(asked, found),
        _choices(asked),
        asked.link(after=str(further)) if further and not asked.back else "",
        _span_said(found),
        _nearest(asked, found) if empty else (),
        [(kind, f"/log.{kind}?{urlencode(used)}".rstrip("?")) for kind in ("csv", "jsonl")] if may("log.file") else (),
        [fault.message for fault in faults],
        found.asked.crossed,
    )
    return page("log/log.html", it=shown)


@bp.get("/log.<any(csv, jsonl):kind>")
def file(kind: str) -> Response:
    """The log as it is narrowed, as a file."""
    asked, now = _narrowed()[0].asked, g.now
    if kind == "csv":
        return sent_file("log.csv", "text/csv", lambda db: csv_file(log_now.LOG, log_now.file_lines(db, asked, now)))
    return sent_file("log.jsonl", "application/x-ndjson", lambda db: json_lines(log_now.file_lines(db, asked, now)))


def _narrowed() -> tuple[log_now.LogNarrowed, list[Fault]]:
    """What the address asks for; `code` stands for a job, a screen or a place, whichever it is of."""
    given = {name: request.args.get(name, "")[:200] for name in log_now.NAMES}
    given = {name: fold_day(text) if name in ("day", "from", "to") else text for name, text in given.items()}
    if text := request.args.get("code", "").strip()[:200]:
        given[_kind_of(text)] = text
    return log_now.narrowed(reader(), actor(), given)


def fold_day(text: str) -> str:
    """A day of an address: `today` and `yesterday` are days too, so that a link to them stays right."""
    back = {"today": 0, "yesterday": 1}.get(text)
    return text if back is None else (_today() - timedelta(days=back)).isoformat()


def _today() -> date:
    now: datetime = g.now
    return now.astimezone(zone()).date()


def _kind_of(text: str) -> str:
    try:
        issued = codes.find(g.db, code_of(text))
    except NoCode:
        return "job"
    if issued is not None and issued.kind == "place":
        place = places.get(g.db, issued.thing)
        return "press" if place is not None and place.kind == "press" else "place"
    return issued.kind if issued is not None and issued.kind in ("screen", "job") else "job"


def _week(found: log_now.LogNarrowed) -> list[date]:
    """A week of days, the last first: up to today, or round the day that is chosen."""
    last = min(_today(), found.last + timedelta(days=DAYS // 2)) if found.last else _today()
    return [last - timedelta(days=back) for back in range(DAYS)]


def _at_day(asked: ListAsked, day: date) -> str:
    return asked.link(**{"day": day.isoformat(), "from": "", "to": ""})


def _days_shown(asked: ListAsked, found: log_now.LogNarrowed, days: Sequence[date]) -> list[LogDay]:
    counts = store_log.counted(g.db, found.asked, [day_span(g.db, day) for day in days])
    return [
        LogDay(
            _at_day(asked, day), weekday(day), local_date(day.isoformat()),
            f"{one.entries}+" if one.more else str(one.entries), found.first == day == found.last,
        )
        for day, one in zip(days, counts, strict=True)
    ]  # fmt: skip


def _people_of(asked: ListAsked, found: log_now.LogNarrowed) -> list[LogChoice]:
    """Who logged how much in a span; a manager's, since others see what each person logged on its thing alone."""
    if not (found.first and found.last and actor().manages):
        return []
    names, many, chosen = people.names(g.db), store_log.by_person(g.db, found.asked), asked.used.get("who")
    return [
        LogChoice(asked.link(who=str(number)), f"{names.get(number, number)} · {many[number]}", str(number) == chosen)
        for number in sorted(many, key=lambda one: -many[one])
    ]


def _choices(asked: ListAsked) -> list[tuple[str, list[LogChoice]]]:
    """What the log can be narrowed to, by a tap."""

    def some(name: str, words: Iterable[tuple[str, str]]) -> list[LogChoice]:
        return [LogChoice(asked.link(**{name: value}), word, asked.used.get(name) == value) for value, word in words]

    own = [(str(g.person.id), g.person.name)]
    who = [(str(one.id), one.name) for one in people.every(g.db)] if actor().manages else own
    there = [one for one in places.every(g.db) if one.kind != "press"]
    found = [
        (_("Only"), some("only", ((name, _(word)) for name, word in log_now.ONLY.items()))),
        (_("Who"), some("who", who)),
        (_("Step"), some("step", log_now.steps().items())),
        (_("Press"), some("press", ((one.code, one.name) for one in places.every(g.db, "press")))),
        (_("Put in or on"), some("place", ((one.code, one.name) for one in there)) if len(there) <= FEW_PLACES else []),
    ]
    return [(word, choices) for word, choices in found if choices]


def _span_said(found: log_now.LogNarrowed) -> str:
    """Over which days the page goes, in words."""
    first, last = (local_date(day.isoformat()) if day else "" for day in (found.first, found.last))
    if first and first == last:
        return first
    if first and last:
        return _("{first} to {last}").format(first=first, last=last)
    return _("from {day}").format(day=first) if first else _("until {day}").format(day=last) if last else ""


def _nearest(asked: ListAsked, found: log_now.LogNarrowed) -> list[tuple[str, str]]:
    """The days with such entries before and behind an empty span: (address, day)."""
    days = [day for day in log_now.nearest(reader(), found.asked) if day]
    return [(_at_day(asked, day), f"{weekday(day)} {local_date(day.isoformat())}") for day in days]
