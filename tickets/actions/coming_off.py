"""How the screens of a run come off: what somebody says of all of them and of each, at a pause and at the end.

What is said is never dropped: a name that is none of the run's screens is refused, what a pause decided of one screen
stands until somebody says otherwise of that very screen, and what is said of a screen that came off before is written
to its own log.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlite_utils import Database

from tickets.actions.posting import line
from tickets.domain import steps
from tickets.domain.code import NoCode, read, shown
from tickets.domain.entry import Entry, read_stamp
from tickets.domain.person import Actor
from tickets.domain.posted import Form
from tickets.domain.refusal import Fault, Refused
from tickets.domain.runs.run import Story
from tickets.i18n import gettext as _
from tickets.queries.came_off import SaidOfScreen, lying
from tickets.store import screens

FIELDS = {"then": dict(steps.THEN), "condition": dict(steps.CONDITIONS)}
"""What is asked of a screen that comes off, each with its choices."""


@dataclass(frozen=True, slots=True)
class Picks:
    """What was said of all screens together, and of some by themselves, by their numbers."""

    every: SaidOfScreen
    each: Mapping[int, SaidOfScreen]

    def of(self, screen: int) -> SaidOfScreen:
        """What was said of this screen by itself."""
        return self.each.get(screen, SaidOfScreen())


def own_fields(form: Form) -> list[str]:
    """The fields of a form that say something of one screen: `then.CODE`, `condition.CODE`."""
    return [name for name in form.sent if name.partition(".")[0] in FIELDS and "." in name]


def picked(db: Database, story: Story, form: Form) -> Picks:
    """What a form says of the screens of a run, each named by its code or its painted mark."""
    faults: list[Fault] = []
    numbers = dict.fromkeys([*(one.screen for one in story.hung.values()), *(one.screen for one in story.was_hung)])
    mine = [screen for number in numbers if (screen := screens.get(db, number)) is not None]
    each: dict[int, dict[str, str]] = {}
    for name in own_fields(form):
        what, _dot, named = name.partition(".")
        value = form.one(name)
        if not value:
            continue
        found = _named(mine, named)
        if len(found) != 1:
            there = ", ".join(shown(one.code) for one in mine) or "–"
            told = _("No screen of this run is called “{name}”; there are: {there}.")
            faults.append(Fault(name, told.format(name=named[:40], there=there)))
        elif value not in FIELDS[what]:
            faults.append(Fault(name, _("One of: {choices}.").format(choices=", ".join(FIELDS[what]))))
        elif each.setdefault(found[0].id, {}).setdefault(what, value) != value:
            faults.append(Fault(name, _("This screen is in the answer twice, with different words.")))
    if faults:
        raise Refused(faults)
    every = SaidOfScreen(form.one("then"), form.one("condition"))
    return Picks(every, {number: SaidOfScreen(**said) for number, said in each.items()})


def _named(mine: list[screens.Screen], text: str) -> list[screens.Screen]:
    try:
        code = read(text)
    except NoCode:
        code = None
    by_code = [one for one in mine if one.code == code]
    return by_code or [one for one in mine if one.life.mark and one.life.mark.casefold() == text.strip().casefold()]


def pull_lines(
    db: Database, actor: Actor, run: int, story: Story, picks: Picks, at: datetime, now: datetime, kept_for: str = ""
) -> list[Entry]:
    """Every screen that hangs in a run comes off. `kept_for`: what a pause keeps those for of which nobody said what
    becomes of them."""
    lines = []
    for _station, hung in sorted(story.hung.items()):
        screen = screens.get(db, hung.screen)
        own = picks.of(hung.screen)
        then = own.then or picks.every.then
        values = {"run": run, "then": then or ("keep" if kept_for else "undecided")}
        if condition := own.condition or picks.every.condition:  # nobody looks at each of many
            values["condition"] = condition
        if kept_for and not then:
            values["for"] = kept_for
        # dated back, but never to before what the screen has gone through here
        off = max(at, read_stamp(screen.life.last_at)) if screen and screen.life.last_at else at
        lines.append(line(actor, "pull", off, now, values, screen=hung.screen, run=run))
    return lines


def finish_lines(
    db: Database, actor: Actor, run: int, story: Story, picks: Picks, at: datetime, now: datetime
) -> list[Entry]:
    """What the end of a run says of its screens that came off before: an entry each."""
    there = lying(db, run, story)
    gone = set(picks.each) - {one.screen.id for one in there} - {hung.screen for hung in story.hung.values()}
    if gone:
        told = _("Screen {code} has changed since it came off this run: log it on its own page.")
        codes = ((number, screen.code) for number in sorted(gone) if (screen := screens.get(db, number)) is not None)
        raise Refused([Fault(_field(picks, number), told.format(code=shown(code))) for number, code in codes])
    lines = []
    for one in there:
        own = picks.of(one.screen.id)
        then = own.then or (picks.every.then if one.free and picks.every.then != "undecided" else "")
        condition = own.condition or (picks.every.condition if one.paused and not one.said.condition else "")
        values = {name: value for name, value in (("then", then), ("condition", condition)) if value}
        if values:
            # dated back, but never to before the screen came off
            last = one.screen.life.last_at
            when = max(at, read_stamp(last)) if last else at
            lines.append(line(actor, "decide", when, now, values, screen=one.screen.id, run=run))
    if picks.every.condition and not story.hung and not any("condition" in one.values for one in lines):
        raise Refused(_("No screen of this run is waiting for that."), "condition")
    return lines


def _field(picks: Picks, screen: int) -> str:
    return "then" if picks.each[screen].then else "condition"
