"""The command line as the design's section 9 has it: what each command prints, its exit status (0, or 2 with one clear
line a fault), and that a post is done once. Run in this process; the real process is in test_cli_process.
"""

from __future__ import annotations

import ast
import csv
import json
import sqlite3
import zipfile
from pathlib import Path
from typing import Any

import click
import pypdfium2
import pytest
import shop as shops
import zxingcpp
from click.testing import CliRunner, Result
from shop import SAMPLES, Tickets, clock

from tickets import cli, store
from tickets.actions import people as people_acts
from tickets.cli import reply, spoken
from tickets.cli.given import Call
from tickets.domain.code import holds
from tickets.queries import addresses
from tickets.store import people

LAN = "http://192.168.44.20:8600"
ENTRY = "cli-test-0123456789abcdef"


@pytest.fixture
def data(tmp_path: Path) -> Path:
    return tmp_path / "shop"


@pytest.fixture
def tickets(data: Path, monkeypatch: pytest.MonkeyPatch) -> Tickets:
    """`tickets("screen", "list")` runs a command on the shop."""
    monkeypatch.setenv("TICKETS_DATA", str(data))
    monkeypatch.setattr(addresses, "own_addresses", lambda: {"192.168.44.20"})
    return shops.commands(data)


def made(result: Result) -> Any:
    """What a command printed with --json."""
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def refused(result: Result, *said: str, lines: int = 1) -> str:
    """The lines on standard error of a command that was refused: as many as there are faults."""
    assert result.exit_code == 2, result.output
    assert len(result.stderr.splitlines()) == lines, result.stderr
    assert "Traceback" not in result.stderr
    for text in said:
        assert text in result.stderr, result.stderr
    return result.stderr


def screen(tickets: Tickets, *more: str) -> str:
    command = ("screen", "add", "--count", "230/in", "--frame", "aluminium", "--thread", "48 um", "--json", *more)
    return str(made(tickets(*command))[0]["code"])


def entries(data: Path) -> int:
    with sqlite3.connect(data / "shop.db") as db:
        (number,) = db.execute("SELECT count(*) FROM entries").fetchone()
    db.close()
    return int(number)


# -- the module


def test_every_command_takes_data_and_what_lists_or_makes_takes_json() -> None:
    found = 0

    def walk(group: Any, path: str) -> None:
        nonlocal found
        for name in group.list_commands(None):
            command = group.get_command(None, name)
            options = {option for parameter in command.params for option in parameter.opts}
            if hasattr(command, "list_commands"):
                walk(command, f"{path} {name}")
                continue
            found += 1
            assert "--data" in options, f"{path} {name}"
            if name in {"add", "list", "show", "check", "change", "export", "log", "open"} or "print" in path:
                assert "--json" in options, f"{path} {name}"

    walk(cli.root, "tickets")
    assert found > 40


# -- no shop, and faults of every kind


READING = (
    ("screen", "list"),
    ("screen", "show", "7K32XM"),
    ("job", "list"),
    ("job", "show", "x"),
    ("bucket", "list"),
    ("place", "list"),
    ("run", "list"),
    ("spec", "list"),
    ("settings", "show"),
    ("person", "list"),
    ("check",),
    ("rebuild",),
    ("repair",),
    ("person", "secret", "Ada Holm"),
    ("export", "--out", "out"),
    ("backup", "b.zip"),
    ("print", "tags", "7K32XM", "--out", "t.pdf"),
)


@pytest.mark.parametrize("command", READING, ids=" ".join)
def test_reading_where_there_is_no_shop_says_so_and_makes_none(
    tickets: Tickets, data: Path, command: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    data.mkdir()
    monkeypatch.chdir(data)
    refused(tickets(*command), "There is no shop in", "tickets serve")
    assert list(data.iterdir()) == []


def test_a_writing_command_makes_the_shop(tickets: Tickets, data: Path) -> None:
    tickets("place", "add", "Rack 1", "--kind", "rack")
    assert store.exists(data)
    assert [place["name"] for place in made(tickets("place", "list", "--json"))] == ["Rack 1"]
    assert tickets("check").stdout == "sound\n"


def test_usage_errors_are_one_line(tickets: Tickets) -> None:
    refused(tickets("screen", "add", "--frame", "wood"), "--count")
    refused(tickets("nothing"), "nothing")
    refused(tickets("screen", "add", "--bogus"), "--bogus")
    refused(tickets("screen", "log", "7K32XM"), "STEP")
    refused(tickets("screen", "log", "7K32XM", "tension", "25"), "--FIELD VALUE")
    refused(tickets("screen", "log", "7K32XM", "tension", "--readings_n_per_cm"), "needs a value")


def test_every_fault_is_said_by_the_name_of_its_option(tickets: Tickets) -> None:
    said = refused(
        tickets("screen", "add", "--count", "230", "--frame", "tin", "--thread", "4 N/cm", "--open-area", "140 %"),
        lines=4,
    )
    assert [line.split(":")[0] for line in said.splitlines()] == ["--count", "--thread", "--frame", "--open-area"]


def test_a_newer_shop_and_a_file_that_is_none(tickets: Tickets, data: Path) -> None:
    screen(tickets)
    db = sqlite3.connect(data / "shop.db")
    db.execute("PRAGMA user_version=99")
    db.close()
    refused(tickets("screen", "list"), "newer version")
    refused(tickets("serve", "--port", "0"), "newer version")
    for name in ("shop.db-wal", "shop.db-shm"):
        (data / name).unlink(missing_ok=True)
    (data / "shop.db").write_bytes(b"no database at all, whatever its name says" * 100)
    refused(tickets("screen", "list"), "shop.db")


def test_a_folder_that_is_a_file(tickets: Tickets, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    refused(tickets("screen", "list", "--data", tmp_path / "file"), "file")
    refused(tickets("place", "add", "R", "--kind", "rack", "--data", tmp_path / "file" / "shop"), "shop")


def test_a_second_server_is_refused(tickets: Tickets, data: Path) -> None:
    screen(tickets)
    lock = store.ServeLock(data)
    try:
        refused(tickets("serve", "--port", "0"), "already serves")
    finally:
        lock.release()


# -- screens


def test_registering_screens(tickets: Tickets) -> None:
    rows = made(
        tickets("screen", "add", "--count", "90/cm", "--frame", "wood", "--number", "3", "--mark", "W 9", "--json")
    )
    assert [row["mark"] for row in rows] == ["W 9", "W 10", "W 11"]
    for row in rows:
        assert holds(row["code"]) and row["shown"] == f"{row['code'][:5]}-{row['code'][5]}" and row["mesh"] == "90/cm"
    listed = made(tickets("screen", "list", "--json"))
    assert [row["code"] for row in listed] == [row["code"] for row in rows]
    assert listed[0]["standing"] == "bare"
    plain = tickets("screen", "list", "--limit", "2").stdout
    assert rows[0]["shown"] in plain and rows[2]["shown"] not in plain and f"--after {rows[1]['shown']}" in plain
    assert [row["code"] for row in made(tickets("screen", "list", "--after", rows[1]["code"], "--json"))] == [
        rows[2]["code"]
    ]
    assert made(tickets("screen", "list", "--stage", "ready", "--json")) == []
    assert len(made(tickets("screen", "list", "--mesh", "230/in", "--json"))) == 3  # 90/cm is 228.6/in: within 3 %
    refused(tickets("screen", "list", "--stage", "lost"), "ready", "to reclaim")


@pytest.mark.parametrize("option", ["--stage", "--standing"])
@pytest.mark.parametrize("typed", ["stripped", "reclaimed", "Reclaimed"])
def test_a_stage_is_taken_as_files_name_it_and_as_pages_do(tickets: Tickets, option: str, typed: str) -> None:
    code = screen(tickets)
    made(tickets("screen", "log", code, "found", "--standing_seen", typed, "--json"))
    listed = tickets("screen", "list", option, typed)
    assert "reclaimed" in listed.stdout and made(tickets("screen", "show", code, "--json"))["standing"] == "stripped"


def test_a_screen_is_shown_with_what_was_computed_and_what_the_maker_says(tickets: Tickets) -> None:
    """Opening of 230/in with 48 um: 25400/230 - 48 = 62.4 um; open area (62.4/110.4)^2 = 32 % (makers' formula)."""
    shown = made(tickets("screen", "show", screen(tickets, "--mark", "A 12"), "--json"))
    mesh = shown["mesh"]
    assert mesh["count_as_labelled"] == "230/in" and mesh["count_per_cm"] == pytest.approx(90.551, abs=0.001)
    assert mesh["opening_um"] == {"value": pytest.approx(62.43, abs=0.01), "computed": True}
    assert mesh["open_area_pct"] == {"value": pytest.approx(31.96, abs=0.02), "computed": True}
    assert (shown["standing"], shown["mark"], shown["tension"], shown["next"]) == ("bare", "A 12", None, "degrease")
    assert [line["step"] for line in shown["log"]] == ["stretch"]
    sheet = made(tickets("screen", "show", screen(tickets, "--opening", "65 um"), "--json"))["mesh"]
    assert sheet["opening_um"]["value"] == 65 and sheet["opening_um"]["computed"] is False
    unknown = made(tickets("screen", "add", "--count", "120/in", "--frame", "roller", "--json"))[0]["code"]
    assert made(tickets("screen", "show", unknown, "--json"))["mesh"]["opening_um"] is None
    assert "A 12" in tickets("screen", "show", "a12").stdout  # painted marks are found too


def test_a_mistyped_code_names_the_one_that_was_meant(tickets: Tickets) -> None:
    code = screen(tickets)
    swapped = code[1] + code[0] + code[2:] if code[0] != code[1] else code[:-1]
    refused(tickets("screen", "show", swapped), f"{code[:5]}-{code[5]}")
    assert made(tickets("screen", "show", f" {code[:3].lower()}-{code[3:].lower()} ", "--json"))["code"] == code
    assert made(tickets("screen", "show", f"{LAN}/t/{code}", "--json"))["code"] == code


def test_logging_says_the_verdict_first(tickets: Tickets) -> None:
    code = screen(tickets)
    done = tickets("screen", "log", code, "tension", "--readings_n_per_cm", "25", "24,5", "--readings_n_per_cm", "24")
    assert done.exit_code == 0 and done.stdout.startswith("OK: ") and "24 N/cm" in done.stdout
    slack = tickets("screen", "log", code, "tension", "--readings_n_per_cm=9")
    assert slack.exit_code == 0 and slack.stdout.startswith("STOP: ")
    shown = made(tickets("screen", "show", code, "--json"))
    assert shown["tension"]["readings_n_per_cm"] == [9]
    assert shown["log"][1]["values"]["readings_n_per_cm"] == [25, 24.5, 24]
    assert shown["due"]
    american = made(tickets("screen", "log", code, "tension", "--readings-n-per-cm", "14 lbf/in", "--json"))
    assert american["verdict"]["level"] == "ok"
    reading = made(tickets("screen", "show", code, "--json"))["tension"]["readings_n_per_cm"]
    assert reading == [pytest.approx(24.52, abs=0.01)]  # 1 lbf/in = 1.7513 N/cm (NIST SP 811)
    refused(tickets("screen", "log", code, "tension", "--readings_n_per_cm", "1e5"), "readings_n_per_cm")
    refused(tickets("screen", "log", code, "tension", "--reading", "25"), "readings_n_per_cm", lines=2)
    refused(tickets("screen", "log", code, "polish"), "tension")


def test_against_the_log_one_question_is_asked(tickets: Tickets, data: Path) -> None:
    code = screen(tickets)
    before = entries(data)
    refused(
        tickets("screen", "log", code, "washout", "--result", "good"),
        "Do you have it in front of you?",
        "--in_hand yes",
    )
    assert entries(data) == before
    done = made(tickets("screen", "log", code, "washout", "--result", "good", "--in_hand", "yes", "--json"))
    assert len(done["entries"]) == 2 and done["standing"] == "to check"
    assert [line["step"] for line in made(tickets("screen", "show", code, "--json"))["log"][:2]] == ["washout", "found"]


def test_a_post_is_done_once(tickets: Tickets, data: Path) -> None:
    code = screen(tickets)
    log = ("screen", "log", code, "note", "--entry", ENTRY)
    first = made(tickets(*log, "--note", "corner nicked", "--json"))
    before = entries(data)
    again = made(tickets(*log, "--note", "corner nicked", "--json"))
    assert (first["again"], again["again"]) == (False, True)
    assert again["entries"] == first["entries"] == [ENTRY] and entries(data) == before
    refused(tickets(*log, "--note", "something else"), "entry")
    refused(tickets("screen", "log", code, "note", "--note", "x", "--entry", "short"), "entry")
    add = ("screen", "add", "--count", "120/in", "--frame", "wood", "--entry", f"{ENTRY}-2", "--json")
    assert made(tickets(*add)) == made(tickets(*add))
    check = tickets("check")
    assert check.exit_code == 0


def test_who_acts_and_when(tickets: Tickets) -> None:
    code = screen(tickets, "--at", "2026-03-01T08:00Z")
    add = ("person", "add", "Ada Holm", "--role", "screen room", "--secret-stdin")
    assert tickets(*add, stdin="471159\n").exit_code == 0
    made(tickets("screen", "log", code, "degrease", "--by", "ada holm", "--at", "2026-03-09T14:05+01:00", "--json"))
    line = next(one for one in made(tickets("screen", "show", code, "--json"))["log"] if one["step"] == "degrease")
    assert line["person"] == "Ada Holm" and line["signed"] == "command line"
    assert line["at"].startswith("2026-03-09T13:05")
    refused(tickets("screen", "log", code, "coat", "--by", "Nobody"), "Ada Holm")
    refused(tickets("screen", "log", code, "coat", "--at", "2999-01-01T00:00"), "at")
    refused(tickets("address", LAN, "--by", "Ada Holm"), "manager")
    refused(tickets("person", "add", "Bo Lind", "--role", "press", "--secret-stdin", "--by", "Ada Holm"), "manager")
    sheet = str(SAMPLES / "night-run.toml")
    refused(tickets("job", "add", sheet, "--by", "Ada Holm"), "A press lead or a manager enters")
    (one,) = made(tickets("job", "add", sheet, "--json"))
    refused(tickets("job", "change", one["code"], sheet, "--by", "Ada Holm"), "A press lead or a manager enters")


def test_the_field_by_of_a_stretch_is_told_from_the_person(tickets: Tickets) -> None:
    code = screen(tickets)
    command = ("screen", "log", code, "stretch", "--mesh_count_as_labelled", "120/in", "--by", "supplier")
    made(tickets(*command, "--by", "command line", "--json"))
    mesh = made(tickets("screen", "show", code, "--json"))["mesh"]
    assert (mesh["count_as_labelled"], mesh["by"]) == ("120/in", "supplier")


def test_crossing_out(tickets: Tickets) -> None:
    code = screen(tickets)
    (wrong,) = made(tickets("screen", "log", code, "degrease", "--json"))["entries"]
    refused(tickets("screen", "log", code, "cross-out", "--entry", wrong), "why")
    made(tickets("screen", "log", code, "cross-out", "--entry", wrong, "--why", "another frame", "--json"))
    shown = made(tickets("screen", "show", code, "--json"))
    assert shown["standing"] == "bare"
    assert next(line for line in shown["log"] if line["entry"] == wrong)["crossed_out_by"]


# -- jobs, runs


def test_jobs_are_checked_entered_changed_and_shown(tickets: Tickets, tmp_path: Path, data: Path) -> None:
    files = sorted(SAMPLES.glob("*.toml"))
    checked = made(tickets("job", "check", *files, "--json"))
    assert len(checked) == len(files) and any(each["remarks"] for each in checked)
    assert not store.exists(data)
    assert tickets("job", "check", *files).exit_code == 0  # remarks only
    rows = made(tickets("job", "add", *files, "--json"))
    assert [set(row) for row in rows] == [{"code", "shown", "title", "reference"}] * len(files)
    assert {row["code"] for row in made(tickets("job", "list", "--json"))} == {row["code"] for row in rows}

    code = next(row["code"] for row, file in zip(rows, files, strict=True) if file.stem == "harbour-lights")
    shown = made(tickets("job", "show", code, "--json"))
    stations = shown["placements"][0]["stations"]
    numbers = [station["separation"] for station in stations if station["does"] == "print"]
    assert numbers and all(isinstance(number, int) for number in numbers) and len(set(numbers)) == len(numbers)
    assert all("separation" not in station for station in stations if station["does"] != "print")
    frame = screen(tickets)
    for step in (("degrease",), ("coat",), ("image", "--separations", str(numbers[0]))):
        made(tickets("screen", "log", frame, *step, "--json"))
    first = made(tickets("job", "show", code, "--json"))["placements"][0]["stations"][0]
    assert [one["code"] for one in first["screens"]] == [frame]
    assert made(tickets("screen", "show", frame, "--json"))["separations"][0]["separation"] == numbers[0]
    assert [row["code"] for row in made(tickets("screen", "list", "--job", code, "--json"))] == [frame]

    toml = tmp_path / "changed.toml"
    toml.write_text(
        tickets("job", "show", code, "--toml").stdout.replace('picture = "harbour-lights.png"\n', ""), encoding="utf-8"
    )
    assert made(tickets("job", "change", code, toml, "--json"))["version"] == 2


def test_faults_of_several_files_are_said_together_and_nothing_is_entered(tickets: Tickets, data: Path) -> None:
    broken = sorted((SAMPLES / "broken").glob("*.toml"))[:3]
    good = SAMPLES / "night-run.toml"
    for command in ("check", "add"):
        result = tickets("job", command, good, *broken)
        assert result.exit_code == 2
        for file in broken:
            assert any(line.startswith(file.name) for line in result.stderr.splitlines()), file.name
    assert not store.exists(data)
    refused(tickets("job", "add", "no-such-file.toml"), "no-such-file.toml")


def _uncured(tickets: Tickets, run: Any) -> None:
    """A sheet of a garment that comes out under the cure of its ink: the command says so as the page does, and its
    exit status too; the same put right is fine."""
    for as_json in ([], ["--json"]):
        cold = tickets("run", "log", run, "sheet", "--run.garment_peak", "60 C", "--run.hold", "5 s", *as_json)
        assert cold.exit_code == 1 and "STOP" in cold.stderr and "not cured" in cold.stderr
    shown = json.loads(cold.stdout)
    assert shown["verdict"]["level"] == "stop" and shown["entries"]
    assert "under-cure" in {one["key"] for one in shown["verdict"]["reasons"]}
    (noted,) = [one for one in made(tickets("run", "show", run, "--json"))["log"] if one["entry"] in shown["entries"]]
    assert noted["verdict"] is None  # nothing was judged good with it
    warm = made(tickets("run", "log", run, "sheet", "--run.garment_peak", "160 C", "--run.hold", "120 s", "--json"))
    assert warm["verdict"]["level"] == "ok"


def test_a_run_from_a_script(tickets: Tickets, tmp_path: Path) -> None:
    (job,) = made(tickets("job", "add", SAMPLES / "taverna-tote.toml", "--json"))
    press = made(tickets("place", "add", "Carousel", "--kind", "press", "--heads", "6", "--json"))[0]
    assert press["heads"] == 6
    run = made(tickets("run", "open", "--job", job["code"], "--placement", "1", "--press", "carousel", "--json"))["run"]
    wrong = screen(tickets)
    stopped = tickets("run", "log", run, "hang", "--screen", wrong)
    assert stopped.exit_code == 2 and stopped.stderr.startswith("STOP: ") and "--override" in stopped.stderr
    shown = made(tickets("run", "show", run, "--json"))
    assert shown["state"] == "set-up" and shown["missing"] and shown["hung"] == {}
    for number, missing in enumerate(shown["missing"], 1):
        frame = screen(tickets)
        separation = str(missing["separation"])
        seen = ("--standing_seen", "ready", "--separations_seen", separation)
        made(tickets("screen", "log", frame, "found", *seen, "--json"))
        hang = ("--screen", frame, "--station", missing["station"], "--head", number, "--override", "seen by me")
        hung = made(tickets("run", "log", run, "hang", *hang, "--json"))
        assert hung["verdict"]["level"] != "ok"
    assert made(tickets("run", "show", run, "--json"))["missing"] == []
    refused(tickets("run", "log", run, "sheet", "--s1.bogus", "7"), "off_contact")
    approve = ("--approved_by", "Cy Marsh", "--approved_as", "press")
    made(tickets("run", "log", run, "sheet", "--s1.off-contact", "2 mm", "--json"))
    _uncured(tickets, run)
    paper = tmp_path / "sheet.pdf"
    assert made(tickets("print", "run", run, "--out", paper, "--anyway", "--json"))["printed"]
    document = pypdfium2.PdfDocument(paper)
    assert "2 mm" in document[0].get_textpage().get_text_range()
    document.close()
    refused(tickets("print", "run", run, "--what", "comparison", "--anyway", "--out", paper), "No earlier approved run")
    refused(tickets("print", "run", run, "--what", "customer", "--out", paper), "is not approved yet")
    ended = ("finish", "--then", "keep", "--anyway")  # far fewer than were ordered
    for step in (("approve", *approve), ("start",), ("count", "--good", "40"), ended):
        made(tickets("run", "log", run, *step, "--json"))
    assert made(tickets("run", "list", "--json")) == []
    over = made(tickets("run", "show", run, "--json"))
    assert over["settings"]["1"]["off_contact"] == "2 mm"
    hung = [line["screen"] for line in over["log"] if line["step"] == "hang"]
    assert over["missing"] == [] and over["hung"] == {}
    (sheet,) = made(tickets("job", "show", job["code"], "--json"))["placements"]
    strokes = next(one.get("strokes", 1) for one in sheet["stations"] if one["does"] == "print")
    assert [(one["screen"], one["impressions"]) for one in over["used"]] == [(hung[0], 40 * strokes)]
    said = tickets("run", "show", run).stdout
    assert "no screen yet" not in said and f"impressions {40 * strokes}, keep" in said
    (done,) = made(tickets("run", "list", "--job", job["code"], "--json"))
    assert (done["state"], done["good"]) == ("finished", 40)
    assert tickets("check").stdout == "sound\n"


def test_buckets(tickets: Tickets) -> None:
    add = ("bucket", "add", "--kind", "diazo emulsion", "--product", "Tern 20", "--lot", "7", "--json")
    (bucket,) = made(tickets(*add, "--water_resistant", "yes", "--good_until", "2999-01-01"))
    assert (bucket["water_resistant"], bucket["good_until"][:10]) == ("yes", "2999-01-01")
    assert made(tickets("bucket", "log", bucket["code"], "discard", "--why", "skin on it", "--json"))["entries"]
    assert made(tickets("bucket", "list", "--json")) == []
    assert [one["code"] for one in made(tickets("bucket", "list", "--all", "--json"))] == [bucket["code"]]
    assert [line["step"] for line in made(tickets("bucket", "show", bucket["code"], "--json"))["log"]] == [
        "discard",
        "mix",
    ]
    refused(tickets("bucket", "add", "--kind", "soup"), "diazo emulsion")


# -- paper


def qr_codes(pdf: Path) -> set[str]:
    document = pypdfium2.PdfDocument(pdf)
    try:
        images = [page.render(scale=200 / 72).to_pil() for page in document]
    finally:
        document.close()
    return {found.text for image in images for found in zxingcpp.read_barcodes(image)}


def test_printing(tickets: Tickets, tmp_path: Path) -> None:
    codes = [screen(tickets), made(tickets("place", "add", "Rack 3", "--kind", "rack", "--json"))[0]["code"]]
    out = tmp_path / "tags.pdf"
    refused(tickets("print", "tags", *codes, "--out", out), "tickets address")
    assert not list(tmp_path.glob("tags*"))
    made(tickets("address", LAN + "/", "--json"))
    printed = made(tickets("print", "tags", *codes, "--out", out, "--sheet", "A4", "--json"))
    assert printed["warnings"] == [] and len(printed["printed"]) == 2
    assert qr_codes(out) == {f"{LAN}/t/{code}" for code in codes}
    (job,) = made(tickets("job", "add", SAMPLES / "quiet-mooring.toml", "--json"))
    ticket = tmp_path / "job.pdf"
    made(tickets("print", "job", job["code"], "--out", ticket, "--paper", "Letter", "--json"))
    assert qr_codes(ticket) == {f"{LAN}/t/{job['code']}"}
    bucket = made(tickets("bucket", "add", "--kind", "discharge ink", "--json"))[0]["code"]
    assert tickets("print", "bucket", bucket, "--out", tmp_path / "bucket.pdf").exit_code == 0
    assert tickets("print", "place", "rack 3", "--out", tmp_path / "place.pdf").exit_code == 0
    assert qr_codes(tmp_path / "bucket.pdf") == {f"{LAN}/t/{bucket}"}
    assert tickets("print", "again", job["code"], "--out", tmp_path / "again.pdf").exit_code == 0
    assert (tmp_path / "again.pdf").read_bytes() == ticket.read_bytes()
    refused(tickets("print", "tags", codes[0], "--out", tmp_path / "no" / "t.pdf"), "t.pdf cannot be written")
    refused(tickets("print", "place", codes[0], "--out", tmp_path / "x.pdf"), "not a place")

    moved = tickets("address", "http://192.168.44.99:8600")
    assert moved.exit_code == 0 and "not one of this machine" in moved.stderr
    behind = made(tickets("print", "outdated", "--json"))
    assert {one["code"] for one in behind["left_behind"]} == {*codes, bucket, job["code"]}
    refused(tickets("address", "http://" + "a" * 60), "too long")
    refused(tickets("address", "shop"), "http://")


# -- people, settings, the shop as a whole


def test_people(tickets: Tickets) -> None:
    refused(tickets("person", "add", "Ada", "--role", "boss", "--secret-stdin", stdin="471159\n"), "--role")
    refused(tickets("person", "add", "Ada", "--role", "press", "--secret-stdin", stdin="123456\n"), "PIN")
    asked = tickets("person", "add", "Ada", "--role", "press", stdin="471159\n471159\n")
    assert asked.exit_code == 0 and "471159" not in asked.output
    assert asked.output.index("A PIN of 6 to 8 digits is needed") < asked.output.index("PIN:")
    refused(tickets("person", "add", "ada", "--role", "press", "--secret-stdin", stdin="471159\n"), "on the list")
    # a script at the machine may hand over a shorter one, as scripts did before there were six digits; nobody else
    short = tickets("person", "add", "Bo", "--role", "press", "--secret-stdin", stdin="4711\n")
    assert short.exit_code == 0 and "PINs of this shop have 6 digits or more" in short.stderr
    refused(tickets("person", "add", "Cy", "--role", "press", stdin="4711\n4711\n"), "A PIN of 6 to 8 digits")
    refused(tickets("person", "add", "Cy", "--role", "press", "--secret-stdin", stdin="1234\n"), "PIN")
    # no secret is asked for what would be refused whatever it is
    for wrong in (("Cy", "--role", "chef"), ("ada", "--role", "press"), ("Cy\nB", "--role", "press")):
        assert "PIN" not in refused(tickets("person", "add", *wrong, stdin="471159\n471159\n"))
    press = [{"name": name, "role": "press"} for name in ("Ada", "Bo")]
    assert made(tickets("person", "list", "--json")) == press


def test_settings(tickets: Tickets) -> None:
    assert made(tickets("settings", "set", "shop", "Gull & Anchor", "--json")) == {"shop": "Gull & Anchor"}
    made(tickets("settings", "set", "zone", "Europe/Warsaw", "--json"))
    made(tickets("settings", "set", "steps", "image, check, hang", "--json"))
    found = made(tickets("settings", "show", "--json"))
    assert (found["zone"], found["steps"]) == ("Europe/Warsaw", ["stretch", "image", "check", "hang", "print", "pull"])
    assert "first_manager" not in found
    for name, value in (
        ("zone", "Mars"),
        ("units", "old"),
        ("steps", "polish"),
        ("shift_hours", "soon"),
        ("demo", "true"),
        ("address", LAN),
        ("nothing", "1"),
        ("presets", "{"),
    ):
        refused(tickets("settings", "set", name, value))
    assert made(tickets("settings", "show", "--json")) == found


def test_the_spec_names_its_sources(tickets: Tickets) -> None:
    screen(tickets)
    rows = made(tickets("spec", "list", "--json"))
    assert rows and all(row["source"] for row in rows)


def test_export_check_and_rebuild(tickets: Tickets, data: Path, tmp_path: Path) -> None:
    code = screen(tickets)
    made(tickets("screen", "log", code, "note", "--note", '=HYPERLINK("x")', "--json"))
    assert made(tickets("export", "--out", tmp_path / "out", "--json"))["entries"] == 2
    with (tmp_path / "out" / "entries.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    lines = [json.loads(line) for line in (tmp_path / "out" / "entries.jsonl").read_text("utf-8").splitlines()]
    assert [row["entry"] for row in rows] == [line["entry"] for line in lines]
    assert {row["screen"] for row in rows} == {code}
    db = sqlite3.connect(data / "shop.db")
    db.execute("UPDATE standings SET standing = 'ready'")
    db.commit()
    db.close()
    unsound = tickets("check")
    assert unsound.exit_code == 2 and "its stage is not" in unsound.stderr and unsound.stdout == ""
    assert tickets("rebuild").exit_code == 0
    assert tickets("check").stdout == "sound\n"


def test_backup_and_restore(tickets: Tickets, data: Path, tmp_path: Path) -> None:
    code = screen(tickets)
    tickets("person", "add", "Ada Holm", "--role", "press", "--secret-stdin", stdin="471159\n")
    made(tickets("job", "add", SAMPLES / "harbour-lights.toml", "--json"))  # with its picture
    pictures = {file.relative_to(data).as_posix(): file.read_bytes() for file in data.glob("pictures/*/*")}
    assert len(pictures) == 2  # a small one beside it
    db = store.connect(data)
    people_acts.sign_in(db, "Ada Holm", "471159", clock())
    assert db["sign_ins"].count == 1
    db.close()
    file = tmp_path / "shop.zip"
    assert made(tickets("backup", file, "--json"))["pictures"] == 2
    with zipfile.ZipFile(file) as archive:
        assert sorted(archive.namelist()) == sorted([*pictures, "about.json", "shop.db"])
    assert tickets("backup", file, "--force", "--with-secrets").exit_code == 0  # an older backup gives way

    refused(tickets("restore", file), "not empty")
    other = tmp_path / "other"
    assert tickets("restore", file, "--data", other).exit_code == 0
    assert made(tickets("screen", "list", "--data", other, "--json"))[0]["code"] == code
    assert all((other / name).read_bytes() == body for name, body in pictures.items())
    assert tickets("check", "--data", other).stdout == "sound\n"
    db = store.connect(other)
    assert db["sign_ins"].count == 0 and people.find(db, "Ada Holm").secret
    db.close()

    (tmp_path / "mine.txt").write_text("mine")
    refused(tickets("backup", tmp_path / "mine.txt"), "is not a backup")
    assert (tmp_path / "mine.txt").read_text() == "mine"
    refused(tickets("restore", tmp_path / "mine.txt", "--data", tmp_path / "new"), "is not a backup")
    refused(tickets("restore", tmp_path / "none.zip", "--data", tmp_path / "new"), "no file")
    for name in ("../evil", "pictures/../evil", "/evil", "pictures/a/b"):
        bad = tmp_path / "bad.zip"
        with zipfile.ZipFile(bad, "w") as archive, zipfile.ZipFile(file) as whole:
            archive.writestr("shop.db", whole.read("shop.db"))
            archive.writestr(name, b"x")
        refused(tickets("restore", bad, "--data", tmp_path / "new"), "no backup holds")
        assert not (tmp_path / "new").exists() and not (tmp_path / "evil").exists()
    spoiled = bytearray(file.read_bytes())
    spoiled[len(spoiled) // 3 : len(spoiled) // 3 + 40] = bytes(40)
    (tmp_path / "spoiled.zip").write_bytes(spoiled)
    refused(tickets("restore", tmp_path / "spoiled.zip", "--data", tmp_path / "new"), "damaged")
    assert not (tmp_path / "new").exists()


def test_the_demo_goes_nowhere_near_a_real_shop(tickets: Tickets, data: Path, tmp_path: Path) -> None:
    code = screen(tickets)
    refused(tickets("demo", "--port", "0"), "not a demo shop")
    assert made(tickets("screen", "list", "--json"))[0]["code"] == code
    other = tmp_path / "letters"
    other.mkdir()
    (other / "letter.txt").write_text("mine")
    refused(tickets("demo", "--port", "0", "--data", other), "not a demo shop")
    assert [file.name for file in other.iterdir()] == ["letter.txt"]


def test_an_id_that_was_used_for_something_else_is_said_and_nothing_is_written(tickets: Tickets, data: Path) -> None:
    code = screen(tickets)
    made(tickets("screen", "log", code, "note", "--note", "one", "--entry", ENTRY, "--json"))
    before = entries(data)
    refused(tickets("screen", "log", code, "note", "--note", "two", "--entry", ENTRY), "saved already", "--entry")
    assert entries(data) == before


# -- one reply, printed in one place


def test_every_command_replies_through_one_decorator_and_none_prints_by_itself() -> None:
    """What is printed, the exit status and --json are set in `tickets/cli/reply.py`; serving alone says what it does
    while it does it."""
    folder = Path(cli.__file__).parent
    for path in folder.glob("*.py"):
        calls = [node for node in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(node, ast.Call)]
        names = {node.func.attr for node in calls if isinstance(node.func, ast.Attribute)}
        if path.name not in {"reply.py", "refused.py", "output.py", "serve.py", "__init__.py"}:
            assert not names & {"echo", "secho", "exit", "print_json"}, path.name

    def leaves(group: Any) -> list[Any]:
        found = [group.get_command(None, name) for name in group.list_commands(None)]
        return [leaf for one in found for leaf in (leaves(one) if hasattr(one, "list_commands") else [one])]

    assert all(isinstance(one, spoken.Spoken) for one in leaves(cli.root))


def test_a_reply_sets_lines_data_warnings_and_exit_status() -> None:
    @click.group()
    def group() -> None: ...

    @reply.command(group, "did", "x")
    def did(call: Call) -> reply.Reply:
        return reply.Reply(lambda: {"n": 1}, ["one"], warnings=["mind"], findings=["not sound"])

    @reply.command(group, "quiet", "x", json=False)
    def quiet(call: Call) -> None:
        return None

    told = CliRunner().invoke(group, ["did"])
    assert (told.stdout, told.stderr, told.exit_code) == ("one\n", "mind\nnot sound\n", 1)
    data = CliRunner().invoke(group, ["did", "--json"])
    assert (json.loads(data.stdout), data.stderr, data.exit_code) == ({"n": 1}, "not sound\n", 1)
    assert CliRunner().invoke(group, ["quiet"]).output == ""
    assert CliRunner().invoke(group, ["quiet", "--json"]).exit_code == 2


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("presets", '[{"name": "1+1", "print_side": -5, "squeegee_side": 1}]'),
        ("presets", '[{"name": "1+1", "print_side": 1, "squeegee_side": 40}]'),
        ("presets", json.dumps([{"name": "1+1", "print_side": 1, "squeegee_side": 1}] * 2)),
        ("presets", "[]"),
        ("shop", " "),
        ("units", "old"),
    ],
)  # fmt: skip
def test_a_setting_that_its_page_refuses_is_refused_by_command(tickets: Tickets, name: str, value: str) -> None:
    made(tickets("settings", "set", "shop", "Gull & Anchor", "--json"))
    before = made(tickets("settings", "show", "--json"))
    refused(tickets("settings", "set", name, value))
    assert made(tickets("settings", "show", "--json")) == before


def test_presets_by_command_are_kept_as_their_page_keeps_them(tickets: Tickets) -> None:
    typed = '[{"name": " 1+1  round edge ", "print_side": 1, "squeegee_side": 2}]'
    kept = [{"name": "1+1 round edge", "print_side": 1, "squeegee_side": 2}]
    assert made(tickets("settings", "set", "presets", typed, "--json")) == {"presets": kept}
