"""What the open jobs ask of a screen: who still needs its stencil, and the work that its frame is judged for.

The boards, the lists of what is to be done, the strip list, the pages of a screen and the steps all ask here, so that
no page says “strip it” of a screen that a job beside it needs, and no reading is in order here and slack there.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import islice

from sqlite_utils import Database

from tickets.calculator import kinds
from tickets.calculator.verdict import Level
from tickets.domain import stages
from tickets.domain.bucket import Bucket, usual_emulsion
from tickets.domain.entry import Entry, stamp
from tickets.domain.screens import frame_checks, needs, screen_log, works
from tickets.domain.screens import frames as rules
from tickets.domain.screens import screen as screen_rules
from tickets.domain.screens.frame_checks import Asked
from tickets.domain.screens.frames import Has
from tickets.domain.screens.needs import Need, WantedScreen
from tickets.domain.screens.press_checks import Seen
from tickets.domain.screens.screen import Life, Mesh
from tickets.domain.spec import Spec
from tickets.domain.stages import Standing
from tickets.i18n import gettext as _
from tickets.queries.shop_rules import the_spec, zone
from tickets.store import buckets, entries, jobs, places, runs, screens, to_log
from tickets.store.settings import setting, told

FEW = 5
"""How many stations of one image are looked at, the earliest due first: further ones ask the same, as a rule."""


def asked_for(db: Database, separations: Iterable[int]) -> list[Asked]:
    """What the open jobs ask of a screen that carries these separations."""
    found, images = [], list(separations)
    jobs.images_ahead(db, images)
    for number in images:
        for one in still(db, number)[:FEW]:
            saved = jobs.get(db, one.job)
            if saved is not None:
                found += [asked for asked in jobs.asked(db, saved, one.placement) if asked.number == one.station]
    return found


def diagonal_mm(db: Database, separations: Iterable[int]) -> float | None:
    """The diagonal of the largest of these images, by the open jobs that ask for it; where a job gives no height, its
    width, since the diagonal is that at least. None: no open job asks for any."""
    sizes, images = [], list(separations)
    jobs.images_ahead(db, images)
    for number in images:
        for one in still(db, number)[:FEW]:
            saved = jobs.get(db, one.job)
            if saved is not None:
                placement = saved.sheet.placements[one.placement - 1]
                sizes.append(math.hypot(placement.width_mm, placement.height_mm or 0.0))
    return max(sizes, default=None)


WEAKEST = ("no", "unknown", "yes")
"""Whether a bucket is water-resistant: what speaks against a stencil first."""


def emulsion_of(db: Database, life: Life) -> Bucket | None:
    """The bucket that the stencil was coated from, of several coats the one that withstands water the least; where that
    was not noted, what a shop that logs no coats says of the emulsion that it uses; None: nobody said."""
    stencil = life.stencil
    if stencil is None:
        return None
    if stencil.bucket:
        coats = [buckets.get(db, number) for number in (stencil.bucket, *stencil.under)]
        return min(filter(None, coats), key=lambda one: WEAKEST.index(one.water_resistant), default=None)
    if "coat" in setting(db, "steps"):
        return None
    acts = (stencil.coated_at, stencil.imaged_at, stencil.exposed_at, stencil.washed_at, stencil.checked_at)
    made_at, waits = min(filter(None, acts), default=""), the_spec(db).find("coated-age")
    said = told(db, "emulsion_water_resistant")
    return usual_emulsion(said, made_at, _("the shop’s usual one"), waits.value if waits else 0.0)


def buckets_on(lives: Iterable[Life]) -> list[int]:
    """The buckets that some stencils were coated from, by number."""
    stencils = [life.stencil for life in lives if life.stencil]
    return [one for stencil in stencils for one in (stencil.bucket, *stencil.under) if one]


# Who still needs a stencil -----------------------------------------------------------------------------------------

SERVING = frozenset({Has.ON_PRESS, Has.ELSEWHERE, Has.READY, Has.KEPT})
"""How near another screen must be to take the place of one that goes: one that is still being made may fail."""


@dataclass(frozen=True, slots=True)
class Ending:
    """A run that ends with the act in hand, and how many good pieces it comes to."""

    run: runs.Run
    good: int


def still(db: Database, separation: int, ending: Ending | None = None) -> list[jobs.Still]:
    """The stations that a separation is still to be printed at, the earliest due first: pieces are missing, or a run is
    under way; with `ending` as it will be after that."""

    def left(one: jobs.Still) -> int:
        mine = ending is not None and (ending.run.job, ending.run.placement) == (one.job, one.placement)
        return one.missing - (ending.good if ending is not None and mine else 0)

    found = jobs.still_asking(db, separation, ending.run.id if ending else 0)
    return [one for one in found if left(one) > 0 or one.runs]


def kept_for_run(run: int, title: str, placement: str) -> str:
    """What a pause keeps its screens for."""
    return _("run {number}: {job}, {placement}").format(number=run, job=title, placement=placement)


@dataclass
class Look:
    """One look at what needs which stencil; what several screens hang on is read once.

    `ending`: a run that is over by then; `without`: screens that go as well.
    """

    db: Database
    now: datetime
    ending: Ending | None = None
    without: Collection[int] = ()
    _carriers: dict[int, list[Seen]] = field(default_factory=dict)
    _still: dict[int, list[jobs.Still]] = field(default_factory=dict)
    _asked: dict[tuple[int, int, int], Asked | None] = field(default_factory=dict)
    _serves: dict[tuple[int, int, int, int], bool] = field(default_factory=dict)

    def carriers(self, separation: int) -> list[Seen]:
        """The screens that carry a separation now."""
        if separation not in self._carriers:
            from tickets.queries.air import air_of

            image = jobs.separation(self.db, separation)
            images = {separation: image} if image else {}
            self._carriers[separation] = [
                Seen(
                    screen.id,
                    screen.code,
                    screen.life,
                    emulsion_of(self.db, screen.life),
                    images,
                    air=air_of(self.db, screen.life, self.now),
                )
                for screen in screens.carrying(self.db, separation)
            ]
        return self._carriers[separation]

    def read_ahead(self, there: Iterable[screens.Screen]) -> None:
        """What will be asked of the stencils of some screens, read together: which jobs still ask for their images, who
        else carries these, and the runs that they hung in last."""
        on = [one for one in there if needs.usable(one.life) and one.life.stencil and one.life.stencil.separations]
        images = [number for one in on if one.life.stencil for number in one.life.stencil.separations]
        apart = self.ending.run.id if self.ending else 0
        to_log.still_needed(self.db, [one.id for one in on], images, apart)
        asking = {image: jobs.still_asking(self.db, image, apart) for image in images}
        lives = [one.life for image in images if asking[image] for one in screens.carrying(self.db, image)]
        to_log.those_needing(self.db, [one.job for some in asking.values() for one in some], buckets_on(lives))

    def needs(self, screen: int, life: Life, spare: bool = False) -> tuple[Need, ...]:
        """Who still needs the stencil of a screen, the earliest press date first: open jobs that have pieces of it to
        print, runs that are under way, and whoever had it kept until a day or for something. Nobody, where enough other
        screens that serve carry the same.

        `spare`: of several screens alike the first ones are needed and the others to spare, for a list that must not
        name them all; without it each is to spare while the others stay.
        """
        if not needs.usable(life):
            return ()
        assert life.stencil is not None
        found: list[Need] = []
        for separation in life.stencil.separations:
            found += self._of_image(separation, screen, life, spare)
        if not found and life.stencil.separations:
            found += self._of_run(screen)
        return tuple(sorted(dict.fromkeys(found), key=lambda one: one.day)) + tuple(self._kept(screen, life))

    def still(self, separation: int) -> list[jobs.Still]:
        """The stations that a separation is still to be printed at."""
        if separation not in self._still:
            self._still[separation] = still(self.db, separation, self.ending)
        return self._still[separation]

    def waiting(self, separation: int, screen: int, asking: list[jobs.Still], spare: bool = False) -> list[jobs.Still]:
        """The stations among these that wait for this screen, since too few other ones serve."""
        if not asking:
            return []
        at_once = Counter((one.job, one.placement) for one in asking)
        wanted = max(max(at_once.values()), sum(one.runs for one in asking))
        there = self.carriers(separation)
        others = [one for one in there if one.screen != screen and one.screen not in self.without]
        if spare and any(one.screen == screen and self._serves_at(one, asking[0]) for one in there):
            others = [one for one in others if one.screen < screen]
        serving = (one for one in others if any(self._serves_at(one, station) for station in asking))
        return asking if sum(1 for _one in islice(serving, wanted)) < wanted else []  # no more are judged than that

    def _of_image(self, separation: int, screen: int, life: Life, spare: bool) -> list[Need]:
        there = [one for one in self.still(separation) if not needs.let_go(life, one.code)]
        asking = self.waiting(separation, screen, there, spare)
        image = jobs.separation(self.db, separation) if asking else None
        return [
            Need("repeat" if one.repeats else "job", one.due, one.code, one.title, one.run, image.name if image else "")
            for one in asking
        ]

    def _serves_at(self, seen: Seen, station: jobs.Still) -> bool:
        key = (seen.screen, station.job, station.placement, station.station)
        if key not in self._serves:
            asked = self._asked_at(station)
            logged = setting(self.db, "steps")
            if asked is None or not needs.usable(seen.life) or needs.let_go(seen.life, station.code):
                self._serves[key] = False
            else:
                found = rules.progress([seen], asked, the_spec(self.db), self.now, logged)
                drying = found.has is Has.UNDER_WAY and found.verdict is not None  # time alone mends it
                self._serves[key] = found.has in SERVING or drying
        return self._serves[key]

    def _asked_at(self, station: jobs.Still) -> Asked | None:
        key = (station.job, station.placement, station.station)
        if key not in self._asked:
            saved = jobs.get(self.db, station.job)
            every = jobs.asked(self.db, saved, station.placement) if saved else []
            self._asked[key] = next((one for one in every if one.number == station.station), None)
        return self._asked[key]

    def _of_run(self, screen: int) -> list[Need]:
        """The run under way that this stencil hung in last, where the job's sheet asks for another one by now, and no
        other screen has its place."""
        found = runs.hung_last(self.db, screen)
        if found is None or (self.ending is not None and self.ending.run.id == found[0].id):
            return []
        run, station = found
        job = jobs.get(self.db, run.job)
        taken = run.story.hung.get(station)
        if job is None or job.version == run.version or (taken is not None and taken.screen != screen):
            return []
        return [Need("job", job.sheet.due.isoformat(), job.code, job.sheet.title, run.id)]

    def _kept(self, screen: int, life: Life) -> list[Need]:
        """Until when, or for what, somebody had it kept; what a pause noted is of its run alone."""
        today = self.now.astimezone(zone(self.db)).date().isoformat()
        if life.keep_until:
            return [Need("kept", life.keep_until, what=life.keep_for)] if life.keep_until >= today else []
        if not life.keep_for or life.decided == "strip":
            return []
        last = runs.hung_last(self.db, screen)
        job = jobs.get(self.db, last[0].job, last[0].version) if last else None
        if last is not None and job is not None:
            placement = job.sheet.placements[last[0].placement - 1].name
            if life.keep_for == kept_for_run(last[0].id, job.sheet.title, placement):
                return []
        return [Need("kept", "", what=life.keep_for)]


def needed(db: Database, screen: screens.Screen, now: datetime) -> tuple[Need, ...]:
    """Who still needs the stencil of one screen."""
    return Look(db, now).needs(screen.id, screen.life)


def next_step(db: Database, screen: screens.Screen, now: datetime) -> tuple[str | None, tuple[Need, ...]]:
    """The step that comes next for a screen, and who needs its stencil where that speaks against stripping it: then it
    is to be decided over."""
    following = screen_rules.next_step(screen.life, setting(db, "steps"))
    still = needed(db, screen, now) if following == "strip" else ()
    return ("decide", still) if still else (following, ())


def needed_among(db: Database, there: Iterable[screens.Screen], now: datetime) -> set[int]:
    """Those of some screens that would be stripped next, and whose stencil is still needed."""
    look, logged = Look(db, now), setting(db, "steps")
    return {
        one.id
        for one in there
        if screen_rules.next_step(one.life, logged) == "strip" and look.needs(one.id, one.life, spare=True)
    }


def needed_at(db: Database, standings: Collection[Standing], now: datetime) -> dict[int, tuple[Need, ...]]:
    """Those of the screens at some stages whose stencil is still needed, of each image as many as are needed."""
    look, there = Look(db, now), screens.carrying_wanted(db, [str(one) for one in standings])
    look.read_ahead(there)
    found = {}
    for screen in there:
        if still := look.needs(screen.id, screen.life, spare=True):
            found[screen.id] = still
    return found


def settled(
    db: Database, lines: Iterable[Entry], answered: bool, now: datetime, ending: Ending | None = None
) -> tuple[list[Entry], list[WantedScreen]]:
    """Entries that are about to be written, those that give up a needed stencil with the answer and what needed it
    (`still_needed`, `needed_by`); and the screens that must be asked about first: none once it was answered.
    It looks at what the entries come to, so that a new step is asked about without being named here."""
    lines = list(lines)
    going = {one.id: life for one, life in _given_up(db, lines)}
    if not going:
        return lines, []
    look = Look(db, now, ending, without=frozenset(going))
    look.read_ahead([screen for number in going if (screen := screens.get(db, number)) is not None])
    wanted: dict[int, WantedScreen] = {}
    for number in going:
        screen = screens.get(db, number)
        assert screen is not None
        if still := look.needs(number, screen.life):
            wanted[number] = WantedScreen(screen.code, screen.life.mark, still)
    if not answered:
        return lines, list(wanted.values())
    last = {line.screen: place for place, line in enumerate(lines) if line.screen in wanted and line.step in GIVING_UP}
    for number, place in last.items():
        assert number is not None
        told = {**lines[place].values, "still_needed": "yes", "needed_by": wanted[number].codes}
        lines[place] = replace(lines[place], values=told)
    return lines, []


GIVING_UP = frozenset(stages.MOVES) - needs.TOLD_AS_SEEN


def _given_up(db: Database, lines: list[Entry]) -> list[tuple[screens.Screen, Life]]:
    """The screens whose stencil these entries take away, each with its life after them."""
    logged, outside = setting(db, "steps"), places.outside(db)
    found = []
    for number in dict.fromkeys(line.screen for line in lines if line.screen is not None):
        screen = screens.get(db, number)
        if screen is None or not needs.usable(screen.life):
            continue
        mine = [line for line in lines if line.screen == number and line.step in stages.MOVES]
        life = screen.life
        if all(stamp(line.at) >= life.last_at for line in mine):
            for line in mine:
                life = screen_log.after(life, line, logged, outside)
        else:  # typed in later: what is on the screen since may be another stencil
            life = screen_log.replay([*entries.of(db, "screen", number), *mine], logged, outside)
        if any(needs.gives_up(screen.life, life, line.step) for line in mine):
            found.append((screen, life))
    return found


# For which work a frame is judged -----------------------------------------------------------------------------------


def works_of(db: Database, life: Life) -> list[str]:
    """The kinds of work that a screen's images are for."""
    carried = list(life.stencil.separations) if life.stencil else []
    jobs.images_ahead(db, carried)
    return jobs.works(db, carried) if carried else []


def work_of(db: Database, life: Life, in_hand: str = "") -> str:
    """The work that a screen is judged for, wherever it is judged without a station to compare it with.

    That of the station that somebody picks a frame for (`in_hand`); else the most demanding that its images are for;
    else, of a frame without an image, what the open jobs ask of its mesh and the boards would suggest it for; else what
    such a frame is usually for.
    """
    if in_hand in works.WORK:
        return in_hand
    if images := works_of(db, life):
        return works.hardest(images)
    spec = the_spec(db)
    # most frames hold whatever is asked of them: nobody needs to look what that is
    if life.mesh is None or life.tension is None or _holds_all(life, spec):
        return frame_checks.usual_work(life, spec)
    return works.judged_for(life, _asked_of(db, life.mesh, spec), spec)


def _holds_all(life: Life, spec: Spec) -> bool:
    tightest = works.hardest(
        one for one in works.WORK if frame_checks.holds_register(life, one, spec) or one == works.LEAST
    )
    readings = life.tension.all_n_per_cm if life.tension else ()
    return bool(readings) and min(readings) >= frame_checks.tension_limits(life, tightest, spec).watch


def _asked_of(db: Database, mesh: Mesh, spec: Spec) -> set[str]:
    """The kinds of work that open jobs ask of a mesh."""
    low, high = span(mesh.count_per_cm, spec)
    return {
        work
        for count, thread, work in jobs.asked_of_mesh(db, low, high)
        if not any(
            reason.level is Level.STOP
            for reason in frame_checks.compared((count, thread), (mesh.count_per_cm, mesh.thread_um), spec)
        )
    }


def span(count_per_cm: float, spec: Spec) -> tuple[float, float]:
    """The counts that are still one mesh to the shop, with a little room: the check itself decides."""
    limit = spec.find("mesh-count-tolerance")
    share = (limit.value if limit else 0.0) / 100 + 0.002
    return count_per_cm * (1 - share), count_per_cm * (1 + share)


def too_slack(db: Database) -> screens.Slack:
    """Which frames are too slack now, as their own pages say it (`work_of`): a mesh that an open job asks for in less
    demanding work may be less tight, one that is asked for in the most demanding one alone must be tighter."""
    spec = the_spec(db)
    room = spec.find("mesh-thread-tolerance")
    by_work: dict[str, set[tuple[float, float | None]]] = {}
    for count, thread, work in jobs.asked_of_mesh(db, 0.0, 1e9):
        by_work.setdefault(work, set()).add((count, thread))

    def spans(asked: Collection[str]) -> tuple[screens.Span, ...]:
        found = {mesh for work in asked for mesh in by_work.get(work, ())}
        in_order = sorted(found, key=lambda one: (one[0], one[1] or 0))
        return tuple((*span(count, spec), thread) for count, thread in in_order)

    usual = works.WORK[: works.WORK.index(kinds.USUAL) + 1]
    tight = [work for work in works.WORK if work not in usual]
    return screens.Slack(spans([works.LEAST]), room.value if room else 0.0, spans(usual), spans(tight))
