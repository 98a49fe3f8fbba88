"""Bold type is wider than the regular face: whatever is wrapped or shrunk is measured by its own widths."""

from __future__ import annotations

from dataclasses import replace

from test_customer_sheet import sheet as customers_sheet
from test_paper import overlaps
from test_paper_heavy import heavy_sheet, heavy_ticket

from tickets.paper.customer import draw_customer
from tickets.paper.flow import PAD, SIDE, cell
from tickets.paper.job import draw_job
from tickets.paper.page import width
from tickets.paper.sheet import draw_setup

LONG = "Kite over the harbour wall, drawn in ten colours and printed on both sides, "


def test_bold_texts_end_at_the_margin_however_long_they_are() -> None:
    order = heavy_ticket(True)
    sheet = replace(order.placements[0], name=LONG * 3, changed=LONG * 5)
    ticket = replace(order, title=LONG * 4, art=LONG * 4, due=LONG * 2, placements=(sheet,), demo=True)
    ticket = replace(ticket, printed_on=LONG * 3)
    setup = replace(heavy_sheet(True), stops=(LONG * 6,), placement=sheet, press=LONG * 2)
    customer = replace(customers_sheet(off=True), lead=LONG * 6)
    drawn = (draw_job(ticket, "A4", None)[1], draw_setup(setup, "A4")[1], draw_customer(customer, "A4", None)[1])
    for pages, least in zip(drawn, (4, 4, 1), strict=True):  # the customer's is calm: its lead alone fills lines
        full = [one for one in pages.drawn if one.kind == "text" and one.right - one.left > 170]
        assert len(full) >= least and not overlaps(pages)
        assert max(one.right for one in pages.drawn if one.kind == "text") <= pages.sizes[0][0] - SIDE + 0.01
    texts = [one for one in drawn[0].drawn if one.kind == "text" and one.page == 0]
    code = next(one for one in texts if one.text == "8K32X-N")
    due = next(one for one in texts if one.top > 25 and one.left > code.right and abs(one.bottom - code.bottom) < 4)
    number = next(one for one in texts if one.text.startswith("Page "))
    foot = next(one for one in texts if one.left < 14 and abs(one.bottom - number.bottom) < 0.5)
    assert due.left >= code.right + 7.99 and number.left >= foot.right + 5.99


def test_a_bold_cell_keeps_clear_of_its_neighbour() -> None:
    for wide in (20.0, 33.3, 80.0):
        lines = cell(wide, (LONG * 2, 9.0, True))
        assert len(lines) > 2 and all(width(line.text, 9.0, bold=True) <= wide - 2 * PAD for line in lines)
    made = draw_setup(heavy_sheet(True), "A4")[1]
    notes = [one for one in made.drawn if one.text.startswith(("two turns up", "other: "))]
    assert notes and all(one.right <= 210 - SIDE - PAD + 0.01 for one in notes)
