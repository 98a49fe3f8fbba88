"""Cautions: one table for pages, paper and commands; in full where they are new to somebody, never hidden there."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import timedelta
from html import unescape
from pathlib import Path

import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient
from shop import clock, with_presses
from sqlite_utils import Database
from test_paper import MIDDLE, a_job
from test_web_runs import discharge_job, post, start_run
from test_web_screens import add, post_id

from tickets.actions import buckets, screens
from tickets.cli import root
from tickets.domain import cautions
from tickets.domain.cautions import CAUTIONS, RULE
from tickets.domain.entry import stamp
from tickets.domain.papers.ticket import bucket_cautions, job_ticket
from tickets.domain.person import Actor
from tickets.domain.posted import form
from tickets.domain.steps import BUCKET_STEPS, RUN_STEPS, SCREEN_STEPS
from tickets.queries import cautions as cautions_now
from tickets.queries import find
from tickets.queries.shop_rules import zone
from tickets.store.settings import save_setting

SignIn = Callable[[FlaskClient, str], FlaskClient]
STEPS = [*SCREEN_STEPS.values(), *RUN_STEPS.values(), *BUCKET_STEPS.values()]
HOME = Path(__file__).parent.parent


@pytest.fixture
def one_shift(db: Database, ada: Actor) -> None:
    """A shop whose only shift begins at this very hour of the day, so that no test runs over its end."""
    now = clock()
    save_setting(db, "shifts", str(now.astimezone(zone(db)).hour), stamp(now), ada.id)


def cautioned(page: str) -> tuple[str, str]:
    """What a page says in full as a caution, and what it has folded."""
    folded = "".join(re.findall(r'<details class="read-before">.*?</details>', page, re.S))
    full = re.sub(r'<details class="read-before">.*?</details>', "", page, flags=re.S)
    in_full = "".join(re.findall(r'<div class="cautions".*?</div>', full, re.S))
    return tuple(" ".join(unescape(re.sub("<[^>]+>", " ", one)).split()) for one in (in_full, folded))  # type: ignore[return-value]


# The risks that must be said, and where: beside each what it has to name
WHERE = {
    "stretch": ("large force",), "retension": ("large force",), "coat": ("sensitise skin", "eyes"),
    "washout": ("Spray", "slippery", "drain"), "degrease": ("skin and eyes",),
    "harden": ("acid or caustic", "UV burn"), "expose": ("UV burn",), "clean": ("flash point",),
    "strip": ("remover", "cuts skin", "drain"), "haze": ("caustic", "cuts skin"),
    "sheet": ("dust",), "start": ("never unattended", "leave the dryer hot"), "mix": ("lungs", "label"),
}  # fmt: skip


@pytest.mark.parametrize("name", WHERE)
def test_every_risk_is_said_where_it_is(name: str) -> None:
    step = next(one for one in STEPS if one.name == name)
    said = " ".join(cautions.texts(step.cautions))
    assert not [word for word in WHERE[name] if word not in said]
    assert said.endswith(RULE)


def test_cautions_are_short_and_name_who_says_so() -> None:
    for key, one in CAUTIONS.items():
        assert len(one.text) <= 200 and len(one.short) <= 24 and one.source, key
    for said in ("safety data sheet", "local rules", "licence"):
        assert said in RULE
    assert cautions.texts(()) == ()


def test_there_is_no_caution_beside_the_table() -> None:
    """A word of a caution that stands in a template or another rule would say another thing one day."""
    words = re.compile("goggles|gloves|formaldehyde when|power off and cold", re.I)
    files = [*HOME.glob("web/**/*.html"), *HOME.glob("web/*.py"), *HOME.glob("tickets/**/*.py")]
    found = {one.name for one in files if words.search(one.read_text())}
    assert found == {"cautions.py"}


def test_wash_before_wear_and_formaldehyde_stand_on_the_ticket_and_the_page_of_a_discharge_job() -> None:
    said = " ".join(job_ticket(a_job(), "7K32XM", MIDDLE).cautions)
    assert "formaldehyde" in said and "before it is worn" in said and "leave the dryer hot" in said
    assert cautions.of_inks({"plastisol"}) == ["heat", "hot"]
    assert {"discharge", "wash"} <= set(cautions.of_inks({"plastisol", "discharge"}))
    assert "sensitise" in " ".join(bucket_cautions("diazo emulsion"))


@pytest.mark.usefixtures("one_shift")
def test_a_caution_is_in_full_until_it_was_read_this_shift(
    client: FlaskClient, sign_in: SignIn, db: Database, ada: Actor
) -> None:
    room = sign_in(client, "Ada Holm")
    (code,) = add(db, ada)
    page = room.get(f"/screens/{code}?step=strip").text
    full, folded = cautioned(page)
    assert "Stencil remover can burn" in full and "pressure washer" in full and RULE in full and not folded
    assert room.post(f"/screens/{code}/strip", data={"entry": post_id(), "in_hand": "yes"}).status_code == 303
    full, folded = cautioned(room.get(f"/screens/{code}?step=strip").text)
    assert not full and "Cautions shown this shift: stencil remover, pressure washer, drain" in folded
    assert "Stencil remover can burn" in folded  # a tap away
    # another step: what is new in it stands in full, whatever was read
    full, folded = cautioned(room.get(f"/screens/{code}?step=haze").text)
    assert "Haze remover may be caustic" in full and "pressure washer" not in full and RULE in full
    assert "pressure washer" in folded and "haze" not in folded


@pytest.mark.usefixtures("one_shift")
def test_a_caution_is_new_to_the_next_person(client: FlaskClient, sign_in: SignIn, db: Database, ada: Actor) -> None:
    (code,) = add(db, ada)
    now = clock()
    screens.log(db, ada, find.screen(db, code), "strip", form({"in_hand": "yes"}), post=post_id(), now=now)
    full, folded = cautioned(sign_in(client, "Ada Holm").get(f"/screens/{code}?step=strip").text)
    assert not full and folded
    full, folded = cautioned(sign_in(client, "Bo Lind").get(f"/screens/{code}?step=strip").text)
    assert "Stencil remover can burn" in full and not folded


@pytest.mark.usefixtures("one_shift")
def test_a_caution_is_new_in_the_next_shift(db: Database, ada: Actor) -> None:
    (code,) = add(db, ada)
    now = clock()
    screens.log(db, ada, find.screen(db, code), "strip", form({"in_hand": "yes"}), post=post_id(), now=now)
    assert cautions_now.read(db, ada.id, now) == {"tension", "remover", "jet", "drain"}
    assert cautions_now.read(db, ada.id, now + timedelta(days=1)) == frozenset()
    bucket = buckets.mix(db, ada, form({"kind": "diazo emulsion"}), post=post_id(), now=now)
    assert {"mixing", "label"} <= cautions_now.read(db, ada.id, now)
    buckets.log(db, ada, find.bucket(db, bucket), "note", form({"note": "thin"}), post=post_id(), now=now)
    assert "sensitiser" not in cautions_now.read(db, ada.id, now)


# On the page of a run, where several risks stand beside each other ------------------------------------------------


def test_each_risk_stands_at_the_first_part_that_has_it() -> None:
    keys = ["discharge", "wash", "heat", "hot", "grinding"]
    assert not [key for key in keys if not 0 < len(CAUTIONS[key].line) <= 34]
    part = cautions.PartWork
    parts = {"1": part("print"), "2": part("flash"), "3": part("print", frozenset({"discharge"})), "run": part("run")}
    assert cautions.beside(keys, parts) == {
        "3": ["discharge"],
        "run": ["wash", "hot"],
        "2": ["heat"],
        "1": ["grinding"],
    }
    del parts["2"], parts["3"]  # no flash; the head of the discharge ink has no screen yet
    assert cautions.beside(keys, parts) == {"": ["discharge"], "run": ["wash", "heat", "hot"], "1": ["grinding"]}


def risks(page: str) -> dict[str, list[str]]:
    """What a run's page says as new cautions: the lines at each card of the set-up sheet, "" above them all."""
    sheet = page.split('class="step setup"')[1].split("</form>")[0]
    above, *cards = re.split(r'<section id="card-', sheet)
    found = {"": above} | {card.split('"')[0]: card.split('<div class="body">')[0] for card in cards}
    lines = r'<details class="risk" role="note"><summary>(.*?)</summary>'
    return {name: [unescape(one) for one in re.findall(lines, card)] for name, card in found.items() if "risk" in card}


@pytest.mark.usefixtures("one_shift")
def test_a_run_says_its_cautions_where_the_risk_is_until_they_were_read(
    client: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    shop, bo = with_presses(db), sign_in(client, "Bo Lind")
    job = discharge_job(shop)
    run = start_run(bo, shop, job)
    white, blue = shop.screen(job, 1), shop.screen(job, 3)
    sent = {"override": "customer agreed"}
    sign_in(client, "Cy Marsh")
    assert post(bo, run, "hang", screen=blue, head="3", station="3", **sent).status_code == 303
    page = sign_in(client, "Bo Lind").get(f"/runs/{run}?open=sheet").text
    assert risks(page) == {  # the discharge ink has no head yet: it stands above them all
        "": ["Formaldehyde: extraction on"], "2": ["Flash, dryer: never unattended"],
        "3": ["Grinding blades: mask, goggles"],
        "run": ["Wash before wear: tell customer", "Hot garments: gloves, let cool"],
    }  # fmt: skip
    assert "never unattended, no garment parked" in page and RULE in unescape(page)  # the whole of it, under its line
    sign_in(client, "Cy Marsh")
    assert post(bo, run, "hang", screen=white, head="1", station="1", **sent).status_code == 303
    page = sign_in(client, "Bo Lind").get(f"/runs/{run}?open=sheet").text
    assert "" not in risks(page)
    assert risks(page)["1"] == ["Formaldehyde: extraction on", "Grinding blades: mask, goggles"]
    assert post(bo, run, "sheet", noted="1").status_code == 303
    page = bo.get(f"/runs/{run}?open=sheet").text
    assert not risks(page) and "Cautions shown this shift: formaldehyde, wash before wear" in page
    page = sign_in(client, "Cy Marsh").get(f"/runs/{run}?open=sheet").text  # new to the next person
    assert risks(page)["1"] == ["Formaldehyde: extraction on", "Grinding blades: mask, goggles"]


def test_the_command_says_the_cautions_of_the_pages() -> None:
    steps = json.loads(CliRunner().invoke(root, ["screen", "steps", "--json"]).output)
    assert {one["step"]: tuple(one["cautions"]) for one in steps} == {
        step.name: cautions.texts(step.cautions) for step in SCREEN_STEPS.values()
    }
    assert "! Stencil remover can burn" in CliRunner().invoke(root, ["screen", "steps"]).output
