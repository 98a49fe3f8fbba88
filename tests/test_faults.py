"""Many phones, power cuts and a long day, each small here and whole by name: the scripts in `tests/faults`."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent / "faults"))
import killed
import many
import phones

linux = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="forks servers that have the program loaded")
pytestmark = linux


@pytest.mark.parametrize(
    ("people", "connections", "seconds"), [(6, 3, 2), pytest.param(30, 8, 120, marks=pytest.mark.slow)]
)
def test_many_phones_read_and_log_and_nothing_is_lost(
    tmp_path: Path, people: int, connections: int, seconds: float
) -> None:
    told = phones.many(tmp_path / "shop", people, connections, seconds, pause=0.1 if people < 10 else phones.PAUSE)
    assert told.sound, [*told.wrong[:5], *told.findings, str(told.ledger)]
    assert told.ledger.acknowledged and told.reads
    print(f"slowest page {max(told.reads):.2f} s, slowest post {max(told.posts):.2f} s")


@pytest.mark.parametrize(
    ("number", "seed"), [(20, 1), *(pytest.param(200, seed, marks=pytest.mark.slow) for seed in range(2, 7))]
)
def test_a_server_killed_at_any_moment_loses_and_doubles_nothing(
    tmp_path: Path, number: int, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A thousand rounds by name, in five parts, each of which ends within ten minutes on a busy machine."""
    if number < 100:
        monkeypatch.setattr(killed, "LONGEST", 0.1)
    found = killed.rounds(tmp_path / "shop", number, seed)
    assert found.sound, [*found.amiss[:5], str(found.ledger)]
    assert found.killed >= number and len(found.ledger.acknowledged) > number


@pytest.mark.parametrize(
    ("only", "times"),
    [
        *(("import", 2), ("picture", 1), ("migration", 2)),
        *(pytest.param(act.name, 40, marks=pytest.mark.slow) for act in killed.ACTS),
    ],
)
def test_an_act_killed_at_any_moment_leaves_all_or_nothing(tmp_path: Path, only: str, times: int) -> None:
    found = killed.acts(tmp_path, times, only=only)
    assert found.sound, found.amiss[:5]
    assert found.killed >= times // 2


@pytest.mark.slow
def test_memory_stays_flat_over_a_long_day(tmp_path: Path) -> None:
    told = many.asked(tmp_path / "shop", 20_000)
    assert not told.wrong and told.flat, told.marks


# -- what the scripts would notice


def test_a_lost_and_a_doubled_entry_are_noticed(tmp_path: Path) -> None:
    place = killed.prepared(tmp_path / "shop", 2)
    found = killed.entries_of(killed.store.shop_file(place.folder))
    ledger = killed.Ledger(acknowledged={"never-written-00000000"})
    ledger.held_against(place.folder)
    assert ledger.lost == {"never-written-00000000"} and not ledger.sound
    twice = killed.Ledger(acknowledged={found[0][2]})  # the post that made both frames has two entries
    twice.held_against(place.folder)
    assert twice.doubled == {found[0][2]}


def test_a_half_file_and_a_half_import_are_noticed(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "whole").mkdir()
    (tmp_path / "whole" / "entries.csv").write_text("a,b\n1,2\n")
    (tmp_path / "out" / "entries.csv").write_text("a,b\n1")
    assert killed._whole_export(tmp_path) == ["half: entries.csv"]
    place = killed.prepared(tmp_path / "shop", 5)
    holds = killed._all_or_none("screens", 3)
    assert holds(tmp_path) == []
    more = killed.prepared(tmp_path / "other", 6)
    more.folder.joinpath("shop.db").replace(place.folder / "shop.db")
    assert holds(tmp_path)[0].endswith("rows of screens")


def test_memory_that_grows_is_noticed() -> None:
    flat = many.Told(marks=[(0, 90_000_000), (10, 100_000_000), (20, 101_000_000)])
    assert flat.flat and not many.Told(marks=[*flat.marks[:2], (20, 112_000_000)]).flat
