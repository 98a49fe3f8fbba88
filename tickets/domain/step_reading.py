"""The form of a step read into numbers in the units of their names, or what is wrong at which field."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from tickets.calculator import several, units
from tickets.calculator import typed as typed_units
from tickets.calculator.numerals import counted, unsure
from tickets.domain import names, outside
from tickets.domain.refusal import Fault, Refused
from tickets.domain.steps import COMMON, Field, Step
from tickets.i18n import gettext as _


def read(
    step: Step, form: Mapping[str, Sequence[str]], extra: Sequence[str] = ()
) -> tuple[dict[str, Any], dict[str, Any]]:
    """The values of a step out of a form (each name with the list of what was sent), and what was typed beside.

    Numbers come back in the unit of their name; what was typed is kept where it reads otherwise. Things (bucket,
    place, exposure unit, screen) stay text: `queries.find` looks them up. All faults are refused together.
    """
    values: dict[str, Any] = {}
    typed: dict[str, Any] = {}
    faults: list[Fault] = []
    fields = {field.name: field for field in step.fields}
    if any(field.name == "room" for field in step.also):
        try:
            form = _room_apart(form)
        except ValueError as fault:
            faults.append(Fault("room", str(fault)))
        extra = (*extra, "room")
    for name in form:
        if name not in fields and name not in COMMON and name not in extra and not name.endswith(".unit"):
            known = ", ".join([*fields, *(field.name for field in step.also)]) or _("none")
            faults.append(
                Fault(name, _("“{step}” has no such field; it has: {known}.").format(step=step.name, known=known))
            )
    for name, field in fields.items():
        sent = [text.strip() for text in form.get(name, ()) if text.strip()]
        if name == "thread_um" and [text.casefold() for text in sent] == ["unknown"]:
            sent = []  # a thread may be unknown, and may be said to be
        if not sent:
            if field.required:
                faults.append(Fault(name, _needed(step, field)))
            continue
        unit = next((text for text in form.get(f"{name}.unit", ()) if text), None)
        try:
            values[name], as_typed = _read_field(field, sent, unit)
        except ValueError as fault:
            faults.append(Fault.of(name, fault))
            continue
        if as_typed is not None:
            typed[name] = as_typed
    faults += _no_opening(values, form)
    if faults:
        raise Refused(faults)
    return values, typed


def _needed(step: Step, field: Field) -> str:
    """What to say where a field that is needed is empty; of a finding also that nobody assumes it."""
    if field.name == step.taps:
        choices = ", ".join(f"{_(label)} ({key})" if _(label) != key else key for key, label in field.choices)
        return _("Say what was found: {choices}. Nothing is taken as good that nobody looked at.").format(
            choices=choices
        )
    return _("This is needed: {label}.").format(label=_(field.label))


def _no_opening(values: Mapping[str, Any], form: Mapping[str, Sequence[str]]) -> list[Fault]:
    """What is wrong with a mesh whose threads leave nothing open: each must be thinner than the pitch (geometry)."""
    label, thread_um = values.get("mesh_count_as_labelled"), values.get("thread_um")
    if label is None or thread_um is None or thread_um < (pitch_um := 10_000 / count_per_cm(label)):
        return []
    text, unit = (next((one.strip() for one in form.get(name, ()) if one.strip()), "") for name in _THREAD)
    typed = typed_units.typed_unit("thread_um", text, unit) or "um"
    message = _(
        "A thread of {thread} {unit} leaves no opening in a {count} mesh: below {high} {unit} would do. Look at count "
        "and thread on the label."
    )
    thread = units.exact_text(units.convert(thread_um, "um", typed))
    span = typed_units.span_typed(1.0, pitch_um, "um", typed)
    return [Fault("thread_um", message.format(thread=thread, count=label, high=span["high"], unit=span["unit"]))]


_THREAD = ("thread_um", "thread_um.unit")


_MINUTES = "minutes"
"""The field that is named after its unit, and not by its ending: a length of time all the same."""


# whole: one case for each kind of field; a table of functions would hide that there are no others
def _read_field(field: Field, sent: list[str], unit: str | None) -> tuple[Any, Any]:
    match field.kind:
        case "number" if field.name == _MINUTES:
            found = typed_units.take(sent[0], "time", "min", within=(field.low, field.high, "min"))
            minutes = round(units.convert(found.value, found.unit, "min"), 6)
            _in_range(field, typed_units.Typed(minutes, "", found.said))
            return minutes, None if f"{minutes:g}" == sent[0] else found.said
        case "number":
            found = typed_units.take_field(field.name, sent[0], unit, span=(field.low, field.high))
            value = _in_range(field, found)
            return value, None if f"{value:g}" == sent[0] else found.said
        case "numbers":
            return _readings(field, sent, unit)
        case "whole":
            return typed_units.whole(sent[0], field.low, field.high), None
        case "size":
            (wide, high), said = several.size_mm(sent[0])
            size = f"{wide:g} x {high:g}"
            return size, None if sent[0] == size else said
        case "choice" if field.choices:
            if sent[0] not in dict(field.choices):
                raise ValueError(_("One of: {choices}.").format(choices=", ".join(dict(field.choices))))
            return sent[0], None
        case "mesh":
            mesh = _mesh_count(sent[0], unit)
            label = _label(mesh)
            return label, None if mesh.said == label else mesh.said
        case "separations":
            return _images(field, sent), None
        case "until":
            return "T".join(sent[:2]), None  # a page sends day and time apart
        case "date":
            if (day := outside.day(sent[0])) is None or day.year not in outside.YEARS:
                raise ValueError(
                    _("“{text}” cannot be read as a date. Write year-month-day, such as 2026-03-09.").format(
                        text=sent[0][:40]
                    )
                )
            return day.isoformat(), None
        case _:
            if field.name == "mark":
                return names.mark(sent[0]), None
            if fault := names.unseen(sent[0], lines=field.longest == names.NOTE):
                raise ValueError(fault)
            if len(sent[0]) > field.longest:
                raise ValueError(_("At most {most} characters.").format(most=f"{field.longest:,}"))
            if field.name == "recipe":
                several.read_if_amounts(sent[0])
            return sent[0], None


def _readings(field: Field, sent: list[str], unit: str | None) -> tuple[list[float], str]:
    """Readings in a row, and what was typed. What is wrong with one of several says which."""
    own = units.unit_of(field.name) or ""
    span, sent = (field.low, field.high, own), [unsure(one) for one in sent]
    row = several.in_a_row(sent, units.kind_of(own), typed_units.bare_unit(field.name, unit), span)
    if len(row) > field.most:
        raise ValueError(_("At most {most} readings.").format(most=field.most))
    readings = []
    for order, one in enumerate(row, 1):
        try:
            readings.append(_in_range(field, one))
        except units.NotAQuantity as fault:
            raise several.of_part(fault, order if len(row) > 1 else 0) from None
    return readings, several.row_said(row)


LATER = "later"
"""Of the image on a screen: it is named later, as of a test, or of a job that nobody has entered yet."""


def _images(field: Field, sent: list[str]) -> list[int]:
    """The numbers of images, each once; none where they are named `later`."""
    numbers = [text for part in sent for text in part.replace(",", " ").split() if text != LATER]
    if not all(0 < counted(text) < 10**10 for text in numbers):
        raise ValueError(_("Give the images by their numbers, as the job shows them."))
    if len(numbers) > field.most:
        raise ValueError(_("At most {most} images on one screen.").format(most=field.most))
    return list(dict.fromkeys(counted(text) for text in numbers))


_ROOM = re.compile(r"([-+]?[0-9]+(?:[.,][0-9]+)?)\s*([^0-9\s,;/+-][^0-9,;/+-]*)")


def _room_apart(form: Mapping[str, Sequence[str]]) -> dict[str, Sequence[str]]:
    """A form with `room`, such as `23 degC, 45 %` or one of both, put into the fields that hold it."""
    out = {name: texts for name, texts in form.items() if name != "room"}
    text = " ".join(" ".join(form.get("room", ())).split())
    if not text:
        return out
    found: dict[str, str] = {}

    def taken(match: re.Match[str]) -> str:
        spelling = match[2].strip()
        percent = re.sub(r"(?i)\s*r\.?h\.?$", "", spelling) or "%"
        for name, kind, unit in (("room_c", "temperature", spelling), ("room_rh_pct", "percent", percent)):
            if name not in found and units.unit_named(unit, kind):
                found[name] = f"{match[1]} {unit}"
                return " "
        return match[0]

    left = _ROOM.sub(taken, text)
    if left.strip(" ,;/") or not found:
        raise ValueError(
            _(
                "“{text}” cannot be read. Type the room’s temperature and humidity like 23 degC, 45 %, or one of the "
                "two."
            ).format(text=text[:40])
        )
    for name in found:
        if any(one.strip() for one in form.get(name, ())):
            raise ValueError(_("The room is said twice: type room, or {name}.").format(name=name))
        out[f"{name}.unit"] = []
    return {**out, **{name: [reading] for name, reading in found.items()}}


def _in_range(field: Field, found: typed_units.Typed) -> float:
    """The number in the unit of the field's name, where the field takes it; refused in the unit that was typed."""
    own = units.unit_of(field.name) or ""
    value = units.convert(found.value, found.unit, own)
    if not field.low <= value <= field.high:
        now = units.exact_text(found.value)
        raise units.NotAQuantity(
            _("Between {low} and {high} {unit} would do; this reads as {value} {unit}.")
            .format(value=now, **typed_units.span_typed(field.low, field.high, own, found.unit))
            .replace("  ", " ")  # a plain number has no unit
            .replace(" .", ".")
            .replace(" ;", ";")
        )
    return value


def mesh_label(text: str, unit: str | None = None) -> str:
    """A mesh count in one spelling that keeps the label's own unit: `230/in` or `90/cm`. A bare count is in `unit`;
    where that is not given it is asked about (NotAQuantity)."""
    return _label(_mesh_count(text, unit))


def _label(count: typed_units.Typed) -> str:
    return f"{count.value:g}{count.unit}"


def _mesh_count(text: str, unit: str | None) -> typed_units.Typed:
    found = typed_units.take(text, "mesh count", units.unit_named(unit, "mesh count") if unit else None)
    if not 5 <= count_per_cm_of(found.value, found.unit == "/in") <= 250:
        span = typed_units.span_typed(5, 250, "/cm", found.unit)
        raise units.NotAQuantity(_("A mesh count between {low}{unit} and {high}{unit} would do.").format(**span))
    return found


def count_per_cm(label: str) -> float:
    """Threads per cm of a label such as `230/in` or `90/cm` (1 in = 2.54 cm)."""
    value, unit = label.split("/")
    return count_per_cm_of(float(value), unit == "in")


def count_per_cm_of(value: float, per_inch: bool) -> float:
    """Threads per cm from a count in either unit."""
    return value / 2.54 if per_inch else value
