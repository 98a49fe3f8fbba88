"""The code on every ticket: five characters and a check character.

The characters are the 32 of the Crockford base-32 set (no I, L, O or U, which are misread), the check character is that
of ISO/IEC 7064 MOD 37,36. A body whose check character would be I, L, O or U is not issued, so that folding misread
letters (I and L to 1, O to 0) never changes a right code into another one.
"""

from __future__ import annotations

import random
import re
from typing import NewType

from tickets.i18n import gettext as _

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LENGTH = 6
_VALUES = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_FOLD = str.maketrans("ILO", "110")

Code = NewType("Code", str)
"""Six characters, checked: only `read`, `mint` and the database make one."""


class NoCode(ValueError):
    """The text is no code. `near` holds well-formed codes one slip away, issued or not."""

    def __init__(self, message: str, near: tuple[Code, ...] = ()) -> None:
        super().__init__(message)
        self.near = near


def check_character(body: str) -> str:
    """The ISO/IEC 7064 MOD 37,36 check character of `body` (characters 0-9 and A-Z)."""
    product = 36
    for character in body:
        total = (product + _VALUES.index(character)) % 36 or 36
        product = 2 * total % 37
    return _VALUES[(37 - product) % 36]


def holds(text: str) -> bool:
    """True when `text` is a body of our alphabet with its right check character."""
    return (
        len(text) == LENGTH
        and all(character in ALPHABET for character in text)
        and check_character(text[:-1]) == text[-1]
    )


def mint(rng: random.Random) -> Code:
    """A new code drawn from `rng`; whether it is free is for the store to say."""
    while True:
        body = "".join(rng.choice(ALPHABET) for _unused in range(LENGTH - 1))
        check = check_character(body)
        if check in ALPHABET:
            return Code(body + check)


def shown(code: str) -> str:
    """The code as people see it: `7K32X-M`."""
    return f"{code[:-1]}-{code[-1]}"


def fold(text: str) -> str:
    """What was typed or scanned, brought to a code's characters: a whole address is taken too."""
    text = text.strip()
    if "/" in text:
        path = re.split(r"[?#]", text)[0]
        found = re.search(r"/t/([^/?#]+)/?$", path, re.IGNORECASE)
        text = found.group(1) if found else text.rsplit("/", 1)[-1]
    return re.sub(r"[\s\-\u2010-\u2015\u2212]", "", text).upper().translate(_FOLD)


def read(text: str) -> Code:
    """The code in `text`. Raises NoCode, with the codes one slip away, when it is none."""
    folded = fold(text)
    if holds(folded):
        return Code(folded)
    if not folded:
        raise NoCode(_("Type the code under the QR, such as 7K32X-M."))
    if len(folded) != LENGTH or any(character not in ALPHABET for character in folded):
        raise NoCode(
            _("“{text}” is not a code. A code has six characters, such as 7K32X-M.").format(text=text.strip()[:40]),
            near(folded),
        )
    raise NoCode(
        _("The check character of {code} does not fit: one character is wrong. Look at it again.").format(
            code=shown(folded)
        ),
        near(folded),
    )


def near(text: str) -> tuple[Code, ...]:
    """The well-formed codes one slip from `text`: a wrong, missing or extra character, or two neighbours swapped."""
    found: dict[str, None] = {}
    candidates: list[str] = []
    if len(text) == LENGTH:
        for place in range(LENGTH):
            candidates += [text[:place] + character + text[place + 1 :] for character in ALPHABET]
        for place in range(LENGTH - 1):
            candidates.append(text[:place] + text[place + 1] + text[place] + text[place + 2 :])
    elif len(text) == LENGTH - 1:
        for place in range(LENGTH):
            candidates += [text[:place] + character + text[place:] for character in ALPHABET]
    elif len(text) == LENGTH + 1:
        candidates += [text[:place] + text[place + 1 :] for place in range(LENGTH + 1)]
    for candidate in candidates:
        if candidate != text and holds(candidate):
            found[candidate] = None
    return tuple(Code(candidate) for candidate in found)
