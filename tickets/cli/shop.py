"""The log taken along, proved and worked out again: `tickets export`, `check`, `rebuild`."""

from __future__ import annotations

from pathlib import Path

import click

from tickets.cli import progress, root
from tickets.cli.given import Call
from tickets.cli.options import option
from tickets.cli.refused import Stopped
from tickets.cli.reply import Reply, command
from tickets.i18n import N_, ngettext
from tickets.i18n import gettext as _


@command(
    root,
    "export",
    N_("Writes everything into a folder: the log as entries.csv and entries.jsonl, the other files likewise."),
    option("--out", required=True, type=click.Path(path_type=Path, file_okay=False), help=N_("The folder.")),
)
def export(call: Call, out: Path) -> Reply:
    from tickets.queries import exports

    with progress.shown(_("Writing")) as told:
        found = exports.export(call.shop(), out, told)
    said = ngettext("{number} entry in {out}", "{number} entries in {out}", found["entries"])
    return Reply({"out": str(out), **found}, [said.format(number=found["entries"], out=out)])


@command(root, "check", N_("Proves that the shop is sound; else says what is not, and what to do."))
def check(call: Call) -> Reply:
    from tickets.queries import sound

    with progress.shown(_("Checking")) as told:
        faults = sound.check(call.shop(), told)
    if faults:
        raise Stopped(faults, beside={"sound": False, "faults": faults})
    return Reply({"sound": True, "faults": []}, [_("sound")])


@command(root, "rebuild", N_("Works stages, counts and dues out of the log again."), json=False)
def rebuild(call: Call) -> Reply:
    from tickets.actions import shop

    with progress.shown(_("Working it out")) as told:
        shop.rebuild(call.shop(), told)
    return Reply(lines=[_("Worked out again.")])
