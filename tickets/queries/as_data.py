"""A screen, a job, a run, a bucket, the limits and a log as plain data: what their pages show, as commands print it
with `--json` and read their lines from. A computed value says so; things are named by their codes, people by name."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.calculator.units import CannotBe, magnitude, unit_of
from tickets.calculator.verdict import say
from tickets.domain.bucket import Bucket
from tickets.domain.code import shown
from tickets.domain.entry import Entry, stamp
from tickets.domain.jobs.colourways import at_rows
from tickets.domain.jobs.job import Job
from tickets.domain.runs import comparison, first_seen, repeat
from tickets.domain.runs.job_remarks import Remark
from tickets.domain.screens import checks, press_checks
from tickets.domain.screens.needs import covers_none, stage_said
from tickets.domain.screens.screen import Mesh, next_step
from tickets.i18n import gettext as _
from tickets.queries import at_press, garments, look, noted, phase, repeats, run_plan, said, shop_rules, target
from tickets.queries import due as due_now
from tickets.queries.air import air_of
from tickets.queries.shop_rules import the_spec
from tickets.store import codes, entries, jobs, people, places, run_lines, screens
from tickets.store import runs as run_rows
from tickets.store.jobs import Saved
from tickets.store.screens import Screen
from tickets.store.settings import setting


def log(db: Database, thing: str, number: int, now: datetime) -> list[dict[str, Any]]:
    """The entries of a thing (screen, run, bucket), newest first; `said`: what its line says on a page too."""
    lines = _lines(db, entries.of(db, thing, number)[::-1], now, said.IN_RUN if thing == "run" else ())
    return [
        {
            "entry": one["entry"],
            "step": one["step"],
            **({"screen": one["screen"]} if one["screen"] and thing == "run" else {}),
            **{name: one[name] for name in ("at", "saved_at", "person", "signed", "run", "values", "typed")},
            **{name: one[name] for name in ("verdict", "override", "crossed_out_by", "said")},
        }
        for one in lines
    ]


def log_lines(db: Database, lines: Sequence[Entry], now: datetime) -> list[dict[str, Any]]:
    """Entries of the whole log: what `log` says of each, with the codes of what it is about and how it was crossed
    out."""
    return _lines(db, lines, now, ())


def _lines(db: Database, lines: Sequence[Entry], now: datetime, within: tuple[str, ...]) -> list[dict[str, Any]]:
    names, place_names, reader = people.names(db), places.names(db), said.Reader.of(db, now)
    crossed_by = entries.crossed_by(db, [line.entry for line in lines])
    there = {run: found.job for run in {line.run for line in lines if line.run} if (found := run_rows.get(db, run))}
    about = [(kind, getattr(line, kind)) for line in lines for kind in ("screen", "bucket", "job")]
    about += [("job", job) for job in there.values()]
    codes.current_ahead(db, [(kind, number) for kind, number in about if number is not None])

    def code(kind: str, number: int | None) -> str | None:
        return codes.current(db, kind, number) if number else None

    def named(values: Mapping[str, Any]) -> dict[str, Any]:
        """Things as the export names them: a bucket by its code, a place by its name."""
        kept = dict(values)
        if isinstance(kept.get("bucket"), int):
            kept["bucket"] = codes.current(db, "bucket", kept["bucket"])
        for name in ("place", "press"):
            if isinstance(kept.get(name), int):
                kept[name] = place_names.get(kept[name])
        return kept

    def one(line: Entry, crossed: Entry | None) -> dict[str, Any]:
        by = {"at": stamp(crossed.at), "person": names.get(crossed.person, "?"), "why": crossed.values.get("why", "")} \
            if crossed else None  # fmt: skip
        return {
            "entry": line.entry,
            "step": line.step,
            "screen": code("screen", line.screen),
            "run": line.run,
            "job": code("job", line.job or there.get(line.run or 0)),
            "bucket": code("bucket", line.bucket),
            "at": line.at.isoformat(),
            "saved_at": line.saved_at.isoformat(),
            "person": names.get(line.person, str(line.person)),
            "signed": line.signed,
            "values": named(line.values),
            "typed": dict(line.typed),
            "verdict": line.verdict,
            "override": line.override,
            "crossed_out_by": crossed.entry if crossed else None,
            "crossed_out": by,
            "said": said.text(reader, line, without=within),
        }

    return [one(line, crossed_by.get(line.entry)) for line in lines]


def limits(db: Database) -> list[dict[str, Any]]:
    """The limits that count now, each with where it comes from and who set it."""
    names = people.names(db)
    return [
        {
            "row": row.id,
            "key": row.key,
            "value": row.value,
            "unit": row.unit,
            "conditions": dict(row.conditions),
            "source": row.source,
            "at": row.at,
            "person": names.get(row.person),
        }
        for row in the_spec(db).rows
    ]


def bucket(db: Database, found: Bucket, now: datetime) -> dict[str, Any]:
    """A bucket, whether its time is over, and its log."""
    return {**found.to_dict(), "past": found.past(now), "log": log(db, "bucket", found.id, now)}


# Screens -------------------------------------------------------------------------------------------------------------


def named_screen(found: Screen) -> dict[str, Any]:
    """A screen in a few words: code, mark, mesh."""
    mesh = found.life.mesh
    return {
        "code": found.code, "shown": shown(found.code), "mark": found.life.mark, "mesh": mesh.said if mesh else "",
    }  # fmt: skip


def row(one: screens.InventoryRow, place_names: Mapping[int, str]) -> dict[str, Any]:
    """A line of the inventory."""
    return {
        "code": one.code,
        "shown": shown(one.code),
        "mark": one.mark,
        "mesh": one.mesh,
        "thread_um": one.thread_um,
        "frame": one.frame,
        "standing": one.standing,
        "since": one.since,
        "place": place_names.get(one.place) if one.place else None,
        "minimum_n_per_cm": one.minimum_n_per_cm,
        "tension_at": one.tension_at or None,
        "uses": one.uses,
        "missing": bool(one.missing),
        "impressions": one.impressions,
    }


def screen(db: Database, found: Screen, now: datetime) -> dict[str, Any]:
    """A screen: what it is, how far it is, what it carries, what is due, its log."""
    life = found.life
    separations = jobs.separations(db, list(life.stencil.separations) if life.stencil else [])
    tension = life.tension
    return {
        "code": found.code,
        "shown": shown(found.code),
        "mark": life.mark,
        "standing": str(life.standing),
        "stage": stage_said(life),
        "going": covers_none(life),
        "condition": life.stencil.condition if life.stencil else "",
        "since": life.since,
        "mesh": mesh(life.mesh),
        "place": places.names(db).get(life.place or 0),
        "run": life.run,
        "head": life.head,
        "tension": tension
        and {
            "readings_n_per_cm": list(tension.readings_n_per_cm),
            "readings_weft_n_per_cm": list(tension.readings_weft_n_per_cm),
            "mean_n_per_cm": round(tension.mean_n_per_cm, 3),
            "minimum_n_per_cm": tension.minimum_n_per_cm,
            "at": tension.at,
            "stencils_since": tension.stencils_since,
        },
        "separations": [
            {
                "separation": number,
                "name": one.name,
                "customer": one.customer,
                "art": one.art,
                "revision": one.revision,
                "width_mm": one.width_mm,
                "said": f"{one.name} · {one.art} {one.revision} · {one.width_mm} mm · {one.customer}",
            }
            for number, one in separations.items()
        ],
        "uses": life.uses,
        "impressions": life.impressions,
        "cycles": life.cycles,
        "torn": life.torn,
        "fault": life.fault,
        "gaps": [{"entry": entry, "missing": list(missing)} for entry, missing in life.gaps],
        "conflicts": list(life.conflicts),
        "next": next_step(life, setting(db, "steps")),
        "due": _due(db, found, now),
        "log": log(db, "screen", found.id, now),
    }


def mesh(found: Mesh | None) -> dict[str, Any]:
    """The mesh as labelled; opening, open area and ink volume as the maker's sheet gives them, else computed."""
    if found is None:
        return {}
    values: dict[str, Any] = {
        "count_as_labelled": found.count_as_labelled,
        "count_per_cm": round(found.count_per_cm, 3),
        "thread_um": found.thread_um,
        "colour": found.colour,
        "frame": found.frame,
        "frame_size_mm": found.frame_size_mm,
        "stretched_at": found.stretched_at,
        "by": found.by,
        "fabric_thickness_um": found.fabric_thickness_um,
    }
    try:
        computed = found.computed()
    except CannotBe:
        computed = {}
    for name in Mesh.SHEET:
        sheet = getattr(found, name)
        low, high = computed.get(name, (None, None))
        if sheet is not None:
            values[name] = {"value": sheet, "computed": False, "source": "maker's sheet"}
        elif low is not None and low is high:
            values[name] = {"value": round(magnitude(low, str(unit_of(name))), 2), "computed": True}
        else:
            values[name] = None
    return values


def _due(db: Database, found: Screen, now: datetime) -> list[dict[str, Any]]:
    """What the screen waits for or is overdue for, and when it is dry."""
    system = shop_rules.units_read(db)
    due: list[dict[str, Any]] = [
        {"key": reason.key, "level": str(reason.level), "said": say(reason, system).text}
        for reason in due_now.of_screen(db, found.life, now)
    ]
    wet = checks.drying(found.life, the_spec(db), air_of(db, found.life, now))
    if wet is not None and wet.ready_at > now:
        text = _("drying until about {time}").format(time=noted.when_said(db, stamp(wet.ready_at)))
        due.append({"key": "drying", "until": stamp(wet.ready_at), "said": text})
    return due


# Jobs ----------------------------------------------------------------------------------------------------------------


def remarks(remarked: Iterable[Remark], system: str = "metric") -> list[dict[str, Any]]:
    """Remarks on a job, said in the reader's units."""
    found = []
    for remark in remarked:
        told = say(remark.reason, system)
        found.append(
            {
                "place": remark.place,
                "key": remark.reason.key,
                "level": str(remark.reason.level),
                "sentence": told.sentence,
                "advice": told.advice,
                "source": remark.source,
                "said": told.text,
            }
        )
    return found


def remarks_on(db: Database, found: Saved, now: datetime) -> list[dict[str, Any]]:
    """The remarks on a job of the shop, as its page and its ticket have them."""
    return remarks(target.remarked(db, found, now), shop_rules.units_read(db))


def remarks_on_sheet(db: Database | None, sheet: Job, now: datetime) -> list[dict[str, Any]]:
    """The remarks on a job sheet that is only read over; without a shop by the limits that come with the program."""
    found = target.remarked_sheet(db, sheet, now)
    return remarks(found, shop_rules.units_read(db) if db is not None else "metric")


def named_job(found: Saved) -> dict[str, Any]:
    """A job in a few words."""
    return {
        "code": found.code, "shown": shown(found.code), "title": found.sheet.title, "reference": found.sheet.reference,
    }  # fmt: skip


def job_row(one: jobs.JobLine) -> dict[str, Any]:
    """A line of the list of jobs."""
    return {**{name: value for name, value in asdict(one).items() if name != "id"}, "shown": shown(one.code)}


def carriers(db: Database, separation: int) -> list[dict[str, Any]]:
    """The screens that carry a separation, those that serve first, each with its stage in words and why it covers no
    job (`going`; empty: it does)."""
    found = [(one, covers_none(one.life)) for one in screens.carrying(db, separation)]
    return [
        {"code": one.code, "mark": one.life.mark, "standing": str(one.life.standing),
         "stage": stage_said(one.life), "going": why}
        for one, why in sorted(found, key=lambda one: bool(one[1]))
    ]  # fmt: skip


_SAID_APART = frozenset({"placement", "garment", "colourway", "repeats"})
"""Keys of a job's file that its data has under another key, or with more in them."""


def job(db: Database, found: Saved, now: datetime) -> dict[str, Any]:
    """A job: the keys of its file, the stations with the number of their separation, its screens, and what is otherwise
    there on some garments."""
    written = found.sheet.to_dict()
    placements = []
    for number, (placement, words) in enumerate(zip(found.sheet.placements, written["placement"], strict=True), 1):
        asked = {one.number: one for one in jobs.asked(db, found, number)}
        ways, stations = at_rows(found.sheet, placement), []
        for station, own in zip(placement.stations, words["station"], strict=True):
            line: dict[str, Any] = {"station": station.number, **own, "on_garments": ways.get(station.number, ())}
            if station.prints:
                want = asked[station.number]
                line |= {
                    "separation": want.separation,
                    "name": station.separation,
                    "mesh_wanted": want.mesh,
                    "work": want.work,
                    "screens": carriers(db, want.separation),
                }
            stations.append(line)
        rest = {name: value for name, value in words.items() if name != "station"}
        placements.append({"placement": number, **rest, "stations": stations})
    repeated = jobs.get(db, found.repeats) if found.repeats else None
    return {
        "code": found.code,
        "shown": shown(found.code),
        **{name: value for name, value in written.items() if name not in _SAID_APART},
        "version": found.version,
        "closed_at": found.closed_at,
        "planned": _planned(db, found),
        "repeats": repeated.code if repeated else None,
        "will_differ": _to_come(db, found, now) if repeated and not found.closed_at else [],
        "garments": written["garment"],
        "placements": placements,
        "colourways": written.get("colourway", []),
        "runs": [run.id for run in run_rows.of_job(db, found.id)],
        "remarks": remarks_on(db, found, now),
    }


def _planned(db: Database, found: Saved) -> dict[str, str]:
    """On which press and day a job is planned; empty: on none."""
    plan = jobs.planned(db, found.id)
    return {"press": places.names(db).get(plan.press or 0, ""), "day": plan.day}


def _to_come(db: Database, found: Saved, now: datetime) -> list[dict[str, Any]]:
    """What will differ if a job that repeats another is printed now, placement by placement, in its order."""
    return [
        {
            "placement": one.placement.name,
            "compared_with": one.against.said(),
            "run": one.origin.run if one.origin else None,
            "differences": repeat.as_data(one.differences, shop_rules.units_read(db)),
        }
        for one in repeats.to_come(db, found, now)
    ]


# Runs ----------------------------------------------------------------------------------------------------------------


def run_row(db: Database, one: run_lines.ListedRun) -> dict[str, Any]:
    """A line of the list of runs."""
    return {
        "run": one.id,
        "job": one.job,
        "title": one.title,
        "placement": one.placement,
        "press": places.names(db)[one.press],
        "state": one.state,
        "opened_at": one.opened_at,
        "ended_at": one.done_at,
        "good": one.good,
    }


def run(db: Database, number: int, now: datetime) -> dict[str, Any]:
    """A run: what hangs where, what is missing, its settings, what differs from the target, its counts, its log."""
    plan = run_plan.plan(db, number)
    used, over = run_plan.used(db, plan), plan.story.state == "finished"
    garment, limits_now = run_plan.garment_now(plan), the_spec(db)

    def code(screen: int) -> str | None:
        found = screens.get(db, screen)
        return found.code if found else None

    story = plan.story.to_dict()
    for hung in (*story["hung"].values(), *story["was_hung"]):
        hung["screen"] = code(hung["screen"])
    return {
        "run": number,
        "job": plan.job.code,
        "title": plan.job.sheet.title,
        "version": plan.run.version,
        "changed_since": plan.changed_since,
        "placement": plan.placement.name,
        "press": plan.press.name,
        "missing": [
            {"station": one.number, "separation": one.separation, "head": run_plan.free_head(plan, one.number)}
            for one in plan.missing()
            if not over
        ],
        **story,
        "next": phase.phase_of(plan),
        "garment_now": f"{garment.style}, {garment.colour}" if garment else None,
        "pieces": [
            {"garment": one.name, "good": one.good, "misprinted": one.misprinted, "ordered": one.ordered or None}
            for one in phase.pieces_of(db, plan)
        ],
        "garments": [asdict(one) for one in garments.of_run(db, plan)],
        "differences": [
            {"part": part, "setting": name, "group": first_seen.group_of(name), "target": was, "now": current}
            for part, name, was, current in run_plan.off_target(db, plan, limits_now)
        ],
        "small": [
            {"part": part, "setting": name, "target": was, "now": current, "within": within}
            for part, name, was, current, within in run_plan.near_target(
                db, plan, limits_now, shop_rules.units_read(db)
            )
        ],
        "set_apart": run_plan.set_apart(db, plan) or None,
        "going": at_press.going(db, plan, now).to_dict() if not over else None,
        "colour": at_press.to_mark(db, plan).to_dict() if plan.story.approved else None,
        "settings": plan.story.settings,
        "set_up": [asdict(one) for one in noted.by_garment(db, plan)],
        "used": [{**asdict(one), "screen": code(one.screen)} for one in used],
        "log": log(db, "run", number, now),
    }


def looked(db: Database, plan: run_plan.Plan, held: Screen, found: look.Looked, now: datetime) -> dict[str, Any]:
    """A screen compared with a run, as a scan at the press shows it."""
    other = screens.get(db, found.swap.screen) if found.swap else None
    short = at_press.runs_short(db, plan, held, now) if found.found.station is not None else []
    return {
        "run": plan.run.id,
        "screen": held.code,
        "face": press_checks.FACES[found.found.verdict.level],
        "verdict": found.found.verdict.to_dict(),
        "station": found.found.station,
        "head": found.head if found.found.station is not None else None,
        "heads_free": list(found.heads),
        "no_head": look.headless(db, plan, found),
        "in_place_of": other.code if other else None,
        "runs_short": [
            {"job": one.job.code, "title": one.job.sheet.title, "due": one.job.sheet.due.isoformat(),
             "placement": one.placement.name, "station": one.station, "run": one.run}
            for one in short
        ],
    }  # fmt: skip


def compared(found: repeats.SideBySide | None, number: int) -> dict[str, Any]:
    """A run beside the approved print before it; None: there is none."""
    if found is None:
        return {"run": number, "before": None, "compared_with": None, "set_apart": []}
    return {
        "run": number,
        "before": {"run": found.before.run, "day": found.before.day},
        "compared_with": found.against.said(),
        "set_apart": list(found.apart),
        **comparison.as_data(found.lines),
    }


def logged(db: Database, plan: run_plan.Plan, step: str, made: Sequence[str]) -> dict[str, Any]:
    """What the entries of one post did to a run: its state, the first verdict that was kept, where the screen hangs
    that was hung, and of a set-up sheet the parts that were noted, those claimed to be as the target all in one, and
    those that are open still."""
    verdicts = [found.verdict for one in made if (found := entries.find(db, one)) and found.verdict]
    if step in run_plan.SETS:
        verdicts = [at_press.led_to(db, plan, made).to_dict()]
    hung = [one for one in plan.story.hung.values() if step in {"hang", "swap"} and one.entry in made]
    told: dict[str, Any] = {"station": hung[0].station, "head": hung[0].head} if hung else {}
    if step == "sheet":
        just = run_plan.just_said(plan, made)
        for name, claimed in (("noted", False), ("as_target", True)):
            told[name] = [key for one in just if one.as_target is claimed for key in one.parts]
        told["open"] = run_plan.open_parts(plan)
    return {
        "run": plan.run.id,
        "entries": list(made),
        "verdict": verdicts[0] if verdicts else None,
        "state": plan.story.state,
        **told,
    }
