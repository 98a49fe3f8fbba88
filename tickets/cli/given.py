"""What was typed, read in one place for all commands: the shop, who acts, the post, a screen, the fields of a step."""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tickets.cli.output import UNITS, shown_code
from tickets.i18n import gettext as _

if TYPE_CHECKING:
    from sqlite_utils import Database

    from tickets.domain.person import Actor
    from tickets.domain.posted import Form
    from tickets.store.screens import Screen


SHOP_FOLDER, DEMO_FOLDER = "tickets", "tickets-demo"

_ID = "abcdefghijklmnopqrstuvwxyz0123456789"


def clock() -> datetime:
    """What the time is; a test puts its own here."""
    return datetime.now(UTC)


@dataclass
class Call:
    """One call of a command, as it was typed: the folder of the shop, who acts, the id of the post, when it was done.
    The shop is opened by `shop`, and stays open until the command has answered."""

    folder: Path | None
    by: str | None = None
    entry: str | None = None
    at: str | None = None

    @cached_property
    def now(self) -> datetime:
        """The time of the command."""
        return clock()

    @cached_property
    def post(self) -> str:
        """The id that was given, or a new one."""
        return self.entry or "".join(secrets.choice(_ID) for _unused in range(24))

    def shop(self, *, make: bool = False) -> Database:
        """The shop. `make`: an empty folder gets one; else it is refused."""
        self._db = click.get_current_context().with_resource(opened(self.folder, self.now, make=make))
        return self._db

    @cached_property
    def actor(self) -> Actor:
        """Who acts: somebody of the shop, or the built-in person."""
        return who_acts(self._db, self.by, self.now)

    def manager(self, text: str) -> Actor:
        """Who acts, if that is a manager; else refused with `text`."""
        from tickets.domain.refusal import NotAllowed

        if not self.actor.manages:
            raise NotAllowed(text)
        return self.actor

    def lead(self) -> Actor:
        """Who acts on a job, if that is a press lead or a manager, as on the pages; else refused."""
        from tickets.domain.refusal import NotAllowed

        if not self.actor.leads:
            raise NotAllowed(_("A press lead or a manager enters, changes and closes jobs."))
        return self.actor


def folder_of(folder: Path | None, name: str = SHOP_FOLDER) -> Path:
    """The folder that was named, else the user's own."""
    if folder is not None:
        return folder
    from platformdirs import user_data_path

    return user_data_path(name, appauthor=False)


@contextmanager
def opened(folder: Path | None, now: datetime, *, make: bool = False) -> Iterator[Database]:
    """The shop of a folder, spoken in its language and units. `make`: an empty folder gets one; else it is refused."""
    from tickets import i18n as words
    from tickets import store
    from tickets.actions import posting
    from tickets.actions.shop import open_shop
    from tickets.queries import shop_rules
    from tickets.store.settings import setting

    folder = folder_of(folder)
    if not make and not store.exists(folder):
        raise no_shop(folder)
    db = open_shop(folder, now)
    try:
        words.use(setting(db, "language"))
        click.get_current_context().meta[UNITS] = setting(db, "units")
        with posting.by_clock(db, shop_rules.clock_doubt(db, now)):
            yield db
    finally:
        db.close()


def no_shop(folder: Path) -> Exception:
    """The refusal of a folder without a shop."""
    from tickets.domain.refusal import NotNow

    return NotNow(
        _(
            "There is no shop in {folder}: give the shop’s folder with --data, or make one with: tickets serve --data "
            "{folder}"
        ).format(folder=folder)
    )


def who_acts(db: Database, by: str | None, now: datetime) -> Actor:
    """Somebody of the shop by name; None: the built-in person."""
    from tickets.actions import shop
    from tickets.domain.person import BUILT_IN, Actor
    from tickets.domain.refusal import NotFound
    from tickets.store import people

    if by is None or people.name_key(by) == people.COMMAND_LINE:
        return shop.command_line(db, now)
    person = people.find(db, by)
    if person is None or person.left_at is not None or person.role == BUILT_IN:
        names = ", ".join(one.name for one in people.every(db)) or _("nobody yet")
        raise NotFound(_("There is no “{name}” here; there are: {names}.").format(name=by[:60], names=names), "--by")
    return Actor(person.id, person.name, person.role, "command line")


def form_of(**sent: Any) -> Form:
    """The fields that were typed, as a page posts them."""
    from tickets.domain.posted import form

    return form({name: value for name, value in sent.items() if value not in (None, "", ())})


def screen_of(db: Database, text: str) -> Screen:
    """The screen of a code or of a painted mark; a fault names the codes one slip away."""
    from tickets.domain.refusal import Fault, Refused
    from tickets.queries import find
    from tickets.store import screens

    try:
        return find.screen(db, text)
    except Refused as refused:
        marked = screens.many(db, screens.by_mark(db, text))
        if len(marked) == 1:
            return marked[0]
        if marked:
            there = ", ".join(shown_code(one.code) for one in marked)
            message = _("Several screens have the mark {text}: {codes}. Give the code of one.")
            raise Refused(message.format(text=text[:40], codes=there), "code") from None
        there = ", ".join(shown_code(code) for code in _near(db, text, "screen"))
        if there:
            hint = _("Is it {codes}?").format(codes=there)
            refused.faults = tuple(Fault(fault.where, f"{fault.message} {hint}") for fault in refused.faults)
        raise


def _near(db: Database, text: str, kind: str) -> list[str]:
    """Issued codes one slip away from what was typed, 6 at most."""
    from tickets.domain.code import fold, near
    from tickets.store import codes

    return [str(one.current) for one in codes.issued_among(db, near(fold(text))) if one.kind == kind][:6]


def step_fields(call: Call, arguments: Sequence[str], step: str) -> tuple[dict[str, Any], Call]:
    """The fields of a step as they were typed, with its time, and the call. When crossing out, --entry names the wrong
    entry, not the post."""
    sent: dict[str, Any] = collected(arguments)
    if step == "cross-out" and "crosses" not in sent:
        sent["crosses"], call = call.entry, replace(call, entry=None)
    if call.at:
        sent["at"] = call.at
    return sent, call


def collected(arguments: Sequence[str]) -> dict[str, list[str]]:
    """`--FIELD VALUE ...` by hand: a field may repeat, or take several values in a row; `-` in a name is `_`."""
    found: dict[str, list[str]] = {}
    name = ""
    for text in arguments:
        if text.startswith("--") and len(text) > 2:
            field, equals, value = text[2:].partition("=")
            stem, dot, rest = field.partition(".")
            setting = re.fullmatch("s[0-9]+|run", stem) is not None  # elsewhere a code may follow the dot
            name = stem.replace("-", "_") + dot + (rest.replace("-", "_") if setting else rest)
            found.setdefault(name, [])
            if equals:
                found[name].append(value)
        elif name:
            found[name].append(text)
        else:
            raise click.UsageError(
                _("“{text}” has no option before it: values are typed as --FIELD VALUE.").format(text=text)
            )
    for field, values in found.items():
        if not values:
            raise click.UsageError(_("--{field} needs a value.").format(field=field))
    return found
