"""What a server keeps between pages (with a connection, with the process) is never older than the shop: after each sort
of change, made by somebody else, its pages say what those of a server say that has kept nothing."""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from flask.testing import FlaskClient
from sqlite_utils import Database

from tickets import demo, store
from tickets.actions import people, places, screens
from tickets.actions import shop as shop_acts
from tickets.domain.entry import stamp
from tickets.domain.person import Actor
from tickets.domain.posted import form
from tickets.domain.spec import Row
from tickets.queries import find
from tickets.store import people as people_rows
from tickets.store import places as place_rows
from tickets.store.settings import save_setting
from web import screens as web_screens
from web import steps, support

NEW_EACH_TIME = re.compile(r'(name="entry" value=")[^"]+|("[\d-]+[0-9a-f]{20}\w*")|(\?v=)\w+')
MANAGER = "Di Novak"


def fresh() -> str:
    return secrets.token_hex(12)


def one(db: Database, asked: str) -> Any:
    return db.execute(asked).fetchone()[0]


def logged(db: Database, me: Actor, step: str, **sent: str) -> None:
    code = one(db, "SELECT code FROM screens JOIN standings ON screen = id WHERE standing = 'kept' ORDER BY id LIMIT 1")
    screens.log(db, me, find.screen(db, code), step, form(sent), post=fresh(), now=shops.clock())


def crossed_out(db: Database, me: Actor) -> None:
    last = one(db, "SELECT entry FROM entries WHERE screen IS NOT NULL ORDER BY id DESC LIMIT 1")
    code = one(db, "SELECT code FROM screens WHERE id = (SELECT screen FROM entries ORDER BY id DESC LIMIT 1)")
    sent = form({"crosses": last, "why": "wrong screen"})
    screens.log(db, me, find.screen(db, code), "cross-out", sent, post=fresh(), now=shops.clock())


def renamed(db: Database, me: Actor, was: str, becomes: str) -> None:
    place = place_rows.find(db, was)
    assert place is not None
    places.change(db, me, place, becomes, place.heads, post=fresh(), now=shops.clock())


def gone(db: Database, me: Actor) -> None:
    person = people_rows.find(db, "Cy Marsh")
    assert person is not None
    people.leave(db, person.id, shops.clock(), by=me)


def limit(db: Database, me: Actor, key: str, value: float, unit: str) -> None:
    shop_acts.add_spec_row(db, me, Row(0, key, value, unit, {}, "a test of ours"), now=shops.clock())


def new_lamp(db: Database, me: Actor) -> None:
    places.change_lamp(db, me, one(db, "SELECT name FROM exposure_units"), post=fresh(), now=shops.clock())


def set_to(name: str, value: Any) -> Callable[[Database, Actor], None]:
    return lambda db, me: save_setting(db, name, value, stamp(shops.clock()), me.id)


CHANGES: tuple[tuple[str, Callable[[Database, Actor], None]], ...] = (
    ("a screen is put away", lambda db, me: logged(db, me, "rack", place="Rack 1")),
    ("that is crossed out", crossed_out),
    ("a rack has another name", lambda db, me: renamed(db, me, "Rack 2", "Top shelf")),
    ("a press has another name", lambda db, me: renamed(db, me, "Press 1", "The old press")),
    ("a person leaves", gone),
    ("a limit is set", lambda db, me: limit(db, me, "tension-age", 3, "d")),
    ("a lamp is new", new_lamp),
    ("the shop has another name", set_to("shop", "Otherwise Prints")),
    ("units are inches", set_to("units", "us")),
    ("a step is no longer logged", set_to("steps", ["coat", "expose", "washout", "hang"])),
    ("the zone is another one", set_to("zone", "America/New_York")),
)
PAGES = {
    "/desk": "", "/desk/short": "", "/screen-room": "", "/press": "", "/screens": "", "/mesh-lives": "", "/log": "",
    "/people": "",
    "/runs/{}": "SELECT id FROM runs WHERE done_at IS NULL",
    "/places/{}": "SELECT code FROM places WHERE name = 'Rack 2'",
    "/screens/{}": "SELECT code FROM screens JOIN standings ON screen = id WHERE standing = 'coated'",
    "/t/{}": "SELECT code FROM screens JOIN standings ON screen = id WHERE standing = 'kept' ORDER BY id",
    "/exposure-units/{}": "SELECT name FROM exposure_units",
}  # fmt: skip


def forgotten() -> None:
    """What the process keeps goes; what its connections keep goes with them."""
    support._kept_frames.clear()
    steps._kept_shapes.clear()
    web_screens._links.cache_clear()


def seen(phone: FlaskClient, paths: list[str]) -> dict[str, str]:
    return {path: NEW_EACH_TIME.sub("", phone.get(path).text) for path in paths}


@pytest.fixture(scope="module")
def afterwards(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, tuple[dict[str, str], dict[str, str]]]]:
    """After each change: what the server says that has been asked all along, and what one that has kept nothing."""
    folder: Path = shops.the_demo(tmp_path_factory.mktemp("kept") / "shop")
    db = store.connect(folder)
    person = people_rows.find(db, MANAGER)
    assert person is not None
    me = Actor(person.id, person.name, person.role)
    paths = [path.format(one(db, asked)) if asked else path for path, asked in PAGES.items()]
    found = {}
    with shops.pages(folder) as warm:
        phone = shops.signed_in(shops.phone_of(warm), MANAGER, demo.SECRETS[MANAGER][1])
        seen(phone, paths)
        for what, change in CHANGES:
            change(db, me)
            kept = seen(phone, paths)
            with shops.pages(folder) as cold:
                other = shops.signed_in(shops.phone_of(cold), MANAGER, demo.SECRETS[MANAGER][1])
                forgotten()
                found[what] = kept, seen(other, paths)
    db.close()
    yield found


@pytest.mark.parametrize("what", [what for what, _change in CHANGES])
def test_no_page_is_older_than_the_shop(
    afterwards: dict[str, tuple[dict[str, str], dict[str, str]]], what: str
) -> None:
    kept, anew = afterwards[what]
    assert [path for path in kept if kept[path] != anew[path]] == []


def test_each_change_shows_somewhere(afterwards: dict[str, tuple[dict[str, str], dict[str, str]]]) -> None:
    """Else the pages looked at would be the wrong ones."""
    told = list(afterwards.values())
    same = [CHANGES[n + 1][0] for n, (one, two) in enumerate(zip(told, told[1:], strict=False)) if one[0] == two[0]]
    assert same == []
