"""Which cautions somebody has read this shift, by what the log has of that person: no table of its own."""

from __future__ import annotations

from datetime import datetime

from sqlite_utils import Database

from tickets.domain import cautions
from tickets.domain.steps import BUCKET_STEPS, RUN_STEPS, SCREEN_STEPS
from tickets.queries.shop_rules import shift_begun
from tickets.store import entries, jobs, runs
from tickets.store.reads import while_log_stays

_STEPS = {**BUCKET_STEPS, **RUN_STEPS, **SCREEN_STEPS}
ON_A_RUNS_PAGE = frozenset({"sheet", "approve", "start", "stop", "change", "count", "pause", "finish"})
"""Steps that are posted from the page of a run, which has the cautions of its inks."""


def read(db: Database, person: int, now: datetime) -> frozenset[str]:
    """The cautions (keys) that stood with the steps which this person logged since the shift began.

    Worked out again once something was logged: a caution is new again to another person, and with another shift.
    """
    since = shift_begun(db, now)
    return while_log_stays(db, f"cautions read by {person}", since, lambda: _read(db, person, since))


def _read(db: Database, person: int, since: str) -> frozenset[str]:
    done = entries.steps_by(db, person, since)
    found = {key for step, _run in done if step in _STEPS for key in _STEPS[step].cautions}
    for number in {run for step, run in done if run is not None and step in ON_A_RUNS_PAGE}:
        found |= set(cautions.of_inks(_inks(db, number)))
    return frozenset(found)


def _inks(db: Database, run: int) -> set[str]:
    """The inks that a run prints."""
    opened = runs.get(db, run)
    job = jobs.get(db, opened.job, opened.version) if opened else None
    return {ink for one in jobs.asked(db, job, opened.placement) for ink in one.inks} if opened and job else set()
