"""What paper says as plain data for JSON, and back: so that what was printed can be printed again saying the same."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, fields, is_dataclass
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

T = TypeVar("T")

LAYOUT = 4
"""How papers are laid out now. A paper keeps the number that it was drawn by (`layout`), and is drawn so again: whoever
moves what stands on a paper raises it, and leaves what the numbers before it drew as it was.
`tests/earlier/papers.json` has papers of earlier layouts, with a digest of their pages. A paper is kept by a post;
looking at one (GET) keeps none."""
FIRST_LAYOUT = 1
"""That of a paper which was kept before this was noted."""


def as_data(paper: Any) -> dict[str, Any]:
    """A paper (a dataclass of texts, of other such, and of tuples of them) as dictionaries and lists."""
    found: dict[str, Any] = _lists(asdict(paper))
    return found


def build(kind: type[T], data: Mapping[str, Any]) -> T:
    """The paper that `as_data` wrote. Keys that this version does not know are left aside: old paper stays readable."""
    hints = _hints(kind)
    if "layout" in hints and "layout" not in data:
        data = {**data, "layout": FIRST_LAYOUT}
    return kind(**{name: _part(hints[name], data[name]) for name in hints if name in data})


def _hints(kind: Any) -> dict[str, Any]:
    hints = get_type_hints(kind)
    return {field.name: hints[field.name] for field in fields(kind)}


def _lists(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _lists(part) for key, part in value.items()}
    return [_lists(part) for part in value] if isinstance(value, tuple) else value


def _part(hint: Any, value: Any) -> Any:
    if is_dataclass(hint) and isinstance(hint, type):
        return build(hint, value)
    if get_origin(hint) is tuple:
        inner = get_args(hint)
        return tuple(_part(inner[0 if inner[-1] is ... else n], one) for n, one in enumerate(value))
    return value
