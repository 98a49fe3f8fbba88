"""Racks, carts, cabinets, presses and exposure units."""

from __future__ import annotations

from datetime import datetime

from sqlite_utils import Database

from tickets.floor.posting import act_time, once, zone
from tickets.records.entry import stamp
from tickets.records.person import Actor
from tickets.records.refusal import Fault, NotAllowed, NotFound, Refused
from tickets.store import codes, places, screens
from tickets.words import gettext as _


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
) -> str:
    """A new place; its code. A press has its number of heads."""
    faults = []
    if not name.strip() or len(name) > 60:
        faults.append(Fault("name", _("A name of 1 to 60 characters is needed, such as “Rack 3”.")))
    if kind not in places.KINDS:
        faults.append(Fault("kind", _("One of: {kinds}.").format(kinds=", ".join(places.KINDS))))
    if heads is not None and not 1 <= heads <= 40:
        faults.append(Fault("heads", _("A press has between 1 and 40 heads.")))
    if faults:
        raise Refused(faults)

    def act() -> dict[str, str]:
        if places.find(db, name) is not None:
            raise Refused(_("There is a place “{name}” already.").format(name=name), "name")
        number = screens.next_number(db, "places")
        code = codes.issue(db, "place", number, stamp(now))
        places.add(db, number, code, name, kind, outside, heads if kind == "press" else None, stamp(now))
        return {"code": code}

    content = {"act": "place", "name": name, "kind": kind, "outside": outside, "heads": heads}
    return str(once(db, actor, post, content, now, act)["code"])


def add_unit(db: Database, actor: Actor, name: str, lamp: str, *, post: str, now: datetime) -> None:
    """A new exposure unit with its kind of lamp (point, fluorescent, led)."""
    if not actor.manages:
        raise NotAllowed(_("The manager adds exposure units."))
    faults = []
    if not name.strip() or len(name) > 60:
        faults.append(Fault("name", _("A name of 1 to 60 characters is needed.")))
    if lamp not in places.LAMPS:
        faults.append(Fault("lamp", _("One of: {kinds}.").format(kinds=", ".join(places.LAMPS))))
    if faults:
        raise Refused(faults)

    def act() -> dict[str, str]:
        if places.find_unit(db, name) is not None:
            raise Refused(_("There is an exposure unit “{name}” already.").format(name=name), "name")
        places.add_unit(db, name, lamp, stamp(now))
        return {}

    once(db, actor, post, {"act": "unit", "name": name, "lamp": lamp}, now, act)


def find_unit(db: Database, name: str) -> places.ExposureUnit:
    """An exposure unit by name (NotFound: none)."""
    unit = places.find_unit(db, name)
    if unit is None:
        known = ", ".join(one.name for one in places.units(db)) or _("none yet")
        raise NotFound(
            _("There is no exposure unit “{text}”; there are: {there}.").format(text=name[:40], there=known), "name"
        )
    return unit


def change_lamp(db: Database, actor: Actor, name: str, *, post: str, now: datetime, at: str = "") -> None:
    """Notes that an exposure unit got a new lamp (`at`: when, empty: now); what is learned starts afresh from there."""
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
            raise Refused(_("There is no such lamp change, or it was taken back already."), "change")
        return {"change": places.add_lamp_change(db, unit.id, line.at, stamp(now), actor.id, change)}

    once(db, actor, post, {"act": "withdraw lamp", "unit": unit.id, "change": change}, now, act)
