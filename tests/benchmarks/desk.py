"""How long the desk's pages take with 2,000 screens and 60,000 entries, against 100 screens and 1,000 entries: two or
three minutes. The whole, with `--screens 10000 --entries 1000000`, fills its shop for most of an hour.

Prints both times, the ratio of the medians, the aim and how many bytes the pages have, in process and by the time of
the processor, so that a busy machine counts little; then the same for the first view after a new entry, when nothing
can be remembered.

Aims: no page over 10 times, list pages at most 1.2 times. Both shops fill at least one page of every list, so that a
page of forty rows is held against a page of forty rows: three in five screens of either end up kept (most of them long
ago, so that the strip list is full too), sixty buckets are open, a job was printed in four runs, sixty jobs are to
come and there are a hundred racks. What still differs is what a larger shop has more of: stencils by screen, coats by
bucket (one in the small shop but for one that is as busy as those of the large one), and readings by lamp. Neither
shop has SQLite's statistics of its tables, since no shop gathers any.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that it runs from a checkout that is not installed

from tickets import store
from tickets.actions import buckets, jobs, people, places, screens, shop
from tickets.domain.entry import Entry, stamp
from tickets.domain.jobs import job as sheets
from tickets.domain.person import Actor
from tickets.domain.posted import form
from tickets.queries import find
from tickets.store import codes, entries, runs, writing
from tickets.store import people as stored_people
from tickets.store import screens as stored_screens
from web import create_app

CYCLE = tuple("tension degrease coat image expose washout check hang print pull clean strip".split())
LAST = tuple("coat image expose washout check hang print pull".split())
MESHES = (("110/in", 80.0), ("156/in", 64.0), ("230/in", 48.0), ("305/in", 34.0))
RACKS, OPEN_JOBS, OPEN_BUCKETS, RUNS_A_JOB, COATS_A_BUCKET = 100, 60, 60, 4, 60
LISTS = ("/desk/kept", "/desk/kept?strip=1", "/desk/stocktake", "/desk/trace")
OTHERS = ("/desk", "/week", "/desk/short", "/desk/pool", "/desk/wrong", "/desk/limits", "/desk/files", "/bring")


def sheet(number: int, due: datetime) -> sheets.Job:
    """A job of two colours."""
    return sheets.read(
        {
            "title": f"Order {number}", "customer": f"Customer {number % 40}", "due": due.date().isoformat(),
            "art": {"name": f"Motif {number}", "revision": "1"},
            "garment": [{"style": "Tee", "colour": "white", "pieces": 100, "fibre": {"cotton": 100}}],
            "placement": [{"name": "Front", "width": "300 mm", "height": "300 mm", "station": [
                {"does": "print", "separation": name, "colour": name, "ink": "plastisol",
                 "mesh": {"count": mesh, "thread": f"{thread:g} um"}}
                for name, (mesh, thread) in (("deep blue", MESHES[number % 4]), ("red", MESHES[(number + 1) % 4]))
            ]}],
        }
    )  # fmt: skip


def life(number: int, each: int) -> list[str]:
    """The steps of one screen, about `each` of them: whole rounds, then a last one that ends on the rack as kept, or
    somewhere on the way."""
    last = LAST if kept(number) else LAST[: number % len(LAST)]
    rounds, rest = divmod(each - 2 - len(last), len(CYCLE))
    return ["stretch", "rack", *CYCLE * rounds, *["tension"] * rest, *last]


def kept(number: int) -> bool:
    """True for the three screens in five that end up kept."""
    return number % 5 < 3


def fill(folder: Path, screens_wanted: int, entries_wanted: int, seed: int = 11) -> None:
    """A shop in an empty folder whose screens go round their cycle, coated from buckets and printed in runs of four."""
    rng = random.Random(seed)
    now = datetime.now(UTC)
    db = shop.open_shop(folder, now - timedelta(days=800))
    me = Actor(people.built_in(db, now), "command line", "built-in", "command line")

    def post() -> str:
        return f"{rng.getrandbits(96):024x}"

    for name in ("Press 1", "Press 2"):
        places.add(db, me, name, "press", post=post(), now=now, heads=8)
    for number in range(1, RACKS + 1):
        places.add(db, me, f"Rack {number}", "rack", post=post(), now=now)
    racks = [row[0] for row in db.execute("SELECT id FROM places WHERE kind = 'rack'").fetchall()]
    places.add_unit(db, me, "Big lamp", "point", post=post(), now=now)
    each = entries_wanted // screens_wanted
    turns = 1 + (each - 2 - len(LAST)) // len(CYCLE)
    every_job = OPEN_JOBS + max(1, screens_wanted // 4 * turns // RUNS_A_JOB)  # the others were printed
    for start in range(0, every_job, 20):
        some = [sheet(n, now + timedelta(days=n % 30)) for n in range(start, min(start + 20, every_job))]
        jobs.add(db, me, some, post=post(), now=now)
    printed = [row[0] for row in db.execute("SELECT id FROM jobs WHERE id > ? ORDER BY id", [OPEN_JOBS]).fetchall()]
    with writing(db):
        db.execute("UPDATE jobs SET closed_at = ? WHERE id > ?", [stamp(now), OPEN_JOBS])
    many = max(OPEN_BUCKETS, screens_wanted * turns // COATS_A_BUCKET)
    for number in range(many):
        sent = {"kind": "dual-cure emulsion", "product": "Emulsion A", "lot": f"L{number // 5}"}
        buckets.mix(db, me, form(sent), post=post(), now=now - timedelta(days=700) * (1 - number / many))
    bucket_ids = [row[0] for row in db.execute("SELECT id FROM buckets ORDER BY id").fetchall()]
    for code in [row[0] for row in db.execute("SELECT code FROM buckets ORDER BY id").fetchall()][:-OPEN_BUCKETS]:
        buckets.log(db, me, find.bucket(db, code), "discard", form({}), post=post(), now=now)
    press = db.execute("SELECT min(id) FROM places WHERE kind = 'press'").fetchone()[0]
    separations = [row[0] for row in db.execute("SELECT id FROM separations ORDER BY id").fetchall()]
    saved, made_runs = now - timedelta(days=750), {}
    with writing(db):
        for number in range(1, screens_wanted + 1):
            code = codes.issue(db, "screen", number, stamp(now), rng)
            stored_screens.add(db, code, number, stamp(now))
        batch: list[list[object]] = []

        def log(step: str, at: datetime, **more: object) -> None:
            nonlocal saved
            saved += timedelta(microseconds=1)
            things = {name: more.pop(name) for name in ("screen", "run") if name in more}
            entry = Entry(
                entry=f"bench-{len(batch):02d}-{int(saved.timestamp() * 1e6)}", step=step, at=at, saved_at=saved,
                person=me.id, signed="command line", values=more, **things,  # type: ignore[arg-type]
            )  # fmt: skip
            batch.append(entries.row_of(entry))
            if len(batch) > 20000:
                db.conn.executemany(entries.INSERT, batch)
                batch.clear()

        def run_of(group: int, turn: int, at: datetime) -> int:
            """The run that a group of four screens hangs in; all that is counted in it is logged when it is made."""
            if (group, turn) not in made_runs:
                job = printed[(group * turns + turn) // RUNS_A_JOB % len(printed)]
                run = made_runs[group, turn] = runs.add(db, job, 1, 1, press, stamp(at))
                db.execute("UPDATE runs SET done_at = ? WHERE id = ?", [stamp(at), run])
                if rng.random() < 0.3:
                    log("stop", at, run=run, cause=rng.choice(["pinhole", "ink"]), minutes=4.0)
                log("count", at, run=run, good=100, misprinted=2, cause="misregister")
                log("finish", at + timedelta(minutes=1), run=run)
            return made_runs[group, turn]

        for number in range(1, screens_wanted + 1):
            mesh, thread = MESHES[number % 4]
            steps = life(number, each)
            ended = 100 if number // 4 % 4 else 5  # days ago: three of four were put by long ago
            begun = rng.uniform(600, 700)  # days ago: no two go round together
            at, pace = now - timedelta(days=begun), timedelta(days=begun - ended) / len(steps)
            turn = 0
            for name in steps:
                more: dict[str, object] = {}
                if name == "stretch":
                    more = {"mesh_count_as_labelled": mesh, "thread_um": thread, "frame": "aluminium"}
                elif name == "rack":
                    more = {"place": racks[number % len(racks)]}
                elif name == "tension":
                    more = {"readings_n_per_cm": [round(rng.uniform(19, 26), 1) for _unused in range(5)]}
                elif name == "coat":
                    days = (now - at) / timedelta(days=700)
                    newest = min(many - 1, int(many * (1 - days)))  # the bucket of that day
                    bucket = bucket_ids[newest]
                    if many == OPEN_BUCKETS:  # a small shop: one busy bucket, one screen from each of the others
                        bucket = bucket_ids[0 if number <= COATS_A_BUCKET else number % many]
                    more = {"bucket": bucket}
                elif name == "image":
                    open_ones = 2 * OPEN_JOBS
                    wanted = number % 20 == 1  # a few of them are what a job to come asks for
                    images = separations[:open_ones] if wanted else separations[open_ones:]
                    which = (number // 20 if wanted else number) + turn  # so that as many screens carry each of them
                    more = {"separations": [images[which % len(images)]], "means": "film"}
                elif name == "expose":
                    more = {"exposure_s": 80.0, "exposure_unit": "Big lamp"}
                elif name == "washout":
                    bad = rng.random() < 0.03
                    more = {"result": "good", "step_held": rng.choice([6.0, 7.0, 7.0, 8.0])}
                    more |= {"result": "fault", "fault": "pinholes"} if bad else {}
                elif name == "check":
                    more = {"result": "good"}
                elif name in ("hang", "print", "pull"):
                    more = {"run": run_of(number // 4, turn, at)}
                    if name == "hang":
                        more |= {"head": number % 4 + 1, "station": number % 4 + 1}
                    elif name == "print":
                        more |= {"impressions": 102}
                    else:
                        last = turn == turns - 1
                        more |= {"condition": "good", "then": "keep" if last and kept(number) else "strip"}
                        turn += 1
                log(name, at, screen=number, **more)
                at += pace
            if kept(number):
                log("clean", at, screen=number)
        db.conn.executemany(entries.INSERT, batch)
    shop.rebuild(db)
    db.close()


class Shop:
    """A shop's desk, as its manager gets it."""

    def __init__(self, folder: Path) -> None:
        now = datetime.now(UTC)
        self._db = db = store.connect(folder)
        if not any(one.name == "Bench" for one in stored_people.every(db)):
            people.add_person(db, "Bench", "manager", "long-enough-password", now)
        self._me = Actor(people.built_in(db, now), "command line", "built-in", "command line")
        self._noted_on = str(self.one("SELECT code FROM screens ORDER BY id LIMIT 1"))
        busy = "SELECT b.code FROM coats c JOIN buckets b ON b.id = c.bucket GROUP BY b.id ORDER BY count(*) DESC"
        self._things = {
            "SCREEN": self.one("SELECT code FROM screens ORDER BY id DESC LIMIT 1 OFFSET 1"),
            "BUCKET": self.one(f"{busy} LIMIT 1"),
            "JOB": self.one("SELECT j.code FROM runs r JOIN jobs j ON j.id = r.job ORDER BY r.id LIMIT 1"),
            "PLACE": self.one("SELECT code FROM places WHERE kind = 'rack' ORDER BY id LIMIT 1"),
        }
        self._app = create_app(folder, testing=True)
        self._phone = self._app.test_client()
        self._phone.environ_base["HTTP_ORIGIN"] = "http://localhost"
        self._phone.post("/sign-in", data={"name": "Bench", "secret": "long-enough-password"})
        self._noted = int(time.time() * 1000)

    def one(self, sql: str) -> object:
        """The one value that a question has."""
        return self._db.execute(sql).fetchone()[0]

    def seconds(self, path: str) -> float:
        """What one GET of a page takes."""
        for name, thing in self._things.items():
            path = path.replace(name, str(thing))
        started = time.process_time()
        answer = self._phone.get(path)
        took = time.process_time() - started
        if answer.status_code != 200:
            raise SystemExit(f"{path} answered {answer.status_code}")
        self.size = len(answer.data)
        return took

    def note(self) -> None:
        """One more entry."""
        self._noted += 1
        screen, now = find.screen(self._db, self._noted_on), datetime.now(UTC)
        screens.log(self._db, self._me, screen, "note", form({"note": "x"}), post=f"{self._noted:024x}", now=now)

    def close(self) -> None:
        """Lets the files go."""
        self._app.extensions["pool"].close()
        self._db.close()


PAGES = (*LISTS, *OTHERS, "/desk/screens/SCREEN", "/desk/trace/BUCKET", "/desk/trace/JOB", "/desk/stocktake/PLACE")


def table(small: Shop, large: Shop, times: int, after_entry: bool) -> None:
    """Prints what each page takes in either shop; `after_entry`: an entry is written before each view."""
    what = "first view after an entry" if after_entry else "page"
    print(f"{what:28}{'small':>10}{'large':>10}{'ratio':>8}{'aim':>5}")
    for path in PAGES:
        took: tuple[list[float], list[float]] = ([], [])
        for count in range(times + 2):
            for shop_, found in zip((small, large), took, strict=True):
                if after_entry:
                    shop_.note()
                seconds = shop_.seconds(path)
                if count >= 2:  # the first ones warm the caches
                    found.append(seconds)
        few, many = median(took[0]), median(took[1])
        aim = 1.2 if path in LISTS else 10
        missed = "" if many / few <= aim else "  missed"
        told = f"{path:28}{1000 * few:7.1f} ms{1000 * many:7.1f} ms{many / few:8.2f}{aim:5g}"
        print(f"{told}  {small.size}, {large.size}{missed}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--screens", type=int, default=2_000)
    parser.add_argument("--entries", type=int, default=60_000)
    parser.add_argument("--times", type=int, default=9)
    parser.add_argument("--keep", type=Path, help="a folder to keep the large shop in, or to take it from")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        large_folder = asked.keep or Path(folder) / "large"
        fill(Path(folder) / "small", 100, 1_000)
        if not store.exists(large_folder):
            started = time.perf_counter()
            fill(large_folder, asked.screens, asked.entries)
            print(f"filled {asked.screens} screens, {asked.entries} entries in {time.perf_counter() - started:.0f} s")
        small, large = Shop(Path(folder) / "small"), Shop(large_folder)
        table(small, large, asked.times, after_entry=False)
        print()
        table(small, large, asked.times, after_entry=True)
        small.close()
        large.close()


if __name__ == "__main__":
    sys.exit(main())
