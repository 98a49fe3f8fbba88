"""What a run printed: its pieces, its misprints, the screens that it used, what a count would go astray on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from tickets.calculator.numerals import counted
from tickets.domain.code import shown
from tickets.domain.entry import standing_lines, whole_of
from tickets.domain.jobs.job import Placement
from tickets.domain.runs.run import Used
from tickets.domain.stages import STANDING_WORDS
from tickets.domain.steps import CONDITIONS, STOP_CAUSES, THEN
from tickets.i18n import gettext as _
from tickets.i18n import ngettext
from tickets.queries import at_press, came_off, run_plan
from tickets.queries.print_order import place_said
from tickets.queries.run_plan import Plan
from tickets.queries.said import Reader
from tickets.store import entries, jobs, places, screens


@dataclass(frozen=True, slots=True)
class UsedScreen:
    """A screen that a run used: the name of its print order, how it came off, what it is now."""

    one: Used
    screen: screens.Screen
    name: str
    off: str
    now: str


@dataclass(frozen=True, slots=True)
class RunsShort:
    """A job that runs short: which of its print orders lack which screens, in words; its open run, if there is one."""

    job: jobs.Saved
    placement: Placement
    run: int | None
    lacks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CountsNow:
    """What a run printed. `ordered`: the pieces of the job; `lacking`: those of the placement that are missing still,
    finished runs counted; `causes`: of the misprints, the most frequent first; of a run that is not over `astray`: what
    was printed and not counted before something changed, in words, `short`: which jobs wait for what hangs here,
    `picks`: which screens come off, `left`: the pieces that are missing when every run is counted, `others`: whether
    other runs have some of them; of one that is over `used`: its screens."""

    ordered: int
    lacking: int
    closed: bool
    causes: tuple[tuple[str, int], ...]
    astray: tuple[str, ...] = ()
    short: tuple[RunsShort, ...] = ()
    picks: tuple[Pick, ...] = ()
    used: tuple[UsedScreen, ...] = ()
    left: int = 0
    others: bool = False

    @property
    def picked(self) -> tuple[str, ...]:
        """The codes of the screens that come off."""
        return tuple(str(one.screen.code) for one in self.picks)


def of(reader: Reader, plan: Plan) -> CountsNow:
    """What a run printed so far."""
    db, sheet, over = reader.db, plan.job.sheet, plan.story.state == "finished"
    closed = (jobs.get(db, plan.job.id) or plan.job).closed_at
    lacking = jobs.short(db, plan.job).get(plan.run.placement, 0)
    whole = (sheet.pieces, lacking, bool(closed), tuple(_causes(db, plan)))
    if over:
        return CountsNow(*whole, used=tuple(_used(db, plan)))
    left = jobs.left_of(db, plan.job, plan.run.placement)
    return CountsNow(
        *whole, tuple(_astray(db, plan)), tuple(_short(reader, plan)), tuple(_picks(db, plan)), left=left,
        others=left < sheet.pieces - plan.story.good,
    )  # fmt: skip


def _astray(db: Database, plan: Plan) -> list[str]:
    """What was printed and not counted before something changed, and where a count takes it now."""
    found = run_plan.uncounted(db, plan)
    codes = {one: shown(screen.code) for station in found.screens.values() for one in station
             if (screen := screens.get(db, one)) is not None}  # fmt: skip
    out = []
    for station, gone in found.screens.items():
        hung = plan.story.hung.get(station)
        screen = screens.get(db, hung.screen) if hung else None
        told = _("Position {station}: what {old} printed and nobody counted goes to {new}, which hangs there now.")
        if screen is not None:
            old = ", ".join(codes.get(one, "–") for one in gone)
            out.append(told.format(station=station, old=old, new=shown(screen.code)))
    if found.garment is not None:
        names = [_garment(found.garment), _garment(plan.story.garment or {})]
        told = _("What was printed on {old} and not counted is taken for {new}.")
        if plan.job.sheet.colourways:
            told = _("What was printed on {old} and not counted goes to the screens that {new} takes.")
        out.append(told.format(old=names[0] or _("the garment before"), new=names[1]))
    for station, strokes in found.strokes.items():
        now = plan.story.settings.get(str(station), {}).get("strokes", "–")
        told = ngettext(
            "Position {station}: what was printed and not counted is taken for {now} stroke, not {old}.",
            "Position {station}: what was printed and not counted is taken for {now} strokes, not {old}.",
            counted(now),
        )
        out.append(told.format(station=station, now=now, old=strokes or "–"))
    return out


def _garment(change: Mapping[str, Any]) -> str:
    return ", ".join(str(change[name]) for name in ("garment_style", "garment_colour") if change.get(name))


def _used(db: Database, plan: Plan) -> list[UsedScreen]:
    """The screens that a run used, in print order."""
    names = {one.number: one.separation for one in plan.placement.printing}
    where = places.names(db)
    out = []
    every = run_plan.used(db, plan)
    screens.read_ahead(db, [one.screen for one in every])
    for one in every:
        screen = screens.get(db, one.screen)
        if screen is None:
            continue
        life = screen.life
        off = [_("taken elsewhere")] if one.taken else [] if not one.condition else [_(dict(CONDITIONS)[one.condition])]
        off += [_(dict(THEN)[one.then])] if one.then in ("keep", "strip") and not one.taken else []
        now = [_(STANDING_WORDS[life.standing]), place_said(life, where)]
        if one.unhung:
            stands = one.impressions > 0
            now.append(
                _("its hanging was crossed out, what it printed counts") if stands else _("its hanging was crossed out")
            )
        out.append(UsedScreen(one, screen, names.get(one.station, ""), ", ".join(off), ", ".join(filter(None, now))))
    return out


@dataclass(frozen=True, slots=True)
class Pick:
    """A screen of which the end of a run, or a pause, may say how it comes off; `said`: what was said of one that is
    off already."""

    number: int
    name: str
    screen: screens.Screen
    hangs: bool
    said: str = ""


def _picks(db: Database, plan: Plan) -> list[Pick]:
    """The screens that come off with the run, and those that came off before and lie there still, in print order."""
    names = {one.number: one.image.name for one in plan.asked}
    found = [
        Pick(station, names.get(station, ""), screen, True)
        for station, hung in plan.story.hung.items()
        if (screen := screens.get(db, hung.screen)) is not None
    ]
    for one in came_off.lying(db, plan.run.id, plan.story):
        kept = _("kept for this run") if one.free and one.paused else ""
        told = [
            _(dict(CONDITIONS).get(one.said.condition, "")) if one.said.condition else "",
            _(dict(THEN)[one.said.then]) if one.said.then else kept,
        ]
        said = ", ".join(filter(None, told)) or _("nothing said")
        found.append(Pick(one.station, names.get(one.station, ""), one.screen, False, said))
    return sorted(found, key=lambda one: one.number)


def _short(reader: Reader, plan: Plan) -> list[RunsShort]:
    """The jobs that run short because their screens hang here."""
    found: dict[tuple[int, str, int | None], tuple[at_press.ShortJob, list[str]]] = {}
    for _station, hung in sorted(plan.story.hung.items()):
        screen = screens.get(reader.db, hung.screen)
        for one in at_press.runs_short(reader.db, plan, screen, reader.now) if screen else ():
            key = (one.job.id, one.placement.name, one.run)
            found.setdefault(key, (one, []))[1].append(f"{one.station} ({shown(screen.code) if screen else '–'})")
    return [RunsShort(one.job, one.placement, one.run, tuple(lacks)) for one, lacks in found.values()]


def _causes(db: Database, plan: Plan) -> list[tuple[str, int]]:
    """What the misprints were for, the most frequent first: (cause in words, pieces); told from the counts, since the
    story has those without a cause among the others."""
    words, found = dict(STOP_CAUSES), Counter[str]()
    for entry in standing_lines(entries.of(db, "run", plan.run.id)):
        if entry.step == "count":
            found[str(entry.values.get("cause") or "")] += whole_of(entry.values, "misprinted") or 0
    return [(_(words.get(one, one)) if one else _("not said"), many) for one, many in found.most_common() if many]
