"""A shop that lives through a year by itself: seeded people who print, forget, mix things up and put them right.

All of it goes through `tickets.actions`, as the pages do. Beside it stands what really happened (`simulated_truth`, the
book of posts), kept by the simulator's own simple rules and never read out of the program. `simulated_proof` holds the
shop's file against it after each day and each month; what does not agree is collected in `faults`.
"""

from __future__ import annotations

import copy
import io
import math
import random
import sqlite3
from collections import Counter
from collections.abc import Callable, Collection, Generator, Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from PIL import Image
from simulated_hands import Floor, Pages
from simulated_proof import Proofs
from simulated_right import (
    COLOUR_FAR,
    CURED,
    KIND,
    NEEDLESS,
    NOT_YET,
    POT_LASTS,
    READING_LASTS,
    READING_STENCILS,
    READY,
    STRIP_SPEAKS,
    WET_INKS,
    Book,
    Case,
    Told,
    approving,
    at_press,
    causes_of,
    differences,
    going_on,
    new_mesh,
    speaks_still,
    undercured,
    wrong_target,
)
from simulated_right import limits as tension_limits
from simulated_truth import Census, Forgotten, Frame, Hanging, Key, Line, Order, Post, Pot, Reading, Run, Stencil

from tickets.actions import jobs, people, pictures, places, screens, shop, stocktake
from tickets.calculator.verdict import Verdict
from tickets.domain.jobs import job as sheets
from tickets.domain.person import Actor
from tickets.domain.posted import Asks, Doubt, Worse, form
from tickets.domain.refusal import NotAllowed, Refused
from tickets.domain.spec import Row
from tickets.domain.stages import ALWAYS_LOGGED, LOGGED_BY_DEFAULT
from tickets.queries import at_press as at_press_now
from tickets.queries import find as find_now
from tickets.queries import run_plan, target
from tickets.store import jobs as store_jobs
from tickets.store import screens as store_screens

ZONE = ZoneInfo("Europe/Warsaw")
MESHES = (("110/in", "80"), ("156/in", "64"), ("230/in", "48"), ("305/in", "34"))
PRESSES = ("Press 1", "Press 2", "Press 3")
RACKS = ("Rack 1", "Rack 2", "Rack 3", "Drying cabinet")
CUSTOMERS = ("Lantern Quay Rowing Circle", "Invented Bakery", "Quillmoor School", "Кафе «Выдуманное»", "Moth Choir")
MOTIFS = ("Heron", "Anchor", "Kite", "Lantern", "Moth", "Harbour", "Fern", "Comet")
COLOURS = ("white", "deep blue", "lamp yellow", "brick red")
QUESTIONS = {
    "in_hand": "asked",
    "still_needed": "asked whether it is needed",
    "over": "asked whether so many",
    "heads_short": "asked about heads",
    "before": "asked whether it was printed before",
    "later": "asked to count first",
    "fewer": "asked whether so few",
    "uncounted": "asked whether nothing was printed",
    "good": "told what another phone counted",
}
"""What the program asks before it writes something down, and what the simulator calls that."""
FEW_STEPS = ("image", "check", "hang")
"""What a shop logs that wants to log as little as it can."""


# The shop ------------------------------------------------------------------------------------------------------------


class SimulatedShop(Proofs):
    """An invented shop; `live(days)` lets it go on. The same seed gives the same year. `logs`: the steps that it logs
    beside those that no shop goes without; `pages`: its people use their phones; `mishaps`: how often
    what is rare happens, against a usual year; `meter`: the colours of every first print are read."""

    def __init__(
        self,
        folder: Path,
        seed: int,
        *,
        frames: int = 300,
        placements_a_day: float = 6.2,
        logs: Collection[str] = LOGGED_BY_DEFAULT,
        pages: bool = False,
        mishaps: float = 1.0,
        meter: bool = False,
    ) -> None:
        self.mishaps, self.meter = mishaps, meter
        self.rng = random.Random(seed)
        self.rng_dryer = random.Random(seed)  # so that one more measurement does not make another year
        self.start = datetime(2026, 1, 5, 6, 0, tzinfo=UTC)
        self.now = self.start
        self.db = shop.open_shop(folder, self.now)
        self.db.execute("PRAGMA synchronous=OFF")  # nobody pulls the plug here
        self.raw = sqlite3.connect(f"file:{folder / 'shop.db'}?mode=ro", uri=True)
        self.folder = folder
        self.rate = placements_a_day
        self.posts = 0
        self.book: dict[str, Post] = {}
        self.frames: dict[int, Frame] = {}
        self.orders: dict[int, Order] = {}
        self.runs: dict[int, Run] = {}
        self.going: list[Run] = []
        self.beside_one = False
        self.separations: dict[Key, int] = {}
        self.logs = frozenset(logs) | ALWAYS_LOGGED
        self.faults: list[str] = []
        self.verdicts = Book()
        self.begin_proofs()
        self.unproved: list[str] = []
        self.census = Census(self.start)
        self.coming: list[Order] = []
        self.coated: dict[str, list[Stencil]] = {}
        self.lots: dict[str, str] = {}
        self.mixes: dict[str, Pot] = {}
        self.pots: dict[str, str] = {}
        self.mixed: Counter[str] = Counter()
        self.regrets: list[tuple[str, int, Callable[[], None]]] = []
        self.late: list[Forgotten] = []
        self.presses: dict[str, Iterator[None] | None] = dict.fromkeys(PRESSES)
        self.rushes: list[tuple[Order, int]] = []
        self.happened: Counter[str] = Counter()
        self.day = 0
        self.manager = shop.command_line(self.db, self.now)
        shop.set_up(self.db, self.manager, "zone", str(ZONE), now=self.now)
        shop.set_up(self.db, self.manager, "steps", list(logs), now=self.now)
        photo = io.BytesIO()
        Image.linear_gradient("L").resize((64, 48)).convert("RGB").save(photo, "JPEG")
        self.photo = photo.getvalue()
        names = {"Ada Holm": "screen room", "Eli Brandt": "screen room", "Bo Lind": "press", "Fay Moss": "press"}
        names |= {"Cy Marsh": "press lead", "Di Novak": "manager"}
        secrets = {name: str(471105 + number) for number, name in enumerate(names)} | {
            "Di Novak": "a long invented one"
        }
        acting = {
            name: Actor(people.add_person(self.db, name, role, secrets[name], self.now), name, role)
            for name, role in names.items()
        }
        time = lambda: self.now  # noqa: E731
        self.hands = Pages(folder, self.db, time, secrets, self.photo) if pages else Floor(self.db, time)
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
        set_time = Row(0, "exposure-time", 80.0, "s", {"exposure_unit": "Big lamp"}, "a strip of ours")
        shop.add_spec_row(self.db, self.boss, set_time, now=self.now)
        self.buckets: list[Pot] = []
        self.inks: list[str] = []
        self.mix()
        self.pot_lots()
        for mesh in MESHES:
            wood, rollers = frames // 60, frames // 40
            self.register(mesh, frames // len(MESHES) - wood - rollers)
            self.register(mesh, wood, "wood")
            self.register(mesh, rollers, "roller")

    # Small acts

    def chance(self, share: float, rng: random.Random | None = None) -> bool:
        return (rng or self.rng).random() < (min(0.5, share * self.mishaps) if share <= 0.2 else share)

    def note(self, what: str) -> None:
        """Counts what happened, so that a test can say that it did."""
        self.happened[what] += 1

    def tick(self, minutes: float = 0.0) -> datetime:
        self.now += timedelta(
            minutes=minutes, seconds=self.rng.randint(2, 20), microseconds=self.rng.randint(0, 999999)
        )
        self.census.upto(self.now, self.frames.values())
        return self.now

    def post(
        self,
        step: str,
        number: int,
        call: Callable[[str, dict[str, Any]], Any],
        *,
        must: bool = True,
        values: Mapping[str, Any] | None = None,
        also: Mapping[str, int] | None = None,
    ) -> Any:
        """Sends something once, or twice as a phone does whose answer was lost. None: it was refused.

        `number`: how many entries of the step there must be, `also`: of others; `must`: a refusal is a fault of the
        program.
        """
        self.posts += 1
        post = f"sim-{self.posts:016d}"
        self.tick()
        kept = Post(step, number, values or {}, also or {})
        self.book[post] = kept
        self.unproved.append(post)
        more: dict[str, Any] = {}
        self.asked: set[str] = set()
        try:
            for _questions in range(3):
                try:
                    answer = call(post, more)
                    break
                except (Asks, Doubt) as asks:
                    fields = asks.fields if isinstance(asks, Asks) else [fault.where for fault in asks.faults]
                    for name in fields:
                        self.note(QUESTIONS[name])
                        self.asked.add(name)
                    more |= dict.fromkeys(fields, "yes")
            else:
                raise Refused("asked three times")
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

    def register(self, mesh: tuple[str, str], number: int, kind: str = "aluminium") -> None:
        if not number:
            return
        known = number > 1 or kind != "aluminium" or self.rng.random() < 0.5
        sent = {"mesh_count_as_labelled": mesh[0], "frame": kind, "mesh_colour": "dyed"}
        sent |= {"thread_um": mesh[1]} if known else {}
        made = self.post(
            "stretch",
            number,
            lambda post, more: screens.add(self.db, self.room[0], form(sent), post=post, now=self.now, number=number),
        )
        for code in made or ():
            screen = find_now.screen(self.db, code)
            frame = self.frames[screen.id] = Frame(screen.id, [code], mesh, kind, thread_known=known)
            self.stretched(frame)

    def stretched(self, frame: Frame) -> None:
        """Fresh mesh is on a frame, as tight as such mesh gets; now and then badly done."""
        tight = new_mesh(frame) * self.rng.uniform(1.10, 1.18)  # it gives way by a tenth
        if self.chance(0.03):
            tight = self.rng.uniform(9, 17)
        frame.pull = [tight + self.rng.uniform(-0.9, 0.9) for _place in range(9)]
        if self.chance(0.03):
            frame.pull[self.rng.randrange(1, 5)] -= self.rng.uniform(3, 8)
        frame.weft = self.rng_dryer.uniform(0.80, 0.86) if self.chance(0.02, self.rng_dryer) else 0.97
        frame.stretched, frame.settles, frame.read, frame.slack = self.now, 0.06 * tight, None, False
        frame.uses_before = 0

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
            if step == "rack":
                frame.lies = str(fields["place"])
        if step in LOGGED_BY_DEFAULT and step not in self.logs:
            return False
        if forget and self.chance(forget):
            self.note(f"forgot {step}")
            if self.chance(0.4):
                self.late += [
                    Forgotten(one, step, self.now, one.stage, one.strips, one.acts, one.moves, one.stencil, fields)
                    for one in frames
                ]
            return False
        groups = [[one] for one in frames] if self.hands.one_by_one else [frames]
        return all([self.log_some(who, some, step, neutral, at, fields) for some in groups])

    def log_some(
        self,
        who: Actor,
        frames: Sequence[Frame],
        step: str,
        neutral: bool,
        at: datetime | None,
        fields: Mapping[str, Any],
    ) -> bool:
        """Logs a step of some frames in one go, and what follows from its being in the log."""
        found = [self.find(frame) for frame in frames]
        sent = {**fields, **({"at": self.local(at)} if at else {})}
        values = {name: fields[name] for name in ("result", "note", "then", "purpose") if name in fields}
        done = self.post(
            step,
            len(frames),
            lambda post, more: self.hands.screens(who, found, step, {**sent, **more}, post),
            values=values,
        )
        if done is None:
            return False
        for frame in frames:
            if frame.stencil is not None and "in_hand" in self.asked:
                frame.stencil.found = True
            if frame.stencil is None and step in {"clean", "decide"} and at is None:
                self.seen_on(frame)
            if step not in {"note", "decide", "retag"}:  # it is in somebody's hands
                frame.missed = None
            if step == "harden" and "in_hand" in self.asked:  # in spite of the log, whoever hardens it says it is ready
                frame.said, frame.acts = "ready", frame.acts + 1
            if frame.believed and at is None and step in {"degrease", "coat", "strip", "haze"}:  # it is seen to be bare
                frame.strips += step != "strip" and "in_hand" in self.asked
                frame.believed = False
            if not neutral:
                frame.said, frame.acts = frame.stage, frame.acts + 1
                if frame.stencil is not None and frame.stencil.forced:  # nobody keeps what was forced on
                    inked = frame.hangings and frame.hangings[-1].impressions
                    unsaid = "to clean" if inked else frame.said
                    frame.said = {"clean": "to strip", "decide": unsaid}.get(step, frame.said)
                if step not in {"fault", "retire", "rack"}:  # by these the log learns of no stripping
                    frame.strips_said = frame.strips
            self.noted(frame, frame.stencil, step, at or self.now, fields)
            if step == "rack" and at is None:
                frame.moved(str(fields["place"]))
            elif step == "coat" and at is None:
                self.noted_coat(frame.stencil, str(fields["bucket"]))
            elif step == "retire":
                frame.place_said = ""
        return True

    def seen_on(self, frame: Frame) -> None:
        """Somebody said that a bare frame, which was hung by mistake, is in their hands as it comes off a press: from
        then on the log has a stencil on it that nobody coated."""
        if "in_hand" in self.asked and frame.read is not None:
            frame.read.stencils += 1

    def noted(self, frame: Frame, stencil: Stencil | None, step: str, at: datetime, fields: Mapping[str, Any]) -> None:
        """What of the making of a stencil stands in the log from here on."""
        if stencil is None:
            return
        made = step in {"coat", "image", "expose", "washout", "check"}
        if made and not stencil.noted:  # for the log a stencil begins, with whatever step of it is noted first
            if frame.read is not None and frame.stencil is stencil:
                frame.read.stencils += 1
            stencil.noted["begun"] = at
        result = fields.get("result")
        if step == "expose":
            stencil.noted["light"] = float(fields["exposure_s"])
        elif step == "washout":
            stencil.noted["step"] = int(fields["step_held"]) if fields.get("step_held") else None
            if stencil.noted.get("check", at) <= at:
                stencil.noted.pop("check", None)
                stencil.failed = result == "fault"
        elif step == "check" and result == "good":
            stencil.failed, stencil.forced, stencil.condition = False, False, ""
        elif step == "check":
            stencil.failed = True
        if step in {"coat", "expose", "washout", "harden"} or (step == "check" and result == "good"):
            stencil.noted[step] = at

    def noted_coat(self, stencil: Stencil | None, bucket: str) -> None:
        """From here on the log can tell what a stencil was coated from."""
        assert stencil is not None
        pot = next(one for one in stencil.pots if one.code == bucket)
        stencil.noted_pots.append(pot)
        if bucket not in stencil.buckets:
            stencil.buckets.append(bucket)
            self.coated.setdefault(bucket, []).append(stencil)

    def find(self, frame: Frame) -> store_screens.Screen:
        """By its code; now and then by one that was replaced."""
        code = frame.codes[0] if self.chance(0.2) else frame.code
        screen = find_now.screen(self.db, code.lower() if self.chance(0.1) else code)
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
                if one.stencil is not frame.stencil:
                    self.noted(frame, one.stencil, one.step, one.at, one.fields)
                if one.step != "rack":
                    self.census.late(frame, one.at, one.stage)
                if one.step == "strip":
                    frame.strips, frame.believed = max(frame.strips, one.strips), False
                if frame.acts == one.acts and one.step not in {"rack", "harden"}:  # nothing was logged of it since
                    forced = one.step == "clean" and one.stencil is not None and one.stencil.forced
                    frame.said, frame.strips_said = "to strip" if forced else one.stage, one.strips
                if one.step == "coat":
                    self.noted_coat(one.stencil, str(one.fields["bucket"]))
                if one.step == "rack" and frame.moves == one.moves:
                    frame.place_said = str(one.fields["place"])
        self.late = []

    def measure(self, frame: Frame) -> None:
        frame.settle(self.now)
        really = frame.pull[: self.rng.choice((1, 5, 5, 9))]
        shown = [round(2 * (value + self.rng.uniform(-0.3, 0.3))) / 2 for value in really]
        rng, sent = self.rng_dryer, {"readings_n_per_cm": " ".join(f"{value:g}" for value in shown)}
        weft: list[float] = []
        if self.chance(0.25, rng):
            weft = [round(2 * (value * frame.weft + rng.uniform(-0.3, 0.3))) / 2 for value in really]
            sent["readings_weft_n_per_cm"] = " ".join(f"{value:g}" for value in weft)
        if self.log(self.room[0], frame, "tension", neutral=True, **sent):
            uses = frame.uses - frame.uses_before
            frame.read = Reading(self.now, tuple(shown), frame.hours(self.now), uses, weft=tuple(weft))

    def mix(self) -> None:
        """A bucket of emulsion; two of them come from one lot of the maker's. Some stay open far too long."""
        resistant = not self.buckets or not self.chance(0.05)
        code = self.bucket("emulsion", "dual-cure emulsion", "yes" if resistant else "no")
        if not code:
            return
        self.buckets.append(self.mixes[code])
        self.bucket_step(code, "use")
        if self.chance(0.1):
            self.test(self.mixes[code], 0.7)
        if len(self.buckets) > 24:
            self.bucket_step(self.buckets.pop(0).code, "discard", why="too old")

    def test(self, pot: Pot, good: float) -> bool:
        """A strip is made with a bucket; one that fails goes."""
        pot.tested = "good" if self.chance(good) else "fault"
        pot.tested_at = self.now
        self.bucket_step(pot.code, "test", result=pot.tested)
        if pot.tested == "fault":
            self.buckets.remove(pot)
            self.bucket_step(pot.code, "discard", why="the strip failed")
        return pot.tested == "good"

    def bucket(self, what: str, kind: str, resistant: str = "") -> str:
        """Mixes a bucket; its code."""
        self.mixed[what] += 1
        lot = f"{what[0].upper()}-{self.mixed[what] // 2}"
        sent = {"kind": kind, "product": f"{what.capitalize()} A", "lot": lot, "water_resistant": resistant}
        code = self.post(
            "mix",
            1,
            lambda post, more: self.hands.mix(self.room[0], sent, post),
            values={"lot": lot},
        )
        if code:
            self.lots[code] = lot
            self.mixes[code] = Pot(code, kind, self.now, resistant != "no")
        return code or ""

    def pot_lots(self) -> None:
        """The tubs of plastisol on the shelf: now and then a new one, of another lot."""
        for colour in COLOURS:
            if colour not in self.pots or self.chance(0.25):
                self.mixed[colour] += 1
                self.pots[colour] = f"P-{colour}-{self.mixed[colour]}"

    def bucket_step(self, code: str, step: str, **fields: Any) -> None:
        self.post(
            step,
            1,
            lambda post, more: self.hands.bucket(self.room[0], code, step, fields, post),
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

    def free(self, mesh: tuple[str, str], colours: int) -> Frame | None:
        """A frame to coat; a wooden one rather for a single colour, since it moves."""
        wanted = {"bare", "stripped", *(["coated"] if self.chance(0.3) else ())}
        fitting = [
            one
            for one in self.frames.values()
            if one.mesh == mesh and one.stage in wanted and not one.torn and not one.busy and not one.slack
            # by a log of so few steps the next image would go on the stencil of before
            if "coat" in self.logs or one.said != "imaged"
        ]
        careful = self.chance(0.9)
        return (
            min(fitting, key=lambda one: (careful and one.kind == "wood" and colours > 1, one.uses, one.number))
            if fitting
            else None
        )

    def separation(self, order: Order, place: int, station: int) -> int:
        saved = store_jobs.get(self.db, order.number)
        assert saved is not None
        return next(one.separation for one in store_jobs.asked(self.db, saved, place) if one.number == station)

    def make_screens(self) -> None:
        """The screen room's morning: whatever the coming days need and nobody carries yet."""
        frames_of = self.choose_frames()
        if not frames_of:
            return
        for frame in list(frames_of):
            if not self.tight_enough(frame):
                frame.busy = False
                del frames_of[frame]
        frames = list(frames_of)
        self.coat([one for one in frames if one.stage != "coated"])
        self.tick(80)
        for frame, wanted in frames_of.items():
            self.image(frame, wanted)
        self.tick(60)
        hurry = self.chance(0.05)
        for frame in frames:
            self.wash(frame)
        if not hurry:
            self.tick(75)
        for frame in frames:
            if frame.stage == "to check" and frame.fit:
                self.log(self.rng.choice(self.room), frame, "check", stage="ready", forget=0.04, result="good")
                self.harden(frame, any(line.ink in WET_INKS for _order, _place, line in frames_of[frame]))
            frame.busy = False
        self.log(self.room[0], [one for one in frames if one.stage == "ready"], "rack", neutral=True, place="Rack 1")

    def harden(self, frame: Frame, wet: bool) -> None:
        """For an ink that holds water some harden the stencil, rather where the emulsion does not stand it."""
        assert frame.stencil is not None
        weak = any(not pot.resistant for pot in frame.stencil.pots)
        if not wet or not self.chance(0.5 if weak else 0.1, self.rng_dryer) or "harden" not in self.logs:
            return
        frame.stencil.hard = True
        self.note("hardened")
        self.log(self.room[0], frame, "harden", neutral=True, forget=0.05, agent="invented hardener")

    def tight_enough(self, frame: Frame) -> bool:
        """Before it is coated a frame is measured, where the last reading is old or there is none; a slack one goes to
        be stretched again, mostly."""
        frame.settle(self.now)
        read = frame.read
        old = read is None or read.stencils >= READING_STENCILS - 1 or self.now - read.at > READING_LASTS * 0.9
        if (old or not speaks_still(frame, self.now)) and self.chance(0.95):
            self.measure(frame)
        if frame.read is None or min(frame.read.every) >= tension_limits(frame, "colours")[1] or self.chance(0.2):
            return True
        if frame.kind == "wood" or frame.stage == "coated":
            return True
        self.note("found slack")
        self.send_to_restretch(frame)
        return False

    def send_to_restretch(self, frame: Frame) -> None:
        """It is slack, and that is noted."""
        if self.log(self.room[0], frame, "fault", stage="to restretch", kind="slack", then="restretch"):
            frame.slack = True

    def coat(self, frames: list[Frame]) -> None:
        """Degreases and coats some frames, all out of one bucket; an old one gets its strip first, mostly."""
        who = self.rng.choice(self.room)
        self.log(who, frames, "degrease", stage="degreased", forget=0.05)
        self.tick(35)
        while not self.buckets:  # the first one failed its strip
            self.mix()
        pot = self.buckets[0] if self.chance(0.15) else self.buckets[-1]
        if pot.past(self.now, POT_LASTS[pot.kind]):
            self.note("old bucket")
            tested = pot.tested_at is not None and pot.past(pot.tested_at, POT_LASTS[pot.kind])
            tested = tested and self.now < (pot.tested_at or self.now) + STRIP_SPEAKS
            if not tested and self.chance(0.85) and not self.test(pot, 0.85):
                pot = self.buckets[-1]
        for frame in frames:
            frame.stencil = Stencil(frame.number, pots=[pot])
            frame.images, frame.fit, frame.accepted, frame.decided = set(), False, "", ""
        self.log(who, frames, "coat", stage="coated", forget=0.02, bucket=pot.code, preset="2+1 round edge")
        if frames and self.chance(0.1):  # a second coat, out of what was at hand
            frame = self.rng.choice(frames)
            pot = self.rng.choice(self.buckets)
            assert frame.stencil is not None
            frame.stencil.pots.append(pot)
            self.note("coated twice")
            self.log(who, frame, "coat", stage="coated", bucket=pot.code)
        self.log(who, frames, "rack", neutral=True, place="Drying cabinet", forget=0.2)

    def coat_for_stock(self) -> None:
        """A quiet afternoon: some frames are coated for later; some wait long."""
        free = [one for one in self.frames.values() if one.stage == "stripped" and not one.slack and not one.torn]
        self.note("coated for stock")
        self.coat([one for one in free[:3] if self.tight_enough(one)])

    def choose_frames(self) -> dict[Frame, list[tuple[Order, int, Line]]]:
        """A frame for each image that is wanted soon, now and then one for two images of different placements."""
        wanted: list[tuple[Order, int, Line]] = []
        keys: set[Key] = set()
        soon = self.now + timedelta(days=3)
        for order in sorted(self.coming, key=lambda one: (one.due, one.number)):
            if order.due > soon or order.over:
                continue
            for place in range(1, len(order.data["placement"]) + 1):
                if place in order.done:
                    continue
                for line in order.lines(place):
                    if line.key not in keys and not self.carrying(line.key):
                        keys.add(line.key)
                        wanted.append((order, place, line))
                        if self.chance(0.06):  # a spare, should it break down
                            self.note("spare")
                            wanted.append((order, place, line))
        chosen: dict[Frame, list[tuple[Order, int, Line]]] = {}
        for order, place, line in wanted[:40]:
            mesh = line.mesh
            if self.chance(0.06):
                beside = next(
                    (
                        there
                        for there in chosen.values()
                        if len(there) == 1 and there[0][2].mesh == mesh and (there[0][0], there[0][1]) != (order, place)
                        if there[0][2].key != line.key
                    ),
                    None,
                )
                if beside is not None:
                    self.note("ganged")
                    beside.append((order, place, line))
                    continue
            if self.chance(0.02):
                mesh = self.rng.choice(MESHES)
            frame = self.free(mesh, len(order.lines(place)))
            if frame is not None:
                frame.busy = True
                chosen[frame] = [(order, place, line)]
        return chosen

    def image(self, frame: Frame, wanted: Sequence[tuple[Order, int, Line]]) -> None:
        who = self.rng.choice(self.room)
        numbers = []
        for order, place, line in wanted:
            number = self.separation(order, place, line.station)
            known = self.separations.setdefault(line.key, number)
            if known != number:
                self.fault(f"{line.key} was separation {known}, is {number}")
            numbers.append(number)
        frame.images = {line.key for _order, _place, line in wanted}
        more: dict[str, Any] = {}
        if frame.mesh != wanted[0][2].mesh and self.chance(0.7):
            who = self.boss if self.chance(0.5) else who
            frame.accepted = "lead" if who is self.boss else "room"
            more["accept"] = "the wanted mesh is all in use"
        if self.chance(0.03) and not more and "expose" in self.logs:  # named at the light only
            frame.stage = "imaged"
            self.note("image with the exposure")
            self.expose(who, frame, 0.0, separations=numbers)
            return
        if self.chance(0.02) and not more and self.wrong_image(who, frame, numbers):
            pass
        elif len(numbers) > 1 and self.chance(0.5):  # one film after the other
            for number in numbers:
                self.log(who, frame, "image", stage="imaged", separations=number, means="film", **more)
        elif not self.log(who, frame, "image", stage="imaged", separations=numbers, means="film", **more):
            return
        self.expose(who, frame, 0.02)

    def expose(self, who: Actor, frame: Frame, forget: float, **fields: Any) -> None:
        """The lamp burns for about the wanted time; now and then somebody is called away, or the lamp is weak."""
        assert frame.stencil is not None
        light = self.rng.choice((75, 80, 85))
        if self.chance(0.03):
            light = self.rng.choice((28, 40, 56, 160, 220))
        weak = 0.5 if self.chance(0.02) else 1.0
        frame.stencil.step = 7.4 + 2 * math.log2(weak * light / 80)
        sent = {"exposure_s": str(light), "exposure_unit": "Big lamp", **fields}
        self.log(who, frame, "expose", stage="exposed", forget=forget, **sent)

    def wrong_image(self, who: Actor, frame: Frame, numbers: list[int]) -> bool:
        """The wrong image is noted, crossed out the same day, and the right one typed in with its time."""
        wanted = {
            line.key
            for order in self.coming
            for place in range(1, len(order.data["placement"]) + 1)
            for line in order.lines(place)
            if place not in order.begun
        }
        others = [one for key, one in self.separations.items() if key in wanted and one not in numbers]
        if not others:
            return False
        wrong = self.rng.choice(others)
        frame.stage = "imaged"
        at = self.now
        done = self.post(
            "image",
            1,
            lambda post, more: self.hands.screens(
                who, [self.find(frame)], "image", {"separations": wrong, "means": "film", **more}, post
            ),
        )
        if done is None:
            return True
        for entry in done.entries:
            self.cross_out(who, entry)
        self.log(who, frame, "image", at=at.replace(microsecond=0) + timedelta(seconds=1), separations=numbers)
        return True

    def cross_out(self, who: Actor, entry: str, must: bool = True, number: int = 1) -> bool:
        done = self.post(
            "cross-out",
            number,
            lambda post, more: self.hands.cross_out(who, entry, "a slip", post),
            must=must,
        )
        if done is not None:
            self.note("crossed out")
        return done is not None

    def wash(self, frame: Frame) -> None:
        """Washes a stencil out; one that is seen to be far too weak is given up, mostly."""
        who = self.rng.choice(self.room)
        if frame.stage != "exposed":
            return
        assert frame.stencil is not None
        frame.stencil.washed = self.now
        step = int(frame.stencil.step)
        read = {"step_held": str(step)} if self.chance(0.6) else {}
        if self.chance(0.02) or (read and step < 5 and self.chance(0.6)):
            seen = "washout" if "washout" in self.logs else "check"
            self.log(who, frame, seen, stage="to strip", result="fault", fault="soft")
            self.note("failed washout")
            return
        if self.chance(0.03):
            self.log(who, frame, "washout", stage="to check", result="fault", fault="pinholes", **read)
        else:
            self.log(who, frame, "washout", stage="to check", forget=0.01, result="good", **read)
        frame.fit = True

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
            for order in self.coming
            if not order.over
            for place in range(1, len(order.data["placement"]) + 1)
            for line in order.lines(place)
        }
        for frame in self.frames.values():
            if frame.stage == "kept" and frame.since and frame.since < old and not frame.images & wanted:
                # by the log it is still to be cleaned, so it goes on being that
                self.give_up_stencil(who, frame, neutral=frame.said == "to clean")
            elif frame.stage in READY and frame.said in READY and not frame.fit:  # the press gave it back
                self.give_up_stencil(who, frame)
            elif frame.stage == "kept" and frame.said == "kept" and frame.decided == "" and self.chance(0.1):
                frame.decided = "keep"
                self.log(who, frame, "decide", stage="kept", then="keep")
        # what carries an image that nobody will want (another revision came) goes too
        for frame in self.frames.values():
            if frame.stage in {"ready", "to check"} and frame.since and frame.since < old and not frame.images & wanted:
                self.give_up_stencil(who, frame)
        for frame in [one for one in self.frames.values() if one.stage == "to strip"]:
            if frame.torn:
                continue
            bare, needed = frame.stencil is None, self.still_needed(frame)
            frame.strips += 1
            frame.loosen(0.03)
            frame.images, frame.fit, frame.decided, frame.stencil = set(), False, "", None
            if self.log(who, frame, "strip", stage="stripped", forget=0.03, remover_s="60"):
                self.prove_asked(frame, "strip", needed)
                if bare:
                    self.seen_on(frame)
            elif bare:
                frame.strips -= 1  # nothing was on it; the log learns of no stripping, unless it believes in a stencil
                frame.believed = frame.said is not None and frame.said not in {"stripped", "bare", "degreased"}
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
                self.register(frame.mesh, 1, frame.kind)
            else:
                self.restretch(frame)
        for frame in [one for one in self.frames.values() if one.stage == "away" and self.chance(0.25)]:
            self.log(who, frame, "rack", stage=frame.away_from, place="Rack 2")
            self.restretch(frame)
        idle = [one for one in self.frames.values() if one.stage in {"stripped", "bare"}]
        for frame in self.rng.sample(idle, min(2, len(idle))):
            if (frame.uses > 20 and min(frame.pull) < 18) or min(frame.pull) < 8:  # felt by hand
                self.restretch(frame)
            elif frame.kind == "roller" and frame.uses and self.chance(0.5):
                self.note("retensioned")
                frame.pull = [new_mesh(frame) + self.rng.uniform(-0.5, 0.8) for _place in range(9)]
                frame.settles, frame.stretched, frame.uses_before = 0.0, self.now, frame.uses
                if self.log(who, frame, "retension", neutral=True):
                    frame.read, frame.slack = None, False
                self.measure(frame)
            elif self.chance(0.3):
                self.measure(frame)
            if self.chance(0.1):
                self.retag(frame)
            if self.chance(0.1):
                self.log(who, frame, "note", neutral=True, note="Corner looks tired.")
            if self.chance(0.2) and "washout" in self.logs:
                self.wrong_frame(who, frame)
            if self.chance(0.05):
                self.regret_a_note(who, frame)
        self.put_away()

    def give_up_stencil(self, who: Actor, frame: Frame, neutral: bool = False) -> None:
        """Somebody decides that a stencil is to go."""
        frame.decided, needed = "strip", self.still_needed(frame)
        if self.log(who, frame, "decide", stage="to strip", then="strip", neutral=neutral):
            self.prove_asked(frame, "decide", needed)

    def still_needed(self, frame: Frame, ending: Run | None = None, more: int = 0) -> bool | None:
        """Whether somebody still needs the stencil of a frame: an open order with pieces to print, a run under way, but
        for one that is `ending` with so many `more` good pieces.
        None: that is arguable, since another screen carries the same, it is good for nothing, or somebody said already
        that it goes all the same."""
        stencil = frame.stencil
        if stencil is None or not frame.fit or stencil.failed or frame.torn or frame.said is None or stencil.asked:
            return None
        going = [run for run in self.going if run is not ending]
        orders = {*self.coming, *(run.order for run in self.going)}
        wanting = False
        for order in orders:
            for place in range(1, len(order.data["placement"]) + 1):
                under_way = any(run.order is order and run.place == place for run in going)
                over = [run for run in order.runs if run.place == place and (run.finished or run is ending)]
                good = sum(run.good for run in over) + (more if ending in over else 0)
                if under_way or not (order.closed or good >= order.pieces):
                    wanting |= any(line.key in frame.images for line in order.lines(place))
        if not wanting:
            last = self.runs[frame.hangings[-1].run] if frame.hangings else None
            return None if last in going else False  # which may ask for it by an earlier sheet
        if any(other.images & frame.images for other in self.frames.values() if other is not frame):
            return None
        return True

    def prove_asked(self, frame: Frame, step: str, needed: bool | None) -> None:
        """Before a stencil goes that is needed, that is asked; else it is not."""
        asked = "still_needed" in self.asked
        if needed is not None and asked != needed:
            told = "asked" if asked else "not asked"
            self.fault(f"screen {frame.number}: {told} whether it is still needed, at {step}")
        if frame.stencil is not None:
            frame.stencil.asked |= asked
        if needed or asked:
            self.note("gave up what is needed" if needed else "gave up what may be needed")

    def put_away(self) -> None:
        """In the evening what stands at the sink goes into the racks; not all of that is noted."""
        standing = [one for one in self.frames.values() if not one.lies and one.stage in {"stripped", "kept", "bare"}]
        if standing and self.chance(0.4):
            rack = self.rng.choice(RACKS[:3])
            self.log(self.room[1], standing, "rack", neutral=True, place=rack, forget=0.2)
            for frame in standing:
                if self.chance(0.03):  # somebody put it elsewhere
                    frame.lies = self.rng.choice(RACKS[:3])

    def regret_a_note(self, who: Actor, frame: Frame) -> None:
        """A note on the wrong screen, which somebody sees another day."""
        done = self.post(
            "note",
            1,
            lambda post, more: self.hands.screens(
                who, [self.find(frame)], "note", {"note": "Belongs to the other one."}, post
            ),
        )
        if done is not None:
            self.regrets.append((done.entries[0], 1, lambda: None))

    def regret(self) -> None:
        """Yesterday's wrong entries: the crew may not cross them out any more, the manager does."""
        late, self.regrets = self.regrets, []
        for entry, number, undo in late:
            if self.chance(0.5) and self.cross_out(self.crew[0], entry, must=False):
                self.fault(f"{entry} was crossed out the day after, by one of the crew")
            if self.cross_out(self.boss, entry, number=number):
                self.note("crossed out by the manager later")
                undo()

    def take_stock(self) -> None:
        """A scanner goes through a rack: what is there, what is missing, what belongs elsewhere, put right at once."""
        rack = self.rng.choice(RACKS)
        there = {one.number for one in self.frames.values() if one.lies == rack and one.here}
        by_log = {one.number for one in self.frames.values() if one.place_said == rack and one.said != "retired"}
        place = find_now.place(self.db, rack)
        found = stocktake.compare(self.db, place, sorted(there))
        said = [{one.id for one in some} for some in (found.here, found.astray, found.unlikely, found.missing)]
        if said != [there & by_log, there - by_log, set(), by_log - there]:
            self.fault(f"stock-take of {rack}: {said}, really {there} there, {by_log} by the log")
        astray, missing = there - by_log, by_log - there
        done = self.post(
            "rack",
            len(astray),
            lambda post, more: stocktake.put_right(
                self.db, self.room[0], place, sorted(there), post=post, now=self.now
            ),
            must=bool(astray or missing),
            also={"note": len(missing)},
        )
        self.note("stock-take")
        for number in missing if done is not None else ():
            self.frames[number].place_said = ""  # by the log nobody knows
            self.frames[number].missed = self.now
        for number in astray if done is not None else ():
            self.note("astray in a rack")
            self.frames[number].moved(rack)

    def restretch(self, frame: Frame) -> None:
        self.note("restretched")
        frame.images, frame.fit, frame.torn, frame.strips = set(), False, False, 0
        frame.believed = False
        frame.hangings, frame.decided, frame.stencil = [], "", None
        self.stretched(frame)
        frame.thread_known = True
        self.log(
            self.room[0],
            frame,
            "stretch",
            stage="bare",
            mesh_count_as_labelled=frame.mesh[0],
            thread_um=frame.mesh[1],
            frame=frame.kind,
        )
        self.measure(frame)

    def retag(self, frame: Frame) -> None:
        self.note("retagged")
        if self.log(self.room[0], frame, "retag", neutral=True):
            frame.codes.append(str(find_now.screen(self.db, frame.code).code))

    def wrong_frame(self, who: Actor, frame: Frame) -> None:
        """The neighbour on the rack was scanned; it is crossed out, all parts of it."""
        before = frame.said
        step = self.rng.choice(("degrease", "washout", "strip"))
        sent = {"result": "good"} if step == "washout" else {}
        done = self.post(
            step,
            1,
            lambda post, more: self.hands.screens(who, [self.find(frame)], step, {**sent, **more}, post),
        )
        if done is not None:
            for entry in done.entries:
                self.cross_out(who, entry)
            frame.said = before

    # Orders

    def new_order(self, rush_of: Order | None = None) -> Order | None:
        """A new job, or a repeat of an earlier one, sometimes with something changed."""
        earlier = [one for one in self.orders.values() if one.printed and one.over]
        due = self.now + timedelta(days=self.rng.randint(2, 5))
        if rush_of is not None or (earlier and self.chance(0.4)):
            origin = rush_of or self.rng.choice(earlier[-150:])
            data = copy.deepcopy(origin.data)
            data["repeats"] = origin.code
            for garment in data["garment"]:
                garment["pieces"] = self.rng.randint(12, 200)
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
        saved = find_now.job(self.db, made[0])
        order = self.orders[saved.id] = Order(saved.id, made[0], data, due, repeats)
        self.coming.append(order)
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
        fibre = self.plan_heat(placements)
        data = {
            "title": f"{motif} shirts",
            "customer": self.rng.choice(CUSTOMERS),
            "art": {"name": motif, "revision": "1"},
            "garment": [{"style": "Heavy tee", "colour": "black", "pieces": self.rng.randint(12, 300), "fibre": fibre}],
            "placement": placements,
        }
        if self.chance(0.2):  # a second colour of garment, whose inks differ
            data["garment"].append({**data["garment"][0], "colour": "sand", "pieces": self.rng.randint(12, 100)})
            names = [line["separation"] for one in placements for line in one["station"] if line["does"] == "print"]
            inks: dict[str, Any] = {self.rng.choice(names): {"colour": "black"}}
            for one in placements:
                prints = [line["separation"] for line in one["station"] if line["does"] == "print"]
                if len(prints) > 1 and self.chance(0.5):
                    inks[prints[-1]] = False
            data["colourway"] = [{"garment": {"style": "Heavy tee", "colour": "sand"}, "inks": inks}]
        return data

    def plan_heat(self, placements: list[dict[str, Any]]) -> dict[str, int]:
        """The dryer as the job plans it, mostly; now and then on polyester, mostly with an ink that cures lower. The
        fibre."""
        rng = self.rng_dryer
        plain = all(line.get("ink", "plastisol") == "plastisol" for one in placements for line in one["station"])
        polyester, low = plain and self.chance(0.05, rng), not self.chance(0.2, rng)
        for placement in placements:
            prints = [line for line in placement["station"] if line["does"] == "print"]
            if polyester and low:
                for line in prints:
                    line["ink"] = "low-cure plastisol"
            peak, hold = CURED[prints[0]["ink"]]
            if not self.chance(0.15, rng):
                peak += rng.choice((0, 2, 4)) - (20 if self.chance(0.01, rng) else 0)
                speed = f"{rng.choice((12, 18, 24)) / 10} m/min"
                placement["dryer"] = {"belt_speed": speed, "garment_peak": f"{peak:g} degC", "hold": f"{hold:g} s"}
        return {"polyester": 100} if polyester else {"cotton": 100}

    def dryer_runs(self, run: Run, *, well: bool = False) -> None:
        """What the ink on the garment comes to; now and then the belt is too fast, or an element is out, or it is far
        too hot. `well`: somebody saw to it."""
        rng, (peak, hold) = self.rng_dryer, CURED[run.lines[0].ink]
        peak, hold = peak + rng.randint(0, 5), hold + rng.randint(0, 30)
        if not well and self.chance(0.05, rng):
            self.note("undercured dryer")
            peak, hold = rng.choice(((peak - rng.randint(8, 55), hold), (peak, hold - rng.randint(31, 50))))
            hold = max(hold, 5)
        elif not well and self.chance(0.02, rng):
            peak += 25
        run.heat = (float(peak), float(hold))

    def change_order(self, order: Order) -> bool:
        """The customer thinks again: pieces, or another revision of the art; one that is printed stays as it is."""
        data = copy.deepcopy(order.data)
        if self.chance(0.3) and not order.begun:
            return self.new_revision(order)
        data["garment"][0]["pieces"] += 5
        return self.change_to(order, data)

    def new_revision(self, order: Order) -> bool:
        """The customer sends other artwork."""
        data = copy.deepcopy(order.data)
        data["art"]["revision"] = str(int(data["art"]["revision"]) + 1)
        self.note("new revision")
        return self.change_to(order, data)

    def change_to(self, order: Order, data: dict[str, Any]) -> bool:
        saved = find_now.job(self.db, order.code)
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
        for order in sorted(self.coming, key=lambda one: (one.due, one.number)):
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
        number = self.post("open", 1, lambda post, more: self.hands.open_run(who, sent, post))
        if number is None:
            return None
        if number in self.runs:
            self.fault(f"run {number} was opened twice")
        run = self.runs[number] = Run(number, order, place, press, order.version, order.lines(place), self.now)
        self.going.append(run)
        order.runs.append(run)
        order.closed = False
        if "heads_short" in self.asked:
            self.fault(f"run {number}: asked about heads, though {press} has enough for two")
        run.strokes = {line.station: line.strokes for line in run.lines}
        self.dryer_runs(run)
        self.ink_comes_out(run)
        if self.chance(0.1):  # the other phone opens it too: the same run
            same = self.post("open", 0, lambda post, more: self.hands.open_run(self.lead, sent, post))
            if same != number:
                self.fault(f"a second phone got run {same}, not {number}")
        self.prove_target(run)
        return run

    def target_of(self, run: Run, by: str = "") -> Run | None:
        """The run whose settings were marked for next time (`by` then), the last mark of this job and those that it
        repeats."""
        order: Order | None = run.order
        name = run.order.data["placement"][run.place - 1]["name"]
        marked: list[Run] = []
        while order is not None:
            marked += [
                one
                for one in order.runs
                if one.marked
                and (not by or one.marked <= by)
                and one is not run
                and order.data["placement"][one.place - 1]["name"] == name
            ]
            order = self.orders.get(order.repeats) if order.repeats else None
        return max(marked, key=lambda one: one.marked, default=None)

    def compared(self, run: Run) -> Run | None:
        """The run that its print is held against: the one that its set-up was noted by, else the one that was marked
        last by its approval, else the approved one that printed last before it."""
        if run.sheet_strokes is not None and run.set_by is not None:
            return run.set_by
        name = run.order.data["placement"][run.place - 1]["name"]
        before: list[Run] = []
        order: Order | None = run.order
        while order is not None:  # the nearest order first, its last run first
            ours = [one for one in order.runs if order.data["placement"][one.place - 1]["name"] == name]
            before += [one for one in reversed(ours) if one is not run and one.approved]
            order = self.orders.get(order.repeats) if order.repeats else None
        marked = [one for one in before if one.marked and one.marked <= run.approved_at]
        if run.sheet_strokes is None and marked:
            return max(marked, key=lambda one: one.marked)
        return next((one for one in before if one.good and one.number < run.number), None)

    def aim(self, run: Run) -> None:
        """What the dryer of a run is to come to: as it was at the approval of the same garment in the run that it is to
        meet, the one that its set-up was noted by."""
        met = run.set_by if run.sheet_strokes is not None else self.target_of(run, run.approved_at)
        garment = run.garment or (1 if len(run.order.data["garment"]) > 1 else None)
        heat = met.proof_heat if met is not None else {}
        run.heat_met = heat.get(garment, [(None, None), *heat.values()][-1])

    def prove_target(self, run: Run) -> None:
        """Every repeat names the approved run that it goes by, where somebody marked one; else the job sheet."""
        marked = self.target_of(run)
        wanted = f"approved run {marked.number}" if marked else "job sheet"
        plan = run_plan.plan(self.db, run.number)
        source = target.aim(self.db, plan.job, run.place, plan.run)[1]
        if source != wanted:
            self.fault(f"run {run.number} goes by “{source}”, not by “{wanted}”")
        if marked:
            self.note("repeat by its approved run")

    def told(
        self,
        run: Run,
        frame: Frame,
        line: Line,
        head: int | None = None,
        in_hand: bool = False,
        head_free: bool = False,
    ) -> Told:
        """What must be said of a frame that is held up to the press for a line."""
        return at_press(Case(frame, line, run, head, self.now, self.logs, in_hand, self.busy(run), head_free))

    def busy(self, run: Run) -> set[int]:
        """The heads of its press that screens of other runs have."""
        beside = [one for one in self.going if one.press == run.press and one is not run]
        return {one.heads[station] for one in beside for station in one.hung}

    def look(
        self,
        who: Actor,
        run: Run,
        frame: Frame,
        line: Line,
        head: int | None,
        in_hand: bool = False,
        head_free: bool = False,
    ) -> tuple[Told, str]:
        """Somebody scans a frame at the press: what must be said of it, and how loud the program is; both into the
        book."""
        told = self.told(run, frame, line, head, in_hand, head_free)
        found = self.hands.check(who, run.number, frame.code, line.station, head, in_hand, head_free)
        self.weigh(run, frame, line, told, found)
        return told, str(found.level)

    def weigh(self, run: Run, frame: Frame | None, line: Line | None, told: Told, found: Verdict) -> None:
        """Into the book with what the program says; what is wrong with it is a fault."""
        said = [(one.key, str(one.level)) for one in found.reasons if str(one.level) != "ok"]
        run.told |= {key for key, _level in said}
        for sort, kind in self.verdicts.hold(run.number, told, str(found.level), said):
            self.note(sort)
            if kind in NOT_YET:
                continue
            if sort != NEEDLESS or self.verdicts.faults[sort, kind] < 4:
                must = {name: "/".join(levels) for name, levels in told.must.items()}
                of = f", position {line.station}, screen {frame.number}" if frame and line else ""
                self.fault(
                    f"run {run.number}{of}: {sort} ({kind}); "
                    f"said {said}, should be {must}, may be {sorted(told.may) if len(told.may) < 9 else 'any'}"
                )

    def mend(self, frame: Frame, told: Told) -> bool:
        """What people do about a caution before they hang a screen; whether anything was done."""
        done = False
        if told.stops and told.stops != ["stage"]:
            return False
        if frame.stage == "to clean" and self.chance(0.95):
            done = self.clean_again(frame)
        elif frame.stage in READY and frame.said == "to clean":
            self.forget_late(frame, "clean")
            done = self.log(self.room[0], frame, "clean", stage=frame.stage)
        elif frame.stage in READY and frame.said in {"imaged", "exposed"} and self.chance(0.8):
            done = self.make_up(frame)
        if {"check", "worn"} & set(told.must) and frame.stage in {"to check", *READY} and self.chance(0.6):
            self.forget_late(frame, "check")
            stage = "ready" if frame.stage == "to check" else frame.stage
            done = self.log(self.room[1], frame, "check", stage=stage, result="good") or done
        if "reading" in told.must and self.chance(0.6):
            self.measure(frame)
            done = True
        return done

    def make_up(self, frame: Frame) -> bool:
        """What was forgotten in the screen room is written down now, with the time when it was done."""
        self.late = [one for one in self.late if one.frame is not frame]
        washed = frame.stencil.washed if frame.stencil else None
        if washed is not None and "washout" in self.logs:
            at = washed.replace(microsecond=0) + timedelta(seconds=1)
            if self.log(self.room[0], frame, "washout", neutral=True, at=at, result="good"):
                self.census.late(frame, at, "to check")
                frame.said = "to check"
        return self.log(self.room[1], frame, "check", stage=frame.stage, result="good")

    def clean_again(self, frame: Frame) -> bool:
        """What just came off a press is wanted again at once."""
        if frame.decided == "strip":
            frame.decided = "keep"
            return self.log(self.room[0], frame, "decide", stage="kept", then="keep")
        return self.log(self.room[0], frame, "clean", stage="kept")

    def forget_late(self, frame: Frame, step: str) -> None:
        """What is logged now need not be typed in the evening."""
        self.late = [one for one in self.late if (one.frame, one.step) != (frame, step)]

    def put_back(self, frame: Frame, told: Told) -> None:
        """A screen that was stopped goes back, and what must be done with it is done."""
        self.note("put back")
        if {"slack", "weak", "emulsion", "failed", "wood", "mesh"} & set(told.stops):
            frame.fit = False

    def hang(self, run: Run, frame: Frame, line: Line, who: Actor, *, wrong: bool = False) -> bool:
        """Holds a screen up to the press and hangs it; somebody who may goes past a stop, with a reason. False: it was
        put back."""
        on_press = frame.on is not None
        head = run_plan.free_head(run_plan.plan(self.db, run.number), line.station)
        if frame.stage == "to clean":
            self.clean_again(frame)
        told, level = self.look(who, run, frame, line, head)
        if self.mend(frame, told):
            told, level = self.look(who, run, frame, line, head)
        if on_press:
            told, level = self.look(who, run, frame, line, head, True)
        head_free = self.misses_the_head(run, frame, line, who)
        if head_free:
            head = head_free
            told, level = self.look(who, run, frame, line, head, on_press, True)
        give_up = bool(told.stops) and not self.chance(0.15 if wrong else 0.25)
        sent: dict[str, Any] = {"screen": frame.code, "station": line.station, "head": head}
        sent |= {"head_taken": "yes"} if head_free else {}
        last: list[Actor] = [who]

        def call(post: str, more: dict[str, Any]) -> Any:
            for _tries in range(4):
                try:
                    return self.hands.hang(last[0], run.number, sent, post)
                except Worse as worse:
                    if worse.faults[0].where == "in_hand" and on_press:
                        sent["in_hand"] = "yes"
                    elif give_up:
                        raise
                    else:
                        sent["override"] = "printed before, it holds"
                except NotAllowed:
                    if give_up:
                        raise
                    last[0] = self.lead
            raise Refused("four tries were not enough")

        found = self.post("hang", 1, call, must=not told.stops)
        if found is None:
            self.note("wrong screen refused" if told.stops else "right screen refused")
            self.put_back(frame, told)
            return False
        if str(found.level) != level:
            since = self.told(run, frame, line, head, on_press, bool(head_free))
            if since.stops == told.stops:  # no time passed that dries a stencil
                self.fault(f"run {run.number}: screen {frame.number} was {level} when scanned, {found.level} when hung")
            level = str(found.level)
        if level in {"stop", "unknown"}:
            run.passed.add((frame.number, last[0].id))
            self.note("gone past")
        forced = level in {"stop", "unknown"} and frame.said not in {*READY, "on press", "away"}
        back = frame.back if on_press else (frame.said or "unknown") if forced else ""
        if forced and frame.stencil is not None:  # one that waits to be cleaned is none the worse
            only_inked = frame.said == "to clean" and frame.decided != "strip" and not frame.stencil.failed
            frame.stencil.forced |= not only_inked
        if frame.on is not None:  # taken from another run without a word
            self.note("taken from another run")
            if frame.back and frame.stencil is not None:
                frame.stencil.found = True
            other = self.runs[frame.on.run]
            other.remember(self.now)
            other.hung.pop(frame.on.station, None)
            frame.on.over = True
        self.put_on(run, frame, line)
        frame.back = back
        if back:  # what was forgotten was settled by that
            self.late = [one for one in self.late if one.frame is not frame]
        run.heads[line.station] = head or line.station
        return True

    def misses_the_head(self, run: Run, frame: Frame, line: Line, who: Actor) -> int:
        """Somebody means a head that another run has, by the log: now and then it is free by now, and they say so. That
        head; 0: they take another one."""
        taken = sorted(self.busy(run) - {run.heads[station] for station in run.hung})
        if not taken or self.hands.one_by_one or not self.chance(0.3, self.rng_dryer):
            return 0
        head = self.rng_dryer.choice(taken)
        self.look(who, run, frame, line, head, frame.on is not None)
        self.note("meant a head that another run has")
        if not self.chance(0.5, self.rng_dryer):
            return 0
        self.note("said that a head is free")
        return head

    def beside(self, run: Run, who: Actor) -> Iterator[None]:
        """A small job is printed on the heads beside those of a run that waits."""
        task = None if self.beside_one or self.hands.one_by_one else self.next_task()
        if task is None:
            return
        self.note("two runs on one press")
        self.beside_one = True
        task[0].begun.add(task[1])
        yield from self.print_it(run.press, *task)
        self.beside_one = False

    def put_on(self, run: Run, frame: Frame, line: Line) -> None:
        """A screen hangs, noted."""
        run.remember(self.now)
        hanging = Hanging(run.number, line.station, frame.number, frame.stencil)
        frame.hangings.append(hanging)
        run.hangings.append(hanging)
        if frame.stencil is not None:
            frame.stencil.hangings.append(hanging)
        same = run.paused and run.proof.get(line.station) == frame.number
        if run.approved and run.prints(line) and not same:  # what this garment doesn't take changes none of its print
            run.change("screen", line.station, str(frame.number))
        frame.stage, frame.said, frame.since, frame.decided = "on press", "on press", self.now, ""
        frame.strips_said = frame.strips
        frame.acts += 1
        frame.moved(run.press)
        frame.kept_for = 0
        run.hung[line.station] = frame

    def step(
        self,
        run: Run,
        who: Actor,
        step: str,
        must: bool = True,
        number: int = 1,
        also: Mapping[str, int] | None = None,
        **fields: Any,
    ) -> bool:
        """A step of a run. Pieces that are counted along with another step are a count of their own."""
        told = ("cause", "note", "approved_by", "photo", "sample", "what")
        values = {name: fields[name] for name in told if name in fields}
        if "good" in fields and step == "count":
            values["good"] = fields["good"]
        elif "good" in fields:
            also = {**(also or {}), "count": 1}
            values.pop("cause", None)
        past = set(run.gone_past)
        if step in {"start", "count"} and must:
            who, fields = self.go_on(run, who, fields)
        run.dated = None
        if step in self.hands.dated and self.chance(0.08):  # typed in later, with the time when it was
            self.note("a run's step dated back")
            run.dated = self.now - timedelta(minutes=self.rng.randint(1, 90))
            if step == "count":
                run.dated = max(run.opened, run.dated)
            fields["at"] = self.local(run.dated)
        if step in {"finish", "pause"}:
            values = {}
        done = self.post(
            step,
            number,
            lambda post, more: self.hands.run(who, run.number, step, {**fields, **more}, post),
            must=must,
            values=values,
            also=also,
        )
        if done is not None and step in {"pause", "start"}:
            run.paused, run.begun = step == "pause", run.begun or step == "start"
            run.gone_past = set() if run.paused else run.gone_past
            run.paused_at = self.now if run.paused else run.paused_at
        if done is not None and run.dated:  # what came only after it nobody went past with it
            known = {one for one in run.gone_past if run.stale_since.get(one, run.opened) <= run.dated}
            run.gone_past = past | known
        if done is not None and run.dated and run.paused_at and run.dated < run.paused_at:
            run.gone_past = past  # it was gone past before the pause, and is over with that
        return done is not None

    def go_on(self, run: Run, who: Actor, fields: dict[str, Any]) -> tuple[Actor, dict[str, Any]]:
        """Before a run starts or is counted its page says whether it may. Another first print is approved where one is
        wanted again, mostly; past a stop the lead goes, with a reason."""
        told, found = self.may_go_on(run, who)
        if "cure" in told.stops and self.chance(0.7, self.rng_dryer) and self.mend_dryer(run, who):
            told, found = self.may_go_on(run, who)
        if "again" in told.stops and self.chance(0.85):
            self.note("approved again")
            self.approve(run)
            told, found = self.may_go_on(run, who)
        if str(found.level) not in {"stop", "unknown"}:
            return who, fields
        self.note("went on by the lead's word")
        run.gone_past |= causes_of(run, self.compared(run)).keys()
        return self.lead, {**fields, "override": "as agreed with the customer"}

    def may_go_on(self, run: Run, who: Actor) -> tuple[Told, Verdict]:
        """What must be said of going on with a run, and what the program says; both into the book."""
        run.against = self.compared(run)
        self.aim(run)
        told = going_on(run, self.mixes, self.now, run.against, self.busy(run))
        found = self.hands.going(who, run.number)
        self.weigh(run, None, None, told, found)
        for kind in {"cure", "colour"} & set(told.stops):
            self.note(f"stopped by its {kind}")
        return told, found

    def mend_dryer(self, run: Run, who: Actor) -> bool:
        """The belt runs slower, and the ink is measured again; whether that was noted."""
        if run.sheet_strokes is None or (run.stands and None in run.heat_noted):
            return False
        was = run.heat_noted
        self.dryer_runs(run, well=True)
        noted = zip(("garment_peak", "hold"), was, run.heat, ("degC", "s"), strict=True)
        sent = {f"run.{name}": f"{now:g} {unit}" for name, then, now, unit in noted if then != now}

        def call(post: str, more: dict[str, Any]) -> Any:
            why = {"why": "the ink was not cured"} if run.stands else {}
            self.hands.sheet(who, run.number, {**sent, **why}, post)
            return True

        step, number = ("change", len(sent)) if run.stands else ("sheet", 1)
        if sent and not self.post(step, number, call):
            return False
        self.note("dryer mended")
        run.heat_noted = run.heat
        for name in sent:
            run.measured_by[name.removeprefix("run.")] = who.id
        return True

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
        if run.missing:
            yield from self.give_up(run, who)
            return
        if self.chance(0.02) and not order.printed and len(run.lines) > 1:
            yield from self.station_gone(run, who)
            return
        self.set_up(run, who)
        yield
        if run.missing:
            yield from self.give_up(run, who)
            return
        if self.chance(0.03) and not order.printed and self.new_revision(order):
            self.prove_changed(run)
            if self.chance(0.6):  # its screens are of the revision before
                yield from self.give_up(run, who)
                return
        if self.chance(0.95):
            self.approve(run)
        if len(order.data["garment"]) > 1 and run.garment is None:
            if self.step(run, who, "start", garment=1, also={"change": 1}):
                run.remember(self.now)
                run.garment = 1
        else:
            self.step(run, who, "start")
        yield from self.print_pieces(run, who)

    def approve(self, run: Run) -> None:
        """The first print is approved, with a picture and readings of its colours where somebody takes the time."""
        sent: dict[str, Any] = {"approved_by": "Cy Marsh", "approved_as": "press"}
        self.aim(run)
        told = approving(run)
        self.weigh(run, None, None, told, self.hands.approving(run.number))
        if told.stops:
            if self.step(run, self.lead, "approve", must=False, **sent):
                self.fault(f"run {run.number}: a print that is not cured was approved without a word")
            if not (self.chance(0.7, self.rng_dryer) and self.mend_dryer(run, self.crew[0])):
                self.note("approved though not cured")
                sent["override"] = "the customer wants it now"
        if self.chance(0.2):
            self.note("photo at approval")
            run.photo = pictures.take(self.db, self.lead, self.photo, now=self.now)
            sent |= {"photo": run.photo, "sample": "in the drawer of the press", "how": "shirt in hand"}
        several = len(run.order.data["garment"]) > 1
        read = self.read_colours(run, 1 if several and run.garment is None else run.garment)
        for line in run.lines:
            if line.key[4] in read:
                sent[f"lab.{line.station}"] = f"{read[line.key[4]][0]:.2f} 4 12,5"
        if read:
            sent |= {"lab_light": "D50", "lab_observer": "2°", "lab_mode": "M1", "lab_instrument": "invented meter"}
        other = run.proof_of not in (None, run.garment)
        run.photo = run.photo if "photo" in sent or not other else ""  # of each garment its own
        anew = other or run.frozen is not None and run.frozen != run.setting
        also = {"sheet": 1} if anew and run.sheet_strokes is not None else {}
        if several and run.garment is None:
            sent["garment"], also["change"] = 1, 1
        if self.step(run, self.lead, "approve", also=also or None, **sent):
            if "garment" in sent:
                run.remember(self.now)
                run.garment = 1
            run.gone_past |= set(undercured(run)) if "override" in sent and told.stops else set()
            run.approve()
            run.labs[run.garment], run.approved_at = read, self.now.isoformat()  # a reading is of its own print
            run.to_meet[run.garment] = {**run.to_meet.get(run.garment, {}), **read}

    def read_colours(self, run: Run, garment: int | None) -> dict[str, tuple[float, frozenset[str]]]:
        """The lightness of each colour of a first print, where somebody takes the time, rather if it was read last
        time."""
        rng, last = self.rng_dryer, self.compared(run) or self.target_of(run)
        if not self.meter and not self.chance(0.65 if last and last.lab else 0.25, rng):
            return {}
        self.note("colour read at approval")
        return {
            line.key[4]: (
                round(run.really[line.key[4]] + rng.uniform(-0.1, 0.1), 2),
                run.order.poured(line, garment),
            )
            for line in run.lines
            if run.prints(line, garment)
        }

    def ink_comes_out(self, run: Run) -> None:
        """The lightness of each colour as this run lays it down; now and then it is another white or red."""
        off = self.rng_dryer.choice((0,) * 16 + (0, 1.5, 4, -4))
        run.really = {line.key[4]: 50.0 + off * (line is run.lines[0]) for line in run.lines}

    def weigh_colours(self, run: Run) -> None:
        """A repeat has gone to the customer: whether its colours were those of the run that it is held against, and
        what was said of that while it ran."""
        against = run.against
        if against is None or not run.good or not run.approved:
            return
        known = {line.key[4] for line, far in differences(run, against) if far is not None}
        both = run.really.keys() & against.really.keys()
        off = {name for name in both if abs(run.really[name] - against.really[name]) > COLOUR_FAR}
        told = any(KIND.get(key, "").startswith("colour") for key in run.told)
        stopped = "print-colour-far" in run.told
        self.verdicts.repeats["off" if off else "right", bool(known & (off or both)), stopped, told] += 1

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
            self.prove_short(run, frame)
            self.hang(run, frame, line, who)
            if self.chance(0.2):
                yield

    def prove_short(self, run: Run, frame: Frame) -> None:
        """A screen that another open run waits for, and no other carries it: that run is named as running short."""
        plan = run_plan.plan(self.db, run.number)
        named = {
            (one.job.id, one.run)
            for one in at_press_now.runs_short(self.db, plan, find_now.screen(self.db, frame.code), self.now)
        }
        for other in self.runs.values():
            if other.finished or other.order is run.order:
                continue
            asked = {line.key for line in other.order.lines(other.place)}  # what its job asks for no more, nobody saves
            keys = {line.key for line in other.lines} & asked & frame.images
            spare = {
                key
                for one in self.frames.values()
                for key in keys & one.images
                if one is not frame
                and {one.stage, one.said} & {"ready", "kept", "to check", "on press", "to clean"}  # by the log, too
            }
            if keys - spare and frame.said == frame.stage:
                self.note("told what runs short")
                if (other.order.number, other.number) not in named:
                    self.fault(f"run {other.number} waits for screen {frame.number} and is not among {named}")

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
        gone = stations.pop(last)["separation"]
        for way in data.get("colourway", ()):
            way["inks"].pop(gone, None)
        data["colourway"] = [way for way in data.get("colourway", ()) if way["inks"]]
        self.note("station taken out")
        if self.change_to(run.order, data):
            self.prove_changed(run)
        yield
        if self.finish(run, who, "undecided"):
            run.order.begun.discard(run.place)

    def prove_changed(self, run: Run) -> None:
        plan = run_plan.plan(self.db, run.number)
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
            first = marked.proof_strokes.get(1) or marked.sheet_strokes  # it is set up for the first garment
            strokes |= {number: count for number, count in first.items() if number in strokes}
        sent: dict[str, Any] = {"s1.squeegee": "70", "run.adhesive": "sparingly"}
        if self.chance(0.1):
            line = self.rng.choice(run.lines)
            strokes[line.station] = 3
            sent[f"s{line.station}.strokes"] = "3"
        run.inks_now = set()
        if any(line.ink == "discharge" for line in run.lines) and (not self.inks or self.chance(0.6)):
            if code := self.bucket("discharge", "discharge ink"):
                self.inks.append(code)
        for line in run.lines:
            if line.ink == "discharge":
                sent[f"s{line.station}.bucket"] = self.inks[-1]
                run.inks_now.add((line.station, self.inks[-1], ""))
            elif self.chance(0.5):
                sent[f"s{line.station}.ink_lot"] = self.pots[line.colour]
                run.inks_now.add((line.station, "", self.pots[line.colour]))
        if self.chance(0.3):
            each = self.hands.one_by_one and len(run.order.data["garment"]) > 1  # a page asks for that of each garment
            sent["run.garment_lot.1" if each else "run.garment_lot"] = f"G-{self.day // 14}"
            run.inks_now.add((0, "", f"G-{self.day // 14}"))

        told: dict[str, Any] = {}

        def call(post: str, more: dict[str, Any]) -> Any:
            try:
                self.hands.sheet(self.lead if told else who, run.number, {**sent, **told}, post)
            except (Worse, NotAllowed):
                self.note("old ink gone past")
                run.gone_past.add("ink")
                told["override"] = "the last shirts only"
                self.hands.sheet(self.lead, run.number, {**sent, **told}, post)
            return True

        rng = self.rng_dryer
        measured = run.heat if self.chance(0.5, rng) else (None, None)
        sent |= {"run.garment_peak": f"{measured[0]:g} degC", "run.hold": f"{measured[1]:g} s"} if measured[0] else {}
        if self.post("sheet", 1, call):
            run.strokes, run.sheet_strokes = strokes, dict(strokes)
            run.inks, run.heat_noted, run.set_by = set(run.inks_now), measured, marked
            run.noted_on = dict.fromkeys(run.inks, run.garment or 1)
            sender = self.lead if told else who
            run.measured_by = dict.fromkeys(("garment_peak", "hold"), sender.id) if measured[0] else {}

    def change_setting(self, run: Run, who: Actor) -> None:
        """After the approval something is set otherwise: strokes, or an ink out of another pot or bucket."""
        if not run.stands or run.sheet_strokes is None:
            return
        line = self.rng.choice(run.lines)
        sent: dict[str, Any] = {"why": "too thin"}
        took = {ink for ink in run.inks_now if ink[0] == line.station and run.takes(ink, run.garment)}
        inks: set[tuple[int, str, str]] = set()
        if self.chance(0.5):
            strokes = run.strokes[line.station] % 3 + 1
            sent[f"s{line.station}.strokes"] = str(strokes)
        else:
            strokes = run.strokes[line.station]
            self.mixed[line.colour] += 1
            if line.ink == "discharge":
                code = self.bucket("discharge", "discharge ink")
                self.inks.append(code)
                sent[f"s{line.station}.bucket"] = code
                inks = {(line.station, code, "")}
            else:
                self.pots[line.colour] = f"P-{line.colour}-{self.mixed[line.colour]}"
                sent[f"s{line.station}.ink_lot"] = self.pots[line.colour]
                inks = {(line.station, "", self.pots[line.colour])}

        def call(post: str, more: dict[str, Any]) -> Any:
            self.hands.sheet(who, run.number, sent, post)
            return True

        # with a bucket its lot is noted, if it is another one
        lots = {self.lots[bucket] for _station, bucket, _lot in inks if bucket}
        number = 1 + bool(lots - {self.lots.get(bucket, "") for _station, bucket, _lot in took})
        if self.post("change", number, call, values={"why": "too thin"}):
            self.note("strokes changed after approval" if not inks else "ink changed after approval")
            run.remember(self.now)
            run.strokes[line.station] = strokes
            if inks and took:
                was = self.same_ink(run.proof_inks.get(line.station) or next(iter(took)))
                is_now = self.same_ink(next(iter(inks)))
                run.change("ink", line.station, "" if was == is_now else str(next(iter(inks))))
            if inks:
                run.inks_now = run.inks_now - took | inks
                run.inks |= inks
                run.noted_on |= dict.fromkeys(inks, run.garment or 1)
            for ink in () if took else inks:
                run.late[ink] = self.now
                run.took[ink] += sum(good for garment, good in run.counted.items() if run.takes(ink, garment))

    def same_ink(self, ink: tuple[int, str, str]) -> tuple[int, str]:
        """Two buckets out of one lot are one ink."""
        return ink[0], self.lots.get(ink[1]) or ink[2]

    def print_pieces(self, run: Run, who: Actor) -> Iterator[None]:
        """All garments of the order, one colourway after the other; what is not counted goes with the next step."""
        left = 0
        for number, garment in enumerate(run.order.data["garment"], 1):
            if number > 1:
                yield
                if run.missing:  # somebody took a screen away meanwhile
                    yield from self.short(run, who, max(left, 1))
                    return
                along = {"good": left, "misprinted": 1} if left else {}
                if self.step(run, who, "change", what="colourway", garment=number, **along):
                    self.note("colourway changed")
                    self.printed(run, left, 1 if left else 0)
                    run.remember(self.now)
                    run.go_on_with(number)
            left = yield from self.print_garment(run, who, int(garment["pieces"]))
            if left < 0:
                return
        pieces = {"good": left, "misprinted": 1} if left > 0 else {}
        then = self.rng.choice(("keep", "strip", "strip", "undecided"))
        if not self.finish(run, who, then, **pieces):
            return
        run.order.done.add(run.place)
        if run.approved and self.chance(0.6):
            sent: dict[str, Any] = {}
            if wrong_target(run, self.compared(run)):
                if self.step(run, self.lead, "use-next-time", must=False):
                    self.fault(f"run {run.number} became the target without a word, its colour is another one")
                if not self.chance(0.3, self.rng_dryer):
                    return
                self.note("off colour became the target")
                sent["override"] = "the customer likes it better"
            done = self.post(
                "use-next-time",
                1,
                lambda post, more: self.hands.run(self.lead, run.number, "use-next-time", sent, post),
            )
            run.marked = self.now.isoformat() if done else ""
            if done and self.chance(0.05):  # the manager thinks otherwise, another day too
                self.note("mark crossed out")
                run.marked = "" if self.cross_out(self.boss, done[0]) else run.marked
        elif not run.approved:
            if self.step(run, self.lead, "use-next-time", must=False):
                self.fault(f"run {run.number} became the target without an approval")

    def print_garment(self, run: Run, who: Actor, pieces: int) -> Generator[None, None, int]:
        """Prints the pieces of one garment; how many are not counted yet, below zero: the run came to its end."""
        left = pieces
        while left > 0:
            yield
            self.tick(5)
            if run.missing:  # somebody took a screen away meanwhile
                yield from self.short(run, who, left)
                return -1
            part = min(left, self.rng.randint(20, 150))
            if self.chance(0.15):
                self.step(run, who, "stop", cause="pinhole", minutes="4")
            if self.chance(0.03):
                self.step(run, who, "change", what="pressure", why="too thin")
            if self.chance(0.04):
                self.change_setting(run, who)
            spoiled = min(self.rng.randint(0, 2), part)
            if left > part or self.chance(0.6):
                self.count(run, who, part - spoiled, spoiled)
                left -= part
            else:
                return left
            if left > 0 and self.chance(0.4):
                left -= self.swap(run, who, left)
            if left > 0 and self.chance(0.07):
                left -= yield from self.pause(run, who, left)
                if run.finished:
                    return -1
                if run.missing:
                    yield from self.short(run, who, max(left, 1))
                    return -1
            if left > 0 and self.chance(0.03) and not self.rushes:
                self.rush(run)
            if left > 0 and self.chance(0.03, self.rng_dryer):
                yield from self.beside(run, who)
        return 0

    def count(self, run: Run, who: Actor, good: int, spoiled: int) -> None:
        sent = {"good": good, "misprinted": spoiled, **({"cause": "ink"} if spoiled else {})}
        if self.chance(0.02):  # a slip of the finger: crossed out and typed again
            self.note("count crossed out")
            before = set(run.gone_past)
            who, fields = self.go_on(run, who, {"good": good * 10})
            done = self.post(
                "count",
                1,
                lambda post, more: self.hands.run(who, run.number, "count", {**fields, **more}, post),
            )
            if done:
                prints = sum(1 for line in run.lines if line.station in run.hung and run.prints(line)) if good else 0
                self.cross_out(who, done[0], number=1 + prints)  # the strokes on the screens go with it
                run.gone_past = before  # and what was gone past with it
        if self.step(run, who, "count", **sent):
            self.printed(run, good, spoiled)
        if good and self.chance(0.02):
            self.count_twice(run, good)

    def count_twice(self, run: Run, good: int) -> None:
        """The other one at the press counts the same pieces again; the manager sees it the day after."""
        if going_on(run, self.mixes, self.now, self.compared(run), self.busy(run)).stops:
            return
        done = self.post(
            "count",
            1,
            lambda post, more: self.hands.run(self.crew[1], run.number, "count", {"good": good, **more}, post),
        )
        if done is None:
            return
        self.note("counted twice by two")
        before, was = Counter(run.took), Counter(run.counted)
        laid = self.printed(run, good, 0)
        took, counted, at = run.took - before, run.counted - was, self.now

        def undo() -> None:
            run.good -= good
            run.took.subtract(took)
            run.counted.subtract(counted)
            late = [ink for ink, noted in run.late.items() if noted > at]
            run.took.subtract({ink: good for ink in late if any(run.takes(ink, garment) for garment in counted)})
            for hanging, impressions in laid.items():
                hanging.impressions -= impressions
            run.order.closed = run.order.closed and run.order.complete
            self.touched.add(run.number)

        self.regrets.append((done[0], 1 + len(laid), undo))

    def printed(self, run: Run, good: int, spoiled: int) -> dict[Hanging, int]:
        """What a count comes to: pieces of the run, strokes on each screen that this garment takes. One that is gone
        by then without a successor printed before it went."""
        run.good += good
        run.misprinted += spoiled
        run.order.printed = run.order.printed or good + spoiled > 0
        on = {one.station: one for one in run.hangings}  # the last one of each
        garment, strokes, inks, at = run.garment, run.strokes, run.inks_now, run.dated or self.now
        if run.dated is not None:  # typed in later: what hung then printed it, with the garment and strokes of then
            then = run.then(run.dated)
            on, garment, strokes, inks = on | then.hung, then.garment, then.strokes or strokes, then.inks or inks
            run.dated = None
        laid = {
            on[line.station]: (good + spoiled) * strokes[line.station]
            for line in run.lines
            if run.prints(line, garment) and line.station in on and good + spoiled
        }
        inks = inks | {ink for ink, noted in run.late.items() if noted > at}
        run.took.update({ink: good for ink in inks if run.takes(ink, garment)})
        run.counted[garment] += good
        for hanging, impressions in laid.items():
            hanging.impressions += impressions
            hanging.printed = max(at, hanging.printed or at)
        for frame in run.hung.values():
            frame.loosen(0.02 if self.rng.random() > 0.001 else 8.0)
        return laid

    def swap(self, run: Run, who: Actor, left: int) -> int:
        """A screen breaks down: a spare goes on its head, checked as at set-up; the pieces counted along with it."""
        on = [line for line in run.lines if line.station in run.hung]
        spares = [(line, spare) for line in on if (spare := self.right_frame(line, run.hung[line.station]))]
        if not spares or self.told(run, spares[0][1], spares[0][0]).stops:
            return 0
        line, new = spares[0]
        old = run.hung[line.station]
        sent = {"old": old.code, "new": new.code, "why": "pinholes", "condition": "pinholes", "override": "it holds"}
        along = self.rng.randint(1, left) if self.chance(0.4) else 0
        if not self.step(run, self.lead, "swap", **sent, **({"good": along} if along else {})):
            return 0
        self.note("swapped")
        self.printed(run, along, 0)
        self.off(run, old, "undecided", condition="pinholes")
        run.passed.add((new.number, self.lead.id))
        self.put_on(run, new, line)
        return along

    def off(self, run: Run, frame: Frame, then: str, condition: str = "") -> None:
        """A screen comes off, noted; `condition`: how it is, where somebody said."""
        assert frame.on is not None
        run.remember(self.now)
        run.hung.pop(frame.on.station)
        frame.on.over = True
        frame.came_off, frame.kept_for = run.number, 0
        frame.decided = "" if then == "undecided" else then
        frame.torn = frame.torn or condition == "torn"
        if frame.stencil is not None and condition:  # nobody said how: it is as it was
            frame.stencil.condition = condition if condition == "pinholes" else ""
        frame.stage = "to restretch" if frame.torn else "kept" if then == "keep" else "to clean"
        frame.said, frame.since, frame.lies = frame.stage, self.now, ""
        if frame.uses - frame.uses_before in {1, 2}:
            frame.loosen(0.02 * new_mesh(frame))
        if frame.back and not frame.torn and not (then == "strip" and frame.stencil):
            frame.said, frame.decided, frame.back = frame.back, "", ""
        elif frame.said == "to clean" and "clean" not in self.logs:
            frame.said = "to strip" if then == "strip" else "kept"
        frame.acts += 1

    def pause(self, run: Run, who: Actor, left: int) -> Generator[None, None, int]:
        """The screens come off, something else prints, then they hang again with their check repeated; the pieces
        counted along. Now and then nobody goes on: the run ends there."""
        along = self.rng.randint(1, left) if self.chance(0.3) else 0
        if not self.step(run, who, "pause", **({"good": along} if along else {})):
            return 0
        self.note("paused")
        self.printed(run, along, 0)
        was = dict(run.hung)
        for frame in was.values():
            self.off(run, frame, "keep")
            frame.kept_for = run.number
        if self.chance(0.5):
            self.rush(run)
        for _steps in range(self.rng.randint(1, 30)):
            yield
        if self.chance(0.1):
            self.note("ended while paused")
            if self.finish(run, who, self.rng.choice(("keep", "strip"))):
                run.order.done.add(run.place)
            return along
        for line in run.lines:
            if line.station not in was:
                continue
            frame = was[line.station]
            if frame.stage == "kept" and line.key in frame.images:
                self.hang(run, frame, line, who)
            elif other := self.right_frame(line):
                self.hang(run, other, line, who)
        if not run.missing:
            self.step(run, who, "start")
        return along

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
        hung = {one.station for one in run.hangings}
        hung_once = run.begun and all(line.station in hung for line in run.missing)
        if self.step(run, who, "count", must=False, good=1) != hung_once:
            self.fault(f"run {run.number} counted though a screen is missing: {not hung_once}")
        elif hung_once and "before" not in self.asked:
            self.fault(f"run {run.number}: nobody was asked whether it was printed before its screen went")
        if hung_once:
            self.printed(run, 1, 0)
        good = min(left, 10)
        if self.finish(run, who, "keep", good=good) and all(line.station in hung for line in run.lines):
            self.note("counted with a screen gone")
        run.order.done.add(run.place)

    def of(self, hanging: Hanging) -> Frame:
        """The frame that hung there."""
        return self.frames[hanging.frame]

    def lying(self, run: Run) -> list[Frame]:
        """The screens that came off in a run, at a pause or in a swap, and lie there as they came off: of which nobody
        decided, or that the pause alone kept."""
        last = {one.frame: one for one in run.hangings}
        came_off = [self.frames[number] for number, one in last.items() if one.over]
        return [
            one
            for one in came_off
            if one.came_off == run.number and one.on is None and one.said == "kept"
            if one.stencil is not None and one.stencil is last[one.number].stencil
            if not one.decided or one.kept_for == run.number
        ]

    def finish(self, run: Run, who: Actor, then: str, **pieces: Any) -> bool:
        """The end: all keep, all strip, or pick; now and then a mesh is torn by then. A second phone is too late."""
        sent: dict[str, Any] = {"then": then, **pieces}
        own: dict[int, str] = {}
        noted: dict[int, str] = {}
        for frame in run.hung.values():
            if self.chance(0.15):
                own[frame.number] = self.rng.choice(("keep", "strip"))
                sent[f"then.{frame.code}"] = own[frame.number]
            if self.chance(0.008):
                self.note("torn")
                noted[frame.number] = "torn"
            elif self.chance(0.4):
                noted[frame.number] = "pinholes" if self.chance(0.03) else "good"
            if frame.number in noted:
                sent[f"condition.{frame.code}"] = noted[frame.number]
        more = int(pieces.get("good", 0))
        needs = {frame.number: self.still_needed(frame, run, more) for frame in map(self.of, run.hangings)}
        if not self.step(run, who, "finish", **sent):
            return False
        if "still_needed" in self.asked and not run.dated and set(needs.values()) <= {False}:
            self.fault(f"run {run.number}: asked whether what nobody needs is still needed, at its finish")
        for one in run.hangings if "still_needed" in self.asked else ():
            if one.stencil is not None and needs[one.frame] is not False:  # it goes all the same
                one.stencil.asked = True
        strips = {one.number for one in run.hung.values() if own.get(one.number, then) == "strip"}
        if "still_needed" in self.asked and any(needs[number] for number in strips):
            self.note("gave up what is needed")
        dated, lying = run.dated, self.lying(run)
        self.touched.add(run.number)
        if pieces:
            self.printed(run, int(pieces.get("good", 0)), int(pieces.get("misprinted", 0)))
        for frame in list(run.hung.values()):
            on, hung = frame.on, frame.since
            self.off(run, frame, own.get(frame.number, then), noted.get(frame.number, ""))
            if dated is not None:
                last = max(one for one in (dated, hung, on.printed if on else None) if one is not None)
                self.census.late(frame, last, frame.said or "unknown")  # not before it printed
        for frame in lying if then != "undecided" else ():  # what is said of all holds for these too
            frame.decided, frame.kept_for = then, 0
            if then == "strip":
                frame.stage = "to strip" if frame.stage == "kept" else frame.stage
                frame.said = "to strip"
        run.finished = True
        self.going.remove(run)
        run.order.closed = run.order.closed or run.order.complete
        self.weigh_colours(run)
        if self.chance(0.1):
            self.note("second phone finished too")
            if self.step(run, self.lead, "finish", must=False, then="strip", good=5):
                self.fault(f"run {run.number} was finished twice")
        return True

    # Days

    def live(self, days: int) -> None:
        """Lets the shop live some days, weekends off, and proves it after each; monthly everything, and each fourth
        month the whole file."""
        for name in PRESSES:
            self.presses[name] = self.presses[name] or self.press_day(name)
        for _unused in range(days):
            self.day += 1
            self.now = max(self.now, self.start + timedelta(days=self.day - 1))
            if self.now.astimezone(ZONE).weekday() >= 5:
                continue
            self.work()
            self.prove_day()
            if self.day - self.proved >= 30:
                self.prove_month(whole=self.day // 30 % 4 == 0)

    def work(self) -> None:
        if self.chance(0.6) and self.day > 1:
            self.mix()
        if self.day % 7 == 1:
            self.pot_lots()
        self.regret()
        self.close_orders()
        placements = 0.0
        target = self.rate + self.rng.uniform(-2, 2)
        while placements < target:
            order = self.new_order()
            if order is None:
                break
            placements += len(order.data["placement"])
        for order in self.coming[-60:]:
            if self.chance(0.02) and (order.printed or not order.begun):
                self.change_order(order)
        self.make_screens()
        if "coat" in self.logs and self.chance(0.1):
            self.coat_for_stock()
        for _steps in range(45):
            for name in PRESSES:
                going = self.presses[name]
                assert going is not None
                next(going)
        self.look_after()
        self.type_late()
        if "rack" in self.logs and self.chance(0.2):
            self.take_stock()

    def close_orders(self) -> None:
        """An order that stays short by what was spoiled is closed by the manager; the others close by themselves."""
        for order in self.coming:
            going = any(not run.finished for run in order.runs)
            if going or order.closed or not order.over or not self.chance(0.4):
                continue
            self.post(
                "close",
                0,
                lambda post, more, o=order: jobs.close(
                    self.db, self.boss, find_now.job(self.db, o.code), True, post=post, now=self.now
                ),
            )
            order.closed = True
        self.coming = [one for one in self.coming if not (one.over and one.closed)]

    def close(self) -> None:
        if isinstance(self.hands, Pages):
            self.hands.close()
        self.raw.close()
        self.db.close()
