"""How long a scan (`/t/CODE`) takes in a shop of 10,000 screens and 1,000,000 entries.

Prints the ratio of medians against a bare Flask page of the same bytes on the same waitress in the same run (aim: at
most 3), and the growth against a shop of 100 screens and 1,000 entries (aim: at most 1.2); the same of the processor's
time, server and asker together, which a busy machine changes less.
"""

from __future__ import annotations

import argparse
import http.client
import random
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from statistics import median
from typing import NamedTuple

from filled import fill
from flask import Flask, Response
from waitress import wasyncore
from waitress.server import create_server

from tickets import store
from tickets.actions import people
from web import create_app


@contextmanager
def served(app):
    """The app on waitress, on a free port; stopped by its own loop, which closes what is still open."""
    server = create_server(app, host="127.0.0.1", port=0, threads=4)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield server.effective_port
    finally:
        server.task_dispatcher.shutdown(cancel_pending=True, timeout=2)
        server.trigger.pull_trigger(lambda: wasyncore.close_all(server._map, ignore_all=True))
        thread.join(10)


class Took(NamedTuple):
    """The median seconds of a request, and the seconds that the processor worked for each."""

    median: float
    worked: float

    def against(self, other: Took) -> str:
        """How many times as long as another, by the clock and by the processor."""
        return f"{self.median / other.median:.2f}, by the processor {self.worked / other.worked:.2f}"


def timed(port: int, path: Callable[[], str], cookie: str, times: int) -> tuple[Took, bytes]:
    """What a GET takes, one connection kept open; and the last body."""
    connection = http.client.HTTPConnection("127.0.0.1", port)
    took = []
    body = b""
    for count in range(times + 30):
        if count == 30:
            began = time.process_time()
        started = time.perf_counter()
        connection.request("GET", path(), headers={"Cookie": cookie})
        answer = connection.getresponse()
        body = answer.read()
        if answer.status != 200:
            raise SystemExit(f"{path()} answered {answer.status}")
        if count >= 30:  # the first ones warm the caches
            took.append(time.perf_counter() - started)
    worked = time.process_time() - began
    connection.close()
    return Took(median(took), worked / times), body


def scan(folder: Path, codes: list[str], times: int) -> tuple[Took, bytes]:
    now = datetime.now(UTC)
    db = store.connect(folder)
    if not any(person.name == "Bench" for person in store_people(db)):
        people.add_person(db, "Bench", "screen room", "739155", now)
    token, _sign_in = people.sign_in(db, "Bench", "739155", now)
    db.close()
    rng = random.Random(3)
    with served(create_app(folder)) as port:
        return timed(port, lambda: f"/t/{rng.choice(codes)}", f"shop={token}", times)


def store_people(db):
    from tickets.store.people import every

    return every(db)


def bare(body: bytes, times: int) -> Took:
    app = Flask("bare")
    app.add_url_rule("/t/<code>", view_func=lambda code: Response(body, mimetype="text/html"))
    with served(app) as port:
        return timed(port, lambda: "/t/7K32XM", "", times)[0]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--screens", type=int, default=10_000)
    parser.add_argument("--entries", type=int, default=1_000_000)
    parser.add_argument("--times", type=int, default=400)
    parser.add_argument("--keep", type=Path, help="a folder to keep the large shop in, or to take it from")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        small = fill(Path(folder) / "small", 100, 1_000)
        large_folder = asked.keep or Path(folder) / "large"
        if store.exists(large_folder):
            db = store.connect(large_folder)
            large = [row[0] for row in db.execute("SELECT code FROM screens").fetchall()]
            db.close()
        else:
            started = time.perf_counter()
            large = fill(large_folder, asked.screens, asked.entries)
            print(f"filled {asked.screens} screens, {asked.entries} entries in {time.perf_counter() - started:.0f} s")
        in_small, _body = scan(Path(folder) / "small", small, asked.times)
        in_large, body = scan(large_folder, large, asked.times)
        plain = bare(body, asked.times)
        again, _body = scan(Path(folder) / "small", small, asked.times)
        in_small = Took(*map(min, zip(in_small, again, strict=True)))
        print(f"bare page of {len(body)} bytes: {1000 * plain.median:.2f} ms")
        told = f"{1000 * in_small.median:.2f} ms, in the large one: {1000 * in_large.median:.2f} ms"
        print(f"scan in the small shop: {told}")
        print(f"ratio to the bare page: {in_large.against(plain)} (aim: at most 3)")
        print(f"growth from small to large: {in_large.against(in_small)} (aim: at most 1.2)")


if __name__ == "__main__":
    sys.exit(main())
