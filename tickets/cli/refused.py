"""What is refused, in one place: lines on standard error, exit status 2; with --json an object on standard output."""

from __future__ import annotations

import errno
import re
import sys
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from typing import Any

import click

from tickets.cli.output import print_json, verdict_lines
from tickets.i18n import N_
from tickets.i18n import gettext as _


class Stopped(click.ClickException):
    """What is wrong, a line a fault, on standard error; exit status 2. With --json it stands on standard output too, as
    `{"refused": [{"place", "said"}]}`, whatever was refused; `beside`: what that object says more."""

    exit_code = 2
    as_json = False

    def __init__(
        self,
        lines: Iterable[str],
        refused: Iterable[tuple[str, str]] | None = None,
        beside: Mapping[str, Any] | None = None,
    ) -> None:
        lines = [" ".join(line.split()) for line in lines]
        super().__init__("\n".join(lines))
        told = refused if refused is not None else [("", line) for line in lines]
        self.data = {**(beside or {}), "refused": [{"place": place, "said": said} for place, said in told]}

    def show(self, file: Any = None) -> None:
        """The lines alone, without a usage text around them."""
        click.echo(self.message, file=file or sys.stderr)
        if self.as_json:
            with suppress(OSError):  # standard output may be what cannot be written
                print_json(self.data)


ANSWERS = {
    "in_hand": N_("If it is, add: --in_hand yes"),
    "sure": N_("To print it anyway, add: --anyway"),
    "head_taken": N_("If it is, add: --head_taken yes"),
    "override": N_("To override it, add: --override REASON"),
}
"""How a verdict that needs an answer is answered, by the field that is wanted."""

FLAGS = frozenset({"anyway"})
"""The answers that are options without a value."""


def _stopped(error: Exception) -> Stopped | None:
    """How an error is said; None: it is a defect of the program, and its traceback is wanted."""
    import sqlite3

    from tickets.domain.posted import Asks, Doubt, Worse
    from tickets.domain.refusal import Refused, SentBefore, Trouble
    from tickets.store.trouble import trouble_of

    beside: dict[str, Any] = dict(getattr(error, "beside", {}))
    before: list[str] = []
    if isinstance(error, Asks):
        told = [("in_hand", f"{one} " + _("If so, add: --in_hand yes")) for one in error.in_hand]
        told += [("still_needed", f"{one} " + _("To go on anyway, add: --still_needed yes"))
                 for one in error.still_needed]  # fmt: skip
    elif isinstance(error, Doubt) and not error.again and getattr(error, "opens", True):
        field = error.faults[0].where
        ways = [f"--{field} {answer} ({_(said)})" for answer, said in error.answers.items()]
        what_to_add = _("Add one of: {ways}").format(ways=", ".join(ways)) if ways else ""
        what_to_add = what_to_add or (
            _("If so, add: --{field}") if field in FLAGS else _("If so, add: --{field} yes")
        ).format(field=field)
        told = [(field, f"{error.question} {what_to_add}")]
    elif isinstance(error, Worse):
        fault = error.faults[0]
        before, beside = verdict_lines(error.verdict), {**beside, "verdict": error.verdict.to_dict()}
        told = [(fault.where, f"{fault.message} {_(ANSWERS[fault.where]) if fault.where in ANSWERS else ''}".strip())]
    elif isinstance(error, Refused):
        told = [(fault.where, fault.message) for fault in error.faults]
        return Stopped([str(fault) for fault in error.faults], told, beside)
    elif isinstance(error, SentBefore):
        told = [("entry", f"{error.message} " + _("To log it as well, give it an --entry of its own."))]
    elif (known := error if isinstance(error, Trouble) else trouble_of(error)) is not None:
        told = [("", known.message)]
    elif isinstance(error, sqlite3.Error):
        told = [("", _("The shop file cannot be used: {error}.").format(error=error))]
    elif isinstance(error, OSError) and error.errno != errno.EPIPE:
        where = str(error.filename or "")
        told = [(where, f"{error.strerror or error}.")]
        return Stopped([f"{where}: {told[0][1]}" if where else told[0][1]], told, beside)
    else:
        return None
    return Stopped([*before, *(said for _place, said in told)], told, beside)


@contextmanager
def beside(**told: Any) -> Iterator[None]:
    """What the JSON of a refusal says more."""
    try:
        yield
    except Exception as error:
        error.__dict__["beside"] = told
        raise


class Findings(Stopped):
    """It was done, and these are what is not sound, on standard error; exit status 1. With --json what was done stands
    on standard output, these among it."""

    exit_code = 1

    def show(self, file: Any = None) -> None:
        """The lines alone."""
        click.echo(self.message, file=file or sys.stderr)


@contextmanager
def refusals(as_json: bool) -> Iterator[None]:
    """Whatever is refused, in the one shape of `Stopped`."""
    try:
        yield
    except click.UsageError as error:
        if type(error).__name__ == "NoArgsIsHelpError":
            raise
        path = error.ctx.command_path if error.ctx else "tickets"
        said = error.format_message()
        named = re.search(r"--[a-z][a-z_-]*", said)
        stopped = Stopped([f"{said} ({path} --help)"], [(named[0] if named else "", said)])
    except click.Abort:
        stopped = Stopped([_("Stopped; nothing was written.")])
    except Stopped as error:
        stopped = error
    except click.exceptions.Exit:
        raise
    except click.ClickException:
        raise
    except Exception as error:
        known = _stopped(error)
        if known is None:
            raise
        stopped = known
    else:
        return
    stopped.as_json = as_json and not isinstance(stopped, Findings)  # what was done was printed as JSON already
    raise stopped from None


@contextmanager
def as_typed(names: Mapping[str, str]) -> Iterator[None]:
    """Faults named by the options that were typed, not by the fields behind them."""
    from tickets.domain.refusal import Fault, Refused

    try:
        yield
    except Refused as refused:
        refused.faults = tuple(Fault(names.get(fault.where, fault.where), fault.message) for fault in refused.faults)
        raise
