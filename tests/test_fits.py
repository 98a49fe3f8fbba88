"""Every page fits: a phone of 320 px, type of twice the size narrow and wide, wider text spacing, nothing to press that
is small or close to another, no rule of accessibility broken. One walk in a browser measures it all."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import shop as shops
import test_statements
from flask import Flask
from test_enter import pattern_of

from tickets import demo, store

ELSEWHERE = ("/ping", "/favicon.ico", "/static/", "/pictures/")
"""What is no page."""

MANY = ("/jobs/<code>", "/t/<path:text>", "/screens/<code>", "/runs/<int:number>")
"""Pages that differ from thing to thing."""

OPENED = "document.querySelectorAll('details').forEach((one) => { one.open = true })"
WIDTH = "document.documentElement.scrollWidth"

OVER = """(width) => [...document.querySelectorAll("body *")].filter((one) => one.checkVisibility()
  && one.getBoundingClientRect().right > width + 1 && !one.closest(".wide, .skip, .chart-scroll"))
  .map((one) => one.outerHTML.slice(0, 90).replace(/\\s+/g, " ") + one.getBoundingClientRect().right.toFixed())"""
"""What stands out at the right of a page."""

CUT = """() => [...document.querySelectorAll("body *")].filter((one) => one.checkVisibility() && one.innerText
  && one.clientWidth > 1 && ["hidden", "clip"].includes(getComputedStyle(one).overflowX)
  && !one.closest("[aria-hidden=true], .demo-band, .enter, .unseen")
  && (one.scrollWidth > one.clientWidth + 1 || one.scrollHeight > one.clientHeight + 2))
  .map((one) => one.outerHTML.slice(0, 90).replace(/\\s+/g, " "))"""
"""Text that is cut off (but for the band of a demo)."""

SPACED = """() => { const sheet = new CSSStyleSheet(); sheet.replaceSync(`* { line-height: 1.5 !important;
  letter-spacing: .12em !important; word-spacing: .16em !important } p { margin-bottom: 2em !important }`);
  document.adoptedStyleSheets = [sheet]; }"""
"""The text spacing that success criterion 1.4.12 of WCAG 2.2 names."""

TARGETS = """() => {
  const kinds = "a[href], button, summary, .tile, .digits label, input:not([type=hidden]), textarea, select";
  // not by itself: what shows with the focus, a tile's box, and the parts of a bar, which touch as parts of one do
  const not = ".enter[aria-hidden=true], .skip, .stack > a, .tile input, .digits input";
  const inText = (one) => { // a link within a line of text has the line's height
    if (one.matches(".button") || getComputedStyle(one).display !== "inline") return false;
    const up = one.parentElement, own = [...up.childNodes].filter((node) => node.nodeType === 3)
      .map((node) => node.textContent).join("").replace(/[\\s·–,.:]+/g, "");
    return own.length > 0 || ["B", "STRONG", "SMALL", "SPAN"].includes(up.tagName); };
  const line = (one) => { // a link in a line of a list is as large as the line
    const after = getComputedStyle(one, "::after");
    return after.position === "absolute" && after.inset === "0px" ? one.closest("tr") : null; };
  const boxes = [...document.querySelectorAll(kinds)].filter((one) => one.checkVisibility() && !one.matches(not)
      && !(one.matches("a") && inText(one))).map((one) => [one, (line(one) || one).getBoundingClientRect(), line(one)]);
  const name = (one) => `${one.parentElement.tagName}.${one.parentElement.className} > ${one.tagName}.${one.className} `
    + one.textContent.trim().slice(0, 30);
  const bad = [];
  for (const [one, box, row] of boxes) {
    const size = `${Math.round(box.width)}x${Math.round(box.height)}`;
    if (box.height < 47.5 || box.width < 47.5) bad.push(`small ${size} ${name(one)}`);
    for (const [other, far, row2] of boxes) {
      if (one === other || one.contains(other) || other.contains(one) || (row && row2)) continue;
      const across = Math.max(far.left - box.right, box.left - far.right);
      const down = Math.max(far.top - box.bottom, box.top - far.bottom);
      const gap = `${Math.round(across)},${Math.round(down)}`;
      if (Math.max(across, down) < 7.5) bad.push(`near ${gap} ${name(one)} | ${name(other)}`);
    }
  }
  return bad; }"""
"""What is to be pressed and smaller than 48 px, or nearer than 8 px to another, by a finger's pointer."""


def faults_of(page: Any, path: str) -> list[str]:
    """What is wrong with a page at a phone's size and at a desk's; [] where the address gives no page."""
    page.set_viewport_size({"width": 360, "height": 740})
    answer = page.goto(path)
    if answer.status != 200 or not (answer.headers.get("content-type") or "").startswith("text/html"):
        return [] if answer.status in (403, 404) or answer.status == 200 else [f"status {answer.status}"]
    faults = [f"axe {rule} {piece[:120]}" for rule, piece in shops.broken_rules(page)]
    page.evaluate(OPENED)
    faults += page.evaluate(TARGETS)[:3]
    faults += _wide(page, 320, "320 px")
    page.evaluate(SPACED)
    faults += _wide(page, 320, "spaced") + [f"cut, spaced {one}" for one in page.evaluate(CUT)[:1]]
    page.evaluate("() => { document.adoptedStyleSheets = [] }")
    faults += _wide(page, 1280, "1280 px")
    with type_of(page, 32):
        for width in (360, 1280):
            faults += _wide(page, width, f"200 % at {width} px")
    return faults


def _wide(page: Any, width: int, said: str) -> list[str]:
    page.set_viewport_size({"width": width, "height": 740})
    return [f"{said}: {page.evaluate(OVER, width)[:2]}"] if page.evaluate(WIDTH) > width else []


@contextmanager
def type_of(page: Any, size: int) -> Iterator[None]:
    """The page in a browser whose reader set that size of type (16 px is usual)."""
    ask = page.context.new_cdp_session(page)
    ask.send("Page.setFontSizes", {"fontSizes": {"standard": size, "fixed": size}})
    yield
    ask.send("Page.setFontSizes", {"fontSizes": {"standard": 16, "fixed": 13}})
    ask.detach()


def all_pages(app: Flask, folder: Path) -> list[str]:
    """The addresses of pages of the invented shop, a few of each sort, and the parts of a run and of a screen."""
    db = store.connect(folder)
    run = db.execute("SELECT max(id) FROM runs").fetchone()[0]
    codes = [code for (code,) in db.execute("SELECT code FROM screens ORDER BY id LIMIT 4")]
    db.close()
    found = [
        path for rule, paths in test_statements.addresses(app, folder).items()
        if not rule.startswith(ELSEWHERE) and "." not in rule.rpartition("/")[2]  # those are files
        for path in paths[: 12 if rule in MANY else 2]
    ]  # fmt: skip
    found += [f"/runs/{run}?open={part}" for part in ("sheet", "stop", "finish")]
    found += [f"/runs/{run}?screen={code}" for code in codes]
    return found + [f"/screens/{codes[0]}?step={step}" for step in ("tension", "stretch", "coat", "found", "retire")]


@contextmanager
def held_by(browser: Any, address: str, name: str, view: str) -> Iterator[Any]:
    """A page of a phone by touch, in the hands of that person of the demo."""
    context = browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True, base_url=address)
    page = context.new_page()
    page.goto("/sign-in")
    page.get_by_role("radio", name=name).check()
    page.fill("input[name=secret]", demo.SECRETS[name][1])
    with shops.answered(page):
        page.get_by_role("button", name="Sign in", exact=True).click()
    if view == "safelight":
        with shops.answered(page):
            page.locator("form.view button").click()
    yield page
    context.close()


@pytest.fixture(scope="module")
def full_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shops.the_demo(tmp_path_factory.mktemp("fits") / "shop")


@pytest.fixture
def full(full_shop: Path) -> Iterator[tuple[Flask, str]]:
    """The pages of the demo, and where they are served."""
    with shops.pages(full_shop, testing=False) as app, shops.serving(app) as address:
        yield app, address


SOME = ("/", "/desk", "/screen-room", "/desk/wrong", "/desk/screens/*", "/jobs/*", "/runs/*", "/t/*")
"""The sorts of pages of the ordinary run: what is seen most, and what has run over before."""


@pytest.mark.browser
def test_a_page_fits_narrow_wide_large_and_spaced(browser: Any, full: tuple[Flask, str], full_shop: Path) -> None:
    app, address = full
    sorts = {pattern_of(path).removesuffix("?"): path for path in all_pages(app, full_shop)}
    found: dict[str, list[str]] = {}
    with held_by(browser, address, "Di Novak", "day") as page:
        for sort in SOME:
            found[sorts[sort]] = faults_of(page, sorts[sort])
        # and the measures see what does not fit
        page.goto("/desk")
        page.evaluate("""() => ["20px", "30em"].forEach((size, at) => {
          const one = document.createElement("button");
          one.style = at ? `width: ${size}` : `min-height: 0; padding: 0; height: ${size}`;
          document.querySelector("main").prepend(one); })""")
        assert {one.split()[0] for one in page.evaluate(TARGETS)} == {"small", "near"} and page.evaluate(WIDTH) > 360
    assert not any(found.values()), {path: faults for path, faults in found.items() if faults}


EVERYBODY: list[tuple[str, str]] = [(name, view) for name in demo.SECRETS for view in ("day", "safelight")]


@pytest.mark.slow
@pytest.mark.browser
@pytest.mark.parametrize(("name", "view"), EVERYBODY)
def test_every_page_fits_for_everybody(
    browser: Any, full: tuple[Flask, str], full_shop: Path, name: str, view: str
) -> None:
    app, address = full
    found: dict[str, list[str]] = {}
    with held_by(browser, address, name, view) as page:
        for path in all_pages(app, full_shop):
            found[path] = faults_of(page, path)
    assert len(found) > 100
    assert not any(found.values()), "\n".join(f"{path}: {one}" for path, faults in found.items() for one in faults)
