"""Mesh geometry, halftones on it, and whether two meshes are the same.

Formulas (as published by a geometry leaflet, wire-cloth makers and mesh makers): pitch = 1 / count, opening = pitch -
thread, open area = (opening / pitch)^2, theoretical ink volume = open area x fabric thickness. All are for the nominal
thread before weaving: woven thread is flattened, so real openings and volumes are smaller, up to 17 % for fine counts
with thick thread. A value of the maker's sheet always wins over a computed one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

from tickets.calculator.units import CannotBe, magnitude, quantity, show
from tickets.calculator.verdict import Level, Reason, phrases
from tickets.i18n import N_
from tickets.i18n import gettext as _

if TYPE_CHECKING:
    from pint import Quantity

CM_PER_INCH = 2.54
# Thickness over thread of the published pairs lies between these (a mesh maker's two rows; Screen Printing, June 2009).
THICKNESS_OVER_THREAD = (1.44, 1.58)


@dataclass(frozen=True, slots=True)
class Geometry:
    """One mesh, computed. The ink volume is one value where the thickness is known, else a span."""

    count_per_cm: Quantity[float]
    count_per_inch: Quantity[float]
    pitch: Quantity[float]
    opening: Quantity[float]
    open_area: Quantity[float]
    ink_volume: Quantity[float] | None
    ink_volume_low: Quantity[float] | None
    ink_volume_high: Quantity[float] | None


def opening_um(count_per_cm: float, thread_um: float) -> float:
    """The nominal opening, in um. Raises CannotBe where the threads leave none."""
    pitch = 10000 / count_per_cm if count_per_cm > 0 else 0.0
    if pitch <= 0 or thread_um <= 0:
        raise CannotBe(_("Count and thread must be more than nothing."))
    if thread_um >= pitch:
        raise CannotBe(
            _("A thread of {thread} leaves no opening at a pitch of {pitch}: check the count, its unit and the thread.")
            .format(thread=show(quantity(thread_um, "um")), pitch=show(quantity(pitch, "um")))
        )  # fmt: skip
    return pitch - thread_um


def geometry(count: Quantity[float], thread: Quantity[float], thickness: Quantity[float] | None = None) -> Geometry:
    """The mesh of `count` as labelled (225/in is not exactly 90/cm) with `thread` before weaving.

    Raises CannotBe when no such mesh can be woven.
    """
    per_cm = magnitude(count, "/cm")
    thread_um = magnitude(thread, "um")
    opening = opening_um(per_cm, thread_um)
    pitch = opening + thread_um
    area = (opening / pitch) ** 2
    exact = low = high = None
    if thickness is None:
        low, high = (quantity(area * ratio * thread_um, "cm3/m2") for ratio in THICKNESS_OVER_THREAD)
    else:
        thickness_um = magnitude(thickness, "um")
        if not thread_um < thickness_um < 2.5 * thread_um:
            raise CannotBe(
                _(
                    "A fabric of {thread} thread cannot be {thickness} thick: between one and two threads is usual."
                ).format(thread=show(thread), thickness=show(thickness))
            )
        exact = quantity(area * thickness_um, "cm3/m2")
    return Geometry(
        count_per_cm=quantity(per_cm, "/cm"),
        count_per_inch=quantity(magnitude(count, "/in"), "/in"),
        pitch=quantity(pitch, "um"),
        opening=quantity(opening, "um"),
        open_area=quantity(100 * area, "%"),
        ink_volume=exact,
        ink_volume_low=low,
        ink_volume_high=high,
    )


# ------------------------------------------------------------------------------------------------------- same mesh


def judge_same(
    asked_per_in: float,
    asked_thread_um: float | None,
    count_per_in: float,
    thread_um: float | None,
    *,
    count_tolerance_pct: float,
    thread_tolerance_um: float,
    spec: tuple[int, ...] = (),
) -> list[Reason]:
    """Whether a screen of `count_per_in` and `thread_um` is the mesh that was asked for."""
    reasons: list[Reason] = []
    # What only the arithmetic rounds otherwise is one count: else both are said with the decimals that tell them apart.
    same = math.isclose(count_per_in, asked_per_in, rel_tol=1e-9)
    said = {"asked_per_in": asked_per_in, "count_per_in": asked_per_in if same else count_per_in}
    if not count_per_in > 0 or not asked_per_in > 0:
        return [Reason("mesh-unknown", Level.UNKNOWN, {"asked_per_in": asked_per_in}, spec)]
    # A hair of room, so that a difference of exactly the tolerance passes whatever the arithmetic rounds to.
    if abs(count_per_in - asked_per_in) > asked_per_in * count_tolerance_pct / 100 + 1e-6:
        reasons.append(Reason("mesh-count-differs", Level.STOP, {**said, "tolerance_pct": count_tolerance_pct}, spec))
    if asked_thread_um is not None:
        if thread_um is None:
            reasons.append(Reason("mesh-thread-unknown", Level.CAUTION, {"asked_thread_um": asked_thread_um}, spec))
        elif abs(thread_um - asked_thread_um) > thread_tolerance_um + 1e-6:
            reasons.append(
                Reason(
                    "mesh-thread-differs",
                    Level.STOP,
                    {"asked_thread_um": asked_thread_um, "thread_um": thread_um, "tolerance_um": thread_tolerance_um},
                    spec,
                )
            )
    return reasons or [Reason("mesh-same", Level.OK, said, spec)]


# ------------------------------------------------------------------------------------------------------ maker's sheet


SHEET_LIMITS = (
    "sheet-opening-off",
    "sheet-area-off",
    "sheet-thickness-least",
    "sheet-thickness-most",
    "sheet-volume-off",
)
"""The limits that a row of a mesh maker's sheet is judged by."""


class Limited(Protocol):
    """A limit that was found: its number, and the row that it comes from."""

    @property
    def value(self) -> float: ...

    @property
    def row(self) -> int: ...


def judge_sheet(
    count_per_cm: float,
    thread_um: float,
    *,
    limits: Mapping[str, Limited],
    opening: float | None = None,
    open_area_pct: float | None = None,
    thickness_um: float | None = None,
    volume_cm3_m2: float | None = None,
) -> list[Reason]:
    """Whether a typed row of a mesh maker's sheet looks right, by those of SHEET_LIMITS that there are."""
    reasons: list[Reason] = []
    nominal = opening_um(count_per_cm, thread_um)
    nominal_area = 100 * (nominal / (nominal + thread_um)) ** 2

    def odd(key: str, numbers: dict[str, Any], *by: Limited) -> None:
        reasons.append(Reason(key, Level.CAUTION, numbers, tuple(one.row for one in by)))

    off, area_off = limits.get("sheet-opening-off"), limits.get("sheet-area-off")
    if off and opening is not None and abs(opening - nominal) > off.value / 100 * nominal:
        odd("sheet-opening-odd", {"typed_um": opening, "nominal_um": nominal}, off)
    if area_off and open_area_pct is not None and abs(open_area_pct - nominal_area) > area_off.value:
        odd("sheet-area-odd", {"typed_pct": open_area_pct, "nominal_pct": nominal_area}, area_off)
    least, most = limits.get("sheet-thickness-least"), limits.get("sheet-thickness-most")
    if least and most and thickness_um is not None:
        if not least.value * thread_um <= thickness_um <= most.value * thread_um:
            numbers = {"typed_um": thickness_um, "thread_um": thread_um, "least": least.value, "most": most.value}
            odd("sheet-thickness-odd", numbers, least, most)
    volume_off = limits.get("sheet-volume-off")
    if volume_off and volume_cm3_m2 is not None and open_area_pct is not None and thickness_um is not None:
        expected = open_area_pct * thickness_um / 100
        # sheets print whole numbers: half of each is lost in rounding, whatever the limit is
        rounding = 0.5 * (1 + thickness_um / 100 + open_area_pct / 100)
        if abs(volume_cm3_m2 - expected) > max(rounding, volume_off.value / 100 * expected):
            odd("sheet-volume-odd", {"typed_cm3_m2": volume_cm3_m2, "expected_cm3_m2": expected}, volume_off)
    return reasons


# ---------------------------------------------------------------------------------------------------------- halftone


@dataclass(frozen=True, slots=True)
class HalftoneLimits:
    """`ratio` threads to a line are wanted, `ratio_least` needed; angles within `margin_deg` of each multiple of
    `angle_deg` to the threads are bad."""

    ratio: float
    ratio_least: float
    angle_deg: float
    margin_deg: float
    spec: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class HalftoneOnMesh:
    """`ratio` threads to a line; the smallest dot that stands on the mesh, and its tone at this ruling."""

    ratio: float
    smallest_dot: Quantity[float]
    smallest_tone: Quantity[float]


def halftone(ruling: Quantity[float], count: Quantity[float], thread: Quantity[float]) -> HalftoneOnMesh:
    """A halftone of `ruling` on a mesh.

    Ratio: Screen Printing, April 2003. Smallest dot: opening + two threads, so that it is held on both sides (common
    practice). Tone of a round dot: pi/4 (dot / pitch)^2, plane geometry, up to where the dots touch.
    """
    per_in = magnitude(ruling, "lines/in")
    if per_in <= 0:
        raise CannotBe(_("The ruling must be more than nothing."))
    thread_um = magnitude(thread, "um")
    dot = opening_um(magnitude(count, "/cm"), thread_um) + 2 * thread_um
    pitch = 10000 * CM_PER_INCH / per_in
    tone = min(1.0, math.pi / 4 * (dot / pitch) ** 2)
    return HalftoneOnMesh(magnitude(count, "/in") / per_in, quantity(dot, "um"), quantity(100 * tone, "%"))


def judge_halftone(
    ruling_per_in: float, count_per_in: float, angle_deg: float | None, limits: HalftoneLimits
) -> list[Reason]:
    """Whether the ruling suits the mesh, and the angle keeps clear of moire. No angle: unknown."""
    ratio = count_per_in / ruling_per_in
    said: dict[str, float] = {"ratio": ratio, "ruling_per_in": ruling_per_in, "count_per_in": count_per_in}
    reasons: list[Reason] = []
    if ratio < limits.ratio_least - 1e-9:
        reasons.append(
            Reason("halftone-too-fine", Level.STOP, {**said, "least_ratio": limits.ratio_least}, limits.spec)
        )
    elif ratio < limits.ratio - 1e-9:
        reasons.append(Reason("halftone-fine", Level.CAUTION, {**said, "wanted_ratio": limits.ratio}, limits.spec))
    if angle_deg is None:
        reasons.append(Reason("halftone-angle-unknown", Level.UNKNOWN, {}, limits.spec))
    else:
        past = angle_deg % limits.angle_deg
        off = min(past, limits.angle_deg - past)
        if off < limits.margin_deg - 1e-9:
            numbers = {"angle_deg": angle_deg, "bad_deg": angle_deg - past + (0 if past == off else limits.angle_deg)}
            reasons.append(Reason("moire-angle", Level.CAUTION, numbers, limits.spec))
    return reasons or [Reason("halftone-suits", Level.OK, said, limits.spec)]


# ------------------------------------------------------------------------------------------------------------ flakes


def judge_flake(opening: float | None, flake_um: float, *, factor: float, spec: tuple[int, ...] = ()) -> list[Reason]:
    """Whether flakes of `flake_um` pass an opening (um) `factor` times as wide (common practice)."""
    wanted = factor * flake_um
    if opening is None:
        return [Reason("flake-opening-unknown", Level.UNKNOWN, {"flake_um": flake_um, "wanted_um": wanted}, spec)]
    said = {"flake_um": flake_um, "opening_um": opening, "wanted_um": wanted}
    if opening <= flake_um:
        return [Reason("flake-never-passes", Level.STOP, said, spec)]
    if opening < wanted - 1e-9:
        return [Reason("flake-clogs", Level.CAUTION, said, spec)]
    return [Reason("flake-passes", Level.OK, said, spec)]


# ------------------------------------------------------------------------------------------------------------ advice


@dataclass(frozen=True, slots=True)
class Advice:
    """What mesh the trade uses for something: a span of counts per inch, and who says so.

    `inks`: the kinds of ink, as in a job, that it is about (empty: any); `halftone`: None for either.
    """

    use: str
    least_per_in: float
    most_per_in: float
    source: str
    inks: tuple[str, ...] = ()
    halftone: bool | None = None

    def fits(self, ink: str, halftone: bool) -> bool:
        """Whether it is about such a station."""
        return (not self.inks or ink in self.inks) and self.halftone in (None, halftone)

    def holds(self, count_per_in: float, tolerance_pct: float) -> bool:
        """Whether a mesh lies within the span; counts that differ by no more than `tolerance_pct` are one mesh."""
        slack = tolerance_pct / 100
        return (1 - slack) * self.least_per_in <= count_per_in <= (1 + slack) * self.most_per_in


_PLASTISOL = ("plastisol", "low-cure plastisol")

# Sources disagree, so this is data to show, never a rule.
ADVICE: tuple[Advice, ...] = (
    Advice(N_("large flake"), 24, 61, N_("a supplier's guide to mesh counts"), _PLASTISOL, False),
    Advice(
        N_("fine flake, adhesive for a transfer film"),
        85,
        86,
        N_("a supplier's guide to mesh counts"),
        _PLASTISOL,
        False,
    ),
    Advice(N_("very heavy deposit, bold shapes"), 60, 80, N_("two suppliers' pages"), _PLASTISOL, False),
    Advice(N_("heavy deposit, one or two strokes of white"), 80, 86, N_("two suppliers' pages"), _PLASTISOL, False),
    Advice(N_("white underbase, plastisol"), 110, 140, N_("two suppliers' guides; Printwear, Sept 2017"), _PLASTISOL),
    Advice(
        N_("underbase for simulated process"),
        230,
        230,
        N_("a supplier's page on mesh and halftones"),
        _PLASTISOL,
        True,
    ),
    Advice(N_("plastisol, light garments"), 110, 196, N_("two suppliers' pages"), _PLASTISOL, False),
    Advice(N_("colours over an underbase"), 110, 230, N_("Printwear, Sept 2017"), _PLASTISOL),
    Advice(N_("water-base, solid art"), 110, 230, N_("Printwear, June 2015"), ("water-base",), False),
    Advice(N_("water-base, halftones"), 230, 305, N_("Printwear, June 2015"), ("water-base",), True),
    Advice(
        N_("discharge underbase, most ink"),
        89,
        122,
        N_("Printwear & Promotion on discharge (35-48/cm)"),
        ("discharge",),
        False,
    ),
    Advice(
        N_("discharge, halftone and detail"),
        122,
        229,
        N_("Printwear & Promotion on discharge (48-90/cm)"),
        ("discharge",),
        True,
    ),
    Advice(N_("discharge underbase, soft hand"), 230, 230, N_("common practice"), ("discharge",)),
    Advice(N_("colours over a discharge underbase, soft hand"), 280, 280, N_("common practice"), _PLASTISOL),
    Advice(N_("highlight white"), 180, 305, N_("common practice"), _PLASTISOL),
    Advice(
        N_("process and simulated process colours"),
        280,
        305,
        N_("two suppliers' pages"),
        (*_PLASTISOL, "water-base"),
        True,
    ),
)


phrases(
    {
        "mesh-same": (N_("The mesh is the one asked for ({count_per_in})."), ""),
        "mesh-unknown": (N_("The mesh count is not known."), N_("Read it off the frame, or count it, and log it.")),
        "mesh-count-differs": (
            N_("The mesh is {count_per_in}; {asked_per_in} is asked for."),
            N_("Take a screen of the right mesh. Another mesh lays down another amount of ink."),
        ),
        "mesh-thread-differs": (
            N_("The thread is {thread_um}; {asked_thread_um} is asked for."),
            N_("Take a screen with the right thread. Another thread lays down another amount of ink."),
        ),
        "mesh-thread-unknown": (
            N_("The thread of this screen is not known; {asked_thread_um} is asked for."),
            N_("Look at the label of the mesh or its maker’s data sheet, and log the thread."),
        ),
        "sheet-opening-odd": (
            N_("You typed an opening of {typed_um}; this count and thread give about {nominal_um}."),
            N_("Check all three on the mesh maker’s data sheet."),
        ),
        "sheet-area-odd": (
            N_("You typed {typed_pct} open area; this count and thread give about {nominal_pct}."),
            N_("Check all three on the mesh maker’s data sheet."),
        ),
        "sheet-thickness-odd": (
            N_("Mesh of {thread_um} thread is seldom {typed_um} thick."),
            N_("It is usually {least} to {most} threads thick: check the mesh maker’s data sheet."),
        ),
        "sheet-volume-odd": (
            N_("You typed an ink volume of {typed_cm3_m2}; open area × mesh thickness gives {expected_cm3_m2}."),
            N_("Check all three on the mesh maker’s data sheet."),
        ),
        "halftone-suits": (N_("{ratio} threads to a halftone line, and the angle keeps clear of the threads."), ""),
        "halftone-fine": (
            N_("Only {ratio} threads to a halftone line ({ruling_per_in} on {count_per_in}), not {wanted_ratio}."),
            N_("Take a finer mesh or a coarser ruling, or print a test for moire."),
        ),
        "halftone-too-fine": (
            N_("{ratio} threads to a halftone line ({ruling_per_in} on {count_per_in}) cannot hold the dots; "
               "{least_ratio} is the least that any source gives."),
            N_("Take a finer mesh or a coarser ruling."),
        ),
        "halftone-angle-unknown": (
            N_("The halftone's angle is not known."),
            N_("Give the angle to the threads; 22.5° is a usual choice for garments."),
        ),
        "moire-angle": (
            N_("An angle of {angle_deg} is close to {bad_deg} to the threads, where moire is worst."),
            N_("Turn the halftone, to 22.5° for instance, or the mesh by 7.5°."),
        ),
        "flake-passes": (N_("Flakes of {flake_um} pass an opening of {opening_um}."), ""),
        "flake-clogs": (
            N_("Flakes of {flake_um} want an opening of {wanted_um}; this mesh has {opening_um}."),
            N_("Take a coarser mesh, or expect the screen to clog."),
        ),
        "flake-never-passes": (
            N_("Flakes of {flake_um} cannot pass an opening of {opening_um}; {wanted_um} is wanted."),
            N_("Take a coarser mesh."),
        ),
        "flake-opening-unknown": (
            N_("Flakes of {flake_um} want an opening of {wanted_um}; this mesh's opening is not known."),
            N_("Give the thread, or the opening from the mesh maker's sheet."),
        ),
    }
)  # fmt: skip
