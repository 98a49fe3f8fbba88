"""Addresses that only read: a wall and a calendar, each by a token that opens nothing else."""

from __future__ import annotations

import re
from datetime import date, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import icalendar
import pytest
import shop as shops
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from shop import NOW, PEOPLE, Clock, Shop, fresh, said, two_colours

from tickets.actions import jobs as job_acts
from tickets.actions import shop as shop_acts
from tickets.actions import tokens as acts
from tickets.domain.code import shown
from tickets.domain.jobs import calendar
from tickets.domain.jobs.calendar import DueDay
from tickets.domain.refusal import NotAllowed, Refused
from tickets.store import changes, tokens
from web import hosts


def token_of(shop: Shop, scope: str = "wall", customers: bool = False) -> str:
    return acts.make(shop.db, shop.manager, scope, f"The {scope}", customers, post=fresh(), now=shop.now)[1]


# -- the token


def test_a_token_opens_its_page_and_nothing_else(shop: Shop, client: FlaskClient) -> None:
    wall, calendar = token_of(shop), token_of(shop, "calendar")
    assert client.get(f"/wall?token={wall}").status_code == 200
    assert client.get(f"/wall?token={wall.upper()}").status_code == 200  # typed with the remote of a television
    assert client.get(f"/calendar.ics?token={calendar}").status_code == 200
    for path in (f"/wall?token={calendar}", f"/calendar.ics?token={wall}", "/wall", "/wall?token=", "/calendar.ics"):
        answer = client.get(path)
        assert answer.status_code == 404 and "Nothing is at this address" in answer.text, path
    rules = {str(rule) for rule in client.application.url_map.iter_rules() if "GET" in (rule.methods or ())}
    plain = {rule for rule in rules if "<" not in rule} - {"/ping", "/words", "/sign-in", "/favicon.ico", "/look"}
    for path in plain - {"/wall", "/calendar.ics", "/api/", "/api/openapi.json"}:
        answer = client.get(f"{path}?token={wall}")
        assert answer.status_code == 303 and answer.location.startswith("/sign-in"), path
    answer = client.post(f"/walls?token={wall}", data={"name": "More", "scope": "wall"})
    assert answer.status_code in (303, 401) and len(tokens.every(shop.db)) == 2
    assert not client.get_cookie("shop")


def test_of_a_token_only_its_digest_is_kept_and_who_made_and_withdrew_it(shop: Shop, folder: Path) -> None:
    wall = token_of(shop)
    shop.db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    assert not any(wall.encode() in file.read_bytes() for file in folder.rglob("*") if file.is_file())
    (number,) = [one.id for one in tokens.every(shop.db)]
    for _again in range(2):
        acts.withdraw(shop.db, shop.manager, number, post=fresh(), now=shop.now)
    assert acts.opens(shop.db, wall, "wall") is None
    assert [(one.what, one.person) for one in changes.of(shop.db, "token")] == [
        ("withdrawn", "Di Novak"), ("added", "Di Novak"),
    ]  # fmt: skip
    for act in (
        lambda: acts.make(shop.db, shop.lead, "wall", "Mine", False, post=fresh(), now=NOW),
        lambda: acts.withdraw(shop.db, shop.lead, number, post=fresh(), now=NOW),
    ):
        with pytest.raises(NotAllowed):
            act()
    with pytest.raises(Refused, match="One of: wall, calendar, interface"):
        acts.make(shop.db, shop.manager, "all", "Mine", False, post=fresh(), now=NOW)


def test_the_address_is_shown_once_and_withdrawn_on_the_page(shop: Shop, client: FlaskClient) -> None:
    phone = shops.signed_in(client, "Di Novak")
    sent = {"name": "Drying room", "scope": "wall", "entry": f"{shop.manager.id}-{'a' * 20}"}
    sent["secret"] = PEOPLE["Di Novak"][1]
    page = phone.post("/walls", data=sent).text
    found = set(re.findall(r"/wall\?token=([a-z0-9]+)&amp;light=(\w+)", page))
    assert {light for _token, light in found} == {"day", "dim", "safelight"}
    assert len({token for token, _light in found}) == 1
    again = phone.post("/walls", data=sent).text
    assert "/wall?token=" not in again and "was made already" in said(again)
    token = next(iter(found))[0]
    screen = shops.phone_of(phone.application)
    assert screen.get(f"/wall?token={token}").status_code == 200
    assert "Drying room" in said(phone.get("/walls").text) and "token=" not in phone.get("/walls").text
    (number,) = [one.id for one in tokens.every(shop.db)]
    assert phone.post(f"/walls/{number}/withdraw", data={"entry": fresh()}).status_code == 303
    assert screen.get(f"/wall?token={token}").status_code == 404
    blank = phone.post("/walls", data={"entry": fresh(), "name": "", "scope": "wall"})
    assert blank.status_code == 422 and "Not saved" in blank.text
    assert phone.post("/walls/99/withdraw", data={"entry": fresh()}).status_code == 404


def test_a_wall_answers_by_the_names_of_the_server_alone(shop: Shop, app: Flask, client: FlaskClient) -> None:
    wall = token_of(shop)
    app.config["HOSTS"] = hosts.Hosts(["shop.test"])
    assert client.get(f"/wall?token={wall}", headers={"Host": "elsewhere.test"}).status_code == 421
    assert client.get(f"/wall?token={wall}", headers={"Host": "shop.test"}).status_code == 200


# -- the wall


def wall_page(shop: Shop, phone: FlaskClient, customers: bool = False) -> str:
    return said(phone.get(f"/wall?token={token_of(shop, customers=customers)}").text)


def test_the_wall_says_what_the_presses_wait_for_and_what_became_ready(
    shop: Shop, client: FlaskClient, clock: Clock
) -> None:
    job = shop.job(two_colours(due=(NOW + timedelta(days=1)).date().isoformat()))
    job_acts.plan(shop.db, shop.lead, job, "Press 2", "", post=fresh(), now=shop.now)
    shop.screen(job, 1, until="washout", mark="A 7")
    text = wall_page(shop, client)
    assert "Check 1 screen on the light table" in text
    waits = "Kite club tees Press 2 · Wed · 0 of 2 screens blue: no screen, white: check on the light table"
    assert waits in text
    assert "Ready in the last 8 hours none" in text and "Meadow Kite Club" not in text
    assert "Press 2 · Meadow Kite Club · Wed" in wall_page(shop, client, customers=True)
    shop.log(next(iter(shop.db.execute("SELECT code FROM screens").fetchone())), "check", result="good")
    assert "Ready in the last 8 hours A 7 white 10:00" in wall_page(shop, client)
    clock.on(hours=9)
    assert "Ready in the last 8 hours none" in wall_page(shop, client)


def test_reading_a_wall_writes_nothing(shop: Shop, client: FlaskClient) -> None:
    wall, calendar = token_of(shop), token_of(shop, "calendar")
    version = shop.db.execute("PRAGMA data_version").fetchone()
    for path in (f"/wall?token={wall}", f"/calendar.ics?token={calendar}", "/wall?token=none"):
        client.get(path)
    assert shop.db.execute("PRAGMA data_version").fetchone() == version


def test_a_wall_in_a_browser_is_large_and_says_when_what_it_shows_is_old(shop: Shop, server: str, browser: Any) -> None:
    job = shop.job(two_colours(due=NOW.date().isoformat()))
    shop.screen(job, 1, until="coat")
    address = f"{server}/wall?token={token_of(shop)}"
    page = browser.new_context(viewport={"width": 1920, "height": 1080}).new_page()
    page.clock.install()
    page.goto(f"{address}&light=safelight")
    assert page.evaluate("parseFloat(getComputedStyle(document.querySelector('.now li b')).fontSize)") >= 53
    picture = Image.open(BytesIO(page.screenshot())).convert("RGB")
    assert max(picture.getchannel("B").getextrema()) == 0 and picture.getchannel("R").getextrema()[1] > 200
    nodes = "document.querySelectorAll('*').length"
    before = page.evaluate(nodes)
    assert page.locator(".old").is_hidden()
    shop.log(shop.db.execute("SELECT code FROM screens").fetchone()[0], "degrease", in_hand="yes")
    with page.expect_response("**/wall?*"):
        page.clock.fast_forward(31_000)
    page.wait_for_function("!document.querySelector('.now').textContent.includes('Image 1 coated')")
    for _time in range(3):
        with page.expect_response("**/wall?*"):
            page.clock.fast_forward(31_000)
        page.wait_for_timeout(30)
    assert page.evaluate(nodes) <= before + 4  # it does not grow
    page.route("**/wall?*", lambda route: route.abort())
    for _time in range(4):
        page.clock.fast_forward(31_000)
        page.wait_for_timeout(30)
    assert page.locator(".old").is_visible()
    told = page.locator(".old").inner_text()
    assert re.fullmatch(r"OLD: the shop’s computer has not answered since 10:00, [12] min ago\.", told)
    assert page.locator(".now").is_visible()  # what was known stays
    page.unroute("**/wall?*")
    with page.expect_response("**/wall?*"):
        page.clock.fast_forward(31_000)
    page.locator(".old").wait_for(state="hidden")
    page.context.close()


def test_a_dim_wall_has_light_letters_on_black(shop: Shop, client: FlaskClient) -> None:
    wall = token_of(shop)
    for light, wanted in (("dim", "wall dim"), ("safelight", "wall safelight"), ("day", "wall"), ("pink", "wall")):
        assert f'<body class="{wanted}"' in client.get(f"/wall?token={wall}&light={light}").text
    assert 'http-equiv="refresh" content="30"' in client.get(f"/wall?token={wall}").text


# -- the calendar


ODD = "Kites, 2; \\ „Żółw“ " + "ł" * 70 + " the end"


def test_a_calendar_reads_the_press_dates_by_an_independent_reader(shop: Shop, client: FlaskClient) -> None:
    shop_acts.set_up(shop.db, shop.manager, "address", "http://192.168.1.20:8600", now=shop.now)
    job = shop.job(two_colours(ODD, due="2026-03-13"))
    gone = shop.job(two_colours("Gone", due="2026-03-12"))
    job_acts.close(shop.db, shop.manager, gone, True, post=fresh(), now=shop.now)
    shop.now += timedelta(hours=1)
    job_acts.plan(shop.db, shop.lead, job, "Press 2", "2026-03-12", post=fresh(), now=shop.now)
    answer = client.get(f"/calendar.ics?token={token_of(shop, 'calendar')}")
    assert answer.mimetype == "text/calendar" and answer.headers["Content-Type"].endswith("charset=utf-8")
    lines = answer.data.split(b"\r\n")
    assert lines[-1] == b"" and not any(b"\n" in line or b"\r" in line for line in lines)
    assert max(map(len, lines)) in (74, 75) and all(line.decode() for line in lines[:-1])  # none ends within a letter
    assert b"SUMMARY:Kites\\, 2\\; \\\\ " in answer.data  # readers forgive a bare comma, the standard does not
    (event,) = icalendar.Calendar.from_ical(answer.data).walk("VEVENT")
    assert event["SUMMARY"] == f"{ODD} (60 pieces)"
    assert event.decoded("DTSTART") == date(2026, 3, 13) and event.decoded("DTEND") == date(2026, 3, 14)
    assert event.decoded("DTSTAMP") == shop.now.replace(microsecond=0) and event.decoded("SEQUENCE") == 1
    assert event["DESCRIPTION"] == f"Job {shown(job.code)}\nPlanned: Press 2, Thu 12 Mar"
    assert event["URL"] == f"http://192.168.1.20:8600/t/{job.code}" and event["UID"].startswith(f"{job.code}-2026")
    named = client.get(f"/calendar.ics?token={token_of(shop, 'calendar', customers=True)}")
    (event,) = icalendar.Calendar.from_ical(named.data).walk("VEVENT")
    assert event["DESCRIPTION"].startswith("Meadow Kite Club\n")


@given(st.text(st.characters(codec="utf-8", exclude_categories=["Cc"]), min_size=1, max_size=200))
def test_any_text_comes_back_from_a_calendar(text: str) -> None:
    lines = f"{text}\n{text}"
    file = calendar.written(text, [DueDay("one", date(2026, 3, 9), text, lines, "", NOW, 0)])
    assert all(len(line.encode()) <= 75 for line in file.split("\r\n"))
    (event,) = icalendar.Calendar.from_ical(file).walk("VEVENT")
    assert (event["SUMMARY"], event["DESCRIPTION"]) == (text, lines)
