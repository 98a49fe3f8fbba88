"""A shop that lives through a year by itself: seeded people who print, forget, mix things up and put them right.

Everything goes through `tickets.floor`, as the pages do. Beside it stands what really happened (`Frame`, `Order`,
`Run`, the book of posts), kept by the simulator's own simple rules and never read out of the program. `prove_day` and
`prove_month` hold the shop's file against it; what does not agree is collected in `faults`.
"""

from __future__ import annotations

import copy
import csv
import hashlib
import json
import random
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from tickets.floor import buckets, jobs, places, runs, screens, shop
from tickets.floor.posting import Asks, Worse, form
from tickets.records import job as sheets
from tickets.records import readings as readings_rules
from tickets.records.person import Actor
from tickets.records.refusal import NotAllowed, Refused
from tickets.store import entries, people
from tickets.store import jobs as store_jobs
from tickets.store import places as store_places
from tickets.store import runs as store_runs
from tickets.store import screens as store_screens
from tickets.store.settings import setting

ZONE = ZoneInfo("Europe/Warsaw")
MESHES = (("110/in", "80"), ("156/in", "64"), ("230/in", "48"), ("305/in", "34"))
PRESSES = ("Press 1", "Press 2", "Press 3")
RACKS = ("Rack 1", "Rack 2", "Rack 3", "Drying cabinet")
CUSTOMERS = ("Lantern Quay Rowing Circle", "Blue Door Bakery", "Hill Lane School", "Кафе «Тихий причал»", "Moth Choir")
MOTIFS = ("Heron", "Anchor", "Kite", "Lantern", "Moth", "Harbour", "Fern", "Comet")
COLOURS = ("white", "deep blue", "lamp yellow", "brick red")
TABLES = tuple(
    "standings counts carries tensions washouts meshes runs buckets stations stays stencils coats hangings upsets "
    "ink_lots cautions".split()
)

Key = tuple[str, str, str, int, str]
"""An image as the trade tells it apart: customer, art, revision, width in whole mm, name."""


# What really is ------------------------------------------------------------------------------------------------------


@dataclass
class Hanging:
    """One time on a press, on one head."""

    run: int
    station: int
    impressions: int = 0
    over: bool = False


@dataclass
class Frame:
    """A screen as it lies there. `said`: the stage that the log should give; it lags while somebody forgot a step.
    None: by the log nobody can tell."""

    number: int
    codes: list[str]
    mesh: tuple[str, str]
    stage: str = "bare"
    said: str | None = "bare"
    images: set[Key] = field(default_factory=set)
    fit: bool = False
    accepted: bool = False
    resistant: bool = True
    torn: bool = False
    decided: str = ""
    away_from: str = ""
    strips: int = 0
    strips_said: int = 0
    tension: float = 26.0
    hangings: list[Hanging] = field(default_factory=list)
    since: datetime | None = None
    busy: bool = False
    acts: int = 0

    @property
    def code(self) -> str:
        return self.codes[-1]

    @property
    def impressions(self) -> int:
        return sum(hanging.impressions for hanging in self.hangings)

    @property
    def uses(self) -> int:
        return sum(1 for hanging in self.hangings if hanging.over and hanging.impressions)

    @property
    def on(self) -> Hanging | None:
        """Where it hangs now."""
        return self.hangings[-1] if self.hangings and not self.hangings[-1].over else None


@dataclass(frozen=True)
class Line:
    """A line of the print order that prints."""

    station: int
    key: Key
    mesh: tuple[str, str]
    strokes: int
    ink: str


@dataclass
class Order:
    """A job. `data` as in a job file; `printed`: a run of it laid ink, so its sheet stands."""

    number: int
    code: str
    data: dict[str, Any]
    due: datetime
    repeats: int | None = None
    version: int = 1
    printed: bool = False
    begun: set[int] = field(default_factory=set)
    done: set[int] = field(default_factory=set)

    def lines(self, place: int, data: Mapping[str, Any] | None = None) -> list[Line]:
        """What a placement (from 1) prints, by print order."""
        data = data or self.data
        placement = data["placement"][place - 1]
        found = []
        for number, station in enumerate(placement["station"], 1):
            if station["does"] != "print":
                continue
            width = int(str(placement["width"]).split()[0])
            art = data["art"]
            key = (data["customer"], art["name"], art["revision"], width, station["separation"])
            mesh = (station["mesh"]["count"], station["mesh"]["thread"].split()[0])
            found.append(Line(number, key, mesh, station.get("strokes", 1), station["ink"]))
        return found

    @property
    def pieces(self) -> int:
        return int(self.data["garment"][0]["pieces"])


@dataclass
class Run:
    """A run as it went. `strokes` by print order; `marked`: use these next time."""

    number: int
    order: Order
    place: int
    press: str
    version: int
    lines: list[Line]
    hung: dict[int, Frame] = field(default_factory=dict)
    strokes: dict[int, int] = field(default_factory=dict)
    sheet_strokes: dict[int, int] | None = None
    good: int = 0
    misprinted: int = 0
    approved: bool = False
    marked: bool = False
    finished: bool = False
    passed: set[tuple[int, int]] = field(default_factory=set)


@dataclass
class Post:
    """What somebody sent: the step, on how many screens, what must be found in its entries; `answer` None: refused."""

    step: str
    number: int = 1
    values: Mapping[str, Any] = field(default_factory=dict)
    accepted: bool = False


@dataclass(frozen=True)
class Forgotten:
    """A step that was done and not logged; `acts`: how many steps of the frame were logged till then."""

    frame: Frame
    step: str
    at: datetime
    stage: str
    strips: int
    acts: int
    fields: Mapping[str, Any]


# The shop ------------------------------------------------------------------------------------------------------------


class SimulatedShop:
    """An invented shop; `live(days)` lets it go on. The same seed gives the same year."""

    def __init__(self, folder: Path, seed: int, *, frames: int = 300, placements_a_day: float = 6.2) -> None:
        self.rng = random.Random(seed)
        self.start = datetime(2026, 1, 5, 6, 0, tzinfo=UTC)
        self.now = self.start
        self.db = shop.open_shop(folder, self.now)
        self.raw = sqlite3.connect(f"file:{folder / 'shop.db'}?mode=ro", uri=True)
        self.folder = folder
        self.rate = placements_a_day
        self.posts = 0
        self.book: dict[str, Post] = {}
        self.frames: dict[int, Frame] = {}
        self.orders: dict[int, Order] = {}
        self.runs: dict[int, Run] = {}
        self.separations: dict[Key, int] = {}
        self.faults: list[str] = []
        self.seen = 0
        self.digests: list[tuple[int, str]] = []
        self.unproved: list[str] = []
        self.worn: Counter[int] = Counter()
        self.late: list[Forgotten] = []
        self.presses: dict[str, Iterator[None] | None] = dict.fromkeys(PRESSES)
        self.rushes: list[tuple[Order, int]] = []
        self.happened: Counter[str] = Counter()
        self.day = 0
        self.manager = shop.command_line(self.db, self.now)
        shop.set_up(self.db, self.manager, "zone", str(ZONE), now=self.now)
        names = {"Ada Holm": "screen room", "Eli Brandt": "screen room", "Bo Lind": "press", "Fay Moss": "press"}
        names |= {"Cy Marsh": "press lead", "Di Novak": "manager"}
        at = "2026-01-05T06:00:00.000000Z"
        acting = {name: Actor(people.add(self.db, name, role, None, at), name, role) for name, role in names.items()}
        self.room = [acting["Ada Holm"], acting["Eli Brandt"]]
        self.crew = [acting["Bo Lind"], acting["Fay Moss"]]
        self.lead, self.boss = acting["Cy Marsh"], acting["Di Novak"]
        for name in RACKS:
            self.post(
                "place",
                0,
                lambda post, more, n=name: places.add(self.db, self.boss, n, "rack", post=post, now=self.now),
            )
        self.post(
            "place",
            0,
            lambda post, more: places.add(
                self.db, self.boss, "Stretching service", "rack", outside=True, post=post, now=self.now
            ),
        )
        for name in PRESSES:
            self.post(
                "place",
                0,
                lambda post, more, n=name: places.add(
                    self.db, self.boss, n, "press", heads=10, post=post, now=self.now
                ),
            )
        self.post(
            "unit",
            0,
            lambda post, more: places.add_unit(self.db, self.boss, "Big lamp", "point", post=post, now=self.now),
        )
        self.buckets: list[tuple[str, bool]] = []
        self.inks: list[str] = []
        self.mix()
        for mesh in MESHES:
            self.register(mesh, frames // len(MESHES))

    # Small acts

    def chance(self, share: float) -> bool:
        return self.rng.random() < share

    def note(self, what: str) -> None:
        """Counts what happened, so that a test can say that it did."""
        self.happened[what] += 1

    def fault(self, text: str) -> None:
        if len(self.faults) < 200:
            self.faults.append(f"day {self.day}: {text}")

    def tick(self, minutes: float = 0.0) -> datetime:
        self.now += timedelta(
            minutes=minutes, seconds=self.rng.randint(2, 20), microseconds=self.rng.randint(0, 999999)
        )
        return self.now

    def post(
        self,
        step: str,
        number: int,
        call: Callable[[str, dict[str, Any]], Any],
        *,
        must: bool = True,
        values: Mapping[str, Any] | None = None,
    ) -> Any:
        """Sends something once, or twice as a phone does whose answer was lost. None: it was refused.

        `number`: how many entries of the step there must be; `must`: a refusal is a fault of the program.
        """
        self.posts += 1
        post = f"sim-{self.posts:016d}"
        self.tick()
        kept = Post(step, number, values or {})
        self.book[post] = kept
        self.unproved.append(post)
        more: dict[str, Any] = {}
        try:
            try:
                answer = call(post, more)
            except Asks:
                self.note("asked")
                more = {"in_hand": "yes"}
                answer = call(post, more)
        except Refused as refused:
            self.note("refused")
            if must:
                self.fault(f"{step} refused: {type(refused).__name__} {refused}")
            return None
        kept.accepted = True
        if self.chance(0.03):
            self.note("scanned twice")
            again = call(post, more)
            entries_then = getattr(answer, "entries", answer)
            if getattr(again, "entries", again) != entries_then and step != "hang":
                self.fault(f"{step} {post}: the second answer is another one")
        return answer

    def local(self, at: datetime) -> str:
        return at.astimezone(ZONE).replace(tzinfo=None).isoformat(timespec="seconds")

    # Frames and their steps

    def register(self, mesh: tuple[str, str], number: int) -> None:
        sent = {"mesh_count_as_labelled": mesh[0], "thread_um": mesh[1], "frame": "aluminium", "mesh_colour": "dyed"}
        made = self.post(
            "stretch",
            number,
            lambda post, more: screens.add(self.db, self.room[0], form(sent), post=post, now=self.now, number=number),
        )
        for code in made or ():
            screen = screens.find(self.db, code)
            self.frames[screen.id] = Frame(screen.id, [code], mesh, tension=self.rng.uniform(23.5, 27.5))

    def log(
        self,
        who: Actor,
        many: Frame | Sequence[Frame],
        step: str,
        *,
        forget: float = 0.0,
        stage: str = "",
        neutral: bool = False,
        at: datetime | None = None,
        **fields: Any,
    ) -> bool:
        """Does a step of one screen or many, and logs it unless it is forgotten. `stage`: what they are then."""
        frames = [many] if isinstance(many, Frame) else list(many)
        if not frames:
            return False
        self.tick()
        for frame in frames:
            if stage:
                frame.stage, frame.since = stage, self.now
        if forget and self.chance(forget):
            self.note(f"forgot {step}")
            if self.chance(0.4):
                self.late += [Forgotten(one, step, self.now, one.stage, one.strips, one.acts, fields) for one in frames]
            return False
        found = [self.find(frame) for frame in frames]
        sent = {**fields, **({"at": self.local(at)} if at else {})}
        values = {name: fields[name] for name in ("result", "note", "then", "purpose") if name in fields}
        done = self.post(
            step,
            len(frames),
            lambda post, more: screens.log_many(
                self.db, who, found, step, form({**sent, **more}), post=post, now=self.now
            ),
            values=values,
        )
        if done is None:
            return False
        for frame in frames:
            if not neutral:
                frame.said, frame.strips_said = frame.stage, frame.strips
                frame.acts += 1
        return True

    def find(self, frame: Frame) -> store_screens.Screen:
        """By its code; now and then by one that was replaced."""
        code = frame.codes[0] if self.chance(0.2) else frame.code
        screen = screens.find(self.db, code.lower() if self.chance(0.1) else code)
        if screen.id != frame.number:
            self.fault(f"code {code} leads to screen {screen.id}, not {frame.number}")
        return screen

    def type_late(self) -> None:
        """In the evening some type in what they forgot, with the time when they did it."""
        for one in self.late:
            frame = one.frame
            if frame.stage in {"retired", "away"}:
                continue
            if self.log(self.room[1], frame, one.step, neutral=True, at=one.at, **one.fields):
                self.note("typed late")
                if frame.acts == one.acts:  # nothing was logged of it since
                    frame.said, frame.strips_said = one.stage, one.strips
        self.late = []

    def measure(self, frame: Frame) -> None:
        values = [frame.tension + self.rng.uniform(-1.2, 1.2) for _unused in range(self.rng.choice((1, 5, 9)))]
        self.log(
            self.room[0],
            frame,
            "tension",
            neutral=True,
            readings_n_per_cm=" ".join(f"{round(2 * value) / 2:g}" for value in values),
        )

    def mix(self) -> None:
        resistant = not self.buckets or self.chance(0.8)
        sent = {
            "kind": "dual-cure emulsion",
            "product": "Aqua-fast 2",
            "lot": str(len(self.buckets)),
            "water_resistant": "yes" if resistant else "no",
        }
        code = self.post(
            "mix",
            1,
            lambda post, more: buckets.mix(self.db, self.room[0], form(sent), post=post, now=self.now),
            values={"lot": sent["lot"]},
        )
        if code:
            self.buckets.append((code, resistant))
            self.bucket_step(code, "use")
        if len(self.buckets) > 6:
            self.bucket_step(self.buckets.pop(0)[0], "discard", why="too old")

    def bucket_step(self, code: str, step: str, **fields: Any) -> None:
        self.post(
            step,
            1,
            lambda post, more: buckets.log(
                self.db, self.room[0], buckets.find(self.db, code), step, form(fields), post=post, now=self.now
            ),
        )

    # Making screens

    def carrying(self, key: Key) -> list[Frame]:
        """The frames that carry an image and could hang, or will soon."""
        return [
            one
            for one in self.frames.values()
            if key in one.images
            and one.fit
            and not one.torn
            and one.stage in {"ready", "kept", "to clean", "on press", "to check"}
        ]

    def free(self, mesh: tuple[str, str]) -> Frame | None:
        wanted = {"bare", "stripped"}
        fitting = [
            one
            for one in self.frames.values()
            if one.mesh == mesh and one.stage in wanted and not one.torn and not one.busy
        ]
        return min(fitting, key=lambda one: (one.uses, one.number)) if fitting else None

    def separation(self, order: Order, place: int, station: int) -> int:
        saved = store_jobs.get(self.db, order.number)
        assert saved is not None
        return next(one.separation for one in store_jobs.asked(self.db, saved, place) if one.number == station)

    def make_screens(self) -> None:
        """The screen room's morning: whatever the coming days need and nobody carries yet."""
        wanted: list[tuple[Order, int, Line]] = []
        keys: set[Key] = set()
        soon = self.now + timedelta(days=3)
        for order in sorted(self.orders.values(), key=lambda one: (one.due, one.number)):
            if order.due > soon or len(order.done) == len(order.data["placement"]):
                continue
            for place in range(1, len(order.data["placement"]) + 1):
                if place in order.done:
                    continue
                for line in order.lines(place):
                    if line.key not in keys and not self.carrying(line.key):
                        keys.add(line.key)
                        wanted.append((order, place, line))
                        if self.chance(0.06):  # a spare, should it break down
                            wanted.append((order, place, line))
        chosen: list[tuple[Frame, Order, int, Line]] = []
        for order, place, line in wanted[:40]:
            mesh = line.mesh
            if self.chance(0.02):
                mesh = self.rng.choice(MESHES)
            frame = self.free(mesh)
            if frame is not None:
                frame.busy = True
                chosen.append((frame, order, place, line))
        if not chosen:
            return
        frames = [one[0] for one in chosen]
        for frame in frames:
            if frame.uses and self.chance(0.15):
                self.measure(frame)
        who = self.rng.choice(self.room)
        self.log(who, frames, "degrease", stage="degreased", forget=0.05)
        self.tick(20)
        old = self.chance(0.15)
        code, resistant = self.buckets[0] if old else self.buckets[-1]
        if old:
            self.note("old bucket")
        for frame in frames:
            frame.resistant, frame.images, frame.fit, frame.accepted, frame.decided = resistant, set(), False, False, ""
        self.log(who, frames, "coat", stage="coated", forget=0.02, bucket=code, preset="2+1 round edge")
        self.log(who, frames, "rack", neutral=True, place="Drying cabinet", forget=0.2)
        self.tick(80)
        for frame, order, place, line in chosen:
            self.image(frame, order, place, line)
        self.tick(60)
        for frame in frames:
            self.wash_and_check(frame)
        for frame in frames:
            frame.busy = False
        self.log(who, [one for one in frames if one.stage == "ready"], "rack", neutral=True, place="Rack 1")

    def image(self, frame: Frame, order: Order, place: int, line: Line) -> None:
        who = self.rng.choice(self.room)
        number = self.separation(order, place, line.station)
        known = self.separations.setdefault(line.key, number)
        if known != number:
            self.fault(f"{line.key} was separation {known}, is {number}")
        frame.images = {line.key}
        more: dict[str, Any] = {}
        if frame.mesh != line.mesh and self.chance(0.7):
            frame.accepted = True
            more["accept"] = "the wanted mesh is all in use"
        if self.chance(0.03) and not more:  # named at the light only
            frame.stage = "imaged"
            self.note("image with the exposure")
            self.log(
                who, frame, "expose", stage="exposed", separations=number, exposure_s="80", exposure_unit="Big lamp"
            )
            return
        if self.chance(0.02) and len(self.separations) > 3 and not more:
            self.wrong_image(who, frame, number)
        elif not self.log(who, frame, "image", stage="imaged", separations=number, means="film", **more):
            return
        self.log(
            who,
            frame,
            "expose",
            stage="exposed",
            forget=0.02,
            exposure_s=str(self.rng.choice((75, 80, 85))),
            exposure_unit="Big lamp",
        )

    def wrong_image(self, who: Actor, frame: Frame, number: int) -> None:
        """The wrong image is noted, crossed out the same day, and the right one typed in with its time."""
        wrong = self.rng.choice([one for one in self.separations.values() if one != number])
        frame.stage = "imaged"
        at = self.now
        done = self.post(
            "image",
            1,
            lambda post, more: screens.log(
                self.db, who, self.find(frame), "image", form({"separations": wrong, **more}), post=post, now=self.now
            ),
        )
        if done is None:
            return
        for entry in done.entries:
            self.cross_out(who, entry)
        self.log(who, frame, "image", at=at.replace(microsecond=0) + timedelta(seconds=1), separations=number)

    def cross_out(self, who: Actor, entry: str, must: bool = True, number: int = 1) -> bool:
        done = self.post(
            "cross-out",
            number,
            lambda post, more: screens.cross_out(
                self.db, who, form({"crosses": entry, "why": "a slip"}), post=post, now=self.now
            ),
            must=must,
        )
        if done is not None:
            self.note("crossed out")
        return done is not None

    def wash_and_check(self, frame: Frame) -> None:
        who = self.rng.choice(self.room)
        if frame.stage != "exposed":
            return
        fate = self.rng.random()
        if fate < 0.02:
            self.log(who, frame, "washout", stage="to strip", result="fault", fault="soft")
            self.note("failed washout")
            return
        if fate < 0.05:
            self.log(who, frame, "washout", stage="to check", result="fault", fault="pinholes")
        else:
            held = {"step_held": "7"} if self.chance(0.3) else {}
            self.log(who, frame, "washout", stage="to check", forget=0.01, result="good", **held)
        frame.fit = True
        self.log(who, frame, "check", stage="ready", forget=0.08, result="good")

    def look_after(self) -> None:
        """What came off the presses is cleaned, kept or stripped; what is torn is sent away; and so on."""
        who = self.rng.choice(self.room)
        dirty = [one for one in self.frames.values() if one.stage == "to clean"]
        for frame in dirty:
            frame.stage = "to strip" if frame.decided == "strip" else "kept"
            self.log(who, frame, "clean", stage=frame.stage, forget=0.1)
        old = self.now - timedelta(days=25)
        wanted = {
            line.key
            for order in self.orders.values()
            if len(order.done) < len(order.data["placement"])
            for place in range(1, len(order.data["placement"]) + 1)
            for line in order.lines(place)
        }
        for frame in self.frames.values():
            if frame.stage == "kept" and frame.since and frame.since < old and not frame.images & wanted:
                frame.decided = "strip"
                # by the log it is still to be cleaned, so it goes on being that
                self.log(who, frame, "decide", stage="to strip", then="strip", neutral=frame.said == "to clean")
            elif frame.stage == "kept" and frame.said == "kept" and frame.decided == "" and self.chance(0.1):
                frame.decided = "keep"
                self.log(who, frame, "decide", stage="kept", then="keep")
        # what carries an image that nobody will want (another revision came) goes too
        for frame in self.frames.values():
            if frame.stage in {"ready", "to check"} and frame.since and frame.since < old and not frame.images & wanted:
                frame.decided = "strip"
                self.log(who, frame, "decide", stage="to strip", then="strip")
        for frame in [one for one in self.frames.values() if one.stage == "to strip"]:
            if frame.torn:
                continue
            frame.strips += 1
            frame.images, frame.fit, frame.decided = set(), False, ""
            self.log(who, frame, "strip", stage="stripped", forget=0.03, remover_s="60")
            if self.chance(0.1):
                self.log(who, frame, "haze", stage="stripped")
        for frame in [one for one in self.frames.values() if one.stage == "to restretch"]:
            if self.chance(0.5):
                frame.away_from = frame.stage
                self.note("sent away")
                self.log(who, frame, "rack", stage="away", place="Stretching service")
            elif self.chance(0.1):
                self.note("retired")
                self.log(who, frame, "retire", stage="retired", cause="torn")
                self.register(frame.mesh, 1)
            else:
                self.restretch(frame)
        for frame in [one for one in self.frames.values() if one.stage == "away" and self.chance(0.25)]:
            self.log(who, frame, "rack", stage=frame.away_from, place="Rack 2")
            self.restretch(frame)
        idle = [one for one in self.frames.values() if one.stage in {"stripped", "bare"}]
        for frame in self.rng.sample(idle, min(2, len(idle))):
            if frame.uses > 20 and frame.tension < 19:
                self.restretch(frame)
            elif self.chance(0.3):
                self.measure(frame)
            if self.chance(0.1):
                self.retag(frame)
            if self.chance(0.1):
                self.log(who, frame, "note", neutral=True, note="Corner looks tired.")
            if self.chance(0.2):
                self.wrong_frame(who, frame)

    def restretch(self, frame: Frame) -> None:
        self.note("restretched")
        for hanging in frame.hangings:
            self.worn[hanging.run] += hanging.impressions
        frame.images, frame.fit, frame.torn, frame.strips, frame.hangings, frame.decided = (
            set(),
            False,
            False,
            0,
            [],
            "",
        )
        frame.tension = self.rng.uniform(23.5, 27.5)
        self.log(
            self.room[0],
            frame,
            "stretch",
            stage="bare",
            mesh_count_as_labelled=frame.mesh[0],
            thread_um=frame.mesh[1],
            frame="aluminium",
        )
        self.measure(frame)

    def retag(self, frame: Frame) -> None:
        self.note("retagged")
        if self.log(self.room[0], frame, "retag", neutral=True):
            frame.codes.append(str(screens.find(self.db, frame.code).code))

    def wrong_frame(self, who: Actor, frame: Frame) -> None:
        """The neighbour on the rack was scanned; it is crossed out, all parts of it."""
        before = frame.said
        step = self.rng.choice(("degrease", "washout", "strip"))
        sent = {"result": "good"} if step == "washout" else {}
        done = self.post(
            step,
            1,
            lambda post, more: screens.log(
                self.db, who, self.find(frame), step, form({**sent, **more}), post=post, now=self.now
            ),
        )
        if done is not None:
            for entry in done.entries:
                self.cross_out(who, entry)
            frame.said = before

    # Orders

    def new_order(self, rush_of: Order | None = None) -> Order | None:
        """A new job, or a repeat of an earlier one, sometimes with something changed."""
        earlier = [one for one in self.orders.values() if one.printed and len(one.done) == len(one.data["placement"])]
        due = self.now + timedelta(days=self.rng.randint(2, 5))
        if rush_of is not None or (earlier and self.chance(0.4)):
            origin = rush_of or self.rng.choice(earlier[-150:])
            data = copy.deepcopy(origin.data)
            data["repeats"] = origin.code
            data["garment"][0]["pieces"] = self.rng.randint(12, 200)
            if rush_of is None and self.chance(0.1):
                data["art"]["revision"] = str(int(data["art"]["revision"]) + 1)
            repeats: int | None = origin.number
            self.note("repeat")
        else:
            data, repeats = self.new_data(), None
        data["due"], data["reference"] = due.date().isoformat(), f"R-{len(self.orders) + 1}"
        made = self.post(
            "jobs", 0, lambda post, more: jobs.add(self.db, self.boss, [sheets.read(data)], post=post, now=self.now)
        )
        if not made:
            return None
        saved = jobs.find(self.db, made[0])
        order = self.orders[saved.id] = Order(saved.id, made[0], data, due, repeats)
        if saved.repeats != repeats:
            self.fault(f"job {order.number} repeats {saved.repeats}, not {repeats}")
        return order

    def new_data(self) -> dict[str, Any]:
        motif = f"{self.rng.choice(MOTIFS)} {self.rng.randint(1, 400)}"
        placements = []
        for name, width in self.rng.sample(
            (("Full front", "300 mm"), ("Left chest", "90 mm"), ("Back", "280 mm")), self.rng.choice((1, 1, 2))
        ):
            ink = self.rng.choice(("plastisol",) * 8 + ("discharge", "water-base"))
            lines: list[dict[str, Any]] = []
            for place, colour in enumerate(self.rng.sample(COLOURS, self.rng.choice((1, 2, 2, 3)))):
                mesh = self.rng.choice(MESHES)
                lines.append(
                    {
                        "does": "print",
                        "separation": f"{name} {colour}",
                        "colour": colour,
                        "ink": ink,
                        "mesh": {"count": mesh[0], "thread": f"{mesh[1]} um"},
                        "strokes": self.rng.choice((1, 1, 1, 2)),
                    }
                )
                if place == 0:
                    lines.append({"does": "flash", "time": "6 s"})
            placements.append({"name": name, "width": width, "station": lines})
        return {
            "title": f"{motif} shirts",
            "customer": self.rng.choice(CUSTOMERS),
            "art": {"name": motif, "revision": "1"},
            "garment": [
                {"style": "Heavy tee", "colour": "black", "pieces": self.rng.randint(12, 300), "fibre": {"cotton": 100}}
            ],
            "placement": placements,
        }

    def change_order(self, order: Order) -> bool:
        """The customer thinks again: pieces, or another revision of the art; one that is printed stays as it is."""
        data = copy.deepcopy(order.data)
        if self.chance(0.3) and not order.begun:
            data["art"]["revision"] = str(int(data["art"]["revision"]) + 1)
            self.note("new revision")
        else:
            data["garment"][0]["pieces"] = order.pieces + 5
        return self.change_to(order, data)

    def change_to(self, order: Order, data: dict[str, Any]) -> bool:
        saved = jobs.find(self.db, order.code)
        done = self.post(
            "change job",
            0,
            lambda post, more: jobs.change(self.db, self.boss, saved, sheets.read(data), post=post, now=self.now),
            must=not order.printed,
        )
        if done is None:
            return False
        if order.printed:
            self.fault(f"job {order.number} was changed although it is printed")
        if done != order.version + 1:
            self.fault(f"job {order.number} is at version {done} after {order.version}")
        order.version, order.data = done, data
        self.note("job changed")
        return True

    # Printing

    def press_day(self, name: str) -> Iterator[None]:
        """A press: one run after the other, a small step at a time, so that the presses go on beside each other."""
        while True:
            task = self.next_task()
            if task is None:
                yield
                continue
            order, place = task
            order.begun.add(place)
            yield from self.print_it(name, order, place)

    def next_task(self) -> tuple[Order, int] | None:
        if self.rushes:
            return self.rushes.pop(0)
        soon = self.now + timedelta(days=2)
        for order in sorted(self.orders.values(), key=lambda one: (one.due, one.number)):
            if order.due > soon:
                break
            for place in range(1, len(order.data["placement"]) + 1):
                if place in order.begun or place in order.done:
                    continue
                if all(self.right_frame(line) for line in order.lines(place)):
                    return order, place
        return None

    def right_frame(self, line: Line, not_this: Frame | None = None) -> Frame | None:
        fitting = [
            one for one in self.carrying(line.key) if one.stage != "on press" and one is not not_this and not one.busy
        ]
        return min(fitting, key=lambda one: (one.stage not in {"ready", "kept"}, one.number)) if fitting else None

    def open(self, press: str, order: Order, place: int, who: Actor) -> Run | None:
        sent = {"job": order.code, "placement": place, "press": press}
        number = self.post(
            "open", 1, lambda post, more: runs.open_run(self.db, who, form(sent), post=post, now=self.now)
        )
        if number is None:
            return None
        if number in self.runs:
            self.fault(f"run {number} was opened twice")
        run = self.runs[number] = Run(number, order, place, press, order.version, order.lines(place))
        run.strokes = {line.station: line.strokes for line in run.lines}
        if self.chance(0.1):  # the other phone opens it too: the same run
            same = self.post(
                "open", 0, lambda post, more: runs.open_run(self.db, self.lead, form(sent), post=post, now=self.now)
            )
            if same != number:
                self.fault(f"a second phone got run {same}, not {number}")
        self.prove_target(run)
        return run

    def target_of(self, run: Run) -> Run | None:
        """The run whose settings were marked for next time: of this job, else of the nearest one that it repeats."""
        order: Order | None = run.order
        name = run.order.data["placement"][run.place - 1]["name"]
        while order is not None:
            marked = [
                one
                for one in self.runs.values()
                if one.order is order
                and one.marked
                and one is not run
                and order.data["placement"][one.place - 1]["name"] == name
            ]
            if marked:
                return max(marked, key=lambda one: one.number)
            order = self.orders.get(order.repeats) if order.repeats else None
        return None

    def prove_target(self, run: Run) -> None:
        """Every repeat names the approved run that it goes by, where somebody marked one; else the job sheet."""
        marked = self.target_of(run)
        wanted = f"approved run {marked.number}" if marked else "job sheet"
        source = runs.target(self.db, runs.plan(self.db, run.number))[1]
        if source != wanted:
            self.fault(f"run {run.number} goes by “{source}”, not by “{wanted}”")
        if marked:
            self.note("repeat by its approved run")

    def is_right(self, frame: Frame, line: Line) -> bool:
        """Whether a frame may print a line without anybody going past anything."""
        wet = line.ink in {"discharge", "water-base"}
        return (
            line.key in frame.images
            and frame.fit
            and not frame.torn
            and frame.stage in {"ready", "kept"}
            and (frame.mesh == line.mesh or frame.accepted)
            and (frame.resistant or not wet)
        )

    def hang(self, run: Run, frame: Frame, line: Line, who: Actor, *, wrong: bool = False) -> bool:
        """Scans and hangs a frame; somebody who may goes past a stop, with a reason. False: it was refused."""
        right = self.is_right(frame, line) if frame.stage != "on press" else None
        on_press = frame.stage == "on press"
        head = runs.free_head(runs.plan(self.db, run.number), line.station)
        sent: dict[str, Any] = {"screen": frame.code, "station": line.station, "head": head}
        last: list[Actor] = [who]

        def call(post: str, more: dict[str, Any]) -> Any:
            for _tries in range(4):
                try:
                    return runs.hang(self.db, last[0], run.number, form(sent), post=post, now=self.now)
                except Worse as worse:
                    if worse.faults[0].where == "in_hand" and on_press:
                        sent["in_hand"] = "yes"
                    elif wrong and self.chance(0.85):
                        raise
                    else:
                        sent["override"] = "printed before, it holds"
                except NotAllowed:
                    if wrong and self.chance(0.5):
                        raise
                    last[0] = self.lead
            raise Refused("four tries were not enough")

        found = self.post("hang", 1, call, must=not wrong)
        if found is None:
            self.note("wrong screen refused" if wrong else "right screen refused")
            return False
        level = str(found.verdict.level)
        if level in {"stop", "unknown"}:
            run.passed.add((frame.number, last[0].id))
            self.note("gone past")
        elif right is False:
            self.fault(f"run {run.number}: screen {frame.number} hung as {level} though it is wrong")
        if frame.on is not None:  # taken from another run without a word
            self.note("taken from another run")
            other = self.runs[frame.on.run]
            other.hung.pop(frame.on.station, None)
            frame.on.over = True
        frame.hangings.append(Hanging(run.number, line.station))
        frame.stage, frame.said, frame.since, frame.decided = "on press", "on press", self.now, ""
        frame.strips_said = frame.strips
        frame.acts += 1
        run.hung[line.station] = frame
        return True

    def step(self, run: Run, who: Actor, step: str, must: bool = True, number: int = 1, **fields: Any) -> bool:
        values = {name: fields[name] for name in ("good", "cause", "note", "approved_by") if name in fields}
        if step in {"count", "finish"} and self.chance(0.08):  # typed in later, with the time when it was
            self.note("a run's step dated back")
            fields["at"] = self.local(self.now - timedelta(minutes=self.rng.randint(1, 90)))
        if step in {"finish", "pause"}:
            values = {}
        done = self.post(
            step,
            number,
            lambda post, more: runs.log(
                self.db, who, run.number, step, form({**fields, **more}), post=post, now=self.now
            ),
            must=must,
            values=values,
        )
        return done is not None

    def print_it(self, press: str, order: Order, place: int) -> Iterator[None]:
        """One run from its opening to its end."""
        who = self.rng.choice(self.crew)
        run = self.open(press, order, place, who)
        if run is None:
            return
        if self.chance(0.04) and not order.printed:
            self.change_order(order)
            self.prove_changed(run)
        yield
        yield from self.hang_all(run, who)
        if len(run.hung) < len(run.lines):
            yield from self.give_up(run, who)
            return
        if self.chance(0.02) and not order.printed and len(run.lines) > 1:
            yield from self.station_gone(run, who)
            return
        self.set_up(run, who)
        yield
        if len(run.hung) < len(run.lines):
            yield from self.give_up(run, who)
            return
        if self.chance(0.95):
            run.approved = self.step(run, self.lead, "approve", approved_by="Cy Marsh", approved_as="press")
        self.step(run, who, "start")
        yield from self.print_pieces(run, who)

    def hang_all(self, run: Run, who: Actor) -> Iterator[None]:
        for line in run.lines:
            if line.station in run.hung:
                continue
            if self.chance(0.05):
                self.try_wrong(run, line, who)
            if line.station in run.hung:  # a wrong one hangs, somebody went past it
                continue
            frame = self.right_frame(line)
            if frame is None:  # a rush job takes it where it hangs
                frame = next((one for one in self.carrying(line.key) if one.on and one.on.run != run.number), None)
                if frame is None or not self.chance(0.8):
                    continue
            self.hang(run, frame, line, who)
            if self.chance(0.2):
                yield

    def try_wrong(self, run: Run, line: Line, who: Actor) -> None:
        keys = {one.key for one in run.lines}
        wrong = [
            one
            for one in self.frames.values()
            if not one.images & keys
            and one.stage != "on press"
            and not one.busy
            and one.stage not in {"away", "retired", "to restretch"}
            and one.strips == one.strips_said  # an unnoted stripping of a screen that then hangs: nobody could tell
        ]
        frame = self.rng.choice(wrong)
        if self.hang(run, frame, line, who, wrong=True):
            self.note("wrong screen hung")
            frame.fit = False

    def give_up(self, run: Run, who: Actor) -> Iterator[None]:
        """Not all screens are there: start is refused, the run ends with nothing printed and comes again later."""
        if self.step(run, who, "start", must=False):
            self.fault(f"run {run.number} started with a screen missing")
        yield
        if self.finish(run, who, "undecided"):
            run.order.begun.discard(run.place)
        self.note("gave up")

    def station_gone(self, run: Run, who: Actor) -> Iterator[None]:
        """A station is taken out of the job while its screen hangs: the run stays as it was opened, and ends."""
        data = copy.deepcopy(run.order.data)
        stations = data["placement"][run.place - 1]["station"]
        last = max(number for number, one in enumerate(stations) if one["does"] == "print")
        del stations[last]
        self.note("station taken out")
        if self.change_to(run.order, data):
            self.prove_changed(run)
        yield
        if self.finish(run, who, "undecided"):
            run.order.begun.discard(run.place)

    def prove_changed(self, run: Run) -> None:
        plan = runs.plan(self.db, run.number)
        if plan.changed_since != (run.version != run.order.version):
            self.fault(f"run {run.number} does not say that its job was changed")
        if [one.number for one in plan.asked] != [line.station for line in run.lines]:
            self.fault(f"run {run.number} lost or won stations by a change of its job")

    def set_up(self, run: Run, who: Actor) -> None:
        """The set-up sheet, prefilled with the target; now and then a station gets another number of strokes."""
        if self.chance(0.05):
            return
        marked = self.target_of(run)
        strokes = {line.station: line.strokes for line in run.lines}
        if marked is not None and marked.sheet_strokes is not None:
            strokes |= {number: count for number, count in marked.sheet_strokes.items() if number in strokes}
        sent: dict[str, Any] = {"s1.squeegee": "70", "run.adhesive": "sparingly"}
        if self.chance(0.1):
            line = self.rng.choice(run.lines)
            strokes[line.station] = 3
            sent[f"s{line.station}.strokes"] = "3"
        if any(line.ink == "discharge" for line in run.lines):
            if not self.inks or self.chance(0.6):
                code = self.post(
                    "mix",
                    1,
                    lambda post, more: buckets.mix(
                        self.db, who, form({"kind": "discharge ink"}), post=post, now=self.now
                    ),
                )
                if code:
                    self.inks.append(code)
            sent["s1.bucket"] = self.inks[-1]

        def call(post: str, more: dict[str, Any]) -> Any:
            try:
                runs.save_sheet(self.db, who, run.number, form(sent), post=post, now=self.now)
            except (Worse, NotAllowed):
                self.note("old ink gone past")
                more = {**sent, "override": "the last shirts only"}
                runs.save_sheet(self.db, self.lead, run.number, form(more), post=post, now=self.now)
            return True

        if self.post("sheet", 1, call):
            run.strokes, run.sheet_strokes = strokes, dict(strokes)

    def print_pieces(self, run: Run, who: Actor) -> Iterator[None]:
        left = run.order.pieces
        while left > 0:
            yield
            self.tick(5)
            if len(run.hung) < len(run.lines):  # somebody took a screen away meanwhile
                yield from self.short(run, who, left)
                return
            part = min(left, self.rng.randint(20, 150))
            if self.chance(0.15):
                self.step(run, who, "stop", cause="pinhole", minutes="4")
            if self.chance(0.03):
                self.step(run, who, "change", what="pressure", why="too thin")
            spoiled = min(self.rng.randint(0, 2), part)
            if left > part or self.chance(0.6):
                self.count(run, who, part - spoiled, spoiled)
                left -= part
            else:
                break
            if left > 0 and self.chance(0.4):
                self.swap(run, who)
            if left > 0 and self.chance(0.07):
                yield from self.pause(run, who)
                if len(run.hung) < len(run.lines):
                    yield from self.short(run, who, left)
                    return
            if left > 0 and self.chance(0.03) and not self.rushes:
                self.rush(run)
        pieces = {"good": left, "misprinted": 1} if left > 0 else {}
        then = self.rng.choice(("keep", "strip", "strip", "undecided"))
        if self.finish(run, who, then, **pieces):
            run.order.done.add(run.place)
            if run.approved and self.chance(0.6):
                done = self.post(
                    "use-next-time",
                    1,
                    lambda post, more: runs.log(
                        self.db, self.lead, run.number, "use-next-time", form({}), post=post, now=self.now
                    ),
                )
                run.marked = done is not None
                if done and self.chance(0.05):  # the manager thinks otherwise, another day too
                    self.note("mark crossed out")
                    run.marked = not self.cross_out(self.boss, done[0])
            elif not run.approved:
                if self.step(run, self.lead, "use-next-time", must=False):
                    self.fault(f"run {run.number} became the target without an approval")

    def count(self, run: Run, who: Actor, good: int, spoiled: int) -> None:
        sent = {"good": good, "misprinted": spoiled, **({"cause": "ink"} if spoiled else {})}
        if self.chance(0.02):  # a slip of the finger: crossed out and typed again
            self.note("count crossed out")
            done = self.post(
                "count",
                1,
                lambda post, more: runs.log(
                    self.db, who, run.number, "count", form({"good": good * 10}), post=post, now=self.now
                ),
            )
            if done:
                self.cross_out(who, done[0], number=1 + len(run.lines))  # the strokes on the screens go with it
        if self.step(run, who, "count", **sent):
            self.printed(run, good, spoiled)

    def printed(self, run: Run, good: int, spoiled: int, also: Mapping[int, Hanging] | None = None) -> None:
        """What a count comes to: pieces of the run, strokes on each screen."""
        run.good += good
        run.misprinted += spoiled
        run.order.printed = True
        on = {number: frame.hangings[-1] for number, frame in run.hung.items()}
        for number, hanging in {**(also or {}), **on}.items():
            hanging.impressions += (good + spoiled) * run.strokes[number]
        for frame in run.hung.values():
            frame.tension -= 0.02

    def swap(self, run: Run, who: Actor) -> None:
        """A screen breaks down: a spare goes on its head, checked as at set-up."""
        spares = [(line, spare) for line in run.lines if (spare := self.right_frame(line, run.hung[line.station]))]
        if not spares or not self.is_right(spares[0][1], spares[0][0]):
            return
        line, new = spares[0]
        old = run.hung[line.station]
        sent = {"old": old.code, "new": new.code, "why": "pinholes", "condition": "pinholes", "override": "it holds"}
        if not self.step(run, self.lead, "swap", **sent):
            return
        self.note("swapped")
        self.off(run, old, "undecided")
        run.passed.add((new.number, self.lead.id))
        new.hangings.append(Hanging(run.number, line.station))
        new.stage = new.said = "on press"
        new.decided, new.strips_said, new.since = "", new.strips, self.now
        new.acts += 1
        run.hung[line.station] = new

    def off(self, run: Run, frame: Frame, then: str, torn: bool = False) -> None:
        """A screen comes off, noted."""
        assert frame.on is not None
        run.hung.pop(frame.on.station)
        frame.on.over = True
        frame.decided = "" if then == "undecided" else then
        frame.torn = frame.torn or torn
        frame.stage = "to restretch" if frame.torn else "kept" if then == "keep" else "to clean"
        frame.said, frame.since = frame.stage, self.now
        frame.acts += 1

    def pause(self, run: Run, who: Actor) -> Iterator[None]:
        """The screens come off, something else prints, then they hang again with their check repeated."""
        if not self.step(run, who, "pause"):
            return
        self.note("paused")
        was = dict(run.hung)
        for frame in was.values():
            self.off(run, frame, "keep")
        if self.chance(0.5):
            self.rush(run)
        for _steps in range(self.rng.randint(1, 30)):
            yield
        for line in run.lines:
            frame = was[line.station]
            if frame.stage == "kept" and line.key in frame.images:
                self.hang(run, frame, line, who)
            elif other := self.right_frame(line):
                self.hang(run, other, line, who)
        if len(run.hung) == len(run.lines):
            self.step(run, who, "start")

    def rush(self, run: Run) -> None:
        """The same design is wanted elsewhere at once."""
        order = self.new_order(rush_of=run.order)
        if order is not None:
            self.note("rush job")
            order.begun = set(range(1, len(order.data["placement"]) + 1))
            order.done = order.begun - {run.place}
            self.rushes.append((order, run.place))

    def short(self, run: Run, who: Actor, left: int) -> Iterator[None]:
        """A screen is gone: what was printed till then is counted with the finish, the rest is another day's."""
        self.note("ran short")
        yield
        missing = [line for line in run.lines if line.station not in run.hung]
        also: dict[int, Hanging] = {}
        for line in missing:
            past = [
                one
                for frame in self.frames.values()
                for one in frame.hangings
                if one.run == run.number and one.station == line.station
            ]
            if past:
                also[line.station] = past[-1]
        if self.step(run, who, "count", must=False, good=1):
            self.fault(f"run {run.number} counted though a screen is missing")
        good = min(left, 10)
        gone = {line.station for line in missing} - set(also)
        if self.finish(run, who, "keep", also=also, good=good) and not gone:
            self.note("counted with a screen gone")
        run.order.done.add(run.place)

    def finish(self, run: Run, who: Actor, then: str, also: Mapping[int, Hanging] | None = None, **pieces: Any) -> bool:
        """The end: all keep, all strip, or pick; now and then a mesh is torn by then. A second phone is too late."""
        sent: dict[str, Any] = {"then": then, **pieces}
        own: dict[int, str] = {}
        torn: set[int] = set()
        for frame in run.hung.values():
            if self.chance(0.15):
                own[frame.number] = self.rng.choice(("keep", "strip"))
                sent[f"then.{frame.code}"] = own[frame.number]
            if self.chance(0.008):
                torn.add(frame.number)
                self.note("torn")
                sent[f"condition.{frame.code}"] = "torn"
        if not self.step(run, who, "finish", **sent):
            return False
        if pieces:
            self.printed(run, int(pieces.get("good", 0)), int(pieces.get("misprinted", 0)), also)
        for frame in list(run.hung.values()):
            self.off(run, frame, own.get(frame.number, then), frame.number in torn)
        run.finished = True
        if self.chance(0.1):
            self.note("second phone finished too")
            if self.step(run, self.lead, "finish", must=False, then="strip", good=5):
                self.fault(f"run {run.number} was finished twice")
        return True

    # Days

    def live(self, days: int, *, every_day: bool = True) -> None:
        """Lets the shop live some days, weekends off, and proves it after each; monthly everything."""
        for name in PRESSES:
            self.presses[name] = self.presses[name] or self.press_day(name)
        for _unused in range(days):
            self.day += 1
            self.now = max(self.now, self.start + timedelta(days=self.day - 1))
            if self.now.astimezone(ZONE).weekday() >= 5:
                continue
            self.work()
            self.prove_day()
            if self.day % 30 == 0:
                self.prove_month()

    def work(self) -> None:
        if self.day % 21 == 1 and self.day > 1:
            self.mix()
        placements = 0.0
        target = self.rate + self.rng.uniform(-2, 2)
        while placements < target:
            order = self.new_order()
            if order is None:
                break
            placements += len(order.data["placement"])
        for order in list(self.orders.values())[-60:]:
            if self.chance(0.02) and (order.printed or not order.begun):
                self.change_order(order)
        self.make_screens()
        for _steps in range(45):
            for name in PRESSES:
                going = self.presses[name]
                assert going is not None
                next(going)
        self.look_after()
        self.type_late()

    # Proofs

    def prove_day(self) -> None:
        """What was sent stands in the log and nothing else; the screens touched are what their logs say, and what they
        really are; the runs add up; no screen hangs twice."""
        touched = self.prove_posts()
        logged, outside = setting(self.db, "steps"), store_places.outside(self.db)
        for number in sorted(touched):
            self.prove_screen(number, logged, outside)
        self.prove_runs()

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
        level = json.loads(row[9])["level"] if row[9] else ""
        if level in {"stop", "unknown"}:
            told = json.loads(row[10]) if row[10] else {}
            if not told.get("why") or (row[5], told.get("person")) not in self.runs[row[6]].passed:
                self.fault(f"run {row[6]}: screen {row[5]} hangs past a {level} that nobody went past: {told}")

    def prove_screen(self, number: int, logged: Any, outside: Any) -> None:
        lines = entries.of(self.db, "screen", number)
        self.rng_proof.shuffle(lines)
        life, lesson = readings_rules.replay(lines, logged, outside)
        row = self.raw.execute(
            "SELECT standing, impressions, uses, cycles, life, run FROM standings WHERE screen = ?", [number]
        ).fetchone()
        if row[4] != json.dumps(life.to_dict(), ensure_ascii=False, sort_keys=True):
            self.fault(f"screen {number} is not its log replayed")
        frame = self.frames[number]
        if frame.said is not None and row[0] != frame.said:
            last = [line.step for line in sorted(lines, key=lambda one: one.key)][-8:]
            self.fault(f"screen {number}: the log says {row[0]}, it is {frame.said} ({last})")
            frame.said = None
        if (row[1], row[2]) != (frame.impressions, frame.uses):
            self.fault(f"screen {number}: {row[1:3]} impressions and uses, really {frame.impressions, frame.uses}")
        if row[3] != frame.strips_said:
            last = [line.step for line in sorted(lines, key=lambda one: one.key)][-14:]
            self.fault(f"screen {number}: {row[3]} strippings, really {frame.strips_said} ({last})")
            frame.strips = frame.strips_said = row[3]
        if row[5] != (frame.on.run if frame.on else None):
            self.fault(f"screen {number}: hangs in run {row[5]}, really {frame.on}")

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
            plan = runs.plan(self.db, stored.id)
            there = {number: one.screen for number, one in plan.story.hung.items()}
            if there != {number: frame.number for number, frame in run.hung.items()}:
                self.fault(f"run {stored.id}: {there} hang, really {[(n, f.number) for n, f in run.hung.items()]}")
            for screen in there.values():
                if screen in hung:
                    self.fault(f"screen {screen} hangs in runs {hung[screen]} and {stored.id}")
                hung[screen] = stored.id
            self.prove_run(stored)
        recent = [one for one in self.runs.values() if one.finished][-40:]
        for run in recent:
            found = store_runs.get(self.db, run.number)
            assert found is not None
            self.prove_run(found)

    def prove_run(self, stored: store_runs.Run) -> None:
        run, story = self.runs[stored.id], stored.story
        if (story.good, story.misprinted) != (run.good, run.misprinted):
            self.fault(
                f"run {run.number}: {story.good} good, {story.misprinted} misprinted, really "
                f"{run.good}, {run.misprinted}"
            )
        really = (
            sum(one.impressions for frame in self.frames.values() for one in frame.hangings if one.run == run.number)
            + self.worn[run.number]
        )
        if story.impressions != really:
            self.fault(f"run {run.number}: {story.impressions} impressions, really {really}")
        if (story.state == "finished") != run.finished:
            self.fault(f"run {run.number} is {story.state}")
        if story.target != run.marked:
            self.fault(f"run {run.number}: target {story.target}, really {run.marked}")

    def prove_month(self) -> None:
        """All of it: every screen replayed, the shop sound, a rebuild that changes nothing, an export of every line."""
        for fault in shop.check(self.db):
            self.fault(f"check: {fault}")
        before = self.tables()
        shop.rebuild(self.db)
        for table, rows in self.tables().items():
            if rows != before[table]:
                self.fault(f"a rebuild changes {table}")
        logged, outside = setting(self.db, "steps"), store_places.outside(self.db)
        for number in self.frames:
            self.prove_screen(number, logged, outside)
            for code in self.frames[number].codes:
                if screens.find(self.db, code).id != number:
                    self.fault(f"code {code} does not lead to screen {number}")
        self.prove_export()
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
        shop.export(self.db, out)
        wanted = [row[0] for row in self.raw.execute("SELECT entry FROM entries ORDER BY id")]
        with (out / "entries.jsonl").open(encoding="utf-8") as lines:
            if [json.loads(line)["entry"] for line in lines] != wanted:
                self.fault("the exported lines are not the log's")
        with (out / "entries.csv").open(encoding="utf-8", newline="") as table:
            if [row["entry"] for row in csv.DictReader(table)] != wanted:
                self.fault("the exported table is not the log")

    def close(self) -> None:
        self.raw.close()
        self.db.close()
