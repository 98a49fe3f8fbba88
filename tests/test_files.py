"""Files to take along, a list of frames brought in, and traces: what they say, and that they agree."""

from __future__ import annotations

import csv
import io
import re
import secrets
import shutil
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from sqlite_utils import Database

from tickets import demo, store
from tickets.floor import frame_list, screens, trace
from tickets.floor import jobs as floor_jobs
from tickets.floor.posting import form
from tickets.records import steps
from tickets.records.person import Actor
from tickets.records.refusal import Refused
from tickets.store import buckets, jobs, people
from web import create_app

SignIn = Callable[[FlaskClient, str], FlaskClient]
NOW = datetime.now(UTC).replace(microsecond=0)


@pytest.fixture(scope="module")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo shop, for what only reads."""
    folder = tmp_path_factory.mktemp("demo")
    demo.build(folder, NOW)
    return folder


def at_the_desk(folder: Path) -> FlaskClient:
    """A phone of the demo's manager."""
    phone = create_app(folder, testing=True, clock=lambda: NOW).test_client()
    phone.environ_base["HTTP_ORIGIN"] = "http://localhost"
    assert phone.post("/sign-in", data={"name": "Di Novak", "secret": demo.SECRETS["Di Novak"][1]}).status_code == 303
    return phone


def rows_of(phone: FlaskClient, path: str) -> list[dict[str, str]]:
    answer = phone.get(path)
    assert answer.status_code == 200, path
    return list(csv.DictReader(io.StringIO(answer.text.lstrip("\ufeff"))))


def main_of(phone: FlaskClient, path: str) -> str:
    answer = phone.get(path, follow_redirects=True)
    assert answer.status_code == 200, path
    return answer.text.split("<main")[1].split("</main")[0]


# A list of frames


@pytest.mark.parametrize(
    ("count", "thread", "unit", "said"),
    [
        ("230/in", "480", "um", "below 110.435 um"),
        ("230/in", "18.9", "mil", "below 4.34 mil"),
        ("100/cm", "100", "um", "below 100 um"),
        ("230/in", "110.5", "", "below 110.435 um"),
    ],
)
def test_a_thread_as_thick_as_the_pitch_is_refused_with_what_would_do(
    count: str, thread: str, unit: str, said: str
) -> None:
    """Geometry: the pitch is 25,400 um over the count per inch; a thread that fills it leaves no opening."""
    sent = {"mesh_count_as_labelled": [count], "thread_um": [thread], "thread_um.unit": [unit]}
    with pytest.raises(Refused, match=f"{thread}.* no opening in a {count} mesh: {said} would do") as refused:
        steps.read(steps.SCREEN_STEPS["stretch"], sent)
    assert [fault.where for fault in refused.value.faults] == ["thread_um"]


def test_a_thread_thinner_than_the_pitch_is_taken() -> None:
    sent = {"mesh_count_as_labelled": ["230/in"], "thread_um": ["110"]}
    assert steps.read(steps.SCREEN_STEPS["stretch"], sent)[0]["thread_um"] == 110


def test_a_list_with_a_thread_wider_than_its_mesh_is_refused_at_its_line(db: Database) -> None:
    found = frame_list.read(db, "mark,mesh_count,thread_um\nA 1,230/in,480\nA 2,230/in,48\n", NOW)
    assert [(one.where, "no opening" in one.message) for one in found.faults] == [("line 2", True)]
    assert [one.mark for one in found.frames] == ["A 2"]


def test_a_mark_is_one_line_however_it_was_typed(db: Database) -> None:
    found = frame_list.read(db, 'mark,mesh_count\n"A\n 1",230/in\n"A\t1",90/cm\n"B\x07",90/cm\n', NOW)
    assert [one.mark for one in found.frames] == ["A 1"]
    (twice, unseen) = found.faults
    assert "is in line 2 too" in twice.message and "nobody can see" in unseen.message


def test_a_line_is_counted_once_and_nothing_is_said_to_go_in_while_one_is_wrong(
    client: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    phone = sign_in(client, "Di Novak")

    def said(text: str) -> str:
        answer = phone.post("/desk/import", data={"list": text, "act": "take", "entry": secrets.token_hex(12)})
        assert answer.status_code == 422 and db.execute("SELECT count(*) FROM screens").fetchone() == (0,)
        return " ".join(answer.text.split("<main")[1].split())

    three = said("mark,mesh_count,frame,place\nA 1,,plastic,Nowhere\nA 2,90/cm,wood,\n")
    assert "1 line is refused" in three and three.count("<li><b>line 2</b>") == 1
    assert "Nothing was brought in: a list goes in as a whole" in three
    assert "1 other line is right" in three and "would be brought in" not in three
    head = said("mark,colour,width,height\nA,b,c,d\n")
    assert "1 line is refused" in head and "other line" not in head


# Traces


def test_a_traced_stencil_has_the_numbers_that_it_has_among_the_stencils(demo_folder: Path) -> None:
    phone, db = at_the_desk(demo_folder), store.connect(demo_folder)
    known = {(row["screen"], row["mesh"], row["stencil"]): row for row in rows_of(phone, "/desk/files/stencils.csv")}
    emulsions = [one.code for one in buckets.every(db, limit=100) if one.emulsion]
    jobs_ = [jobs.get(db, number) for number in jobs.every_number(db)]
    traced = [
        row
        for code in (*emulsions, *(job.code for job in jobs_ if job))
        for row in rows_of(phone, f"/desk/trace/{code}.csv")
        if row["screen"]
    ]
    assert len(traced) > 60 and any(row["mesh"] != "1" for row in traced)
    for row in traced:
        stencil = known[row["screen"], row["mesh"], row["stencil"]]
        for column in ("mesh_count", "images", "washed_at", "faults"):
            assert stencil[column] == row[column]
        assert (stencil["ended_at"] == "") is (row["still_on"] == "yes")


def test_screens_that_wait_for_a_job_are_traced_once_with_what_is_known_and_the_file_has_them(
    demo_folder: Path, tmp_path: Path
) -> None:
    folder = shutil.copytree(demo_folder, tmp_path / "copy")
    phone, db = at_the_desk(folder), store.connect(folder)
    carried = "SELECT DISTINCT s.code FROM stations q JOIN carries c ON c.separation = q.separation "
    carried += "JOIN screens s ON s.id = c.screen WHERE q.job = ?"
    waiting, printed = 0, 0
    for number in jobs.every_number(db):
        job = jobs.get(db, number)
        assert job is not None
        page, rows = main_of(phone, f"/desk/trace/{job.code}"), rows_of(phone, f"/desk/trace/{job.code}.csv")
        on_page = re.findall(r'href="/desk/screens/([0-9A-Z]{6})"', page)
        assert sorted(on_page) == sorted(row["screen"] for row in rows if row["screen"])
        still = [row["screen"] for row in rows if row["still_on"]]
        assert {code for (code,) in db.execute(carried, [number])} == set(still) and len(still) == len(set(still))
        waiting += sum(1 for row in rows if row["still_on"] and not row["run"])
        printed += sum(1 for row in rows if row["run"] and row["job"] != job.code)
    assert waiting > 5 and printed  # some never hung, some hung for another job
    # what becomes known of a screen that waits is said
    me = people.find(db, "Ada Holm")
    assert me is not None
    traced = next(one for n in jobs.every_number(db) for one in trace.trace_job(db, n).carrying if one.washed_at)
    sent = form({"result": "fault", "fault": "pinholes"})
    screen = screens.find(db, traced.code)
    screens.log(db, Actor(me.id, me.name, me.role), screen, "check", sent, post=secrets.token_hex(12), now=NOW)
    job = next(floor_jobs.find(db, jobs.get(db, n).code) for n in jobs.every_number(db)  # type: ignore[union-attr]
               if traced.screen in {one.screen for one in trace.trace_job(db, n).carrying})  # fmt: skip
    (row,) = [row for row in rows_of(phone, f"/desk/trace/{job.code}.csv") if row["screen"] == traced.code]
    assert row["faults"] == "pinholes" and row["washed_at"] and row["bucket"]
    assert "pinholes" in main_of(phone, f"/desk/trace/{job.code}")


def test_a_trace_is_found_by_mark_by_the_customers_number_and_by_lot(demo_folder: Path, tmp_path: Path) -> None:
    folder = shutil.copytree(demo_folder, tmp_path / "copy")
    phone, db = at_the_desk(folder), store.connect(folder)

    def leads_to(text: str, name: str = "find") -> str:
        answer = phone.get("/desk/trace", query_string={name: text})
        assert answer.status_code == 302
        return str(answer.location)

    (code,) = (one for (one,) in db.execute("SELECT s.code FROM screens s JOIN standings w ON w.screen = s.id "
                                            "WHERE w.mark = 'H 04'"))  # fmt: skip
    assert leads_to("H 04") == leads_to("h04") == leads_to("H 04", "lot") == f"/desk/screens/{code}"
    job, reference = db.execute("SELECT code, reference FROM jobs WHERE reference <> '' ORDER BY id").fetchone()
    assert leads_to(reference) == leads_to(reference.lower()) == f"/desk/trace/{job}"
    lot = next(one.lot for one in buckets.every(db, limit=100) if one.lot)
    assert leads_to(lot) == f"/desk/trace?lot={lot}" and f"Lot {lot}" in main_of(phone, f"/desk/trace?lot={lot}")
    # several go by the same text: two painted alike, and a lot
    me = people.find(db, "Ada Holm")
    assert me is not None
    mesh = form({"mesh_count_as_labelled": "90/cm", "frame": "wood", "mark": lot})
    made = [screens.add(db, Actor(me.id, me.name, me.role), mesh, post=secrets.token_hex(12), now=NOW)[0]
            for _time in range(2)]  # fmt: skip
    page = main_of(phone, f"/desk/trace?find={lot}")
    assert all(f'href="/desk/screens/{one}"' in page for one in made) and f'href="/desk/trace?lot={lot}"' in page
    assert f"Lot {lot}" in main_of(phone, f"/desk/trace?lot={lot}")  # a link that means the lot stays with it
    gone = phone.get("/desk/trace?find=Nowhere%207")
    assert gone.status_code == 404 and "Nowhere 7" in gone.text and "painted mark" in gone.text
