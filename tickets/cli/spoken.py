"""The language of a command: the terminal's until a shop is opened (`given.opened`), then the shop's.

What click itself says (`Usage:`, `Missing option`) it asks of gettext by the terminal's language, as any program; our
catalogues have those texts too, since this file names them."""

from __future__ import annotations

import gettext
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from tickets import i18n
from tickets.i18n import N_, Nn_
from tickets.i18n import gettext as _

CLICKS = (
    N_("Usage:"), N_("Options"), N_("Commands"), N_("Show this message and exit."), N_("required"),
    N_("default: {default}"), N_("Missing command."), N_("Missing argument"), N_("Missing option"),
    N_("No such option {name!r}."), N_("No such command {name!r}."), N_("Invalid value: {message}"),
    N_("Invalid value for {param_hint}: {message}"), N_("Option {name!r} does not take a value."),
    N_("{value!r} is not a valid {number_type}."), N_("{value} is not in the range {range}."),
    N_("{name} {filename!r} does not exist."), N_("{name} {filename!r} is a file."),
    N_("{name} {filename!r} is a directory."), N_("{name} {filename!r} is not readable."), N_("File"), N_("Directory"),
    N_("Path"), N_("file"), N_("directory"), N_("path"), N_("Error: {message}"),
    N_("Error: The two entered values do not match."), N_("Aborted!"),
    Nn_("Got unexpected extra argument ({args})", "Got unexpected extra arguments ({args})"),
    Nn_("Option {name!r} requires an argument.", "Option {name!r} requires {nargs} arguments."),
    Nn_("Did you mean {possibility}?", "(Did you mean one of: {possibilities}?)"),
    Nn_("{value!r} is not {choice}.", "{value!r} is not one of {choices}."),
)  # fmt: skip
"""What click says, of it what our commands can come to."""


def as_the_terminal() -> None:
    """Speaks the language of the terminal from here on: of ours and of click's texts."""
    language = i18n.of_terminal(os.environ)
    i18n.use(language)
    gettext.textdomain("messages" if language == "en" else "tickets")
    gettext.bindtextdomain("tickets", str(Path(i18n.__file__).parent / "locale"))


@contextmanager
def help_of(one: click.Command) -> Iterator[None]:
    """A command's help in the reader's language, paragraph by paragraph, for as long as it is written."""
    said = one.help
    one.help = "\n\n".join(_(part) for part in (said or "").split("\n\n"))
    try:
        yield
    finally:
        one.help = said


class Spoken(click.Command):
    """A command whose help is said in the reader's language."""

    def format_help_text(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The help itself."""
        with help_of(self):
            super().format_help_text(ctx, formatter)

    def get_short_help_str(self, limit: int = 45) -> str:
        """Its beginning, as lists of commands show it."""
        with help_of(self):
            return super().get_short_help_str(limit)

    def get_help_option(self, ctx: click.Context) -> click.Option | None:
        """The option that asks for the help; click keeps it as it was first said."""
        if (found := super().get_help_option(ctx)) is not None:
            found.help = _("Show this message and exit.")
        return found

    def collect_usage_pieces(self, ctx: click.Context) -> list[str]:
        """What stands in the line of its usage."""
        return [_(piece) for piece in super().collect_usage_pieces(ctx)]


USAGE = (N_("[OPTIONS]"), N_("COMMAND [ARGS]..."))


class Nouns(Spoken, click.Group):
    """A group of commands, a noun of the command line."""

    def command(self, *args: Any, **settings: Any) -> Any:
        """A command of the group."""
        return super().command(*args, **{"cls": Spoken, **settings})
