"""Pages as a browser prints them: black on white in either light, nothing to press, and a margin on every sheet."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy
import pypdfium2
import pytest
import shop as shops
from flask import Flask
from test_look import shown, the_demo

from tickets import demo, store
from tickets.store import runs

__all__ = ["shown", "the_demo"]
EDGE = 10.0
"""Least margin in mm: what printers on A4 leave white (common practice)."""
NOT_ON_PAPER = ("Cross out", "Swap screen", "Needs typing", "Enter count", "Safelight", "Write a note", "Skip to")


@pytest.mark.browser
def test_no_page_is_printed_in_amber_or_with_what_only_a_finger_presses(
    browser: Any, shown: Flask, the_demo: Path, tmp_path: Path
) -> None:
    db = store.connect(the_demo)
    printing = runs.open_ones(db)[0]
    screen = str(db.execute("SELECT code FROM codes WHERE kind = 'screen' LIMIT 1").fetchone()[0])
    db.close()
    paths = {"run": f"/runs/{printing.id}", "screen": f"/screens/{screen}", "settings": "/settings", "desk": "/desk"}
    said: dict[str, str] = {}
    with shops.serving(shown) as address:
        context = browser.new_context(
            viewport={"width": 1280, "height": 800}, base_url=address, bypass_csp=True
        )
        page = context.new_page()
        page.goto("/sign-in")
        page.get_by_role("radio", name="Di Novak").check()
        page.fill("input[name=secret]", demo.SECRETS["Di Novak"][1])
        with shops.answered(page):
            page.get_by_role("button", name="Sign in", exact=True).click()
        for view in ("day", "safelight"):
            if view == "safelight":
                with shops.answered(page):
                    page.locator("form.view button").first.click()
            for name, path in paths.items():
                page.goto(path)
                page.add_style_tag(content=".art, .swatch { visibility: hidden }")  # prints have colours
                page.pdf(path=tmp_path / "page.pdf", format="A4")
                said[f"{name} {view}"] = _looked_over(tmp_path / "page.pdf", view)
        context.close()
    assert [(where, text) for where, told in said.items() for text in NOT_ON_PAPER if text in told] == []
    assert all(
        "Print order" in said[f"run {view}"] and "Log" in said[f"screen {view}"] for view in ("day", "safelight")
    )


def _looked_over(file: Path, view: str) -> str:
    """What a printed page says; its margins are white, and under the safelight it has no colour but grey."""
    document = pypdfium2.PdfDocument(file)
    try:
        told = ""
        for page in document:
            told += page.get_textpage().get_text_range()
            pixels = numpy.asarray(page.render(scale=1).to_pil().convert("RGB")).astype(int)
            edge = round(EDGE * 72 / 25.4)
            inner = pixels[edge:-edge, edge:-edge]
            assert inner.sum() and pixels.sum() - inner.sum() == 3 * 255 * (pixels[..., 0].size - inner[..., 0].size)
            if view == "safelight":
                assert (pixels.max(axis=2) - pixels.min(axis=2)).max() < 40
        return told
    finally:
        document.close()
