"""Adds a shop, written through the commands of this program, to `shops.tar.xz`: python tests/earlier/written.py

To be run by the program of each schema, before it is an earlier one."""

from __future__ import annotations

import io
import json
import sqlite3
import sys
import tarfile
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from click.testing import CliRunner

from tickets import store
from tickets.cli import root

PACKED = Path(__file__).with_name("shops.tar.xz")
JOB = Path(__file__).parents[2] / "sample_jobs" / "night-run.toml"
IN_HAND = ("--in_hand", "yes")


def write(folder: Path) -> None:
    """A job of two colours, three screens, two of them hung in a run that prints."""

    def do(text: str, *more: str, typed: str = "") -> Any:
        done = CliRunner().invoke(root, [*text.split(), *more, "--data", str(folder)], input=typed)
        if done.exit_code:
            sys.exit(f"{text}: {done.output}")
        return json.loads(done.stdout) if "--json" in more else None

    do("person add Ada --secret-stdin", "--role", "screen room", typed="482915\n")
    do("person add Dido --secret-stdin", "--role", "manager", typed="quiet mooring 7\n")
    do("person add Bo --secret-stdin", "--role", "press lead", typed="739164\n")
    do("settings set zone Europe/Warsaw")
    do("unit add --lamp point", "Big lamp")
    do("place add --kind rack", "Rack A")
    do("place add --kind press", "Auto 6")
    do("bucket add --product", "Photopolymer P", "--kind", "photopolymer emulsion")
    do("job add", str(JOB))
    job = do("job list", "--json")[0]["code"]
    made = do("screen add --count 230/in --frame aluminium --number 3 --thread", "48 um", "--json")
    codes = [str(one["code"]) for one in made]
    for number, code in enumerate(codes[:2], 1):
        do(f"screen log {code} tension --readings_n_per_cm 24 --by Ada")
        do(f"screen log {code} degrease --by Ada")
        do(f"screen log {code} coat --by Ada --preset", "2+1 round edge")
        do(f"screen log {code} image --by Ada --separations {number}", *IN_HAND)
        do(f"screen log {code} expose --by Ada --exposure_s 60 --exposure_unit", "Big lamp", *IN_HAND)
        do(f"screen log {code} washout --by Ada --result good --step_held 7", *IN_HAND)
        do(f"screen log {code} check --by Ada --result good", *IN_HAND)
    do(f"run open --job {job} --placement 1 --by Bo --press", "Auto 6")
    for code, station in zip(codes, ("1", "4"), strict=False):
        do(f"run log 1 hang --screen {code} --head {station} --station {station} --by Bo --override tried", *IN_HAND)
    do("run log 1 sheet --by Bo")
    do("run log 1 approve --approved_by Bo --approved_as press --by Bo --anyway")
    do("run log 1 start --garment 1 --by Bo --anyway")
    do("run log 1 count --good 12 --by Bo")
    do(f"screen log {codes[2]} rack --by Ada --place", "Rack A")


def main() -> None:
    """Writes it, makes it small, and packs it with those that are there."""
    name = f"shop-{store.VERSION:02}.db"
    with TemporaryDirectory() as place:
        write(Path(place))
        there = sqlite3.connect(store.shop_file(Path(place)))
        for pragma in ("wal_checkpoint(TRUNCATE)", "journal_mode=DELETE", "page_size=512"):
            there.execute(f"PRAGMA {pragma}")
        there.execute("VACUUM INTO ?", [f"{place}/{name}"])
        there.close()
        with tarfile.open(PACKED) as packed:
            kept = {one.name: packed.extractfile(one).read() for one in packed}  # type: ignore[union-attr]
        kept[name] = Path(place, name).read_bytes()
    with tarfile.open(PACKED, "w:xz", preset=9) as packed:
        for one in sorted(kept):
            entry = tarfile.TarInfo(one)
            entry.size = len(kept[one])
            packed.addfile(entry, io.BytesIO(kept[one]))
    print(name)


if __name__ == "__main__":
    main()
