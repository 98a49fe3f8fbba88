"""The papers of a run: the set-up sheet (target left, as run right) and the comparison of two prints."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from tickets.paper.flow import PAD, Cell, Flow, Line, Piece, TableRow, cell, columns_of, table
from tickets.paper.page import ASCENT, LEADING, PT, Pages, fit, plain, width, wrap
from tickets.paper.tags import paper_size
from tickets.records.run_sheet import ComparedGroup, ComparisonSheet, Setting, SetupSheet, SheetStation
from tickets.words import gettext as _

LABEL, VALUE = 7.5, 9.5
"""Sizes in points of a setting's label and of what was noted."""
WRITING = 6.6
"""Height in mm of a line that is written on."""


def setup_pdf(sheet: SetupSheet, paper: str = "A4", language: str = "en") -> bytes:
    """The set-up sheet as a PDF on `A4` or `Letter`; the same sheet, the same bytes. Refused: another paper."""
    return draw_setup(sheet, paper, language)[0]


def comparison_pdf(sheet: ComparisonSheet, paper: str = "A4", language: str = "en") -> bytes:
    """The comparison as a PDF on `A4` or `Letter`. Refused: another paper."""
    return draw_comparison(sheet, paper, language)[0]


def draw_setup(sheet: SetupSheet, paper: str, language: str = "en") -> tuple[bytes, Pages]:
    """`setup_pdf`, and the pages with all that was drawn."""

    def flow(total: int) -> Flow:
        return Flow(sheet.job, paper_size(paper), total, language, _("Set-up sheet"), sheet.press)

    return _drawn(flow, lambda on: _setup(on, sheet))


def draw_comparison(sheet: ComparisonSheet, paper: str, language: str = "en") -> tuple[bytes, Pages]:
    """`comparison_pdf`, and the pages with all that was drawn."""

    def flow(total: int) -> Flow:
        label, inside = _("Comparison of prints"), not sheet.for_customer
        return Flow(sheet.job, paper_size(paper), total, language, label, sheet.placement, inside)

    return _drawn(flow, lambda on: _comparison(on, sheet))


def _drawn(made: Callable[[int], Flow], draw: Callable[[Flow], None]) -> tuple[bytes, Pages]:
    """Drawn twice, since a page says how many there are."""
    counted = made(1)
    draw(counted)
    flow = made(len(counted.pages.sizes))
    draw(flow)
    return flow.pages.finish(), flow.pages


# -- the set-up sheet -----------------------------------------------------------------------------------------------


def _setup(flow: Flow, sheet: SetupSheet) -> None:
    room = flow.right - flow.left
    flow.y += 1
    run = _("run {n}").format(n=sheet.run) if sheet.run else ""
    name, size = fit(" · ".join(filter(None, (sheet.placement.name, run))), room * 0.6, 16, 9)
    where = _("target: {where}").format(where=plain(sheet.where_from)) if sheet.where_from else ""
    note, note_size = fit(where, room * 0.38, 9, 7)
    base = flow.y + ASCENT * 16 * PT
    flow.pages.text(flow.left, base, name, size, bold=True)
    flow.pages.text(flow.right, base, note, note_size, align="right")
    flow.y += 16 * PT * LEADING
    placement = sheet.placement
    facts = [
        placement.size,
        _("from {where}").format(where=placement.measured_from) if placement.measured_from else "",
        _("platen {platen}").format(platen=placement.platen) if placement.platen else "",
        _("dryer: {dryer}").format(dryer=placement.dryer) if placement.dryer else "",
    ]
    flow.words(" · ".join(filter(None, map(plain, facts))), 9.5)
    if sheet.remarks:
        flow.heading(_("What will differ from the approved print"), 8)
        for remark in sheet.remarks:
            flow.words("– " + plain(remark), 8.5)
    flow.y += 2
    columns = columns_of(room, (_("Order"), 10), (_("Prints"), 38), (_("Target"), 54), (_("As run"), 82))
    wide = [column.wide for column in columns]
    rows = [_station(station, wide) for station in sheet.stations]
    if rows:
        table(flow, columns, rows)
    flow.heading(_("The whole placement"), 3 * WRITING)
    for line in _writing([_aimed(setting) for setting in sheet.whole], room):
        flow.need(line.high)
        _put(flow, line)
    if sheet.changes:
        flow.heading(_("Changed during the run"), 8)
        for change in sheet.changes:
            flow.words("– " + plain(change), 8.5)
    flow.need(2 * WRITING + 4)
    blanks = [
        Setting(_("First print approved by"), "", sheet.approved),
        Setting(_("How"), "", sheet.how),
        Setting(_("Sample kept at"), "", sheet.sample),
    ]
    flow.y += 2
    for line in _writing(blanks, room, 2):
        flow.need(line.high)
        _put(flow, line)
    flow.y += 3
    for caution in sheet.job.cautions:
        flow.words(caution, 7.5)


def _aimed(setting: Setting) -> Setting:
    """Settings without a column for their target have it beside their label."""
    return replace(setting, label=f"{setting.label} ({setting.target})") if setting.target else setting


def _put(flow: Flow, line: Line) -> None:
    """A line outside a table."""
    base = flow.y + line.high - line.size * PT * LEADING + ASCENT * line.size * PT
    flow.pages.text(flow.left, base, line.text, line.size, line.bold)
    for x, text, size, bold in line.more:
        flow.pages.text(flow.left + x, base, text, size, bold)
    for begin, end in line.rules:
        flow.pages.line(flow.left + begin, base + 0.7, flow.left + end, base + 0.7, 0.15)
    flow.y += line.high


def _station(station: SheetStation, wide: Sequence[float]) -> TableRow:
    prints: list[Piece] = [(station.title or station.does, 12.0, True)]
    prints += [text for text in (station.mesh, station.screen) if text]
    cells = [
        cell(wide[0], (station.order, 17, True)),
        cell(wide[1], *prints),
        cell(wide[2], *station.target),
        _writing(station.settings, wide[3] - PAD, 2),
    ]
    return TableRow(cells)


def _writing(settings: Sequence[Setting], room: float, across: int = 3) -> Cell:
    """Settings side by side, each with its label and what was noted, or a line to write on. A long one, and a note,
    has a line of its own."""
    lines: Cell = []
    share = room / across
    waiting: list[Setting] = []

    def flush() -> None:
        if waiting:
            lines.append(_written(waiting, share))
            waiting.clear()

    for setting in settings:
        alone = setting.label == _("Note") or width(_value(setting), VALUE) > share - _labelled(setting) - 4
        if alone:
            flush()
            lines += _alone(setting, room)
            continue
        waiting.append(setting)
        if len(waiting) == across:
            flush()
    flush()
    return lines


def _labelled(setting: Setting) -> float:
    return width(plain(setting.label), LABEL) + 1.5


def _written(settings: Sequence[Setting], share: float) -> Line:
    more, rules = [], []
    for place, setting in enumerate(settings):
        x = place * share
        label, size = fit(setting.label, share * 0.62, LABEL, 5.5)
        more.append((x, label, size, False))
        x += width(label, size) + 1.5
        if setting.as_run:
            more.append((x, _value(setting), VALUE, True))
        else:
            rules.append((x, (place + 1) * share - 2.5))
    return Line("", VALUE, False, tuple(more), tuple(rules), WRITING)


def _value(setting: Setting) -> str:
    """A value that is not the target is marked, since colour and bold do not survive a copier."""
    return _("other: {value}").format(value=plain(setting.as_run)) if setting.differs else plain(setting.as_run)


def _alone(setting: Setting, room: float) -> Cell:
    begin = _labelled(setting)
    if not setting.as_run:
        return [Line("", VALUE, False, ((0.0, plain(setting.label), LABEL, False),), ((begin, room - 2.5),), WRITING)]
    pieces = wrap(_value(setting), VALUE, room - begin - 2)
    first = Line(
        "", VALUE, False, ((0.0, plain(setting.label), LABEL, False), (begin, pieces[0], VALUE, True)), (), WRITING
    )
    return [first, *(Line("", VALUE, False, ((begin, piece, VALUE, True),)) for piece in pieces[1:])]


# -- the comparison -------------------------------------------------------------------------------------------------


def _comparison(flow: Flow, sheet: ComparisonSheet) -> None:
    flow.y += 1.5
    for remark in sheet.remarks:
        flow.words("– " + plain(remark), 8.5)
    flow.words(sheet.first, 8.5)
    room = flow.right - flow.left
    columns = columns_of(
        room, (_("Setting"), 42), (sheet.headings[0], 50), (sheet.headings[1], 50), (_("Differs by"), 42)
    )
    wide = [column.wide for column in columns]
    rows: list[TableRow] = []
    for group in sheet.groups:
        rows += _group(group, wide)
    flow.y += 1.5
    if rows:
        table(flow, columns, rows)


def _group(group: ComparedGroup, wide: Sequence[float]) -> list[TableRow]:
    title: list[Piece] = [(group.title, 10.0, True)]
    if group.same:
        title.append((_("The same: {settings}").format(settings=group.same), 7.5, False))
    elif not group.rows:
        title.append((_("Nothing differs."), 7.5, False))
    rows = [TableRow([cell(sum(wide), *title)])]
    for row in group.rows:
        told = ((row.verdict, 9.0, True), (row.by_how_much, 9.0, False), (row.why, 8.0, False))
        by: list[Piece] = [piece for piece in told if piece[0]]
        rows.append(
            TableRow(
                [
                    cell(wide[0], (row.label, 8.5, False)),
                    cell(wide[1], (row.before, 8.5, False)),
                    cell(wide[2], (row.now, 8.5, True)),
                    cell(wide[3], *by),
                ]
            )
        )
    return rows
