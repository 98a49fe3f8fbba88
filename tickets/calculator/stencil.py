"""The stencil's build over the mesh, and the clocks of emulsion: mixed, coated."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tickets.calculator.units import CannotBe, magnitude, quantity, show
from tickets.calculator.verdict import Level, Reason, phrases
from tickets.words import N_
from tickets.words import gettext as _

if TYPE_CHECKING:
    from pint import Quantity


@dataclass(frozen=True, slots=True)
class Build:
    """Emulsion over mesh: `build` um above the fabric, and `build_ratio` percent of the fabric's thickness."""

    build: Quantity[float]
    build_ratio: Quantity[float]


def build(coated: Quantity[float], fabric: Quantity[float]) -> Build:
    """Coated thickness less the bare mesh of that very screen; the ratio is build / fabric (articles on coating)."""
    coated_um, fabric_um = magnitude(coated, "um"), magnitude(fabric, "um")
    if fabric_um <= 0:
        raise CannotBe(_("The bare mesh must have a thickness."))
    if coated_um < fabric_um:
        raise CannotBe(
            _("Coated ({coated}) cannot be thinner than the bare mesh ({fabric}): measure both again.").format(
                coated=show(coated), fabric=show(fabric)
            )
        )
    return Build(quantity(coated_um - fabric_um, "um"), quantity(100 * (coated_um / fabric_um - 1), "%"))


def judge_build(ratio_pct: float | None, *, least: float, most: float, spec: tuple[int, ...] = ()) -> list[Reason]:
    """Whether the build is within the shop's span, in percent of the fabric."""
    if ratio_pct is None:
        return [Reason("build-unknown", Level.UNKNOWN, {}, spec)]
    said = {"ratio_pct": ratio_pct, "least_pct": least, "most_pct": most}
    if ratio_pct < least - 1e-9:
        return [Reason("build-thin", Level.CAUTION, said, spec)]
    if ratio_pct > most + 1e-9:
        return [Reason("build-thick", Level.CAUTION, said, spec)]
    return [Reason("build-right", Level.OK, said, spec)]


def judge_coated_age(age_d: float | None, *, limit_d: float, spec: tuple[int, ...] = ()) -> list[Reason]:
    """Whether a coated screen is still fresh enough to expose; `age_d` None: nobody knows when it was coated."""
    if age_d is None:
        return [Reason("coated-age-unknown", Level.UNKNOWN, {}, spec)]
    if age_d > limit_d:
        return [Reason("coated-too-long", Level.CAUTION, {"age_d": age_d, "limit_d": limit_d}, spec)]
    return [Reason("coated-fresh", Level.OK, {"age_d": age_d}, spec)]


def judge_emulsion_date(
    past_d: float | None, *, strip_failed: bool = False, spec: tuple[int, ...] = ()
) -> list[Reason]:
    """Whether mixed emulsion is past its date: `past_d` days past (negative: days left), None where it has no date.

    Past it is a caution, "run a test strip"; only a failed strip stops it.
    """
    if strip_failed:
        return [Reason("emulsion-strip-failed", Level.STOP, {}, spec)]
    if past_d is None:
        return [Reason("emulsion-date-unknown", Level.UNKNOWN, {}, spec)]
    if past_d > 0:
        return [Reason("emulsion-past-date", Level.CAUTION, {"past_d": past_d}, spec)]
    return [Reason("emulsion-in-date", Level.OK, {"left_d": -past_d}, spec)]


phrases(
    {
        "build-right": (N_("The stencil stands {ratio_pct} over the mesh ({least_pct} to {most_pct} wanted)."), ""),
        "build-thin": (
            N_("The stencil stands only {ratio_pct} over the mesh ({least_pct} to {most_pct} wanted)."),
            N_("Edges may saw-tooth and pinholes come early: give one more coat on the print side."),
        ),
        "build-thick": (
            N_("The stencil stands {ratio_pct} over the mesh ({least_pct} to {most_pct} wanted)."),
            N_("It exposes slowly and holds back ink: coat thinner, unless a high build is meant."),
        ),
        "build-unknown": (N_("The stencil's build was not measured."), N_("Measure bare and coated mesh.")),
        "coated-fresh": (N_("Coated {age_d} ago."), ""),
        "coated-too-long": (
            N_("Coated {age_d} before exposure (limit {limit_d})."),
            N_("Fine dots may not open: use it for bold art, run a test strip, or strip and coat again."),
        ),
        "coated-age-unknown": (N_("Nobody knows when this screen was coated."), N_("Run a test strip on it.")),
        "emulsion-in-date": (N_("The emulsion is in date ({left_d} left)."), ""),
        "emulsion-past-date": (N_("The mixed emulsion is {past_d} past its date."), N_("Run a test strip.")),
        "emulsion-strip-failed": (
            N_("A test strip of this emulsion has failed."),
            N_("Mix a fresh bucket, and dispose of this one as its safety data sheet says."),
        ),
        "emulsion-date-unknown": (N_("The emulsion has no date."), N_("Log when it was mixed; run a test strip.")),
    }
)
