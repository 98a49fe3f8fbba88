"""`tickets spec`: the shop's limits."""

from __future__ import annotations

from pathlib import Path

from tickets.cli import group_of
from tickets.cli.given import the_shop
from tickets.cli.options import JSON, command
from tickets.cli.output import print_json, say_table
from tickets.words import N_
from tickets.words import gettext as _

spec = group_of("spec", N_("The shop's limits; the page shows their history and changes them."))


@command(spec, "list", N_("Lists the limits that count now, each with where it comes from."), JSON)
def spec_list(as_json: bool, folder: Path | None) -> None:
    from tickets.floor.posting import the_spec
    from tickets.store import people

    with the_shop(folder) as db:
        rows, names = the_spec(db).rows, people.names(db)
    if as_json:
        print_json(
            [
                {
                    "row": row.id,
                    "key": row.key,
                    "value": row.value,
                    "unit": row.unit,
                    "conditions": dict(row.conditions),
                    "source": row.source,
                    "at": row.at,
                    "person": names.get(row.person),
                }
                for row in rows
            ]
        )
        return
    say_table(
        [
            [
                row.id,
                row.key,
                f"{row.value:g} {row.unit}",
                ", ".join(f"{k} {v}" for k, v in row.conditions.items()),
                row.source,
            ]
            for row in rows
        ],
        _("No limits."),
    )
