"""What a set-up says, and who said it: which parts somebody noted or claimed to be as the target, who measured what and
when, and what each garment of a run was printed with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from sqlite_utils import Database

from tickets.domain import setting
from tickets.domain.entry import read_stamp
from tickets.domain.jobs import colourways
from tickets.domain.papers.ticket import with_signs
from tickets.domain.runs import setup
from tickets.domain.runs.as_run import NOT_MEASURED, doubt_said, field_word, proved, target_word
from tickets.domain.runs.run import Story
from tickets.i18n import gettext as _
from tickets.queries import repeats, run_plan
from tickets.queries.shop_rules import zone


def when_said(db: Database, at: str) -> str:
    """A time of the log in the shop's zone."""
    return f"{read_stamp(at).astimezone(zone(db)):%Y-%m-%d %H:%M}"


def noted_said(db: Database, sheet: Mapping[str, Any]) -> list[str]:
    """Who noted which parts of a sheet and when, and who claimed the rest to be as the target, each a sentence."""
    found = []
    for one in setup.said_by(sheet):
        since, until = (when_said(db, at) for at in (one.since, one.until))
        when = since if since == until else f"{since} – {until[11:] if since[:10] == until[:10] else until}"
        found.append(_("{how} ({who}, {when}).").format(how=setup.how_said(one), who=one.who, when=when))
    return found


def measured_said(db: Database, plan: run_plan.Plan) -> list[str]:
    """Of which parts of the set-up nothing is noted; who took which measurements, and when, each a sentence; last what
    “noted at set-up” means, where something is."""
    found = []
    if plan.story.sheet and (left := run_plan.open_parts(plan)):
        parts = ", ".join(setup.part_said(key, plan.placement) for key in left)
        found.append(_("Not noted at the set-up: {parts}.").format(parts=parts))
    for one in setup.by_whom(plan.story.settings, plan.story.measured):
        where = {key: "" if key == setup.RUN else f"{key} " for key, _name, _value in one.what}
        what = ", ".join(f"{where[key]}{field_word(name)} {with_signs(value)}" for key, name, value in one.what)
        if one.at:
            said = _("Measured by {who}, {when}: {what}.")
            found.append(said.format(who=one.who, when=when_said(db, one.at), what=what))
        else:
            found.append(doubt_said())
    return [*found, *filter(None, [run_plan.set_apart(db, plan)])]


def read_again(story: Story) -> dict[str, dict[str, str]]:
    """What was measured more than once, part by part: all its readings, the first one first."""
    found: dict[str, dict[str, str]] = {}
    for key, values in story.settings.items():
        for name, value in values.items():
            taken = setup.readings(value, story.measured.get(key, {}).get(name, {}))
            if len(taken) > 1:
                then = _(", then ").join(with_signs(one.value) for one in taken)
                found.setdefault(key, {})[name] = then
    return found


# Garment by garment ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Read:
    """A reading of something measured: what was read, by whom and when (both empty: nobody known)."""

    value: str
    who: str
    at: str


@dataclass(frozen=True, slots=True)
class SaidSetting:
    """A setting of a part: its name, its word, its value; of a measurement all its readings, the first one first.
    `proved`: False where an older sheet has it as measured, and nobody knows whether it was."""

    setting: str
    word: str
    value: str
    readings: tuple[Read, ...] = ()
    proved: bool = True


@dataclass(frozen=True, slots=True)
class PartSaid:
    """A part of the set-up as it was printed (the print order as text, or `run`): whether somebody noted it, or claimed
    it to be as the target, who and when where that was kept; what is set and what was measured."""

    part: str
    named: str
    noted: bool
    as_target: bool
    who: str
    at: str
    set: tuple[SaidSetting, ...]
    measured: tuple[SaidSetting, ...]


@dataclass(frozen=True, slots=True)
class NotTaken:
    """A measurement that the target has and nobody took: its part and name, both in words, what was to be reached."""

    part: str
    setting: str
    word: str
    target: str


@dataclass(frozen=True, slots=True)
class GarmentSaid:
    """What a garment of a run was set up with. `garment`: empty where nobody said which; `approved_by`, `approved_at`:
    of its first print; `not_measured`: what its target has of measurements and nobody took, by part."""

    garment: str
    now: bool
    approved_by: str
    approved_at: str
    parts: tuple[PartSaid, ...]
    not_measured: tuple[NotTaken, ...]


def by_garment(db: Database, plan: run_plan.Plan) -> list[GarmentSaid]:
    """The set-up of a run, garment by garment in the order in which they were noted, the one that is printed now last.
    Nothing where nobody noted any of it."""
    story = plan.story
    names = [*sorted(story.sheets, key=lambda one: str(story.sheets[one]["at"])), story.sheet_on, story.on]
    every = sorted(dict.fromkeys(names), key=lambda one: one == story.on)
    return [_of_garment(db, plan, name) for name in every] if story.sheet_entry else []


def _then(plan: run_plan.Plan, name: str) -> run_plan.Plan:
    """The run as it stood while that garment was printed last: its own sheet, and what was changed up to then."""
    story = plan.story
    if name == story.on:
        return plan
    on, sheet = story.sheet_of(name)
    own = {"sheet": sheet, "sheet_on": on, "sheet_at": story.sheets[on]["at"]} if on in story.sheets else {}
    changes = tuple(one for one in story.changes if str(one.get("on") or name) == name)
    return replace(plan, run=replace(plan.run, story=replace(story, on=name, changes=changes, **own)))


def _of_garment(db: Database, plan: run_plan.Plan, name: str) -> GarmentSaid:
    then = _then(plan, name)
    story, garment = then.story, colourways.garments_of(plan.job.sheet).get(name)
    prints = colourways.prints_on(plan.job.sheet, plan.placement, garment)
    idle = set(map(str, colourways.idle(plan.placement, prints))) if garment else set()
    settings = repeats.named_buckets(db, {"stations": story.settings})["stations"]
    noted, by = setup.parts_noted(story.sheet, plan.placement), story.sheet.get("noted_by") or {}
    asked = {**{str(one.number): setup.asks_of(one) for one in plan.placement.stations}, setup.RUN: setup.WHOLE}
    parts = []
    for key, asks in asked.items():
        if key in idle or not (settings.get(key) or key in noted):
            continue
        order, values = [ask.name for ask in asks], settings.get(key, {})
        names = [*(one for one in order if one in values), *(one for one in values if one not in order)]
        said = [_said(story, key, one, values[one]) for one in names]
        own = by.get(key, {})
        parts.append(
            PartSaid(
                key,
                setup.part_said(key, plan.placement),
                key in noted,
                bool(own.get(setup.AS_TARGET)),
                str(own.get("who", "")),
                str(own.get("at", "")),
                tuple(one for one in said if one.setting not in setting.MEASURED),
                tuple(one for one in said if one.setting in setting.MEASURED),
            )
        )
    approved = story.approvals.get(name) or {}
    left = [one for one in setup.not_yet(run_plan.sheet_now(db, then)) if one[0] not in idle]
    return GarmentSaid(
        name if run_plan.several_garments(plan) else "",
        name == plan.story.on,
        str(approved.get("approved_by", "")),
        str(approved.get("at", "")),
        tuple(parts),
        tuple(
            NotTaken(key, one, f"{setup.part_said(key, plan.placement)}, {target_word(one)}", aim)
            for key, one, aim in left
        ),
    )


def _said(story: Story, key: str, name: str, value: str) -> SaidSetting:
    """A setting of a garment as it stood; what was measured, with who did so and when."""
    if name not in setting.MEASURED or value == NOT_MEASURED:
        return SaidSetting(name, field_word(name), value)
    taken = setup.readings(value, story.measured.get(key, {}).get(name, {}))
    reads = tuple(Read(one.value, one.who, one.at) for one in taken)
    sure = bool(taken[-1].at) or proved(story.sheet, key, name, value)
    return SaidSetting(name, field_word(name), value, reads, sure)
