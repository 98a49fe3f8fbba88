"""Two people, one thing: a save over another's newer save comes back with both side by side, and nothing is lost."""

from __future__ import annotations

import re
from typing import Any

import pytest
import shop as shops
from flask import Flask
from flask.testing import FlaskClient
from shop import NOW, SAMPLES
from sqlite_utils import Database
from test_not_sent import Forms, frame

from tickets.actions import shop as shop_acts
from tickets.domain.spec import Row
from tickets.queries import find
from tickets.store import people, places
from tickets.store import spec as spec_rows
from tickets.store.settings import setting

NIGHT = re.sub(r"(?m)^picture = .*\n", "", (SAMPLES / "night-run.toml").read_text("utf-8"))  # pasted without its file


@pytest.fixture
def di(client: FlaskClient) -> FlaskClient:
    return shops.signed_in(client, "Di Novak")


@pytest.fixture
def other(app: Flask, di: FlaskClient, db: Database) -> FlaskClient:
    """Another manager, on another phone."""
    di.post("/people", data={"name": "Eva Stone", "role": "manager", "new_secret": "another-long-one"})
    return shops.signed_in(shops.phone_of(app), "Eva Stone", "another-long-one")


def form(phone: FlaskClient, page: str, action: str) -> dict[str, list[str]]:
    return Forms(phone.get(page).text).of(action)


def comes_back(answer: Any, *said: str) -> str:
    """The answer shows both, each in a row of one table."""
    assert answer.status_code == 409, answer.text
    table = re.search(r"<table>.*?</table>", answer.text, re.S)
    assert table and "Saved now" in table[0] and "Yours" in table[0]
    for one in said:
        assert one in table[0], (one, table[0])
    return str(table[0])


@pytest.fixture
def job(di: FlaskClient) -> str:
    answer = di.post("/jobs/new", data={"toml": NIGHT, "entry": "the-job-of-these-tests"})
    return str(answer.location.split("/")[2].split("?")[0])


def test_a_new_revision_of_a_job_is_not_undone_by_an_older_form(
    di: FlaskClient, other: FlaskClient, db: Database, job: str
) -> None:
    page, action = f"/jobs/{job}/change", f"/jobs/{job}/change"
    sent, mine = form(di, page, action), form(other, page, action)
    assert other.post(action, data={**mine, "title": "Late run shirts", "act": "save"}).status_code == 303
    answer = di.post(action, data={**sent, "customer": "Fern Lane Runners", "act": "save"})
    table = comes_back(answer, "Late run shirts", "Night run shirts", "Fern Lane Runners")
    assert (
        table.count("<tr>") == 3 and "Saved by Eva Stone meanwhile" in answer.text
    )  # the head, and the two that differ
    assert find.job(db, job).sheet.title == "Late run shirts" and find.job(db, job).version == 2
    again = Forms(answer.text).of(action)  # what was typed stands there, and saving it is a choice now
    assert again["customer"] == ["Fern Lane Runners"] and again["seen"] == ["2"]
    assert di.post(action, data={**again, "act": "save"}).status_code == 303
    assert (find.job(db, job).version, find.job(db, job).sheet.customer) == (3, "Fern Lane Runners")


def test_a_form_of_a_job_goes_on_knowing_what_it_showed_while_blocks_are_added(
    di: FlaskClient, other: FlaskClient, db: Database, job: str
) -> None:
    page = action = f"/jobs/{job}/change"
    sent = form(di, page, action)
    assert (
        other.post(action, data={**form(other, page, action), "title": "Late run shirts", "act": "save"}).status_code
        == 303
    )
    more = Forms(di.post(action, data={**sent, "act": "add:garment"}).text).of(action)
    assert more["seen"] == ["1"]
    less = Forms(di.post(action, data={**more, "act": "remove:garment[3]"}).text).of(action)
    comes_back(di.post(action, data={**less, "act": "save"}), "Late run shirts")


def test_a_job_that_both_changed_alike_is_no_clash(di: FlaskClient, other: FlaskClient, db: Database, job: str) -> None:
    page = action = f"/jobs/{job}/change"
    sent = form(di, page, action)
    for phone, mine in ((other, form(other, page, action)), (di, sent)):
        assert phone.post(action, data={**mine, "title": "Late run shirts", "act": "save"}).status_code == 303
    assert find.job(db, job).version == 2


def test_a_pasted_job_is_held_against_the_version_of_its_page(
    di: FlaskClient, other: FlaskClient, db: Database, job: str
) -> None:
    page = action = f"/jobs/{job}/change"
    assert (
        other.post(action, data={**form(other, page, action), "title": "Late run shirts", "act": "save"}).status_code
        == 303
    )
    pasted = {
        "toml": NIGHT.replace("Night run shirts", "Early run shirts"),
        "act": "save",
        "entry": "a-job-that-is-pasted",
        "seen": "1",
    }
    answer = di.post(action, data=pasted)
    comes_back(answer, "Late run shirts", "Early run shirts")
    assert "Early run shirts" in answer.text.partition("<textarea")[2]


def test_a_command_that_shows_no_form_changes_as_ever(
    di: FlaskClient, db: Database, job: str, folder: Any, tmp_path: Any
) -> None:
    changed = tmp_path / "job.toml"
    changed.write_text(NIGHT.replace("Night run shirts", "Early run shirts"), "utf-8")
    assert shops.commands(folder)("job", "change", job, changed).exit_code == 0


def test_a_place(di: FlaskClient, other: FlaskClient, db: Database) -> None:
    di.post("/places/new", data={"name": "Press 9", "kind": "press", "heads": "8", "entry": "a-press-of-eight-heads"})
    code = db.execute("SELECT code FROM places ORDER BY id DESC").fetchone()[0]
    action = f"/places/{code}/change"
    sent, theirs = form(di, f"/places/{code}", action), form(other, f"/places/{code}", action)
    assert other.post(action, data={**theirs, "heads": "10"}).status_code == 303
    answer = di.post(action, data={**sent, "name": "Press nine"})
    comes_back(answer, "<td>10</td>", "<td>8</td>", "Press nine")
    again = Forms(answer.text).of(action)
    assert again["name"] == ["Press nine"] and again["heads"] == ["8"]
    assert di.post(action, data={**again, "heads": "10"}).status_code == 303
    now = places.find(db, "Press nine")
    assert now is not None and now.heads == 10


def test_a_person(di: FlaskClient, other: FlaskClient, db: Database) -> None:
    bo = people.find(db, "Bo Lind")
    assert bo is not None
    action = f"/people/{bo.id}"
    its = f"/people?who={bo.id}"
    sent, theirs = form(di, its, action), form(other, its, action)
    assert other.post(action, data={**theirs, "role": "screen room"}).status_code == 303
    answer = di.post(action, data={**sent, "role": "press lead"})
    comes_back(answer, "screen room", "press lead")
    assert people.find(db, "Bo Lind").role == "screen room"  # type: ignore[union-attr]
    again = Forms(answer.text).of(action)
    assert again["role"] == ["press lead"] and di.post(action, data=again).status_code == 303
    assert people.find(db, "Bo Lind").role == "press lead"  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("name", "theirs", "mine"),
    [
        ("shop", {"shop": "Fern Lane Prints"}, {"shop": "Fern Lane Press"}),
        ("units", {"units": "us"}, {}),
        ("steps", {"steps": ["tension", "coat"]}, {"steps": ["coat", "check"]}),
    ],
)
def test_a_setting(
    di: FlaskClient, other: FlaskClient, db: Database, name: str, theirs: dict[str, Any], mine: dict[str, Any]
) -> None:
    action = f"/settings/{name}"
    sent = form(di, "/settings", action)
    assert other.post(action, data={**form(other, "/settings", action), **theirs}).status_code == 303
    saved = setting(db, name)
    answer = di.post(action, data={**sent, **mine})
    if not mine:  # the form is sent as it was shown: it would undo what was saved since
        mine = {name: sent[name]}
    comes_back(answer)
    assert setting(db, name) == saved
    again = Forms(answer.text).of(action)
    assert again[name] == (mine[name] if isinstance(mine[name], list) else [mine[name]])
    assert di.post(action, data=again).status_code == 303 and setting(db, name) != saved


@pytest.fixture
def limit(db: Database) -> int:
    """The number of a row that the manager can change."""
    row = Row(0, "tension-reading-old", 90.0, "d", {}, "judgement")
    shop_acts.add_spec_row(db, shop_acts.command_line(db, NOW), row, now=NOW)
    return max(one.id for one in spec_rows.rows(db))


def test_a_limit(di: FlaskClient, other: FlaskClient, db: Database, limit: int) -> None:
    action = f"/spec/{limit}"
    sent = form(di, action, action)
    theirs = {**form(other, action, action), "value": "60", "source": "a test of ours"}
    assert other.post(action, data=theirs).status_code == 303
    answer = di.post(action, data={**sent, "value": "120", "source": "judgement"})
    comes_back(answer, "60", "120", "a test of ours", "judgement")
    assert "Saved by Eva Stone meanwhile" in answer.text
    assert spec_rows.rows(db)[-1].value == 60
    newest = f"/spec/{spec_rows.rows(db)[-1].id}"
    again = Forms(answer.text).of(newest)
    assert again["value"] == ["120"] and di.post(newest, data=again).status_code == 303
    assert spec_rows.rows(db)[-1].value == 120


def test_a_limit_that_was_set_otherwise_meanwhile_is_not_removed(
    di: FlaskClient, other: FlaskClient, db: Database, limit: int
) -> None:
    action = f"/spec/{limit}"
    theirs = {**form(other, action, action), "value": "60", "source": "a test of ours"}
    assert other.post(action, data=theirs).status_code == 303
    comes_back(di.post(f"{action}/withdraw", data={"source": "not needed"}), "60", "removed")
    assert spec_rows.rows(db)[-1].value == 60


def test_what_no_form_showed_is_no_clash(di: FlaskClient, db: Database) -> None:
    assert di.post("/settings/shop", data={"shop": "Fern Lane Prints"}).status_code == 303
    assert di.post("/settings/shop", data={"shop": "Fern Lane Press"}).status_code == 303


# -- a stock-take is one count


def placed(di: FlaskClient, db: Database, marks: str) -> tuple[str, dict[str, str]]:
    """A rack with a screen for each mark on it by the log; its code, and theirs."""
    di.post("/places/new", data={"name": "Rack 9", "kind": "rack", "entry": "a-rack-for-stocktake"})
    rack = db.execute("SELECT code FROM places ORDER BY id DESC").fetchone()[0]
    codes = {}
    for mark in marks:
        codes[mark] = frame(db, f"{mark} 1")
        sent = {"place": "Rack 9", "entry": f"racked-for-counting-{mark.lower()}"}
        assert di.post(f"/screens/{codes[mark]}/rack", data=sent).status_code == 303
    return rack, codes


def missing(db: Database) -> int:
    return int(db.execute("SELECT count(*) FROM entries WHERE step = 'note'").fetchone()[0])


def test_a_stock_take_is_one_count_of_all_who_count_it(
    di: FlaskClient, other: FlaskClient, db: Database, clock: shops.Clock
) -> None:
    rack, codes = placed(di, db, "ABC")
    page = f"/desk/stocktake/{rack}"
    for phone, mark in ((di, "A"), (other, "B")):
        phone.post(f"{page}/seen", data={})
        assert phone.post(f"{page}/seen", data={"code": codes[mark]}).status_code == 303
    shown = di.get(page).text
    assert "2 of 3 seen" in shown and "Eva Stone counts here too: 1 seen" in shown
    assert "was seen already" in di.get(f"/t/{codes['B']}").text
    sent = {**Forms(shown).of(f"{page}/put-right"), "gone": [codes["C"]]}
    asked = di.post(f"{page}/put-right", data=sent)
    assert asked.status_code == 409 and "Eva Stone is still scanning here" in asked.text and missing(db) == 0
    done = di.post(f"{page}/put-right", data={**sent, "still": "yes"})
    assert done.status_code == 200 and missing(db) == 1  # C alone; nobody's scan was wiped
    again = di.post(f"{page}/put-right", data={**sent, "still": "yes"})
    assert again.status_code == 200 and missing(db) == 1
    assert "Di Novak finished the stock-take of Rack 9: 2 seen." in other.get("/more").text
    assert "2 of" not in other.get(page).text and "Begin: scan every screen here" in other.get(page).text


def test_who_stopped_scanning_a_while_ago_is_not_waited_for(
    di: FlaskClient, other: FlaskClient, db: Database, clock: shops.Clock
) -> None:
    rack, codes = placed(di, db, "AB")
    page = f"/desk/stocktake/{rack}"
    assert other.post(f"{page}/seen", data={"code": codes["A"]}).status_code == 303
    clock.on(minutes=15)
    assert di.post(f"{page}/seen", data={"code": codes["B"]}).status_code == 303
    sent = Forms(di.get(page).text).of(f"{page}/put-right")
    assert di.post(f"{page}/put-right", data=sent).status_code == 200 and missing(db) == 0
