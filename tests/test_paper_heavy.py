"""The papers of a heavy job as they come out of the printer: ten heads, eight separations with long names, two flashes,
two garments with their colourways, notes of all kinds. Looked at page by page."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from test_paper import outside, overlaps, words
from test_repeat import measured

from tickets.domain.cautions import RULE
from tickets.domain.jobs.job import Job, read
from tickets.domain.papers.run_sheet import SetupSheet, setup_sheet
from tickets.domain.papers.ticket import AssignedScreen, JobTicket, as_first, job_ticket
from tickets.domain.runs.setup import of_job
from tickets.paper.job import draw_job, pages_of
from tickets.paper.page import Pages
from tickets.paper.sheet import draw_setup

ADDRESS = "http://192.168.1.20:8600"
NAMES = ("underbase white under everything", "sky blue of the upper half", "sea green", "warm sand, halftone",
         "brick red", "ochre", "highlight white", "black keyline with the lettering")  # fmt: skip


def _print(place: int, name: str) -> dict[str, Any]:
    return {
        "does": "print", "separation": name, "colour": name.split(",")[0], "ink": "water-base", "series": "Soft series",
        "reference": f"Guide C {40 + place}", "mesh": {"count": f"{120 + 20 * place}/in", "thread": f"{64 - place} um"},
        "strokes": 1 + place % 2, "coverage": f"{10 + place} %", "choke": "0.5 pt", "flood": "soft",
        "off_contact": "1.6 mm", "note": "watch the fine lines at the left of the mast; they fill in first",
        "squeegee": {"hardness": "70", "edge": "square", "angle": "15 deg", "length": "340 mm", "pressure": "dial 4",
                     "speed": "dial 6"},
        "recipe": {"base": 800, f"pigment {place}": 40 + place, "fixer": 20},
    }  # fmt: skip


def heavy_job(heads: int = 10) -> Job:
    """The job on so many heads, two of them flashes."""
    prints = [_print(place, name) for place, name in enumerate(NAMES[: heads - 2], 1)]
    prints[-1]["halftone"] = {"ruling": "45/in", "angle": "22.5 deg"}
    flash = {"does": "flash", "time": "6 s", "surface": "105 degC", "note": "both bulbs; tacky, nothing on the finger"}
    garments = [
        {"style": "Heavy ring-spun tee", "colour": colour, "pieces": 240, "fibre": {"cotton": 100}, "lot": f"L{lot}"}
        for colour, lot in (("stone", 2291), ("dark navy", 2304))
    ]
    inks = {
        name: {"colour": f"{name.split(',')[0]} for navy", "ink": "water-base", "series": "Deep series",
               "reference": f"Guide C {70 + place}"}
        for place, name in enumerate(NAMES[1 : min(5, heads - 2)], 1)
    }  # fmt: skip
    return read(
        {
            "title": "Harbour festival crew tees, front",
            "customer": "Meadow Kite and Sailing Club",
            "reference": "PO 2291-B",
            "due": "2031-06-01",
            "art": {"name": "Box kite over the harbour", "revision": "4"},
            "garment": garments,
            "colourway": [{"garment": {"style": "Heavy ring-spun tee", "colour": "dark navy"}, "inks": inks}],
            "placement": [{
                "name": "Full front, from the collar down", "width": "320 mm", "height": "400 mm",
                "from": "75 mm below the collar seam, centred", "platen": "standard 40 x 50",
                "station": [prints[0], flash, *prints[1:-1], flash, prints[-1]],
                "dryer": {"belt_speed": "1.2 m/min", "set": "180 degC", "garment_peak": "160 degC", "hold": "90 s"},
            }],
        }
    )  # fmt: skip


def heavy_ticket(again: bool = False, heads: int = 10) -> JobTicket:
    """The ticket of the first order; `again`: that of its repeat, with what the approved run had set, the colours to
    meet, what was changed after its approval, and the screens that are kept."""
    order = heavy_job(heads)
    placement = order.placements[0]
    if not again:
        return job_ticket(order, "7K32XM", ADDRESS, shop="Gull & Anchor", printed_on="2031-05-20")
    aim = of_job(placement)
    for number, values in aim.items():
        if "squeegee" in values:
            values |= {"squeegee": "75 · square", "hardness_measured": "73 Shore A", "pressure": "dial 5",
                       "angle": "12 deg", "off_contact_measured": "1.7 mm", "additives": "2 % retarder"}  # fmt: skip
        elif number != "run":
            values |= {"time": "7 s", "time_cold": "9 s", "time_steady": "6.5 s"}
    aim["run"] |= {"belt": "B", "adhesive": "web spray, every 30", "peak_how": "probe"}
    numbers = [station.number for station in placement.printing]
    name = placement.name
    return job_ticket(
        order, "8K32XN", ADDRESS, shop="Gull & Anchor", printed_on="2031-08-20", repeats="7K32X-M",
        targets={name: aim}, where_from={name: "approved run 12"},
        colours={(name, number): "L* 52.1 a* −3.4 b* 18.0" for number in numbers},
        needs={(name, number): "load 330 g, on garments 1,118 g" for number in numbers},
        changed={(name, 3): "Changed after the approval of run 12: Strokes from 1 to 2 (pale on navy)"},
        screens={order.separation(placement, one).key: [AssignedScreen(code="7K32XM", mark="A 12", stage="kept")]
                 for one in placement.printing},
    )  # fmt: skip


def heavy_sheet(full: bool = False, heads: int = 10) -> SetupSheet:
    """The set-up sheet of the repeat: blank, or `full` with all that can be noted."""
    made = heavy_ticket(True, heads)
    placement = heavy_job(heads).placements[0]
    aim = of_job(placement)
    known: dict[str, Any] = {}
    if full:
        printing = {
            "squeegee": "75 · square", "strokes": "2", "ink_lot": "SB-2210", "note": "two turns up after ten pieces, "
            "the blue looked thin on navy", "hardness_measured": "73 Shore A", "angle": "12 deg", "pressure": "dial 5",
            "speed": "dial 6", "flood": "soft", "off_contact": "1.6 mm", "off_contact_measured": "1.7 mm",
            "length": "340 mm", "additives": "2 % retarder",
        }  # fmt: skip
        flash = {"time": "7 s", "surface": "104 degC", "note": "hot", "time_cold": "9 s", "time_steady": "6.5 s"}
        whole = {
            "garment_lot": "L2291", "platen": "standard 40 x 50", "adhesive": "web spray, every 30", "placement": "75 "
            "mm from the collar seam", "belt": "B", "belt_speed": "1.1 m/min", "belt_set": "dial 6", "set": "180 degC",
            "garment_peak": "158 degC", "peak_how": "probe", "hold": "88 s",
        }  # fmt: skip
        parts = {str(one.number): printing if one.prints else flash for one in placement.stations}
        known = {
            "as_run": measured({"stations": parts, "run": whole}),
            "screens": {one.number: "7K32X-M · A 12" for one in placement.printing},
            "heads": {one.number: one.number for one in placement.stations},
            "approved": "Vera Lind (customer)", "how": "photo sent", "sample": "drawer 4",
            "changes": ["2031-08-21 14:05, position 2: Flash time from 6 s to 7 s (lint stuck)"],
            "measured": ["Noted: position 1, 2, 3, 4, 5, 6, the whole run (Ada Holm, 2031-08-21 08:05 – 08:35).",
                         "As the target, not looked at one by one: position 7, 8, 9, 10 (Bo Lind, 2031-08-21 08:40).",
                         "Measured by Ada Holm, 2031-08-21 08:05: 1 Squeegee hardness as measured, 3 Squeegee hardness "
                         "as measured, Belt speed as measured, Garment peak, Held at the peak."],
        }  # fmt: skip
    return setup_sheet(
        made, placement, made.placements[0], run="31", press="Press 2", target=aim, where_from="approved run 12",
        remarks=["Heavy ring-spun tee in stone: lot L2291; run 12: lot L2004. Hold a print on this lot against "
                 "the approved one.", "Position 3 (sky blue of the upper half): ink lot SB-2210; run 12: SB-1999. "
                 "Compare a drawdown or the first print with the approved one."],
        colours={one.number: "L* 52.1 a* −3.4 b* 18.0" for one in placement.printing},
        changed={3: ["Changed after the approval of run 12: Strokes from 1 to 2 (pale on navy)"]}, **known,
    )  # fmt: skip


def lonely(pages: Pages) -> list[str]:
    """Headings under which nothing stands on their page: bold texts of 11 points and more that are in no row."""
    foot = {page: high - 15 for page, (_wide, high) in enumerate(pages.sizes)}
    found = []
    for one in pages.drawn:
        if one.kind == "text" and one.size >= 11 and one.left < 14 and one.top > 40:  # under the head of the page
            below = [two for two in pages.drawn if two.page == one.page and one.bottom - 1 < two.top < foot[one.page]]
            if not any(two.kind == "text" and two.text for two in below):
                found.append(one.text)
    return found


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("full", [False, True])
@pytest.mark.parametrize("heads", [8, 10])
def test_a_set_up_sheet_of_a_heavy_print_is_two_readable_pages(paper: str, full: bool, heads: int):
    pdf, pages = draw_setup(heavy_sheet(full, heads), paper)
    longest = full and heads > 8  # each garment's ink at each row, and a third page for what eight heads don't need
    assert len(pages.sizes) == (3 if longest else 2)
    assert not overlaps(pages) and not outside(pages, 8) and not lonely(pages)
    assert min(one.size for one in pages.drawn if one.kind == "text" and one.text) >= 6.5
    said = " ".join(words(pdf).split())
    for name in NAMES[: heads - 2]:
        assert name in said
    for wanted in ("Guide C 41", "base 800 g, pigment 1 41 g, fixer 20 g", "L* 52.1 a* −3.4 b* 18.0", "45/in at 22.5°",
                   "both bulbs; tacky, nothing on the finger", "watch the fine lines", "Off-contact to gauge: 1.7 mm",
                   "Strokes from 1 to 2 (pale on navy)", "Heavy ring-spun tee in stone",
                   "load 330 g, on garments 1,118 g"):  # fmt: skip
        assert wanted in said, wanted
    noted = ("Vera Lind (customer)", "drawer 4", "lint stuck", "Measured by Ada Holm", "not looked at one by one",
             "7K32X-M · A 12")  # fmt: skip
    for wanted in noted:
        assert (wanted in said) is full, wanted
    assert said.count("two turns up after ten pieces") == (heads - 2 if full else 0)


def texts_by_page(pages: Pages) -> list[list[str]]:
    return [
        [one.text for one in pages.drawn if one.page == page and one.kind == "text"] for page in range(len(pages.sizes))
    ]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_each_page_names_the_placement_over_the_headings_of_its_table(paper: str):
    name = "Full front, from the collar down"
    _pdf, pages = draw_setup(heavy_sheet(True), paper)
    first, second, *_rest = texts_by_page(pages)
    assert f"{name} · run 31" in first and {"Order", "Prints", "Target", "As run"} <= set(first)
    at = second.index(f"{name}, continued")
    assert second[at + 1 : at + 5] == ["Order", "Prints", "Target", "As run"]
    _pdf, pages = draw_job(heavy_ticket(), paper, None)
    first, second, *_rest = texts_by_page(pages)
    assert name in first and second[second.index(f"{name}, continued") + 1] == "Order" and not lonely(pages)


def test_lines_to_write_on_are_long_enough_for_a_pen():
    _pdf, pages = draw_setup(heavy_sheet(), "Letter")
    rules = [one for one in pages.drawn if one.kind == "rule" and one.top == one.bottom and one.right - one.left < 150]
    assert len(rules) > 100 and min(one.right - one.left for one in rules) >= 12


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("heads", [3, 4, 5, 6, 7, 8, 9, 10])
def test_the_ticket_of_a_repeat_is_as_long_as_the_first(paper: str, heads: int):
    """Whatever the approved run had set, what was changed since, the colours to meet and the screens that are kept."""
    first, again = heavy_ticket(heads=heads), heavy_ticket(True, heads)
    plain = pages_of(as_first(heavy_job(heads), again), paper, None)
    assert plain == len(draw_job(first, paper, None)[1].sizes)
    pdf, pages = draw_job(replace(again, pages=plain), paper, None)
    assert len(pages.sizes) == plain and not overlaps(pages) and not outside(pages, 8) and not lonely(pages)
    assert min(one.size for one in pages.drawn if one.kind == "text" and one.text) >= 6
    said = " ".join(words(pdf).split())
    for wanted in ("hardness to reach 73 Shore A", "to meet: L* 52.1", "A 12", "(pale on navy)", "web spray",
                   "load 330 g, on garments 1,118 g"):  # fmt: skip
        assert wanted in said, wanted
    rows = first.placements[0].stations
    inked = replace(first.placements[0], stations=tuple(
        replace(one, need="load 330 g, on garments 1,118 g") if one.prints else one for one in rows))  # fmt: skip
    with_ink = draw_job(replace(first, placements=(inked,), pages=plain), paper, None)[1]
    assert len(with_ink.sizes) == plain, "what ink a row needs makes the first one no longer either"


def test_a_set_up_sheet_has_the_cautions_of_the_press_in_one_line_and_the_ticket_those_of_the_job():
    sheet = heavy_sheet()
    said = " ".join(words(draw_setup(sheet, "A4")[0]).split())
    for wanted in ("Flash, dryer: never unattended.", "Hot garments: gloves", "Solvents: away from heat", RULE):
        assert said.count(wanted) == 1, wanted
    assert "Formaldehyde" not in said and all(text not in said for text in sheet.job.cautions if text != RULE)
    order = heavy_job()
    made = heavy_ticket(True)
    discharge = setup_sheet(made, order.placements[0], made.placements[0], run="1", press="P", target={}, where_from="",
                            inks={"discharge"})  # fmt: skip
    assert "Formaldehyde: extraction on. " in discharge.cautions and "Mixed ink" in discharge.cautions


def test_no_heading_of_a_table_stands_alone_at_the_foot_of_a_page():
    """However far down the page what stands above it ends."""
    for count in range(47, 53):
        sheet = replace(heavy_sheet(True), remarks=tuple(f"Remark {number}." for number in range(count)))
        _pdf, pages = draw_setup(sheet, "Letter")
        for heading in (one for one in pages.drawn if one.text == "Target"):
            foot = pages.sizes[heading.page][1] - 15
            under = [one for one in pages.drawn if one.page == heading.page and heading.bottom < one.top < foot]
            assert any(one.text for one in under), count
        assert not lonely(pages), count
