"""The shop's limits and its settings: read by everybody, changed by the manager, nothing ever lost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import shop
from tickets.calculator import typed, units
from tickets.calculator.defaults import SPAN_OF, SPANS
from tickets.calculator.kinds import fibre_named
from tickets.domain import spec as rules
from tickets.domain.limits import CONDITIONS, EXPOSURE_TIME, EXPOSURE_UNITS, LIMITS, NAMES, called, case_said
from tickets.domain.names import unseen
from tickets.domain.overtaken import BothSay, Overtaken
from tickets.domain.refusal import Fault, NotFound, Refused
from tickets.domain.spec import Row
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import find
from tickets.queries.shop_rules import the_spec
from tickets.store import jobs as job_rows
from tickets.store import people, places
from tickets.store import spec as rows
from web.support import actor, faults_by_field, form_lists, local_date, measured, page, units_read

bp = Blueprint("spec", __name__)

UNIT_FIELDS = {
    "N/cm": "value_n_per_cm",
    "%": "value_pct",
    "um": "value_um",
    "d": "value_d",
    "h": "value_h",
    "min": "value_min",
    "s": "value_s",
    "g/cm3": "value_g_cm3",
    "g": "value_g",
    "degC": "value_degc",
    "deg": "value_deg",
    "": "value",
}
UNITS_OFFERED = {
    "N/cm": ("N/cm", "lbf/in"),
    "degC": ("degC", "degF"),
    "s": ("s", "min"),
    "min": ("min", "s", "h"),
    "h": ("h", "min"),
    "d": ("d", "h"),
    "g": ("g", "oz"),
}
HIGHEST = 100_000


@dataclass(frozen=True, slots=True)
class ShownRow:
    """A row as the page shows it; `own`: somebody of the shop set it, else it came with the program."""

    row: Row
    about: str
    value: str
    who: str
    own: bool

    @property
    def origin(self) -> str:
        """Where it comes from, who set it and when."""
        return f"{_(self.row.source)} · {self.who}, {local_date(self.row.at)}"


def condition_words(conditions: Mapping[str, Any]) -> str:
    """What a row is for, in plain words and the shop's units; empty: for everything."""
    return case_said(conditions, units_read())


def _shown(row: Row, names: Mapping[int, str]) -> ShownRow:
    who = names.get(row.person, "")
    own = who != people.COMMAND_LINE
    value = _("removed") if row.value is None else measured(row.value, row.unit)
    return ShownRow(row, condition_words(row.conditions), value, who if own else _("came with the program"), own)


# -- the limits


@bp.get("/spec")
def limits() -> Response:
    """Every limit that counts now, in groups."""
    names = people.names(g.db)
    by_key: dict[str, list[ShownRow]] = {}
    for row in the_spec(g.db).rows:
        by_key.setdefault(row.key, []).append(_shown(row, names))
    own = {key: sum(one.own for one in found) for key, found in by_key.items()}
    headed: dict[str, list[str]] = {}
    for key in (*LIMITS, *sorted(set(by_key) - set(LIMITS))):
        headed.setdefault(LIMITS[key].group if key in LIMITS else N_("Others"), []).append(key)
    groups = [(_(title), keys, sum(own.get(key, 0) for key in keys)) for title, keys in headed.items()]
    for found in by_key.values():
        found.sort(key=_order)
    withdrawn: dict[str, list[tuple[ShownRow, str]]] = {}
    for row, was in rules.withdrawn(rows.rows(g.db)):
        withdrawn.setdefault(row.key, []).append((_shown(row, names), _shown(was, names).value))
    return page(
        "spec/limits.html",
        withdrawn=withdrawn,
        groups=groups,
        by_key=by_key,
        limits=LIMITS,
        first=EXPOSURE_TIME,
        said_once=said_once,
    )


class FaultyRow(NamedTuple):
    """A row that no limit of its sort can be: its page, its title, its value as it is, and what would do."""

    address: str
    title: str
    value: str
    would_do: str


def faulty_limits() -> list[FaultyRow]:
    """The rows that judge nothing, since their value cannot be; for the pages that show what is judged by limits."""
    return [
        FaultyRow(
            f"/spec/{row.id}",
            ", ".join(filter(None, (called(row.key), condition_words(row.conditions)))),
            measured(row.value or 0.0, row.unit),
            rules.within_said(rules.beyond(row) or (0, 0)),
        )
        for row in the_spec(g.db).faulty
    ]


def _order(one: ShownRow) -> tuple[Any, ...]:
    conditions = one.row.conditions
    words = [str(conditions[name]) for name in NAMES if name in conditions and name not in SPAN_OF]
    return (len(words), words, [conditions.get(span.over, 0) for span in SPANS.values()], one.row.weight)


def said_once(found: Sequence[ShownRow]) -> str:
    """The origin that all rows of a limit share, which is then said once; empty: each says its own."""
    origins = {one.origin for one in found}
    return origins.pop() if len(found) > 1 and len(origins) == 1 else ""


def _row(number: int) -> tuple[Row, list[Row]]:
    """A row and what it has been, newest first; the newest one of its kind stands first."""
    every = rows.rows(g.db)
    found = next((row for row in every if row.id == number), None)
    if found is None:
        raise NotFound(_("There is no row {number} among the limits.").format(number=number))
    return found, rules.history(every, found.identity)


class LimitPast(NamedTuple):
    """What a limit was, the newest first; and each value that it had once, to be set again."""

    history: Sequence[ShownRow]
    before: Sequence[tuple[ShownRow, tuple[str, str]]]


@bp.get("/spec/<int:number>")
def limit(number: int) -> Response:
    """One row: what it has been, and the forms that change or withdraw it."""
    return _limit_page(number)


def _limit_page(number: int, refused: Refused | None = None) -> Response:
    asked, history = _row(number)
    now, names = history[0], people.names(g.db)
    sent = form_lists() if refused else {}
    value, unit = _as_typed(now)
    return page(
        "spec/limit.html",
        refused.status if refused else 200,
        row=now,
        shown=_shown(now, names),
        past=LimitPast([_shown(one, names) for one in history], _before(history, names)),
        title=called(asked.key),
        values={"value": value, "value.unit": unit, "source": "", **sent},
        units=_units(now.unit),
        faults=faults_by_field(refused),
        overtaken=refused if isinstance(refused, Overtaken) else None,
        disagree=asked.key in LIMITS and LIMITS[asked.key].disputed,
        own_row=now.id not in rows.came(g.db),
        changed=refused is None and "changed" in request.args,
    )


def _before(history: Sequence[Row], names: Mapping[int, str]) -> list[tuple[ShownRow, tuple[str, str]]]:
    """What a limit was before, each value once, the newest first: to be set again as it was."""
    earlier = {one.value: one for one in reversed(history) if one.value is not None and one.value != history[0].value}
    newest = sorted(earlier.values(), key=lambda one: -one.id)
    return [(_shown(one, names), _as_typed(one)) for one in newest]


def _as_typed(row: Row) -> tuple[str, str]:
    """A row's value for the box, in the shop's unit."""
    if row.value is None:
        return "", row.unit
    if units_read() == "us" and row.unit == "degC":
        unit = UNITS_OFFERED[row.unit][1]
        return f"{units.convert(row.value, row.unit, unit):.4g}", unit
    return f"{row.value:.10g}", row.unit


def _units(unit: str) -> list[tuple[str, str]]:
    return [(one, units.unit_text(one)) for one in UNITS_OFFERED.get(unit, (unit,) if unit else ())]


@bp.post("/spec/<int:number>")
def change_limit(number: int) -> AnyResponse:
    """A new value for the same case: appended, the old one stays in its history."""
    was, history = _row(number)
    sent = form_lists()
    try:
        value, source = _read_value(sent, was.key, was.unit)
        _as_shown(number, history, value, source)
        _add(Row(0, was.key, value, was.unit, was.conditions, source), history[0])
    except Overtaken as over:
        return _limit_page(history[0].id, over)  # the row of now, with what was typed
    except Refused as refused:
        return _limit_page(number, refused)
    return _changed(number)


def _as_shown(number: int, history: Sequence[Row], value: float, source: str) -> None:
    """Raises Overtaken where somebody else set the limit otherwise since the page of row `number` was opened."""
    now = history[0]
    if now.id == number or now.person == g.person.id or (now.value, now.source) == (value, source):
        return
    names = people.names(g.db)
    there, wanted = _shown(now, names), _shown(replace(now, value=value, source=source), names)
    found = [BothSay(_("Value"), there.value, wanted.value), BothSay(_("Source"), now.source, source)]
    raise Overtaken([one for one in found if one.now != one.wanted], names.get(now.person or 0, ""))


@bp.post("/spec/<int:number>/withdraw")
def withdraw(number: int) -> AnyResponse:
    """The row no longer counts; it stays in the history."""
    was, history = _row(number)
    if history[0].id != number and history[0].id in rows.came(g.db):
        # the same tap again: what came back in its place is not taken away with it
        return redirect(f"/spec/{history[0].id}", code=303)
    try:
        if history[0].id != number and history[0].value is not None and history[0].person != g.person.id:
            there = _shown(history[0], people.names(g.db))
            raise Overtaken([BothSay(_("Value"), there.value, _("removed"))], there.who)
        if not _one(form_lists(), "sure"):
            raise Refused(_without(was), "sure")
        _add(Row(0, was.key, None, was.unit, was.conditions, _one(form_lists(), "source")), history[0])
    except Overtaken as over:
        return _limit_page(history[0].id, over)
    except Refused as refused:
        return _limit_page(number, refused)
    return _changed(number)  # where it can be set again


def _without(was: Row) -> str:
    """What judges once a row is removed."""
    gone = replace(was, id=0, value=None)
    if back := rules.brought_back(rows.rows(g.db), gone, rows.came(g.db)):
        return _("{value}, which came with the program, counts again then.").format(
            value=measured(back.value, back.unit)
        )
    others = [one for one in the_spec(g.db).rows if one.key == was.key and one.identity != was.identity]
    wider = [one for one in others if one.conditions.items() <= was.conditions.items()]
    if wider:
        one = _shown(max(wider, key=lambda one: len(one.conditions)), people.names(g.db))
        return _("Then {value} counts here, as for {about}.").format(
            value=one.value, about=one.about or _("everything")
        )
    if others:
        return _("Then another row of this limit judges where one fits; where none does, nothing is judged.")
    return _("No other row of this limit is there: nothing is judged by it then.")


def _changed(number: int) -> AnyResponse:
    """To the row as it is now, which says that it was changed."""
    return redirect(f"/spec/{_row(number)[1][0].id}?changed=yes", code=303)


def _add(row: Row, newest: Row | None = None) -> None:
    """Appends a row unless the newest one says just that already (a form sent twice)."""
    if newest is not None and (newest.value, newest.source) == (row.value, row.source):
        return
    shop.add_spec_row(g.db, actor(), row, now=g.now)


def _read_value(sent: Mapping[str, Sequence[str]], key: str, unit: str) -> tuple[float, str]:
    """The value in the row's own unit, and the source. What is wrong is told together."""
    faults: list[Fault] = []
    text, source = _one(sent, "value"), _one(sent, "source")
    value = 0.0
    try:
        # a unit that no quantity has (points of hardness) is taken as a plain number
        field = UNIT_FIELDS.get(unit, "value")
        typed_in = _one(sent, "value.unit") or None if units.unit_of(field) else None
        value = typed.read_field(field, text, typed_in, span=rules.span_of(key, unit))
        if not 0 <= value <= HIGHEST:
            faults.append(Fault("value", _("Give a number from 0 to {most}.").format(most=HIGHEST)))
    except units.NotAQuantity as none:
        faults.append(Fault.of("value", none))
    if not source:
        faults.append(Fault("source", _("Say where the limit comes from: a data sheet, a test of yours, judgement.")))
    elif len(source) > 300:
        faults.append(Fault("source", _("At most 300 characters.")))
    elif fault := unseen(source):
        faults.append(Fault("source", fault))
    if faults:
        raise Refused(faults)
    return value, source


@bp.get("/spec/new")
def new_limit() -> Response:
    """The form for a row about a narrower case, or for a wanted exposure time."""
    return _new_page(request.args.get("key", ""))


def _new_page(key: str, refused: Refused | None = None) -> Response:
    if key not in LIMITS:
        raise NotFound(_("There is no limit “{key}”.").format(key=key[:40]))
    unit = _unit_of(key)
    names = people.names(g.db)
    sent = form_lists() if refused else {}
    own = [_shown(row, names) for row in the_spec(g.db).rows if row.key == key]
    return page(
        "spec/new.html",
        refused.status if refused else 200,
        key=key,
        title=called(key),
        own=own,
        conditions=[(name, _(CONDITIONS[name].words), _choices(name)) for name in LIMITS[key].asked],
        values={"value.unit": _as_typed(Row(0, key, 0.0, unit))[1], "count.unit": "/in", "side.unit": "cm", **sent},
        units=_units(unit),
        faults=faults_by_field(refused),
        exposure=key in (EXPOSURE_TIME, EXPOSURE_UNITS),
        disagree=LIMITS[key].disputed,
        spans=SPANS,
        span_units={"count": (("/in", "/in"), ("/cm", "/cm")), "side": (("cm", "cm"), ("in", "in"))},
    )


def _unit_of(key: str) -> str:
    return next((row.unit for row in reversed(rows.rows(g.db)) if row.key == key), LIMITS[key].unit)


def _choices(name: str) -> list[tuple[str, str]]:
    if name == "exposure_unit":
        return [(unit.name, unit.name) for unit in places.units(g.db)]
    if name == "preset":
        return [(preset["name"], preset["name"]) for preset in g.settings["presets"]]
    return list(CONDITIONS[name].choices)


@bp.post("/spec")
def add_limit() -> AnyResponse:
    """A new row: key, conditions, value with its unit, source."""
    sent = form_lists()
    key = _one(sent, "key")
    if key not in LIMITS:
        raise NotFound(_("There is no limit “{key}”.").format(key=key[:40]))
    faults: list[Fault] = []
    conditions: dict[str, Any] = {}
    value, source, unit = 0.0, "", _unit_of(key)
    for read in (lambda: _read_conditions(sent, key), lambda: _read_value(sent, key, unit)):
        try:
            found = read()
        except Refused as refused:
            faults += refused.faults
            continue
        if isinstance(found, dict):
            conditions = found
        else:
            value, source = found
    try:
        if faults:
            raise Refused(faults)
        row = Row(0, key, value, unit, conditions, source)
        newest = rules.history(rows.rows(g.db), row.identity)
        _add(row, newest[0] if newest else None)
    except Refused as refused:
        return _new_page(key, refused)
    return _changed(rules.history(rows.rows(g.db), row.identity)[0].id)


def _read_conditions(sent: Mapping[str, Sequence[str]], key: str) -> dict[str, Any]:
    """The conditions that were given; each must be one that this limit is looked up by."""
    faults: list[Fault] = []
    found: dict[str, Any] = {}
    allowed = LIMITS[key].asked
    for name in CONDITIONS:
        span = SPANS.get(name)
        texts = {part: _one(sent, part) for part in ((span.over, span.to) if span else (name,))}
        for part, text in texts.items():
            if not text:
                continue
            if name not in allowed:
                faults.append(
                    Fault(
                        "conditions",
                        _("This limit is never asked for by {condition}: such a row would not count.").format(
                            condition=_(CONDITIONS[name].words).lower()
                        ),
                    )
                )
                continue
            try:
                found[part] = _condition(part, text, _one(sent, f"{name}.unit"))
            except (units.NotAQuantity, Refused) as fault:
                faults.append(Fault(part, str(fault.faults[0].message) if isinstance(fault, Refused) else str(fault)))
    if key in (EXPOSURE_TIME, EXPOSURE_UNITS) and "exposure_unit" not in found and not faults:
        faults.append(Fault("exposure_unit", _("Say which exposure unit: a time of one is none of another’s.")))
    if faults:
        raise Refused(faults)
    return found


def _condition(name: str, text: str, unit: str) -> Any:
    if name in SPAN_OF:
        return round(typed.read_field(name, text, unit or None), 4)
    choices = _choices(name)
    if choices or name in ("exposure_unit", "preset"):
        if text not in {value for value, _word in choices}:
            raise Refused(
                _("One of: {choices}.").format(choices=", ".join(value for value, _word in choices) or "–"), name
            )
        return text
    if len(text) > 120:
        raise Refused(_("At most {most} characters.").format(most=120), name)
    if fault := unseen(text):
        raise Refused(fault, name)
    if name == "job":
        return job_rows.get(g.db, find.job(g.db, text).id).code  # type: ignore[union-attr]
    if name == "fibre":
        return " ".join(fibre_named(text).casefold().split())
    return text


def _one(sent: Mapping[str, Sequence[str]], name: str) -> str:
    return next((text.strip() for text in sent.get(name, ()) if text.strip()), "")
