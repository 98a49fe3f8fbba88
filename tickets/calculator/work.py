"""The kinds of work and of frames that limits are set for: one list of each for pages, commands, files and checks."""

from __future__ import annotations

from collections.abc import Mapping

from tickets.i18n import N_

ONE_COLOUR, COLOURS, HALFTONE = "one-colour", "colours", "halftone"

KINDS: Mapping[str, str] = {
    ONE_COLOUR: N_("one colour"),
    COLOURS: N_("several colours"),
    HALFTONE: N_("halftones"),
}
"""Each kind with its words, the easiest on a screen first."""

FRAMES: Mapping[str, str] = {"aluminium": N_("aluminium"), "wood": N_("wood"), "roller": N_("roller")}
"""Each kind of frame with its words."""

USUAL = COLOURS
"""What is meant where nobody says."""


def of(screens: int, halftone: bool) -> str:
    """The kind of work of a print with so many screens."""
    return HALFTONE if halftone else ONE_COLOUR if screens == 1 else COLOURS


def several(work: str | None) -> bool:
    """True where one print must fit the other: for everything but one colour."""
    return bool(work) and work != ONE_COLOUR
