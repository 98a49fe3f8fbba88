"""A step of a screen judged by the shop’s limits, before it is logged and when it is."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.calculator import exposure
from tickets.calculator.kinds import POINT
from tickets.calculator.verdict import Level, Reason, Verdict, judge
from tickets.domain import step_reading
from tickets.domain.entry import stamp, wholes_of
from tickets.domain.screens import checks, frame_checks, screen_log
from tickets.domain.screens import screen as rules
from tickets.domain.screens.screen import TEST_STRIP, Life
from tickets.domain.spec import Spec
from tickets.queries import air as air_now
from tickets.queries import asked, learning
from tickets.queries.asked import asked_for, emulsion_of, work_of, works_of
from tickets.queries.shop_rules import the_spec
from tickets.store import buckets, entries, places, screens
from tickets.store.settings import setting


def life_at(db: Database, screen: screens.Screen, at: datetime) -> Life:
    """The screen's life just before `at`: for a step that is typed in later, the log up to then."""
    if not screen.life.last_at or stamp(at) >= screen.life.last_at:
        return screen.life
    before = [entry for entry in entries.of(db, "screen", screen.id) if entry.at <= at or entry.step == "cross-out"]
    return screen_log.replay(before, setting(db, "steps"), places.outside(db))


def judged(
    db: Database,
    screen: int,
    life: Life,
    step: str,
    values: Mapping[str, Any],
    at: datetime,
    person: int,
    in_hand: str = "",
) -> Verdict | None:
    """The verdict beside a step; None for a step that is not judged. `life` is that before the step; `in_hand`: the
    work that somebody picks a frame for."""
    spec = the_spec(db)
    if values.get("dry"):  # whoever has it in hand knows more than any reckoning
        life = rules.changed(life, dry_at=stamp(at))
    match step:
        case "stretch":
            odd = checks.sheet(values, step_reading.count_per_cm(str(values["mesh_count_as_labelled"])), spec)
            return judge(odd) if odd else None
        case "tension":
            warp, weft = values["readings_n_per_cm"], values.get("readings_weft_n_per_cm", ())
            life = rules.changed(life, tension=rules.Tension("", stamp(at), tuple(warp), tuple(weft)))
            return judge(frame_checks.readings(life, warp, weft, work_of(db, life, in_hand), spec))
        case "coat":
            bucket = buckets.get(db, values["bucket"]) if values.get("bucket") else None
            lately, air = air_now.room_of_the_shift(db, at, at), air_now.air_of(db, life, at)
            slack = [] if life.tension is None else frame_checks.tension(life, work_of(db, life, in_hand), spec, at)
            slack = [one for one in slack if one.key == "tension-under-floor"]
            found = checks.coat(life, bucket, values, spec, at, lately, air)
            return judge([*found.reasons, *slack]) if slack else found
        case "image":
            if values.get("accept"):
                stencil = life.stencil or rules.Stencil()
                life = rules.changed(life, stencil=rules.changed(stencil, accepted=values["accept"]))
            air = air_now.air_of(db, life, at)
            return checks.image(life, asked_for(db, values["separations"]), emulsion_of(db, life), spec, at, air)
        case "expose":
            return _judged_exposure(db, life, values, spec, at)
        case "washout":
            exposure_s = life.stencil.exposure_s if life.stencil else None
            emulsion = emulsion_of(db, life)
            return checks.washout(values, exposure_s, spec, emulsion=emulsion.sort if emulsion else None)
        case "check":
            verdict = checks.check(values, life, person)
            return judge([*verdict.reasons, *checks.dry(life, spec, at, air_now.air_of(db, life, at))])
    return None


def _judged_exposure(db: Database, life: Life, values: Mapping[str, Any], spec: Spec, at: datetime) -> Verdict:
    """An exposure against what the shop set, or learned from this very combination, in seconds or in units."""
    wanted = learning.wanted(
        db,
        life,
        str(values.get("exposure_unit", "")),
        at,
        irradiance_mw_cm2=values.get("irradiance_mw_cm2"),
        distance_mm=values.get("distance_mm"),
    )
    verdict = checks.expose(
        life,
        values,
        wanted.seconds.wanted,
        works_of(db, life),
        emulsion_of(db, life),
        spec,
        at,
        wanted_units=wanted.units.wanted,
        air=air_now.air_of(db, life, at),
    )
    if values.get("purpose") == TEST_STRIP:
        return verdict
    near: list[Reason] = []
    if wanted.lamp == POINT:  # as noted with this very exposure: an older note would say it again each time
        images = wholes_of(values, "separations") or (life.stencil.separations if life.stencil else ())
        near = checks.lamp_distance(values.get("distance_mm"), asked.diagonal_mm(db, images), spec)
    in_units = values.get("exposure_units") is not None and (values.get("exposure_s") is None or wanted.counts)
    doubts = wanted.doubts(in_units)
    nearest = any(reason.level is Level.UNKNOWN for reason in doubts)  # it says more than that no time is known
    told = [one for one in verdict.reasons if not (nearest and one.key == "exposure-time-unknown")]
    if _as_wedges_ask(values, wanted.units if in_units else wanted.seconds, spec, in_units):
        told = [one for one in told if not one.key.startswith("exposure-time-off")]  # the contradiction is what is told
    return judge([*told, *doubts, *near])


def _as_wedges_ask(values: Mapping[str, Any], known: learning.Known, spec: Spec, in_units: bool) -> bool:
    """Whether it was exposed as the step wedges ask where they contradict the shop's own time: who follows them did not
    do worse than who goes by the set time."""
    asked_for, tolerance = known.contradicted_by, spec.find("exposure-tolerance")
    time = values.get("exposure_units" if in_units else "exposure_s")
    if asked_for is None or time is None or tolerance is None:
        return False
    unit = "units" if in_units else "s"
    (found,) = exposure.judge_time(time, asked_for, tolerance=tolerance.value / 100, unit=unit)
    return found.level is Level.OK


def wanted_exposure(db: Database, life: Life, unit: str, at: datetime) -> float | None:
    """The wanted time in s for this exposure unit, emulsion, mesh, colour and coats: set by the shop, or learned from
    this very combination; None where it has none."""
    return learning.wanted(db, life, unit, at).seconds.wanted
