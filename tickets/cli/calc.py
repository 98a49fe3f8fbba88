"""`tickets calc NAME ...`: the calculator on the command line, made from the catalogue of calculations."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tickets.calculator.catalogue import (
    CATALOGUE,
    FORMER_NAMES,
    Answer,
    Calculation,
    Faulty,
    Input,
    LimitInForce,
    Limits,
    Shipped,
    compute,
)
from tickets.calculator.units import show_value
from tickets.cli import root
from tickets.cli.given import Call
from tickets.cli.options import option
from tickets.cli.refused import Stopped
from tickets.cli.reply import Reply, command
from tickets.cli.spoken import Nouns, Spoken
from tickets.domain.limits import called
from tickets.i18n import N_
from tickets.i18n import gettext as _

if TYPE_CHECKING:
    from tickets.calculator.catalogue import Value
    from tickets.domain.spec import Spec

LARGEST_FILE = 2_000_000


class _Calculation(Spoken):
    """A calculation whose usage errors are one line too."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        try:
            return super().parse_args(ctx, args)
        except click.UsageError as fault:
            if isinstance(fault, click.exceptions.NoArgsIsHelpError):
                raise
            raise Stopped([fault.format_message()]) from None


class ShopLimits:
    """The limits of the shop in a folder, read when the first is asked for: most calculations ask for none."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    @cached_property
    def _read(self) -> tuple[str, Spec] | None:
        """The shop's name and its spec; None where the folder holds no shop."""
        import sqlite3

        from tickets import store
        from tickets.domain.spec import Spec
        from tickets.store import settings
        from tickets.store import spec as rows

        if not store.exists(self._folder):
            return None
        try:
            db = store.connect(self._folder)
            try:
                return str(settings.setting(db, "shop")), Spec(rows.rows(db))
            finally:
                db.close()
        except sqlite3.DatabaseError as fault:
            raise Stopped(
                [_("The limits of the shop in {folder} cannot be read: {why}.").format(folder=self._folder, why=fault)]
            ) from None

    @property
    def whose(self) -> str:
        """The shop's name, or that the shipped spec judged for want of one."""
        if self._read is None:
            return Shipped.whose
        return _("the limits of {shop}").format(shop=self._read[0] or self._folder)

    def find(self, key: str, **conditions: Any) -> LimitInForce | None:
        """The shop's row that is most particular about these conditions."""
        if self._read is None:
            return Shipped().find(key, **conditions)
        spec = self._read[1]
        found = spec.find(key, **conditions)
        if found is None:
            return None
        row = next(row for row in spec.rows if row.id == found.row)
        return LimitInForce(key, found.value, row.unit, row.source, row.id)


def limits_for(folder: Path | None) -> Limits:
    """Whose limits judge: those of the shop in a folder, or the shipped ones where there is no shop."""
    return ShopLimits(folder) if folder else Shipped()


def text_of(asked: Input, given: str | None) -> str | None:
    """The input's text: that of the file, for a table."""
    from tickets.domain import outside

    if given is None or asked.kind != "table":
        return given
    try:
        return outside.content(Path(given), LARGEST_FILE).decode("utf-8-sig") or " "
    except outside.TooLong:
        raise _of(asked, _("{path} is larger than a table of readings can be.").format(path=given)) from None
    except UnicodeDecodeError:
        raise _of(asked, _("{path} is not a text file.").format(path=given)) from None
    except (OSError, ValueError) as fault:
        why = fault.strerror if isinstance(fault, OSError) and fault.strerror else str(fault)
        raise _of(asked, _("{path} cannot be read: {why}.").format(path=given, why=why)) from None


def _of(asked: Input, said: str) -> Stopped:
    """A fault of one input, named by its option."""
    return Stopped([f"{asked.option}: {said}"], [(asked.option, said)])


def work_out(calculation: Calculation, given: dict[str, str | None], limits: Limits) -> Answer:
    """The answer, or Stopped with every fault on a line of its own."""
    texts = {asked.name: text_of(asked, given.get(asked.name)) for asked in calculation.inputs}
    for asked in calculation.inputs:
        if asked.kind == "table" and texts[asked.name] is not None and not (texts[asked.name] or "").strip():
            raise _of(asked, _("the file is empty."))
    try:
        return compute(calculation.name, texts, limits)
    except Faulty as faulty:
        options = {asked.name: asked.option for asked in calculation.inputs}
        told = [(options.get(name, ""), message) for name, message in faulty.faults]
        raise Stopped([f"{option}: {said}" if option else said for option, said in told], told) from None


def readable(answer: Answer, system: str = "") -> str:
    """The answer for people: inputs as understood, results, verdict with advice, formula and source. `system`: the one
    that was asked for; empty: results are said in the units that were typed."""
    from tickets.calculator.verdict import say

    calculation = answer.calculation
    lines = [_(calculation.title), ""]
    inputs = [(_(calculation.input(name).label), value) for name, value in answer.inputs.items()]
    results = [(_(calculation.labels[name]), value, name) for name, value in answer.results.items()]
    width = max(len(label) for label in [*(one[0] for one in inputs), *(one[0] for one in results)])
    leaning = system or answer.leaning("metric")
    for label, value in inputs:
        if isinstance(value.value, list) and value.value and isinstance(value.value[0], list):
            count = len(value.value)
            lines.append(f"  {label:{width}}  " + _("{count} lines").format(count=count))
        else:
            # as understood, so in the unit that was typed
            lines.append(f"  {label:{width}}  {_typed(value)}")
    lines.append("")
    for label, value, name in results:
        if isinstance(value.value, list) and value.value and isinstance(value.value[0], dict):
            lines += [f"  {label}", *_rows(value.value)]
        else:
            lines.append(f"  {label:{width}}  {value.text(system) if system else answer.said(name, leaning)}")
    if answer.verdict is not None:
        lines.append("")
        for reason in answer.verdict.reasons:
            said = say(reason, leaning)
            lines.append(f"{said.word}: {said.sentence} {said.advice}".rstrip())
    lines += ["", _("Formula: {formula}").format(formula=_(calculation.formula))]
    lines.append(_("Source: {source}").format(source=_(calculation.source)))
    if answer.whose:
        by = _("Judged by: {whose}") if answer.verdict is not None else _("Worked out with: {whose}")
        lines.append(by.format(whose=_(answer.whose)))
        for limit in answer.limits:
            shown = show_value(limit.value, limit.unit, leaning)
            lines.append(f"  {called(limit.key)}: {shown} ({_(limit.source)})")
    lines += [f"- {_(note)}" for note in calculation.notes]
    return "\n".join(lines)


def _typed(value: Value) -> str:
    from tickets.calculator.units import NBSP, unit_text

    if isinstance(value.value, list):
        numbers = " ".join(f"{one:.10g}" for one in value.value)
        return f"{numbers}{NBSP}{unit_text(value.unit)}".rstrip()
    if isinstance(value.value, (int, float)):
        close = value.unit in ("/in", "/cm", "lines/in", "lines/cm", "deg")
        text = f"{value.value:.10g}" if isinstance(value.value, float) else str(value.value)
        return f"{text}{'' if close or not value.unit else NBSP}{unit_text(value.unit)}"
    return str(value.value)


def _rows(rows: Sequence[dict[str, Any]]) -> list[str]:
    def cell(head: str, value: Any) -> str:
        if value is None:
            return "–"
        return f"{value:.4f}" if head in ("survival", "standard_error") else f"{value:g}"

    heads = list(rows[0])
    cells = [heads, *([cell(head, row[head]) for head in heads] for row in rows)]
    widths = [max(len(line[i]) for line in cells) for i in range(len(heads))]
    return ["    " + "  ".join(f"{cell:>{width}}" for cell, width in zip(line, widths, strict=True)) for line in cells]


class _Group(Nouns):
    """The calculations; an unknown name is one line naming those there are."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        args = [FORMER_NAMES.get(one, one) for one in args[:1]] + args[1:]
        if args and not args[0].startswith("-") and args[0] not in self.commands:
            said = _("There is no calculation “{name}”. There are: {names}.")
            raise Stopped([said.format(name=args[0][:40], names=", ".join(self.commands))])
        return super().resolve_command(ctx, args)


group = _Group("calc", help=N_("The trade's arithmetic: mesh, exposure, tension, dryer, ink, colour, mesh life."))
root.add_command(group)

_US = option("--us", is_flag=True, help=N_("Show the results in US units."))
_WHOSE = option(
    "--data", "folder", metavar="DIR", envvar="TICKETS_DATA", type=click.Path(path_type=Path),
    help=N_("The shop whose limits judge (a folder)."),
)  # fmt: skip


def _asked(one: Input) -> Any:
    """The option of an input."""
    return option(one.option, one.name, type=str, says=lambda: _help_of(one))


def _help_of(one: Input) -> str:
    """What an input is, with an example, what there is to choose, and what counts where it is left away."""
    said = _("{label}, such as {example}").format(label=_(one.label), example=one.example)
    if one.choices:
        said += f" ({', '.join(one.choices)})"
    if one.default:
        return said + " " + _("[default: {value}]").format(value=one.default)
    return said if one.required else said + " " + _("[optional]")


def _command(calculation: Calculation) -> None:
    about = f"{calculation.title}\n\n{calculation.formula}"
    inputs = [_asked(one) for one in calculation.inputs]

    @command(group, calculation.name, about, *inputs, _US, data=_WHOSE, cls=_Calculation)
    def calculated(call: Call, us: bool, **given: str | None) -> Reply:
        answer = work_out(calculation, given, limits_for(call.folder))
        return Reply(answer.to_dict(), [readable(answer, "us" if us else "")])


for _calculation in CATALOGUE.values():
    _command(_calculation)
