"""Makes small faults in the rules and the calculator, one at a time, and sees whether the tests notice.

    python tests/mutate.py                              60 faults at places that the seed 1 chooses
    python tests/mutate.py --seed 4 --number 100        other places, more of them
    python tests/mutate.py tickets/calculator/cure.py   of these files only

Works on a copy of the checkout, never in it. For each fault the tests that speak of the module run until the first that
fails; a test file counts only if it passes without the fault. What no test can notice is listed in EQUAL with why.
"""

from __future__ import annotations

import argparse
import ast
import copy
import os
import random
import resource
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).parent.parent
RULES = ("tickets/domain", "tickets/calculator")
LEFT_OUT = (".git", ".venv", "__pycache__", "*.pyc", ".*_cache", "*.egg-info", "build", "dist")
LONG = {"test_simulated_shop", "test_cli_process", "test_backup", "test_nightly", "test_whole_way", "test_imports"}
"""They take long, or say nothing of rules that another does not."""
MOST_S = 300
"""A fault that keeps the tests busy for longer than this, in seconds of a processor, is noticed too."""

EQUAL: dict[str, str] = {}
"""Faults that change nothing anybody could see, as `FILE: WAS -> IS`, each with why."""


@dataclass(frozen=True)
class Fault:
    """A small fault: the file, the line, what stood there and what stands there now, and the whole file with it."""

    file: str
    line: int
    was: str
    now: str
    source: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.was} -> {self.now}"

    @property
    def why_equal(self) -> str:
        """Why nobody could notice it; empty: somebody could."""
        return EQUAL.get(f"{self.file}: {self.was} -> {self.now}", "")


# -- faults

SWAPPED: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.And: ast.Or, ast.Or: ast.And,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
}  # fmt: skip
OPPOSITE = {"min": "max", "max": "min", "any": "all", "all": "any"}


def faults_of(node: ast.AST) -> Iterator[ast.AST]:
    """That node with each small fault that it can have."""

    def other(**parts: object) -> ast.AST:
        made = copy.copy(node)
        for name, part in parts.items():
            setattr(made, name, part)
        return made

    match node:
        case ast.Compare(ops=ops):
            for place, op in enumerate(ops):
                yield other(ops=[*ops[:place], SWAPPED[type(op)](), *ops[place + 1 :]])
        case ast.BoolOp(op=op) | ast.BinOp(op=op) if type(op) in SWAPPED:
            yield other(op=SWAPPED[type(op)]())
        case ast.UnaryOp(op=ast.Not(), operand=operand):
            yield operand
        case ast.Constant(value=bool(value)):
            yield other(value=not value)
        case ast.Constant(value=int(value)):
            yield other(value=value + 1)
        case ast.Constant(value=float(value)):
            yield other(value=round(value * 1.1 + 0.01, 6))
        case ast.If() | ast.IfExp():
            yield other(test=ast.Constant(False))
        case ast.comprehension(ifs=ifs) if ifs:
            yield other(ifs=ifs[1:])
        case ast.Call(func=ast.Name(id=name), keywords=named):
            if name in OPPOSITE:
                yield other(func=ast.Name(OPPOSITE[name], ast.Load()))
            if name in {"sorted", "min", "max"} and any(one.arg == "key" for one in named):
                yield other(keywords=[one for one in named if one.arg != "key"])
        case ast.Tuple(elts=parts) | ast.List(elts=parts) if len(parts) > 2 and isinstance(node.ctx, ast.Load):
            yield other(elts=parts[:-1])
        case ast.Dict(keys=keys, values=values) if len(keys) > 2:
            yield other(keys=keys[:-1], values=values[:-1])


def places(tree: ast.AST) -> Iterator[tuple[ast.AST, str, int | None]]:
    """(node, field, place in its list) of every part of a file that says what happens: no types, no decorators, no
    texts."""
    left_out: set[ast.AST] = set()
    for node in ast.walk(tree):  # from the top down, so that what lies in something left out is left out too
        if node in left_out or isinstance(node, ast.JoinedStr):
            left_out.update(ast.iter_child_nodes(node))
            continue
        for name, value in ast.iter_fields(node):
            if name in {"annotation", "returns", "decorator_list"}:
                left_out.update(part for part in (value if isinstance(value, list) else [value]) if part is not None)
                continue
            for place, part in enumerate(value) if isinstance(value, list) else ((None, value),):
                if isinstance(part, ast.AST):
                    yield node, name, place


def one_line(node: ast.AST, most: int = 90) -> str:
    """A node as text, its body left out."""
    if isinstance(node, ast.If):
        return f"if {one_line(node.test)}"
    if isinstance(node, ast.comprehension):
        return f"for {ast.unparse(node.target)} in {one_line(node.iter, 40)}" + "".join(
            f" if {one_line(test)}" for test in node.ifs
        )
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= most else f"{text[: most // 2]} … {text[-most // 2 :]}"


def faults_in(file: Path, dice: random.Random, number: int) -> list[Fault]:
    """So many of the small faults that a file can have, in the order of its lines."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    every = [(place, fault) for place in places(tree) for fault in faults_of(part_at(*place))]
    found = []
    for place, fault in dice.sample(every, min(number, len(every))):
        node = part_at(*place)
        line = next(one.lineno for one in ast.walk(node) if hasattr(one, "lineno"))
        was, now = one_line(node), one_line(fault)
        put(*place, ast.copy_location(fault, node))
        source = ast.unparse(ast.fix_missing_locations(tree))
        put(*place, node)
        found.append(Fault(str(file.relative_to(ROOT)), line, was, now, source))
    return sorted(found, key=lambda one: (one.line, one.was, one.now))


def part_at(parent: ast.AST, field: str, place: int | None) -> ast.AST:
    """What stands at a place of `places`."""
    held = getattr(parent, field)
    part: ast.AST = held if place is None else held[place]
    return part


def put(parent: ast.AST, field: str, place: int | None, part: ast.AST) -> None:
    """Puts something else there."""
    if place is None:
        setattr(parent, field, part)
    else:
        getattr(parent, field)[place] = part


def chosen(files: list[Path], seed: int, number: int) -> list[Fault]:
    """So many faults at places that the seed chooses, more of them in longer files."""
    dice = random.Random(seed)
    wanted = dice.choices(files, [file.stat().st_size for file in files], k=number)
    return [fault for file in files if file in wanted for fault in faults_in(file, dice, wanted.count(file))]


# -- tests


@cache
def imported(test: Path) -> frozenset[str]:
    """The modules of the program that a test file names."""
    found = set()
    for node in ast.walk(ast.parse(test.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return frozenset(found)


def tests_of(file: str, near: bool = False) -> list[str]:
    """The test files that speak of a module: first those named like it, then those that import it, then those of its
    package, short files first; `near`: not the last."""
    module = file.removesuffix(".py").replace("/", ".")
    package, _dot, name = module.rpartition(".")
    word = name.rstrip("s").replace("_", "")
    ranked = []
    for test in sorted((ROOT / "tests").glob("test_*.py"), key=lambda one: one.stat().st_size):
        if test.stem in LONG:
            continue
        if word in test.stem.replace("_", ""):
            ranked.append((0, test))
        elif module in imported(test):
            ranked.append((1, test))
        elif any(one.startswith(f"{package}.") for one in imported(test)):
            ranked.append((2, test))
        else:
            ranked.append((3, test))
    ranked.sort(key=lambda one: one[0])
    return [f"tests/{test.name}" for rank, test in ranked if rank < (2 if near else 3)]


def passes(copied: Path, tests: list[str]) -> str | None:
    """The first test file that fails there; None: all pass."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-n", "0", "-p", "no:cacheprovider", "--tb", "no"]
    command += ["-m", "not slow and not browser", *tests]
    there = {**os.environ, "PYTHONPATH": str(copied)}
    most = (MOST_S, MOST_S)
    done = subprocess.run(
        command, cwd=copied, env=there, capture_output=True, text=True,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, most),
    )  # fmt: skip
    if done.returncode < 0:
        return "it never came to an end"
    if done.returncode == 0:
        return None
    failed = [line.split()[1] for line in done.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))]
    return failed[0].partition("::")[0] if failed else "it could not be loaded"


def main() -> int:
    """Makes the faults, says what came of each, and the share that was noticed."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("files", nargs="*", type=Path, help="files or folders; the rules and the calculator")
    asked.add_argument("--seed", type=int, default=1, help="which places (1)")
    asked.add_argument("--number", type=int, default=60, help="how many faults (60)")
    asked.add_argument("--only", type=int, nargs="+", help="these of them, by their number")
    asked.add_argument("--near", action="store_true", help="with the tests that name or import the module only: quick")
    asked.add_argument("--list", action="store_true", help="the faults, without running anything")
    given = asked.parse_args()
    named = [ROOT / one for one in given.files or RULES]
    files = sorted(file for one in named for file in ([one] if one.is_file() else one.rglob("*.py")))
    faults = dict(enumerate(chosen(files, given.seed, given.number), 1))
    if given.only:
        faults = {number: faults[number] for number in given.only}
    if given.list:
        print(*(f"{number:3} {fault}" for number, fault in faults.items()), sep="\n")
        return 0
    noticed, missed, sound = 0, [], {}
    with TemporaryDirectory() as made:
        copied = Path(made) / "checkout"
        shutil.copytree(ROOT, copied, ignore=shutil.ignore_patterns(*LEFT_OUT))
        for number, fault in faults.items():
            if fault.why_equal:
                print(f"{number:3} equal        {fault} ({fault.why_equal})", flush=True)
                continue
            file, tests = copied / fault.file, tests_of(fault.file, given.near)
            before = file.read_text(encoding="utf-8")
            file.write_text(fault.source, encoding="utf-8")
            failed = passes(copied, tests)
            file.write_text(before, encoding="utf-8")
            while failed in tests and not sound.setdefault(failed, passes(copied, [failed]) is None):
                print(f"    {failed} fails without any fault: it is left aside", flush=True)
                tests = [test for test in tests if test != failed]
                file.write_text(fault.source, encoding="utf-8")
                failed = passes(copied, tests)
                file.write_text(before, encoding="utf-8")
            noticed += failed is not None
            missed += [fault] if failed is None else []
            said = "NOT NOTICED" if failed is None else "noticed    "
            print(f"{number:3} {said}  {fault} {failed or ''}", flush=True)
    share = noticed / max(1, noticed + len(missed))
    print(f"seed {given.seed}: {noticed} of {noticed + len(missed)} noticed, {share:.0%}")
    return 0 if share >= 0.95 else 1


if __name__ == "__main__":
    sys.exit(main())
