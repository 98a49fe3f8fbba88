"""The manager's desk in depth: what runs short, the pool, what goes wrong, kept screens, limits that nag."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import partial
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Response, g, request

from tickets.calculator.lifetime import LEAST_ENDED
from tickets.calculator.numerals import counted
from tickets.domain.code import shown
from tickets.domain.desk import control, reclaim
from tickets.domain.desk.pool import LEAST_STAYS, shift_hours
from tickets.domain.desk.shop_settings import shifts
from tickets.domain.limits import called
from tickets.domain.stages import STANDING_WORDS
from tickets.domain.steps import SCREEN_STEPS, WASHOUT_FAULTS
from tickets.i18n import N_, ngettext
from tickets.i18n import gettext as _
from tickets.i18n.spans import idle_said, span_said
from tickets.queries import desk as desk_now
from tickets.queries import limits as limits_now
from tickets.queries import log_now, tend
from tickets.queries import wrong as wrong_now
from tickets.queries.boards import place_names as names_of_places
from tickets.queries.mesh_lives import mesh_lives
from tickets.queries.shop_rules import the_spec
from web import charts
from web.boards import DAYS
from web.charts import Axis, LevelLine, Series
from web.learning import CAUSE_WORDS as ENDED
from web.learning import frame_text, range_text, unit_path
from web.lists import ListHead, asked_for, listing
from web.support import local_date, measured, page, row_number, zone

bp = Blueprint("desk", __name__)


FAULT_WORDS = dict(WASHOUT_FAULTS)


def fault_words(faults: str) -> str:
    """The faults of a stencil in words."""
    return ", ".join(_(FAULT_WORDS.get(name, name)) for name in faults.split("|") if name)


def desk_page(template: str, status: int = 200, **values: Any) -> Response:
    """A page of the desk."""
    return page(f"desk/{template}", status, fault_words=fault_words, **values)


# What runs short ----------------------------------------------------------------------------------------------------


@bp.get("/desk/short")
def short() -> Response:
    """Frames by mesh against what the coming jobs want, day by day; what would help."""
    asked = request.args.get("days", "")
    days = counted(asked) if counted(asked) in DAYS else desk_now.AHEAD_DAYS
    return desk_page(
        "short.html",
        ahead=desk_now.ahead(g.db, g.now, days),
        days=days,
        choices=DAYS,
        span_words=span_said,
        idle_words=idle_said,
        near=the_spec(g.db).find("mesh-count-tolerance"),
    )


# The pool -----------------------------------------------------------------------------------------------------------


def _window() -> int:
    asked = row_number(request.args.get("days"))
    return asked if asked in desk_now.WINDOWS else 90


@bp.get("/desk/pool")
def pool() -> Response:
    """How long screens stay where, how many are made in a shift, how many frames that takes."""
    days = _window()
    return desk_page(
        "pool.html",
        view=desk_now.pool_of(g.db, g.now, days),
        days=days,
        choices=desk_now.WINDOWS,
        standing_words=STANDING_WORDS,
        span_words=span_said,
        shifts=shift_hours(shifts(g.settings["shifts"])),
        lives=mesh_lives(g.db),
        least_stays=LEAST_STAYS,
        range_text=range_text,
        frame_text=frame_text,
        causes=ENDED,
        least=LEAST_ENDED,
    )


# Frames to look after -----------------------------------------------------------------------------------------------

TEND_WORDS = {
    "slack": (N_("Under the floor"), N_("Their lowest tension is under the floor of what they could print.")),
    "worn": (N_("Mesh near its end"), N_("By how long meshes like theirs lasted in this shop.")),
    "idle": (N_("Not used for long"), N_("Not used for longer than the limit; kept screens have a list of their own.")),
}


@bp.get("/desk/frames")
def frames() -> Response:
    """Frames under the floor, near their end, or idle, by mesh and place, and what to order; `print`: one of these as
    a sheet to take along."""
    paper = request.args.get("print", "")
    if paper in tend.WHY:
        found = tend.frames(g.db, g.now, paper)
        return desk_page("tend_list.html", found=found, words=TEND_WORDS[paper], do_words=tend.DO, now=g.now)
    days = _window()
    idle = the_spec(g.db).find("idle-days")
    return desk_page(
        "tend.html",
        lists=[(tend.frames(g.db, g.now, why), *TEND_WORDS[why]) for why in tend.WHY],
        pool=(view := desk_now.pool_of(g.db, g.now, days)),
        order=tend.to_order(view.meshes),
        idle=idle,
        days=days,
        choices=desk_now.WINDOWS,
        do_words=tend.DO,
    )


# What goes wrong ----------------------------------------------------------------------------------------------------

GROUP_WORDS = {
    "exposure unit": N_("By exposure unit"),
    "emulsion": N_("By emulsion"),
    "bucket": N_("By bucket"),
    "mesh": N_("By mesh"),
    "left out": N_("By steps left out before"),
}
CAUSE_WORDS = log_now.CAUSE_WORDS
MOST_GROUPS = 10
OUTCOME_WORDS = {
    reclaim.GONE: N_("haze removed, not reported again"),
    reclaim.STAYS: N_("stayed: reported again after the haze remover"),
    reclaim.LOST: N_("mesh replaced or frame retired"),
    reclaim.WAITING: N_("nothing was done about it yet"),
}


@dataclass(frozen=True, slots=True)
class WrongWords:
    """How the page says things: where the entries behind a figure are in the log, what groups and causes are called,
    what became of a ghost, how long something was on the mesh."""

    in_log: Callable[..., str]
    groups: Mapping[str, str] = field(default_factory=lambda: GROUP_WORDS)
    group: Callable[[str, str], tuple[str, str]] = field(default_factory=lambda: _group_name)
    causes: Mapping[str, str] = field(default_factory=lambda: CAUSE_WORDS)
    outcomes: Mapping[str, str] = field(default_factory=lambda: OUTCOME_WORDS)
    minutes: Callable[[reclaim.TimesOn], str] = field(default_factory=lambda: minutes_words)


@bp.get("/desk/wrong")
def wrong() -> Response:
    """Faults, stops and misprints by cause and circumstance; the step held on each exposure unit over time."""
    days = _window()
    found = wrong_now.wrong(g.db, g.now, days)
    held = wrong_now.step_charts(g.db, g.now)
    return desk_page(
        "wrong.html",
        found=found,
        causes=_causes(found),
        charts=[(name, since, _step_chart(chart), _chart_said(chart)) for name, since, chart in held],
        days=days,
        choices=desk_now.WINDOWS,
        screen_causes=[_(CAUSE_WORDS.get(cause, cause)) for cause in sorted(wrong_now.SCREEN_STOPS)],
        words=WrongWords(partial(_in_log, wrong_now.first_day(g.db, g.now, days))),
        most=MOST_GROUPS,
        baseline=control.BASELINE,
        outside=control.OUTSIDE,
    )


def _in_log(first: date, **narrowed: str) -> str:
    """Where the entries behind a figure of this window are, in the log."""
    today = g.now.astimezone(zone()).date()
    return f"/log?{urlencode({**narrowed, 'from': first.isoformat(), 'to': today.isoformat()})}"


def minutes_words(times: reclaim.TimesOn) -> str:
    """How long something was on the mesh: the median, and from the shortest to the longest."""
    if times.median_s is None or times.shortest_s is None or times.longest_s is None:
        return _("no time noted")
    said = _("in the middle {middle} min, {least} to {most} min, noted {noted} of {all} times")
    middle, least, most = (f"{one / 60:.1f}" for one in (times.median_s, times.shortest_s, times.longest_s))
    return said.format(middle=middle, least=least, most=most, noted=times.noted, all=times.number)


def _causes(found: wrong_now.Wrong) -> list[tuple[str, control.Share | None, control.Share | None]]:
    """Each fault as it was seen at the washout and at the check, the commonest first."""
    washed, checked = ({one.name: one for one in some} for some in (found.washouts, found.checks))
    rows = [(name, washed.get(name), checked.get(name)) for name in dict.fromkeys([*washed, *checked])]
    return sorted(rows, key=lambda row: -sum(one.number for one in row[1:] if one is not None))


def _group_name(kind: str, name: str) -> tuple[str, str]:
    """What a group is called, and where it leads."""
    if not name:
        return _("not noted"), ""
    if kind == "bucket":
        return shown(name), f"/desk/trace/{name}"
    if kind == "exposure unit":
        return name, unit_path(name)
    if kind == "left out":
        step = SCREEN_STEPS.get(name[1:])
        title = _(step.title) if step else name[1:]
        return (_("without: {step}") if name[0] == "-" else _("with: {step}")).format(step=title), ""
    return name, ""


DRAWN = 120
"""Readings drawn on one chart; where it drifted, those from shortly before on."""


def _step_chart(found: control.Chart) -> charts.Drawing | None:
    """How far each strip lies from its like, the newest of many, between the limits of one reading alone, and the day
    of the drift."""
    first = max(0, len(found.held) - DRAWN)
    if found.drifted is not None:
        first = min(first, max(0, found.drifted.place - 10))
    apart = set(found.apart)
    drawn = [
        (charts.day(found.at[place]), off, place in apart)
        for place, off in enumerate(found.off[first : first + DRAWN], first)
        if off is not None
    ]
    if len(drawn) < 2:
        return None
    reach = control.OUTSIDE * found.spread if found.spread else None
    x_low, x_high = charts.reach([day for day, _off, _apart in drawn], room=0.03)
    y_low, y_high = charts.reach([off for _day, off, _apart in drawn], *((-reach, reach) if reach else ()))
    levels = [LevelLine(0.0, _("the others"))]
    if reach:
        levels = [LevelLine(reach, _("upper")), *levels, LevelLine(-reach, _("lower"))]
    if found.drifted is not None:
        levels.append(LevelLine(charts.day(found.at[found.drifted.place]), _("drifted"), upright=True))
    series = [
        Series([(day, off) for day, off, _apart in drawn]),
        Series([(day, off) for day, off, far in drawn if not far], "", "circle", ""),
    ]
    outside = [(day, off) for day, off, far in drawn if far]
    if outside:
        series.append(Series(outside, _("outside"), "cross", ""))
    return charts.chart(
        _("Step wedges by day: steps higher or lower than others with the same unit, emulsion and mesh"),
        Axis(_("day of the washout"), x_low, x_high, charts.day_text),
        Axis(_("steps"), y_low, y_high),
        series,
        levels,
    )


def _chart_said(found: control.Chart) -> list[tuple[str, str, str]]:
    """What a chart shows, line by line: a mark, a text, what more there is to say; last what it means."""
    strips = ngettext("{n} step wedge", "{n} step wedges", len(found.held)).format(n=len(found.held))
    if not found.judged or found.spread is None:
        few = _("{strips}: too few to say anything. Judging starts after the first {baseline} that can be compared.")
        said = [("", few.format(strips=strips, baseline=control.BASELINE), "")]
    else:
        sorts = ngettext("{n} group", "{n} groups", found.groups).format(n=found.groups)
        usual = _(
            "{strips} in {sorts} (a group: same unit, emulsion and mesh); "
            "two in three lie within {spread} steps of their group"
        )
        said = [("", usual.format(strips=strips, sorts=sorts, spread=f"{found.spread:.1f}"), "")]
    for place in found.apart:
        day, step = local_date(found.at[place]), f"{found.held[place]:g}"
        why = _("step {step} held, on one of the first step wedges: find out what was different on that day").format(
            step=step
        )
        said.append(("!", _("Step wedge of {day}: far from the others").format(day=day), why))
    if found.drifted is not None:
        place = found.drifted.place
        off = found.off[place] or 0.0
        if found.drifted.how == "outside":
            what = (
                _("step {step} held, {off} steps higher than others with the same unit, emulsion and mesh")
                if off > 0
                else _("step {step} held, {off} steps lower than others with the same unit, emulsion and mesh")
            ).format(step=f"{found.held[place]:g}", off=f"{abs(off):.1f}")
        else:
            what = (
                _("from here on the step wedges keep coming out higher than before")
                if off > 0
                else _("from here on the step wedges keep coming out lower than before")
            )
        look = _("look at the lamp, the glass and the bucket, and shoot a step wedge")
        said.append(("!", _("Moved on {day}").format(day=local_date(found.at[place])), f"{what}; {look}"))
    elif found.judged:
        fine = ngettext(
            "nothing moved in the {n} step wedge after the first ones",
            "nothing moved in the {n} step wedges after the first ones",
            found.judged,
        )
        said.append(("✓", fine.format(n=found.judged), ""))
    return said


# Kept screens -------------------------------------------------------------------------------------------------------

KEEP_WORDS = {
    "asked": N_("an open job asks for it"),
    "worn": N_("an open job asks for it, but it came off worn: look it over, else that job has no screen"),
    "until": N_("kept until a day to come"),
    "for": N_("kept for something"),
    "young": N_("not longer than the shop keeps them"),
    "over": N_("kept too long"),
    "idle": N_("longer than the shop keeps them, and no open job asks for it"),
}


KEPT_HEADS = (
    ListHead("number", N_("Screen")),
    ListHead("", N_("On it")),
    ListHead("", N_("Place")),
    ListHead("since", N_("Kept since")),
    ListHead("", N_("Last on press")),
    ListHead("", N_("Worth keeping")),
)


@bp.get("/desk/kept")
def kept() -> Response:
    """Kept screens by number or by since when, worth keeping or not by the shop's rule; `strip=1`: those that are not;
    `print=1`: to pin up."""
    strip, paper = request.args.get("strip") == "1", request.args.get("print") == "1"
    mesh = request.args.get("mesh", "")
    most = 4 * desk_now.KEPT_PAGE if paper else desk_now.KEPT_PAGE
    used = {name: text for name, text in (("strip", "1" if strip else ""), ("mesh", mesh)) if text}
    asked = asked_for("/desk/kept", used, ["number", "since"], "number")
    rows, after = desk_now.kept(g.db, g.now, asked.row, strip or paper, mesh, most, order=asked.order, down=asked.down)
    place_names = names_of_places(g.db)
    if paper:
        rows.sort(key=lambda row: (place_names.get(row.one.place or 0, ""), row.one.mark, row.one.screen))
    rule = the_spec(g.db).find("keep-days")
    return desk_page(
        "strip_list.html" if paper else "kept.html",
        rows=rows,
        places=place_names,
        strip=strip,
        mesh=mesh,
        missing=desk_now.to_strip_missing(g.db, g.now, mesh) if (strip or paper) and not after else 0,
        rule=rule,
        keep_words=KEEP_WORDS,
        strip_cautions=SCREEN_STEPS["strip"].cautions,
        more=asked.link(after=str(after), print="1" if paper else "") if after else "",
        list=listing(asked, KEPT_HEADS, 0, 0, (False, False)),
        filters=[("mesh", mesh)] if mesh else [],
        now=g.now,
    )


# Limits that nag ----------------------------------------------------------------------------------------------------


@bp.get("/desk/limits")
def limits() -> Response:
    """What set-ups are warned of, and what would change if a limit moved."""
    found, set_ups = limits_now.nags(g.db)
    return desk_page(
        "limits.html",
        rows=[(one, _reason_words(one.key), _limit_words(one)) for one in found],
        set_ups=set_ups,
        least=control.NAG_LEAST,
        most=limits_now.SET_UPS,
    )


REASON_WORDS = {
    "tension-under-watch": N_("tension under “caution from”"),
    "tension-under-floor": N_("tension under the floor"),
    "tension-uneven": N_("tension uneven"),
    "tension-over-ceiling": N_("tension over the ceiling"),
    "tension-missing": N_("tension never measured"),
    "tension-not-measured": N_("tension never measured"),
    "tension-old": N_("tension measured long ago"),
    "tension-old-stencils": N_("tension measured many stencils ago"),
    "tension-far-from-neighbours": N_("tension far from the other screens’"),
    "check-missing": N_("not checked on the light table"),
    "mesh-thread-unknown": N_("thread of the mesh not known"),
    "mesh-substitute": N_("another mesh, accepted"),
    "emulsion-not-known": N_("emulsion not noted"),
    "emulsion-not-fit": N_("emulsion does not withstand the ink"),
    "named-by-eye": N_("image judged by eye"),
    "checked-wet": N_("checked while still wet"),
    "tension-provisional": N_("tension measured before the mesh had settled"),
    "stencil-weak": N_("weak stencil"),
    "bucket-past-time": N_("bucket expired"),
    "tape-off": N_("an image to tape off"),
    "print-order-changed": N_("print order changed"),
    "taken-off-worn": N_("came off the press worn"),
    "not-ready": N_("not ready"),
    "station-taken": N_("another screen for the same position"),
}


def _reason_words(key: str) -> str:
    """What a reason is about, in a few words: its own sentence has numbers that differ each time."""
    return _(REASON_WORDS[key]) if key in REASON_WORDS else key.replace("-", " ")


def _limit_words(one: limits_now.Nag) -> tuple[str, str, str]:
    """The limit that a reason rests on, what it is now (empty: it was withdrawn), and what it would have to be."""
    row = one.row
    if row is None:
        return "", "", ""
    name = called(row.key)
    if row.value is None:
        return name, "", ""
    return name, measured(row.value, row.unit), measured(one.moved.value, row.unit) if one.moved else ""
