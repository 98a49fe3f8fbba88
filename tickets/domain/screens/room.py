"""A reading of the drying room, as somebody took it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Room:
    """How warm (degC) and damp (percent) the room was by the last reading of each, None where it was not read; when
    that was (as `entry.stamp` writes it), and by whom. `apart`: of the one that an earlier reading has: its name, when,
    who."""

    room_c: float | None
    room_rh_pct: float | None
    at: str
    who: str
    apart: tuple[str, str, str] | None = None

    def read(self, name: str) -> tuple[str, str]:
        """When, and by whom, `room_c` or `room_rh_pct` was read."""
        return self.apart[1:] if self.apart is not None and self.apart[0] == name else (self.at, self.who)
