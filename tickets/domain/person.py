"""Who acts, and what a role may do."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from tickets.calculator.kinds import plain
from tickets.calculator.verdict import Level, Verdict
from tickets.i18n import N_, in_every_language
from tickets.i18n import gettext as _

BUILT_IN = "built-in"
PROGRAM = "program"
"""What acts by a token: no role of a person, so nothing that is for some roles alone."""
ROLE_WORDS: Mapping[str, str] = {
    "screen room": N_("screen room"),
    "press": N_("press crew"),
    "press lead": N_("press lead"),
    "manager": N_("manager"),
    BUILT_IN: N_("built-in"),
}
ROLES = tuple(role for role in ROLE_WORDS if role != BUILT_IN)



def role_said(role: str) -> str:
    """A role in the reader's words; the customer, who may approve a print, has none here."""
    return _(ROLE_WORDS.get(role, role))


def role_of(text: str) -> str:
    """The role that a text means, by its name or its word in any language; the text itself where it means none."""
    meant = plain(" ".join(text.split()))
    return next((role for role in ROLES if meant in map(plain, (role, *in_every_language(ROLE_WORDS[role])))), text)


HANGS = frozenset(ROLES[1:])
"""Who hangs screens on a press."""
LEADS = frozenset({"press lead", "manager", BUILT_IN})
MANAGES = frozenset({"manager", BUILT_IN})

NOBODY_PASSES = frozenset({"torn", "retired"})
"""Causes of a stop that nobody may go past."""

LEAD_PASSES = frozenset(
    {
        "not-called-for",
        "no-image",
        "image-unknown",
        "test-strip-stencil",
        "other-revision",
        "other-size",
        "not-ready",
        "log-unclear",
        "failed",
        "emulsion-not-fit",
        "stencil-weak-for-ink",
        "bucket-test-failed",
        "mesh-far-off",
        "tension-under-hard-floor",
        "ink-past-time",
        "ink-time-unknown",
        "bucket-discarded",
        "old-revision",
        "old-size",
        "mesh-changed",
        "image-dropped",
        "image-added",
        "under-cure",
        "under-hold",
        "under-activation",
        "print-colour-far",
    }
)
"""Causes that a press lead or manager may go past; all others the operator may, with a reason."""

LEAD_HANGS = frozenset({"named-by-eye"})
"""Cautions that only a press lead or manager goes past, with a reason: another person's good check answers them."""


@dataclass(frozen=True, slots=True)
class Actor:
    """The person who acts: number, name, role, and how they signed (pin, tap, password, command line, token)."""

    id: int
    name: str
    role: str
    signed: str = "pin"

    @property
    def leads(self) -> bool:
        """May go past what only a press lead or manager may."""
        return self.role in LEADS

    @property
    def manages(self) -> bool:
        """May change what only a manager may; the command line acts as one."""
        return self.role in MANAGES


def to_pass(verdict: Verdict) -> list[str]:
    """The causes (keys of reasons) that somebody must go past to hang this: every stop and unknown, some cautions."""
    return [
        reason.key
        for reason in verdict.reasons
        if reason.level in (Level.STOP, Level.UNKNOWN) or (reason.level is Level.CAUTION and reason.key in LEAD_HANGS)
    ]


def may_pass(actor: Actor, causes: Iterable[str]) -> bool:
    """Whether `actor` may go past a stop or an unknown with these causes (keys of reasons), giving a reason."""
    causes = set(causes)
    if causes & NOBODY_PASSES:
        return False
    return actor.leads or not causes & (LEAD_PASSES | LEAD_HANGS)
