"""A repeat against the approved run: what will differ, and two runs side by side.

The cases are worked by hand, their arithmetic beside them. Colour differences are the pairs published by Sharma, Wu and
Dalal, Color Res. Appl. 30:21-30, 2005 (`published/ciede2000.csv`). That the garment's dye lot moves a discharge colour
is a print shop's published policy; what else should be compared on a reorder is common practice.
"""

from __future__ import annotations

import csv
from copy import deepcopy
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tickets.calculator import units
from tickets.calculator.verdict import _PHRASES as PHRASES
from tickets.calculator.verdict import Level, Reason, Verdict, judge, say
from tickets.domain.jobs.job import Job, read
from tickets.domain.runs import comparison, first_seen, repeat, setup
from tickets.domain.runs.as_run import (
    FIELDS,
    OTHER_WORDS,
    AsRun,
    Changed,
    ScreenThen,
    alike,
    alike_as,
    how_far,
    pairs,
    side_by_side,
)
from tickets.domain.runs.comparison import ComparedLine, compare, for_customer
from tickets.domain.runs.repeat import Difference, Facts, LastScreen, SpecChange, will_differ
from tickets.domain.setting import MEASURED
from tickets.domain.spec import Row, Spec, shipped

SPEC = Spec(shipped())
PUBLISHED = Path(__file__).parent / "published" / "ciede2000.csv"
PAIRS = list(csv.DictReader(PUBLISHED.read_text(encoding="utf-8").splitlines()))

WHITE = {"does": "print", "colour": "white", "ink": "plastisol", "mesh": {"count": "160/in", "thread": "64 um"},
         "series": "White A", "strokes": 2, "choke": "0.5 pt",
         "squeegee": {"hardness": "70", "edge": "square", "angle": "15 deg"}}  # fmt: skip
FLASH = {"does": "flash", "time": "6 s", "surface": "105 degC"}
RED = {"does": "print", "colour": "red", "ink": "plastisol", "mesh": {"count": "230/in", "thread": "48 um"},
       "reference": "Guide C 44"}  # fmt: skip
TEE = {"style": "Heavy tee", "colour": "navy", "pieces": 100, "fibre": {"cotton": 100}, "lot": "L7"}
BASE: dict[str, Any] = {
    "title": "Gulls", "customer": "Invented Rowing", "due": "2026-04-01", "art": {"name": "Gull", "revision": "2"},
    "garment": [TEE],
    "placement": [{"name": "Front", "width": "300 mm", "height": "250 mm", "station": [WHITE, FLASH, RED]}],
}  # fmt: skip


def job(**changes: Any) -> Job:
    """The base job with keys of a path changed: `placement.0.station.2.mesh.count="230/in"` written with `__`."""
    data = deepcopy(BASE)
    for path, value in changes.items():
        *above, last = path.split("__")
        part: Any = data
        for step in above:
            part = part[int(step)] if step.isdigit() else part[step]
        if value is None:
            del part[int(last) if last.isdigit() else last]
        else:
            part[int(last) if last.isdigit() else last] = value
    return read(data)


STATIONS = {
    "1": {"squeegee": "70 · square · 15 deg", "strokes": "2", "ink": "white · plastisol · White A"},
    "2": {"time": "6 s", "surface": "105 degC"},
    "3": {"squeegee": "70", "strokes": "1", "ink": "red · plastisol · Guide C 44"},
}
SCREENS = {
    1: ScreenThen(11, "7K32XM", "A 1", "160/in · 64 µm", 160 / 2.54, 64, 24.0, 23.5, 110, None, 7, "Blue Dual · lot 4"),
    3: ScreenThen(12, "8K32XN", "", "230/in · 48 µm", 230 / 2.54, 48, 22.0, 21.0, 80, None, 7, "Blue Dual · lot 4"),
}
APPROVED = {"approved_by": "Vera Lind", "approved_as": "customer", "how": "piece in hand"}


def measured(sheet: dict[str, Any]) -> dict[str, Any]:
    """A sheet whose measurements somebody is known to have taken."""
    by = {"who": "Vera Lind", "person": 2, "at": "2026-01-03T09:00:00+00:00"}
    parts = {**sheet.get("stations", {}), "run": sheet.get("run", {})}
    taken = {key: {name: by for name in values if name in MEASURED} for key, values in parts.items()}
    return {**sheet, "measured": taken}


def run(number: int = 1, order: Job | None = None, **more: Any) -> AsRun:
    order = order or job()
    known: dict[str, Any] = {"press": "Press 2", "sheet": measured({"stations": STATIONS}), "approved": APPROVED,
                             "screens": SCREENS, "heads": {1: 2, 3: 4}}  # fmt: skip
    return AsRun(number, f"JOB{number:02}0", order, order.placements[0], **{**known, **more})


FIT = LastScreen("7K32XM", True, "kept", judge([Reason("right-image", Level.OK, {"image": "white", "station": 1})]))


def differing(new: Job, old: AsRun | None = None, limits: Spec = SPEC, **facts: Any) -> list[Difference]:
    found = will_differ(old or run(), new, new.placements[0], Facts(**facts), limits)
    for one in found:  # whatever is found can be said
        said = say(one.reason)
        assert said.sentence and "{" not in said.sentence + said.advice
    return found


def keys(new: Job, old: AsRun | None = None, **facts: Any) -> list[str]:
    return [one.key for one in differing(new, old, **facts)]


# What will differ


def test_the_same_order_again_differs_in_nothing():
    assert keys(job(), press="Press 2", target=STATIONS) == []


def test_spelling_is_no_difference():
    other = job(art={"name": " GULL", "revision": "2 "}, garment__0__style="heavy  TEE", garment__0__lot="l7")
    assert keys(other, press="press 2") == []


@pytest.mark.parametrize(
    ("changes", "key", "numbers"),
    [
        ({"art__revision": "3"}, "repeat-revision", {"was": "2", "now": "3"}),
        ({"art__name": "Tern"}, "repeat-art", {"was": "Gull", "now": "Tern"}),
        ({"placement__0__width": "280 mm"}, "repeat-size", {"was_mm": 300, "now_mm": 280}),
        ({"garment__0__style": "Light tee"}, "repeat-garment-style", {"was": "Heavy tee", "now": "Light tee"}),
        ({"garment__0__colour": "black"}, "repeat-garment-colour", {"was": "navy", "now": "black"}),
        ({"garment__0__lot": "L8"}, "repeat-garment-lot", {"was": "L7", "now": "L8"}),
        ({"garment__0__lot": None}, "repeat-garment-lot-unknown", {"was": "L7", "now": "–"}),
        ({"garment__0__fibre": {"cotton": 60, "polyester": 40}}, "repeat-garment-fibre", {"was": "100 % cotton"}),
        # 230 x 1.03 = 236.9: 240 is beyond the 3 % that the shipped spec calls the same
        ({"placement__0__station__2__mesh__count": "240/in"}, "repeat-mesh", {"was": "230/in · 48 µm", "station": 3}),
        # 48 - 40 = 8 um, over the 2 um of the shipped spec
        ({"placement__0__station__2__mesh__thread": "40 um"}, "repeat-mesh", {"now": "230/in · 40 µm"}),
        ({"placement__0__station__0__ink": "discharge"}, "repeat-ink-kind", {"station": 1}),
        ({"placement__0__station__0__series": "White B"}, "repeat-ink-series", {"station": 1}),
        ({"placement__0__station__2__reference": "Guide C 45"}, "repeat-ink-reference", {"station": 3}),
        ({"placement__0__station__0__choke": "1 pt"}, "repeat-sheet", {"was": "0.5 pt", "now": "1 pt", "station": 1}),
        ({"placement__0__station__1": None}, "repeat-station-gone", {"station": 2, "what": "flash"}),
    ],
)  # fmt: skip
def test_each_thing_that_differs_is_said_alone(changes: dict[str, Any], key: str, numbers: dict[str, Any]):
    found = [one for one in differing(job(**changes)) if one.key != "repeat-dye-lot"]
    assert [one.key for one in found] == [key]
    assert {name: found[0].numbers[name] for name in numbers} == numbers
    assert found[0].level is (Level.UNKNOWN if "unknown" in key else Level.CAUTION)


def test_a_mesh_within_the_tolerance_is_the_same():
    # 230 x 1.03 = 236.9, and 48 + 2 = 50
    near = {"placement__0__station__2__mesh__count": "236/in", "placement__0__station__2__mesh__thread": "50 um"}
    (one,) = differing(job(**near))
    assert (one.key, one.level, one.within) == ("repeat-small", Level.OK, "3\u00a0%, 2\u00a0µm")
    assert one.numbers["told"] == "3 red, Mesh: 230/in · 48 µm, now 236/in · 50 µm"


def test_the_mesh_that_hung_counts_not_the_one_that_was_asked_for():
    """Last time a substitute was accepted: a repeat by the book is the one that differs."""
    other = replace(SCREENS[3], mesh="200/in · 55 µm", count_per_cm=200 / 2.54, thread_um=55)
    (found,) = differing(job(), run(screens={**SCREENS, 3: other}))
    assert (found.key, found.numbers["was"]) == ("repeat-mesh", "200/in · 55 µm")
    unknown = replace(SCREENS[3], mesh="230/in", thread_um=None)
    assert keys(job(), run(screens={**SCREENS, 3: unknown})) == ["repeat-thread-unknown"]


def test_a_new_colour_between_moves_no_other_station():
    blue = {**RED, "colour": "blue"}
    new = job(placement__0__station=[WHITE, FLASH, blue, RED])
    (found,) = differing(new)
    assert (found.key, found.station, found.numbers["what"]) == ("repeat-station-new", 3, "blue")


def test_colours_that_change_places_are_said_once():
    (found,) = differing(job(placement__0__station=[RED, FLASH, WHITE]))
    assert (found.key, found.numbers) == ("repeat-order", {"was": "white, red", "now": "red, white", "run": 1})


def test_another_garment_has_no_lot_to_compare():
    """Navy tees of lot L7 become black ones: the colour is said, and no lot of another dyeing."""
    new = job(garment__0__colour="black", garment__0__lot="L9")
    assert keys(new) == ["repeat-garment-colour"]


def test_of_several_garments_each_is_held_against_its_own():
    hood = {**TEE, "style": "Hood", "fibre": {"cotton": 80, "polyester": 20}, "lot": "H1"}
    old = run(order=job(garment=[TEE, hood]))
    assert keys(job(garment=[hood, TEE]), old) == []
    (found,) = differing(job(garment=[{**hood, "lot": "H2"}, TEE]), old)
    assert found.key == "repeat-garment-lot" and "Hood" in found.numbers["garment"]


def test_two_lots_of_one_garment_are_held_against_their_own():
    old = run(order=job(garment=[TEE, {**TEE, "lot": "L8"}]))
    assert keys(job(garment=[{**TEE, "lot": "L8"}, TEE]), old) == []
    assert keys(job(garment=[{**TEE, "lot": "L9"}, TEE]), old) == ["repeat-garment-lot"]


def test_a_colour_that_a_garment_does_not_take_any_more_is_said():
    where = {"garment": {"style": "Heavy tee", "colour": "navy"}}
    bare, blue = ({**where, "inks": {"red": what}} for what in (False, {"colour": "blue"}))
    (found,) = differing(job(colourway=[bare]))
    assert (found.key, found.numbers["was"], found.numbers["now"]) == (
        "repeat-ink-kind", "plastisol, red, Guide C 44", "not printed"
    )  # fmt: skip
    (back,) = differing(job(), run(order=job(colourway=[bare])))
    assert (back.key, back.numbers["was"]) == ("repeat-ink-kind", "not printed")
    assert keys(job(colourway=[bare]), run(order=job(colourway=[bare]))) == []
    assert keys(job(colourway=[blue])) == ["repeat-ink-colour"]


@pytest.mark.parametrize("known", [True, False])
def test_a_discharge_job_always_says_that_the_dye_lot_moves_the_colour(known: bool):
    new = job(placement__0__station__0__ink="discharge")
    found = will_differ(run(order=new) if known else None, new, new.placements[0], Facts(), SPEC)
    assert [one.key for one in found][0] == "repeat-dye-lot" and found[0].level is Level.CAUTION


def test_discharge_in_one_colourway_alone_is_discharge_too():
    way = {"garment": {"style": "Heavy tee", "colour": "navy"}, "inks": {"red": {"ink": "discharge"}}}
    assert "repeat-dye-lot" in keys(job(colourway=[way])) and "repeat-dye-lot" not in keys(job())


def test_nothing_approved_is_unknown_never_alike():
    new = job()
    found = will_differ(None, new, new.placements[0], Facts(), SPEC)
    assert [(one.key, one.level) for one in found] == [("repeat-none-approved", Level.UNKNOWN)]


def test_another_press_is_said_and_an_open_one_is_not():
    assert keys(job(), press="Press 1") == ["repeat-press"] and keys(job(), press="") == []


STOP = Verdict(Level.STOP, (Reason("torn", Level.STOP),))
HANGS = Verdict(Level.STOP, (Reason("hanging-elsewhere", Level.STOP, {"run": 4, "since_at": "2026-03-01T08:00:00Z"}),))
TORN = Reason("torn", Level.STOP)


def unready(standing: str, *more: Reason) -> LastScreen:
    """A screen that is not far enough for the press."""
    reasons = (Reason("not-ready", Level.STOP, {"standing_word": standing}), *more)
    return replace(FIT, standing=standing, verdict=judge(reasons))


OLD = Verdict(Level.CAUTION, (Reason("check-missing", Level.CAUTION),))
MIXED = Verdict(Level.UNKNOWN, (Reason("tension-no-floor", Level.UNKNOWN), Reason("torn", Level.OK)))


@pytest.mark.parametrize(
    ("screen", "key", "level"),
    [
        (FIT, "repeat-screen-fit", Level.OK),
        (replace(FIT, verdict=OLD), "repeat-screen-doubt", Level.CAUTION),
        (replace(FIT, verdict=MIXED), "repeat-screen-doubt", Level.UNKNOWN),
        (replace(FIT, verdict=STOP), "repeat-screen-unfit", Level.CAUTION),
        (replace(FIT, verdict=HANGS), "repeat-screen-doubt", Level.CAUTION),
        (LastScreen("7K32XM", False, "stripped"), "repeat-screen-gone", Level.CAUTION),
        (LastScreen("7K32XM", True, "kept", None), "repeat-screen-gone", Level.CAUTION),
    ],
)
def test_the_screens_of_last_time_are_there_or_not(screen: LastScreen, key: str, level: Level):
    (found,) = differing(job(), screens={1: [screen]})
    assert (found.key, found.level, found.station) == (key, level, 1)
    if screen.verdict and level is not Level.OK:
        assert say(screen.verdict.reasons[0]).sentence in say(found.reason).sentence


@pytest.mark.parametrize(
    ("standing", "key", "says"),
    [
        ("to clean", "repeat-screen-off-press", ("is off the press", "Clean it, check it, keep it.")),
        ("to strip", "repeat-screen-off-press", ("is off the press", "Clean it, check it, keep it.")),
        ("exposed", "repeat-screen-under-way", ("is on the way: it is “exposed”", "remaining steps")),
    ],
)
def test_a_screen_that_lacks_its_next_steps_alone_is_no_new_one(standing: str, key: str, says: tuple[str, str]):
    """As the boards say it; one that will not do for another reason too is told that reason."""
    (found,) = differing(job(), screens={1: [unready(standing)]}, frames={1: 0})
    said = say(found.reason)
    assert (found.key, found.level) == (key, Level.CAUTION)
    assert says[0] in said.sentence and says[1] in said.advice and "new one" not in said.advice
    other = replace(unready(standing), last=False)
    assert keys(job(), screens={1: [other]}, frames={1: 0}) == ["repeat-screen-other-later"]
    assert keys(job(), screens={1: [replace(FIT, verdict=HANGS)]}, frames={1: 0}) == ["repeat-screen-doubt"]
    torn = differing(job(), screens={1: [unready(standing, TORN)]}, frames={1: 0})
    assert [one.key for one in torn] == ["repeat-screen-unfit", "repeat-mesh-none"]
    assert "torn" in say(torn[0].reason).sentence and "not ready" not in say(torn[0].reason).sentence


def test_spares_are_not_told_while_last_times_screen_serves():
    """Nobody has to look at nine other screens of the image where the one of last time is kept."""
    spares = [replace(FIT, code=f"{number}K32XN", last=False) for number in range(2, 9)]
    worn = LastScreen("8K32XT", True, last=False, going="worn")
    making = [replace(unready("coated"), code="9K32XN", last=False), worn]
    assert keys(job(), screens={1: [FIT, *spares, *making]}, frames={1: 0}) == ["repeat-screen-fit"]
    gone = LastScreen("7K32XM", False, "stripped")
    told = keys(job(), screens={1: [gone, spares[0], making[0]]}, frames={1: 0})
    assert told == ["repeat-screen-gone", "repeat-screen-other"], "one that is still being made is not needed"
    assert "repeat-screen-other-later" in keys(job(), screens={1: [gone, making[0]]}, frames={1: 0})


def test_another_screen_of_the_image_spares_a_new_one():
    gone, other = LastScreen("7K32XM", False, "stripped"), replace(FIT, code="8K32XN", last=False)
    assert keys(job(), screens={1: [gone, other]}, frames={1: 0}) == ["repeat-screen-gone", "repeat-screen-other"]
    (found,) = differing(job(), screens={1: [replace(other, verdict=OLD)]}, frames={1: 0})
    assert (found.key, found.level) == ("repeat-screen-other", Level.CAUTION)
    for useless in (replace(other, verdict=STOP), replace(other, verdict=None), replace(other, verdict=MIXED)):
        assert keys(job(), screens={1: [useless]}, frames={1: 0}) == ["repeat-mesh-none"]


def test_without_a_fit_screen_the_free_frames_are_counted():
    gone = LastScreen("7K32XM", False, "stripped")
    assert keys(job(), screens={1: [gone]}, frames={1: 0}) == ["repeat-screen-gone", "repeat-mesh-none"]
    assert keys(job(), screens={1: [gone]}, frames={1: 4}) == ["repeat-screen-gone", "repeat-mesh-free"]
    assert keys(job(), screens={1: [gone, FIT]}, frames={1: 0}) == ["repeat-screen-gone", "repeat-screen-fit"]
    assert keys(job(), frames={1: 0}) == ["repeat-mesh-none"]


def test_a_target_other_than_what_was_approved_is_said():
    """The shirt was approved with 75 shore and 7 s; the job sheet still says 70 and 6 s."""
    as_run = {**STATIONS, "1": {**STATIONS["1"], "squeegee": "75 · square · 15 deg"}, "2": {"time": "7 s"}}
    found = differing(job(), run(sheet={"stations": as_run}), target=STATIONS)
    assert [(one.key, one.station, one.numbers["was"]) for one in found] == [
        ("repeat-setting", 1, "75 · square · 15 deg"), ("repeat-setting", 2, "7 s")
    ]  # fmt: skip


HARDER = Changed(1, "Squeegee", "squeegee", "70 · square · 15 deg", "80", "edge not sharp")


def test_what_was_changed_after_the_approval_reaches_the_next_run_with_its_reason():
    """Not what belonged to that run alone, not what the target says by now; told by what the station prints."""
    bucket, told = Changed(1, "Ink bucket", "bucket", "K3", "K7", "empty"), Changed(0, "belt slower", why="tacky")
    old = run(changes=(HARDER, bucket, told))
    found = differing(job(), old, target=STATIONS)
    assert [(one.key, one.station) for one in found] == [("repeat-changed-after", 1), ("repeat-changed-after", 0)]
    assert [say(one.reason).sentence for one in found] == [
        f"After the approval of run 1, position 1 (white) – {HARDER.said()}.",
        "After the approval of run 1, the whole placement – belt slower (tacky).",
    ]
    moved = job(placement__0__station=[FLASH, WHITE, RED])
    assert [one.station for one in differing(moved, old) if one.key == "repeat-changed-after"] == [2, 0]
    by_now = {**STATIONS, "1": {**STATIONS["1"], "squeegee": "80"}}
    assert "repeat-changed-after" not in keys(job(), run(changes=(HARDER,)), target=by_now)


def test_the_whole_placement_has_a_target_too():
    whole = {"belt_speed": "6 m/min", "platen": "standard", "garment_lot": "L7"}
    old = run(sheet=measured({"stations": STATIONS, "run": whole}))
    aim = {"run": {"belt_speed": "5 m/min", "platen": "Standard", "garment_lot": "L9"}}
    (found,) = differing(job(), old, target={**STATIONS, **aim})
    assert (found.key, found.station, found.numbers["was"]) == ("repeat-setting-whole", 0, "6 m/min")
    aim["run"]["belt_speed"] = "5.95 m/min"  # within what the shop calls the same
    (found,) = differing(job(), old, target={**STATIONS, **aim})
    assert (found.key, found.station, found.within) == ("repeat-small", 0, "3\u00a0%")
    aim["run"]["belt_speed"] = "5 m/min"
    copied = run(sheet={"stations": STATIONS, "run": whole})
    (found,) = differing(job(), copied, target={**STATIONS, **aim})
    assert found.numbers["was"] == "6 m/min (noted at set-up)"


def test_a_lot_noted_at_the_set_up_stands_in_for_one_that_the_job_did_not_give():
    bare = job(garment__0__lot=None)
    old = run(order=bare, sheet={"stations": STATIONS, "run": {"garment_lot": "L7"}})
    assert keys(job(), old) == [] and keys(job(garment__0__lot="L8"), old) == ["repeat-garment-lot"]


def test_ink_lots_and_changed_limits_are_said():
    changes = [SpecChange("Tension floor", "", "15")]
    found = differing(job(), lots={3: ("A1", "B2"), 1: ("A1", "a1")}, spec_changes=changes)
    assert [(one.key, one.station) for one in found] == [("repeat-ink-lot", 3), ("repeat-spec", 0)]
    assert found[1].numbers == {"what": "Tension floor", "was": "–", "now": "15", "run": 1}


def test_stations_pair_by_what_they_print():
    old, new = job().placements[0], job(placement__0__station=[FLASH, RED, RED, WHITE, FLASH]).placements[0]
    got = [(was.number if was else None, now.number if now else None) for was, now in pairs(old, new)]
    # flash 2 is the first flash; red 3 the first red; the second of each is new
    assert got == [(2, 1), (3, 2), (None, 3), (1, 4), (None, 5)]


# Side by side


def lines(b: AsRun, a: AsRun | None = None, **more: Any) -> dict[tuple[int, str], ComparedLine]:
    found = compare(a or run(), b, SPEC, **more)
    assert len({(one.station, one.what) for one in found}) == len(found)
    return {(one.station, one.what): one for one in found}


def test_two_runs_alike_differ_in_nothing_and_every_setting_is_there():
    found = lines(run(2))
    assert not [one for one in found.values() if one.differs]
    for station, values in STATIONS.items():
        for name, value in values.items():
            assert (found[int(station), name].a, found[int(station), name].b) == (value, value)
    of_red = {what for number, what in found if number == 3}
    assert {"mesh", "tension", "exposure", "step_held", "head", "order"} <= of_red


def test_what_differs_says_by_how_much():
    stations = {
        "1": {**STATIONS["1"], "squeegee": "75 · square · 10 deg", "strokes": "1"},
        "2": {"time": "7 s", "surface": "221 degF"},
        "3": {**STATIONS["3"], "squeegee": "80", "pressure": "dial 4"},
    }
    screens = {1: replace(SCREENS[1], mean_n_per_cm=20.4, exposure_s=77.0), 3: SCREENS[3]}
    found = lines(run(2, sheet={"stations": stations}, screens=screens, heads={1: 3, 3: 4}))
    differing = {place: one.by_how_much for place, one in found.items() if one.differs}
    assert differing == {
        (1, "head"): "+1",
        (1, "squeegee"): "+5, −5 °",  # 70 -> 75, 15 -> 10 degrees
        (1, "strokes"): "−1",
        (1, "tension"): "−3.6\u00a0N/cm, −15 %",  # 24 - 20.4 = 3.6, which is 15 % of 24
        (1, "exposure"): "−33\u00a0s, −30 %",  # 110 - 77
        (2, "time"): "+1 s",
        (3, "squeegee"): "+10",
    }  # and 221 degF is 105 degC: (221 - 32) / 1.8
    assert found[3, "pressure"].differs is None and found[3, "pressure"].a == ""


def test_settings_are_called_what_the_trade_calls_them():
    found = lines(run(2))
    assert [found[1, name].word for name in ("squeegee", "tension", "mesh")] == ["Squeegee", "Tension, mean", "Mesh"]
    odd = lines(run(2, sheet={"stations": {"1": {"blade_maker": "ours"}}}))
    assert odd[1, "blade_maker"].word == "blade maker"


def test_us_units_are_said_to_those_who_read_them():
    # tension meters read N/cm everywhere
    found = lines(run(2, screens={**SCREENS, 1: replace(SCREENS[1], mean_n_per_cm=20.4)}), system="us")
    one = found[1, "tension"]
    assert (one.a, one.b, one.by_how_much) == ("24\u00a0N/cm", "20.4\u00a0N/cm", "−3.6\u00a0N/cm, −15 %")


def test_what_was_not_measured_is_not_called_alike():
    for text in ("not measured", "Not measured", "", "–"):
        found = lines(run(2, sheet={"stations": {**STATIONS, "2": {"time": text, "surface": "105 degC"}}}))
        assert found[2, "time"].differs is None and not found[2, "time"].by_how_much


def test_settings_of_the_whole_placement_stand_first():
    dryer = {"belt_speed": "6 m/min", "garment_peak": "160 degC"}
    found = lines(
        run(2, sheet={"stations": STATIONS, "dryer": {**dryer, "belt_speed": "5.4 m/min"}, "off_contact": "2 mm"}),
        run(1, sheet={"stations": STATIONS, "dryer": dryer, "off_contact": "2.0 mm"}),
    )
    assert found[0, "belt_speed"].by_how_much == "−0.6 m/min" and not found[0, "off_contact"].differs
    assert [one.station for one in found.values()] == sorted(one.station for one in found.values())


def test_a_print_order_changed_at_the_press_is_compared():
    stations = {**STATIONS, "1": {**STATIONS["1"], "order": "3"}, "3": {**STATIONS["3"], "order": "1"}}
    found = lines(run(2, sheet={"stations": stations}))
    assert (found[1, "order"].b, found[3, "order"].b, found[2, "order"].differs) == ("3", "1", False)


def test_a_station_that_only_one_run_had_is_shown():
    new = job(placement__0__station=[WHITE, FLASH])
    found = lines(run(2, new, sheet={"stations": {name: STATIONS[name] for name in "12"}}, screens={1: SCREENS[1]}))
    assert (found[3, "order"].a, found[3, "order"].b, found[3, "order"].differs) == ("3", "", True)
    assert found[3, "squeegee"].differs is None


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair["pair"])
def test_the_colour_is_judged_by_the_published_pairs(pair: dict[str, str]):
    """Limits of the shipped spec: over 1.0 caution, over 2.0 stop."""
    one, other = ([float(pair[f"{name}{n}"]) for name in "lab"] for n in "12")
    seen = {"lab_conditions": "D50, 2°, M1"}
    a = run(1, approved={**APPROVED, **seen, "lab": {"3": one}})
    found = lines(run(2, approved={**APPROVED, **seen, "lab": {"3": other}}), a)[3, "colour"]
    published = float(pair["difference"])
    assert float(found.by_how_much.removeprefix("ΔE00 ")) == pytest.approx(published, abs=0.005 + 1e-9)
    assert found.verdict is not None
    if published != 1:  # published to four places, so nobody can tell on which side of the limit these lie
        wanted = Level.OK if published < 1 else Level.CAUTION if published <= 2 else Level.STOP
        assert found.verdict.level is wanted and found.differs is (wanted is not Level.OK)


def lab_run(number: int, *values: float, conditions: str = "D50, 2°, M1", **more: Any) -> AsRun:
    approved = {**APPROVED, "lab_conditions": conditions, "lab": {"3": list(values)} if values else {}}
    return run(number, approved=approved, **more)


def colour_level(found: tuple[ComparedLine, ...]) -> Level:
    return next(one.verdict.level for one in found if one.what == "colour" and one.verdict)


def test_the_drift_of_the_colour_is_from_the_first_measured_print_of_all():
    """Three small steps of 0.7 each pass; together they are 2.1 off the first print (lightness alone near 50)."""
    prints = [lab_run(n, 50 + 0.7 * n, 0, 0) for n in range(4)]
    step = compare(prints[2], prints[3], SPEC)
    whole = compare(prints[2], prints[3], SPEC, first=prints[0])
    assert [colour_level(found) for found in (step, whole)] == [Level.OK, Level.OK]
    drift = {one.what: (one.run, one.verdict.level) for one in whole if one.verdict}
    assert drift == {"colour": (0, Level.OK), "drift": (0, Level.STOP)}
    assert "drift" not in {one.what for one in step}


def test_the_colour_is_found_by_its_separation_whatever_the_print_order():
    first = lab_run(1, 50, 0, 0)
    new = job(placement__0__station=[RED, FLASH, WHITE])
    approved = {**APPROVED, "lab_conditions": "D50, 2°, M1", "lab": {"1": [50, 0, 0]}}
    found = lines(run(2, new, approved=approved), first)
    assert found[1, "colour"].by_how_much == "ΔE00 0" and (3, "colour") not in found


@pytest.mark.parametrize(
    ("a", "b", "key"),
    [
        (lab_run(1, 50, 0, 0), lab_run(2), "colour-not-measured"),
        (lab_run(1), lab_run(2, 50, 0, 0), "colour-first-not-measured"),
        (lab_run(1, 50, 0, 0), lab_run(2, 50, 0, 0, conditions="D65, 10°"), "colour-conditions-differ"),
        (lab_run(1, 50, 0, 0, conditions=""), lab_run(2, 50, 0, 0), "colour-conditions-unknown"),
    ],
)
def test_colours_that_cannot_be_compared_are_unknown(a: AsRun, b: AsRun, key: str):
    found = lines(b, a)[3, "colour"]
    assert found.verdict is not None and (found.verdict.level, found.verdict.keys[0]) == (Level.UNKNOWN, key)
    assert found.differs is None and not found.by_how_much


def test_a_limit_of_the_job_wins_over_the_shops():
    own = {"job": "JOB020"}
    strict = Spec([*shipped(), Row(900, "colour-fail", 0.3, "", own), Row(901, "colour-warn", 0.2, "", own)])
    # lightness 50 to 50.5: CIEDE2000 is 0.5 / SL with SL close to 1 at L* 50
    for spec, level in ((SPEC, Level.OK), (strict, Level.STOP)):
        found = compare(lab_run(1, 50, 0, 0), lab_run(2, 50.5, 0, 0), spec)
        assert colour_level(found) is level


def test_what_was_changed_after_the_approval_stands_beside_and_is_no_setting_of_the_print():
    a, b = run(1, during=(HARDER,)), run(2, during=(Changed(3, "strokes", "strokes", "1", "2"),))
    found = lines(b, a)
    said = "Squeegee from 70 · square · 15 deg to 80"
    assert (found[1, "changed"].a, found[1, "changed"].b) == (f"{said} (edge not sharp)", "")
    assert (found[3, "changed"].a, found[3, "changed"].b) == ("", "Strokes from 1 to 2")
    assert found[1, "changed"].word == "Changed during the run"
    assert not [one for one in found.values() if one.differs]
    inside = (Changed(1, "Note", "note", "", "mind it"), Changed(1, "Ink bucket", "bucket", "K3", "K7"),
              Changed(1, "Boris said so"), Changed(2, "Note", "note", "", "hot"))  # fmt: skip
    a = run(1, during=(HARDER, *inside))
    outside = {(one.station, one.what): one.a for one in for_customer(compare(a, b, SPEC), a, b)}
    assert outside[1, "changed"] == said and (2, "changed") not in outside  # no reasons, no notes, no codes


def test_the_customer_sees_no_names_of_the_shops_people_and_no_notes():
    secret = {"approved_by": "Boris Secret", "approved_as": "press", "how": "Boris Secret looked"}
    stations = {**STATIONS, "3": {**STATIONS["3"], "note": "Boris Secret: careful", "bucket": "K3"}}
    sheet = {"stations": stations, "whose": "Boris Secret", "panel": "abc", "target": {"1": {"note": "Boris Secret"}}}
    a, b = run(1, approved=secret, sheet=sheet), run(2, sheet=sheet)
    whole = compare(a, b, SPEC)
    assert "Boris Secret" in str(whole)
    shown = for_customer(whole, a, b)
    assert "Boris" not in str(shown) and "Vera" not in str(shown) and "K3" not in str(shown)
    assert {"mesh", "squeegee", "time", "approved"} <= {one.what for one in shown}
    assert next((one.a, one.b) for one in shown if one.what == "approved") == ("the shop", "the customer")


# Reading settings as numbers


@pytest.mark.parametrize(
    ("a", "b", "same", "far"),
    [
        ("6 s", "6 sec", True, ""),
        ("0.1 min", "6 s", True, ""),
        ("1 in", "25.4 mm", True, ""),
        ("70", "70 ", True, ""),
        ("70/90/70", "70/90/70", True, ""),
        ("70/90/70", "75/90/75", False, ""),
        ("3/16 in", "1/8 in", False, "−0.0625 in"),
        ("dial 3", "dial 4", False, ""),
        ("3 turns", "4 turns", False, "+1 turns"),
        ("25 psi", "30 psi", False, "+5 psi"),
        ("25 psi", "3 bar", False, ""),
        ("10 s", "15 deg", False, ""),
        ("160 degC", "320 degF", True, ""),
        ("160 degC", "170 degC", False, "+10 °C"),
        ("2,5 mm", "2.0 mm", False, "−0.5 mm"),
        ("sharp", "round", False, ""),
        ("70 · sharp", "75 · round", False, ""),
    ],
)  # fmt: skip
def test_settings_are_read_leniently(a: str, b: str, same: bool, far: str):
    assert alike(a, b) is same and how_far(a, b) == far
    assert alike(b, a) is same


@pytest.mark.parametrize(
    ("a", "b", "same"),
    [
        # 940 to 60 and 470 to 30 are both 94 % and 6 %
        ("base 940 g, activator 60 g", "base 470 g, activator 30 g", True),
        ("base 940 g, activator 60 g", "activator 60, Base 940", True),
        ("base 940 g, activator 60 g", "base 920 g, activator 80 g", False),
        ("base 940 g, activator 60 g", "base 940 g", False),
        ("as always", "as always", True),
        ("as always", "base 940 g", False),
    ],
)
def test_a_recipe_mixed_for_fewer_pieces_is_the_same_recipe(a: str, b: str, same: bool):
    assert alike_as("recipe", a, b) is same and alike_as("recipe", b, a) is same
    station = {**BASE["placement"][0]["station"][0], "recipe": {"base": 940, "activator": 60}}
    old = run(order=job(placement__0__station__0=station))
    half = {**station, "recipe": {"base": 470, "activator": 30}}
    assert keys(job(placement__0__station__0=half), old) == []
    assert keys(job(placement__0__station__0={**station, "recipe": {"base": 1}}), old) == ["repeat-sheet"]


@given(st.text(max_size=30), st.text(max_size=30))
def test_no_text_breaks_the_reading(a: str, b: str):
    assert alike(a, a) in {True, None}
    assert alike(a, b) == alike(b, a)
    how_far(a, b)


# In which order


def test_what_differs_stands_in_the_order_of_what_a_customer_would_see_first():
    """One of each sort at once; the order is the one that the whole house asks."""
    stations = {
        "1": {**STATIONS["1"], "squeegee": "75 · square · 15 deg", "strokes": "1", "ink": "white · plastisol · B"},
        "2": {"time": "8 s", "surface": "105 degC"},
        "3": {**STATIONS["3"], "strokes": "2"},
    }
    sheet = measured({"stations": stations, "run": {"garment_lot": "L9", "hold": "60 s", "platen": "wide"}})
    was = measured({"stations": STATIONS, "run": {"garment_lot": "L7", "hold": "40 s", "platen": "standard"}})
    screens = {1: replace(SCREENS[1], mesh="230/in · 48 µm", count_per_cm=90.6, thread_um=48), 3: SCREENS[3]}
    read = {"lab_conditions": "D50", "lab": {"3": [50, 0, 0]}}
    a = run(sheet=was, approved={**APPROVED, **read}, heads={1: 2, 3: 4})
    b = run(2, sheet=sheet, screens=screens, heads={1: 3, 3: 4},
            approved={**APPROVED, **read, "lab": {"3": [55, 0, 0]}})  # fmt: skip
    found = compare(a, b, SPEC)
    told = [(line.what, line.station) for line in comparison.differing(found).large]
    assert told == [
        ("colour", 3), ("mesh", 1), ("ink", 1), ("squeegee", 1), ("strokes", 1), ("strokes", 3), ("time", 2),
        ("hold", 0), ("garment_lot", 0), ("platen", 0), ("head", 1),
    ]  # fmt: skip
    data = comparison.as_data(found)
    assert [(one["setting"], one["station"]) for one in data["differs"]] == told
    assert [one["group"] for one in data["differs"][:4]] == ["colour", "mesh", "ink", "squeegee"]
    assert data["differs"][0]["verdict"] == "stop" and data["differs"][6]["by"] == "+2 s"
    sheet_now = {**sheet, "target": {**STATIONS, "run": was["run"]}}
    names = [name for _key, name, _was, _now in setup.differences(sheet_now, SPEC)]
    assert names == ["ink", "squeegee", "strokes", "strokes", "time", "hold", "garment_lot", "platen"]


def test_what_will_differ_stands_in_the_same_order():
    changes = {"garment__0__lot": "L8", "art__revision": "3", "placement__0__station__2__mesh__count": "200/in",
               "placement__0__station__0__series": "White B"}  # fmt: skip
    old = run(sheet={"stations": {**STATIONS, "3": {**STATIONS["3"], "strokes": "2", "squeegee": "80"}}})
    found = differing(job(**changes), old, press="Press 1", target=STATIONS, lots={3: ("A1", "B2")},
                      spec_changes=[SpecChange("watch limit", "15 N/cm", "18 N/cm")])  # fmt: skip
    assert [(one.key, one.setting) for one in found] == [
        ("repeat-revision", ""), ("repeat-mesh", ""), ("repeat-ink-series", ""), ("repeat-ink-lot", ""),
        ("repeat-setting", "squeegee"), ("repeat-setting", "strokes"), ("repeat-garment-lot", ""), ("repeat-press", ""),
        ("repeat-spec", ""),
    ]  # fmt: skip
    assert [one["group"] for one in repeat.as_data(found)] == [
        "art", "mesh", "ink", "ink", "squeegee", "strokes", "garment", "press", "limits",
    ]  # fmt: skip


def test_every_setting_and_every_key_has_its_place():
    """But who approved, notes and what came up on the way."""
    beside = {"note", "approved", "impressions", "went_on", "changed"}
    assert {name for name in (*FIELDS, *OTHER_WORDS) if not first_seen.group_of(name)} == beside
    of_a_setting = {"repeat-small", "repeat-setting", "repeat-setting-whole", "repeat-sheet", "repeat-sheet-whole",
                    "repeat-changed-after"}  # fmt: skip
    keys = {key for key in PHRASES if key.startswith("repeat-")}
    assert {key for key in keys if not first_seen.group_of(key)} == of_a_setting
    order = [group.name for group in first_seen.GROUPS]
    seen = ["screen", "mesh", "ink", "squeegee", "strokes", "flash", "dryer", "garment"]
    assert [name for name in order if name in seen] == seen


def test_what_a_limit_calls_the_same_is_said_in_one_line_with_the_limit():
    """By hand: 68 and 70 Shore A (2 allowed), 6 and 6.1 s (2 %: 0.12), 24 and 23.2 N/cm (1), 110 and 99 s (20 %: 22);
    a flash 0.2 s longer, a blade 3 Shore A harder and a mesh 1.2 N/cm slacker are differences."""
    was = {"1": {"hardness_measured": "70"}, "2": {"time": "6 s"}}
    near = {"1": {"hardness_measured": "68"}, "2": {"time": "6.1 s"}}
    far = {"1": {"hardness_measured": "67"}, "2": {"time": "6.2 s"}}
    screen = replace(SCREENS[1], mean_n_per_cm=23.2, exposure_s=99)
    a = run(sheet=measured({"stations": was}))
    b = run(2, sheet=measured({"stations": near}), screens={**SCREENS, 1: screen})
    found = comparison.differing(compare(a, b, SPEC))
    assert not found.large
    assert found.small_said.replace("\u00a0", " ") == (
        "4 small differences, each within what the shop calls the same (1 N/cm, 20 %, 2 Shore A, 2 %): "
        "1 white, Tension, mean: 24 N/cm, now 23.2 N/cm; 1 white, Exposure: 110 s, now 99 s; "
        "1 white, Squeegee hardness as measured: 70, now 68; 2 flash, Flash or cool-down time: 6 s, now 6.1 s."
    )
    data = comparison.as_data(compare(a, b, SPEC))
    assert [one["within"].replace("\u00a0", " ") for one in data["small"]] == ["1 N/cm", "20 %", "2 Shore A", "2 %"]
    us = comparison.differing(compare(a, b, SPEC, system="us")).small[0]
    assert us.within == "1\u00a0N/cm"
    slack = replace(SCREENS[1], mean_n_per_cm=22.8)
    b = run(2, sheet=measured({"stations": far}), screens={**SCREENS, 1: slack})
    found = comparison.differing(compare(a, b, SPEC))
    assert [line.what for line in found.large] == ["tension", "hardness_measured", "time"] and not found.small
    sheet = measured({"stations": near}) | {"target": was}
    assert [one[1:4] for one in setup.small(sheet, SPEC)] == [
        ("hardness_measured", "70", "68"), ("time", "6 s", "6.1 s"),
    ]  # fmt: skip
    assert setup.differences(sheet, SPEC) == [] and setup.small(measured({"stations": far}) | {"target": was}) == []
    ahead = differing(job(), a, target={"2": {"time": "6.1 s"}})
    assert [(one.key, one.differs, one.within) for one in ahead] == [("repeat-small", False, "2\u00a0%")]
    assert "2 flash, Flash or cool-down time: 6 s, now 6.1 s" in repeat.small_said(ahead) and ahead[0].station == 2


def test_a_span_of_degrees_is_said_as_a_span():
    assert units.show_difference(2, "degC", "us") == "3.6\u00a0°F" and units.show_difference(2, "degC") == "2\u00a0°C"


@pytest.mark.parametrize(
    ("a", "b", "system", "both"),
    [
        ("325 F", "160 C", "metric", ("163 °C", "160 °C")),
        ("325 F", "160 C", "us", ("325 °F", "320 °F")),
        ("1/8 in", "2 mm", "metric", ("3.17 mm", "2 mm")),  # 3.175 mm
        ("1/8 in", "2 mm", "us", ("0.125 in", "0.0787 in")),
        ("1 1/2 min", "60 s", "metric", ("90 s", "60 s")),
        ("70 · 15 deg · 14 in", "70 · 20 deg · 350 mm", "metric", ("70 · 15 deg · 355.6 mm", "70 · 20 deg · 350 mm")),
        ("12 in × 10 in", "300 mm × 250 mm", "metric", ("304.8 mm × 254 mm", "300 mm × 250 mm")),
        ("60.01 C", "140 F", "metric", ("60.01 C", "140 F")),  # both 60 when rounded, and not the same
        ("160 C", "158 C", "us", ("160 C", "158 C")),  # in one unit already: as it was typed
        ("firm", "2 mm", "metric", ("firm", "2 mm")),
        ("", "2 mm", "us", ("", "2 mm")),
    ],
)
def test_quantities_in_two_units_are_said_in_one(a: str, b: str, system: str, both: tuple[str, str]):
    assert tuple(text.replace("\u00a0", " ") for text in side_by_side(a, b, system)) == both


@pytest.mark.parametrize(("system", "said"), [("metric", ("163 °C", "150 °C")), ("us", ("325 °F", "302 °F"))])
def test_target_and_print_before_are_said_in_one_unit(system: str, said: tuple[str, str]):
    """325 degF is 162.8 degC, 150 degC is 302 degF."""
    old = run(sheet=measured({"stations": STATIONS, "run": {"garment_peak": "325 F"}}))
    target = {"run": {"garment_peak": "150 C"}}
    (one,) = [one for one in differing(job(), old, target=target, system=system) if one.setting == "garment_peak"]
    assert (one.numbers["was"].replace("\u00a0", " "), one.numbers["now"].replace("\u00a0", " ")) == said
    sheet = {"run": {"garment_peak": "325 F"}, "target": target}
    ((_part, _name, was, now),) = setup.differences(sheet, SPEC, system)
    assert (now.replace("\u00a0", " "), was.replace("\u00a0", " ")) == said


@pytest.mark.parametrize(
    ("values", "system", "told"),
    [
        ({"off_contact": "2 mm", "off_contact_measured": "1.95 mm"}, "metric", ""),  # 2.5 %, 3 % may be
        ({"off_contact": "2 mm", "off_contact_measured": "1/16 in"}, "metric", "garment: set 2 mm, gauged 1.59 mm"),
        ({"off_contact": "firm", "off_contact_measured": "2 mm"}, "metric", ""),
        ({"off_contact": "2 mm", "off_contact_measured": "not measured"}, "metric", ""),
        ({"squeegee": "70/90/70 · square", "hardness_measured": "72 Shore A"}, "metric", ""),  # the outer 70, within 2
        ({"squeegee": "70/90/70", "hardness_measured": "76"}, "metric", "Squeegee: 70/90/70, measured 76"),
        ({"squeegee": "15 deg", "hardness_measured": "76"}, "metric", ""),  # no stamp there
        ({"belt_set": "4 ft/min", "belt_speed": "1 m/min"}, "us", "set: 4 ft/min, measured 3.28 ft/min"),
        ({"belt_set": "mark 4", "belt_speed": "1 m/min"}, "us", ""),
    ],
)
def test_what_is_measured_otherwise_than_it_is_set(values: dict[str, str], system: str, told: str):
    taken = {"1": dict.fromkeys(values, {"who": "Vera Lind"})}
    said = setup.set_apart({"1": values}, taken, job().placements[0], SPEC, system).replace("\u00a0", " ")
    assert said.endswith(f"{told}.") if told else not said, said
    assert not setup.set_apart({"1": values}, {}, job().placements[0], SPEC, system)  # a copy, perhaps


def test_the_very_same_colour_is_no_difference_as_data() -> None:
    same = comparison.ComparedLine(1, "white", "colour", "50.0 0.0 0.0", "50.0 0.0 0.0", False, "ΔE00 0", judge([]))
    near = replace(same, station=2, b="50.0 0.5 0.0", by_how_much="ΔE00 0.6")
    told = comparison.as_data([same, near])
    assert [one["station"] for one in told["differs"]] == [2] and [one["station"] for one in told["same"]] == [1]
