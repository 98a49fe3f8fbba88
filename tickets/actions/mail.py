"""The daily mail: whether it is due, what it says, that it is sent once a day, and what came of it.

Nothing is sent unless the shop set a server and an address. What came of the last is kept in a file beside the shop's
records, and so is the password of the mail server: neither stands in a backup or an export.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from tickets import store
from tickets.actions import mail_server, nightly
from tickets.actions.mail_server import MailBox, NotSent
from tickets.domain import overtaken
from tickets.domain.desk import mailing, shop_settings
from tickets.domain.desk.shop_settings import OF_MAIL
from tickets.domain.entry import read_stamp, stamp
from tickets.domain.person import Actor
from tickets.domain.refusal import Fault, NotAllowed, NotNow, Refused, Trouble
from tickets.i18n import gettext as _
from tickets.i18n import ngettext
from tickets.queries import mail_now
from tickets.queries.mail_now import Mail
from tickets.queries.said import Reader
from tickets.queries.shop_rules import in_its_language, zone
from tickets.store import private, reads
from tickets.store import settings as setting_rows
from tickets.store.settings import setting

FOLDER, STATE, SECRET, LOCK = "mail", "last.json", "secret.json", "sending.lock"
AGAIN_AFTER = timedelta(hours=1)
"""Until another try, after one that failed."""
MOST_TRIES = 5
"""In one day."""


@dataclass(frozen=True, slots=True)
class MailState:
    """What came of the last tries. Times as `entry.stamp` writes them, empty: never. `day`: that of the tries, in the
    shop's zone; `begun`: the mail went out to the server, and its answer is not noted; `left_out`: receivers that the
    server did not take, each with why."""

    sent_at: str = ""
    day: str = ""
    tries: int = 0
    tried_at: str = ""
    error: str = ""
    begun: bool = False
    left_out: tuple[str, ...] = ()


# What is kept --------------------------------------------------------------------------------------------------------


def _folder(db: Database) -> Path:
    return Path(store.place_of(db)).parent / FOLDER


def _kept(path: Path) -> dict[str, Any]:
    try:
        found = json.loads(private.read(path))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _keep(path: Path, what: Mapping[str, Any]) -> None:
    private.folder(path.parent)
    with private.whole(path) as file:
        file.write(json.dumps(what, ensure_ascii=False, indent=1).encode())


def state(db: Database) -> MailState:
    """What came of the last tries."""
    kept = _kept(_folder(db) / STATE)
    try:
        return MailState(**{**kept, "left_out": tuple(kept.get("left_out", ()))})
    except TypeError:
        return MailState()


def _save(folder: Path, new: MailState) -> MailState:
    _keep(folder / STATE, asdict(new))
    return new


def has_secret(db: Database) -> bool:
    """Whether the password of the user is kept for the server that is set."""
    return bool(box_of(db).secret)


def keep_secret(db: Database, actor: Actor, secret: str, *, now: datetime) -> None:
    """Keeps the password for the server and the user that are set, and goes to no other; empty: it is forgotten.
    Raises Refused."""
    _only_a_manager(actor)
    read = mailing.secret("mail_secret", secret)
    about = {"server": setting(db, "mail_server"), "user": setting(db, "mail_user")}
    if read:
        _keep(_folder(db) / SECRET, {**about, "secret": read, "at": stamp(now)})
    else:
        (_folder(db) / SECRET).unlink(missing_ok=True)


def box_of(db: Database) -> MailBox:
    """Server and addresses as they are set."""
    server, user = str(setting(db, "mail_server")), str(setting(db, "mail_user"))
    kept = _kept(_folder(db) / SECRET)
    secret = str(kept.get("secret", "")) if (kept.get("server"), kept.get("user")) == (server, user) else ""
    receivers = tuple(one for one in str(setting(db, "mail_to")).split(", ") if one)
    secured, port = str(setting(db, "mail_secured")), int(setting(db, "mail_port"))
    return MailBox(server, port, secured, user, secret, str(setting(db, "mail_from")), receivers)


def _only_a_manager(actor: Actor) -> None:
    if not actor.manages:
        raise NotAllowed(_("The manager changes settings."))


def set_up(
    db: Database, actor: Actor, given: Mapping[str, Any], secret: str, *, now: datetime, seen: str = ""
) -> None:
    """Keeps what was given for the settings of the mail, all or none; an empty `secret` leaves the one that is kept.
    Raises Refused with everything that is wrong."""
    _only_a_manager(actor)
    faults: list[Fault] = []
    read: dict[str, Any] = {}
    for name in OF_MAIL:
        try:
            read[name] = shop_settings.read(name, given.get(name, ""))
        except Refused as refused:
            faults += refused.faults
    try:
        typed = mailing.secret("mail_secret", secret)
    except Refused as refused:
        faults += refused.faults
    if faults:
        raise Refused(faults)
    there = box_of(db)
    same = (there.server, there.user) == (read["mail_server"], read["mail_user"])
    receivers = tuple(one for one in read["mail_to"].split(", ") if one)
    if read["mail_server"] and receivers:
        kept = typed or (there.secret if same else "")
        mail_server.check(MailBox(read["mail_server"], read["mail_port"], read["mail_secured"], read["mail_user"],
                                  kept, read["mail_from"], receivers))  # fmt: skip
    with store.writing(db):
        now_there = {name: setting(db, name) for name in OF_MAIL}
        overtaken.check(seen, now_there, read)
        for name, value in read.items():
            if now_there[name] != value:
                setting_rows.save_setting(db, name, value, stamp(now), actor.id)
    if typed or not read["mail_user"] or not read["mail_server"]:
        keep_secret(db, actor, typed, now=now)


# When ----------------------------------------------------------------------------------------------------------------


def is_on(db: Database) -> bool:
    """Whether the shop has set that it is told by mail."""
    return bool(setting(db, "mail_server") and setting(db, "mail_to")) and not setting(db, "demo")


def _changed_at(db: Database) -> str:
    """When a setting of the mail, or its password, was changed last: whoever did wants to see whether it goes now."""
    times = [str(lines[0]["at"]) for lines in setting_rows.histories(db, OF_MAIL).values() if lines]
    return max([*times, str(_kept(_folder(db) / SECRET).get("at", ""))])


def _today(db: Database, now: datetime) -> tuple[MailState, int]:
    """What came of the tries, and how many of them count today: since the settings were changed."""
    last = state(db)
    fresh = last.day != _day(db, now) or last.tried_at < _changed_at(db)
    return last, 0 if fresh else last.tries


def _day(db: Database, now: datetime) -> str:
    return now.astimezone(zone(db)).date().isoformat()


def due(db: Database, now: datetime) -> bool:
    """True from the hour of the mail to the end of that day, until it was sent: a machine that was off makes up for it.
    After a failure an hour passes, `MOST_TRIES` times; what may have arrived is not sent again."""
    local = now.astimezone(zone(db))
    hour = local.replace(hour=int(setting(db, "mail_hour")), minute=0, second=0, microsecond=0)
    if not is_on(db) or local < hour:
        return False
    last, tries = _today(db, now)
    if last.begun and last.day == _day(db, now):
        return False
    if last.sent_at and hour <= read_stamp(last.sent_at) <= now + timedelta(days=1):
        return False
    waits = tries > 0 and timedelta(0) <= now - read_stamp(last.tried_at) < AGAIN_AFTER
    return tries < MOST_TRIES and not waits


def wrong(db: Database, now: datetime) -> str:
    """Why the mail of the last tries could not be sent, and what follows; empty: nothing is wrong."""
    if not is_on(db):
        return ""
    last = state(db)
    if not (last.error or last.begun or last.left_out):
        return ""
    if last.begun:
        told = _("It is not known whether the mail of {day} arrived: it was handed over, and no answer came.")
        told = told.format(day=Reader.of(db, now).day(last.day))
        return f"{told} {last.error}".strip() + " " + _("It is not sent a second time.")
    if last.left_out:
        return _("Not taken by the mail server: {addresses}").format(addresses="; ".join(last.left_out))
    told = _("The daily mail could not be sent: {error}").format(error=last.error)
    if last.day != _day(db, now):
        return told
    left = MOST_TRIES - _today(db, now)[1]
    if left <= 0:
        return f"{told} " + _("It is tried again tomorrow, or once these settings are changed.")
    again = ngettext("It is tried {n} more time today.", "It is tried {n} more times today.", left)
    return f"{told} {again.format(n=left)}"


def standing(db: Database, now: datetime) -> str:
    """How the mail stands, in a sentence or two, for its settings."""
    if setting(db, "demo"):
        return _("A demo sends no mail.")
    if not is_on(db):
        return _("Nothing is sent: that takes a server and an address.")
    last = state(db)
    sent = _("The last mail was sent on {time}.").format(time=Reader.of(db, now).time(last.sent_at)) \
        if last.sent_at else _("None was sent yet.")  # fmt: skip
    return f"{sent} {wrong(db, now)}".strip()


# What, and out -------------------------------------------------------------------------------------------------------


@in_its_language
def composed(db: Database, now: datetime) -> Mail:
    """The mail of now, in the shop's language; one state of the shop is read, and let go."""
    reads.read_on(db)
    try:
        reader = Reader.of(db, now)
        backups = None if setting(db, "demo") else nightly.standing(db, now)
        told = nightly.told(reader, backups) if backups and backups.warned else []
        return mail_now.of(reader, told)
    finally:
        reads.read_enough(db)


@contextmanager
def _alone(db: Database) -> Iterator[None]:
    """One at a time: a server that was killed may have left one that is at it."""
    private.folder(_folder(db))
    with private.opened(_folder(db) / LOCK, "a") as file:
        if not private.lock(file):
            raise NotNow(_("The mail is being sent just now."))
        yield


def send(db: Database, now: datetime, *, when_due: bool = False) -> MailState | None:
    """Sends the mail of now; None: `when_due`, and it is not. What came of it is noted, whatever it was. Nothing of the
    shop's records is read or written while the server is talked to. Raises Refused: it is not set up."""
    if setting(db, "demo"):
        raise Refused(_("A demo sends no mail."))
    box = box_of(db)
    if not when_due:
        mail_server.check(box)
    folder = _folder(db)
    with _alone(db):
        if when_due and not due(db, now):
            return None
        last, tries = _today(db, now)
        ended = _("The program ended before it was sent.")
        trying = MailState(last.sent_at, _day(db, now), tries + 1, stamp(now), ended)

        def begun() -> None:  # in another thread, which must not touch the records
            _save(folder, replace(trying, begun=True, error=""))

        _save(folder, trying)  # a try that is killed counts: no mail makes a server try for ever
        try:
            mail_server.check(box)
            mail = composed(db, now)
            shop = str(setting(db, "shop"))
            local = now.astimezone(zone(db))
            message = mail_server.message_of(box, shop, mail.subject, mail.text, local)
            refused = mail_server.hand_over(box, message, begun)
        except NotSent as failed:
            return _save(folder, replace(trying, error=str(failed), begun=failed.doubt))
        except (Refused, Trouble, OSError, store.Damaged) as error:
            known = store.trouble.trouble_of(error)
            return _save(folder, replace(trying, error=known.message if known else str(error)))
        left_out = tuple(f"{address} ({why})" for address, why in refused.items())
        return _save(folder, replace(trying, sent_at=stamp(now), error="", left_out=left_out))

