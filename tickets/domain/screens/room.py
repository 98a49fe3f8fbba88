"""A reading of the drying room, as somebody took it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Room:
    """How warm (degC) and damp (percent) the room was, each None where it was not read; when (as `entry.stamp` writes
    it), and by whom."""

    room_c: float | None
    room_rh_pct: float | None
    at: str
    who: str
