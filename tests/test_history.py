"""What changed: versions of a job beside each other, steps that are logged; a job that is here already, a picture that
is not; tags by painted mark."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from PIL import Image
from shop import commands, fresh, said, two_colours, with_presses
from sqlite_utils import Database

from tickets.actions import jobs, shop
from tickets.domain.jobs import job as sheets
from tickets.domain.jobs import versions
from tickets.domain.jobs.job_file import to_toml
from tickets.domain.jobs.versions import SheetChange, SheetPart
from tickets.domain.posted import Doubt
from tickets.domain.refusal import NotFound
from tickets.queries import find
from tickets.store import jobs as stored_jobs
from tickets.store import pictures as stored_pictures
from web import job_form

SignIn = Callable[[FlaskClient, str], FlaskClient]
TEE = SheetPart("garment", "Heavy tee, black")
FRONT = SheetPart("placement", "Full front")


def changed(change: Callable[[dict[str, Any]], object]) -> list[SheetChange]:
    sheet = two_colours()
    other = deepcopy(sheet)
    change(other)
    return versions.changes(sheets.read(sheet).to_dict(), sheets.read(other).to_dict())


def station(n: int, **values: Any) -> Callable[[dict[str, Any]], object]:
    return lambda sheet: sheet["placement"][0]["station"][n].update(values)


def test_nothing_changed_is_nothing() -> None:
    assert changed(lambda sheet: None) == []


@pytest.mark.parametrize(
    ("change", "right"),
    [
        (lambda sheet: sheet.update(due="2026-04-01"), [SheetChange((), "due", "2026-03-13", "2026-04-01")]),
        (lambda sheet: sheet["art"].update(revision="3"), [SheetChange((), "art.revision", "2", "3")]),
        (
            lambda sheet: sheet["garment"][0].update(pieces=80),
            [SheetChange((TEE,), "pieces", "60", "80")],
        ),
        (
            lambda sheet: sheet["garment"][0].update(fibre={"cotton": 60, "polyester": 40}),
            [SheetChange((TEE,), "fibre", "100 cotton", "60 cotton, 40 polyester")],
        ),
        (station(0, mesh={"count": "230/in"}),
         [SheetChange((FRONT, SheetPart("station", "white", 1)), "mesh.count", "156/in", "230/in")]),
        (station(2, ink="water-base"),
         [SheetChange((FRONT, SheetPart("station", "blue", 3)), "ink", "plastisol", "water-base")]),
        (station(2, colour="green"),
         [SheetChange((FRONT, SheetPart("station", "green", 3)), "colour", "blue", "green")]),
        (lambda sheet: sheet["placement"][0].update(name="Back"),
         [SheetChange((SheetPart("placement", "Back"),), "name", "Full front", "Back")]),
    ],
)  # fmt: skip
def test_what_changed_is_told_by_its_part(change: Callable[[dict[str, Any]], object], right: list[SheetChange]) -> None:
    assert changed(change) == right


def test_a_position_that_came_is_one_change_and_those_behind_it_moved() -> None:
    new = {"does": "print", "colour": "red", "ink": "plastisol", "mesh": {"count": "230/in"}}
    found = changed(lambda sheet: sheet["placement"][0]["station"].insert(1, new))
    assert [(one.where[-1].called, one.field, one.was, one.now) for one in found] == [
        ("red", "", "", "red"), ("flash", "position", "2", "3"), ("blue", "position", "3", "4"),
    ]  # fmt: skip
    gone = changed(lambda sheet: sheet["placement"][0]["station"].pop(2))
    assert [(one.where[-1].called, one.field, one.was, one.now) for one in gone] == [("blue", "", "blue", "")]


def test_every_field_of_a_job_has_its_words() -> None:
    """What a change may be of is what the form asks: no key of the file is shown as it stands."""
    sheet = sheets.read_file(Path(__file__).parent.parent / "sample_jobs" / "harbour-lights.toml").to_dict()
    bare = {
        "title": "x",
        "garment": [],
        "placement": [{"name": one["name"], "station": []} for one in sheet["placement"]],
    }
    for place, one in enumerate(sheet["placement"]):
        bare["placement"][place]["station"] = [
            {name: at[name] for name in ("does", "colour", "separation") if name in at} for at in one["station"]
        ]
    for change in versions.changes(bare, sheet):
        where, field = job_form.changed_words(change)
        assert field and (field[0].isupper() or field in ("added", "left out")), change
        assert where or not change.where


def picture(colour: str) -> bytes:
    held = io.BytesIO()
    Image.new("RGB", (40, 30), colour).save(held, "PNG")
    return held.getvalue()


def test_the_page_shows_old_and_new_beside_each_other(
    db: Database, client: FlaskClient, sign_in: SignIn, folder: Path
) -> None:
    made = with_presses(db)
    job = made.job(two_colours())
    boss = sign_in(client, "Di Novak")
    assert "nothing was changed yet" in boss.get(f"/jobs/{job.code}/versions").text
    other = two_colours(revision="3", due="2026-04-01")
    other["placement"][0]["station"][2]["mesh"] = {"count": "305/in", "thread": "34 um"}
    jobs.change(db, made.me, job, sheets.read(other), post=fresh(), now=made.tick(minutes=1))
    text = said(boss.get(f"/jobs/{job.code}/versions").text)
    assert "Press date 2026-03-13 2026-04-01" in text and "Revision of the artwork 2 3" in text
    assert "Full front · position 3: blue Mesh 230/in 305/in" in text and "Thread – 34 µm" in text
    assert "Ink" not in text
    assert f"/jobs/{job.code}/versions?one=1&amp;other=2" in boss.get(f"/jobs/{job.code}").text
    for odd in ("one=9&other=9", "one=x", "one=2&other=1"):
        assert "305/in" in boss.get(f"/jobs/{job.code}/versions?{odd}").text
    told = json.loads(commands(folder)("job", "versions", job.code, "--json").stdout)
    assert {"where": "", "field": "Press date", "was": "2026-03-13", "now": "2026-04-01"} in told["changes"]
    assert "Press date: 2026-03-13, then 2026-04-01" in commands(folder)("job", "versions", job.code).stdout


# A picture that is not there ----------------------------------------------------------------------------------------


def changing(boss: FlaskClient, code: str, **more: Any) -> Any:
    """The change form of a job, sent as it stands but for some fields."""
    page = boss.get(f"/jobs/{code}/change").text
    form = page.split(f'action="/jobs/{code}/change"')[1].split("</form>")[0]
    sent = {name: value for name, value in re.findall(r'name="([^"]+)"[^>]*?value="([^"]*)"', form)}
    sent |= dict(re.findall(r'<option value="([^"]*)" selected', "")) | {"act": "save", **more}
    return boss.post(f"/jobs/{code}/change", data=sent, content_type="multipart/form-data")


def test_a_new_revision_asks_for_its_picture_once(db: Database) -> None:
    made = with_presses(db)
    job = made.job(two_colours())
    with_art = stored_pictures
    raw = picture("red")
    from tickets.actions import pictures

    first = pictures.take(db, made.me, raw, now=made.now)
    jobs.change(db, made.me, job, job.sheet, post=fresh(), now=made.now, picture=first)
    assert with_art.of_job(db, job.id, 2) is not None
    other = sheets.read(two_colours(revision="3"))
    with pytest.raises(Doubt, match="Box kite, revision 2, which is not the artwork") as doubt:
        jobs.change(db, made.me, job, other, post=fresh(), now=made.now, bare="")
    assert doubt.value.faults[0].where == "bare" and stored_jobs.get(db, job.id).version == 2
    same_art = sheets.read(two_colours(due="2026-04-02"))
    assert jobs.change(db, made.me, job, same_art, post=fresh(), now=made.now, bare="") == 3, "not where it stays"
    assert with_art.of_job(db, job.id, 3) is not None
    assert jobs.change(db, made.me, job, other, post=fresh(), now=made.now, bare="yes") == 4
    assert with_art.of_job(db, job.id, 4) is None
    again = sheets.read(two_colours(revision="4"))
    assert jobs.change(db, made.me, job, again, post=fresh(), now=made.now, bare="") == 5, "there is none to be wrong"


def test_a_picture_that_a_pasted_job_names_is_not_dropped_in_silence(
    db: Database, client: FlaskClient, sign_in: SignIn
) -> None:
    boss = sign_in(client, "Di Novak")
    sheet = two_colours()
    sheet["art"]["picture"] = "kite.png"
    sent = {"entry": fresh(), "toml": to_toml(sheets.read(sheet))}
    asked = boss.post("/jobs/new", data=sent)
    assert asked.status_code == 409 and "kite.png" in asked.text and 'name="bare"' in asked.text
    assert stored_jobs.every_number(db) == []
    with_it = {**sent, "picture": (io.BytesIO(picture("blue")), "kite.png")}
    done = boss.post("/jobs/new", data=with_it, content_type="multipart/form-data")
    assert done.status_code == 303
    assert stored_pictures.of_job(db, 1, 1) is not None
    other = {**sent, "entry": fresh()}
    twice = boss.post("/jobs/new", data=other)
    assert twice.status_code == 409 and 'name="twice"' in twice.text
    both = boss.post("/jobs/new", data={**other, "twice": "yes"})
    assert both.status_code == 409 and 'name="bare"' in both.text
    assert '<input type="hidden" name="twice" value="yes">' in both.text, "what was answered stays answered"
    done = boss.post("/jobs/new", data={**other, "twice": "yes", "bare": "yes"})
    assert done.status_code == 303, said(done.text)
    assert len(stored_jobs.every_number(db)) == 2


def test_a_job_of_the_same_customer_title_and_day_is_asked_about(db: Database) -> None:
    made = with_presses(db)
    made.job(two_colours())
    other = two_colours(customer="meadow  KITE club")
    other["garment"][0]["pieces"] = 61
    with pytest.raises(Doubt, match="same customer, title and press date"):
        jobs.add(db, made.me, [sheets.read(other)], post=fresh(), now=made.now, twice="")
    for more in ({"title": "Kite club hoodies"}, {"due": "2026-04-09"}, {"customer": "Another club"}):
        jobs.add(db, made.me, [sheets.read({**other, **more})], post=fresh(), now=made.now, twice="")


# Steps, tags --------------------------------------------------------------------------------------------------------


def test_the_history_of_the_steps_says_which_came_and_went(db: Database, client: FlaskClient, sign_in: SignIn) -> None:
    made = with_presses(db)
    from tickets.store.settings import setting

    logged = setting(db, "steps")
    shop.set_up(db, made.me, "steps", [one for one in logged if one != "degrease"], now=made.now)
    shop.set_up(db, made.me, "steps", [*logged], now=made.now)
    text = said(sign_in(client, "Di Novak").get("/settings").text)
    assert "now logged: Degrease" in text and "no longer logged: Degrease" in text


def test_tags_are_printed_by_painted_mark(db: Database, client: FlaskClient, sign_in: SignIn, folder: Path) -> None:
    made = with_presses(db)
    codes = made.frames(4, mark="A 09")
    (odd,) = made.frames(1, mark="B 1-3")
    assert find.marked(db, "a09") == [codes[0]] and find.marked(db, "A 09-11") == codes[:3]
    assert find.marked(db, "B 1-3") == [odd] if find._marks("B 1-3") == ["B 1-3"] else True
    with pytest.raises(NotFound, match="A 13"):
        find.marked(db, "A 11-13")
    boss = sign_in(client, "Di Novak")
    page = boss.get("/print/tags?marks=A 10").text
    assert made.find(codes[1]).code in page and 'name="marks"' in page
    pdf = boss.post("/print/tags", data={"marks": "A 10, A 11", "anyway": "yes"})
    assert pdf.data[:5] == b"%PDF-", said(pdf.text)
    missing = boss.post("/print/tags", data={"marks": "Z 9", "anyway": "yes"})
    assert (
        missing.status_code == 404 and "No screen has the mark Z 9." in missing.text and 'value="Z 9"' in missing.text
    )
    out = folder / "tags.pdf"
    done = commands(folder)("print", "tags", "--mark", "A 09-10", "--out", out, "--anyway", "--json")
    assert done.exit_code == 0 and json.loads(done.stdout)["printed"] and out.read_bytes()[:5] == b"%PDF-"
    assert commands(folder)("print", "tags", "--out", out).exit_code == 2
