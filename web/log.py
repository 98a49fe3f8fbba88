"""The log as it is read: lines with who, when, what was measured, what was crossed out; the whole log page by page."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from flask import Blueprint, Response, g, request
from sqlite_utils import Database

from tickets.domain import outside
from tickets.domain.code import shown
from tickets.domain.entry import Entry, stamp
from tickets.domain.person import MANAGES
from tickets.domain.refusal import Refused
from tickets.domain.steps import BUCKET_STEPS, RUN_STEPS, SCREEN_STEPS
from tickets.i18n import N_, weekday
from tickets.i18n import gettext as _
from tickets.queries import said as said_now
from tickets.queries.shop_rules import day_span
from tickets.store import codes, entries, jobs, people, places
from web.lists import ListAsked, ListHead, Listing, asked_for, listing, turned
from web.steps import WHYS
from web.support import PATHS, faults_by_field, local_date, one_of, page, reader, row_number, zone

bp = Blueprint("log", __name__)

PAGE = 50
AT_ONCE = timedelta(minutes=10)
"""What is noted within this was noted at once."""


@dataclass(frozen=True, slots=True)
class LogLine:
    """One entry as people read it. `about`: (address, text) of what it is about; `crossed`: (who, why, when)."""

    entry: Entry
    title: str
    who: str
    said: tuple[tuple[str, str], ...]
    crossed: tuple[str, str, str] | None = None
    may_cross: bool = False
    about: tuple[str, str] | None = None

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
    things: dict[tuple[str, int], tuple[str, str] | None] = {}
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
                about=_about(db, entry, things) if about else None,
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


def _about(db: Database, entry: Entry, known: dict[tuple[str, int], tuple[str, str] | None]) -> tuple[str, str] | None:
    for kind in ("screen", "bucket", "job"):
        number = getattr(entry, kind)
        if number is None or (kind == "job" and entry.run is not None):
            continue
        if (kind, number) not in known:
            code = codes.current(db, kind, number)
            known[(kind, number)] = (f"{PATHS[kind]}/{code}", shown(code)) if code else None
        return known[(kind, number)]
    return (f"/runs/{entry.run}", _("run {number}").format(number=entry.run)) if entry.run is not None else None


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
DAYS_BACK = 7


@dataclass(frozen=True, slots=True)
class LogShown:
    """The log as its page shows it: the lines, what it is narrowed to, the last days (address, weekday, date,
    whether it is chosen), the people and steps that it can be narrowed to; `further`: where to look on, where not all
    was looked through."""

    list: Listing
    lines: Sequence[LogLine]
    filters: Sequence[tuple[str, str]]
    days: Sequence[tuple[str, str, str, bool]]
    people: Sequence[tuple[str, str]]
    steps: Sequence[tuple[str, str]]
    further: str

    @property
    def used(self) -> Mapping[str, str]:
        """The filters of the address."""
        return self.list.asked.used


@bp.get("/log")
def log() -> Response:
    """The whole log page by page, the newest first; of a day, a person, a step."""
    used = {name: text for name in ("day", "who", "step") if (text := request.args.get(name, "").strip())}
    day, who = outside.day(used.get("day", "")), people.names(g.db)
    steps = {name: _(step.title) for name, step in {**BUCKET_STEPS, **RUN_STEPS, **SCREEN_STEPS}.items()}
    used = {name: text for name, text in used.items() if _is_known(name, text, day, who, steps)}
    asked = asked_for("/log", used, ["time"], "time", down=True)
    since, until = day_span(g.db, day) if day else ("", "")
    start = entries.log_place(g.db, asked.down, asked.row, asked.back)
    narrowed = entries.LogAsked(since, until, row_number(used.get("who")), used.get("step", ""))
    found, further = entries.log_page(g.db, narrowed, start, PAGE + 1)
    rows, before, behind = turned(asked, found, PAGE)
    said = {"day": local_date(used.get("day", "")), "who": who.get(row_number(used.get("who")), ""),
            "step": steps.get(used.get("step", ""), "")}  # fmt: skip
    shown = LogShown(
        listing(asked, HEADS, rows[0][0] if rows else 0, rows[-1][0] if rows else 0, (before, behind)),
        lines(g.db, [entry for _id, entry in rows], about=True, crossing=False),
        [(name, said[name]) for name in used],
        _last_days(asked),
        [(str(one.id), one.name) for one in people.every(g.db)],
        sorted(steps.items(), key=lambda one: one[1]),
        asked.link(after=str(further)) if further and not asked.back else "",
    )
    return page("log/log.html", it=shown)


def _is_known(name: str, text: str, day: date | None, who: Mapping[int, str], steps: Mapping[str, str]) -> bool:
    return {"day": day is not None, "who": row_number(text) in who, "step": text in steps}[name]


def _last_days(asked: ListAsked) -> list[tuple[str, str, str, bool]]:
    """The last days, to be tapped: address, weekday, date, whether the log is narrowed to it."""
    today = g.now.astimezone(zone()).date()
    days = [(one, one.isoformat()) for one in (today - timedelta(days=back) for back in range(DAYS_BACK))]
    chosen = asked.used.get("day")
    return [(asked.link(day=text), weekday(one), local_date(text), text == chosen) for one, text in days]
