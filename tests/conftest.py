"""A fresh invented shop, its pages, a real server, and a real Chromium where there is one."""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import HealthCheck, settings
from sqlite_utils import Database

from tickets import store
from tickets.floor import people
from tickets.records.person import Actor
from tickets.store import people as rows
from web import create_app

PEOPLE = {
    "Ada Holm": ("screen room", "4711"),
    "Bo Lind": ("press", "4712"),
    "Cy Marsh": ("press lead", "4713"),
    "Di Novak": ("manager", "long-enough-password"),
}
"""The people of the invented shop: role and secret."""

# How quick a machine is says nothing of what is held here: no clock decides over a property.
settings.register_profile("any machine", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("any machine")

HOST = "shop.test"
"""A name that is not localhost: browsers allow pages there less, as they do in a real shop."""


@pytest.fixture(autouse=True)
def quick_hash(monkeypatch: pytest.MonkeyPatch) -> None:
    """Secrets hashed cheaply, since the tests sign in all the time."""
    monkeypatch.setattr(people, "HASH", "scrypt:1024:8:1")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A fresh shop with its people."""
    shop = tmp_path / "shop"
    store.prepare(shop)
    db = store.connect(shop)
    for name, (role, secret) in PEOPLE.items():
        people.add_person(db, name, role, secret, datetime.now(UTC))
    db.close()
    return shop


@pytest.fixture
def db(folder: Path) -> Iterator[Database]:
    """A connection to the shop."""
    database = store.connect(folder)
    yield database
    database.close()


@pytest.fixture
def ada(db: Database) -> Actor:
    """Ada of the screen room, as the floor takes her."""
    person = rows.find(db, "Ada Holm")
    assert person is not None
    return Actor(person.id, person.name, person.role)


@pytest.fixture
def app(folder: Path) -> Iterator[Flask]:
    """The shop's pages."""
    made = create_app(folder, testing=True)
    yield made
    made.extensions["pool"].close()
    for handler in list(made.logger.handlers):
        handler.close()


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    """A phone that is signed out; it sends the Origin that browsers send."""
    phone = app.test_client()
    phone.environ_base["HTTP_ORIGIN"] = "http://localhost"
    return phone


@pytest.fixture
def sign_in() -> Callable[[FlaskClient, str], FlaskClient]:
    """`sign_in(client, name)`: that person holds the phone from here on."""

    def act(phone: FlaskClient, name: str) -> FlaskClient:
        answer = phone.post("/sign-in", data={"name": name, "secret": PEOPLE[name][1]})
        assert answer.status_code == 303, answer.text
        return phone

    return act


@pytest.fixture
def served(folder: Path) -> Iterator[Flask]:
    """The pages that `server` serves: as in a shop, an unexpected error gives its page."""
    made = create_app(folder)
    yield made
    made.extensions["pool"].close()
    for handler in list(made.logger.handlers):
        handler.close()


@pytest.fixture
def server(served: Flask) -> Iterator[str]:
    """The address of a real server of the shop, on a free port: `http://shop.test:PORT`."""
    from waitress import wasyncore
    from waitress.server import create_server

    made: Any = create_server(served, host="127.0.0.1", port=0, threads=4, clear_untrusted_proxy_headers=True)
    thread = threading.Thread(target=made.run, daemon=True)
    thread.start()
    yield f"http://{HOST}:{made.effective_port}"
    made.task_dispatcher.shutdown(cancel_pending=True, timeout=2)
    # Closed by its own loop, which then ends: browsers keep connections open, and those must be closed too.
    made.trigger.pull_trigger(lambda: wasyncore.close_all(made._map, ignore_all=True))
    thread.join(10)
    assert not thread.is_alive(), "the server did not stop"


def _chromium() -> str | None:
    for name in (os.environ.get("CHROMIUM"), "/usr/bin/chromium", "chromium", "chromium-browser", "google-chrome"):
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
        page.get_by_role("button", name="Sign in", exact=True).click()

    return act
