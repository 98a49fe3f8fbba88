"""How many frames a mesh needs: by hand, against SciPy, and in shops whose need is known."""

from __future__ import annotations

import random
import re
import statistics
from collections.abc import Callable
from datetime import timedelta

import pytest
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import nbinom, poisson
from shop import Shop
from simulated_figures import POOL_SHOPS, PoolShop, how_many, table
from test_web_calculator import text_of

from tickets.actions import places, shop, stocktake
from tickets.calculator.defaults import pick
from tickets.domain.code import shown
from tickets.domain.desk import pool
from tickets.domain.desk.pool import Busy, MeshPool, Stock
from tickets.domain.person import Actor
from tickets.domain.screens.screen import FREE
from tickets.domain.spec import Row
from tickets.queries import desk as desk_now
from tickets.queries import desk_today, find
from tickets.store import people

SignIn = Callable[[FlaskClient, str], FlaskClient]
MESH = "230/in"


def needed(busy: list[Busy], days: float, there: int = 0, share: float = 0.95) -> MeshPool:
    (one,) = pool.by_mesh(busy, {MESH: Stock(there, there)}, days, share)
    return one


def test_the_mean_and_what_was_enough_by_hand() -> None:
    """Ten days, one frame not free on all of them, one for 24 h degreased, twelve stencils of 12 h one after another
    from the first day on, and one of 60 h beside them: 1, 2 or 3 at once."""
    busy = [Busy(MESH, -48, None), Busy(MESH, 0, 24, stencil=False), Busy(MESH, 108, 168)]
    busy += [Busy(MESH, 24 + 12 * n, 36 + 12 * n) for n in range(12)]
    found = needed(busy, 10)
    assert (found.begun, found.per_day) == (13, 1.3)
    assert found.busy == pytest.approx((240 + 24 + 144 + 60) / 240)
    assert found.carried == pytest.approx((240 + 144 + 60) / 240)
    assert found.turnaround is not None and found.turnaround.number == 13
    # three for 60 h of the 240, two for 108, one for the last 72
    assert [pool.enough_seen(busy, 240, share) for share in (0.3, 0.31, 0.75, 0.76, 1.0)] == [1, 2, 2, 3, 3]


@given(st.floats(0.05, 60), st.sampled_from([1.0, 1.5, 3.0, 8.0]), st.floats(0.5, 0.99))
def test_the_long_run_is_that_of_scipys_distributions(mean: float, uneven: float, share: float) -> None:
    if uneven == 1.0:
        assert pool._at_most(mean, uneven, share) == poisson.ppf(share, mean)
    else:
        assert pool._at_most(mean, uneven, share) == nbinom.ppf(share, mean / (uneven - 1), 1 / uneven)


def test_eight_frames_on_average_are_not_nine_needed() -> None:
    """Begun one by one, eight and a bit not free on average: nine are too few for a third of the time, 13 are enough
    for 95 % (Poisson)."""
    rng = random.Random(1)
    uses = PoolShop(1.05, 1, 8).uses(rng, 365)
    busy = [Busy(MESH, 24 * start, 24 * end if end < 365 else None) for start, end in uses if end > 0 and start < 365]
    found = needed(busy, 365, there=9)
    assert found.busy == pytest.approx(8.4, abs=0.8) and found.needed in {12, 13, 14}
    assert found.short_by == found.needed - 9
    assert needed(busy, 365, share=0.5).needed in {8, 9}
    rare = sum(poisson.pmf(n, 8.4) for n in range(10))
    assert 1 - rare == pytest.approx(0.33, abs=0.01)


def test_screens_that_are_begun_together_need_more_frames() -> None:
    one_by_one = [Busy(MESH, 24 * day, 24 * day + 96) for day in range(0, 100)]
    together = [Busy(MESH, 24 * (day // 5) * 5, 24 * (day // 5) * 5 + 96) for day in range(0, 100)]
    apart, sets = needed(one_by_one, 100), needed(together, 100)
    assert apart.busy == pytest.approx(sets.busy, rel=0.02)
    assert apart.needed is not None and sets.needed is not None and sets.needed > apart.needed
    assert pool.enough_reckoned(together, 2400, 0.95) >= pool.enough_reckoned(one_by_one, 2400, 0.95) + 3


def test_too_few_ended_stays_say_nothing() -> None:
    busy = [Busy(MESH, 24.0 * day, 24.0 * day + 20) for day in range(10)]
    assert needed(busy, 10).needed is not None
    few = needed(busy[1:], 10)
    assert few.needed is None and few.short_by == 0 and few.busy is not None
    assert needed([], 10).busy is None


def test_every_time_that_a_frame_is_not_free_counts(bench: Shop) -> None:
    """Of ten days: degreased for 48 h before its first coat, then coated and stripped after 24 h; then torn, and new
    mesh after 72 h. A second frame stood free all the time."""
    code, free = bench.frames(2, days_ago=10, thread_um="48")
    bench.past(code, "degrease", 200)
    bench.past(code, "coat", 152)
    bench.past(code, "strip", 128)
    bench.past(code, "fault", 100, kind="torn", then="restretch")
    bench.past(
        code, "stretch", 28, mesh_count_as_labelled="230/in", thread_um="48", frame="aluminium", mesh_colour="dyed"
    )
    (mesh,) = desk_now.pool_of(bench.db, bench.now, 30).meshes
    days = desk_now.pool_of(bench.db, bench.now, 30).days
    assert mesh.busy == pytest.approx((48 + 24 + 72) / 24 / days) and mesh.carried == pytest.approx(24 / 24 / days)
    assert mesh.frames == Stock(2, 0, free=2) and free
    bench.past(code, "degrease", 10)
    (now,) = desk_now.pool_of(bench.db, bench.now, 30).meshes
    assert now.busy == pytest.approx((48 + 24 + 72 + 10) / 24 / days) and now.frames == Stock(2, 1, free=2)


def test_the_share_is_a_limit_of_the_shop_and_the_page_says_what_it_means(
    bench: Shop, client: FlaskClient, sign_in: SignIn
) -> None:
    row = pick("frames-enough")
    assert row is not None and row.value == 95
    (code,) = bench.frames(1, days_ago=30, thread_um="48")
    for day in range(25, 4, -2):
        bench.past(code, "coat", 24 * day)
        bench.past(code, "strip", 24 * day - 30)
    (mesh,) = desk_now.pool_of(bench.db, bench.now, 30).meshes
    assert mesh.needed == 2 and mesh.short_by == 1
    page = sign_in(client, "Di Novak").get("/desk/pool").text
    assert "one was free for 95\u00a0% of the last" in page and "1 frame short" in page
    new = Row(0, "frames-enough", 80.0, "%", {}, "a test of ours")
    shop.add_spec_row(bench.db, shop.command_line(bench.db, bench.now), new, now=bench.now + timedelta(minutes=1))
    assert desk_now.pool_of(bench.db, bench.now, 30).meshes[0].needed == 1


def short_of_time(shop_: PoolShop, rng: random.Random, days: int) -> tuple[int, float, float, float] | None:
    """What the program says is needed by a log of so many days, the average that it gives, the true one, and for what
    share of the time that number then is too few; None where the program says nothing."""
    uses = shop_.uses(rng, days + 900)
    seen = [Busy(MESH, 24 * start, 24 * end if end < days else None) for start, end in uses if end > 0 and start < days]
    found = needed(seen, days)
    if found.needed is None or found.busy is None:
        return None
    after = how_many(uses, days + 100, days + 900)
    mean = sum(number * lasted for number, lasted in after.items()) / 800
    too_few = sum(lasted for number, lasted in after.items() if number > found.needed) / 800
    return found.needed, found.busy, mean, too_few


def test_shops_of_known_need_in_small() -> None:
    rng = random.Random(6)
    said = [one for _ in range(6) if (one := short_of_time(PoolShop(1, 1, 8), rng, 90))]
    assert len(said) == 6 and statistics.fmean(one[3] for one in said) < 0.1


@pytest.mark.slow
def test_the_number_needed_is_enough_for_the_share_that_it_says() -> None:
    rows = []
    for shop_ in POOL_SHOPS:
        for days in (30, 90, 365):
            rng = random.Random(2)
            said = [one for _ in range(40) if (one := short_of_time(shop_, rng, days))]
            bias = statistics.fmean(one[1] - one[2] for one in said)
            numbers = sorted(one[0] for one in said)
            rows.append((
                shop_.jobs_a_day, shop_.screens, shop_.days, shop_.kept, days, statistics.fmean(one[2] for one in said),
                bias, *(numbers[len(numbers) * share // 10] for share in (1, 5, 9)),
                statistics.fmean(one[3] for one in said),
            ))  # fmt: skip
    head = ("jobs a day", "screens", "days", "kept", "log", "mean", "bias", "needed: low", "half", "high", "too few")
    table("Frames that are to be enough for 95 % of the time, and for what share they are not", head, rows)
    assert all(row[10] <= 0.1 for row in rows if row[4] == 90) and all(row[10] <= 0.07 for row in rows if row[4] == 365)
    assert all(abs(row[6]) < 0.1 * row[5] for row in rows)


def test_the_pool_the_desk_and_what_runs_short_count_the_same_frames(
    bench: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    """One frame each: free, slack, degreased, coated, ready for another job, off the press to be stripped, torn and to
    be restretched, missing since a stock-take, retired, coated and too slack, and one that nobody knows the stage of;
    and a job that wants three more. Free for an image are three: bare, degreased, coated."""
    every = bench.frames(11, days_ago=9, thread_um="48")
    free, slack, degreased, coated, ready, off, torn, lost, gone, loose, unknown = every
    for code in every:
        bench.past(code, "tension", 200, readings_n_per_cm="9" if code in (slack, loose) else "24")
    places.add(bench.db, bench.me, "Rack 1", "rack", post="a-rack-0000000000001", now=bench.now - timedelta(days=9))
    rack = find.place(bench.db, "Rack 1")
    for code in every:
        bench.past(code, "rack", 199, place=rack.name)
    bench.past(degreased, "degrease", 6)
    bench.past(coated, "coat", 6)
    bench.past(loose, "coat", 6)
    bench.past(unknown, "found", 6, standing_seen="unknown")
    bench.made(ready, bench.images(1, art="Stork"), days_ago=2)
    bench.past(off, "found", 5, standing_seen="to strip")
    bench.past(torn, "fault", 4, kind="torn", then="restretch")
    bench.past(gone, "retire", 4, cause="lost")
    there = [find.screen(bench.db, code).id for code in every if code not in (lost, gone)]
    stocktake.put_right(bench.db, bench.me, rack, [], there, post="stock-take-0000000001", now=bench.now)
    bench.images(3)
    (pooled,) = desk_now.pool_of(bench.db, bench.now, 30).meshes
    assert pooled.frames == Stock(there=7, taken=5, missing=1, slack=2, free=3, coated=1)
    view = desk_today.desk(bench.db, bench.now)
    ((mesh, row),), on = view.meshes, view.coated["230/in"]
    assert {name: number for name, number in row.items() if number} == {
        "free": 3, "slack": 2, "ready": 1, "to clean or strip": 1, "to restretch": 1, "unknown": 1,
    }  # fmt: skip
    assert sum(row.values()) == pooled.frames.there + pooled.frames.slack
    (short,) = [one for one in desk_now.ahead(bench.db, bench.now).meshes if one.needs]
    assert (short.free, short.coated, short.slack, short.waiting, short.missing) == (3, 1, 2, 1, 1)
    assert (short.free, short.coated, short.slack) == (row["free"], on, row["slack"])
    assert (short.free, short.coated, short.slack) == (pooled.frames.free, pooled.frames.coated, pooled.frames.slack)
    assert short.missing == pooled.frames.missing and short.now == short.free
    boss = sign_in(client, "Di Novak")
    told = {path: text_of(boss.get(path).text) for path in ("/desk", "/desk/pool", "/desk/short")}
    assert re.search(rf"{mesh} 3 free \(1 coated\) 2 ", told["/desk"])
    assert "7 (3 free; 1 of these coated; 2 more too slack; 1 more" in told["/desk/pool"]
    assert "3 frames free and fit · 1 of these is coated · 2 more if tightened" in told["/desk/short"]
    free_ones = text_of(boss.get(f"/screens?standing={','.join(FREE)}").text)
    for code in every:
        assert (shown(code) in free_ones) is (code in (free, degreased, coated)), code


def test_a_shop_that_logs_no_stripping_counts_what_came_off_apart(bench: Shop) -> None:
    """Such a shop reckons with a screen off the press that nothing asks for; it is not among the free, as it isn't on
    the desk, and is said by itself."""
    person = people.find(bench.db, "Di Novak")
    assert person is not None
    boss = Actor(person.id, person.name, person.role)
    shop.set_up(bench.db, boss, "steps", ["image", "hang"], now=bench.now - timedelta(days=8))
    bare, off = bench.frames(2, days_ago=9, thread_um="48")
    for code in (bare, off):
        bench.past(code, "tension", 150, readings_n_per_cm="24")
    bench.past(off, "found", 5, standing_seen="kept")
    bench.images(3)
    ((_mesh, row),) = desk_today.desk(bench.db, bench.now).meshes
    (pooled,) = desk_now.pool_of(bench.db, bench.now, 30).meshes
    (short,) = [one for one in desk_now.ahead(bench.db, bench.now).meshes if one.needs]
    assert row["free"] == pooled.frames.free == short.free == 1 and bare
    assert (short.done, short.now) == (1, 2)
