"""Two prints beside each other at the edge of each rule: what is the same, what is not known, what customers read."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from test_repeat import FLASH, RED, SCREENS, SPEC, STATIONS, TEE, WHITE, job, run

from tickets.calculator.colour import Lab
from tickets.calculator.verdict import judge
from tickets.domain.runs import comparison
from tickets.domain.runs.as_run import Changed, Printed
from tickets.domain.runs.comparison import ComparedLine, compare, for_customer
from tickets.domain.spec import Spec, shipped

PLACE = "placement__0"


def line(what: str, b: Any, a: Any = None, station: int = 0, **more: Any) -> ComparedLine | None:
    found = [one for one in compare(a or run(), b, SPEC, **more) if (one.station, one.what) == (station, what)]
    return found[0] if found else None


def plain(one: ComparedLine | None) -> tuple[Any, ...] | None:
    return one and (one.a.replace("\u00a0", " "), one.b.replace("\u00a0", " "), one.differs, one.by_how_much)


@pytest.mark.parametrize(("was", "now", "found"), [
    (("300 mm", "250 mm"), ("300.4 mm", "250 mm"), ("300 mm × 250 mm", "300.4 mm × 250 mm", False, "")),
    (("300 mm", "250 mm"), ("301 mm", "250 mm"), ("300 mm × 250 mm", "301 mm × 250 mm", True, "+1 mm")),
    (("300 mm", "250 mm"), ("300 mm", "240 mm"), ("300 mm × 250 mm", "300 mm × 240 mm", True, "−10 mm")),
    (("300 mm", None), ("300 mm", None), ("300 mm", "300 mm", False, "")),
    (("300 mm", "250 mm"), ("300 mm", None), ("300 mm × 250 mm", "300 mm", None, "")),
    (("300 mm", "250 mm"), ("12 in", None), ("300 mm × 250 mm", "12 in", True, ""))])  # fmt: skip
def test_a_size_is_the_same_to_the_whole_millimetre(was: Any, now: Any, found: tuple[Any, ...]) -> None:
    orders = [job(**{f"{PLACE}__width": wide, f"{PLACE}__height": high}) for wide, high in (was, now)]
    told = plain(line("size", run(2, orders[1]), run(1, orders[0])))
    assert told is not None and (*told[:3], told[3].replace("\u00a0", " ")) == found


@pytest.mark.parametrize(("garments", "said"), [
    ([TEE], "Heavy tee, navy, 100 % cotton"), ([TEE, {**TEE, "lot": "L8"}], "Heavy tee, navy, 100 % cotton"),
    ([TEE, {**TEE, "colour": "black", "fibre": {"cotton": 60, "polyester": 40}}],
     "Heavy tee, navy, 100 % cotton; Heavy tee, black, 60 % cotton, 40 % polyester")])  # fmt: skip
def test_garments_are_told_with_their_fibre_each_once(garments: list[dict[str, Any]], said: str) -> None:
    told = line("garment", run(2, job(garment=garments)))
    assert told is not None and told.b == said


def test_lots_are_those_of_the_carton_else_of_the_job_sheet() -> None:
    noted = run(2, sheet={"stations": STATIONS, "run": {"garment_lot": "L9"}})
    assert plain(line("garment_lot", noted)) == ("L7", "L9", True, "")
    both = run(2, job(garment=[TEE, {**TEE, "lot": "L8"}]))
    assert plain(line("garment_lot", both)) == ("L7", "L7, L8", True, "")
    hood = {**TEE, "style": "Hood", "lot": ""}
    two = run(2, job(garment=[TEE, hood]))
    assert line("garment_lot", two, two) is None and plain(line("garment_lot.Heavy tee, navy", two, two)) == (
        "L7", "L7", False, "")  # fmt: skip
    assert line("garment_lot.Hood, navy", two, two) is None, "nobody knows it of either"


@pytest.mark.parametrize(("a", "b", "differs", "by", "within"), [
    (24.0, 23.0, False, "−1 N/cm, −4 %", "1 N/cm"), (24.0, 22.9, True, "−1.1 N/cm, −5 %", ""),
    (24.0, 24.0, False, "", ""), (24.0, 24.0001, False, "", ""), (24.0, None, None, "", "")])  # fmt: skip
def test_two_tensions_are_one_within_a_newton(a: float, b: float | None, differs: Any, by: str, within: str) -> None:
    now = run(2, screens={**SCREENS, 1: replace(SCREENS[1], mean_n_per_cm=b)})
    told = line("tension", now, run(1, screens={**SCREENS, 1: replace(SCREENS[1], mean_n_per_cm=a)}), 1)
    assert told is not None and (told.differs, told.by_how_much.replace("\u00a0", " ")) == (differs, by)
    assert told.within.replace("\u00a0", " ") == within


@pytest.mark.parametrize(
    ("a", "b", "differs"),
    [(100.0, 125.0, False), (100.0, 125.1, True), (125.0, 100.0, False), (125.1, 100.0, True), (0.0, 10.0, True)],
)
def test_two_exposures_are_one_within_a_share_of_the_longer(a: float, b: float, differs: bool) -> None:
    """A fifth of 125 is 25."""
    screens = [{**SCREENS, 1: replace(SCREENS[1], exposure_s=one)} for one in (a, b)]
    told = line("exposure", run(2, screens=screens[1]), run(1, screens=screens[0]), 1)
    assert told is not None and told.differs is differs and ("%" in told.by_how_much) == bool(a)


@pytest.mark.parametrize(("more", "differs", "within"), [
    ({"mesh": "225/in · 48 µm", "count_per_cm": 225 / 2.54}, False, "3 %, 2 µm"),
    ({"mesh": "200/in · 48 µm", "count_per_cm": 200 / 2.54}, True, ""),
    ({"mesh": "225/in", "count_per_cm": 225 / 2.54, "thread_um": None}, True, ""),
    ({"mesh": "225/in · 48 µm", "count_per_cm": None}, True, "")])  # fmt: skip
def test_two_meshes_are_one_within_the_limits_where_both_are_known(more: Any, differs: bool, within: str) -> None:
    now = run(2, screens={**SCREENS, 3: replace(SCREENS[3], **more)})
    told = line("mesh", now, station=3)
    assert told is not None and (told.differs, told.within.replace("\u00a0", " ")) == (differs, within)
    several = replace(now, printed={3: (Printed(now.screens[3]), Printed(replace(SCREENS[3], mesh="305/in")))})
    told = line("mesh", several, station=3)
    assert told is not None and told.differs and told.b == f"{more['mesh']}; 305/in" and not told.within
    for gone in ("mesh-count-tolerance", "mesh-thread-tolerance"):
        bare = Spec(one for one in shipped() if one.key != gone)
        (told,) = [one for one in compare(run(), now, bare) if (one.station, one.what) == (3, "mesh")]
        assert told.differs


def test_what_came_up_while_it_printed() -> None:
    told = [Changed(1, "", "strokes", "2", "3", "thin"), Changed(3, "to Hood", garment="Hood, navy"),
            Changed(3, "cleaned"), Changed(0, "belt slower", outside="dried longer"),
            Changed(0, "again", outside="dried longer"), Changed(1, "", "strokes", "", "3")]  # fmt: skip
    other = replace(SCREENS[3], code="9K32XM", mark="", emulsion="", step_held=None, exposure_s=None)
    printed = {3: (Printed(SCREENS[3], 40), Printed(other, 0, other=True)), 1: (Printed(SCREENS[1]),)}
    now = run(2, during=tuple(told), printed=printed)

    def said(station: int, what: str) -> tuple[str, str] | None:
        found = line(what, now, station=station)
        return found and (found.a, found.b.replace("\u00a0", " "))

    assert said(3, "impressions") == ("", f"{Printed(SCREENS[3]).name}: 40; 9K32X-M: not counted")
    assert said(1, "impressions") is None and said(1, "went_on") is None and said(3, "went_on") == ("", "Hood, navy")
    assert said(3, "screen_other") == (
        "", "9K32X-M: 230/in · 48 µm, Tension, mean 22 N/cm, Tension, lowest reading 21 N/cm")  # fmt: skip
    assert said(3, "changed") == ("", "cleaned") and said(0, "changed") == ("", "belt slower; again")
    assert (said(1, "changed") or ("", ""))[1].count("Strokes") == 2
    lines = {(one.station, one.what): one.b for one in for_customer(compare(run(), now, SPEC), run(), now)}
    assert lines[0, "changed"] == "dried longer" and (3, "changed") not in lines and (3, "impressions") not in lines
    assert lines[1, "changed"] == "Strokes from 2 to 3", "each once, without its reason"


@pytest.mark.parametrize(("a", "b", "what", "said"), [
    ("", "", "angle", "not known of either print"), ("–", "15 deg", "angle", "not known of the print before"),
    ("15 deg", "not measured", "angle", "not known of this print"), ("15 deg", "steep", "angle", "not known whether"),
    ("", "", "changed", "")])  # fmt: skip
def test_of_which_print_something_is_not_known(a: str, b: str, what: str, said: str) -> None:
    told = ComparedLine(1, "white", what, a, b, None)
    assert told.not_known.startswith(said) and bool(told.not_known) == bool(said)
    assert replace(told, differs=False).not_known == "" == replace(told, verdict=judge([])).not_known
    assert (replace(told, station=0).placed, told.placed) == (told.word, f"1 white, {told.word}")


@pytest.mark.parametrize(("approved", "staff", "said"), [
    (None, True, ""), ({}, True, ""), ({"approved_by": "Vera"}, True, "Vera"),
    ({"approved_by": "Vera"}, False, "the shop"),
    ({"approved_by": "Vera", "approved_as": "customer", "how": "photo"}, True, "Vera (customer), photo"),
    ({"approved_by": "Vera", "approved_as": "customer", "how": "photo"}, False, "the customer"),
    ({"approved_by": "Vera", "approved_as": "press"}, False, "the shop")])  # fmt: skip
def test_who_approved(approved: Any, staff: bool, said: str) -> None:
    assert comparison.approval_said(approved, staff) == said


@pytest.mark.parametrize(("one", "other", "keys", "far"), [
    (None, Lab(50, 0, 0), ["colour-first-not-measured"], False), (Lab(50, 0, 0), None, ["colour-not-measured"], False),
    (Lab(50, 0, 0), Lab(50, 0, 0), ["colour-close"], True)])  # fmt: skip
def test_two_colours_are_judged_where_both_were_read(one: Any, other: Any, keys: list[str], far: bool) -> None:
    how = ("D50, 2°, x", "D50, 2°, x", "red", job(), "K")
    difference, verdict = comparison.judge_colour(one, other, *how, SPEC)
    assert [reason.key for reason in verdict.reasons] == keys and (difference is not None) == far
    for gone in ("colour-warn", "colour-fail"):
        bare = Spec(row for row in shipped() if row.key != gone)
        _none, verdict = comparison.judge_colour(Lab(50, 0, 0), Lab(50, 0, 0), *how, bare)
        assert [reason.key for reason in verdict.reasons] == ["colour-no-limit"]


READ = {"lab": {"3": [50, 0, 0]}, "lab_under": {"3": "D50, 2°, x"}, "lab_conditions": "D50, 2°, x"}
BLUE_ON_BLACK = {"garment": {"style": "Heavy tee", "colour": "black"}, "inks": {"red": {"colour": "blue"}}}


@pytest.mark.parametrize(("was", "now", "on", "compared"), [
    ({}, {}, "", True), ({}, {f"{PLACE}__station__2__reference": "Guide C 45"}, "", True),  # the job's own ink of each
    ({"colourway": [BLUE_ON_BLACK]}, {"colourway": [BLUE_ON_BLACK]}, "", False),
    ({"colourway": [BLUE_ON_BLACK]}, {"colourway": [BLUE_ON_BLACK]}, "Heavy tee, navy", False),
    ({}, {"colourway": [BLUE_ON_BLACK]}, "Heavy tee, navy", True),
    ({}, {"colourway": [BLUE_ON_BLACK]}, "Heavy tee, black", False),
    ({}, {"colourway": [{**BLUE_ON_BLACK, "inks": {"red": False}}]}, "", True)])  # fmt: skip
def test_a_reading_of_another_ink_is_none_of_this_one(was: Any, now: Any, on: str, compared: bool) -> None:
    both = [TEE, {**TEE, "colour": "black"}]
    one, other = (job(**{"garment": both, **changes}) for changes in (was, now))
    (found,) = comparison.colours(one.placements[0], READ, other.placements[0], READ, other, "K", SPEC, one, on)
    assert (found.station, found.difference is not None) == (3, compared)
    assert ("colour-other-ink" in found.verdict.keys) == (not compared)


def test_colours_are_told_by_what_a_position_prints() -> None:
    moved = job(**{f"{PLACE}__station": [RED, FLASH, WHITE]})
    now = {**READ, "lab": {"1": [50, 0, 0], "3": [90, 0, 0]}, "lab_under": dict.fromkeys("13", "D50, 2°, x")}
    found = comparison.colours(job().placements[0], READ, moved.placements[0], now, moved, "K", SPEC, job())
    assert [(one.station, one.approved is not None, one.difference) for one in found] == [
        (1, True, 0.0),
        (3, False, None),
    ]
    assert found[1].verdict.keys == ("colour-first-not-measured",)
    assert comparison.colours(job().placements[0], None, moved.placements[0], None, moved, "K", SPEC) == []
