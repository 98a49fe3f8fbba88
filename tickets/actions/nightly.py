"""The backup of every night: when it is due, where it goes, which ones are kept, and when the last good one was."""

from __future__ import annotations

import json
import shutil
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from pathlib import Path

from sqlite_utils import Database

from tickets import store
from tickets.actions import backup
from tickets.domain import clock
from tickets.domain.desk import nights
from tickets.domain.entry import read_stamp, stamp
from tickets.domain.refusal import Refused, Trouble
from tickets.i18n import gettext as _
from tickets.queries.said import Reader
from tickets.queries.shop_rules import zone
from tickets.store import private
from tickets.store.settings import setting

FOLDER = "backups"
STATE = "last.json"
"""In the shop's own `backups`, wherever the backups themselves go: what came of the last nights."""
AGAIN_AFTER = timedelta(hours=1)
"""Until another try, after one that failed."""


@dataclass(frozen=True, slots=True)
class State:
    """What came of the last nights. Times as `entry.stamp` writes them, empty: never; errors and findings in words,
    empty: none."""

    good_at: str = ""
    file: str = ""
    bytes: int = 0
    tried_at: str = ""
    error: str = ""
    findings: tuple[str, ...] = ()
    second_at: str = ""
    second_error: str = ""


@dataclass(frozen=True, slots=True)
class BackupStanding:
    """How the backups stand. `late`: the last night brought no good one; `short`: bytes that the disk lacks for the
    next; `second`: a second folder is set."""

    state: State
    late: bool
    short: int
    second: bool

    @property
    def warned(self) -> bool:
        """Whether somebody is to look at the backups."""
        return bool(self.late or self.short or wrong(self.state))


def folder_of(db: Database) -> Path:
    """Where the backups go."""
    own = Path(store.place_of(db)).parent / FOLDER
    return Path(str(setting(db, "backup_folder"))) if setting(db, "backup_folder") else own


def state(folder: Path) -> State:
    """What came of the last nights of the shop in `folder`."""
    try:
        kept = json.loads(private.read(folder / FOLDER / STATE))
        return State(**{**kept, "findings": tuple(kept.get("findings", ()))})
    except (OSError, ValueError, TypeError):
        return State()


def _save(folder: Path, new: State) -> State:
    private.folder(folder / FOLDER)
    with private.whole(folder / FOLDER / STATE) as file:
        file.write(json.dumps(asdict(new), ensure_ascii=False, indent=1).encode())
    return new


def last_due(db: Database, now: datetime) -> datetime:
    """When the newest backup was due by the shop's hour, up to now."""
    local = now.astimezone(zone(db))
    due = local.replace(hour=int(setting(db, "backup_hour")), minute=0, second=0, microsecond=0)
    return due if due <= local else due - timedelta(days=1)


def due(db: Database, now: datetime) -> bool:
    """True when there is no good backup since the hour that one was due, and none was tried within the last hour. A
    machine that was off at night makes up for it when it is on."""
    if setting(db, "demo"):
        return False
    last = state(Path(store.place_of(db)).parent)
    if last.tried_at and timedelta(0) <= now - read_stamp(last.tried_at) < AGAIN_AFTER:
        return False
    good = _good(last, now)
    return good is None or good < last_due(db, now)


def _good(last: State, now: datetime) -> datetime | None:
    """When the last good backup was made; None: never, or by a clock that was wrong and says that it is yet to come."""
    good = read_stamp(last.good_at) if last.good_at else None
    return None if good is None or good > now + clock.SLACK else good


def standing(db: Database, now: datetime) -> BackupStanding:
    """How the backups stand, for the desk."""
    last = state(Path(store.place_of(db)).parent)
    good = _good(last, now)
    late = good is None or good < last_due(db, now) - timedelta(days=1) or bool(last.error)
    needed = store.size_of(db) * 2 + (last.bytes or store.size_of(db))  # the copy, its trial, the zip
    try:
        left = private.room(folder_of(db) if folder_of(db).is_dir() else Path(store.place_of(db)).parent)
    except OSError:
        left = needed
    return BackupStanding(last, late, max(0, needed - left), bool(setting(db, "backup_second")))


def make(db: Database, now: datetime) -> State:
    """Tonight's backup: made, brought back into a scratch folder and checked there, copied to the second folder; older
    ones that need not be kept are removed. What came of it is noted, whatever it was."""
    folder = Path(store.place_of(db)).parent
    last = state(folder)
    try:
        target = _own(folder) if not setting(db, "backup_folder") else _there(folder_of(db))
        file = target / f"shop-{now.astimezone(zone(db)):%Y-%m-%d}.zip"
        made = backup.make(db, file, now=now, force=True)
        found = [str(one) for one in made.findings] + _tried(file, now)
    except (Refused, Trouble, OSError, store.Damaged) as error:
        return _save(folder, _failed(last, now, error))
    new = State(stamp(now), str(file), made.bytes, stamp(now), "", tuple(dict.fromkeys(found)), last.second_at)
    _thin_out(db, target, now)
    return _save(folder, _second(db, new, file, now))


def _own(folder: Path) -> Path:
    return private.folder(folder / FOLDER)


def _there(folder: Path) -> Path:
    if not folder.is_dir():
        raise Refused(_("The folder {folder} is not there: plug it in, or set another one.").format(folder=folder))
    return folder


def _failed(last: State, now: datetime, error: Exception) -> State:
    known = store.trouble.trouble_of(error)
    said = known.message if known else str(error)
    kept = {**asdict(last), "tried_at": stamp(now), "error": said}
    return State(**{**kept, "findings": tuple(last.findings)})


def _tried(file: Path, now: datetime) -> list[str]:
    """Brings a backup back into a scratch folder beside it; what is wrong there."""
    with private.scratch(file.parent) as aside:
        return [str(one) for one in backup.restore(file, aside / "tried", now=now).findings]


def _second(db: Database, new: State, file: Path, now: datetime) -> State:
    """The backup copied to the second folder too, and read back there."""
    if not setting(db, "backup_second"):
        return new
    values = asdict(new) | {"findings": new.findings}
    try:
        target = _there(Path(str(setting(db, "backup_second"))))
        with private.opened(file, "rb") as whole, private.whole(target / file.name) as copy:
            shutil.copyfileobj(whole, copy, 1 << 20)
        if not backup.same(file, target / file.name):
            raise Refused(_("The copy in {folder} reads back differently: that disk is faulty.").format(folder=target))
    except (Refused, OSError) as error:
        return State(**{**values, "second_error": str(error)})
    _thin_out(db, target, now)
    return State(**{**values, "second_at": stamp(now), "second_error": ""})


def _thin_out(db: Database, target: Path, now: datetime) -> None:
    """Removes the backups of nights that need not be kept; no other file."""
    there = {day: path for path in target.iterdir() if (day := nights.day_of(path.name)) and not path.is_symlink()}
    today = now.astimezone(zone(db)).date()
    keep = nights.to_keep(there, today, int(setting(db, "backup_days")), int(setting(db, "backup_months")))
    for day, path in there.items():
        if day not in keep:
            path.unlink(missing_ok=True)


def wrong(new: State) -> list[str]:
    """What is wrong with the last one, a line each."""
    lines = [new.error] if new.error else []
    if new.second_error:
        lines.append(_("The copy in the second folder: {error}").format(error=new.second_error))
    return lines + list(new.findings)


def told(reader: Reader, known: BackupStanding) -> list[str]:
    """What somebody is to know who looks at backups that are not as they should be, a sentence each: when the last good
    one was made, what was wrong with the last, what the disk lacks for the next."""
    good = known.state.good_at
    lines = [_("The last good backup is of {when}.").format(when=reader.time(good))] if good else []
    lines = lines or [_("There is no backup of this shop yet.")]
    lines += wrong(known.state)
    if known.short:
        short = -(-known.short // 1_000_000)
        lines.append(_("The disk has {short} MB less than the next one needs: make room.").format(short=short))
    return lines
