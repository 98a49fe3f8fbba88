"""What is planned is chosen where a run is opened, and what a manager comes to first."""

from __future__ import annotations

import re
from collections.abc import Callable

import shop as shops
from flask.testing import FlaskClient
from shop import Shop, fresh, two_colours

from tickets.actions import jobs as acts

SignIn = Callable[[FlaskClient, str], FlaskClient]


def chosen(page: str) -> list[str]:
    """The presses that are ticked on a page, as they are said."""
    return re.findall(r'name="press" value="\w+"[^>]* checked[^>]*><span>([^<]+)<', page)


def test_a_planned_press_is_chosen_where_a_run_is_opened(shop: Shop, client: FlaskClient, sign_in: SignIn) -> None:
    job, phone = shop.job(), sign_in(client, "Cy Marsh")
    assert [chosen(phone.get(path).text) for path in ("/press", f"/jobs/{job.code}")] == [["Press 1, 8 heads"]] * 2
    acts.plan(shop.db, shop.lead, job, "Press 2", "2026-03-12", post=fresh(), now=shop.now)
    told = [chosen(phone.get(path).text) for path in ("/press", f"/jobs/{job.code}")]
    assert told == [["Press 2, planned, 8 heads"]] * 2


def test_a_manager_of_an_empty_shop_comes_to_the_first_steps(shop: Shop, client: FlaskClient, sign_in: SignIn) -> None:
    phone = sign_in(client, "Di Novak")
    assert phone.get("/").location == "/first-steps", "presses alone show nothing on the desk"
    shop.frame()
    assert phone.get("/").location == "/desk"
    other = shops.phone_of(phone.application)
    assert sign_in(other, "Cy Marsh").get("/").location == "/press"


def test_a_first_job_leads_to_the_desk_too(shop: Shop, client: FlaskClient, sign_in: SignIn) -> None:
    shop.job(two_colours())
    assert sign_in(client, "Di Novak").get("/").location == "/desk"


def test_whoever_finishes_a_run_early_is_asked_by_command_as_on_a_page(shop: Shop, commands: shops.Tickets) -> None:
    job = shop.job()
    run = shop.set_up(job, {one: shop.screen(job, one) for one in (1, 3)}, press="Press 1")
    shop.approve(run)
    shop.step(run, "start")
    shop.step(run, "count", good=12)
    at = shop.tick(minutes=1).isoformat()
    told = commands("run", "log", run, "finish", "--then", "keep", "--at", at, "--by", "Cy Marsh")
    assert told.exit_code != 0 and "12 of 60 printed. Close the run anyway?" in told.output
    assert commands("run", "show", run, "--json").output.count('"state": "printing"') == 1
    done = commands("run", "log", run, "finish", "--then", "keep", "--at", at, "--by", "Cy Marsh", "--anyway")
    assert done.exit_code == 0, done.output
