"""`tickets screen`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from tickets.cli import group_of
from tickets.cli.given import Call, form_of, screen_of, step_fields
from tickets.cli.list_file import list_import
from tickets.cli.options import AT, BY, ENTRY, FEW, FREE, MOST, Whole, option
from tickets.cli.output import joined, local_time, log_lines, shown_code, table, verdict_lines
from tickets.cli.refused import as_typed
from tickets.cli.reply import Reply, command
from tickets.i18n import N_
from tickets.i18n import gettext as _

if TYPE_CHECKING:
    from sqlite_utils import Database

    from tickets.store import screens


screen = group_of("screen", N_("Screens: add, list, show, log."))

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
    N_("Adds screens, each with its stretch entry."),
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
)
def screen_add(call: Call, number: int, **sent: Any) -> Reply:
    from tickets.actions import screens as screens_acts
    from tickets.queries import as_data, find

    typed = {field: sent.get(name[2:].replace("-", "_")) for field, name in _STRETCH.items()}
    form = form_of(**{**typed, "at": call.at})
    db = call.shop(make=True)
    with as_typed(_STRETCH):
        made = screens_acts.add(db, call.actor, form, post=call.post, now=call.now, number=number)
    rows = [as_data.named_screen(find.screen(db, code)) for code in made]
    return Reply(rows, table([[row["shown"], row["mark"], row["mesh"]] for row in rows]))


list_import(screen, "frames", N_("Brings in a list of frames."))


ABOUT = 0.03
"""Within what share of a mesh count a screen is listed."""


@command(
    screen,
    "list",
    N_("Lists screens in the order of their numbers, a page at a time."),
    option("--stage", "--standing", "standing", help=N_("Only those at this stage, such as ready.")),
    option("--mesh", help=N_("Only those of this mesh count, such as 230/in (within 3 %).")),
    option("--place", help=N_("Only those at this place (name or code).")),
    option("--job", help=N_("Only those that carry something of this job.")),
    option("--separation", type=Whole(1, MOST), help=N_("Only those that carry this image (its number).")),
    option("--mark", help=N_("Only those with this painted mark.")),
    option(
        "--due",
        type=click.Choice(("slack", "tension", "coated", "unclear", "unnamed", "missing", "keep", "worn", "idle")),
        help=N_(
            "Only those that are due for this. One of: under the floor, tension to measure, coated too long, log "
            "unclear, image not named, missing since a stock-take, kept too long, mesh near its end, not used for long."
        ),
    ),
    option("--after", metavar="CODE", help=N_("Only those after this one.")),
    option("--limit", type=Whole(1, MOST), help=N_("How many. [default: 50; with --json all]")),
)
def screen_list(call: Call, after: str | None, limit: int | None, **asked: Any) -> Reply:
    from tickets.domain.refusal import Refused
    from tickets.domain.stages import STANDING_WORDS, Standing, stage_of, stage_words
    from tickets.queries import as_data
    from tickets.store import places, screens

    stage = stage_of(asked["standing"] or "")
    if asked["standing"] and stage is None:
        raise Refused(_("One of: {choices}.").format(choices=stage_words(Standing)), "--stage")
    asked["standing"] = stage
    db = call.shop()
    wanted, last = _wanted(db, call, asked), screen_of(db, after).id if after else 0
    names = places.names(db)

    def rows(most: int) -> list[screens.InventoryRow]:
        return screens.inventory(db, wanted, last, most)

    def lines() -> Iterator[str]:
        most = limit or FEW
        found = rows(most + 1)
        cells = [
            [
                shown_code(row.code),
                row.mark,
                row.mesh,
                _(STANDING_WORDS[row.standing]),
                names.get(row.place or 0),
                row.minimum_n_per_cm,
            ]
            for row in found[:most]
        ]
        yield from table(cells, _("No screens."))
        if len(found) > most:
            yield _("More: add --after {code}").format(code=shown_code(found[most - 1].code))

    return Reply(lambda: [as_data.row(row, names) for row in rows(limit or MOST)], lines())


def _wanted(db: Database, call: Call, asked: Mapping[str, Any]) -> screens.InventoryAsked:
    from tickets.domain.refusal import Refused
    from tickets.queries import find
    from tickets.queries.due import counts_about, due_list
    from tickets.store import screens

    try:
        counts = counts_about(asked["mesh"], ABOUT) if asked["mesh"] else {}
    except ValueError as fault:
        raise Refused(str(fault), "--mesh") from None
    return due_list(
        db,
        asked["due"] or "",
        call.now,
        among=screens.by_mark(db, asked["mark"]) if asked["mark"] else None,
        standing=asked["standing"] or "",
        place=find.place(db, asked["place"]).id if asked["place"] else None,
        job=find.job(db, asked["job"]).id if asked["job"] else None,
        separation=asked["separation"],
        **counts,
    )


@command(screen, "show", N_("Shows a screen: what it is, how far it is, what it carries, what is due, its log."))
@click.argument("code")
def screen_show(call: Call, code: str) -> Reply:
    from tickets.queries import as_data

    db = call.shop()
    found = screen_of(db, code)
    shown = as_data.screen(db, found, call.now)
    return Reply(shown, _lines(db, shown, found.life.mesh.said if found.life.mesh else _("mesh not known")))


def _lines(db: Database, shown: Mapping[str, Any], mesh: str) -> Iterator[str]:
    """A screen in lines."""
    yield joined((shown["shown"], shown["mark"], mesh, shown["mesh"].get("frame", "")), " · ")
    since = _("since {time}").format(time=local_time(db, shown["since"])) if shown["since"] else ""
    yield joined((shown["stage"], since, shown["place"]))
    for separation in shown["separations"]:
        yield _("carries {number}: {name}").format(number=separation["separation"], name=separation["said"])
    if shown["tension"]:
        yield _("tension: mean {mean}, lowest {low} N/cm, {time}").format(
            mean=f"{shown['tension']['mean_n_per_cm']:g}",
            low=f"{shown['tension']['minimum_n_per_cm']:g}",
            time=local_time(db, shown["tension"]["at"]),
        )
    for due in shown["due"]:
        yield due["said"]
    yield _("next: {step}").format(step=shown["next"] or _("the press"))
    yield from log_lines(db, shown["log"])


@command(screen, "steps", N_("Lists the steps of a screen with their fields, as `screen log` takes them."))
def screen_steps(call: Call) -> Reply:
    from tickets.domain.steps import SCREEN_STEPS

    return Reply([step.to_dict() for step in SCREEN_STEPS.values()], _steps())


def _steps() -> Iterator[str]:
    from tickets.calculator.units import unit_of
    from tickets.domain.cautions import texts
    from tickets.domain.steps import SCREEN_STEPS

    for step in SCREEN_STEPS.values():
        yield f"{step.name}: {_(step.title)}"
        for field in (*step.fields, *step.also):
            choices = ", ".join(key for key, _word in field.choices)
            needed = _("needed") if field.required else _(field.hint) if field in step.also else ""
            yield "  " + joined((f"--{field.name}", _(field.label), unit_of(field.name), choices, needed))
        for text in texts(step.cautions):
            yield f"  ! {text}"


@command(
    screen,
    "log",
    N_("Logs one step of a screen, as its page does: tickets screen log CODE STEP --FIELD VALUE ..."),
    AT,
    ENTRY,
    option("--by", "names", multiple=True, metavar="NAME", help=N_("Who did it. [default: command line]")),
    context_settings=FREE,
)
@click.argument("code")
@click.argument("step")
@click.argument("fields", nargs=-1, type=click.UNPROCESSED)
def screen_log(call: Call, code: str, step: str, fields: tuple[str, ...], names: tuple[str, ...]) -> Reply:
    from tickets.actions import screens as screens_acts
    from tickets.domain.posted import form
    from tickets.domain.stages import STANDING_WORDS
    from tickets.queries import find

    sent, call = step_fields(call, fields, step)
    if step == "stretch":  # its field `by` (us, supplier) is typed as the option that names the person
        sent["by"] = [name for name in names if name in {"us", "supplier"}] or None
        names = tuple(name for name in names if name not in {"us", "supplier"})
    call = replace(call, by=names[-1] if names else None)
    db = call.shop(make=True)
    actor, found = call.actor, screen_of(db, code)
    logged = screens_acts.log(db, actor, found, step, form(sent), post=call.post, now=call.now)
    after = find.screen(db, found.code)
    done = _("{code}: {step} was logged before; it stays so.") if logged.again else _("{code}: {step} logged.")
    said = (
        done.format(code=shown_code(after.code), step=step),
        _("Stage now: {stage}.").format(stage=_(STANDING_WORDS[after.life.standing])),
        _("Entry {entry}.").format(entry=", ".join(logged.entries)),
    )
    return Reply(
        {
            "entries": list(logged.entries),
            "verdict": logged.verdict.to_dict() if logged.verdict else None,
            "again": logged.again,
            "code": after.code,
            "standing": str(after.life.standing),
        },
        [*(verdict_lines(logged.verdict) if logged.verdict else ()), joined(said, " ")],
    )


@command(screen, "tend", N_("Lists frames to look after: slack, worn, idle, by rack; and what to order by mesh."))
def screen_tend(call: Call) -> Reply:
    from tickets.queries import tend

    db = call.shop()
    shown = tend.as_data(db, call.now, 90)

    def lines() -> Iterator[str]:
        for why in tend.WHY:
            cells = [
                [why, shown_code(one["screen"]), one["mark"], one["mesh"], one["place"], _(tend.DO[one["do"]])]
                for one in shown[why]
            ]
            yield from table(cells, f"{why}: {_('none')}")
        for one in shown["order"]:
            yield _("to order: {n} of {mesh}").format(n=one["order"], mesh=one["mesh"])

    return Reply(shown, lines())
