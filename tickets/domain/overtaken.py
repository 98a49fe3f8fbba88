"""Somebody else saved a thing while a form of it was open: both are shown, and nothing of either is lost."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, NamedTuple

from tickets.domain.refusal import Clash
from tickets.i18n import gettext as _


class BothSay(NamedTuple):
    """What is saved now and what a form would make of it, by name."""

    name: str
    now: str
    wanted: str


class Overtaken(Clash):
    """A form shows an older state than the one that is saved now. `differences`: what the two say otherwise; `who`
    saved last, where that is known."""

    def __init__(self, differences: list[BothSay], who: str = "") -> None:
        self.differences = differences
        self.who = who
        told = _("{who} saved this since you opened it. What you typed is below, and is not saved yet.")
        super().__init__(told.format(who=who or _("Somebody else")))


def mark(values: Any) -> str:
    """What a form carries of the state that it shows (`seen`)."""
    return json.dumps(values, sort_keys=True, default=str)


def check(seen: str, now: Mapping[str, Any], wanted: Mapping[str, Any], who: str = "") -> None:
    """Raises Overtaken where a form that showed `seen` would undo what somebody else made of it since (`now`). A form
    that says nothing of what it showed, and one that wants what is there already, pass."""
    if not seen or seen == mark(now):
        return
    found = [
        BothSay(name, _said(now.get(name)), _said(value)) for name, value in wanted.items() if value != now.get(name)
    ]
    if found:
        raise Overtaken(found, who)


def _said(value: Any) -> str:
    if isinstance(value, (list, tuple)):
        return ", ".join(_said(one) for one in value)
    if isinstance(value, Mapping):
        return " ".join(_said(one) for one in value.values())
    return "" if value is None else str(value)
