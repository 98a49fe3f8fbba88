"""A disk that is full, read-only or gone, a file that is in use, swapped, cut off or damaged: said in plain words, with
what was typed on the page, and nothing is acknowledged that is not kept."""

from __future__ import annotations

import io
import os
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from click.testing import CliRunner
from flask import Flask
from flask.testing import FlaskClient
from shop import NOW
from sqlite_utils import Database

from tickets import cli, store
from tickets.actions import screens, shop
from tickets.domain.posted import form
from tickets.domain.refusal import NotNow, Trouble
from tickets.queries import sound
from tickets.store import private, settings, trouble

TYPED = "Scratch near the <left> corner, “deep”"


class Form(HTMLParser):
    """What the form of a trouble page sends."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.sent: dict[str, list[str]] = {}
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = dict(attrs)
        if tag == "input" and has.get("type") == "hidden" and has["name"] != "next":
            self.sent.setdefault(str(has["name"]), []).append(has.get("value") or "")


def frame(db: Database) -> str:
    sent = {"mesh_count_as_labelled": "230/in", "thread_um": "48", "frame": "aluminium"}
    return screens.add(db, shop.command_line(db, NOW), form(sent), post="a-new-frame-000001", now=NOW)[0]


@pytest.fixture
def phone(
    folder: Path, app: Flask, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> FlaskClient:
    """Ada holds the phone; errors get their pages, as in a shop."""
    app.config["PROPAGATE_EXCEPTIONS"] = False
    app.testing = False
    return sign_in(client, "Ada Holm")


@pytest.fixture
def code(db: Database) -> str:
    return frame(db)


def post(phone: FlaskClient, code: str, entry: str = "note-of-a-screen-01") -> Any:
    return phone.post(f"/screens/{code}/note", data={"entry": entry, "note": TYPED, "secret": "4711"})


def notes(folder: Path) -> int:
    db = sqlite3.connect(store.shop_file(folder))
    try:
        return int(db.execute("SELECT count(*) FROM entries WHERE step = 'note'").fetchone()[0])
    finally:
        db.close()


def kept_and_sent_again(phone: FlaskClient, answer: Any, code: str, said: str) -> None:
    """The page says what is wrong, has what was typed but the secret, and its form saves it once."""
    assert answer.status_code == 503 and said in answer.text, answer.text
    assert "&lt;left&gt;" in answer.text and "4711" not in answer.text
    sent = Form(answer.text).sent
    assert sent == {"entry": ["note-of-a-screen-01"], "note": [TYPED]}


def with_pragma(monkeypatch: pytest.MonkeyPatch, app: Flask, pragma: str) -> None:
    """Every connection from here on has a pragma, until the patch is undone."""
    app.extensions["pool"].close()
    connect = store._connect

    def limited(*args: Any, **more: Any) -> Database:
        db = connect(*args, **more)
        db.execute(f"PRAGMA {pragma}")
        return db

    monkeypatch.setattr(store, "_connect", limited)


@pytest.mark.parametrize(
    ("pragma", "said"), [("max_page_count=1", "disk of the shop’s computer is full"), ("query_only=1", "is read-only")]
)
def test_a_full_or_read_only_disk_has_its_page_and_what_was_typed_is_saved_later(
    folder: Path, app: Flask, phone: FlaskClient, code: str, monkeypatch: pytest.MonkeyPatch, pragma: str, said: str
) -> None:
    with monkeypatch.context() as patched:
        with_pragma(patched, app, pragma)
        for number in range(60):  # until the pages that are there are full
            answer = post(phone, code, "note-of-a-screen-01" if number == 0 else f"note-of-a-screen-1{number:02}")
            if answer.status_code == 503:
                break
        if number:
            answer = post(phone, code, "note-of-a-screen-01" if notes(folder) == 0 else "note-of-a-screen-99")
        assert answer.status_code == 503 and said in answer.text and "Retry-After" not in answer.headers
        app.extensions["pool"].close()
    before = notes(folder)
    sent = Form(answer.text).sent
    assert sent["note"] == [TYPED] and "secret" not in sent
    for _twice in range(2):
        assert phone.post(f"/screens/{code}/note", data=sent).status_code == 303
    assert notes(folder) == before + 1


def test_while_somebody_writes_long_the_page_says_when_to_try_again(
    folder: Path, app: Flask, phone: FlaskClient, code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = store.connect(folder)
    with monkeypatch.context() as patched:
        with_pragma(patched, app, "busy_timeout=50")
        other.execute("BEGIN IMMEDIATE")
        answer = post(phone, code)
        other.conn.rollback()
    kept_and_sent_again(phone, answer, code, "try again in a few seconds")
    assert answer.headers["Retry-After"] == str(trouble.BUSY_FOR) and notes(folder) == 0
    assert phone.post(f"/screens/{code}/note", data=Form(answer.text).sent).status_code == 303
    assert notes(folder) == 1
    other.close()


def swapped(folder: Path) -> None:
    held = store.shop_file(folder).read_bytes()
    store.shop_file(folder).unlink()
    store.shop_file(folder).write_bytes(held)


def removed(folder: Path) -> None:
    for path in folder.glob("shop.db*"):
        path.unlink()


def log_removed(folder: Path) -> None:
    (folder / "shop.db-wal").unlink()


@pytest.mark.parametrize("act", [removed, swapped, log_removed])
def test_a_file_that_is_gone_or_swapped_is_noticed_at_the_next_write(
    folder: Path, app: Flask, phone: FlaskClient, code: str, act: Callable[[Path], None]
) -> None:
    assert post(phone, code, "note-of-a-screen-00").status_code == 303
    act(folder)
    kept_and_sent_again(phone, post(phone, code), code, "is gone, or another one was put in its place")
    kept_and_sent_again(phone, post(phone, code), code, "start it again")


def test_the_pages_of_a_file_that_is_damaged_say_what_to_do(
    folder: Path, app: Flask, phone: FlaskClient, code: str, db: Database
) -> None:
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    (page,) = db.execute("SELECT rootpage FROM sqlite_master WHERE name = 'standings'").fetchone()
    app.extensions["pool"].close()
    with store.shop_file(folder).open("r+b") as file:
        file.seek((page - 1) * 4096)
        file.write(b"\xa5" * 4096)
    answer = phone.get(f"/screens/{code}")
    assert answer.status_code == 503 and "tickets repair" in answer.text


CUT_OFF = """
import sqlite3, sys
from pathlib import Path
from tickets import store
from web import create_app
folder = Path(sys.argv[1])
app = create_app(folder)
phone = app.test_client()
held = app.extensions["pool"].lend()
rows = held.execute("SELECT * FROM spec")
rows.fetchone()
with store.shop_file(folder).open("r+b") as file:
    file.truncate(8192)
try:
    rows.fetchall()
except sqlite3.DatabaseError as error:
    print(store.trouble.trouble_of(error).kind)
answer = phone.get("/sign-in")
print(answer.status_code, "tickets repair" in answer.text)
"""


def test_a_file_that_is_cut_off_while_it_is_read_does_not_end_the_server(folder: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", CUT_OFF, str(folder)],
        capture_output=True, text=True, timeout=60, check=False, env=shops.as_installed(),
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (0, "damaged\n503 True\n"), done.stderr


def test_a_picture_has_to_be_chosen_again(
    folder: Path, app: Flask, phone: FlaskClient, code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patched:
        with_pragma(patched, app, "query_only=1")
        data = {"note": TYPED, "entry": "note-of-a-screen-01", "picture": (io.BytesIO(b"x"), "a.png")}
        answer = phone.post(f"/screens/{code}/note", data=data, content_type="multipart/form-data")
        app.extensions["pool"].close()
    assert answer.status_code == 503 and "choose the picture again" in answer.text and Form(answer.text).sent == {}


def test_a_defect_of_the_program_is_no_trouble_of_the_disk(
    app: Flask, phone: FlaskClient, code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    for error in (sqlite3.IntegrityError("a defect"), OSError(2, "no such file")):

        def fails(*_args: Any, one: Exception = error, **_more: Any) -> None:
            raise one

        monkeypatch.setattr("tickets.actions.screens.log", fails)
        answer = post(phone, code)
        assert answer.status_code == 500 and "The program failed here" in answer.text


def test_the_programs_log_never_fails_a_page(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "log").write_text("a file where the folder should be")
    app = shops.app_of(folder, testing=False)
    for _twice in range(2):
        app.logger.info("a line")
        assert app.test_client().get("/sign-in").status_code == 200
    assert capsys.readouterr().err.count("tickets.log") == 1
    app.extensions["pool"].close()


# -- at the start


def test_a_folder_that_once_held_a_shop_gets_no_empty_one(folder: Path) -> None:
    store.shop_file(folder).unlink()
    for again in range(2):
        with pytest.raises(NotNow, match="once held a shop"):
            shop.open_shop(folder, NOW)
        assert not store.exists(folder), again
    store.shop_file(folder).write_bytes(b"")
    with pytest.raises(NotNow, match="gone or empty"):
        shop.open_shop(folder, NOW)
    run = CliRunner().invoke(cli.root, ["settings", "set", "shop", "x", "--data", str(folder)])
    assert run.exit_code == 2 and "restore a backup into a new folder" in run.stderr


def test_a_shop_of_before_without_its_mark_is_known_by_what_it_left(tmp_path: Path) -> None:
    (tmp_path / "pictures").mkdir()
    with pytest.raises(NotNow, match="there is pictures"):
        shop.open_shop(tmp_path, NOW)


def test_a_file_that_was_cut_off_is_refused(folder: Path) -> None:
    path = store.shop_file(folder)
    with path.open("r+b") as file:
        file.truncate(path.stat().st_size // 2)
    with pytest.raises(NotNow, match=r"cut off: \d+ of \d+ pages"):
        shop.open_shop(folder, NOW)


WRITES_AND_DIES = """
import os, signal, sys
from datetime import datetime, UTC
from pathlib import Path
from tickets.actions import shop
now = datetime.now(UTC)
db = shop.open_shop(Path(sys.argv[1]), now)
shop.set_up(db, shop.command_line(db, now), "shop", "Grey Heron", now=now)
os.kill(os.getpid(), signal.SIGKILL)
"""


def test_a_write_ahead_log_that_was_deleted_is_missed(folder: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", WRITES_AND_DIES, str(folder)], timeout=60, check=False, env=shops.as_installed()
    )
    assert done.returncode == -signal.SIGKILL
    log = folder / "shop.db-wal"
    held = log.read_bytes()
    log.unlink()
    with pytest.raises(NotNow, match="what was written last"):
        shop.open_shop(folder, NOW)
    log.write_bytes(held)
    db = shop.open_shop(folder, NOW)
    assert settings.setting(db, "shop") == "Grey Heron"
    db.close()


def test_without_the_write_ahead_log_repair_goes_on(folder: Path) -> None:
    subprocess.run(
        [sys.executable, "-c", WRITES_AND_DIES, str(folder)], timeout=60, check=False, env=shops.as_installed()
    )
    (folder / "shop.db-wal").unlink()
    mended = CliRunner().invoke(cli.root, ["repair", "--data", str(folder)])
    assert mended.exit_code == 0, mended.output
    shop.open_shop(folder, NOW).close()


def test_a_server_looks_at_every_page_before_it_begins(
    folder: Path, db: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tickets.cli.serve._run", lambda _server: pytest.fail("it serves"))
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    (page,) = db.execute("SELECT rootpage FROM sqlite_master WHERE name = 'washouts_by_time'").fetchone()
    db.close()
    with store.shop_file(folder).open("r+b") as file:
        file.seek((page - 1) * 4096)
        file.write(b"\xa5" * 4096)
    run = CliRunner().invoke(cli.root, ["serve", "--host", "127.0.0.1", "--port", "0", "--data", str(folder)])
    assert run.exit_code == 2 and "tickets repair" in run.stderr


# -- long work


def test_long_work_lets_others_write(folder: Path, db: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    """A rebuild of 60 slow screens, half a second in all: whoever writes meanwhile waits for a turn of it at most."""
    monkeypatch.setattr(store, "HELD", 0.05)
    held: list[float] = []
    done = threading.Event()

    def other() -> None:
        mine = store.connect(folder)
        while not done.is_set():
            began = time.monotonic()
            with store.writing(mine):
                held.append(time.monotonic() - began)
            time.sleep(0.01)
        mine.close()

    thread = threading.Thread(target=other)
    thread.start()
    store.in_turns(db, range(60), lambda _number: time.sleep(0.01))
    done.set()
    thread.join()
    assert len(held) > 5 and max(held) < 0.4, held


def test_what_is_rebuilt_inside_a_transaction_is_undone_with_it(db: Database) -> None:
    with pytest.raises(RuntimeError), store.writing(db):
        store.in_turns(db, range(3), lambda number: db.execute("INSERT INTO tries VALUES (?, 1, '')", [str(number)]))
        raise RuntimeError
    assert db.execute("SELECT count(*) FROM tries").fetchone()[0] == 0


def test_steps_that_were_set_but_not_worked_out_are_when_the_shop_is_opened(
    folder: Path, db: Database, code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(_db: Database) -> None:
        raise RuntimeError("no power")

    shop.open_shop(folder, NOW).close()
    assert store.rules_of(db) == shop.RULES
    with monkeypatch.context() as patched:
        patched.setattr(shop, "rebuild", fails)
        with pytest.raises(RuntimeError):
            shop.set_up(db, shop.command_line(db, NOW), "steps", ["image", "check", "hang"], now=NOW)
    assert store.rules_of(db) == 0
    again = shop.open_shop(folder, NOW)
    assert store.rules_of(again) == shop.RULES and sound.check(again) == []
    again.close()


def test_only_one_works_a_shop_out_anew(folder: Path, db: Database) -> None:
    with store.writing(db):
        store.note_rules(db, 0, "2026-03-09")
    with store.only_one(db, "working.lock") as mine:
        assert mine
        with pytest.raises(Exception, match="Try again in a minute"):
            shop.open_shop(folder, NOW)
    shop.open_shop(folder, NOW).close()


# -- what errors mean


@pytest.fixture
def full(tmp_path: Path) -> Iterator[Path]:
    """A file system of 3 MB, where the tests may make one."""
    there = tmp_path / "small"
    there.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=3m", "tmpfs", str(there)]
    made = subprocess.run(mount, capture_output=True, check=False)
    if made.returncode:
        pytest.xfail("no file system may be mounted here")
    yield there
    subprocess.run(["umount", "-l", str(there)], check=True)


@pytest.mark.parametrize(
    ("error", "kind"),
    [
        (OSError(28, "No space left on device"), "full"),
        (OSError(30, "Read-only file system"), "read-only"),
        (OSError(5, "Input/output error"), "failed"),
        (OSError(2, "No such file"), None),
        (ValueError("x"), None),
    ],
)
def test_errors_of_the_disk_are_told_apart(error: Exception, kind: str | None) -> None:
    known = trouble.trouble_of(error)
    assert (known.kind if known else None) == kind
    assert known is None or isinstance(known, Trouble)


@pytest.mark.parametrize(
    ("code", "kind"),
    [
        (sqlite3.SQLITE_BUSY_SNAPSHOT, "busy"), (sqlite3.SQLITE_IOERR_SHORT_READ, "damaged"),
        (sqlite3.SQLITE_FULL, "full"), (sqlite3.SQLITE_IOERR_READ, "failed"),
        (sqlite3.SQLITE_READONLY_DBMOVED, "gone"), (sqlite3.SQLITE_CANTOPEN, "gone"),
        (sqlite3.SQLITE_NOTADB, "damaged"), (sqlite3.SQLITE_CONSTRAINT_UNIQUE, None),
    ],
)  # fmt: skip
def test_errors_of_the_file_are_told_apart(code: int, kind: str | None) -> None:
    error = sqlite3.OperationalError("x")
    error.sqlite_errorcode = code
    known = trouble.trouble_of(error)
    assert (known.kind if known else None) == kind


def test_a_room_that_is_really_full(full: Path) -> None:
    """On a file system of 3 MB: nothing is half made, each command says it, and all is well once there is room."""
    run = CliRunner()
    folder, data = full / "shop", ["--data", str(full / "shop")]
    assert run.invoke(cli.root, ["settings", "set", "shop", "Grey Heron", *data]).exit_code == 0
    with (full / "filler").open("wb", buffering=0) as file:
        try:
            while True:
                file.write(b"x" * 4096)
        except OSError:
            pass
    added = ["screen", "add", "--count", "230/in", "--frame", "aluminium", "--number", "20", *data]
    refused = run.invoke(cli.root, added)
    assert refused.exit_code == 2 and "is full" in refused.stderr, refused.output
    away = run.invoke(cli.root, ["backup", str(full.parent / "away.zip"), *data])
    assert away.exit_code == 0, away.output
    here = run.invoke(cli.root, ["backup", str(full / "here.zip"), *data])
    assert here.exit_code == 2 and "make room" in here.stderr, here.output
    assert sorted(path.name for path in full.iterdir()) == ["filler", "shop"]
    (full / "filler").unlink()
    assert run.invoke(cli.root, added).exit_code == 0
    db = shop.open_shop(folder, NOW)
    assert sound.check(db) == [] and db.table("entries").count == 20
    db.close()


def test_locks_die_with_their_program(tmp_path: Path) -> None:
    with private.opened(tmp_path / "one", "w") as first, private.opened(tmp_path / "one", "w") as second:
        assert private.lock(first) and not private.lock(second)
    with private.opened(tmp_path / "one", "w") as third:
        assert private.lock(third)
    assert os.listdir(tmp_path) == ["one"]
