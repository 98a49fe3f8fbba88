"""What commands print: JSON, columns, verdicts, times and logs."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click

from tickets.words import gettext as _

if TYPE_CHECKING:
    from sqlite_utils import Database

    from tickets.calculator.verdict import Verdict
    from tickets.records.entry import Entry


def print_json(value: Any) -> None:
    click.echo(json.dumps(value, ensure_ascii=False, allow_nan=False, default=str))


def say_table(rows: Sequence[Sequence[Any]], empty: str) -> None:
    """Columns side by side; a line saying so when there is nothing."""
    if not rows:
        click.echo(empty)
        return
    cells = [["–" if cell in (None, "") else str(cell) for cell in row] for row in rows]
    widths = [max(len(row[column]) for row in cells) for column in range(len(cells[0]))]
    for row in cells:
        click.echo("  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)).rstrip())


def verdict_lines(verdict: Verdict, system: str = "metric") -> list[str]:
    """The word first, the reason second, with its numbers, what to do last; the worst reason first."""
    from tickets.calculator.verdict import WORDS, say

    lines = []
    for reason in verdict.reasons:
        said = say(reason, system)
        text = " ".join(part for part in (f"{said.word}:", said.sentence, said.advice) if part)
        lines.append(text.replace("\N{NO-BREAK SPACE}", " "))
    return lines or [f"{_(WORDS[verdict.level])}."]


def local_time(db: Database, text: str | None) -> str:
    """A time in the shop's zone."""
    from tickets.floor.posting import zone
    from tickets.records.entry import read_stamp

    return read_stamp(text).astimezone(zone(db)).strftime("%Y-%m-%d %H:%M") if text else ""


def units_of(db: Database) -> str:
    from tickets.store.settings import setting

    return str(setting(db, "units"))


def shown_code(code: str) -> str:
    from tickets.records.code import shown

    return shown(code)


def log_data(db: Database, thing: str, number: int) -> list[dict[str, Any]]:
    """The entries of a thing as data, newest first."""
    from tickets.floor import shop
    from tickets.store import codes, people, places

    names, place_names = people.names(db), places.names(db)

    def named(values: Mapping[str, Any]) -> dict[str, Any]:
        """Things as the export names them: a bucket by its code, a place by its name."""
        said = dict(values)
        if isinstance(said.get("bucket"), int):
            said["bucket"] = codes.current(db, "bucket", said["bucket"])
        for name in ("place", "press"):
            if isinstance(said.get(name), int):
                said[name] = place_names.get(said[name])
        return said

    def one(line: Entry, crossed: Entry | None) -> dict[str, Any]:
        return {
            "entry": line.entry,
            "step": line.step,
            **({"screen": codes.current(db, "screen", line.screen)} if line.screen and thing == "run" else {}),
            "at": line.at.isoformat(),
            "saved_at": line.saved_at.isoformat(),
            "person": names.get(line.person, str(line.person)),
            "signed": line.signed,
            "run": line.run,
            "values": named(line.values),
            "typed": dict(line.typed),
            "verdict": line.verdict,
            "override": line.override,
            "crossed_out_by": crossed.entry if crossed else None,
        }

    return [one(line, crossed) for line, crossed in shop.log_of(db, thing, number)]


def say_log(db: Database, log: Sequence[Mapping[str, Any]]) -> None:
    for line in log:
        told = line["values"] if line["step"] != "sheet" else {}  # the settings stand above, one print order a line
        values = ", ".join(f"{name} {json.dumps(value, ensure_ascii=False)}" for name, value in told.items())
        level = f"[{line['verdict']['level']}]" if line["verdict"] else ""
        crossed = _("(crossed out)") if line["crossed_out_by"] else ""
        past = line["override"] or {}
        why = _("overridden by {who}: {why}").format(**{"who": "–", **past}) if past.get("why") else ""
        code = shown_code(line["screen"]) if line.get("screen") else ""
        parts = (local_time(db, line["at"]), line["step"], code, level, values, line["person"], why, crossed)
        click.echo("  " + "  ".join(part for part in parts if part))
