"""Every calculation by name: what it asks, how it is worked out, and where the formula comes from.

The command line and the calculator pages are both made from this table, so that they ask and answer alike. Inputs come
as texts, limits as an argument; what is wrong is told together, each fault with the input's name.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Protocol

from tickets.calculator import defaults, kinds, several, units
from tickets.calculator import typed as typed_units
from tickets.calculator.units import CannotBe, NotAQuantity, magnitude, quantity
from tickets.calculator.verdict import Reason, Verdict, judge
from tickets.i18n import N_, in_every_language, ngettext
from tickets.i18n import gettext as _

if TYPE_CHECKING:
    from pint import Quantity

    from tickets.calculator.dryer import Mark
    from tickets.calculator.tension import TensionLimits

MOST_ROWS = 20_000
FORMER_NAMES = {"factor-strip": "filter-film"}
"""Names that calculations had, still taken in commands and addresses."""


class Faulty(ValueError):
    """The inputs will not do. `faults` holds (input's name, message) for each; `readings`, by input, what may be meant
    where it can be read in several ways."""

    def __init__(
        self, faults: Iterable[tuple[str, str]], readings: Mapping[str, tuple[str, ...]] = MappingProxyType({})
    ) -> None:
        self.faults = tuple(faults)
        self.readings = readings
        super().__init__("; ".join(f"{name}: {message}" for name, message in self.faults))


# ----------------------------------------------------------------------------------------------------------- limits


@dataclass(frozen=True, slots=True)
class LimitInForce:
    """A limit in force: its value in `unit`, where it comes from, and the spec row (None: shipped)."""

    key: str
    value: float
    unit: str
    source: str
    row: int | None = None


class Limits(Protocol):
    """Whose limits judge: a shop's spec, or the shipped one."""

    @property
    def whose(self) -> str:
        """Said in the basis, such as "the shipped limits"."""

    def find(self, key: str, **conditions: Any) -> LimitInForce | None:
        """The most particular limit for these conditions, or None."""


class Shipped:
    """The limits that the program comes with."""

    whose = N_("the shipped limits")

    def find(self, key: str, **conditions: Any) -> LimitInForce | None:
        """The shipped row."""
        row = defaults.pick(key, **conditions)
        return None if row is None else LimitInForce(row.key, row.value, row.unit, row.source)


class _Asked:
    """Limits as one calculation asks them, remembering which it rested on."""

    def __init__(self, limits: Limits) -> None:
        self._limits = limits
        self.used: list[LimitInForce] = []

    def find(self, key: str, **conditions: Any) -> LimitInForce | None:
        found = self._limits.find(key, **conditions)
        if found is not None and found not in self.used:
            self.used.append(found)
        return found

    def only(self, key: str, decides: Callable[..., LimitInForce]) -> None:
        """Of several rows of a limit that were asked, only the one that decided is what the answer rests on."""
        asked = [one for one in self.used if one.key == key]
        if asked:
            one = decides(asked, key=lambda one: one.value)
            self.used = [other for other in self.used if other.key != key or other is one]

    def maybe(self, key: str, **conditions: Any) -> float | None:
        found = self.find(key, **conditions)
        return None if found is None else found.value

    def value(self, key: str, **conditions: Any) -> float:
        found = self.maybe(key, **conditions)
        if found is None:
            raise CannotBe(_("No limit “{key}” is set for this: set one.").format(key=key))
        return found

    def rows(self, *keys: str) -> tuple[int, ...]:
        return tuple(limit.row for limit in self.used if limit.row is not None and (not keys or limit.key in keys))


# ------------------------------------------------------------------------------------------------------------ shapes


@dataclass(frozen=True, slots=True)
class Input:
    """One thing asked. `kind`: a key of units.KINDS, or number, whole, choice, unit, lab, readings, table."""

    name: str
    kind: str
    label: str
    example: str
    """What stands as a hint and in the worked example, in the unit that the trade of metric habit uses for it."""
    required: bool = True
    default: str | None = None
    choices: Mapping[str, str] = field(default_factory=dict)
    columns: tuple[str, ...] = ()
    other_columns: tuple[str, ...] = ()
    """Columns that a table may have instead, as where the same is noted in another unit."""
    us: str = ""
    """The example where the trade of US habit uses another unit; empty: the same."""

    @property
    def option(self) -> str:
        """Its name on the command line."""
        return "--" + self.name.replace("_", "-")

    def such_as(self, system: str = "metric") -> str:
        """The example for people of these habits; the box on a page begins with its unit."""
        return self.us if system == "us" and self.us else self.example


@dataclass(frozen=True, slots=True)
class Value:
    """One input as understood or one result: a number, a text, a list or None, in our unit ("" for none)."""

    value: Any
    unit: str
    as_is: bool = False
    """Said in its own unit whoever reads it, since its label names that unit."""

    def to_dict(self) -> dict[str, Any]:
        """As printed by `--json`: numbers to ten figures, so that arithmetic's last digits stay out of it."""
        return {"value": _rounded(self.value), "unit": self.unit.removeprefix("lines")}

    def text(self, system: str = "metric") -> str:
        """For people, in their system."""
        if self.value is None:
            return "–"
        if isinstance(self.value, list):
            return ", ".join(Value(one, self.unit).text(system) for one in self.value)
        if isinstance(self.value, (int, float)) and not isinstance(self.value, bool):
            if self.unit == "uses":
                return ngettext("{number} use", "{number} uses", round(self.value)).format(
                    number=units.number_text(self.value)
                )
            if self.unit == "/h":
                return f"{units.number_text(self.value)}/h"
            if self.as_is:
                return units.show_as_is(float(self.value), self.unit)
            return units.show_value(float(self.value), self.unit, system)
        return str(self.value)


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return float(f"{value:.10g}") if math.isfinite(value) else None
    if isinstance(value, (list, tuple)):
        return [_rounded(one) for one in value]
    if isinstance(value, dict):
        return {name: _rounded(one) for name, one in value.items()}
    return value


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a calculation comes to; `reasons` None where it judges nothing."""

    results: dict[str, Value]
    reasons: list[Reason] | None = None


@dataclass(frozen=True, slots=True)
class Calculation:
    """One row of the table. `labels` says each result in words, `notes` what the numbers rest on; `about`: what it is
    for; `cautions`: the keys of those that its page shows."""

    name: str
    title: str
    inputs: tuple[Input, ...]
    labels: Mapping[str, str]
    formula: str
    source: str
    work: Callable[[Mapping[str, Any], _Asked], Outcome]
    notes: tuple[str, ...] = ()
    about: str = ""
    cautions: tuple[str, ...] = ()

    def input(self, name: str) -> Input:
        """The input of this name."""
        return next(one for one in self.inputs if one.name == name)


@dataclass(frozen=True, slots=True)
class Answer:
    """A worked-out calculation: inputs as understood, results, verdict, and what all that rests on."""

    calculation: Calculation
    inputs: dict[str, Value]
    results: dict[str, Value]
    verdict: Verdict | None
    whose: str
    limits: tuple[LimitInForce, ...] = field(default=())

    def leaning(self, system: str) -> str:
        """The system of units that was typed in; `system` where what was typed is of both, or of either."""
        typed = {value.unit for value in self.inputs.values()}
        us = any(units.unit_in(unit, "metric") != unit for unit in typed)
        metric = any(units.unit_in(unit, "us") != unit for unit in typed)
        return system if us == metric else "us" if us else "metric"

    def said(self, name: str, system: str) -> str:
        """A result for people: in the unit in which a quantity of its kind was typed, else in the system typed in."""
        value = self.results[name]
        typed = self._typed_unit(value)
        if typed is None or value.as_is:
            return value.text(self.leaning(system))
        return units.show_as_is(units.convert(float(value.value), value.unit, typed), typed)

    def _typed_unit(self, value: Value) -> str | None:
        """The unit in which the first quantity of the kind of `value` was typed, where it is not that of `value`; None
        for what the trade says in one unit everywhere (microns, grams, seconds, N/cm)."""
        if not isinstance(value.value, (int, float)) or units.unit_in(value.unit, "us") == value.unit:
            return None
        kind = units.kind_of(value.unit)
        like = [one.unit for one in self.inputs.values() if units.known(one.unit) and units.kind_of(one.unit) == kind]
        return like[0] if like and like[0] != value.unit else None

    def to_dict(self) -> dict[str, Any]:
        """The shape that `--json` prints."""
        verdict = None
        if self.verdict is not None:
            verdict = self.verdict.to_dict()
            verdict["reasons"] = [{**reason, "numbers": _rounded(reason["numbers"])} for reason in verdict["reasons"]]
        return {
            "calculation": self.calculation.name,
            "inputs": {name: value.to_dict() for name, value in self.inputs.items()},
            "results": {name: value.to_dict() for name, value in self.results.items()},
            "verdict": verdict,
            "basis": {
                "formula": self.calculation.formula,
                "source": self.calculation.source,
                "spec": self.whose or None,
                "limits": [
                    {"key": one.key, "value": one.value, "unit": one.unit, "source": one.source, "row": one.row}
                    for one in self.limits
                ],
                "notes": list(self.calculation.notes),
            },
        }


# ----------------------------------------------------------------------------------------------------------- reading


def compute(
    name: str,
    texts: Mapping[str, str | None],
    limits: Limits | None = None,
    bare: Mapping[str, str] = MappingProxyType({}),
) -> Answer:
    """Works out calculation `name` from texts by input name (a table's text is the file's content). `bare`: by input,
    the unit of a bare number, as it was tapped beside it; without one a bare number is refused.

    Raises Faulty with all that is wrong, KeyError for an unknown name.
    """
    calculation = CATALOGUE[name]
    given: dict[str, Any] = {}
    understood: dict[str, Value] = {}
    faults: list[tuple[str, str]] = []
    meant: dict[str, tuple[str, ...]] = {}
    for unknown in sorted(set(texts) - {one.name for one in calculation.inputs}):
        faults.append((unknown, _("This calculation does not ask for it.")))
    for asked in calculation.inputs:
        text = texts.get(asked.name)
        if text is None or not text.strip():
            text = asked.default
        if text is None:
            given[asked.name] = None
            if asked.required:
                faults.append((asked.name, _("Needed, such as {example}.").format(example=asked.example)))
            continue
        try:
            given[asked.name], understood[asked.name] = _take(asked, text, texts, bare.get(asked.name))
        except (NotAQuantity, CannotBe) as fault:
            faults.append((asked.name, str(fault)))
            meant[asked.name] = tuple(getattr(fault, "readings", ()))
    if faults:
        raise Faulty(faults, meant)
    remembered = _Asked(limits or Shipped())
    try:
        outcome = calculation.work(given, remembered)
    except CannotBe as fault:
        raise Faulty([("", str(fault))]) from None
    except (OverflowError, ZeroDivisionError):
        raise Faulty([("", _("These numbers are too large or too small to work with."))]) from None
    return Answer(
        calculation,
        understood,
        outcome.results,
        None if outcome.reasons is None else judge(outcome.reasons),
        (limits or Shipped()).whose if outcome.reasons is not None or remembered.used else "",
        tuple(remembered.used),
    )


def _take(asked: Input, text: str, texts: Mapping[str, str | None], bare: str | None) -> tuple[Any, Value]:
    """The parsed input, and how it was understood."""
    kind = asked.kind
    if kind in units.KINDS:
        typed = typed_units.take(text, kind, units.unit_named(bare, kind) if bare else None)
        return quantity(typed.value, typed.unit), Value(typed.value, typed.unit)
    if kind == "number":
        value = units.number(text)
        return value, Value(value, "")
    if kind == "whole":
        count = typed_units.whole(text)
        return count, Value(count, "")
    if kind == "choice":
        folded = text.strip().lower()
        if folded not in asked.choices:
            words = (one for one, word in asked.choices.items() if folded in map(str.lower, in_every_language(word)))
            folded = next(words, folded)
        if folded not in asked.choices:
            raise NotAQuantity(
                _("“{text}” is none of these: {choices}.").format(
                    text=text.strip()[:40], choices=", ".join(asked.choices)
                )
            )
        return folded, Value(folded, "")
    if kind == "unit":
        found = units.unit_named(text, "tension")
        if found is None:
            raise NotAQuantity(
                _("“{unit}” is not a unit for this. Use one of: {units}.").format(
                    unit=text.strip()[:20], units=units.would_do("tension")
                )
            )
        return found, Value(found, "")
    if kind == "readings":
        unit_text = texts.get("unit")
        known = units.unit_named(unit_text, "tension") if unit_text else None
        # without a unit its own fault is told beside it; the readings are read all the same
        row = several.in_a_row([text], "tension", known or "N/cm")
        if not known:
            return [], Value([one.value for one in row], "")
        numbers = [units.convert(one.value, one.unit, known) for one in row]
        return [quantity(one, known) for one in numbers], Value(numbers, known)
    if kind == "lab":
        from tickets.calculator.colour_text import reading

        one = reading(text)
        return one, Value([one.lightness, one.a, one.b], "")
    assert kind == "table", kind
    read = table(text, asked.columns, asked.other_columns)
    return read, Value([list(row) for row in read.rows], "")


@dataclass(frozen=True, slots=True)
class Rows:
    """A table as read: its rows, the line that each stands in, and the columns that it named."""

    rows: list[tuple[float, ...]]
    lines: list[int]
    columns: tuple[str, ...]


def table(text: str, columns: Sequence[str], other_columns: Sequence[str] = ()) -> Rows:
    """A CSV text whose first line names `columns`, or `other_columns`; parted by commas, semicolons or tabs.

    Empty lines and further columns are passed over. Raises NotAQuantity with the line at fault.
    """
    lines = text.lstrip("\ufeff").splitlines()
    head = next((line for line in lines if line.strip()), "")
    mark = ";" if ";" in head else "\t" if "\t" in head else ","
    sets = [tuple(columns), *([tuple(other_columns)] if other_columns else [])]
    wanted = _(" or ").join(", ".join(one) for one in sets)
    names: list[str] | None = None
    found = Rows([], [], ())
    try:
        for number, cells in enumerate(csv.reader(io.StringIO("\n".join(lines)), delimiter=mark), start=1):
            cells = [cell.strip() for cell in cells]
            if not any(cells):
                continue
            if names is None:
                names = [cell.lower() for cell in cells]
                found = Rows([], [], _columns_of(names, sets, wanted))
                continue
            if len(cells) != len(names):
                raise NotAQuantity(
                    _("Line {line} has {cells} cells, not {width}: part them by ; where a comma is the decimal mark.")
                    .format(line=number, cells=len(cells), width=len(names))
                )  # fmt: skip
            try:
                found.rows.append(tuple(_cell(cells[names.index(column)], column) for column in found.columns))
                found.lines.append(number)
            except NotAQuantity as fault:
                raise NotAQuantity(_("Line {line}: {fault}").format(line=number, fault=fault)) from None
            if len(found.rows) > MOST_ROWS:
                raise NotAQuantity(_("More than {most} lines: too many to work with.").format(most=MOST_ROWS))
    except csv.Error:
        raise NotAQuantity(_("This is not a table of the columns {columns}.").format(columns=wanted)) from None
    if not found.rows:
        raise NotAQuantity(
            _(
                "The table is empty. The first line must hold the column names {columns}, then one line for each."
            ).format(columns=wanted)
        )
    return found


def _cell(text: str, column: str) -> float:
    """A number of a table, in the unit that its column is named after (`s`, `c`, `f`, `n_per_cm`); an instrument wrote
    it, so that a point is its decimal mark."""
    if column in _PLAIN_COLUMNS:
        return units.number(text, point=True)
    return typed_units.read_field(f"_{column}", text, kept=True)


_PLAIN_COLUMNS = frozenset({"uses", "ended", "f"})


def _columns_of(names: Sequence[str], sets: Sequence[tuple[str, ...]], wanted: str) -> tuple[str, ...]:
    """Which of the sets of columns a head names; one that names several leaves open which is meant."""
    fit = [one for one in sets if all(column in names for column in one)]
    if not fit:
        raise NotAQuantity(_("The first line must hold the column names {columns}.").format(columns=wanted))
    if len(fit) > 1:
        raise NotAQuantity(_("The first line has both {columns}: leave one out.").format(columns=wanted))
    return fit[0]


def _of(q: Quantity[float] | None, unit: str) -> Value:
    return Value(None if q is None else magnitude(q, unit), unit)


# ------------------------------------------------------------------------------------------------------ calculations
# The modules are imported where they are used: one calculation loads no more than it needs.


def _mesh(given: Mapping[str, Any], limits: _Asked) -> Outcome:
    from tickets.calculator import mesh

    found = mesh.geometry(given["count"], given["thread"], given["thickness"])
    results = {"opening": _of(found.opening, "um"), "open_area": _of(found.open_area, "%")}
    if found.ink_volume is not None:
        results["ink_volume"] = _of(found.ink_volume, "cm3/m2")
    else:
        results["ink_volume_low"] = _of(found.ink_volume_low, "cm3/m2")
        results["ink_volume_high"] = _of(found.ink_volume_high, "cm3/m2")
    results["count_per_cm"] = Value(magnitude(found.count_per_cm, "/cm"), "/cm", as_is=True)
    results["count_per_inch"] = Value(magnitude(found.count_per_inch, "/in"), "/in", as_is=True)
    return Outcome(results)


def _halftone(given: Mapping[str, Any], limits: _Asked) -> Outcome:
    from tickets.calculator import mesh

    found = mesh.halftone(given["ruling"], given["count"], given["thread"])
    judged = mesh.HalftoneLimits(
        ratio=limits.value("halftone-ratio"),
        ratio_least=limits.value("halftone-ratio-least"),
        angle_deg=limits.value("moire-angle"),
        margin_deg=limits.value("moire-margin"),
        spec=limits.rows(),
    )
    angle = None if given["angle"] is None else magnitude(given["angle"], "deg")
    reasons = mesh.judge_halftone(
        magnitude(given["ruling"], "lines/in"), magnitude(given["count"], "/in"), angle, judged
    )
    return Outcome(
        {
            "ratio": Value(found.ratio, ""),
            "smallest_dot": _of(found.smallest_dot, "um"),
            "smallest_tone": _of(found.smallest_tone, "%"),
        },
        reasons,
    )


def _stencil(given: Mapping[str, Any], limits: _Asked) -> Outcome:
    from tickets.calculator import stencil

    found = stencil.build(given["coated"], given["fabric"])
    reasons = stencil.judge_build(
        magnitude(found.build_ratio, "%"),
        least=limits.value("build-least"),
        most=limits.value("build-most"),
        spec=limits.rows(),
    )
    return Outcome({"build": _of(found.build, "um"), "build_ratio": _of(found.build_ratio, "%")}, reasons)


def _step(given: Mapping[str, Any], limits: _Asked) -> Outcome:
    from tickets.calculator import exposure

    held, wanted = given["held"], given["wanted"]
    return Outcome(
        {
            "time": _of(exposure.step_time(given["time"], held, wanted), "s"),
            "factor": Value(exposure.step_factor(held, wanted), ""),
        }
    )


def _filter_film(given: Mapping[str, Any], limits: _Asked) -> Outcome:
    from tickets.calculator import exposure

    time = _of(exposure.film_time(given["time"], given["factor"]), "s")
    return Outcome({"time": time}, exposure.judge_film(given["best"]) or None)


def _distance(given: Mapping[str, Any], limits: _Asked) -> Outcome:
    from tickets.calculator import exposure

    if given["lamp"] != kinds.POINT:
        raise CannotBe(
            _("Light falls with the square of the distance for point lamps only: with tubes or an LED array, test.")
        )
    diagonal = None if given["diagonal"] is None else magnitude(given["diagonal"], "m")
    reasons = exposure.judge_distance(
        magnitude(given["now"], "m"),
        diagonal,
        diagonals=limits.value("lamp-distance-diagonals"),
        spec=limits.rows(),
    )
    return Outcome({"time": _of(exposure.distance_time(given["time"], given["was"], given["now"]), "s")}, reasons)


def _dose(given: Mapping[str, Any], limits: _Asked) -> Outcome:
    from tickets.calculator import exposure

    asked = {name for name, value in given.items() if value is not None}
    if asked == {"irradiance", "time"}:
        found, time = exposure.dose(given["irradiance"], given["time"]), given["time"]
    elif asked == {"irradiance", "dose"}:
        found, time = given["dose"], exposure.dose_time(given["dose"], given["irradiance"])
    elif asked == {"time", "was_irradiance", "now_irradiance"}:
        time = exposure.lamp_time(given["time"], given["was_irradiance"], given["now_irradiance"])
        found = exposure.dose(given["now_irradiance"], time)
    else:
        raise CannotBe(
            _("Give irradiance and time, or dose and irradiance, or time with the irradiance that was and is now.")
        )
    return Outcome({"dose": _of(found, "mJ/cm2"), "time": _of(time, "s")})


def tension_limits(limits: Limits | _Asked, work: str, frame: str | None, count_per_in: float | None) -> TensionLimits:
    """The tension limits for this work, frame and mesh, as tension.judge takes them."""
    from tickets.calculator import tension

    asked = limits if isinstance(limits, _Asked) else _Asked(limits)
    facts: dict[str, Any] = {"work": work, "frame": frame, "count_per_in": count_per_in}
    for key in ("tension-watch", "tension-floor", "tension-ceiling", "tension-spread"):
        asked.value(key, **facts)
    found = tension.limits(asked.find, **facts)
    asked.only("new-mesh-tension", max)  # on a frame that nobody named, the one that stretches it tightest decides
    return found


def _tension(given: Mapping[str, Any], limits: _Asked) -> Outcome:
    from tickets.calculator import tension

    found = tension.summary(given["readings"])
    count = None if given["count"] is None else magnitude(given["count"], "/in")
    judged = tension_limits(limits, given["work"], given["frame"], count)
    weft = given["weft"] or []
    if len(weft) > tension.MOST_READINGS:
        raise CannotBe(_("Give 1 to 9 readings: the centre, then the corners, then the sides."))
    reasons = tension.judge(
        [magnitude(one, "N/cm") for one in given["readings"]],
        [magnitude(one, "N/cm") for one in weft],
        judged,
        work=given["work"],
    )
    results = {
        "mean": _of(found.mean, "N/cm"),
        "spread": _of(found.spread, "N/cm"),
        "worst_from_centre": _of(found.worst_from_centre, "N/cm"),
        "minimum": _of(found.minimum, "N/cm"),
    }
    if judged.new_mesh is not None:
        share = tension.share_pct(magnitude(found.mean, "N/cm"), judged.new_mesh)
        results["share_of_new"] = Value(share, "%")
    return Outcome(results, reasons)


def _tension_loss(given: Mapping[str, Any], limits: _Asked) -> Outcome:
    from tickets.calculator import tension

    readings = [(uses, quantity(value, "N/cm")) for uses, value in given["file"].rows]
    loss = tension.fit_loss(readings, given["floor"])
    reasons = tension.judge_loss(
        loss,
        len(readings),
        magnitude(given["floor"], "N/cm"),
        settled_uses=limits.value("settled-uses"),
        spec=limits.rows(),
    )
    return Outcome(
        {
            "start": _of(loss.start if loss else None, "N/cm"),
            "loss_per_log_use": _of(loss.loss_per_log_use if loss else None, "N/cm"),
            "uses_to_floor": Value(loss.uses_to_floor if loss else None, "uses"),
            "uses_to_floor_low": Value(loss.uses_to_floor_low if loss else None, "uses"),
            "uses_to_floor_high": Value(loss.uses_to_floor_high if loss else None, "uses"),
        },
        reasons,
    )


def _belt(given: Mapping[str, Any], limits: _Asked) -> Outcome:
    from tickets.calculator import dryer

    found = dryer.belt(given["length"], given["dwell"], given["speed"], given["inside"])
    results = {
        "length": _of(found.length, "m"),
        "dwell": _of(found.dwell, "s"),
        "speed": _of(found.speed, "m/min"),
    }
    if found.pieces_per_hour is not None:
        results["pieces_per_hour"] = Value(found.pieces_per_hour, "/h")
    return Outcome(results)


def marks_of(found: Rows, lowest_c: float, highest_c: float) -> list[Mark]:
    """The marks of a probe's file, in degC whatever it was noted in. Raises CannotBe with the line of one that cannot
    be."""
    from tickets.calculator import dryer

    unit = "degF" if "f" in found.columns else "degC"
    marks = [dryer.Mark(s, units.convert(degrees, unit, "degC")) for s, degrees in found.rows]
    return dryer.checked(marks, found.lines, lowest_c, highest_c, unit)


def _probe(given: Mapping[str, Any], limits: _Asked) -> Outcome:
    from tickets.calculator import dryer

    low, high = limits.maybe("probe-mark-lowest"), limits.maybe("probe-mark-highest")
    try:
        marks = marks_of(given["file"], -math.inf if low is None else low, math.inf if high is None else high)
    except CannotBe as fault:
        raise Faulty([("file", str(fault))]) from None
    cure, hold, bleed, speed = given["cure"], given["hold"], given["bleed"], given["speed"]
    off = limits.maybe("probe-fit")
    apart = math.inf if off is None else off
    found = dryer.window(marks, cure, hold, bleed, given["length"], speed, largest_error_c=apart)
    reasons = dryer.judge_window(found, cure, hold, bleed, speed)
    serves = found.open and (bleed is None or magnitude(bleed, "degC") > magnitude(cure, "degC"))
    results = {
        "peak": _of(found.peak, "degC"),
        "time_above_cure": _of(found.time_above_cure, "s"),
        "held_before_exit": _of(found.held, "s"),
        "time_above_bleed": _of(found.time_above_bleed, "s"),
        "slowest_speed": _of(found.slowest if serves else None, "m/min"),
        "fastest_speed": _of(found.fastest if serves else None, "m/min"),
    }
    if found.warm_up is not None:
        results["warm_up_time_constant"] = Value(found.warm_up.tau_s, "s")
        results["levels_out_at"] = Value(found.warm_up.air_c, "degC")
    return Outcome(results, reasons)


def _ink(given: Mapping[str, Any], limits: _Asked) -> Outcome:
    from tickets.calculator import ink

    found = ink.need(
        given["area"],
        given["coverage"],
        given["film"],
        given["density"],
        strokes=given["strokes"],
        transfer=given["transfer"],
        pieces=given["pieces"],
        waste=given["waste"],
    )
    results = {
        "per_print": _of(found.per_print, "g"),
        "job": _of(found.job, "g"),
        "volume": _of(found.volume, "cm3"),
        "job_volume": _of(found.job_volume, "cm3"),
    }
    if given["screens"] < 1:
        raise CannotBe(_("Screens are a whole number from 1 on."))
    if given["side"] is not None:
        load = limits.value("ink-load", side_cm=magnitude(given["side"], "cm"))
        results["load"] = Value(load * given["screens"], "g")
    if given["weighed"] is not None:
        plain = quantity(magnitude(found.per_print, "g") / given["transfer"], "g")
        results["weighed_transfer"] = Value(ink.calibrate([given["weighed"]], plain), "")
    return Outcome(results)


def _colour(given: Mapping[str, Any], limits: _Asked) -> Outcome:
    from tickets.calculator import colour

    difference = colour.delta_e_2000(given["approved"], given["print"])
    reasons = colour.judge(
        difference, warn=limits.value("colour-warn"), fail=limits.value("colour-fail"), spec=limits.rows()
    )
    return Outcome({"delta_e_2000": Value(difference, "")}, reasons)


def _lifetime(given: Mapping[str, Any], limits: _Asked) -> Outcome:
    from tickets.calculator import lifetime

    lives = []
    for uses, ended in given["file"].rows:
        if ended not in (0, 1):
            raise CannotBe(_("The column “ended” is 1 for a mesh that ended, 0 for one still in service."))
        lives.append(lifetime.UsesOfMesh(uses, ended == 1))
    found = lifetime.survival(lives)
    rows = [
        {
            "uses": row.uses,
            "at_risk": row.at_risk,
            "ended": row.ended,
            "survival": row.survival,
            "standard_error": row.standard_error,
        }
        for row in found.rows
    ]
    return Outcome(
        {
            "median": Value(found.median, "uses"),
            "survival": Value(rows, ""),
            "mean_to_last": Value(found.mean_to_last, "uses"),
        }
    )


READ_OFF: Mapping[str, str] = {
    "inside": N_("between others"),
    "clearest": N_("the clearest of all"),
    "darkest": N_("the darkest of all"),
}
"""Where the best column of a filter film lies."""
_COUNT = Input("count", "mesh count", N_("Mesh count"), "90/cm", us="230/in")
_THREAD = Input("thread", "length", N_("Thread"), "48 um")
_TIME = Input("time", "time", N_("Time"), "60 s")

_ALL = (
    Calculation(
        "mesh",
        N_("Mesh: opening, open area, ink volume"),
        (_COUNT, _THREAD, Input("thickness", "length", N_("Fabric thickness"), "72 um", required=False)),
        {
            "opening": N_("Opening"),
            "open_area": N_("Open area"),
            "ink_volume": N_("Ink volume, theoretical"),
            "ink_volume_low": N_("Ink volume, theoretical, from"),
            "ink_volume_high": N_("to"),
            "count_per_cm": N_("Count per cm"),
            "count_per_inch": N_("Count per inch"),
        },
        N_("opening = 1/count - thread; open area = (opening x count)^2; ink volume = open area x fabric thickness"),
        N_("makers' formula sheets; checked against a mesh maker's screen specifications (225/in with 40 and 48 um)"),
        _mesh,
        (
            N_("From the count as labelled and the nominal thread: woven mesh opens less, and carries less ink."),
            N_("Where the thickness is not given, the volume is a span: fabric is usually 1.44 to 1.58 threads thick."),
            N_("A value from the mesh maker's sheet wins over a computed one."),
        ),
    about=N_("opening, open area and ink volume of a mesh"),),
    Calculation(
        "halftone",
        N_("Halftone: ruling and angle on a mesh"),
        (
            Input("ruling", "ruling", N_("Ruling"), "25 /cm", us="65 /in"),
            _COUNT,
            _THREAD,
            Input("angle", "angle", N_("Angle to the threads"), "22.5 deg", required=False),
        ),
        {
            "ratio": N_("Threads to a line"),
            "smallest_dot": N_("Smallest dot"),
            "smallest_tone": N_("Smallest tone"),
        },
        N_("ratio = count / ruling; smallest dot = opening + 2 threads; tone = pi/4 x (dot x ruling)^2"),
        N_("Screen Printing, April 2003 (ratio); plane geometry (tone); common practice (smallest dot)"),
        _halftone,
    about=N_("whether a ruling and its angle go with a mesh"),),
    Calculation(
        "stencil",
        N_("Stencil: build over the mesh"),
        (
            Input("coated", "length", N_("Coated thickness"), "138 um"),
            Input("fabric", "length", N_("Bare mesh thickness"), "115 um"),
        ),
        {"build": N_("Build"), "build_ratio": N_("Build, of the mesh's thickness")},
        N_("build = coated - bare mesh; ratio = build / bare mesh"),
        N_("two trade articles on emulsion over mesh (20 % on 110/in with 80 um is about 23 um)"),
        _stencil,
    about=N_("how much thickness the emulsion adds to the mesh"),),
    Calculation(
        "step",
        N_("Exposure by step held"),
        (_TIME, Input("held", "number", N_("Step held"), "5"), Input("wanted", "number", N_("Step wanted"), "7")),
        {"time": N_("Time next time"), "factor": N_("Factor")},
        N_("time x 2^((wanted - held)/2)"),
        N_("the makers of 21-step grey scales: 0.15 of density a step, half a stop"),
        _step,
        (N_("Step held: the highest step with no loss, not the last that shows anything."),),
    about=N_("the next exposure time, from the step that was held"), cautions=("uv",),),
    Calculation(
        "filter-film",
        N_("Exposure from a filter test film"),
        (
            Input("time", "time", N_("Time of the test"), "480 s"),
            Input("factor", "number", N_("Factor of the best column"), "0.6"),
            Input(
                "best", "choice", N_("Where the best column lies"), "inside", False, "inside",
                choices=READ_OFF,
            ),
        ),
        {"time": N_("Time")},
        N_("time x factor"),
        N_("each column of the film passes a stated share of the light, and dose = irradiance x time"),
        _filter_film,
        (
            N_("Best: all fine detail opens, and nothing washes off. The factors are on the film."),
            N_("A best column at an end is only a bound: test again with more or less time."),
        ),
    about=N_("the exposure time, from a test through a filter film"), cautions=("uv",),),
    Calculation(
        "distance",
        N_("Exposure at another distance"),
        (
            Input("time", "time", N_("Time"), "300 s"),
            Input("was", "length", N_("Distance it was for"), "60 cm", us="2 ft"),
            Input("now", "length", N_("Distance now"), "120 cm", us="4 ft"),
            Input("diagonal", "length", N_("Diagonal of the stencil"), "50 cm", required=False, us="20 in"),
            Input(
                "lamp", "choice", N_("Lamp"), kinds.POINT, False, kinds.POINT, choices=kinds.LAMPS
            ),
        ),
        {"time": N_("Time")},
        N_("time x (distance now / distance it was for)^2"),
        N_("M. J. Martin, Wireless Transmission of Photographs, 1919 (2 ft 5 min, 4 ft 20 min)"),
        _distance,
        (N_("For point lamps only, at least 1.5 diagonals away."),),
    about=N_("the exposure time at another distance of a point lamp"), cautions=("uv",),),
    Calculation(
        "dose",
        N_("Exposure by dose"),
        (
            Input("irradiance", "irradiance", N_("Irradiance"), "8 mW/cm2", required=False),
            Input("time", "time", N_("Time"), "10 s", required=False),
            Input("dose", "dose", N_("Dose"), "80 mJ/cm2", required=False),
            Input("was_irradiance", "irradiance", N_("Irradiance that was"), "8 mW/cm2", required=False),
            Input("now_irradiance", "irradiance", N_("Irradiance now"), "6.4 mW/cm2", required=False),
        ),
        {"dose": N_("Dose"), "time": N_("Time")},
        N_("dose = irradiance x time"),
        N_("definition of radiant exposure; time for the same dose by the same rule"),
        _dose,
    about=N_("light dose, or the time when the lamp has faded"), cautions=("uv",),),
    Calculation(
        "tension",
        N_("Tension of one screen"),
        (
            Input("readings", "readings", N_("Readings, warp: centre, corners, sides"), "25 24.5 24 25.5 24"),
            Input("weft", "readings", N_("Readings, weft, in the same order"), "25 24.5 24 25.5 24", required=False),
            Input("unit", "unit", N_("Unit of the readings"), "N/cm"),
            Input("count", "mesh count", N_("Mesh count"), "90/cm", required=False, us="230/in"),
            Input("frame", "choice", N_("Frame"), kinds.ALUMINIUM, required=False, choices=kinds.FRAMES),
            Input("work", "choice", N_("Work"), kinds.USUAL, False, kinds.USUAL, choices=kinds.WORK),
        ),
        {
            "mean": N_("Mean"),
            "spread": N_("Spread"),
            "worst_from_centre": N_("Furthest from the centre"),
            "minimum": N_("Lowest"),
            "share_of_new": N_("Mean, of new mesh"),
        },
        N_("mean; spread = highest - lowest; furthest = largest difference from the first reading, the centre"),
        N_("Screen Printing, Feb 2001, and Images, Aug 2019 (where to measure)"),
        _tension,
    about=N_("readings of one screen, judged by the shop’s limits"),),
    Calculation(
        "tension-loss",
        N_("Tension: uses left"),
        (
            Input("file", "table", N_("Readings: uses and N/cm"), "readings.csv", columns=("uses", "n_per_cm")),
            Input("floor", "tension", N_("Floor"), "18 N/cm"),
        ),
        {
            "start": N_("Start, fitted"),
            "loss_per_log_use": N_("Loss for each ln(1 + uses)"),
            "uses_to_floor": N_("Uses to the floor"),
            "uses_to_floor_low": N_("Uses to the floor, low"),
            "uses_to_floor_high": N_("Uses to the floor, high"),
        },
        N_("tension = start - loss x ln(1 + uses), least squares; range: 80 % band of the next reading"),
        N_("the form is a judgement: published losses are large at first, then the mesh settles"),
        _tension_loss,
    about=N_("how many uses are left until the floor"),),
    Calculation(
        "belt",
        N_("Dryer belt: length, dwell, speed"),
        (
            Input("length", "length", N_("Heated length"), "2.4 m", required=False, us="8 ft"),
            Input("dwell", "time", N_("Time inside"), "60 s", required=False),
            Input("speed", "speed", N_("Belt speed, measured"), "2.4 m/min", required=False, us="8 ft/min"),
            Input("inside", "whole", N_("Pieces inside at once"), "6", required=False),
        ),
        {
            "length": N_("Heated length"),
            "dwell": N_("Time inside"),
            "speed": N_("Belt speed"),
            "pieces_per_hour": N_("Pieces an hour, at most"),
        },
        N_("length = speed x dwell; pieces an hour = inside x 3600 s / dwell"),
        N_("plain kinematics"),
        _belt,
        (N_("The heated chamber's length, not the belt's; the speed as measured, not the dial's number."),),
    about=N_("length, dwell and speed of the dryer’s belt"), cautions=("heat",),),
    Calculation(
        "probe",
        N_("Dryer window from a probe run"),
        (
            Input("file", "table", N_("Marks: seconds, and °C or °F"), "probe.csv", columns=("s", "c"),
                  other_columns=("s", "f")),
            Input("cure", "temperature", N_("Cure temperature"), "160 degC", us="320 degF"),
            Input("hold", "time", N_("Time to hold it"), "60 s"),
            Input("bleed", "temperature", N_("Dye-bleed limit of the garment"), "132 degC", False, us="270 degF"),
            Input("length", "length", N_("Heated length"), "3 m", us="10 ft"),
            Input("speed", "speed", N_("Belt speed of the run"), "1.5 m/min", us="5 ft/min"),
        ),
        {
            "peak": N_("Peak"),
            "time_above_cure": N_("Time at or above cure"),
            "held_before_exit": N_("Of that before the exit"),
            "time_above_bleed": N_("Time at or above dye-bleed"),
            "slowest_speed": N_("Slowest belt speed"),
            "fastest_speed": N_("Fastest belt speed"),
            "warm_up_time_constant": N_("Warm-up, time constant"),
            "levels_out_at": N_("The garment would level out at"),
        },
        N_("marks joined by straight lines; speeds: T = air - rise x exp(-t/tau) fitted, moved with the belt"),
        N_("standard engineering (first-order warm-up); no garment curve is published"),
        _probe,
        (
            N_("The same garment, load and dryer setting as in the probe run, and doors as they will be."),
            N_("A dry garment in even heat: while water boils off, or under uneven panels, it warms up otherwise."),
            N_("Speeds far from the one that was run are guesses: run the probe again there."),
            N_("An estimate, never proof of cure: a wash test decides, and the ink's data sheet and local rules win."),
        ),
    about=N_("cure and dye bleed, from a probe’s run through the dryer"), cautions=("heat",),),
    Calculation(
        "ink",
        N_("Ink for a job"),
        (
            Input("area", "area", N_("Image area"), "774.2 cm2", us="120 in2"),
            Input("coverage", "percent", N_("Coverage"), "50 %"),
            Input("film", "film", N_("Wet film"), "35 cm3/m2"),
            Input("density", "density", N_("Density"), "1.2 g/cm3", us="10 lb/gal"),
            Input("strokes", "whole", N_("Strokes"), "1", False, "1"),
            Input("transfer", "number", N_("Transfer factor of the shop"), "1", False, "1"),
            Input("pieces", "whole", N_("Pieces"), "500"),
            Input("waste", "percent", N_("Waste"), "10 %", required=False),
            Input("weighed", "mass", N_("One print as weighed, wet, less the blank"), "1.9 g", required=False),
            Input("side", "length", N_("Shorter side of the frame"), "58.5 cm", required=False, us="23 in"),
            Input("screens", "whole", N_("Screens of this ink"), "1", False, "1"),
        ),
        {
            "per_print": N_("Ink for a print"),
            "job": N_("Ink for the job"),
            "volume": N_("Volume of a print"),
            "job_volume": N_("Volume for the job"),
            "load": N_("To load the screens with, beside it"),
            "weighed_transfer": N_("Transfer factor by that weighing"),
        },
        N_(
            "area x coverage x film x strokes x density x transfer. Job: x pieces x (1 + waste). Load: a screen's by "
            "the size of its frame x screens"
        ),
        N_("first principles; an ink maker's blog on cost (12 lb/gal, 3 g a print) for the order of size"),
        _ink,
        (
            N_("A transfer factor of 1 is not yet calibrated: weigh a few prints wet, less the blank."),
            N_("Most of what a screen is loaded with comes back into the pot, but without it nothing prints."),
        ),
    about=N_("how much ink a job takes"),),
    Calculation(
        "colour",
        N_("Colour difference from the approved print"),
        (
            Input("approved", "lab", N_("Approved print, L* a* b*"), "50 2.5 0"),
            Input("print", "lab", N_("This print, L* a* b*"), "50 3.1 0.5"),
        ),
        {"delta_e_2000": N_("Difference, CIEDE2000")},
        N_("CIEDE2000 with all weights 1"),
        N_("Sharma, Wu, Dalal, Color Res. Appl. 30:21-30, 2005, through coloraide"),
        _colour,
        (N_("Only readings under the same light and observer can be compared."),),
    about=N_("how far a print is from the approved one"),),
    Calculation(
        "lifetime",
        N_("How long meshes last"),
        (Input("file", "table", N_("Lives: uses, and ended (1) or in service (0)"), "lives.csv",
               columns=("uses", "ended")),),
        {
            "median": N_("Half last longer than"),
            "survival": N_("Share that lasts"),
            "mean_to_last": N_("Mean, up to the longest"),
        },
        N_("Kaplan-Meier; standard errors by Greenwood; mean = area under the curve to the longest life"),
        N_("any textbook of survival analysis; checked against the 6-MP arm of Freireich et al., Blood 21, 1963"),
        _lifetime,
    about=N_("how long the shop’s meshes last"),),
)  # fmt: skip

CATALOGUE: Mapping[str, Calculation] = {one.name: one for one in _ALL}
