"""Names that the server answers by, and a proxy in front that takes HTTPS (a small one, on this machine)."""

from __future__ import annotations

import http.client
import re
import socket
import ssl
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
import shop as shops
from conftest import PEOPLE

from tickets import store
from tickets.actions import people
from tickets.cli import serve
from tickets.domain.refusal import Refused
from tickets.queries import exports
from tickets.queries.table_file import Column, Table
from tickets.store import people as rows
from tickets.store.settings import save_setting
from web import connections, files, incoming

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


def test_by_https_a_phone_is_told_to_stay_there_and_its_cookies_are_this_servers_alone(folder: Path, db: Any) -> None:
    with served(folder, names=["shop.test"], behind_proxy=True) as port:
        front = Front(port, "10.9.9.9")
        told = ask(front.port, "GET", "/sign-in", {}).getheader("Strict-Transport-Security")
        assert told == "max-age=31536000; includeSubDomains"  # ASVS 5.0, 3.4.1: a year at least
        assert ask(port, "GET", "/sign-in", {"Host": "localhost"}, False).getheader("Strict-Transport-Security") is None
        done = ask(front.port, "POST", "/sign-in", {"Origin": f"https://shop.test:{front.port}"}, **ADA)
        cookies = [value for name, value in done.getheaders() if name == "Set-Cookie"]
        assert {one.partition("=")[0] for one in cookies} == {"__Host-shop", "__Host-device"}
        held = cookies[0].partition(";")[0]
        plain = held.removeprefix("__Host-")
        assert ask(front.port, "GET", "/screens", {"Cookie": plain}).status == 303, "a cookie from beside"
        assert ask(front.port, "GET", "/screens", {"Cookie": held}).status == 200
        front.close()


ADA = {"name": "Ada Holm", "secret": PEOPLE["Ada Holm"][1], "next": "/screens"}


# -- many connections


def signed_in(port: int, name: str) -> str:
    """The cookies of somebody who signed in."""
    origin = {"Origin": f"http://127.0.0.1:{port}"}
    done = ask(port, "POST", "/sign-in", origin, False, name=name, secret=PEOPLE[name][1])
    return "; ".join(value.partition(";")[0] for name, value in done.getheaders() if name == "Set-Cookie")


def slowest(port: int, cookie: str, turns: int, pause: float = 0.0) -> float:
    """Seconds that the slowest of so many pages took."""
    took = 0.0
    for _turn in range(turns):
        begun = time.monotonic()
        assert ask(port, "GET", "/screens", {"Cookie": cookie}, False).status == 200
        took = max(took, time.monotonic() - begun)
        time.sleep(pause)
    return took


def closed(one: socket.socket) -> bool:
    """True where the server ended that connection."""
    one.setblocking(False)
    try:
        return one.recv(1) == b""
    except BlockingIOError:
        return False
    except OSError:
        return True


def test_where_there_are_too_many_those_that_were_silent_longest_go_first(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(connections.LIMITS, "connection_limit", 60)
    monkeypatch.setattr(connections, "SPARE", 10)
    monkeypatch.setattr(connections, "EVERY", 0.05)
    with served(folder) as port:
        cookie = signed_in(port, "Ada Holm")
        held = []
        for _n in range(150):
            held.append(socket.create_connection(("127.0.0.1", port)))
            time.sleep(0.002)
        assert slowest(port, cookie, 3) < 5
        ended = [closed(one) for one in held]
        assert sum(ended) >= 90 and all(ended[:60]) and not any(ended[-10:])
        for one in held:
            one.close()


def test_a_reader_that_stopped_reading_is_let_go(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    long = Table("screens", "", (Column("note", ""),), lambda db: ({"note": "x" * 100_000} for _n in range(100)))
    monkeypatch.setattr(exports, "tables", lambda: {"screens": long})  # 10 MB
    for name, value in {"channel_timeout": 1.5, "cleanup_interval": 0.1}.items():
        monkeypatch.setitem(connections.LIMITS, name, value)
    with served(folder) as port:
        cookie = signed_in(port, "Di Novak")
        reader = socket.create_connection(("127.0.0.1", port))
        head = f"GET /desk/files/screens.jsonl HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: {cookie}\r\n\r\n"
        reader.sendall(head.encode())
        time.sleep(3)
        reader.settimeout(5)
        read = 0
        with suppress(ConnectionError):
            while part := reader.recv(1_000_000):
                read += len(part)
        reader.close()
        assert read < 9_000_000, "what lay in the system's own buffers, and no more"


def test_files_are_made_two_at_a_time(app: Any) -> None:
    phone = shops.signed_in(shops.phone_of(app), "Di Novak")
    with ExitStack() as held:
        for _n in range(2):
            assert files._at_once.acquire(blocking=False)
            held.callback(files._at_once.release)
        answer = phone.get("/desk/files/entries.csv")
        assert answer.status_code == 429 and answer.headers["Retry-After"] == "10" and "being made" in answer.text
        assert phone.get("/screens").status_code == 200
    for _n in range(5):
        answer = phone.get("/desk/files/entries.csv")
        assert answer.status_code == 200 and answer.text
        answer.close()
    for _n in range(5):  # an answer of which nobody takes a line
        phone.head("/desk/files/entries.csv").close()
    assert phone.get("/desk/files/nothing.csv").status_code == 404
    assert phone.get("/desk/files/entries.csv").status_code == 200


def test_the_lines_for_secrets_are_short_and_pages_never_stand_in_them(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sixteen at once for names that nobody has, from one address and from many; a phone that signed in before floods
    its own line as well: the pages of others go on, and most are asked to come again."""
    monkeypatch.setitem(connections.LIMITS, "threads", 6)
    hashing, going = threading.Lock(), []

    def slow(_hashed: str, _secret: str) -> bool:
        going.append(1)
        with hashing:
            return False

    with served(folder, behind_proxy=True) as port:
        cookie = signed_in(port, "Ada Holm")
        monkeypatch.setattr(people, "check_password_hash", slow)
        told: list[int] = []
        origin = {"Origin": f"http://127.0.0.1:{port}"}

        def post(number: int) -> None:
            sender = {**origin, "X-Forwarded-For": f"10.0.{number}.1"}
            told.append(ask(port, "POST", "/sign-in", sender, False, name=f"Nobody {number}", secret="123987").status)

        with hashing:
            senders = [threading.Thread(target=post, args=(number,)) for number in range(16)]
            for one in senders:
                one.start()
            until = time.monotonic() + 10
            while len(told) < 12 and time.monotonic() < until:
                time.sleep(0.02)
            assert told == [429] * 12 and len(going) == 1
            assert slowest(port, cookie, 3) < 5
        for one in senders:
            one.join(20)
        assert told.count(422) == 4


def test_idle_and_half_open_connections_and_readers_that_do_not_read_keep_no_page_waiting(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    long = Table("screens", "", (Column("note", ""),), lambda db: ({"note": "x" * 100_000} for _n in range(400)))
    monkeypatch.setattr(exports, "tables", lambda: {"screens": long})  # 40 MB
    monkeypatch.setitem(connections.LIMITS, "threads", 2)
    with served(folder) as port:
        cookie = signed_in(port, "Di Novak")
        held = [socket.create_connection(("127.0.0.1", port)) for _n in range(200)]
        for half in held[:60]:
            half.sendall(b"POST /sign-in HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 99\r\n")
        for reader in held[-3:]:
            head = f"GET /desk/files/screens.jsonl HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nCookie: {cookie}\r\n\r\n"
            reader.sendall(head.encode())
        assert slowest(port, cookie, 3) < 5
        for one in held:
            one.close()


def test_phones_that_signed_in_before_have_a_short_line_too(
    folder: Path, db: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    hashing = threading.Lock()

    def slow(_hashed: str, _secret: str) -> bool:
        with hashing:
            return False

    monkeypatch.setattr(people, "check_password_hash", slow)
    told: list[str] = []

    def confirm(phone: str) -> None:
        own = store.connect(folder)
        try:
            people.check_secret(own, "Ada Holm", "999999", shops.NOW, people.Come("10.0.0.1", phone=phone))
        except Refused as refused:
            told.append(type(refused).__name__)
        finally:
            own.close()

    with hashing:
        senders = [threading.Thread(target=confirm, args=(phone,)) for phone in ("one" * 9, *("another" * 4,) * 4)]
        senders += [threading.Thread(target=confirm, args=(f"{n} of many phones that are known",)) for n in range(6)]
        for one in senders:
            one.start()
        until = time.monotonic() + 10
        while len(told) < 7 and time.monotonic() < until:
            time.sleep(0.02)
        assert told == ["TryLater"] * 7
    for one in senders:
        one.join(20)
    assert sorted(told) == ["Refused"] * 4 + ["TryLater"] * 7


# -- what comes in


def in_parts(sent: dict[str, str]) -> dict[str, Any]:
    """A form as browsers send one that may carry a file."""
    part = '--x\r\nContent-Disposition: form-data; name="{}"\r\n\r\n{}\r\n'
    body = "".join(part.format(name, text) for name, text in sent.items()) + "--x--\r\n"
    return {"data": body.encode(), "content_type": "multipart/form-data; boundary=x"}


def test_a_form_has_so_many_fields_and_so_much_text_however_it_is_sent(app: Any) -> None:
    phone = shops.signed_in(shops.phone_of(app), "Ada Holm")
    entry = {"entry": shops.fresh()}
    many = {f"x{n}": "1" for n in range(incoming.MOST_FIELDS)}
    for too_much in ({**many, **entry}, {"x": "y" * 1_000_001, **entry}):
        for sent in ({"data": too_much}, in_parts(too_much)):
            answer = phone.post("/screens/new", **sent)
            assert answer.status_code == 413 and "6000 fields at most" in answer.text and "Send less" in answer.text
    for right in (dict(list(many.items())[1:]) | entry, {"x": "y" * 900_000, **entry}):
        for sent in ({"data": right}, in_parts(right)):
            assert phone.post("/screens/new", **sent).status_code == 422


# -- the table of requirements


def test_every_test_that_the_table_of_requirements_names_is_there() -> None:
    text = (shops.ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text[text.index("## Who is let in") : text.index("## Libraries, and why")]
    named = re.findall(r"`([a-z_]+)\.([a-z0-9_]+)`", table)
    assert len(named) > 40
    for file, words in named:
        tests = (shops.ROOT / "tests" / f"test_{file}.py").read_text(encoding="utf-8")
        assert len(re.findall(rf"^def test_\w*{words}\w*\(", tests, re.MULTILINE)) == 1, (file, words)
    chapters = {int(number) for number in re.findall(r"^\| ([0-9]+)", table, re.MULTILINE)}
    assert chapters == {*range(1, 17)} - {9, 10}
