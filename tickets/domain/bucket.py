"""A mixed lot with a clock: sensitised emulsion, discharge or catalysed ink."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from tickets.domain import outside
from tickets.domain.code import shown
from tickets.domain.entry import Entry, read_stamp, stamp, standing_lines, text_of
from tickets.domain.separation import folded
from tickets.domain.spec import Spec

CLOCKED: Mapping[str, tuple[str, ...]] = {
    "discharge ink": ("discharge",),
    "catalysed ink": ("water-base", "silicone"),
    "silicone ink": ("silicone",),
}
"""Mixed inks whose clock runs from the mixing on, and the inks that each may be of: the shortest life of them counts. A
water-base ink has no clock before a catalyst is in it."""


@dataclass(frozen=True, slots=True)
class Bucket:
    """A mixed lot. Times as `entry.stamp` writes them; `water_resistant`: yes, no, unknown; `test`: good, fault, ''.
    Of an ink: its colour, its series, and its recipe (grams of each part) as written."""

    id: int
    code: str
    kind: str = ""
    product: str = ""
    lot: str = ""
    water_resistant: str = "unknown"
    mixed_at: str = ""
    good_until: str = ""
    used_at: str | None = None
    test: str = ""
    discarded_at: str | None = None
    colour: str = ""
    series: str = ""
    recipe: str = ""

    @property
    def usual(self) -> bool:
        """True for the emulsion that a shop says it uses, where it logs no coats: no bucket that is listed."""
        return self.id == 0

    @property
    def emulsion(self) -> bool:
        """True for a sensitised emulsion, False for an ink."""
        return self.kind.endswith("emulsion")

    @property
    def sort(self) -> str:
        """The kind without the word emulsion or ink, as the spec names it: diazo, dual-cure, discharge, ..."""
        return self.kind.removesuffix(" emulsion").removesuffix(" ink")

    def to_dict(self) -> dict[str, Any]:
        """The bucket as plain data, named by its code."""
        rest = {name: value for name, value in asdict(self).items() if name not in {"id", "code"}}
        return {"code": self.code, "shown": shown(self.code), **rest}

    def past(self, now: datetime) -> bool:
        """True when its time is over."""
        return bool(self.good_until) and stamp(now) > self.good_until


def replay(bucket: Bucket, entries: Iterable[Entry], spec: Spec) -> Bucket:
    """The bucket as its entries say, in any order. Without a date of its own its time is worked out from its kind."""
    bucket = Bucket(bucket.id, bucket.code, bucket.kind)
    for entry in standing_lines(entries):
        bucket = after(bucket, entry, spec)
    return bucket


def after(bucket: Bucket, entry: Entry, spec: Spec) -> Bucket:
    """The bucket with one more entry, which comes after all those before it."""
    values = entry.values
    match entry.step:
        case "mix":
            kind = text_of(values, "kind") or bucket.kind
            return Bucket(  # a fresh mix in the same bucket: nothing that was said of the old one holds
                bucket.id,
                bucket.code,
                kind=kind,
                product=text_of(values, "product"),
                lot=text_of(values, "lot"),
                water_resistant=text_of(values, "water_resistant") or "unknown",
                mixed_at=stamp(entry.at),
                good_until=_date(text_of(values, "good_until")) or _reckoned(kind, entry.at, spec),
                colour=text_of(values, "colour"),
                series=text_of(values, "series"),
                recipe=text_of(values, "recipe"),
            )
        case "use":
            return replace(bucket, used_at=stamp(entry.at))
        case "test":
            bucket = replace(bucket, test=text_of(values, "result"))
            if bucket.emulsion and bucket.test == "good" and bucket.past(entry.at):
                days = spec.find("strip-vouches")  # the strip that its time being over asks for answers that
                vouched = stamp(entry.at + timedelta(days=days.value)) if days else bucket.good_until
                return replace(bucket, good_until=vouched)
        case "discard":
            return replace(bucket, discarded_at=stamp(entry.at))
    return bucket


def usual_emulsion(said: Sequence[tuple[str, str]], made_at: str, product: str, coated_d: float) -> Bucket | None:
    """What a shop that logs no coats says of its emulsion, for a stencil seen first at `made_at`; None: nobody knows.

    `said`: its answers (yes, no, unknown), the oldest first, each with its time; `coated_d`: how many days a coat may
    have waited by then. A stencil that may have been coated with the emulsion before or after a change of the answer
    counts as known only where both are the same; one older than every answer, where all of them are.
    """
    since = stamp(read_stamp(made_at) - timedelta(days=coated_d)) if made_at else ""
    before = [answer for at, answer in said if at <= since][-1:]
    between = [answer for at, answer in said if since < at <= made_at]
    answers = set(before + between) or {answer for _at, answer in said}
    if answers not in ({"yes"}, {"no"}):
        return None
    return Bucket(0, "", product=product, water_resistant=answers.pop())


def _date(text: str) -> str:
    """A time as it is stored; empty for what is none, or has no offset."""
    at = outside.moment(text)
    return stamp(at) if at is not None and at.tzinfo else ""


def _reckoned(kind: str, mixed: datetime, spec: Spec) -> str:
    if kind.endswith("emulsion"):
        days = spec.find("mixed-emulsion-age", emulsion=kind.removesuffix(" emulsion"))
        return stamp(mixed + timedelta(days=days.value)) if days else ""
    hours = [found.value for ink in CLOCKED.get(kind, ()) if (found := spec.find("pot-life", ink=ink))]
    return stamp(mixed + timedelta(hours=min(hours))) if hours else ""


def named_by(product: str, words: Iterable[str]) -> bool:
    """Whether one of the words of an ink (its colour, series, reference) is among those on a bucket of it."""
    there = f" {folded(product)} "
    return any(one and f" {folded(one)} " in there for one in words)


def hours_past(bucket: Bucket, now: datetime) -> float:
    """How long the time of a bucket with a date has been over, in hours; below zero while it is good."""
    return (now - read_stamp(bucket.good_until)).total_seconds() / 3600
