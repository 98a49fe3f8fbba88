"""A shop that an earlier program made comes up sound by itself. `earlier/shop-4.sql` is such a shop, written by that
program: a bare screen hung in spite of its stage, a weak stencil coated long before, one named by eye, a limit of the
shop's own. `earlier/shops.tar.xz` holds one of every schema there was, `shop-NN.db`, each written through the commands
of the program of that time: a job of two colours, three screens, two of them hung in a run that prints."""

from __future__ import annotations

import hashlib
import json
import sqlite3
import tarfile
from datetime import UTC, datetime
from pathlib import Path

import pytest
import shop as shops

from tickets import store
from tickets.actions import shop
from tickets.calculator.defaults import DEFAULTS
from tickets.domain.refusal import NotNow
from tickets.queries import sound
from tickets.queries.shop_rules import the_spec

NOW = datetime(2026, 6, 1, tzinfo=UTC)
EARLIER = Path(__file__).parent / "earlier"


@pytest.fixture
def earlier(tmp_path: Path) -> Path:
    """The folder of a shop as the earlier program left it."""
    db = sqlite3.connect(store.shop_file(tmp_path))
    db.executescript((EARLIER / "shop-4.sql").read_text(encoding="utf-8"))
    db.close()
    return tmp_path


def test_a_shop_made_by_an_earlier_program_comes_up_sound(earlier: Path) -> None:
    db = shop.open_shop(earlier, NOW)
    assert sound.check(db) == []
    assert store.rules_of(db) == shop.RULES
    assert (earlier / f"shop-before-{store.VERSION}.db").exists()


def test_what_was_worked_out_by_earlier_rules_is_worked_out_anew_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.open_shop(tmp_path, NOW).close()
    done: list[str] = []
    monkeypatch.setattr(shop, "rebuild", lambda db: done.append("rebuilt"))
    shop.open_shop(tmp_path, NOW).close()
    assert done == []
    monkeypatch.setattr(shop, "RULES", shop.RULES + 1)
    shop.open_shop(tmp_path, NOW).close()
    shop.open_shop(tmp_path, NOW).close()
    assert done == ["rebuilt"]


def test_a_rebuild_that_fails_leaves_the_shop_to_be_rebuilt(earlier: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(db: object) -> None:
        raise RuntimeError("no power")

    with monkeypatch.context() as patched:
        patched.setattr(shop, "rebuild", fails)
        with pytest.raises(RuntimeError):
            shop.open_shop(earlier, NOW)
    db = store.connect(earlier)
    assert store.rules_of(db) == 0
    db.close()
    assert sound.check(shop.open_shop(earlier, NOW)) == []


def test_a_shop_of_newer_rules_is_left_alone(tmp_path: Path) -> None:
    db = shop.open_shop(tmp_path, NOW)
    with store.writing(db):
        store.note_rules(db, shop.RULES + 1, "2026-06-01")
    db.close()
    with pytest.raises(NotNow, match="newer version"):
        shop.open_shop(tmp_path, NOW)


def test_an_earlier_shop_gets_the_limits_that_came_since_and_keeps_its_own(earlier: Path) -> None:
    limits = the_spec(shop.open_shop(earlier, NOW))
    assert limits.value("tension-ceiling", count_per_in=305) == 38  # the shop's own row: the shop knows better
    keys = {row.key for row in limits.rows}
    assert {one.key for one in DEFAULTS} <= keys


# -- every schema there was

WRITTEN = datetime(2026, 11, 30, 21, tzinfo=UTC)
"""When the shops of `shops.tar.xz` were written, or a little later."""


def schemas() -> list[str]:
    with tarfile.open(EARLIER / "shops.tar.xz") as packed:
        return packed.getnames()


def as_it_was(name: str, folder: Path) -> Path:
    """The folder of a shop of `shops.tar.xz`."""
    folder.mkdir()
    with tarfile.open(EARLIER / "shops.tar.xz") as packed:
        file = packed.extractfile(name)
        assert file is not None
        store.shop_file(folder).write_bytes(file.read())
    return folder


def log_of(file: Path) -> str:
    """A mark of every entry in a file, as it stands there."""
    there = sqlite3.connect(file)
    rows = there.execute("SELECT * FROM entries ORDER BY id").fetchall()
    there.close()
    assert len(rows) >= 29
    return hashlib.sha256(json.dumps(rows).encode()).hexdigest()


NEVER = frozenset({3, *range(19, 26)})
"""No program was ever handed on with these schemas: several changes came as one."""


def test_there_is_a_shop_of_every_schema() -> None:
    numbers = [number for number in range(1, max(store.VERSION, 19)) if number not in NEVER]
    assert schemas() == [f"shop-{number:02}.db" for number in numbers]


@pytest.mark.parametrize("name", schemas())
def test_a_shop_of_every_schema_comes_up_sound_and_what_it_was_stands_beside_it(name: str, tmp_path: Path) -> None:
    folder = as_it_was(name, tmp_path / "shop")
    before = log_of(store.shop_file(folder))
    for place in (folder, tmp_path / "again"):
        db = shop.open_shop(place, WRITTEN)
        assert sound.check(db) == []
        assert store.version_of(db) == store.VERSION
        db.close()
        assert log_of(store.shop_file(place)) == before
        there = next(folder.glob("shop-before-*.db"), None)
        if there is None:
            break
        (tmp_path / "again").mkdir()
        there.rename(store.shop_file(tmp_path / "again"))  # which then comes up the same way
    assert place != folder or name == schemas()[-1]


@pytest.mark.parametrize(
    "name", [one if at in (0, len(schemas()) - 2) else pytest.param(one, marks=pytest.mark.slow)
             for at, one in enumerate(schemas())]
)  # fmt: skip
def test_the_pages_of_a_shop_of_every_schema_open_and_it_is_logged_on(name: str, tmp_path: Path) -> None:
    folder = as_it_was(name, tmp_path / "shop")
    with shops.pages(folder, shops.Clock(WRITTEN)) as app:
        db = store.connect(folder)
        codes = dict(db.execute("SELECT kind, max(code) FROM codes GROUP BY kind").fetchall())
        hung = db.execute("SELECT code FROM codes WHERE kind = 'screen' ORDER BY thing LIMIT 1").fetchone()[0]
        phone = shops.signed_in(shops.phone_of(app), "Dido", "quiet mooring 7")
        for path in ("/desk", "/screen-room", "/press", "/screens", "/jobs", "/log", "/settings", "/spec", "/runs/1",
                     f"/screens/{hung}", f"/jobs/{codes['job']}", f"/t/{codes['screen']}"):  # fmt: skip
            assert phone.get(path).status_code == 200, path
        for path, sent in ((f"/screens/{hung}/note", {"note": "seen"}), ("/runs/1/stop", {"cause": "ink"})):
            answer = phone.post(path, data={"entry": shops.fresh(), **sent})
            assert answer.status_code in (200, 303), shops.said(answer.text)
        assert sound.check(db) == []
        db.close()
