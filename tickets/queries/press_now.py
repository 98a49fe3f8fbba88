"""The press crew's first page: the open runs press by press, and the jobs due next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tickets.domain.runs.run import state_said
from tickets.queries import boards, run_plan
from tickets.queries.phase import next_word, state_of
from tickets.queries.run_going import BucketClock, clocks_of
from tickets.queries.run_opening import Opening, Ready, opening, ready
from tickets.queries.run_plan import Plan
from tickets.queries.said import Reader
from tickets.store import jobs, places, runs

MOST_RUNS = 60
JOBS_SHOWN = 12


@dataclass(frozen=True, slots=True)
class OpenRun:
    """An open run: how far it is and what comes next, in words; the buckets in use that are past their time."""

    plan: Plan
    state: str
    next: str
    late: tuple[BucketClock, ...]


@dataclass(frozen=True, slots=True)
class RunUnderWay:
    """An open run of a job that is due: on which press, how far in words."""

    number: int
    press: str
    state: str


@dataclass(frozen=True, slots=True)
class PlacementDue:
    """A placement of a job that is due: the open runs that print it, the pieces that are `missing` of one that was
    printed in part (else 0), how many of its screens are ready to hang."""

    number: int
    name: str
    done: bool
    running: tuple[RunUnderWay, ...]
    missing: int
    screens: Ready


@dataclass(frozen=True, slots=True)
class JobDue:
    """A job that is due; `all_running`: each placement that is not printed yet is on a press."""

    job: jobs.Saved
    opening: Opening
    all_running: bool
    placements: tuple[PlacementDue, ...]


@dataclass(frozen=True, slots=True)
class PressNow:
    """`presses`: each with its open runs; `later`: where the next page of jobs starts (empty: there are no more)."""

    presses: tuple[tuple[places.Place, tuple[OpenRun, ...]], ...]
    due: tuple[JobDue, ...]
    later: str


def of(reader: Reader, after: tuple[str, int] | None) -> PressNow:
    """The presses now, and the jobs due next; `after`: the press date and number of the job that they come after."""
    db, by_press, states = reader.db, dict[int, list[OpenRun]](), dict[int, str]()
    for run in runs.open_ones(db, limit=MOST_RUNS):
        plan = run_plan.plan(db, run.id)
        late = tuple(one for one in clocks_of(reader, plan) if one.level == "caution")
        states[run.id] = state_of(plan)
        by_press.setdefault(run.press, []).append(OpenRun(plan, states[run.id], next_word(plan), late))
    presses = places.every(db, "press")
    due, taken = jobs.listed(db, after, JOBS_SHOWN + 1), runs.busy_everywhere(db)
    boards.look_ahead(db, [line.id for line in due])
    jobs.planned_ahead(db, [line.id for line in due])
    return PressNow(
        tuple((one, tuple(by_press.get(one.id, ()))) for one in presses),
        tuple(_due(reader, line, presses, taken, states) for line in due[:JOBS_SHOWN]),
        f"{due[JOBS_SHOWN - 1].due}.{due[JOBS_SHOWN - 1].id}" if len(due) > JOBS_SHOWN else "",
    )


def _due(
    reader: Reader,
    line: jobs.JobLine,
    presses: Sequence[places.Place],
    taken: Mapping[int, Mapping[int, int]],
    states: Mapping[int, str],
) -> JobDue:
    """A job that is due (`taken`: the heads in use; `states`: in words how far open runs are)."""
    db = reader.db
    job = jobs.get(db, line.id)
    assert job is not None
    missing, names = jobs.short(db, job), {one.id: one.name for one in presses}
    running: dict[int, list[RunUnderWay]] = {}
    for run in reversed(runs.of_job(db, job.id)):
        if run.story.state != "finished":
            state = states.get(run.id) or state_said(run.story.state)
            running.setdefault(run.placement, []).append(RunUnderWay(run.id, names.get(run.press, ""), state))
    return JobDue(
        job,
        opening(db, job, missing, presses, taken, running),
        bool(missing) and set(missing) <= set(running),
        tuple(
            PlacementDue(
                number,
                placement.name,
                number not in missing,
                tuple(running.get(number, ())),
                missing.get(number, 0) if missing.get(number, 0) < job.sheet.pieces else 0,
                ready(db, job, number, reader.now),
            )
            for number, placement in enumerate(job.sheet.placements, 1)
        ),
    )
