"""The heads of a press: how many a print takes, in which order a garment comes to them, what is asked where they are
too few. Counted by hand: a press has one thing on a head."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from shop import NOW, Shop, fresh, two_colours
from sqlite_utils import Database
from test_run_counts import tickets
from test_web_runs import post, start_run, story, text_of
from test_web_runs import press as press  # fixtures

from tickets.actions import hanging
from tickets.actions import places as places_acts
from tickets.domain.jobs.heads import ANTICLOCKWISE, ANY_ORDER, Press, in_order, layout, of_stations, offer, takes
from tickets.domain.jobs.job import Station, read, to_toml
from tickets.domain.posted import form
from tickets.domain.refusal import Refused
from tickets.queries import heads as heads_now
from tickets.queries import run_plan
from tickets.store import entries, places

COLOURS = ("white", "yellow", "red", "green", "blue", "brown", "black")


def printed(colour: str, **more: Any) -> dict[str, Any]:
    return {"does": "print", "colour": colour, "ink": "plastisol", "mesh": {"count": "156/in"}, **more}


FLASH, COOL = {"does": "flash", "time": "6 s"}, {"does": "cool"}


def sheet(*stations: dict[str, Any], **more: Any) -> dict[str, Any]:
    data = two_colours(**more)
    data["placement"][0]["station"] = list(stations)
    return data


SEVEN = [printed(one) for one in COLOURS]


@pytest.mark.parametrize(
    "stations, heads, least",
    [
        (SEVEN, 7, 7),
        ([printed("white"), FLASH, printed("blue")], 3, 2),
        ([printed("white"), FLASH, COOL, printed("blue")], 4, 2),
        ([printed("white"), FLASH, printed("red"), FLASH, printed("blue")], 5, 3),
        # what prints in another revolution needs its own head; a flash of both is one, and an idle head cools
        ([printed("white"), FLASH, COOL, printed("red", revolution=2), FLASH | {"revolution": 2},
          printed("blue", revolution=2)], 4, 3),
    ],
)  # fmt: skip
def test_how_many_heads_a_print_takes(stations: list[dict[str, Any]], heads: int, least: int) -> None:
    job = read(sheet(*stations))
    found = takes(job, job.placements[0], Press(8))
    assert (found.heads, found.least) == (heads, least)
    by_hand = takes(job, job.placements[0], Press(8, ANY_ORDER))
    assert by_hand.heads == found.prints, "the flash of a hand press stands beside its heads"


def test_garments_that_leave_colours_out_take_fewer_one_after_the_other() -> None:
    garments = [{"style": "Tee", "colour": one, "pieces": 5, "fibre": {"cotton": 100}} for one in ("black", "sand")]
    ways = [{"garment": {"style": "Tee", "colour": "sand"}, "inks": {"white": False, "yellow": False}}]
    job = read(sheet(*SEVEN, garment=garments, colourway=ways))
    assert takes(job, job.placements[0], Press(6)).least == 7, "black takes all seven"
    ways.append({"garment": {"style": "Tee", "colour": "black"}, "inks": {"black": False}})
    job = read(sheet(*SEVEN, garment=garments, colourway=ways))
    found = takes(job, job.placements[0], Press(6))
    assert (found.heads, found.least) == (7, 6)


@pytest.mark.parametrize(
    "turns, first, third, changed",
    [("clockwise", 1, 3, False), ("clockwise", 3, 1, True), (ANTICLOCKWISE, 3, 1, False), (ANTICLOCKWISE, 1, 3, True),
     (ANY_ORDER, 3, 1, False), (ANY_ORDER, 1, 2, False)],
)  # fmt: skip
def test_the_order_follows_the_way_the_press_turns(turns: str, first: int, third: int, changed: bool) -> None:
    found = in_order(3, third, {1: first}, {1: 1, 2: 1, 3: 1}, {2}, Press(6, turns))
    assert bool(found) is changed
    assert not in_order(3, third, {1: first}, {1: 1, 3: 2}, (), Press(6, turns)), "another revolution"


@pytest.mark.parametrize("third, room", [(2, False), (3, True), (6, True)])
def test_a_flash_needs_a_head_between(third: int, room: bool) -> None:
    found = in_order(3, third, {1: 1}, {1: 1, 2: 1, 3: 1}, {2}, Press(6))
    assert [one.key for one in found] == ([] if room else ["no-head-between"])
    assert in_order(3, 2, {1: 1}, {1: 1, 3: 1}, (), Press(6)) == [], "nothing is flashed between"


def stations(*some: dict[str, Any]) -> tuple[Station, ...]:
    return read(sheet(*some)).placements[0].stations


def test_the_layout_of_a_press() -> None:
    plain = stations(printed("white"), FLASH, COOL, printed("red"), printed("blue"))
    prints = {1, 4, 5}
    assert layout(plain, prints, Press(8)) == {1: 1, 2: 2, 3: 3, 4: 4, 5: 5}
    assert layout(plain, prints, Press(8, ANTICLOCKWISE)) == {1: 8, 2: 7, 3: 6, 4: 5, 5: 4}
    assert layout(plain, prints, Press(4)) == {1: 1, 2: 2, 4: 3, 5: 4}, "no empty head to cool on"
    assert layout(plain, prints, Press(3)) == {1: 1, 4: 2, 5: 3}
    assert layout(plain, prints, Press(8, ANY_ORDER)) == {1: 1, 4: 2, 5: 3}
    twice = stations(printed("white"), FLASH, printed("red", revolution=2), FLASH | {"revolution": 2},
                     printed("blue", revolution=2))  # fmt: skip
    assert layout(twice, {1, 3, 5}, Press(4)) == {1: 1, 3: 2, 2: 3, 4: 3, 5: 4}, "one flash in both revolutions"
    assert in_order(3, 2, {1: 1, 5: 4}, *of_stations(twice, {1, 3, 5}), Press(4)) == []


def test_the_head_that_is_offered_keeps_the_order_while_it_can() -> None:
    plain = stations(printed("white"), FLASH, printed("red"), printed("blue", head=6))
    white, _flash, red, blue = plain
    prints = {1, 3, 4}

    def offered(one: Station, others: dict[int, int | None], free: set[int], turns: str = "clockwise") -> int | None:
        return offer(one, others, free, plain, prints, Press(6, turns))

    every = set(range(1, 7))
    assert [offered(one, {}, every) for one in (white, red, blue)] == [1, 3, 6]
    assert [offered(one, {}, every, ANTICLOCKWISE) for one in (white, red)] == [6, 4]
    assert offered(red, {1: 3}, every - {3}) == 5, "a head is left for the flash"
    assert offered(red, {4: 3}, every - {3}) == 1, "before the one that prints later"
    assert offered(red, {1: 5, 4: 6}, every - {5, 6}) is not None, "no order holds: any free one"
    assert offered(red, {1: 5}, set()) is None


# Opening a run ------------------------------------------------------------------------------------------------------


def small(shop: Shop, heads: int = 6, turns: str = "", name: str = "Press 3") -> str:
    return places_acts.add(shop.db, shop.manager, name, "press", post=fresh(), now=NOW, heads=heads, turns=turns)


def seven(shop: Shop) -> Any:
    return shop.job(placement=sheet(*SEVEN)["placement"])


def opened(phone: FlaskClient, job: Any, place: str, **more: str) -> Any:
    return phone.post("/runs", data={"entry": fresh(), "job": job.code, "placement": "1", "press": place, **more})


def test_seven_screens_do_not_go_on_six_heads(shop: Shop, press: FlaskClient, db: Database) -> None:
    place, job = small(shop), seven(shop)
    page = text_of(press.get(f"/jobs/{job.code}").text)
    assert "takes 7 heads (7 screens)" in page and "Press 3, 6 heads, ! too few" in page
    assert "Press 1, 8 heads Press 2, 8 heads" in page
    answer = opened(press, job, place)
    said = text_of(answer.text)
    assert answer.status_code == 409 and "takes 7 heads (7 screens). On Press 3: 6 heads, 6 free." in said
    assert "Enough heads are free on: Press 1 (8), Press 2 (8)." in said and "More revolutions would not help" in said
    assert "Open it here anyway" not in said and f'name="press" value="{shop.first_press}"' in answer.text
    assert opened(press, job, place, heads_short="yes").status_code == 409, "no answer makes a seventh head"
    refused = tickets(db, "run", "open", "--job", job.code, "--press", "Press 3", "--heads-short", "yes")
    assert refused.exit_code == 2 and "takes 7 heads" in refused.stderr and "--heads_short" not in refused.stderr
    assert opened(press, job, shop.first_press).status_code == 303


def test_nothing_is_advised_that_would_not_make_room(shop: Shop, press: FlaskClient, db: Database) -> None:
    """Seven screens with a flash and a head to cool on, for six heads: moving these two would not do."""
    job = shop.job(placement=sheet(SEVEN[0], FLASH, COOL, *SEVEN[1:])["placement"])
    said = text_of(opened(press, job, small(shop)).text)
    assert "takes 9 heads (7 screens, flash: 1, cooling: 1). On Press 3: 6 heads, 6 free." in said
    assert "over a platen" not in said and "Cooling can be" not in said and "More revolutions would not help" in said
    said = text_of(opened(press, job, small(shop, 7, name="Press 7")).text)
    assert "over a platen" in said and "Cooling can be" in said, "its seven screens have room there"


def test_what_can_be_moved_is_asked_and_the_answer_kept(shop: Shop, press: FlaskClient, db: Database) -> None:
    job, place = shop.job(), small(shop, 2)  # two screens and a flash
    answer = opened(press, job, place)
    said = text_of(answer.text)
    assert answer.status_code == 409 and "takes 3 heads (2 screens, flash: 1). On Press 3: 2 heads, 2 free." in said
    assert "A flash over a platen beside the heads takes none" in said and "Open it here anyway" in said
    refused = tickets(db, "run", "open", "--job", job.code, "--press", "Press 3")
    assert refused.exit_code == 2 and "--heads_short yes" in refused.stderr
    (name, value) = re.search(r'<button name="(\w+)" value="(yes)"', answer.text).groups()  # type: ignore[union-attr]
    again = opened(press, job, place, **{name: value})
    assert again.status_code == 303, again.text
    run = int(again.headers["Location"].rsplit("/", 1)[1])
    assert "2 heads of 3 that it takes were free" in text_of(press.get(f"/runs/{run}").text)
    (line,) = [one for one in entries.of(db, "run", run) if one.step == "open"]
    assert (line.values["heads_short"], line.values["heads_free"], line.values["heads_taken"]) == ("yes", 2, 3)
    by_hand = small(shop, 2, ANY_ORDER, "Hand press")
    assert opened(press, job, by_hand).status_code == 303, "its flash stands beside the heads"


def test_heads_of_another_run_are_not_free(shop: Shop, press: FlaskClient, db: Database) -> None:
    place, first, second = small(shop, 5), shop.job(), shop.job(title="Second tees", revision="5")
    run = start_run(press, shop, first, place)
    assert opened(press, second, place).status_code == 303, "nothing hangs yet"
    third = shop.job(title="Third tees", revision="6")
    for station in (1, 3):
        assert post(press, run, "hang", screen=shop.screen(first, station)).status_code == 303
    answer = opened(press, third, place)
    said = text_of(answer.text)
    assert answer.status_code == 409 and "On Press 3: 5 heads, 2 free." in said, "two screens and the flash"
    assert f"Heads of other runs (run {run}: 1, 3) come free" in said
    assert post(press, run, "pause").status_code == 303
    assert opened(press, third, place).status_code == 303


def test_every_hung_screen_has_a_head(shop: Shop, press: FlaskClient, db: Database) -> None:
    place, job = small(shop, 2, ANY_ORDER), shop.job()
    run = start_run(press, shop, job, place)
    other = start_run(press, shop, shop.job(title="Second tees", revision="5"), place)
    white, blue = shop.screen(job, 1), shop.screen(job, 3)
    assert post(press, run, "hang", screen=white).status_code == 303
    hung = tickets(db, "run", "log", str(run), "hang", "--screen", blue)
    assert hung.exit_code == 0, hung.stderr
    assert {number: one.head for number, one in story(db, run).hung.items()} == {1: 1, 3: 2}
    second = run_plan.plan(db, other).job
    code = shop.screen(second, 1)
    page = press.get(f"/runs/{other}?screen={code}").text
    assert "No head of Press 3 is free for it." in text_of(page) and 'class="primary hang"' not in page
    assert f"Heads of other runs (run {run}: 1, 2) come free" in text_of(page)
    refused = post(press, other, "hang", screen=code)
    assert refused.status_code == 422 and "No head of Press 3 is free for it." in text_of(refused.text)
    assert f"(run {run}: 1, 2)" in text_of(refused.text)
    with pytest.raises(Refused, match="No head of Press 3 is free"):
        hanging.hang(db, shop.manager, other, form({"screen": code}), post=fresh(), now=NOW)
    assert story(db, other).hung == {}


def test_the_press_says_which_kind_it_is(shop: Shop, press: FlaskClient, db: Database, tmp_path: Path) -> None:
    made = tickets(db, "place", "add", "Old carousel", "--kind", "press", "--heads", "6", "--turns", "anticlockwise",
                   "--json")  # fmt: skip
    assert made.exit_code == 0 and '"turns": "anticlockwise"' in made.output
    wrong = tickets(db, "place", "add", "Newer one", "--kind", "press", "--turns", "left")
    assert wrong.exit_code == 2 and "clockwise, anticlockwise, any order" in wrong.stderr
    place = places.find(db, "Old carousel")
    assert place is not None
    job = shop.job()
    run, white, blue = start_run(press, shop, job, place.code), shop.screen(job, 1), shop.screen(job, 3)
    for code in (white, blue):
        assert post(press, run, "hang", screen=code).status_code == 303
    assert {number: one.head for number, one in story(db, run).hung.items()} == {1: 6, 3: 4}
    assert all("print-order-changed" not in one.reasons for one in story(db, run).hung.values())
    places_acts.change(db, shop.manager, place, place.name, turns=ANY_ORDER, post=fresh(), now=NOW)
    page = text_of(press.get(f"/places/{place.code}").text)
    assert "by hand, heads in any order" in page
    out = tmp_path / "out"
    assert tickets(db, "export", "--out", str(out)).exit_code == 0
    assert "any order" in (out / "places.csv").read_text("utf-8")


def test_a_wish_beyond_any_press_is_remarked_on_when_the_file_is_checked(
    shop: Shop, press: FlaskClient, db: Database, tmp_path: Path
) -> None:
    data = two_colours()
    data["placement"][0]["station"][0]["head"] = 14
    file = tmp_path / "job.toml"
    file.write_text(to_toml(read(data)), "utf-8")
    found = tickets(db, "job", "check", str(file))
    assert found.exit_code == 0 and "wishes for head 14; no press here has more than 8" in found.output
    small(shop, 14, name="Long press")
    assert "head 14" not in tickets(db, "job", "check", str(file)).output


def test_what_a_press_has_free(shop: Shop) -> None:
    place = places.find(shop.db, "Press 1")
    assert place is not None
    (room,) = heads_now.rooms(shop.db, shop.job(), 1, [place])
    assert (room.free, room.enough, room.never) == (8, True, False)
