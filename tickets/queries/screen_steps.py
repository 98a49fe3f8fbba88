"""What a screen’s next form shows and is filled in with."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any

from sqlite_utils import Database

from tickets.calculator.verdict import Level
from tickets.domain import bucket as buckets_rules
from tickets.domain.bucket import Bucket
from tickets.domain.code import shown
from tickets.domain.entry import Entry, stamp
from tickets.domain.person import Actor
from tickets.domain.screens import frame_checks, screen_log
from tickets.domain.screens.frame_checks import Asked
from tickets.domain.screens.screen import TEST_STRIP, Life
from tickets.domain.stages import Standing
from tickets.i18n import day_text
from tickets.i18n import gettext as _
from tickets.queries import judging, learning
from tickets.queries.shop_rules import the_spec, zone
from tickets.store import buckets, entries, jobs, people, places, screens
from tickets.store.settings import setting


def confirms(db: Database, actor: Actor, life: Life, step: str, values: Mapping[str, Any]) -> bool:
    """Whether the PIN of `actor` stands for the second pair of eyes that this check needs: the same person named by eye
    what is on the screen, and nobody else here can sign in."""
    if step != "check" or values.get("result") != "good" or life.stencil is None:
        return False
    return life.stencil.by_eye == actor.id and people.alone(db, actor.id)


def unsaid(life: Life, step: str) -> bool:
    """A log that contradicts itself asks before anything is added that would not clear it."""
    return life.conflict and step not in {
        "found",
        "stretch",
        "strip",
        "note",
        "rack",
        "tension",
        "retire",
        "retag",
        "fault",
    }


LIES_STILL = frozenset({"rack", "tension", "decide", "fault", "note", "retag"})
"""Steps that take no screen away from where it lies."""


def moved_on(life: Life) -> bool:
    """True when a screen was worked on after it was last put somewhere: nobody said where it went since."""
    if life.place is None or life.standing in {Standing.ON_PRESS, Standing.AWAY}:
        return False
    return life.place_since < life.since or (life.place_since < life.last_at and life.last_step not in LIES_STILL)


def seen_at(life: Life, where: str) -> str:
    """Where a screen lies, in the words given, or was last seen when it was worked on since; empty: nobody noted it."""
    return _("last seen {place}").format(place=where) if where and moved_on(life) else where


# whole: one case for each step that has habits
def habits(db: Database, screen: screens.Screen, step: str, now: datetime, *, then: bool = False) -> dict[str, Any]:
    """What a form of this step should be prefilled with, from the shop's habits: values by field name. `then`: `now` is
    a time gone by, and what counts is the bucket in use then, the preset, the wanted time, the mesh of then.

    Only what people choose: what somebody measures or finds is never filled in.
    """
    life = judging.life_at(db, screen, now) if then else screen.life
    until = stamp(now) if then else ""
    match step:
        case "coat":
            bucket = _usual_bucket(db, now, then)
            last = screens.last_values(db, "coat", until=until)
            presets = setting(db, "presets")
            preset = last.get("preset") or (presets[0]["name"] if presets else "")
            return {"bucket": bucket.code if bucket else "", "preset": preset}
        case "expose":
            unit = str(screens.last_values(db, "expose", until=until).get("exposure_unit", ""))
            there = [one.name for one in places.units(db)]
            if there and unit not in there:  # none yet, or one that is out of use
                unit = there[0]
            wanted = learning.wanted(db, life, unit, now)
            name, known = ("exposure_units", wanted.units) if wanted.counts else ("exposure_s", wanted.seconds)
            typed = known.typed
            if not typed and life.mesh is not None:  # no wanted time yet: what this mesh got last on this unit
                last = screens.last_values(db, "expose", life.mesh.count_as_labelled, until=until)
                same = last.get("exposure_unit", "") == unit and last.get("purpose") != TEST_STRIP
                typed = f"{last['exposure_s']:g}" if same and last.get("exposure_s") else ""
            return {"exposure_unit": unit, **({name: typed} if typed else {})}
        case "image":
            return {
                "separations": [number for number, _text, fits in image_choices(db, screen, now) if fits][:1],
                "means": "film",
            }
        case "pull":
            return {"then": "undecided"}
        case "rack":
            last = screens.last_values(db, "rack", until=until)
            place = places.get(db, int(last["place"])) if last.get("place") else None
            usual = place is not None and not place.outside  # a place outside the shop is never a habit
            return {"place": place.name if place and usual else ""}
        case "stretch" if life.mesh is not None:
            return {
                "mesh_count_as_labelled": life.mesh.count_as_labelled,
                "thread_um": f"{life.mesh.thread_um:g}" if life.mesh.thread_um else "",
                "frame": life.mesh.frame,
                "mesh_colour": life.mesh.colour,
            }
    return {}


def _usual_bucket(db: Database, now: datetime, then: bool) -> Bucket | None:
    """The newest emulsion in use; one past its time or with a failed strip is never a habit, nor is another kind in its
    place, which would want another exposure."""
    there = _emulsions_then(db, now) if then else emulsions(db)
    good = (one for one in there if one.test != "fault" and (one.test == "good" or not one.past(now)))
    return next((one for one in good if one.kind == there[0].kind), None)


def emulsions(db: Database) -> list[Bucket]:
    """The emulsions that are open, the last one taken into use first."""
    return buckets.open_ones(db, emulsions=True, limit=20)


def _emulsions_then(db: Database, at: datetime) -> list[Bucket]:
    """The emulsions that were open at a time gone by, as they stood then, the last one taken into use first."""
    found = []
    for bucket in buckets.emulsions_then(db, stamp(at)):
        log = [one for one in entries.of(db, "bucket", bucket.id) if one.at <= at or one.step == "cross-out"]
        found.append(buckets_rules.replay(bucket, log, the_spec(db)))
    return sorted(found, key=lambda one: (one.used_at or "", one.mixed_at), reverse=True)


def image_choices(db: Database, screen: screens.Screen, now: datetime, most: int = 120) -> list[tuple[int, str, bool]]:
    """The separations that open jobs want, for the form: (number, text, whether it is for this screen: the mesh is
    right and no screen carries it yet).

    Those that this mesh fits and that have no screen yet come first, then by due date; `most` at most.
    """
    spec, today = the_spec(db), now.astimezone(zone(db)).date()
    own = screen.life.mesh.count_per_cm if screen.life.mesh else 0.0
    lines: dict[int, jobs.WantedImage] = {}
    for line in jobs.wanted(db, limit=120):
        lines.setdefault(line.separation, line)
    has = screens.carried_anywhere(db, list(lines))
    ordered = sorted(
        lines.values(), key=lambda line: (abs(line.count_per_cm - own) > 0.05 * own, line.separation in has)
    )
    shown_ones = [line.separation for line in ordered[:most]]
    jobs.separations_ahead(db, shown_ones)
    screens.carrying_ahead(db, [one for one in shown_ones if one in has])
    found: list[tuple[int, str, bool]] = []
    jobs.separations_ahead(db, [line.separation for line in ordered[:most]])
    for line in ordered[:most]:
        image = jobs.separation(db, line.separation)
        if image is None:
            continue
        asked = Asked(0, line.separation, image, line.mesh, line.count_per_cm, line.thread_um, line.work)
        same = all(
            reason.level in {Level.OK, Level.CAUTION} for reason in frame_checks.same_mesh(screen.life, asked, spec)
        )
        due = day_text(date.fromisoformat(line.due), today)
        text = f"{image.name} · {image.art} {image.revision} · {line.mesh} · {line.customer} · {due}"
        if line.separation in has:
            other = screens.carrying(db, line.separation)[0]
            text += " · " + _("already on {screen}").format(screen=other.life.mark or shown(other.code))
        text = text if same else _("{image} (another mesh)").format(image=text)
        found.append((line.separation, text, same and line.separation not in has))
    return sorted(found, key=lambda choice: not choice[2])


def against_log(db: Database, screen: screens.Screen, step: str) -> bool:
    """True when this step of the screen would be asked about first ("in your hands now?")."""
    late = datetime.max.replace(tzinfo=UTC)
    probe = Entry(entry="", step=step, at=late, saved_at=late, person=0)
    after = screen_log.after(screen.life, probe, setting(db, "steps"), places.outside(db))
    return after.conflicts != screen.life.conflicts or unsaid(screen.life, step)
