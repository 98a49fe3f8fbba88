"""Whether the mesh of a station suits what it prints, and what the trade uses for such an ink."""

from __future__ import annotations

from dataclasses import dataclass

from tickets.calculator import mesh
from tickets.calculator.mesh import Advice
from tickets.calculator.units import CannotBe, magnitude, quantity
from tickets.calculator.verdict import Level, Reason, Verdict, judge, phrases
from tickets.domain.jobs.job import Station
from tickets.domain.spec import Spec
from tickets.i18n import N_

CM_PER_IN = 2.54


@dataclass(frozen=True, slots=True)
class Advised:
    """A station's mesh: its opening where the thread is given, the smallest dot and tone of a halftone on it, a verdict
    where there is a flake or a halftone to judge, and the trade's rows for such an ink, each with whether the mesh
    lies in it."""

    count_per_in: float
    opening_um: float | None
    smallest_dot_um: float | None
    smallest_tone_pct: float | None
    verdict: Verdict | None
    rows: tuple[tuple[Advice, bool], ...]


def advise(station: Station, spec: Spec) -> Advised | None:
    """What is to be said of a printing station's mesh; None for a station that lays no ink."""
    wanted = station.mesh
    if not station.prints or wanted is None:
        return None
    count = wanted.count_per_cm * CM_PER_IN
    opening: float | None = None
    reasons: list[Reason] = []
    if wanted.thread_um is not None:
        try:
            opening = mesh.opening_um(wanted.count_per_cm, wanted.thread_um)
        except CannotBe:
            reasons.append(Reason("mesh-cannot-be", Level.STOP, {"count_per_in": count, "thread_um": wanted.thread_um}))
    factor = spec.find("flake-factor", ink=station.ink)
    if station.flake_um is not None and factor is not None:
        reasons += mesh.judge_flake(opening, station.flake_um, factor=factor.value, spec=(factor.row,))
    dot = tone = None
    if station.halftone is not None:
        reasons += mesh.judge_halftone(station.halftone.ruling_per_in, count, station.halftone.angle_deg, limits(spec))
        if opening is not None and wanted.thread_um is not None:
            found = mesh.halftone(
                quantity(station.halftone.ruling_per_in, "lines/in"),
                quantity(wanted.count_per_cm, "/cm"),
                quantity(wanted.thread_um, "um"),
            )
            dot, tone = magnitude(found.smallest_dot, "um"), magnitude(found.smallest_tone, "%")
    tolerance = spec.find("mesh-count-tolerance")
    same_pct = tolerance.value if tolerance else 0.0
    return Advised(
        count,
        opening,
        dot,
        tone,
        judge(reasons) if reasons else None,
        tuple(
            (row, row.holds(count, same_pct))
            for row in mesh.ADVICE
            if row.fits(station.ink, station.halftone is not None)
        ),
    )


def limits(spec: Spec, **facts: object) -> mesh.HalftoneLimits:
    """The shop's limits for a halftone on a mesh, for the case of those facts; what no row says keeps nothing away: a
    ratio of nothing, an angle of which none is near."""
    names = ("halftone-ratio", "halftone-ratio-least", "moire-angle", "moire-margin")
    found = [spec.find(name, **facts) for name in names]
    ratio, least, angle, margin = (limit.value if limit else 0.0 for limit in found)
    rows = tuple(limit.row for limit in found if limit)
    return mesh.HalftoneLimits(ratio, least, angle or 90.0, margin if angle else 0.0, rows)


phrases(
    {
        "mesh-cannot-be": (
            N_("No mesh of {count_per_in} can be woven with a thread of {thread_um}."),
            N_("Check the count, its unit and the thread on the job sheet."),
        ),
    }
)
