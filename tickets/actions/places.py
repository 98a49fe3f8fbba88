"""Racks, carts, cabinets, presses and exposure units."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from sqlite_utils import Database

from tickets.actions.posting import once
from tickets.calculator.kinds import LAMPS, PLACES
from tickets.domain import names, overtaken
from tickets.domain.entry import stamp
from tickets.domain.jobs.heads import CLOCKWISE, TURNS
from tickets.domain.person import Actor
from tickets.domain.refusal import Fault, NotAllowed, NotFound, Refused
from tickets.i18n import gettext as _
from tickets.i18n import pgettext
from tickets.queries.shop_rules import act_time, zone
from tickets.store import changes, codes, places, runs, screens
from tickets.store.places import ExposureUnit, Place


def add(
    db: Database,
    actor: Actor,
    name: str,
    kind: str,
    *,
    post: str,
    now: datetime,
    outside: bool = False,
    heads: int | None = None,
    turns: str = "",
) -> str:
    """A new place; its code. A press has its number of heads and how it turns (`heads.TURNS`; empty: clockwise)."""
    faults = _faults(name, heads, turns)
    if kind not in PLACES:
        faults.append(Fault("kind", _("One of: {kinds}.").format(kinds=", ".join(PLACES))))
    if faults:
        raise Refused(faults)

    def act() -> dict[str, str]:
        _not_taken(db, name)
        number = screens.next_number(db, "places")
        code = codes.issue(db, "place", number, stamp(now))
        own = (heads, turns or CLOCKWISE) if kind == "press" else (None, CLOCKWISE)
        places.add(db, number, code, names.one_line(name), kind, outside, own[0], stamp(now), own[1])
        changes.note(db, "place", number, "added", stamp(now), actor.id, becomes=names.one_line(name))
        return {"code": code}

    content = {"act": "place", "name": name, "kind": kind, "outside": outside, "heads": heads}
    content |= {"turns": turns} if turns else {}
    return str(once(db, actor, post, content, now, act)["code"])


def _faults(name: str, heads: int | None, turns: str) -> list[Fault]:
    faults: list[Fault] = []
    names.take(name, faults, example=pgettext("an example of a name", "Rack 3"))
    if heads is not None and not 1 <= heads <= 40:
        faults.append(Fault("heads", _("A press has between 1 and 40 heads.")))
    if turns and turns not in TURNS:
        faults.append(Fault("turns", _("One of: {kinds}.").format(kinds=", ".join(TURNS))))
    return faults


def _not_alike(name: str, find: Callable[[str], Place | ExposureUnit | None], but: int = 0) -> None:
    for alike in names.spelled_alike(names.one_line(name)):
        there = find(alike)
        if there is not None and there.id != but:
            raise Refused(names.taken_alike(name, there.name), "name")


def _not_taken(db: Database, name: str, but: int = 0) -> None:
    _not_alike(name, lambda text: places.find(db, text), but)
    there = places.find(db, name)
    if there is None or there.id == but:
        return
    taken = _("There is a place “{name}” already.")
    if there.retired_at:
        taken = _("“{name}” is out of use: bring it back, or choose another name.")
    raise Refused(taken.format(name=there.name), "name")


def change(
    db: Database,
    actor: Actor,
    place: Place,
    name: str,
    heads: int | None = None,
    turns: str = "",
    *,
    post: str,
    now: datetime,
    seen: str = "",
) -> None:
    """Another name of a place, another number of heads of a press, another way that it turns (None, empty: as it is).
    Its code and its log stay. `seen`: what the form showed (`shown_of`)."""
    if not actor.manages:
        raise NotAllowed(_("The manager renames places."))
    if faults := _faults(name, heads, turns):
        raise Refused(faults)
    content = {"act": "change place", "place": place.id, "name": name, "heads": heads, "turns": turns}

    def act() -> dict[str, int]:
        now_it_is = places.get(db, place.id) or place
        _not_taken(db, name, place.id)
        own = (heads or now_it_is.heads, turns or now_it_is.turns) if place.kind == "press" else (None, now_it_is.turns)
        then = replace(now_it_is, name=names.one_line(name), heads=own[0], turns=own[1])
        overtaken.check(seen, shown_of(now_it_is), shown_of(then))
        places.change(db, then)
        for what in ("name", "heads", "turns"):
            was, becomes = getattr(now_it_is, what), getattr(then, what)
            if was != becomes:
                said = {"was": str(was or ""), "becomes": str(becomes or "")}
                changes.note(db, "place", place.id, what, stamp(now), actor.id, **said)
        return {}

    once(db, actor, post, content, now, act)


def shown_of(place: Place) -> dict[str, str | int | None]:
    """What the form of a place shows, and changes."""
    return {"name": place.name, "heads": place.heads, "turns": place.turns}


def retire(db: Database, actor: Actor, place: Place, *, back: bool = False, post: str, now: datetime) -> None:
    """Takes an empty place out of use, or brings it back: it is offered nowhere, and its code and log stay.

    Refused: screens are there by the log, or a run is open on the press.
    """
    if not actor.manages:
        raise NotAllowed(_("The manager takes places out of use."))

    def act() -> dict[str, int]:
        if not back and screens.at_place(db, place.id, 1):
            full = _("The log has screens on {place}: put them elsewhere first, or take stock of it.")
            raise Refused(full.format(place=place.name), "retire")
        if not back and runs.open_ones(db, place.id, 1):
            raise Refused(_("A run is open on {press}: finish it first.").format(press=place.name), "retire")
        now_it_is = places.get(db, place.id) or place
        if bool(now_it_is.retired_at) is back:
            places.change(db, replace(now_it_is, retired_at=None if back else stamp(now)))
            changes.note(db, "place", place.id, "back" if back else "retired", stamp(now), actor.id)
        return {}

    once(db, actor, post, {"act": "retire place", "place": place.id, "back": back}, now, act)


def add_unit(db: Database, actor: Actor, name: str, lamp: str, *, post: str, now: datetime) -> None:
    """A new exposure unit with its kind of lamp (point, fluorescent, led)."""
    if not actor.manages:
        raise NotAllowed(_("The manager adds exposure units."))
    faults: list[Fault] = []
    name = names.take(name, faults, example=_("LED unit"))
    if lamp not in LAMPS:
        faults.append(Fault("lamp", _("One of: {kinds}.").format(kinds=", ".join(LAMPS))))
    if faults:
        raise Refused(faults)

    def act() -> dict[str, str]:
        _not_alike(name, lambda text: places.find_unit(db, text))
        there = places.find_unit(db, name)
        if there is not None:
            taken = _("There is an exposure unit “{name}” already.")
            if there.retired_at:
                taken = _("“{name}” is out of use: bring it back, or choose another name.")
            raise Refused(taken.format(name=there.name), "name")
        number = places.add_unit(db, name, lamp, stamp(now))
        changes.note(db, "exposure unit", number, "added", stamp(now), actor.id, becomes=lamp)
        return {}

    once(db, actor, post, {"act": "unit", "name": name, "lamp": lamp}, now, act)


def find_unit(db: Database, name: str) -> ExposureUnit:
    """An exposure unit by name (NotFound: none)."""
    unit = places.find_unit(db, name)
    if unit is None:
        known = ", ".join(one.name for one in places.units(db)) or _("none yet")
        raise NotFound(
            _("There is no exposure unit “{text}”; there are: {there}.").format(text=name[:40], there=known), "name"
        )
    return unit


def change_unit(
    db: Database, actor: Actor, name: str, lamp: str, *, retired: bool | None = False, post: str, now: datetime
) -> None:
    """Another kind of lamp in an exposure unit (empty: as it is); `retired`: out of use (None: as it is). Its name
    stays, since the log says it."""
    if not actor.manages:
        raise NotAllowed(_("The manager changes exposure units."))
    number = find_unit(db, name).id
    if lamp and lamp not in LAMPS:
        raise Refused(_("One of: {kinds}.").format(kinds=", ".join(LAMPS)), "lamp")

    def act() -> dict[str, int]:
        unit = find_unit(db, name)
        becomes, out = lamp or unit.lamp, bool(unit.retired_at) if retired is None else retired
        since = (unit.retired_at or stamp(now)) if out else None
        places.change_unit(db, unit.id, becomes, since)
        if becomes != unit.lamp:
            said = {"was": unit.lamp, "becomes": becomes}
            changes.note(db, "exposure unit", unit.id, "lamp", stamp(now), actor.id, **said)
        if bool(unit.retired_at) != out:
            changes.note(db, "exposure unit", unit.id, "retired" if out else "back", stamp(now), actor.id)
        return {}

    once(db, actor, post, {"act": "change unit", "unit": number, "lamp": lamp, "retired": retired}, now, act)


def change_lamp(db: Database, actor: Actor, name: str, *, post: str, now: datetime, at: str = "") -> None:
    """Notes that an exposure unit got a new lamp (`at`: when, empty: now); learning starts from nothing there."""
    if not actor.manages:
        raise NotAllowed(_("The manager notes a new lamp."))
    unit = find_unit(db, name)
    when = act_time(at, zone(db), now)

    def act() -> dict[str, int]:
        return {"change": places.add_lamp_change(db, unit.id, stamp(when), stamp(now), actor.id)}

    once(db, actor, post, {"act": "lamp", "unit": unit.id, "at": at}, now, act)


def withdraw_lamp(db: Database, actor: Actor, name: str, change: int, *, post: str, now: datetime) -> None:
    """Takes back the note of a new lamp that was not put in, or not then."""
    if not actor.manages:
        raise NotAllowed(_("The manager notes a new lamp."))
    unit = find_unit(db, name)

    def act() -> dict[str, int]:
        line = next((one for one in places.lamp_changes(db, unit.id) if one.id == change), None)
        if line is None:
            raise Refused(_("There is no such lamp change, or it was removed already."), "change")
        return {"change": places.add_lamp_change(db, unit.id, line.at, stamp(now), actor.id, change)}

    once(db, actor, post, {"act": "withdraw lamp", "unit": unit.id, "change": change}, now, act)
