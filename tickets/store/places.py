"""Places (racks, carts, cabinets, presses) and exposure units.

They go out of use (`retired_at`) and are never deleted. A unit keeps its name, by which the log says it. Whoever
changes one notes it with `store.changes`.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from operator import itemgetter
from typing import Any

from sqlite_utils import Database

from tickets.domain.code import shown
from tickets.domain.jobs.heads import CLOCKWISE, Press
from tickets.domain.screens.room import Room
from tickets.store import finding
from tickets.store.ordered import PageStart
from tickets.store.people import name_key
from tickets.store.reads import Question, ahead, known, once, together


@dataclass(frozen=True, slots=True)
class Place:
    """Where screens are; `outside`: not in the shop (a screen racked there reads `away`); `heads` of a press;
    `retired_at`: out of use since then, kept for the log; `turns`: how a press turns, one of `heads.TURNS`."""

    id: int
    code: str
    name: str
    kind: str
    outside: bool
    heads: int | None
    retired_at: str | None = None
    turns: str = CLOCKWISE

    def to_dict(self) -> dict[str, Any]:
        """The place as plain data, named by its code."""
        return {
            "code": self.code,
            "shown": shown(self.code),
            "name": self.name,
            "kind": self.kind,
            "outside": self.outside,
            "heads": self.heads,
            "turns": self.turns if self.kind == "press" else None,
        }

    @property
    def press(self) -> Press:
        """A press as the rules of heads take it."""
        return Press(self.heads, self.turns)


_COLUMNS = "id, code, name, kind, outside, heads, retired_at, turns"


def _place(row: tuple[int, str, str, str, int, int | None, str | None, str]) -> Place:
    return Place(row[0], row[1], row[2], row[3], bool(row[4]), row[5], row[6], row[7])


def columns(table: str) -> str:
    """The columns of a place, for a question about something else that a place goes with."""
    return ", ".join(f"{table}.{name}" for name in _COLUMNS.split(", "))


def came_along(db: Database, row: Any) -> None:
    """A place that another question brought along, as `columns`."""
    known(db, get, {row[0]: _place(row)})


def add(
    db: Database,
    number: int,
    code: str,
    name: str,
    kind: str,
    outside: bool,
    heads: int | None,
    at: str,
    turns: str = CLOCKWISE,
) -> None:
    """A new place with the code issued for it."""
    columns = "id, code, name, key, kind, outside, heads, made_at, turns"
    db.execute(
        f"INSERT INTO places ({columns}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [number, code, " ".join(name.split()), name_key(name), kind, int(outside), heads, at, turns],
    )
    finding.settle(db, place=[number])


@once
def get(db: Database, number: int) -> Place | None:
    """A place by number."""
    row = db.execute(f"SELECT {_COLUMNS} FROM places WHERE id = ?", [number]).fetchone()
    return _place(row) if row else None


def read_ahead(db: Database, numbers: Iterable[int]) -> None:
    """Many places, for a page that asks for each."""

    def of(new: list[int]) -> dict[int, Place | None]:
        sql = f"SELECT {_COLUMNS} FROM places WHERE id IN (SELECT value FROM json_each(?))"
        return {row[0]: _place(row) for row in db.execute(sql, [json.dumps(new)]).fetchall()}

    ahead(db, get, numbers, of)


@once
def find(db: Database, name: str) -> Place | None:
    """A place by name."""
    row = db.execute(f"SELECT {_COLUMNS} FROM places WHERE key = ?", [name_key(name)]).fetchone()
    return _place(row) if row else None


def change(db: Database, place: Place) -> None:
    """A place's name, its heads, how it turns, and whether it is out of use."""
    db.execute(
        "UPDATE places SET name = ?, key = ?, heads = ?, retired_at = ?, turns = ? WHERE id = ?",
        [" ".join(place.name.split()), name_key(place.name), place.heads, place.retired_at, place.turns, place.id],
    )
    finding.settle(db, place=[place.id])


def every(db: Database, kind: str = "", *, retired: bool = False) -> list[Place]:
    """All places in use, or those of one kind; `retired`: those out of use instead."""
    return [one for one in _all(db) if kind in ("", one.kind) and (one.retired_at is not None) is retired]


@once
def _all(db: Database) -> list[Place]:
    rows = db.execute(f"SELECT {_COLUMNS} FROM places ORDER BY kind, key").fetchall()
    found = [_place(row) for row in rows]
    known(db, get, {one.id: one for one in found})
    known(db, outside, {(): frozenset(one.id for one in found if one.outside)})
    return found


BY = {"kind": "kind, key", "name": "key"}
"""What places can be listed by; they are few: racks, carts and presses of one shop."""


def listed(
    db: Database, limit: int, order: str = "kind", start: PageStart | None = None, name: str = "", kind: str = ""
) -> list[Place]:
    """A page of the places in use in one of the orders BY (`start` names the row by its number alone); `name`: only
    those that have this in their name, `kind`: of a kind."""
    columns, start = BY[order], start or PageStart()
    where, values = ["retired_at IS NULL", "instr(key, ?)"], [name_key(name)]
    if kind:
        where.append("kind = ?")
        values.append(kind)
    if start.key:
        where.append(f"({columns}) {'>' if start.up else '<'} (SELECT {columns} FROM places WHERE id = ?)")
        values.append(str(start.key[1]))
    way = ", ".join(f"{column} {'ASC' if start.up else 'DESC'}" for column in columns.split(", "))
    rows = db.execute(
        f"SELECT {_COLUMNS} FROM places WHERE {' AND '.join(where)} ORDER BY {way} LIMIT ?", [*values, limit]
    ).fetchall()
    found = [_place(row) for row in rows]
    return found[::-1] if start.back else found


@dataclass(frozen=True, slots=True)
class ToCount:
    """A place for a stock-take: when it was counted last and by whom (both empty: never)."""

    place: Place
    counted_at: str
    person: str


def to_count(db: Database, limit: int, after: tuple[str, int] = ("", 0), name: str = "") -> list[ToCount]:
    """The places where screens are put, those not counted longest first, from the one after `after` (counted_at,
    number) on; `name`: only those that have this in their name."""
    columns = ", ".join(f"p.{column}" for column in _COLUMNS.split(", "))
    rows = db.execute(
        f"SELECT {columns}, coalesce(c.at, ''), coalesce(who.name, '') FROM places p LEFT JOIN changes c ON c.id = "
        "(SELECT id FROM changes WHERE thing = 'place' AND what = 'counted' AND number = p.id "
        "ORDER BY at DESC LIMIT 1) LEFT JOIN people who ON who.id = c.person "
        "WHERE p.kind <> 'press' AND p.retired_at IS NULL AND instr(p.key, ?) AND (coalesce(c.at, ''), p.id) > (?, ?) "
        "ORDER BY coalesce(c.at, ''), p.id LIMIT ?",
        [name_key(name), *after, limit],
    ).fetchall()
    return [ToCount(_place(row[:8]), row[8], row[9]) for row in rows]


def names(db: Database) -> dict[int, str]:
    """Names by number, of those out of use too."""
    return {one.id: one.name for one in _all(db)}


def asked(db: Database, which: str, values: Sequence[object] = ()) -> list[Question]:
    """The questions for the places outside of the shop, and for some place (`which`: its number), to be asked with
    others."""
    one = Question(f"SELECT {_COLUMNS} FROM places WHERE id = ({which})", values, 8, lambda rows: _take(db, rows))
    return [outside_asked(db), one]


def _take(db: Database, rows: Iterable[Any]) -> None:
    for row in rows:
        came_along(db, row)


def outside_asked(db: Database) -> Question:
    """The question for the places outside the shop, to be asked with others."""
    sql = "SELECT id FROM places WHERE outside = 1"
    return Question(sql, (), 1, lambda rows: known(db, outside, {(): frozenset(row[0] for row in rows)}))


@once
def outside(db: Database) -> frozenset[int]:
    """The places outside the shop."""
    return frozenset(row[0] for row in db.execute("SELECT id FROM places WHERE outside = 1").fetchall())


@dataclass(frozen=True, slots=True)
class ExposureUnit:
    """An exposure unit and its lamp: point (one lamp at a distance), fluorescent, led; `retired_at`: out of use."""

    id: int
    name: str
    lamp: str
    retired_at: str | None = None

    def to_dict(self) -> dict[str, Any]:
        """The unit as plain data."""
        return {"name": self.name, "lamp": self.lamp}


def add_unit(db: Database, name: str, lamp: str, at: str) -> int:
    """A new exposure unit; its number."""
    cursor = db.execute(
        "INSERT INTO exposure_units (name, key, lamp, made_at) VALUES (?, ?, ?, ?)",
        [" ".join(name.split()), name_key(name), lamp, at],
    )
    return int(cursor.lastrowid or 0)


def change_unit(db: Database, number: int, lamp: str, retired_at: str | None) -> None:
    """An exposure unit's kind of lamp, and whether it is out of use. Its name stays: the log says it."""
    db.execute("UPDATE exposure_units SET lamp = ?, retired_at = ? WHERE id = ?", [lamp, retired_at, number])


def units(db: Database, *, retired: bool = False) -> list[ExposureUnit]:
    """All exposure units in use; `retired`: those out of use instead."""
    return [unit for unit, _lamps in _units(db).values() if (unit.retired_at is not None) is retired]


def find_unit(db: Database, name: str) -> ExposureUnit | None:
    """An exposure unit by name."""
    found = _units(db).get(name_key(name))
    return found[0] if found else None


_REGISTERED = (
    "SELECT u.key, u.id, u.name, u.lamp, u.retired_at, c.id, c.at, c.person, c.saved_at FROM exposure_units u "
    "LEFT JOIN lamp_changes c ON c.exposure_unit = u.id AND c.withdraws IS NULL AND c.id NOT IN "
    "(SELECT withdraws FROM lamp_changes WHERE withdraws IS NOT NULL) ORDER BY u.key, c.at, c.id"
)
Units = dict[str, tuple["ExposureUnit", list["LampChange"]]]


@once
def _units(db: Database) -> Units:
    """Every exposure unit by the key of its name, with the lamps that it got, oldest first, without the notes that were
    taken back. A shop has a few, and each page that asks for one asks for its lamps."""
    return _of_rows(db.execute(_REGISTERED).fetchall())


def _of_rows(rows: Iterable[Any]) -> Units:
    found: Units = {}
    for key, *row in rows:
        _unit, lamps = found.setdefault(key, (ExposureUnit(*row[:4]), []))
        if row[4] is not None:
            lamps.append(LampChange(*row[4:]))
    return found


# Lamps ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LampChange:
    """A new lamp in an exposure unit: when it was put in, the number of the person who noted it, and when; `withdraws`:
    the note that this one takes back."""

    id: int
    at: str
    person: int
    saved_at: str = ""
    withdraws: int | None = None


def add_lamp_change(db: Database, unit: int, at: str, saved_at: str, person: int, withdraws: int | None = None) -> int:
    """Notes a new lamp, or takes such a note back (`withdraws`: its number)."""
    cursor = db.execute(
        "INSERT INTO lamp_changes (exposure_unit, at, saved_at, person, withdraws) VALUES (?, ?, ?, ?, ?)",
        [unit, at, saved_at, person, withdraws],
    )
    return int(cursor.lastrowid or 0)


def units_named(db: Database) -> list[str]:
    """The names of all exposure units in use: those registered, then those that only the log names."""
    every, seen = _units_and_seen(db)
    others = {unit.name for unit, _lamps in every.values()}
    there = [unit.name for unit, _lamps in every.values() if unit.retired_at is None]
    return there + [one for one in seen if one not in others]


@once
def _units_and_seen(db: Database) -> tuple[Units, list[str]]:
    """The registered units, and the names that the log has, as one question."""
    seen = (
        "SELECT NULL, NULL, exposure_unit, '', NULL, NULL, NULL, NULL, NULL FROM burnt "
        "WHERE exposure_unit <> '' GROUP BY exposure_unit"
    )
    rows = db.execute(together([_REGISTERED, seen])).fetchall()
    registered = sorted(
        (row for row in rows if row[0] is not None), key=lambda row: (row[0], row[6] or "", row[5] or 0)
    )
    found = _of_rows(registered)
    known(db, _units, {(): found})
    return found, sorted(row[2] for row in rows if row[0] is None)


def lamp_changes(db: Database, unit: int) -> list[LampChange]:
    """The lamps that an exposure unit got, oldest first, without the notes that were taken back."""
    return next((list(lamps) for one, lamps in _units(db).values() if one.id == unit), [])


@once
def lamp_notes(db: Database, unit: int) -> list[LampChange]:
    """Every note about an exposure unit's lamps, those taken back and the taking back too; the newest first."""
    rows = db.execute(
        "SELECT id, at, person, saved_at, withdraws FROM lamp_changes WHERE exposure_unit = ? ORDER BY id DESC", [unit]
    ).fetchall()
    return [LampChange(*row) for row in rows]


_ROOM = (
    "SELECT e.vals, e.at, p.name, e.id FROM entries e JOIN people p ON p.id = e.person WHERE e.at >= ?1 AND e.at <= ?2 "
    "AND e.step = 'coat' AND json_extract(e.vals, '$.{name}') IS NOT NULL "
    "AND NOT EXISTS (SELECT 1 FROM entries c WHERE c.crosses = e.entry) ORDER BY e.at DESC, e.id DESC LIMIT 1"
)
_ROOMS = " UNION ALL ".join(
    f"SELECT '{name}', * FROM ({_ROOM.format(name=name)})" for name in ("room_c", "room_rh_pct")
)


@once
def room_reading(db: Database, since: str, until: str) -> Room | None:
    """The last readings of the drying room that coats noted since then, and by `until`, of warmth and damp each; None:
    nobody took one."""
    rows = sorted(db.execute(_ROOMS, [since, until]).fetchall(), key=itemgetter(2, 4), reverse=True)
    if not rows:
        return None
    read = {name: json.loads(values)[name] for name, values, *_more in rows}
    name, _values, at, who, entry = rows[-1]
    apart = (name, at, who) if entry != rows[0][4] else None
    return Room(read.get("room_c"), read.get("room_rh_pct"), rows[0][2], rows[0][3], apart)
