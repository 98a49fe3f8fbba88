"""The forms in which commands say things: JSON, columns, verdicts, times, logs."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click

from tickets.i18n import gettext as _

if TYPE_CHECKING:
    from sqlite_utils import Database

    from tickets.calculator.verdict import Verdict

UNITS = "tickets.units"
"""Where the command keeps the units of its shop (`given.opened`): what is refused is said in them too."""


def print_json(value: Any) -> None:
    """One JSON value on standard output; a terminal that cannot show every letter gets JSON's own escapes."""
    letters = "utf" in (getattr(sys.stdout, "encoding", None) or "utf").lower()
    click.echo(json.dumps(value, ensure_ascii=not letters, allow_nan=False, default=str))


def table(rows: Sequence[Sequence[Any]], empty: str = "") -> list[str]:
    """Columns side by side, a line a row; one line saying so when there is nothing."""
    if not rows:
        return [empty]
    cells = [["–" if cell in (None, "") else str(cell) for cell in row] for row in rows]
    widths = [max(len(row[column]) for row in cells) for column in range(len(cells[0]))]
    return ["  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)).rstrip() for row in cells]


def joined(parts: Iterable[Any], between: str = "  ") -> str:
    """The parts that say something."""
    return between.join(str(part) for part in parts if part)


def units() -> str:
    """The units of the shop that the command opened: metric or us."""
    context = click.get_current_context(silent=True)
    return str(context.meta.get(UNITS, "metric")) if context else "metric"


def verdict_lines(verdict: Verdict) -> list[str]:
    """The word first, the reason second, with its numbers, what to do last; the worst reason first."""
    from tickets.calculator.verdict import WORDS, say

    lines = [say(reason, units()).text.replace("\N{NO-BREAK SPACE}", " ") for reason in verdict.reasons]
    return lines or [f"{_(WORDS[verdict.level])}."]


def local_time(db: Database, text: str | None) -> str:
    """A time in the shop's zone."""
    from tickets.queries.noted import when_said

    return when_said(db, text) if text else ""


def shown_code(code: str) -> str:
    """A code as it is on its tag."""
    from tickets.domain.code import shown

    return shown(code)


def log_lines(db: Database, log: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """The entries of a thing, a line each."""
    for line in log:
        level = f"[{line['verdict']['level']}]" if line["verdict"] else ""
        crossed = _("(crossed out)") if line["crossed_out_by"] else ""
        code = shown_code(line["screen"]) if line.get("screen") else ""
        said = line["said"].replace("\N{NO-BREAK SPACE}", " ")
        yield "  " + joined((local_time(db, line["at"]), line["step"], code, level, said, line["person"], crossed))
