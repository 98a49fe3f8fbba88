"""What somebody reads in, language and units, goes with them to any phone, and changes nothing for anybody else."""

from __future__ import annotations

import re
from typing import Any

import pytest
import shop as shops
from flask import Flask
from flask.testing import FlaskClient
from shop import Shop
from sqlite_utils import Database

from tickets import i18n
from tickets.actions import people as people_acts
from tickets.actions import printing
from tickets.store import people
from tickets.store.settings import save_setting

SPANISH, ENGLISH = {"Accept-Language": "es-MX"}, {"Accept-Language": "en-US"}


def spoken(answer: Any) -> str:
    found = re.search(r'<html lang="(\w+)"', answer.text)
    assert found, answer.text[:200]
    return found[1]


def signed_in_by_form(phone: FlaskClient, page: str, name: str, secret: str = "") -> Any:
    """Signs in with what that page carries besides, as its form would."""
    shown = phone.get(page).text
    carried = dict(re.findall(r'<input type="hidden" name="(language)" value="(\w+)"', shown))
    return phone.post("/sign-in", data={"name": name, "secret": secret or shops.PEOPLE[name][1], **carried})


def units(db: Database, name: str, system: str) -> None:
    who = people.find(db, name)
    assert who is not None
    people_acts.reads_in(db, who.id, units=system)


def test_a_language_chosen_before_signing_in_goes_with_the_person_to_any_phone(app: Flask) -> None:
    first, other = shops.phone_of(app), shops.phone_of(app)
    assert signed_in_by_form(first, "/sign-in?language=es", "Ada Holm").status_code == 303
    shops.signed_in(other, "Ada Holm")
    assert spoken(other.get("/screens", headers=ENGLISH)) == "es"
    other.post("/sign-out")
    assert spoken(other.get("/sign-in", headers=ENGLISH)) == "en", "the phone itself chose nothing"


def test_a_wrong_pin_in_between_loses_nothing_of_the_choice(app: Flask) -> None:
    phone, other = shops.phone_of(app), shops.phone_of(app)
    wrong = signed_in_by_form(phone, "/sign-in?language=es", "Ada Holm", "0000")
    assert wrong.status_code >= 400 and '<input type="hidden" name="language" value="es">' in wrong.text
    phone.post("/sign-in", data={"name": "Ada Holm", "secret": shops.PEOPLE["Ada Holm"][1], "language": "es"})
    shops.signed_in(other, "Ada Holm")
    assert spoken(other.get("/screens", headers=ENGLISH)) == "es"


def test_who_signs_in_on_a_phone_of_another_language_chose_nothing(app: Flask, db: Database) -> None:
    phone = shops.phone_of(app)
    phone.get("/sign-in?language=es")  # somebody, some day
    signed_in_by_form(phone, "/sign-in", "Bo Lind")
    who = people.find(db, "Bo Lind")
    assert who is not None and who.language is None
    assert spoken(phone.get("/screens", headers=ENGLISH)) == "es"
    sent = {"name": "Ada Holm", "secret": shops.PEOPLE["Ada Holm"][1], "language": "xx"}
    assert phone.post("/sign-in", data=sent).status_code == 303
    assert {one.language for one in people.every(db)} == {None}


def test_a_phone_handed_over_after_a_choice_keeps_it_for_who_took_it(app: Flask, db: Database) -> None:
    phone = shops.phone_of(app)
    for name in ("Bo Lind", "Ada Holm"):
        shops.signed_in(phone, name)
    shown = phone.get("/sign-in?language=es").text
    assert shown.count('<input type="hidden" name="language" value="es">') == 2, "to tap, and to type"
    assert phone.post("/hand-over", data={"name": "Bo Lind", "language": "es"}).status_code == 303
    chose = {one.name: one.language for one in people.every(db)}
    assert chose["Bo Lind"] == "es" and chose["Ada Holm"] is None


@pytest.mark.parametrize(
    ("own", "cookie", "phones", "shops_own", "read"),
    [
        ("en", "es", "es", "es", "en"),
        ("es", "en", "en", "en", "es"),
        ("", "es", "en", "en", "es"),
        ("", "", "es", "en", "es"),
        ("", "", "", "es", "es"),
        ("", "xx", "pl", "es", "es"),
    ],
)
def test_the_person_s_goes_first_then_the_phone_s_choice_then_the_phone_then_the_shop(
    app: Flask, db: Database, own: str, cookie: str, phones: str, shops_own: str, read: str
) -> None:
    save_setting(db, "language", shops_own, "2026-01-05T08:00:00Z", 1)
    phone = shops.signed_in(shops.phone_of(app), "Ada Holm")
    assert phone.post("/mine", data={"language": own}).status_code == 303
    if cookie:
        phone.set_cookie("language", cookie)
    assert spoken(phone.get("/screens", headers={"Accept-Language": phones} if phones else {})) == read


def test_everybody_has_a_page_of_their_own_for_both(app: Flask, db: Database) -> None:
    for name in shops.PEOPLE:
        phone = shops.signed_in(shops.phone_of(app), name)
        assert 'href="/mine"' in phone.get("/sign-in").text and 'href="/mine"' in phone.get("/more").text
        assert phone.post("/mine", data={"language": "es", "units": "us"}).location == "/mine?saved=1"
        page = phone.get("/mine?saved=1", headers=ENGLISH).text
        assert re.search(r'name="language" value="es" checked', page)
        assert re.search(r'name="units" value="us" checked', page)
        assert ">English<" in page and ">Español<" in page, "each by its own name"
        assert phone.post("/mine", data={"language": "", "units": ""}).status_code == 303
        assert spoken(phone.get("/mine", headers=ENGLISH)) == "en"
    assert {(one.language, one.units) for one in people.every(db)} == {(None, None)}


def test_what_is_no_language_and_no_system_is_refused_by_name(app: Flask, db: Database) -> None:
    phone = shops.signed_in(shops.phone_of(app), "Ada Holm")
    answer = phone.post("/mine", data={"language": "xx", "units": "roman"}, headers=ENGLISH)
    assert answer.status_code == 422
    assert "One of: en, es." in answer.text and "One of: metric, us." in answer.text
    assert {(one.language, one.units) for one in people.every(db)} == {(None, None)}


def test_a_list_of_languages_calls_each_by_its_own_name_in_every_language(app: Flask) -> None:
    phone = shops.signed_in(shops.phone_of(app), "Di Novak")
    page = phone.get("/settings", headers=SPANISH).text
    assert "<span>English</span>" in page and "<span>Español</span>" in page


def test_one_log_is_read_in_two_habits_of_units(app: Flask, db: Database, shop: Shop) -> None:
    code = shop.frame()
    shop.log(code, "degrease")
    shop.log(code, "coat", bucket=shop.mix(), preset="2+1 round edge", room_c="25")
    for name, system in (("Ada Holm", "us"), ("Bo Lind", "metric")):
        units(db, name, system)
    read = {}
    for name in ("Ada Holm", "Bo Lind", "Cy Marsh"):  # the last chose nothing, and reads after both in one thread
        phone = shops.signed_in(shops.phone_of(app), name)
        read[name] = shops.said(phone.get("/log").text).replace("\u00a0", " ")
    assert "77 °F" in read["Ada Holm"] and "°C" not in read["Ada Holm"]
    assert "25 °C" in read["Bo Lind"] and "°F" not in read["Bo Lind"]
    assert "25 °C" in read["Cy Marsh"]


def test_paper_is_the_shop_s_whoever_prints_it(shop: Shop) -> None:
    saved = shop.job(shops.one_colour())
    made = []
    for system in ("", "us"):
        i18n.use_units(system)
        try:
            made.append(printing.print_job(shop.db, shop.actor("Di Novak"), saved.code, now=shops.NOW, anyway=True).pdf)
        finally:
            i18n.use_units("")
    assert made[0] == made[1]


def test_people_of_both_languages_share_one_log(app: Flask, db: Database, shop: Shop) -> None:
    """What was logged in Spanish is read in English and back, by its note as it was typed."""
    code, note = shop.frame(), "Ojo: “rota” aquí, 3,5 cm"
    ana = shops.signed_in(shops.phone_of(app), "Ada Holm")
    ana.post("/mine", data={"language": "es"})
    sent = {"entry": shops.fresh(), "note": note}
    assert ana.post(f"/screens/{code}/note", data=sent).status_code in (200, 303)
    ben = shops.signed_in(shops.phone_of(app), "Bo Lind")
    ben.post("/mine", data={"language": "en"})
    lines = {}
    for name, phone in (("es", ana), ("en", ben)):
        page = phone.get("/log")
        assert spoken(page) == name
        line = next(line for line in re.split(r"<li\b|<tr\b", page.text) if note in line)
        lines[name] = re.sub(r"<[^>]*>", " ", line)
        assert note in lines[name]
    assert "Note" in lines["en"] and "Nota" in lines["es"]
    assert lines["en"] != lines["es"]
    shop.log(code, "note", note="torn: no, it is a fold", who=shop.actor("Bo Lind"))
    assert "torn: no, it is a fold" in shops.said(ana.get("/log").text)


def test_a_command_changes_what_a_person_reads_in(commands: shops.Tickets, db: Database) -> None:
    answer = commands("person", "change", "Ada Holm", "--language", "es", "--units", "us", "--json")
    assert answer.exit_code == 0 and '"language": "es"' in answer.output
    assert commands("person", "change", "Ada Holm", "--units", "none").exit_code == 0
    who = people.find(db, "Ada Holm")
    assert who is not None and (who.language, who.units) == ("es", None), "what is not named stays"
    refused = commands("person", "change", "Ada Holm", "--language", "latin")
    assert refused.exit_code != 0 and "--language" in refused.output and "en, es" in refused.output
    other = commands("person", "change", "Ada Holm", "--language", "en", "--by", "Bo Lind")
    assert other.exit_code != 0 and "manager" in other.output
    own = commands("person", "change", "Bo Lind", "--language", "en", "--by", "Bo Lind")
    assert own.exit_code == 0
