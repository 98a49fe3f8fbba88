"""How easily what people read is read: `python tests/reading_ease.py [--all]` prints figures and long sentences.

The figure is the reading ease of R. Flesch (“A new readability yardstick”, Journal of Applied Psychology 32, 1948):
206.835 - 1.015 x words a sentence - 84.6 x syllables a word; over 80 is easy. Syllables are counted by their vowels.
Aims: no sentence over 25 words on a page of the floor, the median under 10.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Iterator
from statistics import median
from typing import TypedDict

from visible import texts

LONG = 25
FLOOR = ("web/templates/scan", "web/templates/runs", "web/templates/screens", "web/templates/places")
"""Pages that are read on a phone, with work in the other hand."""


class Figures(TypedDict):
    """`ease`: the reading ease; `median`: words of the middle sentence; `number`: of sentences; `long`: over LONG."""

    ease: float
    median: float
    number: int
    long: int


def sentences(text: str) -> Iterator[str]:
    """The sentences of one text; a place for a value counts as a word."""
    yield from (one for one in re.split(r"(?<=[.?!]) +(?=[A-Z{“])", text.strip()) if re.search(r"[a-z]{2}", one))


def syllables(word: str) -> int:
    """By groups of vowels, without a silent e at the end; at least one."""
    groups = re.findall(r"[aeiouy]+", re.sub(r"(?<=[^aeiouyl])e$", "", word.lower()))
    return max(len(groups), 1)


def long_ones(said: Iterable[str], most: int = LONG) -> list[str]:
    """Those with more words than `most`."""
    return [one for one in said if len(one.split()) > most]


def figures(said: Iterable[str]) -> Figures:
    """Of sentences, one at least."""
    every = list(said)
    words = [word for one in every for word in one.split()]
    each = [len(one.split()) for one in every]
    ease = 206.835 - 1.015 * len(words) / len(every) - 84.6 * sum(map(syllables, words)) / len(words)
    return {"ease": ease, "median": median(each), "number": len(every), "long": len(long_ones(every))}


def of_sentences(where: tuple[str, ...] = ("",)) -> list[tuple[str, str]]:
    """Each sentence of three words or more with its place; shorter ones are labels, which need no ease."""
    return [
        (text.where, one)
        for text in texts()
        if text.where.startswith(where)
        for one in sentences(text.says)
        if len(one.split()) > 2
    ]


def main() -> None:
    """Prints the figures of all, then of the floor, then the long sentences of the floor (--all: every one)."""
    for name, where in (("all", ("",)), ("floor", FLOOR)):
        found = figures(one for _, one in of_sentences(where))
        print(f"{name}: ease {found['ease']:.0f}, median {found['median']:g} words, ", end="")
        print(f"{found['long']} of {found['number']} sentences over {LONG}")
    for place, one in of_sentences(("",) if "--all" in sys.argv else FLOOR):
        if long_ones([one]):
            print(f"{place} ({len(one.split())}): {one}")


if __name__ == "__main__":
    main()
