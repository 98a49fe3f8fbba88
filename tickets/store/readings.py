"""What the log teaches, as rows: tension readings, washouts, meshes. Worked out like the standings."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import astuple, dataclass, fields
from operator import attrgetter, itemgetter
from typing import Any

from sqlite_utils import Database

from tickets.domain.screens.readings import (
    CheckReading,
    Exposure,
    Lesson,
    MeshLife,
    Tail,
    TensionReading,
    WashoutReading,
)
from tickets.domain.screens.tracing import Coat, Hanging, Past, Stay, StencilLife
from tickets.store.placed import save_placed
from tickets.store.reads import ahead, known, once, together, while_log_stays

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


def _tension_row(reading: TensionReading) -> tuple[Any, ...]:
    return (*astuple(reading)[:-1], json.dumps(reading.warp))


def save(db: Database, screen: int, lesson: Lesson, tail: Tail | None = None) -> None:
    """Writes what one screen's log teaches: all of it, or what went on from the `tail` that it had."""
    tail = tail or Tail(saved(db, screen))
    was, first = tail.lesson, tail.first

    def put(table: str, columns: tuple[str, ...], there: Sequence[Any], rows: Sequence[Any], **how: Any) -> None:
        save_placed(db, table, columns, ("screen", screen), there, rows, first.get(table, 0), **how)

    put("tensions", _TENSION, was.tensions, lesson.tensions, values=_tension_row)
    put("washouts", _WASHOUT, was.washouts, lesson.washouts)
    put("meshes", _MESH, was.meshes, lesson.meshes)
    put("checks", _CHECK, was.checks, lesson.checks)
    put("exposures", _EXPOSURE, was.exposures, lesson.exposures)
    _save_burnt(db, was.exposures, lesson.exposures)
    for table, (_kind, columns) in _PAST.items():
        put(table, columns, getattr(was.past, table), getattr(lesson.past, table), values=attrgetter(*columns))
    _save_coated(db, _coated(was.past, first), _coated(lesson.past, first))


def _save_coated(db: Database, was: Mapping[int, tuple[int, int]], now: Mapping[int, tuple[int, int]]) -> None:
    """What changes in the stencils that the buckets coated, and in those of them with a fault."""
    for bucket in {one[0] for one in was.items() ^ now.items()}:
        old, new = was.get(bucket, (0, 0)), now.get(bucket, (0, 0))
        db.execute(
            "INSERT INTO coated (bucket, stencils, faulty) VALUES (?, ?, ?) ON CONFLICT (bucket) "
            "DO UPDATE SET stencils = stencils + excluded.stencils, faulty = faulty + excluded.faulty",
            [bucket, new[0] - old[0], new[1] - old[1]],
        )


def _coated(past: Past, first: Mapping[str, int]) -> dict[int, tuple[int, int]]:
    """What the buckets coated on one screen: by bucket, the stencils and those with a fault."""
    found: dict[int, tuple[int, int]] = {}
    stencils = dict(enumerate(past.stencils, first.get("stencils", 0)))
    for place, bucket in {(one.stencil, one.bucket) for one in past.coats if one.stencil in stencils}:
        number, faulty = found.get(bucket, (0, 0))
        found[bucket] = number + 1, faulty + bool(stencils[place].faults)
    return found


_BY_BUCKET = (
    "SELECT bucket, count(*), sum(bad) FROM (SELECT DISTINCT c.bucket, c.screen, c.stencil, t.faults <> '' AS bad "
    "FROM coats c JOIN stencils t ON t.screen = c.screen AND t.place = c.stencil) GROUP BY bucket"
)


def coated_as_traced(db: Database) -> bool:
    """True when what each bucket coated is what its coats come to, for the proof of soundness."""
    there = db.execute("SELECT bucket, stencils, faulty FROM coated WHERE stencils > 0").fetchall()
    return set(there) == set(db.execute(_BY_BUCKET).fetchall())


def _save_burnt(db: Database, was: Sequence[Exposure], now: Sequence[Exposure]) -> None:
    """What changes by a screen's exposures in the days of the lamps."""
    new, old = Counter(now), Counter(was)
    gone = [(one, -number) for one, number in (old - new).items()]
    for one, number in [*(new - old).items(), *gone]:
        untimed = number if one.burnt_ms is None else 0
        db.execute(
            "INSERT INTO burnt (exposure_unit, day, burnt_ms, exposures, untimed) VALUES (?, ?, ?, ?, ?) "
            "ON CONFLICT (exposure_unit, day) DO UPDATE SET burnt_ms = burnt_ms + excluded.burnt_ms, "
            "exposures = exposures + excluded.exposures, untimed = untimed + excluded.untimed",
            [one.exposure_unit, one.at[:10], number * (one.burnt_ms or 0), number, untimed],
        )
    if gone:
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
    """Works out again what is added up over all screens: the hours of the lamps, what the buckets coated."""
    db.execute("DELETE FROM burnt")
    db.execute(f"INSERT INTO burnt (exposure_unit, day, burnt_ms, exposures, untimed) {_BY_DAY}")
    db.execute("DELETE FROM coated")
    db.execute(f"INSERT INTO coated (bucket, stencils, faulty) {_BY_BUCKET}")


def saved(db: Database, screen: int) -> Lesson:
    """The lesson of one screen as it is in the file."""
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


_LAST = {"meshes": (MeshLife, _MESH), **_PAST}
"""The tables whose last rows a later entry may change."""
_NEXT = ("tensions", "washouts", "checks", "exposures")
"""Those to which it only adds."""
_WIDTH = max(len(columns) for _kind, columns in _LAST.values())


def _tail_sql() -> str:
    """One question for the last rows of all tables of a screen: the table, the place, the columns, padded to one width;
    of the coats those of the last stencil; of those only added to, the place of the last row."""
    parts = []
    for table, (_kind, columns) in _LAST.items():
        some = ":stays" if table == "stays" else "1"
        where = "screen = :screen"
        if table == "coats":
            where += " AND stencil = (SELECT max(place) FROM stencils WHERE screen = :screen)"
            some = "-1"
        padded = ", ".join((*columns, *["NULL"] * (_WIDTH - len(columns))))
        parts.append(
            f"SELECT * FROM (SELECT '{table}', place, {padded} FROM {table} WHERE {where} "
            f"ORDER BY place DESC LIMIT {some})"
        )
    for table in (*_NEXT, "coats"):
        padded = ", ".join(["NULL"] * _WIDTH)
        parts.append(f"SELECT '{table} last', max(place), {padded} FROM {table} WHERE screen = :screen")
    return " UNION ALL ".join(parts)


_TAIL = _tail_sql()


def tail(db: Database, screen: int, stays: int) -> Tail:
    """The end of what the log of one screen taught: its last `stays` stays, the stencil that is on it, the coats of the
    last one, its last mesh and its last time on a press."""
    rows: dict[str, list[tuple[Any, ...]]] = {}
    for table, place, *values in db.execute(_TAIL, {"screen": screen, "stays": stays}).fetchall():
        rows.setdefault(table, []).append((place, *values))
    found, first = {}, {}
    for table, (kind, columns) in _LAST.items():
        mine = sorted(rows.get(table, []), key=itemgetter(0))
        found[table] = tuple(kind(*row[1 : len(columns) + 1]) for row in mine)
        first[table] = mine[0][0] if mine else 0
    if (last := found["stencils"]) and last[0].ended_at:  # nothing changes it any more
        found["stencils"], first["stencils"] = (), first["stencils"] + 1
    for table in (*_NEXT, "coats"):
        last = rows[f"{table} last"][0][0]
        if not found.get(table):
            first[table] = last + 1 if last is not None else 0
    return Tail(Lesson(meshes=found.pop("meshes"), past=Past(**found)), first)


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


_OF_UNIT = (
    f"SELECT {', '.join(_WASHOUT)} FROM washouts WHERE exposure_unit = ? AND at >= ? AND at <= ? "
    "AND step_held IS NOT NULL ORDER BY at {way} LIMIT ?"
)


def washouts_of_unit(
    db: Database, exposure_unit: str, since: str = "", limit: int = NEWEST, until: str = "~", first: int = 0
) -> list[WashoutReading]:
    """The newest washouts with a step held of one exposure unit between two times, oldest of them first; where there
    are more than `limit`, before them the `first` so many."""
    late = _newest(db, exposure_unit, since, until, limit)
    if not first or len(late) < limit:
        return late
    early = db.execute(_OF_UNIT.format(way="ASC"), [exposure_unit, since, until, first]).fetchall()
    return [one for row in early if (one := WashoutReading(*row)).at < late[0].at] + late


OfUnit = tuple[str, str, str, int]
"""Of which unit, since when, until when, how many at most."""


@once
def _newest(db: Database, exposure_unit: str, since: str, until: str, limit: int) -> list[WashoutReading]:
    of = (exposure_unit, since, until, limit)
    return _of_units(db, [of])[of]


def washouts_ahead(db: Database, units: Iterable[OfUnit]) -> None:
    """The newest washouts of several units, for a page that asks for those of each."""
    wanted = list(units)
    ahead(db, _newest, wanted, lambda new: _of_units(db, new))
    for unit, since, until, limit in wanted:  # who learns from the newest has them too
        if limit > NEWEST:
            known(db, _newest, {(unit, since, until, NEWEST): _newest(db, unit, since, until, limit)[-NEWEST:]})


def _of_units(db: Database, units: Sequence[OfUnit]) -> dict[OfUnit, list[WashoutReading]]:
    found: dict[OfUnit, list[WashoutReading]] = {of: [] for of in units}
    asked = together(f"SELECT {number}, * FROM ({_OF_UNIT.format(way='DESC')})" for number in range(len(units)))
    for number, *row in db.execute(asked, [value for of in units for value in of]).fetchall():
        found[units[number]].append(WashoutReading(*row))
    return {of: some[::-1] for of, some in found.items()}


def latest_irradiance(db: Database, exposure_unit: str, since: str = "", until: str = "~") -> float | None:
    """The last irradiance measured at an exposure of this unit, in mW/cm2."""
    return _latest_irradiance(db, exposure_unit, since, until)


_METERED = (
    "SELECT irradiance_mw_cm2 FROM washouts WHERE exposure_unit = ? AND at >= ? AND at <= ? "
    "AND irradiance_mw_cm2 IS NOT NULL ORDER BY at DESC LIMIT 1"
)


@once
def _latest_irradiance(db: Database, exposure_unit: str, since: str, until: str) -> float | None:
    row = db.execute(_METERED, [exposure_unit, since, until]).fetchone()
    return float(row[0]) if row else None


Burnt = tuple[float, int, int]


@once
def burnt(db: Database, exposure_unit: str, since: str = "") -> Burnt:
    """What a lamp burnt by the log: seconds in all, how many exposures, how many of them without a time.

    Whole days are read as they were added up while they were written, only the day of `since` exposure by exposure.
    """
    return _burnt(db, [(exposure_unit, since)], "~")[exposure_unit, since]


def burnt_ahead(db: Database, lamps: Iterable[tuple[str, str]], until: str) -> None:
    """What several lamps burnt, each a unit and since when, and the last irradiance of each until a time, for a page
    that asks for each."""
    ahead(db, burnt, lamps, lambda new: _burnt(db, new, until))


def _burnt(db: Database, lamps: Sequence[tuple[str, str]], until: str) -> dict[tuple[str, str], Burnt]:
    of_one = (
        f"SELECT coalesce(sum(ms), 0), coalesce(sum(number), 0), coalesce(sum(untimed), 0), ({_METERED}) FROM ("
        "SELECT sum(burnt_ms) AS ms, sum(exposures) AS number, sum(untimed) AS untimed FROM burnt "
        "WHERE exposure_unit = ? AND day > ? UNION ALL "
        "SELECT sum(burnt_ms), count(*), sum(burnt_ms IS NULL) FROM exposures "
        "WHERE exposure_unit = ? AND at >= ? AND at < ?)"
    )
    values = [
        value
        for unit, since in lamps
        for value in (unit, since, until, unit, since[:10], unit, since, since[:10] + "~" if since else "")
    ]
    rows = db.execute(together([of_one] * len(lamps)), values).fetchall()
    found = dict(zip(lamps, rows, strict=True))
    known(db, _latest_irradiance, {(*lamp, until): row[3] for lamp, row in found.items()})
    return {lamp: (row[0] / 1000, int(row[1]), int(row[2])) for lamp, row in found.items()}


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
