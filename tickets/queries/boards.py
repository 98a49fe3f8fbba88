"""What the boards show, gathered: reading only, page by page, from worked-out tables."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from statistics import median
from typing import Any

from sqlite_utils import Database

from tickets.calculator.drying import Air
from tickets.calculator.verdict import Verdict
from tickets.domain.entry import read_stamp, stamp
from tickets.domain.screens import checks, works
from tickets.domain.screens import frames as rules
from tickets.domain.screens.frame_checks import CM_PER_IN, Asked
from tickets.domain.screens.frames import Frame, Has, Progress, Serves
from tickets.domain.screens.needs import let_go
from tickets.domain.screens.screen import Life, Stencil
from tickets.domain.separation import Separation
from tickets.domain.spec import Spec
from tickets.domain.stages import CHAIN, Standing
from tickets.queries.air import air_of
from tickets.queries.asked import Look, buckets_on, emulsion_of, needed_at, span, too_slack
from tickets.queries.shop_rules import the_spec
from tickets.store import boards, buckets, jobs, places, runs, screens
from tickets.store.jobs import Saved, WantedImage
from tickets.store.screens import Screen
from tickets.store.settings import settings

PAGE = 16
"""Stations on a page of the board; a placement is never cut in two."""

SHEET = 3 * PAGE
"""Stations on a sheet of paper to pin up."""

LOOKED_THROUGH = 400
"""Stations looked through for those that need a screen: a page stays quick however many are ready."""

ROUGH = 24
"""Frames of a mesh whose whole lives are read: the best by the rough order."""

Place = tuple[str, int, int, int]
"""Where a page of the board goes on: due, job, placement, station shown last."""


@dataclass(frozen=True, slots=True)
class BoardLine:
    """One station: its image, what screen it has, the frames that would serve it, or else what would help."""

    station: int
    separation: int
    image: Separation
    asked: Asked
    ink: str
    progress: Progress
    serves: tuple[Serves, ...] = ()
    instead: tuple[Instead, ...] = ()
    ready_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Instead:
    """What would help where no frame serves. `how`: strip, tighten, restretch, substitute, none."""

    how: str
    frames: tuple[Frame, ...] = ()
    mesh: str = ""


@dataclass(frozen=True, slots=True)
class PlacementGroup:
    """The stations of one placement of a job."""

    job: int
    code: str
    title: str
    customer: str
    due: str
    placement: int
    name: str
    lines: tuple[BoardLine, ...]


@dataclass(frozen=True, slots=True)
class Board:
    """A page of the screen room's board; `after`: where the next page starts (None: the last one)."""

    groups: tuple[PlacementGroup, ...]
    after: Place | None


@dataclass(frozen=True, slots=True)
class Stage:
    """Screens that wait at a stage: the step that comes next, how many, and where they are."""

    standing: str
    step: str
    screens: int
    places: tuple[tuple[int | None, int], ...] = ()

    @property
    def narrowed(self) -> tuple[str, str]:
        """What the list of screens is narrowed to for these: which way, and to what."""
        return "due" if self.standing in {screens.SLACK, screens.UNNAMED} else "standing", self.standing


# When a screen on the way can be ready -----------------------------------------------------------------------------

NEWEST_STAYS, LEAST_STAYS = 100, 5
"""A stage's usual time is the median of its newest stays; of fewer than the least it is not known."""


def newest_stays(db: Database, standing: Standing) -> list[boards.Left]:
    """The newest stays at a stage; those at all the stages of the way round are read together, since it leads through
    several."""
    boards.newest_stays_ahead(db, map(str, CHAIN), 2 * NEWEST_STAYS)
    return boards.newest_stays(db, str(standing), 2 * NEWEST_STAYS)


def usual_hours(db: Database, standing: Standing) -> float | None:
    """How long screens usually stay at a stage here, in hours, by the log; None: too few went through it."""
    found = [hours for hours, _until in newest_stays(db, standing)[:NEWEST_STAYS]]
    return median(found) if len(found) >= LEAST_STAYS else None


DONE: frozenset[Standing] = frozenset({Standing.READY, Standing.KEPT})


def ready_at(
    life: Life,
    dry_at: datetime | None,
    usual: Callable[[Standing], float | None],
    logged: Collection[str],
    now: datetime,
) -> datetime | None:
    """When a screen on its way round can be ready, at the shop's usual pace: never before now, nor before it is dry.

    `usual`: hours of a stage. None where the way does not lead to ready, or a stage on it has no usual time.
    """
    if life.standing in DONE:
        return dry_at  # all is done, but it is wet still
    hours = usual(life.standing)
    if hours is None or not life.since:
        return None
    done = max(now, read_stamp(life.since) + timedelta(hours=hours), dry_at or now)
    standing, before = life.standing, set[Standing]()
    while standing in CHAIN and standing not in before:
        before.add(standing)
        step, standing = CHAIN[standing]
        if standing is Standing.READY:
            return done
        onward = CHAIN[standing][0] if standing in CHAIN else ""
        if step not in logged or onward not in logged:
            continue  # nobody notes when a screen comes to this stage, or leaves it
        hours = usual(standing)
        if hours is None:
            return None
        done += timedelta(hours=hours)
    return None


def look_ahead(db: Database, numbers: Collection[int], newest: int = 0) -> None:
    """What a page with these jobs will ask for one by one, read together: the jobs, their images and stencils, and so
    many of the `newest` runs."""
    images = jobs.read_ahead(db, numbers)
    screens.carrying_ahead(db, images)
    lives = [one.life for image in images for one in screens.carrying(db, image)]
    buckets.read_ahead(db, buckets_on(lives))
    runs.read_ahead(db, [life.run for life in lives if life.run], numbers, newest)


# The screen room ---------------------------------------------------------------------------------------------------


@dataclass
class BoardReader:
    """One look at the shop: what several lines need is read once."""

    db: Database
    now: datetime
    spec: Spec = field(init=False)
    look: Look = field(init=False)
    logged: list[str] = field(init=False)
    _asked: dict[tuple[int, int], dict[int, Asked]] = field(default_factory=dict)
    _saved: dict[int, Saved] = field(default_factory=dict)
    _rough: dict[tuple[Any, ...], list[Frame]] = field(default_factory=dict)
    _runs: dict[int, tuple[int, int]] = field(default_factory=dict)
    _slack: list[Frame] | None = None
    _usual: dict[Standing, float | None] = field(default_factory=dict)
    verdicts: dict[tuple[Any, ...], Verdict] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.spec = the_spec(self.db)
        self.look = Look(self.db, self.now)
        self.logged = list(settings(self.db)["steps"])

    def job(self, number: int) -> Saved:
        if number not in self._saved:
            found = jobs.get(self.db, number)
            assert found is not None
            self._saved[number] = found
        return self._saved[number]

    def asked(self, job: int, placement: int, station: int) -> Asked | None:
        key = (job, placement)
        if key not in self._asked:
            self._asked[key] = {one.number: one for one in jobs.asked(self.db, self.job(job), placement)}
        return self._asked[key].get(station)

    def air(self, life: Life) -> Air | None:
        return air_of(self.db, life, self.now)

    def frame(self, screen: Screen) -> Frame:
        return Frame(screen.id, screen.code, screen.life, emulsion_of(self.db, screen.life), self.air(screen.life))

    def rough(self, asked: Asked, standings: tuple[Standing, ...], free: bool = True) -> list[Frame]:
        """The frames of this mesh at `standings`, the best by a rough order, with their whole lives."""
        key = (round(asked.count_per_cm, 2), asked.thread_um, asked.work, standings, free)
        if key not in self._rough:
            self._rough[key] = [
                frame
                for frame in (self.frame(screen) for screen in screens.many(self.db, self.chosen(asked, standings)))
                if not free or self.is_free(frame)
            ]
        return self._rough[key]

    def chosen(self, asked: Asked, standings: tuple[Standing, ...]) -> list[int]:
        """The screens of the best frames of this mesh at `standings`, by a rough order."""
        light = boards.frames_of_mesh(self.db, *self.of_mesh(asked, standings))
        facts = {"work": asked.work, "count_per_in": asked.count_per_cm * CM_PER_IN}
        watch = self.spec.find("tension-watch", **facts)
        order = {str(one): place for place, one in enumerate(standings)}

        def worth(one: boards.Light) -> tuple[Any, ...]:
            thread = 0 if None in (asked.thread_um, one.thread_um) else abs(one.thread_um - asked.thread_um)  # type: ignore[operator]
            tension = one.minimum_n_per_cm
            slack = 2 if tension is None else int(watch is not None and tension < watch.value)
            return (thread > 5, slack, order[one.standing], one.uses, one.impressions, one.screen)

        return [one.screen for one in sorted(light, key=worth)[:ROUGH]]

    def of_mesh(self, asked: Asked, standings: tuple[Standing, ...]) -> boards.OfMesh:
        return *span(asked.count_per_cm, self.spec), tuple(map(str, standings))

    def frames_ahead(self, wanted: Sequence[Asked], standings: tuple[Standing, ...]) -> None:
        """The frames that some separations will be offered, read together, with who needs what is on them still."""
        boards.frames_ahead(self.db, [self.of_mesh(asked, standings) for asked in wanted])
        several = [number for asked in wanted for number in self.chosen(asked, standings)]
        there = screens.many(self.db, list(dict.fromkeys(several)))
        buckets.read_ahead(self.db, buckets_on(screen.life for screen in there))
        self.look.read_ahead([one for one in there if one.life.standing in rules.CARRIES_STILL])

    def slack(self) -> list[Frame]:
        """A few frames that wait for new mesh."""
        if self._slack is None:
            few = screens.some_at(self.db, Standing.TO_RESTRETCH, rules.MOST)
            self._slack = [self.frame(screen) for screen in few]
        return self._slack

    def is_free(self, frame: Frame) -> bool:
        carries = frame.life.standing in rules.CARRIES_STILL
        needed = carries and bool(self.look.needs(frame.screen, frame.life, spare=True))
        return rules.is_free(frame.life, needed)

    def usual(self, standing: Standing) -> float | None:
        if standing not in self._usual:
            self._usual[standing] = usual_hours(self.db, standing)
        return self._usual[standing]

    def ready_at(self, progress: Progress) -> datetime | None:
        if progress.has is not Has.UNDER_WAY or progress.frame is None:
            return None
        return ready_at(progress.frame.life, progress.dry_at, self.usual, self.logged, self.now)

    def progress(self, line: WantedImage) -> tuple[Asked, Progress] | None:
        asked = self.asked(line.job, line.placement, line.station)
        if asked is None:
            return None
        return asked, self.progress_of(asked, line.job, line.placement)

    def progress_of(self, asked: Asked, job: int, placement: int, screen: int | None = None) -> Progress:
        """How near a station of a placement is to a screen; `screen`: to this one alone."""

        def own(run: int) -> bool:
            if run not in self._runs:
                found = runs.get(self.db, run)
                self._runs[run] = (found.job, found.placement) if found else (0, 0)
            return self._runs[run] == (job, placement)

        code = self.job(job).code
        carriers = [one for one in self.look.carriers(asked.separation) if not let_go(one.life, code)]
        if screen is not None:
            carriers = [one for one in carriers if one.screen == screen]
        return rules.progress(carriers, asked, self.spec, self.now, self.logged, own)


def serving(db: Database, job: Saved, placement: int, now: datetime) -> dict[int, list[tuple[Screen, Progress]]]:
    """By print order of a placement (counted from 1) the screens that serve it, the nearest to ready first: none that
    is to be stripped, torn, worn, or of another mesh."""
    reader, order = BoardReader(db, now), list(Has)
    found: dict[int, list[tuple[Screen, Progress]]] = {}
    for asked in jobs.asked(db, job, placement):
        there = [(one, reader.progress_of(asked, job.id, placement, one.id))
                 for one in screens.carrying(db, asked.separation)]  # fmt: skip
        there = [(one, progress) for one, progress in there if progress.has.covered]
        found[asked.number] = sorted(there, key=lambda one: order.index(one[1].has))
    return found


def screen_room(
    db: Database, now: datetime, after: Place | None = None, need_only: bool = False, most: int = PAGE
) -> Board:
    """A page of what the open jobs want, by due date: the screen each separation has, or the frames that would serve.

    `need_only`: only the stations that still need a frame; `most`: stations on the page.
    """
    reader = BoardReader(db, now)
    wanted, go_on = _page(db, reader, after, need_only, most)
    found = [(line, known) for line in wanted if (known := reader.progress(line)) is not None]
    free = rules.free_standings(reader.logged)
    reader.frames_ahead([asked for _line, (asked, progress) in found if not progress.has.covered], free)
    promised: set[int] = set()
    serving: dict[WantedImage, tuple[Serves, ...]] = {}
    by_placement: dict[tuple[int, int], list[tuple[WantedImage, tuple[Asked, Progress]]]] = {}
    for line, known in found:
        by_placement.setdefault((line.job, line.placement), []).append((line, known))
    for own in by_placement.values():
        lives = {
            progress.frame.code: progress.frame.life
            for _line, (_asked, progress) in own
            if progress.frame is not None and progress.has.covered
        }
        for line, (asked, progress) in own:
            if not progress.has.covered:
                some = reader.rough(asked, free)
                best = rules.best(some, asked, lives, reader.spec, now, promised=promised, known=reader.verdicts)
                serving[line] = tuple(best)
                for one in best[:1]:
                    promised.add(one.frame.screen)
                    lives[one.frame.code] = one.frame.life
    none = [asked for line, (asked, _progress) in found if serving.get(line) == ()]
    reader.frames_ahead(none, WORN)
    groups = []
    for key, own in by_placement.items():
        lines = [
            BoardLine(
                line.station, line.separation, asked.image, asked, line.ink, progress, serving.get(line, ()),
                _instead(reader, asked) if serving.get(line) == () else (), reader.ready_at(progress),
            )
            for line, (asked, progress) in own
            if not need_only or not progress.has.covered
        ]  # fmt: skip
        first, sheet = own[0][0], reader.job(key[0]).sheet
        name = sheet.placements[key[1] - 1].name
        groups.append(
            PlacementGroup(key[0], first.code, first.title, first.customer, first.due, key[1], name, tuple(lines))
        )
    return Board(tuple(groups), go_on)


WORN = (Standing.TO_STRIP, Standing.TO_CLEAN, Standing.KEPT)
"""Where a frame stands that could be stripped for another image."""


def _page(
    db: Database, reader: BoardReader, after: Place | None, need_only: bool, most: int
) -> tuple[list[WantedImage], Place | None]:
    """The stations of a page, whole placements only, and where the next page starts."""
    taken: list[WantedImage] = []
    looked = 0
    while looked < LOOKED_THROUGH:
        lines = jobs.wanted(db, after=after, limit=most * 2 + 1)
        more = len(lines) > most * 2
        whole = _whole_placements(lines) if more else lines
        look_ahead(db, [line.job for line in whole])
        for lines_of in _by_placement(whole):
            if taken and len(taken) + len(lines_of) > most:
                return taken, after
            last = lines_of[-1]
            after = (last.due, last.job, last.placement, last.station)
            looked += len(lines_of)
            if not need_only or any(
                known is not None and not known[1].has.covered for known in map(reader.progress, lines_of)
            ):
                taken += lines_of
        if not more:
            return taken, None
    return taken, after


def _by_placement(lines: Iterable[WantedImage]) -> list[list[WantedImage]]:
    groups: dict[tuple[int, int], list[WantedImage]] = {}
    for line in lines:
        groups.setdefault((line.job, line.placement), []).append(line)
    return list(groups.values())


def _whole_placements(lines: list[WantedImage]) -> list[WantedImage]:
    """Without the last placement, which the limit may have cut; a single one stays as it is."""
    last = (lines[-1].job, lines[-1].placement)
    return [line for line in lines if (line.job, line.placement) != last] or lines


def _instead(reader: BoardReader, asked: Asked) -> tuple[Instead, ...]:
    """What would help where no free frame serves: strip, tighten or restretch one, or the nearest mesh that is free."""
    found = []
    same = rules.alike(reader.rough(asked, rules.free_standings(reader.logged)), asked, reader.spec)
    in_use = [
        frame
        for frame in rules.alike(reader.rough(asked, WORN, free=False), asked, reader.spec)
        if reader.is_free(frame) and rules.best([frame], asked, {}, reader.spec, reader.now)
    ]
    if in_use:
        found.append(Instead("strip", tuple(in_use[: rules.MOST])))
    if loose := [frame for frame in same if rules.too_slack(frame, asked, reader.spec, reader.now)]:
        found.append(Instead("tighten", tuple(loose[: rules.MOST])))
    if slack := [frame for frame in reader.slack() if rules.frame_will_do(frame, asked, reader.spec)]:
        found.append(Instead("restretch", tuple(slack)))
    low, high = span(asked.count_per_cm, reader.spec)
    near = [
        (abs(count - asked.count_per_cm), mesh)
        for standing, mesh, count, number in screens.counts(reader.db, too_slack(reader.db))
        if standing in rules.free_standings(reader.logged) and count and number and not low <= count <= high
    ]
    if near:
        found.append(Instead("substitute", mesh=min(near)[1]))
    return tuple(found) or (Instead("none"),)


STAGES = (
    (Standing.EXPOSED, "washout"),
    (Standing.TO_CHECK, "check"),
    (Standing.IMAGED, "expose"),
    (Standing.COATED, "image"),
    (Standing.TO_CLEAN, "clean"),
    (Standing.TO_STRIP, "strip"),
    (Standing.TO_RESTRETCH, "stretch"),
    (Standing.UNKNOWN, "found"),
)
"""What waits in the screen room, the most urgent first: an exposed stencil that is not washed out goes on hardening."""


def to_do(db: Database, now: datetime) -> list[Stage]:
    """What waits, by stage, with counts and places; coated ones only once dry. What a job still needs is not to be
    stripped: somebody decides over it."""
    found = []
    logged = settings(db)["steps"]
    loose, dry_since = too_slack(db), stamp(now - _drying(db, now))
    stages_asked = [str(one) for one, _step in STAGES if one is not Standing.COATED]
    waits = boards.waiting(db, stages_asked, dry_since, loose)
    there = {**waits.stages, str(Standing.COATED): waits.dry}
    stages = Counter[str]()
    for one, _mesh, _count, number in screens.counts(db):
        stages[one] += number
    stages[str(Standing.COATED)] = sum(number for _place, number in there[str(Standing.COATED)])
    slack, slack_dry = _slack(waits)
    for standing, step in STAGES:
        number = stages[str(standing)]
        if not number:
            continue
        then = step if standing is Standing.UNKNOWN or step in logged else rules.next_step(standing, logged) or step
        where = there.get(str(standing), [])
        kept: Counter[int | None] = Counter()
        if then == "strip":
            needed_still = screens.many(db, list(needed_at(db, [standing], now)))
            kept = Counter(screen.life.place for screen in needed_still if screen.life.not_at is None)
        apart = kept + (slack_dry if standing is Standing.COATED else Counter())
        where = [(place, some - apart[place]) for place, some in where if some > apart[place]]
        if number > apart.total():
            found.append(Stage(str(standing), then, number - apart.total(), tuple(where)))
        if kept:
            found.append(Stage(str(standing), "decide", kept.total(), tuple(kept.most_common())))
    inked = there.get(boards.INKED, []) if "clean" in logged else []
    if inked:
        found.append(Stage(str(Standing.KEPT), "clean", sum(number for _place, number in inked), tuple(inked)))
    unnamed = there.get(screens.UNNAMED, [])
    if unnamed:
        found.append(Stage(screens.UNNAMED, "name", sum(number for _place, number in unnamed), tuple(unnamed)))
    for step, some in slack.items():
        found.append(Stage(screens.SLACK, step, some.total(), tuple(some.most_common())))
    return found


def _slack(waits: boards.Waiting) -> tuple[dict[str, Counter[int | None]], Counter[int | None]]:
    """How many frames are too slack at each place, by the step that makes them tight again; and those of them with a
    coat on that is older."""
    found: dict[str, Counter[int | None]] = {}
    dry: Counter[int | None] = Counter()
    for frame, place, number, coated in waits.slack:
        found.setdefault(works.made_tight(frame), Counter())[place] += number
        dry[place] += coated
    return found, +dry


def _drying(db: Database, now: datetime) -> timedelta:
    """How long a coat of now would take to dry."""
    coated = Life(standing=Standing.COATED, stencil=Stencil(coated_at=stamp(now)))
    wet = checks.drying(coated, the_spec(db), air_of(db, coated, now))
    return wet.ready_at - wet.since if wet else timedelta()


TO_HAND = frozenset({Has.ON_PRESS, Has.READY, Has.KEPT})
"""A screen that can be hung, or hangs."""


NEWEST_RUNS = 40
"""Runs that are looked through for one whose colour was off."""


def place_names(db: Database) -> dict[int, str]:
    """Names of places by number."""
    return places.names(db)
