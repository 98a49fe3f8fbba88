"""The tour in README: its pictures are there, and light; the walk that they are made on still goes, and what each
caption quotes is on the page."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from PIL import Image
from tour import made

README = (shops.ROOT / "README.md").read_text("utf-8")
CAPTIONS = {name: said for said, name in re.findall(r"!\[([^]]+)]\(tests/tour/([\w-]+)\.webp\)", README)}
HEAVIEST = 60_000


def quoted(caption: str) -> list[str]:
    """What a caption says in quotes."""
    return re.findall("“(.+?)”", caption)


def test_each_picture_that_readme_names_is_there_and_light() -> None:
    assert README.count("![") == len(CAPTIONS) >= 9
    assert set(CAPTIONS) == {one.stem for one in made.FOLDER.glob("*.webp")}, "none is left that nobody shows"
    for name, caption in CAPTIONS.items():
        file = made.FOLDER / f"{name}.webp"
        assert 2_000 < file.stat().st_size < HEAVIEST, name
        with Image.open(file) as looks:
            assert looks.width in (made.PHONE[0], made.PAPER, made.WIDE), name
        assert quoted(caption), f"the caption of {name} quotes nothing that could be looked for"


@pytest.mark.browser
def test_the_walk_still_goes_and_shows_what_the_captions_say(browser: Any, tmp_path: Path) -> None:
    shown: dict[str, Image.Image] = {}

    def show(name: str, words: str, looks: Image.Image) -> None:
        on_it = " ".join(words.split()).casefold()
        missing = [one for one in quoted(CAPTIONS[name]) if one.casefold() not in on_it]
        assert not missing, f"{name} does not show {missing}: take the pictures again, and mend README\n{on_it}"
        shown[name] = looks

    with shops.pages(made.demo_shop(tmp_path / "shop"), testing=False) as app, shops.serving(app) as address:
        made.Walk(browser, address, show).all()
    assert set(shown) == set(CAPTIONS)
    assert shown["safelight"].getchannel("B").getextrema() == (0, 0), "the safelight has no blue"
