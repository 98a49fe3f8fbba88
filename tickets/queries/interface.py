"""What other programs read of a shop: pages of its screens, jobs, runs, buckets and log as plain data, by the columns
of the files that can be taken along; and the description of it all, in the words of the OpenAPI Specification 3.1."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.calculator import units
from tickets.domain.steps import Field, Step
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import as_data, exports, find
from tickets.queries.table_file import Column, lines_of
from tickets.store import entries, files

MOST = 500
"""Items of one page, at most."""
USUAL = 100

Items = tuple[list[dict[str, Any]], int]
"""A page of items, and the number of the last of them."""


@dataclass(frozen=True, slots=True)
class ApiPart:
    """A part of the shop that can be read: what an item is, its columns, how a page is read (after a number, so many),
    and one of them by its code or number (None: there is no such page)."""

    about: str
    columns: tuple[Column, ...]
    page: Callable[[Database, int, int], Items]
    one: Callable[[Database, str, datetime], dict[str, Any]] | None = None


def _as_stored(stamp: str | None) -> str | None:
    """A time as it is stored: UTC, ISO 8601. Empty: None."""
    return stamp or None


def _screens(db: Database, since: int, most: int) -> Items:
    found = exports.screens_after(db, since, most)
    return list(lines_of(exports.SCREENS, found, db, _as_stored)), found[-1].row.id if found else since


def _rows(table: str, columns: Sequence[Column], rows: Callable[..., Any]) -> Callable[[Database, int, int], Items]:
    times = [one.name for one in columns if one.unit == "time"]

    def page(db: Database, since: int, most: int) -> Items:
        numbers = files.numbers_after(db, table, since, most)
        found = [{**row, **{name: _as_stored(row[name]) for name in times}} for row in rows(db, since, most)]
        return found, numbers[-1] if numbers else since

    return page


def _log(db: Database, since: int, most: int) -> Items:
    found = entries.after(db, since, most)
    crossed = {name: one.entry for name, one in entries.crossed_by(db, [one.entry for _n, one in found]).items()}
    lines = exports.entries_as_data(db, [one for _n, one in found], crossed)
    return list(lines), found[-1][0] if found else since


PARTS: Mapping[str, ApiPart] = {
    "screens": ApiPart(
        N_("A screen as it is now"), exports.SCREENS, _screens,
        lambda db, code, now: as_data.screen(db, find.screen(db, code), now),
    ),
    "jobs": ApiPart(
        N_("A job as it is now"), exports.JOBS, _rows("jobs", exports.JOBS, files.jobs),
        lambda db, code, now: as_data.job(db, find.job(db, code), now),
    ),
    "runs": ApiPart(N_("A run"), exports.RUNS, _rows("runs", exports.RUNS, files.runs)),
    "buckets": ApiPart(
        N_("A bucket"), exports.BUCKETS, _rows("buckets", exports.BUCKETS, files.buckets),
        lambda db, code, now: as_data.bucket(db, find.bucket(db, code), now),
    ),
    "log": ApiPart(N_("A line of the log"), exports.entry_columns()[:-1], _log),
}  # fmt: skip
"""The parts, each named as in the addresses and in tokens."""


def page(db: Database, part: str, since: int, most: int) -> dict[str, Any]:
    """A page of a part: its items, and `next`: what `since` is for the page after it (null: there are no more yet)."""
    found, last = PARTS[part].page(db, since, most + 1)
    if len(found) > most:
        found, last = PARTS[part].page(db, since, most)
        return {"items": found, "next": last, "last": last}
    return {"items": found, "next": None, "last": last}


# The description -----------------------------------------------------------------------------------------------------


def description(version: str, shop: str, things: Mapping[str, Mapping[str, Step]]) -> dict[str, Any]:
    """The interface in the words of OpenAPI 3.1, made from the parts and their columns, and from the steps that can be
    logged of what (`things`)."""
    paths: dict[str, Any] = {}
    for name, part in PARTS.items():
        paths[f"/api/{name}"] = {"get": _listed(name, part)}
        if part.one is not None:
            paths[f"/api/{name}/{{code}}"] = {"get": _single(name, part)}
    paths["/api/jobs"]["post"] = _entered()
    paths["/api/log"]["post"] = _logged(things)
    return {
        "openapi": "3.1.0",
        "info": {
            "title": shop or "tickets",
            "version": version,
            "description": _("Reads what a shop keeps, enters jobs and logs steps. Times are UTC, ISO 8601."),
        },
        "security": [{"token": []}],
        "paths": paths,
        "components": {
            "securitySchemes": {
                "token": {
                    "type": "http",
                    "scheme": "bearer",
                    "description": _("A token that the manager makes under Settings, for some of the parts."),
                }
            },
            "schemas": {
                **{name: _schema(part) for name, part in PARTS.items()},
                **{f"{kind}_{name}": _line(kind, one) for kind, its in things.items() for name, one in its.items()},
                "job_file": _JOB_FILE,
                "problem": _PROBLEM,
            },
        },
    }


_PROBLEM = {
    "type": "object",
    "description": "RFC 9457",
    "required": ["status", "title"],
    "properties": {
        "status": {"type": "integer"},
        "title": {"type": "string"},
        "faults": {"type": "object", "additionalProperties": {"type": "string"}},
        "verdict": {"type": "object"},
    },
}
_JOB_FILE = {
    "type": "object",
    "required": ["title", "customer", "due", "art", "garment", "placement"],
    "properties": {
        **{name: {"type": "string"} for name in ("title", "customer", "reference", "repeats")},
        "due": {"type": "string", "format": "date"},
        "art": {"type": "object", "required": ["name", "revision"]},
        **{name: {"type": "array", "minItems": 1, "items": {"type": "object"}} for name in ("garment", "placement")},
        "colourway": {"type": "array", "items": {"type": "object"}},
    },
}
"""A job file as JSON; what stands within its tables is read, and refused, as of a file."""


def _answers(good: dict[str, Any], *statuses: str) -> dict[str, Any]:
    told = {
        "401": _("No token, or one that opens nothing."),
        "403": _("The token is for other parts."),
        "404": _("There is no such thing."),
        "422": _("What was asked cannot be read."),
        "400": _("The body is neither JSON nor TOML, or the header Idempotency-Key is missing."),
        "409": _("A question to answer, or something else was sent with this key before."),
        "413": _("More than is read."),
        "415": _("Neither JSON nor TOML."),
        "429": _("Too many wrong tokens."),
    }
    problem = {"application/problem+json": {"schema": {"$ref": "#/components/schemas/problem"}}}
    bad = {one: {"description": told[one], "content": problem} for one in ("401", "403", *statuses)}
    return {"200": {"description": _("Found."), "content": {"application/json": {"schema": good}}}, **bad}


def _listed(name: str, part: ApiPart) -> dict[str, Any]:
    number = {"type": "integer", "minimum": 0}
    schema = {
        "type": "object",
        "required": ["items", "next", "last"],
        "properties": {
            "items": {"type": "array", "items": {"$ref": f"#/components/schemas/{name}"}},
            "next": {"type": ["integer", "null"], "description": _("`since` of the next page; null: no more yet")},
            "last": {**number, "description": _("`since` to ask for what comes later")},
        },
    }
    return {
        "operationId": f"list_{name}",
        "summary": _(part.about),
        "parameters": [
            {"name": "since", "in": "query", "schema": {**number, "default": 0},
             "description": _("Only what was entered after this number.")},
            {"name": "limit", "in": "query", "schema": {**number, "minimum": 1, "maximum": MOST, "default": USUAL},
             "description": _("How many, at most.")},
        ],
        "responses": _answers(schema, "422"),
    }  # fmt: skip


def _single(name: str, part: ApiPart) -> dict[str, Any]:
    schema = {"type": "object", "description": _("All of it, as the command `show --json` prints it.")}
    code = {"name": "code", "in": "path", "required": True, "schema": {"type": "string"}}
    return {
        "operationId": f"show_{name}",
        "summary": _(part.about),
        "parameters": [{**code, "description": _("Its code.")}],
        "responses": _answers(schema, "404", "422"),
    }


def _posted(name: str, about: str, body: dict[str, Any], good: dict[str, Any], *more: dict[str, Any]) -> dict[str, Any]:
    """What can be sent: once by the key that the sender made for it."""
    key = {
        "name": "Idempotency-Key",
        "in": "header",
        "required": True,
        "description": _("An id of your own (16 to 32 of a-z, 0-9, -, or a UUID): sent twice, done once."),
        "schema": {"type": "string"},
    }
    answers = _answers(good, "400", "404", "409", "413", "415", "422", "429")
    answers["201"] = {**answers["200"], "description": _("Saved.")}
    answers["200"] = {**answers["200"], "description": _("Sent before: it stays so.")}
    return {
        "operationId": name,
        "summary": about,
        "parameters": [key, *more],
        "requestBody": {"required": True, "content": body},
        "responses": answers,
    }


def _entered() -> dict[str, Any]:
    schema = {
        "type": "object",
        "required": ["job", "version", "title", "remarks"],
        "properties": {
            "job": {"type": "string"},
            "version": {"type": "integer"},
            "title": {"type": "string"},
            "remarks": {"type": "array", "items": {"type": "object"}},
        },
    }
    asked = {
        "twice": _("yes: enter a job a second time that is here already."),
        "bare": _("yes: enter it without the picture that it names."),
    }
    answers = [
        {"name": name, "in": "query", "description": said, "schema": {"enum": ["yes"]}} for name, said in asked.items()
    ]
    body = {
        "application/json": {"schema": {"$ref": "#/components/schemas/job_file"}},
        "application/toml": {"schema": {"type": "string"}},
    }
    return _posted("enter_job", _("Enters a job out of a job file"), body, schema, *answers)


def _logged(things: Mapping[str, Mapping[str, Step]]) -> dict[str, Any]:
    schema = {
        "type": "object",
        "required": ["entries", "verdict"],
        "properties": {
            "entries": {"type": "array", "items": {"type": "string"}},
            "verdict": {"type": ["object", "null"]},
            "screen": {"type": "string"},
            "bucket": {"type": "string"},
            "run": {"type": "integer"},
            "stage": {"type": "string"},
            "state": {"type": "string"},
        },
    }
    lines = [{"$ref": f"#/components/schemas/{kind}_{name}"} for kind, its in things.items() for name in its]
    body = {"application/json": {"schema": {"oneOf": lines}}}
    return _posted("log_step", _("Logs a step of a screen, a run or a bucket"), body, schema)


def _line(kind: str, step: Step) -> dict[str, Any]:
    """A step as it is sent: its fields by name, and beside them the answers to what may be asked."""
    code: dict[str, Any] = {"type": ["string", "integer"]} if kind == "run" else {"type": "string"}
    needed = [one.name for one in step.fields if one.required]
    return {
        "type": "object",
        "title": _(step.title),
        "required": [kind, "step", *(["values"] if needed else [])],
        "additionalProperties": False,
        "properties": {
            kind: code,
            "step": {"const": step.name},
            "at": {"type": "string", "description": _("When it was done; left away: now.")},
            "values": {
                "type": "object",
                "required": needed,
                "properties": {one.name: _field(one) for one in (*step.fields, *step.also)},
            },
        },
    }


def _field(field: Field) -> dict[str, Any]:
    """A field of a step, as JSON Schema: in the unit of its name, or a text with a unit of its own."""
    unit = units.unit_of(field.name)
    said = {"description": f"{_(field.label)} ({unit})" if unit else _(field.label)}
    if field.kind == "choice" and field.choices:
        return {"enum": [key for key, _word in field.choices], **said}
    one = ["number", "string", "boolean"]
    return {"type": [*one, "array"], **said}


def _schema(part: ApiPart) -> dict[str, Any]:
    return {
        "type": "object",
        "description": _(part.about),
        "required": [part.columns[0].name],
        "properties": {one.name: _property(one) for one in part.columns},
    }


def _property(column: Column) -> dict[str, Any]:
    """What a column holds, as JSON Schema: a time, a number in a unit, several texts; else whatever it is."""
    said = {"description": f"{_(column.about)} ({column.unit})" if column.unit else _(column.about)}
    if column.unit == "time":
        return {"type": ["string", "null"], "format": "date-time", **said}
    return said
