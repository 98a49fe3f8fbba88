"""How anything gets into the log: once, in one transaction, with the worked-out tables brought up to date."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from tickets.calculator.verdict import Verdict
from tickets.records import bucket as buckets_rules
from tickets.records import colourways, pool, tracing, works
from tickets.records import readings as readings_rules
from tickets.records import run as run_rules
from tickets.records.entry import Entry, post_id, read_stamp, stamp
from tickets.records.person import Actor
from tickets.records.refusal import Fault, Refused, SentBefore
from tickets.records.screen import Life, Standing
from tickets.records.spec import Spec
from tickets.store import (
    buckets,
    desk,
    entries,
    jobs,
    newest,
    places,
    readings,
    remembered,
    runs,
    screens,
    spec,
    writing,
)  # fmt: skip
from tickets.store.settings import setting
from tickets.words import gettext as _

AHEAD = timedelta(minutes=5)
"""How far ahead of the server's clock a phone's may be."""


class Asks(Refused):
    """The step goes against the log, or takes away a stencil that is still needed. One question, of one sentence or
    several; the same post again with `yes` in each of `fields` (in_hand, still_needed) is taken.

    `in_hand`, `still_needed`: the sentences of each.
    """

    status = 409

    def __init__(self, step: str, in_hand: Sequence[str] = (), still_needed: Sequence[str] = ()) -> None:
        self.step = step
        self.in_hand = tuple(in_hand)
        self.still_needed = tuple(still_needed)
        both = {"in_hand": self.in_hand, "still_needed": self.still_needed}
        self.fields = tuple(name for name, said in both.items() if said)
        super().__init__([Fault(name, " ".join(said)) for name, said in both.items() if said])


class Doubt(Refused):
    """What was sent may be a mistake: one question; the same post again with `yes` in the field `where` is taken, and
    the answer kept. `again`: the form that comes back shows what it was asked about, so that sending it answers.
    `answers`: what else than `yes` may be answered, each with its words."""

    status = 409

    def __init__(
        self, question: str, where: str, again: bool = False, answers: Mapping[str, str] | None = None
    ) -> None:
        self.question = question
        self.again = again
        self.answers = answers or {}
        super().__init__(question, where)


class Worse(Refused):
    """The verdict got worse than the one that was shown, or a stop needs somebody to go past it."""

    status = 409

    def __init__(self, message: str, verdict: Verdict, where: str = "override") -> None:
        self.verdict = verdict
        super().__init__(message, where)


@dataclass(frozen=True, slots=True)
class Form:
    """What was sent with a step: each name with the list of what was sent."""

    sent: Mapping[str, list[str]]

    def one(self, name: str) -> str:
        """The first thing sent under a name, trimmed; empty: nothing."""
        return next((text.strip() for text in self.sent.get(name, ()) if text.strip()), "")

    def yes(self, name: str) -> bool:
        """True for a ticked box or a yes."""
        return self.one(name).casefold() in {"yes", "1", "true", "on", "y"}


def form(sent: Mapping[str, Any]) -> Form:
    """A form out of plain values or lists of them."""
    lists = {
        name: [str(one) for one in value] if isinstance(value, (list, tuple)) else [str(value)]
        for name, value in sent.items()
        if value is not None
    }
    return Form(lists)


def zone(db: Database) -> ZoneInfo:
    """The shop's zone."""
    return ZoneInfo(setting(db, "zone"))


def shift_begun(db: Database, at: datetime) -> str:
    """When the shift of a time began, by the shop's hours, as it is stored."""
    starts, shop = pool.read_shifts(setting(db, "shifts")), zone(db)
    day, shift = pool.shift_of(at.astimezone(shop), starts)
    return stamp(datetime.combine(day, time(starts[shift]), shop))


def act_time(text: str, shop: ZoneInfo, now: datetime) -> datetime:
    """The time of an act: ISO 8601; without an offset in the shop's zone. Empty: now.

    Refused: what is no time, an hour that the clock change makes twice or never, more than 5 min ahead.
    """
    if not text:
        return now
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        raise Refused(_("“{text}” is no time: write it like 2026-03-09T14:05.").format(text=text[:40]), "at") from None
    if not 2000 <= at.year < 9000:
        raise Refused(_("“{text}” is too long ago or too far ahead to be meant.").format(text=text[:40]), "at")
    if at.tzinfo is None:
        first, second = at.replace(tzinfo=shop, fold=0), at.replace(tzinfo=shop, fold=1)
        if first.utcoffset() != second.utcoffset():
            if first.astimezone(ZoneInfo("UTC")).astimezone(shop).replace(tzinfo=None) != at:
                raise Refused(_("The clocks skipped {text} that night: give another time.").format(text=text), "at")
            offsets = " / ".join(one.isoformat() for one in (first, second))
            raise Refused(_("That hour came twice that night; say which: {offsets}.").format(offsets=offsets), "at")
        at = first
    if at > now + AHEAD:
        raise Refused(
            _("That is more than 5 minutes ahead of the shop’s clock ({now}).").format(
                now=f"{now.astimezone(shop):%Y-%m-%d %H:%M}"
            ),
            "at",
        )
    return at


def before(db: Database, actor: Actor, post: str, content: Mapping[str, Any]) -> dict[str, Any] | None:
    """The answer that this very post got before (with `again`); None: it is new. To be asked before anything is looked
    up: what was there then may be gone since, and what was saved stays saved.

    Raises SentBefore: under this id something else was saved, or somebody else sent it.
    """
    post_id(post)
    there = entries.earlier(db, post)
    if there is None:
        return None
    if there.person == actor.id and there.digest == _digest(content):
        return {**there.answer, "again": True}
    raise SentBefore(_sent_before(db, there.saved_at), post, there.person, there.saved_at)


def _digest(content: Mapping[str, Any]) -> str:
    plain = {name: value for name, value in content.items() if name not in {"secret", "entry"}}
    return hashlib.sha256(json.dumps(plain, sort_keys=True, default=str).encode()).hexdigest()


def _sent_before(db: Database, at: str) -> str:
    when = f"{read_stamp(at).astimezone(zone(db)):%Y-%m-%d %H:%M}"
    said = _("This was saved already, on {when}. What was sent now is not the same, and was not saved.")
    return said.format(when=when)


def once(
    db: Database, actor: Actor, post: str, content: Mapping[str, Any], now: datetime, act: Callable[[], dict[str, Any]]
) -> dict[str, Any]:
    """Does `act` once for the id `post`; the same id, person and content again gets the first answer again (`again`).

    Raises SentBefore when the id was sent by another person or for something else: nothing is written.
    """
    with writing(db):
        answer = before(db, actor, post, content)
        if answer is None:
            answer = act()
            entries.save_answer(db, post, actor.id, _digest(content), answer, stamp(now))
    return answer


def numbered(post: str, lines: list[Entry]) -> list[Entry]:
    """The entries of one post: a single one has the post's id, several have ENTRY-part."""
    if len(lines) == 1:
        return [replace(lines[0], entry=post, post=post, part=1)]
    return [replace(line, entry=f"{post}-{part}", post=post, part=part) for part, line in enumerate(lines, 1)]


def write(db: Database, lines: Iterable[Entry]) -> None:
    """Appends entries and works out anew what they touch.

    The time of saving always moves on, also when the clock stands or is set back, so that it keeps the order of typing.
    """
    lines, latest = list(lines), newest(db).saved_at
    if latest is not None and lines and lines[0].saved_at <= read_stamp(latest):
        later = read_stamp(latest) + timedelta(microseconds=1)
        lines = [replace(line, saved_at=later) for line in lines]
    by_screen: dict[int, list[Entry]] = {}
    for line in lines:
        if line.screen is not None:
            by_screen.setdefault(line.screen, []).append(line)
    # all that is asked is asked before the first line is written: an answer holds till then
    logged, outside, rows = setting(db, "steps"), places.outside(db), the_spec(db)
    then = {screen: _as_it_is(db, screen, own) for screen, own in by_screen.items()}
    for line in lines:
        entries.insert(db, line)
    for screen, own in by_screen.items():
        before = then[screen]
        if before is None:
            settle_screen(db, screen, logged, outside)
        else:
            now, learned = readings_rules.replay(own, logged, outside, before)
            _save(db, screen, before, now, learned, rows)
    for run in dict.fromkeys(line.run for line in lines if line.run is not None):
        settle_run(db, run)
    for bucket in dict.fromkeys(line.bucket for line in lines if line.bucket is not None):
        settle_bucket(db, bucket, rows)


def _as_it_is(db: Database, screen: int, lines: Sequence[Entry]) -> readings_rules.Begun | None:
    """Where a screen's log stands, to be led on by entries that are all later than it; None: they change what was
    before, so the whole log is to be read anew."""
    found = screens.get(db, screen)
    if found is None or not found.life.last_at or any(line.step == "cross-out" for line in lines):
        return None
    if any(stamp(line.at) < found.life.last_at for line in lines):
        return None
    tail, stencil = readings.tail(db, screen, len(lines) + 1), found.life.stencil
    if [one.number for one in tail.lesson.past.stencils] != ([stencil.number] if stencil else []):
        return None  # what is kept of it is not what its life says: anew, from the log
    teaches = {"washout", "check"}.intersection(line.step for line in lines)
    exposed = entries.last_exposure(db, screen) if teaches else None
    return readings_rules.Begun(found.life, tail, exposed)


def _save(
    db: Database, screen: int, before: readings_rules.Begun, life: Life, lesson: readings_rules.Lesson, rows: Spec
) -> None:
    screens.save_life(db, screen, life, works.slackness(life, rows), before.life)
    readings.save(db, screen, lesson, before.tail)


def settle_screen(db: Database, screen: int, logged: Iterable[str], outside: frozenset[int]) -> None:
    """Works out a screen's life from all of its entries, and what they teach."""
    life, lesson = readings_rules.replay(entries.of(db, "screen", screen), list(logged), outside)
    screens.save_life(db, screen, life, works.slackness(life, the_spec(db)))
    readings.save(db, screen, lesson)


def settle_limits(db: Database) -> None:
    """Works out anew whatever hangs on a limit and is kept, after the limits were changed."""
    settle_slack(db)
    for bucket in buckets.every(db, limit=10**9):
        settle_bucket(db, bucket.id, the_spec(db))


def settle_slack(db: Database) -> None:
    """Works out anew which frames are too slack, after the limits were changed: what the reading is held against."""
    rows = the_spec(db)
    for screen, was, standing, frame, count, colour, lowest in screens.measured(db):
        out = Standing(standing) in works.OUT
        now = works.FIT if out else works.slackness_of(frame, count, colour, lowest, rows)
        if now != was:
            screens.save_slack(db, screen, now)


def settle_run(db: Database, run: int) -> None:
    """Works out a run's story from its entries, and its stops, counts, lots and cautions.

    A closed job whose run is open again, or that a crossing out left short of pieces, comes back onto the boards.
    """
    before = runs.get(db, run)
    lines, ways = entries.of(db, "run", run), ways_of(db, before) if before else {}
    story = run_rules.replay(lines, ways)
    runs.save_story(db, run, story)
    was = before.story if before else story
    if before and ((was.finished_at and not story.finished_at) or (story.good < was.good and _short(db, before.job))):
        jobs.close(db, before.job, None)
    desk.save_run(db, run, tracing.of_run(lines, ways))


def ways_of(db: Database, run: runs.Run) -> colourways.Ways:
    """Which ink each garment of a run takes where, by the job sheet that it was planned with."""
    job = jobs.get(db, run.job, run.version)
    return colourways.ways_of(job.sheet, job.sheet.placements[run.placement - 1]) if job else {}


def _short(db: Database, number: int) -> bool:
    job = jobs.get(db, number)
    return job is not None and bool(jobs.short(db, job))


def settle_bucket(db: Database, bucket: int, rows: Spec) -> None:
    """Works out a bucket from its entries."""
    known = buckets.get(db, bucket)
    if known is None:
        return
    now = buckets_rules.replay(known, entries.of(db, "bucket", bucket), rows)
    if now != known:
        buckets.save(db, now)


def the_spec(db: Database) -> Spec:
    """The shop's spec as it stands; read again only when a row was added."""
    return remembered(db, "spec", spec.newest(db), lambda: Spec(spec.rows(db)))
