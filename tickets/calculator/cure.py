"""The cure of every ink that goes onto a garment: peak and hold against what the ink needs, against what ink and
garment stand, and against where the garment's dye moves; and the span that serves them all, where there is one.

A garment that reached its peak is not proved cured: the whole ink film must, and a wash test decides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from tickets.calculator.verdict import Level, Reason, advised, phrases
from tickets.i18n import N_

MEASURED = N_("as measured")
PLANNED = N_("as planned")
AIMED = N_("as the target has it")
NOTED = N_("noted at set-up")
"""On a sheet of before it was kept who measured: the target's may have been copied."""


@dataclass(frozen=True, slots=True)
class CureLimit:
    """A limit in degC or s, and the row of the spec that it comes from."""

    value: float
    row: int


@dataclass(frozen=True, slots=True)
class CureNeed:
    """What an ink needs and stands: the film at `cure` for `hold`; a discharge starts at `start`. None: not known."""

    ink: str
    cure: CureLimit | None = None
    hold: CureLimit | None = None
    start: CureLimit | None = None
    ceiling: CureLimit | None = None


@dataclass(frozen=True, slots=True)
class Stand:
    """What the fibre of some garments stands: where its dye may move (None: undyed, or no dye that does), and the
    heat that spoils it. `shielded`: the first ink down is made against migration. `known`: False where nobody can tell
    from the fibre what it stands."""

    garments: str
    fibre: str
    bleed: CureLimit | None = None
    ceiling: CureLimit | None = None
    shielded: bool = False
    known: bool = True


@dataclass(frozen=True, slots=True)
class Heat:
    """The garment's peak in degC and its time there in s, each as measured at the press (or noted there by nobody
    knows whom), else as its target has it, else as planned in the job."""

    peak_c: float | None = None
    hold_s: float | None = None
    peak_word: str = PLANNED
    hold_word: str = PLANNED


def judge(needs: Sequence[CureNeed], stands: Sequence[Stand], heat: Heat) -> list[Reason]:
    """What speaks against this heat: an ink that it does not cure stops; more than ink, garment or dye stand is a
    caution. Then, in one reason, the span that serves them all, or that there is none; where they send the dryer two
    ways, or no peak serves, that alone says what to do. Nothing is said of what nobody measured or planned, but for a
    garment whose dye moves before its ink is cured, and for a garment or an ink that no peak serves. A fibre of which
    nobody knows what it stands is said to be so, and no span is said to suit it."""
    unknown = [
        Reason("cure-not-known", Level.CAUTION, {"ink_word": need.ink})
        for need in needs
        if need.cure is None and need.hold is None and need.start is None
    ]
    unknown += [
        Reason("fibre-not-known", Level.CAUTION, {"garment": stand.garments, "fibre": stand.fibre})
        for stand in stands
        if not stand.known
    ]
    short = [reason for need in needs for reason in _short(need, heat)]
    over = [reason for need in needs for reason in _over(need, heat)]
    over += [reason for stand in stands for reason in _stood(stand, needs, heat)]
    never = _never(needs, stands) if heat.peak_c is None else []
    over += never
    if not short and not over:
        return unknown
    span = [one for one in _span(needs, stands) if not never or one.key != "no-cure-span"]  # said already, and of what
    ways = {_WAY.get(one.key, "") for one in (*short, *over)}
    if span and (len(ways) > 1 or span[0].key == "no-cure-span"):
        short, over = advised(short), advised(over)
    elif not span and _BLEEDS in ways:
        over = advised(over, [one.key for one in over if _WAY.get(one.key) == _TOO_HOT])
    return [*short, *over, *unknown, *span]


_TOO_HOT, _BLEEDS = "less heat, or a faster belt", "less heat, and a slower belt"
_WAY = {
    **dict.fromkeys(("under-cure", "under-activation", "under-hold"), "more heat, or a slower belt"),
    **dict.fromkeys(("over-ink-ceiling", "over-garment-ceiling"), _TOO_HOT),
    "job-cure-above-bleed": _BLEEDS,
}
"""Which way a reason sends the dryer, by its key: two ways are no advice."""


def _short(need: CureNeed, heat: Heat) -> list[Reason]:
    found = []
    said: dict[str, Any] = {"ink_word": need.ink}
    if heat.peak_c is not None:
        peak = {**said, "peak_c": heat.peak_c, "how_word": heat.peak_word}
        if need.start and heat.peak_c < need.start.value:
            found.append(
                Reason("under-activation", Level.STOP, {**peak, "start_c": need.start.value}, (need.start.row,))
            )
        elif need.cure and heat.peak_c < need.cure.value:
            found.append(Reason("under-cure", Level.STOP, {**peak, "cure_c": need.cure.value}, (need.cure.row,)))
    if heat.hold_s is not None and need.hold and heat.hold_s < need.hold.value:
        numbers = {**said, "hold_s": heat.hold_s, "needed_s": need.hold.value, "how_word": heat.hold_word}
        if need.cure:
            numbers["cure_c"] = need.cure.value
        found.append(Reason("under-hold", Level.STOP, numbers, (need.hold.row,)))
    return found


def _over(need: CureNeed, heat: Heat) -> list[Reason]:
    if heat.peak_c is None or need.ceiling is None or heat.peak_c <= need.ceiling.value:
        return []
    numbers = {"ink_word": need.ink, "peak_c": heat.peak_c, "most_c": need.ceiling.value, "how_word": heat.peak_word}
    return [Reason("over-ink-ceiling", Level.CAUTION, numbers, (need.ceiling.row,))]


def _stood(stand: Stand, needs: Sequence[CureNeed], heat: Heat) -> list[Reason]:
    found = []
    said = {"garment": stand.garments, "fibre": stand.fibre}
    if heat.peak_c is not None:
        peak = {**said, "peak_c": heat.peak_c, "how_word": heat.peak_word}
        if stand.bleed and heat.peak_c > stand.bleed.value:
            numbers = {**peak, "bleed_c": stand.bleed.value}
            found.append(Reason("job-cure-above-bleed", Level.CAUTION, numbers, (stand.bleed.row,)))
        if stand.ceiling and heat.peak_c > stand.ceiling.value:
            numbers = {**peak, "most_c": stand.ceiling.value}
            found.append(Reason("over-garment-ceiling", Level.CAUTION, numbers, (stand.ceiling.row,)))
    elif stand.bleed and not stand.shielded:
        hot = [need for need in needs if need.cure and need.cure.value >= stand.bleed.value]
        if hot:
            worst = max(hot, key=lambda need: need.cure.value if need.cure else 0.0)
            assert worst.cure is not None
            numbers = {**said, "bleed_c": stand.bleed.value, "ink_word": worst.ink, "cure_c": worst.cure.value}
            found.append(Reason("bleed-not-planned", Level.CAUTION, numbers, (stand.bleed.row, worst.cure.row)))
    return found


def _never(needs: Sequence[CureNeed], stands: Sequence[Stand]) -> list[Reason]:
    """What is spoilt by the heat that an ink needs, whatever peak is planned: the inks that stand less than another one
    needs, and the garments that do."""
    hottest = max((need for need in needs if need.cure), key=lambda one: one.cure.value, default=None)  # type: ignore[union-attr]
    if hottest is None or hottest.cure is None:
        return []
    needed, found = {"ink_word": hottest.ink, "cure_c": hottest.cure.value}, []
    for stand in stands:
        if stand.ceiling and stand.ceiling.value < hottest.cure.value:
            numbers = {**needed, "garment": stand.garments, "fibre": stand.fibre, "most_c": stand.ceiling.value}
            found.append(Reason("cure-over-garment", Level.CAUTION, numbers, (stand.ceiling.row, hottest.cure.row)))
    for need in needs:
        if need.ceiling and need.ceiling.value < hottest.cure.value:
            numbers = {**needed, "other_word": need.ink, "most_c": need.ceiling.value}
            found.append(Reason("cure-over-ink", Level.CAUTION, numbers, (need.ceiling.row, hottest.cure.row)))
    return found


def _span(needs: Sequence[CureNeed], stands: Sequence[Stand]) -> list[Reason]:
    """The peaks between what the inks need and what inks, garments and dyes stand, in one reason."""
    low = max((need.cure for need in needs if need.cure), key=lambda one: one.value, default=None)
    hold = max((need.hold for need in needs if need.hold), key=lambda one: one.value, default=None)
    tops = [need.ceiling for need in needs if need.ceiling]
    tops += [limit for stand in stands for limit in (stand.bleed, stand.ceiling) if limit]
    high = min(tops, key=lambda one: one.value, default=None)
    if low is None or high is None:
        return []
    numbers: dict[str, Any] = {"low_c": low.value, "high_c": high.value}
    if low.value > high.value:
        return [Reason("no-cure-span", Level.CAUTION, numbers, (low.row, high.row))]
    if not all(stand.known for stand in stands):
        return []
    if not hold:
        return [Reason("cure-span", Level.CAUTION, numbers, (low.row, high.row))]
    return [Reason("cure-span-held", Level.CAUTION, {**numbers, "hold_s": hold.value}, (low.row, high.row, hold.row))]


_NOT_STARTED = N_(
    "The {ink_word} ink does not even start: the garment peaks at {peak_c} ({how_word}), and the dye begins to go at"
    " {start_c}."
)
_INK_TOO_HOT = N_("The garment peaks at {peak_c} ({how_word}): {ink_word} ink must not go over {most_c}.")
_GARMENT_TOO_HOT = N_("The garment peaks at {peak_c} ({how_word}): {fibre} must not go over {most_c} ({garment}).")
phrases(
    {
        "cure-not-known": (
            N_("No cure temperature set for {ink_word} ink."),
            N_("Use the ink maker's data sheet and a wash test, then enter it under Limits."),
        ),
        "fibre-not-known": (
            N_("{garment}: nobody can tell from “{fibre}” how hot it may get, and whether its dye moves."),
            N_("Ask for the fibres and write them in plain words (cotton, polyester): polyester dye moves at less heat"
               " than most inks need. Test this very lot, and look again after a day."),
        ),
        "under-activation:advised": (
            _NOT_STARTED,
            N_("Heated discharge gives off formaldehyde: keep the extraction on. The maker's data sheet and local rules"
               " say more."),
        ),
        "over-ink-ceiling:advised": (
            _INK_TOO_HOT,
            N_("Overheated ink and lint smoke and can burn: stay at the dryer, and follow the maker's data sheet."),
        ),
        "over-garment-ceiling:advised": (
            _GARMENT_TOO_HOT,
            N_("Scorching fabric can burn: never leave a garment in the dryer."),
        ),
        "under-cure": (
            N_("The {ink_word} ink is not cured: the garment peaks at {peak_c} ({how_word}), and it needs {cure_c}."),
            N_("Raise the heat or slow the belt, run a probe through with this garment, and wash-test a print. The ink"
               " maker's data sheet says what the ink needs."),
        ),
        "under-activation": (
            _NOT_STARTED,
            N_("Raise the heat or slow the belt, with the extraction on: heated discharge gives off formaldehyde. The"
               " maker's data sheet and local rules say more."),
        ),
        "under-hold": (
            N_("The {ink_word} ink is held for {hold_s} only ({how_word}), and it needs {needed_s} at its cure."),
            N_("Slow the belt, and run a probe through with this garment; a wash test decides."),
        ),
        "over-ink-ceiling": (
            _INK_TOO_HOT,
            N_("Lower the heat or speed the belt up. Overheated ink and lint smoke and can burn: stay at the dryer, and"
               " follow the maker's data sheet."),
        ),
        "over-garment-ceiling": (
            _GARMENT_TOO_HOT,
            N_("Lower the heat or speed the belt up. Scorching fabric can burn: never leave a garment in the dryer."),
        ),
        "job-cure-above-bleed": (
            N_("The garment peaks at {peak_c} ({how_word}), and {fibre} dye may move from {bleed_c} ({garment})."),
            N_("Run the belt slower and cooler, or take an ink that cures lower; let pieces cool before stacking, and"
               " look again after a day. The ink maker's data sheet says what the ink needs."),
        ),
        "bleed-not-planned": (
            N_("{garment}: {fibre} dye may move from {bleed_c}, the {ink_word} ink cures at {cure_c}, and the job plans"
               " no garment peak."),
            N_("Write the dryer's garment peak and hold into the job. Take a low-bleed or low-cure ink. Test this"
               " very lot, and look again after a day."),
        ),
        "cure-over-garment": (
            N_("No peak suits: {ink_word} ink needs {cure_c}, and {fibre} must not go over {most_c} ({garment})."),
            N_("Take an ink that cures lower by its maker's data sheet, or another garment; test its very lot."),
        ),
        "cure-over-ink": (
            N_("No peak suits: {ink_word} ink needs {cure_c}, and {other_word} ink must not go over {most_c}."),
            N_("Take inks that cure at the same heat by their makers' data sheets."),
        ),
        "cure-span-held": (
            N_("Suits all: a garment peak from {low_c} to {high_c}, held for {hold_s}."),
            N_("Find the belt speed with a probe run; a wash test decides."),
        ),
        "cure-span": (
            N_("Suits all: a garment peak from {low_c} to {high_c}."),
            N_("Find the belt speed with a probe run; a wash test decides."),
        ),
        "no-cure-span": (
            N_("No peak suits all: the ink needs {low_c}, and more than {high_c} is too much."),
            N_("Take an ink that cures lower by its maker's data sheet, or another garment; test its very lot."),
        ),
    }
)  # fmt: skip
