"""How far a print's colour is from the approved one.

CIEDE2000 (Sharma, Wu, Dalal, Color Res. Appl. 30:21-30, 2005) through coloraide. Figures by different formulas, lights
or observers must not be mixed, and a repeat is compared with the approved print, not with a colour book.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from tickets.calculator.units import CannotBe
from tickets.calculator.verdict import Level, Reason, phrases
from tickets.i18n import N_
from tickets.i18n import gettext as _


@dataclass(frozen=True, slots=True)
class Lab:
    """A reading in CIE L*a*b*, under conditions that are kept with it elsewhere."""

    lightness: float
    a: float
    b: float

    def __post_init__(self) -> None:
        if not 0 <= self.lightness <= 100:
            raise CannotBe(_("L* runs from 0 (black) to 100 (white)."))
        if not (abs(self.a) <= 200 and abs(self.b) <= 200):  # whatever is no number is not within them either
            raise CannotBe(_("a* and b* of a print lie between -200 and 200."))


def delta_e_2000(one: Lab, other: Lab) -> float:
    """The CIEDE2000 difference, without a unit; the order does not matter."""
    from coloraide import Color

    # lab-d65 is the space its formula works in, so the numbers reach it as they are.
    first = Color("lab-d65", [one.lightness, one.a, one.b])
    return float(first.delta_e(Color("lab-d65", [other.lightness, other.a, other.b]), method="2000"))


def mean(readings: Sequence[Lab]) -> Lab:
    """The mean of several readings of one colour, each of L*, a* and b* by itself."""
    many = len(readings)
    parts = ((one.lightness, one.a, one.b) for one in readings)
    return Lab(*(sum(some) / many for some in zip(*parts, strict=True)))


def spread(readings: Sequence[Lab]) -> float:
    """How far the furthest of several readings is from their mean, by CIEDE2000."""
    middle = mean(readings)
    return max(delta_e_2000(one, middle) for one in readings)


@dataclass(frozen=True, slots=True)
class Turn:
    """One way to turn a colour, and by how much of L*, a* or b*."""

    way: str
    by: float

    @property
    def said(self) -> str:
        """In the reader's language, with one decimal."""
        return f"{_(self.way)} {self.by:.1f}"


WAYS = {
    "lightness": (N_("lighter"), N_("darker")),
    "a": (N_("redder"), N_("greener")),
    "b": (N_("yellower"), N_("bluer")),
}
"""Where a colour goes as L*, a* and b* grow and shrink (CIE 15)."""


def turns(approved: Lab, printed: Lab) -> list[Turn]:
    """Where a print is to be turned to meet the approved one, the furthest first; under 0.05 is no way to go."""
    found = []
    for axis, (more, less) in WAYS.items():
        by = getattr(approved, axis) - getattr(printed, axis)
        if abs(by) >= 0.05:
            found.append(Turn(more if by > 0 else less, abs(by)))
    return sorted(found, key=lambda one: -one.by)


_HUES = (
    (10, N_("magenta")), (48, N_("red")), (82, N_("orange")), (112, N_("yellow")), (180, N_("green")),
    (230, N_("blue-green")), (308, N_("blue")), (338, N_("violet")), (360, N_("magenta")),
)  # fmt: skip
"""Up to which hue angle of L*a*b* a colour is called so (judgement)."""
GREY = 8.0
"""The chroma under which a colour is called grey (judgement)."""


NAMED = {
    "white": "#ffffff", "ivory": "#fffff0", "beige": "#f5f5dc", "silver": "#c0c0c0", "grey": "#808080",
    "gray": "#808080", "black": "#000000", "pink": "#ffc0cb", "salmon": "#fa8072", "coral": "#ff7f50",
    "red": "#ff0000", "crimson": "#dc143c", "maroon": "#800000", "brown": "#a52a2a", "tan": "#d2b48c",
    "orange": "#ffa500", "gold": "#ffd700", "yellow": "#ffff00", "khaki": "#f0e68c", "olive": "#808000",
    "lime": "#00ff00", "green": "#008000", "teal": "#008080", "cyan": "#00ffff", "turquoise": "#40e0d0",
    "blue": "#0000ff", "navy": "#000080", "indigo": "#4b0082", "violet": "#ee82ee", "purple": "#800080",
    "magenta": "#ff00ff",
}  # fmt: skip
"""About how a colour looks that somebody named (CSS Color Module Level 4, named colours)."""


def of_name(name: str) -> str:
    """About how an ink looks by what it is called, as `#rrggbb`, for a swatch beside that name; empty: the name says no
    colour. The last word that does counts: `cool grey`, `white underbase`."""
    known = (NAMED[word] for word in reversed(name.casefold().split()) if word in NAMED)
    return next(known, "")


def in_words(one: Lab) -> str:
    """A colour in a few words, for where it can't be shown."""
    light = _("dark") if one.lightness < 35 else _("middle") if one.lightness < 70 else _("light")
    if math.hypot(one.a, one.b) < GREY:
        name = _("black") if one.lightness < 20 else _("white") if one.lightness > 90 else _("grey")
        return name if name != _("grey") else f"{light} {name}"
    angle = math.degrees(math.atan2(one.b, one.a)) % 360
    return f"{light} {_(next(word for top, word in _HUES if angle <= top))}"


def on_screen(one: Lab, light: str) -> str:
    """About how a colour looks, as `#rrggbb`: a screen's gamut is smaller than a print's. `light`: D65, else D50."""
    from coloraide import Color

    space = "lab-d65" if light == "D65" else "lab"
    shown = Color(space, [one.lightness, one.a, one.b]).convert("srgb").fit(method="clip")
    return str(shown.to_string(hex=True))


def judge(difference: float | None, *, warn: float, fail: float, spec: tuple[int, ...] = ()) -> list[Reason]:
    """A difference against the limits of the job or the shop. No reading: unknown."""
    if difference is None:
        return [Reason("colour-not-measured", Level.UNKNOWN, {}, spec)]
    said = {"difference": round(difference, 2), "warn": warn, "fail": fail}
    if difference > fail:
        return [Reason("colour-far", Level.STOP, said, spec)]
    if difference > warn:
        return [Reason("colour-off", Level.CAUTION, said, spec)]
    return [Reason("colour-close", Level.OK, said, spec)]


def same_conditions(one: str, other: str) -> bool:
    """Whether two notes of light, observer and instrument say the same, however spelt; never for an empty one."""
    plain = ["".join(char for char in text.casefold() if char.isalnum()) for text in (one, other)]
    return bool(plain[0]) and plain[0] == plain[1]


def judge_conditions(approved: str, now: str) -> list[Reason]:
    """What keeps two readings from being compared: conditions that differ, or that nobody noted. Empty: nothing."""
    if same_conditions(approved, now):
        return []
    if not approved.strip() or not now.strip():
        return [Reason("colour-conditions-unknown", Level.UNKNOWN)]
    return [Reason("colour-conditions-differ", Level.UNKNOWN, {"approved": approved, "now": now})]


phrases(
    {
        "colour-close": (N_("The colour is {difference} from the approved print (limit {warn})."), ""),
        "colour-off": (
            N_("The colour is {difference} from the approved print, over the limit of {warn}."),
            N_("Hold both under the same light; check mesh, tension, strokes and underbase before the ink."),
        ),
        "colour-far": (
            N_("The colour is {difference} from the approved print, over the limit of {fail}."),
            N_("Do not go on without the approver: check mesh, tension, strokes and underbase, then the ink."),
        ),
        "colour-conditions-unknown": (
            N_("Nobody noted the light, observer and instrument of both readings, so they are not compared."),
            N_("Note them with each reading, such as D50, 2°, and the instrument."),
        ),
        "colour-conditions-differ": (
            N_("The approved print was read under {approved}, this one under {now}: they are not compared."),
            N_("Read both prints with the same light, observer and instrument."),
        ),
        "colour-no-limit": (
            N_("No limit is set for how far this colour may be off."),
            N_("Set one under “Limits”."),
        ),
        "colour-not-measured": (
            N_("The colour of this print was not measured."),
            N_("Compare the print with the approved one."),
        ),
    }
)
