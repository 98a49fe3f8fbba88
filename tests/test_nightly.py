"""The backup of every night: by itself while serving, tried out each time, old ones thinned out, and the desk says how
it stands."""

from __future__ import annotations

import json
import os
import signal
import stat
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from shop import as_installed, clock
from sqlite_utils import Database

from tickets import cli, store
from tickets.actions import backup, nightly, screens, shop
from tickets.domain.desk import nights
from tickets.domain.person import Actor
from tickets.domain.posted import form
from tickets.domain.refusal import NotAllowed, Refused
from tickets.queries import sound
from tickets.store import private, settings
from web.nights import NICE, Nights

NIGHT = datetime(2026, 11, 30, 2, 30, tzinfo=UTC)


@pytest.fixture
def opened(folder: Path) -> Iterator[Database]:
    """A shop that was opened in full, as serving does."""
    db = shop.open_shop(folder, NIGHT)
    yield db
    db.close()


def setting(db: Database, name: str, value: object) -> None:
    shop.set_up(db, shop.command_line(db, NIGHT), name, value, now=NIGHT)


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir() if path.suffix == ".zip")


# -- which are kept


def test_days_months_and_the_newest_are_kept() -> None:
    days = [date(2025, 10, 1) + timedelta(days=n) for n in range(426)]  # to 30 Nov 2026
    kept = nights.to_keep(days, date(2026, 11, 30), 14, 12)
    assert {day for day in kept if day.day > 1} == {date(2026, 11, day) for day in range(17, 31)}
    firsts = sorted(kept - {date(2026, 11, day) for day in range(17, 31)})
    assert firsts == [date(2025, 12, 1), *(date(2026, month, 1) for month in range(1, 12))]


@given(st.sets(st.dates(date(2024, 1, 1), date(2027, 1, 1))), st.integers(1, 40), st.integers(0, 30))
def test_the_newest_always_stays_and_more_days_keep_more(days: set[date], most_days: int, most_months: int) -> None:
    today = date(2026, 6, 1)
    kept = nights.to_keep(days, today, most_days, most_months)
    assert kept <= days and (not days or max(days) in kept)
    assert kept <= nights.to_keep(days, today, most_days + 5, most_months + 1)
    assert all(day in kept for day in days if day > today), "a clock that was wrong loses none"


@pytest.mark.parametrize("name", ["shop-2026-13-01.zip", "shop-2026-11-30.zip.old", "mine.zip", "shop.db", "shop-.zip"])
def test_no_other_file_is_taken_for_a_backup_of_a_night(name: str) -> None:
    assert nights.day_of(name) is None


# -- when, and what of it


def test_it_is_due_once_a_night_and_again_an_hour_after_a_failure(opened: Database, folder: Path) -> None:
    assert nightly.due(opened, NIGHT), "there is none yet"
    assert nightly.make(opened, NIGHT).error == ""
    assert not nightly.due(opened, NIGHT + timedelta(hours=20))
    assert not nightly.due(opened, datetime(2026, 12, 1, 1, 59, tzinfo=UTC))
    assert nightly.due(opened, datetime(2026, 12, 1, 2, 0, tzinfo=UTC))
    nightly.make(opened, datetime(2026, 11, 30, 9, 0, tzinfo=UTC))
    setting(opened, "zone", "America/Chicago")
    assert not nightly.due(opened, datetime(2026, 12, 1, 7, 0, tzinfo=UTC)), "two o’clock in the shop, not in Greenwich"
    assert nightly.due(opened, datetime(2026, 12, 1, 8, 0, tzinfo=UTC))
    setting(opened, "zone", "UTC")
    later = datetime(2026, 12, 3, 2, 0, tzinfo=UTC)
    stick = folder.parent / "stick"
    stick.mkdir()
    setting(opened, "backup_folder", str(stick))
    stick.rmdir()
    failed = nightly.make(opened, later)
    assert "plug it in" in failed.error and failed.good_at
    assert not stick.exists(), "a stick that is not there is not made up"
    assert not nightly.due(opened, later + timedelta(minutes=59)) and nightly.due(opened, later + timedelta(minutes=61))


def test_it_is_tried_out_noted_and_private(opened: Database, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made = nightly.make(opened, NIGHT)
    there = folder / "backups"
    assert names(there) == ["shop-2026-11-30.zip"] and made.file == str(there / "shop-2026-11-30.zip")
    assert made.good_at and made.findings == () and nightly.state(folder) == made
    assert {stat.S_IMODE(path.stat().st_mode) for path in there.iterdir()} == {private.FILE}
    assert stat.S_IMODE(there.stat().st_mode) == private.FOLDER and list(there.glob(".scratch*")) == []

    def refuses(*_args: object, **_more: object) -> None:
        raise Refused("it does not come back")

    monkeypatch.setattr(backup, "restore", refuses)
    bad = nightly.make(opened, NIGHT + timedelta(days=1))
    assert bad.error == "it does not come back" and bad.good_at == made.good_at


def test_what_is_wrong_in_the_shop_is_noted_with_a_good_backup(opened: Database) -> None:
    opened.execute("INSERT INTO counts VALUES ('ready', 'x', 1.0, 5)")
    made = nightly.make(opened, NIGHT)
    assert made.good_at and not made.error and any("do not add up" in line for line in nightly.wrong(made))


def test_old_ones_are_thinned_out_and_other_files_are_left(opened: Database, folder: Path) -> None:
    there = private.folder(folder / "backups")
    (there / "mine.zip").write_text("mine")
    target = folder.parent / "precious"
    target.write_text("mine")
    (there / "shop-2020-01-02.zip").symlink_to(target)
    for day in ("2026-11-29", "2026-11-27", "2026-10-05", "2026-10-04"):
        (there / f"shop-{day}.zip").write_bytes(b"")
    setting(opened, "backup_days", 2)
    setting(opened, "backup_months", 2)
    nightly.make(opened, NIGHT)
    assert names(there) == ["mine.zip", "shop-2020-01-02.zip", "shop-2026-10-04.zip", "shop-2026-11-27.zip",
                            "shop-2026-11-29.zip", "shop-2026-11-30.zip"]  # fmt: skip
    assert target.read_text() == "mine"


def test_a_second_folder_gets_a_copy_that_is_read_back(
    opened: Database, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stick = folder.parent / "stick"
    stick.mkdir()
    setting(opened, "backup_second", str(stick))
    made = nightly.make(opened, NIGHT)
    assert made.second_at and backup.same(Path(made.file), stick / "shop-2026-11-30.zip")
    monkeypatch.setattr(backup, "same", lambda *_files: False)
    again = nightly.make(opened, NIGHT + timedelta(days=1))
    assert again.good_at > made.good_at and "reads back differently" in again.second_error
    assert again.second_at == made.second_at and any("second folder" in line for line in nightly.wrong(again))
    monkeypatch.undo()
    for path in stick.iterdir():
        path.unlink()
    stick.rmdir()
    gone = nightly.make(opened, NIGHT + timedelta(days=2))
    assert gone.good_at > again.good_at and "plug it in" in gone.second_error and not stick.exists()


# -- the settings


@pytest.mark.parametrize(
    ("name", "value"),
    [("backup_hour", 24), ("backup_hour", -1), ("backup_days", 0), ("backup_months", 999), ("backup_days", True),
     ("backup_folder", "here"), ("backup_second", "/there/is/no/such")],
)  # fmt: skip
def test_settings_that_would_not_do_are_refused(opened: Database, name: str, value: object) -> None:
    with pytest.raises(Refused):
        setting(opened, name, value)


def test_a_folder_of_the_machine_is_set_at_the_machine(opened: Database, folder: Path) -> None:
    phone = Actor(1, "Di Novak", "manager", "password")
    with pytest.raises(NotAllowed, match="at the machine"):
        shop.set_up(opened, phone, "backup_folder", str(folder.parent), now=NIGHT)
    run = CliRunner().invoke(cli.root, ["settings", "set", "backup_second", str(folder.parent), "--data", str(folder)])
    assert run.exit_code == 0, run.output
    bad = CliRunner().invoke(cli.root, ["settings", "set", "backup_hour", "soon", "--data", str(folder)])
    assert bad.exit_code == 2 and "from 0 to 23" in bad.stderr


def test_the_manager_sets_the_hour_on_the_page(
    client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient], opened: Database
) -> None:
    phone = sign_in(client, "Di Novak")
    assert phone.post("/settings/backup_hour", data={"backup_hour": "25"}).status_code == 422
    assert phone.post("/settings/backup_hour", data={"backup_hour": "4"}).status_code == 303
    assert "into the folder" in phone.get("/settings").text
    assert phone.post("/settings/backup_folder", data={"backup_folder": "/"}).status_code == 404
    assert settings.setting(opened, "backup_hour") == 4


# -- the desk


def test_the_desk_says_how_it_stands(
    app: Flask, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient], opened: Database, folder: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    phone = sign_in(client, "Di Novak")
    assert "There is no backup of this shop yet" in phone.get("/desk").text
    now = clock()
    nightly.make(opened, now)
    fine = phone.get("/desk").text
    assert "Last good backup" in fine and "tried out" in fine and "tickets nightly" not in fine
    app.config["CLOCK"] = lambda: now + timedelta(days=3)
    phone = sign_in(client, "Di Novak")
    assert "The last good backup is of" in phone.get("/desk").text
    app.config["CLOCK"] = lambda: now
    phone = sign_in(client, "Di Novak")
    monkeypatch.setattr(private, "room", lambda _folder: 0)
    assert "make room" in phone.get("/desk").text


def test_late_is_after_a_night_without_one(opened: Database) -> None:
    nightly.make(opened, NIGHT)
    for hours, late in ((1, False), (30, False), (47, False), (48, True)):
        assert nightly.standing(opened, NIGHT + timedelta(hours=hours)).late is late, hours


# -- by itself


def wait_for(found: Callable[[], bool], seconds: float = 40) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if found():
            return True
        time.sleep(0.1)
    return False


def test_a_server_makes_it_by_itself_while_phones_log(folder: Path, opened: Database) -> None:
    watch = Nights(folder, every=0.05)
    watch.start()
    try:
        sent = {"mesh_count_as_labelled": "230/in", "thread_um": "48", "frame": "aluminium"}
        me = shop.command_line(opened, NIGHT)
        for number in range(5):
            screens.add(opened, me, form(sent), post=f"a-new-frame-{number:06}", now=NIGHT)
        assert wait_for(lambda: bool(nightly.state(folder).tried_at))
    finally:
        watch.end()
    made = nightly.state(folder)
    assert made.good_at and not made.error and made.findings == (), made
    assert not watch.is_alive() and len(names(folder / "backups")) == 1
    assert sound.check(opened) == []


def test_one_that_is_ended_with_the_server_leaves_nothing_half(
    folder: Path, opened: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A backup that takes long ends with the server, wherever it is: here while it packs."""
    slow = "import time, tickets.actions.backup as b; b._pack = lambda *_: time.sleep(60)\n"
    monkeypatch.setattr("web.nights.NICE", slow + NICE)
    watch = Nights(folder, every=0.01)
    watch.start()
    assert wait_for(lambda: bool(list(folder.glob(".scratch*"))))
    watch.end()
    assert not watch.is_alive() and watch._at_work is not None and watch._at_work.returncode == -signal.SIGKILL
    assert not nightly.state(folder).good_at and names(private.folder(folder / "backups")) == []
    nightly.make(opened, NIGHT)
    assert list(folder.glob(".scratch*")) == [] and list((folder / "backups").glob(".*")) == []


def test_serving_brings_it_along(folder: Path, opened: Database) -> None:
    """The real command: a server that was just started makes up for the night that it missed."""
    code = "import web.nights as n; n.Nights.__init__.__defaults__ = (0.1,); from tickets.cli import main; main()"
    arguments = ["serve", "--host", "127.0.0.1", "--port", "0", "--data", str(folder)]
    command = [sys.executable, "-c", code, *arguments]
    server = subprocess.Popen(command, stdout=subprocess.DEVNULL, env=as_installed())
    try:
        assert wait_for(lambda: bool(nightly.state(folder).good_at))
    finally:
        os.kill(server.pid, signal.SIGTERM)
        assert server.wait(20) == 0


def test_the_demo_makes_none(opened: Database) -> None:
    opened.execute("INSERT INTO settings (name, value, at, person) SELECT 'demo', 'true', '', min(id) FROM people")
    assert not nightly.due(opened, NIGHT)


def test_by_hand_and_from_a_timetable(folder: Path, opened: Database) -> None:
    run = CliRunner()
    made = run.invoke(cli.root, ["nightly", "--json", "--data", str(folder)])
    assert made.exit_code == 0 and json.loads(made.stdout)["good_at"], made.output
    before = nightly.state(folder)
    assert run.invoke(cli.root, ["nightly", "--when-due", "--data", str(folder)]).exit_code == 0
    assert nightly.state(folder) == before
    (folder / "backups" / Path(before.file).name).unlink()
    (folder / "backups" / Path(before.file).name).write_text("no backup")
    failed = run.invoke(cli.root, ["nightly", "--data", str(folder)])
    assert failed.exit_code == 2 and "is not a backup" in failed.stderr
    assert store.exists(folder)
