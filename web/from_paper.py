"""Several lines that were written on a ticket, typed in on one page: each is logged on its own, with its time."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from flask import Blueprint, Response, g

from tickets.actions import runs as runs_acts
from tickets.actions import screens as screens_acts
from tickets.domain.code import shown
from tickets.domain.entry import Entry
from tickets.domain.posted import Asks, Form, Worse
from tickets.domain.refusal import Fault, Refused, SentBefore
from tickets.domain.runs import run as run_rules
from tickets.domain.steps import RUN_STEPS, SCREEN_STEPS, Field, Step
from tickets.i18n import gettext as _
from tickets.queries import find, run_plan
from tickets.store import entries, screens
from web import log
from web.support import actor, faults_by_field, form_lists, new_entry_id, one_of, page

bp = Blueprint("from_paper", __name__)

ROWS = 8
"""Lines of one page."""

OF_A_SCREEN = (
    "degrease", "coat", "expose", "washout", "check", "harden", "tension", "clean", "rack", "strip", "haze", "note",
)  # fmt: skip
"""Steps that one value, or none, says enough of: others have forms of their own."""
OF_A_RUN = ("count", "stop", "note")

VALUE_OF = {"coat": "preset", "expose": "exposure_s", "tension": "readings_n_per_cm", "rack": "place", "note": "note"}
"""What the one value of a line is, where a step has no finding (`taps`)."""


@dataclass(frozen=True, slots=True)
class PaperLine:
    """One line as it was typed, and what came of it: what was logged (`lines`; `before`: when it was sent as something
    else), or what is wrong by field (`faults`; the empty name: the whole), or the question to be answered (`asks`)."""

    number: int
    entry: str
    values: Mapping[str, Sequence[str]]
    faults: Mapping[str, str]
    asks: str = ""
    lines: tuple[log.LogLine, ...] = ()
    before: bool = False

    @property
    def typed(self) -> bool:
        """Whether anything stands in it."""
        return any(one_of(self.values, name) for name in ("step", "at", "value"))


@dataclass(frozen=True, slots=True)
class Paper:
    """What lines are typed in for: its name, where they go, where an entry is crossed out (its id comes behind), what
    is said of entries that do not fit, its steps, what logs one of them, and which entries do not fit by now."""

    name: str
    back: str
    cross: str
    unfit: str
    steps: Sequence[Step]
    log: Callable[[str, Form, str], Any]
    clashing: Callable[[], dict[str, Entry]]

    @property
    def choices(self) -> list[tuple[str, str, str]]:
        """The steps to choose from, each with what its value is."""
        out = []
        for step in self.steps:
            field = value_of(step)
            out.append((step.name, _(step.title), _(field.label) if field is not None else ""))
        return out


def value_of(step: Step) -> Field | None:
    """The field that the one value of a line goes to; None: the step asks nothing."""
    name = step.taps or VALUE_OF.get(step.name) or {"count": "good", "stop": "cause"}.get(step.name, "")
    return step.field(name) if name else None


def meant(field: Field, text: str) -> str:
    """What was typed for a choice, as it is sent: its key, also where its words were typed."""
    for key, label in field.choices:
        if text.strip().casefold() in {key.casefold(), _(label).casefold()}:
            return key
    return text


def _of_screen(code: str) -> Paper:
    screen = find.screen(g.db, code)

    def act(step: str, form: Form, post: str) -> Any:
        fresh = find.screen(g.db, screen.code)
        return screens_acts.log(g.db, actor(), fresh, step, form, post=post, now=g.now)

    def clashing() -> dict[str, Entry]:
        now = screens.get(g.db, screen.id)
        found = [entries.find(g.db, name) for name in (now.life.conflicts if now else ())]
        return {one.entry: one for one in found if one is not None}

    steps = [SCREEN_STEPS[name] for name in OF_A_SCREEN]
    path = f"/screens/{screen.code}"
    told = _(
        "With what was logged now, the log doesn’t add up at these lines. Cross out what is wrong, or correct the log."
    )
    return Paper(shown(screen.code), path, f"{path}?cross=", told, steps, act, clashing)


def _of_run(number: int) -> Paper:
    plan = run_plan.plan(g.db, number)

    def act(step: str, form: Form, post: str) -> Any:
        return runs_acts.log(g.db, actor(), plan.run.id, step, form, post=post, now=g.now)

    def clashing() -> dict[str, Entry]:
        every = {one.entry: one for one in entries.of(g.db, "run", plan.run.id)}
        return {entry: every[entry] for entry in run_rules.made_doubtful(every.values())}

    name = _("Run {number}: {placement}").format(number=number, placement=plan.placement.name)
    path, steps = f"/runs/{number}", [RUN_STEPS[name] for name in OF_A_RUN]
    told = _(
        "What was logged now may be in these lines already: each count is of the pieces since the one before it, and "
        "nothing prints before the start or in a pause. Cross out what is wrong."
    )
    return Paper(name, path, f"{path}?open=cross-out&crosses=", told, steps, act, clashing)


@bp.get("/screens/<code>/from-paper")
def screen(code: str) -> Response:
    """Lines of a screen's ticket."""
    return _page(_of_screen(code), [_empty(number) for number in range(1, ROWS + 1)])


@bp.post("/screens/<code>/from-paper")
def log_screen(code: str) -> Response:
    """Logs them, each on its own."""
    return _take(_of_screen(code))


@bp.get("/runs/<int:number>/from-paper")
def run(number: int) -> Response:
    """Lines of a run."""
    return _page(_of_run(number), [_empty(number) for number in range(1, ROWS + 1)])


@bp.post("/runs/<int:number>/from-paper")
def log_run(number: int) -> Response:
    """Logs them, each on its own."""
    return _take(_of_run(number))


def _empty(number: int) -> PaperLine:
    return PaperLine(number, new_entry_id(), {}, {})


def _take(paper: Paper) -> Response:
    """Every line that was typed, in the order of their times: one that is refused or asked about keeps none of the
    others back, and stands there to be put right."""
    sent = form_lists()
    before = set(paper.clashing())
    rows = [_row(sent, number) for number in range(1, ROWS + 1)]
    done = {
        row.number: _logged(paper, row) for row in sorted(rows, key=lambda row: one_of(row.values, "at")) if row.typed
    }
    rows = [done.get(row.number, row) for row in rows]
    clash = [one for name, one in paper.clashing().items() if name not in before]
    return _page(paper, rows, clash)


def _row(sent: Mapping[str, Sequence[str]], number: int) -> PaperLine:
    names = ("step", "at", "value", "yes")
    values = {name: list(sent.get(f"row{number}.{name}", ())) for name in names}
    return PaperLine(number, one_of(sent, f"row{number}.entry") or new_entry_id(), values, {})


def _logged(paper: Paper, row: PaperLine) -> PaperLine:
    """What comes of one line."""
    step = next((one for one in paper.steps if one.name == one_of(row.values, "step")), None)
    at, value = one_of(row.values, "at"), one_of(row.values, "value").strip()
    faults = [] if step else [Fault("step", _("Say what was done."))]
    faults += [] if at else [Fault("at", _("Say when: the day and the time."))]
    field = value_of(step) if step else None
    if step and value and field is None:
        faults.append(Fault("value", _("“{step}” takes no value: leave it empty.").format(step=_(step.title))))
    if faults or step is None:
        return _with(row, faults=faults_by_field(Refused(faults)))
    sent = {"at": [at]} | ({"in_hand": ["yes"], "still_needed": ["yes"]} if one_of(row.values, "yes") else {})
    if field is not None and value:
        sent[field.name] = [meant(field, value)]
    try:
        paper.log(step.name, Form(sent), row.entry)
    except SentBefore:
        return _with(row, lines=_written(row), before=True, faults={})
    except Asks as asks:
        return _with(row, asks=" ".join([*asks.in_hand, *asks.still_needed]), faults={})
    except Worse as worse:
        return _with(row, faults=faults_by_field(worse))
    except Refused as refused:
        told = faults_by_field(refused)
        where = {field.name if field else "": "value", "at": "at"}
        return _with(row, faults={where.get(name, ""): message for name, message in told.items()})
    return _with(row, lines=_written(row), faults={})


def _written(row: PaperLine) -> tuple[log.LogLine, ...]:
    """The lines of the log that a line came to."""
    return tuple(log.lines(g.db, entries.of_post(g.db, row.entry)))


def _with(row: PaperLine, **more: Any) -> PaperLine:
    return PaperLine(**{**{name: getattr(row, name) for name in PaperLine.__slots__}, **more})


def _page(paper: Paper, rows: Sequence[PaperLine], clash: Sequence[Entry] = ()) -> Response:
    left = [row for row in rows if row.faults or row.asks]
    done = [line for row in rows for line in row.lines]
    response = page(
        "log/from_paper.html",
        422 if left else 200,
        paper=paper,
        rows=[row for row in rows if not row.lines],
        done=sorted(done, key=lambda line: line.entry.at),
        not_done=left and (_("Not all saved") if done else _("Not saved")),
        nothing_saved=not done,
        before=[row.number for row in rows if row.before],
        clash=log.lines(g.db, clash) if clash else [],
    )
    if not left:
        response.headers["Not-Logged"] = "nothing"  # for a script that sent it late: it need not be kept
    return response
