"""The same form sent again: the first answer again, whatever has become of the shop since; with other content, what was
saved is shown, and nobody is led into a second entry. Every address that takes an entry is tried."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from flask import Flask
from flask.testing import FlaskClient
from shop import SAMPLES, Clock, with_presses
from sqlite_utils import Database
from test_web_runs import hang_both, start_run
from test_web_runs import post as act

from tickets.store import people

ID = "an-id-sent-two-times"
SECRET = {"secret": shops.PEOPLE["Di Novak"][1]}
NIGHT = re.sub(r"(?m)^picture = .*\n", "", (SAMPLES / "night-run.toml").read_text("utf-8"))  # pasted without its file

NO_ENTRY = {
    "/sign-in", "/hand-over", "/sign-out", "/mine", "/doing/leave", "/view", "/people", "/people/<int:number>",
    "/people/<int:number>/leave", "/first-manager/<token>", "/screen-room/pick", "/desk/stocktake/<code>/seen",
    "/desk/stocktake/<code>/unseen", "/settings/mail",
    "/spec/<int:number>", "/spec/<int:number>/withdraw", "/spec", "/settings/<name>", "/jobs/<code>/pick",
    "/print/jobs", "/runs/<int:number>/here", "/print/run/<int:number>", "/print/tags", "/print/job/<code>",
    "/print/<any(bucket, place):kind>/<code>", "/print/again/<code>", "/doing/repeat", "/doing/place", "/doing/done",
    "/clock", "/start",
}  # fmt: skip
"""Addresses whose forms make no entry: sent again they come to the same, or are made for another sheet of paper."""


@dataclass
class Case:
    """A post that is done once: where it goes, what is sent, what makes it faulty, what changes the shop after it."""

    rule: str
    path: str
    data: dict[str, Any]
    faulty: dict[str, Any]
    then: Callable[[], Any] = lambda: None


class Tried:
    """A shop in which every such post can be made, in the hands of its manager."""

    def __init__(self, phone: FlaskClient, db: Database, clock: Clock) -> None:
        self.phone, self.db, self.clock = phone, db, clock
        self.shop = with_presses(db)
        self.count = 0

    def did(self, path: str, **data: Any) -> Any:
        """Another post, which must be taken."""
        self.count += 1
        answer = self.phone.post(path, data={"entry": f"something-else-{self.count:05}", **data})
        assert answer.status_code in (200, 303), answer.text
        return answer

    def made(self, path: str, **data: Any) -> str:
        return str(self.did(path, **data).location.rsplit("/", 1)[1].split("?")[0])

    def frame(self, mark: str = "A 1") -> str:
        self.did("/screens/new", mesh_count_as_labelled="230/in", frame="aluminium", thread_um="48", mark=mark)
        return str(self.db.execute("SELECT code FROM screens ORDER BY id DESC").fetchone()[0])

    def newest(self) -> str:
        return str(self.db.execute("SELECT post FROM entries ORDER BY id DESC").fetchone()[0])

    def run(self) -> tuple[int, str]:
        number, white, _blue = hang_both(self.phone, self.shop, self.shop.job())
        return number, white

    def printing(self) -> int:
        number, _white = self.run()
        for step, more in (
            ("approve", {"approved_by": "Cy Marsh", "approved_as": "press", "how": "piece in hand"}),
            ("start", {}),
        ):
            assert act(self.phone, number, step, **more).status_code == 303
        return number


def of_a_screen(it: Tried) -> Case:
    code = it.frame()
    return Case(
        "/screens/<code>/<step>",
        f"/screens/{code}/tension",
        {"readings_n_per_cm": "25"},
        {"readings_n_per_cm": "twenty"},
        lambda: it.did(f"/screens/{code}/retire", cause="torn"),
    )


def crossed_out(it: Tried) -> Case:
    code = it.frame()
    it.did(f"/screens/{code}/note", note="x")
    sent = {"crosses": it.newest(), "why": "wrong screen"}
    return Case(
        "/screens/<code>/<step>", f"/screens/{code}/cross-out", sent, {"why": ""}, lambda: it.clock.on(minutes=20)
    )


def named_by_eye_and_alone(it: Tried) -> Case:
    code = it.frame()
    return Case(
        "/screens/<code>/<step>",
        f"/screens/{code}/note",
        {"note": "x", "override": "lead said so"},
        {"at": "soon"},
        lambda: it.clock.on(minutes=20),
    )


def new_screens(it: Tried) -> Case:
    sent = {"mesh_count_as_labelled": "230/in", "frame": "aluminium", "mark": "N 1"}
    return Case("/screens/new", "/screens/new", sent, {"mesh_count_as_labelled": "fine"})


def new_place(it: Tried) -> Case:
    return Case(
        "/places/new",
        "/places/new",
        {"name": "Rack 9", "kind": "rack"},
        {"kind": "shelf"},
        lambda: it.did(
            f"/places/{it.db.execute('SELECT code FROM places ORDER BY id DESC').fetchone()[0]}/change", name="Rack 99"
        ),
    )


def changed_place(it: Tried) -> Case:
    code = it.made("/places/new", name="Press 9", kind="press", heads="8")
    return Case(
        "/places/<code>/change",
        f"/places/{code}/change",
        {"name": "Press nine"},
        {"name": ""},
        lambda: it.did(f"/places/{code}/change", name="Press IX", heads="12", turns="anticlockwise"),
    )


def place_out_of_use(it: Tried) -> Case:
    code = it.made("/places/new", name="Rack 9", kind="rack")
    return Case(
        "/places/<code>/use",
        f"/places/{code}/use",
        {},
        {"back": "yes"},
        lambda: it.did(f"/places/{code}/use", back="yes"),
    )


def of_many(it: Tried) -> Case:
    code, rack = it.frame(), it.made("/places/new", name="Rack 9", kind="rack")
    return Case(
        "/places/<code>/<step>",
        f"/places/{rack}/degrease",
        {"screen": [code]},
        {"screen": []},
        lambda: it.did(f"/screens/{code}/retire", cause="torn"),
    )


def many_crossed_out(it: Tried) -> Case:
    code, rack = it.frame(), it.made("/places/new", name="Rack 9", kind="rack")
    it.did(f"/places/{rack}/degrease", screen=[code])
    sent = {"crosses": it.newest(), "why": "wrong screen"}
    return Case(
        "/places/<code>/<step>", f"/places/{rack}/cross-out", sent, {"why": ""}, lambda: it.clock.on(minutes=20)
    )


def new_bucket(it: Tried) -> Case:
    return Case("/buckets", "/buckets", {"kind": "water-base ink", "product": "white A"}, {"kind": "ink"})


def mixed(it: Tried) -> Case:
    return Case("/buckets/mix", "/buckets/mix", {"kind": "water-base ink", "product": "white A"}, {"kind": "ink"})


def of_a_bucket(it: Tried) -> Case:
    code = it.made("/buckets", kind="water-base ink", product="white A")
    return Case(
        "/buckets/<code>/<step>", f"/buckets/{code}/use", {}, {"at": "soon"}, lambda: it.did(f"/buckets/{code}/discard")
    )


def new_unit(it: Tried) -> Case:
    return Case("/exposure-units/new", "/exposure-units/new", {"name": "LED table", "lamp": "led"}, {"lamp": "sun"})


def changed_unit(it: Tried) -> Case:
    it.did("/exposure-units/new", name="Tubes", lamp="fluorescent")
    return Case(
        "/exposure-units/<name>/change",
        "/exposure-units/Tubes/change",
        {"lamp": "led"},
        {"lamp": "sun"},
        lambda: it.did("/exposure-units/Tubes/change", use="out"),
    )


def new_lamp(it: Tried) -> Case:
    it.did("/exposure-units/new", name="Tubes", lamp="fluorescent")
    return Case("/exposure-units/<name>/lamp", "/exposure-units/Tubes/lamp", {}, {"at": "soon"})


def new_job(it: Tried) -> Case:
    return Case("/jobs/new", "/jobs/new", {"toml": NIGHT}, {"toml": "nothing of the sort"})


def quick_job(it: Tried) -> Case:
    typed = {"customer": "Meadow Kite Club", "title": "Kites", "due": "2026-03-20", "pieces": "40", "width": "300 mm"}
    row = {"placement": "Front", "colour": "white", "ink": "plastisol", "mesh": "156/in", "thread": ""}
    return Case("/jobs/quick", "/jobs/quick", {**typed, **row}, {"pieces": "many"})


def changed_job(it: Tried) -> Case:
    code = it.made("/jobs/new", toml=NIGHT)
    return Case(
        "/jobs/<code>/change",
        f"/jobs/{code}/change",
        {"toml": NIGHT.replace("Night run shirts", "Late run shirts")},
        {"toml": "nothing of the sort"},
    )


def closed_job(it: Tried) -> Case:
    code = it.shop.job().code
    return Case(
        "/jobs/<code>/close",
        f"/jobs/{code}/close",
        {},
        {"closed": "no"},
        lambda: it.did(f"/jobs/{code}/close", closed="no"),
    )


def planned_job(it: Tried) -> Case:
    code = it.shop.job().code
    it.shop.place("Press 8", "press")
    return Case(
        "/jobs/<code>/plan",
        f"/jobs/{code}/plan",
        {"slot": "2026-03-11 Press 8"},
        {"slot": "soon Press 8"},
        lambda: it.did(f"/jobs/{code}/plan", slot="none"),
    )


def again(it: Tried) -> Case:
    code = it.made("/jobs/new", toml=NIGHT)
    return Case(
        "/jobs/<code>/again",
        f"/jobs/{code}/again",
        {"due": "2026-05-01"},
        {"due": "soon"},
        lambda: it.did(f"/jobs/{code}/again", due="2026-05-01", twice="yes"),
    )


def opened(it: Tried) -> Case:
    job = it.shop.job()
    press = it.made("/places/new", name="Press 9", kind="press", heads="8")
    return Case(
        "/runs",
        "/runs",
        {"job": job.code, "placement": "1", "press": "Press 9"},
        {"press": "the moon"},
        lambda: it.did(f"/places/{press}/change", name="Press nine"),
    )


def hung(it: Tried) -> Case:
    job = it.shop.job()
    white, run = it.shop.screen(job, 1), start_run(it.phone, it.shop, job)
    return Case(
        "/runs/<int:number>/<step>",
        f"/runs/{run}/hang",
        {"screen": white, "head": "1", "station": "1"},
        {"screen": "nothing"},
        lambda: it.did(f"/screens/{white}/retag"),
    )


def noted(it: Tried) -> Case:
    run, _white = it.run()

    def approved() -> None:
        assert (
            act(it.phone, run, "approve", approved_by="Cy Marsh", approved_as="press", how="piece in hand").status_code
            == 303
        )

    return Case(
        "/runs/<int:number>/<step>", f"/runs/{run}/sheet", {"s1.strokes": "2"}, {"s1.strokes": "many"}, approved
    )


def approved(it: Tried) -> Case:
    run, _white = it.run()
    sent = {"approved_by": "Cy Marsh", "approved_as": "press", "how": "piece in hand"}
    return Case(
        "/runs/<int:number>/<step>",
        f"/runs/{run}/approve",
        sent,
        {"approved_as": "nobody"},
        lambda: it.clock.on(minutes=20),
    )


def counted(it: Tried) -> Case:
    run = it.printing()
    return Case(
        "/runs/<int:number>/<step>",
        f"/runs/{run}/count",
        {"good": "10"},
        {"good": "some"},
        lambda: it.did(f"/runs/{run}/finish", then="keep", good="1", still_needed="yes"),
    )


def finished(it: Tried) -> Case:
    run = it.printing()
    return Case("/runs/<int:number>/<step>", f"/runs/{run}/finish", {"then": "keep", "good": "10"}, {"good": "some"})


CASES = [
    of_a_screen, crossed_out, named_by_eye_and_alone, new_screens, new_place, changed_place, place_out_of_use, of_many,
    many_crossed_out, new_bucket, mixed, of_a_bucket, new_unit, changed_unit, new_lamp, new_job, quick_job, changed_job,
    closed_job, planned_job, again, opened, hung, noted, approved, counted, finished,
]  # fmt: skip
RULES = set(re.findall(r'Case\(\s*"([^"]+)"', Path(__file__).read_text("utf-8")))
"""The addresses that they go to."""
ELSEWHERE = {
    "/desk/stocktake/<code>/put-right": "test_overtaken",
    "/screens/<code>/from-paper": "test_from_paper",
    "/runs/<int:number>/from-paper": "test_from_paper",
    "/calculator/probe": "test_web_calculator",
    "/jobs/<code>/weigh": "test_web_learning",
    "/walls": "test_readers",
    "/api/jobs": "test_programs",
    "/api/log": "test_programs",
    "/walls/<int:number>/withdraw": "test_readers",
    "/first-steps/racks": "test_first_day",
    "/bring": "test_bring_in",
    "/bring/<int:number>/columns": "test_bring_in",
    "/bring/<int:number>/take": "test_bring_in",
}
"""Addresses that are sent to twice in the tests of their own pages."""


@pytest.fixture
def it(client: FlaskClient, db: Database, clock: Clock) -> Tried:
    return Tried(shops.signed_in(client, "Di Novak"), db, clock)


def written(db: Database) -> int:
    """How many entries the log has."""
    return int(db.execute("SELECT count(*) FROM entries").fetchone()[0])


def answer_of(answer: Any) -> tuple[int, str]:
    """What an answer comes to: its status, where it leads or what it shows beside ids and times."""
    shown = re.sub(r"(?<=hung=).*", "", answer.location or "")  # a screen may have got another code since
    return answer.status_code, shown or re.sub(r'value="\d+-[0-9a-f]{20}"', "", answer.text.partition("<main")[2])


def held(it: Tried, path: str, sent: dict[str, Any]) -> None:
    """While the clock lies before the newest entry, nothing comes of it, and the form stands on the page."""
    it.frame("H 1")  # the newest entry
    it.clock.on(minutes=-20)
    before = list(it.db.conn.iterdump())
    answer = it.phone.post(path, data={**sent, **SECRET})
    assert answer.status_code == 503 and "Nothing can be saved now" in answer.text, (path, shops.said(answer.text))
    assert 'action="' + path in answer.text and all(f'name="{name}"' in answer.text for name in sent), path
    assert [one for one in it.db.conn.iterdump() if one not in before and "sign_ins" not in one] == []
    it.clock.on(minutes=20)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.__name__)
def test_the_same_again_gets_the_first_answer_and_something_else_is_shown_what_was_saved(
    it: Tried, db: Database, case: Callable[[Tried], Case]
) -> None:
    made = case(it)
    sent = {"entry": ID, **made.data}
    held(it, made.path, sent)
    first = it.phone.post(made.path, data={**sent, **SECRET})
    assert first.status_code in (200, 303), first.text
    made.then()
    before = written(db)
    again = it.phone.post(made.path, data=sent)
    assert answer_of(again) == answer_of(first)
    other = it.phone.post(made.path, data={**sent, **made.faulty})
    assert other.status_code == 409 and "<h1>Saved already</h1>" in other.text, other.text
    assert "This form was saved at" in other.text and "sent by Di Novak" in other.text
    assert other.headers["Not-Logged"] == "saved-before"
    # one form that logs it as well, which somebody must tap, and no other form of that step
    assert re.findall(r'<form method="post" action="([^"]+)"', other.text.partition("<main")[2]) == [made.path]
    assert written(db) == before


def test_every_address_that_takes_an_entry_is_tried(app: Flask) -> None:
    there = {rule.rule for rule in app.url_map.iter_rules() if "POST" in (rule.methods or ())}
    assert there - NO_ENTRY - set(ELSEWHERE) == RULES


def test_what_another_sent_is_not_shown_as_a_refusal_of_ones_own(it: Tried, app: Flask, db: Database) -> None:
    code = it.frame()
    it.phone.post(f"/screens/{code}/note", data={"entry": ID, "note": "Di wrote this"})
    ada = shops.signed_in(shops.phone_of(app), "Ada Holm")
    answer = ada.post(f"/screens/{code}/note", data={"entry": ID, "note": "Di wrote this"})
    assert answer.status_code == 409 and "sent by Di Novak" in answer.text and "Di wrote this" in answer.text


def test_crossing_out_by_the_id_of_what_is_wrong_is_refused_as_ever(it: Tried, db: Database) -> None:
    code = it.frame()
    it.did(f"/screens/{code}/note", note="x")
    answer = it.phone.post(f"/screens/{code}/cross-out", data={"entry": it.newest(), "why": ""})
    assert answer.status_code == 422 and "Say why it is crossed out." in answer.text


def test_a_saved_id_lets_nobody_past_the_pin(it: Tried, db: Database) -> None:
    code = it.frame()
    it.did(f"/screens/{code}/note", note="x")
    saved = it.newest()
    it.clock.on(minutes=20)
    assert it.phone.post("/people", data={"name": "Ed Frost", "role": "press", "entry": saved}).status_code == 409
    assert people.find(db, "Ed Frost") is None
    answer = it.phone.post(f"/screens/{code}/cross-out", data={"entry": saved, "why": "wrong screen"})
    assert answer.status_code == 422 and "password again" in answer.text
