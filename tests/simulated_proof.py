"""What must hold in the simulated shop: its file against what really is, after each day, each month and at the end."""

from __future__ import annotations

import csv
import hashlib
import json
import random
import sqlite3
from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from simulated_truth import STENCIL_ON, Census, Frame, Key, Order, Post, Run, Stencil
from sqlite_utils import Database

from tickets.actions import shop
from tickets.domain.entry import stamp
from tickets.domain.screens import readings as readings_rules
from tickets.queries import desk, exports, find, run_plan, sound
from tickets.queries import trace as traces
from tickets.store import desk as store_desk
from tickets.store import entries
from tickets.store import jobs as store_jobs
from tickets.store import places as store_places
from tickets.store import runs as store_runs
from tickets.store.settings import setting

TABLES = tuple(
    "standings counts carries tensions washouts meshes runs buckets stations stays stencils coats hangings upsets "
    "ink_lots cautions".split()
)
GAPS = {"check-missing": "check", "tension-missing": "tension", "tension-old": "tension", "bucket-not-known": "coat"}
"""Reasons at the press that say that a step was left out."""
TOLERANCE = 0.01
"""Of Little's law, stage by stage, over what was noted frame by frame: what is dated back is typed to the second."""
LEAST = 0.002
"""Frames, of a stage that hardly any is ever seen at: hours are kept to a thousandth, and many stays last a minute."""

NOT_FREE = STENCIL_ON | {"degreased", "to restretch", "away"}
"""Stages of a frame that no other image can be put on."""


class Proofs:
    """Mixed into the shop: what it must have, and the proofs."""

    db: Database
    raw: sqlite3.Connection
    folder: Path
    now: datetime
    start: datetime
    day: int
    logs: frozenset[str]
    faults: list[str]
    unproved: list[str]
    book: dict[str, Post]
    frames: dict[int, Frame]
    orders: dict[int, Order]
    runs: dict[int, Run]
    lots: dict[str, str]
    coated: dict[str, list[Stencil]]
    separations: dict[Key, int]
    census: Census
    happened: Counter[str]

    def begin_proofs(self) -> None:
        self.seen = 0
        self.digests: list[tuple[int, str]] = []
        self.touched: set[int] = set()
        self.proved = 0
        self.stayed: Counter[str] = Counter()
        """Hours of the stays that ended, by stage, as the program's numbers and means come to."""
        self.stays_since = self.start

    def fault(self, text: str) -> None:
        if len(self.faults) < 200:
            self.faults.append(f"day {self.day}: {text}")

    # After each day

    def prove_day(self) -> None:
        """What was sent stands in the log and nothing else; the screens touched are what their logs say, and what they
        really are; the runs and orders touched add up; no screen hangs twice."""
        screens_touched = self.prove_posts()
        self.prove_screens(sorted(screens_touched))
        self.prove_runs()

    def prove_screens(self, numbers: Sequence[int]) -> None:
        logged, outside = setting(self.db, "steps"), store_places.outside(self.db)
        names = store_places.names(self.db)
        for number in numbers:
            self.prove_screen(number, logged, outside, names)

    def prove_posts(self) -> set[int]:
        rows = self.raw.execute(
            "SELECT id, entry, post, part, step, screen, run, person, vals, verdict, override FROM entries "
            "WHERE id > ? ORDER BY id",
            [self.seen],
        ).fetchall()
        by_post: dict[str, list[Any]] = {}
        touched: set[int] = set()
        for row in rows:
            by_post.setdefault(row[2], []).append(row)
            if row[5] is not None:
                touched.add(row[5])
            if row[4] == "hang":
                self.prove_hang(row)
            if row[6] is not None:
                self.touched.add(row[6])
        if rows:
            self.seen = rows[-1][0]
            text = json.dumps(rows, ensure_ascii=False)
            self.digests.append((self.seen, hashlib.sha256(text.encode()).hexdigest()))
        for post in self.unproved:
            kept, lines = self.book[post], by_post.pop(post, [])
            mains = [row for row in lines if row[4] == kept.step]
            if not kept.accepted:
                if lines:
                    self.fault(f"{kept.step} {post} was refused and is in the log")
                continue
            if len(mains) != kept.number:
                self.fault(f"{kept.step} {post}: {len(mains)} entries, {kept.number} were entered")
            for step, number in kept.also.items():
                there = sum(1 for row in lines if row[4] == step)
                if there != number:
                    self.fault(f"{kept.step} {post}: {there} {step}, {number} were entered")
            for row in mains:
                values = json.loads(row[8])
                wrong = {name: value for name, value in kept.values.items() if values.get(name) != value}
                if wrong:
                    self.fault(f"{kept.step} {post}: {wrong} is not what the log has: {values}")
        for post, lines in by_post.items():
            self.fault(f"nobody sent {post}: {[row[4] for row in lines]}")
        self.unproved = []
        return touched

    def prove_hang(self, row: Sequence[Any]) -> None:
        verdict = json.loads(row[9]) if row[9] else {}
        level = verdict.get("level", "")
        for reason in verdict.get("reasons", ()):
            if GAPS.get(reason["key"], "hang") not in self.logs:
                self.fault(f"run {row[6]}: “{reason['key']}” at the press of a shop that does not log it")
        if level in {"stop", "unknown"}:
            told = json.loads(row[10]) if row[10] else {}
            if not told.get("why") or (row[5], told.get("person")) not in self.runs[row[6]].passed:
                self.fault(f"run {row[6]}: screen {row[5]} hangs past a {level} that nobody went past: {told}")

    def prove_screen(self, number: int, logged: Any, outside: Any, names: Mapping[int, str]) -> None:
        lines = entries.of(self.db, "screen", number)
        self.rng_proof.shuffle(lines)
        life, lesson = readings_rules.replay(lines, logged, outside)
        row = self.raw.execute(
            "SELECT standing, impressions, uses, cycles, life, run, place FROM standings WHERE screen = ?", [number]
        ).fetchone()
        if row[4] != json.dumps(life.kept(), ensure_ascii=False, sort_keys=True):
            self.fault(f"screen {number} is not its log replayed")
        frame = self.frames[number]
        last = " ".join(line.step for line in sorted(lines, key=lambda one: one.key)[-12:])
        if frame.said is not None and row[0] != frame.said:
            self.fault(f"screen {number}: the log says {row[0]}, it is {frame.said} ({last})")
            frame.said = None
        if (row[1], row[2]) != (frame.impressions, frame.uses):
            self.fault(f"screen {number}: {row[1:3]} impressions and uses, really {frame.impressions, frame.uses}")
        if row[3] != frame.strips_said:
            self.fault(f"screen {number}: {row[3]} strippings, really {frame.strips_said} ({last})")
            frame.strips = frame.strips_said = row[3]
        if row[5] != (frame.on.run if frame.on else None):
            self.fault(f"screen {number}: hangs in run {row[5]}, really {frame.on}")
        if names.get(row[6], "") != frame.place_said:
            place = names.get(row[6], "")
            self.fault(f"screen {number}: the log has it in “{place}”, it is in “{frame.place_said}” ({last})")
            frame.place_said = place
        gaps = {step for _entry, missing in life.gaps for step in missing}
        gaps |= {step for stencil in lesson.past.stencils for step in stencil.missed_list}
        if gaps - self.logs:
            self.fault(f"screen {number}: a gap for {gaps - self.logs}, which this shop does not log")

    @property
    def rng_proof(self) -> random.Random:
        return random.Random(self.seen)

    def prove_runs(self) -> None:
        """Open runs: one for each placement and press, no screen in two; counts as they really were."""
        twice = self.raw.execute(
            "SELECT job, placement, press FROM runs WHERE done_at IS NULL GROUP BY 1, 2, 3 HAVING count(*) > 1"
        ).fetchall()
        if twice:
            self.fault(f"open twice: {twice}")
        hung: dict[int, int] = {}
        for stored in store_runs.open_ones(self.db, limit=1000):
            run = self.runs[stored.id]
            if run.finished:
                self.fault(f"run {stored.id} is open, it was finished")
            plan = run_plan.plan(self.db, stored.id)
            there = {number: one.screen for number, one in plan.story.hung.items()}
            if there != {number: frame.number for number, frame in run.hung.items()}:
                self.fault(f"run {stored.id}: {there} hang, really {[(n, f.number) for n, f in run.hung.items()]}")
            for screen in there.values():
                if screen in hung:
                    self.fault(f"screen {screen} hangs in runs {hung[screen]} and {stored.id}")
                hung[screen] = stored.id
            self.prove_run(stored)
        touched, self.touched = self.touched, set()
        for number in sorted(touched - {stored.id for stored in store_runs.open_ones(self.db, limit=1000)}):
            found = store_runs.get(self.db, number)
            assert found is not None
            self.prove_run(found)
        for order in {self.runs[number].order for number in touched}:
            self.prove_order(order)

    def prove_order(self, order: Order) -> None:
        """The pieces of an order by placement, and whether it is off the boards."""
        for place in range(1, len(order.data["placement"]) + 1):
            really = sum(run.good for run in order.runs if run.place == place and run.finished)
            said = store_jobs.printed(self.db, order.number).get(place, 0)
            if said != really:
                self.fault(f"job {order.number}: {said} good pieces at placement {place}, really {really}")
        saved = store_jobs.get(self.db, order.number)
        assert saved is not None
        if bool(saved.closed_at) != order.closed:
            self.fault(f"job {order.number}: closed {saved.closed_at}, really {order.closed}")

    def prove_run(self, stored: store_runs.Run) -> None:
        """A run's pieces, impressions (the strokes on each screen while it hung), state and mark; its approval."""
        run, story = self.runs[stored.id], stored.story
        if (story.good, story.misprinted) != (run.good, run.misprinted):
            self.fault(
                f"run {run.number}: {story.good} good, {story.misprinted} misprinted, really "
                f"{run.good}, {run.misprinted}"
            )
        if story.impressions != run.impressions:
            self.fault(f"run {run.number}: {story.impressions} impressions, really {run.impressions}")
        if bool(story.approved) != run.approved or (story.approved or {}).get("photo", "") != run.photo:
            self.fault(f"run {run.number}: approved {story.approved}, really {run.approved, run.photo}")
        if (story.state == "finished") != run.finished:
            self.fault(f"run {run.number} is {story.state}")
        taken = {name: one.get("person") for name, one in story.measured.get("run", {}).items()}
        if taken != run.measured_by:
            self.fault(f"run {run.number}: measured by {taken}, really {run.measured_by}")
        if story.target != bool(run.marked):
            self.fault(f"run {run.number}: target {story.target}, really {run.marked}")

    # Each month

    def prove_month(self, whole: bool = True) -> None:
        """All of it: every screen replayed, every run and order, no entry changed since. `whole`: also that the shop is
        sound, that a rebuild changes nothing, and that an export has every line."""
        self.proved = self.day
        if whole:
            for fault in sound.check(self.db):
                self.fault(f"check: {fault}")
            before = self.tables()
            shop.rebuild(self.db)
            for table, rows in self.tables().items():
                if rows != before[table]:
                    self.fault(f"a rebuild changes {table}")
            self.prove_export()
        self.prove_screens(list(self.frames))
        for number, frame in self.frames.items():
            for code in frame.codes:
                if find.screen(self.db, code).id != number:
                    self.fault(f"code {code} does not lead to screen {number}")
        self.touched |= set(self.runs)
        self.prove_runs()
        self.count_stays()
        last = 0
        for until, digest in self.digests:
            rows = self.raw.execute(
                "SELECT id, entry, post, part, step, screen, run, person, vals, verdict, override FROM entries "
                "WHERE id > ? AND id <= ? ORDER BY id",
                [last, until],
            ).fetchall()
            if hashlib.sha256(json.dumps(rows, ensure_ascii=False).encode()).hexdigest() != digest:
                self.fault(f"entries {last} to {until} were changed")
            last = until

    def tables(self) -> dict[str, list[Any]]:
        """The worked-out tables, without what stands at nought."""
        found = {}
        for table in TABLES:
            where = "WHERE screens <> 0" if table == "counts" else ""
            found[table] = sorted(self.raw.execute(f"SELECT * FROM {table} {where}").fetchall(), key=repr)
        return found

    def prove_export(self) -> None:
        out = self.folder / "export"
        exports.export(self.db, out)
        wanted = [row[0] for row in self.raw.execute("SELECT entry FROM entries ORDER BY id")]
        with (out / "entries.jsonl").open(encoding="utf-8") as lines:
            if [json.loads(line)["entry"] for line in lines] != wanted:
                self.fault("the exported lines are not the log's")
        with (out / "entries.csv").open(encoding="utf-8", newline="") as table:
            if [row["entry"] for row in csv.DictReader(table)] != wanted:
                self.fault("the exported table is not the log")

    # At the end: lots and jobs, both ways

    def prove_traces(self) -> None:
        """Every bucket, every lot by name and every job: the screens, runs and jobs that it is traced to, and back."""
        for code in self.lots:
            bucket = find.bucket(self.db, code)
            trace = traces.trace_buckets(self.db, [bucket])
            self.compare(f"bucket {code}", self.traced(trace.rows), self.really_coated([code]))
            self.compare(f"bucket {code}", self.inked(trace.inks), self.really_inked({code}, set()))
        names = set(self.lots.values())
        names |= {lot for run in self.runs.values() for _station, _code, lot in run.inks if lot}
        for lot in sorted(names):
            mixed = [code for code, its in self.lots.items() if its == lot]
            trace = traces.trace_buckets(self.db, store_desk.buckets_of_lot(self.db, lot), lot)
            self.compare(f"lot {lot}", self.traced(trace.rows), self.really_coated(mixed))
            self.compare(f"lot {lot}", self.inked(trace.inks), self.really_inked(set(mixed), {lot}))
            led = {code for code, _title in trace.jobs}
            really = {key[3] for key in self.really_coated(mixed) if key[3]}
            really |= {key[2] for key in self.really_inked(set(mixed), {lot})}
            self.compare(f"jobs of lot {lot}", dict.fromkeys(led, 0), dict.fromkeys(really, 0))
        for order in self.orders.values():
            trace = traces.trace_job(self.db, order.number)
            back: Counter[tuple[Any, ...]] = Counter()
            for run in order.runs:
                for one in run.hangings:
                    for code in (one.stencil.buckets if one.stencil else ()) or ("",):
                        back[code, one.frame, run.number, order.code] += one.impressions
            self.compare(f"job {order.number}", self.traced(trace.rows), back)
            inks = {(run.number, ink, order.code): run.took[ink] for run in order.runs for ink in run.inks}
            self.compare(f"job {order.number}", self.inked(trace.inks), inks)
        self.happened["lots traced"] = len(names)
        self.happened["buckets traced"] = len(self.lots)
        self.happened["jobs traced"] = len(self.orders)

    def compare(self, what: str, said: Mapping[Any, int], really: Mapping[Any, int]) -> None:
        if dict(said) != dict(really):
            off = [key for key in {*said, *really} if said.get(key) != really.get(key)]
            told = [(key, said.get(key), really.get(key)) for key in off[:4]]
            self.fault(f"{what} leads to {len(said)}, really {len(really)}; (what, said, really): {told}")

    def traced(self, rows: Sequence[Any]) -> Counter[tuple[Any, ...]]:
        """What a trace says: impressions by (bucket, screen, run, job)."""
        found: Counter[tuple[Any, ...]] = Counter()
        for one in rows:
            found[one.bucket_code, one.screen, one.run, one.job_code] += one.impressions
        return found

    def inked(self, inks: Sequence[Any]) -> dict[tuple[Any, ...], int]:
        """What a trace says: good pieces by (run, (print order, bucket, lot), job)."""
        return {(one.run, (one.station, one.bucket, one.lot), one.job_code): one.good for one in inks}

    def really_coated(self, codes: Sequence[str]) -> Counter[tuple[Any, ...]]:
        found: Counter[tuple[Any, ...]] = Counter()
        for code in codes:
            for stencil in self.coated.get(code, ()):
                for one in stencil.hangings:
                    found[code, stencil.frame, one.run, self.runs[one.run].order.code] += one.impressions
                if not stencil.hangings:
                    found[code, stencil.frame, None, ""] += 0
        return found

    def really_inked(self, codes: set[str], lots: set[str]) -> dict[tuple[Any, ...], int]:
        return {
            (run.number, ink, run.order.code): run.took[ink]
            for run in self.runs.values()
            for ink in run.inks
            if ink[1] in codes or ink[2] in lots
        }

    # At the end: Little's law

    def count_stays(self) -> None:
        """Takes down what the program says of the stays that ended since the last time: their number times their
        mean."""
        if self.now <= self.stays_since:
            return
        days = (self.now - self.stays_since) / timedelta(days=1)
        for one in desk.pool_of(self.db, self.now, days).stays:  # type: ignore[arg-type]
            if one.ended is None:
                continue
            if one.ended.number >= store_desk.MOST_STAYS:
                self.fault(f"more stays at {one.standing} than the pool is worked out from")
            self.stayed[one.standing] += one.ended.number * one.ended.mean_h  # type: ignore[assignment]
        self.stays_since = self.now

    def standing_now(self, standing: str) -> int:
        return sum(1 for frame in self.frames.values() if frame.said == standing)

    def prove_little(self) -> dict[str, tuple[float, float]]:
        """L = λW: the mean number of screens at each stage, noted frame by frame, is the number of stays in an hour
        times their mean length, as the program has them (J. D. C. Little, A Proof for the Queuing Formula L = λW,
        Operations Research 9, 1961, from memory); a stay that is not over counts for as long as it has been. So are the
        frames that each mesh takes. (said, really)."""
        self.census.upto(self.now, self.frames.values())
        found: dict[str, tuple[float, float]] = {}
        hours = (self.now - self.start) / timedelta(hours=1)
        counted, _taken = self.census.means(self.start)
        still = dict(self.raw.execute(
            "SELECT standing, sum(julianday(?) - julianday(since)) * 24 FROM stays WHERE until = '' GROUP BY standing",
            [stamp(self.now)],
        ).fetchall())  # fmt: skip
        for stage in sorted({*counted, *self.stayed} - {"retired", "unknown"}):
            found[stage] = ((self.stayed[stage] + still.get(stage, 0.0)) / hours, counted.get(stage, 0.0))
        view = desk.pool_of(self.db, self.now, 365)
        begun = self.now - timedelta(days=view.days)
        missed = {frame.number: frame.missed for frame in self.frames.values() if frame.missed}
        _stages, taken = self.census.means(begun, missed)
        for mesh in view.meshes:
            found[mesh.mesh] = (mesh.carried, taken.get(mesh.mesh, 0.0))
            own = [frame for frame in self.frames.values() if frame.mesh_said == mesh.mesh]
            serving = [frame for frame in own if frame.said != "retired"]
            gone = sum(1 for frame in serving if frame.missed)
            now_taken = sum(1 for frame in own if frame.said in NOT_FREE and not frame.missed)
            stock = mesh.frames
            if (stock.there + stock.slack, stock.missing, stock.taken) != (len(serving) - gone, gone, now_taken):
                really = f"{len(serving) - gone} there, {gone} missing, {now_taken} not free"
                self.fault(f"{mesh.mesh}: {stock}, really {really}")
        for name, (said, really) in found.items():
            if abs(said - really) > max(LEAST, TOLERANCE * really):
                self.fault(f"Little’s law does not hold for {name}: {said:.3f}, counted {really:.3f}")
        for one in view.stays:
            still_there = one.still + one.missing
            if one.standing not in {"retired", "unknown"} and still_there != self.standing_now(one.standing):
                self.fault(f"{still_there} still {one.standing}, really {self.standing_now(one.standing)}")
        return found
