"""The approval's form of a repeat: what each colour is to meet, and the difference while it is typed and after “Check”.

The differences are the 34 pairs published by Sharma, Wu and Dalal, Color Res. Appl. 30:21-30, 2005.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from coloraide import Color
from flask.testing import FlaskClient
from shop import Shop, answered, clock
from sqlite_utils import Database
from test_colour_stop import APPROVED, HOW, NEAR, OFF
from test_colour_stop import lead as lead  # fixtures
from test_colour_stop import target as target
from test_web_runs import dark, hang_both, post, story, text_of
from test_web_runs import press as press

from tickets.calculator.colour import Lab, delta_e_2000, in_words
from tickets.queries import at_press, repeats, run_plan
from tickets.store import entries, jobs

with (Path(__file__).parent / "published" / "ciede2000.csv").open(encoding="utf-8") as table:
    PAIRS = list(csv.DictReader(table))


def to_approve(phone: FlaskClient, shop: Shop, job: jobs.Saved) -> int:
    """A run whose first print waits for its approval."""
    run, _white, _blue = hang_both(phone, shop, job)
    assert post(phone, run, "sheet", **{"s3.squeegee": "70"}).status_code == 303
    return run


def form_of(page: str, run: int) -> str:
    """The approval's form."""
    return page.split(f'action="/runs/{run}/approve"')[1].split("</form>")[0]


def came(page: str, field: str) -> str:
    """What a page says that a reading comes to."""
    found = re.search(rf'<output id="{re.escape(field)}-came"[^>]*>(.*?)</output>', page)
    assert found
    return found[1]


def test_the_target_stands_in_the_form(lead: FlaskClient, shop: Shop, target: tuple[jobs.Saved, int]) -> None:
    job, first = target
    run = to_approve(lead, shop, job)
    form = form_of(lead.get(f"/runs/{run}").text, run)
    assert '<details id="colours" open' in form, "it is in sight without a tap"
    assert f"to meet: L* 50.0, a* 2.7, b* -79.8, run {first}" in form and HOW in form
    swatch = re.findall(r'<rect width="10" height="10" fill="(#[0-9a-f]{6})"', form)
    assert len(swatch) == 1 and swatch[0].endswith("ff"), "white was not read; this blue is as blue as a screen goes"
    assert f'name="lab_conditions" value="{HOW}" checked' in form, "one tap, which the shop took last"
    assert 'name="lab_mode" value="M1"' in form


def test_what_is_read_before_another_screen_is_still_to_be_met_by_the_repeat(
    lead: FlaskClient, shop: Shop, db: Database
) -> None:
    """A first print is read and approved; a screen is swapped and the print approved again, which nobody reads: what is
    known of the colour stays what the repeat is to meet."""
    job = shop.job()
    run, _white, blue = hang_both(lead, shop, job)
    assert post(lead, run, "sheet", **{"s3.squeegee": "70"}).status_code == 303
    by = {"approved_by": "Cy Marsh", "approved_as": "press"}
    read = {"lab.1": "93 0 2; 93.2 0 2", "lab.3": APPROVED, "lab_conditions": HOW}
    assert post(lead, run, "approve", **by, **read).status_code == 303
    assert post(lead, run, "start").status_code == 303
    other = shop.screen(job, 3)
    assert post(lead, run, "swap", old=blue, new=other, why="pinholes").status_code == 303
    assert f'name="lab_conditions" value="{HOW}" checked' in lead.get(f"/runs/{run}").text, "how it was read is offered"
    assert post(lead, run, "approve", **by, **{"lab.1": "92 0 2", "lab_conditions": HOW}).status_code == 303
    assert post(lead, run, "swap", old=other, new=shop.screen(job, 3), why="slack").status_code == 303
    assert post(lead, run, "approve", **by).status_code == 303
    assert "lab" not in (story(db, run).approved or {}), "what hangs now was not read"
    made = lead.post(f"/print/run/{run}", data={"what": "customer", "anyway": "yes"})
    sheet = "".join(one.get_textpage().get_text_bounded() for one in pypdfium2.PdfDocument(made.data))
    assert re.search(r"50\.0\D+2\.7\D+79\.8", sheet) and "No colour was measured" not in sheet, sheet
    assert post(lead, run, "finish", good="10", then="strip", still_needed="yes").status_code == 303
    assert post(lead, run, "use-next-time").status_code == 303

    again = to_approve(lead, shop, job)
    form = form_of(lead.get(f"/runs/{again}").text, again)
    assert f"to meet: L* 50.0, a* 2.7, b* -79.8, run {run}" in form and HOW in form
    assert "to meet: L* 92.0, a* 0.0, b* 2.0" in form, "of each colour the last reading counts"
    assert f'name="lab_conditions" value="{HOW}" checked' in form
    assert post(lead, again, "approve", **by).status_code == 303
    assert "print-colour-unread" in at_press.going(db, run_plan.plan(db, again), clock()).keys
    assert "Not read on this print, but on run" in text_of(lead.get(f"/runs/{again}").text)
    found = repeats.compared(db, again)
    assert found is not None
    assert {one.a for one in found.lines if one.what == "colour"} == {"92.0 0.0 2.0", "50.0 2.7 -79.8"}


def test_a_first_print_of_all_has_nothing_to_meet(lead: FlaskClient, shop: Shop) -> None:
    run = to_approve(lead, shop, shop.job())
    form = form_of(lead.get(f"/runs/{run}").text, run)
    assert "to meet" not in form and "<svg" not in form and '<details id="colours" data' in form


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (OFF, "STOP: 2.04 from the approved print (CIEDE2000). To meet it, turn it: yellower 3.0, redder 2.7."),
        (f"{OFF.replace(' ', '; ')}", "STOP: 2.04 from the approved print"),
        (f"{NEAR}", "OK: 0.0"),
    ],
)
def test_check_says_the_difference_before_anything_is_saved(
    lead: FlaskClient, shop: Shop, db: Database, target: tuple[jobs.Saved, int], typed: str, said: str
) -> None:
    run = to_approve(lead, shop, target[0])
    before = len(entries.of(db, "run", run))
    sent = {"lab.3": typed, "lab_conditions": HOW, "sample": "drawer 4", "approved_as": "press"}
    page = post(lead, run, "approve", check="colour", **sent)
    assert page.status_code == 200 and came(page.text, "lab.3").startswith(said)
    assert f'value="{typed}"' in page.text and 'value="drawer 4"' in page.text and "nothing is saved yet" in page.text
    assert len(entries.of(db, "run", run)) == before and story(db, run).approved is None
    asked = post(lead, run, "approve", check="colour", **{"lab.3": typed})
    assert asked.status_code == 422 and "How was it read?" in asked.text


def test_check_of_several_readings_says_their_mean_and_spread(
    lead: FlaskClient, shop: Shop, target: tuple[jobs.Saved, int]
) -> None:
    run = to_approve(lead, shop, target[0])
    sent = {"lab.3": "50 2.6 -79.8; 50 2.8 -79.8", "lab_conditions": HOW}
    told = came(post(lead, run, "approve", check="colour", **sent).text, "lab.3")
    far = delta_e_2000(Lab(50, 2.6, -79.8), Lab(50, 2.7, -79.8))
    assert f"Mean of 2 readings, the furthest {far:.2f} from it (CIEDE2000)." in told


def test_a_file_is_taken_in_and_its_open_patches_are_asked_for(
    lead: FlaskClient, shop: Shop, db: Database, target: tuple[jobs.Saved, int]
) -> None:
    from io import BytesIO

    run = to_approve(lead, shop, target[0])
    rows = f'white 90 0 2\n"A7" {APPROVED}\n'
    file = (
        "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nNUMBER_OF_SETS 2\n"
        f"BEGIN_DATA\n{rows}END_DATA\n"
    )
    sent = {"approved_by": "Cy Marsh", "approved_as": "press", "lab_conditions": HOW}
    asked = post(lead, run, "approve", **sent, lab_file=(BytesIO(file.encode()), "patches.txt"))
    assert asked.status_code == 422 and "Which colour is patch 2 “A7”" in asked.text
    assert 'name="lab_patch.2" value="3"' in asked.text and "BEGIN_DATA_FORMAT" in asked.text
    again = post(lead, run, "approve", **sent, lab_patches=file, **{"lab_patch.2": "3"})
    assert again.status_code == 303, again.text
    approved = story(db, run).approved
    assert approved["lab"] == {"1": [90, 0, 2], "3": [50, 2.6772, -79.7751]}
    assert approved["lab_under"] == {"1": HOW, "3": HOW}


# Colours of the CSS Color Module by their names there, which people use: what the dark form calls them.
NAMED = {
    "crimson": "red", "red": "red", "brown": "red", "darkorange": "orange", "orange": "orange", "gold": "yellow",
    "yellow": "yellow", "green": "green", "lime": "green", "teal": "blue-green", "cyan": "blue-green", "blue": "blue",
    "navy": "blue", "royalblue": "blue", "darkviolet": "violet", "purple": "violet", "deeppink": "magenta",
    "white": "white", "black": "black", "gray": "grey",
}  # fmt: skip


@pytest.mark.parametrize("name", NAMED)
def test_a_colour_is_called_as_people_call_it(name: str) -> None:
    lightness, a, b = Color(name).convert("lab").coords()
    assert in_words(Lab(lightness, a, b)).split()[-1] == NAMED[name]


def test_a_red_ink_is_called_red() -> None:
    assert in_words(Lab(47.8, 66.1, 40.2)) == "middle red"


def test_the_dark_has_words_and_no_blue(lead: FlaskClient, shop: Shop, target: tuple[jobs.Saved, int]) -> None:
    run = to_approve(lead, shop, target[0])
    form = form_of(dark(lead).get(f"/runs/{run}").text, run)
    assert "middle blue, to meet: L* 50.0, a* 2.7, b* -79.8" in text_of(form).replace(" ,", ",")
    assert "<svg" not in form and 'type="text"' not in form and "<textarea" not in form


# In a browser --------------------------------------------------------------------------------------------------------


def open_form(phone: Any, sign_in_page: Callable[[Any, str], None], run: int) -> None:
    sign_in_page(phone, "Cy Marsh")
    phone.goto(f"/runs/{run}")


def test_the_script_says_while_typing_what_the_server_says(
    lead: FlaskClient,
    shop: Shop,
    target: tuple[jobs.Saved, int],
    phone: Any,
    sign_in_page: Callable[[Any, str], None],
) -> None:
    """All 34 published pairs: the formula to the four decimals printed, and the sentence as “Check” has it."""
    run = to_approve(lead, shop, target[0])
    open_form(phone, sign_in_page, run)
    assert len(PAIRS) == 34
    for pair in PAIRS:
        one, two = ([float(pair[f"{name}{n}"]) for name in "lab"] for n in "12")
        server = delta_e_2000(Lab(*one), Lab(*two))
        for first, second in ((one, two), (two, one)):
            script = phone.evaluate("([one, two]) => ciede2000(one, two)", [first, second])
            assert script == pytest.approx(float(pair["difference"]), abs=5.1e-5), pair["pair"]
            assert script == pytest.approx(server, abs=1e-9), pair["pair"]
        assert phone.evaluate("one => ciede2000(one, one)", one) == 0
        phone.evaluate(
            """one => { const row = document.querySelector('.meet[data-l]');
            [row.dataset.l, row.dataset.a, row.dataset.b] = one; }""",
            [str(part) for part in one],
        )
        phone.fill('input[name="lab.3"]', " ".join(map(str, two)))
        assert f"{server:.2f} from the approved print" in phone.locator('output[id="lab.3-came"]').inner_text()


def test_the_words_while_typing_are_those_of_check(
    lead: FlaskClient,
    shop: Shop,
    target: tuple[jobs.Saved, int],
    phone: Any,
    sign_in_page: Callable[[Any, str], None],
) -> None:
    run = to_approve(lead, shop, target[0])
    open_form(phone, sign_in_page, run)
    said = phone.locator('output[id="lab.3-came"]')
    for typed in (OFF, NEAR, "L* 50,5 a* 2,7 b* -79,8", "50,1;2,7;-79,8", "50 2.6 -79.8; 50 2.9 -79.5"):
        phone.fill('input[name="lab.3"]', typed)
        sent = {"lab.3": typed, "lab_conditions": HOW}
        server = came(post(lead, run, "approve", check="colour", **sent).text, "lab.3")
        assert said.inner_text() and server.startswith(said.inner_text()), typed
    for unclear in ("50,1,2,7,-79,8", "50 2", "1e1 2 3", "150 0 0", "L* 50 a* 2"):
        phone.fill('input[name="lab.3"]', unclear)
        assert said.inner_text() == "", "what the server asks about, the script does not guess"
    phone.fill('input[name="lab.3"]', OFF)
    phone.locator("summary", has_text="Another light").tap()
    phone.locator('input[name="lab_light"][value="D65"]').check()
    assert "Read differently from the approved print" in said.inner_text()
    assert phone.evaluate("document.documentElement.scrollWidth") <= 360


def test_check_and_approve_by_hand(
    lead: FlaskClient,
    shop: Shop,
    db: Database,
    target: tuple[jobs.Saved, int],
    browser: Any,
    server: str,
    sign_in_page: Callable[[Any, str], None],
) -> None:
    """Without scripts: “Check” comes back at the colours, filled in; then it is approved."""
    run = to_approve(lead, shop, target[0])
    context = browser.new_context(viewport={"width": 320, "height": 640}, java_script_enabled=False, base_url=server)
    page = context.new_page()
    open_form(page, sign_in_page, run)
    page.fill('input[name="lab.3"]', OFF)
    with answered(page):
        page.get_by_role("button", name="Just check the colours (nothing is saved)").click()
    assert page.url.endswith("#colours") and "STOP: 2.04" in page.locator('output[id="lab.3-came"]').inner_text()
    assert story(db, run).approved is None
    with answered(page):
        page.get_by_role("button", name="First print approved").click()
    assert story(db, run).approved["lab"]["3"] == [50.0, 0.0, -82.7485]
    assert "Printing started anyway" in page.content()
    context.close()
