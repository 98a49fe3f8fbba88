"""`tickets screen`."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tickets.cli import group_of
from tickets.cli.given import form_of, post_id, screen_of, step_fields, the_shop, time_now, who_acts
from tickets.cli.options import AT, BY, ENTRY, FREE, JSON, MOST, Whole, command, option
from tickets.cli.output import local_time, log_data, print_json, say_log, say_table, shown_code, units_of, verdict_lines
from tickets.cli.refused import as_typed, beside
from tickets.words import N_, ngettext
from tickets.words import gettext as _

if TYPE_CHECKING:
    from sqlite_utils import Database

    from tickets.store.screens import Screen


screen = group_of("screen", N_("Screens: register, list, show, log."))

_STRETCH = {
    "mesh_count_as_labelled": "--count",
    "thread_um": "--thread",
    "mesh_colour": "--mesh-colour",
    "frame": "--frame",
    "frame_size_mm": "--frame-size",
    "mark": "--mark",
    "by": "--stretched-by",
    "opening_um": "--opening",
    "open_area_pct": "--open-area",
    "fabric_thickness_um": "--thickness",
    "ink_volume_cm3_m2": "--ink-volume",
    "in_use": "--in-use",
    "uses_before": "--uses-before",
    "number": "--number",
    "at": "--at",
    "entry": "--entry",
}
"""Fields of `stretch`, and the options of `screen add` that they are typed as."""


@command(
    screen,
    "add",
    N_("Registers screens, each with its stretch entry."),
    option("--count", required=True, help=N_("Mesh count as labelled, such as 230/in or 90/cm.")),
    option("--frame", required=True, help=N_("aluminium, wood or roller.")),
    option("--thread", help=N_("Thread, such as 48 um; left away: not known.")),
    option("--number", default=1, type=Whole(), show_default=True, help=N_("How many.")),
    option("--mark", help=N_("The painted mark; counted up for several: A 12, A 13.")),
    option("--mesh-colour", help=N_("white or dyed.")),
    option("--frame-size", help=N_("Such as 585 x 790.")),
    option("--stretched-by", help=N_("us or supplier.")),
    option("--opening", help=N_("Maker's sheet: opening, such as 65 um.")),
    option("--open-area", help=N_("Maker's sheet: open area, such as 33 %.")),
    option("--thickness", help=N_("Maker's sheet: fabric thickness, such as 75 um.")),
    option("--ink-volume", help=N_("Maker's sheet: ink volume in cm3/m2.")),
    option("--in-use", help=N_("yes: the mesh was in use before and has settled.")),
    AT,
    ENTRY,
    BY,
    JSON,
)
def screen_add(folder: Path | None, as_json: bool, by: str | None, entry: str | None, number: int, **sent: Any) -> None:
    from tickets.floor import screens as floor

    options = {field: sent.get(name[2:].replace("-", "_")) for field, name in _STRETCH.items()}
    form = form_of(**{**options, "number": None, "entry": None, "at": sent["at"]})
    with the_shop(folder, make=True) as db, as_typed(_STRETCH):
        made = floor.add(db, who_acts(db, by), form, post=post_id(entry), now=time_now(), number=number)
        lives = [floor.find(db, code) for code in made]
        rows = [
            {
                "code": one.code,
                "shown": shown_code(one.code),
                "mark": one.life.mark,
                "mesh": one.life.mesh.said if one.life.mesh else "",
            }
            for one in lives
        ]
    if as_json:
        print_json(rows)
    else:
        say_table([[row["shown"], row["mark"], row["mesh"]] for row in rows], "")


@command(
    screen,
    "import",
    N_("Brings in a list of frames from a CSV file, all or none; --dry-run only shows what would happen."),
    click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False)),
    option("--dry-run", is_flag=True, help=N_("Write nothing.")),
    ENTRY,
    BY,
    JSON,
)
def screen_import(
    folder: Path | None, as_json: bool, by: str | None, entry: str | None, dry_run: bool, file: Path
) -> None:
    from tickets.floor import frame_list
    from tickets.records.refusal import Refused

    text = frame_list.decoded(file.read_bytes())
    with the_shop(folder, make=True) as db:
        found = frame_list.read(db, text, time_now())
        made: list[str] = []
        if not dry_run and not found.faults:
            made = frame_list.take_in(db, who_acts(db, by), text, post=post_id(entry), now=time_now())
    rows = [
        {
            "line": frame.number,
            "code": made[place] if made else None,
            "mark": frame.mark,
            "mesh": frame.stretch["mesh_count_as_labelled"],
            "steps": frame.notes,
            "read": frame.values,
        }
        for place, frame in enumerate(found.frames)
    ]
    columns = [one._asdict() for one in found.columns]
    if as_json and not found.faults:
        print_json({"dry_run": dry_run, "columns": columns, "frames": rows, "refused": []})
    elif not as_json and (made or dry_run):
        lines = [
            [row["line"], row["code"] and shown_code(row["code"]), row["mark"], row["mesh"], ", ".join(row["steps"])]
            for row in rows
        ]
        say_table(lines, _("There is no frame in the list."))
        if dry_run:
            for name, read_as, values in found.columns:
                told = _("{column}, read as {what}: {values}")
                click.echo(told.format(column=name, what=read_as, values=" | ".join(one or "–" for one in values)))
            said = ngettext(
                "{number} frame would be brought in; nothing was written.",
                "{number} frames would be brought in; nothing was written.",
                len(rows),
            )
            click.echo(said.format(number=len(rows)))
    with beside(dry_run=dry_run, columns=columns, frames=rows):
        if found.faults:
            raise Refused(list(found.faults))


@command(
    screen,
    "list",
    N_("Lists screens in the order of their numbers, a page at a time."),
    option("--standing", help=N_("Only those at this stage, such as ready.")),
    option("--mesh", help=N_("Only those of this mesh count, such as 230/in (within 3 %).")),
    option("--place", help=N_("Only those at this place (name or code).")),
    option("--job", help=N_("Only those that carry something of this job.")),
    option("--separation", type=Whole(1, MOST), help=N_("Only those that carry this separation (its number).")),
    option("--mark", help=N_("Only those with this painted mark.")),
    option(
        "--due",
        type=click.Choice(("slack", "tension", "coated", "unclear", "missing", "keep", "worn")),
        help=N_(
            "Only those that are due: under the floor, tension to measure, coated too long, log unclear, missing "
            "since a stock-take, kept past the day, mesh near its end."
        ),
    ),
    option("--after", metavar="CODE", help=N_("Only those after this one.")),
    option("--limit", type=Whole(1, MOST), help=N_("How many. [default: 50; with --json all]")),
    JSON,
)
def screen_list(folder: Path | None, as_json: bool, after: str | None, limit: int | None, **asked: Any) -> None:
    from tickets.records.refusal import Refused
    from tickets.records.screen import Standing
    from tickets.store import places, screens

    standing, mark = asked["standing"] or "", asked["mark"]
    if standing not in {"", *Standing}:
        raise Refused(_("One of: {choices}.").format(choices=", ".join(Standing)), "--standing")
    with the_shop(folder) as db:
        wanted = _wanted(db, standing, asked)
        marked = set(screens.by_mark(db, mark)) if mark else None
        last = screen_of(db, after).id if after else 0
        most = limit or (MOST if as_json else 50)
        rows: list[screens.Row] = []
        more = False
        while True:
            page = screens.inventory(db, wanted, last, 500)
            rows += [row for row in page if marked is None or row.id in marked]
            more = len(rows) > most or len(page) == 500
            if len(rows) >= most or len(page) < 500:
                break
            last = page[-1].id
        more, rows = more and len(rows) > most, rows[:most]
        names = places.names(db)
        if as_json:
            print_json(
                [
                    {
                        "code": row.code,
                        "shown": shown_code(row.code),
                        "mark": row.mark,
                        "mesh": row.mesh,
                        "thread_um": row.thread_um,
                        "frame": row.frame,
                        "standing": row.standing,
                        "since": row.since,
                        "place": names.get(row.place) if row.place else None,
                        "minimum_n_per_cm": row.minimum_n_per_cm,
                        "tension_at": row.tension_at or None,
                        "uses": row.uses,
                        "impressions": row.impressions,
                    }
                    for row in rows
                ]
            )
            return
        say_table(
            [
                [
                    shown_code(row.code),
                    row.mark,
                    row.mesh,
                    row.standing,
                    names.get(row.place or 0),
                    row.minimum_n_per_cm,
                ]
                for row in rows
            ],
            _("No screens."),
        )
        if more:
            click.echo(_("More: add --after {code}").format(code=shown_code(rows[-1].code)))


def _wanted(db: Database, standing: str, asked: Mapping[str, Any]) -> Any:
    from tickets.floor import jobs as floor_jobs
    from tickets.floor import screens as floor
    from tickets.floor.due import due_list
    from tickets.records.refusal import Refused
    from tickets.records.steps import count_per_cm, mesh_label

    count = None
    if asked["mesh"]:
        try:
            count = count_per_cm(mesh_label(asked["mesh"]))
        except ValueError as fault:
            raise Refused(str(fault), "--mesh") from None
    return due_list(
        db,
        asked["due"] or "",
        time_now(),
        standing=standing,
        count_low=count * 0.97 if count else None,
        count_high=count * 1.03 if count else None,
        place=floor.find_place(db, asked["place"]).id if asked["place"] else None,
        job=floor_jobs.find(db, asked["job"]).id if asked["job"] else None,
        separation=asked["separation"],
    )


@command(screen, "show", N_("Shows a screen: what it is, how far it is, what it carries, what is due, its log."), JSON)
@click.argument("code")
def screen_show(code: str, as_json: bool, folder: Path | None) -> None:
    with the_shop(folder) as db:
        found = screen_of(db, code)
        shown = _screen(db, found)
        if as_json:
            print_json(shown)
            return
        mesh = found.life.mesh.said if found.life.mesh else _("mesh not known")
        click.echo(
            " · ".join(part for part in (shown["shown"], shown["mark"], mesh, shown["mesh"].get("frame", "")) if part)
        )
        since = _("since {time}").format(time=local_time(db, shown["since"])) if shown["since"] else ""
        click.echo("  ".join(part for part in (shown["standing"], since, shown["place"] or "") if part))
        for separation in shown["separations"]:
            click.echo(_("carries {number}: {name}").format(number=separation["separation"], name=separation["said"]))
        if shown["tension"]:
            click.echo(
                _("tension: mean {mean}, lowest {low} N/cm, {time}").format(
                    mean=f"{shown['tension']['mean_n_per_cm']:g}",
                    low=f"{shown['tension']['minimum_n_per_cm']:g}",
                    time=local_time(db, shown["tension"]["at"]),
                )
            )
        for due in shown["due"]:
            click.echo(due["said"])
        click.echo(_("next: {step}").format(step=shown["next"] or _("the press")))
        say_log(db, shown["log"])


def _screen(db: Database, found: Screen) -> dict[str, Any]:
    """A screen as data; a computed value says so, a maker's value says that."""
    from tickets.store import jobs, places
    from tickets.store.settings import setting

    life = found.life
    separations = jobs.separations(db, list(life.stencil.separations) if life.stencil else [])
    from tickets.records.screen import next_step

    tension = life.tension
    return {
        "code": found.code,
        "shown": shown_code(found.code),
        "mark": life.mark,
        "standing": str(life.standing),
        "since": life.since,
        "mesh": _mesh(life.mesh),
        "place": places.names(db).get(life.place or 0),
        "run": life.run,
        "head": life.head,
        "tension": tension
        and {
            "readings_n_per_cm": list(tension.readings_n_per_cm),
            "readings_weft_n_per_cm": list(tension.readings_weft_n_per_cm),
            "mean_n_per_cm": round(tension.mean_n_per_cm, 3),
            "minimum_n_per_cm": tension.minimum_n_per_cm,
            "at": tension.at,
            "stencils_since": tension.stencils_since,
        },
        "separations": [
            {
                "separation": number,
                "name": one.name,
                "customer": one.customer,
                "art": one.art,
                "revision": one.revision,
                "width_mm": one.width_mm,
                "said": f"{one.name} · {one.art} {one.revision} · {one.width_mm} mm · {one.customer}",
            }
            for number, one in separations.items()
        ],
        "uses": life.uses,
        "impressions": life.impressions,
        "cycles": life.cycles,
        "torn": life.torn,
        "fault": life.fault,
        "gaps": [{"entry": entry, "missing": list(missing)} for entry, missing in life.gaps],
        "conflicts": list(life.conflicts),
        "next": next_step(life, setting(db, "steps")),
        "due": _due(db, found),
        "log": log_data(db, "screen", found.id),
    }


def _mesh(mesh: Any) -> dict[str, Any]:
    """The mesh as labelled; opening, open area and the like as the maker's sheet gives them, else computed."""
    if mesh is None:
        return {}
    from tickets.calculator.mesh import geometry
    from tickets.calculator.units import CannotBe, magnitude, quantity

    values: dict[str, Any] = {
        "count_as_labelled": mesh.count_as_labelled,
        "count_per_cm": round(mesh.count_per_cm, 3),
        "thread_um": mesh.thread_um,
        "colour": mesh.colour,
        "frame": mesh.frame,
        "frame_size_mm": mesh.frame_size_mm,
        "stretched_at": mesh.stretched_at,
        "by": mesh.by,
        "fabric_thickness_um": mesh.fabric_thickness_um,
    }
    computed: dict[str, float] = {}
    if mesh.thread_um:
        thickness = quantity(mesh.fabric_thickness_um, "um") if mesh.fabric_thickness_um else None
        try:
            found = geometry(quantity(mesh.count_per_cm, "/cm"), quantity(mesh.thread_um, "um"), thickness)
        except CannotBe:
            found = None
        if found is not None:
            computed = {"opening_um": magnitude(found.opening, "um"), "open_area_pct": magnitude(found.open_area, "%")}
            if found.ink_volume is not None:
                computed["ink_volume_cm3_m2"] = magnitude(found.ink_volume, "cm3/m2")
    for name in ("opening_um", "open_area_pct", "ink_volume_cm3_m2"):
        sheet = getattr(mesh, name)
        if sheet is not None:
            values[name] = {"value": sheet, "computed": False, "source": "maker's sheet"}
        elif name in computed:
            values[name] = {"value": round(computed[name], 2), "computed": True}
        else:
            values[name] = None
    return values


def _due(db: Database, found: Screen) -> list[dict[str, Any]]:
    """What the screen waits for: tension to be measured again, drying."""
    from tickets.calculator.verdict import Level, judge, say
    from tickets.floor.asked import work_of
    from tickets.floor.posting import the_spec
    from tickets.floor.screens import air_of
    from tickets.records import checks
    from tickets.records.entry import stamp

    work = work_of(db, found.life)
    due: list[dict[str, Any]] = []
    for reason in judge(checks.tension(found.life, work, the_spec(db), time_now())).reasons:
        if reason.level is not Level.OK:
            said = say(reason, units_of(db))
            text = " ".join(part for part in (f"{said.word}:", said.sentence, said.advice) if part)
            due.append({"key": reason.key, "level": str(reason.level), "said": text})
    wet = checks.drying(found.life, the_spec(db), air_of(db, found.life, time_now()))
    if wet is not None and wet.ready_at > time_now():
        text = _("drying until about {time}").format(time=local_time(db, stamp(wet.ready_at)))
        due.append({"key": "drying", "until": stamp(wet.ready_at), "said": text})
    return due


@command(screen, "steps", N_("Lists the steps of a screen with their fields, as `screen log` takes them."), JSON)
def screen_steps(as_json: bool, folder: Path | None) -> None:
    from tickets.calculator.units import unit_of
    from tickets.records.cautions import texts
    from tickets.records.steps import SCREEN_STEPS

    if as_json:
        print_json(
            [
                {
                    "step": step.name,
                    "title": _(step.title),
                    "fields": [
                        {
                            "field": field.name,
                            "label": _(field.label),
                            "unit": unit_of(field.name),
                            "required": field.required,
                            "choices": [key for key, _word in field.choices],
                        }
                        for field in (*step.fields, *step.also)
                    ],
                    "cautions": texts(step.cautions),
                }
                for step in SCREEN_STEPS.values()
            ]
        )
        return
    for step in SCREEN_STEPS.values():
        click.echo(f"{step.name}: {_(step.title)}")
        for field in (*step.fields, *step.also):
            choices = ", ".join(key for key, _word in field.choices)
            needed = _("needed") if field.required else _(field.hint) if field in step.also else ""
            parts = (f"--{field.name}", _(field.label), unit_of(field.name) or "", choices, needed)
            click.echo("  " + "  ".join(part for part in parts if part))
        for text in texts(step.cautions):
            click.echo(f"  ! {text}")


@command(
    screen,
    "log",
    N_("Logs one step of a screen, as its page does: tickets screen log CODE STEP --FIELD VALUE ..."),
    AT,
    ENTRY,
    option("--by", multiple=True, metavar="NAME", help=N_("Who did it. [default: command line]")),
    JSON,
    context_settings=FREE,
)
@click.argument("code")
@click.argument("step")
@click.argument("fields", nargs=-1, type=click.UNPROCESSED)
def screen_log(
    code: str,
    step: str,
    fields: tuple[str, ...],
    at: str | None,
    entry: str | None,
    by: tuple[str, ...],
    as_json: bool,
    folder: Path | None,
) -> None:
    from tickets.floor import screens as floor
    from tickets.floor.posting import form

    sent, entry = step_fields(fields, step, at, entry)
    names = list(by)
    if step == "stretch":  # its field `by` (us, supplier) is typed as the option that names the person
        sent["by"] = [name for name in names if name in {"us", "supplier"}] or None
        names = [name for name in names if name not in {"us", "supplier"}]
    with the_shop(folder, make=True) as db:
        actor, now = who_acts(db, names[-1] if names else None), time_now()
        found = screen_of(db, code)
        logged = floor.log(db, actor, found, step, form(sent), post=post_id(entry), now=now)
        after = floor.find(db, found.code)
        if as_json:
            print_json(
                {
                    "entries": list(logged.entries),
                    "verdict": logged.verdict.to_dict() if logged.verdict else None,
                    "again": logged.again,
                    "code": after.code,
                    "standing": str(after.life.standing),
                }
            )
            return
        for line in verdict_lines(logged.verdict, units_of(db)) if logged.verdict else ():
            click.echo(line)
        done = _("{code}: {step} was logged before; it stays so.") if logged.again else _("{code}: {step} logged.")
        click.echo(
            " ".join(
                (
                    done.format(code=shown_code(after.code), step=step),
                    _("Now: {standing}.").format(standing=after.life.standing),
                    _("Entry {entry}.").format(entry=", ".join(logged.entries)),
                )
            )
        )
