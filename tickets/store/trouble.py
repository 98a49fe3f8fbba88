"""What can be wrong with the disk or the file of a shop, in plain words: full, read-only, in use, gone, damaged."""

from __future__ import annotations

import errno
import os
import sqlite3
from pathlib import Path

from tickets.domain.refusal import Trouble
from tickets.i18n import gettext as _

BUSY_FOR = 5
"""Seconds until another try, where somebody else is writing."""
CLOCK_FOR = 60
"""Seconds until another try, where the manager is to say something of the clock."""
NO_ROOM = {errno.ENOSPC, errno.EDQUOT} if hasattr(errno, "EDQUOT") else {errno.ENOSPC}
NEARLY_FULL = 1_000_000
"""Bytes left on a disk below which a failed writing is put down to them."""


def trouble_of(error: BaseException, folder: Path | None = None) -> Trouble | None:
    """What an error of the database or the disk means; None: it is another one, or a defect of the program.

    `folder`: the shop's, looked at for room where the system only says that writing failed."""
    if isinstance(error, sqlite3.Error):
        return _of_file(error, folder)
    if isinstance(error, OSError):
        if error.errno in NO_ROOM:
            return full()
        if error.errno == errno.EROFS:
            return read_only()
        if error.errno == errno.EIO:
            return failed()
    return None


def _of_file(error: sqlite3.Error, folder: Path | None) -> Trouble | None:
    code = getattr(error, "sqlite_errorcode", None)
    kind = None if code is None else code & 0xFF
    if kind in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return busy()
    if kind == sqlite3.SQLITE_FULL:
        return full()
    if kind == sqlite3.SQLITE_READONLY:
        return gone() if code == sqlite3.SQLITE_READONLY_DBMOVED else read_only()
    if kind == sqlite3.SQLITE_CANTOPEN:
        return read_only() if folder is not None and _there(folder) else gone()
    if kind in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB) or code == sqlite3.SQLITE_IOERR_SHORT_READ:
        return damaged()
    if kind == sqlite3.SQLITE_IOERR:
        return full() if folder is not None and _nearly_full(folder) else failed()
    return None


def _there(folder: Path) -> bool:
    return (folder / "shop.db").exists()


def _nearly_full(folder: Path) -> bool:
    try:
        there = os.statvfs(folder)
        return there.f_bavail * there.f_frsize < NEARLY_FULL
    except (OSError, AttributeError):
        return False


def busy() -> Trouble:
    """Somebody else is writing."""
    return Trouble("busy", _("Something else is writing just now: try again in a few seconds."), BUSY_FOR)


def full() -> Trouble:
    """No room."""
    return Trouble(
        "full", _("The disk of the shop’s computer is full: nothing can be saved until somebody makes room on it.")
    )


def read_only() -> Trouble:
    """It can be read, not written."""
    return Trouble(
        "read-only",
        _("The disk or the folder of the shop is read-only: nothing can be saved until somebody makes it writable."),
    )


def gone() -> Trouble:
    """The file that was opened is not the one that stands there."""
    return Trouble(
        "gone",
        _("The shop’s file is gone, or another one was put in its place while the program ran: nothing can be saved. "
          "Stop the server, put the file back or restore a backup, and start it again."),
    )  # fmt: skip


def damaged() -> Trouble:
    """Pages of it cannot be read."""
    return Trouble(
        "damaged",
        _("Pages of the shop’s file are damaged. Stop the server, make a backup of what can be read with "
          "tickets backup FILE, then run: tickets repair"),
    )  # fmt: skip


def clock(said: str) -> Trouble:
    """Nobody can tell when it was: what the clock says is not to be believed."""
    return Trouble("clock", said, CLOCK_FOR)


def failed() -> Trouble:
    """The disk does not do what it is told."""
    return Trouble("failed", _("The disk of the shop’s computer fails to read or write: look after it, and its cable."))
