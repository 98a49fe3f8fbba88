"""How screens come off: what is said of each, or of all, is kept on every path; a count that comes late is asked about;
a pause is no second use; a swap is a fault. Runs are worked by hand: white at position 1, blue at 3."""

from __future__ import annotations

import json
import re
from datetime import datetime
from typing import Any

import pytest
from flask.testing import FlaskClient
from shop import NOW, Shop, clock, fresh
from sqlite_utils import Database
from test_run_counts import tickets
from test_web_runs import hang_both, post, ready_to_print, start_run, story, text_of
from test_web_runs import press as press  # fixtures

from tickets.actions import screens
from tickets.domain.code import shown
from tickets.domain.posted import form
from tickets.domain.runs.run import Used
from tickets.domain.screens.screen import Life
from tickets.domain.stages import Standing
from tickets.queries import find, run_plan, sound, wrong
from tickets.store import desk, entries


def utc() -> datetime:
    return clock()


def life(db: Database, code: str) -> Life:
    """What the log says of a screen now."""
    return find.screen(db, code).life


def condition(db: Database, code: str) -> str:
    stencil = life(db, code).stencil
    return stencil.condition if stencil else "-"


def used(db: Database, run: int, code: str) -> Used:
    """What the run says of a screen that it used."""
    number = find.screen(db, code).id
    (found,) = [one for one in run_plan.used(db, run_plan.plan(db, run)) if one.screen == number]
    return found


def last(db: Database, code: str, step: str) -> dict[str, Any]:
    """The values of the last entry of a step of a screen."""
    found = [one for one in entries.of(db, "screen", find.screen(db, code).id) if one.step == step]
    return dict(max(found, key=lambda one: one.saved_at).values)


@pytest.fixture
def going(shop: Shop, press: FlaskClient) -> tuple[int, str, str]:
    """A run that prints, 20 pieces counted: its number, white, blue."""
    run, white, blue = ready_to_print(press, shop, shop.job())
    assert post(press, run, "start").status_code == 303
    assert post(press, run, "count", good="20").status_code == 303
    return run, white, blue


def by(way: str, press: FlaskClient, db: Database, run: int, step: str, **said: str) -> tuple[bool, str]:
    """A step by the page or by the command line: whether it was taken, and what was said."""
    if way == "page":
        answer = post(press, run, step, **said)
        return answer.status_code == 303, text_of(answer.text)
    options = [part for name, value in said.items() for part in (f"--{name}", value)]
    options += ["--anyway"] if step == "finish" else []  # few pieces are asked about elsewhere
    result = tickets(db, "run", "log", str(run), step, *options)
    return result.exit_code == 0, result.stderr


@pytest.mark.parametrize("way", ["page", "command"])
def test_a_pause_takes_how_each_screen_looks_and_what_becomes_of_it(
    press: FlaskClient, db: Database, going: tuple[int, str, str], way: str
) -> None:
    run, white, blue = going
    said = {f"then.{white}": "keep", f"condition.{blue}": "worn"}
    assert by(way, press, db, run, "pause", **said)[0]
    assert last(db, white, "pull") == {"run": run, "then": "keep"}, "said, so it is no keeping for the run alone"
    assert last(db, blue, "pull")["condition"] == "worn" and "for" in last(db, blue, "pull")
    assert by(way, press, db, run, "finish", then="strip", still_needed="yes")[0]
    assert life(db, white).decided == "keep", "what the pause decided stands"
    assert life(db, blue).decided == "strip" and condition(db, blue) == "worn"
    assert used(db, run, blue).then == "strip" and used(db, run, white).then == "keep"
    assert sound.check(db) == []


@pytest.mark.parametrize("way", ["page", "command"])
def test_a_finish_after_a_pause_takes_what_is_said_of_each(
    press: FlaskClient, db: Database, going: tuple[int, str, str], way: str
) -> None:
    run, white, blue = going
    assert by(way, press, db, run, "pause", **{f"then.{white}": "keep"})[0]
    assert 'formmethod="get"' in press.get(f"/runs/{run}").text.split("Pick per screen")[0].rpartition("<button")[2]
    page = press.get(f"/runs/{run}?open=finish&good=3").text
    assert re.search(r'name="good"[^>]*value="3"', page), "what was typed before stays"
    page = text_of(page)
    assert "Pick per screen" in page and "Off the press already: keep it" in page
    assert "Off the press already: kept for this run" in page
    said = {"then": "keep", f"then.{shown(white)}": "strip", f"condition.{white}": "good",
            f"condition.{blue.lower()}": "pinholes", "still_needed": "yes"}  # fmt: skip
    assert by(way, press, db, run, "finish", **said)[0]
    assert life(db, white).decided == "strip", "said of that very screen, later"
    decided = last(db, white, "decide")
    assert (decided["then"], decided["condition"]) == ("strip", "good")
    assert condition(db, blue) == "pinholes" and life(db, blue).decided == "keep"
    assert used(db, run, blue).condition == "pinholes" and sound.check(db) == []


@pytest.mark.parametrize("way", ["page", "command"])
@pytest.mark.parametrize("paused", [False, True])
def test_what_is_said_of_all_holds_for_all(
    press: FlaskClient, db: Database, going: tuple[int, str, str], way: str, paused: bool
) -> None:
    run, white, blue = going
    if paused:
        assert post(press, run, "pause", **{f"condition.{white}": "pinholes"}).status_code == 303
    assert by(way, press, db, run, "finish", then="undecided", condition="worn")[0]
    assert condition(db, blue) == "worn" and condition(db, white) == ("pinholes" if paused else "worn")


def test_torn_after_the_pause_goes_to_be_restretched(
    press: FlaskClient, db: Database, going: tuple[int, str, str]
) -> None:
    run, white, blue = going
    assert post(press, run, "pause").status_code == 303
    assert post(press, run, "finish", then="keep", **{f"condition.{white}": "torn"}).status_code == 303
    assert life(db, white).torn and life(db, white).standing is Standing.TO_RESTRETCH
    assert life(db, blue).standing is Standing.KEPT and sound.check(db) == []


@pytest.mark.parametrize("way", ["page", "command"])
@pytest.mark.parametrize("step", ["pause", "finish"])
def test_what_can_not_be_kept_is_refused_and_nothing_is_written(
    shop: Shop, press: FlaskClient, db: Database, going: tuple[int, str, str], way: str, step: str
) -> None:
    run, white, _blue = going
    stray = shop.screen(shop.job(title="Second tees", revision="5"), 1)
    for said, told in (
        ({f"condition.{stray}": "worn"}, "No screen of this run is called"),
        ({f"condition.{white}": "fine"}, "One of: good, worn, torn, pinholes."),
        ({"condition": "fine"}, "One of: good, worn, torn, pinholes."),
        ({f"then.{white}": "keep", f"then.{shown(white)}": "strip"}, "in the answer twice"),
    ):
        taken, answer = by(way, press, db, run, step, **{"then": "keep", **said})
        assert not taken and told in answer, said
    assert story(db, run).state == "printing" and life(db, white).standing is Standing.ON_PRESS


def test_no_other_step_swallows_them(press: FlaskClient, db: Database, going: tuple[int, str, str]) -> None:
    run, _white, _blue = going
    for name in ("condition", "then", "head"):
        refused = tickets(db, "run", "log", str(run), "stop", "--cause", "ink", f"--{name}", "good")
        assert refused.exit_code == 2 and f"{name}: " in refused.stderr


@pytest.mark.parametrize("way", ["page", "command"])
def test_a_swap_takes_how_the_old_one_looks(
    shop: Shop, press: FlaskClient, db: Database, way: str, going: tuple[int, str, str]
) -> None:
    run, white, _blue = going
    saved = run_plan.plan(db, run).job
    spare = shop.screen(saved, 1)
    page = press.get(f"/runs/{run}?screen={spare}").text
    assert 'name="condition" value="worn"' in page and 'name="then" value="keep"' in page
    said = {"old": white, "new": spare, "why": "pinholes", "condition": "worn", "then": "keep"}
    assert by(way, press, db, run, "swap", **said)[0]
    pulled = last(db, white, "pull")
    assert (pulled["condition"], pulled["then"], pulled["cause"]) == ("worn", "keep", "pinholes")


# A count that comes late ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("way", ["page", "command"])
def test_a_pause_asks_what_was_printed_since_the_start(shop: Shop, press: FlaskClient, db: Database, way: str) -> None:
    run, white, _blue = ready_to_print(press, shop, shop.job())
    assert post(press, run, "start").status_code == 303
    taken, told = by(way, press, db, run, "pause")
    assert not taken and "Nothing was counted since" in told and story(db, run).state == "printing"
    assert ("--later yes" in told) is (way == "command")
    assert by(way, press, db, run, "pause", later="yes")[0]
    assert [one.values for one in entries.of(db, "run", run) if one.step == "pause"] == [{"later": "yes"}]
    taken, told = by(way, press, db, run, "count", good="12")
    assert not taken and f"position 1 (white): {shown(white)} until" in told and "printed before that?" in told
    assert by(way, press, db, run, "count", good="12", before="yes")[0]
    assert life(db, white).impressions == 12 and story(db, run).good == 12
    assert sound.check(db) == []


def test_a_pause_after_a_count_asks_nothing(press: FlaskClient, going: tuple[int, str, str]) -> None:
    assert post(press, going[0], "pause").status_code == 303


def test_the_page_of_a_paused_run_has_the_count(press: FlaskClient, db: Database, going: tuple[int, str, str]) -> None:
    run, _white, _blue = going
    assert post(press, run, "pause").status_code == 303
    page = press.get(f"/runs/{run}").text
    assert f'action="/runs/{run}/count"' in page and "Count what was printed before" in page
    answer = post(press, run, "count", good="3")
    assert answer.status_code == 409 and 'name="before" value="yes"' in answer.text and 'value="3"' in answer.text


def test_a_count_with_a_head_that_never_had_a_screen_asks_for_the_screen(
    shop: Shop, press: FlaskClient, db: Database
) -> None:
    job = shop.job()
    run, white = start_run(press, shop, job), shop.screen(job, 1)
    assert post(press, run, "hang", screen=white, head="1", station="1", seen="ok").status_code == 303
    answer = post(press, run, "count", good="3", before="yes")
    assert answer.status_code == 422 and "Scan their screens first" in answer.text


# Nothing counted ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("way", ["page", "command"])
@pytest.mark.parametrize("answer, said", [("none", "nothing was printed"), ("elsewhere", "counted elsewhere")])
def test_a_finish_with_nothing_counted_asks_once_and_keeps_the_answer(
    shop: Shop, press: FlaskClient, db: Database, way: str, answer: str, said: str
) -> None:
    run, white, _blue = ready_to_print(press, shop, shop.job())
    assert post(press, run, "start").status_code == 303
    taken, told = by(way, press, db, run, "finish", then="keep")
    assert not taken and "Nothing was counted in this run. How many were printed?" in told
    assert ("--uncounted none (nothing was printed), --uncounted elsewhere" in told) is (way == "command")
    assert story(db, run).state == "printing" and life(db, white).standing is Standing.ON_PRESS
    taken, told = by(way, press, db, run, "finish", then="keep", good="0", uncounted="perhaps")
    assert not taken and "One of: none, elsewhere." in told
    assert by(way, press, db, run, "finish", then="keep", uncounted=answer)[0]
    (finish,) = [one for one in entries.of(db, "run", run) if one.step == "finish"]
    assert finish.values["uncounted"] == answer
    assert f"finished with nothing counted: {said}" in text_of(press.get(f"/runs/{run}").text)


def test_the_question_of_a_finish_can_be_answered_by_a_tap_and_by_the_pieces(
    shop: Shop, press: FlaskClient, db: Database
) -> None:
    run, white, _blue = ready_to_print(press, shop, shop.job())
    asked = post(press, run, "finish", then="keep")  # approved, and nobody tapped the start
    assert asked.status_code == 409
    for value in ("none", "elsewhere"):
        assert f'type="radio" name="uncounted" value="{value}"' in asked.text
    assert post(press, run, "finish", then="keep", good="14", uncounted="none").status_code == 303
    (finish,) = [one for one in entries.of(db, "run", run) if one.step == "finish"]
    assert story(db, run).good == 14 and life(db, white).impressions == 14
    assert "uncounted" not in finish.values, "the pieces are the answer"


@pytest.mark.parametrize("way", ["page", "command"])
def test_a_finish_asks_of_a_garment_of_which_nothing_was_counted(
    shop: Shop, press: FlaskClient, db: Database, way: str
) -> None:
    tee = {"style": "Heavy tee", "pieces": 30, "fibre": {"cotton": 100}}
    job = shop.job(garment=[{**tee, "colour": one} for one in ("black", "red")])
    run, _white, _blue = ready_to_print(press, shop, job)
    assert post(press, run, "start", garment="1").status_code == 303
    assert post(press, run, "change", what="colourway", garment="2", good="30").status_code == 303
    assert post(press, run, "approve", approved_by="Bo Lind", approved_as="press").status_code == 303
    taken, told = by(way, press, db, run, "finish", then="keep")
    assert not taken and "Nothing was counted of Heavy tee, red." in told
    assert by(way, press, db, run, "finish", then="keep", good="29")[0]


def test_a_set_up_that_was_given_up_is_asked_nothing(shop: Shop, press: FlaskClient) -> None:
    run, _white, _blue = hang_both(press, shop, shop.job())
    assert post(press, run, "finish", then="keep").status_code == 303


# One run, one use -----------------------------------------------------------------------------------------------------


def test_a_pause_is_no_second_use(shop: Shop, press: FlaskClient, db: Database, going: tuple[int, str, str]) -> None:
    """By hand: 20 strokes, off, on again, 5 strokes, off: one use of 25. Then 4 in another run: a second one."""
    run, white, blue = going
    assert post(press, run, "pause").status_code == 303
    assert life(db, white).uses == 1
    for code, station in ((white, "1"), (blue, "3")):
        assert post(press, run, "hang", screen=code, head=station, station=station).status_code == 303
    assert post(press, run, "start", seen="caution").status_code == 303
    assert post(press, run, "finish", good="5", then="keep").status_code == 303
    assert (life(db, white).uses, life(db, white).impressions) == (1, 25)
    assert (life(db, blue).uses, life(db, blue).impressions) == (1, 25)
    other = start_run(press, shop, run_plan.plan(db, run).job)
    for code, station in ((white, "1"), (blue, "3")):
        assert post(press, other, "hang", screen=code, head=station, station=station).status_code == 303
    assert post(press, other, "sheet").status_code == 303
    assert post(press, other, "approve", approved_by="Bo Lind", approved_as="press").status_code == 303
    assert post(press, other, "start", seen="caution").status_code == 303
    assert post(press, other, "finish", good="4", then="keep").status_code == 303
    assert (life(db, white).uses, life(db, white).impressions) == (2, 29)
    assert sound.check(db) == []


def test_another_stencil_in_the_same_run_is_another_use_of_the_mesh(
    shop: Shop, press: FlaskClient, db: Database, going: tuple[int, str, str]
) -> None:
    run, white, blue = going
    assert post(press, run, "pause").status_code == 303
    separation = str(life(db, white).stencil.separations[0])  # type: ignore[union-attr]
    remade: dict[str, dict[str, str]] = {
        "strip": {"still_needed": "yes"}, "degrease": {}, "coat": {}, "image": {"separations": separation},
        "expose": {"exposure_s": "60"}, "washout": {"result": "good"}, "check": {"result": "good", "dry": "yes"},
    }  # fmt: skip
    for step, values in remade.items():
        screens.log(db, shop.maker, find.screen(db, white), step, form(values), post=fresh(), now=utc())
    for code, station in ((white, "1"), (blue, "3")):
        assert post(press, run, "hang", screen=code, head=station, station=station).status_code == 303
    assert post(press, run, "start", seen="caution").status_code == 303
    assert post(press, run, "finish", good="5", then="keep").status_code == 303
    assert (life(db, white).uses, life(db, blue).uses) == (2, 1)


# What goes wrong ------------------------------------------------------------------------------------------------------


def test_a_swap_is_a_fault_and_stands_in_what_goes_wrong(
    shop: Shop, press: FlaskClient, db: Database, going: tuple[int, str, str]
) -> None:
    run, white, _blue = going
    spares = [shop.screen(run_plan.plan(db, run).job, 1) for _unused in range(2)]
    assert post(press, run, "swap", old=white, new=spares[0], why="pinholes").status_code == 303
    assert post(press, run, "swap", old=spares[0], new=spares[1], why="slack").status_code == 303
    found = wrong.wrong(db, NOW, 30)
    assert dict(found.swaps) == {"pinholes": 1, "slack": 1} and found.stops == ()
    groups = dict(found.screens)
    assert {one.name: (one.stopped.number, one.stopped.of) for one in groups["mesh"]} == {"156/in": (3, 3),
                                                                                         "230/in": (1, 1)}  # fmt: skip
    ((_place, stencil),) = desk.stencils_of(db, find.screen(db, white).id)
    assert stencil.fault_list == ("pinholes",)
    ((_place, stencil),) = desk.stencils_of(db, find.screen(db, spares[0]).id)
    assert stencil.fault_list == (), "a slack mesh is no fault of the stencil"
    assert sound.check(db) == []


def test_the_desk_says_which_screens_were_swapped(
    shop: Shop, press: FlaskClient, db: Database, going: tuple[int, str, str], sign_in: Any
) -> None:
    run, white, _blue = going
    spare = shop.screen(run_plan.plan(db, run).job, 1)
    assert post(press, run, "swap", old=white, new=spare, why="it smelled odd").status_code == 303
    page = text_of(sign_in(press, "Di Novak").get("/desk/wrong").text)
    assert "Screens swapped other 1 screen" in page
    assert json.loads(tickets(db, "check", "--json").stdout)["sound"] is True


def test_the_two_questions_of_each_screen_have_a_heading(press: FlaskClient, going: tuple[int, str, str]) -> None:
    run, white, blue = going
    page = press.get(f"/runs/{run}?open=finish").text
    for code in (white, blue):
        for field, heading in (("then", "What becomes of it"), ("condition", "How it looks")):
            before = page.split(f'name="{field}.{code}"')[0]
            assert before[-900:].count(heading) == 1, (field, code)
