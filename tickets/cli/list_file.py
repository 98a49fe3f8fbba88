"""`import` of screens, people and places: a list that a shop has, as CSV or XLSX."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tickets.cli import progress
from tickets.cli.given import Call
from tickets.cli.options import BY, ENTRY, option
from tickets.cli.output import shown_code
from tickets.cli.reply import Reply, command
from tickets.i18n import N_, ngettext
from tickets.i18n import gettext as _

if TYPE_CHECKING:
    from sqlite_utils import Database

    from tickets.domain.lists.columns import Chosen
    from tickets.queries.list_now import ComesTo
    from tickets.store.lists import KeptList

LINES_SHOWN = 20


def list_import(group: click.Group, kind: str, about: str) -> None:
    """The command `import` of a group, for lists of this kind."""

    @command(
        group,
        "import",
        about,
        click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False)),
        option(
            "--columns",
            multiple=True,
            metavar="HEADING=FIELD",
            help=N_("What a column is, and with :UNIT its unit: --columns 'Mesh=mesh_count_as_labelled:/in'."),
        ),
        option("--check", "--dry-run", "check", is_flag=True, help=N_("Say what would be made; write nothing.")),
        option("--leave-out", is_flag=True, help=N_("Bring in the lines that will do, leave out the others.")),
        option("--again", is_flag=True, help=N_("Bring the same list in once more.")),
        option("--make-places", is_flag=True, help=N_("Make places that are not there, as racks.")),
        option("--measured", default="", metavar="DAY", help=N_("The day of readings without one. [default: today]")),
        option("--refused", type=click.Path(path_type=Path, dir_okay=False), help=N_("A file for the lines left out.")),
        ENTRY,
        BY,
    )
    def bring(call: Call, **asked: Any) -> Reply:
        return _bring(call, kind, **asked)


def _bring(
    call: Call,
    kind: str,
    *,
    file: Path,
    columns: Sequence[str],
    check: bool,
    leave_out: bool,
    again: bool,
    make_places: bool,
    measured: str,
    refused: Path | None,
) -> Reply:
    from tickets.actions import lists as acts
    from tickets.domain.lists import cells
    from tickets.domain.outside import TooLong, content
    from tickets.domain.refusal import Refused

    try:
        raw = cells.read(content(file, cells.LARGEST))
    except TooLong:
        raise Refused(_("{file} is too large for a list.").format(file=file), "file") from None
    db = call.shop(make=True)
    number = acts.send(db, call.actor, kind, file.name, raw, now=call.now, entry=call.post)
    kept = acts.of(db, number)
    if kept.taken_at is not None:  # sent before, under this very id
        return _again(db, kept)
    try:
        return _looked_over(call, db, kept, columns, check, leave_out, again, make_places, measured, refused)
    finally:
        acts.drop(db, number)


def _looked_over(
    call: Call, db: Database, kept: KeptList, columns: Sequence[str], check: bool, leave_out: bool, again: bool,
    make_places: bool, measured: str, refused: Path | None,
) -> Reply:  # fmt: skip
    """What a list comes to; made, where nothing speaks against it and it is not only looked over."""
    from tickets.actions import lists as acts
    from tickets.domain.lists import cells
    from tickets.domain.refusal import Fault, Refused
    from tickets.queries import list_now

    number, kind = kept.id, kept.kind
    chosen = _chosen(kept, columns)
    acts.choose(db, call.actor, number, chosen, make_places=make_places, measured=measured)
    kept = acts.of(db, number)
    found = list_now.comes_to(db, kept, call.now)
    if refused is not None and found.faults:
        _write(refused, cells.csv_text(list_now.refused_rows(kept, found)))
    faults = [Fault(_where(group.lines), f"{group.where}: {group.message}".lstrip(": ")) for group in found.groups]
    faults += [Fault("columns", _("No column is the {word}: name it with --columns.").format(word=_(_word(kind, name))))
               for name in found.missing]  # fmt: skip
    stop = bool(found.missing) or (bool(faults) and not leave_out) or not found.items
    if not check and not stop:
        with progress.shown(_("Bringing in")) as told:
            acts.take_in(db, call.actor, number, now=call.now, again=again, told=told)
    data = _data(db, kept, found, check, None if check or stop else number)
    lines = list(_lines(kept, found, data))
    if faults and (stop or check):
        return Reply(data, lines, refused=Refused(faults))
    warnings = [str(fault) for fault in faults]
    return Reply({**data, "refused": [{"place": one.where, "said": one.message} for one in faults]}, lines, warnings)


def _where(lines: Sequence[int]) -> str:
    """The lines that have one kind of fault."""
    if len(lines) == 1:
        return _("line {number}").format(number=lines[0])
    numbers = ", ".join(map(str, lines[:LINES_SHOWN])) + (" …" if len(lines) > LINES_SHOWN else "")
    return ngettext("{n} line", "{n} lines", len(lines)).format(n=len(lines)) + f" ({numbers})"


def _again(db: Database, kept: KeptList) -> Reply:
    """What a list made that was brought in before."""
    from tickets.queries.list_now import counted
    from tickets.store import lists

    codes = lists.codes_of(db, kept.id)
    items = [{"line": line, "code": code} for line, code in zip(lists.made_by(db, kept.id), codes, strict=False)]
    said = _("Brought in: {many} (list {number}).")
    lines = [said.format(many=counted(kept.kind, kept.made), number=kept.id)]
    return Reply({"dry_run": False, "import": kept.id, "columns": [], kept.kind: items, "refused": []}, lines)


def _word(kind: str, name: str) -> str:
    from tickets.domain.lists.columns import field_of

    field = field_of(kind, name)
    return field.word if field else name


def _chosen(kept: KeptList, typed: Sequence[str]) -> list[Chosen]:
    """The columns of a list, with what was typed of some: HEADING=FIELD, HEADING=FIELD:UNIT, HEADING= (not used)."""
    from tickets.domain.lists.columns import KINDS, Chosen, field_of, folded
    from tickets.domain.refusal import Refused

    chosen = list(kept.columns)
    for text in typed:
        head, _equals, rest = text.rpartition("=")
        name, _colon, unit = rest.partition(":")
        found = [at for at, one in enumerate(kept.sheet.heads) if folded(one) == folded(head)]
        if not head or not found:
            there = ", ".join(f"“{one}”" for one in kept.sheet.heads if one)
            raise Refused(
                _("There is no column “{head}”; there are: {there}.").format(head=head, there=there), "--columns"
            )
        fields = [one.name for one in KINDS[kept.kind]]
        if name and field_of(kept.kind, name) is None:
            said = _("“{name}” is not a field; there are: {there}.")
            raise Refused(said.format(name=name, there=", ".join(fields)), "--columns")
        units = [own for own, _said in field.units] if (field := field_of(kept.kind, name)) else []
        if unit and unit not in units:
            said = _("“{unit}” is not a unit for {name}; there are: {there}.")
            raise Refused(said.format(unit=unit, name=name, there=", ".join(units) or "–"), "--columns")
        before = chosen[found[0]]
        chosen[found[0]] = Chosen(name, unit or (before.unit if before.field == name else ""))
    return chosen


def _write(file: Path, text: str) -> None:
    from tickets.domain.refusal import NotNow

    try:
        file.write_text(text, encoding="utf-8", newline="")
    except OSError as error:
        raise NotNow(_("{out} cannot be written: {error}.").format(out=file, error=error.strerror)) from None


def _data(db: Database, kept: KeptList, found: ComesTo, check: bool, number: int | None) -> dict[str, Any]:
    """What was found, and made, as plain data."""
    from tickets.queries.list_frames import ListedFrame
    from tickets.store import lists

    made = lists.made_by(db, kept.id) if number else {}
    codes = dict(zip(made, lists.codes_of(db, kept.id), strict=False)) if kept.kind != "people" else {}
    items = [
        {
            "line": one.number,
            "code": codes.get(one.number),
            **({"mark": one.mark, "mesh": one.mesh, "steps": one.notes} if isinstance(one, ListedFrame) else {}),
            "read": one.values,
        }
        for one in found.items
    ]
    columns = [
        {
            "heading": one.head,
            "field": one.chosen.field,
            "unit": one.chosen.unit,
            "cells": list(one.cells),
            "read": list(one.read),
        }
        for one in found.columns
    ]
    left = [
        {"line": line, "said": [{"place": fault.where, "said": fault.message} for fault in faults]}
        for line, faults in found.faults.items()
    ]
    return {"dry_run": check, "import": number, "columns": columns, kept.kind: items, "left_out": left}


def _lines(kept: KeptList, found: ComesTo, data: dict[str, Any]) -> Iterator[str]:
    """The same in lines: what each column was taken for, what would be made, what is wrong once for each kind."""
    from tickets.queries.list_now import counted

    many = counted(kept.kind, len(found.items))
    if data["import"] is None:
        for one in found.columns:
            word = _(_word(kept.kind, one.chosen.field)) if one.chosen.field else _("not used")
            read = " | ".join(text or "–" for text in one.read)
            yield _("{column}: {word}: {values}").format(column=one.head, word=word, values=read)
        counts = ", ".join(f"{what}: {n}" for what, n in found.by_mesh.items())
        said = _("{many} would be made; nothing was written. {counts}")
        yield said.format(many=many, counts=counts).rstrip()
    else:
        for item in data[kept.kind]:
            yield " ".join(
                part for part in (item["code"] and shown_code(item["code"]), *item["read"].values()) if part
            )[:100]
        yield _("Brought in: {many} (list {number}).").format(many=many, number=kept.id)
        if kept.kind != "people":
            yield _("Their tags: tickets print tags --import {number} --out tags.pdf").format(number=kept.id)
