"""The stencil's build over the mesh, and the clocks of emulsion: mixed, coated."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tickets.calculator.units import CannotBe, magnitude, quantity, show
from tickets.calculator.verdict import Level, Reason, phrases
from tickets.i18n import N_
from tickets.i18n import gettext as _

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


phrases(
    {
        "build-right": (N_("The stencil adds {ratio_pct} to the mesh ({least_pct} to {most_pct} wanted)."), ""),
        "build-thin": (
            N_("The stencil adds only {ratio_pct} to the mesh ({least_pct} to {most_pct} wanted)."),
            N_("Edges may saw-tooth and pinholes come early: give one more coat on the print side."),
        ),
        "build-thick": (
            N_("The stencil adds {ratio_pct} to the mesh ({least_pct} to {most_pct} wanted)."),
            N_("A thick stencil exposes slowly and holds back ink: coat thinner, unless a high build is meant."),
        ),
        "build-unknown": (N_("The stencil's build was not measured."), N_("Measure bare and coated mesh.")),
        "coated-fresh": (N_("Coated {age_d} ago."), ""),
        "coated-too-long": (
            N_("Coated {age_d} before exposure (limit {limit_d})."),
            N_("Fine dots may not open: use it for bold art, run a test strip, or reclaim it and coat again."),
        ),
        "coated-age-unknown": (N_("Nobody knows when this screen was coated."), N_("Run a test strip on it.")),
    }
)
