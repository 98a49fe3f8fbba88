"""The desk's pages and files: lots traced both ways, a screen's life, the pool, kept screens, stock-take, lists."""

from __future__ import annotations

import csv
import io
import json
import re
import secrets
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
import shop as shops
from flask import Flask
from flask.testing import FlaskClient
from shop import NOW, Shop
from sqlite_utils import Database

from tickets import demo, store
from tickets.actions import jobs as jobs_acts
from tickets.actions import screens, shop, stocktake
from tickets.domain.code import shown
from tickets.domain.jobs import job
from tickets.domain.posted import form
from tickets.domain.runs import run_trace
from tickets.domain.screens import frames as rules
from tickets.queries import desk as desk_now
from tickets.queries import exports, find, learning, limits, sound, trace
from tickets.store import boards as store_boards
from tickets.store import buckets, desk, jobs
from web import menu

SignIn = Callable[[FlaskClient, str], FlaskClient]


def fresh() -> str:
    return secrets.token_hex(12)


def at_the_desk(app: Flask) -> FlaskClient:
    """A phone of the demo's manager."""
    return shops.signed_in(shops.phone_of(app), "Di Novak", demo.SECRETS["Di Novak"][1])


@pytest.fixture(scope="module")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo shop, for the pages that only read."""
    return shops.the_demo(tmp_path_factory.mktemp("demo"))


@pytest.fixture(scope="module")
def demo_app(demo_folder: Path) -> Iterator[Flask]:
    with shops.pages(demo_folder, lambda: NOW) as app:
        yield app


@pytest.fixture
def demo_phone(demo_app: Flask) -> FlaskClient:
    """The demo's manager at the desk."""
    return at_the_desk(demo_app)


@pytest.fixture
def demo_db(demo_folder: Path) -> Database:
    return store.connect(demo_folder)


# Traces


def walked(db: Database) -> set[tuple[str, str, int]]:
    """(bucket, screen, run) by a plain walk through the exported log: what the last coats before a print were from."""
    crossed = {row["crosses"] for row in exports.exported(db) if row.get("crosses")}
    lines = [row for row in exports.exported(db) if row["screen"] and row["entry"] not in crossed]
    lines.sort(key=lambda row: (row["at"], row["saved_at"], row["part"], row["entry"]))
    on: dict[str, set[str]] = {}
    last: dict[str, str] = {}
    found = set()
    for row in lines:
        screen, step = str(row["screen"]), row["step"]
        if step in {"strip", "stretch"}:
            on[screen] = set()
        elif step == "coat":
            if last.get(screen) != "coat":
                on[screen] = set()
            if row["bucket"]:
                on[screen].add(str(row["bucket"]))
        elif step == "print":
            found |= {(bucket, screen, int(row["run"])) for bucket in on.get(screen, ())}
        if step not in {"rack", "note", "tension"}:
            last[screen] = step
    return found


def test_every_lot_is_traced_to_its_runs_and_every_job_back_to_its_lots(demo_db: Database) -> None:
    truth = walked(demo_db)
    assert len(truth) > 10
    there = {
        (one.bucket_code, str(one.code), one.run)
        for bucket in buckets.every(demo_db, limit=1000)
        for one in desk.from_bucket(demo_db, [bucket.id])
        if one.run is not None and one.impressions
    }
    back = {
        (one.bucket_code, str(one.code), one.run)
        for number in jobs.every_number(demo_db)
        for one in desk.to_buckets(demo_db, number)
        if one.bucket_code and one.impressions
    }
    assert there == truth and back == truth


def test_a_bucket_leads_to_its_jobs_and_a_job_to_its_lots_in_one_click(
    demo_phone: FlaskClient, demo_db: Database
) -> None:
    bucket = max(buckets.every(demo_db, limit=100), key=lambda one: desk.coats_of(demo_db, one.id)[0])
    found = trace.trace_buckets(demo_db, [bucket])
    assert f'href="/desk/trace/{bucket.code}"' in demo_phone.get(f"/buckets/{bucket.code}").text
    page = demo_phone.get(f"/desk/trace/{bucket.code}").text
    assert found.jobs and all(f'href="/desk/trace/{code}"' in page for code, _text in found.jobs)
    assert f"0 of {found.totals.stencils}" in page and "%" not in page.split("<main")[1].split("</main")[0]
    code = found.jobs[0][0]
    assert f'href="/desk/trace/{code}"' in demo_phone.get(f"/jobs/{code}").text
    assert f'href="/desk/trace/{bucket.code}"' in demo_phone.get(f"/desk/trace/{code}").text
    lot = demo_phone.get("/desk/trace", query_string={"lot": bucket.lot}).text
    assert f"Lot {bucket.lot}" in lot and found.jobs[0][0] in lot


def test_each_link_of_the_chain_is_one_click_from_the_next_both_ways(
    demo_phone: FlaskClient, demo_db: Database
) -> None:
    """Bucket, its screens, their finished runs, their jobs; from each back to the one before."""

    def links(path: str) -> set[str]:
        return set(re.findall(r'href="([^"?#]+)', demo_phone.get(path).text.split("<main")[1].split("</main")[0]))

    bucket = max(buckets.every(demo_db, limit=100), key=lambda one: desk.coats_of(demo_db, one.id)[0])
    done = {number for (number,) in demo_db.execute("SELECT id FROM runs WHERE state = 'finished'")}
    rows = [one for one in trace.trace_buckets(demo_db, [bucket]).rows if one.run in done]
    assert len(rows) > 5
    lot = f"/desk/trace/{bucket.code}"
    for one in rows:
        screen, run, own = f"/desk/screens/{one.code}", f"/runs/{one.run}", f"/desk/trace/{one.job_code}"
        assert {screen, run, own} <= links(lot)
        assert {lot, run, own} <= links(screen)
        assert {own, f"/jobs/{one.job_code}", f"/screens/{one.code}"} <= links(run)
        assert {lot, screen, run, f"/jobs/{one.job_code}"} <= links(own)
        assert {own, run} <= links(f"/jobs/{one.job_code}")


def test_a_bucket_of_ink_leads_to_what_was_printed_with_it_and_says_nothing_of_coats(
    demo_folder: Path, demo_phone: FlaskClient, tmp_path: Path
) -> None:
    copy = shutil.copytree(demo_folder, tmp_path / "copy")
    db = store.connect(copy)
    bucket = next(one for one in buckets.every(db, limit=100) if not one.emulsion)
    told = "SELECT run, sum(good), sum(misprinted) FROM upsets GROUP BY run HAVING sum(good) > 0 ORDER BY run LIMIT 2"
    truth = db.execute(told).fetchall()
    for run, well, spoiled in truth:  # at two stations of each run, which prints its pieces once all the same
        counts = f"1:{well}:{spoiled}:sure"
        lots = tuple(run_trace.InkLot(station, bucket.code, "", counts=counts) for station in (1, 3))
        desk.save_run(db, run, replace(desk.saved_run(db, run), ink_lots=lots))
    db.close()
    phone = at_the_desk(shops.app_of(copy, lambda: NOW))
    page = phone.get(f"/desk/trace/{bucket.code}").text.split("<main")[1].split("</main")[0]
    good, misprinted = (sum(row[place] for row in truth) for place in (1, 2))
    assert "coated" not in page
    assert "2 runs" in page and f"{good} good pieces, {misprinted} misprinted" in page
    jobs_ = set(re.findall(r'href="/desk/trace/([0-9A-Z]{6})"><span', page))
    assert jobs_ and all(f'href="/runs/{run}"' in page for run, _good, _misprinted in truth)
    assert all(f'href="/desk/trace/{bucket.code}"' in phone.get(f"/desk/trace/{job}").text for job in jobs_)
    rows = list(csv.DictReader(io.StringIO(phone.get(f"/desk/trace/{bucket.code}.csv").text.lstrip("\ufeff"))))
    assert sorted((int(row["run"]), row["print_order"]) for row in rows) == [
        (run, station) for run, _good, _misprinted in truth for station in ("1", "3")
    ]


def test_a_trace_as_a_file_has_every_line_under_columns_that_are_told(
    demo_phone: FlaskClient, demo_db: Database
) -> None:
    bucket = max(buckets.every(demo_db, limit=100), key=lambda one: desk.coats_of(demo_db, one.id)[0])
    answer = demo_phone.get(f"/desk/trace/{bucket.code}.csv")
    assert answer.mimetype == "text/csv"
    rows = list(csv.DictReader(io.StringIO(answer.text.lstrip("\ufeff"))))
    assert len(rows) == len(trace.trace_buckets(demo_db, [bucket]).rows) > 5
    assert list(rows[0]) == [column.name for column in trace.TRACE] and all(column.about for column in trace.TRACE)
    assert re.fullmatch(r"\d{4}-\d\d-\d\d \d\d:\d\d", rows[0]["coated_at"])


def test_what_is_no_lot_and_no_code_is_said(demo_phone: FlaskClient) -> None:
    answer = demo_phone.get("/desk/trace?lot=no-such-lot")
    assert answer.status_code == 404 and "no-such-lot" in answer.text
    assert demo_phone.get("/desk/trace/7K32XM").status_code == 404


# Reading pages


def test_a_screens_life_is_told_mesh_after_mesh(demo_phone: FlaskClient, demo_db: Database) -> None:
    row = demo_db.execute(
        "SELECT m.screen, (SELECT count(*) FROM stencils s WHERE s.screen = m.screen) FROM meshes m "
        "GROUP BY m.screen ORDER BY count(*) DESC LIMIT 1"
    ).fetchone()
    screen = demo_db.execute("SELECT code FROM screens WHERE id = ?", [row[0]]).fetchone()[0]
    page = demo_phone.get(f"/desk/screens/{screen}").text
    assert page.count("<svg") == 3 and "Mesh 4, stencil" in page and "Ada Holm" in page and "Bo Lind" in page
    assert "Mesh 1, stencil 1" in page
    rows = list(csv.DictReader(io.StringIO(demo_phone.get(f"/desk/screens/{screen}.csv").text.lstrip("\ufeff"))))
    assert len(rows) == row[1] and rows[0]["mesh"] == rows[0]["stencil"] == "1"


def test_a_new_frames_life_says_what_is_not_there_and_draws_no_empty_picture(demo_phone: FlaskClient) -> None:
    sent = {"mesh_count_as_labelled": "230", "mesh_count_as_labelled.unit": "/in", "frame": "aluminium", "number": "1"}
    answer = demo_phone.post("/screens/new", data={**sent, "entry": secrets.token_hex(12)}, follow_redirects=True)
    code = re.search(r"/screens/([0-9A-Z]{6})", answer.text)
    assert code is not None, answer.text[:2000]
    page = demo_phone.get(f"/desk/screens/{code[1]}").text
    assert "<svg" not in page and "Nothing was printed with it yet." in page and "never measured" in page


def test_no_curve_is_drawn_of_meshes_that_too_few_have_worn_out_of(demo_phone: FlaskClient) -> None:
    page = demo_phone.get("/mesh-lives").text
    ranges = re.findall(r'<section aria-label="(?!Likely)[^"]*">(.*?)</section>', page, re.S)
    told = [("<svg" in one, "Half last" in one) for one in ranges]
    assert all(drawn == known for drawn, known in told) and (False, False) in told
    assert "Kaplan" not in page.split("</h1>")[1].split("<section")[0] and "Kaplan" in page


def test_a_life_says_how_many_uses_are_left_or_that_it_takes_more_readings(
    demo_phone: FlaskClient, demo_db: Database
) -> None:
    rows = demo_db.execute(
        "SELECT s.code, count(t.place) FROM standings w JOIN screens s ON s.id = w.screen "
        "JOIN tensions t ON t.screen = s.id AND t.mesh = coalesce(json_extract(w.life, '$.meshes'), 0) "
        "WHERE coalesce(json_extract(w.life, '$.retensioned_at'), '') = '' GROUP BY s.id"
    ).fetchall()
    few = next(code for code, number in rows if number < 3)
    enough = max(rows, key=lambda row: row[1])[0]
    assert "A forecast needs 3" in demo_phone.get(f"/desk/screens/{few}").text
    page = demo_phone.get(f"/desk/screens/{enough}").text
    assert '<details class="tension part" open>' in page  # what the manager came for, on the screen and on paper
    page = page.split("Tension forecast:")[1].split("</summary>")[0]
    assert "A forecast needs" not in page and ("uses left" in page or "longer than anybody plans" in page), page


@pytest.mark.parametrize("path", ["/desk", "/desk/short", "/desk/pool", "/desk/wrong", "/desk/limits", "/desk/kept",
                                  "/desk/trace", "/desk/stocktake", "/desk/files"])  # fmt: skip
def test_every_page_of_the_manager_leads_to_every_other(demo_phone: FlaskClient, path: str) -> None:
    """One tap, before the main part, each once; and the page begins with what one came for."""
    head, main = demo_phone.get(path).text.split("<main")
    every = [one.path for _word, some in menu.GROUPS for one in some if one.path != "/mine"]  # behind one's name
    assert len(every) == len(set(every)) > 20
    for other in every:
        assert head.count(f'href="{other}"') == 1, other
    assert head.count('aria-current="page"') == 1 and f'href="{path}" aria-current="page"' in head
    assert main.index("<h1") < 400


def test_each_role_has_its_own_pages_in_the_menu_and_the_way_to_all_it_may_open(demo_app: Flask) -> None:
    words = {"screen room": "Ada Holm", "press": "Bo Lind", "press lead": "Cy Marsh"}
    for role, name in words.items():
        phone = shops.signed_in(shops.phone_of(demo_app), name, demo.SECRETS[name][1])
        page = phone.get("/more").text
        mine = re.findall(r'<a href="([^"]+)"', page.split('<nav class="pages"')[1].split("</nav>")[0])
        first = phone.get("/").headers["Location"]
        assert first in mine and "/more" in mine and 7 <= len(mine) <= 12, role
        rest = re.findall(r'<a href="([^"]+)"', page.split("<main")[1])
        assert set(mine) - {"/more"} < set(rest) and "/people" not in rest, role
        assert [phone.get(one).status_code for one in rest] == [200] * len(rest)


def test_limits_are_folded_each_with_its_values_in_view(demo_phone: FlaskClient) -> None:
    page = demo_phone.get("/spec").text
    limits = re.findall(r'<details class="limit">\s*<summary>(.*?)</summary>', page, re.S)
    assert len(limits) == page.count('<div id="') > 25 and "<details open" not in page
    groups = [" ".join(re.sub("<.*?>", "", one).split()) for one in re.findall(
        r'<details class="part">\s*<summary>(.*?)</summary>', page, re.S)]  # fmt: skip
    assert groups[0].startswith("Wanted exposures 2 limits · ") and "of our own" in groups[0]  # the demo's own times
    assert re.match(r"Tension \d+ limits", groups[1]) and "of our own" not in groups[1]
    floor_line = next(line for line in limits if "floor" in line.casefold())
    assert "N/cm" in floor_line or "lbf/in" in floor_line


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("/desk/pool?days=365", "half take less than"),
        ("/desk/wrong?days=365", "By exposure unit"),
        ("/desk/limits", "set-ups"),
        ("/desk/kept", "an open job asks for it"),
        ("/desk/short", "Day by day"),
        ("/desk/stocktake", "Rack 1"),
        ("/desk/files", "entries"),
        ("/bring", "mesh count"),
        ("/desk/trace", "Open buckets"),
    ],
)
def test_each_page_of_the_desk_is_there_in_both_lights(demo_phone: FlaskClient, path: str, said: str) -> None:
    assert said in demo_phone.get(path).text
    assert demo_phone.post("/view", data={"next": "/desk", "view": "safelight"}).status_code == 303
    dark = demo_phone.get(path).text
    assert "<select" not in dark and said in dark
    assert path != "/bring" or ('type="file"' not in dark and "Show what would be made" not in dark)
    demo_phone.post("/view", data={"next": "/desk", "view": "day"})


def test_a_method_is_named_small_behind_the_plain_words(demo_phone: FlaskClient) -> None:
    for path, method in (("pool", "Takács"), ("pool", "Kaplan"), ("wrong", "self-starting chart")):
        page = demo_phone.get(f"/desk/{path}").text
        assert page.count(method) == 1 and method in "".join(re.findall("<small>(.*?)</small>", page))


def test_what_waits_for_a_bucket_is_said_with_the_day(demo_phone: FlaskClient) -> None:
    page = demo_phone.get("/desk/trace").text
    assert "1 coated screens" not in page
    assert re.search(r"next for .*? <span>\d+ \w+, (in \d+ days?|today|tomorrow)", page)


def test_what_the_desk_reckons_from_is_proved_with_the_shop(demo_db: Database) -> None:
    assert sound.check(demo_db) == []
    before = {table: demo_db.execute(f"SELECT * FROM {table}").fetchall() for table in
              ("stays", "stencils", "coats", "hangings", "upsets", "ink_lots", "cautions")}  # fmt: skip
    assert all(before.values())
    shop.rebuild(demo_db)
    for table, rows in before.items():
        assert sorted(map(repr, demo_db.execute(f"SELECT * FROM {table}").fetchall())) == sorted(map(repr, rows))


@pytest.mark.parametrize("table", ["stays", "stencils", "coats", "hangings", "upsets"])
def test_a_table_that_is_not_what_the_log_says_is_found(demo_db: Database, table: str) -> None:
    with store.writing(demo_db):
        kept = demo_db.execute(f"SELECT rowid, at FROM {table} LIMIT 1" if table in {"coats", "hangings", "upsets"}
                               else f"SELECT rowid, since FROM {table} LIMIT 1" if table == "stays"
                               else f"SELECT rowid, begun_at FROM {table} LIMIT 1").fetchone()  # fmt: skip
        column = {"stays": "since", "stencils": "begun_at"}.get(table, "at")
        demo_db.execute(f"UPDATE {table} SET {column} = '2020-01-01T00:00:00.000000Z' WHERE rowid = ?", [kept[0]])
    assert len(sound.check(demo_db)) == 1
    with store.writing(demo_db):
        demo_db.execute(f"UPDATE {table} SET {column} = ? WHERE rowid = ?", [kept[1], kept[0]])
    assert sound.check(demo_db) == []


def test_a_limit_that_nags_says_what_would_change(demo_phone: FlaskClient, demo_db: Database) -> None:
    found, set_ups = limits.nags(demo_db)
    runs = demo_db.execute("SELECT count(DISTINCT run) FROM entries WHERE step = 'hang'").fetchone()[0]
    assert set_ups == runs >= 5
    hung = "SELECT run, verdict FROM entries WHERE step = 'hang' AND verdict IS NOT NULL"
    for one in found:  # counted again out of the log, reason by reason
        rows = demo_db.execute(hung).fetchall()
        cautioned = {
            run for run, verdict in rows
            if any(why["key"] == one.key and why["level"] != "ok" for why in json.loads(verdict)["reasons"])
        }  # fmt: skip
        assert (one.number, one.of) == (len(cautioned), runs)
        assert one.nags is (one.number > runs / 5)
        assert one.moved is None or one.moved.number <= runs / 5
    assert any(one.nags and one.moved for one in found)
    assert "shown too often:" in demo_phone.get("/desk/limits").text


# Files


@pytest.mark.parametrize("name", sorted(set(exports.tables()) - {"printed"}))  # the demo has printed nothing yet
def test_every_file_is_there_twice_with_its_columns_told(demo_phone: FlaskClient, name: str) -> None:
    table = exports.tables()[name]
    rows = list(csv.DictReader(io.StringIO(demo_phone.get(f"/desk/files/{name}.csv").text.lstrip("\ufeff"))))
    lines = [json.loads(line) for line in demo_phone.get(f"/desk/files/{name}.jsonl").text.splitlines()]
    assert len(rows) == len(lines) > 0
    assert list(rows[0]) == [column.name for column in table.columns]
    assert set(rows[0]) >= {column for line in lines for column in line} - {"more"} or name == "entries"
    told = list(csv.DictReader(io.StringIO(demo_phone.get("/desk/files/columns.csv").text.lstrip("\ufeff"))))
    assert {row["column"] for row in told if row["file"] == name} == set(rows[0])
    assert all(row["about"] for row in told if row["file"] == name and name != "entries")


def test_a_file_runs_nothing_in_a_spreadsheet() -> None:
    """OWASP, CSV injection: a cell that begins like a formula gets a quote in front."""
    columns = (exports.Column("title", ""), exports.Column("uses", ""))
    text = "".join(exports.csv_file(columns, [{"title": "=1+1", "uses": -3}, {"title": "@x", "uses": 2.5}]))
    assert text.startswith("\ufefftitle,uses\r\n") and "\r\n'=1+1,-3\r\n'@x,2.5\r\n" in text
    for begun in ("+1", "-1", "\t1", "\r1", "\n1", "\uff1d1+1", "\uff0b1", "\uff0d1", "\uff201"):
        assert exports.safe_cell(begun) == f"'{begun}"
    assert (exports.safe_cell(-0.5), exports.safe_cell("24-25")) == (-0.5, "24-25")
    # where lines are parted at a semicolon or a tab, a cell begins behind each of them
    parted = {"a;=1": "a;'=1", "a; @x": "a; '@x", "a\t+x": "a\t'+x", "a\n=1": "a\n'=1", "32.5; -3; +2": "32.5; -3; +2"}
    for text, cell in parted.items():
        assert exports.safe_cell(text) == cell and exports.as_written(cell) == text
    assert exports.safe_cell(["white", "=1+1", "-2"]) == "white; '=1+1; -2"
    assert exports.safe_cell({"=a": 60}, many=True) == "'=a 60"


@pytest.mark.parametrize("name", sorted(set(exports.tables()) - {"printed"}))  # the demo has printed nothing yet
def test_a_spreadsheet_reads_every_number_and_every_time_of_a_file(demo_phone: FlaskClient, name: str) -> None:
    """Read back with the standard library's csv: a number is the number of the JSON line, a time a date with its minute
    (as ISO 8601 writes it, without zone, which spreadsheets take for a date)."""
    rows = list(csv.DictReader(io.StringIO(demo_phone.get(f"/desk/files/{name}.csv").text.lstrip("\ufeff"))))
    lines = [json.loads(line) for line in demo_phone.get(f"/desk/files/{name}.jsonl").text.splitlines()]
    units, timed = {column.name: column.unit for column in exports.tables()[name].columns}, 0
    for row, line in zip(rows, lines, strict=True):
        for column, cell in row.items():
            value = line.get(column)
            if isinstance(value, int | float) and not isinstance(value, bool):
                assert float(cell) == value
            elif isinstance(value, list) and not any(isinstance(one, dict) for one in value):
                assert cell in {text := "; ".join(map(str, value)), f"'{text}"}
            elif isinstance(value, dict) and column in {"fibre", "recipe"}:
                assert cell == "; ".join(f"{part} {amount}" for part, amount in value.items())
            elif isinstance(value, list | dict):
                assert json.loads(cell) == value
            else:
                assert cell in {value or "", f"'{value}"}
            if units[column] == "time" and cell:
                datetime.strptime(cell, "%Y-%m-%d %H:%M")
                timed += 1
    assert timed or "time" not in units.values()


def test_the_files_hold_what_the_store_holds(demo_phone: FlaskClient, demo_db: Database) -> None:
    """Against plain SQL: every thing once, and the sums of what can be added up."""

    def held(name: str) -> list[dict[str, str]]:
        return list(csv.DictReader(io.StringIO(demo_phone.get(f"/desk/files/{name}.csv").text.lstrip("\ufeff"))))

    def told(question: str) -> list[tuple[object, ...]]:
        return [tuple(row) for row in demo_db.execute(question)]

    def total(rows: list[dict[str, str]], column: str) -> int:
        return sum(int(row[column]) for row in rows)

    screens_, runs_ = held("screens"), held("runs")
    tensions = "SELECT c.code, s.minimum_n_per_cm, s.uses, s.impressions FROM standings s JOIN codes c"
    tensions += " ON c.kind = 'screen' AND c.thing = s.screen AND c.replaced = 0"
    assert len(screens_) == len(told(tensions)) > 30
    assert {
        (one["screen"], float(n) if (n := one["lowest_tension_n_per_cm"]) else None, int(one["uses"]),
         int(one["impressions"])) for one in screens_
    } == set(told(tensions))  # fmt: skip
    counted = "SELECT sum(json_extract(vals, '$.good')), sum(json_extract(vals, '$.misprinted')) FROM entries"
    counted += " WHERE step = 'count' AND entry NOT IN (SELECT coalesce(crosses, '') FROM entries)"
    assert told(counted) == [(total(runs_, "good"), total(runs_, "misprinted"))]
    assert [(total(held("stencils"), "impressions"),)] == told("SELECT sum(impressions) FROM stencils")
    assert {(one["bucket"], one["lot"]) for one in held("buckets")} == set(told("SELECT code, lot FROM buckets"))
    assert {(one["job"], one["due"]) for one in held("jobs")} == set(told("SELECT code, due FROM jobs"))
    assert [(one["entry"],) for one in held("entries")] == told("SELECT entry FROM entries ORDER BY id")


# Stock-take


def racked(db: Database) -> tuple[Shop, list[str]]:
    """Two racks with three screens; the log has one of them on the other rack."""
    made = Shop(db, NOW - timedelta(hours=2), me="Ada Holm")
    made.place("Rack 1")
    made.place("Rack 2")
    codes = made.frames(3, 0, mark="S 1")
    for code, rack in zip(codes, ("Rack 1", "Rack 1", "Rack 2"), strict=True):
        made.log(code, "rack", place=rack)
    return made, codes


def test_a_stock_take_finds_what_is_missing_and_astray_and_puts_it_right(
    client: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    rack, codes = racked(db)
    phone = sign_in(client, "Ada Holm")
    one = find.place(db, "Rack 1").code
    path = f"/desk/stocktake/{one}"
    assert path in phone.get(f"/places/{one}").text
    assert phone.post(f"{path}/seen").status_code == 303
    begun = phone.get(path).text
    button = re.search(r'<button class="(\w+)">Finish: only those ticked are missing', begun)
    assert button is not None and button[1] == "quiet"  # nothing scanned yet is no reason to empty a rack
    assert f'name="gone" value="{codes[1]}">' in begun and " checked" not in begun.split("<main")[1]
    scanned = phone.get(f"/t/{codes[0]}").text  # the phone's camera: a page with one button, nothing written
    assert f'action="{path}/seen"' in scanned and "Seen on Rack 1" in scanned
    assert phone.post(f"{path}/seen", data={"code": codes[0]}).status_code == 303
    assert phone.post(f"{path}/seen", data={"code": "s3"}).status_code == 303  # by its painted mark
    bad = phone.post(f"{path}/seen", data={"code": "zz 9"})
    assert bad.status_code == 404 and "zz 9" in bad.text
    page = phone.get(path).text
    assert "1 of 2 seen" in page and "The log has these elsewhere" in page and "Rack 2" in page
    assert "Missing here: they get no place" in page
    assert f'name="gone" value="{codes[1]}" checked' in page  # one tap says it of all; one may be unticked
    done = phone.post(f"{path}/put-right", data={"entry": fresh(), "gone": codes[1]})
    assert done.status_code == 200 and "1 screen was put here" in done.text
    assert "1 screen is missing" in done.text and "Scan the next one" not in done.text
    assert rack.life(codes[2]).place == rack.life(codes[0]).place
    life = find.screen(db, codes[1]).life
    assert life.place is None and life.not_at is not None
    shown = phone.get(f"/screens/{codes[1]}").text
    assert "Stock-take of Rack 1: missing." in shown and "missing since the stock-take of Rack 1" in shown
    boss = sign_in(client, "Di Novak")
    assert "<b>1</b> <span>missing since the stock-take of the day shown" in boss.get("/desk").text
    assert codes[1] in boss.get("/screens?due=missing").text
    assert codes[0] not in boss.get("/screens?due=missing").text
    assert 'class="doing"' not in phone.get("/more").text  # the phone is free again
    ada = sign_in(client, "Ada Holm")
    ada.post(f"{path}/seen", data={"code": "\n".join(codes)})
    assert "1 screen was put here" in ada.post(f"{path}/put-right", data={"entry": fresh()}).text  # it turned up
    assert rack.life(codes[1]).place == rack.life(codes[0]).place and "missing" not in ada.get("/desk").text
    ada.post(f"{path}/seen", data={"code": "\n".join(codes)})
    assert "all is as the log has it" in ada.post(f"{path}/put-right", data={"entry": fresh()}).text
    assert sound.check(db) == []


def test_a_missing_screen_is_missed_until_it_is_in_somebodys_hands(db: Database) -> None:
    rack, codes = racked(db)
    place = find.place(db, "Rack 1")
    first = find.screen(db, codes[0])
    stay = [find.screen(db, codes[1]).id]
    assert not rules.is_free(replace(first.life, not_at=place.id), False) and rules.is_free(first.life, False)

    def there() -> int:
        found = find.screen(db, codes[0]).life
        assert found.mesh is not None
        count = found.mesh.count_per_cm
        (alike,), _given_up = desk.frames_of(db, [(count - 0.1, count + 0.1)], [str(found.standing)], ())
        return sum(one.number for one in alike)

    before = there()
    done = stocktake.put_right(db, rack.me, place, [], stay, post=fresh(), now=NOW - timedelta(minutes=50))
    assert done == {"racked": 0, "noted": 1}

    def missing() -> list[str]:
        return [str(one.code) for one in store_boards.due(db, [("missing", "", 0)])[0]]

    assert missing() == [codes[0]] and rack.life(codes[1]).place == place.id
    assert there() == before - 1  # nobody can reckon with it
    screens.log(db, rack.me, first, "note", form({"note": "asked the press"}), post=fresh(), now=NOW)
    assert missing() == [codes[0]]
    screens.log(db, rack.me, first, "tension", form({"readings_n_per_cm": "22"}), post=fresh(), now=NOW)
    assert there() == before
    assert missing() == [] and rack.life(codes[0]).place is None  # it is there, but nobody said where
    # moved at nine, looked for at ten at the place of before: the log has it elsewhere, and keeps that
    moved = form({"place": "Rack 2", "at": (NOW - timedelta(hours=1)).isoformat()})
    screens.log(db, rack.me, first, "rack", moved, post=fresh(), now=NOW)
    assert missing() == [] and rack.life(codes[0]).place == find.place(db, "Rack 2").id
    assert sound.check(db) == []


def test_not_there_can_be_crossed_out_and_stands_on_the_screens_page(
    client: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    rack, codes = racked(db)
    place, post = find.place(db, "Rack 1"), fresh()
    stay = [find.screen(db, code).id for code in codes[1:]]
    stocktake.put_right(db, rack.me, place, [], stay, post=post, now=NOW - timedelta(minutes=5))
    phone = sign_in(client, "Ada Holm")
    assert rack.life(codes[0]).place is None
    assert "missing since the stock-take of Rack 1" in phone.get(f"/screens/{codes[0]}").text
    assert codes[0] in phone.get("/screens?due=missing").text and codes[1] not in phone.get(
        "/screens?due=missing").text  # fmt: skip
    assert "missing since a stock-take" in phone.get("/desk").text
    wrong = form({"entry": fresh(), "crosses": post, "why": "it stood behind the others"})
    screens.cross_out(db, rack.me, wrong, post=fresh(), now=NOW)
    assert rack.life(codes[0]).place == place.id and store_boards.due(db, [("missing", "", 0)]) == [[]]
    assert "missing since the stock-take" not in phone.get(f"/screens/{codes[0]}").text.split("<h2")[0]
    assert sound.check(db) == []


# What runs short


def add_job(rack: Shop, colours: int, days: int) -> str:
    sheet = {
        "title": "Marsh warbler totes", "customer": "Reedbed Walkers",
        "due": (NOW + timedelta(days=days)).date().isoformat(), "art": {"name": "Warbler", "revision": "1"},
        "garment": [{"style": "Tote", "colour": "natural", "pieces": 100, "fibre": {"cotton": 100}}],
        "placement": [{"name": "Front", "width": "100 mm", "height": "100 mm", "station": [
            {"does": "print", "colour": f"green {n}", "ink": "plastisol", "mesh": {"count": "230/in"}}
            for n in range(colours)
        ]}],
    }  # fmt: skip
    at = NOW - timedelta(hours=1)
    return str(jobs_acts.add(rack.db, rack.me, [job.read(sheet)], post=fresh(), now=at)[0])


def test_a_job_of_four_colours_runs_short_with_three_frames(client: FlaskClient, sign_in: SignIn, db: Database) -> None:
    rack, codes = racked(db)  # three bare frames of 230/in
    code = add_job(rack, 4, 2)
    (mesh,) = desk_now.ahead(db, NOW).meshes
    assert (mesh.free, mesh.slack, mesh.needs) == (3, 0, ((code, "Marsh warbler totes", mesh.needs[0][2], 4),))
    assert mesh.short is not None and mesh.short.left == -1
    page = sign_in(client, "Di Novak").get("/desk/short").text
    assert re.search(r"1 frame too few for [^:<]+: [^<:]", page), "the job that it hits"
    assert f"/jobs/{code}" in page and "more frames of this mesh are needed" in page
    screens.log(db, rack.me, find.screen(db, codes[0]), "tension",
                form({"readings_n_per_cm": "9 9 9", "in_hand": "yes"}), post=fresh(), now=NOW)  # fmt: skip
    (mesh,) = desk_now.ahead(db, NOW).meshes
    assert (mesh.free, mesh.slack, mesh.short and mesh.short.left) == (2, 1, -2)  # a slack frame is no help as it is
    page = client.get("/desk/short").text
    assert "1 more if tightened or restretched: under the floor" in page and shown(codes[0]) in page


def test_a_job_that_the_frames_are_enough_for_is_not_short(db: Database) -> None:
    rack, codes = racked(db)
    add_job(rack, 3, 2)
    (mesh,) = desk_now.ahead(db, NOW).meshes
    assert mesh.short is None and [day.left for day in mesh.days][:3] == [3, 3, 0]


def test_the_demo_shows_what_would_help_a_mesh_that_runs_short(demo_phone: FlaskClient, demo_db: Database) -> None:
    """One mesh is a frame short: a kept screen that nobody ordered again may be stripped, frames that wait for new mesh
    may get this one, and another job gives one back, too late unless it is printed earlier."""
    (mesh,) = [one for one in desk_now.ahead(demo_db, NOW).meshes if one.short]
    assert (mesh.mesh, mesh.short and mesh.short.left, mesh.free) == ("195/in · 55 µm", -1, 0)
    (strip,), (soon,) = mesh.strip, mesh.soon
    assert strip.idle_d > 90 and strip.asked is None and mesh.restretch > 0
    section = demo_phone.get("/desk/short").text.split("195/in · 55 µm:")[1].split("</section>")[0]
    assert f"/desk/screens/{strip.one.code}" in section and "no print and no order for 4 months" in section
    assert "to be restretched: give " in section
    assert f"is free after {soon.title}" in section and "too late, unless it is printed earlier" in section
    assert str(strip.one.code) in demo_phone.get("/desk/kept?strip=1").text
    days = (mesh.short.day - NOW.date()).days if mesh.short else 0
    for choice in (3, 7, 14, 30):  # the desk itself says so first, as far as it looks ahead
        for path in (f"/desk?days={choice}", f"/desk?days={choice}&print=1"):
            page = demo_phone.get(path).text
            assert ("195/in · 55 µm:</strong> ✕ 1 frame too few for" in page) == (choice >= days), path
    assert "Enough frames for the jobs of these days." in demo_phone.get("/desk?days=3").text


def test_the_demos_bucket_of_white_leads_to_its_runs_and_jobs_and_back(
    demo_phone: FlaskClient, demo_db: Database
) -> None:
    """Against the set-up sheets themselves: each run whose sheet names the bucket, its job, and from there back."""
    (white,) = [one for one in buckets.every(demo_db, limit=100) if one.kind == "plastisol ink"]
    named = demo_db.execute(
        "SELECT DISTINCT e.run, j.code FROM entries e JOIN runs r ON r.id = e.run JOIN jobs j ON j.id = r.job "
        "WHERE e.step = 'sheet' AND e.vals LIKE ?", [f"%{white.code}%"],
    ).fetchall()  # fmt: skip
    assert len(named) >= 3 and len({job for _run, job in named}) >= 3
    page = demo_phone.get(f"/desk/trace/{white.code}").text.split("<main")[1].split("</main")[0]
    assert {int(run) for run in re.findall(r'href="/runs/(\d+)"', page)} == {run for run, _job in named}
    assert all(f'href="/desk/trace/{job}"' in page for _run, job in named)
    for _run, code in named:
        assert f'href="/desk/trace/{white.code}"' in demo_phone.get(f"/desk/trace/{code}").text
    assert f'href="/desk/trace/{white.code}"' in demo_phone.get(f"/buckets/{white.code}").text


def test_the_short_way_to_what_is_due_of_a_lamp_says_the_same(demo_db: Database) -> None:
    """The desk leaves out the lamps before and the combinations whose time nobody set; the unit's page has them all."""
    for name in learning.units_of(demo_db):
        whole, short = (learning.lamp_story(demo_db, name, NOW, whole=whole) for whole in (True, False))
        assert short.verdict == whole.verdict and short.stretches == whole.stretches[-1:]
        off = learning.off_among(learning.taught(demo_db, name, NOW))
        assert learning.set_times_off(demo_db, name, NOW) == off
    assert len(learning.lamp_story(demo_db, "Big lamp", NOW).stretches) == 2
    assert learning.every_set_time_off(demo_db, NOW)
