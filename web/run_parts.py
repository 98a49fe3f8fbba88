"""The set-up form of a run, a part a card: each setting with its target, what is noted, and what may be tapped."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from flask import g

from tickets.calculator import units
from tickets.calculator.numerals import counted
from tickets.domain import setting
from tickets.domain.bucket import Bucket
from tickets.domain.code import shown
from tickets.domain.jobs import colourways
from tickets.domain.jobs.job import Ink
from tickets.domain.runs import ink_fit, setup
from tickets.domain.runs.as_run import NOT_MEASURED
from tickets.domain.steps import Field
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import at_press, find, run_plan
from tickets.store import buckets
from web.support import digit_rows, in_safelight

NO_FAULTS: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the set-up sheet: a station, or the whole run. `aim` and `now` by field; `faulty`: has a fault."""

    key: str
    start: str
    title: str
    head: int | None
    asks: tuple[setup.SheetField, ...]
    folded: tuple[setup.SheetField, ...]
    aim: Mapping[str, str]
    now: Mapping[str, str]
    faulty: bool = False
    buckets: tuple[tuple[str, str], ...] = ()
    taps: Mapping[str, list[tuple[str, str]]] = field(default_factory=dict)
    """Under the safelight: what can be tapped, by setting."""
    digits: Mapping[str, Field] = field(default_factory=dict)
    """Under the safelight: times and measurements that are tapped digit by digit, in their `units`."""
    units: Mapping[str, str] = field(default_factory=dict)
    noted: bool = True
    """Whether somebody noted it in this run."""
    hangs: bool = True
    """Whether it can be noted where one stands: its screen hangs, or it needs none."""
    like: tuple[tuple[str, str], ...] = ()
    """The parts noted before that do the same and are set otherwise: (`3.1`, how its head is called)."""
    said: Mapping[str, Any] = field(default_factory=dict)
    """Who noted it, or claimed it to be as the target, and when: as `noted_by` of a sheet has it."""
    other_buckets: tuple[tuple[str, str], ...] = ()
    """Buckets of another colour or series, last and folded."""
    left_like: int = 0
    """How many open parts, this one too, can be set at once as the nearest of `like`."""

    @property
    def named(self) -> str:
        """How it is called on its button."""
        if self.key == setup.RUN:
            return _("the whole run")
        return _("head {head}").format(head=self.head) if self.head else self.title

    @property
    def main(self) -> tuple[setup.SheetField, ...]:
        """What is set on the head, of what is not folded."""
        return tuple(ask for ask in self.asks if not ask.measured)

    @property
    def gauged(self) -> tuple[setup.SheetField, ...]:
        """What is measured there."""
        return tuple(ask for ask in (*self.asks, *self.folded) if ask.measured)

    @property
    def detail(self) -> tuple[setup.SheetField, ...]:
        """What else is set, for whoever wants it."""
        return tuple(ask for ask in self.folded if not ask.measured)

    @property
    def gauged_summary(self) -> str:
        """What was measured already."""
        done = [f"{ask.word}: {_(self.now[ask.name])}" for ask in self.gauged if self.now.get(ask.name)]
        return " · ".join(done) or _("nothing yet")

    @property
    def summary(self) -> str:
        """What it is set to, in a line."""
        names = ("squeegee", "strokes", "ink", "time", "surface", "surface_feel", "platen", "garment_lot", "placement")
        said = {name: self.now.get(name, "") for name in names}
        if said["strokes"]:
            said["strokes"] = _("strokes {number}").format(number=said["strokes"])
        return " · ".join(text for text in said.values() if text)

    @property
    def folded_summary(self) -> str:
        """What the folded part holds already."""
        return " · ".join(f"{ask.word}: {_(self.now[ask.name])}" for ask in self.detail if self.now.get(ask.name))


def parts_of(
    plan: run_plan.Plan,
    aim: Mapping[str, Mapping[str, str]],
    faults: Mapping[str, str] = NO_FAULTS,
    offer: bool = False,
) -> list[Part]:
    """The set-up sheet, part by part: the target, and what is set now (the target, until something was noted).

    `offer`: with what can be tapped.
    """
    done = setup.parts_noted(plan.story.sheet, plan.placement)
    settings = {**setup.as_set(aim), **run_plan.standing_settings(plan, aim)}
    needed = {str(one.number) for one in plan.missing()}
    inks = {str(one.number): one.inks for one in plan.asked}
    stock = _stock(plan) if offer else _Stock((), {}, {})
    dark = offer and in_safelight()
    lately = run_plan.lately_set(g.db) if dark else {}
    found = []
    idle = run_plan.idle_now(plan)
    for station in plan.placement.stations:
        if station.number in idle:
            continue
        hung = plan.story.hung.get(station.number)
        title = station.separation if station.prints else _(setup.DOES[station.does])
        key, start = str(station.number), f"s{station.number}."
        found.append((key, start, f"{station.number}. {title}", hung.head if hung else None, setup.asks_of(station)))
    garments = list(colourways.garments_of(plan.job.sheet))
    found.append((setup.RUN, f"{setup.RUN}.", _("The whole run"), None, setup.whole_asks(garments)))
    settings = setup.with_lots(settings, garments, plan.story.on)
    parts = []
    for key, start, title, head, asks in found:
        target, now = {"order": key, **aim.get(key, {})}, {"order": key, **settings.get(key, {})}
        kinds = inks.get(key, frozenset())
        here = {**lately, "ink": [one for one in lately.get("ink", ()) if kinds & {*one.split(" · ")}]}
        taps, digits, of = _tapped(asks, target, now, here, len(plan.placement.stations)) if dark else ({}, {}, {})
        fit, others = _bucket_tiles(stock, counted(key), now.get("bucket", "")) if counted(key) else ((), ())
        parts.append(
            Part(
                key,
                start,
                title,
                head,
                tuple(ask for ask in asks if not ask.folded),
                tuple(ask for ask in asks if ask.folded),
                target,
                now,
                any(where.startswith(start) for where in faults),
                fit,
                taps,
                digits,
                of,
                key in done,
                key not in needed,
                like := tuple(_like(plan, key, settings, done)),
                (plan.story.sheet.get("noted_by") or {}).get(key, {}) if key in done else {},
                others,
                _left_like(plan, like) if key not in done else 0,
            )
        )
    return parts


MOST_LIKE = 3


def _like(
    plan: run_plan.Plan, key: str, settings: Mapping[str, Mapping[str, str]], done: Collection[str]
) -> Iterator[tuple[str, str]]:
    """The heads noted before that a head can be set the same as: the nearest ones that are set otherwise than it."""
    before = [str(one.number) for one in plan.placement.stations if str(one.number) in done and str(one.number) != key]
    own, found = {name: text for name, text in settings.get(key, {}).items() if name in setup.COPIED}, 0
    for other in reversed(before):
        same = setup.same_as(settings, plan.placement, f"{key}.{other}") if key != setup.RUN else None
        if same and {name: text for name, text in same[1].items() if name in setup.COPIED} != own and found < MOST_LIKE:
            hung, found = plan.story.hung.get(counted(other)), found + 1
            yield f"{key}.{other}", str(hung.head if hung and hung.head else other)


def _left_like(plan: run_plan.Plan, like: Sequence[tuple[str, str]]) -> int:
    """How many parts are open that do the same as the nearest one noted before."""
    return len(run_plan.open_like(plan, like[0][0].partition(".")[2])) if like else 0


def _tapped(
    asks: Sequence[setup.SheetField],
    aim: Mapping[str, str],
    now: Mapping[str, str],
    lately: Mapping[str, Sequence[str]],
    count: int,
) -> tuple[dict[str, list[tuple[str, str]]], dict[str, Field], dict[str, str]]:
    """What can be tapped for the settings of a part; those that are tapped digit by digit, and the unit of each."""
    taps, digits, of = {}, {}, {}
    for ask in asks:
        value = now.get(ask.name, "")
        digit, unit = _by_digits(ask, aim.get(ask.name, ""), value)
        if digit is not None:
            digits[ask.name], of[ask.name] = digit, unit
        elif some := setup.taps(ask, aim.get(ask.name, ""), value, lately.get(ask.name, ()), count):
            taps[ask.name] = some
    return taps, digits, of


def _by_digits(ask: setup.SheetField, aim: str, now: str) -> tuple[Field | None, str]:
    """A time, or what is measured, as a number that is tapped digit by digit, and its unit: that of what stands there,
    else of its target. None where it is no number, or stands there as the rows cannot hold it."""
    known = setting.SETTINGS.get(ask.name)
    if known is None or not (ask.seconds or known.measured):
        return None, ""
    now = "" if now == NOT_MEASURED else now
    unit = units.unit_named(units.split(now or aim)[1], known.kind) or known.unit
    low, high = (units.convert(one, known.unit, unit) for one in (known.low, known.high))
    if ask.seconds and not known.measured:
        low, high = 0.1, 99
    whole = known.low % 1 == 0
    number = Field(ask.name, ask.word, "number", low=round(low) if whole else low, high=high)
    digits, spelling = units.split(now)
    if now and not (spelling and digit_rows(number, digits)):
        return None, ""
    return number, unit


OTHER_INK = {
    "ink-other-kind": N_("another kind of ink"),
    "ink-other-colour": N_("another colour"),
    "ink-other-series": N_("another series"),
}


@dataclass(frozen=True, slots=True)
class _Stock:
    """The open ink buckets, those in use with where (by code), and what each print order prints."""

    buckets: Sequence[Bucket]
    used: Mapping[str, Sequence[str]]
    inks: Mapping[int, Sequence[Ink]]


def _stock(plan: run_plan.Plan) -> _Stock:
    """What there is to choose from for a run, and what of it is on a head already."""
    used: dict[str, list[str]] = {}
    for code, reasons in at_press.buckets_elsewhere(g.db, plan.run.id).items():
        for one in reasons:
            told = _("in use on head {head} of run {run}")
            used.setdefault(code, []).append(told.format(head=one.numbers["head"], run=one.numbers["run"]))
    for key, values in plan.story.settings.items():
        if values.get("bucket"):
            told = _("in use at position {station}").format(station=key)
            used.setdefault(values["bucket"], []).append(told)
    return _Stock(buckets.open_ones(g.db, emulsions=False), used, run_plan.inks_of(plan))


Tiles = tuple[tuple[str, str], ...]


def _bucket_tiles(stock: _Stock, station: int, now: str) -> tuple[Tiles, Tiles]:
    """The open buckets that hold an ink of the kind of this print order, and the one that was said: first those that
    say its colour, series or reference, then those that fit by their kind alone, and by themselves those of
    another colour or series, unless there are no others."""
    inks = stock.inks.get(station, ())
    others = [one for number, some in stock.inks.items() if number != station for one in some]
    found = []
    for one in stock.buckets:
        if one.code != now and inks and not ink_fit.of_kind(one, inks):
            continue
        wrong = [_(OTHER_INK[reason.key]) for reason in ink_fit.against(one, station, inks, others)]
        sure = ink_fit.named(one, inks)
        said = [find.bucket_named(one), *(f"! {word}" for word in wrong)]
        said += [] if sure or wrong else [_("right kind of ink; colour not noted")]
        said += [f"! {_('expired')}"] if one.past(g.now) else []
        own = _("in use at position {station}").format(station=station)
        said += [told for told in stock.used.get(one.code, ()) if told != own]
        found.append((2 if wrong else 0 if sure else 1, one.code, " – ".join(said)))
    found += [(1, now, shown(now))] if now and now not in {one.code for one in stock.buckets} else []
    found.sort(key=lambda one: one[0])
    fit = tuple((code, told) for rank, code, told in found if rank < 2)
    last = tuple((code, told) for rank, code, told in found if rank == 2)
    return (fit, last) if fit else (last, ())
