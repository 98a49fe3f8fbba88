"""What papers say of one job that has everything, part by part, each empty part left out: read whole and checked by
hand against the job, the target and the log that they are made from."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from test_repeat import SPEC, measured
from test_two_runs import NOW, WAS
from whole import flat, same_as_read

from tickets.domain.jobs.job import Job, read
from tickets.domain.papers import customer_sheet as customer
from tickets.domain.papers import run_sheet
from tickets.domain.papers.ticket import (
    AssignedScreen,
    JobTicket,
    as_first,
    bucket_cautions,
    from_dict,
    job_ticket,
    to_dict,
)
from tickets.domain.runs import setup
from tickets.domain.runs.comparison import colours_of, compare, for_customer

BLADE = {"hardness": "70", "edge": "square", "angle": "15 deg", "length": "340 mm", "pressure": "dial 4", "speed": "2"}
WHITE = {
    "does": "print", "separation": "white base", "colour": "white", "ink": "discharge", "series": "White A",
    "reference": "Guide C 1", "mesh": {"count": "160/in", "thread": "64 um"}, "strokes": 2, "coverage": "35 %",
    "choke": "0.5 pt", "flood": "soft", "off_contact": "1.6 mm", "squeegee": BLADE, "flake": "60 um", "head": 3,
    "recipe": {"base": 940, "activator": 60.5}, "note": "fines fill in first",
}  # fmt: skip
FLASH = {"does": "flash", "time": "6 s", "surface": "105 degC", "head": 4, "note": "tacky"}
COOL = {"does": "cool", "time": "3 s"}
RED = {"does": "print", "colour": "red", "ink": "plastisol", "mesh": {"count": "230/in"}, "revolution": 2,
       "halftone": {"ruling": "45/in", "angle": "22.5 deg"}}  # fmt: skip


def whole_job(**more: Any) -> Job:
    """Two placements, two garments of which one takes other inks, a size without height, an artwork of its own."""
    order: dict[str, Any] = {
        "title": "Harbour crew tees", "customer": "Invented Rowing", "due": "2031-06-01", "reference": "PO 2291-B",
        "repeats": "PO 1107", "art": {"name": "Gull", "revision": "2"},
        "garment": [
            {"style": "Tee", "colour": "navy", "pieces": 100, "fibre": {"cotton": 90, "elastane": 10}, "lot": "L7"},
            {"style": "Bodysuit", "colour": "sand", "pieces": 12, "fibre": {"cotton": 100}, "infant": True},
        ],
        "colourway": [{"garment": {"style": "Bodysuit", "colour": "sand"},
                       "inks": {"white base": False, "red": {"colour": "orange", "ink": "water-base"}}}],
        "placement": [
            {"name": "Front", "width": "300 mm", "height": "250 mm", "from": "From 75 mm below the collar seam",
             "platen": "standard", "station": [WHITE, FLASH, COOL, RED],
             "dryer": {"belt_speed": "1.2 m/min", "set": "180 degC", "garment_peak": "160 degC", "hold": "90 s"}},
            {"name": "Sleeve", "width": "4 in", "art": {"name": "Oar", "revision": "5"}, "from": "80 mm",
             "station": [RED]},
        ],
    }  # fmt: skip
    return read({**order, **more})


TARGET = {
    "1": {"squeegee": "75 · round", "angle": "20 deg", "strokes": "3", "flood": "hard", "off_contact": "1.8 mm",
          "ink": "white · discharge · White B", "recipe": "base 900 g, activator 100 g", "note": "mind the edge",
          "hardness_measured": "73", "additives": "2 % retarder", "off_contact_measured": "1.9 mm"},
    "2": {"time": "7 s", "surface": "105 degC", "surface_feel": "dry", "time_cold": "9 s"},
    "3": {"time": "3 s"},
    "4": {"strokes": "1", "squeegee": "65", "bucket": "K7", "note": "soft"},
    "run": {"placement": "from 80 mm below the collar seam", "platen": "wide", "garment_peak": "165 degC",
            "belt": "B", "adhesive": "web spray"},
}  # fmt: skip


def ticket(order: Job | None = None, **more: Any) -> JobTicket:
    return job_ticket(order or whole_job(), "7K32XM", "http://192.168.1.20:8600", **more)


def again(order: Job | None = None) -> JobTicket:
    """The ticket of the repeat: with the target of the approved run and all that was known of it."""
    order = order or whole_job()
    front, white = order.placements[0], order.placements[0].stations[0]
    return ticket(
        order, shop="Gull & Anchor", demo=True, version="2", due="Mon 2 June", repeats="7K32X-M", printed_on="1 May",
        picture="gull.png", remarks=["one", "two", "one"], first=["wash test", "wash test"],
        targets={"Front": TARGET},
        where_from={"Front": "approved run 12"}, changed={("Front", 0): "platen", ("Front", 1): "strokes"},
        colours={("Front", 1): "L* 92"}, notes={"mind the edge": 9}, needs={("Front", 4): "load 330 g"},
        screens={order.separation(front, white).key: [AssignedScreen(code="8K32XN", mark="A 1", stage="ready")]},
    )  # fmt: skip


def test_the_ticket_of_a_first_order() -> None:
    same_as_read("ticket_first", flat(ticket(due="")))


def test_the_ticket_of_a_repeat() -> None:
    same_as_read("ticket_again", flat(again()))


def test_a_ticket_is_kept_as_it_is_and_can_be_as_that_of_a_first_order() -> None:
    one = again()
    assert from_dict(to_dict(one)) == one
    first = as_first(whole_job(), one)
    assert first.placements == ticket().placements and first.where_from == one.where_from == ""
    assert replace(first, placements=()) == replace(one, placements=())


def test_a_target_that_says_what_the_job_says_changes_nothing_on_the_ticket() -> None:
    aim = setup.of_job(whole_job().placements[0])
    assert ticket(targets={"Front": aim}).placements == ticket().placements


def test_a_bucket_says_the_cautions_of_what_is_in_it() -> None:
    found = {kind: bucket_cautions(kind) for kind in ("Dual-cure emulsion", "Discharge ink", "plastisol ink")}
    same_as_read("bucket_cautions", flat(found))


def set_up(**more: Any) -> run_sheet.SetupSheet:
    order = whole_job()
    made = again(order)
    given: dict[str, Any] = {"run": "14", "press": "Press 2", "target": TARGET, "where_from": "approved run 12"}
    return run_sheet.setup_sheet(made, order.placements[0], made.placements[0], **{**given, **more})


def test_the_set_up_sheet_as_it_goes_to_the_press() -> None:
    same_as_read("set_up_blank", flat(replace(set_up(), job=None)))  # type: ignore[arg-type]


def test_the_set_up_sheet_with_all_that_was_noted() -> None:
    noted = measured({
        "stations": {
            "1": {"squeegee": "75 · round", "strokes": "2", "bucket": "K9", "ink_lot": "W-1", "order": "2",
                  "off_contact_measured": "1.95 mm", "mist": "fine", "hardness_measured": "70"},
            "2": {"time": "7.1 s", "head": "5"}, "4": {"bucket": "K7 · R-2", "ink_lot": "R-2", "angle": "10 deg"},
        },
        "run": {"platen": "wide", "garment_peak": "165 degC", "garment_lot.Tee, navy": "L8"},
    })  # fmt: skip
    noted["measured"] = {"1": {"off_contact_measured": {"who": "Vera"}}}
    found = set_up(
        as_run=noted, screens={1: "8K32X-N"}, heads={1: 3, 2: 4, 3: None}, approved="Vera Lind (customer)",
        how="photo",
        remarks=["r"], changed={1: ["then 3"]}, sample="shelf 2", changes=["c"], measured=["m"], stops=["s"],
        colours={4: "L* 45"}, inks={"discharge"}, over=True, notes={"mind the edge": 9},
        read_again={"1": {"strokes": "2, then 3"}},
    )  # fmt: skip
    same_as_read("set_up_noted", flat(replace(found, job=None)))  # type: ignore[arg-type]


def test_the_comparison_on_paper() -> None:
    lines = compare(WAS, NOW, SPEC)
    found = run_sheet.comparison_sheet(ticket(WAS.job), WAS, NOW, "Beside run 1.", lines, remarks=["r"])
    same_as_read("comparison", flat(replace(found, job=None)))  # type: ignore[arg-type]


def coloured(*labs: dict[str, list[float]], day: str = "") -> list[Any]:
    runs = [WAS, NOW]
    approved = [
        {**(run.approved or {}), "lab_conditions": "D50, 2°, M1", "lab": lab}
        for run, lab in zip(runs, labs, strict=True)
    ]
    return [replace(run, approved=one, day=day or run.day) for run, one in zip(runs, approved, strict=True)]


def test_the_customers_sheet() -> None:
    a, b = coloured({"1": [92, 0, 2], "3": [45, 60, 35]}, {"1": [92, 0.2, 2.4], "2": [50, 50, 25]}, day="3 Jan")
    b, first = replace(b, day="2 Feb"), coloured({"1": [85, 0, 2], "3": [45, 60, 35]}, {}, day="1 Dec")[0]
    first = replace(first, run=9)
    lines = compare(a, b, SPEC, first=first)
    found = customer.customer_sheet(
        ticket(b.job), a, b, "Beside run 1.", for_customer(lines, a, b), colours_of(a, b, SPEC),
        remarks=["r"], art="gull.png", photo="p.jpg", good={"Heavy tee, navy": 90},
    )  # fmt: skip
    same_as_read("customer", flat(replace(found, job=None)))  # type: ignore[arg-type]


def test_the_customers_sheet_of_a_first_print() -> None:
    a, _b = coloured({"1": [92, 0, 2]}, {}, day="3 Jan")
    found = customer.first_sheet(ticket(a.job), a, art="gull.png")
    same_as_read("customer_first", flat(replace(found, job=None)))  # type: ignore[arg-type]
