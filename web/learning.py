"""What the shop's log teaches, as pages: exposure units and their lamps, how long meshes last; and the parts that the
pages of screens, jobs and runs show of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from flask import Blueprint, Response, g, redirect
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import places as places_acts
from tickets.actions import weighing
from tickets.calculator import exposure, lifetime
from tickets.calculator import lamp as lamps
from tickets.calculator.kinds import LAMPS, WORK
from tickets.calculator.numerals import counted
from tickets.calculator.units import show_value
from tickets.calculator.verdict import Verdict, judge
from tickets.domain.jobs import mesh_advice
from tickets.domain.posted import Form
from tickets.domain.refusal import Clash, NotAllowed, NotFound, Refused
from tickets.domain.screens.readings import WORN_OUT
from tickets.domain.steps import CAUSES, FAULTS
from tickets.i18n import N_, ngettext
from tickets.i18n import gettext as _
from tickets.queries import find
from tickets.queries import ink as ink_now
from tickets.queries import learning as learning_now
from tickets.queries import mesh_lives as mesh_lives_now
from tickets.queries.shop_rules import the_spec
from tickets.store import jobs, people, places, readings, screens
from web import charts
from web.changes import past
from web.charts import Axis, LevelLine, Series
from web.support import actor, faults_by_field, form_lists, measured, new_entry_id, one_of, page, units_read

bp = Blueprint("learning", __name__)

CAUSE_WORDS = dict(FAULTS) | dict(CAUSES) | {"restretched": N_("restretched in time")}
POINT_NAMES = ("circle", "cross", "square")


# Exposure units -----------------------------------------------------------------------------------------------------


def unit_path(name: str) -> str:
    """The address of an exposure unit's page."""
    return f"/exposure-units/{quote(name, safe='')}"


@bp.get("/exposure-units")
def units() -> Response:
    """Every exposure unit with the state of its lamp."""
    names = learning_now.units_of(g.db)
    learning_now.lamps_ahead(g.db, names, g.now)
    found = [
        (learning_now.lamp_story(g.db, name, g.now), learning_now.set_times_off(g.db, name, g.now)) for name in names
    ]
    return page(
        "learning/units.html",
        units=found,
        retired=places.units(g.db, retired=True),
        lamp_words=LAMPS,
        unit_path=unit_path,
    )


@bp.get("/exposure-units/<name>")
def unit(name: str) -> Response:
    """One exposure unit: its lamp, its drift, the times that its washouts teach."""
    return _unit_page(name)


def _unit_page(name: str, refused: Refused | None = None, values: dict[str, list[str]] | None = None) -> Response:
    retired = [one.name for one in places.units(g.db, retired=True)]
    known = {one.casefold(): one for one in (*learning_now.units_of(g.db), *retired)}
    if name.casefold() not in known:
        raise NotFound(_("This shop has no exposure unit “{name}”.").format(name=name[:60]), "name")
    story = learning_now.lamp_story(g.db, known[name.casefold()], g.now)
    wanted = learning_now.taught(g.db, story.name, g.now)
    return page(
        "learning/unit.html",
        refused.status if refused else 200,
        story=story,
        wanted=wanted,
        off=learning_now.off_among(wanted),
        chart=drift_chart(story),
        drift_text=drift_text,
        lamp_words=LAMPS,
        lamps=list(LAMPS.items()),
        notes=places.lamp_notes(g.db, story.unit.id) if story.unit else [],
        past=past("exposure unit", story.unit.id).get(story.unit.id) if story.unit else None,
        use_entry=new_entry_id(),
        names=people.names(g.db),
        latest=readings.washouts_of_unit(g.db, story.name, limit=30)[::-1],
        path=unit_path(story.name),
        manages=actor().manages,
        faults=faults_by_field(refused),
        values=values or {},
        differences=exposure.DIFFERENCES,
    )


def drift_chart(story: learning_now.LampStory) -> charts.Drawing | None:
    """How much more time the unit asks for than at first, over time, a line for each lamp."""
    points = [point for one in story.stretches for point in one.drift.points]
    if len(points) < 2:
        return None
    spec = the_spec(g.db)
    limit = spec.find("lamp-drift", **({"lamp": story.unit.lamp} if story.unit else {}))
    due = 1 + limit.value / 100 if limit else None
    days = [day for day, _ratio in points] + [charts.day(one.at) for one in story.changes]
    x_low, x_high = charts.reach(days, room=0.03)
    y_low, y_high = charts.reach([ratio for _day_, ratio in points], 1.0, due)
    series = []
    for number, one in enumerate(story.stretches):
        series.append(Series(_thinned(one.drift.points), "", POINT_NAMES[number % 3], ""))
        series.append(Series(_thinned(one.drift.line), "", "", "line"))
    levels = [LevelLine(1.0, _("at first"))]
    if due is not None:
        levels.append(LevelLine(due, _("lamp due")))
    levels += [LevelLine(charts.day(one.at), _("new lamp"), upright=True) for one in story.changes]
    return charts.chart(
        _("Exposure time wanted, compared with the first step wedges of each lamp"),
        Axis(_("day of the washout"), x_low, x_high, charts.day_text),
        Axis(_("time wanted, % of the first"), y_low, y_high, lambda ratio: f"{100 * ratio:.0f}"),
        series,
        levels,
        drift_text(story.stretches[-1].drift),
    )


def drift_text(drift: lamps.Drift) -> str:
    """What the strips under a lamp come to, in a sentence; that they are too few, where they are."""
    strips = ngettext("{n} step wedge", "{n} step wedges", len(drift.points)).format(n=len(drift.points))
    if drift.latest is None or drift.low is None or drift.high is None:
        return _("{strips}: too few to say how the lamp is doing; {least} are needed.").format(
            strips=strips, least=lamps.LEAST_STRIPS
        )
    now, low, high = (measured(round(100 * one), "%") for one in (drift.latest, drift.low, drift.high))
    sorts = ngettext("{n} mix of emulsion and mesh", "{n} mixes of emulsion and mesh", drift.combinations).format(
        n=drift.combinations
    )
    said = _(
        "The lamp now takes {now} of the time it took when new, surely between {low} and {high}: by {strips} of "
        "{sorts}."
    )
    return said.format(now=now, low=low, high=high, strips=strips, sorts=sorts)


MOST_POINTS = 150
"""Points of one lamp on a chart: more cannot be told apart on a phone, and make its page heavy."""


def _thinned(points: Sequence[charts.Point]) -> Sequence[charts.Point]:
    """Every so-manieth point, the newest among them."""
    every = -(-len(points) // MOST_POINTS)
    return points[(len(points) - 1) % every :: every] if every > 1 else points


@bp.post("/exposure-units/<name>/lamp")
def change_lamp(name: str) -> AnyResponse:
    """A new lamp, or the note of one taken back (`withdraw`: its number)."""
    sent = form_lists()
    post, number = one_of(sent, "entry"), one_of(sent, "withdraw")
    try:
        if number:
            change = counted(number)
            places_acts.withdraw_lamp(g.db, actor(), name, change, post=post, now=g.now)
        else:
            places_acts.change_lamp(g.db, actor(), name, post=post, now=g.now, at=one_of(sent, "at"))
    except (NotAllowed, NotFound):
        raise
    except Refused as refused:
        return _unit_page(name, refused, sent)
    return redirect(unit_path(name), code=303)


@bp.post("/exposure-units/<name>/change")
def change_unit(name: str) -> AnyResponse:
    """Another kind of lamp (`lamp`), out of use or back (`use`: out, in; else as it is)."""
    sent = form_lists()
    try:
        retired = {"out": True, "in": False}.get(one_of(sent, "use"))
        lamp, post = one_of(sent, "lamp"), one_of(sent, "entry")
        places_acts.change_unit(g.db, actor(), name, lamp, retired=retired, post=post, now=g.now)
    except (NotAllowed, NotFound):
        raise
    except Refused as refused:
        return _unit_page(name, refused, sent)
    return redirect(unit_path(name), code=303)


@dataclass(frozen=True, slots=True)
class ExposureNote:
    """What the exposure form of a screen says beside its time."""

    wanted: learning_now.WantedExposure
    readings: int
    address: str = ""
    manages: bool = False


def exposure_note(screen: screens.Screen, exposure_unit: str) -> ExposureNote | None:
    """What is known of a screen's exposure on a unit; None where no unit is named."""
    if not exposure_unit:
        return None
    found = learning_now.wanted(g.db, screen.life, exposure_unit, g.now)
    learned = found.known.learned
    field = "exposure_s" if found.known.unit == "s" else "exposure_units"
    again = f"/screens/{screen.code}?step=expose&exposure_unit={quote(exposure_unit, safe='')}&{field}="
    return ExposureNote(found, learned.readings if learned else 0, again, actor().manages)


# Tension ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class TensionPanel:
    """The tension of a screen's present mesh: the forecast, its chart, whether the mesh is likely near its end."""

    forecast: mesh_lives_now.Forecast
    chart: charts.Drawing | None
    meaning: str
    life: Any
    work: str


def tension_panel(screen: screens.Screen, work: str) -> TensionPanel | None:
    """What is to be shown of a screen's tension for the work that it does; None for a screen never measured."""
    found = mesh_lives_now.forecast(g.db, screen, work)
    if not found.readings:
        return None
    life = mesh_lives_now.life_of(g.db, screen)
    return TensionPanel(found, tension_chart(found), tension_said(found), life, WORK.get(found.work, found.work))


def tension_said(found: mesh_lives_now.Forecast) -> str:
    """What the picture of the tension means: where the last reading lies, and how far that is from the floor."""
    last = found.readings[-1]
    now = measured(last.minimum_n_per_cm, "N/cm")
    if found.floor is None:
        return _("Lowest at the last reading: {now}.").format(now=now)
    room = last.minimum_n_per_cm - found.floor
    said = _("Lowest at the last reading: {now}, {room} above the floor.")
    if room < 0:
        said = _("Lowest at the last reading: {now}, {room} under the floor.")
    return said.format(now=now, room=measured(abs(room), "N/cm"))


def tension_chart(found: mesh_lives_now.Forecast) -> charts.Drawing | None:
    """The readings against the uses, the fitted loss, and the spec's lines."""
    if len(found.readings) < 2:
        return None
    uses = [float(one.uses) for one in found.readings]
    end = max(*uses, float(found.uses), 4.0)
    if found.loss is not None and found.loss.uses_to_floor is not None:
        end = max(end, min(found.loss.uses_to_floor * 1.15, end * 4))
    system = units_read()

    def value(n_per_cm: float) -> str:
        return show_value(n_per_cm, "N/cm", system).split("\u00a0")[0]

    lowest = [one.minimum_n_per_cm for one in found.readings]
    means = [one.mean_n_per_cm for one in found.readings]
    low, high = charts.reach([*lowest, *means], found.floor, found.watch, found.new_mesh)
    series = [Series(list(zip(uses, lowest, strict=True)), _("lowest"), "circle", "")]
    if any(one.mean_n_per_cm != one.minimum_n_per_cm for one in found.readings):
        series.append(Series(list(zip(uses, means, strict=True)), _("mean"), "cross", ""))
    if found.loss is not None:
        curve = [(end * step / 60, found.at(end * step / 60) or 0.0) for step in range(61)]
        series.append(Series([point for point in curve if low <= point[1] <= high], "", "", "line"))
    lines = ((found.new_mesh, _("new mesh")), (found.watch, _("caution from")), (found.floor, _("floor")))
    unit = show_value(1, "N/cm", system).split("\u00a0")[-1]
    return charts.chart(
        _("Tension of this mesh against its uses"),
        Axis(_("uses since stretching") if found.since == "stretch" else _("uses since retensioning"), 0, end),
        Axis(unit, low, high, value),
        series,
        [LevelLine(one, name) for one, name in lines if one is not None],
    )


# Mesh lives ---------------------------------------------------------------------------------------------------------


@bp.get("/mesh-lives")
def mesh_lives() -> Response:
    """How long the shop's meshes last, by mesh and frame, and which ones are likely near their end."""
    groups = mesh_lives_now.mesh_lives(g.db)
    ranges = [span for span in mesh_lives_now.RANGES if any(one.range == span for one in groups)]
    return page(
        "learning/lives.html",
        ranges=[
            (
                range_text(span),
                [one for one in groups if one.range == span],
                lives_chart(groups, span),
                lives_said([one for one in groups if one.range == span]),
            )
            for span in ranges
        ],
        near=mesh_lives_now.near_end(g.db),
        causes=CAUSE_WORDS,
        worn_out=WORN_OUT,
        least=lifetime.LEAST_ENDED,
        further=learning_now.further_uses(the_spec(g.db)),
        between=between_text,
        ends=ends_text,
    )


def between_text(curve: lifetime.Survival) -> str:
    """Where the number of uses that half last surely lies."""
    if curve.median_low is None:
        longest = round(curve.longest)
        return ngettext("more than {longest} use", "more than {longest} uses", longest).format(longest=longest)
    if curve.median_high is None:
        low = round(curve.median_low)
        return ngettext("{low} use or more", "{low} uses or more", low).format(low=low)
    return _("{low} and {high} uses").format(low=round(curve.median_low), high=round(curve.median_high))


def ends_text(curve: lifetime.Survival) -> str:
    """How many of a hundred wore out, and how many were restretched in good time, by the longest life."""
    last = curve.rows[-1]
    said = ngettext(
        "by {uses} use {worn} wore out, {taken} were restretched in good time",
        "by {uses} uses {worn} wore out, {taken} were restretched in good time",
        round(last.uses),
    )
    worn, taken = (measured(round(100 * share), "%") for share in (last.worn, 1 - last.survival - last.worn))
    return said.format(uses=round(last.uses), worn=worn, taken=taken)


def range_text(span: tuple[float, float]) -> str:
    """A range of mesh counts in words."""
    low, high = (measured(end, "/in") for end in span)
    if span[0] <= 0:
        return _("up to {high}").format(high=high)
    return _("above {low}").format(low=low) if span[1] >= 1e6 else _("{low} to {high}").format(low=low, high=high)


def lives_chart(groups: Sequence[mesh_lives_now.Group], span: tuple[float, float]) -> charts.Drawing | None:
    """The curves of one range, a stair for each kind of frame; none of a kind that too few have worn out of."""
    mine = [one for one in groups if one.range == span and one.enough and one.curve.rows]
    if not mine:
        return None
    end = max(one.curve.longest for one in mine) or 1.0
    series = []
    for one, line in zip(mine, ("line", "dashed", "dotted", "line"), strict=False):
        points = [(0.0, 1.0), *((row.uses, row.survival) for row in one.curve.rows)]
        points.append((one.curve.longest, points[-1][1]))
        series.append(Series(points, frame_text(one.frame), "", line, stair=True))
    return charts.chart(
        _("Share of meshes that last longer, {range}").format(range=range_text(span)),
        Axis(_("uses"), 0, end),
        Axis(_("% still good"), 0, 1, lambda share: f"{100 * share:.0f}"),
        series,
        [LevelLine(0.5, _("half"))],
    )


def lives_said(groups: Sequence[mesh_lives_now.Group]) -> str:
    """What the curves of one range mean: how many uses half of the meshes last, by the kind of frame."""
    out = []
    for one in groups:
        if not one.enough or not one.curve.rows:
            continue
        if one.curve.median is None:
            longest = round(one.curve.longest)
            said = ngettext("more than half last {n} use", "more than half last {n} uses", longest).format(n=longest)
        else:
            uses = round(one.curve.median)
            said = ngettext("half last {n} use or more", "half last {n} uses or more", uses).format(n=uses)
        out.append(f"{frame_text(one.frame)}: {said}")
    return "; ".join(out)


def frame_text(frame: str) -> str:
    """The kind of frame in words."""
    return _(frame) if frame else _("frame not noted")


# A job's ink and meshes ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class JobPanel:
    """What a job's page shows beside its print order: ink line by line and in all, and advice on meshes by
    (placement, station)."""

    lines: list[tuple[ink_now.InkLine, list[Any]]]
    totals: list[ink_now.Total]
    doubts: Verdict | None
    advice: dict[tuple[int, int], mesh_advice.Advised]
    may_weigh: bool
    weigh: Any


def job_panel(saved: jobs.Saved) -> JobPanel:
    """Ink and meshes of a job."""
    spec = the_spec(g.db)
    lines = ink_now.needs(g.db, saved)
    advice = {}
    for number, placement in enumerate(saved.sheet.placements, 1):
        for station in placement.printing:
            said = mesh_advice.advise(station, spec)
            if said is not None:
                advice[number, station.number] = said
    judged = [(line, ink_now.judge_line(line)) for line in lines]
    doubts = {(one.key, str(one.numbers)): one for _line, reasons in judged for one in reasons}
    return JobPanel(
        judged,
        ink_now.totals(lines),
        judge(doubts.values()) if doubts else None,
        advice,
        actor().leads,
        ink_now.WEIGH,
    )


@bp.get("/jobs/<code>/ink")
def job_ink(code: str) -> Response:
    """The ink of a job, term by term, and the form for a weighing."""
    return _ink_page(find.job(g.db, code))


def _ink_page(
    saved: jobs.Saved, refused: Refused | None = None, values: dict[str, list[str]] | None = None
) -> Response:
    fresh = isinstance(refused, Clash) or not values
    return page(
        "learning/ink.html",
        refused.status if refused else 200,
        job=saved,
        panel=job_panel(saved),
        faults=faults_by_field(refused),
        values=values or {},
        entry=new_entry_id() if fresh else one_of(values, "entry"),
    )


@bp.post("/jobs/<code>/weigh")
def weigh(code: str) -> AnyResponse:
    """Takes in what three printed garments weighed."""
    saved = find.job(g.db, code)
    sent = form_lists()
    form = Form(sent)
    placement, station = (counted(form.one(name)) for name in ("placement", "station"))
    try:
        weighing.weigh(g.db, actor(), saved, placement, station, form, post=form.one("entry"), now=g.now)
    except (NotAllowed, NotFound):
        raise
    except Refused as refused:
        return _ink_page(saved, refused, sent)
    return redirect(f"/jobs/{saved.code}/ink#p{placement}s{station}", code=303)


__all__ = ["bp", "exposure_note", "job_panel", "tension_panel"]
