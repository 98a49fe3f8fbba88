"""What is possible at a step of a screen and seldom meant is said back before it is saved, with what is usual."""

from __future__ import annotations

import re
from typing import Any

import pytest
import shop as shops
from flask import Flask
from shop import Clock, Shop

from tickets.calculator.defaults import DEFAULTS
from tickets.domain.refusal import Refused
from tickets.store import entries


def asked(shop: Shop, code: str, step: str, **fields: Any) -> Refused:
    """What is asked about a step, of which nothing was written."""
    before = entries.of(shop.db, "screen", shop.find(code).id)
    with pytest.raises(Refused) as caught:
        shop.log(code, step, **fields)
    assert entries.of(shop.db, "screen", shop.find(code).id) == before
    return caught.value


def of(refused: Refused, field: str) -> tuple[str, tuple[str, ...]]:
    fault = next(fault for fault in refused.faults if fault.where == field)
    return str(fault.message).replace("\u00a0", " "), tuple(fault.readings)


def coated(shop: Shop, bucket: str = "") -> str:
    code = shop.frame()
    shop.coated(code, bucket or shop.mix())
    return code


def test_an_exposure_far_from_what_the_mesh_got_last_is_said_back(shop: Shop) -> None:
    shop.images(2)
    bucket = shop.mix()
    shop.log(coated(shop, bucket), "expose", exposure_s="60", exposure_unit="Big lamp")
    second = coated(shop, bucket)
    told, readings = of(asked(shop, second, "expose", exposure_s="600", exposure_unit="Big lamp"), "exposure_s")
    assert told == "Really 600 s? Usual is 60 s: type 600 s! if it is meant."
    assert readings == ("60 s", "600 s!")
    told, readings = of(asked(shop, second, "expose", exposure_s="6", exposure_unit="Big lamp"), "exposure_s")
    assert told.startswith("Really 6 s? Usual is 60 s") and readings == ("60 s", "6 s!")
    shop.log(second, "expose", exposure_s="600!", exposure_unit="Big lamp")
    values = entries.of(shop.db, "screen", shop.find(second).id)[-1].values
    assert values["exposure_s"] == 600
    assert "!" not in str(entries.of(shop.db, "screen", shop.find(second).id)[-1].typed)


@pytest.mark.parametrize("time", ["20", "180", "60", "95"])
def test_up_to_three_times_nothing_is_asked(shop: Shop, time: str) -> None:
    shop.images(2)
    bucket = shop.mix()
    shop.log(coated(shop, bucket), "expose", exposure_s="60", exposure_unit="Big lamp")
    shop.log(coated(shop, bucket), "expose", exposure_s=time, exposure_unit="Big lamp")


def test_another_unit_a_test_strip_and_the_first_exposure_are_not_asked_about(shop: Shop) -> None:
    shop.images(3)
    bucket = shop.mix()
    shop.log(coated(shop, bucket), "expose", exposure_s="60", exposure_unit="Big lamp")
    shop.log(coated(shop, bucket), "expose", exposure_s="600", exposure_unit="Small lamp")
    shop.log(coated(shop, bucket), "expose", exposure_s="900", exposure_unit="Small lamp", purpose="test strip")


def test_the_shop_s_own_time_goes_before_the_last_one(shop: Shop) -> None:
    shop.images(2)
    bucket = shop.mix()
    shop.log(coated(shop, bucket), "expose", exposure_s="60", exposure_unit="Big lamp")
    shop.limit("exposure-time", 500, "s")
    shop.log(coated(shop, bucket), "expose", exposure_s="600", exposure_unit="Big lamp")
    told, _readings = of(
        asked(shop, coated(shop, bucket), "expose", exposure_s="60", exposure_unit="Big lamp"), "exposure_s"
    )
    assert "Usual is 500 s" in told


def test_tensions_that_nobody_reads_are_said_back_whole(shop: Shop) -> None:
    code = shop.frame()
    told, readings = of(asked(shop, code, "tension", readings_n_per_cm=["25", "2.4", "25"]), "readings_n_per_cm")
    assert told.startswith("Really 2.4 N/cm? Usual is 4 to 60 N/cm")
    assert readings == ("25 24 25 N/cm", "25 2.4 25 N/cm!")
    shop.log(code, "tension", readings_n_per_cm=[readings[0]])
    told, readings = of(asked(shop, code, "tension", readings_n_per_cm=["2.4"]), "readings_n_per_cm")
    assert readings == ("24 N/cm", "2.4 N/cm!")
    shop.log(code, "tension", readings_n_per_cm=["2.4 N/cm!"])
    rows = [one.values["readings_n_per_cm"] for one in entries.of(shop.db, "screen", shop.find(code).id)[1:]]
    assert rows == [[25, 24, 25], [2.4]]


def test_a_mesh_that_is_hardly_open_is_said_back_for_a_new_frame_too(shop: Shop) -> None:
    with pytest.raises(Refused) as caught:
        shop.frame("230/in", "95")
    told, readings = of(caught.value, "thread_um")
    assert told.startswith("Really 2 % open? Usual is 8 to 80 %") and readings == ("95 um!",)
    code = shop.frame("230/in", "95!")
    assert shop.life(code).mesh.thread_um == 95
    with pytest.raises(Refused) as caught:
        shop.log(code, "stretch", mesh_count_as_labelled="23/in", thread_um="48", frame="aluminium")
    assert of(caught.value, "thread_um")[0].startswith("Really 91 % open?")


def test_remover_left_on_for_an_hour_is_said_back(shop: Shop) -> None:
    code = coated(shop)
    told, readings = of(asked(shop, code, "strip", remover_s="3000"), "remover_s")
    assert told.startswith("Really 3000 s? Usual is at most 900 s") and readings == ("300 s", "3000 s!")


def test_a_shop_that_removed_what_is_usual_is_asked_nothing(shop: Shop) -> None:
    shop.limit("usual-tension-least", 1, "N/cm")
    shop.log(shop.frame(), "tension", readings_n_per_cm=["2.4"])
    assert {one.key for one in DEFAULTS} >= {"usual-tension-least", "usual-exposure-times", "usual-open-area-least"}


def test_on_a_page_what_is_meant_is_one_tap(app: Flask, clock: Clock, shop: Shop) -> None:
    shop.images(2)
    bucket = shop.mix()
    shop.log(coated(shop, bucket), "expose", exposure_s="60", exposure_unit="Big lamp")
    code = coated(shop, bucket)
    clock.on(hours=8)
    phone = shops.signed_in(shops.phone_of(app), "Ada Holm")
    sent = {"entry": shops.fresh(), "exposure_s": "600", "exposure_unit": "Big lamp"}
    page = phone.post(f"/screens/{code}/expose", data=sent)
    assert page.status_code == 422
    said = shops.said(page.text).replace("\u00a0", " ")
    assert "Really 600 s? Usual is 60 s" in said
    choices = re.findall(r'<(?:input|button)[^>]*name="exposure_s.meant"[^>]*value="([^"]*)"', page.text)
    assert "60 s" in choices and "600 s!" in choices, choices
    taken = phone.post(f"/screens/{code}/expose", data={**sent, "entry": shops.fresh(), "exposure_s": "600 s!"})
    assert taken.status_code in (200, 303), shops.said(taken.text)
