"""What was changed of people, places, jobs and exposure units, in words: who, when, what."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from flask import g

from tickets.calculator.kinds import LAMPS
from tickets.domain.jobs.heads import ANTICLOCKWISE, ANY_ORDER, CLOCKWISE
from tickets.domain.person import role_said
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.store import changes

TURN_WORDS = {
    CLOCKWISE: N_("clockwise: to head 1 first, then 2, 3 ..."),
    ANTICLOCKWISE: N_("anticlockwise: to the last head first"),
    ANY_ORDER: N_("by hand, heads in any order"),
}
SAID: Mapping[str, Mapping[str, str]] = {
    "person": {
        "added": N_("added: {becomes}"),
        "back": N_("back again: {becomes}"),
        "role": N_("role: {was}, then {becomes}"),
        "secret": N_("new PIN or password"),
        "left": N_("left the shop"),
    },
    "place": {
        "added": N_("added: {becomes}"),
        "name": N_("name: {was}, then {becomes}"),
        "heads": N_("heads: {was}, then {becomes}"),
        "turns": N_("turns: {was}, then {becomes}"),
        "retired": N_("taken out of use"),
        "back": N_("back in use"),
        "counted": N_("stock-take: {here} as the log has it, {astray} put here, {missing} missing"),
    },
    "job": {
        "planned": N_("planned: {was}, then {becomes}"),
        "closed": N_("closed"),
        "reopened": N_("opened again"),
    },
    "token": {"added": N_("made: {becomes}"), "withdrawn": N_("removed")},
    "exposure unit": {
        "added": N_("added: {becomes}"),
        "lamp": N_("lamp: {was}, then {becomes}"),
        "retired": N_("taken out of use"),
        "back": N_("back in use"),
    },
}


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """One line of a history: what was done, when, by whom."""

    said: str
    at: str
    person: str


def past(thing: str, number: int | None = None) -> dict[int, list[HistoryLine]]:
    """The history of one thing, or of all of a kind, by number; the newest first."""
    return told(thing, changes.of(g.db, thing, number))


def told(thing: str, found: Iterable[changes.Change]) -> dict[int, list[HistoryLine]]:
    """Changes of things of a kind in words, by number, in their order."""
    out: dict[int, list[HistoryLine]] = {}
    for one in found:
        was, becomes = (_word(thing, one.what, text) for text in (one.was, one.becomes))
        said = _(SAID[thing].get(one.what, one.what))
        if one.what == "counted":
            here, astray, missing = one.becomes.split()
            said = said.format(here=here, astray=astray, missing=missing)
        else:
            said = said.format(was=was, becomes=becomes)
        out.setdefault(one.number, []).append(HistoryLine(said, one.at, one.person))
    return out


def _word(thing: str, what: str, text: str) -> str:
    """A role or a kind of lamp in words; a name and a number as they are, which no catalogue may know."""
    if thing == "exposure unit":
        text = LAMPS.get(text, text)
    elif thing in ("place", "job", "token"):
        return text or "–"
    if not text:
        return "–"
    return role_said(text) if thing == "person" else _(text)
