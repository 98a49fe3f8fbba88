"""How far long work is: whoever does it tells how many of how many are done, whoever asked shows it or does not."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import TypeVar

Told = Callable[[int, int], None]
"""Told how many are done of how many. A lower number begins another part of the work."""
T = TypeVar("T")


def nobody(_done: int, _of: int) -> None:
    """Where nobody looks on."""


def each(things: Iterable[T], told: Told) -> Iterator[T]:
    """The things one by one, telling after each."""
    every = list(things)
    for done, one in enumerate(every, 1):
        yield one
        told(done, len(every))
