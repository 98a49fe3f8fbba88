"""What jobs cost, by month or by job: read from the log's worked-out tables, bounded, never written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from sqlite_utils import Database

from tickets.domain.entry import read_stamp, stamp
from tickets.domain.outside import day
from tickets.domain.refusal import Refused
from tickets.domain.runs import cost as rules
from tickets.domain.runs.cost import Costs, JobCost, Money, Rates
from tickets.i18n import gettext as _
from tickets.queries.shop_rules import zone
from tickets.store import cost, screens
from tickets.store.cost import RunDone
from tickets.store.settings import setting

MOST_RUNS = 1000
"""Runs of one month, at most; the newest are counted."""
MOST_STENCILS = 20_000
"""Stencils among which those of the runs are looked for, at most; the newest are."""
LOOK_BACK = timedelta(days=366)
"""Screens that were made earlier before a run are of earlier runs."""


@dataclass(frozen=True, slots=True)
class JobCosts:
    """A job with what it cost, and in money at the shop's rates (None: it gave none)."""

    code: str
    title: str
    customer: str
    cost: JobCost
    money: Money | None


@dataclass(frozen=True, slots=True)
class CostView:
    """What the runs done in a span came to. `month`: its first day (None: the whole of one job); `screens`: codes of
    the screens made again, by number; `cut`: there were more runs or stencils than are counted."""

    month: date | None
    jobs: tuple[JobCosts, ...]
    costs: Costs
    all: JobCost
    money: Money | None
    rates: Rates
    screens: Mapping[int, str]
    cut: bool


def rates(db: Database) -> Rates:
    """The shop's rates."""
    names = ("rate_press_hour", "rate_screen", "rate_garment")
    hour, screen, garment = (None if (rate := setting(db, name)) == "" else rate for name in names)
    return Rates(hour, screen, garment, str(setting(db, "currency")))


def of_month(db: Database, now: datetime, asked: str = "") -> CostView:
    """What the runs that were done in a month came to (`asked`: such as 2026-11; empty: this month, by the shop's
    clock). Raises Refused."""
    shop = zone(db)
    first = day(f"{asked}-01") if asked else now.astimezone(shop).date().replace(day=1)
    if first is None:
        raise Refused(_("“{text}” is not a month. Write one like 2026-11.").format(text=asked[:20]), "month")
    begin, end = (stamp(datetime.combine(day, time(), shop)) for day in (first, after(first)))
    found = cost.done_between(db, begin, end, MOST_RUNS + 1)
    return _view(db, found[:MOST_RUNS], first, len(found) > MOST_RUNS)


def of_job(db: Database, job: int) -> CostView:
    """What all runs of a job came to that are done."""
    found = cost.done_of_job(db, job, MOST_RUNS + 1)
    return _view(db, found[:MOST_RUNS], None, len(found) > MOST_RUNS)


def after(first: date, months: int = 1) -> date:
    """The first day of a later month, or of an earlier one."""
    years, place = divmod(first.month - 1 + months, 12)
    return date(first.year + years, place + 1, 1)


def _view(db: Database, runs: Sequence[RunDone], first: date | None, cut: bool) -> CostView:
    numbers = [one.run for one in runs]
    shift = timedelta(hours=setting(db, "shift_hours"))
    steps, upsets, asked = cost.steps_of(db, numbers), cost.upsets_of(db, numbers), cost.asked_in(db, numbers)
    known = [
        rules.run_cost(
            one.run,
            one.job,
            one.done_at,
            one.press,
            one.placement,
            rules.at_press(steps[one.run], shift),
            upsets[one.run],
        )
        for one in runs
    ]
    made, more = _made(db, runs, frozenset().union(*asked.values()))
    found = rules.costs(known, made, _needed(runs, asked))
    at, about = rates(db), {one.job: one for one in runs}
    jobs = tuple(
        JobCosts(
            about[one.job].job_code,
            about[one.job].title,
            about[one.job].customer,
            one,
            one.money(at) if at else None,
        )
        for one in found.jobs
    )
    again = {one.id: str(one.code) for one in screens.many(db, [one.what.screen for one in found.all.remade])}
    return CostView(first, jobs, found, found.all, found.all.money(at) if at else None, at, again, cut or more)


def _needed(runs: Iterable[RunDone], asked: Mapping[int, frozenset[int]]) -> dict[int, int]:
    """By job how many images its runs asked for, each once a placement."""
    found: dict[int, set[tuple[int, int]]] = {}
    for one in runs:
        found.setdefault(one.job, set()).update((one.placement, image) for image in asked[one.run])
    return {job: len(some) for job, some in found.items()}


def _made(db: Database, runs: Sequence[RunDone], images: frozenset[int]) -> tuple[list[rules.ScreenMade], bool]:
    """The screens made for these runs, and whether only the newest were looked at."""
    if not runs or not images:
        return [], False
    last = max(one.done_at for one in runs)
    earliest = read_stamp(min(one.done_at for one in runs)) - LOOK_BACK
    since = max(min(one.made_at for one in runs), stamp(earliest))
    stencils, more = cost.imaged(db, images, since, last, MOST_STENCILS)
    theirs = frozenset(one.run for one in runs)
    every = rules.made_for(cost.asking_for(db, images, since, MOST_RUNS), stencils)
    return [one for one in every if one.run in theirs], more


def as_data(view: CostView) -> dict[str, Any]:
    """What a view says, as plain data: minutes, pieces, money in the shop's currency."""
    return {
        "month": view.month.isoformat()[:7] if view.month else None,
        "jobs": [{"job": one.code, "title": one.title, "customer": one.customer, **_sums(one.cost, one.money, view)}
                 for one in view.jobs],
        "all": _sums(view.all, view.money, view),
        "stops": [_cause(one, "minutes", "runs") for one in view.costs.stops()],
        "misprints": [_cause(one, "pieces", "runs") for one in view.costs.misprints()],
        "remakes": [
            {**_cause(one, "screens", "where"), "where": [view.screens.get(number, "") for number in one.where]}
            for one in view.costs.remakes()
        ],
        "cut": view.cut,
    }  # fmt: skip


def _cause(one: rules.CauseOf, amount: str, where: str) -> dict[str, Any]:
    return {"cause": one.cause, "times": one.number, amount: round(one.amount, 1), where: list(one.where)}


def _sums(one: JobCost, money: Money | None, view: CostView) -> dict[str, Any]:
    found = {
        "runs": [run.run for run in one.runs],
        "good": one.good,
        "misprinted": one.misprinted,
        "set_up_min": _rounded(one.set_up_min),
        "printing_min": _rounded(one.printing_min),
        "stop_min": _rounded(one.stop_min),
        "pieces_an_hour": _rounded(one.pieces_an_hour),
        "screens_needed": one.needed,
        "screens_made": len(one.made),
        "screens_made_again": len(one.remade),
        "times_left_out": one.left_out,
    }
    if money is None:
        return found
    return {**found, "cost": round(money.all, 2), "lost": round(money.lost, 2), "currency": view.rates.currency}


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 1)
