"""People and their sign-ins: a secret once a shift, a tap to hand the phone over, the secret again where it matters."""

from __future__ import annotations

import hashlib
import ipaddress
import math
import secrets
import threading
from collections import Counter, OrderedDict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any

from sqlite_utils import Database
from werkzeug.security import check_password_hash, generate_password_hash

from tickets import i18n, store
from tickets.calculator.units import SYSTEMS
from tickets.domain import names, overtaken
from tickets.domain.entry import read_stamp, stamp
from tickets.domain.person import ROLES, Actor, role_of, role_said
from tickets.domain.refusal import Fault, NotAllowed, NotFound, Refused, TryLater
from tickets.i18n import gettext as _
from tickets.queries.shop_rules import zone
from tickets.store import changes, reads
from tickets.store import people as rows
from tickets.store.people import COMMAND_LINE, Held, Person, SignIn
from tickets.store.settings import save_setting, setting

HASH = "scrypt:32768:8:3"
"""How secrets are hashed (n, r, p as in the OWASP Password Storage cheat sheet). Tests lower it."""

IDLE = timedelta(hours=12)
LONGEST = timedelta(hours=24)
FRESH = timedelta(minutes=5)
FIRST_MANAGER_FOR = timedelta(hours=24)
UNSLOWED = 2
"""Wrong tries in a row that make nobody wait: a slip on a phone with wet hands is no attack."""
LONGEST_WAIT = 300
_SEEN_EVERY = timedelta(minutes=10)
MODES = frozenset({"place", "repeat", "fit", "run"})
"""What a phone may be doing that rules its every scan, and that ends by itself; a count of a place is kept."""
MODE_ENDS = timedelta(minutes=20)
_SEEN_IN_MODE = timedelta(minutes=2)
"""How often it is noted that such a phone was seen, so that the 20 minutes are 20."""
KNOWN_FOR = timedelta(days=400)
"""A phone on which nobody signed in for so long is a stranger's again."""
WRONG_KEPT = timedelta(days=90)
_IN_TURN, _OF_ONE = 4, 2
"""So many secrets of a line wait for their hashing, so many of one address or phone: who comes then is asked to come
again, and the server's threads stay free for pages."""
_strangers, _known_phones = threading.Lock(), threading.Lock()
"""One secret is hashed at a time of strangers, and one of phones that signed in before, which never wait for those."""
_waiting: Counter[str] = Counter()
_known_waiting: Counter[str] = Counter()
_waits = threading.Lock()
_MOST_NOBODIES = 1_000
GUESSED, GUESSED_FOR = 10, timedelta(days=3)
"""The desk speaks of so many wrong secrets for one person in one day, for so long (judgement: slips are fewer)."""
_guessed: dict[str, list[tuple[str, str, int]]] = {}
"""Those, by file: kept in memory, since the desk is opened all day and the one server notes them all."""
_nobodies: OrderedDict[tuple[str, str, str], tuple[int, str]] = OrderedDict()
"""Wrong tries in a row for names that nobody here has: in memory alone, by file, name and where they came from."""
VIEWS = ("day", "safelight")


def built_in(db: Database, now: datetime) -> int:
    """The number of the person behind the command line, made on first use. Has no secret and cannot sign in."""
    person = rows.find(db, COMMAND_LINE)
    if person is not None:
        return person.id
    with store.writing(db):
        person = rows.find(db, COMMAND_LINE)
        return person.id if person else rows.add(db, COMMAND_LINE, "built-in", None, stamp(now))


# -- who works here


def _note(
    db: Database, by: Actor | None, number: int, what: str, now: datetime, *, was: str = "", becomes: str = ""
) -> None:
    """Notes who (None: the command line) changed what of a person; of a secret only that there is a new one."""
    who = by.id if by is not None else built_in(db, now)
    changes.note(db, "person", number, what, stamp(now), who, was=was, becomes=becomes)


def add_person(
    db: Database,
    name: str,
    role: str,
    secret: str | None,
    now: datetime,
    *,
    demo: bool = False,
    back: bool = False,
    by: Actor | None = None,
    scripted: bool = False,
) -> int:
    """A new person; the number. Without a secret they are on the list but cannot sign in.

    `back`: a name that left the shop is the same person again. Refused, all together: a faulty name, role or secret.
    `by`: who adds them; None: the command line. `scripted`: a file at the machine itself hands the secret over; a PIN
    may then have as few digits as any shop's.
    """
    digits, role = LEAST_PIN if scripted else pin_digits(db), role_of(role)
    faults = [*_name_faults(name), *_role_faults(role), *_secret_faults(name, role, secret, demo, digits)]
    if faults:
        raise Refused(faults)
    hashed = _hash(secret)
    with store.writing(db):
        check_new(db, name, role, back=back)
        there = rows.find(db, name)
        if there is None:
            number = rows.add(db, names.one_line(name), role, hashed, stamp(now))
        else:
            number = there.id
            rows.change(db, number, role, hashed, None)
        _note(db, by, number, "back" if there else "added", now, becomes=role)
        return number


def check_new(db: Database, name: str, role: str, *, back: bool = False) -> None:
    """Refuses what `add_person` would refuse whatever the secret is: a faulty or taken name, a faulty role."""
    faults = [*_name_faults(name), *_role_faults(role)]
    for alike in names.spelled_alike(names.one_line(name)):
        if (other := rows.find(db, alike)) is not None and not faults:
            faults.append(Fault("name", names.taken_alike(name, other.name)))
    there = rows.find(db, name)
    if there is not None and there.left_at is None and not faults:
        taken = _("{name} is on the list already: choose a name that tells the two apart.")
        faults.append(Fault("name", taken.format(name=there.name)))
    elif there is not None and not back and not faults:
        left = _("{name} was here before and is in the log. The same person: say so. Another one: another name.")
        faults.append(Fault("back", left.format(name=there.name)))
    if faults:
        raise Refused(faults)


def change_person(
    db: Database,
    number: int,
    role: str,
    secret: str | None,
    now: datetime,
    *,
    demo: bool = False,
    by: Actor | None = None,
    seen: str = "",
    scripted: bool = False,
) -> None:
    """Another role, another secret, or both; no secret: the one they have stays. `seen`: what the form showed
    (`shown_of`). `scripted`: as for `add_person`.

    Between manager and the other roles a new secret is needed, since a password is no PIN. A new one ends all sign-ins.
    """
    person, role = _here(db, number), role_of(role)
    faults = _role_faults(role)
    if not faults:
        if secret:
            digits = LEAST_PIN if scripted else pin_digits(db)
            faults += _secret_faults(person.name, role, secret, demo, digits)
        elif person.secret and (role == "manager") != (person.role == "manager"):
            faults.append(Fault("new_secret", secret_rule(role, pin_digits(db))))
    if faults:
        raise Refused(faults)
    hashed = _hash(secret) if secret else person.secret
    with store.writing(db):
        overtaken.check(seen, shown_of(_here(db, number)), {"role": role})
        if person.role == "manager" and role != "manager":
            _not_the_last_manager(db, person, "role")
        rows.change(db, number, role, hashed, None)
        if role != person.role:
            _note(db, by, number, "role", now, was=person.role, becomes=role)
        if hashed != person.secret:
            _note(db, by, number, "secret", now)
            rows.end_sign_ins_of(db, number)
            rows.clear_tries_of(db, number)


@store.held(None)
def reads_in(db: Database, number: int, *, language: str | None = None, units: str | None = None) -> None:
    """The language and the units that a person reads in from here on, on any phone; empty: as the phone speaks, as the
    shop measures; None: as it was."""
    person = _here(db, number)
    faults = [
        Fault(name, _("One of: {names}.").format(names=", ".join(known)))
        for name, chosen, known in (("language", language, i18n.LANGUAGES), ("units", units, SYSTEMS))
        if chosen and chosen not in known
    ]
    if faults:
        raise Refused(faults)
    with store.writing(db):
        new = [was if one is None else one or None for was, one in ((person.language, language), (person.units, units))]
        rows.reads_in(db, number, *new)


def shown_of(person: Person) -> dict[str, str]:
    """What the form of a person shows, and changes."""
    return {"role": person.role}


def leave(db: Database, number: int, now: datetime, *, by: Actor | None = None) -> None:
    """The person leaves the shop: no secret, no sign-ins; the log keeps the name."""
    person = _here(db, number)
    with store.writing(db):
        if person.role == "manager":
            _not_the_last_manager(db, person, "")
        rows.change(db, number, person.role, None, stamp(now))
        _note(db, by, number, "left", now)
        rows.end_sign_ins_of(db, number)
        rows.forget_devices_of(db, number)


def _here(db: Database, number: int) -> Person:
    person = rows.get(db, number)
    if person is None or person.left_at is not None or person.role == "built-in":
        raise NotFound(_("Nobody of this shop has that name: choose one from the list."))
    return person


def _not_the_last_manager(db: Database, person: Person, where: str) -> None:
    others = [other for other in rows.every(db) if other.role == "manager" and other.secret and other.id != person.id]
    if not others:
        raise Refused(_("{name} is the only manager: make another one first.").format(name=person.name), where)


def _name_faults(name: str) -> list[Fault]:
    if not name.strip():
        return [Fault("name", _("A name is needed, such as the one people call across the shop."))]
    faults: list[Fault] = []
    tidy = names.take(name, faults, example=_("Ada"))
    if faults:
        return faults
    if rows.name_key(tidy) == COMMAND_LINE:
        return [Fault("name", _("“{name}” is the program itself: choose another name.").format(name=COMMAND_LINE))]
    return []


def _role_faults(role: str) -> list[Fault]:
    if role_of(role) in ROLES:
        return []
    return [Fault("role", _("One of: {roles}.").format(roles=", ".join(role_said(known) for known in ROLES)))]


def pin_digits(db: Database) -> int:
    """How many digits a new PIN has at least here. Those given out before go on working."""
    return int(setting(db, "pin_digits"))


def secret_rule(role: str, digits: int) -> str:
    """What a new secret of a role must be, said before it is typed and where it is refused."""
    if role == "manager":
        return _("A manager needs a password of 8 characters or more.")
    if digits == MOST_PIN:
        return _("A PIN of 8 digits is needed, not one that many choose, such as 123456 or 121212.")
    rule = _("A PIN of {least} to 8 digits is needed, not one that many choose, such as 123456 or 121212.")
    return rule.format(least=digits)


LEAST_PIN, MOST_PIN = 4, 8


def _secret_faults(name: str, role: str, secret: str | None, demo: bool, digits: int) -> list[Fault]:
    if secret is None:
        return []
    if role == "manager":
        if not 8 <= len(secret) <= 200:
            return [Fault("new_secret", secret_rule(role, digits))]
        easy = len(set(secret)) < 4 or _is_run(secret) or secret.casefold() in ("password", rows.name_key(name))
        if easy and not demo:
            return [Fault("new_secret", _("This password is guessed at once: choose another one."))]
        return []
    pin, digits = secret.strip(), LEAST_PIN if demo else digits
    if not (pin.isascii() and pin.isdigit() and digits <= len(pin) <= MOST_PIN):
        return [Fault("new_secret", secret_rule(role, digits))]
    if not demo and easy_pin(pin):
        told = _("{pin} is guessed at once: no digits in a row, none twice over, no shape on the keys, please.")
        return [Fault("new_secret", told.format(pin=pin))]
    return []


_SHAPES = (
    "147258369", "147852369", "741852963", "369258147", "159753", "159357", "753159", "951753", "789456123",
    "123654789", "321456987", "258046", "134679", "852456", "123698745", "0102030405", "1020304050", "1122334455",
    "13579", "24680", "246810", "1357911", "112358",
)  # fmt: skip
"""Ways over the keys of a phone and rows that people count by: among the PINs chosen most often (common practice)."""


def easy_pin(pin: str) -> bool:
    """True for a PIN that many people choose: one digit, a row, a repeat, a mirror of a row, doubled digits, a year at
    an end of four digits, a way over the keys."""
    half = pin[: (len(pin) + 1) // 2]
    return (
        len(set(pin)) < 3
        and len(pin) > 4
        or len(set(pin)) == 1
        or _is_run(pin)
        or any(pin == pin[:size] * (len(pin) // size) for size in range(1, len(pin)))
        or (len(pin) > 4 and pin == pin[::-1] and _is_run(half))
        or (len(pin) % 2 == 0 and len(pin) > 4 and pin[::2] == pin[1::2] and _is_run(pin[::2]))
        or (len(pin) == 4 and pin[:2] in {"19", "20"})
        or any(pin in shape or pin in shape[::-1] for shape in _SHAPES)
    )


def _is_run(text: str) -> bool:
    """True when every character follows its neighbour, up or down: 1234, 9876, 7890."""
    for line in ("01234567890123456789", "abcdefghijklmnopqrstuvwxyz"):
        if text.casefold() in line or text.casefold() in line[::-1]:
            return True
    return False


# -- secrets


def _tidy(secret: str) -> str:
    """A PIN may come with a space from the phone's keyboard; a password is taken as it is."""
    return secret.strip() if secret.strip().isdigit() else secret


def _hash(secret: str | None) -> str | None:
    return generate_password_hash(_tidy(secret), method=HASH) if secret else None


@lru_cache(maxsize=2)
def _nobodys(method: str) -> str:
    return generate_password_hash(secrets.token_urlsafe(24), method=method)


@dataclass(frozen=True, slots=True)
class Come:
    """Where a secret comes from: the network address, and what the phone keeps since somebody first signed in on it.
    `phone`: a sign-in that is going on there (hashed), asked for its secret again."""

    address: str = ""
    device: str = ""
    phone: str = ""

    @property
    def network(self) -> str:
        """The address as it is counted: of IPv6 the half that names a network, since a machine has many of the rest."""
        try:
            found = ipaddress.ip_address(self.address)
        except ValueError:
            return self.address[:60]
        if isinstance(found, ipaddress.IPv6Address):
            return str(found.ipv4_mapped or ipaddress.ip_network((found, 64), strict=False))
        return str(found)


def check_secret(db: Database, name: str, secret: str, now: datetime, come: Come | None = None) -> Person:
    """The person whose secret this is. Raises Refused, in the same words for an unknown name and a wrong secret.

    Wrong tries are slowed by name and where they come from, an address, or a phone on which this person signed in
    before, so that a stranger makes nobody else wait: after the third 1 s, doubling, at most 5 minutes (TryLater),
    looked at before the slow hashing. Those of people who are here are noted for the manager; an unknown name leaves no
    row. Never inside `store.writing`: two locks taken in two orders would stand still.
    """
    if db.conn.in_transaction:
        raise RuntimeError("check the secret before writing begins")
    come = come or Come()
    person = rows.find(db, name)
    if person is not None and (person.left_at is not None or person.role not in ROLES or person.secret is None):
        person = None
    device = _digest(come.device) if come.device else ""
    known = bool(come.phone) or (person is not None and bool(device) and rows.knows(db, device, person.id))
    source = (come.phone or device)[:24] if known else come.network
    with _in_turn(known, source):
        failures, last = _failures(db, person, name, source)
        if seconds := _to_wait(failures, last, now):
            slowed = _("Too many wrong tries for this name from here. Wait {seconds} s.")
            raise TryLater(slowed.format(seconds=seconds), seconds)
        hashed = person.secret if person is not None and person.secret else _nobodys(HASH)
        right = len(secret) <= 200 and check_password_hash(hashed, _tidy(secret)) and person is not None
        if failures or not right:
            _note_try(db, person, name, source, 0 if right else failures + 1, now, "" if known else source)
    if person is None or not right:
        raise Refused(_("Wrong PIN or password for this name. Try again."), "secret")
    return person


def _to_wait(failures: int, last: str, now: datetime) -> int:
    """Seconds until the next try is looked at, after so many wrong ones in a row; 0: now."""
    if failures <= UNSLOWED:
        return 0
    wait = min(2 ** min(failures - UNSLOWED - 1, 20), LONGEST_WAIT)
    left = (read_stamp(last) + timedelta(seconds=wait) - now).total_seconds()
    return math.ceil(left) if 0 < left <= wait else 0  # a try that is yet to come was counted by a wrong clock


def wrong_token(db: Database, now: datetime, come: Come) -> None:
    """Counts a token that opens nothing, by the address that it came from, as a wrong PIN of nobody; raises TryLater
    while that address is to wait. A token that opens something is never held up: nobody guesses 128 bits, and a program
    that was set up wrongly may stand behind the address of one that was not."""
    source = f"token {come.network}"
    failures, last = _failures(db, None, "", source)
    if seconds := _to_wait(failures, last, now):
        told = _("Too many wrong tokens from here. Wait {seconds} s.")
        raise TryLater(told.format(seconds=seconds), seconds)
    _note_try(db, None, "", source, failures + 1, now, "")


@contextmanager
def _in_turn(known: bool, source: str) -> Iterator[None]:
    """One secret is hashed at a time. Strangers wait in a short line; phones that signed in before have a line of their
    own, as short. Raises TryLater where the line is full."""
    line, waiting = (_known_phones, _known_waiting) if known else (_strangers, _waiting)
    with _waits:
        if waiting.total() >= _IN_TURN or waiting[source] >= _OF_ONE:
            busy = _("Others are signing in just now. Try again in {seconds} s.")
            raise TryLater(busy.format(seconds=1), 1)
        waiting[source] += 1
    try:
        with line:
            yield
    finally:
        with _waits:
            waiting[source] -= 1
            if not waiting[source]:
                del waiting[source]


def _nobody(db: Database, name: str, source: str) -> tuple[str, str, str]:
    return store.place_of(db), rows.name_key(name)[:60], source


def _failures(db: Database, person: Person | None, name: str, source: str) -> tuple[int, str]:
    """Wrong tries in a row from there, and when the last one was."""
    if person is not None:
        return rows.tries(db, f"{person.id} {source}")
    return _nobodies.get(_nobody(db, name, source), (0, ""))


@store.held(None)
def _note_try(
    db: Database, person: Person | None, name: str, source: str, failures: int, now: datetime, shown: str
) -> None:
    """Keeps the count; a wrong one of somebody who is here is noted for the manager, from `shown`."""
    if person is None:
        _nobodies[_nobody(db, name, source)] = failures, stamp(now)
        _nobodies.move_to_end(_nobody(db, name, source))
        while len(_nobodies) > _MOST_NOBODIES:
            _nobodies.popitem(last=False)
        return
    with store.writing(db):
        rows.forget_tries(db, stamp(now - timedelta(days=1)))
        rows.save_tries(db, f"{person.id} {source}", failures, stamp(now))
        if failures:
            day, from_day = (at.astimezone(zone(db)).date().isoformat() for at in (now, now - WRONG_KEPT))
            rows.note_wrong(db, day, person.id, shown, stamp(now), from_day)
            look_back(db, now)


def look_back(db: Database, now: datetime) -> None:
    """Works out for whom many secrets were tried of late: when the server starts, and after each wrong one."""
    _guessed[store.place_of(db)] = rows.guessed(db, _first_day(db, now), GUESSED)


def _first_day(db: Database, now: datetime) -> str:
    return (now - GUESSED_FOR).astimezone(zone(db)).date().isoformat()


def guessed(db: Database, file: str, now: datetime) -> list[tuple[str, str, int]]:
    """For whom many secrets were tried of late: day, name, how many."""
    return [one for one in _guessed.get(file, ()) if one[0] >= _first_day(db, now)]


# -- sign-ins


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _given(person: Person, now: datetime) -> str:
    """When the secret was given, and which one: a changed secret takes the tap away on every phone."""
    return f"{stamp(now)} {_digest(person.secret or '')[:16]}"


def _kind(person: Person) -> str:
    return "password" if person.role == "manager" else "pin"


@store.held(None)
def sign_in(
    db: Database,
    name: str,
    secret: str,
    now: datetime,
    *,
    phone: str | None = None,
    view: str = "day",
    come: Come | None = None,
) -> tuple[str, SignIn]:
    """A new token for the phone (the caller's to keep; only its SHA-256 is stored) and the sign-in behind it.

    `phone`: the token that the phone held till now. It ends; who gave their PIN on it, and what it was doing, stay.
    `come`: where it comes from; a phone that keeps a device token is known for this person from here on.
    """
    person = check_secret(db, name, secret, now, come)
    token = secrets.token_urlsafe(32)
    with store.writing(db):
        rows.end_old_sign_ins(db, stamp(now - IDLE))
        before = current(db, phone, now) if phone else None
        new = SignIn(
            token=_digest(token),
            person=person.id,
            signed=_kind(person),
            at=stamp(now),
            secret_at=stamp(now),
            seen_at=stamp(now),
            shift={**(before.shift if before else {}), str(person.id): _given(person, now)},
            doing=before.doing if before else {},
            view=before.view if before else view if view in VIEWS else "day",
        )
        if before is not None:
            rows.end_sign_in(db, before.token)
        rows.save_sign_in(db, new)
        if come is not None and come.device:
            rows.save_device(db, _digest(come.device), person.id, stamp(now), stamp(now - KNOWN_FOR))
    return token, new


def current(db: Database, token: str, now: datetime) -> SignIn | None:
    """The sign-in of a phone's token; None: unknown, too old (12 h unseen, 24 h in all), or its person left."""
    found = _still(rows.holder(db, _digest(token)), now)
    return found[0] if found else None


def _still(found: Held | None, now: datetime) -> Held | None:
    if found is None or found[1].left_at is not None:
        return None
    if now - read_stamp(found[0].seen_at) > IDLE or not -LONGEST <= now - read_stamp(found[0].at) <= LONGEST:
        return None  # one of a day to come was made by a wrong clock: it would hold for years
    return found


def begin(db: Database, token: str, now: datetime) -> tuple[reads.Newest, Held | None]:
    """What every page asks first: what is newest in the shop, and who holds the phone (None: signed out)."""
    newest, found = rows.begin(db, _digest(token) if token else "")
    return newest, _still(found, now)


def to_be_noted(sign_in: SignIn, now: datetime) -> bool:
    """True where it is time to note that the phone was seen."""
    every = _SEEN_IN_MODE if sign_in.doing.get("task") in MODES else _SEEN_EVERY
    return now - read_stamp(sign_in.seen_at) >= every


def over(sign_in: SignIn, now: datetime) -> bool:
    """True where what the phone was doing is over: nobody used it for 20 minutes."""
    if sign_in.doing.get("task") not in MODES:
        return False
    return (
        now - max(read_stamp(sign_in.seen_at), read_stamp(str(sign_in.doing.get("at") or sign_in.seen_at))) >= MODE_ENDS
    )


def note_seen(db: Database, sign_in: SignIn, now: datetime) -> SignIn:
    """Notes now and then that the phone was seen; what it was doing is over where that was long ago."""
    if not to_be_noted(sign_in, now):
        return sign_in
    doing = {} if over(sign_in, now) else sign_in.doing
    return _save(db, replace(sign_in, seen_at=stamp(now), doing=doing))


@store.held(None)
def _save(db: Database, sign_in: SignIn) -> SignIn:
    with store.writing(db):
        rows.save_sign_in(db, sign_in)
    return sign_in


def _held(db: Database, token: str, now: datetime) -> SignIn:
    found = current(db, token, now)
    if found is None:
        raise NotAllowed(_("This phone is signed out: sign in first."))
    return found


def may_tap(db: Database, sign_in: SignIn, now: datetime) -> list[Person]:
    """Who can take this phone over with a tap: they gave their PIN on it within the shift, and manage nothing."""
    return [person for person in rows.every(db) if _may_tap(db, sign_in, person, now)]


def _may_tap(db: Database, sign_in: SignIn, person: Person, now: datetime) -> bool:
    given = sign_in.shift.get(str(person.id))
    if given is None or person.role == "manager" or person.left_at is not None or person.secret is None:
        return False
    within = now - read_stamp(given.split()[0]) <= timedelta(hours=float(setting(db, "shift_hours")))
    return within and given.split()[1] == _given(person, now).split()[1]


def hand_over(db: Database, token: str, name: str, now: datetime) -> SignIn:
    """The phone goes to somebody who gave their PIN on it within the shift. Never to a manager: password always."""
    held = _held(db, token, now)
    person = rows.find(db, name)
    if person is None or not _may_tap(db, held, person, now):
        raise NotAllowed(_("A tap is not enough for this name: sign in with the PIN or password."))
    return _save(db, replace(held, person=person.id, signed="tap", secret_at=None, seen_at=stamp(now)))


@store.held(None)
def sign_out(db: Database, token: str) -> None:
    """Ends the phone's sign-in, for all who used it."""
    with store.writing(db):
        rows.end_sign_in(db, _digest(token))


def fresh_secret(sign_in: SignIn, now: datetime) -> bool:
    """True when the person who holds the phone gave their own secret on it within the last 5 minutes."""
    return sign_in.secret_at is not None and timedelta(0) <= now - read_stamp(sign_in.secret_at) <= FRESH


def confirm(db: Database, sign_in: SignIn, secret: str | None, now: datetime) -> SignIn:
    """Makes sure of the person before an override, an approval or a cross-out: the secret again unless it is fresh.

    Raises Refused with the fault at `secret`, TryLater. The sign-in that comes back is signed with the secret.
    """
    if fresh_secret(sign_in, now):
        return sign_in
    person = rows.get(db, sign_in.person) if sign_in.person is not None else None
    if person is None:
        raise NotAllowed(_("This phone is signed out: sign in first."))
    if not secret:
        again = _("Your password again, please.") if person.role == "manager" else _("Your PIN again, please.")
        raise Refused(again, "secret")
    person = check_secret(db, person.name, secret, now, Come(phone=sign_in.token))
    shift = {**sign_in.shift, str(person.id): _given(person, now)}
    return _save(db, replace(sign_in, signed=_kind(person), secret_at=stamp(now), seen_at=stamp(now), shift=shift))


@store.held(None)
def set_doing(db: Database, token: str, task: dict[str, Any]) -> None:
    """What the phone does from now on: `text` for the band, `out` (where the way out posts to), and the task's own."""
    with store.writing(db):
        rows.save_doing(db, _digest(token), task)


@store.held(None)
def set_view(db: Database, token: str, view: str) -> None:
    """Day or safelight view of this phone."""
    if view not in VIEWS:
        raise Refused(_("One of: {views}.").format(views=", ".join(VIEWS)), "view")
    with store.writing(db):
        found = rows.sign_in(db, _digest(token))
        if found is not None:
            rows.save_sign_in(db, replace(found, view=view))


# -- the first manager


@store.held(None)
def first_manager_token(db: Database, now: datetime) -> str | None:
    """A new one-time token for making the manager, good for 24 h; None when somebody manages the shop already."""
    if rows.any_manager(db):
        return None
    token = secrets.token_urlsafe(24)
    person = built_in(db, now)
    with store.writing(db):
        value = {"digest": _digest(token), "until": stamp(now + FIRST_MANAGER_FOR)}
        save_setting(db, "first_manager", value, stamp(now), person)
    return token


def first_manager_waits(db: Database, token: str, now: datetime) -> bool:
    """True when `token` may still make the manager."""
    kept = setting(db, "first_manager")
    if not kept or rows.any_manager(db):
        return False
    return secrets.compare_digest(kept["digest"], _digest(token)) and stamp(now) <= kept["until"]


@store.held(None)
def make_first_manager(db: Database, token: str, name: str, secret: str, now: datetime) -> int:
    """The shop's first manager; the number. The token is used up."""
    with store.writing(db):
        if not first_manager_waits(db, token, now):
            raise NotFound(_("This link is used up or too old. Starting the server again prints a new one."))
        number = add_person(db, name, "manager", secret, now)
        save_setting(db, "first_manager", "", stamp(now), built_in(db, now))
    return number
