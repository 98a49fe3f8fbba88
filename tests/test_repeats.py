"""A repeat in a real shop file: which run it goes back to, what has changed since, and the two side by side.

What a reorder is compared by is common practice; the case is worked by hand.
"""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from shop import Shop, fresh
from test_repeat import BASE, job

from tickets.actions import buckets, hanging, runs, shop
from tickets.calculator.verdict import Level, say
from tickets.domain.code import shown
from tickets.domain.posted import form
from tickets.domain.refusal import NotFound
from tickets.domain.runs import comparison
from tickets.domain.runs.comparison import ComparedLine
from tickets.domain.spec import Row
from tickets.queries import repeats, run_plan, sheets, target, tickets
from tickets.store import jobs as store_jobs
from tickets.store import runs as store_runs


def two_presses(folder: Path) -> Shop:
    """A shop with two presses, whose runs are set up whole."""
    made = Shop.begun(folder)
    made.place("Press 1", "press", heads=10)
    made.place("Press 2", "press", heads=10)
    return made


def ahead(press: Shop, order: store_jobs.Saved) -> list[tuple[str, int]]:
    """What will differ, by its key and station."""
    (found,) = repeats.to_come(press.db, order, press.now)
    return [(one.key, one.station) for one in found.differences]


@pytest.fixture
def press(tmp_path: Path) -> Shop:
    return two_presses(tmp_path)


@pytest.fixture
def first(press: Shop) -> tuple[store_jobs.Saved, dict[int, str], int]:
    """The first order, printed and approved, its screens kept."""
    order = press.job(job())
    hung = press.screens_for(order)
    run = press.set_up(order, hung, s1__squeegee="75 · square · 15 deg", s2__time="7 s")
    press.approve(run, 50, 0, 0)
    press.print_out(run)
    return order, hung, run


def compared_with(press: Shop, order: store_jobs.Saved, place: int = 1, run: int = 0) -> tuple[int, bool]:
    """The run that a placement is compared with, and whether it is marked as the target."""
    found = target.against(press.db, order, place, store_runs.get(press.db, run) if run else None)
    return found.run.id if found.run else 0, found.marked


def side(press: Shop, run: int) -> dict[tuple[int, str], ComparedLine]:
    found = repeats.compared(press.db, run)
    assert found is not None
    return {(one.station, one.what): one for one in found.lines}


def test_a_job_that_repeats_nothing_says_that_nothing_was_approved(press: Shop):
    order = press.job(job())
    assert ahead(press, order) == [("repeat-none-approved", 0)]
    run = press.set_up(order, {})
    assert repeats.compared(press.db, run) is None
    with pytest.raises(NotFound):
        repeats.compared(press.db, 99)


def test_a_repeat_names_the_run_it_goes_back_to_and_its_kept_screens(press: Shop, first: Any):
    order, hung, run = first
    again = press.again(order)
    (found,) = repeats.to_come(press.db, again, press.now)
    assert found.origin is not None and found.origin.run == run and found.origin.code == order.code
    by_station = {(one.key, one.station): one for one in found.differences}
    fit, setting = "repeat-screen-fit", "repeat-setting"
    assert set(by_station) == {(fit, 1), (fit, 3), (setting, 1), (setting, 2)}
    assert {one.numbers["screen"] for one in found.differences if "screen" in one.numbers} == {
        shown(code) for code in hung.values()
    }
    # the job sheet says 70 and 6 s, the print was approved with 75 and 7 s, and nobody said “use these next time”
    run_with = [one.numbers["was"] for one in found.differences if one.key == setting]
    assert run_with == ["75 · square · 15 deg", "7 s"]


def test_use_these_next_time_makes_the_approved_settings_the_target(press: Shop, first: Any):
    order, _hung, run = first
    press.step(run, "use-next-time")
    assert not [key for key, _station in ahead(press, press.again(order)) if key == "repeat-setting"]


def test_what_was_not_measured_is_no_target_and_leaves_what_was_known(press: Shop):
    """2 mm by the first run, 15 deg by the job sheet; the hardness was never measured, so nothing is aimed at there."""
    order = press.job(job())
    hung = press.screens_for(order)
    first = press.set_up(order, hung, s1__off_contact="2 mm")
    not_read = {"s1__off_contact__not": "yes", "s1__angle__not": "yes", "s1__hardness_measured__not": "yes"}
    press.approve(first)
    press.step(first, "use-next-time")
    press.print_out(first)
    again = press.again(order)
    second = press.set_up(again, hung, s1__squeegee="75", **not_read)
    press.approve(second)
    press.step(second, "use-next-time")
    press.print_out(second)
    third = press.set_up(press.again(again), {})
    plan = run_plan.plan(press.db, third)
    aim, source = target.aim(press.db, plan.job, 1, plan.run)
    assert aim["1"]["off_contact"] == "2 mm" and aim["1"]["angle"] == "15 deg" and aim["1"]["squeegee"] == "75"
    assert "hardness_measured" not in aim["1"]
    assert source == f"approved run {second}, what it did not measure as before"


# One thing is changed, one line comes: each with what it was and what it is


def approved_as_it_says(press: Shop) -> tuple[store_jobs.Saved, dict[int, str], int]:
    """A first order approved just as its sheet says, its ink lots noted, frames of every mesh free."""
    for mesh in (("160/in", "64"), ("230/in", "48"), ("240/in", "48"), ("230/in", "40")):
        press.frame(*mesh)
    order = press.job(job())
    hung = press.screens_for(order, bucket=press.mix("Blue Dual", lot="4"))
    run = press.set_up(order, hung, s1__ink_lot="W7", s3__ink_lot="R3")
    press.approve(run)
    press.print_out(run)
    return order, hung, run


@pytest.fixture(scope="module")
def one_shop(tmp_path_factory: pytest.TempPathFactory) -> tuple[Shop, store_jobs.Saved]:
    """A shop for the whole table: its cases only add orders."""
    press = two_presses(tmp_path_factory.mktemp("table"))
    return press, approved_as_it_says(press)[0]


P, W, F, R = "placement__0__", "placement__0__station__0__", "placement__0__station__1__", "placement__0__station__2__"
CHANGED_SHEET: list[tuple[dict[str, Any], str, str, str]] = [
    ({"art__revision": "3"}, "repeat-revision", "2", "3"),
    ({"art__name": "Tern"}, "repeat-art", "Gull", "Tern"),
    ({P + "width": "280 mm"}, "repeat-size", "300 mm", "280 mm"),
    ({P + "height": "240 mm"}, "repeat-height", "250 mm", "240 mm"),
    ({"garment__0__style": "Light tee"}, "repeat-garment-style", "Heavy tee", "Light tee"),
    ({"garment__0__colour": "black"}, "repeat-garment-colour", "navy", "black"),
    ({"garment__0__lot": "L8"}, "repeat-garment-lot", "L7", "L8"),
    ({"garment__0__lot": None}, "repeat-garment-lot-unknown", "L7", "–"),
    ({"garment__0__fibre": {"cotton": 60, "polyester": 40}}, "repeat-garment-fibre", "100 % cotton", "40 % polyester"),
    ({R + "mesh__count": "240/in"}, "repeat-mesh", "230/in", "240/in"),  # beyond 230 + 3 % = 236.9
    ({R + "mesh__thread": "40 um"}, "repeat-mesh", "48 µm", "40 µm"),  # 8 µm, over the 2 µm
    ({W + "ink": "low-cure plastisol"}, "repeat-ink-kind", "plastisol", "low-cure plastisol"),
    ({W + "series": "White B"}, "repeat-ink-series", "White A", "White B"),
    ({R + "reference": "Guide C 45"}, "repeat-ink-reference", "Guide C 44", "Guide C 45"),
    ({R + "colour": "crimson", R + "separation": "red"}, "repeat-ink-colour", "red", "crimson"),
    ({W + "squeegee__hardness": "80"}, "repeat-setting", "70", "80"),
    ({W + "squeegee__angle": "10 deg"}, "repeat-setting", "15 deg", "10 deg"),
    ({W + "strokes": 1}, "repeat-setting", "2", "1"),
    ({W + "off_contact": "2 mm"}, "repeat-sheet", "–", "2 mm"),
    ({W + "choke": "1 pt"}, "repeat-sheet", "0.5 pt", "1 pt"),
    ({W + "coverage": "30 %"}, "repeat-sheet", "–", "30 %"),
    ({R + "halftone": {"ruling": "45 /in"}}, "repeat-sheet", "–", "45 /in"),
    ({R + "recipe": {"base": 90, "pigment": 10}}, "repeat-sheet", "–", "pigment 10 g"),
    ({R + "note": "gently"}, "repeat-sheet", "–", "gently"),
    ({R + "head": 5}, "repeat-sheet", "–", "5"),
    ({F + "time": "8 s"}, "repeat-setting", "6 s", "8 s"),
    ({F + "surface": "110 degC"}, "repeat-sheet", "105 degC", "110 degC"),
    ({P + "platen": "wide"}, "repeat-sheet-whole", "–", "wide"),
    ({P + "from": "80 mm below the seam"}, "repeat-sheet-whole", "–", "80 mm below the seam"),
    ({P + "dryer": {"belt_speed": "2 m/min"}}, "repeat-sheet-whole", "–", "2 m/min"),
]  # fmt: skip


def said(press: Shop, order: store_jobs.Saved, run: int = 0) -> list[tuple[str, str]]:
    """What differs from last time, in words: what was looked at and is as before, and lots still to come, left out."""
    the_run = store_runs.get(press.db, run) if run else None
    (found,) = [repeats.differences(press.db, order, 1, press.now, run=the_run)]
    return [
        (one.key, say(one.reason).sentence.replace("\u00a0", " "))
        for one in found.differences
        if one.level is not Level.OK and one.key != "repeat-ink-lot-unknown"
    ]


def test_an_order_as_it_was_differs_in_nothing(one_shop: Any):
    press, order = one_shop
    assert said(press, press.again(order)) == []


@pytest.mark.parametrize(
    ("changes", "key", "was", "now"), CHANGED_SHEET, ids=[str(list(one[0])[0]) for one in CHANGED_SHEET]
)
def test_one_change_of_the_sheet_is_one_line(one_shop: Any, changes: dict[str, Any], key: str, was: str, now: str):
    press, order = one_shop
    found = said(press, press.job(job(**changes, repeats=order.code)))
    assert [one for one, _sentence in found] == [key]
    assert was in found[0][1] and now in found[0][1]


def test_one_change_of_the_shop_is_one_line(press: Shop):
    """Ink lot, press, limits and screens: each is changed alone, and told with what it was."""
    order, hung, _run = approved_as_it_says(press)
    again = press.again(order)
    (found,) = repeats.to_come(press.db, again, press.now)
    lots = [one for one in found.differences if one.key == "repeat-ink-lot-unknown"]
    assert [(one.station, one.numbers["was"], one.level) for one in lots] == [
        (1, "W7", Level.UNKNOWN), (3, "R3", Level.UNKNOWN)
    ]  # fmt: skip
    run = press.set_up(again, {}, s1__ink_lot="W8", s3__ink_lot="r3")
    assert said(press, again, run) == [
        ("repeat-ink-lot", f"Position 1 (white): ink lot W8; last time, run {_run}: W7.")
    ]
    press.step(run, "sheet", s1__ink_lot="W7")
    assert said(press, again, run) == []
    other = press.again(order)
    moved = press.set_up(other, {}, press="Press 1", s1__ink_lot="W7", s3__ink_lot="R3")
    assert said(press, other, moved) == [
        ("repeat-press", f"This run is on Press 1; last time, run {_run}, it was Press 2.")
    ]
    row = Row(0, "colour-warn", 0.8, "", {}, "agreed with the customer")
    shop.add_spec_row(press.db, press.manager, row, now=press.tick())
    ((key, sentence),) = said(press, again)
    assert key == "repeat-spec" and "1, now 0.8" in sentence
    shop.add_spec_row(press.db, press.manager, replace(row, value=1.0), now=press.tick())
    press.log(hung[3], "tension", readings_n_per_cm="9 9 9")  # the floor of several colours is 15
    ((key, sentence),) = said(press, again)
    assert key == "repeat-screen-unfit" and shown(hung[3]) in sentence and "9" in sentence and "15" in sentence
    press.log(hung[3], "tension", readings_n_per_cm="22 22 22 22 22")
    assert said(press, again) == []
    press.log(hung[1], "strip", in_hand="yes", still_needed="yes")
    ((key, sentence),) = said(press, again)
    assert key == "repeat-screen-gone" and shown(hung[1]) in sentence and "“reclaimed”" in sentence


def test_a_stripped_screen_is_gone_and_the_free_frames_are_counted(press: Shop, first: Any):
    order, hung, _run = first
    again = press.again(order)
    press.log(hung[1], "strip", in_hand="yes", still_needed="yes")
    assert ("repeat-screen-gone", 1) in ahead(press, again)
    # that frame, stripped, is the one free frame of its mesh
    (found,) = repeats.to_come(press.db, again, press.now)
    assert next(one.numbers["free"] for one in found.differences if one.key == "repeat-mesh-free") == 1
    press.log(hung[1], "retire", cause="frame")
    assert ("repeat-mesh-none", 1) in ahead(press, again)
    press.frame("160/in", "48")  # another thread
    assert ("repeat-mesh-none", 1) in ahead(press, again)
    press.frame("160/in", "64")
    assert ("repeat-mesh-free", 1) in ahead(press, again)


@pytest.mark.parametrize(
    ("count", "thread", "free"),
    # the shipped limits: 160 +- 3 % is 155.2 to 164.8, and 64 +- 2 um
    [("160/in", "64", True), ("164/in", "66", True), ("156/in", "62", True), ("166/in", "64", False),
     ("154/in", "64", False), ("160/in", "67", False), ("160/in", "61", False)],
)  # fmt: skip
def test_a_free_frame_counts_within_the_limits_of_the_same_mesh(
    press: Shop, first: Any, count: str, thread: str, free: bool
):
    order, hung, _run = first
    press.log(hung[1], "strip", in_hand="yes", still_needed="yes")
    press.log(hung[1], "retire", cause="frame")
    press.frame(count, thread)
    assert (("repeat-mesh-free", 1) in ahead(press, press.again(order))) is free


def test_stations_that_come_and_go_are_no_trouble(press: Shop, first: Any):
    order, _hung, _run = first
    front = BASE["placement"][0]
    blue = {**front["station"][2], "colour": "blue"}
    new = press.job(job(placement=[{**front, "station": [blue, front["station"][0]]}], repeats=order.code))
    found = ahead(press, new)
    assert ("repeat-station-new", 1) in found and ("repeat-mesh-none", 1) in found
    assert ("repeat-screen-fit", 2) in found and [key for key, _station in found].count("repeat-station-gone") == 2


def test_a_screen_made_anew_in_the_meantime_is_named(press: Shop, first: Any):
    order, hung, _run = first
    again = press.again(order)
    press.log(hung[1], "strip", in_hand="yes", still_needed="yes")
    new = press.screens_for(again)[1]
    (found,) = repeats.to_come(press.db, again, press.now)
    by_key = {one.key: one.numbers.get("screen") for one in found.differences if one.station == 1}
    assert by_key["repeat-screen-gone"] == shown(hung[1]) and by_key["repeat-screen-other"] == shown(new)
    assert "repeat-mesh-free" not in by_key


def test_a_screen_that_came_off_to_be_stripped_covers_no_repeat_until_it_is_kept_after_all(press: Shop):
    order = press.job(job())
    hung = press.screens_for(order)
    run = press.set_up(order, hung)
    press.approve(run)
    press.print_out(run, then="strip")
    again = press.again(order)
    off, fit = ("repeat-screen-to-strip", 1), ("repeat-screen-fit", 1)
    assert off in ahead(press, again) and fit not in ahead(press, again)
    press.log(hung[1], "clean")
    assert off in ahead(press, again)  # to strip, by what the press said; nobody did so yet
    press.log(hung[1], "decide", then="keep")
    assert fit in ahead(press, again)


def test_a_slack_screen_will_not_do(press: Shop, first: Any):
    order, hung, _run = first
    press.log(hung[3], "tension", readings_n_per_cm="9 9 9")  # under the floor of 15 for several colours
    assert ("repeat-screen-unfit", 3) in ahead(press, press.again(order))


def test_a_screen_whose_mesh_was_changed_since_is_shown_as_it_was(press: Shop, first: Any):
    order, hung, run = first
    press.log(hung[1], "strip", in_hand="yes", still_needed="yes")
    press.log(hung[1], "stretch", mesh_count_as_labelled="305/in", thread_um="34", frame="aluminium")
    then = repeats.as_run(press.db, store_runs.get(press.db, run)).screens[1]
    assert then.mesh == "160/in · 64 µm" and then.mean_n_per_cm == pytest.approx((24 * 4 + 23.5) / 5)


def test_the_emulsion_is_said_by_product_and_lot(press: Shop):
    mixed = form({"kind": "dual-cure emulsion", "product": "Blue Dual", "lot": "4"})
    bucket = buckets.mix(press.db, press.me, mixed, post=fresh(), now=press.tick())
    order = press.job(job())
    hung = press.screens_for(order, bucket=bucket)
    run = press.set_up(order, hung)
    press.approve(run)
    assert repeats.as_run(press.db, store_runs.get(press.db, run)).screens[1].emulsion == "Blue Dual · 4"


def test_limits_changed_since_the_approval_are_said(press: Shop, first: Any):
    order, _hung, _run = first
    again = press.again(order)
    assert "repeat-spec" not in dict(ahead(press, again))
    row = Row(0, "colour-warn", 0.8, "", {}, "agreed with the customer")
    shop.add_spec_row(press.db, press.manager, row, now=press.tick())
    (found,) = repeats.to_come(press.db, again, press.now)
    (one,) = [one for one in found.differences if one.key == "repeat-spec"]
    assert (one.numbers["was"], one.numbers["now"]) == ("1", "0.8")
    shop.add_spec_row(press.db, press.manager, replace(row, value=1.0), now=press.tick())
    assert "repeat-spec" not in dict(ahead(press, again))


def test_the_sheet_is_the_one_of_the_approval_not_of_later_changes(press: Shop):
    order = press.job(job())
    run = press.set_up(order, press.screens_for(order), s1__squeegee="75")
    press.approve(run)
    press.step(run, "sheet", s1__squeegee="80")
    assert repeats.as_run(press.db, store_runs.get(press.db, run)).settings(1)["squeegee"] == "75"


def test_changes_after_the_approval_go_along_to_the_next_run(press: Shop):
    """What was changed before an approval that replaced another one belongs to it; a garment is no setting."""
    order = press.job(job())
    run = press.set_up(order, press.screens_for(order), s1__squeegee="75")
    press.approve(run)
    press.step(run, "sheet", s2__time="7 s", why="tacky")
    press.step(run, "cross-out", why="again", entry=store_runs.get(press.db, run).story.approved["entry"])
    press.approve(run)
    press.step(run, "start")
    press.step(run, "sheet", s1__squeegee="80", why="edge not sharp")
    press.step(run, "change", station=3, what="more pressure", why="pale")
    press.step(run, "change", what="colourway", garment="1")
    changes = repeats.as_run(press.db, store_runs.get(press.db, run)).changes
    assert [(one.station, one.said()) for one in changes] == [
        (1, "Squeegee from 75 to 80 (edge not sharp)"), (3, "more pressure (pale)")
    ]  # fmt: skip
    press.print_out(run)
    press.step(run, "use-next-time")
    again = press.again(order)
    after = [one for one in said(press, again) if one[0] == "repeat-changed-after"]
    assert [sentence for _key, sentence in after] == [
        f"After the approval of run {run}, position 1 (white) – Squeegee from 75 to 80 (edge not sharp).",
        f"After the approval of run {run}, position 3 (red) – more pressure (pale).",
    ]
    front = tickets.job_ticket(press.db, again, "http://192.0.2.7:8600", press.now).placements[0]
    assert [row.changed for row in front.stations] == [
        f"Changed after the approval of run {run}: Squeegee from 75 to 80 (edge not sharp)", "",
        f"Changed after the approval of run {run}: more pressure (pale)",
    ]  # fmt: skip
    assert front.stations[0].squeegee.startswith("75, ")  # what was approved stays the target
    second = press.set_up(again, {})
    for one in (run, second):  # the sheet of the run itself has nothing that came after it
        targets = [station.target[-1] for station in sheets.setup_of(press.db, one, "", press.now).stations]
        assert ["edge not sharp" in text for text in targets] == [one == second, False, False]


def test_the_set_up_sheet_says_its_own_target_whole(press: Shop):
    """Also once the run is the target of the next one; what has no place of its own there stands with the note."""
    order = press.job(job(placement__0__station__0__note="Mix for four hours at most."))
    hung = press.screens_for(order)
    first = press.set_up(order, hung, s1__hardness_measured="72", s1__additives="1 % retarder", run__platen="wide")
    press.approve(first)
    press.step(first, "use-next-time")
    press.print_out(first)
    second = press.set_up(press.again(order), hung, run__platen="narrow")
    for run, wanted, platen in ((first, False, ""), (second, True, "wide")):
        sheet = sheets.setup_of(press.db, run, "", press.now)
        target = " | ".join(sheet.stations[0].target)
        assert sheet.placement.platen == platen and "Mix for four hours at most." in target
        for text in ("Squeegee hardness to reach: 72", "Additives: 1 % retarder"):
            assert (text in target) is wanted


def test_two_runs_stand_side_by_side(press: Shop, first: Any):
    order, hung, _run = first
    garments = (replace(order.sheet.garments[0], lot="L8"),)
    again = press.again(order, garments=garments)
    new = press.frame("230/in", "48")
    press.ready(new, store_jobs.asked(press.db, again, 1)[1].separation)
    press.log(new, "tension", readings_n_per_cm="21 21 21 21 21")
    run = press.set_up(again, {1: hung[1], 3: new}, "Press 1", s1__squeegee="75 · square · 15 deg", s2__time="6 s")
    press.approve(run, 51.5, 0, 0)
    found = side(press, run)
    beside = {"screen", "garment_lot"}
    differ = {place: one.by_how_much for place, one in found.items() if one.differs and place[1] not in beside}
    assert set(differ) == {(0, "press"), (2, "time"), (3, "tension"), (3, "tension_low"), (3, "colour")}
    assert differ[2, "time"] == "−1 s"
    # mean of 24, 24, 23.5, 24, 24 is 23.9; 21 - 23.9 = -2.9, which is 12 %
    assert differ[3, "tension"] == "−2.9\u00a0N/cm, −12 %"
    # CIEDE2000 of L* 50 and 51.5: 1.5 / (1 + 0.015 x 0.75^2 / sqrt(20 + 0.75^2)) = 1.497
    assert differ[3, "colour"] == "ΔE00 1.5" and found[3, "colour"].verdict.level is Level.CAUTION
    assert found[3, "screen"].differs and found[1, "screen"].differs is False
    press.step(run, "cross-out", why="by another", entry=store_runs.get(press.db, run).story.approved["entry"])
    press.step(run, "approve", approved_by="Cy Marsh", approved_as="press")
    both = repeats.compared(press.db, run)
    assert both is not None
    otherwise = {one.what for one in both.lines if one.differs}
    settings = {one.what for one in both.differing.large if one.counts}
    assert "approved" in otherwise and settings == otherwise - {"approved"}


def test_the_colour_is_of_the_run_compared_with_and_its_drift_of_the_first_measured(press: Shop, first: Any):
    """Nothing is marked, so each is compared with the one before it; three steps of 0.7 are 2.1 from the first."""
    order, hung, run = first
    orders, last = [order], run
    for lightness in (50.7, 51.4, 52.1):
        orders.append(press.again(orders[-1]))
        last = press.set_up(orders[-1], hung)
        press.approve(last, lightness, 0, 0)
        press.print_out(last)
    found = repeats.compared(press.db, last)
    assert found is not None
    assert (found.before.run, found.after.run, found.against.marked) == (last - 1, last, False)
    colour, drift = (next(one for one in found.lines if one.what == what) for what in ("colour", "drift"))
    assert colour.a == "51.4 0.0 0.0" and not colour.run
    assert colour.verdict is not None and colour.verdict.level is Level.OK
    assert drift.a == "50.0 0.0 0.0" and drift.run == run
    assert drift.verdict is not None and drift.verdict.level is Level.STOP
    assert {one.what for one in found.for_customer} > {"colour", "drift"}
    assert [one.code for one in target.chain(press.db, orders[-1])] == [one.code for one in reversed(orders)]


def test_a_colour_that_was_not_measured_is_not_taken_from_another_print(press: Shop, first: Any):
    """The first print was not measured, the second was, the third was not: the fourth is held against the third alone,
    whose colour nobody knows; how far it is from the second is its drift."""
    order = press.job(job(title="Unread"))
    hung = press.screens_for(order)
    found = []
    for lightness in (None, 50, None, 50.7):
        run = press.set_up(order, hung)
        press.approve(run, *([lightness, 0, 0] if lightness else []))
        press.print_out(run)
        found.append(repeats.compared(press.db, run))
        order = press.again(order)
    judged = [[(one.what, one.verdict.keys) for one in each.lines if one.verdict] for each in found[1:] if each]
    assert judged == [
        [("colour", ("colour-first-not-measured",))], [("colour", ("colour-not-measured",))],
        [("colour", ("colour-first-not-measured",)), ("drift", ("colour-close",))],
    ]  # fmt: skip


def test_an_order_printed_in_two_runs_is_held_against_its_own_first(press: Shop, first: Any):
    order, hung, run = first
    again = press.again(order)
    one = press.set_up(again, hung)
    press.approve(one)
    press.print_out(one)
    two = press.set_up(again, hung, "Press 1")
    found = repeats.compared(press.db, two)
    assert found is not None and found.before.run == one


def test_an_unapproved_run_between_is_passed_over(press: Shop, first: Any):
    order, hung, run = first
    again = press.again(order)
    press.step(press.set_up(again, hung), "pause")
    assert compared_with(press, press.again(again)) == (run, False)


def test_a_placement_of_another_name_goes_back_to_nothing_unless_it_is_the_only_one(press: Shop, first: Any):
    order, _hung, run = first
    renamed = press.again(order, placements=(replace(order.sheet.placements[0], name="Chest"),))
    assert compared_with(press, renamed) == (run, False)
    data = deepcopy(BASE)
    back = {**data["placement"][0], "name": "Back", "width": "310 mm"}
    two = press.job(job(placement=[data["placement"][0], back], repeats=order.code))
    assert [compared_with(press, two, place) for place in (1, 2)] == [(run, False), (0, False)]  # no such back yet


# The one run that is compared with


def printed_run(press: Shop, order: store_jobs.Saved, hung: dict[int, str], good: int = 50, **sheet: str) -> int:
    run = press.set_up(order, hung, **sheet)
    press.approve(run)
    if good:
        press.step(run, "count", good=good, over="yes")
    press.step(run, "finish", then="keep", uncounted="none")
    return run


def test_the_run_that_was_marked_last_is_the_target_not_the_newest_of_those_marked(press: Shop, first: Any):
    order, hung, run = first
    again = press.again(order)
    second = printed_run(press, again, hung)
    press.step(second, "use-next-time")
    assert compared_with(press, press.again(again)) == (second, True)
    press.step(run, "use-next-time")  # back to the first one, which is of the job before
    third = press.again(again)
    assert compared_with(press, third) == (run, True)
    assert target.aim(press.db, third, 1)[1] == f"approved run {run}"


def test_a_run_of_no_pieces_is_never_the_one_printed_last(press: Shop, first: Any):
    order, hung, run = first
    again = press.again(order)
    empty = printed_run(press, again, hung, good=0)
    assert compared_with(press, again) == (run, False)
    press.step(empty, "use-next-time")  # what somebody marked counts, whatever it printed
    assert compared_with(press, again) == (empty, True)


def test_a_noted_set_up_stays_with_its_target_and_takes_over_another_when_noted_again(press: Shop, first: Any):
    order, hung, run = first
    press.step(run, "use-next-time")
    second = printed_run(press, order, hung)
    third = press.set_up(order, hung)
    press.step(second, "use-next-time")
    plan = run_plan.plan(press.db, third)
    assert compared_with(press, order, 1, third) == (run, True)
    since = target.marked_since(press.db, plan.job, 1, plan.run)
    assert since is not None and since.id == second
    press.step(third, "sheet")
    assert compared_with(press, order, 1, third) == (second, True)
    assert target.marked_since(press.db, plan.job, 1, run_plan.plan(press.db, third).run) is None
    press.approve(third)
    press.step(third, "start")
    press.step(run, "use-next-time")
    press.step(third, "cross-out", why="again", entry=store_runs.get(press.db, third).story.approved["entry"])
    press.step(third, "sheet")  # what is printed already met the target of then
    assert compared_with(press, order, 1, third) == (second, True)


def test_a_run_approved_without_a_set_up_is_held_against_what_was_marked_by_then(press: Shop, first: Any):
    order, hung, run = first
    second = printed_run(press, order, hung)
    sent = form({"job": order.code, "placement": "1", "press": "Press 2"})
    third = runs.open_run(press.db, press.lead, sent, post=fresh(), now=press.tick())
    for station, code in hung.items():
        sent = form({"screen": code, "head": station + 1, "station": station})
        hanging.hang(press.db, press.lead, third, sent, post=fresh(), now=press.tick())
    press.step(run, "use-next-time")
    press.approve(third)
    press.step(second, "use-next-time")
    assert compared_with(press, order, 1, third) == (run, True)


# All that printed, all that changed


def swapped_run(press: Shop, order: store_jobs.Saved, hung: dict[int, str]) -> tuple[int, str]:
    """31 pieces with the first red screen, 42 with another; a slower flash, another bucket, words, another garment."""
    run = press.set_up(order, hung, s1__strokes="1")
    press.approve(run)
    press.step(run, "start")
    other = press.frame("230/in", "48")
    press.ready(other, store_jobs.asked(press.db, order, 1)[1].separation)
    sent = form({"old": hung[3], "new": other, "why": "pinholes", "good": "31", "seen": "caution"})
    runs.log(press.db, press.lead, run, "swap", sent, post=fresh(), now=press.tick())
    press.approve(run)  # the first print of the new screen
    press.step(run, "sheet", s2__time="7 s", why="tacky")
    press.step(run, "change", station=3, what="more pressure, said Boris", why="pale")
    press.step(run, "change", what="colourway", garment="1")
    press.step(run, "count", good=42)
    press.step(run, "finish", then="keep")
    return run, other


def test_a_comparison_says_every_screen_that_printed_and_every_change(press: Shop, first: Any):
    order, hung, _run = first
    again = press.again(order)
    run, other = swapped_run(press, again, hung)
    found = repeats.compared(press.db, run)
    assert found is not None
    lines = {(one.station, one.what): one for one in found.lines}
    red, new = shown(hung[3]), shown(other)
    assert (lines[3, "screen"].a, lines[3, "screen"].b, lines[3, "screen"].differs) == (red, f"{red}; {new}", True)
    assert lines[1, "screen"].differs is False
    assert (lines[3, "impressions"].a, lines[3, "impressions"].b) == (f"{red}: 100", f"{red}: 31; {new}: 42")
    assert lines[1, "impressions"].b == f"{shown(hung[1])}: 73"
    other_one = lines[3, "screen_other"]
    assert other_one.a == "" and other_one.b.startswith(f"{red}: 230/in · 48 µm, Tension, mean ")
    assert lines[3, "changed"].b == f"screen {red} replaced by {new} (pinholes); more pressure, said Boris (pale)"
    assert lines[2, "changed"].b == "Flash or cool-down time from 6 s to 7 s (tacky)"
    assert lines[0, "went_on"].b == "Heavy tee, navy" and (0, "changed") not in lines, "ordered, so no change"
    told = comparison.as_data(found.lines)
    assert {"went_on", "changed", "impressions"} <= {one["setting"] for one in told["happened"]}
    else_where = {one["setting"] for one in (*told["not_known"], *told["differs"])}
    assert not {"went_on", "changed", "impressions"} & else_where
    assert not [one for one in found.lines if one.what in ("impressions", "screen_other", "changed") and one.counts]
    # the customer, in other words: no codes, no reasons, nobody's name
    told_outside = comparison.for_customer(found.lines, found.before, found.after)
    outside = {(one.station, one.what): one for one in told_outside}
    assert not {"impressions", "screen_other", "screen", "tension", "exposure"} & {what for _number, what in outside}
    assert outside[3, "changed"].b == "a screen was replaced by another one; one more change, which the shop has noted"
    assert outside[2, "changed"].b == "Flash or cool-down time from 6 s to 7 s"
    assert not {what for number, what in outside if number == 0} & {"changed", "went_on"}
    told = " ".join(f"{one.a} {one.b}" for one in found.for_customer)
    assert not [word for word in (red, new, hung[3], other, "Boris", "pinholes", "tacky", "pale") if word in told]


def test_a_screen_of_another_mesh_that_came_in_is_another_mesh(press: Shop, first: Any):
    """After a pause, without the word swap: the mesh of all that printed is compared, not of the first one alone."""
    order, hung, _run = first
    order = press.again(order)
    run = press.set_up(order, hung)
    press.approve(run)
    press.step(run, "start")
    press.step(run, "count", good=31)
    press.step(run, "pause")
    other = press.frame("230/in", "40")
    press.ready(other, store_jobs.asked(press.db, order, 1)[1].separation)
    for station, code in {1: hung[1], 3: other}.items():
        sent = form({"screen": code, "head": station + 1, "station": station, "override": "agreed"})
        hanging.hang(press.db, press.lead, run, sent, post=fresh(), now=press.tick())
    press.approve(run)
    press.step(run, "start")
    press.step(run, "count", good=42)
    found = side(press, run)
    assert found[3, "mesh"].b == "230/in · 48 µm; 230/in · 40 µm" and found[3, "mesh"].differs
    assert found[3, "changed"].b == f"screen {shown(hung[3])} replaced by {shown(other)}"
    assert (1, "changed") not in found  # the same screen on the same head again


def test_the_customer_is_told_of_a_new_screen_only_where_one_was_made_since(press: Shop):
    """Both screens are others than last time; the red one lay in the rack already when the print before was made."""
    order = press.job(job())
    hung, spare = press.screens_for(order), press.screens_for(order)
    run = press.set_up(order, hung)
    press.approve(run)
    press.print_out(run)
    made = press.screens_for(order)
    again = press.again(order)
    second = press.set_up(again, {1: made[1], 3: spare[3]})
    press.approve(second)
    told = sheets.customer_of(press.db, second, "", press.now).changed
    assert told[:2] == ("A new screen was made for: white.", "Another screen than last time printed: red.")
