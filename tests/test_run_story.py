"""A run's story, worked out from its entries."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tickets.domain.entry import Entry, stamp
from tickets.domain.runs.run import (
    GARMENT,
    STATES,
    VERSION,
    Again,
    Proof,
    Story,
    Uncounted,
    Used,
    begun,
    made_doubtful,
    nothing_counted,
    replay,
    same_reasons,
    uncounted,
    used,
)
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


@pytest.mark.parametrize(("station", "at"), [(10**15 - 1, 10**15 - 1), (10**15, 0), (1e15, 0), (-1, 0), (1.5, 0)])
def test_a_number_that_names_nothing_is_none_and_is_read_back_as_it_is_kept(station: float, at: int) -> None:
    story = replay([entry("hang", 0, 21, station=station)])
    assert list(story.hung) == [at]
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


# -- two garments on one press: which settings are whose

WAYS = {"Tee, red": {1: "white", 2: "red"}, "Tee, black": {1: "white", 2: "blue"}}


def turn(hours: float, colour: str) -> Entry:
    return entry("change", hours, what="colourway", garment_style="Tee", garment_colour=colour)


def noted(hours: float, name: str, to: str, station: int | None = None, on: str = "", was: str = "") -> Entry:
    at = {} if station is None else {"station": station}
    return entry("change", hours, what=name, field=name, to=to, on=on, **{"from": was}, **at)


ON_RED = [
    entry("sheet", 1, stations={"1": {"bucket": "W1", "strokes": "2"},
                                "2": {"ink": "red", "bucket": "R1", "pins": "4"}},
          run={"garment_lot": "L1", "platen": "wide"}, **{GARMENT: "Tee, red"}),
    noted(2, "bucket", "R2", 2, "Tee, red"),
    noted(2.1, "strokes", "1", 1, "Tee, red"),
]  # fmt: skip


def test_what_goes_with_an_ink_goes_when_the_garment_does_and_comes_back_with_it() -> None:
    red = replay(ON_RED, WAYS)
    two = {"ink": "red", "bucket": "R2", "pins": "4"}
    assert red.settings == {"1": {"bucket": "W1", "strokes": "1"}, "2": two,
                            "run": {"garment_lot": "L1", "platen": "wide"}}  # fmt: skip
    on_black = [*ON_RED, turn(3, "black")]
    black = replay(on_black, WAYS).settings
    assert black == {
        "1": {"bucket": "W1", "strokes": "1"},
        "2": {"ink": "blue", "pins": "4"},
        "run": {"platen": "wide"},
    }
    on_black += [noted(4, "bucket", "B1", 2, "Tee, black"), noted(4, "garment_lot", "L2", on="Tee, black"),
                 noted(4, "bucket", "W2", 1, "Tee, black")]  # fmt: skip
    black = replay(on_black, WAYS).settings
    assert black["2"] == {"ink": "blue", "pins": "4", "bucket": "B1"}
    assert black["run"] == {"platen": "wide", "garment_lot": "L2"} and black["1"]["bucket"] == "W2"
    back = replay([*on_black, turn(5, "red")], WAYS).settings
    assert back["2"] == two, "the pot of the red"
    assert back["1"] == {"bucket": "W2", "strokes": "1"}, "both take the white"
    assert back["run"] == {"garment_lot": "L1", "platen": "wide"}, "the other garment's lot is none of this one's"


def test_a_setting_noted_before_the_sheet_is_no_change_of_it() -> None:
    early = noted(0.5, "platen", "narrow")
    assert replay([early, *ON_RED], WAYS).settings["run"]["platen"] == "wide"
    assert replay([replace(early, at=ON_RED[0].at, saved_at=START + timedelta(hours=9)), *ON_RED], WAYS).settings[
        "run"]["platen"] == "narrow"  # fmt: skip


def test_an_ink_of_another_garment_is_as_that_ones_own_sheet_has_it_from_then_on() -> None:
    open_black = entry("sheet", 0.5, noted=[], stations={"2": {"ink": "blue", "bucket": "B7", "pins": "1"}},
                       **{GARMENT: "Tee, black"})  # fmt: skip
    before, after = noted(0.4, "bucket", "B5", 2), noted(0.6, "bucket", "B9", 2)
    then = [turn(0.55, "black"), after, turn(0.7, "red")]
    for changes, bucket in (([], "B7"), ([before], "B7"), (then, "B9")):
        story = replay([turn(0.1, "red"), *changes, open_black, *ON_RED, turn(3, "black")], WAYS)
        assert story.settings["2"] == {"ink": "blue", "bucket": bucket, "pins": "4"}


@pytest.mark.parametrize(("black", "navy", "bucket"), [(0.5, 0.6, "B8"), (0.6, 0.5, "B7")])
def test_of_several_sheets_of_one_ink_the_last_says_its_bucket(black: float, navy: float, bucket: str) -> None:
    ways = {**WAYS, "Tee, navy": {1: "white", 2: "blue"}}
    sheets = [entry("sheet", at, noted=[], stations={"2": {"ink": "blue", "bucket": name}}, **{GARMENT: garment})
              for at, name, garment in ((black, "B7", "Tee, black"), (navy, "B8", "Tee, navy"))]  # fmt: skip
    assert replay([turn(0.1, "red"), *sheets, *ON_RED, turn(3, "black")], ways).settings["2"]["bucket"] == bucket


def test_an_open_sheet_leaves_the_press_as_it_was_set_and_a_whole_one_is_its_own() -> None:
    whole = entry("sheet", 1.5, stations={"2": {"pins": "9"}}, **{GARMENT: "Tee, black"})
    story = replay([ON_RED[0], whole, turn(2, "black"), turn(3, "red")], WAYS)
    assert story.sheet_on == "Tee, red" and story.settings["2"]["pins"] == "4"
    assert {name: one["entry"] for name, one in story.sheets.items()} == {"Tee, black": whole.entry}
    left_open = replace(whole, at=START, values={**whole.values, "noted": []})
    story = replay([turn(-1, "red"), left_open, ON_RED[0], turn(2, "black")], WAYS)
    assert story.on == "Tee, black" and story.sheet_on == "Tee, red" and story.settings["2"]["pins"] == "4"
    assert story.sheet_of("Tee, black") == ("Tee, black", left_open.values)
    assert story.sheet_of("Tee, red") == story.sheet_of("Tee, grey") == ("Tee, red", ON_RED[0].values)


@pytest.mark.parametrize(("lines", "frozen"), [
    ([entry("sheet", 1), entry("approve", 2)], True),
    ([entry("sheet", 1)], False),
    ([entry("approve", 2)], False),
    ([entry("approve", 1), entry("sheet", 2)], True),
    ([entry("sheet", 1, noted=[]), entry("approve", 2)], True),
    ([entry("sheet", 2, noted=[]), entry("approve", 2)], True),
    ([entry("approve", 1), entry("sheet", 2, noted=[])], False),
    ([entry("sheet", 1, **{GARMENT: "Tee"}), entry("approve", 2, **{GARMENT: "Hood"})], False),
])  # fmt: skip
def test_an_approval_freezes_the_sheet_that_it_was_given_on(lines: list[Entry], frozen: bool) -> None:
    assert replay(lines).frozen is frozen


def test_who_measured_a_setting_is_that_of_the_sheet_with_the_later_changes() -> None:
    sheet = entry("sheet", 2, stations={"1": {"angle": "70"}}, measured={"1": {"angle": {"who": "Vera"}}})
    change = {"station": 1, "field": "angle", "from": "70", "to": "75", "measured": {"who": "Boris"}}
    early, late = entry("change", 1, **change), entry("change", 3, **change)
    assert replay([early, sheet]).measured == {"1": {"angle": {"who": "Vera"}}}
    now = replay([sheet, late, entry("change", 4, field="platen", measured={"who": "Otto"})]).measured
    assert now == {
        "1": {"angle": {"who": "Boris", "before": {"value": "70", "who": "Vera"}}},
        "run": {"platen": {"who": "Otto"}},
    }
    assert sheet.values["measured"] == {"1": {"angle": {"who": "Vera"}}}, "the log stays as it is"


# -- what spoke against a step


def against(step: str, hours: float, *keys: str, level: str = "caution", **more: Any) -> Entry:
    reasons = [{"key": key, "level": level, "numbers": {"age_d": hours}} for key in keys]
    reasons.append({"key": "right-image", "level": "ok", "numbers": {}})
    return entry(step, hours, verdict={"level": level, "reasons": reasons}, **more)


def test_what_speaks_against_a_run_is_asked_once_and_again_after_a_pause() -> None:
    def told(*lines: Entry) -> list[tuple[str, list[str], bool]]:
        return [(one.step, [why["key"] for why in one.reasons], one.held) for one in replay(lines).judged]

    start = against("start", 1, "slack")
    assert told(start) == [("start", ["slack"], True)], "what is in order is not among it"
    assert told(start, against("count", 2, "slack")) == told(start), "only days went by"
    assert told(start, against("count", 2, "slack", "damp"))[1:] == [("count", ["slack", "damp"], True)]
    assert told(start, against("count", 2, "slack", level="stop"))[1:] == [("count", ["slack"], True)]
    again = against("count", 2, "slack", override={"who": "Boris", "why": "rush"})
    assert told(start, again)[1:] == [("count", ["slack"], True)], "somebody overrode it now"
    assert told(start, entry("pause", 2), against("start", 3, "slack")) == [
        ("start", ["slack"], False), ("start", ["slack"], True)]  # fmt: skip
    assert told(against("count", 1)) == told(against("stop", 1, "slack")) == told(entry("count", 1)) == []
    assert told(replace(start, screen=21)) == [], "that is the screen's own"


def why(key: str = "slack", **numbers: Any) -> dict[str, Any]:
    return {"key": key, "numbers": numbers}


@pytest.mark.parametrize(("one", "other", "same"), [
    (why(age_d=3), why(age_d=4), True), (why(past_h=3), why(past_h=4), True), (why(advised=True), why(), True),
    (why(mean=20), why(mean=21), False), (why(), why("damp"), False), (why(days=3), why(days=4), False),
    (why(screens="A"), why(screens="B"), False), (why(images="A"), why(images="B"), False),
    (why(screens="A", **{VERSION: 2}), why(screens="B", **{VERSION: 2}), True),
    (why(images="A", **{VERSION: 2}), why(images="B", **{VERSION: 2}), True),
    (why(screens="A", **{VERSION: 2}), why(screens="A", **{VERSION: 3}), False),
])  # fmt: skip
def test_a_cause_is_the_same_while_only_the_clock_goes_on(one: Any, other: Any, same: bool) -> None:
    assert same_reasons([one], [other]) is same
    assert same_reasons([one, why("x")], [why("x"), other]) is same, "in any order"
    assert not same_reasons([one], [other, other])


# -- what asks for a first print again


def proofs(*lines: Entry, ways: Any = None) -> list[tuple[Any, ...]]:
    return [(one.why, one.station, one.field, one.was, one.now) for one in replay(lines, ways).to_approve]


HUNG = [entry("hang", 1, 21, station=1), entry("hang", 1, 22, station=2), entry("approve", 2)]


def test_what_asks_for_a_first_print_again() -> None:
    def bucket(hours: float, was: str, to: str, station: int = 1) -> Entry:
        return noted(hours, "bucket", to, station, was=was)

    other, same = entry("hang", 3, 23, station=1), entry("hang", 3, 21, station=1)
    pause = entry("pause", 2.5)
    assert proofs(*HUNG) == proofs(other) == []
    assert proofs(*HUNG, other) == [("swap", 1, "", 21, 23)]
    assert proofs(*HUNG, pause, other) == [("screen", 1, "", 21, 23)]
    assert proofs(*HUNG, pause, same) == [("pause", 1, "", 21, 21)]
    assert proofs(*HUNG, pause, entry("start", 2.8), other) == [("swap", 1, "", 21, 23)]
    assert proofs(*HUNG, pause, same, entry("hang", 4, 23, station=1)) == [("screen", 1, "", 21, 23)]
    assert proofs(*HUNG, other, entry("hang", 4, 24, station=1)) == [("swap", 1, "", 21, 24)]
    assert proofs(*HUNG, other, entry("approve", 5)) == []
    assert proofs(*HUNG, replace(other, screen=None)) == []
    assert proofs(*HUNG, bucket(3, "7", "8")) == [("ink", 1, "bucket", "7", "8")]
    assert proofs(*HUNG, bucket(3, "7", "8"), bucket(4, "8", "7")) == []
    assert proofs(*HUNG, bucket(3, "", "8")) == [], "the first one that was noted is what was approved"
    assert proofs(*HUNG, bucket(3, "", "8"), bucket(4, "8", "9")) == [("ink", 1, "bucket", "8", "9")]
    assert proofs(*HUNG, bucket(3, "7", "")) == []
    assert proofs(*HUNG, noted(3, "strokes", "3", 1, was="2")) == []
    order = proofs(*HUNG, bucket(4, "7", "8", 2), bucket(4, "7", "8", 1), entry("hang", 3, 24, station=2))
    assert [one[:2] for one in order] == [("swap", 2), ("ink", 1), ("ink", 2)]
    pulled = [*HUNG[:2], entry("pull", 1.5, 21), HUNG[2]]
    assert proofs(*pulled, same) == [("swap", 1, "", None, 21)], "approved without a screen there"


def test_a_sheet_after_the_approval_says_its_inks_anew() -> None:
    def sheet(hours: float, **part: str) -> Entry:
        return entry("sheet", hours, stations={"1": part})

    first = [sheet(1, bucket="7", ink="white"), entry("approve", 2)]
    assert proofs(*first, sheet(3, bucket="8", ink="white", strokes="3")) == [("ink", 1, "bucket", "7", "8")]
    assert proofs(*first, sheet(3, bucket="7", ink="white")) == []


def test_each_garment_wants_a_first_print_of_its_own() -> None:
    red, black = entry("approve", 2, **{GARMENT: "Tee, red"}), entry("approve", 5, **{GARMENT: "Tee, black"})
    first = [turn(0.5, "red"), *HUNG[:2], red]
    other = ("garment", None, "", "Tee, red", "Tee, black")
    assert proofs(*first, turn(3, "black"), ways=WAYS) == [other]
    assert proofs(turn(0.5, "red"), turn(3, "black"), ways=WAYS) == []
    assert proofs(*first, turn(3, "black"), black, ways=WAYS) == []
    back = [*first, turn(3, "black"), black, turn(6, "red")]
    assert proofs(*back, ways=WAYS) == [("back", None, "", "Tee, black", "Tee, red")]
    assert proofs(*first, turn(3, "black"), turn(4, "red"), ways=WAYS)[0][0] == "back"
    again = proofs(*first, turn(3, "red"), ways=WAYS)
    assert again == [], "it is on already"
    only_red = {"Tee, red": {1: "white", 2: "red"}, "Tee, black": {1: "white"}}
    swapped = entry("hang", 5.5, 24, station=2)
    assert [one[0] for one in proofs(*back[:-1], swapped, ways=only_red)] == [], "the black takes nothing there"
    assert [one[0] for one in proofs(*back[:-1], swapped, turn(6, "red"), ways=only_red)] == ["swap", "back"]
    pot = noted(5.5, "bucket", "8", 2, "Tee, black", was="7")
    assert [one[0] for one in proofs(*back[:-1], pot, turn(6, "red"), ways=WAYS)] == ["back"], "another pot"
    white = noted(5.5, "bucket", "8", 1, "Tee, black", was="7")
    assert [one[0] for one in proofs(*back[:-1], white, turn(6, "red"), ways=WAYS)] == ["ink", "back"]


def test_what_approvals_rest_on_is_led_on_from_what_was_kept() -> None:
    lines = [*ON_RED, *HUNG, turn(3, "black"), entry("pause", 4), entry("hang", 5, 24, station=2)]
    proof = begun(lines, WAYS)[1]
    for one in lines:
        proof.see(one)
    assert proof.paused and proof.since
    assert Proof.led_on(WAYS, json.loads(json.dumps(proof.kept()))) == proof
    assert proof.again()[0] == Again("garment", stamp(lines[-3].at), None, "", "Tee, red", "Tee, black")


# -- what nobody counted


@pytest.mark.parametrize(("lines", "left"), [
    ([entry("open", 0), entry("sheet", 1)], ()),
    ([entry("approve", 1)], ("",)),
    ([entry("start", 1)], ("",)),
    ([entry("start", 1), entry("count", 2, good=1)], ()),
    ([entry("start", 1), entry("count", 2, misprinted=1)], ()),
    ([entry("start", 1), entry("count", 2, good=0)], ("",)),
    ([turn(0, "red"), entry("start", 1), turn(2, "black"), entry("count", 3, good=4)], ("Tee, red",)),
    ([turn(0, "red"), entry("start", 1), entry("count", 1.5, good=4), turn(2, "black")], ("Tee, black",)),
    ([turn(0, "red"), turn(0.5, "black"), entry("start", 1)], ("Tee, black",)),
    ([turn(0, "red"), entry("start", 1), turn(2, "black"), entry("change", 3, what="x")], ("Tee, red", "Tee, black")),
])  # fmt: skip
def test_the_garments_that_were_begun_and_never_counted(lines: list[Entry], left: tuple[str, ...]) -> None:
    assert nothing_counted(lines) == left


def test_a_garment_or_strokes_that_changed_since_the_last_count() -> None:
    def said(*lines: Entry) -> Uncounted:
        return uncounted(lines, replay(lines))

    start = entry("start", 2)
    assert not said(turn(1, "red"), turn(1.5, "black"), start), "before the start nothing is printed"
    assert said(start, turn(3, "red")).garment == {} and bool(said(start, turn(3, "red")))
    assert not said(turn(1, "red"), start, turn(3, "black"), turn(4, "red")), "back to the one of before"
    along = replace(turn(3, "black"), saved_at=start.saved_at)
    assert not said(turn(1, "red"), start, along), "it came along with the start"
    assert said(turn(1, "red"), start, turn(3, "black"), turn(4, "white")).garment == turn(1, "red").values
    count = entry("count", 4, good=9)
    assert not said(turn(1, "red"), start, turn(3, "black"), count)
    assert not said(turn(1, "red"), start, count, replace(turn(3, "black"), at=count.at, saved_at=count.at, part=2))
    early = entry("change", 1, station=1, field="strokes", to="3", **{"from": "2"})
    assert not said(early, start)
    late, more = replace(early, at=START + timedelta(hours=3)), noted(4, "strokes", "4", 1, was="3")
    assert said(start, late, more).strokes == {1: "2"}


# -- the screens of a run


def test_a_screen_whose_hanging_was_crossed_out_is_told_so() -> None:
    hang, printed = entry("hang", 1, 21, station=3, head=5), entry("print", 2, 21, impressions=40)
    crossed = entry("cross-out", 3, entry=hang.entry)
    assert used([hang, printed, crossed]) == [Used(21, 3, 5, 40, unhung=True)]
    off = entry("pull", 2, 21, condition="good", then="keep")
    assert used([hang, off, crossed]) == [Used(21, 3, 5, condition="good", then="keep", unhung=True)]
    assert used([hang, crossed]) == used([printed]) == used([entry("note", 1, entry=hang.entry), printed]) == []
    assert used([hang, crossed, entry("found", 4, 21)]) == []
    again = entry("hang", 4, 21, station=3, head=6)
    assert used([hang, printed, crossed, again]) == [Used(21, 3, 6, 40)], "it hangs after all"
    assert used([replace(hang, entry="other"), printed, crossed]) == [Used(21, 3, 5, 40)]


def test_a_screen_that_hung_twice_is_one_of_each_print_order() -> None:
    lines = [entry("hang", 1, 21, station=2, head=5), entry("print", 2, 21, impressions=40), entry("pull", 3, 21),
             entry("hang", 4, 21, station=1, head=5), entry("print", 5, 21, impressions=7)]  # fmt: skip
    assert used(lines) == [Used(21, 1, 5, 7), Used(21, 2, 5, 40)]
    back = entry("hang", 6, 21, station=2, head=1)
    assert used([*lines, back])[1] == Used(21, 2, 1, 40)
    kept = [*lines[:2], entry("pull", 3, 21, condition="good", then="undecided"), entry("decide", 4, 21, then="strip")]
    assert used(kept) == [Used(21, 2, 5, 40, "good", "strip")]
    assert used([*lines[:2], entry("print", 2.5, 21)]) == [Used(21, 2, 5, 40)]
    assert used([entry("hang", 1, 21)]) == [Used(21, 0, None)]


def late(step: str, hours: float, **more: Any) -> Entry:
    """Noted when all was over."""
    return replace(entry(step, hours, **more), saved_at=START + timedelta(hours=9))


BREAK = [
    entry("start", 1), entry("count", 2, good=10), entry("pause", 3), entry("start", 4), entry("count", 5, good=20),
    entry("change", 6, what="colourway", garment_style="Tee", garment_colour="red"), entry("count", 7, good=30),
]  # fmt: skip


@pytest.mark.parametrize(
    ("lines", "doubtful"),
    [
        ([], []),
        ([late("count", 0.5)], [("start", 1), ("count", 2)]),
        ([late("stop", 0.5)], []),  # while it is set up
        ([late("stop", 1.5)], []),
        ([late("count", 1.5)], [("count", 2)]),
        ([late("count", 3.5)], [("pause", 3), ("count", 5)]),
        ([late("stop", 3.5)], [("pause", 3)]),
        ([late("count", 4.5)], [("count", 5)]),
        ([late("count", 5.5)], []),  # the next one is of another garment
        ([late("count", 6.5)], [("count", 7)]),
        ([late("count", 8)], []),
        ([late("note", 1.5), late("note", 3.5)], []),
        ([late("count", 1.5), late("cross-out", 9, entry="count2None")], [("count", 5)]),
        ([replace(late("count", 2.5), screen=21)], []),
    ],
)  # fmt: skip
def test_what_a_late_line_makes_doubtful(lines: list[Entry], doubtful: list[tuple[str, float]]) -> None:
    assert made_doubtful([*BREAK, *lines]) == tuple(entry(step, hours).entry for step, hours in doubtful)
    put_off = [replace(one, values={"later": "yes"}) if one.step == "pause" else one for one in BREAK]
    left = tuple(entry(step, hours).entry for step, hours in doubtful if step != "pause")
    assert made_doubtful([*put_off, *lines]) == left
