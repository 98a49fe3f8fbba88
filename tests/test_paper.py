"""Tickets as they come out of the printer: pages rendered at 300 dpi (pdfium), read by another QR reader (zxing-cpp).

Module, quiet zone and version are measured on the rendered pixels. Figures: ISO/IEC 18004 (quiet zone 4 modules, side
17 + 4 x version); 0.8 and 0.5 mm modules: this project's own limits, above the 4 printer dots of Denso Wave's advice.
"""

from __future__ import annotations

import io
import itertools
import json
import math
from dataclasses import replace
from datetime import date
from pathlib import Path

import bold_face
import numpy
import pypdfium2
import pytest
import zxingcpp
from fontTools.ttLib import TTFont
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image
from pypdfium2 import raw

from tickets.domain.code import shown
from tickets.domain.jobs import job as jobs
from tickets.domain.papers.ticket import (
    AssignedScreen,
    BucketTag,
    ColourwayRow,
    GarmentRow,
    JobTicket,
    PlacementSheet,
    PlaceTag,
    ScreenTag,
    StationRow,
    Tag,
    bucket_cautions,
    from_dict,
    job_ticket,
    to_dict,
)
from tickets.domain.refusal import Refused
from tickets.paper.job import draw_job, job_pdf
from tickets.paper.page import Drawn, Pages, cut, fit, plain, width, wrap
from tickets.paper.stock import label_size
from tickets.paper.tags import draw_tags, tags_pdf

DPI = 300
PX = 25.4 / DPI
# give versions 2, 3 and 4
SHORT, MIDDLE, LONG = "http://a.b", "http://10.0.0.20:8600", "http://tickets.gull.press.example:860"
assert len(LONG) + len("/t/7K32XM") == 46  # ISO/IEC 18004: bytes that version 4 holds at level Q
NAMES = "Łódź Żółw · Ωμέγα Ελληνικά · Щука Їжак"

SCREEN = ScreenTag(
    code="7K32XM",
    address=MIDDLE,
    mark="A-117",
    mesh="230/in · 48 µm",
    frame="aluminium",
    shop="Gull & Anchor",
    printed_on="25 Nov 2026",
)
PLACE = PlaceTag(code="7K32XM", address=MIDDLE, name="Rack 4, drying room", kind="rack", shop="Gull & Anchor")
BUCKET = BucketTag(
    code="7K32XM",
    address=MIDDLE,
    kind="Discharge ink",
    product="Clear base with activator",
    lot="L-22",
    mixed_at="Tue 08:30",
    good_until="Tue 14:30",
    cautions=bucket_cautions("discharge"),
)


def rendered(pdf: bytes) -> list[numpy.ndarray]:
    """Grey pixels of every page at 300 dpi."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [page.render(scale=DPI / 72, grayscale=True).to_numpy().squeeze().copy() for page in document]
    finally:
        document.close()


def words(pdf: bytes) -> str:
    """The text of all pages, as another program copies it out."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return "\n".join(page.get_textpage().get_text_range() for page in document)
    finally:
        document.close()


def read_codes(page: numpy.ndarray) -> list[zxingcpp.Barcode]:
    return zxingcpp.read_barcodes(page, formats=zxingcpp.BarcodeFormat.QRCode)


def measure(page: numpy.ndarray, code: zxingcpp.Barcode) -> tuple[float, int, int]:
    """Module in mm, version and whole modules of white around, measured on the pixels of one upright code."""
    corners = [code.position.top_left, code.position.top_right, code.position.bottom_right, code.position.bottom_left]
    left, right = min(c.x for c in corners), max(c.x for c in corners)
    top, bottom = min(c.y for c in corners), max(c.y for c in corners)
    # the reader's corners lie within a module: pull the box to where the ink ends, starting inside the finders
    dark = page < 128
    rows = dark[:, left + 3 : right - 3].any(axis=1)
    while top > 0 and rows[top - 1]:
        top -= 1
    while bottom < page.shape[0] and rows[bottom]:
        bottom += 1
    columns = dark[top + 3 : bottom - 3, :].any(axis=0)
    while left > 0 and columns[left - 1]:
        left -= 1
    while right < page.shape[1] and columns[right]:
        right += 1
    # the finder pattern's top bar is seven modules: its length against the whole side gives the version
    bar = int(numpy.argmin(dark[top + 2, left:right])) if not dark[top + 2, left:right].all() else right - left
    modules = round((right - left) / (bar / 7))
    assert (modules - 17) % 4 == 0
    size = (right - left) / modules
    white = 0
    while (
        not dark[
            max(0, top - math.floor((white + 1) * size)) : bottom + math.floor((white + 1) * size),
            max(0, left - math.floor((white + 1) * size)) : right + math.floor((white + 1) * size),
        ].sum()
        - dark[top:bottom, left:right].sum()
        and white < 6
    ):
        white += 1
    return size * PX, (modules - 17) // 4, white


def overlaps(pages: Pages) -> list[tuple[Drawn, Drawn]]:
    """Things drawn over one another. Text counts from its capitals to its base line, a code with its quiet zone."""

    def tight(drawn: Drawn) -> tuple[float, float, float, float]:
        if drawn.kind == "rule":  # a hair wider than it is, so that a line through a text counts
            return drawn.left - 0.05, drawn.top - 0.05, drawn.right + 0.05, drawn.bottom + 0.05
        if drawn.kind != "text":
            return drawn.left, drawn.top, drawn.right, drawn.bottom
        mm = drawn.size * 25.4 / 72
        return drawn.left, drawn.bottom - 0.25 * mm - 0.72 * mm, drawn.right, drawn.bottom - 0.25 * mm

    found = []
    by_page = itertools.groupby(sorted(pages.drawn, key=lambda drawn: drawn.page), key=lambda drawn: drawn.page)
    for _page, group in by_page:
        for one, other in itertools.combinations(list(group), 2):
            if {one.kind, other.kind} in ({"rule"}, {"rule", "picture"}):  # lines cross, and a picture has a frame
                continue
            a, b = tight(one), tight(other)
            if min(a[2], b[2]) - max(a[0], b[0]) > 0.05 and min(a[3], b[3]) - max(a[1], b[1]) > 0.05:
                found.append((one, other))
    return found


def outside(pages: Pages, edge: float = 0.0) -> list[Drawn]:
    """What comes nearer than `edge` mm to the edge of its page; cut marks may."""
    return [
        drawn
        for drawn in pages.drawn
        if drawn.kind != "rule"
        and (
            drawn.left < edge - 0.01
            or drawn.top < edge - 0.5
            or drawn.right > pages.sizes[drawn.page][0] - edge + 0.01
            or drawn.bottom > pages.sizes[drawn.page][1] - edge + 0.5
        )
    ]


# -- labels ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("address", [SHORT, MIDDLE, LONG])
@pytest.mark.parametrize(
    ("label", "codes", "least"),
    [
        ("100x50mm", 2, 0.8),
        ("4x2in", 2, 0.8),
        ("148x105mm", 2, 0.8),
        ("62x29mm", 1, 0.5),
        ("50x25mm", 1, 0.5),
        ("99x49mm", 1, 0.5),
        ("38x23mm", 1, 0.5),
    ],
)
@pytest.mark.parametrize("tag", [SCREEN, PLACE, BUCKET], ids=["screen", "place", "bucket"])
def test_codes_on_a_label_are_read_and_measure_up(tag: Tag, label: str, codes: int, least: float, address: str) -> None:
    tag = replace(tag, address=address)
    pdf, pages = draw_tags([tag], label, None)
    [page] = rendered(pdf)
    found = read_codes(page)
    assert [code.text for code in found] == [f"{address}/t/7K32XM"] * codes
    for code in found:
        module, version, quiet = measure(page, code)
        assert module >= least - 0.02  # half a pixel in 25 modules and more
        assert version == {SHORT: 2, MIDDLE: 3, LONG: 4}[address]
        assert code.ec_level in ("Q", "H")
        assert quiet >= 4
    assert [drawn.module >= least - 1e-9 for drawn in pages.drawn if drawn.kind == "qr"] == [True] * codes
    assert "7K32X-M" in words(pdf)
    assert not overlaps(pages) and not outside(pages)


def test_a_drawn_code_has_four_clear_modules_all_round() -> None:
    """From the geometry: nothing else enters the code's box, which is the side and four modules each way."""
    for label in ("100x50mm", "62x29mm", "50x25mm"):
        _pdf, pages = draw_tags([replace(SCREEN, address=LONG, demo=True, mark="W" * 40)], label, None)
        for drawn in pages.drawn:
            if drawn.kind == "qr":
                assert drawn.right - drawn.left == pytest.approx((17 + 4 * drawn.version + 8) * drawn.module)
        assert not overlaps(pages) and not outside(pages)


@pytest.mark.parametrize("dirty", ["left", "right"])
def test_a_large_label_still_reads_with_one_of_its_halves_under_ink(dirty: str) -> None:
    [page] = rendered(tags_pdf([SCREEN], "100x50mm"))
    half = page.shape[1] // 2
    page[:, :half] = 0 if dirty == "left" else page[:, :half]
    page[:, half:] = 0 if dirty == "right" else page[:, half:]
    assert [code.text for code in read_codes(page)] == [f"{MIDDLE}/t/7K32XM"]


def test_an_upright_label_is_drawn_along_its_long_side() -> None:
    [page] = rendered(tags_pdf([SCREEN], "50x100mm"))
    assert page.shape[0] > page.shape[1]
    assert [code.text for code in read_codes(page)] == [f"{MIDDLE}/t/7K32XM"] * 2


@pytest.mark.parametrize(
    ("text", "wide", "high"),
    # 1 in = 25.4 mm by definition
    [
        ("100x50mm", 100, 50),
        ("4x2in", 101.6, 50.8),
        (" 62 X 29 mm ", 62, 29),
        ("2,5x4cm", 25, 40),
        ('4"x2"', 101.6, 50.8),
        ("62mm × 29mm", 62, 29),
        ("4inx50mm", 101.6, 50),
    ],
)
def test_label_sizes_are_understood(text: str, wide: float, high: float) -> None:
    assert (label_size(text).wide, label_size(text).high) == (pytest.approx(wide), pytest.approx(high))


@pytest.mark.parametrize("text", ["100x50", "", "mm", "100mm", "-5x5mm", "1e3x5mm", "9000x10mm", "nanx5mm"])
def test_what_is_no_label_size_is_refused(text: str) -> None:
    with pytest.raises(Refused) as refused:
        label_size(text)
    assert refused.value.faults[0].where == "label"


def test_a_label_too_small_for_half_a_millimetre_is_refused_with_the_least_size_that_would_do() -> None:
    with pytest.raises(Refused, match="at least 37 x 23 mm"):  # (33 + 8) x 0.5 + 2 = 22.5; + 14 for the code: 36.5
        tags_pdf([replace(SCREEN, address=LONG)], "30x20mm")
    assert len(read_codes(rendered(tags_pdf([replace(SCREEN, address=LONG)], "37x23mm"))[0])) == 1


@pytest.mark.parametrize(
    ("sheet", "label", "first"), [("A4", "100x50mm", 10), ("Letter", "4x2in", 10), ("letter", "62x29mm", 27)]
)
def test_a_sheet_holds_a_grid_of_labels_each_of_which_reads(sheet: str, label: str, first: int) -> None:
    codes = [f"{n:05d}X" for n in range(first + 1)]
    pdf, pages = draw_tags([replace(SCREEN, code=code) for code in codes], label, sheet)
    assert len(pages.sizes) == 2 and not overlaps(pages) and not outside(pages, 3)
    expected = {210.0: (210.0, 297.0), 215.9: (215.9, 279.4)}[pages.sizes[0][0]]  # ISO 216; ANSI letter 8.5 x 11 in
    assert pages.sizes == [expected] * 2
    found = [code.text.rsplit("/", 1)[1] for page in rendered(pdf) for code in read_codes(page)]
    each = 2 if label_size(label).large else 1
    assert sorted(found) == sorted(codes * each)


def test_a_label_larger_than_its_sheet_and_an_unknown_sheet_are_refused() -> None:
    with pytest.raises(Refused, match="does not fit"):
        tags_pdf([SCREEN], "250x100mm", "A4")
    with pytest.raises(Refused, match="A4 or Letter"):
        tags_pdf([SCREEN], "100x50mm", "A5")
    with pytest.raises(Refused, match="Nothing to print on paper"):
        tags_pdf([], "100x50mm")


def test_marks_and_names_in_polish_greek_and_cyrillic_can_be_copied_out_again() -> None:
    tag = replace(PLACE, name="Łódź Żółw", kind="Ωμέγα Ελληνικά", shop="Щука Їжак", printed_on="")
    found = words(tags_pdf([tag], "100x50mm", None))
    for word in ("Łódź Żółw", "Ωμέγα Ελληνικά", "Щука Їжак"):
        assert word in found


def test_a_letter_and_its_mark_typed_apart_print_as_one() -> None:
    assert "Żółw" in words(tags_pdf([replace(PLACE, name="Z\u0307o\u0301\u0142w")], "100x50mm", None))


def test_the_mark_the_mesh_and_the_code_are_large() -> None:
    _pdf, pages = draw_tags([SCREEN], "100x50mm", None)
    size = {drawn.text: drawn.size for drawn in pages.drawn}
    assert size["A-117"] >= 36 and size["230/in · 48 µm"] >= 22 and size["7K32X-M"] >= 18


def test_demo_paper_says_so_and_other_paper_does_not() -> None:
    for tag in (SCREEN, PLACE, BUCKET):
        for label in ("100x50mm", "50x25mm"):
            assert "DEMO" in words(tags_pdf([replace(tag, demo=True)], label))
            assert "DEMO" not in words(tags_pdf([tag], label))


@pytest.mark.parametrize("label", ["100x50mm", "100x75mm"])
@pytest.mark.parametrize("kind", ["discharge ink", "dual-cure emulsion", "plastisol"])
def test_no_caution_of_a_bucket_ends_in_mid_sentence(kind: str, label: str) -> None:
    """The risk and the safety data sheet are said whole on a label of any address, and until when it is good."""
    cautions = bucket_cautions(kind)
    tag = BucketTag(
        code="7K32XM",
        address="http://192.168.100.200:8600",
        kind=kind,
        cautions=cautions,
        product="Clear base",
        lot="C-0619",
        mixed_at="2026-03-09 08:38",
        good_until="2026-03-09 14:38",
    )
    told = " ".join(words(tags_pdf([tag], label)).split())
    assert "…" not in told and "2026-03-09 14:38" in told
    for said in (cautions[0], cautions[-1]):
        assert said in told


def test_a_bucket_says_until_when_it_is_good_and_its_cautions() -> None:
    found = " ".join(words(tags_pdf([BUCKET], "100x75mm", None)).split())
    for text in (
        "Discharge ink",
        "good until",
        "Tue 14:30",
        "mixed Tue 08:30",
        "formaldehyde",
        "safety data sheet and local rules",
    ):
        assert text in found
    small = words(tags_pdf([BUCKET], "62x29mm", None))
    assert "Tue 14:30" in small and "safety data sheet" in small


ANY = st.text(st.characters(codec="utf-8"), max_size=80)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    mark=ANY,
    mesh=ANY,
    frame=ANY,
    shop=ANY,
    demo=st.booleans(),
    wide=st.integers(38, 160),
    high=st.integers(23, 110),
    address=st.sampled_from([SHORT, MIDDLE, LONG]),
    code=st.sampled_from(["7K32XM", "111111", "WMWMWM"]),
)
def test_whatever_is_typed_nothing_runs_over_or_into_anything(
    mark: str, mesh: str, frame: str, shop: str, demo: bool, wide: int, high: int, address: str, code: str
) -> None:
    tag = ScreenTag(code=code, address=address, mark=mark, mesh=mesh, frame=frame, shop=shop, demo=demo)
    _pdf, pages = draw_tags([tag], f"{wide}x{high}mm", None)
    assert not overlaps(pages) and not outside(pages)
    assert shown(code) in {drawn.text for drawn in pages.drawn}


# -- job tickets ----------------------------------------------------------------------------------------------------

ROW = StationRow(
    order="1",
    does="Print",
    separation="reed green",
    colour="reed green",
    ink="plastisol",
    reference="365, coated book",
    mesh="280/in · 40 µm",
    strokes="1 stroke",
    squeegee="90 Shore A",
    off_contact="2 mm",
    halftone="55 /in at 22.5°",
    screens=(AssignedScreen(code="7K32XM", mark="A-117"),),
)
FLASH = StationRow(order="2", does="Flash", flash="6 s, dry right through")
TICKET = JobTicket(
    code="7K32XM",
    address=MIDDLE,
    title="Heron tee",
    customer="Invented Kayaks",
    reference="PO-12",
    due="Thu 3 Dec 2026",
    version="2",
    repeats="2B4FG-7",
    art="Heron over reeds",
    revision="revision C",
    garments=(GarmentRow(style="Heavy tee", colour="black", pieces="240", fibre="100 % cotton", lot="D-77"),),
    placements=(
        PlacementSheet(
            name="Full front",
            size="12 in × 14 in",
            measured_from="collar seam",
            platen="16 in",
            dryer="belt 1.2 m/min",
            stations=(ROW, FLASH),
        ),
    ),
    colourways=(ColourwayRow(garment="Heavy tee, navy", inks=(("reed green", "sand, plastisol"),)),),
    cautions=("Flash and dryer: never alone.", "Follow the maker's safety data sheet and local rules."),
    remarks=("Ruling against mesh: 4.2.",),
    where_from="approved run 12, 3 Mar",
    shop="Gull & Anchor",
    printed_on="25 Nov 2026",
)


def busy(stations: int = 12, long: str = "Bardzo długa nazwa Ελληνικά Щука ") -> JobTicket:
    """A job with many stations and long names."""
    rows = tuple(
        replace(
            ROW,
            order=str(n),
            separation=(long * (n % 3) + str(n)),
            reference=long * 2,
            note=long * n,
            screens=tuple(AssignedScreen(code="7K32XM", mark=long) for _n in range(n % 4)),
        )
        for n in range(1, stations + 1)
    )
    return replace(
        TICKET,
        title=long * 6,
        customer=long * 5,
        address=LONG,
        demo=True,
        placements=(replace(TICKET.placements[0], name=long * 3, stations=rows),) * 2,
    )


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("address", [SHORT, MIDDLE, LONG])
def test_every_page_of_a_job_ticket_carries_a_code_that_reads(paper: str, address: str) -> None:
    for ticket in (replace(TICKET, address=address), replace(busy(), address=address)):
        pdf, pages = draw_job(ticket, paper, None)
        images = rendered(pdf)
        found = [read_codes(page) for page in images]
        assert all(codes for codes in found) and len(found) == len(pages.sizes)
        assert {code.text for codes in found for code in codes} == {f"{address}/t/7K32XM"}
        if ticket.title == TICKET.title:
            assert len(found[-1]) == 2  # beside the lines for handwriting
        for page, codes in zip(images, found, strict=True):
            for code in codes:
                module, version, quiet = measure(page, code)
                assert module >= 0.8 and version <= 4 and quiet >= 4 and code.ec_level in ("Q", "H")
        for page in range(len(pages.sizes)):
            texts = [drawn.text for drawn in pages.drawn if drawn.page == page]
            assert "7K32X-M" in texts and f"Page {page + 1} of {len(pages.sizes)}" in texts


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_busy_job_runs_over_pages_and_keeps_everything_apart_and_complete(paper: str) -> None:
    ticket = busy()
    pdf, pages = draw_job(ticket, paper, None)
    assert len(pages.sizes) >= 3 and not overlaps(pages) and not outside(pages, 5)
    found = "".join(words(pdf).split())
    for row in ticket.placements[0].stations:
        assert "".join(row.note.split()) in found or row.note == ""
    headed = {drawn.page for drawn in pages.drawn if drawn.text == "Mesh"}
    assert len(headed) >= 3  # headings on each page that the print order runs over


def test_a_job_ticket_says_all_that_it_is_given() -> None:
    found = " ".join(words(job_pdf(TICKET)).split())
    for text in (
        "Heron tee",
        "Invented Kayaks",
        "PO-12",
        "Thu 3 Dec 2026",
        "version 2",
        "2B4FG-7",
        "Heron over reeds",
        "revision C",
        "Heavy tee",
        "black",
        "240",
        "100 % cotton",
        "D-77",
        "Full front",
        "12 in × 14 in",
        "from collar seam",
        "platen 16 in",
        "belt 1.2 m/min",
        "reed green",
        "plastisol",
        "365, coated book",
        "280/in · 40 µm",
        "1 stroke",
        "90 Shore A",
        "off-contact 2 mm",
        "55 /in at 22.5°",
        "A-117",
        "Flash: 6 s, dry right through",
        "sand, plastisol",
        "never alone",
        "safety data sheet and local rules",
        "Ruling against mesh",
        "approved run 12, 3 Mar",
        "Gull & Anchor",
        "25 Nov 2026",
        "First print approved by",
        "By hand, while the network is down",
        "Page 1 of 1",
    ):
        assert text in found, text
    assert "DEMO" not in found
    assert "DEMO" in words(job_pdf(replace(TICKET, demo=True)))


def test_names_of_a_job_in_polish_greek_and_cyrillic_can_be_copied_out_again() -> None:
    assert NAMES in words(job_pdf(replace(TICKET, customer=NAMES)))


def test_a_row_longer_than_a_page_goes_on_over_the_page() -> None:
    story = " ".join(f"word{n}" for n in range(1500))
    row = replace(ROW, note=story, squeegee=" ".join(f"blade{n}" for n in range(400)))
    pdf, pages = draw_job(replace(TICKET, placements=(replace(TICKET.placements[0], stations=(row,)),)), "Letter", None)
    found = words(pdf).split()
    assert [word for word in found if word.startswith("word")] == story.split()
    assert [word for word in found if word.startswith("blade")] == row.squeegee.split()
    assert not overlaps(pages) and not outside(pages, 5)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    title=ANY,
    customer=ANY,
    due=ANY,
    name=ANY,
    note=st.text(max_size=300),
    stations=st.integers(0, 9),
    garments=st.integers(0, 12),
    paper=st.sampled_from(["A4", "Letter"]),
)
def test_whatever_an_order_says_nothing_runs_over_or_into_anything(
    title: str, customer: str, due: str, name: str, note: str, stations: int, garments: int, paper: str
) -> None:
    row = replace(ROW, separation=name or "x", note=note, series=customer, squeegee=note)
    sheet = replace(TICKET.placements[0], name=name, stations=(row,) * stations)
    ticket = replace(
        TICKET,
        title=title,
        customer=customer,
        due=due,
        placements=(sheet, sheet),
        garments=(replace(TICKET.garments[0], style=name, lot=title),) * garments,
    )
    _pdf, pages = draw_job(ticket, paper, None)
    assert not overlaps(pages) and not outside(pages, 5)


def test_the_art_prints_small_and_a_lost_picture_leaves_the_rest(tmp_path: Path) -> None:
    folder = tmp_path
    Image.new("RGB", (300, 200), "black").save(folder / "art.png")
    _pdf, pages = draw_job(replace(TICKET, picture="art.png"), "A4", folder)
    [picture] = [drawn for drawn in pages.drawn if drawn.kind == "picture"]
    assert 20 <= picture.right - picture.left <= 50 and not overlaps(pages)
    (folder / "broken.png").write_bytes(b"\x89PNG\r\n\x1a\nnothing")
    Image.effect_noise((3_000, 2_000), 80).save(folder / "camera.png")
    large = job_pdf(replace(TICKET, picture="camera.png"), "A4", folder)
    assert b"/Subtype /Image" in large and len(large) < 3_000_000 < (folder / "camera.png").stat().st_size
    for lost in ("gone.png", "broken.png", "../art"):
        assert "Heron tee" in words(job_pdf(replace(TICKET, picture=lost), "A4", folder))


SAMPLES = sorted((Path(__file__).parent.parent / "sample_jobs").glob("*.toml"))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("file", SAMPLES, ids=lambda file: str(file.stem))
def test_a_sample_jobs_ticket_splits_no_remark_and_has_no_page_of_blank_lines_alone(file: Path, paper: str) -> None:
    job = jobs.read_file(file)
    ticket = job_ticket(job, "7K32XM", MIDDLE, picture=job.art.picture)
    _pdf, pages = draw_job(ticket, paper, SAMPLES[0].parent)
    assert len(pages.sizes) <= 2 and not overlaps(pages) and not outside(pages, 5)
    of_page = [[drawn.text for drawn in pages.drawn if drawn.page == page] for page in range(len(pages.sizes))]
    for texts in of_page:  # head, QR code and code, then something to read before the lines to write on
        by_hand = next((n for n, text in enumerate(texts) if text.startswith("By hand")), len(texts))
        assert any(text in ("Garment", "Order", "Remarks") or text.startswith("– ") for text in texts[:by_hand])
    joined = [" ".join(texts) for texts in of_page]
    remarks = [f"– {' '.join(remark.split())}" for remark in ticket.remarks]
    for remark in remarks:
        assert sum(remark in text for text in joined) == 1
    assert not remarks or any(f"Remarks {remarks[0]}" in text for text in joined)


def test_a_remark_never_parts_and_its_heading_stays_with_it() -> None:
    """Whatever room is left: remarks of two lines after garments of every number."""
    remark = (
        "A remark that takes two lines on this paper, since it says at length what an experienced printer would" * 2
    )
    for garments in range(1, 40):
        ticket = replace(TICKET, garments=TICKET.garments * garments, placements=(), remarks=(remark,) * 4)
        _pdf, pages = draw_job(ticket, "A4", None)
        joined = [
            " ".join(drawn.text for drawn in pages.drawn if drawn.page == page) for page in range(len(pages.sizes))
        ]
        assert sum(text.count(f"– {remark}") for text in joined) == 4
        assert any(f"Remarks – {remark}" in text for text in joined)


def test_lines_to_write_on_fill_what_is_left_and_ask_for_no_page() -> None:
    """However full the page is: never a page more than without them, and no room for three of them left empty."""
    for garments in range(1, 40):
        ticket = replace(TICKET, garments=TICKET.garments * garments, placements=(), remarks=())
        _pdf, pages = draw_job(ticket, "A4", None)
        last = [drawn for drawn in pages.drawn if drawn.page == len(pages.sizes) - 1 and drawn.bottom < 283]
        texts = [drawn.text for drawn in last]
        assert "Garment" in texts or "Caution" in texts
        if any(text.startswith("By hand") for text in texts):
            assert max(drawn.bottom for drawn in last) > 282 - 8 - 0.5
        else:
            assert max(drawn.bottom for drawn in last) > 282 - 40


def test_the_head_asked_for_stands_at_every_station_whatever_its_note_says() -> None:
    job = jobs.read_file(next(file for file in SAMPLES if file.stem == "harbour-lights"))
    noted = {"Full front": {"1": {"note": "as run: pressed harder"}}}
    rows = job_ticket(job, "7K32XM", MIDDLE, targets=noted).placements[0].stations
    assert [row.head for row in rows] == [f"head asked for: {n}" for n in range(1, 8)]
    own = "Activator goes in last: mix for four hours at most."
    assert rows[0].note == f"{own} · note of an earlier run: as run: pressed harder" and rows[0].choke == "choke 1 pt"
    _pdf, pages = draw_job(job_ticket(job, "7K32XM", MIDDLE, targets=noted), "A4", None)
    heads = [drawn for drawn in pages.drawn if drawn.text.startswith("head asked for")]
    assert [drawn.text for drawn in heads] == [row.head for row in rows] and len({drawn.left for drawn in heads}) == 1


def test_another_paper_is_refused() -> None:
    with pytest.raises(Refused, match="A4 or Letter"):
        job_pdf(TICKET, "A3")


def test_the_same_ticket_gives_the_same_bytes_and_tells_what_it_is() -> None:
    for make in (lambda: tags_pdf([SCREEN, PLACE, BUCKET]), lambda: job_pdf(busy()), lambda: job_pdf(TICKET, "Letter")):
        assert make() == make()
    document = pypdfium2.PdfDocument(job_pdf(TICKET))
    assert document.get_metadata_dict()["Title"] == "Job 7K32X-M: Heron tee"
    document.close()
    assert b"/Lang" in job_pdf(TICKET) and b"/FontFile2" in job_pdf(TICKET)  # ISO 32000: language, embedded TrueType


def test_bold_is_a_face_of_its_own_and_measured_by_its_own_widths() -> None:
    for pdf, pages in (draw_job(TICKET, "A4", None), draw_tags([SCREEN, BUCKET], "100x50mm", None)):
        assert b"NotoSans-Bold" in pdf and b"NotoSans-Regular" in pdf
        document = pypdfium2.PdfDocument(pdf)
        found = [(n, text) for n, page in enumerate(document) for text in page.get_objects([raw.FPDF_PAGEOBJ_TEXT])]
        texts = [drawn for drawn in pages.drawn if drawn.kind == "text" and plain(drawn.text)]
        assert len(found) == len(texts) > 5
        faces = set()
        for (page, text), drawn in zip(found, texts, strict=True):
            assert raw.FPDFTextObj_GetTextRenderMode(text) == raw.FPDF_TEXTRENDERMODE_FILL  # no outline
            left, _bottom, right, _top = (side * 25.4 / 72 for side in text.get_bounds())
            beside = 0.18 * drawn.size * 25.4 / 72  # what a figure keeps free on either side
            assert page == drawn.page and abs(left - drawn.left) < beside and abs(right - drawn.right) < beside
            faces.add(text.get_font().get_base_name().split("+")[-1])
        assert faces == {"NotoSans-Regular", "NotoSans-Bold"}
        document.close()
    assert width("Heron tee", 20, bold=True) > 1.04 * width("Heron tee", 20)


def test_the_bold_face_is_the_fonts_own_and_has_every_character_of_the_regular_one() -> None:
    kept, fresh = TTFont(bold_face.HERE / bold_face.FILE), TTFont(io.BytesIO(bold_face.made()))
    assert kept.getBestCmap().keys() == fresh.getBestCmap().keys() == TTFont(bold_face.upright()).getBestCmap().keys()
    assert kept["OS/2"].usWeightClass == 700 and kept["name"].getDebugName(6) == "NotoSans-Bold"
    for character, name in kept.getBestCmap().items():
        other = fresh.getBestCmap()[character]
        assert kept["hmtx"][name] == fresh["hmtx"][other], chr(character)
        assert kept["glyf"][name] == fresh["glyf"][other], chr(character)
    assert "SIL OPEN FONT LICENSE" in (bold_face.HERE / "OFL.txt").read_text("utf-8")


def test_codes_are_drawn_not_pictured() -> None:
    assert b"/Subtype /Image" not in tags_pdf([SCREEN]) and b"/Subtype /Image" not in job_pdf(TICKET)


# -- what a ticket says ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ticket", [SCREEN, PLACE, BUCKET, TICKET, busy()])
def test_what_was_printed_is_kept_and_says_the_same_again(ticket: Tag | JobTicket) -> None:
    kept = json.loads(json.dumps(to_dict(ticket)))
    assert from_dict(kept) == ticket
    assert from_dict({**kept, "later": 1}) == ticket


def a_job(**changes: object) -> jobs.Job:
    data: dict[str, object] = {
        "title": "Heron tee",
        "customer": "Invented Kayaks",
        "due": date(2026, 12, 3),
        "reference": "PO-12",
        "art": {"name": "Heron", "revision": "C"},
        "garment": [
            {
                "style": "Heavy tee",
                "colour": "black",
                "pieces": 240,
                "lot": "D-77",
                "fibre": {"cotton": 60, "polyester": 40},
            },
            {"style": "Heavy tee", "colour": "navy", "pieces": 60, "fibre": {"cotton": 100}},
        ],
        "placement": [
            {
                "name": "Full front",
                "width": "12 in",
                "height": "14 in",
                "from": "collar seam",
                "platen": "16 x 22 in",
                "dryer": {"belt_speed": "4 ft/min", "garment_peak": "160 degC", "hold": "90 s"},
                "station": [
                    {
                        "does": "print",
                        "separation": "underbase",
                        "colour": "white",
                        "ink": "discharge",
                        "mesh": {"count": "230/in", "thread": "48 um"},
                        "strokes": 2,
                        "coverage": "40 %",
                        "choke": "0.5 pt",
                        "squeegee": {"hardness": "70/90/70", "angle": "15 deg", "pressure": "firm"},
                        "recipe": {"base": 940, "activator": 60},
                        "off_contact": "2 mm",
                    },
                    {"does": "flash", "time": "6 s", "surface": "dry right through"},
                    {
                        "does": "print",
                        "colour": "reed green",
                        "ink": "plastisol",
                        "mesh": {"count": "280/in"},
                        "halftone": {"ruling": "55 /in", "angle": "22.5 deg"},
                    },
                ],
            }
        ],
        "colourway": [
            {
                "garment": {"style": "Heavy tee", "colour": "navy"},
                "inks": {"reed green": {"colour": "sand"}, "underbase": False},
            }
        ],
    }
    return jobs.read({**data, **changes}, "job.toml")


def test_a_ticket_says_a_job_as_it_was_typed() -> None:
    job = a_job()
    key = job.separation(job.placements[0], job.placements[0].stations[0]).key
    ticket = job_ticket(job, "7K32XM", MIDDLE, shop="Gull & Anchor", screens={key: [AssignedScreen(code="2B4FG7")]})
    [sheet] = ticket.placements
    first, flash, green = sheet.stations
    assert (sheet.size, sheet.dryer) == ("12 in × 14 in", "belt 4 ft/min, garment peak 160 °C, held 90 s")
    assert (first.mesh, green.mesh) == ("230/in · 48 µm", "280/in")
    assert first.squeegee == "70/90/70 Shore A, 15°, pressure firm"
    assert (first.strokes, first.recipe, first.off_contact) == ("2 strokes", "base 940 g, activator 60 g", "2 mm")
    assert (flash.does, flash.flash, flash.prints) == ("Flash", "6 s, dry right through", False)
    assert green.halftone == "55 /in at 22.5°"
    assert first.screens == (AssignedScreen(code="2B4FG7"),) and green.screens == ()
    assert ticket.colourways == (
        ColourwayRow(garment="Heavy tee, navy", inks=(("underbase", "not printed"), ("reed green", "sand, plastisol"))),
    )
    assert ticket.garments[0].fibre == "60 % cotton, 40 % polyester" and ticket.where_from == "job sheet"
    assert job_pdf(ticket) == job_pdf(ticket)


def test_an_approved_run_replaces_the_job_sheets_settings() -> None:
    targets = {"Full front": {"3": {"strokes": "2"}, "run": {"belt_speed": "3 ft/min", "adhesive": "web spray"}}}
    ticket = job_ticket(a_job(), "7K32XM", MIDDLE, targets=targets, where_from="approved run 12, 3 Mar")
    [sheet] = ticket.placements
    assert [row.strokes for row in sheet.stations] == ["2 strokes", "", "2 strokes"]
    assert sheet.dryer == "belt 3 ft/min, garment peak 160 °C, held 90 s" and sheet.more == "Adhesive: web spray"
    text = words(job_pdf(ticket))
    assert "approved run 12" in text and "Adhesive: web spray" in text


def test_a_ticket_kept_by_an_earlier_version_is_drawn_as_it_was() -> None:
    """What it did not know of yet is left out of what it kept."""
    kept = to_dict(replace(TICKET, where_from="Full front: approved run 12; Back: job sheet"))
    for sheet in kept["placements"]:
        for name in ("more", "where_from", "changed"):
            assert sheet.pop(name) == ""
        assert [row.pop("changed") for row in sheet["stations"]] == ["", ""]
    again = from_dict(kept)
    assert again.placements == TICKET.placements
    assert "settings: Full front: approved run 12; Back: job sheet" in words(job_pdf(again))


def test_what_was_changed_after_an_approval_stands_at_its_station() -> None:
    changed = {("Full front", n): f"Changed after the approval of run 7: Belt from {n} to B" for n in range(3)}
    _pdf, pages = draw_job(job_ticket(a_job(), "7K32XM", MIDDLE, changed=changed), "A4", None)
    said = [drawn.text for drawn in pages.drawn if drawn.text in {"1", "2", "3"} or drawn.text.startswith("Changed")]
    whole, first, second = changed.values()
    assert said == [whole, "1", first, "2", second, "3"]


def test_each_placement_says_where_its_own_settings_come_from() -> None:
    """As it stood in one text under every heading, it was cut off there."""
    front = a_job().to_dict()["placement"][0]
    names = ("Full front", "Left sleeve", "Full back")
    several = [{**front, "name": name, "width": f"{10 + n} in"} for n, name in enumerate(names)]
    sources = {"Full front": "approved run 16", "Left sleeve": "job sheet", "Full back": "approved run 21"}
    ticket = job_ticket(a_job(placement=several), "7K32XM", MIDDLE, where_from=sources)
    _pdf, pages = draw_job(ticket, "A4", None)
    said = [drawn.text for drawn in pages.drawn if drawn.text in names or drawn.text.startswith("settings:")]
    assert said == [text for name in names for text in (name, f"settings: {sources[name]}")]


@pytest.mark.parametrize(
    ("otherwise", "field", "said"),
    [
        # the job sheet has 70/90/70, 15 deg, pressure firm; two strokes; a flash of 6 s, dry right through
        ({"squeegee": "75 · square"}, "squeegee", "75 · square, 15°, pressure firm"),
        ({"angle": "10 deg"}, "squeegee", "70/90/70 Shore A, 10°, pressure firm"),
        ({"pressure": "4 bar", "speed": "mark 3"}, "squeegee", "70/90/70 Shore A, 15°, pressure 4 bar, speed mark 3"),
        ({"flood": "hard"}, "strokes", "2 strokes, flood hard"),
        ({"strokes": "1"}, "strokes", "1 stroke, flood light"),
        ({"pressure": "4 bar"}, "note", "Four hours at most."),
        ({"additives": "1 % retarder"}, "note", "Four hours at most. · Additives: 1 % retarder"),
        ({"order": "3"}, "note", "Four hours at most. · Position: 3"),
    ],
)
def test_what_an_approved_run_set_takes_the_place_of_that_alone(
    otherwise: dict[str, str], field: str, said: str
) -> None:
    first, *rest = a_job().to_dict()["placement"][0]["station"]
    first |= {"note": "Four hours at most.", "flood": "light"}
    job = a_job(placement=[{**a_job().to_dict()["placement"][0], "station": [first, *rest]}])
    row, flash, _green = job_ticket(
        job, "7K32XM", MIDDLE, targets={"Full front": {"1": otherwise, "2": {"time": "8 s"}}}
    ).placements[0].stations  # fmt: skip
    assert getattr(row, field) == said
    assert flash.flash == "8 s, dry right through"


def test_cautions_stand_where_the_risk_is() -> None:
    # formaldehyde and infants' wear: 29 CFR 1910.1048; EU REACH Annex XVII entry 72 and others (limits differ)
    discharge = " ".join(job_ticket(a_job(), "7K32XM", MIDDLE).cautions)
    assert "formaldehyde" in discharge and "Infants" not in discharge
    infants = a_job(
        garment=[{"style": "Heavy tee", "colour": "navy", "pieces": 6, "fibre": {"cotton": 100}, "infant": True}]
    )
    assert "Infants" in " ".join(job_ticket(infants, "7K32XM", MIDDLE).cautions)
    plain = a_job(
        colourway=[],
        placement=[
            {
                "name": "Front",
                "width": "300 mm",
                "station": [{"does": "print", "colour": "white", "ink": "plastisol", "mesh": {"count": "156/in"}}],
            }
        ],
    )
    cautions = " ".join(job_ticket(plain, "7K32XM", MIDDLE).cautions)
    assert "formaldehyde" not in cautions and "Flash and dryer" in cautions and "flash point" in cautions
    assert cautions.endswith("for who holds the licence.") and "safety data sheet and local rules" in cautions
    turned = a_job(
        placement=[
            {
                "name": "Front",
                "width": "300 mm",
                "station": [{"does": "print", "colour": "reed green", "ink": "plastisol", "mesh": {"count": "156/in"}}],
            }
        ],
        colourway=[{"garment": {"style": "Heavy tee", "colour": "navy"}, "inks": {"reed green": {"ink": "discharge"}}}],
    )
    assert "formaldehyde" in " ".join(job_ticket(turned, "7K32XM", MIDDLE).cautions)


def test_a_discharge_job_always_says_that_the_dye_lot_moves_the_colour() -> None:
    assert sum("dye lot" in remark for remark in job_ticket(a_job(), "7K32XM", MIDDLE).remarks) == 1
    assert job_ticket(a_job(), "7K32XM", MIDDLE, remarks=["Mine."]).remarks == ("Mine.",)


# -- setting text ---------------------------------------------------------------------------------------------------


@given(st.text(st.characters(codec="utf-8"), max_size=200), st.floats(8, 100), st.floats(5, 20))
def test_wrapped_text_fits_and_loses_nothing(text: str, room: float, size: float) -> None:
    from tickets.paper.page import plain

    lines = wrap(text, size, room)
    assert all(width(line, size) <= room for line in lines)
    assert "".join(lines).replace(" ", "") == plain(text).replace(" ", "")
    assert all(width(line, least) <= room + 1e-6 for line, least in [fit(text, room, size, 5)])


def test_a_number_stays_with_its_unit() -> None:
    assert wrap("press 12 mm", 10, width("press 12", 10) + 0.1) == ["press", "12 mm"]
    assert cut("abcdef", 10, width("abc…", 10) + 0.01) == "abc…"


def test_pages_hold_what_was_drawn_where_it_was_drawn() -> None:
    """The record that other tests rely on agrees with the pixels."""
    pages = Pages("t", "s")
    pages.new(100, 50)
    pages.text(10, 30, "HHH", 40)
    [drawn] = pages.drawn
    [page] = rendered(pages.finish())
    rows, columns = numpy.nonzero(page < 128)
    assert columns.min() * PX == pytest.approx(drawn.left, abs=1.5) and columns.max() * PX <= drawn.right
    assert rows.max() * PX == pytest.approx(30, abs=0.2)
    assert (rows.max() - rows.min()) * PX == pytest.approx(0.714 * 40 * 25.4 / 72, abs=0.2)
