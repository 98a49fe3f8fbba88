"""What is set stands as the target has it; what is measured is nobody's until somebody measured it in that run."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from flask.testing import FlaskClient
from shop import Shop, clock, fresh, two_colours
from sqlite_utils import Database
from test_command_parity import data, tickets
from test_web_runs import hang_both, post, press, story

from tickets.actions import runs
from tickets.domain import setting
from tickets.domain.jobs.job import Dryer
from tickets.domain.posted import form
from tickets.domain.runs import curing, setup
from tickets.queries import at_press, repeats, run_plan, sheets, target
from tickets.queries import tickets as tickets_now

__all__ = ["press"]

TAKEN = {"s1.hardness_measured": "68", "s1.off_contact_measured": "1.9 mm", "s2.time_cold": "9 s",
         "run.garment_peak": "163 °C", "run.peak_how": "probe", "run.hold": "61 s",
         "run.belt_speed": "1.1 m/min"}  # fmt: skip
SET = {"s1.squeegee": "75 · square", "s1.angle": "15 deg", "s1.note": "pull the first piece twice", "run.belt_set": "2"}


@pytest.fixture
def repeat(shop: Shop, press: FlaskClient, db: Database) -> tuple[int, int]:
    """A run with everything measured that is the target, and the next one with its screens hung, nothing noted."""
    job = shop.job()
    first, _white, _blue = hang_both(press, shop, job)
    assert post(press, first, "sheet", **TAKEN, **SET).status_code == 303
    sent = {"approved_by": "Bo Lind", "approved_as": "press"}
    for step, values in (("approve", sent), ("start", {}), ("count", {"good": "20"}), ("finish", {"then": "keep"})):
        assert post(press, first, step, **values).status_code == 303, step
    runs.log(db, shop.actor("Cy Marsh"), first, "use-next-time", form({}), post=fresh(), now=clock())
    second, _white, _blue = hang_both(press, shop, job, shop.other_press)
    return first, second


def test_one_tap_sets_up_as_the_target_and_measures_nothing(
    repeat: tuple[int, int], press: FlaskClient, db: Database
) -> None:
    first, second = repeat
    assert post(press, second, "sheet").status_code == 303
    said = story(db, second).settings
    assert said["1"]["squeegee"] == "75 · square" and said["1"]["angle"] == "15 deg" and said["run"]["belt_set"] == "2"
    assert "note" not in said["1"] and not [name for part in said.values() for name in part if name in setting.MEASURED]
    aim = target.aim(db, run_plan.plan(db, second).job, 1)[0]
    assert aim["1"]["hardness_measured"] == "68 Shore A" and aim["run"]["garment_peak"] == "163 °C"
    assert aim["1"]["note"] == SET["s1.note"]  # it is told, as of the run before
    page = press.get(f"/runs/{second}").text
    assert "6 readings still to take" in page and "Garment peak to reach: 163" in page.replace("\xa0", " ")
    whole = press.get(f"/runs/{second}/sheet").text
    assert "68 Shore A" in whole and "not measured" in whole and "Measured by" not in whole
    told = sheets.setup_of(db, second, "", clock())
    assert all(not one.as_run for one in told.whole if one.label in ("Garment peak", "Peak measured how"))
    assert told.measured == (
        "As the target, not looked at one by one: position 1, 2, 3, the whole run (Bo Lind, 2026-03-10 10:00).",
    )
    assert story(db, first).measured["run"]["garment_peak"]["who"] == "Bo Lind"


def test_a_customer_reads_nothing_as_measured_that_was_not(
    repeat: tuple[int, int], press: FlaskClient, db: Database
) -> None:
    _first, second = repeat
    assert post(press, second, "sheet", **{"run.hold": "60 s"}).status_code == 303
    found = repeats.compared(db, second)
    assert found is not None
    said = {(line.station, line.what): (line.a, line.b) for line in found.for_customer}
    assert said[1, "hardness_measured"] == ("68 Shore A", "not measured")
    assert said[0, "garment_peak"] == ("163 °C", "not measured") and said[0, "hold"] == ("61 s", "60 s")
    assert said[0, "peak_how"] == ("probe", "not measured")


def test_who_measured_and_when_stays_with_each_value(
    repeat: tuple[int, int], press: FlaskClient, shop: Shop, db: Database, client: FlaskClient, sign_in: Any
) -> None:
    _first, second = repeat
    assert post(press, second, "sheet", **{"run.garment_peak": "325 °F"}).status_code == 303
    before = story(db, second).measured["run"]["garment_peak"]
    lead = sign_in(client, "Cy Marsh")
    assert post(lead, second, "sheet", **{"run.hold": "62 s", "s1.hardness_measured": "67"}).status_code == 303
    taken = story(db, second).measured
    assert taken["run"]["garment_peak"] == before and before["who"] == "Bo Lind"
    assert taken["run"]["hold"]["who"] == taken["1"]["hardness_measured"]["who"] == "Cy Marsh"
    whole = lead.get(f"/runs/{second}/sheet").text
    assert "Measured by Bo Lind" in whole and "Measured by Cy Marsh" in whole


def test_a_measurement_after_the_approval_is_no_change_and_needs_no_reason(
    repeat: tuple[int, int], press: FlaskClient, db: Database
) -> None:
    _first, second = repeat
    assert post(press, second, "sheet").status_code == 303
    assert post(press, second, "approve", approved_by="Bo Lind", approved_as="press").status_code == 303
    assert post(press, second, "sheet", **{"run.garment_peak": "165 °C"}).status_code == 303  # no reason
    assert post(press, second, "sheet", **{"s1.squeegee": "80"}).status_code == 422  # set otherwise: why?
    assert story(db, second).measured["run"]["garment_peak"]["who"] == "Bo Lind"
    found = repeats.compared(db, second)
    assert found is not None
    said = {(line.station, line.what): (line.a, line.b) for line in found.lines}
    assert said[0, "garment_peak"] == ("163 °C", "165 °C") and (0, "changed") not in said
    assert post(press, second, "sheet", **{"run.garment_peak": "150 °C"}).status_code == 422  # another one is a change


def test_a_measurement_on_an_older_sheet_reads_as_noted_at_the_set_up() -> None:
    """Of before it was kept who measured: shown with that doubt, never as measured; its value is no less a target."""
    old = {"stations": {"1": {"squeegee": "70", "hardness_measured": "68"}}, "run": {"garment_peak": "163 °C"}}
    by = {"who": "Bo Lind", "person": 3, "at": "2026-01-03T10:00:00+00:00"}
    settings = setup.parts_of(old)
    again = {"1": {**settings["1"], "off_contact_measured": "2 mm"}, "run": {"garment_peak": "320 °F"}}
    peak = {**by, "before": {"value": "163 °C"}}
    assert setup.taken(again, settings, {}, by) == {"1": {"off_contact_measured": by}, "run": {"garment_peak": peak}}
    assert setup.readings("320 °F", peak) == [setup.Reading("163 °C"), setup.Reading("320 °F", "Bo Lind", by["at"])]
    assert setup.taken(settings, settings, {}, by) == {}  # the same value again is no measuring
    later = {"field": "hold", "from": "", "to": "60 s", "measured": by}
    whole = setup.with_later(old, [later, {"field": "garment_peak", "from": "", "to": "9 °C", "measured": by}])
    assert whole["run"] == {"garment_peak": "163 °C", "hold": "60 s"} and whole["measured"] == {"run": {"hold": by}}
    (doubted, known) = sorted(setup.by_whom(setup.parts_of(whole), whole["measured"]), key=lambda one: one.at)
    assert doubted.who == "" and ("1", "hardness_measured", "68") in doubted.what
    assert known.what == (("run", "hold", "60 s"),)


def test_the_cure_says_whether_the_peak_was_measured_planned_or_only_noted(
    repeat: tuple[int, int], press: FlaskClient, db: Database
) -> None:
    _first, second = repeat
    plan = run_plan.plan(db, second)
    placement = replace(plan.placement, dryer=Dryer(garment_peak_c=150.0, hold_s=60.0))
    noted = {"garment_peak": "150 °C"}
    words = [
        curing.heat_of(placement, values, doubted).peak_word
        for values, doubted in (({}, ()), (noted, ()), (noted, {"garment_peak"}))
    ]
    assert words == ["as planned", "as measured", "noted at set-up"]
    assert post(press, second, "sheet").status_code == 303
    assert at_press.curing(db, run_plan.plan(db, second)) == []  # the target's 163 °C is nobody's measurement here


@pytest.mark.parametrize("approved", [False, True])
def test_a_value_measured_again_stands_beside_who_read_it_with_what_was_before(
    repeat: tuple[int, int], press: FlaskClient, db: Database, client: FlaskClient, sign_in: Any, approved: bool
) -> None:
    """Bo reads 161, then Di reads 163: neither stands beside the other one's name, on page and paper."""
    _first, second = repeat
    assert post(press, second, "sheet", **{"run.garment_peak": "161 °C", "run.hold": "60 s"}).status_code == 303
    if approved:
        assert post(press, second, "approve", approved_by="Bo Lind", approved_as="press").status_code == 303
    clock.on(minutes=7)
    sign_in(client, "Di Novak")
    again = {"run.garment_peak": "163 °C", **({"why": "flash or cure"} if approved else {})}
    assert post(client, second, "sheet", **again).status_code == 303
    row = next(one for one in client.get(f"/runs/{second}/sheet").text.split("<tr") if ">Garment peak<" in one)
    assert "<td>161 °C (Bo Lind, 10 Mar, 10:00)<br>163 °C (Di Novak, 10 Mar, 10:07)</td>" in row.replace("\xa0", " ")
    told = sheets.setup_of(db, second, "", clock())
    (peak,) = [one.as_run for one in told.whole if one.label == "Garment peak"]
    assert peak.replace("\xa0", " ") == "161 °C, then 163 °C"
    bo, di = [one.replace("\xa0", " ") for one in told.measured if one.startswith("Measured by")]
    assert bo.startswith("Measured by Bo Lind, 2026-03-10 10:00: ") and "161 °C" in bo and "163" not in bo
    assert di == "Measured by Di Novak, 2026-03-10 10:07: Garment peak 163 °C."


def test_run_show_says_what_was_not_measured_in_the_words_of_the_page_and_measured_values_with_who(
    repeat: tuple[int, int], press: FlaskClient, db: Database
) -> None:
    first, second = repeat
    assert post(press, second, "sheet", **{"run.hold": "60 s"}).status_code == 303
    page = press.get(f"/runs/{second}").text
    said = tickets(db, "run", "show", str(second)).stdout.replace("\xa0", " ")
    assert "5 readings still to take" in page
    assert "5 readings still to take: 1. white, Squeegee hardness to reach: 68 Shore A; " in said
    assert "    measured: Held at the peak 60 s (Bo Lind, 2026-03-10 10:00)" in said
    assert (
        "2. flash (as the target, not looked at one by one, by Bo Lind, 2026-03-10 10:00): Flash or cool-down time 6 s"
        in said
    )
    (part,) = [one.splitlines()[0] for one in said.split("\n  ") if one.startswith("the whole run (")]
    assert part.startswith("the whole run (noted by Bo Lind") and "60" not in part and "Held" not in part
    (told,) = data(db, "run", "show", str(second))["set_up"]
    assert [(one["part"], one["setting"]) for one in told["not_measured"]].count(("run", "garment_peak")) == 1
    assert told["parts"][-1]["measured"][0]["readings"] == [
        {"value": "60 s", "who": "Bo Lind", "at": story(db, second).measured["run"]["hold"]["at"]}]  # fmt: skip
    assert "still to take" not in tickets(db, "run", "show", str(first)).stdout, "all was measured"


def test_the_set_up_sheet_of_a_repeat_says_each_target_once_and_whose_note_it_is(
    repeat: tuple[int, int], press: FlaskClient, shop: Shop, db: Database
) -> None:
    """Run 1 left a note; the order has one of its own. Run 2 leaves none: run 3 has run 1's note still, as run 1's."""
    first, second = repeat
    told = sheets.setup_of(db, second, "", clock()).stations[0].target
    assert " | ".join(told).count("Off-contact to gauge: 1.9 mm") == 1, told
    assert f"note of run {first}: {SET['s1.note']} · Off-contact to gauge: 1.9 mm" in told
    page = press.get(f"/runs/{second}/sheet").text
    assert f"<td>note of run {first}: {SET['s1.note']}</td>" in page
    assert post(press, second, "sheet", **{"s3.strokes": "2"}).status_code == 303
    assert post(press, second, "approve", approved_by="Bo Lind", approved_as="press").status_code == 303
    assert post(press, second, "finish", then="keep", uncounted="elsewhere").status_code == 303
    runs.log(db, shop.actor("Cy Marsh"), second, "use-next-time", form({}), post=fresh(), now=clock())
    stations = [{**one, "note": "mind the collar"} if one["does"] == "print" else one
                for one in two_colours()["placement"][0]["station"]]  # fmt: skip
    placement = {"name": "Full front", "width": "300 mm", "from": "from 70 mm", "station": stations}
    again = shop.job(placement=[placement], repeats=run_plan.plan(db, second).job.code)
    row = tickets_now.job_ticket(db, again, "http://192.0.2.7:8600", clock()).placements[0].stations[0]
    assert row.note == (f"mind the collar · note of run {first}: {SET['s1.note']} · Off-contact to gauge: 1.9 mm"), (
        "the order's own note stands beside it"
    )
