"""What happened on a run, each entry said in a line."""

from __future__ import annotations

from collections import Counter
from typing import Any

from flask import g

from tickets.domain.entry import Entry, stamp, standing_lines, whole_of
from tickets.domain.papers.ticket import with_signs
from tickets.domain.runs import setup
from tickets.domain.runs.as_run import proved, with_doubt
from tickets.domain.steps import STOP_CAUSES
from tickets.i18n import gettext as _
from tickets.queries import run_plan
from tickets.queries import said as said_now
from tickets.store import entries, screens
from web.log import may_cross_out
from web.support import local_time, reader


def system() -> str:
    """The shop's units."""
    return str((g.get("settings") or {}).get("units", "metric"))


def change_lines(plan: run_plan.Plan) -> list[dict[str, Any]]:
    """The changes of the run in words: when, where, what, why."""
    found = (one for one in plan.story.changes if not setup.first_measured(one))
    return [{**one, "told": said_now.change(g.db, one)} for one in found]


def kept_of(plan: run_plan.Plan) -> dict[str, dict[str, str]]:
    """The sheet as it was noted, with what was measured since: by its parts each setting as people read it, each
    measurement with who took it and when, those that it came after before it, a line each."""
    mine = plan.story.sheet_on == plan.story.on
    sheet = setup.with_later(plan.story.sheet if mine else run_plan.sheet_now(g.db, plan), plan.story.changes)
    found: dict[str, dict[str, str]] = {}
    for key, values in setup.parts_of(sheet).items():
        for name, value in values.items():
            if value:
                told = said_now.setting_said(g.db, name, value)
                taken = plan.story.measured.get(key, {}).get(name, {})
                if taken:
                    now = plan.story.settings.get(key, {}).get(name) or value
                    told = "\n".join(map(_reading_said, setup.readings(now, taken)))
                elif not proved(sheet, key, name, value):
                    told = with_doubt(told)
                found.setdefault(key, {})[name] = told
    return found


def _reading_said(one: setup.Reading) -> str:
    """A reading with who took it and when, as far as that is known."""
    told = with_signs(_(one.value))
    return f"{told} ({one.who}, {local_time(one.at)})" if one.at else with_doubt(told)


EVENTS = ("stop", "swap", "pause", "start", "change")
"""What comes up during a run, and is told of it afterwards; a finish where nothing was counted is told too."""


def events_of(plan: run_plan.Plan) -> list[dict[str, Any]]:
    """What came up during the run, in its order: when, what, with why and a photo."""
    own, out = reader(), []
    for entry in standing_lines(entries.of(g.db, "run", plan.run.id)):
        began = entry.step == "start" and plan.story.started_at == stamp(entry.at)
        if (entry.step in EVENTS and not began) or (entry.step == "finish" and entry.values.get("uncounted")):
            said = said_now.line(own, entry, without=(*said_now.IN_RUN, "why", "panel"))
            out.append({
                "at": entry.at, "said": said, "why": entry.values.get("why", ""), "panel": entry.values.get("panel", "")
            })  # fmt: skip
    return out


def causes_of(plan: run_plan.Plan) -> list[tuple[str, int]]:
    """What the misprints were for, the most frequent first: (cause in words, pieces); told from the counts, since the
    story has those without a cause among the others."""
    words, found = dict(STOP_CAUSES), Counter[str]()
    for entry in standing_lines(entries.of(g.db, "run", plan.run.id)):
        if entry.step == "count":
            found[str(entry.values.get("cause") or "")] += whole_of(entry.values, "misprinted") or 0
    return [(_(words.get(one, one)) if one else _("not said"), many) for one, many in found.most_common() if many]


def log_lines(log: list[Entry]) -> list[dict[str, Any]]:
    """The log of a run, newest first, with what was crossed out and by whom, and whether this person may."""
    crossed = entries.crossed_by(g.db, [entry.entry for entry in log])
    may, own = may_cross_out(), reader()
    numbers = [entry.screen for entry in log if entry.screen is not None]
    codes = {screen.id: screen.code for screen in screens.many(g.db, list(dict.fromkeys(numbers)))}
    return [
        {
            "entry": entry,
            "done": said_now.title(entry),
            "screen": codes.get(entry.screen) if entry.screen is not None else None,
            "told": said_now.text(own, entry, without=said_now.IN_RUN),
            "crossed": crossed.get(entry.entry),
            "may_cross": entry.step != "open" and entry.entry not in crossed and may(entry),
        }
        for entry in log
    ]
