"""Whole texts as people read them (`tests/whole/NAME.txt`), read and checked by hand line by line: whatever is missing,
too much or in another order is seen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent / "whole"


def plain(text: str) -> str:
    """With plain spaces, one where there are several."""
    return " ".join(text.split())


def same_as_read(name: str, lines: Iterable[str]) -> None:
    """Whether those are the lines that were read."""
    assert [plain(one) for one in lines] == (FOLDER / f"{name}.txt").read_text(encoding="utf-8").splitlines()


def flat(value: Any, path: str = "") -> list[str]:
    """All that a value says, `path: text` for each part that is not empty."""
    if is_dataclass(value) and not isinstance(value, type):
        value = {one.name: getattr(value, one.name) for one in fields(value)}
    if isinstance(value, Mapping):
        return [line for key, part in value.items() for line in flat(part, f"{path}.{key}" if path else str(key))]
    if isinstance(value, list | tuple):
        return [line for at, part in enumerate(value) for line in flat(part, f"{path}.{at}")]
    return [plain(f"{path}: {value}")] if value not in ("", None, False, 0) else []
