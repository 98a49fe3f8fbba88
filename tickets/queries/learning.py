"""What the shop's own log teaches: exposure times, the state of lamps, tension to come, how long meshes last.

Reading only. The arithmetic is the calculator's; here the rows are gathered that it works on.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any

from sqlite_utils import Database

from tickets.calculator import exposure
from tickets.calculator import lamp as lamps
from tickets.calculator.exposure import Combination, Learned
from tickets.calculator.kinds import POINT
from tickets.calculator.verdict import Level, Reason, Verdict, judge
from tickets.domain.bucket import Bucket
from tickets.domain.desk import control
from tickets.domain.entry import read_stamp, stamp
from tickets.domain.limits import EXPOSURE_TIME, EXPOSURE_UNITS
from tickets.domain.screens.readings import WashoutReading
from tickets.domain.screens.screen import Life
from tickets.domain.spec import Spec, facts_of
from tickets.queries.shop_rules import the_spec
from tickets.store import buckets, places, readings
from tickets.store import spec as spec_rows
from tickets.store.reads import while_log_stays

if TYPE_CHECKING:
    pass

CM_PER_IN = 2.54

# Exposure ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Case:
    """What an exposure is asked about: its combination, the facts that spec rows are picked by, and whether the
    emulsion's product is noted."""

    of: Combination
    facts: Mapping[str, Any]
    product: bool = True


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of a case in one unit, "s" or "units" of an integrator.

    `source`: "set" (the shop's own row of the spec), "learned" (this very combination), "nearest", or "" for nothing.
    `reasons` say it plainly.
    """

    unit: str
    time: float | None = None
    source: str = ""
    row: int | None = None
    learned: Learned | None = None
    reasons: tuple[Reason, ...] = ()

    @property
    def wanted(self) -> float | None:
        """What an exposure is compared with: never the time of another combination."""
        return self.time if self.source in {"set", "learned"} else None

    @property
    def typed(self) -> str:
        """The wanted time as it goes into a form: no finer than a lamp's clock, nothing where there is none."""
        return "" if self.wanted is None else _typed(self.wanted, whole=self.source != "set")

    @property
    def contradicted_by(self) -> float | None:
        """The time that the step wedges ask for where they contradict the shop's own."""
        off = self.learned and any("set-time-off" in reason.key for reason in self.reasons)
        return self.learned.time if self.source == "set" and self.learned and off else None

    @property
    def other(self) -> str:
        """The time that the readings contradict the first one with, as it goes into a form; empty: nothing does."""
        if self.contradicted_by is not None:
            return _typed(self.contradicted_by)
        if self.source == "learned" and self.learned and self.learned.before is not None:
            return _typed(self.learned.before)
        return ""


def _typed(time: float, whole: bool = True) -> str:
    """A time as it is typed: one that was worked out no finer than a lamp's clock."""
    return f"{round(time, 0 if time >= 20 else 1):g}" if whole else f"{time:g}"


@dataclass(frozen=True, slots=True)
class WantedExposure:
    """The exposure that would hold the wanted step, in seconds and in integrator units, which are kept apart.

    `step`: None where no limit says which one is wanted; then nothing is learned from the strips.
    """

    case: Case
    seconds: Known
    units: Known
    step: float | None
    since: str
    irradiance_mw_cm2: float | None
    distance_mm: float | None
    lamp: str

    @property
    def counts(self) -> bool:
        """True where the shop exposes by an integrator's units here."""
        return self.seconds.wanted is None and self.units.wanted is not None

    @property
    def known(self) -> Known:
        """What to show: in the unit in which more is known."""
        order = {"set": 0, "learned": 1, "nearest": 2, "": 3}
        return min((self.seconds, self.units), key=lambda one: order[one.source])

    def doubts(self, in_units: bool) -> list[Reason]:
        """What keeps a verdict on an exposure from being good without more: one reading, another combination, things
        not noted, a set time that the step wedges contradict."""
        known = self.units if in_units else self.seconds
        return [reason for reason in known.reasons if reason.level is not Level.OK]


def case_of(
    exposure_unit: str,
    bucket: Bucket | None,
    count_per_cm: float | None,
    thread_um: float | None,
    mesh_colour: str,
    preset: str,
) -> Case:
    """The case of an exposure; what is not noted is None or empty."""
    kind = " ".join(f"{bucket.kind} {bucket.product}".casefold().split()) if bucket else ""
    count = round(count_per_cm * CM_PER_IN, 1) if count_per_cm else None
    facts = facts_of(
        exposure_unit=exposure_unit,
        emulsion=bucket.sort if bucket else None,
        count_per_in=count,
        mesh_colour=mesh_colour,
        preset=preset,
    )
    of = Combination(exposure_unit, kind, count, thread_um, mesh_colour or None, preset or None)
    return Case(of, facts, bool(bucket and bucket.product))


def case_of_screen(db: Database, life: Life, exposure_unit: str) -> Case:
    """The case of exposing a screen as it is now."""
    mesh, stencil = life.mesh, life.stencil
    return case_of(
        exposure_unit,
        buckets.get(db, stencil.bucket) if stencil and stencil.bucket else None,
        mesh.count_per_cm if mesh else None,
        mesh.thread_um if mesh else None,
        mesh.colour if mesh else "",
        stencil.preset if stencil else "",
    )


class _Lamp:
    """The readings of one exposure unit since its lamp was changed, read once."""

    def __init__(self, db: Database, name: str, at: datetime) -> None:
        self.unit = places.find_unit(db, name) if name else None
        now = stamp(at)
        changes = [one.at for one in places.lamp_changes(db, self.unit.id)] if self.unit else []
        self.since = max((one for one in changes if one <= now), default="")
        self._of = (name, self.since, now)
        self._buckets: dict[int, Bucket | None] = {}
        self._cases: dict[tuple[Any, ...], Case] = {}
        self._washouts: dict[str, list[exposure.Washout]] = {}
        self.db = db

    def read_ahead(self, life: Life) -> None:
        """What it will be asked for a screen: its readings, and the emulsions of these and of the screen."""
        name, since, until = self._of
        if name:
            readings.of_lamp_ahead(self.db, name, since, until)
        stencil = life.stencil
        own = (stencil.bucket, *stencil.under) if stencil else ()
        buckets.read_ahead(self.db, [one for one in (*own, *(one.emulsion for one in self.readings)) if one])

    @cached_property
    def readings(self) -> list[WashoutReading]:
        """Its washouts, the newest of them."""
        name, since, until = self._of
        return readings.washouts_of_unit(self.db, name, since, until=until) if name else []

    @cached_property
    def irradiance(self) -> float | None:
        """The last one measured, in mW/cm2."""
        return readings.latest_irradiance(self.db, *self._of) if self._of[0] else None

    @cached_property
    def distance(self) -> float | None:
        """The last one noted, in mm."""
        return next((one.distance_mm for one in reversed(self.readings) if one.distance_mm), None)

    def read(self, found: list[WashoutReading]) -> None:
        """Other readings to go by: those of an earlier lamp."""
        self.readings = found
        self._washouts = {}

    def bucket(self, number: int | None) -> Bucket | None:
        if number is None:
            return None
        if number not in self._buckets:
            self._buckets[number] = buckets.get(self.db, number)
        return self._buckets[number]

    def case(self, one: WashoutReading) -> Case:
        key = (one.exposure_unit, one.emulsion, one.count_per_cm, one.thread_um, one.mesh_colour, one.preset)
        if key not in self._cases:
            self._cases[key] = case_of(one.exposure_unit, self.bucket(one.emulsion), *key[2:])
        return self._cases[key]

    def washouts(self, unit: str) -> list[exposure.Washout]:
        """The readings as the calculator takes them. An emulsion that nobody noted teaches nothing."""
        if unit not in self._washouts:
            self._washouts[unit] = self._as_taken(unit)
        return self._washouts[unit]

    def _as_taken(self, unit: str) -> list[exposure.Washout]:
        found = []
        for one in self.readings:
            time = one.exposure_s if unit == "s" else one.exposure_units
            of = self.case(one).of
            if time is None or one.step_held is None or not of.emulsion:
                continue
            found.append(
                exposure.Washout(
                    of,
                    time,
                    one.step_held,
                    read_stamp(one.at).timestamp() / 86400,
                    one.irradiance_mw_cm2,
                    one.distance_mm,
                )
            )
        return found


def wanted(
    db: Database,
    life: Life,
    exposure_unit: str,
    at: datetime,
    *,
    irradiance_mw_cm2: float | None = None,
    distance_mm: float | None = None,
) -> WantedExposure:
    """The exposure that a screen wants on a unit: the shop's own row, else learned from its washouts since the lamp was
    changed. The lamp's irradiance and distance are those given, else the last ones logged."""
    lamp = _Lamp(db, exposure_unit, at)
    lamp.read_ahead(life)
    return _wanted(_spec_then(db, at), lamp, case_of_screen(db, life, exposure_unit), irradiance_mw_cm2, distance_mm)


WANTED_TIMES = frozenset({EXPOSURE_TIME, EXPOSURE_UNITS})


def _spec_then(db: Database, at: datetime) -> Spec:
    """The shop's limits, its wanted times as they were at `at`: what was exposed before is not compared with one that
    was set later."""
    last = spec_rows.last_at(db, WANTED_TIMES)
    if not last or last <= stamp(at):
        return the_spec(db)
    return Spec(row for row in spec_rows.rows(db) if row.key not in WANTED_TIMES or row.at <= stamp(at))


def _wanted(
    spec: Spec, lamp: _Lamp, case: Case, irradiance_mw_cm2: float | None = None, distance_mm: float | None = None
) -> WantedExposure:
    step = spec.find("wanted-step", **case.facts)
    held = step.value if step else None
    irradiance = irradiance_mw_cm2 or lamp.irradiance
    distance = distance_mm or lamp.distance
    kind = lamp.unit.lamp if lamp.unit else ""
    return WantedExposure(
        case,
        _known(spec, lamp, case, "s", "exposure-time", held, irradiance, distance),
        _known(spec, lamp, case, "units", "exposure-units", held, irradiance, distance),
        held,
        lamp.since,
        irradiance,
        distance if kind == POINT else None,
        kind,
    )


def _known(
    spec: Spec,
    lamp: _Lamp,
    case: Case,
    unit: str,
    key: str,
    held: float | None,
    irradiance: float | None,
    distance: float | None,
) -> Known:
    tolerance, above = spec.find("exposure-tolerance"), spec.find("step-above")
    share = tolerance.value / 100 if tolerance else math.inf
    learned = None
    if held is not None:
        learned = exposure.learn(
            lamp.washouts(unit),
            case.of,
            held,
            irradiance_mw_cm2=irradiance,
            distance_mm=distance,
            lamp=lamp.unit.lamp if lamp.unit else None,
            counts_units=unit != "s",
            above=above.value if above else math.inf,
            tolerance=share,
        )
    if learned is not None and not case.product:
        learned = replace(learned, unnoted=("product", *learned.unnoted))
    said = tuple(exposure.judge_learned(learned, unit=unit) if held is not None else exposure.judge_no_step())
    row = spec.find(key, **case.facts)
    if row is not None and row.value > 0:
        name, suffix = ("set_s", "") if unit == "s" else ("set", "-units")
        reasons = [Reason(f"exposure-set{suffix}", Level.OK, {name: row.value}, (row.row,))]
        reasons += exposure.judge_set_time(row.value, learned, tolerance=share, unit=unit, spec=(row.row,))
        return Known(unit, row.value, "set", row.row, learned, tuple(reasons))
    if learned is None:
        return Known(unit, reasons=said)
    return Known(unit, learned.time, "nearest" if learned.differs else "learned", None, learned, said)


# Lamps -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Stretch:
    """One lamp's time in a unit: from when (empty: not noted), until when (empty: still there), its drift."""

    since: str
    until: str
    drift: lamps.Drift


@dataclass(frozen=True, slots=True)
class LampStory:
    """How an exposure unit and its lamps stand. `unit` is None where it is only named in the log.

    `burnt_h`: what the log's exposures come to since the last change; `untimed` of the `exposures` have no time.
    `readings`: the step wedges read under the lamp that is in now.
    """

    name: str
    unit: places.ExposureUnit | None
    changes: tuple[places.LampChange, ...]
    stretches: tuple[Stretch, ...]
    burnt_h: float
    exposures: int
    untimed: int
    age_d: float | None
    irradiance_mw_cm2: float | None
    readings: int
    verdict: Verdict


LAMP_FIRST, LAMP_NEWEST = 200, 3000
CHART_FIRST, CHART_NEWEST = 200, 1000
"""Strips that a lamp is followed by, and that are looked through for a drift: its first ones, and the newest."""


def lamp_story(db: Database, name: str, now: datetime, *, whole: bool = True) -> LampStory:
    """The lamp of an exposure unit: its age, hours, drift, and whether it is due by the shop's spec. Not `whole`:
    without the story of the lamps before it and its irradiance, which decide nothing."""
    spec = the_spec(db)
    lamp = _Lamp(db, name, now)
    changes = places.lamp_changes(db, lamp.unit.id) if lamp.unit else []
    seconds, number, untimed = readings.burnt(db, name, lamp.since)
    hours = seconds / 3600
    age = (now - read_stamp(lamp.since)).total_seconds() / 86400 if lamp.since else None
    stretches = []
    for since, until in _stretches(changes, stamp(now), whole):
        found = readings.washouts_of_unit(db, name, since, LAMP_NEWEST, until or stamp(now), first=LAMP_FIRST)
        lamp.read([one for one in found if not until or one.at < until])
        drift = lamps.drift(lamp.washouts("s"), name)
        if drift.points or since == lamp.since:
            stretches.append(Stretch(since, until, drift))
    facts = facts_of(lamp=lamp.unit.lamp if lamp.unit else "", exposure_unit=name)
    limits = {key: spec.find(key, **facts) for key in ("lamp-hours", "lamp-age", "lamp-drift")}
    limit_h, limit_d, limit_drift = (limits[key].value if limits[key] else None for key in limits)  # type: ignore[union-attr]
    # Without a change on record, or with exposures that have no time, the hours are only the least that it burnt: they
    # may make a lamp due, never fine.
    sure = hours if (lamp.since and not untimed) or (limit_h is not None and hours >= limit_h) else None
    reasons = lamps.judge_lamp(
        hours=sure,
        age_d=age,
        drift=stretches[-1].drift if stretches else None,
        limit_h=limit_h,
        limit_d=limit_d,
        limit_drift=limit_drift / 100 if limit_drift is not None else math.inf,
        spec=tuple(limit.row for limit in limits.values() if limit),
    )
    return LampStory(
        name,
        lamp.unit,
        tuple(changes),
        tuple(stretches),
        hours,
        number,
        untimed,
        age,
        lamp.irradiance if whole else None,
        len(stretches[-1].drift.points) if stretches else 0,
        judge(reasons),
    )


def _stretches(changes: Sequence[places.LampChange], now: str, whole: bool) -> list[tuple[str, str]]:
    """From when to when each lamp was in a unit, empty: from the beginning, still; not `whole`: the last one."""
    edges = ["", *(one.at for one in changes if one.at <= now), ""]
    return list(zip(edges, edges[1:], strict=False))[0 if whole else -1 :]


def lamps_ahead(db: Database, names: Iterable[str], now: datetime, *, whole: bool = True) -> None:
    """What the stories of several units will ask for one by one, read together: strips, hours, and the emulsions."""
    lately, last, strips = stamp(now), [], []
    for name in names:
        unit = places.find_unit(db, name)
        times = _stretches(places.lamp_changes(db, unit.id) if unit else [], lately, whole)
        last.append((name, times[-1][0]))
        strips += [(name, since, until or lately, LAMP_NEWEST) for since, until in times]
    readings.burnt_ahead(db, last, lately)
    readings.washouts_ahead(db, strips)
    found = [one for name, since, until, _most in strips
             for one in readings.washouts_of_unit(db, name, since, LAMP_NEWEST, until)]  # fmt: skip
    buckets.read_ahead(db, [one.emulsion for one in found if one.emulsion])


def units_of(db: Database) -> list[str]:
    """The names of all exposure units in use: those registered, then those that only the log names."""
    return places.units_named(db)


def step_chart(db: Database, name: str, now: datetime) -> tuple[str, control.Chart]:
    """The strips of an exposure unit since its lamp was put in, each against those of its like: the same combination
    and distance, the same wanted step, timed in the same way. Since when, and the chart."""
    spec, lamp = the_spec(db), _Lamp(db, name, now)
    found = readings.washouts_of_unit(db, name, lamp.since, CHART_NEWEST, stamp(now), first=CHART_FIRST)
    cases = [lamp.case(one) for one in found]
    sorts = lamps.alike((case.of, one.distance_mm) for case, one in zip(cases, found, strict=True))
    steps: dict[exposure.Combination, float | None] = {}
    strips = []
    for sort, case, one in zip(sorts, cases, found, strict=True):
        if case.of not in steps:
            row = spec.find("wanted-step", **case.facts)
            steps[case.of] = row.value if row else None
        timed = one.exposure_s if one.exposure_s is not None else one.exposure_units
        how = "s" if one.exposure_s is not None else "" if timed is None else "units"
        strips.append(control.Strip(one.at, one.step_held or 0.0, (sort, steps[case.of], how), timed))
    return lamp.since, control.step_chart(strips)


def lamps_due(db: Database, now: datetime) -> list[LampStory]:
    """The exposure units whose lamp is due."""

    names = units_of(db)

    def due() -> list[LampStory]:
        lamps_ahead(db, names, now, whole=False)
        found = [lamp_story(db, name, now, whole=False) for name in names]
        return [one for one in found if one.verdict.level is Level.CAUTION]

    return list(while_log_stays(db, "lamps due", tuple(_about(db, name, now) for name in names), due))


def _about(db: Database, name: str, now: datetime) -> tuple[Any, ...]:
    """What a unit's lamp and times hang on beside the log: the spec, its lamps, the day."""
    unit = places.find_unit(db, name)
    changes = places.lamp_changes(db, unit.id) if unit else []
    return (spec_rows.newest(db), unit, tuple(one.at for one in changes), now.date())


@dataclass(frozen=True, slots=True)
class SetTimeOff:
    """A time that the shop set and that its own step strips contradict: of which combination, and how (a caution)."""

    unit: str
    of: Combination
    verdict: Verdict


def set_times_off(db: Database, name: str, now: datetime) -> list[SetTimeOff]:
    """The set times of an exposure unit that its washouts since the last lamp change contradict, combination by
    combination, the farthest off first. Nothing is carried over from one combination to another."""
    about = _about(db, name, now)
    return while_log_stays(db, f"set times off: {name}", about, lambda: off_among(taught(db, name, now, only_set=True)))


def off_among(wanted: Iterable[WantedExposure]) -> list[SetTimeOff]:
    """Those of `wanted` whose set time the washouts contradict."""
    found = []
    for one in wanted:
        reasons = [
            reason
            for known in (one.seconds, one.units)
            for reason in known.reasons
            if reason.key.startswith("exposure-set-time-off")
        ]
        if reasons:
            found.append(SetTimeOff(one.case.of.exposure_unit, one.case.of, judge(reasons)))
    return sorted(found, key=lambda one: -max(float(reason.numbers["off_pct"]) for reason in one.verdict.reasons))


def every_set_time_off(db: Database, now: datetime) -> list[SetTimeOff]:
    """The set times of all exposure units that their washouts contradict."""
    return [one for name in units_of(db) for one in set_times_off(db, name, now)]


def taught(db: Database, name: str, now: datetime, *, only_set: bool = False) -> list[WantedExposure]:
    """Every combination of an exposure unit that washouts since the last lamp change were read of, the latest first;
    `only_set`: those whose time the shop set."""
    spec = the_spec(db)
    set_keys = {"exposure-time", "exposure-units"}
    if only_set and set_keys.isdisjoint(row.key for row in spec.rows):
        return []
    lamp = _Lamp(db, name, now)
    cases: list[Case] = []
    for one in reversed(lamp.readings):
        case = lamp.case(one)
        if case.of.emulsion and all(case.of.differs(other.of) for other in cases):
            cases.append(case)
    cases = [case for case in cases[:40] if not only_set or any(spec.find(key, **case.facts) for key in set_keys)]
    return [_wanted(spec, lamp, case) for case in cases]


def further_uses(spec: Spec) -> float | None:
    """How many more uses a mesh is asked to last; None: no limit says."""
    found = spec.find("mesh-further-uses")
    return found.value if found else None
