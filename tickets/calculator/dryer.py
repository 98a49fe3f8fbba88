"""Belt, dwell, and the window of belt speeds that a probe run leaves open.

Cure is the whole ink film reaching temperature; nothing here proves it. A wash test decides.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tickets.calculator.units import CannotBe, convert, exact_text, magnitude, quantity, show_value
from tickets.calculator.verdict import Level, Reason, advised, phrases
from tickets.i18n import N_
from tickets.i18n import gettext as _

if TYPE_CHECKING:
    from pint import Quantity


@dataclass(frozen=True, slots=True)
class Belt:
    """Heated length, time in it, and measured belt speed; `pieces_per_hour` where it is known how many are inside."""

    length: Quantity[float]
    dwell: Quantity[float]
    speed: Quantity[float]
    pieces_per_hour: float | None = None


def belt(
    length: Quantity[float] | None = None,
    dwell: Quantity[float] | None = None,
    speed: Quantity[float] | None = None,
    inside: int | None = None,
) -> Belt:
    """All three from any two: length = speed x dwell (plain kinematics). Pieces an hour are an upper bound, since the
    belt is never full. Raises CannotBe unless exactly two are given."""
    given = {
        "length": None if length is None else magnitude(length, "m"),
        "dwell": None if dwell is None else magnitude(dwell, "min"),
        "speed": None if speed is None else magnitude(speed, "m/min"),
    }
    if sum(value is not None for value in given.values()) != 2:
        raise CannotBe(_("Give two of length, dwell and speed; the third is worked out."))
    if any(value is not None and value <= 0 for value in given.values()):
        raise CannotBe(_("Length, dwell and speed must be more than nothing."))
    if inside is not None and inside < 1:
        raise CannotBe(_("The number of pieces inside is a whole number from 1 on."))
    metres, minutes, metres_per_min = given["length"], given["dwell"], given["speed"]
    if metres is None and minutes is not None and metres_per_min is not None:
        metres = minutes * metres_per_min
    elif minutes is None and metres is not None and metres_per_min is not None:
        minutes = metres / metres_per_min
    elif metres is not None and minutes is not None:
        metres_per_min = metres / minutes
    assert metres is not None and minutes is not None and metres_per_min is not None
    return Belt(
        quantity(metres, "m"),
        quantity(60 * minutes, "s"),
        quantity(metres_per_min, "m/min"),
        None if inside is None else inside * 60 / minutes,
    )


# ------------------------------------------------------------------------------------------------------- probe run


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark of a probe run: seconds since the probe entered the heated chamber, and its temperature."""

    s: float
    c: float


def checked(
    marks: Sequence[Mark],
    lines: Sequence[int] = (),
    lowest_c: float = -math.inf,
    highest_c: float = math.inf,
    unit: str = "degC",
) -> list[Mark]:
    """The marks, if they can be a run: at least two, times rising from 0 on, none colder than `lowest_c` nor hotter
    than `highest_c`. Raises CannotBe naming the line at fault, which `lines` tells (else the marks are counted from 1);
    `unit` (degC, degF): what the marks were noted in."""
    if len(marks) < 2:
        raise CannotBe(_("A probe run has at least two marks of time and temperature."))
    before = -math.inf
    for place, mark in enumerate(marks):
        line = lines[place] if lines else place + 1
        if mark.s < 0 or mark.s <= before:
            raise CannotBe(
                _("Line {line}: {seconds} s does not come after the mark before it; times rise from 0, the moment the"
                  " probe enters the heated chamber.").format(line=line, seconds=exact_text(mark.s))
            )  # fmt: skip
        if not lowest_c - 1e-9 <= mark.c <= highest_c + 1e-9:
            said = {name: show_value(convert(value, "degC", unit), unit, "us" if unit == "degF" else "metric")
                    for name, value in (("mark", mark.c), ("low", lowest_c), ("high", highest_c))}  # fmt: skip
            message = _("Line {line}: {mark} cannot be a garment in a dryer, which is between {low} and {high}.")
            if unit == "degC" and mark.c > highest_c:
                message = _("Line {line}: {mark} cannot be a garment in a dryer, which is between {low} and {high}. "
                            "Are these °F? Then call the columns s,f.")  # fmt: skip
            raise CannotBe(message.format(line=line, **said))
        before = mark.s
    return list(marks)


def time_above(marks: Sequence[Mark], limit_c: float) -> float:
    """Seconds at or above a temperature, with straight lines between the marks."""
    total = 0.0
    for one, two in zip(marks, marks[1:], strict=False):
        low, high = sorted((one.c, two.c))
        if low >= limit_c:
            total += two.s - one.s
        elif high > limit_c:
            total += (two.s - one.s) * (high - limit_c) / (high - low)
    return total


@dataclass(frozen=True, slots=True)
class WarmUp:
    """T(t) = air - rise x exp(-t / tau), fitted; `error_c` is the root mean square of what the fit leaves over."""

    air_c: float
    rise_c: float
    tau_s: float
    error_c: float

    def at(self, s: float) -> float:
        """The temperature after `s` seconds in the heat."""
        return self.air_c - self.rise_c * math.exp(-s / self.tau_s)

    def reaches(self, c: float) -> float | None:
        """Seconds until `c` is reached; None when it never is."""
        start = self.air_c - self.rise_c
        if c <= start:
            return 0.0
        if c >= self.air_c:
            return None
        return self.tau_s * math.log(self.rise_c / (self.air_c - c))


LEAST_MARKS = 4


def fit_warm_up(marks: Sequence[Mark]) -> WarmUp | None:
    """The first-order warm-up that is nearest to the marks; None for fewer than four, or marks that do not warm up.

    For a given tau the best air temperature and rise are plain least squares, so only tau is searched for.
    """
    if len(marks) < LEAST_MARKS or marks[-1].c - marks[0].c < 1:
        return None
    count, length = len(marks), marks[-1].s - marks[0].s

    def fitted(log_tau: float) -> WarmUp | None:
        tau = math.exp(log_tau)
        xs = [math.exp(-mark.s / tau) for mark in marks]
        x_mean = math.fsum(xs) / count
        c_mean = math.fsum(mark.c for mark in marks) / count
        sxx = math.fsum((x - x_mean) ** 2 for x in xs)
        if sxx < 1e-12:
            return None
        slope = math.fsum((x - x_mean) * (mark.c - c_mean) for x, mark in zip(xs, marks, strict=True)) / sxx
        air = c_mean - slope * x_mean
        left = math.fsum((air + slope * x - mark.c) ** 2 for x, mark in zip(xs, marks, strict=True))
        return WarmUp(air, -slope, tau, math.sqrt(left / count))

    def error(log_tau: float) -> float:
        one = fitted(log_tau)
        return math.inf if one is None or one.rise_c <= 0 else one.error_c

    low, high = math.log(length / 50), math.log(length * 20)
    grid = [low + (high - low) * i / 200 for i in range(201)]
    best = min(range(len(grid)), key=lambda i: error(grid[i]))
    low, high = grid[max(0, best - 1)], grid[min(200, best + 1)]
    golden = (math.sqrt(5) - 1) / 2
    for _round in range(80):
        left, right = high - golden * (high - low), low + golden * (high - low)
        if error(left) <= error(right):
            high = right
        else:
            low = left
    found = fitted((low + high) / 2)
    return found if found is not None and found.rise_c > 0 else None


@dataclass(frozen=True, slots=True)
class Window:
    """What a probe run shows, and the belt speeds that keep both limits. Speeds are in m/min.

    `peak`, `time_above_cure` and `time_above_bleed` are of all marks; `held`: the time at the cure before the exit,
    which alone moves with the belt and so alone counts. `slowest` is None where even a standing belt would not reach
    the dye's limit (or none is given), `fastest` is None where no speed cures; `fits` tells whether the marks follow
    one warm-up (within `largest_error_c`), without which there are no speeds. `cured`, `bled`: what the run came to at
    its own speed; both agree with the window: cured where the run is not faster than `fastest`, bled where it is slower
    than `slowest`.
    """

    peak: Quantity[float]
    time_above_cure: Quantity[float]
    time_above_bleed: Quantity[float] | None
    held: Quantity[float]
    slowest: Quantity[float] | None
    fastest: Quantity[float] | None
    fits: bool
    cured: bool
    bled: bool
    warm_up: WarmUp | None
    heated_m: float
    largest_error_c: float

    @property
    def open(self) -> bool:
        """True when some speed keeps both limits."""
        if self.fastest is None:
            return False
        return self.slowest is None or bool(magnitude(self.slowest, "m/min") <= magnitude(self.fastest, "m/min"))


def in_the_heat(marks: Sequence[Mark], dwell_s: float) -> list[Mark]:
    """The marks up to the hottest one, as far as it lies inside the chamber: what warms up, without what cools down."""
    inside = [mark for mark in marks if mark.s <= dwell_s + 1e-9]
    if not inside:
        return []
    hottest = max(range(len(inside)), key=lambda i: inside[i].c)
    return inside[: hottest + 1]


def before_exit(marks: Sequence[Mark], dwell_s: float) -> list[Mark]:
    """The marks inside the chamber, and where the line between two marks crosses the exit a mark there."""
    inside = [mark for mark in marks if mark.s <= dwell_s + 1e-9]
    after = next((mark for mark in marks if mark.s > dwell_s + 1e-9), None)
    if inside and after is not None:
        last = inside[-1]
        if dwell_s > last.s:
            share = (dwell_s - last.s) / (after.s - last.s)
            inside.append(Mark(dwell_s, last.c + share * (after.c - last.c)))
    return inside


def first_at(marks: Sequence[Mark], limit_c: float) -> float | None:
    """Seconds until the marks, joined by straight lines, first pass a temperature; None where they never do."""
    if marks and marks[0].c > limit_c:
        return marks[0].s
    for one, two in zip(marks, marks[1:], strict=False):
        if two.c > limit_c:
            return one.s + (two.s - one.s) * (limit_c - one.c) / (two.c - one.c)
    return None


# whole: one derivation, each line from the one before; its parts share every value
def window(
    marks: Sequence[Mark],
    cure: Quantity[float],
    hold: Quantity[float],
    bleed: Quantity[float] | None,
    length: Quantity[float],
    speed: Quantity[float],
    *,
    largest_error_c: float,
) -> Window:
    """The window of belt speeds, from one probe run at `speed` through a heated chamber of `length`.

    Assumes: the same garment, load and dryer setting; marks at the same belt position see the same heat at any speed;
    a dry garment warming up in even heat (first order, standard engineering, fitted to these marks). The cure limit is
    at least `hold` at or above `cure` before the exit; the dye limit is a peak no higher than `bleed`. Where the marks
    begin to fall inside the chamber, only the length up to there counts as heated. What was measured at the run's own
    speed comes before the fit: the window holds that speed just where the run kept both limits.
    """
    marks = checked(marks)
    cure_c, hold_s = magnitude(cure, "degC"), magnitude(hold, "s")
    bleed_c = None if bleed is None else magnitude(bleed, "degC")
    metres, metres_per_min = magnitude(length, "m"), magnitude(speed, "m/min")
    if metres <= 0 or metres_per_min <= 0:
        raise CannotBe(_("Length and speed must be more than nothing."))
    dwell = 60 * metres / metres_per_min
    warming, inside = in_the_heat(marks, dwell), before_exit(marks, dwell)
    warm_up = fit_warm_up(warming)
    fits = warm_up is not None and warm_up.error_c <= largest_error_c
    cools_inside = bool(warming) and any(warming[-1].s < mark.s <= dwell + 1e-9 for mark in marks)
    heated = warming[-1].s * metres_per_min / 60 if cools_inside else metres
    held = time_above(inside, cure_c)
    hottest_inside = max((mark.c for mark in inside), default=-math.inf)
    cured = hottest_inside >= cure_c and held >= hold_s - 1e-9
    bled = bleed_c is not None and max(mark.c for mark in marks) > bleed_c
    fastest: float | None = None
    slowest: float | None = None
    if fits and warm_up is not None:
        to_cure = warm_up.reaches(cure_c)
        if to_cure is not None and to_cure + hold_s > 0:
            fastest = 60 * heated / (to_cure + hold_s)
        to_bleed = None if bleed_c is None else warm_up.reaches(bleed_c)
        if to_bleed is not None:
            # Already hot enough on the way in: no speed is fast enough.
            slowest = 60 * heated / to_bleed if to_bleed > 0 else math.inf
        if cured:
            fastest = max(fastest or 0.0, metres_per_min)
        elif fastest is not None and fastest >= metres_per_min:
            # the fit is kinder than the marks: as much longer as the marks were short, or nothing can be said
            fits = held > 0
            fastest = 60 * metres / (dwell + hold_s - held)
        if bled and bleed_c is not None and (slowest is None or slowest <= metres_per_min):
            passed = first_at(inside, bleed_c)
            fits = fits and passed is not None and passed < dwell
            slowest = math.inf if not passed else 60 * metres / passed
        elif not bled and slowest is not None:
            slowest = min(slowest, metres_per_min)
    return Window(
        peak=quantity(max(mark.c for mark in marks), "degC"),
        time_above_cure=quantity(time_above(marks, cure_c), "s"),
        time_above_bleed=None if bleed_c is None else quantity(time_above(marks, bleed_c), "s"),
        held=quantity(held, "s"),
        slowest=None if slowest is None or not fits else quantity(slowest, "m/min"),
        fastest=None if fastest is None or not fits else quantity(fastest, "m/min"),
        fits=fits,
        cured=cured,
        bled=bled,
        warm_up=warm_up,
        heated_m=heated,
        largest_error_c=largest_error_c,
    )


def cooler(found: Window, cure_c: float, hold_s: float, bleed_c: float) -> float | None:
    """The fastest belt (m/min) that still cures where the heat is lowered until the garment levels out at the dye's
    limit: cooler and slower. None where that cannot cure. The warm-up's pace (tau) is taken to stay."""
    if found.warm_up is None:
        return None
    start = found.warm_up.air_c - found.warm_up.rise_c
    reached = WarmUp(bleed_c, bleed_c - start, found.warm_up.tau_s, 0.0).reaches(cure_c) if bleed_c > start else None
    return None if reached is None else 60 * found.heated_m / (reached + hold_s)


def _inwards(limit: float, own: float, rounded: Callable[[float], int]) -> float:
    """A limit of speed rounded to three figures, but not past the run's own speed where that keeps it."""
    step = 10.0 ** (math.floor(math.log10(limit)) - 2)
    tidy = rounded(round(limit / step, 6)) * step
    kept, still = (own <= limit, own <= tidy) if rounded is math.floor else (own >= limit, own >= tidy)
    return own if kept and not still else tidy


def judge_window(
    found: Window,
    cure: Quantity[float],
    hold: Quantity[float],
    bleed: Quantity[float] | None,
    speed: Quantity[float],
    *,
    spec: tuple[int, ...] = (),
) -> list[Reason]:
    """What a probe run comes to at its own speed, and whether any speed would serve; a run that is too cold for the ink
    and too hot for the dye is told what to do once, by the reason about the speeds."""
    found_so = _judge_window(found, cure, hold, bleed, speed, spec)
    keys = {one.key for one in found_so}
    if {"cure-short", "bleed-passed"} <= keys or "cure-over-bleed" in keys:
        return advised(found_so, {"cure-short", "bleed-passed"})
    return found_so


def _judge_window(
    found: Window,
    cure: Quantity[float],
    hold: Quantity[float],
    bleed: Quantity[float] | None,
    speed: Quantity[float],
    spec: tuple[int, ...],
) -> list[Reason]:
    cure_c, hold_s = magnitude(cure, "degC"), magnitude(hold, "s")
    above_s, peak_c = magnitude(found.held, "s"), magnitude(found.peak, "degC")
    said: dict[str, Any] = {"above_s": above_s, "cure_c": cure_c, "hold_s": hold_s, "peak_c": peak_c}
    reasons: list[Reason] = []
    if found.cured:
        reasons.append(Reason("cure-reached", Level.OK, said, spec))
    else:
        reasons.append(Reason("cure-short", Level.STOP, said, spec))
    if bleed is None:
        reasons.append(Reason("bleed-not-judged", Level.OK, {}, spec))
    else:
        bleed_c = magnitude(bleed, "degC")
        bled = {"peak_c": peak_c, "bleed_c": bleed_c, "cure_c": cure_c}
        if found.bled and found.time_above_bleed is not None:
            numbers = {**bled, "above_s": magnitude(found.time_above_bleed, "s")}
            reasons.append(Reason("bleed-passed", Level.CAUTION, numbers, spec))
        if bleed_c <= cure_c:
            reasons.append(Reason("cure-over-bleed", Level.STOP, bled, spec))
            return reasons
    if not found.fits or found.warm_up is None:
        reasons.append(Reason("warm-up-not-fitted", Level.UNKNOWN, {"largest_c": found.largest_error_c}, spec))
    elif found.fastest is None:
        reasons.append(
            Reason("air-under-cure", Level.STOP, {"cure_c": cure_c, "air_c": round(found.warm_up.air_c, 1)}, spec)
        )
    elif not found.open:
        numbers = {"fastest_m_per_min": magnitude(found.fastest, "m/min"), "hold_s": hold_s}
        if found.slowest is not None and math.isfinite(magnitude(found.slowest, "m/min")):
            numbers["slowest_m_per_min"] = magnitude(found.slowest, "m/min")
            if bleed is not None:
                bleed_c = magnitude(bleed, "degC")
                slower = cooler(found, cure_c, hold_s, bleed_c)
                if slower is not None:  # always so, since the dye's limit lies above the cure here
                    numbers |= {"bleed_c": bleed_c, "cooler_m_per_min": slower}
            reasons.append(Reason("no-speed-serves", Level.STOP, numbers, spec))
        else:
            reasons.append(Reason("no-speed-at-all", Level.STOP, numbers, spec))
    else:
        own, fastest = magnitude(speed, "m/min"), magnitude(found.fastest, "m/min")
        # said inwards, so that whoever sets the belt to the number that stands there keeps both limits
        numbers = {"fastest_m_per_min": _inwards(fastest, own, math.floor), "speed_m_per_min": own}
        if found.slowest is None:
            reasons.append(Reason("speed-window-open", Level.OK, numbers, spec))
        else:
            numbers["slowest_m_per_min"] = _inwards(magnitude(found.slowest, "m/min"), own, math.ceil)
            reasons.append(Reason("speed-window", Level.OK, numbers, spec))
    return reasons


phrases(
    {
        "cure-reached": (
            N_("At this speed the probe was at {cure_c} or over for {above_s} ({hold_s} wanted). No proof of cure."),
            N_("Wash-test a print; the ink's data sheet wins."),
        ),
        "cure-short": (
            N_("At this speed the probe was at {cure_c} or over for {above_s} only; {hold_s} are wanted (peak "
               "{peak_c})."),
            N_("Slow the belt or raise the heat, and run the probe again."),
        ),
        "bleed-not-judged": (N_("No dye-bleed limit was given."), ""),
        "bleed-passed": (
            N_("The garment reached {peak_c} and stayed above {bleed_c}, where its dye can bleed, for {above_s}."),
            N_("Turn the dryer down, do not stack hot, and look at a print after 1 and after 2 days."),
        ),
        "cure-over-bleed": (
            N_("No belt speed works: the ink cures at {cure_c}, and the dye may bleed from {bleed_c}."),
            N_("Take an ink that cures lower, then less heat and a slower belt; test this garment's lot."),
        ),
        "warm-up-not-fitted": (
            N_("The marks do not follow one warm-up (within {largest_c}), so no belt speeds can be worked out."),
            N_("Note a mark every 30 cm, with a dry garment, or find the speed by running the probe again."),
        ),
        "air-under-cure": (
            N_("No belt speed works: this heat leads to {air_c} only, and the ink cures at {cure_c}."),
            N_("Raise the set temperature, or take an ink that cures lower. Run the probe again."),
        ),
        "no-speed-serves": (
            N_("No belt speed works: the cure wants {fastest_m_per_min} or slower, the dye {slowest_m_per_min} or "
               "faster."),
            N_("Lower the set temperature until the garment levels out at about {bleed_c}, and slow the belt to about "
               "{cooler_m_per_min}. Or take an ink that cures lower. Run the probe again."),
        ),
        "no-speed-at-all": (
            N_("No belt speed works: the garment is over its dye's limit as it goes in."),
            N_("Let it cool first, or check the limit and the probe."),
        ),
        "speed-window": (
            N_("{slowest_m_per_min} to {fastest_m_per_min} keep both limits, by this run."),
            N_("An estimate: run the probe again at the speed you choose, and wash-test."),
        ),
        "speed-window-open": (
            N_("{fastest_m_per_min} or slower keeps the limits, by this run."),
            N_("An estimate: run the probe again at the speed you choose, and wash-test."),
        ),
    }
)  # fmt: skip
