"""This week: the pace of the screen room by its log, what can still be made, and jobs planned on presses."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
import shop as shops
from flask.testing import FlaskClient
from shop import NOW, Shop, fresh, said, two_colours
from sqlite_utils import Database

from tickets.actions import jobs as acts
from tickets.actions import shop as shop_acts
from tickets.domain.desk.pace import Pace, WorkingHours, measured
from tickets.domain.overtaken import Overtaken
from tickets.domain.refusal import NotAllowed, Refused
from tickets.queries import desk_now, week, week_said
from tickets.queries.said import Reader
from tickets.store import changes, jobs

HOURS = WorkingHours(8 * 60, 17 * 60, frozenset({1, 2, 3, 4, 5}), ZoneInfo("Europe/Warsaw"))
LIMITS = {"weeks": 4.0, "least": 3.0, "longest": 24.0, "coat-to-ready": 4.0, "coats": 6.0}


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=HOURS.zone)


# -- the rules


@pytest.mark.parametrize(
    ("start", "end", "hours"),
    [
        ("2026-03-10T16:00", "2026-03-11T09:00", 2.0),  # the night between is not work
        ("2026-03-13T16:00", "2026-03-16T09:00", 2.0),  # nor is a weekend
        ("2026-03-10T09:00", "2026-03-10T09:30", 0.5),
        ("2026-03-10T05:00", "2026-03-10T07:00", 0.0),
        ("2026-03-10T12:00", "2026-03-10T11:00", 0.0),
        ("2026-03-27T16:00", "2026-03-30T10:00", 3.0),  # the clock goes forward on that Sunday
    ],
)
def test_only_working_hours_count(start: str, end: str, hours: float) -> None:
    assert HOURS.between(at(start), at(end)) == pytest.approx(hours)


def test_hours_over_midnight_belong_to_the_day_they_begin_on() -> None:
    night = WorkingHours(22 * 60, 6 * 60, frozenset({1}), ZoneInfo("UTC"))
    monday, tuesday = datetime(2026, 3, 9, tzinfo=UTC), datetime(2026, 3, 10, tzinfo=UTC)
    assert night.between(monday, tuesday + timedelta(hours=12)) == 8
    assert night.works_at(tuesday + timedelta(hours=5)) and not night.works_at(monday + timedelta(hours=5))
    clocks_back = WorkingHours(0, 24 * 60, frozenset({7}), ZoneInfo("Europe/Warsaw"))
    assert clocks_back.between(at("2026-10-25T00:00"), at("2026-10-26T00:00")) == 25  # an hour is worked twice


def test_what_is_left_ends_before_the_work_of_that_day_begins() -> None:
    now = at("2026-03-13T14:48")  # a Friday
    left = {day: HOURS.left_before(date(2026, 3, day), now) for day in (12, 13, 14, 16, 17)}
    assert left == pytest.approx({12: 2.2, 13: 2.2, 14: 2.2, 16: 2.2, 17: 11.2})
    assert HOURS.left_before(date(2026, 3, 14), at("2026-03-14T10:00")) == 0  # nobody works on that day


def test_the_pace_is_of_screens_that_were_made_without_lying_on_the_rack() -> None:
    took = ((2, "12:00"), (3, "11:00"), (4, "14:00"))
    quick = [(at(f"2026-03-0{day}T09:00"), at(f"2026-03-0{day}T{ready}")) for day, ready in took]
    ahead = [(at("2026-03-02T09:00"), at("2026-03-05T16:00"))]  # coated ahead
    night = [(at("2026-03-02T20:00"), at("2026-03-02T23:00"))]  # nobody works then, so no hour of it would count
    night += [(at("2026-03-03T06:00"), at("2026-03-03T09:00"))]  # coated before the work began
    found = measured(quick + ahead + night, [4, 2, 1], HOURS, LIMITS)
    assert found == Pace(3.0, 3, pytest.approx(7 / 3), 7, 3, 4.0)
    few = measured(quick[:2] + ahead, [1, 1], HOURS, LIMITS)
    assert (few.ready_h, few.screens, few.an_hour, few.coats) == (4.0, 0, 6.0, 0)
    assert measured([], [], HOURS, {**LIMITS, "coat-to-ready": None, "least": None}).ready_h is None


@pytest.mark.parametrize(
    ("to_coat", "on_the_way", "needs"),
    [
        (0, [], 0.0),
        (6, [], 3 + 2),  # six coats at two an hour, then the last one takes two hours
        (1, [3.0], 3.0),  # one that is on the way can take longest
        (0, [None, 0.5], 2.0),  # nothing says how long: as a whole screen
    ],
)
def test_what_screens_need(to_coat: int, on_the_way: list[float | None], needs: float) -> None:
    assert Pace(2.0, 9, 2.0, 9, 4, 4).needs(to_coat, on_the_way) == needs


def test_without_a_pace_nothing_is_said_to_be_in_time() -> None:
    assert Pace(None, 0, 2.0, 9, 4, 4).needs(1, []) is None
    assert Pace(2.0, 9, None, 0, 0, 4).needs(1, []) is None and Pace(2.0, 9, None, 0, 0, 4).needs(0, [1.0]) == 1


# -- a shop


def due(days: int) -> str:
    return (NOW + timedelta(days=days)).date().isoformat()


def week_of(shop: Shop) -> week.Week:
    return week.of(Reader.of(shop.db, shop.now))


def plan(shop: Shop, job: jobs.Saved, press: str, day: str, **more: str) -> jobs.Planned:
    return acts.plan(shop.db, shop.lead, job, press, day, post=fresh(), now=shop.now, **more)


def test_a_day_says_whether_its_screens_can_still_be_made(shop: Shop) -> None:
    shop.now = NOW.replace(hour=14, minute=48)
    tomorrow = shop.job(two_colours(due=due(1)))
    shop.screen(tomorrow, 1)
    days = {one.day: one for one in week_of(shop).days}
    one = days[date(2026, 3, 11)]
    assert (one.needed, one.ready, one.to_coat, one.level) == (2, 1, 1, "stop")
    assert (one.left_h, one.needs_h) == (pytest.approx(2.2), pytest.approx(1 / 6 + 4))
    assert week_said.day_said(Reader.of(shop.db, shop.now), one) == "needs 4.2 h, 2.2 h left today"
    shop.now = NOW.replace(hour=9)
    assert {day.day: day.level for day in week_of(shop).days}[date(2026, 3, 11)] == "ok"
    shop.now = NOW.replace(hour=16)
    shop.screen(tomorrow, 3)
    ready = week_of(shop).days[1]
    assert ready.level == "ok" and week_said.day_said(Reader.of(shop.db, shop.now), ready) == "all screens ready"


def test_screens_of_the_days_before_are_made_first(shop: Shop) -> None:
    shop.limit("pace-coats", 1)
    for days in (1, 2):
        shop.job(two_colours(f"Kites {days}", due=due(days), art={"name": f"Kite {days}", "revision": "1"}))
    needs = [day.needs_h for day in week_of(shop).days[:3]]
    assert needs == [0, 2 + 4, 4 + 4]


def test_the_pace_is_that_of_the_log_once_there_is_enough(shop: Shop) -> None:
    shop.limit("pace-least", 2)
    job = shop.job()
    shop.now = NOW.replace(hour=16)
    shop.screen(job, 1)  # coated and ready four hours later, each step an hour after the other
    shop.screen(job, 3)
    found = week_of(shop).pace
    assert (found.ready_h, found.screens, found.an_hour, found.coats, found.hours) == (4.0, 2, 2.0, 2, 1)
    told = week_said.pace_said(found)
    assert "the middle of 2 screens of the last 4 weeks" in told[0] and "2 coats in 1 hour" in told[1]
    shop.now += timedelta(weeks=5)
    assert week_of(shop).pace.screens == 0  # they are too long ago


def test_a_planned_job_stands_on_its_day_and_press_and_late_ones_first(shop: Shop) -> None:
    late = shop.job(two_colours("Late kites", due=due(-2), art={"name": "Late", "revision": "1"}))
    soon = shop.job(two_colours("Soon kites", due=due(5)))
    far = shop.job(two_colours("Far kites", due=due(30), art={"name": "Far", "revision": "1"}))
    shop.job(two_colours("Not yet", due=due(31), art={"name": "Never", "revision": "1"}))
    plan(shop, soon, shop.other_press, due(2))
    plan(shop, far, shop.first_press, due(2))
    found = week_of(shop)
    assert found.days[0].day is None and [one.ahead.code for one in found.days[0].jobs] == [late.code]
    assert found.late == 1 == sum(waits.job.late for waits in desk_now.of(Reader.of(shop.db, shop.now), 7).jobs)
    day = next(one for one in found.days if one.day == date(2026, 3, 12))
    assert [(press, [one.ahead.title for one in some]) for press, some in day.presses] == [
        ("Press 1", ["Far kites"]), ("Press 2", ["Soon kites"]),
    ]  # fmt: skip
    assert found.jobs == 3 and found.pieces == 180 and not found.later
    plan(shop, soon, shop.other_press, due(9))
    assert [(one.ahead.title, one.after_due) for one in week_of(shop).later] == [("Soon kites", True)]
    plan(shop, late, shop.first_press, due(0))
    (today,) = [one for one in week_of(shop).days if one.day == date(2026, 3, 10)]
    assert today.jobs[0].late and week_of(shop).late == 1  # planned for today, and late all the same


def test_who_planned_and_closed_is_noted_and_nothing_is_noted_twice(shop: Shop) -> None:
    job = shop.job()
    plan(shop, job, "Press 1", due(1))
    plan(shop, job, "Press 1", due(1))
    plan(shop, job, "", "")
    for closed in (True, True, False):
        acts.close(shop.db, shop.manager, job, closed, post=fresh(), now=shop.now)
    told = [(one.what, one.was, one.becomes, one.person) for one in changes.of(shop.db, "job", job.id)][::-1]
    assert told == [
        ("planned", "", "Press 1, 2026-03-11", "Cy Marsh"),
        ("planned", "Press 1, 2026-03-11", "", "Cy Marsh"),
        ("closed", "", "", "Di Novak"),
        ("reopened", "", "", "Di Novak"),
    ]


def test_a_plan_that_cannot_be_is_refused(shop: Shop) -> None:
    job = shop.job()
    shop.place("Rack 1")
    shop.place("Sample press", "press", heads=1)
    for press, day, told in (
        ("Rack 1", due(1), "Rack 1 is not a press in use"),
        ("Press 9", due(1), "There is no place"),
        ("Sample press", due(1), "On Sample press: 1 head"),
        ("Press 1", due(-1), "That day is past"),
        ("Press 1", "soon", "Write the day like"),
    ):
        with pytest.raises(Refused, match=told):
            plan(shop, job, press, day)
    with pytest.raises(NotAllowed):
        acts.plan(shop.db, shop.press, job, "Press 1", due(1), post=fresh(), now=NOW)
    acts.close(shop.db, shop.manager, job, True, post=fresh(), now=shop.now)
    with pytest.raises(Refused, match="is closed"):
        plan(shop, job, "Press 1", due(1))
    assert jobs.planned(shop.db, job.id) == jobs.NOT_PLANNED


def test_a_plan_of_somebody_else_is_not_undone_unseen(shop: Shop) -> None:
    job = shop.job()
    plan(shop, job, "Press 1", due(1), seen="")
    with pytest.raises(Overtaken, match="Cy Marsh"):
        plan(shop, job, "Press 2", due(1), seen="")
    plan(shop, job, "Press 2", due(1), seen="Press 1, 2026-03-11")
    assert jobs.planned(shop.db, job.id).day == due(1)


def test_a_tap_plans_a_job_and_the_week_shows_it(shop: Shop, client: FlaskClient) -> None:
    job = shop.job()
    lead = shops.signed_in(client, "Cy Marsh")
    form = lead.get(f"/jobs/{job.code}/plan").text
    assert f'value="{due(1)} {shop.other_press}"' in form and "after its press date" in form
    sent = {"entry": fresh(), "seen": "", "slot": f"{due(1)} {shop.other_press}"}
    answer = lead.post(f"/jobs/{job.code}/plan", data=sent)
    assert (answer.status_code, answer.location) == (303, f"/week#{job.code}")
    page = said(lead.get("/week").text)
    assert "Wed 11 Mar 1 job, 60 pieces screens: 0 of 2 ✓ needs 4.3 h, 7 h left today Press 2 Kite club tees" in page
    assert "Today and the next 6 days: 1 job, 60 pieces." in page and "a judgement of ours" in page
    assert "Planned: Press 2, Wed 11 Mar" in said(lead.get(f"/jobs/{job.code}").text)
    assert "1 job, 60 pieces" in said(lead.get(f"/jobs/{job.code}/plan").text)
    other = lead.post(f"/jobs/{job.code}/plan", data={**sent, "entry": fresh(), "slot": f"{due(2)} {shop.first_press}"})
    assert other.status_code == 409 and "Saved by Cy Marsh meanwhile" in other.text
    assert lead.post(f"/jobs/{job.code}/plan", data={"entry": fresh(), "slot": ""}).status_code == 422
    assert lead.post(f"/jobs/{job.code}/plan", data={"entry": fresh(), "slot": "none"}).status_code == 303
    assert "planned: Press 2, 2026-03-11, then –" in said(lead.get(f"/jobs/{job.code}").text)


def test_the_commands_say_what_the_page_says(shop: Shop, folder: object, db: Database) -> None:
    run = shops.commands(folder)  # type: ignore[arg-type]
    job = shop.job()
    assert (
        "is planned: Press 1, 2026-03-12." in run("job", "plan", job.code, "--press", "Press 1", "--day", due(2)).output
    )
    found = json.loads(run("job", "list", "--week", "--json").output)
    day = next(one for one in found["days"] if one["day"] == due(2))
    assert (day["jobs"][0]["press"], day["pieces"], day["screens_needed"], day["said"]) == (
        "Press 1", 60, 2, week_said.day_said(Reader.of(db, shop.now), week_of(shop).days[2]),
    )  # fmt: skip
    assert "Press 1 · " in run("job", "list", "--week").output
    assert json.loads(run("job", "show", job.code, "--json").output)["planned"] == {"press": "Press 1", "day": due(2)}
    assert run("job", "plan", job.code).exit_code == 2 and run("job", "list", "--week", "--closed").exit_code == 2
    assert "is closed" in run("job", "close", job.code).output and jobs.get(db, job.id).closed_at  # type: ignore[union-attr]
    assert "open again" in run("job", "reopen", job.code, "--by", "Cy Marsh").output
    assert run("job", "close", job.code, "--by", "Bo Lind").exit_code != 0
    assert changes.of(db, "job", job.id)[0].person == "Cy Marsh"
    assert "not planned any more" in run("job", "plan", job.code, "--none").output


def test_working_hours_are_a_setting(shop: Shop) -> None:
    shop_acts.set_up(shop.db, shop.manager, "work_hours", "6-14", now=shop.now)
    shop_acts.set_up(shop.db, shop.manager, "work_days", "2", now=shop.now)
    found = week.hours_of(shop.db)
    assert (found.begins, found.ends, found.days) == (360, 840, frozenset({2}))
    assert [day.works for day in week_of(shop).days] == [True, *[False] * 6]
