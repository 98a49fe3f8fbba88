"""The press on its pages: a run from job to finish, and every way that a wrong screen is told apart."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from sqlite_utils import Database

from tickets.floor import jobs as floor_jobs
from tickets.floor import places, screens
from tickets.floor.posting import form
from tickets.records.job import read
from tickets.records.person import Actor
from tickets.store import jobs, people, runs
from tickets.store import screens as rows

NOW = datetime.now(UTC).replace(microsecond=0)


def fresh() -> str:
    """A new entry id."""
    return secrets.token_hex(12)


def two_colours(title: str = "Kite club tees", revision: str = "2", **more: Any) -> dict[str, Any]:
    """An invented job: white, a flash, then blue, on one placement."""
    return {
        "title": title,
        "customer": "Meadow Kite Club",
        "due": (NOW + timedelta(days=3)).date().isoformat(),
        "art": {"name": "Box kite", "revision": revision},
        "garment": [{"style": "Heavy tee", "colour": "black", "pieces": 60, "fibre": {"cotton": 100}}],
        "placement": [
            {
                "name": "Full front",
                "width": "300 mm",
                "station": [
                    {"does": "print", "colour": "white", "ink": "plastisol", "mesh": {"count": "156/in", "thread": "64 um"}},
                    {"does": "flash", "time": "6 s"},
                    {"does": "print", "colour": "blue", "ink": "plastisol", "mesh": {"count": "230/in", "thread": "48 um"}},
                ],
            }
        ],
        **more,
    }


class Shop:
    """The invented shop as a test fills it, through the floor's own acts."""

    def __init__(self, db: Database) -> None:
        self.db = db
        self.screen_room = self.actor("Ada Holm")
        self.manager = self.actor("Di Novak")
        self.press = places.add(db, self.manager, "Press 1", "press", post=fresh(), now=NOW, heads=8)
        self.other_press = places.add(db, self.manager, "Press 2", "press", post=fresh(), now=NOW, heads=8)

    def actor(self, name: str) -> Actor:
        """The person of that name, as the floor takes them."""
        person = people.find(self.db, name)
        assert person is not None
        return Actor(person.id, person.name, person.role)

    def job(self, **more: Any) -> jobs.Saved:
        """A job of two colours."""
        sheet = read(two_colours(**more))
        (code,) = floor_jobs.add(self.db, self.manager, [sheet], post=fresh(), now=NOW)
        return floor_jobs.find(self.db, code)

    def screen(self, job: jobs.Saved, station: int, until: str = "check", tension: str = "26", **mesh: str) -> str:
        """A screen for a station of the job's first placement, logged up to `until`; its code."""
        asked = next(one for one in jobs.asked(self.db, job, 1) if one.number == station)
        count, thread = {1: ("156/in", "64"), 3: ("230/in", "48")}[station]
        sent = {"mesh_count_as_labelled": count, "thread_um": thread, "frame": "aluminium", "mesh_colour": "white", **mesh}
        start = NOW - timedelta(hours=9)
        (code,) = screens.add(self.db, self.screen_room, form(sent), post=fresh(), now=start)
        steps: dict[str, dict[str, str]] = {
            "tension": {"readings_n_per_cm": tension},
            "degrease": {},
            "coat": {},
            "image": {"separations": str(asked.separation)},
            "expose": {"exposure_s": "60"},
            "washout": {"result": "good"},
            "check": {"result": "good"},
        }
        for hours, (step, values) in enumerate(steps.items(), 1):
            at = start + timedelta(hours=hours)
            values = {**values, "accept": "test"} if step == "image" and mesh else values
            screens.log(self.db, self.screen_room, screens.find(self.db, code), step, form(values), post=fresh(), now=at)
            if step == until:
                break
        return code


@pytest.fixture
def shop(db: Database) -> Shop:
    """The shop with two presses."""
    return Shop(db)


@pytest.fixture
def press(client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]) -> FlaskClient:
    """The press operator's phone."""
    return sign_in(client, "Bo Lind")


def start_run(phone: FlaskClient, shop: Shop, job: jobs.Saved, press: str = "") -> int:
    """Opens a run as the page does."""
    answer = phone.post("/runs", data={"entry": fresh(), "job": job.code, "placement": "1", "press": press or shop.press})
    assert answer.status_code == 303, answer.text
    return int(answer.headers["Location"].rsplit("/", 1)[1])


def post(phone: FlaskClient, run: int, step: str, **values: Any) -> Any:
    """A step of a run, as a form sends it (`then_CODE` stands for `then.CODE`)."""
    return phone.post(f"/runs/{run}/{step}", data={"entry": fresh(), **values})


def test_a_run_from_the_first_scan_to_the_last_count(shop: Shop, press: FlaskClient, db: Database) -> None:
    job = shop.job()
    white, blue = shop.screen(job, 1), shop.screen(job, 3)
    run = start_run(press, shop, job)
    page = press.get(f"/runs/{run}").text
    assert "2 screens are still missing" in page
    assert press.get(f"/runs/{run}?screen={white}").text.count("RIGHT SCREEN") == 1
    answer = post(press, run, "hang", screen=white, head="1", station="1", seen="ok")
    assert (answer.status_code, answer.headers["Location"]) == (303, f"/runs/{run}?hung={white}")
    assert "no screen yet at print order 3" in press.get("/press").text
    assert post(press, run, "hang", screen=blue, head="3", station="3", seen="ok").status_code == 303
    assert 'name="s1.squeegee"' in press.get(f"/runs/{run}").text
    assert post(press, run, "sheet", **{"s1.strokes": "2"}).status_code == 303
    page = press.get(f"/runs/{run}").text
    assert "Not as the target" in page and "Strokes: 2" in page
    answer = post(press, run, "approve", approved_by="Cy Marsh", approved_as="press", how="piece in hand")
    assert answer.status_code == 303, answer.text
    assert post(press, run, "start").status_code == 303
    answer = post(press, run, "finish", good="58", misprinted="2", cause="ink", then="strip", **{f"then.{white}": "keep"})
    assert answer.status_code == 303, answer.text
    story = runs.get(db, run).story  # type: ignore[union-attr]
    assert (story.state, story.good, story.misprinted) == ("finished", 58, 2)
    # 60 pieces: two strokes each of white, one of blue
    assert {code: screens.find(db, code).life.impressions for code in (white, blue)} == {white: 120, blue: 60}
    assert screens.find(db, white).life.decided == "keep"
    assert screens.find(db, blue).life.decided == "strip"
    assert press.get("/press").status_code == 200
