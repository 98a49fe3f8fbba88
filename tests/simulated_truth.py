"""What really is in the simulated shop: frames, stencils, orders, runs, lots. Simple rules, never read out of the
program."""

from __future__ import annotations

from bisect import insort
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import zip_longest
from types import MappingProxyType
from typing import Any, NamedTuple

Key = tuple[str, str, str, int, str]
"""An image as the trade tells it apart: customer, art, revision, width in whole mm, name."""
STENCIL_ON = frozenset({"coated", "imaged", "exposed", "to check", "ready", "on press", "to clean", "kept", "to strip"})


@dataclass(eq=False)
class Pot:
    """A mixed bucket: what is in it, since when, how its last strip came out ("": none was made) and when."""

    code: str
    kind: str
    mixed: datetime
    resistant: bool = True
    tested: str = ""
    tested_at: datetime | None = None

    def past(self, at: datetime, lasts: timedelta) -> bool:
        """Whether its time was over."""
        return at > self.mixed + lasts


@dataclass(eq=False)
class Reading:
    """What a tension meter showed along the warp and, where that was measured, along the weft, in N/cm, and how many
    stencils were noted since; the hours and uses of the mesh by then, since it was stretched."""

    at: datetime
    shown: tuple[float, ...]
    hours: float = 0.0
    uses: int = 0
    stencils: int = 0
    weft: tuple[float, ...] = ()

    @property
    def every(self) -> tuple[float, ...]:
        """Both ways."""
        return self.shown + self.weft


@dataclass(eq=False)
class Stencil:
    """A stencil as it was made, and where it printed. `buckets`: those that were noted, by code; `pots`: what it really
    was coated with; `step`: what the step wedge really held; `washed`: really; `hard`: it was hardened; `asked`: it was
    asked about as still needed, and goes all the same; `found`: somebody had to say that it was in hand;
    `forced`: it was hung though it was not ready, and nobody has checked it since.

    `noted`: what of it stands in the log: when it was coated, exposed, washed out, well checked; the light in s; the
    step. `noted_pots`: as `buckets`, in the order of the coats; `failed`: its last washout or check was a fault;
    `condition`: how it last came off, where that was noted and nobody looked at it since.
    """

    frame: int
    buckets: list[str] = field(default_factory=list)
    hangings: list[Hanging] = field(default_factory=list)
    pots: list[Pot] = field(default_factory=list)
    noted_pots: list[Pot] = field(default_factory=list)
    step: float = 7.0
    washed: datetime | None = None
    noted: dict[str, Any] = field(default_factory=dict)
    failed: bool = False
    condition: str = ""
    hard: bool = False
    asked: bool = False
    found: bool = False
    forced: bool = False


@dataclass(eq=False)
class Hanging:
    """One time on a press, on one head. `stencil` None: a bare frame hung by mistake; `printed`: when last."""

    run: int
    station: int
    frame: int
    stencil: Stencil | None
    impressions: int = 0
    over: bool = False
    printed: datetime | None = None


@dataclass(eq=False)
class Frame:
    """A screen as it lies there. `said`: the stage that the log should give; it lags while somebody forgot a step.
    None: by the log nobody can tell. `lies`, `place_said`: where it is, and where by the log. `pull`: how tight it
    really is, in N/cm, at the centre, the corners and the sides, `weft`: its share of that the other way; `settles`:
    what new mesh has yet to lose; `read`: the last reading that was noted; `slack`: that was noted as a fault;
    `accepted`: who accepted another mesh for its image (room, lead); `stretched`: also the last time that it was pulled
    tight again, `uses_before`: its uses until then; `back`: the stage that the log gives it when it comes off, where it
    hangs in spite of that; `missed`: since when a stock-take looked for it in vain."""

    number: int
    codes: list[str]
    mesh: tuple[str, str]
    kind: str = "aluminium"
    stage: str = "bare"
    said: str | None = "bare"
    images: set[Key] = field(default_factory=set)
    stencil: Stencil | None = None
    fit: bool = False
    accepted: str = ""
    thread_known: bool = True
    torn: bool = False
    slack: bool = False
    decided: str = ""
    came_off: int = 0  # the run that it last came off
    kept_for: int = 0  # the run that it came off at a pause of, and waits for
    away_from: str = ""
    strips: int = 0
    strips_said: int = 0
    believed: bool = False  # by the log a stencil is on it that never was
    pull: list[float] = field(default_factory=lambda: [25.0] * 9)
    weft: float = 1.0
    read: Reading | None = None
    stretched: datetime | None = None
    uses_before: int = 0
    settles: float = 0.0
    back: str = ""
    hangings: list[Hanging] = field(default_factory=list)
    since: datetime | None = None
    busy: bool = False
    acts: int = 0
    lies: str = ""
    place_said: str = ""
    moves: int = 0
    missed: datetime | None = None

    @property
    def code(self) -> str:
        return self.codes[-1]

    @property
    def mesh_said(self) -> str:
        """Count and thread, which tell meshes apart."""
        return f"{self.mesh[0]} · {self.mesh[1]} µm" if self.thread_known else self.mesh[0]

    @property
    def impressions(self) -> int:
        return sum(hanging.impressions for hanging in self.hangings)

    @property
    def uses(self) -> int:
        """Times on a press that printed; on again in the same run, with the same stencil, is still that time."""
        printed = [(one.run, one.stencil) for one in self.hangings if one.over and one.impressions]
        return sum(1 for before, one in zip([None, *printed], printed, strict=False) if one != before)

    def hours(self, now: datetime) -> float:
        """How long ago its mesh was stretched."""
        return (now - self.stretched) / timedelta(hours=1) if self.stretched else 0.0

    @property
    def on(self) -> Hanging | None:
        """Where it hangs now."""
        return self.hangings[-1] if self.hangings and not self.hangings[-1].over else None

    @property
    def here(self) -> bool:
        """Whether it can be seen in a rack."""
        return self.stage not in {"on press", "away", "retired"}

    def loosen(self, by: float) -> None:
        """The mesh gives way."""
        self.pull = [value - by for value in self.pull]

    def settle(self, now: datetime) -> None:
        """New mesh gives way most in its first day and with its first washing."""
        if self.settles and self.stretched is not None and now - self.stretched > timedelta(hours=24):
            self.loosen(self.settles)
            self.settles = 0.0

    def moved(self, place: str) -> None:
        """It was put somewhere, and that was logged."""
        self.lies = self.place_said = place
        self.moves += 1
        self.missed = None


@dataclass(frozen=True)
class Line:
    """A line of the print order that prints. `garments`: on which garments of the order, from 1."""

    station: int
    key: Key
    mesh: tuple[str, str]
    strokes: int
    ink: str
    colour: str
    garments: frozenset[int] = frozenset({1})


@dataclass(eq=False)
class Order:
    """A job. `data` as in a job file; `printed`: a run of it was counted, so its sheet stands; `closed`: off the
    boards."""

    number: int
    code: str
    data: dict[str, Any]
    due: datetime
    repeats: int | None = None
    version: int = 1
    printed: bool = False
    closed: bool = False
    begun: set[int] = field(default_factory=set)
    done: set[int] = field(default_factory=set)
    runs: list[Run] = field(default_factory=list)

    def poured(self, line: Line, garment: int | None) -> frozenset[str]:
        """The colours of ink that a line may have put on a garment (from 1; None: on any that it prints on)."""
        found = set()
        for number, one in enumerate(self.data["garment"], 1):
            if number in line.garments and garment in {None, number}:
                ways = [way for way in self.data.get("colourway", ()) if way["garment"]["colour"] == one["colour"]]
                other = next((way["inks"][line.key[4]] for way in ways if line.key[4] in way["inks"]), None)
                found.add(str(other["colour"]) if other else line.colour)
        return frozenset(found)

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
            garments = frozenset(
                count
                for count, garment in enumerate(data["garment"], 1)
                if all(
                    way["inks"].get(station["separation"]) is not False
                    for way in data.get("colourway", ())
                    if way["garment"]["colour"] == garment["colour"]
                )
            )
            found.append(
                Line(number, key, mesh, station.get("strokes", 1), station["ink"], station["colour"], garments)
            )
        return found

    @property
    def pieces(self) -> int:
        return sum(int(garment["pieces"]) for garment in self.data["garment"])

    @property
    def over(self) -> bool:
        """Every placement was printed, or given up."""
        return len(self.done) == len(self.data["placement"])

    @property
    def complete(self) -> bool:
        """The finished runs of every placement came to the pieces ordered."""
        good: Counter[int] = Counter()
        for run in self.runs:
            if run.finished:
                good[run.place] += run.good
        return all(good[place] >= self.pieces for place in range(1, len(self.data["placement"]) + 1))


Heat = tuple[float | None, float | None]
"""The peak in degC and the time at it in s; None: nobody said."""
Ink = tuple[int, str, str]
"""What a station (0: the whole run) took: the code of a bucket, or a lot by name."""


class Then(NamedTuple):
    """How a run printed at a time: what hung by print order, the garment said, the strokes (None: no sheet yet),
    what it took its ink from."""

    hung: dict[int, Hanging]
    garment: int | None
    strokes: dict[int, int] | None
    inks: set[Ink]


@dataclass(eq=False)
class Run:
    """A run as it went. `strokes` by print order as they are now; `sheet_strokes`: as the approval froze them;
    `marked`: use these next time; `garment`: the one said to be printed (None: not said); `inks`: all that was noted,
    each on the garment `noted_on`, with the good pieces that `took` it; `late`: what was noted, and when, once pieces
    were `counted` (by garment) where nothing was before: it tells of them too. `begun`: it was started; `stale`: what
    changed since its first print was approved, so that another one is wanted; `gone_past`: what a lead went past,
    since the last pause; `proof`, `proof_inks`, `frozen`: the screens, inks and settings of the approved print.
    `heat`: what the ink on the garment really comes to in the dryer, degC and s, `heat_noted`: what of it was
    measured and noted, `heat_met`: what its target came to, `proof_heat`: what a repeat is to meet, by garment;
    `labs`: the lightness that was read on the approved print of each garment, by image, with the
    inks that it may be of, `to_meet`: what was last read of each there, which its repeats are to meet; `set_by`: the
    marked run that its set-up was noted by; `approved_at`, `paused_at`: when last; `measured_by`: who took each
    measurement of the dryer; `really`: the lightness of each image as it comes out, `told`: the keys that were named
    while it ran, `against`: the run that it was last held against then."""

    number: int
    order: Order
    place: int
    press: str
    version: int
    lines: list[Line]
    opened: datetime
    hung: dict[int, Frame] = field(default_factory=dict)
    heads: dict[int, int] = field(default_factory=dict)
    hangings: list[Hanging] = field(default_factory=list)
    strokes: dict[int, int] = field(default_factory=dict)
    sheet_strokes: dict[int, int] | None = None
    inks: set[Ink] = field(default_factory=set)
    inks_now: set[Ink] = field(default_factory=set)
    noted_on: dict[Ink, int] = field(default_factory=dict)
    took: Counter[Ink] = field(default_factory=Counter)
    counted: Counter[int | None] = field(default_factory=Counter)
    late: dict[Ink, datetime] = field(default_factory=dict)
    garment: int | None = None
    good: int = 0
    misprinted: int = 0
    approved: bool = False
    photo: str = ""
    marked: str = ""
    paused: bool = False
    finished: bool = False
    begun: bool = False
    stale: set[str] = field(default_factory=set)
    stale_since: dict[str, datetime] = field(default_factory=dict)
    gone_past: set[str] = field(default_factory=set)
    proof: dict[int, int] = field(default_factory=dict)
    proof_of: int | None = None
    proof_strokes: dict[int | None, dict[int, int]] = field(default_factory=dict)
    proof_inks: dict[int, Ink] = field(default_factory=dict)
    frozen: tuple[dict[int, int], set[Ink], Heat] | None = None
    heat: tuple[float, float] = (999.0, 999.0)
    heat_noted: Heat = (None, None)
    heat_met: Heat = (None, None)
    proof_heat: dict[int | None, Heat] = field(default_factory=dict)
    labs: dict[int | None, dict[str, tuple[float, frozenset[str]]]] = field(default_factory=dict)
    to_meet: dict[int | None, dict[str, tuple[float, frozenset[str]]]] = field(default_factory=dict)
    set_by: Run | None = None
    approved_at: str = ""
    paused_at: datetime | None = None
    measured_by: dict[str, int] = field(default_factory=dict)
    really: dict[str, float] = field(default_factory=dict)
    told: set[str] = field(default_factory=set)
    against: Run | None = None
    passed: set[tuple[int, int]] = field(default_factory=set)
    past: list[tuple[datetime, Then]] = field(default_factory=list)
    dated: datetime | None = None

    def change(self, what: str, station: int, to: str) -> None:
        """Something is otherwise than in the approved print; nothing: it is as it was then."""
        self.stale = {one for one in self.stale if not one.startswith(f"{what} at {station}: ")}
        if to and not any(one.startswith("garment at 0: ") for one in self.stale):  # its own print comes first
            self.stale.add(f"{what} at {station}: {to}")
            self.stale_since[f"{what} at {station}: {to}"] = self.past[-1][0]

    @property
    def lab(self) -> dict[str, tuple[float, frozenset[str]]]:
        """What was read on the approved print of the garment of now; at the end: of the last one."""
        return self.labs.get(self.garment, {})

    @property
    def stands(self) -> bool:
        """Whether the print of the garment of now was approved."""
        return self.approved and self.proof_of == self.garment

    def go_on_with(self, garment: int) -> None:
        """Another garment is printed: it wants a first print of its own."""
        self.garment = garment
        if self.approved:
            self.stale = {f"garment at 0: {garment}"}
            self.stale_since[f"garment at 0: {garment}"] = self.past[-1][0]

    def takes(self, ink: Ink, garment: int | None) -> bool:
        """Whether a piece of a garment takes what was noted on another one: the lot of that garment it doesn't, nor ink
        where it takes another one."""
        noted = self.noted_on.get(ink, 1)
        line = next((one for one in self.lines if one.station == ink[0]), None)
        if garment is None or garment == noted:
            return line is None or garment is None or garment in line.garments
        return line is not None and garment in line.garments and (
            self.order.poured(line, garment) == self.order.poured(line, noted))  # fmt: skip

    def approve(self) -> None:
        """A first print is approved as it is now."""
        self.approved, self.stale, self.proof_of = True, set(), self.garment
        self.proof = {station: frame.number for station, frame in self.hung.items()}
        self.proof_inks = {ink[0]: ink for ink in self.inks_now if self.takes(ink, self.garment)}
        if self.sheet_strokes is not None:
            self.sheet_strokes = self.proof_strokes[self.garment] = dict(self.strokes)
            self.frozen = self.setting
            heat = zip(self.heat_noted, self.heat_met, strict=True)  # what nobody measured is as it was to be
            peak, hold = (noted if noted is not None else met for noted, met in heat)
            self.proof_heat[self.garment] = peak, hold

    @property
    def takes_head(self) -> dict[int, bool]:
        """The print orders that take a head, and whether it is a flash that does."""
        stations = self.order.data["placement"][self.place - 1]["station"]
        return {number: one["does"] == "flash" for number, one in enumerate(stations, 1)}

    @property
    def setting(self) -> tuple[dict[int, int], set[Ink], Heat]:
        """What is noted of its settings."""
        return dict(self.strokes), set(self.inks_now), self.heat_noted

    def planned(self) -> Heat:
        """The peak and the hold that its job plans."""
        dryer = self.order.data["placement"][self.place - 1].get("dryer")
        if not dryer:
            return None, None
        return float(dryer["garment_peak"].split()[0]), float(dryer["hold"].split()[0])

    def remember(self, now: datetime) -> None:
        """Notes what hangs and how it prints until `now`, before that changes."""
        hung = {station: frame.on for station, frame in self.hung.items() if frame.on}
        strokes = dict(self.strokes) if self.sheet_strokes is not None else None
        self.past.append((now, Then(hung, self.garment, strokes, set(self.inks_now))))

    def then(self, at: datetime) -> Then:
        """How it printed at a time that may be long ago. What nobody had noted yet, the garment or the sheet, is as
        it was first noted; nothing hung where that has not changed since."""
        now = Then({}, self.garment, self.strokes, self.inks_now)
        found = next((then for until, then in self.past if until > at), now)
        inks = set(found.inks)
        for later in [*(then.inks for until, then in self.past if until > at), self.inks_now]:
            known = {station for station, _bucket, _lot in inks}
            inks |= {ink for ink in later if ink[0] not in known}
        said = [then.garment for until, then in self.past if until > at] + [self.garment]
        return Then(
            found.hung,
            next((one for one in said if one is not None), None),
            found.strokes if found.strokes is not None else self.sheet_strokes or self.strokes,
            inks,
        )

    def prints(self, line: Line, garment: int | None = None) -> bool:
        """Whether a line prints on a garment, the one that runs now; not said which: on any."""
        garment = garment or self.garment
        return garment is None or garment in line.garments

    @property
    def missing(self) -> list[Line]:
        """The lines that need a screen now and have none."""
        return [line for line in self.lines if line.station not in self.hung and self.prints(line)]

    @property
    def impressions(self) -> int:
        return sum(hanging.impressions for hanging in self.hangings)


@dataclass
class Post:
    """What somebody sent: the step, how many entries of it (and of others, `also`), what must be found in them."""

    step: str
    number: int = 1
    values: Mapping[str, Any] = field(default_factory=dict)
    also: Mapping[str, int] = field(default_factory=dict)
    accepted: bool = False


@dataclass(frozen=True)
class Forgotten:
    """A step that was done and not logged; `acts`, `moves`: how many steps of the frame were logged till then."""

    frame: Frame
    step: str
    at: datetime
    stage: str
    strips: int
    acts: int
    moves: int
    stencil: Stencil | None
    fields: Mapping[str, Any]


class Census:
    """Somebody who notes the moment at which each frame comes to another stage by the log; what is typed late is noted
    for the time when it was done. Not a count at full hours: the shop's day goes by the clock, and what is degreased
    at six and coated before seven would hardly ever be counted."""

    def __init__(self, start: datetime) -> None:
        self.now = start
        self.there: list[tuple[object, ...]] = []
        self.notes: list[list[tuple[datetime, str, str]]] = []
        """Of each frame: since when it stands at which stage, and its mesh then."""

    def upto(self, now: datetime, frames: Iterable[Frame]) -> None:
        """What stands there now stood so since the last time."""
        there = [(frame.said, frame.mesh, frame.thread_known) for frame in frames]
        if there != self.there:
            self.notes += [[] for _new in there[len(self.notes) :]]
            for notes, frame, one, before in zip_longest(self.notes, frames, there, self.there):
                if one != before:
                    notes.append((self.now, frame.said or "unknown", frame.mesh_said))
            self.there = there
        self.now = now

    def late(self, frame: Frame, at: datetime, stage: str) -> None:
        """A step that brought a frame to a stage some time ago is typed in only now."""
        insort(self.notes[frame.number - 1], (at, stage, frame.mesh_said), key=lambda note: note[0])

    def means(
        self, since: datetime, missed: Mapping[int, datetime] = MappingProxyType({})
    ) -> tuple[dict[str, float], dict[str, float]]:
        """The mean number of frames from a time on: by stage, and with a stencil by mesh. One that nobody has found
        since (`missed`, by number) is of no use from then on, with whatever is on it."""
        stages: dict[str, float] = {}
        taken: dict[str, float] = {}
        for number, notes in enumerate(self.notes, 1):
            lost = missed.get(number, self.now)
            for (begun, stage, mesh), (until, *_next) in zip_longest(notes, notes[1:], fillvalue=(self.now, "", "")):
                share = max(0.0, (until - max(begun, since)) / (self.now - since))
                stages[stage] = stages.get(stage, 0.0) + share
                if stage in STENCIL_ON:
                    used = max(0.0, (min(until, lost) - max(begun, since)) / (self.now - since))
                    taken[mesh] = taken.get(mesh, 0.0) + used
        return stages, taken
