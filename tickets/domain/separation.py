"""One image to print. The same five (customer, art, revision, width, name) are the same separation in whatever job
asks for it, so that a kept screen serves a repeat under another job's number."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from typing import NewType

Key = NewType("Key", tuple[str, str, str, int, str])
"""Customer, art, revision, width in whole mm, name; the text folded."""


def folded(text: str) -> str:
    """Text as it is compared: one Unicode form, ends trimmed, inner spaces collapsed, case folded."""
    once = unicodedata.normalize("NFC", text).casefold()
    return " ".join(unicodedata.normalize("NFC", once).split())


def whole_mm(millimetres: float) -> int:
    """A size to the whole millimetre, halves up."""
    return int(millimetres + 0.5)


@dataclass(frozen=True, slots=True, eq=False)
class Separation:
    """An image: width in whole mm; the height, where known, describes it but does not tell it apart."""

    customer: str
    art: str
    revision: str
    width_mm: int
    name: str
    height_mm: int | None = None

    @property
    def key(self) -> Key:
        """What tells separations apart: the same key, the same separation."""
        return Key((folded(self.customer), folded(self.art), folded(self.revision), self.width_mm, folded(self.name)))

    def __eq__(self, other: object) -> bool:
        return self.key == other.key if isinstance(other, Separation) else NotImplemented

    def __hash__(self) -> int:
        return hash(self.key)
