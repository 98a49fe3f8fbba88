"""The first day of a shop: what it is called and how it works, in one go; racks, many at once."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.actions import places as places_acts
from tickets.actions import printing, shop
from tickets.actions.posting import once
from tickets.calculator.numerals import counted
from tickets.domain import names
from tickets.domain.desk import shop_settings
from tickets.domain.papers.ticket import address_fault, clean_address
from tickets.domain.person import Actor
from tickets.domain.refusal import Fault, NotAllowed, Refused
from tickets.i18n import gettext as _
from tickets.queries import addresses
from tickets.store import places
from tickets.store.settings import setting

ASKED = ("shop", "zone", "language", "units", "address", "steps")
"""The settings that a new shop is asked for, in the order of the page."""
MOST_RACKS = 200


def set_up(db: Database, actor: Actor, given: Mapping[str, Any], *, now: datetime) -> None:
    """Keeps what was given for the first settings, all or none. Raises Refused with everything that is wrong."""
    if not actor.manages:
        raise NotAllowed(_("The manager changes settings."))
    faults: list[Fault] = []
    for name in ASKED:
        if name not in given or name == "address":
            continue
        try:
            shop_settings.read(name, given[name])
        except Refused as refused:
            faults += [Fault(fault.where or name, fault.message) for fault in refused.faults]
    if address := str(given.get("address", "")).strip():
        try:
            fault = address_fault(clean_address(address), addresses.known_addresses(address))
        except Refused as refused:
            faults += [Fault("address", one.message) for one in refused.faults]
        else:
            faults += [Fault("address", fault.message)] if fault and fault.refuses and not fault.anyway else []
    if faults:
        raise Refused(faults)
    for name in ASKED:
        if name in given and name != "address":
            shop.set_up(db, actor, name, given[name], now=now)
    if address and address != setting(db, "address"):
        printing.set_address(db, actor, address, now=now)


def add_places(db: Database, actor: Actor, name: str, kind: str, many: str, *, post: str, now: datetime) -> list[str]:
    """Places of one name, counted up from the first number that is free (`Rack 1`, `Rack 2`, ...); their names. All in
    one go, once by the id `post`. Raises Refused."""
    number = counted(many, 0)
    faults: list[Fault] = []
    name = names.take(name, faults, "name", _("Rack"))
    if not 1 <= number <= MOST_RACKS:
        faults.append(Fault("many", _("A whole number from 1 to {most} would do.").format(most=MOST_RACKS)))
    if faults:
        raise Refused(faults)

    def act() -> dict[str, Any]:
        made: list[str] = []
        at = 0
        while len(made) < number:
            at += 1
            if places.find(db, f"{name} {at}") is None:
                places_acts.add(db, actor, f"{name} {at}", kind, post=f"{post[:26]}-{len(made)}", now=now)
                made.append(f"{name} {at}")
        return {"names": made}

    answer = once(db, actor, post, {"act": "places", "name": name, "kind": kind, "many": number}, now, act)
    return [str(one) for one in answer["names"]]
