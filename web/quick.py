"""A job in a minute: customer, title, press date, pieces, where it is printed, and its print order as a grid.

What nobody knows yet stays open: the fibre is “not known yet”, of which the rules of discharge and of heat say that
nobody can tell; artwork and its revision are named after the job. The job’s page asks for the rest."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import jobs as jobs_acts
from tickets.calculator.kinds import INKS, OPEN_FIBRE
from tickets.calculator.numerals import counted
from tickets.calculator.typed import is_bare
from tickets.domain.jobs import job as sheets
from tickets.domain.jobs.job import Job
from tickets.domain.posted import Doubt, Form
from tickets.domain.refusal import Clash, Refused
from tickets.domain.separation import folded
from tickets.i18n import N_, in_every_language
from tickets.i18n import gettext as _
from tickets.queries import find
from tickets.queries.shop_rules import the_spec
from web.job_form import MOST, Block, TypedForm, data_of, faults_in, units_drawn
from web.support import actor, form_lists, page, units_read

bp = Blueprint("quick", __name__)

COLUMNS = {"colour": N_("Colour"), "ink": N_("Ink"), "mesh": N_("Mesh"), "thread": N_("Thread, if known")}
ROWS = 6
"""Rows of an empty grid."""
AS_ABOVE = ('"', "”", "″")
"""What says in a cell: the same as in the row above."""
WITHOUT_PRINT = {
    folded(word): does
    for does, said in (("flash", N_("flash")), ("cool", N_("cool")))
    for word in in_every_language(said)
}
"""Rows that print nothing, by what stands in the place of their colour in any language; their time is beside it."""

Row = tuple[str, str, str, str]
BLANK: Row = ("", "", "", "")


@dataclass(slots=True)
class QuickJob:
    """What was typed: the job's fields by name, and the rows of its print order."""

    own: dict[str, str] = field(default_factory=dict)
    rows: list[Row] = field(default_factory=list)
    per: str = "/in"

    @property
    def filled(self) -> list[Row]:
        """The rows that say something, “as above” filled in from the last row that prints (or flashes) too."""
        found: list[Row] = []
        for row in self.rows:
            if any(row):
                does = WITHOUT_PRINT.get(folded(row[0]))
                alike = (one for one in reversed(found) if WITHOUT_PRINT.get(folded(one[0])) == does)
                above = next(alike, BLANK)
                found.append(_row(was if cell in AS_ABOVE else cell for was, cell in zip(above, row, strict=True)))
        return found


def _row(cells: object) -> Row:
    some = [str(one).strip() for one in cells][: len(COLUMNS)]  # type: ignore[attr-defined]
    one, two, three, four = [*some, *[""] * (len(COLUMNS) - len(some))]
    return one, two, three, four


def pasted(text: str) -> list[Row]:
    """The rows of text out of a spreadsheet: a line a row, its cells parted by tabs (else by semicolons)."""
    lines = [line for line in text.replace("\r\n", "\n").replace("\r", "\n").split("\n") if line.strip()]
    return [_row(line.split("\t" if "\t" in line else ";")) for line in lines[: MOST["station"]]]


@bp.get("/jobs/quick")
def form() -> Response:
    """An empty form; `from`: with what an earlier job of that code or number says."""
    earlier = request.args.get("from", "").strip()
    return _page(_copied(find.job(g.db, earlier).sheet) if earlier else QuickJob(per=_usual_per()))


def _usual_per() -> str:
    return "/in" if units_read() == "us" else "/cm"


def _copied(sheet: Job) -> QuickJob:
    """What a new job may have in common with an earlier one: all but its press date and number."""
    placement, garment = sheet.placements[0], sheet.garments[0]
    rows: list[Row] = []
    for one in placement.stations:
        if one.prints and one.mesh is not None:
            thread = f"{one.mesh.thread_um:g} µm" if one.mesh.thread_um else ""
            rows.append((one.colour, one.ink, one.mesh.count_as_labelled, thread))
        else:
            rows.append((one.does, f"{one.time_s:g} s" if one.time_s else "", "", ""))
    own = {
        "title": sheet.title, "customer": sheet.customer, "pieces": str(sheet.pieces), "placement": placement.name,
        "width": f"{placement.width_mm:g} mm", "garment": f"{garment.style}, {garment.colour}",
    }  # fmt: skip
    return QuickJob(own, rows, _usual_per())


def _typed(sent: Form) -> QuickJob:
    cells = [[text.strip() for text in sent.sent.get(name, ())] for name in COLUMNS]
    rows = [
        _row(column[number] if number < len(column) else "" for column in cells)
        for number in range(min(max(map(len, cells)), MOST["station"]))
    ]
    names = ("title", "customer", "due", "pieces", "placement", "width", "garment")
    per = sent.one("per")
    return QuickJob({name: sent.one(name) for name in names}, rows, per if per in ("/in", "/cm") else _usual_per())


@bp.post("/jobs/quick")
def enter() -> AnyResponse:
    """Puts pasted rows into the grid, copies a row, checks, or enters the job."""
    sent = Form(form_lists())
    typed, act = _typed(sent), sent.one("act")
    if act == "paste":
        typed.rows = [*(row for row in typed.rows if any(row)), *pasted("\n".join(sent.sent.get("pasted", ())))]
        return _page(typed)
    if act.startswith("down:"):
        number = counted(act.removeprefix("down:"))
        if 2 <= number <= len(typed.rows):
            typed.rows[number - 1] = typed.rows[number - 2]
        return _page(typed)
    whole = _whole(typed)
    data, where = data_of(whole, units_drawn(sent))
    try:
        sheet = sheets.read(data, limits=the_spec(g.db))
        if act == "read":
            return _page(typed, sound=True)
        made = jobs_acts.add(g.db, actor(), [sheet], post=sent.one("entry"), now=g.now, twice=sent.one("twice"))[0]
    except Doubt as doubt:
        return _page(typed, asked=doubt.question, status=doubt.status)
    except Clash as refused:
        return _page(typed, {"": str(refused.faults[0].message)}, status=refused.status)
    except Refused as refused:
        return _page(typed, _faults(faults_in(whole, refused, where), typed), status=refused.status)
    return redirect(f"/jobs/{made}?said=quick", code=303)


def _whole(typed: QuickJob) -> TypedForm:
    """The form with all fields that says the same; what stays open is said as such."""
    own = {name: text for name, text in typed.own.items() if text}
    style, _comma, colour = own.get("garment", "").partition(",")
    title = own.get("title", "")
    job: dict[str, str] = {name: own[name] for name in ("title", "customer", "due") if name in own}
    job |= {"art.name": title, "art.revision": "1"} if title else {}
    garment = {"style": style.strip() or _("not known yet"), "colour": colour.strip() or _("not known yet")}
    garment |= {"fibre": f"100 {OPEN_FIBRE}"} | ({"pieces": own["pieces"]} if "pieces" in own else {})
    where = {name: own[key] for name, key in (("name", "placement"), ("width", "width")) if key in own}
    return TypedForm(job, [garment], [Block(where, [_station(row, typed.per) for row in typed.filled])])


def _station(row: Row, per: str) -> dict[str, str]:
    does = WITHOUT_PRINT.get(folded(row[0]))
    if does:
        return {"does": does} | ({"time": row[1]} if row[1] else {})
    mesh = row[2] + (per if row[2] and is_bare(row[2]) else "")
    said = {"does": "print", "colour": row[0], "ink": row[1], "mesh.count": mesh, "mesh.thread": row[3]}
    return {name: text for name, text in said.items() if text}


_STATION = re.compile(r"placement\[1\]\.station\[([0-9]+)\](?:\.([\w.]+))?")
_CELL = {"colour": "colour", "ink": "ink", "time": "ink", "mesh.count": "mesh", "mesh.thread": "thread"}
_OWN = {
    "garment[1].pieces": "pieces", "garment[1].style": "garment", "garment[1].colour": "garment",
    "placement[1].name": "placement", "placement[1].width": "width", "art.name": "title",
}  # fmt: skip


def _faults(found: Mapping[str, str], typed: QuickJob) -> dict[str, str]:
    """The faults beside the fields and cells of this form: a cell is `row[2].ink`, counted as the page shows them."""
    at = [number for number, row in enumerate(typed.rows, 1) if any(row)] or [1]
    out: dict[str, str] = {}
    for place, text in found.items():
        station = _STATION.fullmatch(place)
        if station:
            row = at[min(counted(station[1]), len(at)) - 1]
            place = f"row[{row}].{_CELL.get(station[2] or '', 'colour')}"
        else:
            place = _OWN.get(place, place if place in typed.own else "")
        out.setdefault(place, text)
    return out


@dataclass(frozen=True, slots=True)
class QuickShown:
    """The form as it is shown: its fields, by what meshes are counted, its rows with blank ones behind; a question
    (`asked`); `sound`: it was checked, and nothing is missing; the units of its numbers without one (`system`)."""

    own: Mapping[str, str]
    per: str
    shown: tuple[Row, ...]
    asked: str
    sound: bool
    system: str
    columns: tuple[tuple[str, str], ...] = tuple(COLUMNS.items())
    inks: tuple[str, ...] = tuple(INKS)


def _page(
    typed: QuickJob,
    faults: Mapping[str, str] | None = None,
    *,
    asked: str = "",
    status: int = 200,
    sound: bool = False,
) -> Response:
    rows = [*typed.rows, *[BLANK] * max(ROWS - len(typed.rows), 1)][: MOST["station"]]
    it = QuickShown(typed.own, typed.per, tuple(rows), asked, sound, units_drawn(Form(form_lists())))
    return page("jobs/quick.html", status, it=it, faults=faults or {})
