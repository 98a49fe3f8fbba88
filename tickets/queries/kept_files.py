"""The files of what the office keeps: job sheets as they were written, limits, people, places, settings, papers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlite_utils import Database

from tickets.calculator.defaults import SPAN_OF
from tickets.domain import limits
from tickets.domain.jobs.job import Placement, Station
from tickets.domain.spec import Spec
from tickets.i18n import N_
from tickets.queries.table_file import Clock, Column, Table, timed, yes
from tickets.store import files, people, spec
from tickets.store import jobs as store_jobs
from tickets.store.files import Version

JOB = Column("job", N_("Code of the job"))
VERSION = Column("version", N_("Which version of its sheet, counted from 1"))
PLACEMENT = Column("placement", N_("Which placement of the job, counted from 1"))
SEPARATION = Column("separation", N_("Number of the image"))
AT = Column("at", N_("When it was noted"), "time")
BY = Column("person", N_("Who noted it"))

VERSIONS = (
    JOB,
    VERSION,
    Column("at", N_("When this version was written"), "time"),
    Column("person", N_("Who wrote it")),
    Column("title", N_("Its title")),
    Column("customer", N_("Its customer")),
    Column("reference", N_("The customer’s number")),
    Column("due", N_("Press date")),
    Column("repeats", N_("The earlier job that it is a reorder of, as the sheet says it")),
    Column("art", N_("Artwork")),
    Column("revision", N_("Its revision")),
    Column("picture_file", N_("Its picture’s file name, as the sheet says it")),
    Column("picture", N_("Fingerprint under which a backup holds its picture")),
    Column("pieces", N_("Pieces of all its garments")),
)
GARMENTS = (
    JOB,
    VERSION,
    Column("garment", N_("Which garment of the sheet, counted from 1")),
    Column("style", N_("Style")),
    Column("colour", N_("Colour")),
    Column("pieces", N_("Pieces")),
    Column("lot", N_("The garments’ lot")),
    Column("fibre", N_("Fibres, each with its per cent"), "%", many=True),
    Column("infant", N_("yes: worn by infants")),
)
PLACEMENTS = (
    JOB,
    VERSION,
    PLACEMENT,
    Column("name", N_("Its name")),
    Column("width_mm", N_("Print width"), "mm"),
    Column("height_mm", N_("Print height; empty: not said"), "mm"),
    Column("from", N_("What it is measured from")),
    Column("platen", N_("Platen")),
    Column("art", N_("Artwork")),
    Column("revision", N_("Its revision")),
    Column("same_image", N_("yes: shares its images with another placement on purpose")),
    Column("belt_speed_m_per_min", N_("Dryer: belt speed"), "m/min"),
    Column("set_c", N_("Dryer: what its panel is set to"), "degC"),
    Column("garment_peak_c", N_("Dryer: peak on the garment"), "degC"),
    Column("hold_s", N_("Dryer: time held at the peak"), "s"),
)
STATIONS = (
    JOB,
    VERSION,
    PLACEMENT,
    Column("print_order", N_("Position in the print order, counted from 1")),
    Column("does", N_("print, flash or cool")),
    Column("revolution", N_("In which turn of the press")),
    Column("head", N_("The head that it wishes for")),
    SEPARATION,
    Column("image", N_("Name of the image, usually its colour")),
    Column("colour", N_("Ink colour")),
    Column("ink", N_("Kind of ink")),
    Column("series", N_("Ink series")),
    Column("reference", N_("Colour reference: book and page")),
    Column("mesh_count", N_("Mesh count that is asked for, as labelled")),
    Column("thread_um", N_("Thread that is asked for; empty: not said"), "um"),
    Column("strokes", N_("Strokes of the squeegee for one print")),
    Column("coverage_pct", N_("Part of its area that is printed"), "%"),
    Column("ruling_per_in", N_("Halftone ruling"), "/in"),
    Column("angle_deg", N_("Halftone angle to the warp threads"), "deg"),
    Column("flood", N_("How the screen is flooded before the stroke")),
    Column("choke", N_("How much the image is drawn in under the colour that follows")),
    Column("off_contact_mm", N_("Off-contact"), "mm"),
    Column("flake_um", N_("Largest flake of the ink"), "um"),
    Column("squeegee_hardness", N_("Squeegee: hardness")),
    Column("squeegee_angle", N_("Squeegee: angle")),
    Column("squeegee_angle_mark", N_("Squeegee: angle, the press’s mark")),
    Column("squeegee_edge", N_("Squeegee: edge")),
    Column("squeegee_length", N_("Squeegee: length")),
    Column("squeegee_pressure", N_("Squeegee: pressure, or the press’s mark")),
    Column("squeegee_speed", N_("Squeegee: speed, or the press’s mark")),
    Column("recipe", N_("Parts of the ink, each with its grams"), "g", many=True),
    Column("time_s", N_("Of a flash or a cooling: how long"), "s"),
    Column("surface", N_("Of a flash: the surface, as measured or felt")),
    Column("note", N_("Remark")),
)
COLOURWAYS = (
    JOB,
    VERSION,
    Column("colourway", N_("Which colourway of the sheet, counted from 1")),
    Column("style", N_("Style of its garment")),
    Column("garment_colour", N_("Colour of its garment")),
    Column("image", N_("Name of the image that differs; empty: none does")),
    Column("printed", N_("no: not printed on this garment")),
    Column("colour", N_("Its ink colour there; empty: as for the other garments")),
    Column("ink", N_("Its kind of ink there; empty: as for the other garments")),
    Column("series", N_("Its ink series there")),
    Column("reference", N_("Its colour reference there")),
)


def _versions(db: Database) -> Iterator[dict[str, Any]]:
    clock = Clock(db)
    for one in files.job_versions(db):
        sheet = one.sheet
        yield {
            **_key(one),
            "at": clock(one.at),
            "person": one.person,
            "title": sheet.title,
            "customer": sheet.customer,
            "reference": sheet.reference,
            "due": sheet.due.isoformat(),
            "repeats": sheet.repeats,
            "art": sheet.art.name,
            "revision": sheet.art.revision,
            "picture_file": sheet.art.picture,
            "picture": one.picture,
            "pieces": sheet.pieces,
        }


def _key(one: Version) -> dict[str, Any]:
    return {"job": one.job, "version": one.version}


def _garments(db: Database) -> Iterator[dict[str, Any]]:
    for one in files.job_versions(db):
        for number, garment in enumerate(one.sheet.garments, 1):
            yield {
                **_key(one),
                "garment": number,
                "style": garment.style,
                "colour": garment.colour,
                "pieces": garment.pieces,
                "lot": garment.lot,
                "fibre": dict(garment.fibre),
                "infant": yes(garment.infant),
            }


def _placements(db: Database) -> Iterator[dict[str, Any]]:
    for one in files.job_versions(db):
        for number, placement in enumerate(one.sheet.placements, 1):
            yield {**_key(one), "placement": number, **_placement(placement)}


def _placement(placement: Placement) -> dict[str, Any]:
    dryer = placement.dryer
    return {
        "name": placement.name,
        "width_mm": placement.width_mm,
        "height_mm": placement.height_mm,
        "from": placement.from_where,
        "platen": placement.platen,
        "art": placement.art.name,
        "revision": placement.art.revision,
        "same_image": yes(placement.same_image),
        "belt_speed_m_per_min": dryer.belt_speed_m_per_min if dryer else None,
        "set_c": dryer.set_c if dryer else None,
        "garment_peak_c": dryer.garment_peak_c if dryer else None,
        "hold_s": dryer.hold_s if dryer else None,
    }


def _stations(db: Database) -> Iterator[dict[str, Any]]:
    for one in files.job_versions(db):
        for number, placement in enumerate(one.sheet.placements, 1):
            for station in placement.stations:
                prints = station.prints
                image = one.sheet.separation(placement, station) if prints else None
                yield {
                    **_key(one),
                    "placement": number,
                    "separation": store_jobs.separation_number(db, image, make=False) if image else None,
                    **_station(station),
                }


def _station(station: Station) -> dict[str, Any]:
    mesh, halftone, squeegee = station.mesh, station.halftone, station.squeegee
    blade = ("hardness", "angle", "angle_mark", "edge", "length", "pressure", "speed")
    return {
        "print_order": station.number,
        "does": station.does,
        "revolution": station.revolution,
        "head": station.head,
        "image": station.separation,
        "colour": station.colour,
        "ink": station.ink,
        "series": station.series,
        "reference": station.reference,
        "mesh_count": mesh.count_as_labelled if mesh else "",
        "thread_um": mesh.thread_um if mesh else None,
        "strokes": station.strokes if station.prints else None,
        "coverage_pct": station.coverage_pct,
        "ruling_per_in": halftone.ruling_per_in if halftone else None,
        "angle_deg": halftone.angle_deg if halftone else None,
        "flood": station.flood,
        "choke": station.choke,
        "off_contact_mm": station.off_contact_mm,
        "flake_um": station.flake_um,
        **{f"squeegee_{name}": getattr(squeegee, name) if squeegee else "" for name in blade},
        "recipe": dict(station.recipe),
        "time_s": station.time_s,
        "surface": station.surface,
        "note": station.note,
    }


def _colourways(db: Database) -> Iterator[dict[str, Any]]:
    for one in files.job_versions(db):
        for number, way in enumerate(one.sheet.colourways, 1):
            key = {**_key(one), "colourway": number, "style": way.garment_style, "garment_colour": way.garment_colour}
            if not way.inks:
                yield key
            for image, change in way.inks.items():
                differs = ("colour", "ink", "series", "reference") if change else ()
                what = {name: getattr(change, name) for name in differs}
                yield {**key, "image": image, "printed": yes(change), **what}


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
LIMITS = (
    Column("row", N_("Number of the row, as verdicts have it under “spec”")),
    Column("key", N_("Which limit")),
    Column("value", N_("Its value; empty: removed by this row")),
    Column("unit", N_("Unit of the value")),
    *(Column(name, CONDITION_ABOUT[name], SPAN_OF[name].unit if name in SPAN_OF else "") for name in limits.NAMES),
    Column("source", N_("Where it comes from")),
    Column("at", N_("When it was set"), "time"),
    Column("person", N_("Who set it; command line: shipped with the program")),
    Column("stands", N_("yes: counts now; no: replaced or removed")),
)


def _limits(db: Database) -> Iterator[dict[str, Any]]:
    clock, names, rows = Clock(db), people.names(db), spec.rows(db)
    standing = {row.id for row in Spec(rows).rows}
    for row in rows:
        yield {
            "row": row.id,
            "key": row.key,
            "value": row.value,
            "unit": row.unit,
            **row.conditions,
            "source": row.source,
            "at": clock(row.at),
            "person": names.get(row.person, ""),
            "stands": yes(row.id in standing),
        }


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


TABLES = (
    Table("job_versions", N_("A version of a job’s sheet: who wrote it, and when"), VERSIONS, _versions),
    Table("job_garments", N_("A garment on a version of a job’s sheet"), GARMENTS, _garments),
    Table("job_placements", N_("A placement on a version of a job’s sheet"), PLACEMENTS, _placements),
    Table("job_stations", N_("A position in a placement’s print order"), STATIONS, _stations),
    Table("job_colourways", N_("What is printed otherwise on a garment"), COLOURWAYS, _colourways),
    Table("separations", N_("An image to print"), SEPARATIONS, files.separations),
    Table("limits", N_("A limit as it was set once"), LIMITS, _limits),
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
