"""The papers of a run as they come out of the printer: rendered by pdfium, their code read by zxing-cpp."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from test_paper import outside, overlaps, read_codes, rendered, words
from test_repeat import APPROVED, SCREENS, SPEC, STATIONS, job, measured, run

from tickets.calculator.verdict import Level
from tickets.domain.papers.kept import as_data, build
from tickets.domain.papers.run_sheet import ComparisonSheet, SetupSheet, comparison_sheet, setup_sheet
from tickets.domain.papers.ticket import JobTicket, job_ticket
from tickets.domain.refusal import Refused
from tickets.domain.runs.comparison import compare
from tickets.paper.page import PAPERS
from tickets.paper.sheet import comparison_pdf, draw_comparison, draw_setup, setup_pdf

ADDRESS = "http://192.168.1.20:8600"
TARGET = {**STATIONS, "run": {"belt_speed": "1.2 m/min", "platen": "standard"}}


def ticket(**more: Any) -> JobTicket:
    return job_ticket(job(), "7K32XM", ADDRESS, shop="Gull & Anchor", printed_on="2026-03-09", **more)


def setup(**more: Any) -> SetupSheet:
    order = job()
    known: dict[str, Any] = {"run": "12", "press": "Press 2", "target": TARGET, "where_from": "approved run 7"}
    made = ticket()
    return setup_sheet(made, order.placements[0], made.placements[0], **{**known, **more})


def comparison() -> ComparisonSheet:
    seen = {"lab_conditions": "D50, 2°"}
    a = run(7, approved={**APPROVED, **seen, "lab": {"3": [50, 0, 0]}}, day="2026-01-03")
    stations = {**STATIONS, "2": {"time": "7 s", "surface": "105 degC"}, "1": {**STATIONS["1"], "note": "Boris: thin"}}
    press = {"approved_by": "Boris Secret", "approved_as": "press", "lab": {"3": [51.5, 0, 0]}, **seen}
    b = run(12, approved=press, day="2026-03-09", sheet={"stations": stations})
    why = "Compared with the print before."
    return comparison_sheet(ticket(), a, b, why, compare(a, b, SPEC), remarks=["A remark."])


# The set-up sheet


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_set_up_sheet_fits_its_paper_and_its_code_reads(paper: str):
    pdf, pages = draw_setup(setup(), paper)
    assert not overlaps(pages) and not outside(pages, 8)
    assert {(round(wide, 1), round(high, 1)) for wide, high in pages.sizes} == {PAPERS[paper]}
    for page in rendered(pdf):
        assert [code.text for code in read_codes(page)] == [f"{ADDRESS}/t/7K32XM"]


def test_a_blank_sheet_has_the_target_and_lines_to_write_on():
    pdf, pages = draw_setup(setup(), "A4")
    said = words(pdf)
    for wanted in ("Set-up sheet", "Press 2", "Front · run 12", "target: approved run 7", "white",
                   "160/in · 64 µm", "strokes 2", "squeegee 70 · square · 15°", "6 s", "105 °C", "Cold start", "Steady",
                   "Off-contact", "Pressure", "Belt A or B", "Belt speed, measured (1.2 m/min)", "Note",
                   "First print approved by", "Sample kept at", "7K32X-M",
                   "The maker’s safety data sheet and local rules"):  # fmt: skip
        assert wanted in said, wanted
    # a blank is a thin rule: at least those of two prints, a flash and the whole placement
    fields = 11 + 11 + 5 + 11 + 3
    short = [one for one in pages.drawn if one.kind == "rule" and one.top == one.bottom and one.right - one.left < 75]
    assert len(short) >= fields - 3


def test_what_was_noted_is_printed_and_marked_where_it_is_not_the_target():
    as_run = {
        "stations": {
            **STATIONS,
            "1": {**STATIONS["1"], "strokes": "1", "pressure": "dial 4", "off_contact": "not measured", "order": "3"},
            "2": {"time": "6 sec", "time_cold": "9 s"},
            "3": {**STATIONS["3"], "note": "two turns up after ten pieces: the red looked thin", "bucket": "K32XM7"},
        },
        "run": {"belt": "B", "belt_speed": "1.1 m/min"},
    }
    screens = {1: "7K32X-M · A 12"}
    sheet = setup(as_run=as_run, screens=screens, heads={1: 2}, approved="Vera Lind (customer)", remarks=["Lot L8."])
    pdf, pages = draw_setup(sheet, "A4")
    said = words(pdf)
    for wanted in ("other: 1", "dial 4", "not measured", "9 s", "K32XM7", "other: 1.1 m/min", "7K32X-M · A 12",
                   "Lot L8.", "Vera Lind (customer)", "two turns up"):  # fmt: skip
        assert wanted in said, wanted
    assert "other: 6" not in said and not overlaps(pages) and not outside(pages, 8)
    by_label = {setting.label: setting for setting in sheet.stations[0].settings}
    assert by_label["Head"].as_run == "2" and by_label["Position"].as_run == "3"
    assert by_label["Strokes"].differs and not by_label["Squeegee"].differs


def test_what_was_noted_beyond_what_is_asked_is_printed_too_and_nothing_twice():
    as_run = {"stations": {"1": {**STATIONS["1"], "flood": "slow", "recipe": "white 900 g"}}}
    labels = [setting.label for setting in setup(as_run=as_run).stations[0].settings]
    assert {"Flood", "Recipe"} <= set(labels) and labels[-1] == "Note"
    for station in setup(as_run={"stations": {**STATIONS, "2": {"time": "6 s"}}}).stations:
        labels = [setting.label for setting in station.settings]
        assert len(labels) == len(set(labels)) and not {"Recipe", "Ink"} & set(labels)


def test_a_flash_has_a_line_for_each_of_its_times():
    """No time stands in for another: what was not noted once it was steady is left blank."""

    def times(known: bool = True, **flash: str) -> dict[str, tuple[str, str]]:
        target = {**TARGET, "2": {"time": "5 s", "time_cold": "6 s", "time_steady": "4.5 s"}}
        as_run = {"stations": {**STATIONS, "2": flash}}
        sheet = setup(target=target, as_run=measured(as_run) if known else as_run)
        (station,) = [one for one in sheet.stations if not one.prints]
        return {one.label: (one.target, one.as_run) for one in station.settings if one.target}

    noted = times(time="5 s", time_cold="6 s", time_steady="4.6 s")
    assert noted == {"Time": ("5 s", "5 s"), "Cold start": ("6 s", "6 s"), "Steady": ("4.5 s", "4.6 s")}
    copied = times(False, time="5 s", time_cold="6 s")  # by a sheet that did not keep who measured
    assert copied["Time"] == ("5 s", "5 s") and copied["Cold start"] == ("6 s", "6 s (noted at set-up)")
    assert times(time="8 s") == {"Time": ("5 s", "8 s"), "Cold start": ("6 s", ""), "Steady": ("4.5 s", "")}


def test_the_approval_and_what_was_changed_are_filled_in_where_they_were_noted():
    changes = ["2026-03-09 14:05, position 2: Flash time from 5 s to 6 s (lint stuck)"]
    known = {"approved": "Vera Lind (customer)", "how": "photo sent", "sample": "drawer 4", "changes": changes}
    sheet = setup(**known)
    for paper in ("A4", "Letter"):
        pdf, pages = draw_setup(sheet, paper)
        said = " ".join(words(pdf).split())
        for wanted in ("Vera Lind (customer)", "How photo sent", "Sample kept at drawer 4", "Changed during the run",
                       changes[0]):  # fmt: skip
            assert wanted in said, wanted
        assert not overlaps(pages) and not outside(pages, 8)
    assert "Changed during the run" not in words(setup_pdf(setup()))


def test_a_sheet_kept_before_these_had_a_place_draws_as_it_did():
    data = as_data(setup(approved="Vera Lind (customer), photo sent"))
    for name in ("how", "sample", "changes"):
        del data[name]
    said = " ".join(words(setup_pdf(build(SetupSheet, data))).split())
    assert "Vera Lind (customer), photo sent How Sample kept at" in said and "Changed" not in said


def test_an_ink_says_its_bucket_by_name_and_a_lot_beside_it_that_is_another():
    def lot(**ink: str) -> str:
        sheet = setup(as_run={"stations": {**STATIONS, "1": {**STATIONS["1"], **ink}}})
        (found,) = [one.as_run for one in sheet.stations[0].settings if one.label == "Ink lot or bucket"]
        return found

    named = "MY4G3-0 · White A · W-2210"
    assert lot(bucket=named) == lot(bucket=named, ink_lot="w-2210") == named and lot(ink_lot="W 7") == "W 7"
    assert lot(bucket=named, ink_lot="W 7") == f"{named} · W 7"


def test_without_a_target_the_job_sheet_is_what_to_meet():
    said = setup(target={}).stations
    assert said[0].target[0] == "white, plastisol, White A"
    assert "squeegee 70 Shore A, 15°, square edge" in said[0].target
    assert said[1].target[0].startswith("6 s") and said[2].target[0] == "red, plastisol, Guide C 44"


def test_the_same_sheet_gives_the_same_bytes():
    assert setup_pdf(setup()) == setup_pdf(setup()) and comparison_pdf(comparison()) == comparison_pdf(comparison())


def test_another_paper_is_refused():
    for draw in (lambda: setup_pdf(setup(), "A5x"), lambda: comparison_pdf(comparison(), "foolscap")):
        with pytest.raises(Refused):
            draw()


LONG = st.text(st.characters(codec="utf-8", exclude_categories=["C"]), max_size=300)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(LONG, LONG, st.integers(1, 9), st.sampled_from(["A4", "Letter"]))
def test_whatever_was_noted_nothing_runs_over_or_into_anything(text: str, other: str, times: int, paper: str):
    order = job(placement__0__station=[{**one, "separation": f"c{n}"} if one["does"] == "print" else one
                                       for n in range(times) for one in job_stations()])  # fmt: skip
    made = job_ticket(order, "7K32XM", ADDRESS)
    names = [str(station.number) for station in order.placements[0].stations]
    stations = {name: {"squeegee": text, "note": other, "odd": text} for name in names}
    as_run = {"stations": stations, "run": {"platen": text}}
    sheet = setup_sheet(made, order.placements[0], made.placements[0], run="1", press=text[:80], target={
        name: {"ink": other, "strokes": "2"} for name in names}, where_from=other, as_run=as_run, remarks=[text],
        screens={1: text}, approved=other)  # fmt: skip
    _pdf, pages = draw_setup(sheet, paper)
    assert not overlaps(pages) and not outside(pages, 8)


def job_stations() -> list[dict[str, Any]]:
    return list(job().to_dict()["placement"][0]["station"])


# The comparison


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_comparison_is_one_page_that_says_what_differs(paper: str):
    pdf, pages = draw_comparison(comparison(), paper)
    assert len(pages.sizes) == 1 and not overlaps(pages) and not outside(pages, 8)
    assert [code.text for code in read_codes(rendered(pdf)[0])] == [f"{ADDRESS}/t/7K32XM"]
    said = " ".join(words(pdf).split())
    for wanted in ("Comparison of prints", "2026-01-03", "2026-03-09", "2 flash, Flash or cool-down time", "6 s", "7 s",
                   "+1 s", "Caution", "ΔE00 1.5", "51.5 0.0 0.0", "Compared with the print before.", "The same:",
                   "A remark.", "Boris", "run 12"):  # fmt: skip
        assert wanted in said, wanted


def test_what_differs_stands_first_then_the_small_ones_in_a_line_then_the_rest():
    stations = {**STATIONS, "1": {**STATIONS["1"], "strokes": "1"}, "2": {"time": "6.1 s", "surface": "105 degC"}}
    screens = {1: replace(SCREENS[1], mesh="230/in · 48 µm", count_per_cm=90.6, thread_um=48), 3: SCREENS[3]}
    a, b = run(7, day="2026-01-03"), run(12, day="2026-03-09", sheet=measured({"stations": stations}), screens=screens)
    sheet = comparison_sheet(ticket(), a, b, "", compare(a, b, SPEC))
    first, *rest = sheet.groups
    assert first.title == "What differs" and [row.label for row in first.rows] == ["1 white, Mesh", "1 white, Strokes"]
    small = "1 small difference, within what the shop calls the same (2 %): "
    small += "2 flash, Flash or cool-down time: 6 s, now 6.1 s."
    assert first.small.replace("\u00a0", " ") == small
    assert [group.title for group in rest] == ["The whole placement", "Position 1: white", "Position 2: flash",
                                               "Position 3: red"]  # fmt: skip
    assert "Strokes" not in rest[1].same and "Flash or cool-down" not in rest[2].same and "Strokes: 1" in rest[3].same
    pdf, pages = draw_comparison(sheet, "A4")
    assert small in " ".join(words(pdf).split()) and not overlaps(pages)
    nothing = comparison_sheet(ticket(), a, a, "", compare(a, a, SPEC))
    assert "What differs Nothing differs." in " ".join(words(comparison_pdf(nothing)).split())


def test_eight_stations_that_all_differ_a_little_still_fit_one_page():
    stations = [{**STATIONS_OF["print"], "colour": f"colour {n}"} for n in range(6)]
    order = job(placement__0__station=[stations[0], STATIONS_OF["flash"], *stations[1:]])
    values = {"strokes": "1", "ink": "red", "pressure": "dial 4"}
    sheets = [
        {"stations": {str(n): {**values, "squeegee": hardness} for n in range(1, 8)}} for hardness in ("70", "75")
    ]
    screens = {n: replace(SCREENS[1], mean_n_per_cm=22.0 + n) for n in range(1, 8) if n != 2}
    a, b = (run(n, order, sheet=sheet, screens=screens, day="2026-01-03") for n, sheet in enumerate(sheets, 1))
    found = compare(a, b, SPEC)
    assert sum(line.differs is True for line in found) == 7
    for paper in ("A4", "Letter"):
        _pdf, pages = draw_comparison(comparison_sheet(ticket(), a, b, "", found), paper)
        assert len(pages.sizes) == 1 and not overlaps(pages)


def eight_stations(typed_before: bool, stations: int = 8) -> ComparisonSheet:
    """Two prints of as many stations, one of them a flash; every field of the sheet is typed for the later print and,
    if so, for the earlier one; four settings of each print differ, its colour too."""
    count = stations - 1
    prints = [{**STATIONS_OF["print"], "separation": f"colour {n}", "colour": f"colour {n}"} for n in range(count)]
    order = job(placement__0__station=[prints[0], STATIONS_OF["flash"], *prints[1:]])
    printing = {
        "squeegee": "70 · square", "strokes": "2", "ink": "white · plastisol · White A", "ink_lot": "W-2210",
        "bucket": "MY4G3-0 · White A · W-2210", "note": "two turns up after ten pieces", "hardness_measured": "68",
        "angle": "15°", "pressure": "dial 4", "speed": "40 cm/s", "flood": "soft", "off_contact": "1.6 mm", "length":
        "340 mm", "recipe": "base 940 g, activator 60 g", "additives": "2 % retarder",
    }  # fmt: skip
    flash = {"time": "6 s", "surface": "105 °C", "note": "hot", "time_cold": "8 s", "time_steady": "5.5 s"}
    whole = {
        "garment_lot": "R-2291", "platen": "standard 40 x 50", "adhesive": "web spray, every 30", "placement": "75 mm "
        "from the collar seam", "belt": "B", "belt_speed": "1.1 m/min", "belt_set": "dial 6", "set": "160 °C",
        "garment_peak": "152 °C", "peak_how": "probe", "hold": "40 s",
    }  # fmt: skip
    other = {"squeegee": "75 · square", "pressure": "dial 5", "angle": "20°", "strokes": "1"}
    sheets = []
    for more, all_of_it in (({}, typed_before), (other, True)):
        known = printing if all_of_it else {name: printing[name] for name in ("squeegee", "strokes", "ink")}
        parts = {str(n): {**known, **more} for n in range(1, stations + 1) if n != 2}
        if not all_of_it:
            more_flash, more_whole = {"time": "6 s"}, {"platen": whole["platen"]}
        else:
            more_flash, more_whole = flash, whole
        sheets.append(measured({"stations": {**parts, "2": more_flash}, "run": more_whole}))
    screens = {n: replace(SCREENS[1], mean_n_per_cm=22.0 + n) for n in range(1, stations + 1) if n != 2}
    read = {**APPROVED, "lab_conditions": "D50"}
    labs = [{str(n): [50 + more, 0, 0] for n in screens} for more in (0.0, 1.5)]
    a, b = (
        run(n, order, sheet=sheet, screens=screens, heads={n: n for n in screens}, day="2026-01-03",
            approved={**read, "lab": lab})
        for n, (sheet, lab) in enumerate(zip(sheets, labs, strict=True), 1)
    )  # fmt: skip
    return comparison_sheet(ticket(), a, b, "", compare(a, b, SPEC), remarks=["The dye lot moves the colour."])


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("typed_before", [True, False])
def test_a_comparison_of_eight_stations_with_every_field_typed_is_one_readable_page(paper: str, typed_before: bool):
    sheet = eight_stations(typed_before)
    pdf, pages = draw_comparison(sheet, paper)
    assert len(pages.sizes) == 1 and not overlaps(pages) and not outside(pages, 8)
    assert min(one.size for one in pages.drawn if one.kind == "text" and one.text) >= 6.5
    said = words(pdf).split()  # a text may break between any two of them
    for word in ("turns", "940", "retarder", "340", "1.6", "soft", "W-2210", "ΔE00", "(Caution,"):
        assert said.count(word) >= 7, word
    assert said.count("ΔE00") == 7 and said.count("alone:") == (0 if typed_before else 9)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(LONG, LONG, st.integers(1, 9), st.sampled_from(["A4", "Letter"]))
def test_whatever_is_compared_nothing_runs_over_or_into_anything(text: str, other: str, times: int, paper: str):
    order = job(placement__0__station=[{**STATIONS_OF["print"], "separation": f"c{n}"} for n in range(times)])
    a, b = (
        run(n, order, sheet={"stations": {str(n): {"squeegee": one, "note": two, "odd": one, "ink": "red"}
                                          for n in range(1, times + 1)}})
        for n, (one, two) in enumerate(((text, ""), (other, text)), 1)
    )  # fmt: skip
    _pdf, pages = draw_comparison(comparison_sheet(ticket(), a, b, "", compare(a, b, SPEC)), paper)
    assert not overlaps(pages) and not outside(pages, 8)


def test_a_comparison_that_has_the_room_is_set_in_full_size_and_a_huge_one_in_as_few_pages_as_can_be():
    _pdf, pages = draw_comparison(comparison(), "A4")
    assert {one.size for one in pages.drawn if one.text.startswith("Position")} == {10.0}
    for typed_before in (True, False):
        _pdf, pages = draw_comparison(eight_stations(typed_before, 16), "A4")
        assert len(pages.sizes) == 2 and not overlaps(pages) and not outside(pages, 8)


STATIONS_OF = {one["does"]: one for one in job_stations()}


@pytest.mark.parametrize(
    ("before", "now", "word", "why"),
    [
        ([50, 0, 0], [55, 0, 0], "STOP", "from the approved print, over the limit of 2."),  # the shipped limit
        (None, [50, 0, 0], "Unknown", "The print that it is compared with was not measured"),
        ([50, 0, 0], None, "Unknown", "The colour of this print was not measured."),
    ],
)
def test_a_colour_that_is_not_close_says_why(before: Any, now: Any, word: str, why: str):
    a, b = (
        run(n, approved={**APPROVED, "lab_conditions": "D50", "lab": {"3": one} if one else {}})
        for n, one in ((1, before), (2, now))
    )
    said = words(comparison_pdf(comparison_sheet(ticket(), a, b, "", compare(a, b, SPEC))))
    assert word in said.split() and why in " ".join(said.split())


def test_a_colour_says_its_verdict_even_when_it_is_close():
    a, b = (run(n, approved={**APPROVED, "lab_conditions": "D50", "lab": {"3": [50, 0, 0]}}) for n in (1, 2))
    found = compare(a, b, SPEC)
    assert [line.verdict.level for line in found if line.verdict] == [Level.OK]
    (row,) = [row for group in comparison_sheet(ticket(), a, b, "", found).groups for row in group.rows]
    assert (row.verdict, row.by_how_much) == ("OK", "ΔE00 0")


def test_the_drift_of_a_colour_names_the_print_that_it_is_from():
    """Run 5 was measured, run 7 before it not: the colour is not known, its drift is from run 5."""
    read = {**APPROVED, "lab_conditions": "D50", "lab": {"3": [50, 0, 0]}}
    first, before, now = (
        run(n, approved=approved, day=f"2026-0{n}-03") for n, approved in ((5, read), (7, APPROVED), (9, read))
    )
    sheet = comparison_sheet(ticket(), before, now, "", compare(before, now, SPEC, first=first))
    rows = [(row.label, row.before) for group in sheet.groups for row in group.rows if row.verdict]
    drift = "3 red, Colour against the first measured print"
    assert rows == [("3 red, Colour, L* a* b*", "–"), (drift, "50.0 0.0 0.0 (run 5, 2026-05-03)")]
    for first_ in (None, replace(first, approved=APPROVED)):  # none before this one was measured
        found = compare(before, now, SPEC, first=first_)
        assert "was not measured" in words(comparison_pdf(comparison_sheet(ticket(), before, now, "", found)))
        assert not [line for line in found if line.run or line.what == "drift"]
