"""Exposure by step, strip, distance and dose, and what a shop's own washouts teach.

"Step held" is the highest step of a 21-step grey scale with no loss (the solid step), not the last step that shows
anything; the two differ by a step or more. Each step is 0.15 of density, half a stop: here the factor sqrt(2).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING, Any

from tickets.calculator.kinds import POINT
from tickets.calculator.units import CannotBe, magnitude, quantity
from tickets.calculator.verdict import Level, Reason, phrases
from tickets.i18n import N_
from tickets.i18n import gettext as _

if TYPE_CHECKING:
    from pint import Quantity

STEPS = 21


def step_factor(held: float, wanted: float) -> float:
    """By how much the time must change: 2^((wanted - held) / 2). Raises CannotBe for steps that no scale has."""
    for step in (held, wanted):
        if not 1 <= step <= STEPS:
            raise CannotBe(_("A step wedge has the steps 1 to {steps}.").format(steps=STEPS))
    return float(2 ** ((wanted - held) / 2))


def step_time(time: Quantity[float], held: float, wanted: float) -> Quantity[float]:
    """The time that would hold `wanted` where `time` held `held` (half-stop steps, as the scale's makers print)."""
    return quantity(_seconds(time) * step_factor(held, wanted), "s")


def film_time(time: Quantity[float], factor: float) -> Quantity[float]:
    """The time that gives a whole stencil the light of one column of a filter test film: time x that column's share.

    Raises CannotBe for a factor that is no share of the light.
    """
    if not 0 < factor <= 1:
        raise CannotBe(_("The factor is the share of the light that the column lets through: above 0 and up to 1."))
    return quantity(_seconds(time) * factor, "s")


def judge_film(best: str) -> list[Reason]:
    """What a best column comes to that is not `inside` the film but its `clearest` or `darkest`: only a bound."""
    if best == "clearest":
        return [Reason("film-longer", Level.UNKNOWN)]
    return [Reason("film-shorter", Level.UNKNOWN)] if best == "darkest" else []


def distance_time(time: Quantity[float], was: Quantity[float], now: Quantity[float]) -> Quantity[float]:
    """The time at another distance: light falls with the square. Point lamps only, never tubes or LED arrays."""
    was_m, now_m = magnitude(was, "m"), magnitude(now, "m")
    if was_m <= 0 or now_m <= 0:
        raise CannotBe(_("A distance from the lamp must be more than nothing."))
    return quantity(_seconds(time) * (now_m / was_m) ** 2, "s")


def judge_distance(
    distance_m: float, diagonal_m: float | None, *, diagonals: float, spec: tuple[int, ...] = ()
) -> list[Reason]:
    """Whether a point lamp stands far enough from a stencil of this diagonal."""
    if diagonal_m is None or not diagonal_m > 0:
        return [Reason("lamp-diagonal-unknown", Level.UNKNOWN, {"diagonals": diagonals}, spec)]
    said = {"distance_cm": 100 * distance_m, "least_cm": 100 * diagonals * diagonal_m, "diagonals": diagonals}
    if distance_m < diagonals * diagonal_m - 1e-9:
        return [Reason("lamp-too-near", Level.CAUTION, said, spec)]
    return [Reason("lamp-far-enough", Level.OK, said, spec)]


def dose(irradiance: Quantity[float], time: Quantity[float]) -> Quantity[float]:
    """Dose = irradiance x time."""
    return quantity(magnitude(irradiance, "mW/cm2") * magnitude(time, "s"), "mJ/cm2")


def dose_time(wanted: Quantity[float], irradiance: Quantity[float]) -> Quantity[float]:
    """The time for a dose."""
    return quantity(magnitude(wanted, "mJ/cm2") / _lit(irradiance), "s")


def lamp_time(time: Quantity[float], was: Quantity[float], now: Quantity[float]) -> Quantity[float]:
    """The time that gives the same dose from a lamp whose irradiance went from `was` to `now`."""
    return quantity(_seconds(time) * _lit(was) / _lit(now), "s")


def _lit(irradiance: Quantity[float]) -> float:
    value = magnitude(irradiance, "mW/cm2")
    if value <= 0:
        raise CannotBe(_("Without light there is no exposure: the irradiance must be more than nothing."))
    return value


def _seconds(time: Quantity[float]) -> float:
    seconds = magnitude(time, "s")
    if seconds <= 0:
        raise CannotBe(_("The time must be more than nothing."))
    return seconds


# ---------------------------------------------------------------------------------------------------------- verdicts


def judge_step(
    held: float | None,
    wanted: float,
    time: float | None = None,
    *,
    above: float,
    unit: str = "s",
    spec: tuple[int, ...] = (),
) -> list[Reason]:
    """A washout's step compared with the wanted one, with the time that would have held it.

    `time` is in `unit`, "s" or "units" of an integrator. Up to `above` steps over is tougher, and fine; no step held
    logged gives no reason, since a strip is not run on every screen.
    """
    if held is None:
        return []
    if held == 0:  # under the scale: how far, nobody can read
        return [Reason("step-nothing", Level.CAUTION, {"wanted": wanted}, spec)]
    factor = step_factor(held, wanted)
    suffix = "" if unit == "s" else "-units"
    numbers: dict[str, Any] = {"held": held, "wanted": wanted}
    if held >= STEPS:  # the scale ends there: how far over it is nobody can read
        return [Reason("step-all", Level.CAUTION, numbers, spec)]
    if time is not None:
        numbers |= (
            {"time_s": time, "next_time_s": time * factor}
            if unit == "s"
            else {"units": time, "next_units": round(time * factor, 1)}
        )
    else:
        suffix = "-untimed"
        numbers["factor"] = factor
    if held < wanted:
        return [Reason(f"step-low{suffix}", Level.CAUTION, numbers, spec)]
    if held > wanted + above:
        return [Reason(f"step-high{suffix}", Level.CAUTION, numbers, spec)]
    return [Reason("step-held", Level.OK, {"held": held, "wanted": wanted}, spec)]


def judge_time(
    time: float | None, wanted: float | None, *, tolerance: float, unit: str = "s", spec: tuple[int, ...] = ()
) -> list[Reason]:
    """A screen's exposure against the shop's wanted one, both in `unit` ("s" or "units"); `tolerance` is a fraction.

    Nothing to compare with is unknown, never ok.
    """
    if wanted is None or not wanted > 0:
        return [Reason("exposure-time-unknown", Level.UNKNOWN, {}, spec)]
    suffix, name = ("", "_s") if unit == "s" else ("-units", "_units")
    if time is None:
        return [Reason(f"exposure-not-logged{suffix}", Level.UNKNOWN, {f"wanted{name}": wanted}, spec)]
    said: dict[str, Any] = {f"time{name}": time, f"wanted{name}": wanted, "tolerance_pct": 100 * tolerance}
    if time < wanted * (1 - tolerance) - 1e-9:
        return [Reason(f"exposure-time-off{suffix}", Level.CAUTION, {**said, "way_word": N_("shorter")}, spec)]
    if time > wanted * (1 + tolerance) + 1e-9:
        return [Reason(f"exposure-time-off{suffix}", Level.CAUTION, {**said, "way_word": N_("longer")}, spec)]
    return [Reason(f"exposure-time-right{suffix}", Level.OK, said, spec)]


# ---------------------------------------------------------------------------------------------------------- learning


@dataclass(frozen=True, slots=True)
class Combination:
    """What an exposure time belongs to. A factor between two of these is never made up."""

    exposure_unit: str
    emulsion: str
    count_per_in: float | None = None
    thread_um: float | None = None
    mesh_colour: str | None = None
    coats: str | None = None

    def differs(self, other: Combination) -> tuple[str, ...]:
        """The names in which two combinations are not the same; counts within 3 % and threads within 2 um are."""
        out: list[str] = []
        if self.exposure_unit != other.exposure_unit:
            out.append("exposure_unit")
        if self.emulsion != other.emulsion:
            out.append("emulsion")
        if not _near(self.count_per_in, other.count_per_in, 0.03 * (self.count_per_in or 0)):
            out.append("mesh_count")
        if not _near(self.thread_um, other.thread_um, 2.0):
            out.append("thread")
        if self.mesh_colour != other.mesh_colour:
            out.append("mesh_colour")
        if self.coats != other.coats:
            out.append("coats")
        return tuple(out)

    def unnoted(self) -> tuple[str, ...]:
        """The names of what was not noted: two such combinations may differ in it without anybody knowing."""
        known = {
            "mesh_count": self.count_per_in,
            "thread": self.thread_um,
            "mesh_colour": self.mesh_colour,
            "coats": self.coats,
        }
        return tuple(name for name, value in known.items() if not value)


def _near(one: float | None, other: float | None, slack: float) -> bool:
    if one is None or other is None:
        return one is other
    return abs(one - other) <= slack + 1e-6


@dataclass(frozen=True, slots=True)
class Washout:
    """One exposure whose strip was read, of a good stencil or one with a fault: what its step says of the light is true
    either way. Times in seconds (or integrator units, for units that count them)."""

    of: Combination
    time: float
    held: float
    day: float
    irradiance_mw_cm2: float | None = None
    distance_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Learned:
    """A time that would hold the wanted step: the median of `readings` washouts, each corrected to it.

    `spread` is 1.48 x the median absolute deviation as a fraction of the time (None for one reading); `differs` names
    what is not the same where the readings are those of the nearest combination; then the time is only a start.
    `unnoted` names what nobody noted of the combination asked about. `before`: what all readings ask for, where the
    last ones agree with each other and not with that. `low` to `high`: the times that hold the wanted step, and as
    many over it as are fine.
    """

    time: float
    readings: int
    spread: float | None
    differs: tuple[str, ...] = ()
    nearest: Combination | None = None
    unnoted: tuple[str, ...] = ()
    before: float | None = None
    low: float = 0.0
    high: float = math.inf


RECENT_READINGS = 15
LEAST_READINGS = 3
"""Fewer are a hint: one slip among two cannot be told from the truth."""


def corrected(
    washout: Washout,
    wanted: float,
    *,
    irradiance_mw_cm2: float | None = None,
    distance_mm: float | None = None,
    lamp: str | None = None,
) -> float:
    """The time that would have held `wanted`, brought to today's lamp: by irradiance where both are known, else by
    distance for point lamps where both are known."""
    time = washout.time * step_factor(washout.held, wanted)
    if irradiance_mw_cm2 and washout.irradiance_mw_cm2:
        time *= washout.irradiance_mw_cm2 / irradiance_mw_cm2
    elif lamp == POINT and distance_mm and washout.distance_mm:
        time *= (distance_mm / washout.distance_mm) ** 2
    return time


# whole: one estimate from its readings to its range, a third of it what its arguments mean
def learn(
    washouts: Iterable[Washout],
    of: Combination,
    wanted: float,
    *,
    irradiance_mw_cm2: float | None = None,
    distance_mm: float | None = None,
    lamp: str | None = None,
    counts_units: bool = False,
    above: float = 0.0,
    tolerance: float = math.inf,
) -> Learned | None:
    """The time for a combination from the shop's own washouts; None: run a step wedge.

    A stencil that washed off says by its step how much light was missing, and counts: left out, the few that held by
    chance would ask for too little light, and more of it would be lost.

    A reading of the wanted step, or of up to `above` steps over it, is fine as it is: nothing pushes its time down. One
    that held every step, or none, is a bound and no value. Where the last LEAST_READINGS agree within `tolerance` (a
    fraction) with each other and not with all, they count: the lamp, the mesh or the emulsion changed; without a
    tolerance nobody can say so, and all count.

    `counts_units`: the times are an integrator's units, which hold the dose constant, so no lamp correction is made.
    Give the washouts since the lamp was changed. The nearest combination has the same exposure unit and emulsion, and
    differs in fewest other ways.
    """
    usable = [one for one in washouts if one.of.exposure_unit == of.exposure_unit and one.of.emulsion == of.emulsion
              and one.time > 0 and 1 <= one.held < STEPS]  # fmt: skip
    if not usable:
        return None

    def rank(other: Combination) -> tuple[int, float]:
        apart = 0.0
        if of.count_per_in and other.count_per_in:
            apart = abs(math.log(of.count_per_in / other.count_per_in))
        return len(of.differs(other)), apart

    best = min((one.of for one in usable), key=rank)
    same = sorted((one for one in usable if not best.differs(one.of)), key=lambda one: one.day)[-RECENT_READINGS:]

    def times(step: Callable[[float], float]) -> list[float]:
        """The time of each reading for the step that `step` wants of what it held."""
        return [
            one.time * step_factor(one.held, step(one.held))
            if counts_units
            else corrected(one, step(one.held), irradiance_mw_cm2=irradiance_mw_cm2, distance_mm=distance_mm, lamp=lamp)
            for one in same
        ]

    most = min(wanted + above, STEPS)
    asked = times(lambda held: min(max(held, wanted), most))
    lows, highs = times(lambda _held: wanted), times(lambda _held: most)
    middle, before, last = median(asked), None, asked[-LEAST_READINGS:]
    if (
        len(asked) > LEAST_READINGS
        and math.isfinite(tolerance)
        and _agree(last, tolerance)
        and abs(median(last) - middle) > tolerance * middle
    ):
        before, middle = middle, median(last)
        asked, lows, highs = last, lows[-LEAST_READINGS:], highs[-LEAST_READINGS:]
    spread = 1.4826 * median(abs(time - middle) for time in asked) / middle if len(asked) > 1 else None
    differs = of.differs(best)
    return Learned(
        middle,
        len(asked),
        spread,
        differs,
        best if differs else None,
        of.unnoted(),
        before,
        median(lows),
        median(highs),
    )


def _agree(times: Sequence[float], tolerance: float) -> bool:
    middle = median(times)
    return all(abs(time - middle) <= tolerance * middle + 1e-9 for time in times)


def judge_learned(learned: Learned | None, *, unit: str = "s") -> list[Reason]:
    """What a learned time rests on, said plainly."""
    if learned is None:
        return [Reason("exposure-run-step-test", Level.UNKNOWN)]
    name = "time_s" if unit == "s" else "time"
    said: dict[str, Any] = {name: learned.time, "readings": learned.readings}
    suffix = "" if unit == "s" else "-units"
    if learned.differs:
        said["differs"] = ", ".join(_(DIFFERENCES[name]) for name in learned.differs)
        return [Reason(f"exposure-from-nearest{suffix}", Level.UNKNOWN, said)]
    doubt: list[Reason] = []
    if learned.unnoted:
        names = ", ".join(_(DIFFERENCES[name]) for name in learned.unnoted)
        doubt = [Reason("exposure-not-all-noted", Level.CAUTION, {"names": names})]
    if learned.readings == 1:
        return [Reason(f"exposure-from-one{suffix}", Level.CAUTION, said), *doubt]
    if learned.readings < LEAST_READINGS or learned.spread is None:
        return [Reason(f"exposure-from-two{suffix}", Level.CAUTION, said), *doubt]
    if learned.before is not None:
        before = {"before_s" if unit == "s" else "before": learned.before}
        return [Reason(f"exposure-moved{suffix}", Level.CAUTION, {**said, **before}), *doubt]
    return [Reason(f"exposure-learned{suffix}", Level.OK, {**said, "spread_pct": 100 * learned.spread}), *doubt]


def judge_no_step() -> list[Reason]:
    """What is said where no limit tells which step is to be held, so that no strip can be brought to it."""
    return [Reason("exposure-no-step", Level.UNKNOWN)]


def judge_set_time(
    set_time: float, learned: Learned | None, *, tolerance: float, unit: str = "s", spec: tuple[int, ...] = ()
) -> list[Reason]:
    """Whether the time that the shop set still agrees with what its own washouts teach; nothing where they say nothing
    of this very combination, or too little. A time that holds more than the wanted step, but no more than is fine, is
    not doubted."""
    if learned is None or learned.differs or learned.readings < LEAST_READINGS:
        return []
    near = abs(learned.time - set_time) <= tolerance * set_time + 1e-9
    if near or learned.low <= set_time <= learned.high:
        return []
    name, suffix = ("_s", "") if unit == "s" else ("", "-units")
    off = learned.time / set_time - 1
    said = {
        f"set{name}": set_time,
        f"time{name}": learned.time,
        "readings": learned.readings,
        "off_pct": round(100 * abs(off)),
        "way_word": N_("more") if off > 0 else N_("less"),
    }
    return [Reason(f"exposure-set-time-off{suffix}", Level.CAUTION, said, spec)]


DIFFERENCES = {
    "exposure_unit": N_("exposure unit"),
    "emulsion": N_("emulsion"),
    "mesh_count": N_("mesh count"),
    "thread": N_("thread"),
    "mesh_colour": N_("mesh colour"),
    "coats": N_("coats"),
    "product": N_("product of the emulsion"),
}


_TOO_LITTLE = N_(
    "The stencil is weak: check the squeegee side for slime, harden or re-expose only if the maker says so, and expose "
    "the next one longer."
)
_TOO_MUCH = N_("Look for lost fine detail; expose the next one shorter.")

phrases(
    {
        "film-longer": (
            N_("The best column is the clearest: the right time is this long or longer."),
            N_("Expose another test for twice the time."),
        ),
        "film-shorter": (
            N_("The best column is the darkest: the right time is this long or shorter."),
            N_("Expose another test for half the time."),
        ),
        "step-held": (N_("Exposure step {held} held, {wanted} wanted."), ""),
        "step-all": (
            N_("Every exposure step held, {wanted} wanted. That says only that the time is far too long."),
            N_("Halve it and read a step wedge again."),
        ),
        "step-nothing": (
            N_("No exposure step held, {wanted} wanted. That says only that the time is far too short."),
            N_("Double it and read a step wedge again."),
        ),
        "step-low": (
            N_(
                "Exposure step {held} held, {wanted} wanted: by this reading alone, expose {next_time_s} next time "
                "instead of {time_s}."
            ),
            _TOO_LITTLE,
        ),
        "step-high": (
            N_(
                "Exposure step {held} held, {wanted} wanted: by this reading alone, expose {next_time_s} next time "
                "instead of {time_s}."
            ),
            _TOO_MUCH,
        ),
        "step-low-units": (
            N_(
                "Exposure step {held} held, {wanted} wanted: by this reading alone, expose {next_units} light units "
                "next time, not {units}."
            ),
            _TOO_LITTLE,
        ),
        "step-high-units": (
            N_(
                "Exposure step {held} held, {wanted} wanted: by this reading alone, expose {next_units} light units "
                "next time, not {units}."
            ),
            _TOO_MUCH,
        ),
        "step-low-untimed": (
            N_(
                "Exposure step {held} held, {wanted} wanted: by this reading alone, expose {factor} times as long next "
                "time."
            ),
            _TOO_LITTLE,
        ),
        "step-high-untimed": (
            N_(
                "Exposure step {held} held, {wanted} wanted: by this reading alone, expose {factor} times as long next "
                "time."
            ),
            _TOO_MUCH,
        ),
        "exposure-time-right": (N_("Exposed {time_s}; {wanted_s} is wanted."), ""),
        "exposure-time-off": (
            N_("Exposed {time_s}, more than {tolerance_pct} {way_word} than the {wanted_s} wanted."),
            N_("Look closely at the washout. If the set time is out of date, shoot a step wedge and change it."),
        ),
        "exposure-time-unknown": (
            N_("No exposure time yet for this exposure unit, emulsion and mesh."),
            N_("Shoot a step wedge first."),
        ),
        "exposure-not-logged": (
            N_("The exposure was not logged; {wanted_s} is wanted."),
            N_("Log it if you know it; look closely at the washout."),
        ),
        "exposure-time-right-units": (N_("Exposed {time_units} light units; {wanted_units} are set."), ""),
        "exposure-time-off-units": (
            N_(
                "Exposed {time_units} light units, more than {tolerance_pct} {way_word} than the {wanted_units} wanted."
            ),
            N_(
                "Look closely at the washout. If the set light units are out of date, shoot a step wedge and change "
                "them."
            ),
        ),
        "exposure-not-logged-units": (
            N_("The exposure was not logged; {wanted_units} light units are set."),
            N_("Log it if you know it; look closely at the washout."),
        ),
        "exposure-run-step-test": (
            N_("No exposure time yet for this exposure unit and emulsion."),
            N_("Shoot a step wedge first."),
        ),
        "exposure-no-step": (
            N_("No limit says which exposure step is to be held, so nothing is learned from the step wedges."),
            N_("Set “Step to hold” under the limits of exposure; see the emulsion maker’s data sheet."),
        ),
        "exposure-from-nearest": (
            N_(
                "Only a start: expose {time_s}, from step wedges that come nearest ({readings} read). Different: "
                "{differs}."
            ),
            N_("Nobody can work that out: shoot a step wedge first."),
        ),
        "exposure-from-nearest-units": (
            N_(
                "Only a start: expose {time} light units, from step wedges that come nearest ({readings} read). "
                "Different: {differs}."
            ),
            N_("Nobody can work that out: shoot a step wedge first."),
        ),
        "exposure-from-one": (
            N_("Expose {time_s}: from one step wedge only."),
            N_("Shoot a step wedge with the next screens to be surer."),
        ),
        "exposure-from-one-units": (
            N_("Expose {time} light units: from one step wedge only."),
            N_("Shoot a step wedge with the next screens to be surer."),
        ),
        "exposure-from-two": (
            N_("Expose {time_s}: from two step wedges only, a hint."),
            N_("Shoot a step wedge with the next screens to be surer."),
        ),
        "exposure-from-two-units": (
            N_("Expose {time} light units: from two step wedges only, a hint."),
            N_("Shoot a step wedge with the next screens to be surer."),
        ),
        "exposure-moved": (
            N_("The last {readings} step wedges ask for an exposure of {time_s}; all together ask for {before_s}."),
            N_("Something changed: look at the lamp, the mesh and the bucket, and go by the last ones."),
        ),
        "exposure-moved-units": (
            N_(
                "The last {readings} step wedges ask for an exposure of {time} light units; all together ask for "
                "{before}."
            ),
            N_("Something changed: look at the lamp, the mesh and the bucket, and go by the last ones."),
        ),
        "exposure-learned": (
            N_(
                "Expose {time_s}: the middle of {readings} step wedges with this exposure unit, emulsion and mesh "
                "(they differ by {spread_pct})."
            ),
            "",
        ),
        "exposure-learned-units": (
            N_(
                "Expose {time} light units: the middle of {readings} step wedges with this exposure unit, emulsion and "
                "mesh (they differ by {spread_pct})."
            ),
            "",
        ),
        "exposure-set": (N_("The shop’s exposure time for this is {set_s}."), ""),
        "exposure-set-units": (N_("The shop exposes this with {set} light units."), ""),
        "exposure-not-all-noted": (
            N_("Not noted for this screen, so perhaps not the same: {names}."),
            N_("Note it, so that only like is compared with like."),
        ),
        "exposure-set-time-off": (
            N_(
                "The shop’s exposure time is {set_s}; the last {readings} step wedges ask for {time_s}: {off_pct} "
                "{way_word}."
            ),
            N_("Shoot a step wedge and change the set time."),
        ),
        "exposure-set-time-off-units": (
            N_(
                "The shop exposes with {set} light units; the last {readings} step wedges ask for {time}: {off_pct} "
                "{way_word}."
            ),
            N_("Shoot a step wedge and change the set light units."),
        ),
        "lamp-far-enough": (N_("The lamp is {distance_cm} away; {least_cm} is the least for this stencil."), ""),
        "lamp-too-near": (
            N_("The lamp is {distance_cm} away; {least_cm} ({diagonals} diagonals) is the least for this stencil."),
            N_("Nearer than that the corners get too little light, and the square law does not hold."),
        ),
        "lamp-diagonal-unknown": (
            N_("Without the stencil's diagonal nobody can say whether the lamp is far enough away."),
            N_("Give the diagonal: the lamp should be {diagonals} of it away."),
        ),
    }
)
