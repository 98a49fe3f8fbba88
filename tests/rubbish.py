"""Rubbish of every sort for the pages, made by a seed out of the program's own routes and the forms that it shows.

Most are forms as they were shown with one thing broken: what is wrong everywhere is refused at the door. One request is
made once and sent either way: straight to the pages (`Straight`, in the environment that the server would make of it),
or over a socket (`wire`).

`python tests/rubbish.py --seed 1 --slices 40 --each 2500` runs by name and prints what was answered.
"""

from __future__ import annotations

import argparse
import http.client
import json
import logging
import random
import re
import socket
import sqlite3
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path
from typing import Any
from urllib.parse import quote_from_bytes, unquote_to_bytes, urlsplit

import shop as shops
from flask import Flask, got_request_exception
from rubbish_words import BAD, DISPOSITIONS, ENDS, FIRST_LINES, HEADER_LINES, HEADERS, KINDS, METHODS, NAMES, RAW

from tickets import demo, store
from web import pictures

Pairs = list[tuple[bytes, bytes]]


CODE = [*(shops.ROOT / "web").glob("*.py"), *(shops.ROOT / "tickets" / "actions").glob("*.py")]
READ = re.compile(r"""(?:one|one_of|all_of|get|getlist|yes|take)\((?:\w+, )?"([a-z_]+)\"""")
"""How the program names a field that it reads; many stand on no page until something was sent."""


# -- what the pages show


@dataclass
class AForm:
    """A form of a page, with every name that it sends and what may be in it."""

    action: str
    method: str
    controls: list[dict[str, str]] = field(default_factory=list)


class Page(HTMLParser):
    """The forms of a page, what stands in their fields, and its links."""

    def __init__(self, text: str, path: str) -> None:
        super().__init__()
        self.path = path
        self.forms: list[AForm] = []
        self.links: list[str] = []
        self.by_id: dict[str, AForm] = {}
        self.now: AForm | None = None
        self.area: dict[str, str] | None = None
        self.chosen: dict[str, str] | None = None
        self.later: list[tuple[str, dict[str, str]]] = []
        self.feed(text)
        for owner, one in self.later:
            if owner in self.by_id:
                self.by_id[owner].controls.append(one)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        one = {"tag": tag, **{name: value or "" for name, value in attrs}}
        if tag == "form":
            self.now = AForm(one.get("action") or self.path, (one.get("method") or "get").lower())
            self.forms.append(self.now)
            if "id" in one:
                self.by_id[one["id"]] = self.now
        elif tag == "a" and one.get("href", "").startswith("/"):
            self.links.append(one["href"].split("#")[0])
        elif tag == "option" and self.chosen is not None:
            if "selected" in one or "value" not in self.chosen:
                self.chosen["value"] = one.get("value", "")
            self.chosen["values"] = "\n".join([*filter(None, [self.chosen.get("values")]), one.get("value", "")])
        elif tag in ("button", "input", "textarea", "select"):
            if tag == "textarea":
                self.area = one
                one["value"] = ""
            self.chosen = one if tag == "select" else self.chosen
            if "form" in one:
                self.later.append((one["form"], one))
            elif self.now is not None:
                self.now.controls.append(one)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.now = None
        elif tag == "textarea":
            self.area = None
        elif tag == "select":
            self.chosen = None

    def handle_data(self, data: str) -> None:
        if self.area is not None:
            self.area["value"] += data


# -- one request


@dataclass(frozen=True)
class Request:
    """What goes out: the target as it stands in the first line, the headers, the body. `what`: what was done to it."""

    method: str
    target: bytes
    headers: tuple[tuple[str, str], ...] = ()
    body: bytes = b""
    role: str = ""
    what: str = ""

    def header(self, name: str, value: str | None) -> Request:
        """With that header in the place of any before; None: without it."""
        rest = tuple(one for one in self.headers if one[0].lower() != name.lower())
        return replace(self, headers=rest if value is None else (*rest, (name, value)))

    def wire(self) -> bytes:
        """As it goes over a socket."""
        lines = [self.method.encode("latin-1", "replace") + b" " + self.target + b" HTTP/1.1"]
        lines += [name.encode() + b": " + on_the_wire(value) for name, value in self.headers]
        return b"\r\n".join(lines) + b"\r\n\r\n" + self.body

    def told(self) -> str:
        """For whoever looks into it: what a test that does the same takes."""
        body = self.body if len(self.body) < 4_000 else self.body[:4_000] + b"..."
        headers = [one for one in self.headers if one[0] != "Cookie" or "broken header Cookie" in self.what]
        return f"{self.what} · {self.role or 'signed out'}: {self.method} {self.target[:600]!r} {headers} {body!r}"


def on_the_wire(value: str) -> bytes:
    """A header's value as bytes."""
    try:
        return value.encode("latin-1")
    except UnicodeEncodeError:
        return value.encode("utf-8", "surrogateescape")


@dataclass
class Answer:
    """What came back."""

    status: int
    headers: list[tuple[str, str]]
    body: bytes

    def header(self, name: str) -> str:
        """The first header of that name, or nothing."""
        return next((value for key, value in self.headers if key.lower() == name.lower()), "")


class Straight:
    """Sends a request to the pages in the environment that the server would make of it, without a socket between."""

    def __init__(self, app: Flask) -> None:
        self.app = app

    def __call__(self, sent: Request) -> Answer:
        path, _mark, query = sent.target.partition(b"?")
        environ: dict[str, Any] = {
            "REQUEST_METHOD": sent.method,
            "SCRIPT_NAME": "",
            "SERVER_PROTOCOL": "HTTP/1.1",
            "SERVER_NAME": "localhost",
            "SERVER_PORT": "80",
            "PATH_INFO": "/" + unquote_to_bytes(path).lstrip(b"/").decode("latin-1"),
            "QUERY_STRING": query.decode("latin-1"),
            "REMOTE_ADDR": "127.0.0.1",
            "wsgi.url_scheme": "http",
            "wsgi.version": (1, 0),
            "wsgi.input": BytesIO(sent.body),
            "wsgi.errors": sys.stderr,
            "wsgi.multithread": True,
            "wsgi.multiprocess": False,
            "wsgi.run_once": False,
            "wsgi.input_terminated": True,
            "CONTENT_LENGTH": str(len(sent.body)),
        }
        for name, value in sent.headers:
            key = name.upper().replace("-", "_")
            key = key if key in ("CONTENT_TYPE", "CONTENT_LENGTH") else f"HTTP_{key}"
            environ[key] = on_the_wire(value).decode("latin-1")
        begun: list[tuple[str, list[tuple[str, str]]]] = []
        made = self.app(environ, lambda status, headers, _error=None: begun.append((status, headers)))
        try:
            body = b"".join(made)
        finally:
            if hasattr(made, "close"):
                made.close()
        return Answer(int(begun[0][0].split()[0]), begun[0][1], body)


class Wire:
    """Sends it over a socket to a real server, and waits for the whole answer; status 0: it was given none, which a
    request that never ended, or was none, may be."""

    def __init__(self, address: str) -> None:
        self.port = urlsplit(address).port

    def __call__(self, sent: Request) -> Answer:
        with socket.create_connection(("127.0.0.1", self.port), timeout=20) as line:
            with suppress(OSError):  # an answer may come before the request has ended
                line.sendall(sent.header("Connection", "close").wire() if sent.method else sent.body)
                line.shutdown(socket.SHUT_WR)
            answer = http.client.HTTPResponse(line, method=sent.method or "GET")
            try:
                answer.begin()
                return Answer(answer.status, answer.getheaders(), answer.read())
            except (ConnectionError, http.client.BadStatusLine, http.client.IncompleteRead):
                return Answer(0, [], b"")


# -- the generator


THINGS = {
    "/jobs": "SELECT code FROM jobs",
    "/print/job": "SELECT code FROM jobs",
    "/desk/trace": "SELECT code FROM codes",
    "/screens": "SELECT code FROM screens",
    "/desk/screens": "SELECT code FROM screens",
    "/t": "SELECT code FROM codes",
    "/places": "SELECT code FROM places",
    "/desk/stocktake": "SELECT code FROM places WHERE kind <> 'press'",
    "/buckets": "SELECT code FROM buckets",
    "/print/bucket": "SELECT code FROM buckets",
    "/print/place": "SELECT code FROM places",
    "/print/again": "SELECT id FROM printed",
    "/runs": "SELECT id FROM runs",
    "/print/run": "SELECT id FROM runs",
    "/spec": "SELECT id FROM spec",
    "/people": "SELECT id FROM people",
    "/exposure-units": "SELECT name FROM exposure_units",
    "/pictures": "SELECT hash FROM pictures",
}
"""Where an address gets the things from that it is about."""
WORDS = {
    "step": ["note", "cross-out", "count", "expose"],
    "filename": ["shop.css"],
    "token": ["none"],
    "size": ["small"],
    "kind": ["bucket", "place"],
}
TYPED = {
    "date": ["2026-03-12"],
    "datetime-local": ["2026-03-10T09:00"],
    "tel": ["24"],
    "number": ["24"],
    "url": ["http://10.0.0.5:8600"],
}
SUITS = [
    ("pieces", "24"),
    ("count_as", "230/in"),
    ("mesh_count", "77"),
    ("thread", "48"),
    ("width", "300 mm"),
    ("height", "200 mm"),
    ("due", "2026-03-20"),
    ("at", "2026-03-10T09:30"),
    ("by", "Cy Marsh"),
    ("lab", "50;1;2"),
    ("readings", "24 25 24"),
    ("_s", "60"),
    ("_pct", "50"),
    ("_um", "48"),
    ("_mm", "300"),
    ("_degc", "160"),
    ("_h", "4"),
    ("strokes", "2"),
    ("good", "3"),
    ("misprinted", "1"),
    ("colour", "reed green"),
    ("ink", "plastisol"),
    ("fibre", "cotton 100 %"),
    ("name", "Reed 4"),
    ("mark", "R 4"),
    ("title", "Reed totes"),
    ("customer", "Reedbed Walkers"),
    ("note", "seen"),
    ("why", "wrong screen"),
    ("override", "lead said so"),
    ("source", "our step strips"),
    ("cause", "torn"),
    ("value", "12"),
    ("pin", "4711"),
    ("product", "Emulsion A"),
    ("lines", "09:30 degrease"),
    ("list", "mark,mesh_count,frame\nR 7,230/in,aluminium\n"),
]
"""What does in a field whose name has the first in it, so that some forms are taken."""


class Shop:
    """The invented shop in the hands of all its people, and what rubbish is made of."""

    def __init__(self, app: Flask, seed: int, send: Any = None, host: str = "localhost") -> None:
        self.app, self.dice, self.host = app, random.Random(seed), host
        self.send = send or Straight(app)
        self.cookies: dict[str, str] = {}
        self.forms: dict[str, dict[str, AForm]] = {role: {} for role in (*ROLES, "")}
        self.links: dict[str, dict[str, str]] = {role: {} for role in (*ROLES, "")}
        self.names = NAMES | {name for file in CODE for name in READ.findall(file.read_text("utf-8"))}
        self.values: list[bytes] = []
        self.rules = list(app.url_map.iter_rules())
        db = sqlite3.connect(app.config["FILE"])
        self.things = {start: [str(row[0]) for row in db.execute(asked)] for start, asked in THINGS.items()}
        self.people = db.execute("SELECT id, secret, role FROM people").fetchall()
        db.close()
        self.plain: list[tuple[Request, Answer]] = []

    # people

    def cookie(self, role: str) -> str:
        """The cookie of a phone that somebody of that role holds; nobody's for no role."""
        if not role:
            return ""
        if role not in self.cookies:
            name, secret = ROLES[role]
            body = encoded([(b"name", name.encode()), (b"secret", secret.encode())])
            sent = self.form_request("POST", "/sign-in", body, "")
            answer = self.send(sent)
            found = [
                value.split(";")[0]
                for key, value in answer.headers
                if key.lower() == "set-cookie" and value.startswith("shop=")
            ]
            if answer.status != 303 or not found:
                self.let_in()  # somebody was given another PIN, or left, or guessed at too often
                return ""
            self.cookies[role] = found[0]
        return self.cookies[role]

    def let_in(self) -> None:
        """Everybody works here again, in the role and with the secret as before."""
        db = store.connect(self.app.config["FOLDER"])
        with db.conn:
            for person, secret, role in self.people:
                db.execute(
                    "UPDATE people SET left_at = NULL, secret = ?, role = ? WHERE id = ?", [secret, role, person]
                )
            db.execute("DELETE FROM tries")
        db.close()

    def form_request(
        self, method: str, target: str, body: bytes, role: str, kind: str = "application/x-www-form-urlencoded"
    ) -> Request:
        """A request as a browser makes it."""
        headers = [("Host", self.host)]
        cookie = self.cookie(role)
        if cookie:
            headers.append(("Cookie", cookie + ("; view=safelight" if self.dice.random() < 0.1 else "")))
        if method not in ("GET", "HEAD"):
            headers += [("Origin", f"http://{self.host}"), ("Content-Type", kind), ("Content-Length", str(len(body)))]
        path, mark, query = target.partition("?")
        line = quote_from_bytes(path.encode("utf-8", "surrogateescape"), "/%:@!$&'()*+,;=-._~")
        line += mark + quote_from_bytes(query.encode("utf-8", "surrogateescape"), "/%:@!$'()*+,;=&?-._~")
        return Request(method, line.encode(), tuple(headers), body, role)

    # pages

    def address(self, rule: Any, broken: bool = False) -> str:
        """An address of a route; broken: one part of it is rubbish."""
        text = re.sub(r"<any\(([a-z, ]+)\):\w+>", lambda found: self.dice.choice(found[1].split(", ")), rule.rule)
        start, less, _rest = text.partition("/<")
        names = re.findall(r"<(?:\w+:)?(\w+)>", text)
        at = self.dice.choice(names) if broken and names else ""

        def part(found: re.Match[str]) -> str:
            if found[1] == at:
                return quote_from_bytes(self.bad(short=True), "")
            if found[1] == names[0] and self.things.get(start):
                return self.dice.choice(self.things[start])
            if found[1] == "name":
                return self.dice.choice(
                    {"/settings": ["shop", "zone", "address"], "/calculator": ["mesh", "tension", "probe"]}.get(
                        start, ["screens.csv", "entries.jsonl", "people.csv"]
                    )
                )
            return self.dice.choice(WORDS.get(found[1], self.things["/screens"]))

        return re.sub(r"<(?:\w+:)?(\w+)>", part, text) if less else text

    def look(self, role: str) -> None:
        """A page as that role sees it: what it leads to, and its forms."""
        links = list(self.links[role].values())
        if links and self.dice.random() < 0.6:
            path = self.dice.choice(links)
        else:
            path = self.address(
                self.dice.choice([rule for rule in self.rules if "GET" in rule.methods and rule.endpoint != "static"])
            )
        sent = replace(self.form_request("GET", path, b"", role), what="plain")
        answer = self.send(sent)
        self.plain.append((sent, answer))
        if answer.status == 303 and "/sign-in" in answer.header("Location"):
            self.cookies.pop(role, None)
        self.learn(text_of(answer), path, role)

    def learn(self, text: str, path: str, role: str) -> None:
        """What a page leads to, and its forms: those of an answer ask what no page asks at first."""
        page = Page(text, path)
        for link in page.links:
            self.links[role][alike(link)] = link
        for form in page.forms:
            self.names |= {one["name"] for one in form.controls if "name" in one}
            self.forms[role][f"{form.method} {alike(form.action)}"] = form

    # rubbish

    def bad(self, short: bool = False) -> bytes:
        """Something that is wrong almost anywhere."""
        roll = self.dice.random()
        if roll < 0.1 and self.values:
            return self.dice.choice(self.values)
        if roll < 0.15:
            return self.dice.choice(self.dice.choice([one for one in self.things.values() if one])).encode()
        found = self.dice.choice(BAD)
        if roll > 0.97:
            found += self.dice.choice(BAD)
        return found[:400] if short else found

    def filled(self, form: AForm, role: str) -> Pairs:
        """What a form sends as somebody filled it in, more or less; or as it came, with what it cannot do without."""
        out: Pairs = []
        tapped: dict[str, list[str]] = {}
        lean = self.dice.random() < 0.6
        for one in form.controls:
            name, kind = one.get("name"), one.get("type", "text")
            if not name or kind in ("file", "image", "reset") or one["tag"] == "button" or kind == "submit":
                continue
            if kind == "radio":
                tapped.setdefault(name, []).extend([one.get("value", "on")] * (40 if lean and "checked" in one else 1))
                continue
            if kind == "checkbox" and ("checked" not in one) == (self.dice.random() < (0.95 if lean else 0.7)):
                continue
            value = one.get("value", "")
            if one["tag"] == "select":
                value = (
                    value if lean and self.dice.random() < 0.9 else self.dice.choice(one.get("values", "").split("\n"))
                )
            if kind == "password" or name == "secret":
                value = ROLES[role][1] if role and self.dice.random() < 0.97 else "4711"
            elif (
                not value
                and kind != "hidden"
                and self.dice.random() < (0.9 if "required" in one else 0.05 if lean else 0.7)
            ):
                value = next(
                    (does for part, does in SUITS if part in name), self.dice.choice(TYPED.get(kind, ["reed"]))
                )
            if name == "toml" and self.dice.random() < 0.7:
                out.append((b"toml", spoilt_text(self.dice, self.dice.choice(JOB_FILES))))
                continue
            out.append((name.encode("utf-8", "surrogatepass"), value.encode("utf-8", "surrogatepass")))
        for name, values in tapped.items():
            if self.dice.random() < 0.9:
                out.append((name.encode(), self.dice.choice(values).encode()))
        buttons = [one for one in form.controls if one["tag"] == "button" and one.get("name")]
        if buttons and self.dice.random() < 0.7:
            one = self.dice.choice(buttons)
            out.append((one["name"].encode(), one.get("value", "").encode()))
        self.values = [*self.values[-200:], *(value for _name, value in out[:6])]
        return out

    def spoilt(self, pairs: Pairs) -> tuple[Pairs, str]:
        """The same with one thing wrong, mostly."""
        pairs = list(pairs)
        ways = ["value"] * 12 + ["missing", "twice", "other name", "swap", "more", "more", "several", "all", "nothing"]
        way = self.dice.choice(ways if pairs else ["more"])
        tell = way
        for _round in range(self.dice.randrange(2, 5) if way == "several" else 1):
            at = self.dice.randrange(len(pairs)) if pairs else 0
            if way in ("value", "several"):
                pairs[at] = (pairs[at][0], self.bad())
                tell = f"{way} of {pairs[at][0].decode('utf-8', 'replace')}"
            elif way == "missing":
                del pairs[at]
            elif way == "twice":
                pairs.insert(
                    self.dice.randrange(len(pairs) + 1), (pairs[at][0], self.dice.choice([pairs[at][1], self.bad()]))
                )
            elif way == "other name":
                pairs[at] = (self.name(pairs[at][0]), pairs[at][1])
            elif way == "swap":
                other = self.dice.randrange(len(pairs))
                pairs[at], pairs[other] = (pairs[at][0], pairs[other][1]), (pairs[other][0], pairs[at][1])
            elif way == "more":
                pairs.append((self.name(), self.bad()))
            elif way == "all":
                pairs = [(name, value if name == b"entry" else self.bad()) for name, value in pairs]
            else:
                pairs = []
        return pairs, tell

    def name(self, near: bytes = b"") -> bytes:
        """The name of a field that the form does not have, or does not have like that."""
        if near and self.dice.random() < 0.7:
            more = [
                b".d1",
                b".r2.d1",
                b".r999.blank",
                b".p1",
                b".unit",
                b".meant",
                b".asked",
                b"[]",
                b"[0]",
                b".1",
                b".1.x",
                b"\0",
                b" ",
                b"\xff",
                b".",
                b"2",
            ]
            return self.dice.choice(
                [
                    near + self.dice.choice(more),
                    near.upper(),
                    near[:-1],
                    re.sub(rb"\d+", self.bad(short=True).replace(b"\\", b"."), near),
                ]
            )
        return (
            self.dice.choice(sorted(self.names)).encode("utf-8", "replace")
            if self.dice.random() < 0.9
            else self.bad(short=True)
        )

    def raw(self) -> Request:
        """Bytes to a server that are hardly a request."""
        lines = [self.dice.choice(FIRST_LINES), *self.dice.sample(HEADER_LINES, self.dice.randrange(0, 4))]
        body = b"\r\n".join([*lines, b"", b""]) + self.dice.choice(ENDS)
        return Request("", b"", body=body if self.dice.random() < 0.8 else self.bad(), what="raw")

    def requests(self) -> Iterator[Request]:
        """One after the other, without end."""
        ways = (
            [self._form] * 9
            + [self._path] * 3
            + [self._query] * 2
            + [self._header] * 2
            + [self._method, self._invented, self._body]
        )
        while True:
            made = self.dice.choice(ways)()
            if made is not None:
                yield made

    def role(self) -> str:
        """Somebody; sometimes nobody."""
        return (
            self.dice.choice([*ROLES, "manager", "manager", ""])
            if self.dice.random() < 0.5
            else self.dice.choice([*ROLES])
        )

    def _shown(self, role: str) -> AForm | None:
        """A form of a page: every sort of them as often as any other, however many pages have it."""
        forms = self.forms[role]
        if not forms or self.dice.random() < (0.5 if len(forms) < 10 else 0.25):
            self.look(role)
        if not forms:
            return None
        wanted = [name for name in forms if not WAYS_OUT.search(name)]
        name = self.dice.choice(wanted if wanted and self.dice.random() < 0.97 else [*forms])
        return forms.pop(name) if self.dice.random() < 0.3 else forms[name]  # else it is sent again, by the same id

    def _form(self) -> Request | None:
        role = self.role()
        form = self._shown(role)
        if form is None:
            return None
        pairs = self.filled(form, role)
        roll, what = self.dice.random(), "as shown"
        if roll > 0.06:
            pairs, what = self.spoilt(pairs)
        files = [one["name"] for one in form.controls if one.get("type") == "file" and one.get("name")]
        if form.method == "get":
            return replace(
                self.form_request(
                    "GET", form.action.partition("?")[0] + "?" + encoded(pairs).decode("latin-1"), b"", role
                ),
                what=f"query: {what}",
            )
        if self.dice.random() < (0.6 if files else 0.12):
            body, kind = self.multipart(pairs, files)
            return replace(self.form_request("POST", form.action, body, role, kind), what=f"multipart: {what}")
        return replace(self.form_request("POST", form.action, self.oddly(encoded(pairs)), role), what=f"form: {what}")

    def oddly(self, body: bytes) -> bytes:
        """Now and then with escapes that are none."""
        if self.dice.random() < 0.04:
            at = self.dice.randrange(len(body) + 1)
            more = self.dice.choice(
                [
                    b"%",
                    b"%zz",
                    b"%E2%82",
                    b"%00",
                    b"&&&",
                    b"=",
                    b";",
                    b"+",
                    b"%u0041",
                    b"&=&",
                    b"\xff",
                    b"\0",
                    b"&" + b"a=1&" * 1_200,
                ]
            )
            return body[:at] + more + body[at:]
        return body

    def multipart(self, pairs: Pairs, files: Sequence[str]) -> tuple[bytes, str]:
        """With files where a file is asked for, and sometimes where none is, broken now and then."""
        parts = []
        for name, value in pairs:
            told, kind = b'form-data; name="' + name.replace(b'"', b"%22") + b'"', b""
            if self.dice.random() < 0.04:
                told += b'; filename="x.txt"'
                kind = b"\r\nContent-Type: application/octet-stream"
            elif self.dice.random() < 0.02:
                told = self.dice.choice(DISPOSITIONS).replace("{}", name.decode("utf-8", "replace")).encode()
            parts.append(b"Content-Disposition: " + told + kind + b"\r\n\r\n" + value)
        for file in files:
            head = f'Content-Disposition: form-data; name="{file}"; filename="x.png"\r\nContent-Type: image/png'
            parts.append(head.encode() + b"\r\n\r\n" + self.file())
        body = b"".join(b"--edge\r\n" + part + b"\r\n" for part in parts) + b"--edge--\r\n"
        roll = self.dice.random()
        if roll < 0.05:
            body = body[: self.dice.randrange(len(body))]
        elif roll < 0.08:
            at = self.dice.randrange(len(body))
            body = body[:at] + self.dice.choice([b"\r\n--edge", b"--edge--", b"\r\n\r\n", b"\0", b"\n"]) + body[at:]
        return body, "multipart/form-data; boundary=edge"

    def file(self) -> bytes:
        """What comes where a picture, or a list, is asked for."""
        whole = self.dice.choice([*PICTURES, *JOB_FILES])
        roll = self.dice.random()
        if whole in JOB_FILES and roll < 0.7:
            return spoilt_text(self.dice, whole)
        if roll < 0.2:
            return whole
        if roll < 0.4:
            return whole[: self.dice.randrange(len(whole))]
        if roll < 0.7:
            changed = bytearray(whole)
            for _one in range(self.dice.randrange(1, 9)):
                changed[self.dice.randrange(len(changed))] = self.dice.randrange(256)
            return bytes(changed)
        return self.bad()

    def _path(self) -> Request | None:
        rule, role = self.dice.choice(self.rules), self.role()
        target = self.address(rule, broken=self.dice.random() < 0.7)
        method = self.dice.choice(sorted((rule.methods or {"GET"}) - {"HEAD", "OPTIONS"}))
        made = self.form_request(method, target, encoded(self.spoilt([])[0]) if method == "POST" else b"", role)
        path = made.target
        if self.dice.random() < 0.4:
            at = self.dice.randrange(len(path) + 1)
            more = self.dice.choice(
                [
                    b"%00",
                    b"%2F",
                    b"..%2F",
                    b"%2e%2e/",
                    b"//",
                    b"/",
                    b"/./",
                    b"/..",
                    b"%25",
                    b"%5c",
                    b"%ff",
                    b"%C3%28",
                    b"%ED%A0%80",
                    b"%zz",
                    b"%",
                    b"%0d%0aSet-Cookie:%20a=b",
                    b"%E2%80%8F",
                    b";x=1",
                    b"?",
                    b"%3f",
                    b"%23",
                    b"%20",
                    b"+",
                    b"%09",
                    b"%F0%9F%A7%B5",
                    b"\xff",
                ]
            )
            path = path[:at] + more + path[at:]
        elif self.dice.random() < 0.2:
            path = self.dice.choice(
                [
                    path.swapcase(),
                    path + b"/",
                    path.rstrip(b"/") + b"//",
                    b"/" + path,
                    path * 20,
                    b"*",
                    b"http://localhost" + path,
                    path[1:],
                ]
            )
        return replace(made, target=path or b"/", what=f"path of {rule.rule}")

    def _query(self) -> Request | None:
        role = self.role()
        rule = self.dice.choice([rule for rule in self.rules if "GET" in rule.methods])
        links = [link for link in self.links[role].values() if "?" in link]
        if links and self.dice.random() < 0.4:
            path, _mark, query = self.dice.choice(links).partition("?")
            pairs = [
                tuple(map(unquote_to_bytes, (one.partition("=")[0], one.partition("=")[2]))) for one in query.split("&")
            ]
        else:
            path, pairs = self.address(rule), [(self.name(), self.bad())]
        pairs, what = self.spoilt(pairs)  # type: ignore[arg-type]
        made = self.form_request("GET", path, b"", role)
        return replace(
            made, target=made.target.split(b"?")[0] + b"?" + self.oddly(encoded(pairs)), what=f"query: {what}"
        )

    def _header(self) -> Request | None:
        made = self._form() or self._query()
        if made is None:
            return None
        told = []
        for _one in range(self.dice.choice([1, 1, 1, 3])):
            name, values = self.dice.choice([*HEADERS.items()])
            value = self.dice.choice(values)
            if name == "Cookie" and self.dice.random() < 0.5:
                value = "; ".join(filter(None, [self.cookie(made.role), value]))
            made = made.header(name, value)
            told.append(name)
        return replace(made, what=f"broken header {' '.join(told)}, {made.what}")

    def _method(self) -> Request | None:
        made = self._form() if self.dice.random() < 0.5 else self._path()
        return made and replace(made, method=self.dice.choice([*METHODS, "POST", "GET"]), what=f"method, {made.what}")

    def _invented(self) -> Request | None:
        """A route, and fields of any form."""
        rule, role = self.dice.choice([rule for rule in self.rules if "POST" in rule.methods]), self.role()
        pairs: Pairs = [(self.name(), self.bad()) for _one in range(self.dice.randrange(1, 12))]
        made = self.form_request("POST", self.address(rule), encoded(pairs), role)
        return replace(made, what=f"invented fields for {rule.rule}")

    def _body(self) -> Request | None:
        made = self._form()
        if made is None or made.method != "POST":
            return None
        roll = self.dice.random()
        if roll < 0.4:
            made = replace(made.header("Content-Type", self.dice.choice(KINDS)), what=f"kind of content, {made.what}")
        elif roll < 0.7:
            body = self.dice.choice(
                [
                    *RAW,
                    b"{",
                    b'{"a": [1]}',
                    b"[" * 9_000,
                    b"null",
                    b"<a/>",
                    b"\0" * 900,
                    made.body[: len(made.body) // 2],
                    b"&" * 9_000,
                    b"=" * 9_000,
                    b"a" * 300_000,
                    b"%" * 9_000,
                    b"a=1&" * 2_000,
                    b"%00=%00&" * 200,
                ]
            )
            made = replace(made, body=body, what="raw body").header("Content-Length", str(len(body)))
            if self.dice.random() < 0.3:
                made = made.header("Content-Type", self.dice.choice(KINDS))
        else:
            wrong = self.dice.choice(
                [
                    "",
                    "-1",
                    "²",
                    "abc",
                    "0",
                    "1",
                    "1e3",
                    "9" * 400,
                    str(len(made.body) + 5),
                    "64000001",
                    "1_0",
                    "+5",
                    "0x10",
                    " 7 ",
                ]
            )
            made = replace(made.header("Content-Length", wrong), what=f"Content-Length {wrong[:20]!r}, {made.what}")
        return made


WAYS_OUT = re.compile(r"/(sign-in|sign-out|view|hand-over|doing/leave)$")
"""Forms that stand on every page."""
ROLES = {role: (name, secret) for name, (role, secret) in demo.SECRETS.items()}


def alike(path: str) -> str:
    """An address without its numbers and codes: those of one sort have the same forms."""
    return re.sub(r"[0-9A-HJKMNP-TV-Z]{6}|[0-9]+", "*", path)


def spoilt_text(dice: random.Random, whole: bytes) -> bytes:
    """A file of text with something wrong in it: a value, a line, a byte."""
    lines = whole.split(b"\n")
    for _one in range(dice.choice([1, 1, 1, 2, 5])):
        at, way = dice.randrange(len(lines)), dice.random()
        value = re.search(rb'[0-9][0-9.,:-]*|"[^"]*"|(?<=,)[^,]*', lines[at])
        if way < 0.6 and value:
            bad = dice.choice(BAD)[:400]
            more = b'"' + bad + b'"' if value[0].startswith(b'"') and dice.random() < 0.8 else bad
            lines[at] = lines[at][: value.start()] + more + lines[at][value.end() :]
        elif way < 0.7:
            del lines[at]
            lines = lines or [b""]
        elif way < 0.8:
            lines.insert(at, dice.choice(lines))
        elif way < 0.9:
            lines[at] = dice.choice(BAD)[:400]
        else:
            cut = dice.randrange(len(lines[at]) + 1)
            lines[at] = lines[at][:cut] + dice.choice(BAD)[:400] + lines[at][cut:]
    return b"\n".join(lines)


def encoded(pairs: Pairs) -> bytes:
    """As the body of a form, or a query."""
    return "&".join(
        f"{quote_from_bytes(name, '.*-_')}={quote_from_bytes(value, '.*-_')}" for name, value in pairs
    ).encode()


def text_of(answer: Answer) -> str:
    """The text of a page; nothing for another sort of answer."""
    import gzip

    if not answer.header("Content-Type").startswith("text/html"):
        return ""
    body = gzip.decompress(answer.body) if answer.header("Content-Encoding") == "gzip" else answer.body
    return body.decode("utf-8")


def _pictures() -> list[bytes]:
    from PIL import Image

    out = []
    for kind in ("PNG", "JPEG", "GIF", "WEBP", "TIFF"):
        held = BytesIO()
        Image.new("RGB", (40, 30), (90, 120, 60)).save(held, kind)
        out.append(held.getvalue())
    return out


PICTURES = _pictures()
JOB_FILES = [one.read_bytes() for one in sorted(shops.SAMPLES.glob("*.toml"))]


# -- what must hold


class _Kept(logging.Handler):
    """Every record from ERROR on."""

    def __init__(self) -> None:
        super().__init__(logging.ERROR)
        self.records: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.records.append(
            f"{record.name}: {record.getMessage()[:300]}\n"
            + "".join(traceback.format_exception(*record.exc_info) if record.exc_info else ())
        )


NOTED = {"tries", "sign_ins", "wrong_tries", "devices"}
"""Tables in which a refused request may leave something: a wrong PIN that was counted, a phone that was seen."""


class Watched:
    """A shop, and whether what comes back of it keeps what must hold."""

    def __init__(self, app: Flask, rubbish: Shop) -> None:
        self.app, self.rubbish = app, rubbish
        self.db = store.connect(app.config["FOLDER"])
        self.faults: list[str] = []
        self.raised: list[str] = []
        self.answers: Counter[str] = Counter()
        self.slow: list[tuple[float, str]] = []
        self.log = _Kept()
        for name in ("web", "waitress"):
            logging.getLogger(name).addHandler(self.log)
        self.hook = lambda _app, exception, **_more: self.raised.append("".join(traceback.format_exception(exception)))
        got_request_exception.connect(self.hook, app)
        self.tables = [
            row[0]
            for row in self.db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
            if row[0] not in NOTED
        ]
        self.version, self.state = -1, {}

    def close(self) -> None:
        """Lets go of the shop."""
        self.db.close()
        for name in ("web", "waitress"):
            logging.getLogger(name).removeHandler(self.log)
        got_request_exception.disconnect(self.hook, self.app)

    def now(self) -> dict[str, int]:
        """What every table holds, and which pictures there are, as numbers that differ where they do."""
        version = self.db.execute("PRAGMA data_version").fetchone()[0]
        if version != self.version:
            self.state = {
                table: hash(tuple(self.db.execute(f"SELECT * FROM {table}").fetchall())) for table in self.tables
            }
            self.version = version
        kept = self.app.config["FOLDER"] / "pictures"
        return {**self.state, "files": hash(tuple(sorted(one.name for one in kept.rglob("*")))) if kept.exists() else 0}

    def sent(self, one: Request) -> Answer | None:
        """Sends it and judges what comes back."""
        before = self.now()
        begun, cpu = len(self.faults), time.thread_time()
        try:
            answer = self.rubbish.send(one)
        except Exception:
            self.faults.append(f"past the handler: {one.told()}\n{traceback.format_exc()}")
            self.raised.clear()
            self.log.records.clear()
            return None
        cpu = time.thread_time() - cpu
        if cpu > 0.25:
            self.slow = sorted([*self.slow, (round(cpu, 2), one.told()[:300])], reverse=True)[:12]
        self.answers[str(answer.status)] += 1
        self.judge(one, answer)
        if answer.status >= 400 or one.method in ("GET", "HEAD"):
            changed = {name for name, what in self.now().items() if what != before.get(name)}
            if changed - self.may_change(one, answer):
                self.faults.append(f"{answer.status}, but changed {sorted(changed)}: {one.told()}")
        return answer if len(self.faults) == begun else None

    def may_change(self, one: Request, answer: Answer) -> set[str]:
        """What a refused request may leave: lines of paper are logged each on its own, and the page says which; a
        picture is kept for the form that comes back, which cannot carry it."""
        path = one.target.split(b"?")[0]
        if path.endswith(b"/from-paper") and "Not all saved" in text_of(answer):
            return set(self.tables)
        return (
            {"pictures", "files"}
            if b"filename" in one.body and pictures.WITH_PICTURE.fullmatch(path.decode("latin-1"))
            else set()
        )

    def judge(self, one: Request, answer: Answer) -> None:
        """What an answer by itself must not be."""
        wrong = []
        if answer.status >= 500 and not (
            answer.status == 501 and b"ransfer-" in one.wire() + one.body
        ):  # RFC 9112, 6.1
            wrong.append(f"status {answer.status}")
        wrong += self.raised + self.log.records
        self.raised.clear()
        self.log.records.clear()
        try:
            text = text_of(answer)
        except (UnicodeDecodeError, OSError) as error:
            wrong.append(f"no text: {error}")
            text = ""
        if one.method == "POST" and answer.status in (200, 409, 422):
            self.rubbish.learn(text, one.target.decode("latin-1"), one.role)
        if "Traceback (most recent" in text:
            wrong.append("a traceback in the page")
        if "<script>ouch" in text or "49" == text.strip():
            wrong.append("what was sent stands in the page as it is")
        where = answer.header("Location")
        if where and (where.startswith("//") or "evil" in urlsplit(where).netloc or "\\" in where):
            wrong.append(f"leads to {where}")
        if any("\r" in value or "\n" in value for _name, value in answer.headers):
            wrong.append("a header with lines")
        if wrong:
            self.faults.append("\n".join([one.told(), *wrong]))

    def run(self, number: int, wire: bool = False) -> None:
        """So many requests, and the pages that they were made of. `wire`: with some that are hardly requests."""
        made = self.rubbish.requests()
        for _one in range(number):
            one = next(made)
            if self.rubbish.dice.random() < 0.02:  # shifts go by, phones are to give their secret again
                shops.clock.on(minutes=self.rubbish.dice.randrange(1, 40))
            for plain, answer in self.rubbish.plain:
                self.judge(plain, answer)
                self.answers["plain " + str(answer.status)] += 1
            self.rubbish.plain.clear()
            if wire and self.rubbish.dice.random() < 0.2:
                one = self.rubbish.raw()
            answer = self.sent(one)
            if answer is not None and answer.status == 303 and "/sign-in" in answer.header("Location"):
                self.rubbish.cookies.pop(one.role, None)

    def sound(self) -> list[str]:
        """What `tickets check` finds."""
        answer = shops.commands(self.app.config["FOLDER"])("check")
        return [] if answer.exit_code == 0 else [answer.output]


def slice_of(seed: int, number: int) -> Watched:
    """That many requests to a fresh shop."""
    with tempfile.TemporaryDirectory() as scratch:
        with shops.pages(shops.the_demo(Path(scratch) / "shop"), testing=False) as app:
            watched = Watched(app, Shop(app, seed))
            watched.run(number)
            watched.faults += watched.sound()
            log = app.config["FOLDER"] / "log" / "tickets.log"
            if log.exists() and "Traceback" in log.read_text("utf-8", "replace"):
                watched.faults.append("a traceback in the log")
            watched.close()
    return watched


def over_the_wire(seed: int, number: int) -> Watched:
    """That many requests to a real server of a fresh shop, which answers as ever when they are over."""
    with tempfile.TemporaryDirectory() as scratch:
        with shops.pages(shops.the_demo(Path(scratch) / "shop"), testing=False) as app, shops.serving(app) as address:
            send = Wire(address)
            watched = Watched(app, Shop(app, seed, send))
            watched.run(number, wire=True)
            watched.faults += watched.sound()
            ping = send(Request("GET", b"/ping", (("Host", "localhost"),)))
            if ping.body != b"ok":
                watched.faults.append(f"the server answers no more: {ping}")
            watched.close()
    return watched


def main() -> None:
    """Slices one after the other; prints the counts of answers, and every fault."""
    from tickets.actions import people

    read = argparse.ArgumentParser(description=main.__doc__)
    read.add_argument("--seed", type=int, default=1)
    read.add_argument("--slices", type=int, default=1)
    read.add_argument("--each", type=int, default=2_500)
    read.add_argument("--faults", type=Path)
    read.add_argument("--wire", action="store_true")
    asked = read.parse_args()
    people.HASH, store.SYNCHRONOUS = shops.QUICK, "OFF"
    everything: Counter[str] = Counter()
    for seed in range(asked.seed, asked.seed + asked.slices):
        shops.clock.now = shops.NOW
        begun = time.monotonic()
        found = over_the_wire(seed, asked.each) if asked.wire else slice_of(seed, asked.each)
        everything += found.answers
        print(
            json.dumps(
                {
                    "seed": seed,
                    "s": round(time.monotonic() - begun),
                    "faults": len(found.faults),
                    "answers": dict(sorted(found.answers.items())),
                }
            ),
            flush=True,
        )
        for cpu, what in found.slow[:4]:
            print(f"   {cpu} s: {what}", flush=True)
        if asked.faults:
            with asked.faults.open("a") as file:
                file.writelines(f"=== seed {seed}\n{one}\n" for one in found.faults)
    print(
        json.dumps(dict(sorted(everything.items()))),
        sum(number for name, number in everything.items() if not name.startswith("plain")),
    )


if __name__ == "__main__":
    main()
