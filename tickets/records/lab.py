"""Colour readings of an approved print: taken from its form, kept with their conditions, read back."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from tickets.calculator import units
from tickets.calculator.colour import Lab
from tickets.records.refusal import Fault, Refused
from tickets.words import gettext as _

PREFIX = "lab."
CONDITIONS = "lab_conditions"


@dataclass(frozen=True, slots=True)
class Kept:
    """Readings by station, and the light, observer and instrument that they were taken with."""

    readings: Mapping[int, Lab] = field(default_factory=dict)
    conditions: str = ""


def field_name(station: int) -> str:
    """The form's field for the reading of one station."""
    return f"{PREFIX}{station}"


def read(sent: Mapping[str, list[str]], stations: Mapping[int, str] | None = None) -> dict[str, Any]:
    """The readings in a form (`lab.2` = "L* a* b*") as values to keep: `lab`, by station. Refuses all that is wrong.

    `stations`: those that print, with their names; others are refused.
    """
    found: dict[str, list[float]] = {}
    faults: list[Fault] = []
    for name, texts in sent.items():
        text = next((one.strip() for one in texts if one.strip()), "")
        if not name.startswith(PREFIX) or not text:
            continue
        number = name.removeprefix(PREFIX)
        if not number.isdigit() or (stations is not None and int(number) not in stations):
            faults.append(Fault(name, _("Nothing is printed there: give readings by the number of the print order.")))
            continue
        parts = [part for part in re.split(r"[\s;/]+", text) if part]
        try:
            if len(parts) != 3:
                raise ValueError(_("Three numbers are needed, L*, a* and b*, such as 52.1 -3.4 18.0."))
            one = Lab(*(units.number(part.replace("−", "-")) for part in parts))
        except ValueError as fault:
            faults.append(Fault(name, str(fault)))
            continue
        found[str(int(number))] = [one.lightness, one.a, one.b]
    if faults:
        raise Refused(faults)
    return {"lab": found} if found else {}


def kept(values: Mapping[str, Any]) -> Kept:
    """The readings kept with an approval; what cannot be read is left out."""
    found: dict[int, Lab] = {}
    for number, parts in (values.get("lab") or {}).items():
        try:
            found[int(number)] = Lab(*(float(part) for part in parts))
        except (TypeError, ValueError):
            continue
    return Kept(found, str(values.get(CONDITIONS) or ""))
