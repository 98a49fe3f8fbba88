"""How long the pages of lists take in a shop of 10,000 screens and 1,000,000 entries.

Prints each page's median against the same page of a shop of 700 screens with as many entries each, in process and by
the time of the processor, so that a busy machine counts little. That shop fills a page of each stage: a smaller one
shows ten rows where the large one shows fifty, and what grows is the page (how many bytes it has is printed). Aim: at
most 1.2 for a list, at most 10 for the desk, which counts the whole shop. There are no jobs in these shops: what hangs
on open jobs does not grow with the screens.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

from filled import fill
from flask import Flask

from tickets import store
from tickets.actions import people
from tickets.store import places
from tickets.store.people import find
from web import create_app

SMALL = 700
"""Screens of the small shop."""
RACK = "/places/{rack}"
AIMS = {
    "/screens": 1.2, "/screens?standing=coated": 1.2, "/screens?due=tension": 1.2, "/screens?due=coated": 1.2,
    "/screens?due=slack": 1.2,
    "/screens?sort=-number": 1.2, "/screens?sort=mark": 1.2, "/screens?sort=-mesh": 1.2, "/screens?sort=stage": 1.2,
    "/screens?sort=tension": 1.2, "/screens?sort=measured": 1.2, "/screens?sort=-uses": 1.2,
    "/screen-room": 1.2, "/log": 1.2, "/places": 1.2, RACK: 1.2, "/desk": 10.0,
}  # fmt: skip


class Shop:
    """A shop's pages, as a person who is signed in gets them."""

    def __init__(self, folder: Path) -> None:
        now = datetime.now(UTC)
        db = store.connect(folder)
        if find(db, "Bench") is None:
            people.add_person(db, "Bench", "screen room", "739155", now)
        token, _sign_in = people.sign_in(db, "Bench", "739155", now)
        rack = next((place.code for place in places.every(db, "rack")), "")
        db.close()
        app: Flask = create_app(folder)
        self._client = app.test_client()
        self._client.set_cookie("shop", token)
        self._rack = rack

    def seconds(self, path: str) -> float:
        """What one GET of a page takes; `size` is then how many bytes it has."""
        started = time.process_time()
        answer = self._client.get(path.format(rack=self._rack))
        took = time.process_time() - started
        if answer.status_code != 200:
            raise SystemExit(f"{path} answered {answer.status_code}")
        self.size = len(answer.data)
        return took


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--screens", type=int, default=10_000)
    parser.add_argument("--entries", type=int, default=1_000_000)
    parser.add_argument("--times", type=int, default=60)
    parser.add_argument("--keep", type=Path, help="a folder to keep the large shop in, or to take it from")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        fill(Path(folder) / "small", SMALL, SMALL * asked.entries // asked.screens)
        large_folder = asked.keep or Path(folder) / "large"
        if not store.exists(large_folder):
            fill(large_folder, asked.screens, asked.entries)
        small, large = Shop(Path(folder) / "small"), Shop(large_folder)
        print(f"{'page':28} {'small':>9} {'large':>9} {'growth':>7}  aim  bytes")
        for path, aim in AIMS.items():
            for shop in (small, large):  # the first ones warm the caches
                shop.seconds(path)
                shop.seconds(path)
            took = [(small.seconds(path), large.seconds(path)) for _count in range(asked.times)]
            small_s, large_s = median(one for one, _other in took), median(other for _one, other in took)
            told = f"{path:28} {1000 * small_s:6.2f} ms {1000 * large_s:6.2f} ms {large_s / small_s:7.2f}  {aim:g}"
            print(f"{told}  {small.size}, {large.size}")


if __name__ == "__main__":
    sys.exit(main())
