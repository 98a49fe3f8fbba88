"""How long wet mesh and stencils take to dry in a room, and what is said while they do.

Water leaves a wet surface as fast as the air is short of saturation (Dalton, 1802). So a shop's plain time, true for
one room, is brought to another by how much each takes up. That agrees with the published pair: touch dry in 1 h at
21 degC and 50 %, dry right through in 15 to 20 min at 38 degC and 20 % (Screen Printing, May 2002).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tickets.calculator.units import magnitude, quantity
from tickets.calculator.verdict import Level, Reason, phrases
from tickets.i18n import N_

if TYPE_CHECKING:
    from pint import Quantity


@dataclass(frozen=True, slots=True)
class Air:
    """The air of a room: `c` in degC, `rh_pct` relative humidity in %; None: not read."""

    c: float | None = None
    rh_pct: float | None = None

    def __bool__(self) -> bool:
        return self.c is not None or self.rh_pct is not None

    def filled(self, other: Air) -> Air:
        """This room, with what was not read of it taken from `other`."""
        return Air(other.c if self.c is None else self.c, other.rh_pct if self.rh_pct is None else self.rh_pct)


def vapour_short(temperature: Quantity[float], humidity: Quantity[float]) -> float:
    """By how many hPa of water vapour the air is short of saturation.

    Saturation by the Magnus form, 6.112 exp(17.62 t / (243.12 + t)) hPa with t in degC (World Meteorological
    Organization, guide no. 8): within 0.5 % of steam tables between 0 and 50 degC.
    """
    celsius, share = magnitude(temperature, "degC"), magnitude(humidity, "%") / 100
    return 6.112 * math.exp(17.62 * celsius / (243.12 + celsius)) * (1 - min(max(share, 0.0), 1.0))


def drying_time(plain: Quantity[float], true_in: Air, air: Air, longest: Quantity[float]) -> Quantity[float]:
    """The time in `air` for what takes `plain` in `true_in`; at most `longest`, since no room of a shop stays
    damp for ever. What was not read of `air` is taken to be as in `true_in`."""
    minutes, most = magnitude(plain, "min"), magnitude(longest, "min")
    here = air.filled(true_in)
    if None in (here.c, here.rh_pct, true_in.c, true_in.rh_pct):
        return quantity(minutes, "min")
    takes_up = vapour_short(quantity(here.c or 0.0, "degC"), quantity(here.rh_pct or 0.0, "%"))
    there = vapour_short(quantity(true_in.c or 0.0, "degC"), quantity(true_in.rh_pct or 0.0, "%"))
    if takes_up * most <= minutes * there:
        return quantity(max(most, minutes), "min")
    return quantity(minutes * there / takes_up, "min")


COAT, WASHOUT, MESH = "coat", "washout", "degrease"
AFTER = {COAT: N_("a coat"), WASHOUT: N_("a washout"), MESH: N_("degreasing, reclaiming, haze removal")}
"""What dries, by the step that wetted it, with its words."""

_KEYS = {COAT: "still-drying", WASHOUT: "stencil-wet", MESH: "mesh-wet"}


def judge_dry(
    after: str,
    dried_min: float,
    *,
    ready_min: float,
    touch_min: float | None = None,
    air: Air | None = None,
    level: Level = Level.CAUTION,
    spec: tuple[int, ...] = (),
) -> list[Reason]:
    """What is said of something wet, `dried_min` after the step `after`; nothing once it is ready.

    `touch_min`: from when a coat no longer sticks, though it is not dry right through. `air`: the reading that the
    times were worked out from (None: the shop's plain times).
    """
    if dried_min >= ready_min - 1e-9:
        return []
    key = _KEYS[after]
    if touch_min is not None and dried_min >= touch_min - 1e-9:
        key = TOUCH_DRY
    numbers: dict[str, Any] = {"left_min": ready_min - dried_min, "limit_min": ready_min}
    found = [Reason(key, level, numbers, spec)]
    if air:
        read = {"room_c": air.c, "room_pct": air.rh_pct}
        said = "" if None not in read.values() else "-warmth" if air.rh_pct is None else "-damp"
        known = {name: value for name, value in read.items() if value is not None}
        found.append(Reason(f"drying-room{said}", Level.OK, known, spec))
    return found


TOUCH_DRY = "touch-dry"
WET = frozenset({*_KEYS.values(), TOUCH_DRY})
"""The keys that say of something that it is not dry yet."""

_DAMP_COAT = N_("A damp coat exposes as if underexposed: wait, or feel or measure it and say that it is dry.")
_WET_STENCIL = N_("Pinholes hide in a wet stencil: wait, or feel it and say that it is dry.")
_WET_MESH = N_("Emulsion runs on wet mesh and leaves pinholes: wait, or feel it and say that it is dry.")

phrases(
    {
        "still-drying": (N_("Still wet: dry in {left_min}, of {limit_min} in all."), _DAMP_COAT),
        "touch-dry": (
            N_("Dry to the touch, not right through: ready in {left_min}, of {limit_min} in all."),
            _DAMP_COAT,
        ),
        "stencil-wet": (N_("Washed out and still wet: dry in {left_min}, of {limit_min} in all."), _WET_STENCIL),
        "mesh-wet": (N_("The mesh is still wet: dry in {left_min}, of {limit_min} in all."), _WET_MESH),
        "drying-room": (N_("Worked out for the room as it was read: {room_c}, {room_pct} humidity."), ""),
        "drying-room-warmth": (N_("Worked out for the room as it was read: {room_c}."), ""),
        "drying-room-damp": (N_("Worked out for the room as it was read: {room_pct} humidity."), ""),
    }
)
