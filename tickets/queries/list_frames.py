"""The frames of a list: what each line comes to, or what is wrong in it. Nothing is written here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from sqlite_utils import Database

from tickets.calculator import typed as typed_units
from tickets.calculator import units
from tickets.domain import names, step_reading
from tickets.domain.code import NoCode, shown
from tickets.domain.code import read as read_code
from tickets.domain.lists import columns, dates
from tickets.domain.lists.cells import Line
from tickets.domain.lists.columns import AS_NOTE, Chosen, field_of, word_of
from tickets.domain.refusal import Fault, Refused
from tickets.domain.separation import folded
from tickets.domain.stages import STANDING_WORDS, Standing, stage_of, stage_words
from tickets.domain.steps import FRAMES, SCREEN_STEPS
from tickets.i18n import gettext as _
from tickets.queries.shop_rules import act_time, zone
from tickets.store import codes, jobs, places, screens
from tickets.store.places import Place

WITHOUT_IMAGE = (Standing.BARE, Standing.DEGREASED, Standing.STRIPPED, Standing.TO_STRIP, Standing.TO_RESTRETCH)
WITH_IMAGE = (Standing.KEPT, Standing.READY, Standing.TO_CHECK, Standing.TO_CLEAN)
"""Stages that a list may give, and those of them at which an image must be named."""
MADE_AS = "rack"
"""What kind of place is made where a list names one that is not there."""
_OWN_NAMES = {"mesh_count_as_labelled": "mesh_count", "readings_n_per_cm": "tension"}


@dataclass(frozen=True, slots=True)
class ListedFrame:
    """A line that would do: its number in the file, and what would be logged of the frame. `place_name`: a place to be
    made, where there is none of that name."""

    number: int
    mark: str
    stretch: Mapping[str, Any]
    typed: Mapping[str, Any]
    at: datetime | None
    stage: Standing
    images: tuple[int, ...] = ()
    tension: Mapping[str, Any] = field(default_factory=dict)
    tension_at: datetime | None = None
    place: Place | None = None
    place_name: str = ""
    note: str = ""
    day: str = ""
    tension_day: str = ""
    image_said: str = ""

    @property
    def mesh(self) -> str:
        """Its mesh, as it is counted by."""
        return str(self.stretch["mesh_count_as_labelled"])

    @property
    def values(self) -> dict[str, str]:
        """What was read of each field, with its unit: never as it was typed."""
        found: dict[str, str] = {}
        for name, value in (*self.stretch.items(), *self.tension.items()):
            unit = units.unit_text(units.unit_of(name) or "") if not isinstance(value, str) else ""
            many = value if isinstance(value, (list, tuple)) else [value]
            said = "; ".join(units.exact_text(one) if isinstance(one, (int, float)) else str(one) for one in many)
            found[name] = f"{said} {unit}".strip()
        found |= {"frame": _(dict(FRAMES)[found["frame"]])} if "frame" in found else {}
        found |= {"frame_size_mm": f"{found['frame_size_mm']} mm"} if "frame_size_mm" in found else {}
        found |= {"stretched_on": self.day} if self.day else {}
        found |= {"tension_on": self.tension_day} if self.tension_day else {}
        found |= {"stage": _(STANDING_WORDS[self.stage])} if self.stage is not Standing.UNKNOWN else {}
        found |= {"place": self.place.name if self.place else self.place_name} if self.place or self.place_name else {}
        found |= {"separation": self.image_said, "job": self.image_said} if self.image_said else {}
        found |= {AS_NOTE: self.note} if self.note else {}
        return found

    @property
    def notes(self) -> list[str]:
        """The steps that would be logged for it."""
        out = [_(SCREEN_STEPS["stretch"].title), _("Found: {stage}").format(stage=_(STANDING_WORDS[self.stage]))]
        if self.tension:
            out.append(_(SCREEN_STEPS["tension"].title))
        if self.place is not None or self.place_name:
            name = self.place.name if self.place else self.place_name
            out.append(_("Put away: {place}").format(place=name))
        if self.note:
            out.append(_(SCREEN_STEPS["note"].title))
        return out


class FrameReader:
    """Reads the lines of one list. What many lines have in common is read once."""

    def __init__(
        self,
        db: Database,
        heads: Sequence[str],
        chosen: Sequence[Chosen],
        now: datetime,
        make_places: bool = False,
        measured: str = "",
    ) -> None:
        self._db, self._now, self._zone = db, now, zone(db)
        self._make_places = make_places
        self._measured = dates.day(measured) if measured else None
        self._columns: dict[str, list[tuple[int, str]]] = {}
        self._heads = heads
        for at, one in enumerate(chosen):
            if one.field:
                self._columns.setdefault(one.field, []).append((at, one.unit))
        self._stretches: dict[tuple[Any, ...], tuple[Mapping[str, Any], Mapping[str, Any]]] = {}
        self._images: dict[tuple[str, str], tuple[tuple[int, ...], str] | Fault] = {}
        self._days: dict[str, datetime] = {}
        self._marks: dict[str, int] = {}

    def read(self, line: Line) -> ListedFrame:
        """What a line comes to. Raises Refused with all that is wrong in it, each at its field."""
        faults: list[Fault] = []
        stretch, typed = self._stretch(line, faults)
        tension = self._tension(line, faults)
        stage = self._stage(line, faults)
        images, said = self._image(line, stage, faults)
        if images and stage is Standing.UNKNOWN:
            stage = Standing.KEPT
        place, place_name = self._place(line, faults)
        uses = self._uses(line, faults)
        stretched = self._day("stretched_on", line, faults)
        measured = self._day("tension_on", line, faults) if tension else None
        if stretched and measured and measured < stretched and not faults:
            faults.append(Fault("tension_on", _("The tension was measured before the mesh was stretched.")))
        mark = self._mark(line, faults)
        note = self._note(line, faults)
        if faults:
            raise Refused(faults)
        if self._marks.setdefault(screens.mark_key(mark) or f" {line.number}", line.number) != line.number:
            other = self._marks[screens.mark_key(mark)]
            message = _("Line {other} has the mark {mark} too: give each frame its own.")
            raise Refused(message.format(mark=mark, other=other), "mark")
        stretch = {**stretch, **({"mark": mark} if mark else {}), **self._in_use(stretched, uses)}
        measured = measured or (self._measured if tension else None)
        return ListedFrame(
            line.number,
            mark,
            stretch,
            typed,
            self._noon(stretched),
            stage,
            images,
            tension,
            self._noon(measured),
            place,
            place_name,
            note,
            stretched.isoformat() if stretched else "",
            measured.isoformat() if measured else "",
            said,
        )

    def _cell(self, field: str, line: Line) -> tuple[str, str]:
        """What stands in the first column of a field that is filled, and the unit of that column."""
        for at, unit in self._columns.get(field, ()):
            if at < len(line.cells) and line.cells[at]:
                return line.cells[at], unit
        return "", ""

    def _stretch(self, line: Line, faults: list[Fault]) -> tuple[Mapping[str, Any], Mapping[str, Any]]:
        cells = tuple(
            self._cell(name, line)
            for name in ("mesh_count_as_labelled", "thread_um", "mesh_colour", "frame", "frame_size_mm")
        )
        if cells not in self._stretches:
            try:
                self._stretches[cells] = _read_stretch(*cells)
            except Refused as refused:
                faults += refused.faults
                return {}, {}
        return self._stretches[cells]

    def _tension(self, line: Line, faults: list[Fault]) -> Mapping[str, Any]:
        cells = [
            (line.cells[at], unit) for at, unit in self._columns.get("readings_n_per_cm", ()) if at < len(line.cells)
        ]
        cells = [(text, unit) for text, unit in cells if text]
        if not cells:
            return {}
        bare = any(columns.asks_unit(field_of("frames", "readings_n_per_cm"), [text]) for text, _unit in cells)
        unit = next((unit for _text, unit in cells if unit), "")
        if bare and not unit:
            faults.append(_no_unit("readings_n_per_cm"))
            return {}
        sent = {"readings_n_per_cm": [text for text, _unit in cells], "readings_n_per_cm.unit": [unit]}
        try:
            return step_reading.read(SCREEN_STEPS["tension"], sent)[0]
        except Refused as refused:
            faults += refused.faults
            return {}

    def _stage(self, line: Line, faults: list[Fault]) -> Standing:
        text, _unit = self._cell("stage", line)
        if not text:
            return Standing.UNKNOWN
        word = word_of("stage", text)
        stage = Standing(word) if word else stage_of(text)
        there = stage_words((*WITHOUT_IMAGE, *WITH_IMAGE))
        if stage is None:
            faults.append(
                Fault("stage", _("“{text}” is not a stage. One of: {there}.").format(text=text[:40], there=there))
            )
        elif stage is Standing.RETIRED:
            faults.append(Fault("stage", _("A retired frame is left out.")))
        elif stage not in (*WITHOUT_IMAGE, *WITH_IMAGE, Standing.UNKNOWN):
            told = _("“{text}”: leave the stage empty here, and log it at the frame. A list takes: {there}.")
            faults.append(Fault("stage", told.format(text=text[:40], there=there)))
        else:
            return stage
        return Standing.UNKNOWN

    def _image(self, line: Line, stage: Standing, faults: list[Fault]) -> tuple[tuple[int, ...], str]:
        job, name = self._cell("job", line)[0], self._cell("separation", line)[0]
        if stage in WITHOUT_IMAGE:
            if not (job or name):
                return (), ""
            told = _("It names a job or an image, but its stage is “{stage}”: one of the two is wrong.")
            faults.append(Fault("stage", told.format(stage=_(STANDING_WORDS[stage]))))
            return (), ""
        if not job:
            if stage in WITH_IMAGE:
                told = _(
                    "At the stage “{stage}” an image is on it: name its job and the image, or leave the stage empty."
                )
                faults.append(Fault("stage", told.format(stage=_(STANDING_WORDS[stage]))))
            elif name:
                faults.append(Fault("job", _("Which job is the image of? Name it by code, number or title.")))
            return (), ""
        key = (job, name)
        if key not in self._images:
            self._images[key] = _image_of(self._db, job, name)
        found = self._images[key]
        if isinstance(found, Fault):
            faults.append(found)
            return (), ""
        return found

    def _place(self, line: Line, faults: list[Fault]) -> tuple[Place | None, str]:
        text, _unit = self._cell("place", line)
        if not text:
            return None, ""
        place = places.find(self._db, text)
        if place is not None and place.retired_at is None:
            return place, ""
        if place is not None:
            faults.append(Fault("place", _("“{name}” is out of use: bring it back first.").format(name=place.name)))
            return None, ""
        if not self._make_places:
            there = ", ".join(one.name for one in places.every(self._db)[:6]) or _("none yet")
            told = _("There is no place “{text}”; there are: {there}.")
            faults.append(Fault("place", told.format(text=text[:40], there=there)))
            return None, ""
        wrong: list[Fault] = []
        name = names.take(text, wrong, "place")
        faults += wrong
        return None, name

    def _uses(self, line: Line, faults: list[Fault]) -> int | None:
        text, _unit = self._cell("uses_before", line)
        if not text:
            return None
        try:
            return typed_units.whole(text, 0, 10_000)
        except ValueError as fault:
            faults.append(Fault.of("uses_before", fault))
            return None

    def _in_use(self, stretched: date | None, uses: int | None) -> dict[str, Any]:
        """A frame whose day of stretching nobody knows has been in use: its mesh settled long ago. So has one that was
        used; one that was never used is newly stretched."""
        if uses:
            return {"in_use": "yes", "uses_before": uses}
        if uses == 0:
            return {"in_use": "no"}
        return {} if stretched else {"in_use": "yes"}

    def _day(self, field: str, line: Line, faults: list[Fault]) -> date | None:
        text, order = self._cell(field, line)
        if not text:
            return None
        day = dates.day(text, order)
        if day is None and dates.in_two_ways(text):
            faults.append(Fault(field, _("Say for the column which number is the day and which the month.")))
        elif day is None:
            told = _("“{text}” cannot be read as a date. Write year-month-day, such as 2026-03-09.")
            faults.append(Fault(field, told.format(text=text[:40])))
        elif day > self._now.astimezone(self._zone).date():
            faults.append(Fault(field, _("{day} is still to come.").format(day=day)))
        elif day.year < 2000:
            faults.append(Fault(field, _("{day} is too long ago to be meant.").format(day=day)))
        else:
            return day
        return None

    def _noon(self, day: date | None) -> datetime | None:
        """Noon of a day; of this day, or where nobody knows it, None."""
        if day is None or day == self._now.astimezone(self._zone).date():
            return None
        text = f"{day}T12:00"
        if text not in self._days:
            self._days[text] = act_time(text, self._zone, self._now)
        return self._days[text]

    def _mark(self, line: Line, faults: list[Fault]) -> str:
        text, _unit = self._cell("mark", line)
        if not text:
            return ""
        try:
            mark = names.mark(text)
            free(self._db, mark)
        except ValueError as fault:
            faults.append(Fault.of("mark", fault))
            return ""
        except Refused as refused:
            faults += refused.faults
            return ""
        return mark

    def _note(self, line: Line, faults: list[Fault]) -> str:
        said = []
        for at, _unit in self._columns.get(AS_NOTE, ()):
            if at < len(line.cells) and line.cells[at]:
                own = columns.is_note(self._heads[at])
                said.append(line.cells[at] if own else f"{self._heads[at]}: {line.cells[at]}")
        try:
            return names.words("\n".join(said))
        except ValueError as fault:
            faults.append(Fault.of(AS_NOTE, fault))
            return ""


def free(db: Database, mark: str) -> None:
    """Refuses a mark that another screen has, or one that looks the same."""
    for alike in names.spelled_alike(mark):
        if screens.by_mark(db, alike):
            raise Refused(names.taken_alike(mark, alike), "mark")
    if mark and screens.by_mark(db, mark):
        raise Refused(_("Another screen already has the mark {mark}.").format(mark=mark), "mark")


def _no_unit(field: str) -> Fault:
    """Its column has bare numbers, and nobody said in which unit."""
    known = field_of("frames", field)
    said = _(" or ").join(_(word) for _unit, word in known.units) if known else ""
    return Fault(field, _("Say the unit of this column, {units}: it has bare numbers.").format(units=said))


def _read_stretch(
    mesh: tuple[str, str],
    thread: tuple[str, str],
    colour: tuple[str, str],
    frame: tuple[str, str],
    size: tuple[str, str],
) -> tuple[Mapping[str, Any], Mapping[str, Any]]:
    """What was stretched, from the cells that say so and the units of their columns. Raises Refused."""
    sent: dict[str, list[str]] = {}
    faults: list[Fault] = []
    both = columns.COUNT_AND_THREAD.fullmatch(mesh[0])
    if both:
        mesh, thread = (both[1], mesh[1]), thread if thread[0] else (f"{both[2]} um", "")
    elif mesh[1]:  # whoever says that a column is counted per inch means its 156T so too
        mesh = (mesh[0].rstrip("Tt ").removesuffix("mesh").rstrip(), mesh[1])
    for name, (text, unit) in (("mesh_count_as_labelled", mesh), ("thread_um", thread), ("frame_size_mm", size)):
        if not text:
            continue
        bare = columns.asks_unit(field_of("frames", name), [text])
        if name == "thread_um" and text in ("?", "-"):
            continue
        if bare and not unit:
            faults.append(_no_unit(name))
        elif name == "frame_size_mm":
            sent[name] = [f"{text} {unit}" if bare else text]
        else:
            sent |= {name: [text], **({f"{name}.unit": [unit]} if unit else {})}
    for name, (text, _unit) in (("mesh_colour", colour), ("frame", frame)):
        word = word_of(name, text) if text else None
        if word:
            sent[name] = [word]
        elif text:
            told = _("“{text}”: one of {there} would do.")
            faults.append(Fault(name, told.format(text=text[:40], there=", ".join(columns.words_of(name)))))
    if faults:
        raise Refused(faults)
    return step_reading.read(SCREEN_STEPS["stretch"], sent)


def _image_of(db: Database, job: str, name: str) -> tuple[tuple[int, ...], str] | Fault:
    """The image that a list names, by its job and its name, with how it is called; or what is wrong."""
    numbers = _jobs_named(db, job)
    if not numbers:
        return Fault("job", _("This shop has no job “{text}”: enter it first.").format(text=job[:60]))
    images = list(dict.fromkeys(image for number in numbers for image in jobs.images_of(db, number)))
    known = jobs.separations(db, images)
    fit = [image for image, one in known.items() if not name or folded(one.name) == folded(name)]
    if len(fit) == 1:
        image = known[fit[0]]
        return (fit[0],), f"{image.art} · {image.name}"
    there = ", ".join(sorted({one.name for one in known.values()}))
    if not fit:
        told = _("The job “{job}” prints no image “{text}”; it prints: {there}.")
        return Fault("separation", told.format(job=job[:60], text=name[:40], there=there))
    if not name:
        return Fault("separation", _("Which image of “{job}”? It prints: {there}.").format(job=job[:60], there=there))
    found = ", ".join(shown(one.code) for number in numbers if (one := jobs.get(db, number)))
    told = _("Several images are called so: name the job by its code. There are: {codes}.")
    return Fault("job", told.format(codes=found))


def _jobs_named(db: Database, text: str) -> list[int]:
    """The jobs that a list may mean: by code, by the customer's number, else by their whole title."""
    try:
        issued = codes.find(db, read_code(text))
    except NoCode:
        issued = None
    if issued is not None and issued.kind == "job":
        return [issued.thing]
    if referred := jobs.by_reference(db, text):
        return referred
    return [one.id for one in jobs.search(db, text, 200) if folded(one.title) == folded(text)]
