"""What the log teaches, as rows: tension readings, washouts, meshes. Worked out like the standings."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, astuple, dataclass, fields
from operator import attrgetter
from typing import Any

from sqlite_utils import Database

from tickets.records.readings import CheckReading, Exposure, Lesson, MeshLife, TensionReading, WashoutReading
from tickets.records.tracing import Coat, Hanging, Past, Stay, StencilLife
from tickets.store import once, while_log_stays

_TENSION = tuple(field.name for field in fields(TensionReading))
_WASHOUT = tuple(field.name for field in fields(WashoutReading))
_MESH = tuple(field.name for field in fields(MeshLife))
_CHECK = tuple(field.name for field in fields(CheckReading))
_EXPOSURE = tuple(field.name for field in fields(Exposure))
_PAST: dict[str, tuple[type[Any], tuple[str, ...]]] = {
    table: (kind, tuple(field.name for field in fields(kind)))
    for table, kind in {"stays": Stay, "stencils": StencilLife, "coats": Coat, "hangings": Hanging}.items()
}
"""The tables of what became of a screen, each named like its field of Past."""


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
    _save(db, "checks", _CHECK, screen, [astuple(one) for one in lesson.checks])
    _save_exposures(db, screen, lesson.exposures)
    before = _coated(db, screen)
    for table, (_kind, columns) in _PAST.items():
        read = attrgetter(*columns)
        _save(db, table, columns, screen, [read(one) for one in getattr(lesson.past, table)])
    after = _coated(db, screen)
    for bucket in {one[0] for one in before ^ after}:
        was, now = ({one[0]: one[1:] for one in some}.get(bucket, (0, 0)) for some in (before, after))
        db.execute(
            "INSERT INTO coated (bucket, stencils, faulty) VALUES (?, ?, ?) ON CONFLICT (bucket) "
            "DO UPDATE SET stencils = stencils + excluded.stencils, faulty = faulty + excluded.faulty",
            [bucket, now[0] - was[0], now[1] - was[1]],
        )


_BY_BUCKET = (
    "SELECT bucket, count(*), sum(bad) FROM (SELECT DISTINCT c.bucket, c.screen, c.stencil, t.faults <> '' AS bad "
    "FROM coats c JOIN stencils t ON t.screen = c.screen AND t.place = c.stencil {where}) GROUP BY bucket"
)


def _coated(db: Database, screen: int) -> set[tuple[int, int, int]]:
    """What the buckets coated on one screen: (bucket, stencils, those with a fault)."""
    return set(db.execute(_BY_BUCKET.format(where="WHERE c.screen = ?"), [screen]).fetchall())


def coated_as_traced(db: Database) -> bool:
    """True when what each bucket coated is what its coats come to, for the proof of soundness."""
    there = db.execute("SELECT bucket, stencils, faulty FROM coated WHERE stencils > 0").fetchall()
    return set(there) == set(db.execute(_BY_BUCKET.format(where="")).fetchall())


def _save_exposures(db: Database, screen: int, exposures: Sequence[Exposure]) -> None:
    """Writes a screen's exposures, and what changes by them in the days of the lamps."""
    there = _exposures(db, screen)
    if there == tuple(exposures):
        return
    _save(db, "exposures", _EXPOSURE, screen, [astuple(one) for one in exposures])
    new, old = Counter(exposures), Counter(there)
    for one, number in [*(new - old).items(), *((one, -number) for one, number in (old - new).items())]:
        untimed = number if one.burnt_ms is None else 0
        db.execute(
            "INSERT INTO burnt (exposure_unit, day, burnt_ms, exposures, untimed) VALUES (?, ?, ?, ?, ?) "
            "ON CONFLICT (exposure_unit, day) DO UPDATE SET burnt_ms = burnt_ms + excluded.burnt_ms, "
            "exposures = exposures + excluded.exposures, untimed = untimed + excluded.untimed",
            [one.exposure_unit, one.at[:10], number * (one.burnt_ms or 0), number, untimed],
        )
    db.execute("DELETE FROM burnt WHERE exposures = 0")


def _exposures(db: Database, screen: int) -> tuple[Exposure, ...]:
    columns = ", ".join(_EXPOSURE)
    rows = db.execute(f"SELECT {columns} FROM exposures WHERE screen = ? ORDER BY place", [screen]).fetchall()
    return tuple(Exposure(*row) for row in rows)


_BY_DAY = (
    "SELECT exposure_unit, substr(at, 1, 10), sum(coalesce(burnt_ms, 0)), count(*), sum(burnt_ms IS NULL) "
    "FROM exposures GROUP BY 1, 2 ORDER BY 1, 2"
)


def burnt_as_exposed(db: Database) -> bool:
    """True when the days of the lamps are what the exposures come to, for the proof of soundness."""
    there = "SELECT exposure_unit, day, burnt_ms, exposures, untimed FROM burnt ORDER BY 1, 2"
    return bool(db.execute(_BY_DAY).fetchall() == db.execute(there).fetchall())


def add_up(db: Database) -> None:
    """Works out anew what is added up over all screens: the hours of the lamps, what the buckets coated."""
    db.execute("DELETE FROM burnt")
    db.execute(f"INSERT INTO burnt (exposure_unit, day, burnt_ms, exposures, untimed) {_BY_DAY}")
    db.execute("DELETE FROM coated")
    db.execute(f"INSERT INTO coated (bucket, stencils, faulty) {_BY_BUCKET.format(where='')}")


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
        past(db, screen),
        tuple(
            CheckReading(*row)
            for row in db.execute(
                f"SELECT {', '.join(_CHECK)} FROM checks WHERE screen = ? ORDER BY place", [screen]
            ).fetchall()
        ),
        _exposures(db, screen),
    )


@once
def past(db: Database, screen: int) -> Past:
    """What became of a screen: its stays, stencils, coats and times on a press, oldest first."""
    found = {}
    for table, (kind, columns) in _PAST.items():
        rows = db.execute(f"SELECT {', '.join(columns)} FROM {table} WHERE screen = ? ORDER BY place", [screen])
        found[table] = tuple(kind(*row) for row in rows.fetchall())
    return Past(**found)


@once
def tensions(db: Database, screen: int) -> list[TensionReading]:
    """A screen's readings, oldest first."""
    rows = db.execute(
        f"SELECT {', '.join(_TENSION)} FROM tensions WHERE screen = ? ORDER BY place", [screen]
    ).fetchall()
    named = (dict(zip(_TENSION, row, strict=True)) for row in rows)
    return [TensionReading(**{**row, "warp": tuple(json.loads(row["warp"]))}) for row in named]


@once
def meshes(db: Database, screen: int) -> list[MeshLife]:
    """A screen's meshes, oldest first."""
    rows = db.execute(f"SELECT {', '.join(_MESH)} FROM meshes WHERE screen = ? ORDER BY place", [screen]).fetchall()
    return [MeshLife(*row) for row in rows]


NEWEST = 400
"""Washouts that an exposure is learned from, at most."""


@once
def washouts_of_unit(
    db: Database, exposure_unit: str, since: str = "", limit: int = NEWEST, until: str = "~", first: int = 0
) -> list[WashoutReading]:
    """The newest washouts with a step held of one exposure unit between two times, oldest of them first; where there
    are more than `limit`, before them the `first` so many."""
    asked = (
        f"SELECT {', '.join(_WASHOUT)} FROM washouts WHERE exposure_unit = ? AND at >= ? AND at <= ? "
        "AND step_held IS NOT NULL ORDER BY at {way} LIMIT ?"
    )
    values = (exposure_unit, since, until)
    late = [WashoutReading(*row) for row in db.execute(asked.format(way="DESC"), [*values, limit]).fetchall()[::-1]]
    if not first or len(late) < limit:
        return late
    early = db.execute(asked.format(way="ASC"), [*values, first]).fetchall()
    return [one for row in early if (one := WashoutReading(*row)).at < late[0].at] + late


@once
def latest_irradiance(db: Database, exposure_unit: str, since: str = "", until: str = "~") -> float | None:
    """The last irradiance measured at an exposure of this unit, in mW/cm2."""
    row = db.execute(
        "SELECT irradiance_mw_cm2 FROM washouts WHERE exposure_unit = ? AND at >= ? AND at <= ? "
        "AND irradiance_mw_cm2 IS NOT NULL ORDER BY at DESC LIMIT 1",
        [exposure_unit, since, until],
    ).fetchone()
    return float(row[0]) if row else None


@once
def exposure_units_seen(db: Database) -> list[str]:
    """The names of the exposure units that the log names, registered or not."""
    rows = db.execute("SELECT DISTINCT exposure_unit FROM burnt WHERE exposure_unit <> '' ORDER BY 1").fetchall()
    return [str(row[0]) for row in rows]


@once
def burnt(db: Database, exposure_unit: str, since: str = "") -> tuple[float, int, int]:
    """What a lamp burnt by the log: seconds in all, how many exposures, how many of them without a time.

    Whole days are read as they were added up while they were written, only the day of `since` exposure by exposure.
    """
    row = db.execute(
        "SELECT coalesce(sum(ms), 0), coalesce(sum(number), 0), coalesce(sum(untimed), 0) FROM ("
        "SELECT sum(burnt_ms) AS ms, sum(exposures) AS number, sum(untimed) AS untimed FROM burnt "
        "WHERE exposure_unit = :unit AND day > :day UNION ALL "
        "SELECT sum(burnt_ms), count(*), sum(burnt_ms IS NULL) FROM exposures "
        "WHERE exposure_unit = :unit AND at >= :since AND at < :next)",
        {"unit": exposure_unit, "day": since[:10], "since": since, "next": since[:10] + "~" if since else ""},
    ).fetchone()
    return row[0] / 1000, int(row[1]), int(row[2])


@dataclass(frozen=True, slots=True)
class InService:
    """A mesh in service on a screen of the shop."""

    screen: int
    code: str
    mark: str
    mesh: str
    life: MeshLife


def in_service(
    db: Database, low_per_cm: float, high_per_cm: float, frame: str, uses: tuple[int, int], limit: int = 50
) -> list[InService]:
    """The meshes in service of a range of counts and a kind of frame that have so many uses by the log and
    before it, with their screens."""
    columns = ", ".join(f"m.{name}" for name in _MESH)
    rows = db.execute(
        f"SELECT s.id, s.code, w.mark, w.mesh, {columns} FROM meshes m JOIN screens s ON s.id = m.screen "
        "JOIN standings w ON w.screen = m.screen WHERE m.ended_at = '' AND m.uses = ? AND m.entered_uses = ? "
        "AND m.frame = ? AND m.count_per_cm BETWEEN ? AND ? ORDER BY s.id LIMIT ?",
        [*uses, frame, low_per_cm, high_per_cm, limit],
    ).fetchall()
    return [InService(row[0], row[1], row[2], row[3], MeshLife(*row[4:])) for row in rows]


def in_service_of(db: Database, numbers: Sequence[int]) -> dict[int, MeshLife]:
    """The mesh in service on each of these screens, by screen; those without one are left out."""
    marks = ", ".join("?" * len(numbers))
    rows = db.execute(
        f"SELECT screen, {', '.join(_MESH)} FROM meshes WHERE ended_at = '' AND screen IN ({marks})", list(numbers)
    ).fetchall()
    return {row[0]: MeshLife(*row[1:]) for row in rows}


@dataclass(frozen=True, slots=True)
class LifeCount:
    """How many meshes of one count and frame have the same uses and ended of the same cause (empty: in service)."""

    count_per_cm: float
    frame: str
    uses: int
    entered: int | None
    cause: str
    number: int


def life_counts(db: Database) -> list[LifeCount]:
    """The lives of all meshes of known count, those alike put together."""
    asked = (
        "SELECT count_per_cm, frame, uses, entered_uses, CASE WHEN ended_at = '' THEN '' ELSE cause END, count(*) "
        "FROM meshes WHERE count_per_cm > 0 GROUP BY 1, 2, 3, 4, 5"
    )
    rows = while_log_stays(db, "life counts", None, lambda: db.execute(asked).fetchall())
    return [LifeCount(*row) for row in rows]


def as_dict(reading: TensionReading | WashoutReading | MeshLife) -> dict[str, Any]:
    """A row as plain data."""
    return asdict(reading)
