"""Names that the server answers by, and a proxy in front that takes HTTPS (a small one, on this machine)."""

from __future__ import annotations

import http.client
import re
import socket
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
import shop as shops
from conftest import PEOPLE

from tickets.cli import serve
from tickets.queries import exports
from tickets.queries.table_file import Column, Table
from tickets.store import people as rows
from tickets.store.settings import save_setting
from web import connections

PEM = Path(__file__).parent / "tls" / "shop.test.pem"
"""A key and a certificate made for these tests alone."""


# -- names


def status(app: Any, host: str) -> int:
    return int(shops.phone_of(app).get("/sign-in", headers={"Host": host}).status_code)


@pytest.fixture
def named(folder: Path, clock: Any) -> Iterator[Any]:
    """A shop served under a name."""
    app = serve_app(folder, clock, ["Tickets.shop.example"])
    yield app
    shops.close(app)


def serve_app(folder: Path, clock: Any, names: list[str]) -> Any:
    import web

    return web.create_app(folder, clock=clock, testing=True, host_names=names)


@pytest.mark.parametrize(
    "host",
    ["127.0.0.1:8600", "192.168.1.20", "[fd00::1]:8600", "localhost:8600",
     "tickets.shop.example", "TICKETS.shop.example.",
     f"{socket.gethostname()}:8600", f"{socket.gethostname().split('.')[0]}.local"],
)  # fmt: skip
def test_it_answers_by_numbers_its_own_names_and_those_given(named: Any, host: str) -> None:
    assert status(named, host) == 200


@pytest.mark.parametrize(
    "host",
    ["elsewhere.example", "elsewhere.example:8600", "tickets.shop.example.elsewhere.example",
     "127.0.0.1.elsewhere.example", "1270.0.0.1"],
)  # fmt: skip
def test_it_answers_by_no_other_name_and_says_what_would_do(named: Any, host: str) -> None:
    phone = shops.phone_of(named)
    for answer in (
        phone.get("/sign-in", headers={"Host": host}),
        phone.post(
            "/sign-in", data={"name": "Ada Holm", "secret": "4711"}, headers={"Host": host, "Origin": f"http://{host}"}
        ),
    ):
        assert answer.status_code == 421 and "tickets serve --host-name" in answer.text  # RFC 9110, 15.5.20
        assert "Set-Cookie" not in answer.headers
    assert status(named, "localhost") == 200


def test_the_name_in_the_codes_is_one_of_its_names(named: Any, db: Any) -> None:
    assert status(named, "printshop.example:8600") == 421
    save_setting(db, "address", "http://printshop.example:8600", "2026-03-10T10:00:00.000000Z", 1)
    assert status(named, "printshop.example:8600") == 200 and status(named, "old.example") == 421


# -- a proxy in front


class Front:
    """Takes HTTPS, tells who asked, and passes everything on to a server of ours."""

    def __init__(self, port: int, asks: str) -> None:
        self._port, self._asks = port, asks
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(PEM)
        self._socket = context.wrap_socket(socket.create_server(("127.0.0.1", 0)), server_side=True)
        self.port = self._socket.getsockname()[1]
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self) -> None:
        with suppress(OSError):
            while True:
                taken, _address = self._socket.accept()
                with suppress(OSError), taken:
                    self._pass_on(taken)

    def _pass_on(self, taken: ssl.SSLSocket) -> None:
        sent = b""
        while b"\r\n\r\n" not in sent:
            sent += taken.recv(65536)
        head, _blank, body = sent.partition(b"\r\n\r\n")
        length = int((re.search(rb"(?i)content-length: (\d+)", head) or [b"", b"0"])[1])
        while len(body) < length:
            body += taken.recv(65536)
        host = (re.search(rb"(?i)\r\nhost: ([^\r]+)", head) or [b"", b""])[1].decode()
        more = f"X-Forwarded-For: {self._asks}\r\nX-Forwarded-Proto: https\r\nX-Forwarded-Host: {host}\r\n"
        with socket.create_connection(("127.0.0.1", self._port)) as behind:
            behind.sendall(head + b"\r\n" + more.encode() + b"Connection: close\r\n\r\n" + body)
            while part := behind.recv(65536):
                taken.sendall(part)

    def close(self) -> None:
        self._socket.close()


@contextmanager
def served(folder: Path, **how: Any) -> Iterator[int]:
    """The port of `tickets serve` there."""
    from waitress import wasyncore

    server = serve._server(folder, "127.0.0.1", 0, **how)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield server.effective_port
    server.task_dispatcher.shutdown(cancel_pending=True, timeout=2)
    server.trigger.pull_trigger(lambda: wasyncore.close_all(server._map, ignore_all=True))
    thread.join(10)


def ask(port: int, method: str, path: str, headers: dict[str, str], tls: bool = True, **form: str) -> Any:
    """One request by HTTPS to shop.test at that port, or plain."""
    if tls:
        raw = socket.create_connection(("127.0.0.1", port))
        line: Any = http.client.HTTPSConnection("shop.test", port, timeout=20)
        line.sock = ssl.create_default_context(cafile=str(PEM)).wrap_socket(raw, server_hostname="shop.test")
    else:
        line = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    sent = {"Content-Type": "application/x-www-form-urlencoded"} if form else {}
    line.request(method, path, urlencode(form) or None, {**sent, **headers})
    answer = line.getresponse()
    answer.text = answer.read().decode()
    line.close()
    return answer


def test_behind_a_proxy_cookies_are_secure_and_the_origin_is_https(folder: Path, db: Any) -> None:
    with served(folder, names=["shop.test"], behind_proxy=True) as port:
        front = Front(port, "10.9.9.9")
        here = f"https://shop.test:{front.port}"
        ada = {"name": "Ada Holm", "secret": "4711", "next": "/screens"}
        assert ask(front.port, "GET", "/sign-in", {}).status == 200
        wrong = ask(front.port, "POST", "/sign-in", {"Origin": here}, **{**ada, "secret": "999999"})
        assert wrong.status == 422
        assert [(one.source, one.many) for one in rows.wrong(db, "2026-01-01")] == [("10.9.9.9", 1)]
        for origin in (here.replace("https", "http"), "https://elsewhere.example"):
            assert ask(front.port, "POST", "/sign-in", {"Origin": origin}, **ada).status == 403
        done = ask(front.port, "POST", "/sign-in", {"Origin": here}, **ada)
        cookies = [value for name, value in done.getheaders() if name == "Set-Cookie"]
        assert done.status == 303 and len(cookies) == 2
        assert all("; Secure" in one and "; HttpOnly" in one and "SameSite=Lax" in one for one in cookies)
        held = "; ".join(one.partition(";")[0] for one in cookies)
        assert "Ada Holm" in ask(front.port, "GET", "/screens", {"Cookie": held}).text
        front.close()


def test_without_a_proxy_nobody_is_believed_who_says_he_is_one(folder: Path, db: Any) -> None:
    told = {"X-Forwarded-For": "10.9.9.9", "X-Forwarded-Proto": "https", "X-Forwarded-Host": "shop.test"}
    with served(folder) as port:
        origin = f"http://127.0.0.1:{port}"
        ada = {"name": "Ada Holm", "secret": PEOPLE["Ada Holm"][1]}
        assert ask(port, "POST", "/sign-in", {**told, "Origin": "https://shop.test"}, False, **ada).status == 403
        assert (
            ask(port, "POST", "/sign-in", {**told, "Origin": origin}, False, **{**ada, "secret": "999999"}).status
            == 422
        )
        assert [one.source for one in rows.wrong(db, "2026-01-01")] == ["127.0.0.1"]
        done = ask(port, "POST", "/sign-in", {**told, "Origin": origin}, False, **ada)
        assert done.status == 303 and "Secure" not in str(done.getheaders())


# -- many connections


def test_idle_and_half_open_connections_and_readers_that_do_not_read_keep_no_page_waiting(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    long = Table("screens", "", (Column("note", ""),), lambda db: ({"note": "x" * 100_000} for _n in range(400)))
    monkeypatch.setattr(exports, "tables", lambda: {"screens": long})  # 40 MB
    monkeypatch.setitem(connections.LIMITS, "threads", 2)
    with served(folder) as port:
        origin = {"Origin": f"http://127.0.0.1:{port}"}
        done = ask(port, "POST", "/sign-in", origin, False, name="Di Novak", secret=PEOPLE["Di Novak"][1])
        cookie = "; ".join(value.partition(";")[0] for name, value in done.getheaders() if name == "Set-Cookie")
        held = [socket.create_connection(("127.0.0.1", port)) for _n in range(200)]
        for half in held[:60]:
            half.sendall(b"POST /sign-in HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 99\r\n")
        for reader in held[-3:]:
            head = f"GET /desk/files/screens.jsonl HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nCookie: {cookie}\r\n\r\n"
            reader.sendall(head.encode())
        for _turn in range(3):
            answer = ask(port, "GET", "/screens", {"Cookie": cookie}, False)
            assert answer.status == 200
        for one in held:
            one.close()
