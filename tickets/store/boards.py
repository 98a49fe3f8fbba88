"""The boards' questions: what is at which stage and where, which frames there are of a mesh, what is due.

Each is answered from an index and bounded, so that a board of a shop of 10,000 screens opens as fast as a small one's.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from tickets.domain.code import Code
from tickets.domain.screens.frames import Alike
from tickets.store.reads import ahead, once, together, while_log_stays
from tickets.store.screens import NOT_NAMED, NOT_THERE, UNNAMED, Slack

MANY = 1000
"""Where counting stops: a thousand due screens are "1000 or more"."""


@dataclass(frozen=True, slots=True)
class Light:
    """A screen without its whole life: enough to put frames in a rough order."""

    screen: int
    standing: str
    count_per_cm: float
    thread_um: float | None
    minimum_n_per_cm: float | None
    uses: int
    impressions: int
    frame: str = ""


OfMesh = tuple[float, float, tuple[str, ...]]
"""Which frames: of counts per cm from and to, at some standings."""
EACH, AT_ONCE = 300, 400
"""Frames of a standing that are looked at, at most; questions put together in one statement (SQLite takes 500)."""


@once
def frames_of_mesh(db: Database, low_per_cm: float, high_per_cm: float, standings: tuple[str, ...]) -> list[Light]:
    """Frames of a mesh range at `standings`, at most EACH of a standing."""
    of = (low_per_cm, high_per_cm, standings)
    return _frames_of(db, [of])[of]


def frames_ahead(db: Database, meshes: Iterable[OfMesh]) -> None:
    """The frames of several meshes, for a page that asks for those of each."""
    ahead(db, frames_of_mesh, meshes, lambda new: _frames_of(db, new))


def _frames_of(db: Database, meshes: Sequence[OfMesh]) -> dict[OfMesh, list[Light]]:
    of_one = (
        "SELECT ?, screen, standing, count_per_cm, thread_um, minimum_n_per_cm, uses, impressions, frame "
        "FROM standings WHERE standing = ? AND count_per_cm BETWEEN ? AND ? LIMIT ?"
    )
    asked = [(place, one, *of[:2], EACH) for place, of in enumerate(meshes) for one in of[2]]
    found: dict[OfMesh, list[Light]] = {of: [] for of in meshes}
    for start in range(0, len(asked), AT_ONCE):
        some = asked[start : start + AT_ONCE]
        values = [value for one in some for value in one]
        for place, *row in db.execute(together([of_one] * len(some)), values).fetchall():
            found[meshes[place]].append(Light(*row))
    return found


@dataclass(frozen=True, slots=True)
class Short:
    """A screen in a short list: its code, mark, mesh, place, stage, and the day that the list is about."""

    screen: int
    code: Code
    mark: str
    mesh: str
    place: int | None
    standing: str
    since: str


_SHORT = (
    "SELECT s.id, s.code, w.mark, w.mesh, w.place, w.standing, {since} "
    "FROM standings w JOIN screens s ON s.id = w.screen "
)


Places = list[tuple[int | None, int]]
"""Where some screens are: (place, how many), most first."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """Where screens wait: those of each stage (the kept ones that still carry ink under INKED), the coated ones that
    are dry, each of the first thousand; and the frames that are too slack: (kind of frame, place, how many, how many of
    them with a dry coat on), most first."""

    stages: Mapping[str, Places]
    dry: Places
    slack: Sequence[tuple[str, int | None, int, int]]


INKED = "inked"
_DRY, _LOOSE = "dry", "loose"


def waiting(db: Database, standings: Iterable[str], coated_until: str, slack: Slack) -> Waiting:
    """Where screens wait, as one question. What the log alone decides is kept while it stays; what falls due by the
    clock (coated before `coated_until`) is asked each time."""
    stages, moving = tuple(standings), list[tuple[Any, ...]]()

    def whole() -> dict[str, Places]:
        rows = _ask(db, [*_stage_parts(stages), *_moving_parts(coated_until, slack)])
        moving.extend(row for row in rows if row[0] in (_DRY, _LOOSE))
        return _by_place((row[0], row[2], row[3]) for row in rows if row[0] not in (_DRY, _LOOSE))

    found = while_log_stays(db, "places of stages", stages, whole)
    rows = moving or _ask(db, _moving_parts(coated_until, slack))
    dry = _by_place((row[0], row[2], row[3]) for row in rows if row[0] == _DRY).get(_DRY, [])
    loose = [(kind or "", place, number, coated) for what, kind, place, number, coated in rows if what == _LOOSE]
    return Waiting(found, dry, sorted(loose, key=lambda one: (-one[2], one[1] or 0)))


Part = tuple[str, list[Any]]


def _ask(db: Database, parts: Sequence[Part]) -> list[tuple[Any, ...]]:
    values = [value for _sql, some in parts for value in some]
    return db.execute(together(sql for sql, _values in parts), values).fetchall()


def _stage_parts(standings: Sequence[str]) -> list[Part]:
    of_one = (
        "SELECT ?, NULL, place, count(*), NULL FROM (SELECT place FROM standings WHERE standing = ? "
        f"AND screen NOT IN ({NOT_THERE}) LIMIT {MANY}) GROUP BY place"
    )
    inked = (
        f"SELECT '{INKED}', NULL, place, count(*), NULL FROM standings WHERE inked = 1 AND screen NOT IN ({NOT_THERE}) "
        "GROUP BY place"
    )
    unnamed = (
        f"SELECT '{UNNAMED}', NULL, place, count(*), NULL FROM (SELECT w.place FROM standings w WHERE {NOT_NAMED} "
        f"AND w.screen NOT IN ({NOT_THERE}) LIMIT {MANY}) GROUP BY place"
    )
    return [*((of_one, [one, one]) for one in standings), (inked, []), (unnamed, [])]


def _moving_parts(coated_until: str, slack: Slack) -> list[Part]:
    dry = (
        f"SELECT '{_DRY}', NULL, place, count(*), NULL FROM (SELECT place FROM standings WHERE standing = 'coated' "
        f"AND coated_at <= ? AND screen NOT IN ({NOT_THERE}) LIMIT {MANY}) GROUP BY place"
    )
    where, values = slack.where()
    loose = (
        f"SELECT '{_LOOSE}', frame, place, count(*), sum(dry) FROM (SELECT w.frame, w.place, w.standing = 'coated' AND "
        "EXISTS (SELECT 1 FROM standings c WHERE c.screen = w.screen AND c.coated_at <= ?) AS dry "
        f"FROM standings w INDEXED BY standings_slack WHERE {where} LIMIT {MANY}) GROUP BY frame, place"
    )
    return [(dry, [coated_until]), (loose, [coated_until, *values])]


def _by_place(rows: Iterable[tuple[Any, ...]]) -> dict[str, Places]:
    found: dict[str, Places] = {}
    for stage, place, number in rows:
        found.setdefault(stage, []).append((place, number))
    return {stage: sorted(some, key=lambda one: (-one[1], one[0] or 0)) for stage, some in found.items()}


Left = tuple[float, str]
"""How long a stay took, in hours, and when it ended."""


@once
def newest_stays(db: Database, standing: str, limit: int) -> list[Left]:
    """The newest stays of any screen at a stage, the last first."""
    return _newest_stays(db, [(standing, limit)])[standing, limit]


def newest_stays_ahead(db: Database, standings: Iterable[str], limit: int) -> None:
    """The newest stays at several stages, for a page that asks for those of each."""
    ahead(db, newest_stays, [(one, limit) for one in standings], lambda new: _newest_stays(db, new))


def _newest_stays(db: Database, asked: Sequence[tuple[str, int]]) -> dict[tuple[str, int], list[Left]]:
    of_one = "SELECT standing, hours, until FROM stays WHERE standing = ? AND until <> '' ORDER BY until DESC LIMIT ?"
    found: dict[str, list[Left]] = {standing: [] for standing, _limit in asked}
    values = [value for one in asked for value in one]
    for standing, hours, until in db.execute(together([of_one] * len(asked)), values).fetchall():
        found[standing].append((hours, until))
    return {one: found[one[0]] for one in asked}


# What is due ---------------------------------------------------------------------------------------------------

_DUE = {
    "tension": (
        "w.tension_at",
        "w.standing NOT IN ('retired', 'away') AND w.tension_at < :before "
        "UNION ALL {select} w.standing NOT IN ('retired', 'away') AND w.tension_at >= :before "
        "AND w.stencils_since >= :stencils",
    ),
    "coated": ("w.coated_at", "w.standing = 'coated' AND w.coated_at < :before"),
    "unclear": ("w.since", "w.conflict = 1"),
    "missing": ("w.place_since", "w.not_at IS NOT NULL"),
    "keep": (
        "w.keep_until",
        "w.standing = 'kept' AND w.keep_until > '' AND w.keep_until < :before",
    ),
}


@once
def measured_under(
    db: Database, low_per_cm: float, high_per_cm: float, standings: Sequence[str], below_n_per_cm: float, each: int = 60
) -> list[tuple[Short, Alike]]:
    """Frames of a span of counts at some standings whose lowest reading is below a tension, at most `each` of a
    standing: each as a list names it, and as a frame."""
    named = _SHORT.format(since="w.tension_at").replace(
        " FROM standings w", ", w.count_per_cm, w.thread_um, w.frame, w.minimum_n_per_cm FROM standings w"
    )
    of_one = (
        f"SELECT * FROM ({named} WHERE w.standing = ? AND w.count_per_cm BETWEEN ? AND ? "
        f"AND w.minimum_n_per_cm < ? AND w.screen NOT IN ({NOT_THERE}) ORDER BY w.screen LIMIT ?)"
    )
    values = [value for standing in standings for value in (standing, low_per_cm, high_per_cm, below_n_per_cm, each)]
    rows = db.execute(" UNION ALL ".join([of_one] * len(standings)), values).fetchall() if standings else []
    return [(Short(row[0], Code(row[1]), *row[2:7]), Alike(*row[7:])) for row in rows]


Of = tuple[str, str, int]
"""What is due (a key of `_DUE`), before when, after how many stencils."""


def due_counts(db: Database, asked: Sequence[Of]) -> list[int]:
    """How many are due of each, counted up to MANY."""
    select = "SELECT 1 FROM standings w WHERE "
    parts = [_of(one, select, "SELECT count(*) FROM ({} LIMIT :limit)", MANY) for one in asked]
    return [row[0] for row in _asked(db, parts)]


def due(db: Database, asked: Sequence[Of], slack: Slack | None = None, limit: int = 5) -> list[list[Short]]:
    """The first screens that are due of each: `tension` (measured before, or so many stencils ago), `coated` (before),
    `keep` (their keep-until day is before), `unclear` (their log contradicts itself), `missing` (not found at a
    stock-take); with `slack` the frames that are too slack, last."""
    parts = []
    for number, one in enumerate(asked):
        select = _SHORT.format(since=_DUE[one[0]][0]) + "WHERE "
        parts.append(_of(one, select, f"SELECT {number}, * FROM ({{}} LIMIT :limit)", limit))
    if slack is not None:
        where, values = slack.where()
        select = _SHORT.format(since="w.tension_at").replace("standings w", "standings w INDEXED BY standings_slack")
        part = f"SELECT {len(asked)}, * FROM ({select} WHERE {where} ORDER BY w.screen LIMIT ?)"
        parts.append((part, [*values, limit]))
    found: list[list[Short]] = [[] for _part in parts]
    for number, screen, code, *row in _asked(db, parts):
        found[number].append(Short(screen, Code(code), *row))
    return found


def _of(one: Of, select: str, around: str, limit: int) -> tuple[str, list[object]]:
    """The question for one of several lists, with its values in the order of their places."""
    what, before, stencils = one
    named = around.format(select + _DUE[what][1].format(select=select))
    values = {"before": before, "stencils": stencils, "limit": limit}
    return re.sub(r":(\w+)", "?", named), [values[name] for name in re.findall(r":(\w+)", named)]


def _asked(db: Database, parts: Sequence[tuple[str, list[object]]]) -> list[tuple[Any, ...]]:
    """Several questions, asked as one."""
    if not parts:
        return []
    sql = together(part for part, _values in parts)
    return list(db.execute(sql, [value for _part, values in parts for value in values]).fetchall())
