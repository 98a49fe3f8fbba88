"""The log taken along, proved and worked out anew: `tickets export`, `check`, `rebuild`."""

from __future__ import annotations

from pathlib import Path

import click

from tickets.cli import root
from tickets.cli.given import the_shop
from tickets.cli.options import JSON, command, option
from tickets.cli.output import print_json
from tickets.cli.refused import Stopped
from tickets.words import N_, ngettext
from tickets.words import gettext as _


@command(
    root,
    "export",
    N_("Writes everything into a folder: the log as entries.csv and entries.jsonl, the other files likewise."),
    option("--out", required=True, type=click.Path(path_type=Path, file_okay=False), help=N_("The folder.")),
    JSON,
)
def export(out: Path, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import exports

    with the_shop(folder) as db:
        found = exports.export(db, out)
    if as_json:
        print_json({"out": str(out), **found})
    else:
        said = ngettext("{number} entry in {out}", "{number} entries in {out}", found["entries"])
        click.echo(said.format(number=found["entries"], out=out))


@command(root, "check", N_("Proves that the shop is sound; else says what is not, and what to do."), JSON)
def check(as_json: bool, folder: Path | None) -> None:
    from tickets.floor import shop

    with the_shop(folder) as db:
        faults = shop.check(db)
    if faults:
        raise Stopped(faults, beside={"sound": False, "faults": faults})
    if as_json:
        print_json({"sound": True, "faults": []})
    else:
        click.echo(_("sound"))


@command(root, "rebuild", N_("Works standings, counts and dues out of the log anew."))
def rebuild(folder: Path | None) -> None:
    from tickets.floor import shop

    with the_shop(folder) as db:
        shop.rebuild(db)
    click.echo(_("Worked out anew."))
