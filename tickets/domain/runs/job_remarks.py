"""What an experienced printer says on reading a job: remarks, each with its reason and where the limit comes from.

A remark refuses nothing. The limits are the shop's spec: published advice disagrees on most of them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from tickets.calculator.kinds import CELLULOSE, OTHER_FIBRES, WATER_INKS
from tickets.calculator.mesh import judge_flake, judge_halftone
from tickets.calculator.units import convert
from tickets.calculator.verdict import Level, Reason, phrases
from tickets.domain.jobs.heads import Press, takes
from tickets.domain.jobs.job import Garment, Job, Placement, Station, ink_for
from tickets.domain.jobs.mesh_advice import limits as mesh_limits
from tickets.domain.runs import curing, setup
from tickets.domain.separation import Key, folded
from tickets.domain.spec import SHIPPED, Row, Spec
from tickets.i18n import N_
from tickets.i18n import gettext as _


@dataclass(frozen=True, slots=True)
class Remark:
    """A remark: its place in the job (as in faults), the reason, and the source of its limit in the reader's words."""

    place: str
    reason: Reason
    source: str


COMMON = N_("common practice")
JUDGEMENT = N_("judgement")

_SAID: dict[str, tuple[str, str]] = {
    "job-due-past": (
        N_("The press date {due} is past."),
        N_("Put it right, or agree on another date with the customer."),
    ),
    "job-discharge-little-cotton": (
        N_("{garment} is {cotton_pct} cotton or the like: discharge turns out muted, since it takes the dye out of the"
           " natural fibre only."),
        N_("Show the customer a print on this very garment and colour before the run."),
    ),
    "job-discharge-scarce-cotton": (
        N_("{garment} is only {cotton_pct} cotton or the like; {least_pct} is the least that sources give."),
        N_("Use another ink, such as a low-cure plastisol, unless a test on this very garment is approved."),
    ),
    "job-discharge-no-cotton": (
        N_("{garment} holds no cotton or the like: discharge finds no dye that it can take out."),
        N_("Use another ink, such as a low-cure plastisol, or another garment."),
    ),
    "job-discharge-fibre-unknown": (
        N_("{garment}: nobody can tell from “{fibre}” how much of it discharges."),
        N_("Write the fibres in plain words (cotton, polyester), and test one garment."),
    ),
    "job-discharge-infant": (
        N_("{garment} is for infants and would carry discharge ink, which leaves formaldehyde."),
        N_("Discharge on infants' clothing is not advised: use another ink. The buyer's market sets the limit; the"
           " maker's safety data sheet and local rules win over this note."),
    ),
    "job-discharge-dye-lot": (
        N_("Discharge: the garment's dye lot changes the colour, even with the same ink."),
        N_("Note the garment lot, print a test on it, and tell the customer that a later lot may differ."),
    ),
    "job-discharge-dye-lot-repeat": (
        N_("A reorder with discharge: another dye lot gives another colour, even with the same ink."),
        N_("Compare the garment lots, print a test on this lot, and have it approved before the run. Where the match"
           " is critical, use plastisol."),
    ),
    "job-water-resistant-emulsion": (
        N_("Positions {stations}: {inks} ink breaks down an emulsion that is not water-resistant."),
        N_("Coat their screens with a water-resistant emulsion (for discharge: one that its maker rates for "
           "discharge). Dryer extraction on. Follow the ink's safety data sheet and local rules."),
    ),
    "job-no-flash-before-highlight": (
        N_("“{separation}” goes onto wet colours: there is no flash between them."),
        N_("Flash before the highlight white, or say in the note why not."),
    ),
    "job-one-separation-twice": (
        N_("“{separation}” is printed at positions {stations}, and no note says why."),
        N_("Write the reason in the note, or give the two different names if they are two images."),
    ),
    "job-one-head-twice": (
        N_("Positions {stations} wish for head {head}: one head holds one screen or one flash."),
        N_("Change one of them, or leave the heads to the set-up."),
    ),
    "job-head-beyond": (
        N_("Position {station} wishes for head {head}; no press here has more than {most}."),
        N_("Write a head that there is, or leave the heads to the set-up."),
    ),
    "job-more-heads-than-any": (
        N_("This placement takes {wanted} heads, flashes and cooling included; no press here has more than {most}."),
        N_("Print with fewer colours, or note how many heads each press has (under Places). What prints in another "
           "revolution needs its own head too."),
    ),
    "job-more-heads-than-free": (
        N_("This placement takes {wanted} heads, flashes and cooling included; no press here has more than {most}."),
        N_("One flash can serve in two revolutions, or hang over a platen beside the heads. Cooling can be a longer "
           "stop. Garments that leave colours out can be printed one after another. What prints needs its own head."),
    ),
    "job-odd-shape": (
        N_("The print is {wide_mm} wide and {high_mm} high: one side is {times} times the other."),
        N_("Look at the units of width and height: mm, cm or in."),
    ),
    "job-one-height": (
        N_("One image in two placements, and only one of them gives its height."),
        N_("Write the height in both, so that nobody hangs an image of another size."),
    ),
}  # fmt: skip
phrases(_SAID)


def remarks(
    job: Job,
    limits: Spec = SHIPPED,
    today: date | None = None,
    presses: Sequence[Press] = (),
    targets: Mapping[str, Mapping[str, Mapping[str, str]]] | None = None,
) -> tuple[Remark, ...]:
    """Everything an experienced printer would say on reading `job`, garments first, then placement by placement.

    `today`: the shop's day, where the press date is looked at too; today's own is nothing to remark on. `limits` is
    the shop's spec, by default the shipped one; a limit that it does not hold is not judged. `presses`: those of the
    shop, for what the job asks of their heads; none, or one whose heads nobody noted: that is not judged. `targets`:
    what each placement, by its name, is to meet: its cure is judged by that before the dryer block of the sheet.
    Reasons carry the spec row that they rest on. Nothing to say: an empty tuple.
    """
    aims = targets or {}
    return tuple(
        [
            *_due(job, today),
            *_discharge(job, limits),
            *_one_height(job),
            *(
                remark
                for number, placement in enumerate(job.placements, start=1)
                for remark in (
                    *_placement(job, placement, f"placement[{number}]", limits, aims.get(placement.name, {})),
                    *_presses(job, placement, f"placement[{number}]", presses),
                )
            ),
        ]
    )


ON_THE_GARMENT = frozenset(
    {
        "job-discharge-little-cotton", "job-discharge-scarce-cotton", "job-discharge-no-cotton",
        "job-discharge-fibre-unknown", "job-discharge-infant", "job-no-flash-before-highlight",
    }
)  # fmt: skip
"""Remarks that decide about the garment in the hand, beside its cure: shown where it is printed, behind no fold."""
CURE = frozenset(
    {
        "under-cure", "under-hold", "under-activation", "over-ink-ceiling", "over-garment-ceiling", "cure-not-known",
        "fibre-not-known",
        "cure-over-garment", "cure-over-ink",
        "job-cure-above-bleed", "bleed-not-planned", "cure-span", "cure-span-held", "no-cure-span",
    }
)  # fmt: skip


def garment_remarks(job: Job, limits: Spec = SHIPPED, place: str = "", cure: bool = False) -> list[Remark]:
    """The remarks of a job that decide about its garments; `place`: of one placement and the garments alone; `cure`:
    those on the cure too, which a run judges by itself, as it was measured."""
    wanted = ON_THE_GARMENT | (CURE if cure else frozenset())
    return [
        one
        for one in remarks(job, limits)
        if one.reason.key in wanted and one.place.startswith((place, "garment") if place else "")
    ]


def _due(job: Job, today: date | None) -> Iterator[Remark]:
    if today is not None and job.due < today:
        yield Remark("due", Reason("job-due-past", Level.CAUTION, {"due": job.due.isoformat()}), _(COMMON))


def _placement(
    job: Job, placement: Placement, place: str, limits: Spec, target: Mapping[str, Mapping[str, str]]
) -> Iterator[Remark]:
    yield from _shape(placement, place, limits)
    yield from _emulsion(job, placement, place)
    yield from _heads(placement, place)
    yield from _twice(placement, place)
    yield from _highlight(placement, place)
    for station in placement.printing:
        here = f"{place}.station[{station.number}]"
        yield from _halftone(station, placement.work, here, limits)
        yield from _flake(station, here, limits)
    yield from _cure(job, placement, place, limits, target.get(setup.RUN))


def _limit(limits: Spec, key: str, **facts: object) -> Row | None:
    """The row that decides; its source is said with the remark."""
    found = limits.find(key, **facts)
    return None if found is None else next(row for row in limits.rows if row.id == found.row)


def _number(row: Row | None) -> float:
    return 0.0 if row is None or row.value is None else row.value


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


def _discharge(job: Job, limits: Spec) -> Iterator[Remark]:
    discharged = False
    for number, garment in enumerate(job.garments, start=1):
        if "discharge" not in _kinds(job, garment, job.placements):
            continue
        discharged = True
        place = f"garment[{number}]"
        yield from _cotton(garment, place, limits)
        if garment.infant:
            yield Remark(
                f"{place}.infant",
                Reason("job-discharge-infant", Level.STOP, {"garment": _named(garment)}),
                _("a screen printer's published discharge guide; textile limits GB 18401 and Japan's Law 112"),
            )
    if discharged:
        key = "job-discharge-dye-lot-repeat" if job.repeats else "job-discharge-dye-lot"
        yield Remark(
            "repeats" if job.repeats else "garment",
            Reason(key, Level.CAUTION),
            _("a print shop's published policy: the colour differs between dye lots"),
        )


def _cotton(garment: Garment, place: str, limits: Spec) -> Iterator[Remark]:
    wanted = _limit(limits, "discharge-cotton", garment=garment.style)
    least = _limit(limits, "discharge-cotton-least", garment=garment.style)
    cotton = _share(garment.fibre, CELLULOSE)
    unknown = sum(garment.fibre.values()) - cotton - _share(garment.fibre, OTHER_FIBRES)
    # half a percent: three thirds may be written 33.3
    if wanted is None or cotton >= _number(wanted) - 0.5:
        return
    numbers = {"garment": _named(garment), "cotton_pct": cotton}
    if unknown > 0:
        fibre = {"garment": _named(garment), "fibre": ", ".join(garment.fibre)}
        reason, row = Reason("job-discharge-fibre-unknown", Level.UNKNOWN, fibre, (wanted.id,)), wanted
    elif cotton <= 0:
        reason, row = Reason("job-discharge-no-cotton", Level.STOP, numbers, (wanted.id,)), wanted
    elif least is not None and cotton < _number(least) - 0.5:
        scarce = numbers | {"least_pct": _number(least)}
        reason, row = Reason("job-discharge-scarce-cotton", Level.CAUTION, scarce, (least.id,)), least
    else:
        reason, row = Reason("job-discharge-little-cotton", Level.CAUTION, numbers, (wanted.id,)), wanted
    yield Remark(f"{place}.fibre", reason, _(row.source))


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
            Reason("job-water-resistant-emulsion", Level.CAUTION, numbers),
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
                Reason("job-one-head-twice", Level.CAUTION, numbers),
                _(JUDGEMENT),
            )


def _presses(job: Job, placement: Placement, place: str, presses: Sequence[Press]) -> Iterator[Remark]:
    """What the print asks of heads that no press of the shop has."""
    known = [one.heads for one in presses if one.heads is not None]
    if not known or len(known) < len(presses):
        return
    most = max(known)
    for station in placement.stations:
        if station.head is not None and station.head > most:
            numbers = {"station": station.number, "head": station.head, "most": most}
            where = f"{place}.station[{station.number}].head"
            yield Remark(where, Reason("job-head-beyond", Level.CAUTION, numbers), _(JUDGEMENT))
    wanted = [takes(job, placement, one) for one in presses]
    if all(one.heads > heads for one, heads in zip(wanted, known, strict=True)):
        numbers = {"wanted": min(one.heads for one in wanted), "most": most}
        never = all(one.least > heads for one, heads in zip(wanted, known, strict=True))
        key = "job-more-heads-than-any" if never else "job-more-heads-than-free"
        yield Remark(place, Reason(key, Level.CAUTION, numbers), _(JUDGEMENT))


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
                Reason("job-one-separation-twice", Level.CAUTION, numbers),
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
                    Reason("job-no-flash-before-highlight", Level.CAUTION, {"separation": station.separation}),
                    _(COMMON),
                )
        elif not white and not base and station.ink not in WATER_INKS:
            wet_colours = True


def _halftone(station: Station, work: str, place: str, limits: Spec) -> Iterator[Remark]:
    """Ruling against mesh, and the angle where it is given."""
    halftone, mesh = station.halftone, station.mesh
    if halftone is None or mesh is None:
        return
    count = convert(mesh.count_per_cm, "/cm", "/in")
    facts: dict[str, object] = {"count_per_in": count, "ink": station.ink, "work": work}
    for reason in judge_halftone(halftone.ruling_per_in, count, halftone.angle_deg, mesh_limits(limits, **facts)):
        key, rests_on = _OF_HALFTONE.get(reason.key, ("", ""))
        row = _limit(limits, rests_on, **facts) if rests_on else None
        if row is not None:
            yield Remark(f"{place}.halftone.{key}", replace(reason, spec=(row.id,)), _(row.source))


_OF_HALFTONE = {
    "halftone-fine": ("ruling", "halftone-ratio"),
    "halftone-too-fine": ("ruling", "halftone-ratio-least"),
    "moire-angle": ("angle", "moire-angle"),
}
"""What of a halftone a reason is about, and the limit that it rests on."""


def _shape(placement: Placement, place: str, limits: Spec) -> Iterator[Remark]:
    """A height that is far more or less than the width: more often a slip in the unit than a print."""
    row = _limit(limits, "print-shape")
    wide, high = placement.width_mm, placement.height_mm
    if row is None or not wide or not high or max(wide, high) < _number(row) * min(wide, high):
        return
    numbers = {"wide_mm": wide, "high_mm": high, "times": max(wide, high) / min(wide, high)}
    yield Remark(f"{place}.height", Reason("job-odd-shape", Level.CAUTION, numbers, (row.id,)), _(row.source))


def _flake(station: Station, place: str, limits: Spec) -> Iterator[Remark]:
    flake, mesh = station.flake_um, station.mesh
    row = _limit(limits, "flake-factor", ink=station.ink)
    if flake is None or mesh is None or row is None:
        return
    pitch = 10_000 / mesh.count_per_cm
    if mesh.thread_um is None and pitch > flake:
        opening = None
    else:  # without a thread the opening is under the pitch, and that is too small already
        opening = pitch - (mesh.thread_um or 0.0)
    for reason in judge_flake(opening, flake, factor=_number(row), spec=(row.id,)):
        if reason.level is not Level.OK:
            yield Remark(f"{place}.flake", reason, _(row.source))


_PLACE_OF = {"under-hold": ".dryer.hold", "bleed-not-planned": "", "cure-over-garment": "", "cure-over-ink": "",
             "fibre-not-known": ""}  # fmt: skip
"""What of a placement a remark on its cure is about, where that is not the peak."""


def _cure(
    job: Job, placement: Placement, place: str, limits: Spec, target: Mapping[str, str] | None
) -> Iterator[Remark]:
    """Whether what is to be met (else the dryer block) cures every ink, and what ink, garment and dye stand."""
    dried = "" if placement.dryer is None else ".dryer.garment_peak"
    for reason in curing.cure(job, placement, curing.heat_of(placement, target=target), limits):
        source = next((row.source for row in limits.rows if row.id in reason.spec[:1]), JUDGEMENT)
        yield Remark(place + _PLACE_OF.get(reason.key, dried), reason, _(source))


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
                    Reason("job-one-height", Level.CAUTION),
                    _(JUDGEMENT),
                )
