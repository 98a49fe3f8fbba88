"""Jobs: the list, a job's page, printing a job again."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import jobs as jobs_acts
from tickets.calculator import units
from tickets.calculator.numerals import counted
from tickets.domain.code import shown
from tickets.domain.jobs import colourways
from tickets.domain.jobs import job as sheets
from tickets.domain.jobs.job import Job
from tickets.domain.papers.ticket import caution_keys, with_signs
from tickets.domain.posted import Form
from tickets.domain.refusal import NotFound, Refused
from tickets.domain.runs import setup
from tickets.domain.runs.repeat import SHEET_WORDS, WHOLE_WORDS
from tickets.domain.runs.run import STATES
from tickets.i18n import gettext as _
from tickets.queries import boards, find, repeats, run_plan, target
from tickets.store import jobs as store
from tickets.store import pictures as store_pictures
from tickets.store import places, printed, runs
from web import learning
from web.job_form import PLACEMENT, STATIONS, JobField, flat, said_remarks, today
from web.run_words import carriers, opening, ready, said_ahead, state_of
from web.support import actor, faults_by_field, form_lists, page, set_doing

bp = Blueprint("jobs", __name__)

PER_PAGE = 50


# The list -----------------------------------------------------------------------------------------------------------


@bp.get("/jobs")
def listed() -> Response:
    """Open jobs by due date, closed ones on request; `q` searches the customer's number or the code."""
    closed = request.args.get("closed") == "yes"
    text = request.args.get("q", "").strip()
    if text:
        found = store.search(g.db, text, PER_PAGE)
        return page("jobs/jobs.html", lines=found, q=text, closed=False, after=None, today=today(), shown=shown)
    after = _after(request.args.get("after", ""))
    found = store.listed(g.db, after, PER_PAGE + 1, closed)
    more = f"{found[PER_PAGE - 1].due},{found[PER_PAGE - 1].id}" if len(found) > PER_PAGE else None
    return page("jobs/jobs.html", lines=found[:PER_PAGE], q="", closed=closed, after=more, today=today(), shown=shown)


def _after(text: str) -> tuple[str, int] | None:
    part = re.fullmatch(r"(\d{4}-\d\d-\d\d),(\d{1,15})", text)
    return (part[1], int(part[2])) if part else None


# A job's page -------------------------------------------------------------------------------------------------------


@bp.get("/jobs/<code>")
def job(code: str) -> Response:
    """A job: what it is, its print order, the screens for it, its runs, what to do next."""
    return job_page(find.job(g.db, code))


# whole: the values of one template, each by its name
def job_page(saved: store.Saved, refused: Refused | None = None) -> Response:
    """The page of a job; after a refused act, with why."""
    boards.look_ahead(g.db, [saved.id])
    sheet = saved.sheet
    names, open_for = places.names(g.db), "" if saved.closed_at else saved.code
    said = {one["place"]: one for one in sheet_rows(sheet)}
    stations = []
    aims: dict[str, target.Aim] = {}
    for number, placement in enumerate(sheet.placements, 1):
        asked = {one.number: one for one in store.asked(g.db, saved, number)}
        aim, source = target.aim(g.db, saved, number, target.under_way(g.db, saved, number))
        aims[placement.name] = aim
        told = setup.told(placement, aim)
        settings = {key: [(word, with_signs(_(text))) for word, text in some] for key, some in told.items()}
        ways = colourways.at_rows(sheet, placement)
        stations.append(
            {
                "number": number,
                "placement": placement,
                "rows": [
                    {
                        "station": station,
                        "facts": settings[str(station.number)]
                        + said[f"placement[{number}].station[{station.number}]"]["facts"],
                        "asked": asked.get(station.number),
                        "ways": ways.get(station.number, ()),
                        "screens": carriers(asked[station.number].separation, names, open_for)
                        if station.prints
                        else [],
                    }
                    for station in placement.stations
                ],
                "facts": said[f"placement[{number}]"]["facts"] + settings[setup.RUN],
                "source": source,
                **ready(saved, number),
            }
        )
    tickets = printed.of(g.db, saved.code)
    earlier = store.get(g.db, saved.repeats) if saved.repeats else None
    all_runs = runs.of_job(g.db, saved.id)
    missing = store.short(g.db, saved)
    printed_any = runs.any_impressions(g.db, saved.id)
    under_way = {run.placement for run in all_runs if run.story.state != "finished"}
    return page(
        "jobs/job.html",
        refused.status if refused else 200,
        job=saved,
        sheet=sheet,
        placements=stations,
        opening=opening(saved, missing, places.every(g.db, "press"), runs.busy_everywhere(g.db), under_way),
        lacking=[
            (sheet.placements[number - 1].name, pieces) for number, pieces in missing.items() if number not in under_way
        ]
        if printed_any
        else [],
        press_names=names,
        runs=[{"run": run, "state": _run_state(run)} for run in all_runs],
        remarks=said_remarks(sheet, saved, aims),
        cautions=caution_keys(sheet),
        ink=learning.job_panel(saved),
        versions=store.versions(g.db, saved.id),
        earlier=earlier,
        ahead=ahead_of(repeats.to_come(g.db, saved, g.now)) if saved.repeats and not saved.closed_at else [],
        repeats=store.repeats_of(g.db, saved.id),
        picture=store_pictures.of_job(g.db, saved.id, saved.version),
        printed=tickets[0] if tickets else None,
        outdated=bool(tickets and (tickets[0]["version"] or saved.version) < saved.version),
        moved=bool(tickets and g.settings["address"] and tickets[0]["address"] != g.settings["address"]),
        frozen=printed_any,
        faults=faults_by_field(refused),
        said=request.args.get("said", ""),
        shown=shown,
    )


def ahead_of(found: Iterable[repeats.ToDiffer]) -> list[dict[str, Any]]:
    """What will differ from the last approved prints if a job is printed now: by placement, in words."""
    return [
        {"name": one.placement.name, "origin": one.origin, "against": one.against, "said": said}
        for one in found
        for said in [said_ahead(one)]
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
    return _(STATES["finished"]) if run.story.state == "finished" else state_of(run_plan.plan(g.db, run.id))


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
    text = _("Picking a frame for {separation} ({mesh}), {job}").format(
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
        shown=shown,
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
