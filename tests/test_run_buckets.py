"""Time left of the ink buckets that a run prints from, wherever one is in use or can be chosen. By hand: mixed an hour
before its time ends, looked at 30 minutes and 3 hours later."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from click.testing import CliRunner
from flask.testing import FlaskClient
from shop import Shop, clock, fresh, two_colours
from sqlite_utils import Database
from test_run_going import said
from test_web_runs import hang_both, later, post, ready_to_print, story, text_of
from test_web_runs import press as press  # fixtures

from tickets import cli
from tickets.actions import buckets
from tickets.calculator.verdict import Level
from tickets.domain.posted import form
from tickets.queries import at_press, find, run_plan, sheets
from tickets.store import jobs


def mixed(shop: Shop, hours: float, product: str = "Deep white") -> str:
    """A bucket of catalysed ink that is good for so many hours from now; its code."""
    now = clock()
    sent = form({"kind": "catalysed ink", "product": product, "good_until": (now + timedelta(hours=hours)).isoformat()})
    return buckets.mix(shop.db, shop.manager, sent, post=fresh(), now=now)


def silicone(shop: Shop) -> jobs.Saved:
    """Two colours, the first of them silicone, which is mixed with its catalyst."""
    sheet = two_colours()
    sheet["placement"][0]["station"][0]["ink"] = "silicone"
    return shop.job(**{"placement": sheet["placement"]})


def going(db: Database, run: int, at: datetime) -> Any:
    """What speaks against that run then."""
    return at_press.going(db, run_plan.plan(db, run), at)


def test_the_time_of_a_bucket_in_use_is_said_and_past_it_a_caution(
    shop: Shop, press: FlaskClient, db: Database
) -> None:
    bucket = mixed(shop, 1)
    run, _white, _blue = ready_to_print(press, shop, silicone(shop), **{"s1.bucket": bucket})
    page = text_of(press.get(f"/runs/{run}").text)
    assert f"1. {said(bucket)} · Deep white : good for another" in page
    assert post(press, run, "start").status_code == 303
    assert "good for another" in text_of(press.get(f"/runs/{run}").text)
    assert going(db, run, clock() + timedelta(minutes=30)).level is Level.OK
    late = clock() + timedelta(hours=3, minutes=1)
    verdict = going(db, run, late)
    assert verdict.level is Level.CAUTION and verdict.keys == ("ink-past-time",)
    assert verdict.reasons[0].numbers["bucket"] == said(bucket)
    later(press, 181)
    told = f"Bucket {said(bucket)} expired 2 h ago."
    page = text_of(press.get(f"/runs/{run}").text)
    assert told in page and "expired 2 h ago" in page
    assert "expired 2 h ago" in text_of(press.get("/press").text)
    assert "expired 2 h ago" in text_of(press.get(f"/runs/{run}/sheet").text)
    assert "expired 2 h ago" in text_of(press.get(f"/buckets/{bucket}").text)
    says = sheets.setup_of(db, run, "http://127.0.0.1:1", late)
    assert any(told in text_of(one) for one in says.remarks), says.remarks
    assert post(press, run, "count", good="5", seen="ok").status_code == 409, "it got worse since it was shown"
    assert post(press, run, "count", good="5", seen="caution").status_code == 303
    (judged,) = story(db, run).judged
    assert judged.step == "count" and judged.reasons[0]["key"] == "ink-past-time"


def test_one_past_its_time_is_marked_where_it_can_be_chosen_in_mid_run(
    shop: Shop, press: FlaskClient, db: Database
) -> None:
    good, old = mixed(shop, 8), mixed(shop, 1, "Old white")
    run, _white, _blue = ready_to_print(press, shop, silicone(shop), **{"s1.bucket": good})
    assert post(press, run, "start").status_code == 303
    later(press, 181)
    page = text_of(press.get(f"/runs/{run}?open=sheet&part=all").text)
    assert f"{said(old)} · Old white – ! expired" in page, "at the white"
    assert f"{said(old)} · Old white – ! another colour – ! expired" in page, "at the blue"
    assert post(press, run, "sheet", why="ink flow", **{"s1.bucket": old}).status_code == 303
    text = text_of(press.get(f"/runs/{run}").text)
    assert f"Bucket {said(old)} expired 2 h ago." in text
    assert [one.step for one in story(db, run).judged] == ["change"], "the caution stays with the change"


def test_past_its_time_before_the_start_is_a_stop_that_an_answer_at_the_set_up_holds(
    shop: Shop, press: FlaskClient, db: Database
) -> None:
    bucket = mixed(shop, 1)
    run, _white, _blue = ready_to_print(press, shop, silicone(shop), **{"s1.bucket": bucket})
    assert going(db, run, clock() + timedelta(hours=3)).level is Level.STOP
    folder = str(next(db.query("PRAGMA database_list"))["file"]).rsplit("/", 1)[0]
    later(press, 181)
    assert post(press, run, "start").status_code == 409
    assert post(press, run, "start", override="lead said so", secret="4712").status_code == 403
    shown = CliRunner().invoke(cli.root, ["run", "show", str(run), "--json", "--data", folder])
    assert shown.exit_code == 0 and '"going"' in shown.output


def test_a_bucket_thrown_away_in_mid_run_is_a_caution(shop: Shop, press: FlaskClient, db: Database) -> None:
    bucket = mixed(shop, 8)
    run, _white, _blue = ready_to_print(press, shop, silicone(shop), **{"s1.bucket": bucket})
    assert post(press, run, "start").status_code == 303
    found = find.bucket(db, bucket)
    soon = clock() + timedelta(minutes=5)
    buckets.log(db, shop.manager, found, "discard", form({}), post=fresh(), now=soon)
    verdict = going(db, run, clock() + timedelta(minutes=6))
    assert (verdict.keys, verdict.level) == (("bucket-discarded",), Level.CAUTION)


def test_an_answer_at_the_set_up_is_not_asked_for_again_at_the_start(
    shop: Shop, press: FlaskClient, db: Database, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    bucket = mixed(shop, 1)
    run, _white, _blue = hang_both(press, shop, silicone(shop))
    sign_in(press, "Cy Marsh")
    later(press, 181)
    sent = {"s1.bucket": bucket, "secret": "4713"}
    assert post(press, run, "sheet", **sent).status_code == 409
    assert post(press, run, "sheet", **sent, override="lead said so").status_code == 303
    approved = {"approved_by": "Cy Marsh", "approved_as": "press", "secret": "4713"}
    assert post(press, run, "approve", **approved).status_code == 303
    assert going(db, run, clock() + timedelta(hours=3)).level is Level.CAUTION
    assert post(press, run, "start").status_code == 303
