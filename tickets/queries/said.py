"""What a line of the log says: what was done, and its values in the reader's units, zone and language. One function for
pages and commands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from tickets.calculator import typed as typed_units
from tickets.calculator import units
from tickets.calculator.colour import Lab
from tickets.domain.bucket import Bucket, hours_past
from tickets.domain.code import shown
from tickets.domain.entry import Entry, read_stamp, stamp
from tickets.domain.papers.ticket import with_signs
from tickets.domain.refusal import Refused
from tickets.domain.runs import lab, setup
from tickets.domain.runs.as_run import changed, noted_since
from tickets.domain.runs.run import COLOURWAY, UNCOUNTED
from tickets.domain.stages import STANDING_WORDS
from tickets.domain.steps import BUCKET_STEPS, RUN_STEPS, SCREEN_STEPS, Step
from tickets.i18n import N_, day_text
from tickets.i18n import gettext as _
from tickets.i18n.spans import passed_said
from tickets.queries import find, heads, shop_rules
from tickets.queries.shop_rules import the_spec, zone
from tickets.store import buckets, entries, jobs, places


@dataclass(frozen=True, slots=True)
class Reader:
    """For whom a line is said: the shop, its units and zone, and the time that it is."""

    db: Database
    system: str
    zone: ZoneInfo
    now: datetime

    @classmethod
    def of(cls, db: Database, now: datetime) -> Reader:
        """Whoever reads in this shop."""
        return cls(db, shop_rules.units_read(db), zone(db), now)

    def time(self, at: datetime | str) -> str:
        """A time in the shop's zone: `3 Mar, 14:05`, with the year where it is another one."""
        local = moment(at).astimezone(self.zone)
        return _("{day}, {time}").format(day=self._day(local), time=f"{local.hour:02}:{local.minute:02}")

    def day(self, at: datetime | str) -> str:
        """A day in the shop's zone, `3 Mar`, with the year where it is another one. A bare date is taken as it is."""
        bare = isinstance(at, str) and len(at) == 10
        return self._day(datetime.fromisoformat(str(at)) if bare else moment(at).astimezone(self.zone))

    def _day(self, at: datetime) -> str:
        return day_text(at.date(), self.now.astimezone(self.zone).date())


def moment(at: datetime | str) -> datetime:
    """A time, also one that is stored as text, with its zone."""
    found = read_stamp(at) if isinstance(at, str) else at
    return found if found.tzinfo else found.replace(tzinfo=UTC)


def step_of(entry: Entry) -> Step | None:
    """The step of an entry; a run and a bucket have steps of their own."""
    if entry.screen is not None:
        return SCREEN_STEPS.get(entry.step)
    return (BUCKET_STEPS if entry.bucket is not None else RUN_STEPS).get(entry.step)


def title(entry: Entry) -> str:
    """What was done, in a word or two."""
    if entry.step == "probe":
        return _("Probe run kept")
    step = step_of(entry)
    return _(step.done) if step else entry.step


def text(reader: Reader, entry: Entry, *, without: tuple[str, ...] = ()) -> str:
    """What was measured, set and noted, in one text; `without`: fields that need not be said there."""
    return joined(values(reader, entry, without=without))


def line(reader: Reader, entry: Entry, *, without: tuple[str, ...] = ()) -> str:
    """What was done, and what was measured, set and noted with it."""
    told = text(reader, entry, without=without)
    return f"{title(entry)}: {told}" if told else title(entry)


def joined(said: tuple[tuple[str, str], ...]) -> str:
    """The values of a line in one text."""
    return " · ".join(f"{label}: {value}" if label else value for label, value in said)


IN_RUN = ("run", "press", "target_from")
"""What the log of a run need not say: the run says it."""
LABELS = {"still_needed": N_("Still needed, done anyway"), "needed_by": N_("Done although still needed for")}
"""Labels of values that no field of a form holds."""


def values(reader: Reader, entry: Entry, *, without: tuple[str, ...] = ()) -> tuple[tuple[str, str], ...]:
    """The values of an entry: (label, text), with what was typed where that read otherwise; an empty label: the text
    says what it is."""
    of_run = entry.screen is None and entry.run is not None
    if of_run and entry.step in _OF_RUN:
        out = _OF_RUN[entry.step](reader, entry, without)
    elif entry.step == "cross-out":
        out = _crossing(reader, entry)
    else:
        out = _fields(reader, entry, of_run, without)
    if entry.override:
        past = _("overridden by {who}: {why}")
        out.append(("", past.format(who=entry.override.get("who") or "–", why=entry.override.get("why", ""))))
    return tuple(out)


def _fields(reader: Reader, entry: Entry, of_run: bool, without: tuple[str, ...]) -> list[tuple[str, str]]:
    out = [(label, said) for _name, label, said in _each_field(reader, entry, of_run, without)]
    return [*_beside(entry.values), *out, *_after(entry.values)] if of_run else out


def _each_field(reader: Reader, entry: Entry, of_run: bool, without: tuple[str, ...]) -> list[tuple[str, str, str]]:
    """What was said in each field: its name, its label, what was said."""
    step = step_of(entry)
    fields = {field.name: field for field in step.fields} if step else {}
    out = []
    for name, value in entry.values.items():
        if value in (None, "", []) or name in without or (of_run and name not in fields):
            continue
        if entry.step == "probe" and isinstance(value, dict):
            continue  # its marks and results stand on the page of the probe
        if name == "still_needed" and entry.values.get("needed_by"):
            continue  # by which jobs is said
        field = fields.get(name)
        label = _(field.label if field else LABELS.get(name) or name.replace("_", " "))
        said = _said(reader, name, field.kind if field else "", dict(field.choices) if field else {}, value)
        typed = entry.typed.get(name)
        if typed is not None and not _reads_alike(str(typed), value, name):
            said = _("{value} (typed: {typed})").format(value=said, typed=typed)
        out.append((name, label, said))
    return out


def _beside(kept: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What was answered when a run was opened with too few heads, or finished with nothing counted."""
    out = [("", heads.answered(kept))] if kept.get(heads.SHORT) else []
    return [*out, ("", uncounted(kept))] if kept.get("uncounted") else out


def _after(kept: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What was kept of an approved print: where the sample is, its colours."""
    out = [("", _("Sample: {where}").format(where=kept["sample"]))] if kept.get("sample") else []
    return [*out, *(("", f"{number}. {colour(one)}") for number, one in sorted(lab.kept(kept).readings.items()))]


def uncounted(kept: Mapping[str, Any]) -> str:
    """What was answered when a run was finished with nothing counted."""
    answer = str(kept["uncounted"])
    return _("finished with nothing counted: {answer}").format(answer=_(UNCOUNTED.get(answer, answer)))


def colour(one: Lab) -> str:
    """A measured colour."""
    return f"L* {one.lightness:g}, a* {one.a:g}, b* {one.b:g}"


def _sheet(reader: Reader, entry: Entry, without: tuple[str, ...]) -> list[tuple[str, str]]:
    """Of a set-up sheet which parts it noted, what its target came from, and what is otherwise than that."""
    just = setup.said_by(entry.values, stamp(entry.at))
    out = [("", setup.how_said(one) if one.as_target else setup.parts_said(one.parts)) for one in just]
    found = setup.differences(entry.values, the_spec(reader.db), reader.system)
    if not found:
        return out or [("", _("as the target"))]
    if "target_from" not in without:
        out.append((_("target"), str(entry.values.get("target_from") or "–")))
    return [*out, *(("", otherwise(*one)) for one in found)]


def otherwise(key: str, name: str, was: str, now: str) -> str:
    """A setting that is otherwise than its target."""
    return f"{_('the whole run') if key == setup.RUN else key}, {changed(name, was, _(now))}"


def _change(reader: Reader, entry: Entry, without: tuple[str, ...]) -> list[tuple[str, str]]:
    kept = entry.values
    where = _("position {number}").format(number=kept["station"]) if kept.get("station") else ""
    parts = (where, change(reader.db, kept), "" if "why" in without else str(kept.get("why") or ""))
    return [("", part) for part in parts if part]


def change(db: Database, kept: Mapping[str, Any]) -> str:
    """A change during a run, in words, without its reason."""
    name = str(kept.get("field") or "")
    if name:
        was, now = setting_said(db, name, kept.get("from")), setting_said(db, name, kept.get("to"))
        if not (kept.get("from") or kept.get("why") or setup.first_measured(kept)):
            return noted_since(name, now)
        return changed(name, was, now)
    if kept.get("what") == COLOURWAY:
        style, colour_ = kept.get("garment_style"), kept.get("garment_colour")
        return _("goes on with {style}, {colour}").format(style=style, colour=colour_)
    return str(kept.get("what", ""))


def setting_said(db: Database, name: str, value: Any) -> str:
    """A setting as people read it: of a bucket its code as printed and what is in it."""
    kept = str(value or "")
    if name == "bucket" and kept:
        try:
            return find.bucket_named(find.bucket(db, kept))
        except Refused:
            return shown(kept)
    return with_signs(_(kept)) if kept else "–"


def _swap(reader: Reader, entry: Entry, without: tuple[str, ...]) -> list[tuple[str, str]]:
    """Which screen came off, with why, and which one went on."""
    of = {name: (label, said) for name, label, said in _each_field(reader, entry, True, without)}
    why = str(entry.values.get("why") or "")
    label, off = of.pop("old", ("", ""))
    of.pop("why", None)
    return [(label, _("{screen} ({why})").format(screen=off, why=_(why)) if why else off), *of.values()]


_OF_RUN = {"sheet": _sheet, "change": _change, "swap": _swap}
"""Steps of a run that are not said field by field."""


def _crossing(reader: Reader, entry: Entry) -> list[tuple[str, str]]:
    """What was crossed out, and why."""
    wrong = entries.find(reader.db, entry.crosses or "")
    what = _("{done}, {when}").format(done=title(wrong), when=reader.time(wrong.at)) if wrong else ""
    parts = (what, _(str(entry.values.get("why") or "")))
    return [("", " – ".join(part for part in parts if part))]


def _reads_alike(typed: str, value: Any, name: str) -> bool:
    """True when what was typed is the value itself, in its own unit ("64.0" for 64), and need not be said again."""
    digits, unit = typed, ""
    parts = typed.replace(";", " ").split()
    if parts and not parts[-1][:1].isdigit():
        digits, unit = " ".join(parts[:-1]), parts[-1]
    if unit and typed_units.typed_unit(name, f"1 {unit}") != units.unit_of(name):
        return False
    try:
        numbers = [units.number(part, point=True) for part in digits.split()]
    except units.NotAQuantity:
        return False
    return numbers == [one for one in (value if isinstance(value, list) else [value]) if isinstance(one, (int, float))]


def frame_size(size: str) -> str:
    """A frame's size with its unit: `585 x 790 mm`."""
    return f"{size}\u00a0mm" if size[-1:].isdigit() else size


def _said(reader: Reader, name: str, kind: str, choices: Mapping[str, str], value: Any) -> str:
    db = reader.db
    if isinstance(value, str) and value in choices:
        return _(choices[value])
    if name == "standing_seen":
        return _(STANDING_WORDS.get(value, str(value)))
    if kind == "bucket" and isinstance(value, int):
        bucket = buckets.get(db, value)
        return find.bucket_named(bucket) if bucket else str(value)
    if (kind == "place" or name in {"place", "press", "not_at"}) and isinstance(value, int):
        place = places.get(db, value)
        return place.name if place else str(value)
    if kind == "separations" and isinstance(value, list):
        images = jobs.separations(db, value)
        if not value:
            return _("to be named later")
        return "; ".join(f"{images[one].name} ({images[one].art})" if one in images else f"#{one}" for one in value)
    if kind in {"date", "time", "until"} and isinstance(value, str):
        return reader.day(value) if kind == "date" or len(value) == 10 else reader.time(value)
    if kind == "screen" and isinstance(value, str):
        return shown(value)
    if name == "frame_size_mm":
        return frame_size(str(value))
    if name == "accept" and isinstance(value, Mapping):
        return _("{who}: {why}").format(who=value.get("who", ""), why=value.get("why", ""))
    if name == "needed_by" and isinstance(value, list):
        return ", ".join(shown(code) for code in value if isinstance(code, str))
    return _plainly(name, value, reader.system)


def _plainly(name: str, value: Any, system: str) -> str:
    """Numbers with the unit that the field's name ends in; anything else as it is."""
    if isinstance(value, list) and value and all(isinstance(one, (int, float)) for one in value):
        unit = units.unit_of(name)
        said = [units.show_named(name, one, system) for one in value]
        if unit:  # the unit once, after the last reading
            mark = units.unit_text(unit)
            said = [one.removesuffix(mark).rstrip() if one.endswith(mark) else one for one in said[:-1]] + said[-1:]
        return ", ".join(said)
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {one}" for key, one in value.items())
    if isinstance(value, (int, float)) or units.unit_of(name):
        return units.show_named(name, value, system)
    return str(value)


def clock(reader: Reader, bucket: Bucket) -> tuple[str, str]:
    """How long a bucket is good, in words, and how bad that is (ok, caution, unknown)."""
    if bucket.discarded_at:
        return _("discarded {when}").format(when=reader.time(bucket.discarded_at)), "unknown"
    if not bucket.good_until:
        return _("no time limit"), "ok"
    hours = -hours_past(bucket, reader.now)
    span = passed_said(abs(hours))
    if hours < 0:
        return _("expired {span} ago ({when})").format(span=span, when=reader.time(bucket.good_until)), "caution"
    return _("good for another {span} (until {when})").format(span=span, when=reader.time(bucket.good_until)), "ok"
