"""What verdicts rest on: by subject the formula or rule, its source, and the limits that decide.

A reason belongs to the subject with the longest of `prefixes` that its key begins with. Where the calculator has a
calculation of the subject, its formula and source are said from there.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tickets.calculator.catalogue import CATALOGUE
from tickets.calculator.verdict import Reason
from tickets.domain.limits import LIMITS, LimitKind
from tickets.i18n import N_


@dataclass(frozen=True, slots=True)
class Ground:
    """A subject of verdicts. `rule` and `from_where` are empty where `calculation` (a name of the catalogue) has them;
    `decide`: how the keys of the limits begin that decide."""

    name: str
    title: str
    prefixes: tuple[str, ...]
    rule: str = ""
    from_where: str = ""
    calculation: str = ""
    decide: tuple[str, ...] = ()

    @property
    def formula(self) -> str:
        """How it is worked out."""
        return self.rule or CATALOGUE[self.calculation].formula

    @property
    def source(self) -> str:
        """Where that comes from."""
        return self.from_where or CATALOGUE[self.calculation].source

    @property
    def limits(self) -> list[tuple[str, LimitKind]]:
        """The limits that decide, by key."""
        return [(key, one) for key, one in LIMITS.items() if self.decide and key.startswith(self.decide)]


_LOG = N_("the shop’s own log, and how shops usually work (common practice)")
_JUDGEMENT = N_("judgement: no published rule is known; change the limit if your shop knows better")
GROUNDS = (
    Ground(
        "tension",
        N_("Tension"),
        ("tension-", "wood-several-colours", "serves-tension", "serves-not-measured"),
        calculation="tension",
        decide=("tension-", "new-mesh-tension", "holds-register", "settled-", "settling-"),
    ),
    Ground(
        "tension-loss", N_("Tension forecast"), ("tension-loss",), calculation="tension-loss", decide=("settling-",)
    ),
    Ground(
        "mesh",
        N_("Mesh: is it the one asked for"),
        ("mesh-", "sheet-", "serves-mesh", "serves-thread", "repeat-mesh", "repeat-thread", "build-fabric"),
        N_("count and thread against those that the job asks for; a maker’s sheet against what count and thread give"),
        calculation="mesh",
        decide=("mesh-count", "mesh-thread", "sheet-"),
    ),
    Ground(
        "flake",
        N_("Mesh: flake in the ink"),
        ("flake-",),
        N_("mesh opening divided by the size of the flake, against the factor of the limits"),
        N_("makers’ advice for glitter and flake, which differs; see the limit’s rows"),
        decide=("flake-",),
    ),
    Ground(
        "halftone",
        N_("Halftone and moiré"),
        ("halftone-", "moire-"),
        calculation="halftone",
        decide=("halftone-", "moire-"),
    ),
    Ground(
        "mesh-life",
        N_("How long meshes last"),
        ("life-",),
        calculation="lifetime",
        decide=("mesh-further", "mesh-chance"),
    ),
    Ground("stencil", N_("Stencil thickness"), ("build-",), calculation="stencil", decide=("build-",)),
    Ground(
        "exposure",
        N_("Exposure and step wedge"),
        ("exposure-", "step-", "test-strip-exposed"),
        calculation="step",
        decide=("exposure-", "wanted-step", "step-"),
    ),
    Ground("film", N_("Exposure from a filter test film"), ("film-",), calculation="filter-film"),
    Ground(
        "lamp-distance",
        N_("Lamp distance"),
        ("lamp-diagonal", "lamp-far", "lamp-too"),
        calculation="distance",
        decide=("lamp-distance",),
    ),
    Ground(
        "lamp",
        N_("Lamp: age and drift"),
        ("lamp-",),
        N_("step wedges since the lamp was new, each as if exposed for the same time; its hours and age"),
        _LOG,
        decide=("lamp-hours", "lamp-age", "lamp-drift"),
    ),
    Ground(
        "drying",
        N_("Drying, damp and warmth"),
        (
            "drying-",
            "mesh-wet",
            "stencil-wet",
            "still-drying",
            "touch-dry",
            "room-",
            "coat-in-spec",
            "coat-undated",
            "coated-",
            "checked-wet",
            "exposed-wet",
            "serves-wet",
            "serves-coat",
        ),
        N_(
            "time since it was wet against the time to dry, which cold and damp air lengthen; a coat is too old after "
            "the days of its limit"
        ),
        N_("makers’ advice on drying; see the limits’ rows, and time your own room"),
        decide=("drying-", "minutes-to", "dries-at", "hours-to-dry", "coated-age"),
    ),
    Ground(
        "bucket",
        N_("Buckets and their time"),
        ("bucket-", "ink-in-time", "ink-past", "ink-time", "emulsion-", "stencil-hardened"),
        N_(
            "time since mixing against how long its kind keeps; a test strip vouches for some days; the emulsion is "
            "to withstand the job’s ink"
        ),
        N_("makers’ advice on mixed emulsion and ink; see the limits’ rows"),
        decide=("mixed-emulsion", "strip-vouches", "pot-life"),
    ),
    Ground(
        "cure",
        N_("Cure on the set-up"),
        ("cure-", "no-cure-span", "under-", "over-", "fibre-", "job-cure", "bleed-not-planned"),
        N_(
            "the hottest and the coolest spot of the print against what the ink needs, for how long, and what ink and "
            "garment bear"
        ),
        N_("ink makers’ sheets; see the limits’ rows, and let a wash test decide"),
        decide=("cure-", "discharge-start", "ink-ceiling", "dye-bleed", "garment-ceiling"),
    ),
    Ground(
        "probe",
        N_("Dryer from a probe’s run"),
        (
            "air-under",
            "bleed-not-judged",
            "bleed-passed",
            "cure-over-bleed",
            "cure-reached",
            "cure-short",
            "no-speed",
            "speed-",
            "warm-up",
        ),
        calculation="probe",
        decide=("cure-", "dye-bleed", "probe-"),
    ),
    Ground("colour", N_("Colour difference"), ("colour-", "print-colour"), calculation="colour", decide=("colour-",)),
    Ground("ink", N_("How much ink"), ("ink-density", "ink-not"), calculation="ink", decide=("ink-",)),
    Ground(
        "ink-fit",
        N_("The ink in a bucket"),
        ("ink-in-use", "ink-other"),
        N_("kind, series and colour of the bucket against those that the job asks for, and its clock"),
        _LOG,
    ),
    Ground(
        "checked",
        N_("What was seen on a screen"),
        (
            "washout-",
            "check-",
            "torn",
            "fault-",
            "ghost-",
            "failed",
            "taken-off",
            "tape-off",
            "named-by-eye",
            "stencil-weak",
            "test-strip-stencil",
        ),
        N_("what somebody saw and logged: at the washout, on the light table, coming off the press"),
        _LOG,
    ),
    Ground(
        "right-screen",
        N_("Right screen at the press"),
        (
            "right-image",
            "not-called",
            "no-image",
            "image-",
            "old-",
            "other-",
            "not-ready",
            "retired",
            "away",
            "already-hung",
            "hanging-",
            "head-",
            "station-",
            "log-unclear",
            "not-free",
            "no-job-asks",
            "no-head",
            "print-order",
        ),
        N_("image, revision and size on the screen against those of the run’s position; its stage, place and head"),
        _LOG,
    ),
    Ground(
        "going-on",
        N_("Whether a run goes on"),
        ("again-", "first-print", "gone-past", "pieces-"),
        N_("what changed since the first print was approved, and the pieces counted against those ordered"),
        _LOG,
        decide=("pieces-",),
    ),
    Ground(
        "frame-choice",
        N_("Which frame fits best"),
        ("serves-",),
        N_(
            "frames of the asked mesh first, then those nearest to it; among them tension, uses and what they are kept "
            "for"
        ),
        _JUDGEMENT,
        decide=("mesh-count", "mesh-thread", "keep-", "idle-"),
    ),
    Ground(
        "job",
        N_("The job sheet read over"),
        ("job-", "mesh-cannot-be"),
        N_("what the sheet asks for, compared within itself and with the shop’s presses and buckets"),
        N_("common practice of the trade"),
        decide=("discharge-cotton",),
    ),
    Ground(
        "repeat",
        N_("Changed since the last order"),
        ("repeat-", "colour-first", "colour-other-ink"),
        N_("settings, ink, garment, mesh and artwork of this order against the run that it is to look like"),
        _LOG,
        decide=("same-",),
    ),
)
"""In the order in which they are listed."""
_BY_PREFIX = {prefix: one for one in GROUNDS for prefix in one.prefixes}


def ground_of(key: str) -> Ground:
    """What a reason rests on. Raises LookupError for one that nobody gave a subject."""
    found = max((prefix for prefix in _BY_PREFIX if key.startswith(prefix)), key=len, default=None)
    if found is None:
        raise LookupError(key)
    return _BY_PREFIX[found]


def first_ground(reasons: Iterable[Reason]) -> str:
    """The name of what the worst reason of a verdict rests on; empty: of none, or of an earlier program's."""
    for one in reasons:
        try:
            return ground_of(one.key).name
        except LookupError:
            continue
    return ""
