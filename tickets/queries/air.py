"""The air that screens dry in: what the room read, and whether a screen is still wet."""

from __future__ import annotations

from datetime import datetime

from sqlite_utils import Database

from tickets.calculator.drying import Air
from tickets.domain.entry import read_stamp, stamp
from tickets.domain.screens import checks
from tickets.domain.screens import screen as rules
from tickets.domain.screens.room import Room
from tickets.domain.screens.screen import Life
from tickets.queries.shop_rules import shift_begun, the_spec
from tickets.store import places


def air_of(db: Database, life: Life, now: datetime) -> Air | None:
    """The air that what is wet of a screen dries in: the room as it was read last since the shift in which that was
    wetted; None where nothing is wet or nobody read it."""
    _step, at = rules.wet_since(life)
    longest = the_spec(db).find("hours-to-dry-longest")
    if not at or (longest and (now - read_stamp(at)).total_seconds() > 3600 * longest.value):
        return None
    read = room_of_the_shift(db, read_stamp(at), now)
    return Air(read.room_c, read.room_rh_pct) if read else None


def is_wet(db: Database, life: Life, now: datetime) -> bool:
    """True while something of a screen is not dry yet, as far as anybody knows."""
    return bool(checks.dry(life, the_spec(db), now, air_of(db, life, now)))


def room_of_the_shift(db: Database, at: datetime, until: datetime) -> Room | None:
    """The last reading of the room, taken by `until`, since the shift of `at` began, never one of a shift before."""
    return places.room_reading(db, shift_begun(db, at), stamp(until))
