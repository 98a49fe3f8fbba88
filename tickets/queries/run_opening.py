"""What a run is opened from: the placements of a job, its presses, how many of its screens are ready."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlite_utils import Database

from tickets.i18n import gettext as _
from tickets.i18n import ngettext
from tickets.queries import boards, desk_today, heads
from tickets.store import jobs, places


@dataclass(frozen=True, slots=True)
class Ready:
    """Of the stations of a placement that ask for a screen how many have one ready or hanging (`ready`), how many one
    on the way, how many none."""

    ready: int
    under_way: int
    none: int
    asked: int


def ready(db: Database, job: jobs.Saved, placement: int, now: datetime) -> Ready:
    """How many screens of a placement are ready: what the boards say, so a screen that the spec stops is none."""
    asked = desk_today.placement_ahead(db, job, placement, now).stations
    there = sum(one.progress.has in boards.TO_HAND for one in asked)
    covered = sum(one.progress.has.covered for one in asked)
    return Ready(there, covered - there, len(asked) - covered, len(asked))


@dataclass(frozen=True, slots=True)
class Opening:
    """What the form asks that opens a run: placements and presses to tap, what the prints take, which are chosen."""

    placements: tuple[tuple[str, str], ...]
    presses: tuple[tuple[str, str], ...]
    takes: tuple[str, ...]
    placement: str
    press: str


def opening(
    db: Database,
    job: jobs.Saved,
    missing: Mapping[int, int],
    presses: Sequence[places.Place],
    taken: Mapping[int, Mapping[int, int]],
    under_way: Collection[int] = (),
) -> Opening:
    """The form for a job whose placements `missing` are not printed yet; a press with too few free heads says so. Of
    those that are not printed one is chosen that no open run prints (`under_way`), and the press that is planned."""
    on = jobs.planned(db, job.id).press
    planned = next((one.code for one in presses if one.id == on), "")
    every = [(number, one.name) for number, one in enumerate(job.sheet.placements, 1)]
    left = [number for number, _name in every if number in missing] or [number for number, _name in every]
    rooms = {number: heads.rooms_of(db, job, number, presses, taken) for number in left}
    shown_presses, fit = [], []
    for place, one in enumerate(presses):
        few = [name for number, name in every if number in rooms and not rooms[number][place].enough]
        fit += [one.code] if not few else []
        free = rooms[left[0]][place].free
        said = [one.name, *([_("planned")] if one.code == planned else [])]
        if one.heads:
            count = ngettext("{n} head", "{n} heads", one.heads).format(n=one.heads)
            said.append(count if free == one.heads else _("{heads}, {free} free").format(heads=count, free=free))
        if few:
            many = len(every) > 1
            said.append("! " + (_("too few for {names}").format(names=", ".join(few)) if many else _("too few")))
        shown_presses.append((one.code, ", ".join(said)))
    return Opening(
        tuple((str(number), name if number in missing else f"{name} ({_('printed')})") for number, name in every),
        tuple(shown_presses),
        tuple(f"{name}: {heads.said(rooms[number])}" for number, name in every if number in rooms and presses),
        str(next((number for number in left if number not in under_way), left[0])),
        planned or (fit or [one.code for one in presses] or [""])[0],
    )
