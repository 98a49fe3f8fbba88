"""Copies of a shop: made while it is used and checked, brought back, and what is damaged in a shop made again.

A backup tells the digest of its guarded tables (`store.proof`); restoring and repairing compare theirs with it."""

from __future__ import annotations

import json
import os
import re
import shutil
import zipfile
import zlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO, Any

from sqlite_utils import Database

from tickets import __version__, store
from tickets.actions import shop
from tickets.domain import outside
from tickets.domain.entry import stamp
from tickets.domain.refusal import NotNow
from tickets.domain.told import Told, nobody
from tickets.i18n import gettext as _
from tickets.queries import sound
from tickets.queries.sound import Finding
from tickets.store import people, private, proof
from tickets.store.settings import setting

ABOUT = "about.json"
"""Tells of a backup when and by what it was made, what was found wrong, and what its log must come to."""
IN_BACKUP = re.compile(r"shop\.db|about\.json|pictures/[0-9a-f]{2}/[0-9a-f]{64}(\.small)?\.(jpg|png)")
"""All that a backup holds, by its name in the zip."""
PACKED = 3
"""A shop's file is taken to shrink to a third of its size in the zip (the demo's: to 12 %)."""
SPARE = 2_000_000
"""Bytes left over beside what a copy needs."""
_NOT_READ = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError)
"""What reading a zip raises that is not as it was written."""


@dataclass(frozen=True, slots=True)
class MadeBackup:
    """A backup that stands: its size in bytes, how many files of pictures, and what is wrong with the shop in it."""

    bytes: int
    pictures: int
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Restored:
    """A shop that was brought back: what was made again, what is still wrong, the address of its codes, and whether the
    PINs and passwords came along."""

    anew: tuple[Finding, ...]
    findings: tuple[Finding, ...]
    address: str
    with_secrets: bool


# Made ----------------------------------------------------------------------------------------------------------------


def make(
    db: Database,
    file: Path,
    *,
    now: datetime,
    force: bool = False,
    with_secrets: bool = False,
    told: Told = nobody,
) -> MadeBackup:
    """Copies a live shop with its pictures into a zip file, and checks what it wrote; sign-ins are left out, and the
    hashes of PINs and passwords unless `with_secrets`.

    Raises NotNow: a file stands there (and no `force`, or it is no backup), no room, or it cannot be written.
    """
    _may_write(file, force)
    folder = Path(store.place_of(db)).parent
    kept = _kept_pictures(folder / store.PICTURES)
    size = store.size_of(db)
    beside = _scratch_place(folder, file.parent, size)
    try:
        needed = size // PACKED + sum(path.stat().st_size for path in kept) + SPARE
        _check_room(file.parent, needed + (size if _same_disk(beside, file.parent) else 0))
        with private.scratch(beside) as aside, private.whole(file, over=force) as part:
            found = _copied(db, aside, folder / store.PICTURES, with_secrets, told)
            about = _about(aside, found, now, with_secrets)
            _pack(part, store.shop_file(aside), folder / store.PICTURES, kept, about)
            size = part.tell()
    except FileExistsError:
        raise _stands(file) from None
    except store.Damaged as error:
        raise (store.trouble.trouble_of(error, beside) or error) from None
    except OSError as error:
        raise NotNow(
            _("{file} cannot be written: {error}. Nothing was left there; give another place.").format(
                file=file, error=error.strerror or error
            )
        ) from None
    return MadeBackup(size, len(kept), tuple(found))


def _may_write(file: Path, force: bool) -> None:
    if not file.parent.is_dir():
        raise NotNow(_("There is no folder {folder}: make it, or give another place.").format(folder=file.parent))
    if file.is_symlink():
        raise NotNow(_("{file} is a link: give the file itself.").format(file=file))
    if file.exists() and not is_backup(file):
        raise NotNow(_("{file} exists already and is not a backup: give another file name.").format(file=file))
    if file.exists() and not force:
        raise _stands(file)


def _stands(file: Path) -> NotNow:
    return NotNow(_("{file} exists already: give another file name, or replace it with --force.").format(file=file))


def _scratch_place(folder: Path, target: Path, size: int) -> Path:
    """Where the copy is made: in the shop's folder, or beside the backup where the shop's disk is full or read-only."""
    try:
        if private.room(folder) > size + SPARE:
            with private.scratch(folder):
                return folder
    except OSError:
        pass
    return target


def _same_disk(one: Path, other: Path) -> bool:
    return one.stat().st_dev == other.stat().st_dev


def _check_room(folder: Path, needed: int) -> None:
    there = private.room(folder)
    if there < needed:
        raise NotNow(
            _("{folder} has {there} MB left, and this needs {needed} MB: make room, or give another place.").format(
                folder=folder, there=there // 1_000_000, needed=-(-needed // 1_000_000)
            )
        )


def _kept_pictures(folder: Path) -> list[Path]:
    """The files of the pictures; links are no files of the shop."""
    if folder.is_symlink():
        return []
    found = []
    for path in sorted(folder.glob("*/*")):
        if path.is_file() and not (path.is_symlink() or path.parent.is_symlink()):
            if IN_BACKUP.fullmatch(_in_zip(folder, path)):
                found.append(path)
    return found


def _in_zip(folder: Path, picture: Path) -> str:
    return f"{store.PICTURES}/{picture.relative_to(folder).as_posix()}"


def _copied(db: Database, aside: Path, pictures: Path, with_secrets: bool, told: Told) -> list[Finding]:
    """Copies the shop's file and looks at the copy: what is wrong with it."""
    whole = store.copy(db, store.shop_file(aside))
    copy = store.look(aside)
    try:
        current = store.version_of(copy) == store.VERSION
        found = sound.findings(copy, pictures, told) if current and store.rules_of(copy) == shop.RULES else []
        if not whole and not found:
            found = [Finding("pages", _("Pages of the file are damaged."))]
        try:
            proof.without_sign_ins(copy)
            if not with_secrets:
                proof.without_secrets(copy)
        except store.Damaged as error:
            raise NotNow(
                _("The people of the shop cannot be read ({error}): copy the folder itself.").format(error=error)
            ) from None
    finally:
        copy.close()
    return found


def _about(aside: Path, found: Sequence[Finding], now: datetime, with_secrets: bool) -> dict[str, Any]:
    copy = store.look(aside)
    try:
        try:
            log = proof.digest(copy)
        except proof.Lost as error:
            raise NotNow(_("This copy could not be restored. {error}").format(error=error)) from None
        return {
            "made_at": stamp(now),
            "program": __version__,
            "log": log,
            "with_secrets": with_secrets,
            "findings": [str(one) for one in found],
        }
    finally:
        copy.close()


def _pack(part: IO[bytes], copy: Path, folder: Path, kept: Sequence[Path], about: dict[str, Any]) -> None:
    """Writes the zip and reads all of it back. Raises NotNow where what is read is not what was written."""
    with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(ABOUT, json.dumps(about, indent=1))
        archive.write(copy, store.SHOP_FILE)
        for picture in kept:
            info = zipfile.ZipInfo(_in_zip(folder, picture))
            archive.writestr(info, private.read(picture), zipfile.ZIP_STORED)
        if about["with_secrets"]:
            archive.comment = b"Holds the hashes of PINs and passwords: keep it locked away."
    part.flush()
    bad = _reads_back(part)
    if bad:
        raise NotNow(_("What was written reads back differently ({name}): this disk is faulty.").format(name=bad))
    part.seek(0, 2)


def _reads_back(part: IO[bytes]) -> str:
    """What of a zip is not what was written; empty: all is."""
    try:
        with zipfile.ZipFile(part) as archive:
            return archive.testzip() or ""
    except (*_NOT_READ, OSError) as error:  # before any sum could be compared
        return str(error)


def is_backup(file: Path) -> bool:
    """True for a zip file with a shop in it; a device or a pipe is none, and may never end."""
    try:
        if not file.is_file():
            return False
        with zipfile.ZipFile(file) as archive:
            return store.SHOP_FILE in archive.namelist()
    except (OSError, zipfile.BadZipFile):
        return False


def same(one: Path, other: Path) -> bool:
    """True when two files hold the same."""
    with private.opened(one, "rb") as first, private.opened(other, "rb") as second:
        while True:
            some = first.read(1 << 20)
            if some != second.read(1 << 20):
                return False
            if not some:
                return True


# Brought back --------------------------------------------------------------------------------------------------------


def restore(file: Path, folder: Path, *, now: datetime, told: Told = nobody) -> Restored:
    """Makes the shop of a backup in an empty folder. What is worked out is made again if it is not what the log says;
    what is missing is listed.

    Raises NotNow: the folder is not empty, the file is no backup, damaged, or made by a newer version, entries would be
    lost or are not those that were backed up, no room.
    """
    _may_restore(file, folder)
    made = not folder.exists()
    private.folder(folder)
    try:
        with private.scratch(folder) as aside:
            new = private.folder(aside / "shop")
            about = _unpack(file, new, folder)
            anew = _make_sound(new, about, now, told)
            result = _look_at(new, anew, now, told)
            for name in (store.PICTURES, store.SHOP_FILE):  # the shop itself last: it is there whole or not at all
                if (new / name).exists():
                    (new / name).replace(folder / name)
            private.tighten(folder)
            private.settled(folder)
    except _NOT_READ as error:
        raise NotNow(_("{file} is damaged: {error}.").format(file=file, error=error)) from None
    except OSError as error:
        said = _("{folder} cannot be written: {error}.")
        raise NotNow(said.format(folder=folder, error=error.strerror or error)) from None
    finally:
        if made and not store.exists(folder):
            shutil.rmtree(folder, ignore_errors=True)
    return result


def _may_restore(file: Path, folder: Path) -> None:
    if folder.exists():
        private.sweep(folder, private.SCRATCH)
        if any(folder.iterdir()):
            raise NotNow(_("{folder} is not empty: give the name of a new folder with --data.").format(folder=folder))
    if not file.exists():
        raise NotNow(_("There is no file {file}.").format(file=file))
    if not is_backup(file):
        raise NotNow(_("{file} is not a backup of a shop.").format(file=file))


def _unpack(file: Path, new: Path, folder: Path) -> dict[str, Any]:
    """Writes what the zip holds into a new folder; what it tells of itself (nothing: an older one)."""
    about: dict[str, Any] = {}
    with zipfile.ZipFile(file) as archive:
        names = Counter(archive.namelist())
        for name, times in names.items():
            if not IN_BACKUP.fullmatch(name) or times > 1:
                raise NotNow(_("{file} holds what no backup holds: {name}").format(file=file, name=name[:80]))
        _check_room(folder, sum(info.file_size for info in archive.infolist()) + SPARE)
        for info in archive.infolist():
            if info.filename == ABOUT:
                about = _told(archive.read(info), file)
                continue
            target = new / info.filename
            private.folder(target.parent)
            with archive.open(info) as packed, private.opened(target, "xb") as out:
                shutil.copyfileobj(packed, out, 1 << 20)
                out.flush()
                os.fsync(out.fileno())
    return about


def _told(raw: bytes, file: Path) -> dict[str, Any]:
    """What a backup tells of itself."""
    try:
        about = outside.data(raw)
    except ValueError as error:
        raise NotNow(_("{file} is damaged: {error}.").format(file=file, error=f"{ABOUT}: {error}")) from None
    if not isinstance(about, dict) or "log" not in about:
        raise NotNow(_("{file} is damaged: {error}.").format(file=file, error=ABOUT))
    return about


def _make_sound(new: Path, about: dict[str, Any], now: datetime, told: Told) -> list[Finding]:
    """Proves that the log is the one that was backed up, and makes again what is worked out; what had to be."""
    try:
        db = store.look(new)
    except store.Damaged as error:
        raise proof.Lost(_("The shop in it cannot be read ({error}).").format(error=error)) from None
    try:
        if not proof.whole_log(db):
            raise proof.Lost(_("Entries are missing from the log in it: take another backup."))
        if about and proof.digest(db) != about.get("log"):
            raise proof.Lost(_("The log in it is not the one that was backed up: take another backup."))
        pages = store.integrity(db)
    except store.Damaged as error:
        unread = _("The log in it cannot be read ({error}): take another backup.")
        raise proof.Lost(unread.format(error=error)) from None
    finally:
        db.close()
    found = [Finding("pages", line) for line in pages]
    if pages:
        _carried_over(new)
    db = shop.open_shop(new, now)
    try:
        return found + mended(db, told)
    finally:
        db.close()


def mended(db: Database, told: Told = nobody) -> list[Finding]:
    """Puts back missing guards and works out again what is not what the log says; what was wrong of that."""
    gone = store.guards_missing(db)
    if gone:
        with store.writing(db):
            proof.put_back(db, gone)
    wrong = [one for one in sound.findings(db, told=told) if one.kind == "worked out"]
    if wrong:
        shop.rebuild(db, told)
    return [Finding("guard", _("The guard {name} is missing.").format(name=name)) for name in gone] + wrong


def _look_at(new: Path, anew: Sequence[Finding], now: datetime, told: Told) -> Restored:
    db = shop.open_shop(new, now)
    try:
        secrets = any(one.secret for one in people.every(db))
        return Restored(tuple(anew), tuple(sound.findings(db, told=told)), str(setting(db, "address")), secrets)
    finally:
        db.close()


@dataclass(frozen=True, slots=True)
class Repaired:
    """What was made again, what is still wrong, and where a damaged file was put."""

    anew: tuple[Finding, ...]
    findings: tuple[Finding, ...]
    kept: Path | None


def repair(folder: Path, *, now: datetime, told: Told = nobody) -> Repaired:
    """Works out again what is not what the log says, puts back guards; where pages of the file are damaged it makes a
    new file out of all that nothing else can make. No entry is touched.

    Raises NotNow: pages are damaged and a server is at it. Lost: what is damaged is the log, or the like of it.
    """
    try:
        db = store.look(folder)
    except store.Damaged as error:
        raise proof.Lost(_("The shop file cannot be read ({error}): restore a backup.").format(error=error)) from None
    try:
        pages = store.integrity(db)
    finally:
        db.close()
    kept = None
    if pages:
        lock = store.ServeLock(folder)
        try:
            kept = _carried_over(folder)
        finally:
            lock.release()
    db = shop.open_shop(folder, now)
    try:
        anew = [*(Finding("pages", line) for line in pages), *mended(db, told)]
        return Repaired(tuple(anew), tuple(sound.findings(db, told=told)), kept)
    finally:
        db.close()


def _carried_over(folder: Path) -> Path:
    """Puts a new file, made of what nothing else can make, in the place of a damaged one, which stays beside it. What
    is worked out is empty then. Raises Lost; the damaged file stays where it is."""
    path = store.shop_file(folder)
    with private.scratch(folder) as aside:
        old = store.look(folder)
        try:
            with store.alone(old):
                proof.carry_over(old, aside / path.name)
                kept = _spare_name(path)
                private.second_name(path, kept)
                # whoever waits to write into the old one finds that it is no longer the shop's (`store.writing`)
                (aside / path.name).replace(path)
        finally:
            old.close()
        private.settled(folder)
    return kept


def _spare_name(path: Path) -> Path:
    number = 1
    while (kept := path.with_name(f"{path.stem}-damaged-{number}.db")).exists():
        number += 1
    return kept
