"""How much ink a print and a job take, and how long a mixed ink is good.

Every term stays visible: area, coverage, film, strokes, density, the shop's own transfer factor, waste. A computed
film is theory; weighing a few prints tells what this shop really lays down.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING

from tickets.calculator.units import CannotBe, magnitude, quantity
from tickets.calculator.verdict import Level, Reason, phrases
from tickets.i18n import N_
from tickets.i18n import gettext as _

if TYPE_CHECKING:
    from pint import Quantity


@dataclass(frozen=True, slots=True)
class InkNeed:
    """Ink for one print and for the job; `volume` is that of one print, `job_volume` with pieces and waste."""

    per_print: Quantity[float]
    job: Quantity[float]
    volume: Quantity[float]
    job_volume: Quantity[float]


def need(
    area: Quantity[float],
    coverage: Quantity[float],
    film: Quantity[float],
    density: Quantity[float],
    *,
    strokes: int = 1,
    transfer: float = 1.0,
    pieces: int,
    waste: Quantity[float] | None = None,
) -> InkNeed:
    """Area x coverage x film x strokes x transfer (volume), x density (mass), x pieces x (1 + waste) for the job.

    First principles, as in the published examples of ink cost; `transfer` is the shop's, 1 where not yet weighed.
    """
    covered = magnitude(coverage, "%")
    if covered > 100:
        raise CannotBe(_("Coverage is a share of the image's area: 100 % at most."))
    if strokes < 1 or pieces < 1:
        raise CannotBe(_("Strokes and pieces are whole numbers from 1 on."))
    if not transfer > 0 or magnitude(density, "g/cm3") <= 0:
        raise CannotBe(_("Transfer factor and density must be more than nothing."))
    volume = magnitude(area, "m2") * covered / 100 * magnitude(film, "cm3/m2") * strokes * transfer
    mass = volume * magnitude(density, "g/cm3")
    times = pieces * (1 + (magnitude(waste, "%") / 100 if waste is not None else 0.0))
    return InkNeed(
        quantity(mass, "g"), quantity(mass * times, "g"), quantity(volume, "cm3"), quantity(volume * times, "cm3")
    )


def calibrate(weighed: Sequence[Quantity[float]], computed: Quantity[float]) -> float:
    """The shop's transfer factor: the median of weighed prints (wet, less the blank) over the mass computed with 1."""
    masses = [magnitude(one, "g") for one in weighed]
    expected = magnitude(computed, "g")
    if not masses or min(masses) <= 0 or expected <= 0:
        raise CannotBe(_("Weigh at least one print, and take the blank garment's weight off."))
    return median(masses) / expected


def judge_pot_life(
    past_h: float | None, *, at_set_up: bool, ink: str = "", bucket: str = "–", spec: tuple[int, ...] = ()
) -> list[Reason]:
    """Whether discharge or catalysed ink is past its time: hours past (negative: left), None where it has no clock.

    `bucket`: its code as it is printed. Past it stops a set-up, and cautions during a run.
    """
    if past_h is None:
        return [Reason("ink-time-unknown", Level.UNKNOWN, {"ink": ink, "bucket": bucket}, spec)]
    if past_h > 0:
        level = Level.STOP if at_set_up else Level.CAUTION
        return [Reason("ink-past-time", level, {"past_h": past_h, "ink": ink, "bucket": bucket}, spec)]
    return [Reason("ink-in-time", Level.OK, {"left_h": -past_h, "ink": ink, "bucket": bucket}, spec)]


phrases(
    {
        "ink-in-time": (N_("Bucket {bucket} is good for another {left_h}."), ""),
        "ink-past-time": (
            N_("Bucket {bucket} expired {past_h} ago."),
            N_("Mix a fresh one, and dispose of this one as its safety data sheet says."),
        ),
        "ink-time-unknown": (
            N_("Nobody knows how long bucket {bucket} is good."),
            N_("Look it up in the ink's data sheet, and log when it was mixed."),
        ),
    }
)
