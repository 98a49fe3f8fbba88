"""The life of a screen on one page: mesh after mesh, stencil after stencil, in pictures and as tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC
from typing import Any

from flask import Blueprint, g, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.calculator.units import show_value
from tickets.domain.entry import Entry, stamp, standing_lines, text_of
from tickets.domain.screens import frame_checks
from tickets.domain.screens.tracing import UNNAMED, StencilLife
from tickets.domain.stages import STANDING_WORDS
from tickets.domain.steps import FAULTS, SCREEN_STEPS, WASHOUT_FAULTS
from tickets.i18n import N_, ngettext
from tickets.i18n import gettext as _
from tickets.queries import exports
from tickets.queries.asked import work_of
from tickets.queries.find import screen as find_screen
from tickets.queries.shop_rules import the_spec
from tickets.store import buckets, desk, entries, jobs, readings
from tickets.store.screens import Screen
from web import charts, log
from web.charts import Axis, LevelLine, Series
from web.desk import desk_page
from web.files import csv_answer
from web.learning import CAUSE_WORDS, tension_panel
from web.support import row_number, units_read

bp = Blueprint("screen_life", __name__)

STENCILS = 20
"""Stencils on one page, all but the newest folded: the usual life of a frame fits on it, and on one paper."""


PICTURED = ("washout", "check", "fault", "pull", "clean", "strip", "cross-out")
"""Steps whose entries the picture of prints is marked with (a crossing out takes one away)."""
ENDINGS = frozenset({"strip", "stretch", "found", "retire"})
"""Steps that say how a stencil ended; where another one ended it, nobody logged the stripping."""
TROUBLES = {
    **dict(WASHOUT_FAULTS),
    **dict(FAULTS),
    **dict(SCREEN_STEPS["pull"].field("condition").choices),
}


@dataclass(frozen=True, slots=True)
class Deed:
    """What was done or seen (empty: as the column says), by whom and when."""

    what: str
    who: str
    at: str


@dataclass(frozen=True, slots=True)
class ToldStencil:
    """A stencil as its page tells it; `lines` of the log in the order of time. `ended`: None while it is still on."""

    place: int
    stencil: StencilLife
    images: tuple[str, ...]
    bucket: Any
    printed: tuple[desk.TimeOnPress, ...]
    lines: list[log.LogLine]
    washed: tuple[Deed, ...]
    cleaned: tuple[Deed, ...]
    troubles: tuple[Deed, ...]
    ended: Deed | None


@bp.get("/desk/screens/<code>")
def screen_life(code: str) -> AnyResponse:
    """Mesh after mesh, stencil after stencil: pictures, then a table, then who did what and when."""
    text, dot, kind = code.partition(".")
    screen = find_screen(g.db, text)
    if dot and kind == "csv":
        return csv_answer(f"screen-{screen.code}", exports.LIFE, exports.life_rows(g.db, screen.id))
    before = row_number(request.args.get("before")) or None
    found = desk.stencils_of(g.db, screen.id, before, STENCILS + 1)
    more, before_them, found = len(found) > STENCILS, found[STENCILS:], found[:STENCILS]
    tensions = readings.tensions(g.db, screen.id)
    meshes = readings.meshes(g.db, screen.id)
    return desk_page(
        "screen.html",
        screen=screen,
        life=screen.life,
        standing_words=STANDING_WORDS,
        meshes=meshes[::-1],
        labels=entries.said(g.db, "screen", screen.id, "stretch", "mesh_count_as_labelled"),
        causes=CAUSE_WORDS,
        tension_chart=_tension_chart(screen, tensions, meshes),
        to_come=tension_panel(screen, work_of(g.db, screen.life)),
        prints_chart=_prints_chart(screen, meshes),
        tensions=tensions[::-1][:30],
        stencils=_told(screen, found, before_them[0][1] if before_them else None),
        between=_outside(screen, found, before),
        more=found[-1][0] if more else 0,
        before=before,
    )


def _told(screen: Screen, found: Sequence[tuple[int, StencilLife]], older: StencilLife | None) -> list[ToldStencil]:
    """The stencils, each with all that was done since the one before it ended (`older`: the one before the oldest of
    these): new mesh, its readings, faults of the bare frame."""
    if not found:
        return []
    printed = desk.printed_by(g.db, screen.id, [place for place, _life in found])
    images = jobs.separations(g.db, [number for _place, one in found for number in one.images])
    earlier = [one for _place, one in found[1:]] + ([older] if older else [])
    since = [one.ended_at or one.begun_at for one in earlier] + ([] if older else [""])
    logged = entries.between(g.db, "screen", screen.id, since[-1], found[0][1].ended_at or "~")
    lines = log.lines(g.db, logged)
    told = []
    for (place, one), start in zip(found, since, strict=True):
        own = [
            line for line in lines
            if start < (at := stamp(line.entry.at)) and (not one.ended_at or at <= one.ended_at)
        ]  # fmt: skip
        done = [line for line in own if line.crossed is None]
        told.append(
            ToldStencil(
                place,
                one,
                tuple(f"{images[n].name} · {images[n].art} {images[n].revision}" for n in one.images if n in images),
                buckets.get(g.db, one.bucket) if one.bucket else None,
                tuple(run for run in printed if run.stencil == place),
                own,
                tuple(_deed(line) for line in done if line.entry.step == "washout"),
                tuple(_deed(line) for line in done if line.entry.step == "clean"),
                tuple(_deed(line, _(TROUBLES.get(kind, kind))) for line in done if (kind := trouble(line.entry))),
                _ended(one, done),
            )
        )
    return told


def _deed(line: log.LogLine, what: str = "") -> Deed:
    return Deed(what, line.who, stamp(line.entry.at))


def _ended(one: StencilLife, done: Sequence[log.LogLine]) -> Deed | None:
    if not one.ended_at:
        return None
    for line in reversed(done):
        if stamp(line.entry.at) == one.ended_at:
            return _deed(line, line.title if line.entry.step in ENDINGS else _("reclaiming not logged"))
    return Deed("", "", one.ended_at)


def trouble(entry: Entry) -> str:
    """What was wrong with a screen by one entry of its log: a fault at the washout or the check, one that was reported,
    or how it came off the press; empty: nothing."""
    values = entry.values
    if entry.step in {"washout", "check"}:
        return (text_of(values, "fault") or UNNAMED) if values.get("result") == "fault" else ""
    if entry.step == "fault":
        return text_of(values, "kind")
    if entry.step == "pull":
        condition = text_of(values, "condition")
        return "" if condition == "good" else condition
    return ""


def _outside(screen: Screen, found: Sequence[tuple[int, StencilLife]], before: int | None) -> list[log.LogLine]:
    """What was done while no stencil was on, since the last one shown ended; on the first page only."""
    if before is not None or (found and not found[0][1].ended_at):
        return []
    since = found[0][1].ended_at if found else ""
    lines = entries.between(g.db, "screen", screen.id, since, "~")
    return log.lines(g.db, [line for line in lines if stamp(line.at) > since][-30:])


def _new_meshes(meshes: Sequence[Any]) -> list[LevelLine]:
    name = _("mesh {number}")
    return [LevelLine(charts.day(one.stretched_at), name.format(number=one.number), upright=True) for one in meshes]


def _tension_chart(screen: Screen, tensions: Sequence[Any], meshes: Sequence[Any]) -> charts.Drawing | None:
    """Every reading of every mesh over time, with the spec's lines for what is on the frame now."""
    if len(tensions) < 2:
        return None
    life, system = screen.life, units_read()
    limits = frame_checks.tension_limits(life, work_of(g.db, life), the_spec(g.db)) if life.mesh else None
    lines = (
        [(limits.new_mesh, _("new mesh")), (limits.watch, _("caution from")), (limits.floor, _("floor"))]
        if limits
        else []
    )
    levels = [LevelLine(value, name) for value, name in lines if value is not None]
    days = [charts.day(one.at) for one in tensions] + [charts.day(one.stretched_at) for one in meshes]
    x_low, x_high = charts.reach(days, room=0.03)
    lowest = [one.minimum_n_per_cm for one in tensions]
    y_low, y_high = charts.reach(lowest, *(level.value for level in levels))
    series = []
    for number in dict.fromkeys(one.mesh for one in tensions):
        points = [(charts.day(one.at), one.minimum_n_per_cm) for one in tensions if one.mesh == number]
        series.append(Series(points, "", "circle", "line"))
    unit = show_value(1, "N/cm", system).split("\u00a0")[-1]
    return charts.chart(
        _("Lowest tension, mesh after mesh"),
        Axis(_("day of the reading"), x_low, x_high, charts.day_text),
        Axis(unit, y_low, y_high, lambda value: show_value(value, "N/cm", system).split("\u00a0")[0]),
        series,
        [*levels, *_new_meshes(meshes)],
    )


def _prints_chart(screen: Screen, meshes: Sequence[Any]) -> tuple[charts.Drawing, str] | None:
    """Impressions added up over the whole life, with what was washed, stripped, torn and wrong on the way; and that in
    a sentence."""
    printed = desk.printed_by_day(g.db, screen.id)
    ends = desk.ends_of(g.db, screen.id)
    if not ends:
        return None
    total, stair = 0, [(charts.day(ends[0][0]), 0.0)]
    for at, number in printed:
        total += number
        stair.append((charts.day(at), float(total)))
    done = standing_lines(entries.of_steps(g.db, "screen", screen.id, PICTURED))
    if not total and not any(entry.step == "strip" or trouble(entry) for entry in done):
        return None  # an empty picture says less than a line
    last = max(charts.day(g.now.astimezone(UTC).isoformat()), stair[-1][0])
    stair.append((last, float(total)))

    def height(day: float) -> float:
        return next((y for x, y in reversed(stair) if x <= day), 0.0)

    marks: dict[str, list[float]] = {}
    for entry in done:
        for kind in _pictured(entry):
            marks.setdefault(kind, []).append(charts.day(stamp(entry.at)))
    lane = max(total, 1) / 10  # washes have lanes of their own under the prints: they would hide each other there
    series = [Series(stair, _("prints"), "", "line", stair=True)]
    for kind, (name, mark, low) in MARKS.items():
        if kind in marks:
            points = [(x, low * lane if low else height(x)) for x in marks[kind]]
            series.append(Series(points, _(name), mark, ""))
    days = [x for x, _y in stair] + [x for some in marks.values() for x in some]
    x_low, x_high = charts.reach(days + [charts.day(one.stretched_at) for one in meshes], room=0.02)
    high = max(total * 1.08, 1.0)
    told = ngettext("{n} stencil, {total} impressions", "{n} stencils, {total} impressions", len(ends))
    told = told.format(n=len(ends), total=total)
    counted = [f"{_(name)}: {len(marks[kind])}" for kind, (name, _mark, _low) in MARKS.items() if kind in marks]
    meaning = "; ".join([told, *counted])
    drawn = charts.chart(
        _("Impressions of this screen, stencil after stencil"),
        Axis(_("day"), x_low, x_high, charts.day_text),
        Axis(_("impressions"), -2.2 * lane, high, ticks=charts.ticks(0.0, high)),
        series,
        _new_meshes(meshes),
        meaning,
    )
    return drawn, meaning


MARKS = {
    "strip": (N_("reclaimed"), "square", 0.0),
    "torn": (N_("torn"), "triangle", 0.0),
    "fault": (N_("fault"), "cross", 0.0),
    "washout": (N_("washout"), "tick", -0.7),
    "clean": (N_("ink off"), "ring", -1.6),
}
"""What the picture of prints is marked with: its name, its mark, and how far under the prints (0: on their line)."""


def _pictured(entry: Entry) -> list[str]:
    """The marks of an entry: what was done, and what was wrong."""
    wrong = trouble(entry)
    seen = ["torn" if wrong == "torn" else "fault"] if wrong else []
    return [entry.step, *seen] if entry.step in {"strip", "washout", "clean"} else seen
