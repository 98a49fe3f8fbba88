"""The tests' own time: one clock, that nothing asks while a test module is loaded, hours before its tests may run."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
import shop as shops
from flask.testing import FlaskClient

from tickets.cli import given

CLOCKS = {"now", "utcnow", "today", "time", "monotonic", "clock"}
HERE = Path(__file__).parent


def at_import(node: ast.AST) -> Iterator[ast.AST]:
    """What of a module is run when it is loaded: all but the bodies of its functions."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef):
            for part in (*child.decorator_list, child.args):
                yield from at_import(part)
        elif isinstance(child, ast.Lambda):
            yield from at_import(child.args)
        else:
            yield child
            yield from at_import(child)


def asked(source: str) -> list[int]:
    """The lines at which a clock is asked while a module is loaded."""
    names = [
        (node.lineno, node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", ""))
        for node in at_import(ast.parse(source)) if isinstance(node, ast.Call)
    ]  # fmt: skip
    return [line for line, name in names if name in CLOCKS]


@pytest.mark.parametrize("path", sorted(HERE.rglob("*.py")), ids=lambda path: str(path.relative_to(HERE)))
def test_no_clock_is_asked_while_a_test_module_is_loaded(path: Path) -> None:
    assert asked(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("source", "lines"),
    [
        ("NOW = datetime.now(UTC)", [1]),
        ("class Shop:\n    now = datetime.now(UTC).replace(microsecond=0)", [2]),
        ("def add(at=date.today()): ...", [1]),
        ("@case(time.time())\ndef test(): ...", [1]),
        ("DUE = (clock() + timedelta(days=3)).date()", [1]),
        ("def test():\n    return datetime.now(UTC)\nlater = lambda: clock()", []),
        ("NOW = datetime(2026, 3, 10, tzinfo=UTC)", []),
    ],
)
def test_what_counts_as_asking(source: str, lines: list[int]) -> None:
    assert asked(source) == lines


def test_pages_commands_and_the_test_itself_have_one_clock(client: FlaskClient, clock: shops.Clock) -> None:
    assert client.application.config["CLOCK"] is clock is given.clock is shops.clock
    before = clock()
    assert shops.NOW < before < clock()
    clock.on(minutes=5)
    assert (clock() - before).total_seconds() > 300
