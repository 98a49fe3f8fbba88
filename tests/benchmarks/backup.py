"""How long phones wait while a shop of 1,000,000 entries is backed up, and how much room that takes.

Four phones log without a pause to a server in a process of its own, first by themselves, then while `tickets nightly`
makes the backup as serving does it (a process of its own, which gives way), tries it out and packs it. Prints the
longest stall of a post with and without the backup (aim: under 0.3 s), how long the backup took, and the room that it
needed at most beside the shop, held against what the desk asks for.
"""

from __future__ import annotations

import argparse
import random
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from statistics import median, quantiles

from filled import fill

sys.path.insert(0, str(Path(__file__).parents[1] / "faults"))
from server import Phone, Place, serving

from tickets import store
from tickets.actions import nightly, people
from tickets.actions.shop import open_shop
from web.nights import NICE


@dataclass
class Posts:
    """When each post began (by the monotonic clock) and how long it took, in seconds."""

    took: list[tuple[float, float]] = field(default_factory=list)
    wrong: list[int] = field(default_factory=list)

    def between(self, begin: float, end: float) -> list[float]:
        """Of those that went on between two moments."""
        return [took for at, took in self.took if at + took > begin and at < end]


def filled_shop(folder: Path, screens: int, entries: int, phones: int) -> Place:
    """The shop, with people who are signed in. A folder that holds one is taken as it is."""
    codes = [] if store.exists(folder) else fill(folder, screens, entries)
    now = datetime.now(UTC)
    db = open_shop(folder, now)
    codes = codes or [row[0] for row in db.execute("SELECT code FROM codes WHERE kind = 'screen'").fetchall()]
    people.HASH = "scrypt:128:1:1"
    cookies = []
    for _each in range(phones):
        name = f"Phone {random.randrange(10**9)}"
        people.add_person(db, name, "screen room", "739155", now)
        cookies.append(f"shop={people.sign_in(db, name, '739155', now)[0]}")
    db.close()
    return Place(folder, tuple(codes), tuple(cookies))


def log_on(posts: Posts, port: int, place: Place, number: int, over: threading.Event) -> None:
    """One phone that notes something of one screen after another."""
    rng, phone = random.Random(number), Phone(port, place.cookies[number])
    while not over.is_set():
        began = time.monotonic()
        status = phone.ask(
            "POST",
            f"/screens/{rng.choice(place.codes)}/note",
            {"entry": f"bench-{rng.randrange(10**20):020d}", "note": "seen"},
        )
        posts.took.append((began, time.monotonic() - began))
        if status != 303:
            posts.wrong.append(status)
    phone.close()


def taken(folder: Path) -> int:
    """Bytes that the files in a folder take."""
    found = 0
    for path in folder.rglob("*"):
        try:
            found += path.stat().st_blocks * 512
        except OSError:
            continue
    return found


def said(took: list[float]) -> str:
    """How long posts took."""
    if len(took) < 2:
        return "no posts"
    most = quantiles(took, n=100)[98]
    return f"{len(took)} posts, median {median(took):.3f} s, 99 of 100 {most:.3f} s, longest stall {max(took):.3f} s"


def main() -> None:
    """The arguments, and the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--screens", type=int, default=10_000)
    parser.add_argument("--entries", type=int, default=1_000_000)
    parser.add_argument("--phones", type=int, default=4)
    parser.add_argument("--before", type=float, default=20, help="seconds without a backup")
    parser.add_argument("--shop", type=Path, help="a shop that is there, made by an earlier run")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        folder = given.shop or Path(made) / "shop"
        place, posts, over = filled_shop(folder, given.screens, given.entries, given.phones), Posts(), threading.Event()
        with serving(folder) as server:
            phones = [
                threading.Thread(target=log_on, args=(posts, server.port, place, number, over))
                for number in range(given.phones)
            ]
            for phone in phones:
                phone.start()
            begin = time.monotonic()
            time.sleep(given.before)
            middle, before, most = time.monotonic(), taken(folder), 0
            work = subprocess.Popen([sys.executable, "-c", NICE, "nightly", "--data", str(folder)])
            while work.poll() is None:
                most = max(most, taken(folder))
                time.sleep(0.2)
            end = time.monotonic()
            time.sleep(5)  # what the write-ahead log held back is put into the file now
            after = time.monotonic()
            over.set()
            for phone in phones:
                phone.join()
        print(f"alone:         {said(posts.between(begin, middle))}")
        print(f"while it runs: {said(posts.between(middle, end))}")
        print(f"just after:    {said(posts.between(end, after))}")
        size = store.shop_file(folder).stat().st_size
        print(f"backup: exit {work.returncode}, {end - middle:.1f} s, of a file of {size / 1e6:.0f} MB")
        db = open_shop(folder, datetime.now(UTC))
        packed = nightly.state(folder).bytes
        print(f"room: {(most - before) / 1e6:.0f} MB at most; the desk asks for {(size * 2 + packed) / 1e6:.0f} MB")
        db.close()
        print(f"wrong answers: {len(posts.wrong)}")


if __name__ == "__main__":
    main()
