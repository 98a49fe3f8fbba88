"""A frozen value as plain data: `dataclasses.asdict`, but quick, since each post makes a whole life or story so."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import MISSING, fields, is_dataclass
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


def said(value: Any) -> dict[str, Any]:
    """As `plain`, without what is as it is by default: most of a life says nothing. `defaults` has the rest of it."""
    kind: Any = type(value)
    usual = defaults(kind)
    return {
        name: part if type(part) in _AS_IT_IS else _said(part)
        for name, part in value.__dict__.items()
        if name not in usual or part != usual[name]
    }


def _said(value: Any) -> Any:
    kind: Any = type(value)
    return said(value) if _names(kind) else _part(value)


@cache
def defaults(kind: Any) -> dict[str, Any]:
    """What the fields of a dataclass are by default, of those that have one."""
    return {field.name: field.default for field in fields(kind) if field.default is not MISSING}


def pairs(found: Mapping[Any, Any]) -> list[list[Any]]:
    """A mapping as pairs, in its order: plain data keeps no keys that are numbers or tuples."""
    return [[list(key) if isinstance(key, tuple) else key, value] for key, value in found.items()]


def keyed(kept: Iterable[Sequence[Any]]) -> dict[Any, Any]:
    """What `pairs` kept."""
    return {tuple(key) if isinstance(key, list) else key: value for key, value in kept}
