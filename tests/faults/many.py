"""Twenty thousand requests to one server: does its memory stay flat?

Prints the memory of the server at marks; exit status 1 where the later half of the requests made it grow by more than
a tenth and 5 MB.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

from server import Ledger, Phone, log_something, prepared, serving

READ = ("/screen-room", "/screens", "/log", "/press", "/jobs", "/places", "/buckets", "/desk", "/nowhere", "/spec")
MARKS = 10
LOGGED = 0.2
"""The share of requests that log something."""


@dataclass
class Told:
    """Bytes at each mark, and answers that were none."""

    marks: list[tuple[int, int]] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)

    @property
    def grown(self) -> int:
        """Bytes that the later half of the requests added."""
        return self.marks[-1][1] - self.marks[len(self.marks) // 2][1]

    @property
    def flat(self) -> bool:
        """It did not grow by more than what a heap does anyway (judgement)."""
        return self.grown < max(self.marks[-1][1] // 10, 5_000_000)


def asked(folder: Path, number: int, seed: int = 1) -> Told:
    """So many requests of one phone, as they come."""
    place, told, rng = prepared(folder, 40), Told(), random.Random(seed)
    with serving(folder) as server:
        phone, ledger = Phone(server.port, place.cookies[0]), Ledger()
        for count in range(number + 1):
            if count % (number // MARKS) == 0:
                told.marks.append((count, server.memory()))
                print(f"{count} requests: {told.marks[-1][1] / 1e6:.1f} MB", flush=True)
            code = rng.choice(place.codes)
            if rng.random() < LOGGED:
                status, wanted = log_something(ledger, phone, place, rng), 303
            else:
                path = rng.choice((f"/t/{code}", f"/screens/{code}", f"/desk/screens/{code}", rng.choice(READ)))
                status, wanted = phone.ask("GET", path), 404 if path == "/nowhere" else 200
            if status != wanted:
                told.wrong.append(f"{status}, not {wanted}")
        phone.close()
    return told


def main() -> int:
    """The argument, and what came of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--requests", type=int, default=20_000)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        told = asked(Path(place) / "shop", given.requests)
    print(f"the later half added {told.grown / 1e6:.1f} MB; wrong answers {len(told.wrong)}")
    return 0 if told.flat and not told.wrong else 1


if __name__ == "__main__":
    sys.exit(main())
