"""`tickets job`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tickets.cli import group_of
from tickets.cli.given import folder_of, form_of, post_id, the_shop, time_now, who_acts
from tickets.cli.options import BY, ENTRY, JSON, MOST, Whole, command, option
from tickets.cli.output import print_json, say_table, shown_code, units_of
from tickets.words import N_
from tickets.words import gettext as _

if TYPE_CHECKING:
    from sqlite_utils import Database


job = group_of("job", N_("Jobs: check, enter, change, list, show."))
_FILES = click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))


def _remarks_on(db: Database, job: Any) -> list[dict[str, Any]]:
    """The remarks on a job of the shop, as its page and its ticket have them."""
    from tickets.floor import target

    return _remarks(target.remarked(db, job, time_now()), units_of(db))


def _remarks(remarked: Iterable[Any], system: str = "metric") -> list[dict[str, Any]]:
    from tickets.calculator.verdict import say

    found = []
    for remark in remarked:
        said = say(remark.reason, system)
        found.append(
            {
                "place": remark.place,
                "key": remark.reason.key,
                "level": str(remark.reason.level),
                "sentence": said.sentence,
                "advice": said.advice,
                "source": remark.source,
                "said": " ".join(part for part in (f"{said.word}:", said.sentence, said.advice) if part),
            }
        )
    return found


@contextmanager
def _judging(folder: Path | None) -> Iterator[tuple[Database | None, str]]:
    """The shop of a folder with whose limits judge, in words; None where there is no shop."""
    from tickets import store
    from tickets.store.settings import setting

    at = folder_of(folder)
    if not store.exists(at):
        whose = _("Judged by the limits that come with the program: there is no shop in {folder}.")
        yield None, whose.format(folder=at)
        return
    with the_shop(folder) as db:
        yield db, _("Judged by the limits of {shop}.").format(shop=setting(db, "shop") or at)


@command(job, "check", N_("Reads job files and remarks on them, by the limits of the shop; saves nothing."), JSON)
@_FILES
def job_check(files: tuple[Path, ...], as_json: bool, folder: Path | None) -> None:
    from tickets.floor import target
    from tickets.records.job import read_files

    sheets = read_files(files)
    _look_at_pictures(files, sheets)
    with _judging(folder) as (db, whose):
        system = units_of(db) if db else "metric"
        found: list[dict[str, Any]] = [
            {
                "file": str(path),
                "title": sheet.title,
                "judged_by": whose,
                "remarks": _remarks(target.remarked_sheet(db, sheet, time_now()), system),
            }
            for path, sheet in zip(files, sheets, strict=True)
        ]
    if as_json:
        print_json(found)
        return
    for each in found:
        click.echo(f"{Path(each['file']).name}: {each['title']}")
        for remark in each["remarks"]:
            click.echo(f"  {remark['place']}: {remark['said']} ({remark['source']})")
        if not each["remarks"]:
            click.echo("  " + _("no remarks"))
    click.echo(whose)


def _look_at_pictures(files: Sequence[Path], sheets: Sequence[Any]) -> None:
    """Raises Refused, with the faults of all, for the pictures that `job add` would refuse."""
    from tickets.floor.pictures import make
    from tickets.records.job import LARGEST_PICTURE
    from tickets.records.refusal import Fault, Refused

    faults: list[Fault] = []
    for file, sheet in zip(files, sheets, strict=True):
        if sheet.art.picture:
            try:
                make((file.parent / sheet.art.picture).read_bytes(), f"{file.name}: art.picture", LARGEST_PICTURE)
            except Refused as refused:
                faults += refused.faults
    if faults:
        raise Refused(faults)


@command(
    job,
    "add",
    N_("Enters jobs from files, all or none."),
    option("--twice", help=N_("yes: enter a job a second time that is here already.")),
    ENTRY,
    BY,
    JSON,
)
@_FILES
def job_add(
    files: tuple[Path, ...],
    twice: str | None,
    entry: str | None,
    by: str | None,
    as_json: bool,
    folder: Path | None,
) -> None:
    from tickets.floor import jobs as floor
    from tickets.floor import pictures
    from tickets.records.job import read_files

    sheets = read_files(files)
    with the_shop(folder, make=True) as db:
        actor, now = who_acts(db, by), time_now()
        art = pictures.beside(db, actor, files, sheets, now=now)
        again = "yes" if form_of(twice=twice).yes("twice") else ""
        made = floor.add(db, actor, sheets, post=post_id(entry), now=now, pictures=art, twice=again)
        remarked = [_remarks_on(db, floor.find(db, code)) for code in made]
    if as_json:
        print_json(
            [
                {"code": code, "shown": shown_code(code), "title": sheet.title, "reference": sheet.reference}
                for code, sheet in zip(made, sheets, strict=True)
            ]
        )
        return
    for code, sheet, told in zip(made, sheets, remarked, strict=True):
        click.echo("  ".join(part for part in (shown_code(code), sheet.title, sheet.reference) if part))
        for remark in told:
            click.echo(f"  {remark['place']}: {remark['said']}")


@command(job, "change", N_("Changes a job to what a file says, until it has been printed."), ENTRY, BY, JSON)
@click.argument("code")
@click.argument("file", type=click.Path(path_type=Path))
def job_change(code: str, file: Path, entry: str | None, by: str | None, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import jobs as floor
    from tickets.floor import pictures, printing
    from tickets.records.job import read_file

    sheet = read_file(file)
    with the_shop(folder, make=True) as db:
        found = floor.find(db, code)
        actor, now = who_acts(db, by), time_now()
        (art,) = pictures.beside(db, actor, [file], [sheet], now=now)
        version = floor.change(db, actor, found, sheet, post=post_id(entry), now=now, picture=art or None)
        stale = [one for one in printing.outdated_jobs(db) if one["code"] == found.code]
        remarked = _remarks_on(db, floor.find(db, code))
    if as_json:
        print_json({"code": found.code, "version": version, "ticket_outdated": bool(stale)})
        return
    click.echo(_("{code} is at version {version}.").format(code=shown_code(found.code), version=version))
    for remark in remarked:
        click.echo(f"  {remark['place']}: {remark['said']}")
    if stale:
        click.echo(_("Its printed ticket says version {version}: print it again.").format(version=stale[0]["printed"]))


@command(
    job,
    "list",
    N_("Lists the open jobs by due date."),
    option("--closed", is_flag=True, help=N_("The closed ones instead, newest first.")),
    option("--limit", type=Whole(1, MOST), help=N_("How many. [default: 50; with --json all]")),
    JSON,
)
def job_list(closed: bool, limit: int | None, as_json: bool, folder: Path | None) -> None:
    from dataclasses import asdict

    from tickets.store import jobs

    with the_shop(folder) as db:
        rows = jobs.listed(db, None, limit or (MOST if as_json else 50), closed)
    if as_json:
        print_json(
            [
                {**{name: value for name, value in asdict(row).items() if name != "id"}, "shown": shown_code(row.code)}
                for row in rows
            ]
        )
    else:
        say_table(
            [[shown_code(row.code), row.due, row.title, row.customer, row.reference] for row in rows], _("No jobs.")
        )


@command(
    job,
    "show",
    N_("Shows a job: its print order, the numbers of its separations, the screens that carry them."),
    option("--toml", is_flag=True, help=N_("Print its job file.")),
    JSON,
)
@click.argument("code")
def job_show(code: str, toml: bool, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import jobs as floor
    from tickets.records.job import to_toml

    with the_shop(folder) as db:
        found = floor.find(db, code)
        if toml:
            click.echo(to_toml(found.sheet), nl=False)
            return
        shown = _job(db, found)
        if as_json:
            print_json(shown)
            return
        head = (shown["shown"], shown["title"], shown["customer"], shown.get("reference"))
        click.echo(" · ".join(filter(None, head)))
        click.echo(_("due {date}, version {version}").format(date=shown["due"], version=shown["version"]))
        for placement in shown["placements"]:
            click.echo(f"{placement['placement']} {placement['name']}")
            for station in placement["stations"]:
                click.echo(f"  {station['station']} {_station(station)}")
                for way in station["on_garments"]:
                    click.echo(f"    {way}")
        for one in shown["will_differ"]:
            for differs in one["differences"]:
                if differs["level"] != "ok" or "within" in differs:
                    click.echo(f"{one['placement']}: {differs['said']}")
        for remark in shown["remarks"]:
            click.echo(f"{remark['place']}: {remark['said']}")


def _station(station: Mapping[str, Any]) -> str:
    """A line of the print order as text."""
    if station["does"] != "print":
        return f"{_(station['does'])} {station.get('time', '')}".rstrip()
    carried = ", ".join(shown_code(one["code"]) for one in station["screens"]) or _("no screen yet")
    text = _("separation {number}: {name}").format(number=station["separation"], name=station["name"])
    return f"{text} · {station['mesh_wanted']} · {station['ink']} · {carried}"


def _job(db: Database, found: Any) -> dict[str, Any]:
    """A job as data: the keys of its file, the stations with the number of their separation, its screens, and what is
    otherwise there on some garments."""
    from tickets.records.colourways import at_rows
    from tickets.store import jobs, runs, screens

    said = found.sheet.to_dict()
    placements = []
    for number, (placement, words) in enumerate(zip(found.sheet.placements, said["placement"], strict=True), 1):
        asked = {one.number: one for one in jobs.asked(db, found, number)}
        ways, stations = at_rows(found.sheet, placement), []
        for station, own in zip(placement.stations, words["station"], strict=True):
            row: dict[str, Any] = {"station": station.number, **own, "on_garments": ways.get(station.number, ())}
            if station.prints:
                want = asked[station.number]
                row |= {
                    "separation": want.separation,
                    "name": station.separation,
                    "mesh_wanted": want.mesh,
                    "work": want.work,
                    "screens": [
                        {"code": one.code, "mark": one.life.mark, "standing": str(one.life.standing)}
                        for one in screens.carrying(db, want.separation)
                    ],
                }
            stations.append(row)
        rest = {name: value for name, value in words.items() if name != "station"}
        placements.append({"placement": number, **rest, "stations": stations})
    repeats = jobs.get(db, found.repeats) if found.repeats else None
    return {
        "code": found.code,
        "shown": shown_code(found.code),
        **{name: value for name, value in said.items() if name not in {"placement", "garment", "colourway", "repeats"}},
        "version": found.version,
        "closed_at": found.closed_at,
        "repeats": repeats.code if repeats else None,
        "will_differ": _ahead(db, found) if repeats and not found.closed_at else [],
        "garments": said["garment"],
        "placements": placements,
        "colourways": said.get("colourway", []),
        "runs": [run.id for run in runs.of_job(db, found.id)],
        "remarks": _remarks_on(db, found),
    }


def _ahead(db: Database, job: Any) -> list[dict[str, Any]]:
    """What will differ if a job that repeats another is printed now, placement by placement, in its order."""
    from tickets.floor import repeats
    from tickets.records.repeat import as_data

    return [
        {
            "placement": one.placement.name,
            "compared_with": one.against.said(),
            "run": one.origin.run if one.origin else None,
            "differences": as_data(one.differences, units_of(db)),
        }
        for one in repeats.to_come(db, job, time_now())
    ]
