"""`tickets unit`: exposure units."""

from __future__ import annotations

from pathlib import Path

import click

from tickets.cli import group_of
from tickets.cli.given import post_id, the_shop, time_now, who_acts
from tickets.cli.options import BY, ENTRY, JSON, command, option
from tickets.cli.output import print_json, say_table
from tickets.words import N_
from tickets.words import gettext as _

unit = group_of("unit", N_("Exposure units."))


@command(
    unit,
    "add",
    N_("Adds an exposure unit."),
    option("--lamp", required=True, help=N_("point, fluorescent or led.")),
    ENTRY,
    BY,
    JSON,
)
@click.argument("name")
def unit_add(name: str, lamp: str, entry: str | None, by: str | None, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import places as floor

    with the_shop(folder, make=True) as db:
        floor.add_unit(db, who_acts(db, by), name, lamp, post=post_id(entry), now=time_now())
    if as_json:
        print_json([{"name": name, "lamp": lamp}])
    else:
        click.echo(name)


@command(unit, "list", N_("Lists the exposure units."), JSON)
def unit_list(as_json: bool, folder: Path | None) -> None:
    from tickets.store import places

    with the_shop(folder) as db:
        found = places.units(db)
    if as_json:
        print_json([{"name": one.name, "lamp": one.lamp} for one in found])
    else:
        say_table([[one.name, one.lamp] for one in found], _("No exposure units."))
