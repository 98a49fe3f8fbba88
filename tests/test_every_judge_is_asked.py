"""No rule without somebody who asks it: found in the code itself, so that a new judge or limit needs no line here.

A judge is a public function of the calculator or of a checks file that gives reasons or a verdict. It is asked where a
module other than its own calls it, by its module's name or by an import of it, or where such a one calls it in turn.
A limit is read where a rule names its key as a word, or puts the key together out of words of the same function.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from tickets.calculator.defaults import DEFAULTS

ROOT = Path(__file__).parent.parent
GIVES = {"list[Reason]", "Verdict", "Verdict | None", "Reason", "Reason | None", "list[Reason] | None"}
LISTS_OF_ROWS = {
    "tickets/calculator/defaults.py",
    "tickets/domain/spec.py",
    "tickets/domain/limits.py",
    "tickets/demo.py",
}
"""Where limits are listed, named or kept in order, and nothing is judged by them."""


@cache
def trees() -> dict[str, ast.Module]:
    """Every module of the program by its path from the project's folder."""
    files = [*ROOT.glob("tickets/**/*.py"), *ROOT.glob("web/**/*.py")]
    return {str(file.relative_to(ROOT)): ast.parse(file.read_text(encoding="utf-8")) for file in files}


def dotted(path: str) -> str:
    return path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def judges() -> dict[tuple[str, str], ast.FunctionDef]:
    """(module, name) of each judge."""
    found = {}
    for path, tree in trees().items():
        if path.startswith("tickets/calculator/") or path.endswith(("checks.py", "runs/curing.py")):
            for node in tree.body:
                if isinstance(node, ast.FunctionDef) and node.returns and not node.name.startswith("_"):
                    if ast.unparse(node.returns) in GIVES:
                        found[dotted(path), node.name] = node
    return found


def names_of(tree: ast.AST) -> dict[str, str]:
    """What a module calls the modules and functions that it imports, in full."""
    found = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            found |= {one.asname or one.name: f"{node.module}.{one.name}" for one in node.names}
    return found


def used(tree: ast.AST, names: dict[str, str], own: str) -> Iterator[str]:
    """The full names of what is used there, those of the module itself by the module's name."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
            yield names.get(node.id, f"{own}.{node.id}")
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in names:
            yield f"{names[node.value.id]}.{node.attr}"


def asked() -> set[str]:
    """The full names of the functions that another module uses, and of those that these use in their own."""
    outside, within = set(), {}
    for path, tree in trees().items():
        own, names = dotted(path), names_of(tree)
        outside |= {one for one in used(tree, names, own) if not one.startswith(f"{own}.")}
        for node in tree.body:
            if isinstance(node, (ast.FunctionDef, ast.ClassDef)):
                within[f"{own}.{node.name}"] = set(used(node, names, own)) - {f"{own}.{node.name}"}
    reached, todo = set(), [*outside]
    while todo:
        one = todo.pop()
        if one not in reached:
            reached.add(one)
            todo += [more for more in within.get(one, ()) if more.rpartition(".")[0] == one.rpartition(".")[0]]
    return reached


def test_every_judge_is_asked_by_something() -> None:
    found = judges()
    assert len(found) > 40  # that they are found at all
    reached = asked()
    assert [f"{module}.{name}" for module, name in found if f"{module}.{name}" not in reached] == []


@cache
def keys_read() -> set[str]:
    """The words that may be the key of a limit, in all that judges."""
    found: set[str] = set()
    for path, tree in trees().items():
        if path in LISTS_OF_ROWS or not path.startswith("tickets/"):
            continue
        for function in [node for node in ast.walk(tree) if isinstance(node, (ast.FunctionDef, ast.Module))]:
            words = {node.value for node in ast.walk(function) if isinstance(node, ast.Constant)}
            said = {one for one in words if isinstance(one, str) and len(one) < 40}
            found |= said
            for node in ast.walk(function) if isinstance(function, ast.FunctionDef) else ():
                if isinstance(node, ast.JoinedStr):
                    parts = [part.value if isinstance(part, ast.Constant) else None for part in node.values]
                    if parts.count(None) == 1:
                        found |= {"".join(str(part or one) for part in parts) for one in said}
    return found


@pytest.mark.parametrize("key", sorted({row.key for row in DEFAULTS}))
def test_every_limit_is_read_by_some_judge(key: str) -> None:
    assert key in keys_read()


def test_a_limit_that_nobody_reads_would_be_found() -> None:
    assert "a-limit-of-no-judge" not in keys_read() and "tension-floor" in keys_read()
