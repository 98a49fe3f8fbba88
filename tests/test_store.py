"""The shop's file: made, opened again, guarded, copied, and left alone when a newer program made it."""

from __future__ import annotations

import json
import sqlite3
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlite_utils import Database

from tickets import store
from tickets.actions import shop
from tickets.calculator.defaults import Default
from tickets.domain.refusal import NotNow
from tickets.domain.spec import NO_LONGER, Row, Spec
from tickets.queries import sound
from tickets.store import screens, spec
from tickets.store.schema import GUARDED

NOW = datetime(2026, 3, 9, tzinfo=UTC)


def test_a_fresh_shop_has_strict_tables_and_all_its_guards(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.undo()  # it waits for the disk, as it does outside tests
    db = shop.open_shop(tmp_path, NOW)
    tables = [row for row in db.query("PRAGMA table_list") if row["type"] == "table" and row["schema"] == "main"]
    ours = [row for row in tables if not row["name"].startswith(("sqlite_", "_sqlite"))]
    assert len(ours) > 15 and all(row["strict"] for row in ours)
    assert store.guards_missing(db) == []
    assert {table for table in GUARDED} <= {row["name"] for row in ours}
    assert db.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
    for pragma, wanted in (("synchronous", 2), ("foreign_keys", 1), ("recursive_triggers", 1)):
        assert db.execute(f"PRAGMA {pragma}").fetchone()[0] == wanted


def test_opening_again_changes_nothing(tmp_path: Path) -> None:
    shop.open_shop(tmp_path, NOW).close()
    before = spec.newest(shop.open_shop(tmp_path, NOW))
    db = shop.open_shop(tmp_path, NOW)
    assert spec.newest(db) == before > 0


OLDER = (
    Default("coated-age", 21, "d", "judgement"),
    Default("tension-floor", 11, "N/cm", "judgement", {"work": "one-colour"}),
    Default("tension-floor", 14, "N/cm", "judgement", {"work": "colours"}),
    Default("keep-days", 60, "d", "judgement"),
    Default("gone", 3, "d", "judgement"),
)
NEWER = (
    Default("coated-age", 28, "d", "a maker"),
    Default("coated-age", 7, "d", "a maker", {"emulsion": "diazo"}),
    Default("tension-floor", 10, "N/cm", "judgement", {"work": "one-colour"}),
    Default("tension-floor", 15, "N/cm", "judgement", {"work": "colours"}),
    Default("tension-floor", 9, "N/cm", "judgement", {"work": "colours", "frame": "wood"}),
    Default("keep-days", 90, "d", "judgement"),
    Default("keep-days", 30, "d", "judgement", {"frame": "wood"}),
    Default("fresh", 5, "d", "judgement"),
)


def limits(db: Database) -> dict[tuple[str, str], float]:
    """What counts now, by key and conditions."""
    return {(row.key, json.dumps(dict(row.conditions))): row.value or 0 for row in Spec(spec.rows(db)).rows}


@pytest.mark.parametrize("as_version_4", [False, True], ids=["this version", "before came was noted"])
def test_a_newer_program_brings_its_limits_and_leaves_those_of_the_shop(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, as_version_4: bool
) -> None:
    """The shop changed the floor for several colours and withdrew how long to keep; it left the others as they came."""
    monkeypatch.setattr("tickets.domain.spec.DEFAULTS", OLDER)
    db = shop.open_shop(tmp_path, NOW)
    me, later = shop.command_line(db, NOW), NOW + timedelta(days=1)
    shop.add_spec_row(db, me, Row(0, "tension-floor", 17, "N/cm", {"work": "colours"}, "ours"), now=later)
    shop.add_spec_row(db, me, Row(0, "keep-days", None, "d", {}, ""), now=later)
    if as_version_4:
        db.execute("DROP TABLE shipped")
        db.execute("DELETE FROM _sqlite_migrations WHERE name = 'm005_limits_that_came_with_the_program'")
        db.execute("PRAGMA user_version = 4")
    db.close()
    monkeypatch.setattr("tickets.domain.spec.DEFAULTS", NEWER)
    db = shop.open_shop(tmp_path, later)
    expected = {
        ("coated-age", "{}"): 28,  # changed by the program
        ("coated-age", '{"emulsion": "diazo"}'): 7,  # new
        ("tension-floor", '{"work": "one-colour"}'): 10,
        ("tension-floor", '{"work": "colours"}'): 17,  # the shop's own, and nothing new that would count before it
        ("fresh", "{}"): 5,  # "gone" is shipped no more; nothing to keep for was withdrawn by the shop
    }
    assert limits(db) == expected
    rows = spec.rows(db)
    assert [row.value for row in rows if row.key == "coated-age" and not row.conditions] == [21, 28], "appended"
    assert [row.source for row in rows if row.key == "gone"] == ["judgement", NO_LONGER]
    db.close()
    again = shop.open_shop(tmp_path, later)
    assert len(spec.rows(again)) == len(rows) and store.guards_missing(again) == [] and sound.check(again) == []


def test_a_shop_of_a_newer_program_is_left_alone(tmp_path: Path) -> None:
    db = shop.open_shop(tmp_path, NOW)
    db.execute("PRAGMA user_version = 99")
    db.close()
    with pytest.raises(NotNow, match="newer version"):
        store.prepare(tmp_path)


def test_a_file_that_is_no_shop_is_refused_in_one_line(tmp_path: Path) -> None:
    store.shop_file(tmp_path).write_bytes(b"not a database at all" * 100)
    with pytest.raises(NotNow, match="not a shop file"):
        store.prepare(tmp_path)


def test_a_folder_that_cannot_be_made_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(NotNow, match="cannot be written"):
        store.prepare(tmp_path / "file" / "shop")


def test_a_read_only_folder_or_file_is_named_with_what_would_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store.prepare(tmp_path)
    for read_only, said in ((tmp_path, "Permission denied"), (store.shop_file(tmp_path), "shop.db is read-only")):
        with monkeypatch.context() as patch:
            patch.setattr("os.access", lambda path, _mode, one=read_only: Path(path) != one)
            with pytest.raises(NotNow) as refused:
                store.prepare(tmp_path)
            message = str(refused.value)
            assert str(tmp_path) in message and said in message and "make it writable" in message
    with pytest.raises(NotNow, match="make it writable"):
        store.ServeLock(store.shop_file(tmp_path) / "in a file")


def test_a_second_server_on_the_same_shop_is_refused(tmp_path: Path) -> None:
    store.prepare(tmp_path)
    first = store.ServeLock(tmp_path)
    with pytest.raises(NotNow, match="already"):
        store.ServeLock(tmp_path)
    first.release()
    store.ServeLock(tmp_path).release()


def test_a_backup_of_a_live_shop_holds_what_was_just_written(tmp_path: Path) -> None:
    db = shop.open_shop(tmp_path, NOW)
    shop.set_up(db, shop.command_line(db, NOW), "shop", "Grey Heron", now=NOW)
    store.backup(db, tmp_path / "copy.db")
    copy = sqlite3.connect(tmp_path / "copy.db")
    assert copy.execute("SELECT value FROM settings WHERE name = 'shop'").fetchone()[0] == '"Grey Heron"'
    assert copy.execute("PRAGMA user_version").fetchone()[0] == store.VERSION
    copy.close()


def test_a_failed_writing_leaves_nothing_and_writers_wait_for_each_other(tmp_path: Path) -> None:
    shop.open_shop(tmp_path, NOW).close()
    done: list[int] = []

    def add(number: int) -> None:
        db = store.connect(tmp_path)
        for _unused in range(5):
            with store.writing(db):
                count = db.execute("SELECT count(*) FROM tries").fetchone()[0]
                db.execute("INSERT INTO tries (key, failures, at) VALUES (?, 1, '')", [f"{number}-{count}"])
        done.append(number)
        db.close()

    threads = [threading.Thread(target=add, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    db = store.connect(tmp_path)
    assert len(done) == 8 and db.execute("SELECT count(*) FROM tries").fetchone()[0] == 40
    with pytest.raises(RuntimeError), store.writing(db):
        db.execute("DELETE FROM tries")
        raise RuntimeError
    assert db.execute("SELECT count(*) FROM tries").fetchone()[0] == 40


def test_the_scan_and_the_lists_ask_by_index(tmp_path: Path) -> None:
    """No question of a page may read the whole log or all screens."""
    db = shop.open_shop(tmp_path, NOW)
    for sql in (
        "SELECT * FROM codes WHERE code = 'x'",
        "SELECT life FROM standings WHERE screen = 1",
        "SELECT * FROM entries WHERE screen = 1 ORDER BY at DESC, saved_at DESC, part DESC, entry DESC LIMIT 5",
        "SELECT * FROM entries WHERE run = 1 ORDER BY at, saved_at, part, entry",
        "SELECT * FROM entries WHERE (at, id) < ('x', 1) ORDER BY at DESC, id DESC LIMIT 50",
        "SELECT * FROM standings WHERE standing = 'ready' AND count_per_cm BETWEEN 1 AND 2",
        "SELECT screen FROM standings WHERE mark_key = 'h12' AND mark_key <> ''",
        "SELECT screen FROM carries WHERE separation = 3",
    ):
        plan = " / ".join(row["detail"] for row in db.query(f"EXPLAIN QUERY PLAN {sql}"))
        assert "SCAN" not in plan and "TEMP B-TREE" not in plan, (sql, plan)


def test_a_list_of_one_stage_reads_no_more_than_its_page(tmp_path: Path) -> None:
    """It is not sorted whole to show fifty of it: that would grow with the shop."""
    db = shop.open_shop(tmp_path, NOW)
    asked: list[str] = []
    for wanted in ({"standing": "coated"}, {"standing": "coated", "there": True}, {"due": "coated"}):
        db.conn.set_trace_callback(asked.append)
        screens.inventory(db, screens.InventoryAsked(**wanted), 0, 51)
        db.conn.set_trace_callback(None)
        plan = " / ".join(row["detail"] for row in db.query(f"EXPLAIN QUERY PLAN {asked.pop()}"))
        assert "standings_by_standing (standing=? AND screen>?)" in plan and "TEMP B-TREE" not in plan, plan
