"""Figures, bounds and names are written down twice: where the program has them, and in `second_entry.txt`, as a ledger
is kept. A slip of the pen shows; a change that is meant is made in both, with its source where the program has it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from tickets.calculator import catalogue, mesh, units
from tickets.domain import setting, steps
from tickets.domain.limits import LIMITS
from tickets.domain.spec import shipped

KEPT = (Path(__file__).parent / "second_entry.txt").read_text(encoding="utf-8").splitlines()


def limits() -> Iterator[str]:
    for row in shipped():
        when = " ".join(f"{name}={value}" for name, value in sorted(row.conditions.items()))
        yield f"limit {row.key} [{when}] = {row.value:g} {row.unit}".rstrip()


def limit_kinds() -> Iterator[str]:
    for key, one in LIMITS.items():
        within = f"{one.within[0]:g} to {one.within[1]:g}" if one.within else "as its unit"
        disputed = " disputed" if one.disputed else ""
        yield f"of limit {key}: by {' '.join(one.asked)}; within {within}; without a row [{one.unit}]{disputed}"


def settings() -> Iterator[str]:
    for name, one in setting.SETTINGS.items():
        marks = [word for word in ("share", "free", "measured") if getattr(one, word)]
        yield (
            f"setting {name}: {one.kind}, {one.low:g} to {one.high:g} {one.unit}, same by {one.same},"
            f" bare [{one.bare}], else [{one.mark}] {' '.join(marks)}"
        ).rstrip()


def fields() -> Iterator[str]:
    for step in (*steps.SCREEN_STEPS.values(), *steps.RUN_STEPS.values(), *steps.BUCKET_STEPS.values()):
        yield f"step {step.name}: {' '.join(one.name for one in step.fields)} | taps [{step.taps}]"
        for one in (*step.fields, *step.also):
            marks = [word for word in ("required", "folded") if getattr(one, word)]
            choices = "/".join(key for key, _word in one.choices)
            span = f"{one.low:g} to {one.high:g}, at most {one.most}"
            yield f"field {step.name}.{one.name}: {one.kind}, {span}, [{choices}] {' '.join(marks)}".rstrip()


def kinds() -> Iterator[str]:
    for name, kind in units.KINDS.items():
        signed = " signed" if kind.signed else ""
        yield f"kind {name}: {' '.join(kind.units)}, {kind.least:g} to {kind.most:g}{signed}"


def inputs() -> Iterator[str]:
    for name, each in catalogue.CATALOGUE.items():
        for one in each.inputs:
            choices = "/".join(one.choices)
            yield f"input {name}.{one.name}: {one.kind}, else [{one.default or ''}], [{choices}]"
        yield f"results {name}: {' '.join(each.labels)}"


def advice() -> Iterator[str]:
    for one in mesh.ADVICE:
        inks = "/".join(one.inks)
        yield f"mesh {one.use}: {one.least_per_in:g} to {one.most_per_in:g}/in, [{inks}], halftone {one.halftone}"


def lines() -> list[str]:
    """Everything that is written twice, as it is in the second place."""
    return [line for part in (limits, limit_kinds, settings, fields, kinds, inputs, advice) for line in part()]


def test_what_is_written_down_a_second_time_is_the_same() -> None:
    """What is new in the program may lack its second line for a while; no line may lack what it says."""
    now = set(lines())
    assert [line for line in KEPT if line and line not in now] == []
    assert len(KEPT) > 400
