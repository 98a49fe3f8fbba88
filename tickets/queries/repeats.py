"""What the shop knows of a repeat: the jobs it goes back to, their approved runs, the screens kept since."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.calculator import units
from tickets.domain import limits
from tickets.domain.code import NoCode, read, shown
from tickets.domain.entry import Entry, read_stamp, stamp, standing_lines, text_of, whole_of
from tickets.domain.jobs import colourways
from tickets.domain.jobs.colourways import GARMENT
from tickets.domain.jobs.job import Placement
from tickets.domain.refusal import NotFound, Refused
from tickets.domain.runs import comparison, setup
from tickets.domain.runs import repeat as rules
from tickets.domain.runs import run as run_rules
from tickets.domain.runs.as_run import AsRun, Changed, Printed, ScreenThen, field_word, pairs
from tickets.domain.runs.comparison import ComparedLine, Differing
from tickets.domain.runs.repeat import Difference, Facts, LastScreen, SpecChange
from tickets.domain.runs.run import COLOURWAY, Hung, Story
from tickets.domain.screens import frame_checks, press_checks, screen_log, works
from tickets.domain.screens.needs import going, let_go
from tickets.domain.screens.screen import FREE
from tickets.domain.spec import Row, Spec
from tickets.domain.stages import STANDING_WORDS, Standing
from tickets.i18n import gettext as _
from tickets.queries import at_press, shop_rules, target
from tickets.queries.asked import buckets_on
from tickets.queries.find import bucket as find_bucket
from tickets.queries.find import bucket_named as named
from tickets.queries.shop_rules import the_spec, zone
from tickets.queries.target import Against, against
from tickets.store import boards, buckets, codes, entries, jobs, people, places, runs, screens
from tickets.store import spec as spec_rows
from tickets.store.settings import setting

# A run as it was approved ----------------------------------------------------------------------------------------


def as_run(db: Database, run: runs.Run, *, like: tuple[jobs.Saved, str] | None = None) -> AsRun:
    """A run as it was approved (one that was not: as it is now): its sheet and screens of that moment. Where it printed
    several garments as the last one was approved, or (`like`: a job and its garment) the same garment's print; one that
    has no like approval has no readings and no ink there."""
    job = jobs.get(db, run.job, run.version)
    press = places.get(db, run.press)
    assert job is not None and press is not None
    story = run.story
    approved, on = story.approved, str((story.approved or {}).get(GARMENT) or "")
    if like is not None and story.approvals:
        name = target.garment_like(run, job, *like)
        approved, on = (story.approvals[name], name) if name is not None else (approved, on)
        if name is None and approved:
            approved = {key: value for key, value in approved.items() if not key.startswith("lab")}
    until = str(approved["at"]) if approved else ""
    hung = _hung_then(story, until)
    _logs_ahead(db, [one.screen for one in hung.values()])
    return AsRun(
        run.id,
        job.code,
        job.sheet,
        job.sheet.placements[run.placement - 1],
        press.name,
        read_stamp(until or run.opened_at).astimezone(zone(db)).date().isoformat(),
        setup.with_later(_sheet_then(db, run, until), story.changes),
        approved,
        {station: _screen_then(db, one, until) for station, one in sorted(hung.items())},
        {station: one.head for station, one in sorted(hung.items())},
        tuple(_changes_since(job.sheet.placements[run.placement - 1], story, until)) if until else (),
    )


def _logs_ahead(db: Database, numbers: Sequence[int]) -> None:
    """What is asked of each screen as it was then, read together."""
    entries.of_ahead(db, "screen", numbers)
    codes.current_ahead(db, [("screen", number) for number in numbers])
    coats = [line for number in numbers for line in entries.of(db, "screen", number) if line.step == "coat"]
    buckets.read_ahead(db, [bucket for line in coats if (bucket := whole_of(line.values, "bucket"))])


def whole_run(db: Database, run: runs.Run, *, like: tuple[jobs.Saved, str] | None = None) -> AsRun:
    """A run as it was approved (`like` as `as_run` takes it), with all that followed: every screen that printed, every
    change while it printed."""
    found = as_run(db, run, like=like)
    log = entries.of(db, "run", run.id)
    began = (stamp(one.at) for one in standing_lines(log) if one.step in {"approve", "start"})
    since = min(began, default="")
    printed: dict[int, list[Printed]] = {}
    hung = {(one.station, one.screen): one for one in reversed(run.story.was_hung)}
    used = run_rules.used(log)
    codes.current_ahead(db, [("screen", one.screen) for one in used])
    for one in used:
        first, then = hung.get((one.station, one.screen)), found.screens.get(one.station)
        approved = then is not None and then.screen == one.screen
        if not approved and not one.impressions and (first is None or not since or first.at <= since):
            continue  # taken down again before anything was printed
        screen = then if approved else _screen_then(db, first, first.at) if first else None
        screen = screen or ScreenThen(one.screen, codes.current(db, "screen", one.screen) or "")
        printed.setdefault(one.station, []).append(Printed(screen, one.impressions, not approved))
    every = {station: tuple(some) for station, some in printed.items()}
    during = tuple(_during(db, found.placement, log, since)) if since else ()
    return replace(found, printed=every, during=during)


def _during(db: Database, placement: Placement, log: Sequence[Entry], since: str) -> Iterator[Changed]:
    """Every change of a run from its first approval or first piece on: what was set otherwise, another screen or head,
    another garment, what was told in words."""
    known = {station.number for station in placement.stations}
    hangs: dict[int, tuple[int, int | None]] = {}
    why: dict[str, str] = {}
    for entry in standing_lines(log):
        values, counts = entry.values, stamp(entry.at) >= since
        station = whole_of(values, "station") or 0
        if entry.step == "swap":
            why[text_of(values, "new")] = text_of(values, "why")
        elif entry.step == "change" and counts and not (setup.first_measured(values) or values.get("test_prints")):
            yield _change_of(values, station if station in known else 0)
        elif entry.step == "hang" and entry.screen is not None:
            head = whole_of(values, "head")
            screen, was = hangs.get(station, (entry.screen, head))
            hangs[station] = entry.screen, head
            if counts and screen != entry.screen:
                old, new = (_name_of(db, one) for one in (screen, entry.screen))
                told = _("screen {old} replaced by {new}").format(old=old, new=new)
                reason = why.get(codes.current(db, "screen", entry.screen) or "", "")
                yield Changed(station, told, why=reason, outside=_("a screen was replaced by another one"))
            elif counts and was != head:
                yield Changed(station, field_word("head"), "head", str(was or ""), str(head or ""))


def _change_of(values: Mapping[str, Any], station: int) -> Changed:
    """A change of a run's log; one that is told in words, or of what is the shop's own, has other words outside."""
    what, name, was, to, why = (text_of(values, part) for part in ("what", "field", "from", "to", "why"))
    outside = "" if name == "note" else _("one more change, which the shop has noted")
    if name == "bucket":
        outside = _("another mixed lot of ink")
    if what == COLOURWAY:
        garment = colourways.named(values.get("garment_style"), values.get("garment_colour"))
        return Changed(station, what, why=why, garment=garment)
    return Changed(station, what, name, was, to, why, outside)


def _name_of(db: Database, screen: int) -> str:
    found = screens.get(db, screen)
    return (found.life.mark or shown(str(found.code))) if found else "–"


def _changes_since(placement: Placement, story: Story, approved_at: str) -> Iterator[Changed]:
    """What was set otherwise after the approval; another garment and a picture of the panel are no settings."""
    known = {station.number for station in placement.stations}
    for change in story.changes:
        if change["at"] < approved_at or change.get("what") == COLOURWAY or change.get("panel"):
            continue
        if setup.first_measured(change) or change.get("test_prints"):
            continue
        station = whole_of(change, "station") or 0
        what, name, was, to, why = (str(change.get(part) or "") for part in ("what", "field", "from", "to", "why"))
        yield Changed(station if station in known else 0, what, name, was, to, why)


def _hung_then(story: Story, until: str) -> dict[int, Hung]:
    """The screens of the approval: a later swap is an entry of the run, not what was approved."""
    found: dict[int, Hung] = {}
    for one in story.was_hung:
        if not until or one.at <= until or one.station not in found:
            found[one.station] = one
    return found


def _sheet_then(db: Database, run: runs.Run, until: str) -> dict[str, object]:
    if until:
        lines = standing_lines(entries.of(db, "run", run.id))
        then = [line for line in lines if line.step == "sheet" and line.at <= read_stamp(until)]
        if then:
            return dict(then[-1].values)
    return dict(run.story.sheet)


def _screen_then(db: Database, hung: Hung, until: str) -> ScreenThen:
    """A screen as its log had it when the print was approved."""
    lines = entries.of(db, "screen", hung.screen)
    if until:
        lines = [line for line in lines if line.at <= read_stamp(until)]
    life = screen_log.replay(lines, setting(db, "steps"), places.outside(db))
    mesh, tension, stencil = life.mesh, life.tension, life.stencil
    bucket = buckets.get(db, stencil.bucket) if stencil and stencil.bucket else None
    return ScreenThen(
        hung.screen,
        codes.current(db, "screen", hung.screen) or "",
        life.mark,
        mesh.said if mesh else "",
        mesh.count_per_cm if mesh else None,
        mesh.thread_um if mesh else None,
        tension.mean_n_per_cm if tension else None,
        tension.minimum_n_per_cm if tension else None,
        stencil.exposure_s if stencil else None,
        stencil.exposure_units if stencil else None,
        stencil.step_held if stencil else None,
        " · ".join(part for part in (bucket.product or bucket.kind, bucket.lot) if part) if bucket else "",
        (stencil.exposed_at or stencil.imaged_at) if stencil else "",
    )


# Before set-up -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ToDiffer:
    """What will differ for one placement from the run that it is compared with (`against`, and `origin` as it was
    approved; None: there is none)."""

    place: int
    placement: Placement
    against: Against
    origin: AsRun | None
    differences: tuple[Difference, ...]


def to_come(db: Database, job: jobs.Saved, now: datetime, *, again: bool = False) -> list[ToDiffer]:
    """What will differ from the runs that are compared with, placement by placement; none that is on press by now:
    its run says that itself. `again`: for a further order of the job, on press or not."""
    under_way = set() if again else {run.placement for run in runs.of_job(db, job.id) if run.story.state != "finished"}
    numbers = range(1, len(job.sheet.placements) + 1)
    return [differences(db, job, place, now) for place in numbers if place not in under_way]


def differences(db: Database, job: jobs.Saved, place: int, now: datetime, *, run: runs.Run | None = None) -> ToDiffer:
    """What will differ when a placement (counted from 1) is printed again; `run`: the one being set up, if any."""
    placement = job.sheet.placements[place - 1]
    found = against(db, job, place, run)
    origin = as_run(db, found.run, like=(job, run.story.on if run else "")) if found.run else None
    known = _facts(db, job, place, origin, now, run) if origin else Facts()
    differ = rules.will_differ(origin, job.sheet, placement, known, the_spec(db))
    return ToDiffer(place, placement, found, origin, tuple(differ))


def changed_since(
    db: Database, job: jobs.Saved, place: int, aim: Mapping[str, Mapping[str, str]], run: runs.Run | None = None
) -> dict[int, str]:
    """In words what was set otherwise after the approval of the run that a placement is compared with, beside its
    target `aim`, by print order (0: the whole placement); `run` as in `target.against`."""
    found = against(db, job, place, run).run
    if found is None or not found.story.changes:
        return {}
    by_station: dict[int, list[str]] = {}
    origin = as_run(db, found, like=(job, run.story.on if run else ""))
    for station, one in rules.changed_after(origin, job.sheet.placements[place - 1], aim, the_spec(db)):
        by_station.setdefault(station, []).append(one.said())
    return {station: rules.changed_said(found.id, told) for station, told in by_station.items()}


def _facts(db: Database, job: jobs.Saved, place: int, origin: AsRun, now: datetime, run: runs.Run | None) -> Facts:
    placement = job.sheet.placements[place - 1]
    press = places.get(db, run.press) if run else None
    aim, _source = target.aim(db, job, place, run)
    asked = {one.number: one for one in jobs.asked(db, job, place)}
    _read_ahead(db, list(asked.values()), [one.screen for one in origin.screens.values()])
    kept: dict[int, list[LastScreen]] = {number: [] for number in asked}
    lots: dict[int, tuple[str, str]] = {}
    sheet_now = run.story.sheet.get("stations", {}) if run else {}
    for was, station in pairs(origin.placement, placement):
        if was is None or station is None or station.number not in asked:
            continue
        if was.number in origin.screens:
            then, wanted = origin.screens[was.number], asked[station.number]
            kept[station.number].append(_last_screen(db, then, wanted, now, run, job.code))
        before = ink_lot(db, origin.settings(was.number))
        lots[station.number] = (before, ink_lot(db, sheet_now.get(str(station.number), {})))
    last = {one.screen for one in origin.screens.values()}
    for number, one in asked.items():
        for screen in screens.carrying(db, one.separation):
            if screen.id not in last:
                kept[number].append(_now(db, screen, one, now, run, job.code, last=False))
    return Facts(
        screens=kept,
        frames={number: _free(db, one) for number, one in asked.items()},
        target=aim,
        lots=lots,
        press=press.name if press else "",
        spec_changes=_spec_changes(db, str(origin.approved["at"]) if origin.approved else ""),
        system=shop_rules.units_read(db),
    )


def _read_ahead(db: Database, wanted: Sequence[frame_checks.Asked], last: Sequence[int]) -> None:
    """What is asked of each screen of last time and of each separation, read together."""
    screens.carrying_ahead(db, [one.separation for one in wanted])
    there = [*screens.many(db, list(last)), *(on for one in wanted for on in screens.carrying(db, one.separation))]
    jobs.separations_ahead(db, [number for one in there for number in screens.carried(one.life)])
    buckets.read_ahead(db, buckets_on(one.life for one in there))
    spec = the_spec(db)
    boards.frames_ahead(db, [(*_span(one, spec), tuple(map(str, FREE))) for one in wanted])


def _span(asked: frame_checks.Asked, spec: Spec) -> tuple[float, float]:
    """From and to which count per cm a mesh is the one asked for."""
    share = spec.find("mesh-count-tolerance")
    off = asked.count_per_cm * (share.value if share else 0.0) / 100 + 1e-6
    return asked.count_per_cm - off, asked.count_per_cm + off


def _last_screen(
    db: Database, then: ScreenThen, asked: frame_checks.Asked, now: datetime, run: runs.Run | None, job: str
) -> LastScreen:
    """A screen of last time as it is now, judged as the press would."""
    screen = screens.get(db, then.screen)
    if screen is None:
        return LastScreen(then.code, False, _(STANDING_WORDS[Standing.UNKNOWN]))
    return _now(db, screen, asked, now, run, job)


def _now(
    db: Database,
    screen: screens.Screen,
    asked: frame_checks.Asked,
    now: datetime,
    run: runs.Run | None,
    job: str,
    last: bool = True,
) -> LastScreen:
    word = str(screen.life.standing)
    if asked.separation not in screens.carried(screen.life):
        return LastScreen(str(screen.code), False, word, last=last)
    found = press_checks.at_press(
        at_press.seen_screen(db, screen, now),
        [asked],
        {},
        run.id if run else 0,
        the_spec(db),
        now,
        checks_logged="check" in setting(db, "steps"),
    )
    life = screen.life
    return LastScreen(str(screen.code), True, word, found.verdict, last, let_go(life, job), going(life))


def _free(db: Database, asked: frame_checks.Asked) -> int:
    """Frames that can take an image, of the mesh asked for and tight enough for the work; those of an unknown thread
    are not counted on."""
    spec = the_spec(db)
    room = spec.find("mesh-thread-tolerance")
    found = boards.frames_of_mesh(db, *_span(asked, spec), tuple(map(str, FREE)))
    found = [
        one
        for one in found
        if not works.too_slack_for(one.frame, one.count_per_cm, one.minimum_n_per_cm, asked.work, spec)
    ]
    if asked.thread_um is None:
        return len(found)
    most = (room.value if room else 0.0) + 1e-6
    return sum(one.thread_um is not None and abs(one.thread_um - asked.thread_um) <= most for one in found)


def ink_lot(db: Database, settings: object) -> str:
    """The ink lot that a station was run with: as noted, else that of its bucket."""
    values = settings if isinstance(settings, dict) else {}
    if values.get("ink_lot"):
        return str(values["ink_lot"])
    try:
        issued = codes.find(db, read(str(values.get("bucket") or "")))
    except NoCode:
        return ""
    bucket = buckets.get(db, issued.thing) if issued and issued.kind == "bucket" else None
    return bucket.lot if bucket else ""


def bucket_said(db: Database, text: str) -> str:
    """A bucket as it was noted by its code: how it is called."""
    try:
        return named(find_bucket(db, text))
    except Refused:
        return text


def named_buckets(db: Database, sheet: Mapping[str, Any]) -> dict[str, Any]:
    """A set-up sheet as kept, its ink buckets as they are called."""
    stations = {
        key: {**values, "bucket": bucket_said(db, str(values["bucket"]))} if values.get("bucket") else values
        for key, values in (sheet.get("stations") or {}).items()
    }
    return {**sheet, "stations": stations}


def _spec_changes(db: Database, since: str) -> list[SpecChange]:
    """The limits that are otherwise than they were at a time, by the shop's rows."""
    if not since:
        return []
    system = shop_rules.units_read(db)
    before: dict[object, Row] = {}
    after: dict[object, Row] = {}
    for row in spec_rows.rows(db):
        if row.at <= since:
            before[row.identity] = row
        after[row.identity] = row
    found = []
    for identity, row in after.items():
        was = before.get(identity)
        if was is row or (was is not None and was.value == row.value) or (was is None and row.value is None):
            continue
        found.append(SpecChange(_what(row, system), _value(was, system), _value(row, system)))
    return found


def _what(row: Row, system: str) -> str:
    cases = limits.case_said(row.conditions, system)
    return limits.called(row.key) + (f" ({cases})" if cases else "")


def _value(row: Row | None, system: str) -> str:
    return "" if row is None or row.value is None else units.show_value(row.value, row.unit, system)


# Afterwards ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SideBySide:
    """The run that is compared with, as it was (`before`) and why it is that one (`against`), the later run, and every
    setting. `inside`: the names of the shop's people and its codes that stand among the settings. `garment`: the one
    that both are looked at on, where the job has several. `apart`: what was measured otherwise than it is set, each
    run's in a sentence."""

    against: Against
    before: AsRun
    after: AsRun
    lines: tuple[ComparedLine, ...]
    inside: tuple[str, ...] = ()
    system: str = "metric"
    garment: str = ""
    apart: tuple[str, ...] = ()

    @property
    def differing(self) -> Differing:
        """Only what differs, what a customer would see first at the top."""
        return comparison.differing(self.lines)

    @property
    def for_customer(self) -> tuple[ComparedLine, ...]:
        """What the customer is shown."""
        return comparison.for_customer(self.lines, self.before, self.after, self.inside, self.system)


def compared(db: Database, number: int, garment: str | None = None) -> SideBySide | None:
    """A run beside the one that it is compared with, on one garment (by name; without it the one approved last); None
    where there is none. Raises NotFound."""
    run = runs.get(db, number)
    if run is None:
        raise NotFound(_("This shop has no run {number}.").format(number=number), "run")
    job = jobs.get(db, run.job, run.version)
    assert job is not None
    found = against(db, job, run.placement, run)
    if found.run is None:
        return None
    on = str((run.story.approved or {}).get(GARMENT) or run.story.on) if garment is None else garment
    before, after = (_said(db, whole_run(db, one, like=(job, on))) for one in (found.run, run))
    first = target.first_measured(db, job, run.placement, found.run.id)
    origin = as_run(db, first, like=(job, on)) if first else None
    system = shop_rules.units_read(db)
    lines = comparison.compare(before, after, the_spec(db), first=origin, system=system)
    apart = [
        f"{_('run {number}').format(number=one.run)}: {told}"
        for one in (before, after)
        if (told := setup.apart_of(one.sheet, one.placement, the_spec(db), system))
    ]
    return SideBySide(found, before, after, lines, tuple(_inside(db, lines)), system, on, tuple(apart))


def _said(db: Database, run: AsRun) -> AsRun:
    """A run with its buckets called by name, and the ink's lot out of the bucket where nobody noted it."""
    stations = {}
    for key, values in (run.sheet.get("stations") or {}).items():
        lot = ink_lot(db, values)
        stations[key] = {**values, "ink_lot": lot} if lot else values
    during = [
        replace(one, was=bucket_said(db, one.was), to=bucket_said(db, one.to)) if one.name == "bucket" else one
        for one in run.during
    ]
    return replace(run, sheet=named_buckets(db, {**run.sheet, "stations": stations}), during=tuple(during))


_LEAST_NAME = 3
"""Letters of a part of a name that counts by itself: shorter ones are words too often."""


def _inside(db: Database, lines: Sequence[ComparedLine]) -> Iterator[str]:
    """Words in what was noted that are nobody's business outside: people's names and parts of them, issued codes."""
    told = [value for line in lines if line.verdict for one in line.verdict.reasons for value in one.numbers.values()]
    text = " ".join([*(f"{line.a} {line.b}" for line in lines), *(one for one in told if isinstance(one, str))])
    for name in people.names(db).values():
        yield from (part for part in (name, *name.split()) if len(part) >= _LEAST_NAME and part in text)
    for word in set(re.findall(r"[\w-]{6,7}", text)):
        try:
            if codes.find(db, read(word)) is not None:
                yield word
        except NoCode:
            continue
