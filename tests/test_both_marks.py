"""Half of the people who read Spanish write a decimal comma, the others a point: both are read in every field, in both
languages, and what could be either is asked. What machines read has points, whoever asks for it."""

from __future__ import annotations

import re

import pytest
import shop as shops
from flask import Flask
from flask.testing import FlaskClient
from shop import Shop

from tickets.calculator import typed
from tickets.calculator.catalogue import CATALOGUE
from tickets.calculator.numerals import Ambiguous, number
from tickets.calculator.units import KINDS
from tickets.store import entries

LANGUAGES = ("en", "es")


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("20,5", 20.5), ("20.5", 20.5), (",5", 0.5), ("1.234,5", 1234.5), ("1,234.5", 1234.5), ("1 234,5", 1234.5),
        ("-1.234,50", -1234.5), ("12.345.678,9", 12345678.9), ("12,345,678.9", 12345678.9), ("1,234.567", 1234.567),
        ("1.234,567", 1234.567),
    ],
)  # fmt: skip
def test_a_number_with_either_mark_or_both_is_read(text: str, value: float) -> None:
    assert number(text) == value
    assert typed.take(f"{text.removeprefix('-')} mm", "length", bounded=False).value == abs(value)


@pytest.mark.parametrize("text", ["1,234", "1.234", "12,345", "999.000"])
def test_what_either_mark_could_be_is_asked(text: str) -> None:
    with pytest.raises(Ambiguous) as caught:
        number(text)
    assert len(caught.value.readings) == 2
    assert {number(one) for one in caught.value.readings} == {
        float(text.replace(",", "").replace(".", "")),
        float(text.replace(",", ".")),
    }


@pytest.mark.parametrize("text", ["1.23,4", "1,2.3", "0.123,4", "1,234.5.6", "1.234,5,6", "1,234,5", "12.34.567,8"])
def test_marks_that_part_no_thousands_are_no_number(text: str) -> None:
    with pytest.raises(ValueError, match="one decimal mark|cannot"):
        number(text)


@pytest.fixture
def phone(app: Flask) -> FlaskClient:
    return shops.signed_in(shops.phone_of(app), "Di Novak")


def test_every_number_of_every_calculation_takes_both(phone: FlaskClient) -> None:
    """Each input of a quantity or a plain number, in its example with a decimal, through its page."""
    tried = 0
    for name, each in CATALOGUE.items():
        examples = {one.name: one.example for one in each.inputs if one.kind != "table"}
        if len(examples) < len(each.inputs):
            continue
        for one in each.inputs:
            if one.kind not in KINDS and one.kind != "number":
                continue
            if not (found := re.match(r"[0-9]+(\.[0-9]+)?", one.example)):
                continue
            digits = found[0] if found[1] else f"{found[0]}.5"
            said = []
            for language in LANGUAGES:
                for mark in (digits, digits.replace(".", ",")):
                    sent = {**examples, one.name: one.example.replace(found[0], mark, 1)}
                    page = phone.get(f"/calculator/{name}", query_string=sent, headers={"Accept-Language": language})
                    said.append(shops.said(page.text).replace(mark, digits))
            assert said[0] == said[1] and said[2] == said[3], (name, one.name, said)
            tried += page.status_code == 200  # a few take one of two inputs only
    assert tried > 25


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_step_takes_both_and_asks_what_could_be_either(phone: FlaskClient, shop: Shop, language: str) -> None:
    code = shop.frame()
    phone.post("/mine", data={"language": language})
    for text in ("20,5", "20.5"):
        sent = {"entry": shops.fresh(), "readings_n_per_cm": text}
        assert phone.post(f"/screens/{code}/tension", data=sent).status_code in (200, 303)
    rows = entries.of(shop.db, "screen", shop.find(code).id)
    assert [one.values["readings_n_per_cm"] for one in rows if one.step == "tension"] == [[20.5], [20.5]]
    asked = phone.post(f"/screens/{code}/strip", data={"entry": shops.fresh(), "remover_s": "1,200"})
    assert asked.status_code == 422 and "1200" in asked.text and "1.2" in asked.text


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_machines_read_has_points(phone: FlaskClient, shop: Shop, language: str) -> None:
    code = shop.frame()
    shop.log(code, "tension", readings_n_per_cm=["20,5"])
    phone.post("/mine", data={"language": language})
    for name in ("entries.csv", "entries.jsonl", "screens.csv"):
        answer = phone.get(f"/desk/files/{name}")
        assert answer.status_code == 200
        text = answer.get_data(as_text=True)
        if name.startswith("entries"):
            assert "20.5" in text
    page = phone.get(f"/screens/{code}").text
    assert not re.findall(r'value="[0-9]+,[0-9]+"', page)
