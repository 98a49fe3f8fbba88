"""A list of frames that a shop has already, brought in from a CSV file: first what would happen, then done at once."""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from tickets.actions.posting import line, numbered, once, write
from tickets.calculator import units
from tickets.domain import outside, step_reading
from tickets.domain.entry import Entry, stamp
from tickets.domain.names import spelled_alike, taken_alike
from tickets.domain.person import Actor
from tickets.domain.refusal import Fault, NotAllowed, Refused
from tickets.domain.stages import STANDING_WORDS, Standing, stage_of, stage_words
from tickets.domain.steps import SCREEN_STEPS
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries.shop_rules import act_time, zone
from tickets.queries.table_file import Column, as_written
from tickets.store import codes, places, screens
from tickets.store.places import Place

LARGEST = 1_000_000
"""Bytes of a list: as many as a page takes."""
MOST = 2000
LONGEST = 500_000
"""Lines and characters of a list that are taken at once."""

COLUMNS = (
    Column("mesh_count", N_("Mesh count with its unit, such as 230/in or 90/cm (needed)")),
    Column("mark", N_("The mark painted on the frame; every frame has its own")),
    Column("thread_um", N_("Thread; leave empty if not known"), "um"),
    Column("mesh_colour", N_("white or dyed")),
    Column("frame", N_("aluminium, wood or roller")),
    Column("frame_size_mm", N_("Frame size, such as 585 x 790 mm or 23 x 31 in")),
    Column("stretched_on", N_("Day of stretching, such as 2026-03-09; leave empty if not known")),
    Column(
        "stage",
        N_("How far it is: bare, degreased, reclaimed, to reclaim or to restretch; leave empty if nobody looked"),
    ),
    Column("tension_n_per_cm", N_("Tension readings, blanks or semicolons between"), "N/cm"),
    Column("place", N_("A rack, cart or cabinet of the shop, by its name")),
)
"""The columns that a list may have, in any order."""

SAME = {"mesh_count_as_labelled": "mesh_count", "readings_n_per_cm": "tension_n_per_cm"}
READ_AS: Mapping[str, str] = {
    "mesh_count": N_("mesh count, with its unit behind it"),
    "mark": N_("text"),
    "thread_um": N_("length in µm"),
    "mesh_colour": N_("word of a list"),
    "frame": N_("word of a list"),
    "frame_size_mm": N_("two lengths in mm"),
    "stretched_on": N_("day, year first"),
    "stage": N_("word of a list"),
    "tension_n_per_cm": N_("tension readings in N/cm"),
    "place": N_("name of a place in the shop"),
}
"""As what the program reads each column."""
SHOWN = 3
"""Frames of which is shown what was read, so that a slip in a whole column is seen."""
STAGES = (Standing.BARE, Standing.DEGREASED, Standing.STRIPPED, Standing.TO_STRIP, Standing.TO_RESTRETCH)
"""Stages that a list may give. A frame that carries an image is looked at: its images must be named."""


@dataclass(frozen=True, slots=True)
class ListedFrame:
    """A line that would do: its number in the file, and what would be noted of the frame."""

    number: int
    mark: str
    stretch: Mapping[str, Any]
    typed: Mapping[str, Any]
    at: datetime | None
    stage: str
    tension: Mapping[str, Any]
    place: Place | None
    day: str = ""

    @property
    def values(self) -> dict[str, str]:
        """What was read of each column, with its unit: never as it was typed."""
        found: dict[str, str] = {}
        for name, value in (*self.stretch.items(), *self.tension.items()):
            name = SAME.get(name, name)
            unit = next((one.unit for one in COLUMNS if one.name == name), "")
            many = value if isinstance(value, (list, tuple)) else [value]
            said = "; ".join(units.exact_text(one) if isinstance(one, (int, float)) else str(one) for one in many)
            found[name] = f"{said} {units.unit_text(unit)}".strip()
        found |= {"frame_size_mm": f"{found['frame_size_mm']} mm"} if "frame_size_mm" in found else {}
        found |= {"stretched_on": self.day} if self.day else {}
        found |= {"stage": str(self.stage)} if self.stage != Standing.UNKNOWN else {}
        found |= {"place": self.place.name} if self.place else {}
        return found

    @property
    def notes(self) -> list[str]:
        """The steps that would be logged for it."""
        out = [_(SCREEN_STEPS["stretch"].title)]
        out.append(_("Found: {stage}").format(stage=_(STANDING_WORDS[self.stage])))
        if self.tension:
            out.append(_(SCREEN_STEPS["tension"].title))
        if self.place is not None:
            out.append(_("Put away: {place}").format(place=self.place.name))
        return out


class ReadColumn(NamedTuple):
    """A column of a list, as what it was read, and what was read of it in the first frames (empty: nothing there)."""

    name: str
    read_as: str
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FrameList:
    """What a list comes to: the frames that would do, and what is wrong, each with its line ("line 3"). `names`: the
    columns that it has."""

    frames: tuple[ListedFrame, ...]
    faults: tuple[Fault, ...]
    by_mesh: Mapping[str, int] = field(default_factory=dict)
    names: tuple[str, ...] = ()

    @property
    def shown(self) -> tuple[ListedFrame, ...]:
        """The frames of which is shown what was read."""
        return self.frames[:SHOWN]

    @property
    def columns(self) -> list[ReadColumn]:
        """As what each column was read, with the values of the first frames, so that a slip is seen before anything is
        written."""
        rows = [frame.values for frame in self.shown]
        return [
            ReadColumn(name, _(READ_AS[name]), tuple(row.get(name, "") for row in rows)) for name in self.names if rows
        ]

    @property
    def refused(self) -> dict[str, list[str]]:
        """The lines refused, each once with all that is wrong in it."""
        found: dict[str, list[str]] = {}
        for fault in self.faults:
            found.setdefault(fault.where, []).append(fault.message)
        return found

    def to_dict(self, made: Sequence[str] = ()) -> list[dict[str, Any]]:
        """The frames as plain data; `made`: the codes that they were given, where they were brought in."""
        return [
            {
                "line": frame.number,
                "code": made[place] if made else None,
                "mark": frame.mark,
                "mesh": frame.stretch["mesh_count_as_labelled"],
                "steps": frame.notes,
                "read": frame.values,
            }
            for place, frame in enumerate(self.frames)
        ]


def decoded(data: bytes) -> str:
    """A file's text: UTF-8, UTF-16 with its mark in front, else as older spreadsheets write it."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _mark_is_free(db: Database, mark: str) -> None:
    """Refuses a mark that another screen has, or one that looks the same."""
    for alike in spelled_alike(mark):
        if screens.by_mark(db, alike):
            raise Refused(taken_alike(mark, alike))
    if screens.by_mark(db, mark):
        raise Refused(_("Another screen already has the mark {mark}.").format(mark=mark))


def read(db: Database, text: str, now: datetime) -> FrameList:
    """Reads a list and writes nothing. Commas, semicolons or tabs part the columns; the first line names them."""
    if len(text) > LONGEST:
        raise Refused(_("The list is too long: at most {most} lines at once.").format(most=MOST), "file")
    try:
        rows = list(_rows(text))
    except csv.Error:
        message = _("A quotation mark is opened and never closed. Take the mark out, or save the list as CSV again.")
        raise Refused(message, "file") from None
    head_at, head = next(((at, row) for at, row in rows if any(cell.strip() for cell in row)), (1, []))
    names = [SAME.get(name := cell.strip().casefold().replace(" ", "_"), name) for cell in head]
    known = [column.name for column in COLUMNS]
    faults = [
        Fault(_("line {number}").format(number=head_at), _("There is no column “{name}”; there are: {known}.").format(
            name=name[:40], known=", ".join(known)))
        for name in names if name not in known
    ]  # fmt: skip
    if "mesh_count" not in names:
        faults.append(Fault(_("line {number}").format(number=head_at), _("A column “mesh_count” is needed.")))
    if len(names) != len(set(names)):
        faults.append(Fault(_("line {number}").format(number=head_at), _("A column is there twice.")))
    if faults:
        return FrameList((), tuple(faults))
    frames: list[ListedFrame] = []
    marks: dict[str, int] = {}
    below = [(at, row) for at, row in rows if at > head_at and any(cell.strip() for cell in row)]
    if len(below) > MOST:
        raise Refused(_("The list is too long: at most {most} lines at once.").format(most=MOST), "file")
    if not below:
        raise Refused(_("There is no frame in the list."), "file")
    for number, row in below:
        texts = [as_written(cell.strip()).strip() for cell in row]
        cells = {name: text for name, text in zip(names, texts, strict=False) if text}
        if len(row) > len(names) and any(cell.strip() for cell in row[len(names) :]):
            where = _("line {number}").format(number=number)
            faults.append(Fault(where, _("This line has more columns than the first line.")))
            continue
        try:
            frame = _frame(db, number, cells, now)
            key = screens.mark_key(frame.mark)
            if key and key in marks:
                raise Refused(
                    _("Line {other} has the mark {mark} too: give each frame its own.").format(
                        mark=frame.mark, other=marks[key]
                    )
                )
            _mark_is_free(db, frame.mark)
            marks.setdefault(key, number)
            frames.append(frame)
        except Refused as refused:
            where = _("line {number}").format(number=number)
            faults += [Fault(where, f"{fault.where}: {fault.message}".lstrip(": ")) for fault in refused.faults]
    by_mesh: dict[str, int] = {}
    for frame in frames:
        label = str(frame.stretch["mesh_count_as_labelled"])
        by_mesh[label] = by_mesh.get(label, 0) + 1
    return FrameList(tuple(frames), tuple(faults), by_mesh, tuple(names))


def _rows(text: str) -> Iterator[tuple[int, list[str]]]:
    """The rows of a list, each with the number of the line where it begins. Raises csv.Error."""
    text = text.lstrip("\N{ZERO WIDTH NO-BREAK SPACE}").replace("\r\n", "\n").replace("\r", "\n")
    first = next((row for row in text.splitlines() if row.strip()), "")
    told = re.fullmatch(r"sep=([,;\t])", first.strip(), re.IGNORECASE)  # some spreadsheets name the mark in front
    reader = csv.reader(text.split("\n"), delimiter=told[1] if told else max(",;\t", key=first.count), strict=True)
    at = 1
    for row in reader:
        if not (told and at == 1):
            yield at, row
        at = reader.line_num + 1


def _frame(db: Database, number: int, cells: Mapping[str, str], now: datetime) -> ListedFrame:
    sent = {
        {"mesh_count": "mesh_count_as_labelled"}.get(name, name): [cell]
        for name, cell in cells.items()
        if name in {"mesh_count", "mark", "thread_um", "mesh_colour", "frame", "frame_size_mm"}
    }
    for name in ("mesh_colour", "frame"):
        if name in sent:
            sent[name] = [sent[name][0].casefold()]
    faults: list[Fault] = []
    stretch: dict[str, Any] = {}
    typed: dict[str, Any] = {}
    tension: dict[str, Any] = {}
    try:
        stretch, typed = step_reading.read(SCREEN_STEPS["stretch"], sent)
    except Refused as refused:
        faults += [replace(fault, where=SAME.get(fault.where, fault.where)) for fault in refused.faults]
    if "tension_n_per_cm" in cells:
        try:
            readings = {"readings_n_per_cm": [cells["tension_n_per_cm"]]}
            tension, _typed = step_reading.read(SCREEN_STEPS["tension"], readings)
        except Refused as refused:
            faults += [replace(fault, where="tension_n_per_cm") for fault in refused.faults]
    stage = stage_of(cells.get("stage", ""))
    if cells.get("stage") and stage not in STAGES:
        there = stage_words(STAGES)
        if stage is not None:
            message = _("Look at a frame with a stencil first: leave its stage empty here, then correct its log and "
                        "name its images. A list takes: {there}.")  # fmt: skip
        else:
            message = _("One of: {there}.")
        faults.append(Fault("stage", message.format(there=there)))
    place = None
    if "place" in cells:
        place = places.find(db, cells["place"])
        if place is None:
            there = ", ".join(one.name for one in places.every(db)[:12]) or _("none yet")
            message = _("There is no place “{text}”; there are: {there}.")
            faults.append(Fault("place", message.format(text=cells["place"][:40], there=there)))
    at = None
    if "stretched_on" in cells:
        at, fault = _day(cells["stretched_on"], zone(db), now)
        faults += [fault] if fault else []
    if faults:
        raise Refused(faults)
    mark = str(stretch.get("mark", ""))
    day = cells.get("stretched_on", "")
    return ListedFrame(number, mark, stretch, typed, at, stage or Standing.UNKNOWN, tension, place, day)


def _day(text: str, shop: ZoneInfo, now: datetime) -> tuple[datetime | None, Fault | None]:
    """Noon of a day (of this day: now), or what is wrong with it."""
    day = outside.day(text)
    if day is None:
        message = _("“{text}” cannot be read as a date. Write year-month-day, such as 2026-03-09.").format(
            text=text[:40]
        )
        return None, Fault("stretched_on", message)
    today = now.astimezone(shop).date()
    if day > today:
        return None, Fault("stretched_on", _("{day} is still to come.").format(day=day))
    return (now if day == today else act_time(f"{day}T12:00", shop, now)), None


def take_in(db: Database, actor: Actor, text: str, *, post: str, now: datetime) -> list[str]:
    """Registers every frame of a list, all or none; their codes. Refused with every fault that `read` names."""
    if not (actor.manages or actor.role == "screen room"):
        raise NotAllowed(_("The screen room or the manager brings frames in."))

    def act() -> dict[str, Any]:
        found = read(db, text, now)
        if found.faults:
            raise Refused(list(found.faults))
        if not found.frames:
            raise Refused(_("There is no frame in the list."), "file")
        lines: list[Entry] = []
        made: list[str] = []
        for frame in found.frames:
            screen = screens.next_number(db)
            code = codes.issue(db, "screen", screen, stamp(now))
            screens.add(db, code, screen, stamp(now))
            made.append(str(code))
            # a frame of a list whose day of stretching nobody knows has been in use: its mesh settled long ago
            known = {} if frame.at else {"in_use": "yes"}
            stretched = {**known, **frame.stretch}
            lines.append(line(actor, "stretch", frame.at or now, now, stretched, frame.typed, screen=screen))
            # newly stretched frames are bare; these are as somebody saw them, or not looked at yet
            lines.append(line(actor, "found", now, now, {"standing_seen": frame.stage}, screen=screen))
            if frame.tension:
                lines.append(line(actor, "tension", now, now, frame.tension, screen=screen))
            if frame.place is not None:
                lines.append(line(actor, "rack", now, now, {"place": frame.place.id}, screen=screen))
        write(db, numbered(post, lines))
        return {"codes": made}

    return [str(code) for code in once(db, actor, post, {"step": "import", "text": text}, now, act)["codes"]]
