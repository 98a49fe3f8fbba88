"""Making and withdrawing tokens: of a wall and a calendar, which only read, and of a program, which may post too."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.actions.posting import once
from tickets.domain import names
from tickets.domain.entry import stamp
from tickets.domain.person import BUILT_IN, PROGRAM, Actor
from tickets.domain.refusal import Fault, NotAllowed, NotFound, Refused
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.store import changes, people, tokens
from tickets.store.tokens import ReadToken

SCOPES: Mapping[str, str] = {"wall": N_("a wall"), "calendar": N_("a calendar"), "interface": N_("a program")}
"""What can be made by hand. To add a scope: its word here, its page, and a look at what its token may not show."""

READS: Mapping[str, str] = {
    "screens": N_("screens"),
    "jobs": N_("jobs"),
    "runs": N_("runs"),
    "buckets": N_("buckets"),
    "log": N_("the log, with names of people"),
}
"""What a program's token may read, each by itself (`queries.interface`)."""

POSTS: Mapping[str, str] = {"post-jobs": N_("enter jobs"), "post-entries": N_("log steps, in its own name")}
"""What a program's token may do, each by itself (`actions.programs`)."""

PARTS: Mapping[str, str] = {**READS, **POSTS}

_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
LENGTH = 26
"""Characters of a token, 128 bits of chance: it is typed once with the remote of a television, so no capitals, and
nothing that reads like something else."""


def make(
    db: Database, actor: Actor, scope: str, name: str, customers: bool, parts: Sequence[str] = (), *, post: str,
    now: datetime,
) -> tuple[int, str]:  # fmt: skip
    """A new token: its number, and itself, which nobody can be shown again (empty: this was sent before). `parts`: what
    a program may read and do, of PARTS. One that may do something gets a built-in person, in whose name it does it."""
    if not actor.manages:
        raise NotAllowed(_("The manager makes addresses and tokens."))
    faults: list[Fault] = []
    said = names.take(name, faults, example=_("Television in the screen room"))
    if scope not in SCOPES:
        faults.append(Fault("scope", _("One of: {kinds}.").format(kinds=", ".join(SCOPES))))
    if scope == "interface" and not parts:
        faults.append(Fault("parts", _("Tick what the program may read or do.")))
    if not set(parts) <= set(PARTS):
        faults.append(Fault("parts", _("One of: {kinds}.").format(kinds=", ".join(PARTS))))
    if faults:
        raise Refused(faults)
    may = [one for one in PARTS if one in parts] if scope == "interface" else []
    token = "".join(secrets.choice(_LETTERS) for _unused in range(LENGTH))
    digest = digest_of(token)

    def act() -> dict[str, Any]:
        acts_as = _built_in(db, said, now) if POSTS.keys() & set(may) else None
        number = tokens.add(db, digest, scope, said, customers, stamp(now), actor.id, may, acts_as)
        changes.note(db, "token", number, "added", stamp(now), actor.id, becomes=said)
        return {"token": number}

    content = {"act": "token", "scope": scope, "name": said, "customers": customers, "parts": may}
    number = int(once(db, actor, post, content, now, act)["token"])
    made = tokens.by_digest(db, digest)
    return number, token if made is not None else ""


def _built_in(db: Database, name: str, now: datetime) -> int:
    """The person whom the log names for what a program did: nobody can sign in as them, or act so by hand."""
    called = wanted = _("{name} (program)").format(name=name)
    number = 1
    while people.find(db, called) is not None:
        number += 1
        called = f"{wanted} {number}"
    return people.add(db, called, BUILT_IN, None, stamp(now))


def actor_of(db: Database, token: ReadToken) -> Actor:
    """Who acts where a program sends something by its token. They have no role, so nothing that needs one is theirs."""
    person = people.get(db, token.acts_as) if token.acts_as is not None else None
    if person is None:
        raise NotAllowed(_("This token only reads."))
    return Actor(person.id, person.name, PROGRAM, "token")


def withdraw(db: Database, actor: Actor, number: int, *, post: str, now: datetime) -> None:
    """From now on the token opens nothing, on whatever screen or phone its address is."""
    if not actor.manages:
        raise NotAllowed(_("The manager removes addresses and tokens."))

    def act() -> dict[str, Any]:
        found = tokens.get(db, number)
        if found is None:
            raise NotFound(_("There is no such address."))
        if found.withdrawn_at is None:
            tokens.withdraw(db, number, stamp(now))
            changes.note(db, "token", number, "withdrawn", stamp(now), actor.id, was=found.name)
        return {}

    once(db, actor, post, {"act": "withdraw token", "token": number}, now, act)


def opens(db: Database, token: str, scope: str) -> ReadToken | None:
    """The token of this text, where it is good for that scope now."""
    found = tokens.by_digest(db, digest_of(token.strip().casefold())) if token else None
    return found if found is not None and found.scope == scope and found.withdrawn_at is None else None


def digest_of(token: str) -> str:
    """What is kept of a token."""
    return hashlib.sha256(token.encode()).hexdigest()
