"""`tickets bucket`: mixed lots."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from tickets.cli import group_of
from tickets.cli.given import form_of, post_id, step_fields, the_shop, time_now, who_acts
from tickets.cli.options import AT, BY, ENTRY, FREE, JSON, MOST, command, option
from tickets.cli.output import local_time, log_data, print_json, say_log, say_table, shown_code
from tickets.words import N_
from tickets.words import gettext as _

bucket = group_of("bucket", N_("Mixed lots: emulsion, discharge and catalysed ink."))


@command(
    bucket,
    "add",
    N_("Mixes a bucket."),
    option("--kind", required=True, help=N_("Such as diazo emulsion or discharge ink.")),
    option("--product", help=N_("What it is called.")),
    option("--lot", help=N_("Its lot.")),
    option("--colour", help=N_("The colour of an ink.")),
    option("--series", help=N_("The series of an ink.")),
    option("--recipe", help=N_("What an ink is mixed from: grams of each part.")),
    option(
        "--water_resistant", "--water-resistant", help=N_("yes, no or unknown: stands water-base and discharge ink.")
    ),
    option("--good_until", "--good-until", help=N_("A date or time. [default: reckoned from its kind]")),
    AT,
    ENTRY,
    BY,
    JSON,
)
def bucket_add(folder: Path | None, as_json: bool, by: str | None, entry: str | None, **sent: Any) -> None:
    from tickets.floor import buckets as floor

    with the_shop(folder, make=True) as db:
        code = floor.mix(db, who_acts(db, by), form_of(**sent), post=post_id(entry), now=time_now())
        made = _bucket(floor.find(db, code))
        if as_json:
            print_json([made])
            return
        until = _("good until {time}").format(time=local_time(db, made["good_until"])) if made["good_until"] else ""
        click.echo("  ".join(part for part in (made["shown"], made["kind"], made["product"], until) if part))


def _bucket(found: Any) -> dict[str, Any]:
    from dataclasses import asdict

    rest = {name: value for name, value in asdict(found).items() if name not in {"id", "code"}}
    return {"code": found.code, "shown": shown_code(found.code), **rest}


@command(
    bucket,
    "list",
    N_("Lists the buckets that are not discarded."),
    option("--all", "every", is_flag=True, help=N_("All of them.")),
    JSON,
)
def bucket_list(every: bool, as_json: bool, folder: Path | None) -> None:
    from tickets.store import buckets

    with the_shop(folder) as db:
        found = buckets.every(db, limit=MOST) if every else buckets.open_ones(db, limit=MOST)
        if as_json:
            print_json([_bucket(one) for one in found])
        else:
            say_table(
                [
                    [shown_code(one.code), one.kind, one.product, one.lot, local_time(db, one.good_until)]
                    for one in found
                ],
                _("No buckets."),
            )


@command(bucket, "show", N_("Shows a bucket and its log."), JSON)
@click.argument("code")
def bucket_show(code: str, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import buckets as floor

    with the_shop(folder) as db:
        found = floor.find(db, code)
        shown = {**_bucket(found), "past": found.past(time_now()), "log": log_data(db, "bucket", found.id)}
        if as_json:
            print_json(shown)
            return
        click.echo(floor.named(found))
        if found.good_until:
            until = _("past its time since {time}") if shown["past"] else _("good until {time}")
            click.echo(until.format(time=local_time(db, found.good_until)))
        say_log(db, shown["log"])


@command(
    bucket,
    "log",
    N_("Logs a step of a bucket: use, test, discard, note."),
    AT,
    ENTRY,
    BY,
    JSON,
    context_settings=FREE,
)
@click.argument("code")
@click.argument("step")
@click.argument("fields", nargs=-1, type=click.UNPROCESSED)
def bucket_log(
    code: str,
    step: str,
    fields: tuple[str, ...],
    at: str | None,
    entry: str | None,
    by: str | None,
    as_json: bool,
    folder: Path | None,
) -> None:
    from tickets.floor import buckets as floor
    from tickets.floor.posting import form

    sent, entry = step_fields(fields, step, at, entry)
    with the_shop(folder, make=True) as db:
        found = floor.find(db, code)
        made = floor.log(db, who_acts(db, by), found, step, form(sent), post=post_id(entry), now=time_now())
    if as_json:
        print_json({"code": found.code, "entries": made})
    else:
        click.echo(_("{code}: {step} logged.").format(code=shown_code(found.code), step=step))
