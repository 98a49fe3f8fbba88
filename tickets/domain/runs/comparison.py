"""Two runs side by side: every setting, what differed and by how much, the colour, and what came up while they printed.

The colour is compared with the first measured print of all too, so that small steps cannot add up unseen.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from tickets.calculator import colour as colour_rules
from tickets.calculator import units
from tickets.calculator.colour import Lab
from tickets.calculator.mesh import judge_same
from tickets.calculator.verdict import Level, Reason, Verdict, judge, phrases
from tickets.domain.code import shown
from tickets.domain.jobs.colourways import GARMENT, LOT_OF, called, garments_of
from tickets.domain.jobs.job import Garment, Job, Placement, Station, ink_for
from tickets.domain.person import role_said
from tickets.domain.runs import first_seen, lab
from tickets.domain.runs.as_run import (
    BESIDE,
    FIELDS,
    NOT_MEASURED,
    AsRun,
    Printed,
    ScreenThen,
    alike_as,
    fibre_said,
    field_word,
    how_far,
    named,
    pairs,
    proved,
    side_by_side,
    signed,
    texts_of,
    within,
)
from tickets.domain.separation import folded, whole_mm
from tickets.domain.setting import MEASURED, SETTINGS
from tickets.domain.spec import SHIPPED, Limit, Spec, facts_of
from tickets.i18n import N_
from tickets.i18n import gettext as _

ALONG = ("impressions", "screen_other", "went_on", "changed")
"""What came up while it printed: no setting of the approved print, so none of these counts as one that differs."""
NOT_NOTED = N_("not noted")
FOR_CUSTOMER = frozenset(
    "art size order mesh ink squeegee hardness hardness_measured edge angle angle_mark length pressure speed"
    " off_contact off_contact_measured strokes flood time time_cold time_steady surface surface_feel belt_speed"
    " belt_set set garment_peak peak_how hold garment garment_lot press placement colour drift approved changed".split()
)
"""What the customer is told of: a field that nobody thought of stays inside, as do recipes, lots of ink, tension and
exposure."""


@dataclass(frozen=True, slots=True)
class ComparedLine:
    """One setting of both runs. `station` is the print order of the later run (0: the whole placement; one that
    only the earlier run had keeps its number), `title` its separation. `differs` is None where one side is not known.
    `by_how_much`: where both read as numbers, with sign and unit. `doubted`: a measurement that nobody is known to have
    taken, which says so, and is the same as nothing. `within`: both read differently and are still the same, by this
    limit of the shop. Of the colour alone: `verdict`; of its drift also
    `run` and `day` of the first measured print, which `a` was read from."""

    station: int
    title: str
    what: str
    a: str
    b: str
    differs: bool | None
    by_how_much: str = ""
    verdict: Verdict | None = None
    run: int = 0
    day: str = ""
    doubted: bool = False
    within: str = ""

    @property
    def counts(self) -> bool:
        """Whether it is a setting that differs: who approved is none."""
        return bool(self.differs) and self.what != "approved"

    @property
    def judged(self) -> bool:
        """Whether its verdict makes it one that differs, as data: the very same colour is the same."""
        return self.verdict is not None and not (self.differs is False and self.a == self.b)

    @property
    def not_known(self) -> str:
        """Of which print it is not known, where the two cannot be compared; empty where they can, or are judged."""
        if self.differs is not None or self.verdict or self.what in ALONG:
            return ""
        nobody = {"", "–", _(NOT_MEASURED), _(NOT_NOTED)}
        before, now = self.a in nobody, self.b in nobody
        if before and now:
            return _("not known of either print")
        if before or now:
            return _("not known of the print before") if before else _("not known of this print")
        return _("not known whether it was measured")

    @property
    def word(self) -> str:
        """The setting's name, in the reader's language."""
        return field_word(self.what)

    @property
    def placed(self) -> str:
        """The setting with the print order that it belongs to: `3 red, Strokes`; that of the whole placement alone."""
        return f"{self.station} {self.title}, {self.word}" if self.station else self.word


def compare(
    a: AsRun, b: AsRun, limits: Spec, *, first: AsRun | None = None, system: str = "metric"
) -> tuple[ComparedLine, ...]:
    """Every setting of the run before (`a`) and of the repeat (`b`), station by station in the repeat's print order.

    The colour is judged by the limits `colour-warn` and `colour-fail` of the spec; its drift is that
    against `first`, the first print of all that was measured (None: that is `a`, or none was). What was measured is
    said in the units of `system`, sizes and settings as they were typed.
    """
    lines = list(_whole(a, b, system, limits))
    colour, drift = _colours(a, b, limits), _colours(first, b, limits) if first and first.run != a.run else {}
    along = _along(a, b, system)
    lines += along.get(0, ())
    for was, now in pairs(a.placement, b.placement):
        here = now or was
        assert here is not None
        lines += _compared(a, was, b, now, here.number, named(here), system, limits)
        if now is None:
            continue
        lines += along.get(now.number, ())
        if now.number in colour:
            lines.append(_colour(colour[now.number], named(now)))
        if first and now.number in drift and drift[now.number].approved and drift[now.number].printed:
            line = _colour(drift[now.number], named(now))
            lines.append(replace(line, what="drift", run=first.run, day=first.day))
    return tuple(lines)


@dataclass(frozen=True, slots=True)
class Differing:
    """What differs, in the order of `first_seen`: settings that do (a colour that is judged stands among them whatever
    its verdict), and the small ones, each within a limit of the shop."""

    large: tuple[ComparedLine, ...]
    small: tuple[ComparedLine, ...]

    @property
    def small_head(self) -> str:
        """How many small ones there are, and within what."""
        return first_seen.small_head(len(self.small), [one.within for one in self.small])

    @property
    def small_told(self) -> list[str]:
        """Each small one in a few words."""
        return [first_seen.told(one.placed, one.a, one.b) for one in self.small]

    @property
    def small_said(self) -> str:
        """The small ones in one line."""
        return first_seen.small_line(self.small_told, [one.within for one in self.small])


def differing(lines: Iterable[ComparedLine]) -> Differing:
    """What of a comparison differs, what a customer would see first at the top."""
    found = first_seen.in_order(lines, lambda line: line.what, lambda line: line.station)
    return Differing(
        tuple(line for line in found if line.counts or line.verdict),
        tuple(line for line in found if line.within and not line.counts and not line.verdict),
    )


def as_data(lines: Iterable[ComparedLine]) -> dict[str, list[dict[str, Any]]]:
    """A comparison for JSON, in the same order as on page and paper: `differs`, `small` (with the limit `within` which
    it is), `not_known` of both, `beside` (no settings: who approved), `happened` while either printed, `same`.

    Each: station (0: the whole placement), title, setting, group (of `first_seen`), before, now; `by` how much,
    `unknown` of which print, and of a colour its `verdict`, where there is one."""
    lines = list(lines)
    found = differing(lines)
    told = {*map(id, found.large), *map(id, found.small)}
    rest = first_seen.in_order(lines, lambda line: line.what, lambda line: line.station)
    rest = [one for one in rest if id(one) not in told]
    return {
        "differs": [_data(one) for one in found.large if one.counts or one.judged],
        "small": [_data(one) for one in found.small],
        "not_known": [_data(one) for one in rest if one.differs is None and one.what not in ALONG],
        "happened": [_data(one) for one in rest if one.what in ALONG],
        "beside": [_data(one) for one in rest if one.differs],
        "same": [_data(one) for one in found.large if not (one.counts or one.judged)]
        + [_data(one) for one in rest if one.differs is False],
    }


def _data(line: ComparedLine) -> dict[str, Any]:
    said = {
        "station": line.station,
        "title": line.title,
        "setting": line.what,
        "group": first_seen.group_of(line.what),
        "before": line.a,
        "now": line.b,
    }
    verdict = str(line.verdict.level) if line.verdict else ""
    more = {"by": line.by_how_much, "unknown": line.not_known, "within": line.within, "verdict": verdict}
    return said | {name: value for name, value in more.items() if value}


def colours_of(a: AsRun, b: AsRun, limits: Spec) -> list[ColourOf]:
    """The colours of two prints beside each other."""
    return colours(a.placement, a.approved, b.placement, b.approved, b.job, b.code, limits, a.job)


def _colours(a: AsRun, b: AsRun, limits: Spec) -> dict[int, ColourOf]:
    return {one.station: one for one in colours_of(a, b, limits)}


def _line(
    station: int, title: str, what: str, a: str, b: str, *, limits: Spec = SHIPPED, system: str = "metric"
) -> ComparedLine:
    same = alike_as(what, a, b, limits)
    small = within(what, a, b, limits, system)
    if what in SETTINGS or what in _OF_QUANTITIES:
        a, b = side_by_side(a, b, system)
    far = how_far(a, b) if (same is False or small) and what not in _NUMBERS_OF_THINGS else ""
    return ComparedLine(station, title, what, a, b, None if same is None else not same, far, within=small)


def _as_known(line: ComparedLine, *sides: tuple[AsRun, str]) -> ComparedLine:
    """A setting with what is known of each side (a run, and the part of its sheet): what nobody measured says so, and
    what nobody is known to have measured; two that may be one and the same copy are not known to be the same."""
    line = replace(line, a=line.a or _open(*sides[0]), b=line.b or _open(*sides[1]))
    if line.what not in MEASURED:
        return line
    both = [(run, part, text) for (run, part), text in zip(sides, (line.a, line.b), strict=True)]
    doubted = [not proved(run.sheet, part, line.what, text) for run, part, text in both]
    told = [_said(run, part, line.what, text) for run, part, text in both]
    differs = None if any(doubted) and line.differs is False else line.differs
    small = "" if any(doubted) else line.within
    return replace(line, a=told[0], b=told[1], differs=differs, doubted=any(doubted), within=small)


def _said(run: AsRun, part: str, what: str, text: str) -> str:
    """A measurement of a side: as it is known, or that nobody took it."""
    if text and text == _open(run, part):
        return text
    return run.said(part, what, text) if text else _(NOT_MEASURED) if run.sheet and part else ""


def _open(run: AsRun, part: str) -> str:
    """What stands for a setting of a part that nobody noted, while others were; empty: it was noted so."""
    return _(NOT_NOTED) if part and "noted" in run.sheet and part not in run.sheet["noted"] else ""


_OF_QUANTITIES = frozenset({"mesh", "squeegee", "pressure"})
"""Settings in several parts, some of them quantities."""
_NUMBERS_OF_THINGS = frozenset({"screen", "bucket", "ink_lot", "garment_lot"})
"""Numbers that tell things apart: no two of them are so much apart."""


def _whole(a: AsRun, b: AsRun, system: str, limits: Spec) -> Iterator[ComparedLine]:
    def both(what: str, one: Callable[[AsRun], str]) -> Iterator[ComparedLine]:
        if one(a) or one(b):
            yield _line(0, "", what, one(a), one(b))

    yield from both("art", lambda run: f"{run.placement.art.name}, {run.placement.art.revision}")
    yield _sizes(a.placement, b.placement, system)
    yield from both("garment", lambda run: "; ".join(dict.fromkeys(map(_garment_said, run.job.garments))))
    yield from both("press", lambda run: run.press)
    wholes = [_wholes(run.sheet) for run in (a, b)]
    for run, one in zip((a, b), wholes, strict=True):
        several = garments_of(run.job) if len(garments_of(run.job)) > 1 else {}
        for name in several:
            one.setdefault(LOT_OF + name, _lots(run.job, name))
        if not several:
            one["garment_lot"] = garment_lot(one, run.job)
    wholes = [{name: text for name, text in one.items() if text} for one in wholes]
    for name in _in_order({**wholes[0], **wholes[1]}):
        both_said = [one.get(name, "") for one in wholes]
        line = _line(0, "", name, *both_said, limits=limits, system=system)
        yield _as_known(line, (a, "run"), (b, "run"))
    yield from both("approved", lambda run: approval_said(run.approved))


def garment_lot(noted: Mapping[str, str], job: Job) -> str:
    """The lot of a job's only garment as it was noted from the carton, else the job sheet's."""
    return noted.get("garment_lot", "") or _lots(job)


def _lots(job: Job, name: str = "") -> str:
    """The lots that the job sheet has, of one garment or of all."""
    some = (one for one in job.garments if name in ("", called(one)))
    return ", ".join(dict.fromkeys(one.lot for one in some if one.lot))


def _sizes(a: Placement, b: Placement, system: str) -> ComparedLine:
    """The print size of both. The same to the whole mm is the same: separations are told by that."""
    wide = whole_mm(a.width_mm) != whole_mm(b.width_mm)
    high = a.height_mm and b.height_mm and whole_mm(a.height_mm) != whole_mm(b.height_mm)
    known = bool(a.height_mm) == bool(b.height_mm)
    differs = True if wide or high else False if known else None
    one, other = _size(a, system), _size(b, system)
    return ComparedLine(0, "", "size", one, other, differs, how_far(one, other) if differs else "")


def _size(placement: Placement, system: str) -> str:
    wide = _length(placement, "width", placement.width_mm, system)
    if not placement.height_mm:
        return wide
    return f"{wide} × {_length(placement, 'height', placement.height_mm, system)}"


def _length(placement: Placement, name: str, value_mm: float, system: str) -> str:
    """A length as the job sheet has it, in the unit that it was typed in; else in the units of `system`."""
    typed, was = placement.typed.get(name, ("", None))
    if not typed or was != value_mm:
        return units.show_value(value_mm, "mm", system)
    digits, spelling = units.split(typed)
    unit = units.unit_named(spelling, "length") if spelling else None
    return f"{digits}\u00a0{units.unit_text(unit)}" if unit else typed


def _garment_said(garment: Garment) -> str:
    """The garment alone: its lot is a line of its own."""
    return ", ".join(filter(None, (garment.style, garment.colour, fibre_said(garment))))


def _wholes(sheet: Mapping[str, Any]) -> dict[str, str]:
    """The settings of the whole placement, also where they stand in groups (such as the dryer's)."""
    found: dict[str, str] = {}
    for name, value in sheet.items():
        if name in BESIDE:
            continue
        found |= texts_of(value) if isinstance(value, Mapping) else texts_of({name: value})
    return found


def approval_said(approved: Mapping[str, Any] | None, staff: bool = True) -> str:
    """Who approved, as whom, and how; without `staff` the shop's own people are not named."""
    if not approved:
        return ""
    role = str(approved.get("approved_as", ""))
    if not staff:
        return _("the customer") if role == "customer" else _("the shop")
    who = str(approved.get("approved_by", ""))
    return ", ".join(filter(None, (f"{who} ({role_said(role)})" if role else who, str(approved.get("how", "") or ""))))


def _in_order(names: Iterable[str]) -> list[str]:
    known = list(FIELDS)
    return sorted(names, key=lambda name: (known.index(name) if name in known else len(known), name))


def _compared(
    a: AsRun,
    was: Station | None,
    b: AsRun,
    now: Station | None,
    number: int,
    title: str,
    system: str,
    limits: Spec,
) -> Iterator[ComparedLine]:
    runs = [(a, was), (b, now)]
    numbers = [run.settings(one.number).get("order", str(one.number)) if one else "" for run, one in runs]
    yield ComparedLine(number, title, "order", numbers[0], numbers[1], numbers[0] != numbers[1])
    heads = [run.heads.get(one.number) if one else None for run, one in ((a, was), (b, now))]
    if any(heads):
        yield _line(number, title, "head", *(str(head or "") for head in heads))
    then = [run.screens.get(one.number) if one else None for run, one in ((a, was), (b, now))]
    if any(then):
        others = [run.printed.get(one.number, ()) if one else () for run, one in runs]
        yield from _of_screens(then[0], then[1], others, number, title, system, limits)
    settings = [dict(run.settings(one.number)) if one else {} for run, one in ((a, was), (b, now))]
    for name in _in_order({*settings[0], *settings[1]} - {"order"}):
        both = [one.get(name, "") for one in settings]
        line = _line(number, title, name, *both, limits=limits, system=system)
        yield _as_known(line, (a, str(was.number) if was else ""), (b, str(now.number) if now else ""))


def _along(a: AsRun, b: AsRun, system: str, staff: bool = True) -> dict[int, tuple[ComparedLine, ...]]:
    """What came up while either run printed, by the print order of `b` (0: the whole placement). Without `staff`: as
    the customer is told, without reasons, names of screens and what is the shop's own business."""
    same = [(was, now) for was, now in pairs(a.placement, b.placement) if now is not None]
    found: dict[int, tuple[ComparedLine, ...]] = {}
    for was, now in [(None, None), *same]:
        number = now.number if now else 0
        both = ((a, was.number if was else None if now else 0), (b, number))
        told = {"changed": [_changed_said(run, own, staff) for run, own in both]}
        if staff:
            printed = [run.printed.get(own or -1, ()) for run, own in both]
            others = [_others(some, system) for some in printed]
            on = [[one.garment for one in run.during if one.garment and one.station == own] for run, own in both]
            went_on = ["; ".join(some) for some in on]
            told = {"impressions": [*map(_impressions, printed)], "screen_other": others, "went_on": went_on, **told}
        title = named(now) if now else ""
        told_of = {what: said for what, said in told.items() if any(said)}
        found[number] = tuple(ComparedLine(number, title, what, one, two, None) for what, (one, two) in told_of.items())
    return found


def _changed_said(run: AsRun, station: int | None, staff: bool) -> str:
    """The changes of a run at one station. The customer is told of those that say so, each of their words once."""
    told = []
    for one in run.during:
        if one.station == station and not one.garment:
            shown_out = "" if one.late else one.said(False) if one.name in FOR_CUSTOMER else one.outside
            told.append(one.said() if staff else shown_out)
    return "; ".join(filter(None, told if staff else dict.fromkeys(told)))


def _impressions(printed: Sequence[Printed]) -> str:
    if not any(one.impressions for one in printed):
        return ""
    return "; ".join(f"{one.name}: {one.impressions or _('not counted')}" for one in printed)


def _others(printed: Sequence[Printed], system: str) -> str:
    """The screens beside the one of the approval, each with its mesh and what was measured of it."""
    told = []
    for one in printed:
        if not one.other:
            continue
        screen, said = one.screen, [one.screen.mesh]
        for what, unit, value in _MEASURED:
            if (number := value(screen)) is not None:
                said.append(f"{field_word(what)} {units.show_value(number, unit, system)}")
        said.append(screen.emulsion)
        told.append(": ".join(filter(None, (one.name, ", ".join(filter(None, said))))))
    return "; ".join(filter(None, told))


_MEASURED: tuple[tuple[str, str, Callable[[ScreenThen], float | None]], ...] = (
    ("tension", "N/cm", lambda screen: screen.mean_n_per_cm),
    ("tension_low", "N/cm", lambda screen: screen.minimum_n_per_cm),
    ("exposure", "s", lambda screen: screen.exposure_s),
    ("exposure", "", lambda screen: screen.exposure_units),
    ("step_held", "", lambda screen: screen.step_held),
)


def _of_screens(
    one: ScreenThen | None,
    other: ScreenThen | None,
    printed: Sequence[Sequence[Printed]],
    number: int,
    title: str,
    system: str,
    limits: Spec,
) -> Iterator[ComparedLine]:
    """The screens of the approval and how they were made; beside them, by name and mesh, all that `printed`."""

    def said(what: Callable[[ScreenThen], str]) -> tuple[str, str]:
        return (what(one) if one else "", what(other) if other else "")

    def of_all(what: Callable[[ScreenThen], str]) -> list[str]:
        every = [
            [each.screen for each in some] or ([approved] if approved else [])
            for approved, some in zip((one, other), printed, strict=True)
        ]
        return ["; ".join(dict.fromkeys(filter(None, map(what, some)))) for some in every]

    yield _line(number, title, "screen", *of_all(lambda screen: screen.mark or shown(screen.code)))
    every_mesh = of_all(lambda screen: screen.mesh)
    line = _line(number, title, "mesh", *every_mesh, system=system)
    alone = [screen.mesh if screen else "" for screen in (one, other)] == every_mesh
    yield _mesh(line, one, other, limits, system) if alone else line
    for what, unit, value in _MEASURED:
        pair = (value(one) if one else None, value(other) if other else None)
        if any(each is not None for each in pair):
            yield _measured(number, title, what, pair[0], pair[1], unit, system, limits)
    emulsion = said(lambda screen: screen.emulsion)
    if any(emulsion):
        yield _line(number, title, "emulsion", *emulsion)


def _mesh(
    line: ComparedLine, one: ScreenThen | None, other: ScreenThen | None, limits: Spec, system: str
) -> ComparedLine:
    """Two meshes that read differently and are one mesh by the shop's limits, where one screen alone printed each."""
    count, thread = limits.find("mesh-count-tolerance"), limits.find("mesh-thread-tolerance")
    if not line.differs or count is None or thread is None or one is None or other is None:
        return line
    if not (one.count_per_cm and other.count_per_cm) or one.thread_um is None or other.thread_um is None:
        return line
    same = judge_same(
        one.count_per_cm * CM_PER_IN,
        one.thread_um,
        other.count_per_cm * CM_PER_IN,
        other.thread_um,
        count_tolerance_pct=count.value,
        thread_tolerance_um=thread.value,
    )
    if judge(same).level is not Level.OK:
        return line
    allowed = ((count, "%"), (thread, "um"))
    small = ", ".join(units.show_difference(limit.value, unit, system) for limit, unit in allowed)
    return replace(line, differs=False, within=small)


CM_PER_IN = 2.54
_SAME_AS: Mapping[str, str] = {
    "tension": "same-tension",
    "tension_low": "same-tension",
    "exposure": "exposure-tolerance",
}
"""By which limit two measurements of screens are the same: in their own unit, or in per cent."""


def _measured(
    station: int,
    title: str,
    what: str,
    a: float | None,
    b: float | None,
    unit: str,
    system: str,
    limits: Spec,
) -> ComparedLine:
    said = [units.show_value(value, unit, system) if value is not None else "" for value in (a, b)]
    if a is None or b is None:
        return ComparedLine(station, title, what, said[0], said[1], None)
    far = b - a
    percent = round(100 * far / a) if a else 0
    share = f", {signed(f'{percent} %')}" if percent else ""
    by = signed(units.show_value(far, unit, system)) + share if said[0] != said[1] else ""
    limit = limits.find(_SAME_AS[what]) if what in _SAME_AS and by else None
    of_share = what == "exposure"
    most = max(abs(a), abs(b)) / 100 if of_share else 1.0
    small = limit is not None and abs(far) <= limit.value * most + 1e-9 * max(1.0, abs(a))
    said_limit = units.show_difference(limit.value, "%" if of_share else unit, system) if limit and small else ""
    return ComparedLine(station, title, what, said[0], said[1], said[0] != said[1] and not small, by, within=said_limit)


# Colour


@dataclass(frozen=True, slots=True)
class ColourOf:
    """A station's reading beside the approved one: `difference` is CIEDE2000, None where it cannot be said."""

    station: int
    approved: Lab | None
    printed: Lab | None
    difference: float | None
    verdict: Verdict


def colours(
    was: Placement,
    was_approved: Mapping[str, Any] | None,
    now: Placement,
    approved: Mapping[str, Any] | None,
    job: Job,
    code: str,
    limits: Spec,
    was_job: Job | None = None,
    garment: str = "",
) -> list[ColourOf]:
    """The readings of an approval beside those of an earlier one, by the print order of `now`.

    Stations are told by what they print; those that neither approval has a reading of are left out. `job` and `code`:
    of the later print, for the limits `colour-warn` and `colour-fail`, which may hang on ink, garment and job.
    `was_job`: of the earlier print, where it is another one. `garment`: what the later one is on.
    """
    then, read = lab.last(was_approved or {}), lab.kept(approved or {})
    found = []
    for old, station in pairs(was, now):
        if station is None or not station.prints:
            continue
        one = then.readings.get(old.number) if old else None
        two = read.readings.get(station.number)
        if one is not None or two is not None:
            before = then.read_under(old.number) if old else ""
            judged = judge_colour(one, two, before, read.read_under(station.number), station.ink, job, code, limits)
            mine = {GARMENT: garment, **(approved or {})} if garment else approved
            inks = (_poured(was_job or job, was, old, was_approved), _poured(job, now, station, mine))
            if judged[0] is not None and (inks[0] != inks[1] or len(inks[0]) > 1):
                judged = None, judge([Reason("colour-other-ink", Level.UNKNOWN)])
            found.append(ColourOf(station.number, one, two, *judged))
    return found


def _poured(
    job: Job, placement: Placement, station: Station | None, approved: Mapping[str, Any] | None
) -> tuple[str, ...]:
    """The ink of an approved print at a station, where the job's colourways have several there: a reading of one is
    none of another. Without a garment that was said, the ones that it may be."""
    if station is None:
        return ()
    said = str((approved or {}).get(GARMENT, ""))
    inks = set()
    for garment in job.garments:
        if not said or said == f"{garment.style}, {garment.colour}":
            ink = ink_for(job, job.colourway_of(garment), placement, station)
            if ink:  # where it isn't printed nothing is read
                inks.add(folded(" ".join((ink.colour, ink.series, ink.reference))))
    own = ink_for(job, None, placement, station)
    if inks <= {folded(" ".join((own.colour, own.series, own.reference)))} if own else not inks:
        return ()
    return tuple(sorted(inks))


def colour_limits(ink: str, job: Job, code: str, limits: Spec) -> tuple[Limit | None, Limit | None]:
    """From which difference on a colour is a caution and a stop, for a print of this ink, garment and job."""
    garment = job.garments[0].style if len({folded(one.style) for one in job.garments}) == 1 else ""
    facts = facts_of(ink=ink, garment=garment, job=code)
    return limits.find("colour-warn", **facts), limits.find("colour-fail", **facts)


def judge_colour(
    one: Lab | None,
    other: Lab | None,
    conditions: str,
    conditions_now: str,
    ink: str,
    job: Job,
    code: str,
    limits: Spec,
) -> tuple[float | None, Verdict]:
    """CIEDE2000 between two readings and its verdict; None where they cannot be compared."""
    if other is None:
        return None, judge([Reason("colour-not-measured", Level.UNKNOWN)])
    if one is None:
        return None, judge([Reason("colour-first-not-measured", Level.UNKNOWN)])
    why = colour_rules.judge_conditions(*(lab.under_of(text).said for text in (conditions, conditions_now)))
    if why:
        return None, judge(why)
    warn, fail = colour_limits(ink, job, code, limits)
    if warn is None or fail is None:
        return None, judge([Reason("colour-no-limit", Level.UNKNOWN)])
    difference = colour_rules.delta_e_2000(one, other)
    rows = (warn.row, fail.row)
    return difference, judge(colour_rules.judge(difference, warn=warn.value, fail=fail.value, spec=rows))


phrases(
    {
        "colour-first-not-measured": (
            N_("The print that it is compared with was not measured."),
            N_("Compare the print with the approved one."),
        ),
        "colour-other-ink": (
            N_("The colourways print different inks here, and the two readings may be of different ones."),
            N_("Say which garment is printed before its first print is approved, and read each colourway’s own."),
        ),
    }
)


def _colour(read: ColourOf, title: str) -> ComparedLine:
    """A colour of the repeat against the first approved print."""
    differs = None if read.difference is None else read.verdict.level is not Level.OK
    far = f"ΔE00 {units.number_text(read.difference, 2)}" if read.difference is not None else ""
    return ComparedLine(
        read.station, title, "colour", _lab(read.approved), _lab(read.printed), differs, far, read.verdict
    )


def _lab(one: Lab | None) -> str:
    return " ".join(f"{part:.1f}" for part in (one.lightness, one.a, one.b)) if one else ""


def _without(verdict: Verdict, inside: re.Pattern[str]) -> Verdict:
    """A verdict whose reasons quote nothing of that: the light of a reading is noted freely too."""
    return replace(
        verdict,
        reasons=tuple(
            replace(
                reason,
                numbers={
                    name: inside.sub("…", value) if isinstance(value, str) else value
                    for name, value in reason.numbers.items()
                },
            )
            for reason in verdict.reasons
        ),
    )


_ORDERED = frozenset({"art", "size", "garment", "ink", "mesh"})
"""The customer's own order: nobody of the shop is named there."""


def for_customer(
    lines: Iterable[ComparedLine], a: AsRun, b: AsRun, hidden: Collection[str] = (), system: str = "metric"
) -> tuple[ComparedLine, ...]:
    """The lines that the customer is shown: no names of the shop's people, no notes, no numbers of its own things.

    `hidden`: words (names, codes) that go out of what was typed freely, wherever they stand as words of their own.
    """
    inside = re.compile("|".join(rf"(?<!\w){re.escape(word)}(?!\w)" for word in sorted(hidden, key=len, reverse=True)))
    left = []
    outside = {(line.station, line.what): line for some in _along(a, b, system, staff=False).values() for line in some}
    for line in lines:
        if line.what in ALONG:
            if (line.station, line.what) not in outside:
                continue
            line = outside[line.station, line.what]
        if line.what == "approved":
            one, other = approval_said(a.approved, staff=False), approval_said(b.approved, staff=False)
            left.append(ComparedLine(0, "", "approved", one, other, one != other if one and other else None))
        elif line.what in FOR_CUSTOMER or line.what.startswith(LOT_OF):
            if hidden and line.what not in _ORDERED:
                verdict = _without(line.verdict, inside) if line.verdict else None
                line = replace(line, a=inside.sub("…", line.a), b=inside.sub("…", line.b), verdict=verdict)
            left.append(line)
    return tuple(left)
