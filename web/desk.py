"""The manager's desk in depth: lots traced, the life of a screen, the pool, what goes wrong, kept screens, files."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Response, current_app, g, redirect, request
from markupsafe import Markup
from sqlite_utils import Database
from werkzeug.wrappers import Response as AnyResponse

from tickets import store, words
from tickets.calculator.lifetime import LEAST_ENDED
from tickets.calculator.units import show_value
from tickets.floor import buckets as floor_buckets
from tickets.floor import desk as floor
from tickets.floor import exports, frame_list
from tickets.floor import jobs as floor_jobs
from tickets.floor import trace as traces
from tickets.floor.boards import place_names as floor_places
from tickets.floor.exports import Column
from tickets.floor.learning import mesh_lives
from tickets.floor.posting import the_spec
from tickets.floor.screens import find as find_screen
from tickets.records import checks, control
from tickets.records.code import NoCode, read, shown
from tickets.records.entry import read_stamp, stamp
from tickets.records.pool import read_shifts, shift_hours
from tickets.records.refusal import NotAllowed, NotFound, Refused
from tickets.records.screen import STANDING_WORDS
from tickets.records.steps import SCREEN_STEPS, STOP_CAUSES, WASHOUT_FAULTS
from tickets.records.tracing import StencilLife
from tickets.store import buckets, codes, desk, entries, jobs, readings
from tickets.store.screens import Screen
from tickets.words import N_, ngettext
from tickets.words import gettext as _
from web import charts, log
from web.boards import DESK_PAGES, due_words
from web.buckets import clock
from web.charts import Axis, Level, Series
from web.learning import frame_text, range_text, tension_panel, unit_path
from web.screens import work_of
from web.spec import WORDS as spec_words
from web.support import actor, form_lists, local_date, measured, need, one_of, page, row_number

bp = Blueprint("desk", __name__)


FAULT_WORDS = dict(WASHOUT_FAULTS)


def fault_words(faults: str) -> str:
    """The faults of a stencil in words."""
    return ", ".join(_(FAULT_WORDS.get(name, name)) for name in faults.split("|") if name)


def _page(template: str, status: int = 200, **values: Any) -> Response:
    return page(f"desk/{template}", status, pages=DESK_PAGES, fault_words=fault_words, **values)


def _file(name: str, columns: Sequence[Column], rows: Iterable[dict[str, Any]]) -> Response:
    """A CSV file to take along."""
    answer = Response("".join(exports.csv_file(columns, rows)), mimetype="text/csv")
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return answer


# Traces -------------------------------------------------------------------------------------------------------------


@bp.get("/desk/trace")
def trace_start() -> AnyResponse:
    """Where to start a trace; `lot`: a code, or a maker's lot."""
    asked = request.args.get("lot", "").strip()
    if asked:
        try:
            code = read(asked)
        except NoCode:
            code = None
        if code is not None and codes.find(g.db, code) is not None:
            return redirect(f"/desk/trace/{code}")
        found = traces.trace_buckets(g.db, mixed := desk.buckets_of_lot(g.db, asked), asked)
        if mixed or found.inks:
            if request.args.get("file"):
                return _file("lot", traces.TRACE, traces.trace_rows(g.db, found))
            return _trace(found, "lot", _("Lot {lot}").format(lot=asked), f"{request.full_path}&file=1", buckets=mixed)
    open_ones = buckets.open_ones(g.db, limit=60)
    return _page(
        "trace_start.html",
        404 if asked else 200,
        open=[(one, clock(one, g.now)[0], desk.coats_of(g.db, one.id)) for one in open_ones],
        next_up=traces.next_uses(g.db, open_ones),
        asked=asked,
        fault=_("No bucket was mixed from a lot “{lot}”, and no run names it.").format(lot=asked[:60]) if asked else "",
    )


def _trace(found: traces.Trace, kind: str, title: str, file: str, **more: Any) -> Response:
    lots = dict.fromkeys((one.bucket_code, one.lot) for one in found.rows if one.bucket_code)
    return _page(
        "trace.html",
        kind=kind,
        title=title,
        rows=found.rows[: traces.SHOWN],
        more=len(found.rows) > traces.SHOWN,
        inks=found.inks[: traces.SHOWN],
        totals=found.totals,
        pieces=found.pieces,
        jobs=found.jobs[: traces.SHOWN],
        lots=[(code, _("lot {lot}").format(lot=lot) if lot else _("lot not noted")) for code, lot in lots],
        file=file,
        **more,
    )


@bp.get("/desk/trace/<code>")
def trace(code: str) -> AnyResponse:
    """A bucket followed to its screens, runs and jobs; a job back to its lots; a screen's life. `CODE.csv`: a file."""
    text, dot, kind = code.partition(".")
    as_file = dot and kind == "csv"
    try:
        issued = codes.find(g.db, read(text))
    except NoCode as fault:
        raise NotFound(str(fault), "code") from None
    if issued is not None and issued.kind == "screen":
        return redirect(f"/desk/screens/{issued.current}")
    if issued is not None and issued.kind == "bucket":
        bucket = floor_buckets.find(g.db, text)
        found = traces.trace_buckets(g.db, [bucket])
        if as_file:
            return _file(f"bucket-{bucket.code}", traces.TRACE, traces.trace_rows(g.db, found))
        title = _("What bucket {code} went into").format(code=shown(bucket.code))
        return _trace(found, "bucket", title, f"/desk/trace/{bucket.code}.csv", bucket=bucket)
    if issued is None or issued.kind != "job":
        raise NotFound(_("There is no bucket and no job {code} here.").format(code=text[:20]), "code")
    job = floor_jobs.find(g.db, text)
    found = traces.trace_job(g.db, job.id)
    if as_file:
        return _file(f"job-{job.code}", traces.TRACE, traces.trace_rows(g.db, found))
    title = _("Lots behind {job}").format(job=job.sheet.title)
    return _trace(
        found, "job", title, f"/desk/trace/{job.code}.csv", job=job, carrying=desk.carrying_now(g.db, job.id)
    )


# The life of a screen -----------------------------------------------------------------------------------------------

STENCILS = 8
"""Stencils told in full on one page."""


@dataclass(frozen=True, slots=True)
class Told:
    """A stencil as its page tells it; `lines` of the log in the order of time."""

    place: int
    stencil: StencilLife
    images: tuple[str, ...]
    bucket: Any
    printed: tuple[desk.Printed, ...]
    lines: list[log.Line]


@bp.get("/desk/screens/<code>")
def screen_life(code: str) -> AnyResponse:
    """Mesh after mesh, stencil after stencil: pictures, then a table, then who did what and when."""
    text, dot, kind = code.partition(".")
    screen = find_screen(g.db, text)
    if dot and kind == "csv":
        return _file(f"screen-{screen.code}", exports.LIFE, exports.life_rows(g.db, screen.id))
    before = row_number(request.args.get("before")) or None
    found = desk.stencils_of(g.db, screen.id, before, STENCILS + 1)
    more, found = len(found) > STENCILS, found[:STENCILS]
    tensions = readings.tensions(g.db, screen.id)
    meshes = readings.meshes(g.db, screen.id)
    return _page(
        "screen.html",
        screen=screen,
        life=screen.life,
        standing_words=STANDING_WORDS,
        meshes=meshes[::-1],
        causes=CAUSES,
        tension_chart=_tension_chart(screen, tensions, meshes),
        to_come=tension_panel(screen, work_of(g.db, screen.life)),
        prints_chart=_prints_chart(screen, meshes),
        tensions=tensions[::-1][:30],
        stencils=_told(screen, found),
        between=_outside(screen, found, before),
        more=found[-1][0] if more else 0,
        before=before,
    )


CAUSES = {
    "torn": N_("torn"),
    "slack": N_("slack"),
    "ghost": N_("ghost image"),
    "frame": N_("frame"),
    "lost": N_("lost"),
    "glue gone": N_("glue gone"),
    "frame bent": N_("frame bent"),
    "restretched": N_("restretched in time"),
}


def _told(screen: Screen, found: Sequence[tuple[int, StencilLife]]) -> list[Told]:
    if not found:
        return []
    printed = desk.printed_by(g.db, screen.id, [place for place, _life in found])
    images = jobs.separations(g.db, [number for _place, one in found for number in one.images])
    logged = entries.between(g.db, "screen", screen.id, found[-1][1].begun_at, found[0][1].ended_at or "~")
    lines = [(stamp(line.at), line) for line in logged]
    told = []
    for place, one in found:
        own = [
            line
            for at, line in lines
            if one.begun_at <= at and (not one.ended_at or at <= one.ended_at)
        ]
        told.append(
            Told(
                place,
                one,
                tuple(f"{images[n].name} · {images[n].art} {images[n].revision}" for n in one.images if n in images),
                buckets.get(g.db, one.bucket) if one.bucket else None,
                tuple(run for run in printed if run.stencil == place),
                log.lines(g.db, own),
            )
        )
    return told


def _outside(screen: Screen, found: Sequence[tuple[int, StencilLife]], before: int | None) -> list[log.Line]:
    """What was done while no stencil was on, since the last one shown ended; on the first page only."""
    if before is not None or (found and not found[0][1].ended_at):
        return []
    since = found[0][1].ended_at if found else ""
    lines = entries.between(g.db, "screen", screen.id, since, "~")
    return log.lines(g.db, [line for line in lines if stamp(line.at) > since][-30:])


def _day(at: str) -> float:
    return read_stamp(at).timestamp() / 86400


def _day_text(day: float) -> str:
    return local_date(datetime.fromtimestamp(day * 86400, UTC))


def _new_meshes(meshes: Sequence[Any]) -> list[Level]:
    return [
        Level(_day(one.stretched_at), _("mesh {number}").format(number=one.number), upright=True) for one in meshes
    ]


def _tension_chart(screen: Screen, tensions: Sequence[Any], meshes: Sequence[Any]) -> Markup | None:
    """Every reading of every mesh over time, with the spec's lines for what is on the frame now."""
    if len(tensions) < 2:
        return None
    life, system = screen.life, str(g.settings["units"])
    limits = checks.tension_limits(life, "colours", the_spec(g.db)) if life.mesh else None
    lines = [(limits.new_mesh, _("new mesh")), (limits.watch, _("watch")), (limits.floor, _("floor"))] if limits else []
    levels = [Level(value, name) for value, name in lines if value is not None]
    days = [_day(one.at) for one in tensions] + [_day(one.stretched_at) for one in meshes]
    x_low, x_high = charts.reach(days, room=0.03)
    lowest = [one.minimum_n_per_cm for one in tensions]
    y_low, y_high = charts.reach(lowest, *(level.value for level in levels))
    series = []
    for number in dict.fromkeys(one.mesh for one in tensions):
        points = [(_day(one.at), one.minimum_n_per_cm) for one in tensions if one.mesh == number]
        series.append(Series(points, "", "circle", "line"))
    unit = show_value(1, "N/cm", system).split("\u00a0")[-1]
    return charts.chart(
        _("Lowest tension, mesh after mesh"),
        Axis(_("day of the reading"), x_low, x_high, _day_text),
        Axis(unit, y_low, y_high, lambda value: show_value(value, "N/cm", system).split("\u00a0")[0]),
        series,
        [*levels, *_new_meshes(meshes)],
    )


def _prints_chart(screen: Screen, meshes: Sequence[Any]) -> Markup | None:
    """Impressions added up over the whole life, each stencil's end and fault on the way."""
    printed = desk.printed_by_day(g.db, screen.id)
    ends = desk.ends_of(g.db, screen.id)
    if not ends:
        return None
    total, stair = 0, [(_day(ends[0][0]), 0.0)]
    for at, number in printed:
        total += number
        stair.append((_day(at), float(total)))
    if not total and not any(ended or faults for _begun, ended, faults in ends):
        return None  # an empty picture says less than a line
    last = max(_day(g.now.astimezone(UTC).isoformat()), stair[-1][0])
    stair.append((last, float(total)))

    def height(day: float) -> float:
        return next((y for x, y in reversed(stair) if x <= day), 0.0)

    stripped = [(day, height(day)) for _begun, ended, _faults in ends if ended for day in [_day(ended)]]
    faulty = [(day, height(day)) for begun, _ended, faults in ends if faults for day in [_day(begun)]]
    x_low, x_high = charts.reach([x for x, _y in stair] + [_day(one.stretched_at) for one in meshes], room=0.02)
    series = [Series(stair, _("prints"), "", "line", stair=True)]
    if stripped:
        series.append(Series(stripped, _("stripped"), "square", ""))
    if faulty:
        series.append(Series(faulty, _("fault"), "cross", ""))
    told = ngettext("{n} stencil, {total} impressions", "{n} stencils, {total} impressions", len(ends))
    return charts.chart(
        _("Impressions of this screen, stencil after stencil"),
        Axis(_("day"), x_low, x_high, _day_text),
        Axis(_("impressions"), 0.0, max(total * 1.08, 1.0)),
        series,
        _new_meshes(meshes),
        told.format(n=len(ends), total=total),
    )


# What runs short ----------------------------------------------------------------------------------------------------


@bp.get("/desk/short")
def short() -> Response:
    """Frames by mesh against what the coming jobs want, day by day; what would help."""
    return _page(
        "short.html",
        ahead=floor.ahead(g.db, g.now),
        days=floor.AHEAD_DAYS,
        span_words=span_words,
        idle_words=idle_words,
        due_words=due_words,
    )


def idle_words(days: int) -> str:
    """How long nobody asked for a screen: days, or whole months from two on."""
    months = days * 12 // 365
    if months < 2:
        return ngettext("{n} day", "{n} days", days).format(n=days)
    return ngettext("{n} month", "{n} months", months).format(n=months)


# The pool -----------------------------------------------------------------------------------------------------------


def _window() -> int:
    asked = row_number(request.args.get("days"))
    return asked if asked in floor.WINDOWS else 90


@bp.get("/desk/pool")
def pool() -> Response:
    """How long screens stay where, how many are made in a shift, how many frames that takes."""
    days = _window()
    return _page(
        "pool.html",
        view=floor.pool_of(g.db, g.now, days),
        days=days,
        choices=floor.WINDOWS,
        standing_words=STANDING_WORDS,
        span_words=span_words,
        shifts=shift_hours(read_shifts(g.settings["shifts"])),
        lives=mesh_lives(g.db),
        range_text=range_text,
        frame_text=frame_text,
        causes=CAUSES,
        least=LEAST_ENDED,
    )


def span_words(hours: float | None) -> str:
    """A length of time: minutes, hours or days, whichever reads best."""
    if hours is None:
        return ""
    if hours < 1:
        return _("{minutes} min").format(minutes=round(hours * 60))
    if hours < 48:
        return _("{hours} h").format(hours=f"{hours:.0f}" if hours >= 10 else f"{hours:.1f}")
    return _("{days} days").format(days=f"{hours / 24:.1f}" if hours < 240 else f"{hours / 24:.0f}")


# What goes wrong ----------------------------------------------------------------------------------------------------

GROUP_WORDS = {
    "exposure unit": N_("By exposure unit"),
    "emulsion": N_("By emulsion"),
    "bucket": N_("By bucket"),
    "mesh": N_("By mesh"),
    "left out": N_("By steps left out before"),
}
CAUSE_WORDS = {**FAULT_WORDS, **dict(STOP_CAUSES)}
MOST_GROUPS = 10


@bp.get("/desk/wrong")
def wrong() -> Response:
    """Faults, stops and misprints by cause and circumstance; the step held on each exposure unit over time."""
    days = _window()
    found = floor.wrong(g.db, g.now, days)
    return _page(
        "wrong.html",
        found=found,
        causes=_causes(found),
        charts=[(name, since, chart, _step_chart(chart)) for name, since, chart in floor.step_charts(g.db, g.now)],
        days=days,
        choices=floor.WINDOWS,
        group_words=GROUP_WORDS,
        group_name=_group_name,
        cause_words=CAUSE_WORDS,
        most=MOST_GROUPS,
        least=control.LEAST,
        baseline=control.BASELINE,
        in_a_row=control.IN_A_ROW,
    )


def _causes(found: floor.Wrong) -> list[tuple[str, control.Share | None, control.Share | None]]:
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


def _step_chart(found: control.Chart) -> Markup | None:
    """Each step held over time, the newest of many, between its limits, and the day of the drift."""
    if len(found.values) < 2:
        return None
    first = max(0, len(found.values) - DRAWN)
    if found.drifted is not None:
        first = min(first, max(0, found.drifted.place - 10))
    days = [_day(at) for at in found.at[first : first + DRAWN]]
    values, held = found.values[first : first + DRAWN], found.limits
    x_low, x_high = charts.reach(days, room=0.03)
    y_low, y_high = charts.reach(values, held.low if held else None, held.high if held else None)
    levels = []
    if held is not None:
        levels = [Level(held.high, _("upper")), Level(held.mean, _("mean")), Level(held.low, _("lower"))]
    if found.drifted is not None:
        levels.append(Level(days[found.drifted.place - first], _("drifted"), upright=True))
    return charts.chart(
        _("Step held at washout, one reading after another"),
        Axis(_("day of the washout"), x_low, x_high, _day_text),
        Axis(_("step"), y_low, y_high),
        [Series(list(zip(days, values, strict=True)), "", "circle", "line")],
        levels,
    )


# Kept screens -------------------------------------------------------------------------------------------------------

KEEP_WORDS = {
    "asked": N_("an open job asks for it"),
    "until": N_("kept until a day to come"),
    "young": N_("not longer than the shop keeps them"),
    "over": N_("kept past its day"),
    "idle": N_("longer than the shop keeps them, and no open job asks for it"),
}


@bp.get("/desk/kept")
def kept() -> Response:
    """Kept screens, worth keeping or not by the shop's rule; `strip=1`: those that are not; `print=1`: to pin up."""
    strip, paper = request.args.get("strip") == "1", request.args.get("print") == "1"
    mesh = request.args.get("mesh", "")
    most = 4 * floor.KEPT_PAGE if paper else floor.KEPT_PAGE
    rows, after = floor.kept(g.db, g.now, row_number(request.args.get("after")), strip or paper, mesh, most)
    place_names = floor_places(g.db)
    if paper:
        rows.sort(key=lambda row: (place_names.get(row.one.place or 0, ""), row.one.mark, row.one.screen))
    asked = {"strip": "1"} if strip and not paper else {}
    asked |= {"print": "1"} if paper else {}
    asked |= {"mesh": mesh} if mesh else {}
    rule = the_spec(g.db).find("keep-days")
    return _page(
        "strip_list.html" if paper else "kept.html",
        rows=rows,
        places=place_names,
        strip=strip,
        mesh=mesh,
        limit_d=rule.value if rule else None,
        rule=rule.row if rule else None,
        keep_words=KEEP_WORDS,
        more="/desk/kept?" + urlencode({**asked, "after": after}) if after else "",
        now=g.now,
    )


# Limits that nag ----------------------------------------------------------------------------------------------------


@bp.get("/desk/limits")
def limits() -> Response:
    """What set-ups are warned of, and what would change if a limit moved."""
    found, set_ups = floor.nags(g.db)
    return _page(
        "limits.html",
        rows=[(one, _reason_words(one.key), _limit_words(one)) for one in found],
        set_ups=set_ups,
        least=control.NAG_LEAST,
        most=floor.SET_UPS,
    )


REASON_WORDS = {
    "tension-under-watch": N_("tension under the watch limit"),
    "tension-under-floor": N_("tension under the floor"),
    "tension-uneven": N_("tension uneven"),
    "tension-over-ceiling": N_("tension over the ceiling"),
    "tension-missing": N_("tension never measured"),
    "tension-not-measured": N_("tension never measured"),
    "tension-old": N_("tension measured long ago"),
    "tension-old-stencils": N_("tension measured many stencils ago"),
    "tension-far-from-neighbours": N_("tension far from the neighbours’"),
    "check-missing": N_("not checked on the light table"),
    "mesh-thread-unknown": N_("thread of the mesh not known"),
    "mesh-substitute": N_("another mesh, accepted"),
    "emulsion-not-known": N_("emulsion not noted"),
    "emulsion-not-fit": N_("emulsion does not withstand the ink"),
    "named-by-eye": N_("stencil named by eye"),
    "tape-off": N_("an image to tape off"),
    "print-order-changed": N_("print order changed"),
    "taken-off-worn": N_("came off the press worn"),
    "not-ready": N_("not ready"),
    "station-taken": N_("another screen for the same station"),
}


def _reason_words(key: str) -> str:
    """What a reason is about, in a few words: its own sentence has numbers that differ each time."""
    return _(REASON_WORDS[key]) if key in REASON_WORDS else key.replace("-", " ")


def _limit_words(one: floor.Nag) -> tuple[str, str, str]:
    """The limit that a reason rests on, what it is now, and what it would have to be."""
    row = one.row
    if row is None or row.value is None:
        return "", "", ""
    name = _(spec_words.get(row.key, row.key))
    return name, measured(row.value, row.unit), measured(one.moved.value, row.unit) if one.moved else ""


# Files --------------------------------------------------------------------------------------------------------------


@bp.get("/desk/files")
def files() -> Response:
    """Everything to take along, with what each column holds."""
    return _page("files.html", tables=exports.tables().values(), frame_columns=frame_list.COLUMNS)


@bp.get("/desk/files/<name>")
def file(name: str) -> Response:
    """One file: NAME.csv, NAME.jsonl; columns.csv says what each column holds."""
    stem, _dot, kind = name.partition(".")
    known = exports.tables()
    if stem == "columns" and kind == "csv":
        return _sent(name, "text/csv", lambda db: exports.column_lines(known.values()))
    table = known.get(stem)
    if table is None or kind not in {"csv", "jsonl"}:
        raise NotFound(_("There is no such file here."), "name")
    if kind == "csv":
        return _sent(name, "text/csv", lambda db: exports.csv_file(table.columns, table.rows(db)))
    return _sent(name, "application/x-ndjson", lambda db: exports.json_lines(table.rows(db)))


def _sent(name: str, kind: str, make: Callable[[Database], Iterable[str]]) -> Response:
    """A file sent while it is read, on a connection of its own, so that a long log needs no memory."""
    folder, language = current_app.config["FOLDER"], words.language()

    def lines() -> Iterator[str]:
        db = store.connect(folder)
        try:
            desk.hold_still(db)
            words.use(language)
            yield from make(db)
        finally:
            db.close()

    answer = Response(lines(), mimetype=kind)
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


@bp.get("/desk/import")
def frames() -> Response:
    """The form for a list of frames."""
    return _page("import.html", columns=frame_list.COLUMNS, found=None, text="", fault="")


@bp.post("/desk/import")
def bring_frames() -> AnyResponse:
    """What a list of frames would come to; `act` = take: brings them in."""
    need("screen room")
    sent = form_lists()
    text = one_of(sent, "list")
    upload = request.files.get("file")
    if upload is not None and upload.filename:
        text = frame_list.decoded(upload.read())
    try:
        found = frame_list.read(g.db, text, g.now) if text.strip() else None
        if found is None:
            raise Refused(_("Choose a file, or paste the list."), "file")
        if one_of(sent, "act") == "take" and not found.faults:
            made = frame_list.take_in(g.db, actor(), text, post=one_of(sent, "entry"), now=g.now)
            return _page("import.html", columns=frame_list.COLUMNS, found=None, text="", fault="", made=made)
    except NotAllowed:
        raise
    except Refused as refused:
        message = " ".join(fault.message for fault in refused.faults)
        return _page(
            "import.html", refused.status, columns=frame_list.COLUMNS, found=None, text=text, fault=message
        )
    status = 422 if found.faults else 200
    return _page("import.html", status, columns=frame_list.COLUMNS, found=found, text=text, fault="")
