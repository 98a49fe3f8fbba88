"""The desk's arithmetic: control limits, spans, Little's law, frames day by day, what became of a stencil."""

from __future__ import annotations

import random
import secrets
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlite_utils import Database

from tickets import store
from tickets.floor import screens, shop
from tickets.floor.desk import worth_keeping
from tickets.floor.posting import form
from tickets.records import control, pool, readings
from tickets.records.entry import Entry, stamp
from tickets.records.person import Actor
from tickets.records.screen import LOGGED_BY_DEFAULT
from tickets.store import people
from tickets.store import readings as store_readings

FLOW_RATE = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)
"""The batches of the individuals chart, NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (from memory)."""


def test_limits_are_those_of_the_published_individuals_chart() -> None:
    held = control.limits(FLOW_RATE)
    assert held is not None
    # The e-Handbook prints mean 50.81, mean moving range 1.8778, limits 55.8041 and 45.8159 (from memory)
    assert held.mean == pytest.approx(50.81)
    assert held.moving_range == pytest.approx(1.8778, abs=5e-5)
    assert (held.high, held.low) == (pytest.approx(55.8041, abs=5e-5), pytest.approx(45.8159, abs=5e-5))
    assert control.drifted(FLOW_RATE, held) is None  # as printed there: in control
    assert control.drifted((*FLOW_RATE, 55.9), held) == control.Drifted(10, "outside")
    assert control.limits((7.0,)) is None


def test_eight_on_one_side_are_a_drift_from_the_first_of_them_on() -> None:
    held = control.limits((7, 6, 8, 7, 6, 8, 7, 7))
    assert held is not None and held.mean == 7
    assert control.drifted((7, 8) + (7.5,) * 6, held) is None  # seven: none yet
    assert control.drifted((7, 8) + (7.5,) * 7, held) == control.Drifted(1, "in a row")
    assert control.drifted((8, 7, 8, 7, 8, 7, 8, 7, 8), held) is None  # a reading on the mean ends the row


def test_a_lamp_read_the_same_each_time_has_limits_half_a_step_away() -> None:
    day = datetime(2026, 3, 1, tzinfo=UTC)
    at = [(day + timedelta(days=n)).isoformat() for n in range(30)]
    steady = control.step_chart(list(zip(at, [7.0] * 30, strict=True)))
    assert steady.limits is not None and (steady.limits.low, steady.limits.high) == (6.5, 7.5)
    assert steady.drifted is None
    fell = control.step_chart(list(zip(at, [7.0] * 24 + [6.0] * 6, strict=True)))
    assert fell.drifted == control.Drifted(24, "outside")
    assert control.step_chart(list(zip(at, [7.0] * 9, strict=False))).limits is None  # nine are too few


def test_shares_keep_their_counts() -> None:
    seen = [("A", True), ("A", True), ("A", True), ("A", False), ("B", True), ("B", False), ("B", False)]
    assert control.shares(seen) == [control.Share("A", 3, 4), control.Share("B", 1, 3)]


def test_a_limit_is_moved_until_a_fifth_is_left() -> None:
    # ten set-ups, six of them under a watch of 15: at 13.0 only 12.0 and 12.5 would be left, a fifth of ten
    low = [14.5, 14.0, 13.5, 13.0, 12.5, 12.0]
    assert control.moved(low, 10, below=True) == control.Moved(13.0, 2)
    assert control.moved([91.0, 95.0, 120.0], 10, below=False) == control.Moved(91.0, 2)
    assert control.moved([91.0, 95.0], 10, below=False) is None


@given(st.lists(st.floats(0.01, 5000), min_size=pool.FEW, max_size=80))
def test_the_slow_tenth_is_the_ninetieth_percentile(hours: list[float]) -> None:
    numpy = pytest.importorskip("numpy")
    found = pool.span(hours)
    assert found is not None and found.slow_h == pytest.approx(float(numpy.percentile(hours, 90)), rel=1e-9)
    assert found.median_h == pytest.approx(float(numpy.median(hours)), rel=1e-9)


def test_few_stays_have_no_slow_tenth() -> None:
    found = pool.span([1.0, 2.0, 9.0])
    assert found == pool.Span(3, 2.0, None, 4.0)
    assert pool.span([]) is None


def test_littles_law_gives_the_frames_that_a_queue_really_holds() -> None:
    """The average number under way, counted hour by hour, against arrivals a day times their stay (Little 1961)."""
    rng = random.Random(5)
    days, stays = 400, []
    for hour in range(days * 24):
        if rng.random() < 6 / 24:
            stays.append((hour, hour + rng.randint(4, 90)))
    inside = [(start, end) for start, end in stays if start >= 2400]
    hours = range(2400 + 90, days * 24)
    counted = sum(min(end, days * 24) - max(start, hours[0]) for start, end in stays if end > hours[0]) / len(hours)
    per_day = len(inside) / ((days * 24 - 2400) / 24)
    mean = sum(end - start for start, end in inside) / len(inside)
    assert pool.little(per_day, mean) == pytest.approx(counted, rel=0.03)


def test_the_pool_of_a_mesh_by_hand() -> None:
    # 30 begun in 10 days are 3 a day; each takes a frame for 48 h: 6 frames on average
    (one,) = pool.by_mesh(["230/in"] * 30, [("230/in", 48.0)] * 12, {"230/in": (5, 4)}, 10)
    assert (one.per_day, one.needed, one.needed_slow, one.short_by) == (3.0, 6.0, 6.0, 1)
    (none,) = pool.by_mesh([], [], {"110/in": (4, 0)}, 10)
    assert none.needed is None and none.short_by == 0


def test_shifts_end_at_six_two_and_ten() -> None:
    zone = ZoneInfo("Europe/Warsaw")
    times = [datetime(2026, 3, 10, hour, 0, tzinfo=zone) for hour in (5, 6, 13, 14, 21, 22, 23)]
    assert pool.per_shift(times, zone) == [(date(2026, 3, 10), (2, 2, 2)), (date(2026, 3, 9), (0, 0, 1))]


def test_frames_day_by_day_by_hand() -> None:
    today = date(2026, 3, 9)
    tuesday, wednesday = date(2026, 3, 10), date(2026, 3, 11)
    # two free; two images of Tuesday have screens; three of Wednesday have none
    soon = pool.ahead(today, 3, 2, 0, [tuesday] * 2, [wednesday] * 3, 1)
    assert [(day.needed, day.back, day.left) for day in soon] == [(0, 0, 2), (0, 0, 2), (3, 2, 1), (0, 3, 4)]
    late = pool.ahead(today, 3, 2, 0, [tuesday] * 2, [wednesday] * 3, 2)
    assert [day.left for day in late] == [2, 2, -1, 1]  # Tuesday's come back a day too late: one short
    # what is late is wanted today; frames to strip come back after the turnaround
    assert [day.left for day in pool.ahead(today, 2, 0, 1, [], [date(2026, 3, 2)], 1)] == [-1, 1, 1]


@pytest.mark.parametrize(
    ("asked", "until", "idle", "limit", "kept"),
    [
        (True, "", 900, 90.0, (True, "asked")),
        (False, "2026-03-09", 900, 90.0, (True, "until")),
        (False, "2026-03-08", 1, 90.0, (False, "over")),
        (False, "", 90, 90.0, (True, "young")),
        (False, "", 90.5, 90.0, (False, "idle")),
        (False, "", 900, None, (True, "young")),
    ],
)
def test_what_is_worth_keeping(
    asked: bool, until: str, idle: float, limit: float | None, kept: tuple[bool, str]
) -> None:
    assert worth_keeping(asked, until, idle, "2026-03-09", limit) == kept


# What became of a stencil -------------------------------------------------------------------------------------------

START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


def entry(number: int, step: str, at: datetime, **values: object) -> Entry:
    run = values.pop("of_run", None)
    return Entry(
        entry=f"e{number:04d}", step=step, at=at, saved_at=START + timedelta(days=99, seconds=number), person=1,
        screen=1, run=run if isinstance(run, int) else None, values=values,
    )  # fmt: skip


def life_of(*steps: tuple[str, dict[str, object]]) -> readings.Lesson:
    lines = [entry(n, step, START + timedelta(hours=n), **values) for n, (step, values) in enumerate(steps)]
    return readings.replay(lines, LOGGED_BY_DEFAULT)[1]


STRETCH = ("stretch", {"mesh_count_as_labelled": "230/in", "frame": "aluminium"})
ROUND: tuple[tuple[str, dict[str, object]], ...] = (
    ("degrease", {}),
    ("coat", {"bucket": 7}),
    ("image", {"separations": [3]}),
    ("expose", {"exposure_s": 80.0, "exposure_unit": "Big lamp"}),
    ("washout", {"result": "good", "step_held": 7.0}),
    ("check", {"result": "good"}),
    ("hang", {"of_run": 5, "head": 2, "station": 1}),
    ("print", {"of_run": 5, "impressions": 120}),
    ("pull", {"of_run": 5, "condition": "good", "then": "strip"}),
    ("clean", {}),
    ("strip", {}),
)


def test_a_stencil_is_followed_from_its_bucket_to_its_run() -> None:
    past = life_of(STRETCH, *ROUND).past
    (stencil,) = past.stencils
    assert (stencil.bucket, stencil.images, stencil.impressions, stencil.exposure_unit) == (7, (3,), 120, "Big lamp")
    assert stencil.turnaround_h == 9.0  # coated in the third hour, stripped in the twelfth
    assert (stencil.faults, stencil.missed) == ("", "")
    (coat,) = past.coats
    assert (coat.stencil, coat.bucket, coat.entry) == (0, 7, "e0002")
    (hung,) = past.hangings
    assert (hung.stencil, hung.run, hung.head, hung.impressions, hung.off_at > hung.at) == (0, 5, 2, 120, True)
    assert [one.standing for one in past.stays][:4] == ["bare", "degreased", "coated", "imaged"]
    assert all(one.hours == 1.0 for one in past.stays[:5]) and past.stays[-1].hours is None


def test_a_second_stencil_and_a_fault_are_kept_apart() -> None:
    bad = tuple(
        (step, {"result": "fault", "fault": "scum"} if step == "washout" else {**values, "bucket": 8})
        for step, values in ROUND[1:5]  # not degreased: a step that the shop logs was left out
    )
    past = life_of(STRETCH, *ROUND, *bad, ("strip", {}), *ROUND).past
    assert [(one.bucket, one.faults, one.missed) for one in past.stencils] == [
        (7, "", ""), (8, "scum", "degrease"), (7, "", "")
    ]  # fmt: skip
    assert [one.stencil for one in past.hangings] == [0, 2]
    assert [(one.stencil, one.bucket) for one in past.coats] == [(0, 7), (1, 8), (2, 7)]


STEPS = st.sampled_from([STRETCH, *ROUND, ("found", {"standing_seen": "ready"}), ("retire", {"cause": "torn"}),
                         ("fault", {"kind": "torn"}), ("rack", {"place": 3}), ("haze", {})])  # fmt: skip


@given(st.lists(STEPS, max_size=40))
def test_whatever_the_log_says_the_past_adds_up(steps: list[tuple[str, dict[str, object]]]) -> None:
    past = life_of(*steps).past
    for before, after in zip(past.stays, past.stays[1:], strict=False):
        assert before.until == after.since and before.standing != after.standing and (before.hours or 0) > 0
    for stencil in past.stencils[:-1]:
        assert stencil.ended_at >= stencil.begun_at and stencil.turnaround_h is not None
    assert all(one.stencil is None or one.stencil < len(past.stencils) for one in past.hangings)
    assert all(one.stencil < len(past.stencils) for one in past.coats)
    printed = sum(120 for step, _values in steps if step == "print")
    assert sum(one.impressions for one in past.hangings) == printed
    assert len(past.coats) == sum(step == "coat" for step, _values in steps)


# What the lamps burnt, and what was seen at the light table ---------------------------------------------------------


class Bench:
    """A shop whose screens are exposed, washed out and looked at."""

    def __init__(self, db: Database) -> None:
        person = people.find(db, "Ada Holm")
        assert person is not None
        self.db, self.me, self.now = db, Actor(person.id, person.name, person.role), datetime.now(UTC)

    def frames(self, number: int = 1, **more: str) -> list[str]:
        sent = {"mesh_count_as_labelled": "230/in", "frame": "aluminium", **more}
        at = self.now - timedelta(days=9)
        return [str(one) for one in screens.add(self.db, self.me, form(sent), post=fresh(), now=at, number=number)]

    def log(self, code: str, step: str, hours_ago: float = 1, **sent: object) -> str:
        """Logs a step, whatever the log says; the entry's id."""
        at = self.now - timedelta(hours=hours_ago)
        values = {"in_hand": "yes", "at": at.isoformat(), **sent}
        screens.log(self.db, self.me, screens.find(self.db, code), step, form(values), post=fresh(), now=self.now)
        return str(self.db.execute("SELECT entry FROM entries ORDER BY id DESC LIMIT 1").fetchone()[0])


def fresh() -> str:
    return secrets.token_hex(12)


@pytest.fixture
def bench(db: Database) -> Bench:
    return Bench(db)


def test_what_a_lamp_burnt_is_added_up_as_it_is_written(bench: Bench) -> None:
    """By hand: 80 s and 40.5 s on the first day, one without a time and 60 s on the second; from the middle of the
    first day on 40.5 + 60 = 100.5 s in three exposures; a crossing out takes its 60 s away again."""
    code, first = bench.frames()[0], bench.now.replace(hour=8, minute=0, second=0) - timedelta(days=3)

    def expose(at: datetime, **sent: object) -> str:
        return bench.log(code, "expose", at=at.isoformat(), exposure_unit="Big lamp", **sent)

    expose(first, exposure_s="80")
    expose(first + timedelta(hours=4), exposure_s="40.5")
    expose(first + timedelta(days=1))
    wrong = expose(first + timedelta(days=1, hours=1), exposure_s="60")
    assert store_readings.burnt(bench.db, "Big lamp") == (180.5, 4, 1)
    assert store_readings.burnt(bench.db, "Big lamp", stamp(first + timedelta(hours=2))) == (100.5, 3, 1)
    assert store_readings.burnt(bench.db, "Big lamp", stamp(first + timedelta(days=2))) == (0.0, 0, 0)
    assert store_readings.exposure_units_seen(bench.db) == ["Big lamp"]
    assert shop.check(bench.db) == []
    screens.cross_out(bench.db, bench.me, form({"crosses": wrong, "why": "wrong value"}), post=fresh(), now=bench.now)
    assert store_readings.burnt(bench.db, "Big lamp", stamp(first + timedelta(hours=2))) == (40.5, 2, 1)
    shop.rebuild(bench.db)
    assert store_readings.burnt(bench.db, "Big lamp") == (120.5, 3, 1)
    with store.writing(bench.db):
        bench.db.execute("UPDATE burnt SET burnt_ms = burnt_ms + 1 WHERE day = ?", [stamp(first)[:10]])
    assert len(shop.check(bench.db)) == 1


def test_the_burnt_hours_are_read_by_day_and_not_from_the_log(bench: Bench) -> None:
    code = bench.frames()[0]
    for hours in range(1, 60):
        bench.log(code, "expose", hours_ago=hours, exposure_unit="Big lamp", exposure_s="10")
    asked: list[str] = []
    bench.db.conn.set_trace_callback(asked.append)
    store_readings.burnt(bench.db, "Big lamp", stamp(bench.now - timedelta(hours=30)))
    bench.db.conn.set_trace_callback(None)
    (sql,) = asked
    plan = " ".join(row[3] for row in bench.db.execute(f"EXPLAIN QUERY PLAN {sql}").fetchall())
    assert "entries" not in plan and "SCAN exposures" not in plan and "SCAN burnt" not in plan
