"""A screen's life: what every step means at every standing, and what a screen has been through.

The tables below are written from how a screen room works (common practice, and the meanings of the words that the
design fixes), not from the program.
"""

from __future__ import annotations

import ast
import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tickets.domain import stages
from tickets.domain.entry import Entry, stamp, standing_lines
from tickets.domain.screens import screen as rules
from tickets.domain.screens.screen import Life, next_step
from tickets.domain.screens.screen_log import replay
from tickets.domain.stages import LOGGED_BY_DEFAULT, MOVES, Standing
from tickets.domain.steps import SCREEN_STEPS

START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
SHORT = ("image", "check", "hang")
"""What a shop logs that logs only imaging, checking and hanging."""
OUTSIDE = 99
ANNA, BORIS = 1, 2


class Log:
    """A screen's log, typed one step an hour."""

    def __init__(self, logged: tuple[str, ...] = LOGGED_BY_DEFAULT) -> None:
        self.logged = logged
        self.entries: list[Entry] = []

    def add(self, step: str, person: int = ANNA, days: float | None = None, **values: Any) -> Log:
        number = len(self.entries)
        at = START + (timedelta(hours=number) if days is None else timedelta(days=days))
        self.entries.append(
            Entry(entry=f"e{number}", step=step, at=at, saved_at=at, person=person, screen=1, run=values.get("run"),
                  values=values)
        )  # fmt: skip
        return self

    @property
    def life(self) -> Life:
        return replay(self.entries, self.logged, {OUTSIDE})

    def to(self, standing: str) -> Log:
        """Goes the plain way round until `standing`."""
        for step, values, reached in WAY:
            self.add(step, **values)
            if reached == standing:
                break
        return self


WAY: list[tuple[str, dict[str, Any], str]] = [
    ("stretch", {"mesh_count_as_labelled": "230/in", "thread_um": 48.0, "frame": "aluminium"}, "bare"),
    ("degrease", {}, "degreased"),
    ("coat", {"bucket": 4}, "coated"),
    ("image", {"separations": [11]}, "imaged"),
    ("expose", {"exposure_s": 60.0, "exposure_unit": "Unit A"}, "exposed"),
    ("washout", {"result": "good"}, "to check"),
    ("check", {"result": "good"}, "ready"),
    ("hang", {"run": 5, "head": 2, "station": 1}, "on press"),
    ("print", {"run": 5, "impressions": 120}, ""),
    ("pull", {"run": 5, "condition": "good", "then": "undecided"}, "to clean"),
    ("decide", {"then": "strip"}, ""),
    ("clean", {}, "to strip"),
    ("strip", {}, "stripped"),
]


def at_standing(standing: str, logged: tuple[str, ...] = LOGGED_BY_DEFAULT) -> Log:
    """A log that stands at `standing`, by the way that leads there in a shop."""
    log = Log(logged)
    match standing:
        case "unknown":
            return log
        case "kept":
            return log.to("on press").add("pull", run=5, condition="good", then="keep")
        case "to restretch":
            return log.to("stripped").add("fault", kind="slack", then="restretch")
        case "away":
            return log.to("ready").add("rack", place=OUTSIDE)
        case "retired":
            return log.to("stripped").add("retire", cause="frame")
        case _:
            return log.to(standing)


# The columns: unknown, bare, degreased, coated, imaged, exposed, to check, ready, on press, to clean, kept, to strip,
# stripped, to restretch, away (it left when ready), retired.
COLUMNS = "un ba de co im ex tc re op cl ke st sd rs aw rt".split()
NAMES = dict(zip(COLUMNS, [str(standing) for standing in Standing], strict=True))

# In the cells: the standing that follows; "." it stays; "?" the log says otherwise (asked once, else a conflict);
# "+" a forgotten step is marked. The values of a step stand after its name.
TABLE = """
                                    un  ba  de  co  im  ex  tc  re  op  cl  ke  st  sd  rs  aw  rt
stretch                             ba  ba  ba  ba  ba  ba  ba  ba  ba  ba  ba  ba  ba  ba  ba  ?
retension                           .   .   .   .   .   .   .   .   .   .   .   .   .   sd  ?   ?
tension                             .   .   .   .   .   .   .   .   .   .   .   .   .   .   ?   ?
degrease                            ?   de  .   ?   ?   ?   ?   ?   ?   ?   ?   ?   de  ?   ?   ?
coat                                ?   co+ co  .   ?   ?   ?   ?   ?   ?   ?   ?   co+ ?   ?   ?
image                               ?   ?   ?   im  .   ?   ?   ?   ?   ?   ?   ?   ?   ?   ?   ?
expose                              ?   ?   ?   ?   ex  ?   ?   ?   ?   ?   ?   ?   ?   ?   ?   ?
expose separations=[11]             ?   ?   ?   ex  ex  ?   ?   ?   ?   ?   ?   ?   ?   ?   ?   ?
expose purpose='test_strip'         ?   ?   ?   ex  ex  ?   ?   ?   ?   ?   ?   ?   ?   ?   ?   ?
washout result='good'               ?   ?   ?   ?   tc+ tc  .   ?   ?   ?   ?   ?   ?   ?   ?   ?
washout result='fault',fault='pinholes' ? ? ?   ?   tc+ tc  .   ?   ?   ?   ?   ?   ?   ?   ?   ?
washout result='fault',fault='soft' ?   ?   ?   ?   st+ st  st  ?   ?   ?   ?   ?   ?   ?   ?   ?
check result='good'                 ?   ?   ?   ?   ?   ?   re  .   .   .   .   ?   ?   ?   ?   ?
check result='fault'                ?   ?   ?   ?   ?   ?   st  st  .   .   st  ?   ?   ?   ?   ?
check                               ?   ?   ?   ?   ?   ?   .   .   .   .   .   ?   ?   ?   ?   ?
harden                              ?   ?   ?   ?   ?   ?   .   .   ?   ?   .   ?   ?   ?   ?   ?
hang run=6,station=1                ?   ?   ?   ?   ?   ?   op+ op  ?   ?   op  ?   ?   ?   ?   ?
print run=5,impressions=10          ?   ?   ?   ?   ?   ?   ?   ?   .   ?   ?   ?   ?   ?   ?   ?
print run=6,impressions=10          ?   ?   ?   ?   ?   ?   ?   ?   ?   ?   ?   ?   ?   ?   ?   ?
pull                                ?   ?   ?   ?   ?   ?   ?   ?   cl  ?   ?   ?   ?   ?   ?   ?
pull then='keep'                    ?   ?   ?   ?   ?   ?   ?   ?   ke  ?   ?   ?   ?   ?   ?   ?
pull then='strip'                   ?   ?   ?   ?   ?   ?   ?   ?   cl  ?   ?   ?   ?   ?   ?   ?
pull condition='torn'               ?   ?   ?   ?   ?   ?   ?   ?   rs  ?   ?   ?   ?   ?   ?   ?
clean                               ?   ?   ?   ?   ?   ?   ?   ?   ?   ke  .   .   ?   .   ?   ?
decide then='keep'                  ?   ?   ?   ?   ?   ?   .   ke  ?   ke  .   ke  ?   ?   ?   ?
decide then='strip'                 ?   ?   ?   ?   ?   ?   st  st  ?   .   st  .   ?   ?   ?   ?
rack place=3                        .   .   .   .   .   .   .   .   ?   .   .   .   .   .   re  ?
rack place=99                       aw  aw  aw  aw  aw  aw  aw  aw  ?   aw  aw  aw  aw  aw  .   ?
strip                               sd  ?   ?   sd  sd  sd  sd  sd  ?   sd  sd  sd  .   .   ?   ?
haze                                ?   .   sd  ?   ?   ?   ?   ?   ?   ?   ?   ?   .   ?   ?   ?
fault kind='ghost',then='use_on'    .   .   .   .   .   .   .   .   .   .   .   .   .   .   .   ?
fault kind='torn'                   rs  rs  rs  rs  rs  rs  rs  rs  rs  rs  rs  rs  rs  .   rs  ?
found standing_seen='ready'         re  re  re  re  re  re  re  .   re  re  re  re  re  re  re  re
found standing_seen='coated'        co  co  co  .   co  co  co  co  co  co  co  co  co  co  co  co
found standing_seen='unknown'       .   un  un  un  un  un  un  un  un  un  un  un  un  un  re  .
retag                               .   .   .   .   .   .   .   .   .   .   .   .   .   .   .   .
retire cause='frame'                rt  rt  rt  rt  rt  rt  rt  rt  rt  rt  rt  rt  rt  rt  rt  .
note                                .   .   .   .   .   .   .   .   .   .   .   .   .   .   .   .
"""


def cells() -> list[tuple[str, str, str]]:
    found = []
    for line in TABLE.strip().splitlines()[1:]:
        parts = line.split()
        step, outcomes = " ".join(parts[: -len(COLUMNS)]), parts[-len(COLUMNS) :]
        found += [(step, NAMES[column], outcome) for column, outcome in zip(COLUMNS, outcomes, strict=True)]
    return found


def values_of(text: str) -> tuple[str, dict[str, Any]]:
    step, _space, values = text.partition(" ")
    call = ast.parse(f"values({values})", mode="eval").body
    assert isinstance(call, ast.Call)
    read = {str(word.arg): ast.literal_eval(word.value) for word in call.keywords}
    spaced = {"test_strip": "test strip", "use_on": "use on"}
    return step, {name: spaced.get(value, value) if isinstance(value, str) else value for name, value in read.items()}


def test_the_table_names_every_step_and_every_standing() -> None:
    assert (
        {values_of(step)[0] for step, _standing, _outcome in cells()} == set(MOVES) == set(SCREEN_STEPS) - {"cross-out"}
    )
    assert {standing for _step, standing, _outcome in cells()} == {str(standing) for standing in Standing}
    for standing in Standing:
        assert at_standing(str(standing)).life.standing is standing


@pytest.mark.parametrize("row", TABLE.strip().splitlines()[1:], ids=lambda row: " ".join(row.split()[:-16]))
def test_what_follows_at_every_standing(row: str) -> None:
    step_text = " ".join(row.split()[:-16])
    step, values = values_of(step_text)
    for _same, standing, outcome in [cell for cell in cells() if cell[0] == step_text]:
        before = at_standing(standing)
        was = before.life
        after = before.add(step, **values).life
        expected = NAMES.get(outcome.rstrip("+"), standing if outcome == "." else "unknown")
        told = f"{step_text} at {standing}"
        assert str(after.standing) == expected, told
        assert (len(after.conflicts) > len(was.conflicts)) == (outcome == "?"), told
        assert after.conflict == (outcome == "?"), told
        if outcome.endswith("+"):
            assert after.gaps and after.gaps[-1][0] == after_id(before), told
        elif outcome != "?":
            assert len(after.gaps) <= len(was.gaps), told


def after_id(log: Log) -> str:
    return log.entries[-1].entry


# Forgotten steps ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("at", "step", "values", "missing"),
    [
        ("bare", "coat", {}, "degrease"),
        ("stripped", "coat", {}, "degrease"),
        ("imaged", "washout", {"result": "good"}, "expose"),
        ("to check", "hang", {"run": 6}, "check"),
    ],
)
def test_a_forgotten_step_is_marked_only_where_the_shop_logs_it(
    at: str, step: str, values: dict[str, Any], missing: str
) -> None:
    life = at_standing(at).add(step, **values).life
    assert not life.conflict
    assert life.missed(missing)
    without = tuple(name for name in LOGGED_BY_DEFAULT if name != missing)
    log = at_standing(at, without) if missing != "check" else Log(without).to("to check")
    life = log.add(step, **values).life
    assert not life.conflict and not life.conflicts
    assert not life.missed(missing)


def test_a_washout_implies_an_exposure_of_unknown_values() -> None:
    life = at_standing("imaged").add("washout", result="good").life
    assert life.stencil is not None
    assert life.stencil.exposed_at == life.stencil.washed_at
    assert life.stencil.exposure_s is None


def test_strip_implies_clean() -> None:
    life = at_standing("to clean").add("strip").life
    assert life.standing is Standing.STRIPPED
    assert life.gaps == () and not life.conflicts


def test_a_late_check_makes_up_for_the_missing_one() -> None:
    log = at_standing("to check").add("hang", run=6)
    assert log.life.missed("check")
    assert not log.add("check", result="good").life.missed("check")
    assert log.life.standing is Standing.ON_PRESS


def test_a_gap_belongs_to_its_stencil() -> None:
    log = at_standing("to check").add("hang", run=6)
    log.add("pull", run=6, then="strip").add("strip").add("degrease").add("coat").add("image", separations=[12])
    assert log.life.gaps == ()


def test_a_shop_that_logs_only_imaging_checking_and_hanging_is_asked_nothing() -> None:
    log = Log(SHORT).add("stretch", mesh_count_as_labelled="90/cm")
    for turn in range(4):
        then = ("strip", "undecided", "strip", "")[turn]
        log.add("image", separations=[20 + turn])
        assert log.life.standing is Standing.IMAGED
        log.add("check", result="good")
        assert log.life.standing is Standing.READY
        log.add("hang", run=turn + 1, station=1)
        log.add("print", run=turn + 1, impressions=50)
        log.add("pull", run=turn + 1, then=then)
        life = log.life
        assert life.conflicts == () and life.gaps == ()
        assert life.stencil is not None and life.stencil.separations == (20 + turn,)
    assert (life.uses, life.impressions, life.stencils) == (4, 200, 4)
    assert life.cycles == 3  # three stencils must have come off; the fourth is still on
    # it never says "to clean": nobody here logs the cleaning, so a screen would wait at it for ever
    assert life.standing is Standing.KEPT


def test_in_that_shop_a_failed_check_leads_to_a_new_image() -> None:
    log = Log(SHORT).add("stretch", mesh_count_as_labelled="90/cm").add("image", separations=[1])
    log.add("check", result="fault", fault="detail lost").add("image", separations=[1])
    assert log.life.standing is Standing.IMAGED and not log.life.conflicts
    assert log.life.stencil is not None and not log.life.stencil.failed


def test_there_a_screen_that_somebody_wants_kept_is_asked_about() -> None:
    log = Log(SHORT).add("stretch", mesh_count_as_labelled="90/cm").add("image", separations=[1])
    log.add("check", result="good").add("hang", run=1).add("pull", run=1, then="keep")
    assert log.add("image", separations=[2]).life.conflict


def test_a_good_washout_gives_ready_in_a_shop_that_does_not_log_checks() -> None:
    without = tuple(step for step in LOGGED_BY_DEFAULT if step != "check")
    assert Log(without).to("exposed").add("washout", result="good").life.standing is Standing.READY
    assert Log(without).to("exposed").add("washout").life.standing is Standing.TO_CHECK  # nobody said that it is good
    assert Log(without).to("exposed").add("washout", result="fault", fault="scum").life.standing is Standing.TO_STRIP


# The stencil -------------------------------------------------------------------------------------------------


def test_a_further_coat_before_exposure_stays_on_the_same_stencil() -> None:
    log = Log().to("degreased").add("coat", bucket=4, days=1).add("coat", days=2)
    stencil = log.life.stencil
    assert stencil is not None
    assert (stencil.number, stencil.coats, stencil.bucket) == (1, 2, 4)
    assert stencil.coated_at == stamp(START + timedelta(days=2))
    assert (log.life.stencils, log.life.cycles) == (1, 0)


def test_ganged_images_are_all_on_the_stencil() -> None:
    log = Log().to("imaged").add("image", separations=[12, 13]).add("image", separations=[12])
    assert log.life.stencil is not None and log.life.stencil.separations == (11, 12, 13)
    assert log.life.stencils == 1


def test_an_exposure_can_name_the_image() -> None:
    log = Log().to("coated").add("expose", separations=[11, 12], exposure_s=60)
    assert log.life.stencil is not None and log.life.stencil.separations == (11, 12)
    assert log.life.standing is Standing.EXPOSED and log.life.stencil.coats == 1


def test_a_test_strip_never_becomes_a_stencil_for_the_press() -> None:
    for result in ("good", "fault"):
        log = Log().to("coated").add("expose", purpose="test strip", exposure_s=60).add("washout", result=result)
        assert log.life.standing is Standing.TO_STRIP
        assert log.add("decide", then="keep").life.standing is Standing.TO_STRIP
        assert log.add("check", result="good").life.standing is not Standing.READY


def test_a_failed_washout_is_good_again_after_a_good_check() -> None:
    log = Log().to("exposed").add("washout", result="fault", fault="pinholes")
    assert log.life.stencil is not None and log.life.stencil.failed
    log.add("check", result="good")
    assert log.life.stencil is not None and not log.life.stencil.failed
    assert log.life.standing is Standing.READY and not log.life.conflicts
    log = Log().to("exposed").add("washout", result="fault", fault="soft").add("check", result="good")
    assert log.life.standing is Standing.READY and not log.life.conflicts


def test_a_fault_found_later_counts() -> None:
    log = Log().to("ready").add("check", result="fault", fault="pinholes")
    assert log.life.stencil is not None and log.life.stencil.failed
    assert log.life.standing is Standing.TO_STRIP


def test_a_substitute_mesh_is_accepted_for_the_image_put_on_then() -> None:
    log = Log().to("coated").add("image", separations=[11], accept={"who": "Anna", "why": "none free"})
    log.add("image", separations=[12])
    assert log.life.stencil is not None and log.life.stencil.accepted is not None
    assert log.life.stencil.accepted["separations"] == [11]
    assert log.life.stencil.accepted["who"] == "Anna"
    assert log.to("stripped").life.stencil is None


# Against the log ---------------------------------------------------------------------------------------------


def test_in_hand_means_found_and_then_the_step() -> None:
    log = Log().to("on press").add("print", run=5, impressions=10)
    log.add("found", standing_seen="stripped").add("degrease")
    life = log.life
    assert life.standing is Standing.DEGREASED and not life.conflicts
    assert (life.run, life.uses, life.cycles, life.stencil) == (None, 1, 1, None)


def test_what_is_asked_in_hand_goes_with_the_step() -> None:
    """Whatever the log says: `found` with the standing that the step asks for, then the step, leaves no conflict."""
    values = {"washout": {"result": "good"}, "check": {"result": "good"}, "image": {"separations": [1]}}
    for step in MOVES:
        for standing in Standing:
            if step == "hang" and standing is Standing.RETIRED:
                continue  # asked nowhere: the press stops a retired frame
            log = at_standing(str(standing)).add("found", standing_seen=str(stages.asked_standing(step)))
            if standing is Standing.RETIRED and stages.asked_standing(step) is Standing.UNKNOWN:
                continue  # measuring a retired frame does not bring it back
            log.add(step, **values.get(step, {}))
            assert not log.life.conflicts, f"{step} at {standing}"


def test_named_by_eye_until_another_person_checks_it() -> None:
    log = Log().to("stripped").add("found", person=ANNA, standing_seen="kept", separations_seen=[31, 32])
    assert log.life.standing is Standing.KEPT
    assert log.life.stencil is not None
    assert (log.life.stencil.by_eye, log.life.stencil.separations) == (ANNA, (31, 32))
    assert log.life.stencil.bucket is None, "nobody knows the emulsion of a stencil found so"
    log.add("check", person=ANNA, result="good")
    assert log.life.stencil is not None and log.life.stencil.by_eye == ANNA
    log.add("check", person=BORIS, result="fault")
    assert log.life.stencil is not None and log.life.stencil.by_eye == ANNA
    log.add("check", person=BORIS, result="good")
    assert log.life.stencil is not None and log.life.stencil.by_eye is None


def test_seeing_what_the_log_says_is_not_naming_by_eye() -> None:
    log = Log().to("ready").add("found", standing_seen="ready", separations_seen=[11])
    assert log.life.stencil is not None
    assert (log.life.stencil.by_eye, log.life.stencil.check) == (None, "good")
    log.add("found", standing_seen="ready", separations_seen=[12])
    assert log.life.stencil is not None
    assert (log.life.stencil.by_eye, log.life.stencil.check) == (ANNA, "")


def test_a_further_image_does_not_end_naming_by_eye() -> None:
    log = (
        Log().to("stripped").add("found", standing_seen="imaged", separations_seen=[31]).add("image", separations=[32])
    )
    assert log.life.stencil is not None and log.life.stencil.by_eye == ANNA


def test_found_keeps_the_coat_that_the_log_knows() -> None:
    log = Log().to("coated").add("found", standing_seen="imaged", separations_seen=[31])
    assert log.life.stencil is not None
    assert (log.life.stencil.bucket, log.life.stencil.by_eye) == (4, ANNA)


@pytest.mark.parametrize(
    ("stage", "another"), [("coated", 0), ("exposed", 0), ("to check", 1), ("ready", 1), ("kept", 1)]
)
def test_an_image_that_waits_for_its_light_is_on_another_stencil_than_one_that_was_washed_out(
    stage: str, another: int
) -> None:
    """Nobody wrote down the strip and the coat between: they count all the same, and what was said of the old stencil
    is said of the new one no more."""
    log = at_standing(stage)
    old = log.life
    new = log.add("found", standing_seen="imaged").add("expose", separations=[44]).life
    assert old.stencil is not None and new.stencil is not None
    assert (new.cycles - old.cycles, new.stencils - old.stencils) == (another, another)
    assert new.stencil.bucket == (None if another else old.stencil.bucket)
    assert (44 in new.stencil.separations) and (set(old.stencil.separations) <= set(new.stencil.separations)) != another


@pytest.mark.parametrize(("begun", "cycles", "images"), [("ready", 1, (5,)), ("imaged", 0, (11, 5))])
def test_where_the_log_is_unclear_an_image_goes_onto_what_was_not_yet_exposed(
    begun: str, cycles: int, images: tuple[int, ...]
) -> None:
    life = Log().to(begun).add("degrease").add("image", separations=[5]).life
    assert life.conflict and life.cycles == cycles
    assert life.stencil is not None and life.stencil.separations == images and not life.stencil.exposed_at


@pytest.mark.parametrize(
    ("step", "values", "reached"),
    [
        ("found", {"standing_seen": "ready"}, "ready"),
        ("found", {"standing_seen": "unknown"}, "unknown"),
        ("stretch", {"mesh_count_as_labelled": "90/cm"}, "bare"),
        ("strip", {}, "stripped"),
    ],
)
def test_a_conflict_reads_unknown_until_it_is_cleared(step: str, values: dict[str, Any], reached: str) -> None:
    log = Log().to("ready").add("degrease")
    assert log.life.conflict and log.life.standing is Standing.UNKNOWN
    assert log.life.conflicts == ("e7",)
    for quiet in ("note", "tension", "rack", "coat"):
        log.add(quiet, place=3, readings_n_per_cm=[25])
        assert log.life.conflict and log.life.standing is Standing.UNKNOWN
    assert log.life.conflicts == ("e7",), "one conflict is marked once"
    log.add(step, **values)
    assert str(log.life.standing) == reached
    assert not log.life.conflict
    assert log.life.conflicts == ("e7",), "the mark stays to be read"


def test_an_unclear_log_stays_unclear_through_a_trip() -> None:
    log = Log().to("ready").add("degrease").add("rack", place=OUTSIDE).add("rack", place=3)
    assert log.life.conflict and log.life.standing is Standing.UNKNOWN


def test_while_the_log_is_unclear_the_stencil_goes_on() -> None:
    """The coat was crossed out by mistake: what follows is one stencil still, not one for each step."""
    log = Log().to("ready")
    log.add("cross-out", entry="e2")
    life = log.life
    assert life.conflict
    assert life.stencil is not None and life.stencil.separations == (11,)
    assert (life.stencils, life.cycles) == (1, 0)


def test_while_the_log_is_unclear_a_coat_begins_a_stencil_once() -> None:
    log = Log().to("ready").add("coat", bucket=7).add("coat", bucket=7)
    stencil = log.life.stencil
    assert log.life.conflict and stencil is not None
    assert (stencil.number, stencil.coats, stencil.separations) == (2, 2, ())
    assert (log.life.stencils, log.life.cycles) == (2, 1), "the old stencil must have come off"
    stencil = log.add("image", separations=[12]).add("coat").life.stencil
    assert stencil is not None and (stencil.number, stencil.coats, stencil.separations) == (3, 1, ())


# Uses, keeping, tearing, places --------------------------------------------------------------------------------


def test_uses_impressions_and_cycles() -> None:
    """Use: hung to pulled with at least one impression. Impression: one stroke. Cycle: one stripping."""
    log = Log().to("ready")
    log.add("hang", run=5).add("pull", run=5, then="keep")
    assert (log.life.uses, log.life.impressions) == (0, 0), "hung and never printed is no use"
    log.add("hang", run=6).add("print", run=6, impressions=100).add("print", run=6, impressions=20)
    assert (log.life.uses, log.life.impressions, log.life.hung_impressions) == (0, 120, 120)
    log.add("pull", run=6, then="strip").add("clean").add("strip")
    assert (log.life.uses, log.life.impressions, log.life.cycles) == (1, 120, 1)
    log.add("strip")
    assert log.life.cycles == 1, "a second pass over an empty mesh is no second stripping"
    log.add("degrease").add("coat").add("strip")
    assert (log.life.cycles, log.life.stencils) == (2, 2)
    log.add("stretch", mesh_count_as_labelled="43/cm")
    assert (log.life.uses, log.life.impressions, log.life.cycles, log.life.meshes) == (0, 0, 0, 2)


def test_keep_strip_and_undecided() -> None:
    for then, after_pull, after_clean in (("keep", "kept", "kept"), ("strip", "to clean", "to strip"),
                                          ("undecided", "to clean", "kept")):  # fmt: skip
        log = Log().to("on press").add("pull", run=5, then=then)
        assert str(log.life.standing) == after_pull
        assert str(log.add("clean").life.standing) == after_clean
    log = at_standing("kept").add("decide", then="keep", until="2026-12-01", **{"for": "the spring repeat"})
    assert (log.life.decided, log.life.keep_until, log.life.keep_for) == ("keep", "2026-12-01", "the spring repeat")
    log.add("strip")
    assert (log.life.decided, log.life.keep_until, log.life.keep_for) == ("", "", "")


def test_a_failed_stencil_is_not_kept() -> None:
    log = Log().to("exposed").add("washout", result="fault", fault="soft").add("decide", then="keep")
    assert log.life.standing is Standing.TO_STRIP


def test_torn_stays_torn_until_new_mesh() -> None:
    log = Log().to("on press").add("print", run=5, impressions=3).add("pull", run=5, condition="torn", then="keep")
    assert log.life.standing is Standing.TO_RESTRETCH and log.life.torn
    assert log.life.uses == 1
    for seen in ("bare", "ready", "stripped"):
        assert log.add("found", standing_seen=seen).life.torn
    log.add("retension").add("found", standing_seen="to restretch").add("strip")
    assert log.life.standing is Standing.TO_RESTRETCH and log.life.torn
    log.add("stretch", mesh_count_as_labelled="90/cm")
    assert log.life.standing is Standing.BARE and not log.life.torn


def test_new_mesh_keeps_mark_and_frame() -> None:
    log = Log().add("stretch", mesh_count_as_labelled="230/in", frame="roller", mark="A 12", frame_size_mm="585 x 790")
    log.add("stretch", mesh_count_as_labelled="43/cm", thread_um=80)
    assert log.life.mesh is not None
    assert (log.life.mark, log.life.mesh.frame, log.life.mesh.frame_size_mm) == ("A 12", "roller", "585 x 790")
    assert log.life.mesh.said == "43/cm · 80 µm"
    assert log.life.mesh.count_per_cm == 43


def test_away_and_back() -> None:
    for standing in ("bare", "coated", "ready", "kept", "stripped"):
        log = at_standing(standing).add("rack", place=OUTSIDE)
        assert log.life.standing is Standing.AWAY and str(log.life.under) == standing
        log.add("note").add("retag")
        log.add("rack", place=3)
        assert str(log.life.standing) == standing and log.life.place == 3
    log = at_standing("away").add("found", standing_seen="kept")
    assert log.life.standing is Standing.KEPT
    assert log.life.place is None, "found here: not at the place outside any more"
    log = at_standing("ready").add("rack", place=3).add("found", standing_seen="kept")
    assert log.life.place == 3


def test_a_step_while_away_after_it_was_found_keeps_what_it_was() -> None:
    log = at_standing("away").add("found", standing_seen="unknown").add("tension", readings_n_per_cm=[24])
    assert log.life.standing is Standing.READY and not log.life.conflicts


def test_a_retired_frame_stays_known_as_retired() -> None:
    log = at_standing("retired").add("tension", readings_n_per_cm=[20])
    assert log.life.conflict and log.life.under is Standing.RETIRED
    assert log.add("coat").life.under is Standing.RETIRED
    assert log.add("found", standing_seen="unknown").life.standing is Standing.RETIRED
    assert log.add("found", standing_seen="bare").life.under is Standing.BARE


def test_readings_age_by_stencils_and_go_with_retensioning() -> None:
    log = Log().to("bare").add("tension", readings_n_per_cm=[25, 24.5, 24, 25.5, 24], readings_weft_n_per_cm=[23])
    tension = log.life.tension
    assert tension is not None
    assert (tension.stencils_since, tension.minimum_n_per_cm) == (0, 23)
    assert tension.mean_n_per_cm == pytest.approx(146 / 6)
    log.add("degrease").add("coat").add("coat").add("strip").add("coat")
    assert log.life.tension is not None and log.life.tension.stencils_since == 2
    log.add("tension").add("tension", readings_n_per_cm=[])
    assert log.life.tension is not None and log.life.tension.stencils_since == 2, "no reading is no measurement"
    assert log.add("retension").life.tension is None


def test_slack_mesh_retensioned_on_its_roller_frame_is_of_use_again() -> None:
    log = at_standing("to restretch")
    assert log.life.fault == "slack"
    assert log.add("retension").life.standing is Standing.STRIPPED
    assert log.life.fault == ""


def test_since_is_when_the_standing_began() -> None:
    log = Log().to("ready")
    since = log.life.since
    assert log.add("rack", place=3).add("tension", readings_n_per_cm=[25]).life.since == since
    assert log.life.last_step == "tension" and log.life.last_at > since


# Crossing out --------------------------------------------------------------------------------------------------


def test_crossed_out_entries_count_for_nothing() -> None:
    log = Log().to("ready").add("check", result="fault").add("cross-out", entry="e7", why="another screen")
    assert log.life == Log().to("ready").life


def test_a_crossing_out_is_final() -> None:
    log = Log().to("ready").add("check", result="fault").add("cross-out", entry="e7").add("cross-out", entry="e8")
    assert log.life == Log().to("ready").life


def test_what_depends_on_a_crossed_out_entry_is_marked() -> None:
    log = Log().to("ready").add("cross-out", entry="e5", why="it was another screen")
    assert log.life.conflicts == ("e6",) and log.life.standing is Standing.UNKNOWN
    log = Log().to("ready").add("cross-out", entry="e4")  # the exposure: forgiven, and marked
    assert log.life.standing is Standing.READY and log.life.missed("expose")


def test_a_crossing_out_that_names_nothing_changes_nothing() -> None:
    log = Log().to("ready").add("cross-out").add("cross-out", entry="no such").add("cross-out", entry=7)
    assert log.life == Log().to("ready").life


# The order, and any log at all ---------------------------------------------------------------------------------------


def test_the_time_of_the_act_orders_not_the_typing() -> None:
    log = Log().to("to check")
    late = Log().add("check", result="good", days=3).entries[0]
    early = replace(late, entry="late", step="rack", values={"place": 3}, at=START + timedelta(minutes=90))
    life = replay([late, *log.entries, early])
    assert life.standing is Standing.READY and not life.conflicts
    assert (life.place, life.last_step) == (3, "check")


def test_at_the_same_time_the_order_of_saving_and_parts_counts() -> None:
    at, later = START + timedelta(days=1), START + timedelta(days=1, minutes=1)
    found = Entry(
        entry="z-1", step="found", part=1, at=at, saved_at=later, person=1, values={"standing_seen": "coated"}
    )
    image = Entry(entry="a-2", step="image", part=2, at=at, saved_at=later, person=1, values={"separations": [1]})
    note = Entry(entry="b", step="strip", part=1, at=at, saved_at=at, person=1)
    assert [entry.step for entry in standing_lines([image, note, found])] == ["strip", "found", "image"]
    assert replay([image, note, found]).standing is Standing.IMAGED


VALUES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-5, 40),
    st.integers(),
    st.floats(),
    st.sampled_from(
        ["good", "fault", "pinholes", "torn", "keep", "strip", "undecided", "restretch", "use on", "slack",
         "test strip",
         "230/in", "90/cm", "0/in", "nan/in", "x", "", "ready", "kept", "away", "unknown", "retired", "coated", "e1"]
    ),
    st.text(max_size=5),
    st.lists(st.one_of(st.integers(-1, 20), st.floats(), st.none(), st.text(max_size=2)), max_size=4),
    st.dictionaries(st.sampled_from(["who", "separations"]), st.one_of(st.text(max_size=3), st.none()), max_size=2),
)  # fmt: skip
FIELDS = sorted({field.name for step in SCREEN_STEPS.values() for field in step.fields} | {"accept", "press", "x"})
STEPS = [*SCREEN_STEPS, "open", "count", "no such step"]


@st.composite
def logs(draw: st.DrawFn) -> list[Entry]:
    """Any entries of one screen: any step, any values, any times, many at the same time."""
    made = []
    for number in range(draw(st.integers(0, 14))):
        at = START + timedelta(hours=draw(st.integers(0, 8)))
        step = draw(st.sampled_from(STEPS))
        values: Mapping[str, Any] = draw(st.dictionaries(st.sampled_from(FIELDS), VALUES, max_size=4))
        if draw(st.booleans()):  # sensible ones as well, or nothing but conflicts would be tried
            values = {**dict(WAY_VALUES).get(step, {}), "standing_seen": draw(st.sampled_from(list(Standing)))}
        made.append(
            Entry(entry=f"e{number}", step=step, at=at, saved_at=at, part=draw(st.integers(1, 2)),
                  person=draw(st.integers(1, 3)), screen=1, run=draw(st.sampled_from([None, 5, 6])), values=values)
        )  # fmt: skip
    return made


WAY_VALUES = [(step, values) for step, values, _standing in WAY]
LOGGED = st.sampled_from([LOGGED_BY_DEFAULT, SHORT, (), tuple(step for step in LOGGED_BY_DEFAULT if step != "check")])


def test_a_stencil_that_was_stripped_unlogged_is_gone_once_the_mesh_is_degreased() -> None:
    log = Log(())
    log.add("stretch").add("image", separations=[3]).add("decide", then="strip")
    assert log.life.stencil is not None
    log.add("degrease")
    assert (log.life.standing, log.life.stencil, log.life.cycles) == (Standing.DEGREASED, None, 1)


@settings(max_examples=300, deadline=None)
@given(logs(), LOGGED, st.randoms(use_true_random=False))
def test_any_log_gives_a_life_whatever_the_order_of_the_entries(entries: list[Entry], logged: Any, rng: Any) -> None:
    life = replay(entries, logged, {OUTSIDE, 3})
    shuffled = list(entries)
    rng.shuffle(shuffled)
    assert replay(shuffled, logged, {OUTSIDE, 3}) == life
    assert isinstance(life.standing, Standing)
    assert not life.conflict or life.standing in {Standing.UNKNOWN, Standing.AWAY}
    assert (life.run is None) or life.standing in {Standing.ON_PRESS, Standing.UNKNOWN, Standing.AWAY}
    assert min(life.uses, life.impressions, life.cycles, life.stencils, life.meshes) >= 0
    assert life.standing not in {Standing.BARE, Standing.DEGREASED, Standing.STRIPPED} or life.stencil is None
    assert life.standing not in stages.STENCIL_ON or life.stencil is not None
    again = Life.from_dict(json.loads(json.dumps(life.to_dict(), allow_nan=False)))
    assert again == json_life(life) == Life.from_dict(json.loads(json.dumps(life.kept(), allow_nan=False)))
    assert json.loads(json.dumps(again.to_dict())) == json.loads(json.dumps(life.to_dict()))
    step = next_step(life, logged)
    assert step is None or step in SCREEN_STEPS
    others = stages.steps_beside(life.standing, next_step(life, logged))
    assert step not in others and len(set(others)) == len(others)
    if life.tension is not None:
        assert 0 < life.tension.minimum_n_per_cm <= life.tension.mean_n_per_cm + 1e-9


def json_life(life: Life) -> Life:
    """As JSON leaves it: a mapping inside stays one, its tuples become lists."""
    if life.stencil is None or life.stencil.accepted is None:
        return life
    accepted = json.loads(json.dumps(life.stencil.accepted))
    return replace(life, stencil=replace(life.stencil, accepted=accepted))


def test_a_full_life_survives_json() -> None:
    log = Log().to("coated").add("image", separations=[11], accept={"who": "Anna", "why": "none free"})
    log.add("washout", result="good", step_held=7).add("hang", run=6, head=3, station=2).add("degrease")
    log.add("tension", readings_n_per_cm=[25.5, 24])
    life = log.life
    assert life.gaps and life.conflicts and life.tension and life.stencil and life.mesh
    assert Life.from_dict(json.loads(json.dumps(life.to_dict()))) == life
    kept = json.dumps(life.kept())
    assert Life.from_dict(json.loads(kept)) == life
    assert len(kept) < len(json.dumps(life.to_dict())) / 2, "what is as by default is not written"


# What comes next -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("standing", "step"),
    [("bare", "degrease"), ("degreased", "coat"), ("coated", "image"), ("imaged", "expose"), ("exposed", "washout"),
     ("to check", "check"), ("ready", "rack"), ("on press", "pull"), ("to clean", "clean"), ("kept", "rack"),
     ("to strip", "strip"), ("stripped", "degrease"), ("to restretch", "stretch"), ("away", "rack"),
     ("unknown", "found")],
)  # fmt: skip
def test_the_one_step_that_comes_next(standing: str, step: str) -> None:
    assert next_step(at_standing(standing).life) == step


def test_next_among_the_steps_that_the_shop_logs() -> None:
    assert next_step(Log(SHORT).add("stretch", mesh_count_as_labelled="90/cm").life, SHORT) == "image"
    assert next_step(Log(SHORT).add("stretch").add("image", separations=[1]).life, SHORT) == "check"
    assert next_step(at_standing("ready").add("rack", place=3).life) is None, "it waits for the press"


def test_what_else_is_offered() -> None:
    """Everything but what the press writes, the likely first, and each step once."""
    for standing in Standing:
        life = at_standing(str(standing)).life
        others = stages.steps_beside(life.standing, next_step(life))
        offered = {*others, next_step(life)}
        assert {"tension", "rack", "fault", "note", "retire", "strip", "stretch"} <= offered
        assert not {"hang", "print", "cross-out"} & offered
        assert ("found" in offered) == (standing in {Standing.UNKNOWN, Standing.RETIRED})


def test_what_was_wetted_last_is_known_until_somebody_says_that_it_is_dry() -> None:
    def at(days: float) -> str:
        return stamp(START + timedelta(days=days))

    log = Log().to("degreased").add("coat", days=1)
    assert rules.wet_since(log.life) == ("coat", at(1))
    assert rules.wet_since(log.add("image", separations=[1], days=1.01).life) == ("coat", at(1))
    assert rules.wet_since(log.add("expose", days=1.5).life) == ("", "")
    assert rules.wet_since(log.add("washout", result="good", days=2).life) == ("washout", at(2))
    assert rules.wet_since(log.add("check", result="good", days=2.1).life) == ("washout", at(2))
    assert rules.wet_since(log.add("check", result="good", dry="yes", days=2.2).life) == ("", "")
    assert rules.wet_since(log.add("strip", days=3).life) == ("degrease", at(3))
    assert rules.wet_since(log.add("degrease", days=4).life) == ("degrease", at(4))
    assert rules.wet_since(log.add("coat", days=5, dry="yes").life) == ("coat", at(5)), "said of the mesh, not the coat"
    assert rules.wet_since(Log().add("stretch", mesh_count_as_labelled="110/in").life) == ("", "")
