"""The remarks on a job, cause by cause. Limits: the source stands beside each test; "common practice" where none is."""

from __future__ import annotations

import copy
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from tickets.calculator.verdict import ADVISED, Level, say
from tickets.domain.jobs.heads import Press
from tickets.domain.jobs.job import read, read_file
from tickets.domain.runs.job_remarks import _SAID, Remark, remarks
from tickets.domain.spec import Row, Spec, shipped

SAMPLES = Path(__file__).parent.parent / "sample_jobs"

WHITE = {"does": "print", "colour": "white", "ink": "plastisol", "mesh": {"count": "156/in", "thread": "64 um"}}
RED = WHITE | {"colour": "red"}
FLASH = {"does": "flash", "time": "6 s"}
DISCHARGE = WHITE | {"colour": "clear base", "separation": "underbase", "ink": "discharge"}


def made(*stations: dict[str, Any], fibre: dict[str, float] | None = None, **more: Any) -> dict[str, Any]:
    data: dict[str, Any] = {
        "title": "Heron tees",
        "customer": "Saltmarsh Chapel",
        "due": "2026-12-15",
        "art": {"name": "Heron", "revision": "1"},
        "garment": [{"style": "Tee", "colour": "black", "pieces": 40, "fibre": fibre or {"cotton": 100}}],
        "placement": [{"name": "Front", "width": "300 mm", "station": [copy.deepcopy(each) for each in stations]}],
    }
    return data | more


def on(data: dict[str, Any], limits: Spec | None = None) -> dict[str, Remark]:
    """Key -> remark."""
    found = remarks(read(data), limits) if limits else remarks(read(data))
    return {remark.reason.key: remark for remark in found}


def level(data: dict[str, Any], key: str) -> Level | None:
    remark = on(data).get(key)
    return remark.reason.level if remark else None


def test_a_plain_job_has_no_remarks() -> None:
    assert on(made(WHITE)) == {}


@pytest.mark.parametrize(
    ("today", "remarked"), [(date(2026, 12, 16), True), (date(2026, 12, 15), False), (date(2026, 12, 1), False)]
)
def test_a_press_date_that_is_past_is_remarked_on_and_todays_is_not(today: date, remarked: bool) -> None:
    # common practice
    found = remarks(read(made(WHITE)), today=today)  # due on 15 December
    assert [(one.place, one.reason.key) for one in found] == ([("due", "job-due-past")] if remarked else [])
    assert not remarked or "2026-12-15" in say(found[0].reason).sentence


@pytest.mark.parametrize(
    ("fibre", "key", "expected"),
    [
        ({"cotton": 100}, None, None),
        ({"organic cotton": 60, "hemp": 40}, None, None),
        ({"cotton": 60, "polyester": 40}, "job-discharge-little-cotton", Level.CAUTION),
        ({"cotton": 50, "Polyester": 25, "viscose": 25}, "job-discharge-little-cotton", Level.CAUTION),
        ({"polyester": 100}, "job-discharge-no-cotton", Level.STOP),
        ({"bawełna": 100}, "job-discharge-fibre-unknown", Level.UNKNOWN),
        ({"bawełna": 60, "polyester": 40}, "job-discharge-fibre-unknown", Level.UNKNOWN),
        ({"cotton": 35, "polyester": 65}, "job-discharge-scarce-cotton", Level.CAUTION),
        ({"cotton": 50, "polyester": 50}, "job-discharge-little-cotton", Level.CAUTION),
        ({"cotton": 33.3, "hemp": 33.3, "linen": 33.3}, None, None),
        ({"cotton": 99.5, "elastane": 0.5}, None, None),
        ({"cotton": 99.4, "elastane": 0.6}, "job-discharge-little-cotton", Level.CAUTION),
    ],
)
def test_discharge_wants_natural_fibre(fibre: dict[str, float], key: str | None, expected: Level | None) -> None:
    """100 % natural fibre; blends give a muted result (Images (UK), Apr 2022, p. 78).
    Some shops print 50/50 (learnhowtoscreenprint.com)."""
    found = {name: remark.reason.level for name, remark in on(made(DISCHARGE, fibre=fibre)).items()}
    about_fibre = {name: one for name, one in found.items() if name not in (
        "job-discharge-dye-lot", "job-water-resistant-emulsion", "bleed-not-planned", "no-cure-span",
        "fibre-not-known")}  # fmt: skip
    assert about_fibre == ({key: expected} if key else {})


def test_plastisol_does_not_ask_for_cotton() -> None:
    assert not [key for key in on(made(WHITE, fibre={"polyester": 100})) if "discharge" in key]


def test_discharge_on_infants_wear_is_a_stop() -> None:
    """A published discharge guide does not recommend it; limits: GB 18401 (20 mg/kg), Japan's Law 112."""
    data = made(DISCHARGE)
    data["garment"][0]["infant"] = True
    remark = on(data)["job-discharge-infant"]
    assert (remark.place, remark.reason.level) == ("garment[1].infant", Level.STOP)
    plain = made(WHITE)
    plain["garment"][0]["infant"] = True
    assert on(plain) == {}


def test_only_the_garment_that_takes_discharge_is_remarked() -> None:
    data = made(WHITE)
    data["garment"].append({"style": "Tee", "colour": "navy", "pieces": 4, "fibre": {"polyester": 100}})
    data["garment"].append({"style": "Tee", "colour": "teal", "pieces": 4, "fibre": {"polyester": 100}})
    data["colourway"] = [{"garment": {"style": "Tee", "colour": "teal"}, "inks": {"white": {"ink": "discharge"}}}]
    found = on(data)
    assert found["job-discharge-no-cotton"].place == "garment[3].fibre"
    assert found["job-water-resistant-emulsion"].place == "placement[1]"


def test_discharge_always_says_that_the_dye_lot_moves_the_colour() -> None:
    """A print shop's published policy: the colour differs between orders because dye lots differ."""
    assert level(made(DISCHARGE), "job-discharge-dye-lot") == Level.CAUTION
    repeat = on(made(DISCHARGE, repeats="SC-3"))
    assert "job-discharge-dye-lot" not in repeat
    assert repeat["job-discharge-dye-lot-repeat"].place == "repeats"


@pytest.mark.parametrize("ink", ["water-base", "discharge"])
def test_water_inks_ask_for_a_water_resistant_emulsion(ink: str) -> None:
    """Shorter and Stubbings, "Take charge of your discharge printing", Printwear & Promotion."""
    remark = on(made(FLASH, WHITE | {"ink": ink}))["job-water-resistant-emulsion"]
    assert remark.reason.numbers == {"stations": "2", "inks": ink}
    assert remark.reason.level == Level.CAUTION
    advice = say(remark.reason).advice
    assert "safety data sheet" in advice and "local rules" in advice


@pytest.mark.parametrize(
    ("fibre", "colour", "peak", "expected"),
    [
        ({"polyester": 100}, "red", "132 degC", None),
        ({"polyester": 100}, "red", "271 degF", Level.CAUTION),
        ({"cotton": 60, "recycled polyester": 40}, "red", "160 degC", Level.CAUTION),
        ({"polyester": 100}, "White", "160 degC", None),
        ({"cotton": 100}, "red", "160 degC", None),
    ],
)
def test_cure_above_the_dye_bleed_limit(
    fibre: dict[str, float], colour: str, peak: str, expected: Level | None
) -> None:
    """Dyes are set at 270 to 300 F (fn.ink, "Stop dye migration"): 270 F = 132.2 C; 271 F is over it."""
    data = made(WHITE, fibre=fibre)
    data["garment"][0]["colour"] = colour
    data["placement"][0]["dryer"] = {"garment_peak": peak}
    assert level(data, "job-cure-above-bleed") == expected
    own = Row(900, "dye-bleed-onset", 170, "degC", {"fibre": "polyester"}, "our own garments, tested")
    assert "job-cure-above-bleed" not in on(data, Spec([*shipped(), own]))


def test_a_remark_names_the_row_and_the_source_of_the_shop() -> None:
    data = made(WHITE, fibre={"polyester": 100})
    data["placement"][0]["dryer"] = {"garment_peak": "160 degC"}
    own = Row(900, "dye-bleed-onset", 125, "degC", {"fibre": "polyester"}, "our own garments, tested")
    remark = on(data, Spec([*shipped(), own]))["job-cure-above-bleed"]
    assert remark.reason.spec == (900,)
    assert remark.source == "our own garments, tested"
    assert remark.reason.numbers["bleed_c"] == 125


def test_a_limit_that_the_shop_withdrew_is_not_judged() -> None:
    spec = Spec(row for row in shipped() if row.key.startswith("tension"))
    station = WHITE | {"mesh": {"count": "80/in"}, "halftone": {"ruling": "65 lpi", "angle": "45 deg"}, "flake": "1 mm"}
    data = made(station, DISCHARGE, fibre={"polyester": 100})
    data["placement"][0]["dryer"] = {"garment_peak": "200 degC"}
    assert set(on(data, spec)) == {"job-discharge-dye-lot", "job-water-resistant-emulsion", "cure-not-known"}


@pytest.mark.parametrize(
    ("ruling", "count", "key"),
    [
        ("65 lpi", "230/in", None),
        ("65 lpi", "260/in", None),
        ("65 lpi", "90/cm", None),
        ("65 lpi", "200/in", "halftone-fine"),
        ("85 lpi", "230/in", "halftone-fine"),
        ("65 lpi", "156/in", "halftone-too-fine"),
    ],
)
def test_the_ruling_against_the_mesh(ruling: str, count: str, key: str | None) -> None:
    """M. Coudray, Screen Printing, April 2003: 65 lines take 227.5 to 230 (3.5) or 260 (4). Sefar: no less than 2.5."""
    data = made(WHITE | {"mesh": {"count": count}, "halftone": {"ruling": ruling, "angle": "22.5 deg"}})
    assert list(on(data)) == ([key] if key else [])
    if key:
        assert on(data)[key].place == "placement[1].station[1].halftone.ruling"


@pytest.mark.parametrize(
    ("angle", "remarked"), [("22.5 deg", False), ("45 deg", True), ("0 deg", True), ("90 deg", True)]
)
def test_the_angle_of_a_halftone(angle: str, remarked: bool) -> None:
    """Sefar, "Questions about half-tone printing": worst at 0, 45 and 90 degrees to the threads."""
    data = made(WHITE | {"mesh": {"count": "305/in"}, "halftone": {"ruling": "55 lpi", "angle": angle}})
    assert (level(data, "moire-angle") is Level.CAUTION) == remarked


@pytest.mark.parametrize(
    ("flake", "mesh", "key"),
    [
        # openings from the published designations 110/80 (open area 43 %, so 151 um) and 225/40 (73 um)
        ("50 um", {"count": "110/in", "thread": "80 um"}, None),
        ("60 um", {"count": "110/in", "thread": "80 um"}, "flake-clogs"),
        ("100 um", {"count": "225/in", "thread": "40 um"}, "flake-never-passes"),
        ("20 um", {"count": "225/in"}, "flake-opening-unknown"),
        ("150 um", {"count": "225/in"}, "flake-never-passes"),
    ],
)
def test_the_flake_against_the_opening(flake: str, mesh: dict[str, str], key: str | None) -> None:
    """Three times the largest flake: common practice."""
    assert list(on(made(WHITE | {"mesh": mesh, "flake": flake}))) == ([key] if key else [])


HIGHLIGHT = WHITE | {"separation": "highlight white"}


@pytest.mark.parametrize(
    ("stations", "remarked"),
    [
        ([RED, HIGHLIGHT], True),
        ([RED, WHITE], True),
        ([RED, FLASH, HIGHLIGHT], False),
        ([RED, FLASH, RED | {"colour": "blue"}, HIGHLIGHT], True),
        ([RED, {"does": "cool"}, HIGHLIGHT], True),
        ([WHITE | {"separation": "white base"}, FLASH, RED], False),
        ([WHITE, RED], False),
        ([DISCHARGE, WHITE], False),
        ([RED | {"ink": "water-base"}, HIGHLIGHT | {"ink": "water-base"}], False),
        ([RED, HIGHLIGHT | {"note": "wet on purpose: it should pick up some red"}], False),
    ],
)
def test_a_highlight_after_colours_wants_a_flash(stations: list[dict[str, Any]], remarked: bool) -> None:
    """Common practice."""
    assert (level(made(*stations), "job-no-flash-before-highlight") is Level.CAUTION) == remarked


def test_two_stations_wishing_for_one_head() -> None:
    data = made(WHITE | {"head": 3}, FLASH | {"head": 4}, RED | {"head": 3})
    remark = on(data)["job-one-head-twice"]
    assert remark.place == "placement[1].station[3].head"
    assert remark.reason.numbers == {"head": 3, "stations": "1, 3"}
    again = made(WHITE | {"head": 3}, FLASH | {"head": 4}, WHITE | {"head": 3, "revolution": 2, "note": "second hit"})
    assert on(again) == {}


def test_a_head_cannot_change_its_screen_between_revolutions_nor_hold_one_thing_twice() -> None:
    """One head holds one screen or flash (judgement)."""
    assert "job-one-head-twice" in on(made(WHITE | {"head": 3}, RED | {"head": 3, "revolution": 2}))
    assert "job-one-head-twice" in on(made(WHITE, FLASH | {"head": 4}, FLASH | {"head": 4}))
    assert on(made(WHITE, FLASH | {"head": 4}, FLASH | {"head": 4, "revolution": 2})) == {}


def test_one_separation_at_two_stations_wants_a_reason() -> None:
    remark = on(made(WHITE, FLASH, WHITE))["job-one-separation-twice"]
    assert remark.place == "placement[1].station[3]"
    assert on(made(WHITE, FLASH, WHITE | {"note": "more cover"})) == {}


def test_one_image_with_one_height() -> None:
    data = made(WHITE)
    data["placement"][0] |= {"same_image": True, "height": "200 mm"}
    data["placement"].append({"name": "Back", "width": "300 mm", "same_image": True, "station": [WHITE]})
    assert on(data)["job-one-height"].place == "placement[2].height"
    data["placement"][1]["height"] = "20 cm"
    assert on(data) == {}


@pytest.mark.parametrize("name", ["harbour-lights", "harbour-lights-again"])
def test_a_soft_hand_job_passes_with_cautions_at_most(name: str) -> None:
    """Common practice: discharge underbase at 230/in under 280/in colours, hard or composite blades, flashed until
    dry, wet on wet colours, a flash before one stroke of highlight white; the belt slower and cooler on a blend."""
    job = read_file(SAMPLES / f"{name}.toml")
    found = remarks(job)
    assert found and {remark.reason.level for remark in found} == {Level.CAUTION}
    assert not {"job-no-flash-before-highlight", "job-one-head-twice"} & {remark.reason.key for remark in found}


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_no_sample_would_be_stopped_and_each_remark_is_said(path: Path) -> None:
    for remark in remarks(read_file(path)):
        assert remark.reason.level is Level.CAUTION
        assert remark.source
        said = say(remark.reason)
        assert said.sentence and "{" not in said.sentence + said.advice
        assert said.advice or remark.reason.numbers.get(ADVISED)  # else another remark says what to do for both


def test_every_remark_is_met_by_these_tests_and_can_be_said() -> None:
    """The sentences name numbers that their reasons carry."""
    jobs = [
        made(DISCHARGE, fibre={"polyester": 100}),
        made(DISCHARGE, fibre={"cotton": 20, "polyester": 80}),
        made(DISCHARGE, fibre={"cotton": 50, "polyester": 50}, repeats="SC-3"),
        made(DISCHARGE, fibre={"bawełna": 100}),
        made(WHITE | {"mesh": {"count": "156/in"}, "halftone": {"ruling": "65 lpi", "angle": "45 deg"}}),
        made(WHITE | {"mesh": {"count": "200/in"}, "halftone": {"ruling": "65 lpi"}}),
        made(WHITE | {"mesh": {"count": "110/in", "thread": "80 um"}, "flake": "60 um"}),
        made(WHITE | {"mesh": {"count": "225/in"}, "flake": "20 um"}),
        made(WHITE | {"mesh": {"count": "225/in"}, "flake": "150 um"}),
        made(WHITE | {"head": 1}, RED | {"head": 1}, WHITE),
    ]
    jobs[0]["garment"][0]["infant"] = True
    jobs[0]["placement"][0]["dryer"] = {"garment_peak": "160 degC"}
    jobs[1]["placement"][0]["height"] = "14 mm"
    jobs[-1]["placement"][0] |= {"same_image": True, "height": "200 mm"}
    jobs[-1]["placement"].append({"name": "Back", "width": "300 mm", "same_image": True, "station": [WHITE]})
    met = {}
    for data in jobs:
        met |= {one.reason.key: one.reason for one in remarks(read(data), today=date(2026, 12, 16))}
    for heads in (1, 2):
        found = remarks(read(made(WHITE | {"head": 14}, FLASH, RED)), presses=[Press(heads)])
        met |= {one.reason.key: one.reason for one in found}
    from_calculator = {name for name in met if not name.startswith("job-")}
    assert set(met) - from_calculator == {*_SAID, "job-cure-above-bleed"}
    assert from_calculator == {
        "halftone-fine", "halftone-too-fine", "moire-angle", "flake-clogs", "flake-opening-unknown",
        "flake-never-passes", "bleed-not-planned", "no-cure-span", "fibre-not-known",
    }  # fmt: skip
    for reason in met.values():
        said = say(reason)
        assert said.sentence and "{" not in said.sentence + said.advice
        assert said.advice or reason.numbers.get(ADVISED)


def test_heads_that_no_press_of_the_shop_has_are_remarked_on() -> None:
    # judgement: what a press has is counted
    data = made(WHITE | {"head": 14}, FLASH, RED | {"head": 8})

    def keys(*presses: Press) -> dict[str, str]:
        return {one.reason.key: one.place for one in remarks(read(data), presses=presses)}

    assert keys(Press(8), Press(10)) == {"job-head-beyond": "placement[1].station[1].head"}
    assert keys() == {} and keys(Press(14)) == {} and keys(Press(8), Press(None)) == {}
    assert set(keys(Press(2))) == {"job-head-beyond", "job-more-heads-than-free"}
    assert set(keys(Press(1))) == {"job-head-beyond", "job-more-heads-than-any"}
    assert "job-more-heads-than-free" not in keys(Press(2, "any order")), "its flash stands beside the heads"
