"""Warnings shown too often: what set-ups are warned of too often, and what would change if the limit moved."""

from __future__ import annotations

from dataclasses import dataclass

from sqlite_utils import Database

from tickets.domain.desk import control
from tickets.domain.runs import run_trace
from tickets.domain.spec import Row
from tickets.store import desk
from tickets.store import spec as spec_rows

SET_UPS = 300
"""The newest runs that the limits are looked at over."""


@dataclass(frozen=True, slots=True)
class Nag:
    """A reason that cautions `number` of the `of` newest set-ups, by the limit as it is now.

    `row`: the newest row of the limit that it rests on, without a value where that was withdrawn (None: it rests on
    none); `before`: how many more were cautioned before the limit moved; `moved`: where it would have to lie, and what
    would then be cautioned.
    """

    key: str
    number: int
    of: int
    row: Row | None
    before: int
    moved: control.Moved | None
    nags: bool


def nags(db: Database) -> tuple[list[Nag], int]:
    """What set-ups are warned of, the most often first, those over a fifth marked; and how many set-ups there were."""
    seen = desk.warned(db, SET_UPS)
    set_ups = len({run for run, one in seen if not one.key})
    rows = spec_rows.rows(db)
    identity = {row.id: row.identity for row in rows}
    newest = {row.identity: row for row in rows}
    groups: dict[tuple[str, int | None], dict[int, float | None]] = {}
    for run, one in seen:
        if one.key:
            row = newest[identity[one.row]] if one.row in identity else None
            here = groups.setdefault((one.key, row.id if row else None), {})
            here[run] = _worse(one.key, here.get(run), one.value)
    found = []
    by_id = {row.id: row for row in newest.values()}
    for (key, number), values in groups.items():
        row = by_id[number] if number is not None else None
        still = {run: value for run, value in values.items() if _cautions(key, row, value)}
        nag = set_ups >= control.NAG_LEAST and len(still) > control.NAG_SHARE * set_ups
        known = [value for value in still.values() if value is not None]
        shift = None
        if nag and row is not None and len(known) == len(still):
            shift = control.moved(known, set_ups, _below(key))
        found.append(Nag(key, len(still), set_ups, row, len(values) - len(still), shift, nag))
    return sorted(found, key=lambda one: (-one.number, -one.before)), set_ups


def _below(key: str) -> bool:
    """True where bad is what lies under the limit."""
    return run_trace.MEASURED.get(key, ("", "above"))[1] == "below"


def _worse(key: str, was: float | None, value: float | None) -> float | None:
    if was is None or value is None:
        return value if was is None else was
    return min(was, value) if _below(key) else max(was, value)


def _cautions(key: str, row: Row | None, value: float | None) -> bool:
    """Whether the limit as it is now would caution what was cautioned then; what was not measured still would."""
    if row is None or (value is None and row.value is not None):
        return True
    if row.value is None or value is None:
        return False
    return value < row.value if _below(key) else value > row.value
