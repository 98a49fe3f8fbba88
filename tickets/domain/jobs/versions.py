"""What changed from one version of a job sheet to another, part by part: a garment, a placement, a position is the same
one by what it is called, wherever in the sheet it stands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

LISTS = ("garment", "placement", "station", "colourway")
PARTS = ("fibre", "recipe")
"""Named parts with their amounts, said in one text."""
POSITION = "position"
"""A change of where in the print order something stands."""


class SheetPart(NamedTuple):
    """Which part of a sheet: `kind` (garment, placement, station, colourway, inks) and what it is called; of a station
    its position in the print order."""

    kind: str
    called: str
    position: int = 0


class SheetChange(NamedTuple):
    """What changed: in which part (empty: in the job itself), of which field (a key of the job file; empty: the whole
    part came or went), what it was and what it is; empty: nothing."""

    where: tuple[SheetPart, ...]
    field: str
    was: str
    now: str


def changes(was: Mapping[str, Any], now: Mapping[str, Any]) -> list[SheetChange]:
    """What changed between two sheets, as plain data (`Job.to_dict`)."""
    return [
        *_fields((), was, now),
        *_parts((), "garment", was, now, lambda one: f"{one['style']}, {one['colour']}"),
        *_parts((), "placement", was, now, lambda one: str(one["name"])),
        *_parts((), "colourway", was, now, lambda one: f"{one['garment']['style']}, {one['garment']['colour']}"),
    ]


def _station(one: Mapping[str, Any]) -> str:
    return str(one.get("separation") or one.get("colour") or one["does"])


Where = tuple[SheetPart, ...]


def _parts(
    where: Where, kind: str, was: Mapping[str, Any], now: Mapping[str, Any], called: Callable[[Mapping[str, Any]], str]
) -> Iterator[SheetChange]:
    before, behind = list(was.get(kind) or ()), list(now.get(kind) or ())
    for one, other in _pairs(before, behind, called):
        own = before[one] if one is not None else {}
        its = behind[other] if other is not None else {}
        place = other if other is not None else one
        assert place is not None
        named = its or own
        part = (*where, SheetPart(kind, called(named), place + 1 if kind == "station" else 0))
        if not (own and its):
            yield SheetChange(part, "", called(own) if own else "", called(its) if its else "")
            continue
        if kind == "station" and one is not None and other is not None and one != other:
            yield SheetChange(part, POSITION, str(one + 1), str(other + 1))
        yield from _fields(part, own, its)
        yield from _parts(part, "station", own, its, _station)


def _pairs(
    before: Sequence[Mapping[str, Any]], behind: Sequence[Mapping[str, Any]], called: Callable[[Mapping[str, Any]], str]
) -> list[tuple[int | None, int | None]]:
    """Which part of the one list is which of the other, by what they are called; what has no fellow is paired in order
    where as many are left on either side (it was renamed), else it came or went."""
    first, second = _numbered(before, called), _numbered(behind, called)
    found: list[tuple[int | None, int | None]] = [(first[name], second[name]) for name in second if name in first]
    gone = [place for name, place in first.items() if name not in second]
    came = [place for name, place in second.items() if name not in first]
    if len(gone) == len(came):
        found += zip(gone, came, strict=True)
    else:
        found += [*((place, None) for place in gone), *((None, place) for place in came)]
    return sorted(found, key=lambda pair: pair[1] if pair[1] is not None else len(behind) + (pair[0] or 0))


def _numbered(
    parts: Sequence[Mapping[str, Any]], called: Callable[[Mapping[str, Any]], str]
) -> dict[tuple[str, int], int]:
    """The place of each part by its name, and which of that name it is."""
    seen: Counter[str] = Counter()
    found = {}
    for place, one in enumerate(parts):
        name = " ".join(called(one).split()).casefold()
        found[name, seen[name]] = place
        seen[name] += 1
    return found


def _fields(where: Where, was: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[SheetChange]:
    one, other = dict(_leaves(was)), dict(_leaves(now))
    for name in dict.fromkeys([*one, *other]):
        if one.get(name, "") != other.get(name, ""):
            yield SheetChange(where, name, one.get(name, ""), other.get(name, ""))


def _leaves(data: Mapping[str, Any], above: str = "") -> Iterator[tuple[str, str]]:
    for name, value in data.items():
        key = f"{above}{name}"
        if value is None or (name in LISTS and isinstance(value, (list, tuple))):
            continue
        if name in PARTS and isinstance(value, Mapping):
            yield key, ", ".join(f"{amount} {part}" for part, amount in value.items())
        elif isinstance(value, Mapping):
            yield from _leaves(value, f"{key}.")
        elif isinstance(value, bool):
            yield key, "yes" if value else "no"
        else:
            yield key, str(value)
