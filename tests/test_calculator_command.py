"""`tickets calc` as a command: its shape, and what it refuses."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from shop import as_installed

from tickets.actions import shop as shop_acts
from tickets.calculator.catalogue import CATALOGUE, compute
from tickets.cli.calc import group
from tickets.domain.spec import Row

# The names and results that other programs rely on.
RESULTS = {
    "mesh": {"opening", "open_area", "ink_volume", "count_per_cm", "count_per_inch"},
    "halftone": {"ratio", "smallest_dot", "smallest_tone"},
    "stencil": {"build", "build_ratio"},
    "step": {"time", "factor"},
    "filter-film": {"time"},
    "distance": {"time"},
    "dose": {"dose", "time"},
    "tension": {"mean", "spread", "worst_from_centre", "minimum"},
    "tension-loss": {"start", "loss_per_log_use", "uses_to_floor"},
    "belt": {"length", "dwell", "speed", "pieces_per_hour"},
    "probe": {"peak", "time_above_cure", "time_above_bleed", "slowest_speed", "fastest_speed"},
    "ink": {"per_print", "job", "volume"},
    "colour": {"delta_e_2000"},
    "lifetime": {"median", "survival", "mean_to_last"},
}
OPTIONS = {
    "mesh": ["--count", "225/in", "--thread", "40 um", "--thickness", "59 um"],
    "halftone": ["--ruling", "65 /in", "--count", "230/in", "--thread", "48 um", "--angle", "22.5 deg"],
    "stencil": ["--coated", "138 um", "--fabric", "115 um"],
    "step": ["--time", "60 s", "--held", "5", "--wanted", "7"],
    "filter-film": ["--time", "8 min", "--factor", "0.6"],
    "distance": ["--time", "5 min", "--was", "2 ft", "--now", "4 ft", "--diagonal", "0.5 m"],
    "dose": ["--irradiance", "8 mW/cm2", "--time", "10 s"],
    "tension": ["--readings", "25 24.5 24 25.5 24", "--unit", "N/cm", "--count", "230/in", "--frame", "aluminium"],
    "tension-loss": ["--file", "readings.csv", "--floor", "18 N/cm"],
    "belt": ["--length", "8 ft", "--dwell", "60 s", "--inside", "6"],
    "probe": ["--file", "probe.csv", "--cure", "160 degC", "--hold", "60 s", "--bleed", "132 degC", "--length", "3 m",
              "--speed", "1.5 m/min"],
    "ink": ["--area", "774.2 cm2", "--coverage", "50 %", "--film", "35 cm3/m2", "--density", "1.2 g/cm3",
            "--pieces", "500"],
    "colour": ["--approved", "50 2.5 0", "--print", "50 3.1 0.5"],
    "lifetime": ["--file", "lives.csv"],
}  # fmt: skip


def call(arguments: list[str]) -> Result:
    return CliRunner().invoke(group, arguments)


@pytest.fixture
def files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "readings.csv").write_text("uses,n_per_cm\n0,25\n3,23.1\n8,22.4\n15,21.2\n", encoding="utf-8")
    (tmp_path / "probe.csv").write_text(
        "s,c\n0,25\n20,100\n40,140\n60,160\n80,170\n100,174\n120,176\n", encoding="utf-8"
    )
    (tmp_path / "lives.csv").write_text("uses,ended\n5,1\n8,0\n9,1\n12,0\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("name", sorted(RESULTS))
def test_each_calculation_answers_in_its_shape(name: str, files: Path) -> None:
    ran = CliRunner().invoke(group, [name, *OPTIONS[name], "--json"], catch_exceptions=False)
    assert ran.exit_code == 0, ran.output
    answer = json.loads(ran.output)
    assert list(answer) == ["calculation", "inputs", "results", "verdict", "basis"]
    assert answer["calculation"] == name
    assert RESULTS[name] <= set(answer["results"])
    assert all(set(value) == {"value", "unit"} for value in answer["results"].values())
    assert answer["basis"]["formula"] and answer["basis"]["source"]
    if answer["verdict"] is not None:
        assert set(answer["verdict"]) == {"level", "reasons"}
        assert answer["basis"]["spec"] == "the shipped limits"


@pytest.mark.parametrize("name", sorted(RESULTS))
def test_each_calculation_reads_well(name: str, files: Path) -> None:
    for more in ([], ["--us"]):
        ran = CliRunner().invoke(group, [name, *OPTIONS[name], *more], catch_exceptions=False)
        assert ran.exit_code == 0, ran.output
        assert "Formula: " in ran.output and "Source: " in ran.output
        assert "{" not in ran.output


@pytest.mark.parametrize(("best", "key"), [("clearest", "film-longer"), ("darkest", "film-shorter"), ("inside", None)])
def test_a_best_column_at_an_end_of_the_film_is_only_a_bound(best: str, key: str | None) -> None:
    ran = CliRunner().invoke(group, ["filter-film", *OPTIONS["filter-film"], "--best", best, "--json"])
    answer = json.loads(ran.output)
    assert answer["results"]["time"] == {"value": 288, "unit": "s"}
    assert (answer["verdict"] or {}).get("level") == (key and "unknown")
    assert [one["key"] for one in (answer["verdict"] or {"reasons": []})["reasons"]] == ([key] if key else [])


def test_the_former_name_of_a_calculation_is_still_taken() -> None:
    ran = CliRunner().invoke(group, ["factor-strip", *OPTIONS["filter-film"], "--json"])
    assert json.loads(ran.output)["calculation"] == "filter-film"


def test_there_is_nothing_but_these() -> None:
    assert set(CATALOGUE) == set(RESULTS) == set(group.commands)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["mesh", "--count", "225", "--thread", "40 um"], "--count"),
        (["mesh", "--count", "225/in", "--thread", "40"], "--thread"),
        (["mesh", "--count", "225/in", "--thread", "40 kg"], "um"),
        (["mesh", "--count", "225/in"], "--thread"),
        (["mesh", "--count", "225/in", "--thread", "200 um"], "no opening"),
        (["mesh", "--count", "0/in", "--thread", "40 um"], "more than nothing"),
        (["mesh", "--count", "nan/in", "--thread", "40 um"], "--count"),
        (["mesh", "--count", "2e2/in", "--thread", "40 um"], "--count"),
        (["mesh", "--size", "3"], "--size"),
        (["washing"], "washing"),
        (["step", "--time", "60 s", "--held", "5 s", "--wanted", "7"], "--held"),
        (["step", "--time", "60 s", "--held", "0", "--wanted", "7"], "1 to 21"),
        (["step", "--time", "60 s", "--held", "5", "--wanted", "22"], "1 to 21"),
        (["step", "--time", "0 s", "--held", "5", "--wanted", "7"], "more than nothing"),
        (["filter-film", "--time", "8 min", "--factor", "0"], "column"),
        (["distance", "--time", "5 min", "--was", "2 ft", "--now", "4 ft", "--lamp", "led"], "point lamps only"),
        (["distance", "--time", "5 min", "--was", "0 ft", "--now", "4 ft"], "more than nothing"),
        (["dose", "--time", "5 min"], "irradiance"),
        (["dose", "--dose", "5 mJ/cm2", "--irradiance", "0 mW/cm2"], "light"),
        (["tension", "--readings", "25 24", "--work", "colours"], "--unit"),
        (["tension", "--readings", "25 24", "--unit", "N"], "N/cm"),
        (["tension", "--readings", "1 2 3 4 5 6 7 8 9 10", "--unit", "N/cm"], "1 to 9"),
        (["tension", "--readings", "25", "--unit", "N/cm", "--frame", "steel"], "wood"),
        (["belt", "--length", "8 ft"], "two of"),
        (["belt", "--length", "8 ft", "--dwell", "60 s", "--speed", "2 m/min"], "two of"),
        (["belt", "--length", "8 ft", "--dwell", "0 s"], "more than nothing"),
        (["ink", *OPTIONS["ink"][:2], "--coverage", "150 %", *OPTIONS["ink"][4:]], "100 %"),
        (["ink", *OPTIONS["ink"], "--strokes", "1.5"], "whole"),
        (["colour", "--approved", "50 2.5", "--print", "50 3 1"], "Three numbers"),
        (["colour", "--approved", "150 2.5 1", "--print", "50 3 1"], "L*"),
        (["lifetime", "--file", "not-there.csv"], "not-there.csv"),
        (["stencil", "--coated", "100 um", "--fabric", "115 um"], "thinner"),
    ],
)
def test_bad_input_is_one_clear_line_and_status_two(arguments: list[str], said: str) -> None:
    ran = CliRunner().invoke(group, arguments)
    assert ran.exit_code == 2, ran.output
    assert ran.stdout == ""
    assert said in ran.stderr
    assert "Traceback" not in ran.stderr and "Usage" not in ran.stderr


def test_all_that_is_wrong_is_told_together() -> None:
    ran = CliRunner().invoke(group, ["mesh", "--count", "225", "--thread", "nan um", "--thickness", "5 s"])
    assert [line.split(":")[0] for line in ran.stderr.splitlines()] == ["--count", "--thread", "--thickness"]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("", "empty"),
        ("uses,n_per_cm\n", "empty"),
        ("uses,tension\n1,2\n", "uses, n_per_cm"),
        ("uses,n_per_cm\n1,25,5\n", "Line 2"),
        ("uses,n_per_cm\n0,25\n1,nan\n", "Line 3"),
        ("uses,n_per_cm\n0,25\n1,\n", "Line 3"),
        ("uses,n_per_cm\n0,25\n-1,24\n2,23\n", "below zero"),
        ("uses,n_per_cm\n5,25\n5,24\n5,23\n", "same number of uses"),
    ],
)
def test_a_faulty_table_names_its_line(content: str, said: str, tmp_path: Path) -> None:
    path = tmp_path / "readings.csv"
    path.write_text(content, encoding="utf-8")
    ran = CliRunner().invoke(group, ["tension-loss", "--file", str(path), "--floor", "18 N/cm"])
    assert (ran.exit_code, ran.stdout) == (2, "")
    assert said in ran.stderr


def test_a_file_that_is_no_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "readings.csv"
    path.write_bytes(b"\xff\xfe\x00\x81")
    ran = CliRunner().invoke(group, ["lifetime", "--file", str(path)])
    assert ran.exit_code == 2 and "not a text file" in ran.stderr


def test_semicolons_part_where_the_comma_is_the_decimal_mark(tmp_path: Path) -> None:
    path = tmp_path / "readings.csv"
    path.write_text("\ufeffUses;N_per_cm\r\n0;25,5\r\n3;23,1\r\n\r\n8;22,4\r\n", encoding="utf-8")
    ran = CliRunner().invoke(group, ["tension-loss", "--file", str(path), "--floor", "18 N/cm", "--json"])
    assert ran.exit_code == 0, ran.stderr
    assert json.loads(ran.stdout)["inputs"]["file"]["value"] == [[0, 25.5], [3, 23.1], [8, 22.4]]


def test_a_decimal_comma_is_never_a_tenfold_slip() -> None:
    ran = CliRunner().invoke(group, ["tension", "--readings", "25,5 24", "--unit", "N/cm", "--json"])
    assert json.loads(ran.stdout)["inputs"]["readings"]["value"] == [25.5, 24.0]


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A shop whose floor for several colours is 24.5 N/cm, by a row of its own."""
    now = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
    db = shop_acts.open_shop(tmp_path, now)
    actor = shop_acts.command_line(db, now)
    shop_acts.set_up(db, actor, "shop", "Invented Prints", now=now)
    for key, value in (("tension-watch", 26.0), ("tension-floor", 24.5)):  # a floor above its caution is refused
        row = Row(0, key, value, "N/cm", {"work": "colours"}, "a test of ours")
        shop_acts.add_spec_row(db, actor, row, now=now)
    db.close()
    return tmp_path


def test_a_shops_own_spec_judges_and_says_so(shop: Path, tmp_path: Path) -> None:
    for arguments, environment in ((["--data", str(shop)], {}), ([], {"TICKETS_DATA": str(shop)})):
        ran = CliRunner(env=environment).invoke(group, ["tension", *OPTIONS["tension"], *arguments, "--json"])
        assert ran.exit_code == 0, ran.stderr
        answer = json.loads(ran.stdout)
        assert answer["verdict"]["level"] == "stop"
        assert answer["verdict"]["reasons"][0]["key"] == "tension-under-floor"
        assert answer["verdict"]["reasons"][0]["spec"]
        assert answer["basis"]["spec"] == "the limits of Invented Prints"
        assert "a test of ours" in [limit["source"] for limit in answer["basis"]["limits"]]
        rows = {limit["row"]: limit["key"] for limit in answer["basis"]["limits"]}
        for reason in answer["verdict"]["reasons"]:
            assert {rows[row] for row in reason["spec"]} <= {"tension-floor", "tension-floor-halftone"}, reason


def test_where_there_is_no_shop_the_shipped_spec_judges(tmp_path: Path) -> None:
    ran = CliRunner().invoke(group, ["tension", *OPTIONS["tension"], "--data", str(tmp_path / "none"), "--json"])
    assert json.loads(ran.stdout)["basis"]["spec"] == "the shipped limits"
    assert not (tmp_path / "none").exists()


def test_a_shop_file_that_is_none_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "shop.db").write_bytes(b"this is no database at all" * 100)
    ran = CliRunner().invoke(group, ["tension", *OPTIONS["tension"], "--data", str(tmp_path)])
    assert (ran.exit_code, ran.stdout, len(ran.stderr.splitlines())) == (2, "", 1)


def test_it_runs_as_a_process_without_a_traceback() -> None:
    ran = subprocess.run(
        [sys.executable, "-m", "tickets.cli", "calc", "mesh", "--count", "225", "--thread", "40 um"],
        capture_output=True, text=True, encoding="utf-8", check=False, env=as_installed(),
    )  # fmt: skip
    assert (ran.returncode, ran.stdout, len(ran.stderr.splitlines())) == (2, "", 1)


def test_results_are_said_in_the_units_that_were_typed() -> None:
    """8 ft at 8 ft/min take a minute; with feet and a time the speed is in ft/min too; JSON stays in our units."""
    said = call(["belt", "--length", "8 ft", "--speed", "8 ft/min"]).output.split("Formula")[0]
    assert re.findall(r"Belt speed +(.+)", said) == ["8\u00a0ft/min"] and "m/min" not in said.replace("ft/min", "")
    assert len(re.findall(r"Heated length +8\u00a0ft", said)) == 2
    assert "8\u00a0ft/min" in call(["belt", "--length", "8 ft", "--dwell", "60 s"]).output
    assert "2.44\u00a0m/min" in call(["belt", "--length", "2.44 m", "--dwell", "60 s"]).output
    assert re.search("Opening +72.9\u00a0µm", call(["mesh", "--count", "225/in", "--thread", "0.04 mm"]).output)
    both = {"area": "120 in2", "coverage": "50 %", "film": "35 cm3/m2", "density": "10 lb/gal", "pieces": "5"}
    both["side"] = "58 cm"
    assert [compute("ink", both).leaning(habit) for habit in ("us", "metric")] == ["us", "metric"]
    as_data = json.loads(call(["belt", "--length", "8 ft", "--speed", "8 ft/min", "--json"]).output)
    assert as_data["results"]["speed"]["unit"] == "m/min"


def test_each_limit_that_decided_is_said_once() -> None:
    """On a frame that nobody named the tightest decides: a roller's 26 N/cm for 230/in, not three rows of one name."""
    for more in ([], ["--frame", "wood"]):
        asked = ["tension", "--readings", "25 24", "--unit", "N/cm", "--count", "230/in", *more]
        limits = json.loads(call([*asked, "--json"]).output)["basis"]["limits"]
        assert len({one["key"] for one in limits}) == len(limits)
        (new,) = [one["value"] for one in limits if one["key"] == "new-mesh-tension"]
        assert new == (15 if more else 26)


def test_ink_says_what_the_screens_are_loaded_with_by_the_size_of_their_frames() -> None:
    """By hand: 58.42 cm (23 in) take 160 g a screen by the shipped row, two screens 320 g; said with its source."""
    asked = ["ink", *OPTIONS["ink"], "--side", "23 in", "--screens", "2"]
    data = json.loads(call([*asked, "--json"]).output)
    assert data["results"]["load"] == {"value": 320, "unit": "g"}
    (limit,) = data["basis"]["limits"]
    assert (limit["key"], limit["value"]) == ("ink-load", 160) and limit["source"].startswith("judgement")
    assert limit["unit"] == "g" and limit["row"] is None, "a row has a number in a shop only"
    said = call(asked).output
    assert "To load the screens with, beside it  320" in said and "Worked out with: the shipped limits" in said
    plain = json.loads(call(["ink", *OPTIONS["ink"], "--json"]).output)
    assert "load" not in plain["results"] and plain["basis"]["limits"] == [] and plain["basis"]["spec"] is None
    assert call([*asked[:-1], "0"]).exit_code == 2
