"""Who may open which page and send which form: `who_may.txt` is made from the routes of the program and their rows in
`web/may.py`; each of its lines is tried by everybody, both ways, on things that are there.

`python tests/test_who_may.py` writes the table anew; a change of it is then seen where it is read.
"""

from __future__ import annotations

import re
import secrets
import tempfile
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
import shop as shops
from flask import Flask
from flask.testing import FlaskClient

from tickets import demo, store
from tickets.domain.person import ROLES
from tickets.queries import exports
from web import may

TABLE = Path(__file__).parent / "who_may.txt"
Row = tuple[str, str, str, tuple[str, ...]]

THINGS = {
    "/jobs": "SELECT code FROM jobs", "/print/job": "SELECT code FROM jobs", "/desk/trace": "SELECT code FROM jobs",
    "/screens": "SELECT code FROM screens", "/desk/screens": "SELECT code FROM screens",
    "/t": "SELECT code FROM screens", "/print/again": "SELECT thing FROM codes WHERE 0",
    "/places": "SELECT code FROM places WHERE kind = 'rack'", "/desk/stocktake": "SELECT code FROM places",
    "/buckets": "SELECT code FROM buckets", "/print/bucket": "SELECT code FROM buckets",
    "/runs": "SELECT max(id) FROM runs", "/print/run": "SELECT max(id) FROM runs", "/spec": "SELECT max(id) FROM spec",
    "/walls": "SELECT 9 AS token",
    "/people": "SELECT max(id) FROM people", "/exposure-units": "SELECT name FROM exposure_units",
}  # fmt: skip
"""Where an address gets the thing from that it is about; what is not here is filled from WORDS."""
WORDS = {"step": "note", "part": "jobs", "filename": "shop.css", "code": "7K32XM",
         "token": "none", "post": "none", "found": "none", "text": "none"}  # fmt: skip
NAMED = {"/settings": "shop", "/calculator": "mesh", "/desk/files": "screens.csv", "/bring": "1",
         "/bring/template": "frames.csv"}  # fmt: skip
BY_THE_THING = {"people.hand_over"}
"""Open to everybody, and refused for what is sent: a tap needs somebody who gave their PIN on this phone."""


def table(app: Flask) -> list[Row]:
    """Method, address, endpoint and roles of every route."""
    return sorted(
        (method, rule.rule, rule.endpoint, may.WHO[rule.endpoint])
        for rule in app.url_map.iter_rules()
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
    )


def as_text(rows: list[Row]) -> str:
    """The table as it is kept, with the files that are the manager's alone."""
    said = {may.ANYBODY: "anybody, signed out too", may.EVERYBODY: "everybody"}
    lines = [f"{way:4} {rule:45} {said.get(who, ', '.join(who))}" for way, rule, _endpoint, who in rows]
    office = sorted(name for name, one in exports.tables().items() if one.office)
    return "\n".join([*lines, f"Files of the manager alone: {', '.join(office)}", ""])


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    """The invented shop, where there is one of everything."""
    with shops.pages(shops.the_demo(tmp_path_factory.mktemp("may")), shops.clock) as app:
        yield app


def phone(app: Flask, role: str) -> FlaskClient:
    """A phone that somebody of that role holds, who gave the secret a while ago."""
    name, (_role, secret) = next((name, one) for name, one in demo.SECRETS.items() if one[0] == role)
    shops.clock.now = shops.NOW
    made = shops.signed_in(shops.phone_of(app), name, secret)
    shops.clock.now = shops.NOW + timedelta(minutes=20)
    return made


def address(app: Flask, rule: str) -> str:
    """An address that a route answers."""
    rule = re.sub(r"<any\(([a-z]+)[^)]*\):\w+>", r"\1", rule)
    start, _less, rest = rule.partition("/<")
    if not rest:
        return rule
    thing = NAMED.get(start, "")
    if start in THINGS:
        db = store.connect(app.config["FOLDER"])
        row = db.execute(f"{THINGS[start]} LIMIT 1").fetchone()
        db.close()
        thing = str(row[0]) if row else "7K32XM"
    if thing:
        rule = f"{start}/{thing}{rest.partition('>')[2]}"
    return re.sub(r"<(?:\w+:)?(\w+)>", lambda part: WORDS[part[1]], rule)


def asked(app: Flask, held: FlaskClient, row: Row) -> tuple[int, str, str, bool]:
    """Status, where to, what is said, and whether anything was written."""
    method, rule, _endpoint, _who = row
    watch = store.connect(app.config["FOLDER"])
    version = watch.execute("PRAGMA data_version").fetchone()[0]
    answer = held.open(
        address(app, rule), method=method, data={"entry": secrets.token_hex(12)} if method == "POST" else None
    )
    text = answer.text if answer.mimetype == "text/html" else ""
    answer.close()
    written = watch.execute("PRAGMA data_version").fetchone()[0] != version
    watch.close()
    return answer.status_code, answer.headers.get("Location", ""), text, written


def test_every_route_has_its_line(shop: Flask) -> None:
    assert as_text(table(shop)) == TABLE.read_text("utf-8"), "see it over, then: python tests/test_who_may.py"
    assert set(may.WHO) == {rule.endpoint for rule in shop.url_map.iter_rules()}


def test_a_route_that_nobody_said_a_role_of_does_not_start(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(may, "WHO", {name: who for name, who in may.WHO.items() if name != "desk.pool"})
    with pytest.raises(RuntimeError, match=r"desk\.pool"):
        shops.app_of(folder)


def test_a_route_without_a_row_is_nobodys(folder: Path, clock: shops.Clock, sign_in) -> None:
    app = shops.app_of(folder, clock)  # its own: routes come before the first page is asked for
    app.add_url_rule("/late", "late", lambda: "late")
    for name in ("Ada Holm", "Di Novak"):
        assert sign_in(shops.phone_of(app), name).get("/late").status_code == 403
    assert shops.phone_of(app).get("/late").status_code == 303


@pytest.mark.parametrize("role", ROLES)
def test_who_may_gets_through_and_who_may_not_is_told_who_may(shop: Flask, role: str) -> None:
    held = phone(shop, role)
    refused = 0
    for row in table(shop):
        _method, rule, endpoint, who = row
        if endpoint == "people.sign_out":
            continue
        status, where, text, written = asked(shop, held, row)
        if who in (may.ANYBODY, may.EVERYBODY) or role in who:
            assert "Only this role may do that" not in text, row
            assert (status == 403) == (endpoint in BY_THE_THING) and not where.startswith("/sign-in"), (row, text)
            assert status < 500, row
        else:
            refused += 1
            assert status == 403 and not written, row
            assert f"Only this role may do that: {' or '.join(who)}." in text and "Go back" in text, row
    assert (refused == 0) == (role == "manager")
    assert asked(shop, held, ("POST", "/sign-out", "people.sign_out", may.EVERYBODY))[1] == "/sign-in"


def test_signed_out_every_other_route_leads_to_sign_in(shop: Flask) -> None:
    held = shops.phone_of(shop)
    for row in table(shop):
        status, where, _text, written = asked(shop, held, row)
        if row[3] is may.ANYBODY:
            assert not where.startswith("/sign-in?"), row
        else:
            assert status == 303 and where.startswith("/sign-in?next=") and not written, row


@pytest.mark.parametrize("role", ROLES)
def test_files_of_people_settings_changes_and_the_whole_log_are_the_managers(shop: Flask, role: str) -> None:
    held = phone(shop, role)
    office = {"people", "settings", "changes", "entries"}
    page = held.get("/desk/files").text
    for name, one in exports.tables().items():
        assert one.office == (name in office)
        open_to = role == "manager" or name not in office
        for kind in ("csv", "jsonl"):
            answer = held.get(f"/desk/files/{name}.{kind}")
            assert answer.status_code == (200 if open_to else 403), (name, kind)
            assert (f"/desk/files/{name}.{kind}" in page) == open_to
            answer.close()
    assert ("are for the manager" in page) == (role != "manager")


LINKS = {
    "/jobs": ("/jobs/new", "job_form.new"), "/jobs/{job}": ("/jobs/{job}/change", "job_form.change_form"),
    "/places": ('action="/places/new"', "places.add"), "/desk/files": ('href="/bring"', "bring.start"),
    "/more": ('href="/people"', "people.people"), "/desk": ('href="/people"', "people.people"),
    "/desk/pool": ('href="/people"', "people.people"),
}  # fmt: skip


@pytest.mark.parametrize("role", ROLES)
def test_no_page_leads_to_what_its_reader_may_not(shop: Flask, role: str) -> None:
    db = store.connect(shop.config["FOLDER"])
    job = db.execute(
        "SELECT code FROM jobs WHERE id NOT IN (SELECT job FROM runs) AND closed_at IS NULL LIMIT 1"
    ).fetchone()[0]
    db.close()
    held = phone(shop, role)
    for path, (link, endpoint) in LINKS.items():
        text = held.get(path.format(job=job)).text
        assert (link.format(job=job) in text) == (role in may.WHO[endpoint]), (path, link)
    text = held.get(f"/jobs/{job}").text
    assert (f"/jobs/{job}/close" in text) == (f"/jobs/{job}/again" in text) == (role in may.LEADS)


def test_the_address_in_the_codes_asks_the_password_again(app: Flask, sign_in, clock) -> None:
    desk = sign_in(shops.phone_of(app), "Di Novak")
    clock.now += timedelta(minutes=6)
    assert 'name="secret"' in desk.get("/settings").text
    assert desk.post("/settings/shop", data={"shop": "Mine"}).status_code == 303
    sent = {"address": "http://10.0.0.66:8600"}
    for secret in ({}, {"secret": "not-that-password"}):
        answer = desk.post("/settings/address", data={**sent, **secret})
        assert answer.status_code == 422 and sent["address"] in answer.text
        assert desk.get("/settings").text.count(sent["address"]) == 0
    said = desk.post("/settings/address", data={**sent, "secret": shops.PEOPLE["Di Novak"][1]})
    assert said.status_code in (200, 303) and sent["address"] in desk.get("/settings").text


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as scratch:
        TABLE.write_text(as_text(table(shops.app_of(Path(scratch) / "shop"))), "utf-8")
