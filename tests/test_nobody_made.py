"""Nothing is logged that nobody made: findings, readings and places are said by who looked, measured and put away."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask.testing import FlaskClient
from sqlite_utils import Database
from test_web_screens import Forms, add, log, post_id, words

from tickets.floor import buckets, places, screens
from tickets.floor.posting import form
from tickets.records.person import Actor
from tickets.records.refusal import Refused
from tickets.store import entries, people

SignIn = Callable[[FlaskClient, str], FlaskClient]

NOW = datetime.now(UTC)


@pytest.fixture
def ada(db: Database) -> Actor:
    person = people.find(db, "Ada Holm")
    assert person is not None
    return Actor(person.id, person.name, person.role)


@pytest.fixture
def room(client: FlaskClient, sign_in: SignIn) -> FlaskClient:
    """Ada of the screen room holds the phone."""
    return sign_in(client, "Ada Holm")


def newest(db: Database, code: str) -> Any:
    return entries.latest_of(db, "screen", screens.find(db, code).id, 1)[0]


def to_wash(db: Database, ada: Actor, number: int = 1) -> list[str]:
    codes = add(db, ada, number)
    for code in codes:
        log(db, ada, code, ("found", {"standing_seen": "exposed"}))
    return codes


def to_check(db: Database, ada: Actor, number: int = 1) -> list[str]:
    codes = add(db, ada, number)
    for code in codes:
        log(db, ada, code, ("found", {"standing_seen": "to check"}))
    return codes


# What was found ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("step", "made"), [("washout", to_wash), ("check", to_check)])
def test_a_form_as_it_stands_finds_nothing(room: FlaskClient, db: Database, ada: Actor, step: str, made: Any) -> None:
    (code,) = made(db, ada)
    page = room.get(f"/t/{code}").text
    where, sent = Forms(page).find(f"/screens/{code}/{step}")
    assert "result" not in sent
    answer = room.post(where, data=sent)
    assert answer.status_code == 422 and "Say what was found: good, fault" in words(answer.text)
    assert newest(db, code).step == "found"
    for result in ("good", "fault"):  # one tap each
        assert re.search(rf'<button class="primary [^>]*name="result" value="{result}"', page)
    assert room.post(where, data={**sent, "result": "fault"}).status_code == 303
    assert newest(db, code).values == {"result": "fault"}


@pytest.mark.parametrize("step", ["washout", "check"])
def test_who_finds_something_by_a_script_says_what(db: Database, ada: Actor, step: str) -> None:
    (code,) = to_check(db, ada)
    screen = screens.find(db, code)
    with pytest.raises(Refused, match="Say what was found"):
        screens.log(db, ada, screen, step, form({"in_hand": "yes"}), post=post_id(), now=NOW)


def test_a_look_at_one_screen_says_nothing_of_the_next(room: FlaskClient, db: Database, ada: Actor) -> None:
    first, second = to_check(db, ada, 2)
    _where, sent = Forms(room.get(f"/t/{first}").text).find(f"/screens/{first}/check")
    answer = room.post(f"/screens/{first}/check", data={**sent, "result": "good", "note": "one pinhole blocked"})
    after = room.get(answer.headers["Location"]).text
    where, again = Forms(after).find("/doing/repeat")
    assert room.post(where, data=again).status_code == 303
    page = room.get(f"/t/{second}").text
    where, sent = Forms(page).find(f"/screens/{second}/check")
    said = {name for name, texts in sent.items() if any(texts)}
    assert not {"result", "fault", "note"} & said
    assert "one pinhole blocked" not in page and 'name="result" value="good"' in page
    assert room.post(where, data=sent).status_code == 422 and newest(db, second).step == "found"


def test_many_at_once_are_good_by_a_tap_on_good_only(room: FlaskClient, db: Database, ada: Actor) -> None:
    cart = places.add(db, ada, "Cart 4", "cart", post=post_id(), now=NOW)
    codes = to_check(db, ada, 8)
    for code in codes:
        log(db, ada, code, ("rack", {"place": "Cart 4"}))
    page = room.get(f"/places/{cart}").text
    where, sent = Forms(page).find(f"/places/{cart}/check")
    assert sorted(sent["screen"]) == sorted(codes) and "result" not in sent
    assert room.post(where, data=sent).status_code == 422
    assert page.count('name="result" value="good" data-count="Good: {n}"') == 2  # above and below a long list
    assert room.post(where, data={**sent, "result": "good"}).status_code == 303
    assert {newest(db, code).values["result"] for code in codes} == {"good"}


def test_a_test_strip_of_a_bucket_is_not_good_by_itself(room: FlaskClient, db: Database, ada: Actor) -> None:
    code = buckets.mix(db, ada, form({"kind": "diazo emulsion"}), post=post_id(), now=NOW)
    page = room.get(f"/buckets/{code}").text
    where, sent = Forms(page).find(f"/buckets/{code}/test")
    assert "result" not in sent and room.post(where, data=sent).status_code == 422
    assert buckets.find(db, code).test == ""
    assert room.post(where, data={**sent, "result": "fault"}).status_code == 303
    assert buckets.find(db, code).test == "fault"


def test_nobody_looked_at_a_screen_that_was_just_taken_off(room: FlaskClient, db: Database, ada: Actor) -> None:
    (code,) = add(db, ada)
    log(db, ada, code, ("found", {"standing_seen": "on press"}))
    where, sent = Forms(room.get(f"/t/{code}").text).find(f"/screens/{code}/pull")
    assert room.post(where, data=sent).status_code == 303
    assert "condition" not in newest(db, code).values


@pytest.mark.browser
@pytest.mark.parametrize(
    ("step", "field"), [("washout", "step_held"), ("washout", "at"), ("check", "at"), ("bucket", "at")]
)
def test_enter_finds_nothing(
    phone: Any, sign_in_page: Callable[[Any, str], None], db: Database, ada: Actor, step: str, field: str
) -> None:
    sign_in_page(phone, "Ada Holm")
    if step == "bucket":
        mixed = NOW - timedelta(days=200)
        code = buckets.mix(db, ada, form({"kind": "diazo emulsion"}), post=post_id(), now=mixed)
        before = entries.count(db)
        phone.goto(f"/buckets/{code}")
        asked = phone.locator("form.step[action$='/test']")
    else:
        (code,) = to_wash(db, ada) if step == "washout" else to_check(db, ada)
        before = entries.count(db)
        phone.goto(f"/screens/{code}?step={step}")
        asked = phone.locator(f"form.step[action$='/{step}']")
    asked.locator("summary").last.tap()
    box = asked.locator(f"input[name={field}]")
    box.fill("2026-01-02T10:30" if field == "at" else "5")
    box.press("Enter")
    phone.get_by_text("Say what was found").wait_for()
    assert entries.count(db) == before


# Where it was put ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["rack", "cabinet"])
def test_a_store_proposes_no_work_for_what_is_put_away(room: FlaskClient, db: Database, ada: Actor, kind: str) -> None:
    store = places.add(db, ada, "Store 3", kind, post=post_id(), now=NOW)
    for code in add(db, ada, 20):
        log(db, ada, code, ("rack", {"place": "Store 3"}))
    page = room.get(f"/t/{store}").text
    assert not any(where.endswith(("/degrease", "/coat")) for where, _sent in Forms(page).forms)
    for step in ("degrease", "rack", "retension", "note", "strip"):  # chosen: still nothing is ticked
        _where, sent = Forms(room.get(f"/places/{store}?step={step}").text).find(f"/places/{store}/{step}")
        assert "screen" not in sent, step


def test_a_cart_goes_through_a_step_together(room: FlaskClient, db: Database, ada: Actor) -> None:
    cart = places.add(db, ada, "Cart 7", "cart", post=post_id(), now=NOW)
    codes = add(db, ada, 3)
    for code in codes:
        log(db, ada, code, ("rack", {"place": "Cart 7"}))
    _where, sent = Forms(room.get(f"/t/{cart}").text).find(f"/places/{cart}/degrease")
    assert sorted(sent["screen"]) == sorted(codes)


def test_work_that_waits_on_a_rack_is_proposed_without_what_is_put_away(
    room: FlaskClient, db: Database, ada: Actor
) -> None:
    rack = places.add(db, ada, "Rack 2", "rack", post=post_id(), now=NOW)
    codes = add(db, ada, 6)
    for code in codes:
        log(db, ada, code, ("rack", {"place": "Rack 2"}))
    log(db, ada, codes[0], "degrease")
    _where, sent = Forms(room.get(f"/t/{rack}").text).find(f"/places/{rack}/coat")
    assert sent["screen"] == [codes[0]]


@pytest.mark.parametrize(("kind", "said"), [("rack", "Put it on Rack 1"), ("cabinet", "Put it in Rack 1")])
def test_putting_away_one_after_another_names_the_place(
    room: FlaskClient, db: Database, ada: Actor, kind: str, said: str
) -> None:
    places.add(db, ada, "Rack 1", kind, post=post_id(), now=NOW)
    places.add(db, ada, "Rack 2", "rack", post=post_id(), now=NOW)
    first, second = add(db, ada, 2)
    answer = room.post(f"/screens/{first}/rack", data={"entry": post_id(), "place": "Rack 1"})
    where, sent = Forms(room.get(answer.headers["Location"]).text).find("/doing/repeat")
    room.post(where, data=sent)
    page = room.get(f"/t/{second}").text
    assert f"{said}</button>" in page and "Repeating: Put away, Rack 1" in words(page)
    assert page.count('name="place"') == 1  # no other place can be chosen under a button that names this one
    where, sent = Forms(page).find(f"/screens/{second}/rack")
    assert room.post(where, data=sent).status_code == 303
    assert newest(db, second).values["place"] == screens.find_place(db, "Rack 1").id
