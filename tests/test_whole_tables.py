"""The tables of the program as they stand: limits with their sources, steps with their fields, what each step leads to,
settings, cautions,
calculations with worked examples. A figure or a row that slips is seen here; their sources are named
beside them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from whole import flat, same_as_read

from tickets.calculator import catalogue, defaults, kinds
from tickets.domain import cautions, limits, setting, stages, steps, usual
from tickets.domain.desk import shop_settings
from tickets.domain.runs import first_seen, lab, setup
from tickets.domain.spec import shipped, span_of


def in_one(value: Any) -> str:
    return ", ".join(one.replace(": ", " ", 1) for one in flat(value)) or "–"


def shipped_limits() -> Iterator[str]:
    for row in shipped():
        yield f"{row.id} {row.key} {row.value} {row.unit} {in_one(row.conditions)}: {row.source}"
    for key in sorted({row.key for row in shipped()}):
        units = {row.unit for row in shipped() if row.key == key}
        yield f"{key} can be {' '.join(str(span_of(key, unit)) for unit in sorted(units))}"
    for name, span in defaults.SPANS.items():
        yield f"{name}: {in_one(span)}"


def test_the_limits_that_the_program_comes_with() -> None:
    same_as_read("tables_limits", shipped_limits())


def acts() -> Iterator[str]:
    for name, some in (("screen", steps.SCREEN_STEPS), ("run", steps.RUN_STEPS), ("bucket", steps.BUCKET_STEPS)):
        for key, step in some.items():
            yield f"== {name} {key}"
            for line in flat(step):
                path, _, text = line.partition(": ")
                if not path.startswith("fields"):
                    yield f"{path}: {text}"
            for field in step.fields:
                yield f"  {in_one(field)}"
    for name in ("GOOD_FAULT", "THEN", "CONDITIONS", "WASHOUT_FAULTS", "FAULTS", "CAUSES", "FRAMES", "STOP_CAUSES",
    "BUCKET_KINDS", "YES_NO",
                 "UNNOTED", "COMMON"):  # fmt: skip
        yield f"{name}: {in_one(getattr(steps, name))}"
    yield f"swapped for: {in_one(steps.SWAPPED)}"


def test_the_steps_and_what_they_ask() -> None:
    same_as_read("tables_steps", acts())


def moves() -> Iterator[str]:
    for step, (at, then) in stages.MOVES.items():
        yield f"{step}: {', '.join(sorted(at))} -> {then}"
    for standing, (step, then) in stages.CHAIN.items():
        yield f"{standing}, by {step} -> {then}"
    for standing, offered in stages.OFFERED.items():
        yield f"{standing} ({stages.STANDING_WORDS[standing]}) offers {', '.join(offered)}"
    part_1 = ", ".join(stages.LOGGED_BY_DEFAULT)
    part_2 = ", ".join(sorted(stages.ALWAYS_LOGGED))
    part_3 = ", ".join(sorted(stages.FORGIVEN))
    yield f"logged {part_1}; always {part_2}; forgiven {part_3}"
    for logged in (stages.LOGGED_BY_DEFAULT, ("image", "check", "hang"), ("coat", "image", "washout", "hang")):
        for step in stages.MOVES:
            told = {str(at): stages.follow(at, step, logged) for at in stages.Standing}
            part_1 = "; ".join(f"{at} {one.fits} {chr(44).join(one.missing)}" for at, one in told.items() if one.fits)
            yield f"{step} in a shop of {len(logged)}: {part_1}"


def test_what_follows_what() -> None:
    same_as_read("tables_moves", moves())


def setup_fields() -> dict[str, tuple[setup.SheetField, ...]]:
    """The fields of the set-up sheet by the table that they stand in."""
    some = {name: one for name, one in vars(setup).items() if name.isupper() and isinstance(one, tuple)}
    whole = {name: one for name, one in some.items() if one and isinstance(one[0], setup.SheetField)}
    return {**setup.STATION, **whole}


def settings() -> Iterator[str]:
    for name, one in setting.SETTINGS.items():
        yield f"{name}: {in_one(one)}"
    yield f"felt: {in_one(setting.FELT)}; measured: {', '.join(sorted(setting.MEASURED))}"
    for name, row in usual.USUAL.items():
        yield f"usual {name}: {in_one(row)}"
    for name, kind in limits.LIMITS.items():
        yield f"limit {name}: {in_one(kind)}"
    for name, condition in limits.CONDITIONS.items():
        yield f"condition {name}: {in_one(condition)}"
    for name, said in shop_settings.SETTINGS.items():
        yield f"shop {name}: {said.words}; {said.default}; {said.hint}; {said.choices}; {said.machine}"
    for name in cautions.CAUTIONS:
        yield f"caution {name}: {in_one(cautions.CAUTIONS[name])}"
    for group in first_seen.GROUPS:
        part_1 = ", ".join(sorted(group.settings))
        part_2 = ", ".join(sorted(group.keys))
        yield f"seen {group.name} ({group.word}): {part_1}; {part_2}"
    for name, fields in setup_fields().items():
        for field in fields:
            yield f"{name}: {in_one(field)}; {field.word}; {field.target_word}; {field.measured}"
    yield f"read with: {in_one(lab.PARTS)}"
    yield f"work: {in_one(kinds.WORK)}; frames: {in_one(kinds.FRAMES)}"


def test_the_settings_and_what_limits_are_called() -> None:
    same_as_read("tables_settings", settings())


FILES = {
    ("uses", "n_per_cm"): ("uses,n_per_cm\n0,26\n5,24\n20,23.1\n60,22\n",
    "uses;n_per_cm;note\n0;26,5;a\n\n5;24,0;b\n9;23,0;c\n", "uses,n_per_cm\n0,26,1\n"),
    ("s", "c"): ("s,c\n0,25\n20,95\n40,130\n60,150\n80,162\n100,168\n",
    "s\tf\n0\t77\n20\t203\n40\t266\n60\t302\n80\t324\n", "s,c,f\n0,25,77\n",
                 "s,c\n0,25\n0,95\n", "s,c\n0,25\n10,x\n", "s,c\n"),
    ("uses", "ended"): ("uses,ended\n10,1\n20,1\n30,1\n40,1\n50,1\n60,0\n", "uses,ended,entered\n10,1,0\n20,2,5\n",
    "\ufeffuses,ended\n30,1\n"),
}  # fmt: skip
"""Files by the columns that a calculation asks: right ones, with other marks, and wrong ones."""


def example(asked: catalogue.Input, system: str = "metric") -> str:
    return FILES[asked.columns][0] if asked.kind == "table" else asked.such_as(system)


def calculations() -> Iterator[str]:
    for name, one in catalogue.CATALOGUE.items():
        yield f"== {name}"
        for asked in one.inputs:
            yield f"  {in_one(asked)}; {asked.option}; {asked.such_as('us')}"
        yield f"  {in_one(one.labels)}"
        for system in ("metric", "us"):
            texts = {asked.name: example(asked, system) for asked in one.inputs}
            yield from (f"  {line}" for line in worked(name, texts, system))
            needed = {asked.name: example(asked, system) for asked in one.inputs if asked.required}
            if needed != texts:
                yield from (f"  needed {line}" for line in worked(name, needed, system))
        for asked in one.inputs:
            texts = {other.name: example(other) for other in one.inputs}
            for text in ("", "0", "1e9 x", *asked.choices, *FILES.get(asked.columns, ())):
                told = " | ".join(worked(name, {**texts, asked.name: text}, "metric", short=True))
                yield f"  {asked.name}=“{text[:40]!r}”: {told}"


def worked(name: str, texts: dict[str, str], system: str, short: bool = False) -> list[str]:
    try:
        found = catalogue.compute(name, texts)
    except catalogue.Faulty as fault:
        return [f"! {fault}"]
    said = [f"{key} {found.said(key, system)}" for key in found.results]
    keys = ", ".join(found.verdict.keys) if found.verdict else "–"
    if short:
        return ["; ".join([*said, keys])]
    data = found.to_dict()
    return [
        "; ".join(said), f"{in_one(data['inputs'])} -> {in_one(data['results'])}", f"{in_one(data['verdict'])}",
        f"{in_one([one['key'] for one in data['basis']['limits']])}; {found.leaning('metric')}",
    ]  # fmt: skip


def test_the_calculations_with_their_examples() -> None:
    same_as_read("tables_calculations", calculations())
