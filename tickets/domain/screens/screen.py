"""A screen's life, worked out from its log.

`stages.MOVES` and `CHAIN` say, for every standing and step, what follows; `screen_log.replay` goes through a screen's
entries with them.
Replay is total: any set of entries gives a standing. What the log cannot explain is marked, never refused.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar

from tickets.calculator.mesh import geometry
from tickets.calculator.units import quantity
from tickets.domain import stages
from tickets.domain.plain import defaults, plain, said
from tickets.domain.stages import ALWAYS_LOGGED, CHAIN, LOGGED_BY_DEFAULT, OFFERED, Standing

if TYPE_CHECKING:
    from pint import Quantity

T = TypeVar("T")


FREE = (Standing.COATED, Standing.DEGREASED, Standing.STRIPPED, Standing.BARE)
"""The standings of a free frame: nothing on it, or a coat alone, so that it can take any image now; nearest to it
first. Desk, pool, what runs short, boards and repeats count free frames by this."""


TEST_STRIP = "test strip"
"""The purpose of an exposure that makes no stencil to print with."""


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
        return stages.mesh_said(self.count_as_labelled, self.thread_um)

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

    standing: Standing = Standing.UNKNOWN
    under: Standing = Standing.UNKNOWN
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
    """The jobs (by code) that needed the stencil when somebody said that it goes all the same: boards then count on a
    new screen for them."""
    place: int | None = None
    place_since: str = ""
    not_at: int | None = None
    """The place where it was looked for in vain, since `place_since`; None once it was in somebody's hands again.
    Nobody counts on it meanwhile, whatever its stage: counts and boards have it as missing, no list offers it."""
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
    """True where a kept screen printed and was not cleaned since: it stays fit for the press, but is to be cleaned and
    put away first."""
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
        """Plain data, all of it."""
        return plain(self)

    def kept(self) -> dict[str, Any]:
        """Plain data for the worked-out tables: what is not as it is by default."""
        return said(self)

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Life:
        """A life read back from `to_dict` or `kept`."""
        known = dict(data)
        for name, read in _READ_BACK.items():
            if known.get(name) is not None:
                known[name] = read(known[name])
        return _read_back(cls, known)


def _read_back(cls: type[T], values: Mapping[str, Any], several: Collection[str] = ()) -> T:
    """A value as it was before `plain` or `said`; `several`: its fields that are tuples. Every scan reads some, past
    the constructor of a frozen class, which sets field by field."""
    one = object.__new__(cls)
    kind: Any = cls
    known = one.__dict__
    known.update(defaults(kind))
    known.update(values)
    for name in several:
        if name in values:
            known[name] = tuple(values[name])
    return one


def _stencil_back(values: Mapping[str, Any]) -> Stencil:
    shown = [_read_back(Shown, one, ("spec",)) for one in values.get("shown", ())]
    return _read_back(Stencil, {**values, "shown": shown}, ("separations", "under", "shown"))


_READ_BACK: Mapping[str, Callable[[Any], Any]] = {
    "standing": Standing,
    "under": Standing,
    "back": Standing,
    "mesh": lambda values: _read_back(Mesh, values),
    "tension": lambda values: _read_back(Tension, values, ("readings_n_per_cm", "readings_weft_n_per_cm")),
    "stencil": _stencil_back,
    "gaps": lambda several: tuple((entry, tuple(steps)) for entry, steps in several),
    "conflicts": tuple,
    "let_go": tuple,
}
"""The fields of a life that are no plain data, and what makes them of it."""


def changed(one: T, **changes: Any) -> T:
    """`dataclasses.replace` past the constructor: whole logs are replayed, several changes to each entry."""
    if not changes.keys() <= one.__dict__.keys():
        raise TypeError(f"no such fields: {changes.keys() - one.__dict__.keys()}")
    now = object.__new__(type(one))
    now.__dict__.update(one.__dict__)
    now.__dict__.update(changes)
    return now


# What comes next ---------------------------------------------------------------------------------------------------


def next_step(life: Life, logged: Collection[str] = LOGGED_BY_DEFAULT) -> str | None:
    """The one step that comes next for a screen, among those that the shop logs; None when it waits for the press."""
    at = life.standing
    while at in CHAIN and at is not Standing.READY:
        step, then = CHAIN[at]
        if step in logged or step in ALWAYS_LOGGED:
            return step
        at = then
    if at is Standing.KEPT and life.inked and "clean" in logged:
        return "clean"
    if at in {
        Standing.READY,
        Standing.KEPT,
    }:  # put away once; what was put away before it came to this lies somewhere else now
        return "rack" if life.place is None or life.place_since < life.since else None
    return OFFERED[at][0]


_STILL_WET = frozenset({Standing.TO_CHECK, Standing.READY, Standing.KEPT, Standing.ON_PRESS, Standing.TO_CLEAN})
"""The stages at which a stencil that was washed out may be wet still, whatever it was brought to."""


def wet_since(life: Life) -> tuple[str, str]:
    """What was wetted last and may not be dry yet: the step that wetted it (coat, washout, degrease) and when; empty
    where nothing is, or somebody said since that it is dry."""
    stencil = life.stencil
    step, at = "", ""
    if life.standing in {Standing.BARE, Standing.STRIPPED, Standing.DEGREASED}:
        step, at = "degrease", life.wetted_at
    elif stencil is not None and life.standing in {Standing.COATED, Standing.IMAGED}:
        step, at = "coat", stencil.coated_at
    elif (
        stencil is not None and life.standing in _STILL_WET and not stencil.impressions  # hanging alone dries nothing
    ):
        step, at = "washout", stencil.washed_at
    return (step, at) if at and life.dry_at < at else ("", "")
