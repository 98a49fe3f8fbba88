"""A repeat before its set-up: what will differ from the run that it is compared with (`queries.target` says which).

It is compared with what was printed, not with what was wished for: the sheet, screens and inks of the approved run.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from tickets.calculator import mesh as mesh_rules
from tickets.calculator import units
from tickets.calculator.verdict import Level, Reason, Verdict, judge, phrases, say
from tickets.domain.code import shown
from tickets.domain.jobs.colourways import LOT_OF, called
from tickets.domain.jobs.job import Garment, Job, Placement, Station, ink_for
from tickets.domain.runs import first_seen
from tickets.domain.runs.as_run import (
    AsRun,
    Changed,
    alike_as,
    fibre_said,
    field_word,
    named,
    pairs,
    side_by_side,
    texts_of,
    within,
)
from tickets.domain.runs.setup import PASSING
from tickets.domain.separation import folded, whole_mm
from tickets.domain.spec import SHIPPED, Limit, Spec
from tickets.domain.stages import STANDING_WORDS, Standing, mesh_said
from tickets.i18n import N_
from tickets.i18n import gettext as _

CM_PER_IN = 2.54
WHOLE = "run"
"""Beside the numbers of the print order: what is set for the whole placement."""


@dataclass(frozen=True, slots=True)
class LastScreen:
    """A screen that hung last time, as it is now: whether it still carries the image, its stage, and the verdict that
    the press would give it. `last` is False for another screen that carries the image by now; `given_up`: somebody
    said that it is stripped although this job needs it; `going`: why it covers no job now, one of `needs.going`."""

    code: str
    carries: bool
    standing: str = ""
    verdict: Verdict | None = None
    last: bool = True
    given_up: bool = False
    going: str = ""


@dataclass(frozen=True, slots=True)
class SpecChange:
    """A limit that was changed since: its name, what it was before and is after, with unit (empty: none)."""

    what: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Facts:
    """What the shop knows beside the two sheets, by the print order of the new one.

    `frames`: free frames of the mesh asked for; `target`: what the run is to meet (as the set-up sheet says it);
    `lots`: the ink lot then and now; `press`: where it is to run, empty: open; `system`: the reader's units.
    """

    screens: Mapping[int, Sequence[LastScreen]] = field(default_factory=dict)
    frames: Mapping[int, int] = field(default_factory=dict)
    target: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    lots: Mapping[int, tuple[str, str]] = field(default_factory=dict)
    press: str = ""
    spec_changes: Sequence[SpecChange] = ()
    system: str = "metric"


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that will differ (`ok`: one that was looked at and is as before); `station` 0: the whole placement.
    `setting`: which one it is of, by its name; `within`: it differs by no more than this limit of the shop."""

    key: str
    level: Level
    numbers: Mapping[str, Any] = field(default_factory=dict)
    station: int = 0
    spec: tuple[int, ...] = ()
    setting: str = ""
    within: str = ""

    @property
    def what(self) -> str:
        """By what it has its place in `first_seen`."""
        return self.setting or self.key

    @property
    def differs(self) -> bool:
        """Whether it is a difference, and no small one."""
        return self.level is not Level.OK

    @property
    def reason(self) -> Reason:
        """For `verdict.say`."""
        return Reason(self.key, self.level, self.numbers, self.spec)


def will_differ(old: AsRun | None, new: Job, placement: Placement, facts: Facts, limits: Spec) -> list[Difference]:
    """What will differ from the approved run `old` (None: there is none), in the order of `first_seen`.

    A discharge job always carries the remark that the garment's dye lot moves the colour.
    """
    found = list(dye_lot(new, placement))
    if old is None:
        return [*found, Difference("repeat-none-approved", Level.UNKNOWN)]
    found += _art(old, placement)
    found += _garments(old, new, placement)
    found += _press(old, facts)
    found += _order(old, placement)
    found += _whole(old, facts, limits)
    found += _whole_otherwise(old, new, placement, facts, limits)
    for was, now in pairs(old.placement, placement):
        if now is None:
            assert was is not None
            found.append(Difference("repeat-station-gone", Level.CAUTION, {"station": was.number, "what": named(was)}))
        elif was is None:
            numbers = {"station": now.number, "what": named(now)}
            found.append(Difference("repeat-station-new", Level.CAUTION, numbers, now.number))
            if now.prints:
                found += _screens(facts, now, numbers)
        else:
            found += _station(old, was, new, placement, now, facts, limits)
    for station, one in changed_after(old, placement, facts.target, limits):
        where = _("the whole placement")
        if station:
            what = next(named(each) for each in placement.stations if each.number == station)
            where = _("position {station} ({what})").format(station=station, what=what)
        said = {"where": where, "change": one.said()}
        found.append(Difference("repeat-changed-after", Level.CAUTION, said, station, setting=one.name))
    found += [
        Difference("repeat-spec", Level.CAUTION, {"what": one.what, "was": one.before or "–", "now": one.after or "–"})
        for one in facts.spec_changes
    ]
    found = first_seen.in_order(found, lambda one: one.what, lambda one: one.station)
    return [replace(one, numbers={**one.numbers, "run": old.run}) for one in found]


def small_said(found: Sequence[Difference]) -> str:
    """The small ones among them in one line, with the limits which they keep to; empty where there are none."""
    small = [one for one in found if one.within]
    return first_seen.small_line([one.numbers["told"] for one in small], [one.within for one in small])


def as_data(found: Sequence[Difference], system: str = "metric") -> list[dict[str, Any]]:
    """What will differ for JSON, in its order: station (0: the whole placement), key, group (of `first_seen`), level,
    said, advice; `within` of a small one."""
    told = []
    for one in found:
        spoken = say(one.reason, system)
        row = {
            "station": one.station,
            "key": one.key,
            "group": first_seen.group_of(one.what),
            "level": str(one.level),
            "said": spoken.sentence,
            "advice": spoken.advice,
        }
        told.append(row | ({"within": one.within} if one.within else {}))
    return told


def changed_after(
    run: AsRun, placement: Placement, target: Mapping[str, Mapping[str, str]], limits: Spec = SHIPPED
) -> Iterator[tuple[int, Changed]]:
    """What was set otherwise after a run was approved, by the print order of `placement` (0: the whole of it).

    Left out: what belonged to that run alone (lots), stations that are gone, and what the target says by now.
    """
    numbers = {was.number: now.number for was, now in pairs(run.placement, placement) if was and now} | {0: 0}
    last = {(one.station, one.name): one.to for one in run.changes}
    for one in run.changes:
        station = numbers.get(one.station)
        if station is None or one.name in PASSING:
            continue
        aim = target.get(str(station) if station else WHOLE, {}).get(one.name, "")
        if not one.name or alike_as(one.name, last[one.station, one.name], aim, limits) is not True:
            yield station, one


def changed_said(run: int, changes: Sequence[str]) -> str:
    """For paper, where the settings stand that were changed."""
    return _("Changed after the approval of run {run}: {changes}").format(run=run, changes="; ".join(changes))


def dye_lot(job: Job, placement: Placement) -> Iterator[Difference]:
    """The remark that every discharge job carries; none for another one."""
    for garment in job.garments:
        inks = (ink_for(job, job.colourway_of(garment), placement, station) for station in placement.printing)
        if any(ink is not None and ink.kind == "discharge" for ink in inks):
            yield Difference("repeat-dye-lot", Level.CAUTION)
            return


def _art(old: AsRun, placement: Placement) -> Iterator[Difference]:
    was, now = old.placement, placement
    if folded(was.art.name) != folded(now.art.name):
        yield Difference("repeat-art", Level.CAUTION, {"was": was.art.name, "now": now.art.name})
    elif folded(was.art.revision) != folded(now.art.revision):
        yield Difference("repeat-revision", Level.CAUTION, {"was": was.art.revision, "now": now.art.revision})
    if whole_mm(was.width_mm) != whole_mm(now.width_mm):
        yield Difference(
            "repeat-size", Level.CAUTION, {"was_mm": whole_mm(was.width_mm), "now_mm": whole_mm(now.width_mm)}
        )
    elif was.height_mm and now.height_mm and whole_mm(was.height_mm) != whole_mm(now.height_mm):
        yield Difference(
            "repeat-height", Level.CAUTION, {"was_mm": whole_mm(was.height_mm), "now_mm": whole_mm(now.height_mm)}
        )


def _same_image(was: Placement, now: Placement) -> bool:
    """Whether last time's screens can carry what is printed now; that they cannot is said once, with the art."""
    return all(
        (
            folded(was.art.name) == folded(now.art.name),
            folded(was.art.revision) == folded(now.art.revision),
            whole_mm(was.width_mm) == whole_mm(now.width_mm),
        )
    )


def _garments(old: AsRun, new: Job, placement: Placement) -> Iterator[Difference]:
    for garment in new.garments:
        was = _nearest(garment, old.job.garments)
        if was is None:
            continue
        whole = texts_of(old.sheet.get(WHOLE) or {})  # from the carton, at the set-up
        noted = whole.get(LOT_OF + called(was), "" if len(old.job.garments) > 1 else whole.get("garment_lot", ""))
        if not was.lot and noted:
            was = replace(was, lot=noted)
        yield from _garment(was, garment)


def _nearest(garment: Garment, among: Sequence[Garment]) -> Garment | None:
    """The garment of last time that is most like this one."""

    def unlike(one: Garment) -> tuple[bool, bool, bool]:
        return (
            folded(one.style) != folded(garment.style),
            folded(one.colour) != folded(garment.colour),
            folded(one.lot) != folded(garment.lot),
        )

    return min(among, key=unlike, default=None)


def _garment(was: Garment, now: Garment) -> Iterator[Difference]:
    here = {"garment": _("{style} in {colour}").format(style=now.style, colour=now.colour)}
    same = True
    for key, one, other in (
        ("repeat-garment-style", was.style, now.style),
        ("repeat-garment-colour", was.colour, now.colour),
    ):
        if folded(one) != folded(other):
            same = False
            yield Difference(key, Level.CAUTION, {**here, "was": one, "now": other})
    fibres = [fibre_said(garment) for garment in (was, now)]
    if _shares(was) != _shares(now):
        yield Difference("repeat-garment-fibre", Level.CAUTION, {**here, "was": fibres[0], "now": fibres[1]})
    if not same:  # another garment has another lot in any case
        return
    if not was.lot or not now.lot:
        lots = {**here, "was": was.lot or "–", "now": now.lot or "–"}
        yield Difference("repeat-garment-lot-unknown", Level.UNKNOWN, lots)
    elif folded(was.lot) != folded(now.lot):
        yield Difference("repeat-garment-lot", Level.CAUTION, {**here, "was": was.lot, "now": now.lot})


def _shares(garment: Garment) -> dict[str, float]:
    return {folded(name): round(share, 1) for name, share in garment.fibre.items()}


def _press(old: AsRun, facts: Facts) -> Iterator[Difference]:
    if facts.press and old.press and folded(facts.press) != folded(old.press):
        yield Difference("repeat-press", Level.CAUTION, {"was": old.press, "now": facts.press})


def _whole(old: AsRun, facts: Facts, limits: Spec) -> Iterator[Difference]:
    """Settings of the whole placement that are to be otherwise; lots are compared by the garment."""
    run_with = texts_of(old.sheet.get(WHOLE) or {})
    for name, aim in facts.target.get(WHOLE, {}).items():
        if name in run_with and name != "garment_lot" and not name.startswith(LOT_OF):
            was, now = side_by_side(run_with[name], aim, facts.system)
            numbers = {"setting": field_word(name), "was": old.said(WHOLE, name, was), "now": now}
            if alike_as(name, run_with[name], aim, limits) is False:
                yield Difference("repeat-setting-whole", Level.CAUTION, numbers, setting=name)
            else:
                yield from _small(name, run_with[name], aim, {}, numbers, limits, facts.system)


def _small(
    name: str, was: str, aim: str, here: Mapping[str, Any], numbers: Mapping[str, Any], limits: Spec, system: str
) -> Iterator[Difference]:
    """A setting that is to be otherwise by no more than what the shop calls the same; nothing where it is the same."""
    limit = within(name, was, aim, limits, system)
    if limit:
        word = f"{here['station']} {here['what']}, {numbers['setting']}" if here else str(numbers["setting"])
        told = first_seen.told(word, numbers["was"], numbers["now"])
        said = {**here, **numbers, "told": told, "within": limit}
        yield Difference("repeat-small", Level.OK, said, here.get("station", 0), setting=name, within=limit)


WHOLE_WORDS = {
    "platen": ("platen", N_("platen")),
    "from": ("placement", N_("measured from")),
    "dryer.belt_speed": ("belt_speed", N_("belt speed")),
    "dryer.set": ("set", N_("dryer setting")),
    "dryer.garment_peak": ("garment_peak", N_("garment peak")),
    "dryer.hold": ("hold", N_("time held at the peak")),
}
"""What a job sheet says of a whole placement, by its name in the set-up sheet."""


def _whole_otherwise(old: AsRun, new: Job, placement: Placement, facts: Facts, limits: Spec) -> Iterator[Difference]:
    """What the two job sheets say otherwise of the whole placement, where no run noted how it was."""
    one, other = _placement_data(old.job, old.placement), _placement_data(new, placement)
    run_with, aim = texts_of(old.sheet.get(WHOLE) or {}), facts.target.get(WHOLE, {})
    for path, (name, word) in WHOLE_WORDS.items():
        a, b = _at(one, path), _at(other, path)
        if not (name in run_with and name in aim) and a != b and alike_as(name, a, b, limits) is not True:
            a, b = side_by_side(a, b, facts.system)
            numbers = {"setting": _(word), "was": a or "–", "now": b or "–"}
            yield Difference("repeat-sheet-whole", Level.CAUTION, numbers, setting=name)


def _order(old: AsRun, placement: Placement) -> Iterator[Difference]:
    """Stations that both sheets have, in another order."""
    both = [(was, now) for was, now in pairs(old.placement, placement) if was and now]
    was = [one.number for one, _other in both if one.prints]
    if was != sorted(was):
        before = [named(one) for one in sorted((one for one, _other in both if one.prints), key=lambda one: one.number)]
        after = [named(other) for _one, other in both if other.prints]
        yield Difference("repeat-order", Level.CAUTION, {"was": ", ".join(before), "now": ", ".join(after)})


def _station(
    old: AsRun, was: Station, new: Job, placement: Placement, now: Station, facts: Facts, limits: Spec
) -> Iterator[Difference]:
    here = {"station": now.number, "what": named(now)}
    if now.prints:
        yield from _mesh(old, was, now, here, limits, facts.system)
        yield from _screens(facts, now, here, _same_image(old.placement, placement))
        inks = list(_inks(old, was, new, placement, now, here))
        yield from inks
        before, lot = facts.lots.get(now.number, ("", ""))
        if before and not inks and folded(before) != folded(lot):  # another ink is of another lot in any case
            numbers = {**here, "was": before, "now": lot or "–"}
            key, level = ("repeat-ink-lot", Level.CAUTION) if lot else ("repeat-ink-lot-unknown", Level.UNKNOWN)
            yield Difference(key, level, numbers, now.number)
    run_with, target = old.settings(was.number), facts.target.get(str(now.number), {})
    for name, aim in target.items():
        if name in {"bucket", "ink", "note"} or name not in run_with:
            continue
        then, wanted = side_by_side(run_with[name], aim, facts.system)
        then = old.said(str(was.number), name, then)
        numbers = {**here, "setting": field_word(name), "was": then, "now": wanted}
        if alike_as(name, run_with[name], aim, limits) is False:
            yield Difference("repeat-setting", Level.CAUTION, numbers, now.number, setting=name)
        else:
            yield from _small(name, run_with[name], aim, here, numbers, limits, facts.system)
    told = set(run_with).intersection(target)
    for name, word, one, other in _said_otherwise(old, was, new, placement, now, told, limits):
        one, other = side_by_side(one, other, facts.system)
        numbers = {**here, "setting": word, "was": one or "–", "now": other or "–"}
        yield Difference("repeat-sheet", Level.CAUTION, numbers, now.number, setting=name)


def _mesh(
    old: AsRun, was: Station, now: Station, here: Mapping[str, Any], limits: Spec, system: str
) -> Iterator[Difference]:
    """The mesh asked for against the one that hung, or that was asked for where nothing is known of what hung."""
    assert now.mesh is not None and was.mesh is not None
    hung = old.screens.get(was.number)
    count = (hung.count_per_cm if hung else None) or was.mesh.count_per_cm
    thread = hung.thread_um if hung and hung.count_per_cm else was.mesh.thread_um
    tolerances = limits.find("mesh-count-tolerance"), limits.find("mesh-thread-tolerance")
    reasons = mesh_rules.judge_same(
        now.mesh.count_per_cm * CM_PER_IN,
        now.mesh.thread_um,
        count * CM_PER_IN,
        thread,
        count_tolerance_pct=tolerances[0].value if tolerances[0] else 0.0,
        thread_tolerance_um=tolerances[1].value if tolerances[1] else 0.0,
        spec=tuple(limit.row for limit in tolerances if limit),
    )
    verdict = judge(reasons)
    said = (hung.mesh if hung else "") or _mesh_said(was)
    numbers = {**here, "was": said, "now": _mesh_said(now)}
    if verdict.level is Level.OK:
        yield from _small_mesh(count, thread, now, here, numbers, tolerances, system)
        return
    key = "repeat-thread-unknown" if verdict.level is Level.CAUTION else "repeat-mesh"
    yield Difference(key, Level.CAUTION, numbers, now.number, reasons[0].spec)


def _small_mesh(
    count: float,
    thread: float | None,
    now: Station,
    here: Mapping[str, Any],
    numbers: Mapping[str, Any],
    tolerances: Sequence[Limit | None],
    system: str,
) -> Iterator[Difference]:
    """A mesh that is asked for by another count or thread and is the same mesh by the shop's limits."""
    assert now.mesh is not None
    other_count = abs(now.mesh.count_per_cm - count) > 0.005 * count  # 90/cm and 228.6/in are one figure
    other_thread = bool(thread and now.mesh.thread_um) and now.mesh.thread_um != thread
    if not other_count and not other_thread:
        return
    limits = zip(tolerances, ("%", "um"), strict=True)
    limit = ", ".join(units.show_difference(one.value, unit, system) for one, unit in limits if one)
    word = f"{here['station']} {here['what']}, {field_word('mesh')}"
    told = first_seen.told(word, numbers["was"], numbers["now"])
    said = {**numbers, "setting": field_word("mesh"), "told": told, "within": limit}
    yield Difference("repeat-small", Level.OK, said, now.number, setting="mesh", within=limit)


def _mesh_said(station: Station) -> str:
    assert station.mesh is not None
    return mesh_said(station.mesh.count_as_labelled, station.mesh.thread_um)


_OTHER_MESH = {"mesh-count-differs", "mesh-thread-differs"}
_LATER = {"not-ready"}
"""What its remaining steps put right."""
_PASSES = {"hanging-elsewhere", "log-unclear"}
"""It comes off there again, or somebody looks at it: no reason for a new screen yet."""


def _later(screen: LastScreen) -> bool:
    """Whether nothing stops a screen but steps that it still needs."""
    keys = {one.key for one in screen.verdict.reasons if one.level is Level.STOP} if screen.verdict else set()
    return bool(keys) and keys <= _LATER


def _serves(screen: LastScreen) -> bool:
    """Whether a screen can print its image again, now or after its remaining steps."""
    if screen.given_up or screen.going or not screen.carries or screen.verdict is None:
        return False
    return screen.verdict.level in {Level.OK, Level.CAUTION} or _later(screen)


# whole: the cases exclude each other in this order, worst first
def _screens(facts: Facts, now: Station, here: Mapping[str, Any], same_image: bool = True) -> Iterator[Difference]:
    """The screens of last time: fit, fit with a caution, to be cleaned or made ready first, not fit, or no longer of
    that image. What else carries it is said only where those of last time are not to be had: nobody has to look at
    every spare."""
    kept = facts.screens.get(now.number, ())
    if any(one.last and _serves(one) for one in kept):
        kept = tuple(one for one in kept if one.last)
    elif any(_serves(one) and not _later(one) for one in kept):
        kept = tuple(one for one in kept if one.last or not _later(one))
    fit = False
    for screen in kept:
        numbers = {**here, "screen": shown(screen.code), "standing_word": STANDING_WORDS[Standing(screen.standing)]}
        stops = [one for one in screen.verdict.reasons if one.level is Level.STOP] if screen.verdict else []
        keys, later = {one.key for one in stops}, _later(screen)
        if screen.given_up:
            if screen.last:
                yield Difference("repeat-screen-given-up", Level.CAUTION, numbers, now.number)
            continue
        if screen.going:
            key = "repeat-screen-worn" if screen.going == "worn" else "repeat-screen-to-strip"
            yield Difference(key, Level.CAUTION, numbers, now.number)
            continue
        fit = fit or later
        if not screen.last:
            if later:
                yield Difference("repeat-screen-other-later", Level.CAUTION, numbers, now.number)
            elif screen.verdict is not None and screen.verdict.level in {Level.OK, Level.CAUTION}:
                fit = True
                yield Difference("repeat-screen-other", screen.verdict.level, numbers, now.number)
            continue
        if not screen.carries or screen.verdict is None:
            if same_image:
                yield Difference("repeat-screen-gone", Level.CAUTION, numbers, now.number)
            continue
        level = screen.verdict.level
        if stops and keys <= _OTHER_MESH:
            continue  # that another mesh is asked for is said
        worst = next((reason for reason in screen.verdict.reasons if reason.level is level), None)
        worst = next((reason for reason in stops if reason.key not in _LATER), worst)
        fit = fit or level in {Level.OK, Level.CAUTION}
        key = {Level.OK: "repeat-screen-fit", Level.STOP: "repeat-screen-unfit"}.get(level, "repeat-screen-doubt")
        if later:
            off_press = screen.standing in {Standing.TO_CLEAN, Standing.TO_STRIP}
            key = "repeat-screen-off-press" if off_press else "repeat-screen-under-way"
        elif worst is not None and worst.key in _PASSES:
            key = "repeat-screen-doubt"
            fit = fit or keys == {"hanging-elsewhere"}
        said_as = level if level in {Level.OK, Level.UNKNOWN} else Level.CAUTION
        yield Difference(key, said_as, {**numbers, "why": _said(worst) if worst else ""}, now.number)
    free = facts.frames.get(now.number)
    if not fit and free is not None:
        assert now.mesh is not None
        numbers = {**here, "mesh": _mesh_said(now), "free": free}
        if free:
            yield Difference("repeat-mesh-free", Level.OK, numbers, now.number)
        else:
            yield Difference("repeat-mesh-none", Level.CAUTION, numbers, now.number)


def _said(reason: Reason) -> str:
    return say(reason).sentence


def _inks(
    old: AsRun, was: Station, new: Job, placement: Placement, now: Station, here: Mapping[str, Any]
) -> Iterator[Difference]:
    """Inks of a station, garment by garment; the largest difference alone is said: another ink has another series."""
    told: set[tuple[str, str, str]] = set()
    for garment in new.garments:
        before = _nearest(garment, old.job.garments)
        one = ink_for(old.job, old.job.colourway_of(before) if before else None, old.placement, was)
        other = ink_for(new, new.colourway_of(garment), placement, now)
        if one is None and other is None:
            continue
        said = [
            _(ink.kind) + "".join(f", {part}" for part in (ink.colour, ink.series, ink.reference) if part)
            if ink
            else _("not printed")
            for ink in (one, other)
        ]
        if one is None or other is None:
            key = "repeat-ink-kind"
        else:
            changed = [
                name
                for name, a, b in (
                    ("kind", one.kind, other.kind),
                    ("colour", one.colour, other.colour),
                    ("series", one.series, other.series),
                    ("reference", one.reference, other.reference),
                )
                if folded(a) != folded(b)
            ]
            if not changed:
                continue
            key = f"repeat-ink-{changed[0]}"
        if (key, *said) not in told:
            told.add((key, said[0], said[1]))
            yield Difference(key, Level.CAUTION, {**here, "was": said[0], "now": said[1]}, now.number)


SHEET_WORDS = {
    "squeegee.hardness": ("squeegee", N_("squeegee hardness")),
    "squeegee.edge": ("squeegee", N_("squeegee edge")),
    "squeegee.angle": ("angle", N_("squeegee angle")),
    "squeegee.angle_mark": ("angle_mark", N_("squeegee angle, mark on the press")),
    "squeegee.length": ("length", N_("squeegee length")),
    "squeegee.pressure": ("pressure", N_("squeegee pressure")),
    "squeegee.speed": ("speed", N_("squeegee speed")),
    "strokes": ("strokes", N_("strokes")),
    "flood": ("flood", N_("flood")),
    "off_contact": ("off_contact", N_("off-contact")),
    "recipe": ("recipe", N_("recipe")),
    "time": ("time", N_("time")),
    "surface": ("surface", N_("surface after the flash")),
    "choke": ("", N_("choke")),
    "coverage": ("", N_("coverage")),
    "halftone.ruling": ("", N_("halftone ruling")),
    "halftone.angle": ("", N_("halftone angle")),
    "flake": ("", N_("flake size")),
    "revolution": ("", N_("revolution")),
    "head": ("", N_("head asked for")),
    "note": ("", N_("note")),
}
"""What a job sheet says of a station beside mesh and ink, by its name in the set-up sheet, where it has one there."""


_UNSAID = {"strokes": "1", "revolution": "1"}


def _said_otherwise(
    old: AsRun,
    was: Station,
    new: Job,
    placement: Placement,
    now: Station,
    told: Collection[str],
    limits: Spec,
) -> Iterator[tuple[str, str, str, str]]:
    """What the two job sheets say otherwise of a station, beside mesh and ink, and what is `told` from the run."""
    one, other = _sheet_data(old.job, old.placement, was), _sheet_data(new, placement, now)
    for path, (name, word) in SHEET_WORDS.items():
        a, b = (_at(data, path) or _UNSAID.get(path, "") for data in (one, other))
        if name not in told and a != b and alike_as(path, a, b, limits) is not True:
            yield name or path.partition(".")[0], _(word), a.rstrip("."), b.rstrip(".")  # the sentence has its own


def _placement_data(job: Job, placement: Placement) -> Mapping[str, Any]:
    data: Mapping[str, Any] = job.to_dict()["placement"][job.placements.index(placement)]
    return data


def _sheet_data(job: Job, placement: Placement, station: Station) -> Mapping[str, Any]:
    data: Mapping[str, Any] = _placement_data(job, placement)["station"][placement.stations.index(station)]
    return data


def _at(data: Mapping[str, Any], path: str) -> str:
    """What stands at `squeegee.angle`, as text; a recipe part by part."""
    value: Any = data
    for name in path.split("."):
        value = value.get(name) if isinstance(value, Mapping) else None
    if isinstance(value, Mapping):
        return ", ".join(f"{part} {amount} g" for part, amount in value.items())
    return "" if value is None else str(value)


phrases(
    {
        "repeat-none-approved": (
            N_("No approved run of an earlier job is known for this placement."),
            N_("Compare the first print with the customer’s sample, and have it approved."),
        ),
        "repeat-dye-lot": (
            N_("Discharge: the garment’s dye lot changes the colour, even with the same ink."),
            N_("Print a test on this lot, compare it with the approved print, and have it approved before the run."),
        ),
        "repeat-art": (
            N_("Other artwork: {now}; last time, run {run}: {was}."),
            N_("Make sure that this is the job to reorder."),
        ),
        "repeat-revision": (
            N_("The artwork is revision {now}; last time, run {run}, it was revision {was}."),
            N_("Make new screens. Have the first print approved again."),
        ),
        "repeat-size": (
            N_("The print is {now_mm} wide; last time, run {run}: {was_mm}."),
            N_("The old screens are of no use."),
        ),
        "repeat-height": (
            N_("The print is {now_mm} high; last time, run {run}: {was_mm}."),
            N_("The screens fit by their width: lay the film on the old print."),
        ),
        "repeat-garment-style": (
            N_("{garment}: another style; last time, run {run}: {was}."),
            N_("Another weight or knit takes another amount of ink: test off-contact, flash and dryer on it."),
        ),
        "repeat-garment-colour": (
            N_("{garment}: another colour; last time, run {run}: {was}."),
            N_("Look at the underbase and have the colours approved on it."),
        ),
        "repeat-garment-fibre": (
            N_("{garment}: the fibre is {now}; last time, run {run}: {was}."),
            N_("Test the cure, dye bleed and, with discharge, the colour on it."),
        ),
        "repeat-garment-lot": (
            N_("{garment}: lot {now}; last time, run {run}: lot {was}."),
            N_("Compare a print on this lot with the approved one."),
        ),
        "repeat-garment-lot-unknown": (
            N_("{garment}: whether it is the same lot is not known (last time, run {run}: {was}; now {now})."),
            N_("Note the lot from the carton."),
        ),
        "repeat-press": (
            N_("This run is on {now}; last time, run {run}, it was {was}."),
            N_("Figures for off-contact, pressure and flash do not carry over: set them by the print."),
        ),
        "repeat-order": (
            N_("The print order is {now}; last time, run {run}: {was}."),
            N_("Print in the approved order, or have the change approved."),
        ),
        "repeat-station-new": (
            N_("Position {station} ({what}) is new: run {run} did not have it."),
            N_("Have the first print approved with it."),
        ),
        "repeat-station-gone": (
            N_("Position {station} ({what}): run {run} had it, this job does not."),
            N_("Make sure that it is not missing."),
        ),
        "repeat-mesh": (
            N_("Position {station} ({what}): mesh {now} is asked for; last time, run {run}, it was {was}."),
            N_("Another mesh lays down another amount of ink: use the approved one, or have the change approved."),
        ),
        "repeat-thread-unknown": (
            N_("Position {station} ({what}): the thread of the mesh of run {run} ({was}) is not known."),
            N_("Measure or look up the thread before the mesh is called the same."),
        ),
        "repeat-mesh-free": (
            N_("Position {station} ({what}) needs a new screen; free frames of {mesh}: {free}."),
            "",
        ),
        "repeat-mesh-none": (
            N_("Position {station} ({what}) needs a new screen, and no frame of {mesh} is free."),
            N_("Free or stretch one in time; a substitute mesh prints another amount of ink."),
        ),
        "repeat-screen-fit": (N_("Position {station} ({what}): screen {screen} of run {run} is fit."), ""),
        "repeat-screen-other": (
            N_("Position {station} ({what}): another screen ({screen}) carries this image than in run {run}."),
            N_("Compare the first print: stencil and tension differ."),
        ),
        "repeat-screen-doubt": (
            N_("Position {station} ({what}): screen {screen} of run {run} is there, but: {why}"),
            N_("Look it over before it is hung."),
        ),
        "repeat-screen-off-press": (
            N_("Position {station} ({what}): screen {screen} of run {run} is off the press, stencil still on."),
            N_("Clean it, check it, keep it."),
        ),
        "repeat-screen-given-up": (
            N_("Position {station} ({what}): last time’s screen {screen} is to be reclaimed; somebody said that "
               "this job does without it."),
            N_("Make a new one in time, or keep it after all."),
        ),
        "repeat-screen-to-strip": (
            N_("Position {station} ({what}): screen {screen} carries this image, but is to be reclaimed."),
            N_("Keep it after all, or make a new one in time."),
        ),
        "repeat-screen-worn": (
            N_("Position {station} ({what}): screen {screen} carries this image and came off the press worn."),
            N_("Look it over on the light table, or make a new one in time."),
        ),
        "repeat-screen-under-way": (
            N_("Position {station} ({what}): screen {screen} of run {run} is on the way: it is “{standing_word}”."),
            N_("The screen needs its remaining steps in time."),
        ),
        "repeat-screen-other-later": (
            N_("Position {station} ({what}): another screen ({screen}) carries this image than in run {run}; it is "
               "“{standing_word}”."),
            N_("The screen needs its remaining steps in time. Compare the first print: stencil and tension differ."),
        ),
        "repeat-screen-unfit": (
            N_("Position {station} ({what}): screen {screen} of run {run} will not do: {why}"),
            N_("Make a new one in time."),
        ),
        "repeat-screen-gone": (
            N_("Position {station} ({what}): screen {screen} of run {run} no longer carries this image."
               " It is “{standing_word}”."),
            N_("A new screen may differ in stencil and tension: compare the first print."),
        ),
        "repeat-ink-kind": (
            N_("Position {station} ({what}): {now}; last time, run {run}: {was}."),
            N_("Another ink cures and covers differently: test it, and have the print approved."),
        ),
        "repeat-ink-colour": (
            N_("Position {station} ({what}): {now}; last time, run {run}: {was}."),
            N_("Make sure that the other colour is wanted."),
        ),
        "repeat-ink-series": (
            N_("Position {station} ({what}): {now}; last time, run {run}: {was}."),
            N_("Another series covers and cures differently: test it against the approved print."),
        ),
        "repeat-ink-reference": (
            N_("Position {station} ({what}): {now}; last time, run {run}: {was}."),
            N_("Make sure that the other colour reference is wanted."),
        ),
        "repeat-ink-lot": (
            N_("Position {station} ({what}): ink lot {now}; last time, run {run}: {was}."),
            N_("Compare a drawdown or the first print with the approved one."),
        ),
        "repeat-ink-lot-unknown": (
            N_("Position {station} ({what}): run {run} had ink lot {was}; which lot it is now is not noted."),
            N_("Take the same lot if there is any left, and note it at the set-up."),
        ),
        "repeat-small": (N_("{told}, within what the shop calls the same ({within})."), ""),
        "repeat-setting": (
            N_("Position {station} ({what}): {setting} is to be {now}; in run {run} it was {was}."),
            N_("Run it as approved, or mark the approved run “use these next time”."),
        ),
        "repeat-setting-whole": (
            N_("{setting} is to be {now}; in run {run} it was {was}."),
            N_("Run it as approved, or mark the approved run “use these next time”."),
        ),
        "repeat-changed-after": (
            N_("After the approval of run {run}, {where} – {change}."),
            N_("The target stays as approved: ask whether the next run needs the change from its first piece."),
        ),
        "repeat-sheet": (
            N_("Position {station} ({what}), {setting} on the job sheet: {now}; last time, run {run}: {was}."),
            N_("Make sure that the change is wanted."),
        ),
        "repeat-sheet-whole": (
            N_("{setting} on the job sheet: {now}; last time, run {run}: {was}."),
            N_("Make sure that the change is wanted."),
        ),
        "repeat-spec": (
            N_("The shop’s limit “{what}” was changed since: {was}, now {now}."),
            N_("What passed then may be judged differently now."),
        ),
    }
)  # fmt: skip
