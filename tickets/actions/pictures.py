"""Pictures taken into the shop: looked at without trust, made small, rid of what they tell besides the picture."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from sqlite_utils import Database

from tickets import store
from tickets.actions import picture_reader
from tickets.actions.picture_reader import Made
from tickets.domain.entry import stamp
from tickets.domain.jobs.job import Job
from tickets.domain.jobs.job_file import is_picture
from tickets.domain.person import Actor
from tickets.domain.refusal import Fault, Refused, TryLater
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.store import pictures
from tickets.store.pictures import Picture

T = TypeVar("T")

MOST_BYTES = 12_000_000
"""Of a picture sent by a phone. One that lies beside a job file may be larger (`domain.jobs.job_file`)."""
LONGEST_TURN = 5.0
"""Seconds that somebody waits for the picture of another: then they are asked to send theirs again."""

MOST_WAITING = 2
"""So many wait for that; who comes then is asked to come again at once, so that pages keep their threads."""

_at_once = threading.Lock()
"""One picture is opened at a time: several large ones together would take the memory of a small server."""
_places = threading.BoundedSemaphore(1 + MOST_WAITING)


def make(
    raw: bytes, where: str = "picture", most: int = MOST_BYTES, reader: Callable[[bytes], Made] = picture_reader.read
) -> Made:
    """The picture in a PNG or JPEG file, made small. Raises Refused (at `where`), saying what would do, for anything
    else. `reader`: what unpacks it, here or aside."""
    if len(raw) > most:
        raise Refused(
            _("This picture is too large: at most {most} MB. Take it at a lower resolution.").format(
                most=most // 1_000_000
            ),
            where,
        )
    if not is_picture(raw):
        raise Refused(_("This is neither a PNG nor a JPEG picture: save it as one of them."), where)
    with _in_turn():
        try:
            return reader(raw)
        except picture_reader.Unfit as unfit:
            raise Refused(_(WHY[unfit.why]), where) from None


WHY = {
    "pixels": N_("This picture has too many pixels: save it smaller, 6000 by 5000 at most."),
    "parts": N_("This picture is built of too many parts: save it as a plain JPEG."),
    "slow": N_("This picture takes too long to read: save it smaller, as a plain JPEG."),
    "damaged": N_("This picture cannot be read: it is damaged or cut off. Take or save it again."),
}
"""What is said of a picture that is not taken."""


@contextmanager
def _in_turn() -> Iterator[None]:
    """One picture after the other. Raises TryLater where the one before takes too long, or others wait already."""
    later = TryLater(_("Another picture is being read just now. Send yours again in {n} s.").format(n=5), 5)
    if not _places.acquire(blocking=False):
        raise later
    try:
        if not _at_once.acquire(timeout=LONGEST_TURN):
            raise later
        try:
            yield
        finally:
            _at_once.release()
    finally:
        _places.release()


# Into the shop, and out ----------------------------------------------------------------------------------------------


def take(
    db: Database,
    actor: Actor,
    raw: bytes,
    *,
    now: datetime,
    where: str = "picture",
    most: int = MOST_BYTES,
    reader: Callable[[bytes], Made] = picture_reader.read,
) -> str:
    """Keeps the picture in a file that somebody sent; its hash. Raises Refused for what is no picture."""
    made = make(raw, where, most, reader)
    found = pictures.keep(pictures.folder_of(db), made.body, made.small, made.kind)
    with store.writing(db):
        picture = Picture(found, made.kind, len(made.body), made.width, made.height)
        pictures.add(db, picture, stamp(now), actor.id)
    return found


def beside(db: Database, actor: Actor, files: Sequence[Path], sheets: Sequence[Job], *, now: datetime) -> list[str]:
    """The art of jobs read from files, taken from beside them: a hash each, empty for a job without a picture.

    Raises Refused with all pictures that will not do.
    """
    from tickets.domain.jobs.job import LARGEST_PICTURE

    def taken(raw: bytes) -> str:
        return take(db, actor, raw, now=now, where="art.picture", most=LARGEST_PICTURE)

    return [found or "" for found in _each_beside(files, sheets, taken)]


def look_at(files: Sequence[Path], sheets: Sequence[Job]) -> None:
    """Raises Refused with all pictures beside job files that `beside` would refuse; writes nothing."""
    from tickets.domain.jobs.job import LARGEST_PICTURE

    _each_beside(files, sheets, lambda raw: make(raw, "art.picture", LARGEST_PICTURE))


def _each_beside(files: Sequence[Path], sheets: Sequence[Job], use: Callable[[bytes], T]) -> list[T | None]:
    """What is made of the picture beside each job file, None without one."""
    found: list[T | None] = []
    faults: list[Fault] = []
    for file, sheet in zip(files, sheets, strict=True):
        name = sheet.art.picture
        try:
            found.append(use(_beside(file, name)) if name else None)
        except OSError:
            faults.append(Fault(f"{file.name}: art.picture", _("There is no such picture beside the job file.")))
        except Refused as refused:
            faults += [Fault(f"{file.name}: {fault.where}", fault.message) for fault in refused.faults]
    if faults:
        raise Refused(faults)
    return found


def _beside(file: Path, name: str) -> bytes:
    """A picture beside a job file; a link may lead to another file there, and nowhere else."""
    found, folder = (file.parent / name).resolve(), file.parent.resolve()
    if not found.is_relative_to(folder):
        raise FileNotFoundError(name)
    return found.read_bytes()
