"""A frozen value as plain data: `dataclasses.asdict`, but quick, since each post makes a whole life or story so."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from functools import cache
from types import NoneType
from typing import Any

_AS_IT_IS = frozenset({str, int, float, bool, NoneType})


def plain(value: Any) -> dict[str, Any]:
    """The fields of a dataclass, and of all that are in it, as dictionaries; tuples stay tuples."""
    kind: Any = type(value)
    return {name: part if type(part := getattr(value, name)) in _AS_IT_IS else _part(part) for name in _names(kind)}


@cache
def _names(kind: Any) -> tuple[str, ...]:
    return tuple(field.name for field in fields(kind)) if is_dataclass(kind) else ()


def _part(value: Any) -> Any:
    kind: Any = type(value)
    if kind in _AS_IT_IS:
        return value
    if kind is tuple or kind is list:
        return kind([one if type(one) in _AS_IT_IS else _part(one) for one in value])
    if isinstance(value, dict):
        return {key: one if type(one) in _AS_IT_IS else _part(one) for key, one in value.items()}
    return plain(value) if _names(kind) else value


def pairs(found: Mapping[Any, Any]) -> list[list[Any]]:
    """A mapping as pairs, in its order: plain data keeps no keys that are numbers or tuples."""
    return [[list(key) if isinstance(key, tuple) else key, value] for key, value in found.items()]


def keyed(kept: Iterable[Sequence[Any]]) -> dict[Any, Any]:
    """What `pairs` kept."""
    return {tuple(key) if isinstance(key, list) else key: value for key, value in kept}
