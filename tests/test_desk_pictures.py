"""What the desk draws: dots of jobs, bars of frames, frames left day by day; and that it is all in one view."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from flask.testing import FlaskClient
from shop import NOW, answered

from tickets import demo, store
from tickets.domain.desk.pool import Day
from tickets.domain.screens.frames import Has
from tickets.queries import desk, desk_pictures, desk_today
from tickets.queries.said import Reader
from tickets.queries.shop_rules import zone
from tickets.store import jobs

MONDAY = date(2026, 3, 9)


@pytest.mark.parametrize(
    "has, dot",
    [(Has.READY, "ready"), (Has.KEPT, "ready"), (Has.ON_PRESS, "ready"), (Has.UNDER_WAY, "half"),
     (Has.OFF_PRESS, "half"), (Has.ELSEWHERE, "half"), (Has.GOING, "none"), (Has.MISSING, "none"), (Has.NONE, "none"),
     (Has.UNFIT, "none"), (Has.UNSURE, "none"), (Has.AWAY, "none")],
)  # fmt: skip
def test_a_dot_is_full_half_or_crossed(has: Has, dot: str) -> None:
    assert desk_pictures._dot(has) == dot


def test_a_dot_has_the_colour_of_its_ink(shop: shops.Shop) -> None:
    sheet = shops.two_colours()
    sheet["placement"][0]["station"][0] |= {"separation": "white base", "colour": "old gold"}
    sheet["placement"][0]["station"][2] |= {"separation": "blue", "colour": "house mix"}
    job = shop.job(sheet)
    (ahead,) = desk_today.desk(shop.db, NOW, 60).jobs
    drawn = (("none", "#ffd700"), ("none", "#0000ff"))
    assert desk_pictures.dots(ahead.placements) == drawn, "by its ink, else by the image"
    assert desk_pictures.dots([desk_today.placement_ahead(shop.db, job, 1, NOW)]) == drawn


def test_a_bar_has_a_part_for_each_group_that_has_frames() -> None:
    row = dict.fromkeys(desk_today.GROUPS, 0) | {"free": 197, "kept": 1, "ready": 2}
    (bar,) = desk_pictures.bars([("230/in", row)], {"230/in": 4})
    assert [(one.name, one.number) for one in bar.parts] == [("free", 197), ("ready", 2), ("kept", 1)]
    assert [one.share for one in bar.parts] == [39, 1, 1], "the least part is seen too"
    assert (bar.number, bar.coated) == (200, 4)
    assert set(desk_pictures.GROUP_WORDS) == set(desk_today.GROUPS), "no frame is left out of its bar"


def ahead(mesh: str, left: list[int], **more: Any) -> desk.MeshAhead:
    days = tuple(Day(MONDAY + timedelta(days=n), 1, 0, one) for n, one in enumerate(left))
    short = next((one for one in days if one.left < 0), None)
    bare = desk.MeshAhead(mesh, 0, 0, 0, 0, 0, 0, 0, 0, left[0], days, (("X", "Job", "2026-03-09", 1),), short, short)
    return replace(bare, **more)


def test_the_days_to_come_say_which_mesh_lacks_frames_on_which_day(folder: Path) -> None:
    db = store.connect(shops.the_demo(folder / "demo"))
    reader = Reader(db, "metric", zone(db), NOW)
    many = [ahead(f"{n}/in", [4] * 31) for n in range(100, 110)]
    week = desk_pictures.week(reader, [ahead("230/in", [2, 0, -1] + [-3] * 28), *many, ahead("77/in", [1], needs=())])
    assert week.days[:3] == (("Mon", "9 Mar"), ("Tue", "10 Mar"), ("Wed", "11 Mar")) and len(week.days) == 12
    assert [one.of.mesh for one in week.meshes] == ["230/in", *(f"{n}/in" for n in range(100, 107))] and week.more == 3
    first = week.meshes[0].days
    assert [(one.left, one.up, one.down) for one in first[:4]] == [(2, 11, 0), (0, 0, 0), (-1, 0, 6), (-3, 0, 12)]
    assert week.meshes[1].days[0].up == desk_pictures.HIGH, "the most frames left fill the height"
    assert [one.mesh for one in week.short] == ["230/in"]
    assert desk_pictures.week(reader, []).days == ()


def test_of_many_days_a_bar_is_the_evening_of_a_week_that_has_the_fewest(folder: Path) -> None:
    """Days 8 to 14, 15 to 21, 22 to 28, 29 and 30: one short in the middle of the third, one left at the end."""
    db = store.connect(shops.the_demo(folder / "demo"))
    reader = Reader(db, "metric", zone(db), NOW)
    left = [4] * 31
    left[25], left[30] = -1, 1
    week = desk_pictures.week(reader, [ahead("230/in", left)])
    days = [("7 days", "from 17 Mar"), ("7 days", "from 24 Mar"), ("7 days", "from 31 Mar"), ("2 days", "from 7 Apr")]
    assert list(week.days[7:]) == [("Mon", "16 Mar"), *days]
    assert [one.left for one in week.meshes[0].days[7:]] == [4, 4, 4, -1, 1] and week.weeks == 4
    assert desk_pictures.week(reader, [ahead("230/in", [4] * 16)]).days[8:] == (
        ("7 days", "from 17 Mar"),
        ("Tue", "24 Mar"),
    )
    assert desk_pictures.week(reader, [ahead("230/in", [4] * 15)]).weeks == 0


def test_the_desk_of_thirty_days_draws_the_day_that_its_sentence_names(boss: FlaskClient) -> None:
    for days, weeks in ((14, False), (30, True)):
        page = boss.get(f"/desk?days={days}").text.split('class="week-ahead"')[1]
        assert ("A bar of several days shows" in page) is weeks
        heads = re.findall(r'<th scope="col">(\d+ days?) <small>from', page)
        assert heads == (["7 days", "7 days", "7 days", "2 days"] if weeks else [])


# The page -----------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def late_demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shops.the_demo(tmp_path_factory.mktemp("demo"))


@pytest.fixture
def boss(late_demo: Path) -> Iterator[FlaskClient]:
    with shops.pages(late_demo, lambda: NOW + timedelta(days=4)) as app:
        yield shops.signed_in(shops.phone_of(app), "Di Novak", demo.SECRETS["Di Novak"][1])


def test_late_jobs_come_first_and_say_how_late(boss: FlaskClient, late_demo: Path) -> None:
    page = boss.get("/desk").text
    lines = re.findall(r'<li( class="late")?><a class="job-line" href="/jobs/(\w+)">(.*?)</a></li>', page, re.S)
    late = [bool(mark) for mark, _code, _text in lines]
    assert late == sorted(late, reverse=True) and any(late) and not all(late) and "No press date has passed" not in page
    assert re.search(r"! \d days? late", lines[0][2]) and "late</b>" not in lines[-1][2]
    db = store.connect(late_demo)
    for _mark, code, text in lines:
        job = next(one for one in jobs.listed(db, None, 50, False) if one.code == code)
        ready, half, none = (
            len(re.findall(rf'class="dot {kind}"', text)) for kind in ("ready", "half", "none")
        )  # the dots are the job's images, and the figure counts the full ones
        assert ready + half + none == len(db.execute("SELECT 1 FROM stations WHERE job = ?", [job.id]).fetchall()), code
        assert (f"{ready} of {ready + half + none}" in text) == (half + none > 0), code


def test_the_picture_of_the_week_says_what_the_page_of_shortages_says(boss: FlaskClient) -> None:
    page = boss.get("/desk?days=14").text
    drawn = page.split('<table class="week">')[1].split("</table>")[0]
    short = re.findall(r'<th scope="row">([^<]+)</th>\s*((?:<td.*?</td>\s*)+)', drawn, re.S)
    told = boss.get("/desk/short?days=14").text
    assert short
    for mesh, cells in short:
        lacks = re.findall(r"✕ (\d+)<span", cells)
        part = told.split(f"<h2>{mesh}: ")[1].split("</h2>")[0]
        assert ("too few" in part) == bool(lacks), mesh
        assert not lacks or f"{lacks[0]} frame" in part, mesh
    assert any("✕" in cells for _mesh, cells in short) and any("✕" not in cells for _mesh, cells in short)


VIEW = """() => Object.fromEntries(['.jobs-ahead', '.room', '.look-at', '.bars', '.lines-of-jobs li:first-child'].map(
  (one) => [one, document.querySelector(one).getBoundingClientRect().bottom + scrollY]))"""


@pytest.mark.browser
def test_the_desk_is_one_view_on_a_wide_page_and_begins_with_what_presses_on_a_phone(
    browser: Any, late_demo: Path
) -> None:
    from PIL import Image

    with (
        shops.pages(late_demo, lambda: NOW) as app,
        shops.serving(app) as server,
    ):
        context = browser.new_context(viewport={"width": 1280, "height": 800}, base_url=server)
        page = context.new_page()
        page.goto("/sign-in")
        page.get_by_role("radio", name="Di Novak").check()
        page.fill("input[name=secret]", demo.SECRETS["Di Novak"][1])
        page.get_by_role("button", name="Sign in", exact=True).click()
        page.wait_for_url("**/desk")
        parts = page.evaluate(VIEW)
        assert max(parts.values()) <= 800, parts
        last = page.locator("nav.pages a").last.bounding_box()  # every page is one tap away, without scrolling
        assert last is not None and last["y"] + last["height"] <= 800, last
        assert shops.broken_rules(page) == []
        page.set_viewport_size({"width": 360, "height": 740})
        assert page.evaluate(VIEW)[".lines-of-jobs li:first-child"] <= 640
        for width in (360, 320):
            page.set_viewport_size({"width": width, "height": 740})
            page.evaluate("document.querySelectorAll('main details').forEach((one) => one.open = true)")
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            assert shops.broken_rules(page) == []
        with answered(page):
            page.get_by_role("button", name="Safelight").click()
        page.goto("/desk")
        shot = Image.open(io.BytesIO(page.screenshot(full_page=True))).convert("RGB")
        assert shot.getchannel("B").getextrema() == (0, 0)
        textures = page.evaluate(
            "[...document.querySelectorAll('.legend i')].map((one) => getComputedStyle(one).backgroundImage)"
        )
        assert len(textures) == len(set(textures)) > 4, "parts are told apart by texture, in amber too"
        context.close()
