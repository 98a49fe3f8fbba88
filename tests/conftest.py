"""A fresh invented shop, its pages, a real server, and a real Chromium where there is one."""

from __future__ import annotations

import gc
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import HealthCheck, settings
from shop import HOST, PEOPLE, Clock, Shop, answered
from sqlite_utils import Database

from tickets import i18n, store
from tickets.actions import people
from tickets.cli import given
from tickets.domain.person import Actor
from tickets.store import people as rows

# How quick a machine is says nothing of what is held here: no clock decides over a property.
settings.register_profile("any machine", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("any machine")

# What is loaded to collect the tests lasts as long as they run: it is not gone through for rubbish, then or later.
gc.disable()


def pytest_collection_finish() -> None:
    """From here on there is rubbish, and it is taken away."""
    gc.freeze()
    gc.enable()


LONGEST = ("test_simulated_shop.py", "test_whole_way.py", "test_eight_heads_both_ways.py", "test_cli_process.py")
"""They begin first, so that no core waits for one of them at the end."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The longest in front; the others in their order, which keeps together what shares a shop."""
    items.sort(key=lambda item: item.path.name not in LONGEST)


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Secrets are hashed cheaply, since the tests sign in all the time, and no test waits for the disk."""
    monkeypatch.setattr(people, "HASH", shops.QUICK)
    monkeypatch.setattr(store, "SYNCHRONOUS", "OFF")
    i18n.use("en")  # a page of the test before may have been read in another language, and in other units
    i18n.use_units("")


@pytest.fixture(autouse=True)
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    """The one clock of the test, which it may move on."""
    shops.clock.now = shops.NOW
    monkeypatch.setattr(given, "clock", shops.clock)
    return shops.clock


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A fresh shop with its people."""
    return shops.staffed(tmp_path / "shop")


@pytest.fixture
def db(folder: Path) -> Iterator[Database]:
    """A connection to the shop."""
    database = store.connect(folder)
    yield database
    database.close()


@pytest.fixture
def commands(folder: Path) -> shops.Tickets:
    """Runs a command on that shop."""
    return shops.commands(folder)


@pytest.fixture
def shop(db: Database) -> Shop:
    """The shop with two presses."""
    return shops.with_presses(db)


@pytest.fixture
def bench(db: Database) -> Shop:
    """The shop as the screen room works in it: what was done is typed in later."""
    return Shop(db, shops.clock(), me="Ada Holm")


@pytest.fixture
def ada(db: Database) -> Actor:
    """Ada of the screen room, as the acts take her."""
    person = rows.find(db, "Ada Holm")
    assert person is not None
    return Actor(person.id, person.name, person.role)


@pytest.fixture
def app(folder: Path, clock: Clock) -> Iterator[Flask]:
    """The shop's pages."""
    with shops.pages(folder, clock) as made:
        yield made


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    """A phone that is signed out."""
    return shops.phone_of(app)


@pytest.fixture
def sign_in() -> Callable[[FlaskClient, str], FlaskClient]:
    """`sign_in(client, name)`: that person holds the phone from here on."""

    def act(phone: FlaskClient, name: str) -> FlaskClient:
        return shops.signed_in(phone, name, PEOPLE[name][1])

    return act


@pytest.fixture
def served(folder: Path, clock: Clock) -> Iterator[Flask]:
    """The pages that `server` serves: as in a shop, an unexpected error gives its page."""
    with shops.pages(folder, clock, testing=False) as made:
        yield made


@pytest.fixture
def server(served: Flask) -> Iterator[str]:
    """The address of a real server of the shop, on a free port: `http://shop.test:PORT`."""
    with shops.serving(served) as address:
        yield address


CHROMIUMS = (
    "chromium-headless-shell",  # the same engine without windows: a fifth of the work for a page in a fresh context
    "/usr/bin/chromium", "chromium", "chromium-browser", "google-chrome",
)  # fmt: skip


def _chromium() -> str | None:
    for name in (os.environ.get("CHROMIUM"), *CHROMIUMS):
        if name and (found := shutil.which(name)):
            return found
    return None


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """A real Chromium (playwright's Browser) that finds shop.test on this machine."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    path = _chromium()
    if path is None:
        pytest.skip("no Chromium here: install one, or name it in CHROMIUM")
    with playwright.sync_playwright() as drive:
        chromium = drive.chromium.launch(
            executable_path=path, args=["--no-sandbox", f"--host-resolver-rules=MAP {HOST} 127.0.0.1"]
        )
        yield chromium
        chromium.close()


@pytest.fixture
def phone(browser: Any, server: str) -> Iterator[Any]:
    """A page of a phone-sized Chromium (360 x 740, by touch), open at nothing yet; `server` is its base address."""
    context = browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True, base_url=server)
    page = context.new_page()
    yield page
    context.close()


@pytest.fixture
def sign_in_page() -> Callable[[Any, str], None]:
    """`sign_in_page(page, name)`: signs in as people do, by tapping the name and typing the secret."""

    def act(page: Any, name: str) -> None:
        page.goto("/sign-in")
        page.get_by_role("radio", name=name).check()
        page.fill("input[name=secret]", PEOPLE[name][1])
        with answered(page):  # what comes next is done on the page that came, not on the one that is leaving
            page.get_by_role("button", name="Sign in", exact=True).click()

    return act
