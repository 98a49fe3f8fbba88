"""A limit that stands in the shop and that nobody could set today never fails a page: it judges nothing, and the pages
say which row it is and what would do."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
import shop as shops
from flask import Flask
from flask.testing import FlaskClient
from sqlite_utils import Database

from tickets import demo, store
from tickets.domain.entry import stamp
from tickets.domain.limits import LIMITS
from tickets.domain.spec import Row, Spec, beyond, shipped
from tickets.queries.shop_rules import the_spec
from tickets.store import spec as rows
from tickets.store import writing

NOW = shops.NOW + timedelta(minutes=5)


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[tuple[Database, FlaskClient]]:
    folder = shops.the_demo(tmp_path / "shop")
    db, app = store.connect(folder), shops.app_of(folder, shops.Clock(NOW))
    manager = next(name for name, (role, _secret) in demo.SECRETS.items() if role == "manager")
    yield db, shops.signed_in(shops.phone_of(app), manager, demo.SECRETS[manager][1])
    db.close()
    shops.close(app)


def stored(db: Database, value: float, *keys: str) -> list[int]:
    """Every row of these limits (none: of all) with this value, written as an earlier program may have taken it."""
    now = [row for row in the_spec(db).rows if not keys or row.key in keys]
    with writing(db):
        return [rows.add(db, Row(0, row.key, value, row.unit, row.conditions, "typed", stamp(NOW), 1)) for row in now]


def pages(db: Database, app: Flask) -> list[str]:
    """Every page without a part of its own in its address, and one or two of each thing."""
    found = [str(rule) for rule in app.url_map.iter_rules() if "GET" in (rule.methods or ()) and not rule.arguments]
    of = {"screens": "/screens/{}", "jobs": "/jobs/{}", "buckets": "/buckets/{}"}
    for table, address in of.items():
        codes = db.execute(f"SELECT code FROM {table} ORDER BY id LIMIT 2").fetchall()  # noqa: S608 (names of ours)
        found += [address.format(code) for (code,) in codes]
        found += [f"/jobs/{code}/ink" for (code,) in codes if table == "jobs"]
        found += [f"/screens/{code}?step=expose" for (code,) in codes if table == "screens"]
    for (run,) in db.execute("SELECT id FROM runs ORDER BY id DESC LIMIT 3").fetchall():
        found += [f"/runs/{run}", f"/runs/{run}/sheet"]
    names = db.execute("SELECT name FROM exposure_units").fetchall()
    found += [f"/exposure-units/{name.replace(' ', '%20')}" for (name,) in names]
    return found


def fails(db: Database, phone: FlaskClient) -> list[str]:
    wrong = []
    for path in pages(db, phone.application):
        with phone.get(path) as answer:
            if answer.status_code >= 500:
                wrong.append(path)
    return wrong


@pytest.mark.parametrize("value", [-1e9, 0, 1e13])
def test_no_page_of_the_manager_fails_for_any_limit_that_stands_there(
    shop: tuple[Database, FlaskClient], value: float
) -> None:
    db, phone = shop
    assert len(pages(db, phone.application)) > 50
    stored(db, value)
    assert fails(db, phone) == []


def test_a_step_that_no_grey_scale_has_is_named_on_the_pages_and_judges_nothing(
    shop: tuple[Database, FlaskClient],
) -> None:
    db, phone = shop
    (row,) = stored(db, 25, "wanted-step")
    assert the_spec(db).find("wanted-step") is None and [one.id for one in the_spec(db).faulty] == [row]
    assert fails(db, phone) == []
    for path in ("/desk", "/spec", f"/spec/{row}", "/exposure-units"):
        text = " ".join(html.unescape(re.sub("<[^>]*>", " ", phone.get(path).text)).split())
        assert "Step to hold: 25 . Nothing is judged by this limit until it is changed." in text, path
        assert "This limit lies between 1 and 21." in text
    answer = phone.post(f"/spec/{row}", data={"value": "8", "source": "its sheet", "entry": "a" * 24})
    assert answer.status_code == 303 and not the_spec(db).faulty
    assert "Nothing is judged by this limit" not in phone.get("/desk").text


def test_nothing_that_ships_or_may_be_set_is_left_out() -> None:
    assert Spec(shipped()).faulty == () and {row.key for row in shipped()} <= set(LIMITS)
    assert all(beyond(row) is None for row in shipped())
    cases = (("wanted-step", 25, (1, 21)), ("discharge-cotton", 101, (0, 100)), ("keep-days", -1, None))
    for key, value, span in cases:
        (row, *_more) = [one for one in shipped() if one.key == key]
        wrong = Row(9000, key, value, row.unit, row.conditions)
        assert beyond(wrong) is not None and (span is None or beyond(wrong) == span)
        assert Spec([*shipped(), wrong]).find(key, **row.conditions) is None
