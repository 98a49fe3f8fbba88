"""`tickets person`: people, their roles and secrets."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from tickets.cli import group_of
from tickets.cli.given import manager_of, the_shop, time_now, who_acts
from tickets.cli.options import BY, JSON, command, option
from tickets.cli.output import print_json, say_table
from tickets.cli.refused import Stopped, as_typed
from tickets.words import N_
from tickets.words import gettext as _

person = group_of("person", N_("People and their roles."))


@command(
    person,
    "add",
    N_("Adds a person; the PIN (managers: password) is asked for."),
    option("--role", required=True, help=N_("screen room, press, press lead or manager.")),
    option("--secret-stdin", is_flag=True, help=N_("Read the PIN or password from standard input.")),
    option("--back", is_flag=True, help=N_("Somebody who left the shop is back: the same person in the log.")),
    BY,
    JSON,
)
@click.argument("name")
def person_add(
    name: str, role: str, secret_stdin: bool, back: bool, by: str | None, as_json: bool, folder: Path | None
) -> None:
    from tickets.floor import people as floor
    from tickets.store.settings import setting

    with the_shop(folder, make=True) as db:
        actor = manager_of(db, by, _("The manager adds people."))
        asks = _("Password") if role == "manager" else _("PIN")
        with as_typed({"role": "--role", "new_secret": asks, "back": "--back"}):
            floor.check_new(db, name, role, back=back)  # nobody types a secret in vain
            secret = _asked_secret(asks, secret_stdin)
            floor.add_person(db, name, role, secret, time_now(), demo=bool(setting(db, "demo")), back=back, by=actor)
    if as_json:
        print_json([{"name": name, "role": role}])
    else:
        click.echo(f"{name}  {_(role)}")


def _asked_secret(asks: str, from_stdin: bool) -> str:
    if from_stdin:
        return sys.stdin.readline().rstrip("\r\n")
    if sys.stdin is sys.__stdin__ and not (sys.stdin and sys.stdin.isatty()):
        unasked = _("There is no terminal to ask for the {secret} at: use --secret-stdin.")
        raise Stopped([unasked.format(secret=asks)])
    return str(click.prompt(asks, hide_input=True, confirmation_prompt=True))


@command(
    person,
    "secret",
    N_("Gives a person a new PIN (managers: password), at the machine itself: forgotten, or not in a restored backup."),
    option("--secret-stdin", is_flag=True, help=N_("Read the PIN or password from standard input.")),
    BY,
    JSON,
)
@click.argument("name")
def person_secret(name: str, secret_stdin: bool, by: str | None, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import people as floor
    from tickets.store.settings import setting

    with the_shop(folder) as db:
        actor, who = manager_of(db, by, _("The manager gives out PINs.")), who_acts(db, name)
        asks = _("Password") if who.role == "manager" else _("PIN")
        with as_typed({"new_secret": asks}):
            secret = _asked_secret(asks, secret_stdin)
            demo = bool(setting(db, "demo"))
            floor.change_person(db, who.id, who.role, secret or " ", time_now(), demo=demo, by=actor)
    if as_json:
        print_json({"name": who.name, "role": who.role})
    else:
        click.echo(_("{name} signs in with the new one from now on.").format(name=who.name))


@command(person, "list", N_("Lists the people."), JSON)
def person_list(as_json: bool, folder: Path | None) -> None:
    from tickets.store import people

    with the_shop(folder) as db:
        found = people.every(db)
    if as_json:
        print_json([{"name": one.name, "role": one.role} for one in found])
    else:
        say_table([[one.name, _(one.role)] for one in found], _("Nobody yet."))
