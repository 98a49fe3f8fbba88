"""What is right at the press, by the simulated shop's own lights.

The rules are told here a second time, in few words and with figures of their own, from what really happened to a
screen and from what of it somebody wrote down; no rule of the program is called, and none of its worked-out values is
read. What the shop's people must be told of a screen is `Told`: the kinds of cause that must be named and how loudly,
those that may be named, and those that are really so but that no log could know.

`Book` holds that against what the program says, by kind: a right screen that is stopped or cautioned without cause, a
wrong one that passes. To teach it a rule: a function of `Case` in `TOPICS`, and the program's keys for it in `KIND`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from simulated_truth import Frame, Line, Pot, Run

STOP, CAUTION = "stop", "caution"
WET_INKS = frozenset({"water-base", "discharge"})
READY = frozenset({"ready", "kept"})
WANTED_STEP, STEPS_OVER, STEPS_UNDER_WET = 7, 2, 1
WANTED_LIGHT_S, LIGHT_OFF = 80.0, 0.20
DRY = timedelta(hours=1)
SURELY_DRY = timedelta(hours=4)
STRIP_SPEAKS = timedelta(days=7)
COAT_LASTS = {"dual-cure emulsion": timedelta(days=28)}
POT_LASTS = {"dual-cure emulsion": timedelta(days=28), "discharge ink": timedelta(hours=6)}
FLOOR = {"one-colour": 10.0, "colours": 15.0, "halftone": 18.0}
WATCH = {"one-colour": 15.0, "colours": 20.0, "halftone": 22.0}
WOOD_FLOOR, WOOD_WATCH = 7.0, 10.0
SPREAD = {"one-colour": 5.0, "colours": 5.0, "halftone": 3.0}
NEW_MESH = {
    "aluminium": ((170, 25.0), (240, 24.0), (999, 21.0)),
    "roller": ((150, 35.0), (240, 26.0), (999, 21.0)),
    "wood": ((999, 15.0),),
}
WATCH_SHARE, WATCH_SHARE_FINE, FINE, OVER_NEW, HIGHEST = 0.95, 0.90, 240.0, 10.0, 40.0
SETTLED_H, SETTLED_USES, SETTLES_BY = 24, 2, 0.15
POINTS_APART = 15.0
WARP_OVER_WEFT = 1.15
READING_LASTS, READING_STENCILS = timedelta(days=90), 5
SAME_COUNT, SAME_THREAD_UM = 0.03, 2.0
FAR_OFF = 0.35
CURED = {
    "plastisol": (160.0, 60.0),
    "low-cure plastisol": (127.0, 60.0),
    "water-base": (149.0, 120.0),
    "discharge": (160.0, 30.0),
}
"""What the film of an ink must come to, in degC, and for how many s."""
INK_MOST = {"plastisol": 177.0, "low-cure plastisol": 177.0, "water-base": 180.0, "discharge": 180.0}
FIBRE_MOST = {"cotton": 200.0, "polyester": 160.0}
DYE_MOVES = {"polyester": 132.0}
COLOUR_OFF, COLOUR_FAR = 1.0, 2.0

KIND = {
    "not-called-for": "image", "no-image": "image", "image-unknown": "image", "test-strip-stencil": "image",
    "other-revision": "revision", "other-size": "size", "tape-off": "tape",
    "not-ready": "stage", "log-unclear": "stage", "retired": "retired", "torn": "torn", "failed": "failed",
    "hanging-elsewhere": "elsewhere", "away": "elsewhere", "station-taken": "taken",
    "mesh-count-differs": "mesh", "mesh-thread-differs": "mesh", "mesh-unknown": "thread",
    "mesh-thread-unknown": "thread", "mesh-substitute": "substitute",
    "mesh-far-off": "mesh", "tension-under-hard-floor": "slack",
    "emulsion-not-fit": "emulsion", "emulsion-not-known": "emulsion",
    "check-missing": "check", "named-by-eye": "by eye", "taken-off-worn": "worn", "fault-noted": "fault",
    "tension-under-floor": "slack", "tension-under-watch": "watch", "tension-uneven": "uneven",
    "tension-over-ceiling": "tight", "wood-several-colours": "wood", "tension-far-from-neighbours": "neighbours",
    "tension-missing": "reading", "tension-old": "reading", "tension-old-stencils": "reading",
    "print-order-changed": "order", "no-head-between": "order",
    "head-in-use": "head", "head-taken": "head", "head-shared": "head", "head-unnamed": "unnamed",
    "stencil-wet": "wet", "still-drying": "wet", "checked-wet": "wet", "exposed-wet": "wet",
    "ink-past-time": "ink time", "bucket-discarded": "ink time",
    "tension-provisional": "reading", "tension-provisional-uses": "reading", "tension-warp-weft": "directions",
    "stencil-weak": "weak", "stencil-weak-for-ink": "weak", "step-high": "over", "step-high-untimed": "over",
    "exposure-time-off": "light", "coated-too-long": "coat age", "bucket-past-time": "pot age",
    "bucket-test-failed": "pot age", "emulsion-only-hardened": "emulsion", "ghost-noted": "fault",
    "build-thin": "build", "build-thick": "build", "build-not-possible": "build",
    "old-revision": "old art", "old-size": "old art", "mesh-changed": "old art", "image-dropped": "old art",
    "image-added": "old art", "gone-past": "gone past", "first-print-open": "first print",
    "again-swap": "again", "again-screen": "again", "again-pause": "again", "again-ink": "again",
    "again-garment": "again", "again-back": "again",
    "under-cure": "cure", "under-hold": "cure", "under-activation": "cure",
    "job-cure-above-bleed": "bleed", "bleed-not-planned": "bleed",
    "over-ink-ceiling": "scorch", "over-garment-ceiling": "scorch",
    "cure-span-held": "span", "cure-span": "span", "no-cure-span": "span",
    "print-colour-far": "colour", "print-colour-off": "colour", "print-colour-unread": "colour unknown",
    "print-colour-unknown": "colour unknown", "print-colour-uncompared": "colour unknown",
}  # fmt: skip
"""The program's keys by the kind of cause that they name. A key that is not here is a fault: somebody must say what
is meant by it.

What the simulated shop never meets has no topic here, and many a key of it no kind: nobody measures how thick a stencil
is built or reads the room's air (so what dries takes the plain times), ghosts and bent frames are not noted, no test
strip is hung, no bucket of another colour or kind is poured, no print takes more heads than are free."""
ALL = frozenset(KIND.values())
NOT_YET: frozenset[str] = frozenset()
"""Kinds on which the program is not yet what it should be: counted, and no fault."""


@dataclass(eq=False)
class Told:
    """What must be said of a screen: by kind, the levels that would do. `real`: those where something really is amiss
    or was left out, the others are said by the rule alone. `may`: kinds that can be said or not. `hidden`: what is
    really so, how loudly it should be said, and no log could know."""

    must: dict[str, frozenset[str]] = field(default_factory=dict)
    may: set[str] = field(default_factory=set)
    real: set[str] = field(default_factory=set)
    hidden: dict[str, str] = field(default_factory=dict)

    def say(self, kind: str, *levels: str, real: bool = True) -> None:
        self.must[kind] = frozenset(levels)
        if real:
            self.real.add(kind)

    def hide(self, kind: str, level: str) -> None:
        if kind not in self.must:
            self.hidden[kind] = level
            self.may.add(kind)

    @property
    def stops(self) -> list[str]:
        """Why it must be stopped."""
        return [kind for kind, levels in self.must.items() if levels == {STOP}]

    @property
    def wrong(self) -> bool:
        """Whether it should not print, told or not."""
        return bool(self.stops) or STOP in self.hidden.values()


@dataclass(frozen=True)
class Case:
    """A screen at the press, for a line of the print order of a run, on a head (None: not said). `busy`: the heads of
    this press that other runs have; `head_free`: somebody said that it is free all the same."""

    frame: Frame
    line: Line
    run: Run
    head: int | None
    now: datetime
    logs: Collection[str]
    in_hand: bool = False
    busy: Collection[int] = ()
    head_free: bool = False

    @property
    def work(self) -> str:
        return "one-colour" if len(self.run.lines) == 1 else "colours"

    @property
    def wet(self) -> bool:
        return self.line.ink in WET_INKS


def at_press(case: Case) -> Told:
    """What must be said of a screen that somebody holds up to a press."""
    told = Told()
    for topic in TOPICS:
        topic(case, told)
    if case.line.key not in case.frame.images:  # which print order it is for, nobody can say: the rest may be said
        told.may |= ALL
        told.must = {kind: levels for kind, levels in told.must.items() if kind in {"image", "revision", "size"}}
    return told


def image(case: Case, told: Told) -> None:
    """It carries what is asked for; the other images on it are taped off. One that carries nothing of the run has the
    name of what comes nearest, whatever its print order: nobody said for which one it is held up."""
    here, wanted = case.frame.images, case.line.key
    if wanted in here:
        if len(here) > 1:
            told.say("tape", CAUTION)
        return
    near = [
        (key, asked)
        for key in here
        for asked in (line.key for line in case.run.lines)
        if (key[0], key[1], key[4]) == (asked[0], asked[1], asked[4])
    ]
    if any(key[2] != asked[2] for key, asked in near):
        told.say("revision", STOP)
    elif near:
        told.say("size", STOP)
    else:
        told.say("image", STOP)


def stage(case: Case, told: Told) -> None:
    """It is through all its steps, and the log says so."""
    frame = case.frame
    washed = frame.stencil is not None and frame.stencil.washed is not None
    if frame.stage == "retired":
        told.say("retired", STOP)
    if frame.torn:
        told.say("torn", STOP)
    if frame.on is not None:
        if frame.on.run != case.run.number and not case.in_hand:
            told.say("elsewhere", STOP)
        if frame.back and frame.back not in READY and not (frame.back == "to check" and washed):
            told.say("stage", STOP)  # somebody hung it in spite of that
    elif frame.stage == "away":
        told.say("elsewhere", STOP)
    elif frame.said is None:
        told.may.add("stage")
    elif frame.said == "to check" and washed:
        pass  # the check is missing; what a press has seen of it since, no log says
    elif frame.said not in READY:
        told.say("stage", STOP)  # also where somebody forgot to write it down
    elif frame.stage not in READY:
        told.hide("stage", STOP)
    stencil = frame.stencil
    if stencil is None or not frame.fit:
        told.may |= {"failed", "check", "worn"}
    if stencil is None:
        return
    if stencil.failed:
        told.say("failed", STOP)
    elif "check" in case.logs and "check" not in stencil.noted:
        told.may.add("check") if "stage" in told.must else told.say("check", CAUTION)
    if stencil.condition:
        told.say("worn", CAUTION)
    if stencil.found:  # what is on it was named by whoever had it in hand
        told.may.add("by eye")


def mesh(case: Case, told: Told) -> None:
    """The mesh is the one asked for, or one that somebody accepted for it."""
    count, thread = (float(text.removesuffix("/in")) for text in case.frame.mesh)
    asked, asked_thread = (float(text.removesuffix("/in")) for text in case.line.mesh)
    other = abs(count - asked) > SAME_COUNT * asked
    other |= case.frame.thread_known and abs(thread - asked_thread) > SAME_THREAD_UM
    if other and case.frame.accepted:
        told.say("substitute", CAUTION)
        if abs(count / asked - 1) > FAR_OFF and case.frame.accepted != "lead":
            told.say("mesh", STOP)
    elif other:
        told.say("mesh", STOP)
    if not case.frame.thread_known:
        told.say("thread", CAUTION)


def new_mesh(frame: Frame) -> float:
    """What fresh mesh of this sort is stretched to, in N/cm."""
    count = float(frame.mesh[0].removesuffix("/in"))
    return next(value for upto, value in NEW_MESH[frame.kind] if count <= upto)


def limits(frame: Frame, work: str) -> tuple[float, float]:
    """Caution from, floor; in N/cm. A caution that lay below the floor could never be said."""
    if frame.kind == "wood" and work == "one-colour":
        return WOOD_WATCH, WOOD_FLOOR
    fine = float(frame.mesh[0].removesuffix("/in")) > FINE  # it takes less
    watch = min(WATCH[work], (WATCH_SHARE_FINE if fine else WATCH_SHARE) * new_mesh(frame))
    return max(watch, FLOOR[work]), FLOOR[work]


def tension(case: Case, told: Told) -> None:
    """It is as tight as the work needs, by the last reading; and that reading still speaks for it."""
    frame, reading = case.frame, case.frame.read
    watch, floor = limits(frame, case.work)
    if frame.kind == "wood" and case.work != "one-colour":
        told.say("wood", STOP)
    if frame.slack:
        told.say("fault", CAUTION)
    really = min(frame.pull) * min(1.0, frame.weft)
    if reading is None:
        if "tension" in case.logs:
            told.say("reading", CAUTION)
        if really < floor:
            told.hide("slack", STOP)
        return
    lowest = min(reading.every)
    if lowest < floor:
        told.say("slack", STOP)
    elif lowest < watch:
        told.say("watch", CAUTION)
    if really < floor:
        told.hide("slack", STOP)
    if any(max(way) - min(way) >= SPREAD[case.work] for way in (reading.shown, reading.weft) if way):
        told.say("uneven", CAUTION)
    if max(reading.every) > min(new_mesh(frame) + OVER_NEW, HIGHEST):
        told.say("tight", CAUTION)
    if reading.weft:
        ways = sorted(sum(way) / len(way) for way in (reading.shown, reading.weft))
        if ways[1] / ways[0] > WARP_OVER_WEFT + 1e-9:
            told.say("directions", CAUTION)
    if "tension" in case.logs and not speaks_still(frame, case.now, case.work):
        told.say("reading", CAUTION)


def speaks_still(frame: Frame, now: datetime, work: str = "colours") -> bool:
    """Whether the last reading still tells whether a frame is tight enough: not too old, and taken of a mesh that had
    settled, if it has by now; or so high that what it loses in its first uses leaves enough."""
    reading, uses = frame.read, frame.uses - frame.uses_before
    if reading is None or now - reading.at > READING_LASTS or reading.stencils >= READING_STENCILS:
        return False
    rested, left = reading.hours >= SETTLED_H, min(reading.every) * (1 - SETTLES_BY)
    in_use = reading.uses < SETTLED_USES <= uses and not (rested and left >= limits(frame, work)[0])
    return not in_use and (rested or frame.hours(now) < SETTLED_H)


def neighbours(case: Case, told: Told) -> None:
    """It has kept about as much of its tension as the screens that hang beside it."""
    own = share(case.frame)
    others = [share(other) for other in case.run.hung.values() if other is not case.frame]
    if own is not None and any(abs(own - other) > POINTS_APART + 1e-9 for other in others if other is not None):
        told.say("neighbours", CAUTION)


def share(frame: Frame) -> float | None:
    """What is left of its new tension by the last reading, in percent."""
    if frame.read is None:
        return None
    return 100 * sum(frame.read.every) / len(frame.read.every) / new_mesh(frame)


def emulsion(case: Case, told: Told) -> None:
    """What it was coated with withstands the ink."""
    stencil = case.frame.stencil
    if stencil is None or not case.wet:
        return
    hard = "harden" in stencil.noted  # that holds for a while
    if any(not pot.resistant for pot in stencil.noted_pots):
        told.say("emulsion", CAUTION if hard else STOP)
    elif not stencil.noted_pots and not hard:
        told.say("emulsion", CAUTION)
    if any(not pot.resistant for pot in stencil.pots):
        told.hide("emulsion", CAUTION if stencil.hard else STOP)


def stencil_made(case: Case, told: Told) -> None:
    """How it was made goes with it: the step that it held, its light, the age of its coat and of the emulsion."""
    stencil = case.frame.stencil
    if stencil is None:
        return
    noted = stencil.noted
    held = noted.get("step")
    answered = held is not None and WANTED_STEP <= held <= WANTED_STEP + STEPS_OVER
    really = int(stencil.step)
    sound = WANTED_STEP <= really <= WANTED_STEP + STEPS_OVER
    if held is not None and held < WANTED_STEP:
        told.say("weak", STOP if case.wet and held < WANTED_STEP - STEPS_UNDER_WET else CAUTION)
    elif really < WANTED_STEP:
        told.hide("weak", STOP if case.wet and really < WANTED_STEP - STEPS_UNDER_WET else CAUTION)
    looked = "check" in noted  # too much light shows against the film, too little does not
    if held is not None and held > WANTED_STEP + STEPS_OVER and not looked:
        told.say("over", CAUTION)
    light = noted.get("light")
    if light is not None and abs(light / WANTED_LIGHT_S - 1) > LIGHT_OFF:
        if not answered and not (looked and light > WANTED_LIGHT_S):
            told.say("light", CAUTION, real=not sound)
    coated, exposed = noted.get("coat"), noted.get("expose") or noted.get("washout")
    kind = stencil.noted_pots[-1].kind if stencil.noted_pots else "dual-cure emulsion"
    if coated and exposed and exposed - coated > COAT_LASTS[kind]:
        told.say("coat age", CAUTION, real=True)
    pot = stencil.noted_pots[-1] if stencil.noted_pots else None
    if coated and pot and pot.tested == "fault":  # arguable: it may have gone off only since
        told.may.add("pot age")
    elif coated and pot and pot.past(coated, POT_LASTS[pot.kind]):
        # a strip of its first days says nothing of what is left of it now
        at = pot.tested_at if pot.tested == "good" else None
        answers = at is not None and pot.past(at, POT_LASTS[pot.kind]) and coated <= at + STRIP_SPEAKS
        if not answers and not (held is not None and held >= WANTED_STEP):  # its own wedge is the strip
            told.say("pot age", CAUTION)


def wet(case: Case, told: Told) -> None:
    """It had its time to dry since it was washed out."""
    stencil = case.frame.stencil
    if stencil is None:
        return
    washed = stencil.noted.get("washout")
    if any(one.impressions for one in stencil.hangings):
        told.may |= {"wet"} if washed is not None and case.now - washed < SURELY_DRY else set()
    elif washed is not None and case.now - washed < DRY:
        told.say("wet", STOP)
    elif washed is not None and case.now - washed < SURELY_DRY:
        told.may.add("wet")
    elif washed is not None and "check" in stencil.noted and stencil.noted["check"] - washed < DRY:
        told.say("wet", CAUTION)  # what could not be seen while it was wet shows once it prints
    if stencil.washed is not None and case.now - stencil.washed < DRY:
        told.hide("wet", STOP)


def order(case: Case, told: Told) -> None:
    """The heads go round in print order; the job's one screen to a place."""
    if case.head is not None:
        own = case.line.station
        heads = {station: head for station, head in case.run.heads.items() if station in case.run.hung}
        heads[own] = case.head
        others = heads.keys() - {own}
        if any(heads[one] == case.head or (one < own) != (heads[one] < case.head) for one in others):
            told.say("order", CAUTION)
        elif any(no_room(case.run, heads, own, other) for other in others):
            told.say("order", CAUTION)
        if case.head in case.busy:
            told.say("head", CAUTION if case.head_free else STOP)
    hung = case.run.hung.get(case.line.station)
    if hung is not None and hung is not case.frame:
        told.say("taken", CAUTION)


def no_room(run: Run, heads: Mapping[int, int], one: int, other: int) -> bool:
    """Whether what flashes and prints between two print orders has no heads to hang on."""
    first, last = sorted((one, other))
    between = [number for number in run.takes_head if first < number < last]
    return abs(heads[first] - heads[last]) - 1 < len(between) and any(run.takes_head[number] for number in between)


def art(case: Case, told: Told) -> None:
    """The job still asks for it, where it prints at all: a lead's word for the run is none for a screen."""
    line, run = case.line, case.run
    now = {one.key: one.mesh for one in run.order.lines(run.place)}
    if now.get(line.key) != line.mesh and run.prints(line):
        told.say("old art", STOP)


TOPICS = (image, stage, mesh, tension, neighbours, emulsion, stencil_made, wet, order, art)


def causes_of(run: Run, against: Run | None = None) -> dict[str, str]:
    """What a lead must go past before a run starts, goes on or is counted, each with its kind: that its job asks for
    something else by now, what changed since its first print was approved, an ink that is not cured, a colour that is
    another one than on the run that it is compared with."""
    now = {line.key: line.mesh for line in run.order.lines(run.place) if run.prints(line)}
    here = {line.key: line.mesh for line in run.lines if run.prints(line)}
    found = {f"asks otherwise since version {run.order.version}": "old art"} if now != here else {}
    found |= dict.fromkeys(run.stale if run.approved else (), "again")
    found |= dict.fromkeys(undercured(run), "cure")
    return found | dict.fromkeys(far_off(run, against), "colour")


def going_on(
    run: Run, mixes: Mapping[str, Pot], now: datetime, against: Run | None = None, busy: Collection[int] = ()
) -> Told:
    """What must be said of a run that starts, goes on or is counted; `mixes`: the buckets by code; `against`: the run
    that it is compared with; `busy`: the heads of its press that other runs have."""
    told = Told()
    heat(run, told)
    if any(run.heads[station] in busy for station in run.hung):
        told.say("head", CAUTION)
    colour(run, against, told)
    stops(run, causes_of(run, against), told)
    if not run.approved:
        told.say("first print", CAUTION)
    prints = {line.station for line in run.lines if run.prints(line)}
    if any(run.prints(line) and not run.hung[line.station].images for line in run.lines if line.station in run.hung):
        told.say("unnamed", CAUTION)  # a lead had it hung, and what is on it nobody knows
    here = [ink for ink in run.inks_now if ink[1] and ink[0] in prints and run.takes(ink, run.garment)]
    pots = [mixes[code] for _station, code, _lot in here]
    if any(pot.past(now, POT_LASTS[pot.kind]) for pot in pots):
        told.say("ink time", CAUTION, *(() if run.begun else (STOP,)))
        if "ink" in run.gone_past:  # it is said as long as it is so
            told.may.add("gone past")
            told.real.add("gone past")
    return told


def approving(run: Run) -> Told:
    """What must be said of a first print that is to be approved: its cure."""
    told = Told()
    heat(run, told)
    stops(run, dict.fromkeys(undercured(run), "cure"), told)
    return told


def stops(run: Run, causes: Mapping[str, str], told: Told) -> None:
    """Each cause stops until a lead went past it, and is said from then on."""
    for kind in set(causes.values()):
        these = {cause for cause, of in causes.items() if of == kind}
        told.say(kind, CAUTION if these <= run.gone_past else STOP)
    if run.gone_past & causes.keys():
        told.say("gone past", CAUTION)


def inks(run: Run) -> set[str]:
    """The kinds of ink that it prints now."""
    return {line.ink for line in run.lines if run.prints(line)}


def known_heat(run: Run) -> tuple[float | None, float | None]:
    """As it was measured and noted, else as the run that it is to meet was measured, else as the job plans it."""
    known = zip(run.heat_noted, run.heat_met, run.planned(), strict=True)
    peak, hold = (next((one for one in some if one is not None), None) for some in known)
    return peak, hold


def undercured(run: Run) -> set[str]:
    """By what is known of it, what stays uncured."""
    peak, hold = known_heat(run)
    found = set()
    for ink in inks(run):
        wanted, long = CURED[ink]
        if peak is not None and peak < wanted:
            found.add(f"{ink} at {peak}, noted {run.heat_noted[0]}")
        if hold is not None and hold < long:
            found.add(f"{ink} for {hold}, noted {run.heat_noted[1]}")
    return found


def heat(run: Run, told: Told) -> None:
    """More than ink, garment or its dye stand is said; with that, and with too little, what would do."""
    peak, _hold = known_heat(run)
    printed = inks(run)
    fibres = {fibre for garment in run.order.data["garment"] for fibre in garment["fibre"]}
    if peak is not None and any(peak > INK_MOST[ink] for ink in printed):
        told.say("scorch", CAUTION)
    if peak is not None and any(peak > FIBRE_MOST[fibre] for fibre in fibres):
        told.say("scorch", CAUTION)
    for fibre in fibres & DYE_MOVES.keys():
        least = max(CURED[ink][0] for ink in printed)
        if (least if peak is None else peak - 1e-9) >= DYE_MOVES[fibre]:
            told.say("bleed", CAUTION)
    short = undercured(run)
    if short or told.must:
        told.say("span", CAUTION)
    if not short and any(run.heat[0] < CURED[ink][0] or run.heat[1] < CURED[ink][1] for ink in printed):
        told.hide("cure", STOP)


def differences(run: Run, against: Run | None) -> Iterator[tuple[Line, float | None]]:
    """How far each colour of its approved print is from the run that it is compared with, in lightness, where only that
    differs, about 50, where it counts as it is (CIE 142: the weight of lightness is 1 there). None: nobody can say."""
    if run.stands and against is not None:
        yield from differences_on(run, against, run.garment)


def differences_on(run: Run, against: Run, garment: int | None) -> Iterator[tuple[Line, float | None]]:
    """As `differences`, of the print of one garment."""
    for line in run.lines:
        one, two = (labs.get(garment, {}).get(line.key[4]) for labs in (against.to_meet, run.labs))
        if one and two and len(one[1] | two[1]) == 1:
            yield line, abs(one[0] - two[0])
        elif one or two:
            yield line, None


def far_off(run: Run, against: Run | None) -> set[str]:
    """The colours that are other ones."""
    return {
        f"{line.key[4]} is {run.lab[line.key[4]]}, off run {against.number if against else 0}"
        for line, far in differences(run, against)
        if far is not None and far > COLOUR_FAR
    }


def wrong_target(run: Run, against: Run | None) -> bool:
    """Whether a colour of an approved print of it is another one, on whichever garment: a repeat prints all of them."""
    every = [one for garment in run.labs if against is not None for one in differences_on(run, against, garment)]
    return any(far is not None and far > COLOUR_FAR for _line, far in every)


def colour(run: Run, against: Run | None, told: Told) -> None:
    """A colour that is a little off is said, and one of which nobody knows whether it is."""
    for line, far in differences(run, against):
        kind = "colour unknown" if far is None else "colour"
        if not run.prints(line):
            told.may.add(kind)
        elif far is None or far > COLOUR_OFF:
            told.say(kind, CAUTION)


# The book of what was said --------------------------------------------------------------------------------------------

STOPPED = "a right one stopped"
NEEDLESS = "cautioned without cause"
LOUDER = "stopped where a caution would do"
PASSED = "a wrong one passed"
SOFTER = "cautioned where it should stop"
NOT_NAMED = "a cause not named"
UNHEARD = "a key that nobody knows"


@dataclass(eq=False)
class Book:
    """What the program said and should have said. `faults` by sort and kind; `said`: by key of a reason, in how many
    set-ups; `could_not_know` and `left_out` by kind."""

    faults: Counter[tuple[str, str]] = field(default_factory=Counter)
    said: dict[str, set[int]] = field(default_factory=dict)
    held: Counter[str] = field(default_factory=Counter)
    right: int = 0
    could_not_know: Counter[str] = field(default_factory=Counter)
    set_ups: set[int] = field(default_factory=set)
    nagged: set[int] = field(default_factory=set)
    nags: dict[str, set[int]] = field(default_factory=dict)
    repeats: Counter[tuple[str, bool, bool, bool]] = field(default_factory=Counter)
    """Repeats that were printed: off or right in colour; read on both; stopped for it; anything said of it."""

    def hold(self, set_up: int, told: Told, level: str, reasons: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
        """Holds what the program says (its level, and the reasons that are not ok as key and level) against what it
        should say. The faults, by sort and kind."""
        self.set_ups.add(set_up)
        faults: list[tuple[str, str]] = []
        named: dict[str, str] = {}
        for key, loud in reasons:
            self.said.setdefault(key, set()).add(set_up)
            kind = KIND.get(key)
            if kind is None:
                faults.append((UNHEARD, key))
                continue
            if loud != CAUTION:
                loud = STOP
            named[kind] = STOP if STOP in (loud, named.get(kind)) else loud
            wanted = told.must.get(kind)
            if wanted is None and kind not in told.may:
                faults.append((STOPPED if loud == STOP else NEEDLESS, kind))
            elif wanted == {CAUTION} and loud == STOP and kind not in told.may:
                faults.append((LOUDER, kind))
            if loud == CAUTION and kind not in told.real and kind not in told.hidden:
                self.nagged.add(set_up)
                self.nags.setdefault(key, set()).add(set_up)
        if level not in {"ok", CAUTION} and not named:
            faults.append((STOPPED, "no reason"))
        for kind, wanted in told.must.items():
            self.held[kind] += 1
            if kind not in named:
                faults.append((PASSED if STOP in wanted and level in {"ok", CAUTION} else NOT_NAMED, kind))
            elif wanted == {STOP} and named[kind] == CAUTION:
                faults.append((SOFTER, kind))
        for kind in told.hidden:
            self.could_not_know[kind] += kind not in named
        self.right += not told.must and not told.hidden
        self.faults.update(faults)
        return faults

    @property
    def nag_rate(self) -> float:
        """Set-ups with a caution that nothing was behind, in 100."""
        return 100 * len(self.nagged) / max(1, len(self.set_ups))

    def of_repeats(self, colour: str = "", *, read: bool | None = None, stopped: bool | None = None) -> int:
        """How many repeats were so."""
        return sum(
            count
            for (one, was_read, was_stopped, _told), count in self.repeats.items()
            if colour in {"", one} and read in {None, was_read} and stopped in {None, was_stopped}
        )

    @property
    def unflagged(self) -> int:
        """Repeats of another colour that reached the customer though both were read, and nobody was stopped."""
        return self.of_repeats("off", read=True, stopped=False)

    @property
    def silent(self) -> int:
        """Repeats of another colour that reached the customer without a word about colour: nobody read them."""
        return sum(count for (one, _read, _stopped, told), count in self.repeats.items() if one == "off" and not told)

    def colours(self) -> str:
        """What became of the repeats whose colour drifted."""
        off, right = self.of_repeats("off"), self.of_repeats("right")
        return (
            f"repeats held against an approved run: {off + right}; of another colour {off}: stopped "
            f"{self.of_repeats('off', stopped=True)}, read and not stopped {self.unflagged}, "
            f"not read on both {self.of_repeats('off', read=False)} (without a word about colour {self.silent}); "
            f"of the right colour {right}: stopped {self.of_repeats('right', stopped=True)}"
        )

    def table(self) -> str:
        """All of it, for people."""
        sorts = (STOPPED, NEEDLESS, LOUDER, PASSED, SOFTER, NOT_NAMED, UNHEARD)
        kinds = sorted({*self.held, *self.could_not_know, *(kind for _sort, kind in self.faults)})
        lines = [f"{len(self.set_ups)} set-ups; {self.right} screens held up with nothing to say of them"]
        head = ("should be said", "could not be known", *sorts)
        lines.append(f"{'':14}" + " ".join(f"{name:>{len(name)}}" for name in head))
        for kind in kinds:
            row = (self.held[kind], self.could_not_know[kind], *(self.faults[sort, kind] for sort in sorts))
            lines.append(
                f"{kind:14}" + " ".join(f"{count or '-':>{len(name)}}" for count, name in zip(row, head, strict=True))
            )
        lines.append(f"set-ups with a caution that nothing was behind: {self.nag_rate:.1f} in 100")
        lines.append(self.colours())
        lines.append("by key: " + ", ".join(f"{key} {len(those)}" for key, those in sorted(self.nags.items())))
        lines.append("said in so many set-ups of 100:")
        share = {key: 100 * len(those) / max(1, len(self.set_ups)) for key, those in self.said.items()}
        lines += [f"  {key:32}{value:6.1f}" for key, value in sorted(share.items(), key=lambda one: -one[1])]
        return "\n".join(lines)


def reasons_of(reasons: Iterable[Mapping[str, object]]) -> list[tuple[str, str]]:
    """The reasons of a verdict as it is kept in the log, those that are not ok."""
    return [(str(one["key"]), str(one["level"])) for one in reasons if str(one["level"]) != "ok"]
