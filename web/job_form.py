"""Entering and changing a job: on a form or as TOML, read over before it is saved."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import jobs as jobs_acts
from tickets.calculator import typed as typed_units
from tickets.calculator import units
from tickets.calculator.kinds import INKS
from tickets.calculator.numerals import counted
from tickets.calculator.several import fibre_hint
from tickets.calculator.verdict import say
from tickets.domain.jobs import job as sheets
from tickets.domain.jobs.job import DOES, Job
from tickets.domain.jobs.versions import POSITION, SheetChange
from tickets.domain.overtaken import Overtaken
from tickets.domain.posted import Doubt, Form
from tickets.domain.refusal import Clash, Fault, Refused
from tickets.domain.runs.job_remarks import CURE, ON_THE_GARMENT
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import find, target
from tickets.queries.shop_rules import the_spec, zone
from tickets.store import jobs as store
from tickets.store import pictures as store_pictures
from tickets.store import runs
from web import pictures
from web.support import ToldFault, actor, form_lists, page, units_read

bp = Blueprint("job_form", __name__)

MOST = {"garment": 60, "placement": 20, "station": 60, "colourway": 60, "ink": 60}


# What is asked ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class JobField:
    """A field of the job form. `kind`: text, date, whole, number (`unit`: meant where none is typed), mesh, ink, flag,
    long, parts (names with numbers)."""

    name: str
    label: str
    kind: str = "text"
    unit: str = ""
    folded: bool = False
    hint: str = ""
    needed: bool = False


JOB = (
    JobField("title", N_("Title"), needed=True),
    JobField("customer", N_("Customer"), needed=True),
    JobField("due", N_("Press date"), "date", needed=True),
    JobField("reference", N_("The customer’s number")),
    JobField("art.name", N_("Artwork"), needed=True),
    JobField("art.revision", N_("Revision of the artwork"), needed=True),
    JobField(
        "repeats", N_("Reorder of an earlier job"), folded=True, hint=N_("its code, or the customer’s number of it")
    ),
)
GARMENT = (
    JobField("style", N_("Style"), needed=True),
    JobField("colour", N_("Colour"), needed=True),
    JobField("pieces", N_("Pieces"), "whole", needed=True),
    JobField("fibre", N_("Fibre"), "parts", hint=N_("percent of each, such as 60 cotton, 40 polyester"), needed=True),
    JobField("lot", N_("Lot"), folded=True),
    JobField("infant", N_("for infants"), "flag", folded=True),
)
PLACEMENT = (
    JobField("name", N_("Where it is printed"), hint=N_("such as full front, left sleeve"), needed=True),
    JobField("width", N_("Print width"), "number", "mm", needed=True),
    JobField("height", N_("Print height"), "number", "mm"),
    JobField("from", N_("Measured from"), hint=N_("such as 75 mm below the collar seam")),
    JobField("platen", N_("Platen"), folded=True),
    JobField("art.name", N_("Artwork, if it is another one here"), folded=True),
    JobField("art.revision", N_("Its revision"), folded=True),
    JobField("same_image", N_("the same image as in another placement"), "flag", folded=True),
    JobField("dryer.belt_speed", N_("Dryer: belt speed"), "number", "m/min", folded=True),
    JobField("dryer.set", N_("Dryer: panel setting"), "number", "degC", folded=True),
    JobField("dryer.garment_peak", N_("Dryer: garment peak"), "number", "degC", folded=True),
    JobField("dryer.hold", N_("Dryer: held at the peak"), "number", "s", folded=True),
)
_PLACE_ON_PRESS = (
    JobField("head", N_("Head asked for"), "whole", folded=True),
    JobField("revolution", N_("Revolution"), "whole", folded=True),
    JobField("note", N_("Note"), "long", folded=True),
)
STATIONS = {
    "print": (
        JobField("colour", N_("Colour"), needed=True),
        JobField("separation", N_("Name of the image, if not its colour")),
        JobField("ink", N_("Ink"), "ink", needed=True),
        JobField("mesh.count", N_("Mesh"), "mesh", needed=True),
        JobField("mesh.thread", N_("Thread"), "number", "um"),
        JobField("strokes", N_("Strokes"), "whole", hint=N_("empty: 1")),
        JobField("squeegee.hardness", N_("Squeegee hardness"), folded=True, hint=N_("such as 70, or 70/90/70")),
        JobField("squeegee.angle", N_("Squeegee angle"), "number", "deg", folded=True),
        JobField("squeegee.angle_mark", N_("Squeegee angle, mark on the press"), folded=True),
        JobField("squeegee.edge", N_("Squeegee edge"), folded=True),
        JobField("squeegee.length", N_("Squeegee length"), "number", "mm", folded=True),
        JobField("squeegee.pressure", N_("Pressure"), folded=True),
        JobField("squeegee.speed", N_("Speed"), folded=True),
        JobField("flood", N_("Flood"), folded=True),
        JobField("off_contact", N_("Off-contact"), "number", "mm", folded=True),
        JobField("series", N_("Ink series"), folded=True),
        JobField("reference", N_("Colour reference: book and page"), folded=True),
        JobField(
            "recipe", N_("Recipe"), "parts", folded=True, hint=N_("grams of each part, such as 940 base, 60 activator")
        ),
        JobField("coverage", N_("Coverage"), "number", "%", folded=True),
        JobField("halftone.ruling", N_("Halftone ruling"), "number", "/in", folded=True),
        JobField("halftone.angle", N_("Halftone angle"), "number", "deg", folded=True),
        JobField("choke", N_("Choke"), folded=True),
        JobField("flake", N_("Largest flake of the ink"), "number", "um", folded=True),
        *_PLACE_ON_PRESS,
    ),
    "flash": (
        JobField("time", N_("Time"), "number", "s", needed=True),
        JobField("surface", N_("Surface after it"), hint=N_("measured, or such as: dry to the touch")),
        *_PLACE_ON_PRESS,
    ),
    "cool": (JobField("time", N_("Time"), "number", "s"), *_PLACE_ON_PRESS),
}
COLOURWAY = (
    JobField("garment.style", N_("Garment: style"), needed=True),
    JobField("garment.colour", N_("Garment: colour"), needed=True),
)
INK = (
    JobField("separation", N_("Image"), needed=True),
    JobField("colour", N_("Colour here")),
    JobField("ink", N_("Ink here"), "ink"),
    JobField("series", N_("Ink series"), folded=True),
    JobField("reference", N_("Colour reference: book and page"), folded=True),
    JobField("left_out", N_("not printed on this garment"), "flag"),
)
PARTS = ("fibre", "recipe")


# From what was sent to the data of a job, and back --------------------------------------------------


@dataclass(slots=True)
class TypedForm:
    """What a job form holds, block by block, as typed: name within the block -> text."""

    job: dict[str, str] = field(default_factory=dict)
    garments: list[dict[str, str]] = field(default_factory=list)
    placements: list[Block] = field(default_factory=list)
    colourways: list[Block] = field(default_factory=list)


@dataclass(slots=True)
class Block:
    """A block with blocks in it: a placement with its stations, a colourway with its inks."""

    own: dict[str, str] = field(default_factory=dict)
    parts: list[dict[str, str]] = field(default_factory=list)


_NAME = re.compile(r"(garment|placement|colourway)\[([0-9]{1,4})\]\.(?:(station|ink)\[([0-9]{1,4})\]\.)?(.+)")
_BLOCK = re.compile(
    r"(garment|placement|colourway)(?:\[([0-9]{1,4})\])?(?:\.(print|flash|cool|ink|station)(?:\[([0-9]{1,4})\])?)?"
)
_NOT_OURS = ("entry", "act", "secret", "toml", "picture_kept", "units", "seen", "bare")


def typed_of(sent: Mapping[str, Sequence[str]]) -> TypedForm:
    """What was sent, blank blocks left out, so that the blocks that stay count from 1."""
    flat_job: dict[str, str] = {}
    blocks: dict[str, dict[int, Block]] = {"garment": {}, "placement": {}, "colourway": {}}
    inner: dict[tuple[str, int], dict[int, dict[str, str]]] = {}
    for name, values in sent.items():
        text = next((value.strip() for value in values if value.strip()), "")
        part = _NAME.fullmatch(name)
        if part is None:
            if name not in _NOT_OURS and text:
                flat_job[name] = text
            continue
        kind, number, sub, order, key = part[1], counted(part[2]), part[3], part[4], part[5]
        block = blocks[kind].setdefault(number, Block())
        if sub:
            row = inner.setdefault((kind, number), {}).setdefault(counted(order), {})
            if text:
                row[key] = text
        elif text:
            block.own[key] = text
    for (kind, number), rows in inner.items():
        blocks[kind][number].parts = [row for _order, row in sorted(rows.items()) if not _blank(row)]
    in_order = {
        kind: [block for _number, block in sorted(found.items()) if not _blank(block.own) or block.parts]
        for kind, found in blocks.items()
    }
    return TypedForm(
        flat_job, [block.own for block in in_order["garment"]], in_order["placement"], in_order["colourway"]
    )


def _blank(row: Mapping[str, str]) -> bool:
    """True when nothing was said: what a print does, and a unit, say nothing alone; that it flashes or cools does."""
    if row.get("does") in ("flash", "cool"):
        return False
    return not any(text for name, text in row.items() if name != "does" and not name.endswith(".unit"))


def beside(ask: JobField, system: str) -> str:
    """The unit that stands beside a box, for a reader with that habit: a bare number is in it."""
    return units.unit_in(ask.unit, system)


def units_drawn(sent: Form) -> str:
    """The units that a form was drawn in, whatever its reader chose since: those of its numbers without one."""
    drawn = sent.one("units")
    return drawn if drawn in units.SYSTEMS else units_read()


def data_of(typed: TypedForm, system: str = "metric") -> tuple[dict[str, Any], dict[str, str]]:
    """The data of a job file out of a form, and where its places stand in the form when their names differ. `system`:
    the units that the form had beside its boxes."""
    where: dict[str, str] = {}
    data = _tree(typed.job, JOB)
    # an empty garment and placement, so that what they need is missed beside their fields
    data["garment"] = [_tree(one, GARMENT) for one in typed.garments or [{}]]
    data["placement"] = []
    for block in typed.placements or [Block()]:
        made = _tree(block.own, PLACEMENT, system)
        rows = block.parts or [{"does": "print"}]
        made["station"] = [_tree(row, STATIONS.get(row.get("does", "print"), ()), system) for row in rows]
        data["placement"].append(made)
    data["colourway"] = []
    for number, block in enumerate(typed.colourways, 1):
        made = _tree(block.own, COLOURWAY)
        inks: dict[str, Any] = {}
        for order, row in enumerate(block.parts, 1):
            name = row.get("separation", "")
            where[f"colourway[{number}].inks.{name}"] = f"colourway[{number}].ink[{order}].separation"
            for key in ("colour", "ink", "series", "reference"):
                where[f"colourway[{number}].inks.{name}.{key}"] = f"colourway[{number}].ink[{order}].{key}"
            left_out = bool(row.get("left_out"))
            inks[name] = False if left_out else _tree({k: v for k, v in row.items() if k != "separation"}, INK)
        made["inks"] = inks
        data["colourway"].append(made)
    if not data["colourway"]:
        del data["colourway"]
    return data, where


def _tree(row: Mapping[str, str], asks: Sequence[JobField], system: str = "metric") -> dict[str, Any]:
    """A block as nested data: `mesh.count` -> {"mesh": {"count": ...}}. A bare number gets the unit beside its box."""
    kinds = {ask.name: ask for ask in asks}
    out: dict[str, Any] = {}
    for name, text in row.items():
        if name.endswith(".unit"):
            continue
        ask = kinds.get(name)
        value: Any = text
        if ask is not None:
            if ask.kind == "flag":
                value = True
            elif ask.kind == "mesh":
                value = with_unit(text, row.get(f"{name}.unit", ""))
            elif ask.kind == "number":
                value = with_unit(text, beside(ask, system))
        *above, last = name.split(".")
        at = out
        for key in above:
            at = at.setdefault(key, {})
        at[last] = value
    if not out.get("does") and asks in STATIONS.values():
        out["does"] = "print"
    for ask in asks:
        if ask.needed and "." in ask.name:
            out.setdefault(ask.name.split(".")[0], {})
    return out


def with_unit(text: str, unit: str) -> str:
    """A number typed without a unit, with the one that stands beside its box; anything else as it is."""
    digits, behind = units.split(text)
    if unit == "%" and typed_units.is_share(text) or unit == "mm" and "/" in digits:
        return text  # the share itself, or inches, so that it is asked about
    return f"{text} {unit}" if digits and not behind and unit and units.clock(digits) is None else text


_ASKS: Mapping[str, tuple[JobField, ...]] = {
    "": JOB,
    "garment": GARMENT,
    "placement": PLACEMENT,
    "station": tuple(one for fields in STATIONS.values() for one in fields),
    "colourway": COLOURWAY,
}


def changed_words(one: SheetChange) -> tuple[str, str]:
    """What a change of a sheet is about, in words: the part of it (empty: the job itself) and the field."""
    part, kind = one.where[-1] if one.where else None, one.where[-1].kind if one.where else ""
    where = []
    for there in one.where:
        said = _("position {n}: {name}").format(n=there.position, name=there.called) if there.position else there.called
        where.append(said)
    label = next((_(field.label) for field in _ASKS.get(kind, ()) if field.name == one.field), "")
    if one.field == POSITION:
        label = _("Position")
    elif one.field == "art.picture":
        label = _("File of the picture")
    elif one.field == "does":
        label = _("Prints, flashes or cools")
    elif one.field.startswith("inks.") and part is not None:
        label = _("Ink of {image}").format(image=one.field.removeprefix("inks.").replace(".", ", "))
    elif not one.field:
        label = _("added") if one.now else _("left out")
    return " · ".join(where), label or one.field


def flat(data: Mapping[str, Any], above: str = "") -> dict[str, str]:
    """Nested data as the names and texts of a form; parts as one text."""
    out: dict[str, str] = {}
    for name, value in data.items():
        key = f"{above}{name}"
        if name in PARTS and isinstance(value, Mapping):
            out[key] = ", ".join(f"{amount} {part}" for part, amount in value.items())
        elif isinstance(value, Mapping):
            out |= flat(value, f"{key}.")
        elif isinstance(value, bool):
            out |= {key: "yes"} if value else {}
        elif not isinstance(value, (list, tuple)):
            out[key] = str(value)
    return out


def typed_from(sheet: Job) -> TypedForm:
    """The form that says what a job says."""
    data = sheet.to_dict()
    return TypedForm(
        flat({key: value for key, value in data.items() if key not in ("garment", "placement", "colourway")}),
        [flat(one) for one in data["garment"]],
        [
            Block(
                flat({key: value for key, value in one.items() if key != "station"}),
                [flat(station) for station in one["station"]],
            )
            for one in data["placement"]
        ],
        [
            Block(
                flat({"garment": one["garment"]}),
                [
                    {"separation": name, "left_out": "yes"} if change is False else {"separation": name, **flat(change)}
                    for name, change in one["inks"].items()
                ],
            )
            for one in data.get("colourway", ())
        ],
    )


def faults_in(typed: TypedForm, refused: Refused, where: Mapping[str, str]) -> dict[str, str]:
    """The messages beside the fields of the form: a place without a field of its own goes to the nearest above it."""
    names: dict[str, str] = {"": "-"} | _names("", JOB, typed.job)
    for number, row in enumerate(typed.garments or [{}], 1):
        names |= {f"garment[{number}]": "-"} | _names(f"garment[{number}].", GARMENT, row)
    for number, block in enumerate(typed.placements or [Block()], 1):
        base = f"placement[{number}]"
        names |= {base: "-"} | _names(f"{base}.", PLACEMENT, block.own)
        for order, row in enumerate(block.parts or [{"does": "print"}], 1):
            inner = f"{base}.station[{order}]"
            asks = STATIONS.get(row.get("does", "print"), STATIONS["print"])
            names |= {inner: "-"} | _names(f"{inner}.", asks, row)
    for number, block in enumerate(typed.colourways, 1):
        base = f"colourway[{number}]"
        names |= {base: "-"} | _names(f"{base}.", COLOURWAY, block.own)
        for order, row in enumerate(block.parts or [{}], 1):
            names |= _names(f"{base}.ink[{order}].", INK, row)
    stand_in = {"mesh": "mesh.count", "art": "art.name", "halftone": "halftone.ruling", "garment": "garment.style"}
    out: dict[str, str] = {}
    for fault in refused.faults:
        at = where.get(fault.where, fault.where)
        while at not in names:
            head, _dot, last = at.rpartition(".")
            other = f"{head}.{stand_in[last]}" if head and last in stand_in else stand_in.get(last, "")
            at = other if other in names and other else head
        text = fault.message if names[at] else _needed(at)
        if at in ("", *(name for name in names if name.endswith("]"))) and fault.where and at != fault.where:
            text = f"{fault.where}: {text}"
        out[at] = f"{out[at]} {text}" if at in out else ToldFault.of(text, fault.readings)
    return out


def _needed(at: str) -> str:
    """What to say beside a field that was left empty; of a fibre also what to write."""
    return f"{_('This is needed.')} {fibre_hint()}" if at.endswith(".fibre") else _("This is needed.")


def _names(prefix: str, asks: Sequence[JobField], row: Mapping[str, str]) -> dict[str, str]:
    """The fields of a block, each with what was typed in it."""
    return {f"{prefix}{ask.name}": row.get(ask.name, "") for ask in asks}


# Pages ----------------------------------------------------------------------------------------------------


@bp.get("/jobs/new")
def new() -> Response:
    """An empty form."""
    return form_page(TypedForm())


@bp.post("/jobs/new")
def enter() -> AnyResponse:
    """Adds a block and keeps what was typed, reads the job over, or enters it."""
    return _take(None)


@bp.get("/jobs/<code>/change")
def change_form(code: str) -> Response:
    """The form with what the job says now."""
    saved = find.job(g.db, code)
    return form_page(typed_from(saved.sheet), saved)


@bp.post("/jobs/<code>/change")
def change(code: str) -> AnyResponse:
    """A new version of the job."""
    return _take(find.job(g.db, code))


def _take(saved: store.Saved | None) -> AnyResponse:
    sent = form_lists()
    post = Form(sent).one("entry")
    if "toml" in sent or request.files.get("file"):
        return _take_toml(saved, sent, post)
    typed = typed_of(sent)
    act = Form(sent).one("act")
    picture = _kept(sent)
    faults: dict[str, str] = {}
    try:
        picture = pictures.take() or picture
    except Refused as refused:
        faults["picture"] = str(refused.faults[0].message)
    if act and act != "read" and act != "save":
        return form_page(rebuilt(typed, act), saved, picture=picture, faults=faults)
    data, where = data_of(typed, units_drawn(Form(sent)))
    status = 422
    try:
        sheet = sheets.read(data, limits=the_spec(g.db))
        if act == "read" and not faults:
            return form_page(typed, saved, sheet=sheet, picture=picture)
        if not faults:
            return _save(saved, sheet, post, picture, Form(sent))
    except Doubt as doubt:
        return form_page(typed, saved, asked=_asked(doubt, sent), status=doubt.status, picture=picture)
    except Overtaken as over:
        now = find.job(g.db, saved.code) if saved else None
        return form_page(typed, now, status=over.status, picture=picture, overtaken=over)
    except Clash as refused:
        faults[""], status = str(refused.faults[0].message), refused.status
    except Refused as refused:
        faults |= faults_in(typed, refused, where)
        status = refused.status
    return form_page(typed, saved, faults=faults, status=status, picture=picture)


def _kept(sent: Mapping[str, Sequence[str]]) -> str | None:
    """The picture that an earlier sending of this form left in the shop: a file cannot come back in a form."""
    found = Form({name: list(values) for name, values in sent.items()}).one("picture_kept")
    return found if found and store_pictures.get(g.db, found) is not None else None


class JobAsked(NamedTuple):
    """A question about what was typed or sent: the field that answers it, its text, and those answered before."""

    where: str
    question: str
    answered: tuple[str, ...]


ANSWERS = ("twice", "bare")
"""Fields that answer such questions: that a job is here already, that its picture is not."""


def _asked(doubt: Doubt, sent: Mapping[str, list[str]]) -> JobAsked:
    where = doubt.faults[0].where
    return JobAsked(where, doubt.question, tuple(name for name in ANSWERS if name != where and Form(sent).yes(name)))


def _save(saved: store.Saved | None, sheet: Job, post: str, picture: str | None, form: Form) -> AnyResponse:
    bare = form.one("bare")
    if saved is None:
        twice, pictures_of = form.one("twice"), [picture]
        made = jobs_acts.add(g.db, actor(), [sheet], post=post, now=g.now, pictures=pictures_of, twice=twice, bare=bare)
        return redirect(f"/jobs/{made[0]}?said=entered", code=303)
    seen = counted(request.form.get("seen", ""))
    jobs_acts.change(g.db, actor(), saved, sheet, post=post, now=g.now, picture=picture, seen=seen, bare=bare)
    return redirect(f"/jobs/{saved.code}?said=changed", code=303)


def _blocks(typed: TypedForm, kind: str) -> list[Any]:
    if kind == "garment":
        return typed.garments
    return typed.placements if kind == "placement" else typed.colourways


def rebuilt(typed: TypedForm, act: str) -> TypedForm:
    """The form after a button that saves nothing: `add:garment`, `add:placement[1].flash`, `earlier:` or
    `remove:placement[1].station[2]`. What cannot be done leaves the form as it is."""
    verb, _colon, what = act.partition(":")
    part = _BLOCK.fullmatch(what)
    if part is None:
        return typed
    kind, number, sub, order = part[1], counted(part[2]), part[3], counted(part[4])
    blocks = _blocks(typed, kind)
    if kind == "placement" and not blocks:
        blocks.append(Block())
    if verb == "add" and not number and len(blocks) < MOST[kind]:
        blocks.append({} if kind == "garment" else Block())
        return typed
    if not 1 <= number <= len(blocks):
        return typed
    if kind != "garment" and sub:
        rows = blocks[number - 1].parts
        if verb == "add" and len(rows) < MOST["station"]:
            rows.append({"does": sub} if sub in DOES else {})
        elif verb == "remove" and 1 <= order <= len(rows):
            del rows[order - 1]
        elif verb == "earlier" and 2 <= order <= len(rows):
            rows[order - 2], rows[order - 1] = rows[order - 1], rows[order - 2]
    elif verb == "remove":
        del blocks[number - 1]
    return typed


def form_page(
    typed: TypedForm,
    saved: store.Saved | None = None,
    *,
    faults: Mapping[str, str] | None = None,
    sheet: Job | None = None,
    status: int = 200,
    picture: str | None = None,
    toml: str = "",
    toml_faults: Sequence[Fault] = (),
    asked: JobAsked | None = None,
    toml_asked: JobAsked | None = None,
    overtaken: Overtaken | None = None,
) -> Response:
    """The form of a job, with what was typed; `sheet`: read without fault, so its remarks are shown before saving;
    `asked`, `toml_asked`: a question about what was typed, or sent as TOML."""
    return page(
        "jobs/form.html",
        status,
        typed=TypedForm(
            typed.job,
            typed.garments or [{}],
            [Block(one.own, one.parts or [{"does": "print"}]) for one in typed.placements or [Block()]],
            [Block(one.own, one.parts or [{}]) for one in typed.colourways],
        ),
        asks={"job": JOB, "garment": GARMENT, "placement": PLACEMENT, "colourway": COLOURWAY, "ink": INK},
        stations=STATIONS,
        beside=beside,
        system=units_drawn(Form(form_lists())),
        inks=list(INKS.items()),
        job=saved,
        frozen=saved is not None and runs.any_impressions(g.db, saved.id),
        action=f"/jobs/{saved.code}/change" if saved else "/jobs/new",
        faults=faults or {},
        read_over=sheet,
        remarks=said_remarks(sheet) if sheet else [],
        picture=picture,
        toml=toml or (sheets.to_toml(saved.sheet) if saved else ""),
        toml_faults=toml_faults,
        asked=asked,
        toml_asked=toml_asked,
        overtaken=overtaken,
        seen=0 if saved is None else saved.version if overtaken else _seen(saved),
    )


def _seen(saved: store.Saved) -> int:
    """The version that the form shows: the one it was opened with, also where it comes back."""
    sent = counted(request.form.get("seen", "")) if request.method == "POST" else 0
    return sent or saved.version


# As TOML ------------------------------------------------------------------------------------------------------------


def _take_toml(saved: store.Saved | None, sent: Mapping[str, list[str]], post: str) -> AnyResponse:
    """A job pasted or sent as a file in the shape of a job file; all that is wrong is said with its place."""
    text = next((one for one in sent.get("toml", ()) if one.strip()), "")
    upload, picture = request.files.get("file"), _kept(sent)
    try:
        if upload is not None and upload.filename:
            text = sheets.toml_text(upload.read(sheets.LARGEST_FILE + 1), "file")
        sheet = sheets.read(parsed(text), limits=the_spec(g.db))
        if Form(sent).one("act") == "read":
            return form_page(typed_from(sheet), saved, sheet=sheet, toml=text)
        picture = pictures.take() or picture
        return _save(saved, sheet, post, picture, Form(sent))
    except Doubt as doubt:
        asked = _asked(doubt, sent)
        return form_page(typed_from(sheet), saved, status=doubt.status, toml=text, toml_asked=asked, picture=picture)
    except Overtaken as over:
        now = find.job(g.db, saved.code) if saved else None
        return form_page(typed_from(sheet), now, status=over.status, toml=text, overtaken=over)
    except Refused as refused:
        typed = typed_from(saved.sheet) if saved else TypedForm()
        return form_page(typed, saved, status=refused.status, toml=text, toml_faults=refused.faults)


def parsed(text: str) -> dict[str, Any]:
    """The data in TOML text. Raises Refused with the line."""
    if not text.strip():
        raise Refused(_("Paste a job here, or choose its file."), "toml")
    return sheets.toml_data(text, "toml")


# What is said of a job that was read ------------------------------------------------------------------------------


def today() -> str:
    """The shop's day, as press dates are kept."""
    return str(g.now.astimezone(zone(g.db)).date().isoformat())


def said_remarks(
    sheet: Job, saved: store.Saved | None = None, targets: Mapping[str, target.Aim] | None = None
) -> list[dict[str, Any]]:
    """The remarks on a job as they are said, each with its place and source. `saved`: it is one of the shop's;
    `targets`: what its placements are to meet, by name."""
    out = []
    if saved:
        found = target.remarked(g.db, saved, g.now, targets)
    else:
        found = target.remarked_sheet(g.db, sheet, g.now)
    for one in found:
        told = say(one.reason, units_read())
        level = str(one.reason.level)
        first = one.reason.key in ON_THE_GARMENT | CURE
        out.append(
            {"place": place_said(one.place, sheet), "level": level, "said": told, "source": one.source, "first": first}
        )
    return out


def place_said(place: str, sheet: Job) -> str:
    """Where in the job, in words: `placement[1].station[3].mesh` -> Full front, print order 3 (blue)."""
    found, placement = [], 0
    for name, digits in re.findall(r"(\w+)\[([0-9]+)\]", place):
        number = counted(digits)
        if name == "placement":
            placement = number
            found.append(sheet.placements[number - 1].name)
        elif name == "station":
            station = sheet.placements[placement - 1].stations[number - 1]
            what = [station.separation] if station.prints else []
            found.append(" ".join([_("position {number}").format(number=number), *(f"({one})" for one in what)]))
        elif name == "garment":
            found.append(f"{sheet.garments[number - 1].style}, {sheet.garments[number - 1].colour}")
        elif name == "colourway":
            found.append(_("colourway {number}").format(number=number))
    return ", ".join(found)
