"""What is judged at the press: the right screen on the right head, its history, and whether the run may go on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from tickets.calculator import exposure
from tickets.calculator.drying import Air
from tickets.calculator.kinds import WATER_INKS
from tickets.calculator.verdict import Level, Reason, Verdict, judge, phrases
from tickets.domain.bucket import Bucket
from tickets.domain.code import shown
from tickets.domain.entry import read_stamp
from tickets.domain.jobs.heads import Press, in_order
from tickets.domain.runs.run import VERSION, cause_of
from tickets.domain.screens import checks, frame_checks
from tickets.domain.screens.checks import NOT_SAID
from tickets.domain.screens.frame_checks import Asked
from tickets.domain.screens.screen import TEST_STRIP, Life, Shown, Stencil
from tickets.domain.separation import Separation
from tickets.domain.spec import Spec, facts_of
from tickets.domain.stages import STANDING_WORDS, Standing
from tickets.i18n import N_


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
    code: str = ""
    """The code of the screen, where it was hung just now."""

    @property
    def question(self) -> bool:
        """True when the log has it elsewhere: asked whether it is in hand, and `found` is written."""
        return "hanging-elsewhere" in self.verdict.keys or "away" in self.verdict.keys

    @property
    def spare(self) -> bool:
        """True when another screen hangs at its station: to hang this one, that one must come off (`swap`)."""
        return "station-taken" in self.verdict.keys


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
    for kind in sorted(inks.intersection(WATER_INKS)):
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
    reasons = checks.dry(life, spec, now, seen.air, Level.STOP)  # whatever was seen on the light table since
    light = step_held(stencil, seen.emulsion, wanted.inks, spec)
    reasons += light
    if stencil.exposed_at:
        reasons += checks.coated_age(life, seen.emulsion, wanted.work, spec, read_stamp(stencil.exposed_at))
    proven = any(reason.level is Level.OK for reason in light)  # its own step wedge is the test strip
    if seen.emulsion is not None and stencil.coated_at and not proven:
        aged = checks.bucket_in_time(seen.emulsion, read_stamp(stencil.coated_at))
        reasons += [reason for reason in aged if reason.key in {"bucket-past-time", "bucket-test-failed"}]
    reasons += checks.build(life, stencil.coated_thickness_um, wanted.work, spec)
    return [reason for reason in reasons if reason.level is not Level.OK]


TO_HANG = frozenset({Standing.READY, Standing.KEPT, Standing.TO_CHECK})
"""What a screen hangs from: one that nobody checked hangs with a caution."""

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
        reasons += frame_checks.same_mesh(life, wanted, spec)
        reasons += frame_checks.tension(life, wanted.work, spec, now)
        reasons += frame_checks.too_far(life, wanted, spec)
        reasons += checks.emulsion_fit(seen.emulsion, wanted.inks, life.stencil is not None and life.stencil.hardened)
        reasons += history(seen, wanted, spec, now)
        others = {other.code: other.life for other in hung.values() if other.screen != seen.screen}
        reasons += frame_checks.neighbours(life, others, spec)
        rounds = {one.number: one.revolution for one in asked} | dict(flashes or {})
        reasons += in_order(wanted.number, head, heads or {}, rounds, flashes or {}, press or Press())
        reasons = with_shown(reasons, seen, now)
    if tape_off:
        reasons.append(Reason("tape-off", Level.CAUTION, {"images": list(tape_off)}))
    if wanted is not None:
        reasons.append(Reason("right-image", Level.OK, {"station": wanted.number, "image": wanted.image.name}))
    return AtPress(judge(reasons), wanted.number if wanted else None, tape_off)


def _frame(seen: Seen, now: datetime) -> list[Reason]:
    """What was noted on the frame and not cleared since. A slack mesh is cleared by a reading, which says more; glue,
    frame and whatever somebody put into words by a reading and a good check, the two that are asked for."""
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
        life.fault not in ("", "slack", "torn") and not (measured and checked)
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
            mesh = judge(frame_checks.same_mesh(seen.life, one, spec)).level.rank
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
    if standing not in TO_HANG:
        return [*reasons, Reason("not-ready", Level.STOP, {"standing_word": STANDING_WORDS[standing]})]
    if checks_logged and not (life.stencil and life.stencil.failed):
        if life.missed("check") or not _checked(life) or standing is Standing.TO_CHECK:
            reasons.append(Reason("check-missing", Level.CAUTION))
    return reasons


def _checked(life: Life) -> bool:
    return life.stencil is not None and life.stencil.check == "good"


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

    `passed`: what somebody overrode already on this run, as `run.Judged` keeps it (reasons, passed), as far as that
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


def few_printed(good: int, ordered: int, spec: Spec) -> bool:
    """Whether a run that ends here has printed so few of the pieces ordered that it may rather be paused."""
    limit = spec.find("pieces-few")
    return limit is not None and good < ordered * limit.value / 100


def first_print(approved: bool, again: Sequence[tuple[str, Mapping[str, Any]]]) -> list[Reason]:
    """Whether a first print was approved, and what came since that wants another one (`again`: each with why, one of
    `run.AGAIN`, and its numbers)."""
    if not approved:
        return [Reason("first-print-open", Level.CAUTION)]
    return [Reason(f"again-{why}", Level.STOP, numbers) for why, numbers in again]


def old_art(on: Sequence[OnHead], asked_now: Sequence[Asked], spec: Spec, version: int) -> list[Reason]:
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
    if all(
        reason.level is not Level.STOP for reason in frame_checks.compared((now.count_per_cm, now.thread_um), was, spec)
    ):
        return False
    return one.life is None or any(reason.level is Level.STOP for reason in frame_checks.same_mesh(one.life, now, spec))


def _changed(key: str, has: str, now: str, some: Sequence[OnHead], version: int) -> Reason:
    """A reason for the print orders of a run that have one cause: each with its image and its screen."""
    told = [f"{one.asked.image.name} ({shown(one.code)})" if one.code else one.asked.image.name for one in some]
    numbers: dict[str, Any] = {"screens": told} | ({VERSION: version} if version else {})
    if key == "old-size":
        numbers |= {"has_mm": int(has), "asked_mm": int(now)}
    elif now:
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
            N_("Position {station} ({image}) has screen {now} in place of {was}: its first print is not approved."),
            N_("Have a first print approved again."),
        ),
        "again-screen": (
            N_("Since the pause position {station} ({image}) has screen {now}, not {was}: no approved first print."),
            N_("Have a first print approved again."),
        ),
        "again-pause": (
            N_("Position {station} ({image}) was off and hangs again: its first print is not approved."),
            N_("Have a first print approved again."),
        ),
        "again-ink": (
            N_("Position {station} ({image}): {setting_word} {now}, not {was}: its first print is not approved."),
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
            N_("The log has a screen of run {run} on head {head}."),
            N_("Choose another head; or look: is this one free? Then say so."),
        ),
        "head-taken": (N_("Somebody said that head {head} is free; the log has a screen of run {run} there."), ""),
        "head-shared": (
            N_("The log has a screen of run {run} on head {head} too."),
            N_("Look which one hangs there, and note in the other run that its screen is off."),
        ),
        "head-unnamed": (
            N_("No image is known on head {head}: screen {screen} hangs there for position {station} ({image})."),
            N_("Look at it: log a good check, or say what is on it."),
        ),
        "pieces-over": (N_("That makes {good} good pieces of {ordered} ordered."), N_("Look at the count again.")),
        "gone-past": (N_("Overridden by {who}: {why}"), ""),
        "retired": (N_("This frame is retired ({cause_word})."), N_("Take another screen.")),
        "not-called-for": (
            N_("Wrong screen. This run needs none of its images. On it: {carries}"),
            N_("Put it back. Find this job’s screen."),
        ),
        "no-image": (
            N_("The log shows no stencil on it."),
            N_("Find this job’s screen. If an image is on it, note which, and have it checked."),
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
            N_("Position {station} already has screen {other}."),
            N_("This one is a spare: swap it in if it is to take that place."),
        ),
        "right-image": (N_("{image}: position {station}."), ""),
        "already-hung": (N_("This screen is already on press in this run, at position {station}."), ""),
        "hanging-elsewhere": (
            N_("The log says that it hangs on press in run {run}."),
            N_("Do you have it in front of you? Then say so."),
        ),
        "away": (N_("The log says that it is away."), N_("Do you have it in front of you? Then say so.")),
        "log-unclear": (
            N_("The log for this screen doesn’t add up."),
            N_("Say its stage and image. Then check it on the light table."),
        ),
        "not-ready": (
            N_("This screen is not ready: its stage is “{standing_word}”."),
            N_("The screen needs its remaining steps first."),
        ),
        "failed": (
            N_("The last washout or check of this screen found a fault ({fault_word})."),
            N_("Block it out and check it again, or make it new."),
        ),
        "test-strip-stencil": (
            N_("This screen carries a test strip, not a job’s stencil."),
            N_("Take the job’s screen."),
        ),
        "check-missing": (N_("No check on the light table was logged."), N_("Look it over against the light now.")),
        "taken-off-worn": (
            N_("This screen was taken off the press as “{condition_word}” and not checked since."),
            N_("Look it over against the light, block pinholes."),
        ),
        "fault-noted": (
            N_("Noted on the frame: {fault_word}."),
            N_("Measure its tension; for glue or frame check the screen again too. That clears it."),
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
        "tape-off": (N_("Also on this screen: {images}."), N_("Tape off what this run does not print.")),
        "exposed-wet": (
            N_("The coat was not dry when it was imaged or exposed: {left_min} too early."),
            N_("A damp coat exposes as if underexposed and breaks down early: watch the first prints for it."),
        ),
        "checked-wet": (
            N_("This screen was checked while still wet, {left_min} too early."),
            N_("Pinholes hide in a wet stencil: check it again, now that it is dry."),
        ),
        "coated-damp": (
            N_("This screen was coated at {room_pct} humidity ({limit_pct} or more)."),
            N_("Such a coat exposes soft: watch the first prints for break-down."),
        ),
        "coated-warm": (
            N_("This screen was coated in a room at {room_c} ({limit_c} or more)."),
            N_("Heat hardens a coat in the dark: look at the fine lines, check it again."),
        ),
    }
)
