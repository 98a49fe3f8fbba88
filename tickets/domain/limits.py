"""What limits there are and what they can be for: one row a limit, one row a condition.

The values that come with the program are in `calculator.defaults`, those of a shop in its spec.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from tickets.calculator import drying, kinds
from tickets.calculator.defaults import SPANS, Span
from tickets.calculator.units import show_value
from tickets.i18n import N_
from tickets.i18n import gettext as _


@dataclass(frozen=True, slots=True)
class Condition:
    """Something that a limit may be set for alone: `words`: what it is; `said`: a value of it in a sentence; `choices`:
    where it is one of a few, each as it is kept and its words."""

    words: str
    said: str
    choices: tuple[tuple[str, str], ...] = ()


CONDITIONS: Mapping[str, Condition] = {
    "work": Condition(N_("Work"), "{value}", tuple(kinds.WORK.items())),
    "frame": Condition(N_("Frame"), N_("{value} frames"), tuple(kinds.FRAMES.items())),
    "count": Condition(N_("Mesh count"), "{value}"),
    "side": Condition(N_("Shorter side of the frame"), N_("frames {value} wide")),
    "emulsion": Condition(N_("Emulsion"), N_("{value} emulsion"), tuple(kinds.EMULSIONS.items())),
    "exposure_unit": Condition(N_("Exposure unit"), N_("on {value}")),
    "mesh_colour": Condition(N_("Mesh colour"), N_("{value} mesh"), tuple(kinds.MESH_COLOURS.items())),
    "preset": Condition(N_("Coats"), N_("coats {value}")),
    "ink": Condition(N_("Ink"), N_("{value} ink"), tuple(kinds.INKS.items())),
    "fibre": Condition(N_("Fibre"), N_("fibre {value}")),
    "garment": Condition(N_("Garment"), N_("garment {value}")),
    "job": Condition(N_("Job"), N_("job {value}")),
    "lamp": Condition(N_("Lamp"), N_("lamp: {value}"), tuple(kinds.LAMPS.items())),
    "after": Condition(N_("Drying after"), N_("after {value}"), tuple(drying.AFTER.items())),
}
"""By what limits may differ, in the order in which it is said."""
NAMES: tuple[str, ...] = tuple(
    part for name in CONDITIONS for part in ((SPANS[name].over, SPANS[name].to) if name in SPANS else (name,))
)
"""The names of conditions as a row has them: a span by its two ends."""

_MESH = ("frame", "count", "mesh_colour")
_BY_WORK = ("work", *_MESH)
_EXPOSED = ("exposure_unit", "emulsion", "count", "mesh_colour", "preset")


@dataclass(frozen=True, slots=True)
class LimitKind:
    """A limit. `words`: what it is called; `asked`: the conditions that it is looked up by, since a row with any other
    would never count; `disputed`: published figures differ, and each row's source names the ones known; `within`: what
    it can be at all (None: whatever its unit can be); `unit`: that of one that the program ships no row of; `unset`:
    what is said of one without a row; `group`: its heading on the page."""

    words: str
    asked: tuple[str, ...] = tuple(CONDITIONS)
    disputed: bool = False
    within: tuple[float, float] | None = None
    unit: str = ""
    unset: str = ""
    group: str = ""


def _under(heading: str, limits: Mapping[str, LimitKind]) -> Mapping[str, LimitKind]:
    return {key: replace(one, group=heading) for key, one in limits.items()}


EXPOSURE_TIME, EXPOSURE_UNITS = "exposure-time", "exposure-units"
LIMITS: Mapping[str, LimitKind] = {
    **_under(
        N_("Wanted exposures"),
        {
            EXPOSURE_TIME: LimitKind(
                N_("Wanted exposure time"),
                asked=_EXPOSED,
                unit="s",
                unset=N_("No time is set yet: exposures are not judged by their time, and forms are not filled in."),
            ),
            EXPOSURE_UNITS: LimitKind(
                N_("Set exposure, in light units of the integrator"),
                asked=_EXPOSED,
                unit="",
                unset=N_("None is set: for exposure units that count light instead of seconds."),
            ),
        },
    ),
    **_under(
        N_("Tension"),
        {
            "tension-watch": LimitKind(N_("Tension: caution below"), asked=_BY_WORK, disputed=True),
            "tension-floor": LimitKind(N_("Tension floor"), asked=_BY_WORK, disputed=True),
            "tension-hard-floor": LimitKind(
                N_("Tension under which only the press lead passes a screen"), asked=_BY_WORK
            ),
            "new-mesh-tension": LimitKind(N_("Tension of new mesh"), asked=_BY_WORK, disputed=True),
            "tension-watch-share": LimitKind(
                N_("Tension: caution at most at this share of new mesh"),
                asked=_BY_WORK,
                disputed=True,
                within=(0, 100),
            ),
            "tension-over-new": LimitKind(N_("Tension over that of new mesh, at most"), asked=_BY_WORK, disputed=True),
            "tension-ceiling": LimitKind(N_("Tension ceiling"), asked=_BY_WORK),
            "tension-spread": LimitKind(N_("Spread of the readings of one screen"), asked=_BY_WORK),
            "tension-warp-weft": LimitKind(N_("Warp against weft"), asked=_BY_WORK),
            "tension-neighbours": LimitKind(
                N_("Points of new-mesh tension between the screens of a placement"), asked=()
            ),
            "holds-register": LimitKind(N_("Holds register for several colours (1: yes, 0: no)"), asked=_BY_WORK),
            "tension-age": LimitKind(N_("Age of a tension reading"), asked=()),
            "tension-age-stencils": LimitKind(N_("Stencils since a tension reading"), asked=()),
            "settled-hours": LimitKind(N_("Hours until new mesh has settled"), asked=(), disputed=True),
            "settled-uses": LimitKind(N_("Uses until new mesh has settled"), asked=()),
            "settling-loss": LimitKind(N_("What rested mesh loses in its first uses"), asked=()),
        },
    ),
    **_under(
        N_("Mesh"),
        {
            "mesh-count-tolerance": LimitKind(N_("Difference in count that is still the same mesh"), asked=()),
            "mesh-thread-tolerance": LimitKind(N_("Difference in thread that is still the same mesh"), asked=()),
            "mesh-count-hard": LimitKind(N_("Difference in count that only the press lead passes"), asked=_BY_WORK),
            "flake-factor": LimitKind(N_("Opening, in flake sizes"), asked=("ink",), disputed=True),
            "mesh-further-uses": LimitKind(N_("Further uses that a mesh is asked to last"), asked=()),
            "mesh-chance-least": LimitKind(
                N_("Chance of lasting them below which a mesh is near its end"), asked=(), within=(0, 100)
            ),
            "sheet-opening-off": LimitKind(
                N_("Opening off a maker’s sheet, from what count and thread give"), asked=()
            ),
            "sheet-area-off": LimitKind(
                N_("Open area off a maker’s sheet, points from what count and thread give"), asked=()
            ),
            "sheet-thickness-least": LimitKind(N_("Fabric thickness, in threads, at least"), asked=()),
            "sheet-thickness-most": LimitKind(N_("Fabric thickness, in threads, at most"), asked=()),
            "sheet-volume-off": LimitKind(
                N_("Ink volume off a maker’s sheet, from open area times thickness"), asked=()
            ),
        },
    ),
    **_under(
        N_("Emulsion, stencil, drying"),
        {
            "coated-age": LimitKind(N_("Age of a coated screen at exposure"), asked=("work", "emulsion", *_MESH)),
            "keep-days": LimitKind(N_("Time to keep a screen that nobody asks for")),
            "idle-days": LimitKind(N_("Time without use after which a frame is called idle"), asked=()),
            "frames-enough": LimitKind(
                N_("Share of the time that the frames of a mesh are to be enough for"), within=(0, 100)
            ),
            "mixed-emulsion-age": LimitKind(N_("Life of mixed emulsion"), asked=("emulsion",), disputed=True),
            "strip-vouches": LimitKind(N_("Time that a good test strip speaks for an expired emulsion")),
            "drying-temperature": LimitKind(N_("Temperature of drying air"), asked=()),
            "drying-temperature-highest": LimitKind(N_("Temperature at which emulsion hardens"), asked=()),
            "drying-humidity": LimitKind(N_("Humidity of drying air"), asked=()),
            "minutes-to-touch-dry": LimitKind(N_("Time until a coat is dry to the touch"), asked=("after",)),
            "minutes-to-dry": LimitKind(N_("Time until it is dry right through"), asked=("after",), disputed=True),
            "dries-at-temperature": LimitKind(N_("Room temperature that the times to dry are for"), asked=()),
            "dries-at-humidity": LimitKind(N_("Room humidity that the times to dry are for"), asked=()),
            "hours-to-dry-longest": LimitKind(N_("Time to dry in any room, at most"), asked=()),
            "build-least": LimitKind(N_("Stencil over mesh, at least"), disputed=True),
            "build-most": LimitKind(N_("Stencil over mesh, at most"), disputed=True),
        },
    ),
    **_under(
        N_("Exposure"),
        {
            "wanted-step": LimitKind(N_("Step to hold"), asked=("emulsion",), disputed=True, within=(1, 21)),
            "step-weak-most": LimitKind(N_("Steps under the wanted one that water inks still take"), asked=("ink",)),
            "step-above": LimitKind(N_("Steps over the wanted one that are still fine"), asked=()),
            "exposure-tolerance": LimitKind(N_("Difference from the wanted exposure time"), asked=(), disputed=True),
            "lamp-distance-diagonals": LimitKind(N_("Distance of a point lamp, in diagonals of the stencil"), asked=()),
            "lamp-hours": LimitKind(N_("Hours until a lamp is due"), asked=("lamp",)),
            "lamp-age": LimitKind(N_("Age at which a lamp is due"), asked=("lamp",), disputed=True),
            "lamp-drift": LimitKind(N_("Rise in exposure time at which a lamp is due"), asked=("lamp",)),
        },
    ),
    **_under(
        N_("Pace of the screen room"),
        {
            "pace-weeks": LimitKind(N_("Weeks of the log that the pace is worked out from"), asked=(), within=(1, 52)),
            "pace-least": LimitKind(N_("Screens made in them from which the shop’s own pace counts"), asked=()),
            "pace-longest": LimitKind(N_("Time from coat to ready beyond which a coated screen only waited"), asked=()),
            "pace-coat-to-ready": LimitKind(N_("Working time from coat to ready, until the log says it"), asked=()),
            "pace-coats": LimitKind(
                N_("Screens coated in an hour, until the log says it"), asked=(), within=(0.1, 1000)
            ),
        },
    ),
    **_under(
        N_("Print size"),
        {
            "print-shape": LimitKind(
                N_("Longer side of a print, in shorter ones, from which the job is asked about"), asked=()
            ),
        },
    ),
    **_under(
        N_("Halftones"),
        {
            "halftone-ratio": LimitKind(
                N_("Threads to a halftone line, wanted"), asked=("count", "ink", "work"), disputed=True
            ),
            "halftone-ratio-least": LimitKind(
                N_("Threads to a halftone line, at least"), asked=("count", "ink", "work")
            ),
            "moire-angle": LimitKind(N_("Angle whose multiples to the threads are bad"), asked=(), within=(1, 90)),
            "moire-margin": LimitKind(N_("Angle to keep clear of those"), asked=()),
        },
    ),
    **_under(
        N_("Ink and dryer"),
        {
            "cure-temperature": LimitKind(N_("Cure temperature"), asked=("ink", "garment", "job"), disputed=True),
            "cure-hold": LimitKind(N_("Time at cure temperature"), asked=("ink", "garment", "job"), disputed=True),
            "discharge-start": LimitKind(N_("Temperature at which discharge starts"), asked=("ink", "garment", "job")),
            "ink-ceiling": LimitKind(
                N_("Temperature that an ink must not go over"), asked=("ink", "garment", "job"), disputed=True
            ),
            "dye-bleed-onset": LimitKind(
                N_("Temperature at which a garment's dye may bleed"), asked=("fibre", "garment"), disputed=True
            ),
            "garment-ceiling": LimitKind(N_("Temperature that a fibre must not go over"), asked=("fibre", "garment")),
            "pot-life": LimitKind(N_("Life of a mixed ink"), asked=("ink",), disputed=True),
            "ink-transfer": LimitKind(
                N_("Ink weighed on the garment, as a share of the computed"),
                asked=("ink", "job", *_MESH),
                unit="",
                unset=N_("None is set: weigh a print, and the job’s ink is worked out from it."),
            ),
            "ink-density": LimitKind(
                N_("Density of an ink"),
                asked=("ink", "job"),
                unit="g/cm3",
                unset=N_("None is set: see the ink’s data sheet."),
            ),
            "ink-waste": LimitKind(N_("Ink lost on the way"), asked=("ink", "job")),
            "ink-load": LimitKind(
                N_("Ink that a screen is loaded with before it prints"), asked=("ink", "job", "side")
            ),
            "pieces-over": LimitKind(N_("Good pieces over the order before a count is asked about"), asked=()),
            "pieces-few": LimitKind(
                N_("Good pieces of the order under which the end of a run is asked about"), asked=(), within=(0, 100)
            ),
            "discharge-cotton": LimitKind(
                N_("Cotton for discharge"), asked=("garment",), disputed=True, within=(0, 100)
            ),
            "discharge-cotton-least": LimitKind(
                N_("Cotton for discharge, at least"), asked=("garment",), within=(0, 100)
            ),
            "probe-mark-highest": LimitKind(N_("A probe's mark in a dryer, at most"), asked=()),
            "probe-mark-lowest": LimitKind(N_("A probe's mark in a dryer, at least"), asked=()),
            "probe-fit": LimitKind(N_("How far a probe’s marks may lie from one warm-up"), asked=()),
        },
    ),
    **_under(
        N_("Colour"),
        {
            "colour-warn": LimitKind(N_("Colour difference, caution"), asked=("ink", "job")),
            "colour-fail": LimitKind(N_("Colour difference, stop"), asked=("ink", "job")),
        },
    ),
    **_under(
        N_("What is asked back as unusual"),
        {
            "usual-off-contact-least": LimitKind(N_("Off-contact, usual at least"), asked=()),
            "usual-off-contact-most": LimitKind(N_("Off-contact, usual at most"), asked=()),
            "usual-flash-most": LimitKind(N_("Flash, usual at most"), asked=()),
            "usual-belt-least": LimitKind(N_("Belt speed, usual at least"), asked=()),
            "usual-belt-most": LimitKind(N_("Belt speed, usual at most"), asked=()),
            "usual-tension-least": LimitKind(N_("Tension read, usual at least"), asked=()),
            "usual-tension-most": LimitKind(N_("Tension read, usual at most"), asked=()),
            "usual-exposure-times": LimitKind(N_("Exposure, usual times of the shop’s own, or a part of it"), asked=()),
            "usual-remover-most": LimitKind(N_("Remover on the mesh, usual at most"), asked=()),
            "usual-open-area-least": LimitKind(N_("Open area of a mesh, usual at least"), asked=()),
            "usual-open-area-most": LimitKind(N_("Open area of a mesh, usual at most"), asked=()),
            "usual-added-most": LimitKind(N_("What is stirred into an ink, usual share of its base at most"), asked=()),
            "usual-weight-times": LimitKind(N_("Weighed ink, usual times of what theory says"), asked=()),
            "usual-life-times": LimitKind(
                N_("How long a mixed ink is said to be good, usual times of its life"), asked=()
            ),
        },
    ),
    **_under(
        N_("When two settings are the same"),
        {
            "same-speed": LimitKind(N_("Difference in speed that is still the same setting"), asked=()),
            "same-time": LimitKind(N_("Difference in time that is still the same setting"), asked=()),
            "same-length": LimitKind(N_("Difference in length that is still the same setting"), asked=()),
            "same-temperature": LimitKind(N_("Difference in temperature that is still the same setting"), asked=()),
            "same-angle": LimitKind(N_("Difference in blade angle that is still the same setting"), asked=()),
            "same-hardness": LimitKind(N_("Difference in measured hardness that is still the same setting"), asked=()),
            "same-tension": LimitKind(N_("Difference in mean tension that is still the same"), asked=()),
        },
    ),
}
"""Every limit by its key, in the order of the page."""


def called(key: str) -> str:
    """What a limit is called; its key, where the program knows it no more."""
    return _(LIMITS[key].words) if key in LIMITS else key


def case_said(conditions: Mapping[str, Any], system: str = "metric") -> str:
    """What a row is for, in plain words and the reader's units, spans last; empty: for everything."""
    parts = []
    for name, condition in sorted(CONDITIONS.items(), key=lambda one: one[0] in SPANS):
        if name in SPANS:
            value = _span_said(SPANS[name], conditions, system)
        else:
            value = str(conditions.get(name, ""))
            value = kinds.fibre_said(value) if name == "fibre" else _(dict(condition.choices).get(value, value))
        if value:
            parts.append(_(condition.said).format(value=value))
    return ", ".join(parts)


def _span_said(span: Span, conditions: Mapping[str, Any], system: str) -> str:
    over, to = (
        show_value(float(conditions[end]), span.unit, system) if end in conditions else ""
        for end in (span.over, span.to)
    )
    if over and to:
        return _("over {over} up to {to}").format(over=over, to=to)
    return _("over {over}").format(over=over) if over else _("up to {to}").format(to=to) if to else ""
