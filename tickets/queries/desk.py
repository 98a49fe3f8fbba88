"""What the manager asks, gathered: reading only, from worked-out tables, each within a window and a number of rows."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Collection, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta

from sqlite_utils import Database

from tickets.domain.desk import pool
from tickets.domain.desk.shop_settings import shifts
from tickets.domain.entry import read_stamp, stamp
from tickets.domain.screens import frames, works
from tickets.domain.screens.frame_checks import Asked
from tickets.domain.screens.frames import Progress
from tickets.domain.screens.needs import going
from tickets.domain.screens.screen import FREE
from tickets.domain.spec import Spec
from tickets.domain.stages import STENCIL_ON, Standing, mesh_said
from tickets.queries.asked import Look, needed_at, too_slack
from tickets.queries.boards import newest_stays
from tickets.queries.desk_today import stations_ahead
from tickets.queries.shop_rules import the_spec, zone
from tickets.store import boards, codes, desk, jobs, screens
from tickets.store.jobs import WantedImage
from tickets.store.settings import setting

# The pool -----------------------------------------------------------------------------------------------------------

WINDOWS = (30, 90, 365)
"""Days back that a figure may be worked out from."""


@dataclass(frozen=True, slots=True)
class StageStays:
    """A stage: how long those that left it had stayed (None: nobody left), how many are there still, since when the
    first of them (empty: none is), and how many more a stock-take did not find."""

    standing: str
    ended: pool.Durations | None
    still: int
    oldest: str
    missing: int = 0


@dataclass(frozen=True, slots=True)
class PoolView:
    """How long screens stay at each stage, what is made in a shift, and how many frames that takes.

    `days`: how far back the figures reach, which is less than asked where the log is younger or very full.
    `share`: of the time that frames are to be enough for.
    """

    stays: tuple[StageStays, ...]
    meshes: tuple[pool.MeshPool, ...]
    shifts: tuple[tuple[date, tuple[int, ...]], ...]
    days: float
    share: float = 0.95


def pool_of(db: Database, now: datetime, days: int) -> PoolView:
    """The pool by the last `days`."""
    since = stamp(now - timedelta(days=days))
    by_standing = desk.frames_by_mesh(db)
    missing: Counter[str] = Counter()
    for standing, _mesh, _here, gone in by_standing:
        missing[standing] += gone
    names_of = [str(one) for one in Standing if one not in _NO_STAY]
    desk.stays_ahead(db, names_of, since, desk.MOST_STAYS)
    desk.still_there_ahead(db, names_of)
    ended = {name: pool.span(desk.stays(db, name, since, desk.MOST_STAYS)) for name in names_of}
    stages = [StageStays(name, ended[name], *desk.still_there(db, name), missing[name]) for name in names_of]
    begun = desk.begun(db, since, desk.MOST)
    # a young log, or one so full that only its newest part was read, must not water down the rate
    first = begun[-1][0] if len(begun) >= desk.MOST else desk.log_began(db)
    reach = min(days / 1.0, max((now - read_stamp(first)).total_seconds() / 86400, 1.0)) if first else days / 1.0
    start = now - timedelta(days=reach)
    stock = stock_by_mesh(db)
    busy = [
        (mesh, label, at, hours, True)
        for hours, mesh, label, at in desk.ended(db, stamp(start), 2 * desk.MOST)  # more may have ended than were begun
    ]
    now_s = stamp(now)
    for known, with_stencil in ((desk.on_frames(db, stamp(start)), True), (desk.in_work(db, stamp(start)), False)):
        for mesh, label, at, until in known:
            hours = (read_stamp(until or now_s) - read_stamp(at)).total_seconds() / 3600
            busy.append((mesh, label, until, hours, with_stencil))
    names, also = _mesh_names(db, stock, [one[0] for one in busy], {one[0]: one[1] for one in busy})
    there = dict.fromkeys(names.values(), pool.Stock())
    for mesh, some in stock.items():
        there[names[mesh]] += some
    times = []
    for mesh, _label, until, hours, with_stencil in busy:
        if mesh[0]:
            end = (read_stamp(until or now_s) - start).total_seconds() / 3600
            times.append(pool.Busy(names[mesh], end - hours, end if until else None, with_stencil))
    service = the_spec(db).find("frames-enough")
    share = service.value / 100 if service else 0.95
    meshes = pool.by_mesh([one for one in times if one.until is None or one.until > 0], there, reach, share)
    ready = [read_stamp(at) for at in desk.made_ready(db, stamp(now - timedelta(days=14)))]
    return PoolView(
        tuple(one for one in stages if one.ended is not None or one.still or one.missing),
        tuple(replace(one, also=also.get(one.mesh, ())) for one in meshes),
        tuple(pool.per_shift(ready, zone(db), shifts(setting(db, "shifts")))),
        reach,
        share,
    )


def stock_by_mesh(db: Database) -> dict[desk.OfMesh, pool.Stock]:
    """The frames of each mesh that are not retired: there, taken up, missing, too slack, free."""
    stock: dict[desk.OfMesh, pool.Stock] = {}
    loose = {one[:2]: one[2] for one in desk.slack_by_mesh(db, too_slack(db))}
    for standing, mesh, here, gone in desk.frames_by_mesh(db):
        if standing == Standing.RETIRED or not mesh[0]:
            continue
        slack = loose.get((standing, mesh), 0)
        serving = here - slack
        stock[mesh] = stock.get(mesh, pool.Stock()) + pool.Stock(
            serving, serving * (standing in NOT_FREE), gone, slack,
            serving * (standing in FREE), serving * (standing == Standing.COATED),
        )  # fmt: skip
    return stock


def _mesh_names(
    db: Database,
    stock: Mapping[desk.OfMesh, pool.Stock],
    others: Iterable[desk.OfMesh],
    used: Mapping[desk.OfMesh, str],
) -> tuple[dict[desk.OfMesh, str], dict[str, tuple[str, ...]]]:
    """What each mesh in stock and of some others is called, in the order of counts: what is one mesh to the shop has
    one name, that of most of its frames; and by which other names it goes. `used`: labels of meshes that none of the
    frames may have any more."""
    labels = {mesh[0]: label for mesh, label in used.items()}
    for _standing, label, count, _number in sorted(screens.counts(db), key=lambda one: one[3]):
        if count:
            labels[count] = label  # several labels of one count: that of most
    every = [mesh for mesh in dict.fromkeys([*stock, *others]) if mesh[0]]
    every.sort(key=lambda mesh: (-stock[mesh].there if mesh in stock else 0, mesh[0] or 0.0))
    names: dict[desk.OfMesh, str] = {}
    also: dict[str, tuple[str, ...]] = {}
    for some in frames.one_mesh([(mesh[0] or 0.0, mesh[1]) for mesh in every], the_spec(db)):
        said = [mesh_said(labels[every[place][0]], every[place][1]) for place in some]
        names |= dict.fromkeys((every[place] for place in some), said[0])
        also[said[0]] = tuple(name for name in dict.fromkeys(said) if name != said[0])
    return dict(sorted(names.items(), key=lambda one: (one[0][0] or 0.0, one[0][1] or 0.0))), also


_NO_STAY = frozenset({Standing.RETIRED, Standing.UNKNOWN})
NOT_FREE = STENCIL_ON | {Standing.DEGREASED, Standing.TO_RESTRETCH, Standing.AWAY}
"""Stages in which a frame is taken up, as the frames needed are counted: from degreasing to stripping, to be
restretched, away. One that is only degreased or coated is free all the same (`screen.FREE`): it can take any image."""


# Kept screens -------------------------------------------------------------------------------------------------------

KEPT_PAGE = 40
LOOKED_THROUGH = 400
"""Kept screens looked through for a page of the strip list: it stays quick however many are kept."""


@dataclass(frozen=True, slots=True)
class KeptScreen:
    """A kept screen and whether it is worth keeping by the shop's rule. `why`: asked, worn (asked for, but it covers no
    job until it was found good), until, for, young, over, idle; one that a stock-take did not find (`one.not_at`) is so
    only once it turns up.

    `asked`: the job that needs it; `idle_d`: days since it was printed last, or kept; `images`: what is on it.
    """

    one: desk.KeptUntil
    keep: bool
    why: str
    idle_d: int
    asked: jobs.Saved | None
    images: tuple[str, ...]


def worth_keeping(asked: bool, until: str, idle_d: float, today: str, limit_d: float | None) -> tuple[bool, str]:
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
    db: Database, now: datetime, after: int = 0, strip_only: bool = False, mesh: str = "", most: int = KEPT_PAGE,
    span: tuple[float, float] | None = None, fits: Callable[[frames.Alike], bool] | None = None,
    order: str = "number", down: bool = False,
) -> tuple[list[KeptScreen], int]:  # fmt: skip
    """A page of the kept screens, or of those not worth keeping that are there, in an order of `store.desk.kept`; and
    where the next page starts (0: the last one).

    `mesh`: of a mesh as labelled; `span`: of counts per cm from and to; `fits`: only such frames.
    """
    look = Look(db, now)
    judged = _keeping(look)
    found: list[KeptScreen] = []
    looked = 0
    while looked < LOOKED_THROUGH:
        rows = desk.kept(db, after, most + 1, mesh, span, order=order, down=down)
        in_doubt = [one for one in rows if one.asked_by is not None or one.kept_for]
        look.read_ahead(screens.many(db, [one.screen for one in in_doubt]))
        for one in rows[:most]:
            if len(found) == most:
                return found, after
            after, looked = one.screen, looked + 1
            keep, why, idle, job = judged(one)
            if (strip_only and (keep or one.not_at is not None)) or (fits is not None and not fits(one.frame)):
                continue
            found.append(
                KeptScreen(
                    one,
                    keep,
                    why,
                    int(idle),
                    job,
                    tuple(f"{on.name} · {on.art} {on.revision} · {on.customer}" for on in one.images.values()),
                )
            )
        if len(rows) <= most:
            return found, 0
    return found, after


def _keeping(look: Look) -> Callable[[desk.KeptUntil], tuple[bool, str, float, jobs.Saved | None]]:
    """The shop's rule on a kept screen: (worth keeping, why, days since it was printed or kept, the job that needs it
    first)."""
    db, now = look.db, look.now
    rule = the_spec(db).find("keep-days")
    limit = rule.value if rule else None
    today = now.astimezone(zone(db)).date().isoformat()

    def judged(one: desk.KeptUntil) -> tuple[bool, str, float, jobs.Saved | None]:
        last = max(one.since, one.last_hung)
        idle = max(0.0, (now - read_stamp(last)).total_seconds() / 86400) if last else 0.0
        life = screens.life(db, one.screen) if one.asked_by is not None or one.kept_for else None
        needs = look.needs(one.screen, life, spare=True) if life else ()
        code = next((need.job for need in needs if need.job), "")
        if not code and not one.until and needs:  # it is kept for something, and nobody said until when
            return True, "for", idle, None
        issued = codes.find(db, code) if code else None
        job = jobs.get(db, issued.thing) if issued else None
        if job is not None and life is not None and going(life) == "worn":
            return True, "worn", idle, job
        return *worth_keeping(job is not None, one.until, idle, today, limit), idle, job

    return judged


def to_strip_missing(db: Database, now: datetime, mesh: str = "") -> int:
    """How many kept screens not worth keeping nobody can fetch, since a stock-take did not find them."""
    judged = _keeping(Look(db, now))
    return sum(not judged(one)[0] for one in desk.kept(db, limit=LOOKED_THROUGH, mesh=mesh, lost=True))


# What runs short ----------------------------------------------------------------------------------------------------

AHEAD_DAYS = 14
BACK = (Standing.TO_CLEAN, Standing.TO_STRIP)
MAKE = (Standing.DEGREASED, Standing.COATED, Standing.IMAGED, Standing.EXPOSED, Standing.TO_CHECK)
NAMED = 12
"""Slack frames that are named by their codes, for one mesh."""
STRIPS = 6
"""Kept screens offered for stripping, for one mesh."""


@dataclass(frozen=True, slots=True)
class Soon:
    """Frames that come free of a job: how many of this mesh, and from which day on."""

    job: str
    title: str
    due: str
    number: int
    from_day: date


@dataclass(frozen=True, slots=True)
class Held:
    """Frames that would do here and are out with a print of another mesh: for which job, asked for as which mesh, how
    many; `stuck`: that print lacks a frame itself, and gives none back."""

    job: str
    title: str
    mesh: str
    number: int
    stuck: bool


@dataclass(frozen=True, slots=True)
class MeshAhead:
    """One mesh in the days to come.

    `free` frames (`screen.FREE`) are fit for some of what is asked of it, `coated` of these coated already, but
    `unmeasured` of these were never measured, and that it is enough may rest on so many of them (`rests`); `unknown`
    ones may be fit, but nobody noted their thread; `slack` ones are under the floor of the work; `waiting` ones come
    back once they are stripped; `done` ones came off the press and nothing asks for them, where the shop logs no
    stripping; `missing` ones a stock-take did not find, and nobody counts on them. `now`: those that are free and
    counted on, before any is given out; `needs`: the jobs whose screens have no frame yet, how many each. `short` is
    the first day with too few (None: enough), `worst` the day with fewest, `held` the frames that prints of other
    meshes have on these days and that would do for what goes without. What would help: kept screens not worth keeping,
    frames that are too slack for it made tight (`tight`: each with its step), frames to restretch with whatever mesh,
    frames that come free of a run.
    """

    mesh: str
    free: int
    unmeasured: int
    unknown: int
    slack: int
    coated: int
    waiting: int
    done: int
    missing: int
    now: int
    days: tuple[pool.Day, ...]
    needs: tuple[tuple[str, str, str, int], ...]
    short: pool.Day | None
    worst: pool.Day | None = None
    rests: int = 0
    held: tuple[Held, ...] = ()
    strip: tuple[KeptScreen, ...] = ()
    strip_more: bool = False
    restretch: int = 0
    soon: tuple[Soon, ...] = ()
    tight: tuple[tuple[boards.Short, str], ...] = ()
    also: tuple[str, ...] = ()  # other meshes that jobs ask for, so near that the same frames serve them

    @property
    def hit(self) -> tuple[tuple[str, str, str, int], ...]:
        """The jobs whose screens lack a frame on the first day with too few: code, title, press date, how many."""
        return tuple(one for one in self.needs if self.short and one[2] == self.short.day.isoformat())


@dataclass(frozen=True, slots=True)
class ShortAhead:
    """What runs short: meshes with a shortage first. `back_h`, `make_h`: hours from the press to a stripped frame, and
    from there to a ready screen, by the medians of the log (None: too few); `back_days` what that comes to."""

    meshes: tuple[MeshAhead, ...]
    back_h: float | None
    make_h: float | None
    back_days: int
    more: bool


@dataclass
class _Meshes:
    """One look at the frames: the wants of the coming jobs (mesh and work), by number, and what serves them."""

    db: Database
    now: datetime
    spec: Spec
    logged: Sequence[str]
    wants: list[Asked] = field(default_factory=list)
    _would: dict[tuple[frames.Alike, int], frames.Would] = field(default_factory=dict)

    def frames_of(
        self, spans: Sequence[desk.Span], free: Sequence[str], given_up: Sequence[Standing]
    ) -> tuple[list[list[frames.Alike]], list[dict[Standing, list[tuple[int, frames.Alike]]]]]:
        """Of each span of counts the frames at some standings, those alike put together; and those at the standings
        `given_up` that nobody keeps and nothing needs, by standing: (screen, frame)."""
        floors = sorted({row.value for row in self.spec.rows if row.key == "tension-floor" and row.value is not None})
        needed = needed_at(self.db, given_up, self.now)
        alike, single = desk.frames_of(self.db, spans, free, floors, [str(one) for one in given_up])
        return alike, [
            {one: [few for few in found[str(one)] if few[0] not in needed] for one in given_up} for found in single
        ]

    def number(self, asked: Asked) -> int:
        """The number of the want that this is."""
        key = (round(asked.count_per_cm, 4), asked.thread_um, asked.work)
        for number, one in enumerate(self.wants):
            if (round(one.count_per_cm, 4), one.thread_um, one.work) == key:
                return number
        self.wants.append(asked)
        return len(self.wants) - 1

    def would(self, frame: frames.Alike, want: int) -> frames.Would:
        """Whether a frame would serve a want."""
        alone = replace(frame, number=1)
        if (alone, want) not in self._would:
            self._would[alone, want] = frames.would(alone, self.wants[want], self.spec, self.now, self.logged)
        return self._would[alone, want]

    def serves(self, frame: frames.Alike, of: Collection[frames.Would] = frames.HOPED) -> frozenset[int]:
        """The wants that a frame would serve so well."""
        return frozenset(n for n in range(len(self.wants)) if self.would(frame, n) in of)

    def sections(self) -> list[list[int]]:
        """The wants by mesh: the same mesh for different work stands together."""
        return frames.one_mesh([(round(one.count_per_cm, 4), one.thread_um) for one in self.wants], self.spec)

    def span(self, wants: Iterable[int]) -> tuple[float, float]:
        """Counts per cm from and to that may serve, with a little room: the check itself decides."""
        limit = self.spec.find("mesh-count-tolerance")
        share = (limit.value if limit else 0.0) / 100 + 0.002
        counts = [self.wants[number].count_per_cm for number in wants]
        return min(counts) * (1 - share), max(counts) * (1 + share)


# whole: the frames go through jobs, wants and gifts in one order, and each state is needed by the next
def ahead(db: Database, now: datetime, days: int = AHEAD_DAYS) -> ShortAhead:
    """Frames by mesh against what the open jobs want in the days to come.

    Ganged images need one frame, an image that several jobs ask for too, and an image that has its screen needs none;
    but an image that one placement prints twice needs two.
    """
    today = now.astimezone(zone(db)).date()
    lines, more = stations_ahead(db, now, (today + timedelta(days=days)).isoformat())
    back_h, make_h = _through(db, now, BACK), _through(db, now, MAKE)
    hours = (back_h if back_h is not None else 24.0) + (make_h if make_h is not None else 24.0)
    back_days = max(1, math.ceil(hours / 24))
    look = _Meshes(db, now, the_spec(db), setting(db, "steps"))
    covered: dict[int, tuple[WantedImage, Progress]] = {}  # by screen: the last job that it prints
    # by image, its how-manyeth, and want: the first job that asks for it, when that and when the last one is due
    needed: dict[tuple[int, int, int], tuple[WantedImage, date, date]] = {}
    times: Counter[tuple[int, int, int]] = Counter()
    for line, asked, progress in lines:
        want, where = look.number(asked), (line.job, line.placement, line.separation)
        nth, times[where] = times[where], times[where] + 1
        there = progress.has.covered and progress.frame is not None
        if there and (not nth or len(screens.carrying(db, line.separation)) > nth):
            assert progress.frame is not None
            covered[progress.frame.screen] = (line, progress)
        else:
            due = max(date.fromisoformat(line.due), today)
            first, since, _until = needed.get((line.separation, nth, want), (line, due, due))
            needed[line.separation, nth, want] = (first, since, due)
    given_back = timedelta(days=back_days)
    soon = [
        (line, frames.like(progress.frame.life), max(date.fromisoformat(line.due), today) + given_back)
        for line, progress in covered.values()
        if progress.frame is not None
    ]
    sections = look.sections()
    stock, waiting, counted = _stock(look, sections, covered)
    reckoned: list[tuple[tuple[int, int] | None, date, frames.Alike]]
    reckoned = [((line.job, line.placement), day, frame) for line, frame, day in soon]
    reckoned += [(None, today, frame) for frame in stock] + [(None, today + given_back, frame) for frame in waiting]
    wanted = [
        pool.FrameNeed(want, due, (line.job, line.placement), until)
        for (*_image, want), (line, due, until) in needed.items()
    ]

    def planned(of: Collection[frames.Would]) -> pool.FramePlan:
        supply = [(held, pool.Supply(day, look.serves(frame, of), frame.number)) for held, day, frame in reckoned]
        made = [(held, one) for held, one in supply if one.serves and held is not None]
        loose = [one for held, one in supply if one.serves and held is None]
        return pool.FramePlan(today, days, loose, wanted, back_days, made)

    plan = planned(frames.HOPED)
    unmeasured = any(look.serves(frame, {frames.Would.NOT_MEASURED}) for _held, _day, frame in reckoned)
    sure = planned({frames.Would.FIT}) if unmeasured else plan
    said = {want: look.wants[section[0]].mesh for section in sections for want in section}
    printed: dict[Hashable, WantedImage] = {(line.job, line.placement): line for line, _asked, _progress in lines}

    def held(section: Sequence[int], short: Iterable[pool.Day]) -> Iterator[Held]:
        most: Counter[tuple[Hashable, int]] = Counter()
        for day in short:
            most |= plan.held(section, day.day)
        by_mesh: Counter[tuple[Hashable, str]] = Counter()
        for (whole, want), number in most.items():
            by_mesh[whole, said[want]] += number
        for (whole, mesh), number in by_mesh.items():
            line = printed[whole]
            yield Held(line.code, line.title, mesh, number, plan.stuck(whole))

    out = []
    for section, (some, to_come) in zip(sections, counted, strict=True):
        table = plan.of(section)
        needs = Counter(
            (line.code, line.title, line.due) for (*_image, want), (line, *_due) in needed.items() if want in section
        )
        short = next((day for day in table if day.left < 0), None)
        worst = min(table, key=lambda day: day.left) if short else None
        mesh = MeshAhead(
            said[section[0]], *some, *to_come, plan.free_now(section), tuple(table),
            tuple((code, title, due, number) for (code, title, due), number in needs.items()), short,
            worst, 0 if short else max(0, -min(day.left for day in sure.of(section))),
            tuple(held(section, [day for day in (short, worst) if day is not None])),
            also=tuple(dict.fromkeys(mesh for want in section if (mesh := look.wants[want].mesh) != said[section[0]])),
        )  # fmt: skip
        free = [one for one in soon if not plan.stuck((one[0].job, one[0].placement))]
        out.append(_helped(look, mesh, section, free) if short else mesh)
    out.sort(key=lambda one: (one.short is None, one.short.day if one.short else today, not one.rests))
    return ShortAhead(tuple(out), back_h, make_h, back_days, more)


Counted = tuple[tuple[int, int, int, int, int], tuple[int, int, int]]
"""Frames of a mesh: free and fit, those of them that were never measured, free with a thread unknown, free but slack,
free and coated; those that wait to be stripped, those given up by a shop that logs no stripping, and the missing."""


def _stock(
    look: _Meshes, sections: Sequence[Sequence[int]], covered: Collection[int]
) -> tuple[list[frames.Alike], list[frames.Alike], list[Counted]]:
    """The frames that can take an image now, those that wait to be stripped, each of either once, and what they come to
    for each section."""
    free = frames.free_standings(look.logged)
    plain = [str(one) for one in free if one not in {Standing.TO_STRIP, Standing.KEPT}]
    stock: dict[frames.Alike, int] = {}
    waiting: dict[int, frames.Alike] = {}
    counted: list[Counted] = []
    spans = [look.span(section) for section in sections]
    given_free = [one for one in free if str(one) not in plain]
    given_back = [one for one in BACK if one not in free]
    there, given_up = look.frames_of(spans, plain, list(dict.fromkeys([*given_free, *given_back])))
    not_found = desk.frames_missing(look.db)
    for number, section in enumerate(sections):
        low, high = spans[number]
        alike: Counter[frames.Alike] = Counter()
        for frame in there[number]:
            alike[replace(frame, number=1)] += frame.number
        done = Counter(frame for standing in given_free for _screen, frame in given_up[number][standing])
        stock |= alike + done
        back = {
            screen: frame
            for standing in given_back
            for screen, frame in given_up[number][standing]
            if screen not in covered
        }
        waiting |= back
        best = [(_best(look, frame, section), some, frame.coated) for frame, some in alike.items()]
        fit, unmeasured, unknown, slack = (
            sum(some for would, some, _on in best if would is level) for level in list(frames.Would)[:4]
        )
        coated = sum(some for would, some, on in best if on and would in frames.HOPED)
        to_come = sum(_best(look, frame, section) in frames.HOPED for frame in back.values())
        given = sum(some for frame, some in done.items() if _best(look, frame, section) in frames.HOPED)
        gone = [_best(look, frame, section) for frame in not_found if low <= (frame.count_per_cm or 0) <= high]
        missing = len(gone) - gone.count(frames.Would.NO)
        counted.append(((fit + unmeasured, unmeasured, unknown, slack, coated), (to_come, given, missing)))
    return [replace(frame, number=number) for frame, number in stock.items()], list(waiting.values()), counted


def _best(look: _Meshes, frame: frames.Alike, section: Iterable[int]) -> frames.Would:
    """How well a frame would serve the works of a mesh: that counts which it would serve best, as it is given out."""
    order = list(frames.Would)
    return min((look.would(frame, want) for want in section), key=order.index)


def _through(db: Database, now: datetime, standings: Iterable[Standing]) -> float | None:
    """Hours through some stages, by the median of each in the last 90 days; None where nobody went through any."""
    since = stamp(now - timedelta(days=90))
    spans = [pool.span([hours for hours, until in newest_stays(db, one) if until >= since]) for one in standings]
    known = [one.median_h for one in spans if one is not None]
    return sum(known) if known else None


def _helped(
    look: _Meshes, mesh: MeshAhead, section: Sequence[int], soon: Iterable[tuple[WantedImage, frames.Alike, date]]
) -> MeshAhead:
    """What would help a mesh that runs short."""
    mine = frozenset(section)
    strip, further = kept(
        look.db, look.now, strip_only=True, most=STRIPS, span=look.span(section),
        fits=lambda frame: bool(look.serves(frame) & mine),
    )  # fmt: skip
    coming = Counter((line.code, line.title, line.due, day) for line, frame, day in soon if look.serves(frame) & mine)
    free = [Soon(code, title, due, number, day) for (code, title, due, day), number in coming.items()]
    restretch = sum(
        number for standing, _mesh, _count, number in screens.counts(look.db) if standing == Standing.TO_RESTRETCH
    )
    floors = [row.value for row in look.spec.rows if row.key == "tension-floor" and row.value is not None]
    plain = [str(one) for one in frames.free_standings(look.logged) if one not in frames.CARRIES_STILL]
    under = boards.measured_under(look.db, *look.span(section), plain, max(floors, default=0.0)) if mesh.slack else []
    slack = [
        (one, works.made_tight(frame.frame))
        for one, frame in under
        if _best(look, frame, section) is frames.Would.SLACK
    ]
    return replace(
        mesh, strip=tuple(strip), strip_more=bool(further), restretch=restretch, soon=tuple(free[:6]),
        tight=tuple(slack[:NAMED]),
    )  # fmt: skip
