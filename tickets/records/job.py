"""A job: the garments, the placements and their print order, and the ink each garment takes.

`read` takes the plain data of a job (a parsed TOML file, or what a form built) and gives a Job, or says all that is
wrong with it together, each fault with its place. `Job.to_dict` gives such data back: reading it again is the same job.

Numbers are floats in the unit that their name ends in; the text as typed is kept beside them (`typed`), so that what
is printed and edited later says "12 in" where somebody wrote "12 in".
"""

from __future__ import annotations

import difflib
import math
import re
import tomllib
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from tickets.calculator import units
from tickets.records.refusal import Fault, Refused
from tickets.records.separation import Key, Separation, folded, whole_mm
from tickets.words import gettext as _

INKS = ("plastisol", "low-cure plastisol", "water-base", "discharge", "silicone", "other")
DOES = ("print", "flash", "cool")
WATER_INKS = ("water-base", "discharge")
"""Inks that soften an emulsion which is not water-resistant."""

LONGEST_TEXT = 200
LONGEST_NOTE = 2000
LARGEST_FILE = 1_000_000
LARGEST_PICTURE = 20_000_000

Typed = Mapping[str, tuple[str, float]]
"""Key in the file -> the text as typed and the number it was read as."""


def _typed() -> Any:
    return field(default_factory=dict, compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Art:
    """Artwork and its revision; `picture` names a PNG or JPEG beside the job file, or is empty."""

    name: str
    revision: str
    picture: str = ""


@dataclass(frozen=True, slots=True)
class Garment:
    """What is printed on. `fibre`: name -> percent, in all 100."""

    style: str
    colour: str
    pieces: int
    lot: str = ""
    fibre: Mapping[str, float] = field(default_factory=dict)
    infant: bool = False


@dataclass(frozen=True, slots=True)
class MeshWanted:
    """The mesh a station asks for: the count as labelled ("230/in"), the same per cm, the thread if it matters."""

    count_as_labelled: str
    count_per_cm: float
    thread_um: float | None = None
    typed: Typed = _typed()


@dataclass(frozen=True, slots=True)
class Halftone:
    """Lines per inch, and degrees from the warp threads (None: not said)."""

    ruling_per_in: float
    angle_deg: float | None = None
    typed: Typed = _typed()


@dataclass(frozen=True, slots=True)
class Squeegee:
    """The blade as the shop says it: numbers with their unit, or the press's own dial marks."""

    hardness: str = ""
    angle: str = ""
    edge: str = ""
    length: str = ""
    pressure: str = ""
    speed: str = ""


@dataclass(frozen=True, slots=True)
class Station:
    """One line of the print order, `number` counted from 1. `does`: print, flash or cool.

    A station that prints has separation, colour, ink and mesh; `flake_um` is the largest flake of a metallic or
    glitter ink (in a file: `flake = "60 um"`); `recipe` is grams of each part. A flash has `time_s`, and `surface` as
    measured or felt; a cooling station may have `time_s`.
    """

    number: int
    does: str
    revolution: int = 1
    head: int | None = None
    separation: str = ""
    colour: str = ""
    ink: str = ""
    mesh: MeshWanted | None = None
    series: str = ""
    reference: str = ""
    strokes: int = 1
    coverage_pct: float | None = None
    halftone: Halftone | None = None
    flood: str = ""
    choke: str = ""
    off_contact_mm: float | None = None
    flake_um: float | None = None
    note: str = ""
    squeegee: Squeegee | None = None
    recipe: Mapping[str, float] = field(default_factory=dict)
    time_s: float | None = None
    surface: str = ""
    typed: Typed = _typed()

    @property
    def prints(self) -> bool:
        """True when the station lays ink, so needs a screen."""
        return self.does == "print"


@dataclass(frozen=True, slots=True)
class Dryer:
    """The dryer as wanted: belt m/min, panel setting and garment peak degC, time held at the peak s."""

    belt_speed_m_per_min: float | None = None
    set_c: float | None = None
    garment_peak_c: float | None = None
    hold_s: float | None = None
    typed: Typed = _typed()


@dataclass(frozen=True, slots=True)
class Placement:
    """One printing position, its stations in print order. Sizes in mm; `art` is the job's unless it has its own."""

    name: str
    width_mm: float
    height_mm: float | None
    from_where: str
    platen: str
    art: Art
    same_image: bool
    stations: tuple[Station, ...]
    dryer: Dryer | None = None
    typed: Typed = _typed()

    @property
    def printing(self) -> tuple[Station, ...]:
        """The stations that need a screen."""
        return tuple(station for station in self.stations if station.prints)

    @property
    def work(self) -> str:
        """The kind of work for the tension limits: "halftone", "one-colour" or "colours"."""
        if any(station.halftone for station in self.printing):
            return "halftone"
        return "one-colour" if len(self.printing) == 1 else "colours"


@dataclass(frozen=True, slots=True)
class InkChange:
    """What differs on one garment; what is empty stays as the station says."""

    colour: str = ""
    ink: str = ""
    series: str = ""
    reference: str = ""


@dataclass(frozen=True, slots=True)
class Colourway:
    """The inks of one garment: separation name -> what differs, None: not printed on this one."""

    garment_style: str
    garment_colour: str
    inks: Mapping[str, InkChange | None] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Ink:
    """What a station prints on a garment."""

    kind: str
    colour: str
    series: str = ""
    reference: str = ""


@dataclass(frozen=True, slots=True)
class Job:
    """An order. `due` is the press date; `repeats` the code or reference of the job that this one prints again."""

    title: str
    customer: str
    due: date
    reference: str
    repeats: str
    art: Art
    garments: tuple[Garment, ...]
    placements: tuple[Placement, ...]
    colourways: tuple[Colourway, ...] = ()

    def separation(self, placement: Placement, station: Station) -> Separation:
        """The image that a printing station of a placement asks for."""
        if not station.prints:
            raise ValueError(f"station {station.number} does not print")
        height = None if placement.height_mm is None else whole_mm(placement.height_mm)
        return Separation(
            self.customer,
            placement.art.name,
            placement.art.revision,
            whole_mm(placement.width_mm),
            station.separation,
            height,
        )

    def separations(self) -> tuple[Separation, ...]:
        """Every image of the job once, in print order; the one with its height known goes before one without."""
        found: dict[Key, Separation] = {}
        for placement in self.placements:
            for station in placement.printing:
                separation = self.separation(placement, station)
                known = found.get(separation.key)
                if known is None or known.height_mm is None:
                    found[separation.key] = separation
        return tuple(found.values())

    def colourway_of(self, garment: Garment) -> Colourway | None:
        """The colourway of a garment; None when it takes the stations' own inks."""
        wanted = (folded(garment.style), folded(garment.colour))
        for colourway in self.colourways:
            if (folded(colourway.garment_style), folded(colourway.garment_colour)) == wanted:
                return colourway
        return None

    @property
    def pieces(self) -> int:
        """How many garments in all."""
        return sum(garment.pieces for garment in self.garments)

    def to_dict(self) -> dict[str, Any]:
        """Plain data in the shape of a job file (the date as ISO text), such that `read` gives this job again."""
        return _kept(
            {
                "title": self.title,
                "customer": self.customer,
                "due": self.due.isoformat(),
                "reference": self.reference,
                "repeats": self.repeats,
                "art": _kept({"name": self.art.name, "revision": self.art.revision, "picture": self.art.picture}),
                "garment": [_garment_data(garment) for garment in self.garments],
                "placement": [_placement_data(placement, self.art) for placement in self.placements],
                "colourway": [_colourway_data(colourway) for colourway in self.colourways],
            }
        )


def ink_for(job: Job, colourway: Colourway | None, placement: Placement, station: Station) -> Ink | None:
    """The ink that `station` prints on a garment of `colourway` (None: the stations' own); None: not printed there.

    A changed colour or ink drops the series and reference of the one it replaces unless they are said again: they
    name a pot that this garment does not take.
    """
    if not station.prints:
        return None
    own = Ink(station.ink, station.colour, station.series, station.reference)
    if colourway is None:
        return own
    for name, change in colourway.inks.items():
        if folded(name) == folded(station.separation):
            if change is None:
                return None
            same_ink = not change.ink or change.ink == own.kind
            same_colour = not change.colour or folded(change.colour) == folded(own.colour)
            return Ink(
                change.ink or own.kind,
                change.colour or own.colour,
                change.series or (own.series if same_ink else ""),
                change.reference or (own.reference if same_ink and same_colour else ""),
            )
    return own


# Writing back


def _kept(data: Mapping[str, Any]) -> dict[str, Any]:
    """Without what says nothing: None, empty text, empty tables and lists, false."""
    return {key: value for key, value in data.items() if value not in (None, "", {}, [], False)}


def _plain(number: float) -> str:
    """A number without exponent, whole where it is whole; reads back as the same float."""
    text = format(Decimal(repr(float(number))), "f")
    return text[:-2] if text.endswith(".0") else text


def _said(typed: Typed, key: str, number: float | None, unit: str) -> str:
    """The text as typed while it still says the number, else the number in its unit; empty for None."""
    if number is None:
        return ""
    text, was = typed.get(key, ("", math.nan))
    return text if was == number else f"{_plain(number)} {unit}"


def _number(value: float) -> int | float:
    return int(value) if float(value).is_integer() else float(value)


def _garment_data(garment: Garment) -> dict[str, Any]:
    return _kept(
        {
            "style": garment.style,
            "colour": garment.colour,
            "pieces": garment.pieces,
            "lot": garment.lot,
            "fibre": {name: _number(percent) for name, percent in garment.fibre.items()},
            "infant": garment.infant,
        }
    )


def _placement_data(placement: Placement, art: Art) -> dict[str, Any]:
    own_art = {} if placement.art == art else {"name": placement.art.name, "revision": placement.art.revision}
    dryer = placement.dryer
    return _kept(
        {
            "name": placement.name,
            "width": _said(placement.typed, "width", placement.width_mm, "mm"),
            "height": _said(placement.typed, "height", placement.height_mm, "mm"),
            "from": placement.from_where,
            "platen": placement.platen,
            "art": own_art,
            "same_image": placement.same_image,
            "station": [_station_data(station) for station in placement.stations],
            "dryer": {}
            if dryer is None
            else _kept(
                {
                    "belt_speed": _said(dryer.typed, "belt_speed", dryer.belt_speed_m_per_min, "m/min"),
                    "set": _said(dryer.typed, "set", dryer.set_c, "degC"),
                    "garment_peak": _said(dryer.typed, "garment_peak", dryer.garment_peak_c, "degC"),
                    "hold": _said(dryer.typed, "hold", dryer.hold_s, "s"),
                }
            ),
        }
    )


def _station_data(station: Station) -> dict[str, Any]:
    mesh, halftone, squeegee = station.mesh, station.halftone, station.squeegee
    data: dict[str, Any] = {
        "does": station.does,
        "revolution": station.revolution if station.revolution != 1 else None,
        "head": station.head,
    }
    if station.prints:
        data |= {
            "separation": station.separation if station.separation != station.colour else "",
            "colour": station.colour,
            "ink": station.ink,
            "mesh": {}
            if mesh is None
            else _kept(
                {
                    "count": mesh.count_as_labelled,
                    "thread": _said(mesh.typed, "thread", mesh.thread_um, "um"),
                }
            ),
            "series": station.series,
            "reference": station.reference,
            "strokes": station.strokes if station.strokes != 1 else None,
            "coverage": _said(station.typed, "coverage", station.coverage_pct, "%"),
            "halftone": {}
            if halftone is None
            else _kept(
                {
                    "ruling": _said(halftone.typed, "ruling", halftone.ruling_per_in, "/in"),
                    "angle": _said(halftone.typed, "angle", halftone.angle_deg, "deg"),
                }
            ),
            "flood": station.flood,
            "choke": station.choke,
            "off_contact": _said(station.typed, "off_contact", station.off_contact_mm, "mm"),
            "flake": _said(station.typed, "flake", station.flake_um, "um"),
            "squeegee": {}
            if squeegee is None
            else _kept(
                {
                    "hardness": squeegee.hardness,
                    "angle": squeegee.angle,
                    "edge": squeegee.edge,
                    "length": squeegee.length,
                    "pressure": squeegee.pressure,
                    "speed": squeegee.speed,
                }
            ),
            "recipe": {name: _number(grams) for name, grams in station.recipe.items()},
        }
    else:
        data["time"] = _said(station.typed, "time", station.time_s, "s")
        data["surface"] = station.surface
    return _kept(data | {"note": station.note})


def _colourway_data(colourway: Colourway) -> dict[str, Any]:
    return {
        "garment": {"style": colourway.garment_style, "colour": colourway.garment_colour},
        "inks": {
            name: False
            if change is None
            else _kept(
                {
                    "colour": change.colour,
                    "ink": change.ink,
                    "series": change.series,
                    "reference": change.reference,
                }
            )
            for name, change in colourway.inks.items()
        },
    }


_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r"}


def _toml_value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return _plain(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_toml_key(key)} = {_toml_value(item)}" for key, item in value.items()) + " }"
    return '"' + "".join(_ESCAPES.get(character, character) for character in str(value)) + '"'


def _toml_key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else _toml_value(key)


def _toml_lines(table: Mapping[str, Any], skip: Iterable[str] = ()) -> list[str]:
    return [f"{_toml_key(key)} = {_toml_value(value)}" for key, value in table.items() if key not in skip]


def to_toml(job: Job) -> str:
    """The job as the text of a job file that a person can edit; `read_file` gives the same job again."""
    data = job.to_dict()
    lines = _toml_lines(data | {"due": job.due}, ("art", "garment", "placement", "colourway"))
    lines += ["", "[art]", *_toml_lines(data["art"])]
    for garment in data["garment"]:
        lines += ["", "[[garment]]", *_toml_lines(garment)]
    for placement in data["placement"]:
        lines += ["", "[[placement]]", *_toml_lines(placement, ("station", "dryer"))]
        for station in placement["station"]:
            lines += ["", "[[placement.station]]", *_toml_lines(station)]
        if "dryer" in placement:
            lines += ["", "[placement.dryer]", *_toml_lines(placement["dryer"])]
    for colourway in data.get("colourway", ()):
        lines += ["", "[[colourway]]", *_toml_lines(colourway)]
    return "\n".join(lines) + "\n"


# Reading

_UNIT_OF = {
    "length": "mm",
    "mesh count": "/cm",
    "time": "s",
    "temperature": "degC",
    "speed": "m/min",
    "percent": "%",
    "angle": "deg",
    "ruling": "lines/in",
    "mass": "g",
}


class _Table:
    """One table being read: takes its values, and keeps the faults with their places. A fault leaves a stand-in."""

    def __init__(self, data: object, place: str, faults: list[Fault], example: str = "") -> None:
        self.place, self.faults = place, faults
        self.asked: list[str] = []
        self.typed: dict[str, tuple[str, float]] = {}
        self.broken = not isinstance(data, Mapping)
        self.data: Mapping[Any, Any] = data if isinstance(data, Mapping) else {}
        if self.broken:
            self.fault(
                "",
                _("This must be a table of its own keys, such as {example}.").format(example=example)
                if example
                else _("This must be a table of its own keys."),
            )

    def at(self, key: str) -> str:
        return f"{self.place}.{key}" if self.place and key else self.place or key

    def fault(self, key: str, message: str) -> None:
        self.faults.append(Fault(self.at(key), message))

    def take(self, key: str, example: str = "") -> Any:
        """The value, None when it is not there; with an example it is required, and missed in the example's words."""
        self.asked.append(key)
        value = self.data.get(key)
        if example and (value is None or (isinstance(value, str) and not value.strip())) and not self.broken:
            self.fault(key, _("This is missing: write {example}.").format(example=f"{key} = {example}"))
            return None
        return value

    def text(self, key: str, example: str = "", longest: int = LONGEST_TEXT) -> str:
        value = self.take(key, example)
        if value is None:
            return ""
        if isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value):
            value = str(value)
        if not isinstance(value, str):
            self.fault(key, _("This must be text between quotes."))
            return ""
        value = value.strip()
        if longest == LONGEST_NOTE:
            value = value.replace("\r\n", "\n")
        allowed = "\n\t" if longest == LONGEST_NOTE else ""
        if not _printable(value, allowed):
            self.fault(key, _("This holds a character that cannot be printed: type it again."))
            return ""
        if len(value) > longest:
            self.fault(key, _("This is too long: at most {longest} characters.").format(longest=longest))
            return ""
        return value

    def said(self, key: str) -> str:
        """Text, or true or false: kept as yes or no."""
        value = self.data.get(key)
        return ("yes" if self.flag(key) else "no") if isinstance(value, bool) else self.text(key)

    def choice(self, key: str, choices: Sequence[str], example: str) -> str:
        value = self.text(key, example)
        if not value:
            return ""
        if folded(value) in choices:
            return folded(value)
        near = difflib.get_close_matches(folded(value), choices, 1)
        self.fault(
            key,
            _("“{value}” is none of: {choices}.").format(value=value, choices=", ".join(choices))
            + (" " + _("Do you mean “{near}”?").format(near=near[0]) if near else ""),
        )
        return ""

    def flag(self, key: str) -> bool:
        value = self.take(key)
        if value is None or isinstance(value, bool):
            return bool(value)
        self.fault(key, _("This is true or false, without quotes."))
        return False

    def whole(self, key: str, low: int, high: int, example: str = "") -> int | None:
        value = self.take(key, example)
        if value is None:
            return None
        number = _plain_number(value)
        if number is None or not number.is_integer() or not low <= number <= high:
            self.fault(key, _("This is a whole number from {low} to {high}.").format(low=low, high=high))
            return None
        return int(number)

    def quantity(
        self, key: str, kind: str, low: float, high: float, *, unit: str = "", example: str = ""
    ) -> float | None:
        """A number with its unit, in `unit` (default: the kind's own); a bare number is refused."""
        value = self.take(key, example)
        if value is None or value == "":
            return None
        if isinstance(value, bool) or not isinstance(value, (str, int, float)):
            self.fault(key, _("This is a number with its unit, between quotes."))
            return None
        unit = unit or _UNIT_OF[kind]
        text = str(value).strip()
        try:
            value, typed_unit = units.read_value(text, kind)
            # a conversion leaves dust in the last places, and 304.49999 mm would be another separation than 304.5
            number = value if typed_unit == unit else round(units.convert(value, typed_unit, unit), 9)
        except units.NotAQuantity as problem:
            self.fault(key, str(problem))
            return None
        if not low <= number <= high:
            self.fault(
                key,
                _("“{text}” cannot be right: from {low} to {high} {unit} would do.").format(
                    text=text, low=_plain(low), high=_plain(high), unit=unit
                ),
            )
            return None
        self.typed[key] = (text, number)
        return number

    def setting(self, key: str, kind: str, low: float, high: float) -> str:
        """Free text (a dial mark) that is a quantity with its unit as soon as it begins with a digit."""
        text = self.text(key)
        if text and text[0].isdigit():
            self.quantity(key, kind, low, high)
        return text

    def table(self, key: str, example: str = "") -> _Table | None:
        value = self.take(key, example)
        return None if value is None else _Table(value, self.at(key), self.faults, example)

    def tables(self, key: str, example: str = "") -> list[_Table]:
        value = self.take(key)
        if value is None or value == []:
            if example and not self.broken:
                self.fault(key, _("This is missing: begin one with {example}.").format(example=example))
            return []
        if not isinstance(value, (list, tuple)):
            self.fault(key, _("There can be several: write the heading as [[{key}]].").format(key=key))
            return []
        return [_Table(item, f"{self.at(key)}[{number}]", self.faults) for number, item in enumerate(value, start=1)]

    def numbers(self, key: str, read_one: Callable[[Any], float | None], message: str) -> dict[str, float]:
        """A table of names and numbers."""
        table = self.table(key)
        found: dict[str, float] = {}
        for name, value in table.data.items() if table else ():
            assert table is not None
            number = read_one(value)
            if not _fit_name(name):
                table.fault(_shown_key(name), _("This name cannot be printed: type it again."))
            elif number is None:
                table.fault(_shown_key(name), message)
            elif folded(str(name)) in {folded(other) for other in found}:
                table.fault(_shown_key(name), _("This is said twice: say it once."))
            else:
                found[str(name).strip()] = number
        return found

    def close(self, elsewhere: Mapping[str, str] | None = None) -> None:
        """Refuses the keys that nobody asked for, naming the nearest right one."""
        for key in self.data:
            if key in self.asked:
                continue
            if elsewhere and key in elsewhere:
                self.fault(_shown_key(key), elsewhere[key])
                continue
            near = difflib.get_close_matches(folded(str(key)), self.asked, 1)
            self.fault(
                _shown_key(key),
                _("There is no such key; do you mean “{near}”?").format(near=near[0])
                if near
                else _("There is no such key; known here: {keys}.").format(keys=", ".join(dict.fromkeys(self.asked))),
            )


def _printable(text: str, allowed: str = "") -> bool:
    """No control characters, line separators or halves of characters: they break paper, TOML or both."""
    return all(
        character in allowed or unicodedata.category(character) not in ("Cc", "Cs", "Zl", "Zp") for character in text
    )


def _fit_name(name: object) -> bool:
    """A name that stands as a key."""
    return isinstance(name, str) and bool(name.strip()) and len(name) <= LONGEST_TEXT and _printable(name.strip())


def _shown_key(key: object) -> str:
    text = "".join(character if character.isprintable() else "?" for character in str(key))
    return text[:40] or '""'


def _plain_number(value: object) -> float | None:
    """A number without a unit: an int, a float, or digits as text with one decimal mark, `.` or `,`."""
    if isinstance(value, bool):
        return None
    if isinstance(value, (int, float)):
        return float(value) if math.isfinite(value) and abs(value) < 1e12 else None
    if isinstance(value, str):
        try:
            return units.number(value)
        except units.NotAQuantity:
            return None
    return None


def _percent(value: object) -> float | None:
    number = _plain_number(value)
    return number if number is not None and 0 < number <= 100 else None


def _grams(value: object) -> float | None:
    if isinstance(value, str) and _plain_number(value) is None:
        try:
            number: float | None = units.convert(*units.read_value(value, "mass"), "g")
        except units.NotAQuantity:
            return None
    else:
        number = _plain_number(value)
    return number if number is not None and 0.001 <= number <= 1_000_000 else None


def read(data: Mapping[str, Any], where: str = "") -> Job:
    """The job in `data`, a mapping in the shape of a job file. Raises Refused with everything that is wrong.

    Places count from 1 (`placement[1].station[3].mesh.count`) and begin with `where`, the name of the file, if given.
    A date may be a date or ISO text.
    """
    faults: list[Fault] = []
    top = _Table(data, "", faults)
    title = top.text("title", '"Spring shirts"')
    customer = top.text("customer", '"Harbour Choir"')
    due = _read_due(top)
    reference = top.text("reference")
    repeats = top.text("repeats")
    if repeats and folded(repeats) == folded(reference):
        top.fault("repeats", _("A job cannot repeat itself: name the earlier job."))
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
            Fault(f"{where}: {fault.where}" if where and fault.where else where or fault.where, fault.message)
            for fault in faults
        )
    return job


def _read_due(top: _Table) -> date:
    value = top.take("due", "2027-03-01")
    if isinstance(value, str):
        try:
            value = date.fromisoformat(value.strip()) if re.fullmatch(r"\d{4}-\d\d-\d\d", value.strip()) else value
        except ValueError:
            pass
    if isinstance(value, date) and not isinstance(value, datetime):
        if 1990 <= value.year <= 2199:
            return value
        top.fault("due", _("The year cannot be right."))
    elif value is not None:
        top.fault("due", _("This is the press date: a day such as 2027-03-01, year first."))
    return date.min


def _read_art(table: _Table | None, picture: bool = False) -> Art:
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


def _read_garment(table: _Table) -> Garment:
    garment = Garment(
        table.text("style", '"Heavy tee"'),
        table.text("colour", '"black"'),
        table.whole("pieces", 1, 1_000_000, "120") or 1,
        table.text("lot"),
        table.numbers("fibre", _percent, _("This is a percentage over 0 and up to 100, without the sign.")),
        table.flag("infant"),
    )
    total = sum(garment.fibre.values())
    if table.data.get("fibre") is None:
        table.take("fibre", "{ cotton = 100 }")
    elif isinstance(table.data["fibre"], Mapping):
        bad = any(fault.where.startswith(table.at("fibre") + ".") for fault in table.faults)
        # 0.5: three thirds may be written 33.3
        if not bad and abs(total - 100) > 0.5:
            table.fault("fibre", _("The fibres come to {total} %: they must come to 100.").format(total=_plain(total)))
    table.close()
    return garment


def _read_placement(table: _Table, art: Art) -> Placement:
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
        table.fault("station", _("No station of this placement prints: at least one must."))
    dryer = _read_dryer(table.table("dryer"))
    table.close()
    return Placement(name, width or 0.0, height, from_where, platen, own_art, same_image, stations, dryer, table.typed)


def _read_dryer(table: _Table | None) -> Dryer | None:
    if table is None:
        return None
    belt_speed = table.quantity("belt_speed", "speed", 0.05, 50)
    set_c = table.quantity("set", "temperature", 20, 600)
    peak_c = table.quantity("garment_peak", "temperature", 20, 260)
    hold_s = table.quantity("hold", "time", 1, 1800)
    table.close()
    dryer = Dryer(belt_speed, set_c, peak_c, hold_s, table.typed)
    return None if dryer == Dryer() else dryer


_PRINT_KEYS = (
    "separation", "colour", "ink", "mesh", "series", "reference", "strokes", "coverage", "halftone", "flood", "choke",
    "off_contact", "flake", "squeegee", "recipe",
)  # fmt: skip


def _read_station(table: _Table, number: int) -> Station:
    does = table.choice("does", DOES, '"print"')
    revolution = table.whole("revolution", 1, 9) or 1
    head = table.whole("head", 1, 40)
    note = table.text("note", longest=LONGEST_NOTE)
    if does == "print" or (not does and ("ink" in table.data or "mesh" in table.data)):
        return _read_printing(table, number, does, revolution, head, note)
    time_s = table.quantity("time", "time", 0.1, 600, example='"6 s"' if does == "flash" else "")
    surface = table.setting("surface", "temperature", 20, 260) if does != "cool" else ""
    only_print = _("Only a station that prints takes this key.")
    elsewhere = dict.fromkeys(_PRINT_KEYS, only_print)
    if does:
        table.close(elsewhere | ({"surface": _("Only a flash takes this key.")} if does == "cool" else {}))
    return Station(number, does, revolution, head, time_s=time_s, surface=surface, note=note, typed=table.typed)


def _read_printing(table: _Table, number: int, does: str, revolution: int, head: int | None, note: str) -> Station:
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
        off_contact_mm=table.quantity("off_contact", "length", 0.1, 50),
        flake_um=table.quantity("flake", "length", 1, 5000, unit="um"),
        note=note,
        squeegee=_read_squeegee(table.table("squeegee")),
        recipe=table.numbers("recipe", _grams, _('This is grams of the part, such as 250 or "0.25 kg".')),
        typed=table.typed,
    )
    only_flash = _("Only a station that flashes or cools takes this key.")
    table.close({"time": only_flash, "surface": only_flash})
    return station


def _read_mesh(table: _Table | None) -> MeshWanted | None:
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


def _read_halftone(table: _Table | None) -> Halftone | None:
    if table is None:
        return None
    ruling = table.quantity("ruling", "ruling", 5, 200, example='"55 /in"')
    angle = table.quantity("angle", "angle", 0, 180)
    table.close()
    return Halftone(ruling or 0.0, angle, table.typed)


def _read_squeegee(table: _Table | None) -> Squeegee | None:
    if table is None:
        return None
    hardness = table.text("hardness")
    numbers = [int(number) for number in re.findall(r"\d+", hardness)]
    if hardness and (not numbers or any(not 30 <= number <= 100 for number in numbers)):
        table.fault("hardness", _('Shore A, 30 to 100, such as "70", or "70/90/70" for a composite.'))
    angle = table.setting("angle", "angle", 0, 90)
    edge = table.text("edge")
    length = table.setting("length", "length", 20, 2000)
    squeegee = Squeegee(hardness, angle, edge, length, table.text("pressure"), table.text("speed"))
    table.close()
    return None if squeegee == Squeegee() else squeegee


def _read_colourway(table: _Table) -> Colourway:
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
            inks.fault(_shown_key(name), _("This is said twice: say it once."))
        elif not _fit_name(name):
            inks.fault(_shown_key(name), _("This name cannot be printed: type it again."))
        elif value is False:
            changes[shown] = None
        elif not isinstance(value, Mapping):
            inks.fault(
                _shown_key(name),
                _("Write what differs, such as {example}, or false when it is not printed on this garment.").format(
                    example='{ colour = "navy" }'
                ),
            )
        else:
            change = _Table(value, inks.at(_shown_key(name)), inks.faults)
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
                "One image cannot have two heights: placement {first} has another one. Give both the same height, or"
                " the separations different names."
            ).format(first=first),
        )
        for number, first in unlike.items()
    ]
    for (first, number), shared in unsaid.items():
        found.append(
            Fault(
                f"placement[{number}]",
                _(
                    "Placement {first} asks for the same separation ({names}), of the same width. If it is one image,"
                    " write same_image = true in both; if not, give the separations different names."
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
                    _("No garment of this job is “{style}” in “{colour}”: name one of the job's garments.").format(
                        style=colourway.garment_style, colour=colourway.garment_colour
                    ),
                )
            )
        for name in colourway.inks if names_known else ():
            if folded(name) not in names:
                near = difflib.get_close_matches(folded(name), names, 1)
                found.append(
                    Fault(
                        f"colourway[{number}].inks.{_shown_key(name)}",
                        _("No station prints this separation; do you mean “{near}”?").format(near=names[near[0]])
                        if near
                        else _("No station prints this separation; printed are: {names}.").format(
                            names=", ".join(names.values())
                        ),
                    )
                )
    return found


# Files


def read_file(path: Path | str) -> Job:
    """The job in a TOML file (UTF-8), its picture beside it. Raises Refused with all that is wrong."""
    path = Path(path)
    data = _toml_of(path)
    faults: list[Fault] = []
    job = None
    try:
        job = read(data, path.name)
    except Refused as refused:
        faults += refused.faults
    art = data.get("art")
    picture = art.get("picture") if isinstance(art, Mapping) else None
    if isinstance(picture, str) and picture.strip() and not any("art.picture" in fault.where for fault in faults):
        message = _picture_fault(path.parent / picture.strip())
        if message:
            faults.append(Fault(f"{path.name}: art.picture", message))
    if job is None or faults:
        raise Refused(faults)
    return job


def _toml_of(path: Path) -> dict[str, Any]:
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise Refused(_("There is no such file."), path.name) from None
    except OSError as problem:
        raise Refused(
            _("This cannot be read: {problem}.").format(problem=problem.strerror or str(problem)), path.name
        ) from None
    if len(raw) > LARGEST_FILE:
        raise Refused(_("This is too large for a job: at most 1 MB."), path.name)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = raw.count(b"\n", 0, problem.start) + 1
        raise Refused(
            _("This is not UTF-8 text (line {line}): save it as UTF-8.").format(line=line), path.name
        ) from None
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as problem:
        found = re.search(r"^(.*) \(at (?:line (\d+), column (\d+)|end of document)\)$", str(problem), re.DOTALL)
        line_text, column = (found[2], found[3]) if found else (None, None)
        if line_text is None:  # at its end
            last = text.rstrip().rsplit("\n", 1)[-1]
            line_text, column = str(text.rstrip().count("\n") + 1), str(len(last) + 1)
        raise Refused(
            _("Line {line}, column {column} is not TOML: {problem}.").format(
                line=line_text, column=column, problem=found[1] if found else str(problem)
            ),
            path.name,
        ) from None


def _picture_fault(path: Path) -> str:
    try:
        with path.open("rb") as file:
            head = file.read(8)
        size = path.stat().st_size
    except OSError:
        return _("There is no such picture beside the job file.")
    if not head.startswith((b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff")):
        return _("This picture is neither PNG nor JPEG: save it as one of them.")
    return _("This picture is too large: at most 20 MB.") if size > LARGEST_PICTURE else ""


def read_files(paths: Iterable[Path | str]) -> list[Job]:
    """The jobs of several files, in the order given: all, or Refused with the faults of all of them."""
    jobs: list[tuple[Path, Job]] = []
    faults: list[Fault] = []
    for path in map(Path, paths):
        try:
            jobs.append((path, read_file(path)))
        except Refused as refused:
            faults += refused.faults
    seen: dict[tuple[str, str], Path] = {}
    for path, job in jobs:
        if not job.reference:
            continue
        first = seen.setdefault((folded(job.customer), folded(job.reference)), path)
        if first is not path:
            faults.append(
                Fault(
                    f"{path.name}: reference",
                    _("{file} has this customer's reference too: give each job its own.").format(file=first.name),
                )
            )
    if not faults:
        for path, job in jobs:
            if _in_a_ring(job, [each for _path, each in jobs]):
                faults.append(
                    Fault(f"{path.name}: repeats", _("These jobs repeat one another: one must be the first."))
                )
    if faults:
        raise Refused(faults)
    return [job for _path, job in jobs]


def repeated(job: Job, among: Iterable[Job]) -> Job | None:
    """The job among others whose reference `job.repeats` names; its own customer's goes first."""
    if not job.repeats:
        return None
    named = [other for other in among if other is not job and folded(other.reference) == folded(job.repeats)]
    own = [other for other in named if folded(other.customer) == folded(job.customer)]
    return next(iter(own or named), None)


def origins_first(jobs: Sequence[Job]) -> list[Job]:
    """The jobs so that each comes after the one it repeats, else in the order given."""
    placed: list[Job] = []

    def place(job: Job) -> None:
        if any(other is job for other in placed):
            return
        origin = repeated(job, jobs)
        if origin is not None and not _in_a_ring(job, jobs):
            place(origin)
        placed.append(job)

    for job in jobs:
        place(job)
    return placed


def _in_a_ring(job: Job, jobs: Sequence[Job]) -> bool:
    passed = [job]
    origin = repeated(job, jobs)
    while origin is not None:
        if any(origin is other for other in passed):
            return True
        passed.append(origin)
        origin = repeated(origin, jobs)
    return False
