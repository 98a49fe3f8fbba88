"""A run's story, worked out from its entries."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from tickets.domain.entry import Entry, stamp
from tickets.domain.runs.run import STATES, Story, Uncounted, Used, replay, uncounted, used
from tickets.domain.steps import RUN_STEPS

START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


def entry(step: str, hours: float, screen: int | None = None, **more: Any) -> Entry:
    at = START + timedelta(hours=hours)
    own = {name: more.pop(name) for name in ("verdict", "override") if name in more}
    return Entry(entry=f"{step}{hours}{screen}", step=step, at=at, saved_at=at, person=2, run=5, screen=screen,
                 values=more, **own)  # fmt: skip


CAUTIOUS = {
    "level": "caution",
    "reasons": [
        {"key": "tension-old", "level": "caution", "numbers": {"age_d": 91}},
        {"key": "right-image", "level": "ok", "numbers": {}},
    ],
}
WHOLE = [
    entry("open", 0),
    entry("hang", 1, 21, station=1, head=2, run=5),
    entry("hang", 1.1, 22, station=2, head=4, run=5, verdict=CAUTIOUS, override={"who": "Boris", "why": "rush"}),
    entry("sheet", 1.5, stations={"1": {"strokes": "2"}}),
    entry("approve", 2, approved_by="Vera Lind", approved_as="customer", how="photo"),
    entry("start", 2.1),
    entry("count", 3, good=90, misprinted=3, cause="pinhole"),
    entry("print", 3, 21, impressions=186),
    entry("print", 3, 22, impressions=93),
    entry("stop", 3.2, cause="pinhole", minutes=12),
    entry("change", 3.5, station=1, what="squeegee 70 to 80", why="edge"),
    entry("count", 4, good=50, misprinted=2),
    entry("pull", 5, 21, then="keep"),
    entry("pull", 5, 22, then="strip"),
    entry("finish", 5, then="keep"),
    entry("use-next-time", 6),
]


def test_a_whole_run() -> None:
    story = replay(WHOLE)
    assert (story.state, story.good, story.misprinted, story.impressions) == ("finished", 140, 5, 279)
    assert story.causes == {"pinhole": 3, "other": 2}
    assert story.hung == {} and [hung.screen for hung in story.was_hung] == [21, 22]
    assert story.was_hung[1].level == "caution" and story.was_hung[1].reasons == ("tension-old",)
    assert story.was_hung[1].passed == {"who": "Boris", "why": "rush"}
    assert story.approved is not None and story.approved["approved_by"] == "Vera Lind"
    assert story.approved["person"] == 2 and story.approved["at"] == stamp(START + timedelta(hours=2))
    assert [stop["minutes"] for stop in story.stops] == [12]
    assert [change["what"] for change in story.changes] == ["squeegee 70 to 80"]
    assert story.sheet == {"stations": {"1": {"strokes": "2"}}}
    assert story.started_at == stamp(START + timedelta(hours=2.1))
    assert story.finished_at == stamp(START + timedelta(hours=5))
    assert story.target


def test_where_it_stands_on_the_way() -> None:
    def state(hours: float) -> str:
        return replay(entry for entry in WHOLE if entry.at <= START + timedelta(hours=hours)).state

    assert [state(hours) for hours in (0, 1.5, 2, 2.1, 4, 5)] == [
        "set-up", "set-up", "set-up", "printing", "printing", "finished"]  # fmt: skip
    paused = [entry("start", 1), entry("pause", 2)]
    assert replay(paused).state == "paused"
    again = replay([*paused, entry("start", 3)])
    assert again.state == "printing" and again.started_at == stamp(START + timedelta(hours=1))
    assert set(STATES) == {"set-up", "printing", "paused", "finished"}


def test_a_screen_hangs_at_one_station_only() -> None:
    story = replay([entry("hang", 1, 21, station=1, head=2), entry("hang", 2, 21, station=3, head=5)])
    assert {station: hung.screen for station, hung in story.hung.items()} == {3: 21}
    swapped = replay([entry("hang", 1, 21, station=1), entry("pull", 2, 21), entry("hang", 2.5, 23, station=1),
                      entry("swap", 2.5, old="A", new="B")])  # fmt: skip
    assert {station: hung.screen for station, hung in swapped.hung.items()} == {1: 23}
    assert [hung.screen for hung in swapped.was_hung] == [21, 23]
    both = replay([entry("hang", 1, 21, station=1), entry("hang", 1, 22, station=2), entry("pull", 2, 21)])
    assert {station: hung.screen for station, hung in both.hung.items()} == {2: 22}


def test_a_crossed_out_count_counts_for_nothing() -> None:
    wrong = entry("count", 4.5, good=5000)
    story = replay([*WHOLE, wrong, entry("cross-out", 4.6, entry=wrong.entry, why="one nought too many")])
    assert story.good == 140


def test_the_last_approval_and_sheet_count() -> None:
    later = [entry("approve", 2.05, approved_by="Otto", approved_as="press"), entry("sheet", 2.06, dryer="slow")]
    story = replay([*later, *WHOLE])
    assert story.approved is not None and story.approved["approved_by"] == "Otto"
    assert story.sheet == {"dryer": "slow"} and story.sheet_entry == later[1].entry


def test_a_story_survives_json() -> None:
    for count in range(len(WHOLE) + 1):
        story = replay(WHOLE[:count])
        assert Story.from_dict(json.loads(json.dumps(story.to_dict()))) == story
    assert Story.from_dict({}) == Story()


ODD = st.one_of(st.none(), st.integers(), st.floats(), st.text(max_size=4), st.lists(st.integers(), max_size=2))
FIELDS = st.sampled_from(["station", "head", "good", "misprinted", "cause", "impressions", "minutes", "entry", "then"])


@given(st.lists(st.tuples(st.sampled_from([*RUN_STEPS, "hang", "pull", "print", "other"]), st.integers(0, 4),
                          st.sampled_from([None, 21, 22]), st.dictionaries(FIELDS, ODD, max_size=3)), max_size=10),
       st.randoms(use_true_random=False))  # fmt: skip
def test_any_log_gives_a_story_whatever_the_order(log: list[Any], rng: Any) -> None:
    entries = []
    for number, (step, hours, screen, values) in enumerate(log):
        at = START + timedelta(hours=hours)
        entries.append(Entry(entry=f"e{number}", step=step, at=at, saved_at=at, person=1, screen=screen, values=values))
    story = replay(entries)
    shuffled = list(entries)
    rng.shuffle(shuffled)
    assert repr(replay(shuffled)) == repr(story)  # by text, since not-a-number is not equal to itself
    assert story.state in STATES
    assert min(story.good, story.misprinted, story.impressions, *story.causes.values(), 0) == 0
    hung = [one.screen for one in story.hung.values()]
    assert len(hung) == len(set(hung))
    again = Story.from_dict(json.loads(json.dumps(story.to_dict())))
    assert repr(again.hung) == repr(dict(story.hung)) and again.good == story.good


def test_a_screen_in_other_hands_hangs_here_no_more() -> None:
    taken = entry("found", 3, 21, standing_seen="ready")
    story = replay([*WHOLE[:6], taken])
    assert list(story.hung) == [2] and [one.screen for one in story.lost] == [21]
    again = replay([*WHOLE[:6], taken, entry("hang", 4, 23, station=1, head=2)])
    assert sorted(again.hung) == [1, 2] and again.lost == ()
    assert Story.from_dict(json.loads(json.dumps(story.to_dict()))) == story


def test_the_settings_are_the_approved_sheet_with_the_later_changes() -> None:
    early = entry("change", 1.2, station=1, what="Strokes", field="strokes", **{"from": "2", "to": "5"})
    later = [
        entry("change", 3, station=1, what="Strokes", field="strokes", **{"from": "2", "to": "3"}),
        entry("change", 4, what="Platen", field="platen", **{"from": "", "to": "wide"}),
        entry("change", 5, station=1, what="ink thinned"),
    ]
    story = replay([*WHOLE[:5], early, *later])
    assert story.settings == {"1": {"strokes": "3"}, "run": {"platen": "wide"}}
    assert story.sheet == {"stations": {"1": {"strokes": "2"}}}  # as it was approved
    gone = entry("change", 6, station=1, what="Strokes", field="strokes", **{"from": "3", "to": ""})
    assert replay([*WHOLE[:5], *later, gone]).settings["1"] == {}


def test_the_garment_is_the_one_that_the_run_went_on_with() -> None:
    ways = [entry("change", hours, what="colourway", garment_style="Tee", garment_colour=colour)
            for hours, colour in ((2, "red"), (3, "black"))]  # fmt: skip
    garment = replay([*WHOLE[:2], *ways]).garment
    assert garment is not None and garment["garment_colour"] == "black"
    assert replay(WHOLE).garment is None


def test_what_was_printed_before_a_change_and_not_counted() -> None:
    """By hand: 21 prints, is swapped for 24, 24 for 25; the count that came with the first swap settles only 21."""

    def said(*more: Entry) -> Uncounted:
        lines = [*WHOLE[:6], *more]
        return uncounted(lines, replay(lines))

    count, off, on = entry("count", 2.5, good=30), entry("pull", 3, 21), entry("hang", 3, 24, station=1, head=2)
    assert not said(count)
    assert said(off, on).screens == {1: (21,)}
    assert said(on, off, entry("count", 3.5, good=4)).screens == {}  # counted since
    along = [replace(one, saved_at=START) for one in (entry("count", 3, good=30), off, on)]
    along = [replace(one, part=part) for part, one in enumerate(along, 1)]
    assert not said(*along)
    assert said(count, off, on).screens == {1: (21,)}  # what came between the count and the swap is open still
    assert said(on, entry("hang", 4, 25, station=1)).screens == {1: (21, 24)}
    assert said(on, entry("hang", 4, 21, station=1)).screens == {1: (24,)}  # back again
    before_start = [entry("hang", 1, 21, station=1), entry("hang", 1.5, 24, station=1)]
    assert not uncounted(before_start, replay(before_start))
    ways = [entry("change", hours, what="colourway", garment_style="Tee", garment_colour=colour)
            for hours, colour in ((3, "red"), (4, "black"))]  # fmt: skip
    garment = said(ways[0], entry("count", 3.5, good=9), ways[1]).garment
    assert garment is not None and garment["garment_colour"] == "red"
    assert said(*ways, entry("count", 5, good=9)).garment is None
    strokes = entry("change", 3, station=1, what="Strokes", field="strokes", **{"from": "2", "to": "3"})
    assert said(strokes).strokes == {1: "2"}
    back = entry("change", 4, station=1, what="Strokes", field="strokes", **{"from": "3", "to": "2"})
    assert not said(strokes, back)


def test_the_screens_that_a_run_used() -> None:
    """By hand: 21 prints 186 and comes off, 23 takes its place and is taken elsewhere after 40; 22 stays."""
    lines = [*WHOLE[:9], entry("pull", 3.1, 21, condition="pinholes", then="undecided"),
             entry("hang", 3.1, 23, station=1, head=2), entry("print", 3.5, 23, impressions=40),
             entry("found", 3.6, 23, standing_seen="ready")]  # fmt: skip
    assert used(lines) == [
        Used(21, 1, 2, 186, "pinholes", "undecided"),
        Used(23, 1, 2, 40, taken=True),
        Used(22, 2, 4, 93),
    ]
    late = entry("print", 3.05, 21, impressions=14)
    assert used([*lines, late])[0].impressions == 200
    assert used([*lines, entry("cross-out", 4, entry=late.entry), late])[0].impressions == 186
