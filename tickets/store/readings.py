"""What the log teaches, as rows: tension readings, washouts, meshes. Worked out like the standings."""

from __future__ import annotations

import json
from dataclasses import asdict, astuple, dataclass, fields
from typing import Any

from sqlite_utils import Database

from tickets.records.readings import Lesson, MeshLife, TensionReading, WashoutReading

_TENSION = tuple(field.name for field in fields(TensionReading))
_WASHOUT = tuple(field.name for field in fields(WashoutReading))
_MESH = tuple(field.name for field in fields(MeshLife))


def _save(db: Database, table: str, columns: tuple[str, ...], screen: int, rows: list[tuple[Any, ...]]) -> None:
    """Makes the rows of one screen what they should be; rows that are so already are not written again."""
    names = ", ".join(columns)
    there = db.execute(f"SELECT {names} FROM {table} WHERE screen = ? ORDER BY place", [screen]).fetchall()
    same = 0
    while same < min(len(there), len(rows)) and tuple(there[same]) == rows[same]:
        same += 1
    if len(there) > same:
        db.execute(f"DELETE FROM {table} WHERE screen = ? AND place >= ?", [screen, same])
    marks = ", ".join("?" * (len(columns) + 2))
    for place, row in enumerate(rows[same:], same):
        db.execute(f"INSERT INTO {table} (screen, place, {names}) VALUES ({marks})", [screen, place, *row])


def _tension_row(reading: TensionReading) -> tuple[Any, ...]:
    return (*astuple(reading)[:-1], json.dumps(reading.warp))


def save(db: Database, screen: int, lesson: Lesson) -> None:
    """Writes what one screen's log teaches."""
    _save(db, "tensions", _TENSION, screen, [_tension_row(one) for one in lesson.tensions])
    _save(db, "washouts", _WASHOUT, screen, [astuple(one) for one in lesson.washouts])
    _save(db, "meshes", _MESH, screen, [astuple(one) for one in lesson.meshes])


def saved(db: Database, screen: int) -> Lesson:
    """The lesson of one screen as it stands in the file."""
    return Lesson(
        tuple(tensions(db, screen)),
        tuple(
            WashoutReading(*row)
            for row in db.execute(
                f"SELECT {', '.join(_WASHOUT)} FROM washouts WHERE screen = ? ORDER BY place", [screen]
            ).fetchall()
        ),
        tuple(meshes(db, screen)),
    )


def tensions(db: Database, screen: int) -> list[TensionReading]:
    """A screen's readings, oldest first."""
    rows = db.execute(
        f"SELECT {', '.join(_TENSION)} FROM tensions WHERE screen = ? ORDER BY place", [screen]
    ).fetchall()
    named = (dict(zip(_TENSION, row, strict=True)) for row in rows)
    return [TensionReading(**{**row, "warp": tuple(json.loads(row["warp"]))}) for row in named]


def meshes(db: Database, screen: int) -> list[MeshLife]:
    """A screen's meshes, oldest first."""
    rows = db.execute(f"SELECT {', '.join(_MESH)} FROM meshes WHERE screen = ? ORDER BY place", [screen]).fetchall()
    return [MeshLife(*row) for row in rows]


def every_mesh(db: Database, low_per_cm: float, high_per_cm: float, frame: str = "") -> list[MeshLife]:
    """Every mesh of the shop within a range of counts, of one kind of frame or all."""
    where, values = ("AND frame = ?", [frame]) if frame else ("", [])
    rows = db.execute(
        f"SELECT {', '.join(_MESH)} FROM meshes WHERE count_per_cm BETWEEN ? AND ? {where}",
        [low_per_cm, high_per_cm, *values],
    ).fetchall()
    return [MeshLife(*row) for row in rows]


def washouts_of_unit(
    db: Database, exposure_unit: str, since: str = "", limit: int = 400, until: str = "~"
) -> list[WashoutReading]:
    """The newest washouts with a step held of one exposure unit between two times, oldest of them first."""
    rows = db.execute(
        f"SELECT {', '.join(_WASHOUT)} FROM washouts WHERE exposure_unit = ? AND at >= ? AND at <= ? "
        "AND step_held IS NOT NULL ORDER BY at DESC LIMIT ?",
        [exposure_unit, since, until, limit],
    ).fetchall()
    return [WashoutReading(*row) for row in reversed(rows)]


def latest_irradiance(db: Database, exposure_unit: str, since: str = "", until: str = "~") -> float | None:
    """The last irradiance measured at an exposure of this unit, in mW/cm2."""
    row = db.execute(
        "SELECT irradiance_mw_cm2 FROM washouts WHERE exposure_unit = ? AND at >= ? AND at <= ? "
        "AND irradiance_mw_cm2 IS NOT NULL ORDER BY at DESC LIMIT 1",
        [exposure_unit, since, until],
    ).fetchone()
    return float(row[0]) if row else None


def exposure_units_seen(db: Database) -> list[str]:
    """The names of the exposure units in the washouts, registered or not."""
    rows = db.execute("SELECT DISTINCT exposure_unit FROM washouts WHERE exposure_unit <> '' ORDER BY 1").fetchall()
    return [str(row[0]) for row in rows]


def burnt(db: Database, exposure_unit: str, since: str = "") -> tuple[float, int, int]:
    """What a lamp burnt by the log: seconds in all, how many exposures, how many of them without a time."""
    row = db.execute(
        "SELECT coalesce(sum(json_extract(e.vals, '$.exposure_s')), 0), count(*), "
        "coalesce(sum(json_extract(e.vals, '$.exposure_s') IS NULL), 0) FROM entries e WHERE e.step = 'expose' "
        "AND e.at >= ? AND json_extract(e.vals, '$.exposure_unit') = ? "
        "AND NOT EXISTS (SELECT 1 FROM entries c WHERE c.crosses = e.entry)",
        [since, exposure_unit],
    ).fetchone()
    return float(row[0]), int(row[1]), int(row[2])


@dataclass(frozen=True, slots=True)
class InService:
    """A mesh in service on a screen of the shop."""

    screen: int
    code: str
    mark: str
    mesh: str
    life: MeshLife


def in_service(db: Database) -> list[InService]:
    """Every mesh in service with its screen."""
    columns = ", ".join(f"m.{name}" for name in _MESH)
    rows = db.execute(
        f"SELECT s.id, s.code, w.mark, w.mesh, {columns} FROM meshes m JOIN screens s ON s.id = m.screen "
        "JOIN standings w ON w.screen = m.screen WHERE m.ended_at = '' ORDER BY s.id"
    ).fetchall()
    return [InService(row[0], row[1], row[2], row[3], MeshLife(*row[4:])) for row in rows]


def clear(db: Database) -> None:
    """Empties the tables before they are built again."""
    for table in ("tensions", "washouts", "meshes"):
        db.execute(f"DELETE FROM {table}")


def as_dict(reading: TensionReading | WashoutReading | MeshLife) -> dict[str, Any]:
    """A row as plain data."""
    return asdict(reading)
