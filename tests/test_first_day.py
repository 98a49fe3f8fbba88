"""The first day of a shop: one page asks, the first steps tick themselves off, the server starts with the machine."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from flask import Flask
from flask.testing import FlaskClient
from shop import NOW, Shop, Tickets, answered, fresh, said
from sqlite_utils import Database

from tickets import store
from tickets.actions import first, people, printing
from tickets.actions import shop as shop_acts
from tickets.cli import service
from tickets.domain.desk.shop_settings import LOGGED
from tickets.domain.refusal import NotAllowed
from tickets.domain.stages import ALWAYS_LOGGED
from tickets.queries import addresses
from tickets.store import first as store_first
from tickets.store import places
from tickets.store.settings import setting
from web import first as pages

SignIn = Callable[[FlaskClient, str], FlaskClient]
GIVEN = {
    "shop": "Harbour Prints", "zone": "Europe/Warsaw", "language": "en", "units": "us", "logged": "little",
    "address": "http://192.168.1.20:8600",
}  # fmt: skip


def test_the_link_of_the_first_start_leads_to_the_page_that_asks(app: Flask, db: Database) -> None:
    with db.conn:
        db.execute("UPDATE people SET left_at = '2026-01-01T00:00:00.000000Z' WHERE role = 'manager'")
    token = people.first_manager_token(db, NOW)
    phone = shops.phone_of(app)
    answer = phone.post(f"/first-manager/{token}", data={"name": "Eva Lis", "secret": "long-enough-password"})
    assert answer.location == "/start" and "Your shop" in phone.get("/start").text


def test_one_page_asks_what_a_shop_needs_and_keeps_it_all_or_nothing(
    client: FlaskClient, sign_in: SignIn, db: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(addresses, "machine_zone", lambda: "America/Chicago")
    monkeypatch.setattr(addresses, "lan_address", lambda: "192.168.1.20")
    phone = sign_in(client, "Di Novak")
    page = phone.get("/start", base_url="http://localhost:8600").text
    assert 'value="America/Chicago"' in page, "the machine’s zone stands there"
    assert 'value="http://192.168.1.20:8600"' in page and "<svg" in page, "and its address, to try with a phone"
    wrong = phone.post("/start", data={**GIVEN, "zone": "Mars/Base", "address": "no address", "units": "ells"})
    assert wrong.status_code == 422 and "is not a time zone" in wrong.text and "Harbour Prints" in wrong.text
    assert len(re.findall(r'class="fault" id="f-(zone|address|units)-fault"', wrong.text)) == 3
    assert setting(db, "shop") == "" and setting(db, "units") == "metric"
    assert phone.post("/start", data=GIVEN).location == "/first-steps"
    kept = {name: setting(db, name) for name in first.ASKED}
    assert kept == {
        **{name: GIVEN[name] for name in first.ASKED if name != "steps"},
        "steps": list(LOGGED["little"][1]),
    }
    assert 'value="Europe/Warsaw"' in phone.get("/start").text, "what was kept stands there then"
    phone.post("/start", data={**GIVEN, "logged": "list", "step": ["coat", "washout"]})
    assert set(setting(db, "steps")) == {"coat", "washout"} | ALWAYS_LOGGED
    assert re.search(r'name="logged" value="list" checked', phone.get("/start").text)


def test_the_choices_of_what_is_logged_grow() -> None:
    little, stencil, every = (set(steps) for _word, steps in LOGGED.values())
    assert ALWAYS_LOGGED < little < stencil < every and "check" in little and "coat" in stencil - little


def test_only_the_manager_sets_a_shop_up(shop: Shop, db: Database) -> None:
    with pytest.raises(NotAllowed):
        first.set_up(db, shop.actor("Ada Holm"), {"shop": "Hers"}, now=NOW)


@pytest.mark.parametrize(
    ("named", "zone"), [("Europe/Warsaw", "Europe/Warsaw"), (":Asia/Tokyo", "Asia/Tokyo"), ("Nowhere/Else", None)]
)
def test_the_zone_of_the_machine(monkeypatch: pytest.MonkeyPatch, named: str, zone: str | None) -> None:
    monkeypatch.setenv("TZ", named)
    found = addresses.machine_zone()
    assert found == zone if zone else found != named


def test_the_code_on_the_page_is_read_as_the_address() -> None:
    import zxingcpp
    from PIL import Image, ImageDraw

    made = addresses.qr_drawing("http://192.168.1.20:8600/")
    picture = Image.new("L", (made.side * 8, made.side * 8), 255)
    for x, y, n in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", made.path):
        left, top = 8 * int(x), 8 * int(y)
        ImageDraw.Draw(picture).rectangle([left, top, left + 8 * int(n) - 1, top + 7], fill=0)
    assert [one.text for one in zxingcpp.read_barcodes(picture)] == ["http://192.168.1.20:8600/"]


def test_each_first_step_ticks_itself_off(tmp_path: Path) -> None:
    """One after the other: a person, a press, a rack, a frame, its tag, a job, a step logged at a screen."""
    db = store.connect(shops.staffed(tmp_path / "shop"))
    with db.conn:
        db.execute("UPDATE people SET secret = NULL WHERE role <> 'manager'")
    me = shop_acts.command_line(db, NOW)
    assert {one.name for one in pages.STEPS} == set(store_first.THERE)
    done: list[set[str]] = [set(store_first.there(db))]

    def more(act: Callable[[], Any]) -> set[str]:
        act()
        done.append(set(store_first.there(db)))
        return done[-1] - done[-2]

    assert done[0] == set()
    assert not more(lambda: people.add_person(db, "Mo", "manager", "long-enough-password", NOW))
    assert not more(lambda: people.add_person(db, "Jo", "press", None, NOW)), "who cannot sign in yet does nothing"
    assert more(lambda: people.add_person(db, "Al", "press", "839174", NOW)) == {"people"}
    shop = Shop(db)
    assert more(lambda: shop.place("Auto", "press", heads=8)) == {"presses"}
    assert more(lambda: first.add_places(db, me, "Rack", "rack", "3", post=fresh(), now=NOW)) == {"racks"}
    assert more(lambda: shops.brought(db, "Mesh,Tension (N/cm),Place\n230/in,25,Rack 1\n")) == {"frames"}, "and no scan"
    code = db.execute("SELECT code FROM screens").fetchone()[0]
    assert more(lambda: printing.print_tags(db, me, [code], now=NOW, anyway=True)) == {"tags"}
    assert more(lambda: shop.job()) == {"job"}
    assert not more(lambda: shops.commands(tmp_path / "shop")("screen", "log", code, "degrease", "--in_hand", "yes"))
    al = shop.actor("Al")
    assert more(lambda: shops.screens.log(
        db, al, shops.find.screen(db, code), "coat", shops.form({"in_hand": "yes"}), post=fresh(), now=shop.tick(),
    )) == {"scan"}  # fmt: skip
    db.close()


def test_racks_many_at_once_and_once(client: FlaskClient, sign_in: SignIn, db: Database) -> None:
    phone = sign_in(client, "Di Novak")
    sent = {"name": "Rack", "many": "12", "entry": fresh()}
    for many in ("0", "many", "201"):
        answer = phone.post("/first-steps/racks", data={**sent, "many": many, "entry": fresh()})
        assert answer.status_code == 422 and "from 1 to 200" in answer.text and f'value="{many}"' in answer.text
    for _twice in range(2):
        assert phone.post("/first-steps/racks", data=sent).status_code == 303
    assert [one.name for one in places.every(db, "rack")] == sorted(f"Rack {n}" for n in range(1, 13))
    assert phone.post("/first-steps/racks", data={**sent, "entry": fresh(), "many": "1"}).status_code == 303
    assert places.find(db, "Rack 13") and "✓ Add the racks" in said(phone.get("/first-steps").text)


# The server starts with the machine ----------------------------------------------------------------------------------


def test_the_unit_is_one_that_systemd_takes(commands: Tickets, tmp_path: Path) -> None:
    if not shutil.which("systemd-analyze"):
        pytest.skip("systemd-analyze is not here: the unit is not tried by its own checker")
    odd = tmp_path / 'a "shop" of 50 % $HOME'
    done = commands("service", "--data", odd, "--host-name", "tickets.shop.example")
    assert done.exit_code == 0
    file = tmp_path / "shop-tickets.service"
    file.write_text(done.stdout)
    user = [] if os.geteuid() == 0 else ["--user"]
    tried = subprocess.run(["systemd-analyze", *user, "verify", str(file)], capture_output=True, text=True, check=False)
    ours = [line for line in tried.stderr.splitlines() if "shop-tickets.service" in line]
    assert not ours and tried.returncode == 0, tried.stderr
    file.write_text(done.stdout.replace("Restart=always", "Restart=sometimes"))
    tried = subprocess.run(["systemd-analyze", *user, "verify", str(file)], capture_output=True, text=True, check=False)
    assert "restart specifier" in tried.stderr, "the checker looks at it"


def test_the_unit_restarts_and_starts_what_serve_is(tmp_path: Path) -> None:
    parts = [sys.executable, "-m", "tickets.cli", "serve", "--data", 'a "b" 5% $x \\', "--port", "8600"]
    text = service.unit(parts, "ada")
    (line,) = (one.partition("=")[2] for one in text.splitlines() if one.startswith("ExecStart="))
    assert shlex.split(line.replace("%%", "%").replace("$$", "$")) == parts
    assert {"Restart=always", "User=ada", "WantedBy=multi-user.target"} <= set(text.splitlines())
    assert "User=" not in service.unit(parts) and "WantedBy=default.target" in service.unit(parts)


def test_the_task_of_windows_is_read_back(commands: Tickets, tmp_path: Path) -> None:
    text = commands("service", "--for", "windows", "--data", tmp_path / "a & b").stdout
    tree = ElementTree.fromstring(text)
    found = {one.tag.rpartition("}")[2]: one.text for one in tree.iter()}
    assert found["Command"] == sys.executable and f'"{tmp_path / "a & b"}"' in str(found["Arguments"])
    assert (found["ExecutionTimeLimit"], found["Interval"]) == ("PT0S", "PT1M") and "BootTrigger" in found


def test_it_is_set_up_and_what_fails_is_said(
    commands: Tickets, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By stand-ins for what systemd is told by: on this machine nothing is set up."""
    monkeypatch.setattr(service, "SYSTEM_UNITS", tmp_path / "units")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("PATH", str(tmp_path / "bin"))
    (tmp_path / "bin").mkdir()
    for name, code in (("systemctl", 0), ("loginctl", 0)):
        script = tmp_path / "bin" / name
        script.write_text(f'#!/bin/sh\necho {name} "$@" >> {tmp_path}/told\necho not today >&2\nexit {code}\n')
        script.chmod(0o755)
    done = commands("service", "--install", "--data", tmp_path / "shop")
    assert done.exit_code == 0, done.output
    told = (tmp_path / "told").read_text().splitlines()
    assert any(line.endswith("enable --now shop-tickets.service") for line in told) and "daemon-reload" in told[0]
    (unit,) = tmp_path.rglob("shop-tickets.service")
    assert "ExecStart=" in unit.read_text()
    (tmp_path / "bin" / "systemctl").write_text("#!/bin/sh\necho not today >&2\nexit 1\n")
    failed = commands("service", "--install", "--data", tmp_path / "shop")
    assert failed.exit_code == 2 and "could not be done" in failed.stderr and "not today" in failed.stderr


@pytest.mark.browser
def test_the_first_day_in_a_browser(phone: Any, sign_in_page: Any, db: Database) -> None:
    sign_in_page(phone, "Di Novak")
    phone.goto("/start")
    phone.fill("input[name=shop]", "Harbour Prints")
    phone.fill("input[name=zone]", "Europe/Warsaw")
    phone.get_by_role("radio", name="the stencil too").check()
    with answered(phone):
        phone.get_by_role("button", name="Keep this and go on").click()
    assert "First steps" in phone.inner_text("h1") and setting(db, "shop") == "Harbour Prints"
    phone.fill("input[name=many]", "3")
    with answered(phone):
        phone.get_by_role("button", name="Add these racks").click()
    assert "✓ Add the racks" in phone.inner_text("main") and len(places.every(db, "rack")) == 3
    with answered(phone):
        phone.get_by_role("link", name="Bring in the frames").click()
    assert "Bring in a list" in phone.inner_text("h1")
