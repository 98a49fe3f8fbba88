"""Whether a run may go on: what speaks against it is said on its page, asked by start and count, and answered once."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient
from shop import NOW, Shop, clock, fresh, two_colours
from sqlite_utils import Database
from test_web_runs import hang_both, post, ready_to_print, start_run, story, text_of
from test_web_runs import press as press  # fixtures

from tickets import cli
from tickets.actions import jobs as jobs_acts
from tickets.actions import runs as runs_acts
from tickets.calculator.verdict import Level, Reason
from tickets.domain.jobs.job import read
from tickets.domain.screens.press_checks import may_run
from tickets.queries import at_press, find, run_plan, sound
from tickets.store import entries, jobs

SignIn = Callable[[FlaskClient, str], FlaskClient]


def changed(shop: Shop, job: jobs.Saved, **more: Any) -> None:
    """The job's sheet is changed by the manager."""
    jobs_acts.change(shop.db, shop.manager, job, read(two_colours(**more)), post=fresh(), now=NOW)


def said(code: str) -> str:
    """A code as it is printed."""
    return f"{code[:5]}-{code[5:]}"


def going(db: Database, run: int) -> Any:
    """What speaks against that run now."""
    return at_press.going(db, run_plan.plan(db, run), clock())


def wider(width: str) -> dict[str, Any]:
    """The sheet of two colours with another print size."""
    placement = two_colours()["placement"][0]
    return {"placement": [{**placement, "width": width}]}


def other_mesh(count: str) -> dict[str, Any]:
    """The sheet of two colours with another mesh for its blue."""
    placement = two_colours()["placement"][0]
    stations = [dict(one) for one in placement["station"]]
    stations[2]["mesh"] = {"count": count}
    return {"placement": [{**placement, "station": stations}]}


def one_more() -> dict[str, Any]:
    """The sheet of two colours with a third one."""
    placement = two_colours()["placement"][0]
    red = {"does": "print", "colour": "red", "ink": "plastisol", "mesh": {"count": "230/in"}}
    return {"placement": [{**placement, "station": [*placement["station"], red]}]}


@pytest.mark.parametrize(
    "more, key, told",
    [
        ({"revision": "3"}, "old-revision", "revision 2 here, the job asks for revision 3 now: {both}"),
        (wider("280 mm"), "old-size", "Another print size: 300 mm wide here, the job asks for 280 mm now: {both}"),
        (other_mesh("305/in"), "mesh-changed", "Another mesh: 230/in here, the job asks for 305/in now: blue ({blue})"),
        (one_more(), "image-added", "The job now asks for this too, and this run does not print it: red"),
    ],
)
def test_a_job_changed_after_its_screens_hang_stops_the_start(
    shop: Shop, press: FlaskClient, sign_in: SignIn, db: Database, more: dict[str, Any], key: str, told: str
) -> None:
    job = shop.job()
    run, white, blue = ready_to_print(press, shop, job)
    assert going(db, run).level is Level.OK
    changed(shop, job, **more)
    assert going(db, run).keys == (key,) and going(db, run).level is Level.STOP
    told = told.replace("{both}", f"white ({said(white)}), blue ({{blue}})").replace("{blue}", said(blue))
    page = press.get(f"/runs/{run}").text.replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ")
    assert told in page and "Only a press lead or a manager may override this" in page
    assert post(press, run, "start").status_code == 409
    assert post(press, run, "start", override="customer agreed").status_code == 403
    assert story(db, run).started_at == ""
    sign_in(press, "Cy Marsh")
    assert "Printing started anyway" in press.get(f"/runs/{run}").text
    assert post(press, run, "start").status_code == 409, "no reason was given"
    assert post(press, run, "start", override="customer agreed").status_code == 303
    assert story(db, run).judged[-1].passed["why"] == "customer agreed"
    assert sound.check(db) == []


def test_a_screen_of_the_revision_before_the_change_is_no_right_screen(
    shop: Shop, press: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    job = shop.job()
    run, code = start_run(press, shop, job), shop.screen(job, 1)
    assert "RIGHT SCREEN" in press.get(f"/runs/{run}?screen={code}").text
    changed(shop, job, revision="3")
    page = press.get(f"/runs/{run}?screen={code}").text
    assert "RIGHT SCREEN" not in page and "Old artwork: revision 2 here, the job asks for revision 3 now" in page
    assert post(press, run, "hang", screen=code, head="1").status_code == 409
    assert post(press, run, "hang", screen=code, head="1", override="customer agreed").status_code == 403
    assert not story(db, run).hung
    sign_in(press, "Cy Marsh")
    assert post(press, run, "hang", screen=code, head="1", override="customer agreed").status_code == 303


def test_an_answer_holds_until_a_pause_or_another_change(
    shop: Shop, press: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    job = shop.job()
    run, white, blue = ready_to_print(press, shop, job)
    assert post(press, run, "start").status_code == 303
    changed(shop, job, revision="3")
    assert post(press, run, "count", good="10").status_code == 409  # it began before the change
    assert story(db, run).good == 0
    page = post(press, run, "count", good="10").text
    assert 'value="10"' in page, "what was typed is kept"
    sign_in(press, "Cy Marsh")
    assert post(press, run, "count", good="10", override="lead said so").status_code == 303
    sign_in(press, "Bo Lind")
    assert going(db, run).level is Level.CAUTION
    page = press.get(f"/runs/{run}").text
    assert "Old artwork: revision 2 here" in page and "Overridden by Cy Marsh: lead said so" in page
    assert post(press, run, "count", good="5").status_code == 303, "asked once, not at every count"
    assert story(db, run).good == 15 and len(story(db, run).judged) == 2  # the override, and the count that it let by
    assert post(press, run, "pause").status_code == 303
    assert going(db, run).level is Level.STOP
    hangs = [{"screen": code, "head": station, "station": station} for code, station in ((white, "1"), (blue, "3"))]
    for one in hangs:  # each screen by itself, whatever was said for the run
        assert post(press, run, "hang", **one).status_code == 409
        assert post(press, run, "hang", **one, override="lead said so").status_code == 403
    sign_in(press, "Cy Marsh")
    for one in hangs:
        assert post(press, run, "hang", **one, override="it still prints").status_code == 303
    assert going(db, run).level is Level.STOP, "what was gone past at the hanging is no word for the run"
    assert post(press, run, "start").status_code == 409, "whoever comes back is asked again"
    assert post(press, run, "start", override="it still prints").status_code == 303
    sign_in(press, "Bo Lind")
    assert going(db, run).level is Level.CAUTION and post(press, run, "count", good="5").status_code == 303


def test_an_answer_holds_whichever_screen_hangs_until_the_job_is_changed_again(
    shop: Shop, press: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    job = shop.job()
    run, white, _blue = ready_to_print(press, shop, job)
    spare = shop.screen(job, 1)
    changed(shop, job, revision="3")
    sign_in(press, "Cy Marsh")
    assert post(press, run, "start", override="the customer takes these").status_code == 303
    assert "Old artwork" in press.get(f"/runs/{run}?screen={spare}").text
    sent = {"old": white, "new": spare, "why": "pinholes", "head": "1"}
    assert post(press, run, "swap", **sent).status_code == 409, "a screen of before is passed by itself"
    assert post(press, run, "swap", **sent, override="the same film").status_code == 303

    def stops() -> set[str]:
        return {one.key for one in going(db, run).reasons if one.level is Level.STOP}

    assert stops() == {"again-swap"} and "old-revision" in going(db, run).keys
    garment = {"style": "Heavy tee", "colour": "black", "pieces": 65, "fibre": {"cotton": 100}}
    changed(shop, job, revision="3", garment=[garment])
    assert stops() == {"again-swap", "old-revision"}, "it was changed again: whoever leads looks again"


def test_a_form_that_showed_less_comes_back(shop: Shop, press: FlaskClient, sign_in: SignIn, db: Database) -> None:
    job = shop.job()
    run, _white, _blue = ready_to_print(press, shop, job)
    changed(shop, job, revision="3")
    sign_in(press, "Cy Marsh")
    assert post(press, run, "start", override="customer agreed").status_code == 303
    sign_in(press, "Bo Lind")
    answer = post(press, run, "count", good="7", seen="ok")
    assert (
        answer.status_code == 409
        and "Something changed" in answer.text
        and 'name="seen" value="caution"' in answer.text
    )
    assert post(press, run, "count", good="7", seen="caution").status_code == 303


def test_the_command_line_answers_with_the_same_verdict(shop: Shop, press: FlaskClient, db: Database) -> None:
    job = shop.job()
    run, white, _blue = ready_to_print(press, shop, job)
    changed(shop, job, revision="3")
    folder = str(next(db.query("PRAGMA database_list"))["file"]).rsplit("/", 1)[0]

    def tickets(*arguments: str) -> Any:
        return CliRunner().invoke(cli.root, [*arguments, "--data", folder], catch_exceptions=False)

    shown = tickets("run", "show", str(run))
    assert "Old artwork: revision 2 here, the job asks for revision 3 now: white" in shown.output
    assert said(white) in shown.output
    refused = tickets("run", "log", str(run), "start")
    assert refused.exit_code == 2 and "Old artwork: revision 2" in refused.stderr and story(db, run).started_at == ""
    done = tickets("run", "log", str(run), "start", "--override", "customer agreed")
    assert done.exit_code == 0 and "Old artwork" in done.output, done.output
    assert re.search(r"start  \[stop\] .*overridden by .*: customer agreed", tickets("run", "show", str(run)).output)
    page = text_of(press.get(f"/runs/{run}").text)
    assert page.count("✕ Old artwork: revision 2 here") == 2 and "right screen" not in page, "at each of the rows"
    (started,) = [one for one in entries.of(db, "run", run) if one.step == "start"]
    assert started.override and started.override["causes"] == ["old-revision"] and started.verdict["level"] == "stop"


def test_what_was_gone_past_stays_on_the_run(shop: Shop, press: FlaskClient, sign_in: SignIn) -> None:
    job = shop.job()
    run, _white, _blue = ready_to_print(press, shop, job)
    changed(shop, job, revision="3")
    sign_in(press, "Cy Marsh")
    assert post(press, run, "start", override="customer agreed").status_code == 303
    changed(shop, job, revision="2")  # back again: nothing speaks against it now
    page = press.get(f"/runs/{run}").text
    assert "Overridden by Cy Marsh: customer agreed" in page and "Old artwork: revision 2 here" in page


def test_only_the_same_cause_is_answered() -> None:
    reason = Reason("old-revision", Level.STOP, {"has": "2", "asked": "3", "past_h": 1.0})
    answer = {"reasons": [reason.to_dict()], "passed": {"who": "Cy Marsh", "why": "lead said so"}}
    later = Reason("old-revision", Level.STOP, {"has": "2", "asked": "3", "past_h": 2.5})
    assert may_run([later], [answer]).level is Level.CAUTION
    assert may_run([later], [{**answer, "passed": None}]).level is Level.STOP
    other = Reason("old-revision", Level.STOP, {"has": "2", "asked": "4"})
    change = {"has": "2", "asked": "3", "screens": ["white"], "job_version": 2}
    answers = [{**answer, "reasons": [Reason("old-revision", Level.STOP, change).to_dict()]}]
    elsewhere, changed_again = {**change, "screens": ["blue"]}, {**change, "job_version": 3}
    assert may_run([Reason("old-revision", Level.STOP, elsewhere)], answers).level is Level.CAUTION
    assert may_run([Reason("old-revision", Level.STOP, changed_again)], answers).level is Level.STOP
    colour = {"run": 3, "images": ["white"]}
    answers = [{**answer, "reasons": [Reason("print-colour-far", Level.STOP, colour).to_dict()]}]
    other_one = Reason("print-colour-far", Level.STOP, {**colour, "images": ["blue"]})
    assert may_run([other_one], answers).level is Level.STOP
    assert may_run([later, other], [answer]).level is Level.STOP
    assert may_run([]).level is Level.OK


def test_a_screen_that_is_replaced_answers_the_mesh(shop: Shop, press: FlaskClient, db: Database) -> None:
    """The blue hangs on another mesh than was planned, which is the one that the job asks for now."""
    job = shop.job()
    run, _white, blue = hang_both(press, shop, job)
    changed(shop, job, **other_mesh("305/in"))
    assert "mesh-changed" in going(db, run).keys
    finer = shop.screen(job, 3, mesh_count_as_labelled="305/in", thread_um="40")
    lead = shop.actor("Cy Marsh")
    from tickets.domain.posted import form

    sent = form({"old": blue, "new": finer, "why": "other mesh", "override": "the job asks for it"})
    runs_acts.log(db, lead, run, "swap", sent, post=fresh(), now=clock())
    assert going(db, run).keys == ("first-print-open",) and find.screen(db, finer).life.run == run
