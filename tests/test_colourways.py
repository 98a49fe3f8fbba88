"""A job of garments whose inks differ: each has its inks, lots, readings, approval and counts; what a garment doesn't
take stands idle. White, a flash and blue: black takes all, stone takes no white, sand takes orange for the blue."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import datetime
from typing import Any

import pypdfium2
import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient
from shop import Shop, clock, fresh, two_colours
from sqlite_utils import Database
from test_web_runs import hang_both, post, story, text_of

from tickets import cli
from tickets.actions import printing
from tickets.domain.code import shown
from tickets.domain.jobs import colourways
from tickets.domain.jobs.job import read
from tickets.queries import at_press, colour, find, repeats, run_plan, sheets, sound, target, tickets, trace
from tickets.store import entries, jobs, runs

SignIn = Callable[[FlaskClient, str], FlaskClient]
TEE = {"style": "Heavy tee", "fibre": {"cotton": 100}}
GARMENTS = [{**TEE, "colour": one, "pieces": pieces} for one, pieces in (("black", 120), ("stone", 80), ("sand", 30))]
WAYS = [
    {"garment": {"style": "Heavy tee", "colour": "stone"}, "inks": {"white": False}},
    {"garment": {"style": "Heavy tee", "colour": "sand"}, "inks": {"blue": {"colour": "orange"}}},
]
BLACK, STONE, SAND = "Heavy tee, black", "Heavy tee, stone", "Heavy tee, sand"
UNDER = "D50, 2°, M1, bench meter"
APPROVED = {"approved_by": "Cy Marsh", "approved_as": "press"}


def test_a_print_of_which_nobody_said_the_garment_is_like_none_of_several() -> None:
    """Of one approved print it is; of two or three nobody can say which."""
    order = read(two_colours(garment=GARMENTS))
    approvals = {BLACK: {"at": "2026-03-01"}, STONE: {"at": "2026-03-02"}, SAND: {"at": "2026-03-03"}}
    found = [colourways.like(dict([*approvals.items()][:number]), order, order, "") for number in (1, 2, 3)]
    assert found == [BLACK, None, None]


@pytest.mark.parametrize(("then", "now", "garment", "like"), [
    ([0], [0], BLACK, ""),  # the only one of both
    ([0], [1], STONE, ""),  # the only one of each: an ink decides, not another garment's later approval
    ([0, 1], [2], SAND, ""), ([0, 1], [1, 2], SAND, ""),  # of any of several
    ([0], [0, 1], STONE, None),  # it was of black, the only one there was
    ([0], [0, 1], BLACK, ""),
])  # fmt: skip
def test_an_approval_that_names_no_garment(then: list[int], now: list[int], garment: str, like: str | None) -> None:
    was, job = (read(two_colours(garment=[GARMENTS[one] for one in ones])) for ones in (then, now))
    approvals = {"": {"at": "2026-03-01"}, "Smock, ecru": {"at": "2026-03-02"}}
    assert colourways.like(approvals, was, job, garment) == like


@pytest.fixture
def lead(client: FlaskClient, sign_in: SignIn) -> FlaskClient:
    """The press lead's phone."""
    return sign_in(client, "Cy Marsh")


@pytest.fixture
def job(shop: Shop) -> jobs.Saved:
    return shop.job(garment=GARMENTS, colourway=WAYS)


def pdf_text(data: bytes) -> str:
    """What stands on the pages of a PDF, in one line."""
    document = pypdfium2.PdfDocument(data)
    found = " ".join(page.get_textpage().get_text_range() for page in document)
    document.close()
    return " ".join(found.split())


def ok(answer: Any) -> None:
    assert answer.status_code == 303, text_of(answer.text)


def now() -> datetime:
    return clock()


def plan(db: Database, run: int) -> run_plan.Plan:
    return run_plan.plan(db, run)


# What stands idle


@pytest.mark.parametrize(
    "order, prints, idle",
    [
        ("W f B", "B", "Wf"),  # white and the flash behind it
        ("W f B", "WB", ""),
        ("W f B", "W", "fB"),  # nothing comes after the flash
        ("W f B f R", "WR", "Bf2"),  # the second one served blue alone
        ("W f B f R", "BR", "Wf1"),
        ("W B f R", "BR", "W"),  # the flash serves blue too
        ("W f c B", "B", "Wfc"),  # and what cools behind the flash
        ("W f B f", "W", "Bf1f2"),  # nothing comes after the first one, the last one served blue alone
        ("W f B f", "B", "Wf1"),  # the last one serves the print as ever
    ],
)
def test_what_stands_idle(order: str, prints: str, idle: str) -> None:
    does = {"f": {"does": "flash", "time": "6 s"}, "c": {"does": "cool", "time": "3 s"}}
    names = {"W": "white", "B": "blue", "R": "red"}
    prints_ = {"does": "print", "ink": "plastisol", "mesh": {"count": "156/in"}}
    stations = [does.get(one) or {**prints_, "colour": names[one]} for one in order.split()]
    sheet = {
        "title": "Kites", "customer": "Meadow Kite Club", "due": "2026-12-01", "art": {"name": "Kite", "revision": "1"},
        "garment": [{**TEE, "colour": "black", "pieces": 5}],
        "placement": [{"name": "Front", "width": "300 mm", "station": stations}],
    }  # fmt: skip
    placement = read(sheet, stored=True).placements[0]
    numbers: dict[str, list[int]] = {}
    for number, one in enumerate(order.split(), 1):
        numbers.setdefault(one, []).append(number)
    expected, left = set(), idle
    while left:
        if left[1:2].isdigit():
            expected.add(numbers[left[0]][int(left[1]) - 1])
            left = left[2:]
        else:
            expected |= set(numbers[left[0]])
            left = left[1:]
    assert colourways.idle(placement, {numbers[one][0] for one in prints}) == expected


def test_an_idle_head_and_its_flash_are_marked_and_asked_nothing(
    lead: FlaskClient, shop: Shop, job: jobs.Saved
) -> None:
    run, _white, _blue = hang_both(lead, shop, job)
    ok(post(lead, run, "change", what="colourway", garment="2"))
    page = lead.get(f"/runs/{run}").text
    said = text_of(page)
    assert f"idle on {STONE}: not printed" in said and f"idle on {STONE}: what it is for is not printed" in said
    assert 'name="s3.squeegee"' in page and 'name="s1.' not in page and 'name="s2.' not in page
    assert 'name="lab.3"' in page and 'name="lab.1"' not in page
    ok(post(lead, run, "sheet", **{"s3.ink_lot": "B-1"}))
    assert run_plan.open_parts(plan(shop.db, run)) == [] and "1" not in story(shop.db, run).settings
    refused = post(lead, run, "approve", **APPROVED, **{"lab.1": "90 0 0", "lab_conditions": UNDER})
    assert refused.status_code == 422 and "Nothing is printed there" in refused.text
    ok(post(lead, run, "approve", **APPROVED))
    assert "Changed from target" not in lead.get(f"/runs/{run}").text
    ok(post(lead, run, "change", what="colourway", garment="1"))
    page = lead.get(f"/runs/{run}").text
    assert 'name="s1.squeegee"' in page and "idle on" not in text_of(page), "white is to be noted now"
    assert run_plan.open_parts(plan(shop.db, run)) == ["1", "2"]
    assert sound.check(shop.db) == []


# Which colour is to be met


def test_the_ticket_says_each_garments_colour_and_nothing_is_judged_before_one_is_said(
    lead: FlaskClient, shop: Shop, db: Database
) -> None:
    """Black was read at L* 30, stone at 33, sand takes another ink at 65: nobody is told another garment's colour."""
    job = shop.job(garment=GARMENTS, colourway=WAYS)
    first = a_run(lead, shop, job, {"1": "30 5 -40", "3": "65 45 50", "2": "33 4 -41"})
    ok(post(lead, first, "finish", then="keep", uncounted="elsewhere"))
    ok(post(lead, first, "use-next-time"))
    again = shop.job(garment=GARMENTS, colourway=WAYS, repeats=job.code)
    told = tickets.job_ticket(db, again, "http://192.0.2.7:8600", now()).placements[0].stations[2].to_meet
    for name, light in ((BLACK, "L* 30.0"), (STONE, "L* 33.0"), (SAND, "L* 65.0")):
        assert f"{name}: {light}" in told
    run, _white, _blue = hang_both(lead, shop, again)
    ok(post(lead, run, "sheet"))
    ok(post(lead, run, "approve", **APPROVED, **{"lab.3": "33 4 -41", "lab_conditions": UNDER}))
    assert [one.key for one in colour.speaks(db, again, runs.get(db, run))] == ["print-colour-unknown"], "which one?"
    same = shop.job(garment=GARMENTS[:2], repeats=job.code)
    told = tickets.job_ticket(db, same, "http://192.0.2.7:8600", now()).placements[0].stations[2].to_meet
    assert f"{STONE}: L* 33.0" in told and SAND not in told


# The customer's sheet of a first order


def test_the_customer_of_a_first_order_gets_what_was_printed(
    lead: FlaskClient, shop: Shop, job: jobs.Saved, db: Database
) -> None:
    """Nothing to compare with: artwork, colours with their readings, garments, who approved; none of the shop's own."""
    run, white, _blue = hang_both(lead, shop, job)
    link = f"/print/run/{run}?what=customer"
    assert link not in lead.get(f"/runs/{run}").text
    refused = lead.post(f"/print/run/{run}", data={"what": "customer"})
    assert refused.status_code == 422 and "is not approved yet" in refused.text
    noted = {"s3.ink_lot": "B-77", "s3.recipe": "blue 900 g, base 100 g", "run.platen": "adult", "s3.note": "mind it"}
    ok(post(lead, run, "sheet", garment="1", **noted))
    ok(post(lead, run, "approve", **APPROVED, **{"lab.3": "30 5 -40", "lab_conditions": UNDER}))
    ok(post(lead, run, "start"))
    ok(post(lead, run, "count", good="40"))
    assert link in lead.get(f"/runs/{run}").text and link in lead.get(f"/runs/{run}/comparison").text
    made = lead.post(f"/print/run/{run}", data={"what": "customer"})
    assert made.status_code == 200
    told = pdf_text(made.data)
    for wanted in ("What was printed, as it was approved", "Heavy tee, black, 100 % cotton: 40 printed, 120 ordered",
                   "Heavy tee, stone, 100 % cotton: 0 printed, 80 ordered", "Box kite, revision 2", "Full front",
                   "by the shop, 20", "L* 30.0", "not measured", f"Read on: {BLACK}", "plastisol"):  # fmt: skip
        assert wanted in told, wanted
    own = ("What changed", "Nothing that", "is the same", "Difference", "B-77", "900", "adult", "mind it", "Cy Marsh")
    rest = told.replace("0 is the same", "")  # of ΔE00
    assert not [word for word in (*own, shown(white)) if word in rest]
    folder = str(next(db.query("PRAGMA database_list"))["file"]).rsplit("/", 1)[0]
    out = f"{folder}/first.pdf"
    sent = ["print", "run", str(run), "--what", "customer", "--out", out, "--data", folder]
    assert CliRunner().invoke(cli.root, sent).exit_code == 0
    with open(out, "rb") as file:
        assert pdf_text(file.read()) == told


def test_the_ink_on_the_customers_sheet_is_the_garments_own(lead: FlaskClient, shop: Shop, job: jobs.Saved) -> None:
    run = a_run(lead, shop, job, {"3": "65 45 50"})
    told = pdf_text(lead.post(f"/print/run/{run}", data={"what": "customer"}).data)
    assert "orange, plastisol" in told and "L* 65.0" in told
    assert "120 ordered" in told and "0 printed" not in told, "nothing is counted yet"


# A first print of its own


def test_each_garment_asks_for_a_first_print_of_its_own(
    lead: FlaskClient, shop: Shop, job: jobs.Saved, db: Database
) -> None:
    run, _white, _blue = hang_both(lead, shop, job)
    ok(post(lead, run, "sheet", **{"s1.ink_lot": "W-1", "s3.ink_lot": "B-1"}))
    assert "On which garment is it?" in lead.get(f"/runs/{run}").text
    read = {"lab.3": "30 5 -40", "lab_conditions": UNDER}
    ok(post(lead, run, "approve", **APPROVED, garment="1", sample="drawer 3", **read))
    ok(post(lead, run, "start"))
    ok(post(lead, run, "change", what="colourway", garment="3", good="120", misprinted="2"))
    assert at_press.going(db, plan(db, run), now()).keys == ("again-garment",)
    assert post(lead, run, "count", good="5").status_code == 409
    ok(post(lead, run, "approve", **APPROVED))
    assert at_press.going(db, plan(db, run), now()).reasons == ()
    found = story(db, run)
    assert set(found.approvals) == {BLACK, SAND} and "lab" not in found.approvals[SAND]
    assert found.approvals[BLACK]["sample"] == "drawer 3" and "sample" not in found.approvals[SAND]
    ok(post(lead, run, "count", good="30", misprinted="1"))
    ok(post(lead, run, "change", what="colourway", garment="1"))
    assert at_press.going(db, plan(db, run), now()).reasons == (), "black has its own, and nothing changed"
    page = text_of(lead.get(f"/runs/{run}").text)
    assert "Heavy tee, black 120/120 (2 misprinted)" in page and "Heavy tee, sand 30/30 (1 misprinted)" in page
    assert f"{BLACK}: First print approved by" in page and f"{SAND}: First print approved by" in page
    assert sound.check(db) == []


def test_another_ink_there_is_another_pot(lead: FlaskClient, shop: Shop, job: jobs.Saved, db: Database) -> None:
    run, _white, _blue = hang_both(lead, shop, job)
    lots = {f"run.garment_lot.{number}": f"G-{number}" for number in (1, 2)}
    blue = {"s1.ink_lot": "W-1", "s3.ink_lot": "B-1", "s3.recipe": "blue 900 g, base 100 g"}
    ok(post(lead, run, "sheet", garment="1", **blue, **lots))
    ok(post(lead, run, "approve", **APPROVED))
    ok(post(lead, run, "start"))
    ok(post(lead, run, "change", what="colourway", garment="3", good="120"))
    settings = story(db, run).settings
    assert settings["1"]["ink_lot"] == "W-1" and not {"ink_lot", "recipe"} & set(settings["3"])
    assert settings["3"]["ink"].startswith("orange")
    assert settings["run"] == {**settings["run"], f"garment_lot.{BLACK}": "G-1", f"garment_lot.{STONE}": "G-2"}
    ok(post(lead, run, "sheet", **{"s3.ink_lot": "O-1", "run.garment_lot": "G-3"}))
    assert story(db, run).settings["run"][f"garment_lot.{SAND}"] == "G-3"
    ok(post(lead, run, "approve", **APPROVED))
    ok(post(lead, run, "count", good="30"))
    ok(post(lead, run, "change", what="colourway", garment="2"))
    assert story(db, run).settings["3"]["ink_lot"] == "B-1", "stone takes the blue of before"
    ok(post(lead, run, "approve", **APPROVED))
    ok(post(lead, run, "finish", good="80", then="keep"))
    uses = {one.lot: one.good for one in trace.trace_job(db, job.id).inks}
    assert uses == {"W-1": 150, "B-1": 200, "O-1": 30, "G-1": 120, "G-2": 80, "G-3": 30}
    assert trace.trace_buckets(db, [], "W-1").pieces.good == 150
    page = text_of(lead.get("/desk/trace?lot=W-1").text)
    assert "150 good pieces, 0 misprinted" in page
    assert sound.check(db) == []


# Like against like


def a_run(lead: FlaskClient, shop: Shop, job: jobs.Saved, readings: dict[str, str], **sheet: str) -> int:
    """A run that prints garment after garment (by number), each approved with a reading of the blue's head."""
    run, _white, _blue = hang_both(lead, shop, job)
    for number, lab in readings.items():
        ok(post(lead, run, "change", what="colourway", garment=number))
        ok(post(lead, run, "sheet", **{f"s3.{name}": text.format(number) for name, text in sheet.items()}))
        ok(post(lead, run, "approve", **APPROVED, **{"lab.3": lab, "lab_conditions": UNDER}))
    return run


def test_a_repeat_is_held_against_the_same_garment(lead: FlaskClient, shop: Shop, db: Database) -> None:
    """Blue on black and stone, orange on sand: the orange of sand lies far from the blue that was read last."""
    job = shop.job(garment=GARMENTS, colourway=WAYS)
    read_then = {"1": "30 5 -40", "3": "65 45 50", "2": "33 4 -41"}
    first = a_run(lead, shop, job, read_then, squeegee="7{}", ink_lot="L-{}")
    ok(post(lead, first, "finish", then="keep", uncounted="elsewhere"))
    ok(post(lead, first, "use-next-time"))
    again = shop.job(garment=GARMENTS, colourway=WAYS, repeats=job.code)
    run, _white, _blue = hang_both(lead, shop, again)
    aims = {}
    for number, name in (("3", SAND), ("2", STONE), ("1", BLACK)):
        ok(post(lead, run, "change", what="colourway", garment=number))
        here = plan(db, run)
        met = target.against(db, here.job, 1, here.run).run
        aims[name] = colour.aims(db, here.job, 1, met, name)[3].lab.lightness
        aim, source = target.aim(db, here.job, 1, here.run)
        assert aim["3"]["squeegee"] == f"7{number}", source
        ok(post(lead, run, "sheet", **{"s3.squeegee": f"7{number}"}))
        ok(post(lead, run, "approve", **APPROVED, **{"lab.3": read_then[number], "lab_conditions": UNDER}))
        assert colour.speaks(db, here.job, runs.get(db, run)) == [], name
    assert aims == {SAND: 65, STONE: 33, BLACK: 30}
    for name, lightness in ((SAND, "65.0"), (STONE, "33.0"), (BLACK, "30.0")):
        found = repeats.compared(db, run, name)
        assert found is not None
        (line,) = [one for one in found.lines if one.what == "colour" and one.station == 3]
        assert line.a.startswith(lightness) and line.differs is False
        assert not [one for one in found.lines if one.what == "squeegee" and one.differs]
    ok(post(lead, run, "change", what="colourway", garment="3"))
    assert at_press.going(db, plan(db, run), now()).reasons == ()
    page = lead.get(f"/runs/{run}/comparison?garment=3").text
    assert "65.0" in page and SAND in page
    for garment, own, other in (("3", "65.0", "30.0"), ("1", "30.0", "65.0")):
        for what in ("customer", "comparison"):
            made = lead.post(f"/print/run/{run}", data={"what": what, "garment": garment, "anyway": "yes"})
            assert made.status_code == 200, text_of(made.text)
            said = "".join(one.get_textpage().get_text_bounded() for one in pypdfium2.PdfDocument(made.data))
            assert own in said and other not in said, (what, garment)
    approved = sheets.setup_of(db, run, "", now()).approved
    assert all(f"{name}: Cy Marsh (press crew)" in approved for name in (BLACK, STONE, SAND)), approved
    refused = lead.post(f"/print/run/{run}", data={"what": "customer", "garment": "9", "anyway": "yes"})
    assert refused.status_code == 422 and "There are: 1 " in text_of(refused.text)


def test_until_the_garment_is_said_each_ones_colour_is_to_be_met(
    lead: FlaskClient, shop: Shop, db: Database, phone: Any, sign_in_page: Any
) -> None:
    """Nobody has said yet what is printed: the form shows what each garment is to meet, and “Check” goes by the one
    that is chosen in the form, never by the one that was read last."""
    job = shop.job(garment=GARMENTS, colourway=WAYS)
    first = a_run(lead, shop, job, {"2": "33 4 -41", "3": "65 45 50", "1": "30 5 -40"}, ink_lot="L-{}")
    ok(post(lead, first, "finish", then="keep", uncounted="elsewhere"))
    ok(post(lead, first, "use-next-time"))
    again = shop.job(garment=GARMENTS, colourway=WAYS, repeats=job.code)
    run, _white, _blue = hang_both(lead, shop, again)
    ok(post(lead, run, "sheet", **{"s3.ink_lot": "L-9"}))
    form = text_of(lead.get(f"/runs/{run}").text)
    for lightness, name in (("30.0", BLACK), ("33.0", STONE), ("65.0", SAND)):
        assert re.search(rf"to meet: L\* {lightness}, a\* [^,]+, b\* [^,]+, run {first}, on {name}", form), name
    read = {"lab.3": "33 4 -41", "lab_conditions": UNDER}
    asked = post(lead, run, "approve", check="colour", **read)
    assert asked.status_code == 422 and "On which garment is it? The colours to meet" in text_of(asked.text)
    assert came_of(post(lead, run, "approve", check="colour", garment="2", **read).text).startswith("OK: 0.00")
    assert came_of(post(lead, run, "approve", check="colour", garment="1", **read).text).startswith("STOP:")
    page = text_of(post(lead, run, "approve", check="colour", garment="1", **read).text)
    assert "to meet: L* 30.0" in page and "to meet: L* 65.0" not in page, "what was chosen is all that is shown"
    sign_in_page(phone, "Cy Marsh")
    phone.goto(f"/runs/{run}")
    said = phone.locator('output[id="lab.3-came"]')
    phone.fill('input[name="lab.3"]', "33 4 -41")
    assert said.inner_text() == "", "nobody said on which garment it is"
    approval = phone.locator('form[action$="/approve"]')
    for number, level in (("2", "OK: 0.00"), ("1", "STOP:")):
        approval.locator(f'input[name="garment"][value="{number}"]').check(force=True)
        assert said.inner_text().startswith(level)
    ok(post(lead, run, "approve", **APPROVED, garment="2", **read))
    assert colour.speaks(db, plan(db, run).job, runs.get(db, run)) == []


def came_of(page: str) -> str:
    """What a page says that the reading of blue comes to."""
    found = re.search(r'<output id="lab.3-came"[^>]*>(.*?)</output>', page)
    assert found
    return found[1]


def test_a_garment_that_was_never_printed_has_nothing_to_be_held_against(
    lead: FlaskClient, shop: Shop, db: Database
) -> None:
    job = shop.job(garment=GARMENTS, colourway=WAYS)
    first = a_run(lead, shop, job, {"1": "30 5 -40"}, recipe="blue 900 g, base {}00 g")
    ok(post(lead, first, "finish", then="keep", uncounted="elsewhere"))
    ok(post(lead, first, "use-next-time"))
    second = a_run(lead, shop, job, {"3": "65 45 50"})
    (told,) = colour.speaks(db, job, runs.get(db, second))
    assert told.key == "print-colour-unknown" and told.level.value == "caution"
    assert "recipe" not in target.aim(db, job, 1, runs.get(db, second))[0]["3"], "the recipe was of the blue"


def test_a_colour_that_is_off_on_any_garment_stands_against_the_target(
    lead: FlaskClient, shop: Shop, job: jobs.Saved, db: Database
) -> None:
    """Black was another blue and was printed on; sand, the last one, is right: a repeat would print both."""
    first = a_run(lead, shop, job, {"1": "30 5 -40", "3": "65 45 50"})
    ok(post(lead, first, "finish", then="keep", uncounted="elsewhere"))
    ok(post(lead, first, "use-next-time"))
    run = a_run(lead, shop, job, {"1": "36 5 -40", "3": "65 45 50"})
    assert at_press.going(db, plan(db, run), now()).reasons == ()
    ok(post(lead, run, "finish", then="keep", uncounted="elsewhere"))
    assert post(lead, run, "use-next-time").status_code == 409 and not story(db, run).target
    ok(post(lead, run, "use-next-time", override="customer agreed"))
    assert story(db, run).target


# The page and the command line


def test_a_run_with_a_screen_missing_offers_the_change_of_garment(
    lead: FlaskClient, shop: Shop, job: jobs.Saved
) -> None:
    """Stone takes no white: with the white missing it can go on with stone."""
    blue = shop.screen(job, 3)
    run = int(lead.post("/runs", data={"entry": fresh(), "job": job.code, "placement": "1", "press": shop.first_press})
              .headers["Location"].rsplit("/", 1)[1])  # fmt: skip
    ok(post(lead, run, "hang", screen=blue, head="3", station="3", seen="ok"))
    page = lead.get(f"/runs/{run}").text
    assert "1 screen still to hang" in page and "Say which garment is printed" in page
    ok(post(lead, run, "change", what="colourway", garment="2"))
    assert "still to hang" not in lead.get(f"/runs/{run}").text
    ok(post(lead, run, "change", what="colourway", garment="1"))
    page = lead.get(f"/runs/{run}").text
    assert "1 screen still to hang" in page and "Next garment" in page


def command(*arguments: str) -> Any:
    return CliRunner().invoke(cli.root, [*arguments], catch_exceptions=False)


def test_the_command_line_asks_for_the_garment_and_keeps_each_apart(
    lead: FlaskClient, shop: Shop, job: jobs.Saved, db: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    run, _white, _blue = hang_both(lead, shop, job)
    monkeypatch.setenv("TICKETS_DATA", str(lead.application.config["FOLDER"]))
    number = str(run)
    asked = command("run", "log", number, "start", "--anyway")
    assert asked.exit_code == 2
    assert "Say which garment is printed first" in asked.stderr and "2 Heavy tee, stone" in asked.stderr
    for step in (("sheet", "--garment", "1", "--s1.ink_lot", "W-1", "--run.garment_lot.2", "G-2"),
                 ("approve", "--approved_by", "Cy Marsh", "--approved_as", "press"), ("start",),
                 ("count", "--good", "12"), ("change", "--what", "colourway", "--garment", "2")):  # fmt: skip
        done = command("run", "log", number, *step)
        assert done.exit_code == 0, (step, done.stderr)
    refused = command("run", "log", number, "count", "--good", "5", "--json")
    assert refused.exit_code == 2 and "again-garment" in refused.stdout
    shown = json.loads(command("run", "show", number, "--json").stdout)
    told = {one["garment"]: one for one in shown["garments"]}
    assert (told[BLACK]["good"], told[BLACK]["approved"] is not None) == (12, True)
    assert (told[STONE]["good"], told[STONE]["approved"], told[STONE]["idle"]) == (0, None, [1, 2])
    assert told[STONE]["lot"] == "G-2" and told[BLACK]["now"] is False and told[STONE]["now"] is True
    assert told[BLACK]["inks"]["1"].startswith("white") and "1" not in told[STONE]["inks"]


def test_run_show_has_the_settings_of_each_garment(lead: FlaskClient, shop: Shop, job: jobs.Saved) -> None:
    """Black with its white, then stone without it and with another lot of blue: neither hides the other's."""
    run, _white, _blue = hang_both(lead, shop, job)
    ok(post(lead, run, "sheet", garment="1", **{"s1.ink_lot": "W-1", "s3.ink_lot": "B-1", "s3.squeegee": "65"}))
    ok(post(lead, run, "approve", **APPROVED))
    ok(post(lead, run, "start"))
    ok(post(lead, run, "change", what="colourway", garment="2", good="120"))
    folder = str(lead.application.config["FOLDER"])
    before = command("run", "show", str(run), "--data", folder).stdout.split(f"Set-up, {STONE}")[1]
    assert "1. white" not in before and "2. flash" not in before, "they stand idle on it"
    ok(post(lead, run, "sheet", **{"s3.ink_lot": "B-2", "s3.squeegee": "75"}))
    said = command("run", "show", str(run), "--data", folder).stdout
    black, stone = said.split(f"Set-up, {BLACK} (approved by Cy Marsh, ")[1].split(f"Set-up, {STONE}:")
    stone = stone.split("next:")[0]
    assert "W-1" in black and "B-1" in black and "65" in black and "1. white" in black and "2. flash" in black
    assert "B-2" in stone and "75" in stone and "B-1" not in stone and "white" not in stone and "flash" not in stone
    assert "B-2" not in black and "75" not in black, "what was set on stone is none of black's"
    told = json.loads(command("run", "show", str(run), "--json", "--data", folder).stdout)
    assert [(one["garment"], one["now"]) for one in told["set_up"]] == [(BLACK, False), (STONE, True)]
    assert told["settings"]["3"]["ink_lot"] == "B-2", "as it was"


def test_an_old_run_reads_on(lead: FlaskClient, shop: Shop, job: jobs.Saved, db: Database) -> None:
    """Its approval and its lot say no garment: they are of the one that it was on."""
    run, _white, _blue = hang_both(lead, shop, job)
    ok(post(lead, run, "sheet", **{"run.garment_lot": "G-9", "s3.ink_lot": "B-9"}))
    ok(post(lead, run, "approve", **APPROVED))
    assert "garment_printed" not in entries.latest_of(db, "run", run, 1)[0].values
    ok(post(lead, run, "start", garment="1"))
    found = story(db, run)
    assert set(found.approvals) == {BLACK} and found.on == BLACK and found.frozen
    assert at_press.going(db, plan(db, run), now()).reasons == ()
    ok(post(lead, run, "change", what="colourway", garment="2", good="120"))
    assert "garment_lot" not in story(db, run).settings["run"], "the carton of the black ones"
    assert {one.lot: one.good for one in trace.trace_job(db, job.id).inks} == {"G-9": 120, "B-9": 120}
    assert find.job(db, str(job.code)).id == job.id


def test_ticket_and_set_up_sheet_say_the_inks_at_each_row(
    lead: FlaskClient, shop: Shop, job: jobs.Saved, db: Database
) -> None:
    says = tickets.job_ticket(db, job, "http://shop.test", now())
    assert [row.ways for row in says.placements[0].stations] == [
        (f"{STONE}: not printed",), (f"{STONE}: idle",), (f"{SAND}: orange · plastisol",)]  # fmt: skip
    run, _white, _blue = hang_both(lead, shop, job)
    ok(post(lead, run, "sheet", garment="3", **{"run.garment_lot.1": "G-1"}))
    sheet = sheets.setup_of(db, run, "http://shop.test", now())
    assert sheet.run == f"{run}, {SAND}", "whose settings they are"
    (orange, *more) = sheet.stations[2].target
    assert orange == "orange · plastisol" and f"{SAND}: orange · plastisol" in more
    assert f"{STONE}: idle" in sheet.stations[1].target
    lots = {one.label: one.as_run for one in sheet.whole if one.label.startswith("Garment lot")}
    assert lots == {f"Garment lot: {BLACK}": "G-1", f"Garment lot: {STONE}": "", f"Garment lot: {SAND}": ""}
    one = shop.job()
    plain = tickets.job_ticket(db, one, "http://shop.test", now())
    assert not [row for row in plain.placements[0].stations if row.ways]
    text = "".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(
        printing.print_job(db, shop.manager, str(job.code), now=now(), anyway=True).pdf))  # fmt: skip
    assert f"{STONE}: not printed" in " ".join(text.split()) and f"{STONE}: idle" in " ".join(text.split())
    assert not re.search(r"(?<!Heavy tee, )\b(stone|sand): ", text), "no garment is called by its colour alone"
