"""`tickets person`: people, their roles and secrets."""

from __future__ import annotations

import sys

import click

from tickets.cli import group_of
from tickets.cli.given import Call, who_acts
from tickets.cli.list_file import list_import
from tickets.cli.options import BY, option
from tickets.cli.output import joined, table
from tickets.cli.refused import Stopped, as_typed
from tickets.cli.reply import Reply, command
from tickets.i18n import LANGUAGES, N_
from tickets.i18n import gettext as _

person = group_of("person", N_("People and their roles."))
_STDIN = option("--secret-stdin", is_flag=True, help=N_("Read the PIN or password from standard input."))


@command(
    person,
    "add",
    N_("Adds a person; the PIN (managers: password) is asked for."),
    option("--role", required=True, help=N_("screen room, press, press lead or manager.")),
    _STDIN,
    option("--back", is_flag=True, help=N_("Somebody who left the shop is back: the same person in the log.")),
    BY,
)
@click.argument("name")
def person_add(call: Call, name: str, role: str, secret_stdin: bool, back: bool) -> Reply:
    from tickets.actions import people as people_acts
    from tickets.domain.person import role_of, role_said
    from tickets.store.settings import setting

    db = call.shop(make=True)
    giver = call.manager(_("The manager adds people."))
    role = role_of(role)
    asks = _("Password") if role == "manager" else _("PIN")
    with as_typed({"role": "--role", "new_secret": asks, "back": "--back"}):
        people_acts.check_new(db, name, role, back=back)  # nobody types a secret in vain
        secret = asked_secret(asks, secret_stdin, people_acts.secret_rule(role, people_acts.pin_digits(db)))
        people_acts.add_person(
            db,
            name,
            role,
            secret,
            call.now,
            demo=bool(setting(db, "demo")),
            back=back,
            by=giver,
            scripted=secret_stdin,
        )
    short = _short_pin(role, secret, people_acts.pin_digits(db))
    return Reply([{"name": name, "role": role}], [joined((name, role_said(role)))], short)


def _short_pin(role: str, secret: str, digits: int) -> list[str]:
    """What is said of a PIN that has fewer digits than this shop's have."""
    if role == "manager" or len(secret.strip()) >= digits:
        return []
    return [_("PINs of this shop have {digits} digits or more: a shorter one is guessed sooner.").format(digits=digits)]


def asked_secret(asks: str, from_stdin: bool, rule: str) -> str:
    if from_stdin:
        return sys.stdin.readline().rstrip("\r\n")
    if sys.stdin is sys.__stdin__ and not (sys.stdin and sys.stdin.isatty()):
        unasked = _("There is no terminal to ask for the {secret} at: use --secret-stdin.")
        raise Stopped([unasked.format(secret=asks)])
    return str(click.prompt(f"{rule}\n{asks}", hide_input=True, confirmation_prompt=_("The same once more")))


@command(
    person,
    "secret",
    N_("Gives a person a new PIN (managers: password), at the machine itself: forgotten, or not in a restored backup."),
    _STDIN,
    BY,
)
@click.argument("name")
def person_secret(call: Call, name: str, secret_stdin: bool) -> Reply:
    from tickets.actions import people as people_acts
    from tickets.store.settings import setting

    db = call.shop()
    giver, who = call.manager(_("The manager gives out PINs.")), who_acts(db, name, call.now)
    asks = _("Password") if who.role == "manager" else _("PIN")
    with as_typed({"new_secret": asks}):
        rule = people_acts.secret_rule(who.role, people_acts.pin_digits(db))
        secret = asked_secret(asks, secret_stdin, rule)
        demo = bool(setting(db, "demo"))
        people_acts.change_person(
            db, who.id, who.role, secret or " ", call.now, demo=demo, by=giver, scripted=secret_stdin
        )
    said = _("{name} signs in with the new one from now on.").format(name=who.name)
    short = _short_pin(who.role, secret, people_acts.pin_digits(db))
    return Reply({"name": who.name, "role": who.role}, [said], short)


@command(
    person,
    "change",
    N_("Changes the language and units that a person reads on pages; “none”: as phone and shop have it."),
    option("--language", help=N_("The language, by its short name.")),
    option("--units", help=N_("metric or us.")),
    BY,
)
@click.argument("name")
def person_change(call: Call, name: str, language: str | None, units: str | None) -> Reply:
    from tickets.actions import people as people_acts
    from tickets.store import people

    db = call.shop()
    who = who_acts(db, name, call.now)
    if call.actor.id != who.id:
        call.manager(_("Everybody chooses their own language and units; a manager those of others."))
    chosen = [{"none": ""}.get(one, one) if one is not None else None for one in (language, units)]
    with as_typed({"language": "--language", "units": "--units"}):
        people_acts.reads_in(db, who.id, language=chosen[0], units=chosen[1])
    now = people.find(db, who.name)
    assert now is not None
    said = [now.name, LANGUAGES.get(now.language or "", _("as the phone speaks")), now.units or _("the shop’s units")]
    return Reply({"name": now.name, "language": now.language, "units": now.units}, [joined(said)])


@command(person, "list", N_("Lists the people."))
def person_list(call: Call) -> Reply:
    from tickets.domain.person import role_said
    from tickets.store import people

    found = people.every(call.shop())
    rows = table([[one.name, role_said(one.role)] for one in found], _("Nobody yet."))
    return Reply([{"name": one.name, "role": one.role} for one in found], rows)


list_import(person, "people", N_("Brings in a list of people; each gets a PIN afterwards."))
