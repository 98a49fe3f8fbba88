"""What a screen's log teaches: tension readings, washouts, meshes. Worked out beside the life, in one replay."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field, fields, replace
from operator import attrgetter
from typing import Any

from tickets.domain.entry import Entry, stamp, standing_lines
from tickets.domain.screens import screen_log
from tickets.domain.screens.screen import Life
from tickets.domain.screens.tracing import Coat, Follower, Hanging, Past, Stay, StencilLife
from tickets.domain.stages import Standing
from tickets.domain.steps import FAULTS

WORN_OUT = frozenset({"torn", "slack", "ghost"})
IN_GOOD_TIME = "restretched"
"""What ends a mesh by wear, and what ends it before; anything else (frame, lost, glue) only ends its being watched."""


@dataclass(frozen=True, slots=True)
class TensionReading:
    """One set of readings: of which mesh of the screen, after how many uses, prints and strippings of that mesh."""

    entry: str
    at: str
    mesh: int
    uses: int
    impressions: int
    cycles: int
    mean_n_per_cm: float
    minimum_n_per_cm: float
    spread_n_per_cm: float
    warp: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class WashoutReading:
    """One washout and the exposure before it; what was not logged is None or empty. `emulsion`: the bucket's number."""

    entry: str
    at: str
    exposure_unit: str
    emulsion: int | None
    count_per_cm: float | None
    thread_um: float | None
    mesh_colour: str
    preset: str
    exposure_s: float | None
    exposure_units: float | None
    step_held: float | None
    irradiance_mw_cm2: float | None
    distance_mm: float | None
    result: str
    fault: str


@dataclass(frozen=True, slots=True)
class CheckReading:
    """One look at a stencil on the light table, with what it was made of. `emulsion`: the bucket's number."""

    entry: str
    at: str
    exposure_unit: str
    emulsion: int | None
    count_per_cm: float | None
    result: str
    fault: str


@dataclass(frozen=True, slots=True)
class Exposure:
    """One exposure, as far as it wears the lamp: thousandths of a second (None: not noted)."""

    at: str
    exposure_unit: str
    burnt_ms: int | None


@dataclass(frozen=True, slots=True)
class MeshLife:
    """One mesh on a frame, from its stretching; `cause` is empty while it is in service. `uses` are those of the log;
    `entered_uses` it had before (None: it had some, and nobody noted how many). It counts among the lives from those
    uses on, and not at all where they are unknown; one restretched in good time ended as one that wore out."""

    number: int
    stretched_at: str
    frame: str
    count_per_cm: float
    thread_um: float | None
    uses: int
    impressions: int
    cycles: int
    ended_at: str = ""
    cause: str = ""
    entered_uses: int | None = 0


@dataclass(frozen=True, slots=True)
class Lesson:
    """All that one screen's log teaches."""

    tensions: tuple[TensionReading, ...] = ()
    washouts: tuple[WashoutReading, ...] = ()
    meshes: tuple[MeshLife, ...] = ()
    past: Past = Past()
    checks: tuple[CheckReading, ...] = ()
    exposures: tuple[Exposure, ...] = ()


@dataclass(frozen=True, slots=True)
class Tail:
    """The end of what a log taught, as far back as a later entry may look: of each table the last rows, and the place
    of the first of them among all (`first`, by the name of the table)."""

    lesson: Lesson = Lesson()
    first: Mapping[str, int] = field(default_factory=dict)

    def then(self, lesson: Lesson, life: Life) -> Tail:
        """The tail of a log that went on: to the `lesson`, which begins where this tail does, and to the `life`.

        The last stay; where it began with the last entry the one before as well: another entry of that very time takes
        its place, and may open that again. What is on the screen, what that was coated from, its mesh and its last time
        on a press; of readings only how many."""
        past, on = lesson.past, life.stencil is not None
        stencils = past.stencils[-1:] if on else ()
        last = self.first.get("stencils", 0) + len(past.stencils) - 1
        coats = tuple(one for one in past.coats if on and one.stencil == last)
        stays = past.stays[-2:] if past.stays and past.stays[-1].since == life.last_at else past.stays[-1:]
        kept = Past(stays, stencils, coats, past.hangings[-1:])
        tail = Lesson(meshes=lesson.meshes[-1:], past=kept)
        first = {name: self.first.get(name, 0) + len(of(lesson)) - len(of(tail)) for name, of in OF.items()}
        return Tail(tail, first)

    def kept(self) -> dict[str, Any]:
        """Plain data: of each row its fields in their order."""
        rows = {name: [list(values(one)) for one in OF[name](self.lesson)] for name, (_kind, values) in _ENDS.items()}
        return {"first": dict(self.first), **{name: some for name, some in rows.items() if some}}

    @classmethod
    def from_kept(cls, kept: Mapping[str, Any]) -> Tail:
        """A tail read back from `kept`."""
        rows = {name: tuple([kind(*row) for row in kept.get(name, ())]) for name, (kind, _values) in _ENDS.items()}
        return cls(Lesson(meshes=rows.pop("meshes"), past=Past(**rows)), kept["first"])


def _rows_of(kind: type[Any]) -> tuple[type[Any], Callable[[Any], tuple[Any, ...]]]:
    return kind, attrgetter(*(one.name for one in fields(kind)))


_ENDS = {
    "meshes": _rows_of(MeshLife), "stays": _rows_of(Stay), "stencils": _rows_of(StencilLife), "coats": _rows_of(Coat),
    "hangings": _rows_of(Hanging),
}  # fmt: skip
"""The tables of which a tail has rows, each named like its field of Lesson or Past: their kind, and what one holds."""
OF: Mapping[str, Callable[[Lesson], tuple[Any, ...]]] = {
    **{one.name: attrgetter(one.name) for one in fields(Lesson) if one.name != "past"},
    **{one.name: attrgetter(f"past.{one.name}") for one in fields(Past)},
}
"""By table, what a lesson has for it."""


@dataclass(frozen=True, slots=True)
class Begun:
    """Where a screen's log stands; `exposed`: its last exposure, where an entry that is to come may ask for it; `kept`:
    its tail as the file has it."""

    life: Life
    tail: Tail
    exposed: Entry | None = None
    kept: str = ""


def replay(
    entries: Iterable[Entry], logged: Collection[str], outside: Collection[int] = (), begun: Begun | None = None
) -> tuple[Life, Lesson]:
    """The life that the entries of one screen come to, and what they teach on the way.

    `begun`: where the log before them stands; then the lesson goes on from its tail.
    """
    begun = begun or Begun(screen_log.begun(logged), Tail())
    life, exposed, so_far = begun.life, begun.exposed, begun.tail.lesson
    tensions, washouts, meshes = list(so_far.tensions), list(so_far.washouts), list(so_far.meshes)
    checks, exposures = list(so_far.checks), list(so_far.exposures)
    follower = Follower(so_far.past, life, begun.tail.first.get("stencils", 0))
    for entry in standing_lines(entries):
        before = life
        life = screen_log.after(life, entry, logged, outside)
        follower.see(before, life, entry)
        at = stamp(entry.at)
        if entry.step == "expose":
            exposed = entry
            exposures.append(_exposure(entry, at))
        elif entry.step in {"coat", "strip", "stretch"}:
            exposed = None
        if entry.step == "tension" and life.tension is not None and life.tension.entry == entry.entry:
            warp = life.tension.readings_n_per_cm
            tensions.append(
                TensionReading(
                    entry.entry,
                    at,
                    life.meshes,
                    life.uses,
                    life.impressions,
                    life.cycles,
                    life.tension.mean_n_per_cm,
                    life.tension.minimum_n_per_cm,
                    max(warp) - min(warp),
                    warp,
                )
            )
        elif entry.step == "washout":
            washouts.append(_washout(entry, at, exposed, before))
        elif entry.step == "check" and entry.values.get("result") in {"good", "fault"}:
            checks.append(_check(entry, at, exposed, before))
        elif entry.step == "stretch":
            if meshes and not meshes[-1].ended_at:
                meshes[-1] = replace(_counted(meshes[-1], before), ended_at=at, cause=_why(before))
            mesh = life.mesh
            if mesh is not None:
                mine = (life.meshes, at, mesh.frame, mesh.count_per_cm, mesh.thread_um)
                meshes.append(MeshLife(*mine, 0, 0, 0, entered_uses=mesh.uses_before))
        if meshes and not meshes[-1].ended_at and entry.step != "stretch":
            meshes[-1] = _counted(meshes[-1], life)
            ended = life.standing in {Standing.TO_RESTRETCH, Standing.RETIRED} and before.standing is not life.standing
            if ended:
                meshes[-1] = replace(meshes[-1], ended_at=at, cause=_why(life))
        if entry.step == "found" and meshes and meshes[-1].ended_at and life.standing is not before.standing:
            if life.standing not in {Standing.TO_RESTRETCH, Standing.RETIRED, Standing.UNKNOWN}:
                meshes[-1] = replace(meshes[-1], ended_at="", cause="")  # it was not so bad after all
    learned = (tuple(tensions), tuple(washouts), tuple(meshes), follower.past, tuple(checks), tuple(exposures))
    return life, Lesson(*learned)


def _counted(mesh: MeshLife, life: Life) -> MeshLife:
    now = (life.uses, life.impressions, life.cycles)
    if now == (mesh.uses, mesh.impressions, mesh.cycles):  # most entries do nothing to it
        return mesh
    return replace(mesh, uses=life.uses, impressions=life.impressions, cycles=life.cycles)


def _why(life: Life) -> str:
    known = life.fault if life.fault in dict(FAULTS) else "other"  # a fault may be in words
    return "torn" if life.torn else known if life.fault else IN_GOOD_TIME


def _washout(entry: Entry, at: str, exposed: Entry | None, before: Life) -> WashoutReading:
    mesh, stencil = before.mesh, before.stencil
    values = exposed.values if exposed else {}
    return WashoutReading(
        entry=entry.entry,
        at=at,
        exposure_unit=str(values.get("exposure_unit", "")),
        emulsion=stencil.bucket if stencil else None,
        count_per_cm=mesh.count_per_cm if mesh and mesh.count_per_cm else None,
        thread_um=mesh.thread_um if mesh else None,
        mesh_colour=mesh.colour if mesh else "",
        preset=stencil.preset if stencil else "",
        exposure_s=_float(values.get("exposure_s")),
        exposure_units=_float(values.get("exposure_units")),
        step_held=_float(entry.values.get("step_held")),
        irradiance_mw_cm2=_float(values.get("irradiance_mw_cm2")),
        distance_mm=_float(values.get("distance_mm")),
        result=str(entry.values.get("result", "")),
        fault=str(entry.values.get("fault", "")),
    )


def _check(entry: Entry, at: str, exposed: Entry | None, before: Life) -> CheckReading:
    mesh, stencil = before.mesh, before.stencil
    return CheckReading(
        entry=entry.entry,
        at=at,
        exposure_unit=str(exposed.values.get("exposure_unit", "")) if exposed else "",
        emulsion=stencil.bucket if stencil else None,
        count_per_cm=mesh.count_per_cm if mesh and mesh.count_per_cm else None,
        result=str(entry.values["result"]),
        fault=str(entry.values.get("fault", "")),
    )


def _exposure(entry: Entry, at: str) -> Exposure:
    seconds = _float(entry.values.get("exposure_s"))
    unit = str(entry.values.get("exposure_unit", ""))
    return Exposure(at, unit, round(seconds * 1000) if seconds is not None else None)


def _float(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None
