"""Copies of a shop: what is made can be brought back, whatever is wrong with it; no entry is lost or forged on the way;
nothing is left where a program was killed; nobody else reads them."""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import stat
import subprocess
import sys
import zipfile
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from shop import SAMPLES, Tickets, clock

from tickets import store
from tickets.actions import backup, people, shop
from tickets.calculator.defaults import DEFAULTS
from tickets.domain.refusal import NotNow
from tickets.domain.spec import Row
from tickets.queries import exports, sound
from tickets.store import private, proof
from tickets.store.schema import GUARDED


@pytest.fixture
def data(tmp_path: Path) -> Path:
    return tmp_path / "shop"


@pytest.fixture
def tickets(data: Path, monkeypatch: pytest.MonkeyPatch) -> Tickets:
    """`tickets("backup", file)` runs a command on the shop."""
    monkeypatch.setenv("TICKETS_DATA", str(data))
    return shops.commands(data)


@pytest.fixture
def filled(tickets: Tickets, data: Path) -> Path:
    """The folder of a shop with screens, a bucket, a job with its picture, and somebody with a PIN."""
    for command in (
        ("screen", "add", "--count", "230/in", "--frame", "aluminium", "--number", "3"),
        ("bucket", "add", "--kind", "diazo emulsion"),
        ("job", "add", SAMPLES / "harbour-lights.toml"),
    ):
        done = tickets(*command)
        assert done.exit_code == 0, done.output
    tickets("person", "add", "Ada Holm", "--role", "press", "--secret-stdin", stdin="471159\n")
    return data


def row(key: str, value: float, **conditions: Any) -> Row:
    return Row(0, key, value, "d", conditions, "ours")


def logged(folder: Path) -> list[Any]:
    """Every entry, as its row stands in the file."""
    db = sqlite3.connect(store.shop_file(folder))
    try:
        return db.execute("SELECT * FROM entries ORDER BY id").fetchall()
    finally:
        db.close()


def spoil(folder: Path, table: str) -> None:
    """Damages the first page of a table, as a bad disk does."""
    path = store.shop_file(folder)
    db = sqlite3.connect(path)
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    (page,) = db.execute("SELECT rootpage FROM sqlite_master WHERE name = ?", [table]).fetchone()
    (size,) = db.execute("PRAGMA page_size").fetchone()
    db.close()
    with path.open("r+b") as file:
        file.seek((page - 1) * size)
        file.write(b"\xa5" * size)


def rezipped(file: Path, target: Path, change: Callable[[sqlite3.Connection], Any], leave: Iterable[str] = ()) -> Path:
    """A backup whose shop somebody changed, or that lacks some of its files."""
    inner = target.with_suffix(".db")
    with zipfile.ZipFile(file) as whole, zipfile.ZipFile(target, "w") as made:
        inner.write_bytes(whole.read("shop.db"))
        db = sqlite3.connect(inner)
        change(db)
        db.commit()
        db.close()
        for name in whole.namelist():
            if name not in leave:
                made.writestr(name, inner.read_bytes() if name == "shop.db" else whole.read(name))
    return target


# -- what is made can be brought back


def test_a_changed_limit_settles_what_hangs_on_it_and_the_backup_comes_back(
    filled: Path, tickets: Tickets, tmp_path: Path
) -> None:
    now = clock()
    db = shop.open_shop(filled, now)
    (before,) = db.execute("SELECT good_until FROM buckets").fetchone()
    shop.add_spec_row(db, shop.command_line(db, now), row("mixed-emulsion-age", 14, emulsion="diazo"), now=now)
    (after,) = db.execute("SELECT good_until FROM buckets").fetchone()
    assert after < before and sound.check(db) == []
    db.close()
    assert tickets("backup", tmp_path / "b.zip").exit_code == 0
    back = tickets("restore", tmp_path / "b.zip", "--data", tmp_path / "back")
    assert back.exit_code == 0, back.output
    assert logged(tmp_path / "back") == logged(filled)


def test_a_limit_that_a_newer_program_brings_settles_it_too(filled: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    newer = tuple(replace(one, value=9.0) if one.key == "mixed-emulsion-age" else one for one in DEFAULTS)
    monkeypatch.setattr("tickets.domain.spec.DEFAULTS", newer)
    db = shop.open_shop(filled, clock())
    assert sound.check(db) == []
    db.close()


def test_a_missing_picture_is_named_by_backup_and_restore_and_all_else_comes_back(
    filled: Path, tickets: Tickets, tmp_path: Path
) -> None:
    (small,) = filled.glob("pictures/*/*.small.*")
    small.unlink()
    made = tickets("backup", tmp_path / "b.zip", "--json")
    assert made.exit_code == 1 and "is missing" in made.stderr
    told = json.loads(made.stdout)  # one object, whatever was found
    assert told["pictures"] == 1 and len(told["faults"]) == 1
    back = tickets("restore", tmp_path / "b.zip", "--data", tmp_path / "back")
    assert back.exit_code == 1 and small.name in back.stderr and "copy the file from there" in back.stderr
    assert logged(tmp_path / "back") == logged(filled) != []
    assert len(list((tmp_path / "back").glob("pictures/*/*"))) == 1


def test_restore_says_what_to_do_next(filled: Path, tickets: Tickets, tmp_path: Path) -> None:
    tickets("settings", "set", "shop", "Grey Heron")
    db = shop.open_shop(filled, clock())
    shop.set_up(db, shop.command_line(db, clock()), "address", "http://192.168.44.20", now=clock())
    db.close()
    tickets("backup", tmp_path / "b.zip")
    tickets("backup", tmp_path / "s.zip", "--with-secrets")
    said = tickets("restore", tmp_path / "b.zip", "--data", tmp_path / "back").stdout
    assert f"tickets serve --data {tmp_path / 'back'}" in said and "http://192.168.44.20" in said
    assert "tickets person secret NAME" in said
    said = tickets("restore", tmp_path / "s.zip", "--data", tmp_path / "s").stdout
    assert "PINs and passwords are the old ones" in said


def test_what_is_worked_out_wrong_is_copied_and_made_anew_on_the_way_back(
    filled: Path, tickets: Tickets, tmp_path: Path
) -> None:
    with sqlite3.connect(store.shop_file(filled)) as db:
        db.execute("UPDATE standings SET standing = 'ready'")
    db.close()
    made = tickets("backup", tmp_path / "b.zip")
    assert made.exit_code == 1
    assert "stage is not what its log says" in made.stderr and "tickets repair" in made.stderr
    back = tickets("restore", tmp_path / "b.zip", "--data", tmp_path / "back")
    assert back.exit_code == 0 and "rebuilt: Screen 1" in back.stdout
    assert tickets("check", "--data", tmp_path / "back").stdout == "sound\n"


@pytest.mark.parametrize("table", ["standings", "standings_by_mesh", "tensions"])
def test_damaged_pages_of_what_is_worked_out_are_copied_brought_back_and_repaired(
    filled: Path, tickets: Tickets, tmp_path: Path, table: str
) -> None:
    before = logged(filled)
    spoil(filled, table)
    unsound = tickets("check")
    assert unsound.exit_code == 2 and "tickets repair" in unsound.stderr
    made = tickets("backup", tmp_path / "b.zip")
    assert made.exit_code == 1, made.output
    back = tickets("restore", tmp_path / "b.zip", "--data", tmp_path / "back")
    assert back.exit_code == 0, back.output
    assert tickets("check", "--data", tmp_path / "back").stdout == "sound\n"
    mended = tickets("repair", "--json")
    assert mended.exit_code == 0, mended.output
    kept = Path(json.loads(mended.stdout)["kept"])
    assert kept.parent == filled and kept.exists() and stat.S_IMODE(kept.stat().st_mode) == 0o600
    assert tickets("check").stdout == "sound\n"
    assert logged(filled) == logged(tmp_path / "back") == before
    db = store.connect(filled)
    assert store.guards_missing(db) == []
    db.close()


@pytest.mark.parametrize("table", ["entries", "people"])
def test_damaged_pages_that_nothing_can_make_anew_are_refused_and_left_alone(
    filled: Path, tickets: Tickets, tmp_path: Path, table: str
) -> None:
    spoil(filled, table)
    held = store.shop_file(filled).read_bytes()
    refused = tickets("repair")
    assert refused.exit_code == 2 and "restore a backup" in refused.stderr and "Traceback" not in refused.stderr
    assert store.shop_file(filled).read_bytes() == held
    assert tickets("backup", tmp_path / "b.zip").exit_code == 2 and list(tmp_path.glob("*.zip")) == []


def test_damaged_pages_are_not_repaired_under_a_server(filled: Path, tickets: Tickets) -> None:
    spoil(filled, "standings")
    serving = store.ServeLock(filled)
    try:
        refused = tickets("repair")
        assert refused.exit_code == 2 and "already serves" in refused.stderr
    finally:
        serving.release()
    assert tickets("repair").exit_code == 0


# -- nothing lost, nothing forged


def drop_guards(db: sqlite3.Connection) -> None:
    for table in GUARDED:
        for act in ("update", "delete"):
            db.execute(f"DROP TRIGGER {table}_no_{act}")


def lose_the_last(db: sqlite3.Connection) -> None:
    drop_guards(db)
    db.execute("DELETE FROM entries WHERE id = (SELECT max(id) FROM entries)")


def lose_the_first(db: sqlite3.Connection) -> None:
    drop_guards(db)
    db.execute("DELETE FROM entries WHERE id = 1")


def change_one(db: sqlite3.Connection) -> None:
    drop_guards(db)
    db.execute("UPDATE entries SET at = '2020-01-01T00:00:00.000000Z' WHERE id = 2")


@pytest.mark.parametrize("act", [lose_the_last, lose_the_first, change_one])
def test_a_backup_whose_log_is_another_one_is_refused(
    filled: Path, tickets: Tickets, tmp_path: Path, act: Callable[[sqlite3.Connection], None]
) -> None:
    tickets("backup", tmp_path / "b.zip")
    bad = rezipped(tmp_path / "b.zip", tmp_path / "bad.zip", act)
    refused = tickets("restore", bad, "--data", tmp_path / "back")
    assert refused.exit_code == 2 and "another backup" in refused.stderr
    assert not (tmp_path / "back").exists()


def test_a_backup_of_before_that_tells_nothing_of_itself_comes_back(
    filled: Path, tickets: Tickets, tmp_path: Path
) -> None:
    tickets("backup", tmp_path / "b.zip", "--with-secrets")
    old = rezipped(tmp_path / "b.zip", tmp_path / "old.zip", lambda _db: None, leave=("about.json",))
    assert tickets("restore", old, "--data", tmp_path / "back").exit_code == 0
    lost = rezipped(tmp_path / "b.zip", tmp_path / "lost.zip", lose_the_first, leave=("about.json",))
    refused = tickets("restore", lost, "--data", tmp_path / "other")
    assert refused.exit_code == 2 and "Entries are missing" in refused.stderr


def test_guards_that_are_gone_are_put_back_and_named(filled: Path, tickets: Tickets, tmp_path: Path) -> None:
    with sqlite3.connect(store.shop_file(filled)) as db:
        db.execute("DROP TRIGGER entries_no_update")
    db.close()
    assert tickets("backup", tmp_path / "b.zip").exit_code == 1
    back = tickets("restore", tmp_path / "b.zip", "--data", tmp_path / "back")
    assert back.exit_code == 0 and "rebuilt: The guard entries_no_update" in back.stdout
    assert tickets("repair").exit_code == 0
    for folder in (filled, tmp_path / "back"):
        db = sqlite3.connect(store.shop_file(folder))
        with pytest.raises(sqlite3.IntegrityError, match="never changed"):
            db.execute("UPDATE entries SET part = 7")
        db.close()


# -- where it is written


def test_a_file_that_is_there_stays_without_force_and_what_is_no_backup_always(
    filled: Path, tickets: Tickets, tmp_path: Path
) -> None:
    file = tmp_path / "b.zip"
    assert tickets("backup", file).exit_code == 0
    held = file.read_bytes()
    refused = tickets("backup", file)
    assert refused.exit_code == 2 and "--force" in refused.stderr and file.read_bytes() == held
    assert tickets("backup", file, "--force").exit_code == 0 and file.read_bytes() != held
    mine = tmp_path / "mine.txt"
    mine.write_text("mine")
    assert tickets("backup", mine, "--force").exit_code == 2 and mine.read_text() == "mine"
    (tmp_path / "link.zip").symlink_to(file)
    refused = tickets("backup", tmp_path / "link.zip", "--force")
    assert refused.exit_code == 2 and "is a link" in refused.stderr
    nowhere = tickets("backup", tmp_path / "nowhere" / "b.zip")
    assert nowhere.exit_code == 2 and "no folder" in nowhere.stderr


@pytest.mark.parametrize("at", [60, -80, -6])  # in what is packed, in a line of the list of files, where that begins
def test_a_disk_that_keeps_something_else_than_was_written_is_found_out(
    filled: Path, tickets: Tickets, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int
) -> None:
    class Faulty(zipfile.ZipFile):
        def close(self) -> None:
            """One byte is another one, once all is written."""
            part, wrote = self.fp, self.mode == "w"
            super().close()
            if wrote and part is not None:
                where = part.seek(at, 0 if at > 0 else 2)
                (kept,) = part.read(1)
                part.seek(where)
                part.write(bytes([kept ^ 0xFF]))

    monkeypatch.setattr("tickets.actions.backup.zipfile.ZipFile", Faulty)
    refused = tickets("backup", tmp_path / "b.zip")
    assert refused.exit_code == 2 and "this disk is faulty" in refused.stderr
    assert list(tmp_path.glob("*.zip")) == []


def test_room_is_looked_at_first(
    filled: Path, tickets: Tickets, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert tickets("backup", tmp_path / "b.zip").exit_code == 0
    before = sorted(tmp_path.iterdir())
    monkeypatch.setattr(private, "room", lambda _folder: 1_000_000)
    for command in (("backup", tmp_path / "c.zip"), ("restore", tmp_path / "b.zip", "--data", tmp_path / "back")):
        refused = tickets(*command)
        assert refused.exit_code == 2 and "has 1 MB left" in refused.stderr and "make room" in refused.stderr
    assert sorted(tmp_path.iterdir()) == before


KILLED = """
import os, signal, sys
from tickets import cli, store
from tickets.actions import backup
from tickets.store import private

def killed(*_args, **_more):
    os.kill(os.getpid(), signal.SIGKILL)

at, arguments = sys.argv[1], sys.argv[2:]
places = {"copied": (store, "copy"), "looked at": (backup, "_about"), "packed": (private, "_named"),
          "unpacked": (backup, "_make_sound"), "moved": (private, "settled")}
setattr(*places[at], killed)
cli.root(arguments)
"""


def killed_at(at: str, *arguments: object) -> None:
    done = subprocess.run(
        [sys.executable, "-c", KILLED, at, *map(str, arguments)],
        capture_output=True, timeout=120, check=False,
        env=shops.as_installed(TICKETS_DATA=os.environ["TICKETS_DATA"]),
    )  # fmt: skip
    assert done.returncode == -signal.SIGKILL, done.stderr.decode()


@pytest.mark.skipif(not hasattr(os, "O_TMPFILE"), reason="files without a name are known on Linux only")
@pytest.mark.parametrize("at", ["copied", "looked at", "packed"])
def test_a_killed_backup_leaves_nothing_beside_the_target(
    filled: Path, tickets: Tickets, tmp_path: Path, at: str
) -> None:
    there = tmp_path / "stick"
    there.mkdir()
    killed_at(at, "backup", there / "b.zip")
    assert list(there.iterdir()) == []
    assert tickets("backup", there / "b.zip").exit_code == 0
    assert [path.name for path in there.iterdir()] == ["b.zip"]
    assert list(filled.glob(".scratch-*")) == [], "what the killed one left in the shop's folder is swept up"


def test_where_files_must_have_names_the_next_one_sweeps_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(private, "_NAMELESS", 0)
    target = tmp_path / "b.zip"
    (tmp_path / f".{target.name}.0badcafe").write_bytes(b"half")
    with private.whole(target) as outer:
        outer.write(b"first")
        assert len(list(tmp_path.iterdir())) == 1, "the half one is gone, the one being written stands"
        private.sweep(tmp_path, f".{target.name}.")
        assert len(list(tmp_path.iterdir())) == 1, "what a living program holds is left to it"
    assert target.read_bytes() == b"first" and list(tmp_path.iterdir()) == [target]
    with pytest.raises(FileExistsError), private.whole(target, over=False) as other:
        other.write(b"second")
    assert target.read_bytes() == b"first" and list(tmp_path.iterdir()) == [target]


@pytest.mark.parametrize("at", ["unpacked", "moved"])
def test_a_killed_restore_can_be_done_again(filled: Path, tickets: Tickets, tmp_path: Path, at: str) -> None:
    tickets("backup", tmp_path / "b.zip")
    killed_at(at, "restore", tmp_path / "b.zip", "--data", tmp_path / "back")
    if at == "unpacked":
        assert not store.exists(tmp_path / "back")
        assert tickets("restore", tmp_path / "b.zip", "--data", tmp_path / "back").exit_code == 0
    assert logged(tmp_path / "back") == logged(filled)
    assert tickets("check", "--data", tmp_path / "back").stdout == "sound\n"


# -- for nobody else


def modes(folder: Path) -> set[int]:
    return {stat.S_IMODE(path.stat().st_mode) for path in folder.rglob("*") if path.is_file()}


def test_everything_of_the_shop_is_its_owners_alone(filled: Path, tickets: Tickets, tmp_path: Path) -> None:
    app = shops.app_of(filled, testing=False)
    app.logger.info("started")
    tickets("backup", tmp_path / "b.zip")
    tickets("export", "--out", tmp_path / "out")
    tickets("restore", tmp_path / "b.zip", "--data", tmp_path / "back")
    assert (filled / "log" / "tickets.log").exists()
    for folder in (filled, tmp_path / "out", tmp_path / "back"):
        assert modes(folder) == {0o600}, folder
        for inner in (folder, *(path for path in folder.rglob("*") if path.is_dir())):
            assert stat.S_IMODE(inner.stat().st_mode) == 0o700, inner
    assert stat.S_IMODE((tmp_path / "b.zip").stat().st_mode) == 0o600
    app.extensions["pool"].close()


def test_a_link_in_the_place_of_a_folder_of_the_shop_is_refused(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "shop").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(private.IsLink):
        private.folder(tmp_path / "shop")
    assert private.folder(tmp_path / "made" / "within").is_dir()


def test_a_fresh_shop_is_closed_to_others_from_its_first_moment(tmp_path: Path) -> None:
    db = shop.open_shop(tmp_path / "shop", clock())
    assert (tmp_path / "shop" / "shop.db-wal").exists() and modes(tmp_path / "shop") == {0o600}
    db.close()


def test_a_shop_of_before_is_closed_to_others_but_a_folder_with_other_things_is_not(filled: Path) -> None:
    for path in (store.shop_file(filled), filled / "pictures"):
        path.chmod(0o755)
    filled.chmod(0o755)
    shop.open_shop(filled, clock()).close()
    assert stat.S_IMODE(filled.stat().st_mode) == 0o700
    assert stat.S_IMODE(store.shop_file(filled).stat().st_mode) == 0o600
    filled.chmod(0o755)
    (filled / "letter.txt").write_text("mine")
    store.shop_file(filled).chmod(0o644)
    shop.open_shop(filled, clock()).close()
    assert stat.S_IMODE(filled.stat().st_mode) == 0o755
    assert stat.S_IMODE(store.shop_file(filled).stat().st_mode) == 0o600


def test_no_command_follows_a_link_out_of_its_folder(filled: Path, tickets: Tickets, tmp_path: Path) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("not for the shop")
    planted = filled / "pictures" / "ab" / f"{'ab' * 32}.jpg"
    planted.parent.mkdir()
    planted.symlink_to(secret)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / f"{'cd' * 32}.jpg").write_text("not for the shop")
    (filled / "pictures" / "cd").symlink_to(elsewhere)
    assert tickets("backup", tmp_path / "b.zip").exit_code == 0
    with zipfile.ZipFile(tmp_path / "b.zip") as archive:
        assert not any("/ab/" in name or "/cd/" in name for name in archive.namelist())
    out = tmp_path / "out"
    out.mkdir()
    for name in ("entries.csv", "entries.jsonl", "people.csv", "columns.csv"):
        (out / name).symlink_to(secret)
    assert tickets("export", "--out", out).exit_code == 0
    (tmp_path / "t.pdf.part").symlink_to(secret)
    code = json.loads(tickets("screen", "list", "--json").stdout)[0]["code"]
    tickets("print", "tags", code, "--out", tmp_path / "t.pdf", "--anyway")
    assert secret.read_text() == "not for the shop" and not (out / "entries.csv").is_symlink()


@pytest.mark.parametrize("name", ["serving.lock", "working.lock", "shop.db", "pictures", "log/tickets.log"])
def test_a_link_in_the_place_of_a_file_of_the_shop_is_not_followed(filled: Path, tmp_path: Path, name: str) -> None:
    target = tmp_path / "target"
    there = filled / name
    there.parent.mkdir(exist_ok=True)
    if there.exists():
        there.rename(target)
    there.symlink_to(target)
    before = target.read_bytes() if target.is_file() else None
    if name == "shop.db":
        with pytest.raises(NotNow, match="is a link"):
            shop.open_shop(filled, clock())
    elif name == "serving.lock":
        with pytest.raises(NotNow):
            store.ServeLock(filled)
    else:
        app = shops.app_of(filled, testing=False)
        app.logger.info("a line")
        if name == "pictures":
            assert any("is missing" in line for line in sound.check(store.connect(filled)))
        if name == "working.lock":
            db = store.connect(filled)
            with pytest.raises(OSError, match="symbolic links"), store.only_one(db, name):
                pass
            db.close()
        app.extensions["pool"].close()
    assert (target.read_bytes() if target.is_file() else None) == before


def test_hashes_of_pins_stay_at_home_unless_they_are_asked_for(filled: Path, tickets: Tickets, tmp_path: Path) -> None:
    plain, whole = tmp_path / "b.zip", tmp_path / "s.zip"
    assert tickets("backup", plain).exit_code == 0 and tickets("backup", whole, "--with-secrets").exit_code == 0
    for file, there in ((plain, False), (whole, True)):
        with zipfile.ZipFile(file) as archive:
            assert (b"scrypt:" in archive.read("shop.db")) is there
            assert (b"hashes of PINs" in archive.comment) is there
            assert json.loads(archive.read("about.json"))["with_secrets"] is there
        tickets("restore", file, "--data", tmp_path / file.stem)
    now = clock()
    db = store.connect(tmp_path / "s")
    assert people.sign_in(db, "Ada Holm", "471159", now)
    db.close()
    db = store.connect(tmp_path / "b")
    with pytest.raises(Exception, match="Wrong PIN or password"):
        people.sign_in(db, "Ada Holm", "471159", now)
    given = tickets("person", "secret", "Ada Holm", "--secret-stdin", "--data", tmp_path / "b", stdin="835162\n")
    assert given.exit_code == 0, given.output
    assert people.sign_in(db, "Ada Holm", "835162", now + timedelta(minutes=1))
    db.close()


def test_an_easy_or_empty_pin_is_not_given_out(filled: Path, tickets: Tickets) -> None:
    for typed in ("1234", "123456", ""):
        refused = tickets("person", "secret", "Ada Holm", "--secret-stdin", stdin=f"{typed}\n")
        assert refused.exit_code == 2 and "Traceback" not in refused.stderr
    assert tickets("person", "secret", "command line", "--secret-stdin", stdin="835162\n").exit_code == 2


# -- every table is known


def test_every_table_that_is_worked_out_is_made_anew_and_all_others_are_carried_over(filled: Path) -> None:
    """A new table that only repeats the log belongs to `WORKED_OUT`."""
    db = store.connect(filled)
    tables = {name for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()}
    assert tables >= proof.WORKED_OUT and not proof.WORKED_OUT & set(GUARDED)
    columns = {"findable": "kind, thing, words"}  # not the numbers of its rows, which nothing goes by
    read = {table: f"SELECT {columns.get(table, '*')} FROM {table}" for table in proof.WORKED_OUT}
    before = {table: db.execute(sql).fetchall() for table, sql in read.items()}
    db.close()
    backup._carried_over(filled)
    db = shop.open_shop(filled, clock())
    shop.rebuild(db)
    for table, rows in before.items():
        assert sorted(map(repr, db.execute(read[table]).fetchall())) == sorted(map(repr, rows)), table
    db.close()


def test_a_look_is_one_moment(filled: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A check while somebody logs finds nothing wrong: it sees the shop as it was when it began."""
    db, other = store.connect(filled), store.connect(filled)
    seen = store.integrity

    def meanwhile(asked: Any) -> list[str]:
        found = seen(asked)
        other.execute("UPDATE standings SET standing = 'ready'")
        other.execute("UPDATE counts SET screens = 99")
        return found

    monkeypatch.setattr(store, "integrity", meanwhile)
    assert sound.check(db) == []
    monkeypatch.undo()
    assert len(sound.check(db)) >= 3
    db.close()
    other.close()


def test_an_export_is_written_whole(filled: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_args: object) -> Any:
        raise OSError(28, "No space left on device")
        yield

    db = store.connect(filled)
    exports.export(db, tmp_path / "out")
    held = (tmp_path / "out" / "people.csv").read_bytes()
    monkeypatch.setattr(exports, "json_lines", fails)
    with pytest.raises(NotNow, match="No space left"):
        exports.export(db, tmp_path / "out")
    assert (tmp_path / "out" / "people.csv").read_bytes() == held
    db.close()
