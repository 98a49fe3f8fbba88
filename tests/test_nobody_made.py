"""Nothing is logged that nobody made: findings, readings and places are said by who looked, measured and put away."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from flask.testing import FlaskClient
from shop import NOW, clock
from sqlite_utils import Database
from test_web_screens import Forms, add, log, post_id, words

from tickets.actions import buckets, places, screens, shop
from tickets.calculator.verdict import Verdict
from tickets.domain.entry import stamp
from tickets.domain.person import Actor
from tickets.domain.posted import form
from tickets.domain.refusal import Refused
from tickets.domain.spec import Row
from tickets.queries import find
from tickets.queries.shop_rules import zone
from tickets.store import entries, people
from tickets.store.settings import save_setting

SignIn = Callable[[FlaskClient, str], FlaskClient]


@pytest.fixture
def room(client: FlaskClient, sign_in: SignIn) -> FlaskClient:
    """Ada of the screen room holds the phone."""
    return sign_in(client, "Ada Holm")


def newest(db: Database, code: str) -> Any:
    return entries.latest_of(db, "screen", find.screen(db, code).id, 1)[0]


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
    screen = find.screen(db, code)
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
    assert "screen" not in Forms(room.get(f"/places/{cart}").text).find(f"/places/{cart}/check")[1]
    page = room.get(f"/places/{cart}?tick=due").text
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
    assert find.bucket(db, code).test == ""
    assert room.post(where, data={**sent, "result": "fault"}).status_code == 303
    assert find.bucket(db, code).test == "fault"


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
        before = db.table("entries").count
        phone.goto(f"/buckets/{code}")
        asked = phone.locator("form.step[action$='/test']")
    else:
        (code,) = to_wash(db, ada) if step == "washout" else to_check(db, ada)
        before = db.table("entries").count
        phone.goto(f"/screens/{code}?step={step}")
        asked = phone.locator(f"form.step[action$='/{step}']")
    asked.locator("summary").last.tap()
    box = asked.locator(f"input[name={field}]")
    box.fill("2026-01-02T10:30" if field == "at" else "5")
    box.press("Enter")
    phone.locator("p.fault", has_text="Say what was found").wait_for()
    assert db.table("entries").count == before


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
    _where, sent = Forms(room.get(f"/places/{cart}?tick=due").text).find(f"/places/{cart}/degrease")
    assert sorted(sent["screen"]) == sorted(codes)


def test_work_that_waits_on_a_rack_is_proposed_without_what_is_put_away(
    room: FlaskClient, db: Database, ada: Actor
) -> None:
    rack = places.add(db, ada, "Rack 2", "rack", post=post_id(), now=NOW)
    codes = add(db, ada, 6)
    for code in codes:
        log(db, ada, code, ("rack", {"place": "Rack 2"}))
    log(db, ada, codes[0], "degrease")
    _where, sent = Forms(room.get(f"/places/{rack}?step=coat&tick=due").text).find(f"/places/{rack}/coat")
    assert sent["screen"] == [codes[0]]


@pytest.mark.parametrize(("kind", "said"), [("rack", "Put on Rack 1"), ("cabinet", "Put in Rack 1")])
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
    assert f"{said}</button>" in page and said.replace("Put", "Every scan: put") in words(page)
    assert page.count('name="place"') == 1  # no other place can be chosen under a button that names this one
    where, sent = Forms(page).find(f"/screens/{second}/rack")
    assert room.post(where, data=sent).status_code == 303
    assert newest(db, second).values["place"] == find.place(db, "Rack 1").id


# The room ------------------------------------------------------------------------------------------------------------


def bare(db: Database, ada: Actor, number: int = 1) -> list[str]:
    codes = add(db, ada, number, when=NOW - timedelta(days=40))
    for code in codes:
        late(db, ada, code, "degrease", NOW - timedelta(days=39))
    return codes


def late(db: Database, ada: Actor, code: str, step: str, at: datetime, **values: object) -> Any:
    screen = find.screen(db, code)
    return screens.log(db, ada, screen, step, form(values), post=post_id(), now=at)


@pytest.fixture
def one_shift(db: Database, ada: Actor) -> None:
    """A shop whose only shift begins at this very hour of the day, so that no test runs over its end."""
    save_setting(db, "shifts", str(NOW.astimezone(zone(db)).hour), stamp(NOW), ada.id)


@pytest.mark.usefixtures("one_shift")
def test_the_room_is_logged_by_who_measured_it_only(room: FlaskClient, db: Database, ada: Actor) -> None:
    first, second = bare(db, ada, 2)
    before = room.get(f"/t/{first}").text
    assert "Nobody measured the room this shift." in before
    late(db, ada, first, "coat", clock(), room="37 degC, 45 %")
    page = room.get(f"/t/{second}").text
    assert "Room by the last reading: 37 °C, 45 % (Ada Holm, just now)." in words(page)
    where, sent = Forms(page).find(f"/screens/{second}/coat")
    assert not any(sent["room_c"]) and not any(sent["room_rh_pct"])
    answer = room.post(where, data=sent)
    assert not {"room_c", "room_rh_pct"} & set(newest(db, second).values)
    # the rules still know it: 37 degC is over the shop's limit for drying (shipped row: 35 degC)
    assert "room-warm" in Verdict.from_dict(newest(db, second).verdict).keys
    assert "The room is at 37 °C" in words(room.get(answer.headers["Location"]).text)


@pytest.mark.usefixtures("one_shift")
def test_a_room_within_limits_is_said_with_whose_reading_it_is(db: Database, ada: Actor) -> None:
    first, second = bare(db, ada, 2)
    code = buckets.mix(db, ada, form({"kind": "diazo emulsion"}), post=post_id(), now=NOW - timedelta(hours=1))
    for one in (first, second):
        late(db, ada, one, "tension", NOW - timedelta(days=1), readings_n_per_cm="25")
    now = clock()
    late(db, ada, first, "coat", now, room="22 degC, 45 %", bucket=code)
    verdict = late(db, ada, second, "coat", now + timedelta(seconds=1), bucket=code).verdict
    (reason,) = [one for one in verdict.reasons if one.key.startswith("room-")]
    assert reason.key == "room-in-spec-lately" and reason.numbers["who"] == "Ada Holm"


@pytest.mark.usefixtures("one_shift")
def test_a_reading_of_another_shift_says_nothing(room: FlaskClient, db: Database, ada: Actor) -> None:
    first, second = bare(db, ada, 2)
    late(db, ada, first, "coat", NOW - timedelta(hours=26), room="37 degC, 45 %")
    assert "Nobody measured the room this shift." in room.get(f"/t/{second}").text
    verdict = late(db, ada, second, "coat", clock()).verdict
    assert "room-warm" not in verdict.keys
    # dated back into that shift it is judged by the reading of then, dated before the reading by none
    third, fourth = bare(db, ada, 2)
    at = stamp(NOW - timedelta(hours=25, minutes=30))
    assert "room-warm" in screens.log(db, ada, find.screen(db, third), "coat", form({"at": at}),
                                      post=post_id(), now=clock()).verdict.keys  # fmt: skip
    at = stamp(NOW - timedelta(hours=26, minutes=10))
    assert "room-warm" not in screens.log(db, ada, find.screen(db, fourth), "coat", form({"at": at}),
                                          post=post_id(), now=clock()).verdict.keys  # fmt: skip


# Dated back ----------------------------------------------------------------------------------------------------------


def days(number: float) -> datetime:
    return clock() - timedelta(days=number)


@pytest.fixture
def two_buckets(db: Database, ada: Actor) -> tuple[str, str]:
    """The bucket that was in use ten days ago and another preset; the ones of now."""
    old, new = (
        buckets.mix(db, ada, form({"kind": "diazo emulsion"}), post=post_id(), now=days(ago)) for ago in (20, 3)
    )
    for code, ago in ((old, 19), (new, 2)):
        buckets.log(db, ada, find.bucket(db, code), "use", form({}), post=post_id(), now=days(ago))
    for (code,), bucket, preset, ago in (
        (add(db, ada, when=days(30)), old, "2+1 round edge", 12),
        (add(db, ada, when=days(30)), new, "1+1 round edge", 1),
    ):
        late(db, ada, code, "degrease", days(ago + 1))
        late(db, ada, code, "coat", days(ago), bucket=bucket, preset=preset)
    buckets.log(db, ada, find.bucket(db, old), "discard", form({}), post=post_id(), now=days(2))
    return old, new


def test_a_coat_dated_back_takes_the_bucket_and_preset_of_then(
    room: FlaskClient, db: Database, ada: Actor, two_buckets: tuple[str, str]
) -> None:
    old, new = two_buckets
    first, second, third = bare(db, ada, 3)
    where, sent = Forms(room.get(f"/t/{first}").text).find(f"/screens/{first}/coat")
    assert sent["bucket"] == [new]
    answer = room.post(where, data={**sent, "at": stamp(days(10))})
    values = newest(db, first).values
    assert (values["bucket"], values["preset"]) == (find.bucket(db, old).id, "2+1 round edge")
    after = words(room.get(answer.headers["Location"]).text)
    assert "Dated back, so taken as it was then: Emulsion bucket, How coated." in after
    # what somebody chose stays, and what was chosen to be left empty too
    where, sent = Forms(room.get(f"/t/{second}").text).find(f"/screens/{second}/coat")
    room.post(where, data={**sent, "bucket": "", "preset": "2+2 round edge", "at": stamp(days(10))})
    values = newest(db, second).values
    assert "bucket" not in values and values["preset"] == "2+2 round edge"
    # before any bucket was mixed nobody knows which one it was
    where, sent = Forms(room.get(f"/t/{third}").text).find(f"/screens/{third}/coat")
    room.post(where, data={**sent, "at": stamp(days(25))})
    assert "bucket" not in newest(db, third).values


def test_many_coats_dated_back_take_the_bucket_of_then(
    room: FlaskClient, db: Database, ada: Actor, two_buckets: tuple[str, str]
) -> None:
    old, _new = two_buckets
    rack = places.add(db, ada, "Cart 9", "cart", post=post_id(), now=days(60))
    codes = bare(db, ada, 3)
    for code in codes:
        late(db, ada, code, "rack", days(38), place="Cart 9")
    where, sent = Forms(room.get(f"/places/{rack}?tick=due").text).find(f"/places/{rack}/coat")
    answer = room.post(where, data={**sent, "at": stamp(days(10)), "strokes_print_side": "none"})
    assert answer.status_code == 422  # what was filled in by itself is still known after a refusal
    where, sent = Forms(answer.text).find(f"/places/{rack}/coat")
    answer = room.post(where, data={**sent, "strokes_print_side": ""})
    assert {newest(db, code).values["bucket"] for code in codes} == {find.bucket(db, old).id}
    assert "taken as it was then" in words(room.get(answer.headers["Location"]).text)


def test_a_bucket_that_was_mixed_after_the_coat_is_remarked(
    db: Database, ada: Actor, two_buckets: tuple[str, str]
) -> None:
    (code,) = bare(db, ada)
    verdict = late(db, ada, code, "coat", days(10), bucket=two_buckets[1]).verdict
    assert "bucket-mixed-after" in verdict.keys


def test_an_exposure_dated_back_is_held_against_the_wanted_time_of_then(
    room: FlaskClient, db: Database, ada: Actor
) -> None:
    manager = people.find(db, "Di Novak")
    assert manager is not None
    boss = Actor(manager.id, manager.name, manager.role)
    places.add_unit(db, boss, "Big lamp", "point", post=post_id(), now=days(60))
    for seconds, ago in ((60.0, 20), (150.0, 2)):
        shop.add_spec_row(db, boss, Row(0, "exposure-time", seconds, "s", {}, "a test of ours"), now=days(ago))
    first, second, third = bare(db, ada, 3)
    for code in (first, second, third):
        late(db, ada, code, "coat", days(12))
    page = room.get(f"/screens/{first}?step=expose").text
    where, sent = Forms(page).find(f"/screens/{first}/expose")
    assert sent["exposure_s"] == ["150"]
    sent |= {"separations": [], "in_hand": ["yes"]}
    room.post(where, data={**sent, "at": stamp(days(10))})
    entry = newest(db, first)
    assert entry.values["exposure_s"] == 60
    verdict = Verdict.from_dict(entry.verdict)
    assert not {"exposure-short", "exposure-long"} & set(verdict.keys)
    where, sent = Forms(room.get(f"/screens/{second}?step=expose").text).find(f"/screens/{second}/expose")
    room.post(where, data={**sent, "in_hand": "yes", "exposure_s": "90", "at": stamp(days(10))})
    assert newest(db, second).values["exposure_s"] == 90  # typed by somebody
    now = {"entry": post_id(), "exposure_s": "60", "exposure_unit": "Big lamp", "in_hand": "yes"}
    room.post(f"/screens/{third}/expose", data=now)
    assert Verdict.from_dict(newest(db, third).verdict).level.rank > verdict.level.rank  # held against the 150 s of now
