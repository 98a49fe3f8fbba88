"""A list of frames brought in from a spreadsheet: python tests/benchmarks/bring_in.py [--frames 5000]

Prints how long the file, the looking over and the writing take, how long the writer's lock is held at most, and how
much memory the process took. Aims: 60 s in all, 200 ms, 200 MB."""

from __future__ import annotations

import argparse
import io
import random
import resource
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from openpyxl import Workbook

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that it runs from a checkout that is not installed

from tickets.actions import lists, shop
from tickets.domain.lists import cells
from tickets.domain.lists.columns import Chosen
from tickets.queries import list_now, sound

HEADS = ("Screen No", "Mesh (tpi)", "Thread", "Frame type", "Size", "Tension (N/cm)", "Date of tension", "Uses",
         "Status", "Location", "Remarks")  # fmt: skip
MESHES = ((110, 80), (156, 64), (230, 48), (305, 34))


def spreadsheet(frames: int) -> bytes:
    """A list as an office keeps it: numbers as numbers, days as days."""
    dice, book = random.Random(5), Workbook(write_only=True)
    sheet = book.create_sheet("Frames")
    sheet.append(HEADS)
    for number in range(frames):
        mesh, thread = dice.choice(MESHES)
        sheet.append(
            [f"F {number:05d}", mesh, thread, dice.choice(("Alu", "wood")), "23 x 31 in", dice.randint(180, 280) / 10,
             datetime(2026, dice.randint(1, 9), dice.randint(1, 28)), dice.randint(0, 90),
             dice.choice(("reclaimed", "bare", "")), f"Rack {number % 40}", dice.choice(("", "", "bought used"))]
        )  # fmt: skip
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def main() -> None:
    """Prints the measures."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--frames", type=int, default=5000)
    frames = asked.parse_args().frames
    data, now = spreadsheet(frames), datetime(2026, 11, 30, 10, 0, tzinfo=UTC)
    print(f"the file: {len(data) / 1e3:,.0f} kB")
    with TemporaryDirectory() as folder:
        db = shop.open_shop(Path(folder) / "shop", now)
        me = shop.command_line(db, now)
        begun = time.perf_counter()

        def lap(said: str) -> None:
            nonlocal begun
            print(f"{said}: {time.perf_counter() - begun:.2f} s")
            begun = time.perf_counter()

        whole = begun
        raw = cells.read(data)
        lap("the file is read")
        number = lists.send(db, me, "frames", "frames.xlsx", raw, now=now)
        lap("it is kept, its columns proposed")
        kept = lists.of(db, number)
        lists.choose(db, me, number, [Chosen(one.field, one.unit) for one in kept.columns], make_places=True)
        found = list_now.comes_to(db, lists.of(db, number), now)
        lap(f"looked over ({len(found.items)} would do)")
        held: list[float] = []
        writing = lists.writing
        lists.writing = lambda db: _timed(writing(db), held)  # type: ignore[attr-defined]
        made = lists.take_in(db, me, number, now=now)
        lap(f"{made} made")
        print(f"all of it: {time.perf_counter() - whole:.2f} s (aim 60)")
        print(f"the writer's lock was held for at most {1000 * max(held):.0f} ms (aim 200), {len(held)} times")
        print(f"memory at most: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3:,.0f} MB (aim 200)")
        begun = time.perf_counter()
        print(f"the records: {sound.check(db) or 'sound'}")
        db.close()


class _timed:
    def __init__(self, lock, held):  # type: ignore[no-untyped-def]
        self._lock, self._held = lock, held

    def __enter__(self):  # type: ignore[no-untyped-def]
        found = self._lock.__enter__()
        self._begun = time.perf_counter()
        return found

    def __exit__(self, *fault):  # type: ignore[no-untyped-def]
        done = self._lock.__exit__(*fault)
        self._held.append(time.perf_counter() - self._begun)
        return done


if __name__ == "__main__":
    main()
