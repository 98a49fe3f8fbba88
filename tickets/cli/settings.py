"""`tickets settings` and `tickets address`."""

from __future__ import annotations

import json
from typing import Any

import click

from tickets.cli import group_of, root
from tickets.cli.given import Call
from tickets.cli.options import BY, option
from tickets.cli.output import joined, shown_code, table
from tickets.cli.reply import Reply, command
from tickets.i18n import N_
from tickets.i18n import gettext as _


@command(root, "address", N_("Sets the address that QR codes carry, such as http://192.168.1.20:8600."), BY)
@click.argument("url")
def address(call: Call, url: str) -> Reply:
    from tickets.actions import printing
    from tickets.queries import tickets
    from tickets.store.settings import setting

    db = call.shop(make=True)
    warnings = list(printing.set_address(db, call.actor, url, now=call.now))
    kept, behind = setting(db, "address"), tickets.left_behind(db)
    lines = [_("Tags and tickets lead to {address}").format(address=kept)]
    if behind:
        lines.append(_("These carry the old address; reprint them:"))
        lines += table([[shown_code(one["code"]), _(one["kind"]), one["address"]] for one in behind])
    return Reply({"address": kept, "warnings": warnings, "left_behind": behind}, lines, warnings)


@command(
    root,
    "clock",
    N_("Says whether clock and log agree; where they don't, the manager says which is right."),
    option("--is", "said", type=click.Choice(["right", "wrong"]), help=N_("What the clock of this computer is.")),
    BY,
)
def clock(call: Call, said: str | None) -> Reply:
    from tickets.actions import shop
    from tickets.queries import shop_rules

    db = call.shop()
    if said:
        shop.say_of_clock(db, call.actor, said, now=call.now)
    found = shop_rules.clock_doubt(db, call.now)
    data = {"clock": call.now.isoformat(), "doubt": found.kind if found else None}
    if found is None:
        return Reply(data, [_("Clock and log agree.")])
    how = _("Set the clock; or, where it is right, type: tickets clock --is right")
    return Reply(data, findings=[shop_rules.clock_told(db, found), how])


settings = group_of("settings", N_("The shop's settings."))


@command(settings, "show", N_("Shows the settings."))
def settings_show(call: Call) -> Reply:
    from tickets.store.settings import settings as every

    found = {name: value for name, value in every(call.shop()).items() if name != "first_manager"}
    return Reply(found, table([[name, _written(value)] for name, value in found.items()]))


@command(
    settings,
    "set",
    N_("Changes a setting: shop, zone, units, language, steps (a,b,c), shift_hours, ..."),
    BY,
)
@click.argument("name")
@click.argument("value")
def settings_set(call: Call, name: str, value: str) -> Reply:
    from tickets.actions import shop
    from tickets.domain.desk.shop_settings import by_hand
    from tickets.domain.refusal import Refused
    from tickets.store.settings import setting

    if name == "address":
        raise Refused(_("Set it with: tickets address URL"), name)
    by_hand(name)
    db = call.shop(make=True)
    shop.set_up(db, call.actor, name, value, now=call.now)
    kept = setting(db, name)
    return Reply({name: kept}, [joined((name, _written(kept)))])


def _written(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)
