"""How much ink a job takes, term by term, and the shop's own weighing that corrects it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sqlite_utils import Database

from tickets.calculator import ink as rules
from tickets.calculator import mesh as mesh_rules
from tickets.calculator import several, units
from tickets.calculator.units import CannotBe, NotAQuantity, magnitude, quantity
from tickets.calculator.verdict import Level, Reason, phrases
from tickets.domain.jobs.job import Job, Placement, Station, ink_for
from tickets.domain.spec import Limit, Spec, facts_of
from tickets.domain.steps import Field, Step
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries.shop_rules import the_spec
from tickets.store import jobs, screens

WEIGH = Step(
    "weigh",
    N_("Weigh printed garments"),
    N_("Weighed"),
    (
        Field(
            "weighed_g",
            N_("Ink on each garment: printed less its blank"),
            "numbers",
            low=0.01,
            high=500,
            most=5,
            required=True,
            hint=N_("three at least, with this colour alone on them; weighed wet, right after the print"),
        ),
        Field("density_g_cm3", N_("Density of the ink"), "number", low=0.5, high=3, hint=N_("from its data sheet")),
    ),
)


@dataclass(frozen=True, slots=True)
class InkLine:
    """The ink of one station in one colour, with every term. Grams need a density; what is not known is None.

    `film_cm3_m2` is the maker's ink volume where a screen of this image has one (`film_of`: its code), else the middle
    of the computed span `film_low` to `film_high`. `transfer` is 1 until weighed (`transfer_row`). `missing` names what
    must be known before anything can be worked out. `load_g`: what the screen is loaded with before it prints, by
    the shorter side of its frame (`side_cm`: of the frames that carry the image, else of the shop's usual one).
    """

    placement: int
    station: int
    separation: str
    colour: str
    ink: str
    pieces: int
    area_cm2: float | None
    coverage_pct: float | None
    film_cm3_m2: float | None
    film_low: float | None
    film_high: float | None
    film_of: str
    strokes: int
    transfer: float
    transfer_row: int | None
    density_g_cm3: float | None
    waste_pct: float
    print_cm3: float | None
    job_cm3: float | None
    print_g: float | None
    job_g: float | None
    missing: tuple[str, ...] = ()
    load_g: float | None = None
    count_per_in: float | None = None
    side_cm: float | None = None


@dataclass(frozen=True, slots=True)
class Total:
    """One ink of a job over all its stations. Nothing is said of it (None) while anything of one of them is not known
    (`whole` is false then): a part of an ink passes for the whole of it. Grams want a density besides.

    `load_g`: what its `screens` screens must be loaded with before they print at all, beside what goes on the garments
    (None: no size of a frame is known, or the shop has no figure).
    """

    ink: str
    colour: str
    job_cm3: float | None
    job_g: float | None
    whole: bool
    screens: int = 0
    load_g: float | None = 0.0


def needs(db: Database, job: jobs.Saved) -> list[InkLine]:
    """What every printing station of a job takes of every ink."""
    spec = the_spec(db)
    out: list[InkLine] = []
    for number, placement in enumerate(job.sheet.placements, 1):
        asked = {one.number: one.separation for one in jobs.asked(db, job, number)}
        for station in placement.printing:
            there = _carriers(db, asked.get(station.number))
            film, side = _film(there, station), _side(db, there)
            for (kind, colour), pieces in _pieces(job.sheet, placement, station).items():
                out.append(_line(number, placement, station, kind, colour, pieces, film, spec, job, side))
    return out


def totals(lines: Iterable[InkLine]) -> list[Total]:
    """The same ink of several stations put together, in the order of printing."""
    found: dict[tuple[str, str], Total] = {}
    for line in lines:
        key = (line.ink, line.colour.casefold())
        was = found.get(key, Total(line.ink, line.colour, 0.0, 0.0, True))
        found[key] = Total(
            was.ink,
            was.colour,
            _sum(was.job_cm3, line.job_cm3),
            _sum(was.job_g, line.job_g),
            was.whole and not line.missing,
            was.screens + 1,
            _sum(was.load_g, line.load_g),
        )
    return list(found.values())


def at_rows(db: Database, job: jobs.Saved, system: str) -> dict[tuple[str, int], str]:
    """For paper, by placement and print order: what its screen is loaded with, and what goes on all garments of the
    job, ink by ink, of the same lines and totals that the job's page has. No figure where something is not known."""
    found: dict[tuple[str, int], list[InkLine]] = {}
    for line in needs(db, job):
        found.setdefault((job.sheet.placements[line.placement - 1].name, line.station), []).append(line)
    every = {place: totals(some) for place, some in found.items()}
    return {place: "; ".join(_at_row(one, len(some) > 1, system) for one in some) for place, some in every.items()}


def _at_row(total: Total, named: bool, system: str) -> str:
    number, unit = (total.job_cm3, "cm3") if total.job_g is None else (total.job_g, "g")
    unknown = _("not known")
    load = units.show_value(total.load_g, "g", system) if total.load_g is not None else unknown
    need = units.show_value(number, unit, system) if number is not None and total.whole else unknown
    if load == need == unknown:
        said = _("ink need not known")
    else:
        said = _("load {load}, on garments {need}").format(load=load, need=need)
    return f"{total.colour}: {said}" if named else said


def _sum(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else one + other


def _pieces(job: Job, placement: Placement, station: Station) -> dict[tuple[str, str], int]:
    """How many garments take which ink here."""
    found: dict[tuple[str, str], int] = {}
    for garment in job.garments:
        ink = ink_for(job, job.colourway_of(garment), placement, station)
        if ink is not None:
            key = (ink.kind, ink.colour)
            found[key] = found.get(key, 0) + garment.pieces
    return found


@dataclass(frozen=True, slots=True)
class _Film:
    middle: float | None
    low: float | None = None
    high: float | None = None
    of: str = ""


def _carriers(db: Database, separation: int | None) -> list[screens.Screen]:
    return screens.carrying(db, separation) if separation is not None else []


def _side(db: Database, there: Iterable[screens.Screen]) -> float | None:
    """The shorter side in cm of the frames that carry an image, of the largest where they differ, so that the ink is
    enough for each; of the shop's usual frame where none is known; None: no size was noted of any."""
    sizes = [screen.life.mesh.frame_size_mm for screen in there if screen.life.mesh is not None]
    known = [side for side in map(_shorter_cm, sizes) if side is not None]
    return max(known) if known else _shorter_cm(screens.usual_frame_size(db))


def _shorter_cm(size: str) -> float | None:
    try:
        (wide, high), _said = several.size_mm(size)
    except NotAQuantity:
        return None
    return round(min(wide, high) / 10, 2)


def _film(there: Iterable[screens.Screen], station: Station) -> _Film:
    """The film that a station's mesh lays by theory: the maker's value of a screen made for it, else computed."""
    for screen in there:
        mesh = screen.life.mesh
        if mesh is not None and mesh.ink_volume_cm3_m2:
            return _Film(mesh.ink_volume_cm3_m2, of=str(screen.code))
    if station.mesh is None or station.mesh.thread_um is None:
        return _Film(None)
    try:
        found = mesh_rules.geometry(quantity(station.mesh.count_per_cm, "/cm"), quantity(station.mesh.thread_um, "um"))
    except CannotBe:
        return _Film(None)
    if found.ink_volume_low is None or found.ink_volume_high is None:
        return _Film(None)
    low, high = magnitude(found.ink_volume_low, "cm3/m2"), magnitude(found.ink_volume_high, "cm3/m2")
    return _Film((low + high) / 2, low, high)


def _positive(limit: Limit | None) -> Limit | None:
    return limit if limit is not None and limit.value > 0 else None


def _line(
    number: int,
    placement: Placement,
    station: Station,
    kind: str,
    colour: str,
    pieces: int,
    film: _Film,
    spec: Spec,
    job: jobs.Saved,
    side_cm: float | None,
) -> InkLine:
    count = round(station.mesh.count_per_cm * 2.54, 1) if station.mesh and station.mesh.count_per_cm else None
    facts = facts_of(ink=kind, job=str(job.code), count_per_in=count)
    transfer, density = (_positive(spec.find(key, **facts)) for key in ("ink-transfer", "ink-density"))
    waste = spec.find("ink-waste", **facts)
    load = _positive(spec.find("ink-load", **facts, **facts_of(side_cm=side_cm)))
    area = placement.width_mm * placement.height_mm / 100 if placement.height_mm else None
    covered = station.coverage_pct
    known = {N_("the print height"): area, N_("the coverage"): covered, N_("the thread of the mesh"): film.middle}
    missing = [what for what, value in known.items() if value is None]
    found: rules.InkNeed | None = None
    if area is not None and film.middle is not None and covered is not None:
        found = rules.need(
            quantity(area, "cm2"),
            quantity(covered, "%"),
            quantity(film.middle, "cm3/m2"),
            quantity(density.value if density else 1.0, "g/cm3"),
            strokes=station.strokes,
            transfer=transfer.value if transfer else 1.0,
            pieces=pieces,
            waste=quantity(waste.value if waste else 0.0, "%"),
        )
    return InkLine(
        number,
        station.number,
        station.separation,
        colour,
        kind,
        pieces,
        area,
        covered,
        film.middle,
        film.low,
        film.high,
        film.of,
        station.strokes,
        transfer.value if transfer else 1.0,
        transfer.row if transfer else None,
        density.value if density else None,
        waste.value if waste else 0.0,
        magnitude(found.volume, "cm3") if found else None,
        magnitude(found.job_volume, "cm3") if found else None,
        magnitude(found.per_print, "g") if found and density else None,
        magnitude(found.job, "g") if found and density else None,
        tuple(missing),
        load.value if load else None,
        count,
        side_cm,
    )


def judge_line(line: InkLine) -> list[Reason]:
    """How far the ink of a station can be believed."""
    if line.missing:
        return [Reason("ink-not-reckoned", Level.UNKNOWN, {"missing": ", ".join(_(name) for name in line.missing)})]
    reasons = []
    if line.transfer_row is None:
        reasons.append(Reason("ink-not-calibrated", Level.UNKNOWN, {"ink_word": line.ink}))
    if line.density_g_cm3 is None:
        reasons.append(Reason("ink-density-unknown", Level.UNKNOWN, {"ink_word": line.ink}))
    return reasons


phrases(
    {
        "ink-not-reckoned": (
            N_("The ink can’t be worked out yet. Missing: {missing}."),
            N_("Add what is missing to the job."),
        ),
        "ink-not-calibrated": (
            N_("Not yet calibrated: {ink_word} is worked out by theory alone."),
            N_("Weigh three printed garments, each less its blank."),
        ),
        "ink-density-unknown": (
            N_("The density of {ink_word} is not known, so no weight can be said."),
            N_("Take it from the ink's data sheet."),
        ),
    }
)
