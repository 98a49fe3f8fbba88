"""Shops of any size for the benchmarks: entries in bulk through the store, worked-out tables built after.

Imported first by the benchmarks: it puts the checkout on the path, so that they run without the package installed.
"""

from __future__ import annotations

import random
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tickets.actions import people, shop
from tickets.domain.entry import Entry, stamp
from tickets.store import codes, entries, places, screens, writing

CYCLE = tuple("tension degrease coat image expose washout check hang print pull clean strip".split())
RACK = 40
"""Screens on a rack: a larger shop fills more racks, not larger ones."""

MESHES = (("110/in", 80.0), ("156/in", 64.0), ("230/in", 48.0), ("230/in", 40.0), ("280/in", 34.0), ("90/cm", 48.0))


def fill(folder: Path, screens_wanted: int, entries_wanted: int, seed: int = 7, racks: int = 251) -> list[str]:
    """A shop of so many screens and entries in an empty folder; the screens' codes.

    Every shop has as many racks, the first ones full, so that its pages differ by screens and entries only. Each screen
    goes round its cycle at its own pace; its entries lie between stretch and now in the order of time.
    """
    rng = random.Random(seed)
    now = datetime.now(UTC)
    db = shop.open_shop(folder, now - timedelta(days=2000))
    person = people.built_in(db, now)
    made: list[str] = []
    each = entries_wanted // screens_wanted
    with writing(db):
        for number in range(1, screens_wanted + 1):
            code = codes.issue(db, "screen", number, stamp(now), rng)
            screens.add(db, code, number, stamp(now))
            made.append(code)
        for number in range(1, racks + 1):
            code = codes.issue(db, "place", number, stamp(now), rng)
            places.add(db, number, code, f"Rack {number}", "rack", False, None, stamp(now))
        batch: list[list[object]] = []
        saved = now - timedelta(days=10)  # lately: the clock of whoever serves it is held against the newest
        for number in range(1, screens_wanted + 1):
            mesh, thread = rng.choice(MESHES)
            at = now - timedelta(days=1400, minutes=rng.randint(0, 1000))
            pace = timedelta(days=1390) / each
            stop = rng.randint(0, len(CYCLE) - 1)  # so that screens stand at every stage
            for count in range(each):
                turn = count + stop if count > len(CYCLE) else count - 1
                step = CYCLE[turn % len(CYCLE)] if count else "stretch"
                values: dict[str, object] = {}
                if count == each - 1:
                    step, values = "rack", {"place": 1 + (number - 1) // RACK}
                if step == "stretch":
                    values = {
                        "mesh_count_as_labelled": mesh, "thread_um": thread, "frame": "aluminium", "mark": f"B {number}"
                    }  # fmt: skip
                elif step == "tension":
                    values = {"readings_n_per_cm": [round(rng.uniform(19, 26), 1) for _unused in range(5)]}
                elif step in ("washout", "check"):
                    values = {"result": "good"}
                elif step == "expose":
                    values = {"exposure_s": 80.0, "exposure_unit": "Big lamp"}
                elif step == "print":
                    values = {"impressions": rng.randint(20, 400)}
                elif step == "pull":
                    values = {"condition": "good", "then": "strip"}
                saved += timedelta(microseconds=1)
                entry = Entry(
                    entry=f"fill-{number:06d}-{count:06d}", step=step, at=at, saved_at=saved, person=person,
                    signed="command line", screen=number, values=values,
                )  # fmt: skip
                batch.append(entries.row_of(entry))
                at += pace
            if len(batch) > 20000:
                db.conn.executemany(entries.INSERT, batch)
                batch.clear()
        db.conn.executemany(entries.INSERT, batch)
    shop.rebuild(db)
    db.close()
    return made
