"""A first print is approved again after what may change it, and whoever goes on without says why: page, command line,
press page and story agree. Cases by hand."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient
from shop import Shop, clock, fresh
from sqlite_utils import Database
from test_run_going import going, said
from test_run_story import entry
from test_web_runs import bucket_of, post, ready_to_print, story, text_of
from test_web_runs import press as press  # fixtures

from tickets import cli
from tickets.actions import shop as shop_checks
from tickets.domain.runs.run import Story, replay
from tickets.domain.stages import Standing
from tickets.queries import find, run_plan, sound
from tickets.store import entries

SignIn = Callable[[FlaskClient, str], FlaskClient]


def why(*log: Any) -> list[tuple[str, Any, Any]]:
    """What a log says that is to be approved again."""
    return [(one.why, one.station, one.now) for one in replay(log).to_approve]


HUNG = (entry("hang", 1, 21, station=1), entry("hang", 1.1, 22, station=3))
GOOD = (*HUNG, entry("approve", 2), entry("start", 2.1))


@pytest.mark.parametrize(
    "log, told",
    [
        (HUNG, []),
        (GOOD, []),
        ((*GOOD, entry("pull", 3, 21), entry("hang", 3.1, 23, station=1)), [("swap", 1, 23)]),
        ((*GOOD, entry("hang", 3.1, 23, station=1), entry("hang", 3.2, 24, station=1)), [("swap", 1, 24)]),
        ((*GOOD, entry("hang", 3.1, 23, station=1), entry("approve", 3.2)), []),
        ((*GOOD, entry("pause", 3), entry("hang", 4, 21, station=1)), [("pause", 1, 21)]),
        ((*GOOD, entry("pause", 3), entry("hang", 4, 23, station=1)), [("screen", 1, 23)]),
        ((*GOOD, entry("pause", 3), entry("hang", 4, 21, station=1), entry("start", 4.1),
          entry("hang", 5, 23, station=1)), [("swap", 1, 23)]),
        ((*GOOD, entry("change", 3, station=1, field="bucket", **{"from": "AB", "to": "CD"})), [("ink", 1, "CD")]),
        ((*GOOD, entry("change", 3, station=1, field="bucket", to="CD")), []),  # none was said before
        ((*GOOD, entry("change", 3, station=1, field="ink_lot", to="L1"),
          entry("change", 4, station=1, field="ink_lot", **{"from": "L1", "to": "L2"})), [("ink", 1, "L2")]),
        ((*GOOD, entry("change", 3, station=1, field="ink_lot", to="L1"),
          entry("change", 4, station=1, field="ink_lot", **{"from": "L1"}),
          entry("change", 5, station=1, field="ink_lot", to="L2")), [("ink", 1, "L2")]),
        ((*GOOD, entry("change", 3, station=1, field="ink_lot", to="L1"),
          entry("change", 4, station=1, field="ink_lot", **{"from": "L1", "to": "L2"}),
          entry("change", 5, station=1, field="ink_lot", **{"from": "L2", "to": "L1"})), []),
        ((*GOOD, entry("change", 3, station=1, field="bucket", **{"from": "AB", "to": "CD"}),
          entry("change", 4, station=1, field="bucket", **{"from": "CD", "to": "AB"})), []),  # back to the approved one
        ((*GOOD, entry("change", 3, station=1, field="strokes", **{"from": "1", "to": "2"})), []),
        ((*GOOD, entry("change", 3, what="colourway", garment_style="Tee", garment_colour="red")), []),  # the first one
        ((*GOOD, entry("change", 3, what="colourway", garment_style="Tee", garment_colour="red"),
          entry("change", 4, what="colourway", garment_style="Tee", garment_colour="blue")),
         [("garment", None, "Tee, blue")]),
        ((*GOOD, entry("change", 3, what="colourway", garment_style="Tee", garment_colour="red"),
          entry("change", 4, what="colourway", garment_style="Tee", garment_colour="blue"),
          entry("change", 5, what="colourway", garment_style="Tee", garment_colour="red")),
         [("back", None, "Tee, red")]),  # its own approval stands: only a shop that says so asks again
    ],
)  # fmt: skip
def test_what_is_to_be_approved_again(log: tuple[Any, ...], told: list[tuple[str, Any, Any]]) -> None:
    assert why(*log) == told


def test_a_second_approval_keeps_sample_and_photo_and_no_reading() -> None:
    """A reading belongs to the print that was read; what was read before it stays apart, for the repeats to meet."""
    first = entry("approve", 2, approved_by="Bo Lind", sample="drawer 3", lab={"1": [50, 1, 2]}, lab_conditions="D50",
                  lab_under={"1": "D50"}, lab_readings={"1": [[50, 1, 2]]})  # fmt: skip
    again = entry("approve", 4, approved_by="Cy Marsh", how="piece in hand")
    for swap in ([entry("hang", 3, 23, station=1)], []):
        approved = replay([*HUNG, first, *swap, again]).approved
        assert approved is not None and approved["approved_by"] == "Cy Marsh" and approved["entry"] == again.entry
        assert approved["sample"] == "drawer 3" and not {"lab", "lab_conditions", "lab_under"} & set(approved)
        assert approved["lab_before"] == {"1": {"lab": [50, 1, 2], "under": "D50", "readings": [[50, 1, 2]]}}
    measured = entry("approve", 4, approved_by="Cy Marsh", lab={"3": [20, 0, 0]})
    approved = replay([*HUNG, first, measured]).approved
    assert approved is not None and approved["lab"] == {"3": [20, 0, 0]} and "lab_conditions" not in approved


def on(hours: float, colour: str) -> Any:
    """A change of garment."""
    return entry("change", hours, what="colourway", garment_style="Tee", garment_colour=colour)


WAYS = {"Tee, red": {1: "white", 3: "blue"}, "Tee, blue": {1: "white", 3: "orange"}, "Tee, sand": {3: "blue"}}
RED = (*HUNG, on(1.5, "red"), entry("approve", 2), entry("start", 2.1), on(3, "blue"))
BLUE = (*RED, entry("approve", 3.1))


@pytest.mark.parametrize(
    "log, told",
    [
        (RED, [("garment", None, "Tee, blue")]),
        (BLUE, []),
        ((*BLUE, on(4, "red")), [("back", None, "Tee, red")]),
        ((*BLUE, on(4, "red"), entry("approve", 4.1)), []),
        ((*BLUE, on(4, "red"), on(5, "blue"), on(6, "sand")), [("garment", None, "Tee, sand")]),
        # another screen under blue: red wants another print of its own, whatever blue's approval says
        ((*BLUE, entry("hang", 4, 23, station=1), entry("approve", 4.1)), []),
        ((*BLUE, entry("hang", 4, 23, station=1), entry("approve", 4.1), on(5, "red")),
         [("swap", 1, 23), ("back", None, "Tee, red")]),
        # sand takes no white: another screen of it is nothing to its print
        ((*BLUE, on(4, "sand"), entry("approve", 4.1), on(5, "blue"), entry("hang", 6, 23, station=1), on(7, "sand")),
         [("back", None, "Tee, sand")]),
        # another lot of the orange is nothing to red, one of the white is
        ((*BLUE, entry("change", 4, station=3, field="ink_lot", **{"from": "O1", "to": "O2"}), on(5, "red")),
         [("back", None, "Tee, red")]),
        ((*BLUE, entry("change", 4, station=1, field="ink_lot", **{"from": "W1", "to": "W2"}), on(5, "red")),
         [("ink", 1, "W2"), ("back", None, "Tee, red")]),
        # noted on a sheet for blue
        ((*HUNG, on(1.5, "red"), entry("sheet", 1.6, stations={"1": {"ink_lot": "W1"}, "3": {"ink_lot": "B1"}}),
          entry("approve", 2), on(3, "blue"),
          entry("sheet", 3.1, stations={"1": {"ink_lot": "W2"}, "3": {"ink_lot": "O1"}}), entry("approve", 3.2),
          on(4, "red")), [("ink", 1, "W2"), ("back", None, "Tee, red")]),
    ],
)  # fmt: skip
def test_each_garment_has_an_approval_of_its_own(log: tuple[Any, ...], told: list[tuple[str, Any, Any]]) -> None:
    assert [(one.why, one.station, one.now) for one in replay(log, WAYS).to_approve] == told


def test_what_one_garment_was_approved_with_is_its_own() -> None:
    read = {"lab": {"3": [40, 1, 2]}, "lab_conditions": "D50"}
    log = [*HUNG, entry("sheet", 1.2, stations={"1": {"bucket": "W"}, "3": {"bucket": "B", "squeegee": "70"}}),
           entry("approve", 2, approved_by="Bo Lind", sample="drawer 3", **read),
           on(2.1, "red"), on(3, "blue")]  # fmt: skip
    story = replay(log, WAYS)
    assert story.on == "Tee, blue" and story.approved_now is None and not story.frozen
    assert story.approvals["Tee, red"]["lab"] == read["lab"], "it was given before anybody said which garment"
    assert story.settings == {"1": {"bucket": "W"}, "3": {"squeegee": "70", "ink": "orange"}}, "no blue"
    log += [entry("change", 3.1, station=3, field="bucket", **{"from": "", "to": "O"}),
            entry("approve", 3.2, approved_by="Cy Marsh")]  # fmt: skip
    story = replay(log, WAYS)
    assert story.settings["3"]["bucket"] == "O" and story.approved_now is not None
    assert not {"sample", "lab"} & set(story.approved_now), "what was kept of the red one is none of the blue one's"
    back = replay([*log, on(4, "red")], WAYS)
    assert back.settings["3"] == {"bucket": "B", "squeegee": "70"} and back.approved_now == back.approvals["Tee, red"]
    assert back.frozen and Story.from_dict(json.loads(json.dumps(back.to_dict()))) == back
    assert replay(log).settings["3"]["bucket"] == "O" and replay(log).ways == {}, "inks not known: as it was noted"


def test_after_a_swap_the_run_asks_for_a_first_print(
    shop: Shop, press: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    job = shop.job()
    run, white, _blue = ready_to_print(press, shop, job)
    assert post(press, run, "start").status_code == 303
    assert post(press, run, "approve", approved_by="Bo Lind", approved_as="press").status_code == 409  # stands
    spare = shop.screen(job, 1)
    sent = {"old": white, "new": spare, "why": "pinholes", "head": "1", "seen": "ok"}
    assert post(press, run, "swap", **sent, good="20").status_code == 303
    told = f"Position 1 (white) has screen {said(spare)} in place of {said(white)}: its first print is not approved."
    page = press.get(f"/runs/{run}").text
    assert told in page and "Approve a first print again" in page
    assert "next: have a first print approved again" in press.get("/press").text
    folder = str(next(db.query("PRAGMA database_list"))["file"]).rsplit("/", 1)[0]
    shown = CliRunner().invoke(cli.root, ["run", "show", str(run), "--data", folder])
    assert told in shown.output
    refused = CliRunner().invoke(cli.root, ["run", "log", str(run), "count", "--good", "5", "--data", folder])
    assert refused.exit_code == 2 and told in refused.stderr and story(db, run).good == 20
    answer = post(press, run, "count", good="5")
    assert answer.status_code == 409 and told in answer.text and story(db, run).good == 20
    assert post(press, run, "approve", approved_by="Bo Lind", approved_as="press").status_code == 303
    assert going(db, run).level.value == "ok" and post(press, run, "count", good="5").status_code == 303
    approved = [one for one in entries.of(db, "run", run) if one.step == "approve"]
    assert len(approved) == 2 and story(db, run).approved["entry"] == approved[1].entry
    assert sound.check(db) == []
    sign_in(press, "Di Novak")
    sent = {"crosses": approved[1].entry, "why": "wrong screen looked at"}
    assert post(press, run, "cross-out", **sent, secret="long-enough-password").status_code == 303
    assert going(db, run).keys == ("again-swap",), "the first approval was given on the other screen"
    assert story(db, run).approved["entry"] == approved[0].entry


def test_going_on_without_is_an_override_that_stays(shop: Shop, press: FlaskClient, db: Database) -> None:
    job = shop.job()
    run, white, _blue = ready_to_print(press, shop, job)
    assert post(press, run, "start").status_code == 303
    spare = shop.screen(job, 1)
    assert post(press, run, "swap", old=white, new=spare, why="torn", seen="ok").status_code == 303
    page = press.get(f"/runs/{run}").text
    assert 'name="override" value="lead said so"' in page and "checked" not in page.split('name="override"')[1][:120]
    assert post(press, run, "count", good="5", override="looked at it: it is fine").status_code == 303
    assert post(press, run, "count", good="5").status_code == 303, "asked once"
    text = text_of(press.get(f"/runs/{run}").text)
    assert "Overridden by Bo Lind: looked at it: it is fine" in text
    assert post(press, run, "finish", then="keep").status_code == 303
    text = text_of(press.get(f"/runs/{run}").text)
    assert "Overridden by Bo Lind: looked at it: it is fine" in text and "its first print is not approved" in text


def test_a_rule_of_the_shop_says_when(shop: Shop, press: FlaskClient, db: Database) -> None:
    job = shop.job()
    run, white, blue = ready_to_print(press, shop, job)
    assert post(press, run, "start").status_code == 303
    assert post(press, run, "pause", good="4").status_code == 303
    for code, station in ((white, "1"), (blue, "3")):
        assert post(press, run, "hang", screen=code, head=station, station=station).status_code == 303
    assert going(db, run).level.value == "ok"
    shop_checks.set_up(db, shop.manager, "approve_after_pause", "yes", now=clock())
    assert set(going(db, run).keys) == {"again-pause"} and sound.check(db) == []
    page = press.get(f"/runs/{run}").text
    assert "First print, again" in page and "Go on without an approved print" in page
    assert post(press, run, "start").status_code == 409
    assert post(press, run, "approve", approved_by="Bo Lind", approved_as="press").status_code == 303
    assert post(press, run, "start").status_code == 303


def test_another_lot_of_ink_wants_a_first_print_another_bucket_of_the_same_lot_does_not(
    shop: Shop, press: FlaskClient, db: Database
) -> None:
    job = shop.job()
    one, same, other = (bucket_of(shop, "plastisol ink", "Night blue", lot=lot) for lot in ("L-1", "L-1", "L-2"))
    run, _white, _blue = ready_to_print(press, shop, job, **{"s3.bucket": one})
    assert post(press, run, "start").status_code == 303
    assert post(press, run, "sheet", why="empty", **{"s3.bucket": same}).status_code == 303
    assert going(db, run).level.value == "ok"
    assert post(press, run, "sheet", why="empty", **{"s3.bucket": other}).status_code == 303
    assert going(db, run).keys == ("again-ink",)
    page = press.get(f"/runs/{run}").text
    assert f"Position 3 (blue): Ink bucket {said(other)}, not {said(one)}: its first print is not approved." in page
    shop_checks.set_up(db, shop.manager, "approve_after_ink", "no", now=clock())
    assert going(db, run).level.value == "ok"


@pytest.mark.parametrize("lots", [("L-1", ""), ("", "L-1"), ("", "")])
def test_a_bucket_of_a_lot_that_nobody_noted_is_like_no_other(
    shop: Shop, press: FlaskClient, db: Database, lots: tuple[str, str]
) -> None:
    one, other = (bucket_of(shop, "plastisol ink", "Night blue", **({"lot": lot} if lot else {})) for lot in lots)
    run, _white, _blue = ready_to_print(press, shop, shop.job(), **{"s3.bucket": one})
    assert post(press, run, "start").status_code == 303
    assert post(press, run, "sheet", why="empty", **{"s3.bucket": other}).status_code == 303
    assert going(db, run).keys == ("again-ink",)


@pytest.mark.parametrize("by", ["page", "command line"])
def test_a_forced_swap_says_why_the_old_one_comes_off(
    shop: Shop, press: FlaskClient, sign_in: SignIn, db: Database, by: str
) -> None:
    job = shop.job()
    run, white, _blue = ready_to_print(press, shop, job)
    wrong = shop.screen(shop.job(title="Last year", revision="1"), 1)
    folder = str(next(db.query("PRAGMA database_list"))["file"]).rsplit("/", 1)[0]
    sign_in(press, "Cy Marsh")

    def swap(**more: str) -> int:
        sent = {"old": white, "new": wrong, "override": "customer agreed", **more}
        if by == "page":
            return int(post(press, run, "swap", **sent).status_code)
        told = [part for name, value in sent.items() for part in (f"--{name}", value)]
        done = CliRunner().invoke(cli.root, ["run", "log", str(run), "swap", *told, "--data", folder])
        return {0: 303, 2: 422}[done.exit_code]

    page = press.get(f"/runs/{run}?screen={wrong}").text
    assert "Why does the other one come off?" in page
    assert swap() == 422 and story(db, run).hung[1].screen == find.screen(db, white).id
    assert swap(why="edge is soft") == 303
    off = find.screen(db, white)
    pulled = [one for one in entries.of(db, "screen", off.id) if one.step == "pull"][-1]
    assert pulled.values["why"] == "edge is soft" and "condition" not in pulled.values  # nobody called it good
    assert off.life.standing is Standing.TO_CLEAN


def test_the_settings_page_has_the_rules(shop: Shop, client: FlaskClient, sign_in: SignIn, db: Database) -> None:
    phone = sign_in(client, "Di Novak")
    assert "First print again on going back to a garment" in phone.get("/settings").text
    data = {"entry": fresh(), "approve_after_garment": "yes"}
    assert phone.post("/settings/approve_after_garment", data=data).status_code == 303
    bad = phone.post("/settings/approve_after_garment", data={**data, "approve_after_garment": "maybe"})
    assert bad.status_code == 422
    garments = [{"style": "Tee", "colour": colour, "pieces": 5, "fibre": {"cotton": 100}} for colour in ("red", "blue")]
    run, _white, _blue = ready_to_print(phone, shop, shop.job(garment=garments))
    assert post(phone, run, "start", garment="1").status_code == 303
    assert going(db, run).level.value == "ok"
    assert post(phone, run, "change", what="colourway", garment="2", good="5").status_code == 303
    assert going(db, run).keys == ("again-garment",)
    assert run_plan.plan(db, run).to_approve[0].now == "Tee, blue"
