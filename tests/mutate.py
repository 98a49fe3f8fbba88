"""Makes small faults in the rules and the calculator, one at a time, and sees whether the tests notice.

    python tests/mutate.py                              60 faults at places that the seed 1 chooses
    python tests/mutate.py --seed 4 --number 100        other places, more of them
    python tests/mutate.py tickets/calculator/cure.py   of these files only

No file of the checkout is written. For each fault the tests that run its line go, the likeliest first, until one fails
that passes without it (`mutate_run` says how). What no test can notice is listed in EQUAL with why.
"""

from __future__ import annotations

import argparse
import ast
import copy
import random
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import mutate_run
from mutate_run import ROOT, RULES, Came, Place

EQUAL: dict[str, str] = {
    "tickets/calculator/typed.py:span_typed: 1.0 -> 1.11": "nought is nought in steps of any size",
    "tickets/calculator/units.py:show_difference: value if now == unit else value * _line(unit, now)[0] -> "
    "value if False else value * _line(unit, now)[0]": "a unit is itself once: the shortcut saves a lookup",
    "tickets/domain/desk/control.py:drifted: sums[1] > sums[0] -> sums[1] >= sums[0]": "what lifts one sum lowers the "
    "other: both are never beyond the limit, and alike",
    "tickets/domain/plain.py:said: part if type(part) in _AS_IT_IS else _said(part) -> part if False else "
    "_said(part)": "`_said` gives such a part back as it is: the shortcut saves a call",
    "tickets/domain/runs/comparison.py:_measured: 1.0 -> 1.11": "of a slack for rounding: no number lies at its end",
    "tickets/domain/spec.py:Spec.kept: 500 -> 501": "how many answers are kept is seen by nobody",
    "tickets/domain/spec.py:Spec.kept: len(self._kept) > 500 -> len(self._kept) >= 500": "as above",
    "tickets/domain/spec.py:_both: to >= _NO_END -> to > _NO_END": "of a count without an end any higher one is a case",
}
"""Faults that change nothing anybody could see, as `FILE:FUNCTION: WAS -> IS`, each with why."""


@dataclass(frozen=True)
class Fault:
    """A small fault: where it is, what was there and what is there now, and its number in that file."""

    file: str
    line: int
    place: Place
    was: str
    now: str
    at: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.was} -> {self.now}"

    @property
    def why_equal(self) -> str:
        """Why nobody could notice it; empty: somebody could."""
        told = EQUAL.get(f"{self.file}:{self.place.inner}: {self.was} -> {self.now}", "")
        return told or (_SLACK if _differ_at_the_slack(self.was, self.now) else "")

    def tree(self) -> ast.Module:
        """The file with the fault in it."""
        tree = ast.parse((ROOT / self.file).read_text(encoding="utf-8"))
        place, fault = every_fault(tree)[self.at]
        put(*place, ast.copy_location(fault, part_at(*place)))
        return ast.fix_missing_locations(tree)


_SLACK = "differs for a value that lies off the limit by exactly the slack for rounding, which none does"


def _differ_at_the_slack(was: str, now: str) -> bool:
    """Whether the two differ at a limit's slack only: `a < limit - 1e-9` and `a <= limit - 1e-9`."""
    bare = re.sub(r"[<>]=?", "<", was) == re.sub(r"[<>]=?", "<", now)
    return bare and re.search(r"[-+] (1e-(06|09|12)|SLACK)\b|\(1 [-+] 1e-09\)", was) is not None


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
        case ast.If(test=ast.Name(id="TYPE_CHECKING")):
            return  # what holds for types only
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


def said_of_zip(node: ast.AST) -> bool:
    """`strict=True`: what it says of `zip` is so, or it would not stand there."""
    return isinstance(node, ast.keyword) and node.arg == "strict"


def places(tree: ast.AST) -> Iterator[tuple[ast.AST, str, int | None]]:
    """(node, field, place in its list) of every part of a file that says what happens: no types, no decorators, no
    texts."""
    left_out: set[ast.AST] = set()
    for node in ast.walk(tree):  # from the top down, so that what lies in something left out is left out too
        if node in left_out or isinstance(node, ast.JoinedStr):
            left_out.update(ast.iter_child_nodes(node))
            continue
        for name, value in ast.iter_fields(node):
            if name in {"annotation", "returns", "decorator_list"} or (name == "value" and said_of_zip(node)):
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


def every_fault(tree: ast.AST) -> list[tuple[tuple[ast.AST, str, int | None], ast.AST]]:
    """Every small fault that a file can have: where it goes, and what goes there."""
    return [(place, fault) for place in places(tree) for fault in faults_of(part_at(*place))]


def faults_in(file: Path, dice: random.Random, number: int) -> list[Fault]:
    """So many of the small faults that a file can have, in the order of its lines."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    every = every_fault(tree)
    found = []
    for at in dice.sample(range(len(every)), min(number, len(every))):
        place, fault = every[at]
        node = part_at(*place)
        line = next(one.lineno for one in ast.walk(node) if hasattr(one, "lineno"))
        name = str(file.relative_to(ROOT))
        where = mutate_run.place_of(name, tree, line)
        found.append(Fault(name, line, where, one_line(node), one_line(fault), at))
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


# -- what comes of them


def told(came: Came, number: int) -> None:
    """Says what came of a fault."""
    said = "noticed    " if came.noticed else "NOT NOTICED"
    by = came.noticed or f"by any of {came.tests} tests"
    print(f"{number:3} {said} {came.seconds:5.1f} s  {came.fault} ({by})", flush=True)


def main() -> int:
    """Makes the faults, says what came of each, and the share that was noticed."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("files", nargs="*", type=Path, help="files or folders; the rules and the calculator")
    asked.add_argument("--seed", type=int, default=1, help="which places (1)")
    asked.add_argument("--number", type=int, default=60, help="how many faults (60)")
    asked.add_argument("--only", type=int, nargs="+", help="these of them, by their number")
    asked.add_argument("--list", action="store_true", help="the faults, without running anything")
    asked.add_argument("--afresh", action="store_true", help="see anew which test runs which line")
    asked.add_argument("--as-seen", action="store_true", help="go by what was seen before a test file changed")
    given = asked.parse_args()
    named = [(ROOT / one).resolve() for one in given.files or RULES]
    files = sorted(file for one in named for file in ([one] if one.is_file() else one.rglob("*.py")))
    faults = dict(enumerate(chosen(files, given.seed, given.number), 1))
    if given.only:
        faults = {number: faults[number] for number in given.only}
    if given.list:
        print(*(f"{number:3} {fault}" for number, fault in faults.items()), sep="\n")
        return 0
    for number, fault in list(faults.items()):
        if fault.why_equal:
            print(f"{number:3} equal               {fault} ({fault.why_equal})", flush=True)
            del faults[number]
    came = mutate_run.noticed(faults, told, mutate_run.to_see(given.afresh, given.as_seen))
    noticed = sum(bool(one.noticed) for one in came)
    share = noticed / max(1, len(came))
    took = sum(one.seconds for one in came) / max(1, len(came))
    print(f"seed {given.seed}: {noticed} of {len(came)} noticed, {share:.0%}; {took:.1f} s of a processor for each")
    return 0 if share >= 0.95 else 1


if __name__ == "__main__":
    sys.exit(main())
