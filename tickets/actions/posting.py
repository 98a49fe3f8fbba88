"""How anything gets into the log: once, in one transaction, with the worked-out tables brought up to date."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import wraps
from operator import attrgetter
from typing import Any, Concatenate, ParamSpec, TypeVar

from sqlite_utils import Database

from tickets.calculator.verdict import Verdict
from tickets.domain import bucket as bucket_rules
from tickets.domain import clock, names
from tickets.domain.bucket import Bucket
from tickets.domain.entry import Entry, post_id, read_stamp, stamp
from tickets.domain.jobs.colourways import Ways
from tickets.domain.person import Actor
from tickets.domain.refusal import Refused, SentBefore
from tickets.domain.runs import led as led_rules
from tickets.domain.runs.run import Story
from tickets.domain.screens import readings as readings_rules
from tickets.domain.screens import works
from tickets.domain.spec import Spec
from tickets.domain.stages import Standing
from tickets.i18n import gettext as _
from tickets.queries import shop_rules
from tickets.store import (
    buckets,
    desk,
    entries,
    held,
    jobs,
    not_held,
    places,
    readings,
    runs,
    screens,
    trouble,
    writing,
)
from tickets.store.reads import newest
from tickets.store.settings import setting

Given = ParamSpec("Given")
Answered = TypeVar("Answered")


def before(db: Database, actor: Actor, post: str, content: Mapping[str, Any]) -> dict[str, Any] | None:
    """The answer that this very post got before (with `again`); None: it is new. To be asked before anything is looked
    up: what was there then may be gone since, and what was saved stays saved.

    Raises SentBefore: under this id something else was saved, or somebody else sent it; Refused for a text that nothing
    may hold, wherever it was typed (`domain.names`).
    """
    post_id(post)
    there = entries.begin(db, post)
    if there is None:
        if faults := names.faults_of(content):
            raise Refused(faults)
        return None
    if there.person == actor.id and there.digest == _digest(content):
        return {**there.answer, "again": True}
    raise SentBefore(_sent_before(db, there.saved_at), post, there.person, there.saved_at)


def _digest(content: Mapping[str, Any]) -> str:
    """A mark of what was sent: of what was filled in, without secrets. How late it was sent (`late`) is no part of it,
    nor the time of the act that follows from that or from how long ago it was said to be (`ago`): what is sent again
    comes later than it did the first time."""
    left_out = {"secret", "entry", "late"} | ({"at"} if content.get("late") or content.get("ago") else set())
    plain = {name: value for name, value in content.items() if name not in left_out and value not in ("", [], [""])}
    return hashlib.sha256(json.dumps(plain, sort_keys=True, default=str).encode()).hexdigest()


def _sent_before(db: Database, at: str) -> str:
    when = f"{read_stamp(at).astimezone(shop_rules.zone(db)):%Y-%m-%d %H:%M}"
    said = _("This was saved already, on {when}. What was sent now is not the same, and was not saved.")
    return said.format(when=when)


_only_read: ContextVar[bool] = ContextVar("only_read", default=False)


@contextmanager
def only_read() -> Iterator[None]:
    """Whatever is posted inside is read as ever and then refused without a word, so that its form comes back filled in;
    what was saved under its id before answers as it did."""
    token = _only_read.set(True)
    try:
        yield
    finally:
        _only_read.reset(token)


def once(
    db: Database, actor: Actor, post: str, content: Mapping[str, Any], now: datetime, act: Callable[[], dict[str, Any]]
) -> dict[str, Any]:
    """Does `act` once for the id `post`; the same id, person and content again gets the first answer again (`again`).

    Raises SentBefore when the id was sent by another person or for something else: nothing is written.
    """
    with writing(db):
        answer = before(db, actor, post, content)
        if answer is None:
            if _only_read.get():
                raise Refused([])
            not_held()  # before anything is judged by the time
            answer = act()
            entries.save_answer(db, post, actor.id, _digest(content), answer, stamp(now))
    return answer


def by_clock(db: Database, found: clock.ClockDoubt | None) -> AbstractContextManager[None]:
    """Whatever is written inside goes by a clock of which `found` is doubtful: no time is kept by it, since it could
    not be put into its order later on. A form comes back with what was typed, a phone keeps it (Trouble). What goes
    on: who holds a phone, and what puts the clock right (`store.held(None)`)."""
    return held(None if found is None else lambda: trouble.clock(shop_rules.clock_told(db, found)))


def in_one(
    act: Callable[Concatenate[Database, Given], Answered],
) -> Callable[Concatenate[Database, Given], Answered]:
    """An act whole in one transaction: what it looks up first is what it writes to, and is asked once."""

    @wraps(act)
    def whole(db: Database, /, *given: Given.args, **named: Given.kwargs) -> Answered:
        with writing(db):
            return act(db, *given, **named)

    return whole


def numbered(post: str, lines: list[Entry]) -> list[Entry]:
    """The entries of one post: a single one has the post's id, several have ENTRY-part."""
    if len(lines) == 1:
        return [replace(lines[0], entry=post, post=post, part=1)]
    return [replace(line, entry=f"{post}-{part}", post=post, part=part) for part, line in enumerate(lines, 1)]


def write(db: Database, lines: Iterable[Entry], new: Collection[int] = ()) -> None:
    """Appends entries and works out again what they touch. `new`: the screens that these are the first entries of.

    The time of saving always moves on, also when the clock stands or is set back a little, so that it keeps the order
    of typing; but no time that a wrong clock gave is carried on.
    """
    lines, last = list(lines), newest(db)
    latest = None if clock.since_right(last.entry or 0, setting(db, "clock")) else last.saved
    if latest is not None and lines and lines[0].saved_at <= read_stamp(latest):
        later = read_stamp(latest) + timedelta(microseconds=1)
        lines = [replace(line, saved_at=later) for line in lines]
    by_screen, by_run, by_bucket = (_by(lines, attrgetter(thing)) for thing in ("screen", "run", "bucket"))
    # all that is asked is asked before the first line is written: an answer holds till then
    logged, outside, rows = setting(db, "steps"), places.outside(db), shop_rules.the_spec(db)
    there = [screen for screen in by_screen if screen not in new]
    screens.read_ahead(db, there)
    screens.led_ahead(db, there)
    then = {screen: _as_it_is(db, screen, by_screen[screen]) for screen in there}
    led = {run: _run_led_on(db, run, own) for run, own in by_run.items()}
    filled = {bucket: _bucket_led_on(db, bucket, own, rows) for bucket, own in by_bucket.items()}
    entries.insert(db, lines)
    if anew := [screen for screen, before in then.items() if before is None]:
        entries.of_ahead(db, "screen", anew)
    lives, lessons = [], []
    for screen, own in by_screen.items():
        before, first = then.get(screen), screen in new
        log = entries.of(db, "screen", screen) if before is None and not first else own
        life, learned = readings_rules.replay(log, logged, outside, before)
        slack, was = works.slackness(life, rows), before.life if before else None
        tail = readings_rules.Tail() if first else before.tail if before else None
        led_by: readings_rules.Tail | str = (tail or readings_rules.Tail()).then(learned, life)
        if before is not None and before.tail == led_by:  # as most entries leave it
            led_by = before.kept
        lives.append(screens.LifeNow(screen, life, slack, led_by, was, first))
        lessons.append(readings.Taught(screen, learned, tail))
    screens.save_lives(db, lives)
    readings.save(db, lessons)
    for run, (planned, on) in led.items():
        if on is None:
            _settle(db, run, planned)
        else:
            _save_run(db, on)
    for bucket, known in filled.items():
        if known is None:
            settle_bucket(db, bucket, rows)
        else:
            buckets.save(db, known)


def _by(lines: Iterable[Entry], thing: Callable[[Entry], int | None]) -> dict[int, list[Entry]]:
    """Entries by what they are about; those about no such thing left out."""
    found: dict[int, list[Entry]] = {}
    for line in lines:
        if (number := thing(line)) is not None:
            found.setdefault(number, []).append(line)
    return found


def _as_it_is(db: Database, screen: int, lines: Sequence[Entry]) -> readings_rules.Begun | None:
    """Where a screen's log stands, to be led on by entries that are all later than it; None: they change what was
    before, so the whole log is to be read again."""
    found = screens.get(db, screen)
    if found is None or not found.life.last_at or any(line.step == "cross-out" for line in lines):
        return None
    if any(stamp(line.at) < found.life.last_at for line in lines):
        return None
    kept, stencil = screens.led(db, screen), found.life.stencil
    if kept is None:
        return None
    tail = screens.tail_of(kept)
    if [one.number for one in tail.lesson.past.stencils] != ([stencil.number] if stencil else []):
        return None  # what is kept of it is not what its life says: again, from the log
    teaches = {"washout", "check"}.intersection(line.step for line in lines)
    exposed = entries.last_exposure(db, screen) if teaches else None
    return readings_rules.Begun(found.life, tail, exposed, kept)


def settle_screen(db: Database, screen: int, logged: Iterable[str], outside: frozenset[int]) -> None:
    """Works out a screen's life from all of its entries, and what they teach."""
    life, lesson = readings_rules.replay(entries.of(db, "screen", screen), list(logged), outside)
    tail, slack = readings_rules.Tail().then(lesson, life), works.slackness(life, shop_rules.the_spec(db))
    screens.save_lives(db, [screens.LifeNow(screen, life, slack, tail)])
    readings.save(db, [readings.Taught(screen, lesson)])


def settle_limits(db: Database) -> None:
    """Works out again whatever hangs on a limit and is kept, after the limits were changed."""
    settle_slack(db)
    for bucket in buckets.every(db, limit=10**9):
        settle_bucket(db, bucket.id, shop_rules.the_spec(db))


def settle_slack(db: Database) -> None:
    """Works out again which frames are too slack, after the limits were changed: what the reading is compared with."""
    rows = shop_rules.the_spec(db)
    for screen, was, standing, frame, count, colour, lowest in screens.measured(db):
        out = Standing(standing) in works.OUT
        now = works.FIT if out else works.slackness_of(frame, count, colour, lowest, rows)
        if now != was:
            screens.save_slack(db, screen, now)


@dataclass(frozen=True, slots=True)
class _RunLed:
    """A run with what its log comes to now, led on from what it `was`; `done`: it was done before."""

    run: runs.Run
    was: led_rules.Led
    now: led_rules.Led
    done: bool


_Planned = tuple[runs.Run | None, Ways]
"""A run as it was, and which ink each garment takes where; None: there is none yet."""


def _planned(db: Database, run: int) -> _Planned:
    there = runs.get(db, run)
    return there, shop_rules.ways_of(db, there) if there else {}


def _run_led_on(db: Database, run: int, lines: Sequence[Entry]) -> tuple[_Planned, _RunLed | None]:
    """A run, led on by entries that are all later than its log; None: its log is to be read again."""
    planned = there, ways = _planned(db, run)
    if there is None or any(one.step == "cross-out" for one in lines):
        return planned, None
    story, kept, done = runs.begun(db, run)
    if kept is None and lines[0].step == "open":  # its first entry of all
        story, kept = (begun := led_rules.whole((), ways)).story, begun.kept
    now, was = led_rules.on(story, kept, list(map(entries.as_kept, lines)), ways), led_rules.again(story, kept, ways)
    return planned, _RunLed(there, was, now, done) if was and now else None


def settle_run(db: Database, run: int) -> None:
    """Works out a run from all of its entries: its story, and its stops, counts, lots and cautions."""
    _settle(db, run, _planned(db, run))


def _settle(db: Database, run: int, planned: _Planned) -> None:
    there, ways = planned
    now = led_rules.whole(entries.of(db, "run", run), ways)
    runs.save_led(db, run, now)
    desk.save_run(db, run, now.trace)
    if there is not None:
        _reopen(db, there, now.story)


def _save_run(db: Database, led: _RunLed) -> None:
    runs.save_led(db, led.run.id, led.now, under_way=not led.done)
    desk.save_run(db, led.run.id, led.now.trace, led.was.trace, led.now.first)
    _reopen(db, led.run, led.now.story)


def _reopen(db: Database, before: runs.Run, story: Story) -> None:
    """A closed job whose run is open again, or that a crossing out left short of pieces, comes back onto the boards."""
    was = before.story
    if (was.finished_at and not story.finished_at) or (story.good < was.good and _short(db, before.job)):
        jobs.close(db, before.job, None)


def _short(db: Database, number: int) -> bool:
    job = jobs.get(db, number)
    return job is not None and bool(jobs.short(db, job))


def _bucket_led_on(db: Database, bucket: int, lines: Sequence[Entry], rows: Spec) -> Bucket | None:
    """A bucket led on by entries that are all later than its log; None: its log is to be read again."""
    known, last = buckets.get(db, bucket), entries.last_at(db, "bucket", bucket)
    if known is None or any(line.step == "cross-out" or stamp(line.at) < last for line in lines):
        return None
    for line in sorted(lines, key=lambda one: one.key):
        known = bucket_rules.after(known, line, rows)
    return known


def settle_bucket(db: Database, bucket: int, rows: Spec) -> None:
    """Works out a bucket from its entries."""
    known = buckets.get(db, bucket)
    if known is None:
        return
    now = bucket_rules.replay(known, entries.of(db, "bucket", bucket), rows)
    if now != known:
        buckets.save(db, now)


def line(
    actor: Actor,
    step: str,
    at: datetime,
    now: datetime,
    values: Mapping[str, Any],
    typed: Mapping[str, Any] | None = None,
    *,
    verdict: Verdict | None = None,
    override: Mapping[str, Any] | None = None,
    screen: int | None = None,
    run: int | None = None,
    job: int | None = None,
    bucket: int | None = None,
) -> Entry:
    """An entry as it goes into a post; `numbered` gives it its id."""
    return Entry(
        entry="",
        step=step,
        at=at,
        saved_at=now,
        person=actor.id,
        signed=actor.signed,
        values=values,
        typed=typed or {},
        verdict=verdict.to_dict() if verdict else None,
        override=override,
        screen=screen,
        run=run,
        job=job,
        bucket=bucket,
    )
