"""How often a code is read from a photo of a label or sheet with ink spots over 2, 5 and 8 % of it, by a seed: some two
minutes. A photo as `photographed.photo` makes it (turned, tilted, blurred, dim, noisy), read by zxing-cpp; the spots
are round, of one to seven modules, anywhere on the label, or of a sheet on and around its first code.

Prints rates, no verdict: how much ink a code bears is what its level Q can correct (a quarter of it: ISO/IEC 18004),
and what the finders at three corners bear, which is less.
"""

from __future__ import annotations

import argparse
import random
import sys
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import photographed
from test_paper import LONG, SCREEN, TICKET
from test_paper_sheet import setup

from tickets.paper.job import draw_job
from tickets.paper.page import Pages
from tickets.paper.sheet import draw_setup
from tickets.paper.stock import ROLLS
from tickets.paper.tags import draw_tags

SHARES = (0.0, 0.02, 0.05, 0.08)


def papers() -> dict[str, tuple[bytes, Pages]]:
    """Every label of a roll with the longest address, and the two sheets that carry codes."""
    found = {size: draw_tags([replace(SCREEN, address=LONG)], size, None) for size in ROLLS}
    return {**found, "ticket A4": draw_job(TICKET, "A4", None), "set-up sheet Letter": draw_setup(setup(), "Letter")}


def rate(pdf: bytes, pages: Pages, share: float, tries: int, seed: int) -> float:
    """Of how many photos in a hundred the code was read."""
    clean, wanted, good = photographed.near(pdf, pages), {photographed.codes_of(pages)[0].text}, 0
    for number in range(tries):
        by = random.Random(f"{seed} {share} {number}")
        image = photographed.spotted(clean, share, by, (0, 0, *clean.size)) if share else clean
        good += photographed.read(photographed.photo(image, by, photographed.Hard())) == wanted
    return 100 * good / tries


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    reader.add_argument("--tries", type=int, default=100)
    reader.add_argument("--seed", type=int, default=1)
    told = reader.parse_args()
    print(f"read of {told.tries} photos, % {'':6}" + "".join(f"{share:>12.0%}" for share in SHARES))
    for name, (pdf, pages) in papers().items():
        rates = [rate(pdf, pages, share, told.tries, told.seed) for share in SHARES]
        print(f"{name:28}" + "".join(f"{one:12.0f}" for one in rates), flush=True)


if __name__ == "__main__":
    main()
