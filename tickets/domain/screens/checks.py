"""The checks: what the spec says of a screen at a step, and whether it is the right screen at the press.

Each gives reasons out of calculator functions and the shop's spec; `verdict.judge` makes the verdict. No check ever
reads `ok` out of something unknown.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from tickets.calculator import exposure, ink
from tickets.calculator import mesh as mesh_rules
from tickets.calculator import stencil as stencil_rules
from tickets.calculator.drying import COAT, WET, Air, drying_time, judge_dry
from tickets.calculator.kinds import WATER_INKS
from tickets.calculator.units import magnitude, quantity
from tickets.calculator.verdict import Level, Reason, Verdict, judge, phrases
from tickets.domain.bucket import CLOCKED, Bucket, hours_past
from tickets.domain.code import shown
from tickets.domain.entry import read_stamp, stamp
from tickets.domain.screens import frame_checks
from tickets.domain.screens.frame_checks import Asked
from tickets.domain.screens.room import Room
from tickets.domain.screens.screen import TEST_STRIP, Life, wet_since
from tickets.domain.screens.screen_log import ALONE
from tickets.domain.spec import Limit, Spec, facts_of
from tickets.domain.stages import STANDING_WORDS, Standing
from tickets.i18n import N_

NOT_SAID = N_("nobody noted what")


# Mesh, emulsion, age ---------------------------------------------------------------------------------------


def emulsion_fit(emulsion: Bucket | None, inks: frozenset[str], hardened: bool = False) -> list[Reason]:
    """Whether the emulsion stands the ink: water-base and discharge soften one that is not water-resistant.

    A hardened stencil stands more water than the same one without (judgement; the emulsion's own sheet wins): where the
    emulsion is not known to stand it, it answers the doubt; where it is known not to, the stop becomes a caution. What
    a shop that logs no coats says of its usual emulsion is taken, and said.
    """
    wet = sorted(inks.intersection(WATER_INKS))
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
    limit = spec.find(
        "coated-age", **frame_checks.frame_facts(life, work, emulsion=emulsion.sort if emulsion else None)
    )
    if limit is None:
        return []
    days = (now - read_stamp(life.stencil.coated_at)).total_seconds() / 86400
    return stencil_rules.judge_coated_age(max(0.0, days), limit_d=limit.value, spec=(limit.row,))


@dataclass(frozen=True, slots=True)
class Drying:
    """Something that dries: after which step, since when, ready when; a coat is dry to the touch some time before.
    `air`: the reading that the times were worked out from."""

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
        if not read:
            return since + timedelta(minutes=limit.value)
        plain, most = quantity(limit.value, "min"), quantity(longest.value if longest else 1e6, "h")
        return since + timedelta(minutes=magnitude(drying_time(plain, true_in, read, most), "min"))

    rows = (ready, touch, *((*_dries_at(spec), longest) if read else ()))
    return Drying(
        after, since, until(ready), until(touch) if touch else None, read, tuple(row.row for row in rows if row)
    )


def _dries_at(spec: Spec) -> tuple[Limit | None, Limit | None]:
    return spec.find("dries-at-temperature"), spec.find("dries-at-humidity")


def dry(life: Life, spec: Spec, now: datetime, air: Air | None = None, level: Level = Level.CAUTION) -> list[Reason]:
    """What is still wet of a screen: its mesh after degreasing, its coat, its washed-out stencil. See `drying`."""
    after, at = wet_since(life)
    plain, longest = spec.find("minutes-to-dry", after=after), spec.find("hours-to-dry-longest")
    if not after or plain is None:
        return []
    if longest and (now - read_stamp(at)).total_seconds() >= max(3600 * longest.value, 60 * plain.value):
        return []  # nothing takes longer in any room: of most screens no time is worked out
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
    known = {"room_c": lately.room_c, "room_rh_pct": lately.room_rh_pct} if lately is not None else {}
    of_before = [name for name, value in own.items() if value is None and known.get(name) is not None]
    own |= {name: known[name] for name in of_before}
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
    read_before = lately.read(of_before[-1]) if lately and of_before else None
    return judge(reasons or _coated_well(bucket, own, read_before, now))


def _mixed_after(bucket: Bucket | None, now: datetime) -> list[Reason]:
    """A coat that is dated back to before its bucket was mixed."""
    if bucket is None or not bucket.mixed_at or bucket.mixed_at <= stamp(now):
        return []
    hours = (read_stamp(bucket.mixed_at) - now).total_seconds() / 3600
    return [Reason("bucket-mixed-after", Level.CAUTION, {"hours_h": hours, "bucket": bucket.code})]


def _coated_well(
    bucket: Bucket | None, own: Mapping[str, Any], lately: tuple[str, str] | None, now: datetime
) -> list[Reason]:
    """What was judged and found in order, and what nobody measured: silence must not read as good."""
    measured = [name for name, value in own.items() if value is not None]
    room = {0: "room-not-measured", 1: "room-measured-in-part", 2: "room-in-spec"}[len(measured)]
    numbers = {}
    if lately is not None:
        room = f"{room}-lately"
        numbers = {"ago_min": max(0.0, (now - read_stamp(lately[0])).total_seconds() / 60), "who": lately[1]}
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
        reasons += frame_checks.same_mesh(life, one, spec)
        reasons += frame_checks.tension(life, one.work, spec, now)
        reasons += emulsion_fit(emulsion, one.inks)
        reasons += coated_age(life, emulsion, one.work, spec, now)
    return judge(_once(reasons))


def fit(life: Life, asked: Asked, emulsion: Bucket | None, spec: Spec, now: datetime) -> Verdict:
    """Whether a free frame would serve a separation: as `image`, whatever the frame's stage."""
    reasons = (
        []
        if life.standing not in {Standing.RETIRED, Standing.AWAY, Standing.TO_RESTRETCH}
        else [Reason("not-free", Level.STOP, {"standing_word": STANDING_WORDS[life.standing]})]
    )
    if life.torn:
        reasons.append(Reason("torn", Level.STOP))
    reasons += frame_checks.same_mesh(life, asked, spec) + frame_checks.tension(life, asked.work, spec, now)
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
    found = exposure.judge_distance(distance_mm / 1000, diagonal_mm / 1000, diagonals=limit.value, spec=(limit.row,))
    return [one for one in found if one.level is Level.CAUTION]


def washout(values: Mapping[str, Any], exposure_s: float | None, spec: Spec, **facts: Any) -> Verdict:
    """A washout: what was seen, and the step compared with the step wanted. No result is no good one."""
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


def build(life: Life, coated_um: float | None, work: str, spec: Spec) -> list[Reason]:
    """Whether the stencil stands as high over the mesh as the work wants, where both were measured."""
    fabric_um = life.mesh.fabric_thickness_um if life.mesh else None
    if coated_um is None or not fabric_um:
        return []
    if coated_um < fabric_um:
        return [Reason("build-not-possible", Level.CAUTION, {"coated_um": coated_um, "fabric_um": fabric_um})]
    facts = frame_checks.frame_facts(life, work)
    least, most = spec.find("build-least", **facts), spec.find("build-most", **facts)
    if least is None or most is None:
        return []
    ratio = 100 * (coated_um / fabric_um - 1)
    return stencil_rules.judge_build(ratio, least=least.value, most=most.value, spec=(least.row, most.row))


phrases(
    {
        "torn": (N_("The mesh is torn."), N_("Take another screen; this one goes to restretching.")),
        "named-by-eye": (
            N_("What is on this screen was only judged by eye."),
            N_("Another person compares it with the film or art and logs a good check; else a press lead hangs it."),
        ),
        "build-not-possible": (
            N_("Coated {coated_um} cannot be thinner than the bare mesh, {fabric_um}."),
            N_("Measure both again."),
        ),
        "build-fabric-unknown": (
            N_("Coated {coated_um}, but how thick the bare mesh is was never noted: the build cannot be told."),
            N_(
                "Measure the bare mesh, or take its thickness from the mesh maker’s data sheet, and note it with the "
                "stretching."
            ),
        ),
        "stencil-hardened": (N_("Hardened, for {ink} ink."), ""),
        "emulsion-only-hardened": (
            N_("The emulsion ({product}) does not withstand {ink} ink by itself; the stencil was hardened."),
            N_("Look at it often during the run; a long run wants a water-resistant emulsion."),
        ),
        "emulsion-not-fit": (
            N_("The emulsion ({product}) does not withstand {ink} ink."),
            N_("The stencil will break down in the run: make the screen with a water-resistant emulsion."),
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
            N_("Bucket {bucket} expired {days_d} ago."),
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
        "coat-in-spec": (N_("The bucket is within its time, the mesh is whole."), ""),
        "coat-undated": (N_("The mesh is whole; the bucket has no date."), ""),
        "room-in-spec": (N_("The room is within the shop’s limits."), ""),
        "room-measured-in-part": (N_("The room is within the limits in what was measured of it."), ""),
        "bucket-mixed-after": (
            N_("The log says that bucket {bucket} was mixed {hours_h} after this coat."),
            N_("Look at the tag of the bucket in use then. Cross this out if it was another one."),
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
        "no-job-asks": (N_("No open job asks for this image."), N_("Check that it is the one that was meant.")),
        "not-free": (N_("This frame cannot be used now: its stage is “{standing_word}”."), N_("Take another frame.")),
        "test-strip-exposed": (
            N_("A test strip: its time is not judged."),
            N_("Note the step held at the washout."),
        ),
        "washout-good": (N_("Washed out well."), ""),
        "washout-not-told": (N_("Nobody said how the washout went."), N_("Say good or what is wrong.")),
        "step-none": (
            N_("Exposure step {held} is not on the step wedge."),
            N_("Read the last solid step, 1 to 21."),
        ),
        "washout-fault": (
            N_("The washout went wrong: {fault_word}."),
            N_("Block pinholes and check again; otherwise reclaim it and make it new."),
        ),
        "check-good": (N_("Checked and good."), ""),
        "check-not-told": (N_("Nobody said how the check went."), N_("Say good or what is wrong.")),
        "check-fault": (
            N_("The check found a fault: {fault_word}."),
            N_("Reclaim it; or block the pinholes and check it again."),
        ),
    }
)
