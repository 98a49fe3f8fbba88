"""Frames to look after: too slack, near the end of their mesh, not used for long; and what to order by mesh."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.domain.desk.pool import MeshPool
from tickets.domain.screens import works
from tickets.i18n import N_
from tickets.queries import desk
from tickets.queries.due import due_list
from tickets.store import places, screens
from tickets.store.screens import InventoryRow

WHY = ("slack", "worn", "idle")
"""What frames are looked after for, each as `due_list` names it."""
MOST = 400
"""Frames of each, at most: a list to print; of more the first are shown."""
DO = {
    "retension": N_("retension it"),
    "stretch": N_("new mesh"),
    "worn": N_("plan new mesh: such meshes seldom last much longer here"),
    "idle": N_("use it next, or retire it"),
}
"""What to do with a frame, in words."""


@dataclass(frozen=True, slots=True)
class Tend:
    """A frame to look after: `why` is one of WHY, `do` one of DO; `place`: its name (empty: not noted)."""

    why: str
    row: InventoryRow
    place: str
    do: str


@dataclass(frozen=True, slots=True)
class TendList:
    """The frames to look after for one reason, by place and mark; by mesh and by place how many; `more`: there are
    more than are shown."""

    why: str
    frames: tuple[Tend, ...]
    more: bool

    @property
    def by_mesh(self) -> list[tuple[str, int]]:
        """How many by mesh as labelled, the most first."""
        return Counter(one.row.mesh for one in self.frames).most_common()

    @property
    def by_place(self) -> list[tuple[str, int]]:
        """How many by place, the most first."""
        return Counter(one.place for one in self.frames).most_common()

    @property
    def by_do(self) -> list[tuple[str, int]]:
        """How many by what is to be done with them, the most first."""
        return Counter(one.do for one in self.frames).most_common()


@dataclass(frozen=True, slots=True)
class ToOrder:
    """A mesh that runs short: how many frames it is short by, how many of these are there but too slack (tight again,
    they serve), and how many a stock-take did not find (found again, they serve)."""

    mesh: str
    short: int
    slack: int
    missing: int

    @property
    def order(self) -> int:
        """How many to order if every slack one is made tight and none of the missing turns up."""
        return max(0, self.short - self.slack)


def frames(db: Database, now: datetime, why: str, most: int = MOST) -> TendList:
    """The frames to look after for one reason (of WHY), those that are there."""
    names = places.names(db)
    rows = screens.inventory(db, due_list(db, why, now, there=why == "worn"), limit=most + 1)
    found = [Tend(why, row, names.get(row.place or 0, ""), _do(why, row)) for row in rows[:most]]
    found.sort(key=lambda one: (not one.place, one.place.casefold(), one.row.mark.casefold(), one.row.id))
    return TendList(why, tuple(found), len(rows) > most)


def _do(why: str, row: InventoryRow) -> str:
    return works.made_tight(row.frame) if why == "slack" else why


def to_order(meshes: Sequence[MeshPool]) -> tuple[ToOrder, ...]:
    """The meshes that run short, most first, by the frames that are enough for the share of the time that the shop's
    limit says."""
    short = [ToOrder(one.mesh, one.short_by, one.frames.slack, one.frames.missing) for one in meshes if one.short_by]
    return tuple(sorted(short, key=lambda one: (-one.order, -one.short, one.mesh)))


def as_data(db: Database, now: datetime, days: int) -> dict[str, Any]:
    """All of it as plain data."""
    lists = {why: frames(db, now, why) for why in WHY}
    return {
        **{
            why: [
                {
                    "screen": one.row.code,
                    "mark": one.row.mark,
                    "mesh": one.row.mesh,
                    "place": one.place,
                    "lowest_n_per_cm": one.row.minimum_n_per_cm,
                    "uses": one.row.uses,
                    "since": one.row.since,
                    "do": one.do,
                }
                for one in found.frames
            ]
            for why, found in lists.items()
        },
        "more": [why for why, found in lists.items() if found.more],
        "order": [
            {"mesh": one.mesh, "short": one.short, "slack": one.slack, "missing": one.missing, "order": one.order}
            for one in to_order(desk.pool_of(db, now, days).meshes)
        ],
        "days": days,
    }
