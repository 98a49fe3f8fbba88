"""How many entries a second come through a screen's page onto the disk, and how long the answer takes.

Prints the entries a second (a frame degreased, its tension read, put on a rack, in turn; one phone, then four) against
a bare Flask route on the same waitress in the same run, which puts one row of the same length into a SQLite file with
the same pragmas in a transaction of its own (aim: at least 0.5 of it), and the same by what the processor worked for
each, server and phones together, which neither the disk nor a busy machine changes much; and how long the answer page
after a step takes against a scan of the same screen (aim: at most 2 times).
"""

from __future__ import annotations

import argparse
import http.client
import logging
import random
import secrets
import sqlite3
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from statistics import median
from urllib.parse import urlencode

from filled import fill
from flask import Flask, redirect, request
from scan import served

from tickets import store
from tickets.actions import people, places, screens
from tickets.actions.shop import command_line
from tickets.domain.posted import form
from web import create_app

STEPS: tuple[tuple[str, dict[str, str]], ...] = (
    ("degrease", {}),
    ("tension", {"readings_n_per_cm": "24"}),
    ("rack", {"place": "Bench rack"}),
)
"""What any bare frame takes, as often as one likes."""


class Phone:
    """One connection that is kept open."""

    def __init__(self, port: int, cookie: str = "") -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", port)
        self.headers = {"Origin": f"http://127.0.0.1:{port}", "Content-Type": "application/x-www-form-urlencoded"}
        self.headers |= {"Cookie": cookie} if cookie else {}

    def ask(self, method: str, path: str, sent: dict[str, str] | None = None) -> tuple[int, str]:
        """The status of an answer, and where it leads."""
        self.connection.request(method, path, urlencode(sent) if sent else None, self.headers)
        answer = self.connection.getresponse()
        answer.read()
        return answer.status, answer.headers.get("Location", "")


def a_second(phones: list[Phone], post: Callable[[Phone], None], times: int) -> tuple[float, float]:
    """Posts a second, of several phones at once: by the clock, and for each second that the processor worked."""

    def some(phone: Phone) -> None:
        for _each in range(times):
            post(phone)

    for phone in phones:
        post(phone)
    threads = [threading.Thread(target=some, args=(phone,)) for phone in phones]
    started, began = time.perf_counter(), time.process_time()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    made = len(phones) * times
    return made / (time.perf_counter() - started), made / (time.process_time() - began)


def shop_of(folder: Path, screens_wanted: int, entries: int) -> tuple[str, list[str]]:
    """A filled shop with bare frames besides; the cookie of somebody who is signed in, and the codes of the frames."""
    fill(folder, screens_wanted, entries)
    db, now = store.connect(folder), datetime.now(UTC)
    people.add_person(db, "Bench", "screen room", "739155", now)
    token, _sign_in = people.sign_in(db, "Bench", "739155", now)
    me = command_line(db, now)
    places.add(db, me, "Bench rack", "rack", post=secrets.token_hex(12), now=now)
    sent = form({"mesh_count_as_labelled": "230", "mesh_count_as_labelled.unit": "/in", "frame": "aluminium"})
    made = screens.add(db, me, sent, post=secrets.token_hex(12), now=now, number=40)
    db.close()
    return f"shop={token}", made


def bare_route(folder: Path) -> Flask:
    """A page that does no more than put a row where it stays put."""
    app, here, lock = Flask("bare"), threading.local(), threading.Lock()
    with sqlite3.connect(folder / "bare.db") as db:
        db.execute("PRAGMA journal_mode=WAL")
        columns = "id INTEGER PRIMARY KEY, entry TEXT NOT NULL UNIQUE, vals TEXT NOT NULL"
        db.execute(f"CREATE TABLE entries ({columns}) STRICT")
    db.close()

    def put() -> object:
        if not hasattr(here, "db"):
            here.db = sqlite3.connect(folder / "bare.db", isolation_level=None)
            for pragma in ("synchronous=FULL", "foreign_keys=ON", "busy_timeout=5000", "mmap_size=0"):
                here.db.execute(f"PRAGMA {pragma}")
        with lock:
            here.db.execute("BEGIN IMMEDIATE")
            here.db.execute("INSERT INTO entries (entry, vals) VALUES (?, ?)", [request.form["entry"], "x" * 400])
            here.db.execute("COMMIT")
        return redirect(f"/?done={request.form['entry']}", code=303)

    app.add_url_rule("/log", view_func=put, methods=["POST"])
    return app


def log_a_step(codes: list[str], rng: random.Random) -> Callable[[Phone], None]:
    """Posts a step of one of the frames."""
    turn = iter(range(10**9))

    def post(phone: Phone) -> None:
        step, sent = STEPS[next(turn) % len(STEPS)]
        status, to = phone.ask("POST", f"/screens/{rng.choice(codes)}/{step}", {"entry": secrets.token_hex(12), **sent})
        if status != 303:
            raise SystemExit(f"{step} answered {status}, {to}")

    return post


def put_a_row(phone: Phone) -> None:
    """Posts to the bare page."""
    if phone.ask("POST", "/log", {"entry": secrets.token_hex(12)})[0] != 303:
        raise SystemExit("the bare page refuses")


def answers(port: int, cookie: str, codes: list[str], times: int) -> tuple[float, float]:
    """The median seconds of the answer page after a step, and of a scan of the same screen right after."""
    phone, rng = Phone(port, cookie), random.Random(5)
    took: dict[str, list[float]] = {"answer": [], "scan": []}
    for count in range(times + 10):
        code = rng.choice(codes)
        step, sent = STEPS[count % len(STEPS)]
        _status, to = phone.ask("POST", f"/screens/{code}/{step}", {"entry": secrets.token_hex(12), **sent})
        for what, path in (("answer", to), ("scan", f"/t/{code}")):
            started = time.perf_counter()
            status, _to = phone.ask("GET", path)
            if status != 200:
                raise SystemExit(f"{path} answered {status}")
            if count >= 10:
                took[what].append(time.perf_counter() - started)
    return median(took["answer"]), median(took["scan"])


def main() -> None:
    """Prints all of it."""
    logging.getLogger("waitress").setLevel(logging.ERROR)  # that several phones post at once is what is measured
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--screens", type=int, default=1000)
    asked.add_argument("--entries", type=int, default=20_000)
    asked.add_argument("--times", type=int, default=300)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        shop = Path(folder) / "shop"
        cookie, codes = shop_of(shop, given.screens, given.entries)
        post = log_a_step(codes, random.Random(3))
        with served(create_app(shop)) as port, served(bare_route(Path(folder))) as bare_port:
            for phones in (1, 4):
                rounds = []
                for _round in range(5):  # in turn, so that a busy machine slows both
                    each = given.times // phones
                    ours, own = a_second([Phone(port, cookie) for _each in range(phones)], post, each)
                    bare, less = a_second([Phone(bare_port) for _each in range(phones)], put_a_row, each)
                    rounds.append((ours / bare, ours, bare, own / less))
                ratio, ours, bare, _worked = sorted(rounds)[len(rounds) // 2]
                worked = median(one[3] for one in rounds)
                print(f"{phones} phone{'s' * (phones > 1)}: {ours:.0f} entries a second, the bare route {bare:.0f}: "
                      f"{ratio:.2f} of it, by the processor {worked:.2f} (aim: at least 0.5)")  # fmt: skip
            answer, scan = answers(port, cookie, codes, given.times)
        told = f"{1000 * answer:.2f} ms, a scan: {1000 * scan:.2f} ms: {answer / scan:.2f} times"
        print(f"answer page after a step: {told} (aim: at most 2)")


if __name__ == "__main__":
    sys.exit(main())
