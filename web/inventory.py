"""The inventory of screens by mesh and standing, and the registering of new ones."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import screens as screens_acts
from tickets.calculator import typed, units
from tickets.domain.code import Code
from tickets.domain.posted import form
from tickets.domain.refusal import Clash, Fault, NotAllowed, NotFound, Refused
from tickets.domain.stages import STANDING_WORDS, Standing
from tickets.domain.steps import SCREEN_STEPS
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import find, mesh_lives
from tickets.queries.asked import too_slack
from tickets.queries.due import DUE, counts_about, due_list
from tickets.queries.find import job as find_job
from tickets.store import entries, jobs, places, screens
from tickets.store.places import Place as ShopPlace
from web.lists import PER_PAGE, ListHead, Listing, asked_for, listing, turned
from web.steps import StepForm, options_for, step_form
from web.support import actor, faults_by_field, form_lists, new_entry_id, one_of, page, row_number

bp = Blueprint("inventory", __name__)

DUE_WORDS = {
    "slack": N_("under the floor"),
    "tension": N_("tension to be measured"),
    "coated": N_("coated too long"),
    "unclear": N_("log unclear"),
    screens.UNNAMED: N_("image not named"),
    "missing": N_("missing since a stock-take"),
    "keep": N_("kept too long"),
    "worn": N_("mesh near its end"),
    "idle": N_("not used for long"),
}


@dataclass(frozen=True, slots=True)
class CountTable:
    """Counts by mesh (rows) and standing (columns)."""

    standings: tuple[str, ...]
    rows: tuple[tuple[str, tuple[int, ...], int], ...]
    totals: tuple[int, ...]
    total: int


HEADS = (
    ListHead("number", N_("Screen")),
    ListHead("mark", N_("Mark")),
    ListHead("mesh", N_("Mesh")),
    ListHead("stage", N_("Stage")),
    ListHead("", N_("Place")),
    ListHead("tension", N_("Lowest tension"), True),
    ListHead("measured", N_("Measured")),
    ListHead("uses", N_("Uses"), True, True),
)
FILTERS = ("standing", "mesh", "place", "job", "separation", "due")


FREE_BUT_SLACK = {"due": screens.SLACK, "standing": ",".join(screens.COULD_TAKE)}
"""What the list is narrowed to for the frames that count as free but for their tension: others are slack, too."""


@dataclass(frozen=True, slots=True)
class ScreensShown:
    """The list of screens: its rows, which of them have a mesh near its end, counts by mesh and stage, what it is asked
    for (`args`) and narrowed to (`filters`), the meshes of slack frames."""

    list: Listing
    rows: tuple[screens.InventoryRow, ...]
    near: Collection[int]
    table: CountTable
    args: Mapping[str, str]
    filters: Sequence[tuple[str, str]]
    slack_meshes: Sequence[tuple[str, int]]
    places: Mapping[int, str]
    every_place: Sequence[ShopPlace]
    due: Sequence[tuple[str, str]] = tuple(DUE_WORDS.items())
    words: Mapping[str, str] = field(
        default_factory=lambda: {
            **STANDING_WORDS, screens.MISSING: N_("missing"), screens.SLACK: N_("free, but too slack"),
        }
    )  # fmt: skip
    apart: Mapping[str, Mapping[str, str]] = field(
        default_factory=lambda: {screens.MISSING: {"due": screens.MISSING}, screens.SLACK: FREE_BUT_SLACK}
    )


@bp.get("/screens")
def inventory() -> AnyResponse:
    """Every screen by mesh and standing: counts, then a page of those asked for, in the order of a head."""
    args = {name: request.args.get(name, "").strip() for name in FILTERS}
    if request.args.get("q", "").strip():
        return redirect(f"/find?q={request.args['q'].strip()}", code=303)
    faults: dict[str, str] = {}
    loose = too_slack(g.db)
    wanted = _wanted(args, faults)
    used = {name: text for name, text in args.items() if text}
    asked = asked_for("/screens", used, [head.order for head in HEADS if head.order], "number")
    place = screens.place_of(g.db, asked.order, asked.down, asked.row, asked.back)
    found = screens.in_order(g.db, wanted, asked.order, place, PER_PAGE + 1) if not faults else []
    rows, *pages = turned(asked, found)
    shown = ScreensShown(
        listing(asked, HEADS, rows[0].id if rows else 0, rows[-1].id if rows else 0, (pages[0], pages[1])),
        tuple(rows),
        mesh_lives.near_among(g.db, [row.id for row in rows]),
        _table(screens.counts(g.db, loose)),
        args,
        _filters(used),
        screens.slack_meshes(g.db, loose) if args["due"] == screens.SLACK else [],
        places.names(g.db),
        places.every(g.db),
    )
    return page("screens/list.html", 422 if faults else 200, it=shown, faults=faults)


def _wanted(args: Mapping[str, str], faults: dict[str, str]) -> screens.InventoryAsked:
    """What the addresses ask for; what cannot be read goes to `faults`."""
    counts: dict[str, Any] = {}
    place = job = separation = None
    if args["standing"] and not set(args["standing"].split(",")) <= set(Standing):
        faults["standing"] = _("One of: {choices}.").format(choices=", ".join(Standing))
    if args["mesh"]:
        try:
            counts = counts_about(args["mesh"])
        except ValueError as fault:
            faults["mesh"] = str(fault)
    if args["place"]:
        try:
            known = places.get(g.db, row_number(args["place"])) or find.place(g.db, args["place"])
            place = known.id
        except Refused as fault:
            faults["place"] = str(fault.faults[0].message)
    if args["job"]:
        try:
            job = find_job(g.db, args["job"]).id
        except Refused as fault:
            faults["job"] = str(fault.faults[0].message)
    if args["separation"]:
        separation = row_number(args["separation"])
        if jobs.separation(g.db, separation) is None:
            faults["separation"] = _("Give the images by their numbers, as the job shows them.")
    return due_list(
        g.db,
        args["due"] if args["due"] in DUE else "",
        g.now,
        standing=args["standing"],
        **counts,
        place=place,
        job=job,
        separation=separation,
        there=bool(args["standing"]) and args["due"] not in {screens.MISSING, screens.SLACK},
    )


def _table(counted: Sequence[tuple[str, str, float | None, int]]) -> CountTable:
    """The counts as a table; standings that no screen has are left out."""
    by = {(standing, mesh): number for standing, mesh, _count, number in counted}
    found = {standing for standing, _mesh in by}
    there = tuple(one for one in (*map(str, Standing), screens.SLACK, screens.MISSING) if one in found)
    meshes = list(dict.fromkeys(mesh for _standing, mesh, _count, _number in counted))
    rows = []
    for mesh in meshes:
        cells = tuple(by.get((standing, mesh), 0) for standing in there)
        rows.append((mesh, cells, sum(cells)))
    totals = tuple(sum(cells[place] for _mesh, cells, _sum in rows) for place in range(len(there)))
    return CountTable(there, tuple(rows), totals, sum(totals))


def _filters(used: Mapping[str, str]) -> list[tuple[str, str]]:
    """What the list is narrowed to: (name, as said)."""
    out = []
    for name, text in used.items():
        said = text
        if name == "standing":
            said = ", ".join(_(STANDING_WORDS.get(one, one)) for one in text.split(","))
        elif name == "due":
            said = _(DUE_WORDS.get(text, text))
        elif name == "place":
            place = places.get(g.db, row_number(text))
            said = place.name if place else text
        elif name == "separation":
            image = jobs.separation(g.db, row_number(text))
            said = f"{image.name}, {image.art}" if image else text
        out.append((name, said))
    return out


# New screens


@bp.get("/screens/new")
def new() -> Response:
    """The form for new screens; with `made`, the codes that were given out."""
    answer = entries.answer(g.db, request.args.get("made", ""))
    made = [Code(code) for code in answer.get("codes", ())] if answer else []
    return page("screens/new.html", form=_new_form({"number": "1"}), made=made, values={"number": "1"}, faults={})


def _new_form(values: Mapping[str, Any], faults: Mapping[str, str] | None = None, entry: str = "") -> StepForm:
    step = SCREEN_STEPS["stretch"]
    options = options_for(g.db, None, step, values)
    return step_form(
        g.db, step, "/screens/new", values, options, faults=faults, entry=entry, button=_("Add them and give codes")
    )


@bp.post("/screens/new")
def add() -> AnyResponse:
    """Registers screens, each with its code and its `stretch` entry."""
    sent = form_lists()
    post = one_of(sent, "entry")
    try:
        number = _number(one_of(sent, "number") or "1")
        screens_acts.add(g.db, actor(), form(sent), post=post, now=g.now, number=number)
    except (NotFound, NotAllowed):
        raise
    except Refused as refused:
        faults = faults_by_field(refused)
        entry = new_entry_id() if isinstance(refused, Clash) or "entry" in faults else post
        again_ = _new_form(sent, faults, entry)
        return page("screens/new.html", refused.status, form=again_, made=[], values=sent, faults=faults)
    return redirect(f"/screens/new?made={post}", code=303)


def _number(text: str) -> int:
    try:
        return typed.whole(text)
    except units.NotAQuantity as fault:
        raise Refused([Fault.of("number", fault)]) from None
