"""How tests come to a shop: each kind is built once, by the program itself, then copied for whoever writes in it. Its
pages and commands go by a clock that the test sets.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch

from click.testing import CliRunner, Result
from flask import Flask
from flask.templating import Environment
from flask.testing import FlaskClient
from jinja2 import BytecodeCache
from jinja2.bccache import Bucket
from sqlite_utils import Database
from werkzeug.routing import Rule

import web
from tickets import cli, demo, store
from tickets.actions import people
from tickets.actions import shop as shop_acts
from tickets.domain.entry import Entry, standing_lines
from tickets.domain.jobs.colourways import Ways
from tickets.domain.jobs.job import Job
from tickets.domain.runs.run import first_garment
from tickets.domain.runs.run_trace import InkLot, Poured
from tickets.store.jobs import Saved

PEOPLE = {
    "Ada Holm": ("screen room", "4711"),
    "Bo Lind": ("press", "4712"),
    "Cy Marsh": ("press lead", "4713"),
    "Di Novak": ("manager", "long-enough-password"),
}
"""The people of the invented shop: role and secret."""

QUICK = "scrypt:128:1:1"
"""How secrets are hashed in tests, which sign in all the time; what a shop uses is tested in test_people."""

SAMPLES = demo.sample_folder()
Tickets = Callable[..., Result]

HOST = "shop.test"
"""A name that is not localhost: browsers allow pages there less, as they do in a real shop."""

NOW = datetime(2026, 3, 10, 10, 0, tzinfo=UTC)
"""When the tests happen, a Tuesday."""


class Clock:
    """A clock that moves on by a hundredth of a second whenever somebody looks at it, and by itself not at all."""

    def __init__(self, now: datetime = NOW) -> None:
        self.now = now

    def __call__(self) -> datetime:
        self.now += timedelta(milliseconds=10)
        return self.now

    def on(self, **more: float) -> None:
        """Moves on by that much: `on(minutes=5)`."""
        self.now += timedelta(**more)


clock = Clock()
"""The one clock of a test, at NOW when it begins: of pages, of commands, and of what the test itself does."""


# -- folders


def opened(folder: Path, now: datetime) -> Database:
    """What `tickets.actions.shop.open_shop` makes of a folder without a shop: a new one, with the shipped limits."""
    _copy(_opened(now), folder)
    return store.connect(folder)


def staffed(folder: Path) -> Path:
    """A new shop with PEOPLE in it, and no limits yet."""
    return _copy(_staffed(), folder)


def the_demo(folder: Path, now: datetime = NOW) -> Path:
    """The shop that `tickets demo` would make at that time, to write in."""
    return _copy(_demo(now), folder)


Files = dict[str, bytes]


@cache
def _opened(now: datetime) -> Files:
    return _made(lambda folder: shop_acts.open_shop(folder, now).close())


@cache
def _staffed() -> Files:
    def build(folder: Path) -> None:
        store.prepare(folder)
        db = store.connect(folder)
        for name, (role, secret) in PEOPLE.items():
            people.add_person(db, name, role, secret, NOW, demo=True)  # PINs of four digits, as given out before six
        db.close()

    return _made(build)


@cache
def _demo(now: datetime) -> Files:
    return _made(lambda folder: demo.build(folder, now))


def _made(build: Callable[[Path], Any]) -> Files:
    """The files of a shop that `build` makes in a folder."""
    with TemporaryDirectory() as made, patch.object(people, "HASH", QUICK):
        folder = Path(made) / "shop"
        build(folder)
        return {str(one.relative_to(folder)): one.read_bytes() for one in folder.rglob("*") if one.is_file()}


def _copy(files: Files, folder: Path) -> Path:
    """Those files in a folder, their owner's alone, as the program makes them."""
    for name, content in files.items():
        file = folder / name
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        file.touch(mode=0o600)
        file.write_bytes(content)
    return folder


# -- pages


class _Compiled(BytecodeCache):
    """Templates that one app compiled serve the next, as long as their text is the same."""

    def __init__(self) -> None:
        self.kept: dict[str, bytes] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """The code of a template, if it was compiled before."""
        if code := self.kept.get(f"{bucket.key} {bucket.checksum}"):
            bucket.bytecode_from_string(code)

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keeps what was compiled."""
        self.kept[f"{bucket.key} {bucket.checksum}"] = bucket.bytecode_to_string()


_compiled = _Compiled()


class _Templates(Environment):
    """The templates of an app."""

    def __init__(self, app: Flask, **options: Any) -> None:
        super().__init__(app, bytecode_cache=_compiled, **options)


_BUILDERS: dict[tuple[Any, ...], Callable[..., tuple[str, str]]] = {}


class _Address(Rule):
    """An address of an app, whose builder is compiled once for all apps: making an app is little else."""

    def _compile_builder(self, append_unknown: bool = True) -> Callable[..., tuple[str, str]]:
        key = (self.rule, self.endpoint, str(self.defaults), tuple(self._trace), append_unknown)
        if key not in _BUILDERS:
            _BUILDERS[key] = super()._compile_builder(append_unknown)
        return _BUILDERS[key]


web.Shop.jinja_environment = _Templates
web.Shop.url_rule_class = _Address


def app_of(folder: Path, clock: Callable[[], datetime] = clock, *, testing: bool = True) -> Flask:
    """The pages of a shop, by that clock or the test's. `testing`: unexpected errors are raised, not turned
    into a page."""
    return web.create_app(folder, clock=clock, testing=testing)


def close(app: Flask) -> None:
    """Lets go of the shop's files."""
    app.extensions["pool"].close()
    for handler in list(app.logger.handlers):
        handler.close()


@contextmanager
def pages(folder: Path, clock: Callable[[], datetime] = clock, *, testing: bool = True) -> Iterator[Flask]:
    """The same, closed behind the test."""
    app = app_of(folder, clock, testing=testing)
    try:
        yield app
    finally:
        close(app)


def phone_of(app: Flask) -> FlaskClient:
    """A phone that is signed out; it sends the Origin that browsers send."""
    phone = app.test_client()
    phone.environ_base["HTTP_ORIGIN"] = "http://localhost"
    return phone


def signed_in(phone: FlaskClient, name: str, secret: str = "") -> FlaskClient:
    """That phone in the hands of one of PEOPLE, or of somebody else whose secret is said."""
    answer = phone.post("/sign-in", data={"name": name, "secret": secret or PEOPLE[name][1]})
    assert answer.status_code == 303, answer.text
    return phone


@contextmanager
def serving(app: Flask) -> Iterator[str]:
    """A real server of those pages, on a free port; its address, `http://shop.test:PORT`."""
    from waitress import wasyncore
    from waitress.server import create_server

    made: Any = create_server(app, host="127.0.0.1", port=0, threads=4, clear_untrusted_proxy_headers=True)
    thread = threading.Thread(target=made.run, daemon=True)
    thread.start()
    yield f"http://{HOST}:{made.effective_port}"
    made.task_dispatcher.shutdown(cancel_pending=True, timeout=2)
    # Closed by its own loop, which then ends: browsers keep connections open, and those must be closed too.
    made.trigger.pull_trigger(lambda: wasyncore.close_all(made._map, ignore_all=True))
    thread.join(10)
    assert not thread.is_alive(), "the server did not stop"


@contextmanager
def answered(page: Any) -> Iterator[None]:
    """What is sent inside is answered when this ends: by another page, or by one that `app.js` put in its place."""
    page.evaluate("document.documentElement.dataset.before = '1'")
    yield
    page.locator("html:not([data-before])").wait_for(state="attached")
    page.wait_for_load_state()


AXE = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
"""The rules of axe that every page keeps; target-size and the others of WCAG 2.2 AA run only when asked for."""
_BROKEN = """rules => axe.run({...rules, resultTypes: ["violations"]}).then(
    found => found.violations.map(one => [one.id, one.nodes[0].html]))"""


def broken_rules(page: Any, rules: dict[str, Any] = AXE) -> list[list[str]]:
    """The rules of accessibility that the page in a browser breaks, each with the first piece of it that does. What axe
    found in order stays in the browser: it is long, and nobody reads it."""
    from axe_playwright_python.base import AXE_SCRIPT

    page.evaluate(AXE_SCRIPT)
    found: list[list[str]] = page.evaluate(_BROKEN, rules)
    return found


# -- commands


def commands(folder: Path) -> Tickets:
    """`tickets("screen", "list")` runs a command on that shop; an unexpected error is raised, not shown."""

    def run(*arguments: Any, stdin: str = "") -> Result:
        sent = [str(one) for one in arguments]
        given = {"TICKETS_DATA": str(folder)}
        return CliRunner().invoke(cli.root, sent, input=stdin, env=given, catch_exceptions=False)

    return run


def repeat_of(job: Saved, due: Any, reference: str = "") -> Job:
    """The sheet of a new job that prints this one again."""
    return replace(job.sheet, due=due, reference=reference, repeats=job.code)


def ink_lots(entries: Iterable[Entry], ways: Ways | None = None) -> tuple[InkLot, ...]:
    """The ink lots of a run from its whole log, as the program works them out entry by entry."""
    lines = standing_lines(entries)
    poured = Poured(ways or {}, first_garment(lines))
    for entry in lines:
        poured.see(entry)
    return poured.lots()
