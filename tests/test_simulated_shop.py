"""The simulated shop, held day by day against what really happened in it; and what its worst moments come to."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from simulated_shop import SimulatedShop


def faults(made: SimulatedShop) -> str:
    return "\n".join(made.faults[:40])


def test_three_weeks(tmp_path: Path) -> None:
    made = SimulatedShop(tmp_path, seed=7)
    made.live(21)
    made.prove_month()
    assert not made.faults, faults(made)
    for what in ("scanned twice", "asked", "typed late", "crossed out", "repeat by its approved run", "paused"):
        assert made.happened[what], what
    made.close()


@pytest.mark.slow
def test_a_year(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Three presses, 300 screens, 1,500 placements and more, in some minutes."""
    begun = time.monotonic()
    made = SimulatedShop(tmp_path, seed=2026)
    made.live(365)
    made.prove_month()
    took = time.monotonic() - begun
    with capsys.disabled():
        print(f"\na year: {took:.0f} s, {made.seen} entries, {len(made.runs)} runs, {dict(made.happened)}")
    assert not made.faults, faults(made)
    assert len(made.frames) >= 300 and len(made.runs) >= 1500
    for what in (
        "asked", "counted with a screen gone", "crossed out", "failed washout", "gone past", "job changed",
        "mark crossed out", "old bucket", "old ink gone past", "paused", "ran short", "repeat by its approved run",
        "restretched", "retagged", "retired", "rush job", "scanned twice", "second phone finished too", "sent away",
        "station taken out", "swapped", "taken from another run", "torn", "typed late", "wrong screen hung",
        "wrong screen refused",
    ):  # fmt: skip
        assert made.happened[what], what
    made.close()
