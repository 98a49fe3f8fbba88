"""A job in a minute: few fields, its print order as a grid that rows of a spreadsheet are pasted into."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
import shop as shops
from flask.testing import FlaskClient
from shop import Shop, answered, fresh, said, two_colours

from tickets.actions import printing
from tickets.queries import find
from tickets.store import printed
from web.quick import QuickJob, pasted

OWN = {
    "customer": "Meadow Kite Club", "title": "Box kites", "due": "2026-03-20", "pieces": "40",
    "placement": "Full front", "width": "300 mm", "per": "/in", "garment": "",
}  # fmt: skip
ROWS = 'white\tplastisol\t156\t64\nflash\t6 s\nred\t"\t230\t48 um\n'


@pytest.fixture
def lead(client: FlaskClient) -> FlaskClient:
    return shops.signed_in(client, "Cy Marsh")


def cells(text: str) -> dict[str, list[str]]:
    """Rows as the grid sends them."""
    rows = pasted(text)
    return {name: [row[at] for row in rows] for at, name in enumerate(("colour", "ink", "mesh", "thread"))}


def post(phone: FlaskClient, rows: str = ROWS, **more: Any) -> Any:
    return phone.post("/jobs/quick", data={**OWN, **cells(rows), "entry": fresh(), "act": "save", **more})


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("a\tb\tc\td\te\r\n\r\n f \tg", [("a", "b", "c", "d"), ("f", "g", "", "")]),
        ("a;b", [("a", "b", "", "")]),
        ("a;b\tc", [("a;b", "c", "", "")]),
        ("\n \n", []),
    ],
)
def test_rows_of_a_spreadsheet(text: str, rows: list[tuple[str, ...]]) -> None:
    assert pasted(text) == rows


def test_a_cell_is_as_the_one_above_in_the_last_row_that_says_something() -> None:
    typed = QuickJob(rows=[("white", "plastisol", "156", ""), ("", "", "", ""), ("red", '"', "”", "48")])
    assert typed.filled[1] == ("red", "plastisol", "156", "48")


def test_a_width_without_a_unit_is_of_the_units_that_the_form_was_drawn_in(lead: FlaskClient, shop: Shop) -> None:
    """Its reader may have chosen others since; a form that comes back keeps those that it had."""
    assert '<input type="hidden" name="units" value="metric">' in lead.get("/jobs/quick").text
    back = post(lead, width="12", units="us", due="soon")
    assert back.status_code == 422 and '<input type="hidden" name="units" value="us">' in back.text
    code = post(lead, width="12", units="us").location.split("/")[2].partition("?")[0]
    assert find.job(shop.db, code).sheet.placements[0].width_mm == pytest.approx(304.8)


def test_a_job_is_entered_and_what_is_not_known_stays_open(lead: FlaskClient, shop: Shop) -> None:
    answer = post(lead)
    assert answer.status_code == 303, said(answer.text)
    code = answer.location.split("/")[2].partition("?")[0]
    sheet = find.job(shop.db, code).sheet
    (placement,) = sheet.placements
    stations = [(one.does, one.colour, one.ink) for one in placement.stations]
    assert stations == [("print", "white", "plastisol"), ("flash", "", ""), ("print", "red", "plastisol")]
    meshes = [(one.mesh.count_as_labelled, one.mesh.thread_um) for one in placement.printing if one.mesh]
    assert meshes == [("156/in", 64), ("230/in", 48)]
    assert (sheet.art.name, sheet.art.revision, sheet.pieces, placement.width_mm) == ("Box kites", "1", 40, 300)
    assert sheet.garments[0].fibre == {"not known yet": 100} and sheet.garments[0].style == "not known yet"
    page = said(lead.get(answer.location).text)
    assert "Open still: the fibre of its garment." in page and "how hot it may get, and whether its dye moves" in page
    discharge = post(lead, rows="white\tdischarge\t156", title="Owls", garment="heavy tee, black")
    remarks = said(lead.get(discharge.location).text)
    assert "nobody can tell from “not known yet” how much of it discharges" in remarks


def test_what_is_wrong_stands_at_its_cell_and_what_was_typed_stays(lead: FlaskClient) -> None:
    answer = post(lead, rows="white\tplastisol\t156\n\tplastisol\t230\nred\tgravy\t", pieces="many", customer="")
    assert answer.status_code == 422
    wrong = set(re.findall(r'<input id="([^"]+)"[^>]*aria-invalid', answer.text))
    assert wrong == {"customer", "pieces", "row[2].colour", "row[3].ink", "row[3].mesh"}
    assert 'value="gravy"' in answer.text and 'value="many"' in answer.text
    blank = post(lead, rows="")
    assert blank.status_code == 422 and 'id="row[1].colour"' in blank.text and "This is needed." in blank.text


def test_rows_are_pasted_and_copied_without_scripts_and_nothing_is_saved(lead: FlaskClient, shop: Shop) -> None:
    page = post(lead, rows="white\tplastisol\t156", act="paste", pasted="red\tplastisol\t230").text
    assert re.findall(r'name="colour"[^>]*value="(\w+)"', page) == ["white", "red"]
    page = post(lead, rows="white\tplastisol\t156\nred", act="down:2").text
    assert re.findall(r'name="mesh"[^>]*value="(\w+)"', page) == ["156", "156"]
    assert "Nothing is missing" in said(post(lead, act="read").text)
    assert post(lead, rows="", act="read").status_code == 422
    assert shop.db.execute("SELECT count(*) FROM jobs").fetchone()[0] == 0


def test_a_job_before_is_copied_without_its_press_date(lead: FlaskClient, shop: Shop) -> None:
    job = shop.job()
    page = lead.get(f"/jobs/quick?from={job.code}").text
    values = dict(re.findall(r'<input id="(\w+)"[^>]*value="([^"]*)"', page))
    assert (values["title"], values["customer"], values["due"]) == ("Kite club tees", "Meadow Kite Club", "")
    assert re.findall(r'name="colour"[^>]*value="(\w+)"', page) == ["white", "flash", "blue"]
    assert 'value="156/in"' in page and "Copy into a new job" in lead.get(f"/jobs/{job.code}").text
    assert lead.get("/jobs/quick?from=nothing").status_code == 404


def test_twice_is_asked_and_a_saved_post_makes_no_second_job(lead: FlaskClient, shop: Shop) -> None:
    first = post(lead)
    again = post(lead)
    assert again.status_code == 409 and "a second time" in again.text
    assert post(lead, twice="yes").location != first.location


def test_the_grid_in_a_browser(phone: Any, sign_in_page: Any, shop: Shop) -> None:
    sign_in_page(phone, "Cy Marsh")
    phone.goto("/jobs/quick")
    for name, text in OWN.items():
        if name not in ("per", "garment"):
            phone.fill(f"#{name}", text)
    phone.get_by_text("mesh counts per inch").click()
    first = phone.locator("input[name=colour]").first
    first.focus()
    phone.evaluate(
        """text => {
            const data = new DataTransfer(), more = {clipboardData: data, bubbles: true, cancelable: true};
            data.setData("text/plain", text);
            document.activeElement.dispatchEvent(new ClipboardEvent("paste", more));
        }""",
        "white\tplastisol\t156\t64\nred\tplastisol\t230\t48\n",
    )
    values = "document.querySelectorAll('[name=colour]')"
    assert phone.evaluate(f"[...{values}].slice(0, 3).map(one => one.value)") == ["white", "red", ""]
    for _time in range(6):
        phone.keyboard.press("Enter")
    assert phone.evaluate(f"[...{values}].indexOf(document.activeElement)") == 6  # a seventh row was made
    phone.locator("input[name=ink]").nth(2).focus()
    phone.keyboard.press("Control+d")
    phone.locator("input[name=colour]").nth(2).fill("green")
    phone.locator("tbody button").nth(2).click()  # the fourth row as the third
    assert (
        phone.evaluate("[...document.querySelectorAll('[name=ink]')].slice(0, 4).map(one => one.value)")
        == ["plastisol"] * 4
    )
    phone.locator("input[name=mesh]").nth(2).fill("120")
    phone.locator("input[name=colour]").nth(3).fill("")
    phone.locator("input[name=ink]").nth(3).fill("")
    with answered(phone):
        phone.locator("button.primary").click()
    assert "The job is entered." in phone.locator("main").inner_text()
    assert phone.evaluate("document.documentElement.scrollWidth") <= 360


def test_several_tickets_are_one_pdf_each_with_its_own_pages(
    lead: FlaskClient, shop: Shop, folder: Path, tmp_path: Path
) -> None:
    codes = [shop.job(two_colours(title, art={"name": title, "revision": "1"})).code for title in ("Kites", "Owls")]
    page = lead.get(f"/print/jobs?codes={','.join(codes)}").text
    assert "Print 2 job tickets" in page and codes[1] in page
    assert f"/print/jobs?codes={','.join(codes)}" in lead.get("/jobs").text
    assert f"/print/jobs?codes={','.join(codes)}" in lead.get("/week").text
    made = lead.post("/print/jobs", data={"codes": " ".join(codes), "paper": "A4", "anyway": "yes"})
    assert made.mimetype == "application/pdf" and 'filename="jobs-2.pdf"' in made.headers["Content-Disposition"]
    told = [one.get_textpage().get_text_range() for one in pypdfium2.PdfDocument(made.data)]
    assert ["Kites" in told[0], "Owls" in told[1], len(told)] == [True, True, 2]
    assert all("Page 1 of 1" in one for one in told)
    assert [len(printed.of(shop.db, code)) for code in codes] == [1, 1]
    one = printing.print_job(shop.db, shop.lead, codes[0], now=shop.now, anyway=True)
    alone = printing.print_jobs(shop.db, shop.lead, [codes[0], codes[0]], now=shop.now, anyway=True)
    assert one.pdf == alone.pdf
    wrong = lead.post("/print/jobs", data={"codes": f"{codes[0]}, nothing", "paper": "A4", "anyway": "yes"})
    assert wrong.status_code == 422 and "nothing" in said(wrong.text)
    none = lead.post("/print/jobs", data={"codes": "", "paper": "A4", "anyway": "yes"})
    assert none.status_code == 422 and "From 1 to 40 jobs at once" in none.text
    out = shops.commands(folder)("print", "job", *codes, "--out", tmp_path / "two.pdf", "--anyway")
    assert out.exit_code == 0 and len(pypdfium2.PdfDocument(tmp_path / "two.pdf")) == 2
