"""`tickets spec`: the shop's limits."""

from __future__ import annotations

from tickets.cli import group_of
from tickets.cli.given import Call
from tickets.cli.output import table, units
from tickets.cli.reply import Reply, command
from tickets.i18n import N_
from tickets.i18n import gettext as _

spec = group_of("spec", N_("The shop's limits; the page shows their history and changes them."))


@command(spec, "list", N_("Lists the limits that count now, each with where it comes from."))
def spec_list(call: Call) -> Reply:
    from tickets.calculator.units import show_value
    from tickets.domain.limits import case_said
    from tickets.queries import as_data

    rows, system = as_data.limits(call.shop()), units()
    cells = [
        [
            row["row"],
            row["key"],
            show_value(row["value"], row["unit"], system),
            case_said(row["conditions"], system),
            _(row["source"]),
        ]
        for row in rows
    ]
    return Reply(rows, table(cells, _("No limits.")))
