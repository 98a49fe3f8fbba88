"""The calculator's figures over whole grids, to six digits: what a lamp, a dryer, a mesh and its life come to, with
what is said of each. That the formulas are right is held by published values elsewhere; here no place of them moves."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict, is_dataclass
from typing import Any

from test_whole_rules import SPEC, said, shown
from whole import same_as_read

from tickets.calculator import colour, cure, dryer, drying, exposure, ink, lamp, lifetime, mesh, stencil, tension
from tickets.calculator.colour import Lab
from tickets.calculator.cure import CureLimit, CureNeed, Heat, Stand
from tickets.calculator.drying import Air
from tickets.calculator.exposure import Combination, Washout
from tickets.calculator.lifetime import UsesOfMesh
from tickets.calculator.units import CannotBe, quantity


def figures(value: Any) -> str:
    if hasattr(value, "magnitude"):
        return f"{value.magnitude:.6g} {value.units:~}"
    if is_dataclass(value) and not isinstance(value, type):
        return ", ".join(f"{name} {figures(getattr(value, name))}" for name in value.__dataclass_fields__)
    if isinstance(value, dict):
        return "; ".join(f"{name}: {figures(part)}" for name, part in value.items())
    if isinstance(value, list | tuple):
        return f"({', '.join(map(figures, value))})"
    return shown(value)


def tried(act: Callable[..., Any], *given: Any, **more: Any) -> str:
    try:
        return figures(act(*given, **more))
    except CannotBe as fault:
        return f"! {fault}"


def n_per_cm(*values: float) -> list[Any]:
    return [quantity(value, "N/cm") for value in values]


# -- tension


def losses() -> Iterator[str]:
    for sets in ((24.0,), (24.0, 23.0, 25.5), (24.0, 20.0, 22.0, 23.0, 25.0), (), (24.0,) * 9, (24.0,) * 10):
        yield f"{sets}: {tried(tension.summary, n_per_cm(*sets))}"
    for index in range(10):
        yield f"reading {index}: {tension.place_of(index)}"
    lines: dict[str, list[tuple[float, float]]] = {
        "slow": [(0, 26.0), (5, 24.0), (20, 23.1), (60, 22.0)], "fast": [(0, 24.0), (2, 20.0), (5, 17.5), (9, 16.8)],
        "noisy": [(0, 26.0), (5, 22.0), (20, 24.5), (60, 20.0), (80, 22.5)], "rising": [(0, 20.0), (5, 21.0), (20,
        22.0)],
        "three": [(1, 25.0), (10, 22.0), (30, 21.0)], "two": [(1, 25.0), (10, 22.0)], "at one": [(5, 25.0), (5,
        24.0), (5, 23.0)],
        "under the floor": [(0, 16.0), (5, 14.0), (20, 13.0)], "below zero": [(-1, 24.0), (2, 23.0), (3, 22.0)],
        "many": [(uses, 26 - 1.1 * math.log1p(uses) + (uses % 3) / 5) for uses in range(0, 66, 5)],
        "very many": [(uses, 26 - 1.1 * math.log1p(uses) + (uses % 3) / 5) for uses in range(0, 66, 2)],
    }  # fmt: skip
    for name, line in lines.items():
        readings = [(uses, quantity(value, "N/cm")) for uses, value in line]
        for floor in (15.0, 18.0):
            told = tried(tension.fit_loss, readings, quantity(floor, "N/cm"))
            yield f"{name}, floor {floor:g}: {told}"
            if told.startswith(("!", "None")):
                continue
            loss = tension.fit_loss(readings, quantity(floor, "N/cm"))
            for now in (None, 10.0, 200.0):
                found = tension.judge_loss(loss, len(line), floor, settled_uses=2, uses_now=now, spec=(1,))
                yield f"  now {now}: {said(found)}"
    for readings_of in (0, 2, 3):
        yield f"no loss, {readings_of} readings: {said(tension.judge_loss(None, readings_of, 15.0, settled_uses=2))}"
    for one in ([(24, 22, 23)], [(24, 22, 23), (24, 25, 21)], [], [(24,)], [(24, 22), (20, 26, 19)]):
        yield f"lowest of {one}: {tension.lowest_place(one)}"


def limits() -> Iterator[str]:
    for work, frame, count, tint in itertools.product(
        ("one-colour", "colours", "halftone", None), ("aluminium", "wood", "roller", None), (60.0, 160.0, 230.0,
        305.0, None),
        ("white", "yellow"),
    ):  # fmt: skip
        if tint == "yellow" and count != 230.0:
            continue
        found = tension.limits(SPEC.find, work=work, frame=frame, count_per_in=count, mesh_colour=tint)
        yield f"{work}, {frame}, {count}, {tint}: {figures({k: v for k, v in asdict(found).items() if k != 'spec'})}"
    bare = tension.TensionLimits(20.0, 15.0, 24.0, 34.0, 5.0, 15.0)
    for warp, weft in (
        ((24.0, 24.0), (24.0, 24.0)),
        ((24.0,), (20.0,)),
        ((24.0, 29.0), ()),
        ((24.0, 28.9), ()),
        ((34.0,), ()),
        ((34.1,), ()),
        ((15.0,), ()),
        ((14.9999,), ()),
        ((20.0,), ()),
        ((19.9999,), ()),
        ((24.0, 24.0), (27.9, 27.9)),
        ((24.0,), (27.6,)),
    ):
        for work in ("colours", None):
            part_1 = said(tension.judge(warp, weft, bare, work=work))
            part_2 = tension.under_floor(warp, weft, bare)
            yield f"{warp}, {weft}, {work}: {part_1}; {part_2}"
    for read, now in itertools.product(
        ((0, 0), (23.9, 1), (24, 1), (5, 2), (5, 1), (30, 3)), ((1, 0), (24, 1), (30, 1), (30, 2), (60, 5))
    ):
        since = tension.Since(*read), tension.Since(*now)
        for spare in (None, tension.Spare(24.0, 20.0, 15.0), tension.Spare(23.0, 20.0, 15.0)):
            found = tension.judge_settled(*since, settled_h=24, settled_uses=2, spare=spare, spec=(1,))
            yield f"settled {read}, {now}, {spare and spare.lowest_n_per_cm}: {said(found)}"
    for age, stencils in itertools.product((None, 0.0, 89.9, 90.0, 90.1), (None, 4, 5)):
        yield f"age {age}, {stencils}: {said(tension.judge_age(age, stencils, limit_d=90, limit_stencils=5))}"


def test_how_tension_falls() -> None:
    same_as_read("figures_tension", losses())


def test_what_a_tension_must_be() -> None:
    same_as_read("figures_limits", limits())


# -- light


def strips(*held: float, time: float = 60.0, first: float = 0.0, apart: float = 1.0, **more: Any) -> list[Washout]:
    of = more.pop("of", Combination("A", "Aqua", 230.0, 48.0, "yellow", "1+1"))
    return [Washout(of, time, step, first + apart * number, **more) for number, step in enumerate(held)]


OTHER = Combination("A", "Aqua", 160.0, 64.0, "white", "1+1")
FADING = [7 - number / 12 for number in range(36)]
LAMPS: dict[str, list[Washout]] = {
    "none": [], "one": strips(7.0), "steady": strips(*[7.0] * 20), "fading": strips(*FADING),
    "noisy": strips(*[7.0, 6.0, 8.0] * 8),
    "at once": strips(*[7.0] * 12, *[5.0] * 12), "brighter": strips(*[5.0] * 12, *[7.0] * 12),
    "two sorts": [*strips(*FADING[:12]), *strips(*FADING[12:], time=30.0, first=12, of=OTHER)],
    "two sorts a day": [*strips(*[7.0] * 12, apart=0.5), *strips(*[6.5] * 12, of=OTHER, apart=0.5)],
    "two distances": [*strips(*[7.0] * 9, distance_mm=900.0), *strips(*[6.0] * 9, first=9, distance_mm=918.0),
                      *strips(*[5.0] * 9, first=18, distance_mm=919.0)],
    "bounds left out": [*strips(0.5, 21.0, 7.0, 7.0), *strips(7.0, time=0.0)],
    "few": strips(7.0, 7.0, 6.5, 7.0, 6.5, 6.0, 6.0),
}  # fmt: skip


def lamps() -> Iterator[str]:
    for name, some in LAMPS.items():
        found = lamp.drift(some, "A")
        part_1 = figures((found.latest, found.low, found.high, found.error, found.combinations, found.noise))
        yield f"{name}: {part_1}"
        yield f"  points: {figures(found.points[-3:])}; line: {figures(found.line[-3:])}"
        for limit in (0.1, 0.25, 1.0):
            for hours, age in ((None, None), (499.9, 181.0), (500.0, 10.0), (10.0, 182.0)):
                told = lamp.judge_lamp(hours=hours, age_d=age, drift=found, limit_h=500, limit_d=182, limit_drift=limit)
                if limit == 0.25 or hours is None:
                    yield f"  {limit:g}, {hours} h, {age} d: {said(told)}; {found.weak(limit)} {found.strong(limit)}"
    yield f"another unit: {figures(lamp.drift(LAMPS['steady'], 'B'))}"
    for hours, age, limit_h, limit_d in (
        (10.0, 5.0, None, None),
        (None, 5.0, 500.0, None),
        (10.0, None, None, 182.0),
        (None, None, None, None),
    ):
        told = lamp.judge_lamp(hours=hours, age_d=age, drift=None, limit_h=limit_h, limit_d=limit_d, limit_drift=0.25)
        yield f"no strips, {hours} of {limit_h}, {age} of {limit_d}: {said(told)}"
    part_1 = figures(
        [
            lamp.scatter(needs, [0] * len(needs))
            for needs in ([], [1.0], [1.0, 2.0], [1.0, 9.0], [1.0] * 9, [0.0, 1.0] * 9)
        ]
    )
    yield f"scatter: {part_1}"
    keys = [(one.of, one.distance_mm) for one in (*LAMPS["two distances"], *LAMPS["two sorts"])]
    yield f"alike: {lamp.alike(keys)}"


def times() -> Iterator[str]:
    s = lambda value: quantity(value, "s")  # noqa: E731
    for held, wanted in itertools.product((0.0, 1.0, 5.0, 7.0, 21.0, 22.0), (1.0, 7.0, 21.0, 0.0)):
        part_1 = tried(exposure.step_factor, held, wanted)
        part_2 = tried(exposure.step_time, s(60.0), held, wanted)
        yield f"step {held:g} for {wanted:g}: {part_1}, {part_2}"
    for factor in (0.0, 0.25, 1.0, 1.5, -1.0):
        yield f"film {factor}: {tried(exposure.film_time, s(60.0), factor)}"
    for best in ("inside", "clearest", "darkest"):
        yield f"film {best}: {said(exposure.judge_film(best))}"
    m = lambda value: quantity(value, "mm")  # noqa: E731
    for was, now in ((900.0, 900.0), (900.0, 1200.0), (1200.0, 900.0), (0.0, 900.0), (900.0, 0.0)):
        yield f"{was:g} to {now:g} mm: {tried(exposure.distance_time, s(60.0), m(was), m(now))}"
    light = lambda value: quantity(value, "mW/cm2")  # noqa: E731
    wanted_dose = quantity(300.0, "mJ/cm2")
    for value in (0.0, 5.0, 9.5):
        told = [tried(exposure.dose, light(value), s(60.0)), tried(exposure.dose_time, wanted_dose, light(value))]
        told.append(tried(exposure.lamp_time, s(60.0), light(8.0), light(value)))
        yield f"{value} mW/cm2: {', '.join(told)}"
    for distance, diagonal in ((1.0, None), (1.0, 1.0), (0.999, 1.0), (1.5, 1.0)):
        part_1 = said(exposure.judge_distance(distance, diagonal, diagonals=1.0, spec=(1,)))
        yield f"{distance} of {diagonal} m: {part_1}"
    for held in (None, 0.0, 1.0, 6.9, 7.0, 9.0, 9.1, 21.0):
        for unit, time in (("s", 60.0), ("units", 40.0), ("s", None)):
            yield f"held {held}, {time} {unit}: {said(exposure.judge_step(held, 7.0, time, above=2.0, unit=unit))}"
    for time, wanted in (
        (None, 60.0),
        (60.0, None),
        (54.0, 60.0),
        (53.9, 60.0),
        (66.0, 60.0),
        (66.1, 60.0),
        (0.5, 0.5),
        (1.0, 1.0),
        (0.0, 0.0),
    ):
        for unit in ("s", "units"):
            yield f"{time} of {wanted} {unit}: {said(exposure.judge_time(time, wanted, tolerance=0.1, unit=unit))}"
    of = Combination("A", "Aqua", 230.0, 48.0, "yellow", "1+1")
    for name, other in {
        "unit": Combination("B", "Aqua", 230.0, 48.0, "yellow", "1+1"), "emulsion": Combination("A", "Brine",
        230.0, 48.0, "yellow", "1+1"),
        "count at": Combination("A", "Aqua", 236.9, 48.0, "yellow", "1+1"), "count over": Combination("A", "Aqua",
        237.0, 48.0, "yellow", "1+1"),
        "thread at": Combination("A", "Aqua", 230.0, 50.0, "yellow", "1+1"), "thread over": Combination("A",
        "Aqua", 230.0, 50.1, "yellow", "1+1"),
        "nothing noted": Combination("A", "Aqua"), "colour, coats": Combination("A", "Aqua", 230.0, 48.0, "white",
        "2+1"),
    }.items():  # fmt: skip
        yield f"{name}: {of.differs(other)}, {other.differs(of)}, {other.unnoted()}"


def learned() -> Iterator[str]:
    of = Combination("A", "Aqua", 230.0, 48.0, "yellow", "1+1")
    cases: dict[str, list[Washout]] = {
        "none": [], "one": strips(7.0), "two": strips(7.0, 6.0), "three": strips(7.0, 6.0, 7.0),
        "over": strips(8.0, 9.0, 9.5, 8.0),
        "scattered": strips(5.0, 7.0, 6.0, 8.0, 6.0), "moved": [*strips(*[7.0] * 8), *strips(*[5.0] * 3, first=8)],
        "bounds": strips(0.5, 21.0),
        "old ones": [*strips(*[5.0] * 20), *strips(*[7.0] * 20, first=20)], "another sort": strips(7.0, 7.0, 7.0,
        of=OTHER),
        "a nearer one": [*strips(7.0, of=OTHER), *strips(6.0, of=Combination("A", "Aqua", 200.0, 48.0, "yellow",
        "1+1"))],
        "another unit": strips(7.0, of=Combination("B", "Aqua")), "not noted": strips(7.0, 7.0, 7.0,
        of=Combination("A", "Aqua", 230.0)),
        "irradiance": strips(7.0, 7.0, 7.0, irradiance_mw_cm2=8.0), "distance": strips(7.0, 7.0, 7.0,
        distance_mm=900.0),
    }  # fmt: skip
    for name, some in cases.items():
        for more in (
            {},
            {"above": 2.0, "tolerance": 0.2},
            {"irradiance_mw_cm2": 10.0, "distance_mm": 1200.0, "lamp": "point"},
            {"counts_units": True, "irradiance_mw_cm2": 10.0, "distance_mm": 1200.0, "lamp": "point"},
        ):
            found = exposure.learn(some, of, 7.0, **more)
            told = (
                figures(
                    (
                        found.time,
                        found.readings,
                        found.spread,
                        found.differs,
                        found.unnoted,
                        found.before,
                        found.low,
                        found.high,
                    )
                )
                if found
                else "None"
            )
            yield f"{name}, {', '.join(more) or 'plain'}: {told}"
        found = exposure.learn(some, of, 7.0, above=2.0, tolerance=0.2)
        for unit in ("s", "units"):
            yield f"  {said(exposure.judge_learned(found, unit=unit))}"
        for set_time in (60.0, 72.0, 72.1, 100.0, 20.0):
            yield f"  set {set_time:g}: {said(exposure.judge_set_time(set_time, found, tolerance=0.2, unit='s'))}"


def test_what_strips_say_of_a_lamp() -> None:
    same_as_read("figures_lamp", lamps())


def test_how_long_to_expose() -> None:
    same_as_read("figures_times", times())


def test_what_washouts_teach_of_an_exposure() -> None:
    same_as_read("figures_learned", learned())


# -- heat


def run(air: float, tau: float, *at: float, noise: float = 0.0) -> list[dryer.Mark]:
    return [dryer.Mark(s, air - (air - 25) * math.exp(-s / tau) + noise * (-1) ** n) for n, s in enumerate(at)]


TEN = tuple(float(s) for s in range(0, 100, 10))
RUNS: dict[str, list[dryer.Mark]] = {
    "even": run(190, 30, *TEN), "slow": run(190, 80, *TEN), "cool": run(150, 30, *TEN), "hot": run(230, 20, *TEN),
    "noisy": run(190, 30, *TEN, noise=6.0),
    "falls at the end": [*run(190, 30, *TEN[:6]), dryer.Mark(60, 150), dryer.Mark(70, 120)], "few": run(190, 30, 0,
    20, 40),
    "falls at once": [dryer.Mark(0, 180), dryer.Mark(20, 150), dryer.Mark(40, 120), dryer.Mark(60, 90)],
    "flat": [dryer.Mark(s, 100) for s in TEN],
    "past the exit": run(190, 30, *TEN, 110, 130), "warm at the start": [dryer.Mark(s, 150 + s / 3) for s in TEN],
    "four": run(190, 30, 0, 20, 40, 60),
}  # fmt: skip


def dryers() -> Iterator[str]:
    m, s, v = (
        (lambda value: quantity(value, "m")),
        (lambda value: quantity(value, "s")),
        (lambda value: quantity(value, "m/min")),
    )
    for given in (
        {"length": m(2.0), "speed": v(1.2)},
        {"length": m(2.0), "dwell": s(100.0)},
        {"dwell": s(100.0), "speed": v(1.2)},
        {"length": m(2.0), "speed": v(1.2), "inside": 4},
        {"length": m(2.0)},
        {},
        {"length": m(2.0), "dwell": s(100.0), "speed": v(1.2)},
        {"length": m(0.0), "speed": v(1.2)},
        {"length": m(2.0), "speed": v(0.0)},
        {"length": m(2.0), "dwell": s(0.0)},
    ):
        yield f"{figures(given)}: {tried(dryer.belt, **given)}"
    for marks in ([], [(0, 20)], [(0, 20), (10, 100)], [(-1, 20), (10, 100)], [(0, 20), (0, 100)], [(0, 20), (10,
    400)], [(0, -30), (10, 100)],
                  [(0, 300), (10, 200)], [(0, -20), (10, 300)]):  # fmt: skip
        some = [dryer.Mark(*one) for one in marks]
        for unit in ("degC", "degF"):
            part_1 = tried(dryer.checked, some, (), -20.0, 300.0, unit)
            part_2 = tried(dryer.checked, some, (7, 8), -20.0, 300.0, unit)
            yield f"{marks}, {unit}: {part_1}; {part_2}"
    for name, marks in RUNS.items():
        yield f"{name}: {tried(dryer.fit_warm_up, marks)}"
        part_1 = figures([dryer.time_above(marks, c) for c in (25.0, 100.0, 160.0, 300.0)])
        part_2 = figures([dryer.first_at(marks, c) for c in (20.0, 25.0, 160.0, 300.0)])
        yield f"  above 100, 160: {part_1}; first {part_2}"
        for dwell in (35.0, 90.0, 200.0):
            part_1 = len(dryer.in_the_heat(marks, dwell))
            part_2 = figures(dryer.before_exit(marks, dwell)[-1:])
            yield f"  in {dwell:g} s: {part_1} warming, {part_2}"
        for cure_c, hold, bleed, speed, error in itertools.product(
            (160.0, 120.0), (20.0,), (None, 170.0, 140.0), (1.2, 3.0), (5.0,)
        ):
            cure_at, bleed_at = quantity(cure_c, "degC"), None if bleed is None else quantity(bleed, "degC")
            if cure_c == 120.0 and speed == 3.0:
                continue
            found = dryer.window(marks, cure_at, s(hold), bleed_at, m(2.0), v(speed), largest_error_c=error)
            told = figures(found)
            yield f"  cure {cure_c:g}, bleed {bleed}, {speed:g} m/min: {told.partition(', warm_up')[0]}"
            part_1 = "open" if found.open else "shut"
            part_2 = said(dryer.judge_window(found, cure_at, s(hold), bleed_at, v(speed), spec=(1,)))
            yield f"    {part_1}: {part_2}"
            yield f"    cooler: {figures([dryer.cooler(found, cure_c, hold, c) for c in (100.0, 165.0, 180.0)])}"


def cures() -> Iterator[str]:
    plastisol = CureNeed("plastisol", CureLimit(160, 1), None, None, CureLimit(177, 2))
    water = CureNeed("water-base", CureLimit(160, 3), CureLimit(120, 4))
    discharge = CureNeed("discharge", CureLimit(160, 5), CureLimit(90, 6), CureLimit(150, 7))
    bare, low = CureNeed("foil"), CureNeed("low cure", CureLimit(130, 8), CureLimit(60, 9), None, CureLimit(150, 10))
    cotton, poly = Stand("Tee", "cotton"), Stand("Poly tee", "polyester", CureLimit(140, 11), CureLimit(180, 12))
    shielded, thin = (
        Stand("Poly tee", "polyester", CureLimit(140, 11), None, True),
        Stand("Rain", "nylon", None, CureLimit(145, 13)),
    )
    for needs in (
        (plastisol,),
        (water,),
        (discharge,),
        (bare,),
        (low,),
        (plastisol, low),
        (plastisol, water, bare),
        (),
    ):
        for stands in ((cotton,), (poly,), (shielded,), (thin,), (poly, thin)):
            for peak, hold in (
                (None, None),
                (130.0, 60.0),
                (149.9, 119.0),
                (150.0, 120.0),
                (160.0, 120.0),
                (177.0, 90.0),
                (177.1, None),
                (None, 30.0),
            ):
                if len(needs) == 1 or peak in (None, 160.0, 177.1):
                    names = "+".join(one.ink for one in needs)
                    found = cure.judge(needs, stands, Heat(peak, hold, cure.MEASURED, cure.PLANNED))
                    part_1 = "+".join(one.fibre for one in stands)
                    part_2 = " shielded" if stands[0].shielded else ""
                    part_3 = ", ".join(one.key for one in found) or "nothing"
                    yield f"{names} on {part_1}{part_2} at {peak}, {hold}: {part_3}"
    for needs, stands, peak in (
        ((plastisol, low), (poly, thin), 165.0),
        ((water, discharge), (poly,), 155.0),
        ((low,), (shielded,), 155.0),
    ):
        yield said(cure.judge(needs, stands, Heat(peak, 80.0)))


def test_what_a_probe_says_of_a_dryer() -> None:
    same_as_read("figures_dryer", dryers())


def test_what_is_said_of_a_cure() -> None:
    same_as_read("figures_cure", cures())


# -- the rest


def lives() -> Iterator[str]:
    def of(*uses: float, still: Iterable[float] = (), entered: float = 0.0, worn: bool = True) -> list[UsesOfMesh]:
        return [UsesOfMesh(one, True, entered, worn) for one in uses] + [
            UsesOfMesh(one, False, entered) for one in still
        ]

    cases = {
        "one": of(10), "three": of(10, 20, 30), "five": of(10, 20, 30, 40, 50), "some in use": of(10, 20, 30, 40,
        50, still=(5, 20, 60)),
        "at once": of(10, 10, 10, 20, 20), "none ended": of(still=(10, 20)), "seen late": of(10, 20, 30, 40,
        50) + of(25, 35, entered=20),
        "some in time": of(10, 30, 50, 60) + of(20, 40, 60, worn=False), "many": of(*range(5, 65, 3),
        still=range(20, 80, 10)), "new": of(0, 0, 10, 20, 30),
        "seen where it ended": of(10, 20, 30, 40, 50) + of(20, entered=20),
    }  # fmt: skip
    for name, some in cases.items():
        curve = lifetime.survival(some)
        part_1 = figures(
            (
                curve.median,
                curve.median_low,
                curve.median_high,
                curve.mean_to_last,
                curve.lives,
                curve.ended,
                curve.longest,
            )
        )
        yield f"{name}: {part_1}"
        yield f"  {figures(curve.rows[:3])} ... {figures(curve.rows[-1:])}"
        for uses in (0.0, 9.0, 10.0, 29.0, 30.0, 49.0, 50.0, 60.0, 100.0):
            chance = lifetime.chance_of_next(curve, uses, 10)
            sure = lifetime.sure_of_next(curve, uses, 10) if curve.share(uses) > 0 else None
            judged = said(lifetime.judge_life(curve, uses, further=10, least_chance=0.5))
            yield f"  {uses:g}: {figures((curve.share(uses), chance, sure))}; {judged}"
    for some in ([], of(-1), of(10, entered=11), of(math.nan)):
        yield f"{len(some)}: {tried(lifetime.survival, some)}"
    part_1 = said(lifetime.judge_life(None, 10, further=10, least_chance=0.5))
    part_2 = said(lifetime.judge_unknown())
    yield f"nothing known: {part_1}; {part_2}"


def meshes() -> Iterator[str]:
    for count, thread, thick in (
        (230 / 2.54, 48.0, None),
        (160 / 2.54, 64.0, 100.0),
        (305 / 2.54, 34.0, 55.0),
        (100.0, 100.0, None),
        (0.0, 48.0, None),
        (90.0, 0.0, None),
    ):
        told = tried(
            mesh.geometry,
            quantity(count, "/cm"),
            quantity(thread, "um"),
            None if thick is None else quantity(thick, "um"),
        )
        yield f"{count:.4g}/cm, {thread:g} um: {told}; {tried(mesh.opening_um, count, thread)}"
        for ruling in (45.0, 65.0):
            part_1 = tried(mesh.halftone, quantity(ruling, "lines/in"), quantity(count, "/cm"), quantity(thread, "um"))
            yield f"  {ruling:g} lines: {part_1}"
    limits_of = mesh.HalftoneLimits(4.0, 3.0, 45.0, 7.0, (1,))
    for ruling in (50.0, 57.5, 57.6, 76.6, 76.7, 90.0):
        for angle in (None, 22.5, 0.0, 7.0, 7.1, 38.0, 37.9, 45.0, 52.0, 89.0, -5.0):
            if ruling == 50.0 or angle == 22.5:
                yield f"{ruling:g} lines at {angle}: {said(mesh.judge_halftone(ruling, 230.0, angle, limits_of))}"
    for opening, flake in ((None, 60.0), (180.0, 60.0), (179.9, 60.0), (0.0, 60.0)):
        yield f"flake {flake:g} through {opening}: {said(mesh.judge_flake(opening, flake, factor=3.0, spec=(1,)))}"
    for thick, fabric in ((90.0, 78.0), (78.0, 78.0), (77.0, 78.0), (90.0, 0.0)):
        yield f"coated {thick:g} on {fabric:g}: {tried(stencil.build, quantity(thick, 'um'), quantity(fabric, 'um'))}"
    for ratio in (None, 9.9, 10.0, 25.0, 25.1):
        yield f"build {ratio}: {said(stencil.judge_build(ratio, least=10.0, most=25.0))}"
    for age in (None, 0.0, 1.9, 2.0, 28.0, 28.1):
        yield f"coated {age} d: {said(stencil.judge_coated_age(age, limit_d=28.0))}"
    area, pct = (lambda value: quantity(value, "cm2")), (lambda value: quantity(value, "%"))
    for more in (
        {},
        {"strokes": 2},
        {"transfer": 0.8},
        {"waste": pct(10.0)},
        {"pieces": 0},
        {"strokes": 0},
        {"transfer": 0.0},
    ):
        given = {"pieces": 100, **more}
        told = tried(ink.need, area(600.0), pct(35.0), quantity(25.0, "cm3/m2"), quantity(1.2, "g/cm3"), **given)
        yield f"ink {figures(more)}: {told}"
    g = [quantity(value, "g") for value in (0.7, 0.9, 0.6)]
    part_1 = tried(ink.calibrate, g, quantity(0.5, "g"))
    part_2 = tried(ink.calibrate, g[:2], quantity(0.5, "g"))
    part_3 = tried(ink.calibrate, [], quantity(0.5, "g"))
    part_4 = tried(ink.calibrate, g, quantity(0.0, "g"))
    yield f"weighed: {part_1}, {part_2}, {part_3}, {part_4}"
    for past in (None, -100.0, -1.0, -0.4, 0.0, 0.1, 30.0):
        for at_set_up in (True, False):
            part_1 = said(ink.judge_pot_life(past, at_set_up=at_set_up, ink="discharge", bucket="B"))
            yield f"pot life {past}, {at_set_up}: {part_1}"
    for c, rh in itertools.product((0.0, 10.0, 20.0, 35.0), (0.0, 40.0, 80.0, 99.0, 100.0)):
        air = drying.vapour_short(quantity(c, "degC"), quantity(rh, "%"))
        took = drying.drying_time(quantity(60.0, "min"), Air(20.0, 40.0), Air(c, rh), quantity(24.0, "h"))
        yield f"{c:g} °C, {rh:g} %: {figures(air)} hPa short, {figures(took)}"
    for air in (Air(), Air(15.0), Air(None, 80.0)):
        took = drying.drying_time(quantity(60.0, "min"), Air(20.0, 40.0), air, quantity(24.0, "h"))
        yield f"{figures(air)}: {figures(took)}, {bool(air)}, {figures(air.filled(Air(30.0, 50.0)))}"
    for after in ("coat", "washout", "degrease"):
        for minutes, touch in ((0.0, None), (10.0, 20.0), (20.0, 20.0), (59.9, 20.0), (60.0, 20.0), (61.0, None)):
            told = said(
                drying.judge_dry(after, minutes, ready_min=60.0, touch_min=touch, air=Air(20.0) if touch else None)
            )
            yield f"{after}, {minutes:g} min, touch {touch}: {told}"


def colours() -> Iterator[str]:
    some = [
        Lab(50, 0, 0),
        Lab(52.1, -3.4, 18),
        Lab(92, 0.2, 2.4),
        Lab(20, 40, -50),
        Lab(50, 0.04, 0.05),
        Lab(0, 0, 0),
        Lab(100, 0, 0),
        Lab(50, 60, 35),
    ]
    for one in some:
        part_1 = colour.on_screen(one, "D50")
        part_2 = colour.on_screen(one, "D65")
        part_3 = colour.on_screen(one, "A")
        yield f"{figures(one)}: {colour.in_words(one)}, {part_1}, {part_2}, {part_3}"
        apart = [f"{colour.delta_e_2000(one, other):.4f}" for other in some]
        yield f"  {' '.join(apart)}; {' | '.join(turn.said for turn in colour.turns(one, some[0]))}"
    for number in (1, 2, 3, 8):
        yield f"of {number}: {figures(colour.mean(some[:number]))}, {figures(colour.spread(some[:number]))}"
    for difference in (None, 0.0, 1.0, 1.0001, 2.0, 2.0001):
        yield f"{difference}: {said(colour.judge(difference, warn=1.0, fail=2.0, spec=(1,)))}"
    for one, other in (("", ""), ("D50", ""), ("D50, 2°", "d50 2°"), ("D50, 2°", "D65, 2°"), ("D50,2°", "D50, 2°")):
        yield f"“{one}”, “{other}”: {colour.same_conditions(one, other)}, {said(colour.judge_conditions(one, other))}"
    for parts in ((-1, 0, 0), (101, 0, 0), (50, 200, 0), (50, 0, math.nan)):
        yield f"{parts}: {tried(Lab, *parts)}"


def test_how_long_meshes_last() -> None:
    same_as_read("figures_lives", lives())


def test_what_a_mesh_lets_through() -> None:
    same_as_read("figures_mesh", meshes())


def test_how_colours_differ() -> None:
    same_as_read("figures_colour", colours())
