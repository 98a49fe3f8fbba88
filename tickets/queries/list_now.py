"""What a list comes to, before anything is written: what each line makes, and what is wrong, once for each kind of
fault with the lines that have it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple, Protocol

from sqlite_utils import Database

from tickets.calculator import typed
from tickets.calculator.kinds import PLACES
from tickets.domain import names
from tickets.domain.lists import columns
from tickets.domain.lists.cells import Line
from tickets.domain.lists.columns import AS_NOTE, Chosen, ListField, field_of, word_of
from tickets.domain.person import role_said
from tickets.domain.refusal import Fault, Refused
from tickets.domain.stages import STANDING_WORDS
from tickets.i18n import gettext as _
from tickets.i18n import ngettext, pgettext
from tickets.queries.list_frames import FrameReader, ListedFrame
from tickets.store import lists, people, places
from tickets.store.lists import KeptList


def counted(kind: str, number: int) -> str:
    """So many of what a list is of, such as `1 frame`."""
    said = {
        "frames": ngettext("{n} frame", "{n} frames", number),
        "people": ngettext("{n} person", "{n} people", number),
        "places": ngettext("{n} place", "{n} places", number),
    }
    return said[kind].format(n=number)


SHOWN = 3
"""Lines of which is shown what was read, so that a slip in a whole column is seen."""


@dataclass(frozen=True, slots=True)
class ListedPerson:
    """A person of a list."""

    number: int
    name: str
    role: str

    @property
    def values(self) -> dict[str, str]:
        """What was read."""
        return {"name": self.name, "role": role_said(self.role)}

    @property
    def group(self) -> str:
        """What such are counted by."""
        return role_said(self.role)


@dataclass(frozen=True, slots=True)
class ListedPlace:
    """A place of a list."""

    number: int
    name: str
    kind: str
    heads: int | None
    outside: bool

    @property
    def values(self) -> dict[str, str]:
        """What was read."""
        heads = {"heads": str(self.heads)} if self.heads else {}
        return {"name": self.name, "kind": _(PLACES[self.kind]), **heads, "outside": _("yes") if self.outside else ""}

    @property
    def group(self) -> str:
        """What such are counted by."""
        return _(PLACES[self.kind])


Listed = ListedFrame | ListedPerson | ListedPlace


class LineReader(Protocol):
    """Reads the lines of a list."""

    def read(self, line: Line) -> Listed:
        """What a line comes to. Raises Refused."""


class _NameReader:
    """Reads people, or places: each by its name, which is its alone."""

    def __init__(self, db: Database, chosen: Sequence[Chosen]) -> None:
        self._db = db
        self._at = {one.field: at for at, one in enumerate(chosen) if one.field}
        self._names: dict[str, int] = {}

    def _cell(self, line: Line, field: str) -> str:
        at = self._at.get(field, len(line.cells))
        return line.cells[at] if at < len(line.cells) else ""

    def _word(self, line: Line, field: str, faults: list[Fault]) -> str:
        """Which of the words of a field stands there; it is needed."""
        text = self._cell(line, field)
        word = word_of(field, text) if text else None
        if word is None:
            there = ", ".join(columns.words_of(field))
            told = _("“{text}”: one of {there} would do.") if text else _("One of these is needed: {there}.")
            faults.append(Fault(field, told.format(text=text[:40], there=there)))
        return word or ""

    def _named(self, line: Line, example: str, faults: list[Fault]) -> str:
        name = names.take(self._cell(line, "name"), faults, "name", example)
        other = self._names.setdefault(people.name_key(name), line.number)
        if name and other != line.number:
            faults.append(Fault("name", _("Line {other} has this name too.").format(other=other)))
        return name


class _PeopleReader(_NameReader):
    def read(self, line: Line) -> ListedPerson:
        faults: list[Fault] = []
        name = self._named(line, _("Ana Ruiz"), faults)
        role = self._word(line, "role", faults)
        there = None if faults else people.find(self._db, name)
        if there is not None:
            told = (
                _("{name} is on the list already.")
                if there.left_at is None
                else _("{name} was here before: bring them back on the page “People”.")
            )
            faults.append(Fault("name", told.format(name=there.name)))
        for alike in names.spelled_alike(name):
            if not faults and (other := people.find(self._db, alike)) is not None:
                faults.append(Fault("name", names.taken_alike(name, other.name)))
        if faults:
            raise Refused(faults)
        return ListedPerson(line.number, name, role)


class _PlaceReader(_NameReader):
    def read(self, line: Line) -> ListedPlace:
        faults: list[Fault] = []
        name = self._named(line, pgettext("an example of a name", "Rack 3"), faults)
        kind = self._word(line, "kind", faults)
        there = None if faults else places.find(self._db, name)
        if there is not None:
            faults.append(Fault("name", _("There is a place “{name}” already.").format(name=there.name)))
        for alike in names.spelled_alike(name):
            if not faults and (other := places.find(self._db, alike)) is not None:
                faults.append(Fault("name", names.taken_alike(name, other.name)))
        heads = None
        if kind == "press" and (text := self._cell(line, "heads")):
            try:
                heads = typed.whole(text, 1, 40)
            except ValueError as fault:
                faults.append(Fault.of("heads", fault))
        outside = self._cell(line, "outside")
        if outside and word_of("outside", outside) is None:
            faults.append(Fault("outside", _("“{text}”: yes or no would do.").format(text=outside[:40])))
        if faults:
            raise Refused(faults)
        return ListedPlace(line.number, name, kind, heads, word_of("outside", outside) == "yes")


def reader(db: Database, kept: KeptList, now: datetime) -> LineReader:
    """Who reads the lines of a list."""
    if kept.kind == "people":
        return _PeopleReader(db, kept.columns)
    if kept.kind == "places":
        return _PlaceReader(db, kept.columns)
    return FrameReader(db, kept.sheet.heads, kept.columns, now, kept.make_places, kept.measured)


class FaultGroup(NamedTuple):
    """One kind of fault: the column that it is in (empty: the line), what would do, by the first line that has it, and
    all the lines."""

    where: str
    message: str
    lines: tuple[int, ...]


class ShownColumn(NamedTuple):
    """A column as the page shows it: its heading, its field and unit as chosen, which units may be asked for, what
    stands in the first lines, and what was read of it there."""

    at: int
    head: str
    chosen: Chosen
    field: ListField | None
    asks: bool
    cells: tuple[str, ...]
    read: tuple[str, ...]

    @property
    def reads_otherwise(self) -> bool:
        """Whether what was read says more than what stands there: a unit, a word of ours, a day year first."""
        return any(read and read != cell for cell, read in zip(self.cells, self.read, strict=True))


@dataclass(frozen=True, slots=True)
class ComesTo:
    """What a list comes to. `items`: the lines that would do; `faults`: what is wrong, by line; `missing`: fields that
    are needed and that no column is."""

    items: tuple[Listed, ...]
    faults: Mapping[int, tuple[Fault, ...]]
    missing: tuple[str, ...]
    columns: tuple[ShownColumn, ...]
    first: tuple[int, ...]

    @property
    def groups(self) -> list[FaultGroup]:
        """The faults, once each with its lines, the commonest first."""
        found: dict[tuple[str, str], list[tuple[int, str]]] = {}
        for number, faults in self.faults.items():
            for fault in faults:
                kind = re.sub(r"“[^”]*”|[0-9][0-9.,/]*", "…", fault.message)
                found.setdefault((fault.where, kind), []).append((number, fault.message))
        groups = [
            FaultGroup(where, said[0][1], tuple(number for number, _message in said))
            for (where, _kind), said in found.items()
        ]
        return sorted(groups, key=lambda group: (-len(group.lines), group.lines))

    @property
    def by_mesh(self) -> dict[str, int]:
        """How many frames of each mesh; of other lists, how many of each kind."""
        counted = Counter(one.mesh if isinstance(one, ListedFrame) else one.group for one in self.items)
        return dict(sorted(counted.items(), key=lambda pair: (-pair[1], pair[0])))

    @property
    def by_stage(self) -> dict[str, int]:
        """How many frames at each stage."""
        counted = Counter(_(STANDING_WORDS[one.stage]) for one in self.items if isinstance(one, ListedFrame))
        return dict(counted.most_common())

    @property
    def new_places(self) -> list[str]:
        """The places that would be made."""
        named = (one.place_name for one in self.items if isinstance(one, ListedFrame) and one.place_name)
        return list({places_key(name): name for name in named}.values())

    @property
    def undated(self) -> int:
        """How many readings of tension have no day of their own."""
        return sum(isinstance(one, ListedFrame) and bool(one.tension) and not one.tension_day for one in self.items)


def places_key(name: str) -> str:
    """A place's name as two are held for the same."""
    return people.name_key(name)


def comes_to(db: Database, kept: KeptList, now: datetime) -> ComesTo:
    """What a list comes to by its columns as they are chosen."""
    items: list[Listed] = []
    faults: dict[int, tuple[Fault, ...]] = {}
    chosen = {one.field for one in kept.columns}
    missing = tuple(field.name for field in columns.KINDS[kept.kind] if field.needed and field.name not in chosen)
    if not missing:
        done = lists.made_by(db, kept.id)  # of one that was broken off
        left = [line for line in kept.sheet.lines if line.number not in done]
        for line, found in lines_read(reader(db, kept, now), left):
            if isinstance(found, Refused):
                faults[line.number] = found.faults
            else:
                items.append(found)
    by_number = {one.number: one for one in items[:SHOWN]}
    first = kept.sheet.lines[:SHOWN]
    shown = []
    for at, head in enumerate(kept.sheet.heads):
        one = kept.columns[at] if at < len(kept.columns) else Chosen()
        field = field_of(kept.kind, one.field) if one.field else None
        cells = columns.cells_of(kept.sheet, at)
        read = (
            ("",) * len(first)
            if one.field in (columns.IGNORED, AS_NOTE)
            else tuple(
                by_number[line.number].values.get(one.field, "") if line.number in by_number else "" for line in first
            )
        )
        shown.append(
            ShownColumn(
                at,
                head,
                one,
                field,
                columns.asks_unit(field, cells),
                tuple(columns.samples(kept.sheet, at, SHOWN)),
                read,
            )
        )
    return ComesTo(tuple(items), faults, missing, tuple(shown), tuple(line.number for line in first))


def lines_read(by: LineReader, lines: Sequence[Line]) -> Iterator[tuple[Line, Listed | Refused]]:
    """Each line with what it comes to, or with what is wrong in it."""
    for line in lines:
        try:
            yield line, by.read(line)
        except Refused as refused:
            yield line, refused


def refused_rows(kept: KeptList, found: ComesTo) -> Iterator[Sequence[str]]:
    """The lines that make nothing, as they were sent, each with what is wrong behind it: a file to mend and send."""
    width = len(kept.sheet.heads)
    yield (*kept.sheet.heads, _("what is wrong"))
    for line in kept.sheet.lines:
        if line.number in found.faults:
            said = " ".join(
                f"{_(known.word)}: {fault.message}" if (known := field_of(kept.kind, fault.where)) else fault.message
                for fault in found.faults[line.number]
            )
            yield (*line.cells, *("" for _more in range(width - len(line.cells))), said)


def template_rows(kind: str) -> Iterator[Sequence[str]]:
    """A list to fill in: its headings, and a line for an example."""
    fields = columns.KINDS[kind]
    yield [_heading(field) for field in fields]
    yield [_(field.example) if field.name in (AS_NOTE, "job", "separation") else field.example for field in fields]


def _heading(field: ListField) -> str:
    """What a column of the template is called: it is found again by that."""
    return {"job": "job", "separation": "image on it", "heads": "heads", "outside": "outside the shop"}.get(
        field.name, field.word
    )
