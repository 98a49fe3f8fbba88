"""One verdict, wherever it is asked for: page of a screen, scan, answer to a step, command, JSON, the press."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from flask.testing import FlaskClient
from shop import Shop, fresh
from sqlite_utils import Database
from test_slack import folder_of

from tickets import store
from tickets.actions import places, shop
from tickets.actions import runs as runs_acts
from tickets.calculator.verdict import Reason, say
from tickets.domain.posted import form
from tickets.queries import run_plan
from tickets.queries.as_data import screen as screen_data
from tickets.store import runs, screens

SignIn = Callable[[FlaskClient, str], FlaskClient]
Said = list[str]


def plain(text: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def on_page(page: str) -> Said:
    """Each reason that a page of a screen shows, with its word, in the order of its two lists."""
    lists = re.findall(r'<ul class="due">(.*?)</ul>', page, re.S)
    return [plain(one).replace(" :", ":") for part in lists for one in re.findall(r"<li class=.*?</li>", part, re.S)]


def in_lines(told: str, reasons: Said) -> Said:
    """Those of the reasons that a command printed, a line each."""
    lines = {" ".join(line.split()) for line in told.splitlines()}
    return [one for one in reasons if one in lines]


def judged(data: dict[str, Any]) -> Said:
    """The reasons among what a screen waits for; that it is dry by then and then is no verdict."""
    return [" ".join(one["said"].split()) for one in data["due"] if "level" in one]


def keys_of(data: dict[str, Any]) -> tuple[str, ...]:
    return tuple(one["key"] for one in data["due"])


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("demo")


@pytest.fixture(scope="module", params=[0, 100], ids=["today", "in 100 days"])
def demo(request: pytest.FixtureRequest, folders: Path) -> Iterator[tuple[Path, FlaskClient]]:
    """The invented shop today, and when nobody came for a hundred days: much is overdue then."""
    folder = shops.the_demo(folders / str(request.param))
    then = shops.Clock(shops.NOW + timedelta(days=request.param))
    with shops.pages(folder, then) as app:
        yield folder, shops.signed_in(shops.phone_of(app), "Ada Holm", "4711")


def of_each_sort(db: Database, clock: Callable[[], Any]) -> dict[str, dict[str, Any]]:
    """Two screens of every stage with every sort of reasons, as JSON has them."""
    found: dict[tuple[Any, ...], list[dict[str, Any]]] = {}
    for number in screens.every_number(db):
        screen = screens.get(db, number)
        assert screen is not None
        data = screen_data(db, screen, clock())
        found.setdefault((data["standing"], keys_of(data)), []).append(data)
    return {one["code"]: one for same in found.values() for one in same[:2]}


def test_page_scan_answer_and_command_say_the_same_of_every_sort_of_screen(
    demo: tuple[Path, FlaskClient], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, phone = demo
    clock = phone.application.config["CLOCK"]
    monkeypatch.setattr("tickets.cli.given.clock", clock)
    tickets = shops.commands(folder)
    db = store.connect(folder)
    keys: set[str] = set()
    for code, data in of_each_sort(db, clock).items():
        asked = json.loads(tickets("screen", "show", code, "--json").stdout)
        wanted = judged(asked)
        assert wanted == judged(data), code
        keys.update(keys_of(asked))
        for path in (f"/screens/{code}", f"/t/{code}"):
            assert sorted(on_page(phone.get(path).text)) == sorted(wanted), path
        assert in_lines(tickets("screen", "show", code).stdout, wanted) == wanted, code
        sent = {"note": "a word", "entry": fresh()}
        answer = phone.post(f"/screens/{code}/note", data=sent)
        assert answer.status_code == 303, answer.text
        told = phone.get(answer.headers["Location"]).text
        assert sorted(on_page(told)) == sorted(wanted), code
    db.close()
    assert keys >= {"torn", "tension-old", "tension-missing"}


def at_press(page: str) -> tuple[str, Said]:
    """The level that the page of a check at the press shows, and its reasons without their words, worst first."""
    found = re.search(r'<section class="verdict at-press (\w+)"', page)
    assert found is not None, plain(page)
    reasons = re.findall(r'<div class="reason (?!ok)[^>]*>(.*?)</div>', page, re.S)
    return found[1], [plain(re.sub(r"<b>.*?</b>", "", one)) for one in reasons]


def test_the_press_is_told_the_same_by_page_and_command_of_every_sort_of_screen(
    demo: tuple[Path, FlaskClient], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, phone = demo
    clock = phone.application.config["CLOCK"]
    monkeypatch.setattr("tickets.cli.given.clock", clock)
    tickets = shops.commands(folder)
    db = store.connect(folder)
    levels: set[str] = set()
    going = [one for one in runs.every_number(db) if run_plan.plan(db, one).story.state in {"set-up", "printing"}]
    for code in of_each_sort(db, clock):
        told = tickets("run", "check", str(going[0]), code, "--json")
        verdict = json.loads(told.stdout)["verdict"]
        wanted = [say(Reason.from_dict(one)) for one in verdict["reasons"]]
        level, reasons = at_press(phone.get(f"/runs/{going[0]}?screen={code}").text)
        assert level == verdict["level"], code
        bad = [one for one in wanted if one.level != "ok"]  # where the page asks a question, that is the advice
        asked = [one.sentence for one in bad], [f"{one.sentence} {one.advice}".strip() for one in bad]
        assert reasons in [[" ".join(each.split()) for each in said] for said in asked], code
        said = [" ".join(one.text.split()) for one in wanted]
        assert in_lines(tickets("run", "check", str(going[0]), code).stdout, said) == said, code
        levels.add(level)
    assert levels >= {"stop"} and len(levels) > 1
    db.close()


@pytest.mark.parametrize(("lowest", "level"), [("12", "ok"), ("9", "caution"), ("6", "stop")])
@pytest.mark.parametrize("by_phone", [True, False])
def test_a_bare_wood_frame_reads_alike_everywhere(
    bench: Shop, client: FlaskClient, sign_in: SignIn, lowest: str, level: str, by_phone: bool
) -> None:
    """Its limits are those of one colour on wood: caution under 10 N/cm, stop under 7 (rows that come with it)."""
    (code,) = bench.frames(1, frame="wood", thread_um="48")
    folder = Path(folder_of(bench.db))
    tickets, phone = shops.commands(folder), sign_in(client, "Ada Holm")
    if by_phone:
        sent = {"entry": fresh(), "readings_n_per_cm": lowest, "readings_n_per_cm.unit": "N/cm"}
        answer = phone.post(f"/screens/{code}/tension", data=sent)
        assert answer.status_code == 303, plain(answer.text)
        page = phone.get(answer.headers["Location"]).text
    else:
        logged = tickets("screen", "log", code, "tension", "--readings-n-per-cm", lowest, "--json")
        assert json.loads(logged.stdout)["verdict"]["level"] == level
        page = phone.get(f"/screens/{code}").text
    data = json.loads(tickets("screen", "show", code, "--json").stdout)
    assert sorted(on_page(page)) == sorted(judged(data))
    assert {one["level"] for one in data["due"]} - {"ok"} == ({level} - {"ok"})
    assert {one["key"] for one in data["due"]} == {
        "ok": set(), "caution": {"tension-under-watch"}, "stop": {"tension-under-floor"}
    }[level]  # fmt: skip


@pytest.mark.parametrize(("lowest", "key"), [("12", ""), ("9", "tension-under-watch"), ("6", "tension-under-floor")])
def test_wood_at_the_press_of_a_job_in_one_colour_is_judged_as_in_the_screen_room(
    bench: Shop, client: FlaskClient, sign_in: SignIn, lowest: str, key: str
) -> None:
    (code,) = bench.frames(1, frame="wood", thread_um="48")
    images = bench.images(1)
    bench.made(code, images)
    bench.past(code, "tension", 2, readings_n_per_cm=lowest)
    tickets, phone = shops.commands(Path(folder_of(bench.db))), sign_in(client, "Ada Holm")
    (job,) = bench.db.execute("SELECT code FROM jobs").fetchone()
    boss = shop.command_line(bench.db, bench.now)
    press = places.add(bench.db, boss, "Press 2", "press", heads=6, post=fresh(), now=bench.now)
    asked = form({"job": job, "placement": "1", "press": str(press)})
    run = runs_acts.open_run(bench.db, bench.me, asked, post=fresh(), now=bench.now)
    at = json.loads(tickets("run", "check", str(run), code, "--json").stdout)["verdict"]["reasons"]
    room = json.loads(tickets("screen", "show", code, "--json").stdout)["due"]
    tension = [one for one in at if one["key"].startswith("tension") and one["level"] != "ok"]
    assert [one["key"] for one in tension] == ([key] if key else [])
    assert [(one["key"], one["level"]) for one in tension] == [
        (one["key"], one["level"]) for one in room if one["key"].startswith("tension")
    ]
    page = phone.get(f"/runs/{run}?screen={code}").text
    assert all(say(Reason.from_dict(one)).sentence in html.unescape(page) for one in tension)
