"""What other programs read: described by OpenAPI 3.1, held against general validators of it and of JSON Schema."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import openapi_spec_validator
import pytest
import shop as shops
from flask import Flask
from flask.testing import FlaskClient
from shop import NOW, Shop, fresh

from tickets import demo, store
from tickets.actions import people as people_acts
from tickets.actions import tokens as acts
from tickets.domain.refusal import Refused
from tickets.queries import interface
from tickets.store import tokens


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shops.the_demo(tmp_path_factory.mktemp("interface"))


@pytest.fixture(scope="module")
def app(folder: Path) -> Iterator[Flask]:
    with shops.pages(folder, lambda: NOW) as made:
        yield made


def token_for(folder: Path, *parts: str) -> str:
    db = store.connect(folder)
    made = Shop(db)
    token = acts.make(db, made.manager, "interface", "The office", False, parts, post=fresh(), now=NOW)[1]
    db.close()
    return token


def get(phone: FlaskClient, path: str, token: str) -> Any:
    answer = phone.get(path, headers={"Authorization": f"Bearer {token}"})
    assert answer.status_code == 200 and answer.mimetype == "application/json", answer.text
    return answer.get_json()


def described(phone: FlaskClient) -> dict[str, Any]:
    found = phone.get("/api/openapi.json").get_json()
    assert isinstance(found, dict)
    return found


def test_the_description_is_openapi_and_names_every_part(app: Flask) -> None:
    phone = shops.phone_of(app)
    told = described(phone)
    openapi_spec_validator.validate(told)
    assert {path.split("/")[2] for path in told["paths"]} == set(interface.PARTS) == set(acts.READS)
    assert phone.get("/api/").get_json()["parts"].keys() == interface.PARTS.keys()
    assert NOW.strftime("%Y") not in json.dumps(told)  # it says nothing of what the shop keeps


@pytest.mark.parametrize("part", interface.PARTS)
def test_what_is_read_is_as_described_and_comes_page_by_page_once(app: Flask, folder: Path, part: str) -> None:
    phone, token = shops.phone_of(app), token_for(folder, part)
    told = described(phone)
    schema = told["paths"][f"/api/{part}"]["get"]["responses"]["200"]["content"]["application/json"]["schema"]
    check = jsonschema.Draft202012Validator({**schema, "components": told["components"]})
    since, found = 0, []
    for _page in range(200):
        page = get(phone, f"/api/{part}?since={since}&limit=37", token)
        check.validate(page)
        assert len(page["items"]) <= 37
        found += page["items"]
        if page["next"] is None:
            break
        since = page["next"]
    db = store.connect(folder)
    table = {"log": "entries"}.get(part, part)
    assert len(found) == db.execute(f"SELECT count(*) FROM {table}").fetchone()[0] > 3
    name = {"screens": "screen", "jobs": "job", "runs": "run", "buckets": "bucket", "log": "entry"}[part]
    assert len({one[name] for one in found}) == len(found)
    assert set(found[0]) <= set(told["components"]["schemas"][part]["properties"])
    assert get(phone, f"/api/{part}?since={page['last']}", token) == {"items": [], "next": None, "last": page["last"]}
    if interface.PARTS[part].one is not None:
        one = get(phone, f"/api/{part}/{found[0][name]}", token)
        assert found[0][name] in json.dumps(one)
    db.close()


def test_the_log_since_a_number_is_what_was_saved_later(app: Flask, folder: Path) -> None:
    phone, token = shops.phone_of(app), token_for(folder, "log")
    last = get(phone, "/api/log?limit=500", token)
    while last["next"]:
        last = get(phone, f"/api/log?since={last['next']}&limit=500", token)
    db = store.connect(folder)
    made = Shop(db)
    code = made.frame()
    made.log(code, "note", note="seen by nobody")
    new = get(phone, f"/api/log?since={last['last']}", token)["items"]
    assert [one["step"] for one in new] == ["stretch", "note"] and {one["screen"] for one in new} == {code}
    db.close()


def test_nothing_is_read_without_a_token_that_is_for_it(app: Flask, folder: Path) -> None:
    phone, jobs = shops.phone_of(app), token_for(folder, "jobs")
    db = store.connect(folder)
    wall = acts.make(db, Shop(db).manager, "wall", "Wall", False, post=fresh(), now=NOW)[1]
    code = db.execute("SELECT code FROM screens LIMIT 1").fetchone()[0]
    for part in interface.PARTS:
        people_acts._nobodies.clear()  # wrong ones of one address are slowed: test_programs
        for headers in ({}, {"Authorization": f"Bearer {wall}"}, {"Authorization": jobs}, {"Authorization": "Bearer "}):
            answer = phone.get(f"/api/{part}?token={jobs}", headers=headers)
            assert answer.status_code == 401 and answer.headers["WWW-Authenticate"] == "Bearer", (part, headers)
            assert answer.mimetype == "application/problem+json"
        if part != "jobs":
            answer = phone.get(f"/api/{part}", headers={"Authorization": f"Bearer {jobs}"})
            assert answer.status_code == 403 and "jobs" in answer.get_json()["title"]
    header = {"Authorization": f"Bearer {jobs}"}
    assert phone.get(f"/api/screens/{code}", headers=header).status_code == 403
    for path in ("/api/people", "/api/jobs/NO1SUCH", "/api/runs/1", "/api/log/1"):
        assert phone.get(path, headers=header).status_code in (404, 422), path
    for asked in ("since=-1", "since=x", "limit=0", "limit=501", "since=" + "9" * 40, "limit=²"):
        answer = phone.get(f"/api/jobs?{asked}", headers=header)
        assert answer.status_code == 422 and list(answer.get_json()["faults"]) == [asked.split("=")[0]], asked
    for way in ("put", "delete", "patch"):
        assert getattr(phone, way)("/api/jobs", headers=header).status_code in (303, 401, 405), way
    assert phone.post("/api/jobs", headers=header).status_code == 403
    (number,) = [one[0] for one in db.execute("SELECT max(id) FROM read_tokens WHERE scope = 'interface'").fetchall()]
    acts.withdraw(db, Shop(db).manager, number, post=fresh(), now=NOW)
    assert phone.get("/api/jobs", headers=header).status_code == 401
    db.close()


def test_the_manager_ticks_what_a_program_may_read(app: Flask, folder: Path) -> None:
    phone = shops.signed_in(shops.phone_of(app), "Di Novak", demo.SECRETS["Di Novak"][1])
    page = phone.get("/walls").text
    entry = page.split('name="entry" value="')[-1].split('"')[0]
    sent = {"name": "Accounts", "scope": "interface", "entry": entry, "secret": demo.SECRETS["Di Novak"][1]}
    answer = phone.post("/walls", data=sent)
    assert answer.status_code == 422 and "Tick what the program may read or do" in answer.text
    answer = phone.post("/walls", data=sent | {"parts": ["jobs", "runs"]})
    token = answer.text.split('Token: <span class="code-small">')[1].split("<")[0]
    assert get(shops.phone_of(app), "/api/runs", token)["items"] and "jobs, runs" in answer.text
    db = store.connect(folder)
    (kept,) = [one for one in tokens.every(db) if one.name == "Accounts"]
    assert kept.parts == ("jobs", "runs") and kept.acts_as is None
    with pytest.raises(Refused, match="One of: screens, jobs"):
        acts.make(db, Shop(db).manager, "interface", "All", False, ["people"], post=fresh(), now=NOW)
    db.close()
