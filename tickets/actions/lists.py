"""Lists that a shop has already, brought in: kept as they were sent, looked over, then written with one yes."""

from __future__ import annotations

import hashlib
import secrets
import time
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlite_utils import Database

from tickets.actions import people as people_acts
from tickets.actions import places as places_acts
from tickets.actions.posting import line, numbered, once, write
from tickets.domain.entry import Entry, post_id, stamp
from tickets.domain.lists import cells, columns, dates
from tickets.domain.lists.cells import Line, Raw
from tickets.domain.lists.columns import AS_NOTE, IGNORED, Chosen, field_of
from tickets.domain.person import Actor
from tickets.domain.refusal import Clash, Fault, NotAllowed, NotFound, Refused
from tickets.domain.told import Told, nobody
from tickets.i18n import gettext as _
from tickets.queries import list_frames, list_now
from tickets.queries.list_frames import ListedFrame
from tickets.queries.list_now import Listed, ListedPerson, ListedPlace
from tickets.queries.table_file import as_written
from tickets.store import codes, lists, places, screens, writing
from tickets.store.lists import KeptList

FORGOTTEN_AFTER = timedelta(days=30)
"""So long a list waits that nobody brings in."""
FIRST_BATCH, MOST_IN_BATCH = 20, 200
BATCH_S = 0.1
"""Lines that are written in one transaction: as many as take so long, so that a phone's entry waits no longer than that
(aim: the writer's lock is held for less than 0.2 s)."""
BREATH_S = 0.005
"""Between two of them whoever else waits for the lock gets it."""


def may_bring(actor: Actor, kind: str) -> bool:
    """Whether somebody brings in such a list: who may also enter such things one by one."""
    roles = {"frames": {"screen room"}, "places": {"screen room", "press lead"}, "people": set()}
    return actor.manages or actor.role in roles.get(kind, set())


def _allowed(actor: Actor, kind: str) -> None:
    if kind not in columns.KINDS:
        raise Refused(_("One of: {kinds}.").format(kinds=", ".join(columns.KINDS)), "kind")
    if may_bring(actor, kind):
        return
    if kind == "people":
        raise NotAllowed(_("The manager brings people in."))
    raise NotAllowed(_("The screen room or the manager brings frames in."))


def send(db: Database, actor: Actor, kind: str, name: str, raw: Raw, *, now: datetime, entry: str = "") -> int:
    """Keeps a list as it was sent, its columns proposed or remembered; its number. Nothing is made yet. The same file
    sent again by the same person, or under the same id `entry`, is the same list; under an id of its own only one that
    was broken off goes on. Raises Refused; Clash: another list was sent under that id."""
    _allowed(actor, kind)
    raw = raw._replace(lines=tuple(Line(one.number, tuple(map(_cell, one.cells))) for one in raw.lines))
    sheet = columns.headed(kind, raw)
    if len(sheet.lines) > cells.MOST_ROWS:
        raise cells.too_long()
    if not sheet.lines:
        raise Refused(_("There is nothing in the list below its headings."), "file")
    digest = hashlib.sha256(repr((sheet.heads, [one.cells for one in sheet.lines])).encode()).hexdigest()
    token = hashlib.sha256(f"{actor.id} {post_id(entry)}".encode()).hexdigest()[:20] if entry else secrets.token_hex(10)
    with writing(db):
        lists.forget(db, stamp(now - FORGOTTEN_AFTER))
        if (first := lists.by_token(db, token)) is not None:
            if (first.kind, first.digest) != (kind, digest):
                raise Clash(_("Another list was sent under this id: send this one under an id of its own."), "entry")
            return first.id
        there = lists.waiting(db, kind, digest, actor.id, begun=bool(entry))
        if there is not None:
            if entry:
                lists.go_on_under(db, there, token)
            return there
        before = lists.remembered(db, kind, columns.heads_key(sheet.heads))
        chosen = before if len(before) == len(sheet.heads) else columns.proposed(kind, sheet)
        new = lists.NewList(
            kind, name[:120], "\n".join((raw.sheet, *raw.others))[:300], actor.id, stamp(now), sheet, chosen, digest
        )
        return lists.add(db, new, token)


def drop(db: Database, number: int) -> None:
    """Throws a list away that was only looked over: it made nothing."""
    with writing(db):
        lists.drop(db, number)


def _cell(text: str) -> str:
    """A cell as somebody meant it: a quote that keeps a spreadsheet from running it is none of its text."""
    return as_written(text).strip(" \t\r\n\xa0")


def of(db: Database, number: int) -> KeptList:
    """A list by its number. Raises NotFound."""
    found = lists.get(db, number)
    if found is None:
        raise NotFound(_("There is no such list here."), "list")
    return found


def choose(
    db: Database, actor: Actor, number: int, chosen: Sequence[Chosen], *, make_places: bool = False, measured: str = ""
) -> None:
    """Says what the columns of a list are, whether places that it names are made, and on which day readings were taken
    that have none of their own. Raises Refused: two columns for one thing, a unit that is none of its."""
    kept = of(db, number)
    _allowed(actor, kept.kind)
    faults: list[Fault] = []
    seen: set[str] = set()
    tidy: list[Chosen] = []
    for at, one in enumerate(chosen):
        field = field_of(kept.kind, one.field)
        if one.field not in (IGNORED, AS_NOTE) and field is None:
            faults.append(Fault(f"column.{at}", _("One of those on the list would do.")))
        elif field is not None and not field.many and field.name in seen:
            told = _("Another column is “{word}” already: choose one of the two.")
            faults.append(Fault(f"column.{at}", told.format(word=_(field.word))))
        units = {unit for unit, _said in field.units} if field else set()
        tidy.append(Chosen(one.field if field else IGNORED, one.unit if one.unit in units else ""))
        seen.add(one.field)
    if measured and dates.day(measured) is None:
        told = _("“{text}” cannot be read as a date. Write year-month-day, such as 2026-03-09.")
        faults.append(Fault("measured", told.format(text=measured[:40])))
    if faults:
        raise Refused(faults)
    with writing(db):
        if of(db, number).taken_at is None:
            lists.choose(db, number, tidy, make_places, measured)


def take_in(db: Database, actor: Actor, number: int, *, now: datetime, again: bool = False, told: Told = nobody) -> int:
    """Makes what a list comes to, each line once however often this is asked for, a batch a transaction; how many it
    made. Lines that will not do make nothing, and stay with the list. `again`: the same file may be brought in twice.

    What a list makes stands under ids of its own (its token and the line), so that one that was broken off goes on
    where it was. Raises Refused: nothing would be made, or the same file is here already."""
    kept = of(db, number)
    _allowed(actor, kept.kind)
    if kept.taken_at is not None:
        return kept.made
    before = lists.same_file(db, kept.kind, kept.digest)
    if before is not None and before.id != number and not again:
        raise Refused(_("This same list was brought in before: say that it is to be brought in once more."), "again")
    done = lists.made_by(db, number)
    todo = [one for one in kept.sheet.lines if one.number not in done]
    found = list_now.comes_to(db, kept, now)
    if found.missing or not (found.items or done):
        raise Refused(_("Nothing would be made: look at what is wrong first."), "list")
    by_line = {one.number: one for one in found.items}
    items = [by_line[one.number] for one in todo if one.number in by_line]
    _make_places(db, actor, kept, items, now)
    made = len(done)
    size = FIRST_BATCH
    place = 0
    while place < len(items):
        batch = items[place : place + size]
        begun = time.perf_counter()
        made += _batch(db, actor, kept, batch, now)
        took = time.perf_counter() - begun
        place += len(batch)
        size = max(1, min(MOST_IN_BATCH, int(size * BATCH_S / max(took, 0.001)), 2 * size))
        told(place, len(items))
        time.sleep(BREATH_S)
    with writing(db):
        there = lists.made_by(db, number)
        left = [one for one in kept.sheet.lines if one.number not in there]
        lists.taken(db, number, actor.id, stamp(now), len(there), left)
        lists.remember(db, kept.kind, columns.heads_key(kept.sheet.heads), kept.columns, stamp(now))
    return made


def _make_places(db: Database, actor: Actor, kept: KeptList, items: Sequence[Listed], now: datetime) -> None:
    """The places that the frames of a list name and that are not there."""
    named: dict[str, str] = {}
    for one in items:
        if isinstance(one, ListedFrame):
            named.setdefault(list_now.places_key(one.place_name), one.place_name)
    for key, name in named.items():
        if name and places.find(db, name) is None:
            post = f"{kept.token}-p{hashlib.sha256(key.encode()).hexdigest()[:8]}"
            places_acts.add(db, actor, name, list_frames.MADE_AS, post=post, now=now)


def _batch(db: Database, actor: Actor, kept: KeptList, batch: Sequence[Listed], now: datetime) -> int:
    """Makes some lines, those that are not made yet, in one transaction; how many."""
    with writing(db):
        there = lists.made_by(db, kept.id)
        batch = [one for one in batch if one.number not in there]
        frames = [one for one in batch if isinstance(one, ListedFrame) and _still_free(db, one)]
        made = _frames(db, actor, kept, frames, now) if frames else []
        made += [pair for one in batch if not isinstance(one, ListedFrame) for pair in _one(db, actor, kept, one, now)]
        lists.note_made(db, kept.id, made)
    return len(made)


def _one(
    db: Database, actor: Actor, kept: KeptList, item: ListedPerson | ListedPlace, now: datetime
) -> list[tuple[int, int]]:
    """A person or a place; nothing, where somebody made one of that name meanwhile."""
    try:
        if isinstance(item, ListedPerson):
            return [(item.number, people_acts.add_person(db, item.name, item.role, None, now, by=actor))]
        post = f"{kept.token}-{item.number:06d}"
        places_acts.add(db, actor, item.name, item.kind, post=post, now=now, outside=item.outside, heads=item.heads)
    except Refused:
        return []
    made = places.find(db, item.name)
    return [(item.number, made.id)] if made else []


def _still_free(db: Database, frame: ListedFrame) -> bool:
    """Whether nobody gave a frame's mark to another one meanwhile."""
    try:
        list_frames.free(db, frame.mark)
    except Refused:
        return False
    return True


def _frames(
    db: Database, actor: Actor, kept: KeptList, batch: Sequence[ListedFrame], now: datetime
) -> list[tuple[int, int]]:
    """Frames with the entries that say what they are; by the line of each its number."""
    first = screens.next_number(db)

    def act() -> dict[str, Any]:
        lines: list[Entry] = []
        for screen, frame in enumerate(batch, first):
            screens.add(db, codes.issue(db, "screen", screen, stamp(now)), screen, stamp(now))
            lines += _entries(db, actor, frame, screen, now)
        write(db, numbered(post, lines), new=range(first, first + len(batch)))
        return {"list": kept.id}

    post = f"{kept.token}-{batch[0].number:06d}"
    once(db, actor, post, {"list": kept.id, "lines": [frame.number for frame in batch]}, now, act)
    return [(frame.number, screen) for screen, frame in enumerate(batch, first)]


def _entries(db: Database, actor: Actor, frame: ListedFrame, screen: int, now: datetime) -> list[Entry]:
    """What is logged of a frame of a list. A mesh that was measured was there by then, whenever it was stretched."""
    stretched = frame.at or (frame.tension_at if frame.tension else None) or now
    made = [line(actor, "stretch", stretched, now, frame.stretch, frame.typed, screen=screen)]
    if frame.tension:
        made.append(line(actor, "tension", frame.tension_at or now, now, frame.tension, screen=screen))
    seen: dict[str, Any] = {"standing_seen": str(frame.stage)}
    if frame.images:
        seen["separations_seen"] = list(frame.images)
    # newly stretched frames are bare; these are as somebody saw them, or not looked at yet
    made.append(line(actor, "found", now, now, seen, screen=screen))
    place = frame.place or (places.find(db, frame.place_name) if frame.place_name else None)
    if place is not None:
        made.append(line(actor, "rack", now, now, {"place": place.id}, screen=screen))
    if frame.note:
        made.append(line(actor, "note", now, now, {"note": frame.note}, screen=screen))
    return made
