"""A page of a shop while others do their worst to its server: `python -m pytest -m slow tests/faults`.

300 connections that say nothing, 100 that stop in mid request, 8 readers that do not read, 16 that sign in under
invented names all the time, and hostile pictures: somebody's page comes within a second throughout. The server is a
process of its own, on this machine alone; everything is bounded in count and time. A smaller one of each is in
tests/test_door.py and tests/test_pictures.py.
"""

from __future__ import annotations

import http.client
import io
import multiprocessing
import re
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from datetime import UTC, datetime
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
import shop as shops
from PIL import Image

from tickets import demo

SECONDS = 20
MOST = 1.0
"""Seconds that a page may take of the server's doing: `watch`."""


@contextmanager
def serving(folder: Path) -> Iterator[tuple[int, subprocess.Popen[str]]]:
    """The shop in that folder, served on a free port by a process of its own."""
    command = [sys.executable, "-m", "tickets.cli", "demo", "--keep", "--data", str(folder), "--port", "0"]
    server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=shops.as_installed())
    try:
        assert server.stdout is not None
        line = next(line for line in server.stdout if re.search(r"http://[^ ]+:\d+", line))
        yield int(re.findall(r":(\d+)", line)[-1]), server
    finally:
        server.terminate()
        server.wait(20)
        if server.stdout is not None:
            server.stdout.close()


def ask(port: int, method: str, path: str, cookie: str = "", body: bytes = b"", kind: str = "") -> tuple[int, Any]:
    """One request on a connection of its own: the status, and the answer's cookies."""
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    try:
        headers = {"Cookie": cookie, "Origin": f"http://127.0.0.1:{port}"}
        line.request(method, path, body or None, {**headers, "Content-Type": kind} if kind else headers)
        answer = line.getresponse()
        answer.read()
        return answer.status, [value for name, value in answer.getheaders() if name == "Set-Cookie"]
    finally:
        line.close()


KIND, FORM = "multipart/form-data; boundary=x", "application/x-www-form-urlencoded"


def signed_in(port: int, name: str) -> str:
    secret = {known: secret for known, _role, secret in demo.people_shown()}[name]
    status, cookies = ask(port, "POST", "/sign-in", "", urlencode({"name": name, "secret": secret}).encode(), FORM)
    assert status == 303
    return "; ".join(one.partition(";")[0] for one in cookies)


spawned = multiprocessing.get_context("spawn")


def worked(process: int) -> tuple[int, int]:
    """For how long the threads of a process had a processor, and for how long they waited for one that others had (ns);
    nothing where the system does not say."""
    each = list[list[int]]()
    for thread in Path(f"/proc/{process}/task").glob("*/schedstat"):
        with suppress(OSError):  # it has ended
            each.append([int(number) for number in thread.read_text().split()])
    return sum(one[0] for one in each), sum(one[1] for one in each)


def watch(says: Connection, port: int, cookie: str, seconds: float, server: int) -> None:
    """One phone: a page again and again for so many seconds. How long each took, and how long it would have taken had
    the server not waited for a processor: other work on the machine is no fault of the server."""
    says.send("there")
    took, until = list[tuple[float, float]](), time.monotonic() + seconds
    while time.monotonic() < until:
        begun, (ran, waited) = time.monotonic(), worked(server)
        assert ask(port, "GET", "/screens", cookie)[0] == 200
        (now_ran, now_waited), wall = worked(server), time.monotonic() - begun
        ran, waited = now_ran - ran, now_waited - waited
        took.append((wall, wall * ran / (ran + waited) if ran else wall))
        time.sleep(0.05)
    says.send(took)


class Load:
    """What others do meanwhile, and how long a page took each time."""

    def __init__(self, port: int, server: int, crew: str, manager: str) -> None:
        self.port, self.server, self.crew, self.manager = port, server, crew, manager
        self.stop, self.told = threading.Event(), dict[int, int]()
        self._held, self._threads = ExitStack(), list[threading.Thread]()

    def held(self, number: int, sent: str = "") -> None:
        """So many connections that send that and no more."""
        for _n in range(number):
            one = self._held.enter_context(socket.create_connection(("127.0.0.1", self.port)))
            with suppress(OSError):
                one.sendall(sent.encode())

    def going(self, number: int, act: Callable[[int], int]) -> None:
        """So many that do that again and again; how often which status was the answer is kept."""

        def again(n: int) -> None:
            while not self.stop.is_set():
                with suppress(OSError, http.client.HTTPException):
                    status = act(n)
                    self.told[status] = self.told.get(status, 0) + 1

        self._threads += [threading.Thread(target=again, args=(n,), daemon=True) for n in range(number)]

    def pages(self, seconds: float) -> list[tuple[float, float]]:
        """How long each page of those seconds took (`watch`): asked by a process that does nothing else, as a phone is
        one, so that what the others cost in this one is not taken for the server's."""
        hears, says = spawned.Pipe(duplex=False)
        phone = spawned.Process(target=watch, args=(says, self.port, self.crew, seconds, self.server), daemon=True)
        phone.start()
        hears.recv()  # it is there
        for one in self._threads:
            one.start()
        took: list[tuple[float, float]] = hears.recv()
        phone.join(20)
        self.stop.set()
        for one in self._threads:
            one.join(60)
        self._held.close()
        return took


def peak_of(process: int) -> float:
    """The most memory that a process held, in MB; 0 where the system does not say."""
    try:
        return int(re.findall(r"VmHWM:\s+(\d+)", Path(f"/proc/{process}/status").read_text())[0]) / 1024
    except OSError:
        return 0.0


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return shops.the_demo(tmp_path / "shop", datetime.now(UTC).replace(microsecond=0))


@contextmanager
def loaded(folder: Path) -> Iterator[tuple[Load, subprocess.Popen[str]]]:
    with serving(folder) as (port, server):
        people = {role: name for name, role, _secret in demo.people_shown()}
        yield Load(port, server.pid, signed_in(port, people["press"]), signed_in(port, people["manager"])), server


def told(name: str, took: list[tuple[float, float]], load: Load, server: subprocess.Popen[str]) -> float:
    """Prints it, and gives the slowest page (s), without what the server waited for a processor."""
    walls, slowest = sorted(wall for wall, _own in took), max(own for _wall, own in took)
    print(f"\n{name}: {len(took)} pages, half within {walls[len(walls) // 2] * 1000:.0f} ms,", end=" ")
    print(f"slowest {walls[-1] * 1000:.0f} ms, without the waits for a processor {slowest * 1000:.0f} ms;", end=" ")
    print(f"others were answered {dict(sorted(load.told.items()))}; server at most {peak_of(server.pid):.0f} MB")
    return slowest


@pytest.mark.slow
def test_connections_of_all_sorts_keep_no_page_waiting(folder: Path) -> None:
    with loaded(folder) as (load, server):
        alone = Load(load.port, load.server, load.crew, "").pages(3)
        load.held(300)
        load.held(60, "GET /screens HTTP/1.1\r\nHost: 127.0.0.1\r\n")
        load.held(40, "POST /sign-in HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 99\r\n\r\nname=")
        reads = f"GET /desk/files/entries.jsonl HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: {load.manager}\r\n\r\n"
        load.held(8, reads)

        def guess(number: int) -> int:
            body = urlencode({"name": f"Nobody {number} {time.monotonic_ns()}", "secret": "471204"}).encode()
            return ask(load.port, "POST", "/sign-in", "", body, FORM)[0]

        load.going(16, guess)
        took = load.pages(SECONDS)
        told("alone", alone, load, server)
        slowest = told("many connections", took, load, server)
        assert slowest < MOST and len(took) > SECONDS and load.told.get(429, 0) > load.told.get(422, 0) > 0


def bomb() -> bytes:
    """30,000,000 pixels, as many as a PNG may have, of some 150 kB."""
    out = io.BytesIO()
    Image.new("RGBA", (6000, 5000), (9, 9, 9, 90)).save(out, "PNG")
    return out.getvalue()


@pytest.mark.slow
def test_hostile_pictures_keep_no_page_waiting_and_take_no_memory_of_the_server(folder: Path) -> None:
    with loaded(folder) as (load, server):
        load.pages(1)
        before = peak_of(server.pid)
        load = Load(load.port, load.server, load.crew, load.manager)
        part = b'--x\r\nContent-Disposition: form-data; name="picture"; filename="x.png"\r\n\r\n'
        body = part + bomb() + b"\r\n--x--\r\n"

        def send(number: int) -> int:
            return ask(load.port, "POST", "/jobs/new", load.manager, body, KIND)[0]

        load.going(6, send)
        took = load.pages(SECONDS)
        slowest = told("hostile pictures", took, load, server)
        assert slowest < MOST and len(took) > SECONDS
        assert set(load.told) == {422} and load.told[422] >= 6, "read, or to be sent again, and the job says too little"
        assert peak_of(server.pid) < before + 60
