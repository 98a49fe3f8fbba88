"""What a frame is judged by: its mesh, its tension, and both against what is asked for."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from tickets.calculator import kinds
from tickets.calculator import mesh as mesh_rules
from tickets.calculator import tension as tension_rules
from tickets.calculator.verdict import Level, Reason, phrases
from tickets.domain.entry import read_stamp
from tickets.domain.screens.screen import Life, Tension
from tickets.domain.separation import Separation
from tickets.domain.spec import Spec, facts_of
from tickets.i18n import N_

CM_PER_IN = 2.54


@dataclass(frozen=True, slots=True)
class Asked:
    """What a printing station asks for. `inks`: the kinds of ink it takes over all colourways."""

    number: int
    separation: int
    image: Separation
    mesh: str
    count_per_cm: float
    thread_um: float | None
    work: str
    inks: frozenset[str] = frozenset()
    strokes: int = 1
    revolution: int = 1
    head: int | None = None


def frame_facts(life: Life, work: str = "", **more: Any) -> dict[str, Any]:
    mesh = life.mesh
    return facts_of(
        work=work,
        frame=mesh.frame if mesh else None,
        count_per_in=mesh.count_per_cm * CM_PER_IN if mesh and mesh.count_per_cm else None,
        mesh_colour=mesh.colour if mesh else None,
        **more,
    )


def tension_limits(life: Life, work: str, spec: Spec) -> tension_rules.TensionLimits:
    """The limits for a screen at a kind of work."""
    mesh = life.mesh
    about = (mesh.frame, mesh.count_per_cm, mesh.colour) if mesh else None
    return spec.kept(("tension", work, about), lambda: _tension_limits(life, work, spec))


def _tension_limits(life: Life, work: str, spec: Spec) -> tension_rules.TensionLimits:
    return tension_rules.limits(spec.find, **frame_facts(life, work))


def readings(life: Life, warp: Sequence[float], weft: Sequence[float], work: str, spec: Spec) -> list[Reason]:
    """What readings just taken come to for a kind of work."""
    return tension_rules.judge(warp, weft, tension_limits(life, work, spec), work=work)


def holds_register(life: Life, work: str, spec: Spec) -> bool:
    """False for a frame that is not for this work, however tight its mesh: wood where several colours must fit."""
    return not tension_rules.judge_register(tension_limits(life, work, spec), work)


def usual_work(life: Life, spec: Spec) -> str:
    """What a screen is judged for while no job says: several colours, or one on a frame that is for no more."""
    return kinds.USUAL if holds_register(life, kinds.USUAL, spec) else kinds.ONE_COLOUR


def tension(life: Life, work: str, spec: Spec, now: datetime) -> list[Reason]:
    """What the last reading says of a screen now: its level and its age; of an age, or of no reading at all, nothing is
    said in a shop that does not log tension."""
    age, stencils = spec.find("tension-age"), spec.find("tension-age-stencils")
    limits = {"limit_d": age.value if age else 1e9, "limit_stencils": stencils.value if stencils else 1e9}
    rows = tuple(limit.row for limit in (age, stencils) if limit)
    if life.tension is None:
        reasons = tension_rules.judge_age(None, None, **limits, spec=rows) if life.tension_logged else []
        return reasons + tension_rules.judge_register(tension_limits(life, work, spec), work)
    reading = life.tension
    reasons = readings(life, reading.readings_n_per_cm, reading.readings_weft_n_per_cm, work, spec)
    if not life.tension_logged:
        return reasons
    days = max(0.0, (now - read_stamp(reading.at)).total_seconds() / 86400)
    aged = tension_rules.judge_age(days, reading.stencils_since, **limits, spec=rows)
    if any(reason.level is not Level.OK for reason in aged):
        return reasons + aged
    return reasons + (_settled(life, reading, tension_limits(life, work, spec).watch, spec, now) or aged)


def _settled(life: Life, reading: Tension, watch: float, spec: Spec, now: datetime) -> list[Reason]:
    """Whether the reading was taken while the mesh was settling from its last stretching; `watch`: where caution
    starts, in N/cm."""
    since = life.retensioned_at or (life.mesh.stretched_at if life.mesh and not life.mesh.in_use else "")
    if not since:
        return []
    hours, uses, loss = (spec.find(key) for key in ("settled-hours", "settled-uses", "settling-loss"))
    spare = tension_rules.Spare(reading.minimum_n_per_cm, watch, loss.value) if loss else None
    tensioned = read_stamp(since)
    read_h = (read_stamp(reading.at) - tensioned).total_seconds() / 3600
    if reading.after:  # somebody said what it came after
        read_h = 0.0 if reading.after == "stretch" else math.inf
    return tension_rules.judge_settled(
        tension_rules.Since(read_h, reading.uses - life.retensioned_uses),
        tension_rules.Since((now - tensioned).total_seconds() / 3600, life.uses - life.retensioned_uses),
        settled_h=hours.value if hours else 0.0,
        settled_uses=uses.value if uses else 0.0,
        spare=spare,
        spec=tuple(limit.row for limit in (hours, uses) if limit),
    )


def share_pct(life: Life, spec: Spec) -> float | None:
    """How much of its new-mesh tension a screen has, in percent; None where that cannot be said."""
    new = spec.find("new-mesh-tension", **frame_facts(life))
    if life.tension is None or new is None or not new.value:
        return None
    return tension_rules.share_pct(life.tension.mean_n_per_cm, new.value)


def neighbours(life: Life, others: Mapping[str, Life], spec: Spec) -> list[Reason]:
    """Whether a screen is as tight as the others of its placement (`others` by code)."""
    limit = spec.find("tension-neighbours")
    if limit is None:
        return []
    shares = {code: share for code, other in others.items() if (share := share_pct(other, spec)) is not None}
    return tension_rules.judge_neighbours(share_pct(life, spec), shares, limit_pct=limit.value, spec=(limit.row,))


def same_mesh(life: Life, asked: Asked, spec: Spec) -> list[Reason]:
    """Whether the screen's mesh is the one asked for; one accepted when imaging is a caution with who and why."""
    mesh = life.mesh
    if mesh is None:
        return [Reason("mesh-unknown", Level.UNKNOWN, {"asked_per_in": asked.count_per_cm * CM_PER_IN})]
    wanted = (asked.count_per_cm, asked.thread_um)
    reasons = compared(wanted, (mesh.count_per_cm, mesh.thread_um), spec)
    if not mesh.count_per_cm:  # a thread that differs stops it all the same
        thread = compared(wanted, (asked.count_per_cm, mesh.thread_um), spec)
        reasons += [reason for reason in thread if reason.level is not Level.OK]
    accepted = _accepted(life, asked)
    if accepted and any(reason.level is Level.STOP for reason in reasons):
        said = {"mesh": mesh.said, "asked": asked.mesh, "who": accepted.get("who", ""), "why": accepted.get("why", "")}
        reasons = [reason for reason in reasons if reason.level is not Level.STOP]
        reasons.append(Reason("mesh-substitute", Level.CAUTION, said))
    return reasons


def compared(asked: tuple[float, float | None], mesh: tuple[float, float | None], spec: Spec) -> list[Reason]:
    """Whether one mesh is another by the shop's tolerances, each as its count per cm and its thread in um (None: not
    noted)."""
    tolerances = spec.find("mesh-count-tolerance"), spec.find("mesh-thread-tolerance")
    return mesh_rules.judge_same(
        asked[0] * CM_PER_IN,
        asked[1],
        mesh[0] * CM_PER_IN,
        mesh[1],
        count_tolerance_pct=tolerances[0].value if tolerances[0] else 0.0,
        thread_tolerance_um=tolerances[1].value if tolerances[1] else 0.0,
        spec=tuple(limit.row for limit in tolerances if limit),
    )


def too_far(life: Life, asked: Asked, spec: Spec) -> list[Reason]:
    """Mesh and tension beyond the shop's hard limits: from there on the press lead decides, not the operator. A mesh
    that a lead accepted when the image was put on was decided then."""
    reasons: list[Reason] = []
    facts = frame_facts(life, asked.work)
    count = life.mesh.count_per_cm if life.mesh else 0.0
    most, floor = spec.find("mesh-count-hard", **facts), spec.find("tension-hard-floor", **facts)
    accepted = _accepted(life, asked)
    if most is not None and count and asked.count_per_cm and not (accepted and accepted.get("lead")):
        off_pct = 100 * abs(count / asked.count_per_cm - 1)
        if off_pct > most.value + 1e-6:
            numbers = {"off_pct": off_pct, "limit_pct": most.value}
            reasons.append(Reason("mesh-far-off", Level.STOP, numbers, (most.row,)))
    if floor is not None and life.tension is not None and life.tension.minimum_n_per_cm < floor.value:
        numbers = {"lowest_n_per_cm": life.tension.minimum_n_per_cm, "limit_n_per_cm": floor.value}
        reasons.append(Reason("tension-under-hard-floor", Level.STOP, numbers, (floor.row,)))
    return reasons


def _accepted(life: Life, asked: Asked) -> Mapping[str, Any] | None:
    """What was accepted for this image and this wish; another job may ask the same image on another mesh."""
    accepted = life.stencil.accepted if life.stencil else None
    if not accepted:
        return None
    separations, meshes = accepted.get("separations"), accepted.get("asked")
    if separations is not None and asked.separation not in separations:
        return None
    return accepted if meshes is None or asked.mesh in meshes else None


phrases(
    {
        "mesh-far-off": (
            N_("The count is {off_pct} off; beyond {limit_pct} only a press lead passes it."),
            N_("Take a screen of the right mesh."),
        ),
        "tension-under-hard-floor": (
            N_("Only {lowest_n_per_cm}: under {limit_n_per_cm} only a press lead passes it."),
            N_("Take another screen; this one is to be made tight first."),
        ),
        "mesh-substitute": (
            N_("Mesh {mesh} instead of {asked}, accepted by {who}: {why}"),
            N_("Expect another amount of ink; compare with the approved print."),
        ),
    }
)
