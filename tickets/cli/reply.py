"""How a command replies: `command` makes one of a function that gives a `Reply`, and prints it, as lines or as JSON.
What is refused is raised, and said by `refused`."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from tickets.cli.given import Call
from tickets.cli.options import DATA, JSON
from tickets.cli.output import print_json
from tickets.cli.refused import Findings
from tickets.cli.spoken import Spoken

NO_DATA = object()


@dataclass(frozen=True, slots=True)
class Reply:
    """What a command found or did: `data` is what --json prints, or a function that gathers it then (NO_DATA: the lines
    are all there is), `lines` what people read, `warnings` what is said beside them on standard error.

    `findings`: it was done, but these are not sound (exit status 1). `refused`: what the lines show is refused for this
    (exit status 2), and `data` stands beside it.
    """

    data: Any = NO_DATA
    lines: Iterable[str] = ()
    warnings: Sequence[str] = ()
    findings: Sequence[str] = ()
    refused: Exception | None = None

    def show(self, as_json: bool) -> None:
        """Prints it; raises what sets another exit status than 0."""
        if self.data is NO_DATA or not as_json:
            for line in list(self.lines):
                click.echo(line)
            for line in self.warnings:
                click.echo(line, err=True)
        elif self.refused is None:
            print_json(self.data() if callable(self.data) else self.data)
        if self.refused is not None:
            self.refused.__dict__["beside"] = {} if self.data is NO_DATA else self.data
            raise self.refused
        if self.findings:
            raise Findings(self.findings)


def command(
    group: click.Group,
    name: str,
    about: str,
    *options: Callable[[Any], Any],
    json: bool = True,
    data: Callable[[Any], Any] = DATA,
    cls: type[Spoken] = Spoken,
    **settings: Any,
) -> Callable[[Callable[..., Reply | None]], click.Command]:
    """A command of a group, with the options given, --json and --data, in that order. Its function takes the `Call` and
    the values of its own options, and gives the reply; None: there is nothing to say. `json=False`: it has no data;
    `data`: the option --data, where it is not the shop that is read or written."""

    def make(function: Callable[..., Reply | None]) -> click.Command:
        def called(
            folder: Path | None,
            as_json: bool = False,
            by: str | None = None,
            entry: str | None = None,
            at: str | None = None,
            **own: Any,
        ) -> None:
            reply = function(Call(folder, by, entry, at), **own)
            if reply is not None:
                reply.show(as_json)

        called.__dict__.update(function.__dict__)  # the arguments that stand above the function
        made: Any = called
        for each in reversed([*options, *((JSON,) if json else ()), data]):
            made = each(made)
        return group.command(name, cls=cls, help=about, **settings)(made)

    return make
