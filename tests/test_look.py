"""The look: its parts in every state, what a page weighs on a phone's first visit, and that nothing in it is unused."""

from __future__ import annotations

import gzip
import html
import io
import re
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from flask import Flask
from flask.testing import FlaskClient
from sqlite_utils import Database

import web
from tickets import demo, store
from tickets.calculator.colour import of_name
from tickets.domain import stages
from tickets.domain.stages import Standing
from tickets.domain.steps import BUCKET_STEPS, RUN_STEPS, SCREEN_STEPS
from tickets.store import runs
from web import small
from web.steps import ELSEWHERE

SignIn = Callable[[FlaskClient, str], FlaskClient]
WEB = Path(web.__file__).parent


# -- the strip of a screen's cycle


def strip(standing: Standing) -> str:
    """The strip in letters: done, Now, next, empty."""
    return "".join({"past": "#", "now": "N", "next": "n", "": "."}[mark] for _word, mark in stages.cycle(standing))


@pytest.mark.parametrize(
    ("standing", "drawn"),
    [
        ("bare", "Nn......."), ("degreased", "#Nn......"), ("coated", "##Nn....."), ("imaged", "###Nn...."),
        ("exposed", "####Nn..."), ("to check", "#####Nn.."), ("ready", "######Nn."), ("kept", "######Nn."),
        ("on press", "#######Nn"), ("to clean", "#######Nn"), ("to strip", "#######Nn"), ("stripped", ".n......N"),
        ("to restretch", "n........"), ("away", "........."), ("retired", "........."), ("unknown", "........."),
    ],
)  # fmt: skip
def test_the_strip_says_where_a_screen_is_and_what_comes_next(standing: str, drawn: str) -> None:
    assert strip(Standing(standing)) == drawn


def test_every_stage_has_a_strip() -> None:
    assert all(len(strip(one)) == len(stages.CYCLE) == 9 and strip(one).count("N") <= 1 for one in Standing)


# -- the page of all parts


@pytest.fixture(scope="session")
def the_demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A demo shop, made once."""
    return shops.the_demo(tmp_path_factory.mktemp("look") / "shop")


@pytest.fixture
def shown(the_demo: Path) -> Iterator[Flask]:
    """The pages of the demo."""
    with shops.pages(the_demo, testing=False) as made:
        yield made


@pytest.fixture
def manager(shown: Flask) -> FlaskClient:
    """A phone of its manager."""
    return shops.signed_in(shops.phone_of(shown), "Di Novak", demo.SECRETS["Di Novak"][1])


def test_the_form_of_every_step_says_how_it_is_done(manager: FlaskClient, the_demo: Path) -> None:
    db = store.connect(the_demo)
    code = db.execute("SELECT code FROM screens ORDER BY id LIMIT 1").fetchone()[0]
    job = db.execute("SELECT code FROM jobs ORDER BY id DESC LIMIT 1").fetchone()[0]
    bucket = db.execute("SELECT code FROM buckets ORDER BY id DESC LIMIT 1").fetchone()[0]
    run = runs.open_ones(db, limit=1)[0].id
    db.close()
    asked = {f"/screens/{code}?step={name}": name for name in SCREEN_STEPS if name not in ELSEWHERE}
    pages = {path: {SCREEN_STEPS[name].how} for path, name in asked.items()}
    pages["/buckets/new"] = {BUCKET_STEPS["mix"].how}
    pages[f"/buckets/{bucket}"] = {one.how for name, one in BUCKET_STEPS.items() if name not in {"mix", "cross-out"}}
    pages[f"/jobs/{job}"] = {RUN_STEPS["open"].how}
    forms = ("stop", "swap", "change", "count", "pause", "finish", "note")
    pages[f"/runs/{run}?part=all&open=sheet"] = {RUN_STEPS[name].how for name in forms}
    for path, lines in pages.items():
        shown = html.unescape(manager.get(path).text)
        assert not [line for line in lines if line not in shown], path


def test_only_a_demo_shows_its_look(client: FlaskClient, sign_in: SignIn, manager: FlaskClient) -> None:
    assert sign_in(client, "Di Novak").get("/look").status_code == 404
    assert manager.get("/look").status_code == 200


SHAPES = """() => [...document.querySelectorAll(".verdict:not(.at-press) .word")].map((one) => {
  const shape = getComputedStyle(one, "::before");
  return [one.firstChild.textContent.trim(), shape.clipPath + shape.borderRadius + shape.borderTopStyle, shape.content];
})"""
DRAWN = """() => ["ready", "half", "none"].map((state) => document.querySelector(`.dot.${state}`).innerHTML
  .replace(/fill="[^"]*"/g, "") + getComputedStyle(document.querySelector(`.dot.${state}`)).strokeDasharray)"""
STAGES = """() => ["past", "now", "next"].map((mark) => { const one = document.querySelector(`.cycle .${mark}`),
  of = getComputedStyle(one); return of.borderTopStyle + of.borderTopWidth + of.height; })"""
CHOSEN = """() => getComputedStyle(document.querySelector(".tile input:checked"), "::after").borderTopWidth"""


@pytest.mark.browser
def test_every_part_holds_in_every_light_and_width(browser: Any, shown: Flask) -> None:
    """No sideways scroll, the rules of accessibility, no blue under the safelight; states differ by their shapes."""
    from PIL import Image

    with shops.serving(shown) as address:
        context = browser.new_context(viewport={"width": 320, "height": 740}, base_url=address)
        page = context.new_page()
        page.goto("/sign-in")
        page.get_by_role("radio", name="Di Novak").check()
        page.fill("input[name=secret]", demo.SECRETS["Di Novak"][1])
        with shops.answered(page):
            page.get_by_role("button", name="Sign in", exact=True).click()
        for view in ("day", "safelight"):
            if view == "safelight":
                with shops.answered(page):
                    page.get_by_role("button", name="Safelight").click()
            for width in (320, 1280):
                page.set_viewport_size({"width": width, "height": 740})
                page.goto("/look")
                assert page.evaluate("document.documentElement.scrollWidth") <= width, (view, width)
                assert shops.broken_rules(page, shops.ALL_RULES) == [], (view, width)
            words, shapes, marks = zip(*page.evaluate(SHAPES), strict=True)
            assert words == ("OK", "Caution", "Unknown", "STOP") and len(set(shapes)) == len(set(marks)) == 4
            assert len(set(page.evaluate(DRAWN))) == len(set(page.evaluate(STAGES))) == 3
        picture = Image.open(io.BytesIO(page.screenshot(full_page=True))).convert("RGB")
        assert picture.getchannel("B").getextrema() == (0, 0)
        assert picture.getchannel("R").getextrema()[1] > 200
        page.emulate_media(forced_colors="active")  # a forced palette leaves borders, and paints over every ground
        assert float(page.evaluate(CHOSEN).removesuffix("px")) >= 4
        # and a scan is two requests, with nothing to wait for before it can be read
        asked: list[str] = []
        page.on("request", lambda one: asked.append(one.resource_type))
        page.goto(f"/t/{next(Database(shown.config['FILE'])['screens'].rows)['code']}")
        page.wait_for_load_state("networkidle")
        assert sorted(asked) == ["document", "script"]
        context.close()


# -- pictures and swatches


@pytest.mark.parametrize(
    ("name", "looks"),
    [
        ("white", "#ffffff"), ("Cool Grey", "#808080"), ("white underbase", "#ffffff"), ("navy on white", "#ffffff"),
        ("red navy", "#000080"), ("underbase", ""), ("PX-17", ""), ("whitewash", ""), ("", ""),
    ],
)  # fmt: skip
def test_an_ink_has_a_swatch_where_its_name_says_a_colour(name: str, looks: str) -> None:
    assert of_name(name) == looks


def test_the_artwork_stands_on_the_screens_page_and_costs_a_scan_nothing(manager: FlaskClient, the_demo: Path) -> None:
    db = store.connect(the_demo)
    sql = """SELECT r.code, p.hash, j.code FROM carries c JOIN screens r ON r.id = c.screen
      JOIN stations s ON s.separation = c.separation JOIN jobs j ON j.id = s.job JOIN job_pictures p ON p.job = j.id"""
    screen, picture, job = db.execute(sql).fetchone()
    bare = db.execute("SELECT code FROM screens WHERE id NOT IN (SELECT screen FROM carries)").fetchone()[0]
    db.close()
    shown = f'src="/pictures/{picture}/small"'
    for view in ("safelight", "day"):  # under the safelight no tap leads to a white picture
        manager.post("/view", data={"view": view, "next": "/"})
        for path in (f"/screens/{screen}", f"/jobs/{job}"):
            page = manager.get(path).text
            assert shown in page and (f'href="/pictures/{picture}"' in page) == (view == "day"), (view, path)
    assert "/pictures/" not in manager.get(f"/t/{screen}").text + manager.get(f"/screens/{bare}").text


def test_images_to_choose_from_are_shown_where_a_list_is_opened_and_cost_a_scan_nothing(
    manager: FlaskClient, the_demo: Path
) -> None:
    db = store.connect(the_demo)
    coated, *_more = (code for (code,) in db.execute(STANDING, ["coated"]).fetchall())
    exposed = db.execute(STANDING, ["exposed"]).fetchone()[0]
    pictures = {found for (found,) in db.execute("SELECT hash FROM job_pictures").fetchall()}
    wants = "SELECT DISTINCT separation FROM stations WHERE job IN (SELECT job FROM job_pictures)"
    of_it = {str(number) for (number,) in db.execute(wants).fetchall()}
    db.close()
    for view in ("safelight", "day"):
        manager.post("/view", data={"view": view, "next": "/"})
        shown = manager.get(f"/screens/{coated}?step=image&all=1").text
        tile = r'name="separations" value="(\w+)"[^>]*>(<span class="picture thumb">.*?</span>)?<span>'
        tiles = re.findall(tile, shown)
        pictured = {number for number, thumb in tiles if thumb}
        assert pictured and pictured == of_it & {number for number, _thumb in tiles}
        lazy = re.findall(r'<img class="art" src="/pictures/(\w+)/small" alt="" loading="lazy"', shown)
        assert len(lazy) == len(pictured) and set(lazy) <= pictures
        assert any(f"/pictures/{one}/small" in manager.get("/screen-room").text for one in pictures)
        assert "/pictures/" not in manager.get("/screen-room?print=1").text + manager.get(f"/t/{coated}").text
        found = manager.get(f"/screens/{exposed}?step=found&standing_seen=exposed&all=1").text
        assert any(f"/pictures/{one}/small" in found for one in pictures), "where an image is named later"
        asked = manager.post(f"/screens/{coated}/check", data={"entry": shops.fresh(), "result": "good"})
        assert asked.status_code == 409 and any(f"/pictures/{one}/small" in asked.text for one in pictures)


STANDING = "SELECT s.code FROM screens s JOIN standings t ON t.screen = s.id WHERE t.standing = ?"


# -- what a page weighs


def weight(phone: FlaskClient, path: str) -> tuple[int, int, int]:
    """(bytes, requests, bytes of them that are the clock's) of a page that a browser has nothing of: the page with its
    stylesheets and scripts, packed."""
    asked = {"Accept-Encoding": "gzip"}
    answer = phone.get(path, headers=asked)
    assert answer.status_code == 200 and answer.headers["Content-Encoding"] == "gzip", path
    html = gzip.decompress(answer.data).decode()
    files = re.findall(r'(?:<link rel="stylesheet" href|<script src)="([^"]+)"', html)
    sizes = {path: len(answer.data)}
    for file in files:
        with phone.get(file, headers=asked) as static:
            sizes[file] = len(static.data)
    return sum(sizes.values()), len(sizes), sum(size for file, size in sizes.items() if "/timer.js" in file)


@pytest.mark.parametrize("view", ["day", "safelight"])
def test_a_scan_is_two_requests_and_ten_kilobytes_other_pages_are_twenty(
    manager: FlaskClient, the_demo: Path, view: str
) -> None:
    manager.post("/view", data={"view": view, "next": "/"})
    db = store.connect(the_demo)
    run = runs.open_ones(db, limit=1)[0].id
    maker = shops.signed_in(shops.phone_of(manager.application), "Ada Holm", demo.SECRETS["Ada Holm"][1])
    maker.post("/view", data={"view": view, "next": "/"})
    sql = "SELECT t.standing, s.code FROM screens s JOIN standings t ON t.screen = s.id GROUP BY 1"
    scans = {f"{standing}: /t/{code}": weight(maker, f"/t/{code}") for standing, code in db.execute(sql).fetchall()}
    db.close()
    # the page with its script; where a step has a clock, that one's script is a third request
    for scan, (weighed, requests, clock) in scans.items():
        # in the dark each digit of a number is a tile
        dark_digits = view == "safelight" and scan.partition(":")[0] in ("imaged", "to restretch")
        assert weighed - clock <= (10_650 if dark_digits else 10_000) and clock <= 700, (scan, scans)
        assert requests == (3 if clock else 2), (scan, scans)
    assert sum(clock > 0 for _weighed, _requests, clock in scans.values()) == 3, scans
    image = next(path for path in scans if path.startswith("coated")).rpartition("/")[2]
    pages = (
        "/press", "/desk", "/screen-room", "/screens", "/jobs", f"/runs/{run}", f"/runs/{run}?part=all&open=sheet",
        f"/screens/{image}?step=image&all=1",
    )  # fmt: skip
    others = {path: weight(manager, path) for path in pages}
    most = 21_000 if view == "safelight" else 20_000  # in the dark the whole sheet is in digits
    assert max(others.values())[:2] <= (most, 9), others


def test_all_scripts_together_stay_small() -> None:
    packed = {path.name: len(found.packed) for path in small.STATIC.glob("*.js") if (found := small.ready(path.name))}
    assert sum(packed.values()) <= 12_000, packed


def test_what_is_stripped_is_only_what_readers_need() -> None:
    assert small.bare("a.css", "/* why */\na b > c {\n  margin: 0 -8px; /* x */\n}\n") == "a b>c{margin:0 -8px}"
    assert small.bare("a.css", 'a { content: "b" ": "; }') == 'a{content:"b" ": "}'
    assert small.bare("a.js", "// why\n  go(); // so\n  // no\n\nurl = 'http://x';\n") == "go();\nurl = 'http://x';\n"


def test_a_page_is_packed_behind_a_head_that_is_packed_once() -> None:
    """The stream is one gzip member that any reader takes, the second page as well as the first."""
    head = b"<head><style>" + b"a{margin:0}" * 300 + b"</style>"
    for rest in (b"<p>one" * 400, b"", b"<p>another" * 4_000):
        packed = small.packed(head + rest)
        reader = zlib.decompressobj(31)
        assert reader.decompress(packed) == head + rest and reader.eof and reader.unused_data == b""
    assert gzip.decompress(small.packed(b"<p>no head")) == b"<p>no head"


@pytest.mark.parametrize(
    ("takes", "packed"),
    [("gzip, deflate", True), ("br, gzip;q=0.5", True), ("gzip;q=0", False), ("br", False), ("", False)],
)
def test_a_page_and_a_file_are_packed_only_for_who_takes_that(client: FlaskClient, takes: str, packed: bool) -> None:
    for path in ("/sign-in", "/static/shop.css"):
        with client.get(path, headers={"Accept-Encoding": takes}) as answer:
            assert (answer.headers.get("Content-Encoding") == "gzip") is packed, path
            assert packed is False or "Accept-Encoding" in answer.headers["Vary"]
            assert (b"--ground" in answer.data or b".verdict" in answer.data) is not packed


def test_a_file_that_a_browser_has_is_not_sent_again(client: FlaskClient) -> None:
    with client.get("/static/shop.css") as first, client.get("/static/icon.svg") as other:
        assert first.headers["Cache-Control"] == "public, max-age=31536000" and b"<svg" in other.data
    with client.get("/static/shop.css", headers={"If-None-Match": first.headers["ETag"]}) as again:
        assert (again.status_code, again.data) == (304, b"")
    with client.get("/static/nothing.css") as none, client.get("/static/../small.py") as outside:
        assert none.status_code == outside.status_code == 404 or outside.status_code == 303


# -- nothing unused


def test_no_stylesheet_has_a_rule_for_what_no_page_has() -> None:
    said = "\n".join(path.read_text("utf-8") for kind in ("html", "py", "js") for path in WEB.rglob(f"*.{kind}"))
    said += "\n".join(path.read_text("utf-8") for path in (WEB.parent / "tickets" / "calculator").glob("verdict.py"))
    known = set(re.findall(r"[a-z][a-z0-9-]*", said))
    begun = set(re.findall(r"[ \"]([a-z][a-z-]*)\{\{", said))  # `found-{{ value }}`, `s{{ number }}`
    ends = "|".join(f"{one}[a-z-]+" if one.endswith("-") else f"{one}[0-9]+" for one in sorted(begun))
    unused = {}
    for path in (WEB / "static").glob("*.css"):
        text = re.sub(r"/\*.*?\*/|\"[^\"]*\"", "", path.read_text("utf-8"), flags=re.DOTALL)
        selectors = " ".join(re.findall(r"([^{}]+)\{", text))
        found = set(re.findall(r"\.([a-z][a-z0-9-]*)", selectors)) - known
        unused[path.name] = sorted(one for one in found if not re.fullmatch(ends, one))
    assert not any(unused.values()), unused
