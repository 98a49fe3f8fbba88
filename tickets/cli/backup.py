"""Copies and what is made of them: `tickets backup`, `nightly`, `restore`, `repair`."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tickets.cli import progress, root
from tickets.cli.given import Call, folder_of, no_shop, opened
from tickets.cli.options import named_file, option
from tickets.cli.refused import Stopped
from tickets.cli.reply import Reply, command
from tickets.i18n import N_
from tickets.i18n import gettext as _

if TYPE_CHECKING:
    from sqlite_utils import Database


@command(root, "repair", N_("Rebuilds what is worked out from the log; a new file where pages are damaged."))
def repair(call: Call) -> Reply:
    from tickets import store
    from tickets.actions import backup

    folder = folder_of(call.folder)
    if not store.exists(folder):
        raise no_shop(folder)
    with progress.shown(_("Looking it over")) as told:
        done = backup.repair(folder, now=call.now, told=told)
    anew, left = [one.what for one in done.anew], [str(one) for one in done.findings]
    lines = [_("rebuilt: {what}").format(what=line) for line in anew]
    if done.kept:
        lines.append(_("The damaged file is kept as {file}").format(file=done.kept))
    lines.append(_("sound") if not left else _("All that the log says is there. What is still wrong:"))
    kept = str(done.kept) if done.kept else None
    return Reply({"made_anew": anew, "faults": left, "kept": kept}, lines, findings=left)


@command(
    root,
    "backup",
    N_("Copies a live shop with its pictures into a zip file and checks it. Exit status 1: made, not all sound."),
    option("--force", is_flag=True, help=N_("Put it in the place of a backup that is there.")),
    option("--with-secrets", is_flag=True, help=N_("With the hashes of PINs and passwords: keep it locked away.")),
)
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
def backup(call: Call, file: Path, force: bool, with_secrets: bool) -> Reply:
    from tickets.actions import backup as copies

    named_file(file)
    with _as_it_is(call) as db, progress.shown(_("Backing up")) as told:
        made = copies.make(db, file, now=call.now, force=force, with_secrets=with_secrets, told=told)
    found = [str(one) for one in made.findings]
    lines = [str(file)]
    if not with_secrets:
        lines.append(_("PINs and passwords are not in it: after a restore each person gets a new one."))
    data = {"file": str(file), "bytes": made.bytes, "pictures": made.pictures, "faults": found}
    return Reply(data, lines, findings=_wrong_in_it(found))


def _wrong_in_it(found: list[str]) -> list[str]:
    return [_("The backup was made. What is wrong in it:"), *found] if found else []


@command(
    root,
    "nightly",
    N_("Makes the backup of the night now, as serving does by itself: tried out, and old ones removed."),
    option("--when-due", is_flag=True, help=N_("Only when one is due by the settings and was not made yet.")),
)
def nightly(call: Call, when_due: bool) -> Reply | None:
    from dataclasses import asdict

    from tickets.actions import nightly as nights

    with _as_it_is(call) as db:
        if when_due and not nights.due(db, call.now):
            return None
        made = nights.make(db, call.now)
    wrong = nights.wrong(made)
    if made.error:
        raise Stopped(wrong, beside=asdict(made))
    return Reply(asdict(made), [made.file], findings=_wrong_in_it(wrong))


@contextmanager
def _as_it_is(call: Call) -> Iterator[Database]:
    """The shop for a copy: brought up to date first, where that can be done."""
    import sqlite3

    from tickets import store
    from tickets.domain.refusal import Refused, Trouble

    folder = folder_of(call.folder)
    if not store.exists(folder):
        raise no_shop(folder)
    try:
        with opened(folder, call.now):
            pass
    except (Refused, Trouble, sqlite3.Error, OSError):
        pass  # a full disk, one that cannot be written, damaged pages: all the more it must be copied
    db = store.look(folder)
    try:
        yield db
    finally:
        db.close()


@command(
    root,
    "restore",
    N_("Makes the shop of a backup in an empty folder. Exit status 1: done, but something is missing."),
)
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
def restore(call: Call, file: Path) -> Reply:
    from tickets.actions import backup as copies

    folder = folder_of(call.folder)
    with progress.shown(_("Bringing it back")) as told:
        done = copies.restore(file, folder, now=call.now, told=told)
    anew, left = [one.what for one in done.anew], [str(one) for one in done.findings]
    return Reply(
        {"folder": str(folder), "made_anew": anew, "faults": left, "with_secrets": done.with_secrets},
        [
            _("The shop is in {folder}").format(folder=folder),
            *(_("rebuilt: {what}").format(what=line) for line in anew),
            *_next(folder, done.address, done.with_secrets),
        ],
        findings=[_("Every entry is there. What is wrong or missing:"), *left] if left else [],
    )


def _next(folder: Path, address: str, with_secrets: bool) -> Iterator[str]:
    """What to do after a restore, a line each."""
    yield _("Serve it with: tickets serve --data {folder}").format(folder=folder)
    if address:
        yield _(
            "The codes on its paper lead to {address}: give this machine that address. Or set another one with "
            "tickets address URL and reprint the tags and tickets."
        ).format(address=address)
    if with_secrets:
        yield _("PINs and passwords are the old ones.")
    else:
        yield _(
            "The restored shop has no PINs: give each person a new one, the manager first, with: tickets person "
            "secret NAME"
        )
