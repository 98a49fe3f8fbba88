"""A run, a bucket and a screen are led on by each entry that comes last, and come to what their whole logs come to."""

from __future__ import annotations

import json
import secrets
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from hypothesis import event, given, settings
from hypothesis import strategies as st

from tickets import store
from tickets.actions import buckets as bucket_acts
from tickets.actions import posting, shop
from tickets.actions import runs as run_acts
from tickets.domain import bucket as bucket_rules
from tickets.domain.bucket import Bucket
from tickets.domain.entry import Entry, stamp
from tickets.domain.posted import form
from tickets.domain.runs import led, run
from tickets.domain.runs.led import Led
from tickets.domain.runs.run import Story
from tickets.domain.screens import readings
from tickets.domain.screens.readings import Begun, Tail
from tickets.domain.spec import Spec, shipped
from tickets.queries import sound
from tickets.store import buckets, entries, runs

NOW = datetime(2026, 5, 1, 9, 0, tzinfo=UTC)
WAYS = {"tee, navy": {1: "white", 2: "red"}, "tee, stone": {1: "black"}, "hood": {}}
INKS = ("", "7K32XM", "bucket 2")
GARMENTS = ("", *WAYS)

stations = st.integers(1, 2)
poured = st.fixed_dictionaries({"bucket": st.sampled_from(INKS), "ink_lot": st.sampled_from(("", "L1", "L2"))})
sheets = st.fixed_dictionaries(
    {},
    optional={
        "stations": st.dictionaries(st.sampled_from(["1", "2"]), poured),
        "run": st.fixed_dictionaries({"garment_lot": st.sampled_from(("G1", "G2"))}),
        "noted": st.just(["1"]),
        "garment": st.sampled_from(GARMENTS),
    },
)
reasons = st.sampled_from(
    [
        {"key": "tension-under-watch", "level": "caution", "spec": [4], "numbers": {"lowest_n_per_cm": 18.5}},
        {"key": "tension-under-watch", "level": "caution", "spec": [4], "numbers": {"lowest_n_per_cm": 17}},
        {"key": "tension-old", "level": "caution", "spec": [], "numbers": {"age_d": 100.0}},
    ]
)
verdicts = st.none() | st.builds(lambda some: {"level": "caution", "reasons": some}, st.lists(reasons, max_size=2))


def values_of(step: str) -> st.SearchStrategy[dict[str, Any]]:
    match step:
        case "hang":
            return st.fixed_dictionaries({"station": stations, "head": st.integers(1, 6)})
        case "sheet":
            return sheets
        case "change":
            ink = {
                "field": st.sampled_from(("bucket", "ink_lot", "ink", "strokes", "garment_lot")),
                "station": stations,
                "from": st.sampled_from(INKS),
                "to": st.sampled_from(INKS),
            }
            style = st.sampled_from(("tee", "hood"))
            garment = {
                "what": st.just(run.COLOURWAY),
                "garment_style": style,
                "garment_colour": st.sampled_from(("navy", "stone", "")),
            }
            return st.fixed_dictionaries(ink) | st.fixed_dictionaries(garment)
        case "approve":
            return st.fixed_dictionaries({"approved_by": st.just("Bo"), "garment": st.sampled_from(GARMENTS)})
        case "count":
            return st.fixed_dictionaries({"good": st.integers(0, 50), "misprinted": st.integers(0, 3)})
        case "print":
            return st.fixed_dictionaries({"impressions": st.integers(1, 50)})
        case "stop":
            return st.fixed_dictionaries({"cause": st.just("ink"), "minutes": st.integers(1, 9)})
    return st.just({})


STEPS = ("hang", "pull", "found", "sheet", "change", "approve", "start", "stop", "swap", "count", "print", "pause",
         "finish", "use-next-time", "cross-out", "open")  # fmt: skip
OF_SCREENS = frozenset({"hang", "pull", "found", "print"})


@st.composite
def logs(draw: st.DrawFn, dated_back: bool) -> list[list[Entry]]:
    """The posts of one run in the order of typing, each with the entries that it made."""
    posts: list[list[Entry]] = []
    minute, names = 0, []
    for number in range(draw(st.integers(1, 14))):
        minute += draw(st.integers(0, 15))
        saved = NOW + timedelta(hours=9, minutes=number)
        post: list[Entry] = []
        for part in range(1, draw(st.integers(1, 2)) + 1):
            step = draw(st.sampled_from(STEPS if dated_back else [one for one in STEPS if one != "cross-out"]))
            values = draw(values_of(step))
            if step == "cross-out":
                if not names:
                    continue
                values = {"entry": draw(st.sampled_from(names))}
            back = draw(st.sampled_from((0, 0, 0, 7))) if dated_back else 0
            name = f"e-{number:04d}-{part}"
            names.append(name)
            at = NOW + timedelta(minutes=minute - back)
            screen = draw(st.integers(1, 3)) if step in OF_SCREENS else None
            verdict = draw(verdicts)
            post.append(
                Entry(entry=name, post=name, part=part, step=step, at=at, saved_at=saved, person=1, run=1,
                      screen=screen, values=values, verdict=verdict)
            )  # fmt: skip
        posts.append(post)
    return [post for post in posts if post]


def through_the_file(found: Led) -> tuple[Story, Any]:
    """As it is kept, and read back."""
    return Story.from_dict(json.loads(json.dumps(found.story.to_dict()))), json.loads(json.dumps(found.kept))


def same(one: Led, upsets: tuple[Any, ...], other: Led) -> None:
    assert json.dumps(one.story.to_dict(), sort_keys=True) == json.dumps(other.story.to_dict(), sort_keys=True)
    assert json.dumps(one.kept, sort_keys=True) == json.dumps(other.kept, sort_keys=True)
    assert (upsets, *one.trace.ink_lots, *one.trace.cautions) == (
        other.trace.upsets, *other.trace.ink_lots, *other.trace.cautions,
    )  # fmt: skip


def read_through(posts: list[list[Entry]]) -> tuple[int, int]:
    """Leads a run on post by post, and holds it against the whole log each time; how often it was led on, and not."""
    there: list[Entry] = []
    now, upsets, led_on = led.whole([], WAYS), (), 0
    for post in posts:
        story, kept = through_the_file(now)
        before = led.again(story, kept, WAYS)
        assert before is not None and before.trace.ink_lots == now.trace.ink_lots
        assert before.trace.cautions == now.trace.cautions and not before.trace.upsets
        there += post
        whole = led.whole(there, WAYS)
        on = led.on(story, kept, post, WAYS)
        if on is not None:
            led_on += 1
            upsets = (*upsets[: on.first], *on.trace.upsets)
            same(on, upsets, whole)
        now, upsets = whole, whole.trace.upsets
        assert run.replay(there, WAYS) == now.story
    return led_on, len(posts) - led_on


@given(logs(dated_back=False))
@settings(max_examples=250, deadline=None)
def test_a_run_led_on_is_what_its_whole_log_says(posts: list[list[Entry]]) -> None:
    garments = [any(run.garment_in(one) for one in post) for post in posts]
    led_on, whole = read_through(posts)
    assert led_on + whole == len(posts) and whole == int(any(garments)), (
        "only the first garment that is said changes what was before it"
    )


@given(logs(dated_back=True))
@settings(max_examples=150, deadline=None)
def test_whatever_is_dated_back_or_crossed_out(posts: list[list[Entry]]) -> None:
    led_on, whole = read_through(posts)
    event(f"led on {bool(led_on)}, whole {bool(whole)}")


BUCKET_VALUES: dict[str, dict[str, Any]] = {
    "mix": {"kind": "diazo emulsion", "lot": "L 1"}, "use": {}, "test": {"result": "good"}, "discard": {},
}  # fmt: skip


@given(st.lists(st.tuples(st.sampled_from(list(BUCKET_VALUES)), st.integers(0, 40)), min_size=1, max_size=8))
@settings(max_examples=100, deadline=None)
def test_a_bucket_led_on_is_what_its_whole_log_says(steps: list[tuple[str, int]]) -> None:
    limits, known, log, day = Spec(shipped()), Bucket(3, "7K32XM", "diazo emulsion"), [], 0
    for number, (step, later) in enumerate(steps):
        day += later
        at = NOW + timedelta(days=day)
        log.append(Entry(entry=f"b{number}", step=step, at=at, saved_at=at, person=1, values=BUCKET_VALUES[step]))
        known = bucket_rules.after(known, log[-1], limits)
        assert known == bucket_rules.replay(known, log, limits)


# In a shop -----------------------------------------------------------------------------------------------------------


@pytest.fixture
def demo_folder(tmp_path: Path) -> Path:
    return shops.the_demo(tmp_path / "shop")


@pytest.fixture
def read(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """How many rows of the log are read, by what they are about."""
    counted: Counter[str] = Counter()
    plain = entries.read_row

    def watched(row: Any) -> Entry:
        one = plain(row)
        counted.update([thing for thing in ("run", "bucket") if getattr(one, thing) is not None])
        return one

    monkeypatch.setattr(entries, "read_row", watched)
    return counted


def test_the_last_entry_of_a_long_run_reads_no_log(demo_folder: Path, read: Counter[str]) -> None:
    db, now = store.connect(demo_folder), shops.NOW + timedelta(hours=1)
    me = shop.command_line(db, now)
    number = next(one.id for one in runs.open_ones(db) if one.story.state == "printing")
    lines = [
        posting.line(me, "stop", now + timedelta(seconds=n), now, {"cause": "ink", "minutes": 1}, run=number)
        for n in range(200)
    ]
    with store.writing(db):
        posting.write(db, posting.numbered(secrets.token_hex(12), lines))
    later, stops = now + timedelta(minutes=30), len(runs.get(db, number).story.stops)
    read.clear()
    run_acts.log(db, me, number, "stop", form({"cause": "ink"}), post=secrets.token_hex(12), now=later)
    told = read["run"]
    assert len(runs.get(db, number).story.stops) == stops + 1 and told <= 3, told
    assert sound.check(db) == []
    back = form({"cause": "ink", "at": stamp(now + timedelta(seconds=30))})
    run_acts.log(db, me, number, "stop", back, post=secrets.token_hex(12), now=later + timedelta(minutes=1))
    assert read["run"] > 200, "one that is dated back reads it whole"
    assert sound.check(db) == []
    db.close()


def test_the_last_entry_of_a_bucket_reads_no_log(demo_folder: Path, read: Counter[str]) -> None:
    db, now = store.connect(demo_folder), shops.NOW + timedelta(hours=1)
    me, one = shop.command_line(db, now), buckets.open_ones(db)[0]
    for minute in range(3):
        read.clear()
        at = now + timedelta(minutes=minute)
        bucket_acts.log(db, me, one, "use", form({}), post=secrets.token_hex(12), now=at)
    assert read["bucket"] <= 1 and buckets.get(db, one.id).used_at == stamp(at)
    assert sound.check(db) == []
    back = form({"at": stamp(now - timedelta(hours=2))})
    bucket_acts.log(db, me, one, "use", back, post=secrets.token_hex(12), now=at + timedelta(minutes=1))
    assert read["bucket"] > 3 and buckets.get(db, one.id).used_at == stamp(at)
    db.close()


def test_a_run_that_an_earlier_program_kept_is_read_whole_once(demo_folder: Path, read: Counter[str]) -> None:
    db, now = store.connect(demo_folder), shops.NOW + timedelta(hours=1)
    me = shop.command_line(db, now)
    number = next(one.id for one in runs.open_ones(db) if one.story.state == "printing")
    with store.writing(db):
        db.execute("UPDATE runs SET led = NULL WHERE id = ?", [number])
    assert sound.check(db) == [], "nothing is missed where nothing was kept yet"
    told = []
    for minute in range(2):
        read.clear()
        run_acts.log(
            db,
            me,
            number,
            "stop",
            form({"cause": "ink"}),
            post=secrets.token_hex(12),
            now=now + timedelta(minutes=minute),
        )
        told.append(read["run"])
    assert told[0] > 5 and told[1] <= 3, told
    with store.writing(db):
        db.execute("UPDATE runs SET led = json_set(led, '$.upsets', 99) WHERE id = ?", [number])
    assert [line for line in sound.check(db) if f"Run {number} " in line], "what is kept is held against the log too"
    db.close()


# -- a screen

of_a_screen = st.one_of(
    st.tuples(st.sampled_from(["degrease", "strip", "haze", "clean", "retension", "note"]), st.just({})),
    st.tuples(st.just("stretch"), st.just({"mesh_count_as_labelled": "230/in", "frame": "aluminium"})),
    st.tuples(st.just("tension"), st.just({"readings_n_per_cm": [24, 22.5]})),
    st.tuples(st.just("coat"), st.fixed_dictionaries({"bucket": st.integers(1, 2)})),
    st.tuples(st.just("image"), st.just({"separations": [3, 4], "means": "film"})),
    st.tuples(st.just("expose"), st.just({"exposure_s": 80.5, "exposure_unit": "Big lamp"})),
    st.tuples(st.sampled_from(["washout", "check"]), st.sampled_from([{"result": "good"}, {"result": "fault"}])),
    st.tuples(st.just("hang"), st.fixed_dictionaries({"run": st.integers(1, 2), "head": st.just(1)})),
    st.tuples(st.just("print"), st.just({"impressions": 40})),
    st.tuples(st.just("pull"), st.fixed_dictionaries({"then": st.sampled_from(["keep", "strip"])})),
    st.tuples(st.just("fault"), st.just({"kind": "torn"})),
    st.tuples(st.just("found"), st.fixed_dictionaries({"standing_seen": st.sampled_from(["ready", "bare", "coated"])})),
)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(of_a_screen, st.integers(0, 1), st.booleans()), max_size=40))
def test_a_screen_led_on_comes_to_its_whole_log(log: list[tuple[tuple[str, dict[str, Any]], int, bool]]) -> None:
    """Post by post, several entries in one and at one time: the same life, the same tail, and every row that the tail
    begins with or that is new is a row of the whole."""
    logged, at, lines, post = ("tension", "clean"), NOW, list[Entry](), list[Entry]()
    life, tail = readings.replay((), logged)[0], Tail()
    for number, ((step, values), minutes, ends) in enumerate(log):
        at += timedelta(minutes=minutes)
        post.append(Entry(entry=f"{number:04d}", step=step, at=at, saved_at=NOW, part=number, person=1, values=values))
        if not ends and number < len(log) - 1:
            continue
        lines += post
        begun = tail
        life, lesson = readings.replay(post, logged, begun=Begun(life, begun, readings_exposed(lines[: -len(post)])))
        whole_life, whole = readings.replay(lines, logged)
        assert life == whole_life
        for name, of in readings.OF.items():
            assert of(lesson) == of(whole)[begun.first.get(name, 0) :], name
        tail, post = begun.then(lesson, life), []
        assert tail == Tail().then(whole, whole_life) == Tail.from_kept(json.loads(json.dumps(tail.kept())))
        assert len(tail.lesson.past.stays) <= 2


def readings_exposed(lines: list[Entry]) -> Entry | None:
    """The exposure of what is on the screen, as the store finds it."""
    last = [one for one in lines if one.step in {"expose", "coat", "strip", "stretch"}][-1:]
    return last[0] if last and last[0].step == "expose" else None


def test_a_screen_without_a_tail_is_read_whole_once(tmp_path: Path) -> None:
    """As every screen of a shop that an earlier program made; so is one whose tail is not that of its life."""
    made = shops.Shop.begun(tmp_path)
    code, bucket = made.frame(), made.mix()
    made.log(code, "degrease")
    for led_by, step in (("NULL", "tension"), ("NULL", "coat"), ("json_remove(led, '$.stencils')", "note")):
        made.db.execute(f"UPDATE standings SET led = {led_by}")
        sent = {"tension": {"readings_n_per_cm": "24"}, "coat": {"bucket": bucket}, "note": {"note": "looked at"}}
        made.log(code, step, **sent[step])
        assert sound.check(made.db) == [], step
        assert made.db.execute("SELECT led FROM standings").fetchone()[0] is not None
    made.db.execute("UPDATE standings SET led = NULL")
    assert sound.check(made.db) == [], "nothing is amiss where none is kept"
    for step, more in (
        ("expose", {"exposure_s": "80", "purpose": "test strip"}),
        ("washout", {"result": "fault"}),
    ):
        made.log(code, step, in_hand="yes", **more)
    assert made.db.execute("SELECT stencils, faulty FROM coated").fetchall() == [(1, 1)], (
        "the bucket of the coat has it"
    )
    assert sound.check(made.db) == []
    made.db.execute("UPDATE standings SET led = json_set(led, '$.first.stays', 9)")
    assert [one for one in sound.check(made.db) if "its stage is not what its log says" in one], "it is proved as well"
