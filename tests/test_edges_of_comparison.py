"""Two prints beside each other at the edge of each rule: what is the same, what is not known, what customers read."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from test_repeat import FLASH, RED, SCREENS, SPEC, STATIONS, TEE, WHITE, job, run

from tickets.calculator.colour import Lab
from tickets.calculator.verdict import judge
from tickets.domain.runs import as_run, comparison
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


# -- two settings as they were noted


@pytest.mark.parametrize(("a", "b", "same", "far", "metric", "us"), [
    ("6 s", "6.000000001 s", True, "", None, None), ("6 s", "6.0001 s", False, "+0.0001 s", None, None),
    ("0 s", "0.0000000001 s", True, "", None, None), ("70,5", "70.5", True, "", None, None),
    ("a, b", "a,b", True, "", None, None), ("70 · 15 deg", "70", False, "", None, None),
    ("10 s", "9 s", False, "−1 s", None, None),
    ("1 min", "50 s", False, "−10 s", ("60 s", "50 s"), ("60 s", "50 s")), ("dial 4", "4", False, "", None, None),
    ("4 dial", "5 dial", False, "+1 dial", None, None), ("4 dial", "5 turns", False, "", None, None),
    ("3/16", "1/8", False, "−0.0625", None, None), ("70/90/70", "70", False, "", None, None),
    ("230/in", "90/cm", False, "−0.551 /cm", ("90.6/cm", "90/cm"), ("230/in", "228.6/in")),
    ("100 g", "0.2 kg", False, "+0.1 kg", ("0.1 kg", "0.2 kg"), ("0.1 kg", "0.2 kg")),
    ("1.2 m/min", "4 ft/min", False, "+0.063 ft/min", ("1.2 m/min", "1.22 m/min"), ("3.94 ft/min", "4 ft/min")),
    ("160 C", "330 F", False, "+10 °F", ("160 °C", "166 °C"), ("320 °F", "330 °F")), ("x", "X", True, "", None, None),
    *((nothing, "x", None, "", None, None) for nothing in ("", "–", "Not Measured"))])  # fmt: skip
def test_two_settings_beside_each_other(a: str, b: str, same: bool | None, far: str, metric: Any, us: Any) -> None:
    """In the unit of the later one: 330 F less 320 F, 90/cm less 90.55, 4 ft/min less 3.937."""
    assert as_run.alike(a, b) is same and as_run.alike(b, a) is same
    assert as_run.how_far(a, b).replace("\u00a0", " ") == far
    for system, both in (("metric", metric), ("us", us)):
        found = tuple(text.replace("\u00a0", " ") for text in as_run.side_by_side(a, b, system))
        assert found == (both or (a, b))


@pytest.mark.parametrize(("name", "a", "b", "same", "within"), [
    ("hold", "60 s", "61 s", True, "2 %"), ("hold", "60 s", "62 s", False, ""), ("hold", "60 s", "60 s", True, ""),
    ("hold", "60 s", "1 min", True, ""), ("garment_peak", "160 C", "162 C", True, "2 °C"),
    ("hold", "", "60 s", None, ""),
    ("garment_peak", "160 C", "166 C", False, ""), ("squeegee", "70", "71", False, ""),
    ("angle", "15 deg", "16 deg", True, "1°"),
    ("dryer.hold", "60 s", "61 s", True, "2 %"), ("recipe", "base 94 g, black 6 g", "base 940 g, black 60 g", True, ""),
    ("recipe", "base 94 g, black 6 g", "base 94 g, black 6.2 g", False, ""), ("recipe", "ours", "base 94 g", False, ""),
    ("surface_feel", "dry", "nothing on the finger", True, ""), ("surface_feel", "dry", "fine", None, "")])  # fmt: skip
def test_a_setting_is_the_same_within_its_limit(name: str, a: str, b: str, same: bool | None, within: str) -> None:
    assert as_run.alike_as(name, a, b) is same and as_run.within(name, a, b).replace("\u00a0", " ") == within


@pytest.mark.parametrize(("change", "late", "said"), [
    (Changed(1, "", "strokes", "2", "3", "thin"), False, "Strokes from 2 to 3 (thin)"),
    (Changed(1, "", "strokes", "2", ""), False, "Strokes from 2 to –"), (Changed(1, "cleaned"), False, "cleaned"),
    (Changed(1, "", "strokes", "", "3"), True, "Strokes: 3, noted only after the approval"),
    (Changed(1, "", "strokes", "", "3", "thin"), False, "Strokes from – to 3 (thin)"), (Changed(1, "", "strokes"), True,
     "Strokes: –, noted only after the approval"),
     (Changed(1, "cleaned", why="dirt"), False, "cleaned (dirt)")])  # fmt: skip
def test_a_change_in_words(change: Changed, late: bool, said: str) -> None:
    assert (change.late, change.said()) == (late, said)
    assert change.said(False) == said.partition(" (")[0]


def test_a_note_of_an_earlier_run_says_which() -> None:
    assert as_run.note_told("", {"": 3}) == "" and as_run.note_told("thin", {"thin": 3}) == "note of run 3: thin"
    assert as_run.note_told("thin", {"thick": 3}) == "note of an earlier run: thin"
    assert [as_run.target_word(name) for name in ("hold", "strokes", "blade_maker")] == [
        "Hold to reach",
        "Strokes",
        "blade maker",
    ]
    assert as_run.form_word("hold") == "Held at the peak for" and as_run.form_word("strokes") == "Strokes"
    assert as_run.paper_word("surface") == "Surface" and as_run.paper_word("hold") == "Held at the peak"
    assert as_run.field_word("garment_lot.Hood, navy") == "Garment lot: Hood, navy"


@pytest.mark.parametrize(("sheet", "name", "value", "proved"), [
    ({}, "strokes", "2", True), ({}, "hold", "60 s", False), ({}, "hold", "not measured", True), ({}, "hold", "", True),
    ({"measured": {}}, "hold", "60 s", False), ({"measured": {"run": {"hold": {}}}}, "hold", "60 s", True),
    ({"measured": {"1": {"hold": {}}}}, "hold", "60 s", False),
    ({"measured": None}, "hold", "60 s", False)])  # fmt: skip
def test_whether_a_measurement_is_known_to_have_been_taken(sheet: Any, name: str, value: str, proved: bool) -> None:
    assert as_run.proved(sheet, "run", name, value) is proved
    said = run(sheet=sheet).said("run", name, value)
    assert said == value if proved else said == f"{value} (noted at set-up)"
