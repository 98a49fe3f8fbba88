"""A run: one printing of one placement, worked out from its entries."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from tickets.records.entry import Entry, stamp, standing_lines, text_of, whole_of
from tickets.records.setup import RUN, parts_of
from tickets.words import N_

COLOURWAY = "colourway"
"""What a change is called that goes on to another garment."""
STATES = {
    "set-up": N_("setting up"),
    "printing": N_("printing"),
    "paused": N_("paused, screens off"),
    "finished": N_("finished"),
}


@dataclass(frozen=True, slots=True)
class Hung:
    """A screen on a head for a station; `passed`: what somebody went past to hang it, with who and why."""

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

    `reasons`: as the log keeps them, without those that are ok; `passed`: who went past them and why; `held`: the
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
    "garment": "approve_after_garment",
}
"""What makes a first print wanted again, and the setting that says whether it does so in this shop (empty: always):
another screen while it prints, another one after a pause, the same one hung again after a pause, another bucket or lot
of ink, another garment."""
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

    `sheet` is the set-up as it was noted last; the approval freezes it: what is set otherwise later is in `changes`.
    `lost`: screens that were taken from this run without being noted off, as they last hung. `approved`: the last
    approval; a photo, sample or colour reading that it does not have is that of the one before. `to_approve`: what came
    since, whatever the shop's rules say of it (`AGAIN`). `tests`: test prints, which are strokes of the screens that
    hung and no pieces.
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

    @property
    def settings(self) -> dict[str, dict[str, str]]:
        """The set-up as it is now, by the print order's number as text and `run`: the sheet with the later changes."""
        found = {key: dict(values) for key, values in parts_of(self.sheet).items()}
        for change in self.changes:
            name = change.get("field")
            if not name or change["at"] < self.sheet_at:
                continue
            part = found.setdefault(str(change.get("station") or RUN), {})
            part.pop(name, None)
            if change.get("to"):
                part[name] = str(change["to"])
        return found

    @property
    def frozen(self) -> bool:
        """Whether the approval stands on a whole sheet: what is set otherwise from then on is a change."""
        return bool(self.approved and self.sheet_entry and "noted" not in self.sheet)

    @property
    def measured(self) -> dict[str, dict[str, Any]]:
        """Who took the measurements among the settings, and when (`setup.Taken`); one that is missing here was noted on
        a sheet that did not keep it."""
        found = {key: dict(values) for key, values in (self.sheet.get("measured") or {}).items()}
        for change in self.changes:
            if change.get("measured") and change["at"] >= self.sheet_at:
                found.setdefault(str(change.get("station") or RUN), {})[str(change["field"])] = change["measured"]
        return found

    @property
    def garment(self) -> Mapping[str, Any] | None:
        """The garment that is printed now (`garment_style`, `garment_colour`), where the run said so."""
        return next((one for one in reversed(self.changes) if one.get("what") == COLOURWAY), None)

    def to_dict(self) -> dict[str, Any]:
        """Plain data, for the worked-out table."""
        data = asdict(self)
        data["hung"] = {str(station): hung for station, hung in data["hung"].items()}
        return data

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Story:
        """A story read back from `to_dict`."""
        if not data:
            return cls()
        known = dict(data)
        known["hung"] = {int(station): _hung(hung) for station, hung in known["hung"].items()}
        known["lost"] = tuple(_hung(hung) for hung in known.get("lost", ()))
        known["was_hung"] = tuple(_hung(hung) for hung in known["was_hung"])
        known["judged"] = tuple(
            Judged(**{**one, "reasons": tuple(one["reasons"])}) for one in known.get("judged", ())
        )
        known["to_approve"] = tuple(Again(**one) for one in known.get("to_approve", ()))
        known["stops"] = tuple(known["stops"])
        known["changes"] = tuple(known["changes"])
        return cls(**known)


def _hung(data: Mapping[str, Any]) -> Hung:
    return Hung(**{**data, "reasons": tuple(data["reasons"])})


def replay(entries: Iterable[Entry]) -> Story:
    """The story that the entries of one run come to, in any order; its screens' `hang`, `print` and `pull` are among
    them."""
    story = Story()
    lines = standing_lines(entries)
    for entry in lines:
        story = _after(story, entry)
    story = replace(story, to_approve=_to_approve(lines))
    if story.target and story.approved is None:  # its approval was crossed out since
        story = replace(story, target=False)
    return story


def _after(story: Story, entry: Entry) -> Story:
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
            return replace(story, sheet=values, sheet_entry=entry.entry, sheet_at=at)
        case "approve":
            before = {name: value for name, value in (story.approved or {}).items() if name in PROOFS}
            if "lab" in values:
                before = {name: value for name, value in before.items() if name not in LAB}
            own = {"at": at, "person": entry.person, "entry": entry.entry}
            return replace(story, approved={**before, **values, **own})
        case "start":
            state = "finished" if story.finished_at else "printing"  # a finish that was dated back is one all the same
            return replace(story, state=state, started_at=story.started_at or at)
        case "stop":
            return replace(story, stops=(*story.stops, {**values, "at": at}))
        case "change":
            return replace(story, changes=(*story.changes, {**values, "at": at}))
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


LAB = frozenset({"lab", "lab_conditions", "lab_readings", "lab_under", "garment_printed"})
PROOFS = LAB | {"sample", "photo"}
"""What was kept of an approved print."""


@dataclass(slots=True)
class _Proof:
    """What the last approval was given on, as far as the log was read, and what came since."""

    approved: bool = False
    paused: bool = False
    hung: dict[int, int] = field(default_factory=dict)
    screens: dict[int, int] = field(default_factory=dict)
    inks: dict[tuple[int, str], str] = field(default_factory=dict)
    garment: tuple[Any, Any] | None = None
    garments: set[tuple[Any, Any]] = field(default_factory=set)
    since: dict[tuple[Any, ...], Again] = field(default_factory=dict)

    def approve(self) -> None:
        """A first print was approved: of another screen or ink no other garment's print is proof any more."""
        if any(one.why != "garment" for one in self.since.values()):
            self.garments = set()
        self.garments |= {self.garment} if self.garment else set()
        self.approved, self.paused = True, False
        self.screens, self.inks, self.since = dict(self.hung), {}, {}

    def hang(self, station: int, screen: int, at: str) -> None:
        """A screen was hung, perhaps the one of before."""
        self.hung[station] = screen
        if not self.approved:
            return
        was = self.screens.get(station)
        why = ("pause" if was == screen else "screen") if self.paused else "swap"
        known = self.since.get(("screen", station))
        if known is None or known.why == "pause":
            self.since["screen", station] = Again(why, at, station, "", was, screen)
        else:  # since the first change, whichever screen hangs now
            self.since["screen", station] = replace(known, now=screen)

    def ink(self, values: Mapping[str, Any], at: str) -> None:
        """Another bucket, lot or ink was noted; one that is taken back to what was approved is none. Where none was
        noted before, the first one is what was approved."""
        station, name = whole_of(values, "station") or 0, text_of(values, "field")
        was, now = text_of(values, "from"), text_of(values, "to")
        was = self.inks[station, name] = self.inks.get((station, name)) or was or now
        self.since.pop(("ink", station, name), None)
        if self.approved and was and now and was != now:
            self.since["ink", station, name] = Again("ink", at, station, name, was, now)

    def go_on_with(self, garment: tuple[Any, Any], at: str) -> None:
        """Another garment is printed; the first one that is said was meant before."""
        was, self.garment = self.garment, garment
        self.since.pop(("garment",), None)
        if self.approved and not self.garments:
            self.garments = {garment}
        elif self.approved and garment not in self.garments:
            told = [" ".join(str(part) for part in one if part) if one else "" for one in (was, garment)]
            self.since[("garment",)] = Again("garment", at, None, "", *told)


def _to_approve(lines: Iterable[Entry]) -> tuple[Again, ...]:
    """What came since the last approval that stands, by the log of one run in its order."""
    proof = _Proof()
    for entry in lines:
        values, at = entry.values, stamp(entry.at)
        match entry.step:
            case "approve":
                proof.approve()
            case "pause":
                proof.paused = True
            case "start":
                proof.paused = False
            case "hang" if entry.screen is not None:
                proof.hang(whole_of(values, "station") or 0, entry.screen, at)
            case "pull" | "found" if entry.screen is not None:
                proof.hung = {number: one for number, one in proof.hung.items() if one != entry.screen}
            case "change" if values.get("what") == COLOURWAY:
                proof.go_on_with(_garment_of(values), at)
            case "change" if values.get("field") in INK_FIELDS:
                proof.ink(values, at)
    return tuple(sorted(proof.since.values(), key=lambda one: (one.at, one.station or 0, one.field)))


GOING = frozenset({"approve", "start", "count", "sheet", "swap", "change", "use-next-time"})
"""Steps that go on with a run: what spoke against them stays on it."""


def _judged(story: Story, entry: Entry) -> Story:
    """The story with what spoke against this step, unless the same was noted before and nobody went past it now."""
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
    left_out = _NAMED if VERSION in every else ()
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


def _garment_of(change: Mapping[str, Any]) -> tuple[Any, Any]:
    return change.get("garment_style"), change.get("garment_colour")


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
