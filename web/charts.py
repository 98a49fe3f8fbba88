"""Charts, worked out on the server and drawn as SVG by `_look.html`: they work without scripts, on paper, and where
every pixel is amber.

Everything is drawn in the colour of the text; series are told apart by their marks and dashes, and named beside the
place where they end. What a chart shows stands in a table beside it too.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

from tickets.domain.entry import read_stamp
from web.support import local_date

WIDTH, HEIGHT = 360, 240
LEFT, RIGHT, TOP, BOTTOM = 40, 88, 32, 40
DASHES = {"line": "", "dashed": "7 4", "dotted": "2 4"}
NAMED, CHARACTER = 13, 6.2
"""How high a line of text and how wide a character is, about, to keep names apart."""

Point = tuple[float, float]


def day(at: str) -> float:
    """A stored time as a place on an axis of days."""
    return read_stamp(at).timestamp() / 86400


def day_text(value: float) -> str:
    """The day at a place of such an axis."""
    return local_date(datetime.fromtimestamp(value * 86400, UTC))


@dataclass(frozen=True, slots=True)
class Series:
    """A line, a stair or marks. `mark`: "" (none), "circle", "cross", "square", "ring", "tick", "triangle"; `line`: "",
    "line", "dashed", "dotted"; `stair`: each value holds until the next point."""

    points: Sequence[Point]
    name: str = ""
    mark: str = ""
    line: str = "line"
    stair: bool = False


@dataclass(frozen=True, slots=True)
class LevelLine:
    """A limit: a named line straight across at `value`, or (`upright`) straight up."""

    value: float
    name: str
    upright: bool = False


@dataclass(frozen=True, slots=True)
class Axis:
    """What is measured, from where to where; `text` writes a value of it."""

    name: str
    low: float
    high: float
    text: Callable[[float], str] = field(default=lambda value: f"{value:g}")
    ticks: Sequence[float] | None = None

    def at(self) -> list[float]:
        """The values to be written along it."""
        return list(self.ticks) if self.ticks is not None else ticks(self.low, self.high)


def ticks(low: float, high: float, most: int = 5) -> list[float]:
    """Round values from `low` to `high`, at most `most` + 1 of them."""
    span = high - low
    if span <= 0 or not math.isfinite(span):
        return [low]
    size = 10 ** math.floor(math.log10(span / most))
    step = next(size * factor for factor in (1, 2, 2.5, 5, 10) if span / (size * factor) <= most + 1e-9)
    first = math.ceil(low / step - 1e-9) * step
    out: list[float] = []
    while first + len(out) * step <= high + span * 1e-9:
        out.append(round(first + len(out) * step, 10))
    return out


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """A line through places of the picture (`points`: as SVG writes them), its width and dashes."""

    points: str
    width: float = 1
    dash: str = ""


@dataclass(frozen=True, slots=True)
class DrawnMark:
    """A mark around a place of the picture; `kind` as in `Series.mark`."""

    kind: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class DrawnText:
    """Words at a place of the picture; `anchor`: which end of them lies there."""

    x: float
    y: float
    said: str
    anchor: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """A chart as it is drawn: its size, what it says in words, its lines, marks and texts."""

    label: str
    lines: tuple[DrawnLine, ...]
    marks: tuple[DrawnMark, ...]
    texts: tuple[DrawnText, ...]
    width: int = WIDTH
    height: int = HEIGHT


class _Sheet:
    """What is drawn so far."""

    def __init__(self) -> None:
        self.lines: list[DrawnLine] = []
        self.marks: list[DrawnMark] = []
        self.texts: list[DrawnText] = []

    def line(self, points: Sequence[Point], kind: str, width: float = 1) -> None:
        places = " ".join(f"{px:.1f},{py:.1f}" for px, py in points)
        self.lines.append(DrawnLine(places, width, DASHES[kind]))

    def mark(self, kind: str, x: float, y: float) -> None:
        self.marks.append(DrawnMark(kind, round(x, 1), round(y, 1)))

    def text(self, x: float, y: float, said: str, anchor: str) -> None:
        self.texts.append(DrawnText(round(x, 1), round(y, 1), said, anchor))


def chart(
    title: str, x: Axis, y: Axis, series: Sequence[Series], levels: Sequence[LevelLine] = (), told: str = ""
) -> Drawing:
    """The chart to be drawn. `title` names it and `told` says in words what it shows, for whoever does not see it."""
    frame, sheet = _Frame(x, y), _Sheet()
    _axes(frame, sheet)
    beside: list[tuple[float, str, Series | None]] = []
    above: list[tuple[float, str]] = []
    for level in levels:
        low, high = (x.low, x.high) if level.upright else (y.low, y.high)
        if not low <= level.value <= high:
            continue
        if level.upright:
            at = frame.x(level.value)
            sheet.line([(at, TOP), (at, HEIGHT - BOTTOM)], "dotted")
            above.append((at, level.name))
        else:
            at = frame.y(level.value)
            sheet.line([(LEFT, at), (WIDTH - RIGHT, at)], "dashed", 1.2)
            beside.append((at, level.name, None))
    for one in series:
        places = [(frame.x(px), frame.y(py)) for px, py in (_stair(one.points) if one.stair else one.points)]
        if one.line and len(places) > 1:
            sheet.line(places, one.line, 2)
        if one.mark:
            for px, py in one.points:
                sheet.mark(one.mark, frame.x(px), frame.y(py))
        if one.name and places:
            beside.append((places[-1][1], one.name, one))
    _beside(beside, sheet)
    _above(above, sheet)
    return Drawing(f"{title}. {told}".strip(), tuple(sheet.lines), tuple(sheet.marks), tuple(sheet.texts))


class _Frame:
    """Where values lie on the picture; what is outside an axis is drawn at its edge."""

    def __init__(self, x: Axis, y: Axis) -> None:
        self._x, self._y = x, y

    def x(self, value: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * self._share(self._x, value)

    def y(self, value: float) -> float:
        return HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * self._share(self._y, value)

    @staticmethod
    def _share(axis: Axis, value: float) -> float:
        span = axis.high - axis.low
        return min(1.0, max(0.0, (value - axis.low) / span)) if span > 0 else 0.5

    def axes(self) -> tuple[Axis, Axis]:
        return self._x, self._y


def _stair(points: Sequence[Point]) -> list[Point]:
    out: list[Point] = []
    for x, y in points:
        if out:
            out.append((x, out[-1][1]))
        out.append((x, y))
    return out


def _axes(frame: _Frame, sheet: _Sheet) -> None:
    x, y = frame.axes()
    bottom = HEIGHT - BOTTOM
    sheet.line([(LEFT, TOP), (LEFT, bottom), (WIDTH - RIGHT, bottom)], "line")
    for value in y.at():
        at = frame.y(value)
        sheet.line([(LEFT - 4, at), (LEFT, at)], "line")
        sheet.text(LEFT - 6, at + 4, y.text(value), "end")
    last = -1e9
    for value in x.at():
        at, said = frame.x(value), x.text(value)
        sheet.line([(at, bottom), (at, bottom + 4)], "line")
        wide = CHARACTER * len(said) / 2
        if at - wide > last + 4:
            sheet.text(min(at, WIDTH - wide), bottom + 16, said, "middle")
            last = at + wide
    sheet.text(WIDTH - RIGHT, HEIGHT - 6, x.name, "end")
    sheet.text(2, 10, y.name, "start")


def _beside(names: Sequence[tuple[float, str, Series | None]], sheet: _Sheet) -> None:
    """The names of lines, right of the plot, from the top down, each below the one before and none under the plot; a
    series with a sample of its line or mark, since it may have been moved."""
    left = WIDTH - RIGHT + 5
    ordered = sorted(names, key=lambda one: one[:2])
    places: list[float] = []
    for y, _text_of, _series in ordered:
        places.append(max(y, places[-1] + NAMED if places else float(TOP)))
    lowest = float(HEIGHT - BOTTOM)
    for number in reversed(range(len(places))):
        places[number] = min(places[number], lowest)
        lowest = places[number] - NAMED
    for free, (_y, text, series) in zip(places, ordered, strict=True):
        start = left
        if series is not None:
            start += 20
            if series.line:
                sheet.line([(left, free), (left + 16, free)], series.line, 2)
            if series.mark:
                sheet.mark(series.mark, left + 8, free)
        sheet.text(start, free + 4, text, "start")


def _above(names: Sequence[tuple[float, str]], sheet: _Sheet) -> None:
    """The names of upright lines over the plot; one that would lie on the one before is left out."""
    free = float(LEFT)
    for x, text in sorted(names):
        wide = CHARACTER * len(text)
        left = min(x, WIDTH - wide)
        if left >= free:
            sheet.text(left, TOP - 4, text, "start")
            free = left + wide + NAMED


def reach(values: Sequence[float], *also: float | None, room: float = 0.08) -> tuple[float, float]:
    """From where to where an axis must go to hold these values, with a little room; (0, 1) for none."""
    every = [value for value in (*values, *also) if value is not None and math.isfinite(value)]
    if not every:
        return 0.0, 1.0
    low, high = min(every), max(every)
    spare = (high - low or abs(high) or 1.0) * room
    return low - spare, high + spare
