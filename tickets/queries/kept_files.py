"""The files of what the office keeps: job sheets as they were written, limits, people, places, settings, papers."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any, NamedTuple

from sqlite_utils import Database

from tickets.calculator.defaults import SPAN_OF
from tickets.domain import limits
from tickets.domain.spec import Row, Spec
from tickets.i18n import N_
from tickets.queries.table_file import LEFT_OUT, Column, Table, lines_of, timed, yes
from tickets.store import files, people, spec
from tickets.store import jobs as store_jobs
from tickets.store.files import Version

JOB = Column("job", N_("Code of the job"), of=lambda one: one.version.job)
VERSION = Column("version", N_("Which version of its sheet, counted from 1"), of=lambda one: one.version.version)
PLACEMENT = Column("placement", N_("Which placement of the job, counted from 1"), of=lambda one: one.placement)
SEPARATION = Column("separation", N_("Number of the image"), of=lambda one: one.separation)
AT = Column("at", N_("When it was noted"), "time")
BY = Column("person", N_("Who noted it"))

VERSIONS = (
    JOB,
    VERSION,
    Column("at", N_("When this version was written"), "time", of=lambda one: one.version.at),
    Column("person", N_("Who wrote it"), of=lambda one: one.version.person),
    Column("title", N_("Its title"), of=lambda one: one.version.sheet.title),
    Column("customer", N_("Its customer"), of=lambda one: one.version.sheet.customer),
    Column("reference", N_("The customer’s number"), of=lambda one: one.version.sheet.reference),
    Column("due", N_("Press date"), of=lambda one: one.version.sheet.due.isoformat()),
    Column(
        "repeats",
        N_("The earlier job that it is a reorder of, as the sheet says it"),
        of=lambda one: one.version.sheet.repeats,
    ),
    Column("art", N_("Artwork"), of=lambda one: one.version.sheet.art.name),
    Column("revision", N_("Its revision"), of=lambda one: one.version.sheet.art.revision),
    Column(
        "picture_file",
        N_("Its picture’s file name, as the sheet says it"),
        of=lambda one: one.version.sheet.art.picture,
    ),
    Column("picture", N_("Fingerprint under which a backup holds its picture"), of=lambda one: one.version.picture),
    Column("pieces", N_("Pieces of all its garments"), of=lambda one: one.version.sheet.pieces),
)
GARMENTS = (
    JOB,
    VERSION,
    Column("garment", N_("Which garment of the sheet, counted from 1"), of=lambda one: one.number),
    Column("style", N_("Style"), of=lambda one: one.it.style),
    Column("colour", N_("Colour"), of=lambda one: one.it.colour),
    Column("pieces", N_("Pieces"), of=lambda one: one.it.pieces),
    Column("lot", N_("The garments’ lot"), of=lambda one: one.it.lot),
    Column("fibre", N_("Fibres, each with its per cent"), "%", many=True, of=lambda one: dict(one.it.fibre)),
    Column("infant", N_("yes: worn by infants"), of=lambda one: yes(one.it.infant)),
)
PLACEMENTS = (
    JOB,
    VERSION,
    PLACEMENT,
    Column("name", N_("Its name"), of=lambda one: one.it.name),
    Column("width_mm", N_("Print width"), "mm", of=lambda one: one.it.width_mm),
    Column("height_mm", N_("Print height; empty: not said"), "mm", of=lambda one: one.it.height_mm),
    Column("from", N_("What it is measured from"), of=lambda one: one.it.from_where),
    Column("platen", N_("Platen"), of=lambda one: one.it.platen),
    Column("art", N_("Artwork"), of=lambda one: one.it.art.name),
    Column("revision", N_("Its revision"), of=lambda one: one.it.art.revision),
    Column(
        "same_image",
        N_("yes: shares its images with another placement on purpose"),
        of=lambda one: yes(one.it.same_image),
    ),
    Column(
        "belt_speed_m_per_min",
        N_("Dryer: belt speed"),
        "m/min",
        of=lambda one: one.it.dryer.belt_speed_m_per_min if one.it.dryer else None,
    ),
    Column(
        "set_c",
        N_("Dryer: what its panel is set to"),
        "degC",
        of=lambda one: one.it.dryer.set_c if one.it.dryer else None,
    ),
    Column(
        "garment_peak_c",
        N_("Dryer: peak on the garment"),
        "degC",
        of=lambda one: one.it.dryer.garment_peak_c if one.it.dryer else None,
    ),
    Column(
        "hold_s", N_("Dryer: time held at the peak"), "s", of=lambda one: one.it.dryer.hold_s if one.it.dryer else None
    ),
)
STATIONS = (
    JOB,
    VERSION,
    PLACEMENT,
    Column("print_order", N_("Position in the print order, counted from 1"), of=lambda one: one.it.number),
    Column("does", N_("print, flash or cool"), of=lambda one: one.it.does),
    Column("revolution", N_("In which turn of the press"), of=lambda one: one.it.revolution),
    Column("head", N_("The head that it wishes for"), of=lambda one: one.it.head),
    SEPARATION,
    Column("image", N_("Name of the image, usually its colour"), of=lambda one: one.it.separation),
    Column("colour", N_("Ink colour"), of=lambda one: one.it.colour),
    Column("ink", N_("Kind of ink"), of=lambda one: one.it.ink),
    Column("series", N_("Ink series"), of=lambda one: one.it.series),
    Column("reference", N_("Colour reference: book and page"), of=lambda one: one.it.reference),
    Column(
        "mesh_count",
        N_("Mesh count that is asked for, as labelled"),
        of=lambda one: one.it.mesh.count_as_labelled if one.it.mesh else "",
    ),
    Column(
        "thread_um",
        N_("Thread that is asked for; empty: not said"),
        "um",
        of=lambda one: one.it.mesh.thread_um if one.it.mesh else None,
    ),
    Column(
        "strokes", N_("Strokes of the squeegee for one print"), of=lambda one: one.it.strokes if one.it.prints else None
    ),
    Column("coverage_pct", N_("Part of its area that is printed"), "%", of=lambda one: one.it.coverage_pct),
    Column(
        "ruling_per_in",
        N_("Halftone ruling"),
        "/in",
        of=lambda one: one.it.halftone.ruling_per_in if one.it.halftone else None,
    ),
    Column(
        "angle_deg",
        N_("Halftone angle to the warp threads"),
        "deg",
        of=lambda one: one.it.halftone.angle_deg if one.it.halftone else None,
    ),
    Column("flood", N_("How the screen is flooded before the stroke"), of=lambda one: one.it.flood),
    Column("choke", N_("How much the image is drawn in under the colour that follows"), of=lambda one: one.it.choke),
    Column("off_contact_mm", N_("Off-contact"), "mm", of=lambda one: one.it.off_contact_mm),
    Column("flake_um", N_("Largest flake of the ink"), "um", of=lambda one: one.it.flake_um),
    Column(
        "squeegee_hardness",
        N_("Squeegee: hardness"),
        of=lambda one: one.it.squeegee.hardness if one.it.squeegee else "",
    ),
    Column("squeegee_angle", N_("Squeegee: angle"), of=lambda one: one.it.squeegee.angle if one.it.squeegee else ""),
    Column(
        "squeegee_angle_mark",
        N_("Squeegee: angle, the press’s mark"),
        of=lambda one: one.it.squeegee.angle_mark if one.it.squeegee else "",
    ),
    Column("squeegee_edge", N_("Squeegee: edge"), of=lambda one: one.it.squeegee.edge if one.it.squeegee else ""),
    Column("squeegee_length", N_("Squeegee: length"), of=lambda one: one.it.squeegee.length if one.it.squeegee else ""),
    Column(
        "squeegee_pressure",
        N_("Squeegee: pressure, or the press’s mark"),
        of=lambda one: one.it.squeegee.pressure if one.it.squeegee else "",
    ),
    Column(
        "squeegee_speed",
        N_("Squeegee: speed, or the press’s mark"),
        of=lambda one: one.it.squeegee.speed if one.it.squeegee else "",
    ),
    Column("recipe", N_("Parts of the ink, each with its grams"), "g", many=True, of=lambda one: dict(one.it.recipe)),
    Column("time_s", N_("Of a flash or a cooling: how long"), "s", of=lambda one: one.it.time_s),
    Column("surface", N_("Of a flash: the surface, as measured or felt"), of=lambda one: one.it.surface),
    Column("note", N_("Remark"), of=lambda one: one.it.note),
)
COLOURWAYS = (
    JOB,
    VERSION,
    Column("colourway", N_("Which colourway of the sheet, counted from 1"), of=lambda one: one.number),
    Column("style", N_("Style of its garment"), of=lambda one: one.it.garment_style),
    Column("garment_colour", N_("Colour of its garment"), of=lambda one: one.it.garment_colour),
    Column("image", N_("Name of the image that differs; empty: none does"), of=lambda one: one.image or LEFT_OUT),
    Column("printed", N_("no: not printed on this garment"), of=lambda one: yes(one.change) if one.image else LEFT_OUT),
    Column(
        "colour",
        N_("Its ink colour there; empty: as for the other garments"),
        of=lambda one: one.change.colour if one.change else LEFT_OUT,
    ),
    Column(
        "ink",
        N_("Its kind of ink there; empty: as for the other garments"),
        of=lambda one: one.change.ink if one.change else LEFT_OUT,
    ),
    Column("series", N_("Its ink series there"), of=lambda one: one.change.series if one.change else LEFT_OUT),
    Column(
        "reference", N_("Its colour reference there"), of=lambda one: one.change.reference if one.change else LEFT_OUT
    ),
)


class PartOfSheet(NamedTuple):
    """What a line of a job's files is made from: a version of its sheet, and a part of that with its number. Of a
    station the `placement` and the number of its `separation`, of a colourway the `image` and how it is `change`d."""

    version: Version
    number: int = 0
    it: Any = None
    placement: int = 0
    separation: int | None = None
    image: str = ""
    change: Any = None


def _versions(db: Database) -> Iterator[PartOfSheet]:
    return (PartOfSheet(one) for one in files.job_versions(db))


def _garments(db: Database) -> Iterator[PartOfSheet]:
    for one in files.job_versions(db):
        yield from (PartOfSheet(one, number, garment) for number, garment in enumerate(one.sheet.garments, 1))


def _placements(db: Database) -> Iterator[PartOfSheet]:
    for one in files.job_versions(db):
        for number, placement in enumerate(one.sheet.placements, 1):
            yield PartOfSheet(one, number, placement, number)


def _stations(db: Database) -> Iterator[PartOfSheet]:
    for one in files.job_versions(db):
        for number, placement in enumerate(one.sheet.placements, 1):
            for station in placement.stations:
                image = one.sheet.separation(placement, station) if station.prints else None
                known = store_jobs.separation_number(db, image, make=False) if image else None
                yield PartOfSheet(one, station.number, station, number, known)


def _colourways(db: Database) -> Iterator[PartOfSheet]:
    for one in files.job_versions(db):
        for number, way in enumerate(one.sheet.colourways, 1):
            for image, change in way.inks.items() or (("", None),):
                yield PartOfSheet(one, number, way, image=image, change=change)


SEPARATIONS = (
    Column("separation", N_("Number of the image, as the log has it")),
    Column("customer", N_("Customer")),
    Column("art", N_("Artwork")),
    Column("revision", N_("Its revision")),
    Column("name", N_("Its name, usually the colour")),
    Column("width_mm", N_("Print width, to the whole mm"), "mm"),
)
CONDITION_ABOUT = {
    "work": N_("Only for this kind of work"),
    "frame": N_("Only for this frame"),
    "count_over_per_in": N_("Only for meshes above this count"),
    "count_to_per_in": N_("Only for meshes up to this count"),
    "side_over_cm": N_("Only for frames whose shorter side is above this"),
    "side_to_cm": N_("Only for frames whose shorter side is up to this"),
    "emulsion": N_("Only for this emulsion"),
    "exposure_unit": N_("Only for this exposure unit"),
    "mesh_colour": N_("Only for white or dyed mesh"),
    "preset": N_("Only when coated like this"),
    "ink": N_("Only for this kind of ink"),
    "fibre": N_("Only for this fibre"),
    "garment": N_("Only for this garment"),
    "job": N_("Only for the job with this code"),
    "lamp": N_("Only for this kind of lamp"),
    "after": N_("Only after this step"),
}


def _condition(name: str) -> Column:
    """The column of what a limit is for."""
    unit = SPAN_OF[name].unit if name in SPAN_OF else ""
    return Column(name, CONDITION_ABOUT[name], unit, of=lambda one: one.row.conditions.get(name, LEFT_OUT))


LIMITS = (
    Column("row", N_("Number of the row, as verdicts have it under “spec”"), of=lambda one: one.row.id),
    Column("key", N_("Which limit"), of=lambda one: one.row.key),
    Column("value", N_("Its value; empty: removed by this row"), of=lambda one: one.row.value),
    Column("unit", N_("Unit of the value"), of=lambda one: one.row.unit),
    *map(_condition, limits.NAMES),
    Column("source", N_("Where it comes from"), of=lambda one: one.row.source),
    Column("at", N_("When it was set"), "time", of=lambda one: one.row.at),
    Column("person", N_("Who set it; command line: shipped with the program"), of=lambda one: one.who),
    Column("stands", N_("yes: counts now; no: replaced or removed"), of=lambda one: yes(one.stands)),
)


class LimitLine(NamedTuple):
    """What a line of the limits is made from: a row, who set it, whether it counts now."""

    row: Row
    who: str
    stands: bool


def _limits(db: Database) -> Iterator[LimitLine]:
    names, rows = people.names(db), spec.rows(db)
    standing = {row.id for row in Spec(rows).rows}
    return (LimitLine(row, names.get(row.person, ""), row.id in standing) for row in rows)


PEOPLE = (
    Column("person", N_("Name")),
    Column("role", N_("screen room, press, press lead, manager; built-in: the command line")),
    Column("signs_in", N_("yes: has a PIN or a password")),
    Column("made_at", N_("When they were added"), "time"),
    Column("left_at", N_("When they left; empty: here"), "time"),
)
PLACES = (
    Column("place", N_("Name")),
    Column("code", N_("Its code")),
    Column("kind", N_("rack, cart, cabinet or press")),
    Column("outside", N_("yes: outside the shop")),
    Column("heads", N_("Heads of a press")),
    Column("turns", N_("How a press turns: clockwise, anticlockwise, any order")),
    Column("made_at", N_("When it was added"), "time"),
    Column("retired_at", N_("Out of use since; empty: in use"), "time"),
)
UNITS = (
    Column("exposure_unit", N_("Name")),
    Column("lamp", N_("point, fluorescent or led")),
    Column("made_at", N_("When it was added"), "time"),
    Column("retired_at", N_("Out of use since; empty: in use"), "time"),
)
LAMPS = (
    Column("number", N_("Number of the note")),
    Column("exposure_unit", N_("The exposure unit")),
    Column("at", N_("When the new lamp was put in"), "time"),
    Column("saved_at", N_("When it was noted"), "time"),
    BY,
    Column("withdraws", N_("Number of the note that this one removes; empty: a new lamp")),
)
SETTINGS = (
    Column("setting", N_("Which setting")),
    Column("value", N_("What it was set to; what has parts is JSON")),
    Column("at", N_("When it was set"), "time"),
    Column("person", N_("Who set it")),
    Column("stands", N_("yes: counts now; no: set again later")),
)
CHANGES = (
    Column("thing", N_("person, place or exposure unit")),
    Column("name", N_("Its name now")),
    Column("what", N_("What was done: added, name, role, ...")),
    Column("was", N_("What it was before")),
    Column("becomes", N_("What it became; of a counted place how many were as logged, were put here, were missing")),
    Column("at", N_("When"), "time"),
    Column("person", N_("Who did it")),
)
CODES = (
    Column("code", N_("The code on a tag or a ticket")),
    Column("kind", N_("screen, job, bucket or place")),
    Column("code_now", N_("The code it has now; another one: the tag was replaced")),
    Column("made_at", N_("When it was issued"), "time"),
)
PRINTED = (
    Column("number", N_("Number of the paper")),
    Column(
        "kind", N_("The tag of a screen, bucket or place, or a job’s ticket; of a run: set-up, comparison or customer")
    ),
    Column("code", N_("Code on the paper")),
    Column("version", N_("Of a job’s ticket: which version of its sheet")),
    Column("address", N_("The address in its QR code")),
    AT,
    BY,
)


def _flags(rows: Iterator[dict[str, Any]], *names: str) -> Iterator[dict[str, Any]]:
    for row in rows:
        yield {**row, **{name: yes(row[name]) for name in names}}


def _settings(db: Database) -> Iterator[dict[str, Any]]:
    for row in _flags(timed(SETTINGS, files.settings(db), db), "stands"):
        yield {**row, "value": yes(row["value"]) if isinstance(row["value"], bool) else row["value"]}


def _table(name: str, about: str, columns: Sequence[Column], found: Callable[[Database], Iterable[Any]]) -> Table:
    """A table whose lines are written by its columns, from what `found` gives."""
    return Table(name, about, tuple(columns), lambda db: lines_of(columns, found(db), db))


TABLES = (
    _table("job_versions", N_("A version of a job’s sheet: who wrote it, and when"), VERSIONS, _versions),
    _table("job_garments", N_("A garment on a version of a job’s sheet"), GARMENTS, _garments),
    _table("job_placements", N_("A placement on a version of a job’s sheet"), PLACEMENTS, _placements),
    _table("job_stations", N_("A position in a placement’s print order"), STATIONS, _stations),
    _table("job_colourways", N_("What is printed otherwise on a garment"), COLOURWAYS, _colourways),
    Table("separations", N_("An image to print"), SEPARATIONS, files.separations),
    _table("limits", N_("A limit as it was set once"), LIMITS, _limits),
    Table(
        "people", N_("A person"), PEOPLE, lambda db: _flags(timed(PEOPLE, files.people(db), db), "signs_in"),
        office=True,
    ),
    Table("places", N_("A place"), PLACES, lambda db: _flags(timed(PLACES, files.places(db), db), "outside")),
    Table("exposure_units", N_("An exposure unit"), UNITS, lambda db: timed(UNITS, files.exposure_units(db), db)),
    Table("lamp_changes", N_("A new lamp, or a note removed"), LAMPS,
          lambda db: timed(LAMPS, files.lamp_changes(db), db)),
    Table("settings", N_("A setting as it was made once"), SETTINGS, _settings, office=True),
    Table("changes", N_("A change of a person, a place or an exposure unit"), CHANGES,
          lambda db: timed(CHANGES, files.changes(db), db), office=True),
    Table("codes", N_("A code"), CODES, lambda db: timed(CODES, files.codes(db), db)),
    Table("printed", N_("A paper that was printed"), PRINTED, lambda db: timed(PRINTED, files.printed(db), db)),
)  # fmt: skip
