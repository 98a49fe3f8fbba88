"""The acts on a real shop file: what is written, asked, refused, and worked out."""

from __future__ import annotations

import csv
import dataclasses
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shop import MORNING as NOW
from shop import Shop, fresh, repeat_of

from tickets import demo
from tickets.actions import buckets, hanging, jobs, noting, places, runs, screens, shop
from tickets.actions.posting import line, numbered, once, write
from tickets.calculator.verdict import Level
from tickets.domain import step_reading, steps
from tickets.domain.code import shown
from tickets.domain.jobs import job as sheets
from tickets.domain.posted import Asks, Worse, form
from tickets.domain.refusal import Clash, NotAllowed, Refused, SentBefore
from tickets.domain.stages import Standing
from tickets.queries import air, at_press, exports, find, run_plan, screen_steps, sound, target
from tickets.queries.shop_rules import act_time
from tickets.store import entries, writing
from tickets.store import jobs as store_jobs
from tickets.store import screens as store_screens


@pytest.fixture
def the_shop(tmp_path: Path) -> Shop:
    made = Shop.begun(tmp_path)
    made.place("Rack 1")
    made.place("Press 1", "press", heads=10)
    made.place("Press 2", "press", heads=10)
    return made


# One step of one screen


def test_a_registered_screen_is_bare_with_its_stretch_in_the_log(the_shop: Shop) -> None:
    code = the_shop.frame(mark="H 12", mesh_colour="dyed")
    life = the_shop.life(code)
    assert life.standing is Standing.BARE
    assert (life.mark, life.mesh.count_as_labelled, life.mesh.thread_um) == ("H 12", "230/in", 48.0)
    assert [entry.step for entry in entries.of(the_shop.db, "screen", 1)] == ["stretch"]


def test_marks_are_counted_up_over_several_screens(the_shop: Shop) -> None:
    sent = {"mesh_count_as_labelled": "90/cm", "mark": "A 09"}
    codes = screens.add(the_shop.db, the_shop.me, form(sent), post=fresh(), now=NOW, number=3)
    assert [the_shop.life(code).mark for code in codes] == ["A 09", "A 10", "A 11"]


def test_a_double_post_makes_one_entry_and_gets_the_first_answer(the_shop: Shop) -> None:
    code = the_shop.frame()
    first = the_shop.log(code, "degrease", entry="the-same-entry-id")
    second = the_shop.log(code, "degrease", entry="the-same-entry-id")
    assert second.entries == first.entries == ("the-same-entry-id",) and second.again and not first.again
    assert [entry.step for entry in entries.of(the_shop.db, "screen", 1)] == ["stretch", "degrease"]


def test_the_same_id_for_something_else_or_by_another_person_is_refused(the_shop: Shop) -> None:
    code = the_shop.frame()
    the_shop.log(code, "note", entry="the-same-entry-id", note="one")
    with pytest.raises(SentBefore, match="saved already, on 2026-03-09 08:0") as other:
        the_shop.log(code, "note", entry="the-same-entry-id", note="two")
    assert (other.value.post, other.value.person) == ("the-same-entry-id", the_shop.me.id)
    with pytest.raises(SentBefore):
        the_shop.log(code, "note", who=the_shop.maker, entry="the-same-entry-id", note="one")
    assert the_shop.db.table("entries").count == 2


def test_what_was_saved_is_saved_whatever_became_of_what_it_names(the_shop: Shop) -> None:
    """The reply was lost; until the form comes again, the place was taken out of use, the run was finished, the press
    went. It gets its first answer all the same: nothing is looked up before."""
    job, codes, run = on_press(the_shop)
    db, bare = the_shop.db, the_shop.frame()
    sheet = {"s1.squeegee": "75 square"}
    opened = {"job": job.code, "placement": 1, "press": "Press 2"}

    def rack(now: datetime) -> screens.Logged:
        screen, sent = find.screen(db, bare), form({"place": "Rack 1"})
        return screens.log(db, the_shop.me, screen, "rack", sent, post="rack-it-0000000001", now=now)

    def noted(now: datetime) -> list[str]:
        return runs.log(db, the_shop.press, run, "sheet", form(sheet), post="note-it-0000000001", now=now)

    def second(now: datetime) -> int:
        return runs.open_run(db, the_shop.press, form(opened), post="open-it-0000000001", now=now)

    first = (rack(the_shop.tick()), noted(the_shop.tick()), second(the_shop.tick()))
    before = db.table("entries").count
    the_shop.log(bare, "degrease")
    db.execute("UPDATE places SET retired_at = '2026-03-09' WHERE name IN ('Rack 1', 'Press 2')")
    done = form({"then": "keep", "good": 5})
    runs.log(db, the_shop.press, run, "finish", done, post=fresh(), now=the_shop.tick())
    runs.log(db, the_shop.press, first[2], "finish", form({"then": "keep"}), post=fresh(), now=the_shop.tick())
    with pytest.raises(Refused):
        runs.log(db, the_shop.press, run, "sheet", form(sheet), post=fresh(), now=the_shop.tick())
    with pytest.raises(Refused):
        runs.open_run(db, the_shop.press, form(opened), post=fresh(), now=the_shop.tick())
    after = db.table("entries").count
    again = (rack(the_shop.tick()), noted(the_shop.tick()), second(the_shop.tick()))
    assert again == (dataclasses.replace(first[0], again=True), *first[1:])
    assert db.table("entries").count == after > before and sound.check(db) == []


@pytest.mark.parametrize("bad", ["short", "UPPER-CASE-ENTRY-ID", "x" * 33, "sixteen chars !!"])
def test_an_id_of_the_wrong_shape_is_refused(the_shop: Shop, bad: str) -> None:
    with pytest.raises(Refused):
        the_shop.log(the_shop.frame(), "degrease", entry=bad)


def test_a_step_against_the_log_asks_once_and_yes_writes_found(the_shop: Shop) -> None:
    code = the_shop.frame()
    with pytest.raises(Asks, match="Do you have it in front of you"):
        the_shop.log(code, "washout", result="good", entry="asked-then-said-yes")
    assert the_shop.db.table("entries").count == 1
    logged = the_shop.log(code, "washout", result="good", in_hand="yes", entry="asked-then-said-yes")
    assert logged.entries == ("asked-then-said-yes-1", "asked-then-said-yes-2")
    found = entries.find(the_shop.db, "asked-then-said-yes-1")
    assert found is not None and (found.step, found.values["standing_seen"]) == ("found", "exposed")
    assert the_shop.life(code).standing is Standing.TO_CHECK


def test_faults_come_together_beside_their_fields(the_shop: Shop) -> None:
    with pytest.raises(Refused) as refused:
        the_shop.log(the_shop.frame(), "expose", exposure_s="one minute", distance_mm="1e3", irradiance_mw_cm2="9999")
    assert [fault.where for fault in refused.value.faults] == ["exposure_s", "distance_mm", "irradiance_mw_cm2"]
    assert the_shop.db.table("entries").count == 1


def test_a_decimal_comma_is_a_decimal_mark(the_shop: Shop) -> None:
    code = the_shop.frame()
    the_shop.log(code, "tension", readings_n_per_cm=["25,5", "24"])
    assert the_shop.life(code).tension.readings_n_per_cm == (25.5, 24.0)


def test_another_unit_is_kept_as_typed_beside_the_stored_one(the_shop: Shop) -> None:
    code = the_shop.frame()
    logged = the_shop.log(code, "tension", **{"readings_n_per_cm": "14", "readings_n_per_cm.unit": "lbf/in"})
    entry = entries.find(the_shop.db, logged.entries[0])
    assert entry is not None
    # 1 N/cm = 0.571015 lbf/in, from 4.4482216152605 N to the pound-force and 2.54 cm to the inch
    assert entry.values["readings_n_per_cm"][0] == pytest.approx(14 / 0.571015, rel=1e-5)
    assert entry.typed["readings_n_per_cm"] == "14 lbf/in"


def test_unknown_fields_things_and_steps_are_refused_with_what_there_is(the_shop: Shop) -> None:
    code = the_shop.frame()
    for step, fields, says in (
        ("coat", {"colour": "blue"}, "no such field"),
        ("coat", {"bucket": "7K32XM"}, "no such bucket"),
        ("rack", {"place": "Rack 9"}, "Rack 1"),
        ("image", {"separations": "77"}, "no image 77"),
        ("polish", {}, "no step"),
    ):
        with pytest.raises(Refused, match=says):
            the_shop.log(code, step, **fields)


def test_times_ahead_are_refused_and_times_before_are_put_in_their_place(the_shop: Shop) -> None:
    code = the_shop.frame()
    the_shop.tick(days=2)
    the_shop.log(code, "coat")
    with pytest.raises(Refused, match="ahead"):
        the_shop.log(code, "note", note="x", at="2027-01-01T10:00:00Z")
    the_shop.log(code, "degrease", at="2026-03-10T09:00:00Z")
    steps = [entry.step for entry in entries.of(the_shop.db, "screen", 1)]
    assert steps == ["stretch", "degrease", "coat"]
    assert the_shop.life(code).gaps == ()  # the missing degrease came in late


def test_the_hour_that_comes_twice_is_asked() -> None:
    from zoneinfo import ZoneInfo

    warsaw = ZoneInfo("Europe/Warsaw")  # clocks went back on 25 Oct 2026 at 3 h and forward on 29 Mar 2026 at 2 h
    late = datetime(2026, 12, 1, tzinfo=UTC)
    with pytest.raises(Refused, match="twice"):
        act_time("2026-10-25T02:30", warsaw, late)
    with pytest.raises(Refused, match="skipped"):
        act_time("2026-03-29T02:30", warsaw, late)
    assert act_time("2026-10-25T02:30+01:00", warsaw, late).astimezone(UTC).hour == 1
    assert act_time("2026-03-09T14:05", warsaw, late).astimezone(UTC).hour == 13


def test_retag_gives_a_new_code_and_the_old_one_still_leads_there(the_shop: Shop) -> None:
    old = the_shop.frame()
    the_shop.log(old, "retag")
    screen = find.screen(the_shop.db, old)
    assert screen.code != old and find.screen(the_shop.db, screen.code).id == screen.id


def test_own_entries_of_today_and_a_managers_crossing_out(the_shop: Shop) -> None:
    code = the_shop.frame()
    logged = the_shop.log(code, "degrease", who=the_shop.maker)
    with pytest.raises(NotAllowed):
        the_shop.log(code, "cross-out", who=the_shop.press, crosses=logged.entries[0], why="wrong screen")
    crossing = the_shop.log(code, "cross-out", who=the_shop.maker, crosses=logged.entries[0], why="wrong screen")
    assert the_shop.life(code).standing is Standing.BARE
    with pytest.raises(Refused, match="already"):
        the_shop.log(code, "cross-out", crosses=logged.entries[0], why="again")
    with pytest.raises(Refused, match="stays crossed out"):
        the_shop.log(code, "cross-out", crosses=crossing.entries[0], why="back")
    later = the_shop.log(code, "degrease", who=the_shop.maker)
    the_shop.tick(days=1)
    with pytest.raises(NotAllowed):
        the_shop.log(code, "cross-out", who=the_shop.maker, crosses=later.entries[0], why="too late")
    the_shop.log(code, "cross-out", who=the_shop.manager, crosses=later.entries[0], why="not this one")


def test_many_screens_in_one_post_are_all_or_none(the_shop: Shop) -> None:
    codes = [the_shop.frame() for _unused in range(3)]
    many = [find.screen(the_shop.db, code) for code in codes]
    logged = screens.log_many(
        the_shop.db, the_shop.me, many, "degrease", form({}), post="a-whole-rack-at-once", now=the_shop.tick()
    )
    assert logged.entries == tuple(f"a-whole-rack-at-once-{part}" for part in (1, 2, 3))
    the_shop.log(codes[2], "strip", in_hand="yes", still_needed="yes")
    with pytest.raises(Asks):
        screens.log_many(
            the_shop.db,
            the_shop.me,
            [find.screen(the_shop.db, code) for code in codes],
            "expose",
            form({"exposure_s": "60"}),
            post=fresh(),
            now=the_shop.tick(),
        )
    assert all(the_shop.life(code).standing is not Standing.EXPOSED for code in codes)


# Verdicts beside what is logged


def test_step_five_held_and_seven_wanted_says_120_s_instead_of_60(the_shop: Shop) -> None:
    """Half a stop a step, so two steps are double the time (Ulano; the scale's makers)."""
    code = the_shop.frame()
    the_shop.log(code, "degrease")
    the_shop.log(code, "coat")
    job = the_shop.job("quiet-mooring")
    separation = store_jobs.asked(the_shop.db, job, 1)[0].separation
    the_shop.log(code, "image", separations=separation)
    the_shop.log(code, "expose", exposure_s=60)
    logged = the_shop.log(code, "washout", result="good", step_held="5")
    assert logged.verdict is not None and logged.verdict.level is Level.CAUTION
    low = next(reason for reason in logged.verdict.reasons if reason.key == "step-low")
    assert (low.numbers["held"], low.numbers["wanted"]) == (5, 7)
    assert low.numbers["next_time_s"] == pytest.approx(120)


def test_a_slack_screen_stops_and_the_verdict_is_kept_with_its_spec_rows(the_shop: Shop) -> None:
    code = the_shop.frame()
    logged = the_shop.log(code, "tension", readings_n_per_cm="24 23 14.5 24 24")
    assert logged.verdict is not None and logged.verdict.level is Level.STOP
    entry = entries.find(the_shop.db, logged.entries[0])
    assert entry is not None and entry.verdict is not None
    floor = next(reason for reason in entry.verdict["reasons"] if reason["key"] == "tension-under-floor")
    assert floor["spec"] and floor["numbers"]["floor_n_per_cm"] == 15


def test_a_verdict_that_got_worse_than_shown_comes_back(the_shop: Shop) -> None:
    code = the_shop.frame()
    with pytest.raises(Worse, match="Something changed"):
        the_shop.log(code, "tension", readings_n_per_cm="9", seen="ok")
    assert the_shop.db.table("entries").count == 1


def test_the_wanted_exposure_time_is_the_shops_own(the_shop: Shop) -> None:
    from tickets.domain.spec import Row

    code = the_shop.frame()
    row = Row(0, "exposure-time", 80.0, "s", {"exposure_unit": "Big lamp", "count_over_per_in": 200}, "our strips")
    shop.add_spec_row(the_shop.db, the_shop.me, row, now=NOW)
    places.add_unit(the_shop.db, the_shop.me, "Big lamp", "point", post=fresh(), now=NOW)
    the_shop.log(code, "degrease")
    the_shop.log(code, "coat")
    the_shop.tick(hours=2)
    found = screen_steps.habits(the_shop.db, find.screen(the_shop.db, code), "expose", the_shop.now)
    assert found == {"exposure_unit": "Big lamp", "exposure_s": "80"}
    short = the_shop.log(code, "expose", exposure_s=50, exposure_unit="big lamp", in_hand="yes")
    assert short.verdict is not None and "exposure-time-off" in short.verdict.keys
    with pytest.raises(Refused, match="Big lamp"):
        the_shop.log(code, "expose", exposure_s=50, exposure_unit="Small lamp")


# The run


def press_ready(the_shop: Shop) -> tuple[store_jobs.Saved, list[str], int]:
    job = the_shop.job("night-market")
    emulsion = buckets.mix(
        the_shop.db,
        the_shop.me,
        form({"kind": "dual-cure emulsion", "water_resistant": "yes"}),
        post=fresh(),
        now=the_shop.tick(),
    )
    codes = []
    for asked in store_jobs.asked(the_shop.db, job, 1):
        label, _dot, thread = asked.mesh.partition(" · ")
        code = the_shop.frame(label, thread.removesuffix(" µm"))
        the_shop.ready(code, asked.separation, bucket=emulsion)
        codes.append(code)
    run = runs.open_run(
        the_shop.db,
        the_shop.press,
        form({"job": job.code, "placement": "1", "press": "Press 1"}),
        post=fresh(),
        now=the_shop.tick(),
    )
    return job, codes, run


def on_press(the_shop: Shop) -> tuple[store_jobs.Saved, list[str], int]:
    """As `press_ready`, with every screen hung."""
    job, codes, run = press_ready(the_shop)
    for code in codes:
        hanging.hang(the_shop.db, the_shop.press, run, form({"screen": code}), post=fresh(), now=the_shop.tick())
    return job, codes, run


def test_a_run_from_set_up_to_the_kept_screen(the_shop: Shop) -> None:
    job, codes, run = press_ready(the_shop)
    db = the_shop.db
    wrong = the_shop.frame()
    with pytest.raises(Worse):
        hanging.hang(db, the_shop.lead, run, form({"screen": wrong}), post=fresh(), now=the_shop.tick())
    with pytest.raises(Refused, match="no screen yet"):
        runs.log(db, the_shop.press, run, "start", form({}), post=fresh(), now=the_shop.tick())
    for number, code in enumerate(codes, 1):
        found = hanging.hang(
            db, the_shop.press, run, form({"screen": code, "head": number}), post=fresh(), now=the_shop.tick()
        )
        assert found.verdict.level is not Level.STOP and the_shop.life(code).standing is Standing.ON_PRESS
    noting.save_sheet(db, the_shop.press, run, form({"s1.squeegee": "75 square"}), post=fresh(), now=the_shop.tick())
    approve = {"approved_by": "Cy Marsh", "approved_as": "press"}
    runs.log(db, the_shop.press, run, "approve", form(approve), post=fresh(), now=the_shop.tick())
    runs.log(db, the_shop.press, run, "start", form({}), post=fresh(), now=the_shop.tick())
    counted = {"good": 118, "misprinted": 2, "cause": "ink"}
    runs.log(db, the_shop.press, run, "count", form(counted), post=fresh(), now=the_shop.tick())
    strokes = {asked.number: asked.strokes for asked in store_jobs.asked(db, job, 1)}
    for number, code in zip(strokes, codes, strict=True):
        assert the_shop.life(code).impressions == 120 * strokes[number]
    done = {"then": "strip", f"then.{codes[0]}": "keep", "still_needed": "yes"}
    runs.log(db, the_shop.press, run, "finish", form(done), post="finished-just-once", now=the_shop.tick())
    assert the_shop.life(codes[0]).standing is Standing.KEPT
    assert all(the_shop.life(code).standing is Standing.TO_CLEAN for code in codes[1:])
    with pytest.raises(Clash, match="already"):
        runs.log(db, the_shop.lead, run, "finish", form(done), post=fresh(), now=the_shop.tick())
    assert run_plan.plan(db, run).story.good == 118 and the_shop.life(codes[0]).uses == 1
    with pytest.raises(NotAllowed):
        runs.log(db, the_shop.press, run, "use-next-time", form({}), post=fresh(), now=the_shop.tick())
    runs.log(db, the_shop.lead, run, "use-next-time", form({}), post=fresh(), now=the_shop.tick())
    again = repeat_of(job, job.sheet.due)
    repeat = find.job(db, jobs.add(db, the_shop.me, [again], post=fresh(), now=the_shop.tick())[0])
    second = runs.open_run(
        db,
        the_shop.press,
        form({"job": repeat.code, "placement": "1", "press": "Press 2"}),
        post=fresh(),
        now=the_shop.tick(),
    )
    plan = run_plan.plan(db, second)
    assert target.aim(db, plan.job, plan.run.placement, plan.run)[1] == f"approved run {run}"
    assert target.aim(db, plan.job, plan.run.placement, plan.run)[0]["1"]["squeegee"] == "75 square"
    kept = at_press.check(db, plan, find.screen(db, codes[0]), the_shop.now)
    assert kept.station == 1 and kept.verdict.level is not Level.STOP
    assert sound.check(db) == []


def test_a_screen_hangs_in_one_open_run(the_shop: Shop) -> None:
    job, codes, run = press_ready(the_shop)
    db = the_shop.db
    hanging.hang(db, the_shop.press, run, form({"screen": codes[0]}), post=fresh(), now=the_shop.tick())
    other = runs.open_run(
        db,
        the_shop.press,
        form({"job": job.code, "placement": "1", "press": "Press 2"}),
        post=fresh(),
        now=the_shop.tick(),
    )
    with pytest.raises(Worse, match="elsewhere"):
        hanging.hang(
            db, the_shop.lead, other, form({"screen": codes[0], "override": "hurry"}), post=fresh(), now=the_shop.tick()
        )
    hanging.hang(
        db, the_shop.press, other, form({"screen": codes[0], "in_hand": "yes"}), post=fresh(), now=the_shop.tick()
    )
    assert the_shop.life(codes[0]).run == other
    assert codes[0] not in [find.screen(db, codes[0]).code for hung in run_plan.plan(db, run).story.hung.values()]
    assert sound.check(db) == []


def test_who_may_go_past_a_stop(the_shop: Shop) -> None:
    job, codes, run = press_ready(the_shop)
    db = the_shop.db
    the_shop.log(codes[0], "check", result="fault", fault="pinholes")
    sent = {"screen": codes[0], "override": "customer waits", "station": 1}
    with pytest.raises(NotAllowed):
        hanging.hang(db, the_shop.press, run, form(sent), post=fresh(), now=the_shop.tick())
    hanging.hang(db, the_shop.lead, run, form(sent), post=fresh(), now=the_shop.tick())
    passed = run_plan.plan(db, run).story.hung[1].passed
    assert passed is not None and passed["who"] == "Cy Marsh" and "failed" in passed["causes"]
    the_shop.log(codes[1], "fault", kind="torn", then="use on")
    with pytest.raises(Worse, match="nobody"):
        hanging.hang(
            db, the_shop.manager, run, form({"screen": codes[1], "override": "x"}), post=fresh(), now=the_shop.tick()
        )


def test_pause_takes_the_screens_off_and_going_on_checks_them_again(the_shop: Shop) -> None:
    _job, codes, run = on_press(the_shop)
    db = the_shop.db
    runs.log(db, the_shop.press, run, "start", form({}), post=fresh(), now=the_shop.tick())
    runs.log(db, the_shop.press, run, "pause", form({"good": "10"}), post=fresh(), now=the_shop.tick())
    assert all(the_shop.life(code).standing is Standing.KEPT for code in codes)
    assert {the_shop.life(code).keep_for for code in codes} == {f"run {run}: Night market festival tees, Full front"}
    with pytest.raises(Refused, match="no screen yet"):
        runs.log(db, the_shop.press, run, "start", form({}), post=fresh(), now=the_shop.tick())
    for code in codes:
        hanging.hang(db, the_shop.press, run, form({"screen": code}), post=fresh(), now=the_shop.tick())
    runs.log(db, the_shop.press, run, "start", form({}), post=fresh(), now=the_shop.tick())
    assert run_plan.plan(db, run).story.state == "printing" and sound.check(db) == []


def test_swap_takes_one_off_and_checks_the_other(the_shop: Shop) -> None:
    job, codes, run = on_press(the_shop)
    db = the_shop.db
    asked = store_jobs.asked(db, job, 1)[0]
    label, _dot, thread = asked.mesh.partition(" · ")
    spare = the_shop.frame(label, thread.removesuffix(" µm"))
    with pytest.raises(Worse):
        runs.log(
            db,
            the_shop.press,
            run,
            "swap",
            form({"old": codes[0], "new": spare, "why": "torn"}),
            post=fresh(),
            now=the_shop.tick(),
        )
    assert the_shop.life(codes[0]).standing is Standing.ON_PRESS
    emulsion = buckets.mix(
        db,
        the_shop.me,
        form({"kind": "photopolymer emulsion", "water_resistant": "yes"}),
        post=fresh(),
        now=the_shop.tick(),
    )
    the_shop.ready(spare, asked.separation, bucket=emulsion)
    sent = {"old": codes[0], "new": spare, "why": "pinholes"}
    runs.log(db, the_shop.press, run, "swap", form(sent), post=fresh(), now=the_shop.tick())
    assert the_shop.life(spare).standing is Standing.ON_PRESS
    assert the_shop.life(codes[0]).standing is Standing.TO_CLEAN
    assert sound.check(db) == []


def test_ink_past_its_time_stops_at_set_up(the_shop: Shop) -> None:
    _job, codes, run = press_ready(the_shop)
    db = the_shop.db
    ink = buckets.mix(db, the_shop.me, form({"kind": "discharge ink"}), post=fresh(), now=the_shop.tick())
    the_shop.tick(hours=7)
    sent = {"s1.bucket": ink}
    with pytest.raises(Worse):
        noting.save_sheet(db, the_shop.press, run, form(sent), post=fresh(), now=the_shop.now)
    with pytest.raises(NotAllowed):
        noting.save_sheet(db, the_shop.press, run, form({**sent, "override": "x"}), post=fresh(), now=the_shop.now)
    made, given = fresh(), form({**sent, "override": "test print was fine"})
    noting.save_sheet(db, the_shop.lead, run, given, post=made, now=the_shop.now)
    verdict = at_press.led_to(db, run_plan.plan(db, run), [made])
    assert verdict.keys == ("ink-past-time", "ink-other-kind")  # discharge at a print order of plastisol


# Jobs


def test_jobs_are_entered_all_or_none(the_shop: Shop) -> None:
    folder = demo.sample_folder()
    good = sheets.read_file(folder / "night-run.toml")
    bad = dataclasses.replace(good, title="Again", reference="x", repeats="no-such-job")
    with pytest.raises(Refused, match="No earlier job"):
        jobs.add(the_shop.db, the_shop.me, [good, bad], post=fresh(), now=NOW)
    assert store_jobs.every_number(the_shop.db) == []
    both = sheets.read_files(sorted(folder.glob("harbour*.toml")))
    codes = jobs.add(the_shop.db, the_shop.me, both, post=fresh(), now=NOW)
    repeats = [find.job(the_shop.db, code).repeats for code in codes]
    assert sorted(repeats, key=str) == sorted([None, 2 if both[0].repeats else 1], key=str)


def test_a_changed_job_is_a_new_version_until_it_was_printed(the_shop: Shop) -> None:
    job, codes, run = press_ready(the_shop)
    db = the_shop.db
    changed = dataclasses.replace(job.sheet, title="Another title")
    assert jobs.change(db, the_shop.me, job, changed, post=fresh(), now=the_shop.tick()) == 2
    plan = run_plan.plan(db, run)
    assert plan.changed_since and plan.job.sheet.title == job.sheet.title
    for code in codes:
        hanging.hang(db, the_shop.press, run, form({"screen": code}), post=fresh(), now=the_shop.tick())
    runs.log(db, the_shop.press, run, "count", form({"good": 5}), post=fresh(), now=the_shop.tick())
    with pytest.raises(Refused, match="has been printed"):
        jobs.change(db, the_shop.me, job, job.sheet, post=fresh(), now=the_shop.tick())


# The log as a whole


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(order=st.permutations(range(8)), data=st.data())
def test_the_order_of_typing_does_not_matter(
    order: list[int], data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """The same acts typed in any order, each with its own time, come to the same life."""
    acts: list[tuple[str, dict[str, Any]]] = [
        ("degrease", {}), ("coat", {}), ("tension", {"readings_n_per_cm": "22"}), ("washout", {"result": "good"}),
        ("check", {"result": "good"}), ("strip", {}), ("note", {"note": "n"}), ("fault", {"kind": "slack"}),
    ]  # fmt: skip
    lives = []
    for sequence in (list(range(8)), order):
        made = Shop.begun(tmp_path_factory.mktemp("order"))
        code = made.frame()
        made.now = NOW + timedelta(days=3)
        for act in sequence:
            step, fields = acts[act]
            typed_later(made, step, fields, NOW + timedelta(hours=1 + act), f"typed-in-any-order-{act}")
        lives.append(made.life(code).to_dict())
        assert sound.check(made.db) == []
        made.db.close()
    assert lives[0] == lives[1]


WAY = [
    ("stretch", {"mesh_count_as_labelled": "230/in", "frame": "aluminium"}),
    ("tension", {"readings_n_per_cm": [22.0, 21.5]}), ("degrease", {}),
    ("coat", {"bucket": 7, "preset": "2+1"}), ("coat", {"bucket": 8}), ("image", {"separations": [1]}),
    ("expose", {}), ("expose", {"exposure_s": 40.0, "exposure_unit": "big", "irradiance_mw_cm2": 8.0}),
    ("washout", {"result": "good", "step_held": 7}), ("washout", {"result": "fault", "fault": "soft"}),
    ("check", {"result": "good"}), ("check", {"result": "fault", "fault": "pinholes"}), ("harden", {}),
    ("hang", {"run": 5, "head": 1, "station": 1, "press": 1}), ("print", {"run": 5, "impressions": 30}),
    ("print", {"run": 6, "impressions": 3}), ("pull", {"then": "keep"}),
    ("pull", {"then": "strip", "why": "pinholes"}),
    ("clean", {}), ("strip", {}), ("haze", {}), ("found", {"standing_seen": "ready"}),
    ("found", {"standing_seen": "bare"}),
    ("fault", {"kind": "torn"}), ("fault", {"kind": "slack", "then": "restretch"}), ("retire", {"cause": "lost"}),
    ("rack", {"place": 1}), ("note", {"note": "n"}), ("retension", {}), ("decide", {"then": "strip"}),
]  # fmt: skip
"""Steps of a screen in about the order of its life, each with what makes sense."""


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), begin=st.integers(0, len(WAY) - 1))
def test_led_on_entry_by_entry_a_life_is_what_the_whole_log_gives(
    data: st.DataObject, begin: int, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever is logged, several lines at a time, many at the same moment; now and then one goes back in time or
    crosses another out."""
    made = Shop.begun(tmp_path_factory.mktemp("led on"))
    made.frame()
    made.now = NOW + timedelta(days=3)
    at, place, written = made.now, begin, list[str]()
    for number in range(data.draw(st.integers(1, 12))):
        lines = []
        for _each in range(data.draw(st.integers(1, 3))):
            place = place + 1 if data.draw(st.booleans()) else data.draw(st.integers(0, len(WAY) - 1))
            step, values = WAY[place % len(WAY)]
            at += timedelta(hours=data.draw(st.sampled_from([0, 0, 1, 30])))
            lines.append(line(made.me, step, at, made.tick(), values, screen=1))
        how = data.draw(st.sampled_from(["on", "on", "on", "on", "back", "crossed"]))
        if how == "back":
            lines = [dataclasses.replace(one, at=NOW + timedelta(hours=number)) for one in lines]
        elif how == "crossed" and written:
            wrong = written.pop(data.draw(st.integers(0, len(written) - 1)))
            lines = [line(made.me, "cross-out", at, made.tick(), {"entry": wrong, "why": "w"}, screen=1)]
        lines = numbered(f"led-on-entry-by-entry-{number}", lines)
        with monkeypatch.context() as inner, writing(made.db):
            if how == "on":  # the log before it is not read again
                inner.setattr(entries, "of", None)
            write(made.db, lines)
        written += [one.entry for one in lines if one.step != "cross-out"]
        assert sound.check(made.db) == [], [one.step for one in entries.of(made.db, "screen", 1)]
    made.db.close()


def typed_later(made: Shop, step: str, fields: dict[str, Any], at: datetime, entry: str) -> None:
    """Puts an entry into the log as a phone that was offline would: no question can be asked any more."""
    values, _typed = step_reading.read(steps.SCREEN_STEPS[step], form(fields).sent)
    typed = line(made.me, step, at, made.tick(), values, screen=1)
    with writing(made.db):
        write(made.db, [dataclasses.replace(typed, entry=entry)])


def test_everything_is_undone_when_an_act_fails(the_shop: Shop) -> None:
    def act() -> dict[str, Any]:
        the_shop.frame()
        raise RuntimeError("the power went")

    before = the_shop.db.table("entries").count
    with pytest.raises(RuntimeError):
        once(the_shop.db, the_shop.me, fresh(), {}, NOW, act)
    assert the_shop.db.table("entries").count == before and sound.check(the_shop.db) == []


def test_worked_out_tables_can_be_rebuilt_and_a_wrong_one_is_found(the_shop: Shop) -> None:
    press_ready(the_shop)
    db = the_shop.db
    assert sound.check(db) == []
    db.execute("UPDATE standings SET standing = 'bare' WHERE screen = 1")
    db.execute("DELETE FROM carries")
    assert len(sound.check(db)) >= 3
    shop.rebuild(db)
    assert sound.check(db) == []


@pytest.mark.parametrize(
    "wrong", ["done_at = '2026-01-01'", "done_at = NULL", "state = 'printing'", "good = good + 1", "impressions = 7",
              "story = json_set(story, '$.misprinted', 9)"],
)  # fmt: skip
def test_every_worked_out_column_of_a_run_is_proved(the_shop: Shop, wrong: str) -> None:
    _job, codes, run = on_press(the_shop)
    db = the_shop.db
    sent = form({"then": "keep", "good": 5})
    runs.log(db, the_shop.press, run, "finish", sent, post=fresh(), now=the_shop.tick())
    assert sound.check(db) == []
    db.execute(f"UPDATE runs SET {wrong} WHERE id = ?", [run])
    assert sound.check(db) == [f"Run {run} is not what its log says. {sound.REPAIR}"]
    shop.rebuild(db)
    assert sound.check(db) == []


def test_the_log_cannot_be_changed(the_shop: Shop) -> None:
    import sqlite3

    the_shop.frame()
    for statement in (
        "UPDATE entries SET step = 'note'",
        "DELETE FROM entries",
        "INSERT OR REPLACE INTO entries SELECT * FROM entries",
        "UPDATE spec SET value = '1'",
        "DELETE FROM spec",
    ):
        with pytest.raises(sqlite3.IntegrityError):
            the_shop.db.execute(statement)
    assert the_shop.db.table("entries").count == 1


def test_export_agrees_with_the_log_and_no_cell_is_a_formula(the_shop: Shop, tmp_path: Path) -> None:
    code = the_shop.frame()
    the_shop.log(code, "note", note="=HYPERLINK(1)")
    crossed = the_shop.log(code, "tension", readings_n_per_cm="22,5")
    the_shop.log(code, "cross-out", crosses=crossed.entries[0], why="wrong screen")
    out = tmp_path / "out"
    assert exports.export(the_shop.db, out) == {"entries": 4}
    lines = [json.loads(text) for text in (out / "entries.jsonl").read_text("utf-8").splitlines()]
    with (out / "entries.csv").open(encoding="utf-8", newline="") as table:
        rows = list(csv.DictReader(table))
    assert [line["entry"] for line in lines] == [row["entry"] for row in rows]
    assert [line["step"] for line in lines] == ["stretch", "note", "tension", "cross-out"]
    assert all(line["screen"] == code for line in lines)
    assert lines[1]["note"] == "=HYPERLINK(1)" and rows[1]["note"] == "'=HYPERLINK(1)"
    assert lines[2]["readings_n_per_cm"] == [22.5] and lines[2]["crossed_out_by"] == lines[3]["entry"]
    assert lines[3]["crosses"] == lines[2]["entry"]
    with (out / "columns.csv").open(encoding="utf-8", newline="") as table:
        described = {row["column"]: row for row in csv.DictReader(table) if row["file"] == "entries"}
    assert list(described) == list(rows[0])
    assert all(row["about"] for row in described.values())
    assert described["readings_n_per_cm"]["unit"] == "N/cm" and described["exposure_s"]["unit"] == "s"


def test_the_demo_is_sound_and_shows_every_person_something(tmp_path: Path) -> None:
    shops.the_demo(tmp_path)
    db = shop.open_shop(tmp_path, shops.NOW)
    assert sound.check(db) == []
    standings = {standing for standing, _mesh, _count, _screens in store_screens.counts(db)}
    assert {"bare", "kept", "on press", "to check", "exposed", "to restretch", "away"} <= standings
    latest = max(entry.saved_at for entry in entries.every(db))
    assert latest <= shops.NOW
    db.close()


def test_a_job_that_is_short_stays_open_until_its_last_piece(the_shop: Shop) -> None:
    job, codes, run = on_press(the_shop)
    db = the_shop.db
    runs.log(
        db, the_shop.press, run, "finish", form({"then": "keep", "good": job.sheet.pieces - 3}),
        post=fresh(), now=the_shop.tick(),
    )  # fmt: skip
    known = find.job(db, job.code)
    assert known.closed_at is None and store_jobs.short(db, known) == {1: 3}
    again = runs.open_run(
        db, the_shop.press, form({"job": job.code, "placement": "1", "press": "Press 1"}), post=fresh(),
        now=the_shop.tick(),
    )  # fmt: skip
    for code in codes:
        hanging.hang(db, the_shop.press, again, form({"screen": code}), post=fresh(), now=the_shop.tick())
    sent = form({"then": "strip", "good": 3, "still_needed": "yes"})
    runs.log(db, the_shop.press, again, "finish", sent, post=fresh(), now=the_shop.tick())
    assert find.job(db, job.code).closed_at is not None


def test_pieces_counted_twice_and_crossed_out_leave_a_complete_job_closed(the_shop: Shop) -> None:
    job, _codes, run = on_press(the_shop)
    db, pieces = the_shop.db, job.sheet.pieces
    counts = []
    for _unused in range(2):
        sent = form({"good": pieces, "over": "yes"})
        counts.append(runs.log(db, the_shop.press, run, "count", sent, post=fresh(), now=the_shop.tick()))
    runs.log(db, the_shop.press, run, "finish", form({"then": "keep"}), post=fresh(), now=the_shop.tick())
    closed = []
    for counted in counts:
        sent = form({"crosses": counted[0], "why": "counted twice"})
        screens.cross_out(db, the_shop.press, sent, post=fresh(), now=the_shop.tick())
        closed.append(find.job(db, job.code).closed_at is not None)
    assert closed == [True, False]  # with none of the counts the pieces are short again


def test_a_kept_screen_waits_for_its_cleaning_and_its_place_but_not_at_the_press(the_shop: Shop) -> None:
    from tickets.domain.screens.screen import next_step

    _job, codes, run = on_press(the_shop)
    db = the_shop.db
    sent = form({"then": "keep", "good": 5})
    runs.log(db, the_shop.press, run, "finish", sent, post=fresh(), now=the_shop.tick())
    assert the_shop.life(codes[0]).standing is Standing.KEPT and next_step(the_shop.life(codes[0])) == "clean"
    the_shop.log(codes[0], "clean")
    assert the_shop.life(codes[0]).standing is Standing.KEPT and next_step(the_shop.life(codes[0])) == "rack"
    the_shop.log(codes[0], "rack", place="Rack 1")
    assert next_step(the_shop.life(codes[0])) is None


def test_an_image_that_a_screen_carries_already_is_not_put_on_another_by_habit(the_shop: Shop) -> None:
    _job, codes, _run = press_ready(the_shop)
    asked_mesh = the_shop.life(codes[0]).mesh
    spare = the_shop.frame(asked_mesh.count_as_labelled, f"{asked_mesh.thread_um:g}")
    the_shop.log(spare, "degrease")
    the_shop.log(spare, "coat")
    found = screen_steps.habits(the_shop.db, find.screen(the_shop.db, spare), "image", the_shop.now)
    assert found["separations"] == []


def test_coating_over_a_ready_stencil_names_what_it_carries(the_shop: Shop) -> None:
    _job, codes, _run = press_ready(the_shop)
    with pytest.raises(Asks, match="Was that stencil reclaimed"):
        the_shop.log(codes[0], "coat")


def test_a_short_job_stays_on_the_boards_and_a_wet_stencil_is_said_at_its_check(the_shop: Shop) -> None:
    job, codes, run = on_press(the_shop)
    db = the_shop.db
    sent = form({"then": "keep", "good": job.sheet.pieces - 3})
    runs.log(db, the_shop.press, run, "finish", sent, post=fresh(), now=the_shop.tick())
    assert {line.job for line in store_jobs.wanted(db)} == {job.id}
    code = the_shop.frame()
    the_shop.log(code, "degrease")
    the_shop.log(code, "coat")
    the_shop.log(code, "image", separations=store_jobs.asked(db, job, 1)[0].separation)
    the_shop.log(code, "expose", exposure_s=80)
    the_shop.log(code, "washout", result="good")
    checked = the_shop.log(code, "check", result="good")
    assert checked.verdict is not None and checked.verdict.level is Level.CAUTION
    assert "stencil-wet" in checked.verdict.keys


def test_a_paused_run_that_is_finished_decides_over_its_screens(the_shop: Shop) -> None:
    _job, codes, run = on_press(the_shop)
    db = the_shop.db
    runs.log(db, the_shop.press, run, "pause", form({"good": "10"}), post=fresh(), now=the_shop.tick())
    sent = form({"then": "strip", f"then.{codes[0]}": "keep", "still_needed": "yes"})
    runs.log(db, the_shop.press, run, "finish", sent, post=fresh(), now=the_shop.tick())
    assert the_shop.life(codes[0]).standing is Standing.KEPT
    assert {the_shop.life(code).standing for code in codes[1:]} == {Standing.TO_STRIP}
    assert sound.check(db) == []


def test_a_count_dated_back_to_before_a_swap_goes_to_the_screen_that_hung_then(the_shop: Shop) -> None:
    job, codes, run = on_press(the_shop)
    db = the_shop.db
    asked = store_jobs.asked(db, job, 1)[0]
    label, _dot, thread = asked.mesh.partition(" · ")
    spare = the_shop.frame(label, thread.removesuffix(" µm"))
    mixed = form({"kind": "dual-cure emulsion", "water_resistant": "yes"})
    emulsion = buckets.mix(db, the_shop.me, mixed, post=fresh(), now=the_shop.tick())
    the_shop.ready(spare, asked.separation, bucket=emulsion)
    before_swap = the_shop.tick()
    sent = form({"old": codes[0], "new": spare, "override": "as it is", "why": "pinholes"})
    runs.log(db, the_shop.press, run, "swap", sent, post=fresh(), now=the_shop.tick())
    sent = form({"good": "25", "at": before_swap.isoformat()})
    runs.log(db, the_shop.press, run, "count", sent, post=fresh(), now=the_shop.tick())
    used = {one.screen: one.impressions for one in run_plan.used(db, run_plan.plan(db, run))}
    assert used[find.screen(db, codes[0]).id] >= 25
    assert used[find.screen(db, spare).id] == 0
    runs.log(db, the_shop.press, run, "count", form({"good": "5"}), post=fresh(), now=the_shop.tick())
    used = {one.screen: one.impressions for one in run_plan.used(db, run_plan.plan(db, run))}
    assert used[find.screen(db, spare).id] >= 5
    assert sound.check(db) == []


def test_a_finish_after_a_pause_leaves_a_screen_that_another_run_had_since(the_shop: Shop) -> None:
    job, codes, run = on_press(the_shop)
    db = the_shop.db
    runs.log(db, the_shop.press, run, "pause", form({"good": "10"}), post=fresh(), now=the_shop.tick())
    elsewhere = form({"job": job.code, "placement": "1", "press": "Press 2"})
    other = runs.open_run(db, the_shop.press, elsewhere, post=fresh(), now=the_shop.tick())
    hanging.hang(db, the_shop.press, other, form({"screen": codes[1]}), post=fresh(), now=the_shop.tick())
    the_shop.log(codes[1], "pull", run=other, condition="good", then="keep")
    sent = form({"then": "strip", "still_needed": "yes"})
    runs.log(db, the_shop.press, run, "finish", sent, post=fresh(), now=the_shop.tick())
    assert the_shop.life(codes[1]).standing is Standing.KEPT  # as the other run left it
    assert {the_shop.life(code).standing for code in codes[2:]} == {Standing.TO_STRIP}
    assert sound.check(db) == []


def test_a_screen_that_was_worked_on_is_no_longer_surely_where_it_was_put(the_shop: Shop) -> None:
    code = the_shop.frame()
    assert not screen_steps.moved_on(the_shop.life(code)), "nobody said where it was"
    for step, fields, moved in (
        ("rack", {"place": "Rack 1"}, False),
        ("tension", {"readings_n_per_cm": "24"}, False),
        ("note", {"note": "dusty"}, False),
        ("degrease", {}, True),
        ("rack", {"place": "Rack 1"}, False),
        ("coat", {}, True),
        ("note", {"note": "dries"}, True),
        ("rack", {"place": "Rack 1"}, False),
        ("coat", {}, True),  # a further coat: the stage stays
        ("rack", {"place": "Rack 1"}, False),
    ):
        the_shop.log(code, step, **fields)
        assert screen_steps.moved_on(the_shop.life(code)) is moved, step


def test_a_time_that_nobody_means_is_refused(the_shop: Shop) -> None:
    code = the_shop.frame()
    for text in ("0001-01-01T00:00", "0001-01-01T00:00Z", "9999-12-31T23:59Z"):
        with pytest.raises(Refused) as refused:
            the_shop.log(code, "note", note="x", at=text)
        assert refused.value.faults[0].where == "at"


def test_an_entry_is_crossed_out_on_its_own_screen_only(the_shop: Shop) -> None:
    one, other = the_shop.frame(), the_shop.frame()
    logged = the_shop.log(one, "degrease")
    with pytest.raises(Refused, match=f"belongs to screen {shown(one)}"):
        the_shop.log(other, "cross-out", crosses=logged.entries[0], why="slip")


def test_an_entry_is_crossed_out_on_its_own_run_or_bucket_only(the_shop: Shop) -> None:
    job, _codes, run = press_ready(the_shop)
    db = the_shop.db
    sent = form({"job": job.code, "placement": "1", "press": "Press 2"})
    other = runs.open_run(db, the_shop.press, sent, post=fresh(), now=the_shop.tick())
    note = runs.log(db, the_shop.me, run, "note", form({"note": "x"}), post=fresh(), now=the_shop.tick())[0]
    ink = form({"kind": "plastisol ink"})
    one, another = (
        find.bucket(db, buckets.mix(db, the_shop.me, ink, post=fresh(), now=the_shop.tick())) for _time in range(2)
    )
    used = buckets.log(db, the_shop.me, one, "use", form({}), post=fresh(), now=the_shop.tick())[0]
    before = db.table("entries").count
    for act in (
        lambda sent: runs.log(db, the_shop.me, other, "cross-out", sent, post=fresh(), now=the_shop.tick()),
        lambda sent: buckets.log(db, the_shop.me, another, "cross-out", sent, post=fresh(), now=the_shop.tick()),
    ):
        for wrong, said in (
            (note, f"belongs to run {run}"),
            (used, f"belongs to bucket {shown(one.code)}"),
            ("no-such-entry-here", "no entry"),
        ):
            with pytest.raises(Refused, match=said) as refused:
                act(form({"crosses": wrong}))
            assert {fault.where for fault in refused.value.faults} == {"entry", "why"}
    assert db.table("entries").count == before
    sent = form({"crosses": note, "why": "slip"})
    runs.log(db, the_shop.me, run, "cross-out", sent, post=fresh(), now=the_shop.tick())
    sent = form({"entry": used, "why": "slip"})  # `entry` alone names the wrong one
    buckets.log(db, the_shop.me, one, "cross-out", sent, post=used, now=the_shop.tick())
    assert find.bucket(db, one.code).used_at is None and sound.check(db) == []


def habits(the_shop: Shop, code: str, step: str, now: datetime) -> dict[str, Any]:
    return screen_steps.habits(the_shop.db, find.screen(the_shop.db, code), step, now)


def test_a_stale_bucket_is_no_habit_and_neither_is_another_kind(the_shop: Shop) -> None:
    db, me = the_shop.db, the_shop.me

    def mixed(kind: str, days: float) -> str:
        sent = form({"kind": kind, "good_until": (the_shop.now + timedelta(days=days)).isoformat()})
        code = buckets.mix(db, me, sent, post=fresh(), now=the_shop.tick())
        buckets.log(db, me, find.bucket(db, code), "use", form({}), post=fresh(), now=the_shop.tick())
        return code

    code = the_shop.frame()
    assert habits(the_shop, code, "coat", the_shop.now)["bucket"] == ""
    mixed("photopolymer emulsion", 90)
    long, short = mixed("dual-cure emulsion", 9), mixed("dual-cure emulsion", 2)
    assert habits(the_shop, code, "coat", the_shop.now)["bucket"] == short
    in_3_days, in_10_days = the_shop.now + timedelta(days=3), the_shop.now + timedelta(days=10)
    assert habits(the_shop, code, "coat", in_3_days)["bucket"] == long
    assert habits(the_shop, code, "coat", in_10_days)["bucket"] == ""
    the_shop.now = in_10_days
    buckets.log(db, me, find.bucket(db, long), "test", form({"result": "good"}), post=fresh(), now=the_shop.tick())
    assert habits(the_shop, code, "coat", the_shop.now)["bucket"] == long, "its test strip was good"


def test_the_room_by_the_last_reading_of_the_shift_is_never_filled_in(the_shop: Shop) -> None:
    db, (code, other) = the_shop.db, (the_shop.frame(), the_shop.frame())
    assert air.room_of_the_shift(db, the_shop.now, the_shop.now) is None
    the_shop.log(code, "degrease")
    logged = the_shop.log(code, "coat", room="23,5 C, 45 %")
    the_shop.log(other, "degrease")
    the_shop.log(other, "coat")  # without a reading
    assert not {"room_c", "room_rh_pct"} & set(habits(the_shop, code, "coat", the_shop.now))
    found = air.room_of_the_shift(db, the_shop.now, the_shop.now)
    assert found is not None and (found.room_c, found.room_rh_pct, found.who) == (23.5, 45, the_shop.me.name)
    # shifts from 6, 14 and 22 (common practice); NOW is 08:00 UTC, which is the shop's zone until it says otherwise
    assert air.room_of_the_shift(db, NOW.replace(hour=13, minute=59), NOW.replace(hour=13, minute=59)) == found
    for later in (NOW.replace(hour=14), NOW + timedelta(days=1)):
        assert air.room_of_the_shift(db, later, later) is None
    assert air.room_of_the_shift(db, NOW, NOW) is None, "nobody had taken it yet"
    the_shop.log(code, "cross-out", crosses=logged.entries[0], why="slip")
    assert air.room_of_the_shift(db, the_shop.now, the_shop.now) is None
