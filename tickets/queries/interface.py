"""What other programs read of a shop: pages of its screens, jobs, runs, buckets and log as plain data, by the columns
of the files that can be taken along; and the description of it all, in the words of the OpenAPI Specification 3.1."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlite_utils import Database

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


def description(version: str, shop: str) -> dict[str, Any]:
    """The interface in the words of OpenAPI 3.1, made from the parts and their columns."""
    paths: dict[str, Any] = {}
    for name, part in PARTS.items():
        paths[f"/api/{name}"] = {"get": _listed(name, part)}
        if part.one is not None:
            paths[f"/api/{name}/{{code}}"] = {"get": _single(name, part)}
    return {
        "openapi": "3.1.0",
        "info": {
            "title": shop or "tickets",
            "version": version,
            "description": _("Reads what a shop keeps. Nothing can be changed here. Times are UTC, ISO 8601."),
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
            "schemas": {**{name: _schema(part) for name, part in PARTS.items()}, "problem": _PROBLEM},
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
    },
}


def _answers(good: dict[str, Any], *statuses: str) -> dict[str, Any]:
    told = {
        "401": _("No token, or one that opens nothing."),
        "403": _("The token is for other parts."),
        "404": _("There is no such thing."),
        "422": _("What was asked cannot be read."),
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
