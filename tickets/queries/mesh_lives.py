"""How long meshes last and how their tension falls, out of the shop’s own log."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sqlite_utils import Database

from tickets.calculator import lifetime, tension
from tickets.calculator.units import CannotBe, magnitude, quantity
from tickets.calculator.verdict import Level, Reason, Verdict, judge
from tickets.domain.screens import frame_checks
from tickets.domain.screens.readings import IN_GOOD_TIME, WORN_OUT, MeshLife, TensionReading
from tickets.domain.spec import Spec
from tickets.queries import learning
from tickets.queries.learning import CM_PER_IN
from tickets.queries.shop_rules import the_spec
from tickets.store import readings, screens
from tickets.store.readings import InService
from tickets.store.reads import while_log_stays


@dataclass(frozen=True, slots=True)
class Forecast:
    """The tension of one mesh against its uses, and where it leads. `since`: "stretch" or "retension"; `uses` of the
    readings are counted from there. `floor`, `watch`, `new_mesh` in N/cm, None where the spec says nothing."""

    work: str
    readings: tuple[TensionReading, ...]
    uses: int
    since: str
    loss: tension.Loss | None
    floor: float | None
    watch: float | None
    new_mesh: float | None
    lowest: tuple[int, str] | None
    settled_uses: float
    verdict: Verdict

    def at(self, uses: float) -> float | None:
        """The fitted tension at so many uses, in N/cm."""
        if self.loss is None:
            return None
        start, slope = magnitude(self.loss.start, "N/cm"), magnitude(self.loss.loss_per_log_use, "N/cm")
        return start - slope * math.log1p(uses)


def forecast(db: Database, screen: screens.Screen, work: str) -> Forecast:
    """How many uses a screen's present mesh has left until the floor of its work, from its readings since it was
    stretched, or since it was last retensioned. The lowest reading of each set counts, as it does for the floor."""
    spec, life = the_spec(db), screen.life
    limits = frame_checks.tension_limits(life, work, spec)
    floor = limits.floor
    settled = spec.find("settled-uses")
    settled_uses = settled.value if settled else 0.0
    made = [one for one in readings.tensions(db, screen.id) if one.mesh == life.meshes]
    since, before = "stretch", 0
    if made and (anew := life.retensioned_at) >= made[0].at:
        since, before = "retension", life.retensioned_uses
        made = [replace(one, uses=max(0, one.uses - before)) for one in made if one.at >= anew]
    uses = max(0, life.uses - before)
    loss: tension.Loss | None = None
    if floor is None:
        reasons = [Reason("tension-no-floor", Level.UNKNOWN)]
    else:
        points = [(float(one.uses), quantity(one.minimum_n_per_cm, "N/cm")) for one in made]
        rows = (*limits.rows("floor"), *((settled.row,) if settled else ()))
        try:
            loss = tension.fit_loss(points, quantity(floor, "N/cm"))
            reasons = tension.judge_loss(loss, len(made), floor, settled_uses=settled_uses, spec=rows, uses_now=uses)
        except CannotBe:
            reasons = [Reason("tension-loss-same-uses", Level.UNKNOWN, {"readings": len(made)})]
    return Forecast(
        work,
        tuple(made),
        uses,
        since,
        loss,
        floor,
        limits.watch if "watch" in limits.spec else None,
        limits.new_mesh,
        tension.lowest_place(one.warp for one in made),
        settled_uses,
        judge(reasons),
    )


RANGES: tuple[tuple[float, float], ...] = ((0, 170), (170, 240), (240, 1e9))
"""Mesh counts per inch, as the spec spans them: over, up to and including."""


ROUNDING = 0.5
"""67/cm is 170.2/in and sold as 170."""


def range_of(count_per_cm: float) -> tuple[float, float]:
    """The range that a mesh falls into."""
    count = count_per_cm * CM_PER_IN
    return next(span for span in RANGES if count <= span[1] + ROUNDING)


@dataclass(frozen=True, slots=True)
class Group:
    """The meshes of one range on one kind of frame (empty: not noted): how many, how many uses those in service have
    ((by the log, before it) -> number), what ended the others, and the curve. `unknown`: how many more were in use
    before the log, nobody noted how long; the curve leaves them out."""

    range: tuple[float, float]
    frame: str
    number: int
    in_service: Mapping[tuple[int, int], int]
    causes: Mapping[str, int]
    curve: lifetime.Survival
    unknown: int = 0

    @property
    def enough(self) -> bool:
        """True when enough have ended to say how long one lasts."""
        return self.curve.ended >= lifetime.LEAST_ENDED


def mesh_lives(db: Database) -> list[Group]:
    """The lives of all meshes by range and frame, the commonest first within a range."""
    return list(while_log_stays(db, "mesh lives", None, lambda: _mesh_lives(db)))


def _mesh_lives(db: Database) -> list[Group]:
    sorts: dict[tuple[tuple[float, float], str], list[readings.LifeCount]] = {}
    for one in readings.life_counts(db):
        sorts.setdefault((range_of(one.count_per_cm), one.frame), []).append(one)
    made = []
    for (span, frame), alike in sorts.items():
        lives: list[lifetime.UsesOfMesh] = []
        causes: Counter[str] = Counter()
        in_service: Counter[tuple[int, int]] = Counter()
        unknown = 0
        for one in alike:
            if one.cause:
                causes[one.cause] += one.number
            if one.entered is None:
                unknown += one.number
                continue
            ended = one.cause in WORN_OUT or one.cause == IN_GOOD_TIME
            uses = one.entered + one.uses
            if uses > one.entered or not one.entered:  # one that was not used since tells nothing
                lives += [lifetime.UsesOfMesh(uses, ended, one.entered, one.cause in WORN_OUT)] * one.number
            if not one.cause:
                in_service[one.uses, one.entered] += one.number
        curve = lifetime.survival(lives or [lifetime.UsesOfMesh(0, False)])
        made.append(Group(span, frame, len(lives), in_service, causes, curve, unknown))
    return sorted(made, key=lambda one: (one.range, -one.number, one.frame))


@dataclass(frozen=True, slots=True)
class NearEnd:
    """A mesh in service that its like seldom outlast by much: `chance` (a share, None beyond all others) of
    some more uses (`further_uses`)."""

    one: InService
    chance: float | None
    verdict: Verdict


def near_end(db: Database, limit: int = 50) -> list[NearEnd]:
    """The screens whose mesh is likely near its end, the least likely to last first."""
    worn: list[tuple[float, int, tuple[int, int], Group, Verdict, float | None]] = []
    spec = the_spec(db)
    for group in mesh_lives(db):
        for uses in group.in_service:
            verdict = life_verdict(spec, group.curve, sum(uses))
            if verdict.level is Level.CAUTION:
                chance = lifetime.chance_of_next(group.curve, sum(uses), learning.further_uses(spec) or 0.0)
                worn.append((chance or 0.0, -sum(uses), uses, group, verdict, chance))
    found: list[NearEnd] = []
    for _rank, _total, uses, group, verdict, chance in sorted(worn, key=lambda one: one[:3]):
        low, high = ((end + ROUNDING) / CM_PER_IN for end in group.range)
        for one in readings.in_service(db, low, high, group.frame, uses, limit - len(found)):
            if range_of(one.life.count_per_cm) == group.range:
                found.append(NearEnd(one, chance, verdict))
        if len(found) >= limit:
            break
    return found


def near_among(db: Database, numbers: Sequence[int]) -> dict[int, Verdict]:
    """Those of these screens whose mesh is likely near its end, with why."""
    curves = {(one.range, one.frame): one.curve for one in mesh_lives(db)} if numbers else {}
    found = {}
    for number, mesh in readings.in_service_of(db, numbers).items():
        curve = curves.get((range_of(mesh.count_per_cm), mesh.frame)) if mesh.count_per_cm else None
        verdict = _life_of(the_spec(db), curve, mesh)
        if verdict.level is Level.CAUTION:
            found[number] = verdict
    return found


def life_verdict(spec: Spec, curve: lifetime.Survival | None, uses: int) -> Verdict:
    """Whether a mesh of so many uses is likely near its end, by the curve of its like; unknown without a limit."""
    further, chance = spec.find("mesh-further-uses"), spec.find("mesh-chance-least")
    if further is None or chance is None:
        return judge([Reason("life-no-limit", Level.UNKNOWN)])
    rows = (further.row, chance.row)
    return judge(lifetime.judge_life(curve, uses, further=further.value, least_chance=chance.value / 100, spec=rows))


def life_of(db: Database, screen: screens.Screen) -> Verdict | None:
    """Whether the present mesh of one screen is likely near its end; None where it has none in service."""
    mesh = next((one for one in reversed(readings.meshes(db, screen.id)) if not one.ended_at), None)
    if mesh is None or not mesh.count_per_cm:
        return None
    sort = (range_of(mesh.count_per_cm), mesh.frame)
    curve = next((one.curve for one in mesh_lives(db) if (one.range, one.frame) == sort), None)
    return _life_of(the_spec(db), curve, mesh)


def _life_of(spec: Spec, curve: lifetime.Survival | None, mesh: MeshLife) -> Verdict:
    """Whether a mesh in service is likely near its end; unknown where nobody knows how long it was used before."""
    if mesh.entered_uses is None:
        return judge(lifetime.judge_unknown())
    return life_verdict(spec, curve, mesh.entered_uses + mesh.uses)
