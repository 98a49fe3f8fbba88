"""Cure: the heat that a garment gets against what its inks, dyes and fibres need and bear."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import Any

from tickets.calculator import cure as cure_rules
from tickets.calculator import kinds
from tickets.calculator.verdict import Reason
from tickets.domain import setting
from tickets.domain.jobs.job import Garment, Ink, Job, Placement, ink_for
from tickets.domain.separation import folded
from tickets.domain.spec import Spec, facts_of

_LOW_BLEED = re.compile(r"\b(low|no)[ -]?bleed|\bblocker\b|\b(for|high)[ -]poly")
"""What an ink's series, colour or reference says where it is made against migration (common practice)."""


FIBRE_KEYS = ("dye-bleed-onset", "garment-ceiling")
"""The limits of what a fibre stands."""


def heat_of(
    placement: Placement,
    as_run: Mapping[str, str] | None = None,
    doubted: Collection[str] = (),
    target: Mapping[str, str] | None = None,
) -> cure_rules.Heat:
    """The garment's peak and hold: as measured at the press (the sheet's settings of the whole run), else as its target
    has it (`target`: those settings of it), else as the job's dryer block plans them. `doubted`: settings that nobody
    is known to have measured."""
    dryer = placement.dryer
    planned = {"garment_peak": dryer.garment_peak_c, "hold": dryer.hold_s} if dryer else {}
    found: dict[str, tuple[float | None, str]] = {}
    for name in ("garment_peak", "hold"):
        read, aimed = (setting.number(name, str((known or {}).get(name, ""))) for known in (as_run, target))
        plan = planned.get(name)
        if read is not None:
            found[name] = read, cure_rules.NOTED if name in doubted else cure_rules.MEASURED
        elif aimed is not None and (plan is None or abs(aimed - plan) > _SAME_NUMBER):
            found[name] = aimed, cure_rules.AIMED
        else:
            found[name] = plan, cure_rules.PLANNED
    return cure_rules.Heat(found["garment_peak"][0], found["hold"][0], found["garment_peak"][1], found["hold"][1])


_SAME_NUMBER = 1e-6
"""Two readings of one text are apart by less."""


def cure(
    job: Job,
    placement: Placement,
    heat: cure_rules.Heat,
    spec: Spec,
    *,
    garments: Sequence[Garment] = (),
    as_run: Mapping[int, str] | None = None,
    code: str = "",
) -> list[Reason]:
    """What speaks against the cure of a placement: every ink that these garments (none: all of the job) take, over all
    their colourways, and what their fibres stand. `as_run`: by print order the kind of ink that was poured instead of
    the one asked for; `code`: the job's own limits count too."""
    needs, stands = needs_of(job, placement, spec, garments=garments, as_run=as_run, code=code)
    return cure_rules.judge(needs, stands, heat)


def needs_of(
    job: Job,
    placement: Placement,
    spec: Spec,
    *,
    garments: Sequence[Garment] = (),
    as_run: Mapping[int, str] | None = None,
    code: str = "",
) -> tuple[list[cure_rules.CureNeed], list[cure_rules.Stand]]:
    """What the inks of a placement need and what its garments stand; as in `cure`."""
    needs: list[cure_rules.CureNeed] = []
    stands: dict[tuple[Any, ...], list[Garment]] = {}
    for garment in garments or job.garments:
        inks = _inks_on(job, garment, placement, as_run or {})
        for one in inks:
            needs.append(_need(one.kind, garment, code, spec))
        for stand in _stands(garment, inks, spec) if inks else ():
            stands.setdefault(stand, []).append(garment)
    named = [
        cure_rules.Stand(", ".join(dict.fromkeys(f"{one.style}, {one.colour}" for one in some)), *stand)
        for stand, some in stands.items()
    ]
    return list(dict.fromkeys(needs)), named


def _inks_on(job: Job, garment: Garment, placement: Placement, as_run: Mapping[int, str]) -> list[Ink]:
    """The inks that a garment takes, in print order."""
    way = job.colourway_of(garment)
    found = []
    for station in placement.printing:
        one = ink_for(job, way, placement, station)
        if one is not None:
            found.append(replace(one, kind=as_run.get(station.number, one.kind)))
    return found


def _need(kind: str, garment: Garment, code: str, spec: Spec) -> cure_rules.CureNeed:
    facts = facts_of(ink=kind, garment=garment.style, job=code)
    keys = ("cure-temperature", "cure-hold", "discharge-start", "ink-ceiling")
    found = (spec.find(key, **facts) for key in keys)
    return cure_rules.CureNeed(kind, *(cure_rules.CureLimit(one.value, one.row) if one else None for one in found))


def _stands(garment: Garment, inks: Sequence[Ink], spec: Spec) -> list[tuple[Any, ...]]:
    """What each fibre of a garment stands, as the fields of `cure_rules.Stand` behind its name; "recycled polyester" as
    polyester."""
    first = inks[0]
    shielded = bool(_LOW_BLEED.search(folded(" ".join((first.series, first.colour, first.reference)))))
    found: list[tuple[Any, ...]] = []
    judged = any(row.key in FIBRE_KEYS for row in spec.rows)
    for fibre in garment.fibre:
        limits: list[cure_rules.CureLimit | None] = []
        for key in FIBRE_KEYS:
            names = (folded(fibre), *folded(fibre).split())
            rows = (spec.find(key, fibre=name, garment=garment.style) for name in names)
            row = next((one for one in rows if one is not None), None)
            limits.append(cure_rules.CureLimit(row.value, row.row) if row else None)
        if kinds.undyed(garment.colour):
            limits[0] = None
        if any(limits):
            found.append((folded(fibre), *limits, shielded))
        elif judged and not any(word in folded(fibre) for word in kinds.FIBRES):
            found.append((folded(fibre), None, None, shielded, False))
    return found
