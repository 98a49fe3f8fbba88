"""What the boards say in words: how near a screen is, where it lies, when a job is due, what is to be done."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from tickets.calculator.verdict import say
from tickets.domain.screens.frames import Has, Progress, Serves
from tickets.domain.screens.needs import WHY_NONE, going
from tickets.domain.screens.screen import Life
from tickets.domain.stages import STANDING_WORDS
from tickets.domain.steps import SCREEN_STEPS, WASHOUT_FAULTS
from tickets.i18n import Nn_, ngettext
from tickets.i18n import gettext as _
from tickets.i18n.spans import passed_said
from tickets.queries.boards import Stage
from tickets.queries.desk import MeshAhead
from tickets.queries.desk_today import BucketDue
from tickets.queries.said import Reader
from tickets.queries.screen_steps import seen_at
from tickets.store import places

TO_DO = {
    "washout": Nn_("Wash out {n} screen", "Wash out {n} screens"),
    "check": Nn_("Check {n} screen on the light table", "Check {n} screens on the light table"),
    "expose": Nn_("Expose {n} screen", "Expose {n} screens"),
    "image": Nn_("Image {n} coated screen", "Image {n} coated screens"),
    "clean": Nn_("Clean {n} screen that came off a press", "Clean {n} screens that came off a press"),
    "strip": Nn_("Reclaim {n} screen", "Reclaim {n} screens"),
    "decide": Nn_(
        "Decide about {n} screen: it was to be reclaimed, but a job needs it",
        "Decide about {n} screens: they were to be reclaimed, but jobs need them",
    ),
    "stretch": Nn_("Restretch {n} frame", "Restretch {n} frames"),
    "name": Nn_("Say which image is on {n} screen", "Say which image is on {n} screens"),
    "retension": Nn_("Retension {n} frame: under the floor", "Retension {n} frames: under the floor"),
    "found": Nn_(
        "Look at {n} screen: its log does not say how far it is",
        "Look at {n} screens: their log does not say how far they are",
    ),
}
"""What is to be done with the screens that wait, by the step that comes next."""

OF_STANDING = {
    "kept": Nn_(
        "Clean {n} kept screen, then put it away",
        "Clean {n} kept screens, then put them away",
    ),
    "slack": Nn_(
        "Stretch new mesh on {n} frame: under the floor",
        "Stretch new mesh on {n} frames: under the floor",
    ),
}
"""The same step in other words, for screens of a stage by themselves."""


def to_do_words(stage: Stage) -> str:
    """A line of the list of what is to be done: an act and how many."""
    own = OF_STANDING.get(stage.standing) if stage.step != "retension" else None
    words = own or TO_DO.get(stage.step)
    if words is None:
        title = _(SCREEN_STEPS[stage.step].title) if stage.step in SCREEN_STEPS else _(STANDING_WORDS[stage.standing])
        return _("{step}: {n}").format(step=title, n=stage.screens)
    return ngettext(*words, stage.screens).format(n=stage.screens)


def due_words(reader: Reader, due: str) -> str:
    """A due day as it is said on a board: today, tomorrow, or how many days are left."""
    days = (date.fromisoformat(due) - reader.now.astimezone(reader.zone).date()).days
    if days < 0:
        return ngettext("{days} day late", "{days} days late", -days).format(days=-days)
    if days == 0:
        return _("today")
    if days == 1:
        return _("tomorrow")
    return ngettext("in {days} day", "in {days} days", days).format(days=days)


def state_words(reader: Reader, progress: Progress, ready_at: datetime | None = None) -> tuple[str, str]:
    """What screen a separation has: the word first, then where, how far, and when it can be ready."""
    frame = progress.frame
    if frame is None:
        return _("no screen"), ""
    life, names = frame.life, places.names(reader.db)
    where = names.get(life.place or 0, "")
    on = seen_at(life, on_place(reader, life.place, where)) if where else _("place not noted")
    match progress.has:
        case Has.READY:
            return _("ready"), on
        case Has.KEPT:
            return _("kept from an earlier run"), on
        case Has.ON_PRESS:
            return _("on press"), _("run {number}").format(number=life.run) if life.run else ""
        case Has.ELSEWHERE:
            return _("on press now for another print:"), _("run {number}").format(number=life.run)
        case Has.UNDER_WAY:
            return _("on the way:"), " · ".join([", ".join(_on_the_way(reader, progress, life, ready_at)), on])
        case Has.OFF_PRESS:
            return _("off press, stencil still on"), " · ".join([_("clean it, check it, keep it"), on])
        case Has.GOING:
            return _(WHY_NONE[going(life)]), on
        case Has.MISSING:
            gone = names.get(life.not_at or 0, "")
            return _("missing"), _("missing since the stock-take of {place}").format(place=gone)
        case Has.AWAY:
            return _("away"), _("since {time}").format(time=reader.day(life.since))
        case Has.UNSURE:
            return _("unclear"), _("its log does not say how far it is: look at it") + f" · {on}"
    stops = [say(reason).sentence for reason in progress.verdict.reasons[:1]] if progress.verdict else []
    return _("no right screen"), " ".join(stops)


def _on_the_way(reader: Reader, progress: Progress, life: Life, ready_at: datetime | None) -> list[str]:
    """How far a screen is that is being made: its stage, its fault, when it is dry, next step, when it is ready."""
    how = [] if progress.next_step == "check" else [_(STANDING_WORDS[life.standing])]
    if life.stencil is not None and life.stencil.failed:
        fault = _(dict(WASHOUT_FAULTS).get(life.stencil.fault, "")) or _("a fault")
        how.insert(0, _("{fault} seen at the washout, to be mended").format(fault=fault))
    if progress.dry_at is not None:
        how.append(_("dry about {time}").format(time=clock(reader, progress.dry_at)))
    if progress.next_step in SCREEN_STEPS:
        how.append(_("next: {step}").format(step=_(SCREEN_STEPS[progress.next_step].title).lower()))
    if ready_at is not None and reader.now < ready_at != progress.dry_at:
        at = reader.time(ready_at) if ready_at - reader.now > timedelta(hours=12) else clock(reader, ready_at)
        how.append(_("ready about {time}").format(time=at))
    return how


def clock(reader: Reader, at: datetime) -> str:
    """The time of day, in the shop's zone."""
    return f"{at.astimezone(reader.zone):%H:%M}"


def on_place(reader: Reader, number: int | None, name: str) -> str:
    """Where a screen lies: on a rack, in a cabinet."""
    cabinets = {place.id for place in places.every(reader.db, "cabinet")}
    said = _("in {place}") if number in cabinets else _("on {place}")
    return said.format(place=name)


def why_words(reader: Reader, serves: Serves) -> list[tuple[str, str]]:
    """Why a frame would serve, in a few words each: (level, words)."""
    return [(str(reason.level), say(reason, reader.system).sentence) for reason in serves.why]


def short_words(reader: Reader, one: MeshAhead, hit: bool = True) -> str:
    """What a mesh runs short of, when, and (`hit`) which jobs that hits, in a line."""
    if one.short is None:
        if not one.rests:
            return "✓ " + _("enough")
        told = ngettext(
            "enough, if {n} frame that was never measured is fit",
            "enough, if {n} frames that were never measured are fit",
            one.rests,
        )
        return "? " + told.format(n=one.rests)
    day, few = one.short.day.isoformat(), -one.short.left
    told = ngettext("{n} frame too few for {day}", "{n} frames too few for {day}", few)
    said = f"✕ {told.format(n=few, day=reader.day(day))}, {due_words(reader, day)}"
    if hit and one.hit:
        said += ": " + ", ".join(title for _code, title, _due, _number in one.hit[:2])
        if len(one.hit) > 2:
            said += " " + _("and {n} more").format(n=len(one.hit) - 2)
    if one.worst is not None and one.worst.left < one.short.left:
        said += "; " + _("{n} for {day}").format(n=-one.worst.left, day=reader.day(one.worst.day.isoformat()))
    return said


def bucket_words(reader: Reader, due: BucketDue) -> str:
    """What is wrong with a bucket, in a few words."""
    if due.failed:
        return _("its test strip failed: discard it")
    hours = due.hours or 0.0
    if hours < 0:
        return _("expired {left} ago").format(left=passed_said(-hours))
    return _("good until {time}").format(time=reader.time(due.bucket.good_until))
