"""A job as it is on its sheet: the garments, the placements and their print order, the ink each garment takes.

Numbers are floats in the unit that their name ends in; the text as typed is kept beside them (`typed`), so that what
is printed and edited later says "12 in" where somebody wrote "12 in".
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from tickets.calculator.kinds import work_of
from tickets.domain.jobs.table import plain_text
from tickets.domain.separation import Key, Separation, folded, whole_mm

DOES = ("print", "flash", "cool")

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
    """The blade as the shop says it: angle and length with their unit, pressure and speed perhaps as the press's own
    dial marks; `angle_mark`: the angle by such a mark."""

    hardness: str = ""
    angle: str = ""
    edge: str = ""
    length: str = ""
    pressure: str = ""
    speed: str = ""
    angle_mark: str = ""


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
        """The kind of work, one of `kinds.WORK`, that limits are picked by."""
        return work_of(len(self.printing), any(station.halftone for station in self.printing))


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


def needed(job: Job, placement: Placement, garments: Iterable[Garment]) -> frozenset[int]:
    """The stations of a placement that print on some of these garments: a colourway may leave some out."""
    ways = [job.colourway_of(garment) for garment in garments]
    return frozenset(
        one.number for one in placement.printing if any(ink_for(job, way, placement, one) is not None for way in ways)
    )


# Writing back


def _kept(data: Mapping[str, Any]) -> dict[str, Any]:
    """Without what says nothing: None, empty text, empty tables and lists, false."""
    return {key: value for key, value in data.items() if value not in (None, "", {}, [], False)}


def _said(typed: Typed, key: str, number: float | None, unit: str) -> str:
    """The text as typed while it still says the number, else the number in its unit; empty for None."""
    if number is None:
        return ""
    text, was = typed.get(key, ("", math.nan))
    return text if was == number else f"{plain_text(number)} {unit}"


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
                    "angle_mark": squeegee.angle_mark,
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
