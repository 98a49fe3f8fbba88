"""Whether a press has the heads that a print takes, and what would do where it has not. Reads; writes nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from tickets.domain.jobs.heads import Takes, takes
from tickets.domain.posted import Doubt, Form
from tickets.i18n import gettext as _
from tickets.i18n import ngettext
from tickets.store import jobs, places, runs

SHORT = "heads_short"
"""The field with the answer to the question about heads."""


@dataclass(frozen=True, slots=True)
class PressRoom:
    """A press for a print: what the print takes of it, the heads that screens of other open runs have there (head ->
    run), and how many their flashes take."""

    press: places.Place
    takes: Takes
    busy: Mapping[int, int]
    hot: int = 0

    @property
    def free(self) -> int | None:
        """Heads that are free now; None: nobody noted how many the press has."""
        return None if self.press.heads is None else max(0, self.press.heads - len(self.busy) - self.hot)

    @property
    def enough(self) -> bool:
        """False where too few are free, by what was noted."""
        return self.free is None or self.free >= self.takes.heads

    @property
    def never(self) -> bool:
        """True where it can't be printed on this press whatever is moved."""
        return self.press.heads is not None and self.press.heads < self.takes.least


def rooms(
    db: Database, job: jobs.Saved, placement: int, presses: Sequence[places.Place] = (), but: int = 0
) -> list[PressRoom]:
    """What every press (else those of `presses`) has for a placement of a job (`but`: the run that it is printed in),
    in their order."""
    return rooms_of(db, job, placement, presses or places.every(db, "press"), runs.busy_everywhere(db, but))


def rooms_of(
    db: Database,
    job: jobs.Saved,
    placement: int,
    presses: Sequence[places.Place],
    taken: Mapping[int, Mapping[int, int]],
) -> list[PressRoom]:
    """`rooms`, for a page with many prints: `taken` as `runs.busy_everywhere` found it."""
    sheet = job.sheet
    place, found = sheet.placements[placement - 1], []
    busy_in = sorted({run for one in presses for run in taken.get(one.id, {}).values()})
    runs.read_ahead(db, busy_in)
    jobs.sheets_ahead(db, [run.job for number in busy_in if (run := runs.get(db, number))])
    for one in presses:
        busy = taken.get(one.id, {})
        hot = sum(_flashes(db, run, one) for run in sorted(set(busy.values())))
        found.append(PressRoom(one, takes(sheet, place, one.press), busy, hot))
    return found


def _flashes(db: Database, number: int, press: places.Place) -> int:
    """How many heads the flashes of a run take on its press."""
    run = runs.get(db, number)
    job = jobs.get(db, run.job, run.version) if run else None
    return takes(job.sheet, job.sheet.placements[run.placement - 1], press.press).flashes if run and job else 0


class TooFew(Doubt):
    """A press has fewer free heads than a print takes. `opens`: false where nothing that could be moved would make room
    there; `told`: what is so, and what could be moved; `others`: the presses that have enough."""

    def __init__(self, room: PressRoom, told: Sequence[str], others: Sequence[PressRoom]) -> None:
        self.opens, self.told, self.others = not room.never, tuple(told), tuple(others)
        asked = [_("Open the run here anyway?")] if self.opens else []
        super().__init__(" ".join([*told, *asked]), SHORT)


def asked_first(db: Database, job: jobs.Saved, placement: int, press: places.Place, form: Form) -> dict[str, Any]:
    """What was answered about too few heads, to be kept with the run. Raises TooFew where it was not answered, or where
    no answer would do."""
    (room,) = rooms(db, job, placement, [press])
    if room.enough:
        return {}
    if room.never or not form.yes(SHORT):
        others = [one for one in rooms(db, job, placement) if one.free is not None and one.enough]
        raise TooFew(room, [_few(room), *_advice(db, job, placement, room)], others)
    return {SHORT: "yes", "heads_free": room.free, "heads_taken": room.takes.heads}


def never_fits(db: Database, job: jobs.Saved, press: places.Place) -> list[str]:
    """Why nothing of a job can be printed on a press, whatever is moved there; empty: something can."""
    found = [rooms_of(db, job, number, [press], {})[0] for number in range(1, len(job.sheet.placements) + 1)]
    return [_few(found[0])] if all(room.never for room in found) else []


def answered(values: Mapping[str, Any]) -> str:
    """What was answered when a run was opened, in words."""
    free = values.get("heads_free", "–")
    said = ngettext(
        "{free} head of {taken} that it takes was free", "{free} heads of {taken} that it takes were free",
        1 if free == 1 else 2,
    )  # fmt: skip
    return said.format(free=free, taken=values.get("heads_taken", "–"))


def none_free(db: Database, job: jobs.Saved, placement: int, press: places.Place, run: int) -> str:
    """What is said where a screen is to be hung and no head is free."""
    (room,) = rooms(db, job, placement, [press], run)
    told = _("No head of {press} is free for it.").format(press=press.name)
    return " ".join([told, *_advice(db, job, placement, room)])


def _few(room: PressRoom) -> str:
    told = room.takes
    said = _("This print takes {need} ({parts}). On {press}: {heads}, {free} free.")
    heads = ngettext("{n} head", "{n} heads", room.press.heads or 0).format(n=room.press.heads)
    return said.format(need=_all(told), parts=_parts(told), press=room.press.name, heads=heads, free=room.free)


def _all(told: Takes) -> str:
    return ngettext("{n} head", "{n} heads", told.heads).format(n=told.heads)


def _parts(told: Takes) -> str:
    parts = [ngettext("{n} screen", "{n} screens", told.prints).format(n=told.prints)]
    parts += [_("flash: {n}").format(n=told.flashes)] if told.flashes else []
    parts += [_("cooling: {n}").format(n=told.cools)] if told.cools else []
    return ", ".join(parts)


def said(found: Sequence[PressRoom]) -> str:
    """What a print takes of a press, in words; of several kinds of presses what it takes of most of them."""
    most = max((one.takes for one in found), key=lambda one: one.heads)
    return _("takes {need} ({parts})").format(need=_all(most), parts=_parts(most))


def _advice(db: Database, job: jobs.Saved, placement: int, room: PressRoom) -> list[str]:
    """What could be moved so that the print has its heads, the easiest first."""
    found = []
    other = [one for one in rooms(db, job, placement) if one.press.id != room.press.id and one.free is not None]
    if good := [f"{one.press.name} ({one.free})" for one in other if one.enough]:
        found.append(_("Enough heads are free on: {presses}.").format(presses=", ".join(good)))
    if room.busy:
        heads: dict[int, list[str]] = {}
        for head, run in sorted(room.busy.items()):
            heads.setdefault(run, []).append(str(head))
        held = "; ".join(_("run {run}: {heads}").format(run=run, heads=", ".join(on)) for run, on in heads.items())
        found.append(_("Heads of other runs ({held}) come free when those are finished or paused.").format(held=held))
    told, heads_here = room.takes, room.press.heads or 0
    if told.heads > heads_here:
        helps = not room.never  # its screens alone are too many else, whatever is moved
        if told.cools and helps:
            found.append(_("Cooling can be a longer stop in place of a head of its own."))
        if told.flashes and helps:
            found.append(_("A flash over a platen beside the heads takes none; of a hand press note it under Places."))
        if told.flashes > 1 and helps:
            found.append(_("In two revolutions one flash serves in both."))
        if told.one_garment == told.prints > heads_here:
            found.append(_("More revolutions would not help: whatever prints in another one needs its own head too."))
        if told.one_garment < told.prints and helps:
            said = ngettext(
                "Garment by garment it takes {n} screen: the others hang when their garment comes.",
                "Garment by garment it takes {n} screens: the others hang when their garment comes.",
                told.one_garment,
            )
            found.append(said.format(n=told.one_garment))
        if room.never and not good:
            found.append(_("Print it with fewer colours, or put right how many heads a press has (under Places)."))
    return found
