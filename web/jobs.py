"""Jobs: the list, a job's page, printing a job again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import jobs as jobs_acts
from tickets.calculator import units
from tickets.calculator.numerals import counted
from tickets.domain.jobs import job as sheets
from tickets.domain.jobs import versions as rules
from tickets.domain.jobs.job import Job
from tickets.domain.papers.ticket import caution_keys, with_signs
from tickets.domain.posted import Form
from tickets.domain.refusal import NotFound, Refused
from tickets.domain.runs.repeat import SHEET_WORDS, WHOLE_WORDS
from tickets.domain.runs.run import state_said
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import desk_pictures, find, job_now, repeats, run_plan, week_said
from tickets.queries.desk_pictures import Dot
from tickets.queries.job_now import JobNow, PlacementNow
from tickets.queries.phase import state_of
from tickets.queries.print_order import carriers
from tickets.queries.run_opening import Opening, opening, ready
from tickets.queries.run_setup import said_ahead
from tickets.store import jobs as store
from tickets.store import pictures as store_pictures
from tickets.store import places, runs
from web import learning
from web.changes import HistoryLine, told
from web.job_form import PLACEMENT, STATIONS, JobField, changed_words, flat, said_remarks, today
from web.lists import PER_PAGE, ListHead, Listing, asked_for, listing, turned
from web.support import actor, faults_by_field, form_lists, page, reader, set_doing

bp = Blueprint("jobs", __name__)


# The list -----------------------------------------------------------------------------------------------------------


OPEN_HEADS = (
    ListHead("due", N_("Press date")),
    ListHead("title", N_("Job")),
    ListHead("customer", N_("Customer")),
    ListHead("", N_("Number")),
    ListHead("", N_("Screens")),
    ListHead("", N_("Code")),
)
FOUND_HEADS = tuple(head._replace(order="") for head in OPEN_HEADS)
CLOSED_HEADS = (OPEN_HEADS[0]._replace(down=True), *FOUND_HEADS[1:])


@dataclass(frozen=True, slots=True)
class JobsShown:
    """The list of jobs: its rows; whether closed ones were asked for, or what was looked for (`q`); the images that
    open ones still want as dots in print order, by the job's number (none: all is printed, and nothing is late)."""

    list: Listing
    rows: Sequence[store.JobLine]
    closed: bool
    q: str
    today: str
    dots: Mapping[int, Sequence[Dot]]


@bp.get("/jobs")
def listed() -> Response:
    """Open jobs by due date, title or customer, closed ones on request; `q` searches the customer's number or the
    code."""
    closed = request.args.get("closed") == "yes"
    text = request.args.get("q", "").strip()
    if text:
        asked = asked_for("/jobs", {"q": text}, [], "")
        found = store.search(g.db, text, PER_PAGE)
        shown = JobsShown(listing(asked, FOUND_HEADS, 0, 0, (False, False)), found, False, text, today(), _dots(found))
        return page("jobs/jobs.html", it=shown)
    heads = CLOSED_HEADS if closed else OPEN_HEADS
    used = {"closed": "yes"} if closed else {}
    asked = asked_for("/jobs", used, [head.order for head in heads if head.order], "due", down=closed)
    start = store.place_of(g.db, asked.order, asked.down, asked.row, asked.back)
    rows, before, behind = turned(asked, store.in_order(g.db, asked.order, start, PER_PAGE + 1, closed))
    first, last = (rows[0].id, rows[-1].id) if rows else (0, 0)
    shown = JobsShown(listing(asked, heads, first, last, (before, behind)), rows, closed, "", today(), _dots(rows))
    return page("jobs/jobs.html", it=shown)


def _dots(rows: Sequence[store.JobLine]) -> Mapping[int, Sequence[Dot]]:
    return desk_pictures.dots_of(g.db, [one.id for one in rows if not one.closed_at], g.now)


# A job's page -------------------------------------------------------------------------------------------------------


@bp.get("/jobs/<code>")
def job(code: str) -> Response:
    """A job: what it is, its print order, the screens for it, its runs, what to do next."""
    return job_page(find.job(g.db, code))


@dataclass(frozen=True, slots=True)
class JobVersions:
    """Two versions of a job beside each other: `first` and `second` (version, when, who, picture), what changed
    (part, field, was, is), and all versions."""

    job: store.Saved
    first: Mapping[str, Any]
    second: Mapping[str, Any]
    changes: Sequence[tuple[str, str, str, str]]
    versions: Sequence[Mapping[str, Any]]


@bp.get("/jobs/<code>/versions")
def versions(code: str) -> Response:
    """What changed between two versions of a job (`one`, `other`; the last two where nothing is asked for)."""
    job = find.job(g.db, code)
    known = {one["version"]: one for one in store.versions(g.db, job.id)}
    other = asked if (asked := counted(request.args.get("other", ""))) in known else job.version
    one = asked if (asked := counted(request.args.get("one", ""))) in known else max(1, other - 1)
    first, second = sorted((one, other))
    sheets_of = [found.sheet for number in (first, second) if (found := store.get(g.db, job.id, number))]
    changed = [
        (*changed_words(change), with_signs(change.was), with_signs(change.now))
        for change in rules.changes(sheets_of[0].to_dict(), sheets_of[1].to_dict())
    ]
    art = {n: store_pictures.of_job(g.db, job.id, n) for n in (first, second)}
    shown = [{**known[n], "picture": its.hash if (its := art[n]) else ""} for n in (first, second)]
    return page("jobs/versions.html", it=JobVersions(job, shown[0], shown[1], changed, list(known.values())))


@dataclass(frozen=True, slots=True)
class JobShown:
    """The page of a job. `placements`: each with its facts, its rows, and how many of its screens are ready; `runs`:
    each with its state in words; `planned`: on which press and day; `past`: who planned, closed or reopened it."""

    now: JobNow
    placements: tuple[dict[str, Any], ...]
    runs: tuple[tuple[runs.Run, str], ...]
    opening: Opening
    press_names: Mapping[int, str]
    remarks: list[Any]
    cautions: Any
    ink: Any
    ahead: list[dict[str, Any]]
    planned: str
    past: list[HistoryLine]


def job_page(saved: store.Saved, refused: Refused | None = None) -> Response:
    """The page of a job; after a refused act, with why."""
    now = job_now.of(g.db, saved)
    aims = {one.placement.name: one.aim for one in now.placements}
    presses, busy = places.every(g.db, "press"), runs.busy_everywhere(g.db)
    names, said = places.names(g.db), {one["place"]: one["facts"] for one in sheet_rows(saved.sheet)}
    differs = repeats.to_come(g.db, saved, g.now) if saved.repeats and not saved.closed_at else []
    shown_now = JobShown(
        now,
        tuple(_placement_shown(saved, one, said, names) for one in now.placements),
        tuple((run, _run_state(run)) for run in now.runs),
        opening(g.db, saved, now.short, presses, busy, now.under_way),
        names,
        said_remarks(saved.sheet, saved, aims),
        caution_keys(saved.sheet),
        learning.job_panel(saved),
        ahead_of(differs),
        week_said.plan_said(reader(), store.planned(g.db, saved.id)),
        told("job", store.past(g.db, saved.id)[1]).get(saved.id, []),
    )
    return page(
        "jobs/job.html",
        refused.status if refused else 200,
        it=shown_now,
        faults=faults_by_field(refused),
        said=request.args.get("said", ""),
    )


def _placement_shown(
    saved: store.Saved, one: PlacementNow, said: Mapping[str, list[tuple[str, str]]], names: Mapping[int, str]
) -> dict[str, Any]:
    """A placement with what its sheet says beside the settings, and the screens that carry its images."""
    at, open_for = f"placement[{one.number}]", "" if saved.closed_at else saved.code
    rows = [
        {
            "row": row,
            "facts": [*row.settings, *said[f"{at}.station[{row.station.number}]"]],
            "screens": carriers(g.db, row.asked.separation, names, open_for) if row.asked is not None else [],
        }
        for row in one.rows
    ]
    facts = [*said[at], *one.settings]
    return {"now": one, "facts": facts, "rows": rows, "screens": ready(g.db, saved, one.number, g.now)}


def ahead_of(found: Iterable[repeats.ToDiffer]) -> list[dict[str, Any]]:
    """What will differ from the last approved prints if a job is printed now: by placement, in words."""
    return [
        {"name": one.placement.name, "origin": one.origin, "against": one.against, "said": said}
        for one in found
        for said in [said_ahead(one, reader().system)]
        if said.lines or said.small
    ]


SETTINGS = frozenset(path for path, (name, _word) in {**SHEET_WORDS, **WHOLE_WORDS}.items() if name)
"""What a job sheet says that the set-up sheet asks too."""


def sheet_rows(sheet: Job) -> list[dict[str, Any]]:
    """What the sheet says of each placement and station beyond its name and its settings, as typed: [(label, text)] by
    place. The settings are the target's: what a run is to meet is said by one place alone, page and paper alike."""
    out = []
    data = sheet.to_dict()
    for number, placement in enumerate(data["placement"], 1):
        place = f"placement[{number}]"
        out.append({"place": place, "facts": _facts(PLACEMENT, flat(placement), ("name", *SETTINGS))})
        for order, station in enumerate(placement["station"], 1):
            fields = STATIONS[station["does"]]
            skip = ("separation", "colour", "ink", "series", "reference", "does", *SETTINGS)
            out.append({"place": f"{place}.station[{order}]", "facts": _facts(fields, flat(station), skip)})
    return out


def _facts(fields: Sequence[JobField], values: Mapping[str, str], skip: Sequence[str]) -> list[tuple[str, str]]:
    found = []
    for ask in fields:
        text = values.get(ask.name, "")
        if text and ask.name not in skip:
            found.append((ask.label, _("yes") if ask.kind == "flag" else _spelled(text)))
    return found


def _spelled(text: str) -> str:
    """A quantity as typed, its unit as people write it: `48 um` as 48 µm."""
    amount, _space, unit = text.rpartition(" ")
    return f"{amount} {units.unit_text(unit)}" if amount and unit in ("um", "degC", "degF", "deg") else text


def _run_state(run: runs.Run) -> str:
    """How far a run is, in words; what is over needs no look at its screens."""
    return state_said("finished") if run.story.state == "finished" else state_of(run_plan.plan(g.db, run.id))


@bp.post("/jobs/<code>/close")
def close(code: str) -> AnyResponse:
    """Closes the job, or opens it again (`closed` = no)."""
    saved = find.job(g.db, code)
    form = Form(form_lists())
    jobs_acts.close(g.db, actor(), saved, form.one("closed") != "no", post=form.one("entry"), now=g.now)
    return redirect(f"/jobs/{saved.code}", code=303)


@bp.post("/jobs/<code>/pick")
def pick(code: str) -> AnyResponse:
    """From here on scans say whether a frame fits the separation of `placement`, `station`."""
    saved = find.job(g.db, code)
    form = Form(form_lists())
    placement, station = (counted(form.one(name)) for name in ("placement", "station"))
    asked = store.asked(g.db, saved, placement) if 1 <= placement <= len(saved.sheet.placements) else []
    one = next((one for one in asked if one.number == station), None)
    if one is None:
        raise NotFound(_("Nothing is printed there: choose a position that prints."), "station")
    text = _("Every scan: does it fit {separation} ({mesh}), {job}?").format(
        separation=one.image.name, mesh=one.mesh, job=saved.sheet.title
    )
    set_doing({"task": "fit", "job": saved.id, "placement": placement, "station": station, "text": text})
    return redirect(f"/jobs/{saved.code}", code=303)


# Again --------------------------------------------------------------------------------------------------------------


@bp.get("/jobs/<code>/again")
def again_form(code: str) -> Response:
    """What will differ, and what a repeat needs: its title, press date, the customer's number, pieces and lots."""
    return again_page(find.job(g.db, code))


def again_page(
    saved: store.Saved, refused: Refused | None = None, values: Mapping[str, Sequence[str]] | None = None
) -> Response:
    """What will differ if the job is printed again as it is, and what the new order needs."""
    return page(
        "jobs/again.html",
        refused.status if refused else 200,
        job=saved,
        faults=faults_by_field(refused),
        values=values or {},
        ahead=ahead_of(repeats.to_come(g.db, saved, g.now, again=True)),
    )


@bp.post("/jobs/<code>/again")
def again(code: str) -> AnyResponse:
    """A new job that prints this one again, tied to it."""
    saved = find.job(g.db, code)
    form = Form(form_lists())
    data = saved.sheet.to_dict() | {
        "due": form.one("due"), "reference": form.one("reference"), "repeats": saved.code
    }  # fmt: skip
    if "title" in form.sent:
        data["title"] = form.one("title")
    for number, garment in enumerate(data["garment"], 1):
        for name in ("pieces", "lot"):
            typed = form.one(f"garment[{number}].{name}")
            if f"garment[{number}].{name}" in form.sent:
                garment[name] = (counted(typed) or typed) if name == "pieces" else typed
    try:
        sheet = sheets.read(data)
        made = jobs_acts.add(g.db, actor(), [sheet], post=form.one("entry"), now=g.now, twice=form.one("twice"))[0]
    except Refused as refused:
        return again_page(saved, refused, form.sent)
    return redirect(f"/jobs/{made}?said=entered", code=303)
