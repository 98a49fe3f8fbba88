"""A screen's life, worked out from its log.

`MOVES` and `CHAIN` say, for every standing and step, what follows; `replay` goes through a screen's entries with them.
Replay is total: any set of entries gives a standing. What the log cannot explain is marked, never refused.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar

from tickets.calculator.drying import WET
from tickets.calculator.mesh import geometry
from tickets.calculator.units import quantity
from tickets.records.entry import (
    Entry,
    number_of,
    numbers_of,
    stamp,
    standing_lines,
    text_of,
    whole_of,
    wholes_of,
)
from tickets.records.plain import plain
from tickets.records.steps import SCREEN_STEPS, count_per_cm
from tickets.words import N_

if TYPE_CHECKING:
    from pint import Quantity

T = TypeVar("T")


class Standing(StrEnum):
    """How far a screen is in its cycle."""

    UNKNOWN = "unknown"
    BARE = "bare"
    DEGREASED = "degreased"
    COATED = "coated"
    IMAGED = "imaged"
    EXPOSED = "exposed"
    TO_CHECK = "to check"
    READY = "ready"
    ON_PRESS = "on press"
    TO_CLEAN = "to clean"
    KEPT = "kept"
    TO_STRIP = "to strip"
    STRIPPED = "stripped"
    TO_RESTRETCH = "to restretch"
    AWAY = "away"
    RETIRED = "retired"


S = Standing

STANDING_WORDS: dict[str, str] = {
    S.UNKNOWN: N_("unknown"),
    S.BARE: N_("bare"),
    S.DEGREASED: N_("degreased"),
    S.COATED: N_("coated"),
    S.IMAGED: N_("imaged"),
    S.EXPOSED: N_("exposed"),
    S.TO_CHECK: N_("to check"),
    S.READY: N_("ready"),
    S.ON_PRESS: N_("on press"),
    S.TO_CLEAN: N_("to clean"),
    S.KEPT: N_("kept"),
    S.TO_STRIP: N_("to strip"),
    S.STRIPPED: N_("stripped"),
    S.TO_RESTRETCH: N_("to restretch"),
    S.AWAY: N_("away"),
    S.RETIRED: N_("retired"),
}

STENCIL_ON = frozenset({S.COATED, S.IMAGED, S.EXPOSED, S.TO_CHECK, S.READY, S.ON_PRESS, S.TO_CLEAN, S.KEPT, S.TO_STRIP})
FREE = (S.COATED, S.DEGREASED, S.STRIPPED, S.BARE)
"""The standings of a free frame: nothing on it, or a coat alone, so that it can take any image now; nearest to it
first. Desk, pool, what runs short, boards and repeats count free frames by this."""
IMAGE_ON = STENCIL_ON - {S.COATED}
_ALL = frozenset(Standing)
_IN_SHOP = _ALL - {S.AWAY, S.RETIRED}

CHAIN: dict[Standing, tuple[str, Standing]] = {
    S.BARE: ("degrease", S.DEGREASED),
    S.STRIPPED: ("degrease", S.DEGREASED),
    S.DEGREASED: ("coat", S.COATED),
    S.COATED: ("image", S.IMAGED),
    S.IMAGED: ("expose", S.EXPOSED),
    S.EXPOSED: ("washout", S.TO_CHECK),
    S.TO_CHECK: ("check", S.READY),
    S.READY: ("hang", S.ON_PRESS),
    S.ON_PRESS: ("pull", S.TO_CLEAN),
    S.TO_CLEAN: ("clean", S.TO_STRIP),
    S.TO_STRIP: ("strip", S.STRIPPED),
}
"""The way round: from each standing, the step that leads on and where it leads."""

FORGIVEN = frozenset({"degrease", "clean", "haze", "expose", "check"})
"""Steps whose absence is marked but asks no question: the next step shows that they were done, or (check) the press
says so."""

MOVES: dict[str, tuple[frozenset[Standing], Standing | None]] = {
    "stretch": (_ALL - {S.RETIRED}, S.BARE),
    "retension": (_IN_SHOP, None),
    "tension": (_IN_SHOP, None),
    "degrease": (frozenset({S.BARE, S.STRIPPED, S.DEGREASED}), S.DEGREASED),
    "coat": (frozenset({S.DEGREASED, S.COATED}), S.COATED),
    "image": (frozenset({S.COATED, S.IMAGED}), S.IMAGED),
    "expose": (frozenset({S.IMAGED}), S.EXPOSED),
    "washout": (frozenset({S.EXPOSED, S.TO_CHECK}), S.TO_CHECK),
    "check": (frozenset({S.TO_CHECK, S.READY, S.ON_PRESS, S.TO_CLEAN, S.KEPT}), S.READY),
    "harden": (frozenset({S.TO_CHECK, S.READY, S.KEPT}), None),
    "hang": (frozenset({S.READY, S.KEPT}), S.ON_PRESS),
    "print": (frozenset({S.ON_PRESS}), None),
    "pull": (frozenset({S.ON_PRESS}), S.TO_CLEAN),
    "clean": (frozenset({S.TO_CLEAN, S.KEPT, S.TO_STRIP, S.TO_RESTRETCH}), None),
    "decide": (frozenset({S.TO_CHECK, S.READY, S.TO_CLEAN, S.KEPT, S.TO_STRIP}), None),
    "rack": (_ALL - {S.RETIRED, S.ON_PRESS}, None),
    "strip": (STENCIL_ON - {S.ON_PRESS} | {S.STRIPPED, S.TO_RESTRETCH, S.UNKNOWN}, S.STRIPPED),
    "haze": (frozenset({S.BARE, S.STRIPPED, S.DEGREASED}), None),
    "fault": (_ALL - {S.RETIRED}, None),
    "found": (_ALL, None),
    "retag": (_ALL, None),
    "retire": (_ALL, S.RETIRED),
    "note": (_ALL, None),
}
"""For each step: the standings that it goes with, and the standing that follows (None: stays; `_settle` says more)."""

LOGGED_BY_DEFAULT = tuple(name for name in MOVES if name not in {"found", "note", "retag"})
ALWAYS_LOGGED = frozenset({"hang", "pull", "print", "stretch", "image"})
"""Steps that no shop goes without: the press check writes them, or the press check needs them."""


@dataclass(frozen=True, slots=True)
class Follow:
    """What a step means at a standing: it goes with the log (`fits`), and what was left out before it (`missing`)."""

    fits: bool
    missing: tuple[str, ...] = ()


def follow(standing: Standing, step: str, logged: Collection[str]) -> Follow:
    """Whether `step` goes with `standing` in a shop that logs the steps `logged`, and what was left out before it."""
    before = MOVES[step][0]
    if standing in before:
        return Follow(True)
    missing: list[str] = []
    at = standing
    for _unused in CHAIN:
        if at not in CHAIN:
            break
        between, then = CHAIN[at]
        is_logged = between in logged or between in ALWAYS_LOGGED
        if between == step or (is_logged and between not in FORGIVEN):
            break
        if is_logged:
            missing.append(between)
        at = then
        if at in before:
            return Follow(True, tuple(missing))
    return Follow(False)


def asked_standing(step: str) -> Standing:
    """The standing that somebody must have in hands for `step` to make sense: what `found` writes when asked."""
    first = {
        "degrease": S.STRIPPED,
        "coat": S.DEGREASED,
        "image": S.COATED,
        "expose": S.IMAGED,
        "washout": S.EXPOSED,
        "check": S.TO_CHECK,
        "harden": S.READY,
        "hang": S.READY,
        "print": S.ON_PRESS,
        "pull": S.ON_PRESS,
        "clean": S.TO_CLEAN,
        "rack": S.TO_CLEAN,
        "decide": S.KEPT,
        "strip": S.TO_STRIP,
        "haze": S.STRIPPED,
    }
    return first.get(step, S.UNKNOWN)


def mesh_said(label: str, thread_um: float | None) -> str:
    """A mesh in words, its count as labelled and its thread where it is noted: `230/in · 48 µm`."""
    return label + (f" · {thread_um:g} µm" if thread_um else "")


@dataclass(frozen=True)
class Mesh:
    """The mesh on the frame: count as its label says, thread in um (None: not known), and the maker's sheet values."""

    count_as_labelled: str
    count_per_cm: float
    thread_um: float | None = None
    colour: str = ""
    frame: str = ""
    frame_size_mm: str = ""
    stretched_at: str = ""
    by: str = ""
    opening_um: float | None = None
    open_area_pct: float | None = None
    fabric_thickness_um: float | None = None
    ink_volume_cm3_m2: float | None = None
    in_use: bool = False
    """True where it was in use before it was registered: it has settled, and its day of stretching is not known."""
    uses_before: int | None = 0
    """The uses that it had before it was registered; None: it had some, and nobody noted how many."""

    SHEET: ClassVar = ("opening_um", "open_area_pct", "ink_volume_cm3_m2")
    """What the maker's sheet gives, and what is computed where it does not."""

    @property
    def said(self) -> str:
        """`230/in · 48 µm`."""
        return mesh_said(self.count_as_labelled, self.thread_um)

    def computed(self) -> dict[str, tuple[Quantity[float], Quantity[float]]]:
        """Of SHEET what count and thread give, each from low to high: one value but for the ink volume of a fabric
        whose thickness is not known. Nothing without a thread. Raises CannotBe where the two cannot be so together."""
        if not self.count_per_cm or not self.thread_um:
            return {}
        thickness = quantity(self.fabric_thickness_um, "um") if self.fabric_thickness_um else None
        found = geometry(quantity(self.count_per_cm, "/cm"), quantity(self.thread_um, "um"), thickness)
        low, high = found.ink_volume or found.ink_volume_low, found.ink_volume or found.ink_volume_high
        one = {"opening_um": (found.opening, found.opening), "open_area_pct": (found.open_area, found.open_area)}
        return one | ({"ink_volume_cm3_m2": (low, high)} if low is not None and high is not None else {})


@dataclass(frozen=True)
class Tension:
    """The last reading: warp and weft in N/cm, when, and how many stencils were begun since."""

    entry: str
    at: str
    readings_n_per_cm: tuple[float, ...]
    readings_weft_n_per_cm: tuple[float, ...] = ()
    stencils_since: int = 0
    uses: int = 0
    """Uses of the mesh by then."""
    after: str = ""
    """What it was said to come after: stretch, wash, print; empty: not said."""

    @property
    def all_n_per_cm(self) -> tuple[float, ...]:
        """Every reading, both ways."""
        return self.readings_n_per_cm + self.readings_weft_n_per_cm

    @property
    def mean_n_per_cm(self) -> float:
        """The mean of all readings."""
        return sum(self.all_n_per_cm) / len(self.all_n_per_cm)

    @property
    def minimum_n_per_cm(self) -> float:
        """The lowest reading, which decides."""
        return min(self.all_n_per_cm)


@dataclass(frozen=True)
class Shown:
    """A caution that somebody was shown at a step of this stencil: its reason, who, when (as `entry.stamp`)."""

    key: str
    step: str
    at: str
    person: int
    numbers: Mapping[str, Any] = field(default_factory=dict)
    spec: tuple[int, ...] = ()


@dataclass(frozen=True)
class Stencil:
    """What is on the screen now, from its first coat on."""

    number: int = 0
    separations: tuple[int, ...] = ()
    bucket: int | None = None
    under: tuple[int, ...] = ()
    """The other buckets of earlier coats: they are on the screen still."""
    coated_at: str = ""
    coats: int = 0
    coated_thickness_um: float | None = None
    room_c: float | None = None
    room_rh_pct: float | None = None
    """The room as it was read at the last coat."""
    preset: str = ""
    imaged_at: str = ""
    means: str = ""
    accepted: Mapping[str, Any] | None = None
    exposed_at: str = ""
    exposure_unit: str = ""
    exposure_s: float | None = None
    exposure_units: float | None = None
    purpose: str = ""
    washed_at: str = ""
    washout: str = ""
    fault: str = ""
    step_held: float | None = None
    checked_at: str = ""
    checked_by: int | None = None
    check: str = ""
    hardened: bool = False
    hardened_with: str = ""
    by_eye: int | None = None
    forced: bool = False
    """True where it was hung in spite of its stage and no good check came since: nobody keeps such a stencil."""
    impressions: int = 0
    condition: str = ""
    condition_at: str = ""
    condition_by: int | None = None
    shown: tuple[Shown, ...] = ()
    """The cautions that no later act has answered (`ANSWERED_BY`), the oldest first."""

    @property
    def failed(self) -> bool:
        """True when the last of washout and check was a fault."""
        return (self.check or self.washout) == "fault"


@dataclass(frozen=True)
class Life:
    """All that the log says of a screen now. Times are as `entry.stamp` writes them."""

    standing: Standing = S.UNKNOWN
    under: Standing = S.UNKNOWN
    since: str = ""
    mark: str = ""
    mesh: Mesh | None = None
    tension: Tension | None = None
    retensioned_at: str = ""
    wetted_at: str = ""
    """When the bare mesh was last wetted: degreased, stripped, rid of haze."""
    dry_at: str = ""
    """When somebody last said, of what was wet, that it is dry."""
    retensioned_uses: int = 0
    """Uses of the mesh when it was last retensioned; 0: never since it was stretched."""
    stencil: Stencil | None = None
    decided: str = ""
    keep_until: str = ""
    keep_for: str = ""
    let_go: tuple[str, ...] = ()
    """The jobs (by code) that needed the stencil when somebody said that it goes all the same."""
    place: int | None = None
    place_since: str = ""
    not_at: int | None = None
    """The place where it was looked for in vain, since `place_since`; None once it was in somebody's hands again."""
    run: int | None = None
    head: int | None = None
    station: int | None = None
    back: Standing | None = None
    """The stage that a screen goes back to when it comes off, where it was hung in spite of it; None: hung as ready."""
    back_unclear: bool = False
    """True where its log contradicted itself when it was hung all the same."""
    torn: bool = False
    fault: str = ""
    fault_at: str = ""
    fault_by: int | None = None
    uses: int = 0
    used_in: int | None = None
    """The run of its last use, while the stencil of then is on: hung there again after a pause it is still that use."""
    impressions: int = 0
    cycles: int = 0
    stencils: int = 0
    meshes: int = 0
    hung_impressions: int = 0
    inked: bool = False
    gaps: tuple[tuple[str, tuple[str, ...]], ...] = ()
    conflicts: tuple[str, ...] = ()
    conflict: bool = False
    """True while the log contradicts itself: the standing reads `unknown` until somebody says what is in hand."""
    last_at: str = ""
    last_step: str = ""
    tension_logged: bool = True
    """False in a shop that does not log tension: nothing is missed there where none was measured."""

    def missed(self, *steps: str) -> bool:
        """True when one of `steps` was left out for the stencil that is on now."""
        return any(step in missing for _entry, missing in self.gaps for step in steps)

    def to_dict(self) -> dict[str, Any]:
        """Plain data, for the worked-out tables."""
        return plain(self)

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Life:
        """A life read back from `to_dict`."""
        known = dict(data)
        known["standing"] = Standing(known["standing"])
        known["under"] = Standing(known["under"])
        if known.get("back"):
            known["back"] = Standing(known["back"])
        if known["mesh"]:
            known["mesh"] = _read_back(Mesh, known["mesh"])
        if known["tension"]:
            reading = dict(known["tension"])
            for name in ("readings_n_per_cm", "readings_weft_n_per_cm"):
                reading[name] = tuple(reading[name])
            known["tension"] = _read_back(Tension, reading)
        if known["stencil"]:
            stencil = known["stencil"]
            shown = tuple(_shown_back(one) for one in stencil.get("shown", ()))
            known["stencil"] = _read_back(
                Stencil,
                {
                    **stencil,
                    "separations": tuple(stencil["separations"]),
                    "under": tuple(stencil.get("under", ())),
                    "shown": shown,
                },
            )
        known["gaps"] = tuple((entry, tuple(steps)) for entry, steps in known["gaps"])
        known["conflicts"] = tuple(known["conflicts"])
        known["let_go"] = tuple(known.get("let_go", ()))
        return _read_back(cls, known)


def _read_back(cls: type[T], values: Mapping[str, Any]) -> T:
    """A value as it was before `plain`. Every scan reads some, past the constructor of a frozen class, which sets
    field by field; what is not among the values has its default on the class."""
    one = object.__new__(cls)
    one.__dict__.update(values)
    return one


def _shown_back(values: Mapping[str, Any]) -> Shown:
    return _read_back(Shown, {**values, "spec": tuple(values.get("spec", ()))})


def _changed(one: T, **changes: Any) -> T:
    """`dataclasses.replace` past the constructor: whole logs are replayed, several changes to each entry."""
    if not changes.keys() <= one.__dict__.keys():
        raise TypeError(f"no such fields: {changes.keys() - one.__dict__.keys()}")
    return _read_back(type(one), {**one.__dict__, **changes})


def replay(
    entries: Iterable[Entry], logged: Collection[str] = LOGGED_BY_DEFAULT, outside: Collection[int] = ()
) -> Life:
    """The life that `entries` (of one screen, in any order) come to, in a shop that logs the steps `logged` and whose
    places `outside` lie outside the shop."""
    life = begun(logged)
    for entry in standing_lines(entries):
        life = after(life, entry, logged, outside)
    return life


def begun(logged: Collection[str]) -> Life:
    """The life before its first entry."""
    return Life(tension_logged="tension" in logged)


def after(life: Life, entry: Entry, logged: Collection[str], outside: Collection[int] = ()) -> Life:
    """The life once `entry` has happened, whatever it is."""
    if entry.step not in MOVES:
        return life
    at = stamp(entry.at)
    was = life
    before, under = life.standing, life.under
    now: dict[str, Any] = {"last_at": at, "last_step": entry.step}
    if life.not_at is not None and entry.step not in OUT_OF_HAND:
        life = _changed(life, not_at=None)
    fits = _fits(life, entry, logged)
    if not fits.fits:
        marked = () if life.conflict else (entry.entry,)
        if before is S.ON_PRESS:
            life = _off_press(life)
        life = _CHANGES.get(entry.step, _unchanged)(life, entry, at, logged)
        # a frame that was retired stays known as such: nobody may print with it because the log is unclear
        under = S.RETIRED if S.RETIRED in {before, under if life.conflict else before} else S.UNKNOWN
        now |= {"standing": S.UNKNOWN, "under": under, "conflict": True, "conflicts": life.conflicts + marked}
    else:
        life = _CHANGES.get(entry.step, _unchanged)(life, entry, at, logged)
        if fits.missing:
            now["gaps"] = (*life.gaps, (entry.entry, fits.missing))
        standing = _settle(life, entry, was, logged, outside)
        said = standing not in {S.UNKNOWN, S.AWAY} or entry.step == "found"
        conflict = life.conflict and not said
        if was.back_unclear and entry.step == "pull":
            conflict = standing is S.UNKNOWN  # as unclear as it was when it was hung all the same
        now |= {"standing": standing, "conflict": conflict}
        if standing is not S.AWAY and not conflict:
            now["under"] = standing
    if now["standing"] is not before:
        now["since"] = at
    if entry.step in SAYS_DRY and text_of(entry.values, "dry"):
        now["dry_at"] = at
    return _changed(_answered(life, entry, at), **now)


SAYS_DRY = frozenset({"image", "expose", "check"})
"""Steps that may say of the screen that it is dry; what a coat says of the mesh is not said of the coat."""

OUT_OF_HAND = frozenset({"note", "decide", "retag"})
"""Steps that are written down without the screen in hand."""


def _run_of(entry: Entry) -> int | None:
    return entry.run if entry.run is not None else whole_of(entry.values, "run")


def _fits(life: Life, entry: Entry, logged: Collection[str]) -> Follow:
    step, values, standing = entry.step, entry.values, life.standing
    if step == "hang" and _forced(life, entry):
        return Follow(True)
    if step == "expose" and (wholes_of(values, "separations") or values.get("purpose") == "test strip"):
        found = follow(standing, "image", logged)  # the image is noted with it, or none is needed
        if found.fits:
            return found
    if step == "check" and standing is S.TO_STRIP and life.stencil and life.stencil.failed:
        return Follow(True)  # the pinholes were blocked, the screen is looked at again
    if step in {"print", "pull"} and standing is S.ON_PRESS and life.run is not None:
        if _run_of(entry) not in {None, life.run}:
            return Follow(False)
    found = follow(standing, step, logged)
    if not found.fits and standing is S.KEPT and life.decided != "keep":
        return follow(S.TO_STRIP, step, logged)  # nobody said that it must be kept
    return found


def _forced(life: Life, entry: Entry) -> bool:
    """True where somebody hangs a screen in spite of its stage: what the log says of that stays as it is."""
    return bool(entry.override) and life.standing not in {S.READY, S.KEPT, S.ON_PRESS, S.AWAY, S.RETIRED}


def _only_inked(life: Life) -> bool:
    """True for a screen that only waited to be cleaned: hanging it again says nothing against its stencil."""
    sound = life.stencil is not None and not life.stencil.failed and not life.stencil.forced
    return life.standing is S.TO_CLEAN and life.decided != "strip" and sound


def _settle(life: Life, entry: Entry, was: Life, logged: Collection[str], outside: Collection[int]) -> Standing:
    """The standing after a step that goes with the log; `life` has the step's changes already, `was` has not."""
    step, values, before = entry.step, entry.values, was.standing
    plain = MOVES[step][1]
    test_strip = life.stencil is not None and life.stencil.purpose == "test strip"
    match step:
        case "washout":
            if test_strip:
                return S.TO_STRIP
            if values.get("result") == "fault":
                return S.TO_CHECK if values.get("fault") == "pinholes" else S.TO_STRIP
            return S.READY if values.get("result") == "good" and "check" not in logged else S.TO_CHECK
        case "check":
            if before in {S.ON_PRESS, S.TO_CLEAN}:
                return before
            if test_strip or values.get("result") == "fault":
                return S.TO_STRIP
            if values.get("result") != "good":
                return before if before in MOVES["check"][0] | {S.TO_STRIP} else S.TO_CHECK
            return S.KEPT if before is S.KEPT else S.READY
        case "pull":
            if life.torn:
                return S.TO_RESTRETCH
            if was.back is not None and not (values.get("then") == "strip" and life.stencil):
                return was.back
            if values.get("then") == "keep":
                return S.KEPT
            if "clean" in logged:
                return S.TO_CLEAN
            return S.TO_STRIP if values.get("then") == "strip" else S.KEPT
        case "clean":
            if before is not S.TO_CLEAN:
                return before
            unfit = life.stencil is not None and life.stencil.forced
            return S.TO_STRIP if life.decided == "strip" or unfit else S.KEPT
        case "decide":
            if values.get("condition") == "torn":
                return S.TO_RESTRETCH
            if values.get("then") == "strip":
                return before if before is S.TO_CLEAN else S.TO_STRIP
            if values.get("then") != "keep" or before is S.TO_CHECK:
                return before
            if life.stencil and life.stencil.forced and before in {S.TO_CLEAN, S.TO_STRIP}:
                return before
            if before is S.TO_STRIP and life.stencil and (life.stencil.failed or test_strip):
                return before
            return S.KEPT
        case "strip":
            return before if before is S.TO_RESTRETCH or (life.torn and before is S.TO_STRIP) else S.STRIPPED
        case "haze":
            return S.STRIPPED if before is S.DEGREASED else before  # its rest must be degreased off again
        case "retension":
            if before is S.TO_RESTRETCH and not life.torn and life.stencil is None:
                return S.STRIPPED
            return before
        case "fault":
            restretch = values.get("then") == "restretch" or (values.get("kind") == "torn" and not values.get("then"))
            return S.TO_RESTRETCH if restretch else before
        case "found":
            seen = _seen(values)
            if seen is S.UNKNOWN and (before is S.AWAY or life.under is S.RETIRED):
                return life.under  # nobody said more than that it is here: it is as it went
            return seen
        case "rack":
            if whole_of(values, "place") in outside:
                return S.AWAY
            return life.under if before is S.AWAY else before
        case _:
            return plain or before


def _seen(values: Mapping[str, Any]) -> Standing:
    try:
        return Standing(text_of(values, "standing_seen"))
    except ValueError:
        return S.UNKNOWN


# What each step changes beside the standing ------------------------------------------------------------------------


def _unchanged(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    return life


def _stretch(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    values = entry.values
    label = text_of(values, "mesh_count_as_labelled")
    try:
        per_cm = count_per_cm(label)
    except ValueError:
        per_cm = 0.0
    if not (math.isfinite(per_cm) and per_cm > 0):
        label, per_cm = "", 0.0
    old, before = life.mesh, number_of(values, "uses_before")
    mesh = Mesh(
        count_as_labelled=label,
        count_per_cm=per_cm,
        thread_um=number_of(values, "thread_um"),
        colour=text_of(values, "mesh_colour"),
        frame=text_of(values, "frame") or (old.frame if old else ""),
        frame_size_mm=text_of(values, "frame_size_mm") or (old.frame_size_mm if old else ""),
        stretched_at=at,
        by=text_of(values, "by"),
        opening_um=number_of(values, "opening_um"),
        open_area_pct=number_of(values, "open_area_pct"),
        fabric_thickness_um=number_of(values, "fabric_thickness_um"),
        ink_volume_cm3_m2=number_of(values, "ink_volume_cm3_m2"),
        in_use=text_of(values, "in_use") == "yes",
        uses_before=int(before) if before is not None else None if text_of(values, "in_use") == "yes" else 0,
    )
    return _changed(
        _off_press(life),
        mesh=mesh,
        mark=text_of(values, "mark") or life.mark,
        tension=None,
        retensioned_at="",
        retensioned_uses=0,
        wetted_at="",
        dry_at="",
        stencil=None,
        decided="",
        keep_until="",
        keep_for="",
        let_go=(),
        torn=False,
        fault="",
        fault_at="",
        fault_by=None,
        uses=0,
        used_in=None,
        impressions=0,
        cycles=0,
        stencils=0,
        meshes=life.meshes + 1,
        inked=False,
        gaps=(),
    )


def _retension(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    fault = "" if life.fault == "slack" else life.fault
    return _changed(life, tension=None, retensioned_at=at, retensioned_uses=life.uses, fault=fault)


def _tension(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    readings = numbers_of(entry.values, "readings_n_per_cm")
    if not readings:
        return life
    weft = numbers_of(entry.values, "readings_weft_n_per_cm")
    after = text_of(entry.values, "after")
    return _changed(life, tension=Tension(entry.entry, at, readings, weft, uses=life.uses, after=after))


def _coat(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    values = entry.values
    bucket, preset = whole_of(values, "bucket"), text_of(values, "preset")
    going_on = life.stencil is not None and not life.stencil.separations and not life.stencil.exposed_at
    if life.standing is not S.COATED and not (life.conflict and going_on):
        life = _new_stencil(life)
    stencil = life.stencil or Stencil()
    # a further coat before exposure stays on the same stencil; its age counts from the last coat
    on_it = dict.fromkeys([*stencil.under, *([stencil.bucket] if stencil.bucket else [])])
    stencil = _changed(
        stencil,
        under=tuple(one for one in on_it if bucket and one != bucket) or stencil.under,
        coats=stencil.coats + 1,
        coated_at=at,
        bucket=bucket or stencil.bucket,
        preset=preset or stencil.preset,
        room_c=number_of(values, "room_c"),
        room_rh_pct=number_of(values, "room_rh_pct"),
        coated_thickness_um=number_of(values, "coated_thickness_um"),  # of the coats before says nothing of this one
    )
    return _changed(life, stencil=stencil)


def _new_stencil(life: Life) -> Life:
    """A stencil begins; one that the log still has on the screen must have been stripped."""
    life = _stencil_gone(life)
    tension = life.tension
    if tension is not None:
        tension = _changed(tension, stencils_since=tension.stencils_since + 1)
    number = life.stencils + 1
    return _changed(life, stencils=number, stencil=Stencil(number=number), tension=tension)


def _stencil_gone(life: Life) -> Life:
    """No stencil, and what was said of it; one that was there counts as one stripping, logged or not."""
    cycles = life.cycles + (1 if life.stencil is not None else 0)
    gone: dict[str, Any] = {"decided": "", "keep_until": "", "keep_for": "", "let_go": ()}
    return _changed(life, stencil=None, cycles=cycles, inked=False, gaps=(), used_in=None, **gone)


def _with_stencil(life: Life, on: Collection[Standing], done: str = "") -> Life:
    """A step that needs a stencil begins one where the log has none at a standing of `on`: coating went unlogged.
    Where the log is unclear, the step goes on with the stencil that did not yet get past it (`done`: its time)."""
    going_on = life.standing in on or (life.conflict and not done)
    return life if life.stencil is not None and going_on else _new_stencil(life)


def _image(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    life = _with_stencil(life, {S.COATED, S.IMAGED}, life.stencil.exposed_at if life.stencil else "")
    old = life.stencil or Stencil()
    named = wholes_of(entry.values, "separations")
    new = tuple(number for number in named if number not in old.separations)
    accepted, accept = old.accepted, entry.values.get("accept")
    if isinstance(accept, Mapping) and accept:
        # what was accepted holds for these images, not for others that this screen comes to carry
        before = accepted.get("separations", ()) if accepted else ()
        accepted = {**accept, "separations": list(dict.fromkeys([*before, *named]))}
    stencil = _changed(
        old,
        separations=old.separations + new,
        imaged_at=at,
        means=text_of(entry.values, "means"),
        accepted=accepted,
    )
    return _changed(life, stencil=stencil)


def _expose(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    values = entry.values
    if wholes_of(values, "separations"):
        life = _image(life, entry, at, logged)
    else:
        life = _with_stencil(life, {S.COATED, S.IMAGED}, life.stencil.washed_at if life.stencil else "")
    stencil = _changed(
        life.stencil or Stencil(),
        exposed_at=at,
        exposure_s=number_of(values, "exposure_s"),
        exposure_units=number_of(values, "exposure_units"),
        exposure_unit=text_of(values, "exposure_unit"),
        purpose=text_of(values, "purpose"),
    )
    return _changed(life, stencil=stencil)


def _washout(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    life = _with_stencil(life, STENCIL_ON)
    old = life.stencil or Stencil()
    result = text_of(entry.values, "result")
    stencil = _changed(
        old,
        washed_at=at,
        washout=result,
        fault=text_of(entry.values, "fault") if result == "fault" else "",
        step_held=number_of(entry.values, "step_held"),
        check="",
        exposed_at=old.exposed_at or at,
    )
    return _changed(life, stencil=stencil)


def _check(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    result = entry.values.get("result")
    if result not in ("good", "fault"):
        return life
    life = _with_stencil(life, STENCIL_ON)
    old = life.stencil or Stencil()
    good = result == "good"
    by_eye = old.by_eye
    if good and (by_eye != entry.person or entry.values.get("confirmed") == ALONE):
        by_eye = None  # a second pair of eyes has looked at it, or there is none in this shop
    stencil = _changed(
        old,
        checked_at=at,
        checked_by=entry.person,
        check=str(result),
        fault="" if good else text_of(entry.values, "fault"),
        by_eye=by_eye,
        forced=old.forced and not good,
        condition="" if good else old.condition,
    )
    gaps = life.gaps
    if good:  # a late check makes up for the missing one
        kept = ((name, tuple(step for step in missing if step != "check")) for name, missing in gaps)
        gaps = tuple(gap for gap in kept if gap[1])
    back = None if good and life.back in MOVES["check"][0] | {S.TO_STRIP} else life.back
    return _changed(life, stencil=stencil, gaps=gaps, back=back)


ALONE = "alone"
"""What a good check has under `confirmed` where nobody else works here: the PIN stands for the second pair of eyes."""


def _harden(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    if life.stencil is None:
        return life
    return _changed(
        life, stencil=_changed(life.stencil, hardened=True, hardened_with=text_of(entry.values, "agent"))
    )


def _hang(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    values = entry.values
    press = whole_of(values, "press")
    forced = _forced(life, entry)
    if forced and life.stencil is not None and not _only_inked(life):
        life = _changed(life, stencil=_changed(life.stencil, forced=True))
    return _changed(
        _off_press(life),
        back=life.standing if forced else None,
        back_unclear=forced and life.conflict,
        run=_run_of(entry),
        head=whole_of(values, "head"),
        station=whole_of(values, "station"),
        place=press or life.place,
        place_since=at if press else life.place_since,
        decided="",
        keep_until="",
        keep_for="",
        let_go=(),
    )


def _print(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    count = whole_of(entry.values, "impressions") or 0
    stencil = life.stencil
    if stencil is not None:
        stencil = _changed(stencil, impressions=stencil.impressions + count)
    return _changed(
        life,
        impressions=life.impressions + count,
        hung_impressions=life.hung_impressions + count,
        inked=life.inked or count > 0,
        stencil=stencil,
    )


def _off_press(life: Life) -> Life:
    printed = life.hung_impressions > 0
    again = printed and life.run is not None and life.run == life.used_in  # it came off at a pause of the same run
    return _changed(
        life,
        used_in=life.run if printed else life.used_in,
        run=None,
        head=None,
        station=None,
        uses=life.uses + (1 if printed and not again else 0),
        hung_impressions=0,
        back=None,
        back_unclear=False,
    )


def _pull(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    life = _seen_as(life, entry, at)
    stencil = life.stencil
    decided = text_of(entry.values, "then")
    if life.back is not None and decided != "strip":
        decided = ""  # it goes back to its stage: nothing that is not ready is kept
    return _changed(
        _off_press(life),
        decided="" if decided == "undecided" else decided,
        keep_for=text_of(entry.values, "for") if decided else "",
        inked=life.inked and stencil is not None,
        let_go=_let_go(entry),
    )


def _seen_as(life: Life, entry: Entry, at: str) -> Life:
    """What somebody said of how the screen looks; nothing said leaves it as it was."""
    condition = text_of(entry.values, "condition")
    stencil = life.stencil
    if stencil is not None and condition:
        noted = "" if condition == "good" else condition
        stencil = _changed(stencil, condition=noted, condition_at=at, condition_by=entry.person)
    return _changed(life, stencil=stencil, torn=life.torn or condition == "torn")


def _decide(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    values = entry.values
    life = _seen_as(life, entry, at)
    then = text_of(values, "then")
    if not then:  # no more than how it looks
        return life
    return _changed(
        life,
        decided="" if then == "undecided" else then,
        keep_until=text_of(values, "until"),
        keep_for=text_of(values, "for"),
        let_go=_let_go(entry),
    )


def _let_go(entry: Entry) -> tuple[str, ...]:
    """The jobs that an entry named as in need of the stencil that it gives up."""
    named = entry.values.get("needed_by")
    return tuple(code for code in named if isinstance(code, str)) if isinstance(named, (list, tuple)) else ()


def _rack(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    place = whole_of(entry.values, "place")
    return _changed(life, place=place, place_since=at) if place is not None else life


def _note(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    gone = whole_of(entry.values, "not_at")  # a stock-take did not find it where the log has it
    if gone is None or gone != life.place or life.standing is S.ON_PRESS:
        return life
    return _changed(life, place=None, place_since=at, not_at=gone)


def _strip(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    life = _off_press(life)
    if life.stencil is None and life.standing is not S.STRIPPED:
        life = _changed(life, cycles=life.cycles + 1)  # there was one that the log did not know
    return _changed(_stencil_gone(life), wetted_at=at)


def _degrease(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    return _changed(life, wetted_at=at)


def _clean(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    return _changed(life, inked=False)


def _haze(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    return _changed(life, wetted_at=at, fault="" if life.fault == "ghost" else life.fault)


def _fault(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    kind = text_of(entry.values, "kind")
    life = _changed(life, torn=life.torn or kind == "torn")
    if kind:
        life = _changed(life, fault=kind, fault_at=at, fault_by=entry.person)
    sent = entry.values.get("then") == "restretch" or (kind == "torn" and not entry.values.get("then"))
    return _off_press(life) if sent else life


def _found(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    seen = _seen(entry.values)
    named = wholes_of(entry.values, "separations_seen")
    if life.standing is S.AWAY and seen is not S.AWAY:
        life = _changed(life, place=None, place_since=at)
    if seen in {S.BARE, S.DEGREASED, S.STRIPPED}:
        life = _stencil_gone(life)
    elif seen is S.COATED:
        life = life if life.back is S.COATED else _with_stencil(life, {S.COATED})
    elif seen in IMAGE_ON:
        vouched = _vouched(life, seen)
        if life.stencil is None or (named and life.stencil.separations and set(named) != set(life.stencil.separations)):
            life = _new_stencil(life)
        stencil = life.stencil or Stencil()
        if named and set(named) != set(stencil.separations):
            life = _changed(life, stencil=_changed(stencil, separations=named, by_eye=entry.person))
        elif not vouched and stencil.by_eye is None:
            life = _changed(life, stencil=_changed(stencil, by_eye=entry.person))
    return life if seen is S.ON_PRESS else _off_press(life)


_WASHED_OUT = frozenset({S.TO_CHECK, S.READY, S.ON_PRESS, S.TO_CLEAN, S.KEPT, S.TO_STRIP})


def _vouched(life: Life, seen: Standing) -> bool:
    """Whether the log itself has the stencil as far as somebody says that it is (`seen`). Otherwise it is named by eye:
    the good check of another person vouches for it."""
    stencil = life.stencil
    at = life.under if life.standing is S.AWAY else life.standing
    if seen not in _WASHED_OUT:
        return True
    if stencil is None or stencil.failed or life.conflict or life.back is not None:
        return False
    return at in _WASHED_OUT or (seen is S.TO_CHECK and at in {S.IMAGED, S.EXPOSED})  # a washout nobody logged


def _retire(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    return _changed(
        _off_press(life), fault=text_of(entry.values, "cause"), fault_at=at, fault_by=entry.person, place=None
    )


_CHANGES: dict[str, Callable[[Life, Entry, str, Collection[str]], Life]] = {
    "stretch": _stretch,
    "retension": _retension,
    "tension": _tension,
    "degrease": _degrease,
    "coat": _coat,
    "image": _image,
    "expose": _expose,
    "washout": _washout,
    "check": _check,
    "harden": _harden,
    "hang": _hang,
    "print": _print,
    "pull": _pull,
    "clean": _clean,
    "decide": _decide,
    "rack": _rack,
    "note": _note,
    "strip": _strip,
    "haze": _haze,
    "fault": _fault,
    "found": _found,
    "retire": _retire,
}


# Cautions that were shown ------------------------------------------------------------------------------------------

SHOWS = frozenset({"coat", "image", "expose", "washout", "check"})
"""The steps whose cautions stay with the stencil until a later act answers them; the same step again always does."""

STEP_HELD, GOOD_WASHOUT, GOOD_CHECK, DRY = "step held", "good washout", "good check", "exposed dry"
PRINTED = "printed"
ANSWERED_BY: dict[str, tuple[str, ...]] = {
    # too little light, or a damp coat, cannot be seen on the light table: only the step held tells
    "exposure-time-off shorter": (STEP_HELD,),
    "exposure-time-off-units shorter": (STEP_HELD,),
    "still-drying": (STEP_HELD, DRY),
    "touch-dry": (STEP_HELD, DRY),
    "mesh-wet": (GOOD_CHECK,),  # what wet mesh does to a coat is pinholes
    "room-damp": (STEP_HELD, DRY),
    "bucket-past-time": (STEP_HELD,),
    "stencil-wet": (PRINTED,),  # pinholes that hid while it was wet show on the first print
    # too much light, or heat, shows in the washout and against the film
    "exposure-time-off longer": (STEP_HELD, GOOD_CHECK),
    "exposure-time-off-units longer": (STEP_HELD, GOOD_CHECK),
    "step-high": (GOOD_CHECK,),
    "step-all": (GOOD_CHECK,),
    "step-high-units": (GOOD_CHECK,),
    "step-high-untimed": (GOOD_CHECK,),
    "room-warm": (STEP_HELD, GOOD_WASHOUT),
    # doubts about what the shop knows, not about this stencil: it came out well all the same
    "bucket-not-known": (STEP_HELD, GOOD_WASHOUT),
    "bucket-discarded": (STEP_HELD, GOOD_WASHOUT),
    "exposure-from-one": (STEP_HELD, GOOD_WASHOUT),
    "exposure-from-one-units": (STEP_HELD, GOOD_WASHOUT),
    "exposure-from-two": (STEP_HELD, GOOD_WASHOUT),
    "exposure-from-two-units": (STEP_HELD, GOOD_WASHOUT),
    "exposure-moved": (STEP_HELD, GOOD_WASHOUT),
    "exposure-moved-units": (STEP_HELD, GOOD_WASHOUT),
    "exposure-not-all-noted": (STEP_HELD, GOOD_WASHOUT),
    "exposure-set-time-off": (STEP_HELD, GOOD_WASHOUT),
    "exposure-set-time-off-units": (STEP_HELD, GOOD_WASHOUT),
}
"""Which acts answer a caution of the screen room. One that is not here stays until the same step again."""


def _acts(entry: Entry) -> set[str]:
    """What an entry answers."""
    keys = {reason.get("key"): reason.get("level") for reason in (entry.verdict or {}).get("reasons", ())}
    acts = set()
    if entry.step == "washout":
        acts |= {GOOD_WASHOUT} if entry.values.get("result") == "good" else set()
        acts |= {STEP_HELD} if keys.get("step-held") == "ok" else set()
    elif entry.step == "check" and entry.values.get("result") == "good":
        acts = {GOOD_CHECK}
    elif entry.step == "expose" and entry.verdict and WET.isdisjoint(keys):
        acts = {DRY}
    elif entry.step == "print":
        acts = {PRINTED}
    return acts


def _answered(life: Life, entry: Entry, at: str) -> Life:
    """The stencil without the cautions that `entry` answers, and with those that its verdict showed."""
    stencil = life.stencil
    if stencil is None or entry.step not in SHOWS | {"print"}:
        return life
    acts = _acts(entry)
    kept = [
        one for one in stencil.shown if one.step != entry.step and acts.isdisjoint(ANSWERED_BY.get(_which(one), ()))
    ]
    for reason in (entry.verdict or {}).get("reasons", ()):
        if reason.get("level") == "caution":
            numbers, rows = dict(reason.get("numbers", {})), tuple(reason.get("spec", ()))
            kept.append(Shown(str(reason.get("key")), entry.step, at, entry.person, numbers, rows))
    shown = tuple(kept)
    return life if shown == stencil.shown else _changed(life, stencil=_changed(stencil, shown=shown))


def _which(one: Shown) -> str:
    """A caution as `ANSWERED_BY` calls it: some keys say two things."""
    way = one.numbers.get("way_word")
    return f"{one.key} {way}" if way else one.key


# What comes next ---------------------------------------------------------------------------------------------------

OFFERED: dict[Standing, tuple[str, ...]] = {
    S.UNKNOWN: ("found", "stretch", "strip"),
    S.BARE: ("degrease", "coat", "tension"),
    S.DEGREASED: ("coat",),
    S.COATED: ("image", "expose", "coat"),
    S.IMAGED: ("expose", "washout", "image"),
    S.EXPOSED: ("washout",),
    S.TO_CHECK: ("check", "harden"),
    S.READY: ("rack", "harden"),
    S.ON_PRESS: ("pull",),
    S.TO_CLEAN: ("clean", "strip", "decide"),
    S.KEPT: ("rack", "decide", "check", "clean"),
    S.TO_STRIP: ("strip", "decide", "check"),
    S.STRIPPED: ("degrease", "haze", "coat", "tension"),
    S.TO_RESTRETCH: ("stretch", "retire", "strip"),
    S.AWAY: ("rack",),
    S.RETIRED: ("found",),
}
"""What is offered first at each standing, the likeliest first."""


def next_step(life: Life, logged: Collection[str] = LOGGED_BY_DEFAULT) -> str | None:
    """The one step that comes next for a screen, among those that the shop logs; None when it waits for the press."""
    at = life.standing
    while at in CHAIN and at is not S.READY:
        step, then = CHAIN[at]
        if step in logged or step in ALWAYS_LOGGED:
            return step
        at = then
    if at is S.KEPT and life.inked and "clean" in logged:
        return "clean"
    if at in {S.READY, S.KEPT}:  # put away once; what was put away before it came to this lies somewhere else now
        return "rack" if life.place is None or life.place_since < life.since else None
    return OFFERED[at][0]


def other_steps(life: Life, logged: Collection[str] = LOGGED_BY_DEFAULT) -> list[str]:
    """Every other step that a person may log, the likely ones first. What the press writes by itself is left out."""
    return steps_beside(life.standing, next_step(life, logged))


def steps_beside(standing: Standing, first: str | None) -> list[str]:
    """As `other_steps`, for a screen at `standing` whose next step is `first`."""
    rest = [step for step in OFFERED[standing] if step != first]
    rest += [step for step in ("tension", "rack", "fault", "note") if step not in rest and step != first]
    rest += [step for step in SCREEN_STEPS if step not in rest and step != first]
    return [
        step for step in rest if step not in {"hang", "print", "cross-out", "found"} or step in OFFERED[standing]
    ]


def wet_since(life: Life) -> tuple[str, str]:
    """What was wetted last and may not be dry yet: the step that wetted it (coat, washout, degrease) and when; empty
    where nothing is, or somebody said since that it is dry."""
    stencil = life.stencil
    step, at = "", ""
    if life.standing in {S.BARE, S.STRIPPED, S.DEGREASED}:
        step, at = "degrease", life.wetted_at
    elif stencil is not None and life.standing in {S.COATED, S.IMAGED}:
        step, at = "coat", stencil.coated_at
    elif stencil is not None and life.standing in {S.TO_CHECK, S.READY, S.KEPT} and not stencil.impressions:
        step, at = "washout", stencil.washed_at
    return (step, at) if at and life.dry_at < at else ("", "")
