"""What jobs cost: worked by hand on paper, then by people of a shop through page, command and settings."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from shop import Shop

from tickets import demo, store
from tickets.actions import shop as shop_acts
from tickets.domain.refusal import Refused
from tickets.domain.runs import cost
from tickets.domain.runs.cost import Imaged, PressTime, Rates, RunAsks, RunCost, RunMoment
from tickets.domain.runs.run_trace import Upset
from tickets.queries import cost as asked
from tickets.queries import find, sound

SHIFT = timedelta(hours=10)


def steps(*some: tuple[str, str]) -> list[RunMoment]:
    """Steps of one day, such as ("hang", "8:05"); "+8:05" is the day after."""
    return [
        RunMoment(step, datetime.fromisoformat(f"2026-03-{'10' if at[0] == '+' else '09'}T{at.strip('+'):0>5}+00:00"))
        for step, at in some
    ]


@pytest.mark.parametrize(
    ("day", "minutes"),
    [
        ((), PressTime()),
        ((("hang", "8:00"), ("hang", "8:10"), ("start", "8:40"), ("finish", "9:40")), PressTime(40, 60)),
        # a pause is no printing, and what is hung then is no set-up
        (
            (("hang", "8:00"), ("start", "8:30"), ("pause", "9:00"), ("hang", "9:50"), ("start", "10:00"),
             ("finish", "10:15")),
            PressTime(30, 45),
        ),
        ((("start", "8:30"), ("finish", "9:00")), PressTime(None, 30)),
        ((("hang", "8:00"), ("finish", "9:00")), PressTime()),
        # nobody sets up for a night: it is left out, and said
        ((("hang", "16:00"), ("start", "+8:00"), ("finish", "+9:00")), PressTime(None, 60, 1)),
        ((("hang", "16:00"), ("start", "16:20"), ("pause", "+7:00"), ("start", "+7:10"),
          ("finish", "+7:40")), PressTime(20, 30, 1)),
        ((("hang", "8:00"), ("start", "18:00"), ("finish", "+4:00")), PressTime(600, 600)),
        # a second start without a pause between is the same printing
        ((("hang", "8:00"), ("start", "8:10"), ("start", "8:20"), ("finish", "8:50")), PressTime(10, 40)),
        ((("start", "8:10"), ("hang", "8:20"), ("finish", "8:50")), PressTime(None, 40)),
    ],
)  # fmt: skip
def test_the_minutes_of_a_run_are_those_of_its_steps(day: tuple[tuple[str, str], ...], minutes: PressTime) -> None:
    assert cost.at_press(steps(*day), SHIFT) == minutes


def run(number: int, job: int, minutes: PressTime, *upsets: Upset) -> RunCost:
    return cost.run_cost(number, job, f"2026-03-{number:02}T12:00", "Press 1", 1, minutes, upsets)


def stop(cause: str, minutes: float | None) -> Upset:
    return Upset("2026-03-09T09:00", "stop", cause, minutes, 0, 0)


def count(good: int, misprinted: int = 0, cause: str = "") -> Upset:
    return Upset("2026-03-09T09:00", "count", cause, None, good, misprinted)


def stencil(screen: int, day: int, *images: int, faults: str = "", torn: bool = False) -> Imaged:
    return Imaged(screen, 0, f"2026-03-{day:02}T08:00", images, tuple(faults.split()), "", torn)


def test_a_job_worked_by_hand() -> None:
    """Two runs: 30 + 15 min set-up, 60 + 120 min printing, stops of 6 and 12 min, 190 good and 10 spoilt pieces; three
    screens for two images, one of them instead of one that broke down. At 60 an hour, 25 a screen, 4 a garment:
    225 min are 225, three screens 75, ten garments 40: 340; of it lost 18 + 25 + 40 = 83."""
    one = run(9, 1, PressTime(30, 60), stop("pinhole", 6), count(90, 4, "lint"), count(0, 6, "pinhole"))
    two = run(10, 1, PressTime(15, 120), stop("pinhole", 12), stop("ink", None), count(100))
    asks = [
        RunAsks(9, 1, frozenset({1, 2}), "2026-03-01", one.done_at),
        RunAsks(10, 1, frozenset({1, 2}), "2026-03-01", two.done_at),
    ]
    made = cost.made_for(asks, [stencil(1, 5, 1), stencil(2, 5, 2, faults="breakdown"), stencil(3, 6, 2)])
    found = cost.costs([one, two], made, {1: 2})
    (job,) = found.jobs
    assert (job.good, job.misprinted, job.set_up_min, job.printing_min, job.stop_min) == (190, 10, 45, 180, 18)
    assert job.pieces_an_hour == pytest.approx(200 / 3) and len(job.made) == 3 and job.needed == 2
    assert [(one.what.screen, one.instead, one.run) for one in job.remade] == [(3, "breakdown", 9)]
    money = job.money(Rates(60, 25, 4))
    assert (money.all, money.lost) == (pytest.approx(340), pytest.approx(83))
    assert [(one.cause, one.number, one.amount, one.where) for one in found.stops()] == [
        ("pinhole", 2, 18, (9, 10)), ("ink", 1, 0, (10,))]  # fmt: skip
    assert [(one.cause, one.number, one.where) for one in found.misprints()] == [
        ("pinhole", 6, (9,)),
        ("lint", 4, (9,)),
    ]
    assert [(one.cause, one.where) for one in found.remakes()] == [("breakdown", (3,))]


def test_what_has_no_rate_counts_nothing_and_what_nobody_knows_is_not_nought() -> None:
    job = cost.costs([run(9, 1, PressTime(), count(5, 5, "lint"))], [], {}).jobs[0]
    assert job.money(Rates(60, None, 4)) == cost.Money(20, 20) and job.money(Rates(60)) == cost.Money()
    assert job.set_up_min is job.printing_min is job.pieces_an_hour is None
    assert not Rates(currency="EUR") and Rates(screen=0)
    assert cost.added([]) is None and cost.added([None, 0]) == 0


def test_a_screen_is_made_for_the_run_that_was_done_next_with_its_image() -> None:
    march, april = (
        RunAsks(9, 1, frozenset({1}), "2026-03-01", "2026-03-09"),
        RunAsks(10, 2, frozenset({1}), "2026-03-07", "2026-03-20"),
    )

    def of(*some: Imaged) -> list[tuple[int, int, str]]:
        return [(one.run, one.what.screen, one.instead) for one in cost.made_for([april, march], some)]

    assert of(stencil(1, 8, 1)) == [(9, 1, "")]  # though the second job was entered by then
    assert of(stencil(1, 9, 1), stencil(2, 10, 1)) == [(10, 1, ""), (10, 2, "")]
    assert of(stencil(1, 8, 2)) == of(stencil(1, 21, 1)) == []
    assert of(Imaged(1, 0, "2026-02-28T08:00", (1,))) == []
    # spoilt for the job before: what is made for this one is no second attempt
    assert of(stencil(1, 3, 1, faults="pinhole"), stencil(2, 15, 1)) == [(9, 1, ""), (10, 2, "")]
    assert of(stencil(1, 3, 1, torn=True), stencil(2, 4, 1))[1] == (9, 2, "torn")
    assert of(stencil(1, 3, 1, faults="pinhole lint"), stencil(2, 4, 1))[1] == (9, 2, "lint")
    assert of(stencil(1, 3, 1), stencil(2, 4, 1))[1] == (9, 2, "")  # one beside it


def test_months_follow_each_other_over_the_years() -> None:
    first = datetime(2026, 11, 1).date()
    assert [asked.after(first, n).isoformat()[:7] for n in (-11, -1, 0, 1, 2, 14)] == [
        "2025-12", "2026-10", "2026-11", "2026-12", "2027-01", "2028-01"]  # fmt: skip


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop that made three screens for two images, one after a fault, and printed its job with a stop and misprints;
    its lead crossed out a start that was none."""
    folder = tmp_path_factory.mktemp("cost")
    made = Shop.begun(folder)
    made.each = timedelta(minutes=5)
    made.place("Press 2", "press", heads=8)
    job = made.job()
    spoilt = made.frame("230/in", "48")
    made.log(spoilt, "coat")
    made.tick(hours=2)
    wanted = {one.number: one for one in store_asked(made, job.id)}
    made.log(spoilt, "image", separations=wanted[3].separation)
    made.log(spoilt, "expose", exposure_s=80)
    made.log(spoilt, "washout", result="fault", fault="pinholes")
    screens = {1: made.frame("156/in", "64"), 3: made.frame("230/in", "48")}
    for station, code in screens.items():
        made.ready(code, wanted[station].separation)
    number = made.set_up(job, screens)
    made.approve(number)
    made.step(number, "start")
    made.tick(minutes=25)
    made.step(number, "stop", cause="pinhole", minutes=6)
    made.step(number, "count", good=80, misprinted=4, cause="misregister", over="yes")
    made.tick(minutes=25)
    made.print_out(number)
    made.db.close()
    return folder


def store_asked(made: Shop, job: int) -> Any:
    from tickets.store import jobs

    found = jobs.get(made.db, job)
    assert found is not None
    return jobs.asked(made.db, found, 1)


def set_rates(folder: Path, **rates: Any) -> None:
    db = store.connect(folder)
    made = Shop(db)
    for name, value in rates.items():
        shop_acts.set_up(db, made.manager, name, value, now=shops.NOW)
    db.close()


def test_a_month_of_a_shop_is_what_its_log_says(printed: Path) -> None:
    db = store.connect(printed)
    view = asked.of_month(db, shops.MORNING)
    (job,) = view.jobs
    assert (job.cost.good, job.cost.misprinted, job.cost.needed, len(job.cost.made)) == (180, 4, 2, 3)
    lines = [one for one in db.query("SELECT step, at FROM entries WHERE run IS NOT NULL ORDER BY at")]
    at = {one["step"]: datetime.fromisoformat(one["at"]) for one in reversed(lines)}  # the first of each
    assert job.cost.set_up_min == (at["start"] - at["hang"]).total_seconds() / 60 > 0
    assert job.cost.printing_min == (at["finish"] - at["start"]).total_seconds() / 60 > 50
    assert job.cost.stop_min == 6 and job.money is None
    (again,) = view.costs.remakes()
    assert again.cause == "pinholes" and list(view.screens) == list(again.where)
    assert asked.of_job(db, find.job(db, job.code).id).all == view.all
    for other in ("2026-02", "2026-04"):
        assert asked.of_month(db, shops.MORNING, other).jobs == ()
    for text in ("2026-13", "2026", "May", "2026-1", "0001-01", "9999-12"):
        with pytest.raises(Refused, match="month"):
            asked.of_month(db, shops.MORNING, text)
    assert sound.check(db) == []


def test_page_command_and_file_say_the_same_and_money_only_at_the_shops_rates(printed: Path) -> None:
    tickets = shops.commands(printed)
    plain = json.loads(tickets("job", "cost", "--month", "2026-03", "--json").stdout)
    assert "cost" not in plain["all"] and plain["jobs"][0]["screens_made_again"] == 1
    with shops.pages(printed, lambda: shops.NOW) as app:
        phone = shops.signed_in(shops.phone_of(app), "Di Novak")
        page = shops.said(phone.get("/desk/cost?month=2026-03").text)
        assert "180" in page and "3 for 2, 1 again" in page and "of it lost" not in page and "Settings" in page
        set_rates(printed, rate_press_hour="60", rate_screen="25,50", rate_garment=4, currency="EUR")
        shown = json.loads(tickets("job", "cost", "--month", "2026-03", "--json").stdout)["all"]
        hours = (shown["set_up_min"] + shown["printing_min"]) / 60
        assert shown["cost"] == pytest.approx(hours * 60 + 3 * 25.5 + 4 * 4, abs=0.1)
        assert shown["lost"] == pytest.approx(6 + 25.5 + 16) and shown["currency"] == "EUR"
        page = shops.said(phone.get("/desk/cost?month=2026-03").text)
        for amount in (shown["lost"], shown["cost"]):
            assert f"{amount:.2f} EUR" in page
        code = plain["jobs"][0]["job"]
        one = phone.get(f"/desk/cost/{code}").text
        assert f'href="/runs/{plain["jobs"][0]["runs"][0]}"' in one and "/desk/screens/" in one
        assert "No run was finished" in shops.said(phone.get("/desk/cost?month=2026-01").text)
        assert phone.get("/desk/cost?month=soon").status_code == 422
        maker = shops.signed_in(shops.phone_of(app), "Ada Holm")
        assert maker.get("/desk/cost").status_code == 403 and "25.5" not in maker.get("/settings").text


def test_a_shop_of_demonstration_has_months_to_look_at(tmp_path: Path) -> None:
    folder = shops.the_demo(tmp_path)
    with shops.pages(folder, lambda: shops.NOW) as app:
        phone = shops.signed_in(shops.phone_of(app), "Di Novak", demo.SECRETS["Di Novak"][1])
        pages = [phone.get(f"/desk/cost?month=2026-{month:02}").text for month in (1, 2, 3)]
        assert all("/desk/cost/" in page and "of it lost" in page for page in pages[:2]), pages
