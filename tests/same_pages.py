"""Says which pages a change made other. `python tests/same_pages.py before.json` writes what each page is; run it again
with `after.json` when the code is changed; `python tests/same_pages.py before.json after.json` says which pages differ,
each with its first other lines. Every page of the invented shop is looked at by each role, by day and in safelight, and
what comes back when each step of each run is sent with nothing filled in, or with what cannot be."""

from __future__ import annotations

import difflib
import hashlib
import json
import random
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch

import pytest
import shop as shops
import test_statements
from flask.testing import FlaskClient

from tickets import demo, store
from tickets.actions import people
from tickets.domain.steps import RUN_STEPS
from tickets.store import codes

OWN = re.compile(r'(name="entry" value=")[^"]+|(\?v=)\w+')
"""What is new on each page, or with each version of a file: left out."""
FILLED: tuple[dict[str, Any], ...] = (
    {},
    {"good": "x", "misprinted": "-1", "why": "tried", "cause": "ink", "minutes": "abc", "noted": "1",
     "s1.off_contact": "9", "s1.squeegee": "70", "garment": "9", "approved_by": "Nobody Here", "lab1": "300 1 1",
     "what": "colourway", "test_prints": "many", "condition": "good", "then": "keep", "screen": "7", "old": "7",
     "new": "7", "note": ""},
)  # fmt: skip
"""What is sent with each step of each run: none of it may be logged."""


VIEWS = {"day": tuple(demo.SECRETS), "safelight": ("Bo Lind", "Di Novak")}


def told(answer: Any) -> str:
    """An answer as it is compared."""
    if not answer.mimetype.startswith("text/html"):
        return (
            f"{answer.status_code} {hashlib.sha256(answer.get_data()).hexdigest() if answer.status_code == 200 else ''}"
        )
    return f"{answer.status_code}\n" + OWN.sub(r"\1\2", answer.get_data().decode())


def more(folder: Path) -> Iterator[str]:
    """Addresses beside those that the test of statements knows: what a run's page is asked for with."""
    db = store.connect(folder)
    codes = [code for (code,) in db.execute("SELECT code FROM screens ORDER BY id").fetchall()]
    for (run,) in db.execute("SELECT id FROM runs ORDER BY id").fetchall():
        for name in ("sheet", "stop", "change", "start", "pause", "finish", "note", "cross-out"):
            yield f"/runs/{run}?open={name}"
        yield from (f"/runs/{run}?part={part}" for part in ("all", "run", "1", "2"))
        yield f"/runs/{run}?part=run&field=hold"
        yield from (f"/runs/{run}?screen={code}" for code in codes[run % 3 :: 5])
        yield from (f"/runs/{run}?screen={code}&in_hand=yes&head={run}" for code in codes[run % 7 :: 11])
        yield from (f"/runs/{run}?swap={code}&hung={code}" for code in codes[run % 2 :: 9])
        yield f"/runs/{run}?screen=nothing"
    db.close()


def seen(folder: Path, phone: FlaskClient) -> Iterator[tuple[str, str]]:
    """Every page that a phone sees, by its address."""
    known = (path for paths in test_statements.addresses(phone.application, folder).values() for path in paths)
    for path in [*known, *more(folder)]:
        if not path.startswith("/static"):
            with test_statements.traced(phone.application, pytest.MonkeyPatch()) as asked:
                text = told(phone.get(path))
            yield path, f"{len(asked)} statements\n{text}"
    db = store.connect(folder)
    for (run,) in db.execute("SELECT id FROM runs ORDER BY id").fetchall():
        for step in (*RUN_STEPS, "sheet", "hang", "swap", "cross-out", "use-next-time"):
            for number, fields in enumerate(FILLED):
                sent = {"entry": f"{run}-{step}-{number}-0123456789", **fields}
                yield f"{run} {step} {number}", told(phone.post(f"/runs/{run}/{step}", data=sent))
    db.close()


def every() -> dict[str, str]:
    """Every page of each role in each view, by who sees it and its address."""
    found, rng = {}, random.Random(1)
    same = patch.object(codes.issue, "__defaults__", (rng,))
    ids = patch("secrets.token_hex", lambda size=32: f"{rng.getrandbits(size * 8):0{size * 2}x}")
    with TemporaryDirectory() as made, patch.object(people, "HASH", shops.QUICK), same, ids:
        for view, names in VIEWS.items():
            for name in names:
                folder = shops.the_demo(Path(made) / view / name)
                with shops.pages(folder) as app:
                    shops.clock.now = shops.NOW
                    rng.seed(view + name)
                    phone = shops.signed_in(shops.phone_of(app), name, demo.SECRETS[name][1])
                    phone.post("/view", data={"view": view, "next": "/"})
                    found |= {f"{view}, {name}: {path}": text for path, text in seen(folder, phone)}
    return found


def main() -> None:
    """By the files named."""
    if len(sys.argv) == 2:
        Path(sys.argv[1]).write_text(json.dumps(every()))
        return
    before, after = (json.loads(Path(name).read_text()) for name in sys.argv[1:3])
    other = [name for name in before if before[name] != after.get(name)]
    print(f"{len(before)} pages, {len(other)} differ, {len(set(before) ^ set(after))} are in one file only")
    for name in other[:5]:
        lines = difflib.unified_diff(before[name].split("\n"), after.get(name, "").split("\n"), lineterm="", n=1)
        print(name, *list(lines)[2:30], sep="\n")


if __name__ == "__main__":
    main()
