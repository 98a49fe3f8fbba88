"""A clock of the shop's computer that lies before the newest entry or far after it: said on every page, nothing is
logged by it until the manager says which is right, and no wrong time is carried on."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from flask.testing import FlaskClient
from hypothesis import given as drawn
from hypothesis import strategies as st
from shop import NOW, Clock, Shop, fresh
from sqlite_utils import Database
from test_sent_again import RULES as TRIED_TWICE
from test_sent_again import SECRET, Tried
from test_web_runs import PROBE

from tickets import store
from tickets.actions import lists, nightly, people, posting, tokens
from tickets.actions import shop as shop_acts
from tickets.domain import clock as clock_rules
from tickets.domain.clock import LONGEST_REST, SLACK
from tickets.domain.entry import read_stamp, stamp
from tickets.domain.lists import cells
from tickets.domain.refusal import NotAllowed, Refused
from tickets.queries import shop_rules, sound
from tickets.store.settings import setting

WOKEN = datetime(1970, 1, 1, 0, 2, tzinfo=UTC)
PASSWORD = shops.PEOPLE["Di Novak"][1]
TOLD = "Nothing can be saved now"


@pytest.fixture
def code(shop: Shop, clock: Clock) -> str:
    """A screen that was tensioned a moment ago."""
    code = shop.frame("230/in")
    clock.now = max(clock.now, read_stamp(saved(shop.db)[-1]))
    return code


@pytest.fixture
def ada(client: FlaskClient) -> FlaskClient:
    return shops.signed_in(client, "Ada Holm")


def saved(db: Database) -> list[str]:
    return [row[0] for row in db.execute("SELECT saved_at FROM entries ORDER BY id").fetchall()]


def note(phone: FlaskClient, code: str, text: str = "seen", **more: Any) -> Any:
    return phone.post(f"/screens/{code}/note", data={"entry": more.pop("entry", fresh()), "note": text, **more})


def answer(app: Any, said: str, clock: Clock) -> FlaskClient:
    """Di signs in by the clock as it is and answers."""
    di = shops.signed_in(shops.phone_of(app), "Di Novak")
    page = di.get("/clock")
    assert page.status_code == 200
    done = di.post("/clock", data={"clock": said, "seen": stamp(clock.now), "secret": PASSWORD})
    assert done.status_code == 303, shops.said(done.text)
    return di


@pytest.mark.parametrize(
    ("moved", "kind"),
    [
        (-SLACK - timedelta(minutes=1), "before"),
        (-timedelta(days=400), "before"),
        (LONGEST_REST + timedelta(days=1), "after"),
        (timedelta(days=365), "after"),  # the year set wrongly
        (timedelta(days=5 * 365), "after"),
        (WOKEN - NOW, "unset"),
    ],
)
def test_a_clock_that_moved_stops_the_log_until_it_is_put_right(
    client: FlaskClient, db: Database, code: str, clock: Clock, moved: timedelta, kind: str
) -> None:
    before, there = clock.now, saved(db)
    clock.now += moved
    phone = shops.signed_in(client, "Ada Holm")  # who held it before may be signed out by that clock
    for path in ("/screen-room", f"/screens/{code}", "/desk", "/spec", f"/t/{code}"):
        page = phone.get(path)
        assert page.status_code == 200 and TOLD in page.text and 'href="/clock"' in page.text, path
    entry = fresh()
    held = note(phone, code, "a torn corner", entry=entry)
    assert held.status_code == 503 and held.headers["Retry-After"] == str(store.trouble.CLOCK_FOR)
    assert TOLD in held.text and "a torn corner" in held.text and f'value="{entry}"' in held.text
    assert saved(db) == there
    # set right, it goes on by itself
    clock.now = before + timedelta(hours=1)
    phone = shops.signed_in(client, "Ada Holm")
    assert TOLD not in phone.get("/screen-room").text
    assert note(phone, code, "a torn corner", entry=entry).status_code == 303
    assert read_stamp(saved(db)[-1]) >= before + timedelta(hours=1)


@pytest.mark.parametrize(
    "moved", [-SLACK + timedelta(seconds=30), -timedelta(seconds=2), LONGEST_REST - timedelta(days=1)]
)
def test_within_the_slack_it_goes_on_in_the_order_of_typing(
    client: FlaskClient, db: Database, code: str, clock: Clock, moved: timedelta
) -> None:
    clock.now += moved
    phone = shops.signed_in(client, "Ada Holm")
    assert TOLD not in phone.get(f"/screens/{code}").text
    assert note(phone, code).status_code == 303
    assert saved(db) == sorted(set(saved(db)))


def test_a_wrong_clock_once_called_wrong_is_not_carried_on(app: Any, db: Database, code: str, clock: Clock) -> None:
    """The clock ran five years ahead, was called right, and was set back: entries have their own time again."""
    true = clock.now
    clock.now += timedelta(days=5 * 365)
    phone = answer(app, "right", clock)
    assert TOLD not in phone.get("/desk").text
    assert note(phone, code, "by the wrong clock").status_code == 303
    clock.now = true + timedelta(minutes=10)
    phone = shops.signed_in(shops.phone_of(app), "Ada Holm")
    assert note(phone, code).status_code == 503
    answer(app, "right", clock)
    assert note(phone, code, "by the right one").status_code == 303
    assert true < read_stamp(saved(db)[-1]) < true + timedelta(hours=1)
    assert note(phone, code, "and one more").status_code == 303
    assert saved(db)[-2] < saved(db)[-1] < stamp(true + timedelta(hours=1))
    # what the wrong clock saved is named
    page = shops.signed_in(shops.phone_of(app), "Di Novak").get("/clock").text
    assert "by the wrong clock" in page and "by the right one" not in page
    assert sound.check(db) == []


def test_a_clock_called_right_is_asked_about_again_when_it_moves_again(app: Any, code: str, clock: Clock) -> None:
    clock.now += LONGEST_REST * 2
    answer(app, "right", clock)
    phone = shops.signed_in(shops.phone_of(app), "Ada Holm")
    clock.now -= timedelta(days=1)
    assert TOLD in phone.get("/desk").text
    clock.now += timedelta(days=1) + LONGEST_REST * 2
    assert TOLD in shops.signed_in(phone, "Ada Holm").get("/desk").text


def test_what_is_logged_after_an_answer_is_what_the_clock_is_held_against(
    app: Any, db: Database, code: str, clock: Clock
) -> None:
    clock.now += LONGEST_REST * 2
    answer(app, "right", clock)
    for days in (50, 50, 0):  # a shop that goes on
        clock.now += timedelta(days=days)
        assert note(shops.signed_in(shops.phone_of(app), "Ada Holm"), code).status_code == 303
    assert saved(db) == sorted(set(saved(db)))
    clock.now -= timedelta(days=20)
    assert note(shops.signed_in(shops.phone_of(app), "Ada Holm"), code).status_code == 503


def test_a_clock_called_wrong_waits_and_says_so(app: Any, db: Database, code: str, clock: Clock) -> None:
    true = clock.now
    clock.now -= timedelta(days=30)
    di = answer(app, "wrong", clock)
    page = di.get("/clock").text
    assert "set it on the shop’s computer" in page and "Di Novak" in page
    assert note(di, code).status_code == 503
    row = db.execute("SELECT name, person, at FROM settings ORDER BY id DESC LIMIT 1").fetchone()
    assert row[0] == "clock" and row[2] >= stamp(true - timedelta(days=30))
    clock.now = true + timedelta(minutes=1)
    assert TOLD not in shops.signed_in(di, "Di Novak").get("/clock").text
    assert note(di, code).status_code == 303


def test_calling_it_wrong_leaves_what_was_called_right(app: Any, db: Database, code: str, clock: Clock) -> None:
    clock.now += LONGEST_REST * 3
    right = clock.now
    answer(app, "right", clock)
    clock.now += LONGEST_REST * 3
    answer(app, "wrong", clock)
    clock.now = right + timedelta(hours=1)
    assert TOLD not in shops.signed_in(shops.phone_of(app), "Di Novak").get("/desk").text


def test_a_machine_that_wakes_in_1970_cannot_be_right(app: Any, db: Database, clock: Clock) -> None:
    clock.now = WOKEN
    with pytest.raises(Refused, match="cannot be right"):
        shop_acts.say_of_clock(db, shop_acts.command_line(db, clock.now), "right", now=clock.now)
    page = shops.signed_in(shops.phone_of(app), "Di Novak").get("/clock").text
    assert 'value="wrong"' in page and 'value="right"' not in page
    # nor in a shop in which nothing was logged yet
    assert clock_rules.doubt(WOKEN, 0, None, {}) is not None
    assert clock_rules.doubt(NOW, 0, None, {}) is None


def test_only_the_manager_answers_and_only_what_the_page_showed(
    app: Any, db: Database, code: str, clock: Clock
) -> None:
    clock.now -= timedelta(days=30)
    ada = shops.signed_in(shops.phone_of(app), "Ada Holm")
    assert 'value="right"' not in ada.get("/clock").text
    assert ada.post("/clock", data={"clock": "right", "seen": stamp(clock.now)}).status_code == 403
    person = people.rows.find(db, "Ada Holm")
    assert person is not None
    with pytest.raises(NotAllowed):
        shop_acts.say_of_clock(db, shops.Actor(person.id, person.name, person.role), "right", now=clock.now)
    di = shops.signed_in(shops.phone_of(app), "Di Novak")
    sent = {"clock": "right", "secret": PASSWORD}
    for seen in ("", "soon", stamp(clock.now - timedelta(hours=2)), stamp(clock.now + timedelta(days=30))):
        assert di.post("/clock", data={**sent, "seen": seen}).status_code == 422
    assert di.post("/clock", data={**sent, "clock": "perhaps", "seen": stamp(clock.now)}).status_code == 422
    assert setting(db, "clock") == {}
    assert di.post("/clock", data={**sent, "seen": stamp(clock.now)}).status_code == 303
    clock.on(minutes=6)  # the password is asked again
    assert di.post("/clock", data={"clock": "right", "seen": stamp(clock.now)}).status_code == 422


def test_the_command_line_waits_too_and_answers(folder: Path, db: Database, code: str, clock: Clock) -> None:
    tickets = shops.commands(folder)
    assert tickets("clock").exit_code == 0
    clock.now -= timedelta(days=40)
    held = tickets("screen", "log", code, "note", "--note", "seen")
    assert held.exit_code == 2 and TOLD in held.stderr
    for words in (
        ("settings", "set", "shop", "Another"),
        ("person", "add", "Ed Frost", "--role", "press", "--secret-stdin"),
    ):
        assert (held := tickets(*words, stdin=PIN)).exit_code == 2 and TOLD in held.stderr, words
    assert setting(db, "shop") == "" and people.rows.find(db, "Ed Frost") is None
    for words in (("rebuild",), ("repair",), ("check",)):  # what keeps no time
        assert tickets(*words).exit_code == 0, words
    asked = tickets("clock")
    assert asked.exit_code == 1 and TOLD in asked.stderr and "tickets clock --is right" in asked.stderr
    assert tickets("clock", "--is", "right").exit_code == 0
    assert tickets("screen", "log", code, "note", "--note", "seen").exit_code == 0
    assert read_stamp(saved(db)[-1]) < read_stamp(saved(db)[-2])


def test_what_was_saved_before_is_answered_again(ada: FlaskClient, app: Any, code: str, clock: Clock) -> None:
    entry = fresh()
    assert note(ada, code, entry=entry).status_code == 303
    clock.now -= timedelta(hours=2)
    assert note(ada, code, entry=entry).status_code == 303


def test_a_phone_sends_what_it_kept_with_the_time_of_the_act(
    ada: FlaskClient, db: Database, code: str, clock: Clock
) -> None:
    """Typed while the clock was in 1970, sent an hour later, when it was set: the act was an hour ago."""
    true = clock.now
    clock.now = WOKEN
    phone = shops.signed_in(ada, "Ada Holm")
    assert note(phone, code).status_code == 503
    clock.now = true + timedelta(hours=2)
    assert note(shops.signed_in(ada, "Ada Holm"), code, late="3600").status_code == 303
    at = read_stamp(db.execute("SELECT at FROM entries ORDER BY id DESC LIMIT 1").fetchone()[0])
    assert abs(at - (true + timedelta(hours=1))) < timedelta(minutes=1)


# -- every other form


GO_ON = {
    "/sign-in", "/hand-over", "/sign-out", "/view", "/first-manager/<token>", "/clock", "/doing/leave", "/doing/repeat",
    "/doing/place", "/doing/done", "/jobs/<code>/pick", "/screen-room/pick", "/runs/<int:number>/here",
    "/desk/stocktake/<code>/seen", "/desk/stocktake/<code>/unseen", "/print/again/<code>",
    "/bring/<int:number>/columns", "/mine",
}  # fmt: skip
"""Who holds a phone and what it is doing, what puts the clock right, a paper that says what it said before, and what
the columns of a list are."""


MAIL = {"mail_to": "office@shop.test", "mail_hour": "6", "mail_server": "mail.shop.test", "mail_secured": "tls",
        "mail_port": "465", "mail_user": "", "mail_from": "office@shop.test"}  # fmt: skip


def by_hand(it: Tried) -> dict[str, tuple[str, dict[str, Any]]]:
    """What is sent to the addresses that `test_sent_again` does not walk: where to, and what."""
    code, rack, bucket = it.frame(), it.made("/places/new", name="Rack 9", kind="rack"), it.made("/buckets", **BUCKET)
    job, run = it.shop.job(shops.one_colour()), it.printing()
    limit = it.db.execute(
        "SELECT id FROM spec WHERE key = 'tension-floor' AND conditions LIKE '%colours%' LIMIT 1"
    ).fetchone()[0]
    it.did(f"/screens/{code}/degrease")
    degreased, person = it.newest(), people.rows.find(it.db, "Bo Lind")
    assert person is not None
    it.did(f"/print/job/{job.code}", anyway="yes")
    paper = str(it.db.execute("SELECT max(id) FROM printed").fetchone()[0])
    token = tokens.make(it.db, it.shop.manager, "wall", "Hall", False, post=fresh(), now=it.clock())[0]
    sheet = cells.pasted("name,kind\nShelf 7,rack\n")
    brought = lists.send(it.db, it.shop.manager, "places", "", sheet, now=it.clock())
    station = {"job": job.code, "placement": "1", "station": "1"}
    lines = {"row1.entry": fresh(), "row1.step": "note", "row1.value": "seen", "row1.at": "2026-03-10T10:00"}
    probe = {"run": str(run), "file": PROBE, "cure": "160 degC", "hold": "30 s", "length": "3 m", "speed": "1.5 m/min"}
    floor = {"value": "16.5", "value.unit": "N/cm", "source": "our own breaks"}
    return {
        "/people": ("/people", {"name": "Ed Frost", "role": "press", "new_secret": PIN}),
        "/people/<int:number>": (f"/people/{person.id}", {"role": "press lead"}),
        "/people/<int:number>/leave": (f"/people/{person.id}/leave", {}),
        "/settings/<name>": ("/settings/shop", {"shop": "Another name"}),
        "/settings/mail": ("/settings/mail", MAIL),
        "/spec": ("/spec", {**floor, "key": "tension-floor", "work": "colours", "frame": "roller"}),
        "/spec/<int:number>": (f"/spec/{limit}", floor),
        "/spec/<int:number>/withdraw": (f"/spec/{limit}/withdraw", {"source": "a test of ours", "sure": "yes"}),
        "/print/tags": ("/print/tags", {"codes": code, "anyway": "yes"}),
        "/print/job/<code>": (f"/print/job/{job.code}", {"anyway": "yes"}),
        "/print/<any(bucket, place):kind>/<code>": (f"/print/bucket/{bucket}", {"anyway": "yes"}),
        "/print/run/<int:number>": (f"/print/run/{run}", {"what": "set-up", "anyway": "yes"}),
        "/screens/<code>/from-paper": (f"/screens/{code}/from-paper", {"entry": fresh(), **lines}),
        "/runs/<int:number>/from-paper": (
            f"/runs/{run}/from-paper",
            {"entry": fresh(), **lines, "row1.entry": fresh()},
        ),
        "/jobs/<code>/weigh": (f"/jobs/{job.code}/weigh", {**WEIGHED, "entry": fresh()}),
        "/calculator/probe": ("/calculator/probe", {"entry": fresh(), **probe}),
        "/desk/stocktake/<code>/put-right": (f"/desk/stocktake/{rack}/put-right", {"entry": fresh()}),
        "/start": ("/start", FIRST),
        "/first-steps/racks": ("/first-steps/racks", {"name": "Shelf", "many": "2", "entry": fresh()}),
        "/walls": ("/walls", {"name": "Hall", "scope": "wall", "entry": fresh()}),
        "/walls/<int:number>/withdraw": (f"/walls/{token}/withdraw", {"entry": fresh()}),
        "/print/jobs": ("/print/jobs", {"codes": job.code, "anyway": "yes"}),
        "/bring": ("/bring", {"kind": "people", "list": "name,role\nEd Frost,press\n"}),
        "/bring/<int:number>/take": (f"/bring/{brought}/take", {}),
        "/bring/<int:number>/columns": (f"/bring/{brought}/columns", {}),
        "/desk/stocktake/<code>/unseen": (f"/desk/stocktake/{rack}/unseen", {"code": code}),
        "/hand-over": ("/hand-over", {"name": "Bo Lind"}),
        "/view": ("/view", {"view": "day"}),
        "/mine": ("/mine", {"language": "es"}),
        "/doing/leave": ("/doing/leave", {}),
        "/doing/repeat": ("/doing/repeat", {"of": degreased}),
        "/doing/place": ("/doing/place", {"place": "Rack 9"}),
        "/doing/done": ("/doing/done", {"next": "/"}),
        "/jobs/<code>/pick": (f"/jobs/{job.code}/pick", station),
        "/screen-room/pick": ("/screen-room/pick", station),
        "/runs/<int:number>/here": (f"/runs/{run}/here", {}),
        "/desk/stocktake/<code>/seen": (f"/desk/stocktake/{rack}/seen", {"code": code}),
        "/print/again/<code>": (f"/print/again/{job.code}", {"number": paper}),
        "/sign-out": ("/sign-out", {"forget": "yes"}),
    }


PIN = "834711"
FIRST: dict[str, Any] = {
    "shop": "Another name", "zone": "UTC", "language": "en", "units": "metric", "address": "http://shop.test",
    "logged": "all",
}  # fmt: skip
BUCKET: dict[str, Any] = {"kind": "water-base ink", "product": "white A"}
WEIGHED: dict[str, Any] = {
    "placement": "1", "station": "1", "ink": "plastisol", "weighed_g": ["0.4", "0.5", "0.4"], "density_g_cm3": "1.2",
    "density_g_cm3.unit": "g/cm3",
}  # fmt: skip


def test_no_form_keeps_a_time_of_a_doubtful_clock(app: Any, client: FlaskClient, db: Database, clock: Clock) -> None:
    """Every address that is posted to: held, with what was typed on the page; taken once the clock is right; or it goes
    on because it keeps no time of its own."""
    it = Tried(shops.signed_in(client, "Di Novak"), db, clock)
    noted = it.frame("H 1")
    posts = by_hand(it)
    there = {rule.rule for rule in app.url_map.iter_rules() if "POST" in (rule.methods or ())}
    assert there == {*posts, *GO_ON, *TRIED_TWICE, "/api/jobs", "/api/log"}  # the last two: test_programs
    phones = {"sign_ins", "devices", "tries", "wrong_tries"}

    def kept() -> dict[str, str]:
        tables = {name for name in db.table_names() if name not in phones}
        return {name: str(db.execute(f"SELECT * FROM {name}").fetchall()) for name in sorted(tables)}  # noqa: S608

    for rule, (path, sent) in posts.items():
        secret = SECRET if rule.startswith(("/people", "/start", "/walls", "/settings/mail")) else {}
        clock.on(minutes=1)
        it.did(f"/screens/{noted}/note", note="the newest entry")
        before = kept()
        clock.on(minutes=-20)
        answer = it.phone.post(path, data={**sent, **secret})
        clock.on(minutes=20)
        assert (answer.status_code == 503) is (rule not in GO_ON), (rule, re.findall("fault.{,300}", answer.text)[1:])
        chosen = {"people": before["people"]} if rule == "/mine" else {}  # what somebody reads in has no time
        assert {**kept(), **chosen} == before, rule
        if rule in GO_ON:
            assert answer.status_code == (403 if rule == "/hand-over" else 200 if "/print" in rule else 303), rule
            continue
        assert TOLD in answer.text and PIN not in answer.text and f'action="{path}"' in answer.text, rule
        assert all(f'name="{name}"' in answer.text for name in sent), rule
        done = it.phone.post(path, data={**sent, **secret})
        assert done.status_code in (200, 303) and kept() != before, (rule, done.status_code, shops.said(done.text))


def test_who_holds_a_phone_is_known_by_any_clock(app: Any, client: FlaskClient, code: str, clock: Clock) -> None:
    phone = shops.signed_in(shops.signed_in(client, "Bo Lind"), "Ada Holm")
    desk = shops.signed_in(shops.phone_of(app), "Di Novak")
    clock.on(minutes=-20)
    assert desk.post("/people", data={"name": "Ed Frost", "role": "press", "secret": "wrong"}).status_code == 422
    assert phone.post("/hand-over", data={"name": "Bo Lind"}).status_code == 303
    stranger = shops.phone_of(app)
    wrong = {"name": "Cy Marsh", "secret": "0000"}
    tries = [stranger.post("/sign-in", data=wrong).status_code for _try in range(6)]
    assert (tries[0], tries[-1]) == (422, 429)


def test_a_shop_without_a_manager_gets_one_to_say_it(folder: Path, db: Database, code: str, clock: Clock) -> None:
    db.execute("UPDATE people SET role = 'press' WHERE role = 'manager'")
    clock.on(minutes=-20)
    with shops.pages(folder, clock) as app:
        with posting.by_clock(db, shop_rules.clock_doubt(db, clock())):
            token = people.first_manager_token(db, clock())
        sent = {"name": "Ed Frost", "secret": PASSWORD}
        assert shops.phone_of(app).post(f"/first-manager/{token}", data=sent).status_code == 303


# -- what else goes by the clock


def test_a_sign_in_of_a_day_to_come_does_not_hold_for_years(app: Any, clock: Clock) -> None:
    true = clock.now
    clock.now += timedelta(days=700)
    phone = shops.signed_in(shops.phone_of(app), "Ada Holm")
    clock.now = true
    assert phone.get("/screen-room").status_code == 303
    phone = shops.signed_in(phone, "Ada Holm")
    clock.now -= timedelta(hours=3)  # set back a little: nobody is signed out
    assert phone.get("/screen-room").status_code == 200


def test_wrong_tries_of_a_day_to_come_shut_nobody_out(app: Any, clock: Clock) -> None:
    true = clock.now
    clock.now += timedelta(days=700)
    phone = shops.phone_of(app)
    for _unused in range(6):
        phone.post("/sign-in", data={"name": "Ada Holm", "secret": "0000"})
    assert phone.post("/sign-in", data={"name": "Ada Holm", "secret": "4711"}).status_code == 429
    clock.now = true
    shops.signed_in(phone, "Ada Holm")


def test_a_backup_of_a_day_to_come_is_not_the_last_good_one(db: Database, folder: Path, clock: Clock) -> None:
    nightly.make(db, clock())
    assert not nightly.due(db, clock()) and not nightly.standing(db, clock()).late
    clock.now -= timedelta(days=300)
    assert nightly.due(db, clock()) and nightly.standing(db, clock()).late


@drawn(st.lists(st.tuples(st.floats(-900, 900), st.sampled_from(["log", "right", "wrong"])), max_size=12))
def test_whatever_the_clock_does_no_later_entry_is_older_than_what_was_called_right(
    moves: list[tuple[float, str]],
) -> None:
    """A log kept by a clock that jumps by days: each entry lies within the slack of the one before it, or of the time
    that was called right since."""
    now, newest, kept, answer, called = NOW, 0, "", dict[str, Any](), ""
    for days, act in moves:
        now += timedelta(days=days)
        found = clock_rules.doubt(now, newest, kept or None, answer)
        if act == "log" and found is None:
            since = called or kept
            assert now >= clock_rules.EARLIEST and (not since or read_stamp(since) - SLACK <= now)
            newest, kept, called = newest + 1, stamp(now), ""
        elif found is not None and not (act == "right" and found.kind == "unset") and act != "log":
            answer = clock_rules.answered(answer, act, now, newest)
            called = stamp(now) if act == "right" else called
            assert (clock_rules.doubt(now, newest, kept or None, answer) is None) == (act == "right")
