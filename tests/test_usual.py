"""What can be and is seldom meant is asked back once, on pages, in files and for commands, and taken with a `!`."""

from __future__ import annotations

import html
import json
import re
import secrets
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from shop import clock, commands, with_presses
from sqlite_utils import Database

from tickets.actions import buckets, hanging, runs, weighing
from tickets.actions import jobs as jobs_acts
from tickets.calculator import several
from tickets.calculator.units import Ambiguous, NotAQuantity
from tickets.domain import setting, usual
from tickets.domain.jobs import job as sheets
from tickets.domain.person import Actor
from tickets.domain.posted import form
from tickets.domain.refusal import Refused
from tickets.domain.runs import setup
from tickets.domain.spec import SHIPPED, Row, Spec
from tickets.queries import find, ink, run_plan

LEAD = Actor(3, "Di Novak", "manager")


def fresh() -> str:
    return secrets.token_hex(12)


def sheet(**more: Any) -> dict[str, Any]:
    """An invented job; `off_contact`, `recipe`: of its print; `time`: of its flash; `belt_speed`: of its dryer."""
    printing = {"does": "print", "colour": "blue", "ink": "discharge", "mesh": {"count": "230/in", "thread": "48 um"},
                "coverage": "50 %"}  # fmt: skip
    printing |= {name: more[name] for name in ("off_contact", "recipe") if name in more}
    flash = {"does": "flash", "time": more.get("time", "6 s")}
    dryer = {"belt_speed": more.get("belt_speed", "2.1 m/min"), "garment_peak": "165 degC", "hold": "60 s"}
    return {
        "title": "Kite club tees",
        "customer": "Meadow Kite Club",
        "due": "2031-06-01",
        "art": {"name": "Box kite", "revision": "2"},
        "garment": [{"style": "Heavy tee", "colour": "black", "pieces": 60, "fibre": {"cotton": 100}}],
        "placement": [{"name": "Front", "width": "300 mm", "height": "300 mm", "station": [printing, flash, printing],
                       "dryer": dryer}],
    }  # fmt: skip


UNUSUAL = [
    # the setting, what is typed, the question's span, what is offered
    ("off_contact", "16 mm", "Usual is 1 to 6.5 mm", ("1.6 mm", "16 mm!")),
    ("off_contact", "1/2 in", "Usual is 0.0394 to 0.255 in", ("0.05 in", "0.5 in!")),
    ("off_contact", "0.3 mm", "Usual is 1 to 6.5 mm", ("3 mm", "0.3 mm!")),
    ("time", "8 min", "Usual is at most 1 min", ("0.8 min", "8 min!")),
    ("time", "90 s", "Usual is at most 60 s", ("9 s", "90 s!")),
    ("belt_speed", "21 m/min", "Usual is 0.3 to 12 m/min", ("2.1 m/min", "21 m/min!")),
    ("belt_speed", "0.21 m/min", "Usual is 0.3 to 12 m/min", ("2.1 m/min", "0.21 m/min!")),
]
USUAL = [
    ("off_contact", "1.6 mm"), ("off_contact", "1/8 in"), ("off_contact", "1/4 in"), ("off_contact", "1 mm"),
    ("time", "3 s"), ("time", "15 s"), ("time", "60 s"), ("belt_speed", "6 ft/min"), ("belt_speed", "12 m/min"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "text", "span", "offered"), UNUSUAL)
def test_a_job_file_asks_for_what_is_not_usual_and_takes_what_it_offers(
    name: str, text: str, span: str, offered: tuple[str, ...]
) -> None:
    with pytest.raises(Refused) as caught:
        sheets.read(sheet(**{name: text}), limits=SHIPPED)
    faults = [one for one in caught.value.faults if one.where.endswith(name)]
    assert len(faults) == len(caught.value.faults) and faults[0].readings == offered
    assert faults[0].message.startswith("Really ") and span in faults[0].message
    for one in offered:
        read = sheets.read(sheet(**{name: one}), limits=SHIPPED)
        again = sheets.toml_data(sheets.to_toml(read), "")
        assert sheets.read(again, limits=SHIPPED) == read, "what was answered is never asked again"
        aim = setup.of_job(read.placements[0])
        assert "!" not in json.dumps(aim)
    assert sheets.read(sheet(**{name: text})), "what a shop keeps already is not asked"


@pytest.mark.parametrize(("name", "text"), USUAL)
def test_what_is_usual_is_not_asked(name: str, text: str) -> None:
    assert sheets.read(sheet(**{name: text}), limits=SHIPPED)


@pytest.mark.parametrize(("name", "text", "span", "offered"), UNUSUAL)
def test_the_sheet_at_the_press_asks_too_but_not_for_what_stands_there(
    name: str, text: str, span: str, offered: tuple[str, ...]
) -> None:
    here = sheets.read(sheet()).placements[0]
    field, key = {"off_contact": ("s1.", "1"), "time": ("s2.", "2"), "belt_speed": ("run.", "run")}[name]
    _found, (fault,) = setup.read({f"{field}{name}": [text]}, here, {}, {}, SHIPPED)
    assert fault.where == f"{field}{name}" and fault.readings == offered and span in fault.message
    found, faults = setup.read({f"{field}{name}": [offered[-1]]}, here, {}, {}, SHIPPED)
    assert faults == [] and found[key][name] == offered[-1].removesuffix("!"), "kept without its answer"
    for aim, noted in (({key: {name: text}}, {}), ({}, {key: {name: text}})):
        assert setup.read({f"{field}{name}": [text]}, here, aim, noted, SHIPPED)[1] == []
    assert setup.read({f"{field}{name}": [text]}, here, {}, {}, Spec(()))[1] == [], "without a limit nothing is asked"


def test_the_shops_own_limit_says_what_is_usual() -> None:
    own = Spec([*SHIPPED.rows, Row(9000, "usual-off-contact-most", 20.0, "mm", {}, "jackets")])
    assert setting.read("off_contact", "16 mm", limits=own) == (16.0, "16 mm")
    with pytest.raises(Ambiguous, match="Usual is 1 to 20 mm"):
        setting.read("off_contact", "21 mm", limits=own)


@pytest.mark.usefixtures("app")
def test_a_recipe_with_more_activator_than_is_usual_is_asked_wherever_it_is_typed(db: Database) -> None:
    """The stock mix is 94 to 6; the numbers of these changed places."""
    swapped, meant = "60 base, 940 activator", "60 base, 940 activator!"
    for recipe in (swapped, {"base": "60 g", "activator": "940 g"}):
        with pytest.raises(Refused, match="Really 1567 % of activator") as caught:
            sheets.read(sheet(recipe=recipe), limits=SHIPPED)
        assert caught.value.faults[0].where.endswith("recipe")
    table = {"base": "60 g", "activator": "940 g!"}
    for recipe in (meant, table, "940 base, 60 activator", "1 kg base, 60 g retarder"):
        read = sheets.read(sheet(recipe=recipe), limits=SHIPPED)
        assert sum(read.placements[0].stations[0].recipe.values()) >= 1000
    here = sheets.read(sheet()).placements[0]
    _found, (fault,) = setup.read({"s1.recipe": [swapped]}, here, {}, {}, SHIPPED)
    assert fault.where == "s1.recipe" and fault.readings == (meant,)
    found, faults = setup.read({"s1.recipe": [meant]}, here, {}, {}, SHIPPED)
    assert faults == [] and found["1"]["recipe"] == swapped
    for aim, noted in (({"1": {"recipe": swapped}}, {}), ({}, {"1": {"recipe": swapped}})):
        assert setup.read({"s1.recipe": [swapped]}, here, aim, noted, SHIPPED)[1] == [], "it stands there"
    sent = {"kind": "discharge ink", "product": "Clear base", "recipe": swapped}
    with pytest.raises(Refused) as caught:
        buckets.mix(db, LEAD, form(sent), post=fresh(), now=clock())
    assert [(one.where, one.readings) for one in caught.value.faults] == [("recipe", (meant,))]
    made = find.bucket(db, buckets.mix(db, LEAD, form(sent | {"recipe": meant}), post=fresh(), now=clock()))
    assert made.recipe == swapped


def test_a_mix_that_is_to_be_good_far_beyond_its_life_is_asked() -> None:
    """The life of mixed discharge is 6 h by the row; four times that is asked nothing, a month is."""
    for hours, asks in ((6, False), (24, False), (25, True), (720, True)):
        if not asks:
            usual.ask_of_life("discharge ink", ("discharge",), hours, "x", SHIPPED)
            continue
        with pytest.raises(Ambiguous, match=r"Usual for discharge ink is 6\sh"):
            usual.ask_of_life("discharge ink", ("discharge",), hours, "x", SHIPPED)
        usual.ask_of_life("discharge ink", ("discharge",), hours, "x!", SHIPPED)
    usual.ask_of_life("plastisol ink", (), 9000, "x", SHIPPED)


def test_the_page_for_mixing_asks_once_and_takes_the_tile(client: FlaskClient, sign_in: Callable[..., Any]) -> None:
    desk = sign_in(client, "Di Novak")
    day = f"{clock().date().replace(year=clock().year + 1)}"
    sent = {"entry": fresh(), "kind": "discharge ink", "product": "Clear base", "good_until": [day, ""]}
    asked = desk.post("/buckets/mix", data=sent)
    assert asked.status_code == 422 and "Really good for" in html.unescape(asked.text)
    assert f'name="good_until.meant" value="{day}!"' in asked.text
    answer = {**sent, "good_until.asked": day, "good_until.meant": f"{day}!"}
    assert desk.post("/buckets/mix", data=answer).status_code == 303


def weighed(db: Database, texts: list[str], **more: str) -> float:
    job = find.job(db, jobs_acts.add(db, LEAD, [sheets.read(sheet())], post=fresh(), now=clock())[0])
    sent = form({"weighed_g": texts, "density_g_cm3": "1", "ink": "discharge", **more})
    return weighing.weigh(db, LEAD, job, 1, 1, sent, post=fresh(), now=clock())


@pytest.mark.usefixtures("app")
def test_weights_far_from_theory_or_from_each_other_are_asked(db: Database) -> None:
    """900 cm2 by half of some 22 cm3/m2: about 1 g by theory. A shirt weighs some 190 g."""
    theory = usual_theory(db)
    for texts in (["190", "191", "189"], ["0.1", "0.1", "0.1"], [f"{theory:.2f}", f"{theory:.2f}", "190"]):
        with pytest.raises(Refused, match="blank garment") as caught:
            weighed(db, texts)
        assert caught.value.faults[0].where == "weighed_g"
    (meant,) = caught.value.faults[0].readings
    with pytest.raises(Refused, match="The middle one"):  # each may be by theory, but not beside the others
        weighed(db, [f"{theory * 4:.2f}", f"{theory * 4:.2f}", f"{theory / 2:.2f}"])
    assert meant.endswith(" 190!") and weighed(db, [meant]) > 0
    assert weighed(db, [f"{theory * 1.5:.2f}"] * 3) == pytest.approx(1.5, rel=0.02)


def usual_theory(db: Database) -> float:
    """What one print weighs by theory, from a weighing that comes to a factor of one."""
    job = find.job(db, jobs_acts.add(db, LEAD, [sheets.read(sheet())], post=fresh(), now=clock())[0])
    line = replace(ink.needs(db, job)[0])
    assert line.print_cm3 is not None
    return line.print_cm3 / line.transfer


def test_the_job_page_asks_with_tiles_and_the_command_with_what_to_type(
    client: FlaskClient, sign_in: Callable[..., Any], folder: Path, tmp_path: Path
) -> None:
    desk = sign_in(client, "Di Novak")
    toml = sheets.to_toml(sheets.read(sheet(off_contact="16 mm")))
    answer = desk.post("/jobs/new", data={"entry": fresh(), "act": "read", "toml": toml})
    assert answer.status_code == 422 and "Really 16 mm? Usual is 1 to 6.5 mm" in html.unescape(answer.text)
    typed = {"entry": fresh(), "act": "read", "placement[1].station[1].does": "print",
             "placement[1].station[1].off_contact": "16 mm"}  # fmt: skip
    page = desk.post("/jobs/new", data=typed).text
    tiles = re.findall(r'name="placement\[1\]\.station\[1\]\.off_contact\.meant" value="([^"]*)"', page)
    assert tiles == ["1.6 mm", "16 mm!"]
    path = tmp_path / "kite.toml"
    path.write_text(toml, encoding="utf-8")
    tickets = commands(folder)
    told = tickets("job", "check", path)
    assert told.exit_code == 2 and "type 16 mm! if it is meant" in told.stderr
    path.write_text(toml.replace("16 mm", "16 mm!"), encoding="utf-8")
    assert tickets("job", "check", path).exit_code == 0


def test_a_run_asks_on_its_page_and_for_its_command(
    client: FlaskClient, sign_in: Callable[..., Any], db: Database, folder: Path
) -> None:
    floor, desk, tickets = with_presses(db), sign_in(client, "Di Novak"), commands(folder)
    job = floor.job()
    opened = form({"job": str(job.code), "placement": "1", "press": "Press 1"})
    run = runs.open_run(db, floor.manager, opened, post=fresh(), now=clock())
    for station in (1, 3):
        hang = form({"screen": floor.screen(job, station), "station": str(station), "head": str(station)})
        hanging.hang(db, floor.manager, run, hang, post=fresh(), now=clock())
    sent = {"entry": fresh(), "s1.off_contact": "16 mm"}
    asked = desk.post(f"/runs/{run}/sheet", data=sent)
    assert asked.status_code == 422 and 'name="s1.off_contact.meant" value="16 mm!"' in asked.text
    meant = {**sent, "s1.off_contact.asked": "16 mm", "s1.off_contact.meant": "16 mm!"}
    assert desk.post(f"/runs/{run}/sheet", data=meant).status_code == 303
    assert run_plan.plan(db, run).story.settings["1"]["off_contact"] == "16 mm"
    again = {"entry": fresh(), "s1.off_contact": "16 mm", "s1.strokes": "2"}
    assert desk.post(f"/runs/{run}/sheet", data=again).status_code == 303, "what stands there is not asked again"
    told = tickets("run", "log", run, "sheet", "--s2.time", "8 min")
    assert told.exit_code == 2 and "Really 8 min?" in told.stderr.replace("\N{NO-BREAK SPACE}", " ")
    assert tickets("run", "log", run, "sheet", "--s2.time", "8 min!").exit_code == 0


def test_the_mark_never_makes_two_readings_one() -> None:
    """`1,250 um!` is too much or too little whichever way it is read, and `!` alone is nothing."""
    for text in ("1,250 kg!", "!", "16!!"):
        with pytest.raises(NotAQuantity):
            setting.read("off_contact", text, limits=SHIPPED)
    assert several.masses("940 base, 60 activator!") == {"base": 940, "activator": 60}
