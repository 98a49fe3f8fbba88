"""The customer's sheet: what is the same in one line, what changed in plain words, colours with their readings and
pictures; nothing of the shop's own, and nothing as measured that nobody measured."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from test_paper import outside, overlaps, words
from test_paper_heavy import heavy_job
from test_repeat import APPROVED, BASE, SCREENS, SPEC, STATIONS, job, measured, run

from tickets.domain.papers.customer_sheet import CustomerSheet, customer_sheet
from tickets.domain.papers.ticket import job_ticket
from tickets.domain.runs.as_run import AsRun, Changed, Printed
from tickets.domain.runs.comparison import colours_of, compare, for_customer
from tickets.paper.customer import customer_pdf, draw_customer

READ = {"lab_conditions": "D50, 2°, M1, bench instrument"}
WHOLE = {
    "belt_speed": "1.2 m/min",
    "garment_peak": "160 degC",
    "peak_how": "probe",
    "hold": "40 s",
    "garment_lot": "L7",
}


def prints(off: bool = False, same: bool = False) -> tuple[AsRun, AsRun]:
    """A print and its repeat. `same`: in all that is known; `off`: its red is clearly off, its white was not read."""
    first = {"1": [92, 0, 2], "3": [45, 60, 35]}
    second: dict[str, Any] = {"1": [92, 0.2, 2.4], "3": [46, 58.5, 34]}
    if off:
        second = {"3": [50, 50, 25]}
    a = run(7, sheet=measured({"stations": STATIONS, "run": WHOLE}), day="2026-01-03",
            approved={**APPROVED, **READ, "lab": first})  # fmt: skip
    if same:
        return a, replace(a, run=12, day="2026-03-09")
    own = {
        "1": {**STATIONS["1"], "strokes": "1", "recipe": "white 940 g, retarder 20 g", "ink_lot": "W-2210",
              "additives": "2 % secret", "note": "Boris: thin", "bucket": "K32XM7", "hardness_measured": "68 Shore A"},
        "2": {"time": "7 s", "surface": "105 degC"}, "3": STATIONS["3"],
    }  # fmt: skip
    whole = {**WHOLE, "garment_peak": "not measured", "peak_how": "not measured", "garment_lot": "L9"}
    during = (
        Changed(2, "", "time", "7 s", "8 s", "lint stuck"),
        Changed(1, "", "ink_lot", "W-2210", "W-2214", "empty"),
    )
    screens = {
        **SCREENS,
        1: replace(SCREENS[1], screen=99, code="9K32XP", mark="H 77", mean_n_per_cm=18.0, exposure_s=60,
                   made_at="2026-03-01T08:00:00+00:00"),
    }  # fmt: skip
    b = run(12, sheet=measured({"stations": own, "run": whole}), day="2026-03-09", screens=screens, during=during,
            approved={**READ, "approved_by": "Boris Secret", "approved_as": "press", "lab": second})  # fmt: skip
    return a, b


def sheet(off: bool = False, same: bool = False, **more: Any) -> CustomerSheet:
    a, b = prints(off, same)
    lines = compare(a, b, SPEC)
    made = job_ticket(job(reference="PO 2291-B"), "7K32XM", "", shop="Gull & Anchor", printed_on="2026-03-10")
    return customer_sheet(made, a, b, "Compared with the print of 2026-01-03.", for_customer(lines, a, b),
                          colours_of(a, b, SPEC), **more)  # fmt: skip


def said(one: CustomerSheet, paper: str = "A4", pictures: Path | None = None) -> str:
    return " ".join(words(customer_pdf(one, paper, pictures)).split())


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_is_one_page_in_plain_words_and_in_the_order_of_what_is_seen_first(paper: str):
    found = sheet()
    _pdf, pages = draw_customer(found, paper, None)
    assert len(pages.sizes) == 1 and not overlaps(pages) and not outside(pages, 8)
    assert found.changed == (
        "A new screen was made for: white.",
        "Strokes, white: 1 instead of 2.",
        "Flash or cool-down time, position 2: 7 s instead of 6 s.",
        "Garment lot: L9 instead of L7.",
    )
    told = "artwork, mesh, ink colour and kind, squeegee, belt speed as measured, held at the peak, press"
    assert found.same == f"The same as before: {told}."
    told = "squeegee hardness as measured, garment peak"
    assert found.not_compared == f"Not measured or not noted both times, so not compared: {told}."
    assert found.during == ("While it printed: Flash or cool-down time from 7 s to 8 s.",)
    text = said(found, paper)
    for wanted in (*found.changed, found.same, found.not_compared, "PO 2291-B", "Gull & Anchor",
                   "by the shop, 2026-03-09", "Read with D50, 2°, M1"):  # fmt: skip
        assert wanted in text, wanted


def test_a_screen_is_new_only_where_its_stencil_was_made_since_the_print_before():
    """Another screen of then or earlier is another one; the same frame with a new stencil is a new screen."""
    a, b = prints(same=True)
    approved = {**APPROVED, "at": "2026-01-03T09:00:00.000000+00:00"}
    old, young = "2026-01-02T09:00:00.000000+00:00", "2026-01-03T09:00:01.000000+00:00"
    a = replace(a, approved=approved, screens={**SCREENS, 3: replace(SCREENS[3], made_at=old)})

    def changed(**red: Any) -> tuple[str, ...]:
        two = replace(b, screens={**SCREENS, 3: replace(SCREENS[3], **red)})
        lines = for_customer(compare(a, two, SPEC), a, two)
        return customer_sheet(job_ticket(job(), "7K32XM", ""), a, two, "", lines, ()).changed

    another, made = "Another screen than last time printed: red.", "A new screen was made for: red."
    assert changed(screen=99, made_at=old) == changed(screen=99, made_at="") == (another,)
    assert changed(screen=99, made_at=young) == changed(made_at=young) == (made,)
    assert changed(made_at=old) == ()
    # made after the approval, hung in that very run in place of the first, and again now: it is no new one
    swapped = replace(SCREENS[3], screen=99, made_at=young)
    a = replace(a, printed={3: (Printed(SCREENS[3], 40), Printed(swapped, 60, True))})
    assert changed(screen=99, made_at=young) == ()


def test_pieces_of_a_run_that_said_no_garment_are_the_only_garments():
    """Where the order has one garment they can be of no other; where it has two nobody can say of which they are."""
    a, b = prints()
    (garment,) = BASE["garment"]
    named = f"{garment['style']}, {garment['colour']}"

    def told(**order: Any) -> list[str]:
        made = job_ticket(job(**order), "7K32XM", "")
        found = customer_sheet(made, a, b, "", (), (), good={"": 12, named: 30})
        return [text for name, text in found.facts if name == "Garment"]

    (one,) = told()
    assert ": 42 printed, " in one
    second = {**garment, "colour": "sand", "pieces": 10}
    assert [": 30 printed, " in text for text in told(garment=[garment, second])] == [True, False]


def test_nothing_of_the_shops_own_is_on_it():
    text = said(sheet())
    own = ("Boris", "Vera", "retarder", "W-22", "secret", "K32XM7", "7K32X", "9K32X", "H 77", "A 1", "N/cm", "18",
           "Blue Dual", "exposure", "tension", "lint", "bench", "http", "/t/", "White A")  # fmt: skip
    assert [word for word in own if word.casefold() in text.casefold()] == []
    names = {name for name in compare(*prints(), SPEC) if name.what in {"recipe", "ink_lot", "tension", "exposure"}}
    assert names, "there was something to leave out"


def test_colours_stand_with_their_readings_and_the_difference_in_words():
    """By hand: white is turned by 0.2 and 0.4 in a* and b*; red is 1 lighter, 1.5 greener and 1 bluer, ΔE00 1.1."""
    white, red = sheet().colours
    assert (white.word, white.said) == ("The same to the eye", "ΔE00 0.5")
    assert (red.word, red.said) == ("A slight difference", "ΔE00 1.1; greener 1.5, lighter 1.0")
    assert (red.before.said, red.now.said) == ("L* 45.0, a* 60.0, b* 35.0", "L* 46.0, a* 58.5, b* 34.0")
    assert red.before.colour != red.now.colour and not red.stop and red.ink == "plastisol, Guide C 44"
    _pdf, pages = draw_customer(sheet(), "A4", None)
    patches = [one.text for one in pages.drawn if one.text.startswith("#")]
    assert patches == [white.before.colour, white.now.colour, red.before.colour, red.now.colour]


def test_what_nobody_measured_is_never_shown_as_measured():
    found = sheet(off=True)
    white, red = found.colours
    assert (white.now.said, white.now.colour, white.word) == ("", "", "Not compared") and not white.stop
    assert white.said == "The colour of this print was not measured."
    assert red.stop and red.word == "STOP: a clear difference"
    text = said(found)
    assert "not measured" in text and "Clearly off the approved print: red (ΔE00" in text
    _pdf, pages = draw_customer(found, "A4", None)
    assert len([one for one in pages.drawn if one.text.startswith("#")]) == 3  # no patch for a reading nobody took
    assert "160" not in text.replace("160/in", "") and "probe" not in text  # the peak of last time is not this one's


def test_a_copied_measurement_is_no_measurement():
    """Of a sheet that did not keep who measured: neither the same nor changed."""
    a, b = prints(same=True)
    old = {"stations": STATIONS, "run": WHOLE}
    for other in (old, {"stations": STATIONS, "run": {**WHOLE, "hold": "60 s"}}):
        two = replace(b, sheet=other)
        lines = for_customer(compare(a, two, SPEC), a, two)
        made = job_ticket(job(), "7K32XM", "")
        found = customer_sheet(made, a, two, "", lines, colours_of(a, two, SPEC))
        assert "dryer" in found.not_compared and "dryer" not in found.same and not found.changed


def test_a_print_that_is_the_same_says_so_in_one_line():
    found = sheet(same=True)
    assert found.changed == () and found.not_compared == ""
    told = "artwork, mesh, ink colour and kind, squeegee, strokes, flash, dryer, garment, press"
    assert found.same == f"The same as before: {told}."
    assert "Nothing that we know of." in said(found)
    assert found.colours
    off = replace(found, colours=tuple(replace(one, stop=True) for one in found.colours))
    assert "Nothing that we know of but the colour." in said(off), "under a stop it is not said that nothing changed"


def test_what_is_the_same_is_never_among_what_was_not_compared():
    """The flash's time is the same, its surface was measured once; the press is the same, the placement noted once."""
    a, b = prints(same=True)
    once = {**STATIONS, "2": {"time": "6 s"}}
    b = replace(b, sheet=measured({"stations": once, "run": {**WHOLE, "placement": "75 mm below the collar, centred"}}))
    lines = for_customer(compare(a, b, SPEC), a, b)
    found = customer_sheet(job_ticket(job(), "7K32XM", ""), a, b, "", lines, ())
    told = "artwork, mesh, ink colour and kind, squeegee, strokes, flash or cool-down time, dryer, garment, press"
    assert found.same == f"The same as before: {told}." and not found.changed
    told = "surface after the flash; placement, from a seam"
    assert found.not_compared == f"Not measured or not noted both times, so not compared: {told}."


@pytest.mark.parametrize(
    ("system", "peak"), [("metric", "160 °C instead of 163 °C"), ("us", "320 °F instead of 325 °F")]
)
def test_both_sides_of_what_changed_are_in_one_unit(system: str, peak: str):
    """325 degF is 162.8 degC, 160 degC is 320 degF: typed in two units, they are said in the reader's. The lot of the
    garment stands once."""
    a, b = prints(same=True)
    order = job(garment__0__lot="L9")
    a = replace(a, sheet=measured({"stations": STATIONS, "run": {"garment_peak": "325 F"}}))
    b = replace(b, job=order, sheet=measured({"stations": STATIONS, "run": {"garment_peak": "160 C"}}))
    lines = for_customer(compare(a, b, SPEC, system=system), a, b)
    found = customer_sheet(job_ticket(order, "7K32XM", ""), a, b, "", lines, ())
    told = [text.replace("\u00a0", " ") for text in found.changed]
    assert told == [f"Garment peak: {peak}.", "Garment lot: L9 instead of L7."]


def test_no_colour_read_is_said_and_none_is_shown():
    a, b = (replace(one, approved=APPROVED) for one in prints(same=True))
    lines = for_customer(compare(a, b, SPEC), a, b)
    found = customer_sheet(job_ticket(job(), "7K32XM", ""), a, b, "", lines, colours_of(a, b, SPEC))
    text = said(found)
    assert not found.colours and "No colour was measured, so none is compared." in text and "L*" not in text


def test_the_colours_that_nobody_read_are_named_where_others_were():
    """White is read on neither side, red on both."""
    read = {**APPROVED, **READ, "lab": {"3": [45, 60, 35]}}
    a, b = (replace(one, approved=read) for one in prints(same=True))
    lines = for_customer(compare(a, b, SPEC), a, b)
    found = customer_sheet(job_ticket(job(), "7K32XM", ""), a, b, "", lines, colours_of(a, b, SPEC))
    assert [one.name for one in found.colours] == ["red"]
    assert found.not_compared.startswith("Colour not measured, so not compared: white.")
    assert "Colour not measured, so not compared: white." in said(found)
    assert "Colour not measured" not in sheet(same=True).not_compared, "both were"


@pytest.mark.parametrize(
    "typed, told",
    [
        ("70 mm", "from a seam that nobody noted, 70 mm"),
        ("70 mm below the collar seam", "from 70 mm below the collar seam"),
        ("From the side seam, 70 mm", "from the side seam, 70 mm"),
    ],
)
def test_where_it_is_measured_from_says_from_what(typed: str, told: str):
    order = job(placement__0__from=typed)
    a, b = (replace(one, job=order) for one in prints(same=True))
    found = customer_sheet(job_ticket(order, "7K32XM", ""), a, b, "", (), ())
    assert dict(found.facts)["Print"].split(", ", 2)[2].replace("\u00a0", " ") == told


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_artwork_and_approved_print_stand_on_it_and_a_lost_picture_leaves_the_rest(tmp_path: Path, paper: str):
    Image.new("RGB", (300, 200), "red").save(tmp_path / "art.png")
    Image.new("RGB", (200, 300), "blue").save(tmp_path / "photo.jpg")
    found = sheet(art="art.png", photo="photo.jpg")
    _pdf, pages = draw_customer(found, paper, tmp_path)
    boxes = [one for one in pages.drawn if one.kind == "picture" and not one.text]
    assert len(boxes) == 2 and len(pages.sizes) == 1 and not overlaps(pages) and not outside(pages, 8)
    assert boxes[0].right < boxes[1].left and "The approved print" in said(found, paper, tmp_path)
    (tmp_path / "photo.jpg").unlink()
    text = said(found, paper, tmp_path)
    assert "The artwork" in text and "The approved print" not in text


def test_many_colours_go_over_the_page_with_their_headings():
    order = heavy_job()
    numbers = [one.number for one in order.placements[0].printing]
    labs = {str(number): [40 + number, 5, 5] for number in numbers}
    a, b = (run(n, order, sheet={}, screens={}, heads={}, approved={**APPROVED, **READ, "lab": labs}) for n in (1, 2))
    made = job_ticket(order, "7K32XM", "")
    remarks = [f"Remark {number} that takes a line of its own on the paper." for number in range(30)]
    found = customer_sheet(made, a, b, "", for_customer(compare(a, b, SPEC), a, b), colours_of(a, b, SPEC),
                           remarks=remarks)  # fmt: skip
    found = replace(found, facts=found.facts * 5)
    for paper in ("A4", "Letter"):
        _pdf, pages = draw_customer(found, paper, None)
        assert len(pages.sizes) > 1 and not overlaps(pages) and not outside(pages, 8)
        texts = [one.text for one in pages.drawn if one.page == 1]
        assert found.job.title in texts


def test_the_same_sheet_gives_the_same_bytes():
    assert customer_pdf(sheet(), "A4", None) == customer_pdf(sheet(), "A4", None)


def test_the_two_prints_of_a_colour_stand_edge_to_edge_in_the_colours_of_their_readings():
    """An eye sees a difference first where nothing lies between."""
    found = sheet(off=True)
    _pdf, pages = draw_customer(found, "A4", None)
    patches = [one for one in pages.drawn if one.kind == "picture"]
    [red_before, red_now] = [
        one for one in patches if one.text in (found.colours[1].before.colour, found.colours[1].now.colour)
    ]
    assert red_before.right == pytest.approx(red_now.left) and red_before.top == pytest.approx(red_now.top)
    assert len(patches) == 3  # white was not read on this print: an empty frame
    texts = [one.text for one in pages.drawn]
    assert "now: not measured" in texts


def test_pictures_are_as_high_as_one_another_and_what_the_print_is_stands_beside_where_there_is_room(tmp_path: Path):
    Image.new("RGB", (300, 400), "red").save(tmp_path / "art.png")
    Image.new("RGB", (200, 300), "blue").save(tmp_path / "photo.jpg")
    for art, photo, beside in (("art.png", None, True), ("art.png", "photo.jpg", False)):
        _pdf, pages = draw_customer(sheet(art=art, photo=photo), "A4", tmp_path)
        boxes = [one for one in pages.drawn if one.kind == "picture" and not one.text]
        assert len({round(one.bottom - one.top, 3) for one in boxes}) == 1
        [garment] = [one for one in pages.drawn if one.text == "Garment"]
        assert (garment.top < boxes[0].bottom and garment.left > boxes[-1].right) is beside


def test_how_colours_were_read_stands_at_the_foot():
    _pdf, pages = draw_customer(sheet(), "Letter", None)
    [note] = [one for one in pages.drawn if one.text.startswith("The patches show")]
    assert note.bottom > max(one.bottom for one in pages.drawn if one is not note and one.kind == "text") - 0.1
    assert note.bottom > 250
