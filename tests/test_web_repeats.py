"""The papers of a repeat, as a signed-in person gets them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from test_paper import words
from test_repeat import job
from test_repeats import Press

from tickets.floor import people, printing
from web import create_app


@pytest.fixture
def press(tmp_path: Path) -> Press:
    return Press(tmp_path)


@pytest.fixture
def printed(press: Press) -> tuple[Any, Any, int, int]:
    """A first order that was approved, and its repeat on another press with a slower flash, approved too."""
    order = press.order(job())
    hung = press.screens_for(order)
    first = press.set_up(order, hung)
    press.approve(first, 50, 0, 0)
    press.print_out(first)
    again = press.again(order, garments=(replace(order.sheet.garments[0], lot="L8"),))
    second = press.set_up(again, hung, "Press 1", s2__time="7 s", s1__note="Boris: mind the edge")
    press.approve(second, 51.5, 0, 0)
    return order, again, first, second


@pytest.fixture
def phone(press: Press, tmp_path: Path) -> Iterator[FlaskClient]:
    people.add_person(press.db, "Bo Lind", "press", "4712", datetime.now(UTC))
    app = create_app(tmp_path, clock=lambda: press.now, testing=True)
    client = app.test_client()
    client.environ_base["HTTP_ORIGIN"] = "http://localhost"
    assert client.post("/sign-in", data={"name": "Bo Lind", "secret": "4712"}).status_code == 303
    yield client
    for handler in list(app.logger.handlers):
        handler.close()


def test_the_comparison_leads_to_both_papers(printed: Any, phone: FlaskClient):
    text = phone.get(f"/runs/{printed[3]}/comparison").text
    assert "comparison.pdf?for=customer" in text and 'comparison.pdf"' in text and "+1 s" in text
    assert "set-up.pdf" in phone.get(f"/runs/{printed[3]}/sheet").text


def test_a_discharge_repeat_says_that_the_dye_lot_moves_the_colour(press: Press, phone: FlaskClient):
    order = press.order(job(placement__0__station__0__ink="discharge"))
    hung = press.screens_for(order)
    for again in (order, press.again(order)):
        run = press.set_up(again, hung)
        press.approve(run)
        press.print_out(run)
    said = "the garment’s dye lot moves the colour"
    assert said in phone.get(f"/runs/{run}/comparison").text
    for whose in ("?for=customer", "?anyway=yes"):
        assert said in " ".join(words(phone.get(f"/runs/{run}/comparison.pdf{whose}").data).split())


def test_the_customers_pdf_names_nobody_of_the_shop(printed: Any, phone: FlaskClient):
    second = printed[3]
    answer = phone.get(f"/runs/{second}/comparison.pdf?for=customer&paper=Letter")
    assert answer.status_code == 200 and answer.mimetype == "application/pdf"
    text = words(answer.data)
    assert "Boris" not in text and "Vera" not in text and "+1 s" in text and "/t/" not in text


def test_papers_with_an_address_need_one(press: Press, printed: Any, phone: FlaskClient):
    second = printed[3]
    for name in ("comparison.pdf", "set-up.pdf"):
        refused = phone.get(f"/runs/{second}/{name}")
        assert refused.status_code == 422 and "No address is set" in refused.text
        assert phone.get(f"/runs/{second}/{name}?anyway=yes").status_code == 200
    printing.set_address(press.db, press.me, "http://192.0.2.7:8600", now=press.tick())
    text = words(phone.get(f"/runs/{second}/set-up.pdf").data)
    for wanted in ("Set-up sheet", "Press 1", "7 s", "target: job sheet", "lot L8; last time lot L7",
                   "Boris: mind the edge", "http://192.0.2.7:8600/t/", "Vera Lind"):  # fmt: skip
        assert wanted in text, wanted
    assert phone.get(f"/runs/{second}/set-up.pdf?paper=A9").status_code == 404


def test_a_first_order_has_nothing_to_compare_with(printed: Any, phone: FlaskClient):
    answer = phone.get(f"/runs/{printed[2]}/comparison.pdf?for=customer")
    assert answer.status_code == 404 and "No earlier approved run" in answer.text
    assert phone.get("/runs/99/comparison.pdf?for=customer").status_code == 404


def test_nobody_signed_out_sees_any_of_it(printed: Any, phone: FlaskClient):
    second = printed[3]
    phone.delete_cookie("shop")
    papers = [f"/runs/{second}/{name}" for name in ("comparison.pdf?for=customer", "set-up.pdf")]
    for path in papers:
        assert phone.get(path).status_code == 303, path
