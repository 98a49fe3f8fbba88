"""What hangs together in a run's log: an approval with its mark and its sheet, a pause with the screens that it kept, a
count with the time at which the run began. Cases are worked by hand."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from shop import Shop, fresh
from test_repeats import first as first  # fixtures
from test_repeats import press as press

from tickets.actions import hanging, screens
from tickets.domain.posted import form
from tickets.domain.refusal import Refused
from tickets.domain.stages import Standing
from tickets.queries import repeats, run_plan, sound, target
from tickets.store import jobs as store_jobs
from tickets.store import runs as store_runs


def story(press: Shop, run: int) -> Any:
    found = store_runs.get(press.db, run)
    assert found is not None
    return found.story


def cross(press: Shop, entry: str) -> None:
    sent = form({"crosses": entry, "why": "wrong value"})
    screens.cross_out(press.db, press.manager, sent, post=fresh(), now=press.tick())


def test_an_approval_takes_its_mark_with_it_and_another_one_is_marked_anew(press: Shop, first: Any) -> None:
    """One stroke approved, two noted after it, marked, finished; then approved again: the target is one stroke."""
    order, hung, _run = first
    again = press.again(order)
    run = press.set_up(again, hung, s1__strokes="1")
    press.approve(run)
    press.step(run, "sheet", s1__strokes="2", why="too thin")
    press.print_out(run)
    press.step(run, "use-next-time")
    approved = story(press, run).approved
    assert story(press, run).target
    cross(press, approved["entry"])
    assert not story(press, run).target and story(press, run).approved is None
    press.approve(run)
    told = story(press, run)
    assert told.approved["at"] == approved["at"] and not told.target  # the same print; nobody marked it again
    assert told.sheet["stations"]["1"]["strokes"] == "1" and told.settings["1"]["strokes"] == "2"
    press.step(run, "use-next-time")
    next_order = press.again(again)
    plan = run_plan.plan(press.db, press.set_up(next_order, {}))
    aim, source = target.aim(press.db, plan.job, 1, plan.run)
    assert aim["1"]["strokes"] == "1" and source == f"approved run {run}"
    assert any("too thin" in line for line in said(press, next_order)), "the change reaches the next run"
    assert sound.check(press.db) == []


def said(press: Shop, order: store_jobs.Saved) -> list[str]:
    from tickets.calculator.verdict import say

    found = repeats.differences(press.db, order, 1, press.now)
    return [say(one.reason, "metric").sentence for one in found.differences]


def test_the_set_up_that_an_approval_rests_on_is_not_crossed_out_alone(press: Shop, first: Any) -> None:
    _order, _hung, run = first
    sheet = story(press, run).sheet_entry
    with pytest.raises(Refused, match="cross the approval out first"):
        cross(press, sheet)
    cross(press, story(press, run).approved["entry"])
    cross(press, sheet)
    assert story(press, run).sheet == {} and sound.check(press.db) == []


def test_a_screen_that_a_pause_kept_is_decided_over_although_the_run_went_on_without_it(
    press: Shop, first: Any
) -> None:
    order, hung, _run = first
    run = press.set_up(press.again(order), hung)
    press.step(run, "pause")
    number, code = sorted(hung.items())[0]
    for station, other in hung.items():
        if station != number:
            sent = form({"screen": other, "station": station})
            hanging.hang(press.db, press.lead, run, sent, post=fresh(), now=press.tick())
    press.step(run, "finish", then="strip", still_needed="yes")
    assert press.life(code).standing in {Standing.TO_STRIP, Standing.TO_CLEAN}
    assert press.life(code).decided == "strip" and sound.check(press.db) == []


def test_a_count_is_not_dated_to_before_its_run(press: Shop, first: Any) -> None:
    order, hung, _run = first
    before = press.tick()
    press.tick()
    run = press.set_up(press.again(order), hung)
    with pytest.raises(Refused, match=rf"Run {run} was opened .*give a later time"):
        press.step(run, "count", good=5, at=before.isoformat())
    press.step(run, "count", good=5, at=(press.now - timedelta(seconds=30)).isoformat())
    assert story(press, run).good == 5
    with pytest.raises(Refused, match=r"shop’s clock \(\d{4}-\d\d-\d\d \d\d:\d\d\)"):
        press.step(run, "count", good=5, at=(press.now + timedelta(hours=1)).isoformat())
