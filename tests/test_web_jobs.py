"""Jobs on their pages: typed on a form, pasted as TOML, changed, printed again."""

from __future__ import annotations

import html
import re
import secrets
import tomllib
from collections.abc import Callable
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from shop import clock
from sqlite_utils import Database

from tickets.actions import jobs as jobs_acts
from tickets.actions import places, screens
from tickets.domain import posted
from tickets.domain.jobs import job as sheets
from tickets.domain.person import Actor
from tickets.domain.refusal import Refused
from tickets.queries import find
from tickets.store import jobs as store
from web.job_form import TypedForm, data_of, rebuilt, typed_from, typed_of

SAMPLES = Path(__file__).parent.parent / "sample_jobs"


def fresh() -> str:
    """A new entry id."""
    return secrets.token_hex(12)


FORM: dict[str, Any] = {
    "title": "Race day caps",
    "customer": "Lantern Quay Rowing Circle",
    "due": "2031-05-02",
    "art.name": "Oar",
    "art.revision": "1",
    "garment[1].style": "Heavy tee",
    "garment[1].colour": "navy",
    "garment[1].pieces": "40",
    "garment[1].fibre": "60 cotton, 40 % polyester",
    "placement[1].name": "Full front",
    "placement[1].width": "300",
    "placement[1].station[1].does": "print",
    "placement[1].station[1].colour": "white",
    "placement[1].station[1].ink": "plastisol",
    "placement[1].station[1].mesh.count": "43",
    "placement[1].station[1].mesh.count.unit": "/cm",
    "placement[1].station[1].mesh.thread": "80",
}


@pytest.fixture
def desk(client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]) -> FlaskClient:
    """The manager's computer."""
    return sign_in(client, "Di Novak")


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_a_form_says_all_that_a_job_says(path: Path) -> None:
    sheet = sheets.read(tomllib.loads(path.read_text("utf-8")))
    typed = typed_from(sheet)
    sent: dict[str, list[str]] = {name: [text] for name, text in typed.job.items()}
    for number, row in enumerate(typed.garments, 1):
        sent |= {f"garment[{number}].{name}": [text] for name, text in row.items()}
    for kind, sub, blocks in (("placement", "station", typed.placements), ("colourway", "ink", typed.colourways)):
        for number, block in enumerate(blocks, 1):
            sent |= {f"{kind}[{number}].{name}": [text] for name, text in block.own.items()}
            for order, row in enumerate(block.parts, 1):
                sent |= {f"{kind}[{number}].{sub}[{order}].{name}": [text] for name, text in row.items()}
    data, _where = data_of(typed_of(sent))
    assert sheets.read(data) == sheet


def test_a_job_typed_on_the_form(desk: FlaskClient, db: Database) -> None:
    assert desk.get("/jobs/new").status_code == 200
    entry = fresh()
    answer = desk.post("/jobs/new", data={"entry": entry, **FORM})
    assert answer.status_code == 303, answer.text
    again = desk.post("/jobs/new", data={"entry": entry, **FORM})
    assert again.headers["Location"] == answer.headers["Location"]
    assert len(store.every_number(db)) == 1
    page = desk.get(answer.headers["Location"])
    assert page.status_code == 200 and "Race day caps" in page.text and "43 /cm" in page.text
    (number,) = store.every_number(db)
    sheet = store.get(db, number).sheet  # type: ignore[union-attr]
    assert sheet.due == date(2031, 5, 2)
    assert dict(sheet.garments[0].fibre) == {"cotton": 60, "polyester": 40}
    assert sheet.placements[0].width_mm == 300
    assert "Race day caps" in desk.get("/jobs").text


def test_all_that_is_wrong_is_said_beside_its_field_and_nothing_is_lost(desk: FlaskClient, db: Database) -> None:
    wrong = {
        **FORM,
        "customer": "",
        "garment[1].fibre": "60 cotton, 30 polyester",
        "placement[1].station[1].mesh.count": "many",
        "placement[1].station[2].does": "flash",
        "placement[1].station[4].does": "print",
        "placement[1].station[4].colour": "blue",
        "placement[1].station[4].ink": "soup",
    }
    answer = desk.post("/jobs/new", data={"entry": fresh(), **wrong})
    assert answer.status_code == 422
    for name in (
        "customer", "garment[1].fibre", "placement[1].station[1].mesh.count", "placement[1].station[2].time",
        "placement[1].station[3].ink", "placement[1].station[3].mesh.count",
    ):  # fmt: skip
        assert f'id="{name}-fault"' in answer.text, name
    assert 'value="many"' in answer.text and 'value="Race day caps"' in answer.text
    assert store.every_number(db) == []


def test_an_empty_form_is_missed_field_by_field(desk: FlaskClient) -> None:
    answer = desk.post("/jobs/new", data={"entry": fresh(), "act": "save"})
    assert answer.status_code == 422
    needed = ("title", "art.revision", "garment[1].fibre", "placement[1].width", "placement[1].station[1].mesh.count")
    for name in needed:
        assert f'id="{name}-fault"' in answer.text, name
    assert "[[" not in answer.text and " = " not in answer.text.split("<h1>")[1]


def test_blocks_are_added_without_saving(desk: FlaskClient, db: Database) -> None:
    answer = desk.post("/jobs/new", data={"entry": fresh(), **FORM, "act": "add:placement[1].flash"})
    assert answer.status_code == 200
    assert 'name="placement[1].station[2].time"' in answer.text and 'value="Race day caps"' in answer.text
    assert store.every_number(db) == []


def test_toml_pasted_and_sent(desk: FlaskClient, db: Database) -> None:
    text = (SAMPLES / "night-market.toml").read_text("utf-8").replace('picture = "night-market.png"\n', "")
    answer = desk.post("/jobs/new", data={"entry": fresh(), "toml": text}, content_type="multipart/form-data")
    assert answer.status_code == 303, answer.text
    sent = {"entry": fresh(), "toml": "", "file": (BytesIO(text.encode()), "job.toml")}
    asked = desk.post("/jobs/new", data=sent, content_type="multipart/form-data")
    assert asked.status_code == 409 and 'name="twice" value="yes"' in asked.text and "says the same." in asked.text
    assert len(store.every_number(db)) == 1
    sent = {"entry": fresh(), "toml": "", "file": (BytesIO(text.encode()), "job.toml"), "twice": "yes"}
    assert desk.post("/jobs/new", data=sent, content_type="multipart/form-data").status_code == 303
    bad = desk.post("/jobs/new", data={"entry": fresh(), "toml": text.replace("title", "tittle", 1)})
    assert bad.status_code == 422 and "title: This is missing" in bad.text and "tittle" in bad.text
    assert len(store.every_number(db)) == 2


def test_the_picture_of_the_art_goes_to_the_press(desk: FlaskClient, db: Database) -> None:
    png = (SAMPLES / "harbour-lights.png").read_bytes()
    wrong = {**FORM, "entry": fresh(), "title": "", "picture": (BytesIO(png), "art.png")}
    answer = desk.post("/jobs/new", data=wrong, content_type="multipart/form-data")
    assert answer.status_code == 422
    kept = answer.text.split('name="picture_kept" value="')[1].split('"')[0]
    answer = desk.post("/jobs/new", data={"entry": fresh(), **FORM, "picture_kept": kept})
    assert answer.status_code == 303, answer.text
    page = desk.get(answer.headers["Location"]).text
    assert f"/pictures/{kept}/small" in page
    assert desk.get(f"/pictures/{kept}/small").mimetype in ("image/png", "image/jpeg")
    code = answer.headers["Location"].split("/")[2].split("?")[0]
    press = places.add(db, Actor(4, "Di Novak", "manager"), "Press 1", "press", post=fresh(), now=clock())
    run = desk.post("/runs", data={"entry": fresh(), "job": code, "placement": "1", "press": press})
    assert f"/pictures/{kept}/small" in desk.get(run.headers["Location"]).text
    no_picture = {**FORM, "entry": fresh(), "picture": (BytesIO(b"just words"), "art.png")}
    answer = desk.post("/jobs/new", data=no_picture, content_type="multipart/form-data")
    assert answer.status_code == 422 and 'id="picture-fault"' in answer.text


def test_change_again_and_close(desk: FlaskClient, db: Database) -> None:
    code = desk.post("/jobs/new", data={"entry": fresh(), **FORM}).headers["Location"].split("/")[2].split("?")[0]
    assert 'value="Race day caps"' in desk.get(f"/jobs/{code}/change").text
    changed = {**FORM, "title": "Race day tees"}
    assert desk.post(f"/jobs/{code}/change", data={"entry": fresh(), **changed}).status_code == 303
    assert find.job(db, code).version == 2
    assert desk.post(f"/jobs/{code}/again", data={"entry": fresh(), "due": "soon"}).status_code == 422
    answer = desk.post(f"/jobs/{code}/again", data={"entry": fresh(), "due": "2031-06-01", "reference": "R-2"})
    assert answer.status_code == 303, answer.text
    repeat = find.job(db, "R-2")
    assert repeat.repeats == find.job(db, code).id
    assert desk.get(f"/jobs/{code}").text.count("Reordered as") == 1
    assert desk.get("/jobs?q=R-2").text.count("Race day tees") == 1
    assert desk.post(f"/jobs/{code}/close", data={"entry": fresh(), "closed": "yes"}).status_code == 303
    assert f"/jobs/{code}" not in desk.get("/jobs").text
    assert f"/jobs/{code}" in desk.get("/jobs?closed=yes").text


def test_a_repeat_may_have_a_title_of_its_own(desk: FlaskClient, db: Database) -> None:
    """Filled in with that of the order before; without one it is asked for, and what was typed stays."""
    code = desk.post("/jobs/new", data={"entry": fresh(), **FORM}).headers["Location"].split("/")[2].split("?")[0]

    def title_in(page: str) -> str:
        return re.findall(r'<input id="title" name="title"[^>]*value="([^"]*)"', page)[0]

    assert title_in(desk.get(f"/jobs/{code}/again").text) == FORM["title"]
    sent = {"entry": fresh(), "due": "2031-06-01", "reference": "R-3", "title": ""}
    answer = desk.post(f"/jobs/{code}/again", data=sent)
    assert answer.status_code == 422 and title_in(answer.text) == "" and 'id="title-fault"' in answer.text
    answer = desk.post(f"/jobs/{code}/again", data={**sent, "title": "Second club night", "due": "soon"})
    assert answer.status_code == 422 and title_in(answer.text) == "Second club night"
    assert desk.post(f"/jobs/{code}/again", data={**sent, "title": "Second club night"}).status_code == 303
    repeat = find.job(db, "R-3")
    assert repeat.sheet.title == "Second club night" and find.job(db, code).sheet.title == FORM["title"]


def test_the_list_goes_on_page_by_page_by_due_date(desk: FlaskClient, db: Database) -> None:
    data, _where = data_of(typed_of({name: [text] for name, text in FORM.items()}))
    days = [date(2031, 1 + n // 28, 1 + n % 28) for n in range(70)]
    made = [sheets.read({**data, "due": day, "title": f"Tees {day}"}) for day in reversed(days)]
    jobs_acts.add(db, Actor(4, "Di Novak", "manager"), made, post=fresh(), now=clock())
    first = desk.get("/jobs").text
    second = desk.get(first.split('class="pager"')[1].split('href="')[1].split('"')[0].replace("&amp;", "&")).text
    titles = re.findall(r"Tees (\d{4}-\d\d-\d\d)", first) + re.findall(r"Tees (\d{4}-\d\d-\d\d)", second)
    assert titles == [day.isoformat() for day in days]
    assert ">Next page<" not in second and ">Previous page<" in second


def test_buttons_move_and_remove_stations() -> None:
    typed = typed_of({name: [text] for name, text in FORM.items()})
    typed = rebuilt(rebuilt(typed, "add:placement[1].flash"), "earlier:placement[1].station[2]")
    assert [row.get("does") for row in typed.placements[0].parts] == ["flash", "print"]
    typed = rebuilt(typed, "remove:placement[1].station[1]")
    assert [row.get("does") for row in typed.placements[0].parts] == ["print"]
    assert rebuilt(TypedForm(), "add:nonsense") == TypedForm()


# Paper --------------------------------------------------------------------------------------------------------------


def test_a_ticket_is_printed_only_with_an_address_that_leads_here(desk: FlaskClient, db: Database) -> None:
    code = desk.post("/jobs/new", data={"entry": fresh(), **FORM}).headers["Location"].split("/")[2].split("?")[0]
    assert "The QR codes have no address to lead to" in desk.get(f"/print/job/{code}").text
    refused = desk.post(f"/print/job/{code}", data={"paper": "A4"})
    assert refused.status_code == 422 and "Make the PDF anyway" in refused.text
    answer = desk.post(f"/print/job/{code}", data={"paper": "Letter", "anyway": "yes"})
    assert answer.status_code == 200 and answer.data.startswith(b"%PDF-")
    assert f"job-{code}.pdf" in answer.headers["Content-Disposition"]
    assert b"612 792" in answer.data  # US Letter in points
    desk.post(f"/jobs/{code}/change", data={"entry": fresh(), **FORM, "title": "Race day tees"})
    assert "it is out of date" in desk.get(f"/jobs/{code}").text
    assert "Race day tees" in desk.get("/print").text
    again = desk.post(f"/print/again/{code}", data={})
    assert again.status_code == 200 and again.data == answer.data


def test_tags_are_printed_for_codes(desk: FlaskClient, db: Database) -> None:
    form = posted.form({"mesh_count_as_labelled": "230/in"})
    actor = Actor(1, "Ada Holm", "screen room")
    codes = screens.add(db, actor, form, post=fresh(), now=clock(), number=3)
    page = desk.get(f"/print/tags?codes={','.join(codes)}")
    assert page.status_code == 200 and "Print 3 tags" in page.text
    data = {"codes": " ".join(codes), "label": "100x50mm", "sheet": "A4", "anyway": "yes"}
    assert desk.post("/print/tags", data=data).data.startswith(b"%PDF-")
    wrong = desk.post("/print/tags", data={**data, "codes": f"{codes[0]} 7K3"})
    assert wrong.status_code == 422 and "7K3" in wrong.text
    assert desk.get("/print/job/ZZZZZZ").status_code == 404


def test_a_press_date_that_is_past_is_remarked_on_while_the_job_is_open(desk: FlaskClient, db: Database) -> None:
    # common practice
    past = FORM | {"due": "2020-05-02"}
    said = "The press date 2020-05-02 is past."
    read_over = desk.post("/jobs/new", data={"entry": fresh(), "act": "read", **past})
    assert read_over.status_code == 200 and said in read_over.text
    entered = desk.post("/jobs/new", data={"entry": fresh(), **past})
    page = desk.get(entered.location)
    assert entered.status_code == 303 and said in page.text
    code = entered.location.split("/")[-1].split("?")[0]
    desk.post(f"/jobs/{code}/close", data={"entry": fresh(), "closed": "yes"})
    assert said not in desk.get(f"/jobs/{code}").text
    entered = desk.post("/jobs/new", data={"entry": fresh(), **FORM})
    assert "is past" not in desk.get(entered.location).text


@pytest.mark.parametrize(
    "text", ["title = \nx", "title = 'a'\n[art", "a = " + "[" * 4000, "title = 'a'\r\ntitle = 'b'\r\n", "größe = ü"]
)
def test_what_is_no_toml_is_said_alike_in_a_file_and_on_the_page(desk: FlaskClient, tmp_path: Path, text: str) -> None:
    file = tmp_path / "job.toml"
    file.write_bytes(text.encode())
    with pytest.raises(Refused) as refused:
        sheets.read_file(file)
    (fault,) = refused.value.faults
    for sent in ({"toml": text}, {"file": (BytesIO(text.encode()), "job.toml")}):
        answer = desk.post("/jobs/new", data={"entry": fresh(), "act": "save", **sent})
        assert answer.status_code == 422 and fault.message in html.unescape(answer.text)


def test_what_is_needed_first_stands_first_on_a_jobs_page(desk: FlaskClient, db: Database) -> None:
    entered = desk.post("/jobs/new", data={"entry": fresh(), **FORM, "placement[1].station[1].strokes": "3"})
    page = desk.get(entered.location.split("?")[0]).text
    order = ["Press date", "Artwork", "0 of 1 screen ready", "40 × Heavy tee", "Set up a run", "Print the job ticket"]
    places = [page.index(text) for text in [*order, 'id="placement-1"', "80 µm</b></p>", "Strokes", "Job closed"]]
    assert places == sorted(places)
    folded = page[page.index("<summary>Settings") : page.index("Strokes")]
    assert "</details>" not in folded  # settings are a tap away, mesh and screens are not
    assert "Lots that it was printed with" not in page  # nothing was


def test_late_jobs_are_marked_in_the_list(desk: FlaskClient, db: Database) -> None:
    for title, due in (("Early caps", "2031-05-02"), ("Late caps", "2020-05-02")):
        desk.post("/jobs/new", data={"entry": fresh(), **FORM, "title": title, "due": due})
    rows = {row for row in desk.get("/jobs").text.split("<tr") if "caps" in row}
    assert {("Late caps" in row, "! late" in row) for row in rows} == {(True, True), (False, False)}


def test_what_a_job_can_not_do_without_is_not_asked_for_if_known(desk: FlaskClient) -> None:
    """The form marks what may be left empty; a title, a customer, a day and the artwork may not."""
    page = desk.get("/jobs/new").text
    for name in ("title", "customer", "due", "art.name", "art.revision"):
        label = page.split(f'<label for="{name}">')[1].split("</label>")[0]
        assert "if known" not in label, name
    assert "if known" in page
