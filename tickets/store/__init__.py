"""A shop's records: one SQLite file and the files beside it. The only place that knows SQL.

Functions take the database first and answer one kind of question. Every writing goes through `writing`, which holds the
one writer's lock of this process and an immediate transaction.
"""

from __future__ import annotations

import errno
import os
import re
import sqlite3
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from pathlib import Path
from typing import IO

from sqlite_utils import Database

from tickets.domain.refusal import NotNow
from tickets.domain.told import Told, nobody
from tickets.i18n import gettext as _
from tickets.store import private, reads, trouble
from tickets.store.reads import Connection, Thing
from tickets.store.schema import GUARDED, migrations
from tickets.store.schema import VERSION as VERSION

SHOP_FILE = "shop.db"
PICTURES = "pictures"
MINIMUM_SQLITE = (3, 38, 0)
_writer = threading.RLock()


def shop_file(folder: Path) -> Path:
    """Where the shop of a folder lies."""
    return folder / SHOP_FILE


def exists(folder: Path) -> bool:
    """True when the folder holds a shop."""
    return shop_file(folder).exists()


def connect(folder: Path) -> Database:
    """One connection to a shop that `prepare` has made ready, for the thread that asks for it."""
    return _connect(shop_file(folder))


class Pool:
    """A server's connections: one is lent to each request and taken back after it, so that what SQLite has read and
    parsed stays read. Never used by two threads at once."""

    def __init__(self, folder: Path, most: int = 16) -> None:
        self._path = shop_file(folder)
        self._idle: deque[Database] = deque()
        self._most = most

    def lend(self) -> Database:
        """A connection for one request."""
        try:
            return self._idle.pop()
        except IndexError:
            return _connect(self._path, shared=True)

    def take_back(self, db: Database) -> None:
        """Takes a connection back; what was left undone in it is undone."""
        try:
            reads.read_enough(db)
            if db.conn.in_transaction:
                db.conn.rollback()
        except sqlite3.Error:  # the disk is gone from under it: SQLite undoes it when the file is opened again
            db.close()
            return
        if len(self._idle) < self._most:
            self._idle.append(db)
        else:
            db.close()

    def close(self) -> None:
        """Closes what is not lent."""
        while self._idle:
            self._idle.pop().close()


SYNCHRONOUS = "FULL"
"""What is written is on the disk before anybody is told so."""


STATEMENTS = 512
"""Statements that a connection keeps as SQLite has read them: with some hundred in use the usual 128 were read anew."""


def _connect(path: Path, shared: bool = False) -> Database:
    connection = sqlite3.connect(
        path, timeout=5.0, check_same_thread=not shared, isolation_level=None, cached_statements=STATEMENTS
    )
    db = Connection(connection)
    # mmap_size=0: a file that is read in place kills the whole server (SIGBUS) when it is cut off under it; read page
    # by page it is an error with a page of its own. In 313 MB a look-up took 10.9 us instead of 7.6; dozens a scan.
    pragmas = ("foreign_keys=ON", "busy_timeout=5000", "recursive_triggers=ON", "mmap_size=0")
    try:
        for pragma in (f"synchronous={SYNCHRONOUS}", *pragmas):
            db.execute(f"PRAGMA {pragma}")
        version_of(db)  # a first look, for which SQLite opens its write-ahead log
    except sqlite3.Error:
        db.close()
        raise
    except UnicodeDecodeError as error:  # what SQLite says of its damaged tables names them by bytes that are no text
        db.close()
        raise sqlite3.DatabaseError(f"malformed database schema: {error}") from None
    for name in (str(path), f"{path}-wal"):
        there = _known_by(name)
        if there is not None:
            db.opened[name] = there
    return db


def _known_by(path: str) -> tuple[int, int] | None:
    try:
        there = os.stat(path)
    except OSError:
        return None
    return there.st_dev, there.st_ino


def _check_still_there(db: Database) -> None:
    """Raises Trouble where the file that is open, or its write-ahead log, is no longer the one that stands there: what
    is written would be gone with the program. SQLite keeps both as long as anybody has them open."""
    if isinstance(db, Connection) and any(_known_by(path) != known for path, known in db.opened.items()):
        raise trouble.gone()


def prepare(folder: Path) -> bool:
    """Makes the shop of `folder` if there is none, brings an older one up to date after a backup; True when it is new.

    Raises NotNow when that cannot be done: a folder that cannot be written, a file made by a newer version.
    """
    if sqlite3.sqlite_version_info < MINIMUM_SQLITE:
        raise NotNow(
            _("SQLite {needed} or later is needed; this Python brings {here}.").format(
                needed=".".join(map(str, MINIMUM_SQLITE)), here=sqlite3.sqlite_version
            )
        )
    if not _knows_words():
        raise NotNow(_("The SQLite of this Python has no index of words (FTS5): use a Python from python.org."))
    path = shop_file(folder)
    new = not path.exists()
    try:
        _make_writable(folder)
        _check_once_held(folder)
        if not new and not os.access(path, os.W_OK):
            raise _unwritable(folder, _("its file {name} is read-only").format(name=path.name))
        _check_whole(path)
        _keep_private(folder, new)
        db = _connect(path)
        try:
            _bring_up(db, path, new)
        finally:
            db.close()
        _mark(folder)
    except (OSError, sqlite3.OperationalError) as error:
        known = trouble.trouble_of(error, folder)
        if known is not None and known.kind in ("busy", "full", "failed"):
            raise known from None
        raise _unwritable(folder, error) from None
    except sqlite3.DatabaseError as error:
        raise NotNow(
            _("{path} is not a shop file ({error}); restore a backup.").format(path=path, error=error)
        ) from None
    return new


def _knows_words() -> bool:
    """Whether this SQLite can index words: it was built with that, as nearly all are."""
    there = sqlite3.connect(":memory:")
    try:
        return bool(there.execute("SELECT count(*) FROM pragma_module_list WHERE name = 'fts5'").fetchone()[0])
    finally:
        there.close()


MARK = "shop.txt"
"""Stands in every folder that holds a shop, so that one whose file is gone is not taken for an empty one."""


def _mark(folder: Path) -> None:
    if (folder / MARK).exists():
        return
    with suppress(OSError):  # a full disk is no reason not to look at the shop
        with private.opened(folder / MARK, "w", encoding="utf-8") as file:
            file.write("The records of a shop are kept in this folder: shop.db, and pictures beside it.\n")


def _check_once_held(folder: Path) -> None:
    """Raises NotNow where a shop was and its file is gone or empty: an empty shop in its place would hide the loss."""
    path = shop_file(folder)
    if path.exists() and path.stat().st_size:
        return
    left = [name for name in (MARK, f"{path.name}-wal", PICTURES) if (folder / name).exists()]
    left += [item.name for item in folder.glob(f"{path.stem}-*.db")]
    if left:
        raise NotNow(
            _(
                "{folder} once held a shop (there is {left}), but its file {name} is gone or empty. Put it back, or "
                "restore a backup into a new folder. To begin an empty shop, give a new folder with --data."
            ).format(folder=folder, left=", ".join(left), name=path.name)
        )


def _check_whole(path: Path) -> None:
    """Raises NotNow where the file was cut off, or lost the write-ahead log with what was written last. A look at the
    first page only: `quick_check` reads them all."""
    log, index = (path.with_name(f"{path.name}{end}") for end in ("-wal", "-shm"))
    if not path.exists():
        return
    if index.exists() and not log.exists():
        raise NotNow(
            _(
                "{log} is gone, and with it what was written last: put it back. To go on with what is in {name}, run: "
                "tickets repair --data {folder}"
            ).format(log=log, name=path.name, folder=path.parent)
        )
    if log.exists() and log.stat().st_size:
        return  # pages that are missing may stand there
    with path.open("rb") as file:
        head = file.read(100)
    if head[:16] != b"SQLite format 3\0":
        return  # which SQLite says
    each = int.from_bytes(head[16:18], "big")
    each = 65536 if each == 1 else each
    pages = int.from_bytes(head[28:32], "big")
    if head[24:28] == head[92:96] and path.stat().st_size < pages * each:
        raise NotNow(
            _("{path} is cut off: {there} of {pages} pages are there. Restore a backup into a new folder.").format(
                path=path, there=path.stat().st_size // each, pages=pages
            )
        )


def quick_check(db: Database) -> None:
    """A look at every page before a server begins. Raises Trouble where one is damaged."""
    try:
        row = db.execute("PRAGMA quick_check(1)").fetchone()
    except sqlite3.DatabaseError as error:
        raise (trouble.trouble_of(error) or trouble.damaged()) from None
    if row[0] != "ok":
        raise trouble.damaged()


OURS = re.compile(
    r"shop\.txt|shop(-[\w-]+)?\.db(-wal|-shm|-journal)?|serving\.lock|working\.lock|pictures|log|backups|mail|\.scratch-.*"
)
"""All that a shop keeps in its folder. A folder with anything else in it is not only the shop's, and keeps its mode."""


def _keep_private(folder: Path, new: bool) -> None:
    """What a shop keeps is its owner's alone; the files that SQLite makes beside its own get the mode of that one.

    Raises NotNow where a link stands in the place of the shop's file."""
    path = shop_file(folder)
    if path.is_symlink():
        raise NotNow(_("{path} is a link: give the folder of the shop itself with --data.").format(path=path))
    if new:
        private.opened(path, "ab").close()
    names = [item.name for item in folder.iterdir()]
    for name in names:
        if OURS.fullmatch(name):
            private.tighten(folder / name)
    if all(OURS.fullmatch(name) for name in names):
        private.tighten(folder)


def _make_writable(folder: Path) -> None:
    """Makes a folder where there is none. Raises NotNow where nothing can be written into it."""
    try:
        folder.mkdir(mode=private.FOLDER, parents=True, exist_ok=True)
    except OSError as error:
        raise _unwritable(folder, error) from None
    if not os.access(folder, os.W_OK):
        raise _unwritable(folder, os.strerror(errno.EACCES))


def _unwritable(folder: Path, why: object) -> NotNow:
    why = (why.strerror if isinstance(why, OSError) else "") or why
    return NotNow(
        _(
            "The shop’s folder {folder} cannot be written ({why}): make it writable, or choose another one with --data."
        ).format(folder=folder, why=why)
    )


def _bring_up(db: Database, path: Path, new: bool) -> None:
    version = version_of(db)
    if version > VERSION:
        raise newer_shop(path, version, VERSION)
    db.execute("PRAGMA journal_mode=WAL")
    if version == VERSION:
        return
    if not new and version:
        backup(db, path.with_name(f"{path.stem}-before-{VERSION}.db"))
    migrations.apply(db)
    db.execute(f"PRAGMA user_version={VERSION}")
    missing = [name for name in guards_missing(db)]
    if missing:
        raise NotNow(_("The shop file lost its guards ({names}): restore a backup.").format(names=", ".join(missing)))


def rules_of(db: Database) -> int:
    """By which rules of replay the worked-out tables of this shop were made; 0: by those of before this was noted."""
    return int(db.execute("SELECT coalesce((SELECT rules FROM worked_out ORDER BY id DESC LIMIT 1), 0)").fetchone()[0])


def note_rules(db: Database, rules: int, at: str) -> None:
    """Notes by which rules the worked-out tables were made."""
    db.execute("INSERT INTO worked_out (rules, at) VALUES (?, ?)", [rules, at])


def newer_shop(path: Path, version: int, known: int) -> NotNow:
    """What is said of a shop that a newer program has written."""
    return NotNow(
        _("{path} was made by a newer version ({version}, this one knows {known}): update the program.").format(
            path=path, version=version, known=known
        )
    )


def place_of(db: Database) -> str:
    """The path of the file behind a connection; empty for one in memory."""
    return next((str(row[2]) for row in db.execute("PRAGMA database_list").fetchall() if row[1] == "main"), "")


def guards_missing(db: Database) -> list[str]:
    """The triggers that keep the log from being changed and that are not there."""
    there = {row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()}
    wanted = {f"{table}_no_{act}" for table in GUARDED for act in ("update", "delete")}
    return sorted(wanted - there)


Damaged = sqlite3.DatabaseError
"""What reading a damaged file raises, for those who may know no SQL."""


def integrity(db: Database) -> list[str]:
    """What SQLite itself finds wrong with the pages of the file; an empty list: nothing."""
    try:
        return [str(row[0]) for row in db.execute("PRAGMA integrity_check(5)").fetchall() if row[0] != "ok"]
    except sqlite3.OperationalError:
        raise
    except sqlite3.DatabaseError as error:
        return [str(error)]


def strays(db: Database) -> list[str]:
    """Rows that name another one that is not there, a line each."""
    try:
        rows = db.execute("PRAGMA foreign_key_check").fetchall()
    except sqlite3.OperationalError:
        raise
    except sqlite3.DatabaseError:
        return []  # what `integrity` finds
    return [
        _("A row of “{table}” points to what is not in “{other}”.").format(table=row[0], other=row[2]) for row in rows
    ]


def backup(db: Database, target: Path) -> None:
    """A sound copy of a live shop: written aside, checked, then put in place.

    Raises NotNow: it did not pass its check. OSError, sqlite3.Error: it could not be written."""
    with private.scratch(target.parent) as aside:
        made = aside / target.name
        copy(db, made)
        there = sqlite3.connect(made)
        try:
            if there.execute("PRAGMA integrity_check").fetchone()[0] != "ok":
                raise NotNow(_("The copy did not pass its check; nothing was written."))
        finally:
            there.close()
        made.replace(target)


def version_of(db: Database) -> int:
    """The number of the newest migration that a file has."""
    return int(db.execute("PRAGMA user_version").fetchone()[0])


@contextmanager
def alone(db: Database) -> Iterator[None]:
    """Keeps everybody else from writing into a file that is to be replaced, its write-ahead log emptied into it first.

    Raises NotNow: somebody is reading or writing."""
    row = db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    if row[0]:
        raise NotNow(_("Another program has the shop open: close it first."))
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
    finally:
        db.conn.rollback()


def look(folder: Path) -> Database:
    """A connection to a shop as it is, for a copy: nothing is made, brought up to date or worked out again, so that it
    does for a full disk, a read-only one and damaged pages. Raises sqlite3.Error; NotNow for a newer shop."""
    path = shop_file(folder)
    try:
        db = _connect(path)
    except sqlite3.OperationalError:
        log = path.with_name(f"{path.name}-wal")
        if not path.exists() or (log.exists() and log.stat().st_size):
            raise
        # nobody can write here, so what stands in the file is all there is
        readable = f"{path.resolve().as_uri()}?mode=ro&immutable=1"
        db = Connection(sqlite3.connect(readable, uri=True, isolation_level=None))
    version = version_of(db)
    if version > VERSION:
        raise newer_shop(path, version, VERSION)
    return db


def copy(db: Database, target: Path) -> bool:
    """Copies a live shop as it is at one moment into a new file; False: some of its pages are damaged, and were copied
    as they are, since what is worked out can be made again."""
    private.opened(target, "xb").close()
    try:
        db.execute("VACUUM INTO ?", [str(target)])
        return True
    except sqlite3.OperationalError:
        raise
    except sqlite3.DatabaseError:
        there = sqlite3.connect(target)
        try:
            db.conn.backup(there)
        finally:
            there.close()
        return False


def size_of(db: Database) -> int:
    """Bytes of the shop's file."""
    pages, each = (db.execute(f"PRAGMA {name}").fetchone()[0] for name in ("page_count", "page_size"))
    return int(pages) * int(each)


@contextmanager
def on_disk_at_the_end(db: Database) -> Iterator[None]:
    """What is written meanwhile is on the disk when this ends, not each time: for a shop that is thrown away when it is
    not made whole."""
    db.execute("PRAGMA synchronous=OFF")
    yield
    db.execute(f"PRAGMA synchronous={SYNCHRONOUS}")
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")


_held: ContextVar[Callable[[], Exception] | None] = ContextVar("held", default=None)


@contextmanager
def held(why: Callable[[], Exception] | None) -> Iterator[None]:
    """Nothing that is written inside stays: it is undone, and what `why` makes is raised. None: it stays, also where
    something around it is held."""
    token = _held.set(why)
    try:
        yield
    finally:
        _held.reset(token)


def not_held() -> None:
    """Raises what would be raised once something was written."""
    if (why := _held.get()) is not None:
        raise why()


@contextmanager
def writing(db: Database) -> Iterator[None]:
    """One short transaction under the process-wide writer's lock; undone whole when anything is raised inside, or when
    what is written is `held`."""
    with _writer:
        there = db if isinstance(db, Connection) else None
        if there is not None and there.reads:
            raise RuntimeError("nothing is written while a page reads")
        if db.conn.in_transaction:  # an act inside another one: one transaction for both
            yield
            return
        db.execute("BEGIN IMMEDIATE")
        if there is not None:
            there.hold()
            there.writes_from = there.changed
        try:
            _check_still_there(db)
            before = db.conn.total_changes
            yield
            if db.conn.total_changes != before:
                not_held()
            db.conn.commit()
        except BaseException:
            if there is not None and there.conn.total_changes != there.writes_from:
                there.recalled.clear()  # it may have been worked out of rows that are undone
            if db.conn.in_transaction:
                db.conn.rollback()
            raise
        finally:
            if there is not None:
                there.let_go()


HELD = 0.1
"""Seconds for which long work holds the writer's lock at a time; then whoever waits gets a turn."""


def in_turns(db: Database, things: Iterable[Thing], act: Callable[[Thing], None], told: Told = nobody) -> None:
    """Does `act` to each thing, in transactions of about `HELD` seconds; inside a transaction all in that one."""
    waiting, inside = deque(things), db.conn.in_transaction
    of = len(waiting)
    while waiting:
        with writing(db):
            began = time.monotonic()
            while waiting and time.monotonic() - began < HELD:
                act(waiting.popleft())
                told(of - len(waiting), of)
        if waiting and not inside:
            time.sleep(HELD / 2)


@contextmanager
def only_one(db: Database, name: str) -> Iterator[bool]:
    """True for one program at a time: a lock in the shop's folder, which dies with whoever holds it."""
    with private.opened(Path(place_of(db)).parent / name, "a") as file:
        yield private.lock(file)


class ServeLock:
    """Held while a server serves a shop, so that a second one is refused. The lock dies with its process.

    Makes the folder where there is none. Raises NotNow: another one serves it, or it cannot be written.
    """

    def __init__(self, folder: Path) -> None:
        _make_writable(folder)
        try:
            self._file: IO[str] = private.opened(folder / "serving.lock", "a+", encoding="utf-8")
        except OSError as error:
            raise _unwritable(folder, error) from None
        if not private.lock(self._file):
            self._file.close()
            raise NotNow(
                _("Another server already serves the shop in {folder}: stop it first, or use it.").format(folder=folder)
            )

    def release(self) -> None:
        """Lets the next server in."""
        self._file.close()
