"""The set-up sheet: what it asks per station and of the whole run, its target out of the job sheet, what differs."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from tickets.calculator import several, units
from tickets.calculator import typed as typed_units
from tickets.calculator.numerals import counted, unsure
from tickets.calculator.units import NotAQuantity
from tickets.domain import names, setting, usual
from tickets.domain.jobs.colourways import LOT_OF, OF_INK
from tickets.domain.jobs.job import Placement, Station
from tickets.domain.refusal import Fault
from tickets.domain.runs import first_seen
from tickets.domain.runs.as_run import (
    NOT_MEASURED,
    alike_as,
    field_word,
    form_word,
    pairs,
    side_by_side,
    target_word,
    within,
)
from tickets.domain.separation import folded
from tickets.domain.spec import SHIPPED, Spec
from tickets.i18n import N_
from tickets.i18n import gettext as _

RUN = "run"
"""The name of the whole run beside the numbers of the print order."""
REST = "rest"
"""In the field `noted`: what nobody said yet is claimed to stand as the target, all in one."""
AS_TARGET = "as_target"
"""Marks a part of which somebody claimed so, in `noted_by` of a sheet."""
DOES = {"flash": N_("flash"), "cool": N_("cool")}
MOST = 500
MOST_STROKES = 20


@dataclass(frozen=True, slots=True)
class SheetField:
    """A field of the sheet. `unsure`: a setting that nobody may know, so that “not measured” is an answer too.
    `folded`: for whoever wants it. `lasting`: belongs to this run alone (a lot), so it is no target for the next one.
    `free`: told in words, so that what other runs had is no choice for this one. `seconds`: a time, which can be
    tapped digit by digit. `label`: instead of its word."""

    name: str
    folded: bool = False
    unsure: bool = False
    lasting: bool = True
    hint: str = ""
    choices: Sequence[tuple[str, str]] = ()
    free: bool = False
    seconds: bool = False
    label: str = ""

    @property
    def measured(self) -> bool:
        """Whether it is read off a gauge in this run: then it starts empty, with its target beside it."""
        return self.name in setting.MEASURED

    @property
    def target_word(self) -> str:
        """Its label where a target says it."""
        return target_word(self.name) if self.measured or self.name == "note" else self.word

    @property
    def word(self) -> str:
        """Its label, in the reader's language."""
        return self.label or form_word(self.name)


_DIAL = N_("a number with its unit, or the mark on the press’s dial")
_ORDER = SheetField("order")
_NOTE = SheetField("note", free=True)
STATION: dict[str, tuple[SheetField, ...]] = {
    "print": (
        _ORDER,
        SheetField("squeegee", hint=N_("hardness, edge")),
        SheetField("strokes"),
        SheetField("ink"),
        SheetField("bucket", lasting=False),
        SheetField("ink_lot", lasting=False, hint=N_("of a pot without a tag"), free=True),
        _NOTE,
        SheetField("hardness_measured", True, hint=N_("Shore A, by the gauge")),
        SheetField("angle", True, True, hint=N_("of the blade, in degrees")),
        SheetField("angle_mark", True),
        SheetField("pressure", True, True, hint=_DIAL),
        SheetField("speed", True, True, hint=_DIAL),
        SheetField("flood", True),
        SheetField("off_contact", True, True, hint=N_("from the mesh down to the garment, not to the platen")),
        SheetField("off_contact_measured", True, hint=N_("the same gap, by feeler or gauge block")),
        SheetField("length", True),
        SheetField("recipe", True, hint=N_("grams of each part"), free=True),
        SheetField("additives", True, hint=N_("such as: 2 % retarder"), free=True),
    ),
    "flash": (
        _ORDER,
        SheetField("time", seconds=True),
        SheetField("surface", hint=N_("of the ink, by heat strip or spot thermometer")),
        SheetField("surface_feel", choices=[(key, word) for key, word, _others in reversed(setting.FELT)]),
        _NOTE,
        SheetField("time_cold", True, seconds=True),
        SheetField("time_steady", True, seconds=True),
    ),
    "cool": (_ORDER, SheetField("time", seconds=True), _NOTE),
}
WHOLE = (
    SheetField("garment_lot", lasting=False, hint=N_("from the carton"), free=True),
    SheetField("platen"),
    SheetField("adhesive", hint=N_("which, how often")),
    SheetField("placement", unsure=True, hint=N_("from which seam, how far"), free=True),
    SheetField("belt", True, choices=(("A", N_("belt A")), ("B", N_("belt B")))),
    SheetField("belt_speed", True, hint=N_("a mark timed over a known length")),
    SheetField("belt_set", True, hint=N_("the number on the machine’s own dial")),
    SheetField("set", True, hint=N_("of the panel or the air, as the machine shows it")),
    SheetField("garment_peak", True, hint=N_("of the ink on the garment, not of the panel")),
    SheetField("peak_how", True, hint=N_("probe, heat strip, spot thermometer")),
    SheetField("hold", True, seconds=True),
)
PASSING = frozenset(ask.name for asks in (*STATION.values(), WHOLE) for ask in asks if not ask.lasting)
"""What belongs to one run alone."""
INK_BUCKETS = {
    "discharge": ("discharge ink",),
    "silicone": ("silicone ink", "catalysed ink"),
    "water-base": ("water-base ink", "catalysed ink"),
    "plastisol": ("plastisol ink", "catalysed ink"),
    "low-cure plastisol": ("plastisol ink", "catalysed ink"),
}
"""The kinds of buckets that hold an ink; an ink that is not among these may come out of any."""
MOST_TAPPED_STROKES = 4


def asks_of(station: Station) -> tuple[SheetField, ...]:
    """What the sheet asks of a station."""
    return STATION.get(station.does, STATION["cool"])


def _fields(placement: Placement) -> Iterator[tuple[str, str, tuple[SheetField, ...]]]:
    """Each part of the sheet: its key, how its form fields start, and what it asks."""
    for station in placement.stations:
        yield str(station.number), f"s{station.number}.", asks_of(station)
    yield RUN, f"{RUN}.", WHOLE


def whole_asks(garments: Sequence[str]) -> tuple[SheetField, ...]:
    """What the sheet asks of the whole run; of several garments (by name) the lot of each, in the form's fields by
    their numbers from 1."""
    if len(garments) < 2:
        return WHOLE
    word = _("Garment lot: {garment}")
    lots = [
        replace(WHOLE[0], name=f"{LOT_OF}{number}", label=word.format(garment=name))
        for number, name in enumerate(garments, 1)
    ]
    return (*lots, *WHOLE[1:])


def lots_of(
    settings: dict[str, dict[str, str]], sent: Mapping[str, Sequence[str]], garments: Sequence[str], now: str
) -> None:
    """Fills in the garments' lots of a form (`run.garment_lot.2`: of the second one; without a number that of the
    garment of `now`), each under its garment's name, so that the log reads alone."""
    whole = settings[RUN]
    if len(garments) < 2:
        return
    if now and whole.get("garment_lot"):
        whole[LOT_OF + now] = whole.pop("garment_lot")
    for number, name in enumerate(garments, 1):
        field = f"{RUN}.{LOT_OF}{number}"
        if field in sent:
            whole.pop(LOT_OF + name, None)
            if text := next((text.strip() for text in sent[field] if text.strip()), ""):
                whole[LOT_OF + name] = text


def with_lots(
    settings: Mapping[str, Mapping[str, str]], garments: Sequence[str], now: str
) -> dict[str, dict[str, str]]:
    """Settings with the garments' lots under the names of their form fields, as `lots_of` reads them."""
    found = {key: dict(values) for key, values in settings.items()}
    for number, name in enumerate(garments, 1) if len(garments) > 1 else ():
        whole = found.setdefault(RUN, {})
        lot = whole.get(LOT_OF + name, "") or (whole.get("garment_lot", "") if name == now else "")
        if lot:
            whole[f"{LOT_OF}{number}"] = lot
    return found


# The target out of the job sheet -----------------------------------------------------------------------------------


def of_job(placement: Placement, inks: Mapping[int, str] | None = None) -> dict[str, dict[str, str]]:
    """What the job sheet says in the set-up sheet's fields: by the print order's number, and `run`. `inks`: those that
    the garment takes (`colourways.inks_on`); without them the print orders' own."""
    found = {str(station.number): _of_station(station) for station in placement.stations}
    for station in placement.printing:
        own = found[str(station.number)]
        said = own["ink"] if inks is None else inks.get(station.number, "")
        if said != own["ink"]:
            own.pop("recipe", None)  # of the ink that it doesn't take
            own["ink"] = said
        if not said:
            found[str(station.number)] = {}
    dryer = placement.dryer
    typed = dryer.typed if dryer else {}
    whole = {
        "platen": placement.platen,
        "placement": placement.from_where,
        "belt_speed": _typed(typed, "belt_speed", dryer.belt_speed_m_per_min if dryer else None, "m/min"),
        "set": _typed(typed, "set", dryer.set_c if dryer else None, "°C"),
        "garment_peak": _typed(typed, "garment_peak", dryer.garment_peak_c if dryer else None, "°C"),
        "hold": _typed(typed, "hold", dryer.hold_s if dryer else None, "s"),
    }
    found[RUN] = {name: value for name, value in whole.items() if value}
    return found


def _of_station(station: Station) -> dict[str, str]:
    if not station.prints:
        time = _typed(station.typed, "time", station.time_s, "s")
        known = {"time": time, "surface": station.surface} if station.does == "flash" else {"time": time}
        return setting.sorted_out({name: value for name, value in known.items() if value})
    blade = station.squeegee
    found = {
        "squeegee": " · ".join(part for part in ((blade.hardness, blade.edge) if blade else ()) if part),
        "strokes": str(station.strokes),
        "ink": " · ".join(part for part in (station.colour, station.ink, station.series, station.reference) if part),
    }
    more = {
        "angle": blade.angle if blade else "",
        "angle_mark": blade.angle_mark if blade else "",
        "pressure": blade.pressure if blade else "",
        "speed": blade.speed if blade else "",
        "length": blade.length if blade else "",
        "flood": station.flood,
        "off_contact": _typed(station.typed, "off_contact", station.off_contact_mm, "mm"),
        "recipe": ", ".join(f"{name} {units.said_plainly(grams)} g" for name, grams in station.recipe.items()),
    }
    return found | setting.sorted_out({name: value for name, value in more.items() if value})


def _typed(typed: Mapping[str, Any], name: str, value: float | None, unit: str) -> str:
    """A quantity as the job sheet typed it, where it did."""
    if value is None:
        return ""
    said = typed.get(name)
    if said:
        return unsure(str(said[0])).replace("degC", "°C").replace("degF", "°F")
    return f"{value:g} {unit}"


def onto(
    placement: Placement,
    sheet: Mapping[str, Any],
    was: Placement,
    inks: Mapping[int, str] | None = None,
    was_inks: Mapping[int, str] | None = None,
) -> dict[str, dict[str, str]]:
    """The job sheet's target with what an approved run of the placement `was` was set to (`sheet`).

    Stations are told by what they print. What this order says otherwise than that one did is wanted, so it stays;
    what belongs to that run alone (lots) does not come along. What it did not measure is no target: there the target
    keeps what was known before, of that run's own target or the job sheet; so with a note. What goes with an ink comes
    along only to the same ink: `inks`, `was_inks` are those of the two garments, as `of_job` takes them.
    """
    found, before = of_job(placement, inks), of_job(was, was_inks)
    other = {
        str(now.number)
        for old, now in pairs(was, placement)
        if old and now and now.prints and inks is not None and was_inks is not None
        and inks.get(now.number) != was_inks.get(old.number)
    }  # fmt: skip
    known = sheet.get("target") or {}
    said = parts_of(sheet)
    same = [(RUN, RUN)]
    same += [(str(one.number), str(other.number)) for one, other in pairs(was, placement) if one and other]
    asks = {key: asks for key, _start, asks in _fields(placement)}
    for old, key in same:
        passing = {ask.name for ask in asks[key] if not ask.lasting}
        aim, before_it = found[key], known.get(old) or {}
        kept = {name: str(value) for name, value in before_it.items() if name in setting.MEASURED or name == "note"}
        if inks is not None and key != RUN and not aim and key in other:
            continue  # idle on this garment
        for name, value in {**kept, **_as_measured(said.get(old, {}))}.items():
            if name in OF_INK and key in other:
                continue
            if _not_measured(value):
                value = str(before_it.get(name, ""))
                if not value or _not_measured(value):
                    continue
            if name not in passing and not name.startswith(LOT_OF) and aim.get(name, "") == before[old].get(name, ""):
                aim[name] = value
    return found


def _as_measured(values: Mapping[str, str]) -> dict[str, str]:
    """A part of a sheet as kept, of before marks had their own fields too: what is neither is no target."""
    skipped = {name: value for name, value in values.items() if _not_measured(value)}
    return {**setting.sorted_out({name: value for name, value in values.items() if name not in skipped}), **skipped}


def told(placement: Placement, aim: Mapping[str, Mapping[str, str]]) -> dict[str, list[tuple[str, str]]]:
    """What a target says, part by part (print orders as text, and `run`): each setting by its word, in their order."""
    return {
        key: [(ask.target_word, values[ask.name]) for ask in asks if ask.name != "order" and values.get(ask.name)]
        for key, _start, asks in _fields(placement)
        for values in [aim.get(key, {})]
    }


def _not_measured(value: str) -> bool:
    return folded(value) in {folded(NOT_MEASURED), folded(_(NOT_MEASURED))}


def unmeasured(sheet: Mapping[str, Any]) -> bool:
    """Whether a sheet as kept says of anything that it was not measured."""
    return any(_not_measured(str(value)) for values in parts_of(sheet).values() for value in values.values())


def not_yet(sheet: Mapping[str, Any]) -> list[tuple[str, str, str]]:
    """What the target has of measurements and nobody measured in this run: (print order or `run`, field, target)."""
    said = parts_of(sheet)
    found = []
    for key, aim in (sheet.get("target") or {}).items():
        for name, value in aim.items():
            now = str(said.get(key, {}).get(name, ""))
            if name in setting.SETTINGS and setting.SETTINGS[name].measured and value and not _not_measured(str(value)):
                if not now or _not_measured(now):
                    found.append((key, name, str(value)))
    return found


def parts_noted(sheet: Mapping[str, Any], placement: Placement) -> set[str]:
    """The parts of a sheet that somebody has noted: head by head, or all of them at once."""
    known = {key for key, _start, _asks in _fields(placement)}
    if not sheet:
        return set()
    return (known & set(sheet["noted"]) if "noted" in sheet else known) - set(sheet.get("idle") or ())


@dataclass(frozen=True, slots=True)
class SaidBy:
    """Parts of a sheet that one person noted, or claimed to be as the target all in one (`as_target`), from `since`
    until `until`."""

    who: str
    as_target: bool
    since: str
    until: str
    parts: tuple[str, ...]


def said_by(sheet: Mapping[str, Any], at: str = "") -> list[SaidBy]:
    """Who said the parts of a sheet, what was noted first (`at`: at that time alone). Older sheets did not keep it."""
    found: dict[tuple[bool, str], list[tuple[str, str]]] = {}
    for key, one in (sheet.get("noted_by") or {}).items():
        if not at or one["at"] == at:
            found.setdefault((bool(one.get(AS_TARGET)), str(one.get("who", ""))), []).append((key, str(one["at"])))
    told = []
    for (claimed, who), some in sorted(found.items(), key=lambda one: one[0][0]):
        keys, times = zip(*some, strict=True)
        told.append(SaidBy(who, claimed, min(times), max(times), keys))
    return told


def parts_said(keys: Iterable[str]) -> str:
    """Parts of a sheet in words, by the numbers of the print order."""
    found = set(keys)
    numbers = ", ".join(sorted(found - {RUN}, key=counted))
    orders = _("position {number}").format(number=numbers) if numbers else ""
    return ", ".join(filter(None, (orders, _("the whole run") if RUN in found else "")))


def how_said(one: SaidBy) -> str:
    """How parts of a sheet were said, without who and when."""
    how = _("As the target, not looked at one by one: {parts}") if one.as_target else _("Noted: {parts}")
    return how.format(parts=parts_said(one.parts))


def open_parts(sheet: Mapping[str, Any], placement: Placement) -> list[str]:
    """The parts of a sheet that nobody has noted yet, in the order of the sheet."""
    noted = parts_noted(sheet, placement)
    return [key for key, _start, _asks in _fields(placement) if key not in noted]


def left_open(sheet: Mapping[str, Any], placement: Placement, approved: Mapping[str, Any] | None = None) -> list[str]:
    """The parts of a sheet that somebody began which an approval asks about: open, and not left so by the one before.
    A shop that notes no set-up at all is asked nothing."""
    left = bool(approved) and (approved or {}).get("unnoted") == "leave"
    return [] if left or not sheet else open_parts(sheet, placement)


def part_said(key: str, placement: Placement) -> str:
    """A part of the sheet in words: its print order and what it prints, or the whole run."""
    names = {str(one.number): one.separation if one.prints else _(DOES[one.does]) for one in placement.stations}
    return f"{key}. {names[key]}" if key in names else _("the whole run")


COPIED = frozenset(
    {"squeegee", "strokes", "angle", "angle_mark", "pressure", "speed", "flood", "off_contact", "length", "time"}
)
"""What “same as head N” takes over: how a head is set, not what it prints, what was measured there, or its note."""


def same_as(
    settings: Mapping[str, Mapping[str, str]],
    placement: Placement,
    text: str,
    shown: Mapping[str, Mapping[str, str]] | None = None,
) -> tuple[str, dict[str, str]] | None:
    """The part that is to be set as another one (`3.1`: 3 as 1), and its settings then; None for what is no such pair
    of stations that do the same. What was just typed there, otherwise than the form had it (`shown`; None: as it
    stands), wins."""
    key, _dot, other = text.partition(".")
    does = {str(one.number): one.does for one in placement.stations}
    if key == other or key not in does or does.get(other) != does[key]:
        return None
    mine, had, theirs = settings[key], (shown or settings).get(key, {}), settings[other]
    typed = {name for name in COPIED if mine.get(name, "") != had.get(name, "")}
    own = {name: value for name, value in mine.items() if name not in COPIED or name in typed}
    return key, own | {name: value for name, value in theirs.items() if name in COPIED - typed}


def as_set(aim: Mapping[str, Mapping[str, str]]) -> dict[str, dict[str, str]]:
    """What of a target stands as set before anybody touched the press: no measurement, and no note of another run."""
    skipped = setting.MEASURED | {"note"}
    return {key: {name: value for name, value in values.items() if name not in skipped} for key, values in aim.items()}


Taken = dict[str, dict[str, dict[str, Any]]]
"""Of each measurement who took it and when: by part of the sheet and by field, `who`, `person`, `at`; `before`: the
reading that it came after, with its `value` and the same of it."""


def taken(
    settings: Mapping[str, Mapping[str, str]],
    before: Mapping[str, Mapping[str, str]],
    known: Mapping[str, Mapping[str, Any]],
    by: Mapping[str, Any],
) -> Taken:
    """Who took the measurements among `settings`, and when: what stood there `before` keeps who is `known` to have
    taken it (nobody, on a sheet that did not keep it), what is new is `by` the one who sends it."""
    found: Taken = {}
    for key, values in settings.items():
        for name, value in values.items():
            if name not in setting.MEASURED or _not_measured(value):
                continue
            was = before.get(key, {}).get(name, "")
            if was and (was == value or _reworded(name, was, value)):
                if name in known.get(key, {}):
                    found.setdefault(key, {})[name] = dict(known[key][name])
            else:
                found.setdefault(key, {})[name] = again(by, was, known.get(key, {}).get(name, {}))
    return found


def again(by: Mapping[str, Any], was: str, known: Mapping[str, Any]) -> dict[str, Any]:
    """Who measured something, with the reading `was` that it came after and who is known to have taken that."""
    return {**by, "before": {"value": was, **known}} if was and not _not_measured(was) else dict(by)


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading of something that is measured. Without `who` and `at`: nobody known."""

    value: str
    who: str = ""
    at: str = ""


def readings(value: str, known: Mapping[str, Any]) -> list[Reading]:
    """All readings of a measurement that stands at `value`, the first one first; `known`: as `Taken` has it."""
    found = [Reading(value, str(known.get("who", "")), str(known.get("at", "")))]
    while known.get("before"):
        known = known["before"]
        found.append(Reading(str(known["value"]), str(known.get("who", "")), str(known.get("at", ""))))
    return found[::-1]


def with_later(sheet: Mapping[str, Any], changes: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """A sheet with what was measured first after it was frozen: a measurement changes nothing on the press, so it
    belongs to the settings that were approved. What replaced another measurement stays a change."""
    stations = {key: dict(values) for key, values in (sheet.get("stations") or {}).items()}
    whole, by = dict(sheet.get(RUN) or {}), {key: dict(one) for key, one in (sheet.get("measured") or {}).items()}
    for change in changes:
        name, value, key = str(change.get("field") or ""), change.get("to"), str(change.get("station") or RUN)
        if not value or not first_measured(change):
            continue
        part = whole if key == RUN else stations.setdefault(key, {})
        if part.get(name) and not _not_measured(part[name]):
            continue
        part[name] = str(value)
        if change.get("measured"):
            by.setdefault(key, {})[name] = dict(change["measured"])
    found = {**sheet, "stations": stations, RUN: whole}
    return {**found, "measured": by} if by or "measured" in sheet else found


def by_whom(settings: Mapping[str, Mapping[str, str]], known: Mapping[str, Mapping[str, Any]]) -> list[MeasuredOnce]:
    """The measurements of a set-up by who took them and when, each with what was read, those that were measured again
    too; in the order of time, last those of nobody known."""
    found: dict[tuple[str, str], list[tuple[str, str, str]]] = {}
    for key, values in settings.items():
        for name, value in values.items():
            if name in setting.SETTINGS and setting.SETTINGS[name].measured and not _not_measured(value):
                for one in readings(value, known.get(key, {}).get(name, {})):
                    found.setdefault((one.at, one.who), []).append((key, name, one.value))
    taken = sorted(found.items(), key=lambda one: (not one[0][0], one[0]))
    return [MeasuredOnce(who, at, tuple(some)) for (at, who), some in taken]


@dataclass(frozen=True, slots=True)
class MeasuredOnce:
    """What somebody measured at one time: (print order or `run`, field, what was read) each. Without `who` and `at`:
    nobody known."""

    who: str
    at: str
    what: tuple[tuple[str, str, str], ...]


def first_measured(change: Mapping[str, Any]) -> bool:
    """Whether a change of a run is its first measurement of something, where none was noted before."""
    was = str(change.get("from") or "")
    return change.get("field") in setting.MEASURED and (not was or _not_measured(was))


def taps(
    ask: SheetField, aim: str, now: str, used: Sequence[str], count: int, most: int = 6
) -> list[tuple[str, str]] | None:
    """What can be tapped for a setting where nothing can be typed: (value, as it is said); None: it is written later.

    `aim`: the target; `now`: what stands there; `used`: what the shop set lately; `count`: how many stations there are.
    """
    if ask.choices:
        return list(ask.choices)
    if ask.name == "order":
        return [(str(number), str(number)) for number in range(1, count + 1)]
    if ask.name == "strokes":
        values = [aim, now, *(str(number) for number in range(1, MOST_TAPPED_STROKES + 1))]
        numbers = sorted({counted(text) for text in values if counted(text)})
        return [(str(number), _said_as(str(number), aim)) for number in numbers]
    if ask.free or ask.name == "bucket":
        return None
    values = [aim, now, *used[:most]]
    found = [(text, _said_as(text, aim)) for text in dict.fromkeys(values) if text and text != NOT_MEASURED]
    return found + [(NOT_MEASURED, NOT_MEASURED)] if ask.unsure or ask.measured else found


def _said_as(text: str, aim: str) -> str:
    return _("as target: {value}").format(value=text) if text == aim else text


def _unfit(text: str) -> str:
    """What is wrong with a text of the sheet, whatever it says; empty: nothing."""
    return _("At most {most} characters.").format(most=MOST) if len(text) > MOST else names.unseen(text, lines=True)


# What was sent -------------------------------------------------------------------------------------------------------


def read(
    sent: Mapping[str, Sequence[str]],
    placement: Placement,
    aim: Mapping[str, Mapping[str, str]],
    noted: Mapping[str, Mapping[str, str]] | None = None,
    limits: Spec | None = None,
) -> tuple[dict[str, dict[str, str]], list[Fault]]:
    """The settings in a form, by part of the sheet. What is not sent is as it was `noted` in this run; in a part that
    was not, what is set is as the target `aim` has it, and nothing is measured (`as_set`). Faults beside.

    Fields: `s3.squeegee` for print order 3, `run.platen` for the whole run; `s3.angle.not` = yes: not measured;
    `s2.time.unit` = s: the unit of a number that was tapped digit by digit. `limits`: those of the shop, where what is
    possible and not usual is asked back; None: nothing is.
    """
    found: dict[str, dict[str, str]] = {}
    faults: list[Fault] = []
    known = {start: {ask.name for ask in asks} for _key, start, asks in _fields(placement)}
    for field in sent:
        part, dot, name = field.partition(".")
        if dot and (part == RUN or re.fullmatch("s[0-9]+", part)):
            asked = known.get(f"{part}.")
            if asked is None:
                message = _("The set-up sheet has no such part. Its parts are {parts}.")
                faults.append(Fault(field, message.format(parts=", ".join(one.rstrip(".") for one in known))))
            elif name.partition(".")[0] not in asked:
                message = _("The sheet does not ask this there; it asks {fields}.")
                faults.append(Fault(field, message.format(fields=", ".join(sorted(asked)))))
            faults += [Fault(field, fault) for text in sent[field] if (fault := _unfit(text.strip()))]
    standing = {**as_set(aim), **(noted or {})}
    for key, start, asks in _fields(placement):
        values = dict(standing.get(key, {}))
        for ask in asks:
            field = f"{start}{ask.name}"
            if (ask.unsure or ask.measured) and any(sent.get(f"{field}.not", ())):
                values[ask.name] = NOT_MEASURED
            elif field in sent:
                typed = next((text.strip() for text in sent[field] if text.strip()), "")
                wanted = aim.get(key, {}).get(ask.name, "") or values.get(ask.name, "")
                tapped = next(iter(sent.get(f"{field}.unit", ())), "")
                unit = tapped or _unit_of(values.get(ask.name, "") or wanted)
                try:
                    stands = (aim.get(key, {}).get(ask.name, ""), values.get(ask.name, ""))
                    values[ask.name] = _read(ask, typed, unit, "" if tapped else wanted, limits, stands)
                except NotAQuantity as fault:
                    values[ask.name] = typed
                    faults.append(Fault.of(field, fault))
        strokes = values.get("strokes", "")
        if strokes and not 1 <= counted(strokes) <= MOST_STROKES:
            message = _("Between 1 and {most} strokes, a whole number.").format(most=MOST_STROKES)
            faults.append(Fault(f"{start}strokes", message))
        found[key] = {name: value for name, value in values.items() if value}
    faults += _orders(found, placement)
    return found, faults


def _read(ask: SheetField, text: str, unit: str, aim: str, limits: Spec | None, stands: Sequence[str]) -> str:
    """A setting as it was typed, with its unit. Raises NotAQuantity where it is measured and cannot be right, where its
    target `aim` makes its unit doubtful, and where it is not usual by `limits` and not what stands there (`stands`)."""
    if text and (ask.unsure or ask.measured) and _not_measured(text):
        return NOT_MEASURED
    if ask.name == "squeegee":
        setting.stamped(text)
    if ask.name == "recipe":
        usual.ask_of_recipe(text, several.read_if_amounts(text), None if text in stands else limits)
        return unsure(text)
    if not text or ask.name not in setting.SETTINGS:
        return f"{text} {unit}" if unit and re.fullmatch(NUMBER, text) else text
    if setting.is_mark(ask.name, text):
        if not unit or not re.fullmatch(NUMBER, text):
            return text
        kind = setting.SETTINGS[ask.name].kind
        if own := units.unit_named(unit, kind):
            typed_units.sure_of_unit(text, kind, own, aim)
        return f"{text} {unit}"
    return setting.read(ask.name, text, unit, aim, limits, stands)[1]


NUMBER = "[0-9]+(?:[.,][0-9]+)?"


def _unit_of(aim: str) -> str:
    """The unit of a target that is one number with one, such as 152 °C: a bare number in its place has the same."""
    found = re.fullmatch(rf"{NUMBER}\s*([^\d\s·,;]+)", aim)
    return found[1] if found else ""


def _orders(found: Mapping[str, dict[str, str]], placement: Placement) -> Iterator[Fault]:
    """Print orders as run: whole numbers, each once; one that is as on the job sheet says nothing, so is not kept."""
    taken: dict[int, int] = {}
    for station in placement.stations:
        values = found[str(station.number)]
        text = values.get("order", str(station.number))
        if not 1 <= counted(text) <= 60:
            yield Fault(f"s{station.number}.order", _("A whole number from 1 to 60 would do."))
            continue
        if counted(text) in taken:
            message = _("Position {number} is taken by {other}: each comes once.")
            yield Fault(f"s{station.number}.order", message.format(number=counted(text), other=taken[counted(text)]))
        taken.setdefault(counted(text), station.number)
        if counted(text) == station.number:
            values.pop("order", None)


# What differs --------------------------------------------------------------------------------------------------------


def parts_of(sheet: Mapping[str, Any]) -> dict[str, Mapping[str, str]]:
    """A sheet as kept, by its parts: the numbers of the print order as text, and `run`."""
    found: dict[str, Mapping[str, str]] = dict(sheet.get("stations") or {})
    if sheet.get(RUN):
        found[RUN] = sheet[RUN]
    return found


def differences(
    sheet: Mapping[str, Any], limits: Spec = SHIPPED, system: str = "metric"
) -> list[tuple[str, str, str, str]]:
    """What was run otherwise than the target, in the order of `first_seen`: (print order or `run`, field, target, as
    run).

    Quantities are as the target within what `limits` allow (`small`). Where the target says nothing there is nothing to
    meet; a setting that is “not measured” is said, since nobody knows; what was not measured yet is not otherwise
    (`not_yet`). A quantity that stands in two units is said in one, that of `system`.
    """
    found = [one for one in _otherwise(sheet) if _unlike(one[1], one[2], one[3], limits)]
    return [(key, name, *side_by_side(was, now, system)) for key, name, was, now in found]


def _unlike(name: str, was: str, now: str, limits: Spec) -> bool:
    """Whether a setting reads otherwise than its target; how ink felt, in words that nobody can compare, does not."""
    alike = alike_as(name, was, now, limits)
    return alike is False or (alike is None and name != "surface_feel")


def small(
    sheet: Mapping[str, Any], limits: Spec = SHIPPED, system: str = "metric"
) -> list[tuple[str, str, str, str, str]]:
    """What was run otherwise by no more than the shop calls the same: as `differences`, and the limit as it is said."""
    return [
        (key, name, *side_by_side(was, now, system), limit)
        for key, name, was, now in _otherwise(sheet)
        if (limit := within(name, was, now, limits, system))
    ]


def _otherwise(sheet: Mapping[str, Any]) -> list[tuple[str, str, str, str]]:
    """What reads otherwise than the target."""
    found = []
    aims = sheet.get("target") or {}
    for key, as_run in parts_of(sheet).items():
        aim = aims.get(key) or {}
        for name in dict.fromkeys((*aim, *as_run)):
            was, now = str(aim.get(name, "")), str(as_run.get(name, ""))
            if name == "order":
                was = was or key
                now = now or key
            if name in setting.MEASURED and (not now or _not_measured(now)):
                continue
            if was and was != now and name not in {"bucket", "ink_lot", "note"}:
                found.append((key, name, was, now))
    return first_seen.in_order(found, lambda one: one[1], lambda one: counted(one[0]))


SET_AND_MEASURED = (
    ("off_contact", "off_contact_measured"),
    ("squeegee", "hardness_measured"),
    ("belt_set", "belt_speed"),
)
"""What is set, and what a gauge then reads of the very same thing."""
_GAUGED, _READ = N_("{where}, {setting}: set {set}, gauged {read}"), N_("{where}, {setting}: {set}, measured {read}")
_STAMP = re.compile(r"\s*([0-9]+)(?:/[0-9]+)*\s*(?:$|·|A\b|Shore\b)")


def set_apart(
    settings: Mapping[str, Mapping[str, str]],
    measured: Mapping[str, Mapping[str, Any]],
    placement: Placement,
    limits: Spec = SHIPPED,
    system: str = "metric",
) -> str:
    """In one sentence what was measured otherwise than it is set, by more than `limits` call the same; empty where
    nothing was. A blade of several layers prints with its outer one, so `70/90/70` is a 70. `measured`: of which
    measurements somebody is known to have taken them; others may be copies and tell nothing."""
    told = []
    for key, values in settings.items():
        for set_name, name in SET_AND_MEASURED:
            stands, read = str(values.get(set_name, "")), str(values.get(name, ""))
            compared = stands
            if set_name == "squeegee":
                stands = stands.split("·")[0].strip()
                stamp = _STAMP.match(stands)
                compared = stamp[1] if stamp else ""
            if name not in measured.get(key, {}) or setting.same(name, compared, read, limits) is not False:
                continue
            if compared == stands:
                stands, read = side_by_side(stands, read, system)
            where = part_said(key, placement)
            said = _(_GAUGED if set_name == "off_contact" else _READ)
            told.append(said.format(where=where, setting=field_word(set_name), set=stands, read=read))
    return _("Set and measured apart: {told}.").format(told="; ".join(told)) if told else ""


def apart_of(sheet: Mapping[str, Any], placement: Placement, limits: Spec, system: str) -> str:
    """`set_apart` of a sheet as it is kept."""
    return set_apart(parts_of(sheet), sheet.get("measured") or {}, placement, limits, system)


_EXACT = Spec(())


def _reworded(name: str, was: str, now: str) -> bool:
    """Whether a measured setting is the very same one, said in another unit: nobody changed it on the press."""
    return setting.same(name, str(was), str(now), _EXACT) is True


def numbers_of(settings: Mapping[str, Mapping[str, str]]) -> dict[str, dict[str, float]]:
    """The measured settings of a sheet as numbers in the unit of their names (`garment_peak_c`), by its parts."""
    return {key: found for key, values in settings.items() if (found := setting.numbers(values))}


def changed(
    before: Mapping[str, Mapping[str, str]], after: Mapping[str, Mapping[str, str]]
) -> list[tuple[str, str, str, str]]:
    """What differs between two states of one run's sheet: (print order or `run`, field, from, to); the run last."""
    found = []
    for key in sorted({*before, *after}, key=lambda one: (one == RUN, counted(one))):
        was, now = before.get(key, {}), after.get(key, {})
        for name in dict.fromkeys((*was, *now)):
            if was.get(name, "") != now.get(name, "") and not _reworded(name, was.get(name, ""), now.get(name, "")):
                found.append((key, name, str(was.get(name, "")), str(now.get(name, ""))))
    return found
