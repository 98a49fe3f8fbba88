"""The calculator's pages, made from the table of `tickets calc`: asked, worked out and judged alike."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Response, g, request

from tickets.calculator import units
from tickets.calculator.catalogue import CATALOGUE, Answer, Calculation, Faulty, Input, Limit, Value, compute
from tickets.calculator.defaults import LABELS
from tickets.floor.posting import the_spec
from tickets.records.refusal import NotFound
from tickets.records.steps import Field
from tickets.words import N_
from tickets.words import gettext as _
from web.support import fold_digits, page

bp = Blueprint("calculator", __name__)

ABOUT = {
    "mesh": N_("opening, open area and ink volume of a mesh"),
    "halftone": N_("whether a ruling and its angle go with a mesh"),
    "stencil": N_("how much emulsion stands over the mesh"),
    "step": N_("the next exposure time, from the step that was held"),
    "factor-strip": N_("the exposure time, from a strip of factors"),
    "distance": N_("the exposure time at another distance of a point lamp"),
    "dose": N_("light dose, or the time when the lamp has faded"),
    "tension": N_("readings of one screen, judged by the shop’s limits"),
    "tension-loss": N_("how many uses are left until the floor"),
    "belt": N_("length, dwell and speed of the dryer’s belt"),
    "probe": N_("cure and dye bleed, from a probe’s run through the dryer"),
    "ink": N_("how much ink a job takes"),
    "colour": N_("how far a print is from the approved one"),
    "lifetime": N_("how long the shop’s meshes last"),
}
"""What each calculation is for, in the list."""

CAUTIONS_OF = {
    "probe": ("heat",),
    "belt": ("heat",),
    "step": ("uv",),
    "factor-strip": ("uv",),
    "distance": ("uv",),
    "dose": ("uv",),
}

SMALL, LARGE = ("um", "mil"), ("cm", "m", "in", "ft")
OFFERED: Mapping[str, tuple[str, ...]] = {"area": ("cm2", "in2"), "time": ("s", "min"), "mass": ("g", "oz", "lb")}
"""Units offered to tap, where there are more that may be typed."""

US_UNITS = frozenset({"in", "ft", "mil", "lbf/in", "in2", "degF", "ft/min", "oz", "lb", "lb/gal"})

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


class ShopLimits:
    """The shop's spec, as a calculation asks for limits."""

    @property
    def whose(self) -> str:
        """Whose spec it is."""
        return _("the spec of {shop}").format(shop=g.settings["shop"] or _("this shop"))

    def find(self, key: str, **conditions: Any) -> Limit | None:
        """The shop's row that is most particular about these conditions."""
        spec = the_spec(g.db)
        found = spec.find(key, **{name: value for name, value in conditions.items() if value is not None})
        if found is None:
            return None
        row = next(row for row in spec.rows if row.id == found.row)
        return Limit(key, found.value, row.unit, row.source, row.id)


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
        return tuple((one, one) for one in self.asked.choices)


@bp.get("/calculator")
def every() -> Response:
    """The list of calculations."""
    return page("calculator/list.html", calculations=[(one, _(ABOUT.get(name, ""))) for name, one in CATALOGUE.items()])


@bp.get("/calculator/<name>")
def one(name: str) -> Response:
    """A calculation: its form, and the result of the query string; `format=json`: as `tickets calc --json`."""
    calculation = CATALOGUE.get(name)
    if calculation is None:
        raise NotFound(_("There is no such calculation; there are: {names}.").format(names=", ".join(CATALOGUE)))
    sent = fold_digits({key: request.args.getlist(key) for key in request.args})
    given = {key: values[0] for key, values in sent.items() if values}
    as_json = given.pop("format", "") == "json"
    texts = _texts(calculation, given)
    answer: Answer | None = None
    faults: dict[str, str] = {}
    if given or as_json:
        try:
            answer = compute(name, texts, ShopLimits())
        except Faulty as faulty:
            for where, message in faulty.faults:
                faults[where] = f"{faults[where]} {message}" if where in faults else message
    status = 422 if faults else 200
    if as_json:
        told = {"faults": [{"where": where, "message": text} for where, text in faults.items()]}
        body = json.dumps(told if answer is None else answer.to_dict(), ensure_ascii=False, allow_nan=False)
        return Response(body, status, mimetype="application/json")
    return page(
        "calculator/one.html",
        status,
        calculation=calculation,
        boxes=[_box(asked, given) for asked in calculation.inputs],
        faults=faults,
        answer=answer,
        understood=_understood(answer),
        results=_results(answer),
        curve=_curve(answer),
        labels=LABELS,
        cautions=CAUTIONS_OF.get(name, ()),
        example=_example(calculation),
        as_json=f"/calculator/{name}?{urlencode({**given, 'format': 'json'})}" if answer else "",
    )


def _texts(calculation: Calculation, given: Mapping[str, str]) -> dict[str, str | None]:
    """The inputs as `compute` takes them: a bare number gets the unit that was tapped beside it."""
    texts: dict[str, str | None] = {}
    for asked in calculation.inputs:
        text = given.get(asked.name, "").strip()
        unit = given.get(f"{asked.name}.unit", "").strip()
        if text and unit and asked.kind in units.KINDS and not units.split(text)[1]:
            text = f"{text} {unit}"
        texts[asked.name] = text or None
    known = {name for asked in calculation.inputs for name in (asked.name, f"{asked.name}.unit")}
    # what nobody asked for is refused by compute, as on the command line
    return {**texts, **{name: text for name, text in given.items() if name not in known}}


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
        unit = _usual(asked, choices)
    tenths = 0 if asked.kind in ("mesh count", "ruling", "temperature") or choices == SMALL else 0.1
    field = Field(
        asked.name,
        asked.label,
        "number",
        low=tenths,
        high=HIGHEST.get("small" if choices == SMALL else asked.kind, 9999),
    )
    return Box(asked, text, tuple((one, units.unit_text(one)) for one in choices), unit, field)


def _usual(asked: Input, choices: Sequence[str]) -> str:
    """The unit that is likely meant, in the shop's system."""
    us = g.settings["units"] == "us"
    example = units.unit_named(units.split(asked.example)[1], asked.kind) or choices[0]
    alike = [one for one in choices if (one in US_UNITS) == us]
    return example if example in alike or not alike else alike[0]


def _example(calculation: Calculation) -> str:
    """The address of a worked example."""
    names = EXAMPLE_OF.get(calculation.name, tuple(asked.name for asked in calculation.inputs))
    inputs = [asked for asked in calculation.inputs if asked.name in names]
    texts = {asked.name: TABLES[calculation.name] if asked.kind == "table" else asked.example for asked in inputs}
    return f"/calculator/{calculation.name}?{urlencode(texts)}"


def _understood(answer: Answer | None) -> list[tuple[str, str]]:
    """The inputs as understood, each in the unit that was typed."""
    if answer is None:
        return []
    return [(_(answer.calculation.input(name).label), _typed(value)) for name, value in answer.inputs.items()]


def _typed(value: Value) -> str:
    if isinstance(value.value, list):
        if value.value and isinstance(value.value[0], list):
            return _("{count} lines").format(count=len(value.value))
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
            found.append({"label": label, "text": value.text(g.settings["units"])})
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
