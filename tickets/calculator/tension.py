"""Screen tension: one set of readings, a screen beside its neighbours, and how a mesh goes slack with use.

Trade writers print many units for tension; a meter shows N/cm, and so do we. Readings come in the order centre, then
the four corners, then the four sides (Images, Aug 2019; Screen Printing, Feb 2001).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from statistics import fmean
from typing import TYPE_CHECKING, Any, Protocol

from tickets.calculator.kinds import FRAMES, several
from tickets.calculator.units import CannotBe, magnitude, quantity
from tickets.calculator.verdict import Level, Reason, phrases
from tickets.i18n import N_
from tickets.i18n import gettext as _

if TYPE_CHECKING:
    from pint import Quantity

MOST_READINGS = 9


def place_of(index: int) -> str:
    """Where reading `index` (from 0) was taken, as a word to be translated."""
    return N_("the centre") if index == 0 else N_("a corner") if index <= 4 else N_("a side")


@dataclass(frozen=True, slots=True)
class Readings:
    """One set of readings in one thread direction. `spread` is highest less lowest."""

    mean: Quantity[float]
    spread: Quantity[float]
    worst_from_centre: Quantity[float]
    minimum: Quantity[float]


def summary(readings: Sequence[Quantity[float]]) -> Readings:
    """Mean, spread, the furthest from the first reading (the centre), and the lowest. Raises CannotBe past 1 to 9."""
    values = [magnitude(reading, "N/cm") for reading in readings]
    if not 1 <= len(values) <= MOST_READINGS:
        raise CannotBe(_("Give 1 to 9 readings: the centre, then the corners, then the sides."))
    return Readings(
        mean=quantity(fmean(values), "N/cm"),
        spread=quantity(max(values) - min(values), "N/cm"),
        worst_from_centre=quantity(max(abs(value - values[0]) for value in values), "N/cm"),
        minimum=quantity(min(values), "N/cm"),
    )


@dataclass(frozen=True, slots=True)
class TensionLimits:
    """All in N/cm unless named otherwise. `new_mesh` is what this frame should hold freshly stretched, None where the
    frame or count is unknown; `floor` None: the shop has none. `spec` names the rows behind a limit, by the field's
    name."""

    watch: float
    floor: float | None
    new_mesh: float | None = None
    ceiling: float = 40
    spread_caution: float = 5
    warp_weft_pct: float = math.inf
    holds_register: bool = True
    spec: Mapping[str, tuple[int, ...]] = field(default_factory=dict)

    def rows(self, *names: str) -> tuple[int, ...]:
        """The spec rows behind the limits of these names."""
        return tuple(row for name in names for row in self.spec.get(name, ()))


class LimitRow(Protocol):
    """A limit as found in a spec: its value, and the row that it comes from (None: shipped)."""

    @property
    def value(self) -> float: ...
    @property
    def row(self) -> int | None: ...


def limits(find: Callable[..., LimitRow | None], **facts: Any) -> TensionLimits:
    """The limits for a screen: `find` gives a spec's row for a key and `facts` (work, frame, count_per_in, ...; what is
    not known is None or left out).

    The floor is that of the work. The watch is too, but no more than its share of this mesh's own new-mesh tension (and
    no less than the floor), and the ceiling is so much over that: a screen stretched to the shop's own target is never
    cautioned for its tension.
    """
    spec: dict[str, tuple[int, ...]] = {}

    def told(name: str, value: float, *rows: LimitRow | None) -> float:
        spec[name] = tuple(one.row for one in rows if one is not None and one.row is not None)
        return value

    new = find("new-mesh-tension", **facts)

    floor, watch, share = (find(f"tension-{name}", **facts) for name in ("floor", "watch", "watch-share"))
    from_watch = 0.0 if watch is None else told("watch", watch.value, watch)
    if new is not None:
        told("new_mesh", new.value, new)
        most = new.value * min(share.value if share is not None else 100.0, 100.0) / 100
        if most < from_watch:
            from_watch = told("watch", most, share, new)
    if watch is not None and floor is not None and from_watch < floor.value:
        from_watch = told("watch", floor.value, floor)
    highest, over = find("tension-ceiling", **facts), find("tension-over-new", **facts)
    ceiling = math.inf if highest is None else told("ceiling", highest.value, highest)
    tightest = new or _tightest(find, facts)
    if tightest is not None and over is not None and tightest.value + over.value < ceiling:
        ceiling = told("ceiling", tightest.value + over.value, over, tightest)
    if new is not None and ceiling < new.value:
        ceiling = told("ceiling", new.value, new)
    spread, apart = find("tension-spread", **facts), find("tension-warp-weft", **facts)
    register = find("holds-register", **facts)
    return TensionLimits(
        watch=from_watch,
        floor=None if floor is None else told("floor", floor.value, floor),
        new_mesh=new.value if new is not None else None,
        ceiling=ceiling,
        spread_caution=math.inf if spread is None else told("spread_caution", spread.value, spread),
        warp_weft_pct=math.inf if apart is None else told("warp_weft_pct", apart.value, apart),
        holds_register=register is None or told("holds_register", register.value, register) >= 1,
        spec=spec,
    )


def _tightest(find: Callable[..., LimitRow | None], facts: Mapping[str, Any]) -> LimitRow | None:
    """On a frame that nobody noted: the new-mesh tension of the frame that stretches this mesh tightest."""
    if facts.get("frame"):
        return None
    found = (find("new-mesh-tension", **{**facts, "frame": frame}) for frame in FRAMES)
    return max((row for row in found if row is not None), key=lambda row: row.value, default=None)


def judge(
    readings_n_per_cm: Sequence[float],
    weft_n_per_cm: Sequence[float] | None,
    limits: TensionLimits,
    *,
    work: str | None = None,
) -> list[Reason]:
    """What one set of readings comes to for a kind of `work` (None: unknown). The lowest reading of both directions
    decides; evenness is judged within each direction, and one direction against the other."""
    sets = [list(readings_n_per_cm), list(weft_n_per_cm or ())]
    everything = [value for values in sets for value in values]
    if not everything or not all(math.isfinite(value) and value >= 0 for value in everything):
        return [Reason("tension-not-measured", Level.UNKNOWN), *judge_register(limits, work)]
    if limits.floor is None:
        return [Reason("tension-no-floor", Level.UNKNOWN), *judge_register(limits, work)]
    reasons = [_judge_level(min(everything), limits, limits.floor)]
    reasons += _judge_evenness(sets, limits)
    reasons += _judge_directions(sets[0], sets[1], limits)
    if max(everything) > limits.ceiling + SLACK:
        numbers = {"highest_n_per_cm": max(everything), "ceiling_n_per_cm": limits.ceiling}
        reasons.append(Reason("tension-over-ceiling", Level.CAUTION, numbers, limits.rows("ceiling")))
    return reasons + judge_register(limits, work)


def under_floor(readings_n_per_cm: Sequence[float], weft_n_per_cm: Sequence[float], limits: TensionLimits) -> bool:
    """Whether `judge` would stop these readings for their level."""
    everything = [*readings_n_per_cm, *weft_n_per_cm]
    known = all(math.isfinite(value) and value >= 0 for value in everything)
    return bool(everything) and known and limits.floor is not None and _too_low(min(everything), limits.floor)


def _too_low(lowest: float, floor: float) -> bool:
    return lowest < floor - SLACK


SLACK = 1e-9
"""Half of what two floats may differ by that are one figure to a shop."""


def _judge_level(lowest: float, limits: TensionLimits, floor: float) -> Reason:
    numbers: dict[str, Any] = {
        "lowest_n_per_cm": lowest,
        "watch_n_per_cm": limits.watch,
        "floor_n_per_cm": floor,
    }
    if limits.new_mesh is not None:
        numbers["new_mesh_n_per_cm"] = limits.new_mesh
    if _too_low(lowest, floor):
        return Reason("tension-under-floor", Level.STOP, numbers, limits.rows("floor"))
    if lowest < limits.watch - SLACK:
        return Reason("tension-under-watch", Level.CAUTION, numbers, limits.rows("watch"))
    return Reason("tension-in-spec", Level.OK, numbers, limits.rows("watch"))


def _judge_evenness(sets: Sequence[Sequence[float]], limits: TensionLimits) -> list[Reason]:
    """Within each direction: the published failure sign is a spread of so much or more."""
    if all(len(values) <= 1 for values in sets):
        return [Reason("tension-evenness-not-measured", Level.OK)]
    spread, values = max(((max(one) - min(one), one) for one in sets if one), key=lambda pair: pair[0])
    if spread < limits.spread_caution - SLACK:
        return []
    low = min(values)
    numbers = {
        "spread_n_per_cm": spread,
        "limit_n_per_cm": limits.spread_caution,
        "low_n_per_cm": low,
        "place_word": place_of(values.index(low)),
        "reading": values.index(low) + 1,
    }
    return [Reason("tension-uneven", Level.CAUTION, numbers, limits.rows("spread_caution"))]


def _judge_directions(warp: Sequence[float], weft: Sequence[float], limits: TensionLimits) -> list[Reason]:
    """Warp against weft, by the means of the places where both were measured."""
    both = list(zip(warp, weft, strict=False))
    if not both:
        return []
    means = [fmean(values) for values in zip(*both, strict=True)]
    if min(means) <= 0:
        return []  # stopped by the floor already
    apart = 100 * (max(means) / min(means) - 1)
    if apart <= limits.warp_weft_pct + SLACK:
        return []
    numbers = {
        "warp_n_per_cm": means[0],
        "weft_n_per_cm": means[1],
        "apart_pct": apart,
        "limit_pct": limits.warp_weft_pct,
    }
    return [Reason("tension-warp-weft", Level.CAUTION, numbers, limits.rows("warp_weft_pct"))]


def judge_register(limits: TensionLimits, work: str | None) -> list[Reason]:
    """A frame that holds no register is for one colour only, however tight."""
    if limits.holds_register or not several(work):
        return []
    return [Reason("wood-several-colours", Level.STOP, {}, limits.rows("holds_register"))]


def judge_age(
    age_d: float | None, stencils: int | None, *, limit_d: float, limit_stencils: float, spec: tuple[int, ...] = ()
) -> list[Reason]:
    """Whether the last reading still speaks for the screen: `age_d` None means that there is none."""
    if age_d is None:
        return [Reason("tension-missing", Level.CAUTION, {}, spec)]
    if age_d > limit_d:
        return [Reason("tension-old", Level.CAUTION, {"age_d": age_d, "limit_d": limit_d}, spec)]
    if stencils is not None and stencils >= limit_stencils:
        numbers = {"stencils": stencils, "limit": int(limit_stencils)}
        return [Reason("tension-old-stencils", Level.CAUTION, numbers, spec)]
    return [Reason("tension-recent", Level.OK, {"age_d": age_d}, spec)]


@dataclass(frozen=True, slots=True)
class Since:
    """How far a mesh was since it was last stretched or retensioned: hours, and uses."""

    hours: float
    uses: int


@dataclass(frozen=True, slots=True)
class Spare:
    """How much a reading had to lose: its lowest value and the one where caution starts, in N/cm, and what mesh that
    rested loses in its first uses, in percent."""

    lowest_n_per_cm: float
    watch_n_per_cm: float
    loss_pct: float

    @property
    def enough(self) -> bool:
        """Whether what is left after that loss is not under the watch value."""
        return self.lowest_n_per_cm * (1 - self.loss_pct / 100) >= self.watch_n_per_cm - SLACK


def judge_settled(
    read: Since,
    now: Since,
    *,
    settled_h: float,
    settled_uses: float,
    spare: Spare | None = None,
    spec: tuple[int, ...] = (),
) -> list[Reason]:
    """Whether a reading taken while new mesh was settling still speaks for it; nothing where it was settled then.

    Mesh loses most in its first hours and its first uses. What was read before either was over is provisional: right
    until then, to be measured again after it. Where the mesh had rested and so much of it is to `spare` that the loss
    of the first uses leaves enough, nothing is said either.
    """
    early_h, early_uses = read.hours < settled_h - SLACK, read.uses < settled_uses - SLACK
    if early_uses and now.uses >= settled_uses - SLACK and (early_h or spare is None or not spare.enough):
        numbers: dict[str, Any] = {"uses": read.uses, "since": now.uses, "settled": int(settled_uses)}
        return [Reason("tension-provisional-uses", Level.CAUTION, numbers, spec)]
    if not early_h:
        return []
    numbers = {"after_h": max(0.0, read.hours), "settled_h": settled_h}
    if now.hours >= settled_h - SLACK:
        return [Reason("tension-provisional", Level.CAUTION, numbers, spec)]
    return [Reason("tension-settling", Level.OK, numbers, spec)]


def share_pct(mean_n_per_cm: float, new_mesh_n_per_cm: float) -> float:
    """How much of its own new-mesh tension a screen still has, in percent."""
    return 100 * mean_n_per_cm / new_mesh_n_per_cm


def judge_neighbours(
    own_pct: float | None, others: Mapping[str, float], *, limit_pct: float, spec: tuple[int, ...] = ()
) -> list[Reason]:
    """Whether a screen is as tight as the others of its placement: `others` maps a screen's code to its share.

    The shares are `share_pct`; a share that nobody knows is left out, and nothing is said where none can be compared.
    """
    if own_pct is None or not others:
        return []
    code, furthest = max(others.items(), key=lambda pair: abs(pair[1] - own_pct))
    if abs(furthest - own_pct) <= limit_pct + 1e-9:
        return []
    numbers = {"own_pct": own_pct, "other_pct": furthest, "other": code, "limit_pct": limit_pct}
    return [Reason("tension-far-from-neighbours", Level.CAUTION, numbers, spec)]


# ------------------------------------------------------------------------------------------------------------ loss

# Two-sided 80 % points of Student's t by degrees of freedom (any table of the distribution); beyond 30 the normal's.
_T80 = (
    3.0777, 1.8856, 1.6377, 1.5332, 1.4759, 1.4398, 1.4149, 1.3968, 1.3830, 1.3722, 1.3634, 1.3562, 1.3502, 1.3450,
    1.3406, 1.3368, 1.3334, 1.3304, 1.3277, 1.3253, 1.3232, 1.3212, 1.3195, 1.3178, 1.3163, 1.3150, 1.3137, 1.3125,
    1.3114, 1.3104,
)  # fmt: skip
FORESEEN_USES = 100_000
LEAST_READINGS = 3


@dataclass(frozen=True, slots=True)
class Loss:
    """A fitted loss: tension = start - loss x ln(1 + uses). `None` for the uses: not within FORESEEN_USES."""

    start: Quantity[float]
    loss_per_log_use: Quantity[float]
    residual: Quantity[float]
    uses_to_floor: float | None
    uses_to_floor_low: float | None
    uses_to_floor_high: float | None
    readings: int
    last_uses: float


def _falls_to_zero(height: Callable[[float], float], since: float, end: float) -> float | None:
    """The first x from `since` to `end` where `height` is zero or below, found in small steps and then halved."""
    if height(since) <= 0:
        return since
    x, step = since, (end - since) / 4000
    while x < end:
        if height(x + step) <= 0:
            for _round in range(60):
                step /= 2
                x = x + step if height(x + step) > 0 else x
            return x
        x += step
    return None


def fit_loss(readings: Sequence[tuple[float, Quantity[float]]], floor: Quantity[float]) -> Loss | None:
    """The loss of one mesh since it was stretched, from (uses, tension); None for fewer than three readings.

    Least squares on ln(1 + uses), since mesh loses most in its first prints and washes and then settles (Screen
    Printing, July 2006: 10-15 N/cm with the first wash or 150 prints; two articles: it settles after one or two runs).
    The range is where the 80 % band of the next single reading crosses the floor.
    """
    if any(not math.isfinite(uses) or uses < 0 for uses, _reading in readings):
        raise CannotBe(_("Uses are counted from the stretching and cannot be below zero."))
    if len(readings) < LEAST_READINGS:
        return None
    xs = [math.log1p(uses) for uses, _reading in readings]
    ys = [magnitude(reading, "N/cm") for _uses, reading in readings]
    x_mean, y_mean = fmean(xs), fmean(ys)
    sxx = math.fsum((x - x_mean) ** 2 for x in xs)
    if sxx < 1e-9:
        raise CannotBe(_("All readings are at the same number of uses: nothing can be said about the loss."))
    slope = math.fsum((x - x_mean) * (y - y_mean) for x, y in zip(xs, ys, strict=True)) / sxx
    start = y_mean - slope * x_mean
    freedom = len(xs) - 2
    residual = math.sqrt(math.fsum((y - start - slope * x) ** 2 for x, y in zip(xs, ys, strict=True)) / freedom)
    t = _T80[freedom - 1] if freedom <= len(_T80) else 1.2816
    at_floor = magnitude(floor, "N/cm")
    last = max(xs)

    def crosses(side: float, since: float = 0.0) -> float | None:
        """The x from `since` on where the line, moved by `side` times the band, falls under the floor."""

        def height(x: float) -> float:
            band = t * residual * math.sqrt(1 + 1 / len(xs) + (x - x_mean) ** 2 / sxx)
            return start + slope * x + side * band - at_floor

        return _falls_to_zero(height, since, math.log1p(FORESEEN_USES))

    middle, high = crosses(0), crosses(1)
    # It has not fallen under the floor before the last reading, unless the line says so.
    low = crosses(-1, last if middle is None or middle > last else 0.0)
    if middle is not None:
        low = middle if low is None else min(low, middle)
        high = high if high is None else max(high, middle)
    found = [None if x is None else math.expm1(x) for x in (middle, low, high)]
    return Loss(
        start=quantity(start, "N/cm"),
        loss_per_log_use=quantity(-slope, "N/cm"),
        residual=quantity(residual, "N/cm"),
        uses_to_floor=found[0],
        uses_to_floor_low=found[1],
        uses_to_floor_high=found[2],
        readings=len(xs),
        last_uses=math.expm1(last),
    )


def judge_loss(
    loss: Loss | None,
    readings: int,
    floor_n_per_cm: float,
    *,
    settled_uses: float,
    spec: tuple[int, ...] = (),
    uses_now: float | None = None,
) -> list[Reason]:
    """What a fitted loss comes to: uses left from now on (`uses_now`; None: from the last reading), told apart from
    what cannot be foreseen yet."""
    if loss is None:
        numbers = {"readings": readings, "least": LEAST_READINGS}
        return [Reason("tension-loss-too-few", Level.UNKNOWN, numbers, spec)]
    reasons: list[Reason] = []
    settling = loss.last_uses < settled_uses
    if settling:
        reasons.append(
            Reason(
                "tension-mesh-new", Level.UNKNOWN, {"uses": round(loss.last_uses), "settled": int(settled_uses)}, spec
            )
        )
    said: dict[str, Any] = {"floor_n_per_cm": floor_n_per_cm}
    if settling and (loss.uses_to_floor is None or loss.uses_to_floor > max(loss.last_uses, uses_now or 0.0)):
        return reasons  # the first uses take most: no number out of them is one to plan with
    if loss.uses_to_floor is None and loss.uses_to_floor_low is not None:
        said["low"] = math.floor(loss.uses_to_floor_low)
        reasons.append(Reason("tension-loss-scattered", Level.UNKNOWN, said, spec))
        return reasons
    if loss.uses_to_floor is None:
        reasons.append(Reason("tension-loss-none-foreseen", Level.OK, said, spec))
        return reasons
    left = loss.uses_to_floor - max(loss.last_uses, uses_now or 0.0)
    said |= {"uses": math.floor(loss.uses_to_floor), "left": max(0, math.floor(left))}
    low = 0 if loss.uses_to_floor_low is None else math.floor(loss.uses_to_floor_low)
    said |= {"low": low}
    if loss.uses_to_floor_high is not None:
        said |= {"high": math.floor(loss.uses_to_floor_high)}
    key = "tension-loss-range" if loss.uses_to_floor_high is not None else "tension-loss-open"
    if left <= 0:
        reasons.append(Reason("tension-loss-reached", Level.CAUTION, said, spec))
    else:
        reasons.append(Reason(key, Level.OK, said, spec))
    return reasons


def lowest_place(sets: Iterable[Sequence[float]]) -> tuple[int, str] | None:
    """Over several sets of readings, the position that is lowest on average: its number from 1 and its name."""
    totals: dict[int, list[float]] = {}
    for values in sets:
        if len(values) > 1:
            for index, value in enumerate(values):
                totals.setdefault(index, []).append(value - fmean(values))
    if not totals:
        return None
    index = min(totals, key=lambda place: fmean(totals[place]))
    return index + 1, place_of(index)


phrases(
    {
        "tension-in-spec": (N_("The lowest reading is {lowest_n_per_cm}; {watch_n_per_cm} will do for this work."), ""),
        "tension-under-watch": (
            N_("The lowest reading is {lowest_n_per_cm}, under the {watch_n_per_cm} where caution starts."),
            N_("Usable; retension or restretch soon, and watch the register of the colours. The floor is "
               "{floor_n_per_cm}."),
        ),
        "tension-under-floor": (
            N_("The lowest reading is {lowest_n_per_cm}, under the floor of {floor_n_per_cm}."),
            N_("Do not print this work with it: retension or restretch, or take another screen."),
        ),
        "tension-uneven": (
            N_("The readings differ by {spread_n_per_cm} ({limit_n_per_cm} or more is uneven); lowest is "
               "{place_word}, reading {reading}, with {low_n_per_cm}."),
            N_("Check the frame and that side of the stretch."),
        ),
        "tension-warp-weft": (
            N_("Warp {warp_n_per_cm}, weft {weft_n_per_cm}: {apart_pct} apart (limit {limit_pct})."),
            N_("The print may stretch one way: measure both again at the centre, then even out the stretch."),
        ),
        "tension-evenness-not-measured": (N_("Only one tension reading: nobody knows how even the mesh is."), ""),
        "tension-over-ceiling": (
            N_("The highest reading is {highest_n_per_cm}, over {ceiling_n_per_cm}."),
            N_("Mesh this tight may split: check the mesh maker's limit."),
        ),
        "tension-not-measured": (N_("No tension reading yet."), N_("Measure the centre at least.")),
        "wood-several-colours": (
            N_("A wood frame does not hold register for several colours or halftones."),
            N_("Take an aluminium or roller frame."),
        ),
        "tension-no-floor": (
            N_("The shop has no tension floor for this work."),
            N_("Set one under “Limits”, so that tension can be judged."),
        ),
        "tension-provisional": (
            N_("Tension was measured {after_h} after stretching, before the mesh had settled ({settled_h})."),
            N_("The mesh has lost tension since: measure it again; the centre is enough."),
        ),
        "tension-provisional-uses": (
            N_("Tension was measured at use {uses}, before the mesh had settled; uses now: {since}."),
            N_("The mesh has lost tension since: measure it again; the centre is enough."),
        ),
        "tension-settling": (
            N_("Tension was measured {after_h} after stretching; the mesh settles until {settled_h}: measure"
               " it again then."),
            "",
        ),
        "tension-missing": (N_("The tension was never measured."), N_("Measure it; the centre is enough.")),
        "tension-old": (
            N_("The last tension reading is {age_d} old (limit {limit_d})."),
            N_("Measure it again; the centre is enough."),
        ),
        "tension-old-stencils": (
            N_("The last tension reading is {stencils} stencils old (limit {limit})."),
            N_("Measure it again; the centre is enough."),
        ),
        "tension-recent": (N_("The last tension reading is {age_d} old."), ""),
        "tension-far-from-neighbours": (
            N_("This screen has {own_pct} of its new tension, screen {other} has {other_pct}."),
            N_("Screens of one placement should have about the same tension, or the colours go out of register: take "
               "one nearer to the others."),
        ),
        "tension-loss-too-few": (
            N_("Readings since stretching: {readings}. A forecast needs {least}."),
            N_("Measure again after the next uses."),
        ),
        "tension-loss-same-uses": (
            N_("{readings} readings, all at the same number of uses: no forecast from them."),
            N_("Measure again after the next uses."),
        ),
        "tension-mesh-new": (
            N_("The mesh was still settling when its tension was last measured, at use {uses}; it settles by about use"
               " {settled}."),
            N_("The first prints and washes take most tension: measure again after them, for a forecast."),
        ),
        "tension-loss-none-foreseen": (
            N_("By these readings it stays over {floor_n_per_cm} for longer than anybody plans."),
            N_("Go on measuring."),
        ),
        "tension-loss-scattered": (
            N_("The readings scatter too much: {floor_n_per_cm} may be reached at use {low}, or never."),
            N_("Measure again after the next uses, at the same places."),
        ),
        "tension-loss-reached": (
            N_("The fitted tension has reached {floor_n_per_cm} already (at use {uses})."),
            N_("Measure now; retension or restretch."),
        ),
        "tension-loss-range": (
            N_("Number of uses left until {floor_n_per_cm}: about {left}. It comes at use {uses} "
               "(likely {low} to {high})."),
            "",
        ),
        "tension-loss-open": (
            N_("Number of uses left until {floor_n_per_cm}: about {left}. It comes at use {uses} (earliest {low})."),
            N_("The readings scatter too much to say a latest."),
        ),
    }
)  # fmt: skip
