"""How often a page of the invented shop asks its file, counted through SQLite's own trace."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from flask import Flask
from flask.testing import FlaskClient

from tickets import demo, store

Counted = Callable[[], Any]

PAGES = {
    "/desk": 20,
    "/desk/short": 13,
    "/desk/pool": 16,
    "/press": 25,
    "/screen-room": 37,
    "/log": 14,
    "/screens": 13,
    "run": 29,
    "job": 45,
}
"""The most that a page may ask when it was shown once before. Whoever needs fewer lowers the figure.
`run` and `job`: each of the shop's."""

STEP = 16
"""The most statements of a post that logs one step of a screen."""


@pytest.fixture(scope="module")
def folder_of_demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shops.the_demo(tmp_path_factory.mktemp("statements"))


@pytest.fixture(scope="module")
def demo_app(folder_of_demo: Path) -> Iterator[Flask]:
    with shops.pages(folder_of_demo, lambda: shops.NOW) as app:
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


def paths_of(folder: Path, page: str) -> list[str]:
    """The addresses of a kind of page."""
    if page.startswith("/"):
        return [page]
    db = store.connect(folder)
    wanted = {"run": "SELECT '/runs/' || id FROM runs", "job": "SELECT '/jobs/' || code FROM jobs"}[page]
    found = [row[0] for row in db.execute(wanted)]
    db.close()
    assert len(found) > 5
    return found


@pytest.mark.parametrize("page", PAGES)
def test_no_page_asks_more_often(
    page: str, folder_of_demo: Path, manager: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = {}
    for path in paths_of(folder_of_demo, page):
        manager.get(path)  # what is kept over requests is kept now
        with traced(manager.application, monkeypatch) as asked:
            assert manager.get(path).status_code == 200, path
        told[path] = len(asked)
    assert min(told.values()) > 3, "the trace sees the page's questions"
    assert max(told.values()) <= PAGES[page], told


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
        assert sum(one.startswith("INSERT INTO \"entries\"") or "INTO entries" in one for one in asked) == 1, asked
        assert len(asked) <= STEP, "\n".join(asked)
