"""Lists as tables: each head puts them in order, the order and the filters stay in the address, pages go on by key."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from html import unescape
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from flask.testing import FlaskClient
from shop import Shop, clock
from sqlite_utils import Database

from tickets.actions import buckets
from tickets.domain.entry import stamp
from tickets.domain.jobs import job as sheets
from tickets.domain.posted import form
from tickets.queries import desk as desk_queries
from tickets.queries import find
from tickets.store import desk as desk_rows
from tickets.store import jobs, ordered, people, run_lines, screens
from tickets.store import log as store_log
from tickets.store import runs as stored_runs
from tickets.store.ordered import PageStart

SAMPLES = Path(__file__).parent.parent / "sample_jobs"
SignIn = Callable[[FlaskClient, str], FlaskClient]


def many(db: Database, number: int = 23) -> Shop:
    """Frames of several meshes, measured or not, marked or not, at several stages."""
    made = Shop(db, clock())
    for n in range(number):
        values = {
            "mesh_count_as_labelled": ("230/in", "110/in", "90/cm")[n % 3],
            "mark": f"H {n * 7 % 10}" if n % 4 else "",
        }
        (code,) = made.frames(1, 1, **values)
        if n % 3:
            made.steps(code, ("tension", {"readings_n_per_cm": str(20 + n * 5 % 7)}))
        if n % 5 == 0:
            made.steps(code, ("degrease", {}))
    return made


def walked(db: Database, order: str, down: bool, wanted: screens.InventoryAsked) -> list[list[int]]:
    """The pages of four, one after the other."""
    pages, row = list[list[int]](), 0
    while found := screens.in_order(db, wanted, order, screens.place_of(db, order, down, row), 4):
        pages.append([one.id for one in found])
        row = found[-1].id
    return pages


@pytest.mark.parametrize("down", [False, True])
@pytest.mark.parametrize("order", ["number", *screens.IN_ORDER])
def test_every_order_lists_every_screen_once_by_its_column_and_goes_back_the_same_way(
    db: Database, order: str, down: bool
) -> None:
    many(db)
    column = screens.IN_ORDER[order].column if order in screens.IN_ORDER else "w.screen"
    for standing in ("", "bare"):
        rows = db.execute(
            f"SELECT w.screen, {column} FROM standings w WHERE ? IN ('', w.standing)", [standing]
        ).fetchall()
        known = sorted(
            (row for row in rows if row[1] not in (None, "")), key=lambda row: (row[1], row[0]), reverse=down
        )
        lacking = sorted((row for row in rows if row[1] in (None, "")), reverse=down, key=lambda row: row[0])
        wanted = screens.InventoryAsked(standing=standing)
        pages = walked(db, order, down, wanted)
        assert [one for page in pages for one in page] == [row[0] for row in known + lacking]
        assert len(pages) > 2
        for page, following in zip(pages, pages[1:], strict=False):
            back = screens.place_of(db, order, down, following[0], back=True)
            assert [one.id for one in screens.in_order(db, wanted, order, back, 4)] == page


def test_every_order_that_is_offered_is_read_out_of_an_index(db: Database) -> None:
    """At the top, behind a row, before one, and behind one without a value: nothing is sorted, nothing gone through."""
    many(db, 3)
    asked = list[str]()
    behind, places = ("5", 3), [PageStart(down) for down in (False, True)]
    places += [PageStart(down, key, back) for down, key, back in (
        (False, behind, False), (True, behind, False), (True, behind, True), (False, (None, 3), False))]  # fmt: skip
    db.conn.set_trace_callback(asked.append)
    for order in ("number", *screens.IN_ORDER):
        for place in places:
            screens.in_order(db, screens.InventoryAsked(), order, place, 5)
    db.conn.set_trace_callback(None)
    lists = [sql for sql in asked if "ORDER BY" in sql]
    assert len(lists) >= 40
    for sql in lists:
        plan = [row[3] for row in db.execute(f"EXPLAIN QUERY PLAN {sql}").fetchall()]
        assert not any("TEMP B-TREE" in line for line in plan), (sql, plan)
        assert "ORDER BY w.screen" in sql or all("USING" in line for line in plan if line.startswith("SCAN")), (
            sql,
            plan,
        )


@pytest.mark.parametrize("more", [{"empty": True, "number": True}, {"blank": True}])
def test_a_row_without_a_value_stands_behind_all_that_have_one_both_ways(more: dict[str, bool]) -> None:
    nothing = ordered.Order("c", "i", **more)
    none, some = ("c IS NULL", "c IS NOT NULL") if "empty" in more else ("c = ''", "c > ''")
    for down in (False, True):
        assert [one for one, _v in ordered.parts(nothing, "n", PageStart(down))] == [some, none]
    lacking = None if "empty" in more else ""
    assert ordered.parts(nothing, "n", PageStart(True, (lacking, 4))) == [(f"{none} AND n < ?", [4])]
    back = ordered.parts(nothing, "n", PageStart(False, (lacking, 4), back=True))
    assert back == [(f"{none} AND n < ?", [4]), (some, [])]


# The pages ----------------------------------------------------------------------------------------------------------

HEAD = r'<th scope="col"([^>]*)>(?:<a href="([^"]*)">)?([^<]*)'


def heads(page: str) -> dict[str, tuple[str, str]]:
    """The heads of a list by word: how it is sorted by each (empty: it is not), where a tap leads."""
    table = page.split('<table class="sheet list')[1].split("</thead>")[0]
    found = {}
    for more, link, word in re.findall(HEAD, table):
        told = re.search(r'aria-sort="(\w+)"', more)
        found[word.strip()] = (told[1] if told else "", unescape(link))
    return found


def codes(page: str) -> list[str]:
    return re.findall(r'<th scope="row"><a href="/screens/(\w+)"', page)


def button(page: str, word: str) -> str:
    """Where a button of the pages of a list leads; empty: there is none."""
    found = re.search(rf'<a class="button[^"]*" href="([^"]*)">{word}</a>', page)
    return unescape(found[1]) if found else ""


def test_the_order_and_the_filter_of_screens_stay_in_the_address_from_page_to_page(
    app: Any, client: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    made = Shop(db, clock())
    made.frames(60, mesh_count_as_labelled="230/in")
    made.frames(3, mesh_count_as_labelled="110/in")
    boss = sign_in(client, "Di Novak")
    first = boss.get("/screens?mesh=230/in").text
    assert heads(first)["Screen"] == ("ascending", "/screens?mesh=230%2Fin&sort=-number")
    assert heads(first)["Place"] == ("", "") and heads(first)["Uses"][1].endswith("sort=-uses")
    down = boss.get(heads(first)["Screen"][1]).text
    assert heads(down)["Screen"] == ("descending", "/screens?mesh=230%2Fin&sort=number")
    assert codes(down)[:3] == [str(one) for one in reversed(made_codes(db))][3:6] and len(codes(down)) == 50
    onward = button(down, "Next page")
    assert "sort=-number" in onward and "mesh=230%2Fin" in onward and not button(down, "Previous page")
    second = boss.get(onward).text
    assert len(codes(second)) == 10 and not button(second, "Next page") and heads(second)["Screen"][0] == "descending"
    back = boss.get(button(second, "Previous page")).text
    assert codes(back) == codes(down) and not button(back, "Previous page")
    # another order begins at the top; a filter that is taken out leaves the order
    assert "after" not in heads(second)["Mark"][1] and "mesh=230%2Fin" in heads(second)["Mark"][1]
    assert 'class="tag" href="/screens?sort=-number"' in second
    # and so does a mesh that is chosen out of the counts, or a form that narrows the list
    counted = unescape(boss.get("/screens?sort=-tension&standing=bare").text)
    assert 'href="/screens?mesh=110%2Fin&sort=-tension"' in counted
    assert 'href="/screens?mesh=110%2Fin&standing=bare&sort=-tension"' in counted
    assert '<input type="hidden" name="sort" value="-tension">' in counted
    assert 'href="/screens?sort=-tension">all screens' in counted
    for odd in ("sort=nonsense", "sort=--uses", "sort=-uses&after=9999999999999999999", "before=x", "after=-3"):
        answer = boss.get(f"/screens?{odd}")
        assert answer.status_code == 200 and len(codes(answer.text)) == 50, odd


def made_codes(db: Database) -> list[str]:
    return [row[0] for row in db.execute("SELECT code FROM screens ORDER BY id").fetchall()]


def test_jobs_are_listed_by_press_date_customer_and_title_and_closed_ones_by_date_alone(
    client: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    made = Shop(db, clock())
    sheet = sheets.read_file(SAMPLES / "harbour-lights.toml")
    named = [("Zinc", "Ant"), ("Alder", "Cat"), ("Moss", "Bee"), ("Alder", "Ant")]
    found = [made.job(replace(sheet, title=title, customer=customer, reference=f"R{n}",
                              due=(made.now + timedelta(days=9 - n)).date()))
             for n, (title, customer) in enumerate(named)]  # fmt: skip
    boss = sign_in(client, "Di Novak")

    def listed(address: str) -> list[int]:
        page = boss.get(address).text
        return [[str(one.code) for one in found].index(code) for code in re.findall(r'<a href="/jobs/(\w+)">', page)]

    first = boss.get("/jobs").text
    assert heads(first)["Press date"][0] == "ascending" and listed("/jobs") == [3, 2, 1, 0]
    assert listed(heads(first)["Press date"][1]) == [0, 1, 2, 3]
    assert listed(heads(first)["Job"][1]) == [1, 3, 2, 0] and listed("/jobs?sort=-customer") == [1, 2, 3, 0]
    for order, rows in (("title", [1, 3, 2, 0]), ("customer", [0, 3, 2, 1])):
        start = jobs.place_of(db, order, False, found[rows[1]].id)
        assert [one.id for one in jobs.in_order(db, order, start, 9)] == [found[n].id for n in rows[2:]]
        back = jobs.place_of(db, order, False, found[rows[2]].id, back=True)
        assert [one.id for one in jobs.in_order(db, order, back, 9)] == [found[n].id for n in rows[:2]]
        plan = db.execute(
            f"EXPLAIN QUERY PLAN SELECT id FROM jobs WHERE closed_at IS NULL AND {order} >= 'b' ORDER BY {order}, id"
        ).fetchall()
        assert f"jobs_open_by_{order}" in plan[0][3] and len(plan) == 1
    closed = boss.get("/jobs?closed=yes&sort=title").text
    assert "None." in closed and heads_of(boss.get("/jobs?q=R2").text) == []


def test_each_open_job_has_a_dot_for_each_image(client: FlaskClient, sign_in: SignIn, db: Database) -> None:
    """Full where a screen is ready, half where it is on the way, crossed where there is none; a closed job has none."""
    made = shops.with_presses(db)
    job = made.job()
    made.screen(job, 1)
    boss = sign_in(client, "Di Novak")

    def dots(address: str) -> list[str]:
        return re.findall(r'<svg class="dot (\w+)"', boss.get(address).text)

    assert dots("/jobs") == ["ready", "none"] == dots(f"/jobs?q={job.code}")
    made.screen(job, 3, until="expose")
    assert dots("/jobs") == ["ready", "half"]
    assert "1 of 2 ready" in boss.get("/jobs").text or "1 ready" in boss.get("/jobs").text
    db.execute("UPDATE jobs SET closed_at = '2026-03-01' WHERE id = ?", [job.id])
    assert dots("/jobs?closed=yes") == dots("/jobs") == []


def heads_of(page: str) -> list[str]:
    """The heads of a list that lead to another order."""
    return [word for word, (_sorted, link) in heads(page).items() if link]


def test_open_buckets_are_in_the_order_of_a_head(client: FlaskClient, sign_in: SignIn, db: Database) -> None:
    made = Shop(db, clock())
    for product in ("Zinc white", "Alder base", "Moss green"):
        sent = form({"kind": "discharge ink", "product": product})
        buckets.mix(db, made.me, sent, post=shops.fresh(), now=made.now)
    boss = sign_in(client, "Di Novak")

    def listed(address: str) -> list[str]:
        return re.findall(r'<td class="mark">(\w+) ', boss.get(address).text)

    up = heads(boss.get("/buckets").text)["Product"][1]
    assert listed(up) == ["Alder", "Moss", "Zinc"]
    assert listed(heads(boss.get(up).text)["Product"][1]) == ["Zinc", "Moss", "Alder"]
    assert heads_of(boss.get("/buckets?all=1").text) == []


def test_the_log_is_narrowed_to_a_day_a_person_a_step_and_goes_on_so(
    client: FlaskClient, sign_in: SignIn, db: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = Shop(db, clock())
    (code,) = made.frames(1, 30)
    days = [made.now - timedelta(days=back) for back in range(6)]
    for at in days:
        made.steps(code, ("degrease", {}), ("note", {"note": "looked at"}), at=at - timedelta(hours=1))
    boss = sign_in(client, "Di Novak")

    def lines(address: str) -> list[str]:
        return re.findall(r'<td class="mark">([^<]+)</td>', boss.get(address).text)

    assert len(lines("/log")) == 13 and heads(boss.get("/log").text)["When"] == ("descending", "/log?sort=time")
    friday = next(at for at in days if at.weekday() == 4)
    links = map(unescape, re.findall(r'<a class="button quiet" href="([^"]*)"', boss.get("/log").text))
    chosen = next(link for link in links if f"day={friday:%Y-%m-%d}" in link)
    assert len(lines(chosen)) == 2
    assert lines(f"{chosen}&step=note") == ["Noted"]
    me, other = made.me.id, next(one.id for one in people.every(db) if one.id != made.me.id)
    assert len(lines(f"{chosen}&who={me}")) == 2 and lines(f"{chosen}&who={other}") == []
    assert lines("/log?sort=time")[0] == "New mesh stretched" and "New mesh stretched" == lines("/log")[-1]
    for odd in ("day=soup", "who=soup", "step=soup", "who=99999999999999999999"):
        assert len(lines(f"/log?{odd}")) == 13, "what cannot be is left out"
    # of one person and step not more than so many entries are looked through, and the page says where to go on
    monkeypatch.setattr(store_log, "LOOKED_THROUGH", 5)
    seen, address, asked = list[str](), f"/log?step=degrease&who={me}", 0
    while address and asked < 9:
        page, asked = boss.get(address).text, asked + 1
        seen += re.findall(r'<td class="mark">([^<]+)</td>', page)
        address = button(page, "Look further")
        assert not address or "step=degrease" in address
    assert seen == ["Degreased"] * 6 and asked == 2


@pytest.mark.browser
def test_a_list_is_a_table_on_a_wide_page_and_a_line_a_row_on_a_phone(
    phone: Any, sign_in_page: Callable[[Any, str], None], db: Database
) -> None:
    many(db)
    sign_in_page(phone, "Di Novak")
    for path in ("/screens", "/log", "/jobs"):
        phone.set_viewport_size({"width": 1280, "height": 800})
        phone.goto(path)
        assert phone.evaluate("document.documentElement.scrollWidth") <= 1280
        if path != "/jobs":
            assert phone.locator(".list thead th").first.is_visible() and not phone.locator(".orders").is_visible()
            cells = phone.locator(".list tbody tr").first.locator("th, td")
            assert len({cells.nth(n).bounding_box()["y"] // 8 for n in (0, 1)}) == 1
        assert shops.broken_rules(phone) == [], path
        for width in (360, 320):
            phone.set_viewport_size({"width": width, "height": 740})
            phone.evaluate("document.querySelectorAll('main details').forEach((one) => one.open = true)")
            assert phone.evaluate("document.documentElement.scrollWidth") <= width, path
        assert shops.broken_rules(phone) == [], path
    phone.goto("/screens?sort=-mark")
    row = phone.locator(".list tbody tr").first
    code = row.locator("a").inner_text().replace("-", "")
    box = row.bounding_box()
    phone.touchscreen.tap(box["x"] + box["width"] - 12, box["y"] + box["height"] - 14)  # anywhere on the line
    phone.wait_for_url(f"**/screens/{code}")


# People, kept screens -----------------------------------------------------------------------------------------------


def test_people_are_sorted_and_narrowed_and_one_is_changed_at_a_time(client: FlaskClient, sign_in: SignIn) -> None:
    boss = sign_in(client, "Di Novak")

    def names(address: str) -> list[str]:
        return re.findall(r'<th scope="row"><a href="[^"]*">([^<]+)', boss.get(address).text)

    everybody = ["Ada Holm", "Bo Lind", "Cy Marsh", "Di Novak"]
    first = boss.get("/people").text
    assert names("/people") == everybody and heads(first)["Name"] == ("ascending", "/people?sort=-name")
    assert names("/people?sort=-name") == everybody[::-1]
    assert names("/people?sort=role") == ["Di Novak", "Bo Lind", "Cy Marsh", "Ada Holm"]
    assert names("/people?role=press&sort=-name") == ["Bo Lind"] and names("/people?role=soup") == everybody
    assert "/people/3/leave" not in first
    bo = re.search(r'href="([^"]*)">Bo Lind', first)
    assert bo is not None
    one = boss.get(unescape(bo[1])).text
    assert one.count("/leave") == 1 and "Change Bo Lind" in one and names(unescape(bo[1])) == everybody
    assert boss.get("/people?who=soup").status_code == 200


def test_kept_screens_are_listed_by_number_or_by_since_when_of_a_mesh_a_page_at_a_time(
    client: FlaskClient, sign_in: SignIn, db: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = Shop(db, clock())
    codes = [str(code) for code in made.frames(6, mesh_count_as_labelled="230/in")]
    for at, code in enumerate(codes):
        mesh = "230/in" if at % 2 else "110/in"
        db.execute("UPDATE standings SET standing = 'kept', since = ?, mesh = ? WHERE screen = "
                   "(SELECT id FROM screens WHERE code = ?)",
                   [stamp(made.now - timedelta(days=(3, 5, 1, 6, 2, 4)[at])), mesh, code])  # fmt: skip
    boss = sign_in(client, "Di Novak")
    monkeypatch.setattr(desk_queries, "KEPT_PAGE", 4)

    def listed(address: str) -> list[int]:
        found = list[int]()
        while address:
            page = boss.get(address).text
            found += [
                codes.index(one)
                for one in re.findall(r'<th scope="row"><a class="file" href="/desk/screens/(\w+)', page)
            ]
            address = button(page, "More")
        return found

    assert listed("/desk/kept") == [0, 1, 2, 3, 4, 5] and listed("/desk/kept?sort=-number") == [5, 4, 3, 2, 1, 0]
    assert listed("/desk/kept?sort=since") == [3, 1, 5, 0, 4, 2]
    assert listed("/desk/kept?sort=-since") == [2, 4, 0, 5, 1, 3]
    assert listed("/desk/kept?sort=since&mesh=230/in") == [3, 1, 5]
    assert 'href="/desk/kept?mesh=110%2Fin&amp;sort=since"' in boss.get("/desk/kept?sort=since").text
    asked = list[str]()
    db.conn.set_trace_callback(asked.append)
    desk_rows.kept(db, 2, 5, order="since", down=True)
    db.conn.set_trace_callback(None)
    plan = [line[3] for line in db.execute(f"EXPLAIN QUERY PLAN {asked[0]}").fetchall() if line[1] == 0]
    assert any("standings_since" in line for line in plan) and not any("B-TREE" in line for line in plan), plan


# Runs ---------------------------------------------------------------------------------------------------------------


def printed(db: Database) -> tuple[Shop, list[int]]:
    """Five runs of five jobs on two presses, an hour apart; the second and the fourth ended, the fourth first."""
    made = shops.with_presses(db)
    sheet, numbers = sheets.read_file(SAMPLES / "night-run.toml"), list[int]()
    for n in range(5):
        job = made.job(replace(sheet, title=f"Job {n}", reference=f"R{n}"))
        press = find.place(db, str(made.first_press if n % 2 == 0 else made.other_press)).id
        numbers.append(stored_runs.add(db, job.id, 1, 1, press, stamp(made.now - timedelta(hours=10 - n))))
    for at, back in ((3, 4), (1, 2)):
        db.execute("UPDATE runs SET done_at = ?, state = 'finished', good = ? WHERE id = ?",
                   [stamp(made.now - timedelta(hours=back)), at * 10, numbers[at]])  # fmt: skip
    return made, numbers


def test_runs_are_listed_open_ones_first_and_by_press_or_pieces_back_and_forth(db: Database) -> None:
    _made, numbers = printed(db)
    by_good = sorted(numbers, key=lambda one: (numbers.index(one) in (1, 3), numbers.index(one)))
    right = {
        ("ended", True): [4, 2, 0, 1, 3], ("ended", False): [0, 2, 4, 3, 1], ("number", True): [4, 3, 2, 1, 0],
        ("press", False): [0, 2, 4, 1, 3], ("good", True): [numbers.index(one) for one in by_good[::-1]],
    }  # fmt: skip
    for (order, down), rows in right.items():
        found, row = list[int](), 0
        while page := run_lines.in_order(db, run_lines.RunsAsked(), order, run_lines.place_of(db, order, down, row), 2):
            found += [one.id for one in page]
            row = page[-1].id
        assert [numbers.index(one) for one in found] == rows, (order, down)
        back = run_lines.place_of(db, order, down, found[3], back=True)
        there = run_lines.in_order(db, run_lines.RunsAsked(), order, back, 3)
        assert [one.id for one in there] == found[:3], (order, down)


def test_every_order_of_runs_is_read_out_of_an_index(db: Database) -> None:
    _made, numbers = printed(db)
    asked = list[str]()
    db.conn.set_trace_callback(asked.append)
    for order in ("number", *run_lines.IN_ORDER):
        for down in (False, True):
            for row in (0, numbers[1], numbers[2]):
                start = run_lines.place_of(db, order, down, row)
                for wanted in (run_lines.RunsAsked(), run_lines.RunsAsked(press=1)):
                    run_lines.in_order(db, wanted if order == "ended" else run_lines.RunsAsked(), order, start, 9)
    db.conn.set_trace_callback(None)
    lists = [sql for sql in asked if "ORDER BY" in sql]
    assert len(lists) > 40
    for sql in lists:
        chosen = sql.split("FROM (", 1)[1].split(") r JOIN", 1)[0]
        plan = [line[3] for line in db.execute(f"EXPLAIN QUERY PLAN {chosen}").fetchall()]
        assert not any("TEMP B-TREE" in line for line in plan), (sql, plan)


def test_the_list_of_runs_is_narrowed_and_the_command_lists_the_same(
    client: FlaskClient, sign_in: SignIn, db: Database, folder: Path
) -> None:
    made, numbers = printed(db)
    tickets = shops.commands(folder)
    boss = sign_in(client, "Di Novak")

    def listed(address: str) -> list[int]:
        page = boss.get(address)
        assert page.status_code == 200, address
        return [numbers.index(int(one)) for one in re.findall(r'<th scope="row"><a href="/runs/(\d+)"', page.text)]

    assert listed("/runs") == [4, 2, 0, 1, 3] and listed("/runs?sort=number") == [0, 1, 2, 3, 4]
    assert listed("/runs?which=ended") == [1, 3] and listed("/runs?which=open") == [4, 2, 0]
    assert listed(f"/runs?press={find.place(db, str(made.other_press)).id}&which=ended&sort=ended") == [3, 1]
    assert listed("/runs?job=R2") == [2] and listed("/runs?day=2020-01-01") == []
    assert listed(f"/runs?day={made.now:%Y-%m-%d}") == [4, 2, 0, 1, 3]
    for odd in ("which=soup", "press=99", "press=x", "job=none", "day=soup"):
        assert len(listed(f"/runs?{odd}")) == 5, odd
    assert "Runs" in boss.get("/more").text

    def told(*more: str) -> list[int]:
        rows = json.loads(tickets("run", "list", *more, "--json").stdout)
        return [numbers.index(row["run"]) for row in rows]

    assert told() == [4, 2, 0] and told("--all") == [4, 2, 0, 1, 3] and told("--ended") == [1, 3]
    assert told("--job", "R3") == [3] and told("--day", "2020-01-01") == [] and told("--all", "--limit", "2") == [4, 2]
    assert "2026-03-06" in tickets("run", "list", "--day", "soup").output
