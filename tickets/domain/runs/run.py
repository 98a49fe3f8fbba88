"""A run: one printing of one placement, worked out from its entries."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from tickets.calculator.numerals import counted
from tickets.calculator.verdict import ADVISED
from tickets.domain.entry import Entry, stamp, standing_lines, text_of, whole_of
from tickets.domain.jobs.colourways import GARMENT, OF_INK, Ways, named, same_pot, takes
from tickets.domain.plain import keyed, pairs, plain
from tickets.domain.runs import lab
from tickets.domain.runs.setup import RUN, again, parts_of
from tickets.i18n import N_, pgettext
from tickets.i18n import gettext as _

COLOURWAY = "colourway"
"""What a change is called that goes on to another garment."""
STATES = {
    "set-up": N_("setting up"),
    "printing": N_("printing"),
    "paused": N_("paused, screens off"),
    "finished": N_("finished"),
}


def state_said(state: str) -> str:
    """How far a run is. What a run does is another word in some languages than the work of that name."""
    return pgettext("what a run is doing", "printing") if state == "printing" else _(STATES[state])



@dataclass(frozen=True, slots=True)
class Hung:
    """A screen on a head for a station; `passed`: what somebody overrode to hang it, with who and why."""

    screen: int
    head: int | None
    station: int
    entry: str
    at: str
    level: str = ""
    reasons: tuple[str, ...] = ()
    passed: Mapping[str, Any] | None = None


@dataclass(frozen=True, slots=True)
class Judged:
    """What spoke against starting, going on or counting when that was logged all the same.

    `reasons`: as the log keeps them, without those that are ok; `passed`: who overrode them and why; `held`: the
    answer holds still. A pause ends that: whoever comes back is asked again.
    """

    step: str
    entry: str
    at: str
    level: str
    reasons: tuple[Mapping[str, Any], ...] = ()
    passed: Mapping[str, Any] | None = None
    held: bool = True


AGAIN: dict[str, str] = {
    "swap": "",
    "screen": "",
    "pause": "approve_after_pause",
    "ink": "approve_after_ink",
    "garment": "",
    "back": "approve_after_garment",
}
"""What makes a first print wanted again, and the setting that says whether it does so in this shop (empty: always):
another screen while it prints, another one after a pause, the same one hung again after a pause, another bucket or lot
of ink, a garment that has no approval of its own, one that has and is gone back to."""
INK_FIELDS = frozenset({"bucket", "ink_lot", "ink"})


@dataclass(frozen=True, slots=True)
class Again:
    """Why a first print is to be approved again: `why` is one of AGAIN, `at` since when; `was`, `now`: screens by
    number, or what the setting `field` was and is."""

    why: str
    at: str
    station: int | None = None
    field: str = ""
    was: Any = None
    now: Any = None


@dataclass(frozen=True, slots=True)
class Story:
    """All that the log says of a run now.

    `sheet` is the set-up as it was noted last for the garment `sheet_on`; the approval freezes it: what is set
    otherwise later is in `changes`. `lost`: screens that were taken from this run without being noted off, as they last
    hung.
    `to_approve`: what came since the approval, whatever the shop's rules say of it (`AGAIN`). `tests`: test prints,
    which are strokes of the screens that hung and no pieces.

    `on`: the garment that is printed now (`colourways.named`), empty where nobody said; what came before one was said
    is of the first that was. `approvals`: by garment its last one, `approved` the last of all; a photo or sample that
    it does not have is that of the one before of the same garment, a colour reading is of its own print alone.
    `sheets`: those of the other garments, each with its `entry` and `at`. `ways`: the inks of the garments
    (`colourways.ways_of`; print orders as text), where they differ.
    """

    state: str = "set-up"
    hung: Mapping[int, Hung] = field(default_factory=dict)
    lost: tuple[Hung, ...] = ()
    was_hung: tuple[Hung, ...] = ()
    sheet: Mapping[str, Any] = field(default_factory=dict)
    sheet_entry: str = ""
    sheet_at: str = ""
    approved: Mapping[str, Any] | None = None
    good: int = 0
    misprinted: int = 0
    causes: Mapping[str, int] = field(default_factory=dict)
    stops: tuple[Mapping[str, Any], ...] = ()
    changes: tuple[Mapping[str, Any], ...] = ()
    started_at: str = ""
    finished_at: str = ""
    target: bool = False
    impressions: int = 0
    last_at: str = ""
    judged: tuple[Judged, ...] = ()
    to_approve: tuple[Again, ...] = ()
    tests: int = 0
    on: str = ""
    approvals: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    sheet_on: str = ""
    sheets: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    ways: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    @property
    def settings(self) -> dict[str, dict[str, str]]:
        """The set-up as it is now, by the print order's number as text and `run`: the sheet with the later changes.

        What goes with an ink (`colourways.OF_INK`) is that of the garment which is printed now: where another garment
        takes another ink, its bucket and its lot are none of this one's.
        """
        inks = self.inks
        found = {key: dict(values) for key, values in parts_of(self.sheet).items()}
        if self.sheet_on != self.on:
            found.get(RUN, {}).pop("garment_lot", None)
        since: dict[int, str] = {}
        for key, part in found.items():
            if counted(key, -1) >= 0 and not same_pot(inks, self.sheet_on, self.on, counted(key)):
                since[counted(key)], poured = self._poured(inks, counted(key))
                found[key] = {name: value for name, value in part.items() if name not in OF_INK} | poured
        for change in self.changes:
            name, station = change.get("field"), whole_of(change, "station") or 0
            if not name or change["at"] < (since.get(station, self.sheet_at) if name in OF_INK else self.sheet_at):
                continue
            on = str(change.get("on") or "")
            if name in OF_INK and not same_pot(inks, on, self.on, station):
                continue
            if name == "garment_lot" and on != self.on:
                continue
            part = found.setdefault(str(change.get("station") or RUN), {})
            part.pop(name, None)
            if change.get("to"):
                part[name] = str(change["to"])
        return found

    def _poured(self, inks: Ways, station: int) -> tuple[str, dict[str, str]]:
        """What goes with the ink of this garment at a print order, where the last sheet is of another ink: as the last
        sheet has it that is of this one, and since when; else the ink that the job says."""
        like = [
            one
            for name, one in self.sheets.items()
            if name in inks and station in inks[name] and same_pot(inks, name, self.on, station)
        ]
        said = inks[self.on].get(station, "")
        if not like or not said:
            return "", {"ink": said} if said else {}
        last = max(like, key=lambda one: str(one["at"]))
        part = (last["sheet"].get("stations") or {}).get(str(station)) or {}
        return str(last["at"]), {name: str(value) for name, value in part.items() if name in OF_INK}

    @property
    def inks(self) -> dict[str, dict[int, str]]:
        """Which ink each garment takes where, where they differ (`colourways.Ways`)."""
        return {name: {counted(number): ink for number, ink in some.items()} for name, some in self.ways.items()}

    @property
    def approved_now(self) -> Mapping[str, Any] | None:
        """The approval of the garment that is printed now; None: its first print has none."""
        return self.approvals.get(self.on)

    def sheet_of(self, garment: str) -> tuple[str, Mapping[str, Any]]:
        """The sheet that was noted for a garment, else the one that stands, with the garment that it is of."""
        known = self.sheets.get(garment) if garment != self.sheet_on else None
        return (garment, known["sheet"]) if known else (self.sheet_on, self.sheet)

    @property
    def frozen(self) -> bool:
        """Whether the approval of this garment stands on a sheet of its own, which is whole or was left open then: what
        is noted otherwise from then on is a change."""
        approved = self.approved_now
        if approved is None or not self.sheet_entry or self.sheet_on != self.on:
            return False
        return "noted" not in self.sheet or self.sheet_at <= str(approved["at"])

    @property
    def measured(self) -> dict[str, dict[str, Any]]:
        """Who took the measurements among the settings, and when (`setup.Taken`); one that is missing here was noted on
        a sheet that did not keep it."""
        found = {key: dict(values) for key, values in (self.sheet.get("measured") or {}).items()}
        for change in self.changes:
            if change.get("measured") and change["at"] >= self.sheet_at:
                part, name = found.setdefault(str(change.get("station") or RUN), {}), str(change["field"])
                part[name] = again(change["measured"], str(change.get("from") or ""), part.get(name, {}))
        return found

    @property
    def garment(self) -> Mapping[str, Any] | None:
        """The garment that is printed now (`garment_style`, `garment_colour`), where the run said so."""
        return next((one for one in reversed(self.changes) if one.get("what") == COLOURWAY), None)

    def to_dict(self) -> dict[str, Any]:
        """Plain data, for the worked-out table."""
        data = plain(self)
        data["hung"] = {str(station): hung for station, hung in data["hung"].items()}
        return data

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Story:
        """A story read back from `to_dict`."""
        if not data:
            return cls()
        known = dict(data)
        known["hung"] = {counted(station): _hung(hung) for station, hung in known["hung"].items()}
        known["lost"] = tuple(_hung(hung) for hung in known.get("lost", ()))
        known["was_hung"] = tuple(_hung(hung) for hung in known["was_hung"])
        known["judged"] = tuple(Judged(**{**one, "reasons": tuple(one["reasons"])}) for one in known.get("judged", ()))
        known["to_approve"] = tuple(Again(**one) for one in known.get("to_approve", ()))
        known["stops"] = tuple(known["stops"])
        known["changes"] = tuple(known["changes"])
        return cls(**known)


def _hung(data: Mapping[str, Any]) -> Hung:
    return Hung(**{**data, "reasons": tuple(data["reasons"])})


def replay(entries: Iterable[Entry], ways: Ways | None = None) -> Story:
    """The story that the entries of one run come to, in any order; its screens' `hang`, `print` and `pull` are among
    them. `ways`: which ink each garment takes where, by the job sheet that the run was planned with."""
    lines = standing_lines(entries)
    story, proof = begun(lines, ways)
    for entry in lines:
        story = after(story, entry)
        proof.see(entry)
    return told(story, proof)


def begun(lines: Iterable[Entry], ways: Ways | None) -> tuple[Story, Proof]:
    """A run before the first of its lines: its story, and what its approvals will rest on."""
    on = first_garment(lines)
    kept = {name: {str(number): ink for number, ink in some.items()} for name, some in (ways or {}).items()}
    return Story(on=on, ways=kept), Proof(ways or {}, on)


def told(story: Story, proof: Proof) -> Story:
    """The story as it is read, once its lines were seen; it is no target once its approval was crossed out."""
    return replace(story, to_approve=proof.again(), target=story.target and story.approved is not None)


def first_garment(lines: Iterable[Entry]) -> str:
    """The garment that a run said first (its lines in their order): what came before was of that one. Empty: none."""
    return next(filter(None, map(garment_in, lines)), "")


def garment_in(entry: Entry) -> str:
    """The garment that an entry of a run says: one that it goes on with, or that an approval or a sheet is of."""
    if entry.step == "change" and entry.values.get("what") == COLOURWAY:
        return _garment_of(entry.values)
    return text_of(entry.values, GARMENT) if entry.step in {"approve", "sheet"} else ""


def _go_on_with(story: Story, garment: str) -> Story:
    """The story as it goes on with a garment: with the whole sheet that was noted for it, where there is one; else the
    press stands as it was set."""
    if garment == story.on:
        return story
    others = dict(story.sheets)
    known = others.get(garment)
    if known is None or "noted" in known["sheet"] or story.sheet_on == garment:
        return replace(story, on=garment)
    del others[garment]
    others[story.sheet_on] = {"sheet": story.sheet, "entry": story.sheet_entry, "at": story.sheet_at}
    story = replace(story, sheet=known["sheet"], sheet_entry=known["entry"], sheet_at=known["at"])
    return replace(story, on=garment, sheets=others, sheet_on=garment)


def _noted(story: Story, entry: Entry, at: str) -> Story:
    """The story with a sheet: it is of the garment that it says, else of the one that is printed then."""
    garment, others = text_of(entry.values, GARMENT) or story.on, dict(story.sheets)
    if story.sheet_entry and story.sheet_on != garment:
        others[story.sheet_on] = {"sheet": story.sheet, "entry": story.sheet_entry, "at": story.sheet_at}
    others.pop(garment, None)
    story = replace(story, sheet=entry.values, sheet_entry=entry.entry, sheet_at=at)
    return replace(story, sheets=others, sheet_on=garment)


def _approved(story: Story, entry: Entry, at: str) -> Story:
    garment = text_of(entry.values, GARMENT) or story.on
    known = story.approvals.get(garment, {})
    before = {name: value for name, value in known.items() if name in PROOFS}
    approved = {**before, **lab.before(known), **entry.values, "at": at, "person": entry.person, "entry": entry.entry}
    return replace(story, approved=approved, approvals={**story.approvals, garment: approved})


# whole: one case for each step of a run: what an entry changes is read in one place
def after(story: Story, entry: Entry) -> Story:
    """The story with one more entry, which comes after all those before it."""
    values, at = entry.values, stamp(entry.at)
    tests = story.tests + (whole_of(values, "test_prints") or 0 if entry.screen is None else 0)
    story = replace(_judged(story, entry), last_at=at, tests=tests)
    match entry.step:
        case "hang" if entry.screen is not None:
            station = whole_of(values, "station") or 0
            verdict = entry.verdict or {}
            hung = Hung(
                entry.screen,
                whole_of(values, "head"),
                station,
                entry.entry,
                at,
                str(verdict.get("level", "")),
                tuple(reason["key"] for reason in verdict.get("reasons", ()) if reason.get("level") != "ok"),
                entry.override,
            )
            others = {number: other for number, other in story.hung.items() if other.screen != entry.screen}
            lost = tuple(one for one in story.lost if one.station != station)
            return replace(story, hung={**others, station: hung}, lost=lost, was_hung=(*story.was_hung, hung))
        case "found" if entry.screen is not None:  # in other hands: it hangs here no more
            gone = tuple(hung for hung in story.hung.values() if hung.screen == entry.screen)
            left = {station: hung for station, hung in story.hung.items() if hung.screen != entry.screen}
            return replace(story, hung=left, lost=(*story.lost, *gone))
        case "pull" if entry.screen is not None:
            left = {station: hung for station, hung in story.hung.items() if hung.screen != entry.screen}
            return replace(story, hung=left)
        case "print":
            return replace(story, impressions=story.impressions + (whole_of(values, "impressions") or 0))
        case "sheet":
            return _noted(story, entry, at)
        case "approve":
            return _approved(story, entry, at)
        case "start":
            state = "finished" if story.finished_at else "printing"  # a finish that was dated back is one all the same
            return replace(story, state=state, started_at=story.started_at or at)
        case "stop":
            return replace(story, stops=(*story.stops, {**values, "at": at}))
        case "change":
            on = garment_in(entry) or story.on
            said = {**values, "at": at, **({"on": on} if on else {})}
            return _go_on_with(replace(story, changes=(*story.changes, said)), on)
        case "count":
            misprinted = whole_of(values, "misprinted") or 0
            causes = dict(story.causes)
            if misprinted:
                cause = text_of(values, "cause") or "other"
                causes[cause] = causes.get(cause, 0) + misprinted
            good = whole_of(values, "good") or 0
            return replace(story, good=story.good + good, misprinted=story.misprinted + misprinted, causes=causes)
        case "pause":
            ended = tuple(replace(one, held=False) for one in story.judged)
            return replace(story, state="finished" if story.finished_at else "paused", judged=ended)
        case "finish":
            return replace(story, state="finished", finished_at=at, lost=())
        case "use-next-time":
            return replace(story, target=True)
    return story


PROOFS = frozenset({"sample", "photo"})
"""What was kept of an approved print, and is of the garment's next one too. A colour reading is not: it belongs to the
print that was read; it stays what the next run is to meet (`lab.before`)."""


@dataclass(slots=True)
class Proof:
    """What each garment's last approval was given on, as far as the log was read, and what came since, by garment.

    A garment always wants a first print of its own. Going back to one that has it asks again only by the shop's rule,
    or where a screen or an ink that it takes was changed since."""

    ways: Ways
    on: str
    paused: bool = False
    hung: dict[int, int] = field(default_factory=dict)
    screens: dict[str, dict[int, int]] = field(default_factory=dict)
    inks: dict[str, dict[tuple[int, str], str]] = field(default_factory=dict)
    poured: dict[tuple[int, str, str], str] = field(default_factory=dict)
    since: dict[str, dict[tuple[Any, ...], Again]] = field(default_factory=dict)

    def see(self, entry: Entry) -> None:
        """One more entry of the run, which comes after all those before it."""
        values, at = entry.values, stamp(entry.at)
        match entry.step:
            case "approve":
                self.approve(garment_in(entry) or self.on)
            case "pause":
                self.paused = True
            case "start":
                self.paused = False
            case "hang" if entry.screen is not None:
                self.hang(whole_of(values, "station") or 0, entry.screen, at)
            case "pull" | "found" if entry.screen is not None:
                self.hung = {number: one for number, one in self.hung.items() if one != entry.screen}
            case "change" if values.get("what") == COLOURWAY:
                self.go_on_with(_garment_of(values), at)
            case "change" if values.get("field") in INK_FIELDS:
                told = text_of(values, "from"), text_of(values, "to")
                self.ink(whole_of(values, "station") or 0, text_of(values, "field"), *told, at)
            case "sheet":
                self.sheet(values, at)

    def again(self) -> tuple[Again, ...]:
        """What came since the last approval of the garment that is printed now."""
        since = self.since.get(self.on, {})
        return tuple(sorted(since.values(), key=lambda one: (one.at, one.station or 0, one.field)))

    def kept(self) -> dict[str, Any]:
        """All of it but the ways as plain data, to be led on by later entries (`led_on`)."""
        return {
            "on": self.on,
            "paused": self.paused,
            "hung": pairs(self.hung),
            "screens": {name: pairs(some) for name, some in self.screens.items()},
            "inks": {name: pairs(some) for name, some in self.inks.items()},
            "poured": pairs(self.poured),
            "since": {name: [[key, plain(one)] for key, one in pairs(some)] for name, some in self.since.items()},
        }

    @classmethod
    def led_on(cls, ways: Ways, kept: Mapping[str, Any]) -> Proof:
        """What was `kept`, to go on from there."""
        return cls(
            ways,
            kept["on"],
            kept["paused"],
            keyed(kept["hung"]),
            {name: keyed(some) for name, some in kept["screens"].items()},
            {name: keyed(some) for name, some in kept["inks"].items()},
            keyed(kept["poured"]),
            {name: {key: Again(**one) for key, one in keyed(some).items()} for name, some in kept["since"].items()},
        )

    def approve(self, garment: str) -> None:
        """A first print was approved, on one garment: no other one's print is proof of that, nor that of another."""
        self.paused = False
        self.screens[garment], self.inks[garment], self.since[garment] = dict(self.hung), {}, {}

    def hang(self, station: int, screen: int, at: str) -> None:
        """A screen was hung, perhaps the one of before: it asks for a print of each garment that takes it."""
        self.hung[station] = screen
        for garment, screens in self.screens.items():
            if not takes(self.ways, garment, station):
                continue
            was, since = screens.get(station), self.since[garment]
            why = ("pause" if was == screen else "screen") if self.paused else "swap"
            known = since.get(("screen", station))
            if known is None or known.why == "pause":
                since["screen", station] = Again(why, at, station, "", was, screen)
            else:  # since the first change, whichever screen hangs now
                since["screen", station] = replace(known, now=screen)

    def ink(self, station: int, name: str, told: str, now: str, at: str) -> None:
        """Another bucket, lot or ink was noted; one that is taken back to what was approved is none. Where none was
        noted before (`told`: by that entry), the first one is what was approved."""
        for garment, inks in self.inks.items():
            if not (takes(self.ways, garment, station) and same_pot(self.ways, garment, self.on, station)):
                continue
            since = self.since[garment]
            was = inks[station, name] = inks.get((station, name)) or told or now
            since.pop(("ink", station, name), None)
            if was and now and was != now:
                since["ink", station, name] = Again("ink", at, station, name, was, now)
        self.poured[station, self._pot(station), name] = now

    def sheet(self, values: Mapping[str, Any], at: str) -> None:
        """A sheet that was noted: what it has otherwise of the inks is a change too."""
        for key, part in (values.get("stations") or {}).items():
            for name in sorted(INK_FIELDS & set(part)):
                was = self.poured.get((counted(key), self._pot(counted(key)), name), "")
                if was != part[name]:
                    self.ink(counted(key), name, was, str(part[name]), at)

    def _pot(self, station: int) -> str:
        return self.ways.get(self.on, {}).get(station, "")

    def go_on_with(self, garment: str, at: str) -> None:
        """Another garment is printed: one without an approval of its own wants a first print, one that has one only
        where the shop says so."""
        was, self.on = self.on, garment
        if was == garment or not self.since:
            return
        self.since.get(was, {}).pop(("garment",), None)
        why = "back" if garment in self.screens else "garment"
        self.since.setdefault(garment, {})[("garment",)] = Again(why, at, None, "", was, garment)


GOING = frozenset({"approve", "start", "count", "sheet", "swap", "change", "use-next-time"})
"""Steps that go on with a run: what spoke against them stays on it."""


def _judged(story: Story, entry: Entry) -> Story:
    """The story with what spoke against this step, unless the same was noted before and nobody overrode it now."""
    if entry.step not in GOING or entry.screen is not None or not entry.verdict:
        return story
    reasons = tuple(one for one in entry.verdict.get("reasons", ()) if one.get("level") != "ok")
    level = str(entry.verdict.get("level", ""))
    known = any(one.held and one.level == level and same_reasons(one.reasons, reasons) for one in story.judged)
    if not reasons or (known and not entry.override):
        return story
    told = Judged(entry.step, entry.entry, stamp(entry.at), level, reasons, entry.override)
    return replace(story, judged=(*story.judged, told))


VERSION = "job_version"
"""The number of a reason that says which version of the job speaks against a run."""
_NAMED = frozenset({"screens", "images"})


def cause_of(reason: Mapping[str, Any]) -> tuple[str, str]:
    """What a reason is about, as the log keeps reasons: its key and those of its numbers that do not just grow with
    the clock (hours past a time, days of age). What a change of the job speaks against, whichever screen hangs there or
    garment is printed by then, is one cause until it is changed again."""
    every = reason.get("numbers", {})
    left_out = {ADVISED, *(_NAMED if VERSION in every else ())}
    numbers = {name: value for name, value in every.items() if not name.endswith(("_h", "_d")) and name not in left_out}
    return str(reason.get("key", "")), json.dumps(numbers, sort_keys=True, default=str)


def same_reasons(some: Iterable[Mapping[str, Any]], others: Iterable[Mapping[str, Any]]) -> bool:
    """Whether reasons, as the log keeps them, are about the same."""
    return sorted(map(cause_of, some)) == sorted(map(cause_of, others))


# What a run's log says beyond its story -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Uncounted:
    """What changed since the last count of a run that prints, so that a count now would go astray.

    `screens`: by print order the screens that hung before the one that hangs there now; `garment`: the one of before
    (empty mapping: it was not said; None: it is the same); `strokes`: by print order how many were noted before.
    """

    screens: Mapping[int, tuple[int, ...]] = field(default_factory=dict)
    garment: Mapping[str, Any] | None = None
    strokes: Mapping[int, str] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return bool(self.screens or self.garment is not None or self.strokes)


def uncounted(entries: Iterable[Entry], story: Story) -> Uncounted:
    """Whose pieces nobody has counted yet, by the log of one run: a count settles all that was before it, and what
    was sent along with it changed at once."""
    started: Entry | None = None
    counted: Entry | None = None
    hung: dict[int, int] = {}
    before: dict[int, list[int]] = {}
    garment: Mapping[str, Any] = {}
    garment_then: Mapping[str, Any] | None = None
    strokes: dict[int, str] = {}
    for entry in standing_lines(entries):
        values = entry.values
        match entry.step:
            case "start":
                started = started or entry
            case "hang" if entry.screen is not None:
                station = whole_of(values, "station") or 0
                if started and hung.get(station, entry.screen) != entry.screen:
                    before.setdefault(station, []).append(hung[station])
                hung[station] = entry.screen
            case "change" if values.get("what") == COLOURWAY:
                along = any(one is not None and one.saved_at == entry.saved_at for one in (started, counted))
                if started and not along and garment_then is None:
                    garment_then = garment
                garment = values
            case "change" if values.get("field") == "strokes" and started:
                strokes.setdefault(whole_of(values, "station") or 0, text_of(values, "from"))
            case "count":
                before, garment_then, strokes, counted = {}, None, {}, entry
            case "pull" if counted and counted.saved_at == entry.saved_at:
                hung = {station: screen for station, screen in hung.items() if screen != entry.screen}
            case _:
                pass
    gone = {station: [one for one in dict.fromkeys(some) if one != hung[station]] for station, some in before.items()}
    same = garment_then is not None and _garment_of(garment_then) == _garment_of(garment)
    now = {station: story.settings.get(str(station), {}).get("strokes", "") for station in strokes}
    return Uncounted(
        {station: tuple(some) for station, some in sorted(gone.items()) if some},
        None if same else garment_then,
        {station: was for station, was in strokes.items() if was != now[station]},
    )


def nothing_counted(entries: Iterable[Entry]) -> tuple[str, ...]:
    """The garments that a run was approved on or started with, and of which nobody counted a piece, good or misprinted,
    in the order of printing (empty text: the run said no garment)."""
    lines = standing_lines(entries)
    now, begun = first_garment(lines), False
    pieces: dict[str, int] = {}
    for entry in lines:
        if entry.step == "change":
            now = garment_in(entry) or now
        begun = begun or entry.step in {"approve", "start"}
        if begun:
            pieces.setdefault(now, 0)
        if entry.step == "count":
            both = (whole_of(entry.values, name) or 0 for name in ("good", "misprinted"))
            pieces[now] = pieces.get(now, 0) + sum(both)
    return tuple(name for name, number in pieces.items() if not number)


def made_doubtful(entries: Iterable[Entry]) -> tuple[str, ...]:
    """The entries of a run that lines noted later, but dated back to before them, make doubtful, by their ids in the
    order of the log: a count whose pieces may be the same (each counts since the one before it, of one garment), a
    start where pieces were counted before any, a pause in which something was printed or the press stopped. A pause
    that left the count for later waits for one."""
    lines = [one for one in standing_lines(entries) if one.screen is None]
    found: set[str] = set()
    for place, late in enumerate(lines):
        if late.step not in {"count", "stop"}:
            continue
        before = [one for one in lines[:place] if one.step in {"start", "pause"}]
        after = [one for one in lines[place + 1 :] if one.saved_at < late.saved_at]
        if before and before[-1].step == "pause" and not before[-1].values.get("later"):
            found |= {before[-1].entry for one in after if one.step == "start"}
        if late.step == "count":
            following = next((one for one in after if one.step == "count" or garment_in(one)), None)
            if following is not None and following.step == "count":
                found.add(following.entry)
            if not any(one.step == "start" for one in before):
                found.update([one.entry for one in after if one.step == "start"][:1])
    return tuple(one.entry for one in lines if one.entry in found)


UNCOUNTED = {"none": N_("nothing was printed"), "elsewhere": N_("counted elsewhere")}
"""Why a run is finished with nothing counted, as the one answer keeps it."""


def _garment_of(change: Mapping[str, Any]) -> str:
    return named(change.get("garment_style"), change.get("garment_colour"))


@dataclass(frozen=True, slots=True)
class Used:
    """A screen that a run used: where it hung, its impressions there, and how it came off (empty: it hangs still).

    `condition` and `then` are those of the last time that it came off; `taken`: it went elsewhere without being noted;
    `unhung`: its hanging was crossed out, though the log has it printing or coming off here.
    """

    screen: int
    station: int
    head: int | None
    impressions: int = 0
    condition: str = ""
    then: str = ""
    taken: bool = False
    unhung: bool = False


def used(entries: Iterable[Entry]) -> list[Used]:
    """The screens of one run by its log, in print order, those of one print order as they were hung."""
    every = list(entries)
    wrong = {text_of(one.values, "entry") for one in every if one.step == "cross-out"}
    unhung = {one.screen: one for one in every if one.step == "hang" and one.entry in wrong}
    found: dict[tuple[int, int], Used] = {}
    at: dict[int, tuple[int, int]] = {}
    for entry in standing_lines(every):
        if entry.screen is None:
            continue
        values, key = entry.values, at.get(entry.screen)
        if entry.step == "hang":
            key = at[entry.screen] = (whole_of(values, "station") or 0, entry.screen)
            was = found.get(key, Used(entry.screen, key[0], None))
            head = whole_of(values, "head")
            found[key] = replace(was, head=head, condition="", then="", taken=False, unhung=False)
            continue
        if key is None and entry.step in {"print", "pull"} and entry.screen in unhung:
            hung = unhung[entry.screen].values
            key = at[entry.screen] = (whole_of(hung, "station") or 0, entry.screen)
            found[key] = Used(entry.screen, key[0], whole_of(hung, "head"), unhung=True)
        if key is None:
            continue
        if entry.step == "print":
            more = whole_of(values, "impressions") or 0
            found[key] = replace(found[key], impressions=found[key].impressions + more)
        elif entry.step == "pull":
            condition, then = text_of(values, "condition"), text_of(values, "then")
            found[key] = replace(found[key], condition=condition, then=then, taken=False)
        elif entry.step == "decide":  # at the end of the run, of one that came off before
            was, values = found[key], {name: text_of(values, name) for name in ("condition", "then")}
            found[key] = replace(was, **{name: text for name, text in values.items() if text})
        elif entry.step == "found":
            found[key] = replace(found[key], taken=True)
    return sorted(found.values(), key=lambda one: one.station)
