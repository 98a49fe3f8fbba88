"""What screens are due for, by the limits of the shop: one of them, and lists that name every one."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

from sqlite_utils import Database

from tickets.calculator.verdict import Level, Reason, judge
from tickets.domain.entry import stamp
from tickets.domain.screens import checks, frame_checks
from tickets.domain.screens.screen import Life
from tickets.domain.stages import Standing
from tickets.domain.step_reading import count_per_cm, mesh_label
from tickets.queries.air import air_of
from tickets.queries.asked import emulsion_of, too_slack, work_of
from tickets.queries.mesh_lives import near_end
from tickets.queries.shop_rules import the_spec, zone
from tickets.store import screens
from tickets.store.settings import setting

DUE = ("slack", "tension", "coated", "unclear", "unnamed", "missing", "keep", "worn", "idle")
"""What screens may be due for, as lists name it: too slack, tension to be measured, coated too long, log unclear,
image not named, not found at a stock-take, kept too long, mesh near its end, not used for long."""


MOST_WORN = 500


def due_list(
    db: Database, what: str, now: datetime, *, among: Iterable[int] | None = None, **more: Any
) -> screens.InventoryAsked:
    """What the inventory is asked for, to list the screens that are due for something (one of DUE; empty: all of them),
    by the limits of the shop. `among`: only of these numbers; `more`: what else it is asked for."""
    spec = the_spec(db)
    days, times, age, idle = (
        spec.find(key) for key in ("tension-age", "tension-age-stencils", "coated-age", "idle-days")
    )
    only = None if among is None else tuple(among)
    if what == "worn":
        worn = (one.one.screen for one in near_end(db, MOST_WORN))
        only = tuple(one for one in worn if only is None or one in only)
    return screens.InventoryAsked(
        due=what,
        tension_before=stamp(now - timedelta(days=days.value)) if days else "",
        stencils_over=int(times.value) - 1 if times else 10**9,
        coated_before=stamp(now - timedelta(days=age.value)) if age else "",
        idle_before=stamp(now - timedelta(days=idle.value)) if idle else "",
        kept_before=now.astimezone(zone(db)).date().isoformat(),
        slack=too_slack(db),
        only=only,
        **more,
    )


THE_SAME = 0.002
"""A mesh count is one of the counts that labels say: within what share of it a screen is listed."""


def counts_about(mesh: str, within: float = THE_SAME) -> dict[str, Any]:
    """What the inventory is asked for, to list the screens of a mesh count as labelled (`230/in`), give or take a share
    of it. Raises ValueError, saying what would do."""
    per_cm = count_per_cm(mesh_label(mesh))
    return {"count_low": per_cm * (1 - within), "count_high": per_cm * (1 + within)}


def of_screen(db: Database, life: Life, now: datetime, in_hand: str = "") -> list[Reason]:
    """What a screen waits for or is overdue for, worst first; `in_hand`: the work that somebody picks a frame for."""
    if life.standing in {Standing.RETIRED, Standing.AWAY}:
        return []
    spec = the_spec(db)
    reasons = [Reason("torn", Level.STOP)] if life.torn else []
    reasons += checks.dry(life, spec, now, air_of(db, life, now))
    work = work_of(db, life, in_hand)
    if life.standing is Standing.COATED:
        reasons += checks.coated_age(life, emulsion_of(db, life), work, spec, now)
    if "tension" in setting(db, "steps") and life.mesh is not None:
        reasons += frame_checks.tension(life, work, spec, now)
    return list(judge(reason for reason in reasons if reason.level is not Level.OK).reasons)
