"""Rows in an order, a page at a time, forwards and back: by the column of an index and the number of the row behind it,
so that a page far on takes no longer than the first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NamedTuple, TypeVar

Key = tuple[str | float | None, int]
"""Where a row stands: its value in the order, and its number."""


class Order(NamedTuple):
    """A column that rows can be listed by, with the index that has it (and the row's number) in that order. `number`:
    its values are numbers; `empty`: it may have none, `blank`: it may be an empty text. Rows without a value come last
    whichever way the list goes, since what is not known is neither the least nor the most; `first`: they come first,
    since what has not ended goes on."""

    column: str
    indexed: str
    number: bool = False
    empty: bool = False
    blank: bool = False
    first: bool = False


@dataclass(frozen=True, slots=True)
class PageStart:
    """Where a page begins: behind the row at `key` (None: at the top), downwards where the largest come first; `back`:
    before that row instead."""

    down: bool = False
    key: Key | None = None
    back: bool = False

    @property
    def up(self) -> bool:
        """Whether rows are read from the smallest on."""
        return self.down is self.back


Part = tuple[str, list[Any]]


def parts(order: Order | None, row: str, place: PageStart) -> list[Part]:
    """The conditions of the page, each with its values, to be read one after the other until it is full: rows without
    a value stand by themselves. `row`: the column of the row's number, which is the order where `order` is None."""
    sign = ">" if place.up else "<"
    if order is None:
        return [(f"{row} {sign} ?", [place.key[1]])] if place.key else [("1", [])]
    column = order.column
    if not order.empty and not order.blank:
        return [_behind(column, sign, row, place.key)] if place.key else [("1", [])]
    none: Part = (f"{column} IS NULL" if order.empty else f"{column} = ''", [])
    some: Part = (f"{column} IS NOT NULL" if order.empty else f"{column} > ''", [])
    groups = [none, some] if order.first else [some, none]
    if place.key is None:
        return groups
    value, number = place.key
    own = none if value in (None, "") else some
    if own is none:
        begun: Part = (f"{none[0]} AND {row} {sign} ?", [number])
    else:  # a blank text is less than any other, and does not stand among them
        condition, values = _behind(column, sign, row, place.key)
        begun = (f"{condition} AND {some[0]}" if order.blank else condition, values)
    ahead = groups[::-1] if place.back else groups
    return [begun, *ahead[ahead.index(own) + 1 :]]


def _behind(column: str, sign: str, row: str, key: Key) -> Part:
    value, number = key
    return f"{column} {sign}= ? AND ({column} {sign} ? OR {row} {sign} ?)", [value, value, number]


def way_of(order: Order | None, row: str, place: PageStart) -> str:
    """How the rows of each part are ordered."""
    way = "ASC" if place.up else "DESC"
    return f"{row} {way}" if order is None else f"{order.column} {way}, {row} {way}"


Row = TypeVar("Row")


def page_of(
    ask: Callable[[str, list[Any], int], list[Row]], conditions: list[Part], place: PageStart, limit: int
) -> list[Row]:
    """The rows of a page in the order of the list: `ask(condition, values, limit)` gives those of one part."""
    found = list[Row]()
    for condition, values in conditions:
        if len(found) < limit:
            found += ask(condition, values, limit - len(found))
    return found[::-1] if place.back else found
