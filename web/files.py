"""Files to take along, each with what its columns hold."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack
from threading import BoundedSemaphore
from typing import Any

from flask import Blueprint, Response, current_app
from sqlite_utils import Database

from tickets import i18n as words
from tickets import store
from tickets.domain.refusal import NotFound, TryLater
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import exports, trace
from tickets.queries.table_file import Column, column_lines, csv_file, json_lines
from tickets.store import files as rows
from web.desk import desk_page
from web.may import MANAGER, refusal
from web.support import actor

bp = Blueprint("files", __name__)


def csv_answer(name: str, columns: Sequence[Column], rows: Iterable[dict[str, Any]]) -> Response:
    """A table as a CSV file to take along."""
    answer = Response("".join(csv_file(columns, rows)), mimetype="text/csv")
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return answer


GROUPS = (
    (N_("Screens and runs"), ("screens", "stencils", "runs", "upsets", "reclaiming", "buckets", "separations")),
    (
        N_("Jobs and their sheets"),
        ("jobs", "job_versions", "job_garments", "job_placements", "job_stations", "job_colourways"),
    ),
    (
        N_("What the office keeps"),
        ("limits", "people", "places", "exposure_units", "lamp_changes", "settings", "changes", "codes", "printed"),
    ),
    (N_("The log"), ("entries",)),
)
"""The files by what they are about, for the page."""


def described() -> list[tuple[str, Sequence[Column]]]:
    """Every file with its columns, the file of a trace too."""
    return [*((table.name, table.columns) for table in exports.tables().values()), ("trace", trace.TRACE)]


@bp.get("/desk/files")
def files() -> Response:
    """Everything to take along, with what each column holds."""
    known = exports.tables()
    manages = actor().manages
    groups = [
        (heading, [known[name] for name in names if manages or not known[name].office]) for heading, names in GROUPS
    ]
    groups = [(heading, tables) for heading, tables in groups if tables]
    return desk_page("files.html", groups=groups, trace_columns=trace.TRACE, manages=manages)


@bp.get("/desk/files/<name>")
def file(name: str) -> Response:
    """One file: NAME.csv, NAME.jsonl; columns.csv says what each column holds."""
    stem, _dot, kind = name.partition(".")
    known = exports.tables()
    if stem == "columns" and kind == "csv":
        return sent_file(name, "text/csv", lambda db: column_lines(described()))
    table = known.get(stem)
    if table is None or kind not in {"csv", "jsonl"}:
        raise NotFound(_("There is no such file here."), "name")
    if table.office and not actor().manages:
        raise refusal(MANAGER)
    if kind == "csv":
        return sent_file(name, "text/csv", lambda db: csv_file(table.columns, table.rows(db)))
    return sent_file(name, "application/x-ndjson", lambda db: json_lines(table.rows(db)))


_at_once = BoundedSemaphore(2)
"""So many files are made at a time: each takes a thread and a good part of a processor for as long as it is long. One
that is made and not yet taken by its reader is no longer among them (`web.connections`)."""


def sent_file(name: str, kind: str, make: Callable[[Database], Iterable[str]]) -> Response:
    """A file sent while it is read, on a connection of its own, so that a long log needs no memory."""
    folder, language, units = current_app.config["FOLDER"], words.language(), words.units()
    if not _at_once.acquire(blocking=False):
        raise TryLater(_("Other files are being made just now. Try again in {seconds} s.").format(seconds=10), 10)

    turn = ExitStack()  # ended once, by what comes first: the last line, or the end of an answer that was never begun
    turn.callback(_at_once.release)

    def lines() -> Iterator[str]:
        db = store.connect(folder)
        try:
            words.use(language)
            words.use_units(units)
            with rows.still(db):
                yield from make(db)
        finally:
            db.close()
            turn.close()

    answer = Response(lines(), mimetype=kind)
    answer.call_on_close(turn.close)
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer
