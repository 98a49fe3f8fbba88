"""The set-up sheet noted head by head, where one stands; test prints; how many taps the sheet of a full press takes."""

from __future__ import annotations

import gzip
import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from flask.testing import FlaskClient
from shop import Shop, answered, clock, fresh, said, signed_in, two_colours
from sqlite_utils import Database
from test_command_parity import data, tickets
from test_web_runs import (
    dark,
    discharge_job,
    hang_both,
    post,
    press,
    start_run,
    story,
    text_of,
)

from tickets.actions import hanging, places, runs
from tickets.actions import jobs as jobs_acts
from tickets.domain.jobs.job import read
from tickets.domain.posted import form
from tickets.domain.runs import setup
from tickets.queries import find, repeats, run_plan, sheets, sound
from tickets.queries.phase import phase_of
from tickets.store import entries

__all__ = ["press"]

MOST_TAPS = 60


def hung_first(press: FlaskClient, shop: Shop, **more: str) -> tuple[int, str, str]:
    """A run with its white hung on head 1, its blue not yet; the code of both."""
    job = shop.job(**more)
    white, blue = shop.screen(job, 1), shop.screen(job, 3)
    run = start_run(press, shop, job)
    assert post(press, run, "hang", screen=white, head="1", station="1").status_code == 303
    return run, white, blue


def hang_blue(press: FlaskClient, run: int, blue: str) -> None:
    assert post(press, run, "hang", screen=blue, head="3", station="3", seen="ok").status_code == 303


def test_a_head_is_noted_from_its_first_screen_on(shop: Shop, press: FlaskClient, db: Database) -> None:
    run, _white, blue = hung_first(press, shop)
    page = press.get(f"/runs/{run}").text
    assert "What will differ" not in page  # there is no print before
    assert "0 of 4 noted" in page and f'href="/runs/{run}?open=sheet#wrong"' in page
    page = press.get(f"/runs/{run}?open=sheet").text
    assert 'name="noted" value="1"' in page and 'name="part" value="2"' in page and 'name="s2.time"' not in page
    assert 'name="s2.time"' in press.get(f"/runs/{run}?part=2").text, "another head comes when it is asked for"
    assert 'name="noted" value="3"' not in page  # its screen does not hang yet
    sent = {"noted": "1", "s1.squeegee": "75 · square", "s1.hardness_measured": "68"}
    answer = post(press, run, "sheet", **sent)
    assert answer.status_code == 303 and answer.headers["Location"] == f"/runs/{run}?part=2#card-2"
    said = story(db, run)
    assert said.sheet["noted"] == ["1"] and set(said.settings) == {"1"}  # nobody noted the others
    assert said.measured["1"]["hardness_measured"]["who"] == "Bo Lind"
    hang_blue(press, run, blue)
    page = press.get(f"/runs/{run}").text
    assert "All the rest as the target" in page
    assert post(press, run, "sheet", noted="2", **{"s3.strokes": "2"}).status_code == 303  # what is typed is noted too
    assert story(db, run).sheet["noted"] == ["1", "2", "3"] and story(db, run).settings["3"]["strokes"] == "2"
    assert post(press, run, "sheet").status_code == 303
    said = story(db, run)
    assert "noted" not in said.sheet and said.settings["1"]["squeegee"] == "75 · square"
    assert not setup.open_parts(said.sheet, run_plan.plan(db, run).placement)
    assert "First print approved" in press.get(f"/runs/{run}").text


def test_what_nobody_touched_is_as_the_target_and_noted_by_nobody(
    shop: Shop, press: FlaskClient, client: FlaskClient, db: Database, sign_in: Any
) -> None:
    """Bo notes white. Cy changes blue’s blade in the form and taps “all the rest as the target”: blue is noted, flash
    and the whole run are claimed; white stays Bo’s. What is noted of them later is a noting."""
    run, _white, blue = hung_first(press, shop)
    assert post(press, run, "sheet", noted="1").status_code == 303
    hang_blue(press, run, blue)
    clock.on(minutes=5)
    lead = sign_in(client, "Cy Marsh")
    page = lead.get(f"/runs/{run}").text
    assert '<button class="primary" name="noted" value="rest">All the rest as the target</button>' in page
    whole = {"s1.strokes": "1", "s2.time": "6 s", "s3.squeegee": "65", "s3.strokes": "1", "run.platen": ""}
    assert post(lead, run, "sheet", noted="rest", **whole).status_code == 303

    def said() -> dict[str, tuple[str, bool]]:
        by = story(db, run).sheet["noted_by"]
        return {key: (one["who"], bool(one.get("as_target"))) for key, one in by.items()}

    assert said().pop("1") == ("Bo Lind", False)
    assert {key: one for key, one in said().items() if one[0] == "Cy Marsh"} == {
        "2": ("Cy Marsh", True), "3": ("Cy Marsh", False), "run": ("Cy Marsh", True)}  # fmt: skip
    assert "noted" not in story(db, run).sheet
    page = text_of(lead.get(f"/runs/{run}").text)
    assert "– position 3 · As the target, not looked at one by one: position 2, the whole run" in page, "its log"
    sheet = lead.get(f"/runs/{run}/sheet").text
    assert "Noted by Bo Lind, 10 Mar, 10:00" in sheet and "Noted by Cy Marsh, 10 Mar, 10:05" in sheet
    assert sheet.count("As the target, noted in one go and not head by head: Cy Marsh, 10 Mar, 10:05") == 2
    paper = sheets.setup_of(db, run, "", clock()).measured
    assert paper == (
        "Noted: position 1 (Bo Lind, 2026-03-10 10:00).",
        "Noted: position 3 (Cy Marsh, 2026-03-10 10:05).",
        "As the target, not looked at one by one: position 2, the whole run (Cy Marsh, 2026-03-10 10:05).",
    )
    sign_in(client, "Bo Lind")
    assert post(client, run, "sheet", noted="2").status_code == 303
    assert said()["2"] == ("Bo Lind", False) and said()["run"] == ("Cy Marsh", True)
    assert sound.check(db) == []


def test_a_command_notes_what_it_names_and_says_what_it_claims_of_the_rest(
    shop: Shop, press: FlaskClient, db: Database
) -> None:
    run, _white, blue = hung_first(press, shop)
    hang_blue(press, run, blue)
    told = data(db, "run", "log", str(run), "sheet", "--noted", "1", "--anyway")
    assert (told["noted"], told["as_target"], told["open"]) == (["1"], [], ["2", "3", "run"])
    told = data(db, "run", "log", str(run), "sheet", "--s3.strokes", "2", "--by", "Cy Marsh")
    assert (told["noted"], told["as_target"], told["open"]) == (["3"], ["2", "run"], [])
    by = story(db, run).sheet["noted_by"]
    assert (by["1"]["who"], by["3"]["who"]) == ("command line", "Cy Marsh")
    assert by["2"]["as_target"] and "as_target" not in by["3"]
    answer = tickets(db, "run", "log", str(run), "sheet", "--noted", "rest")
    assert answer.exit_code == 0 and "As the target" not in answer.stdout, "there is no rest"
    again, _white, _blue = hang_both(press, shop, shop.job(), shop.other_press)
    answer = tickets(db, "run", "log", str(again), "sheet", "--s1.strokes", "2")
    assert "Noted: position 1." in answer.stdout
    assert "As the target, not looked at one by one: position 2, 3, the whole run." in answer.stdout


def test_enter_notes_what_was_typed_and_no_head_besides(shop: Shop, press: FlaskClient, db: Database) -> None:
    run, _white, _blue = hung_first(press, shop)
    form_of_sheet = press.get(f"/runs/{run}?open=sheet").text.split('class="step setup"')[1].split("</form>")[0]
    assert form_of_sheet.index('name="noted" value="-"') < form_of_sheet.index('name="noted" value="1"')
    assert post(press, run, "sheet", noted="-", **{"s1.strokes": "1"}).status_code == 422  # as the target
    assert post(press, run, "sheet", noted="-", **{"s1.strokes": "2"}).status_code == 303
    assert story(db, run).sheet["noted"] == ["1"]
    assert post(press, run, "sheet", noted="9").status_code == 422


def test_same_as_another_head_takes_its_settings_and_nothing_measured(
    shop: Shop, press: FlaskClient, db: Database
) -> None:
    run, _white, blue = hung_first(press, shop)
    own = {"s1.squeegee": "80 · round", "s1.pressure": "4", "s1.hardness_measured": "79", "s1.note": "stiff"}
    assert post(press, run, "sheet", noted="1", **own, **{"s1.ink_lot": "W-7"}).status_code == 303
    hang_blue(press, run, blue)
    assert 'name="same" value="3.1"' in press.get(f"/runs/{run}?part=3").text
    assert post(press, run, "sheet", same="3.1").status_code == 303
    said = story(db, run).settings["3"]
    assert said["squeegee"] == "80 · round" and said["pressure"] == "4" and said["ink"].startswith("blue")
    assert not {"hardness_measured", "note", "ink_lot"} & set(said) and "3" in story(db, run).sheet["noted"]
    for wrong in ("3.2", "1.1", "run.1", "9.1"):  # a flash is no head to print like
        assert post(press, run, "sheet", same=wrong).status_code == 422, wrong


def test_what_was_just_typed_wins_over_same_as_another_head(shop: Shop, press: FlaskClient, db: Database) -> None:
    run, _white, blue = hung_first(press, shop)
    first = {"s1.squeegee": "80 · round", "s1.pressure": "4", "s1.strokes": "2"}
    assert post(press, run, "sheet", noted="1", **first).status_code == 303
    hang_blue(press, run, blue)
    sent = {**first, "s3.squeegee": "65 · square", "s3.pressure": "", "s3.strokes": "1", "s3.angle.not": "yes"}
    assert post(press, run, "sheet", same="3.1", **sent).status_code == 303
    said = story(db, run).settings["3"]
    assert said["squeegee"] == "65 · square" and said["angle"] == "not measured"  # typed just now
    assert said["pressure"] == "4" and said["strokes"] == "2"  # as the form had them, so as head 1
    again = {"s3.squeegee": "65 · square", "s3.pressure": "6"}
    assert post(press, run, "sheet", same="3.1", **again).status_code == 303
    said = story(db, run).settings["3"]  # what was noted before is no typing of now
    assert said["squeegee"] == "80 · round" and said["pressure"] == "6"


def test_test_prints_are_strokes_of_the_screens_and_no_pieces(shop: Shop, press: FlaskClient, db: Database) -> None:
    run, white, blue = hung_first(press, shop)
    assert post(press, run, "sheet", noted="1", test_prints="3", **{"s1.strokes": "2"}).status_code == 303
    hang_blue(press, run, blue)
    assert post(press, run, "sheet").status_code == 303
    assert post(press, run, "approve", approved_by="Bo Lind", approved_as="press").status_code == 303
    assert "3 noted so far" in press.get(f"/runs/{run}").text
    assert post(press, run, "start", test_prints="4").status_code == 303

    def of(code: str) -> int:
        return find.screen(db, code).life.impressions

    assert (of(white), of(blue)) == ((3 + 4) * 2, 4)  # blue did not hang for the first three
    said = story(db, run)
    assert (said.good, said.misprinted, said.tests) == (0, 0, 7) and said.impressions == 18
    assert post(press, run, "count", good="5").status_code == 303
    assert (of(white), of(blue)) == (24, 9) and story(db, run).good == 5
    assert post(press, run, "sheet", test_prints="x").status_code == 422
    (start,) = [one for one in entries.of(db, "run", run) if one.step == "start"]
    assert post(press, run, "cross-out", crosses=start.entry, why="wrong number").status_code == 303
    assert (of(white), of(blue)) == (16, 5) and story(db, run).tests == 3


APPROVE = {"approved_by": "Bo Lind", "approved_as": "press"}


def begun(press: FlaskClient, shop: Shop, **more: str) -> int:
    """A run with both screens, of whose sheet the white is noted and nothing else."""
    run, _white, blue = hung_first(press, shop, **more)
    hang_blue(press, run, blue)
    assert post(press, run, "sheet", noted="1", **{"s1.hardness_measured": "68"}).status_code == 303
    return run


def test_an_approval_asks_once_for_the_heads_that_nobody_noted(shop: Shop, press: FlaskClient, db: Database) -> None:
    run = begun(press, shop)
    asked = "Nothing is noted for 2. flash, 3. blue, the whole run"
    page = press.get(f"/runs/{run}").text
    assert asked in page and 'name="unnoted" value="leave" checked' not in page and "as-target" in page
    refused = post(press, run, "approve", **APPROVE)
    assert refused.status_code == 422 and f"{asked}. Is it set as the target" in refused.text
    assert not story(db, run).approved
    assert post(press, run, "approve", **APPROVE, unnoted="perhaps").status_code == 422
    assert post(press, run, "approve", **APPROVE, unnoted="leave").status_code == 303
    said = story(db, run)
    assert said.approved and said.sheet["noted"] == ["1"] and set(said.settings) == {"1"}
    sheet = press.get(f"/runs/{run}/sheet").text
    assert sheet.count("○ not noted") == 3 and "Not noted at the set-up: 2. flash, 3. blue, the whole run." in sheet
    assert asked not in press.get(f"/runs/{run}").text


@pytest.mark.parametrize("started", [False, True])
def test_what_is_noted_after_it_was_left_open_is_a_change_after_the_approval(
    shop: Shop, press: FlaskClient, db: Database, started: bool
) -> None:
    """White is noted; flash, blue and the whole run are left open. Blue’s strokes are noted later, white’s blade is
    changed: what was approved is white as it was noted, and nothing else."""
    run = begun(press, shop)
    assert post(press, run, "approve", **APPROVE, unnoted="leave").status_code == 303
    was = story(db, run)
    assert was.frozen
    if started:
        assert post(press, run, "start").status_code == 303
    page = press.get(f"/runs/{run}?part=3").text
    assert 'name="s3.strokes" type="text" autocomplete="off" maxlength="500" value=""' in page, "nobody noted it"
    form = {name: "" for name in ("s3.squeegee", "s3.ink", "s2.time")} | {"s3.strokes": "2"}
    assert post(press, run, "sheet", **form).status_code == 303, "noted late, not changed: no reason is asked for"
    told = [one for one in entries.of(db, "run", run) if one.step == "change"]
    assert [(one.values["station"], one.values["field"], one.values["to"]) for one in told] == [(3, "strokes", "2")]
    assert "Strokes: 2, noted only after the approval" in text_of(press.get(f"/runs/{run}").text)
    assert post(press, run, "sheet", **{"s1.squeegee": "80"}).status_code == 422, "white was approved: why?"
    assert post(press, run, "sheet", why="ink flow", **{"s1.squeegee": "80"}).status_code == 303
    now = story(db, run)
    assert (now.sheet, now.sheet_entry) == (was.sheet, was.sheet_entry)
    assert now.settings["3"] == {"strokes": "2"} and now.settings["1"]["squeegee"] == "80"
    then = repeats.as_run(db, run_plan.plan(db, run).run)
    assert not then.settings(3) and then.settings(1).get("squeegee") != "80"
    assert sound.check(db) == []


def test_an_approval_after_one_that_left_heads_open_takes_what_was_noted_since(
    shop: Shop, press: FlaskClient, db: Database
) -> None:
    run = begun(press, shop)
    assert post(press, run, "approve", **APPROVE, unnoted="leave").status_code == 303
    assert post(press, run, "sheet", **{"s3.strokes": "2"}).status_code == 303
    assert post(press, run, "sheet", why="ink flow", **{"s1.ink_lot": "W-1"}).status_code == 303
    assert post(press, run, "sheet", why="ink flow", **{"s1.ink_lot": "W-2"}).status_code == 303
    assert post(press, run, "approve", **APPROVE).status_code == 303, "another lot asks for another first print"
    now = story(db, run)
    assert now.frozen and now.sheet["noted"] == ["1", "3"] and now.sheet["stations"]["3"] == {"strokes": "2"}
    assert post(press, run, "sheet", **{"s3.strokes": "3"}).status_code == 422


def test_one_tap_notes_the_rest_as_the_target_and_nothing_of_it_as_measured(
    shop: Shop, press: FlaskClient, db: Database
) -> None:
    run = begun(press, shop)
    assert post(press, run, "approve", **APPROVE, unnoted="as-target").status_code == 303
    said = story(db, run)
    assert said.frozen and set(said.settings) == {"1", "2", "3"} and said.settings["2"]["time"] == "6 s"
    assert {key: set(found) for key, found in said.measured.items()} == {"1": {"hardness_measured"}}
    assert said.settings["1"]["hardness_measured"].startswith("68")
    assert [one.step for one in entries.of(db, "run", run)][-2:] == ["sheet", "approve"]
    claimed = {key: bool(one.get("as_target")) for key, one in story(db, run).sheet["noted_by"].items()}
    assert claimed == {"1": False, "2": True, "3": True, "run": True}, "nobody touched these"
    assert "not noted" not in press.get(f"/runs/{run}/sheet").text


def test_a_shop_that_notes_no_set_up_is_asked_nothing(shop: Shop, press: FlaskClient, db: Database) -> None:
    run, _white, blue = hung_first(press, shop)
    hang_blue(press, run, blue)
    assert "Nothing is noted for" not in press.get(f"/runs/{run}").text
    assert post(press, run, "approve", **APPROVE).status_code == 303 and story(db, run).approved


def test_an_approved_run_starts_at_once_whatever_nobody_has_noted(shop: Shop, press: FlaskClient, db: Database) -> None:
    run, _white, blue = hung_first(press, shop)
    hang_blue(press, run, blue)
    start, ask = f'action="/runs/{run}/start"', f"/runs/{run}?open=sheet#wrong"
    assert start not in press.get(f"/runs/{run}").text and phase_of(run_plan.plan(db, run)) == "sheet"
    assert post(press, run, "approve", **APPROVE).status_code == 303
    page = press.get(f"/runs/{run}").text
    assert 'class="primary">Printing started<' in page and phase_of(run_plan.plan(db, run)) == "start"
    assert page.index(start) < page.index(ask) < page.index("Print order"), "beside the start, what is open still"
    assert "Note the set-up of what hangs: 0 of 4 noted" in page and page.count(ask) == 1
    sent = press.get(ask).text
    assert 'name="noted" value="1"' in sent and sent.count('id="wrong"') == 1 and start in sent
    noted = post(press, run, "sheet", noted="1", **{"s1.squeegee": "80 · round"})
    assert noted.status_code == 303 and noted.location == f"/runs/{run}?part=2#card-2"
    page = press.get(f"/runs/{run}?part=2").text
    assert start in page and 'name="noted" value="2"' in page and "1 of 4 noted" in page
    assert post(press, run, "start").status_code == 303 and story(db, run).started_at


def test_what_was_left_not_noted_is_no_measurement_that_nobody_took(
    shop: Shop, press: FlaskClient, db: Database
) -> None:
    """Run 1 has all; run 2 left the blue and the flash open: beside run 1 these say so."""
    run, _white, blue = hung_first(press, shop)
    hang_blue(press, run, blue)
    assert post(press, run, "sheet", **{"s3.hardness_measured": "71"}).status_code == 303
    assert post(press, run, "approve", **APPROVE).status_code == 303
    assert post(press, run, "start").status_code == 303
    assert post(press, run, "finish", good="60", then="keep").status_code == 303
    second = begun(press, shop, repeats=run_plan.plan(db, run).job.code)
    assert post(press, second, "approve", **APPROVE, unnoted="leave").status_code == 303
    found = repeats.compared(db, second)
    assert found
    said = {(one.station, one.what): (one.a, one.b, one.differs) for one in found.lines}
    assert said[3, "hardness_measured"] == ("71 Shore A", "not noted", None)
    assert said[2, "time"] == ("6 s", "not noted", None) and said[3, "strokes"][1:] == ("not noted", None)
    assert said[1, "hardness_measured"][1] == "68 Shore A"


def test_in_the_dark_what_is_measured_is_tapped(shop: Shop, press: FlaskClient, db: Database) -> None:
    run, _white, _blue = hung_first(press, shop)
    page = dark(press).get(f"/runs/{run}?part=all").text
    form_of_sheet = page.split('class="step setup"')[1].split("</form>")[0]
    for field in ("s1.hardness_measured.d10", "s1.off_contact_measured.d01", "run.garment_peak.d10", "test_prints.d1"):
        assert f'name="{field}" value="6"' in form_of_sheet, field
        assert f'name="{field}" value="6" checked' not in form_of_sheet, field
    sent = {"s1.hardness_measured.d10": "6", "s1.hardness_measured.d1": "8", "s1.hardness_measured.unit": "Shore A"}
    assert post(press, run, "sheet", noted="1", **sent).status_code == 303
    assert story(db, run).settings["1"]["hardness_measured"] == "68 Shore A"


# A full press ---------------------------------------------------------------------------------------------------------

COLOURS = ("white", "yellow", "red", "green", "blue", "brown", "black", "grey")


@pytest.fixture
def full(shop: Shop) -> int:
    """A run of eight colours and a flash on a press of ten heads, every screen hung, nothing noted."""
    stations: list[dict[str, Any]] = [
        {"does": "print", "colour": one, "ink": "plastisol", "mesh": {"count": "230/in", "thread": "48 um"},
         "squeegee": {"hardness": "70", "edge": "square"}} for one in COLOURS
    ]  # fmt: skip
    data = two_colours()
    data["placement"][0] |= {"station": [stations[0], {"does": "flash", "time": "6 s"}, *stations[1:]]}
    now = clock() - timedelta(minutes=30)
    (code,) = jobs_acts.add(shop.db, shop.manager, [read(data)], post=fresh(), now=now)
    job = find.job(shop.db, code)
    ten = places.add(shop.db, shop.manager, "Press 9", "press", post=fresh(), now=now, heads=10)
    sent = form({"job": code, "placement": "1", "press": ten})
    run = runs.open_run(shop.db, shop.manager, sent, post=fresh(), now=now)
    for station in (1, *range(3, 10)):
        screen = shop.screen(job, station, kind=3)
        hang = form({"screen": screen, "head": station, "station": station, "override": "looked at it"})
        hanging.hang(shop.db, shop.manager, run, hang, post=fresh(), now=now + timedelta(minutes=station))
    return run


@pytest.mark.parametrize("view", ["day", "safelight"])
def test_the_page_of_a_full_press_is_short_while_it_is_set_up(press: FlaskClient, full: int, view: str) -> None:
    """Eight heads and a flash: one card is on the page, each of the others comes when it is asked for. In the dark the
    rows of digits make it longer; it goes packed to the phone. What counts is behind the look in its head."""
    if view == "safelight":
        dark(press)
    for part in ("", "1", "2", "9", "run"):
        page = press.get(f"/runs/{full}?part={part}" if part else f"/runs/{full}")
        behind = page.data.split(b"</style>")[1]
        assert len(behind) <= (25_000 if view == "day" else 29_400), (part, len(behind))
        assert len(gzip.compress(behind)) <= 7_000, part
    assert press.get(f"/runs/{full}", headers={"Accept-Encoding": "gzip"}).headers["Content-Encoding"] == "gzip"
    for name in ("stop", "start", "pause", "finish", *(("change", "note") if view == "day" else ())):
        asked = press.get(f"/runs/{full}?open={name}")
        assert f'action="/runs/{full}/{name}"' in asked.text, "what is seldom wanted comes when it is asked for"


@pytest.mark.browser
def test_the_sheet_of_eight_heads_takes_few_taps_and_none_far_down(
    phone: Any, server: str, shop: Shop, full: int, sign_in_page: Callable[[Any, str], None]
) -> None:
    """Three settings otherwise than the target, and what a shop measures: each blade, the flash, the dryer. A tap is a
    tap on something, a box to type in among them."""
    sign_in_page(phone, "Bo Lind")
    phone.goto(f"/runs/{full}")
    taps = 0

    def tap(what: Any) -> None:
        nonlocal taps
        what.tap()
        taps += 1

    def write(field: str, text: str) -> None:
        nonlocal taps
        phone.locator(f"[name='{field}']").fill(text)
        taps += 1

    otherwise = {"3": ("s3.squeegee", "75 · square"), "5": ("s5.strokes", "2"), "8": ("s8.ink_lot", "B-12")}
    measured = {"2": {"s2.time_steady": "5 s", "s2.surface": "105 °C"},
                "run": {"run.garment_peak": "163 °C", "run.peak_how": "probe", "run.hold": "61 s",
                        "run.belt_speed": "1.1 m/min"}}  # fmt: skip
    for key in [*map(str, range(1, 10)), "run"]:
        card = phone.locator(f"#card-{key}")
        assert card.locator(".bar.open").count() == 1, key  # the next card opens by itself
        top, note = card.bounding_box(), card.locator(".note-part").first.bounding_box()
        assert note["y"] + note["height"] - top["y"] < 640 and note["height"] >= 48, key
        assert key == "1" or 0 <= top["y"] and note["y"] + note["height"] < 640, key  # without scrolling to it
        if key in otherwise:
            write(*otherwise[key])
        tap(card.locator("summary", has_text="Measured"))
        for field, text in measured.get(key, {f"s{key}.hardness_measured": "68"}).items():
            write(field, text)
        assert phone.evaluate("document.documentElement.scrollWidth") <= 360, key
        with answered(phone):
            tap(card.locator(".note-part").first)
    print(f"taps for the sheet of eight heads and a flash: {taps}")
    assert taps <= MOST_TAPS
    said = story(shop.db, full)
    assert "noted" not in said.sheet and all(said.settings[key][field.split(".")[1]] == text
                                             for key, (field, text) in otherwise.items())  # fmt: skip
    assert len([name for part in said.measured.values() for name in part]) == 8 + 2 + 4
    assert phone.get_by_role("button", name="First print approved").is_visible()


@pytest.mark.browser
@pytest.mark.parametrize("view", ["day", "safelight"])
def test_the_first_thing_to_do_stands_in_the_first_view_with_all_cautions_new(
    phone: Any, server: str, shop: Shop, sign_in_page: Callable[[Any, str], None], view: str
) -> None:
    """A discharge print that prints again, on a phone that scans for it: the scan first, then the first head, each in
    the first 640 px; every caution is seen without opening anything."""
    job = discharge_job(shop)
    now = clock()
    run = runs.open_run(
        shop.db,
        shop.manager,
        form({"job": job.code, "placement": "1", "press": shop.first_press}),
        post=fresh(),
        now=now,
    )
    sign_in_page(phone, "Bo Lind")
    if view == "safelight":
        with answered(phone):
            phone.get_by_role("button", name="Safelight").tap()
    phone.goto(f"/runs/{run}")
    with answered(phone):
        phone.get_by_role("button", name="Scan with this phone").tap()

    def low(what: Any) -> float:
        box = what.bounding_box()
        return float(box["y"] + box["height"])

    assert phone.get_by_role("button", name="Leave this").is_visible()
    first = "Check this screen" if view == "day" else "Scan its code: typing brings up"
    assert low(phone.get_by_text(first)) <= 640 and low(phone.get_by_text("Scan the next screen")) <= 640
    for station in (1, 3):
        hang = {"screen": shop.screen(job, station), "head": station, "station": station, "override": "looked at it"}
        hanging.hang(shop.db, shop.manager, run, form(hang), post=fresh(), now=now)
    phone.goto(f"/runs/{run}")
    assert low(phone.locator(".note-part").first) <= 640
    lines = phone.locator(".risk > summary").all()
    assert len(lines) == 5 and all(line.is_visible() and line.bounding_box()["height"] >= 38 for line in lines)
    whole = phone.locator(".risk p").first
    assert not whole.is_visible()
    lines[0].tap()
    assert whole.is_visible() and "gives off formaldehyde when heated" in whole.inner_text()
    assert phone.evaluate("document.documentElement.scrollWidth") <= 360


def test_the_heads_of_a_first_set_up_copy_from_one_before_in_one_tap(shop: Shop, client: FlaskClient) -> None:
    """Five heads by four taps: the first is typed, one tap sets the prints that are left as it, flash and dryer stand
    open for a tap each."""
    colours = ("white", "red", "blue", "black")
    prints = [
        {"does": "print", "colour": one, "ink": "plastisol", "mesh": {"count": "156/in", "thread": "64 um"}}
        for one in colours
    ]
    stations = [prints[0], {"does": "flash", "time": "6 s"}, *prints[1:]]
    job = shop.job(two_colours(placement=[{"name": "Full front", "width": "300 mm", "station": stations}]))
    run = runs.open_run(
        shop.db, shop.lead, form({"job": job.code, "placement": "1", "press": "Press 2"}), post=fresh(), now=shop.tick()
    )
    for station, code in shop.screens_for(job).items():
        shop.step(run, "hang", screen=code, head=str(station + 1), station=str(station))
    clock.now = shop.tick(minutes=1)
    signed_in(client, "Cy Marsh")
    page = client.get(f"/runs/{run}").text
    taps = 0

    def tap(**sent: str) -> str:
        nonlocal taps
        taps += 1
        seen = re.findall(r'name="sheet_seen" value="([^"]*)"', page)[0]
        answer = client.post(f"/runs/{run}/sheet", data={"entry": fresh(), "sheet_seen": seen, **sent})
        assert answer.status_code == 303, said(answer.text)
        return client.get(answer.headers["Location"].partition("#")[0]).text

    assert "all same as head" not in said(page), "nothing is noted to copy from"
    page = tap(noted="1", **{"s1.squeegee": "70 Shore A", "s1.angle": "75 deg", "s1.strokes": "2"})
    page = tap(noted="2")
    assert "The 3 heads left: all same as head 2" in said(page) and 'name="same" value="rest.1"' in page
    page = tap(same="rest.1")
    settings = run_plan.plan(shop.db, run).story.settings
    assert {settings[one]["angle"] for one in "1345"} == {settings["1"]["angle"]} and settings["3"]["strokes"] == "2"
    assert "angle" not in settings["2"], "a flash is no print"
    assert "Dryer" in said(page) and "<summary>Dryer" not in page and "all same as head" not in said(page)
    page = tap(noted="run")
    print(f"first set-up of {len(stations)} heads: {taps} taps")
    assert run_plan.open_parts(run_plan.plan(shop.db, run)) == []
