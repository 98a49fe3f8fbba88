"""What the papers of a run say: the set-up sheet, and the comparison of a repeat with the print before it.

Every value is text already said to the reader; nothing here draws.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from tickets.calculator.verdict import WORDS, Level, say
from tickets.domain import cautions
from tickets.domain.jobs.colourways import LOT_OF, named
from tickets.domain.jobs.job import Placement, Station
from tickets.domain.papers.kept import LAYOUT
from tickets.domain.papers.ticket import JobTicket, PlacementSheet, StationRow, with_signs
from tickets.domain.runs.as_run import (
    BESIDE,
    FIELDS,
    NOT_MEASURED,
    AsRun,
    alike_as,
    doubt_said,
    note_told,
    paper_word,
    proved,
    target_word,
    texts_of,
    with_doubt,
)
from tickets.domain.runs.comparison import ComparedLine, differing
from tickets.domain.runs.repeat import WHOLE
from tickets.domain.separation import folded
from tickets.domain.spec import SHIPPED, Spec
from tickets.i18n import gettext as _

PRINT_FIELDS = (
    "head",
    "strokes",
    "squeegee",
    "hardness_measured",
    "angle",
    "pressure",
    "speed",
    "off_contact",
    "ink_lot",
    "additives",
    "note",
)
FLASH_FIELDS = ("head", "time", "time_cold", "time_steady", "surface", "note")
COOL_FIELDS = ("head", "time", "note")
WHOLE_FIELDS = (
    "belt",
    "belt_speed",
    "belt_set",
    "set",
    "garment_peak",
    "peak_how",
    "hold",
    "platen",
    "adhesive",
    "placement",
    "garment_lot",
)
NOTHING: Mapping[str, Mapping[str, str]] = {}


@dataclass(frozen=True, slots=True)
class SheetSetting:
    """A setting of the sheet: its label, the target, as run (empty: a blank to write on), and whether they differ."""

    label: str
    target: str = ""
    as_run: str = ""
    differs: bool = False


@dataclass(frozen=True, slots=True)
class SheetStation:
    """A line of the print order: what it prints or does, its mesh and screen, its settings; `need`: what the screen is
    loaded with, and what goes on the garments."""

    order: str
    does: str
    prints: bool
    title: str
    mesh: str
    screen: str
    target: tuple[str, ...]
    settings: tuple[SheetSetting, ...]
    need: str = ""


@dataclass(frozen=True, slots=True)
class SetupSheet:
    """The set-up sheet of a run. `job`: its ticket, for the head and the cautions; `where_from`: of the target; `how`
    it was approved and where the `sample` is kept; `changes`: during the run, each a sentence; `measured`: who took
    which measurements and when, each a sentence; `stops`: what stops it, each a sentence; `cautions`: those of the
    press, in one line; `over`: the run is finished, so that the remarks say what did differ."""

    job: JobTicket
    run: str
    press: str
    placement: PlacementSheet
    where_from: str
    stations: tuple[SheetStation, ...]
    whole: tuple[SheetSetting, ...]
    approved: str = ""
    remarks: tuple[str, ...] = ()
    how: str = ""
    sample: str = ""
    changes: tuple[str, ...] = ()
    measured: tuple[str, ...] = ()
    stops: tuple[str, ...] = ()
    cautions: str = ""
    over: bool = False
    layout: int = LAYOUT


# whole: each field of the paper once, in its order; half of it names what it is made from
def setup_sheet(
    job: JobTicket,
    placement: Placement,
    sheet: PlacementSheet,
    *,
    run: str,
    press: str,
    target: Mapping[str, Mapping[str, str]],
    where_from: str,
    as_run: Mapping[str, Any] | None = None,
    screens: Mapping[int, str] | None = None,
    heads: Mapping[int, int | None] | None = None,
    approved: str = "",
    remarks: Sequence[str] = (),
    changed: Mapping[int, Sequence[str]] | None = None,
    how: str = "",
    sample: str = "",
    changes: Sequence[str] = (),
    measured: Sequence[str] = (),
    stops: Sequence[str] = (),
    colours: Mapping[int, str] | None = None,
    inks: Collection[str] = (),
    limits: Spec = SHIPPED,
    over: bool = False,
    read_again: Mapping[str, Mapping[str, str]] = NOTHING,
    notes: Mapping[str, int] | None = None,
) -> SetupSheet:
    """The sheet of one placement. `sheet`: the placement as the job ticket says it; `target` and `as_run` (the set-up
    sheet's values) by the print order's number as text; what is not noted is left blank to write on. `remarks`: what
    will differ from the last approved print (`over`: the run is finished, and that is what did); `changed`: by print
    order what was set otherwise after it was approved; `how`, `sample`, `changes`, `measured` and `stops` as in
    `SetupSheet`; `colours`: the readings to meet; `inks`: the kinds that it prints in any colourway, for the cautions
    of the press; `limits`: by how much two settings may differ and be the same; `read_again`: what was measured more
    than once, all its readings; `notes`: in which run each note of the target was noted.
    """
    as_run, screens, heads, changed = as_run or {}, screens or {}, heads or {}, changed or {}
    stations = []

    def known(part: int | str) -> Callable[[str, str], str]:
        return _known(as_run, part, read_again.get(str(part), {}))

    for station, row in zip(placement.stations, sheet.stations, strict=True):
        aim = dict(target.get(str(station.number), {}))
        run_with = texts_of((as_run.get("stations") or {}).get(str(station.number)) or {})
        if heads.get(station.number):
            run_with.setdefault("head", str(heads[station.number]))
        stations.append(
            SheetStation(
                str(station.number),
                row.does,
                station.prints,
                row.separation,
                row.mesh,
                screens.get(station.number, ""),
                (
                    *_target(station, row, aim, notes or {}),
                    *_colour(station, colours or {}),
                    *changed.get(station.number, ()),
                ),
                tuple(_settings(_fields_of(station, run_with), aim, run_with, limits, known(station.number))),
                row.need,
            )
        )
    values: dict[str, str] = {}
    for name, value in as_run.items():
        if name not in BESIDE:
            values |= texts_of(value) if isinstance(value, Mapping) else texts_of({name: value})
    return SetupSheet(
        job,
        run,
        press,
        sheet,
        where_from,
        tuple(stations),
        tuple(_settings(_whole_fields(job), target.get(WHOLE, {}), values, limits, known(WHOLE))),
        approved,
        tuple(remarks),
        how,
        sample,
        tuple(changes),
        tuple(measured),
        tuple(stops),
        cautions.at_press(inks or {station.ink for station in placement.printing}),
        over,
    )


def _whole_fields(job: JobTicket) -> Sequence[str]:
    """What is asked of the whole run: of several garments the lot of each."""
    garments = list(dict.fromkeys(named(one.style, one.colour) for one in job.garments))
    if len(garments) < 2:
        return WHOLE_FIELDS
    return [*(name for name in WHOLE_FIELDS if name != "garment_lot"), *(f"{LOT_OF}{name}" for name in garments)]


def _colour(station: Station, colours: Mapping[int, str]) -> tuple[str, ...]:
    """The reading that a station's colour is to meet, for its target."""
    said = colours.get(station.number, "")
    return (_("colour {reading}").format(reading=said),) if said else ()


def _fields_of(station: Station, run_with: Mapping[str, str]) -> list[str]:
    """What is asked of a station, and what was noted beyond that."""
    asked = {"print": PRINT_FIELDS, "flash": FLASH_FIELDS}.get(station.does, COOL_FIELDS)
    extra = [name for name in FIELDS if name in run_with and name not in (*asked, "bucket")]  # it stands with its lot
    order = ["order"] if "order" in run_with else []
    return [*order, *asked[:-1], *(name for name in extra if name != "ink"), asked[-1]]


def _known(as_run: Mapping[str, Any], part: int | str, again: Mapping[str, str]) -> Callable[[str, str], str]:
    """Says a setting of a part of the sheet as it is known; what was measured `again`, with all its readings."""

    def said(name: str, value: str) -> str:
        return again.get(name) or (value if proved(as_run, str(part), name, value) else with_doubt(value))

    return said


def _settings(
    names: Iterable[str],
    aim: Mapping[str, str],
    run_with: Mapping[str, str],
    limits: Spec,
    known: Callable[[str, str], str],
) -> Iterable[SheetSetting]:
    for name in names:
        target, value = (_with_bucket(name, values) for values in (aim, run_with))
        label = paper_word(name)
        differs = alike_as(name, target, value, limits) is False
        yield SheetSetting(label, with_signs(target), with_signs(known(name, value)), differs)


def _with_bucket(name: str, values: Mapping[str, str]) -> str:
    """A setting; the ink's lot with its bucket, which may have said it already."""
    value, bucket = values.get(name, ""), values.get("bucket", "") if name == "ink_lot" else ""
    if bucket and (not value or folded(value) in map(folded, bucket.split(" · "))):
        return bucket
    return " · ".join(filter(None, (bucket, value)))


_BLADE = ("angle", "angle_mark", "length", "pressure", "speed", "hardness_measured", "flood", "off_contact_measured")


def _target(station: Station, row: StationRow, aim: Mapping[str, str], notes: Mapping[str, int]) -> tuple[str, ...]:
    """What the run should meet, a text each and each once: the target where it says something, else the job sheet."""
    # the row has what has no place of its own too
    note = row.note if aim.get("note", "") in row.note else note_told(aim["note"], notes)
    if not station.prints:
        held = [aim.get("time", "") or row.flash, aim.get("surface", ""), aim.get("surface_feel", ""), row.head, note]
        return tuple(map(with_signs, filter(None, (*held, *row.ways))))
    blade = aim.get("squeegee") or row.squeegee
    blades = [f"{target_word(name)}: {aim[name]}" for name in _BLADE if aim.get(name)]
    said = [
        aim.get("ink") or ", ".join(filter(None, (row.colour, row.ink, row.series, row.reference))),
        *row.ways,
        row.recipe,
        _("strokes {n}").format(n=aim["strokes"]) if aim.get("strokes") else row.strokes,
        _("squeegee {blade}").format(blade=blade) if blade else "",
        *(said for said in blades if with_signs(said) not in row.note),
        _("off-contact {distance}").format(distance=aim.get("off_contact") or row.off_contact)
        if aim.get("off_contact") or row.off_contact
        else "",
        row.halftone,
        row.head,
        row.choke,
        note,
    ]
    return tuple(map(with_signs, filter(None, said)))


# The comparison ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ComparedRow:
    """A setting of both prints, and by how much they differ; `verdict` of a colour: the word first, then `why`.
    `one_sided`: a setting known of one print alone."""

    label: str
    before: str
    now: str
    by_how_much: str = ""
    verdict: str = ""
    why: str = ""
    one_sided: bool = False


@dataclass(frozen=True, slots=True)
class ComparedGroup:
    """What differs, with the `small` differences in one text; or of the whole placement or one station what is not
    known of both, and in one text what is the same."""

    title: str
    rows: tuple[ComparedRow, ...]
    same: str = ""
    small: str = ""


@dataclass(frozen=True, slots=True)
class ComparisonSheet:
    """The comparison on paper. `headings`: of the two columns; `first`: why it is compared with that print, and whether
    a colour was measured; `stops`: each colour that is a stop, in a sentence; `for_customer`: of the sheets that were
    kept before the customer's was one of its own."""

    job: JobTicket
    placement: str
    headings: tuple[str, str]
    groups: tuple[ComparedGroup, ...]
    first: str = ""
    for_customer: bool = False
    remarks: tuple[str, ...] = field(default=())
    stops: tuple[str, ...] = field(default=())
    layout: int = LAYOUT


def comparison_sheet(
    job: JobTicket,
    before: AsRun,
    after: AsRun,
    against: str,
    lines: Sequence[ComparedLine],
    *,
    remarks: Sequence[str] = (),
) -> ComparisonSheet:
    """The comparison of two runs: what differs in the order of `first_seen`, then the rest print order by print order;
    `against` says which print it is compared with, and why."""
    found = differing(lines)
    shown = {*map(id, found.large), *map(id, found.small)}
    large = tuple(_row(line, label) for label, line in _together(found.large))
    groups = [ComparedGroup(_("What differs"), large, small=found.small_said)]
    for number in dict.fromkeys(line.station for line in lines):
        own = [line for line in lines if line.station == number and id(line) not in shown]
        rows = tuple(_row(line, line.word) for line in own if line.differs is not False)
        same = [f"{line.word}: {with_signs(line.b)}" for line in own if line.differs is False and line.what != "order"]
        if rows or same:
            what = own[0].title
            title = _("Position {n}: {what}").format(n=number, what=what) if number else _("The whole placement")
            groups.append(ComparedGroup(title, rows, " · ".join(same)))
    if any(line.doubted for line in lines):
        remarks = [*remarks, doubt_said()]
    colour = any(line.what == "colour" for line in lines)
    measured = "" if colour else _("No colour was measured, so none is compared.")
    said = [
        ", ".join(filter(None, (word, _("run {n}").format(n=one.run), one.day)))
        for word, one in ((_("Before"), before), (_("Now"), after))
    ]
    return ComparisonSheet(
        job,
        after.placement.name,
        (said[0], said[1]),
        tuple(groups),
        " ".join(filter(None, (against, measured))),
        remarks=tuple(remarks),
        stops=tuple(_stops(lines)),
    )


def _together(lines: Sequence[ComparedLine]) -> Iterable[tuple[str, ComparedLine]]:
    """Each difference with its label; one that several print orders have alike is said once, with all of them."""
    alike: dict[Hashable, list[ComparedLine]] = {}
    for line in lines:
        key = line.station if line.verdict or not line.station else (line.a, line.b, line.by_how_much)
        alike.setdefault((line.what, key), []).append(line)
    for some in alike.values():
        numbers = ", ".join(str(line.station) for line in some)
        said = _("{setting}, positions {numbers}").format(setting=some[0].word, numbers=numbers)
        yield (some[0].placed if len(some) == 1 else said), some[0]


def _stops(lines: Sequence[ComparedLine]) -> Iterable[str]:
    """The colours that are stops, each with its place and by how much."""
    for line in lines:
        if line.what == "colour" and line.verdict and line.verdict.level is Level.STOP:
            why = " ".join(say(one).sentence for one in line.verdict.reasons if one.level is Level.STOP)
            yield f"{line.station}. {line.title}: {why}"


def _row(line: ComparedLine, label: str) -> ComparedRow:
    verdict = _(WORDS[line.verdict.level]) if line.verdict else ""
    reasons = [one for one in line.verdict.reasons if one.level is not Level.OK] if line.verdict else []
    why = " ".join(say(one).sentence for one in reasons)
    a, b = with_signs(line.a) or "–", with_signs(line.b) or "–"
    if line.run:  # the reading stands in the column of another print
        a += f" ({', '.join(filter(None, (_('run {n}').format(n=line.run), line.day)))})"
    nothing = {"–", _(NOT_MEASURED)}
    one_sided = line.differs is None and not verdict and line.what in FIELDS and bool(nothing & {a, b})
    return ComparedRow(label, a, b, line.by_how_much, verdict, why, one_sided)
