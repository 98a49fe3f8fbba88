"""Reading a job: plain data (a parsed file, or what a form built) becomes a Job, or all that is wrong with it is said
together, each fault with its place."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

from tickets.calculator import several, typed, units
from tickets.calculator.kinds import INKS, fibre_named
from tickets.calculator.numerals import counted, is_sure
from tickets.domain import outside, setting, usual
from tickets.domain.jobs.job_sheet import (
    DOES,
    Art,
    Colourway,
    Dryer,
    Garment,
    Halftone,
    InkChange,
    Job,
    MeshWanted,
    Placement,
    Squeegee,
    Station,
)
from tickets.domain.jobs.table import LONGEST_NOTE, TableReader, fit_name, plain_number, plain_text, shown_key
from tickets.domain.refusal import Fault, Refused
from tickets.domain.separation import Key, folded, whole_mm
from tickets.domain.spec import Spec
from tickets.i18n import gettext as _


def read(data: Mapping[str, Any], where: str = "", stored: bool = False, limits: Spec | None = None) -> Job:
    """The job in `data`, a mapping in the shape of a job file. Raises Refused with everything that is wrong.

    Places count from 1 (`placement[1].station[3].mesh.count`) and begin with `where`, the name of the file, if given.
    A date may be a date or ISO text. `stored`: of a shop that may have kept it before marks had fields of their own.
    `limits`: those of the shop, where what is possible and not usual is asked back (`domain.usual`); None: it was.
    """
    faults: list[Fault] = []
    top = TableReader(data, "", faults, stored=stored, limits=limits)
    title = top.text("title", '"Spring shirts"')
    customer = top.text("customer", '"Harbour Choir"')
    due = _read_due(top)
    reference = top.text("reference")
    repeats = top.text("repeats")
    if repeats and folded(repeats) == folded(reference):
        top.fault("repeats", _("A job cannot be the reorder of itself. Choose the earlier job."))
    art = _read_art(top.table("art", '{ name = "Anchor", revision = "2" }'), picture=True)
    garments = tuple(_read_garment(table) for table in top.tables("garment", "[[garment]]"))
    placements = tuple(_read_placement(table, art) for table in top.tables("placement", "[[placement]]"))
    colourway_tables = top.tables("colourway")
    colourways = tuple(_read_colourway(table) for table in colourway_tables)
    top.close()
    job = Job(title, customer, due, reference, repeats, art, garments, placements, colourways)
    faults += _twice(job)
    faults += _shared_separations(job, faults)
    faults += _colourways_fit(job, faults)
    if faults:
        raise Refused(
            replace(fault, where=f"{where}: {fault.where}" if where and fault.where else where or fault.where)
            for fault in faults
        )
    return job


def _amount(value: object, kind: str, bare: str) -> float | None:
    """A share or a mass of a file, bare or with its unit, in `bare`; None or NotAQuantity: it is none."""
    if not isinstance(value, str) or not value.strip():
        return plain_number(value or None)
    return units.convert(*typed.read_value(value, kind, bare), bare)


def _percent(value: object) -> float | None:
    number = _amount(value, "percent", "%")
    return number if number is not None and 0 < number <= 100 else None


def _grams(value: object) -> float | None:
    number = _amount(value, "mass", "g")
    return number if number is not None and 0.001 <= number <= 1_000_000 else None


def _read_due(top: TableReader) -> date:
    value = top.take("due", "2027-03-01")
    if isinstance(value, str):
        value = outside.day(value) or value
    if isinstance(value, date) and not isinstance(value, datetime):
        if 1990 <= value.year <= 2199:
            return value
        top.fault("due", _("The year cannot be right."))
    elif value is not None:
        top.fault("due", _("This is the press date: a day such as 2027-03-01, year first."))
    return date.min


def _read_art(table: TableReader | None, picture: bool = False) -> Art:
    if table is None:
        return Art("", "")
    art = Art(
        table.text("name", '"Anchor"'),
        table.text("revision", '"2"'),
        table.text("picture") if picture else "",
    )
    if art.picture and (Path(art.picture).name != art.picture or "\\" in art.picture or art.picture in (".", "..")):
        table.fault("picture", _("The picture lies beside the job file: give its name without a folder."))
    table.close({} if picture else {"picture": _("Only the job's own art carries a picture.")})
    return art


def _read_garment(table: TableReader) -> Garment:
    garment = Garment(
        table.text("style", '"Heavy tee"'),
        table.text("colour", '"black"'),
        table.whole("pieces", 1, 1_000_000, "120") or 1,
        table.text("lot"),
        table.numbers(
            "fibre",
            _percent,
            _("This is a percentage over 0 and up to 100.") + " " + several.fibre_hint(),
            in_words=several.fibres,
            named=str if table.stored else fibre_named,
        ),
        table.flag("infant"),
    )
    total = sum(garment.fibre.values())
    if table.data.get("fibre") is None:
        table.take("fibre", "{ cotton = 100 }")
    else:
        bad = any(fault.where.startswith(table.at("fibre")) for fault in table.faults)
        # 0.5: three thirds may be written 33.3
        if not bad and abs(total - 100) > 0.5:
            table.fault(
                "fibre", _("The fibres come to {total} %: they must come to 100.").format(total=plain_text(total))
            )
    table.close()
    return garment


def _read_placement(table: TableReader, art: Art) -> Placement:
    name = table.text("name", '"Full front"')
    width = table.quantity("width", "length", 5, 2000, example='"300 mm"')
    height = table.quantity("height", "length", 5, 2000)
    from_where = table.text("from")
    platen = table.text("platen")
    own = table.table("art")
    own_art = _read_art(own) if own else art
    if (own_art.name, own_art.revision) == (art.name, art.revision):
        own_art = art
    same_image = table.flag("same_image")
    station_tables = table.tables("station", "[[placement.station]]")
    stations = tuple(_read_station(station, number) for number, station in enumerate(station_tables, start=1))
    if stations and not any(station.prints or not station.does for station in stations):
        table.fault("station", _("Nothing prints in this placement: at least one position must."))
    dryer = _read_dryer(table.table("dryer"))
    table.close()
    return Placement(name, width or 0.0, height, from_where, platen, own_art, same_image, stations, dryer, table.typed)


def _read_dryer(table: TableReader | None) -> Dryer | None:
    if table is None:
        return None
    belt_speed = table.measured("belt_speed")
    set_c = table.measured("set")
    peak_c = table.measured("garment_peak")
    hold_s = table.measured("hold")
    table.close()
    dryer = Dryer(belt_speed, set_c, peak_c, hold_s, table.typed)
    return None if dryer == Dryer() else dryer


_PRINT_KEYS = (
    "separation", "colour", "ink", "mesh", "series", "reference", "strokes", "coverage", "halftone", "flood", "choke",
    "off_contact", "flake", "squeegee", "recipe",
)  # fmt: skip


def _read_station(table: TableReader, number: int) -> Station:
    does = table.choice("does", DOES, '"print"')
    revolution = table.whole("revolution", 1, 9) or 1
    head = table.whole("head", 1, 40)
    note = table.text("note", longest=LONGEST_NOTE)
    if does == "print" or (not does and ("ink" in table.data or "mesh" in table.data)):
        return _read_printing(table, number, does, revolution, head, note)
    time_s = table.measured("time", example='"6 s"' if does == "flash" else "")
    surface = table.setting("surface", felt=True) if does != "cool" else ""
    only_print = _("Only a position that prints takes this key.")
    elsewhere = dict.fromkeys(_PRINT_KEYS, only_print)
    if does:
        table.close(elsewhere | ({"surface": _("Only a flash takes this key.")} if does == "cool" else {}))
    return Station(number, does, revolution, head, time_s=time_s, surface=surface, note=note, typed=table.typed)


def _read_printing(table: TableReader, number: int, does: str, revolution: int, head: int | None, note: str) -> Station:
    separation = table.text("separation")
    colour = table.text("colour", '"white"')
    ink = table.choice("ink", INKS, '"plastisol"')
    mesh = _read_mesh(table.table("mesh", '{ count = "230/in", thread = "48 um" }'))
    station = Station(
        number,
        does,
        revolution,
        head,
        separation or colour,
        colour,
        ink,
        mesh,
        series=table.text("series"),
        reference=table.text("reference"),
        strokes=table.whole("strokes", 1, 20) or 1,
        coverage_pct=table.quantity("coverage", "percent", 0.1, 100),
        halftone=_read_halftone(table.table("halftone")),
        flood=table.said("flood"),
        choke=table.text("choke"),
        off_contact_mm=table.measured("off_contact"),
        flake_um=table.quantity("flake", "length", 1, 5000, unit="um"),
        note=note,
        squeegee=_read_squeegee(table.table("squeegee")),
        recipe=table.numbers(
            "recipe",
            _grams,
            _('This is grams of the part, such as 250 or "0.25 kg".'),
            in_words=several.masses,
            together=several.in_grams,
        ),
        typed=table.typed,
    )
    try:
        usual.ask_of_recipe(_recipe_text(table.data.get("recipe")), station.recipe, table.limits)
    except units.NotAQuantity as fault:
        table.fault("recipe", str(fault), fault.readings)
    only_flash = _("Only a flash or a cool-down takes this key.")
    table.close({"time": only_flash, "surface": only_flash})
    return station


def _recipe_text(recipe: object) -> str:
    """A recipe as one text: of a table the amounts, of which any may say that they are meant (`940 g!`)."""
    amounts = [str(one) for one in recipe.values()] if isinstance(recipe, Mapping) else [str(recipe or "")]
    return next((one for one in amounts if is_sure(one)), amounts[-1] if amounts else "")


def _read_mesh(table: TableReader | None) -> MeshWanted | None:
    if table is None:
        return None
    count = table.quantity("count", "mesh count", 4, 250, example='"230/in"')
    label = table.typed.pop("count", ("", 0.0))[0]
    thread = table.quantity("thread", "length", 10, 600, unit="um")
    if count and thread and thread >= 10_000 / count:
        table.fault(
            "thread",
            _("A {count} mesh of {thread} thread has no opening: look at both on the label.").format(
                count=label, thread=table.typed["thread"][0]
            ),
        )
    table.close()
    return MeshWanted(label, count or 0.0, thread, table.typed)


def _read_halftone(table: TableReader | None) -> Halftone | None:
    if table is None:
        return None
    ruling = table.quantity("ruling", "ruling", 5, 200, example='"55 /in"')
    angle = table.quantity("angle", "angle", 0, 180)
    table.close()
    return Halftone(ruling or 0.0, angle, table.typed)


def _read_squeegee(table: TableReader | None) -> Squeegee | None:
    if table is None:
        return None
    hardness = table.text("hardness")
    numbers = [counted(number) for number in re.findall(r"\d+", hardness)]
    if hardness and (not numbers or any(not 30 <= number <= 100 for number in numbers)):
        table.fault("hardness", _('Shore A, 30 to 100, such as "70", or "70/90/70" for a composite.'))
    angle = table.setting("angle")
    mark = table.text("angle_mark")
    if table.stored and angle and not setting.counted(angle):
        angle, mark = "", mark or angle
    edge = table.text("edge")
    length = table.setting("length")
    squeegee = Squeegee(hardness, angle, edge, length, table.text("pressure"), table.setting("speed"), mark)
    table.close()
    return None if squeegee == Squeegee() else squeegee


def _read_colourway(table: TableReader) -> Colourway:
    garment = table.table("garment", '{ style = "Heavy tee", colour = "black" }')
    style = garment.text("style", '"Heavy tee"') if garment else ""
    colour = garment.text("colour", '"black"') if garment else ""
    if garment:
        garment.close()
    inks = table.table("inks")
    changes: dict[str, InkChange | None] = {}
    for name, value in inks.data.items() if inks else ():
        assert inks is not None
        shown = str(name).strip()
        if folded(shown) in {folded(other) for other in changes}:
            inks.fault(shown_key(name), _("This is said twice: say it once."))
        elif not fit_name(name):
            inks.fault(shown_key(name), _("This name cannot be printed: type it again."))
        elif value is False:
            changes[shown] = None
        elif not isinstance(value, Mapping):
            inks.fault(
                shown_key(name),
                _("Write what differs, such as {example}, or false when it is not printed on this garment.").format(
                    example='{ colour = "navy" }'
                ),
            )
        else:
            change = TableReader(value, inks.at(shown_key(name)), inks.faults)
            changes[shown] = InkChange(
                change.text("colour"),
                change.choice("ink", INKS, "") if "ink" in change.data else "",
                change.text("series"),
                change.text("reference"),
            )
            change.asked.append("ink")
            change.close()
    table.close()
    return Colourway(style, colour, changes)


# Rules between the parts


def _twice(job: Job) -> list[Fault]:
    """Two placements of one name, or one garment said twice: nobody could tell which one an entry means."""
    faults = []
    seen: dict[tuple[str, ...], int] = {}
    for number, garment in enumerate(job.garments, start=1):
        which = (folded(garment.style), folded(garment.colour), folded(garment.lot))
        first = seen.setdefault(which, number)
        if all(which[:2]) and first != number:
            faults.append(
                Fault(
                    f"garment[{number}]",
                    _("This is garment {first} again: say it once with all pieces, or tell the lots apart.").format(
                        first=first
                    ),
                )
            )
    names: dict[str, int] = {}
    for number, placement in enumerate(job.placements, start=1):
        first = names.setdefault(folded(placement.name), number)
        if placement.name and first != number:
            faults.append(
                Fault(
                    f"placement[{number}].name",
                    _("Placement {first} has this name too: give each its own.").format(first=first),
                )
            )
    return faults


def _shared_separations(job: Job, faults: Sequence[Fault]) -> list[Fault]:
    """One separation in two placements is either one image printed twice (same_image on each) or a missing name."""
    where: dict[Key, list[int]] = {}
    names: dict[Key, str] = {}
    for number, placement in enumerate(job.placements, start=1):
        if any(fault.where.startswith(f"placement[{number}]") for fault in faults) or not job.customer:
            continue
        for station in placement.printing:
            separation = job.separation(placement, station)
            names[separation.key] = separation.name
            if number not in where.setdefault(separation.key, []):
                where[separation.key].append(number)
    unsaid: dict[tuple[int, int], list[str]] = {}
    unlike: dict[int, int] = {}
    for key, numbers in where.items():
        tall: tuple[int, int] | None = None
        for number in numbers if len(numbers) > 1 else []:
            placement = job.placements[number - 1]
            if number != numbers[0] and not (job.placements[numbers[0] - 1].same_image and placement.same_image):
                unsaid.setdefault((numbers[0], number), []).append(names[key])
            elif placement.height_mm is not None:
                height = whole_mm(placement.height_mm)
                tall = tall or (height, number)
                if tall[0] != height:
                    unlike[number] = tall[1]
    found = [
        Fault(
            f"placement[{number}].height",
            _(
                "One image cannot have two heights: placement {first} has another one. Give both the same height, or "
                "the images different names."
            ).format(first=first),
        )
        for number, first in unlike.items()
    ]
    for (first, number), shared in unsaid.items():
        found.append(
            Fault(
                f"placement[{number}]",
                _(
                    "Placement {first} asks for the same image ({names}), of the same width. If it is one and the "
                    "same, write same_image = true in both; if not, give them different names."
                ).format(first=first, names=", ".join(shared)),
            )
        )
    return found


def _colourways_fit(job: Job, faults: Sequence[Fault]) -> list[Fault]:
    """A colourway belongs to one garment of the job and changes separations that the job prints."""
    found = []
    garments = {(folded(garment.style), folded(garment.colour)) for garment in job.garments}
    garments_known = not any(fault.where.startswith("garment") for fault in faults)
    names = {
        folded(station.separation): station.separation
        for placement in job.placements
        for station in placement.printing
        if station.separation
    }
    names_known = not any(
        re.search(r"^placement$|station(\[\d+\](\.(does|colour|separation))?)?$", fault.where) for fault in faults
    )
    seen: dict[tuple[str, str], int] = {}
    for number, colourway in enumerate(job.colourways, start=1):
        which = (folded(colourway.garment_style), folded(colourway.garment_colour))
        first = seen.setdefault(which, number)
        if all(which) and first != number:
            found.append(
                Fault(
                    f"colourway[{number}].garment",
                    _("Colourway {first} is of this garment too: write one for each.").format(first=first),
                )
            )
        if all(which) and garments_known and which not in garments:
            found.append(
                Fault(
                    f"colourway[{number}].garment",
                    _("No garment of this job is “{style}” in “{colour}”. Give one of the job's garments.").format(
                        style=colourway.garment_style, colour=colourway.garment_colour
                    ),
                )
            )
        for name in colourway.inks if names_known else ():
            if folded(name) not in names:
                near = difflib.get_close_matches(folded(name), names, 1)
                found.append(
                    Fault(
                        f"colourway[{number}].inks.{shown_key(name)}",
                        _("No position prints this image; do you mean “{near}”?").format(near=names[near[0]])
                        if near
                        else _("No position prints this image; printed are: {names}.").format(
                            names=", ".join(names.values())
                        ),
                    )
                )
    return found
