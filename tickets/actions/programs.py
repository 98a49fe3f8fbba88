"""What a program does with a token that may post: it logs steps and enters jobs, by the acts of pages and commands.

It has no PIN, so nothing is its to do that a page asks one for: it overrides nothing, approves nothing, crosses nothing
out. Whoever wants that taken back crosses it out on a page."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.actions import buckets as buckets_acts
from tickets.actions import jobs as jobs_acts
from tickets.actions import runs as runs_acts
from tickets.actions import screens as screens_acts
from tickets.actions.posting import before
from tickets.calculator.numerals import counted
from tickets.domain.jobs import job as sheets
from tickets.domain.jobs.table import plain_text
from tickets.domain.person import Actor
from tickets.domain.posted import Form
from tickets.domain.refusal import Fault, NotAllowed, Refused
from tickets.domain.steps import BUCKET_STEPS, RUN_STEPS, SCREEN_STEPS, Step
from tickets.i18n import gettext as _
from tickets.queries import as_data, find, phase, run_plan
from tickets.queries.shop_rules import the_spec

WITH_A_PIN = frozenset({"cross-out", "approve"})
"""Steps that pages ask a PIN for."""
NOT_SENT = frozenset({"open", "mix", "hang", "print"})
"""Steps that are no line of their own about a thing that is there: a run is opened, a bucket mixed; and what is hung or
printed with a screen is a step of its run."""

THINGS: Mapping[str, Mapping[str, Step]] = {
    "screen": {name: step for name, step in SCREEN_STEPS.items() if name not in WITH_A_PIN | NOT_SENT},
    "run": {name: step for name, step in RUN_STEPS.items() if name not in WITH_A_PIN | {"open"}},
    "bucket": {name: step for name, step in BUCKET_STEPS.items() if name not in WITH_A_PIN | NOT_SENT},
}
"""What a program may log a step of, and which."""

OWN = frozenset({"step", "at", "values", *THINGS})
"""What stands in the data of a line."""


@dataclass(frozen=True, slots=True)
class SentLine:
    """A line of the log as a program sends it: of which thing, by its code or number; the step, and its fields."""

    kind: str
    code: str
    step: str
    form: Form


def line_in(data: Any) -> SentLine:
    """The line in plain data. Raises Refused with all that is wrong, each at its name."""
    if not isinstance(data, Mapping):
        raise Refused(_("An object is wanted, such as {example}.").format(example=EXAMPLE))
    faults = [
        Fault(str(name)[:60], _("There is no such name; there are: {names}.").format(names=", ".join(sorted(OWN))))
        for name in data
        if name not in OWN
    ]
    named = [kind for kind in THINGS if kind in data]
    kind = named[0] if len(named) == 1 else ""
    if not kind:
        faults.append(Fault("screen", _("Name one thing: a screen, a run or a bucket.")))
    code, step, values = data.get(kind, ""), data.get("step", ""), data.get("values", {})
    if kind and (isinstance(code, bool) or not isinstance(code, str | int) or code == ""):
        faults.append(Fault(kind, _("Its code is wanted, of a run its number.")))
    if not isinstance(step, str) or (kind and step not in THINGS[kind] and step not in WITH_A_PIN):
        told = _("There is no step “{step}”; there are: {names}.")
        some = ", ".join(THINGS[kind]) if kind else ""
        faults.append(Fault("step", told.format(step=str(step)[:40], names=some)))
    sent, more = _fields(values)
    if data.get("at") is not None:
        sent["at"] = [str(data["at"])]
    faults += more
    if faults:
        raise Refused(faults)
    return SentLine(kind, str(code), step, Form(sent))


EXAMPLE = '{"screen": "4K7 QX2", "step": "tension", "values": {"readings_n_per_cm": [22.5, 22, 23]}}'


def _fields(values: Any) -> tuple[dict[str, list[str]], list[Fault]]:
    """The fields of a step as a form sends them: numbers and flags as they are typed."""
    if not isinstance(values, Mapping):
        return {}, [Fault("values", _("An object is wanted: the fields of the step by their names."))]
    sent: dict[str, list[str]] = {}
    faults: list[Fault] = []
    for name, value in values.items():
        some = value if isinstance(value, list) else [value]
        texts = [_text(one) for one in some if one is not None]
        if None in texts:
            told = _("A text, a number, true or false is wanted, or a list of them.")
            faults.append(Fault(str(name)[:60], told))
        elif texts and name not in ("entry", "secret"):
            sent[str(name)] = [text for text in texts if text is not None]
        elif texts:
            faults.append(Fault(str(name), _("This does not belong here.")))
    return sent, faults


def _text(value: Any) -> str | None:
    """A value as somebody would type it; None: it is no single value."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return plain_text(value)
    return value if isinstance(value, str) else None


def log(db: Database, actor: Actor, sent: SentLine, *, post: str, now: datetime) -> dict[str, Any]:
    """Logs one step of one thing, once by the id `post`; what it came to. Raises what pages and commands do."""
    _no_pin(sent)
    return _LOGS[sent.kind](db, actor, sent, post, now)


def _no_pin(sent: SentLine) -> None:
    """Refuses what pages ask a PIN for."""
    told = _("A program has no PIN: somebody does that on a page.")
    faults = [Fault("step", told)] if sent.step in WITH_A_PIN else []
    faults += [Fault("override", told)] if sent.form.one("override") else []
    if faults:
        raise NotAllowed(faults)


def _screen(db: Database, actor: Actor, sent: SentLine, post: str, now: datetime) -> dict[str, Any]:
    found = find.screen(db, sent.code)
    logged = screens_acts.log(db, actor, found, sent.step, sent.form, post=post, now=now)
    after = find.screen(db, logged.code or found.code)
    verdict = logged.verdict.to_dict() if logged.verdict else None
    stage = str(after.life.standing)
    return {"screen": str(after.code), "entries": list(logged.entries), "verdict": verdict, "stage": stage}


def _run(db: Database, actor: Actor, sent: SentLine, post: str, now: datetime) -> dict[str, Any]:
    number = counted(sent.code, -1)
    plan, step = run_plan.plan(db, number), sent.step
    form = Form({name: some for name, some in sent.form.sent.items() if name != "anyway"})
    if before(db, actor, post, {"step": step, "run": number, **form.sent}) is None:
        if not sent.form.yes("anyway"):
            phase.in_turn(db, plan, step)
        if step == "sheet":
            run_plan.say_why(db, plan, form)
    made = runs_acts.log(db, actor, number, step, form, post=post, now=now)
    shown = as_data.logged(db, run_plan.plan(db, number), step, made)
    return {name: shown[name] for name in ("run", "entries", "verdict", "state")}


def _bucket(db: Database, actor: Actor, sent: SentLine, post: str, now: datetime) -> dict[str, Any]:
    found = find.bucket(db, sent.code)
    made = buckets_acts.log(db, actor, found, sent.step, sent.form, post=post, now=now)
    return {"bucket": str(found.code), "entries": list(made), "verdict": None}


_LOGS: Mapping[str, Callable[[Database, Actor, SentLine, str, datetime], dict[str, Any]]] = {
    "screen": _screen,
    "run": _run,
    "bucket": _bucket,
}


def enter(
    db: Database, actor: Actor, data: Mapping[str, Any], *, twice: str, bare: str, post: str, now: datetime
) -> dict[str, Any]:
    """Enters a job out of the data of a job file, once by the id `post`; `twice` and `bare`: what was answered, as in
    `actions.jobs.add`."""
    sheet = sheets.read(data, limits=the_spec(db))
    (code,) = jobs_acts.add(db, actor, [sheet], post=post, now=now, twice=twice, bare=bare)
    found = find.job(db, code)
    return {"job": found.code, "version": found.version, "title": found.sheet.title,
            "remarks": as_data.remarks_on(db, found, now)}  # fmt: skip
