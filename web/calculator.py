"""The calculator's pages, made from the table of `tickets calc`: asked, worked out and judged alike."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import probes
from tickets.calculator import typed as typed_units
from tickets.calculator import units
from tickets.calculator.catalogue import (
    CATALOGUE,
    FORMER_NAMES,
    Answer,
    Calculation,
    Faulty,
    Input,
    LimitInForce,
    Value,
    compute,
)
from tickets.calculator.numerals import counted
from tickets.domain.limits import called
from tickets.domain.posted import Form
from tickets.domain.refusal import NotFound, Refused
from tickets.domain.steps import Field
from tickets.i18n import N_, ngettext
from tickets.i18n import gettext as _
from tickets.queries import find as find_now
from tickets.queries import run_plan
from tickets.queries.shop_rules import the_spec
from tickets.store import jobs, places
from web.support import ToldFault, actor, answered, faults_by_field, fold_digits, form_lists, page, units_read

bp = Blueprint("calculator", __name__)

SMALL, LARGE = ("um", "mil"), ("cm", "m", "in", "ft")
OFFERED: Mapping[str, tuple[str, ...]] = {"area": ("cm2", "in2"), "time": ("s", "min"), "mass": ("g", "oz", "lb")}
"""Units offered to tap, where there are more that may be typed."""

HIGHEST = {
    "small": 999,
    "mesh count": 999,
    "ruling": 199,
    "angle": 90,
    "percent": 100,
    "tension": 99,
    "film": 199,
    "density": 9,
    "speed": 99,
}
"""How far the rows of digits reach under the safelight; others go to 9999."""

TABLES = {
    "tension-loss": "uses,n_per_cm\n1,28\n3,26.1\n6,24.9\n10,24.2\n15,23.5\n",
    "probe": "s,c\n0,25\n20,95\n40,132\n60,151\n80,161\n100,166\n120,168\n",
    "lifetime": "uses,ended\n6,1\n6,1\n9,0\n10,1\n13,1\n17,0\n22,1\n25,0\n",
}
"""Tables for the worked example of each page (invented numbers)."""

EXAMPLE_OF = {"dose": ("irradiance", "time"), "belt": ("length", "dwell", "inside")}
"""The inputs that the worked example gives, where it must not give all."""


class LimitsOfShop:
    """The shop's spec, as a calculation asks for limits."""

    @property
    def whose(self) -> str:
        """Whose spec it is."""
        return _("the limits of {shop}").format(shop=g.settings["shop"] or _("this shop"))

    def find(self, key: str, **conditions: Any) -> LimitInForce | None:
        """The shop's row that is most particular about these conditions."""
        spec = the_spec(g.db)
        found = spec.find(key, **{name: value for name, value in conditions.items() if value is not None})
        if found is None:
            return None
        row = next(row for row in spec.rows if row.id == found.row)
        return LimitInForce(key, found.value, row.unit, row.source, row.id)


@dataclass(frozen=True, slots=True)
class Box:
    """One input as the page asks it: the text to show, its units to tap and the one chosen, the field for taps."""

    asked: Input
    text: str
    units: tuple[tuple[str, str], ...]
    unit: str
    field: Field

    @property
    def name(self) -> str:
        """The name it is sent as."""
        return self.asked.name

    @property
    def choices(self) -> tuple[tuple[str, str], ...]:
        """The words of a choice, each with how it is said."""
        return tuple((one, _(word)) for one, word in self.asked.choices.items())


@bp.get("/calculator")
def every() -> Response:
    """The list of calculations."""
    return page("calculator/list.html", calculations=CATALOGUE.values())


@bp.get("/calculator/<name>")
def one(name: str) -> Response:
    """A calculation: its form, and the result of the query string; `format=json`: as `tickets calc --json`."""
    calculation = CATALOGUE.get(FORMER_NAMES.get(name, name))
    if calculation is None:
        raise NotFound(_("There is no such calculation; there are: {names}.").format(names=", ".join(CATALOGUE)))
    sent = answered(fold_digits({key: request.args.getlist(key) for key in request.args}))
    given = {key: values[0] for key, values in sent.items() if values}
    as_json = given.pop("format", "") == "json"
    given.pop("kept", "")
    return calculated(calculation, given, as_json)


@dataclass(frozen=True, slots=True)
class Calculated:
    """The page of a calculation. `given`: what was typed; `boxes`: its form; `understood`: what was typed as it was
    read; `here_for`: the job or run that a probe run is for, as sent; `as_json`: the address of the same as data."""

    calculation: Calculation
    given: Mapping[str, str]
    boxes: list[Box]
    answer: Answer | None
    understood: Any
    results: Any
    curve: Any
    cautions: tuple[str, ...]
    example: str
    probe: Probe | None
    presses: list[tuple[str, str]]
    here_for: Mapping[str, str]
    as_json: str


def calculated(
    calculation: Calculation, given: dict[str, str], as_json: bool = False, refused: Refused | None = None
) -> Response:
    """The page of a calculation with what was given; `refused`: the probe run was not kept, and why."""
    name = calculation.name
    probe = _probe_of(given) if name == "probe" else None
    if probe is not None and probe.about is not None:
        given = {**probe.asked, **given} if "cure" not in given else given
    waits = probe is not None and probe.about is not None and "file" not in given
    answer, faults = _worked_out(calculation, given) if (given or as_json) and not waits else (None, {})
    if refused is not None:
        faults |= faults_by_field(refused)
    status = refused.status if refused else 422 if faults else 200
    if as_json:
        return _as_json(answer, faults, status)
    here_for = probe.said if probe else {}
    it = Calculated(
        calculation,
        given,
        [_box(one, given) for one in calculation.inputs],
        answer,
        _understood(answer),
        _results(answer),
        _curve(answer),
        calculation.cautions,
        _example(calculation, here_for),
        probe,
        [(str(one.id), one.name) for one in places.every(g.db, "press")] if probe else [],
        here_for,
        f"/calculator/{name}?{urlencode({**given, 'format': 'json'})}" if answer else "",
    )
    return page(
        "calculator/one.html",
        status,
        it=it,
        system=units_read(),
        faults=faults,
        called=called,
        kept_now=request.args.get("kept") == "yes",
    )


def _worked_out(calculation: Calculation, given: Mapping[str, str]) -> tuple[Answer | None, dict[str, str]]:
    """The answer to what was given, or what is wrong with it, by field."""
    texts, bare = _texts(calculation, given)
    faults: dict[str, str] = {}
    try:
        return compute(calculation.name, texts, LimitsOfShop(), bare), faults
    except Faulty as faulty:
        for where, message in faulty.faults:
            asked = ToldFault.of(message, faulty.readings.get(where, ()))
            faults[where] = f"{faults[where]} {message}" if where in faults else asked
    return None, faults


def _as_json(answer: Answer | None, faults: Mapping[str, str], status: int) -> Response:
    told = {
        "faults": [
            {"where": where, "message": text, "readings": list(getattr(text, "readings", ()))}
            for where, text in faults.items()
        ]
    }
    body = json.dumps(told if answer is None else answer.to_dict(), ensure_ascii=False, allow_nan=False)
    return Response(body, status, mimetype="application/json")


ABOUT_FIELDS = ("job", "placement", "run")


@dataclass(frozen=True, slots=True)
class Probe:
    """What the page of the probe knows beside its form: what it is made for, what that asks, earlier probe runs."""

    about: probes.About | None
    said: Mapping[str, str]
    """The fields that name it, as sent."""
    asked: Mapping[str, str]
    kept: tuple[dict[str, Any], ...]


def _probe_of(given: dict[str, str]) -> Probe:
    """The job or run that a probe run is for, by the fields `run`, or `job` and `placement`, which are taken out of
    `given`, unless they name nothing: then they stay, to be refused there as unknown."""
    said = {name: given.pop(name, "").strip() for name in ABOUT_FIELDS}
    about, plan = _about(said)
    names = {one.id: one.name for one in places.every(g.db, "press")}
    kept = []
    for one in probes.kept(g.db, about):
        job = jobs.get(g.db, one.job) if one.job else None
        again = {**one.values.get("sent", {}), **{name: text for name, text in said.items() if text}}
        kept.append(
            {
                "at": one.at,
                "job": job,
                "press": names.get(int(one.values.get("press") or 0), ""),
                "dryer": one.values.get("dryer", ""),
                "peak": one.values.get("results", {}).get("peak"),
                "speed": str(one.values.get("sent", {}).get("speed", "")),
                "level": (one.verdict or {}).get("level", ""),
                "again": f"/calculator/probe?{urlencode(again)}#result",
            }
        )
    given.update({name: text for name, text in said.items() if text and about is None})  # refused as unknown
    own = {name: text for name, text in said.items() if text}
    return Probe(about, own, probes.asked(g.db, about, plan) if about else {}, tuple(kept))


def _about(said: Mapping[str, str]) -> tuple[probes.About | None, run_plan.Plan | None]:
    if said["run"]:
        plan = run_plan.plan(g.db, counted(said["run"]))
        return probes.about_run(plan), plan
    if said["job"]:
        job = find_now.job(g.db, said["job"])
        place = counted(said["placement"], 1)
        if not 1 <= place <= len(job.sheet.placements):
            raise NotFound(_("This job has no such placement."))
        return probes.About(job, place), None
    return None, None


@bp.post("/calculator/probe")
def keep_probe() -> AnyResponse:
    """Keeps a probe run with its job, press and dryer: worked out again from what was sent."""
    sent = fold_digits(form_lists())
    given = {key: values[0] for key, values in sent.items() if values}
    own = {name: given.pop(name, "") for name in ("entry", "press", "dryer", "at")}
    said = {name: given.get(name, "").strip() for name in ABOUT_FIELDS}
    calculation = CATALOGUE["probe"]
    about, _plan = _about(said)
    if about is None:
        refused = Refused(_("Open this page from a job or a run: the probe run is kept there."))
        return calculated(calculation, given, refused=refused)
    form = Form({**{name: [text] for name, text in given.items()}, **{name: [text] for name, text in own.items()}})
    try:
        texts, bare = _texts(calculation, {k: v for k, v in given.items() if k not in ABOUT_FIELDS})
        answer = compute("probe", texts, LimitsOfShop(), bare)
    except Faulty:
        return calculated(calculation, given)
    try:
        probes.keep(g.db, actor(), about, form, answer, post=own["entry"], now=g.now)
    except Refused as refused:
        return calculated(calculation, given, refused=refused)
    back = {name: text for name, text in said.items() if text}
    return redirect(f"/calculator/probe?{urlencode({**back, 'kept': 'yes'})}", code=303)


def _texts(calculation: Calculation, given: Mapping[str, str]) -> tuple[dict[str, str | None], dict[str, str]]:
    """The inputs as `compute` takes them, and the units that were tapped beside their boxes, for bare numbers."""
    texts: dict[str, str | None] = {one.name: given.get(one.name, "").strip() or None for one in calculation.inputs}
    bare = {asked.name: unit for asked in calculation.inputs if (unit := given.get(f"{asked.name}.unit", "").strip())}
    known = {name for asked in calculation.inputs for name in (asked.name, f"{asked.name}.unit")}
    # what nobody asked for is refused by compute, as on the command line
    return {**texts, **{name: text for name, text in given.items() if name not in known}}, bare


def offered(asked: Input) -> tuple[str, ...]:
    """The units to tap beside an input."""
    if asked.kind == "length":
        return SMALL if units.split(asked.example)[1] in SMALL else LARGE
    return OFFERED.get(asked.kind, units.KINDS[asked.kind].units)


def _box(asked: Input, given: Mapping[str, str]) -> Box:
    text, unit = given.get(asked.name, ""), given.get(f"{asked.name}.unit", "")
    if asked.kind not in units.KINDS:
        tenths = 0.1 if asked.kind == "number" else 0
        field = Field(asked.name, asked.label, "number", low=tenths, high=9999 if asked.kind == "whole" else 99)
        return Box(asked, text or asked.default or "", (), "", field)
    choices = offered(asked)
    digits, spelling = units.split(text)
    typed = units.unit_named(spelling, asked.kind) if spelling else None
    if typed in choices:
        text, unit = digits, typed or ""
    if units.unit_named(unit, asked.kind) not in choices:
        unit = typed_units.unit_behind(asked.such_as(units_read()), asked.kind) or choices[0]
    tenths = 0 if asked.kind in ("mesh count", "ruling", "temperature") or choices == SMALL else 0.1
    field = Field(
        asked.name,
        asked.label,
        "number",
        low=tenths,
        high=HIGHEST.get("small" if choices == SMALL else asked.kind, 9999),
    )
    return Box(asked, text, tuple((one, units.unit_text(one)) for one in choices), unit, field)


def _example(calculation: Calculation, more: Mapping[str, str]) -> str:
    """The address of a worked example."""
    names = EXAMPLE_OF.get(calculation.name, tuple(asked.name for asked in calculation.inputs))
    inputs = [asked for asked in calculation.inputs if asked.name in names]
    system = units_read()
    texts = {one.name: TABLES[calculation.name] if one.kind == "table" else one.such_as(system) for one in inputs}
    return f"/calculator/{calculation.name}?{urlencode({**texts, **more})}"


def _understood(answer: Answer | None) -> list[tuple[str, str]]:
    """The inputs as understood, each in the unit that was typed."""
    if answer is None:
        return []
    return [(_(answer.calculation.input(name).label), _typed(value)) for name, value in answer.inputs.items()]


def _typed(value: Value) -> str:
    if isinstance(value.value, list):
        if value.value and isinstance(value.value[0], list):
            return ngettext("{count} line", "{count} lines", len(value.value)).format(count=len(value.value))
        numbers = " ".join(f"{one:.10g}" for one in value.value)
        return f"{numbers}{units.NBSP}{units.unit_text(value.unit)}".rstrip()
    if isinstance(value.value, (int, float)):
        close = value.unit in ("/in", "/cm", "lines/in", "lines/cm", "deg")
        return f"{value.value:.10g}{'' if close or not value.unit else units.NBSP}{units.unit_text(value.unit)}"
    return _(units.unit_text(str(value.value)))


HEADS = {
    "uses": N_("uses"),
    "at_risk": N_("in service until then"),
    "ended": N_("ended"),
    "survival": N_("share that lasts"),
    "standard_error": N_("standard error"),
}


def _results(answer: Answer | None) -> list[dict[str, Any]]:
    """The results: label, and a text or the rows of a table."""
    found = []
    for name, value in answer.results.items() if answer is not None else ():
        label = _(answer.calculation.labels[name]) if answer is not None else ""
        if isinstance(value.value, list) and value.value and isinstance(value.value[0], dict):
            heads = list(value.value[0])
            rows = [[_cell(head, row[head]) for head in heads] for row in value.value]
            found.append({"label": label, "heads": [_(HEADS.get(head, head)) for head in heads], "rows": rows})
        else:
            found.append({"label": label, "text": answer.said(name, units_read()) if answer else ""})
    return found


def _curve(answer: Answer | None) -> dict[str, Any] | None:
    """The share that lasts as a stepped line in a box of 300 by 150, and the longest use; None where there is none."""
    rows = answer.results["survival"].value if answer is not None and "survival" in answer.results else None
    if not rows:
        return None
    longest = max(max(row["uses"] for row in rows), 1)
    path = "M0 0"
    for row in rows:
        path += f"H{300 * row['uses'] / longest:.1f}V{150 * (1 - row['survival']):.1f}"
    return {"path": path, "longest": f"{longest:g}"}


def _cell(head: str, value: Any) -> str:
    if value is None:
        return "–"
    return f"{value:.4f}" if head in ("survival", "standard_error") else f"{value:g}"
