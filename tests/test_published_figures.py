"""Every printed figure of published/README.md, line by line, as the program works it out; and closed forms by hand."""

from __future__ import annotations

import json
import math
import re
import shlex
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from tickets import cli
from tickets.calculator import defaults, typed, units

FOLDER = Path(__file__).parent / "published"
_ROW = re.compile(r"\| (\d+) \| (.+?) \| (.+?) \| (.+?) \| (.+?) \|")
_GIVES = re.compile(
    r"(?:(?P<name>[a-z_]+) )?(?P<never>not met )?(?P<value>[\d.]+)(?: (?P<unit>[^ ±]+))?(?: ± (?P<by>[\d.]+))?"
)


@dataclass(frozen=True)
class Figure:
    """A line of the table."""

    number: int
    printed: str
    source: str
    by: str
    gives: str


def figures() -> list[Figure]:
    found = [_ROW.fullmatch(line) for line in (FOLDER / "README.md").read_text("utf-8").splitlines()]
    return [Figure(int(row[1]), row[2], row[3], row[4], row[5]) for row in found if row]


FIGURES = figures()


def calc(arguments: list[str]) -> dict[str, Any]:
    ran = CliRunner().invoke(cli.root, ["calc", *arguments, "--json"], catch_exceptions=False)
    assert ran.exit_code == 0, ran.output
    answer: dict[str, Any] = json.loads(ran.output)
    return answer


def worked_out(by: str, name: str) -> tuple[float, str]:
    """What the program gives for "computed by", and its unit."""
    word, _blank, rest = by.strip("`").partition(" ")
    if word == "said":
        text, _in, unit = rest.rpartition(" in ")
        kind = next(kind for kind in ("mesh count", "tension", "mass", "temperature", "length")
                    if typed.is_quantity(text, kind) and unit in units.KINDS[kind].units)  # fmt: skip
        found = typed.take(text, kind)
        return units.convert(found.value, found.unit, unit), unit
    if word == "limit":
        key, *case = rest.split()
        row = defaults.pick(key, **dict(one.split("=") for one in case))
        assert row is not None and not row.source.startswith("judgement"), by
        return row.value, row.unit
    answer = calc(shlex.split(rest))
    result = answer["results"][name]
    return result["value"], result["unit"]


@pytest.mark.parametrize("figure", [one for one in FIGURES if one.by.startswith("`") and "csv" not in one.by],
                         ids=lambda one: f"{one.number}")  # fmt: skip
def test_a_printed_figure_comes_out(figure: Figure) -> None:
    if figure.gives.startswith("verdict "):
        verdict = calc(shlex.split(figure.by.strip("`").removeprefix("calc ")))["verdict"]
        assert verdict["level"] == figure.gives.removeprefix("verdict "), (figure, verdict)
        return
    given = _GIVES.match(figure.gives)
    assert given is not None, figure
    value, unit = worked_out(figure.by, given["name"] or "")
    assert given["unit"] is None or given["unit"] == unit, figure
    within = abs(value - float(given["value"])) <= float(given["by"] or 0) + 1e-9
    assert within is not bool(given["never"]), (figure, value)


def test_there_are_sixty_distinct_figures_and_more_each_with_a_source() -> None:
    assert [one.number for one in FIGURES] == list(range(1, len(FIGURES) + 1))
    assert len({(one.by, one.gives) for one in FIGURES}) == len(FIGURES), "no figure twice"
    printed = [one for one in FIGURES if "by hand" not in one.source and "not met" not in one.gives]
    assert len(printed) >= 60 and all(one.source for one in FIGURES)


# Closed forms, by hand


def test_three_steps_by_hand() -> None:
    """60 s x 2^(3/2) = 60 x 2.828427 = 169.7056 s."""
    assert calc(["step", "--time", "60 s", "--held", "4", "--wanted", "7"])["results"]["time"][
        "value"
    ] == pytest.approx(169.7056, abs=5e-5)


def test_a_belt_by_hand() -> None:
    """2.4 m in 120 s is 1.2 m/min; 10 ft in 2 1/2 min is 4 ft/min = 1.2192 m/min."""
    assert calc(["belt", "--length", "2.4 m", "--dwell", "2:00"])["results"]["speed"]["value"] == pytest.approx(1.2)
    found = calc(["belt", "--length", "10 ft", "--dwell", "2 1/2 min"])["results"]["speed"]["value"]
    assert found == pytest.approx(1.2192, abs=1e-6)


def test_a_mesh_by_hand() -> None:
    """90/cm: a pitch of 10000/90 = 111.111 um; less 48 um of thread 63.111 um; (63.111/111.111)^2 = 32.262 %."""
    found = calc(["mesh", "--count", "90/cm", "--thread", "48 um"])["results"]
    assert found["opening"]["value"] == pytest.approx(63.1111, abs=5e-5)
    assert found["open_area"]["value"] == pytest.approx(100 * (63.11111 / 111.11111) ** 2, abs=1e-4)


def test_a_halftone_dot_by_hand() -> None:
    """230/in with 48 um: 25400/230 + 48 = 158.435 um; at 55 lines that is pi/4 x (158.435 x 55/25400)^2 = 9.244 %."""
    found = calc(["halftone", "--ruling", "55 lpi", "--count", "230/in", "--thread", "48 um"])["results"]
    assert found["smallest_dot"]["value"] == pytest.approx(158.4348, abs=5e-5)
    assert found["smallest_tone"]["value"] == pytest.approx(25 * math.pi * (158.4348 * 55 / 25400) ** 2, abs=1e-4)


def test_feet_and_inches_by_hand() -> None:
    """8 ft 6 in = 102 in = 2.5908 m; in 60 s that is 2.5908 m/min."""
    found = calc(["belt", "--length", "8' 6\"", "--dwell", "1 min"])["results"]
    assert (found["length"]["value"], found["speed"]["value"]) == (pytest.approx(2.5908), pytest.approx(2.5908))
