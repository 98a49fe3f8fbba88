"""Words that must not come back: names of somebody, one maker's sentences, words that had two meanings."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from visible import ROOT

# A dot in each keeps this list from being found by itself.
MUST_NOT = tuple(
    one.replace("·", "")
    for one in (
        # names that firms, products or persons bear or may bear
        "Kes·trel", "Rega·tta", "Quick W·hite", "Aqua-f·ast", "Aqua c·oat", "Sun C·oat", "Sunc·oat", "Reed Ka·yaks",
        "Tern Ro·wing", "Puf·fin", "Tide·water", "Blue D·oor", "Blue Lan·tern", "Hill L·ane",
        # one maker's leaflet of a film with factors, and one supplier's chart of meshes
        "factor s·trip", "colour change st·ops", "color change st·ops", "double the test t·ime",
        "athletic n·umber", "puf·f", "shim·mer", "foil adh·esive",
    )
)  # fmt: skip
FOUND = re.compile("|".join(rf"\b{re.escape(one)}" for one in MUST_NOT), re.IGNORECASE)
READ = {".py", ".html", ".md", ".toml", ".json", ".csv", ".sql", ".txt", ".js", ".css", ".po"}


def files() -> list[Path]:
    """What is read by people, what makes it, and what the tests make it of."""
    top = (path for path in ROOT.iterdir() if path.is_file())
    below = (path for folder in ("tickets", "web", "tests", "sample_jobs") for path in (ROOT / folder).rglob("*"))
    return sorted(path for path in (*top, *below) if path.suffix in READ)


def test_no_name_of_somebody_and_no_maker_s_sentence_comes_back() -> None:
    read = files()
    assert {"README.md", "DEVELOPERS.md", "demo.py", "papers.json", "harbour-lights.toml"} <= {one.name for one in read}
    said = [
        f"{path.relative_to(ROOT)}:{number} {found[0]}"
        for path in read
        for number, line in enumerate(path.read_text("utf-8", "replace").splitlines(), 1)
        for found in FOUND.finditer(line)
    ]
    assert said == []


@pytest.mark.parametrize("word", MUST_NOT)
def test_each_of_them_would_be_found(word: str) -> None:
    assert FOUND.search(f"a “{word.upper()}”, and")
