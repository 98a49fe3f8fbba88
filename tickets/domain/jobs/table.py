"""A table of a file or form being read: its values in our units, all that is wrong with them, each with its place."""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Collection, Mapping, Sequence
from decimal import Decimal
from typing import Any

from tickets.calculator import typed, units
from tickets.calculator.numerals import HIGHEST, counted
from tickets.domain import names, setting, usual
from tickets.domain.refusal import Fault
from tickets.domain.separation import folded
from tickets.domain.spec import Spec
from tickets.i18n import gettext as _
from tickets.i18n import in_every_language

LONGEST_TEXT, LONGEST_NOTE = names.LINE, names.NOTE
MOST_COUNTED = 10**15
"""As many digits as `numerals.counted` reads, so that the number of a box may stand without quotes (judgement)."""

_UNIT_OF = {
    "length": "mm",
    "mesh count": "/cm",
    "time": "s",
    "temperature": "degC",
    "speed": "m/min",
    "percent": "%",
    "angle": "deg",
    "ruling": "lines/in",
    "mass": "g",
}


class TableReader:
    """One table being read: takes its values, and keeps the faults with their places. A fault leaves a stand-in."""

    def __init__(
        self,
        data: object,
        place: str,
        faults: list[Fault],
        example: str = "",
        stored: bool = False,
        limits: Spec | None = None,
    ) -> None:
        self.place, self.faults, self.stored, self.limits = place, faults, stored, limits
        self.asked: list[str] = []
        self.typed: dict[str, tuple[str, float]] = {}
        self.broken = not isinstance(data, Mapping)
        self.data: Mapping[Any, Any] = data if isinstance(data, Mapping) else {}
        if not stored:  # else it was read so before it was kept
            self.data = _within_bounds(self.data)
        if self.broken:
            self.fault(
                "",
                _("This must be a table of its own keys, such as {example}.").format(example=example)
                if example
                else _("This must be a table of its own keys."),
            )

    def at(self, key: str) -> str:
        return f"{self.place}.{key}" if self.place and key else self.place or key

    def fault(self, key: str, message: str, readings: Sequence[str] = ()) -> None:
        self.faults.append(Fault(self.at(key), message, tuple(readings)))

    def take(self, key: str, example: str = "") -> Any:
        """The value, None when it is not there; with an example it is required, and missed in the example's words."""
        self.asked.append(key)
        value = self.data.get(key)
        if example and (value is None or (isinstance(value, str) and not value.strip())) and not self.broken:
            self.fault(key, _("This is missing: write {example}.").format(example=f"{key} = {example}"))
            return None
        return value

    def text(self, key: str, example: str = "", longest: int = LONGEST_TEXT) -> str:
        value = self.take(key, example)
        if value is None:
            return ""
        if isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value):
            value = str(value)
        if not isinstance(value, str):
            self.fault(key, _("This must be text between quotes."))
            return ""
        value = value.strip()
        if longest == LONGEST_NOTE:
            value = value.replace("\r\n", "\n")
        if fault := names.unseen(value, lines=self.stored or longest == LONGEST_NOTE):
            self.fault(key, fault)
            return ""
        if len(value) > longest:
            self.fault(key, _("This is too long: at most {longest} characters.").format(longest=longest))
            return ""
        return value

    def said(self, key: str) -> str:
        """Text, or true or false: kept as yes or no."""
        value = self.data.get(key)
        return ("yes" if self.flag(key) else "no") if isinstance(value, bool) else self.text(key)

    def choice(self, key: str, choices: Collection[str], example: str) -> str:
        """One of `choices`; with the words of each it may be said in any language."""
        value = self.text(key, example)
        if not value:
            return ""
        if folded(value) in choices:
            return folded(value)
        if isinstance(choices, Mapping):
            for one, word in choices.items():
                if folded(value) in map(folded, in_every_language(word)):
                    return str(one)
        near = difflib.get_close_matches(folded(value), choices, 1)
        self.fault(
            key,
            _("“{value}” is none of: {choices}.").format(value=value, choices=", ".join(choices))
            + (" " + _("Do you mean “{near}”?").format(near=near[0]) if near else ""),
        )
        return ""

    def flag(self, key: str) -> bool:
        value = self.take(key)
        if value is None or isinstance(value, bool):
            return bool(value)
        self.fault(key, _("This is true or false, without quotes."))
        return False

    def whole(self, key: str, low: int, high: int, example: str = "") -> int | None:
        value = self.take(key, example)
        if value is None:
            return None
        try:
            number = plain_number(value)
            if number is not None and number.is_integer() and not isinstance(value, float) and low <= number <= high:
                return int(number)
            readings: tuple[str, ...] = ()
        except units.Ambiguous as asks:
            readings = tuple(one for one in asks.readings if low <= counted(one, low - 1) <= high)
        message = _("This is a whole number from {low} to {high}.").format(low=low, high=high)
        if readings:
            message += " " + _("Is {readings} meant?").format(readings=_(" or ").join(readings))
        self.fault(key, message, readings)
        return None

    def quantity(
        self,
        key: str,
        kind: str,
        low: float,
        high: float,
        *,
        unit: str = "",
        example: str = "",
        aside: str = "",
        name: str = "",
    ) -> float | None:
        """A number with its unit, in `unit` (default: the kind's own); a bare number is refused. `name`: the setting
        that it is, which is asked about where it is not usual."""
        value = self.take(key, example)
        if value is None or value == "":
            return None
        if isinstance(value, bool) or not isinstance(value, (str, int, float)):
            self.fault(key, _("This is a number with its unit, between quotes."))
            return None
        unit = unit or _UNIT_OF[kind]
        text = units.tidy(value) if isinstance(value, str) else shown_number(value)
        try:
            found = typed.take(text, kind, kept=self.stored, bounded=False, within=(low, high, unit))
            # a conversion leaves dust in the last places, and 304.49999 mm would be another separation than 304.5
            number = found.value if found.unit == unit else round(units.convert(found.value, found.unit, unit), 9)
        except units.NotAQuantity as problem:
            self.fault(key, " ".join(filter(None, (str(problem), aside))), problem.readings)
            return None
        if not low <= number <= high:
            self.fault(
                key,
                _("“{text}” cannot be right: from {low} to {high} {unit} would do.").format(
                    text=text, **typed.span_typed(low, high, unit, found.unit)
                ),
            )
            return None
        try:
            usual.ask_of_setting(name, text, found.value, found.unit, self.limits)
        except units.NotAQuantity as problem:
            self.fault(key, str(problem), problem.readings)
            return None
        # as typed, but for what would not read as itself behind another field's unit, such as 1:30
        said = str(value).strip() if found.own and isinstance(value, str) else found.said
        self.typed[key] = (said, number)
        return number

    def measured(self, name: str, key: str = "", example: str = "") -> float | None:
        """A setting of press, flash or dryer in its own unit (`domain.setting`); `key` where it is named otherwise."""
        known = setting.SETTINGS[name]
        span = (known.kind, known.low, known.high)
        return self.quantity(key or name, *span, unit=known.unit, example=example, name=name)

    def setting(self, name: str, felt: bool = False) -> str:
        """A setting as text, judged as the quantity that it is; a dial's mark where the setting may be one (`felt`:
        or anything that does not begin with a number)."""
        text = self.text(name)
        if not text or setting.is_mark(name, text) or ((felt or self.stored) and not setting.counted(text)):
            return text
        known = setting.SETTINGS[name]
        self.quantity(name, known.kind, known.low, known.high, aside=setting.aside(name))
        return text

    def table(self, key: str, example: str = "") -> TableReader | None:
        value = self.take(key, example)
        return (
            None if value is None else TableReader(value, self.at(key), self.faults, example, self.stored, self.limits)
        )

    def tables(self, key: str, example: str = "") -> list[TableReader]:
        value = self.take(key)
        if value is None or value == []:
            if example and not self.broken:
                self.fault(key, _("This is missing: begin one with {example}.").format(example=example))
            return []
        if not isinstance(value, (list, tuple)):
            self.fault(key, _("There can be several: write the heading as [[{key}]].").format(key=key))
            return []
        places = enumerate(value, start=1)
        return [
            TableReader(item, f"{self.at(key)}[{number}]", self.faults, "", self.stored, self.limits)
            for number, item in places
        ]

    def numbers(
        self,
        key: str,
        read_one: Callable[[Any], float | None],
        message: str,
        *,
        in_words: Callable[[str], Mapping[str, str] | Mapping[str, float]],
        named: Callable[[str], str] = str,
        together: Callable[[Mapping[str, object]], object] | None = None,
    ) -> dict[str, float]:
        """A table of names and numbers, or a text that `in_words` takes apart; `named`: the name of what was said
        short; `together`: asks where they do not go together (a unit behind some only)."""
        value = self.take(key)
        if isinstance(value, str):
            try:
                value = in_words(value) if value.strip() else None
            except units.NotAQuantity as fault:
                self.fault(key, str(fault), fault.readings)
                return {}
        table = None if value is None else TableReader(value, self.at(key), self.faults, "", self.stored)
        found: dict[str, float] = {}
        for name, amount in table.data.items() if table else ():
            assert table is not None
            said = message
            try:
                number = read_one(amount)
            except units.NotAQuantity as fault:
                number, said = None, str(fault)
            if not fit_name(name, self.stored):
                table.fault(shown_key(name), _("This name cannot be printed: type it again."))
                continue
            known = str(name).strip() if self.stored else named(str(name))
            if number is None:
                table.fault(shown_key(name), said)
            elif folded(known) in {folded(other) for other in found}:
                table.fault(shown_key(name), _("This is said twice: say it once."))
            else:
                found[known] = number
        if together and table and len(found) == len(table.data) and not self.stored:
            try:
                together(table.data)
            except units.NotAQuantity as fault:
                self.fault(key, str(fault), fault.readings)
        return found

    def close(self, elsewhere: Mapping[str, str] | None = None) -> None:
        """Refuses the keys that nobody asked for, naming the nearest right one."""
        for key in self.data:
            if key in self.asked:
                continue
            if elsewhere and key in elsewhere:
                self.fault(shown_key(key), elsewhere[key])
                continue
            near = difflib.get_close_matches(folded(str(key)), self.asked, 1)
            self.fault(
                shown_key(key),
                _("There is no such key; do you mean “{near}”?").format(near=near[0])
                if near
                else _("There is no such key; known here: {keys}.").format(keys=", ".join(dict.fromkeys(self.asked))),
            )


def _within_bounds(value: Any, tables: int = 2) -> Any:
    """A whole number of a file has as many digits as whoever wrote it likes, more than a float can hold and Python will
    print: what nothing here is counted in is without end for whoever reads it, and refused in that key's own words.
    `tables`: so many deep, since a recipe is looked at as a whole; any deeper one has a reader of its own, or none."""
    if isinstance(value, int) and not -MOST_COUNTED < value < MOST_COUNTED:
        return math.inf if value > 0 else -math.inf
    if tables and isinstance(value, Mapping):
        return {key: _within_bounds(one, tables - 1) for key, one in value.items()}
    return value


def fit_name(name: object, stored: bool = False) -> bool:
    """A name that stands as a key. `stored`: it was taken once, and stays."""
    if not isinstance(name, str) or not name.strip() or len(name) > LONGEST_TEXT:
        return False
    return not names.unseen(name.strip(), lines=stored)


def shown_key(key: object) -> str:
    text = "".join(character if character.isprintable() else "?" for character in str(key))
    return text[:40] or '""'


def plain_text(number: float) -> str:
    """A number without exponent, whole where it is whole; reads back as the same float."""
    text = format(Decimal(repr(float(number))), "f")
    return text[:-2] if text.endswith(".0") else units.clear(text)


class Written(float):
    """A number of a file, with the digits that it was written in: 1.000 may be a thousand to who wrote it."""

    text: str

    def __new__(cls, text: str) -> Written:
        made = super().__new__(cls, text)
        made.text = text
        return made


def plain_number(value: object) -> float | None:
    """A number without a unit: an int, a float, or digits as text with one decimal mark, `.` or `,`; None: no number,
    or one beyond all that is counted or measured here. Raises Ambiguous for a text that can be read in two ways."""
    if isinstance(value, bool):
        return None
    if isinstance(value, Written) and units.in_thousands(value.text):
        return units.number(value.text)
    if isinstance(value, (int, float)):
        return float(value) if abs(value) < HIGHEST else None  # nan compares as false
    if isinstance(value, str):
        try:
            return units.number(value, fractions=False)
        except units.Ambiguous:
            raise
        except units.NotAQuantity:
            return None
    return None


def shown_number(value: float) -> str:
    """A number of a file for a message: never hundreds of digits."""
    return plain_text(value) if abs(value) < HIGHEST else "1" + "0" * 13
