"""A shop that an earlier program made comes up sound by itself. `earlier/shop-4.sql` is such a shop, written by that
program: a bare screen hung in spite of its stage, a weak stencil coated long before, one named by eye, a limit of the
shop's own."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime
from pathlib import Path

import pytest

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
