"""An off colour is a stop like any other: at the start, at “use these next time”, on the command line, on every page.

The colours are the first of Sharma's test pairs (Color Res. Appl. 30:21-30, 2005), 2.0425 apart, over the shop's stop
of 2.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient
from shop import Shop, clock, fresh
from sqlite_utils import Database
from test_web_runs import approved_run, hang_both, post, story
from test_web_runs import press as press  # fixtures

from tickets import cli
from tickets.actions import printing, run_papers
from tickets.actions import shop as shop_checks
from tickets.calculator.verdict import Level
from tickets.domain.person import LEAD_PASSES, Actor, may_pass
from tickets.domain.spec import Row
from tickets.queries import at_press, run_plan
from tickets.store import jobs

SignIn = Callable[[FlaskClient, str], FlaskClient]
APPROVED, OFF, NEAR = "50 2.6772 -79.7751", "50 0 -82.7485", "50 2.6 -79.8"
HOW = "D50, 2°, bench instrument"


@pytest.fixture
def lead(press: FlaskClient, sign_in: SignIn) -> FlaskClient:
    """The press lead's phone."""
    return sign_in(press, "Cy Marsh")


def repeat(phone: FlaskClient, shop: Shop, job: jobs.Saved, lab: str, how: str = HOW) -> int:
    """A run of the job, its first print approved with that reading of blue (empty: none)."""
    run, _white, _blue = hang_both(phone, shop, job)
    assert post(phone, run, "sheet", **{"s3.squeegee": "70"}).status_code == 303
    read = {"lab.3": lab, "lab_conditions": how} if lab else {}
    assert post(phone, run, "approve", approved_by="Cy Marsh", approved_as="press", **read).status_code == 303
    return run


@pytest.fixture
def target(lead: FlaskClient, shop: Shop) -> tuple[jobs.Saved, int]:
    """A job with a measured print that is the target, and that run."""
    job = shop.job()
    run = approved_run(lead, shop, job, "70", APPROVED)
    assert post(lead, run, "use-next-time").status_code == 303
    return job, run


def going(db: Database, run: int) -> Any:
    return at_press.going(db, run_plan.plan(db, run), clock())


def test_a_colour_stop_needs_a_reason_from_somebody_who_may(
    lead: FlaskClient, shop: Shop, db: Database, sign_in: SignIn, target: tuple[jobs.Saved, int]
) -> None:
    job, first = target
    run = repeat(lead, shop, job, OFF)
    verdict = going(db, run)
    assert verdict.level is Level.STOP and verdict.keys == ("print-colour-far",)
    numbers = verdict.reasons[0].numbers
    assert (numbers["station"], numbers["image"], numbers["run"], numbers["limit"]) == (3, "blue", first, 2)
    # by hand: L* 0; a* 0 should be 2.68, b* -82.75 should be -79.78: 2.97 yellower before 2.68 redder
    assert numbers["difference"] == pytest.approx(2.04, abs=0.005) and numbers["turn_word"] == ["yellower", "redder"]
    page = lead.get(f"/runs/{run}").text
    assert "Printing started anyway" in page and "over the limit of 2." in page and "Turn it yellower, redder" in page
    assert post(lead, run, "start").status_code == 409 and story(db, run).state == "set-up"
    sign_in(lead, "Bo Lind")
    assert post(lead, run, "start", override="customer agreed").status_code == 403
    assert "Only a press lead or a manager" in lead.get(f"/runs/{run}").text
    sign_in(lead, "Cy Marsh")
    assert post(lead, run, "start", override="customer agreed").status_code == 303
    assert story(db, run).judged[-1].passed["why"] == "customer agreed"
    assert post(lead, run, "count", good="10").status_code == 303, "it was answered once"
    assert post(lead, run, "pause").status_code == 303


def test_on_again_after_a_pause_it_is_asked_again(
    lead: FlaskClient, shop: Shop, db: Database, target: tuple[jobs.Saved, int]
) -> None:
    run = repeat(lead, shop, target[0], OFF)
    assert post(lead, run, "start", override="customer agreed").status_code == 303
    assert going(db, run).level is Level.CAUTION
    hung = [one.screen for _station, one in sorted(story(db, run).hung.items())]
    assert post(lead, run, "pause", good="0").status_code == 303
    from tickets.store import screens

    for station, number in zip(("1", "3"), hung, strict=True):
        found = screens.get(db, number)
        assert found is not None
        sent = {"screen": found.code, "head": station, "station": station, "override": "customer agreed"}
        assert post(lead, run, "hang", **sent).status_code == 303
    assert going(db, run).level is Level.STOP and post(lead, run, "start").status_code == 409


def test_an_off_colour_becomes_the_target_only_with_a_reason(
    lead: FlaskClient, shop: Shop, db: Database, target: tuple[jobs.Saved, int]
) -> None:
    run = repeat(lead, shop, target[0], OFF)
    assert post(lead, run, "start", override="customer agreed").status_code == 303
    assert post(lead, run, "finish", good="50", then="keep").status_code == 303
    page = lead.get(f"/runs/{run}").text
    top = page.split("<h2>Print order</h2>")[0]
    assert '<div class="verdict stop"' in top and "over 2." in top, "the finished run says it at its top"
    assert "Log as the target for next time anyway" in page
    refused = post(lead, run, "use-next-time")
    assert refused.status_code == 409 and not story(db, run).target
    assert post(lead, run, "use-next-time", override="customer agreed").status_code == 303
    assert story(db, run).target and story(db, run).judged[-1].step == "use-next-time"


def test_a_right_colour_stops_nobody_and_says_nothing(
    lead: FlaskClient, shop: Shop, db: Database, target: tuple[jobs.Saved, int]
) -> None:
    run = repeat(lead, shop, target[0], NEAR)
    assert going(db, run).level is Level.OK
    assert post(lead, run, "start").status_code == 303
    assert post(lead, run, "finish", good="50", then="keep").status_code == 303
    assert '<div class="verdict' not in lead.get(f"/runs/{run}").text.split("<h2>Print order</h2>")[0]
    assert post(lead, run, "use-next-time").status_code == 303


@pytest.mark.parametrize(
    ("lab", "how", "key"),
    [("", HOW, "print-colour-unread"), (APPROVED, "D65, 10°, bench instrument", "print-colour-uncompared")],
)
def test_an_unknown_colour_is_said_above_the_start_and_stops_nobody(
    lead: FlaskClient, shop: Shop, db: Database, target: tuple[jobs.Saved, int], lab: str, how: str, key: str
) -> None:
    run = repeat(lead, shop, target[0], lab, how)
    verdict = going(db, run)
    assert verdict.level is Level.CAUTION and verdict.keys == (key,)
    before = lead.get(f"/runs/{run}").text.split("Printing started</button>")[0]
    assert "Unknown: whether the colour is right." in before and "3 blue" in before
    assert post(lead, run, "start", seen="caution").status_code == 303
    assert story(db, run).judged[-1].reasons[0]["key"] == key, "what was unknown stays on the run"


def test_the_limit_is_the_shops_own(
    lead: FlaskClient, shop: Shop, db: Database, target: tuple[jobs.Saved, int]
) -> None:
    """2.0425 is a stop at 2, a caution at 3; the row of this job alone decides."""
    run = repeat(lead, shop, target[0], OFF)
    assert going(db, run).level is Level.STOP
    row = Row(0, "colour-fail", 3, "", {"job": target[0].code}, "a test of ours")
    shop_checks.add_spec_row(shop.db, shop.manager, row, now=clock())
    assert going(db, run).keys == ("print-colour-off",) and going(db, run).level is Level.CAUTION


def test_only_a_lead_goes_past_a_colour() -> None:
    assert "print-colour-far" in LEAD_PASSES
    assert not may_pass(Actor(1, "Bo", "press"), ["print-colour-far"])
    assert may_pass(Actor(2, "Cy", "press lead"), ["print-colour-far"])


def two_garments(shop: Shop, on_red: Any) -> jobs.Saved:
    """A job on black and on red, whose blue is another ink there, or is not printed (False)."""
    tee = {"style": "Heavy tee", "pieces": 30, "fibre": {"cotton": 100}}
    garments = [{**tee, "colour": "black"}, {**tee, "colour": "red"}]
    way = {"garment": {"style": "Heavy tee", "colour": "red"}, "inks": {"blue": on_red}}
    return shop.job(garment=garments, colourway=[way])


def read_on(lead: FlaskClient, shop: Shop, job: jobs.Saved, garment: str, lab: str) -> int:
    """A run whose approved print was read on a garment; empty: before anybody said on which."""
    run, _white, _blue = hang_both(lead, shop, job)
    assert post(lead, run, "sheet", **{"s3.squeegee": "70"}).status_code == 303
    if garment:
        assert post(lead, run, "change", what="colourway", garment=garment).status_code == 303
    sent = {"approved_by": "Cy Marsh", "approved_as": "press", "lab.3": lab, "lab_conditions": HOW}
    assert post(lead, run, "approve", **sent).status_code == 303
    return run


def test_a_garment_that_takes_none_of_an_ink_leaves_its_readings_comparable(lead: FlaskClient, shop: Shop) -> None:
    """Blue is printed on black only: a reading of it is one of that ink, whether the garment was said or not."""
    job = two_garments(shop, False)
    first = read_on(lead, shop, job, "", APPROVED)
    assert post(lead, first, "start", garment="1").status_code == 303
    assert post(lead, first, "finish", good="30", then="keep").status_code == 303
    assert post(lead, first, "use-next-time").status_code == 303
    assert going(shop.db, read_on(lead, shop, job, "1", OFF)).keys == ("print-colour-far",)


def test_a_reading_of_one_colourway_is_not_held_against_the_ink_of_another(lead: FlaskClient, shop: Shop) -> None:
    """Blue on black, orange on red: a print of the one says nothing of the other, however far apart they read."""
    job = two_garments(shop, {"colour": "orange"})
    first = read_on(lead, shop, job, "1", APPROVED)
    assert post(lead, first, "finish", good="30", then="keep").status_code == 303
    assert post(lead, first, "use-next-time").status_code == 303
    other = read_on(lead, shop, job, "2", "65 45 50")
    assert going(shop.db, other).keys == ("print-colour-unknown",), "black was read there, never red"
    assert post(lead, other, "finish", then="keep", uncounted="none").status_code == 303
    same = read_on(lead, shop, job, "1", OFF)
    assert going(shop.db, same).keys == ("print-colour-far",)


def command(*arguments: str) -> Any:
    return CliRunner().invoke(cli.root, [*arguments], catch_exceptions=False)


def test_an_approval_by_command_says_that_its_colour_is_off(
    lead: FlaskClient, shop: Shop, target: tuple[jobs.Saved, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is logged, as on the page, whose top says STOP then; a script reads the same, and exit status 1."""
    job, _first = target
    monkeypatch.setenv("TICKETS_DATA", str(lead.application.config["FOLDER"]))
    approve = ("approve", "--approved_by", "Cy Marsh", "--approved_as", "press", "--lab_conditions", HOW)
    for reading, level, status in ((OFF, "stop", 1), (NEAR, "ok", 0)):
        run, _white, _blue = hang_both(lead, shop, job)
        assert post(lead, run, "sheet", **{"s3.squeegee": "70"}).status_code == 303
        said = command("run", "log", str(run), *approve, "--lab.3", reading, "--json")
        verdict = json.loads(said.stdout)["verdict"]
        far = [one["key"] for one in verdict["reasons"] if one["key"] == "print-colour-far"]
        assert (said.exit_code, verdict["level"], len(far)) == (status, level, status), said.output
        assert story(shop.db, run).approved is not None
        assert post(lead, run, "finish", then="keep", uncounted="none").status_code == 303


def test_the_command_line_answers_with_the_same_verdict(
    lead: FlaskClient, shop: Shop, db: Database, target: tuple[jobs.Saved, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    run = repeat(lead, shop, target[0], OFF)
    monkeypatch.setenv("TICKETS_DATA", str(lead.application.config["FOLDER"]))
    plain = command("run", "log", str(run), "start")
    assert plain.exit_code == 2 and "over 2." in plain.stderr and "--override REASON" in plain.stderr
    refused = command("run", "log", str(run), "start", "--json")
    told = json.loads(refused.stdout)
    assert refused.exit_code == 2 and told["entries"] == [] and told["verdict"] == going(db, run).to_dict()
    assert told["refused"][0]["place"] == "override"
    passed = command("run", "log", str(run), "start", "--override", "customer agreed", "--json")
    assert passed.exit_code == 0 and json.loads(passed.stdout)["verdict"]["level"] == "stop"
    assert command("run", "log", str(run), "finish", "--good", "50").exit_code == 0
    shown = json.loads(command("run", "show", str(run), "--json").stdout)
    assert shown["colour"]["reasons"][0]["key"] == "print-colour-far"
    again = command("run", "log", str(run), "use-next-time", "--json")
    assert again.exit_code == 2 and json.loads(again.stdout)["verdict"]["level"] == "stop"
    near = repeat(lead, shop, target[0], NEAR)
    quiet = command("run", "log", str(near), "start", "--json")
    assert quiet.exit_code == 0 and json.loads(quiet.stdout)["verdict"] == {"level": "ok", "reasons": []}


def test_run_compare_says_a_colours_verdict_before_all_that_differs(
    lead: FlaskClient, shop: Shop, target: tuple[jobs.Saved, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One that is clearly off is said at the top, with by how much; one that is close is nothing to say first."""
    run = repeat(lead, shop, target[0], OFF)
    monkeypatch.setenv("TICKETS_DATA", str(lead.application.config["FOLDER"]))
    before, first, *rest = command("run", "compare", str(run)).stdout.splitlines()
    assert before.startswith(f"Before: run {target[1]}, ")
    assert first.startswith(
        "STOP: 3 blue, Colour, L* a* b*. The colour is 2.04 from the approved print, over the limit of 2."
    )
    assert rest[0] == "Differs:" and not [one for one in rest if one.startswith("STOP")]
    assert post(lead, run, "finish", then="keep", uncounted="elsewhere").status_code == 303
    near = repeat(lead, shop, target[0], NEAR)
    said = command("run", "compare", str(near)).stdout
    assert "STOP" not in said and "Caution" not in said and "The colour is" not in said


def test_two_phones_that_send_the_same_start_twice_are_answered_once(
    lead: FlaskClient, shop: Shop, db: Database, target: tuple[jobs.Saved, int]
) -> None:
    run = repeat(lead, shop, target[0], OFF)
    entry = fresh()
    for _time in range(2):
        sent = {"entry": entry, "override": "customer agreed"}
        assert lead.post(f"/runs/{run}/start", data=sent).status_code == 303
    assert len([one for one in story(db, run).judged if one.step == "start"]) == 1


# On paper, at the desk, in the comparison ----------------------------------------------------------------------------


def words(pdf: bytes) -> str:
    """The words of a PDF in their order."""
    pdfium = pytest.importorskip("pypdfium2")
    return " ".join(" ".join(page.get_textpage().get_text_range().split()) for page in pdfium.PdfDocument(pdf))


def test_papers_show_a_stop_as_one_and_carry_the_readings_to_meet(
    lead: FlaskClient, shop: Shop, db: Database, target: tuple[jobs.Saved, int]
) -> None:
    job, first = target
    now = clock()
    meet = "L* 50.0, a* 2.7, b* -79.8, D50, 2°, bench instrument"
    ticket = words(printing.print_job(db, shop.manager, job.code, now=now, anyway=True).pdf)
    assert f"to meet: {meet}" in ticket, "the next run's ticket has what its colour is to meet"
    run = repeat(lead, shop, job, OFF)
    sheet = words(run_papers.print_setup(db, shop.manager, run, now=now, anyway=True).pdf)
    assert f"colour {meet}" in sheet
    assert f"STOP Position 3 (blue): the colour is 2.04 (CIEDE2000) from run {first}, over 2." in sheet
    inside, outside = (
        words(run_papers.print_comparison(db, shop.manager, run, now=now, for_customer=customer, anyway=True).pdf)
        for customer in (False, True)
    )
    assert "STOP 3. blue: The colour is 2.04 from the approved print, over the limit of 2." in inside
    assert "Clearly off the approved print: blue (ΔE00 2; " in outside and "STOP: a clear difference" in outside
    near = repeat_elsewhere(lead, shop, job, NEAR)
    assert "STOP" not in words(run_papers.print_setup(db, shop.manager, near, now=now, anyway=True).pdf)
    made = run_papers.print_comparison(db, shop.manager, near, now=now, for_customer=False, anyway=True)
    assert "STOP" not in words(made.pdf)


def repeat_elsewhere(phone: FlaskClient, shop: Shop, job: jobs.Saved, lab: str) -> int:
    """As `repeat`, on the other press."""
    run, _white, _blue = hang_both(phone, shop, job, shop.other_press)
    assert post(phone, run, "sheet", **{"s3.squeegee": "70"}).status_code == 303
    read = {"lab.3": lab, "lab_conditions": HOW}
    assert post(phone, run, "approve", approved_by="Cy Marsh", approved_as="press", **read).status_code == 303
    return run


def test_the_comparison_and_the_desk_say_it_at_their_top(
    lead: FlaskClient, shop: Shop, sign_in: SignIn, target: tuple[jobs.Saved, int]
) -> None:
    run = repeat(lead, shop, target[0], OFF)
    top = lead.get(f"/runs/{run}/comparison").text.split("setting")[0]
    assert '<div class="verdict stop"' in top and "2.04 from the approved print, over the limit of 2." in top
    sign_in(lead, "Di Novak")
    assert "colour off" not in lead.get("/desk").text, "nothing was printed with it yet"
    sign_in(lead, "Cy Marsh")
    assert post(lead, run, "start", override="customer agreed").status_code == 303
    sign_in(lead, "Di Novak")
    desk = lead.get("/desk").text
    assert desk.index("colour off, printed anyway") < desk.index("Late, and the next")
    assert f'<a href="/runs/{run}">' in desk and "Overridden by Cy Marsh: customer agreed" in desk
