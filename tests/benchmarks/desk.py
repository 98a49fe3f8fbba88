"""How long the desk's pages take with 10,000 screens and a million entries, against 100 screens and 1,000 entries.

Prints both and the ratio of the medians. Aims: no page over 10 times, list pages at most 1.2 times. Since the small
shop has hardly anything to list, a middle one (1,000 screens, 100,000 entries), whose pages are full, is printed too.
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

from tickets import store
from tickets.floor import buckets, jobs, people, places, shop
from tickets.floor.posting import form
from tickets.records import job as sheets
from tickets.records.entry import Entry, stamp
from tickets.records.person import Actor
from tickets.store import codes, entries, runs, screens, writing
from tickets.store import people as stored_people
from web import create_app

CYCLE = tuple("tension degrease coat image expose washout check hang print pull clean strip".split())
MESHES = (("110/in", 80.0), ("156/in", 64.0), ("230/in", 48.0), ("305/in", 34.0))
LISTS = ("/desk/kept", "/desk/kept?strip=1", "/desk/stocktake", "/desk/trace")
OTHERS = ("/desk", "/desk/short", "/desk/pool", "/desk/wrong", "/desk/limits", "/desk/files", "/desk/import")


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
    for number in range(1, max(2, screens_wanted // 100) + 1):
        places.add(db, me, f"Rack {number}", "rack", post=post(), now=now)
    racks = [row[0] for row in db.execute("SELECT id FROM places WHERE kind = 'rack'").fetchall()]
    places.add_unit(db, me, "Big lamp", "point", post=post(), now=now)
    open_jobs = max(2, min(60, screens_wanted // 4))
    every_job = open_jobs + max(4, screens_wanted // 10)  # the others were printed
    for start in range(0, every_job, 20):
        some = [sheet(n, now + timedelta(days=n % 30)) for n in range(start, min(start + 20, every_job))]
        jobs.add(db, me, some, post=post(), now=now)
    job_ids = [row[0] for row in db.execute("SELECT id FROM jobs WHERE id > ? ORDER BY id", [open_jobs]).fetchall()]
    with writing(db):
        db.execute("UPDATE jobs SET closed_at = ? WHERE id > ?", [stamp(now), open_jobs])
    each = entries_wanted // screens_wanted
    many = max(4, screens_wanted * each // 12 // 60)  # about sixty coats a bucket
    for number in range(many):
        sent = {"kind": "dual-cure emulsion", "product": "Aqua-fast 2", "lot": f"L{number // 5}"}
        buckets.mix(db, me, form(sent), post=post(), now=now - timedelta(days=700) * (1 - number / many))
    bucket_ids = [row[0] for row in db.execute("SELECT id FROM buckets ORDER BY id").fetchall()]
    press = db.execute("SELECT min(id) FROM places WHERE kind = 'press'").fetchone()[0]
    separations = [row[0] for row in db.execute("SELECT id FROM separations ORDER BY id").fetchall()]
    saved, made_runs = now - timedelta(days=750), {}
    with writing(db):
        for number in range(1, screens_wanted + 1):
            code = codes.issue(db, "screen", number, stamp(now), rng)
            screens.add(db, code, number, stamp(now))
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

        pace = timedelta(days=690) / each
        for number in range(1, screens_wanted + 1):
            mesh, thread = MESHES[number % 4]
            at = now - timedelta(days=695) + timedelta(minutes=(number // 4) % 1000)
            log("stretch", at, screen=number, mesh_count_as_labelled=mesh, thread_um=thread, frame="aluminium")
            log("rack", at, screen=number, place=racks[number % len(racks)])
            stop = number % len(CYCLE)
            for count in range(each - 2):
                at += pace
                turn, step = divmod(count, len(CYCLE))
                if count >= each - 2 - len(CYCLE) and step > stop:
                    break
                name = CYCLE[step]
                more: dict[str, object] = {}
                if name == "tension":
                    more = {"readings_n_per_cm": [round(rng.uniform(19, 26), 1) for _unused in range(5)]}
                elif name == "coat":
                    more = {"bucket": bucket_ids[min(len(bucket_ids) - 1, count * len(bucket_ids) // each)]}
                elif name == "image":
                    more = {"separations": [separations[(number + turn) % len(separations)]], "means": "film"}
                elif name == "expose":
                    more = {"exposure_s": 80.0, "exposure_unit": "Big lamp"}
                elif name == "washout":
                    bad = rng.random() < 0.03
                    more = {"result": "fault" if bad else "good", "step_held": rng.choice([6.0, 7.0, 7.0, 8.0])}
                    more |= {"fault": "pinholes"} if bad else {}
                elif name == "check":
                    more = {"result": "good"}
                elif name in ("hang", "print", "pull"):
                    key = (number // 4, turn)
                    if key not in made_runs:
                        made_runs[key] = runs.add(db, job_ids[(number + turn) % len(job_ids)], 1, 1, press, stamp(at))
                        run = made_runs[key]
                        db.execute("UPDATE runs SET done_at = ? WHERE id = ?", [stamp(at), run])
                        later = at + 2 * pace
                        if rng.random() < 0.3:
                            log("stop", later, run=run, cause=rng.choice(["pinhole", "ink"]), minutes=4.0)
                        log("count", later, run=run, good=100, misprinted=2, cause="misregister")
                        log("finish", later + timedelta(minutes=1), run=run)
                    more = {"run": made_runs[key]}
                    if name == "hang":
                        more |= {"head": number % 4 + 1, "station": number % 4 + 1}
                    elif name == "print":
                        more |= {"impressions": 102}
                    else:
                        more |= {"condition": "good", "then": "keep" if number % 5 == 0 else "strip"}
                log(name, at, screen=number, **more)
        db.conn.executemany(entries.INSERT, batch)
    shop.rebuild(db)
    db.execute("ANALYZE")
    db.close()


def timed(folder: Path, times: int) -> dict[str, float]:
    """The median seconds of each page."""
    now = datetime.now(UTC)
    db = store.connect(folder)
    if not any(one.name == "Bench" for one in stored_people.every(db)):
        people.add_person(db, "Bench", "manager", "long-enough-password", now)
    busiest = "SELECT code FROM screens ORDER BY id DESC LIMIT 1"
    things = [
        f"/desk/screens/{db.execute(busiest).fetchone()[0]}",
        f"/desk/trace/{db.execute('SELECT code FROM buckets ORDER BY id DESC LIMIT 1').fetchone()[0]}",
        f"/desk/trace/{db.execute('SELECT code FROM jobs ORDER BY id LIMIT 1').fetchone()[0]}",
        f"/desk/stocktake/{db.execute('SELECT code FROM places ORDER BY id DESC LIMIT 1').fetchone()[0]}",
    ]
    db.close()
    app = create_app(folder, testing=True)
    phone = app.test_client()
    phone.environ_base["HTTP_ORIGIN"] = "http://localhost"
    phone.post("/sign-in", data={"name": "Bench", "secret": "long-enough-password"})
    found = {}
    names = ("/desk/screens/CODE", "/desk/trace/BUCKET", "/desk/trace/JOB", "/desk/stocktake/PLACE")
    for name, path in [(path, path) for path in (*LISTS, *OTHERS)] + list(zip(names, things, strict=True)):
        took = []
        for count in range(times + 2):
            started = time.perf_counter()
            answer = phone.get(path)
            if answer.status_code != 200:
                raise SystemExit(f"{path} answered {answer.status_code}")
            if count >= 2:
                took.append(time.perf_counter() - started)
        found[name] = median(took)
    app.extensions["pool"].close()
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--screens", type=int, default=10_000)
    parser.add_argument("--entries", type=int, default=1_000_000)
    parser.add_argument("--times", type=int, default=15)
    parser.add_argument("--keep", type=Path, help="a folder to keep the large shop in, or to take it from")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        small, middle = Path(folder) / "small", Path(folder) / "middle"
        large = asked.keep or Path(folder) / "large"
        fill(small, 100, 1_000)
        if not store.exists(large):
            started = time.perf_counter()
            fill(large, asked.screens, asked.entries)
            print(f"filled {asked.screens} screens, {asked.entries} entries in {time.perf_counter() - started:.0f} s")
        fill(middle, 1_000, 100_000)
        few, some, many = (timed(one, asked.times) for one in (small, middle, large))
        print(f"{'page':28}{'small':>10}{'middle':>10}{'large':>10}{'to small':>10}{'aim':>5}{'to middle':>11}")
        for name in few:
            aim = 1.2 if name in LISTS else 10
            took = "".join(f"{1000 * one[name]:7.1f} ms" for one in (few, some, many))
            print(f"{name:28}{took}{many[name] / few[name]:10.2f}{aim:5g}{many[name] / some[name]:11.2f}")


if __name__ == "__main__":
    sys.exit(main())
