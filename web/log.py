"""The log as it is read: lines with who, when, what was measured, what was crossed out; the whole log page by page."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from flask import Blueprint, Response, g, request
from sqlite_utils import Database

from tickets.calculator import units
from tickets.floor import buckets as floor_buckets
from tickets.floor.posting import the_spec
from tickets.floor.screens import moved_on
from tickets.records import setup
from tickets.records.as_run import field_word
from tickets.records.code import shown
from tickets.records.entry import Entry, stamp
from tickets.records.person import MANAGES
from tickets.records.refusal import Refused
from tickets.records.screen import STANDING_WORDS, Life
from tickets.records.steps import BUCKET_STEPS, RUN_STEPS, SCREEN_STEPS, Step
from tickets.store import buckets, codes, entries, jobs, people, places
from tickets.words import N_
from tickets.words import gettext as _
from web.steps import WHYS
from web.support import PATHS, faults_by_field, local_date, local_time, named, one_of, page, row_number, zone

bp = Blueprint("log", __name__)

PAGE = 50


@dataclass(frozen=True, slots=True)
class Line:
    """One entry as people read it. `about`: (address, text) of what it is about; `crossed`: (who, why, when)."""

    entry: Entry
    title: str
    who: str
    said: tuple[tuple[str, str], ...]
    crossed: tuple[str, str, str] | None = None
    may_cross: bool = False
    about: tuple[str, str] | None = None

    @property
    def text(self) -> str:
        """What was measured and noted, in one text."""
        return " · ".join(f"{label}: {value}" for label, value in self.said)


def lines(db: Database, found: Sequence[Entry], *, about: bool = False, crossing: bool = True) -> list[Line]:
    """Entries as they are read, in the order given; `about`: with a link to the thing that each is about; `crossing`:
    with whether this person may cross it out."""
    who, may = people.names(db), may_cross_out() if crossing else _never
    crossed = entries.crossed_by(db, [entry.entry for entry in found])
    things: dict[tuple[str, int], tuple[str, str] | None] = {}
    _read_ahead(db, found, about)
    out = []
    for entry in found:
        by = crossed.get(entry.entry)
        out.append(
            Line(
                entry=entry,
                title=title_of(entry),
                who=who.get(entry.person, str(entry.person)),
                said=tuple(said_values(db, entry)),
                crossed=(who.get(by.person, "?"), str(by.values.get("why", "")), stamp(by.at)) if by else None,
                may_cross=by is None and may(entry),
                about=_about(db, entry, things) if about else None,
            )
        )
    return out


def _never(entry: Entry) -> bool:
    return False


def may_cross_out() -> Callable[[Entry], bool]:
    """Whether this person may cross an entry out: own ones of today, others' by the manager, as `floor.cross_out` has
    it."""
    person, shop = g.person, zone()
    today = g.now.astimezone(shop).date()

    def may(entry: Entry) -> bool:
        if entry.step == "cross-out":
            return False
        own = entry.person == person.id
        return person.role in MANAGES or (own and entry.saved_at.astimezone(shop).date() == today)

    return may


def step_of(entry: Entry) -> Step | None:
    """The step of an entry; a run and a bucket have steps of their own."""
    if entry.screen is not None:
        return SCREEN_STEPS.get(entry.step)
    return (BUCKET_STEPS if entry.bucket is not None else RUN_STEPS).get(entry.step)


def title_of(entry: Entry) -> str:
    """What was done, in a word or two."""
    if entry.step == "probe":
        return _("Probe run kept")
    step = step_of(entry)
    return _(step.done) if step else entry.step


LABELS = {"still_needed": N_("Still needed, done all the same"), "needed_by": N_("Done although still needed for")}
"""Labels of values that no field of a form holds."""


def said_values(db: Database, entry: Entry) -> list[tuple[str, str]]:
    """The values of an entry: (label, text), in the reader's units, with what was typed where that read otherwise."""
    step = step_of(entry)
    fields = {field.name: field for field in step.fields} if step else {}
    out = []
    for name, value in _plain(entry).items():
        if value in (None, "", []) or (entry.step == "cross-out" and name == "entry"):
            continue
        if name == "still_needed" and entry.values.get("needed_by"):
            continue  # by which jobs is said
        field = fields.get(name)
        label = _(field.label if field else LABELS.get(name) or name.replace("_", " "))
        text = _said(db, name, field.kind if field else "", dict(field.choices) if field else {}, value)
        typed = entry.typed.get(name)
        if typed is not None and not _reads_alike(str(typed), value, name):
            text = _("{value} (typed: {typed})").format(value=text, typed=typed)
        out.append((label, text))
    if entry.override:
        text = _("{who}: {why}").format(who=entry.override.get("who", ""), why=entry.override.get("why", ""))
        out.append((_("Went past the verdict"), text))
    return out


def _plain(entry: Entry) -> Mapping[str, Any]:
    """The values of an entry that a line can say: of a set-up sheet what is otherwise than its target."""
    if entry.step == "probe":  # its marks and results stand on the page of the probe
        return {name: value for name, value in entry.values.items() if not isinstance(value, dict)}
    if entry.step != "sheet":
        return entry.values
    return {
        _("target"): str(entry.values.get("target_from") or "–"),
        **{
            f"{_('the whole run') if part == setup.RUN else part}, {field_word(name)}": f"{was} → {_(now)}"
            for part, name, was, now in setup.differences(entry.values, the_spec(g.db))
        },
    }


def _reads_alike(typed: str, value: Any, name: str) -> bool:
    """True when what was typed is the value itself, in its own unit ("64.0" for 64), and need not be said again."""
    digits, unit = typed, ""
    parts = typed.replace(";", " ").split()
    if parts and not parts[-1][:1].isdigit():
        digits, unit = " ".join(parts[:-1]), parts[-1]
    if unit and units.typed_unit(name, f"1 {unit}") != units.unit_of(name):
        return False
    try:
        numbers = [units.number(part, point=True) for part in digits.split()]
    except units.NotAQuantity:
        return False
    return numbers == [one for one in (value if isinstance(value, list) else [value]) if isinstance(one, (int, float))]


def _read_ahead(db: Database, found: Sequence[Entry], about: bool) -> None:
    """What the lines will ask for one by one: images, places, and codes of what they are about."""
    images = [number for entry in found for number in entry.values.get("separations") or ()]
    jobs.separations_ahead(db, [number for number in images if isinstance(number, int)])
    where = [entry.values.get("place") for entry in found]
    places.read_ahead(db, [number for number in where if isinstance(number, int)])
    if about:
        things = [(kind, getattr(entry, kind)) for entry in found for kind in ("screen", "bucket", "job")]
        codes.current_ahead(db, [(kind, number) for kind, number in things if number is not None])


def seen_at(life: Life, where: str) -> str:
    """Where a screen lies, in the words given, or was last seen when it was worked on since; empty: nobody noted it."""
    return _("last seen {place}").format(place=where) if where and moved_on(life) else where


def place_of(db: Database, number: int) -> places.Place | None:
    """A place by number, asked once for a page: the last line of a screen is often its being put where it is."""
    asked: dict[int, places.Place | None] = g.setdefault("places", {})
    if number not in asked:
        asked[number] = places.get(db, number)
    return asked[number]


def size_text(size: str) -> str:
    """A frame's size with its unit: `585 x 790 mm`."""
    return f"{size}\u00a0mm" if size[-1:].isdigit() else size


def _said(db: Database, name: str, kind: str, choices: Mapping[str, str], value: Any) -> str:
    if isinstance(value, str) and value in choices:
        return _(choices[value])
    if name == "standing_seen":
        return _(STANDING_WORDS.get(value, str(value)))
    if kind == "bucket" and isinstance(value, int):
        bucket = buckets.get(db, value)
        return floor_buckets.named(bucket) if bucket else str(value)
    if (kind == "place" or name in {"place", "press", "not_at"}) and isinstance(value, int):
        place = place_of(db, value)
        return place.name if place else str(value)
    if kind == "separations" and isinstance(value, list):
        images = jobs.separations(db, value)
        return "; ".join(f"{images[one].name} ({images[one].art})" if one in images else f"#{one}" for one in value)
    if kind in {"date", "time", "until"} and isinstance(value, str):
        return local_date(value) if kind == "date" or len(value) == 10 else local_time(value)
    if name == "frame_size_mm":
        return size_text(str(value))
    if name == "accept" and isinstance(value, Mapping):
        return _("{who}: {why}").format(who=value.get("who", ""), why=value.get("why", ""))
    if name == "needed_by" and isinstance(value, list):
        return ", ".join(shown(code) for code in value if isinstance(code, str))
    if isinstance(value, list) and value and all(isinstance(one, (int, float)) for one in value):
        unit = units.unit_of(name)
        said = [named(one, name) for one in value]
        if unit:  # the unit once, after the last reading
            mark = units.unit_text(unit)
            said = [text.removesuffix(mark).rstrip() if text.endswith(mark) else text for text in said[:-1]] + said[-1:]
        return ", ".join(said)
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {one}" for key, one in value.items())
    if isinstance(value, (int, float)) or units.unit_of(name):
        return named(value, name)
    return str(value)


def _about(db: Database, entry: Entry, known: dict[tuple[str, int], tuple[str, str] | None]) -> tuple[str, str] | None:
    for kind in ("screen", "bucket", "job"):
        number = getattr(entry, kind)
        if number is None or (kind == "job" and entry.run is not None):
            continue
        if (kind, number) not in known:
            code = codes.current(db, kind, number)
            known[(kind, number)] = (f"{PATHS[kind]}/{code}", shown(code)) if code else None
        return known[(kind, number)]
    return (f"/runs/{entry.run}", _("run {number}").format(number=entry.run)) if entry.run is not None else None


def cross_page(action: str, back: str, sent: Mapping[str, Sequence[str]], refused: Refused) -> Response:
    """A crossing out whose entry is not to be found here, again: with what was typed, the message beside its field."""
    return page(
        "log/cross.html",
        refused.status,
        action=action,
        back=back,
        wrong=one_of(sent, "crosses") or one_of(sent, "entry"),
        whys=WHYS,
        values=sent,
        faults=faults_by_field(refused),
    )


@bp.get("/log")
def log() -> Response:
    """The whole log, newest first, page by page."""
    at, _dot, number = request.args.get("before", "").rpartition("~")
    before = (at, row_number(number)) if at and number else None
    rows = entries.log_page(g.db, PAGE + 1, before)
    older = ""
    if len(rows) > PAGE:
        rows = rows[:PAGE]
        older = f"{stamp(rows[-1][1].at)}~{rows[-1][0]}"
    return page(
        "log/log.html", lines=lines(g.db, [entry for _id, entry in rows], about=True), older=older, first=not before
    )
