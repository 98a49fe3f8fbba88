"""Files that only the shop's own user reads: made whole or not at all, and never through a link."""

from __future__ import annotations

import errno
import os
import secrets
import shutil
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, Any

FILE, FOLDER = 0o600, 0o700
"""The modes of what a shop keeps, of its backups and of its exports."""
_NO_LINK = getattr(os, "O_NOFOLLOW", 0)
_NAMELESS = getattr(os, "O_TMPFILE", 0)


class IsLink(OSError):
    """A link stands where a file of the shop belongs: it would lead out of the folder."""

    def __init__(self, path: Path) -> None:
        super().__init__(errno.ELOOP, os.strerror(errno.ELOOP), str(path))


def folder(path: Path) -> Path:
    """Makes a folder (and those above it) where there is none. Raises OSError, for a link too."""
    if path.is_symlink():
        raise IsLink(path)
    if not path.is_dir():
        path.mkdir(mode=FOLDER, parents=True, exist_ok=True)
    return path


def opened(path: Path, mode: str = "r", **settings: Any) -> IO[Any]:
    """As `open`; a file that it makes is its owner's alone, and a link is refused (IsLink)."""

    def opener(name: str, flags: int) -> int:
        try:
            return os.open(name, flags | _NO_LINK, FILE)
        except OSError as error:
            if error.errno in (errno.ELOOP, errno.EMLINK):
                raise IsLink(Path(name)) from None
            raise

    if path.is_symlink():  # where the system has no way to refuse it while opening
        raise IsLink(path)
    return open(path, mode, opener=opener, **settings)


def read(path: Path) -> bytes:
    """What a file holds. Raises OSError, for a link and for what is no file too."""
    with opened(path, "rb") as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise OSError(errno.EINVAL, os.strerror(errno.EINVAL), str(path))
        return bytes(file.read())


@contextmanager
def whole(target: Path, over: bool = True, mode: int = FILE) -> Iterator[IO[bytes]]:
    """A file to be written, which stands at `target` when the block ends, or does not, also when the power goes.

    Where the system can, it has no name until then, so that nothing of it is left when the program is killed; else
    what a killed one left is swept up by the next. `over`: in the place of a file that is there (a link is replaced,
    not followed); without it FileExistsError.
    """
    sweep(target.parent, f".{target.name}.")
    number, name = _made(target, mode)
    try:
        with os.fdopen(number, "w+b") as file:
            _hold(file)
            yield file
            file.flush()
            os.fsync(file.fileno())
            if name is None:
                name = _named(file, target, over)
        if name is not None:
            _put(name, target, over)
        settled(target.parent)
    finally:
        if name is not None:
            name.unlink(missing_ok=True)


def _made(target: Path, mode: int) -> tuple[int, Path | None]:
    """A new file in the folder of `target`: its number, and its name if it must have one."""
    if _NAMELESS:
        with suppress(OSError):  # a file system that knows no nameless files
            return os.open(target.parent, _NAMELESS | os.O_RDWR, mode), None
    name = _beside(target)
    return os.open(name, os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode), name


def _beside(target: Path) -> Path:
    return target.with_name(f".{target.name}.{secrets.token_hex(4)}")


def _named(file: IO[bytes], target: Path, over: bool) -> Path | None:
    """Gives a nameless file the name of the target; the name that it has meanwhile where something stands there."""
    try:
        _link(file, target)
        return None
    except FileExistsError:
        if not over:
            raise
    name = _beside(target)
    _link(file, name)
    return name


def _link(file: IO[bytes], name: Path) -> None:
    # with a folder's number Python asks the system to follow the link that /proc has
    os.link(f"/proc/self/fd/{file.fileno()}", name, src_dir_fd=file.fileno(), follow_symlinks=True)


def _put(name: Path, target: Path, over: bool) -> None:
    if over:
        os.replace(name, target)
        return
    try:
        os.link(name, target)
    except FileExistsError:
        raise
    except OSError:  # a stick that knows no second names
        if target.exists() or target.is_symlink():
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(target)) from None
        os.replace(name, target)


def second_name(path: Path, name: Path) -> None:
    """Gives a file a second name; a copy where the disk knows no second names."""
    try:
        os.link(path, name)
    except OSError:
        shutil.copy2(path, name)


def settled(folder: Path) -> None:
    """Has the system write down what stands in a folder."""
    if os.name == "posix":
        with suppress(OSError):
            number = os.open(folder, os.O_RDONLY)
            try:
                os.fsync(number)
            finally:
                os.close(number)


SCRATCH = ".scratch-"
"""How a folder begins that is swept up when the program that made it was killed."""


@contextmanager
def scratch(beside: Path) -> Iterator[Path]:
    """A folder to work in, gone afterwards; what killed programs left there is swept up first."""
    sweep(beside, SCRATCH)
    made = beside / f"{SCRATCH}{secrets.token_hex(4)}"
    made.mkdir(mode=FOLDER)
    try:
        with opened(made / "held", "w") as file:
            _hold(file)
            yield made
    finally:
        shutil.rmtree(made, ignore_errors=True)


def sweep(folder: Path, begins: str) -> None:
    """Removes what begins so and is held by no living program."""
    try:
        left = [item for item in folder.iterdir() if item.name.startswith(begins)]
    except OSError:
        return
    for item in left:
        with suppress(OSError):
            held = item / "held" if item.is_dir() and not item.is_symlink() else item
            if held.is_symlink() or (_is_held(held) if held.exists() else _is_fresh(item)):
                continue
            if item.is_dir():
                shutil.rmtree(item, ignore_errors=True)
            else:
                item.unlink()


def _is_held(path: Path) -> bool:
    with opened(path, "rb") as file:
        return not lock(file)


def _is_fresh(path: Path) -> bool:
    return time.time() - path.stat().st_mtime < 60  # whoever makes it has not got to holding it


def _hold(file: IO[Any]) -> None:
    lock(file)


def lock(file: IO[Any], wait: bool = False) -> bool:
    """Takes the lock of an open file, which dies with its program; False: somebody else has it."""
    try:
        if os.name == "nt":
            import msvcrt

            ways = msvcrt.LK_LOCK if wait else msvcrt.LK_NBLCK  # type: ignore[attr-defined,unused-ignore]
            msvcrt.locking(file.fileno(), ways, 1)  # type: ignore[attr-defined,unused-ignore]
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except OSError:
        return False
    return True


def room(folder: Path) -> int:
    """Bytes that can still be written into a folder."""
    return shutil.disk_usage(folder).free


def tighten(path: Path) -> None:
    """Takes what is not its owner's off a file or folder; where it is not ours to change, it stays as it is."""
    if os.name != "posix" or path.is_symlink():
        return
    with suppress(OSError):
        there = path.stat()
        wanted = FOLDER if stat.S_ISDIR(there.st_mode) else FILE
        if stat.S_IMODE(there.st_mode) & ~wanted and there.st_uid == os.geteuid():
            path.chmod(wanted)
