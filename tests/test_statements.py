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

PAGE = 25
"""The most statements of any page, shown the first time since something was logged, or again."""

RUN = 25_000
"""The most bytes of a run's page: of what is seldom wanted it has links."""

STEP = 16
"""The most statements of a post that logs one step of a screen."""

EACH = {
    "/runs/<int:number>": "SELECT id FROM runs",
    "/runs/<int:number>/sheet": "SELECT id FROM runs",
    "/runs/<int:number>/comparison": "SELECT id FROM runs",
    "/print/run/<int:number>": "SELECT id FROM runs",
    "/jobs/<code>": "SELECT code FROM jobs",
    "/jobs/<code>/again": "SELECT code FROM jobs",
    "/jobs/<code>/change": "SELECT code FROM jobs",
    "/jobs/<code>/ink": "SELECT code FROM jobs",
    "/print/job/<code>": "SELECT code FROM jobs",
    "/t/<path:text>": "SELECT min(thing), code FROM codes GROUP BY kind UNION SELECT thing, code FROM codes "
    "WHERE kind IN ('job', 'place') UNION SELECT thing, code FROM codes WHERE kind = 'screen' AND thing % 4 = 0",
    "/screens/<code>": "SELECT id, code FROM screens WHERE id % 3 = 0",
    "/desk/screens/<code>": "SELECT id, code FROM screens WHERE id % 3 = 1",
    "/places/<code>": "SELECT code FROM places",
    "/desk/stocktake/<code>": "SELECT code FROM places WHERE kind <> 'press'",
    "/print/<any(bucket, place):kind>/<code>": "SELECT 'bucket', code FROM buckets LIMIT 2",
    "/buckets/<code>": "SELECT code FROM buckets",
    "/desk/trace/<code>": "SELECT code FROM buckets UNION SELECT code FROM jobs",
    "/exposure-units/<name>": "SELECT name FROM exposure_units",
    "/spec/<int:number>": "SELECT id FROM spec WHERE id % 20 = 0",
    "/desk/files/<name>": 'SELECT value FROM json_each(\'["screens", "entries", "jobs"]\')',
    "/calculator/<name>": 'SELECT value FROM json_each(\'["mesh", "probe", "tension"]\')',
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
    """Every statement that requests send meanwhile."""
    asked: list[str] = []
    pool = app.extensions["pool"]
    lend = pool.lend

    def watched() -> Any:
        db = lend()
        db.conn.set_trace_callback(asked.append)
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
    folder = shops.the_demo(tmp_path / "shop")
    db = store.connect(folder)
    code = db.execute("SELECT code FROM screens JOIN standings ON screen = id WHERE standing = 'bare'").fetchone()[0]
    db.close()
    with shops.pages(folder) as app:
        phone = shops.signed_in(shops.phone_of(app), "Ada Holm", demo.SECRETS["Ada Holm"][1])
        with traced(app, monkeypatch) as asked:
            sent = {"entry": secrets.token_hex(12)}
            answer = phone.post(f"/screens/{code}/degrease", data=sent)
        assert answer.status_code == 303, answer.text
        assert sum(one.startswith('INSERT INTO "entries"') or "INTO entries" in one for one in asked) == 1, asked
        assert len(asked) <= STEP, "\n".join(asked)


def test_the_page_of_a_run_is_short(folder_of_demo: Path, manager: FlaskClient) -> None:
    db = store.connect(folder_of_demo)
    pages = {number: manager.get(f"/runs/{number}").data for (number,) in db.execute("SELECT id FROM runs").fetchall()}
    db.close()
    told = {number: len(page) for number, page in pages.items()}
    assert len(told) > 5 and max(told.values()) <= RUN, told
