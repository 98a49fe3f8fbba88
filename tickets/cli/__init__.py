"""The command `tickets`: the shop from a terminal, and the server. A module for each noun of the command line.

Only click, the standard library and the texts' language are imported here; the module of a command is loaded when that
command is asked for, so that `tickets --version` and the calculator start at once. What commands print is in `output`,
what is refused in `refused`, how the shop and the person are found in `given`.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from importlib import import_module
from typing import Any

import click

from tickets.cli.options import option
from tickets.cli.refused import refusals
from tickets.cli.spoken import Nouns, as_the_terminal
from tickets.i18n import N_
from tickets.i18n import gettext as _

WHERE: Mapping[str, str] = {
    "serve": "serve",
    "demo": "serve",
    "service": "service",
    "address": "settings",
    "clock": "settings",
    "screen": "screen",
    "job": "job",
    "run": "run",
    "bucket": "bucket",
    "place": "place",
    "unit": "unit",
    "find": "find",
    "log": "log",
    "print": "paper",
    "printer": "printer",
    "person": "person",
    "token": "token",
    "settings": "settings",
    "spec": "limits",
    "export": "shop",
    "check": "shop",
    "rebuild": "shop",
    "repair": "backup",
    "backup": "backup",
    "nightly": "backup",
    "mail": "mail",
    "restore": "backup",
    "calc": "calc",
}
"""The module that makes each command, in the order in which the help names them."""


class _Root(Nouns):
    """The command itself: loads the module of a command when it is asked for, and says what is refused."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(WHERE)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name in WHERE:
            import_module(f"tickets.cli.{WHERE[cmd_name]}")
        return super().get_command(ctx, cmd_name)

    def make_context(self, *args: Any, **more: Any) -> click.Context:
        as_the_terminal()
        return super().make_context(*args, **more)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        wanted = "--json" in args
        ctx.meta["tickets.json"] = wanted
        with refusals(wanted):
            for text in args:  # what Python could not read of an argument, no file and no table of ours can hold
                if not text.isascii() and any("\ud800" <= letter <= "\udfff" for letter in text):
                    raise click.UsageError(
                        _("{text} is not a text in UTF-8: type it again.").format(text=ascii(text[:40])), ctx
                    )
            return super().parse_args(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        with refusals(bool(ctx.meta["tickets.json"])):
            return super().invoke(ctx)


def _version(ctx: click.Context, _param: click.Parameter, value: bool) -> None:
    if value and not ctx.resilient_parsing:
        from tickets import __version__

        click.echo(f"tickets {__version__}")
        ctx.exit()


@click.group(cls=_Root, help=N_("Job tickets, screen logs and the right screen at the press."))
@option("--version", is_flag=True, is_eager=True, expose_value=False, callback=_version, help=N_("The version."))
def root() -> None:
    pass


def group_of(name: str, about: str) -> click.Group:
    """A noun of the command line."""
    made = Nouns(name, help=about)
    root.add_command(made)
    return made


def main() -> None:
    """The console script."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a terminal that cannot show a letter shows its number
            stream.reconfigure(errors="backslashreplace")
    root(prog_name="tickets")
