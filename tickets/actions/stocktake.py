"""A stock-take: what was seen at a place against what the log has there, put right in one act."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from sqlite_utils import Database

from tickets.actions.people import IDLE
from tickets.actions.posting import line, numbered, once, write
from tickets.domain.entry import Entry, read_stamp, stamp
from tickets.domain.person import Actor
from tickets.i18n import gettext as _
from tickets.queries.screen_steps import against_log
from tickets.store import changes, people, screens, writing
from tickets.store.places import Place
from tickets.store.screens import Screen

TASK = "stocktake"
MOST = 500
"""Screens of one stock-take."""


STILL = timedelta(minutes=10)
"""Whoever scanned within this goes on counting."""


@dataclass(frozen=True, slots=True)
class Counter:
    """A phone that counts a place: whose it is, what it has seen (numbers of screens), when it last saw one."""

    phone: str
    who: str
    seen: tuple[int, ...]
    at: str


def counters(db: Database, place: Place, now: datetime) -> list[Counter]:
    """Every phone that counts a place: its stock-take is one, whoever scans. Phones that nobody holds any more are left
    out."""
    who = people.names(db)
    return [
        Counter(one.token, who.get(one.person or 0, ""), tuple(one.doing.get("seen", ())), str(one.doing.get("at", "")))
        for one in people.at_task(db, TASK)
        if one.doing.get("place") == place.id and now - read_stamp(one.seen_at) <= IDLE
    ]


def end(db: Database, place: Place, but: str, told: str, now: datetime) -> None:
    """Ends the stock-take on every phone; those other than `but` (a token) say so in their band."""
    with writing(db):
        for one in counters(db, place, now):
            held = people.sign_in(db, one.phone)
            if held is not None:
                people.save_sign_in(db, replace(held, doing={} if one.phone == but else {"text": told}))


def unsee(db: Database, place: Place, screen: int, now: datetime) -> None:
    """A screen that was scanned by mistake is on no phone's list of that place any more: the count is shared."""
    with writing(db):
        for one in counters(db, place, now):
            held = people.sign_in(db, one.phone)
            if held is not None and screen in one.seen:
                seen = [number for number in one.seen if number != screen]
                people.save_sign_in(db, replace(held, doing={**held.doing, "seen": seen}))


def standing_of(db: Database, place: Place, screen: Screen) -> str:
    """What a screen that is seen at a place is there: `here`, `astray`, `unlikely` (as `compare` parts them)."""
    if screen.life.place == place.id:
        return "here"
    return "unlikely" if against_log(db, screen, "rack") else "astray"


@dataclass(frozen=True, slots=True)
class Taken:
    """A stock-take so far. `here`: seen, and by the log too; `astray`: seen, but by the log elsewhere or nowhere, and
    can be put here at once; `unlikely`: seen, but by the log where it cannot be put away from (on a press, retired);
    `missing`: by the log here, not seen."""

    here: tuple[Screen, ...]
    astray: tuple[Screen, ...]
    unlikely: tuple[Screen, ...]
    missing: tuple[Screen, ...]


def compare(db: Database, place: Place, seen: Sequence[int]) -> Taken:
    """What was seen at a place (numbers of screens) against the log."""
    expected = screens.at_place(db, place.id, MOST + 1)
    known: Collection[int] = {one.id for one in expected}
    numbers = set(seen)
    others = screens.many(db, [number for number in dict.fromkeys(seen) if number not in known])
    at_odds = {one.id for one in others if against_log(db, one, "rack")}
    return Taken(
        tuple(one for one in expected if one.id in numbers),
        tuple(one for one in others if one.id not in at_odds),
        tuple(one for one in others if one.id in at_odds),
        tuple(one for one in expected if one.id not in numbers),
    )


def put_right(
    db: Database, actor: Actor, place: Place, seen: Sequence[int], stay: Sequence[int] = (), *, post: str, now: datetime
) -> dict[str, int]:
    """Puts the screens that were astray here, and notes that the missing ones are not: (racked, noted). That the place
    was counted is kept with it, also where all was as the log has it.

    A missing screen has no place from then on, and is listed as missing until it is in somebody's hands again; those in
    `stay` (numbers) keep their place, for whoever knows better than the scan.
    """

    def act() -> dict[str, Any]:
        found = compare(db, place, seen)
        lines: list[Entry] = [line(actor, "rack", now, now, {"place": place.id}, screen=one.id) for one in found.astray]
        said = _("Stock-take of {place}: missing.").format(place=place.name)
        gone = {"note": said, "not_at": place.id}
        lines += [line(actor, "note", now, now, gone, screen=one.id) for one in found.missing if one.id not in stay]
        if lines:
            write(db, numbered(post, lines))
        racked, noted = len(found.astray), len(lines) - len(found.astray)
        told = f"{len(found.here)} {racked} {noted}"
        changes.note(db, "place", place.id, "counted", stamp(now), actor.id, becomes=told)
        return {"racked": racked, "noted": noted}

    content = {"act": "stocktake", "place": place.id, "seen": sorted(set(seen)), "stay": sorted(set(stay))}
    answer = once(db, actor, post, content, now, act)
    return {"racked": int(answer["racked"]), "noted": int(answer["noted"])}
