"""A stock-take as the desk wants it: one count of all who scan, what is wrong seen at once, nothing ticked unseen."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest
import shop as shops
from flask import Flask
from flask.testing import FlaskClient
from shop import Shop, fresh, said

from tickets.actions import stocktake
from tickets.queries import desk, desk_now, find
from tickets.queries.said import Reader
from tickets.store import screens as stored


@pytest.fixture
def racks(shop: Shop) -> list[str]:
    """Four frames: two on rack 1, one on rack 2, one hung on a press."""
    for rack in ("Rack 1", "Rack 2"):
        shop.place(rack)
    codes = [shop.frame(days_ago=5, mark=f"S {number}") for number in range(1, 4)]
    for code, rack in zip(codes, ("Rack 1", "Rack 1", "Rack 2"), strict=True):
        shop.past(code, "rack", 48, place=rack)
    job = shop.job()
    hung = shop.screen(job, 1)
    shop.set_up(job, {1: hung}, "Press 1")
    return [*codes, hung]


def path_of(shop: Shop) -> str:
    return f"/desk/stocktake/{find.place(shop.db, 'Rack 1').code}"


def test_a_screen_scanned_by_mistake_comes_off_the_shared_list(
    shop: Shop, racks: list[str], app: Flask, client: FlaskClient
) -> None:
    path = path_of(shop)
    ada, bo = shops.signed_in(client, "Ada Holm"), shops.signed_in(shops.phone_of(app), "Bo Lind")
    ada.post(f"{path}/seen", data={"code": "S 1\nS 3"})
    bo.post(f"{path}/seen", data={"code": "S 2"})
    for phone in (ada, bo):
        assert "2 of 2 seen" in said(phone.get(path).text) and "put here" in said(phone.get(path).text)
    assert bo.post(f"{path}/unseen", data={"code": racks[2]}).status_code == 303  # which Ada scanned
    for phone in (ada, bo):
        assert "2 of 2 seen" in said(phone.get(path).text) and "put here" not in said(phone.get(path).text)
    assert ada.post(f"{path}/unseen", data={"code": racks[0]}).status_code == 303
    assert "1 of 2 seen" in said(bo.get(path).text) and "Stock-take of Rack 1: 1 seen" in said_in_band(ada, path)
    assert ada.post(f"{path}/unseen", data={"code": "nothing"}).status_code == 422
    done = ada.post(f"{path}/put-right", data={"entry": fresh(), "still": "yes", "gone": racks[0]})
    assert "1 screen is missing" in said(done.text)
    assert (shop.life(racks[2]).place, shop.life(racks[0]).place) == (find.place(shop.db, "Rack 2").id, None)


def said_in_band(phone: FlaskClient, path: str) -> str:
    return re.sub("<[^>]+>", " ", phone.get(path).text)


def test_what_is_in_the_wrong_place_or_cannot_be_stands_out_as_it_is_scanned(
    shop: Shop, racks: list[str], client: FlaskClient
) -> None:
    path, ada = path_of(shop), shops.signed_in(client, "Ada Holm")
    ada.post(f"{path}/seen")
    for code, face, told in (
        (racks[0], "", "The log says it is on Rack 1."),
        (racks[2], "verdict caution", "Wrong place in the log: Rack 2"),
        (racks[3], "verdict stop", "That cannot be in the log: on press"),
    ):
        for page in (
            ada.get(f"/t/{code}").text,  # before it is on the list, by the camera
            ada.post(f"{path}/seen", data={"code": code, "typed": "1"}, follow_redirects=True).text,  # by the box
        ):
            shown = page.split("<main")[1]
            assert told in said(page), said(page)
            assert (f'class="{face}"' in shown) if face else 'class="verdict' not in shown
        assert "Scanned by mistake: off the list" in ada.get(f"/t/{code}").text


def test_at_nothing_seen_nothing_is_ticked_and_nothing_lost(shop: Shop, racks: list[str], client: FlaskClient) -> None:
    path, ada = path_of(shop), shops.signed_in(client, "Ada Holm")
    ada.post(f"{path}/seen")
    assert re.findall(r'name="gone" value="(\w+)"( checked)?>', ada.get(path).text) == [(racks[0], ""), (racks[1], "")]
    assert ada.post(f"{path}/put-right", data={"entry": fresh()}).status_code == 200
    assert [shop.life(code).place for code in racks[:2]] == [find.place(shop.db, "Rack 1").id] * 2
    ada.post(f"{path}/seen", data={"code": "S 1"})
    assert re.findall(r'name="gone" value="(\w+)"( checked)?>', ada.get(path).text) == [(racks[1], " checked")]


def test_missing_ones_are_counted_the_same_everywhere(
    shop: Shop, racks: list[str], client: FlaskClient, folder: Path
) -> None:
    rack = find.place(shop.db, "Rack 1")
    stocktake.put_right(shop.db, shop.maker, rack, [], [], post=fresh(), now=shop.now)
    boss = shops.signed_in(client, "Di Novak")
    rows = list(
        csv.DictReader(io.StringIO(boss.get("/desk/files/screens.csv").get_data(as_text=True).lstrip("\ufeff")))
    )
    gone = {row["screen"] for row in rows if row["missing"] == "yes"}
    assert gone == set(racks[:2]) and {row["missing"] for row in rows} == {"no", "yes"}
    listed = json.loads(shops.commands(folder)("screen", "list", "--json").output)
    assert {one["code"] for one in listed if one["missing"]} == gone
    due = json.loads(shops.commands(folder)("screen", "list", "--due", "missing", "--json").output)
    assert {one["code"] for one in due} == gone
    page = boss.get("/screens").text
    assert page.count("missing since a stock-take") >= 2 and len(stored.missing(shop.db)) == 2
    found = desk_now.of(Reader.of(shop.db, shop.now), 7).desk
    assert [one.number for one in found.due if one.what == "missing"] == [2]
    assert sum(one.missing for one in desk.pool_of(shop.db, shop.now, 30).stays) == 2
    assert "<b>2</b> <span>missing since the stock-take of the day shown" in boss.get("/desk").text


def test_a_count_is_thrown_away_only_by_who_says_so(shop: Shop, racks: list[str], client: FlaskClient) -> None:
    """To leave it, to begin something else, to count elsewhere, to open a run, to sign out: each is asked once."""
    path, elsewhere = path_of(shop), find.place(shop.db, "Rack 2").code
    ada = shops.signed_in(client, "Di Novak")
    ada.post(f"{path}/seen", data={"code": "S 1\nS 2"})
    job = shop.job(shops.two_colours("Kite club shorts"))
    ways = [
        ("/doing/leave", {}), ("/doing/place", {"place": elsewhere}), (f"/desk/stocktake/{elsewhere}/seen", {}),
        ("/runs", {"entry": fresh(), "job": job.code, "placement": "1", "press": find.place(shop.db, "Press 1").code}),
        ("/sign-out", {}),
    ]  # fmt: skip
    for address, sent in ways:
        asked = ada.post(address, data=sent)
        assert asked.status_code == 409 and "This phone saw 2 screens on Rack 1." in said(asked.text), address
        assert f'action="{address}"' in asked.text and all(f'name="{name}"' in asked.text for name in sent), address
        assert "2 of 2 seen" in said(ada.get(path).text), "to be asked loses nothing"
    assert ada.post(f"{path}/seen", data={"code": "S 3"}).status_code == 303, "more of the same count"
    assert ada.post("/doing/place", data={"place": elsewhere, "forget": "yes"}).status_code == 303
    assert "Begin: scan every screen here" in ada.get(path).text
    ada.post(f"{path}/seen", data={"code": ""})  # begun, and nothing seen: nothing to lose
    assert ada.post("/doing/leave").status_code == 303
    ada.post(f"{path}/seen", data={"code": "S 1\nS 2"})
    assert ada.post(f"{path}/put-right", data={"entry": fresh()}).status_code == 200, "finished, it is in the log"
    assert ada.post("/doing/leave").status_code == 303
