"""Which screen a separation has already, and which free frame would serve it best, and why."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from typing import Any

from tickets.calculator.drying import WET, Air
from tickets.calculator.verdict import Level, Reason, Verdict, judge, phrases
from tickets.domain.bucket import Bucket
from tickets.domain.entry import read_stamp, stamp
from tickets.domain.screens import checks, frame_checks, press_checks
from tickets.domain.screens.frame_checks import Asked
from tickets.domain.screens.needs import going
from tickets.domain.screens.press_checks import Seen
from tickets.domain.screens.screen import FREE, TEST_STRIP, Life, Mesh, Tension
from tickets.domain.spec import Spec
from tickets.domain.stages import CHAIN, Standing
from tickets.i18n import N_

MOST = 3
"""How many frames are offered for a separation: a board is read at arm's length."""


@dataclass(frozen=True, slots=True)
class Frame:
    """A frame that may be looked at: its screen's number, code, life, the emulsion on it (None: not noted), and the
    air that it dries in (None: not read)."""

    screen: int
    code: str
    life: Life
    emulsion: Bucket | None = None
    air: Air | None = None


@dataclass(frozen=True, slots=True)
class Serves:
    """A frame that would serve: its verdict, and why in a few words (reasons to be said)."""

    frame: Frame
    verdict: Verdict
    why: tuple[Reason, ...]


class Has(StrEnum):
    """How near a separation is to a screen that can be hung."""

    ON_PRESS = "on press"
    READY = "ready"
    KEPT = "kept"
    UNDER_WAY = "under way"
    OFF_PRESS = "off press"
    ELSEWHERE = "elsewhere"
    GOING = "going"
    MISSING = "missing"
    AWAY = "away"
    UNSURE = "unsure"
    UNFIT = "unfit"
    NONE = "none"

    @property
    def covered(self) -> bool:
        """True when no other frame is needed."""
        return self in COVERED


COVERED = frozenset({Has.ON_PRESS, Has.READY, Has.KEPT, Has.UNDER_WAY, Has.OFF_PRESS, Has.ELSEWHERE})


@dataclass(frozen=True, slots=True)
class Progress:
    """The screen that is nearest to ready for a separation (None: no screen carries it). `next_step`: the logged step
    that comes next; `dry_at`: when its last coat or washout should be dry, while that is to come."""

    has: Has
    frame: Frame | None = None
    verdict: Verdict | None = None
    next_step: str = ""
    dry_at: datetime | None = None


def free_standings(logged: Collection[str]) -> tuple[Standing, ...]:
    """The standings from which a frame can take an image in a shop that logs the steps `logged`, nearest to it first.

    Where stripping is not logged, a screen that came off the press is as good as stripped.
    """
    return FREE if "strip" in logged else (*FREE, Standing.TO_STRIP, Standing.KEPT)


CARRIES_STILL = frozenset({Standing.KEPT, Standing.TO_CLEAN, Standing.TO_STRIP})
"""Standings of a screen that has printed, and whose stencil is on still."""


def is_free(life: Life, needed: bool) -> bool:
    """False for a frame whose stencil is still needed, that is to be kept, or that a stock-take did not find."""
    if life.torn or life.conflict or life.run is not None or life.not_at is not None:
        return False
    if life.standing is Standing.COATED:
        return not (life.stencil and life.stencil.failed)
    if life.standing in CARRIES_STILL:
        return life.decided != "keep" and not needed
    return True


# What there is ---------------------------------------------------------------------------------------------------


def progress(
    carriers: Iterable[Seen],
    asked: Asked,
    spec: Spec,
    now: datetime,
    logged: Collection[str],
    own: Callable[[int], bool] = lambda run: True,
) -> Progress:
    """How near `asked` is to a screen, out of those that carry it: the nearest to ready counts, a wrong one last.

    `own`: whether a run (by number) prints the placement that asks; a screen that hangs in another one is not there.
    """
    found = [_progress(seen, asked, spec, now, logged, own) for seen in carriers]
    order = list(Has)
    found.sort(key=lambda one: (order.index(one.has), one.verdict.level.rank if one.verdict else 0))
    return found[0] if found else Progress(Has.NONE)


def _progress(
    seen: Seen, asked: Asked, spec: Spec, now: datetime, logged: Collection[str], own: Callable[[int], bool]
) -> Progress:
    life, frame = seen.life, Frame(seen.screen, seen.code, seen.life, seen.emulsion, seen.air)
    standing, stencil = life.standing, life.stencil
    if life.conflict or standing is Standing.UNKNOWN or stencil is None:
        return Progress(Has.UNSURE, frame)
    against = _against(seen, asked, spec, now)
    if against is not None:
        return Progress(Has.UNFIT, frame, against)
    if going(life):
        return Progress(Has.GOING, frame, None, "decide" if life.decided == "strip" else "check")
    if life.not_at is not None:  # a stock-take did not find it: nobody can count on it
        return Progress(Has.MISSING, frame)
    hangable = standing in {Standing.READY, Standing.KEPT, Standing.ON_PRESS}
    run = life.run or 0
    verdict = (
        press_checks.at_press(seen, [asked], {}, run, spec, now, checks_logged="check" in logged).verdict
        if hangable
        else None
    )
    if verdict is not None and verdict.level is Level.STOP:
        stops = {reason.key for reason in verdict.reasons if reason.level is Level.STOP}
        if stops <= WET:  # time alone mends it
            return Progress(Has.UNDER_WAY, frame, verdict, "", _dry_at(seen, spec, now))
        return Progress(Has.UNFIT, frame, verdict)
    match standing:
        case Standing.ON_PRESS:
            return Progress(Has.ON_PRESS if life.run is None or own(life.run) else Has.ELSEWHERE, frame, verdict)
        case Standing.READY:
            return Progress(Has.READY, frame, verdict)
        case Standing.KEPT:
            return Progress(Has.KEPT, frame, verdict)
        case Standing.AWAY:
            return Progress(Has.AWAY, frame)
        case Standing.TO_CLEAN | Standing.TO_STRIP:
            return Progress(Has.OFF_PRESS, frame, None, "clean" if standing is Standing.TO_CLEAN else "decide")
    return Progress(Has.UNDER_WAY, frame, None, next_step(standing, logged), _dry_at(seen, spec, now))


def _against(seen: Seen, asked: Asked, spec: Spec, now: datetime) -> Verdict | None:
    """What stops this screen from ever printing `asked`, whatever its stage; None: nothing."""
    life, stencil = seen.life, seen.life.stencil
    reasons = frame_checks.same_mesh(life, asked, spec) + frame_checks.tension(life, asked.work, spec, now)
    reasons += checks.emulsion_fit(seen.emulsion, asked.inks)
    if life.torn:
        reasons.append(Reason("torn", Level.STOP))
    if stencil is not None and stencil.purpose == TEST_STRIP:
        reasons.append(Reason("test-strip-stencil", Level.STOP))
    if stencil is not None and stencil.failed and life.standing is not Standing.TO_CHECK:
        reasons.append(Reason("failed", Level.STOP, {"fault_word": stencil.fault or checks.NOT_SAID}))
    stops = [reason for reason in reasons if reason.level is Level.STOP]
    return judge(stops) if stops else None


def next_step(standing: Standing, logged: Collection[str]) -> str:
    """The next step of the way round that the shop logs; empty when the way leads no further."""
    at = standing
    for _unused in CHAIN:
        if at not in CHAIN:
            return ""
        step, then = CHAIN[at]
        if step in logged or step == "hang":
            return step
        at = then
    return ""


def _dry_at(frame: Frame | Seen, spec: Spec, now: datetime) -> datetime | None:
    wet = checks.drying(frame.life, spec, frame.air)
    return wet.ready_at if wet is not None and wet.ready_at > now else None


# What would serve ------------------------------------------------------------------------------------------------


def best(
    frames: Iterable[Frame],
    asked: Asked,
    neighbours: Mapping[str, Life],
    spec: Spec,
    now: datetime,
    *,
    most: int = MOST,
    promised: Collection[int] = (),
    known: dict[tuple[Any, ...], Verdict] | None = None,
) -> list[Serves]:
    """The free frames that would serve `asked` best, at most `most`; none that the spec stops.

    Right mesh and thread first; then a tension fit for the work; then a share of new tension near the neighbours'
    (`neighbours`: lives of the placement's other screens by code); then coated with a coat that is fresh and suits the
    ink; then the least worn. Frames `promised` to another separation come after all others that are not worse in mesh.
    `known`: verdicts kept between calls of one look at the shop, since the stations of a board ask alike.
    """
    known = {} if known is None else known
    asks = (asked.count_per_cm, asked.thread_um, asked.mesh, asked.work, asked.inks)
    found = []
    for frame in frames:
        if (frame.screen, *asks) not in known:
            known[(frame.screen, *asks)] = checks.fit(frame.life, asked, frame.emulsion, spec, now)
        verdict = known[(frame.screen, *asks)]
        far = frame_checks.neighbours(frame.life, neighbours, spec)
        verdict = judge([*verdict.reasons, *far])
        if verdict.level is Level.STOP or "mesh-unknown" in verdict.keys:
            continue
        key = (
            "mesh-thread-unknown" in verdict.keys,
            frame.screen in promised,
            _tension_rank(verdict),
            bool(far),
            _coat_rank(frame.life, verdict, _dry_at(frame, spec, now) is not None),
            frame.life.uses,
            frame.life.impressions,
            frame.screen,
        )
        found.append((key, frame, verdict))
    found.sort(key=lambda one: one[0])
    return [
        Serves(frame, verdict, _why(frame, asked, verdict, neighbours, spec, now, promised))
        for _key, frame, verdict in found[:most]
    ]


def _tension_rank(verdict: Verdict) -> int:
    """0 fit, 1 measured long ago or uneven, 2 under watch, 3 never measured."""
    keys = set(verdict.keys)
    if keys & {"tension-missing", "tension-no-floor", "tension-not-measured"}:
        return 3
    if "tension-under-watch" in keys:
        return 2
    cautions = {reason.key for reason in verdict.reasons if reason.level is not Level.OK}
    return int(any(key.startswith("tension-") and key != "tension-far-from-neighbours" for key in cautions))


def _coat_rank(life: Life, verdict: Verdict, wet: bool = False) -> int:
    """0 coated, dry, fresh, and suits the ink; 1 coated so, but `wet` still; 2 still to coat; 3 coated, but stale or of
    an emulsion nobody noted."""
    if life.standing is not Standing.COATED:
        return 2
    if {"coated-too-long", "coated-age-unknown", "emulsion-not-known"} & set(verdict.keys):
        return 3
    return int(wet)


# whole: one line for each reason, in the order in which they are said
def _why(
    frame: Frame,
    asked: Asked,
    verdict: Verdict,
    neighbours: Mapping[str, Life],
    spec: Spec,
    now: datetime,
    promised: Collection[int],
) -> tuple[Reason, ...]:
    life, keys = frame.life, verdict.keys
    ok, caution = Level.OK, Level.CAUTION
    why = []
    if "mesh-thread-unknown" in keys:
        why.append(Reason("serves-thread-unknown", caution))
    elif asked.thread_um is not None:
        why.append(Reason("serves-mesh-and-thread", ok))
    else:
        why.append(Reason("serves-mesh", ok))
    share = frame_checks.share_pct(life, spec)
    if life.tension is None:
        why.append(Reason("serves-not-measured", caution))
    else:
        level = caution if _tension_rank(verdict) else ok
        numbers = {"minimum_n_per_cm": life.tension.minimum_n_per_cm}
        if share is None:
            why.append(Reason("serves-tension", level, numbers))
        else:
            why.append(Reason("serves-tension-share", level, {**numbers, "share_pct": round(share)}))
        for old in ("tension-old", "tension-old-stencils"):
            if old in keys:
                why.append(Reason("serves-tension-old", caution))
    if "tension-far-from-neighbours" in keys:
        why.append(Reason("serves-far", caution))
    elif share is not None and any(frame_checks.share_pct(other, spec) is not None for other in neighbours.values()):
        why.append(Reason("serves-near", ok))
    if life.standing is Standing.COATED and life.stencil and life.stencil.coated_at:
        days = max(0.0, (now - read_stamp(life.stencil.coated_at)).total_seconds() / 86400)
        rank = _coat_rank(life, verdict)
        age = {"age_h": days * 24} if days < 2 else {"age_d": days}
        if rank:
            why.append(Reason("serves-coat-old" if "coated-too-long" in keys else "serves-coat-unknown", caution, age))
        else:
            why.append(Reason("serves-coated-hours" if days < 2 else "serves-coated-days", ok, age))
        dry_at = _dry_at(frame, spec, now)
        if dry_at is not None:
            why.append(Reason("serves-wet", caution, {"left_min": (dry_at - now).total_seconds() / 60}))
    why.append(Reason("serves-uses", ok, {"uses": life.uses}) if life.uses else Reason("serves-unused", ok))
    if frame.screen in promised:
        why.append(Reason("serves-promised", caution))
    return tuple(why)


@dataclass(frozen=True, slots=True)
class Alike:
    """Frames alike: the mesh on them (thread None: not known), the kind of frame, their lowest tension (None: never
    measured), how many they are, and whether they are coated already."""

    count_per_cm: float | None
    thread_um: float | None
    frame: str
    minimum_n_per_cm: float | None
    number: int = 1
    coated: bool = False


class Would(StrEnum):
    """Whether a frame would serve a work, by its mesh and its tension."""

    FIT = "fit"
    NOT_MEASURED = "not measured"
    THREAD_UNKNOWN = "thread unknown"
    SLACK = "slack"
    NO = "no"


HOPED = frozenset({Would.FIT, Would.NOT_MEASURED})
"""Frames that one counts on, though nobody may know their tension."""


def would(frame: Alike, asked: Asked, spec: Spec, now: datetime, logged: Collection[str]) -> Would:
    """Whether frames like this would serve `asked`; slack: but for a tension under its floor for that work. In a shop
    that does not log tension (`logged`: the steps that it does) none is missed."""
    mesh = Mesh("", frame.count_per_cm or 0.0, frame.thread_um, frame=frame.frame)
    low = frame.minimum_n_per_cm
    reading = Tension("", stamp(now), (low,)) if low is not None else None
    life = Life(standing=Standing.STRIPPED, mesh=mesh, tension=reading, tension_logged="tension" in logged)
    asked = replace(asked, count_per_cm=round(asked.count_per_cm, 4))  # as the counts of frames are kept
    reasons = frame_checks.same_mesh(life, asked, spec) + frame_checks.tension(life, asked.work, spec, now)
    stops = {reason.key for reason in reasons if reason.level is Level.STOP}
    keys = {reason.key for reason in reasons}
    if "mesh-unknown" in keys or stops - {"tension-under-floor"}:
        return Would.NO
    if "mesh-thread-unknown" in keys:
        return Would.NO if stops else Would.THREAD_UNKNOWN
    if "tension-missing" in keys and not stops:
        return Would.NOT_MEASURED
    return Would.SLACK if stops else Would.FIT


def one_mesh(meshes: Sequence[tuple[float, float | None]], spec: Spec) -> list[list[int]]:
    """Meshes (count per cm, thread in um) by what is one mesh to the shop: places in the list, each with the first that
    it is alike. One whose thread nobody noted is only like another such."""
    found: list[list[int]] = []
    for place, mesh in enumerate(meshes):
        for some in found:
            first = meshes[some[0]]
            noted = (first[1] is None) == (mesh[1] is None)
            if noted and all(reason.level is Level.OK for reason in frame_checks.compared(first, mesh, spec)):
                some.append(place)
                break
        else:
            found.append([place])
    return found


def like(life: Life) -> Alike:
    """The frame of one screen."""
    mesh, low = life.mesh, life.tension.minimum_n_per_cm if life.tension else None
    return Alike(mesh.count_per_cm, mesh.thread_um, mesh.frame, low) if mesh else Alike(None, None, "", low)


def alike(frames: Sequence[Frame], asked: Asked, spec: Spec) -> list[Frame]:
    """Those of `frames` whose mesh is the one asked for: what a stripping or a restretching would free."""
    return [
        one for one in frames
        if judge(frame_checks.same_mesh(one.life, asked, spec)).level not in {Level.STOP, Level.UNKNOWN}
    ]  # fmt: skip


def too_slack(frame: Frame, asked: Asked, spec: Spec, now: datetime) -> bool:
    """True when nothing but its tension stops this frame from serving."""
    stops = {reason.key for reason in checks.fit(frame.life, asked, frame.emulsion, spec, now).reasons
             if reason.level is Level.STOP}  # fmt: skip
    return bool(stops) and stops <= {"tension-under-floor"}


def frame_will_do(frame: Frame, asked: Asked, spec: Spec) -> bool:
    """False for a frame that does not hold register where several colours must fit: new mesh would not help it."""
    return frame_checks.holds_register(frame.life, asked.work, spec)


phrases(
    {
        "serves-mesh-and-thread": (N_("right mesh"), ""),
        "serves-mesh": (N_("right mesh"), ""),
        "serves-thread-unknown": (N_("thread not noted"), ""),
        "serves-not-measured": (N_("tension never measured"), ""),
        "serves-tension": (N_("{minimum_n_per_cm}"), ""),
        "serves-tension-share": (N_("{minimum_n_per_cm}"), ""),
        "serves-tension-old": (N_("old reading"), ""),
        "serves-far": (N_("tension doesn’t match the other screens"), ""),
        "serves-near": (N_("tension matches the other screens"), ""),
        "serves-coated-hours": (N_("coated {age_h} ago"), ""),
        "serves-coated-days": (N_("coated {age_d} ago"), ""),
        "serves-wet": (N_("wet, dry in {left_min}"), ""),
        "serves-coat-old": (N_("its coat is old"), ""),
        "serves-coat-unknown": (N_("may not suit the ink"), ""),
        "serves-uses": (N_("used {uses} times"), ""),
        "serves-unused": (N_("not used yet"), ""),
        "serves-promised": (N_("also named above"), ""),
    }
)
