"""The kinds of work, frames, mesh, emulsion, lamps, places and inks that there are: one list of each for limits, pages,
commands, files and checks."""

from __future__ import annotations

from collections.abc import Mapping

from tickets.i18n import N_

ONE_COLOUR, COLOURS, HALFTONE = "one-colour", "colours", "halftone"
WORK: Mapping[str, str] = {
    ONE_COLOUR: N_("one colour"),
    COLOURS: N_("several colours"),
    HALFTONE: N_("halftones"),
}
"""Each kind of work with its words, the easiest on a screen first."""
USUAL = COLOURS
"""What is meant where nobody says."""

ALUMINIUM, WOOD, ROLLER = "aluminium", "wood", "roller"
FRAMES: Mapping[str, str] = {ALUMINIUM: N_("aluminium"), WOOD: N_("wood"), ROLLER: N_("roller")}
MESH_COLOURS: Mapping[str, str] = {"white": N_("white"), "dyed": N_("dyed")}
EMULSIONS: Mapping[str, str] = {
    "diazo": N_("diazo"),
    "dual-cure": N_("dual-cure"),
    "photopolymer": N_("photopolymer"),
}
POINT = "point"
LAMPS: Mapping[str, str] = {
    POINT: N_("one lamp at a distance"),
    "fluorescent": N_("fluorescent tubes"),
    "led": N_("LED"),
}

PLACES: Mapping[str, str] = {
    "rack": N_("rack"),
    "cart": N_("cart"),
    "cabinet": N_("cabinet"),
    "press": N_("press"),
}

INKS = ("plastisol", "low-cure plastisol", "water-base", "discharge", "silicone", "other")
"""The inks of a job file."""
WATER_INKS = ("water-base", "discharge")
"""Those that a stencil must withstand water for."""
MIXED_INKS = frozenset({"discharge", "silicone"})
"""Those that are mixed with what starts a clock (common practice): without their bucket nobody sees the time."""


def work_of(screens: int, halftone: bool) -> str:
    """The kind of work of a print with so many screens."""
    return HALFTONE if halftone else ONE_COLOUR if screens == 1 else COLOURS


def several(work: str | None) -> bool:
    """True where one print must fit the other: for everything but one colour."""
    return bool(work) and work != ONE_COLOUR
