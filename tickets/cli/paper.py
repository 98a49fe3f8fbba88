"""`tickets print`: tags and papers as PDF."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from tickets.cli import group_of
from tickets.cli.given import the_shop, time_now, who_acts
from tickets.cli.options import BY, JSON, MOST, Whole, command, named_file, option
from tickets.cli.output import print_json, say_table, shown_code
from tickets.words import N_
from tickets.words import gettext as _

paper = group_of("print", N_("Tags and tickets as PDF."))
_OUT = option("--out", required=True, type=click.Path(path_type=Path, dir_okay=False), help=N_("The PDF to write."))
_ANYWAY = option("--anyway", is_flag=True, help=N_("Print although the address would not do."))


def _write_pdf(out: Path, as_json: bool, made: Callable[[], Any]) -> None:
    """Prints into a file; that it can be written is known before the shop notes that it was printed."""
    from tickets.records.refusal import NotNow
    from tickets.store import private

    named_file(out)
    try:
        with private.whole(out, mode=0o666) as file:
            printed = made()
            file.write(printed.pdf)
    except OSError as error:
        raise NotNow(_("{out} cannot be written: {error}.").format(out=out, error=error.strerror)) from None
    if as_json:
        print_json({"out": str(out), "printed": list(printed.numbers), "warnings": list(printed.warnings)})
        return
    click.echo(str(out))
    for warning in printed.warnings:
        click.echo(warning, err=True)


@command(
    paper,
    "tags",
    N_("Tags of screens, places or buckets: one per label, or sheets to cut."),
    _OUT,
    option("--label", default="100x50mm", show_default=True, help=N_("Size of a label.")),
    option("--sheet", help=N_("A4 or Letter: several to a sheet.")),
    _ANYWAY,
    BY,
    JSON,
)
@click.argument("codes", nargs=-1, required=True)
def print_tags(
    codes: tuple[str, ...],
    out: Path,
    label: str,
    sheet: str | None,
    anyway: bool,
    by: str | None,
    as_json: bool,
    folder: Path | None,
) -> None:
    from tickets.floor import printing

    with the_shop(folder) as db:
        actor = who_acts(db, by)
        _write_pdf(
            out,
            as_json,
            lambda: printing.print_tags(db, actor, codes, label=label, sheet=sheet, anyway=anyway, now=time_now()),
        )


@command(
    paper,
    "job",
    N_("The ticket that travels with a job."),
    _OUT,
    option("--paper", "size", default="A4", show_default=True, help=N_("A4 or Letter.")),
    _ANYWAY,
    BY,
    JSON,
)
@click.argument("code")
def print_job(
    code: str, out: Path, size: str, anyway: bool, by: str | None, as_json: bool, folder: Path | None
) -> None:
    from tickets.floor import printing

    with the_shop(folder) as db:
        actor = who_acts(db, by)
        _write_pdf(out, as_json, lambda: printing.print_job(db, actor, code, paper=size, anyway=anyway, now=time_now()))


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
    option("--paper", "size", default="A4", show_default=True, help=N_("A4 or Letter.")),
    _ANYWAY,
    BY,
    JSON,
)
@click.argument("number", type=Whole(0, MOST))
def print_run(
    number: int, out: Path, what: str, garment: str, size: str, anyway: bool, by: str | None, as_json: bool,
    folder: Path | None,
) -> None:  # fmt: skip
    from tickets.floor import sheets

    with the_shop(folder) as db:
        actor = who_acts(db, by)
        if what == "set-up":
            _write_pdf(
                out, as_json, lambda: sheets.print_setup(db, actor, number, paper=size, anyway=anyway, now=time_now())
            )
            return
        customer = what == "customer"
        _write_pdf(
            out,
            as_json,
            lambda: sheets.print_comparison(
                db, actor, number, for_customer=customer, paper=size, garment=garment, anyway=anyway, now=time_now()
            ),
        )


def _print_one(kind: str, label: str, about: str) -> None:
    @command(
        paper,
        kind,
        about,
        _OUT,
        option("--label", default=label, show_default=True, help=N_("Size of the label.")),
        _ANYWAY,
        BY,
        JSON,
    )
    @click.argument("code")
    def print_one(
        code: str, out: Path, label: str, anyway: bool, by: str | None, as_json: bool, folder: Path | None
    ) -> None:
        from tickets.floor import printing

        act = printing.print_bucket if kind == "bucket" else printing.print_place
        with the_shop(folder) as db:
            actor = who_acts(db, by)
            _write_pdf(out, as_json, lambda: act(db, actor, code, label=label, anyway=anyway, now=time_now()))


_print_one("bucket", "100x75mm", N_("The label of a mixed lot, with its cautions."))
_print_one("place", "100x50mm", N_("The tag of a rack, cart, cabinet or press."))


@command(paper, "again", N_("Prints again what was printed for a code, saying the same."), _OUT, JSON)
@click.argument("code")
def print_again(code: str, out: Path, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import printing

    with the_shop(folder) as db:
        _write_pdf(out, as_json, lambda: printing.reprint(db, code))


@command(paper, "outdated", N_("Tickets with an old address, and job tickets whose job was changed."), JSON)
def print_outdated(as_json: bool, folder: Path | None) -> None:
    from tickets.floor import printing

    with the_shop(folder) as db:
        behind, jobs = printing.left_behind(db), printing.outdated_jobs(db)
    if as_json:
        print_json({"left_behind": behind, "jobs": jobs})
        return
    rows = [[shown_code(one["code"]), _(one["kind"]), one["address"]] for one in behind]
    for one in jobs:
        said = _("says version {printed}, is at {now}").format(printed=one["printed"], now=one["now"])
        rows.append([shown_code(one["code"]), _("job"), said])
    say_table(rows, _("Every printed ticket says the truth."))
