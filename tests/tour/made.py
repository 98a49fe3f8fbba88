"""The pictures of the README's tour: `python tests/tour/made.py` walks the demo shop as the README says it, in a real
Chromium, and writes what is seen into this folder. `tests/test_tour.py` takes the same walk and reads the same pages.
"""

from __future__ import annotations

import io
import random
import sys
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch

import pypdfium2
from PIL import Image

sys.path.insert(0, str(Path(__file__).parent.parent))

import shop as shops

from tickets import demo
from tickets.actions import people
from tickets.store import codes

FOLDER = Path(__file__).parent
PHONE, DESK = (360, 740), (1280, 800)
WIDE, PAPER = 800, 700
"""How wide the pictures of wide pages and of papers are, in pixels."""

Show = Callable[[str, str, Image.Image], None]
"""What is done with each picture: its name, the words that are on it, and how it looks."""


class Walk:
    """The walk through a served demo shop; `show` is given each picture as it comes."""

    def __init__(self, browser: Any, address: str, show: Show) -> None:
        self.browser, self.address, self.show = browser, address, show

    def all(self) -> None:
        """Every stop, in the order of the README: nothing that one of them logs is on an earlier picture."""
        self.manager()
        self.screen_maker()
        self.press()

    def manager(self) -> None:
        """The desk and the inventory, wide; the papers."""
        page = self.signed_in("Di Novak", DESK)
        self.seen(page, "desk")
        page.get_by_role("link", name="Screens", exact=True).click()
        self.seen(page, "inventory")
        page.goto("/jobs")
        page.get_by_role("link", name="Night market festival tees").first.click()
        page.get_by_role("link", name="Print the job ticket").click()
        self.paper(page, "ticket")
        page.goto("/print")
        page.get_by_role("link", name="Print tags by code or painted mark").click()
        page.get_by_label("Or painted marks").fill("H 21-26")
        page.get_by_role("radio", name="A4").check()
        self.paper(page, "tags", upper=0.6)
        page.context.close()

    def screen_maker(self) -> None:
        """A screen as its tag opens it, by day and under the safelight."""
        page = self.signed_in("Ada Holm", PHONE)
        page.get_by_role("link", name="H 23").click()
        self.seen(page, "scan")
        with shops.answered(page):
            page.get_by_role("button", name="Safelight").click()
        self.seen(page, "safelight")
        page.context.close()

    def press(self) -> None:
        """A run is opened; a right screen and a wrong one come to the press; the set-up sheet."""
        page = self.signed_in("Cy Marsh", PHONE)
        page.get_by_text("Harbour Lights crew tees, second order").click()
        with shops.answered(page):
            page.locator("form:visible", has_text="takes 7 heads").get_by_role("button", name="Run opened").click()
        run = page.url
        self.checked(page, "H 04", "verdict")
        page.goto(run)
        self.checked(page, "H 16", "stop")
        page.goto("/press")
        page.get_by_role("link", name="Concert shirts, gold on navy").first.click()
        page.get_by_role("link", name="The whole set-up sheet").click()
        self.seen(page, "set-up", page.get_by_role("heading", name="1. gold flake"))
        page.context.close()

    def checked(self, page: Any, mark: str, name: str) -> None:
        """What is said of the screen with that painted mark."""
        page.get_by_label("code or painted mark").first.fill(mark)
        with shops.answered(page):
            page.get_by_role("button", name="Check this screen").first.click()
        self.seen(page, name)

    def signed_in(self, name: str, size: tuple[int, int]) -> Any:
        """The first page of one of the demo's people, on a screen of that size."""
        context = self.browser.new_context(
            viewport={"width": size[0], "height": size[1]}, has_touch=size == PHONE, base_url=self.address
        )
        page = context.new_page()
        page.set_default_timeout(10_000)
        page.goto("/sign-in")
        page.get_by_role("radio", name=name).check()
        page.fill("input[name=secret]", demo.SECRETS[name][1])
        with shops.answered(page):
            page.get_by_role("button", name="Sign in", exact=True).click()
        return page

    def seen(self, page: Any, name: str, top: Any = None) -> None:
        """The page as it is seen without scrolling, or from `top` on."""
        page.wait_for_load_state("networkidle")
        page.evaluate("document.activeElement.blur(); scrollTo(0, 0)")
        if top:
            top.evaluate("one => one.scrollIntoView()")
        looks = Image.open(io.BytesIO(page.screenshot(animations="disabled", caret="hide"))).convert("RGB")
        self.show(name, page.locator("main").inner_text(), looks)

    def paper(self, page: Any, name: str, upper: float = 1) -> None:
        """The first page of what a form prints, or the upper part of it."""
        with page.expect_download() as coming:
            page.get_by_role("button", name="Make the PDF").click()
        document = pypdfium2.PdfDocument(coming.value.path())
        first = document[0]
        looks = first.render(scale=PAPER / first.get_width()).to_pil().convert("RGB")
        looks = looks.crop((0, 0, PAPER, int(looks.height * upper)))
        self.show(name, first.get_textpage().get_text_range(), looks)
        document.close()


def demo_shop(folder: Path) -> Path:
    """The demo, with an address in its codes."""
    shops.the_demo(folder)
    shops.commands(folder)("address", "http://192.168.1.20:8600")
    return folder


def write(name: str, _words: str, looks: Image.Image) -> None:
    """A picture into this folder, no wider than the README shows it."""
    file = FOLDER / f"{name}.webp"
    if looks.width > WIDE:
        looks = looks.resize((WIDE, round(looks.height * WIDE / looks.width)), Image.Resampling.LANCZOS)
    if looks.width == WIDE:
        looks.save(file, quality=75, method=6)
    else:  # sharp edges
        looks.quantize(200, dither=Image.Dither.NONE).convert("RGB").save(file, lossless=True, method=6)
    print(f"{file.name}: {file.stat().st_size:,} bytes")


def main() -> None:
    """The walk through a demo that is the same each time: its clock stands, and its codes come from a seed."""
    from conftest import _chromium
    from playwright.sync_api import sync_playwright

    seeded = patch.object(codes.issue, "__defaults__", (random.Random(8),))
    with TemporaryDirectory() as made, patch.object(people, "HASH", shops.QUICK), seeded:
        folder = demo_shop(Path(made) / "shop")
        with shops.pages(folder) as app, shops.serving(app) as address, sync_playwright() as drive:
            browser = drive.chromium.launch(
                executable_path=_chromium(),
                args=["--no-sandbox", f"--host-resolver-rules=MAP {shops.HOST} 127.0.0.1"],
            )
            Walk(browser, address, write).all()
            browser.close()


if __name__ == "__main__":
    main()
