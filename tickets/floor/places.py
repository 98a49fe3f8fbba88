"""Racks, carts, cabinets, presses and exposure units."""

from __future__ import annotations

from datetime import datetime

from sqlite_utils import Database

from tickets.floor.posting import once
from tickets.records.entry import stamp
from tickets.records.person import Actor
from tickets.records.refusal import Fault, NotAllowed, Refused
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
