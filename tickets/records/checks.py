"""The checks: what the spec says of a screen at a step, and whether it is the right screen at the press.

Each gives reasons out of calculator functions and the shop's spec; `verdict.judge` makes the verdict. No check ever
reads `ok` out of something unknown.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from tickets.calculator import cure as cure_rules
from tickets.calculator import exposure, ink
from tickets.calculator import mesh as mesh_rules
from tickets.calculator import stencil as stencil_rules
from tickets.calculator import tension as tension_rules
from tickets.calculator import work as work_kinds
from tickets.calculator.drying import COAT, WET, Air, drying_time, judge_dry
from tickets.calculator.units import magnitude, quantity
from tickets.calculator.verdict import Level, Reason, Verdict, judge, phrases
from tickets.records import setting
from tickets.records.bucket import CLOCKED, Bucket, hours_past
from tickets.records.code import shown
from tickets.records.entry import read_stamp, stamp
from tickets.records.heads import Press, in_order
from tickets.records.job import Garment, Ink, Job, Placement, ink_for
from tickets.records.room import Room
from tickets.records.run import VERSION, cause_of
from tickets.records.screen import ALONE, Life, Shown, Standing, Stencil, Tension, wet_since
from tickets.records.separation import Separation, folded
from tickets.records.spec import Limit, Spec, facts_of
from tickets.words import N_

TEST_STRIP = "test strip"
NOT_SAID = N_("nobody noted what")
WATER_INKS = frozenset({"water-base", "discharge"})
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


@dataclass(frozen=True, slots=True)
class Seen:
    """A screen as the press sees it: its life, the emulsion on it (None: not logged), the images it carries, the names
    of those who logged what is said of it, and the air that it dries in (None: not read)."""

    screen: int
    code: str
    life: Life
    emulsion: Bucket | None = None
    images: Mapping[int, Separation] = field(default_factory=dict)
    names: Mapping[int, str] = field(default_factory=dict)
    air: Air | None = None


FACES = {
    Level.OK: N_("RIGHT SCREEN"),
    Level.CAUTION: N_("RIGHT SCREEN, BUT"),
    Level.UNKNOWN: N_("UNKNOWN"),
    Level.STOP: N_("STOP"),
}
"""The word that a press verdict begins with, on the page and on the command line."""


@dataclass(frozen=True, slots=True)
class AtPress:
    """The press's answer to a screen: its verdict, the station it is for (None: none), what must be taped off."""

    verdict: Verdict
    station: int | None
    tape_off: tuple[str, ...] = ()

    @property
    def question(self) -> bool:
        """True when the log has it elsewhere: asked whether it is in hand, and `found` is written."""
        return "hanging-elsewhere" in self.verdict.keys or "away" in self.verdict.keys

    @property
    def spare(self) -> bool:
        """True when another screen hangs at its station: to hang this one, that one must come off (`swap`)."""
        return "station-taken" in self.verdict.keys


# Tension -------------------------------------------------------------------------------------------------


def _facts(life: Life, work: str = "", **more: Any) -> dict[str, Any]:
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
    return tension_rules.limits(spec.find, **_facts(life, work))


def readings(life: Life, warp: Sequence[float], weft: Sequence[float], work: str, spec: Spec) -> list[Reason]:
    """What readings just taken come to for a kind of work."""
    return tension_rules.judge(warp, weft, tension_limits(life, work, spec), work=work)


def holds_register(life: Life, work: str, spec: Spec) -> bool:
    """False for a frame that is not for this work, however tight its mesh: wood where several colours must fit."""
    return not tension_rules.judge_register(tension_limits(life, work, spec), work)


def usual_work(life: Life, spec: Spec) -> str:
    """What a screen is judged for while no job says: several colours, or one on a frame that is for no more."""
    return work_kinds.USUAL if holds_register(life, work_kinds.USUAL, spec) else work_kinds.ONE_COLOUR


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
    new = spec.find("new-mesh-tension", **_facts(life))
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


# Mesh, emulsion, age ---------------------------------------------------------------------------------------


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
    facts = _facts(life, asked.work)
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


def emulsion_fit(emulsion: Bucket | None, inks: frozenset[str], hardened: bool = False) -> list[Reason]:
    """Whether the emulsion stands the ink: water-base and discharge soften one that is not water-resistant.

    A hardened stencil stands more water than the same one without (judgement; the emulsion's own sheet wins): where the
    emulsion is not known to stand it, it answers the doubt; where it is known not to, the stop becomes a caution. What
    a shop that logs no coats says of its usual emulsion is taken, and said.
    """
    wet = sorted(inks & WATER_INKS)
    if not wet:
        return []
    if emulsion is not None and emulsion.usual and emulsion.water_resistant == "yes":
        return [Reason("emulsion-usual", Level.OK, {"ink": wet[0]})]
    if emulsion is None or emulsion.water_resistant not in {"yes", "no"}:
        if hardened:
            return [Reason("stencil-hardened", Level.OK, {"ink": wet[0]})]
        return [Reason("emulsion-not-known", Level.CAUTION, {"ink": wet[0]})]
    if emulsion.water_resistant == "no" and hardened:
        numbers = {"ink": wet[0], "product": emulsion.product or emulsion.kind}
        return [Reason("emulsion-only-hardened", Level.CAUTION, numbers)]
    if emulsion.water_resistant == "no":
        return [Reason("emulsion-not-fit", Level.STOP, {"ink": wet[0], "product": emulsion.product or emulsion.kind})]
    return []


def coated_age(life: Life, emulsion: Bucket | None, work: str, spec: Spec, now: datetime) -> list[Reason]:
    """Whether a coat has waited too long for its exposure (from the last coat to now). Nothing is said of a coat that
    was not logged: a shop may not log coating."""
    if life.stencil is None or not life.stencil.coated_at:
        return []
    limit = spec.find("coated-age", **_facts(life, work, emulsion=emulsion.sort if emulsion else None))
    if limit is None:
        return []
    days = (now - read_stamp(life.stencil.coated_at)).total_seconds() / 86400
    return stencil_rules.judge_coated_age(max(0.0, days), limit_d=limit.value, spec=(limit.row,))


@dataclass(frozen=True, slots=True)
class Drying:
    """Something that dries: after which step, since when, ready when; a coat is dry to the touch some time before.
    `air`: the reading that the times were reckoned from."""

    after: str
    since: datetime
    ready_at: datetime
    touch_at: datetime | None
    air: Air
    spec: tuple[int, ...]


def drying(life: Life, spec: Spec, air: Air | None = None) -> Drying | None:
    """What of a screen dries, with the times for the room as it was read: at the coat itself, else `air`; without a
    reading, the shop's plain times. None where nothing is wet, or somebody said that it is dry."""
    after, at = wet_since(life)
    ready, touch = spec.find("minutes-to-dry", after=after), spec.find("minutes-to-touch-dry", after=after)
    if not after or ready is None:
        return None
    read = air or Air()
    if after == COAT and life.stencil is not None:
        read = Air(life.stencil.room_c, life.stencil.room_rh_pct).filled(read)
    true_in = Air(*(limit.value if limit else None for limit in _dries_at(spec)))
    longest = spec.find("hours-to-dry-longest")
    since = read_stamp(at)

    def until(limit: Limit) -> datetime:
        plain, most = quantity(limit.value, "min"), quantity(longest.value if longest else 1e6, "h")
        took = drying_time(plain, true_in, read, most) if read else plain
        return since + timedelta(minutes=magnitude(took, "min"))

    rows = (ready, touch, *((*_dries_at(spec), longest) if read else ()))
    return Drying(
        after, since, until(ready), until(touch) if touch else None, read, tuple(row.row for row in rows if row)
    )


def _dries_at(spec: Spec) -> tuple[Limit | None, Limit | None]:
    return spec.find("dries-at-temperature"), spec.find("dries-at-humidity")


def dry(
    life: Life, spec: Spec, now: datetime, air: Air | None = None, level: Level = Level.CAUTION
) -> list[Reason]:
    """What is still wet of a screen: its mesh after degreasing, its coat, its washed-out stencil. See `drying`."""
    wet = drying(life, spec, air)
    if wet is None or wet.ready_at <= now:
        return []

    def minutes(until: datetime) -> float:
        return (until - wet.since).total_seconds() / 60

    return judge_dry(
        wet.after,
        minutes(now),
        ready_min=minutes(wet.ready_at),
        touch_min=minutes(wet.touch_at) if wet.touch_at else None,
        air=wet.air,
        level=level,
        spec=wet.spec,
    )


def bucket_in_time(bucket: Bucket | None, now: datetime) -> list[Reason]:
    """Whether an emulsion bucket is within its time at `now`, the coating; one whose test strip failed stops."""
    if bucket is None:
        return [Reason("bucket-not-known", Level.CAUTION)]
    if bucket.test == "fault":
        return [Reason("bucket-test-failed", Level.STOP, {"bucket": bucket.code})]
    if _thrown(bucket, now):
        return [Reason("bucket-discarded", Level.CAUTION, {"bucket": bucket.code})]
    if bucket.past(now):
        return [
            Reason("bucket-past-time", Level.CAUTION, {"days_d": hours_past(bucket, now) / 24, "bucket": bucket.code})
        ]
    return []


def _thrown(bucket: Bucket, now: datetime) -> bool:
    return bool(bucket.discarded_at) and str(bucket.discarded_at) <= stamp(now)


def ink_in_time(bucket: Bucket | None, now: datetime, running: bool = False) -> list[Reason]:
    """Whether a mixed ink is within its time: past it a stop at set-up, a caution once the run goes.

    Nothing is said of an ink without a clock (plastisol from its tub); one that has a clock but no date is unknown.
    """
    if bucket is None:
        return []
    if _thrown(bucket, now):
        return [Reason("bucket-discarded", Level.CAUTION if running else Level.STOP, {"bucket": bucket.code})]
    if not bucket.good_until and bucket.kind not in CLOCKED:
        return []
    past = hours_past(bucket, now) if bucket.good_until else None
    return ink.judge_pot_life(past, at_set_up=not running, ink=bucket.sort, bucket=shown(bucket.code))


def ink_running(bucket: Bucket, now: datetime, begun: bool) -> list[Reason]:
    """What speaks against a bucket that a run prints from: as at set-up until it has begun, a caution from then on."""
    return [reason for reason in ink_in_time(bucket, now, begun) if reason.level is not Level.OK]


def room(room_c: float | None, room_rh_pct: float | None, spec: Spec) -> list[Reason]:
    """Whether the drying room suits a coat."""
    reasons = []
    warm, damp = spec.find("drying-temperature"), spec.find("drying-humidity")
    hot = spec.find("drying-temperature-highest")
    if hot and room_c is not None and room_c > hot.value:
        reasons.append(Reason("room-hot", Level.CAUTION, {"room_c": room_c, "limit_c": hot.value}, (hot.row,)))
    elif warm and room_c is not None and room_c >= warm.value:  # "below" it, says the source; and so of the humidity
        reasons.append(Reason("room-warm", Level.CAUTION, {"room_c": room_c, "limit_c": warm.value}, (warm.row,)))
    if damp and room_rh_pct is not None and room_rh_pct >= damp.value:
        numbers = {"room_pct": room_rh_pct, "limit_pct": damp.value}
        reasons.append(Reason("room-damp", Level.CAUTION, numbers, (damp.row,)))
    return reasons


# At each step of the screen room ---------------------------------------------------------------------------


def coat(
    life: Life,
    bucket: Bucket | None,
    values: Mapping[str, Any],
    spec: Spec,
    now: datetime,
    lately: Room | None = None,
    air: Air | None = None,
) -> Verdict:
    """A coat: the bucket's age, the room, mesh still wet or torn, and one that was never measured.

    What was not read of the room for this coat is judged by the shift's last reading (`lately`), which stays that of
    whoever took it; `air`: what the mesh dried in, where it was not read for this coat.
    """
    own = {name: values.get(name) for name in ("room_c", "room_rh_pct")}
    if not any(value is not None for value in own.values()) and lately is not None:
        own = {"room_c": lately.room_c, "room_rh_pct": lately.room_rh_pct}
    else:
        lately = None
    reasons = bucket_in_time(bucket, now) + _mixed_after(bucket, now) + room(own["room_c"], own["room_rh_pct"], spec)
    read = Air(values.get("room_c"), values.get("room_rh_pct")).filled(air or Air())
    reasons += dry(life, spec, now, read)
    coated_um = values.get("coated_thickness_um")
    reasons += [one for one in build(life, coated_um, "", spec) if one.level is not Level.OK]
    if coated_um is not None and not (life.mesh and life.mesh.fabric_thickness_um):
        reasons.append(Reason("build-fabric-unknown", Level.UNKNOWN, {"coated_um": coated_um}))
    if life.torn:
        reasons.append(Reason("torn", Level.STOP))
    if life.tension is None and life.tension_logged:
        reasons.append(Reason("tension-missing", Level.CAUTION))
    return judge(reasons or _coated_well(bucket, own, lately, now))


def _mixed_after(bucket: Bucket | None, now: datetime) -> list[Reason]:
    """A coat that is dated back to before its bucket was mixed."""
    if bucket is None or not bucket.mixed_at or bucket.mixed_at <= stamp(now):
        return []
    hours = (read_stamp(bucket.mixed_at) - now).total_seconds() / 3600
    return [Reason("bucket-mixed-after", Level.CAUTION, {"hours_h": hours, "bucket": bucket.code})]


def _coated_well(
    bucket: Bucket | None, own: Mapping[str, Any], lately: Room | None, now: datetime
) -> list[Reason]:
    """What was judged and found in order, and what nobody measured: silence must not read as good."""
    measured = [name for name, value in own.items() if value is not None]
    room = {0: "room-not-measured", 1: "room-measured-in-part", 2: "room-in-spec"}[len(measured)]
    numbers = {}
    if lately is not None:
        room = f"{room}-lately"
        numbers = {"ago_min": max(0.0, (now - read_stamp(lately.at)).total_seconds() / 60), "who": lately.who}
    dated = bucket is not None and bool(bucket.good_until)
    return [Reason("coat-in-spec" if dated else "coat-undated", Level.OK), Reason(room, Level.OK, numbers)]


def image(
    life: Life,
    asked: Sequence[Asked],
    emulsion: Bucket | None,
    spec: Spec,
    now: datetime,
    air: Air | None = None,
) -> Verdict:
    """An image put on this screen for the stations that ask for it: mesh, tension, emulsion, drying, coat's age."""
    reasons: list[Reason] = []
    if life.torn:
        reasons.append(Reason("torn", Level.STOP))
    reasons += dry(life, spec, now, air)
    if not asked:
        reasons.append(Reason("no-job-asks", Level.CAUTION))
        reasons += coated_age(life, emulsion, "", spec, now)
    for one in asked:
        reasons += same_mesh(life, one, spec)
        reasons += tension(life, one.work, spec, now)
        reasons += emulsion_fit(emulsion, one.inks)
        reasons += coated_age(life, emulsion, one.work, spec, now)
    return judge(_once(reasons))


def fit(life: Life, asked: Asked, emulsion: Bucket | None, spec: Spec, now: datetime) -> Verdict:
    """Whether a free frame would serve a separation: as `image`, whatever the frame's stage."""
    reasons = (
        []
        if life.standing not in {Standing.RETIRED, Standing.AWAY, Standing.TO_RESTRETCH}
        else [Reason("not-free", Level.STOP, {"standing_word": str(life.standing)})]
    )
    if life.torn:
        reasons.append(Reason("torn", Level.STOP))
    reasons += same_mesh(life, asked, spec) + tension(life, asked.work, spec, now)
    if life.standing is Standing.COATED:
        reasons += emulsion_fit(emulsion, asked.inks) + coated_age(life, emulsion, asked.work, spec, now)
    return judge(_once(reasons))


def expose(
    life: Life,
    values: Mapping[str, Any],
    wanted_s: float | None,
    works: Sequence[str],
    emulsion: Bucket | None,
    spec: Spec,
    now: datetime,
    *,
    wanted_units: float | None = None,
    air: Air | None = None,
) -> Verdict:
    """An exposure: its time (or its integrator's units) against the shop's wanted one, drying, the age of the coat, the
    bucket. A test strip is there to find the time, so its time is not judged."""
    tolerance = spec.find("exposure-tolerance")
    share = tolerance.value / 100 if tolerance else 0.0
    rows = (tolerance.row,) if tolerance else ()
    reasons: list[Reason] = []
    time, units = values.get("exposure_s"), values.get("exposure_units")
    if values.get("purpose") == TEST_STRIP:
        reasons.append(Reason("test-strip-exposed", Level.OK))
    elif units is not None and (time is None or (wanted_s is None and wanted_units is not None)):
        reasons += exposure.judge_time(units, wanted_units, tolerance=share, unit="units", spec=rows)
    else:
        reasons += exposure.judge_time(time, wanted_s, tolerance=share, spec=rows)
    reasons += dry(life, spec, now, air)
    for work in works or ("",):
        reasons += coated_age(life, emulsion, work, spec, now)
    if emulsion is not None:  # it was good or not when the screen was coated; emptied since, it is none the worse
        coated_at = life.stencil.coated_at if life.stencil else ""
        reasons += bucket_in_time(emulsion, read_stamp(coated_at) if coated_at else now)
    return judge(_once(reasons))


def sheet(values: Mapping[str, Any], count_per_cm: float, spec: Spec) -> list[Reason]:
    """Whether what was typed off the mesh maker's sheet can be of this mesh; nothing without a thread to hold it
    against, and nothing of what no limit says."""
    thread_um = values.get("thread_um")
    if not thread_um or not 0 < count_per_cm * thread_um < UM_IN_A_CM:
        return []
    return mesh_rules.judge_sheet(
        count_per_cm,
        thread_um,
        opening=values.get("opening_um"),
        open_area_pct=values.get("open_area_pct"),
        thickness_um=values.get("fabric_thickness_um"),
        volume_cm3_m2=values.get("ink_volume_cm3_m2"),
        limits={key: limit for key in mesh_rules.SHEET_LIMITS if (limit := spec.find(key))},
    )


UM_IN_A_CM = 10_000


def lamp_distance(distance_mm: float | None, diagonal_mm: float | None, spec: Spec) -> list[Reason]:
    """Whether the lamp stood too near for a stencil of at least this diagonal. Nothing is said where it was far enough,
    nor where either is not known: the calculator tells that to who asks."""
    limit = spec.find("lamp-distance-diagonals")
    if not distance_mm or not diagonal_mm or limit is None:
        return []
    found = exposure.judge_distance(
        distance_mm / 1000, diagonal_mm / 1000, diagonals=limit.value, spec=(limit.row,)
    )
    return [one for one in found if one.level is Level.CAUTION]


def washout(values: Mapping[str, Any], exposure_s: float | None, spec: Spec, **facts: Any) -> Verdict:
    """A washout: what was seen, and the step held against the step wanted. No result is no good one."""
    reasons: list[Reason] = []
    match values.get("result"):
        case "good":
            reasons.append(Reason("washout-good", Level.OK))
        case "fault":
            reasons.append(Reason("washout-fault", Level.STOP, {"fault_word": values.get("fault") or NOT_SAID}))
        case _:
            reasons.append(Reason("washout-not-told", Level.UNKNOWN))
    wanted, above = spec.find("wanted-step", **facts_of(**facts)), spec.find("step-above")
    held = values.get("step_held")
    if held is not None and held != 0 and not 1 <= held <= exposure.STEPS:
        reasons.append(Reason("step-none", Level.CAUTION, {"held": held}))
    elif held is not None and wanted:
        reasons += exposure.judge_step(
            held,
            wanted.value,
            exposure_s,
            above=above.value if above else math.inf,
            spec=tuple(limit.row for limit in (wanted, above) if limit),
        )
    return judge(reasons)


def check(values: Mapping[str, Any], life: Life, person: int) -> Verdict:
    """The look on the light table. A stencil named by eye needs another person's eyes, or the PIN of who works alone
    (`confirmed`)."""
    if values.get("result") == "fault":
        return judge([Reason("check-fault", Level.STOP, {"fault_word": values.get("fault") or NOT_SAID})])
    if values.get("result") != "good":
        return judge([Reason("check-not-told", Level.UNKNOWN)])
    if life.stencil and life.stencil.by_eye == person and values.get("confirmed") != ALONE:
        return judge([Reason("named-by-eye", Level.CAUTION)])
    return judge([Reason("check-good", Level.OK)])


def _once(reasons: Sequence[Reason]) -> list[Reason]:
    """Each reason once: two stations often say the same."""
    seen: dict[tuple[str, str], Reason] = {}
    for reason in reasons:
        seen.setdefault((reason.key, repr(sorted(reason.numbers.items(), key=repr))), reason)
    kept = list(seen.values())
    if any(reason.key in WET for reason in kept):  # "coated 9 min ago" is no comfort then
        kept = [reason for reason in kept if reason.key != "coated-fresh"]
    if len(kept) > 1:
        keys = {reason.key for reason in kept if reason.level is not Level.OK}
        kept = [reason for reason in kept if reason.level is not Level.OK or reason.key not in keys]
    return kept


# The stencil's own history ---------------------------------------------------------------------------------


def build(life: Life, coated_um: float | None, work: str, spec: Spec) -> list[Reason]:
    """Whether the stencil stands as high over the mesh as the work wants, where both were measured."""
    fabric_um = life.mesh.fabric_thickness_um if life.mesh else None
    if coated_um is None or not fabric_um:
        return []
    if coated_um < fabric_um:
        return [Reason("build-not-possible", Level.CAUTION, {"coated_um": coated_um, "fabric_um": fabric_um})]
    facts = _facts(life, work)
    least, most = spec.find("build-least", **facts), spec.find("build-most", **facts)
    if least is None or most is None:
        return []
    ratio = 100 * (coated_um / fabric_um - 1)
    return stencil_rules.judge_build(ratio, least=least.value, most=most.value, spec=(least.row, most.row))


def step_held(stencil: Stencil, emulsion: Bucket | None, inks: frozenset[str], spec: Spec) -> list[Reason]:
    """Whether the stencil got light enough for the ink, by the step it held; nothing where none was read.

    One step is 1.41 times the light. Water softens what is not fully exposed, so that water inks stop a stencil that is
    more than a step or so weak (a row); others print it with a caution.
    """
    held = stencil.step_held
    wanted = spec.find("wanted-step", **facts_of(emulsion=emulsion.sort if emulsion else None))
    if held is None or wanted is None or not 0 <= held <= exposure.STEPS or stencil.purpose == TEST_STRIP:
        return []
    numbers: dict[str, Any] = {"held": held, "wanted": wanted.value}
    if held >= wanted.value:
        return [Reason("step-held", Level.OK, numbers, (wanted.row,))]
    for kind in sorted(inks & WATER_INKS):
        most = spec.find("step-weak-most", ink=kind)
        if most is not None and wanted.value - held > most.value + 1e-9:
            return [Reason("stencil-weak-for-ink", Level.STOP, {**numbers, "ink": kind}, (wanted.row, most.row))]
    return [Reason("stencil-weak", Level.CAUTION, numbers, (wanted.row,))]


def history(seen: Seen, wanted: Asked, spec: Spec, now: datetime) -> list[Reason]:
    """What the log of this stencil says against printing with it: the light it got, how long its coat had waited, the
    emulsion's age when it was coated, drying, build."""
    life, stencil = seen.life, seen.life.stencil
    if stencil is None:
        return []
    reasons = dry(life, spec, now, seen.air, Level.STOP)  # whatever was seen on the light table since
    light = step_held(stencil, seen.emulsion, wanted.inks, spec)
    reasons += light
    if stencil.exposed_at:
        reasons += coated_age(life, seen.emulsion, wanted.work, spec, read_stamp(stencil.exposed_at))
    proven = any(reason.level is Level.OK for reason in light)  # its own step wedge is the test strip
    if seen.emulsion is not None and stencil.coated_at and not proven:
        aged = bucket_in_time(seen.emulsion, read_stamp(stencil.coated_at))
        reasons += [reason for reason in aged if reason.key in {"bucket-past-time", "bucket-test-failed"}]
    reasons += build(life, stencil.coated_thickness_um, wanted.work, spec)
    return [reason for reason in reasons if reason.level is not Level.OK]


SAID_AT_PRESS = {
    "step-low": "stencil-weak",
    "step-nothing": "stencil-weak",
    "step-low-units": "stencil-weak",
    "step-low-untimed": "stencil-weak",
    "coated-too-long": "coated-too-long",
    "bucket-past-time": "bucket-past-time",
    "build-thin": "build-thin",
    "build-thick": "build-thick",
    "build-not-possible": "build-not-possible",
    "emulsion-not-known": "emulsion-not-known",
    "named-by-eye": "named-by-eye",
    "no-job-asks": "right-image",
}
"""Cautions of the screen room that the press judges itself, and as what: they are not said a second time."""
_SAID_AT_PRESS = ("mesh-", "tension-")
"""What the press says of every mesh and tension, whatever was shown before."""


def _said_as(key: str) -> str:
    """As what the press judges a caution of the screen room itself; empty: it does not."""
    return SAID_AT_PRESS.get(key, key if key.startswith(_SAID_AT_PRESS) else "")


NO_MORE = {
    "still-drying": "exposed-wet",
    "touch-dry": "exposed-wet",
    "stencil-wet": "checked-wet",
    "room-damp": "coated-damp",
    "room-warm": "coated-warm",
    "room-hot": "coated-warm",
}
"""As what a caution of the screen room is said later, whose sentence was of that moment: it dried since, or the room is
another one by now; what was done then stays done."""


def with_shown(reasons: Sequence[Reason], seen: Seen, now: datetime) -> list[Reason]:
    """The reasons, and the cautions of the screen room that nothing has answered since, each with who was shown it and
    when; what the press judges itself is said once, with that."""
    stencil = seen.life.stencil
    shown = stencil.shown if stencil is not None else ()
    before: dict[str, Shown] = {_said_as(one.key) or one.key: one for one in shown}
    live = {reason.key for reason in reasons}
    said = []
    for reason in reasons:
        told = before.get("stencil-weak" if reason.key == "stencil-weak-for-ink" else reason.key)
        said.append(reason if told is None or reason.level is Level.OK else _as_shown(reason, told, seen, now))
    said += [
        _as_shown(Reason(NO_MORE.get(key, key), Level.CAUTION, one.numbers, one.spec), one, seen, now)
        for key, one in before.items()
        if not _said_as(one.key) and key not in live
    ]
    return said


def _as_shown(reason: Reason, told: Shown, seen: Seen, now: datetime) -> Reason:
    days = max(0.0, (now - read_stamp(told.at)).total_seconds() / 86400)
    numbers = {"shown_to": seen.names.get(told.person, "–"), "shown_d": days, "shown_at": told.at}
    return replace(reason, numbers={**reason.numbers, **numbers})


def _noted(seen: Seen, at: str, person: int | None, now: datetime) -> dict[str, Any]:
    """Who noted something, and how long ago; nothing where the log does not know."""
    if not at or person is None:
        return {}
    days = max(0.0, (now - read_stamp(at)).total_seconds() / 86400)
    return {"noted_by": seen.names.get(person, "–"), "noted_d": days}


# At the press ----------------------------------------------------------------------------------------------


def at_press(
    seen: Seen,
    asked: Sequence[Asked],
    hung: Mapping[int, Seen],
    run: int,
    spec: Spec,
    now: datetime,
    *,
    heads: Mapping[int, int | None] | None = None,
    head: int | None = None,
    station: int | None = None,
    in_hand: bool = False,
    checks_logged: bool = True,
    press: Press | None = None,
    flashes: Mapping[int, int] | None = None,
) -> AtPress:
    """Whether `seen` is a right screen for a run that asks for `asked` and has `hung` (by station) already.

    `heads`: the heads of the hung ones by station; `head`: the one wanted for this screen; `station`: the one that it
    is meant for, where its image prints at several. `in_hand`: somebody said that the screen is here although the log
    has it elsewhere. `flashes`: the print orders that flash, each with its revolution. A stop stays a stop whatever
    else is fine.
    """
    life = seen.life
    reasons: list[Reason] = []
    if life.standing is Standing.RETIRED or (life.conflict and life.under is Standing.RETIRED):
        return AtPress(judge([Reason("retired", Level.STOP, {"cause_word": life.fault})]), None)
    wanted, why, tape_off = _station_for(seen, asked, hung, station, spec)
    reasons += why
    reasons += _frame(seen, now)
    reasons += _stencil(seen, now)
    reasons += _stage(life, run, in_hand, checks_logged)
    if wanted is not None:
        reasons += same_mesh(life, wanted, spec)
        reasons += tension(life, wanted.work, spec, now)
        reasons += too_far(life, wanted, spec)
        reasons += emulsion_fit(seen.emulsion, wanted.inks, life.stencil is not None and life.stencil.hardened)
        reasons += history(seen, wanted, spec, now)
        others = {other.code: other.life for other in hung.values() if other.screen != seen.screen}
        reasons += neighbours(life, others, spec)
        rounds = {one.number: one.revolution for one in asked} | dict(flashes or {})
        reasons += in_order(wanted.number, head, heads or {}, rounds, flashes or {}, press or Press())
        reasons = with_shown(reasons, seen, now)
    if tape_off:
        reasons.append(Reason("tape-off", Level.CAUTION, {"images": list(tape_off)}))
    if wanted is not None:
        reasons.append(Reason("right-image", Level.OK, {"station": wanted.number, "image": wanted.image.name}))
    return AtPress(judge(reasons), wanted.number if wanted else None, tape_off)


def _frame(seen: Seen, now: datetime) -> list[Reason]:
    """What was noted on the frame and not cleared since. A slack mesh is cleared by a reading, which says more; glue
    and frame by a reading and a good check, the two that are asked for."""
    life = seen.life
    if life.torn:
        return [Reason("torn", Level.STOP)]
    noted = _noted(seen, life.fault_at, life.fault_by, now)
    if life.fault == "ghost":
        return [Reason("ghost-noted", Level.CAUTION, noted)]
    measured = life.tension is not None and life.tension.at > life.fault_at
    stencil = life.stencil
    checked = stencil is not None and stencil.check == "good" and stencil.checked_at > life.fault_at
    if (life.fault == "slack" and not measured) or (
        life.fault in ("glue gone", "frame bent") and not (measured and checked)
    ):
        return [Reason("fault-noted", Level.CAUTION, {"fault_word": life.fault, **noted})]
    return []


def _stencil(seen: Seen, now: datetime) -> list[Reason]:
    """What speaks against the stencil whatever it is to print."""
    stencil = seen.life.stencil
    reasons: list[Reason] = []
    if stencil is None:
        return reasons
    if stencil.failed:
        reasons.append(Reason("failed", Level.STOP, {"fault_word": stencil.fault or NOT_SAID}))
    if stencil.purpose == TEST_STRIP:
        reasons.append(Reason("test-strip-stencil", Level.STOP))
    if stencil.by_eye is not None:
        reasons.append(Reason("named-by-eye", Level.CAUTION))
    if stencil.condition in {"worn", "pinholes"}:
        noted = _noted(seen, stencil.condition_at, stencil.condition_by, now)
        reasons.append(Reason("taken-off-worn", Level.CAUTION, {"condition_word": stencil.condition, **noted}))
    return reasons


def _station_for(
    seen: Seen, asked: Sequence[Asked], hung: Mapping[int, Seen], meant: int | None, spec: Spec
) -> tuple[Asked | None, list[Reason], tuple[str, ...]]:
    """The station whose image the screen carries, what speaks against it, and the images that must be taped off.

    An image may print at several stations: the one meant, else where the screen hangs, else one of its mesh, else free.
    """
    stencil = seen.life.stencil
    carried = stencil.separations if stencil else ()
    fitting = [one for one in asked if one.separation in carried]
    if fitting:

        def rank(one: Asked) -> tuple[bool, bool, int, bool]:
            other = hung.get(one.number)
            own = other is not None and other.screen == seen.screen
            mesh = judge(same_mesh(seen.life, one, spec)).level.rank
            return one.number != meant, not own, mesh, other is not None

        station = min(fitting, key=rank)
        reasons = []
        if station.number in hung and hung[station.number].screen != seen.screen:  # a right screen, one too many
            other = shown(hung[station.number].code)
            reasons.append(Reason("station-taken", Level.CAUTION, {"station": station.number, "other": other}))
        extra = [number for number in carried if number != station.separation]
        return station, reasons, tuple(_told_apart(seen, number, station.image) for number in extra)
    if not carried:
        if stencil is None:
            return None, [Reason("no-image", Level.STOP)], ()
        return None, [Reason("image-unknown", Level.STOP)], ()
    images = [seen.images[number] for number in carried if number in seen.images]
    for image_ in images:
        for one in asked:
            near = _nearly(image_, one.image)
            if near:
                return None, [near], ()
    names = [_whole_name(image_) for image_ in images] or [f"#{number}" for number in carried]
    return None, [Reason("not-called-for", Level.STOP, {"carries": names})], ()


def _told_apart(seen: Seen, number: int, right: Separation) -> str:
    """The name of an image to tape off: in full where its short name could be taken for the right one."""
    image_ = seen.images.get(number)
    if image_ is None:
        return f"#{number}"
    short = [other.key[-1] for other in seen.images.values()]
    same_art = image_.key[:3] == right.key[:3]
    return image_.name if same_art and short.count(image_.key[-1]) == 1 else _whole_name(image_)


def _whole_name(image_: Separation) -> str:
    return f"{image_.name} ({image_.customer}, {image_.art}, {image_.revision}, {image_.width_mm} mm)"


def _nearly(has: Separation, asked: Separation) -> Reason | None:
    customer, art, revision, width, name = has.key
    w_customer, w_art, w_revision, w_width, w_name = asked.key
    if (customer, art, name) != (w_customer, w_art, w_name):
        return None
    if revision != w_revision:
        return Reason("other-revision", Level.STOP, {"has": has.revision, "asked": asked.revision, "image": has.name})
    if width != w_width:
        return Reason("other-size", Level.STOP, {"has_mm": has.width_mm, "asked_mm": asked.width_mm, "image": has.name})
    return None


def _stage(life: Life, run: int, in_hand: bool, checks_logged: bool) -> list[Reason]:
    standing, reasons = life.standing, []
    if standing is Standing.ON_PRESS:
        if life.run == run:
            reasons.append(Reason("already-hung", Level.OK, {"station": life.station or 0}))
        elif not in_hand:
            reasons.append(Reason("hanging-elsewhere", Level.STOP, {"run": life.run, "since_at": life.since}))
        standing = life.back or Standing.READY  # as it was when it was hung
    if standing is Standing.AWAY:
        if not in_hand:
            reasons.append(Reason("away", Level.STOP, {"since_at": life.since}))
        standing = life.under
    if life.conflict:
        return [*reasons, Reason("log-unclear", Level.STOP)]
    if standing not in {Standing.READY, Standing.KEPT, Standing.TO_CHECK}:
        return [*reasons, Reason("not-ready", Level.STOP, {"standing_word": str(standing)})]
    if checks_logged and not (life.stencil and life.stencil.failed):
        if life.missed("check") or not _checked(life) or standing is Standing.TO_CHECK:
            reasons.append(Reason("check-missing", Level.CAUTION))
    return reasons


def _checked(life: Life) -> bool:
    return life.stencil is not None and life.stencil.check == "good"


# Whether a run may go on ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class OnHead:
    """A print order of a run as it was planned, with the screen that hangs there (`code` empty: none does), on which
    head and since when."""

    asked: Asked
    code: str = ""
    life: Life | None = None
    head: int | None = None
    since: str = ""


def may_run(reasons: Sequence[Reason], passed: Sequence[Mapping[str, Any]] = ()) -> Verdict:
    """Whether a run may start, go on or be counted, by what speaks against it; nothing: ok.

    `passed`: what somebody went past already on this run, as `run.Judged` keeps it (reasons, passed), as far as that
    holds still. The same cause is a caution then, said with who and why, and stops nobody again.
    """
    gone = {cause_of(one): by["passed"] for by in passed for one in by["reasons"] if by["passed"]}
    found: list[Reason] = []
    for reason in reasons:
        by = gone.get(cause_of(reason.to_dict())) if reason.level in {Level.STOP, Level.UNKNOWN} else None
        if by is None:
            found.append(reason)
            continue
        found.append(replace(reason, level=Level.CAUTION))
        told = Reason("gone-past", Level.CAUTION, {"who": by.get("who", ""), "why": by.get("why", "")})
        found += [told] if told not in found else []
    return judge(found) if found else Verdict(Level.OK)


def head_in_use(head: int | None, busy: Mapping[int, int], answered: bool) -> list[Reason]:
    """Whether another open run of the press has a screen on this head (`busy`: head -> run); `answered`: somebody said
    that the head is free all the same."""
    if head is None or head not in busy:
        return []
    numbers = {"head": head, "run": busy[head]}
    return [Reason("head-taken", Level.CAUTION, numbers) if answered else Reason("head-in-use", Level.STOP, numbers)]


def heads_shared(heads: Sequence[int | None], busy: Mapping[int, int]) -> list[Reason]:
    """The heads of a run that another open run of the press has a screen on too."""
    return [
        Reason("head-shared", Level.CAUTION, {"head": head, "run": busy[head]})
        for head in heads
        if head is not None and head in busy
    ]


def over_ordered(good: int, more: int, ordered: int, answered: bool, spec: Spec) -> list[Reason]:
    """Whether `more` good pieces on top of `good` are more than were ordered, by more than the shop's allowance;
    `answered`: what was counted so far was said to be right."""
    limit = spec.find("pieces-over")
    most = max(ordered, good if answered else 0) * (1 + (limit.value if limit else 0.0) / 100)
    if not more or good + more <= most:
        return []
    numbers = {"good": good + more, "ordered": ordered}
    return [Reason("pieces-over", Level.CAUTION, numbers, (limit.row,) if limit else ())]


def first_print(approved: bool, again: Sequence[tuple[str, Mapping[str, Any]]]) -> list[Reason]:
    """Whether a first print was approved, and what came since that wants another one (`again`: each with why, one of
    `run.AGAIN`, and its numbers)."""
    if not approved:
        return [Reason("first-print-open", Level.CAUTION)]
    return [Reason(f"again-{why}", Level.STOP, numbers) for why, numbers in again]


def old_art(on: Sequence[OnHead], asked_now: Sequence[Asked], spec: Spec, version: int = 0) -> list[Reason]:
    """What a run prints and its job, as it was changed since, does not ask for so: another revision, another print
    size, another mesh, an image that it asks for no more, one that it asks for beside.

    `on`: what the run prints; `asked_now`: what the same placement asks for now, in the job's `version` of now (an
    answer to that holds until the next one). What has the same cause is one reason, which names the images and their
    screens.
    """
    left = {one.separation: one for one in asked_now}
    found: dict[tuple[str, str, str], list[OnHead]] = {}
    near = {_image_key(one.image): one for one in asked_now}
    meant = set()
    for one in on:
        now = left.get(one.asked.separation)
        other = near.get(_image_key(one.asked.image))
        if now is not None:
            meant.add(now.number)
            if _other_mesh(one, now, spec):
                found.setdefault(("mesh-changed", one.asked.mesh, now.mesh), []).append(one)
        elif other is None:
            found.setdefault(("image-dropped", "", ""), []).append(one)
        else:
            meant.add(other.number)
            was, wanted = one.asked.image, other.image
            if was.key[2] != wanted.key[2]:
                found.setdefault(("old-revision", was.revision, wanted.revision), []).append(one)
            else:
                found.setdefault(("old-size", str(was.width_mm), str(wanted.width_mm)), []).append(one)
    reasons = [_changed(key, has, now, some, version) for (key, has, now), some in found.items()]
    added = [one for one in asked_now if one.number not in meant]
    if added:
        numbers: dict[str, Any] = {"images": [one.image.name for one in added]}
        reasons.append(Reason("image-added", Level.STOP, numbers | ({VERSION: version} if version else {})))
    return reasons


def unnamed(on: Sequence[OnHead]) -> list[Reason]:
    """The screens on the heads of a run whose image the log does not know: until somebody says what is on it, or logs a
    good check of it since it hangs there, it may be any."""
    found = []
    for one in on:
        stencil = one.life.stencil if one.life else None
        if one.life is None or (stencil and (stencil.separations or _looked_at(stencil, one.since))):
            continue
        numbers = {"head": one.head or "–", "station": one.asked.number, "image": one.asked.image.name}
        found.append(Reason("head-unnamed", Level.CAUTION, {**numbers, "screen": shown(one.code)}))
    return found


def _looked_at(stencil: Stencil, since: str) -> bool:
    return stencil.check == "good" and (stencil.checked_at or "") >= since > ""


def _image_key(image_: Separation) -> tuple[Any, ...]:
    customer, art, _revision, _width, name = image_.key
    return customer, art, name


def _other_mesh(one: OnHead, now: Asked, spec: Spec) -> bool:
    """Whether the job asks for another mesh than the run was planned with, and the screen there has not that one."""
    was = one.asked.count_per_cm, one.asked.thread_um
    if all(reason.level is not Level.STOP for reason in compared((now.count_per_cm, now.thread_um), was, spec)):
        return False
    return one.life is None or any(reason.level is Level.STOP for reason in same_mesh(one.life, now, spec))


def _changed(key: str, has: str, now: str, some: Sequence[OnHead], version: int) -> Reason:
    """A reason for the print orders of a run that have one cause: each with its image and its screen."""
    told = [f"{one.asked.image.name} ({shown(one.code)})" if one.code else one.asked.image.name for one in some]
    numbers: dict[str, Any] = {"screens": told} | ({VERSION: version} if version else {})
    if key == "old-size":
        numbers |= {"has_mm": int(has), "asked_mm": int(now)}
    elif has or now:
        numbers |= {"has": has, "asked": now}
    return Reason(key, Level.STOP, numbers)


phrases(
    {
        "old-revision": (
            N_("Old artwork: revision {has} here, the job asks for revision {asked} now: {screens}"),
            N_("Do not print it. Finish this run and open a new one with screens of revision {asked}."),
        ),
        "old-size": (
            N_("Another print size: {has_mm} wide here, the job asks for {asked_mm} now: {screens}"),
            N_("Do not print it. Finish this run and open a new one with screens of that size."),
        ),
        "mesh-changed": (
            N_("Another mesh: {has} here, the job asks for {asked} now: {screens}"),
            N_("Do not print it. Finish this run and open a new one with screens of that mesh."),
        ),
        "image-dropped": (
            N_("The job no longer asks for this: {screens}"),
            N_("Do not print it. Finish this run and open a new one for what the job asks now."),
        ),
        "image-added": (
            N_("The job now asks for this too, and this run does not print it: {images}"),
            N_("Finish this run and open a new one for what the job asks now."),
        ),
        "first-print-open": (N_("No first print is approved yet."), N_("Have it approved before the run goes on.")),
        "again-swap": (
            N_("Print order {station} ({image}) has screen {now} in place of {was}: its first print is not approved."),
            N_("Have a first print approved again."),
        ),
        "again-screen": (
            N_("Since the pause print order {station} ({image}) has screen {now}, not {was}: no approved first print."),
            N_("Have a first print approved again."),
        ),
        "again-pause": (
            N_("Print order {station} ({image}) was off and hangs again: its first print is not approved."),
            N_("Have a first print approved again."),
        ),
        "again-ink": (
            N_("Print order {station} ({image}): {setting_word} {now}, not {was}: its first print is not approved."),
            N_("Have a first print approved again."),
        ),
        "again-garment": (
            N_("Another garment, {now}: its first print is not approved."),
            N_("Have a first print approved on it."),
        ),
        "again-back": (
            N_("Back to {now} after {was}: by the shop’s rule its first print is approved again."),
            N_("Have a first print approved on it."),
        ),
        "head-in-use": (
            N_("Head {head} has a screen of run {run}, by the log."),
            N_("Choose another head; or look: is this one free? Then say so."),
        ),
        "head-taken": (N_("Head {head} was said to be free, though run {run} has a screen there by the log."), ""),
        "head-shared": (
            N_("By the log run {run} has a screen on head {head} too."),
            N_("Look which one hangs there, and note in the other run that its screen is off."),
        ),
        "head-unnamed": (
            N_("No image is known on head {head}: screen {screen} hangs there for print order {station} ({image})."),
            N_("Look at it: log a good check, or say what is on it."),
        ),
        "pieces-over": (N_("That makes {good} good pieces of {ordered} ordered."), N_("Look at the count again.")),
        "gone-past": (N_("{who} went past it: {why}"), ""),
        "retired": (N_("This frame is retired ({cause_word})."), N_("Take another screen.")),
        "torn": (N_("The mesh is torn."), N_("Take another screen; this one goes to restretching.")),
        "not-called-for": (
            N_("Wrong screen: nothing on it is called for here. It carries: {carries}"),
            N_("Look for the screen of this job; this one goes back to its place."),
        ),
        "no-image": (
            N_("By the log there is no stencil on it."),
            N_("Look for the screen of this job; if an image is on it, note which, and have it checked."),
        ),
        "image-unknown": (
            N_("Nobody noted which image is on this screen."),
            N_("Compare it with the film or art, note what is on it, and have a second person check it."),
        ),
        "other-revision": (
            N_("Wrong artwork revision: {image} is revision {has}, revision {asked} is asked for."),
            N_("Do not print it. A screen of the right revision is needed."),
        ),
        "other-size": (
            N_("Wrong print size: {image} is {has_mm} wide, {asked_mm} is asked for."),
            N_("Do not print it. A screen of the right size is needed."),
        ),
        "station-taken": (
            N_("Print order {station} already has screen {other}."),
            N_("This one is a spare: swap it in if it is to take that place."),
        ),
        "right-image": (N_("{image}: print order {station}."), ""),
        "already-hung": (N_("It hangs in this run already, at print order {station}."), ""),
        "hanging-elsewhere": (
            N_("The log says that it hangs on press in run {run}."),
            N_("Is it in your hands now? Then say so."),
        ),
        "away": (N_("The log says that it is away."), N_("Is it in your hands now? Then say so.")),
        "log-unclear": (
            N_("The log contradicts itself about this screen."),
            N_("Say what is in your hands, and have it checked on the light table."),
        ),
        "not-ready": (
            N_("It is not ready: its stage is “{standing_word}”."),
            N_("It needs its remaining steps first."),
        ),
        "failed": (
            N_("Its last washout or check was a fault ({fault_word})."),
            N_("Block it out and check it again, or make it new."),
        ),
        "test-strip-stencil": (
            N_("It carries a test strip, not a job’s stencil."),
            N_("Take the job’s screen."),
        ),
        "check-missing": (N_("No check on the light table was logged."), N_("Look it over against the light now.")),
        "named-by-eye": (
            N_("What is on it was named by eye."),
            N_("Another person compares it with the film or art and logs a good check; else a press lead hangs it."),
        ),
        "taken-off-worn": (
            N_("It was taken off the press as “{condition_word}” and not checked since."),
            N_("Look it over against the light, block pinholes."),
        ),
        "fault-noted": (
            N_("Noted on the frame: {fault_word}."),
            N_("Measure its tension; where glue or frame is at fault, check the screen again too. That answers it."),
        ),
        "mesh-far-off": (
            N_("The count is {off_pct} off; beyond {limit_pct} only a press lead passes it."),
            N_("Take a screen of the right mesh."),
        ),
        "tension-under-hard-floor": (
            N_("Only {lowest_n_per_cm}: under {limit_n_per_cm} only a press lead passes it."),
            N_("Take another screen; this one is to be made tight first."),
        ),
        "ghost-noted": (
            N_("Noted on the frame: ghost image."),
            N_("Hold it against the light: a ghost can print in halftones and fine detail."),
        ),
        "stencil-weak": (
            N_("Exposure step {held} held, {wanted} wanted."),
            N_("The stencil is soft: look at it often during the run, keep a second one ready for a long one."),
        ),
        "stencil-weak-for-ink": (
            N_("Weak stencil for {ink} ink: step {held} held, {wanted} wanted."),
            N_("Water softens what is not fully exposed. Take another screen, or make this one new."),
        ),
        "build-not-possible": (
            N_("Coated {coated_um} cannot be thinner than the bare mesh, {fabric_um}."),
            N_("Measure both again."),
        ),
        "build-fabric-unknown": (
            N_("Coated {coated_um}, but how thick the bare mesh is was never noted: the build cannot be told."),
            N_("Measure the bare mesh, or take it off its sheet, and note it with the stretching."),
        ),
        "stencil-hardened": (N_("Hardened, for {ink} ink."), ""),
        "emulsion-only-hardened": (
            N_("The emulsion ({product}) does not withstand {ink} ink by itself; the stencil was hardened."),
            N_("Look at it often during the run; a long run wants a water-resistant emulsion."),
        ),
        "tape-off": (N_("Also on this screen: {images}."), N_("Tape off what this run does not print.")),
        "mesh-substitute": (
            N_("Mesh {mesh} instead of {asked}, accepted by {who}: {why}"),
            N_("Expect another amount of ink; compare with the approved print."),
        ),
        "emulsion-not-fit": (
            N_("The emulsion ({product}) does not withstand {ink} ink."),
            N_("It will break down in the run: make the screen with a water-resistant emulsion."),
        ),
        "emulsion-not-known": (
            N_("Nobody noted whether the emulsion withstands {ink} ink."),
            N_(
                "Look at the bucket and its data sheet; harden the stencil if in doubt. A shop that does not log coats "
                "says once, in the settings, which emulsion it uses."
            ),
        ),
        "emulsion-usual": (N_("The shop says that its usual emulsion withstands {ink} ink; no coat is logged."), ""),
        "bucket-not-known": (N_("Which bucket of emulsion is not noted."), N_("Note it, so that its age is known.")),
        "bucket-past-time": (
            N_("Bucket {bucket} is {days_d} past its time."),
            N_("Run a test strip with it; mix a new one if the strip fails."),
        ),
        "bucket-test-failed": (N_("The test strip of bucket {bucket} failed."), N_("Discard it and mix a new one.")),
        "bucket-discarded": (N_("Bucket {bucket} was discarded."), N_("Take the one in use.")),
        "room-hot": (
            N_("The room is at {room_c}, over {limit_c}: emulsion hardens by heat there."),
            N_("Cool the room now, take the screens out as soon as they are dry, and watch the washout."),
        ),
        "room-warm": (
            N_("The room is at {room_c} ({limit_c} or more)."),
            N_("Heat hardens a coat in the dark: cool the room before drying."),
        ),
        "room-damp": (
            N_("The room’s humidity is {room_pct} ({limit_pct} or more)."),
            N_("The coat dries slowly and exposes soft: dry the air, wait longer."),
        ),
        "exposed-wet": (
            N_("The coat was not dry when it was imaged or exposed: {left_min} too early."),
            N_("A damp coat exposes as if underexposed and breaks down early: watch the first prints for it."),
        ),
        "checked-wet": (
            N_("It was checked while still wet, {left_min} too early."),
            N_("Pinholes hide in a wet stencil: check it again, now that it is dry."),
        ),
        "coated-damp": (
            N_("It was coated at {room_pct} humidity ({limit_pct} or more)."),
            N_("Such a coat exposes soft: watch the first prints for break-down."),
        ),
        "coated-warm": (
            N_("It was coated in a room at {room_c} ({limit_c} or more)."),
            N_("Heat hardens a coat in the dark: look at the fine lines, check it again."),
        ),
        "coat-in-spec": (N_("The bucket is within its time, the mesh is whole."), ""),
        "coat-undated": (N_("The mesh is whole; the bucket has no date."), ""),
        "room-in-spec": (N_("The room is within the shop’s limits."), ""),
        "room-measured-in-part": (N_("The room is within the limits in what was measured of it."), ""),
        "bucket-mixed-after": (
            N_("By the log bucket {bucket} was mixed {hours_h} after this coat."),
            N_("Look at the label of the bucket that was in use then, and cross this out if it was another one."),
        ),
        "room-in-spec-lately": (
            N_("The room was within the shop’s limits when {who} measured it, {ago_min} before."),
            "",
        ),
        "room-measured-in-part-lately": (
            N_("The room was within the limits in what {who} measured of it, {ago_min} before."),
            "",
        ),
        "room-not-measured": (N_("Room not measured."), ""),
        "no-job-asks": (N_("No open job asks for this separation."), N_("Check that it is the one that was meant.")),
        "not-free": (N_("This frame cannot be used now: its stage is “{standing_word}”."), N_("Take another frame.")),
        "test-strip-exposed": (
            N_("A test strip: its time is not judged."),
            N_("Note the step held at the washout."),
        ),
        "washout-good": (N_("Washed out well."), ""),
        "washout-not-told": (N_("Nobody said how the washout went."), N_("Say good or what is wrong.")),
        "step-none": (
            N_("Exposure step {held} is none of the grey scale’s."),
            N_("Read the last solid step, 1 to 21."),
        ),
        "washout-fault": (
            N_("The washout went wrong: {fault_word}."),
            N_("Block pinholes and check again; otherwise strip it and make it new."),
        ),
        "check-good": (N_("Checked and good."), ""),
        "check-not-told": (N_("Nobody said how the check went."), N_("Say good or what is wrong.")),
        "check-fault": (
            N_("The check found a fault: {fault_word}."),
            N_("Strip it; or mend it (block pinholes) and check it again."),
        ),
    }
)


# Cure ----------------------------------------------------------------------------------------------------------------

UNDYED = ("white", "natural", "ecru", "undyed")
"""Colours of garments that hold no dye to move."""
_LOW_BLEED = re.compile(r"\b(low|no)[ -]?bleed|\bblocker\b|\b(for|high)[ -]poly")
"""What an ink's series, colour or reference says where it is made against migration (common practice)."""


def heat_of(
    placement: Placement,
    as_run: Mapping[str, str] | None = None,
    doubted: Collection[str] = (),
    target: Mapping[str, str] | None = None,
) -> cure_rules.Heat:
    """The garment's peak and hold: as measured at the press (the sheet's settings of the whole run), else as its target
    has it (`target`: those settings of it), else as the job's dryer block plans them. `doubted`: settings that nobody
    is known to have measured."""
    dryer = placement.dryer
    planned = {"garment_peak": dryer.garment_peak_c, "hold": dryer.hold_s} if dryer else {}
    found: dict[str, tuple[float | None, str]] = {}
    for name in ("garment_peak", "hold"):
        read, aimed = (setting.number(name, str((known or {}).get(name, ""))) for known in (as_run, target))
        plan = planned.get(name)
        if read is not None:
            found[name] = read, cure_rules.NOTED if name in doubted else cure_rules.MEASURED
        elif aimed is not None and (plan is None or abs(aimed - plan) > _SAME_NUMBER):
            found[name] = aimed, cure_rules.AIMED
        else:
            found[name] = plan, cure_rules.PLANNED
    return cure_rules.Heat(found["garment_peak"][0], found["hold"][0], found["garment_peak"][1], found["hold"][1])


_SAME_NUMBER = 1e-6
"""Two readings of one text are apart by less."""


def cure(
    job: Job,
    placement: Placement,
    heat: cure_rules.Heat,
    spec: Spec,
    *,
    garments: Sequence[Garment] = (),
    as_run: Mapping[int, str] | None = None,
    code: str = "",
) -> list[Reason]:
    """What speaks against the cure of a placement: every ink that these garments (none: all of the job) take, over all
    their colourways, and what their fibres stand. `as_run`: by print order the kind of ink that was poured instead of
    the one asked for; `code`: the job's own limits count too."""
    needs, stands = needs_of(job, placement, spec, garments=garments, as_run=as_run, code=code)
    return cure_rules.judge(needs, stands, heat)


def needs_of(
    job: Job,
    placement: Placement,
    spec: Spec,
    *,
    garments: Sequence[Garment] = (),
    as_run: Mapping[int, str] | None = None,
    code: str = "",
) -> tuple[list[cure_rules.Need], list[cure_rules.Stand]]:
    """What the inks of a placement need and what its garments stand; as in `cure`."""
    needs: list[cure_rules.Need] = []
    stands: dict[tuple[Any, ...], list[Garment]] = {}
    for garment in garments or job.garments:
        inks = _inks_on(job, garment, placement, as_run or {})
        for one in inks:
            needs.append(_need(one.kind, garment, code, spec))
        for stand in _stands(garment, inks, spec) if inks else ():
            stands.setdefault(stand, []).append(garment)
    named = [
        cure_rules.Stand(", ".join(dict.fromkeys(f"{one.style}, {one.colour}" for one in some)), *stand)
        for stand, some in stands.items()
    ]
    return list(dict.fromkeys(needs)), named


def _inks_on(job: Job, garment: Garment, placement: Placement, as_run: Mapping[int, str]) -> list[Ink]:
    """The inks that a garment takes, in print order."""
    way = job.colourway_of(garment)
    found = []
    for station in placement.printing:
        one = ink_for(job, way, placement, station)
        if one is not None:
            found.append(replace(one, kind=as_run.get(station.number, one.kind)))
    return found


def _need(kind: str, garment: Garment, code: str, spec: Spec) -> cure_rules.Need:
    facts = facts_of(ink=kind, garment=garment.style, job=code)
    keys = ("cure-temperature", "cure-hold", "discharge-start", "ink-ceiling")
    found = (spec.find(key, **facts) for key in keys)
    return cure_rules.Need(kind, *(cure_rules.Limit(one.value, one.row) if one else None for one in found))


def _stands(garment: Garment, inks: Sequence[Ink], spec: Spec) -> list[tuple[Any, ...]]:
    """What each fibre of a garment stands, as the fields of `cure_rules.Stand` behind its name; "recycled polyester" as
    polyester."""
    first = inks[0]
    shielded = bool(_LOW_BLEED.search(folded(" ".join((first.series, first.colour, first.reference)))))
    found = []
    for fibre in garment.fibre:
        limits: list[cure_rules.Limit | None] = []
        for key in ("dye-bleed-onset", "garment-ceiling"):
            names = (folded(fibre), *folded(fibre).split())
            rows = (spec.find(key, fibre=name, garment=garment.style) for name in names)
            row = next((one for one in rows if one is not None), None)
            limits.append(cure_rules.Limit(row.value, row.row) if row else None)
        if folded(garment.colour) in UNDYED:
            limits[0] = None
        if any(limits):
            found.append((folded(fibre), *limits, shielded))
    return found
