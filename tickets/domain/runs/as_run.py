"""A run as it was approved, and its settings read leniently: what a repeat is compared with."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from tickets.calculator import kinds, several, units
from tickets.calculator import typed as typed_units
from tickets.domain import setting
from tickets.domain.code import shown
from tickets.domain.jobs.colourways import GARMENT, LOT_OF
from tickets.domain.jobs.job import Garment, Job, Placement, Station
from tickets.domain.separation import folded
from tickets.domain.spec import SHIPPED, Spec
from tickets.i18n import N_
from tickets.i18n import gettext as _


class SettingWords(NamedTuple):
    """How a setting is called: in a sentence; on the form and on paper, where a shorter word stands under its head."""

    said: str
    form: str = ""
    paper: str = ""


FIELDS: dict[str, SettingWords] = {
    "head": SettingWords(N_("Head")),
    "ink": SettingWords(N_("Ink")),
    "recipe": SettingWords(N_("Recipe")),
    "additives": SettingWords(N_("Additives")),
    "ink_lot": SettingWords(N_("Ink lot"), paper=N_("Ink lot or bucket")),
    "bucket": SettingWords(N_("Ink bucket")),
    "strokes": SettingWords(N_("Strokes")),
    "flood": SettingWords(N_("Flood")),
    "squeegee": SettingWords(N_("Squeegee"), form=N_("Squeegee, as stamped")),
    "hardness": SettingWords(N_("Squeegee hardness as stamped")),
    "hardness_measured": SettingWords(
        N_("Squeegee hardness as measured"), form=N_("Hardness as measured"), paper=N_("Shore, measured")
    ),
    "angle": SettingWords(N_("Squeegee angle"), form=N_("Angle"), paper=N_("Angle")),
    "angle_mark": SettingWords(N_("Squeegee angle, mark on the press"), form=N_("Angle, mark on the press")),
    "edge": SettingWords(N_("Squeegee edge")),
    "length": SettingWords(N_("Squeegee length"), form=N_("Length of the blade")),
    "pressure": SettingWords(N_("Squeegee pressure"), form=N_("Pressure"), paper=N_("Pressure")),
    "speed": SettingWords(N_("Squeegee speed"), form=N_("Speed"), paper=N_("Speed")),
    "off_contact": SettingWords(N_("Off-contact, to the garment"), paper=N_("Off-contact")),
    "off_contact_measured": SettingWords(N_("Off-contact as gauged"), paper=N_("Gap, gauged")),
    "time": SettingWords(N_("Flash or cool-down time"), form=N_("Time"), paper=N_("Time")),
    "time_cold": SettingWords(N_("Flash time, cold start"), form=N_("Time at a cold start"), paper=N_("Cold start")),
    "time_steady": SettingWords(N_("Flash time, steady"), form=N_("Time once it is steady"), paper=N_("Steady")),
    "surface": SettingWords(N_("Surface after the flash"), form=N_("Surface, measured"), paper=N_("Surface")),
    "surface_feel": SettingWords(N_("Surface after the flash, by touch"), form=N_("Surface, by touch")),
    "platen": SettingWords(N_("Platen")),
    "adhesive": SettingWords(N_("Adhesive")),
    "placement": SettingWords(N_("Placement, from a seam"), paper=N_("From which seam, how far")),
    "garment_lot": SettingWords(N_("Garment lot")),
    "belt": SettingWords(N_("Belt"), paper=N_("Belt A or B")),
    "belt_speed": SettingWords(
        N_("Belt speed as measured"), form=N_("Belt speed, measured"), paper=N_("Belt speed, measured")
    ),
    "belt_set": SettingWords(N_("Belt speed as set"), form=N_("Belt speed, on the dial"), paper=N_("Belt, set")),
    "set": SettingWords(N_("Dryer setting"), form=N_("Dryer, set"), paper=N_("Dryer, set")),
    "garment_peak": SettingWords(N_("Garment peak")),
    "peak_how": SettingWords(
        N_("How the peak was measured"), form=N_("Peak measured how"), paper=N_("Peak measured how")
    ),
    "hold": SettingWords(N_("Held at the peak"), form=N_("Held at the peak for")),
    "note": SettingWords(N_("Note")),
}
"""Settings that a set-up sheet may hold, in the order in which they are read; others are shown by their name."""

NOT_MEASURED = N_("not measured")
AT_SET_UP = N_("noted at set-up")
"""Said of what an older sheet has, which does not say (`measured`) who measured what: never taken for measured."""
"""Of a measurement on a sheet of before each carried who took it and when: it may be the target's, copied."""

OTHER_WORDS: dict[str, str] = {
    "art": N_("Artwork"),
    "size": N_("Print size"),
    "garment": N_("Garment"),
    "press": N_("Press"),
    "order": N_("Position"),
    "screen": N_("Screen"),
    "mesh": N_("Mesh"),
    "tension": N_("Tension, mean"),
    "tension_low": N_("Tension, lowest reading"),
    "exposure": N_("Exposure"),
    "step_held": N_("Step held at the washout"),
    "emulsion": N_("Emulsion"),
    "colour": N_("Colour, L* a* b*"),
    "approved": N_("Approved by"),
    "drift": N_("Colour against the first measured print"),
    "changed": N_("Changed during the run"),
    "impressions": N_("Impressions of each screen"),
    "screen_other": N_("Another screen that printed"),
    "went_on": N_("Then printed on"),
}


TARGET_WORDS: dict[str, str] = {
    "hardness_measured": N_("Squeegee hardness to reach"),
    "off_contact_measured": N_("Off-contact to gauge"),
    "time_cold": N_("Flash time, cold start, to reach"),
    "time_steady": N_("Flash time, steady, to reach"),
    "surface": N_("Surface to reach"),
    "surface_feel": N_("Surface to reach, by touch"),
    "belt_speed": N_("Belt speed to reach"),
    "garment_peak": N_("Garment peak to reach"),
    "peak_how": N_("Peak measured last by"),
    "hold": N_("Hold to reach"),
    "note": N_("Note of an earlier run"),
}
"""What is measured, and the note, as a target says it: nobody has measured that in this run."""


def target_word(name: str) -> str:
    """How a setting is called where a target says it, in the reader's language."""
    return _(TARGET_WORDS[name]) if name in TARGET_WORDS else field_word(name)


def note_told(note: str, notes: Mapping[str, int]) -> str:
    """A note that an earlier run left, as a target on paper says it: never as if it were one of this order. `notes`: in
    which run each was noted, where that is known."""
    if not note:
        return ""
    if run := notes.get(note):
        return _("note of run {number}: {note}").format(number=run, note=note)
    return _("note of an earlier run: {note}").format(note=note)


def field_word(name: str) -> str:
    """How a setting is called, in the reader's language."""
    if name.startswith(LOT_OF):
        return _("Garment lot: {garment}").format(garment=name.removeprefix(LOT_OF))
    known = FIELDS[name].said if name in FIELDS else OTHER_WORDS.get(name)
    return _(known) if known else name.replace("_", " ")


def form_word(name: str) -> str:
    """How a setting is called where it is filled in, in the reader's language."""
    known = FIELDS.get(name)
    return _(known.form) if known and known.form else field_word(name)


def paper_word(name: str) -> str:
    """How a setting is called on a set-up sheet, in the reader's language."""
    known = FIELDS.get(name)
    return _(known.paper) if known and known.paper else field_word(name)


def noted_since(name: str, value: str) -> str:
    """A setting that the approval left open and that somebody noted later: nobody says that it was changed then."""
    return _("{setting}: {value}, noted only after the approval").format(setting=field_word(name), value=value)


def changed(name: str, was: str, to: str) -> str:
    """A setting that is otherwise than it was, or than its target, as log, pages, commands and papers say it; paper has
    no arrows."""
    return _("{setting} from {was} to {to}").format(setting=field_word(name), was=was or "–", to=to or "–")


# What was printed ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ScreenThen:
    """A screen as it hung in a run: its mesh, its last tension reading (N/cm), how its stencil was made and when
    (`made_at`; empty: not known)."""

    screen: int
    code: str
    mark: str = ""
    mesh: str = ""
    count_per_cm: float | None = None
    thread_um: float | None = None
    mean_n_per_cm: float | None = None
    minimum_n_per_cm: float | None = None
    exposure_s: float | None = None
    exposure_units: float | None = None
    step_held: float | None = None
    emulsion: str = ""
    made_at: str = ""


@dataclass(frozen=True, slots=True)
class Changed:
    """What was set otherwise after the approval, and why. `station` 0: of the whole placement. `name`: the setting;
    empty where the change was told in words alone (`what`). `outside`: what the customer is told instead, of those and
    of a setting that is the shop's own business. `garment`: on to the next garment that was ordered, which is no change
    of the print."""

    station: int
    what: str
    name: str = ""
    was: str = ""
    to: str = ""
    why: str = ""
    outside: str = ""
    garment: str = ""

    @property
    def late(self) -> bool:
        """Whether it is no change that anybody tells of: a setting that the approval left open, noted later."""
        return bool(self.name) and not self.was and not self.why

    def said(self, reason: bool = True) -> str:
        """The change in words, with its reason in brackets."""
        told = self.what
        if self.name:
            was, to = (_(NOT_MEASURED) if text == NOT_MEASURED else text for text in (self.was, self.to))
            told = noted_since(self.name, to or "–") if self.late else changed(self.name, was, to)
        return f"{told} ({self.why})" if reason and self.why else told


@dataclass(frozen=True, slots=True)
class Printed:
    """A screen that printed in a run, as it was when it was hung, with its impressions there (0: nobody counted).
    `other`: than the one that hung when the print was approved last, which the settings tell of."""

    screen: ScreenThen
    impressions: int = 0
    other: bool = False

    @property
    def name(self) -> str:
        """As people of the shop call it: its mark, else its code."""
        return self.screen.mark or shown(self.screen.code)


@dataclass(frozen=True, slots=True)
class AsRun:
    """A run as it was approved: its job and placement, the press by name, the set-up sheet as run (`stations`: by the
    print order's number as text), the approval, screens and heads by print order; `changes`: made after it.

    For a comparison also what followed: `printed`, by print order every screen that printed, in the order of hanging;
    `during`, every change of the run: settings, screens, garments, what was told in words."""

    run: int
    code: str
    job: Job
    placement: Placement
    press: str = ""
    day: str = ""
    sheet: Mapping[str, Any] = field(default_factory=dict)
    approved: Mapping[str, Any] | None = None
    screens: Mapping[int, ScreenThen] = field(default_factory=dict)
    heads: Mapping[int, int | None] = field(default_factory=dict)
    changes: tuple[Changed, ...] = ()
    printed: Mapping[int, tuple[Printed, ...]] = field(default_factory=dict)
    during: tuple[Changed, ...] = ()

    def screens_of(self, station: int) -> list[ScreenThen]:
        """The screens that printed there; before anything is counted, the one of the approval."""
        approved = self.screens.get(station)
        return [one.screen for one in self.printed.get(station, ())] or ([approved] if approved else [])

    def settings(self, station: int) -> Mapping[str, str]:
        """What a station was run with, by field."""
        return texts_of((self.sheet.get("stations") or {}).get(str(station)) or {})

    def said(self, part: str, name: str, value: str) -> str:
        """A setting as it is known: a measurement whose taking is on no record says so."""
        return value if proved(self.sheet, part, name, value) else with_doubt(value)


def proved(sheet: Mapping[str, Any], part: str, name: str, value: str) -> bool:
    """Whether what a sheet has of a setting (`part`: the print order as text, or `run`) is what it says it is: set, or
    measured in that run by somebody. False of what an older sheet has as measured: the target's may have been copied
    there, and no log can tell."""
    known = sheet.get("measured")
    if name not in setting.MEASURED or _unknown(value):
        return True
    return isinstance(known, Mapping) and name in (known.get(part) or {})


BESIDE = frozenset(
    {"stations", "target", "target_from", "target_run", "version", "picture", "panel", "numbers", "measured", "noted",
     "noted_by", "test_prints", "idle", GARMENT}
)  # fmt: skip
"""What a sheet keeps beside its settings."""


def doubt_said() -> str:
    """What “noted at set-up” means, once on a page or paper that has it."""
    return _(
        "“{how}”: that set-up sheet did not keep who took each measurement. The value may have been carried over from "
        "the target, so nobody knows whether it was measured in that run."
    ).format(how=_(AT_SET_UP))


def with_doubt(value: str) -> str:
    """A measurement that nobody is known to have taken, as it reads everywhere."""
    return _("{value} ({how})").format(value=value, how=_(AT_SET_UP))


def texts_of(values: Mapping[str, Any]) -> dict[str, str]:
    """What is said in plain texts and numbers among `values`."""
    return {name: str(value) for name, value in values.items() if isinstance(value, (str, int, float)) and value != ""}


def pairs(old: Placement, new: Placement) -> list[tuple[Station | None, Station | None]]:
    """The stations of two sheets that are the same one, in the new print order, those that are gone last.

    A printing station is known by its separation (the second one of a name by being the second), a flash or cooling
    one by how many came before it.
    """
    left = list(old.stations)
    found: list[tuple[Station | None, Station | None]] = []
    for station in new.stations:
        like = next((one for one in left if _sort(one) == _sort(station)), None)
        if like is not None:
            left.remove(like)
        found.append((like, station))
    return found + [(one, None) for one in left]


def _sort(station: Station) -> tuple[str, str]:
    return station.does, folded(station.separation) if station.prints else ""


def named(station: Station) -> str:
    """What a station prints, or does."""
    return station.separation if station.prints else _(station.does)


def fibre_said(garment: Garment) -> str:
    """The fibres with their shares."""
    return ", ".join(f"{share:g} % {kinds.fibre_said(name)}" for name, share in garment.fibre.items())


# Reading texts as numbers, leniently ---------------------------------------------------------------------------------

_PARTS = re.compile(r"\s*(?:·|;|×|,(?!\d))\s*")


def _unknown(*texts: str) -> bool:
    unknown = {"", "–", folded(NOT_MEASURED), folded(_(NOT_MEASURED))}
    return any(folded(text) in unknown for text in texts)


def alike(a: str, b: str) -> bool | None:
    """Whether two settings as noted are the same, whatever their spelling; None where one of them is not known."""
    if _unknown(a, b):
        return None
    if folded(a) == folded(b):
        return True
    parts = [_PARTS.split(text.strip()) for text in (a, b)]
    if len(parts[0]) != len(parts[1]):
        return False
    return all(_same(one, other) for one, other in zip(*parts, strict=True))


def within(name: str, a: str, b: str, limits: Spec = SHIPPED, system: str = "metric") -> str:
    """The limit that makes two settings one which read differently, as it is said; empty where they do not differ, or
    differ by more."""
    return "" if _unknown(a, b) else setting.within(name.rpartition(".")[2], a, b, limits, system)


def alike_as(name: str, a: str, b: str, limits: Spec = SHIPPED) -> bool | None:
    """As `alike`, for the setting `name`: what is measured is the same within what `limits` allow, a recipe mixed for
    another number of pieces is the same recipe."""
    if not _unknown(a, b):
        measured = setting.same(name.rpartition(".")[2], a, b, limits)
        if measured is not None:
            return measured
    if name.rpartition(".")[2] == "surface_feel" and not _unknown(a, b) and folded(a) != folded(b):
        one, two = setting.felt(a), setting.felt(b)
        return one == two if one and two else None  # other words are no difference that anybody could see
    if name == "recipe":
        shares = [_shares(text) for text in (a, b)]
        if shares[0] and shares[1]:
            return shares[0] == shares[1]
    return alike(a, b)


def _shares(recipe: str) -> dict[str, float]:
    """Each part of `base 940 g, activator 60 g` in per cent of the whole; empty where it does not read so."""
    try:
        grams = {
            folded(name): units.convert(*typed_units.read_value(amount, "mass", "g", kept=True), "g")
            for name, amount in several.amounts(recipe).items()
        }
    except units.NotAQuantity:
        return {}
    whole = sum(grams.values())
    return {name: round(100 * part / whole, 1) for name, part in grams.items()} if whole else {}


def _same(a: str, b: str) -> bool:
    if folded(a) == folded(b):
        return True
    far = _far(a, b)
    return far is not None and abs(far[0]) <= 1e-9 * max(1.0, abs(far[2]))


_MARKS = re.compile(r"(\s*(?:·|;|×|,(?!\d))\s*)")


def side_by_side(a: str, b: str, system: str) -> tuple[str, str]:
    """Two settings as they are said beside each other: as they were typed, but a quantity that stands in two units in
    one, that of `system`, so that the numbers can be compared."""
    if _unknown(a, b):
        return a, b
    one, other = _MARKS.split(a.strip()), _MARKS.split(b.strip())
    if len(one) != len(other):
        return a, b
    both = [_in_one_unit(*each, system) for each in zip(one, other, strict=True)]
    return "".join(each[0] for each in both), "".join(each[1] for each in both)


def _in_one_unit(a: str, b: str, system: str) -> tuple[str, str]:
    one, other = _read(a), _read(b)
    if one is None or other is None or one[1] == other[1]:
        return a, b
    for kind in units.KINDS.values():
        if one[1] in kind.units and other[1] in kind.units:
            unit = units.unit_in(other[1], system)
            values = [units.convert(value, typed, unit) for value, typed in (one, other)]
            said = tuple(units.show_value(value, unit, system) for value in values)
            # two that differ are never said alike
            return (said[0], said[1]) if said[0] != said[1] or _same(a, b) else (a, b)
    return a, b


def signed(number: str) -> str:
    """A difference as it is said, with its sign: a true minus, since a hyphen looks like a dash."""
    return f"−{number[1:]}" if number.startswith("-") else f"+{number}"


def how_far(a: str, b: str) -> str:
    """By how much two settings differ, in the unit of the later one: `+5`, `−1 s`; empty where they are no numbers."""
    parts = [_PARTS.split(text.strip()) for text in (a, b)]
    if len(parts[0]) != len(parts[1]):
        return ""
    found = []
    for one, other in zip(*parts, strict=True):
        if not _same(one, other):
            far = _far(one, other)
            if far is None:
                return ""
            found.append(signed(" ".join(filter(None, (units.number_text(far[0]), far[1])))))
    return ", ".join(found)


def _far(a: str, b: str) -> tuple[float, str, float] | None:
    """The difference in the unit of `b`, that unit as it is shown, and `b`; None where they are not of one kind."""
    one, other = _read(a), _read(b)
    if one is None or other is None:
        return None
    (value, unit), (later, unit_now) = one, other
    if unit == unit_now:
        return later - value, units.unit_text(unit_now), later
    for kind in units.KINDS.values():
        if unit in kind.spellings and unit_now in kind.spellings:
            return later - units.convert(value, unit, unit_now), units.unit_text(unit_now), later
    return None


def _read(text: str) -> tuple[float, str] | None:
    """A number and our name of its unit, or the text behind it where that is no unit of ours (a dial mark)."""
    for kind in ("length", "time", "temperature", "speed", "angle", "percent", "mass", "tension", "mesh count"):
        if typed_units.is_quantity(text, kind):
            try:
                return typed_units.read_value(text, kind, kept=True)
            except units.NotAQuantity:
                return None
    digits, spelling = units.split(text)
    try:
        value = units.number(digits, point=True)
    except units.NotAQuantity:
        return None
    if "/" in spelling[:2] and not spelling.startswith("/in"):  # 70/90/70 is a blade, 3/16 a fraction
        return None if spelling[1:2].isdigit() else (value, spelling)
    return value, folded(spelling)
