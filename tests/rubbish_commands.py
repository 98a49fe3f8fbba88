"""Rubbish for the command: arguments that are wrong, and files of every sort that it reads, with something broken.

Each goes to a shop in this process, as `tickets` would run it. It answers or refuses (0, 1 or 2), never with a
traceback, and what is refused writes nothing.

`python tests/rubbish_commands.py --seed 1 --commands 3000 --files 2000` runs by name and prints what was answered.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import sqlite3
import sys
import tempfile
import traceback
import zipfile
from collections import Counter
from collections.abc import Iterator
from contextlib import chdir, contextmanager, redirect_stderr, redirect_stdout
from io import BytesIO, TextIOWrapper
from pathlib import Path
from unittest.mock import patch

import click
import shop as shops
from rubbish import PICTURES, THINGS, spoilt_text
from rubbish_words import BAD

from tickets import cli, demo, store
from tickets.actions import people
from tickets.domain.steps import BUCKET_STEPS, RUN_STEPS, SCREEN_STEPS

NOT_ENDING = {"serve", "demo"}
"""They go on until somebody ends them."""
FREE = {"screen log": SCREEN_STEPS, "run log": RUN_STEPS, "bucket log": BUCKET_STEPS}
BY_NAME = {
    "number": "/runs",
    "codes": "/screens",
    "separation": "",
    "name": "",
    "job": "/jobs",
    "place": "/places",
    "press": "/places",
    "bucket": "/buckets",
    "screen": "/screens",
}


def commands() -> Iterator[tuple[tuple[str, ...], click.Command]]:
    """Every command, by the words that call it."""

    def walk(one: click.Command, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], click.Command]]:
        if isinstance(one, click.Group):
            context = click.Context(one)
            for name in one.list_commands(context):
                found = one.get_command(context, name)
                assert found is not None
                yield from walk(found, (*path, name))
        elif path[0] not in NOT_ENDING:
            yield path, one

    yield from walk(cli.root, ())


class Commands:
    """A shop, and calls of the command that are mostly wrong in one thing."""

    def __init__(self, folder: Path, files: Path, seed: int) -> None:
        self.folder, self.files, self.dice = folder, files, random.Random(seed)
        self.all = list(commands())
        db = sqlite3.connect(folder / "shop.db")
        self.things = {start: [str(row[0]) for row in db.execute(asked)] for start, asked in THINGS.items()}
        db.close()
        self.made = 0
        self.backup = files / "whole.zip"
        answer = shops.commands(folder)("backup", self.backup)
        assert answer.exit_code == 0, answer.output
        self.whole = {
            "toml": [one.read_bytes() for one in sorted(shops.SAMPLES.glob("*.toml"))],
            "csv": [FRAMES, *(answer_of(folder, files, name) for name in ("screens.csv", "jobs.csv"))],
            "zip": [self.backup.read_bytes()],
            "readings": [READINGS],
            "png": PICTURES,
        }

    # arguments

    def bad(self) -> str:
        """Something wrong, as it stands in an argument: no NUL, and bytes that are no text as Python holds them."""
        return os.fsdecode(self.dice.choice(BAD).replace(b"\0", b"0"))[:5_000]

    def good(self, name: str, path: tuple[str, ...]) -> str:
        """What does for an argument or option of that name, mostly."""
        start = BY_NAME.get(name, "/" + path[0].rstrip("s") + "s" if name == "code" else "")
        if start in self.things and self.things[start]:
            return self.dice.choice(self.things[start])
        if name == "code":
            return self.dice.choice(self.things[self.dice.choice(["/screens", "/jobs", "/places", "/buckets"])])
        some = {
            "by": [*demo.SECRETS, "command line"],
            "at": ["2026-03-10T09:30"],
            "entry": [f"an-entry-{self.made:012}"],
            "kind": ["rack", "press", "plastisol", "dual-cure emulsion"],
            "frame": ["aluminium"],
            "role": ["press", "manager"],
            "value": ["Reed", "4"],
            "count": ["230/in"],
            "thread": ["48 um"],
            "readings": ["24 25 24"],
            "step": [*SCREEN_STEPS, *RUN_STEPS, *BUCKET_STEPS],
            "name": ["shop", "zone", "Reed 4", "Ada Holm"],
            "url": ["http://10.0.0.5:8600"],
        }
        return self.dice.choice(some.get(name, ["24", "reed", "4 min", "30 %", "12.5"]))

    def file(self, kind: str = "") -> str:
        """A file, whole or broken; or what is none."""
        self.made += 1
        roll = self.dice.random()
        if roll < 0.1:
            return self.dice.choice(
                [
                    str(self.files),
                    str(self.files / "none" / "x"),
                    "",
                    "/dev/null",
                    "/dev/zero",
                    str(self.folder / "shop.db"),
                    self.bad()[:200],
                ]
            )
        kind = kind or self.dice.choice([*self.whole])
        there = self.files / f"{self.made}.{kind}"
        there.write_bytes(self.content(kind))
        return str(there)

    def content(self, kind: str) -> bytes:
        """What is in a file of that sort, something in it broken."""
        whole, roll = self.dice.choice(self.whole[kind]), self.dice.random()
        if kind in ("toml", "csv", "readings") and roll < 0.75:
            return spoilt_text(self.dice, whole)
        if kind == "zip" and roll < 0.6:
            return self._zip(whole)
        if roll < 0.85:
            changed = bytearray(whole)
            for _one in range(self.dice.randrange(1, 9)):
                changed[self.dice.randrange(len(changed))] = self.dice.randrange(256)
            return bytes(changed)
        if roll < 0.95:
            return whole[: self.dice.randrange(len(whole))]
        return self.dice.choice(BAD)

    def _zip(self, whole: bytes) -> bytes:
        """A backup with one of its files broken, doubled, left out, called otherwise, or joined by another."""
        out = BytesIO()
        way = self.dice.choice(["break", "break", "break", "about", "about", "out", "name", "more", "twice"])
        with zipfile.ZipFile(BytesIO(whole)) as read, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
            names = read.namelist()
            hit = self.dice.choice([one for one in names if way != "about" or one.endswith(".json")] or names)
            for name in names:
                held = read.read(name)
                if name == hit and way == "break":
                    changed = bytearray(held)
                    for _one in range(self.dice.randrange(1, 40)):
                        changed[self.dice.randrange(len(changed))] = self.dice.randrange(256)
                    held = bytes(changed) if self.dice.random() < 0.8 else held[: self.dice.randrange(len(held))]
                elif name == hit and way == "about":
                    held = (
                        spoilt_text(self.dice, held)
                        if self.dice.random() < 0.6
                        else self.dice.choice([*BAD, b"[]", b"7", b'{"entries": "x"}'])
                    )
                if name != hit or way not in ("out", "name"):
                    made.writestr(name, held)
                if name == hit and way in ("name", "twice"):
                    other = self.dice.choice(
                        ["../x", "/x", "shop.db", "pictures/../../x", "a" * 300, name + "x", "pictures/", "C:\\x", name]
                    )
                    made.writestr(other, held)
            if way == "more":
                made.writestr(
                    self.dice.choice(
                        ["x", "log/tickets.log", "shop.db-wal", "shop.db-journal", "pictures/x.png", "./shop.db"]
                    ),
                    b"x" * 99,
                )
        return out.getvalue()

    def call(self) -> list[str]:
        """The words of one call."""
        path, command = self.dice.choice(self.all)
        words: list[str] = [*path]
        self.made += 1
        rate = self.dice.choice([0.0, 0.1, 0.1, 0.4, 1.0])

        def value(name: str) -> str:
            return self.bad() if self.dice.random() < rate else self.good(name, path)

        for one in command.params:
            name = one.name or ""
            if name in ("folder", "as_json"):
                continue
            file = isinstance(one.type, click.Path) or name == "file"
            if isinstance(one, click.Option):
                if not one.required and self.dice.random() < 0.6:
                    continue
                words.append(self.dice.choice(one.opts))
                if not one.is_flag:
                    words.append(self.out() if name == "out" else self.file() if file else value(name))
            elif name == "fields":
                words += self.fields(" ".join(path), rate)
            elif self.dice.random() < 0.97:
                several = self.dice.randrange(1, 4) if one.nargs != 1 else 1
                words += [
                    (self.out() if path[0] == "backup" else self.file(FILES.get(path, ""))) if file else value(name)
                    for _one in range(several)
                ]
        if self.dice.random() < 0.15:
            words.append("--json")
        if self.dice.random() < 0.1:
            words.insert(
                self.dice.randrange(len(words) + 1), self.dice.choice([self.bad(), "--", "--none", "-x", "--help"])
            )
        return words

    def out(self) -> str:
        """Where something is to be written: a new file, or where none can be."""
        self.made += 1
        return self.dice.choice(
            [str(self.files / f"{self.made}.out")] * 4
            + [str(self.files), "/dev/full", str(self.files / "none" / "x" / "y"), "/proc/x"]
        )

    def fields(self, called: str, rate: float) -> list[str]:
        """Fields of a step as they are typed."""
        steps = FREE[called]
        step = steps[self.dice.choice([*steps])]
        words = []
        for one in step.fields:
            if self.dice.random() < 0.5:
                values = [key for key, _label in one.choices] or [self.good(one.name, ())]
                words += [
                    f"--{one.name}",
                    self.bad() if self.dice.random() < max(rate, 0.1) else self.dice.choice(values),
                ]
        if self.dice.random() < 0.2:
            words += [f"--{self.bad()[:40]}", self.bad()]
        return words


FILES = {
    ("job", "add"): "toml",
    ("job", "change"): "toml",
    ("job", "check"): "toml",
    ("screen", "import"): "csv",
    ("restore",): "zip",
    ("calc", "probe"): "readings",
}
FRAMES = b"""mark,mesh_count,thread_um,frame,stretched_on,place,stage,tension_n_per_cm,uses_before,note
R 1,230/in,48,aluminium,2026-03-01,Rack 1,coated,25 24 26,3,"a note, of ours"
R 2,77/cm,"48",wood,,Rack 2,,24,0,
R 3,156/in,64,aluminium,2026-02-11,,cleaned,"22;23;24",12,"two
lines"
"""
READINGS = b"time,temp\n0,20\n5,60.5\n10,120\n15,160\n20,165\n25,166\n30,160\n"


def answer_of(folder: Path, files: Path, name: str) -> bytes:
    """A file of an export of the shop."""
    out = files / "exported"
    if not out.exists():
        assert shops.commands(folder)("export", "--out", out).exit_code == 0
    return (out / name).read_bytes()


# -- what must hold


class Tried:
    """Calls and what came of them."""

    def __init__(self, it: Commands) -> None:
        self.it = it
        self.faults: list[str] = []
        self.statuses: Counter[str] = Counter()
        self.now = content_of(it.folder)

    def call(self, words: list[str], folder: Path | None = None) -> None:
        """One call. `folder`: another shop than the one that is watched."""
        there = folder or self.it.folder
        before = set(self.it.files.rglob("*"))
        status, said = answered(words, there)
        self.statuses[f"{words[0] if words[0] in cli.WHERE else 'none'} {status}"] += 1
        told = " ".join(map(ascii, words))[:1_500]
        if status not in (0, 1, 2) or "Traceback" in said:
            self.faults.append(f"{told}: exit status {status}\n{said[-6_000:]}")
        new = {one for one in set(self.it.files.rglob("*")) - before if one.is_file() or one.is_symlink()}
        if status == 2:
            if content_of(self.it.folder) != self.now:
                self.faults.append(f"{told}: refused, but the shop has changed")
            if new:
                self.faults.append(f"{told}: refused, but made {sorted(one.name for one in new)}")
        self.now = content_of(self.it.folder)


def answered(words: list[str], folder: Path) -> tuple[int, str]:
    """The exit status of a call, and what it printed or raised; it writes to streams such as `tickets` has."""
    out = TextIOWrapper(BytesIO(), "utf-8", errors="backslashreplace", write_through=True)
    with redirect_stdout(out), redirect_stderr(out), patch.dict(os.environ, {"TICKETS_DATA": str(folder)}):
        typed = TextIOWrapper(BytesIO(b"482915\n482915\n"), "utf-8")
        with patch.object(sys, "stdin", typed), patch.object(sys, "__stdin__", typed):  # a pipe, and no terminal
            try:
                cli.root(words, prog_name="tickets")
                status = 0
            except SystemExit as end:
                status = end.code if isinstance(end.code, int) else 0 if end.code is None else 1
            except Exception:
                status = 99
                traceback.print_exc()
    return status, out.buffer.getvalue().decode("utf-8")  # type: ignore[attr-defined]


@contextmanager
def little_memory(most: int = 1_500_000_000) -> Iterator[None]:
    """So many bytes more than this process has, and no more: what never ends fails here, not the machine."""
    import resource

    before = resource.getrlimit(resource.RLIMIT_AS)
    has = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (has + most, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_AS, before)


def content_of(folder: Path) -> dict[str, int]:
    """What the tables of a shop hold, as numbers that differ where they do."""
    db = sqlite3.connect(folder / "shop.db")
    try:
        tables = [row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {
            table: hash(tuple(db.execute(f"SELECT * FROM {table}").fetchall()))
            for table in tables
            if table not in ("tries", "wrong_tries")
        }
    finally:
        db.close()


def run(scratch: Path, seed: int, calls: int, files: int) -> Tried:
    """So many calls, and so many files."""
    folder, there = shops.the_demo(scratch / "shop"), scratch / "files"
    there.mkdir()
    with chdir(scratch), little_memory():
        it = Commands(folder, there, seed)
        tried = Tried(it)
        for _one in range(calls):
            tried.call(it.call())
        for number in range(files):
            words, other = file_call(it, scratch, number)
            tried.call(words, other)
        answer = shops.commands(folder)("check")
        if answer.exit_code:
            tried.faults.append(f"check: {answer.output}")
    return tried


def file_call(it: Commands, scratch: Path, number: int) -> tuple[list[str], Path | None]:
    """A call that reads a file of which something is broken; the shop that it goes to, where that is a new one."""
    kind = it.dice.choice(["toml", "toml", "toml", "csv", "csv", "zip", "readings"])
    file = it.files / f"file-{number}.{kind}"
    file.write_bytes(it.content(kind))
    if kind == "zip":
        return ["restore", str(file)], scratch / f"restored-{number}"
    if kind == "toml":
        how = it.dice.choice([["check"], ["add"], ["change", it.dice.choice(it.things["/jobs"])]])
        return ["job", *how, str(file)], None
    if kind == "csv":
        return ["screen", "import", str(file), *it.dice.choice([[], ["--dry-run"]])], None
    return ["calc", "probe", "--file", str(file), "--cure", "160 degC"], None


def main() -> None:
    """Prints the exit statuses by command, and every fault."""
    read = argparse.ArgumentParser(description=main.__doc__)
    read.add_argument("--seed", type=int, default=1)
    read.add_argument("--commands", type=int, default=3_000)
    read.add_argument("--files", type=int, default=2_000)
    asked = read.parse_args()
    people.HASH, store.SYNCHRONOUS = shops.QUICK, "OFF"
    from tickets.cli import given

    given.clock = shops.clock
    with tempfile.TemporaryDirectory() as scratch:
        found = run(Path(scratch), asked.seed, asked.commands, asked.files)
    print(dict(sorted(found.statuses.items())))
    for one in found.faults:
        print("===", re.sub(r"/tmp/\S*?/(?=files|shop)", "", one))
    print(len(found.faults), "faults of", sum(found.statuses.values()))


if __name__ == "__main__":
    main()
