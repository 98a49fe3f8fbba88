"""Lists as tables: each head puts them in order, the order and the filters stay in the address, pages go on by key."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from flask.testing import FlaskClient
from shop import Shop, clock
from sqlite_utils import Database

from tickets.store import ordered, screens
from tickets.store.ordered import PageStart

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
        right = sorted(rows, key=lambda row: (row[1] is not None, row[1] or 0 if row[1] != "" else "", row[0])
                       if not isinstance(row[1], str) else (True, row[1], row[0]))  # fmt: skip
        wanted = screens.InventoryAsked(standing=standing)
        pages = walked(db, order, down, wanted)
        assert [one for page in pages for one in page] == [row[0] for row in (right[::-1] if down else right)]
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


def test_a_row_without_a_value_stands_before_all_that_have_one() -> None:
    nothing = ordered.Order("c", "i", number=True, empty=True)
    top = [condition for condition, _values in ordered.parts(nothing, "n", PageStart())]
    assert top == ["c IS NULL", "c IS NOT NULL"]
    assert [one for one, _v in ordered.parts(nothing, "n", PageStart(down=True))] == top[::-1]
    assert ordered.parts(nothing, "n", PageStart(True, (None, 4))) == [("c IS NULL AND n < ?", [4])]


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
    for odd in ("sort=nonsense", "sort=--uses", "sort=-uses&after=9999999999999999999", "before=x", "after=-3"):
        answer = boss.get(f"/screens?{odd}")
        assert answer.status_code == 200 and len(codes(answer.text)) == 50, odd


def made_codes(db: Database) -> list[str]:
    return [row[0] for row in db.execute("SELECT code FROM screens ORDER BY id").fetchall()]
