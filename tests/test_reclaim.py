"""How reclaiming goes: times on the mesh, what becomes of ghosts, frames retired; each figure leads to its lines."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape

import pytest
from flask.testing import FlaskClient
from shop import Shop, said, two_colours, with_presses
from sqlite_utils import Database

from tickets.domain.desk import reclaim
from tickets.domain.desk.reclaim import GONE, LOST, STAYS, WAITING, ReclaimEvent
from tickets.queries import exports, wrong
from tickets.store import desk

SignIn = Callable[[FlaskClient, str], FlaskClient]


def told(*events: str) -> list[tuple[str, float | None]]:
    """What becomes of the ghosts of one screen, by a word an entry: ghost, haze (haze90: 90 s), stretch, torn (retired
    for it), ghosted (retired for a ghost)."""
    known = []
    for place, word in enumerate(events):
        step, seconds, cause = word.rstrip("0123456789"), word.lstrip("abcdefghijklmnopqrstuvwxyz"), ""
        if step == "ghost":
            step, cause = "fault", "ghost"
        elif step in ("torn", "ghosted"):
            step, cause = "retire", step.removesuffix("ed")
        known.append(ReclaimEvent(1, f"2026-03-{place + 1:02}", step, float(seconds) if seconds else None, cause, word))
    return [(one.outcome, one.haze_s) for one in reclaim.ghosts(known)]


@pytest.mark.parametrize(
    ("events", "right"),
    [
        (["ghost"], [(WAITING, None)]),
        (["ghost", "ghost"], [(WAITING, None)]),
        (["ghost", "haze90"], [(GONE, 90)]),
        (["ghost", "haze"], [(GONE, None)]),
        (["ghost", "haze90", "haze60"], [(GONE, 150)]),
        (["ghost", "haze90", "ghost"], [(STAYS, 90), (WAITING, None)]),
        (["ghost", "haze90", "ghost", "haze300"], [(STAYS, 90), (GONE, 300)]),
        (["ghost", "stretch"], [(LOST, None)]),
        (["ghost", "haze90", "stretch", "ghost"], [(GONE, 90), (WAITING, None)]),
        (["ghost", "haze90", "ghosted"], [(LOST, 90)]),
        (["ghost", "haze90", "torn"], [(GONE, 90)]),
        (["ghost", "torn"], [(LOST, None)]),
        (["haze90", "ghost"], [(WAITING, None)]),
        (["haze90", "torn"], []),
    ],
)
def test_what_becomes_of_a_ghost(events: list[str], right: list[tuple[str, float | None]]) -> None:
    assert told(*events) == right


def test_the_ghosts_of_one_screen_are_not_those_of_another() -> None:
    known = [
        ReclaimEvent(1, "2026-03-01", "fault", None, "ghost"), ReclaimEvent(2, "2026-03-02", "haze", 60, ""),
        ReclaimEvent(2, "2026-03-03", "fault", None, "ghost"), ReclaimEvent(1, "2026-03-04", "haze", 30, ""),
    ]  # fmt: skip
    assert [(one.report.screen, one.outcome) for one in reclaim.ghosts(known)] == [(1, GONE), (2, WAITING)]
    assert reclaim.reclaimed(known).haze == reclaim.TimesOn(2, 2, 45, 30, 60)
    assert reclaim.times([None, 120, 60, 90]) == reclaim.TimesOn(4, 3, 90, 60, 120)
    assert reclaim.times([None]) == reclaim.TimesOn(1, 0)


@pytest.fixture
def worked(db: Database) -> Shop:
    made = with_presses(db)
    one, two, three = made.frames(3, 300)
    image = made.images(1)[0]
    for code, days in ((one, 9), (two, 8), (three, 7)):
        made.made(code, [image], days)
    made.past(one, "strip", 100, remover_s="120", still_needed="yes", in_hand="yes")
    made.past(two, "strip", 99, remover_s="300", still_needed="yes", in_hand="yes")
    wrongly = made.past(three, "strip", 98, remover_s="3000!", still_needed="yes", in_hand="yes")
    made.log(three, "cross-out", crosses=wrongly, why="another screen")
    made.past(one, "fault", 90, kind="ghost", then="use on")
    made.past(one, "haze", 89, haze_s="240")
    made.past(two, "fault", 88, kind="ghost", then="use on")
    made.past(two, "haze", 87, haze_s="60")
    made.past(two, "fault", 86, kind="ghost", then="use on")
    made.past(two, "retire", 85, cause="ghost")
    return made


def test_the_page_says_how_reclaiming_goes_and_leads_to_the_lines(
    worked: Shop, client: FlaskClient, sign_in: SignIn
) -> None:
    found = wrong.wrong(worked.db, worked.now, 30).reclaimed
    assert found is not None
    assert found.remover == reclaim.TimesOn(2, 2, 210, 120, 300), "what was crossed out does not count"
    assert found.outcomes == ((GONE, 1), (STAYS, 1), (LOST, 1)) and found.retired == (("ghost", 1),)
    boss = sign_in(client, "Di Novak")
    page = boss.get("/desk/wrong").text
    text = said(page).split("Reclaiming ", 1)[1]
    assert "2 screens reclaimed in the middle 3.5 min, 2.0 to 5.0 min, noted 2 of 2 times" in text
    assert "haze removed, not reported again 1 of 3" in text and "in the middle 4.0 min" in text
    links = {unescape(one) for one in re.findall(r'href="(/log\?[^"]+)"', page)}
    ghosts = next(one for one in links if "step=fault" in one and "cause=ghost" in one)
    lines = boss.get(ghosts).text
    assert lines.count('<td class="mark">Fault reported') == 3 and "ghost image" in lines
    assert lines.count('<a class="tag"') == 4, "step, cause, from, until: each can be taken off"
    assert boss.get(next(one for one in links if "step=retire" in one)).text.count("<tr>") == 2
    assert wrong.wrong(worked.db, worked.now, 2).reclaimed == reclaim.reclaimed([])


def test_the_files_have_every_line(worked: Shop, client: FlaskClient, sign_in: SignIn) -> None:
    boss = sign_in(client, "Di Novak")
    lines = boss.get("/desk/files/reclaiming.csv").text.splitlines()
    assert [line.split(",")[-1] for line in lines if ",fault," in line] == [GONE, STAYS, LOST]
    assert sum(",strip," in line for line in lines) == 2
    assert boss.get("/desk/files/upsets.csv").text.splitlines()[0].lstrip("\ufeff").startswith("at,run,press,job")
    assert {"reclaiming", "upsets"} <= set(exports.tables())


def test_a_garment_lot_leads_to_its_runs_and_pieces_and_a_job_back_to_it(
    db: Database, client: FlaskClient, sign_in: SignIn
) -> None:
    made = with_presses(db)
    sheet = two_colours()
    for station, thread in zip(sheet["placement"][0]["station"][::2], ("64 um", "48 um"), strict=True):
        station["mesh"]["thread"] = thread
    job = made.job(sheet)
    run = made.set_up(job, made.screens_for(job), "Press 1", run__garment_lot="TEE-44/1")
    made.approve(run)
    made.step(run, "count", good="12", misprinted="1", cause="garment")
    boss = sign_in(client, "Di Novak")
    start = boss.get("/desk/trace").text
    assert "Garment lots of the newest runs" in start
    (link,) = {unescape(one) for one in re.findall(r'href="(/desk/trace\?lot=[^"]+)"', start)}
    page = said(boss.get(link).text)
    assert "Printed on garments of this lot, by the set-up sheets: 1 run · 1 job · 12 good pieces, 1 misprinted" in page
    assert "Jobs printed on it" in page and f"run {run}" in page
    assert "TEE-44/1" in boss.get(f"/desk/trace/{job.code}").text, "and back"
    assert desk.garment_lots(db) == [("TEE-44/1", run)]
    assert "12" in boss.get(f"{link}&file=1").text


def test_a_garment_lot_that_only_a_job_sheet_names_leads_to_the_job(
    db: Database, client: FlaskClient, sign_in: SignIn
) -> None:
    made = with_presses(db)
    sheet = two_colours()
    sheet["garment"][0]["lot"] = "NEW 9-9"
    job = made.job(sheet)
    boss = sign_in(client, "Di Novak")
    assert boss.get("/desk/trace?lot=new 99").headers["Location"] == f"/jobs/{job.code}"
    assert boss.get("/desk/trace?lot=new 98").status_code == 404
