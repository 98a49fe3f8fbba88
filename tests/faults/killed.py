"""Power cuts: servers and commands are killed (SIGKILL) at any moment, hundreds of times, and nothing that was
acknowledged is lost or doubled.

`rounds`: a server that phones log to, and commands that write beside it, are killed; what nobody knows of is sent again
to the next server under the same id. `acts`: backup, restore, export, import of frames, a job with its picture,
repair and the upgrade of an earlier shop are each killed a few times at any moment of their work.
Prints the figures; exit status 1 where anything is amiss.
"""

from __future__ import annotations

import argparse
import hashlib
import http.client
import json
import random
import secrets
import shutil
import sqlite3
import sys
import tarfile
import tempfile
import threading
import time
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from server import Ledger, Phone, Place, Server, command, done, findings, log_something, prepared

from tickets import store

ROOT = Path(__file__).parents[2]
WRITERS = 3
"""Phones that log to a server until it is killed."""
LONGEST = 0.4
"""Seconds from the first answer to the kill, at most."""


@dataclass
class Killed:
    """What came of it: how many were killed at work, what is amiss."""

    killed: int = 0
    ledger: Ledger = field(default_factory=Ledger)
    amiss: list[str] = field(default_factory=list)

    @property
    def sound(self) -> bool:
        """Nothing is amiss."""
        return self.ledger.sound and not self.amiss


# -- servers, with commands beside


def _write(ledger: Ledger, port: int, place: Place, rng: random.Random, over: threading.Event) -> None:
    phone = Phone(port, place.cookies[0])
    try:
        while not over.is_set():
            log_something(ledger, phone, place, rng)
    except (OSError, http.client.HTTPException):  # the server is dead
        pass
    finally:
        phone.close()


def _send_again(ledger: Ledger, port: int, place: Place) -> list[str]:
    """What nobody knows of, sent once more under its id, as a phone does; what was not answered as saved."""
    phone, wrong = Phone(port, place.cookies[0]), []
    for entry, (path, sent) in list(ledger.unknown.items()):
        if path and (status := ledger.post(phone, path, sent, entry)) not in (200, 303):
            wrong.append(f"{path} again: {status}")
    phone.close()
    return wrong


def _beside(ledger: Ledger, place: Place, rng: random.Random) -> tuple[str, Any]:
    """A command that logs a tension reading, begun."""
    entry, code = secrets.token_hex(12), rng.choice(place.codes)
    ledger.unknown[entry] = ("", {})
    step = ("tension", "--readings_n_per_cm", "25")
    return entry, command("screen", "log", code, *step, "--entry", entry, "--data", place.folder)


def _settled(ledger: Ledger, entry: str, process: Any, kill: bool) -> bool:
    """Kills a command, or lets it end; True where it was killed. What it acknowledged is what it ended well with."""
    if kill:
        process.kill()
    process.join(120)
    if process.exitcode == 0:
        ledger.acknowledged.add(entry)
        del ledger.unknown[entry]
    return process.exitcode not in (0, None) and kill


def rounds(folder: Path, number: int, seed: int = 1, tell: Callable[[str], None] = lambda said: None) -> Killed:
    """So many servers killed, each with a command beside that is killed every other time."""
    place, found, rng = prepared(folder, 40), Killed(), random.Random(seed)
    for count in range(1, number + 1):
        server, over = Server.of(folder), threading.Event()
        found.amiss += _send_again(found.ledger, server.port, place)
        entry, process = _beside(found.ledger, place, rng) if count % 4 == 0 else ("", None)
        turns = [random.Random(rng.random()) for _each in range(WRITERS)]
        threads = [threading.Thread(target=_write, args=(found.ledger, server.port, place, own, over)) for own in turns]
        for thread in threads:
            thread.start()
        time.sleep(rng.uniform(0.02, LONGEST))
        if process is not None:
            found.killed += _settled(found.ledger, entry, process, kill=count % 8 == 0)
        server.kill()
        over.set()
        for thread in threads:
            thread.join()
        found.killed += 1
        if count % 50 == 0 or count == number:
            found.ledger.held_against(folder)
            found.amiss += findings(folder)
            tell(f"{count} rounds, {found.killed} killed, {found.ledger}, amiss {len(found.amiss)}")
            if not found.sound:
                break
    with_all = Server.of(folder)
    found.amiss += _send_again(found.ledger, with_all.port, place)
    with_all.end()
    found.ledger.held_against(folder)
    found.amiss += findings(folder)
    return found


# -- acts


def entries_of(file: Path) -> list[tuple[Any, ...]]:
    """Every entry as it stands in a file."""
    there = sqlite3.connect(file)
    rows = there.execute("SELECT * FROM entries ORDER BY id").fetchall()
    there.close()
    return rows


@dataclass(frozen=True, slots=True)
class Act:
    """A command that is killed: its arguments for a try, what is put ready before each, what must hold after it."""

    name: str
    arguments: Callable[[Path], tuple[object, ...]]
    ready: Callable[[Path], None]
    holds: Callable[[Path], list[str]]


def _nothing(at: Path) -> None:
    """Nothing is to be put ready."""


def _shop(at: Path) -> Path:
    return at / "shop"


def _whole_backup(at: Path) -> list[str]:
    """A backup is not there, or it is whole; nothing half stands beside it."""
    target, beside = at / "out" / "b.zip", at / "out"
    amiss = [f"beside the backup: {one.name}" for one in beside.iterdir() if one != target and one.name[0] != "."]
    if target.exists():
        with zipfile.ZipFile(target) as packed:
            amiss += [f"half: {packed.testzip()}"] if packed.testzip() else []
        shutil.rmtree(at / "tried", ignore_errors=True)
        if done("restore", target, "--data", at / "tried") != 0:
            amiss.append("the backup is not restored")
        elif entries_of(store.shop_file(at / "tried")) != entries_of(store.shop_file(_shop(at))):
            amiss.append("the backup is another log")
        target.unlink()
    return amiss


def _whole_restore(at: Path) -> list[str]:
    """No shop is there, and it is restored by the next try; or a whole one is."""
    back = at / "back"
    if not store.exists(back) and done("restore", at / "b.zip", "--data", back) != 0:
        return ["a killed restore cannot be done again"]
    same = entries_of(store.shop_file(back)) == entries_of(store.shop_file(_shop(at)))
    amiss = findings(back) + ([] if same else ["restored, but another log"])
    shutil.rmtree(back)
    return amiss


def _whole_export(at: Path) -> list[str]:
    """Each file of it is whole, or not there."""
    amiss, wanted = [], {one.name: one.read_bytes() for one in (at / "whole").iterdir()}
    for one in (at / "out").iterdir() if (at / "out").exists() else ():
        if one.name[0] != "." and one.is_file() and one.read_bytes() != wanted.get(one.name):
            amiss.append(f"half: {one.name}")
    shutil.rmtree(at / "out", ignore_errors=True)
    return amiss


def _pictures(at: Path) -> list[str]:
    """Each picture is what its name says."""
    found = (one for one in (_shop(at) / "pictures").rglob("*") if one.is_file() and one.name[0] != ".")
    named = [one for one in found if ".small." not in one.name]
    return [one.name for one in named if hashlib.sha256(one.read_bytes()).hexdigest() != one.name.split(".")[0]]


def _count(at: Path, table: str) -> int:
    there = sqlite3.connect(store.shop_file(_shop(at)))
    (number,) = there.execute(f"SELECT count(*) FROM {table}").fetchone()
    there.close()
    return int(number)


def _all_or_none(table: str, each: int) -> Callable[[Path], list[str]]:
    """Of what one command brings in everything is there, or nothing; and the shop is sound."""
    first: dict[Path, int] = {}

    def holds(at: Path) -> list[str]:
        more = _count(at, table) - first.setdefault(at, _count(at, table) % each)
        amiss = [f"{more} rows of {table}"] if more % each else []
        return amiss + findings(_shop(at)) + _pictures(at)

    return holds


def _note_log(at: Path) -> None:
    """The log as it is."""
    (at / "log.json").write_text(json.dumps(entries_of(store.shop_file(_shop(at)))))


def _same_log(at: Path) -> list[str]:
    """The log is as it was, and the shop sound."""
    same = json.loads((at / "log.json").read_text()) == [list(row) for row in entries_of(store.shop_file(_shop(at)))]
    return findings(_shop(at)) + ([] if same else ["another log"])


def _earlier(at: Path) -> None:
    """A shop of an earlier schema, of another one each time."""
    shutil.rmtree(at / "old", ignore_errors=True)
    (at / "old").mkdir()
    with tarfile.open(ROOT / "tests" / "earlier" / "shops.tar.xz") as packed:
        name = random.Random(len(list(at.glob("turn*")))).choice(packed.getnames())
        (at / f"turn{secrets.token_hex(4)}").touch()
        file = packed.extractfile(name)
        assert file is not None
        store.shop_file(at / "old").write_bytes(file.read())
    (at / "old.json").write_text(json.dumps(entries_of(store.shop_file(at / "old"))))


def _brought_up(at: Path) -> list[str]:
    """It comes up at the next start, with the log that it had; what it was beside it is whole."""
    amiss = findings(at / "old")
    files = [store.shop_file(at / "old"), *(at / "old").glob("shop-before-*.db")]
    wanted = json.loads((at / "old.json").read_text())
    return amiss + [f"another log in {one.name}" for one in files if [list(row) for row in entries_of(one)] != wanted]


FRAMES = 60
"""Frames of the list that is brought in: several batches."""


def _other_frames(at: Path) -> None:
    """A list of frames of their own each time."""
    own = secrets.token_hex(4)
    lines = "".join(f"{own} {number},230/in,aluminium\n" for number in range(FRAMES))
    (at / "frames.csv").write_text(f"mark,mesh_count,frame\n{lines}", encoding="utf-8")


def _each_once(at: Path) -> list[str]:
    """Whatever of a list came in, its lines made one frame each, and the same command again makes the rest."""
    amiss = findings(_shop(at))
    done("screen", "import", at / "frames.csv", "--data", _shop(at))
    made, things = _count(at, "screens"), _count(at, "list_things")
    whole = _count(at, f"(SELECT 1 FROM list_things GROUP BY list HAVING count(*) <> {FRAMES})")
    marks = _count(at, "(SELECT 1 FROM standings WHERE mark <> '' GROUP BY mark HAVING count(*) > 1)")
    wrong = things % FRAMES or whole or marks or (made - things) % 10
    return amiss + ([f"{made} frames, {things} by lists, {whole} lists half, {marks} twice"] if wrong else [])


ACTS = (
    Act("backup", lambda at: ("backup", at / "out" / "b.zip", "--data", _shop(at)),
        lambda at: (at / "out").mkdir(exist_ok=True), _whole_backup),
    Act("restore", lambda at: ("restore", at / "b.zip", "--data", at / "back"), _nothing, _whole_restore),
    Act("export", lambda at: ("export", "--out", at / "out", "--data", _shop(at)), _nothing, _whole_export),
    Act("import", lambda at: ("screen", "import", at / "frames.csv", "--data", _shop(at)), _other_frames, _each_once),
    Act("picture", lambda at: ("job", "add", at / "job.toml", "--data", _shop(at)), _nothing, _all_or_none("jobs", 1)),
    Act("repair", lambda at: ("repair", "--data", _shop(at)),
        _note_log, _same_log),
    Act("migration", lambda at: ("screen", "list", "--data", at / "old"), _earlier, _brought_up),
)  # fmt: skip


Tell = Callable[[str], None]


def acts(at: Path, times: int, seed: int = 1, only: str = "", tell: Tell = lambda said: None) -> Killed:
    """Each act killed so many times, at moments spread over what it takes when it is left alone."""
    place, found, rng = prepared(_shop(at), 20), Killed(), random.Random(seed)
    shutil.copy(ROOT / "sample_jobs" / "harbour-lights.png", at)
    shutil.copy(ROOT / "sample_jobs" / "harbour-lights.toml", at / "job.toml")
    assert done("backup", at / "b.zip", "--data", place.folder) == 0
    for act in (one for one in ACTS if only in ("", one.name)):
        act.ready(at)
        began = time.monotonic()
        code = done(*act.arguments(at))
        took = time.monotonic() - began
        if code != 0:
            found.amiss.append(f"{act.name} left alone ends with {code}")
            continue
        if act.name == "export":
            (at / "out").rename(at / "whole")
        found.amiss += [f"{act.name}: {one}" for one in act.holds(at)] if act.name != "export" else []
        if act.name == "import":
            done("backup", at / "b.zip", "--data", place.folder, "--force")
        here = found.killed
        for _turn in range(times):
            act.ready(at)
            process = command(*act.arguments(at))
            process.join(rng.uniform(0.05, took))
            if process.exitcode is None:
                process.kill()
                found.killed += 1
            process.join(60)
            found.amiss += [f"{act.name}: {one}" for one in act.holds(at)]
        tell(f"{act.name}: takes {took:.2f} s, killed {found.killed - here} of {times}, amiss {len(found.amiss)}")
    return found


def main() -> int:
    """The arguments, and what came of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=("rounds", "acts"))
    parser.add_argument("--number", type=int, default=0, help="rounds (1000), or kills of each act (40)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="one act")
    given = parser.parse_args()

    def tell(said: str) -> None:
        print(said, flush=True)

    with tempfile.TemporaryDirectory() as place:
        if given.what == "rounds":
            found = rounds(Path(place) / "shop", given.number or 1000, given.seed, tell)
        else:
            found = acts(Path(place), given.number or 40, given.seed, given.only, tell)
    print(f"{found.killed} killed; {found.ledger}; amiss {len(found.amiss)}")
    for line in found.amiss[:20]:
        print(line)
    return 0 if found.sound else 1


if __name__ == "__main__":
    sys.exit(main())
