"""What is in a bucket against what a print order asks for: a question with a reason, kept on the run; and what goes
with a bucket, so that nobody types it twice. The inks are invented; what a name says is judged by eye."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from conftest import PEOPLE
from flask.testing import FlaskClient
from shop import NOW, Shop, fresh, ink_lots, two_colours
from sqlite_utils import Database
from test_run_counts import tickets
from test_run_going import said
from test_run_story import entry
from test_web_runs import hang_both, post, start_run, story, text_of
from test_web_runs import press as press  # fixtures

from tickets.actions import buckets, noting
from tickets.calculator.verdict import Level
from tickets.domain.bucket import Bucket
from tickets.domain.jobs.job import Ink
from tickets.domain.posted import form
from tickets.domain.runs.ink_fit import against, goes_with, named, of_kind
from tickets.domain.runs.run_trace import InkLot
from tickets.queries import at_press, find, run_plan, sound
from tickets.store import entries, jobs

SKY = Ink("water-base", "sky blue", "Aqua 200", "Book A 17")
OTHERS = [Ink("water-base", "sea green", "Aqua 200"), Ink("water-base", "heron", "Brine 5")]


def bucket(product: str = "", kind: str = "water-base ink", **more: str) -> Bucket:
    return Bucket(4, "7K32XM", kind, product, **more)


@pytest.mark.parametrize(
    "has, keys",
    [
        (bucket("Sea green"), ["ink-other-colour"]),
        (bucket("Navy blue"), ["ink-other-colour"]),
        (bucket("Heron 3"), ["ink-other-colour"]),  # no word for a colour, but another print order's name for one
        (bucket("Sky blue"), []),
        (bucket("Blue 30"), []),
        (bucket("Base 30"), []),  # it says no colour: nobody can tell
        (bucket("Old mix", colour="sea green"), ["ink-other-colour"]),
        (bucket("Sea green", colour="Sky Blue"), []),  # what was noted of it goes before its name
        (bucket("Green drum, Book A 17"), []),  # the colour book's own number
        (bucket("Aqua 200 sea green"), ["ink-other-colour"]),
        (bucket("Sky blue", series="Brine 5"), ["ink-other-series"]),
        (bucket("Brine 5 sky blue"), ["ink-other-series"]),
        (bucket("Sky blue", series="aqua 200"), []),
        (bucket("Sea green", series="Brine 5"), ["ink-other-colour", "ink-other-series"]),
        (bucket("Sky blue", "discharge ink"), ["ink-other-kind"]),
        (bucket("Sky blue", "dual-cure emulsion"), ["ink-other-kind"]),
        (bucket("Sky blue", "catalysed ink"), []),
    ],
)  # fmt: skip
def test_what_speaks_against_a_bucket(has: Bucket, keys: list[str]) -> None:
    found = against(has, 3, [SKY], OTHERS)
    assert [one.key for one in found] == keys and all(one.level is Level.STOP for one in found)


def test_an_ink_that_may_come_out_of_anything_and_a_garment_without_ink() -> None:
    assert against(bucket("Sky blue", "plastisol ink"), 3, [Ink("other", "sky blue")]) == []
    assert against(bucket("Sea green"), 3, []) == []
    (found,) = against(bucket("", "diazo emulsion"), 3, [Ink("other", "sky blue")])
    assert found.key == "ink-other-kind"
    both = [SKY, Ink("water-base", "sea green")]
    assert against(bucket("Sea green"), 3, both) == [], "one of its garments takes it"


def test_what_says_itself_comes_first() -> None:
    assert named(bucket("Sky blue"), [SKY]) and named(bucket(colour="sky blue"), [SKY])
    assert named(bucket(series="Aqua 200"), [SKY]) and not named(bucket("Base 30"), [SKY])


@pytest.mark.parametrize(
    "typed, before, lot, was, left, wrong",
    [
        ("", "", "L5", "", "L5", False),
        ("L5", "", "L5", "", "L5", False),
        ("l5", "", "L5", "", "L5", False),
        ("L6", "", "L5", "", "L5", True),  # typed otherwise
        ("L4", "L4", "L5", "L4", "L5", False),  # of the bucket before, as the page had filled it in
        ("L4", "L4", "", "L4", "", False),  # goes with its bucket
        ("own", "own", "", "L4", "own", False),
    ],
)
def test_the_lot_goes_with_the_bucket(typed: str, before: str, lot: str, was: str, left: str, wrong: bool) -> None:
    values = {"ink_lot": typed} if typed else {}
    old = Bucket(5, "0A1B2C", "water-base ink", lot=was) if was else None
    faults = goes_with(values, {"ink_lot": before}, bucket(lot=lot), old, "s3.")
    assert (values.get("ink_lot", ""), [one.where for one in faults]) == (left, ["s3.ink_lot"] if wrong else [])


# On the run -----------------------------------------------------------------------------------------------------------


def mixed(shop: Shop, product: str, kind: str = "plastisol ink", **more: str) -> str:
    sent = form({"kind": kind, "product": product, **more})
    return buckets.mix(shop.db, shop.manager, sent, post=fresh(), now=NOW)


def test_a_bucket_of_another_colour_is_asked_about_and_the_reason_kept(
    shop: Shop, press: FlaskClient, db: Database
) -> None:
    green, white = mixed(shop, "Sea green"), mixed(shop, "Deep white")
    run, _white, _blue = hang_both(press, shop, shop.job())
    answer = post(press, run, "sheet", **{"s1.bucket": green})
    told = text_of(answer.text)
    assert answer.status_code == 409
    assert f"Position 1 asks for white; bucket {said(green)} is of another colour: Sea green." in told
    assert "Only a press lead" not in told.split("Note the set-up")[-1] and 'name="override"' in answer.text
    assert story(db, run).sheet == {}
    again = {"s1.bucket": green, "override": "mixed to the customer’s sample", "secret": PEOPLE["Bo Lind"][1]}
    refused = tickets(db, "run", "log", str(run), "sheet", "--s1.bucket", green)
    assert refused.exit_code == 2 and "of another colour" in refused.stderr and "--override" in refused.stderr
    answer = post(press, run, "sheet", **again)
    assert answer.status_code == 303, answer.text
    (judged,) = story(db, run).judged
    assert judged.passed and judged.passed["why"] == "mixed to the customer’s sample"
    page = text_of(press.get(f"/runs/{run}").text)
    assert "Overridden by Bo Lind: mixed to the customer’s sample" in page
    verdict = at_press.going(db, run_plan.plan(db, run), NOW)
    assert "ink-other-colour" in verdict.keys and verdict.level is Level.CAUTION, "said above Start, asked once"
    noting.save_sheet(db, shop.actor("Bo Lind"), run, form({"s1.note": ["x"]}), post=fresh(), now=NOW)
    assert post(press, run, "sheet", **{"s1.bucket": white}).status_code == 303, "the right one asks nothing"
    assert "ink-other-colour" not in at_press.going(db, run_plan.plan(db, run), NOW).keys


def test_another_kind_is_asked_about_too(shop: Shop, press: FlaskClient, db: Database) -> None:
    water = mixed(shop, "White", "water-base ink")
    run, _white, _blue = hang_both(press, shop, shop.job())
    answer = post(press, run, "sheet", **{"s1.bucket": water})
    assert answer.status_code == 409 and "asks for plastisol ink; bucket" in text_of(answer.text)


def tiles(page: str, field: str) -> list[str]:
    """The codes that can be tapped for a setting, in their order."""
    return [one for one in re.findall(rf'name="{re.escape(field)}" value="([^"]*)"', page) if one]


def test_what_fits_is_offered_first_and_what_is_in_use_is_said(shop: Shop, press: FlaskClient, db: Database) -> None:
    green, base, white = mixed(shop, "Sea green"), mixed(shop, "Base 30"), mixed(shop, "Deep white")
    for code in (white, base, green):  # the last one taken into use would stand first
        buckets.log(db, shop.manager, find.bucket(db, code), "use", form({}), post=fresh(), now=NOW)
    first, _white, _blue = hang_both(press, shop, shop.job())
    assert post(press, first, "sheet", **{"s1.bucket": white}).status_code == 303
    second = start_run(press, shop, shop.job(title="Second tees", revision="5"), shop.other_press)
    job = run_plan.plan(db, second).job
    for station in (1, 3):
        assert post(press, second, "hang", screen=shop.screen(job, station)).status_code == 303
    page = press.get(f"/runs/{second}").text
    assert tiles(page, "s1.bucket") == [white, base, green]
    told = text_of(page)
    assert (
        f"Deep white – in use on head 1 of run {first}" in told
        and "Base 30 – right kind of ink; colour not noted" in told
    )
    assert "Sea green – ! another colour" in told
    assert post(press, second, "sheet", **{"s1.bucket": white}).status_code == 303
    (judged,) = story(db, second).judged
    assert [one["key"] for one in judged.reasons] == ["ink-in-use"] and judged.passed is None


def test_lot_and_recipe_come_out_of_the_bucket(shop: Shop, press: FlaskClient, db: Database, tmp_path: Path) -> None:
    made = tickets(db, "bucket", "add", "--kind", "plastisol ink", "--product", "Deep white", "--lot", "L5", "--colour",
                   "white", "--series", "Opaque", "--recipe", "base 900 g, white 100 g", "--json")  # fmt: skip
    assert made.exit_code == 0 and '"recipe": "base 900 g, white 100 g"' in made.output
    white = made.output.split('"code": "')[1][:6]
    plain = mixed(shop, "Deep white")
    run, _white, _blue = hang_both(press, shop, shop.job())
    assert post(press, run, "sheet", **{"s1.bucket": white}).status_code == 303
    settings = story(db, run).settings["1"]
    assert (settings["ink_lot"], settings["recipe"]) == ("L5", "base 900 g, white 100 g")
    wrong = post(press, run, "sheet", **{"s1.bucket": white, "s1.ink_lot": "L6"})
    assert wrong.status_code == 422 and "has “L5”: leave this empty" in text_of(wrong.text)
    assert post(press, run, "sheet", **{"s1.bucket": plain, "s1.ink_lot": "L5"}).status_code == 303
    assert "ink_lot" not in story(db, run).settings["1"], "its lot went with the other bucket"
    page = text_of(press.get(f"/buckets/{white}").text)
    assert "lot L5 · white · Opaque · base 900 g, white 100 g" in page
    out = tmp_path / "out"
    assert tickets(db, "export", "--out", str(out)).exit_code == 0
    assert "base 900 g, white 100 g" in (out / "buckets.csv").read_text("utf-8")
    assert sound.check(db) == []


def test_another_garment_takes_another_ink(shop: Shop, press: FlaskClient, db: Database) -> None:
    """Noted for the first garment, the bucket is judged against what the second one takes once that one runs."""
    garments = [{"style": "Tee", "colour": one, "pieces": 30, "fibre": {"cotton": 100}} for one in ("black", "sand")]
    ways = [{"garment": {"style": "Tee", "colour": "sand"}, "inks": {"white": {"colour": "brown"}}}]
    data: dict[str, Any] = two_colours()
    job: jobs.Saved = shop.job(garment=garments, colourway=ways, placement=data["placement"])
    white = mixed(shop, "Deep white")
    run, _white, _blue = hang_both(press, shop, job)
    assert post(press, run, "sheet", **{"s1.bucket": white}).status_code == 303, "one of its garments takes it"
    assert post(press, run, "change", what="colourway", garment="2").status_code == 303
    verdict = at_press.going(db, run_plan.plan(db, run), NOW)
    assert verdict.level is Level.STOP and "ink-other-colour" in verdict.keys
    assert [one.step for one in entries.of(db, "run", run)][-1] == "change"


def test_a_lot_that_stands_beside_its_bucket_is_traced_once() -> None:
    """The lot of a set-up sheet comes out of its bucket: by the lot the run is found through the bucket, once."""
    noted = {"1": {"bucket": "B1", "ink_lot": "L-1"}, "2": {"ink_lot": "M-1"}}
    log = [entry("sheet", 1, stations=noted)]
    assert set(ink_lots(log)) == {InkLot(1, "B1", ""), InkLot(2, "", "M-1")}
    both = (entry("change", 2, field="bucket", station=1, **{"from": "B1", "to": "B2"}),
            entry("change", 2, field="ink_lot", station=1, **{"from": "L-1", "to": "L-2"}))  # fmt: skip
    assert set(ink_lots([*log, *both])) == {InkLot(1, "B1", ""), InkLot(1, "B2", ""), InkLot(2, "", "M-1")}
    poured_out = (entry("change", 2, field="bucket", station=1, **{"from": "B1", "to": ""}),
                  entry("change", 2, field="ink_lot", station=1, **{"from": "L-1", "to": "N-1"}))  # fmt: skip
    assert set(ink_lots([*log, *poured_out])) == {InkLot(1, "B1", ""), InkLot(1, "", "N-1"), InkLot(2, "", "M-1")}


def test_what_an_ink_is_asked_by_and_what_a_bucket_has_are_said() -> None:
    red, none = Ink("plastisol", "red", "Brine 5"), Ink("water-base", "", "", "")
    (kind,) = against(bucket("Sky blue", "discharge ink"), 2, [SKY, SKY, red])
    assert kind.numbers == {"station": 2, "bucket": "7K32X-M", "has": "discharge ink", "asked": "water-base, plastisol"}
    (colour,) = against(bucket("Sea green"), 2, [SKY, Ink("water-base", "heron", "Brine 5")], OTHERS)
    assert colour.numbers == {"station": 2, "bucket": "7K32X-M", "has": "Sea green", "asked": "sky blue, heron"}
    (series,) = against(bucket("Sky blue", series="Brine 9"), 2, [SKY, none, Ink("water-base", "sky", "Aqua 7")])
    assert series.numbers == {"station": 2, "bucket": "7K32X-M", "has": "Brine 9", "asked": "Aqua 200, Aqua 7"}
    assert against(bucket("Heron"), 2, [Ink("water-base", "heron", "Brine 5")], OTHERS) == [], "it is its own"
    assert against(bucket("Sky blue", "discharge ink"), 2, []) == []


def test_an_ink_without_a_kind_of_bucket_may_come_out_of_any_ink_bucket() -> None:
    other = Ink("foil glue", "clear")
    assert of_kind(bucket(kind="plastisol ink"), [other]) and not of_kind(bucket(kind="diazo emulsion"), [other])
    plastisol = Ink("plastisol", "red")
    assert of_kind(bucket(kind="water-base ink"), [plastisol, SKY]) and not of_kind(bucket(), [plastisol])


@pytest.mark.parametrize(("has", "is_it"), [
    (bucket("Sky blue 3"), True), (bucket("Aqua 200"), True), (bucket("Book A 17"), True), (bucket("Sea"), False),
    (bucket("x", colour="sky blue"), True), (bucket("x", series="AQUA 200"), True), (bucket(""), False),
])  # fmt: skip
def test_a_bucket_is_named_by_the_colour_the_series_or_the_reference_of_an_ink(has: Bucket, is_it: bool) -> None:
    assert named(has, [SKY, Ink("water-base", "", "", "")]) is is_it


def test_what_a_bucket_says_is_filled_in_and_what_was_of_the_one_before_goes_with_it() -> None:
    has, was = bucket(lot="L1", recipe=""), Bucket(5, "8K32XN", "water-base ink", lot="L0", recipe="base 9 g")

    def filled(values: dict[str, str], before: dict[str, str], was: Bucket | None) -> tuple[dict[str, str], list[str]]:
        faults = goes_with(values, before, has, was, "s1__")
        return values, [one.where for one in faults]

    assert filled({}, {}, None) == ({"ink_lot": "L1"}, [])
    assert filled({"ink_lot": "l1"}, {}, None) == ({"ink_lot": "L1"}, [])
    assert filled({"ink_lot": "L2"}, {}, None) == ({"ink_lot": "L1"}, ["s1__ink_lot"])
    assert filled({"ink_lot": "L0"}, {"ink_lot": "L0"}, was) == ({"ink_lot": "L1"}, [])
    assert filled({"recipe": "base 9 g"}, {}, was) == ({"ink_lot": "L1"}, [])
    assert filled({"recipe": "own"}, {}, was) == ({"ink_lot": "L1", "recipe": "own"}, [])
    assert filled({"recipe": "base 9 g"}, {}, None)[0]["recipe"] == "base 9 g"
    same = Bucket(4, "7K32XM", "water-base ink", recipe="base 9 g")
    assert filled({"recipe": "base 9 g"}, {}, same)[0]["recipe"] == "base 9 g"
