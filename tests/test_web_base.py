"""The frame that every page stands in: the wall, refusals, fields, the three lights, and what a phone makes of them."""

from __future__ import annotations

import base64
import hashlib
import io
import os
import re
import threading
import time
from dataclasses import replace
from datetime import UTC, datetime
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from flask import Flask, g
from hypothesis import given
from hypothesis import strategies as st
from jinja2 import ChoiceLoader, DictLoader, Environment, FileSystemLoader

import web
from tickets.calculator import verdict
from tickets.calculator.verdict import Level, Reason, Verdict
from tickets.domain import step_reading, steps
from tickets.domain.refusal import Clash, Fault, NotAllowed, NotFound, Refused, TryLater
from tickets.store.people import Person
from tickets.store.settings import save_setting
from web import compiled, small, support
from web.may import EVERYBODY

STATIC = Path(web.__file__).parent / "static"
ALL_STEPS = {
    (group, name): step
    for group, table in (("screen", steps.SCREEN_STEPS), ("run", steps.RUN_STEPS), ("bucket", steps.BUCKET_STEPS))
    for name, step in table.items()
}
OPTIONS = {
    "bucket": [("B1", "Photopolymer, lot 12"), ("B2", "Diazo, lot 9")],
    "preset": [("2+1 round edge", "2+1 round edge"), ("1+1 round edge", "1+1 round edge")],
    "exposure_unit": [("1", "LED table"), ("2", "Tubes")],
    "separations": [("1", "White base – Harbour fox"), ("2", "Red – Harbour fox")],
    "separations_seen": [("1", "White base – Harbour fox")],
    "place": [("A", "Rack A"), ("B", "Rack B")],
    "standing_seen": [("bare", "bare"), ("coated", "coated")],
}
FORM = """{% extends "base.html" %}{% import "_fields.html" as f %}{% block title %}Try{% endblock %}
{% block main %}<h1>{{ _(step.title) }}</h1>
{% for one in verdicts %}{{ f.verdict_block(one, "Position 3") }}{% endfor %}
{{ f.step_form(step, "/try/send", entry, values, faults, options, open=true) }}{% endblock %}"""

PICTURE = """{% extends "base.html" %}{% block title %}Try{% endblock %}{% block main %}<h1>Art</h1>
<figure class="picture"><img src="/static/icon.svg" width="200" height="200" alt="art"></figure>
<img src="/static/icon.svg" width="100" height="100" alt="art">{% endblock %}"""

ALL = """{% extends "base.html" %}{% import "_fields.html" as f %}{% block main %}{% for one in many %}
{{ f.step_form(one, "/", "e", faults={"at": "x", "secret": "y"}) }}{% endfor %}{% endblock %}"""


def add_pages(app):
    """Pages to try the frame with: a form of every step, and every kind of refusal."""
    pages = DictLoader({"try.html": FORM, "picture.html": PICTURE, "all.html": ALL})
    app.jinja_loader = ChoiceLoader([app.jinja_loader, pages])
    said = verdict.Phrase("The lowest reading is {minimum_n_per_cm}.", "Restretch it first.")
    verdict._PHRASES.setdefault("try", said)

    pages_to_try = ("try_form", "try_all", "try_picture", "try_send", "try_doing", "try_raise")
    app.config["WHO"].update(dict.fromkeys(pages_to_try, EVERYBODY))

    @app.get("/try/<group>/<name>")
    def try_form(group, name):
        judged = [Verdict(level, (Reason("try", level, {"minimum_n_per_cm": 14.2}),)) for level in Level]
        return support.page(
            "try.html", step=ALL_STEPS[group, name], values=app.config.get("VALUES", {}), options=OPTIONS,
            verdicts=judged if name == "expose" else [], faults={"exposure_s": "Too long."} if name == "expose" else {},
        )  # fmt: skip

    @app.get("/try/all")
    def try_all():
        return support.page("all.html", many=list(ALL_STEPS.values()))

    @app.get("/try/picture")
    def try_picture():
        return support.page("picture.html")

    @app.post("/try/send")
    def try_send():
        return support.form_lists()

    @app.post("/try/doing")
    def try_doing():
        support.set_doing({"text": "Setting up a run: Harbour fox, press 2", "out": "/doing/leave"})
        return "ok"

    refusals = {
        "refused": Refused([Fault("mark", "It is taken: <b>B-12</b>."), Fault("", "Choose another one.")]),
        "missing": NotFound("No such ticket."),
        "forbidden": NotAllowed("Only a manager."),
        "clash": Clash("Sent before."),
        "later": TryLater("Wait a little.", 7),
        "failure": ZeroDivisionError("secret detail"),
    }

    @app.route("/try/raise/<kind>", methods=["GET", "POST"])
    def try_raise(kind):
        raise refusals[kind]

    return app


@pytest.fixture
def app(folder, clock):
    """The shop's pages, and those to try."""
    with shops.pages(folder, clock, more=add_pages) as made:
        yield made


@pytest.fixture
def ada(client, sign_in):
    """A phone in Ada's hands, with the pages to try."""
    return sign_in(client, "Ada Holm")


@pytest.fixture
def served(folder):
    """The server of the browser tests has the pages to try, too."""
    with shops.pages(folder, testing=False, more=add_pages) as made:
        yield made


# -- the wall


def test_everything_but_sign_in_and_ping_is_behind_the_wall(app, client):
    open_pages = {
        "/sign-in",
        "/ping",
        "/favicon.ico",
        "/view",
        "/words",
        "/static/<path:filename>",
        "/first-manager/<token>",
        # by a token of their own, which is asked before anything is shown
        "/wall",
        "/calendar.ics",
        "/api/",
        "/api/openapi.json",
        "/api/<part>",
        "/api/<part>/<code>",
        "/api/jobs",
        "/api/log",
    }
    walled = 0
    for rule in app.url_map.iter_rules():
        if rule.rule in open_pages:
            continue
        path = re.sub("<int:[^>]+>", "1", rule.rule)
        path = re.sub("<[^>]+>", "7K32XM", path)
        for method in sorted((rule.methods or set()) - {"OPTIONS", "HEAD"}):
            answer = client.open(path, method=method)
            assert (answer.status_code, answer.headers["Location"][:13]) == (303, "/sign-in?next"), (method, path)
            walled += 1
    assert walled > 6


def test_even_a_page_that_does_not_exist_is_behind_the_wall(client):
    assert client.get("/nothing/here").headers["Location"] == "/sign-in?next=/nothing/here"


def test_ping_and_static_files_open_no_database(app, client, monkeypatch):
    monkeypatch.setattr(web.store, "connect", lambda *_given: pytest.fail("opened the shop"))
    assert client.get("/ping").data == b"ok"
    for path, kind in (("/static/shop.css", "text/css"), ("/favicon.ico", "image/svg+xml")):
        with client.get(path) as answer:
            assert (answer.status_code, answer.mimetype) == (200, kind)


@pytest.mark.parametrize(
    "origin",
    [None, "null", "http://evil.test", "https://localhost", "http://localhost:81", "http://localhost.evil.test"],
)
def test_a_post_from_elsewhere_is_refused(client, sign_in, origin):
    # OWASP CSRF Prevention cheat sheet: compare Origin with the target; on plain HTTP there is no Sec-Fetch-Site
    sign_in(client, "Ada Holm")
    client.environ_base.pop("HTTP_ORIGIN")
    headers = {} if origin is None else {"Origin": origin}
    for path in ("/sign-out", "/hand-over", "/view", "/sign-in", "/doing/leave", "/nothing"):
        answer = client.post(path, headers=headers)
        assert answer.status_code == 403 and "did not come from a page of ours" in answer.text
    assert client.get("/more").status_code == 200


def test_a_post_to_the_shops_own_name_and_port_is_taken(client):
    sent = {"name": "Ada Holm", "secret": "4711"}
    for base in ("http://shop.test:8600", "http://192.168.1.20:8600", "http://shop.test"):
        answer = client.post("/sign-in", data=sent, base_url=base, headers={"Origin": base})
        assert answer.status_code == 303


def test_every_answer_carries_its_seals(ada, client):
    # OWASP ASVS 5.0: 3.4.3, 3.4.4, 3.4.5, 3.4.6, 14.3.2
    shut = {"object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'"}
    inside = [hashlib.sha256(small.core(view).encode()).digest() for view in (False, True)]  # CSP 3: hash sources
    styles = " ".join(["style-src 'self'", *(f"'sha256-{base64.b64encode(one).decode()}'" for one in inside)])
    policy = shut | {"default-src 'self'", "form-action 'self'", styles}
    for path in ("/more", "/nothing", "/try/raise/refused", "/ping", "/static/shop.css"):
        with ada.get(path) as answer:
            headers = answer.headers
        assert set(headers["Content-Security-Policy"].split("; ")) == policy
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Referrer-Policy"] == "same-origin"
        lasts = "max-age=31536000" if path.startswith("/static") else "no-store"
        assert lasts in headers["Cache-Control"]


@pytest.mark.parametrize("name", ["Ada Holm", "Bo Lind", "Cy Marsh", "Di Novak"])
def test_the_first_page_never_fails(client, sign_in, name):
    sign_in(client, name)
    answer = client.get("/", follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["Location"] in ("/screen-room", "/press", "/desk", "/more", "/first-steps")


# -- what goes wrong


@pytest.mark.parametrize(
    ("kind", "status"), [("refused", 422), ("missing", 404), ("forbidden", 403), ("clash", 409), ("later", 429)]
)
def test_a_refusal_becomes_a_page_with_its_status(ada, kind, status):
    for ask in (ada.get, ada.post):
        answer = ask(f"/try/raise/{kind}")
        assert answer.status_code == status
        # Only somebody who sent something fears for it; an address that is not there saves nothing anyway.
        assert ("Nothing was saved." in answer.text) == (ask == ada.post and kind != "missing")
        assert answer.headers.get("Retry-After") == ("7" if kind == "later" else None)


def test_all_faults_stand_on_the_page_and_nothing_in_them_is_markup(ada):
    text = ada.get("/try/raise/refused").text
    assert "mark: It is taken: &lt;b&gt;B-12&lt;/b&gt;." in text and "Choose another one." in text


def test_an_unexpected_error_has_a_number_that_finds_it_in_the_log(folder, sign_in):
    app = add_pages(shops.app_of(folder, testing=False))
    answer = sign_in(shops.phone_of(app), "Ada Holm").get("/try/raise/failure")
    assert answer.status_code == 500 and "secret detail" not in answer.text  # OWASP ASVS 5.0, 16.5.1
    number = re.search(r'class="number">([0-9a-f]{8})<', answer.text).group(1)
    for handler in app.logger.handlers:
        handler.close()
    log = (folder / "log" / "tickets.log").read_text(encoding="utf-8")
    line = next(line for line in log.splitlines() if number in line)
    assert "ERROR" in line and "/try/raise/failure" in line
    assert "ZeroDivisionError: secret detail" in log


def test_sign_ins_are_logged_on_lines_of_their_own(folder, app, client, sign_in):
    client.post("/sign-in", data={"name": "Eva\r\n2026 ERROR forged", "secret": "1"})  # OWASP ASVS 5.0, 16.4.1
    sign_in(client, "Ada Holm")
    for handler in app.logger.handlers:
        handler.close()
    lines = (folder / "log" / "tickets.log").read_text(encoding="utf-8").splitlines()
    assert len(lines) == 2 and "refused" in lines[0] and "signed in: person 1" in lines[1]
    start = r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ (WARNING|INFO) [0-9a-f]{8} POST '/sign-in' "
    assert all(re.match(start, line) for line in lines)
    assert "4711" not in "".join(lines)


def test_too_much_is_refused_in_words(ada):
    answer = ada.post("/try/send", data={"note": "x" * 1_100_000})
    assert answer.status_code == 413 and "Too large" in answer.text


def test_the_task_in_hand_stands_on_every_page_with_a_way_out(ada):
    ada.post("/try/doing")
    for path in ("/more", "/nothing", "/sign-in", "/try/raise/refused"):
        text = ada.get(path).text
        assert "Setting up a run: Harbour fox, press 2" in text and 'action="/doing/leave"' in text
    assert ada.post("/doing/leave", headers={"Referer": "http://localhost/more?x=1"}).headers["Location"] == "/more?x=1"
    assert "Setting up a run" not in ada.get("/more").text


def test_every_page_has_the_name_and_the_code_box(ada):
    for path in ("/more", "/nothing", "/try/screen/coat", "/try/raise/clash"):
        text = ada.get(path).text
        assert "<strong>Ada Holm</strong>" in text and 'action="/find"' in text


# -- forms


class Sent(HTMLParser):
    """What a browser sends for the form that goes to `action`, untouched (WHATWG HTML, the entry list of a form)."""

    def __init__(self, html, action):
        super().__init__()
        self.action, self.inside, self.fields, self.area, self.text = action, False, {}, None, {}
        self.feed(html)

    def handle_starttag(self, tag, pairs):
        has = dict(pairs)
        if tag == "form":
            self.inside = has.get("action") == self.action
        if not self.inside or not has.get("name"):
            return
        if tag == "textarea":
            self.area = has["name"]
            self.fields.setdefault(self.area, []).append("")
        elif tag == "input" and (has.get("type") not in ("radio", "checkbox") or "checked" in has):
            self.fields.setdefault(has["name"], []).append(has.get("value", ""))

    def handle_data(self, data):
        if self.area:
            self.fields[self.area][-1] += data

    def handle_endtag(self, tag):
        if tag == "textarea":
            self.area = None
        if tag == "form":
            self.inside = False


def prefilled(step):
    """Values that the shop's habits might give for a step."""
    values = {}
    for field in step.fields:
        match field.kind:
            case "number":
                values[field.name] = 62.5 if field.high > 100 else 18.5
            case "numbers":
                values[field.name] = [24.5, 25.0, 24.0]
            case "whole":
                values[field.name] = 3
            case "mesh":
                values[field.name] = "90/cm"
            case "separations":
                values[field.name] = ["1"]
            case "choice" if field.choices:
                values[field.name] = field.choices[-1][0]
            case _ if field.name in OPTIONS:
                values[field.name] = OPTIONS[field.name][-1][0]
            case "date":
                values[field.name] = "2026-03-04"
            case "time":
                values[field.name] = "2026-03-04T16:30"
            case _:
                values[field.name] = "585 x 790" if field.name == "frame_size_mm" else "B-12"
    return values


@pytest.mark.parametrize("view", ["day", "safelight"])
@pytest.mark.parametrize(("group", "name"), list(ALL_STEPS))
def test_a_form_sent_untouched_says_what_it_was_filled_with(ada, app, group, name, view):
    step = ALL_STEPS[group, name]
    values = app.config["VALUES"] = prefilled(step)
    ada.post("/view", data={"view": view})
    sent = Sent(ada.get(f"/try/{group}/{name}").text, "/try/send").fields
    assert re.fullmatch("[0-9]+-[a-z0-9]{20}", sent["entry"][0])
    fields = [field for field in step.fields if field.name != "entry"]
    asked = replace(step, fields=tuple(replace(field, required=False) for field in fields))
    read, _typed = step_reading.read(asked, ada.post("/try/send", data=sent).json)
    for field in asked.fields:
        expected = values[field.name]
        if field.name == step.taps:
            assert field.name not in read  # what was found is said by its button, never by the form
            continue
        tapped = field.kind in ("number", "numbers", "whole") or field.choices or field.name in OPTIONS
        if view == "safelight" and not tapped:
            assert field.name not in read
        elif field.kind == "separations":
            assert read[field.name] == [1]
        else:
            assert read[field.name] == expected, field.name


@pytest.mark.parametrize(("group", "name"), list(ALL_STEPS))
def test_an_empty_form_sends_no_values(ada, group, name):
    required = {field.name for field in ALL_STEPS[group, name].fields if field.required}
    for view in ("day", "safelight"):
        ada.post("/view", data={"view": view})
        sent = support.fold_digits(Sent(ada.get(f"/try/{group}/{name}").text, "/try/send").fields)
        said = {key for key, texts in sent.items() if any(texts) and not key.endswith(".unit")}
        assert said == {"entry"}
        if not required:
            assert step_reading.read(ALL_STEPS[group, name], sent)[0] == {}


def test_no_form_has_a_list_that_drops_down_or_needs_a_keyboard_in_the_dark(ada):
    for group, name in ALL_STEPS:
        for view in ("day", "safelight"):
            ada.post("/view", data={"view": view})
            html = ada.get(f"/try/{group}/{name}").text
            assert "<select" not in html and 'type="number"' not in html
            form = html.split('action="/try/send"')[1].split("</form>")[0]
            kinds = set(re.findall(r'<(?:input|textarea)[^>]*?(?:type="([a-z-]+)")?[^>]*>', form)) - {""}
            if view == "safelight":
                assert kinds <= {"hidden", "radio", "checkbox"} and "<textarea" not in form


def test_a_fault_stands_beside_its_field_and_opens_the_fold(ada):
    html = ada.get("/try/screen/expose").text
    field = html.split(">Exposure time</label>")[1].split("</div>")[0]
    number = re.search('<p class="fault" id="(f[0-9]+)-fault">Too long.</p>', field).group(1)
    assert f'<input id="{number}" name="exposure_s"' in field
    assert f'aria-invalid="true" aria-describedby="{number}-fault"' in field


def test_several_forms_on_a_page_share_no_id(ada):
    found = re.findall(r'\bid="([^"]+)"', ada.get("/try/all").text)
    assert len(found) > 50 and len(found) == len(set(found))


def test_the_demo_says_so_and_a_shop_says_its_name(ada, db):
    assert "DEMO" not in ada.get("/more").text
    save_setting(db, "demo", True, "2026-03-03T07:00:00.000000Z", 1)
    save_setting(db, "shop", "Invented Prints <Prints>", "2026-03-03T07:00:00.000000Z", 1)
    text = ada.get("/more").text
    assert "DEMO" in text and "Invented Prints &lt;Prints&gt;" in text


def test_a_shop_that_cannot_be_opened_still_gets_its_error_page(folder, monkeypatch):
    phone = shops.app_of(folder, testing=False).test_client()
    monkeypatch.setattr(web.store.Pool, "lend", lambda *_given: 1 / 0)
    answer = phone.get("/more")
    assert answer.status_code == 500 and "The program failed here" in answer.text


def test_cautions_come_first_and_end_with_the_makers_sheet(ada):
    html = ada.get("/try/screen/strip").text
    said = ("Stencil remover can burn", "pressure washer cuts", "safety data sheet", "Remover on the mesh")
    assert [html.index(text) for text in said] == sorted(html.index(text) for text in said)


NUMBERS = [
    field
    for step in ALL_STEPS.values()
    for field in step.fields
    if field.kind in ("number", "numbers") and field.low <= 10
]


@given(st.sampled_from(NUMBERS), st.decimals(0, 99999, places=2))
def test_a_number_shown_as_digits_is_that_number_or_is_left_alone(field, value):
    text = f"{value:f}".rstrip("0").rstrip(".") or "0"
    rows = support.digit_rows(field, text)
    held = float(text) < 10_000 and (float(text) * 10) % 1 == pytest.approx(0, abs=1e-6)
    assert bool(rows) == held
    if rows:
        sent = {f"{field.name}.{row.suffix}": [row.digit] for row in rows}
        assert float(support.fold_digits(sent)[field.name][0]) == float(text)
        assert all(row.digit in row.digits for row in rows)


@given(st.sampled_from(NUMBERS), st.decimals(0, 9999, places=1))
def test_what_a_field_takes_can_be_tapped(field, value):
    rows = {row.suffix: row.digits for row in support.digit_rows(field, "")}
    value = float(min(value, int(field.high)))
    value = int(value) if "d01" not in rows else value
    tapped = {suffix: str(round(value * 10) // round(size * 10) % 10) for suffix, size in support.DIGITS}
    assert all(digit in rows.get(suffix, "0") for suffix, digit in tapped.items())


def test_no_first_digit_is_offered_that_no_number_of_the_field_begins_with():
    def first(**how):
        return support.digit_rows(steps.Field("x", "x", "whole", **how), "")[0]

    assert [first(high=1000)[0::3], first(high=350)[0::3], first(high=999)[2:]] == [
        ("d1000", "01"), ("d100", "0123"), ("", "0123456789")]  # fmt: skip
    assert support.digit_rows(steps.Field("x", "x", "whole", high=350), "720")[0].digits == "01234567"


@pytest.mark.parametrize(
    ("sent", "read"),
    [
        ({"x.d100": ["1"], "x.d10": ["2"], "x.d1": ["0"]}, ["120"]),
        ({"x.d1": ["7"], "x.d01": ["5"]}, ["7.5"]),
        ({"x.d01": ["5"]}, ["0.5"]),
        ({"x.d1000": ["0"], "x.d1": ["0"]}, ["0"]),
        ({"x.d10": ["2"], "x.d1": ["4"], "x.blank": ["1"]}, None),
        ({"x.r2.d1": ["5"], "x.r1.d1": ["4"], "x.r10.d1": ["6"]}, ["4", "5", "6"]),
        ({"x.p1": ["0"], "x.p2": ["4"], "x.p3": ["7"], "x.p4": ["1"]}, ["0471"]),
        ({"x.d1": ["77"]}, None),
        ({"x.d1": ["x"]}, None),
        ({"x": ["25,5"]}, ["25,5"]),
    ],
)
def test_taps_are_put_together(sent, read):
    assert support.fold_digits(sent).get("x") == read


def test_the_id_of_an_entry_is_long_random_and_well_formed():
    app = Flask(__name__)
    with app.app_context():
        made = {support.new_entry_id() for _n in range(200)}
        g.person = Person(7, "Ada Holm", "press", None, None)
        assert re.fullmatch("7-[0-9a-f]{20}", support.new_entry_id())
    assert len(made) == 200 and all(re.fullmatch("[a-z0-9]{20}", one) for one in made)


# -- times


@pytest.mark.parametrize(
    ("stamp", "said"),
    [
        # Warsaw: UTC+1, and UTC+2 from 29 March 2026 01:00 UTC (IANA time zone database)
        ("2026-03-03T13:05:00.000000Z", "3 Mar, 14:05"),
        ("2026-03-29T00:59:00.000000Z", "29 Mar, 01:59"),
        ("2026-03-29T01:00:00.000000Z", "29 Mar, 03:00"),
        ("2025-12-31T22:30:00.000000Z", "31 Dec 2025, 23:30"),
        ("2025-12-31T23:30:00.000000Z", "1 Jan, 00:30"),
        ("", "–"),
    ],
)
def test_times_are_said_in_the_shops_zone(app, stamp, said):
    with app.test_request_context():
        g.now, g.settings = datetime(2026, 4, 1, tzinfo=UTC), {"zone": "Europe/Warsaw"}
        assert support.local_time(stamp) == said


@pytest.mark.parametrize(
    ("stamp", "said"),
    [
        ("2026-03-31T23:59:40.000000Z", "just now"),
        ("2026-03-31T23:55:00.000000Z", "5 min ago"),
        ("2026-03-31T21:00:00.000000Z", "3 h ago"),
        ("2026-03-30T01:00:00.000000Z", "47 h ago"),
        ("2026-03-29T23:00:00.000000Z", "2 days ago"),
        ("2026-04-01T00:03:00.000000Z", "just now"),
    ],
)
def test_how_long_ago(app, stamp, said):
    with app.test_request_context():
        g.now, g.settings = datetime(2026, 4, 1, tzinfo=UTC), {}
        assert support.ago(stamp) == said


def test_a_zone_that_does_not_exist_reads_as_utc(app):
    with app.test_request_context():
        g.now, g.settings = datetime(2026, 4, 1, tzinfo=UTC), {"zone": "Mars/Base"}
        assert support.local_time("2026-03-03T13:05:00.000000Z") == "3 Mar, 13:05"


# -- the three lights


def contrast(one, other):
    """WCAG 2.2, contrast ratio of two colours `#rrggbb`."""
    lights = []
    for colour in (one, other):
        parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
        lights.append(0.2126 * red + 0.7152 * green + 0.0722 * blue)
    return (max(lights) + 0.05) / (min(lights) + 0.05)


def lights():
    """The colours by meaning of each light, from the stylesheet."""
    css = "".join((STATIC / f"light-{one}.css").read_text(encoding="utf-8") for one in ("day", "safelight"))
    blocks = re.findall(r"(:root|\.safelight) \{([^}]*--ground[^}]*)\}", css)
    named = [dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", block)) for _selector, block in blocks]
    day, night, dark = filter(None, named)  # print names no colour but black and white
    return {"day": day, "night": night, "safelight": dark}


PAIRS = [
    ("text", "ground"), ("text", "panel"), ("text", "tint"), ("quiet", "ground"), ("quiet", "panel"), ("quiet", "tint"),
    ("act-text", "act"), ("fault", "ground"), ("fault", "panel"), ("fault", "tint"), ("chosen-text", "chosen"),
    ("stop-text", "stop"), ("caution-text", "caution"), ("unknown-text", "unknown"), ("ok-text", "ok"),
]  # fmt: skip


def test_the_contrast_formula_gives_the_known_figures():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)  # WCAG 2.2, definition of contrast ratio
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)  # WebAIM, the lightest grey that passes AA


@pytest.mark.parametrize("light", ["day", "night", "safelight"])
def test_every_text_has_seven_to_one_in_every_light(light):
    colours = lights()[light]  # WCAG 2.2, 1.4.6
    poor = {pair: contrast(*(colours[name] for name in pair)) for pair in PAIRS}
    assert all(ratio >= 7 for ratio in poor.values()), poor
    for edge in ("line", "focus", "act"):  # WCAG 2.2, 1.4.11
        assert contrast(colours[edge], colours["ground"]) >= 3, edge
    paired = {name for pair in PAIRS for name in pair} | {"line", "focus", "soft"}  # soft: a hairline, says nothing
    assert colours.keys() == paired


def test_the_stylesheets_have_no_colours_beside_those_named():
    core, rest = ((STATIC / name).read_text(encoding="utf-8") for name in ("core.css", "shop.css"))
    found = re.findall(r"#[0-9a-f]{3,8}\b|rgb|hsl", core + rest[: rest.index("@media print")])
    assert found == ["#ffffff"]  # the paper behind the artwork, amber in the dark
    assert all(colour.endswith("00") for colour in lights()["safelight"].values())
    assert lights()["day"].keys() == lights()["night"].keys() == lights()["safelight"].keys()


# -- in a real browser, phone-sized, over a name that is not localhost

SEEN = ("/sign-in", "/more", "/words", "/try/picture", "/nothing", "/try/raise/refused", "/try/screen/expose",
        "/try/screen/tension", "/try/screen/coat", "/try/screen/stretch", "/try/screen/check",
        "/try/bucket/mix")  # fmt: skip

TARGETS = """() => {
  const kinds = "a, button, summary, .tile, .digits label, input:not([type=hidden]), textarea";
  const seen = [...document.querySelectorAll(kinds)]
    .filter((one) => one.checkVisibility() && !one.matches(".enter[aria-hidden=true]")  // what Enter presses: unseen
      && !(one.matches("input") && one.closest(".tile, .digits")));
  const name = (one) => one.outerHTML.slice(0, 70);
  const boxes = seen.map((one) => [one, one.getBoundingClientRect()]);
  const bad = [];
  for (const [one, box] of boxes) {
    if (box.height < 47.5 || box.width < 47.5) bad.push(`small ${name(one)} ${box.width}x${box.height}`);
    for (const [other, far] of boxes) {
      if (one === other || one.contains(other) || other.contains(one)) continue;
      const across = Math.max(far.left - box.right, box.left - far.right);
      const down = Math.max(far.top - box.bottom, box.top - far.bottom);
      if (Math.max(across, down) < 7.5) bad.push(`near ${name(one)} | ${name(other)}`);
    }
  }
  return [boxes.length, bad];
}"""


@pytest.fixture
def pages_seen(phone, sign_in_page):
    """Goes through the pages to look at, in one view: yields nothing, calls back."""

    def walk(view, look, name="Ada Holm"):
        sign_in_page(phone, name)
        if view == "safelight":
            with shops.answered(phone):
                phone.get_by_role("button", name="Safelight").click()
        for path in SEEN:
            phone.goto(path)
            look(path)

    return walk


@pytest.mark.browser
def test_a_phone_signs_in_over_the_network(phone, server, sign_in_page):
    sign_in_page(phone, "Ada Holm")
    assert not phone.evaluate("isSecureContext")
    assert phone.locator("header").inner_text().count("Ada Holm") == 1
    assert phone.url.startswith(f"{server}/") and "sign-in" not in phone.url


@pytest.mark.browser
@pytest.mark.parametrize("view", ["day", "safelight"])
def test_pages_pass_the_accessibility_rules(phone, pages_seen, view):
    def look(path):
        rules = shops.ALL_RULES if path in ("/sign-in", "/try/screen/expose") else shops.AXE
        assert shops.broken_rules(phone, rules) == [], path

    pages_seen(view, look)


@pytest.mark.browser
@pytest.mark.parametrize("view", ["day", "safelight"])
@pytest.mark.parametrize("width", [320, 360, 1280])
def test_targets_are_large_and_apart_and_nothing_runs_off_the_side(phone, pages_seen, view, width):
    phone.set_viewport_size({"width": width, "height": 740})

    def look(path):
        count, bad = phone.evaluate(TARGETS)
        assert count > 3 and bad == [], path
        assert phone.evaluate("document.documentElement.scrollWidth") <= width, path

    pages_seen(view, look)


@pytest.mark.browser
@pytest.mark.parametrize("view", ["day", "safelight"])
def test_the_other_pages_are_reached_from_a_long_page_without_scrolling(phone, server, sign_in_page, view):
    """Behind one word in the line at the top of a phone, which stays where it was tapped; beside a wide page, without
    a fold. They come before the main part for whoever goes by keyboard, each once, the open one marked."""
    sign_in_page(phone, "Di Novak")
    if view == "safelight":
        with shops.answered(phone):
            phone.get_by_role("button", name="Safelight").click()
    nav, word = phone.locator("nav.pages"), phone.locator(".menu > summary")
    for path in ("/spec", "/screens", "/screen-room", "/desk", "/press"):
        phone.goto(path)
        assert not nav.is_visible() and phone.locator("main").bounding_box()["y"] <= 80, path
        before = word.bounding_box()
        word.tap()
        after = word.bounding_box()  # still under the finger
        assert nav.is_visible() and all(abs(after[one] - before[one]) <= 4 for one in before), path
        assert phone.evaluate("document.documentElement.scrollWidth") <= 360, path
        assert phone.locator(f"nav a[aria-current=page][href='{path}']").count() == 1, path
        assert path != "/screens" or phone.evaluate(TARGETS)[1] == []
        assert nav.evaluate("(one) => one.compareDocumentPosition(document.querySelector('main')) & 4"), path
    phone.set_viewport_size({"width": 1280, "height": 800})
    for path in ("/screens", "/desk"):
        phone.goto(path)
        box, main = nav.bounding_box(), phone.locator("main").bounding_box()
        assert not word.is_visible() and nav.is_visible() and box["x"] + box["width"] <= main["x"], path
        assert phone.evaluate("document.documentElement.scrollWidth") <= 1280, path


@pytest.mark.browser
def test_a_demo_says_so_inside_a_landmark(phone, served, server, sign_in_page, db):
    """axe's rule `region` (a best practice of Deque's): all content lies in a landmark."""
    save_setting(db, "demo", True, "2026-03-03T07:00:00.000000Z", 1)
    sign_in_page(phone, "Di Novak")
    phone.goto("/more")
    assert phone.locator("header .demo-band").is_visible()
    assert shops.broken_rules(phone, {"runOnly": ["region"]}) == []


@pytest.mark.browser
@pytest.mark.parametrize("wide", [320, 360, 740, 1280])
def test_the_head_of_a_page_is_one_line(phone, sign_in_page, db, wide):
    save_setting(db, "demo", True, "2026-03-03T07:00:00.000000Z", 1)
    save_setting(db, "shop", "The Long Meadow Screen Printing House", "2026-03-03T07:00:00.000000Z", 1)
    sign_in_page(phone, "Di Novak")
    phone.set_viewport_size({"width": wide, "height": 740})
    phone.goto("/more")
    boxes = [phone.locator(one).bounding_box() for one in ("header", ".home", ".view button", ".who")]
    assert all(box and box["y"] + box["height"] <= 60 and box["x"] + box["width"] <= wide for box in boxes), boxes
    code = phone.locator("header").get_by_label("Code or words")
    if wide < 800:
        assert not code.is_visible()
        phone.locator("header summary").click()
    code.fill("ZZZZZZ")
    code.press("Enter")
    phone.wait_for_url("**/find?q=ZZZZZZ")


@pytest.mark.browser
def test_the_pages_about_people_pass_too(phone, sign_in_page):
    sign_in_page(phone, "Ada Holm")
    sign_in_page(phone, "Di Novak")
    for path in ("/people", "/sign-in"):
        phone.goto(path)
        phone.evaluate("document.querySelectorAll('details').forEach((one) => one.open = true)")
        assert shops.broken_rules(phone) == [], path
        assert phone.evaluate(TARGETS)[1] == [], path
    phone.get_by_role("button", name="Ada Holm").tap()
    phone.get_by_role("link", name="Ada Holm").wait_for()


@pytest.mark.browser
@pytest.mark.parametrize("view", ["day", "safelight"])
def test_every_page_of_the_shop_keeps_the_rules(phone, served, sign_in_page, view):
    """All pages whose address names no thing, as the manager sees them in an empty shop."""
    from PIL import Image

    sign_in_page(phone, "Di Novak")
    if view == "safelight":
        with shops.answered(phone):
            phone.get_by_role("button", name="Safelight").click()
    rules = [rule for rule in served.url_map.iter_rules() if "GET" in rule.methods and not rule.arguments]
    for path in sorted(rule.rule for rule in rules if not rule.rule.startswith("/try/")):
        if path == "/ping" or path.startswith("/api/") or path.endswith((".ico", ".ics", ".csv", ".jsonl")):
            continue  # no page
        answer = phone.goto(path)
        assert answer.status in (200, 404), path
        assert shops.broken_rules(phone) == [], path
        assert phone.locator("select, input[type=number]").count() == 0, path
        assert phone.evaluate("document.documentElement.scrollWidth") <= 360, path
        if view == "safelight":
            picture = Image.open(io.BytesIO(phone.screenshot(full_page=True))).convert("RGB")
            assert picture.getchannel("B").getextrema() == (0, 0), path


@pytest.mark.browser
def test_under_the_safelight_no_pixel_has_any_blue(phone, server, pages_seen):
    from PIL import Image

    def look(path):
        for move in ("", "Tab", "Tab", "Tab", "Tab"):
            if move:
                phone.keyboard.press(move)
            picture = Image.open(io.BytesIO(phone.screenshot(full_page=not move, caret="initial"))).convert("RGB")
            red, green, blue = (channel.getextrema() for channel in picture.split())
            assert blue == (0, 0), path
            assert red[1] > 200 and green[1] > 100, path

    pages_seen("safelight", look)
    phone.evaluate("fetch('/try/doing', {method: 'POST'})")
    phone.goto("/more")
    look("/more with a task in hand")
    phone.goto("/sign-in")
    with shops.answered(phone):
        phone.get_by_role("button", name="Sign this phone out").click()
    look("/sign-in, signed out")


@pytest.mark.browser
@pytest.mark.parametrize("view", ["day", "safelight"])
def test_levels_are_told_apart_without_hue(phone, sign_in_page, view):
    sign_in_page(phone, "Ada Holm")
    if view == "safelight":
        with shops.answered(phone):
            phone.get_by_role("button", name="Safelight").click()
    phone.goto("/try/screen/expose")
    seen = [
        phone.locator(f".verdict.{level}").evaluate(
            """(one) => { const word = one.querySelector(".word"), shape = getComputedStyle(word, "::before");
            return [word.firstChild.textContent.trim(), shape.clipPath + shape.borderRadius + shape.borderTopStyle,
                    shape.content]; }"""
        )
        for level in ("stop", "caution", "unknown", "ok")
    ]
    assert [word for word, _shape, _mark in seen] == ["STOP", "Caution", "Unknown", "OK"]
    assert len({shape for _word, shape, _mark in seen}) == len({mark for _word, _shape, mark in seen}) == 4
    size = phone.locator(".verdict.stop .word").evaluate("(one) => parseFloat(getComputedStyle(one).fontSize)")
    assert size >= 48


@pytest.mark.browser
def test_a_phone_without_scripts_signs_in_and_sends_a_form(browser, server):
    context = browser.new_context(viewport={"width": 320, "height": 640}, base_url=server, java_script_enabled=False)
    page = context.new_page()
    page.goto("/try/screen/tension")
    page.get_by_role("radio", name="Ada Holm").check()
    page.fill("input[name=secret]", "4711")
    with shops.answered(page):
        page.get_by_role("button", name="Sign in", exact=True).click()
    assert page.url == f"{server}/try/screen/tension"
    page.get_by_label("Reading 1").first.fill("25,5")
    with shops.answered(page):
        page.get_by_role("button", name="Tension measured").click()
    assert '"25,5"' in page.content()
    context.close()


@pytest.mark.browser
def test_a_number_is_tapped_in_the_dark(phone, sign_in_page):
    sign_in_page(phone, "Ada Holm")
    with shops.answered(phone):
        phone.get_by_role("button", name="Safelight").click()
    phone.goto("/try/screen/coat")
    for label, digit in (("hundreds", "1"), ("tens", "3"), ("ones", "8")):
        rows = phone.get_by_role("group", name="Thickness coated and dry").get_by_role("group", name=label)
        rows.get_by_text(digit, exact=True).tap()
    phone.get_by_role("button", name="Coated", exact=True).tap()
    phone.get_by_text('"entry"').wait_for()
    assert '"coated_thickness_um":["138"]' in phone.content().replace(" ", "")


@pytest.mark.browser
def test_a_second_tap_sends_nothing(phone, sign_in_page):
    sign_in_page(phone, "Ada Holm")
    phone.goto("/try/screen/degrease")
    sent = []
    phone.on("request", lambda request: sent.append(request.url) if request.method == "POST" else None)
    phone.evaluate("""() => { const button = document.querySelector("form.step button.primary");
        button.click(); button.click(); button.click(); }""")
    phone.get_by_text('"entry"').wait_for()
    assert len(sent) == 1


def test_a_template_is_compiled_once_however_many_ask_for_it_at_once() -> None:
    """Twelve threads that a new server is asked by each compiled what a form needs: nobody had a page for seconds."""
    made, together = list[str](), threading.Barrier(6)

    class Slow(DictLoader):
        def get_source(self, environment: Environment, template: str) -> Any:
            made.append(template)
            time.sleep(0.05)
            return super().get_source(environment, template)

    pages = Environment(loader=compiled.Once(Slow({"page": "{{ number }}"})), autoescape=True)
    said: list[str] = []

    def ask(number: int) -> None:
        together.wait(10)
        said.append(pages.get_template("page").render(number=number))

    threads = [threading.Thread(target=ask, args=(number,)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(10)
    assert sorted(said) == list("012345") and made == ["page"]
    assert isinstance(web.every_page(testing=True).jinja_env.loader, compiled.Once)


def test_a_template_whose_file_changed_is_compiled_again(tmp_path: Path) -> None:
    pages = Environment(loader=compiled.Once(FileSystemLoader(tmp_path)), autoescape=True)
    (tmp_path / "page").write_text("before")
    assert pages.get_template("page").render() == "before"
    (tmp_path / "page").write_text("after")
    os.utime(tmp_path / "page", (1, 1))
    assert pages.get_template("page").render() == "after"
