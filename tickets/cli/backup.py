"""Copies and what is made of them: `tickets backup`, `nightly`, `restore`, `repair`."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tickets.cli import root
from tickets.cli.given import folder_of, no_shop, the_shop, time_now
from tickets.cli.options import JSON, command, named_file, option
from tickets.cli.output import print_json
from tickets.cli.refused import Findings, Stopped
from tickets.words import N_
from tickets.words import gettext as _

if TYPE_CHECKING:
    from sqlite_utils import Database


@command(root, "repair", N_("Makes what is worked out anew from the log; a new file where pages are damaged."), JSON)
def repair(as_json: bool, folder: Path | None) -> None:
    from tickets import store
    from tickets.floor import backup

    folder = folder_of(folder)
    if not store.exists(folder):
        raise no_shop(folder)
    done = backup.repair(folder, now=time_now())
    anew, left = [one.what for one in done.anew], [str(one) for one in done.findings]
    if as_json:
        print_json({"made_anew": anew, "faults": left, "kept": str(done.kept) if done.kept else None})
    else:
        for line in anew:
            click.echo(_("made anew: {what}").format(what=line))
        if done.kept:
            click.echo(_("The damaged file is kept as {file}").format(file=done.kept))
        click.echo(_("sound") if not left else _("All that the log says is there. What is still wrong:"))
    if left:
        raise Findings(left)


@command(
    root,
    "backup",
    N_("Copies a live shop with its pictures into a zip file and checks it. Exit status 1: made, not all sound."),
    option("--force", is_flag=True, help=N_("Put it in the place of a backup that is there.")),
    option("--with-secrets", is_flag=True, help=N_("With the hashes of PINs and passwords: keep it locked away.")),
    JSON,
)
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
def backup(file: Path, force: bool, with_secrets: bool, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import backup as copies

    named_file(file)
    with _as_it_is(folder_of(folder)) as db:
        made = copies.make(db, file, now=time_now(), force=force, with_secrets=with_secrets)
    found = [str(one) for one in made.findings]
    if as_json:
        print_json({"file": str(file), "bytes": made.bytes, "pictures": made.pictures, "faults": found})
    else:
        click.echo(str(file))
        if not with_secrets:
            click.echo(_("PINs and passwords are not in it: after a restore each person gets a new one."))
    if found:
        raise Findings([_("The backup was made. What is wrong in it:"), *found])


@command(
    root,
    "nightly",
    N_("Makes the backup of the night now, as serving does by itself: tried out, and old ones removed."),
    option("--when-due", is_flag=True, help=N_("Only when one is due by the settings and was not made yet.")),
    JSON,
)
def nightly(when_due: bool, as_json: bool, folder: Path | None) -> None:
    from dataclasses import asdict

    from tickets.floor import nightly as nights

    with _as_it_is(folder_of(folder)) as db:
        if when_due and not nights.due(db, time_now()):
            return
        made = nights.make(db, time_now())
    wrong = nights.wrong(made)
    if made.error:
        raise Stopped(wrong, beside=asdict(made))
    if as_json:
        print_json(asdict(made))
    else:
        click.echo(made.file)
    if wrong:
        raise Findings([_("The backup was made. What is wrong in it:"), *wrong])


@contextmanager
def _as_it_is(folder: Path) -> Iterator[Database]:
    """The shop for a copy: brought up to date first, where that can be done."""
    import sqlite3

    from tickets import store
    from tickets.records.refusal import Refused, Trouble

    if not store.exists(folder):
        raise no_shop(folder)
    try:
        with the_shop(folder):
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
    JSON,
)
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
def restore(file: Path, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import backup as copies

    folder = folder_of(folder)
    done = copies.restore(file, folder, now=time_now())
    anew, left = [one.what for one in done.anew], [str(one) for one in done.findings]
    if as_json:
        print_json({"folder": str(folder), "made_anew": anew, "faults": left, "with_secrets": done.with_secrets})
    else:
        click.echo(_("The shop is in {folder}").format(folder=folder))
        for line in anew:
            click.echo(_("made anew: {what}").format(what=line))
        for line in _next(folder, done.address, done.with_secrets):
            click.echo(line)
    if left:
        raise Findings([_("Every entry is there. What is wrong or missing:"), *left])


def _next(folder: Path, address: str, with_secrets: bool) -> Iterator[str]:
    """What to do after a restore, a line each."""
    yield _("Serve it with: tickets serve --data {folder}").format(folder=folder)
    if address:
        yield _(
            "The codes on its paper lead to {address}: give this machine that address, or set another one with "
            "tickets address URL and print the tickets again."
        ).format(address=address)
    if with_secrets:
        yield _("PINs and passwords are the old ones.")
    else:
        yield _("It has no PINs: give each person a new one, the manager first, with: tickets person secret NAME")
