"""`tickets place`: racks, carts, cabinets and presses."""

from __future__ import annotations

import click

from tickets.cli import group_of
from tickets.cli.given import Call
from tickets.cli.list_file import list_import
from tickets.cli.options import BY, ENTRY, Whole, option
from tickets.cli.output import joined, shown_code, table
from tickets.cli.reply import Reply, command
from tickets.i18n import N_
from tickets.i18n import gettext as _

place = group_of("place", N_("Racks, carts, cabinets and presses."))


@command(
    place,
    "add",
    N_("Adds a place."),
    option("--kind", required=True, help=N_("One of: rack, cart, cabinet, press.")),
    option("--outside", is_flag=True, help=N_("It is not in the shop: screens there read as away.")),
    option("--heads", type=Whole(), help=N_("Heads of a press.")),
    option("--turns", default="", help=N_("How a press turns: clockwise, anticlockwise or any order.")),
    ENTRY,
    BY,
)
@click.argument("name")
def place_add(call: Call, name: str, kind: str, outside: bool, heads: int | None, turns: str) -> Reply:
    from tickets.actions import places as places_acts
    from tickets.store import places

    db = call.shop(make=True)
    how = call.actor, name, kind
    code = places_acts.add(db, *how, post=call.post, now=call.now, outside=outside, heads=heads, turns=turns)
    made = [one.to_dict() for one in places.every(db) if one.code == code]
    return Reply(made, [joined((shown_code(code), name))])


@command(place, "list", N_("Lists the places."), option("--kind", help=N_("Only those of this kind.")))
def place_list(call: Call, kind: str | None) -> Reply:
    from tickets.store import places

    found = places.every(call.shop(), kind or "")
    rows = table([[shown_code(one.code), one.name, _(one.kind), one.heads] for one in found], _("No places."))
    return Reply([one.to_dict() for one in found], rows)


list_import(place, "places", N_("Brings in a list of racks, carts, cabinets and presses."))
