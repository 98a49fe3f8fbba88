"""`tickets unit`: exposure units."""

from __future__ import annotations

import click

from tickets.cli import group_of
from tickets.cli.given import Call
from tickets.cli.options import BY, ENTRY, option
from tickets.cli.output import table
from tickets.cli.reply import Reply, command
from tickets.i18n import N_
from tickets.i18n import gettext as _

unit = group_of("unit", N_("Exposure units."))


@command(
    unit,
    "add",
    N_("Adds an exposure unit."),
    option("--lamp", required=True, help=N_("point, fluorescent or led.")),
    ENTRY,
    BY,
)
@click.argument("name")
def unit_add(call: Call, name: str, lamp: str) -> Reply:
    from tickets.actions import places as places_acts

    places_acts.add_unit(call.shop(make=True), call.actor, name, lamp, post=call.post, now=call.now)
    return Reply([{"name": name, "lamp": lamp}], [name])


@command(unit, "list", N_("Lists the exposure units."))
def unit_list(call: Call) -> Reply:
    from tickets.store import places

    found = places.units(call.shop())
    rows = table([[one.name, one.lamp] for one in found], _("No exposure units."))
    return Reply([one.to_dict() for one in found], rows)
