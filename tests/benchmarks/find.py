"""How long a search and the narrowed log take with 10,000 screens, 5,000 jobs and 1,000,000 entries, against 200
screens, 100 jobs and 20,000 entries: some five minutes, most of them to fill the large shop (`--keep` keeps it).

Prints the medians of both, by the time of the processor, so that a busy machine counts little, and the ratio. Aims: a
search 50 ms; a page of the log at most 1.2 times, counts by day at most 10 times. Screens have a mark and were
registered; the rest of the log is written straight into it, as lines of screens, racks and runs, some overridden, some
crossed out: what a search or the log asks is not what replay makes of them. Both shops log as much a day for as many
days as they have entries: 700 a day.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import tempfile
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from desk import sheet

from tickets import store
from tickets.actions import people, places, screens, shop
from tickets.actions.shop import command_line
from tickets.domain.entry import Entry, stamp
from tickets.domain.posted import form
from tickets.store import codes, entries, finding, writing
from tickets.store import jobs as stored_jobs
from tickets.store import runs as stored_runs
from web import create_app

ADJECTIVES = (
    "amber brisk calm dusky early fair grey hazel ivory jolly keen lively mellow north old plain quiet red".split()
)
NOUNS = (
    "anchor barley cedar dune ember finch grove harbour inlet juniper kiln lantern meadow nettle otter poppy".split()
)
A_DAY = 700
STEPS = "tension degrease coat image expose washout check hang print pull clean strip rack".split()
RACKS, PEOPLE = 100, 9

SEARCHES = (
    "amber", "amber anchor", "Custmer", "customer 17", "harbor", "M 17", "rack 12", "o", "deep blue", "lot",
    "nothing such",
)  # fmt: skip
LOGS = ("", "who=4", "step=washout", "who=4&step=strip", "place=Rack 7", "press=Press 1", "job={job}",
        "screen={screen}", "only=overridden", "only=crossed-out", "day={day}", "from={week}&to={day}",
        "who=4&press=Press 2&day={day}", "day=2001-01-01")  # fmt: skip


def fill(folder: Path, many: int, jobs: int, lines: int, seed: int = 3) -> None:
    """A shop of so many screens, jobs and entries in an empty folder."""
    rng, now = random.Random(seed), datetime.now(UTC)
    db = shop.open_shop(folder, now - timedelta(days=1500))
    me, then = command_line(db, now), now - timedelta(days=1499)
    for number in range(1, PEOPLE + 1):
        people.add_person(db, f"Person {number}", "press", f"48{number}5{number}6", then)
    for name in [f"Rack {number}" for number in range(1, RACKS + 1)]:
        places.add(db, me, name, "rack", post=f"{rng.getrandbits(96):024x}", now=then)
    for name in ("Press 1", "Press 2"):
        places.add(db, me, name, "press", post=f"{rng.getrandbits(96):024x}", now=then, heads=8)
    for begin in range(0, many, 200):
        sent = form({"mesh_count_as_labelled": "230/in", "frame": "aluminium", "mark": f"M {begin + 1}"})
        number = min(200, many - begin)
        screens.add(db, me, sent, post=f"{rng.getrandbits(96):024x}", now=then, number=number)
    press = [row[0] for row in db.execute("SELECT id FROM places WHERE kind = 'press'").fetchall()]
    with writing(db):
        for number in range(1, jobs + 1):
            plain = {
                **sheet(number, now + timedelta(days=number % 30)).to_dict(),
                "customer": f"Customer {number % 400}",
            }
            plain["title"] = f"{ADJECTIVES[number % 17]} {NOUNS[number // 17 % 16]} {number}"
            code = codes.issue(db, "job", number, stamp(then), rng)
            stored_jobs.add(db, number, code, stored_jobs.read_sheet(json.dumps(plain)), None, stamp(then), me.id)
            for place in (1, 1, 1):
                run = stored_runs.add(db, number, 1, place, rng.choice(press), stamp(then))
                db.execute("UPDATE runs SET done_at = ? WHERE id = ?", [stamp(now), run])
        for lot in range(many // 4):
            db.execute("INSERT INTO ink_lots (run, place, station, bucket, lot) VALUES (?, ?, ?, '', ?)",
                       [1 + lot % (3 * jobs), lot, lot % 2, f"LOT-{lot:05d}"])  # fmt: skip
    people_ids = [row[0] for row in db.execute("SELECT id FROM people").fetchall()]
    batch, apart = [], timedelta(days=1) / A_DAY
    for count in range(lines):
        at = now - apart * (lines - count) - timedelta(minutes=1)
        step, name = STEPS[rng.randrange(len(STEPS))], f"bench-{count:018d}"
        at_press = step in ("hang", "print", "pull")
        entry = Entry(
            entry=name, step=step, at=at, saved_at=at, person=rng.choice(people_ids), signed="pin",
            screen=1 + rng.randrange(many), run=1 + rng.randrange(3 * jobs) if at_press else None,
            values={"place": 1 + rng.randrange(RACKS)} if step == "rack" else {"result": "good"},
            override={"who": "Person 1", "why": "x"} if step == "hang" and rng.random() < 0.02 else None,
        )  # fmt: skip
        if count % 400 == 399:
            wrong = {"entry": f"bench-{count - 200:018d}", "why": "slip"}
            entry = replace(entry, step="cross-out", run=None, values=wrong, override=None)
        batch.append(entries.row_of(entry))
        if len(batch) == 20_000 or count == lines - 1:
            with writing(db):
                db.conn.executemany(entries.INSERT, batch)
            batch.clear()
    store.in_turns(db, list(finding.every(db)), lambda some: finding.settle(db, **{some[0]: some[1]}))
    people.add_person(db, "Bench", "manager", "long-enough-password", now)
    db.close()


class Pages:
    """The pages of one of the shops, as its manager gets them."""

    def __init__(self, folder: Path) -> None:
        db = store.connect(folder)
        today = datetime.now(UTC).date()
        self.about = {
            "job": db.execute("SELECT code FROM jobs WHERE id = 17").fetchone()[0],
            "screen": db.execute("SELECT code FROM screens WHERE id = 17").fetchone()[0],
            "day": (today - timedelta(days=2)).isoformat(), "week": (today - timedelta(days=8)).isoformat(),
        }  # fmt: skip
        self.entries = db.execute("SELECT count(*) FROM entries").fetchone()[0]
        db.close()
        self._app = create_app(folder, testing=True)
        self._phone = self._app.test_client()
        self._phone.environ_base["HTTP_ORIGIN"] = "http://localhost"
        self._phone.post("/sign-in", data={"name": "Bench", "secret": "long-enough-password"})

    def seconds(self, path: str) -> float:
        """What one GET of a page takes."""
        started = time.process_time()
        answer = self._phone.get(path.format(**self.about))
        took = time.process_time() - started
        if answer.status_code not in (200, 303, 404):
            raise SystemExit(f"{path} answered {answer.status_code}")
        self.size = len(answer.data)
        return took

    def close(self) -> None:
        """Lets the files go."""
        self._app.extensions["pool"].close()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--screens", type=int, default=10_000)
    parser.add_argument("--jobs", type=int, default=5_000)
    parser.add_argument("--entries", type=int, default=1_000_000)
    parser.add_argument("--times", type=int, default=15)
    parser.add_argument("--keep", type=Path, help="a folder to keep the large shop in, or to take it from")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        fill(Path(folder) / "small", 200, 100, 20_000)
        large_folder = asked.keep or Path(folder) / "large"
        if not store.exists(large_folder):
            started = time.perf_counter()
            fill(large_folder, asked.screens, asked.jobs, asked.entries)
            print(f"filled in {time.perf_counter() - started:.0f} s")
        small, large = Pages(Path(folder) / "small"), Pages(large_folder)
        print(f"{small.entries:,} and {large.entries:,} entries\n{'page':44}{'small':>10}{'large':>10}{'ratio':>8}")
        for path in [*(f"/find?q={one}" for one in SEARCHES), *(f"/log?{one}" for one in LOGS)]:
            took: tuple[list[float], list[float]] = ([], [])
            for count in range(asked.times + 2):
                for pages, found in zip((small, large), took, strict=True):
                    seconds = pages.seconds(path)
                    if count >= 2:  # the first ones warm the caches
                        found.append(seconds)
            few, many = median(took[0]), median(took[1])
            missed = "  missed" if path.startswith("/find") and many > 0.05 else ""
            told = f"{path:44}{1000 * few:7.1f} ms{1000 * many:7.1f} ms{many / few:8.2f}"
            print(f"{told}  {small.size}, {large.size}{missed}")
        small.close()
        large.close()


if __name__ == "__main__":
    sys.exit(main())
