"""What the manager keeps of the shop, each change with who and when; stock-take, paper, files."""

from __future__ import annotations

import csv
import html
import io
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pypdfium2 as pdfium
import pytest
import shop as shops
from click.testing import CliRunner
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from shop import Desk, fresh, said
from sqlite_utils import Database

from tickets import cli, store
from tickets.actions import jobs, screens, shop, stocktake
from tickets.actions import people as people_acts
from tickets.actions import places as places_acts
from tickets.domain.entry import stamp
from tickets.domain.jobs import job
from tickets.domain.person import Actor
from tickets.domain.posted import form
from tickets.domain.refusal import Refused
from tickets.domain.runs.as_run import AsRun
from tickets.domain.runs.comparison import compare, for_customer
from tickets.domain.spec import Spec, shipped
from tickets.domain.stages import ALWAYS_LOGGED, LOGGED_BY_DEFAULT
from tickets.domain.steps import SCREEN_STEPS
from tickets.queries import exports, find, repeats, sound
from tickets.queries.shop_rules import the_spec
from tickets.store import changes, places
from tickets.store import people as people_rows

NOW = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)
SignIn = Callable[[FlaskClient, str], FlaskClient]


@pytest.fixture
def desk(folder: Path) -> Desk:
    return Desk(folder, NOW)


def test_the_manager_keeps_six_things_and_each_change_says_who_and_when(desk: Desk, db: Database) -> None:
    """Spec, people, exposure units and their lamps, presses, racks, steps that the shop logs."""
    # pages that the desk leads to: straight, or over the page "More" that every page leads to
    ways = desk.get("/desk") + desk.get("/more") + desk.get("/places") + desk.get("/exposure-units")
    for path in ("/spec", "/people", "/exposure-units", "/places", "/settings"):
        assert f'href="{path}"' in ways, path

    # the spec: a row added, changed, withdrawn
    desk.now += timedelta(minutes=1)
    sent = {"key": "tension-watch", "work": "colours", "frame": "wood", "value": "17", "source": "a test of ours"}
    assert desk.phone.post("/spec", data={**sent, "value.unit": "N/cm"}).status_code == 303
    row = shop.spec_rows.rows(db)[-1]
    path = f"/spec/{row.id}"
    assert f"17 N/cm · 4 Mar, {desk.now:%H:%M} · Di Novak" in said(desk.get(path))
    desk.act(path, path, "18 N/cm", value="18", source="another test", **{"value.unit": "N/cm"})
    desk.act(f"{path}/withdraw", path, "removed", source="too strict", sure="yes")

    # the steps that the shop logs, and the other settings
    gone = [name for name in LOGGED_BY_DEFAULT if name not in ALWAYS_LOGGED and name != "degrease"]
    said_steps = f"no longer logged: {', '.join(SCREEN_STEPS[name].title for name in gone)}"
    desk.act("/settings/steps", "/settings", said_steps, steps=["degrease"])
    for name, value in (("shifts", "5 13 21"), ("shift_hours", "9"), ("zone", "Etc/UTC"), ("shop", "The long shed")):
        desk.act(f"/settings/{name}", "/settings", value, **{name: value})

    # people: added, another role, another PIN, gone, back
    desk.act("/people", "/people", "added: press crew", name="Eva Roth", role="press", new_secret="472059")
    eva = people_rows.find(db, "Eva Roth")
    assert eva is not None
    desk.act(f"/people/{eva.id}", "/people", "role: press crew, then press lead", role="press lead")
    desk.act(f"/people/{eva.id}", "/people", "new PIN or password", role="press lead", new_secret="472159")
    desk.act(f"/people/{eva.id}/leave", "/people?left=1", "left the shop")
    back = {"name": "Eva Roth", "role": "press", "new_secret": "472059", "back": "1"}
    desk.act("/people", "/people", "back again: press crew", **back)
    assert "472059" not in said(desk.get("/people")) and "472159" not in str(changes.of(db, "person"))

    # racks and presses: added, renamed, more heads, out of use, back
    for kind, name, heads in (("rack", "Rack 9", ""), ("press", "Press 9", "6")):
        desk.now += timedelta(minutes=1)
        sent = {"name": name, "kind": kind, "heads": heads, "entry": fresh()}
        assert desk.phone.post("/places/new", data=sent).status_code == 303
        place = places.find(db, name)
        assert place is not None
        path = f"/places/{place.code}"
        assert f"added: {name} · 4 Mar, {desk.now:%H:%M} · Di Novak" in said(desk.get(path))
        desk.act(f"{path}/change", path, f"name: {name}, then North wall {kind}", name=f"North wall {kind}")
        if kind == "press":
            desk.act(f"{path}/change", path, "heads: 6, then 8", name=f"North wall {kind}", heads="8")
        desk.act(f"{path}/use", path, "taken out of use")
        assert place.code not in {one.code for one in places.every(db)} and path in desk.get("/places")
        desk.act(f"{path}/use", path, "back in use", back="yes")
        assert place.code in {one.code for one in places.every(db)}

    # exposure units: added, a new lamp and its note taken back, another kind of lamp, out of use, back
    desk.now += timedelta(minutes=1)
    assert (
        desk.phone.post("/exposure-units/new", data={"name": "Old lamp", "lamp": "point", "entry": fresh()}).status_code
        == 303
    )
    path = "/exposure-units/Old%20lamp"
    assert path in desk.get("/places")
    assert f"added: one lamp at a distance · 4 Mar, {desk.now:%H:%M} · Di Novak" in said(desk.get(path))
    for sent, what in (({}, "New lamp on 4 Mar"), ({"withdraw": "1"}, "Removed: a lamp of 4 Mar")):
        desk.now += timedelta(minutes=1)
        assert desk.phone.post(f"{path}/lamp", data={"entry": fresh(), **sent}).status_code == 303
        assert f"{what} noted 4 Mar, {desk.now:%H:%M} by Di Novak" in said(desk.get(path))
    desk.act(f"{path}/change", path, "lamp: one lamp at a distance, then LED", lamp="led")
    desk.act(f"{path}/change", path, "taken out of use", lamp="led", use="out")
    assert "Old lamp" not in [one.name for one in places.units(db)]
    assert path in desk.get("/places") and path in desk.get("/exposure-units")
    desk.act(f"{path}/change", path, "back in use", lamp="led", use="in")
    assert sound.check(db) == []


def test_who_changed_what_is_never_changed_itself(desk: Desk, db: Database) -> None:
    desk.act("/people", "/people", "added: press crew", name="Eva Roth", role="press", new_secret="472059")
    for wrong in ("UPDATE changes SET person = 1", "DELETE FROM changes"):
        with pytest.raises(store.sqlite3.IntegrityError):
            db.execute(wrong)


def test_only_the_manager_renames_a_place_or_takes_it_out_of_use(
    client: FlaskClient, sign_in: SignIn, db: Database, desk: Desk
) -> None:
    me = shop.command_line(db, NOW)
    code = places_acts.add(db, me, "Rack 9", "rack", post=fresh(), now=NOW)
    places_acts.add_unit(db, me, "Old lamp", "point", post=fresh(), now=NOW)
    for name in ("Ada Holm", "Bo Lind", "Cy Marsh"):
        phone = sign_in(client, name)
        assert f"/places/{code}/change" not in phone.get(f"/places/{code}").text
        for path in (f"/places/{code}/change", f"/places/{code}/use", "/exposure-units/Old%20lamp/change"):
            assert phone.post(path, data={"name": "Mine", "lamp": "led", "entry": fresh()}).status_code == 403
    assert places.find(db, "Mine") is None and places.every(db, "rack")


def test_a_place_goes_out_of_use_only_when_nothing_is_there(desk: Desk, db: Database) -> None:
    """What is refused says what would do; what is out of use is offered nowhere, and takes no screen."""
    me = shop.command_line(db, NOW)
    code = places_acts.add(db, me, "Rack 9", "rack", post=fresh(), now=NOW)
    other = places_acts.add(db, me, "Rack 8", "rack", post=fresh(), now=NOW)
    mesh = {"mesh_count_as_labelled": "230/in", "thread_um": "48", "frame": "aluminium"}
    frame = screens.add(db, me, form(mesh), post=fresh(), now=NOW)[0]
    screens.log(db, me, find.screen(db, frame), "rack", form({"place": "Rack 9"}), post=fresh(), now=NOW)
    answer = desk.phone.post(f"/places/{code}/use", data={"entry": fresh()})
    assert answer.status_code == 422 and said(answer.text).count("put them elsewhere first") == 2
    screens.log(db, me, find.screen(db, frame), "rack", form({"place": "Rack 8"}), post=fresh(), now=NOW)
    desk.act(f"/places/{code}/use", f"/places/{code}", "taken out of use")
    for path in ("/screens", "/desk/stocktake", f"/screens/{frame}?step=rack"):
        page = desk.get(path)
        assert ">Rack 8" in page and not re.search('value="Rack 9"|/stocktake/[^>]*><strong>Rack 9', page), path
    with pytest.raises(Refused, match="Rack 9 is out of use"):
        screens.log(db, me, find.screen(db, frame), "rack", form({"place": "Rack 9"}), post=fresh(), now=NOW)
    for name in ("Rack 9", "Rack 8"):
        answer = desk.phone.post(f"/places/{other}/change", data={"name": name, "entry": fresh()})
        assert answer.status_code == (422 if name == "Rack 9" else 303)
    answer = desk.phone.post("/places/new", data={"name": "rack 9", "kind": "rack", "entry": fresh()})
    assert answer.status_code == 422 and "bring it back" in answer.text


def test_no_run_is_opened_on_a_press_that_is_out_of_use(desk: Desk, db: Database) -> None:
    me = shop.command_line(db, NOW)
    code = places_acts.add(db, me, "Press 9", "press", post=fresh(), now=NOW, heads=6)
    desk.act(f"/places/{code}/use", f"/places/{code}", "taken out of use")
    assert "Press 9" not in said(desk.get("/press"))
    answer = desk.phone.post("/runs", data={"job": "", "placement": "1", "press": "Press 9", "entry": fresh()})
    assert "Press 9 is out of use" in html.unescape(answer.text)


def test_the_command_line_is_named_where_it_added_somebody(desk: Desk, db: Database) -> None:
    people_acts.add_person(db, "Eva Roth", "press", None, NOW, by=None)
    assert "added: press crew · 4 Mar, 09:30 · command line" in said(desk.get("/people"))
    di = people_rows.find(db, "Di Novak")
    assert di is not None
    people_acts.add_person(db, "Flo Berg", "press", None, NOW, by=Actor(di.id, di.name, di.role))
    assert "added: press crew · 4 Mar, 09:30 · Di Novak" in said(desk.get("/people"))


def test_a_shop_of_the_first_version_gets_its_history_from_here_on(folder: Path, db: Database) -> None:
    me = shop.command_line(db, NOW)
    places_acts.add(db, me, "Rack 9", "rack", post=fresh(), now=NOW)
    db.execute("DROP TABLE changes")
    for table in ("places", "exposure_units"):
        db.execute(f"ALTER TABLE {table} DROP COLUMN retired_at")
    db.execute("DELETE FROM _sqlite_migrations WHERE name = 'm003_who_changed_what'")
    db.execute("PRAGMA user_version = 1")
    store.prepare(folder)
    rack = places.find(db, "Rack 9")
    assert rack is not None and rack.retired_at is None and sound.check(db) == []
    places_acts.retire(db, me, rack, post=fresh(), now=NOW)
    assert [one.what for one in changes.of(db, "place", rack.id)] == ["retired"]


# Stock-take


def test_a_stock_take_lists_the_places_not_counted_longest_first_a_page_at_a_time(desk: Desk, db: Database) -> None:
    """Forty racks, some counted: whoever goes on always gets the one that waited longest; a name finds one."""
    me = shop.command_line(db, NOW)
    codes = [places_acts.add(db, me, f"Rack {n}", "rack", post=fresh(), now=NOW) for n in range(1, 41)]
    places_acts.add(db, me, "Press 1", "press", post=fresh(), now=NOW, heads=6)
    for days, number in ((3, 2), (9, 7), (1, 1)):  # counted so many days ago
        place = places.find(db, f"Rack {number}")
        assert place is not None
        stocktake.put_right(db, me, place, [], post=fresh(), now=NOW - timedelta(days=days))
    named = re.compile(r"/desk/stocktake/\w+\"><strong>([^<]+)")
    first = desk.get("/desk/stocktake")
    found = named.findall(first)
    assert len(found) == 25 and found[:6] == ["Rack 3", "Rack 4", "Rack 5", "Rack 6", "Rack 8", "Rack 9"]
    way = re.search(r'href="(/desk/stocktake\?[^"]+)">More places', first)
    assert way is not None
    rest = desk.get(html.unescape(way[1]))
    assert named.findall(rest)[-4:] == ["Rack 40", "Rack 7", "Rack 2", "Rack 1"] and "More places" not in rest
    assert len(set(found) | set(named.findall(rest))) == 40
    assert "counted 23 Feb by command line" in said(rest) and "not counted yet" in said(first)
    assert named.findall(desk.get("/desk/stocktake?q=rack+40")) == ["Rack 40"]
    assert "No place has that in its name." in said(desk.get("/desk/stocktake?q=shelf"))
    # counted in the browser, though nothing was astray: it is the last one from then on
    path = f"/desk/stocktake/{codes[2]}"
    assert desk.phone.post(f"{path}/seen").status_code == 303
    assert "Finish: the log was right" in desk.get(path)
    done = desk.phone.post(f"{path}/put-right", data={"entry": fresh()})
    assert "Counted: all is as the log has it" in done.text
    assert "Rack 3" not in named.findall(desk.get("/desk/stocktake")) and places.to_count(db, 99)[-1].place.id == 3
    told = "stock-take: 0 as the log has it, 0 put here, 0 missing · 4 Mar, 09:30 · Di Novak"
    assert told in said(desk.get(f"/places/{codes[2]}"))


def test_places_are_listed_a_page_at_a_time_and_found_by_name(desk: Desk, db: Database) -> None:
    me = shop.command_line(db, NOW)
    names = [f"Rack {n:02}" for n in range(1, 61)]
    for name in names:
        places_acts.add(db, me, name, "rack", post=fresh(), now=NOW)
    places_acts.add(db, me, "Press 1", "press", post=fresh(), now=NOW, heads=6)
    named = re.compile(r'<th scope="row"><a href="/places/\w+">([^<]+)')
    first = desk.get("/places")
    way = re.search(r'href="(/places\?[^"]+)">Next page', first)
    assert way is not None
    rest = desk.get(html.unescape(way[1]))
    assert named.findall(first) + named.findall(rest) == ["Press 1", *names] and len(named.findall(first)) == 50
    back = re.search(r'href="(/places\?[^"]+)">Previous page', rest)
    assert back is not None and named.findall(desk.get(html.unescape(back[1]))) == named.findall(first)
    down = named.findall(desk.get("/places?sort=-name&kind=rack"))
    assert down == names[:9:-1] and named.findall(desk.get("/places?kind=press&sort=-name")) == ["Press 1"]
    assert "Next page" not in rest and named.findall(desk.get("/places?q=RACK+07")) == ["Rack 07"]
    assert "No place has that in its name." in said(desk.get("/places?q=shelf"))


# The life of a screen, and paper


def lived(db: Database, stencils: int) -> str:
    """A screen that was coated, washed out and stripped so often; its code."""
    me, at = shop.command_line(db, NOW), NOW - timedelta(days=60)
    mesh = {"mesh_count_as_labelled": "230/in", "thread_um": "48", "frame": "aluminium"}
    code = str(screens.add(db, me, form(mesh), post=fresh(), now=at)[0])
    sheet = {
        "title": "Marsh warbler totes",
        "customer": "Reedbed Walkers",
        "due": "2026-03-12",
        "art": {"name": "Warbler", "revision": "1"},
        "garment": [{"style": "Tote", "colour": "natural", "pieces": 100, "fibre": {"cotton": 100}}],
        "placement": [{"name": "Front", "width": "100 mm", "height": "100 mm", "station": [{
            "does": "print", "colour": "reed green", "ink": "plastisol", "coverage": "50 %",
            "mesh": {"count": "230/in", "thread": "48 um"},
        }]}],
    }  # fmt: skip
    jobs.add(db, me, [job.read(sheet)], post=fresh(), now=at)
    for number in range(stencils):
        for step, sent in (
            ("degrease", {}),
            ("coat", {}),
            ("image", {"separations": "1"}),
            ("expose", {"exposure_s": "95"}),
            ("washout", {"result": "fault", "fault": "scum"} if number == 1 else {"result": "good"}),
            ("note", {"note": f"remark {number + 1} of the log"}),
            ("strip", {"still_needed": "yes"}),
        ):
            at += timedelta(hours=1)
            screens.log(db, me, find.screen(db, code), step, form(sent), post=fresh(), now=at)
    return code


def test_a_life_of_many_stencils_is_folded_but_for_the_newest(desk: Desk, db: Database) -> None:
    """Each fold says in its line when the stencil was on, and whether something went wrong with it."""
    page = desk.get(f"/desk/screens/{lived(db, 7)}")
    folds = re.findall(r'<details class="part stencil"( open)?>\s*<summary>(.*?)</summary>', page, re.S)
    assert [is_open for is_open, _line in folds] == [" open", *[""] * 6]
    lines = [" ".join(re.sub(r"<[^>]+>", " ", line).split()) for _open, line in folds]
    told = r"stencil \d \d+ Jan – \d+ Jan · reed green · Warbler 1 · 0 impressions"
    assert all(re.search(told, line) for line in lines), lines
    assert ["✕" in line for line in lines] == [False] * 5 + [True, False]


@pytest.mark.browser
def test_paper_has_every_fold_open(phone: Any, db: Database, sign_in_page: Callable[[Any, str], None]) -> None:
    """What stands in a closed fold, forms apart, is read back from the PDF that Chromium prints."""
    me = shop.command_line(db, NOW)
    rack = places_acts.add(db, me, "Rack 9", "rack", post=fresh(), now=NOW)
    places_acts.add_unit(db, me, "Old lamp", "point", post=fresh(), now=NOW)
    code = lived(db, 3)
    screens.log(db, me, find.screen(db, code), "rack", form({"place": "Rack 9"}), post=fresh(), now=NOW)
    shop.set_up(db, me, "shop", "The long shed", now=NOW)
    sign_in_page(phone, "Di Novak")
    for path, least in (
        ("/spec", 100), (f"/desk/screens/{code}", 20), ("/people?who=5", 1), ("/settings", 1), ("/desk/files", 100),
        ("/exposure-units/Old%20lamp", 1), (f"/places/{rack}", 1), (f"/screens/{code}", 0),
    ):  # fmt: skip
        phone.goto(path)
        folded = phone.evaluate(
            "[...document.querySelectorAll('main details:not([open]) :is(li, td, dd, summary)')]"
            ".filter(one => !one.closest('form') && !one.querySelector('ul, table, form, details, a.button')"
            " && !(one.matches('summary') && !one.parentElement.querySelector('li, td, dd')))"
            ".map(one => one.textContent)"
        )
        texts = {"".join(text.split()) for text in folded}
        printed = pdfium.PdfDocument(phone.pdf(format="A4"))
        paper = "".join("".join(page.get_textpage().get_text_range().split()) for page in printed)
        assert len(texts) >= least, (path, len(texts))
        paper = paper.replace("\ufffe", "").replace("-", "")  # a hyphen at the end of a line reads as the former
        missing = [text for text in texts if text and text.replace("-", "") not in paper]
        assert not missing, (path, missing[:5])
        assert "Save" not in paper and (path != f"/places/{rack}" or code[:5] in paper)


# Files


LINK = '=HYPERLINK("http://shop.test")'
FORMULAS = ("=1+1", "@x", "+1", "-3", "'=7", "''+1", LINK, "\uff1d1+1", "'s mark", "a=b")
"""Marks that begin like a formula, or like the quote that keeps one from running; two that do neither."""


def run_by_a_spreadsheet(cell: str) -> bool:
    """True for a cell that a spreadsheet may run (the characters that OWASP's "CSV Injection" page names)."""
    return cell[:1] in tuple("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")


def csv_of(rows: list[list[str]]) -> str:
    held = io.StringIO()
    csv.writer(held).writerows(rows)
    return held.getvalue()


def test_a_mark_like_a_formula_comes_in_as_text_goes_out_harmless_and_comes_back(
    desk: Desk, db: Database, tmp_path: Path
) -> None:
    """A frame list with such marks, brought in, taken along as screens.csv, and that file brought into another shop."""
    me = shop.command_line(db, NOW)
    places_acts.add(db, me, "+North wall", "rack", post=fresh(), now=NOW)
    places_acts.add(db, me, "-9 °C room", "rack", post=fresh(), now=NOW)
    frames = [[mark, "230/in", "48", "+North wall"] for mark in FORMULAS]
    frames.append(["\t=2+2", "230/in", "48", "-9 °C room"])  # led by a tab: blanks around a cell are nothing
    text = csv_of([["mark", "mesh_count", "thread_um", "place"], *frames])
    where = desk.phone.post("/bring", data={"kind": "frames", "list": text}).location
    assert db.execute("SELECT count(*) FROM screens").fetchone()[0] == 0
    assert [one.mark for one in shops.looked(db, text).items] == [*read_back(FORMULAS), "=2+2"]
    assert desk.phone.post(f"{where}/take").status_code == 303
    assert "11 frames brought in" in said(desk.phone.get(where).text)
    file = desk.phone.get("/desk/files/screens.csv").get_data(as_text=True).lstrip("\ufeff")
    lines = list(csv.DictReader(io.StringIO(file)))
    assert not [cell for line in lines for cell in line.values() if run_by_a_spreadsheet(cell)]
    kept = ["mark", "mesh_count", "thread_um", "place"]
    again = csv_of([kept, *([line[name] for name in kept] for line in lines)])
    store.prepare(tmp_path / "other")
    other = store.connect(tmp_path / "other")
    she = shop.command_line(other, NOW)
    for name in ("+North wall", "-9 °C room"):
        places_acts.add(other, she, name, "rack", post=fresh(), now=NOW)
    shops.brought(other, again)
    marked = "SELECT w.mark, p.name FROM standings w JOIN places p ON p.id = w.place ORDER BY w.screen"
    assert other.execute(marked).fetchall() == db.execute(marked).fetchall()
    assert [mark for mark, _place in other.execute(marked)] == [*read_back(FORMULAS), "=2+2"]
    other.close()


def test_a_frame_of_a_list_has_settled_unless_its_day_of_stretching_is_told(db: Database) -> None:
    listed = "mark,mesh_count,frame,stretched_on\nA 1,230/in,aluminium,\nA 2,230/in,aluminium,2026-03-01\n"
    old, new = shops.brought(db, listed)
    assert find.screen(db, old).life.mesh.in_use and not find.screen(db, new).life.mesh.in_use


def read_back(marks: Sequence[str]) -> list[str]:
    """What a person's list means: one quote in front of a formula is a spreadsheet's own way to write text."""
    return [mark[1:] if mark.startswith("'") and run_by_a_spreadsheet(mark.lstrip("'")) else mark for mark in marks]


@given(st.text(max_size=12) | st.text("';\t =+-1@a", max_size=12))
def test_every_text_comes_back_from_its_cell(text: str) -> None:
    cell = exports.safe_cell(text)
    assert exports.as_written(cell) == text and not run_by_a_spreadsheet(cell)


def test_a_formula_in_a_column_of_numbers_is_refused_at_its_line(desk: Desk) -> None:
    for column, cell in (("mesh_count", "=230"), ("thread_um", "=48"), ("tension_n_per_cm", "-3")):
        row = {"mesh_count": "230/in", column: cell}
        text = csv_of([list(row), list(row.values())])
        answer = desk.phone.get(desk.phone.post("/bring", data={"kind": "frames", "list": text}).location)
        assert "1 line makes nothing" in said(answer.text) and "1 line: 2" in said(answer.text), (column, answer.text)


def test_the_address_stands_in_the_codes_of_tags_and_tickets(desk: Desk) -> None:
    """A screen and a place carry a tag, a job a ticket; the address is in the QR code of each."""
    assert "address in the QR codes" in said(desk.get("/more"))
    assert "tags and tickets keep the address they were printed with" in said(desk.get("/settings"))


# The customer's comparison, in the units that the job was typed in


def printed(width: str, height: str | None, width_mm: float | None = None) -> AsRun:
    """A run of a placement of this size; `width_mm`: without what was typed."""
    sheet = {
        "title": "Gulls", "customer": "Invented Rowing", "due": "2026-04-01", "art": {"name": "Gull", "revision": "2"},
        "garment": [{"style": "Heavy tee", "colour": "navy", "pieces": 100, "fibre": {"cotton": 100}}],
        "placement": [{"name": "Front", "width": width, **({"height": height} if height else {}), "station": [
            {"does": "print", "colour": "red", "ink": "plastisol", "mesh": {"count": "230/in", "thread": "48 um"}}]}],
    }  # fmt: skip
    order = job.read(sheet)
    place = order.placements[0]
    return AsRun(1, "JOB010", order, replace(place, width_mm=width_mm, typed={}) if width_mm else place)


@pytest.mark.parametrize(
    ("before", "after", "said_before", "said_after", "differs", "far"),
    [  # 1 in = 25.4 mm exactly (NIST SP 811)
        (("12 in", "14 in"), ("12 in", "14 in"), "12 in × 14 in", "12 in × 14 in", False, ""),
        (("12 in", None), ("11,5 in", None), "12 in", "11,5 in", True, "-0.5 in"),
        (("12 in", None), ("305 mm", None), "12 in", "305 mm", False, ""),  # 304.8 mm: the same to the whole mm
        (("30 cm", "250 mm"), ("300 mm", "240 mm"), "30 cm × 250 mm", "300 mm × 240 mm", True, "-10 mm"),
        (("12 in", None), ("12 in", "14 in"), "12 in", "12 in × 14 in", None, ""),
    ],
)
def test_the_customer_reads_sizes_as_they_were_typed(
    before: tuple[str, str | None], after: tuple[str, str | None],
    said_before: str, said_after: str, differs: bool | None, far: str,
) -> None:  # fmt: skip
    a, b = printed(*before), printed(*after)
    lines = for_customer(compare(a, b, Spec(shipped()), system="us"), a, b)
    (size,) = [line for line in lines if line.what == "size"]
    plain = [text.replace("\u00a0", " ").replace("\u2212", "-") for text in (size.a, size.b, size.by_how_much)]
    assert [*plain, size.differs] == [said_before, said_after, far, differs]


@pytest.mark.parametrize(("system", "said_so"), [("us", "12 in"), ("metric", "304.8 mm")])
def test_a_size_that_nobody_typed_is_said_in_the_shops_units(system: str, said_so: str) -> None:
    a = b = printed("1 in", None, width_mm=304.8)
    (size,) = [one for one in compare(a, b, Spec(shipped()), system=system) if one.what == "size"]
    assert size.a.replace("\u00a0", " ") == said_so


def test_a_limit_changed_since_the_last_print_is_said_in_the_shops_units(tmp_path: Path) -> None:
    """Tension is N/cm in every shop."""
    db = shop.open_shop(tmp_path, NOW)
    me = shop.command_line(db, NOW)
    shop.set_up(db, me, "units", "us", now=NOW)
    row = next(one for one in the_spec(db).rows if one.key == "tension-watch" and one.value == 20)
    shop.add_spec_row(db, me, replace(row, value=21.0, source="ours"), now=NOW + timedelta(days=1))
    (change,) = repeats._spec_changes(db, stamp(NOW + timedelta(hours=1)))
    assert (change.before.replace("\u00a0", " "), change.after.replace("\u00a0", " ")) == ("20 N/cm", "21 N/cm")


def test_the_command_line_notes_by_whom_it_adds_somebody(folder: Path, db: Database) -> None:
    asked = ["person", "add", "Eva Roth", "--role", "press", "--secret-stdin", "--by", "Di Novak"]
    done = CliRunner().invoke(cli.root, [*asked, "--data", str(folder)], input="472059\n")
    assert done.exit_code == 0, done.output
    eva = people_rows.find(db, "Eva Roth")
    assert eva is not None
    assert [(one.what, one.becomes, one.person) for one in changes.of(db, "person", eva.id)] == [
        ("added", "press", "Di Novak")]  # fmt: skip
