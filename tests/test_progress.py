"""Long work shows how far it is on a terminal, and says nothing of it where its messages go elsewhere."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
import shop as shops

from tickets.domain.told import each, nobody

pty = pytest.importorskip("pty", reason="there are no terminals of this kind on this system")

LIST = "mark,mesh\n" + "".join(f"Q {n},110/in\n" for n in range(40))


def on_a_terminal(*arguments: object) -> tuple[str, int]:
    """What a command writes to a terminal as its messages, and how it ended."""
    seen, mine = pty.openpty()
    command = [sys.executable, "-m", "tickets.cli", *map(str, arguments)]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=mine, stdin=subprocess.DEVNULL) as process:
        os.close(mine)
        said = b""
        while True:
            try:
                part = os.read(seen, 4096)
            except OSError:  # the other end was closed
                break
            if not part:
                break
            said += part
        code = process.wait(60)
    os.close(seen)
    return said.decode(), code


@pytest.fixture(scope="module")
def demo_shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    folder = shops.the_demo(tmp_path_factory.mktemp("long") / "shop")
    (folder.parent / "frames.csv").write_text(LIST, encoding="utf-8")
    yield folder


def of(folder: Path, name: str, beside: Path) -> tuple[object, ...]:
    """The command for each long work."""
    tags = ("print", "tags", "--mark", "H 01-20", "--anyway", "--out", beside / "tags.pdf", "--data", folder)
    return {
        "Checking": ("check", "--data", folder),
        "Working it out": ("rebuild", "--data", folder),
        "Writing": ("export", "--out", beside / "out", "--data", folder),
        "Backing up": ("backup", beside / "shop.zip", "--data", folder),
        "Looking it over": ("repair", "--data", folder),
        "Printing on paper": tags,
        "Bringing in": ("screen", "import", folder.parent / "frames.csv", "--again", "--data", folder),
        "Bringing it back": ("restore", beside / "shop.zip", "--data", beside / "new"),
    }[name]


WORK = ("Checking", "Working it out", "Writing", "Backing up", "Looking it over", "Printing on paper", "Bringing in")


@pytest.mark.parametrize("name", [*WORK, "Bringing it back"])
def test_a_bar_on_a_terminal_and_nothing_elsewhere(demo_shop: Path, tmp_path: Path, name: str) -> None:
    if name == "Bringing it back":
        subprocess.run(
            [sys.executable, "-m", "tickets.cli", *map(str, of(demo_shop, "Backing up", tmp_path))], check=True
        )
    command = of(demo_shop, name, tmp_path)
    said, code = on_a_terminal(*command)
    assert code == 0 and name in said and "100%" in said, said
    for place in tmp_path.glob("*"):
        if place.name == ("new" if name == "Bringing it back" else "shop.zip"):
            place.rename(place.with_name(f"{place.name}.before"))
    piped = [sys.executable, "-m", "tickets.cli", *map(str, command)]
    done = subprocess.run(piped, capture_output=True, text=True, check=name != "Bringing in")
    assert name not in done.stderr and "%" not in done.stderr + done.stdout


def test_who_does_it_tells_after_each() -> None:
    told: list[tuple[int, int]] = []
    seen = [(one, len(told)) for one in each(iter("abc"), lambda done, of: told.append((done, of)))]
    assert seen == [("a", 0), ("b", 1), ("c", 2)] and told == [(1, 3), (2, 3), (3, 3)]
    assert list(each((), nobody)) == []
