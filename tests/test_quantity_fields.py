"""Every field that takes a quantity, found in the code itself: what is read, said back and read again is the same, and
no reader of one stands where nobody holds it to that."""

from __future__ import annotations

import ast
import math
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tickets.calculator import units
from tickets.calculator.catalogue import CATALOGUE
from tickets.calculator.units import KINDS, NotAQuantity
from tickets.domain import setting, step_reading
from tickets.domain.jobs.table import TableReader
from tickets.domain.refusal import Fault
from tickets.domain.steps import BUCKET_STEPS, RUN_STEPS, SCREEN_STEPS, Field
from tickets.queries.ink import WEIGH

ROOT = Path(__file__).parent.parent
QUANTITY = {"number", "numbers", "whole"}
"""The kinds of a step's field that are numbers; a mesh count and a size are below."""


def step_fields() -> dict[str, Field]:
    found = {}
    for table in (SCREEN_STEPS, RUN_STEPS, BUCKET_STEPS, {"weigh": WEIGH}):
        for step in table.values():
            found |= {f"{step.name}.{one.name}": one for one in step.fields if one.kind in QUANTITY}
    return found


FIELDS = step_fields()


def written(value: float, mark: str, spelling: str) -> str:
    """A number as people write it, never with three digits behind its mark."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    whole, _point, rest = text.partition(".")
    text = f"{whole}.{rest[:2]}" if rest[:2].strip("0") else whole
    return f"{text.replace('.', mark)} {spelling}".strip()


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(sorted(FIELDS)), st.data(), st.sampled_from([".", ","]))
def test_every_field_of_every_step_says_back_what_it_reads(name: str, data: st.DataObject, mark: str) -> None:
    field = FIELDS[name]
    own = units.unit_of(field.name) or ("min" if field.name == "minutes" else "")
    spellings = [""] if not own else sorted(KINDS[units.kind_of(own)].spellings)
    spelling = data.draw(st.sampled_from(spellings)) if field.kind != "whole" else ""
    unit = KINDS[units.kind_of(own)].spellings[spelling] if spelling else own
    low, high = sorted(units.convert(end, own, unit) for end in (max(field.low, 0.01), min(field.high, 1e4)))
    value = data.draw(st.floats(low, high))
    text = written(float(math.floor(value)) if field.kind == "whole" else value, mark, spelling)
    try:
        read, said = step_reading._read_field(field, [text], None)
    except NotAQuantity as fault:
        readings = fault.readings
        assert readings or "would do" in str(fault) or "cannot be right" in str(fault), (text, str(fault))
        return
    again, said_again = step_reading._read_field(field, [str(said) if said is not None else text], None)
    assert again == pytest.approx(read, rel=1e-9, abs=1e-12), (text, said)
    assert said_again in (None, said), (text, said, said_again)


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(sorted(setting.SETTINGS)), st.data(), st.sampled_from([".", ","]))
def test_every_setting_says_back_what_it_reads(name: str, data: st.DataObject, mark: str) -> None:
    known = setting.SETTINGS[name]
    spelling = data.draw(st.sampled_from(sorted(KINDS[known.kind].spellings)))
    unit = KINDS[known.kind].spellings[spelling]
    low, high = sorted(units.convert(end, known.unit, unit) for end in (known.low, known.high))
    text = written(data.draw(st.floats(low, high)), mark, spelling)
    try:
        value, said = setting.read(name, text)
    except NotAQuantity as fault:
        assert fault.readings or "cannot be right" in str(fault), (text, str(fault))
        return
    assert setting.read(name, said) == (value, said)
    assert setting.number(name, said) == pytest.approx(value, rel=1e-9)
    table = TableReader({name: text}, "", [])
    assert table.measured(name) == pytest.approx(value, rel=1e-6) and not table.faults
    faults: list[Fault] = []
    kept = TableReader({name: table.typed[name][0]}, "", faults)
    assert kept.measured(name) == pytest.approx(value, rel=1e-6) and not faults


def job_quantities() -> Iterator[tuple[str, str, float, float, str]]:
    """What the reader of jobs takes as a quantity: key, kind, span, unit (empty: the kind's own)."""
    tree = ast.parse((ROOT / "tickets/domain/jobs/job_reading.py").read_text("utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "quantity":
            key, kind, low, high = (ast.literal_eval(one) for one in node.args)
            unit = next((ast.literal_eval(one.value) for one in node.keywords if one.arg == "unit"), "")
            yield key, kind, low, high, unit


JOB = list(job_quantities())


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(JOB), st.data(), st.sampled_from([".", ","]))
def test_every_quantity_of_a_job_says_back_what_it_reads(
    asked: tuple[str, str, float, float, str], data: st.DataObject, mark: str
) -> None:
    key, kind, low, high, unit = asked
    spelling = data.draw(st.sampled_from(sorted(KINDS[kind].spellings)))
    own, typed = unit or KINDS[kind].units[0], KINDS[kind].spellings[spelling]
    ends = sorted(units.convert(end, _own(kind, own), typed) for end in (low, high))
    text = written(data.draw(st.floats(*ends)), mark, spelling)
    table = TableReader({key: text}, "", faults := [])
    value = table.quantity(key, kind, low, high, unit=unit)
    if faults:
        assert faults[0].readings or "cannot be right" in faults[0].message, (text, faults)
        return
    again = TableReader({key: table.typed[key][0]}, "", later := [])
    assert again.quantity(key, kind, low, high, unit=unit) == pytest.approx(value, rel=1e-9) and not later
    kept = TableReader({key: table.typed[key][0]}, "", later, stored=True)
    assert kept.quantity(key, kind, low, high, unit=unit) == pytest.approx(value, rel=1e-9) and not later


def _own(kind: str, own: str) -> str:
    """The unit that the reader of jobs keeps such a quantity in."""
    from tickets.domain.jobs.table import _UNIT_OF

    return _UNIT_OF.get(kind, own) if own == KINDS[kind].units[0] else own


PLAIN = {"number", "whole", "choice", "unit", "lab", "readings", "table"}
"""Inputs of a calculator that are no quantity of one kind: readings are those of tension, a table is a file's."""


def test_every_input_of_a_calculator_is_of_a_kind_that_is_held() -> None:
    inputs = [one for calculation in CATALOGUE.values() for one in calculation.inputs]
    assert len(inputs) > 40 and {one.kind for one in inputs} <= set(KINDS) | PLAIN
    assert {"length", "time", "tension", "film"} & {one.kind for one in inputs}


READERS = {
    "tickets/calculator/several.py", "tickets/calculator/catalogue.py",
    "tickets/domain/step_reading.py:_read_field", "tickets/domain/step_reading.py:_readings",
    "tickets/domain/step_reading.py:_mesh_count",
    "tickets/domain/step_reading.py:_no_opening",  # the unit alone, for a message
    "tickets/domain/jobs/table.py:quantity", "tickets/domain/jobs/table.py:plain_number",
    "tickets/domain/setting.py:read", "tickets/domain/setting.py:number", "tickets/domain/jobs/job_reading.py:_amount",
    "tickets/domain/desk/shop_settings.py:read_shift_hours",  # hours of a shift, held by test_shop_settings
    # what was read and is kept, for showing and comparing
    "tickets/domain/runs/as_run.py:_shares", "tickets/domain/runs/as_run.py:_read",
    "tickets/domain/label.py:size_of_label", "tickets/paper/stock.py:_pair",  # held by test_labels
    "tickets/queries/ink.py:_shorter_cm", "tickets/queries/said.py:_reads_alike", "web/support.py:digit_rows",
    "web/screens.py:_timer",  # the time that the form of an exposure shows, for its timer
    # limits and counts of the shop, held by the tests of their pages
    "web/spec.py:_read_value", "web/spec.py:_condition", "web/inventory.py:_number", "web/places.py:_heads",
    # lists that a shop brings in, held by test_bring_in
    "tickets/queries/list_frames.py:_uses", "tickets/queries/list_now.py:read",
}  # fmt: skip
"""Where quantities are read: each is held by a property test here or in test_typed, or by the tests of its page."""
READ = {
    "take", "take_field", "read_field", "read_value", "read", "in_a_row", "size_mm", "typed_unit", "whole", "number",
}  # fmt: skip


MODULES = ("units", "several", "typed", "typed_units")
MENTIONED = re.compile(rf"\b({'|'.join(MODULES)})\s*\.")


def readers() -> set[str]:
    found = set()
    for file in (*ROOT.glob("tickets/**/*.py"), *ROOT.glob("web/**/*.py")):
        path = str(file.relative_to(ROOT))
        text = file.read_text("utf-8")
        if not MENTIONED.search(text):
            continue  # most files: no need to take them apart
        for function in ast.walk(ast.parse(text)):
            if not isinstance(function, ast.FunctionDef):
                continue
            for node in ast.walk(function):
                if (
                    isinstance(node, ast.Call)
                    and isinstance(node.func, ast.Attribute)
                    and isinstance(node.func.value, ast.Name)
                    and node.func.value.id in MODULES
                    and node.func.attr in READ
                ):
                    found.add(path if path in READERS else f"{path}:{function.name}")
    return found


def test_no_field_is_read_where_nobody_holds_it_to_this() -> None:
    found = readers()
    assert found - READERS == set(), "a new reader of a quantity: hold it to a property, and name it"
    assert READERS - found == set(), "named and no longer there"
    assert len(FIELDS) > 25 and len(JOB) >= 8 and len(setting.SETTINGS) > 12
