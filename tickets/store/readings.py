"""What the log teaches, as rows: tension readings, washouts, meshes. Worked out like the standings."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import partial
from operator import attrgetter, itemgetter
from typing import Any, NamedTuple

from sqlite_utils import Database

from tickets.domain.screens.readings import (
    OF,
    CheckReading,
    Exposure,
    Lesson,
    MeshLife,
    Tail,
    TensionReading,
    WashoutReading,
)
from tickets.domain.screens.tracing import Coat, Hanging, Past, Stay, StencilLife
from tickets.store.placed import Placed, add_to, save_placed
from tickets.store.reads import (
    Common,
    Question,
    ahead,
    all_at_once,
    ask_together,
    known,
    once,
    together,
    unasked,
    while_log_stays,
)

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


_measured: Callable[[TensionReading], tuple[Any, ...]] = attrgetter(*_TENSION)


def _tension_row(reading: TensionReading) -> tuple[Any, ...]:
    return (*_measured(reading)[:-1], json.dumps(reading.warp))


def _tension(*row: Any) -> TensionReading:
    named = dict(zip(_TENSION, row, strict=True))
    return TensionReading(**{**named, "warp": tuple(json.loads(named["warp"]))})


class Taught(NamedTuple):
    """What a screen's log teaches by now; `tail`: what it went on from (None: what the file has)."""

    screen: int
    lesson: Lesson
    tail: Tail | None = None


def save(db: Database, some: Iterable[Taught]) -> None:
    """Writes what the logs of some screens teach, each table in one statement for all: all of it, or what went on."""
    told = list(some)
    whole = [number for number, _lesson, tail in told if tail is None]
    there = saved_of(db, whole) if whole else {}
    ones = [(number, lesson, tail or Tail(there[number])) for number, lesson, tail in told]

    changed: dict[str, list[Placed]] = {}
    for number, now, tail in ones:
        if tail.lesson == now:  # most entries teach nothing
            continue
        for table, of in OF.items():
            if (was := of(tail.lesson)) != (rows := of(now)):
                changed.setdefault(table, []).append(Placed(number, was, rows, tail.first.get(table, 0)))
    for table, things in changed.items():
        _kind, columns = _TABLES[table]
        save_placed(db, table, columns, "screen", things, values=_tension_row if table == "tensions" else None)
    if "exposures" in changed:
        _save_burnt(db, [(was.lesson.exposures, now.exposures) for _number, now, was in ones])
    if "coats" in changed or "stencils" in changed:
        pairs = [(was.lesson.past, now.past, was.first) for _number, now, was in ones]
        _save_coated(db, [(_coated(was, first), _coated(now, first)) for was, now, first in pairs])


CoatedBy = Mapping[int, tuple[int, int]]
"""By bucket: the stencils that it coated, and those of them with a fault."""


def _save_coated(db: Database, pairs: Iterable[tuple[CoatedBy, CoatedBy]]) -> None:
    """What changes in the stencils that the buckets coated: of each screen what was and what is."""
    change: dict[int, tuple[int, int]] = {}
    for was, now in pairs:
        for bucket in {one[0] for one in was.items() ^ now.items()}:
            (old, bad), (new, worse) = was.get(bucket, (0, 0)), now.get(bucket, (0, 0))
            stencils, faulty = change.get(bucket, (0, 0))
            change[bucket] = stencils + new - old, faulty + worse - bad
    rows = [(bucket, *more) for bucket, more in change.items()]
    add_to(db, "coated", ("bucket", "stencils", "faulty"), ["bucket"], ("stencils", "faulty"), rows)


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


def _save_burnt(db: Database, pairs: Iterable[tuple[Sequence[Exposure], Sequence[Exposure]]]) -> None:
    """What changes in the days of the lamps by the exposures of some screens: of each what was and what is."""
    days: dict[tuple[str, str], list[int]] = {}
    fewer = False
    for was, now in pairs:
        change = Counter(now)
        change.subtract(was)
        for one, number in change.items():
            if number:
                untimed = number if one.burnt_ms is None else 0
                more = (number * (one.burnt_ms or 0), number, untimed)
                day = days.setdefault((one.exposure_unit, one.at[:10]), [0, 0, 0])
                days[one.exposure_unit, one.at[:10]] = [sum(both) for both in zip(day, more, strict=True)]
                fewer = fewer or number < 0
    sums = ("burnt_ms", "exposures", "untimed")
    rows = [(*day, *more) for day, more in days.items()]
    add_to(db, "burnt", ("exposure_unit", "day", *sums), ("exposure_unit", "day"), sums, rows)
    if fewer:
        db.execute("DELETE FROM burnt WHERE exposures = 0")


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


_OWN: dict[str, tuple[Callable[..., Any], tuple[str, ...]]] = {
    "tensions": (_tension, _TENSION), "washouts": (WashoutReading, _WASHOUT), "meshes": (MeshLife, _MESH),
    "checks": (CheckReading, _CHECK), "exposures": (Exposure, _EXPOSURE),
}  # fmt: skip
"""The tables of what a log teaches beside them, each named like its field of Lesson."""
_TABLES: dict[str, tuple[Callable[..., Any], tuple[str, ...]]] = {**_OWN, **_PAST}


def saved(db: Database, screen: int) -> Lesson:
    """The lesson of one screen as it is in the file."""
    return saved_of(db, [screen])[screen]


def saved_of(db: Database, screens: Sequence[int]) -> dict[int, Lesson]:
    """The lessons of some screens as they are in the file."""
    rows: dict[str, list[Any]] = {}
    questions = [
        Question(
            f"SELECT screen, place, {', '.join(columns)} FROM {table} WHERE screen IN (SELECT screen FROM these)",
            (),
            len(columns) + 2,
            partial(rows.__setitem__, table),
        )
        for table, (_kind, columns) in _TABLES.items()
    ]
    ask_together(db, questions, [Common.numbers("these", "screen", screens)])
    found: dict[int, dict[str, list[Any]]] = {number: {table: [] for table in _TABLES} for number in screens}
    for table, (kind, _columns) in _TABLES.items():
        for number, _place, *row in sorted(rows[table], key=itemgetter(0, 1)):
            found[number][table].append(kind(*row))
    told = {number: {table: tuple(some) for table, some in mine.items()} for number, mine in found.items()}
    return {
        number: Lesson(**{table: mine[table] for table in _OWN}, past=Past(**{table: mine[table] for table in _PAST}))
        for number, mine in told.items()
    }


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
    return [_tension(*row) for row in rows]


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


def of_lamp_ahead(db: Database, exposure_unit: str, since: str, until: str) -> None:
    """The newest washouts of one exposure unit between two times, and its last irradiance."""
    of = (exposure_unit, since, until, NEWEST)

    def take(rows: list[Any]) -> None:
        known(db, _newest, {of: sorted((WashoutReading(*row) for row in rows), key=attrgetter("at"))})

    def metered(rows: list[Any]) -> None:
        known(db, _latest_irradiance, {of[:3]: float(rows[0][0]) if rows else None})

    if unasked(db, _newest, [of]):
        washouts = Question(_OF_UNIT.format(way="DESC"), of, len(_WASHOUT), take)
        all_at_once(db, [washouts, Question(_METERED, of[:3], 1, metered)])


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
