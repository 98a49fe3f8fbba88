"""The shop's file: made, opened again, guarded, copied, and left alone when a newer program made it."""

from __future__ import annotations

import sqlite3
import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tickets import store
from tickets.floor import shop
from tickets.records.refusal import NotNow
from tickets.store import spec
from tickets.store.schema import GUARDED

NOW = datetime(2026, 3, 9, tzinfo=UTC)


def test_a_fresh_shop_has_strict_tables_and_all_its_guards(tmp_path: Path) -> None:
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


def test_a_shop_of_a_newer_program_is_left_alone(tmp_path: Path) -> None:
    db = shop.open_shop(tmp_path, NOW)
    db.execute("PRAGMA user_version = 99")
    db.close()
    with pytest.raises(NotNow, match="newer version"):
        store.prepare(tmp_path)


def test_a_file_that_is_no_shop_is_refused_in_one_line(tmp_path: Path) -> None:
    store.shop_file(tmp_path).write_bytes(b"not a database at all" * 100)
    with pytest.raises(NotNow, match="no shop file"):
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
        "SELECT * FROM standings WHERE standing = 'ready' AND count_per_cm BETWEEN 1 AND 2 "
        "ORDER BY count_per_cm, screen",
        "SELECT screen FROM standings WHERE mark_key = 'h12' AND mark_key <> ''",
        "SELECT screen FROM carries WHERE separation = 3",
    ):
        plan = " / ".join(row["detail"] for row in db.query(f"EXPLAIN QUERY PLAN {sql}"))
        assert "SCAN" not in plan and "TEMP B-TREE" not in plan, (sql, plan)
