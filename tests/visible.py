"""Every text that people read, with the place it stands at: of the templates, of Python, of the command's help.

A text is what a gettext function is given. The figures made of them are printed by `tests/reading_ease.py`.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from jinja2 import Environment, nodes

ROOT = Path(__file__).parent.parent
MARKS = ("_", "N_", "Nn_", "gettext", "ngettext", "pgettext", "Np_")


class Text(NamedTuple):
    """One text: where it is written (path:line, from the project's folder) and what it says."""

    where: str
    says: str


def _of_python(path: Path) -> Iterator[tuple[int, str]]:
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in MARKS:
            for given in node.args[node.func.id in ("pgettext", "Np_") :]:
                if isinstance(given, ast.Constant) and isinstance(given.value, str):
                    yield given.lineno, given.value


def _of_template(path: Path) -> Iterator[tuple[int, str]]:
    tree = Environment(extensions=["jinja2.ext.do", "jinja2.ext.loopcontrols"]).parse(path.read_text("utf-8"))
    for call in tree.find_all(nodes.Call):
        if isinstance(call.node, nodes.Name) and call.node.name in MARKS:
            for given in call.args[call.node.name == "pgettext" :]:
                said = [given] if isinstance(given, nodes.Const) else given.find_all(nodes.Const)
                yield from ((one.lineno, one.value) for one in said if isinstance(one.value, str))


@lru_cache(maxsize=1)
def texts() -> tuple[Text, ...]:
    """All of them, in the order of their files."""
    found = [
        Text(f"{path.relative_to(ROOT)}:{line}", says)
        for folder in ("tickets", "web")
        for path in sorted((ROOT / folder).rglob("*"))
        if path.suffix in (".py", ".html")
        for line, says in (_of_python if path.suffix == ".py" else _of_template)(path)
    ]
    return tuple(dict.fromkeys(found))
