"""What the colour of a first print says of going on with its run: a stop is one, and what nobody knows is said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tickets.calculator import colour
from tickets.calculator.verdict import Level, Reason, phrases
from tickets.domain.runs.comparison import ColourOf
from tickets.i18n import N_

_KEYS = {Level.STOP: "print-colour-far", Level.CAUTION: "print-colour-off"}
_UNKNOWN = {
    "colour-not-measured": "print-colour-unread",
    "colour-first-not-measured": "print-colour-unknown",
}
"""How the causes of an unknown colour are told; every other one: that the two readings do not compare."""


def judged(found: Sequence[ColourOf], names: Mapping[int, str], run: int) -> list[Reason]:
    """What the colours of a print, compared with those of `run`, say of printing on: each that is off by itself, those
    that nobody knows together. Empty: neither print was measured, or all are as approved.

    Not known is a caution: it is said, and stops nobody.
    """
    reasons = []
    unknown: dict[str, list[str]] = {}
    for one in found:
        image = names.get(one.station, "")
        if one.verdict.level in _KEYS and one.approved and one.printed:
            (cause,) = one.verdict.reasons
            limit = cause.numbers["fail" if one.verdict.level is Level.STOP else "warn"]
            numbers = {"station": one.station, "image": image, "difference": cause.numbers["difference"]}
            turn = [each.way for each in colour.turns(one.approved, one.printed)]
            numbers |= {"limit": limit, "run": run, "turn_word": turn}
            reasons.append(Reason(_KEYS[one.verdict.level], one.verdict.level, numbers, cause.spec))
        elif one.verdict.level is Level.UNKNOWN:
            key = _UNKNOWN.get(one.verdict.keys[0], "print-colour-uncompared")
            unknown.setdefault(key, []).append(f"{one.station} {image}".strip())
    for key, images in unknown.items():
        reasons.append(Reason(key, Level.CAUTION, {"images": images, "run": run}))
    return reasons


phrases(
    {
        "print-colour-far": (
            N_("Position {station} ({image}): the colour is {difference} (CIEDE2000) from run {run}, over {limit}."),
            N_("Turn it {turn_word}: check mesh, tension, strokes and underbase before the ink, then read it again."),
        ),
        "print-colour-off": (
            N_("Position {station} ({image}): the colour is {difference} (CIEDE2000) from run {run}, over {limit}."),
            N_("Turn it {turn_word}, or have the approver look at both under the same light."),
        ),
        "print-colour-unread": (
            N_("Unknown: whether the colour is right. Not read on this print, but on run {run}: {images}."),
            N_("Read it and approve the print with it, or hold both prints side by side."),
        ),
        "print-colour-unknown": (
            N_("Unknown: whether the colour is right. Read on this print, but not on run {run}: {images}."),
            N_("Hold both prints side by side."),
        ),
        "print-colour-uncompared": (
            N_("Unknown: whether the colour is right. Read, but not comparable with run {run}: {images}."),
            N_("Read both the same way: light, observer, mode, instrument, garment."),
        ),
    }
)
