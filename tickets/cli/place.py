"""`tickets place`: racks, carts, cabinets and presses."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from tickets.cli import group_of
from tickets.cli.given import post_id, the_shop, time_now, who_acts
from tickets.cli.options import BY, ENTRY, JSON, Whole, command, option
from tickets.cli.output import print_json, say_table, shown_code
from tickets.words import N_
from tickets.words import gettext as _

place = group_of("place", N_("Racks, carts, cabinets and presses."))


@command(
    place,
    "add",
    N_("Adds a place."),
    option("--kind", required=True, help=N_("rack, cart, cabinet or press.")),
    option("--outside", is_flag=True, help=N_("It is not in the shop: screens there read as away.")),
    option("--heads", type=Whole(), help=N_("Heads of a press.")),
    option("--turns", default="", help=N_("How a press turns: clockwise, anticlockwise or any order.")),
    ENTRY,
    BY,
    JSON,
)
@click.argument("name")
def place_add(
    name: str,
    kind: str,
    outside: bool,
    heads: int | None,
    turns: str,
    entry: str | None,
    by: str | None,
    as_json: bool,
    folder: Path | None,
) -> None:
    from tickets.floor import places as floor
    from tickets.store import places

    with the_shop(folder, make=True) as db:
        how = who_acts(db, by), name, kind
        code = floor.add(db, *how, post=post_id(entry), now=time_now(), outside=outside, heads=heads, turns=turns)
        made = [_place(one) for one in places.every(db) if one.code == code]
    if as_json:
        print_json(made)
    else:
        click.echo(f"{shown_code(code)}  {name}")


def _place(found: Any) -> dict[str, Any]:
    return {
        "code": found.code,
        "shown": shown_code(found.code),
        "name": found.name,
        "kind": found.kind,
        "outside": found.outside,
        "heads": found.heads,
        "turns": found.turns if found.kind == "press" else None,
    }


@command(place, "list", N_("Lists the places."), option("--kind", help=N_("Only those of this kind.")), JSON)
def place_list(kind: str | None, as_json: bool, folder: Path | None) -> None:
    from tickets.store import places

    with the_shop(folder) as db:
        found = places.every(db, kind or "")
    if as_json:
        print_json([_place(one) for one in found])
    else:
        say_table([[shown_code(one.code), one.name, _(one.kind), one.heads] for one in found], _("No places."))
