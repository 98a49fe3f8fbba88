"""Colour readings of an approved print: taken from its form, stamped with how they were read, kept, read back."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from tickets.calculator import colour, colour_text
from tickets.calculator.colour import Lab
from tickets.calculator.numerals import counted
from tickets.domain.refusal import Fault, Refused
from tickets.domain.runs import colour_file
from tickets.domain.separation import folded
from tickets.i18n import N_
from tickets.i18n import gettext as _

PREFIX = "lab."
CONDITIONS = "lab_conditions"
PATCHES = "lab_patches"
"""The form's field for a measurement file, or a block out of one."""
PATCH = "lab_patch."
NO_COLOUR = "-"
"""What is said of a patch that is none of the print's colours."""
LIGHTS = ("D50", "D65", "A", "F2", "F11")
OBSERVERS = ("2°", "10°")
MODES = ("M0", "M1", "M2", "M3")
NO_MODE = N_("no mode")
PARTS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("lab_light", N_("Light"), LIGHTS),
    ("lab_observer", N_("Observer"), OBSERVERS),
    ("lab_mode", N_("Measuring mode"), (*MODES, NO_MODE)),
    ("lab_instrument", N_("Instrument"), ()),
)
"""How a reading was taken, a field each; light and observer as CIE 15 names them, the modes M0 to M3 of ISO 13655.
Before there were modes instruments had none."""
MOST_LETTERS = 80


@dataclass(frozen=True, slots=True)
class Under:
    """How a reading was taken; empty: nobody said."""

    light: str = ""
    observer: str = ""
    mode: str = ""
    instrument: str = ""

    @property
    def said(self) -> str:
        """All of it in one text, as it is stamped on a reading."""
        mode = "" if self.mode == NO_MODE else self.mode
        return ", ".join(filter(None, (self.light, self.observer, mode, self.instrument)))

    @property
    def lacks(self) -> list[str]:
        """What nobody said, in words, without which no reading compares. A text that says light and observer is taken
        at its word for the rest: an old instrument has no mode, and a shop with one instrument doesn't name it."""
        return [word for value, word in ((self.light, _("the light")), (self.observer, _("the observer"))) if not value]

    def over(self, other: Under) -> Under:
        """This one, with what it doesn't say from `other`."""
        return Under(*(mine or theirs for mine, theirs in zip(self._parts, other._parts, strict=True)))

    @property
    def _parts(self) -> tuple[str, str, str, str]:
        return self.light, self.observer, self.mode, self.instrument


_LIGHT = re.compile(r"(?i)\b(D) ?(50|55|65|75)\b|(?<![^\s,;/])(A|C|F(?:2|7|11))(?![^\s,;/])")
_OBSERVER = re.compile(r"(?i)\b(2|10) ?(?:°|deg(?:rees?)?\b)|(?<![^\s,;/])(2|10)(?![^\s,;/])")
_MODE = re.compile(r"(?i)\bM ?([0-3])\b")
_FILLERS = re.compile(r"(?i)\b(illuminant|observer|standard|light|mode)\b")


def under_of(text: str) -> Under:
    """What a text such as `D50, 2°, M1, bench instrument` says; what is none of the first three is the instrument."""
    found = []
    for pattern in (_LIGHT, _OBSERVER, _MODE):
        match = pattern.search(text)
        found.append("".join(filter(None, match.groups())).upper() if match else "")
        text = text[: match.start()] + "," + text[match.end() :] if match else text
    rest = [part.strip(" ,;/·") for part in re.split(r"[,;/·]", _FILLERS.sub("", text))]
    light, observer, mode = found
    instrument = " ".join(" ".join(filter(None, rest)).split())[:MOST_LETTERS]
    return Under(light, f"{observer}°" if observer else "", f"M{mode}" if mode else "", instrument)


@dataclass(frozen=True, slots=True)
class KeptReadings:
    """Readings by station, and the light, observer, mode and instrument that they were taken with: of all of them, and
    `under` of each where they are not the same. `several`: the single readings of a colour that was read more than
    once; its reading is their mean."""

    readings: Mapping[int, Lab] = field(default_factory=dict)
    conditions: str = ""
    under: Mapping[int, str] = field(default_factory=dict)
    several: Mapping[int, tuple[Lab, ...]] = field(default_factory=dict)

    def read_under(self, station: int) -> str:
        """How the reading of one station was taken; empty: nobody said."""
        return self.under.get(station, self.conditions)

    def spread(self, station: int) -> tuple[int, float] | None:
        """How many readings a colour has and how far (CIEDE2000) the furthest is from their mean; None: it has one."""
        some = self.several.get(station)
        return (len(some), colour.spread(some)) if some else None


def said(one: Lab) -> str:
    """A reading as it is shown everywhere."""
    return f"L* {one.lightness:.1f}, a* {one.a:.1f}, b* {one.b:.1f}"


def field_name(station: int) -> str:
    """The form's field for the reading of one station."""
    return f"{PREFIX}{station}"


@dataclass(slots=True)
class _Form:
    """A form with readings, and what was found in it so far."""

    sent: Mapping[str, list[str]]
    stations: Mapping[int, str] | None
    found: dict[int, list[Lab]] = field(default_factory=dict)
    under: dict[int, Under] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    def one(self, name: str) -> str:
        return next((text.strip() for text in self.sent.get(name, ()) if text.strip()), "")

    def add(self, station: int, labs: Sequence[Lab], under: Under, where: str) -> None:
        """Takes readings of a station, all of which must have been taken the same way."""
        if self.under.setdefault(station, under) != under:
            told = _("The readings of position {number} were taken in two ways: send them apart.")
            self.faults.append(Fault(where, told.format(number=station)))
        self.found.setdefault(station, []).extend(labs)


def read(sent: Mapping[str, list[str]], stations: Mapping[int, str] | None = None, last: str = "") -> dict[str, Any]:
    """The readings in a form as values to keep: `lab` (L*, a*, b* by station; the mean of several), `lab_readings` (the
    single ones of those), `lab_under` (how each was taken) and `lab_conditions` (of all). Refuses all that is wrong.

    Fields: `lab.2` one reading or several of print order 2, `lab_patches` a measurement file, `lab_patch.1` the print
    order that its first patch is of, and how they were taken: `lab_light`, `lab_observer`, `lab_mode`,
    `lab_instrument`, or all of it in `lab_conditions`. `stations`: those that print, with their names; others are
    refused. `last`: how the last readings of the shop were taken, for the question where nothing is said.
    """
    form = _Form(sent, stations)
    how, asked = _how(form)
    _typed(form, how)
    _from_file(form, how)
    if form.found and not form.faults:
        form.faults += asked or _asked(form, last)
    if form.faults:
        raise Refused(form.faults)
    if not form.found:
        return {}
    found, said = sorted(form.found.items()), {station: under.said for station, under in form.under.items()}
    several = {str(station): [_numbers(one) for one in labs] for station, labs in found if len(labs) > 1}
    values: dict[str, Any] = {"lab": {str(station): _numbers(colour.mean(labs)) for station, labs in found}}
    if several:
        values["lab_readings"] = several
    values["lab_under"] = {str(station): text for station, text in sorted(said.items())}
    values[CONDITIONS] = "; ".join(dict.fromkeys(said.values()))
    return values


def _numbers(one: Lab) -> list[float]:
    return [round(part, 4) for part in (one.lightness, one.a, one.b)]


def _how(form: _Form) -> tuple[Under, list[Fault]]:
    """How the readings were taken, by the form; what is to be asked where some of it is told in fields and not all."""
    told = [form.one(name) for name, _word, _choices in PARTS]
    if not any(told):
        return under_of(form.one(CONDITIONS)), []
    faults = []
    for (name, word, choices), text in zip(PARTS, told, strict=True):
        if not text:
            told_of = _("{what}: say it too, so that the next print can be compared.")
            faults.append(Fault(name, told_of.format(what=_(word))))
        elif choices and text not in choices:
            faults.append(Fault(name, _("One of: {choices}.").format(choices=", ".join(choices))))
        elif len(text) > MOST_LETTERS:
            faults.append(Fault(name, _("At most {n} letters.").format(n=MOST_LETTERS)))
    return Under(*told), faults


def _typed(form: _Form, how: Under) -> None:
    for name, texts in form.sent.items():
        told = [one.strip() for one in texts if one.strip()]
        text = ("\n" if any(map(colour_file.is_one, told)) else " ").join(told)
        if not name.startswith(PREFIX) or not text:
            continue
        number = name.removeprefix(PREFIX)
        if not counted(number) or (form.stations is not None and counted(number) not in form.stations):
            message = _("Nothing is printed there: give readings by position.")
            form.faults.append(Fault(name, message))
            continue
        try:
            if colour_file.is_one(text):
                form.add(counted(number), *_one_colour(text, how), name)
            else:
                form.add(counted(number), colour_text.readings(text), how, name)
        except ValueError as fault:
            form.faults.append(Fault(name, str(fault)))


def _one_colour(text: str, how: Under) -> tuple[list[Lab], Under]:
    """A file whose patches are all of one colour, and how they were taken. ValueError: what is wrong with it."""
    measured = colour_file.read(text)
    if measured.faults:
        raise ValueError(" ".join(measured.faults))
    if len({folded(one.name) for one in measured.patches if counted(one.name, -1) < 0}) > 1:
        raise ValueError(_("These are patches of several names: send them as a measurement file."))
    return [one.lab for one in measured.patches], _told(measured).over(how)


def _told(measured: colour_file.Measured) -> Under:
    """How a file says that it was measured."""
    told = under_of(measured.how)
    return Under(told.light, told.observer, told.mode, measured.instrument[:MOST_LETTERS])


def _from_file(form: _Form, how: Under) -> None:
    text = form.one(PATCHES)
    if not text:
        return
    if not colour_file.is_one(text):
        told = _(
            "This is not a measurement file: it needs BEGIN_DATA_FORMAT, BEGIN_DATA and rows of LAB_L, LAB_A, LAB_B."
        )
        form.faults.append(Fault(PATCHES, told))
        return
    measured = colour_file.read(text)
    form.faults += [Fault(PATCHES, one) for one in measured.faults]
    under = _told(measured).over(how)
    for patch in measured.patches:
        name = f"{PATCH}{patch.number}"
        station = _station_of(patch, form.one(name), form.stations or {})
        if station is None:
            told = _("Which colour is patch {number} “{name}” (L* {l:g}, a* {a:g}, b* {b:g})?")
            one = patch.lab
            said = told.format(number=patch.number, name=patch.name or "–", l=one.lightness, a=one.a, b=one.b)
            form.faults.append(Fault(name, said))
        elif station:
            form.add(station, [patch.lab], under, PATCHES)


def _station_of(patch: colour_file.Patch, said: str, stations: Mapping[int, str]) -> int | None:
    """The station that a patch is of (0: of none): as somebody `said`, else by its name; None: nobody can tell.

    A bare number names nothing: instruments count their patches, in whatever order they were read.
    """
    if said == NO_COLOUR:
        return 0
    if counted(said) in stations:
        return counted(said)
    named = [number for number, name in stations.items() if folded(name) == folded(patch.name)]
    if len(named) == 1:
        return named[0]
    return next(iter(stations)) if len(stations) == 1 and (counted(patch.name, -1) >= 0 or not patch.name) else None


def _asked(form: _Form, last: str) -> Iterator[Fault]:
    """The question how readings were taken, where that is not said: a year later nobody knows it."""
    lacks = next((under.lacks for under in form.under.values() if under.lacks), [])
    if lacks:
        told = _("How was it read? Say {missing}, the mode and the instrument, such as D50, 2°, M1, bench meter.")
        again = " " + _("Last time: {last}").format(last=last) if last else ""
        yield Fault(CONDITIONS, told.format(missing=", ".join(lacks)) + again)


BEFORE = "lab_before"
"""Under which an approval has what was read on the garment's earlier prints of its run, by print order the last of each
colour: the target of the next run, where nobody read the print that was approved again."""


def before(known: Mapping[str, Any]) -> dict[str, Any]:
    """What the next approval of a garment has of the readings of those before it (`known`: the last); empty: none."""
    read, found = kept(known), {**known.get(BEFORE, {})}
    for number, one in read.readings.items():
        found[str(number)] = {
            "lab": [one.lightness, one.a, one.b],
            "under": read.read_under(number),
            "readings": [[each.lightness, each.a, each.b] for each in read.several.get(number, ())],
        }
    return {BEFORE: found} if found else {}


def last(values: Mapping[str, Any]) -> KeptReadings:
    """The readings that a repeat is to meet: those of an approval, and of the colours that nobody read then the last of
    the approvals before it."""
    now, earlier = kept(values), values.get(BEFORE, {})
    missing = {number: one for number, one in earlier.items() if counted(number) not in now.readings}
    then = kept(
        {
            "lab": {number: one["lab"] for number, one in missing.items()},
            "lab_readings": {number: one["readings"] for number, one in missing.items() if one["readings"]},
        }
    )
    under = {number: now.read_under(number) for number in now.readings}
    under |= {counted(number): one["under"] for number, one in missing.items()}
    return KeptReadings({**then.readings, **now.readings}, now.conditions, under, {**then.several, **now.several})


def _station(key: str) -> int:
    if (number := counted(key, -1)) < 0:
        raise ValueError(key)
    return number


def kept(values: Mapping[str, Any]) -> KeptReadings:
    """The readings kept with an approval; what cannot be read is left out."""
    found: dict[int, Lab] = {}
    for number, parts in (values.get("lab") or {}).items():
        try:
            found[_station(number)] = Lab(*(float(part) for part in parts))
        except (TypeError, ValueError):
            continue
    several = {}
    for number, some in (values.get("lab_readings") or {}).items():
        try:
            several[_station(number)] = tuple(Lab(*(float(part) for part in parts)) for parts in some)
        except (TypeError, ValueError):
            continue
    under = {
        counted(number): str(text)
        for number, text in (values.get("lab_under") or {}).items()
        if counted(number, -1) >= 0
    }
    return KeptReadings(found, str(values.get(CONDITIONS) or ""), under, several)
