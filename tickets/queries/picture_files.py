"""The pictures that a shop keeps, found and read."""

from __future__ import annotations

import hashlib
from pathlib import Path

from sqlite_utils import Database

from tickets.domain.refusal import NotFound
from tickets.i18n import gettext as _
from tickets.store import pictures


def read(db: Database, found: str, small: bool = False) -> tuple[bytes, str]:
    """What a picture's file holds, and `jpg` or `png`. Raises NotFound."""
    picture = pictures.get(db, found) if pictures.HASH.fullmatch(found) else None
    if picture is None:
        raise NotFound(_("There is no such picture here."))
    try:
        return pictures.read(pictures.folder_of(db), picture.name(small)), picture.kind
    except OSError:
        raise NotFound(
            _("The file of this picture is gone: `tickets check` lists those, a backup may hold it.")
        ) from None


def name_for_job(db: Database, job: int, version: int) -> str | None:
    """The file of a job's art beside the shop's other pictures, as a job ticket keeps it; None: it has none."""
    picture = pictures.of_job(db, job, version)
    return picture.name() if picture else None


def missing(db: Database, folder: Path | None = None) -> list[str]:
    """What is wrong with the files of the pictures, a line each: gone, or not what was taken in. `folder`: where they
    lie, if not beside the shop's file."""
    folder = folder or pictures.folder_of(db)
    faults = []
    for picture in pictures.every(db):
        for name, small in ((picture.name(), False), (picture.name(small=True), True)):
            try:
                body = pictures.read(folder, name)
            except OSError:
                faults.append(_("The picture {name} is missing.").format(name=name))
                continue
            if not small and hashlib.sha256(body).hexdigest() != picture.hash:
                faults.append(_("The picture {name} is damaged.").format(name=name))
    return faults
