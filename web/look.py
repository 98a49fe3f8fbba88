"""The look by itself: every part in every state, drawn by the macros that the pages use. For demo shops and tests."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, Response, abort, g

from tickets.domain.stages import STANDING_WORDS, Standing
from tickets.domain.steps import SCREEN_STEPS, Step
from tickets.i18n import gettext as _
from web.charts import Axis, Drawing, LevelLine, Series, chart
from web.support import level_word, page

bp = Blueprint("look", __name__)

LEVELS = ("ok", "caution", "unknown", "stop")
PRINT = (("ready", "#c8332b"), ("ready", ""), ("half", "#1f5fa8"), ("half", ""), ("none", ""))
"""An image in each state, its ink known and not known."""
JOBS = (
    # day, when, title, what else, figure, late
    ("2 Dec", "late by a day", "Boat club shirts", "front", "1 of 5", True),
    ("4 Dec", "in a day", "Market tees, white on navy", "left chest and back", "ready", False),
)


@dataclass(frozen=True, slots=True)
class Parts:
    """What the page shows: stages, levels with their words, images of a print, jobs, the form of a step, a chart."""

    standings: tuple[tuple[Standing, str], ...]
    levels: tuple[tuple[str, str], ...]
    images: tuple[tuple[str, str], ...]
    jobs: tuple[tuple[str, str, str, str, str, bool], ...]
    step: Step
    chart: Drawing


def drawn() -> Drawing:
    """A chart of every kind of line and mark."""
    points = [(at, 28 - at * 0.8) for at in (0.0, 2.0, 4.0, 6.0, 8.0, 10.0)]
    series = (
        Series(points, "mean", "circle"),
        Series([(x, y - 2) for x, y in points], "lowest", "cross", "dashed"),
        Series([(x, y - 5) for x, y in points], "limit then", "", "dotted", stair=True),
    )
    return chart(
        "Tension over uses", Axis("uses", 0, 12), Axis("N/cm", 10, 30), series, [LevelLine(15, "floor")], "It falls."
    )


@bp.get("/look")
def look() -> Response:
    """Every part of the look; only a demo shop has this page."""
    if not g.settings.get("demo"):
        abort(404)
    it = Parts(
        tuple((one, _(STANDING_WORDS[one])) for one in Standing),
        tuple((one, level_word(one)) for one in LEVELS),
        PRINT,
        JOBS,
        SCREEN_STEPS["coat"],
        drawn(),
    )
    return page("look.html", it=it)
