"""How tests come to a shop: each kind is built once, by the program itself, then copied for whoever writes in it. Its
pages and commands go by a clock that the test sets.
"""

from __future__ import annotations

import compileall
import html
import os
import re
import shutil
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from itertools import count
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

import web
from tickets import cli, demo, store
from tickets.actions import buckets, hanging, jobs, people, places, runs, screens
from tickets.actions import lists as list_acts
from tickets.actions import shop as shop_acts
from tickets.actions.posting import line, numbered, write
from tickets.domain.entry import Entry, standing_lines
from tickets.domain.jobs import job as sheets
from tickets.domain.jobs.colourways import Ways
from tickets.domain.jobs.job import Job
from tickets.domain.lists import cells
from tickets.domain.lists.columns import Chosen
from tickets.domain.person import Actor
from tickets.domain.posted import form
from tickets.domain.runs.run import first_garment
from tickets.domain.runs.run_trace import InkLot, Poured
from tickets.domain.screens.screen import Life
from tickets.domain.spec import Row
from tickets.queries import find, list_now
from tickets.queries.list_now import ComesTo
from tickets.store import jobs as stored_jobs
from tickets.store import lists as kept_lists
from tickets.store import people as stored_people
from tickets.store.jobs import Saved
from tickets.store.lists import KeptList
from tickets.store.screens import Screen
from web import connections

PEOPLE = {
    "Ada Holm": ("screen room", "4711"),
    "Bo Lind": ("press", "4712"),
    "Cy Marsh": ("press lead", "4713"),
    "Di Novak": ("manager", "long-enough-password"),
}
"""The people of the invented shop: role and secret."""

QUICK = "scrypt:128:1:1"
"""How secrets are hashed in tests, which sign in all the time; what a shop uses is tested in test_people."""

ROOT = Path(__file__).parent.parent
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


def staffed(folder: Path, now: datetime = NOW) -> Path:
    """A shop that is new at that time, with PEOPLE in it and the shipped limits."""
    return _copy(_staffed(now), folder)


def the_demo(folder: Path, now: datetime = NOW) -> Path:
    """The shop that `tickets demo` would make at that time, to write in."""
    return _copy(_demo(now), folder)


Files = dict[str, bytes]


@cache
def _opened(now: datetime) -> Files:
    return _made(lambda folder: shop_acts.open_shop(folder, now).close())


@cache
def _staffed(now: datetime) -> Files:
    def build(folder: Path) -> None:
        store.prepare(folder)
        db = store.connect(folder)
        for name, (role, secret) in PEOPLE.items():
            people.add_person(db, name, role, secret, now, demo=True)  # PINs of four digits, as given out before six
        db.close()
        shop_acts.open_shop(folder, now).close()

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


web.Shop.jinja_environment = _Templates


def app_of(folder: Path, clock: Callable[[], datetime] = clock, *, testing: bool = True) -> Flask:
    """The pages of a shop, by that clock or the test's. `testing`: unexpected errors are raised, not turned
    into a page."""
    return web.create_app(folder, clock=clock, testing=testing)


def close(app: Flask) -> None:
    """Lets go of the shop's files."""
    app.extensions["pool"].close()
    for handler in list(app.logger.handlers):
        handler.close()


More = Callable[[Flask], Flask]
"""Pages beside those of the program, which a test adds to try them out."""
_idle: dict[tuple[bool, More | None], list[Flask]] = {}
"""Pages whose test is over, by whether they raise unexpected errors, and what was added to them."""


@contextmanager
def pages(
    folder: Path, clock: Callable[[], datetime] = clock, *, testing: bool = True, more: More | None = None
) -> Iterator[Flask]:
    """The same, closed behind the test; they are then the pages of another test's shop. Making them takes as long as
    all else that most tests do."""
    idle = _idle.setdefault((testing, more), [])
    if idle:
        app = idle.pop()
    else:
        app = web.every_page(testing=testing)
        app = more(app) if more else app
    before = dict(app.config)
    web.of_shop(app, folder, clock)
    try:
        yield app
    finally:
        close(app)
        app.config.clear()
        app.config.update(before)
        idle.append(app)


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
    connections.watch(made)
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
    page.wait_for_load_state()
    page.locator("html").evaluate("root => { root.dataset.before = '1' }")  # waits for a page that is just coming
    yield
    page.locator("html:not([data-before])").wait_for(state="attached")
    page.wait_for_load_state()
    page.evaluate("document.documentElement.dataset.finger = null")  # a page is read before it is tapped


TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
AXE = {"runOnly": TAGS, "rules": {"target-size": {"enabled": True}, "color-contrast": {"enabled": False}}}
"""The rules of axe that every page keeps; target-size runs only where it is named. Contrast costs as much as all the
others: a unit test reckons every pair of the palette, and axe looks for pairs beside it on a few pages (ALL_RULES)."""
ALL_RULES = {**AXE, "rules": {"target-size": {"enabled": True}}}
"""With the contrast of each text."""
_BROKEN = """rules => axe.run({...rules, resultTypes: ["violations"]}).then(
    found => found.violations.map(one => [one.id, one.nodes[0].html]))"""


def broken_rules(page: Any, rules: dict[str, Any] = AXE) -> list[list[str]]:
    """The rules of accessibility that the page in a browser breaks, each with the first piece of it that does. What axe
    found in order stays in the browser: it is long, and nobody reads it."""
    from axe_playwright_python.base import AXE_SCRIPT

    page.evaluate(AXE_SCRIPT)
    found: list[list[str]] = page.evaluate(_BROKEN, rules)
    return found


# -- what its people do


_entries = count(1)


def fresh() -> str:
    """A new entry id."""
    return f"entry-{next(_entries):016d}"


def listed(
    db: Database,
    given: str | bytes,
    kind: str = "frames",
    units: Mapping[str, str] | None = None,
    fields: Mapping[str, str] | None = None,
    now: datetime = NOW,
    **how: Any,
) -> tuple[KeptList, ComesTo]:
    """A list that was sent and looked over, with what it comes to; nothing is made. `units`, `fields`: of columns, by
    their headings, where they are not as proposed."""
    raw = cells.read(given) if isinstance(given, bytes) else cells.pasted(given)
    me = shop_acts.command_line(db, now)
    number = list_acts.send(db, me, kind, "list", raw, now=now)
    kept = list_acts.of(db, number)
    chosen = [
        Chosen((fields or {}).get(head, one.field), (units or {}).get(head, one.unit))
        for head, one in zip(kept.sheet.heads, kept.columns, strict=True)
    ]
    list_acts.choose(db, me, number, chosen, **how)
    kept = list_acts.of(db, number)
    return kept, list_now.comes_to(db, kept, now)


def looked(db: Database, given: str | bytes, **how: Any) -> ComesTo:
    """What a list comes to."""
    return listed(db, given, **how)[1]


def brought(db: Database, given: str | bytes, now: datetime = NOW, **how: Any) -> list[str]:
    """A list brought in by the command line; the codes of what it made."""
    kept, _found = listed(db, given, now=now, **how)
    list_acts.take_in(db, shop_acts.command_line(db, now), kept.id, now=now)
    return kept_lists.codes_of(db, kept.id)


@contextmanager
def nothing() -> Iterator[None]:
    """Where a test expects nothing to be raised."""
    yield


def one_colour(**station: Any) -> dict[str, Any]:
    """An invented job of one print; what its station is to have beside, or instead."""
    return {
        "title": "Marsh warbler totes",
        "customer": "Reedbed Walkers",
        "due": "2026-03-20",
        "art": {"name": "Warbler", "revision": "1"},
        "garment": [{"style": "Tote", "colour": "natural", "pieces": 100, "fibre": {"cotton": 100}}],
        "placement": [{"name": "Front", "width": "100 mm", "height": "100 mm", "station": [{
            "does": "print", "colour": "reed green", "ink": "plastisol", "coverage": "50 %", "strokes": 2,
            "mesh": {"count": "230/in", "thread": "48 um"}, **station,
        }]}],
    }  # fmt: skip


def two_colours(title: str = "Kite club tees", revision: str = "2", **more: Any) -> dict[str, Any]:
    """An invented job: white, a flash, then blue, on one placement."""
    return {
        "title": title,
        "customer": "Meadow Kite Club",
        "due": (NOW + timedelta(days=3)).date().isoformat(),
        "art": {"name": "Box kite", "revision": revision},
        "garment": [{"style": "Heavy tee", "colour": "black", "pieces": 60, "fibre": {"cotton": 100}}],
        "placement": [{"name": "Full front", "width": "300 mm", "station": [
            {"does": "print", "colour": "white", "ink": "plastisol", "mesh": {"count": "156/in"}},
            {"does": "flash", "time": "6 s"},
            {"does": "print", "colour": "blue", "ink": "plastisol", "mesh": {"count": "230/in"}},
        ]}],
        **more,
    }  # fmt: skip


MORNING = datetime(2026, 3, 9, 8, 0, tzinfo=UTC)
"""When a shop of its own begins its work, the day before NOW."""
MINUTE = timedelta(minutes=1)


class Shop:
    """An invented shop and what its people do in it, each act at the time of its clock, which then moves on by `each`.
    `me` is who acts where nobody is named: the command line, or one of PEOPLE."""

    def __init__(self, db: Database, now: datetime = NOW, each: timedelta = timedelta(), me: str = "") -> None:
        self.db, self.now, self.each = db, now, each
        self.maker, self.press, self.lead, self.manager = (self.actor(name) for name in PEOPLE)
        self.me = self.actor(me) if me else shop_acts.command_line(db, now)
        self.noted = {"frame": "aluminium"}
        self.lamp, self.bucket, self.run = "Big lamp", "", 0
        self.first_press = self.other_press = ""

    @classmethod
    def begun(cls, folder: Path) -> Shop:
        """One of its own in that folder, in the MORNING; each act takes a minute."""
        return cls(store.connect(staffed(folder, MORNING)), MORNING, MINUTE)

    def actor(self, name: str) -> Actor:
        """The person of that name, as the acts take them."""
        person = stored_people.find(self.db, name)
        assert person is not None
        return Actor(person.id, person.name, person.role)

    def tick(self, **more: float) -> datetime:
        """Moves the clock on by that much (`hours=2`), or by what an act takes; what it shows then."""
        self.now += timedelta(**more) if more else self.each
        return self.now

    # its place

    def place(self, name: str, kind: str = "rack", **more: Any) -> str:
        """A new rack, or press; its code."""
        return places.add(self.db, self.me, name, kind, post=fresh(), now=self.now, **more)

    def unit(self, name: str, lamp: str) -> None:
        """A new exposure unit."""
        places.add_unit(self.db, self.me, name, lamp, post=fresh(), now=self.now)

    def limit(self, key: str, value: float, unit: str = "", **conditions: Any) -> None:
        """The shop sets a limit of its own."""
        row = Row(0, key, value, unit, conditions, "a test of ours")
        shop_acts.add_spec_row(self.db, self.me, row, now=self.tick())

    def mix(
        self, product: str = "Emulsion A", kind: str = "dual-cure emulsion", hours_ago: float = 0, **more: str
    ) -> str:
        """A bucket of emulsion; its code."""
        sent = {"kind": kind, "product": product, "water_resistant": "yes", **more}
        at = self.tick() - timedelta(hours=hours_ago)
        return buckets.mix(self.db, self.me, form(sent), post=fresh(), now=at)

    # its jobs

    def job(self, sheet: Job | dict[str, Any] | str = "", **more: Any) -> Saved:
        """A job of that sheet, or of the sample of that name; of two colours where nothing is said."""
        if isinstance(sheet, str):
            sheet = sheets.read_file(SAMPLES / f"{sheet}.toml") if sheet else two_colours(**more)
        read = sheet if isinstance(sheet, Job) else sheets.read(sheet)
        (code,) = jobs.add(self.db, self.manager, [read], post=fresh(), now=self.tick())
        return find.job(self.db, code)

    def again(self, earlier: Saved, **changes: Any) -> Saved:
        """The same order once more, with these changes."""
        return self.job(replace(repeat_of(earlier, earlier.sheet.due), **changes))

    def images(self, colours: int, days: int = 2, art: str = "Warbler", twice: bool = False, **mesh: str) -> list[int]:
        """A job of so many colours, due in some days; the numbers of its images. `twice`: the last is the first."""
        asked = {name: text for name, text in {"count": "230/in", "thread": "48 um", **mesh}.items() if text}
        sheet = one_colour(coverage=None, strokes=None, mesh=asked)
        (station,) = sheet["placement"][0]["station"]
        plain = {name: value for name, value in station.items() if value is not None}
        names = [f"green {n % (colours - twice)}" for n in range(colours)]
        sheet["placement"][0]["station"] = [plain | {"colour": name} for name in names]
        sheet |= {"title": f"{art} totes", "art": {"name": art, "revision": "1"}}
        self.job(sheet | {"due": (self.now + timedelta(days=days)).date().isoformat()})
        rows = self.db.execute("SELECT separation FROM stations ORDER BY job DESC, station LIMIT ?", [colours])
        return [row[0] for row in rows.fetchall()]

    def separation(self, job: Saved | None = None) -> int:
        """The number of the first image of a job; of the first job that there is, if need be a new one."""
        if job is None:
            found = self.db.execute("SELECT min(id) FROM separations").fetchone()[0]
            return int(found) if found else self.separation(self.job(one_colour()))
        return stored_jobs.asked(self.db, job, 1)[0].separation

    # its screens

    def frame(self, mesh: str = "230/in", thread: str = "48", days_ago: float | None = None, **more: str) -> str:
        """A frame is registered; its code."""
        sent = {**self.noted, "mesh_count_as_labelled": mesh, "thread_um": thread, **more}
        at = self.tick() if days_ago is None else self.now - timedelta(days=days_ago)
        return screens.add(self.db, self.me, form(sent), post=fresh(), now=at)[0]

    def frames(self, number: int = 1, days_ago: float = 9, **more: str) -> list[str]:
        """So many frames alike, registered some days ago; their codes."""
        sent = {**self.noted, "mesh_count_as_labelled": "230/in", **more}
        at = self.now - timedelta(days=days_ago)
        return screens.add(self.db, self.me, form(sent), post=fresh(), now=at, number=number)

    def find(self, code: str) -> Screen:
        """A screen as it is by the log."""
        return find.screen(self.db, code)

    def life(self, code: str) -> Life:
        """Its life by the log."""
        return self.find(code).life

    def log(self, code: str, step: str, who: Actor | None = None, entry: str = "", **fields: Any) -> screens.Logged:
        """Somebody does a step and logs it."""
        sent, post = form(fields), entry or fresh()
        return screens.log(self.db, who or self.me, self.find(code), step, sent, post=post, now=self.tick())

    def past(self, code: str, step: str, hours: float = 1, **sent: Any) -> str:
        """A step that was done so many hours ago is typed in, whatever the log says of the screen; the entry's id."""
        at = (self.now - timedelta(hours=hours)).isoformat()
        return self.log(code, step, **{"in_hand": "yes", "still_needed": "yes", "at": at, **sent}).entries[-1]

    def steps(self, code: str, *steps: tuple[str, dict[str, Any]], at: datetime | None = None) -> None:
        """Steps a minute apart, from five hours ago or that time on, each logged as it is done."""
        for minutes, (step, values) in enumerate(steps):
            when = (at or self.now - timedelta(hours=5)) + timedelta(minutes=minutes)
            screens.log(self.db, self.me, self.find(code), step, form(values), post=fresh(), now=when)

    def ready(self, code: str, separation: int, **coat: Any) -> None:
        """A frame becomes a screen with this image, ready for the press."""
        self.log(code, "tension", readings_n_per_cm="24 24 23.5 24 24")
        self.log(code, "degrease")
        self.log(code, "coat", **coat)
        self.tick(hours=2)
        self.log(code, "image", separations=separation)
        self.log(code, "expose", exposure_s=80)
        self.log(code, "washout", result="good")
        self.tick(hours=2)
        self.log(code, "check", result="good")

    def made(self, code: str, images: Sequence[int], days_ago: float = 1, kept: bool = False) -> None:
        """Some days ago a frame became a screen with these images on it, ready or kept."""
        hours = days_ago * 24
        self.past(code, "coat", hours)
        self.past(code, "image", hours - 0.1, separations=[str(one) for one in images], means="film")
        self.past(code, "washout", hours - 0.2, result="good")
        self.past(code, "check", hours - 0.3, result="good")
        if kept:
            self.past(code, "decide", hours - 0.4, then="keep")

    def screen(
        self, job: Saved, station: int, until: str = "check", tension: str = "26", kind: int = 0, placement: int = 1,
        **mesh: str,
    ) -> str:  # fmt: skip
        """A screen for a station of the job's placement, logged up to `until` in the hours before now; its code.
        `kind`: the station of two_colours whose mesh it has, where the job is another one."""
        asked = next(one for one in stored_jobs.asked(self.db, job, placement) if one.number == station)
        count, thread = {1: ("156/in", "64"), 3: ("230/in", "48")}[kind or station]
        sent = {**self.noted, "mesh_count_as_labelled": count, "thread_um": thread, **mesh}
        start = self.now - timedelta(hours=9)
        (code,) = screens.add(self.db, self.maker, form(sent), post=fresh(), now=start)
        steps: dict[str, dict[str, str]] = {
            "tension": {"readings_n_per_cm": tension},
            "degrease": {},
            "coat": {},
            "image": {"separations": str(asked.separation)},
            "expose": {"exposure_s": "60"},
            "washout": {"result": "good"},
            "check": {"result": "good"},
        }
        for hours, (step, values) in enumerate(steps.items(), 1):
            at = start + timedelta(hours=hours)
            screens.log(self.db, self.maker, self.find(code), step, form(values), post=fresh(), now=at)
            if step == until:
                break
        return code

    def screens_for(self, job: Saved, **coat: Any) -> dict[int, str]:
        """Screens made for every printing station of the first placement."""
        made = {}
        for asked in stored_jobs.asked(self.db, job, 1):
            code = made[asked.number] = self.frame(asked.mesh.split(" ")[0], str(asked.thread_um))
            self.ready(code, asked.separation, **coat)
        return made

    # its lamps

    def coated(self, code: str, bucket: str | None = None, preset: str = "2+1 round edge") -> None:
        """A frame is coated and has an image laid on it, ready to be exposed."""
        self.log(code, "degrease")
        self.log(code, "coat", bucket=self.bucket if bucket is None else bucket, preset=preset)
        self.tick(hours=2)
        self.log(code, "image", separations=self.separation())

    def taught(self, code: str, held: float, bucket: str | None = None, unit: str = "", **fields: Any) -> str:
        """One exposure with its step read, and the screen made free again; the id of the exposure's entry."""
        self.coated(code, bucket, fields.pop("preset", "2+1 round edge"))
        washed = {"result": "good", **fields.pop("washed", {})}
        entry = self.log(code, "expose", exposure_unit=unit or self.lamp, **fields).entries[0]
        self.log(code, "washout", step_held=held, **washed)
        self.log(code, "decide", then="strip", still_needed="yes")
        self.log(code, "strip")
        return entry

    # its presses

    def used(self, code: str, times: int = 1) -> None:
        """Hung, printed, pulled, cleaned, each time in another run, of which nothing else is known."""
        screen = self.find(code).id
        for _time in range(times):
            self.run += 1
            steps: dict[str, dict[str, Any]] = {
                "hang": {"run": self.run, "station": 1},
                "print": {"impressions": 50},
                "pull": {"condition": "good", "then": "keep"},
                "clean": {},
            }
            lines = [line(self.me, step, self.tick(), self.now, vals, screen=screen) for step, vals in steps.items()]
            with store.writing(self.db):
                write(self.db, numbered(fresh(), lines))

    def step(self, run: int, step: str, **fields: Any) -> None:
        """The lead logs a step of a run; `s1__squeegee` stands for `s1.squeegee`."""
        sent = form({name.replace("__", "."): value for name, value in fields.items()})
        runs.log(self.db, self.lead, run, step, sent, post=fresh(), now=self.tick())

    def set_up(self, job: Saved, hung: dict[int, str], press: str = "Press 2", **sheet: str) -> int:
        """A run with these screens on, each a head behind its station, its sheet noted; its number."""
        sent = form({"job": job.code, "placement": "1", "press": press})
        run = runs.open_run(self.db, self.lead, sent, post=fresh(), now=self.tick())
        for station, code in hung.items():
            sent = form({"screen": code, "head": station + 1, "station": station})
            hanging.hang(self.db, self.lead, run, sent, post=fresh(), now=self.tick())
        self.step(run, "sheet", **sheet)
        return run

    def approve(self, run: int, *lab: float) -> None:
        """The customer approves a piece in hand; `lab`: the colour of station 3, measured."""
        more = {"lab__3": " ".join(map(str, lab)), "lab_conditions": D50} if lab else {}
        self.step(run, "approve", approved_by="Vera Lind", approved_as="customer", how="piece in hand", **more)

    def print_out(self, run: int, then: str = "keep") -> None:
        """A hundred pieces, then the run is over."""
        self.step(run, "count", good=100, over="yes")  # also more than were ordered
        self.step(run, "finish", then=then)


def with_presses(db: Database) -> Shop:
    """The shop of that file with two presses, kept by its manager; its clock shows NOW."""
    made = Shop(db, me="Di Novak")
    made.first_press, made.other_press = (made.place(name, "press", heads=8) for name in ("Press 1", "Press 2"))
    return made


def said(page: str) -> str:
    """The text of a page's main part."""
    body = page.split("<main", 1)[1].split("</main", 1)[0]
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", body)).split())


class Desk:
    """The manager's phone at the desk, and its clock: each act is a minute after the one before."""

    def __init__(self, folder: Path, now: datetime) -> None:
        self.now = now
        self.phone = signed_in(phone_of(app_of(folder, lambda: self.now)), "Di Novak")

    def get(self, path: str) -> str:
        """A page."""
        answer = self.phone.get(path)
        assert answer.status_code == 200, (path, answer.status_code)
        return str(answer.text)

    def act(self, path: str, page: str, what: str, **sent: object) -> None:
        """Posts what a form of `page` sends; the page then says what was done, by whom and when."""
        self.now += MINUTE
        sent = {"secret": PEOPLE["Di Novak"][1], "entry": fresh(), **sent}
        answer = self.phone.post(path, data=sent)
        assert answer.status_code == 303, (path, said(answer.text))
        line = f"{what} · {self.now.day} {self.now:%b, %H:%M} · Di Novak"
        assert line in said(self.get(page)), (line, said(self.get(page)))


D50 = "D50, 2°, M1"
"""Under which light a colour was measured."""


# -- commands


_installed = TemporaryDirectory()
"""Gone when the tests are over."""


@cache
def _program() -> str:
    """A folder with the program in it, its modules compiled."""
    there = Path(_installed.name)
    for part in ("tickets", "web", "sample_jobs"):
        shutil.copytree(ROOT / part, there / part, ignore=shutil.ignore_patterns("__pycache__"))
    compileall.compile_dir(there, quiet=2)
    return str(there)


def as_installed(**more: str) -> dict[str, str]:
    """What a process of the program finds around it, with no shop named: its modules compiled, as where it is
    installed. Else each process would compile them all anew wherever Python is told to keep nothing compiled."""
    own = {name: value for name, value in os.environ.items() if name != "TICKETS_DATA"}
    return {**own, "PYTHONPATH": _program(), "PYTHONSAFEPATH": "1", "PYTHONUNBUFFERED": "1", **more}


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
