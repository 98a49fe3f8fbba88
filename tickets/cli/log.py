"""`tickets log`: the whole log, narrowed."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

import click

from tickets.cli import root
from tickets.cli.given import Call
from tickets.cli.options import BY, FEW, MOST, Whole, option
from tickets.cli.output import log_lines, table
from tickets.cli.reply import Reply, command
from tickets.i18n import N_, ngettext
from tickets.i18n import gettext as _

if TYPE_CHECKING:
    from sqlite_utils import Database

    from tickets.queries.log_now import LogNarrowed

DAYS = 31
"""Days that are counted at most."""


@command(
    root,
    "log",
    N_("Shows the log, the newest entry first, as it is narrowed."),
    option("--day", help=N_("Of this day, such as 2026-03-09.")),
    option("--from", "--since", "from_", metavar="DAY", help=N_("From this day on.")),
    option("--to", "--until", "to", metavar="DAY", help=N_("Until this day.")),
    option("--person", "who", metavar="NAME", help=N_("What this person logged.")),
    option("--step", help=N_("Of this step, such as washout.")),
    option("--place", help=N_("What was put there: a rack or cart by name or code.")),
    option("--press", help=N_("Of the runs on this press.")),
    option("--job", help=N_("Of this job and its runs: its code or number.")),
    option("--screen", help=N_("Of this screen: its code.")),
    option("--cause", help=N_("That name this fault or cause, such as pinholes.")),
    option("--only", type=click.Choice(("overridden", "crossed-out")), help=N_("Only such entries.")),
    option("--days", is_flag=True, help=N_("Count entries by day, up to 31 days of the span. [default: the last 7]")),
    option("--limit", type=Whole(1, MOST), help=N_("How many, at most. [default: 50; all of them with --json]")),
    BY,
)
def log(call: Call, from_: str | None, days: bool, limit: int | None, **given: Any) -> Reply:
    from tickets.domain.refusal import Refused
    from tickets.queries import as_data, log_now
    from tickets.queries.said import Reader

    db = call.shop()
    sent = {name: text for name, text in {**given, "from": from_}.items() if text}
    found, faults = log_now.narrowed(Reader.of(db, call.now), call.actor, sent)
    if faults:
        raise Refused(faults)
    if days:
        return _days(db, found, call.now)
    asked = click.get_current_context().meta["tickets.json"]
    lines = list(log_now.every(db, found.asked, limit or (None if asked else FEW + 1)))
    shown = lines if limit or asked else lines[:FEW]
    told = [*log_lines(db, as_data.log_lines(db, shown, call.now))] or [_("Nothing of this was logged.")]
    if len(shown) < len(lines):
        told.append(_("There are more: narrow it, or give --limit."))
    return Reply(lambda: as_data.log_lines(db, shown, call.now), told)


def _days(db: Database, found: LogNarrowed, now: datetime) -> Reply:
    from tickets.queries.shop_rules import day_span, zone
    from tickets.store import log as stored

    shop = zone(db)
    last = found.last or now.astimezone(shop).date()
    many = min(DAYS, (last - found.first).days + 1) if found.first else 7
    each = [last - timedelta(days=back) for back in range(many)]
    counts = stored.counted(db, found.asked, [day_span(db, day) for day in each])
    data = [
        {"day": day.isoformat(), "entries": one.entries, "more": one.more}
        for day, one in zip(each, counts, strict=True)
    ]
    rows = [[one["day"], f"{one['entries']}{'+' if one['more'] else ''}"] for one in data]
    return Reply(data, [*table(rows), ngettext("{n} day", "{n} days", len(rows)).format(n=len(rows))])
