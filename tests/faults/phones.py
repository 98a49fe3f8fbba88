"""Thirty phones at once, each with several connections: they read and log for two minutes.

Prints how much was asked and logged, the slowest reply, and whether anything was lost or doubled; exit status 1 where
something was, or where any answer was an error.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median, quantiles

from server import Ledger, Phone, Place, Server, findings, log_something, prepared

READ = ("/screen-room", "/screens", "/log", "/press", "/jobs", "/places", "/buckets")
PAUSE = 0.6
"""Seconds at most between two taps of one person, drawn evenly."""


@dataclass
class Told:
    """What came of it: seconds of each reply, statuses that are no answer, what was logged."""

    reads: list[float] = field(default_factory=list)
    posts: list[float] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    ledger: Ledger = field(default_factory=Ledger)
    findings: list[str] = field(default_factory=list)

    @property
    def sound(self) -> bool:
        """Nothing went wrong."""
        return self.ledger.sound and not self.wrong and not self.findings and not self.ledger.unknown


def one_phone(told: Told, port: int, place: Place, number: int, connections: int, until: float, pause: float) -> None:
    """What one person does: looks at a screen or a list, logs something, looks again."""
    rng, phone = random.Random(number), Phone(port, place.cookies[number], connections)
    try:
        phone.connect()
        while time.monotonic() < until:
            code = rng.choice(place.codes)
            read = rng.choice((f"/t/{code}", f"/screens/{code}", rng.choice(READ)))
            began = time.monotonic()
            status = phone.ask("GET", read)
            told.reads.append(time.monotonic() - began)
            if status != 200:
                told.wrong.append(f"GET {read}: {status}")
            if rng.random() < 0.5:
                began = time.monotonic()
                status = log_something(told.ledger, phone, place, rng)
                told.posts.append(time.monotonic() - began)
                if status != 303:
                    told.wrong.append(f"POST: {status}")
            time.sleep(rng.uniform(0, pause))
    except Exception as error:
        told.wrong.append(repr(error))
    finally:
        phone.close()


def many(folder: Path, phones: int, connections: int, seconds: float, pause: float = PAUSE) -> Told:
    """All of them at once."""
    place, told = prepared(folder, 40, phones), Told()
    server = Server.of(folder)
    try:
        until = time.monotonic() + seconds
        threads = [
            threading.Thread(target=one_phone, args=(told, server.port, place, number, connections, until, pause))
            for number in range(phones)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    finally:
        server.end()
    told.ledger.held_against(folder)
    told.findings = findings(folder)
    return told


def main() -> int:
    """The arguments, and what came of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--phones", type=int, default=30)
    parser.add_argument("--connections", type=int, default=8)
    parser.add_argument("--seconds", type=float, default=120)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        told = many(Path(place) / "shop", given.phones, given.connections, given.seconds)
    for name, took in (("pages", told.reads), ("posts", told.posts)):
        near, slowest = quantiles(took, n=100)[98], max(took)
        print(f"{name}: {len(took)}; median {median(took):.3f} s, 99 of 100 {near:.3f} s, slowest {slowest:.3f} s")
    print(f"errors {len(told.wrong)}; {told.ledger}; findings {len(told.findings)}")
    for line in [*told.wrong[:10], *told.findings[:10]]:
        print(line)
    return 0 if told.sound else 1


if __name__ == "__main__":
    sys.exit(main())
