"""Labels as printers and phones have them: whole dots, sheets by their measures, letters that a face lacks, photos.

Dots are measured on pages rendered by pdfium at the printer's own resolution; photos (`photographed`) are read by
zxing-cpp. Readability of 99 in 100 and the photos' hardness are this project's own (judgement).
"""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from pathlib import Path

import numpy
import photographed
import pypdfium2
import pytest
from pypdfium2 import raw
from test_customer_sheet import sheet as customer
from test_paper import BUCKET, LONG, MIDDLE, PLACE, SCREEN, SHORT, TICKET, outside, overlaps, words
from test_paper_heavy import heavy_job
from test_paper_sheet import comparison, setup

from tickets.domain.papers.ticket import BucketTag, PlaceTag, ScreenTag, Tag, from_dict, job_ticket, to_dict
from tickets.domain.refusal import Refused
from tickets.paper import letters
from tickets.paper.customer import draw_customer
from tickets.paper.job import draw_job
from tickets.paper.sheet import draw_comparison, draw_setup
from tickets.paper.stock import ROLLS, label_size, measured_sheet
from tickets.paper.tags import draw_tags, tags_pdf

MARK = "Blue frame number twelve of the large press, upper shelf, 7"
"""Of about the 60 characters that a mark may have."""


def pixels(pdf: bytes, dpi: float) -> numpy.ndarray:
    return numpy.asarray(photographed.rendered(pdf, dpi))


# Whole dots ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("address", [SHORT, MIDDLE, LONG])
@pytest.mark.parametrize("label", [*ROLLS, "50x100mm", "29x62mm"])
def test_every_module_of_a_label_is_whole_dots_of_its_printer(label: str, address: str, dpi: int) -> None:
    """On the dots: no grey within a code, and every edge a whole number of modules from the first."""
    pdf, pages = draw_tags([replace(SCREEN, address=address)], label, None, dpi=dpi)
    page = pixels(pdf, dpi)
    upright = label_size(label).high > label_size(label).wide
    page = numpy.rot90(page, -1) if upright else page
    for code in photographed.codes_of(pages):
        dots = code.module * dpi / 25.4
        assert dots == pytest.approx(round(dots), abs=1e-6) and round(dots) >= 4  # Denso Wave: 4 dots and more
        left, top, right, bottom = (round(one * dpi / 25.4) for one in (code.left, code.top, code.right, code.bottom))
        inside = page[top:bottom, left:right]
        assert ((inside < 6) | (inside > 249)).all()
        inside = inside > 128
        for lines in (inside, inside.T):
            edges = {int(edge) + 1 for line in lines for edge in numpy.flatnonzero(numpy.diff(line.astype(int)))}
            assert edges and {edge % round(dots) for edge in edges} == {0}


def test_a_code_measured_for_another_printer_has_grey_edges() -> None:
    """So that the test above can fail: modules of a 300 dpi printer on one of 203."""
    inside = pixels(tags_pdf([SCREEN], "62x29mm", dpi=300), 203)[40:180, 40:180]
    assert ((inside > 60) & (inside < 190)).any()


def test_codes_on_sheets_of_paper_begin_at_whole_dots() -> None:
    for pdf, pages in (draw_job(TICKET, "A4", None), draw_setup(setup(), "Letter")):
        for code in photographed.codes_of(pages):
            dots = [one * 300 / 25.4 for one in (code.left, code.top, code.module)]
            assert dots == pytest.approx([round(one) for one in dots], abs=1e-6)
        assert pdf


# Sheets by their measures --------------------------------------------------------------------------------------------


def test_labels_of_a_measured_sheet_lie_where_the_measures_say() -> None:
    """A sheet of three by eight, measured by hand: each label's codes lie within its own place."""
    label = "63.5x33.9mm"
    on = measured_sheet(label_size(label), "A4", "3x8", "7.2 x 13 mm", "2.5 x 0 mm")
    tags = [replace(SCREEN, code=f"{number:05d}X") for number in range(26)]
    pdf, pages = draw_tags(tags, label, on)
    assert len(pages.sizes) == 2 and not overlaps(pages) and not outside(pages, 3)
    for number, code in enumerate(one for one in pages.drawn if one.kind == "qr"):
        sheet, place = divmod(number, 24)
        left, top = 7.2 + place % 3 * (63.5 + 2.5), 13 + place // 3 * 33.9
        assert code.page == sheet and left <= code.left and code.right <= left + 63.5
        assert top - 0.05 <= code.top and code.bottom <= top + 33.9 + 0.05
    assert pdf == tags_pdf(tags, label, on)


def test_labels_that_are_gone_stay_empty_and_upright_ones_are_drawn_along() -> None:
    size = label_size("40x60mm")
    on = measured_sheet(size, "Letter", "4x4", "10 x 12 mm", "5 x 3 mm", used=14)
    pdf, pages = draw_tags([replace(SCREEN, code=f"{number:05d}X") for number in range(3)], "40x60mm", on)
    assert len(pages.sizes) == 2 and not overlaps(pages)
    first, second = (photographed.read(photographed.rendered(pdf, 300, page)) for page in range(2))
    assert {text[-6:] for text in first} == {"00000X", "00001X"} and {text[-6:] for text in second} == {"00002X"}
    page = pixels(pdf, 100)  # two labels, in the third and fourth place of the last row
    rows, columns = (numpy.flatnonzero((page < 128).any(axis=axis)) * 25.4 / 100 for axis in (1, 0))
    top = 12 + 3 * (60 + 3)
    assert top <= rows.min() and rows.max() <= top + 60
    assert 10 + 2 * 45 <= columns.min() and columns.max() <= 10 + 3 * 45 + 40


@pytest.mark.parametrize(
    ("given", "where", "said"),
    [
        ({"grid": "3"}, "grid", "such as 3x8"),
        ({"grid": "0x8"}, "grid", "such as 3x8"),
        ({"grid": "3x8x2"}, "grid", "such as 3x8"),
        ({"grid": "99x8"}, "grid", "such as 3x8"),
        ({"grid": "3x8", "edges": "7 mm"}, "edges", "two lengths"),
        ({"grid": "3x8", "gaps": "soon"}, "gaps", "two lengths"),
        ({"grid": "4x8"}, "grid", "44.0 mm too many"),  # 4 x 63.5 - 210
        ({"grid": "3x8", "edges": "30 x 5 mm"}, "edges", "10.5 mm too many"),  # 30 + 3 x 63.5 - 210
        ({"grid": "3x8", "used": 24}, "used", "From 0 to 23"),
        ({"grid": "3x8", "used": -1}, "used", "From 0 to 23"),
    ],
)
def test_measures_that_cannot_be_are_refused_at_their_field(given: dict[str, object], where: str, said: str) -> None:
    with pytest.raises(Refused) as refused:
        measured_sheet(label_size("63.5x33.9mm"), "A4", **given)  # type: ignore[arg-type]
    assert refused.value.faults[0].where == where and said in refused.value.faults[0].message


def test_measures_without_edges_lie_in_the_middle_of_the_paper() -> None:
    on = measured_sheet(label_size("60x30mm"), "A4", "3x9")
    assert (on.left, on.top) == (pytest.approx(15), pytest.approx(13.5))  # (210 - 180) / 2, (297 - 270) / 2


# Letters that a face lacks -------------------------------------------------------------------------------------------


def ink(tag: Tag, label: str = "100x50mm") -> bytes:
    return pixels(tags_pdf([tag], label), 300).tobytes()


def test_marks_that_differ_in_one_letter_only_never_print_alike() -> None:
    """Chinese, Arabic, emoji, arrows, and a letter of today's private use: none is left out."""
    marks = ["Рамка", "Рамка 框", "Рамка 図", "Рамка ق", "Рамка 🦆", "Рамка →", "Рамка ←", "Рамка \ue000", "Рамка ≤"]
    for label in ("100x50mm", "50x30mm"):
        assert len({ink(replace(SCREEN, mark=mark), label) for mark in marks}) == len(marks)


def test_a_letter_that_no_face_has_is_a_box_with_its_number() -> None:
    pdf, pages = draw_tags([replace(SCREEN, mark="Рамка 框")], "100x50mm", None)
    found = words(pdf)
    assert "Рамка" in found and all(digit in found.split("230/in")[0] for digit in "6846")  # U+6846
    assert not overlaps(pages) and not outside(pages)
    with letters.laid_out(4):
        assert letters.boxed("Рамка 框 قالب 🦆") == ("框", "ق", "ا", "ل", "ب", "🦆")
        assert letters.boxed("Żółw → ✓ ≤ № 7") == ()


def test_signs_come_from_the_faces_that_every_reader_brings() -> None:
    pdf = tags_pdf([replace(SCREEN, mark="A → B ✓")], "100x50mm")
    assert "→" in words(pdf) and b"/Symbol" in pdf and b"/ZapfDingbats" in pdf
    assert b"/Symbol" not in tags_pdf([SCREEN], "100x50mm")


def test_what_nobody_sees_is_no_letter() -> None:
    with letters.laid_out(4):
        assert letters.plain("a\u200db\ufe0f\u00adc") == "abc" and letters.plain("\ue000") == "\ue000"


def test_a_warning_names_the_text_and_its_letters() -> None:
    told = letters.warnings([to_dict(replace(SCREEN, mark="Рамка 框")), {"a": ["鴨", "plain"]}])
    assert told == (
        "“Рамка 框”: this paper has no 框 (U+6846). A box with that number is printed in its place.",
        "“鴨”: this paper has no 鴨 (U+9D28). A box with that number is printed in its place.",
    )
    many = letters.warnings([f"{n} 框" for n in range(5)])
    assert len(many) == 4 and many[-1] == "More texts with such letters: 2."
    assert letters.warnings(to_dict(SCREEN)) == ()


def test_a_paper_kept_before_leaves_the_letter_out_as_it_did() -> None:
    before = from_dict({**to_dict(replace(SCREEN, mark="Рамка 框")), "layout": 3})
    assert not isinstance(before, type(TICKET)) and before.layout == 3
    assert "68" not in words(tags_pdf([before], "100x50mm")).split("230/in")[0]


# Photos --------------------------------------------------------------------------------------------------------------

TRIES = 100
PAPERS = {
    **{f"screen {one}": (lambda one=one: draw_tags([replace(SCREEN, address=LONG)], one, None)) for one in ROLLS},
    "place 62x29mm": lambda: draw_tags([replace(PLACE, address=LONG)], "62x29mm", None, dpi=203),
    "bucket 100x75mm": lambda: draw_tags([replace(BUCKET, address=LONG)], "100x75mm", None, dpi=203),
    "ticket A4": lambda: draw_job(replace(TICKET, address=LONG), "A4", None),
    "ticket Letter": lambda: draw_job(replace(TICKET, address=LONG), "Letter", None),
    "set-up sheet A4": lambda: draw_setup(setup(), "A4"),
    "set-up sheet Letter": lambda: draw_setup(setup(), "Letter"),
}


OFTEN = ("screen 100x50mm", "screen 62x29mm", "screen 50x30mm", "ticket A4", "set-up sheet Letter")


@pytest.mark.parametrize("name", [one if one in OFTEN else pytest.param(one, marks=pytest.mark.slow) for one in PAPERS])
def test_a_photo_of_it_is_read_ninety_nine_times_in_a_hundred(name: str) -> None:
    """Turned any way, tilted, out of focus, dim and unevenly lit; where there are two codes, one is under ink."""
    pdf, pages = PAPERS[name]()
    image, codes = photographed.near(pdf, pages), photographed.codes_of(pages)
    label, good = max(pages.sizes[0]) <= 150, 0
    for number in range(TRIES):
        by = random.Random(f"{name} {number}")
        seen = photographed.covered(image, by.choice(codes), by) if label and len(codes) == 2 else image
        good += photographed.read(photographed.photo(seen, by, photographed.Hard())) == {codes[0].text}
    assert good >= 99, f"{good} of {TRIES}"


def test_a_photo_can_be_too_hard() -> None:
    """So that the test above can fail: blurred by a module and more, hardly anything is read."""
    pdf, pages = draw_tags([SCREEN], "62x29mm", None)
    image, by = photographed.near(pdf, pages), random.Random(7)
    blurred = image.filter(photographed.ImageFilter.GaussianBlur(1.2 * photographed.PIXELS))
    assert not any(photographed.read(photographed.photo(blurred, by, photographed.Hard())) for _try in range(10))


# Nothing overlaps, nothing is cut ------------------------------------------------------------------------------------


def text_boxes(pdf: bytes) -> list[tuple[int, str, tuple[float, float, float, float]]]:
    """Each text of the pages with what pdfium says it covers (left, bottom, right, top, in points)."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        found = []
        for number, page in enumerate(document):
            wide, high = page.get_size()
            texts = page.get_textpage()
            for one in page.get_objects([raw.FPDF_PAGEOBJ_TEXT]):
                left, bottom, right, top = one.get_bounds()
                said = texts.get_text_bounded(left - 0.1, bottom - 0.1, right + 0.1, top + 0.1)
                assert left >= 0 and bottom >= 0 and right <= wide and top <= high, said
                found.append((number, said, (left, bottom, right, top)))
        return found
    finally:
        document.close()


def clear_of_each_other(pdf: bytes) -> None:
    """No two texts of a page cover the same place, by half a point at most."""
    for (page, one, a), (other_page, other, b) in itertools.combinations(text_boxes(pdf), 2):
        if page == other_page:
            across, down = min(a[2], b[2]) - max(a[0], b[0]), min(a[3], b[3]) - max(a[1], b[1])
            assert across <= 0.5 or down <= 0.8, (one, other, across, down)


LABELLED: list[Tag] = [
    ScreenTag(code="WMWMWM", address=LONG, mark=MARK, mesh="420/in · 27 µm", frame="aluminium · 584 × 787 mm",
              shop="The Gull and Anchor printing works of the harbour", printed_on="2026-11-25", demo=True),
    ScreenTag(code="WMWMWM", address=LONG, mesh="230/in · 48 µm"),
    PlaceTag(code="WMWMWM", address=LONG, name=MARK, kind="drying cabinet", shop="Gull & Anchor"),
    BucketTag(code="WMWMWM", address=LONG, kind="discharge ink", product="A base with a name of forty characters!!",
              lot="L-2026-11-25-B", mixed_at="2026-11-25 08:30", good_until="2026-11-25 14:30",
              cautions=BUCKET.cautions, shop="Gull & Anchor", demo=True),
    BucketTag(code="WMWMWM", address=LONG, kind="dual-cure emulsion", product="Emulsion A", cautions=BUCKET.cautions,
              discarded="2026-11-25 16:10", shop="Gull & Anchor"),
]  # fmt: skip


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("label", ROLLS)
@pytest.mark.parametrize("tag", LABELLED, ids=["screen", "unmarked", "place", "bucket", "discarded"])
def test_no_text_of_a_label_overlaps_or_is_cut(tag: Tag, label: str, dpi: int) -> None:
    pdf, pages = draw_tags([tag], label, None, dpi=dpi)
    clear_of_each_other(pdf)
    assert not overlaps(pages) and not outside(pages)
    told = " ".join(words(pdf).split())
    assert "…" not in told
    main = [tag.mark or tag.mesh, tag.mesh] if isinstance(tag, ScreenTag) else []
    main += [tag.name, tag.kind] if isinstance(tag, PlaceTag) else []
    main += [tag.kind, tag.good_until or tag.discarded] if isinstance(tag, BucketTag) else []
    main += ["good until"] if isinstance(tag, BucketTag) and not tag.discarded else []
    for said in (*main, "WMWMW-M"):
        assert said in told


def test_a_discarded_bucket_says_so_first_and_no_longer_until_when_it_is_good() -> None:
    gone = replace(BUCKET, discarded="2026-11-25 16:10")
    for label in ROLLS:
        _pdf, pages = draw_tags([gone], label, None)
        texts = [one for one in pages.drawn if one.kind == "text"]
        assert max(texts, key=lambda one: one.size).text in ("DISCARDED", "7K32X-M")
        said = {one.text for one in texts}
        assert {"DISCARDED", "2026-11-25 16:10"} <= said and not {"good until", "Tue 14:30"} & said


COLOUR = "Cool grey of the third harbour wall, dark"
"""40 characters and one: as long as a colour is typed."""


def heavy(heads: int = 12):
    """A job of twelve heads with colours of forty characters and no artwork."""
    job = heavy_job(heads)
    [placement] = job.placements
    stations = tuple(
        replace(one, colour=f"{COLOUR[:38]}{one.number:02}", separation=f"{COLOUR[:38]}{one.number:02}")
        if one.prints
        else one
        for one in placement.stations
    )
    return replace(
        job,
        title="Harbour wall and the boats that lie before it, for the anniversary",
        placements=(replace(placement, stations=stations),),
    )


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_twelve_heads_with_colours_of_forty_letters_and_no_artwork_stay_apart_and_whole(paper: str) -> None:
    job = heavy()
    ticket = job_ticket(job, "7K32XM", LONG, shop="The Gull and Anchor printing works of the harbour")
    sheet = replace(setup(), job=ticket)
    for pdf, pages in (draw_job(ticket, paper, None), draw_setup(sheet, paper)):
        clear_of_each_other(pdf)
        assert not overlaps(pages) and not outside(pages, 5)
        told = " ".join(words(pdf).split())
        assert job.title in told and "…" not in told
    told = " ".join(words(draw_job(ticket, paper, None)[0]).split())
    for one in job.placements[0].printing:
        assert one.colour in told


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_no_text_of_a_comparison_or_a_customers_sheet_overlaps(paper: str) -> None:
    for pdf, pages in (draw_comparison(comparison(), paper), draw_customer(customer(), paper, None)):
        clear_of_each_other(pdf)
        assert not overlaps(pages) and not outside(pages, 5)


def test_the_same_paper_gives_the_same_bytes_in_another_process_too(tmp_path: Path) -> None:
    import subprocess
    import sys

    code = (
        "import sys; sys.path[:0] = ['tests', '.']; import test_labels as t, hashlib;"
        "print(hashlib.sha256(t.tags_pdf(t.LABELLED, '62x29mm', dpi=203) + t.draw_job(t.TICKET, 'A4', None)[0]"
        " + t.draw_customer(t.customer(), 'Letter', None)[0]).hexdigest())"
    )
    root = Path(__file__).parent.parent
    told = {
        subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True,
                       env={"PYTHONHASHSEED": seed, "TZ": zone, "PATH": ""}).stdout
        for seed, zone in (("1", "UTC"), ("2", "Asia/Tokyo"))
    }  # fmt: skip
    assert len(told) == 1 and len(told.pop()) == 65


def test_pages_know_where_all_was_drawn() -> None:
    """What `overlaps` goes by agrees with what pdfium finds: each text within its own noted box."""
    pdf, pages = draw_tags(LABELLED[:1], "100x50mm", None)
    noted = [one for one in pages.drawn if one.kind == "text"]
    high = pages.sizes[0][1] * 72 / 25.4
    for _page, said, (left, bottom, right, top) in text_boxes(pdf):
        assert any(
            left >= one.left * 72 / 25.4 - 1 and right <= one.right * 72 / 25.4 + 1
            and high - bottom <= one.bottom * 72 / 25.4 + 1 and high - top >= one.top * 72 / 25.4 - 1
            for one in noted
        ), said  # fmt: skip
