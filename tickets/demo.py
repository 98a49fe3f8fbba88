"""An invented shop with some weeks of history, made through `actions` as people do, dated back from today."""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from tickets import store
from tickets.actions import buckets, hanging, jobs, people, pictures, places, runs, screens, shop, stocktake
from tickets.calculator.numerals import counted
from tickets.domain.desk import shop_settings
from tickets.domain.jobs import job as sheets
from tickets.domain.jobs.job import Job
from tickets.domain.person import Actor
from tickets.domain.posted import form
from tickets.domain.screens.frame_checks import Asked
from tickets.domain.spec import Row
from tickets.queries import find, judging, run_plan
from tickets.store import jobs as store_jobs
from tickets.store import screens as store_screens
from tickets.store.screens import Screen

SHOP = "Grey Heron Print Room"
SECRETS = {
    "Ada Holm": ("screen room", "4711"),
    "Bo Lind": ("press", "4822"),
    "Cy Marsh": ("press lead", "4933"),
    "Di Novak": ("manager", "demo-heron"),
}
"""The demo's people: role and secret. Public, so never used for anything else."""

PRINTED_BEFORE = ("harbour-lights", "night-run")
DAYS_BEFORE = (24, 12)
"""The samples that were printed in the weeks before, and when; the rest is to be printed in the days to come."""


def sample_folder() -> Path:
    """Where the sample jobs lie: in the installed package, or beside it in a checkout."""
    inside = Path(__file__).parent / "sample_jobs"
    return inside if inside.is_dir() else Path(__file__).parent.parent / "sample_jobs"


def build(folder: Path, now: datetime) -> None:
    """Makes the demo shop in an empty folder; some seconds."""
    made = _Demo(folder, now)
    with store.on_disk_at_the_end(made.db):
        made.build()
    made.db.close()


FIT_FOR = ((170, 88.0), (240, 78.0), (math.inf, 75.0))
"""What the big lamp truly needs when it is new, in seconds, up to a count per inch. The time of the fine meshes is set
at 60 s: their step strips say otherwise, and so do the pages."""

LAMP_THAT_FAILED, LAMP_IN_USE = 25.0, 600.0
"""Days in which a lamp comes to ask for twice its first time."""

WAY = ("coat", "image", "expose", "washout", "check")
"""How far a screen is made for a job."""


OPENS, CLOSES = 8, 18
"""The hours in which the shop works, Monday to Friday."""
TODAY = timedelta(hours=14)
"""What is of today goes by the hour at which the demo is started, so that screens dry and runs print at any."""


class _Demo:
    """The invented shop while it is made: who acts, and a clock that goes from some weeks ago to now."""

    def __init__(self, folder: Path, now: datetime) -> None:
        self.now = now
        self.zone = ZoneInfo(str(shop_settings.SETTINGS["zone"].default))
        self.clock = now - timedelta(days=130)
        self.db: Database = shop.open_shop(folder, self.clock)
        self.samples = {path.stem: sheets.read_file(path) for path in sorted(sample_folder().glob("*.toml"))}
        self.rng = random.Random(19)  # the same shop every time, dates apart
        self.posts = 0
        self.lamp_new, self.lamp_fades = self.clock, LAMP_THAT_FAILED
        self.white = ""
        self.ada = self.bo = self.cy = self.di = shop.command_line(self.db, self.clock)

    # The small acts

    @property
    def clock(self) -> datetime:
        """When the next act is done."""
        return self._clock

    @clock.setter
    def clock(self, moment: datetime) -> None:
        """Whatever would be done at night or on a weekend waits until the shop opens."""
        if moment < self.now - TODAY:
            local = moment.astimezone(self.zone)
            day = local.date() + timedelta(days=local.hour >= CLOSES)
            if _workday(day) != local.date() or local.hour < OPENS:
                moment = min(self.opening(_workday(day)), self.now - TODAY)
        self._clock = moment

    def opening(self, day: date) -> datetime:
        """When the shop opens on a day."""
        return datetime.combine(day, time(OPENS), self.zone).astimezone(UTC)

    def post(self) -> str:
        self.posts += 1
        return f"demo-{self.posts:016d}"

    def at(self, days: float, hours: float = 0.0) -> None:
        """Moves the clock to so many days ago, never back; of days before, so many hours after the shop opened on the
        last working day up to then."""
        then = self.now - timedelta(days=days)
        if days >= 1:
            day = then.astimezone(self.zone).date()
            then = self.opening(day - timedelta(days=max(0, day.weekday() - 4)))
        self.clock = max(self.clock + timedelta(seconds=20), then + timedelta(hours=hours))

    def log(self, who: Actor, many: Screen | Sequence[Screen], step: str, **fields: Any) -> None:
        """One step of one screen or of many."""
        self.clock += timedelta(seconds=self.rng.randint(20, 120))
        found = [many] if isinstance(many, Screen) else list(many)
        if found:
            screens.log_many(self.db, who, found, step, form(fields), post=self.post(), now=self.clock)

    def screen(self, code: str) -> Screen:
        return find.screen(self.db, code)

    # The shop

    def build(self) -> None:
        self.people_and_places()
        self.frames()
        samples = self.samples
        back = samples["quiet-mooring"]
        chances = self.rng.getstate()  # what comes after is the same with and without it
        season = of_the_back(back, "Season opening shirts", "Quillmoor Sailing School", "First of May", "TS-12")
        self.make_and_print(self.enter(season, 127), 127, then="undecided")  # and nobody ordered it again
        self.rng.setstate(chances)
        before = self.earlier_orders(samples["night-run"])
        self.at(46)
        self.next_bucket("0985")
        self.measure_again()
        samples["night-run"] = replace(samples["night-run"], repeats=before)
        codes = self.enter_jobs(samples, PRINTED_BEFORE)
        self.at(26)
        self.next_bucket("1044")  # near its end today
        for days, name in zip(DAYS_BEFORE, PRINTED_BEFORE, strict=True):
            self.make_and_print(codes[name], days, then="keep" if name == "harbour-lights" else "strip")
        self.at(10)
        self.step_tests()
        self.at(9)
        waiting = self.enter_jobs(samples, [name for name in samples if name not in PRINTED_BEFORE])
        race_day = of_the_back(back, "Race day shirts", "Quillmoor Sailing School", "Two dinghies", "TS-19")
        self.this_week({**waiting, "race_day": self.enter(race_day, -9)})

    def people_and_places(self) -> None:
        command = self.di
        rates = {"rate_press_hour": 55, "rate_screen": 18, "rate_garment": 4.2, "currency": "EUR"}
        for name, value in {"demo": True, "shop": SHOP, **rates}.items():
            shop.set_up(self.db, command, name, value, now=self.clock)
        acting = {}
        for name, (role, secret) in SECRETS.items():
            number = people.add_person(self.db, name, role, secret, self.clock, demo=True)
            acting[name] = Actor(number, name, role)
        self.ada, self.bo, self.cy, self.di = (acting[name] for name in SECRETS)
        for name, kind, more in (
            ("Rack 1", "rack", {}),
            ("Rack 2", "rack", {}),
            ("Rack 3", "rack", {}),
            ("Drying cabinet", "cabinet", {}),
            ("Cart A", "cart", {}),
            ("Stretching service", "rack", {"outside": True}),
            ("Press 1", "press", {"heads": 10}),
            ("Press 2", "press", {"heads": 8}),
            ("Sample press", "press", {"heads": 4}),
        ):
            places.add(self.db, self.di, name, kind, post=self.post(), now=self.clock, **more)
        for name, lamp in (("Big lamp", "point"), ("LED table", "led")):
            places.add_unit(self.db, self.di, name, lamp, post=self.post(), now=self.clock)
        self.wanted_times()
        self.bucket = self.mix("dual-cure emulsion", "Emulsion A", "0917", "yes")
        self.old_bucket = self.mix("diazo emulsion", "Standard blue", "0311", "no")

    def wanted_times(self) -> None:
        """The shop's own measured exposure times."""
        for unit, over, to, seconds in (
            ("Big lamp", None, 170, 95),
            ("Big lamp", 170, 240, 80),
            ("Big lamp", 240, None, 60),
            ("LED table", None, 170, 26),
            ("LED table", 170, None, 21),
        ):
            when: dict[str, Any] = {"exposure_unit": unit}
            if over:
                when["count_over_per_in"] = over
            if to:
                when["count_to_per_in"] = to
            row = Row(0, "exposure-time", float(seconds), "s", when, "our step strips, Emulsion A, 2+1")
            shop.add_spec_row(self.db, self.di, row, now=self.clock)

    def mix(self, kind: str, product: str, lot: str, resistant: str) -> str:
        sent = {"kind": kind, "product": product, "lot": lot, "water_resistant": resistant}
        code = buckets.mix(self.db, self.ada, form(sent), post=self.post(), now=self.clock)
        buckets.log(self.db, self.ada, find.bucket(self.db, code), "use", form({}), post=self.post(), now=self.clock)
        return code

    def next_bucket(self, lot: str) -> None:
        """A fresh bucket of the usual emulsion; what is left of the last one is thrown away."""
        old, self.bucket = self.bucket, self.mix("dual-cure emulsion", "Emulsion A", lot, "yes")
        gone = form({"why": "past its time"})
        buckets.log(self.db, self.ada, find.bucket(self.db, old), "discard", gone, post=self.post(), now=self.clock)

    def frames(self) -> None:
        """Frames of every mesh that the samples ask for, and a few more; most measured, some not for long."""
        meshes: dict[tuple[str, float | None], int] = {}
        for sheet in self.samples.values():
            for placement in sheet.placements:
                for station in placement.printing:
                    assert station.mesh is not None
                    key = (station.mesh.count_as_labelled, station.mesh.thread_um)
                    meshes[key] = meshes.get(key, 0) + 1
        meshes[("160/in", 64.0)] = 2
        mark = 1
        for (label, thread), wanted in meshes.items():
            number = wanted + 2
            sent = {
                "mesh_count_as_labelled": label,
                "thread_um": thread or "",
                "mesh_colour": "white" if label.startswith("1") else "dyed",
                "frame": "roller" if label.startswith("1") else "aluminium",
                "frame_size_mm": "585 x 790",
                "mark": f"H {mark:02d}",
                "by": "us",
            }
            mark += number
            made = screens.add(self.db, self.ada, form(sent), post=self.post(), now=self.clock, number=number)
            self.clock += timedelta(minutes=10)
            for code in made:
                if self.rng.random() < 0.9:
                    self.measure(self.screen(code))
            self.log(self.ada, [self.screen(code) for code in made], "rack", place="Rack 3")

    def measure(self, screen: Screen) -> None:
        mesh = screen.life.mesh
        assert mesh is not None
        new = {"roller": 28.0 if mesh.count_per_cm * 2.54 > 150 else 33.0}.get(mesh.frame, 24.0)
        if mesh.count_per_cm * 2.54 > 240:
            new = 22.5
        used = screen.life.uses
        mean = new - self.rng.random() - 1.1 * math.log1p(used)  # most goes with the first prints and washes
        readings = [round(2 * (mean + self.rng.uniform(-0.9, 0.9))) / 2 for _unused in range(5)]
        self.log(self.ada, screen, "tension", readings_n_per_cm=[f"{one:g}" for one in readings])

    def measure_again(self) -> None:
        """Most of the frames that wait are measured again; some are forgotten."""
        for row in store_screens.inventory(self.db, store_screens.InventoryAsked(standing="bare"), limit=500):
            if row.minimum_n_per_cm and self.rng.random() < 0.75:
                self.measure(self.screen(row.code))

    def enter_jobs(self, samples: Mapping[str, Job], names: Sequence[str]) -> dict[str, str]:
        """Some of the samples, with due dates around today; their codes by file name."""
        today = self.now.date()
        due = {name: _workday(today + timedelta(days=2 + place)) for place, name in enumerate(samples)}
        for days, name in zip(DAYS_BEFORE, PRINTED_BEFORE, strict=True):
            due[name] = _workday(today - timedelta(days=days))
        orders = [replace(samples[name], due=due[name]) for name in names]
        files = [sample_folder() / f"{name}.toml" for name in names]
        art = pictures.beside(self.db, self.di, files, orders, now=self.clock)
        made = jobs.add(self.db, self.di, orders, post=self.post(), now=self.clock, pictures=art)
        return dict(zip(names, made, strict=True))

    def enter(self, sheet: Job, days: int) -> str:
        """One order that was due so many days ago (below zero: that is to come); its code."""
        due = _workday(self.now.date() - timedelta(days=days))
        order = replace(sheet, due=due)
        beside = [sample_folder() / "beside.toml"]
        art = pictures.beside(self.db, self.di, beside, [order], now=self.clock)
        return str(jobs.add(self.db, self.di, [order], post=self.post(), now=self.clock, pictures=art)[0])

    def earlier_orders(self, sheet: Job) -> str:
        """The same shirts ordered again and again, each a repeat of the one before: meshes wear, a lamp weakens and is
        changed, some screens tear. The code of the last one."""
        before = ""
        for number, days in enumerate(range(124, 52, -9)):
            if number == 5:
                places.change_lamp(self.db, self.di, "Big lamp", post=self.post(), now=self.clock)
                self.lamp_new, self.lamp_fades = self.clock, LAMP_IN_USE
            if number < 5:
                self.at(days + 4)
                self.test_of_the_lamp()
            if number == 6:
                self.white = self.mix("plastisol ink", "Low-bleed white, thinned by 3 %", "W-2210", "unknown")
            code = self.enter(replace(sheet, reference=f"BH-{301 + number}", repeats=before), days)
            otherwise = {"s1.squeegee": "75"} if number == 7 else {}  # the 70 was in the wash
            self.make_and_print(code, days, torn=number in {2, 4, 6}, otherwise=otherwise)
            before = code
        return before

    # Making and printing

    def free(self, label: str, thread: float | None) -> Screen:
        """A free frame of a mesh."""
        found = self.free_list(label, thread)
        if not found:
            raise LookupError(label)
        return found[0]

    def free_list(self, label: str, thread: float | None) -> list[Screen]:
        """The free frames of a mesh that were measured, stripped ones first."""
        return [
            self.screen(row.code)
            for standing in ("stripped", "bare")
            for row in store_screens.inventory(self.db, store_screens.InventoryAsked(standing=standing), limit=500)
            if row.mesh == label and row.thread_um == thread and row.minimum_n_per_cm
        ]

    def prepared(self, *wanted: tuple[store_jobs.Saved, str | Mapping[str, str]]) -> None:
        """Screens for the printing stations of jobs, made together, each as far as a step: by name of the image, or all
        of a job. An image that is not named, has a screen already, or has no free frame gets none."""
        made: list[tuple[str, Asked, str]] = []
        for job, upto in wanted:
            for place, asked in self.stations(job):
                mesh = job.sheet.placements[place - 1].stations[asked.number - 1].mesh
                far = upto if isinstance(upto, str) else upto.get(asked.image.name, "")
                if not far or mesh is None or store_screens.carrying(self.db, asked.separation, 1):
                    continue
                try:
                    frame = self.free(mesh.count_as_labelled, mesh.thread_um)
                except LookupError:
                    continue  # every frame of that mesh is in use: the board says so
                self.log(self.ada, frame, "degrease")
                self.coat(frame)
                if far == "coat":
                    continue
                made.append((frame.code, asked, far))
        self.clock += timedelta(minutes=75)
        for code, asked, far in made:
            self.log(self.ada, self.screen(code), "image", separations=asked.separation, means="film")
            if WAY.index(far) >= WAY.index("expose"):
                self.expose(self.screen(code), far)
        if any(far == "check" for _code, _asked, far in made):
            self.clock += timedelta(minutes=40)
        for far in WAY[1:]:
            some = [self.screen(code) for code, _asked, reached in made if reached == far]
            if far == "check":
                for one in some:
                    self.log(self.ada, one, "check", result="good")
            place_of = "Drying cabinet" if far == "washout" else "Rack 1"
            self.log(self.ada, [self.screen(one.code) for one in some], "rack", place=place_of)

    def stations(self, job: store_jobs.Saved) -> list[tuple[int, Asked]]:
        """The printing stations of a job, each with its placement."""
        places_of = range(1, len(job.sheet.placements) + 1)
        return [(place, asked) for place in places_of for asked in store_jobs.asked(self.db, job, place)]

    def expose(self, frame: Screen, far: str) -> None:
        """Exposes a screen for the time that the shop set, and washes it out with a step strip now and then."""
        set_s = judging.wanted_exposure(self.db, frame.life, "Big lamp", self.clock) or 80.0
        self.log(self.ada, frame, "expose", exposure_s=f"{set_s:g}", exposure_unit="Big lamp")
        if WAY.index(far) < WAY.index("washout"):
            return
        mesh = frame.life.mesh
        assert mesh is not None
        fit = next(seconds for count, seconds in FIT_FOR if mesh.count_per_cm * 2.54 <= count + 0.5)
        weak = 1 + (self.clock - self.lamp_new) / timedelta(days=self.lamp_fades)
        step = 7 + 2 * math.log2(set_s / (fit * weak)) + self.rng.uniform(-0.2, 0.2)  # a step is half a stop
        held = {"step_held": f"{round(2 * step) / 2:g}"} if self.rng.random() < 0.7 else {}
        self.log(self.ada, self.screen(frame.code), "washout", result="good", **held)

    def step_tests(self, seconds: float = 60.0, held: float = 6.0) -> None:
        """Three step strips on a fine mesh: of late they held too little, and the pages take them up."""
        chances = self.rng.getstate()  # what comes after is the same with and without them
        for _time in range(3):
            frame = self.free("305/in", 34.0)
            self.log(self.ada, frame, "degrease")
            self.clock += timedelta(minutes=45)
            self.coat(frame)
            self.clock += timedelta(minutes=80)
            strip = {"exposure_s": f"{seconds:g}", "exposure_unit": "Big lamp", "purpose": "test strip"}
            self.log(self.ada, self.screen(frame.code), "expose", **strip)
            self.log(self.ada, self.screen(frame.code), "washout", result="good", step_held=f"{held:g}")
            self.log(self.ada, self.screen(frame.code), "strip")
        self.rng.setstate(chances)

    def test_of_the_lamp(self) -> None:
        """The three strips that the lamp which failed was followed by, each time the shirts were printed again."""
        weak = 1 + (self.clock - self.lamp_new) / timedelta(days=self.lamp_fades)
        self.step_tests(75, round(2 * (7 - 2 * math.log2(weak))) / 2)

    def coat(self, frame: Screen) -> None:
        self.log(self.ada, frame, "coat", bucket=self.bucket, preset="2+1 round edge", room_c="22", room_rh_pct="41")

    def set_up(self, job: store_jobs.Saved, place: int, press: str) -> int:
        """Opens a run and hangs its screens."""
        self.clock += timedelta(minutes=20)
        run = runs.open_run(
            self.db,
            self.bo,
            form({"job": job.code, "placement": place, "press": press}),
            post=self.post(),
            now=self.clock,
        )
        for asked in store_jobs.asked(self.db, job, place):
            for screen in store_screens.carrying(self.db, asked.separation):
                plan = run_plan.plan(self.db, run)
                if asked.number in plan.story.hung or screen.life.standing.value not in {"ready", "kept"}:
                    continue
                self.clock += timedelta(minutes=3)
                head = run_plan.free_head(plan, asked.number)
                sent = {"screen": screen.code, "head": head, "station": asked.number}
                hanging.hang(self.db, self.bo, run, form(sent), post=self.post(), now=self.clock)
        return run

    def run_step(self, who: Actor, run: int, step: str, **fields: Any) -> None:
        self.clock += timedelta(minutes=self.rng.randint(2, 9))
        runs.log(self.db, who, run, step, form(fields), post=self.post(), now=self.clock)

    def make_and_print(
        self, code: str, days: int, torn: bool = False, then: str = "strip", otherwise: Mapping[str, str] | None = None
    ) -> None:
        """A job of some weeks ago: made, printed, approved; its screens kept for the repeat, stripped, or put on the
        rack undecided (`then`), one torn; `otherwise`: settings that were not as the target."""
        job = find.job(self.db, code)
        self.at(days + 1)
        self.prepared((job, "check"))
        for place in range(1, len(job.sheet.placements) + 1):
            self.at(days, 2 * place)
            run = self.set_up(job, place, "Press 1")
            as_run = {"s1.off_contact": "2 mm", **self.white_of(job, place), **(otherwise or {})}
            self.run_step(self.bo, run, "sheet", **as_run)
            self.run_step(self.cy, run, "approve", approved_by="Cy Marsh", approved_as="press", how="shirt in hand")
            garments, spoiled = job.sheet.garments, self.rng.randint(0, 3)
            self.run_step(self.bo, run, "start", garment="1" if len(garments) > 1 else None)
            self.run_step(self.bo, run, "stop", cause="pinhole", minutes="6")
            for number, garment in enumerate(garments, 1):
                if number > 1:
                    self.next_garment(run, number)
                self.clock += timedelta(minutes=max(20, garment.pieces // 5))
                self.run_step(self.bo, run, "count", good=garment.pieces, misprinted=spoiled, cause="misregister")
                spoiled = 0
            hung = [hung.screen for hung in run_plan.plan(self.db, run).story.hung.values()]
            broken = self.screen_of(hung[-1]).code if torn else ""
            self.run_step(self.bo, run, "finish", then=then, **({f"condition.{broken}": "torn"} if torn else {}))
            if then == "keep":
                self.run_step(self.cy, run, "use-next-time")
            used = [one for one in store_screens.many(self.db, hung) if one.code != broken]
            self.log(self.ada, used, "clean")
            if torn:
                self.restretch(self.screen(broken))
            if then == "strip":
                fresh = [self.screen(one.code) for one in used]
                self.log(self.ada, fresh, "strip", remover_s="60")
                self.log(self.ada, [self.screen(one.code) for one in used], "rack", place="Rack 3")
                for one in used:
                    self.measure(self.screen(one.code))
            else:
                for one in used:
                    self.measure(self.screen(one.code))
                self.log(self.ada, used, "rack", place="Rack 2")

    def next_garment(self, run: int, number: int) -> None:
        """On to another garment: the white goes from the heads that print another ink on it, and where the shop wants
        that, a first print is approved again."""
        self.run_step(self.bo, run, "change", what="colourway", garment=str(number))
        plan = run_plan.plan(self.db, run)
        white = {
            station for station, inks in run_plan.inks_of(plan).items() if any(one.colour == "white" for one in inks)
        }
        off = {f"s{key}.bucket": "" for key, values in plan.story.settings.items()
               if values.get("bucket") and counted(key) not in white}  # fmt: skip
        if off:
            self.run_step(self.bo, run, "sheet", **off, why="other garment or lot")
        if run_plan.plan(self.db, run).to_approve:
            self.run_step(self.cy, run, "approve", approved_by="Cy Marsh", approved_as="press")

    def white_of(self, job: store_jobs.Saved, place: int) -> dict[str, str]:
        """The bucket that the white of a placement's plastisol was taken out of, once there is one."""
        if not self.white:
            return {}
        stations = job.sheet.placements[place - 1].printing
        white = [one.number for one in stations if one.colour == "white" and "plastisol" in (one.ink or "")]
        return {f"s{number}.bucket": self.white for number in white}

    def screen_of(self, number: int) -> Screen:
        found = store_screens.get(self.db, number)
        assert found is not None
        return found

    def restretch(self, frame: Screen) -> None:
        """New mesh of the same kind on a frame whose mesh tore."""
        mesh = frame.life.mesh
        assert mesh is not None
        sent = {
            "mesh_count_as_labelled": mesh.count_as_labelled,
            "thread_um": f"{mesh.thread_um:g}" if mesh.thread_um else "",
            "mesh_colour": mesh.colour,
            "frame": mesh.frame,
        }
        self.log(self.ada, frame, "stretch", **sent)
        self.measure(self.screen(frame.code))

    def this_week(self, waiting: Mapping[str, str]) -> None:
        """What stands about today: jobs that are printed, ready, half made, and one that no frame is free for; what
        goes wrong in any shop."""
        job = {name: find.job(self.db, code) for name, code in waiting.items()}
        self.at(2)
        self.prepared((job["race_day"], "check"))
        self.nothing_free("195/in", 55.0)
        for name in ("golden-kite", "harbour-lights-again"):
            self.prepared((job[name], "check"))
        self.prepared((job["night-market"], {"base white": "check", "orange": "check"}))
        self.prepared((job["quiet-mooring"], {"white": "check"}))
        self.coat(self.free("305/in", 34.0))
        self.at(0, -5)
        self.mix("discharge ink", "Clear base with 6 % activator", "C-0619", "unknown")
        run = self.set_up(job["golden-kite"], 1, "Press 2")
        self.run_step(self.bo, run, "sheet")
        self.run_step(self.cy, run, "approve", approved_by="Cy Marsh", approved_as="press", how="shirt in hand")
        self.run_step(self.bo, run, "start")
        self.run_step(self.bo, run, "count", good="24", misprinted="1", cause="ink")
        self.stock_take("Rack 3")
        self.at(0, -2.1)
        self.prepared(
            (job["night-market"], {"crimson": "washout", "teal": "expose"}),
            (job["quiet-mooring"], {"back white": "image"}),
            (job["taverna-tote"], "image"),
        )
        self.what_goes_wrong()
        self.clock = min(self.clock, self.now)

    def nothing_free(self, label: str, thread: float) -> None:
        """Every frame of a mesh that is left is out of use: slack, or at the stretcher's."""
        left = self.free_list(label, thread)
        self.log(self.ada, left[:1], "fault", kind="slack", then="restretch")
        self.log(self.ada, left[1:], "rack", place="Stretching service")

    def stock_take(self, name: str) -> None:
        """All that the log has at a place were seen there but one, which nobody finds."""
        place = find.place(self.db, name)
        there = [one.id for one in store_screens.at_place(self.db, place.id, 500)]
        stocktake.put_right(self.db, self.di, place, there[:-1], post=self.post(), now=self.clock)

    def what_goes_wrong(self) -> None:
        """A torn mesh, a frame at the stretching service, a corner that looks tired."""
        spare = [
            row
            for row in store_screens.inventory(self.db, store_screens.InventoryAsked(standing="bare"), limit=500)
            if row.minimum_n_per_cm
        ]
        if len(spare) > 4:
            one, two, three = (self.screen(row.code) for row in spare[-3:])
            self.log(self.ada, one, "fault", kind="torn", then="restretch")
            self.log(self.ada, two, "rack", place="Stretching service")
            self.log(self.ada, three, "note", note="Corner by the clamp looks tired; measure again next week.")


def of_the_back(sheet: Job, title: str, customer: str, art: str, reference: str) -> Job:
    """Another customer's order of the same shirts, printed on the back alone."""
    named = replace(sheet.art, name=art, revision="1", picture=f"{art.lower().replace(' ', '-')}.png")
    back = tuple(replace(one, art=named) for one in sheet.placements if one.name == "Full back")
    return replace(sheet, title=title, customer=customer, reference=reference, art=named, placements=back)


def _workday(day: date) -> date:
    """The day itself, or the Monday after a weekend."""
    return day + timedelta(days={5: 2, 6: 1}.get(day.weekday(), 0))


def people_shown() -> list[tuple[str, str, str]]:
    """Name, role and secret of the demo's people, for whoever starts it."""
    return [(name, role, secret) for name, (role, secret) in SECRETS.items()]
