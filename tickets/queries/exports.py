"""Files to take along: which there are, the log among them, and what each of their columns holds."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from sqlite_utils import Database

from tickets.calculator import units
from tickets.domain.desk.reclaim import ghosts
from tickets.domain.entry import Entry, stamp
from tickets.domain.refusal import NotNow
from tickets.domain.screens.tracing import StencilLife
from tickets.domain.steps import BUCKET_STEPS, RUN_STEPS, SCREEN_STEPS
from tickets.domain.told import Told, each, nobody
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import kept_files
from tickets.queries.table_file import (
    LEFT_OUT,
    Clock,
    Column,
    Table,
    as_written,
    column_lines,
    csv_file,
    json_lines,
    lines_of,
    safe_cell,
    timed,
    yes,
)
from tickets.store import buckets, codes, desk, entries, files, jobs, people, places, private, screens

__all__ = [
    "Column", "Images", "LIFE", "Table", "as_written", "csv_file", "export", "exported", "life_rows", "safe_cell",
    "tables",
]  # fmt: skip

LIFE = (
    Column("mesh", N_("Which of the screen’s meshes, counted from 1"), of=lambda one: one.row.mesh),
    Column("mesh_count", N_("Its count, as labelled"), of=lambda one: one.row.mesh_label),
    Column("stencil", N_("Which of the mesh’s stencils, counted from 1"), of=lambda one: one.row.number),
    Column("begun_at", N_("Begun: its first coat, or when it was first seen"), "time", of=lambda one: one.row.begun_at),
    Column("images", N_("What was on it"), many=True, of=lambda one: one.images),
    Column(
        "separations",
        N_("The same by their numbers in the file “separations”"),
        many=True,
        of=lambda one: list(one.row.images),
    ),
    Column("bucket", N_("Code of the bucket of its last coat"), of=lambda one: one.bucket),
    Column("preset", N_("How it was coated"), of=lambda one: one.row.preset),
    Column("coated_at", N_("Last coat"), "time", of=lambda one: one.row.coated_at),
    Column("exposed_at", N_("Exposed"), "time", of=lambda one: one.row.exposed_at),
    Column("exposure_unit", N_("The exposure unit"), of=lambda one: one.row.exposure_unit),
    Column("exposure_s", N_("Exposure time"), "s", of=lambda one: one.row.exposure_s),
    Column("exposure_units", N_("Exposure by the integrator"), "units", of=lambda one: one.row.exposure_units),
    Column("washed_at", N_("Last washout"), "time", of=lambda one: one.row.washed_at),
    Column("washout", N_("Its result: good or fault"), of=lambda one: one.row.washout),
    Column("step_held", N_("Solid step held on the step wedge"), of=lambda one: one.row.step_held),
    Column("checked_at", N_("Last check on the light table"), "time", of=lambda one: one.row.checked_at),
    Column("check", N_("Its result: good or fault"), of=lambda one: one.row.checked),
    Column("faults", N_("Faults seen at washout and check"), many=True, of=lambda one: list(one.row.fault_list)),
    Column(
        "left_out",
        N_("Steps that the shop logs, left out for this stencil"),
        many=True,
        of=lambda one: list(one.row.missed_list),
    ),
    Column("ready_at", N_("Ready for the press"), "time", of=lambda one: one.row.ready_at),
    Column("impressions", N_("Impressions of this stencil"), of=lambda one: one.row.impressions),
    Column(
        "ended_at", N_("Reclaimed, or gone with its mesh; empty: still on"), "time", of=lambda one: one.row.ended_at
    ),
    Column("turnaround_h", N_("From its first coat to its end"), "h", of=lambda one: one.row.turnaround_h),
)


class Images:
    """Says what a separation is by its number, looked up once."""

    def __init__(self, db: Database) -> None:
        self._db = db
        self._said: dict[int, str] = {}

    def __call__(self, number: int) -> str:
        if number not in self._said:
            one = jobs.separation(self._db, number)
            self._said[number] = f"{one.name} ({one.art} {one.revision})" if one else str(number)
        return self._said[number]


def life_rows(db: Database, screen: int) -> Iterator[dict[str, Any]]:
    """Every stencil of a screen as the lines of its file, oldest first."""
    return lines_of(LIFE, _stencils(db, screen), db)


class StencilLine(NamedTuple):
    """What a line of a screen's life is made from: `images` in words, the code of its `bucket`."""

    row: StencilLife
    images: list[str]
    bucket: str


def _stencils(db: Database, screen: int) -> Iterator[StencilLine]:
    codes_: dict[int, str] = {0: ""}
    image = Images(db)
    for _place, one in reversed(desk.stencils_of(db, screen, None, -1)):
        if one.bucket and one.bucket not in codes_:
            bucket = buckets.get(db, one.bucket)
            codes_[one.bucket] = bucket.code if bucket else ""
        yield StencilLine(one, [image(number) for number in one.images], codes_[one.bucket or 0])


SCREENS = (
    Column("screen", N_("Code of the screen"), of=lambda one: one.row.code),
    Column("mark", N_("Its painted mark"), of=lambda one: one.row.mark),
    Column("stage", N_("How far it is in its cycle"), of=lambda one: one.row.standing),
    Column("since", N_("Since when"), "time", of=lambda one: one.row.since),
    Column("place", N_("Where it is"), of=lambda one: one.place),
    Column("mesh_count", N_("Mesh count, as labelled"), of=lambda one: one.row.mesh),
    Column("thread_um", N_("Thread; empty: not known"), "um", of=lambda one: one.row.thread_um),
    Column("frame", N_("Frame"), of=lambda one: one.row.frame),
    Column(
        "lowest_tension_n_per_cm",
        N_("Lowest reading of the last measuring"),
        "N/cm",
        of=lambda one: one.row.minimum_n_per_cm,
    ),
    Column("tension_at", N_("When it was measured"), "time", of=lambda one: one.row.tension_at),
    Column("uses", N_("Uses of this mesh"), of=lambda one: one.row.uses),
    Column("impressions", N_("Impressions of this mesh"), of=lambda one: one.row.impressions),
    Column("missing", N_("yes: missing since a stock-take"), of=lambda one: yes(one.row.missing)),
)
JOBS = (
    Column("job", N_("Code of the job")),
    Column("title", N_("Its title")),
    Column("customer", N_("Its customer")),
    Column("reference", N_("The customer’s number")),
    Column("due", N_("Press date")),
    Column("version", N_("How often it was changed, plus one; each version is in the file “job_versions”")),
    Column("repeats", N_("Code of the earlier job that it is a reorder of")),
    Column("made_at", N_("When it was entered"), "time"),
    Column("closed_at", N_("When it was closed; empty: open"), "time"),
    Column("planned_press", N_("The press it is planned on; empty: none yet")),
    Column("planned_day", N_("The day it is planned for; empty: its press date")),
)
RUNS = (
    Column("run", N_("Number of the run")),
    Column("job", N_("Code of its job")),
    Column("version", N_("Which version of the job’s sheet it was planned with")),
    Column("placement", N_("Which placement, counted from 1")),
    Column("press", N_("The press")),
    Column("state", N_("set-up, printing, paused or finished")),
    Column("opened_at", N_("When it was opened"), "time"),
    Column("done_at", N_("When it was finished"), "time"),
    Column("impressions", N_("Impressions of all its screens together")),
    Column("good", N_("Good pieces counted")),
    Column("misprinted", N_("Misprinted pieces counted")),
    Column("stops", N_("Press stops noted")),
    Column("stop_minutes", N_("Minutes that the press stopped"), "min"),
)
BUCKETS = (
    Column("bucket", N_("Code of the bucket")),
    Column("kind", N_("What it is")),
    Column("product", N_("Product")),
    Column("colour", N_("The colour of an ink")),
    Column("series", N_("The series of an ink")),
    Column("lot", N_("The maker’s lot")),
    Column("recipe", N_("What an ink was mixed from, as written")),
    Column("mixed_at", N_("When it was mixed"), "time"),
    Column("good_until", N_("Until when it is good; empty: no time limit"), "time"),
    Column("discarded_at", N_("When it was discarded; empty: not yet"), "time"),
    Column("stencils", N_("Stencils coated from it")),
    Column("stencils_with_a_fault", N_("Of these, with a fault at washout or check")),
)


class ScreenLine(NamedTuple):
    """What a line of the screens is made from."""

    row: screens.InventoryRow
    place: str


def _screens(db: Database) -> Iterator[ScreenLine]:
    after = 0
    while rows := screens_after(db, after, 500):
        yield from rows
        after = rows[-1].row.id


def screens_after(db: Database, after: int, most: int) -> list[ScreenLine]:
    """The screens after the one with a number, in the order of their numbers, `most` at most."""
    names = places.names(db)
    rows = screens.inventory(db, screens.InventoryAsked(), after, most)
    return [ScreenLine(row, names.get(row.place or 0, "")) for row in rows]


def _stencil_lines(db: Database) -> Iterator[dict[str, Any]]:
    for number in list(screens.every_number(db)):
        screen = screens.get(db, number)
        for row in life_rows(db, number):
            yield {"screen": screen.code if screen else number, **row}


class EntryLine(NamedTuple):
    """What a line of the log is made from: an entry with the codes and names of what it is about. `run` and `bucket`
    are those of its values where the entry itself is of none."""

    entry: Entry
    codes: Callable[[str, int | None], str | None]
    run: Any
    bucket: str | None
    who: str
    override: dict[str, Any]
    crossed_by: str | None


FIXED = (
    Column("entry", N_("Id of the entry"), of=lambda one: one.entry.entry),
    Column("post", N_("Id of what was sent; several entries may come of one"), of=lambda one: one.entry.post),
    Column("part", N_("Which of them, counted from 1"), of=lambda one: one.entry.part),
    Column("step", N_("What was done"), of=lambda one: one.entry.step),
    Column("screen", N_("Code of the screen that it is about"), of=lambda one: one.codes("screen", one.entry.screen)),
    Column("run", N_("Number of the run that it is about"), of=lambda one: one.run),
    Column("job", N_("Code of the job that it is about"), of=lambda one: one.codes("job", one.entry.job)),
    Column("bucket", N_("Code of the bucket that it is about, or that was used"), of=lambda one: one.bucket),
    Column("person", N_("Who did it"), of=lambda one: one.who),
    Column("signed", N_("pin, password, tap on a name, command line, or token"), of=lambda one: one.entry.signed),
    Column("at", N_("When it was done (UTC)"), of=lambda one: stamp(one.entry.at)),
    Column("saved_at", N_("When it was written down (UTC)"), of=lambda one: stamp(one.entry.saved_at)),
)
"""What every entry has."""
TAIL = (
    Column(
        "typed",
        N_("What was typed, where that read otherwise, as JSON"),
        of=lambda one: dict(one.entry.typed) or LEFT_OUT,
    ),
    Column(
        "verdict",
        N_("The verdict shown with it, as JSON: level, reasons, and under “spec” the rows of the file “limits”"),
        of=lambda one: one.entry.verdict or LEFT_OUT,
    ),
    Column("override", N_("Who overrode a verdict, and why, as JSON"), of=lambda one: one.override or LEFT_OUT),
    Column("crosses", N_("Id of the entry that it crosses out"), of=lambda one: one.entry.crosses or LEFT_OUT),
    Column("crossed_out_by", N_("Id of the entry that crossed it out"), of=lambda one: one.crossed_by or LEFT_OUT),
)
"""What some entries have, behind their values."""


IMAGES = ("separations", "separations_seen")
"""Fields that name separations by number."""

BESIDE = {
    "press": N_("The press"),
    "not_at": N_("The place where it is missing since a stock-take"),
    "placement": N_("Which placement of the job, counted from 1"),
    "version": N_("Which version of the job’s sheet the run was planned with"),
    "stations": N_("The positions of a run, as JSON"),
    "target": N_("The settings that the run should meet, as JSON"),
    "target_from": N_("Where the target comes from: an approved run, else the job sheet"),
    "accept": N_("Who took a mesh in place of the one asked for, and why"),
    "run_settings": N_("The settings of a run that are of no position, as JSON"),
    "target_run": N_("Number of the approved run that the target comes from"),
    "measured": N_("Who took each measurement of a set-up, and when, as JSON; one without: nobody known"),
    "noted_by": N_(
        "Who noted each part of a set-up sheet and when, as JSON; `as_target`: said to be as the target, all in one"
    ),
    "noted": N_("The parts of a set-up sheet that somebody has noted by then; none: all of them"),
    "lab": N_("Measured colour of the print, L*a*b*, by position, as JSON"),
    "lab_readings": N_("The single readings of colours that were read several times, by position, as JSON"),
    "lab_under": N_("How each colour was read: light, observer, mode, instrument, by position, as JSON"),
    "garment_printed": N_("The garment that the colours were read on, style and colour"),
    "sample": N_("Where the approved sample is kept"),
    "photo": N_("Fingerprint under which a backup holds the picture of the approved print"),
    "panel": N_("Fingerprint under which a backup holds the picture of the press’s panel"),
    "field": N_("Which setting was changed during a run"),
    "from": N_("What it was before"),
    "to": N_("What it became"),
    "garment": N_("Which garment of the job’s sheet is printed from here on, counted from 1"),
    "garment_style": N_("Its style"),
    "garment_colour": N_("Its colour"),
    "images": N_("What the images are"),
    "still_needed": N_("“yes”: the stencil was given up although something still needed it"),
    "needed_by": N_("The jobs that needed it then, by their codes"),
}
"""What acts write beside the fields of their forms."""


def field_names() -> list[str]:
    """Every field of every step, once, without those that have a column of their own."""
    names: dict[str, None] = {}
    for table in (SCREEN_STEPS, RUN_STEPS, BUCKET_STEPS):
        for step in table.values():
            names.update((field.name, None) for field in step.fields)
    names.update(dict.fromkeys(BESIDE))
    fixed = {column.name for column in FIXED}
    return [name for name in names if name not in fixed]


def exported(db: Database) -> Iterator[dict[str, Any]]:
    """Every entry as plain data: things by their codes, people by name, values under their field names."""
    return entries_as_data(db, entries.every(db), files.crossings(db))


def entries_as_data(db: Database, some: Iterable[Entry], crossed: Mapping[str, str]) -> Iterator[dict[str, Any]]:
    """Some entries as plain data; `crossed`: those that were crossed out, each with the one that did it."""
    names, place_names = people.names(db), places.names(db)
    image = Images(db)
    cache: dict[tuple[str, int], str] = {}

    def code(kind: str, thing: int | None) -> str | None:
        if thing is None:
            return None
        if (kind, thing) not in cache:
            cache[(kind, thing)] = codes.current(db, kind, thing) or str(thing)
        return cache[(kind, thing)]

    for entry in some:
        values = dict(entry.values)
        if entry.crosses:
            values.pop("entry", None)
        bucket = code("bucket", entry.bucket) or code("bucket", values.pop("bucket", None))
        for name in ("place", "press", "not_at"):
            if isinstance(values.get(name), int):
                values[name] = place_names.get(values[name], values[name])
        run = entry.run if entry.run is not None else values.pop("run", None)
        if isinstance(values.get("run"), dict):  # what a set-up sheet says of the whole run
            values["run_settings"] = values["run"]
        values.pop("run", None)
        shown = [one for name in IMAGES for one in values.get(name) or ()]
        if shown:
            values["images"] = [image(number) for number in shown]
        override = dict(entry.override) if entry.override else {}
        override.pop("person", None)  # a number that says no more than the name beside it
        who = names.get(entry.person, str(entry.person))
        line = EntryLine(entry, code, run, bucket, who, override, crossed.get(entry.entry))
        yield {**_values(FIXED, line), **values, **_values(TAIL, line)}


def _values(columns: Iterable[Column], line: EntryLine) -> dict[str, Any]:
    """What these columns hold of an entry."""
    found = ((one.name, one.of(line)) for one in columns if one.of is not None)
    return {name: value for name, value in found if value is not LEFT_OUT}


def entry_columns() -> tuple[Column, ...]:
    """The log's columns: what every entry has, then the fields of the steps under their own names and units."""
    about = dict(BESIDE)
    many = {"images", "needed_by"}
    for steps in (SCREEN_STEPS, RUN_STEPS, BUCKET_STEPS):
        for step in steps.values():
            for one in step.fields:
                about[one.name] = about.get(one.name) or one.label
                many |= {one.name} if one.kind in {"numbers", "separations"} else set()
    about |= {
        "separations": N_("The images on the screen, by their numbers in the file “separations”"),
        "separations_seen": N_("The images as seen, by their numbers in the file “separations”"),
    }
    return (
        *FIXED,
        *(Column(name, about.get(name, ""), units.unit_of(name) or "", name in many) for name in field_names()),
        *TAIL,
        Column("more", N_("What else the entry carries, as JSON")),
    )


WHEN = Column("when", N_("When it was done"), "time")
"""Beside the log's own times, which are UTC to the microsecond and no date to a spreadsheet."""


def _entry_lines(db: Database) -> Iterator[dict[str, Any]]:
    known, clock = {column.name for column in entry_columns()}, Clock(db)
    for row in exported(db):
        row = {WHEN.name: clock(row["at"]), **row}
        more = {name: value for name, value in row.items() if name not in known and name != WHEN.name}
        yield {**row, "more": json.dumps(more, ensure_ascii=False)} if more else row


UPSETS = (
    Column("at", N_("When it was noted"), "time"),
    Column("run", N_("Number of the run")),
    Column("press", N_("The press")),
    Column("job", N_("Code of the job")),
    Column("title", N_("Title of the job")),
    Column("step", N_("stop, swap or count (of misprints)")),
    Column("cause", N_("Its cause")),
    Column("minutes", N_("How long the press stood"), "min"),
    Column("good", N_("Good pieces counted with it")),
    Column("misprinted", N_("Misprinted pieces")),
)
RECLAIMING = (
    Column("at", N_("When it was done"), "time"),
    Column("screen", N_("Code of the screen")),
    Column("step", N_("strip (reclaimed), haze, fault (a ghost reported), stretch (new mesh) or retire")),
    Column("seconds", N_("How long the remover was on the mesh; empty: not noted"), "s"),
    Column("cause", N_("The fault, or why the frame was retired")),
    Column("outcome", N_("Of a ghost: gone, stays (reported again after haze remover), lost, waiting")),
)


def _reclaiming_lines(db: Database) -> Iterator[dict[str, Any]]:
    """Every entry that says how reclaiming goes; what is crossed out is left out."""
    events = sorted(desk.reclaiming(db, "", limit=-1), key=lambda one: (one.at, one.entry))
    became = {one.report.entry: one.outcome for one in ghosts(events)}
    codes.current_ahead(db, [("screen", one.screen) for one in events])
    clock = Clock(db)
    for one in events:
        cause = one.cause if one.step in ("fault", "retire") else ""
        yield {
            "at": clock(one.at), "screen": codes.current(db, "screen", one.screen), "step": one.step,
            "seconds": one.seconds, "cause": cause, "outcome": became.get(one.entry, ""),
        }  # fmt: skip


def tables() -> dict[str, Table]:
    """Everything that can be taken along, by name."""
    found = (
        Table("screens", N_("A screen as it is now"), SCREENS, lambda db: lines_of(SCREENS, _screens(db), db)),
        Table("stencils", N_("A stencil, from its coat to its reclaiming"), (SCREENS[0], *LIFE), _stencil_lines),
        Table("jobs", N_("A job as it is now"), JOBS, lambda db: timed(JOBS, files.jobs(db), db)),
        Table("runs", N_("A run"), RUNS, lambda db: timed(RUNS, files.runs(db), db)),
        Table(
            "upsets",
            N_("A stop of a press, a swapped screen, or a count with misprints"),
            UPSETS,
            lambda db: timed(UPSETS, desk.upsets(db), db),
        ),
        Table(
            "reclaiming",
            N_("A screen reclaimed, haze removed, a ghost reported, new mesh, a frame retired"),
            RECLAIMING,
            _reclaiming_lines,
        ),
        Table("buckets", N_("A bucket"), BUCKETS, lambda db: timed(BUCKETS, files.buckets(db), db)),
        *kept_files.TABLES,
        Table("entries", N_("A line of the log"), (WHEN, *entry_columns()), _entry_lines, office=True),
    )
    return {one.name: one for one in found}


def export(db: Database, out: Path, told: Told = nobody) -> dict[str, int]:
    """Writes everything into a folder: the log as `entries.csv` and `entries.jsonl`, each other file likewise, and what
    each column holds as `columns.csv`; how many entries. Raises NotNow where the folder cannot be written."""
    try:
        if not out.is_dir():  # a link that somebody named themselves is followed, one inside it is not
            private.folder(out)
        with files.still(db):
            columns, number = _export_entries(db, out)
            described: list[tuple[str, tuple[Column, ...]]] = [("entries", columns)]
            for table in each(tables().values(), told):
                if table.name != "entries":
                    _write(out / f"{table.name}.csv", csv_file(table.columns, table.rows(db), mark=False))
                    _write(out / f"{table.name}.jsonl", json_lines(table.rows(db)))
                    described.append((table.name, table.columns))
        _write(out / "columns.csv", column_lines(described, mark=False))
    except OSError as error:
        raise NotNow(_("{out} cannot be written: {error}.").format(out=out, error=error.strerror or error)) from None
    return {"entries": number}


def _export_entries(db: Database, out: Path) -> tuple[tuple[Column, ...], int]:
    """Writes the log; its columns, and how many entries there are. Every value that an entry carries has its column."""
    known = entry_columns()[:-1]
    names = {column.name for column in known}
    others: dict[str, None] = {}
    number = 0
    with private.whole(out / "entries.jsonl") as lines:
        for row in exported(db):
            lines.write((json.dumps(row, ensure_ascii=False) + "\n").encode())
            others.update(dict.fromkeys(name for name in row if name not in names))
            number += 1
    more = (Column(name, N_("What else the entry carries"), units.unit_of(name) or "") for name in sorted(others))
    columns = (*known[: -len(TAIL)], *more, *known[-len(TAIL) :])
    with (out / "entries.jsonl").open(encoding="utf-8") as lines:
        _write(out / "entries.csv", csv_file(columns, map(json.loads, lines), mark=False))
    return columns, number


def _write(path: Path, text: Iterable[str]) -> None:
    with private.whole(path) as file:
        file.writelines(line.encode() for line in text)
