"""What the manager asks, gathered: reading only, from worked-out tables, each within a window and a number of rows."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from sqlite_utils import Database

from tickets.floor.boards import stations_ahead
from tickets.floor.learning import CM_PER_IN, units_of
from tickets.floor.posting import the_spec, zone
from tickets.records import control, frames, pool, tracing
from tickets.records.bucket import Bucket
from tickets.records.checks import Asked
from tickets.records.entry import read_stamp, stamp
from tickets.records.frames import Has, Progress
from tickets.records.screen import STENCIL_ON, Standing
from tickets.records.spec import Row, Spec
from tickets.store import boards, buckets, desk, jobs, places, readings, screens
from tickets.store.jobs import Wanted
from tickets.store.settings import setting

# The pool -----------------------------------------------------------------------------------------------------------

WINDOWS = (30, 90, 365)
"""Days back that a figure may be worked out from."""


@dataclass(frozen=True, slots=True)
class PoolView:
    """How long screens stay at each stage, what is made in a shift, and how many frames that takes.

    `days`: how far back the figures reach, which is less than asked where the log is younger or very full.
    """

    stays: tuple[tuple[str, pool.Span], ...]
    meshes: tuple[pool.MeshPool, ...]
    shifts: tuple[tuple[date, tuple[int, int, int]], ...]
    days: float


def pool_of(db: Database, now: datetime, days: int) -> PoolView:
    """The pool by the last `days`."""
    since = stamp(now - timedelta(days=days))
    spans = [(str(one), pool.span(desk.stays(db, str(one), since))) for one in Standing if one not in _NO_STAY]
    begun = desk.begun(db, since)
    reach = days / 1.0
    if begun:
        # a young log, or one so full that only its newest part was read, must not water down the rate
        reach = min(reach, max((now - read_stamp(begun[-1][0])).total_seconds() / 86400, 1.0))
    frames: dict[str, tuple[int, int]] = {}
    for standing, mesh, _count, number in screens.counts(db):
        if standing in _NOT_IN_SERVICE or not mesh:
            continue
        here, taken = frames.get(mesh, (0, 0))
        frames[mesh] = (here + number, taken + (number if standing in STENCIL_ON else 0))
    meshes = pool.by_mesh((mesh for _at, mesh in begun), desk.ended(db, since), frames, reach)
    ready = [read_stamp(at) for at in desk.made_ready(db, stamp(now - timedelta(days=14)))]
    return PoolView(
        tuple((name, one) for name, one in spans if one is not None),
        tuple(one for one in meshes if one.mesh),
        tuple(pool.per_shift(ready, zone(db))),
        reach,
    )


_NO_STAY = frozenset({Standing.RETIRED, Standing.UNKNOWN})
_NOT_IN_SERVICE = frozenset({Standing.RETIRED, Standing.TO_RESTRETCH, Standing.AWAY})


# What goes wrong ----------------------------------------------------------------------------------------------------

SCREEN_STOPS = frozenset({"pinhole", "screen breakdown"})
"""Stops of a press that are the screen's doing."""


MOST_RUNS = 300
"""Runs whose screens are counted against their stops: the newest of the window."""


@dataclass(frozen=True, slots=True)
class Wrong:
    """Faults, stops and misprints of a window, each with the number that it is out of.

    `washouts`: faults by cause out of all washouts. `by`: by exposure unit, emulsion, bucket, mesh, step left out: the
    share of washouts (stencils, for a step left out) with a fault. `stops` by cause: how many, and their minutes.
    `misprints` by cause out of all pieces printed; `presses`: misprinted pieces out of those of each press.
    `screen_stops`: stencils that hung in a run with a stop for the screen, by the same groups. `newest`: where the
    window holds more, only so many of each were counted (0: all were).
    """

    washouts: tuple[control.Share, ...]
    by: tuple[tuple[str, tuple[control.Share, ...]], ...]
    stops: tuple[tuple[str, int, float], ...]
    runs: int
    misprints: tuple[control.Share, ...]
    presses: tuple[control.Share, ...]
    screen_stops: tuple[tuple[str, tuple[control.Share, ...]], ...]
    newest: int = 0


def wrong(db: Database, now: datetime, days: int) -> Wrong:
    """What went wrong in the last `days`."""
    since = stamp(now - timedelta(days=days))
    washed = desk.washed(db, since)
    of: dict[int | None, Bucket | None] = {None: None}

    def bucket(number: int | None) -> Bucket | None:
        if number not in of:
            of[number] = buckets.get(db, number) if number is not None else None
        return of[number]

    def names(number: int | None) -> tuple[str, str]:
        known = bucket(number)
        if known is None:
            return "", ""
        return f"{known.kind} {known.product}".strip(), known.code

    faulty = [one for one in washed if one.fault]
    causes = Counter(one.fault for one in faulty)
    left = desk.left_out(db, since)
    steps = dict.fromkeys(step for missed, _fault in left for step in missed.split("|") if step)
    skipped: list[control.Share] = []
    for step in steps:
        pair = control.shares((f"-{step}" if step in missed.split("|") else f"+{step}", bad) for missed, bad in left)
        skipped += sorted(pair, key=lambda one: one.name)[::-1]
    groups = (
        ("exposure unit", control.shares((one.exposure_unit, bool(one.fault)) for one in washed)),
        ("emulsion", control.shares((names(one.bucket)[0], bool(one.fault)) for one in washed)),
        ("bucket", control.shares((names(one.bucket)[1], bool(one.fault)) for one in washed)),
        ("mesh", control.shares((_count_name(one.count_per_cm), bool(one.fault)) for one in washed)),
        ("left out", skipped),
    )
    upset = desk.upset(db, since)
    stops: dict[str, list[float]] = {}
    misprinted: Counter[str] = Counter()
    press_bad: Counter[str] = Counter()
    press_all: Counter[str] = Counter()
    for _run, press, one in upset:
        if one.step == "stop":
            stops.setdefault(one.cause, []).append(one.minutes or 0.0)
        else:
            misprinted[one.cause] += one.misprinted
            press_bad[press] += one.misprinted
            press_all[press] += one.good + one.misprinted
    pieces = press_all.total()
    runs = sorted({run for run, _press, _one in upset}, reverse=True)[:MOST_RUNS]
    stopped = {run for run, _press, one in upset if one.step == "stop" and one.cause in SCREEN_STOPS}
    hung = desk.hung_in(db, runs)
    return Wrong(
        tuple(control.Share(name, number, len(washed)) for name, number in causes.most_common()),
        tuple((name, tuple(found)) for name, found in groups if found),
        tuple(sorted(((cause, len(some), sum(some)) for cause, some in stops.items()), key=lambda one: -one[1])),
        len(runs),
        tuple(control.Share(cause, number, pieces) for cause, number in misprinted.most_common() if number),
        tuple(control.Share(press, press_bad[press], number) for press, number in press_all.most_common() if number),
        tuple(
            (name, tuple(control.shares((key(one), one.run in stopped) for one in hung)))
            for name, key in (
                ("exposure unit", lambda one: one.exposure_unit),
                ("bucket", lambda one: names(one.bucket)[1]),
                ("mesh", lambda one: one.mesh),
            )
            if hung
        ),
        desk.MOST if desk.MOST in {len(washed), len(upset)} else 0,
    )


def _count_name(count_per_cm: float | None) -> str:
    return f"{count_per_cm * CM_PER_IN:.0f}/in" if count_per_cm else ""


def step_charts(db: Database, now: datetime) -> list[tuple[str, str, control.Chart]]:
    """The steps held on each exposure unit since its lamp was put in: (unit, since when, chart)."""
    found = []
    for name in units_of(db):
        unit = places.find_unit(db, name)
        changes = [one.at for one in places.lamp_changes(db, unit.id)] if unit else []
        since = max((at for at in changes if at <= stamp(now)), default="")
        rows = readings.washouts_of_unit(db, name, since, until=stamp(now))
        steps = [(one.at, one.step_held) for one in rows if one.step_held is not None]
        found.append((name, since, control.step_chart(steps)))
    return found


# Kept screens -------------------------------------------------------------------------------------------------------

KEPT_PAGE = 40
LOOKED_THROUGH = 400
"""Kept screens looked through for a page of the strip list: it stays quick however many are kept."""


@dataclass(frozen=True, slots=True)
class KeptScreen:
    """A kept screen and whether it is worth keeping by the shop's rule. `why`: asked, until, young, over, idle.

    `asked`: the job that asks for it; `idle_d`: days since it was printed last, or kept; `images`: what is on it.
    """

    one: desk.Kept
    keep: bool
    why: str
    idle_d: int
    asked: jobs.Saved | None
    images: tuple[str, ...]


def worth_keeping(
    asked: bool, until: str, idle_d: float, today: str, limit_d: float | None
) -> tuple[bool, str]:
    """The shop's rule: what an open job asks for is kept; else what somebody kept until a day, up to that day; else for
    so many days without a print (`limit_d` None: for ever). Days as ISO dates."""
    if asked:
        return True, "asked"
    if until:
        return (True, "until") if until >= today else (False, "over")
    if limit_d is None or idle_d <= limit_d:
        return True, "young"
    return False, "idle"


def kept(
    db: Database, now: datetime, after: int = 0, strip_only: bool = False, mesh: str = "", most: int = KEPT_PAGE
) -> tuple[list[KeptScreen], int]:
    """A page of the kept screens, or of those not worth keeping; and where the next page starts (0: the last one)."""
    rule = the_spec(db).find("keep-days")
    limit = rule.value if rule else None
    today = now.astimezone(zone(db)).date().isoformat()
    found: list[KeptScreen] = []
    looked = 0
    while looked < LOOKED_THROUGH:
        rows = desk.kept(db, after, most + 1, mesh)
        for one in rows[:most]:
            if len(found) == most:
                return found, after
            after, looked = one.screen, looked + 1
            last = max(one.since, one.last_hung)
            idle = max(0.0, (now - read_stamp(last)).total_seconds() / 86400) if last else 0.0
            keep, why = worth_keeping(one.asked_by is not None, one.until, idle, today, limit)
            if strip_only and keep:
                continue
            images = jobs.separations(db, [int(text) for text in one.separations.split()])
            found.append(
                KeptScreen(
                    one,
                    keep,
                    why,
                    int(idle),
                    jobs.get(db, one.asked_by) if one.asked_by else None,
                    tuple(f"{one.name} · {one.art} {one.revision} · {one.customer}" for one in images.values()),
                )
            )
        if len(rows) <= most:
            return found, 0
    return found, after


# What runs short ----------------------------------------------------------------------------------------------------

AHEAD_DAYS = 14
BACK = (Standing.TO_CLEAN, Standing.TO_STRIP)
MAKE = (Standing.DEGREASED, Standing.COATED, Standing.IMAGED, Standing.EXPOSED, Standing.TO_CHECK)


@dataclass(frozen=True, slots=True)
class Soon:
    """Frames that come free of a job: how many of this mesh, and from which day on."""

    job: str
    title: str
    due: str
    number: int
    from_day: date


@dataclass(frozen=True, slots=True)
class MeshAhead:
    """One mesh in the days to come. `free` frames are fit, `slack` ones are free too but under the floor.

    `short` is the first day with too few (None: enough). What would help: kept screens not worth keeping, frames to
    restretch, frames that come free of a run.
    """

    mesh: str
    free: int
    slack: int
    waiting: int
    days: tuple[pool.Day, ...]
    needs: tuple[tuple[str, str, str, int], ...]
    short: pool.Day | None
    strip: tuple[KeptScreen, ...] = ()
    strip_more: bool = False
    restretch: int = 0
    soon: tuple[Soon, ...] = ()


@dataclass(frozen=True, slots=True)
class Ahead:
    """What runs short: meshes with a shortage first. `back_h`, `make_h`: hours from the press to a stripped frame, and
    from there to a ready screen, by the medians of the log (None: too few); `back_days` what that comes to."""

    meshes: tuple[MeshAhead, ...]
    back_h: float | None
    make_h: float | None
    back_days: int
    more: bool


def ahead(db: Database, now: datetime, days: int = AHEAD_DAYS) -> Ahead:
    """Frames by mesh against what the open jobs want in the days to come."""
    today = now.astimezone(zone(db)).date()
    found, more = stations_ahead(db, now, (today + timedelta(days=days)).isoformat())
    back_h, make_h = _through(db, now, BACK), _through(db, now, MAKE)
    hours = (back_h or 24.0) + (make_h or 24.0)
    back_days = max(1, math.ceil(hours / 24))
    spec, logged = the_spec(db), setting(db, "steps")
    share = (limit.value if (limit := spec.find("mesh-count-tolerance")) else 0.0) / 100 + 0.002
    groups: list[tuple[Asked, list[tuple[Wanted, Progress]]]] = []
    for line, asked, progress in found:
        for first, lines in groups:
            if abs(first.count_per_cm - asked.count_per_cm) <= share * first.count_per_cm:
                lines.append((line, progress))
                break
        else:
            groups.append((asked, [(line, progress)]))
    out = []
    for asked, lines in groups:
        low, high = asked.count_per_cm * (1 - share), asked.count_per_cm * (1 + share)
        free, slack = _free(db, asked, low, high, spec, logged)
        waiting = sum(
            number for standing, _mesh, count, number in screens.counts(db)
            if standing in BACK and count is not None and low <= count <= high
        )  # fmt: skip
        covered = [(line, one) for line, one in lines if one.has.covered]
        needed = [line for line, one in lines if not one.has.covered]
        table = pool.ahead(
            today, days, free, waiting,
            (date.fromisoformat(line.due) for line, one in covered if one.has is not Has.OFF_PRESS),
            (date.fromisoformat(line.due) for line in needed), back_days,
        )  # fmt: skip
        short = next((day for day in table if day.left < 0), None)
        needs = Counter((line.code, line.title, line.due) for line in needed)
        mesh = MeshAhead(
            asked.mesh, free, slack, waiting, tuple(table),
            tuple((code, title, due, number) for (code, title, due), number in needs.items()), short,
        )  # fmt: skip
        out.append(_helped(db, now, mesh, covered, low, high, back_days, today) if short else mesh)
    out.sort(key=lambda one: (one.short is None, one.short.day if one.short else today))
    return Ahead(tuple(out), back_h, make_h, back_days, more)


def _through(db: Database, now: datetime, standings: Iterable[Standing]) -> float | None:
    """Hours through some stages, by the median of each in the last 90 days; None where nobody went through any."""
    since = stamp(now - timedelta(days=90))
    spans = [pool.span(desk.stays(db, str(one), since, 200)) for one in standings]
    known = [one.median_h for one in spans if one is not None]
    return sum(known) if known else None


def _free(
    db: Database, asked: Asked, low: float, high: float, spec: Spec, logged: Sequence[str]
) -> tuple[int, int]:
    """Frames of a mesh that can take an image now: how many are fit, how many are under the floor."""
    facts = {"work": asked.work, "count_per_in": asked.count_per_cm * CM_PER_IN}
    floor = spec.find("tension-floor", **facts)
    standings = [str(one) for one in frames.free_standings(logged)]
    rows = boards.frames_of_mesh(db, low, high, standings)
    slack = sum(
        1 for one in rows if floor and one.minimum_n_per_cm is not None and one.minimum_n_per_cm < floor.value
    )
    return len(rows) - slack, slack


def _helped(
    db: Database, now: datetime, mesh: MeshAhead, covered: Sequence[tuple[Wanted, Progress]], low: float, high: float,
    back_days: int, today: date,
) -> MeshAhead:  # fmt: skip
    """What would help a mesh that runs short."""
    labels = {
        (standing, label): number for standing, label, count, number in screens.counts(db)
        if count is not None and low <= count <= high
    }  # fmt: skip
    strip: list[KeptScreen] = []
    further = False
    for label in dict.fromkeys(label for _standing, label in labels):
        if labels.get((str(Standing.KEPT), label)):
            some, after = kept(db, now, strip_only=True, mesh=label, most=6)
            strip, further = strip + some, further or bool(after)
    coming = Counter((line.code, line.title, line.due) for line, one in covered)
    assert mesh.short is not None
    soon = [
        Soon(code, title, due, number, max(date.fromisoformat(due), today) + timedelta(days=back_days))
        for (code, title, due), number in coming.items()
    ]
    restretch = sum(number for (standing, _label), number in labels.items() if standing == Standing.TO_RESTRETCH)
    return replace(mesh, strip=tuple(strip), strip_more=further, restretch=restretch, soon=tuple(soon[:6]))


# Limits that nag ----------------------------------------------------------------------------------------------------

SET_UPS = 300
"""The newest runs that the limits are looked at over."""


@dataclass(frozen=True, slots=True)
class Nag:
    """A reason that cautioned `number` of the `of` newest set-ups. `row`: the limit that it rests on (None: it rests on
    none); `moved`: where that limit would have to lie, and what would then be cautioned."""

    key: str
    number: int
    of: int
    row: Row | None
    moved: control.Moved | None
    nags: bool


def nags(db: Database) -> tuple[list[Nag], int]:
    """What set-ups are warned of, the most often first, those over a fifth marked; and how many set-ups there were."""
    seen = desk.warned(db, SET_UPS)
    set_ups = len({run for run, one in seen if not one.key})
    rows = {row.id: row for row in the_spec(db).rows}
    groups: dict[tuple[str, int | None], dict[int, float | None]] = {}
    for run, one in seen:
        if one.key:
            groups.setdefault((one.key, one.row), {})[run] = one.value
    found = []
    for (key, number), values in groups.items():
        nag = set_ups >= control.NAG_LEAST and len(values) > control.NAG_SHARE * set_ups
        below = tracing.MEASURED.get(key, ("", "above"))[1] == "below"
        known = [value for value in values.values() if value is not None]
        shift = control.moved(known, set_ups, below) if nag and len(known) == len(values) else None
        row = rows.get(number) if number is not None else None
        found.append(Nag(key, len(values), set_ups, row, shift if row is not None else None, nag))
    return sorted(found, key=lambda one: -one.number), set_ups
