"""Measures: `tickets calc mesh` as a whole process, and the verdict of a tension entry in process.

Run by name: python tests/benchmarks/calculator.py. Aims: at most 1.3 times `python -c "import flask, pint"` in the same
run; at least 2,000 verdicts a second on one core.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parents[2]
ROUNDS = 9
MESH = ["calc", "mesh", "--count", "225/in", "--thread", "40 um", "--thickness", "59 um", "--json"]
COMMAND = [sys.executable, "-c", "import sys; from tickets.cli import main; sys.exit(main())", *MESH]
REFERENCE = [sys.executable, "-c", "import flask, pint"]


def seconds(command: Sequence[str]) -> float:
    """How long one run of `command` takes; a run that fails stops the benchmark."""
    start = time.perf_counter()
    subprocess.run(command, check=True, cwd=ROOT, stdout=subprocess.DEVNULL)
    return time.perf_counter() - start


def verdicts_a_second(times: int = 5000) -> float:
    """How often a tension entry can be judged and kept as the log keeps it."""
    sys.path.insert(0, str(ROOT))  # so that it runs from a checkout that is not installed
    from tickets.calculator.catalogue import Shipped, tension_limits
    from tickets.calculator.tension import judge as judge_tension
    from tickets.calculator.verdict import judge

    shipped = Shipped()
    readings = [25, 24.5, 24, 25.5, 24]
    start = time.perf_counter()
    for _round in range(times):
        limits = tension_limits(shipped, "colours", "aluminium", 230)
        judge(judge_tension(readings, None, limits, work="colours")).to_dict()
    return times / (time.perf_counter() - start)


def main() -> None:
    """Prints both measures."""
    seconds(REFERENCE), seconds(COMMAND)  # the first run fills the caches
    pairs = [(seconds(REFERENCE), seconds(COMMAND)) for _round in range(ROUNDS)]
    reference, ours = (median(one[place] for one in pairs) for place in (0, 1))
    print(f"import flask, pint: {reference * 1000:.0f} ms; tickets calc mesh: {ours * 1000:.0f} ms")
    print(f"ratio of medians: {ours / reference:.2f} (aim: at most 1.3)")
    print(f"tension verdicts a second: {verdicts_a_second():.0f} (aim: at least 2000)")


if __name__ == "__main__":
    main()
