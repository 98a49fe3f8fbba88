"""A real shop runs through: a real server, a phone-sized Chromium over a host name, PDFs read by another reader."""

from __future__ import annotations

import base64
import csv
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from click.testing import CliRunner
from shop import answered

from tickets import store
from tickets.cli import root
from tickets.demo import sample_folder
from tickets.queries import sound

pytestmark = pytest.mark.browser


def command(folder: Path, *words: str) -> str:
    done = CliRunner().invoke(root, [words[0], *words[1:], "--data", str(folder)])
    assert done.exit_code == 0, done.output
    return done.stdout


def codes_in(pdf: bytes) -> list[str]:
    """What an independent reader finds in the rendered pages of a PDF."""
    assert pdf.startswith(b"%PDF")
    document = pypdfium2.PdfDocument(pdf)
    found = []
    for page in document:
        image = page.render(scale=300 / 72).to_pil()
        found += [read.text for read in zxingcpp.read_barcodes(image)]
    document.close()
    return found


class Phone:
    """A phone in somebody's hand: it scans, taps and types."""

    def __init__(self, page: Any) -> None:
        self.page = page

    def scan(self, address: str) -> None:
        """The camera opens what a code says."""
        self.page.goto(address)

    def tap(self, name: str, within: str = "body") -> None:
        with answered(self.page):
            self.page.locator(within).get_by_role("button", name=name, exact=True).first.click()

    def big_button(self, within: str = "main") -> str:
        """Taps the large button and says what stood on it."""
        button = self.page.locator(f"{within} button.primary").first
        name = str(button.inner_text())
        with answered(self.page):
            button.click()
        return name

    def paper(self, path: str) -> bytes:
        """The PDF that the button on a printing page makes, sent as the browser sends the form."""
        self.page.goto(path)
        inside = """async () => {
            const form = document.querySelector("main form.step");
            const sent = new URLSearchParams(new FormData(form));
            const answer = await fetch(form.action, {method: "POST", body: sent});
            if (!answer.ok) throw new Error(answer.status);
            let text = "";
            for (const byte of new Uint8Array(await answer.arrayBuffer())) text += String.fromCharCode(byte);
            return btoa(text);
        }"""
        return base64.b64decode(self.page.evaluate(inside))

    def word(self) -> str:
        """The large word of a verdict at the press."""
        return str(self.page.locator(".at-press .word").inner_text())

    def text(self) -> str:
        return str(self.page.locator("main").inner_text())


def test_a_real_shop(
    folder: Path, server: str, phone: Any, sign_in_page: Callable[[Any, str], None], tmp_path: Path
) -> None:
    it = Phone(phone)
    phone.set_default_timeout(8000)
    sign_in_page(phone, "Di Novak")
    assert "localhost" not in server and "127." not in server
    command(folder, "address", server)
    for name, kind, more in (("Rack 1", "rack", ()), ("Press 1", "press", ("--heads", "8"))):
        command(folder, "place", "add", name, "--kind", kind, *more)

    # A sample job, pasted on the page
    phone.goto("/jobs/new")
    phone.get_by_text("Paste it, or send a file").click()
    sheet = re.sub(r"(?m)^picture = .*\n", "", (sample_folder() / "night-run.toml").read_text("utf-8"))
    phone.fill("textarea[name=toml]", sheet)
    it.tap("Save what is pasted or sent")
    job = phone.url.rstrip("/").split("/")[-1].split("?")[0]
    assert "Night run shirts" in it.text()

    # Frames, registered on the page: one for each printing station, and one of another mesh
    frames = {}
    for number, (mesh, thread) in enumerate((("135", "48"), ("156", "64"), ("230", "48")), 1):
        phone.goto("/screens/new")
        phone.fill("[name=mesh_count_as_labelled]", mesh)
        phone.get_by_text("/in", exact=True).first.click()
        phone.fill("[name=thread_um]", thread)
        phone.locator("details.fold summary").first.click()
        phone.locator("label").filter(has_text="aluminium").first.click()
        phone.fill("[name=mark]", f"N {number}")
        it.big_button()
        frames[mesh] = phone.locator("ul.codes a").first.get_attribute("href").split("/")[-1]

    # Their tags, the rack's tag and the job's ticket: each code is read and its address followed
    read = codes_in(it.paper(f"/print/tags?codes={','.join(frames.values())}"))
    assert set(read) == {f"{server}/t/{code}" for code in frames.values()} and len(read) == 6  # two on each tag
    rack = json.loads(command(folder, "place", "list", "--json"))
    rack_code = next(place["code"] for place in rack if place["name"] == "Rack 1")
    rack_address = codes_in(it.paper(f"/print/place/{rack_code}"))[0]
    ticket = set(codes_in(it.paper(f"/print/job/{job}")))
    assert ticket == {f"{server}/t/{job}"}
    it.scan(ticket.pop())
    assert "Night run shirts" in it.text()
    address = {}
    for text in dict.fromkeys(read):
        it.scan(text)
        mark = phone.locator(".thing .mark").inner_text()
        address[mark] = text
        assert phone.locator(".stage b").inner_text() == "bare"
    assert sorted(address) == ["N 1", "N 2", "N 3"]

    def code(mark: str) -> str:
        return address[mark].rsplit("/", 1)[1]

    # Tension one by one, then into the rack by scanning
    for mark, readings in (("N 1", ("25", "24,5", "24")), ("N 2", ("25.5", "25", "24.5"))):
        phone.goto(f"/screens/{code(mark)}?step=tension")
        for box, value in zip(phone.locator("[name=readings_n_per_cm]").all(), readings, strict=False):
            box.fill(value)
        it.big_button()
        assert "OK" in it.text()
    it.scan(rack_address)
    it.tap("Scan screens to put them here")
    for mark in ("N 1", "N 2"):
        it.scan(address[mark])
        it.big_button()
        assert "Put away" in it.text()
    it.tap("Leave this")

    # By rack: degrease, coat; what is put away is ticked by hand
    for step in ("degrease", "coat"):
        phone.goto(f"/places/{rack_code}?step={step}")
        phone.get_by_role("link", name="Tick all" if step == "degrease" else "Tick those that are due").click()
        it.big_button("form.step")
        assert "2 screens" in it.text()
    # One by one: which image is on which
    shown = json.loads(command(folder, "job", "show", job, "--json"))
    stations = {
        station["mesh"]["count"] if isinstance(station.get("mesh"), dict) else station.get("mesh", ""): station
        for placement in shown["placements"]
        for station in placement["stations"]
        if station.get("separation") is not None
    }
    assert len(stations) == 2
    for mark, station in zip(("N 1", "N 2"), stations.values(), strict=True):
        phone.goto(f"/screens/{code(mark)}?step=image")
        number = station["separation"] if isinstance(station["separation"], int) else station["separation"]["number"]
        phone.locator(f"input[name=separations][value='{number}']").check(force=True)
        phone.locator("details:has(input[name=dry]) > summary").first.click()
        phone.locator("input[name=dry][value=yes]").check(force=True)  # coated a minute ago, and felt
        it.big_button("form.step")
        assert "Imaged" in it.text()
    # By rack again: expose, wash out, check
    phone.goto(f"/places/{rack_code}?step=expose&tick=due")
    phone.fill("[name=exposure_s]", "60")
    it.big_button("form.step")
    for step in ("washout", "check"):
        phone.goto(f"/places/{rack_code}?step={step}&tick=due")
        if step == "check":
            phone.locator("details:has(input[name=dry]) > summary").first.click()
            phone.locator("input[name=dry][value=yes]").check(force=True)  # somebody felt it
        with answered(phone):
            phone.locator("button.found-good").first.click()
        assert "2 screens" in it.text()

    # At the press: the wrong screen stops, the right ones hang
    def set_up(of: str) -> int:
        phone.goto(f"/jobs/{of}")
        fold = phone.get_by_text("Set up a run").first
        if not phone.get_by_role("button", name="Run opened").is_visible():
            fold.click()
        it.tap("Run opened")  # on the only press
        return int(phone.url.rsplit("/", 1)[1])

    def hang(mark: str) -> str:
        it.scan(address[mark])
        word = it.word()
        phone.locator("button.hang").click()
        phone.wait_for_url("**/runs/*")
        return word

    def print_it(run: int, good: str) -> None:
        it.tap("All as the target, but for what I changed")
        it.tap("First print approved")
        it.tap("Printing started")
        phone.locator("summary", has_text="Finish the run").click()
        phone.locator("form[action$='/finish'] [name=good]").fill(good)

    run = set_up(job)
    it.scan(address["N 3"])
    assert it.word() == "STOP" and phone.get_by_role("button", name="Hung").count() == 0
    assert [hang("N 1"), hang("N 2")] == ["RIGHT SCREEN", "RIGHT SCREEN"]
    print_it(run, "104")
    phone.get_by_text("reclaim all").click()
    phone.get_by_text("Pick per screen").last.click()
    phone.locator(f"input[name='then.{code('N 1')}'][value=keep]").last.check(force=True)
    it.tap("Run finished")
    assert "still needs" in it.text() and "N 2" in it.text()  # some pieces are left to print
    it.tap("Run finished anyway")
    assert "104 good" in it.text()
    it.tap("Log as the target for next time")

    # One is kept, the other cleaned, stripped and made again for the repeat
    it.scan(address["N 1"])
    assert phone.locator(".stage b").inner_text() == "kept"
    it.scan(address["N 2"])
    for wanted in ("Cleaned", "Reclaimed", "Degreased"):
        assert it.big_button("form.step") == wanted
    phone.goto(f"/jobs/{job}/again")
    phone.fill("[name=due]", "2026-12-20")
    phone.fill("[name=reference]", "BH-311")
    it.big_button()
    repeat = phone.url.rstrip("/").split("/")[-1].split("?")[0]
    assert repeat != job
    number = next(iter(reversed(stations.values())))["separation"]
    number = number if isinstance(number, int) else number["number"]
    for step in ("coat", "image", "expose", "washout", "check"):
        phone.goto(f"/screens/{code('N 2')}?step={step}")
        if step == "expose":  # filled in from the habit of the shop
            assert phone.locator("[name=exposure_s]").input_value() == "60"
        if step == "image":
            phone.locator(f"input[name=separations][value='{number}']").check(force=True)
        dry = phone.locator("form.step input[name=dry][value=yes]")
        if dry.count():  # it was felt: a test has no hour to wait
            if not dry.first.is_visible():
                phone.locator("details:has(input[name=dry]) > summary").first.click()
            dry.check(force=True)
        if step in ("washout", "check"):
            with answered(phone):
                phone.locator("button.found-good").first.click()
        else:
            it.big_button("form.step")
    again = set_up(repeat)
    assert hang("N 1") == "RIGHT SCREEN"  # the kept one
    assert hang("N 2") == "RIGHT SCREEN"
    assert f"approved run {run}" in it.text()
    print_it(again, "90")
    phone.get_by_text("keep all").click()
    it.tap("Run finished")

    # The log, the inventory and the export agree; the shop is sound
    command(folder, "export", "--out", str(tmp_path / "out"))
    lines = [json.loads(line) for line in (tmp_path / "out" / "entries.jsonl").read_text("utf-8").splitlines()]
    with (tmp_path / "out" / "entries.csv").open(encoding="utf-8", newline="") as table:
        rows = list(csv.DictReader(table))
    assert [line["entry"] for line in lines] == [row["entry"] for row in rows]
    steps = [line["step"] for line in lines if line.get("screen") == code("N 1")]
    assert steps == (
        "stretch tension rack degrease coat image expose washout check hang print pull hang print pull".split()
    )
    printed = sum(line["impressions"] for line in lines if line["step"] == "print" and line["screen"] == code("N 1"))
    screen = json.loads(command(folder, "screen", "show", code("N 1"), "--json"))
    assert screen["impressions"] == printed == 194 and screen["standing"] == "kept" and screen["uses"] == 2
    phone.goto("/screens?standing=kept")
    assert all(mark in it.text() for mark in ("N 1", "N 2")) and "N 3" not in it.text()
    assert "sound" in command(folder, "check")
    db = store.connect(folder)
    assert sound.check(db) == []
    db.close()
