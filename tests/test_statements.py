"""How often the pages of the invented shop ask its file, counted through SQLite's own trace; how long a run's is."""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from flask import Flask
from flask.testing import FlaskClient

from tickets import demo, store
from tickets.domain.entry import stamp
from tickets.domain.steps import BUCKET_STEPS, RUN_STEPS, SCREEN_STEPS
from tickets.store import runs
from tickets.store.settings import save_setting

PAGE = 25
"""The most statements of any page, shown the first time since something was logged, or again."""

RUN = 20_000
"""The most bytes of a run's page behind the look in its head: of what is seldom wanted it has links."""

STEP = 16
"""The most statements of a post that logs a step of a screen, a run or a bucket."""

NAMES = {("screen", "stretch"): 5, ("screen", "retag"): 4, ("bucket", "mix"): 4}
"""Steps that give a thing another mark, code or lot: so many more, for the words that it is found by."""

FIELDS: dict[str, dict[str, str]] = {
    "tension": {"readings_n_per_cm": "24 24"},
    "harden": {},
    "rack": {},
    "decide": {"then": "keep"},
    "strip": {"still_needed": "yes"},
    "haze": {},
    "fault": {"kind": "ghost"},
    "found": {"standing_seen": "stripped"},
    "clean": {},
    "retension": {},
    "retag": {},
    "retire": {"cause": "ghost"},
}
"""What is sent with the steps of a frame beside those that make it a screen, in an order that goes with the log."""

ELSEWHERE = {("screen", "print")}
"""Steps that nobody posts: a count writes what its screens printed."""

EACH = {
    "/runs/<int:number>": "SELECT id FROM runs",
    "/runs/<int:number>/sheet": "SELECT id FROM runs",
    "/runs/<int:number>/comparison": "SELECT id FROM runs",
    "/print/run/<int:number>": "SELECT id FROM runs",
    "/jobs/<code>": "SELECT code FROM jobs",
    "/jobs/<code>/plan": "SELECT code FROM jobs WHERE id % 3 = 0",
    "/jobs/<code>/again": "SELECT code FROM jobs",
    "/jobs/<code>/change": "SELECT code FROM jobs",
    "/jobs/<code>/ink": "SELECT code FROM jobs",
    "/jobs/<code>/versions": "SELECT code FROM jobs",
    "/print/job/<code>": "SELECT code FROM jobs",
    "/print/sent/<post>": "",
    "/t/<path:text>": "SELECT min(thing), code FROM codes GROUP BY kind UNION SELECT thing, code FROM codes "
    "WHERE kind IN ('job', 'place') UNION SELECT thing, code FROM codes WHERE kind = 'screen' AND thing % 4 = 0",
    "/screens/<code>": "SELECT id, code FROM screens WHERE id % 3 = 0",
    "/screens/<code>/from-paper": "SELECT id, code FROM screens WHERE id % 9 = 0",
    "/runs/<int:number>/from-paper": "SELECT id FROM runs WHERE id % 3 = 0",
    "/desk/screens/<code>": "SELECT id, code FROM screens WHERE id % 3 = 1",
    "/places/<code>": "SELECT code FROM places",
    "/desk/stocktake/<code>": "SELECT code FROM places WHERE kind <> 'press'",
    "/print/<any(bucket, place):kind>/<code>": "SELECT 'bucket', code FROM buckets LIMIT 2",
    "/buckets/<code>": "SELECT code FROM buckets",
    "/desk/trace/<code>": "SELECT code FROM buckets UNION SELECT code FROM jobs",
    "/desk/cost/<code>": "SELECT code FROM jobs",
    "/api/<part>": "",
    "/api/<part>/<code>": "",
    "/exposure-units/<name>": "SELECT name FROM exposure_units",
    "/spec/<int:number>": "SELECT id FROM spec WHERE id % 20 = 0",
    "/desk/files/<name>": 'SELECT value FROM json_each(\'["screens", "entries", "jobs"]\')',
    "/calculator/<name>": 'SELECT value FROM json_each(\'["mesh", "probe", "tension"]\')',
    "/log.<any(csv, jsonl):kind>": "SELECT 'csv'",
    "/bring/<int:number>": "",
    "/bring/<int:number>/left-out": "",
    "/bring/template/<name>": "",
    "/pictures/<found>": "",
    "/pictures/<found>/<any(small):size>": "",
    "/static/<path:filename>": "",
    "/first-manager/<token>": "",
}
"""The pages that are about one thing, and which things of the invented shop each is asked of, the address last in a row
(empty: no page of the shop, or there is none in it). A new page of this sort adds its line."""


@pytest.fixture(scope="module")
def folder_of_demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shops.the_demo(tmp_path_factory.mktemp("statements"))


@pytest.fixture(scope="module")
def demo_app(folder_of_demo: Path) -> Iterator[Flask]:
    with shops.pages(folder_of_demo) as app:
        yield app


@pytest.fixture
def manager(demo_app: Flask) -> FlaskClient:
    return shops.signed_in(shops.phone_of(demo_app), "Di Novak", demo.SECRETS["Di Novak"][1])


@contextmanager
def traced(app: Flask, patch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """Every statement that requests send meanwhile; not what SQLite itself does for its index of words (`-- `)."""
    asked: list[str] = []

    def heard(statement: str) -> None:
        if not statement.startswith("-- "):
            asked.append(statement)

    pool = app.extensions["pool"]
    lend = pool.lend

    def watched() -> Any:
        db = lend()
        db.conn.set_trace_callback(heard)
        return db

    with patch.context() as inner:
        inner.setattr(pool, "lend", watched)
        yield asked
    db = lend()  # the connection goes back without the trace
    db.conn.set_trace_callback(None)
    pool.take_back(db)


def addresses(app: Flask, folder: Path) -> dict[str, list[str]]:
    """Every page, by its rule: the addresses that are asked for."""
    found: dict[str, list[str]] = {}
    db = store.connect(folder)
    for rule in app.url_map.iter_rules():
        if "GET" not in (rule.methods or ()):
            continue
        names = rule.rule.count("<")
        if not names:
            found[rule.rule] = [rule.rule]
        elif EACH[rule.rule]:
            rows = db.execute(EACH[rule.rule]).fetchall()
            found[rule.rule] = [_at(rule.rule, row[-names:]) for row in rows]
            assert found[rule.rule], f"{rule.rule}: the invented shop has none"
    db.close()
    return found


def _at(rule: str, values: tuple[Any, ...]) -> str:
    parts = rule.split("<")
    return parts[0] + "".join(f"{value}{part.split('>', 1)[1]}" for value, part in zip(values, parts[1:], strict=True))


def test_no_page_asks_more_often(folder_of_demo: Path, manager: FlaskClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each page of the program, of many things in the shop, after something was logged and once more."""
    app, told, known = manager.application, dict[str, tuple[int, int]](), set[str]()
    db = store.connect(folder_of_demo)
    code = db.execute("SELECT code FROM screens ORDER BY id LIMIT 1").fetchone()[0]
    db.close()
    for rule, paths in addresses(app, folder_of_demo).items():
        known.add(rule)
        for path in paths:
            sent = {"entry": secrets.token_hex(12), "note": "looked at"}
            assert manager.post(f"/screens/{code}/note", data=sent).status_code == 303
            counts = []
            for _view in ("first", "again"):
                with traced(app, monkeypatch) as asked:
                    answer = manager.get(path)
                    answer.close()
                assert answer.status_code < 500, path
                counts.append(len(asked))
            told[path] = counts[0], counts[1]
    over = {path: counts for path, counts in told.items() if max(counts) > PAGE}
    assert not over, over
    assert set(EACH) - known == {rule for rule, asked_of in EACH.items() if not asked_of}, "of what is no page any more"
    assert max(counts[0] for counts in told.values()) > 10, "the trace sees what pages ask"


def test_a_post_of_one_step_asks_no_more_often(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every step of a frame, a bucket and a run, a post after the other."""
    folder, told = shops.the_demo(tmp_path / "shop"), dict[tuple[str, str], int]()
    db = store.connect(folder)
    save_setting(db, "approve_after_pause", "yes", stamp(shops.NOW), 1)

    def first(sql: str) -> Any:
        return db.execute(sql).fetchone()[0]

    with shops.pages(folder) as app:
        phone = shops.signed_in(shops.phone_of(app), "Di Novak", demo.SECRETS["Di Novak"][1])

        def send(kind: str, step: str, of: object, at: str = "", /, **data: str) -> str:
            """Posts a step; the id of its entry."""
            phone.get("/more")  # what the settings are is known from here on
            sent = {"entry": secrets.token_hex(12), "in_hand": "yes", **data}
            with traced(app, monkeypatch) as asked:
                answer = phone.post(at or f"/{kind}s/{of}/{step}", data=sent)
            assert answer.status_code == 303, (kind, step, answer.text)
            assert sum("INTO entries" in one for one in asked) == 1, "all its entries at once"
            told[kind, step] = max(len(asked), told.get((kind, step), 0))
            return sent["entry"]

        emulsion = first("SELECT code FROM buckets WHERE kind LIKE '%emulsion' AND discarded_at IS NULL")
        rack, unit = first("SELECT name FROM places WHERE kind = 'rack'"), first("SELECT name FROM exposure_units")
        image = first("SELECT separation FROM stations t JOIN jobs j ON j.id = t.job WHERE j.closed_at IS NULL")
        bare = db.execute("SELECT code FROM screens JOIN standings ON screen = id WHERE standing = 'bare' LIMIT 2")
        (code,), (spare,) = bare.fetchall()

        def make(of: str) -> None:
            send("screen", "degrease", of)
            send("screen", "coat", of, bucket=emulsion, preset="1+1 round edge", dry="yes")
            send("screen", "image", of, separations=str(image), means="film", accept="worked before", dry="yes")
            send("screen", "expose", of, exposure_s="80", exposure_unit=unit, dry="yes")
            send("screen", "washout", of, result="good", step_held="7")
            send("screen", "check", of, result="good", dry="yes")

        run = next(one.id for one in runs.open_ones(db) if one.story.state == "printing")
        on = first(f"SELECT code FROM screens JOIN standings ON screen = id WHERE run = {run}")
        mesh = {"mesh_count_as_labelled": "110", "mesh_count_as_labelled.unit": "/in", "frame": "aluminium"}
        send("screen", "stretch", "", "/screens/new", **mesh)
        make(code)
        for kind, of in (("screen", code), ("run", run), ("bucket", emulsion)):
            wrong = send(kind, "note", of, note="looked at")
            send(kind, "cross-out", of, crosses=wrong, why="meant another one")
        for step, fields in FIELDS.items():
            send("screen", step, code, **{**fields, **({"place": rack} if step == "rack" else {})})
        make(spare)
        send("run", "count", run, good="3", misprinted="0")
        send("run", "stop", run, cause="ink", minutes="3")
        send("run", "change", run, what="squeegee", why="worn", good="2")
        send("run", "sheet", run, **{"noted": "1", "s1.squeegee": "75", "why": "ran hot"})
        send("run", "pause", run, good="1", then="keep", condition="good")
        send("screen", "hang", on, f"/runs/{run}/hang", screen=on, override="looked at")
        send("screen", "pull", on, run=str(run), condition="good", then="keep")
        send("screen", "hang", on, f"/runs/{run}/hang", screen=on, override="looked at")
        send("run", "approve", run, approved_by="Cy Marsh", approved_as="press", unnoted="leave", lab1="50 20 10")
        send("run", "start", run, override="looked at")
        send("run", "use-next-time", run, override="looked at")
        send("run", "swap", run, old=on, new=spare, why="worn", good="2", override="looked at")
        send("run", "finish", run, good="1", then="keep", condition="worn")
        job, press = first("SELECT code FROM jobs WHERE closed_at IS NULL ORDER BY due"), first(
            "SELECT name FROM places WHERE kind = 'press'")  # fmt: skip
        send("run", "open", "", "/runs", job=job, placement="1", press=press)
        mixed = {"kind": "diazo emulsion", "product": "Standard blue"}
        send("bucket", "mix", "", "/buckets/mix", **mixed)
        made = first("SELECT code FROM buckets ORDER BY id DESC")
        send("bucket", "use", made)
        send("bucket", "test", made, result="good")
        send("bucket", "discard", made, why="old")
    db.close()
    over = {name: number for name, number in told.items() if number > STEP + NAMES.get(name, 0)}
    assert not over, (over, told)
    every = {"screen": SCREEN_STEPS, "run": RUN_STEPS, "bucket": BUCKET_STEPS}
    assert {(kind, step) for kind, table in every.items() for step in table} - set(told) == ELSEWHERE


def test_the_page_of_a_run_is_short(folder_of_demo: Path, manager: FlaskClient) -> None:
    db = store.connect(folder_of_demo)
    pages = {number: manager.get(f"/runs/{number}").data for (number,) in db.execute("SELECT id FROM runs").fetchall()}
    db.close()
    told = {number: len(page.split(b"</style>")[1]) for number, page in pages.items()}
    assert len(told) > 5 and max(told.values()) <= RUN, told
