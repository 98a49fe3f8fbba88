"""What is found by words: screens, jobs, customers, images, places, buckets, lots and people, each with what somebody
wants to know of it at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tickets.calculator.numerals import counted
from tickets.domain import searched
from tickets.domain.code import shown
from tickets.domain.person import Actor, role_said
from tickets.domain.separation import folded
from tickets.domain.stages import STANDING_WORDS
from tickets.i18n import N_, ngettext
from tickets.i18n import gettext as _
from tickets.queries.said import Reader, clock
from tickets.store import buckets, desk, finding, jobs, people, places, screens

KIND_WORDS: Mapping[str, str] = {
    "screen": N_("Screens"),
    "job": N_("Jobs"),
    "customer": N_("Customers"),
    "separation": N_("Images"),
    "place": N_("Places"),
    "bucket": N_("Buckets"),
    "lot": N_("Lots"),
    "person": N_("People"),
}
"""The kinds, in the order in which they are shown."""
SHOWN = 8
"""Things of a kind that are shown together with the others (judgement)."""
ALONE = 50
"""Things of a kind that is shown alone."""
LOOKED_AT = 60
"""Jobs, the newest, out of which those that are open and due first are shown."""
WORDS = 8
"""Words that are looked for: more say nothing new."""
CARRIERS = 4
"""Screens that carry an image, shown with it."""


@dataclass(frozen=True, slots=True)
class FoundThing:
    """One thing that was found: `key` is its code, or the text or number that it is known by; `about` what to know of
    it; `screens`: of an image, the screens that carry it now (code, what to know)."""

    kind: str
    key: str
    name: str
    about: str
    screens: tuple[tuple[str, str], ...] = ()
    job: str = ""
    """Of an image, the code of the newest job that asks for it."""

    def to_dict(self) -> dict[str, Any]:
        """As plain data."""
        more: dict[str, Any] = {}
        if self.kind == "separation":
            more = {"job": self.job, "screens": [code for code, _about in self.screens]}
        return {"kind": self.kind, "key": self.key, "name": self.name, "about": self.about, **more}


@dataclass(frozen=True, slots=True)
class HitGroup:
    """What was found of one kind; `more`: there is more than is shown."""

    kind: str
    hits: tuple[FoundThing, ...]
    more: bool


@dataclass(frozen=True, slots=True)
class FoundByWords:
    """What was found; `instead`: the words that were looked for where nothing goes by those that were typed."""

    groups: tuple[HitGroup, ...]
    instead: str = ""


def search(reader: Reader, who: Actor, text: str, kind: str = "", first: Sequence[int] = ()) -> FoundByWords:
    """What has all the words of a text, or words that begin so; where nothing has, what is one slip away. `kind`: that
    kind alone, more of it. `first`: screens to name before all others. People are found by a manager; everybody else
    finds themselves."""
    words = searched.terms(text)[:WORDS]
    asked = _asked(text, words)
    groups = _groups(reader, who, asked, kind, first)
    if groups or not words:
        return FoundByWords(groups)
    spelled = [[word] if finding.begins(reader.db, word) else finding.one_slip_away(reader.db, word) for word in words]
    if not all(spelled):
        return FoundByWords(())
    other = [one[0] for one in spelled]
    ways = [[*other[:place], word, *other[place + 1 :]] for place, some in enumerate(spelled) for word in some[:5]]
    groups = _groups(reader, who, ways, kind, first)
    told = " ".join(_(" or ").join(some[:5]) for some in spelled)
    return FoundByWords(groups, told if groups else "")


def _asked(text: str, words: Sequence[str]) -> list[list[str]]:
    """The ways in which what was typed is looked for: as its words, each part without its signs, all in one."""
    parts = [in_one for part in text.split()[:WORDS] if (in_one := searched.in_one(part))]
    ways = [list(words), parts, ["".join(words)]]
    return [way for place, way in enumerate(ways) if way and way != [""] and way not in ways[:place]]


def _groups(
    reader: Reader, who: Actor, asked: Sequence[Sequence[str]], kind: str, first: Sequence[int]
) -> tuple[HitGroup, ...]:
    most, out = ALONE if kind else SHOWN, []
    for one in [kind] if kind in KIND_WORDS else KIND_WORDS:
        limit = max(most, LOOKED_AT) if one == "job" else most
        there = finding.matching(reader.db, one, asked, limit + 1)
        if one == "screen" and first:
            there = list(dict.fromkeys([*map(str, first), *there]))
        if one == "person" and not who.manages:
            there = [number for number in there if number == str(who.id)]
        if there:
            hits = _HITS[one](reader, there)
            out.append(HitGroup(one, tuple(hits[:most]), len(there) > most))
    return tuple(group for group in out if group.hits)


def _numbers(things: Sequence[int | str]) -> list[int]:
    """The numbers that things are kept by."""
    return [counted(str(one)) for one in things]


def _several(*parts: str) -> str:
    return " · ".join(part for part in parts if part)


def _said(life: Any, names: Mapping[int, str]) -> str:
    """How far a screen is, and where it is."""
    where = names.get(life.place, "") if life.place else ""
    missing = _("missing") if life.not_at is not None else ""
    return _several(_(STANDING_WORDS[life.standing]), where, missing)


def said_of_screens(reader: Reader, numbers: Sequence[int | str]) -> list[FoundThing]:
    """Screens, each with its mark, its mesh, how far it is and where."""
    names, out = places.names(reader.db), []
    for one in screens.many(reader.db, _numbers(numbers)):
        life = one.life
        mesh = life.mesh.said if life.mesh else _("mesh not known")
        out.append(FoundThing("screen", one.code, shown(one.code), _several(life.mark, mesh, _said(life, names))))
    return out


def _jobs(reader: Reader, numbers: Sequence[str]) -> list[FoundThing]:
    lines = jobs.lines(reader.db, _numbers(numbers))
    still = sorted((one for one in lines if not one.closed_at), key=lambda one: (one.due, one.id))
    closed = sorted((one for one in lines if one.closed_at), key=lambda one: (one.due, one.id), reverse=True)
    out = []
    for one in (*still, *closed):
        due = _("press date {day}").format(day=reader.day(one.due))
        about = _several(one.customer, one.reference, due, _("closed") if one.closed_at else "")
        out.append(FoundThing("job", one.code, one.title, about))
    return out


def _customers(reader: Reader, names: Sequence[str]) -> list[FoundThing]:
    """Customers, those that differ by case or blanks only as one."""
    found: dict[str, tuple[str, int, int]] = {}
    for name, every, still in jobs.of_customers(reader.db, names):
        spelled, more, more_open = found.get(folded(name), (name, 0, 0))
        found[folded(name)] = (spelled, every + more, still + more_open)
    return [
        FoundThing("customer", name, name,
            _several(ngettext("{n} job", "{n} jobs", every).format(n=every), _("{n} open").format(n=still)))
        for name, every, still in found.values()
    ]  # fmt: skip


def _images(reader: Reader, numbers: Sequence[str]) -> list[FoundThing]:
    wanted = _numbers(numbers)
    names, asking = places.names(reader.db), jobs.newest_asking(reader.db, wanted)
    screens.carrying_ahead(reader.db, wanted)
    out = []
    for number, image in jobs.separations(reader.db, wanted).items():
        on = screens.carrying(reader.db, number)
        about = _several(
            _("{art}, revision {revision}").format(art=image.art, revision=image.revision), image.customer,
            ngettext("on {n} screen", "on {n} screens", len(on)).format(n=len(on)) if on else _("on no screen"),
        )  # fmt: skip
        there = tuple((one.code, _several(one.life.mark, _said(one.life, names))) for one in on[:CARRIERS])
        out.append(FoundThing("separation", str(number), image.name, about, there, asking.get(number, "")))
    return out


def _places(reader: Reader, numbers: Sequence[str]) -> list[FoundThing]:
    wanted = _numbers(numbers)
    places.read_ahead(reader.db, wanted)
    there, out = screens.count_at(reader.db, wanted), []
    for one in (found for number in wanted if (found := places.get(reader.db, number))):
        many = there.get(one.id, 0)
        held = ngettext("{n} screen", "{n} screens", many).format(n=many)
        about = _several(_(one.kind), held, _("out of use") if one.retired_at else "")
        out.append(FoundThing("place", one.code, one.name, about))
    return out


def _buckets(reader: Reader, numbers: Sequence[str]) -> list[FoundThing]:
    wanted = _numbers(numbers)
    buckets.read_ahead(reader.db, wanted)
    out = []
    for one in (found for number in wanted if (found := buckets.get(reader.db, number))):
        lot = _("lot {lot}").format(lot=one.lot) if one.lot else ""
        about = _several(_(one.kind) if one.product else "", lot, clock(reader, one)[0])
        out.append(FoundThing("bucket", one.code, _several(shown(one.code), one.product or _(one.kind)), about))
    return out


def _lots(reader: Reader, names: Sequence[str]) -> list[FoundThing]:
    out = []
    for name, mixed, ink_runs, garment_runs in desk.lots(reader.db, names):
        about = _several(
            ngettext("{n} bucket", "{n} buckets", mixed).format(n=mixed) if mixed else "",
            ngettext("ink of {n} run", "ink of {n} runs", ink_runs).format(n=ink_runs) if ink_runs else "",
            ngettext("garments of {n} run", "garments of {n} runs", garment_runs).format(n=garment_runs)
            if garment_runs else "",
        )  # fmt: skip
        out.append(FoundThing("lot", name, name, about))
    return out


def _people(reader: Reader, numbers: Sequence[str]) -> list[FoundThing]:
    found = (people.get(reader.db, number) for number in _numbers(numbers))
    left = _("left the shop")
    return [
        FoundThing("person", str(one.id), one.name, _several(role_said(one.role), left if one.left_at else ""))
        for one in found
        if one is not None
    ]


_HITS: Mapping[str, Callable[[Reader, Sequence[str]], list[FoundThing]]] = {
    "screen": said_of_screens,
    "job": _jobs,
    "customer": _customers,
    "separation": _images,
    "place": _places,
    "bucket": _buckets,
    "lot": _lots,
    "person": _people,
}
