"""A job from its printed ticket to its reorder, as people go it: by codes on paper, with a phone, on a host name.

Once by day, once under the safelight with taps alone, where every page that is shown has no blue in it. At the end the
log is held against what was done. Two heads in the ordinary run; eight on a press of ten in the slow one.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from conftest import PEOPLE
from PIL import Image
from shop import NOW, Shop, answered, clock, fresh
from sqlite_utils import Database

from tickets.actions import jobs as jobs_acts
from tickets.actions import places, printing
from tickets.actions import shop as shops
from tickets.domain.jobs.job import read
from tickets.queries import addresses, find, run_plan, tickets
from tickets.store import entries, jobs

pytestmark = pytest.mark.browser
COLOURS = ("white", "yellow", "red", "green", "blue", "brown", "black", "grey")
SUFFIXES = ("d1000", "d100", "d10", "d1")
TYPED = "input:not([type=hidden], [type=radio], [type=checkbox], [type=submit]), textarea, select"


def on_paper(pdf: bytes) -> tuple[str, list[str]]:
    """The text of a paper, and what its QR codes hold."""
    with pypdfium2.PdfDocument(pdf) as document:
        text = "".join(page.get_textpage().get_text_bounded() for page in document)
        pictures = [page.render(scale=200 / 72).to_pil() for page in document]
    return text, [found.text for picture in pictures for found in zxingcpp.read_barcodes(picture)]


@dataclass
class Phone:
    """A phone in somebody's hand: what it opens and taps. `dark`: under the safelight, where each page is looked at."""

    page: Any
    dark: bool
    pages: int = 0

    def look(self) -> None:
        """Nothing refused, nothing sideways; in the dark no blue on the whole page, nothing to be typed in sight."""
        self.pages += 1
        assert not self.page.locator(".faults").count(), self.page.locator(".faults").first.inner_text()
        assert self.page.evaluate("document.documentElement.scrollWidth") <= 360, self.page.url
        if self.dark:
            picture = Image.open(io.BytesIO(self.page.screenshot(full_page=True))).convert("RGB")
            assert picture.getchannel("B").getextrema() == (0, 0), self.page.url
            seen = [one for one in self.page.locator(TYPED).all() if one.is_visible()]
            assert not seen, (self.page.url, seen[0].evaluate("e => e.outerHTML"))

    def open(self, address: str) -> None:
        """What the camera does with a code, in a new tab."""
        self.page.goto(address)
        self.look()

    def tap(self, what: Any) -> None:
        """A tap that leads to another page."""
        with answered(self.page):
            what.tap()
        self.look()

    def button(self, name: str, within: Any = None) -> Any:
        found = (within or self.page).get_by_role("button", name=name, exact=True)
        return found.locator("visible=true").first

    def unfold(self, name: str, within: Any = None) -> Any:
        """Opens what is folded under these words, and returns it."""
        words = re.compile("^ ?" + re.escape(name))
        fold = (within or self.page).locator("details", has=self.page.locator("> summary", has_text=words)).last
        if fold.get_attribute("open") is None:
            fold.locator("> summary").tap()
        return fold

    def choose(self, within: Any, name: str, value: str) -> None:
        within.locator(f"label:has(input[name='{name}'][value='{value}'])").first.tap()

    def number(self, within: Any, name: str, text: str, unit: str = "") -> None:
        """Typed by day, with its unit where it has one; in the dark tapped digit by digit."""
        if not self.dark:
            within.locator(f"[name='{name}']").first.fill(f"{text} {unit}".strip())
            return
        for suffix, digit in zip(SUFFIXES[-len(text) :], text, strict=True):
            self.choose(within, f"{name}.{suffix}", digit)

    def sign_in(self, name: str) -> None:
        """Takes the phone over, by name and PIN, where it is."""
        form = self.page.locator("form[action='/sign-in']")
        self.choose(form, "who", name)
        if self.dark:
            for place, digit in enumerate(PEOPLE[name][1], 1):
                self.choose(form, f"secret.p{place}", digit)
        else:
            form.locator("input[name=secret]").fill(PEOPLE[name][1])
        self.tap(self.button("Sign in"))


@dataclass
class Way:
    """The job, its screens by placement and print order, and what was done, as whoever did it would tell."""

    shop: Shop
    phone: Phone
    base: str
    job: jobs.Saved
    press: str
    tags: dict[str, str] = field(default_factory=dict)
    made: dict[tuple[int, int], str] = field(default_factory=dict)
    measured: dict[int, dict[str, dict[str, str]]] = field(default_factory=dict)
    holder: str = ""
    runs: list[int] = field(default_factory=list)

    @property
    def db(self) -> Database:
        return self.shop.db

    def hold(self, name: str) -> None:
        self.phone.open("/sign-in")
        self.phone.sign_in(name)
        self.holder = name

    def paper(self, made: tickets.PrintedPaper) -> tuple[str, list[str]]:
        return on_paper(made.pdf)

    def set_up(self, placement: int) -> int:
        """From the ticket to all screens on their heads."""
        _text, codes = self.paper(printing.print_job(self.db, self.shop.manager, self.job.code, now=clock()))
        (ticket,) = {one for one in codes if one.endswith(f"/t/{self.job.code}")}
        self.phone.open(ticket)
        form = self.phone.page.locator("form[action='/runs']")
        if not form.is_visible():
            self.phone.unfold("Set up a run")
        self.phone.choose(form, "placement", str(placement))
        self.phone.choose(form, "press", self.press)
        self.phone.tap(self.phone.button("Run opened", form))
        number = int(re.findall(r"/runs/(\d+)", self.phone.page.url)[0])
        self.runs.append(number)
        for (place, _station), code in self.made.items():
            if place == placement:
                self.phone.open(self.tags[code])
                assert self.phone.page.locator("h1.word").inner_text() == "RIGHT SCREEN"
                self.phone.tap(self.phone.page.locator("button.hang"))
        return number

    def note(self, number: int, hand_over: str = "") -> None:
        """Each head noted where one stands, each blade gauged; from the middle on somebody else has the phone."""
        self.phone.open(f"/runs/{number}")
        keys = [
            str(one.get_attribute("id")).removeprefix("card-") for one in self.phone.page.locator(".head-view").all()
        ]
        for count, key in enumerate(keys):
            if hand_over and count == len(keys) // 2:
                self.hold(hand_over)
                self.phone.open(f"/runs/{number}?part={key}")
            card = self.phone.page.locator(f"#card-{key}")
            field = {"run": "garment_peak"}.get(key, "hardness_measured")
            if card.locator(f"[name^='{key if key == 'run' else f's{key}'}.{field}']").count():
                value = "163" if key == "run" else str(66 + count)
                fold = self.phone.unfold("Measured", card)
                start = "run" if key == "run" else f"s{key}"
                self.phone.number(fold, f"{start}.{field}", value, "°C" if key == "run" else "Shore A")
                self.measured.setdefault(number, {}).setdefault(key, {})[field] = f"{value} by {self.holder}"
            self.phone.tap(card.locator(".note-part").first)

    def approve(self, by: str) -> None:
        form = self.phone.page.locator("form[action$='/approve']").first
        self.phone.unfold("Approved by somebody else? How, sample, photo", form)
        self.phone.choose(form, "approved_by", by)
        self.phone.choose(form, "how", "piece in hand")
        self.phone.tap(self.phone.button("First print approved", form))

    def count(self, good: int, misprinted: int = 0) -> None:
        fold = self.phone.unfold("Enter count, keep printing")
        self.phone.number(fold, "good", str(good))
        if misprinted:
            self.phone.number(fold, "misprinted", str(misprinted))
        self.phone.tap(fold.locator("button.primary"))

    def next_garment(self, garment: int, good: int) -> None:
        """What was counted until then goes along."""
        fold = self.phone.unfold("Next garment")
        self.phone.number(fold, "good", str(good))
        self.phone.choose(fold, "garment", str(garment))
        self.phone.tap(self.phone.button("This garment from now on", fold))

    def print_all(self, number: int) -> None:
        """Start on the first garment, then the second, and the end: 24 and 12 good ones, 2 and 1 misprinted."""
        form = self.phone.page.locator("form[action$='/start']").locator("visible=true").first
        self.phone.choose(form, "garment", "1")
        fold = self.phone.unfold("Test prints before the start", form)
        self.phone.number(fold, "test_prints", "3")
        self.phone.tap(self.phone.button("Printing started", form))
        self.count(20, 2)
        self.next_garment(2, 4)
        self.phone.unfold("Approve a first print again")
        self.approve("Cy Marsh")
        self.count(12, 1)
        fold = self.phone.unfold("Finish the run")
        self.phone.choose(fold, "then", "keep")
        self.phone.tap(self.phone.button("Run finished", fold))


def sheet_of(heads: int) -> dict[str, Any]:
    """A job of so many colours on the front, the first one flashed, and one on the sleeve; on its second garment the
    last colour of the front is not printed."""
    prints = [
        {"does": "print", "colour": one, "ink": "plastisol", "mesh": {"count": "230/in", "thread": "48 um"},
         "squeegee": {"hardness": "70", "edge": "square"}} for one in COLOURS[:heads]
    ]  # fmt: skip
    front = [prints[0], {"does": "flash", "time": "6 s"}, *prints[1:]]
    return {
        "title": "Harbour walk shirts",
        "customer": "Grebe Walking Club",
        "due": (NOW.date() + timedelta(days=20)).isoformat(),
        "art": {"name": "Walkers", "revision": "1"},
        "garment": [
            {"style": "Heavy tee", "colour": one, "pieces": pieces, "fibre": {"cotton": 100}}
            for one, pieces in (("black", 24), ("stone", 12))
        ],
        "colourway": [
            {"garment": {"style": "Heavy tee", "colour": "stone"}, "inks": {COLOURS[heads - 1]: False}},
        ],
        "placement": [
            {"name": "Full front", "width": "280 mm", "station": front},
            {"name": "Sleeve", "width": "70 mm", "station": [prints[0]]},
        ],
    }


@pytest.fixture
def way(
    shop: Shop, phone: Any, server: str, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Way]:
    """The job and its screens, tickets and tags printed with the address of the server; the phone is signed out."""
    heads, view = request.param
    monkeypatch.setattr(addresses, "_addresses_of", lambda name: {"127.0.0.1"})
    monkeypatch.setattr(addresses, "own_addresses", lambda: {"127.0.0.1"})
    now = clock() - timedelta(minutes=30)
    shops.set_up(shop.db, shop.manager, "address", server, now=now)
    (code,) = jobs_acts.add(shop.db, shop.manager, [read(sheet_of(heads))], post=fresh(), now=now)
    job = find.job(shop.db, code)
    phone.set_default_timeout(8000)
    press = places.add(shop.db, shop.manager, "Automatic", "press", post=fresh(), now=now, heads=10)
    made = Way(shop, Phone(phone, view == "safelight"), server, job, press)
    for placement in (1, 2):
        for asked in jobs.asked(shop.db, job, placement):
            made.made[placement, asked.number] = shop.screen(job, asked.number, kind=3, placement=placement)
    _text, codes = on_paper(printing.print_tags(shop.db, shop.manager, [*made.made.values()], now=now).pdf)
    made.tags = {one.rpartition("/")[2]: one for one in codes}
    yield made


def held_against_the_log(way: Way, heads: int) -> None:
    """What the log says, against what was done, by hand: 22 + 4 on black, 13 on stone, 3 test prints before."""
    black, stone, tests = 20 + 2 + 4, 12 + 1, 3
    idle = heads + 1  # the last colour of the front, behind its flash: not on stone
    for (placement, station), code in way.made.items():
        life = find.screen(way.db, code).life
        wanted = tests + black + (0 if (placement, station) == (1, idle) else stone)
        assert life.impressions == wanted, (placement, station)
        assert str(life.standing) == "kept" and life.uses == 1
    for number in way.runs:
        plan = run_plan.plan(way.db, number)
        said = plan.story
        assert (said.good, said.misprinted, said.tests) == (36, 3, 3) and said.state == "finished"
        assert run_plan.pieces_counted(way.db, plan) == {"Heavy tee, black": 24, "Heavy tee, stone": 12}
        assert said.approved and said.approved["approved_by"] == "Cy Marsh" and said.approved["how"] == "piece in hand"
        measured = {
            key: {name: f"{said.settings[key][name].split(' ')[0]} by {one['who']}" for name, one in found.items()}
            for key, found in said.measured.items()
        }
        assert measured == way.measured[number]
        steps = [one.step for one in entries.of(way.db, "run", number) if one.screen is None and one.step != "sheet"]
        assert steps == "open approve start change count count change approve count finish".split()


def reorder(way: Way) -> None:
    """The lead marks the settings, the reorder is entered by day, its ticket has them, its run meets them."""
    phone, first = way.phone, way.runs[0]
    phone.open(f"/runs/{first}")
    phone.tap(phone.button("Log as the target for next time"))
    phone.open(f"/jobs/{way.job.code}/again")
    if phone.dark:
        assert phone.page.get_by_text("Write it later, in daylight.").is_visible()
        phone.dark = False
        phone.tap(phone.button("Switch to daylight"))
    phone.page.fill("#due", (NOW.date() + timedelta(days=40)).isoformat())
    phone.tap(phone.button("Enter the reorder"))
    code = phone.page.url.partition("?")[0].rpartition("/")[2]
    again = find.job(way.db, code)
    text, codes = way.paper(printing.print_job(way.db, way.shop.manager, again.code, now=clock()))
    assert f"approved run {first}" in " ".join(text.split()) and f"{way.base}/t/{again.code}" in codes
    way.job = again
    second = way.set_up(1)
    assert f"Target: approved run {first}" in phone.page.content()
    assert run_plan.plan(way.db, second).missing() == []


def whole(way: Way, heads: int) -> None:
    if way.phone.dark:
        way.phone.page.goto("/sign-in")
        way.phone.tap(way.phone.button("Switch to safelight"))
    way.hold("Bo Lind")
    for placement in (1, 2):
        number = way.set_up(placement)
        way.note(number, "Cy Marsh" if placement == 1 else "")
        way.approve("Cy Marsh")
        way.print_all(number)
    held_against_the_log(way, heads)
    reorder(way)


VIEWS = ("day", "safelight")


@pytest.mark.parametrize("way", [(2, one) for one in VIEWS], ids=VIEWS, indirect=True)
def test_a_small_job_from_its_ticket_to_its_reorder(way: Way) -> None:
    whole(way, 2)


@pytest.mark.slow
@pytest.mark.parametrize("way", [(8, one) for one in VIEWS], ids=VIEWS, indirect=True)
def test_a_full_press_from_its_ticket_to_its_reorder(way: Way) -> None:
    whole(way, 8)
    print(f"pages seen: {way.phone.pages}")
