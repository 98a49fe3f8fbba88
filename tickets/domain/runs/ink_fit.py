"""Whether what is in a bucket is the ink that a print order asks for: its kind, its colour, its series.

A bucket is of another colour only where it says so: by its colour, else by a colour word or the ink of another print
order in its name. One that says nothing is offered "by its kind alone"."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any

from tickets.calculator.verdict import Level, Reason, phrases
from tickets.domain.bucket import Bucket, named_by
from tickets.domain.code import shown
from tickets.domain.jobs.job import Ink
from tickets.domain.refusal import Fault
from tickets.domain.runs.setup import INK_BUCKETS
from tickets.domain.separation import folded
from tickets.i18n import N_
from tickets.i18n import gettext as _

COLOUR_WORDS = frozenset(
    "white black red green blue yellow orange purple violet pink brown grey gray navy teal turquoise maroon gold "
    "silver cyan magenta olive lime khaki cream beige coral scarlet crimson burgundy lilac mint amber ochre rust "
    "blanco negro rojo verde azul amarillo naranja morado violeta rosa gris turquesa granate dorado plateado".split()
)  # fmt: skip
"""Plain words that a product's name says its colour by; of one that says none nobody knows it by its name."""


def against(bucket: Bucket, station: int, inks: Sequence[Ink], others: Iterable[Ink] = ()) -> list[Reason]:
    """What speaks against printing `inks` (what a print order takes, over the garments in question) from a bucket.

    Another kind, colour or series is a question that wants a reason; a bucket that says none of them speaks against
    nothing. `others`: the inks of the job's other print orders, whose colours and series a bucket may name."""
    if not inks:
        return []
    numbers: dict[str, Any] = {"station": station, "bucket": shown(bucket.code)}
    if not of_kind(bucket, inks):
        asked = ", ".join(dict.fromkeys(one.kind for one in inks))
        return [Reason("ink-other-kind", Level.STOP, {**numbers, "has": bucket.kind, "asked": asked})]
    apart = [one for one in others if one not in inks]
    found = []
    has = _other_colour(bucket, inks, apart)
    if has:
        asked = ", ".join(dict.fromkeys(one.colour for one in inks))
        found.append(Reason("ink-other-colour", Level.STOP, {**numbers, "has": has, "asked": asked}))
    has = _other_series(bucket, inks, apart)
    if has:
        asked = ", ".join(dict.fromkeys(one.series for one in inks if one.series))
        found.append(Reason("ink-other-series", Level.STOP, {**numbers, "has": has, "asked": asked}))
    return found


def of_kind(bucket: Bucket, inks: Iterable[Ink]) -> bool:
    """Whether a bucket holds a kind of ink that one of these may come out of."""
    kinds = [INK_BUCKETS.get(one.kind) for one in inks]
    return not bucket.emulsion and any(one is None or bucket.kind in one for one in kinds)


def named(bucket: Bucket, inks: Iterable[Ink]) -> bool:
    """Whether a bucket says by its colour, its series or its name that it is one of these inks."""
    every = list(inks)
    said = {folded(bucket.colour), folded(bucket.series)} - {""}
    words = [word for one in every for word in (one.colour, one.series, one.reference) if word]
    return named_by(bucket.product, words) or any(folded(word) in said for word in words)


def _other_colour(bucket: Bucket, inks: Sequence[Ink], apart: Iterable[Ink]) -> str:
    """The colour that a bucket is of, where it is none of these; empty: it is, or nobody can tell."""
    own = [one.colour for one in inks if one.colour]
    exact = [*own, *(one.reference for one in inks if one.reference)]
    if not own or named_by(f"{bucket.colour} {bucket.product}", exact):
        return ""
    if bucket.colour:
        return bucket.colour
    mine = {word for one in own for word in _words(one)}
    foreign = next((one.colour for one in apart if one.colour and named_by(bucket.product, [one.colour])), "")
    return bucket.product if foreign or (_words(bucket.product) & COLOUR_WORDS) - mine else ""


def _other_series(bucket: Bucket, inks: Sequence[Ink], apart: Iterable[Ink]) -> str:
    own = [one.series for one in inks if one.series]
    if not own or named_by(f"{bucket.series} {bucket.product}", own):
        return ""
    return bucket.series or next((one.series for one in apart if named_by(bucket.product, [one.series])), "")


def _words(text: str) -> set[str]:
    return set(re.findall(r"\w+", folded(text)))


# What goes with a bucket ---------------------------------------------------------------------------------------------

GOES_WITH = {"ink_lot": "lot", "recipe": "recipe"}
"""Settings of a print order that come out of its bucket."""


def goes_with(
    values: dict[str, str], before: dict[str, str], bucket: Bucket, was: Bucket | None, start: str
) -> list[Fault]:
    """Fills in `values`, the settings of a print order, what its bucket says; what was of the bucket before (`was`)
    goes with that one. Faults where something else was typed (fields start with `start`; `before`: what stood)."""
    faults = []
    for name, attribute in GOES_WITH.items():
        own, known, typed = getattr(bucket, attribute), before.get(name, ""), values.get(name, "")
        if own:
            if typed and typed != known and folded(typed) != folded(own):
                said = _("Bucket {bucket} has “{own}”: leave this empty. What is added at the press: under additives.")
                faults.append(Fault(f"{start}{name}", said.format(bucket=shown(bucket.code), own=own)))
            values[name] = own
        elif was is not None and was.id != bucket.id and typed and typed == getattr(was, attribute):
            values.pop(name)
    return faults


phrases(
    {
        "ink-other-kind": (
            N_("Position {station} asks for {asked} ink; bucket {bucket} holds {has}."),
            N_("Take another bucket; if this one is meant, say why."),
        ),
        "ink-other-colour": (
            N_("Position {station} asks for {asked}; bucket {bucket} is of another colour: {has}."),
            N_("Take another bucket; if this one is meant, say why."),
        ),
        "ink-other-series": (
            N_("Position {station} asks for series {asked}; bucket {bucket} is of series {has}."),
            N_("Another series may cure and stretch in another way. If this one is meant, say why."),
        ),
        "ink-in-use": (
            N_("Bucket {bucket} is in use in run {run} too, at position {station} (head {head})."),
            N_("Look that there is enough in it for both."),
        ),
    }
)  # fmt: skip
