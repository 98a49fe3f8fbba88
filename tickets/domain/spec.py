"""The shop's limits: rows that are appended and never edited; the one most particular about a case wins."""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar, cast

from tickets.calculator.defaults import DEFAULTS, SPAN_OF, SPANS, Default, Span
from tickets.calculator.units import exact_text, show_value
from tickets.domain import limits
from tickets.domain.refusal import Refused
from tickets.i18n import N_
from tickets.i18n import gettext as _

NO_LONGER = N_("the program ships this limit no more")
Worked = TypeVar("Worked")


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the spec: `value` in `unit` (None: withdrawn) for what `conditions` name; its source, who, when."""

    id: int
    key: str
    value: float | None
    unit: str
    conditions: Mapping[str, Any] = field(default_factory=dict)
    source: str = ""
    at: str = ""
    person: int = 0

    @property
    def identity(self) -> tuple[str, frozenset[tuple[str, Any]]]:
        """Rows of one identity replace each other, the newest counts."""
        return (self.key, frozenset(self.conditions.items()))

    def fits(self, facts: Mapping[str, Any]) -> bool:
        """True when everything that the row is particular about is known and so."""
        return self._as_default().fits(facts)

    @property
    def weight(self) -> int:
        """How many things the row is particular about; a span is one."""
        return self._as_default().weight

    def _as_default(self) -> Default:
        return Default(self.key, self.value or 0.0, self.unit, self.source, self.conditions)


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit found: its number and the row that it comes from."""

    value: float
    row: int


_LONGEST: Mapping[str, float] = {"min": 1e6, "h": 1e5, "d": 36_525, "%": 1000, "degC": 600, "s": 1e6}
"""What a limit in such a unit can be at most: no calendar of the program goes on for ever."""


def beyond(row: Row) -> tuple[float, float] | None:
    """The span that a limit of this sort lies in, where the row's value lies outside of it; None: it may be so."""
    low, high = span_of(row.key, row.unit)
    return None if row.value is None or low <= row.value <= high else (low, high)


def span_of(key: str, unit: str) -> tuple[float, float]:
    """What a limit can be, in its unit."""
    known = limits.LIMITS.get(key)
    return known.within if known and known.within else (0.0, _LONGEST.get(unit, 1e9))


class Spec:
    """The rows that count now, asked by key and facts (`count_per_in`, `work`, `frame`, ... as known).

    `faulty`: rows among them whose value no limit of the sort can have, as an earlier program may have taken it; they
    judge nothing, and pages say which they are.
    """

    def __init__(self, rows: Iterable[Row]) -> None:
        latest: dict[tuple[str, frozenset[tuple[str, Any]]], Row] = {}
        for row in rows:
            latest[row.identity] = row
        self.rows: tuple[Row, ...] = tuple(row for row in latest.values() if row.value is not None)
        self.faulty = tuple(row for row in self.rows if beyond(row) is not None)
        self._by_key: dict[str, list[tuple[Default, Limit]]] = {}
        # the most particular first, so that the first one that fits is the one; of equals the older
        for row in sorted((row for row in self.rows if beyond(row) is None), key=lambda row: -row.weight):
            limit = Limit(float(row.value or 0.0), row.id)
            self._by_key.setdefault(row.key, []).append((row._as_default(), limit))
        self._kept: dict[Hashable, Any] = {}

    def find(self, key: str, **facts: Any) -> Limit | None:
        """The limit most particular about these facts; None when none is for them."""
        for row, limit in self._by_key.get(key, ()):
            if not row.when or row.fits(facts):
                return limit
        return None

    def kept(self, about: Hashable, make: Callable[[], Worked]) -> Worked:
        """What `make` works out of these rows about `about`, once: a shop has few kinds of mesh and many screens."""
        if about not in self._kept:
            if len(self._kept) > 500:
                self._kept.clear()
            self._kept[about] = make()
        return cast(Worked, self._kept[about])

    def value(self, key: str, **facts: Any) -> float:
        """As `find`, the number alone (KeyError: no row)."""
        found = self.find(key, **facts)
        if found is None:
            raise KeyError(key)
        return found.value


def shipped() -> tuple[Row, ...]:
    """The rows that a new shop starts with, numbered from 1; person 0 stands for the program."""
    return tuple(
        Row(number, default.key, float(default.value), default.unit, dict(default.when), default.source)
        for number, default in enumerate(DEFAULTS, 1)
    )


def to_ship(rows: Sequence[Row], came: Collection[int], ships: Iterable[Row] | None = None) -> list[Row]:
    """What a shop with these rows lacks of what the program ships now (`ships`), as rows to append.

    `came`: the numbers of the rows that came with the program. What somebody of the shop set or withdrew stays: no row
    comes that would count in its place. A row that the program ships no more is withdrawn (value None).
    """
    latest: dict[tuple[str, frozenset[tuple[str, Any]]], Row] = {}
    for row in rows:
        latest[row.identity] = row
    own: dict[str, list[Row]] = {}
    for row in latest.values():
        if row.id not in came:
            own.setdefault(row.key, []).append(row)
    new, known = [], set()
    for row in shipped() if ships is None else ships:
        known.add(row.identity)
        there = latest.get(row.identity)
        if there is not None and there.id in came:
            if (there.value, there.unit, there.source) != (row.value, row.unit, row.source):
                new.append(row)
        elif not any(
            one.weight <= row.weight and _may_meet(one.conditions, row.conditions) for one in own.get(row.key, ())
        ):
            new.append(row)
    gone = [row for row in latest.values() if row.id in came and row.identity not in known and row.value is not None]
    return new + [replace(row, value=None, source=NO_LONGER) for row in gone]


SHIPPED = Spec(shipped())
"""The limits that the program comes with: what judges where no shop is known."""


def check_new(spec: Spec, row: Row) -> None:
    """Refuses a row that would be as particular as another one about the same case, so that no limit is left to chance.

    A row that withdraws another (no value) never is. Conditions that nothing knows, and a span that holds nothing, are
    refused too.
    """
    unknown = [name for name in row.conditions if name not in limits.NAMES]
    if unknown:
        raise Refused(
            _("Nothing is known as {names}; conditions are: {known}.").format(
                names=", ".join(unknown), known=", ".join(limits.NAMES)
            ),
            "conditions",
        )
    if not _may_meet(row.conditions, row.conditions):
        raise Refused(_("This span holds none: give the lower value first."), "conditions")
    if row.value is None:
        return
    for other in spec.rows:
        if other.key == row.key and other.identity != row.identity and other.weight == row.weight:
            if _may_meet(other.conditions, row.conditions):
                raise Refused(
                    _(
                        "Row {row} is just as specific for the same case: add a condition to one of them, or change "
                        "that row."
                    ).format(row=other.id),
                    "conditions",
                )
    _check_within(row)
    _check_order(spec, row)


def _check_order(spec: Spec, row: Row) -> None:
    """Refuses a row that contradicts another limit, saying which one and what would do."""
    new = replace(row, id=-1)
    for one in contradictions(Spec((*spec.rows, new)), new):
        mine_is_low = one.low.row == new.id
        other_key, other = (one.high_key, one.high) if mine_is_low else (one.low_key, one.low)
        said = (
            _("It would lie above “{limit}”, {value} by row {row} for the same case; no more than that would do.")
            if mine_is_low
            else _("It would lie under “{limit}”, {value} by row {row} for the same case; no less than that would do.")
        )
        value = show_value(other.value, row.unit) if row.unit else f"{other.value:g}"
        raise Refused(
            said.format(limit=limits.called(other_key), value=value, row=other.row)
            + " " + _("If both are to change, change that one first."),
            "value",
        )  # fmt: skip


ORDERED: tuple[tuple[str, str], ...] = (
    ("tension-hard-floor", "tension-floor"),
    ("tension-floor", "tension-watch"),
    ("new-mesh-tension", "tension-ceiling"),
    ("build-least", "build-most"),
    ("drying-temperature", "drying-temperature-highest"),
    ("minutes-to-touch-dry", "minutes-to-dry"),
    ("colour-warn", "colour-fail"),
    ("halftone-ratio-least", "halftone-ratio"),
    ("probe-mark-lowest", "probe-mark-highest"),
    ("sheet-thickness-least", "sheet-thickness-most"),
    ("usual-off-contact-least", "usual-off-contact-most"),
    ("usual-belt-least", "usual-belt-most"),
    ("cure-temperature", "ink-ceiling"),
    ("discharge-cotton-least", "discharge-cotton"),
)
"""Pairs of limits of which the first never lies above the second, where both count for one case."""


def _check_within(row: Row) -> None:
    span = beyond(row)
    if span is not None:
        raise Refused(within_said(span), "value")


def within_said(span: tuple[float, float]) -> str:
    """What would do in the place of a value that lies outside of a span."""
    low, high = span
    return _("This limit lies between {low} and {high}.").format(low=exact_text(low), high=exact_text(high))


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Two limits that count for one case, of which the first lies above the second though it may not."""

    low_key: str
    low: Limit
    high_key: str
    high: Limit


def contradictions(spec: Spec, row: Row) -> list[Contradiction]:
    """Where a row of this spec and what counts beside it would contradict each other: for every case that the row and a
    row of the other limit may meet in, whichever of them wins there."""
    found: dict[tuple[int, int], Contradiction] = {}
    for low_key, high_key in ORDERED:
        if row.key not in (low_key, high_key):
            continue
        other_key = high_key if row.key == low_key else low_key
        for other in spec.rows:
            if other.key != other_key or not _may_meet(row.conditions, other.conditions):
                continue
            facts = _both(row.conditions, other.conditions)
            low, high = spec.find(low_key, **facts), spec.find(high_key, **facts)
            if low and high and low.value > high.value + 1e-9 and row.id in (low.row, high.row):
                found[low.row, high.row] = Contradiction(low_key, low, high_key, high)
    return list(found.values())


def _both(one: Mapping[str, Any], two: Mapping[str, Any]) -> dict[str, Any]:
    """The facts of a case that fits both rows."""
    facts = {name: value for row in (one, two) for name, value in row.items() if name not in SPAN_OF}
    for span in SPANS.values():
        over, to = _overlap(span, one, two)
        if over or to < _NO_END:
            facts[span.fact] = over + 1 if to >= _NO_END else (over + to) / 2
    return facts


def brought_back(rows: Sequence[Row], row: Row, came: Collection[int]) -> Row | None:
    """The row that came with the program and counts again once the shop withdraws its own in its place (`row`, without
    a value); None where the program ships none, or where the one that counts is the program's."""
    latest = next((one for one in reversed(rows) if one.identity == row.identity), None)
    if row.value is not None or latest is None or latest.id in came:
        return None
    return next((one for one in shipped() if one.identity == row.identity), None)


def _may_meet(one: Mapping[str, Any], two: Mapping[str, Any]) -> bool:
    """True when some case fits both rows."""
    for name in set(one) & set(two):
        if name not in SPAN_OF and one[name] != two[name]:
            return False
    return all(over < to for over, to in (_overlap(span, one, two) for span in SPANS.values()))


_NO_END = 1e9


def _overlap(span: Span, one: Mapping[str, Any], two: Mapping[str, Any]) -> tuple[float, float]:
    """What the spans of two rows have in common: from, to."""
    over = max(float(row.get(span.over, 0.0)) for row in (one, two))
    return over, min(float(row.get(span.to, _NO_END)) for row in (one, two))


def facts_of(**known: Any) -> dict[str, Any]:
    """Facts without those that are not known, so that no row is picked by an empty one."""
    return {name: value for name, value in known.items() if value not in (None, "")}


def withdrawn(rows: Iterable[Row]) -> list[tuple[Row, Row]]:
    """The limits that count no more: the row that withdrew each, and the last one with a value."""
    latest: dict[tuple[str, frozenset[tuple[str, Any]]], Row] = {}
    valued = dict(latest)
    for row in rows:
        latest[row.identity] = row
        if row.value is not None:
            valued[row.identity] = row
    return [(row, valued[row.identity]) for row in latest.values() if row.value is None and row.identity in valued]


def history(rows: Sequence[Row], identity: tuple[str, frozenset[tuple[str, Any]]]) -> list[Row]:
    """What a row has been, newest first."""
    return [row for row in reversed(rows) if row.identity == identity]
