"""What other programs send by a token that may: steps and job files, once by a key, refused as on a page, answered as
the description says; and the command that makes and withdraws tokens."""

from __future__ import annotations

import json
import re
from typing import Any

import jsonschema
import pytest
import shop as shops
from flask.testing import FlaskClient
from shop import Clock, Shop, fresh
from test_command_parity import data, refused, tickets

from tickets.actions import tokens as acts
from tickets.cli import given
from tickets.domain.code import shown
from tickets.domain.jobs.job import read_file
from tickets.domain.refusal import NotFound
from tickets.queries import find
from tickets.store import entries, people
from web import interface as pages


class Program:
    """A program of the office, with a token for some parts, and a shop of its own to send to."""

    def __init__(self, shop: Shop, client: FlaskClient, *parts: str) -> None:
        self.shop, self.client = shop, client
        made = acts.make(shop.db, shop.manager, "interface", "Gauge", False, parts, post=fresh(), now=shop.now)
        self.number, self.token = made
        self.told = client.get("/api/openapi.json").get_json()

    def post(self, path: str, sent: Any, key: str = "", kind: str = "application/json", **headers: str) -> Any:
        body = sent if isinstance(sent, str | bytes) else json.dumps(sent)
        own = {"Authorization": f"Bearer {self.token}", "Idempotency-Key": key or fresh(), "Content-Type": kind}
        answer = self.client.post(path, data=body, headers={**own, **headers})
        self.as_described(path.split("?")[0], answer)
        return answer

    def as_described(self, path: str, answer: Any) -> None:
        """Every answer is one of those that the description has, and looks so."""
        there = self.told["paths"][path]["post"]["responses"][str(answer.status_code)]["content"]
        schema = there[answer.mimetype]["schema"]
        jsonschema.Draft202012Validator({**schema, "components": self.told["components"]}).validate(answer.get_json())

    def fits(self, sent: Any) -> bool:
        """Whether the description takes what is sent to the log."""
        body = self.told["paths"]["/api/log"]["post"]["requestBody"]["content"]["application/json"]["schema"]
        return jsonschema.Draft202012Validator({**body, "components": self.told["components"]}).is_valid(sent)


def test_a_program_logs_steps_in_its_own_name_once_by_its_key(shop: Shop, client: FlaskClient) -> None:
    it, code = Program(shop, client, "post-entries"), shop.frame()
    sent = {"screen": shown(code), "step": "tension", "values": {"readings_n_per_cm": [25.5, 25, 26]}}
    assert it.fits(sent)
    key = "6f1c2c9e-8f59-4dd0-9d0e-0f3f2a6b7c11"
    first = it.post("/api/log", sent, key)
    assert first.status_code == 201 and first.get_json()["screen"] == code, first.text
    (logged,) = entries.of_post(shop.db, key.replace("-", ""))
    assert logged.values["readings_n_per_cm"] == [25.5, 25, 26] and logged.signed == "token"
    assert people.names(shop.db)[logged.person] == "Gauge (program)"
    assert first.get_json()["entries"] == [logged.entry]
    again = it.post("/api/log", sent, key)
    assert again.status_code == 200 and again.get_json()["entries"] == [logged.entry]
    other = it.post("/api/log", {**sent, "values": {"readings_n_per_cm": [20]}}, key)
    assert other.status_code == 409 and "saved already" in other.get_json()["title"]
    assert len(entries.of_post(shop.db, key.replace("-", ""))) == 1
    mixed = shop.mix()
    assert it.post("/api/log", {"bucket": mixed, "step": "note", "values": {"note": "stirred"}}).status_code == 201
    dated = {"bucket": mixed, "step": "note", "at": "2020-01-01T00:00", "values": {"note": "x"}}
    assert it.fits(dated)


def test_what_is_refused_names_its_field_and_a_question_is_answered_by_it(shop: Shop, client: FlaskClient) -> None:
    it, code = Program(shop, client, "post-entries"), shop.frame()
    before = shop.db.execute("SELECT count(*) FROM entries").fetchone()[0]

    def faults(sent: Any, status: int = 422) -> list[str]:
        answer = it.post("/api/log", sent)
        assert answer.status_code == status, answer.text
        return list(answer.get_json()["faults"])

    note = {"screen": code, "step": "note", "values": {"note": "x"}}
    assert it.fits(note)
    for sent, names in (
        ({**note, "step": "fly"}, ["step"]),
        ({**note, "why": 1}, ["why"]),
        ({**note, "run": 1}, ["screen"]),
        ({**note, "values": [1]}, ["values"]),
        ({**note, "screen": True}, ["screen"]),
        ({"step": "note", "values": {"note": {"a": 1}}}, ["screen", "note"]),
        ([], [""]),
    ):
        assert not it.fits(sent) and faults(sent) == names, sent
    assert faults({"screen": code, "step": "tension", "values": {"readings_n_per_cm": ["25,5 or so"]}}) == [
        "readings_n_per_cm"
    ]
    assert faults({**note, "values": {"note": "x", "secret": "1234"}}) == ["secret"]
    assert faults({**note, "at": "tomorrow"}) == ["at"]
    assert faults({**note, "screen": "7K32XM"}, 404) == ["code"]
    assert faults({"run": 9, "step": "count", "values": {"good": 1}}, 404) == ["run"]
    for step in ("cross-out", "approve"):
        assert faults({"run": 9, "step": step}, 403) == ["step"]
    assert faults({**note, "values": {"note": "x", "override": "in a hurry"}}, 403) == ["override"]
    assert shop.db.execute("SELECT count(*) FROM entries").fetchone()[0] == before


def test_a_question_comes_back_as_one(shop: Shop, client: FlaskClient) -> None:
    it, code = Program(shop, client, "post-entries"), shop.frame()
    sent: dict[str, Any] = {"screen": code, "step": "washout", "values": {"result": "good"}}
    asked = it.post("/api/log", sent)
    assert asked.status_code == 409 and list(asked.get_json()["faults"]) == ["in_hand"], asked.text
    sent["values"]["in_hand"] = True
    assert it.post("/api/log", sent).status_code == 201


def test_a_job_file_is_entered_as_toml_and_as_json(shop: Shop, client: FlaskClient) -> None:
    it = Program(shop, client, "post-jobs")
    path = shops.SAMPLES / "night-run.toml"
    text, kind = re.sub(r"(?m)^picture = .*\n", "", path.read_text("utf-8")), "application/toml"
    key = fresh()
    first = it.post("/api/jobs", text, key, kind)
    assert first.status_code == 201, first.text
    code = first.get_json()["job"]
    assert find.job(shop.db, code).sheet.title == read_file(path).title
    again = it.post("/api/jobs", text, key, kind)
    assert again.status_code == 200 and again.get_json()["job"] == code
    twice = it.post("/api/jobs", text, kind=kind)
    assert twice.status_code == 409 and list(twice.get_json()["faults"]) == ["twice"]
    assert it.post("/api/jobs?twice=yes", text, kind=kind).status_code == 201
    data = {**find.job(shop.db, code).sheet.to_dict(), "title": "Other shirts"}
    data["art"].pop("picture", None)
    data.pop("reference")
    body = it.told["components"]["schemas"]["job_file"]
    assert jsonschema.Draft202012Validator(body).is_valid(data)
    assert it.post("/api/jobs?bare=yes", data).status_code == 201
    data["placement"][0]["station"][0]["mesh"] = {"count": "many"}
    wrong = it.post("/api/jobs", data)
    assert wrong.status_code == 422 and "placement[1].station[1].mesh.count" in wrong.get_json()["faults"]
    assert it.post("/api/jobs", [1]).status_code == 422
    assert it.post("/api/jobs", "title = ", kind=kind).status_code == 400
    assert it.post("/api/jobs", "{").status_code == 400
    assert it.post("/api/jobs", "x", kind="text/csv").status_code == 415


def test_a_program_sends_only_what_its_token_is_for_and_nothing_by_a_sign_in(shop: Shop, client: FlaskClient) -> None:
    code = shop.frame()
    it, jobs = Program(shop, client, "post-entries"), Program(shop, client, "post-jobs", "log")
    sent = {"screen": code, "step": "note", "values": {"note": "x"}}
    assert it.post("/api/log", sent, Origin="http://elsewhere.test").status_code == 201  # no page sends it
    assert jobs.post("/api/log", sent).status_code == 403 and it.post("/api/jobs", {}).status_code == 403
    shops.signed_in(client, "Di Novak")
    home = f"http://{shops.HOST}"
    for told in ("", "Basic x", it.token, "Bearer ", f"Bearer {it.token[:-1]}"):
        assert it.post("/api/log", sent, Authorization=told, Origin=home).status_code == 401, told
    assert it.post("/api/log", sent, "short").status_code == 400
    assert it.post("/api/log", {**sent, "values": {"note": "x" * pages.MOST_OF_A_LINE}}).status_code == 413
    assert jobs.post("/api/jobs", "x" * (pages.MOST_OF_A_JOB + 1)).status_code == 413
    acts.withdraw(shop.db, shop.manager, it.number, post=fresh(), now=shop.now)
    assert it.post("/api/log", sent).status_code == 401
    with pytest.raises(NotFound):
        given.who_acts(shop.db, "Gauge (program)", shop.now)


def test_many_wrong_tokens_wait_and_a_right_one_never(shop: Shop, client: FlaskClient) -> None:
    it, code = Program(shop, client, "post-entries"), shop.frame()
    sent = {"screen": code, "step": "note", "values": {"note": "x"}}
    tried = [it.post("/api/log", sent, Authorization=f"Bearer wrong{n}") for n in range(5)]
    assert [one.status_code for one in tried] == [401, 401, 401, 429, 429] and tried[-1].headers["Retry-After"] == "1"
    assert it.post("/api/log", sent).status_code == 201


def test_a_sent_line_waits_while_the_clock_is_doubtful(shop: Shop, client: FlaskClient, clock: Clock) -> None:
    it, code = Program(shop, client, "post-entries"), shop.frame()
    sent, key = {"screen": code, "step": "note", "values": {"note": "x"}}, fresh()
    clock.on(hours=-20)
    held = client.post(
        "/api/log",
        data=json.dumps(sent),
        headers={"Authorization": f"Bearer {it.token}", "Idempotency-Key": key, "Content-Type": "application/json"},
    )
    assert held.status_code == 503 and held.mimetype == "application/problem+json" and held.headers.get("Retry-After")
    clock.on(hours=20)
    assert it.post("/api/log", sent, key).status_code == 201


def test_the_command_makes_lists_and_withdraws_tokens_and_shows_one_once(shop: Shop, client: FlaskClient) -> None:
    made = data(shop.db, "token", "add", "Gauge", "--may", "log", "--may", "post-entries", "--entry", "a" * 20)
    assert made["may"] == ["log", "post-entries"] and len(made["secret"]) == acts.LENGTH
    assert data(shop.db, "token", "add", "Gauge", "--may", "log", "--may", "post-entries", "--entry", "a" * 20)[
        "secret"
    ] is None  # fmt: skip
    own = {"Authorization": f"Bearer {made['secret']}"}
    assert client.get("/api/log", headers=own).status_code == 200
    assert [one["name"] for one in data(shop.db, "token", "list")] == ["Gauge"]
    assert made["secret"] not in tickets(shop.db, "token", "list").output
    assert [one["place"] for one in refused(shop.db, "token", "add", "X", "--may", "people")] == ["--may"]
    assert [one["place"] for one in refused(shop.db, "token", "add", "X", "--for", "door")] == ["--for"]
    assert "only" not in tickets(shop.db, "token", "add", "Hall", "--for", "wall").output
    assert tickets(shop.db, "token", "add", "X", "--may", "log", "--by", "Bo Lind").exit_code == 2
    assert data(shop.db, "token", "withdraw", str(made["token"]))["withdrawn_at"]
    assert client.get("/api/log", headers={"Authorization": f"Bearer {made['secret']}"}).status_code == 401
    assert [one["for"] for one in data(shop.db, "token", "list")] == ["wall"]
    assert len(data(shop.db, "token", "list", "--all")) == 2
