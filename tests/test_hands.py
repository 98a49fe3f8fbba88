"""Pages as things for hands: where the button is, and what a finger finds under it once it pressed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from flask.testing import FlaskClient
from shop import Shop, answered, fresh, said, signed_in

from tickets import store
from tickets.actions.posting import line, numbered, write
from tickets.domain.refusal import Refused
from tickets.domain.stages import Standing

MAIN_BUTTON = """() => {
  const of = "main :is(button, .button).primary, main .picks button, main form.step button:not(.enter)";
  const button = [...document.querySelectorAll(of)].find((one) => one.checkVisibility());
  return button ? button.getBoundingClientRect().bottom : 0;
}"""
WAITS = frozenset({Standing.READY, Standing.KEPT, Standing.RETIRED})
"""Stages after which nobody logs anything in the screen room."""


@pytest.fixture
def of_each_stage(shop: Shop) -> dict[Standing, str]:
    """A screen at every stage that a screen can have; its code."""
    shop.me = shop.manager
    job, outside = shop.job(), shop.place("Stretching service", "rack", outside=True)
    for name in ("Rack 1", "Drying cabinet", "Cart A"):
        shop.place(name, "cart" if name == "Cart A" else "rack")
    shop.place("Unit 1", "rack")
    steps: list[tuple[str, dict[str, Any]]] = [
        ("degrease", {}), ("coat", {"dry": "yes"}), ("image", {"separations": shop.separation(job), "dry": "yes"}),
        ("expose", {"exposure_s": "60"}), ("washout", {"result": "good"}), ("check", {"result": "good", "dry": "yes"}),
    ]  # fmt: skip
    made: dict[Standing, str] = {}

    def log(code: str, *more: tuple[str, dict[str, Any]]) -> None:
        for step, values in more:
            shop.log(code, step, in_hand="yes", still_needed="yes", override="a test", **values)
        made[shop.life(code).standing] = code

    for number in range(len(steps) + 1):
        log(shop.frame(), *steps[:number])
    off = [*steps, ("pull", {"condition": "good"})]
    log(shop.frame(), *off)
    log(shop.frame(), *off, ("clean", {}), ("decide", {"then": "keep"}))
    log(shop.frame(), *off, ("clean", {}), ("decide", {"then": "strip"}))
    log(shop.frame(), *off, ("clean", {}), ("decide", {"then": "strip"}), ("strip", {}))
    log(shop.frame(), ("fault", {"kind": "torn"}))
    log(shop.frame(), ("rack", {"place": outside}))
    log(shop.frame(), ("retire", {"cause": "frame"}))
    hung = {asked: shop.screen(job, asked) for asked in (1, 3)}
    run = shop.set_up(job, hung, "Press 1")
    shop.approve(run)
    shop.step(run, "start")
    made[shop.life(hung[1]).standing] = hung[1]
    lost = shop.frame()
    against = line(shop.me, "washout", shop.now, shop.now, {"result": "good"}, screen=shop.find(lost).id)
    with store.writing(shop.db):  # against all that the log knows of it, and nobody was asked
        write(shop.db, numbered(fresh(), [against]))
    made[shop.life(lost).standing] = lost
    return made


@pytest.mark.browser
def test_the_main_button_is_where_the_thumb_is(
    phone: Any, sign_in_page: Callable[[Any, str], None], of_each_stage: dict[Standing, str]
) -> None:
    """At every stage, by day and under the safelight, upright and held across."""
    sign_in_page(phone, "Di Novak")
    missing = set(Standing) - set(of_each_stage)
    assert not missing, missing
    low = []
    for view in ("day", "safelight"):
        if view == "safelight":
            with answered(phone):
                phone.locator(".view button").click()
        for wide, high, most in ((360, 740, 640), (740, 360, 300)):
            phone.set_viewport_size({"width": wide, "height": high})
            for stage, code in of_each_stage.items():
                phone.goto(f"/t/{code}")
                bottom = phone.evaluate(MAIN_BUTTON)
                assert bottom > 0 or stage in WAITS, stage
                if bottom > most:
                    low.append((view, wide, str(stage), bottom))
                assert phone.evaluate("document.documentElement.scrollWidth") <= wide, stage
    assert low == []


@pytest.mark.browser
def test_what_takes_back_or_begins_is_below_the_next_button(
    phone: Any, sign_in_page: Callable[[Any, str], None], shop: Shop
) -> None:
    """After a step, in a task, and for a whole rack: what crosses out is folded away, after all else."""
    sign_in_page(phone, "Ada Holm")
    shop.me = shop.maker
    rack = shop.place("Rack 1", "rack")
    *first, second = shop.frames(4)

    def tap(name: str) -> None:
        with answered(phone):
            phone.get_by_role("button", name=name).first.click()

    def crossed_below(what: str) -> None:
        cross = phone.get_by_role("link", name="Cross it", include_hidden=True)
        assert cross.count() == 1 and not cross.is_visible(), what
        assert phone.locator("details.last").evaluate(
            "last => [...document.querySelectorAll('main :is(button, .button):not(.last *)')].every("
            "one => !one.checkVisibility() || one.classList.contains('quiet')"
            " || one.compareDocumentPosition(last) & Node.DOCUMENT_POSITION_FOLLOWING)"
        ), what

    for code, place in zip(first, (0, 300, 10_000), strict=True):  # wherever the page stood when it was pressed
        shop.past(code, "degrease", 3)
        phone.goto(f"/t/{code}")
        phone.evaluate(f"scrollTo(0, {place})")
        tap("Coated")
        crossed_below(f"a step, at {place}")
        mode = phone.get_by_role("button", name="Same step on other screens").bounding_box()
        main = phone.locator(".next :is(.picks button, button.primary)").first.bounding_box()
        assert mode and main and mode["y"] > main["y"], "a mode begins below what comes next"
    phone.goto(f"/t/{rack}")
    tap("Scan screens to put them here")
    phone.goto(f"/t/{second}")
    tap("Put on Rack 1")
    crossed_below("in a task")
    tap("Done: show Rack 1")
    phone.goto(f"/places/{rack}?step=degrease&tick=all")
    tap("Log 1: degreased")
    crossed_below("a rack")


def test_an_image_that_nobody_entered_yet_is_named_later(shop: Shop) -> None:
    shop.me = shop.maker
    code = shop.frame()
    shop.log(code, "degrease")
    shop.log(code, "coat", dry="yes")
    shop.log(code, "image", separations="later", dry="yes")
    life = shop.life(code)
    assert life.standing is Standing.IMAGED and life.stencil is not None and life.stencil.separations == ()
    shop.log(code, "image", separations=["later", str(shop.separation())])  # a name wins
    named = shop.life(code).stencil
    assert named is not None and named.separations == (shop.separation(),)
    with pytest.raises(Refused, match="Image"):
        shop.log(code, "image")  # left empty it is no answer


def test_a_fault_in_words_is_said_on_the_screen_and_at_the_press(shop: Shop, client: FlaskClient) -> None:
    shop.me = shop.maker
    job = shop.job()
    code = shop.screen(job, 1)
    shop.log(code, "fault", kind="other", what="paint flakes off the corner", then="use on")
    assert shop.life(code).fault == "paint flakes off the corner"
    signed_in(client, "Di Novak")
    assert "Noted on the frame: paint flakes off the corner" in said(client.get(f"/t/{code}").text)
    run = shop.set_up(job, {})
    assert "paint flakes off the corner" in said(client.get(f"/runs/{run}?screen={code}").text)
    shop.tick(hours=1)
    shop.log(code, "tension", readings_n_per_cm="26 26 26 26 26")
    shop.log(code, "check", result="good")
    assert "paint flakes" not in said(client.get(f"/runs/{run}?screen={code}").text)
