"""What the desk works out: frames needed and given out, charts of strips, causes, limits that nag. Whole tables, read
and checked by hand for small numbers; that the estimates are right is held by simulation elsewhere."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from test_whole_figures import figures
from whole import same_as_read

from tickets.domain.desk import control, nights, pool
from tickets.domain.desk.control import Strip
from tickets.domain.desk.pool import Busy, FrameNeed, FramePlan, Stock, Supply

MONDAY = date(2026, 3, 2)


def day(number: int) -> date:
    return MONDAY + timedelta(days=number)


def short(value: object) -> str:
    return figures(value).replace("2026-03-", "")


def pools() -> Iterator[str]:
    for hours in (
        [],
        [5.0],
        [1.0, 2.0, 3.0],
        [float(one) for one in range(1, 11)],
        [float(one) for one in range(1, 40)],
    ):
        yield f"{len(hours)} durations: {figures(pool.span(hours))}"
    rng = random.Random(5)
    coming = [
        Busy("230/in", 24 * number + rng.uniform(0, 9), 24 * number + rng.uniform(20, 70)) for number in range(14)
    ]
    stays = {
        "none": [], "one all the time": [Busy("230/in", -5, None)], "one from before": [Busy("230/in", -5, 30)],
        "one half of it": [Busy("230/in", 0, 7 * 24)], "coming and going": coming, "many": [*coming, *coming,
        Busy("230/in", 0, None, False)],
        "on one day": [Busy("230/in", 48 + number, 100 + number) for number in range(12)],
        "outside": [Busy("230/in", -9, -3), Busy("230/in", 500, 600)],
        "bare ones": [Busy("230/in", one.since, one.until, False) for one in coming],
    }  # fmt: skip
    for name, some in stays.items():
        for share in (0.5, 0.95, 1.0):
            enough = pool.enough_seen(some, 14 * 24, share), pool.enough_reckoned(some, 14 * 24, min(share, 0.999))
            yield f"{name}, {share:g}: {enough}"
        (found,) = pool.by_mesh(some, {"230/in": Stock(3, 2, 1, 1, 1, 0)}, 14)
        yield f"  {figures(found)}; short by {found.short_by}"
    two = pool.by_mesh(
        [*coming, *(one._replace(mesh="160/in") for one in coming)],
        {"230/in": Stock(2), "160/in": Stock(1), "305/in": Stock(1)},
        14,
    )
    yield f"short first: {[(one.mesh, one.short_by) for one in two]}"
    yield f"added: {figures(Stock(1, 2, 3, 4, 5, 6) + Stock(1, 1, 1, 1, 1, 1))}"
    starts = (6, 14, 22)
    times = [
        datetime(2026, 3, 2, hour, minute, tzinfo=UTC)
        for hour, minute in ((5, 59), (6, 0), (13, 59), (14, 0), (21, 0), (22, 0), (23, 59), (0, 0))
    ]
    yield f"shifts: {pool.per_shift(times, ZoneInfo('UTC'), starts)}"
    part_1 = pool.per_shift(times, ZoneInfo("America/Chicago"), starts)
    part_2 = pool.shift_hours(starts)
    yield f"shifts elsewhere: {part_1}; {part_2}"


def plan(
    supply: list[tuple[int, set[int], int]], wanted: list[FrameNeed], back: int = 2, held: object = ()
) -> FramePlan:
    some = [Supply(day(at), frozenset(serves), number) for at, serves, number in supply]
    return FramePlan(MONDAY, 5, some, wanted, back, held)  # type: ignore[arg-type]


def plans() -> Iterator[str]:
    one, late = FrameNeed(1, day(1)), FrameNeed(1, day(-3))
    cases = {
        "nothing": plan([], []), "enough": plan([(0, {1}, 2)], [one]), "none": plan([], [one]), "late": plan([(0,
        {1}, 1)], [late]),
        "comes back": plan([(2, {1}, 1)], [one]), "two for one frame": plan([(0, {1}, 1)], [one, one]),
        "both would do": plan([(0, {1, 2}, 1), (0, {1}, 1)], [one, FrameNeed(2, day(1))]),
        "given another": plan([(0, {1, 2}, 1), (0, {2}, 1)], [FrameNeed(2, day(0)), FrameNeed(1, day(1))]),
        "one print, two images": plan([(0, {1}, 1), (3, {2}, 1)], [FrameNeed(1, day(0), "P"), FrameNeed(2, day(0),
        "P")]),
        "the print goes on": plan([(0, {1}, 1)], [FrameNeed(1, day(0), "P", day(2)), FrameNeed(1, day(4), "Q")]),
        "held": plan([(0, {1}, 1)], [FrameNeed(1, day(0), "P")], held=[("P", Supply(day(0), frozenset({2}))), ("Q",
        Supply(day(0), frozenset({1})))]),
        "back the same day": plan([(0, {1}, 1)], [FrameNeed(1, day(0), "P"), FrameNeed(1, day(0), "Q"),
        FrameNeed(1, day(1), "R")], back=0),
        "chain": plan([(0, {1}, 1), (0, {1, 2}, 1), (0, {2, 3}, 1)], [FrameNeed(2, day(0)), FrameNeed(1, day(0)),
        FrameNeed(1, day(0)), FrameNeed(3, day(1))]),
        "in vain": plan([(0, {2}, 3)], [one, one, FrameNeed(2, day(2))]),
    }  # fmt: skip
    for name, found in cases.items():
        yield f"== {name}"
        for wants in ((1,), (2,), (1, 2, 3)):
            told = [
                f"{each.day.day}: {each.needed} {each.back} {each.left} {each.given} {each.spare}"
                for each in found.of(wants)
            ]
            yield f"{wants}: {' | '.join(told)}; free {found.free_now(wants)}"
            yield f"  held {[dict(found.held(wants, day(at))) for at in (0, 2, 4)]}"
        yield f"stuck {[found.stuck(whole) for whole in ('P', 'Q', ('alone', 0))]}"


def strips(*held: float, like: str = "", **more: float) -> list[Strip]:
    return [Strip(f"d{number}", one, like, **more) for number, one in enumerate(held)]


def charts() -> Iterator[str]:
    steady = [7.0, 6.5, 7.0, 7.5, 7.0, 6.5, 7.0, 7.5, 7.0, 7.0]
    cases = {
        "none": [], "one": strips(7.0), "two": strips(7.0, 6.0), "steady": strips(*steady * 3),
        "one outside": strips(*steady * 2, 3.0, 7.0),
        "drifts down": strips(*steady * 2, *[6.3] * 14), "drifts up": strips(*steady * 2, *[7.8] * 14),
        "one apart at first": strips(7.0, 2.0, *steady * 2),
        "two sorts": [*strips(*steady, like="a"), *strips(*(one - 3 for one in steady), like="b"), *strips(*steady,
        like="a")],
        "other times": [*strips(*steady * 2, time=60.0), *strips(*(one + 2 for one in steady), time=120.0)],
        "no times": strips(*steady, time=0.0),
        "each alone": [Strip("d", 7.0, str(number)) for number in range(30)],
    }  # fmt: skip
    for name, some in cases.items():
        found = control.step_chart(some)
        off = " ".join("–" if one is None else f"{one:.3f}" for one in found.off)
        part_1 = figures(found.spread)
        part_2 = figures(found.drifted)
        yield f"{name}: spread {part_1}, {part_2}, apart {found.apart}, judged {found.judged}, groups {found.groups}"
        yield f"  {off}"
    for t, free in ((0.0, 1), (1.0, 1), (-3.0, 2), (3.0, 10), (3.0, 100)):
        yield f"t {t:g} of {free}: {control.as_normal(t, free):.6f}"
    yield f"sums: {[control.summed(value, (1.0, 0.5), 0.5) for value in (-2.0, 0.0, 0.5, 2.0)]}"
    seen = [
        ("A", True, 2),
        ("A", False, 2),
        ("B", True, 1),
        ("B", False, 1),
        ("C", False, 9),
        ("D", True, 1),
        ("E", False, 0),
    ]
    yield f"shares: {figures(control.shares(seen))}"
    yield f"causes: {figures(control.causes([('lint', 2), ('', 5), ('pinholes', 2), ('lint', 1), ('soft', 2)]))}"
    both = control.beside(
        control.shares(seen[:-1]),
        control.shares([("B", True, 3), ("C", True, 1), ("C", False, 8), ("F", True, 1), ("F", False, 1)]),
    )
    yield f"beside: {figures([(one.name, one.worst, one.washed, one.checked) for one in both])}"
    for values, of, below in (
        ([], 10, True),
        ([9.0, 8.0], 10, True),
        ([9.0, 8.0, 7.0], 10, True),
        ([9.0, 8.0, 7.0], 10, False),
        ([7.26, 7.31, 7.35], 5, True),
        ([7.26, 7.31, 7.35], 5, False),
        ([7.0] * 9, 10, True),
        ([7.3, 7.3, 7.2], 14, True),
    ):
        yield f"{len(values)} of {of}, {'below' if below else 'above'}: {figures(control.moved(values, of, below))}"


def kept() -> Iterator[str]:
    for name in ("shop-2026-03-02.zip", "2026-03-02", "x", "shop-2026-13-02.zip", ""):
        yield f"“{name}”: {nights.day_of(name)}"
    days = [MONDAY - timedelta(days=number) for number in range(0, 150, 3)]
    for most_days, most_months in ((14, 12), (1, 0), (0, 3), (30, 2)):
        found = sorted(nights.to_keep(days, MONDAY, most_days, most_months))
        yield f"{most_days} days, {most_months} months: {' '.join(one.isoformat() for one in found)}"


def test_how_many_frames_are_needed() -> None:
    same_as_read("desk_pools", pools())


def test_which_frame_is_given_to_what() -> None:
    same_as_read("desk_plans", plans())


def test_what_charts_of_strips_say() -> None:
    same_as_read("desk_charts", charts())


def test_which_backups_are_kept() -> None:
    same_as_read("desk_nights", kept())
