"""`tickets bucket`: mixed lots."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

import click

from tickets.cli import group_of
from tickets.cli.given import Call, form_of, step_fields
from tickets.cli.options import AT, BY, ENTRY, FREE, MOST, option
from tickets.cli.output import joined, local_time, log_lines, shown_code, table
from tickets.cli.reply import Reply, command
from tickets.i18n import N_
from tickets.i18n import gettext as _

if TYPE_CHECKING:
    from sqlite_utils import Database

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
        "--water_resistant",
        "--water-resistant",
        help=N_("yes, no or unknown: withstands water-base and discharge ink."),
    ),
    option("--good_until", "--good-until", help=N_("A date or time. [default: worked out from its kind]")),
    AT,
    ENTRY,
    BY,
)
def bucket_add(call: Call, **sent: Any) -> Reply:
    from tickets.actions import buckets as buckets_acts
    from tickets.queries import find

    db = call.shop(make=True)
    code = buckets_acts.mix(db, call.actor, form_of(**sent, at=call.at), post=call.post, now=call.now)
    made = find.bucket(db, code).to_dict()
    until = _("good until {time}").format(time=local_time(db, made["good_until"])) if made["good_until"] else ""
    return Reply([made], [joined((made["shown"], made["kind"], made["product"], until))])


@command(
    bucket,
    "list",
    N_("Lists the buckets that are not discarded."),
    option("--all", "every", is_flag=True, help=N_("All of them.")),
)
def bucket_list(call: Call, every: bool) -> Reply:
    from tickets.store import buckets

    db = call.shop()
    found = buckets.every(db, limit=MOST) if every else buckets.open_ones(db, limit=MOST)
    rows = [[shown_code(one.code), one.kind, one.product, one.lot, local_time(db, one.good_until)] for one in found]
    return Reply([one.to_dict() for one in found], table(rows, _("No buckets.")))


@command(bucket, "show", N_("Shows a bucket and its log."))
@click.argument("code")
def bucket_show(call: Call, code: str) -> Reply:
    from tickets.queries import as_data, find

    db = call.shop()
    found = find.bucket(db, code)
    shown = as_data.bucket(db, found, call.now)
    return Reply(shown, _lines(db, find.bucket_named(found), shown))


def _lines(db: Database, name: str, shown: Mapping[str, Any]) -> Iterator[str]:
    yield name
    if shown["good_until"]:
        until = _("expired {time}") if shown["past"] else _("good until {time}")
        yield until.format(time=local_time(db, shown["good_until"]))
    yield from log_lines(db, shown["log"])


@command(
    bucket,
    "log",
    N_("Logs a step of a bucket: use, test, discard, note."),
    AT,
    ENTRY,
    BY,
    context_settings=FREE,
)
@click.argument("code")
@click.argument("step")
@click.argument("fields", nargs=-1, type=click.UNPROCESSED)
def bucket_log(call: Call, code: str, step: str, fields: tuple[str, ...]) -> Reply:
    from tickets.actions import buckets as buckets_acts
    from tickets.domain.posted import form
    from tickets.queries import find

    sent, call = step_fields(call, fields, step)
    db = call.shop(make=True)
    found = find.bucket(db, code)
    made = buckets_acts.log(db, call.actor, found, step, form(sent), post=call.post, now=call.now)
    said = _("{code}: {step} logged.").format(code=shown_code(found.code), step=step)
    return Reply({"code": found.code, "entries": made}, [said])
