"""The spec: the row most particular about a case wins, and no limit is left to chance."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tickets.domain.limits import NAMES
from tickets.domain.refusal import Refused
from tickets.domain.spec import ORDERED, Row, Spec, check_new, contradictions, facts_of, history, shipped

SHIPPED = Spec(shipped())


def row(number: int, key: str, value: float | None, **conditions: object) -> Row:
    return Row(number, key, value, "N/cm", conditions, "judgement", "2026-05-01T09:00:00.000000Z", 1)


def test_the_shipped_rows_are_not_ambiguous() -> None:
    rows = shipped()
    assert len(rows) > 60
    for number, one in enumerate(rows):
        check_new(Spec([*rows[:number], *rows[number + 1 :]]), one)
    assert len({one.identity for one in rows}) == len(rows)
    assert [one.id for one in rows] == list(range(1, len(rows) + 1))


def test_every_shipped_row_says_where_it_comes_from() -> None:
    for one in shipped():
        assert one.source.strip()
        assert set(one.conditions) <= set(NAMES), one.key


# Frame, count per inch, new-mesh tension in N/cm: as the shop's rules give them; the rows name the published figures
# that they lie between.
NEW_MESH = [
    ("aluminium", 110, 25), ("aluminium", 170, 25), ("aluminium", 170.2, 25), ("aluminium", 195, 24),
    ("aluminium", 240, 24), ("aluminium", 255, 21), ("aluminium", 305, 21), ("roller", 110, 35), ("roller", 150, 35),
    ("roller", 156, 26), ("roller", 240, 26), ("roller", 305, 21), ("wood", 110, 15), ("wood", 305, 15),
]  # fmt: skip


@pytest.mark.parametrize(("frame", "count", "expected"), NEW_MESH)
def test_new_mesh_tension(frame: str, count: float, expected: float) -> None:
    found = SHIPPED.find("new-mesh-tension", frame=frame, count_per_in=count)
    assert found is not None and found.value == expected


@pytest.mark.parametrize(
    ("work", "frame", "watch", "floor"),
    [("one-colour", None, 15, 10), ("colours", None, 20, 15), ("halftone", None, 22, 18),
     ("one-colour", "wood", 10, 7),
     ("one-colour", "aluminium", 15, 10), ("colours", "wood", 20, 15)],
)  # fmt: skip
def test_watch_and_floor(work: str, frame: str | None, watch: float, floor: float) -> None:
    facts = facts_of(work=work, frame=frame)
    assert SHIPPED.value("tension-watch", **facts) == watch
    assert SHIPPED.value("tension-floor", **facts) == floor


def test_what_is_not_known_picks_no_row() -> None:
    assert SHIPPED.find("new-mesh-tension", frame="aluminium") is None
    assert SHIPPED.find("new-mesh-tension", count_per_in=230) is None
    assert SHIPPED.find("tension-watch") is None
    assert SHIPPED.find("no such key") is None
    with pytest.raises(KeyError):
        SHIPPED.value("tension-watch")
    assert facts_of(work="", frame=None, count_per_in=0.0) == {"count_per_in": 0.0}


def test_the_most_particular_row_wins_whatever_the_order() -> None:
    two = {"work": "halftone", "emulsion": "diazo"}
    span = {"count_over_per_in": 200, "count_to_per_in": 300}
    rows = [row(1, "x", 1.0), row(2, "x", 2.0, work="halftone"), row(3, "x", 3.0, **two)]
    rows.append(row(4, "x", 4.0, **two, **span))
    for some in itertools.permutations(rows):
        spec = Spec(some)
        assert spec.value("x") == 1
        assert spec.value("x", work="colours", emulsion="diazo") == 1
        assert spec.value("x", work="halftone") == 2
        assert spec.value("x", work="halftone", emulsion="diazo") == 3
        assert spec.value("x", work="halftone", emulsion="diazo", count_per_in=230) == 4
        assert spec.value("x", work="halftone", emulsion="diazo", count_per_in=305) == 3
    found = Spec(rows).find("x", work="halftone")
    assert found is not None and found.row == 2


def test_two_rows_equally_particular_are_refused() -> None:
    spec = Spec([row(1, "x", 1.0), row(2, "x", 2.0, count_to_per_in=170)])
    for clash in ({"frame": "wood"}, {"count_over_per_in": 150.0}, {"count_to_per_in": 100.0}, {"emulsion": "diazo"}):
        with pytest.raises(Refused, match="Row"):
            check_new(spec, row(9, "x", 5.0, **clash))
    check_new(spec, row(9, "x", 5.0, work="colours", frame="wood", emulsion="diazo"))
    check_new(spec, row(9, "y", 5.0, frame="wood"))
    check_new(spec, row(9, "x", 5.0, count_to_per_in=170))  # the same case: it replaces row 2
    check_new(spec, row(9, "x", 5.0))
    other_work = Spec([row(1, "x", 1.0, work="halftone")])
    check_new(other_work, row(9, "x", 5.0, work="colours"))
    spans = Spec([row(1, "x", 1.0, count_to_per_in=170)])
    check_new(spans, row(9, "x", 5.0, count_over_per_in=170, count_to_per_in=240))


def test_a_condition_that_nothing_knows_and_an_empty_span_are_refused() -> None:
    with pytest.raises(Refused, match="wrok"):
        check_new(SHIPPED, row(900, "x", 5.0, wrok="halftone"))
    with pytest.raises(Refused, match="span"):
        check_new(SHIPPED, row(900, "x", 5.0, count_over_per_in=240, count_to_per_in=170))


def test_a_row_is_replaced_and_withdrawn_never_edited() -> None:
    rows = list(shipped())
    wood = next(one for one in rows if one.key == "tension-floor" and one.conditions.get("frame") == "wood")
    facts = {"work": "one-colour", "frame": "wood"}
    stricter = replace(wood, id=901, value=9.0, source="our own trial")
    check_new(Spec(rows), stricter)
    rows.append(stricter)
    found = Spec(rows).find("tension-floor", **facts)
    assert found is not None and (found.value, found.row) == (9.0, 901)
    rows.append(replace(wood, id=902, value=None))
    check_new(Spec(rows[:-1]), rows[-1])
    assert Spec(rows).value("tension-floor", **facts) == 10, "without its own row, wood falls back to one colour"
    rows.append(replace(wood, id=903, value=8.0))
    assert Spec(rows).value("tension-floor", **facts) == 8
    assert [one.id for one in history(rows, wood.identity)] == [903, 902, 901, wood.id]
    assert [one.value for one in history(rows, wood.identity)] == [8.0, None, 9.0, 7.0]


def test_withdrawing_is_never_refused() -> None:
    spec = Spec([row(1, "x", 1.0, work="halftone")])
    check_new(spec, row(2, "x", None, frame="wood"))


def test_the_shipped_limits_agree_with_each_other() -> None:
    spec = Spec(shipped())
    keys = {key for pair in ORDERED for key in pair}
    assert keys <= {one.key for one in spec.rows}
    assert [found for one in spec.rows for found in contradictions(spec, one)] == []


def test_a_floor_above_its_caution_is_refused_with_what_would_do() -> None:
    spec = Spec(shipped())
    caution = spec.value("tension-watch", work="colours")
    with pytest.raises(Refused) as refused:
        check_new(spec, row(0, "tension-floor", 24.5, work="colours"))
    said = str(refused.value)
    assert "Tension: caution below" in said and "20" in said and "no more than that would do" in said
    check_new(spec, row(0, "tension-floor", caution, work="colours"))  # the same is no contradiction
    with pytest.raises(Refused, match="It would lie under"):
        check_new(spec, row(0, "tension-watch", 12.0, work="colours"))
    check_new(spec, row(0, "build-least", 20.0))
    with pytest.raises(Refused):
        check_new(spec, row(0, "build-least", 26.0))
    # a row that no case shares, and one that another row stands in front of, contradict nothing
    check_new(spec, row(0, "tension-floor", 12.0, work="one-colour"))
    ours = Spec([row(1, "tension-watch", 10.0), row(2, "tension-watch", 30.0, work="colours")])
    check_new(ours, row(0, "tension-floor", 24.5, work="colours"))
    with pytest.raises(Refused):
        check_new(ours, row(0, "tension-floor", 24.5, frame="wood"))
    fine = Spec([row(1, "tension-watch", 20.0), row(2, "tension-watch", 15.0, count_over_per_in=240)])
    with pytest.raises(Refused):
        check_new(fine, row(0, "tension-floor", 18.0))  # over 240/in it would be above the caution
    check_new(fine, row(0, "tension-floor", 18.0, count_to_per_in=240))


def test_nought_is_a_limit() -> None:
    assert Spec([row(1, "x", 0.0)]).value("x") == 0.0


CONDITION_VALUES = {
    "work": st.sampled_from(["one-colour", "colours", "halftone"]),
    "frame": st.sampled_from(["wood", "roller"]),
    "emulsion": st.sampled_from(["diazo", "dual-cure"]),
    "count_over_per_in": st.sampled_from([100, 150, 200]),
    "count_to_per_in": st.sampled_from([150, 200, 300]),
}


@st.composite
def any_rows(draw: st.DrawFn) -> list[Row]:
    made = []
    for number in range(draw(st.integers(0, 12))):
        names = draw(st.sets(st.sampled_from(sorted(CONDITION_VALUES))))
        conditions = {name: draw(CONDITION_VALUES[name]) for name in names}
        made.append(row(number + 1, "x", draw(st.one_of(st.none(), st.integers(1, 50).map(float))), **conditions))
    return made


@given(any_rows(), st.fixed_dictionaries({}, optional={
    "work": CONDITION_VALUES["work"], "frame": CONDITION_VALUES["frame"], "emulsion": CONDITION_VALUES["emulsion"],
    "count_per_in": st.sampled_from([90, 110, 160, 230, 305])}))  # fmt: skip
def test_rows_taken_in_one_by_one_leave_one_answer(rows: list[Row], facts: dict[str, object]) -> None:
    """However rows are added, those that `check_new` lets in never leave two that win a case together."""
    taken: list[Row] = []
    for one in rows:
        try:
            check_new(Spec(taken), one)
        except Refused:
            continue
        taken.append(one)
    fitting = [one for one in Spec(taken).rows if one.fits(facts)]
    best = max((one.weight for one in fitting), default=0)
    assert len([one for one in fitting if one.weight == best]) <= 1
    found = Spec(taken).find("x", **facts)
    assert (found is None) == (not fitting)
