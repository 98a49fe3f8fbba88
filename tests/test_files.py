"""Files to take along, a list of frames brought in, and traces: what they say, and that they agree."""

from __future__ import annotations

import csv
import io
import json
import re
import secrets
import shutil
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import shop as shops
from flask.testing import FlaskClient
from shop import NOW
from sqlite_utils import Database

from tickets import demo, store
from tickets.actions import jobs as jobs_acts
from tickets.actions import posting, printing, screens, shop
from tickets.domain import step_reading, steps
from tickets.domain.entry import stamp
from tickets.domain.jobs import job as job_rules
from tickets.domain.limits import NAMES
from tickets.domain.person import Actor
from tickets.domain.posted import form
from tickets.domain.refusal import Refused
from tickets.domain.spec import Row
from tickets.queries import exports, find, trace
from tickets.store import buckets, desk, jobs, people, settings

SignIn = Callable[[FlaskClient, str], FlaskClient]


@pytest.fixture(scope="module")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo shop, for what only reads."""
    return shops.the_demo(tmp_path_factory.mktemp("demo"))


def at_the_desk(folder: Path) -> FlaskClient:
    """A phone of the demo's manager."""
    return shops.signed_in(shops.phone_of(shops.app_of(folder, lambda: NOW)), "Di Novak", demo.SECRETS["Di Novak"][1])


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
        step_reading.read(steps.SCREEN_STEPS["stretch"], sent)
    assert [fault.where for fault in refused.value.faults] == ["thread_um"]


def test_a_thread_thinner_than_the_pitch_is_taken() -> None:
    sent = {"mesh_count_as_labelled": ["230/in"], "thread_um": ["110"]}
    assert step_reading.read(steps.SCREEN_STEPS["stretch"], sent)[0]["thread_um"] == 110


def test_a_list_with_a_thread_wider_than_its_mesh_is_refused_at_its_line(db: Database) -> None:
    found = shops.looked(db, "mark,mesh_count,thread_um\nA 1,230/in,480 um\nA 2,230/in,48 um\n")
    assert [(line, "no opening" in one[0].message) for line, one in found.faults.items()] == [(2, True)]
    assert [one.mark for one in found.items] == ["A 2"]


def test_a_mark_is_one_line_however_it_was_typed(db: Database) -> None:
    found = shops.looked(db, 'mark,mesh_count\n"A\n 1",230/in\n"A\t1",90/cm\n"B\x07",90/cm\n')
    assert [one.mark for one in found.items] == ["A 1"]
    (twice,), (unseen,) = found.faults.values()
    assert "Line 2 has the mark" in twice.message and "cannot be seen" in unseen.message


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
    screen = find.screen(db, traced.code)
    screens.log(db, Actor(me.id, me.name, me.role), screen, "check", sent, post=secrets.token_hex(12), now=NOW)
    job = next(find.job(db, jobs.get(db, n).code) for n in jobs.every_number(db)  # type: ignore[union-attr]
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


# Everything to take along


def lines_of(phone: FlaskClient, name: str) -> list[dict[str, Any]]:
    return [json.loads(line) for line in phone.get(f"/desk/files/{name}.jsonl").text.splitlines()]


def told(db: Database, question: str) -> list[tuple[Any, ...]]:
    return [tuple(row) for row in db.execute(question)]


def rebuilt(files: Mapping[str, list[dict[str, Any]]], job: str, version: int) -> job_rules.Job:
    """A job's sheet put together again from the lines of the files alone."""

    def of(name: str, **more: Any) -> list[dict[str, Any]]:
        wanted = {"job": job, "version": version, **more}
        return [row for row in files[name] if all(row[key] == value for key, value in wanted.items())]

    def said(row: Mapping[str, Any], **names: str) -> dict[str, Any]:
        """Keys of a job file out of the columns of a line, each with its unit behind where it has one."""
        found = {}
        for key, name in names.items():
            column, _blank, unit = name.partition(" ")
            if row.get(column) not in (None, "", "no", {}):
                found[key] = f"{row[column]:.12f} {unit}" if unit else row[column]
        return found

    def station(row: Mapping[str, Any]) -> dict[str, Any]:
        asked = ("hardness", "angle", "angle_mark", "edge", "length", "pressure", "speed")
        blade = {key: f"squeegee_{key}" for key in asked}
        data = said(row, does="does", revolution="revolution", head="head", separation="image", colour="colour",
                    ink="ink", series="series", reference="reference", strokes="strokes", coverage="coverage_pct %",
                    flood="flood", choke="choke", off_contact="off_contact_mm mm", flake="flake_um um",
                    recipe="recipe", time="time_s s", surface="surface", note="note")  # fmt: skip
        parts = {
            "mesh": said(row, count="mesh_count", thread="thread_um um"),
            "halftone": said(row, ruling="ruling_per_in /in", angle="angle_deg deg"),
            "squeegee": said(row, **blade),
        }
        return {**data, **{key: part for key, part in parts.items() if part}}

    def placement(row: Mapping[str, Any]) -> dict[str, Any]:
        data = said(row, name="name", width="width_mm mm", height="height_mm mm", platen="platen", **{"from": "from"})
        dryer = said(row, belt_speed="belt_speed_m_per_min m/min", set="set_c degC",
                     garment_peak="garment_peak_c degC", hold="hold_s s")  # fmt: skip
        return {
            **data,
            "art": said(row, name="art", revision="revision"),
            "same_image": row["same_image"] == "yes",
            "station": [station(one) for one in of("job_stations", placement=row["placement"])],
            **({"dryer": dryer} if dryer else {}),
        }

    (head,) = of("job_versions")
    ways: dict[int, dict[str, Any]] = {}
    for row in of("job_colourways"):
        way = ways.setdefault(
            row["colourway"], {"garment": {"style": row["style"], "colour": row["garment_colour"]}, "inks": {}}
        )
        if row.get("image"):
            ink = said(row, colour="colour", ink="ink", series="series", reference="reference")
            way["inks"][row["image"]] = False if row["printed"] == "no" else ink
    data = {
        **said(head, title="title", customer="customer", due="due", reference="reference", repeats="repeats"),
        "art": said(head, name="art", revision="revision", picture="picture_file"),
        "garment": [
            {**said(row, style="style", colour="colour", pieces="pieces", lot="lot", fibre="fibre"),
             "infant": row["infant"] == "yes"}
            for row in of("job_garments")
        ],
        "placement": [placement(row) for row in of("job_placements")],
        "colourway": list(ways.values()),
    }  # fmt: skip
    return job_rules.read(data)


WHOLE = {
    "title": "Told anew", "customer": "Marsh Lane Players", "due": "2031-04-02", "reference": "=MLP-7",
    "art": {"name": "Reeds", "revision": "C"},
    "garment": [
        {"style": "Tee 150", "colour": "navy", "pieces": 40, "lot": "0815",
         "fibre": {"cotton": 62.5, "polyester": 37.5}},
        {"style": "Romper", "colour": "white", "pieces": 7, "fibre": {"cotton": 100}, "infant": True},
    ],
    "placement": [
        {
            "name": "front", "width": "11.5 in", "height": "300 mm", "from": "collar seam, 80 mm", "platen": "standard",
            "station": [
                {"does": "print", "separation": "grain", "colour": "grey", "ink": "water-base", "head": 2,
                 "mesh": {"count": "110/cm", "thread": "34 um"}, "series": "Aqua", "reference": "house book p. 9",
                 "strokes": 2, "coverage": "18.5 %", "halftone": {"ruling": "55 /in", "angle": "22.5 deg"},
                 "flood": "light", "choke": "0.3 mm", "off_contact": "1.5 mm", "flake": "12 um", "note": "wet on wet",
                 "squeegee": {"hardness": "70/90/70", "angle": "15 deg", "edge": "square", "length": "360 mm",
                              "pressure": "firm", "speed": "mark 4"},
                 "recipe": {"base": 940, "violet": 60.5}},
                {"does": "flash", "time": "6 s", "surface": "105 degC"},
                {"does": "cool", "time": "4 s"},
                {"does": "print", "colour": "gold", "ink": "plastisol", "mesh": {"count": "86/in"}, "revolution": 2},
            ],
            "dryer": {"belt_speed": "1.5 m/min", "set": "190 degC", "garment_peak": "160 degC", "hold": "60 s"},
        },
        {"name": "nape", "width": "60 mm", "art": {"name": "Reeds, small", "revision": "A"}, "same_image": True,
         "station": [{"does": "print", "colour": "gold", "ink": "plastisol", "mesh": {"count": "90/cm"}}]},
    ],
    "colourway": [
        {"garment": {"style": "Romper", "colour": "white"},
         "inks": {"grain": {"colour": "sand", "ink": "water-base", "series": "Aqua 2", "reference": "p. 2"},
                  "gold": False}},
    ],
}  # fmt: skip
"""A sheet that says everything that a sheet can say."""


def test_every_version_of_every_job_can_be_put_together_from_its_files(demo_folder: Path, tmp_path: Path) -> None:
    """The plain data of a sheet, read back out of the files of its parts, is the sheet that the shop holds."""
    folder = shutil.copytree(demo_folder, tmp_path / "copy")
    phone, db = at_the_desk(folder), store.connect(folder)
    me = people.find(db, "Di Novak")
    assert me is not None
    changed = next(
        jobs.get(db, n) for n in jobs.every_number(db) if not told(db, f"SELECT 1 FROM runs WHERE job = {n}")
    )
    assert changed is not None
    sheet = job_rules.read(WHOLE)
    jobs_acts.change(db, Actor(me.id, me.name, me.role), changed, sheet, post=secrets.token_hex(12), now=NOW)
    names = ("job_versions", "job_garments", "job_placements", "job_stations", "job_colourways")
    files = {name: lines_of(phone, name) for name in names}
    held = told(db, "SELECT j.code, v.version, v.sheet, p.name FROM job_versions v JOIN jobs j ON j.id = v.job "
                    "JOIN people p ON p.id = v.person")  # fmt: skip
    assert len(held) == len(files["job_versions"]) > 10
    assert any(version == 2 for _code, version, _sheet, _who in held)
    assert any(row["job"] == changed.code and row["title"] == "Told anew" for row in files["job_versions"])
    for code, version, text, who in held:
        assert rebuilt(files, code, version) == job_rules.read(json.loads(text)), (code, version)
        (head,) = [row for row in files["job_versions"] if (row["job"], row["version"]) == (code, version)]
        assert head["person"] == who and head["at"]
    numbers = {row["separation"]: row for row in lines_of(phone, "separations")}
    for row in files["job_stations"]:
        if row["does"] == "print":
            assert numbers[row["separation"]]["name"].casefold() == row["image"].casefold()
        else:
            assert row["separation"] is None


def test_what_the_office_keeps_is_in_its_files_and_no_secret_is(demo_folder: Path) -> None:
    """Against plain SQL."""
    phone, db = at_the_desk(demo_folder), store.connect(demo_folder)
    rows = {name: lines_of(phone, name) for name in exports.tables()}

    def columns(name: str, *wanted: str) -> list[tuple[Any, ...]]:
        return [tuple(row[column] for column in wanted) for row in rows[name]]

    limits = told(db, "SELECT id, key, json_extract(value, '$'), unit, source FROM spec ORDER BY id")
    assert columns("limits", "row", "key", "value", "unit", "source") == limits and len(limits) > 50
    for row, (conditions,) in zip(rows["limits"], db.execute("SELECT conditions FROM spec ORDER BY id"), strict=True):
        assert {name: row[name] for name in NAMES if name in row} == json.loads(conditions)
    assert columns("people", "person", "role") == told(db, "SELECT name, role FROM people ORDER BY id")
    assert columns("places", "place", "code", "heads") == told(db, "SELECT name, code, heads FROM places ORDER BY id")
    assert columns("exposure_units", "exposure_unit", "lamp") == told(db, "SELECT name, lamp FROM exposure_units")
    assert columns("lamp_changes", "exposure_unit") == told(
        db, "SELECT u.name FROM lamp_changes l JOIN exposure_units u ON u.id = l.exposure_unit")  # fmt: skip
    assert columns("changes", "thing", "what", "becomes") == told(db, "SELECT thing, what, becomes FROM changes")
    assert ("person", "Ada Holm", "added") in columns("changes", "thing", "name", "what")
    assert columns("separations", "separation", "art") == told(db, "SELECT id, art FROM separations ORDER BY id")
    assert len(rows["codes"]) == told(db, "SELECT count(*) FROM codes")[0][0]
    all_of_it = json.dumps(rows)
    for (secret,) in db.execute("SELECT secret FROM people WHERE secret IS NOT NULL"):
        assert secret not in all_of_it and secret.split("$")[-1] not in all_of_it


def test_a_setting_set_anew_has_its_history_and_the_one_time_link_is_left_out(
    client: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    phone = sign_in(client, "Di Novak")
    me = people.find(db, "Di Novak")
    assert me is not None
    for name, value in (("shop", "Old name"), ("first_manager", "a-token"), ("shop", "New name"), ("demo", False)):
        settings.save_setting(db, name, value, stamp(NOW), me.id)
    db.conn.commit()
    rows = [row for row in rows_of(phone, "/desk/files/settings.csv") if row["setting"] in {"shop", "demo"}]
    said = [(row["setting"], row["value"], row["stands"], row["person"]) for row in rows[-3:]]
    assert said == [
        ("shop", "Old name", "no", "Di Novak"),
        ("shop", "New name", "yes", "Di Novak"),
        ("demo", "no", "yes", "Di Novak"),
    ]
    assert "a-token" not in phone.get("/desk/files/settings.csv").text


def test_a_limit_moved_and_withdrawn_has_a_line_each_and_the_file_says_which_one_counts(
    client: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    phone, person = sign_in(client, "Di Novak"), people.find(db, "Di Novak")
    assert person is not None
    me = Actor(person.id, person.name, person.role)
    conditions = {"frame": "wood", "work": "one-colour"}  # shipped with its conditions the other way round
    for value in (8.0, None):
        row = Row(0, "tension-floor", value, "N/cm", conditions, "a test of ours")
        shop.add_spec_row(db, me, row, now=NOW)
    rows = [
        row for row in rows_of(phone, "/desk/files/limits.csv")
        if (row["key"], row["frame"], row["work"]) == ("tension-floor", "wood", "one-colour")
    ]  # fmt: skip
    assert [(row["value"], row["stands"], row["person"]) for row in rows] == [
        ("7.0", "no", "command line"), ("8.0", "no", "Di Novak"), ("7.0", "yes", "Di Novak")  # the program's is back
    ]  # fmt: skip
    general = Row(0, "tension-spread", None, "N/cm", {"work": "halftone"}, "a test of ours")
    shop.add_spec_row(db, me, general, now=NOW)  # one that came with the program and is withdrawn itself
    (last,) = [row for row in rows_of(phone, "/desk/files/limits.csv") if row["value"] == ""]
    assert (last["stands"], last["key"], last["person"]) == ("no", "tension-spread", "Di Novak")
    rows += [row for row in rows_of(phone, "/desk/files/limits.csv") if row["key"] == "tension-spread"]
    others = [row for row in rows_of(phone, "/desk/files/limits.csv") if row["person"] == "command line"]
    assert {row["stands"] for row in others if row not in rows} == {"yes"}


def test_a_new_tag_and_a_printed_paper_have_their_lines(client: FlaskClient, sign_in: SignIn, db: Database) -> None:
    phone, person = sign_in(client, "Di Novak"), people.find(db, "Di Novak")
    assert person is not None
    me = Actor(person.id, person.name, person.role)
    mesh = form({"mesh_count_as_labelled": "90/cm", "frame": "wood", "mark": "W 1"})
    (old,) = screens.add(db, me, mesh, post=secrets.token_hex(12), now=NOW)
    screens.log(db, me, find.screen(db, old), "retag", form({}), post=secrets.token_hex(12), now=NOW)
    new = find.screen(db, old).code
    printing.print_tags(db, me, [new], now=NOW, anyway=True)
    found = {row["code"]: row["code_now"] for row in rows_of(phone, "/desk/files/codes.csv")}
    assert old != new and found[old] == found[new] == new
    (paper,) = rows_of(phone, "/desk/files/printed.csv")
    assert (paper["code"], paper["person"], paper["kind"]) == (new, "Di Novak", "screen")
    assert paper["at"] and list(paper) == [column.name for column in exports.tables()["printed"].columns]


def test_no_number_of_the_log_is_left_without_the_file_that_explains_it(demo_folder: Path) -> None:
    phone = at_the_desk(demo_folder)
    images = {row["separation"]: f"{row['name']} ({row['art']} {row['revision']})"
              for row in lines_of(phone, "separations")}  # fmt: skip
    limits = {row["row"] for row in lines_of(phone, "limits")}
    runs = {row["run"] for row in lines_of(phone, "runs")}
    entries, named, ruled = lines_of(phone, "entries"), 0, 0
    for row in entries:
        numbers = [*(row.get("separations") or ()), *(row.get("separations_seen") or ())]
        assert [images[number] for number in numbers] == row.get("images", [])
        named += len(numbers)
        for reason in (row.get("verdict") or {}).get("reasons", ()):
            assert set(reason.get("spec") or ()) <= limits
            ruled += len(reason.get("spec") or ())
        assert row.get("run") is None or row["run"] in runs
    assert named > 20 and ruled > 20
    for row in lines_of(phone, "stencils"):
        assert [images[number] for number in row["separations"]] == row["images"]
    about = {
        row["column"]: row["about"] for row in rows_of(phone, "/desk/files/columns.csv") if row["file"] == "entries"
    }
    assert "“separations”" in about["separations"] and "“separations”" in about["separations_seen"]
    assert "“limits”" in about["verdict"] and all(about.values())


def test_who_went_past_a_verdict_is_named_and_not_numbered(demo_folder: Path, tmp_path: Path) -> None:
    folder = shutil.copytree(demo_folder, tmp_path / "copy")
    phone, db = at_the_desk(folder), store.connect(folder)
    person = people.find(db, "Cy Marsh")
    assert person is not None
    me = Actor(person.id, person.name, person.role)
    past = {"who": me.name, "person": me.id, "why": "the press waits", "causes": ["not-ready"]}
    entry = posting.line(me, "note", NOW, NOW, {"note": "gone past"}, override=past, screen=1)
    with store.writing(db):
        posting.write(db, posting.numbered(secrets.token_hex(12), [entry]))
    row = lines_of(phone, "entries")[-1]
    assert row["override"] == {"who": "Cy Marsh", "why": "the press waits", "causes": ["not-ready"]}


def test_what_a_set_up_sheet_says_of_the_whole_run_is_taken_along(demo_folder: Path) -> None:
    phone, db = at_the_desk(demo_folder), store.connect(demo_folder)
    sheets = {entry: json.loads(values) for entry, values in db.execute("SELECT entry, vals FROM entries WHERE step = "
                                                                        "'sheet'")}  # fmt: skip
    found = [row for row in lines_of(phone, "entries") if row["entry"] in sheets]
    assert len(found) == len(sheets) > 5
    assert [row["run_settings"] for row in found] == [sheets[row["entry"]]["run"] for row in found]
    assert any(row["run_settings"] for row in found)


def test_the_export_writes_every_file_in_both_ways_and_tells_every_column(demo_folder: Path, tmp_path: Path) -> None:
    db, out, phone = store.connect(demo_folder), tmp_path / "out", at_the_desk(demo_folder)
    assert exports.export(db, out) == {"entries": told(db, "SELECT count(*) FROM entries")[0][0]}
    assert not db.conn.in_transaction
    names = set(exports.tables())
    assert {file.name for file in out.iterdir()} == {
        *(f"{name}.{kind}" for name in names for kind in ("csv", "jsonl")), "columns.csv"
    }  # fmt: skip
    with (out / "columns.csv").open(encoding="utf-8", newline="") as file:
        described = [(row["file"], row["column"]) for row in csv.DictReader(file) if row["about"]]
    for name in names:
        with (out / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            reader = csv.DictReader(file)
            rows = list(reader)
        assert [column for its, column in described if its == name] == reader.fieldnames
        lines = [json.loads(line) for line in (out / f"{name}.jsonl").read_text("utf-8").splitlines()]
        assert len(lines) == len(rows) and (rows or name == "printed")
        if name != "entries":
            assert lines == lines_of(phone, name) and rows == rows_of(phone, f"/desk/files/{name}.csv")


def test_readings_read_well_in_a_cell_and_are_read_back_by_a_frame_list(demo_folder: Path, db: Database) -> None:
    phone = at_the_desk(demo_folder)
    lines = {line["entry"]: line for line in lines_of(phone, "entries") if line["step"] == "tension"}
    cells = {row["entry"]: row["readings_n_per_cm"] for row in rows_of(phone, "/desk/files/entries.csv")}
    assert len(lines) > 50
    read = "\n".join(f'{number},230/in,"{cells[entry]}"' for number, entry in enumerate(lines))
    found = shops.looked(db, f"mark,mesh_count,tension_n_per_cm\n{read}\n")
    assert not found.faults
    assert [one.tension["readings_n_per_cm"] for one in found.items] == [
        line["readings_n_per_cm"] for line in lines.values()
    ]
    assert cells[next(iter(lines))] == "; ".join(map(str, next(iter(lines.values()))["readings_n_per_cm"]))
    assert "semicolons" in next(row["about"] for row in rows_of(phone, "/desk/files/columns.csv")
                                if row["column"] == "readings_n_per_cm")  # fmt: skip


def test_a_stencil_says_when_it_was_begun(demo_folder: Path) -> None:
    phone, db = at_the_desk(demo_folder), store.connect(demo_folder)
    begun = sorted(row["begun_at"] for row in rows_of(phone, "/desk/files/stencils.csv"))
    shop = ZoneInfo(settings.setting(db, "zone"))
    held = [datetime.fromisoformat(at).astimezone(shop) for (at,) in db.execute("SELECT begun_at FROM stencils")]
    assert begun == sorted(f"{at:%Y-%m-%d %H:%M}" for at in held) and len(begun) > 20


def test_the_page_leads_to_every_file_and_tells_the_columns_of_a_trace(demo_folder: Path) -> None:
    phone = at_the_desk(demo_folder)
    page = main_of(phone, "/desk/files")
    for name, table in exports.tables().items():
        assert f'href="/desk/files/{name}.csv"' in page and f'href="/desk/files/{name}.jsonl"' in page
        assert all(f"<code>{column.name}</code>" in page for column in table.columns)
    assert all(f"<code>{column.name}</code>" in page for column in trace.TRACE)
    described = rows_of(phone, "/desk/files/columns.csv")
    assert [row["column"] for row in described if row["file"] == "trace"] == [one.name for one in trace.TRACE]
    assert all(row["about"] for row in described)


def test_a_lot_is_found_by_its_index(demo_folder: Path) -> None:
    """SQLite's own account of what it reads: no table is gone through from end to end."""
    db, asked = store.connect(demo_folder), []
    db.conn.set_trace_callback(asked.append)
    desk.buckets_of_lot(db, "0917")
    desk.ink_uses(db, lot="0917")
    desk.ink_uses(db, bucket="7K32XM")
    desk.carrying_now(db, 12)
    db.conn.set_trace_callback(None)
    assert len(asked) == 4
    for question in asked:
        plan = [row[3] for row in db.execute(f"EXPLAIN QUERY PLAN {question}")]
        assert not [line for line in plan if line.startswith("SCAN")], plan
