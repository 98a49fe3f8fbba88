"""What an experienced printer says on reading a job: remarks, each with its reason and where the limit comes from.

A remark refuses nothing. Limits are arguments; published advice disagrees on most of them, so the shop may set its own.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from tickets.calculator.units import convert
from tickets.calculator.verdict import Level, Reason, phrases
from tickets.records.job import WATER_INKS, Garment, Job, Placement, Station, ink_for
from tickets.records.separation import Key, folded
from tickets.words import N_
from tickets.words import gettext as _


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Limits of the remarks, with the shipped defaults.

    `discharge_cotton_pct`: under it discharge looks muted (published: 100 % natural fibre; 5 % left for elastane,
    judgement). `discharge_cotton_least_pct`: under it there is next to nothing to discharge (judgement).
    `bleed_c`: fibre -> garment temperature degC from which its dye may move; 129 degC (265 F) is the lowest of the
    published onsets, which run up to 166 degC (330 F). `ruling_ratio` and `_least`: mesh count over ruling, the usual
    3.5 and the lowest published 2.5. `flake_ratio`: opening over the largest flake.
    """

    discharge_cotton_pct: float = 95.0
    discharge_cotton_least_pct: float = 20.0
    bleed_c: Mapping[str, float] = field(default_factory=lambda: {"polyester": 129.0})
    ruling_ratio: float = 3.5
    ruling_ratio_least: float = 2.5
    flake_ratio: float = 3.0
    angle_margin_deg: float = 2.0


LIMITS = Limits()


@dataclass(frozen=True, slots=True)
class Remark:
    """A remark: its place in the job (as in faults), the reason, and the source of its limit in the reader's words."""

    place: str
    reason: Reason
    source: str


COMMON = N_("common practice")
JUDGEMENT = N_("judgement")

_SAID: dict[str, tuple[str, str]] = {
    "job_discharge_little_cotton": (
        N_("{garment} is {cotton_pct} cotton or the like: discharge turns out muted, since it takes the dye out of the"
           " natural fibre only."),
        N_("Show the customer a print on this very garment and colour before the run."),
    ),
    "job_discharge_no_cotton": (
        N_("{garment} is {cotton_pct} cotton or the like: discharge finds next to no dye that it can take out."),
        N_("Use another ink, such as a low-cure plastisol, or another garment."),
    ),
    "job_discharge_fibre_unknown": (
        N_("{garment}: nobody can tell from “{fibre}” how much of it discharges."),
        N_("Write the fibres in plain words (cotton, polyester), and test one garment."),
    ),
    "job_discharge_infant": (
        N_("{garment} is for infants and would carry discharge ink, which leaves formaldehyde."),
        N_("Discharge on infants' clothing is not advised: use another ink. The buyer's market sets the limit; the"
           " maker's safety data sheet and local rules win over this note."),
    ),
    "job_discharge_dye_lot": (
        N_("Discharge: the garment's dye lot moves the colour, with the very same ink."),
        N_("Note the garment lot, print a test on it, and tell the customer that a later lot may differ."),
    ),
    "job_discharge_dye_lot_repeat": (
        N_("A repeat with discharge: another dye lot gives another colour, with the very same ink."),
        N_("Compare the garment lots, print a test on this lot, and have it approved before the run. Where the match"
           " is critical, use plastisol."),
    ),
    "job_water_resistant_emulsion": (
        N_("Print order {stations}: {inks} ink softens an emulsion that is not water-resistant."),
        N_("Coat these screens with a water-resistant emulsion, for discharge one stated to stand discharge too. Run"
           " the dryer with its extraction on. Follow the maker's safety data sheet and local rules."),
    ),
    "job_cure_above_bleed": (
        N_("The garment peaks at {peak_c}, and {fibre} dye may move from {bleed_c} ({garment})."),
        N_("Run the belt slower and cooler, or take an ink that cures lower; let pieces cool before stacking, and look"
           " again after a day. The ink maker's data sheet says what the ink needs."),
    ),
    "job_ruling_fine": (
        N_("{ruling_lines_per_in} dots on a {count} mesh: {ratio} threads to a line, and {minimum_ratio} are usual."),
        N_("Take a finer mesh or a coarser ruling."),
    ),
    "job_ruling_too_fine": (
        N_("{ruling_lines_per_in} dots on a {count} mesh: {ratio} threads to a line, under the lowest published"
           " {minimum_ratio}. Dots will drop out and a pattern will show."),
        N_("Take a finer mesh or a coarser ruling."),
    ),
    "job_ruling_angle": (
        N_("The halftone stands at {angle_deg}: nearest the threads and their diagonal (0, 45, 90) a pattern shows"
           " most."),
        N_("22.5° is the usual way out."),
    ),
    "job_flake_tight": (
        N_("The opening of {count} is {opening_um}, {ratio} times the flake of {flake_um}; {minimum_ratio} times is"
           " wanted."),
        N_("Take a coarser mesh or a finer flake, or the screen clogs."),
    ),
    "job_flake_too_big": (
        N_("A flake of {flake_um} does not pass the opening of {count}, which is {opening_um} at most."),
        N_("Take a coarser mesh or a finer flake."),
    ),
    "job_flake_opening_unknown": (
        N_("The job gives no thread for {count}, so its opening against a flake of {flake_um} is not known."),
        N_("Write the thread that is wanted."),
    ),
    "job_no_flash_before_highlight": (
        N_("“{separation}” goes onto wet colours: there is no flash between them."),
        N_("Flash before the highlight white, or say in the note why not."),
    ),
    "job_one_separation_twice": (
        N_("“{separation}” is printed at {stations} of the print order, and no note says why."),
        N_("Write the reason in the station's note, or name the two differently if they are two images."),
    ),
    "job_one_head_twice": (
        N_("Print order {stations} wish for head {head}: one head holds one thing."),
        N_("Change one of them, or leave the heads to the set-up."),
    ),
    "job_one_height": (
        N_("One image in two placements, and only one of them gives its height."),
        N_("Write the height in both, so that nobody hangs an image of another size."),
    ),
}  # fmt: skip
phrases(_SAID)

_CELLULOSE = ("cotton", "linen", "flax", "hemp", "ramie", "viscose", "rayon", "modal", "lyocell", "bamboo")
_OTHER_FIBRES = ("polyester", "nylon", "polyamide", "acrylic", "elastane", "spandex", "polypropylene", "wool", "silk")


def remarks(job: Job, limits: Limits = LIMITS) -> tuple[Remark, ...]:
    """Everything an experienced printer would say on reading `job`, in the order of its file."""
    return tuple(
        [
            *_discharge(job, limits),
            *_one_height(job),
            *(
                remark
                for number, placement in enumerate(job.placements, start=1)
                for remark in _placement(job, placement, f"placement[{number}]", limits)
            ),
        ]
    )


def _placement(job: Job, placement: Placement, place: str, limits: Limits) -> Iterator[Remark]:
    yield from _emulsion(job, placement, place)
    yield from _heads(placement, place)
    yield from _twice(placement, place)
    yield from _highlight(placement, place)
    for station in placement.printing:
        here = f"{place}.station[{station.number}]"
        yield from _halftone(station, here, limits)
        yield from _flake(station, here, limits)
    yield from _cure(job, placement, place, limits)


def _named(garment: Garment) -> str:
    return _("{style} in {colour}").format(style=garment.style, colour=garment.colour)


def _kinds(job: Job, garment: Garment, placements: Iterable[Placement]) -> set[str]:
    """The kinds of ink that a garment takes."""
    colourway = job.colourway_of(garment)
    inks = [ink_for(job, colourway, placement, station) for placement in placements for station in placement.printing]
    return {ink.kind for ink in inks if ink is not None}


def _share(fibre: Mapping[str, float], words: Iterable[str]) -> float:
    wanted = tuple(words)
    return sum(percent for name, percent in fibre.items() if any(word in folded(name) for word in wanted))


def _discharge(job: Job, limits: Limits) -> Iterator[Remark]:
    discharged = False
    for number, garment in enumerate(job.garments, start=1):
        if "discharge" not in _kinds(job, garment, job.placements):
            continue
        discharged = True
        place = f"garment[{number}]"
        cotton = _share(garment.fibre, _CELLULOSE)
        unknown = sum(garment.fibre.values()) - cotton - _share(garment.fibre, _OTHER_FIBRES)
        numbers = {"garment": _named(garment), "cotton_pct": cotton}
        if cotton < limits.discharge_cotton_pct <= cotton + unknown:
            fibre = {"garment": _named(garment), "fibre": ", ".join(garment.fibre)}
            yield Remark(f"{place}.fibre", Reason("job_discharge_fibre_unknown", Level.UNKNOWN, fibre), _(JUDGEMENT))
        elif cotton < limits.discharge_cotton_least_pct:
            yield Remark(f"{place}.fibre", Reason("job_discharge_no_cotton", Level.STOP, numbers), _(JUDGEMENT))
        elif cotton < limits.discharge_cotton_pct:
            yield Remark(
                f"{place}.fibre",
                Reason("job_discharge_little_cotton", Level.CAUTION, numbers),
                _("Images (UK), Apr 2022, p. 78: blends turn out muted; others discharge 50/50"),
            )
        if garment.infant:
            yield Remark(
                f"{place}.infant",
                Reason("job_discharge_infant", Level.STOP, {"garment": _named(garment)}),
                _("a screen printer's published discharge guide; textile limits GB 18401 and Japan's Law 112"),
            )
    if discharged:
        key = "job_discharge_dye_lot_repeat" if job.repeats else "job_discharge_dye_lot"
        yield Remark(
            "repeats" if job.repeats else "garment",
            Reason(key, Level.CAUTION),
            _("a print shop's published policy: the colour differs between dye lots"),
        )


def _emulsion(job: Job, placement: Placement, place: str) -> Iterator[Remark]:
    colourways = {None, *range(len(job.colourways))} if _own_inks_used(job) else set(range(len(job.colourways)))
    stations: dict[int, set[str]] = {}
    for station in placement.printing:
        for which in colourways:
            ink = ink_for(job, None if which is None else job.colourways[which], placement, station)
            if ink is not None and ink.kind in WATER_INKS:
                stations.setdefault(station.number, set()).add(ink.kind)
    if stations:
        numbers = {
            "stations": ", ".join(map(str, stations)),
            "inks": ", ".join(sorted(set().union(*stations.values()))),
        }
        yield Remark(
            place,
            Reason("job_water_resistant_emulsion", Level.CAUTION, numbers),
            _("W. Shorter and L. Stubbings, “Take charge of your discharge printing”, Printwear & Promotion"),
        )


def _own_inks_used(job: Job) -> bool:
    return any(job.colourway_of(garment) is None for garment in job.garments)


def _heads(placement: Placement, place: str) -> Iterator[Remark]:
    """One head holds one screen or one flash; the same one may serve again in another revolution."""
    by_head: dict[int, list[Station]] = {}
    for station in placement.stations:
        if station.head is not None:
            by_head.setdefault(station.head, []).append(station)
    for head, stations in by_head.items():
        things = {(station.does, folded(station.separation)) for station in stations}
        rounds = [station.revolution for station in stations]
        if len(things) > 1 or len(set(rounds)) < len(rounds):
            numbers = {"head": head, "stations": ", ".join(str(station.number) for station in stations)}
            yield Remark(
                f"{place}.station[{stations[-1].number}].head",
                Reason("job_one_head_twice", Level.CAUTION, numbers),
                _(JUDGEMENT),
            )


def _twice(placement: Placement, place: str) -> Iterator[Remark]:
    by_name: dict[str, list[Station]] = {}
    for station in placement.printing:
        by_name.setdefault(folded(station.separation), []).append(station)
    for stations in by_name.values():
        if len(stations) > 1 and not any(station.note for station in stations):
            numbers = {
                "separation": stations[0].separation,
                "stations": ", ".join(str(station.number) for station in stations),
            }
            yield Remark(
                f"{place}.station[{stations[-1].number}]",
                Reason("job_one_separation_twice", Level.CAUTION, numbers),
                _(JUDGEMENT),
            )


def _says(station: Station, word: str) -> bool:
    return any(re.search(rf"\b{word}\b", folded(text)) for text in (station.separation, station.colour))


def _highlight(placement: Placement, place: str) -> Iterator[Remark]:
    """A white (or anything called a highlight) of a plastisol kind after colours wants a flash before it.

    Water-base and discharge colours are printed wet on wet throughout, and a base is no colour."""
    wet_colours = False
    for station in placement.stations:
        if station.does == "flash":
            wet_colours = False
        if not station.prints:
            continue
        white = _says(station, "white")
        base = _says(station, "(under)?base") or _says(station, "underlay")
        if wet_colours and (_says(station, "highlights?") or white) and not base and station.ink not in WATER_INKS:
            if not station.note:
                yield Remark(
                    f"{place}.station[{station.number}]",
                    Reason("job_no_flash_before_highlight", Level.CAUTION, {"separation": station.separation}),
                    _(COMMON),
                )
        elif not white and not base and station.ink not in WATER_INKS:
            wet_colours = True


def _halftone(station: Station, place: str, limits: Limits) -> Iterator[Remark]:
    halftone, mesh = station.halftone, station.mesh
    if halftone is None or mesh is None:
        return
    ratio = convert(mesh.count_per_cm, "/cm", "/in") / halftone.ruling_per_in
    numbers = {
        "ruling_lines_per_in": halftone.ruling_per_in,
        "count": mesh.count_as_labelled,
        "ratio": round(ratio, 2),
    }
    # a labelled 230/in against 65 lines is taken for 3.5 in the trade, 90/cm likewise: one part in a hundred is slack
    if ratio < limits.ruling_ratio_least * 0.99:
        yield Remark(
            f"{place}.halftone.ruling",
            Reason("job_ruling_too_fine", Level.STOP, numbers | {"minimum_ratio": limits.ruling_ratio_least}),
            _("Sefar, “Questions about half-tone printing”: 2.5, 3.75 or 5 threads to a line"),
        )
    elif ratio < limits.ruling_ratio * 0.99:
        yield Remark(
            f"{place}.halftone.ruling",
            Reason("job_ruling_fine", Level.CAUTION, numbers | {"minimum_ratio": limits.ruling_ratio}),
            _("M. Coudray, Screen Printing, April 2003: 3.5 and 4; a mesh maker's advice goes down to 2.5"),
        )
    angle = halftone.angle_deg
    if angle is not None and min(abs(angle - worst) for worst in (0, 45, 90, 135, 180)) < limits.angle_margin_deg:
        yield Remark(
            f"{place}.halftone.angle",
            Reason("job_ruling_angle", Level.CAUTION, {"angle_deg": angle}),
            _("Sefar, “Questions about half-tone printing”"),
        )


def _flake(station: Station, place: str, limits: Limits) -> Iterator[Remark]:
    flake, mesh = station.flake_um, station.mesh
    if flake is None or mesh is None:
        return
    pitch = 10_000 / mesh.count_per_cm
    opening = pitch - (mesh.thread_um or 0.0)  # without a thread: more than it can be
    numbers = {"flake_um": flake, "count": mesh.count_as_labelled, "opening_um": round(opening, 1)}
    if opening <= flake:
        reason = Reason("job_flake_too_big", Level.STOP, numbers)
    elif mesh.thread_um is None:
        reason = Reason("job_flake_opening_unknown", Level.UNKNOWN, numbers)
    elif opening < limits.flake_ratio * flake:
        ratio = {"ratio": round(opening / flake, 2), "minimum_ratio": limits.flake_ratio}
        reason = Reason("job_flake_tight", Level.CAUTION, numbers | ratio)
    else:
        return
    yield Remark(f"{place}.flake", reason, _(COMMON))


_UNDYED = ("white", "natural", "ecru", "undyed")


def _cure(job: Job, placement: Placement, place: str, limits: Limits) -> Iterator[Remark]:
    peak = placement.dryer.garment_peak_c if placement.dryer else None
    if peak is None:
        return
    for fibre, bleed in limits.bleed_c.items():
        at_risk = [
            _named(garment)
            for garment in job.garments
            if _share(garment.fibre, [fibre]) > 0
            and folded(garment.colour) not in _UNDYED
            and _kinds(job, garment, [placement])
        ]
        if at_risk and peak > bleed:
            numbers = {"peak_c": peak, "bleed_c": bleed, "fibre": fibre, "garment": ", ".join(dict.fromkeys(at_risk))}
            yield Remark(
                f"{place}.dryer.garment_peak",
                Reason("job_cure_above_bleed", Level.CAUTION, numbers),
                _("the lowest published onset (“Performance fabrics”, paperthermometer.com); others go up to 166 °C"),
            )


def _one_height(job: Job) -> Iterator[Remark]:
    seen: dict[Key, tuple[int, bool]] = {}
    said: set[tuple[int, int]] = set()
    for number, placement in enumerate(job.placements, start=1):
        for station in placement.printing:
            known = placement.height_mm is not None
            first, first_known = seen.setdefault(job.separation(placement, station).key, (number, known))
            if first != number and known != first_known and (first, number) not in said:
                said.add((first, number))
                yield Remark(
                    f"placement[{first if known else number}].height",
                    Reason("job_one_height", Level.CAUTION),
                    _(JUDGEMENT),
                )
