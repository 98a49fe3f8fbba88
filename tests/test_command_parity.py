"""The command line has what the pages have: every refusal as JSON in one shape, the heads to choose from, the garment
asked, steps in their turn, pieces, differences, the comparison; and a job that is here already is asked about."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from click.testing import CliRunner
from flask.testing import FlaskClient
from shop import Shop, clock, fresh, two_colours
from sqlite_utils import Database
from test_run_counts import tickets
from test_web_runs import hang_both, post, ready_to_print, start_run, story, text_of
from test_web_runs import press as press  # fixtures

from tickets import cli, demo
from tickets.actions import shop as shop_checks
from tickets.domain.code import shown
from tickets.domain.jobs.colourways import at_rows
from tickets.domain.jobs.job import read, to_toml
from tickets.domain.papers.ticket import with_signs
from tickets.domain.spec import Row
from tickets.queries import find
from tickets.queries import tickets as tickets_now
from tickets.store import jobs

TWO = [{"style": "Tee", "colour": one, "pieces": 30, "fibre": {"cotton": 100}} for one in ("red", "blue")]


def data(db: Database, *arguments: str) -> Any:
    """What a command prints as JSON."""
    result = tickets(db, *arguments, "--json")
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


def refused(db: Database, *arguments: str) -> list[dict[str, str]]:
    """What a command refuses, as JSON, each as place and what was said; it stands on standard error too."""
    result = tickets(db, *arguments, "--json")
    assert result.exit_code == 2, result.output
    told: list[dict[str, str]] = json.loads(result.stdout)["refused"]
    assert told and all(set(one) == {"place", "said"} for one in told)
    for one in told:
        assert one["said"] in result.stderr
    return told


# Refusals -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "places"),
    [
        (("screen", "show", "7K32XM"), ["code"]),  # not found
        (("screen", "add", "--count", "many", "--frame", "aluminium"), ["--count"]),  # a field, by its option
        (("screen", "add", "--frame", "aluminium"), ["--count"]),  # an option that is missing
        (("screen", "list", "--stage", "flying"), ["--stage"]),
        (("run", "show", "99"), ["run"]),
        (("run", "log", "99", "start"), ["run"]),
        (("run", "open", "--job", "4711", "--press", "Press 9"), ["job", "press"]),  # all that is wrong
        (("job", "add", "missing.toml"), ["missing.toml"]),
        (("bucket", "add", "--kind", "soup"), ["kind"]),
        (("calc", "mesh", "--count", "230", "--thread", "48 um"), ["--count"]),
        (("calc", "mesh"), ["--count", "--thread"]),
        (("calc", "soup"), [""]),
        (("settings", "set", "zone", "Nowhere"), ["zone"]),
        (("person", "add", "Ev Tell", "--role", "cook"), ["--role"]),
        (("print", "job", "4711", "--out", "x.pdf"), ["code"]),
        (("nothing",), [""]),
        (("run", "log", "1", "start", "stray"), [""]),
    ],
)
def test_every_refusal_can_be_had_as_json(
    db: Database, arguments: tuple[str, ...], places: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert [one["place"] for one in refused(db, *arguments)] == places


def test_without_json_nothing_stands_on_standard_output(db: Database) -> None:
    result = tickets(db, "screen", "show", "7K32XM")
    assert result.exit_code == 2 and result.stdout == "" and "7K32X-M" in result.stderr


def test_a_verdict_comes_with_its_refusal_and_says_what_answers_it(
    shop: Shop, press: FlaskClient, db: Database
) -> None:
    job = shop.job()
    run, wrong = start_run(press, shop, job), shop.screen(job, 1, until="image")
    result = tickets(db, "run", "log", str(run), "hang", "--screen", wrong, "--json")
    told = json.loads(result.stdout)
    assert (told["run"], told["entries"], told["verdict"]["level"]) == (run, [], "stop")
    assert [one["place"] for one in told["refused"]] == ["override"] and "--override" in told["refused"][0]["said"]
    right = shop.screen(job, 1)
    assert tickets(db, "run", "log", str(run), "hang", "--screen", right).exit_code == 0
    elsewhere, needed = refused(db, "screen", "log", right, "strip")
    assert elsewhere["place"] == "in_hand" and "--in_hand yes" in elsewhere["said"]
    assert needed["place"] == "still_needed" and "--still_needed yes" in needed["said"]


def test_a_list_of_frames_refuses_in_the_same_shape(db: Database, tmp_path: Path) -> None:
    file = tmp_path / "frames.csv"
    file.write_text("mark,mesh count,frame\nA 1,230/in,aluminium\nA 2,many,aluminium\n")
    result = tickets(db, "screen", "import", str(file), "--json")
    told = json.loads(result.stdout)
    assert result.exit_code == 2 and set(told) == {"dry_run", "import", "columns", "frames", "left_out", "refused"}
    assert [set(one) for one in told["refused"]] == [{"place", "said"}]


# Heads, garments, turns -----------------------------------------------------------------------------------------------


def test_a_screen_is_held_against_a_run_as_a_scan_does(shop: Shop, press: FlaskClient, db: Database) -> None:
    job = shop.job()
    run, white, blue = start_run(press, shop, job), shop.screen(job, 1), shop.screen(job, 3)
    found = data(db, "run", "check", str(run), white)
    assert (found["face"], found["station"], found["head"]) == ("RIGHT SCREEN", 1, 1)
    assert found["heads_free"] == [*range(1, 9)] and found["verdict"]["level"] == "ok"
    assert 'name="head" value="1"' in press.get(f"/runs/{run}?screen={white}").text, "the page offers the same"
    assert story(db, run).hung == {}, "nothing was written"
    hung = data(db, "run", "log", str(run), "hang", "--screen", white)
    assert (hung["station"], hung["head"]) == (1, 1)
    assert data(db, "run", "check", str(run), blue)["heads_free"] == [*range(2, 9)]
    assert data(db, "run", "show", str(run))["missing"][0]["head"] == 3
    said = tickets(db, "run", "check", str(run), shop.screen(job, 1)).stdout
    assert f"Screen {shown(white)} hangs there: swap it." in said and "Heads free: 2, 3" in said
    assert data(db, "run", "log", str(run), "hang", "--screen", blue, "--head", "6")["head"] == 6
    again = data(db, "run", "check", str(run), blue)
    assert (again["station"], again["head"], again["no_head"]) == (3, 6, ""), "where it hangs"
    assert again["heads_free"] == [2, 3, 4, 5, 7, 8] and again["verdict"]["level"] == "ok"
    stray = shop.screen(shop.job(title="Second tees", revision="5"), 3)
    for options in ((), ("--json",)):
        stopped = tickets(db, "run", "check", str(run), stray, *options)
        assert stopped.exit_code == 1 and "STOP" in stopped.stderr, "it would be refused: done, but not sound"
    assert json.loads(stopped.stdout)["verdict"]["level"] == "stop"


def test_a_job_is_judged_by_one_function_on_page_ticket_and_command(
    shop: Shop, press: FlaskClient, db: Database, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    """The sheet plans 110 degC; the run that is the target reached 165 degC: by that the cure is judged everywhere."""
    plan = two_colours()["placement"]
    plan[0]["dryer"] = {"garment_peak": "110 degC", "hold": "60 s"}
    job = shop.job(placement=plan)
    assert {"under-cure"} <= {one["key"] for one in data(db, "job", "show", job.code)["remarks"]}
    lead = sign_in(press, "Cy Marsh")
    run, _white, _blue = ready_to_print(lead, shop, job, **{"run.garment_peak": "165 degC", "run.hold": "60 s"})
    assert post(lead, run, "start").status_code == 303
    assert post(lead, run, "finish", good="20", then="keep").status_code == 303
    assert post(lead, run, "use-next-time").status_code == 303
    ticket = tickets_now.job_ticket(db, job, "", clock())
    shown = data(db, "job", "show", job.code)
    assert not [one for one in shown["remarks"] if "cure" in one["key"]], "the target reached it"
    page = text_of(lead.get(f"/jobs/{job.code}").text)
    for one in ticket.first:
        assert one.partition(": ")[2] in page
    assert {one["said"] for one in shown["remarks"]} >= {*ticket.first, *ticket.remarks}
    assert not job.sheet.reference
    assert tickets(db, "job", "show", job.code).exit_code == 0


def test_the_garment_is_asked_where_there_are_several(shop: Shop, press: FlaskClient, db: Database) -> None:
    run, _white, _blue = ready_to_print(press, shop, shop.job(garment=TWO))
    (asked,) = refused(db, "run", "log", str(run), "start")
    assert asked["place"] == "garment" and "1 Tee, red; 2 Tee, blue" in asked["said"]
    answer = post(press, run, "start")
    assert answer.status_code == 422 and "1 Tee, red; 2 Tee, blue" in answer.text, "the page asks by the same act"
    assert data(db, "run", "log", str(run), "start", "--garment", "2")["state"] == "printing"
    assert data(db, "run", "show", str(run))["garment_now"] == "Tee, blue"


def test_pieces_are_shown_by_garment(shop: Shop, press: FlaskClient, db: Database) -> None:
    """By hand: 20 red of 30, then 7 blue of 30."""
    run, _white, _blue = ready_to_print(press, shop, shop.job(garment=TWO))
    assert post(press, run, "start", garment="1").status_code == 303
    assert post(press, run, "change", what="colourway", garment="2", good="20").status_code == 303
    assert post(press, run, "approve", approved_by="Bo Lind", approved_as="press").status_code == 303
    assert post(press, run, "count", good="7").status_code == 303
    assert data(db, "run", "show", str(run))["pieces"] == [
        {"garment": "Tee, red", "good": 20, "misprinted": 0, "ordered": 30},
        {"garment": "Tee, blue", "good": 7, "misprinted": 0, "ordered": 30},
    ]
    said = tickets(db, "run", "show", str(run)).stdout
    assert "Tee, red: 20/30" in said and "Tee, blue: 7/30" in said


def test_steps_are_taken_in_their_turn_unless_anyway(shop: Shop, press: FlaskClient, db: Database) -> None:
    job = shop.job()
    run = start_run(press, shop, job)
    approve = ("approve", "--approved_by", "Bo Lind", "--approved_as", "press")

    def early(step: str, *fields: str) -> None:
        (told,) = refused(db, "run", "log", str(run), step, *fields)
        assert told["place"] == "anyway" and told["said"].endswith("add: --anyway"), step

    for step, fields in (("sheet", ()), approve_of(approve), ("start", ()), ("count", ("--good", "3")),
                         ("stop", ("--cause", "ink")), ("pause", ())):  # fmt: skip
        early(step, *fields)
    for station in (1, 3):
        assert tickets(db, "run", "log", str(run), "hang", "--screen", shop.screen(job, station)).exit_code == 0
    early(*approve)
    early("start")
    assert tickets(db, "run", "log", str(run), "sheet").exit_code == 0
    early("start")
    assert data(db, "run", "log", str(run), "start", "--anyway")["state"] == "printing"
    assert tickets(db, "run", "log", str(run), *approve).exit_code == 0
    assert tickets(db, "run", "log", str(run), "count", "--good", "60").exit_code == 0
    early("use-next-time")
    assert tickets(db, "run", "log", str(run), "finish", "--then", "keep").exit_code == 0
    assert tickets(db, "run", "log", str(run), "use-next-time").exit_code == 0


def approve_of(words: tuple[str, ...]) -> tuple[str, tuple[str, ...]]:
    return words[0], words[1:]


def test_what_differs_from_the_target_and_what_comes_next_is_shown(
    shop: Shop, press: FlaskClient, db: Database
) -> None:
    job = shop.job()
    first, white, blue = ready_to_print(press, shop, job, **{"s3.squeegee": "70"})
    for step, sent in (("start", {}), ("finish", {"good": "20", "then": "keep"})):
        assert post(press, first, step, **sent).status_code == 303
    assert tickets(db, "run", "log", str(first), "use-next-time").exit_code == 0
    run = start_run(press, shop, job)
    for code in (white, blue):
        assert tickets(db, "run", "log", str(run), "hang", "--screen", code).exit_code == 0
    assert data(db, "run", "show", str(run))["next"] == "sheet"
    assert tickets(db, "run", "log", str(run), "sheet", "--s3.squeegee", "60").exit_code == 0
    found = data(db, "run", "show", str(run))
    (one,) = found["differences"]
    assert (one["part"], one["setting"], one["target"], one["now"]) == ("3", "squeegee", "70", "60")
    assert found["next"] == "approve"
    said = tickets(db, "run", "show", str(run)).stdout
    assert "changed from target: 3 " in said and "60 (target: 70)" in said
    assert "next: have the first print approved" in said
    compared = data(db, "run", "compare", str(run))
    assert compared["before"]["run"] == first
    assert [(one["station"], one["setting"], one["before"], one["now"]) for one in compared["differs"]] == [
        (3, "squeegee", "70", "60")
    ]
    said = tickets(db, "run", "compare", str(run)).stdout
    assert said.startswith(f"Before: run {first}, ") and "Differs:" in said and "3 blue" in said
    nothing = {"run": first, "before": None, "compared_with": None, "set_apart": []}
    assert data(db, "run", "compare", str(first)) == nothing


def test_a_change_after_the_approval_says_why_on_both_ways(shop: Shop, press: FlaskClient, db: Database) -> None:
    run, _white, _blue = ready_to_print(press, shop, shop.job(), **{"s3.squeegee": "70"})
    (asked,) = refused(db, "run", "log", str(run), "sheet", "--s3.squeegee", "60")
    assert asked["place"] == "why"
    answer = post(press, run, "sheet", **{"s3.squeegee": "60"})
    assert answer.status_code == 422 and asked["said"] in answer.text
    data(db, "run", "log", str(run), "sheet", "--s3.squeegee", "60", "--why", "edge not sharp")
    data(db, "run", "log", str(run), "sheet", "--run.garment_peak", "165 degC")  # measured: nothing was changed
    data(db, "run", "log", str(run), "sheet", "--s1.note", "two  blanks", "--why", "x")
    assert story(db, run).settings["1"]["note"] == "two blanks", "read as the page reads it"


# The same job twice ---------------------------------------------------------------------------------------------------


def test_the_same_file_entered_twice_asks(db: Database, tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_text(to_toml(read(two_colours())))
    ((made),) = data(db, "job", "add", str(file))
    (asked,) = refused(db, "job", "add", str(file))
    assert asked["place"] == "twice" and shown(made["code"]) in asked["said"] and "--twice yes" in asked["said"]
    assert len(jobs.every_number(db)) == 1, "nothing was written"
    assert data(db, "job", "add", str(file), "--twice", "yes")[0]["code"] != made["code"]
    other = tmp_path / "other.toml"
    other.write_text(to_toml(read(two_colours(title="Other tees"))))
    data(db, "job", "add", str(other))


def test_two_jobs_with_one_customers_number_are_asked_about(db: Database, tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_text(to_toml(read(two_colours(reference="K-77"))))
    made = data(db, "job", "add", str(file))[0]["code"]
    file.write_text(to_toml(read(two_colours(reference="K-77", title="Corrected tees"))))
    assert "has the same customer’s number" in refused(db, "job", "add", str(file))[0]["said"]
    file.write_text(to_toml(read(two_colours(reference="K-77", repeats=made))))
    data(db, "job", "add", str(file))  # a repeat may name the number that it goes back to
    file.write_text(to_toml(read(two_colours(reference="K-77", customer="Another club"))))
    data(db, "job", "add", str(file))
    file.write_text(to_toml(read(two_colours(reference="K-78"))))
    assert "has the same customer, title and press date" in refused(db, "job", "add", str(file))[0]["said"]


def test_one_call_with_the_same_file_twice_asks(db: Database, tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_text(to_toml(read(two_colours())))
    assert "was sent twice" in refused(db, "job", "add", str(file), str(file))[0]["said"]
    assert jobs.every_number(db) == []


def test_a_page_asks_about_the_same_reorder_twice(shop: Shop, press: FlaskClient, db: Database, sign_in: Any) -> None:
    desk, job = sign_in(press, "Di Novak"), shop.job()
    sent = {"due": two_colours()["due"], "reference": "K-78"}
    again = f"/jobs/{job.code}/again"
    assert desk.post(again, data={"entry": fresh(), **sent}).status_code == 303
    answer = desk.post(again, data={"entry": fresh(), **sent})
    assert answer.status_code == 409 and 'name="twice" value="yes"' in answer.text
    assert desk.post(again, data={"entry": fresh(), **sent, "twice": "yes"}).status_code == 303
    assert len(jobs.every_number(db)) == 3


def test_a_mark_names_a_screen_too(shop: Shop, press: FlaskClient, db: Database) -> None:
    job = shop.job()
    run, white, _blue = hang_both(press, shop, job)
    assert data(db, "run", "check", str(run), white)["screen"] == find.screen(db, white).code


# A job's file and the job ---------------------------------------------------------------------------------------------


def test_a_job_file_is_judged_by_the_shops_limits_and_says_by_whose(
    shop: Shop, press: FlaskClient, db: Database, tmp_path: Path
) -> None:
    """300 by 500 mm: nothing to the limits that come with the program, an odd shape to this shop's."""
    plan = two_colours()["placement"]
    plan[0]["height"] = "500 mm"
    file = tmp_path / "job.toml"
    file.write_text(to_toml(read(two_colours(placement=plan))))

    def keys(found: Any) -> set[str]:
        return {one["key"] for one in found[0]["remarks"]}

    ours = Row(0, "print-shape", 1.5, "", {}, "a habit of ours")
    assert "job-odd-shape" not in keys(data(db, "job", "check", str(file)))
    shop_checks.add_spec_row(db, shop.manager, ours, now=clock())
    job = shop.job(placement=plan)
    shown_job, checked = data(db, "job", "show", job.code), data(db, "job", "check", str(file))
    assert checked[0]["remarks"] == shown_job["remarks"] and "job-odd-shape" in keys(checked)
    assert "a habit of ours" in press.get(f"/jobs/{job.code}").text
    said = tickets(db, "job", "check", str(file)).stdout
    assert "(a habit of ours)" in said and said.splitlines()[-1] == checked[0]["judged_by"]
    elsewhere = tmp_path / "nobodys"
    alone = CliRunner().invoke(cli.root, ["job", "check", str(file), "--data", str(elsewhere)])
    last = alone.stdout.splitlines()[-1]
    assert alone.exit_code == 0 and "limits that come with the program" in last and str(elsewhere) in last
    assert "a habit of ours" not in alone.stdout and not elsewhere.exists()


def test_a_job_file_is_checked_in_the_shops_units_and_against_its_day(db: Database, tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_text(to_toml(read(two_colours(due="2020-01-01"))))
    assert [one["key"] for one in data(db, "job", "check", str(file))[0]["remarks"]] == ["job-due-past"]


def test_a_job_is_shown_with_its_colourways_at_each_row(shop: Shop, press: FlaskClient, db: Database) -> None:
    """White goes on both garments; the blue tee takes no blue, so that its flash stands idle with it."""
    way = [{"garment": {"style": "Tee", "colour": "blue"}, "inks": {"blue": False, "white": {"colour": "ivory"}}}]
    job = shop.job(garment=TWO, colourway=way)
    rows = at_rows(job.sheet, job.sheet.placements[0])
    assert set(rows) == {1, 2, 3}
    stations = data(db, "job", "show", job.code)["placements"][0]["stations"]
    assert {one["station"]: tuple(one["on_garments"]) for one in stations} == rows
    lines = tickets(db, "job", "show", job.code).stdout.splitlines()
    for number, told in rows.items():
        row = next(place for place, line in enumerate(lines) if line.startswith(f"  {number} "))
        assert tuple(line.strip() for line in lines[row + 1 : row + 1 + len(told)]) == told
    page, ticket = press.get(f"/jobs/{job.code}").text, tickets_now.job_ticket(db, job, "", clock())
    for row in ticket.placements[0].stations:
        assert row.ways and all(text_of(with_signs(one)) in text_of(page) for one in row.ways)
    plain = data(db, "job", "show", shop.job().code)["placements"][0]["stations"]
    assert not [one for one in plain if one["on_garments"]]


def test_what_hangs_in_the_jobs_own_run_is_no_difference(shop: Shop, press: FlaskClient, db: Database) -> None:
    """The reorder's own run has hung every screen: neither page nor command warns of them as hanging elsewhere."""
    job = shop.job()
    first, white, blue = ready_to_print(press, shop, job)
    assert post(press, first, "start").status_code == 303
    assert post(press, first, "finish", good="60", then="keep").status_code == 303
    sent = {"entry": fresh(), "due": two_colours()["due"], "reference": ""}
    lead = shops.signed_in(shops.phone_of(press.application), "Cy Marsh")
    code = lead.post(f"/jobs/{job.code}/again", data=sent).headers["Location"].split("/")[2].split("?")[0]
    (front,) = data(db, "job", "show", code)["will_differ"]
    assert front["run"] == first and "What will differ from the print before" in press.get(f"/jobs/{code}").text
    run = start_run(press, shop, find.job(db, code))
    for one, station in ((white, "1"), (blue, "3")):
        assert post(press, run, "hang", screen=one, head=station, station=station, in_hand="yes").status_code == 303
    assert data(db, "job", "show", code)["will_differ"] == []
    page = press.get(f"/jobs/{code}").text
    assert "What will differ" not in page and "hangs on press" not in page
    further = text_of(lead.get(f"/jobs/{code}/again").text)
    assert f"hangs on press in run {run}" in further, "a further order is warned of them"


# The log --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("system", ["metric", "us"])
def test_page_and_command_say_a_line_of_the_log_alike(tmp_path: Path, system: str) -> None:
    """Every line of the demo's runs, buckets and screens, in the units of the shop: one function says it for both."""
    folder = shops.the_demo(tmp_path / "demo")
    commands = shops.commands(folder)
    assert commands("settings", "set", "units", system).exit_code == 0

    def asked(*arguments: str) -> Any:
        return json.loads(commands(*arguments, "--json").stdout)

    compared = []
    with shops.pages(folder) as app:
        phone = shops.signed_in(shops.phone_of(app), "Di Novak", demo.SECRETS["Di Novak"][1])
        things = [("bucket", "/buckets/", one["code"]) for one in asked("bucket", "list")]
        things += [("run", "/runs/", str(number)) for number in (10, 12)]
        things += [("screen", "/screens/", one["code"]) for one in asked("screen", "list")[::6]]
        for noun, path, name in things:
            page = text_of(phone.get(f"{path}{name}").text)
            shown = asked(noun, "show", name)["log"]
            printed = commands(noun, "show", name).stdout
            for line in [one for one in shown if one["said"]][:8]:  # a page shows the newest
                said = line["said"].replace("\N{NO-BREAK SPACE}", " ")
                assert said in page.replace("\N{NO-BREAK SPACE}", " "), (noun, name, said)
                assert said in printed and line["step"] in printed
                compared.append(said)
    assert len(compared) > 40
    warm = "Room temperature: 72 °F" if system == "us" else "Room temperature: 22 °C"
    assert any(warm in one for one in compared)


@pytest.mark.parametrize(("system", "said"), [("metric", "110 °C"), ("us", "230 °F")])
def test_a_refusal_is_said_in_the_units_of_the_shop(
    shop: Shop, press: FlaskClient, db: Database, system: str, said: str
) -> None:
    run, _white, _blue = hang_both(press, shop, shop.job())
    assert post(press, run, "sheet", **{"run.garment_peak": "110 degC", "run.hold": "60 s"}).status_code == 303
    assert tickets(db, "settings", "set", "units", system).exit_code == 0
    result = tickets(db, "run", "log", str(run), "approve", "--approved_by", "Bo Lind", "--approved_as", "press")
    assert result.exit_code == 2 and "STOP:" in result.stderr and said in result.stderr, result.stderr
