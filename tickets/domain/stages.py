"""The stages of a screen, and which step leads where."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from enum import StrEnum

from tickets.domain.steps import SCREEN_STEPS
from tickets.i18n import N_
from tickets.i18n import gettext as _


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


STANDING_WORDS: dict[str, str] = {
    Standing.UNKNOWN: N_("unknown"),
    Standing.BARE: N_("bare"),
    Standing.DEGREASED: N_("degreased"),
    Standing.COATED: N_("coated"),
    Standing.IMAGED: N_("imaged"),
    Standing.EXPOSED: N_("exposed"),
    Standing.TO_CHECK: N_("to check"),
    Standing.READY: N_("ready"),
    Standing.ON_PRESS: N_("on press"),
    Standing.TO_CLEAN: N_("to clean"),
    Standing.KEPT: N_("kept"),
    Standing.TO_STRIP: N_("to reclaim"),
    Standing.STRIPPED: N_("reclaimed"),
    Standing.TO_RESTRETCH: N_("to restretch"),
    Standing.AWAY: N_("away"),
    Standing.RETIRED: N_("retired"),
}


def stage_of(text: str) -> Standing | None:
    """The stage that somebody typed, by its name in files and commands or by its word on the pages; None: no such."""
    folded = " ".join(text.split()).casefold()
    return next((one for one in Standing if folded in (one.value, _(STANDING_WORDS[one]).casefold())), None)


def stage_words(stages: Iterable[Standing]) -> str:
    """Stages in the words of the pages, as a message lists them."""
    return ", ".join(_(STANDING_WORDS[one]) for one in stages)


STENCIL_ON = frozenset(
    {
        Standing.COATED,
        Standing.IMAGED,
        Standing.EXPOSED,
        Standing.TO_CHECK,
        Standing.READY,
        Standing.ON_PRESS,
        Standing.TO_CLEAN,
        Standing.KEPT,
        Standing.TO_STRIP,
    }
)


IMAGE_ON = STENCIL_ON - {Standing.COATED}


_ALL = frozenset(Standing)


_IN_SHOP = _ALL - {Standing.AWAY, Standing.RETIRED}


CHAIN: dict[Standing, tuple[str, Standing]] = {
    Standing.BARE: ("degrease", Standing.DEGREASED),
    Standing.STRIPPED: ("degrease", Standing.DEGREASED),
    Standing.DEGREASED: ("coat", Standing.COATED),
    Standing.COATED: ("image", Standing.IMAGED),
    Standing.IMAGED: ("expose", Standing.EXPOSED),
    Standing.EXPOSED: ("washout", Standing.TO_CHECK),
    Standing.TO_CHECK: ("check", Standing.READY),
    Standing.READY: ("hang", Standing.ON_PRESS),
    Standing.ON_PRESS: ("pull", Standing.TO_CLEAN),
    Standing.TO_CLEAN: ("clean", Standing.TO_STRIP),
    Standing.TO_STRIP: ("strip", Standing.STRIPPED),
}
"""The way round: from each standing, the step that leads on and where it leads."""


CYCLE = (
    N_("mesh"), N_("degreased"), N_("coated"), N_("imaged"), N_("exposed"), N_("washed out"), N_("checked"),
    N_("on press"), N_("reclaimed"),
)  # fmt: skip
"""The cycle of a screen as its strip shows it, in order."""


_REACHED: dict[Standing, int] = {
    Standing.BARE: 0,
    Standing.DEGREASED: 1,
    Standing.COATED: 2,
    Standing.IMAGED: 3,
    Standing.EXPOSED: 4,
    Standing.TO_CHECK: 5,
    Standing.READY: 6,
    Standing.KEPT: 6,
    Standing.ON_PRESS: 7,
    Standing.TO_CLEAN: 7,
    Standing.TO_STRIP: 7,
    Standing.STRIPPED: 8,
}
"""How far a standing has come on that strip; one that is not named is nowhere on it."""


class OnStrip(StrEnum):
    """How a stage of the strip is drawn: filled, tall, dashed, empty."""

    PAST = "past"
    NOW = "now"
    NEXT = "next"
    TO_COME = ""


def cycle(standing: Standing | str) -> list[tuple[str, OnStrip]]:
    """The strip of a screen: each stage (untranslated) with its mark. A reclaimed screen begins a new round: nothing of
    it is done yet. What is away, retired or unknown has no place on it; a frame without mesh has mesh next."""
    now = _REACHED.get(Standing(standing), -1)
    then = _next_on(Standing(standing), now)
    past = range(0) if 0 <= then < now else range(max(now, 0))
    marks = {at: OnStrip.PAST for at in past} | {now: OnStrip.NOW} | {then: OnStrip.NEXT}
    return [(word, marks.get(at, OnStrip.TO_COME)) for at, word in enumerate(CYCLE)]


def _next_on(standing: Standing, now: int) -> int:
    """Which stage of the strip comes next; -1: none is known."""
    if standing is Standing.TO_RESTRETCH:
        return 0
    at: Standing = Standing.READY if standing is Standing.KEPT else standing
    while at in CHAIN:
        at = CHAIN[at][1]
        if _REACHED[at] != now:
            return _REACHED[at]
    return -1


FORGIVEN = frozenset({"degrease", "clean", "haze", "expose", "check"})
"""Steps whose absence is marked but asks no question: the next step shows that they were done, or (check) the press
says so."""


MOVES: dict[str, tuple[frozenset[Standing], Standing | None]] = {
    "stretch": (_ALL - {Standing.RETIRED}, Standing.BARE),
    "retension": (_IN_SHOP, None),
    "tension": (_IN_SHOP, None),
    "degrease": (frozenset({Standing.BARE, Standing.STRIPPED, Standing.DEGREASED}), Standing.DEGREASED),
    "coat": (frozenset({Standing.DEGREASED, Standing.COATED}), Standing.COATED),
    "image": (frozenset({Standing.COATED, Standing.IMAGED}), Standing.IMAGED),
    "expose": (frozenset({Standing.IMAGED}), Standing.EXPOSED),
    "washout": (frozenset({Standing.EXPOSED, Standing.TO_CHECK}), Standing.TO_CHECK),
    "check": (
        frozenset({Standing.TO_CHECK, Standing.READY, Standing.ON_PRESS, Standing.TO_CLEAN, Standing.KEPT}),
        Standing.READY,
    ),
    "harden": (frozenset({Standing.TO_CHECK, Standing.READY, Standing.KEPT}), None),
    "hang": (frozenset({Standing.READY, Standing.KEPT}), Standing.ON_PRESS),
    "print": (frozenset({Standing.ON_PRESS}), None),
    "pull": (frozenset({Standing.ON_PRESS}), Standing.TO_CLEAN),
    "clean": (frozenset({Standing.TO_CLEAN, Standing.KEPT, Standing.TO_STRIP, Standing.TO_RESTRETCH}), None),
    "decide": (
        frozenset({Standing.TO_CHECK, Standing.READY, Standing.TO_CLEAN, Standing.KEPT, Standing.TO_STRIP}),
        None,
    ),
    "rack": (_ALL - {Standing.RETIRED, Standing.ON_PRESS}, None),
    "strip": (
        STENCIL_ON - {Standing.ON_PRESS} | {Standing.STRIPPED, Standing.TO_RESTRETCH, Standing.UNKNOWN},
        Standing.STRIPPED,
    ),
    "haze": (frozenset({Standing.BARE, Standing.STRIPPED, Standing.DEGREASED}), None),
    "fault": (_ALL - {Standing.RETIRED}, None),
    "found": (_ALL, None),
    "retag": (_ALL, None),
    "retire": (_ALL, Standing.RETIRED),
    "note": (_ALL, None),
}
"""For each step: the standings that it goes with, and the standing that follows (None: stays; `screen_log` says
more)."""


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
        "degrease": Standing.STRIPPED,
        "coat": Standing.DEGREASED,
        "image": Standing.COATED,
        "expose": Standing.IMAGED,
        "washout": Standing.EXPOSED,
        "check": Standing.TO_CHECK,
        "harden": Standing.READY,
        "hang": Standing.READY,
        "print": Standing.ON_PRESS,
        "pull": Standing.ON_PRESS,
        "clean": Standing.TO_CLEAN,
        "rack": Standing.TO_CLEAN,
        "decide": Standing.KEPT,
        "strip": Standing.TO_STRIP,
        "haze": Standing.STRIPPED,
    }
    return first.get(step, Standing.UNKNOWN)


def mesh_said(label: str, thread_um: float | None) -> str:
    """A mesh in words, its count as labelled and its thread where it is noted: `230/in · 48 µm`."""
    return label + (f" · {thread_um:g} µm" if thread_um else "")


OFFERED: dict[Standing, tuple[str, ...]] = {
    Standing.UNKNOWN: ("found", "stretch", "strip"),
    Standing.BARE: ("degrease", "coat", "tension"),
    Standing.DEGREASED: ("coat",),
    Standing.COATED: ("image", "expose", "coat"),
    Standing.IMAGED: ("expose", "washout", "image"),
    Standing.EXPOSED: ("washout",),
    Standing.TO_CHECK: ("check", "harden"),
    Standing.READY: ("rack", "harden"),
    Standing.ON_PRESS: ("pull",),
    Standing.TO_CLEAN: ("clean", "strip", "decide"),
    Standing.KEPT: ("rack", "decide", "check", "clean"),
    Standing.TO_STRIP: ("strip", "decide", "check"),
    Standing.STRIPPED: ("degrease", "haze", "coat", "tension"),
    Standing.TO_RESTRETCH: ("stretch", "retire", "strip"),
    Standing.AWAY: ("rack",),
    Standing.RETIRED: ("found",),
}
"""What is offered first at each standing, the likeliest first."""


def steps_beside(standing: Standing, first: str | None) -> list[str]:
    """Every other step that a person may log for a screen at `standing` whose next step is `first`, the likely
    ones first. What the press writes by itself is left out."""
    rest = [step for step in OFFERED[standing] if step != first]
    rest += [step for step in ("tension", "rack", "fault", "note") if step not in rest and step != first]
    rest += [step for step in SCREEN_STEPS if step not in rest and step != first]
    return [step for step in rest if step not in {"hang", "print", "cross-out", "found"} or step in OFFERED[standing]]
