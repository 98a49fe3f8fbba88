"""A real server of a small shop in a process of its own, phones that ask it, and what was acknowledged against what is
in the log. Each process is forked from one that has loaded the program, so that a start takes a tenth of a second.

Talks to 127.0.0.1 alone; ends only processes that it began.
"""

from __future__ import annotations

import http.client
import logging
import multiprocessing
import os
import random
import secrets
import sqlite3
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from tickets import store
from tickets.actions import people, places, screens
from tickets.actions.shop import command_line, open_shop
from tickets.domain.posted import form
from tickets.queries import sound

STEPS: tuple[tuple[str, dict[str, str]], ...] = (
    ("degrease", {}),
    ("tension", {"readings_n_per_cm": "24"}),
    ("rack", {"place": "Rack A"}),
    ("note", {"note": "seen at the rack"}),
)
"""What any bare frame takes, as often as one likes: each makes one entry."""

_loaded = multiprocessing.get_context("forkserver")
_loaded.set_forkserver_preload(["tickets.cli.serve", "web", "tickets.actions.backup", "tickets.queries.exports"])


@dataclass(frozen=True, slots=True)
class Place:
    """A shop with bare frames and somebody who is signed in on many phones."""

    folder: Path
    codes: tuple[str, ...]
    cookies: tuple[str, ...]


def prepared(folder: Path, frames: int = 40, phones: int = 1) -> Place:
    """A new shop in that folder."""
    now = datetime.now(UTC)
    db = open_shop(folder, now)
    me = command_line(db, now)
    places.add(db, me, "Rack A", "rack", post=secrets.token_hex(12), now=now)
    sent = form({"mesh_count_as_labelled": "230", "mesh_count_as_labelled.unit": "/in", "frame": "aluminium"})
    made = screens.add(db, me, sent, post=secrets.token_hex(12), now=now, number=frames)
    people.HASH = "scrypt:128:1:1"
    cookies = []
    for number in range(phones):
        people.add_person(db, f"Phone {number}", "screen room", "739155", now)
        cookies.append(f"shop={people.sign_in(db, f'Phone {number}', '739155', now)[0]}")
    db.close()
    return Place(folder, tuple(made), tuple(cookies))


# -- processes that may be killed


def _quiet() -> None:
    null = os.open(os.devnull, os.O_WRONLY)
    os.dup2(null, 1)
    os.dup2(null, 2)
    logging.disable(logging.CRITICAL)


def _serve(folder: Path, says: Connection) -> None:
    """As `tickets serve` does it: opened, looked at, served."""
    from tickets.cli.serve import _run, _server

    _quiet()
    lock = store.ServeLock(folder)
    try:
        db = open_shop(folder, datetime.now(UTC))
        store.quick_check(db)
        db.close()
        server = _server(folder, "127.0.0.1", 0)
        says.send(int(server.effective_port))
        _run(server)
    except BaseException as error:
        says.send(repr(error))
        raise
    finally:
        lock.release()


def _command(arguments: Sequence[str]) -> None:
    from tickets.cli import root

    _quiet()
    sys.argv = ["tickets"]
    root(list(arguments))


def command(*arguments: object) -> Any:
    """A process at work on a command: `join` and `exitcode`, or `kill`."""
    process = _loaded.Process(target=_command, args=([str(one) for one in arguments],), daemon=True)
    process.start()
    return process


def done(*arguments: object) -> int | None:
    """The exit status of a command that is left alone."""
    process = command(*arguments)
    process.join(300)
    code: int | None = process.exitcode
    return code


@dataclass
class Server:
    """A server that runs."""

    process: Any
    port: int

    @classmethod
    def of(cls, folder: Path) -> Server:
        """Begun; it answers."""
        hears, says = _loaded.Pipe(duplex=False)
        process = _loaded.Process(target=_serve, args=(folder, says), daemon=True)
        process.start()
        says.close()
        if not hears.poll(120):
            process.kill()
            raise AssertionError("the server does not start")
        port = hears.recv()
        if not isinstance(port, int):  # what was raised
            raise AssertionError(f"the server does not start: {port}")
        return cls(process, port)

    def kill(self) -> None:
        """SIGKILL."""
        self.process.kill()
        self.process.join(30)

    def end(self) -> None:
        """As a terminal ends it."""
        self.process.terminate()
        self.process.join(30)
        if self.process.exitcode is None:
            self.kill()

    def memory(self) -> int:
        """Bytes of it that are in memory."""
        return int(Path(f"/proc/{self.process.pid}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")


@contextmanager
def serving(folder: Path) -> Iterator[Server]:
    """A server, ended behind it."""
    server = Server.of(folder)
    try:
        yield server
    finally:
        server.end()


class Phone:
    """Several connections of one browser, each kept open and used in turn."""

    def __init__(self, port: int, cookie: str, connections: int = 1) -> None:
        self._open = [http.client.HTTPConnection("127.0.0.1", port, timeout=60) for _each in range(connections)]
        self._turn = 0
        self._headers = {"Origin": f"http://127.0.0.1:{port}", "Cookie": cookie}

    def connect(self) -> None:
        """Opens all of them, as a browser does for a page with many parts."""
        for one in self._open:
            one.connect()

    def ask(self, method: str, path: str, sent: dict[str, str] | None = None) -> int:
        """The status of the answer, read whole."""
        self._turn = (self._turn + 1) % len(self._open)
        one, kind = self._open[self._turn], {"Content-Type": "application/x-www-form-urlencoded"}
        body = urlencode(sent) if sent is not None else None
        for again in (True, False):
            try:
                one.request(method, path, body, {**self._headers, **(kind if sent is not None else {})})
                answer = one.getresponse()
                answer.read()
                return answer.status
            except (http.client.RemoteDisconnected, BrokenPipeError, ConnectionResetError):
                one.close()  # it was idle too long, as for any browser: once more; a post has its id
                if not again:
                    raise
        raise AssertionError

    def close(self) -> None:
        """Closes them."""
        for one in self._open:
            one.close()


# -- what was acknowledged


@dataclass
class Ledger:
    """Ids of posts: those acknowledged, and those sent of which nobody knows what came of them."""

    acknowledged: set[str] = field(default_factory=set)
    unknown: dict[str, tuple[str, dict[str, str]]] = field(default_factory=dict)
    lost: set[str] = field(default_factory=set)
    doubled: set[str] = field(default_factory=set)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def post(self, phone: Phone, path: str, sent: dict[str, str], entry: str = "") -> int:
        """One post, noted before it is sent and after it is answered."""
        entry = entry or secrets.token_hex(12)
        with self.lock:
            self.unknown[entry] = (path, sent)
        status = phone.ask("POST", path, {"entry": entry, **sent})
        with self.lock:
            if status in (200, 303):
                self.acknowledged.add(entry)
            self.unknown.pop(entry)
        return status

    def held_against(self, folder: Path) -> None:
        """Looks each id up in the log: what was acknowledged stands there once, anything at most once."""
        there = sqlite3.connect(store.shop_file(folder))
        rows = there.execute("SELECT post, count(*) FROM entries GROUP BY post").fetchall()
        there.close()
        many = dict(rows)
        self.lost |= {one for one in self.acknowledged if not many.get(one)}
        self.doubled |= {one for one in (*self.acknowledged, *self.unknown) if many.get(one, 0) > 1}

    @property
    def sound(self) -> bool:
        """Nothing is lost or doubled."""
        return not self.lost and not self.doubled

    def __str__(self) -> str:
        return f"{len(self.acknowledged)} acknowledged, {len(self.lost)} lost, {len(self.doubled)} doubled"


def log_something(ledger: Ledger, phone: Phone, place: Place, rng: random.Random) -> int:
    """A step of some frame."""
    step, sent = rng.choice(STEPS)
    return ledger.post(phone, f"/screens/{rng.choice(place.codes)}/{step}", sent)


def findings(folder: Path) -> list[str]:
    """What `tickets check` says; opening it is the next start."""
    db = open_shop(folder, datetime.now(UTC))
    try:
        return [str(one) for one in sound.check(db)]
    finally:
        db.close()


def waited(seconds: float) -> None:
    """Time that passes while others work."""
    time.sleep(seconds)
