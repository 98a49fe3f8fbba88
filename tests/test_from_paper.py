"""What was done an hour ago is said by a tap; lines of a ticket are typed in on one page, each logged on its own."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
import shop as shops
from flask import Flask
from flask.testing import FlaskClient
from shop import NOW, with_presses
from sqlite_utils import Database
from test_not_sent import Forms, frame, notes, written
from test_web_runs import hang_both, post

from tickets.queries import find, sound


@pytest.fixture
def code(db: Database) -> str:
    return frame(db)


@pytest.fixture
def phone(client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient], clock: shops.Clock) -> FlaskClient:
    clock.on(days=1)  # the frame is there since yesterday
    return sign_in(client, "Ada Holm")


# -- by a tap


@pytest.mark.parametrize("view", ["day", "safelight"])
def test_how_long_ago_is_a_tap_at_every_step(phone: FlaskClient, code: str, view: str) -> None:
    phone.post("/view", data={"view": view, "next": "/"})
    for step in ("degrease", "tension", "note"):
        page = phone.get(f"/screens/{code}?step={step}").text
        assert re.findall(r'type="radio" name="ago" value="(\d*)"', page) == ["", "900", "3600", "10800", "86400"]
        assert ('type="datetime-local"' in page) is (view == "day")


def test_an_hour_ago_is_an_hour_ago(phone: FlaskClient, db: Database, code: str) -> None:
    assert (
        phone.post(
            f"/screens/{code}/note", data={"entry": "an-entry-an-hour-ago", "note": "x", "ago": "3600"}
        ).status_code
        == 303
    )
    (entry,) = written(db, "note")
    assert abs(entry.saved_at - entry.at - timedelta(hours=1)) < timedelta(seconds=1)


def test_a_time_that_is_typed_counts_before_one_that_is_tapped(phone: FlaskClient, db: Database, code: str) -> None:
    sent = {"entry": "an-entry-an-hour-ago", "note": "x", "ago": "3600", "at": "2026-03-10T15:00"}
    assert phone.post(f"/screens/{code}/note", data=sent).status_code == 303
    assert written(db, "note")[0].at.isoformat() == "2026-03-10T15:00:00+00:00"


def test_an_hour_ago_and_sent_late_is_that_much_longer_ago(phone: FlaskClient, db: Database, code: str) -> None:
    sent = {"entry": "an-entry-an-hour-ago", "note": "x", "ago": "3600", "late": "1800"}
    assert phone.post(f"/screens/{code}/note", data=sent).status_code == 303
    (entry,) = written(db, "note")
    assert abs(entry.saved_at - entry.at - timedelta(minutes=90)) < timedelta(seconds=1)


def test_sent_again_it_is_the_same_and_another_time_is_not(
    phone: FlaskClient, db: Database, code: str, clock: shops.Clock
) -> None:
    sent = {"entry": "an-entry-an-hour-ago", "note": "x", "ago": "3600"}
    for _twice in range(2):
        assert phone.post(f"/screens/{code}/note", data=sent).status_code == 303
        clock.on(minutes=7)
    assert phone.post(f"/screens/{code}/note", data={**sent, "ago": "86400"}).status_code == 409 and len(notes(db)) == 1


# -- lines of a ticket


def lines(*rows: tuple[str, str, str], **more: str) -> dict[str, str]:
    out = {"entry": "a-page-of-some-lines"}
    for number, (step, at, value) in enumerate(rows, 1):
        out |= {f"row{number}.entry": f"a-line-of-a-ticket-{number}", f"row{number}.step": step, f"row{number}.at": at}
        out |= {f"row{number}.value": value}
    return {**out, **more}


def test_lines_of_a_ticket_are_logged_each_with_its_time(phone: FlaskClient, db: Database, code: str) -> None:
    assert f'href="/screens/{code}/from-paper"' in phone.get(f"/screens/{code}").text
    page = phone.get(f"/screens/{code}/from-paper").text
    assert Forms(page).of(f"/screens/{code}/from-paper")["row8.at"] == [""]
    sent = lines(
        ("note", "2026-03-10T14:00", "the last"),
        ("degrease", "2026-03-10T11:00", ""),
        ("tension", "2026-03-10T11:30", "25 24 24"),
    )
    answer = phone.post(f"/screens/{code}/from-paper", data=sent)
    assert answer.status_code == 200 and answer.text.partition("<main")[2].partition("</main")[0].count("<li>") == 3
    found = [
        (entry.step, f"{entry.at:%H:%M}") for step in ("degrease", "tension", "note") for entry in written(db, step)
    ]
    assert found == [("degrease", "11:00"), ("tension", "11:30"), ("note", "14:00")]
    assert written(db, "tension")[0].values["readings_n_per_cm"] == [25, 24, 24]
    assert answer.text.index("Degreased") < answer.text.index("the last") and sound.findings(db) == []
    assert phone.post(f"/screens/{code}/from-paper", data=sent).status_code == 200  # sent again: nothing is there twice
    assert len(notes(db)) == 1 and str(find.screen(db, code).life.standing) == "degreased"


def test_a_line_that_is_refused_or_asked_about_keeps_none_of_the_others_back(
    phone: FlaskClient, db: Database, code: str
) -> None:
    rows = (
        ("tension", "2026-03-10T11:00", "twenty"), ("washout", "2026-03-10T12:00", "good"),
        ("note", "2026-03-10T12:30", "kept"),
        ("degrease", "", ""), ("", "2026-03-10T13:00", "x"), ("degrease", "2026-03-10T13:00", "thorough"),
    )  # fmt: skip
    answer = phone.post(f"/screens/{code}/from-paper", data=lines(*rows))
    assert answer.status_code == 422 and notes(db) == ["kept"]
    assert "Not all saved." in answer.text and "5 things to put right" in answer.text
    for said in (
        "Do you have it in front of you?",
        "Say when: the day and the time.",
        "Say what was done.",
        "takes no value",
    ):
        assert said in answer.text, said
    left = Forms(answer.text).of(f"/screens/{code}/from-paper")
    assert (
        left["row1.value"] == ["twenty"] and "row3.value" not in left and left["row2.entry"] == ["a-line-of-a-ticket-2"]
    )
    again = phone.post(
        f"/screens/{code}/from-paper", data=lines(rows[0], rows[1], **{"row1.value": "25", "row2.yes": "yes"})
    )
    assert again.status_code == 200 and len(written(db, "washout")) == 1 and len(written(db, "found")) == 1


def test_entries_that_clash_with_a_late_one_are_named(
    phone: FlaskClient, db: Database, code: str, clock: shops.Clock
) -> None:
    for step in ("degrease", "coat"):
        answer = phone.post(f"/screens/{code}/{step}", data={"entry": f"an-entry-of-{step:-<8}"})
        assert answer.status_code == 303, answer.text
        clock.on(hours=1)
    late = f"{clock.now - timedelta(hours=1, minutes=30):%Y-%m-%dT%H:%M}"
    answer = phone.post(f"/screens/{code}/from-paper", data=lines(("washout", late, "good"), **{"row1.yes": "yes"}))
    assert answer.status_code == 200 and len(written(db, "washout")) == 1, answer.text
    clash = answer.text.partition("These don’t fit any more")[2].partition("</section>")[0]
    assert "Coated" in clash and f'href="/screens/{code}?cross=an-entry-of-coat----"' in clash


def test_a_line_that_was_logged_before_says_so(phone: FlaskClient, db: Database, code: str) -> None:
    phone.post(f"/screens/{code}/from-paper", data=lines(("note", "2026-03-10T11:00", "as it was")))
    answer = phone.post(f"/screens/{code}/from-paper", data=lines(("note", "2026-03-10T11:00", "otherwise")))
    assert "Line 1 was logged before" in answer.text and "as it was" in answer.text and notes(db) == ["as it was"]


def test_words_of_a_choice_are_taken(phone: FlaskClient, db: Database, code: str) -> None:
    sent = lines(("washout", "2026-03-10T12:00", "Good"), **{"row1.yes": "yes"})
    assert phone.post(f"/screens/{code}/from-paper", data=sent).status_code == 200
    assert written(db, "washout")[0].values["result"] == "good"


def test_an_entry_that_was_noted_later_says_when(phone: FlaskClient, code: str) -> None:
    phone.post(f"/screens/{code}/from-paper", data=lines(("note", "2026-03-10T11:00", "as it was")))
    phone.post(f"/screens/{code}/note", data={"entry": "an-entry-made-at-once", "note": "at once"})
    page = phone.get(f"/screens/{code}?before=").text
    assert page.count("noted 11 Mar") == 1


def test_lines_of_a_run(app: Flask, db: Database, clock: shops.Clock, sign_in: Any) -> None:
    press = sign_in(shops.phone_of(app), "Bo Lind")
    made = with_presses(db)
    number, _white, _blue = hang_both(press, made, made.job())
    approved = {"approved_by": "Cy Marsh", "approved_as": "press", "how": "piece in hand"}
    for step, more in (("approve", approved), ("start", {})):
        assert post(press, number, step, **more).status_code == 303
    clock.on(hours=2)
    hour_ago = f"{clock.now - timedelta(hours=1):%Y-%m-%dT%H:%M}"
    assert f'href="/runs/{number}/from-paper"' in press.get(f"/runs/{number}").text
    sent = lines(("count", hour_ago, "12"), ("stop", hour_ago, "pinhole"), ("count", "2026-01-01T10:00", "3"))
    answer = press.post(f"/runs/{number}/from-paper", data=sent)
    assert answer.status_code == 422 and "give a later time" in answer.text
    assert [one.values["good"] for one in written(db, "count")] == [12] and len(written(db, "stop")) == 1
    assert NOW < written(db, "count")[0].at


def test_counts_and_starts_that_late_lines_of_a_run_make_doubtful_are_named(
    app: Flask, db: Database, clock: shops.Clock, sign_in: Any
) -> None:
    press = sign_in(shops.phone_of(app), "Cy Marsh")
    made = with_presses(db)
    number, _white, _blue = hang_both(press, made, made.job())
    ago = {minutes: f"{clock.now + timedelta(minutes=minutes):%Y-%m-%dT%H:%M}" for minutes in range(0, 130, 10)}
    approved = {"approved_by": "Cy Marsh", "approved_as": "press", "how": "piece in hand"}
    assert post(press, number, "approve", **approved).status_code == 303
    clock.on(minutes=15)
    assert post(press, number, "start").status_code == 303
    clock.on(minutes=40)
    assert post(press, number, "count", good="10").status_code == 303
    clock.on(minutes=60)

    def named(*rows: tuple[str, str, str], first: int) -> list[str]:
        sent = {name.replace("ticket-", f"ticket-{first}-"): text for name, text in lines(*rows).items()}
        sent = {name: text.replace("ticket-", f"ticket-{first}-") for name, text in sent.items()}
        answer = press.post(f"/runs/{number}/from-paper", data=sent)
        clash = answer.text.partition("These don’t fit any more")[2].partition("</section>")[0]
        return [step for name, step in db.execute("SELECT entry, step FROM entries ORDER BY at") if f"={name}" in clash]

    assert named(("stop", ago[30], "pinhole"), ("note", ago[30], "x"), first=1) == []
    assert named(("count", ago[70], "3"), first=2) == []  # after the last one
    assert named(("count", ago[30], "12"), first=3) == ["count"]
    assert named(("count", ago[10], "2"), first=4) == ["start", "count"]  # of 12 too
    assert named(("count", ago[10], "2"), first=5) == []  # named once
    assert sum(one.values["good"] for one in written(db, "count")) == 29


def test_under_the_safelight_nothing_is_typed(phone: FlaskClient, code: str) -> None:
    phone.post("/view", data={"view": "safelight", "next": "/"})
    page = phone.get(f"/screens/{code}/from-paper").text
    assert "<select" not in page and "typed in daylight" in page
