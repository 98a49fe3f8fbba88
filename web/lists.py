"""A list as a table: its heads put it in order, its pages go on by the row that was last; the order, the filters and
the page stay in the address."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple, TypeVar
from urllib.parse import urlencode

from flask import request

from web.support import row_number

PER_PAGE = 50


class ListHead(NamedTuple):
    """A head of a table: the order that it stands for (empty: none is offered), its word (untranslated), whether
    numbers stand under it, whether its first tap puts the largest first."""

    order: str
    word: str
    amount: bool = False
    down: bool = False


@dataclass(frozen=True, slots=True)
class ShownHead:
    """A head as it is shown: where a tap leads (empty: nowhere), and how the list is sorted by it (as `aria-sort` has
    it; empty: it is not)."""

    word: str
    amount: bool
    link: str
    sorted: str


@dataclass(frozen=True, slots=True)
class ListAsked:
    """What a list is asked for: `path` and the filters `used`; the order and whether it goes down; `row`: the number of
    the row that the page begins behind (0: at the top) or, `back`, ends before."""

    path: str
    used: Mapping[str, str]
    order: str
    down: bool
    row: int
    back: bool

    @property
    def sort(self) -> str:
        """The order as the address says it; empty where it says none."""
        return (f"-{self.order}" if self.down else self.order) if request.args.get("sort") else ""

    def link(self, **changes: str) -> str:
        """The address with some filters other; an order or page that is not asked for begins anew at the top."""
        return self.only(**{**self.used, **changes})

    def only(self, **filters: str) -> str:
        """The address with these filters alone, in the order of now."""
        order = filters.pop("sort", self.sort)
        asked = {name: text for name, text in {**filters, "sort": order}.items() if text}
        return f"{self.path}?{urlencode(asked)}" if asked else self.path


@dataclass(frozen=True, slots=True)
class Listing:
    """A list as its page shows it: the heads, where the pages before and behind are (empty: there is none)."""

    asked: ListAsked
    heads: tuple[ShownHead, ...]
    before: str
    behind: str

    @property
    def orders(self) -> tuple[ShownHead, ...]:
        """The heads that lead to another order, for a page too narrow for a table."""
        return tuple(head for head in self.heads if head.link)


def asked_for(path: str, used: Mapping[str, str], orders: Sequence[str], default: str, down: bool = False) -> ListAsked:
    """What the address asks for; an order that is not offered is the default one (`down`: the largest first)."""
    sort = request.args.get("sort", "")
    order = sort.removeprefix("-")
    known = order in orders
    before = row_number(request.args.get("before"))
    return ListAsked(
        path, used, order if known else default, sort.startswith("-") if known else down,
        before or row_number(request.args.get("after")), bool(before),
    )  # fmt: skip


Row = TypeVar("Row")


def turned(asked: ListAsked, rows: Sequence[Row], size: int = PER_PAGE) -> tuple[list[Row], bool, bool]:
    """The page out of `size` + 1 rows that were asked for: its rows, whether there are some before and some behind."""
    more = len(rows) > size
    if asked.back:
        return list(rows[-size:]), more, True
    return list(rows[:size]), bool(asked.row), more


def listing(asked: ListAsked, heads: Sequence[ListHead], first: int, last: int, pages: tuple[bool, bool]) -> Listing:
    """The list for its page: `first` and `last` are the numbers of the rows at its ends, `pages` says whether there are
    some before and some behind."""
    before, behind = pages
    return Listing(
        asked,
        tuple(_shown(asked, head) for head in heads),
        asked.link(before=str(first)) if before else "",
        asked.link(after=str(last)) if behind else "",
    )


def _shown(asked: ListAsked, head: ListHead) -> ShownHead:
    mine = bool(head.order) and head.order == asked.order
    down = not asked.down if mine else head.down
    link = asked.link(sort=f"-{head.order}" if down else head.order) if head.order else ""
    return ShownHead(head.word, head.amount, link, ("descending" if asked.down else "ascending") if mine else "")
