"""Pictures: files beside the database, named by the hash of what they hold; which job shows which one.

`pictures/ab/abcd….jpg` is the picture, `….small.jpg` beside it a small one. Neither is ever changed or deleted.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sqlite_utils import Database

from tickets.domain.refusal import NotNow
from tickets.i18n import gettext as _
from tickets.store import PICTURES, place_of, private
from tickets.store.reads import once

FOLDER = PICTURES
HASH = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture's row: SHA-256 of its file, `jpg` or `png`, its size in bytes and pixels."""

    hash: str
    kind: str
    bytes: int
    width: int
    height: int

    def name(self, small: bool = False) -> str:
        """Where its file lies, beside the shop's other pictures."""
        return f"{self.hash[:2]}/{self.hash}{'.small' if small else ''}.{self.kind}"


def folder_of(db: Database) -> Path:
    """The folder of the pictures of the shop behind a connection."""
    return Path(place_of(db)).parent / FOLDER


def keep(folder: Path, body: bytes, small: bytes, kind: str) -> str:
    """Writes a picture and its small one where they are not there yet; the hash. Raises NotNow when it cannot."""
    found = hashlib.sha256(body).hexdigest()
    there = folder / found[:2]
    try:
        private.folder(folder)
        private.folder(there)
        for data, ending in ((small, f".small.{kind}"), (body, f".{kind}")):
            target = there / f"{found}{ending}"
            if target.is_symlink() or not target.exists() or target.stat().st_size != len(data):
                with private.whole(target) as file:
                    file.write(data)
    except OSError as error:
        raise NotNow(
            _("The picture could not be written ({error}): make room, or make {folder} writable.").format(
                error=error.strerror or error, folder=folder
            )
        ) from None
    return found


def read(folder: Path, name: str) -> bytes:
    """What the file of a picture holds, by its name. Raises OSError; for a link too, which would lead elsewhere."""
    for part in (folder, (folder / name).parent):
        if part.is_symlink():
            raise private.IsLink(part)
    return private.read(folder / name)


def add(db: Database, picture: Picture, at: str, person: int) -> None:
    """A new picture's row; one that is there stays as it is."""
    db.execute(
        "INSERT INTO pictures (hash, kind, bytes, width, height, at, person) VALUES (?, ?, ?, ?, ?, ?, ?) "
        "ON CONFLICT (hash) DO NOTHING",
        [picture.hash, picture.kind, picture.bytes, picture.width, picture.height, at, person],
    )


_COLUMNS = "p.hash, p.kind, p.bytes, p.width, p.height"


@once
def get(db: Database, found: str) -> Picture | None:
    """A picture by its hash."""
    row = db.execute(f"SELECT {_COLUMNS} FROM pictures p WHERE p.hash = ?", [found]).fetchone()
    return Picture(*row) if row else None


def every(db: Database) -> list[Picture]:
    """All pictures, in the order of their hashes."""
    return [Picture(*row) for row in db.execute(f"SELECT {_COLUMNS} FROM pictures p ORDER BY p.hash").fetchall()]


@once
def of_job(db: Database, job: int, version: int) -> Picture | None:
    """The art that a job shows at a version."""
    row = db.execute(
        f"SELECT {_COLUMNS} FROM job_pictures j JOIN pictures p ON p.hash = j.hash WHERE j.job = ? AND j.version = ?",
        [job, version],
    ).fetchone()
    return Picture(*row) if row else None


def of_separations(db: Database, separations: Sequence[int]) -> dict[int, Picture]:
    """The art that images are of, each as the newest job that asks for it shows it; without those of no picture."""
    if not separations:
        return {}
    rows = db.execute(
        f"SELECT s.separation, {_COLUMNS} FROM stations s JOIN job_pictures j ON j.job = s.job "
        f"JOIN pictures p ON p.hash = j.hash WHERE s.separation IN ({', '.join('?' * len(separations))}) "
        "ORDER BY j.job, j.version",
        list(separations),
    )
    return {row[0]: Picture(*row[1:]) for row in rows.fetchall()}


def attach(db: Database, job: int, version: int, found: str) -> None:
    """The art that a job shows at a version; said once."""
    db.execute("INSERT INTO job_pictures (job, version, hash) VALUES (?, ?, ?)", [job, version, found])
