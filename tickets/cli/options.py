"""The options that many commands take."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from tickets.i18n import N_
from tickets.i18n import gettext as _

MOST = 2**31
"""The largest number that a list or a thing is asked for by."""
FEW = 50
"""How many lines of a list are shown where nobody says how many; with --json it is all of them."""

Function = TypeVar("Function", bound=Callable[..., Any])


class Whole(click.IntRange):
    """A whole number, read as everywhere: no `1_000`, nothing that is not plain digits."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number, or click's usage error with what would do."""
        if isinstance(value, str):
            from tickets.calculator.typed import whole
            from tickets.calculator.units import NotAQuantity

            try:
                value = whole(value)
            except NotAQuantity as fault:
                self.fail(str(fault), param, ctx)
        return super().convert(value, param, ctx)


class _Option(click.Option):
    def __init__(self, *names: Any, says: Callable[[], str] | None = None, **settings: Any) -> None:
        super().__init__(*names, **settings)
        self.says = says

    def get_help_record(self, ctx: click.Context) -> tuple[str, str] | None:
        said, self.help = self.help, self.says() if self.says else _(self.help or "")
        record = super().get_help_record(ctx)
        self.help = said
        return record


def option(*names: str, **settings: Any) -> Callable[[Function], Function]:
    """click.option, its help said in the reader's language. `says`: what gives the help then."""
    return click.option(*names, cls=_Option, **settings)


DATA = option(
    "--data",
    "folder",
    metavar="DIR",
    envvar="TICKETS_DATA",
    type=click.Path(path_type=Path, file_okay=False),
    help=N_("The folder of the shop. [env: TICKETS_DATA; default: the user's data folder]"),
)
JSON = option("--json", "as_json", is_flag=True, help=N_("Print JSON."))
BY = option("--by", metavar="NAME", help=N_("Who does it. [default: command line]"))
ENTRY = option("--entry", metavar="ID", help=N_("An id of your own (16 to 32 of a-z, 0-9, -): sent twice, done once."))
AT = option("--at", metavar="TIME", help=N_("When it was done, such as 2026-03-09T14:05. [default: now]"))


FREE = {"ignore_unknown_options": True, "allow_extra_args": True}
"""Settings of a command that takes `--FIELD VALUE` of whatever fields its step has (`given.collected`)."""


def named_file(file: Path) -> None:
    if not file.name:
        raise click.UsageError(_("No file name. Type the name of the file to be made."))
