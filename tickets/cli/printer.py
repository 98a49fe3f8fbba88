"""`tickets printer`: the printers of the shop, as people call them."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import click

from tickets.cli import group_of
from tickets.cli.given import Call
from tickets.cli.options import BY, option
from tickets.cli.output import joined, table
from tickets.cli.reply import Reply, command
from tickets.i18n import N_
from tickets.i18n import gettext as _

printer = group_of("printer", N_("The printers that phones print on."))


@command(printer, "list", N_("Lists the printers, how each is now, and queues that have no name here yet."))
def printer_list(call: Call) -> Reply:
    from tickets.queries import printers

    now = printers.now(call.shop())
    rows = [
        [one.printer.name, one.printer.holds, one.printer.to, " ".join((one.said, *one.reasons))] for one in now.every
    ]
    data = {
        "printers": [
            {**asdict(one.printer), "ready": one.ready, "said": one.said, "reasons": list(one.reasons)}
            for one in now.every
        ],
        "queues": list(now.queues),
    }
    lines = table(rows, _("No printer is named yet: tickets printer add NAME --to QUEUE --holds 100x50mm"))
    if now.queues:
        lines += [_("Queues of the print system without a name here: {queues}").format(queues=", ".join(now.queues))]
    return Reply(data, lines)


@command(
    printer,
    "add",
    N_("Names a printer: a queue of the print system, or a printer of the network by its IPP address."),
    option("--to", required=True, metavar="QUEUE", help=N_("A queue, or ipp://192.168.1.40:631/ipp/print")),
    option("--holds", required=True, metavar="PAPER", help=N_("A4, Letter, or labels: 100x50mm, 62x29mm, 4x2in.")),
    BY,
)
@click.argument("name")
def printer_add(call: Call, name: str, to: str, holds: str) -> Reply:
    from tickets.actions import shop
    from tickets.domain.refusal import Fault, Refused
    from tickets.queries import printers

    db = call.shop()
    rows: list[dict[str, Any]] = [asdict(one) for one in printers.named(db)]
    try:
        shop.set_up(db, call.actor, "printers", [*rows, {"name": name, "to": to, "holds": holds}], now=call.now)
    except Refused as refused:
        refused.faults = tuple(Fault(one.where.rpartition(".")[2], one.message) for one in refused.faults)
        raise
    added = printers.named(db)[-1]
    return Reply(asdict(added), [joined((added.name, added.holds, added.to))])


@command(printer, "remove", N_("Takes a printer’s name away."), BY)
@click.argument("name")
def printer_remove(call: Call, name: str) -> Reply:
    from tickets.actions import shop
    from tickets.domain.printer import named
    from tickets.queries import printers

    db = call.shop()
    gone, every = named(printers.named(db), name), printers.named(db)
    shop.set_up(db, call.actor, "printers", [asdict(one) for one in every if one != gone], now=call.now)
    return Reply(asdict(gone), [_("Removed: {name}").format(name=gone.name)])
