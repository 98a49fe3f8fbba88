"""`tickets print`: tags and papers as PDF."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from tickets.cli import group_of, progress
from tickets.cli.given import Call
from tickets.cli.options import BY, MOST, Whole, named_file, option
from tickets.cli.output import shown_code, table
from tickets.cli.reply import Reply, command
from tickets.i18n import N_
from tickets.i18n import gettext as _

paper = group_of("print", N_("Tags and tickets as PDF."))
_OUT = option("--out", required=True, type=click.Path(path_type=Path, dir_okay=False), help=N_("The PDF to write."))
_ANYWAY = option("--anyway", is_flag=True, help=N_("Print even if the address will not work or a bucket is discarded."))
_PAPER = option("--paper", "size", default="A4", show_default=True, help=N_("A4 or Letter."))


def _written(out: Path, made: Callable[[], Any]) -> Reply:
    """What was printed, in a file; that it can be written is known before the shop notes that it was printed."""
    from tickets.domain.refusal import NotNow
    from tickets.store import private

    named_file(out)
    try:
        with private.whole(out, mode=0o666) as file:
            printed = made()
            file.write(printed.pdf)
    except OSError as error:
        raise NotNow(_("{out} cannot be written: {error}.").format(out=out, error=error.strerror)) from None
    warnings = list(printed.warnings)
    return Reply({"out": str(out), "printed": list(printed.numbers), "warnings": warnings}, [str(out)], warnings)


@command(
    paper,
    "tags",
    N_("Tags of screens, places or buckets: one per label, or sheets to cut."),
    _OUT,
    option("--label", default="100x50mm", show_default=True, help=N_("Size of a label.")),
    option("--sheet", help=N_("A4 or Letter: several to a sheet.")),
    option("--all", "everything", is_flag=True, help=N_("All screens, places and buckets in use.")),
    option("--outdated", is_flag=True, help=N_("Only those whose last tag has an old address.")),
    option("--rack", default="", metavar="PLACE", help=N_("Only the screens at a place, by its name or code.")),
    option("--mesh", default="", metavar="COUNT", help=N_("Only the screens of a mesh, such as 230/in.")),
    option("--import", "of_list", type=Whole(1, MOST), metavar="N", help=N_("All that the list N made.")),
    option(
        "--mark", "marks", multiple=True, help=N_("Screens by painted mark, such as 12, or 12-20; also several times.")
    ),
    option("--grid", default="", help=N_("On sheets of labels: how many across and down, such as 3x8.")),
    option("--edges", default="", help=N_("Where the first label begins, from the left and the top: 7x15mm.")),
    option("--gaps", default="", help=N_("What is between two labels, across and down: 2.5x0mm.")),
    option("--used", default=0, type=Whole(0, MOST), help=N_("Labels at the top of the sheet that are gone.")),
    _ANYWAY,
    BY,
)
@click.argument("codes", nargs=-1)
def print_tags(
    call: Call, codes: tuple[str, ...], marks: tuple[str, ...], out: Path, **how: Any
) -> Reply:
    from tickets.actions import printing

    db, actor = call.shop(), call.actor
    codes = _tags(call, codes, marks, {name: how.pop(name) for name in CHOSEN_BY})
    how["ask"] = _asked(how["anyway"])
    with progress.shown(_("Printing on paper")) as told:
        return _written(out, lambda: printing.print_tags(db, actor, codes, **how, now=call.now, told=told))


CHOSEN_BY = ("everything", "outdated", "rack", "mesh", "of_list")


def _tags(call: Call, codes: tuple[str, ...], marks: tuple[str, ...], by: dict[str, Any]) -> tuple[str, ...]:
    """The codes of all tags that were asked for: those that were named, with those that were chosen (`CHOSEN_BY`)."""
    from tickets.actions import lists as acts
    from tickets.domain.refusal import Refused
    from tickets.queries import find, tags_wanted

    db, of_list = call.shop(), by.pop("of_list")
    asked = tags_wanted.TagsWanted(of_list=acts.of(db, of_list).id if of_list is not None else 0, **by)
    chosen = tags_wanted.codes_of(db, asked) if asked.any else []
    every = dict.fromkeys([*codes, *(code for mark in marks for code in find.marked(db, mark)), *chosen])
    if not every and asked.any:
        raise Refused(tags_wanted.none_said(asked))
    if not every:
        raise click.UsageError(
            _("Name the codes, painted marks with --mark, or choose: --all, --outdated, --rack, --mesh, --import N.")
        )
    return tuple(every)


def _asked(anyway: bool) -> tuple[str, ...]:
    """What a command refuses until it is told to go on; of letters it warns."""
    from tickets.actions import printing

    return () if anyway else (printing.DISCARDED,)


@command(paper, "job", N_("The tickets that travel with jobs, several as one PDF."), _OUT, _PAPER, _ANYWAY, BY)
@click.argument("codes", nargs=-1, required=True)
def print_job(call: Call, codes: tuple[str, ...], out: Path, size: str, anyway: bool) -> Reply:
    from tickets.actions import printing

    db, actor = call.shop(), call.actor
    return _written(out, lambda: printing.print_jobs(db, actor, codes, paper=size, anyway=anyway, now=call.now))


@command(
    paper,
    "run",
    N_("The papers of a run: its set-up sheet, or how it compares with the print before it."),
    _OUT,
    option(
        "--what",
        default="set-up",
        show_default=True,
        type=click.Choice(["set-up", "comparison", "customer"]),
        help=N_("The sheet, the comparison, or the customer's sheet (of a first order too)."),
    ),
    option("--garment", default="", help=N_("The garment of a comparison, by its number on the job sheet.")),
    _PAPER,
    _ANYWAY,
    BY,
)
@click.argument("number", type=Whole(0, MOST))
def print_run(call: Call, number: int, out: Path, what: str, garment: str, size: str, anyway: bool) -> Reply:
    from tickets.actions import run_papers

    db, actor = call.shop(), call.actor

    def made() -> Any:
        how: dict[str, Any] = {"paper": size, "anyway": anyway, "now": call.now}
        if what == "set-up":
            return run_papers.print_setup(db, actor, number, **how)
        return run_papers.print_comparison(db, actor, number, for_customer=what == "customer", garment=garment, **how)

    return _written(out, made)


def _print_one(kind: str, label: str, about: str) -> None:
    @command(
        paper,
        kind,
        about,
        _OUT,
        option("--label", default=label, show_default=True, help=N_("Size of the label.")),
        _ANYWAY,
        BY,
    )
    @click.argument("code")
    def print_one(call: Call, code: str, out: Path, label: str, anyway: bool) -> Reply:
        from tickets.actions import printing

        act = printing.print_bucket if kind == "bucket" else printing.print_place
        db, actor = call.shop(), call.actor
        how: dict[str, Any] = {"label": label, "anyway": anyway, "ask": _asked(anyway)}
        return _written(out, lambda: act(db, actor, code, **how, now=call.now))


_print_one("bucket", "100x75mm", N_("The tag of a bucket, with its cautions."))
_print_one("place", "100x50mm", N_("The tag of a rack, cart, cabinet or press."))


@command(paper, "again", N_("Reprints what was printed for a code, with the address of today."), _OUT, _ANYWAY, BY)
@click.argument("code")
def print_again(call: Call, code: str, out: Path, anyway: bool) -> Reply:
    from tickets.actions import printing, run_papers

    db, actor = call.shop(), call.actor
    return _written(
        out, lambda: printing.keep_drawn(db, actor, run_papers.draw_again(db, code, anyway=anyway), call.now)
    )


@command(paper, "outdated", N_("Tags and tickets with an old address, and tickets whose job was changed."))
def print_outdated(call: Call) -> Reply:
    from tickets.queries import tickets

    db = call.shop()
    behind, jobs = tickets.left_behind(db), tickets.outdated_jobs(db)
    rows = [[shown_code(one["code"]), _(one["kind"]), one["address"]] for one in behind]
    for one in jobs:
        said = _("says version {printed}, is at {now}").format(printed=one["printed"], now=one["now"])
        rows.append([shown_code(one["code"]), _("job"), said])
    return Reply({"left_behind": behind, "jobs": jobs}, table(rows, _("All printed tags and tickets are up to date.")))
