"""Whole texts as people read them (`tests/whole/NAME.txt`), read and checked by hand line by line: whatever is missing,
too much or in another order is seen."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

FOLDER = Path(__file__).parent / "whole"


def plain(text: str) -> str:
    """With plain spaces, one where there are several."""
    return " ".join(text.split())


def same_as_read(name: str, lines: Iterable[str]) -> None:
    """Whether those are the lines that were read."""
    assert [plain(one) for one in lines] == (FOLDER / f"{name}.txt").read_text(encoding="utf-8").splitlines()
