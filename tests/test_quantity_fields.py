"""How quantity fields behave around the reader: the units they begin with, which reading is marked as wrong, what a
date alone means, and where nothing is shown because something is not known."""

from __future__ import annotations

import html
import json
import re
import secrets
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient
from shop import NOW, clock
from sqlite_utils import Database

from tickets import cli
from tickets.calculator.catalogue import CATALOGUE
from tickets.floor import buckets as floor_buckets
from tickets.floor import ink, screens, shop
from tickets.floor.posting import Form, zone
from tickets.records import job as sheets
from tickets.records.job_remarks import remarks
from tickets.records.person import Actor
from tickets.records.refusal import Refused
from tickets.store import buckets

SignIn = Callable[[FlaskClient, str], FlaskClient]


@pytest.fixture
def room(client: FlaskClient, sign_in: SignIn) -> FlaskClient:
    return sign_in(client, "Di Novak")


def us(db: Database) -> None:
    now = clock()
    shop.set_up(db, shop.command_line(db, now), "units", "us", now=now)


def chosen(page: str, name: str) -> str:
    """The unit that is chosen in a field's tiles as the page comes; empty: none."""
    found = re.findall(rf'name="{re.escape(name)}\.unit" value="([^"]*)" checked', page)
    return html.unescape(found[0]) if found else ""


def screen(db: Database) -> str:
    ada = Actor(1, "Ada Holm", "screen room")
    form = Form({"mesh_count_as_labelled": ["90/cm"], "frame": ["aluminium"]})
    return screens.add(db, ada, form, post=secrets.token_hex(12), now=clock())[0]


# -- the unit a calculator begins with is that of its hint, and the one that the trade uses


@pytest.mark.parametrize("system", ["metric", "us"])
def test_a_calculator_begins_with_the_unit_of_its_hint(room: FlaskClient, db: Database, system: str) -> None:
    if system == "us":
        us(db)
    for name, calculation in CATALOGUE.items():
        page = room.get(f"/calculator/{name}").text
        for asked in calculation.inputs:
            hint = re.search(rf'id="{asked.name}-hint">[^<]*such as ([^<]*)', page)
            unit = chosen(page, asked.name)
            if unit and hint:
                said = html.unescape(hint[1]).strip()
                assert said.endswith(unit.removeprefix("lines")), (name, asked.name, said, unit)


@pytest.mark.parametrize("system", ["metric", "us"])
def test_thread_tension_and_exposure_are_in_the_trades_units_everywhere(
    room: FlaskClient, db: Database, system: str
) -> None:
    if system == "us":
        us(db)
    wanted = {"mesh": ("thread", "um"), "stencil": ("coated", "um"), "tension-loss": ("floor", "N/cm"),
              "step": ("time", "s"), "distance": ("time", "s"), "filter-film": ("time", "s")}  # fmt: skip
    for name, (field, unit) in wanted.items():
        assert chosen(room.get(f"/calculator/{name}").text, field) == unit, (name, field)
    count = chosen(room.get("/calculator/mesh").text, "count")
    assert count == {"metric": "/cm", "us": "/in"}[system]


def test_a_worked_example_works_in_either_habit(room: FlaskClient, db: Database) -> None:
    for system in ("metric", "us"):
        for name in CATALOGUE:
            page = room.get(f"/calculator/{name}").text
            example = re.search(r'href="(/calculator/[^"]*)">Fill in an example', page)
            assert example and room.get(html.unescape(example[1])).status_code == 200, (system, name)
        us(db)


def test_a_label_that_names_its_unit_keeps_it(room: FlaskClient, db: Database) -> None:
    us(db)
    page = html.unescape(room.get("/calculator/mesh?count=230/in&thread=40+um").text)
    assert re.search(r"Count per cm</dt><dd>90.6/cm", page) and re.search(r"Count per inch</dt><dd>230/in", page)
    ran = CliRunner().invoke(cli.root, ["calc", "mesh", "--count", "230/in", "--thread", "40 um", "--us"])
    assert re.search(r"Count per cm\s+90\.6/cm", ran.output) and "(230/in" not in ran.output


def test_a_us_shop_still_sees_newtons_per_cm(room: FlaskClient, db: Database) -> None:
    us(db)
    code = screen(db)
    room.post(f"/screens/{code}/tension", data={"entry": secrets.token_hex(12), "readings_n_per_cm": "25 24 24"})
    page = room.get(f"/screens/{code}").text.replace("\u00a0", " ")
    assert "N/cm" in page and "lbf/in" not in page
    page = room.get("/calculator/tension?readings=25+24&unit=N/cm").text.replace("\u00a0", " ")
    assert re.search(r"Mean</dt><dd>24.5 N/cm", page)


# -- a mesh count without a unit


def test_a_bare_count_is_asked_about_and_a_tap_answers(room: FlaskClient, db: Database) -> None:
    page = room.get("/screens/new").text
    assert chosen(page, "mesh_count_as_labelled") == "", "nothing is chosen before, where both are in use"
    sent = {"entry": secrets.token_hex(12), "mesh_count_as_labelled": "77", "frame": "aluminium", "number": "1"}
    answer = room.post("/screens/new", data=sent)
    assert answer.status_code == 422 and "per inch or per cm?" in answer.text
    assert room.post("/screens/new", data={**sent, "mesh_count_as_labelled.unit": "/cm"}).status_code == 303
    us(db)
    assert chosen(room.get("/screens/new").text, "mesh_count_as_labelled") == "/in"


def test_77_mesh_is_answered_by_the_unit_beside_it(room: FlaskClient) -> None:
    sent = {"entry": secrets.token_hex(12), "mesh_count_as_labelled": "77 mesh", "frame": "aluminium", "number": "1"}
    assert "per inch or per cm?" in room.post("/screens/new", data=sent).text
    assert room.post("/screens/new", data={**sent, "mesh_count_as_labelled.unit": "/in"}).status_code == 303


# -- readings: the wrong one is marked, and what can be two things is asked


def test_the_one_wrong_reading_is_marked_and_named(room: FlaskClient, db: Database) -> None:
    code = screen(db)
    sent = {"entry": secrets.token_hex(12), "readings_n_per_cm": ["25", "24", "240", "24.5"]}
    page = html.unescape(room.post(f"/screens/{code}/tension", data=sent).text)
    boxes = re.findall(r'<input name="readings_n_per_cm"[^>]*value="([^"]*)"([^>]*)>', page)
    assert [value for value, rest in boxes if "aria-invalid" in rest] == ["240"]
    assert "Reading 3: “240” cannot be right" in page


def test_readings_that_are_wrong_as_a_whole_mark_all(room: FlaskClient, db: Database) -> None:
    code = screen(db)
    page = room.post(f"/screens/{code}/tension", data={"entry": secrets.token_hex(12), "readings_n_per_cm": "25,24"})
    boxes = re.findall(r'<input name="readings_n_per_cm"[^>]*>', page.text)
    assert page.status_code == 422 and all("aria-invalid" in box for box in boxes[:1])


@pytest.mark.parametrize(("reading", "kept"), [("25.24", [25.24]), ("25 24", [25, 24])])
def test_25_24_is_answered_by_a_tap(room: FlaskClient, db: Database, reading: str, kept: list[float]) -> None:
    from tickets.store import entries

    code = screen(db)
    sent: dict[str, Any] = {"entry": secrets.token_hex(12), "readings_n_per_cm": ["25,24", "", ""]}
    page = room.post(f"/screens/{code}/tension", data=sent).text
    assert f'name="readings_n_per_cm.meant" value="{reading}"' in page
    assert 'name="readings_n_per_cm.asked" value="25,24"' in page
    sent |= {"readings_n_per_cm.asked": "25,24", "readings_n_per_cm.meant": reading}
    assert room.post(f"/screens/{code}/tension", data=sent).status_code == 303
    newest = entries.latest_of(db, "screen", screens.find(db, code).id, 1)[0]
    assert newest.values["readings_n_per_cm"] == kept


def test_250_n_per_cm_is_refused_in_the_log_and_by_the_calculator(room: FlaskClient, db: Database) -> None:
    code = screen(db)
    logged = room.post(f"/screens/{code}/tension", data={"entry": secrets.token_hex(12), "readings_n_per_cm": "250"})
    worked = room.get("/calculator/tension?readings=250&unit=N/cm")
    loss = room.get(
        "/calculator/tension-loss", query_string={"file": "uses,n_per_cm\n1,250\n3,26\n", "floor": "18 N/cm"}
    )
    for page in (logged, worked, loss):
        assert page.status_code == 422 and "80 N/cm is the most" in page.text
    ran = CliRunner().invoke(cli.root, ["calc", "tension", "--readings", "25 250", "--unit", "N/cm"])
    assert ran.exit_code == 2 and "Reading 2" in ran.output


def test_what_a_calculator_asks_is_answered_by_a_tap(room: FlaskClient) -> None:
    asked = {"count": "90/cm", "thread": "48,500 um"}
    page = html.unescape(room.get("/calculator/mesh", query_string=asked).text)
    boxes = dict(re.findall(r'name="(thread[.a-z]*)"[^>]*? value="([^"]*)"', page))
    assert (boxes["thread"], boxes["thread.asked"]) == ("48,500", "48,500")
    sent = {
        "count": "90/cm",
        "thread": "48,500",
        "thread.unit": "um",
        "thread.asked": "48,500",
        "thread.meant": "48.5 um",
    }
    answer = room.get("/calculator/mesh", query_string=sent)
    assert answer.status_code == 200 and "48.5\u00a0µm" in answer.text


# -- a day alone is good to its end


@pytest.mark.parametrize("name", ["UTC", "America/Los_Angeles", "Pacific/Auckland"])
def test_a_day_alone_is_good_to_its_end(room: FlaskClient, db: Database, name: str) -> None:
    clock.on(hours=2)
    now = clock()
    shop.set_up(db, shop.command_line(db, now), "zone", name, now=now)
    today = now.astimezone(zone(db)).date()
    sent: dict[str, Any] = {
        "entry": secrets.token_hex(12),
        "kind": "photopolymer emulsion",
        "good_until": [str(today), ""],
    }
    assert now.astimezone(zone(db)).hour < 23, "far enough from the end of each of these days"
    answer = room.post("/buckets", data=sent)
    assert answer.status_code == 303, answer.text
    (bucket,) = buckets.open_ones(db)
    assert not bucket.past(now), "the day has not ended"
    until = datetime.fromisoformat(bucket.good_until).astimezone(ZoneInfo(name))
    assert (until.date(), until.hour, until.minute) == (today, 23, 59)
    page = room.get(f"/buckets/{bucket.code}").text
    assert "23:59" in page


def test_a_day_with_a_time_is_good_until_then_on_page_and_command(
    room: FlaskClient, db: Database, folder: Path
) -> None:
    day = NOW.date() + timedelta(days=3)
    sent: dict[str, Any] = {"entry": secrets.token_hex(12), "kind": "discharge ink", "good_until": [str(day), "14:05"]}
    assert room.post("/buckets", data=sent).status_code == 303
    (bucket,) = buckets.open_ones(db)
    until = datetime.fromisoformat(bucket.good_until).astimezone(zone(db))
    assert until.strftime("%Y-%m-%d %H:%M") == f"{day} 14:05"
    common = ["bucket", "add", "--kind", "discharge ink", "--json", "--data", str(folder)]
    for text, said in ((f"{day}T09:30", "09:30"), (str(day), "23:59")):
        ran = CliRunner().invoke(cli.root, [*common, "--good-until", text], catch_exceptions=False)
        assert ran.exit_code == 0, ran.output
        until = datetime.fromisoformat(json.loads(ran.output)[0]["good_until"]).astimezone(zone(db))
        assert until.strftime("%Y-%m-%d %H:%M") == f"{day} {said}"


@pytest.mark.parametrize("text", ["tomorrow", "2026-13-01", "2026-02-30", "99999-12-31", "31.12.2026", "2026-12"])
def test_what_is_no_day_is_refused_with_what_would_do(text: str) -> None:
    with pytest.raises(Refused, match="for the end of that day"):
        floor_buckets.good_until(text, ZoneInfo("Pacific/Auckland"))


# -- what is not known has no figure

SHEET: dict[str, Any] = {
    "title": "Anchor shirts", "customer": "Moth & Ladder Theatre", "due": "2031-05-02",
    "art": {"name": "Anchor", "revision": "1"},
    "garment": [{"style": "Heavy tee", "colour": "navy", "pieces": 40, "fibre": "100 cotton"}],
    "placement": [{"name": "Full front", "width": "300 mm", "height": "400 mm", "station": [
        {"does": "print", "colour": "white", "ink": "plastisol", "coverage": "40 %",
         "mesh": {"count": "43/cm", "thread": "80 um"}},
        {"does": "print", "separation": "highlight", "colour": "white", "ink": "plastisol",
         "mesh": {"count": "90/cm", "thread": "48 um"}}]}],
}  # fmt: skip


def test_an_ink_with_something_unknown_shows_no_figure(room: FlaskClient, db: Database) -> None:
    from tickets.floor import jobs as floor_jobs

    me = Actor(1, "Di Novak", "manager")
    (code,) = floor_jobs.add(db, me, [sheets.read(SHEET)], post=secrets.token_hex(12), now=clock())
    known, unknown = ink.needs(db, floor_jobs.find(db, code))
    assert known.job_cm3 is not None and unknown.missing == ("the coverage",) and unknown.job_cm3 is None
    (total,) = ink.totals([known, unknown])
    assert (total.job_cm3, total.job_g, total.whole) == (None, None, False)
    for path in (f"/jobs/{code}", f"/jobs/{code}/ink"):
        page = room.get(path).text
        assert re.search(r"white <small>plastisol</small>: <b>–</b> <span class=\"tag\">\? not all known", page), path


def remarked(height: str) -> list[str]:
    data = {**SHEET, "placement": [{**SHEET["placement"][0], "height": height}]}
    return [one.reason.key for one in remarks(sheets.read(data)) if one.place == "placement[1].height"]


@pytest.mark.parametrize(("height", "said"), [("400 mm", False), ("40 mm", True), ("14 mm", True), ("1800 mm", True),
                                              ("1799 mm", False), ("51 mm", False), ("50 mm", True)])  # fmt: skip
def test_a_height_that_makes_an_odd_shape_is_remarked(height: str, said: bool) -> None:
    assert ("job-odd-shape" in remarked(height)) is said


def test_the_fibre_says_what_to_write(room: FlaskClient) -> None:
    page = html.unescape(room.get("/jobs/new").text)
    assert "percent of each, such as 60 cotton, 40 polyester" in page
    from tests.test_typed import FORM

    sent = {**FORM, "entry": secrets.token_hex(12), "act": "save", "garment[1].fibre": ""}
    page = html.unescape(room.post("/jobs/new", data=sent).text)
    assert re.search(r'id="garment\[1\]\.fibre-fault">This is needed\. Write each fibre with its percentage', page)
