"""`tickets token`: of walls, calendars and other programs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import click

from tickets.cli import group_of
from tickets.cli.given import Call
from tickets.cli.options import BY, ENTRY, MOST, Whole, option
from tickets.cli.output import joined, table
from tickets.cli.refused import as_typed
from tickets.cli.reply import Reply, command
from tickets.i18n import N_
from tickets.i18n import gettext as _

if TYPE_CHECKING:
    from tickets.store.tokens import ReadToken

token = group_of("token", N_("Tokens for walls, calendars and other programs."))

FOR = {"wall": "wall", "calendar": "calendar", "program": "interface"}
"""What a token is for, as it is typed, and the scope that it has."""


def _as_data(one: ReadToken) -> dict[str, Any]:
    kind = next(word for word, scope in FOR.items() if scope == one.scope)
    return {
        "token": one.id, "name": one.name, "for": kind, "may": list(one.parts), "customers": one.customers,
        "made_at": one.made_at, "made_by": one.person, "withdrawn_at": one.withdrawn_at,
    }  # fmt: skip


@command(
    token,
    "add",
    N_("Makes a token, and shows it this once."),
    option("--for", "kind", default="program", show_default=True, help=N_("wall, calendar or program.")),
    option("--may", multiple=True, metavar="PART", help=N_(
        "What a program may read (screens, jobs, runs, buckets, log) and do (post-jobs, post-entries); again for more."
    )),
    option("--customers", is_flag=True, help=N_("Show customers’ names on a wall or in a calendar.")),
    ENTRY,
    BY,
)  # fmt: skip
@click.argument("name")
def token_add(call: Call, name: str, kind: str, may: tuple[str, ...], customers: bool) -> Reply:
    from tickets.actions import tokens as acts
    from tickets.domain.refusal import Refused
    from tickets.store import tokens

    db = call.shop(make=True)
    if kind not in FOR:
        raise Refused(_("One of: {kinds}.").format(kinds=", ".join(FOR)), "--for")
    with as_typed({"parts": "--may", "name": "NAME", "scope": "--for"}):
        number, secret = acts.make(
            db, call.actor, FOR[kind], name, customers, list(may), post=call.post, now=call.now
        )  # fmt: skip
    made = tokens.get(db, number)
    assert made is not None
    told = (
        _("Note it now: it is shown this once.")
        if secret
        else _("This was made already, and its address was shown then. Remove it and make another.")
    )
    return Reply({**_as_data(made), "secret": secret or None}, [secret, told] if secret else [told])


@command(token, "list", N_("Lists the tokens, the newest first."), option("--all", "every", is_flag=True,
         help=N_("Those that were removed as well.")))  # fmt: skip
def token_list(call: Call, every: bool) -> Reply:
    from tickets.actions.tokens import PARTS, SCOPES
    from tickets.store import tokens

    found = [one for one in tokens.every(call.shop()) if every or one.withdrawn_at is None]

    def lines() -> Iterator[str]:
        cells = [
            [one.id, one.name, _(SCOPES[one.scope]), joined(tuple(_(PARTS[part]) for part in one.parts), ", "),
             _("removed") if one.withdrawn_at else ""]
            for one in found
        ]  # fmt: skip
        yield from table(cells, _("None yet."))

    return Reply([_as_data(one) for one in found], lines())


@command(token, "withdraw", N_("Removes a token: it opens nothing from now on."), ENTRY, BY)
@click.argument("number", type=Whole(1, MOST))
def token_withdraw(call: Call, number: int) -> Reply:
    from tickets.actions import tokens as acts
    from tickets.store import tokens

    db = call.shop()
    acts.withdraw(db, call.actor, number, post=call.post, now=call.now)
    found = tokens.get(db, number)
    assert found is not None
    return Reply(_as_data(found), [_("{name} opens nothing any more.").format(name=found.name)])
