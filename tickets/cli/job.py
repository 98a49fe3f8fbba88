"""`tickets job`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tickets.cli import group_of
from tickets.cli.given import Call, folder_of, form_of
from tickets.cli.options import BY, ENTRY, FEW, MOST, Whole, option
from tickets.cli.output import joined, shown_code, table
from tickets.cli.reply import Reply, command
from tickets.i18n import N_
from tickets.i18n import gettext as _

if TYPE_CHECKING:
    from sqlite_utils import Database

    from tickets.domain.spec import Spec


job = group_of("job", N_("Jobs: check, enter, change, list, show."))
_FILES = click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))


def _judging(call: Call) -> tuple[Database | None, str]:
    """The shop with whose limits judge, in words; None where there is no shop."""
    from tickets import store
    from tickets.store.settings import setting

    at = folder_of(call.folder)
    if not store.exists(at):
        whose = _("Judged by the limits that come with the program: there is no shop in {folder}.")
        return None, whose.format(folder=at)
    db = call.shop()
    return db, _("Judged by the limits of {shop}.").format(shop=setting(db, "shop") or at)


def _limits(call: Call) -> Spec:
    """The limits that a file is read by: of the shop, else those that come with the program."""
    from tickets import store
    from tickets.domain.spec import SHIPPED
    from tickets.queries.shop_rules import the_spec

    return the_spec(call.shop()) if store.exists(folder_of(call.folder)) else SHIPPED


@command(job, "check", N_("Reads job files and remarks on them, by the limits of the shop; saves nothing."))
@_FILES
def job_check(call: Call, files: tuple[Path, ...]) -> Reply:
    from tickets.actions.pictures import look_at
    from tickets.domain.jobs.job import read_files
    from tickets.queries import as_data

    sheets = read_files(files, _limits(call))
    look_at(files, sheets)
    db, whose = _judging(call)
    found = [
        {
            "file": str(path),
            "title": sheet.title,
            "judged_by": whose,
            "remarks": as_data.remarks_on_sheet(db, sheet, call.now),
        }
        for path, sheet in zip(files, sheets, strict=True)
    ]
    return Reply(found, _checked(found, whose))


def _checked(found: Sequence[Mapping[str, Any]], whose: str) -> Iterator[str]:
    for each in found:
        yield f"{Path(each['file']).name}: {each['title']}"
        for remark in each["remarks"]:
            yield f"  {remark['place']}: {remark['said']} ({remark['source']})"
        if not each["remarks"]:
            yield "  " + _("no remarks")
    yield whose


def _remarks(remarks: Sequence[Mapping[str, Any]], indent: str = "  ") -> list[str]:
    return [f"{indent}{remark['place']}: {remark['said']}" for remark in remarks]


@command(
    job,
    "add",
    N_("Enters jobs from files, all or none."),
    option("--twice", help=N_("yes: enter a job a second time that is here already.")),
    ENTRY,
    BY,
)
@_FILES
def job_add(call: Call, files: tuple[Path, ...], twice: str | None) -> Reply:
    from tickets.actions import jobs as jobs_acts
    from tickets.actions import pictures
    from tickets.domain.jobs.job import read_files
    from tickets.queries import as_data, find

    sheets = read_files(files, _limits(call))
    db = call.shop(make=True)
    art = pictures.beside(db, call.lead(), files, sheets, now=call.now)
    again = "yes" if form_of(twice=twice).yes("twice") else ""
    made = jobs_acts.add(db, call.actor, sheets, post=call.post, now=call.now, pictures=art, twice=again)
    found = [find.job(db, code) for code in made]

    def lines() -> Iterator[str]:
        for one in found:
            yield joined((shown_code(one.code), one.sheet.title, one.sheet.reference))
            yield from _remarks(as_data.remarks_on(db, one, call.now))

    return Reply([as_data.named_job(one) for one in found], lines())


@command(job, "change", N_("Changes a job to what a file says, until it has been printed."), ENTRY, BY)
@click.argument("code")
@click.argument("file", type=click.Path(path_type=Path))
def job_change(call: Call, code: str, file: Path) -> Reply:
    from tickets.actions import jobs as jobs_acts
    from tickets.actions import pictures
    from tickets.domain.jobs.job import read_file
    from tickets.queries import as_data, find, tickets

    sheet = read_file(file, _limits(call))
    db = call.shop(make=True)
    found = find.job(db, code)
    (art,) = pictures.beside(db, call.lead(), [file], [sheet], now=call.now)
    version = jobs_acts.change(db, call.actor, found, sheet, post=call.post, now=call.now, picture=art or None)
    stale = [one for one in tickets.outdated_jobs(db) if one["code"] == found.code]

    def lines() -> Iterator[str]:
        yield _("{code} is at version {version}.").format(code=shown_code(found.code), version=version)
        yield from _remarks(as_data.remarks_on(db, find.job(db, code), call.now))
        for one in stale:
            yield _("The printed ticket of this job says version {version}: reprint it.").format(version=one["printed"])

    return Reply({"code": found.code, "version": version, "ticket_outdated": bool(stale)}, lines())


@command(
    job,
    "plan",
    N_("Plans a job on a press and a day."),
    option("--press", default="", metavar="NAME", help=N_("The press.")),
    option("--day", default="", metavar="DAY", help=N_("The day, such as 2027-03-01. [default: its press date]")),
    option("--none", "none", is_flag=True, help=N_("It is planned no more.")),
    ENTRY,
    BY,
)
@click.argument("code")
def job_plan(call: Call, code: str, press: str, day: str, none: bool) -> Reply:
    from tickets.actions import jobs as jobs_acts
    from tickets.queries import find

    if none == bool(press or day):
        raise click.UsageError(_("Name a press, a day, or both; or --none."))
    db = call.shop(make=True)
    found = find.job(db, code)
    plan = jobs_acts.plan(db, call.lead(), found, press, day, post=call.post, now=call.now)
    said = jobs_acts.plan_said(db, plan)
    told = _("{code} is planned: {plan}.") if said else _("{code} is not planned any more.")
    data = {"code": found.code, "press": jobs_acts.plan_said(db, plan._replace(day="")), "day": plan.day}
    return Reply(data, [told.format(code=shown_code(found.code), plan=said)])


def _closed(call: Call, code: str, closed: bool) -> Reply:
    """Closes a job, or opens it again."""
    from tickets.actions import jobs as jobs_acts
    from tickets.queries import find

    db = call.shop(make=True)
    found = find.job(db, code)
    jobs_acts.close(db, call.lead(), found, closed, post=call.post, now=call.now)
    told = _("{code} is closed.") if closed else _("{code} is open again.")
    data = {"code": found.code, "closed_at": find.job(db, code).closed_at}
    return Reply(data, [told.format(code=shown_code(found.code))])


@command(job, "close", N_("Closes a job, which takes it off the boards."), ENTRY, BY)
@click.argument("code")
def job_close(call: Call, code: str) -> Reply:
    return _closed(call, code, True)


@command(job, "reopen", N_("Opens a closed job again."), ENTRY, BY)
@click.argument("code")
def job_reopen(call: Call, code: str) -> Reply:
    return _closed(call, code, False)


@command(
    job,
    "list",
    N_("Lists the open jobs by press date."),
    option("--week", is_flag=True, help=N_("Those of this week by day and press, and whether they can still be made.")),
    option("--closed", is_flag=True, help=N_("The closed ones instead, newest first.")),
    option("--limit", type=Whole(1, MOST), help=N_("How many. [default: 50; with --json all]")),
)
def job_list(call: Call, week: bool, closed: bool, limit: int | None) -> Reply:
    from tickets.queries import as_data
    from tickets.store import jobs

    if week and (closed or limit):
        raise click.UsageError(_("--week takes neither --closed nor --limit."))
    db = call.shop()
    if week:
        return _week(db, call)

    def lines() -> Iterator[str]:
        rows = jobs.listed(db, None, limit or FEW, closed)
        cells = [[shown_code(row.code), row.due, row.title, row.customer, row.reference] for row in rows]
        yield from table(cells, _("No jobs."))

    return Reply(lambda: [as_data.job_row(row) for row in jobs.listed(db, None, limit or MOST, closed)], lines())


def _week(db: Database, call: Call) -> Reply:
    """The week in lines: a day, then its jobs by press."""
    from tickets.queries import week, week_said
    from tickets.queries.said import Reader

    reader = Reader.of(db, call.now)
    found = week.of(reader)

    def lines() -> Iterator[str]:
        for day in found.days:
            screens = _("screens: {ready} of {all}").format(ready=day.ready, all=day.needed)
            yield joined((" ".join(day.words).strip(), screens, week_said.day_said(reader, day)), " · ")
            for press, some in day.presses:
                for one in some:
                    about = (
                        press or _("no press yet"),
                        shown_code(one.ahead.code),
                        one.ahead.title,
                        one.ahead.customer,
                    )
                    late = (f"! {one.due}",) if one.late else ()
                    yield "  " + joined((*late, *about, f"{one.ahead.ready}/{one.needed}"), " · ")
        yield from week_said.pace_said(found.pace)

    return Reply(lambda: week_said.as_data(reader, found), lines())


@command(
    job,
    "show",
    N_("Shows a job: its print order, the numbers of its images, the screens that carry them."),
    option("--toml", is_flag=True, help=N_("Print its job file.")),
)
@click.argument("code")
def job_show(call: Call, code: str, toml: bool) -> Reply:
    from tickets.domain.jobs.job import to_toml
    from tickets.queries import as_data, find

    db = call.shop()
    found = find.job(db, code)
    if toml:
        return Reply(lines=[to_toml(found.sheet).removesuffix("\n")])
    shown = as_data.job(db, found, call.now)
    return Reply(shown, _lines(shown))


@command(
    job,
    "versions",
    N_("Shows what changed between two versions of a job: the last two, or those that are named."),
    option("--one", type=Whole(1, MOST), help=N_("The earlier one.")),
    option("--other", type=Whole(1, MOST), help=N_("The later one.")),
)
@click.argument("code")
def job_versions(call: Call, code: str, one: int | None, other: int | None) -> Reply:
    from tickets.domain.jobs import versions
    from tickets.queries import find
    from tickets.store import jobs
    from web.job_form import changed_words

    db = call.shop()
    found = find.job(db, code)
    other = other or found.version
    first, second = sorted((one or max(1, other - 1), other))
    both = [jobs.get(db, found.id, number) for number in (first, second)]
    if None in both:
        raise click.UsageError(
            _("Job {code} has versions 1 to {n}.").format(code=shown_code(found.code), n=found.version)
        )
    was, now = (one.sheet.to_dict() for one in both if one is not None)
    changes = [
        {"where": where, "field": field, "was": change.was, "now": change.now}
        for change in versions.changes(was, now)
        for where, field in (changed_words(change),)
    ]
    data = {
        "job": found.code,
        "one": first,
        "other": second,
        "versions": jobs.versions(db, found.id),
        "changes": changes,
    }
    told = _("{what}: {was}, then {now}")
    lines = [
        told.format(what=joined((one["where"], one["field"]), " · "), was=one["was"] or "–", now=one["now"] or "–")
        for one in changes
    ]
    return Reply(data, lines or [_("Nothing on the sheet.")])


def _lines(shown: Mapping[str, Any]) -> Iterator[str]:
    """A job in lines: its placements in print order, what will differ from the order before it, the remarks."""
    yield joined((shown["shown"], shown["title"], shown["customer"], shown.get("reference")), " · ")
    yield _("press date {date}, version {version}").format(date=shown["due"], version=shown["version"])
    for placement in shown["placements"]:
        yield f"{placement['placement']} {placement['name']}"
        for station in placement["stations"]:
            yield f"  {station['station']} {_station(station)}"
            yield from (f"    {way}" for way in station["on_garments"])
    for one in shown["will_differ"]:
        for differs in one["differences"]:
            if differs["level"] != "ok" or "within" in differs:
                yield f"{one['placement']}: {differs['said']}"
    yield from _remarks(shown["remarks"], indent="")


def _station(station: Mapping[str, Any]) -> str:
    """A line of the print order as text."""
    if station["does"] != "print":
        return f"{_(station['does'])} {station.get('time', '')}".rstrip()
    carried = "; ".join(f"{shown_code(one['code'])} {one['stage']}" for one in station["screens"])
    carried = carried or _("no screen yet")
    text = _("image {number}: {name}").format(number=station["separation"], name=station["name"])
    return f"{text} · {station['mesh_wanted']} · {station['ink']} · {carried}"


@command(
    job,
    "cost",
    N_("Says what a job cost, or all jobs whose runs were finished in a month: time at the press, screens, misprints."),
    option("--month", help=N_("Such as 2026-11. [default: this month; with a job: all of its runs]")),
)
@click.argument("code", required=False)
def job_cost(call: Call, code: str | None, month: str | None) -> Reply:
    from tickets.domain.refusal import Refused
    from tickets.queries import cost, find

    if code and month:
        raise Refused(_("Either a job, whose runs are all counted, or a month."), "month")
    db = call.shop()
    view = cost.of_job(db, find.job(db, code).id) if code else cost.of_month(db, call.now, month or "")
    shown = cost.as_data(view)

    def lines() -> Iterator[str]:
        rows = [[shown_code(one["job"]), one["title"], *_cost_cells(one)] for one in shown["jobs"]]
        heads = [_("job"), "", *_cost_heads(shown["all"])]
        yield from table([heads, *rows] if rows else [], _("No run was finished."))
        for name, words in (("remakes", _("made again")), ("misprints", _("misprinted")), ("stops", _("stopped"))):
            yield from (f"{words}: {one['cause']}, {one['times']}" for one in shown[name])

    return Reply(shown, lines())


COST = {
    "good": N_("good pieces"),
    "misprinted": N_("misprints"),
    "set_up_min": N_("set-up min"),
    "printing_min": N_("printing min"),
    "stop_min": N_("stops min"),
    "pieces_an_hour": N_("pieces/h"),
    "screens_made": N_("screens made"),
    "screens_made_again": N_("again"),
    "cost": N_("cost"),
    "lost": N_("of it lost"),
}


def _cost_heads(shown: Mapping[str, Any]) -> list[str]:
    return [_(words) for name, words in COST.items() if name in shown]


def _cost_cells(shown: Mapping[str, Any]) -> list[str]:
    return ["–" if shown[name] is None else f"{shown[name]:g}" for name in COST if name in shown]
