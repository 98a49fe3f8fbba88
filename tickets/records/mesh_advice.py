"""Whether the mesh of a station suits what it prints, and what the trade uses for such an ink."""

from __future__ import annotations

from dataclasses import dataclass

from tickets.calculator import mesh
from tickets.calculator.mesh import Advice
from tickets.calculator.units import CannotBe, magnitude, quantity
from tickets.calculator.verdict import Level, Reason, Verdict, judge, phrases
from tickets.records.job import Station
from tickets.records.spec import Spec
from tickets.words import N_

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
    if station.flake_um is not None:
        factor = spec.find("flake-factor", ink=station.ink)
        rows = (factor.row,) if factor else ()
        reasons += mesh.judge_flake(opening, station.flake_um, factor=factor.value if factor else 3.0, spec=rows)
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
    return Advised(
        count,
        opening,
        dot,
        tone,
        judge(reasons) if reasons else None,
        tuple(
            (row, row.holds(count)) for row in mesh.ADVICE if row.fits(station.ink, station.halftone is not None)
        ),
    )


def limits(spec: Spec) -> mesh.HalftoneLimits:
    """The shop's limits for a halftone on a mesh."""
    names = ("halftone-ratio", "halftone-ratio-least", "moire-angle", "moire-margin")
    found = [spec.find(name) for name in names]
    pairs = zip(found, (3.5, 2.5, 45.0, 5.0), strict=True)
    ratio, least, angle, margin = (limit.value if limit else default for limit, default in pairs)
    return mesh.HalftoneLimits(ratio, least, angle, margin, tuple(limit.row for limit in found if limit))


phrases(
    {
        "mesh-cannot-be": (
            N_("No mesh of {count_per_in} can be woven with a thread of {thread_um}."),
            N_("Check the count, its unit and the thread on the job sheet."),
        ),
    }
)
