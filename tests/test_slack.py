"""Slack frames: on a list, counted apart from the free ones, named where frames run short; and the one work that a
frame is judged for. Figures are the shipped floors: 15 N/cm for several colours, 18 for halftones, 10 for one colour, 7
on wood (their sources stand in `tickets/calculator/defaults.py`)."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient
from shop import Shop, fresh
from sqlite_utils import Database
from test_web_calculator import text_of

from tickets import cli, store
from tickets.actions import jobs, places, posting, screens, shop
from tickets.calculator.verdict import Level
from tickets.domain.code import shown
from tickets.domain.jobs.job import read
from tickets.domain.posted import form
from tickets.domain.screens import frame_checks, works
from tickets.domain.screens.screen import Life, Mesh, Tension
from tickets.domain.spec import Row, Spec, shipped
from tickets.domain.stages import Standing
from tickets.queries import asked, boards, desk, desk_today, due, find, repeats, sound
from tickets.queries.shop_rules import the_spec
from tickets.store import boards as stored_boards
from tickets.store import screens as stored

ROWS = Spec(list(shipped()))


def frame(lowest: float | None, kind: str = "aluminium", count_per_in: float = 230, **more: Any) -> Life:
    """A frame without an image, by its kind and its lowest reading."""
    reading = Tension("", "2026-03-01T00:00:00.000000Z", (lowest,)) if lowest is not None else None
    mesh = Mesh(f"{count_per_in:g}/in", count_per_in / 2.54, 48.0, frame=kind)
    return Life(**{"standing": Standing.STRIPPED, "mesh": mesh, "tension": reading, **more})


# The rules ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lowest", "kind", "slack"),
    [(None, "aluminium", works.FIT), (18, "aluminium", works.FIT), (17.9, "aluminium", works.FOR_USUAL),
     (15, "aluminium", works.FOR_USUAL), (14.9, "aluminium", works.FOR_LESS),
     (12, "aluminium", works.FOR_LESS), (10, "aluminium", works.FOR_LESS), (9.9, "aluminium", works.SLACK),
     (9, "roller", works.SLACK), (9, "wood", works.FIT), (7, "wood", works.FIT), (6.9, "wood", works.SLACK)],
)  # fmt: skip
def test_how_slack_a_frame_is_by_the_rows_of_the_shop(lowest: float | None, kind: str, slack: int) -> None:
    assert works.slackness(frame(lowest, kind), ROWS) == slack


@pytest.mark.parametrize("standing", sorted(works.OUT))
def test_a_frame_that_is_out_of_service_is_not_due(standing: Standing) -> None:
    assert works.slackness(frame(4, standing=standing), ROWS) == works.FIT


def test_another_floor_of_the_shop_is_another_list() -> None:
    rows = [*shipped(), Row(9001, "tension-floor", 20.0, "N/cm", {"work": "colours"}, "ours", "2026-03-01", 1)]
    assert works.slackness(frame(19), Spec(rows)) == works.FOR_LESS
    assert works.slackness(frame(19), ROWS) == works.FIT


@pytest.mark.parametrize(
    ("lowest", "kind", "asked_for", "work"),
    [
        (30, "aluminium", (), "colours"), (9, "aluminium", (), "colours"), (9, "wood", (), "one-colour"),
        (12, "aluminium", ("one-colour",), "one-colour"), (12, "aluminium", ("one-colour", "colours"), "one-colour"),
        (16, "aluminium", ("colours", "halftone"), "colours"), (21, "aluminium", ("colours", "halftone"), "halftone"),
        (16, "aluminium", ("halftone",), "halftone"), (12, "aluminium", ("halftone", "colours"), "colours"),
        (12, "wood", ("halftone", "colours"), "one-colour"), (None, "aluminium", ("halftone",), "halftone"),
    ],
)  # fmt: skip
def test_a_frame_is_judged_for_what_it_would_be_suggested_for(
    lowest: float | None, kind: str, asked_for: tuple[str, ...], work: str
) -> None:
    assert works.judged_for(frame(lowest, kind), asked_for, ROWS) == work


# A shop -------------------------------------------------------------------------------------------------------------


def measured(bench: Shop, lowest: str, **more: Any) -> str:
    """A frame of the bench with a reading."""
    (code,) = bench.frames(1, **{"thread_um": "48", **more})
    bench.past(code, "tension", 3, readings_n_per_cm=lowest)
    return str(code)


def sheet(bench: Shop, colours: int, **halftone: Any) -> Any:
    """An invented job of 230/in."""
    stations = [
        {
            "does": "print",
            "colour": colour,
            "ink": "plastisol",
            "mesh": {"count": "230/in", "thread": "48 um"},
            **halftone,
        }
        for colour in ("white", "sand")[:colours]
    ]
    return read(
        {
            "title": "Lantern walk tees", "customer": "Hedge Lane Walkers",
            "due": (bench.now + timedelta(days=4)).date().isoformat(),
            "art": {"name": f"Lantern {colours}", "revision": "1"},
            "garment": [{"style": "Tee", "colour": "black", "pieces": 40, "fibre": {"cotton": 100}}],
            "placement": [{"name": "Front", "width": "250 mm", "station": stations}],
        }
    )  # fmt: skip


SCREENED = {"halftone": {"ruling": "45 /in", "angle": "22.5 deg"}}


@pytest.mark.parametrize(
    "asked_for", [(), ("one",), ("two",), ("tone",), ("one", "tone"), ("two", "tone"), ("one", "two")]
)
def test_the_list_says_what_the_page_of_each_frame_says(bench: Shop, asked_for: tuple[str, ...]) -> None:
    """Whatever the open jobs ask of a mesh: a frame is on the list of the slack ones where its own page stops it."""
    codes = [measured(bench, lowest) for lowest in ("30", "18", "17.5", "16", "15", "14.5", "12", "10", "9.5")]
    for work in asked_for:
        add_job(bench, 1 if work == "one" else 2, **(SCREENED if work == "tone" else {}))
    spec = the_spec(bench.db)
    stopped = set()
    for code in codes:
        found = life(bench, code)
        reasons = frame_checks.tension(found, asked.work_of(bench.db, found), spec, bench.now)
        if any(one.key == "tension-under-floor" for one in reasons):
            stopped.add(code)
    listed = stored.inventory(bench.db, due.due_list(bench.db, "slack", bench.now))
    assert {str(one.code) for one in listed} == stopped
    assert (codes[4] in stopped) == (asked_for == ("tone",)), "15: enough for several colours, too little for halftones"


def add_job(bench: Shop, colours: int, **halftone: Any) -> str:
    made = jobs.add(bench.db, bench.me, [sheet(bench, colours, **halftone)], post=fresh(), now=bench.now)
    return str(made[0])


def listed(bench: Shop, what: str = "slack", **more: Any) -> list[str]:
    wanted = due.due_list(bench.db, what, bench.now, **more)
    return [str(row.code) for row in stored.inventory(bench.db, wanted)]


def life(bench: Shop, code: str) -> Life:
    return find.screen(bench.db, code).life


def test_slack_frames_are_on_the_list_and_not_counted_free(bench: Shop) -> None:
    worst, slack, fit = measured(bench, "9"), measured(bench, "12"), measured(bench, "22")
    assert listed(bench) == [worst, slack]
    counts = {
        (standing, number) for standing, _mesh, _count, number in stored.counts(bench.db, asked.too_slack(bench.db))
    }
    assert counts == {("slack", 2), ("bare", 1)}
    (found,) = [one for one in desk_today.desk(bench.db, bench.now).due if one.what == "slack"]
    assert (found.number, [str(one.code) for one in found.first]) == (2, [worst, slack])
    assert [number for _mesh, number in found.by_mesh] == [2]
    ((_mesh, row),) = desk_today.desk(bench.db, bench.now).meshes
    assert (row["free"], row["slack"]) == (1, 2)
    stage = {one.step: one.screens for one in boards.to_do(bench.db, bench.now)}
    assert stage == {"stretch": 2}
    (pool,) = desk.pool_of(bench.db, bench.now, 90).meshes
    assert (pool.frames.there, pool.frames.slack) == (1, 2)
    bench.past(worst, "retension", 2)
    assert listed(bench) == [slack] and fit not in listed(bench)
    assert sound.check(bench.db) == []


def test_one_advice_makes_a_slack_frame_tight_again(
    bench: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    """The mesh of a roller frame is tightened; one that is glued down gets new mesh: the to-do, the frame's own page,
    what would help the job, and what runs short say the same."""
    glued, roller = measured(bench, "9"), measured(bench, "9", frame="roller")
    places.add(bench.db, bench.me, "Rack 1", "rack", post=fresh(), now=bench.now)
    for code in (glued, roller):
        bench.past(code, "rack", 1, place="Rack 1")
    bench.images(1)
    todo = {one.step: (one.standing, one.screens) for one in boards.to_do(bench.db, bench.now)}
    assert todo == {"stretch": ("slack", 1), "retension": ("slack", 1)}
    phone = sign_in(client, "Ada Holm")
    board = text_of(phone.get("/screen-room?need=1").text)
    assert "Stretch new mesh on 1 frame: under the floor" in board and "Retension 1 frame: under the floor" in board
    assert "stretch new mesh on it" in board and "retension it" in board and "retension or restretch" not in board
    for code, first, other in ((glued, "stretch", "retension"), (roller, "retension", "stretch")):
        page = phone.get(f"/screens/{code}").text
        assert f'action="/screens/{code}/{first}"' in page and f"/screens/{code}?step={other}" in page, code
    short = text_of(sign_in(client, "Di Novak").get("/desk/short").text)
    assert f"stretch new mesh on {shown(glued)}" in short and f"retension {shown(roller)}" in short


def test_a_slack_coated_frame_does_not_wait_for_an_image(bench: Shop) -> None:
    slack, fit = measured(bench, "9"), measured(bench, "22")
    for code in (slack, fit):
        bench.past(code, "degrease", 2.9)
        bench.past(code, "coat", 2.8)
    later = bench.now + timedelta(hours=5)
    stages = {one.step: one.screens for one in boards.to_do(bench.db, later)}
    assert stages == {"image": 1, "stretch": 1}


def test_a_mesh_that_a_job_asks_for_in_one_colour_may_be_less_tight(bench: Shop) -> None:
    worst, less = measured(bench, "9"), measured(bench, "12")
    other = measured(bench, "12", mesh_count_as_labelled="156/in", thread_um="64")
    assert listed(bench) == [worst, less, other]
    job = find.job(bench.db, add_job(bench, 1))
    assert listed(bench) == [worst, other], "it is suggested for that job, with a caution"
    assert asked.work_of(bench.db, life(bench, less)) == "one-colour"
    jobs.close(bench.db, bench.me, job, True, post=fresh(), now=bench.now)
    assert listed(bench) == [worst, less, other]


def test_a_frame_that_a_stock_take_did_not_find_cannot_be_retensioned(bench: Shop) -> None:
    code = measured(bench, "9")
    places.add(bench.db, bench.me, "Rack 1", "rack", post=fresh(), now=bench.now)
    bench.past(code, "rack", 2, place="Rack 1")
    number = life(bench, code).place
    screen = find.screen(bench.db, code)
    from tickets.actions.posting import numbered, write

    gone = posting.line(bench.me, "note", bench.now, bench.now, {"not_at": number}, screen=screen.id)
    with store.writing(bench.db):
        write(bench.db, numbered(fresh(), [gone]))
    assert listed(bench) == [] and listed(bench, "missing") == [code]


def test_the_list_follows_the_limits_at_once_and_rebuild_and_check_know_it(bench: Shop) -> None:
    code = measured(bench, "16")
    assert listed(bench) == []
    row = Row(0, "tension-floor", 17.0, "N/cm", {"work": "colours"}, "our own presses", "", 0)
    shop.add_spec_row(bench.db, shop.command_line(bench.db, bench.now), row, now=bench.now)
    assert listed(bench) == [code] and sound.check(bench.db) == []
    with store.writing(bench.db):
        bench.db.execute("UPDATE standings SET slack = 0")
    assert len(sound.check(bench.db)) == 1
    shop.rebuild(bench.db)
    assert listed(bench) == [code] and sound.check(bench.db) == []


def test_a_shop_of_before_gets_its_list(bench: Shop, tmp_path: Path) -> None:
    """The column is new: it is filled when the shop is opened by rules that know it."""
    code = measured(bench, "9")
    with store.writing(bench.db):
        bench.db.execute("UPDATE standings SET slack = 0")
        bench.db.execute("DELETE FROM worked_out")
    folder = Path(bench.db.execute("PRAGMA database_list").fetchone()[2]).parent
    again = shop.open_shop(folder, bench.now)
    wanted = due.due_list(again, "slack", bench.now)
    assert [str(row.code) for row in stored.inventory(again, wanted)] == [code]
    again.close()


def test_slack_frames_are_named_where_frames_run_short(bench: Shop) -> None:
    slack = measured(bench, "12")
    add_job(bench, 2)
    (mesh,) = desk.ahead(bench.db, bench.now).meshes
    assert mesh.short is not None and (mesh.free, mesh.slack) == (0, 1)
    assert [(str(one.code), step) for one, step in mesh.tight] == [(slack, "stretch")]
    line = boards.screen_room(bench.db, bench.now).groups[0].lines[0]
    assert [[frame.code for frame in one.frames] for one in line.instead if one.how == "tighten"] == [[slack]]


def test_frames_that_are_free_for_a_repeat_are_tight_enough(bench: Shop) -> None:
    measured(bench, "12")
    job = find.job(bench.db, add_job(bench, 2))
    (wanted, _other) = repeats.jobs.asked(bench.db, job, 1)
    assert repeats._free(bench.db, wanted) == 0
    measured(bench, "22")
    assert repeats._free(bench.db, wanted) == 1


def level(bench: Shop, code: str, lowest: str, **more: str) -> Level:
    """The verdict of a reading, as the answer gives it."""
    found = find.screen(bench.db, code)
    sent = form({"readings_n_per_cm": lowest, **more})
    verdict = screens.log(bench.db, bench.me, found, "tension", sent, post=fresh(), now=bench.now).verdict
    assert verdict is not None
    return verdict.level


def test_a_reading_is_judged_for_the_job_that_the_frame_is_suggested_for(bench: Shop) -> None:
    """20.5 N/cm is in order for several colours and a caution for halftones: the answer is that of the choice."""
    (code,) = bench.frames(1, thread_um="48")
    assert level(bench, code, "20.5") is Level.OK
    add_job(bench, 2, halftone={"ruling": "45 /in", "angle": "22.5 deg"})
    chosen = boards.screen_room(bench.db, bench.now).groups[0].lines[0].serves[0]
    assert chosen.frame.code == code and chosen.verdict.level is Level.CAUTION
    assert level(bench, code, "20.5") is Level.CAUTION


def test_while_a_frame_is_picked_its_station_counts(bench: Shop) -> None:
    (code,) = bench.frames(1, thread_um="48")
    add_job(bench, 1)
    assert level(bench, code, "16") is Level.OK
    assert level(bench, code, "16", for_work="halftone") is Level.STOP
    assert asked.work_of(bench.db, life(bench, code), "halftone") == "halftone"


@pytest.mark.parametrize("work", works.WORK)
def test_an_image_on_the_screen_says_what_it_is_judged_for(bench: Shop, work: str) -> None:
    (code,) = bench.frames(1, thread_um="48")
    halftone = {"halftone": {"ruling": "45 /in", "angle": "22.5 deg"}} if work == "halftone" else {}
    job = find.job(bench.db, add_job(bench, 1 if work == "one-colour" else 2, **halftone))
    number = repeats.jobs.asked(bench.db, job, 1)[0].separation
    bench.past(code, "degrease", 2.9)
    bench.past(code, "coat", 2.8)
    bench.past(code, "image", 1, separations=str(number))
    assert asked.work_of(bench.db, life(bench, code)) == work
    jobs.close(bench.db, bench.me, job, True, post=fresh(), now=bench.now)
    assert asked.work_of(bench.db, life(bench, code)) == work, "it is what it was made for"


def test_a_coat_on_a_slack_mesh_is_said_to_be_lost(bench: Shop) -> None:
    slack, fit = measured(bench, "9"), measured(bench, "22")
    verdicts = []
    for code in (slack, fit):
        bench.past(code, "degrease", 2)
        sent = form({})
        found = find.screen(bench.db, code)
        verdicts.append(screens.log(bench.db, bench.me, found, "coat", sent, post=fresh(), now=bench.now).verdict)
    assert ["tension-under-floor" in one.keys for one in verdicts if one] == [True, False]


# One answer on page, answer and command -----------------------------------------------------------------------------


def folder_of(db: Database) -> str:
    return str(Path(db.execute("PRAGMA database_list").fetchone()[2]).parent)


@pytest.mark.parametrize(
    ("kind", "lowest", "stops"), [("wood", "9", False), ("wood", "6", True), ("aluminium", "12", True)]
)
def test_wood_reads_alike_on_its_page_in_the_answer_and_on_the_command_line(
    bench: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient],
    kind: str, lowest: str, stops: bool,
) -> None:  # fmt: skip
    (code,) = bench.frames(1, frame=kind, thread_um="48")
    assert (level(bench, code, lowest) is Level.STOP) is stops
    sign_in(client, "Ada Holm")
    page = client.get(f"/screens/{code}").text
    assert ("under the floor" in page) is stops
    shown = CliRunner().invoke(cli.root, ["screen", "show", code, "--data", folder_of(bench.db), "--json"])
    keys = {one["key"] for one in json.loads(shown.stdout)["due"]}
    assert ("tension-under-floor" in keys) is stops and "wood-several-colours" not in keys


def test_the_page_of_a_slack_frame_offers_new_tension_before_a_coat(
    bench: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    (roller,) = bench.frames(1, frame="roller", thread_um="48")
    bench.past(roller, "tension", 3, readings_n_per_cm="9")
    glued = measured(bench, "9")
    sign_in(client, "Ada Holm")
    for code, first in ((roller, "Retensioned"), (glued, "New mesh stretched")):
        page = client.get(f"/screens/{code}").text
        button = re.search(r'<button class="primary">([^<]*)', page)
        assert button is not None and button[1] == first
        assert page.index("under the floor of") < page.index('<button class="primary">'), "why is said first"
        assert page.index("?step=retension") < page.index("?step=coat") if code == glued else "?step=coat" in page


def test_the_command_lists_what_is_due(bench: Shop) -> None:
    slack, other = measured(bench, "9"), measured(bench, "9", mesh_count_as_labelled="156/in", thread_um="64")
    (never,) = bench.frames(1, thread_um="48")

    def codes(*more: str) -> list[str]:
        command = ["screen", "list", "--data", folder_of(bench.db), "--json", *more]
        result = CliRunner().invoke(cli.root, command, catch_exceptions=False)
        assert result.exit_code == 0, result.stderr
        return [one["code"] for one in json.loads(result.stdout)]

    assert codes("--due", "slack") == [slack, other] and codes("--due", "slack", "--mesh", "156/in") == [other]
    assert codes("--due", "tension") == [never]
    assert all(codes("--due", what) == [] for what in due.DUE if what not in {"slack", "tension"})
    refused = CliRunner().invoke(cli.root, ["screen", "list", "--data", folder_of(bench.db), "--due", "never"])
    assert refused.exit_code == 2 and "slack" in refused.stderr


def test_each_list_has_what_is_due_and_nothing_else(bench: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    kept, coated, worn = measured(bench, "22"), measured(bench, "22"), measured(bench, "22")
    bench.made(kept, bench.images(1), kept=True)
    yesterday = (bench.now - timedelta(days=1)).date().isoformat()
    bench.past(kept, "decide", 0, then="keep", until=yesterday)
    bench.past(coated, "degrease", 2.9)
    bench.past(coated, "coat", 2.8)
    late = bench.now + timedelta(days=40)
    rows = stored.inventory(bench.db, due.due_list(bench.db, "coated", late))
    assert [str(row.code) for row in rows] == [coated]
    assert listed(bench, "coated") == [] and listed(bench, "keep") == [kept]

    class One:
        screen = find.screen(bench.db, worn).id

    class Near:
        one = One

    monkeypatch.setattr(due, "near_end", lambda _db, _most: [Near])
    assert listed(bench, "worn") == [worn]


def test_the_list_is_a_filter_of_the_screens_whose_address_holds_it_page_by_page(
    bench: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    codes = bench.frames(53, thread_um="48")
    for code in codes:
        bench.past(code, "tension", 3, readings_n_per_cm="9")
    sign_in(client, "Ada Holm")
    page = client.get("/screens?due=slack").text
    assert page.count('<th scope="row"><a href="/screens/') == 50 and ": 53</a>" in page
    further = re.search(r'<a class="button" href="([^"]*)">Next page', page)
    assert further is not None and "due=slack" in further[1]
    rest = client.get(further[1].replace("&amp;", "&")).text
    assert rest.count('<th scope="row"><a href="/screens/') == 3
    bare = client.get("/screens?standing=bare").text
    assert bare.count('<th scope="row"><a href="/screens/') == 0, (
        "free frames are listed without them, as they are counted"
    )


def test_the_lists_of_slack_frames_are_read_out_of_their_index(bench: Shop) -> None:
    """By SQLite's own plans: no question goes through the frames that are tight."""
    measured(bench, "9")
    add_job(bench, 1)
    questions: list[str] = []
    loose = asked.too_slack(bench.db)
    bench.db.conn.set_trace_callback(questions.append)
    stored.inventory(bench.db, due.due_list(bench.db, "slack", bench.now))
    stored_boards.due(bench.db, [], loose)
    stored_boards.waiting(bench.db, ["ready"], "2026", loose)
    stored.slack_counts(bench.db, loose)
    stored.counts(bench.db, loose)
    bench.db.conn.set_trace_callback(None)
    plans = {sql: [row[3] for row in bench.db.execute(f"EXPLAIN QUERY PLAN {sql}").fetchall()] for sql in questions}
    on_standings = [
        line
        for sql, plan in plans.items() if "slack > 0" in sql
        for line in plan if re.search(r" w\b", line) and not ("'unnamed'" in sql and "standings_by_standing" in line)
    ]  # fmt: skip
    assert len(on_standings) >= 5 and all("standings_slack" in line for line in on_standings), on_standings
    counted = [
        line
        for sql, plan in plans.items() if "count(*)" in sql
        for line in plan if re.search(r" w\b", line) and "standings_by_standing" not in line
    ]  # fmt: skip
    assert counted and all("COVERING INDEX standings_slack" in line for line in counted), counted
