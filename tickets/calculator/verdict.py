"""A judgement with its reasons.

A reason is a key and its numbers, so that it can be kept in the log, compared, and said later in the reader's
language and units. Numbers are named after their unit (`minimum_n_per_cm`, `age_d`), as everywhere else.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from importlib import import_module
from typing import Any

from tickets.calculator.units import show_apart, unit_of
from tickets.i18n import N_, gettext


class Level(StrEnum):
    """How bad it is. `unknown` is no kind of `ok`: it says that nobody can tell."""

    OK = "ok"
    CAUTION = "caution"
    UNKNOWN = "unknown"
    STOP = "stop"

    @property
    def rank(self) -> int:
        """0 is best; the worst wins: stop, unknown, caution, ok."""
        return _RANKS[self]


_RANKS = {Level.OK: 0, Level.CAUTION: 1, Level.UNKNOWN: 2, Level.STOP: 3}

WORDS = {
    Level.OK: N_("OK"),
    Level.CAUTION: N_("Caution"),
    Level.UNKNOWN: N_("Unknown"),
    Level.STOP: N_("STOP"),
}


@dataclass(frozen=True, slots=True)
class Reason:
    """One cause of a verdict: its key, how bad it is alone, its numbers, and the spec rows that it rests on."""

    key: str
    level: Level
    numbers: Mapping[str, Any] = field(default_factory=dict)
    spec: tuple[int, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """The shape kept in the log and printed by `--json`."""
        out: dict[str, Any] = {"key": self.key, "level": str(self.level), "numbers": dict(self.numbers)}
        if self.spec:
            out["spec"] = list(self.spec)
        return out

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Reason:
        """A reason read back from the log."""
        return cls(data["key"], Level(data["level"]), dict(data.get("numbers", {})), tuple(data.get("spec", ())))


@dataclass(frozen=True, slots=True)
class Verdict:
    """A level and its reasons, worst first."""

    level: Level
    reasons: tuple[Reason, ...] = ()

    @property
    def keys(self) -> tuple[str, ...]:
        """The keys of the reasons, worst first."""
        return tuple(reason.key for reason in self.reasons)

    def worse_than(self, other: Verdict) -> bool:
        """True when this one must be shown again before it is acted on."""
        return self.level.rank > other.level.rank

    def to_dict(self) -> dict[str, Any]:
        """The shape kept in the log and printed by `--json`."""
        return {"level": str(self.level), "reasons": [reason.to_dict() for reason in self.reasons]}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Verdict:
        """A verdict read back from the log."""
        return cls(Level(data["level"]), tuple(Reason.from_dict(reason) for reason in data["reasons"]))


def judge(reasons: Iterable[Reason]) -> Verdict:
    """The verdict that `reasons` come to: the worst wins. No reason at all is `unknown`, since nothing was judged."""
    ordered = tuple(sorted(reasons, key=lambda reason: -reason.level.rank))
    return Verdict(ordered[0].level if ordered else Level.UNKNOWN, ordered)


ADVISED = "advised"
"""The number of a reason whose advice would speak against another's: what to do is said by a third of its verdict."""


def advised(reasons: Iterable[Reason], keys: Collection[str] | None = None) -> list[Reason]:
    """The reasons, those of `keys` (None: all) without what to do, which another reason of the verdict says once for
    all. A caution that goes with one stays: its phrase under its key and `:advised`."""
    return [
        replace(one, numbers={**one.numbers, ADVISED: True}) if keys is None or one.key in keys else one
        for one in reasons
    ]


@dataclass(frozen=True, slots=True)
class Phrase:
    """How a reason is said: what is so, and what to do about it. Both may name the reason's numbers in braces."""

    sentence: str
    advice: str = ""


_PHRASES: dict[str, Phrase] = {}


def phrases(said: Mapping[str, tuple[str, str]]) -> None:
    """Takes in how a module's reasons are said: key -> (sentence, what to do). A key is said in one way only."""
    for key, (sentence, advice) in said.items():
        if key in _PHRASES:
            raise ValueError(f"the reason {key!r} is said twice")
        _PHRASES[key] = Phrase(sentence, advice)


@dataclass(frozen=True, slots=True)
class Said:
    """A reason in the reader's language: the word first, the reason second (with its numbers), what to do last."""

    level: Level
    word: str
    sentence: str
    advice: str

    @property
    def text(self) -> str:
        """All of it in one line."""
        return " ".join(part for part in (f"{self.word}:", self.sentence, self.advice) if part)


def _load_phrases() -> None:
    """A log may hold reasons whose module nobody has needed yet in this process."""
    for name in ("colour", "cure", "dryer", "exposure", "ink", "lifetime", "mesh", "stencil", "tension"):
        import_module(f"tickets.calculator.{name}")


_WHO = {
    "shown_to": N_("{shown_to} was shown this {shown_d} ago."),
    "noted_by": N_("Noted by {noted_by} {noted_d} ago."),
}
"""What is said after a reason that somebody knew of before: who, and how long ago."""


class _Numbers(dict[str, str]):
    """The numbers of a reason as they are said, each worked out when the sentence wants it: most say one or two of
    theirs."""

    def __init__(self, numbers: Mapping[str, Any], system: str) -> None:
        self._numbers, self._system = numbers, system

    def __missing__(self, name: str) -> str:
        # a log may hold reasons of an earlier program, which named less
        unit = unit_of(name)
        beside = [
            value
            for other, value in self._numbers.items()
            if other != name and unit and unit_of(other) == unit and not {name[:5], other[:5]} & {"left_"}
        ]  # what is left of a time is told from none: at first it is all of it
        said = self[name] = show_apart(name, self._numbers.get(name), beside, self._system)
        return said


def say(reason: Reason, system: str = "metric") -> Said:
    """`reason` in the reader's language and units (`system`: metric or us)."""
    if reason.key not in _PHRASES:
        _load_phrases()
    phrase = _PHRASES[reason.key]
    if reason.numbers.get(ADVISED):
        phrase = _PHRASES.get(f"{reason.key}:{ADVISED}", Phrase(phrase.sentence))
    numbers = _Numbers(reason.numbers, system)
    known = [gettext(text).format_map(numbers) for name, text in _WHO.items() if name in reason.numbers]
    return Said(
        reason.level,
        gettext(WORDS[reason.level]),
        " ".join([gettext(phrase.sentence).format_map(numbers), *known]),
        gettext(phrase.advice).format_map(numbers) if phrase.advice else "",
    )
