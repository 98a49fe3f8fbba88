"""Words as they are looked for: without case, accents and signs, and a letter more, fewer, other or changed over."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

_PLAIN = str.maketrans(
    {"ł": "l", "ø": "o", "đ": "d", "ð": "d", "ħ": "h", "ŧ": "t", "ı": "i", "æ": "ae", "œ": "oe", "þ": "th"}
)
"""Letters that Unicode takes apart into no plainer one, as people type them who have no key for them."""
LEAST = 4
"""Letters that a word has at least to be found with a slip in it: shorter ones are all one slip from each other."""
MOST = 24
"""Letters of the longest word that is looked for with a slip."""


def plain(text: str) -> str:
    """Text without case and accents; everything that is no letter and no digit is a blank."""
    letters = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", text).casefold()).translate(_PLAIN)
    kept = (one for one in letters if unicodedata.category(one) != "Mn")
    return "".join(one if unicodedata.category(one)[0] in "LN" else " " for one in kept)


def terms(text: str) -> list[str]:
    """The words of a text."""
    return plain(text).split()


def in_one(text: str) -> str:
    """A mark, a lot or a number without what parts it, so that “A-12” finds “A 12” and “a12”."""
    return "".join(terms(text))


def all_words(texts: Iterable[str], names: Iterable[str] = ()) -> str:
    """What something is found by, each word once: the words of `texts` and of `names`, which are also found when they
    are typed without their blanks and signs."""
    names = list(names)
    found = [word for text in [*texts, *names] for word in terms(text)]
    return " ".join(dict.fromkeys([*found, *(one for name in names if (one := in_one(name)))]))


def spelled(word: str) -> bool:
    """Whether a word is one that a slip can be found in: letters alone, since a digit more or fewer is another
    number."""
    return LEAST <= len(word) <= MOST and word.isalpha()


def shorter(word: str) -> set[str]:
    """The word, and the word without any one of its letters. Two words that are one slip apart have one of these in
    common; so have some that are two apart (`one_slip`)."""
    return {word, *(word[:place] + word[place + 1 :] for place in range(len(word)))}


def one_slip(one: str, other: str) -> bool:
    """True where a letter more, fewer or other, or two changed over, makes one word of the other."""
    if one == other or abs(len(one) - len(other)) > 1:
        return False
    first = next(
        (place for place, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), min(len(one), len(other))
    )
    rest, its = one[first:], other[first:]
    if len(one) == len(other):
        return rest[1:] == its[1:] or (rest[:2] == its[1::-1] and rest[2:] == its[2:])
    return rest[1:] == its if len(one) > len(other) else rest == its[1:]
