"""The kinds of work, frames, mesh, emulsion, lamps, places and inks that there are: one list of each for limits, pages,
commands, files and checks."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from functools import lru_cache

from tickets.i18n import N_, in_every_language
from tickets.i18n import gettext as _

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

INKS: Mapping[str, str] = {
    "plastisol": N_("plastisol"),
    "low-cure plastisol": N_("low-cure plastisol"),
    "water-base": N_("water-base"),
    "discharge": N_("discharge"),
    "silicone": N_("silicone"),
    "other": N_("other"),
}
"""The inks of a job file."""
WATER_INKS = ("water-base", "discharge")
"""Those that a stencil must withstand water for."""
MIXED_INKS = frozenset({"discharge", "silicone"})
"""Those that are mixed with what starts a clock (common practice): without their bucket nobody sees the time."""
CELLULOSE: Mapping[str, str] = {
    "cotton": N_("cotton"), "linen": N_("linen"), "flax": N_("flax"), "hemp": N_("hemp"), "ramie": N_("ramie"),
    "viscose": N_("viscose"), "rayon": N_("rayon"), "modal": N_("modal"), "lyocell": N_("lyocell"),
    "bamboo": N_("bamboo"),
}  # fmt: skip
OTHER_FIBRES: Mapping[str, str] = {
    "polyester": N_("polyester"), "nylon": N_("nylon"), "polyamide": N_("polyamide"), "acrylic": N_("acrylic"),
    "elastane": N_("elastane"), "spandex": N_("spandex"), "polypropylene": N_("polypropylene"), "wool": N_("wool"),
    "silk": N_("silk"),
}  # fmt: skip
"""Fibres by whose names the rules know them; what says none of them is not known."""
FIBRES: Mapping[str, str] = {**CELLULOSE, **OTHER_FIBRES}
OPEN_FIBRE = N_("not known yet")
"""The fibre of a garment of which nobody said it: no rule knows it, and those that ask for it say so."""
UNDYED: Mapping[str, str] = {
    "white": N_("white"), "natural": N_("natural"), "ecru": N_("ecru"), "undyed": N_("undyed")
}  # fmt: skip
"""Colours of garments that hold no dye to move."""
_SHORT = {"poly": "polyester", "polyest": "polyester", "pes": "polyester", "cott": "cotton", "ctn": "cotton"}
"""What people write for a fibre, and its name."""


def plain(word: str) -> str:
    """A word without case and accents, as it is compared."""
    parts = unicodedata.normalize("NFKD", word).casefold()
    return "".join(one for one in parts if not unicodedata.combining(one))


@lru_cache(maxsize=1)
def _fibre_words() -> Mapping[str, str]:
    """The fibres by their names in every language."""
    said = {plain(word): name for name, text in FIBRES.items() for word in in_every_language(text)}
    return {**_SHORT, **said}


def fibre_named(name: str) -> str:
    """A fibre by the names that the rules know, where it was said short or in another language: `poly` is polyester,
    `algodón peinado` is `cotton peinado`. The name as it is where none of its words is known."""
    known = _fibre_words()
    if plain(name.strip().rstrip(".")) in FIBRES:
        return name.strip()
    return " ".join(known.get(plain(word.rstrip(".")), word) for word in name.split())


def fibre_said(name: str) -> str:
    """A fibre in the reader's words."""
    if name == OPEN_FIBRE:
        return _(name)
    return re.sub(r"[^\W\d_]+", lambda word: _(FIBRES.get(plain(word[0]), word[0])), name)


def undyed(colour: str) -> bool:
    """Whether a garment of that colour holds no dye to move."""
    return any(plain(colour.strip()) == plain(word) for text in UNDYED.values() for word in in_every_language(text))


def work_of(screens: int, halftone: bool) -> str:
    """The kind of work of a print with so many screens."""
    return HALFTONE if halftone else ONE_COLOUR if screens == 1 else COLOURS


def several(work: str | None) -> bool:
    """True where one print must fit the other: for everything but one colour."""
    return bool(work) and work != ONE_COLOUR
