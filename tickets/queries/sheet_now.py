"""The whole set-up sheet of a run to read: what was noted, measured since, and set otherwise than its target."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from tickets.calculator.verdict import Verdict
from tickets.domain.papers.ticket import with_signs
from tickets.domain.runs import setup
from tickets.domain.runs.as_run import note_told, proved, with_doubt
from tickets.i18n import gettext as _
from tickets.queries import at_press, noted, print_order, run_going, run_plan, target
from tickets.queries import said as said_now
from tickets.queries.print_order import PrintOrderRow
from tickets.queries.run_plan import Plan
from tickets.queries.said import Reader
from tickets.queries.shop_rules import the_spec


@dataclass(frozen=True, slots=True)
class SheetNow:
    """A set-up sheet. `aim`: the target by part and setting, `source`: where it comes from; `against`: which run it is
    compared with, in words; `noted`: somebody noted a part; `curing`: what speaks against the cure; `changes`: those
    of the run, each with what is `told`; `kept`: by part and setting as people read it; `differ`: what is otherwise
    than the target (part, setting); `rows`: the print order by number; `notes`: in which run each note was taken."""

    plan: Plan
    aim: target.Aim
    source: str
    against: str
    noted: bool
    curing: Verdict
    clocks: tuple[run_going.BucketClock, ...]
    changes: tuple[Mapping[str, Any], ...]
    kept: Mapping[str, Mapping[str, str]]
    measured: tuple[str, ...]
    differ: frozenset[tuple[str, str]]
    rows: Mapping[int, PrintOrderRow]
    notes: Mapping[str, int]

    def aimed(self, name: str, text: str) -> str:
        """The target of a setting as it is said: a note that an earlier run left is told as one."""
        return note_told(text, self.notes) if name == "note" else text


def of(reader: Reader, plan: Plan) -> SheetNow:
    """The set-up sheet of a run as it is now."""
    db, story = reader.db, plan.story
    aim, source = target.aim(db, plan.job, plan.run.placement, plan.run)
    sheet = story.sheet if story.sheet_on == story.on else run_plan.sheet_now(db, plan)
    met = target.against(db, plan.job, plan.run.placement, plan.run)
    changed = (one for one in story.changes if not setup.first_measured(one))
    return SheetNow(
        plan,
        aim,
        source,
        met.said(),
        bool(story.sheet_entry),
        at_press.to_approve(db, plan),
        tuple(run_going.clocks_of(reader, plan)) if story.state != "finished" else (),
        tuple({**one, "told": said_now.change(db, one)} for one in changed),
        _kept(reader, plan, sheet),
        tuple(noted.measured_said(db, plan)),
        frozenset((key, name) for key, name, _was, _now in setup.differences(sheet, the_spec(db))),
        {row.station.number: row for row in print_order.rows_of(db, plan)},
        target.notes_of(db, met.run),
    )


def _kept(reader: Reader, plan: Plan, sheet: Mapping[str, Any]) -> dict[str, dict[str, str]]:
    """The sheet as it was noted, with what was measured since: by its parts each setting as people read it, each
    measurement with who took it and when, those that it came after before it, a line each."""
    sheet = setup.with_later(sheet, plan.story.changes)
    found: dict[str, dict[str, str]] = {}
    for key, values in setup.parts_of(sheet).items():
        for name, value in values.items():
            if value:
                told = said_now.setting_said(reader.db, name, value)
                taken = plan.story.measured.get(key, {}).get(name, {})
                if taken:
                    now = plan.story.settings.get(key, {}).get(name) or value
                    told = "\n".join(_reading_said(reader, one) for one in setup.readings(now, taken))
                elif not proved(sheet, key, name, value):
                    told = with_doubt(told)
                found.setdefault(key, {})[name] = told
    return found


def _reading_said(reader: Reader, one: setup.Reading) -> str:
    """A reading with who took it and when, as far as that is known."""
    told = with_signs(_(one.value))
    return f"{told} ({one.who}, {reader.time(one.at)})" if one.at else with_doubt(told)
