"""A shop that logs no coats says once whether its emulsion withstands water: judged by that, not asked every time."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from flask.testing import FlaskClient
from shop import NOW, Shop, fresh
from sqlite_utils import Database
from test_web_runs import discharge_job, press, start_run

from tickets.actions import buckets, screens
from tickets.actions import shop as shops
from tickets.calculator.verdict import Level
from tickets.domain.bucket import usual_emulsion
from tickets.domain.entry import stamp
from tickets.domain.posted import form
from tickets.domain.screens.checks import emulsion_fit
from tickets.queries import at_press as at_press_now
from tickets.queries import boards, desk_today, find, run_plan
from tickets.store import jobs
from tickets.store.settings import save_setting, setting

__all__ = ["press"]


def logs(shop: Shop, coats: bool) -> None:
    """The steps that the shop logs, with or without its coats."""
    steps = [step for step in setting(shop.db, "steps") if coats or step != "coat"]
    shops.set_up(shop.db, shop.manager, "steps", steps, now=NOW)


def say(shop: Shop, answer: str, days_ago: float = 0.0) -> None:
    save_setting(shop.db, "emulsion_water_resistant", answer, stamp(NOW - timedelta(days=days_ago)), shop.manager.id)


def at_press(shop: Shop, phone: FlaskClient) -> tuple[Level, set[str]]:
    """The press's answer to a screen whose bucket nobody noted, for its discharge ink; what it says of the emulsion."""
    job = discharge_job(shop)
    run, code = start_run(phone, shop, job), shop.screen(job, 1)
    verdict = at_press_now.check(shop.db, run_plan.plan(shop.db, run), find.screen(shop.db, code), NOW).verdict
    return verdict.level, {key for key in verdict.keys if key.startswith("emulsion-")}


@pytest.mark.parametrize(
    ("coats", "said", "level", "keys"),
    [
        (False, "", Level.CAUTION, {"emulsion-not-known"}),  # nobody said: never ok
        (False, "unknown", Level.CAUTION, {"emulsion-not-known"}),
        (False, "yes", Level.OK, {"emulsion-usual"}),
        (False, "no", Level.STOP, {"emulsion-not-fit"}),
        (True, "yes", Level.CAUTION, {"emulsion-not-known"}),  # a shop that logs coats is asked for the bucket
    ],
)
def test_the_usual_emulsion_answers_where_no_coat_is_logged(
    shop: Shop, press: FlaskClient, coats: bool, said: str, level: Level, keys: set[str]
) -> None:
    logs(shop, coats)
    if said:
        say(shop, said)
    assert at_press(shop, press) == (level, keys)


def test_a_quiet_answer_is_no_caution_on_the_page_and_the_board_counts_by_it(shop: Shop, press: FlaskClient) -> None:
    logs(shop, coats=False)
    say(shop, "yes")
    job = discharge_job(shop)
    run, code = start_run(press, shop, job), shop.screen(job, 1)
    page = press.get(f"/runs/{run}?screen={code}").text
    assert "RIGHT SCREEN" in page and "RIGHT SCREEN, BUT" not in page and "usual emulsion" not in page
    has = [one.progress.has for one in desk_today.placement_ahead(shop.db, job, 1, NOW).stations]
    assert has[0] in boards.TO_HAND
    say(shop, "no", days_ago=40)  # as if it had been the answer until now
    assert desk_today.placement_ahead(shop.db, job, 1, NOW).stations[0].progress.has not in boards.TO_HAND


@pytest.mark.parametrize(("answer", "offered"), [("yes", True), ("no", False)])
def test_a_coated_frame_is_offered_by_what_the_shop_says(shop: Shop, answer: str, offered: bool) -> None:
    logs(shop, coats=False)
    say(shop, answer)
    code = shop.screen(discharge_job(shop), 1, until="coat")
    (wanted,) = [
        line for one in boards.screen_room(shop.db, NOW).groups for line in one.lines if "discharge" in line.asked.inks
    ]
    assert (code in [one.frame.code for one in wanted.serves]) is offered


def said_of(answers: list[tuple[float, str]], made: float | None) -> str:
    """What is known of a stencil made so many days ago, the answers given so many days ago; a coat may wait 28 days."""
    told = [(stamp(NOW - timedelta(days=days)), answer) for days, answer in answers]
    found = usual_emulsion(told, "" if made is None else stamp(NOW - timedelta(days=made)), "ours", 28.0)
    return found.water_resistant if found else ""


@pytest.mark.parametrize(
    ("answers", "made", "known"),
    [
        ([], 1, ""),
        ([(5, "yes")], 1, "yes"),
        ([(5, "yes")], 90, "yes"),  # the first answer is for what stands there too
        ([(90, "no"), (5, "yes")], 1, ""),  # it may have been coated before the change
        ([(90, "no"), (40, "yes")], 1, "yes"),
        ([(90, "no"), (40, "yes")], 60, "no"),
        ([(90, "no"), (40, "yes")], 120, ""),  # older than every answer, and they differ
        ([(90, "yes"), (40, "yes")], None, "yes"),  # named by eye
        ([(90, "no"), (40, "yes")], None, ""),
        ([(90, "yes"), (40, "unknown")], 1, ""),
    ],
)
def test_a_changed_answer_says_nothing_of_what_may_be_older(
    answers: list[tuple[float, str]], made: float | None, known: str
) -> None:
    assert said_of(answers, made) == known


def test_hardening_answers_a_usual_emulsion_as_any_other() -> None:
    told = [(stamp(NOW), "no")]
    reasons = emulsion_fit(usual_emulsion(told, stamp(NOW), "ours", 28.0), frozenset({"discharge"}), hardened=True)
    assert [(one.key, one.level) for one in reasons] == [("emulsion-only-hardened", Level.CAUTION)]


def test_the_manager_says_it_once_on_the_page(
    client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient], shop: Shop, db: Database
) -> None:
    phone = sign_in(client, "Di Novak")
    assert "what counts is the bucket of each" in phone.get("/settings").text
    logs(shop, coats=False)
    assert "not for what may have been coated before a change" in phone.get("/settings").text
    name = "emulsion_water_resistant"
    assert phone.post(f"/settings/{name}", data={"entry": fresh(), name: "yes"}).status_code == 303
    assert setting(db, name) == "yes"
    assert phone.post(f"/settings/{name}", data={"entry": fresh(), name: "perhaps"}).status_code == 422


@pytest.mark.parametrize(
    ("coats", "level", "keys"),
    [
        (("yes", "yes"), Level.OK, set()),
        (("no", "yes"), Level.STOP, {"emulsion-not-fit"}),  # the coat below is on the mesh still
        (("yes", "no"), Level.STOP, {"emulsion-not-fit"}),
        (("yes", "unknown", "yes"), Level.CAUTION, {"emulsion-not-known"}),
    ],
)
def test_of_several_coats_the_one_that_withstands_the_least_is_judged(
    shop: Shop, press: FlaskClient, coats: tuple[str, ...], level: Level, keys: set[str]
) -> None:
    job = discharge_job(shop)
    run, code = start_run(press, shop, job), shop.screen(job, 1, until="degrease")
    start = NOW - timedelta(hours=5)
    for number, resists in enumerate(coats):
        sent = {"kind": "dual-cure emulsion", "product": f"Emulsion {number}", "water_resistant": resists}
        bucket = buckets.mix(shop.db, shop.manager, form(sent), post=fresh(), now=start)
        at = start + timedelta(minutes=30 * number)
        logged(shop, code, at, coat={"bucket": bucket})
    image = next(one.separation for one in jobs.asked(shop.db, job, 1) if one.number == 1)
    good = {"result": "good"}
    rest: dict[str, dict[str, str]] = {
        "image": {"separations": str(image)}, "expose": {}, "washout": good, "check": good,
    }  # fmt: skip
    for number, (step, values) in enumerate(rest.items()):
        logged(shop, code, start + timedelta(hours=3, minutes=20 * number), **{step: values})
    verdict = at_press_now.check(shop.db, run_plan.plan(shop.db, run), find.screen(shop.db, code), NOW).verdict
    assert {key for key in verdict.keys if key.startswith("emulsion-not")} == keys
    assert [one.level for one in verdict.reasons if one.key in keys] == [level] * len(keys)
    assert (verdict.level is Level.STOP) == (level is Level.STOP), verdict.keys


def logged(shop: Shop, code: str, at: datetime, **steps: dict[str, str]) -> None:
    """Steps of the screen room, as its form sends them."""
    for step, values in steps.items():
        screens.log(shop.db, shop.maker, find.screen(shop.db, code), step, form(values), post=fresh(), now=at)
