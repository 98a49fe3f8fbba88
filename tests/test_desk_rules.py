"""The desk's arithmetic: control limits, spans, Little's law, frames day by day, what became of a stencil."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy
import pytest
from flask.testing import FlaskClient
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_bipartite_matching
from shop import Shop, fresh

from tickets import store
from tickets.actions import buckets, places, screens, shop, stocktake
from tickets.domain.code import shown
from tickets.domain.desk import control, pool
from tickets.domain.entry import Entry, stamp
from tickets.domain.posted import form
from tickets.domain.refusal import Refused
from tickets.domain.runs import run_trace
from tickets.domain.screens import frames, readings
from tickets.domain.screens.frame_checks import Asked
from tickets.domain.separation import Separation
from tickets.domain.spec import Spec, shipped
from tickets.domain.stages import LOGGED_BY_DEFAULT
from tickets.queries import desk as desk_now
from tickets.queries import find, limits, sound, trace, wrong
from tickets.queries.desk import worth_keeping
from tickets.store import boards as stored_boards
from tickets.store import desk as store_desk
from tickets.store import places as store_places
from tickets.store import readings as store_readings
from tickets.store import reads as reads_store
from tickets.store import runs
from tickets.store import screens as stored_screens
from tickets.store import spec as spec_rows


def test_shares_keep_their_counts() -> None:
    seen = [("A", True, 3), ("A", False, 1), ("B", True, 1), ("B", False, 2)]
    assert control.shares(seen) == [control.Share("A", 3, 4), control.Share("B", 1, 3)]


def test_washouts_and_checks_stand_side_by_side_with_their_counts() -> None:
    """By hand: lamp A 1 of 4 at the washout, none of 2 at the check; lamp B only checked, 1 of 2; worst first."""
    washed, checked = [control.Share("A", 1, 4)], [control.Share("A", 0, 2), control.Share("B", 1, 2)]
    assert control.beside(washed, checked) == [
        control.Beside("B", None, control.Share("B", 1, 2)), control.Beside("A", washed[0], checked[0])
    ]  # fmt: skip
    assert control.causes([("", 7), ("scum", 1), ("soft", 2)]) == (
        control.Share("soft", 2, 10), control.Share("scum", 1, 10)
    )  # fmt: skip


def test_a_limit_is_moved_until_a_fifth_is_left() -> None:
    # ten set-ups, six of them under a watch of 15: at 13.0 only 12.0 and 12.5 would be left, a fifth of ten
    low = [14.5, 14.0, 13.5, 13.0, 12.5, 12.0]
    assert control.moved(low, 10, below=True) == control.Moved(13.0, 2)
    assert control.moved([91.0, 95.0, 120.0], 10, below=False) == control.Moved(91.0, 2)
    assert control.moved([91.0, 95.0], 10, below=False) is None
    # typed as it is shown, to the tenth, it still lets 13.47 and 91.32 pass
    assert control.moved([12.0, 12.5, 13.47], 10, below=True) == control.Moved(13.4, 2)
    assert control.moved([91.32, 95.0, 120.0], 10, below=False) == control.Moved(91.4, 2)


@given(st.lists(st.floats(0.01, 5000), min_size=pool.FEW, max_size=80))
def test_the_slow_tenth_is_the_ninetieth_percentile(hours: list[float]) -> None:
    found = pool.span(hours)
    assert found is not None and found.slow_h == pytest.approx(float(numpy.percentile(hours, 90)), rel=1e-9)
    assert found.median_h == pytest.approx(float(numpy.median(hours)), rel=1e-9)


def test_few_stays_have_no_slow_tenth() -> None:
    found = pool.span([1.0, 2.0, 9.0])
    assert found == pool.Durations(3, 2.0, None, 4.0)
    assert pool.span([]) is None


def test_shifts_end_at_six_two_and_ten() -> None:
    zone = ZoneInfo("Europe/Warsaw")
    times = [datetime(2026, 3, 10, hour, 0, tzinfo=zone) for hour in (5, 6, 13, 14, 21, 22, 23)]
    assert pool.per_shift(times, zone, (6, 14, 22)) == [(date(2026, 3, 10), (2, 2, 2)), (date(2026, 3, 9), (0, 0, 1))]


def test_a_shop_has_the_shifts_that_it_says() -> None:
    zone = ZoneInfo("Europe/Warsaw")
    times = [datetime(2026, 3, 10, hour, 0, tzinfo=zone) for hour in (6, 7, 15, 16, 23)]
    # one begins at 7, one at 16: what is done at 6 is still the evening before's
    assert pool.per_shift(times, zone, (7, 16)) == [(date(2026, 3, 10), (2, 2)), (date(2026, 3, 9), (0, 1))]
    assert pool.per_shift(times, zone, (7,)) == [(date(2026, 3, 10), (4,)), (date(2026, 3, 9), (1,))]
    assert pool.shift_hours((7, 16)) == [(7, 16), (16, 7)] and pool.shift_hours((6,)) == [(6, 6)]


# Frames given out, by hand ------------------------------------------------------------------------------------------

MON, TUE, WED, THU = (date(2026, 3, 9) + timedelta(days=n) for n in range(4))


def lefts(plan: pool.FramePlan, *wants: int) -> list[int]:
    return [day.left for day in plan.of(wants)]


def needs(*wanted: tuple[int, date]) -> list[pool.FrameNeed]:
    """Screens for one print each."""
    return [pool.FrameNeed(want, due) for want, due in wanted]


def test_the_images_of_one_print_hang_together_by_hand() -> None:
    """Seven images of one print and six frames: no frame comes back from a print that cannot begin, so that one is
    short until another frame comes on Thursday. Back two days after the press."""
    mine = frozenset({0})
    wanted = [pool.FrameNeed(0, TUE, "seven")] * 7
    supply = [pool.Supply(MON, mine, 6)]
    assert lefts(pool.FramePlan(MON, 6, supply, wanted, 2), 0) == [6, -1, -1, -1, -1, -1, -1]
    late = pool.FramePlan(MON, 6, [*supply, pool.Supply(THU, mine)], wanted, 2)
    assert lefts(late, 0) == [6, -1, -1, 0, 0, 7, 7]
    # a print of one image due on Wednesday goes before the waiting one's last image only where it is due first
    other = [*wanted, pool.FrameNeed(0, WED, "one")]
    assert lefts(pool.FramePlan(MON, 3, supply, other, 2), 0) == [6, -1, -2, -2]
    # two screens of the print that are made already come back with it, not before
    held = [("seven", pool.Supply(WED, mine, 2))]
    assert lefts(pool.FramePlan(MON, 6, supply, wanted, 2, held), 0) == [6, -1, -1, -1, -1, -1, -1]
    assert lefts(pool.FramePlan(MON, 6, [*supply, pool.Supply(THU, mine)], wanted, 2, held), 0) == [
        6,
        -1,
        -1,
        0,
        0,
        9,
        9,
    ]
    # an image that a later print asks for too keeps its frame until then
    longer = [pool.FrameNeed(0, MON, "first", WED)]
    assert lefts(pool.FramePlan(MON, 6, [pool.Supply(MON, mine)], longer, 2), 0) == [0, 0, 0, 0, 1, 1, 1]


def test_frames_day_by_day_by_hand() -> None:
    mine = frozenset({0})
    # two free; two screens of Tuesday come back; three images of Wednesday have none
    supply = [pool.Supply(MON, mine, 2), pool.Supply(WED, mine, 2)]
    soon = pool.FramePlan(MON, 3, supply, needs((0, WED), (0, WED), (0, WED)), 1)
    assert [(day.needed, day.back, day.left) for day in soon.of([0])] == [(0, 0, 2), (0, 0, 2), (3, 2, 1), (0, 3, 4)]
    supply = [pool.Supply(MON, mine, 2), pool.Supply(THU, mine, 2)]
    late = pool.FramePlan(MON, 3, supply, needs((0, WED), (0, WED), (0, WED)), 2)
    assert lefts(late, 0) == [2, 2, -1, 1]  # Tuesday's come back a day too late: one short, and printed on Thursday
    # what is late is wanted today; it takes the first frame that comes back, and that one is back a day later
    assert lefts(pool.FramePlan(MON, 2, [pool.Supply(TUE, mine)], needs((0, date(2026, 3, 2))), 1), 0) == [-1, 0, 1]


def test_a_frame_is_given_out_once_however_many_meshes_it_would_do_for() -> None:
    """One frame that serves both wants and one that serves only the first: both are served, whichever comes first; with
    the first frame alone, one of them goes without."""
    both, first = frozenset({0, 1}), frozenset({0})
    for wanted in ([(0, MON), (1, MON)], [(0, MON), (1, TUE)], [(1, MON), (0, TUE)]):
        plan = pool.FramePlan(MON, 1, [pool.Supply(MON, both), pool.Supply(MON, first)], needs(*wanted), 5)
        assert lefts(plan, 0, 1)[-1] == 0
    alone = pool.FramePlan(MON, 1, [pool.Supply(MON, both)], needs((0, MON), (1, MON)), 5)
    assert lefts(alone, 0, 1) == [-1, -1] and lefts(alone, 0) == [0, 0] and lefts(alone, 1) == [-1, -1]


def test_a_want_is_given_another_frame_when_that_serves_two() -> None:
    """Monday's want takes one of two kinds that serve two wants each; Tuesday's can only use that very kind."""
    left, right = frozenset({0, 1}), frozenset({0, 2})
    for last in (1, 2):
        plan = pool.FramePlan(
            MON, 1, [pool.Supply(MON, left), pool.Supply(MON, right)], needs((0, MON), (last, TUE)), 5
        )
        assert lefts(plan, 0, 1, 2) == [1, 0]
        long = pool.FramePlan(
            MON, 7, [pool.Supply(MON, left), pool.Supply(MON, right)], needs((0, MON), (last, TUE)), 5
        )
        assert lefts(long, 0, 1, 2) == [1, 0, 0, 0, 0, 1, 2, 2]  # two frames in all, also once they are back
        # and what comes back on Saturday is the other frame, which is of no use to a want of that day
        again = [(0, MON), (last, TUE), (last, MON + timedelta(days=5))]
        late = pool.FramePlan(MON, 7, [pool.Supply(MON, left), pool.Supply(MON, right)], needs(*again), 5)
        assert lefts(late, 0, 1, 2) == [1, 0, 0, 0, 0, -1, 1, 1]


@settings(deadline=None)
@given(st.lists(st.sets(st.integers(0, 2), min_size=1), max_size=7),
       st.lists(st.tuples(st.integers(0, 2), st.integers(0, 3)), max_size=7))  # fmt: skip
def test_no_plan_serves_fewer_than_a_maximum_matching(frames: list[set[int]], wants: list[tuple[int, int]]) -> None:
    """With frames all there that never come back, as many are served as a maximum matching has edges (SciPy)."""
    days = [MON + timedelta(days=n) for n in range(4)]
    plan = pool.FramePlan(MON, 3, [pool.Supply(MON, frozenset(serves)) for serves in frames],
                     needs(*((want, days[day]) for want, day in wants)), 99)  # fmt: skip
    most = 0
    if frames and wants:
        edges = csr_matrix(numpy.array([[want in serves for serves in frames] for want, _day in wants], dtype=int))
        most = int((maximum_bipartite_matching(edges, perm_type="column") >= 0).sum())
    without = -min(0, lefts(plan, 0, 1, 2)[-1])
    assert len(wants) - without == most


KINDS = st.sets(st.integers(0, 2), min_size=1)


@settings(deadline=None)
@given(
    st.lists(st.tuples(KINDS, st.integers(0, 4), st.integers(1, 3)), max_size=5),
    st.lists(st.tuples(st.integers(0, 2), st.integers(0, 6), st.sampled_from("abcd"), st.integers(0, 3)), max_size=9),
    st.lists(st.tuples(st.sampled_from("abcd"), KINDS), max_size=2),
    st.integers(1, 3),
    st.sets(st.integers(0, 2), min_size=1),
)
def test_every_row_of_the_days_adds_up(
    frames: list[tuple[set[int], int, int]], wants: list[tuple[int, int, str, int]], held: list[tuple[str, set[int]]],
    back: int, mine: set[int],
) -> None:  # fmt: skip
    """What is left is what was left, with what came back, less what was needed and what was given to others; from what
    there is now on. What others were given is counted a second way where every frame would do for all: what they
    needed, less what more of them goes without."""
    days = [MON + timedelta(days=n) for n in range(10)]
    for every in (False, True):
        supply = [pool.Supply(days[day], frozenset({0, 1, 2} if every else serves), n) for serves, day, n in frames]
        made = [(whole, pool.Supply(TUE, frozenset({0, 1, 2} if every else serves))) for whole, serves in held]
        wanted = [pool.FrameNeed(want, days[due], whole, days[due + more]) for want, due, whole, more in wants]
        plan = pool.FramePlan(MON, 9, supply, wanted, back, made)
        net, before, others = plan.free_now(mine), 0, {0, 1, 2} - mine
        before_day: pool.Day | None = None
        for day, other in zip(plan.of(mine), plan.of(others), strict=True):
            assert min(day.needed, day.back, day.given, day.spare) >= 0
            assert day.spare == 0 or day.left < 0
            if before_day and not (day.needed or day.back or day.given):  # a page may leave the day out
                assert (day.left, day.spare) == (before_day.left, before_day.spare)
            before_day = day
            net += day.back - day.needed - day.given
            assert day.left + day.spare == net
            if every:
                without = -min(0, other.left)
                assert day.given == other.needed - (without - before)
                before = without
        assert sum(day.given for day in plan.of({0, 1, 2})) == 0


def test_what_a_print_of_another_mesh_holds_by_hand() -> None:
    """Three frames that would do for both; four images of one print on Tuesday take them all, and wait for the fourth:
    the two images of Wednesday have none. With a fourth frame they come back on Thursday, two days after."""
    both = frozenset({0, 1})
    wanted = [*[pool.FrameNeed(0, TUE, "four")] * 4, *[pool.FrameNeed(1, WED, "two")] * 2]
    stuck = pool.FramePlan(MON, 3, [pool.Supply(MON, both, 3)], wanted, 2)
    assert stuck.of([1]) == [
        pool.Day(MON, 0, 0, 3), pool.Day(TUE, 0, 0, 0, given=3), pool.Day(WED, 2, 0, -2), pool.Day(THU, 0, 0, -2)
    ]  # fmt: skip
    assert stuck.held([1], WED) == {("four", 0): 3} and stuck.stuck("four") and not stuck.held([1], TUE)
    late = pool.FramePlan(MON, 3, [pool.Supply(MON, both, 4)], wanted, 2)
    assert late.held([1], WED) == {("four", 0): 4} and not late.stuck("four") and not late.held([1], THU)
    assert late.of([1])[2:] == [pool.Day(WED, 2, 0, -2), pool.Day(THU, 0, 4, 2)]
    many = pool.FramePlan(MON, 3, [pool.Supply(MON, both, 4)], [*wanted[:4], *[pool.FrameNeed(1, WED, "many")] * 5], 2)
    assert many.of([1])[3].left == -1 and not many.held([1], THU)  # they are back, and still not enough
    # a frame left that fits other work of the mesh only is said beside what goes without
    work = pool.FramePlan(MON, 1, [pool.Supply(MON, frozenset({1}))], needs((0, MON)), 2)
    assert work.of([0, 1])[0] == pool.Day(MON, 1, 0, -1, spare=1) and not work.held([0, 1], MON)


ASKED = Asked(1, 1, Separation("Reedbed Walkers", "Warbler", "1", 100, "green"), "230/in · 48 µm", 230 / 2.54, 48.0,
              "colours")  # fmt: skip


@pytest.mark.parametrize(
    ("count_per_in", "thread", "frame", "lowest", "work", "thread_asked", "would"),
    [
        (230, 48.0, "aluminium", 20.0, "colours", 48.0, "fit"),
        (228.6, 50.0, "aluminium", 20.0, "colours", 48.0, "fit"),  # 90/cm, 2 um off: within 3 % and 2 um
        (230, 40.0, "aluminium", 20.0, "colours", 48.0, "no"),  # the same count with another thread
        (230, 40.0, "aluminium", 20.0, "colours", None, "fit"),  # the job names no thread: not compared
        (222, 48.0, "aluminium", 20.0, "colours", 48.0, "no"),  # 3.5 % off
        (230, None, "aluminium", 20.0, "colours", 48.0, "thread unknown"),
        (230, 48.0, "aluminium", 14.9, "colours", 48.0, "slack"),  # the floor of several colours is 15
        (230, 48.0, "aluminium", 14.9, "one-colour", 48.0, "fit"),  # of one colour 10
        (230, 48.0, "aluminium", 16.0, "halftone", 48.0, "slack"),  # of halftone 18
        (230, 48.0, "wood", 20.0, "colours", 48.0, "no"),  # wood takes one colour only
        (230, 48.0, "wood", 8.0, "one-colour", 48.0, "fit"),  # its floor is 7
        (230, 48.0, "aluminium", None, "colours", 48.0, "not measured"),
        (230, 48.0, "wood", None, "colours", 48.0, "no"),
        (230, None, "aluminium", 9.0, "colours", 48.0, "no"),
        (None, 48.0, "aluminium", 20.0, "colours", 48.0, "no"),
    ],
)
def test_what_a_frame_would_serve(
    count_per_in: float | None, thread: float | None, frame: str, lowest: float | None, work: str,
    thread_asked: float | None, would: str,
) -> None:  # fmt: skip
    """The limits of the shipped spec: counts within 3 %, threads within 2 um, floors 15, 10, 18 and 7 N/cm."""
    count = count_per_in / 2.54 if count_per_in else None
    asked = replace(ASKED, work=work, thread_um=thread_asked)
    alike, spec = frames.Alike(count, thread, frame, lowest), Spec(shipped())
    assert frames.would(alike, asked, spec, START, LOGGED_BY_DEFAULT) == would
    quiet = frames.would(alike, asked, spec, START, set(LOGGED_BY_DEFAULT) - {"tension"})  # that shop measures nothing
    assert quiet == ("fit" if would == "not measured" else would)


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


def coming(bench: Shop) -> desk_now.ShortAhead:
    """What the desk sees coming."""
    return desk_now.ahead(bench.db, bench.now)


def test_what_a_lamp_burnt_is_added_up_as_it_is_written(bench: Shop) -> None:
    """By hand: 80 s and 40.5 s on the first day, one without a time and 60 s on the second; from the middle of the
    first day on 40.5 + 60 = 100.5 s in three exposures; a crossing out takes its 60 s away again."""
    code, first = bench.frames()[0], bench.now.replace(hour=8, minute=0, second=0) - timedelta(days=3)

    def expose(at: datetime, **sent: object) -> str:
        return bench.past(code, "expose", at=at.isoformat(), exposure_unit="Big lamp", **sent)

    expose(first, exposure_s="80")
    expose(first + timedelta(hours=4), exposure_s="40.5")
    expose(first + timedelta(days=1))
    wrong = expose(first + timedelta(days=1, hours=1), exposure_s="60")
    assert store_readings.burnt(bench.db, "Big lamp") == (180.5, 4, 1)
    assert store_readings.burnt(bench.db, "Big lamp", stamp(first + timedelta(hours=2))) == (100.5, 3, 1)
    assert store_readings.burnt(bench.db, "Big lamp", stamp(first + timedelta(days=2))) == (0.0, 0, 0)
    assert store_places.units_named(bench.db) == ["Big lamp"]
    assert sound.check(bench.db) == []
    screens.cross_out(bench.db, bench.me, form({"crosses": wrong, "why": "wrong value"}), post=fresh(), now=bench.now)
    assert store_readings.burnt(bench.db, "Big lamp", stamp(first + timedelta(hours=2))) == (40.5, 2, 1)
    shop.rebuild(bench.db)
    assert store_readings.burnt(bench.db, "Big lamp") == (120.5, 3, 1)
    with store.writing(bench.db):
        bench.db.execute("UPDATE burnt SET burnt_ms = burnt_ms + 1 WHERE day = ?", [stamp(first)[:10]])
    assert len(sound.check(bench.db)) == 1


def test_the_burnt_hours_are_read_by_day_and_not_from_the_log(bench: Shop) -> None:
    code = bench.frames()[0]
    for hours in range(1, 60):
        bench.past(code, "expose", hours=hours, exposure_unit="Big lamp", exposure_s="10")
    asked: list[str] = []
    bench.db.conn.set_trace_callback(asked.append)
    store_readings.burnt(bench.db, "Big lamp", stamp(bench.now - timedelta(hours=30)))
    bench.db.conn.set_trace_callback(None)
    (sql,) = asked
    plan = " ".join(row[3] for row in bench.db.execute(f"EXPLAIN QUERY PLAN {sql}").fetchall())
    assert "entries" not in plan and "SCAN exposures" not in plan and "SCAN burnt" not in plan


# What runs short, by hand: each cause by itself ---------------------------------------------------------------------


def test_a_frame_of_another_thread_is_no_frame_of_this_mesh(bench: Shop) -> None:
    """Three frames of 230/in with 40 um: a job that asks for 48 um is two short; one that asks for 40 um has enough."""
    bench.frames(3, thread_um="40")
    bench.images(2)
    (mesh,) = coming(bench).meshes
    assert (mesh.free, mesh.unknown, mesh.slack, mesh.mesh) == (0, 0, 0, "230/in · 48 µm")
    assert mesh.short is not None and (mesh.short.left, mesh.short.needed) == (-2, 2)
    bench.images(2, art="Heron", thread="40 um")
    first, second = coming(bench).meshes  # a section each, the short one first
    assert first.mesh == "230/in · 48 µm" and first.short is not None
    assert (second.mesh, second.free, second.short) == ("230/in · 40 µm", 3, None)


def test_what_rests_on_frames_that_were_never_measured_is_said(
    bench: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    """Four frames, two of them measured and fit; three images. It is enough only if one that was never measured is fit;
    for a fourth and fifth image it is one short whatever they come to."""
    for code in bench.frames(4, thread_um="48")[:2]:
        bench.past(code, "tension", readings_n_per_cm="22")
    bench.images(3)
    (mesh,) = coming(bench).meshes
    assert (mesh.free, mesh.unmeasured, mesh.short, mesh.rests) == (4, 2, None, 1)
    boss = sign_in(client, "Di Novak")
    page = boss.get("/desk/short").text
    assert "? enough, if 1 frame that was never measured is fit" in page and "✓" not in page.split("<h2>")[1]
    assert "4 frames free, 2 of these were never measured" in page and "measure the tension of 2 free frames" in page
    bench.images(2, art="Heron")
    (mesh,) = coming(bench).meshes
    assert mesh.short and (mesh.short.left, mesh.unmeasured, mesh.rests) == (-1, 2, 0)
    steps = [step for step in LOGGED_BY_DEFAULT if step != "tension"]
    shop.set_up(bench.db, shop.command_line(bench.db, bench.now), "steps", steps, now=bench.now)
    (mesh,) = coming(bench).meshes
    assert (mesh.free, mesh.unmeasured, mesh.rests) == (4, 0, 0) and "measured" not in boss.get("/desk/short").text


def test_a_thread_that_nobody_noted_may_serve_and_is_said_apart(bench: Shop) -> None:
    bench.frames(3)
    bench.images(2)
    (mesh,) = coming(bench).meshes
    assert (mesh.free, mesh.unknown) == (0, 3) and mesh.short is not None and mesh.short.left == -2


def test_a_job_that_names_no_thread_takes_any_of_its_count(bench: Shop) -> None:
    bench.frames(1)
    bench.frames(1, thread_um="40")
    bench.images(2, thread="")
    (mesh,) = coming(bench).meshes
    assert (mesh.free, mesh.unknown, mesh.short) == (2, 0, None)


def test_a_label_in_another_unit_is_the_same_mesh(bench: Shop) -> None:
    """90/cm is 228.6/in, 0.6 % off 230/in; 50 um is 2 um off 48: one mesh by the same-mesh rule."""
    bench.frames(2, mesh_count_as_labelled="90/cm", thread_um="50")
    bench.images(1)
    bench.images(1, art="Heron", count="90/cm")
    (mesh,) = coming(bench).meshes  # both jobs ask for the same mesh
    assert (mesh.free, mesh.short, len(mesh.needs)) == (2, None, 2)


def test_a_frame_under_its_floor_serves_only_when_restretched(bench: Shop) -> None:
    """Two colours: the floor is 15 N/cm; of three frames two are at 14."""
    first, second, third = bench.frames(3, thread_um="48")
    for code, reading in ((first, "14"), (second, "14.9"), (third, "15")):
        bench.past(code, "tension", readings_n_per_cm=reading)
    bench.images(2)
    (mesh,) = coming(bench).meshes
    assert (mesh.free, mesh.slack) == (1, 2) and mesh.short is not None and mesh.short.left == -1


def test_an_image_that_has_its_screen_needs_none_and_two_on_one_screen_are_one(bench: Shop) -> None:
    """Two images ganged on one ready screen: nothing is needed, and one frame comes back, not two."""
    (code,) = bench.frames(1, thread_um="48")
    bench.made(code, bench.images(2))
    ahead = coming(bench)
    (mesh,) = ahead.meshes
    assert (mesh.needs, mesh.free, mesh.short) == ((), 0, None)
    assert [day.back for day in mesh.days if day.back] == [1] and mesh.days[-1].left == 1
    day = (bench.now + timedelta(days=2 + ahead.back_days)).date()
    assert next(one for one in mesh.days if one.back).day == day
    bench.images(2, days=1, art="Heron")  # two more images, before that frame is back
    (mesh,) = coming(bench).meshes
    assert mesh.short is not None and mesh.short.left == -2
    assert [(one.title, one.number, one.from_day) for one in mesh.soon] == [("Warbler totes", 1, day)]


def test_an_image_on_a_kept_screen_needs_none(bench: Shop) -> None:
    (code,) = bench.frames(1, thread_um="48")
    images = bench.images(2)
    bench.made(code, images[:1], kept=True)
    (mesh,) = coming(bench).meshes
    assert [one[3] for one in mesh.needs] == [1] and mesh.short is not None and mesh.short.left == -1


def test_an_image_that_two_jobs_ask_for_needs_one_frame(bench: Shop) -> None:
    bench.frames(2, thread_um="48")
    assert bench.images(2) == bench.images(2, days=4)
    (mesh,) = coming(bench).meshes
    assert mesh.short is None and sum(day.needed for day in mesh.days) == 2


def test_an_image_that_one_placement_prints_twice_needs_two_screens(bench: Shop) -> None:
    """White under and white over: with one screen of it ready, one more frame is needed."""
    (code,) = bench.frames(1, thread_um="48")
    images = bench.images(3, twice=True)
    assert images[0] == images[2]
    bench.made(code, images[:1])
    (mesh,) = coming(bench).meshes
    assert sum(day.needed for day in mesh.days) == 2  # the other image, and the second screen of this one


def test_a_stencil_that_failed_waits_to_be_stripped_and_gives_its_frame_back(bench: Shop) -> None:
    """One image, one frame whose stencil for it failed at the washout: it is short today, and not once that is off."""
    (code,) = bench.frames(1, thread_um="48")
    (image,) = bench.images(1, days=4)
    bench.made(code, [image], days_ago=1)
    bench.past(code, "check", 2, result="fault", fault="pinholes")
    (mesh,) = coming(bench).meshes
    assert (mesh.now, mesh.free, mesh.waiting, mesh.short) == (0, 0, 1, None)
    assert [day.left for day in mesh.days][:6] == [0, 0, 1, 1, 0, 0]  # two days to be stripped and made ready


def test_a_print_that_lacks_a_frame_gives_none_back_and_is_no_help_to_itself(bench: Shop) -> None:
    """Three images on the press date, one made, one frame free: one short, from that day to the last."""
    made, _free = bench.frames(2, thread_um="48")
    images = bench.images(3, days=2, art="Heron")
    bench.made(made, images[:1])
    (mesh,) = coming(bench).meshes
    assert mesh.now == 1 and mesh.short is not None and mesh.short.left == -1
    assert {day.left for day in mesh.days[2:]} == {-1} and mesh.soon == ()


def test_what_helps_names_only_kept_screens_that_would_serve(bench: Shop) -> None:
    """Two kept since 200 days, one of the mesh that runs short, one of another thread; and one kept since yesterday."""
    right, young = bench.frames(2, days_ago=300, thread_um="48")
    (other,) = bench.frames(1, days_ago=300, thread_um="40")
    old = bench.images(1, art="Old heron")
    for code, days_ago in ((right, 200), (other, 200), (young, 1)):
        bench.made(code, old, days_ago=days_ago, kept=True)
    with store.writing(bench.db):
        bench.db.execute("UPDATE jobs SET closed_at = '2026-01-01'")
    bench.images(1)
    (mesh,) = coming(bench).meshes
    assert mesh.short is not None and [str(row.one.code) for row in mesh.strip] == [right]
    assert mesh.strip[0].idle_d == 199


def rows_of(page: str, mesh: str) -> list[list[str]]:
    """The day by day of one mesh on a page, its head first, as it reads."""
    section = page.split(f'aria-label="{mesh}"')[1].split("</section>")[0]
    rows = re.findall(r"<tr>.*?</tr>", section, re.S)
    return [[re.sub(r"<[^>]*>", "", cell) for cell in re.findall(r"<t[hd].*?</t[hd]>", row, re.S)] for row in rows]


def test_what_two_meshes_share_adds_up_in_both(
    bench: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    """Three frames of 135/in with 48 um. Four images ask for them by their thread in two days and wait for a fourth;
    two ask for their count alone in five days, and find none. One frame more, and all come back two days after."""
    *first, fourth = bench.frames(4, mesh_count_as_labelled="135/in", thread_um="48")
    for code in first:
        bench.past(code, "tension", readings_n_per_cm="22")
    bench.past(fourth, "tension", 5, readings_n_per_cm="9")  # tightened later
    bench.images(4, days=2, count="135/in")
    bench.images(2, days=5, art="Heron", count="135/in", thread="")
    boss = sign_in(client, "Di Novak")
    named, plain = coming(bench).meshes
    assert (named.mesh, plain.mesh) == ("135/in · 48 µm", "135/in") and not named.held
    assert [(one.title, one.mesh, one.number, one.stuck) for one in plain.held] == [
        ("Warbler totes", "135/in · 48 µm", 3, True)
    ]
    page = boss.get("/desk/short").text
    head, now, *days = rows_of(page, "135/in")
    assert head[1:] == ["frames needed", "frames given to other meshes", "come back", "left"] and now[1:] == [
        "",
        "",
        "",
        "3",
    ]
    assert [row[1:] for row in days] == [["0", "3", "0", "0"], ["2", "0", "0", "✕ 2 short"]]  # nor does it change since
    section = page.split('aria-label="135/in"')[1].split("</section>")[0]
    assert "3 frames that would do here are given to" in section and "which lacks a frame itself" in section
    head, now, *days = rows_of(page, "135/in · 48 µm")
    assert head[1:] == ["frames needed", "come back", "left"] and days[0][1:] == ["4", "0", "✕ 1 short"]
    bench.past(fourth, "tension", readings_n_per_cm="22")
    page = boss.get("/desk/short").text
    assert page.count("✓ enough") == 2 and "would do here" not in page
    rows = {mesh: [row[1:] for row in rows_of(page, mesh)[2:]] for mesh in ("135/in", "135/in · 48 µm")}
    assert rows["135/in"] == [["0", "4", "0", "0"], ["0", "0", "4", "4"], ["2", "0", "0", "2"], ["0", "0", "2", "4"]]
    assert rows["135/in · 48 µm"] == [
        ["4", "0", "0", "0"], ["0", "0", "4", "4"], ["0", "2", "0", "2"], ["0", "0", "2", "4"]
    ]  # fmt: skip


def test_frames_to_restretch_are_offered_twice_but_said_to_be_the_same(
    bench: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    for code in bench.frames(2, mesh_count_as_labelled="305/in", thread_um="34"):
        bench.past(code, "fault", 3, kind="slack", then="restretch")
    bench.images(1)
    bench.images(1, art="Heron", count="110/in", thread="")
    sections = sign_in(client, "Di Novak").get("/desk/short").text.split("<section")[1:]
    assert ["2 frames wait to be restretched" in one for one in sections] == [True, True]
    assert ["(the same 2 frames as above, once)" in one for one in sections] == [False, True]


def test_what_a_stock_take_did_not_find_helps_nobody_and_is_said_apart(
    bench: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    """Two of 230/in kept since 200 days, one on the rack and one that nobody found; a free one, a frame to be
    restretched and the ready screen of a job to come, which nobody found either."""
    lost, found = bench.frames(2, days_ago=300, thread_um="48")
    ready, free, slack = bench.frames(3, thread_um="48")
    places.add(bench.db, bench.me, "Rack 1", "rack", post=fresh(), now=bench.now - timedelta(days=301))
    rack = find.place(bench.db, "Rack 1")
    old = bench.images(1, art="Old heron")
    for code in (lost, found):
        bench.made(code, old, days_ago=200, kept=True)
    with store.writing(bench.db):
        bench.db.execute("UPDATE jobs SET closed_at = '2026-01-01'")
    bench.made(ready, bench.images(1, art="Stork"))
    bench.images(3)
    bench.past(slack, "fault", 3, kind="slack", then="restretch")
    for code in (lost, found, ready, free, slack):
        bench.past(code, "rack", 0.2, place=rack.name)
    (before,) = coming(bench).meshes
    assert before.short and (before.short.left, before.free, before.missing, before.restretch) == (-2, 1, 0, 1)
    assert {str(row.one.code) for row in before.strip} == {lost, found}
    stay = [find.screen(bench.db, found).id]
    stocktake.put_right(bench.db, bench.me, rack, [], stay, post=fresh(), now=bench.now)
    (mesh,) = coming(bench).meshes
    assert mesh.short and (mesh.short.left, mesh.free, mesh.missing, mesh.restretch) == (-4, 0, 4, 0)
    assert [str(row.one.code) for row in mesh.strip] == [found] and not mesh.soon
    assert {title for _code, title, _due, _number in mesh.needs} == {"Stork totes", "Warbler totes"}
    (pooled,) = desk_now.pool_of(bench.db, bench.now, 30).meshes
    assert pooled.frames == pool.Stock(1, 1, mesh.missing)  # the same frames are missing on both pages
    boss = sign_in(client, "Di Novak")
    short, kept, listed, paper = (
        boss.get(path).text for path in ("/desk/short", "/desk/kept", "/desk/kept?strip=1", "/desk/kept?print=1")
    )
    assert "4 more are missing since a stock-take" in short and shown(lost) not in short
    assert "to be restretched" not in short
    assert all("4 more are missing" in boss.get(path).text for path in ("/desk/pool", "/desk"))
    assert "missing since the stock-take of Rack 1" in kept and "? missing" in kept
    for page in (listed, paper):
        assert shown(found) in page and shown(lost) not in page
        assert "1 more is missing since a stock-take" in page
    gone = {(standing, number) for standing, _mesh, _count, number in stored_screens.counts(bench.db)}
    assert gone == {("kept", 1), (stored_screens.MISSING, 4)}
    assert "estretch" not in boss.get("/screen-room?need=1").text.split("<main")[1]  # no frame to fetch for it
    assert "missing" in boss.get("/screen-room").text.split("Stork")[1].split("Warbler")[0]
    assert 'due=missing">missing</a>' in boss.get("/screens").text
    assert shown(lost) not in boss.get("/screens?standing=kept").text
    assert boss.get("/screens?due=missing").text.count("? missing since") == 4


def test_frames_off_the_press_come_back_after_the_time_that_the_log_shows(bench: Shop) -> None:
    """Two screens took 10 h and 20 h to be cleaned and 26 h and 36 h to be stripped: medians 15 h and 31 h; a day
    more to make a screen ready, since none was seen: 70 h, so three days. What waits is then there on the third day."""
    (waits,) = bench.frames(1, thread_um="48")
    for clean, strip in ((10, 26), (20, 36)):
        (code,) = bench.frames(1, thread_um="110", mesh_count_as_labelled="110/in")
        bench.past(code, "found", 80, standing_seen="to clean")
        bench.past(code, "clean", 80 - clean)
        bench.past(code, "decide", 80 - clean, then="strip")
        bench.past(code, "strip", 80 - clean - strip)
    bench.past(waits, "found", 1, standing_seen="to strip")
    bench.images(1, days=2)
    ahead = coming(bench)
    (mesh,) = ahead.meshes
    assert (ahead.back_h, ahead.make_h, ahead.back_days, mesh.waiting) == (15 + 31, None, 3, 1)
    assert [day.left for day in mesh.days][:4] == [0, 0, -1, 0]


BIG = frozenset(
    "entries washouts checks exposures stays stencils coats hangings tensions upsets meshes job_versions".split()
)
"""Tables that grow with the log: none is read from end to end for a page."""
BOUNDED = {
    "/desk": {"meshes"},  # one row a mesh, all of them counted together, from an index
    "/desk/pool": {"meshes"},
}


@pytest.mark.parametrize(
    "path",
    ["/desk", "/desk/short", "/desk/pool", "/desk/wrong", "/desk/limits", "/desk/kept", "/desk/kept?strip=1",
     "/desk/stocktake", "/desk/trace", "/desk/files", "/bring", "/desk/screens/{screen}", "/desk/trace/{bucket}"],
)  # fmt: skip
def test_no_page_of_the_desk_reads_the_whole_log(
    bench: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient], path: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """SQLite's own plan of every question that a page asks."""
    (code,) = bench.frames(1, thread_um="48")
    bucket = buckets.mix(bench.db, bench.me, form({"kind": "dual-cure emulsion"}), post=fresh(), now=bench.now)
    bench.made(code, bench.images(2), kept=True)
    bench.past(code, "expose", 2, exposure_unit="Big lamp", exposure_s="80")
    phone = sign_in(client, "Di Novak")
    scanned: set[str] = set()
    asked = reads_store.Connection.execute

    def explained(self: reads_store.Connection, sql: str, parameters: Any = None) -> Any:
        if sql.lstrip().startswith(("SELECT", "WITH")):
            names = {table: table for table in BIG}
            names |= {alias: table for table, alias in re.findall(r"\b(\w+) (?:AS )?([a-z])\b", sql) if table in BIG}
            plan = asked(self, f"EXPLAIN QUERY PLAN {sql}", parameters).fetchall()
            scanned.update(names[word] for row in plan for word in re.findall(r"^SCAN (\w+)", row[3]) if word in names)
        return asked(self, sql, parameters)

    monkeypatch.setattr(reads_store.Connection, "execute", explained)
    assert phone.get(path.format(screen=code, bucket=bucket)).status_code == 200
    assert scanned <= BOUNDED.get(path, set())


def test_what_is_counted_after_each_entry_is_read_out_of_indexes_alone(bench: Shop) -> None:
    """A row of a large shop lies on a page of its own; an index has a hundred side by side (by SQLite’s own plans)."""
    bench.frames(1)
    asked: list[str] = []
    bench.db.conn.set_trace_callback(asked.append)
    store_desk.begun(bench.db, "2026")
    store_desk.ended(bench.db, "2026")
    stored_boards.due_counts(bench.db, [("tension", "2026", 5)])
    bench.db.conn.set_trace_callback(None)
    plans = [row[3] for sql in asked for row in bench.db.execute(f"EXPLAIN QUERY PLAN {sql}").fetchall()]
    reads = [plan for plan in plans if plan.startswith(("SEARCH", "SCAN")) and "SUBQUERY" not in plan]
    assert len(asked) == 3 and len(reads) >= 6
    assert all("COVERING INDEX" in plan for plan in reads if "(subquery" not in plan), reads


# What goes wrong, by hand


def test_a_fault_found_at_the_check_counts_beside_those_of_the_washout(bench: Shop) -> None:
    """Four stencils of one lamp: one washout with scum, one check with pinholes, one check whose fault nobody named."""
    codes = bench.frames(4, thread_um="48")
    lot = buckets.mix(bench.db, bench.me, form({"kind": "dual-cure emulsion"}), post=fresh(), now=bench.now)
    for place, code in enumerate(codes):
        bench.past(code, "coat", 9 - place / 60, bucket=lot)
        bench.past(code, "expose", 8, exposure_unit="Big lamp", exposure_s="80")
        fault = {"result": "fault", "fault": "scum"} if place == 0 else {"result": "good"}
        bench.past(code, "washout", 7, **fault)
    bench.past(codes[1], "check", 6, result="fault", fault="pinholes")
    bench.past(codes[2], "check", 6, result="fault")
    bench.past(codes[3], "check", 6, result="good")
    found = wrong.wrong(bench.db, bench.now, 30)
    assert found.washouts == (control.Share("scum", 1, 4),)
    assert set(found.checks) == {control.Share("pinholes", 1, 3), control.Share("not named", 1, 3)}
    by = dict(found.by)
    both = control.Beside("Big lamp", control.Share("Big lamp", 1, 4), control.Share("Big lamp", 2, 3))
    assert by["exposure unit"] == (both,)
    (mesh,) = by["mesh"]
    assert (mesh.name, mesh.washed and mesh.washed.of, mesh.checked and mesh.checked.number) == ("230/in", 4, 2)
    faults = [row[0] for row in bench.db.execute("SELECT faults FROM stencils ORDER BY screen").fetchall()]
    assert faults == ["scum", "pinholes", "not named", ""]
    traced = trace.trace_buckets(bench.db, [find.bucket(bench.db, lot)])
    assert [one.faults for one in traced.rows] == faults and traced.totals.faulty == 3
    assert store_desk.coats_of(bench.db, traced.rows[0].bucket or 0)[:2] == (4, 3)
    assert sound.check(bench.db) == []


def test_counts_stand_beside_each_rate_and_no_rate_is_a_percentage(
    bench: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    (code,) = bench.frames(1)
    bench.past(code, "washout", 7, result="good")
    bench.past(code, "check", 6, result="fault")
    page = sign_in(client, "Di Novak").get("/desk/wrong").text.split("<main")[1].split("</main")[0]
    assert "1 of 1" in page and "0 of 1" in page and "not named" in page and "%" not in page


def test_the_first_strips_of_a_lamp_stay_what_the_others_are_held_against_however_many_follow(bench: Shop) -> None:
    """Thirty at step 7, then 1,030 at step 6: it moved at the first of those looked through, whatever is newest."""
    rows = [(1, n, f"s{n:05d}", (START + timedelta(hours=n)).isoformat(), 7.0 if n < 30 else 6.0) for n in range(1060)]
    bench.frames(1)
    with store.writing(bench.db):
        bench.db.conn.executemany(
            "INSERT INTO washouts (screen, place, entry, at, exposure_unit, mesh_colour, preset, step_held, result, "
            "fault) VALUES (?, ?, ?, ?, 'Big lamp', '', '', ?, 'good', '')", rows,
        )  # fmt: skip
        bench.db.execute("INSERT INTO burnt VALUES ('Big lamp', '2026-03-02', 0, 1, 0)")
    ((_name, _since, chart),) = wrong.step_charts(bench.db, START + timedelta(days=400))
    assert len(chart.held) == 1060 and chart.drifted == control.Drifted(30, "adds up")


def test_the_chart_compares_like_with_like_out_of_the_log(bench: Shop) -> None:
    """Two meshes in turn, one held at 9 and one at 5, then both a step lower; and in between one mesh exposed for twice
    the time, which holds two steps more."""
    bench.frames(1)
    rows = []
    for n in range(60):
        mesh, held, time = (90.0, 9.0, 60.0) if n % 2 else (43.0, 5.0, 30.0)
        held, time = (held + 2, 2 * time) if 30 <= n < 40 else (held, time)
        held -= 2 if n >= 50 else 0
        rows.append((n, f"s{n:05d}", (START + timedelta(hours=n)).isoformat(), mesh, time, held))
    with store.writing(bench.db):
        bench.db.conn.executemany(
            "INSERT INTO washouts (screen, place, entry, at, exposure_unit, count_per_cm, mesh_colour, preset, "
            "exposure_s, step_held, result, fault) VALUES (1, ?, ?, ?, 'Big lamp', ?, '', '', ?, ?, 'good', '')", rows,
        )  # fmt: skip
        bench.db.execute("INSERT INTO burnt VALUES ('Big lamp', '2026-03-02', 0, 1, 0)")
    ((_name, _since, chart),) = wrong.step_charts(bench.db, START + timedelta(days=400))
    assert (chart.groups, chart.drifted) == (2, control.Drifted(50, "outside"))
    assert [off for off in chart.off[:50] if off] == []


# Warnings shown too often, by hand


def test_what_would_change_if_a_nagging_limit_moved(bench: Shop) -> None:
    """Ten set-ups; the watch limit of 20 N/cm cautioned six, at 19, 18.5, 18, 17.5, 17 and 16.5. At 17.5 it would have
    cautioned two, a fifth of ten. An old reading cautioned two, which is no nagging."""
    watch = next(row for row in Spec(spec_rows.rows(bench.db)).rows if row.key == "tension-watch" and row.value == 20)
    with store.writing(bench.db):
        bench.db.execute("PRAGMA defer_foreign_keys = ON")
        bench.db.execute("INSERT INTO codes VALUES ('J1', 'job', 1, '', 0), ('P1', 'place', 1, '', 0)")
        bench.db.execute("INSERT INTO places (id, code, name, key, kind, outside, heads, made_at) "
                         "VALUES (1, 'P1', 'Press 1', 'press 1', 'press', 0, 8, '')")  # fmt: skip
        bench.db.execute("INSERT INTO jobs (id, code, title, customer, due, reference, version, pieces, made_at) "
                         "VALUES (1, 'J1', 'Totes', 'Walkers', '', '', 1, 9, '')")  # fmt: skip
        for number in range(1, 11):
            runs.add(bench.db, 1, 1, 1, 1, stamp(START))
            bench.db.execute("UPDATE runs SET done_at = '2026-03-02'")
            seen = [run_trace.ShownCaution("", None, None)]
            if number <= 6:
                seen.append(run_trace.ShownCaution("tension-under-watch", watch.id, 19.5 - number / 2))
            if number in (1, 8):
                seen.append(run_trace.ShownCaution("tension-old", None, 120.0))
            store_desk.save_run(bench.db, number, run_trace.RunTrace(cautions=tuple(seen)))
    found, set_ups = limits.nags(bench.db)
    assert set_ups == 10
    first, second = found
    assert (first.key, first.number, first.of, first.nags, first.row) == ("tension-under-watch", 6, 10, True, watch)
    assert first.moved == control.Moved(17.5, 2)
    assert (second.key, second.number, second.nags, second.moved) == ("tension-old", 2, False, None)
    me = shop.command_line(bench.db, bench.now)
    moved_by = control.Moved(17.5, 2)
    # withdrawn, the row that came with the program is back
    for value, then, number, before, nags, moved in (
        (18.0, 18.0, 3, 3, True, moved_by), (None, 20.0, 6, 0, True, moved_by),
    ):  # fmt: skip
        shop.add_spec_row(bench.db, me, replace(watch, value=value, source="a test of ours"), now=bench.now)
        (after,) = [one for one in limits.nags(bench.db)[0] if one.key == "tension-under-watch"]
        assert after.row is not None and after.row.value == then
        assert (after.number, after.before, after.nags, after.moved) == (number, before, nags, moved)


# The pool, by hand


def test_the_pool_by_hand(bench: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]) -> None:
    """Six screens stood washed out for 1, 2, 3, 4, 5 and 15 h: the median is 3.5 h, the slow tenth 10 h (half way from
    5 to 15). Six stencils were begun within the six days of the log, one a day: six of six made ready."""
    for place, hours in enumerate((1, 2, 3, 4, 5, 15)):
        (code,) = bench.frames(1, days_ago=6, thread_um="48")
        begun = 24 * (6 - place)
        bench.past(code, "coat", begun)
        bench.past(code, "washout", begun - 1, result="good")
        bench.past(code, "check", begun - 1 - hours, result="good")
    view = desk_now.pool_of(bench.db, bench.now, 30)
    stages = {one.standing: one for one in view.stays}
    wait, ready = stages["to check"].ended, stages["ready"]
    assert wait and (wait.number, wait.median_h, wait.slow_h) == (6, 3.5, 10.0)
    first = bench.now - timedelta(hours=24 * 6 - 2)  # the first of them is ready since 142 h
    assert (ready.ended, ready.still, ready.oldest) == (None, 6, stamp(first))
    (mesh,) = view.meshes
    assert (mesh.mesh, mesh.begun, mesh.frames) == ("230/in · 48 µm", 6, pool.Stock(6, 6))
    assert mesh.needed is None  # too little
    assert view.days == pytest.approx(6.0) and mesh.per_day == pytest.approx(1.0)
    # none ended; of the six days they were on for 6, 5, 4, 3, 2 and 1
    assert mesh.turnaround is None and mesh.busy == mesh.carried == pytest.approx(21 / 6)
    assert sum(sum(row) for _day, row in view.shifts) == 6
    shop.set_up(bench.db, shop.command_line(bench.db, bench.now), "shifts", "0 12", now=bench.now)
    assert {len(row) for _day, row in desk_now.pool_of(bench.db, bench.now, 30).shifts} == {2}
    with pytest.raises(Refused):
        shop.set_up(bench.db, shop.command_line(bench.db, bench.now), "shifts", "12 0", now=bench.now)
    page = sign_in(client, "Di Novak").get("/desk/pool").text
    assert "none left it" in page and "6, the first since" in page and "too early to say: 0 of 10 reclaimed" in page


def test_a_pool_out_of_the_newest_part_of_the_log_misses_nothing_that_ended_since(
    bench: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of a log that is too full the newest three stencils are read: the last 48 h, with three on since 48, 47 and 46 h.
    Six older ones were stripped 30, 28, ... 20 h ago: they took a frame for 18, 20, ... 28 h of the 48."""
    monkeypatch.setattr(store_desk, "MOST", 3)
    codes = bench.frames(9, days_ago=11, thread_um="48")
    for place, code in enumerate(codes[:6]):
        bench.past(code, "coat", 240)
        bench.past(code, "strip", 30 - 2 * place)
    for place, code in enumerate(codes[6:]):
        bench.past(code, "coat", 48 - place)
    (mesh,) = desk_now.pool_of(bench.db, bench.now, 30).meshes
    assert mesh.busy == pytest.approx((48 + 47 + 46 + 18 + 20 + 22 + 24 + 26 + 28) / 48)


def test_the_pool_keeps_threads_apart_and_puts_what_is_short_first(
    bench: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    """Of 230/in with 48 um three frames, none used; of the same count with 40 um one, which took a day for each of two
    stencils in four days: half a frame. Two of 110/in took two days each: one frame in all, and there are two. A frame
    of 90/cm with 50 um is one of 230/in with 48 um by the shop's tolerances (3 %, 2 um), and goes by that name; one
    whose thread nobody noted stands alone."""
    bench.frames(3, days_ago=4, thread_um="48")
    bench.frames(1, days_ago=4, mesh_count_as_labelled="90/cm", thread_um="50")
    bench.frames(1, days_ago=4)
    (thin,) = bench.frames(1, days_ago=4, thread_um="40")
    coarse = bench.frames(2, days_ago=4, mesh_count_as_labelled="110/in", thread_um="80")
    for begun in (96, 50):
        bench.past(thin, "coat", begun)
        bench.past(thin, "strip", begun - 24)
    for code in coarse:
        bench.past(code, "coat", 60)
        bench.past(code, "strip", 12)
    (row,) = bench.frames(1, days_ago=4, mesh_count_as_labelled="305/in", thread_um="34")
    for begun in range(95, 5, -9):
        bench.past(row, "coat", begun)
        bench.past(row, "strip", begun - 8)
    bench.past(row, "fault", 1, kind="torn", then="restretch")  # the only frame of a busy mesh
    meshes = desk_now.pool_of(bench.db, bench.now, 30).meshes
    assert [(one.mesh, one.begun, one.frames.there, one.needed, one.short_by) for one in meshes] == [
        ("305/in · 34 µm", 10, 1, 3, 2), ("110/in · 80 µm", 2, 2, None, 0), ("230/in · 48 µm", 0, 4, None, 0),
        ("230/in", 0, 1, None, 0), ("230/in · 40 µm", 2, 1, None, 0),
    ]  # fmt: skip
    assert meshes[0].frames.taken == 1  # the torn one waits to be restretched: it is there, and not free
    assert [one.also for one in meshes] == [(), (), ("90/cm · 50 µm",), (), ()]
    assert "with 90/cm · 50 µm" in sign_in(client, "Di Novak").get("/desk/pool").text
    assert [meshes[place].busy for place in (1, 4)] == [pytest.approx(1.0), pytest.approx(0.5)]


def test_a_quiet_window_does_not_raise_the_rate(bench: Shop) -> None:
    """A log of 130 days, with seven stencils begun in the last 25 of them: over 30 days that is 7 / 30 a day, not
    7 / 25. Each took a frame for a day: 7 / 30 of a frame. A list of frames may say that they were stretched years
    ago: that makes no log of years."""
    (code,) = bench.frames(1, days_ago=130, thread_um="48")
    for days_ago in (24.9, 21, 17, 13, 9, 5, 2):
        bench.past(code, "coat", days_ago * 24)
        bench.past(code, "strip", days_ago * 24 - 24)
    view = desk_now.pool_of(bench.db, bench.now, 30)
    (mesh,) = view.meshes
    assert (view.days, mesh.begun) == (30, 7) and mesh.per_day == pytest.approx(7 / 30)
    assert mesh.busy == pytest.approx(7 / 30)
    long = desk_now.pool_of(bench.db, bench.now, 365)
    assert long.days == pytest.approx(130) and long.meshes[0].per_day == pytest.approx(7 / 130)


def test_a_list_of_old_frames_makes_no_old_log(bench: Shop) -> None:
    """Frames written down three days ago, stretched years ago; one stencil since two days: over three days."""
    at = bench.now - timedelta(days=3)
    sent = {"mesh_count_as_labelled": "230/in", "thread_um": "48", "frame": "aluminium", "in_hand": "yes",
            "at": (bench.now - timedelta(days=900)).isoformat()}  # fmt: skip
    (code,) = screens.add(bench.db, bench.me, form(sent), post=fresh(), now=at)
    bench.past(str(code), "coat", 48)
    view = desk_now.pool_of(bench.db, bench.now, 90)
    assert view.days == pytest.approx(3.0) and view.meshes[0].per_day == pytest.approx(1 / 3)


def test_what_a_stock_take_did_not_find_was_needed_until_then_and_is_not_there(
    bench: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    """Three screens ready for eight of the ten days of a log; a stock-take two days ago finds two: two frames are
    there, which were taken for 8 of the ten days, the third for 6. Were it found again, 3 x 8 / 10."""
    codes = bench.frames(3, days_ago=10, thread_um="48")
    places.add(bench.db, bench.me, "Rack 1", "rack", post=fresh(), now=bench.now - timedelta(days=11))
    rack = find.place(bench.db, "Rack 1")
    images = bench.images(3)
    for code, image in zip(codes, images, strict=True):
        bench.made(code, [image], days_ago=8)
        bench.past(code, "rack", 72, place=rack.name)
    (before,) = desk_now.pool_of(bench.db, bench.now, 30).meshes
    assert before.busy == pytest.approx(24 / 10) and before.frames == pool.Stock(3, 3)
    seen = [find.screen(bench.db, code).id for code in codes[:2]]
    stocktake.put_right(bench.db, bench.me, rack, [], seen, post=fresh(), now=bench.now - timedelta(days=2))
    view = desk_now.pool_of(bench.db, bench.now, 30)
    (mesh,) = view.meshes
    assert mesh.busy == pytest.approx(22 / 10) and mesh.frames == pool.Stock(2, 2, 1) and mesh.begun == 3
    (ready,) = [one for one in view.stays if one.standing == "ready"]
    assert (ready.still, ready.missing) == (2, 1)
    page = sign_in(client, "Di Novak").get("/desk/pool").text.split("still there</th>")[1]
    assert "2, the first since" in page and "1 more is missing since a stock-take" in page
    bench.past(codes[2], "rack", 24, place=rack.name)
    (found,) = desk_now.pool_of(bench.db, bench.now, 30).meshes
    assert found.busy == pytest.approx(24 / 10) and found.frames == pool.Stock(3, 3)
