"""What the daily mail says: late jobs, meshes that run short, backups, lamps, with the numbers that the desk shows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from tickets.calculator.verdict import Verdict, say
from tickets.i18n import day_text, ngettext, weekday
from tickets.i18n import gettext as _
from tickets.queries import board_words, desk_now
from tickets.queries.desk_now import DeskNow, JobWaits
from tickets.queries.said import Reader
from tickets.store.settings import setting

MOST_LINES = 10
"""Lines of a part: who has more of them late looks at the desk anyway."""


@dataclass(frozen=True, slots=True)
class MailPart:
    """What there is to say of one thing: how many in a few words, as the subject has it, and each, with the path of the
    page that shows it."""

    counted: str
    number: int
    lines: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Mail:
    """A mail as it is sent. `parts`: what is to be looked at; none: all is well."""

    subject: str
    text: str
    parts: tuple[MailPart, ...]


def of(reader: Reader, backups: Sequence[str]) -> Mail:
    """The mail of now. `backups`: what is wrong with them, a line each."""
    it = desk_now.of(reader, desk_now.DAYS)
    parts = tuple(part for part in _parts(reader, it, backups) if part.number)
    shop = str(setting(reader.db, "shop"))
    said = ", ".join(part.counted for part in parts) or _("all is well")
    return Mail(f"{shop}: {said}" if shop else said, "\n".join(_text(reader, it, parts)) + "\n", parts)


def _parts(reader: Reader, it: DeskNow, backups: Sequence[str]) -> Iterator[MailPart]:
    late = [one for one in it.jobs if one.job.late]
    told = ngettext("{n} job late", "{n} jobs late", len(late)).format(n=len(late))
    yield MailPart(told, len(late), tuple((_late(one), f"/jobs/{one.job.code}") for one in late))
    short = [one for one in it.shortages if one.short]
    told = ngettext("{n} mesh short", "{n} meshes short", len(short)).format(n=len(short))
    where = f"/desk/short?days={desk_now.DAYS}"
    lines = [(f"{one.mesh}: {board_words.short_words(reader, one)}", where) for one in short]
    yield MailPart(told, len(short), tuple(lines))
    yield MailPart(_("backups to look at"), len(backups), tuple((one, "/desk") for one in backups))
    told = ngettext("{n} lamp due", "{n} lamps due", len(it.lamps)).format(n=len(it.lamps))
    lines = [(f"{one.name}: {_said(reader, one.verdict)}", _unit(one.name)) for one in it.lamps]
    yield MailPart(told, len(it.lamps), tuple(lines))
    off = it.times_off
    told = ngettext("{n} exposure time off", "{n} exposure times off", len(off)).format(n=len(off))
    lines = [(f"{one.unit}: {_said(reader, one.verdict)}", _unit(one.unit)) for one in off]
    yield MailPart(told, len(off), tuple(lines))


def _late(one: JobWaits) -> str:
    job, images = one.job, len(one.dots)
    screens = _("{number} of {all} screens ready").format(number=job.ready, all=images)
    return " · ".join(part for part in (job.title, job.customer, one.due, screens) if part)


def _said(reader: Reader, verdict: Verdict) -> str:
    return " ".join(say(reason, reader.system).sentence for reason in verdict.reasons)


def _unit(name: str) -> str:
    return f"/exposure-units/{quote(name, safe='')}"


def _text(reader: Reader, it: DeskNow, parts: Sequence[MailPart]) -> Iterator[str]:
    """Line by line; a long one is broken by whoever reads it."""
    address = str(setting(reader.db, "address")).rstrip("/")
    today = reader.now.astimezone(reader.zone).date()
    yield f"{weekday(today)}, {day_text(today, today)}"
    for part in parts:
        yield from ("", f"{part.counted}:")
        last = ""
        for said, path in part.lines[:MOST_LINES]:
            yield f"- {said}"
            if address and path != last:
                yield f"  {address}{path}"
            last = path
        if part.number > MOST_LINES:
            yield "- " + _("and {n} more").format(n=part.number - MOST_LINES)
    if not parts:
        yield ""
        yield _("All is well: no job is late, no mesh runs short, the backups are good, no lamp is due.")
    if it.desk.more_jobs:
        yield from ("", _("There are more jobs than were looked through: only the earliest are counted."))
    yield ""
    if address:
        yield _("The desk: {address}").format(address=f"{address}/desk")
    else:
        yield _("Set the address of the shop in its settings, and each line here leads to its page.")
