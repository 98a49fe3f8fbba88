"""Mixed lots with a clock."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tickets.calculator import defaults
from tickets.domain.bucket import CLOCKED, Bucket, hours_past, replay
from tickets.domain.entry import Entry, stamp
from tickets.domain.spec import Row, Spec, shipped
from tickets.domain.steps import BUCKET_KINDS, BUCKET_STEPS

SPEC = Spec(shipped())
MIXED = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
EMPTY = Bucket(4, "7K32XM")


def entry(step: str, hours: float = 0, number: int = 0, **values: Any) -> Entry:
    at = MIXED + timedelta(hours=hours)
    return Entry(entry=f"e{number}{step}{hours}", step=step, at=at, saved_at=at, person=1, bucket=4, values=values)


@pytest.mark.parametrize(
    ("kind", "good_for"),
    [
        # Screen Printing, Sept 2003: mixed diazo keeps 4 weeks at most; photopolymer almost a year in use
        ("diazo emulsion", timedelta(days=28)),
        ("dual-cure emulsion", timedelta(days=28)),
        ("photopolymer emulsion", timedelta(days=330)),
        # Screen Printing, Sept 2007: makers say 6-8 h for discharge
        ("discharge ink", timedelta(hours=6)),
        ("silicone ink", timedelta(hours=4)),  # judgement
        ("catalysed ink", timedelta(hours=4)),  # judgement
        ("water-base ink", None),  # its clock runs only once a catalyst is in
        ("plastisol ink", None),
    ],
)
def test_its_time_is_reckoned_from_its_kind(kind: str, good_for: timedelta | None) -> None:
    bucket = replay(EMPTY, [entry("mix", kind=kind)], SPEC)
    assert bucket.good_until == (stamp(MIXED + good_for) if good_for else "")
    if good_for is None:
        assert not bucket.past(MIXED + timedelta(days=4000))
    else:
        assert not bucket.past(MIXED + good_for)
        assert bucket.past(MIXED + good_for + timedelta(seconds=1))
        assert hours_past(bucket, MIXED + good_for + timedelta(hours=2)) == pytest.approx(2)


def test_every_kind_that_can_be_mixed_is_known_here() -> None:
    for kind, _label in BUCKET_KINDS:
        bucket = replay(EMPTY, [entry("mix", kind=kind)], SPEC)
        assert bucket.kind == kind and bucket.emulsion == kind.endswith(" emulsion")
        assert bucket.sort and " " not in bucket.sort


def test_a_date_of_its_own_wins() -> None:
    until = stamp(MIXED + timedelta(hours=2))
    assert replay(EMPTY, [entry("mix", kind="discharge ink", good_until=until)], SPEC).good_until == until
    offset = "2026-03-02T12:00:00+02:00"
    assert replay(EMPTY, [entry("mix", kind="discharge ink", good_until=offset)], SPEC).good_until == until
    for odd in ("soon", "2026-03-02T10:00", "", None, 7):
        bucket = replay(EMPTY, [entry("mix", kind="discharge ink", good_until=odd)], SPEC)
        assert bucket.good_until == stamp(MIXED + timedelta(hours=6)), "an odd date is none"


def test_use_test_and_discard() -> None:
    log = [entry("mix", kind="diazo emulsion", product="Blue Two", lot="17", water_resistant="yes"),
           entry("use", 1), entry("test", 2, result="fault"), entry("discard", 3, why="it failed")]  # fmt: skip
    bucket = replay(EMPTY, reversed(log), SPEC)
    assert (bucket.product, bucket.lot, bucket.water_resistant) == ("Blue Two", "17", "yes")
    assert (bucket.used_at, bucket.test, bucket.discarded_at) == (
        stamp(MIXED + timedelta(hours=1)), "fault", stamp(MIXED + timedelta(hours=3)))  # fmt: skip
    crossed = replay(EMPTY, [*log, entry("cross-out", 4, entry=log[3].entry)], SPEC)
    assert crossed.discarded_at is None


def test_a_good_strip_of_an_emulsion_past_its_time_answers_that_for_a_week() -> None:
    day = 24
    mixed = [entry("mix", kind="diazo emulsion"), entry("test", 3 * day, result="good")]
    early = replay(EMPTY, mixed, SPEC)
    assert early.past(MIXED + timedelta(days=29)), "a strip of its first days says nothing of a month later"
    old = replay(EMPTY, [*mixed, entry("test", 30 * day, result="good")], SPEC)
    assert not old.past(MIXED + timedelta(days=30, hours=1)) and not old.past(MIXED + timedelta(days=37))
    assert old.past(MIXED + timedelta(days=37, hours=1))
    failed = replay(EMPTY, [*mixed, entry("test", 30 * day, result="fault")], SPEC)
    assert failed.past(MIXED + timedelta(days=30)) and failed.test == "fault"
    ink = replay(EMPTY, [entry("mix", kind="discharge ink"), entry("test", 10, result="good")], SPEC)
    assert ink.past(MIXED + timedelta(hours=11)), "what is mixed into an ink goes on: no strip stops its clock"


def test_a_fresh_mix_in_the_same_bucket_starts_anew() -> None:
    log = [entry("mix", kind="diazo emulsion", product="Blue Two"), entry("use", 1), entry("test", 2, result="fault"),
           entry("discard", 3), entry("mix", 4, kind="diazo emulsion")]  # fmt: skip
    bucket = replay(EMPTY, log, SPEC)
    assert (bucket.used_at, bucket.test, bucket.discarded_at, bucket.product) == (None, "", None, "")
    assert bucket.good_until == stamp(MIXED + timedelta(hours=4, days=28))
    assert bucket.water_resistant == "unknown"


ODD = st.one_of(st.none(), st.integers(), st.floats(), st.text(max_size=4), st.sampled_from(["good", "discharge ink"]))


@given(st.lists(st.tuples(st.sampled_from([*BUCKET_STEPS, "other"]), st.integers(0, 5), st.dictionaries(
    st.sampled_from(["kind", "good_until", "result", "product", "water_resistant", "entry"]), ODD)), max_size=8),
    st.randoms(use_true_random=False))  # fmt: skip
def test_any_log_gives_a_bucket_whatever_the_order(log: list[Any], rng: Any) -> None:
    entries = [entry(step, hours, number, **values) for number, (step, hours, values) in enumerate(log)]
    bucket = replay(EMPTY, entries, SPEC)
    rng.shuffle(entries)
    assert replay(EMPTY, entries, SPEC) == bucket
    assert isinstance(bucket.past(MIXED), bool)
    if bucket.good_until:
        hours_past(bucket, MIXED)


@pytest.mark.parametrize("kind", [kind for kind, _word in BUCKET_KINDS])
def test_each_kind_has_a_clock_of_a_row_with_its_source_or_none_that_is_meant(kind: str) -> None:
    """Water-base and plastisol from the tub have no clock before a catalyst is in; all that is mixed has one."""
    key = "mixed-emulsion-age" if kind.endswith("emulsion") else "pot-life"
    about = {"emulsion": kind.removesuffix(" emulsion")} if kind.endswith("emulsion") else {}
    asked = [about] if about else [{"ink": ink} for ink in CLOCKED.get(kind, ())]
    rows = [defaults.pick(key, **facts) for facts in asked]
    assert all(row is not None and row.source and row.value > 0 for row in rows)
    assert bool(rows) is bool(replay(EMPTY, [entry("mix", kind=kind)], SPEC).good_until)
    assert rows or kind in {"plastisol ink", "water-base ink"}


def test_every_shipped_life_of_an_ink_counts_for_some_kind_of_bucket() -> None:
    """The shortest of what a catalysed ink may be of: a shop's 2 h for water-base shorten it, its 9 h do not."""
    asked = {ink for inks in CLOCKED.values() for ink in inks}
    assert {row.when["ink"] for row in defaults.DEFAULTS if row.key == "pot-life"} == asked
    for hours, good in ((2.0, 2), (9.0, 4)):
        row = Row(9001, "pot-life", hours, "h", {"ink": "water-base"}, "its sheet")
        mixed = replay(EMPTY, [entry("mix", kind="catalysed ink")], Spec((*shipped(), row)))
        assert mixed.good_until == stamp(MIXED + timedelta(hours=good))
