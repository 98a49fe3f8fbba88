"""The papers of a run: the set-up sheet (target left, as run right) and the comparison of two prints."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from tickets.calculator.verdict import WORDS, Level
from tickets.domain.papers.run_sheet import (
    ComparedGroup,
    ComparedRow,
    ComparisonSheet,
    SetupSheet,
    SheetSetting,
    SheetStation,
)
from tickets.domain.runs.as_run import NOT_MEASURED
from tickets.i18n import gettext as _
from tickets.i18n import pgettext
from tickets.paper.flow import PAD, Cell, Flow, PaperColumn, Piece, TableRow, WrappedLine, cell, columns_of, table
from tickets.paper.letters import laid_out, plain
from tickets.paper.page import ASCENT, LEADING, PT, Pages, fit, width, wrap
from tickets.paper.stock import paper_size

LABEL, VALUE = 7.5, 9.5
"""Sizes in points of a setting's label and of what was noted."""
WRITING = 6.6
"""Height in mm of a line that is written on."""
LEAST = 6.5
"""Points of the smallest type that is still read on paper."""


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

    tries = SETUPS if sheet.layout > 1 else SETUPS[:1]
    with laid_out(sheet.layout):
        return _drawn(flow, *(partial(_setup, sheet=sheet, how=how) for how in tries))


def draw_comparison(sheet: ComparisonSheet, paper: str, language: str = "en") -> tuple[bytes, Pages]:
    """`comparison_pdf`, and the pages with all that was drawn: one, as long as small type makes it one."""

    def flow(total: int) -> Flow:
        label, inside = _("Comparison of prints"), not sheet.for_customer
        return Flow(sheet.job, paper_size(paper), total, language, label, sheet.placement, inside)

    tries = [partial(_comparison, sheet=sheet, how=how) for how in DENSITIES]
    with laid_out(sheet.layout):
        return _drawn(flow, *tries)


def _drawn(made: Callable[[int], Flow], *tries: Callable[[Flow], None]) -> tuple[bytes, Pages]:
    """Drawn the first way that takes one page, else the first that takes the fewest; twice, since a page says how many
    there are."""
    best, fewest = tries[0], 0
    for draw in tries:
        counted = made(1)
        draw(counted)
        pages = len(counted.pages.sizes)
        if not fewest or pages < fewest:
            best, fewest = draw, pages
        if fewest == 1:
            break
    flow = made(fewest)
    best(flow)
    return flow.pages.finish(), flow.pages


# -- the set-up sheet -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SheetCloseness:
    """How closely a set-up sheet is set: type by `scale`; `packed`: a target in one text, and settings side by side as
    they come, each as wide as it is. `writing`: height in mm of a line that is written on."""

    scale: float = 1.0
    packed: bool = False
    writing: float = WRITING

    def points(self, size: float) -> float:
        """The size of type that is `size` where there is room."""
        return max(LEAST, size * self.scale)

    def columns(self, room: float) -> list[PaperColumn]:
        """The columns of the table."""
        shares = (9, 32, 58, 85) if self.packed else (10, 38, 54, 82)
        heads = (_("Order"), pgettext("what a position does", "Prints"), _("Target"), _("As run"))
        return columns_of(room, *zip(heads, shares, strict=True))

    def settings(self, settings: Sequence[SheetSetting], room: float, across: int = 3) -> Cell:
        """Settings with what was noted, or a line to write on."""
        return _packed(settings, room, self) if self.packed else _writing(settings, room, across)


SETUPS = (
    SheetCloseness(),
    SheetCloseness(1.0, True, 6.0),
    SheetCloseness(0.9, True, 5.6),
    SheetCloseness(0.8, True, 5.2),
)
"""From the one that reads best to the closest one."""


def _setup(flow: Flow, sheet: SetupSheet, how: SheetCloseness) -> None:
    room = flow.right - flow.left
    _setup_head(flow, sheet)
    if sheet.layout > 1:
        flow.words(sheet.cautions, how.points(7.5))
    _stops(flow, sheet.stops)
    if sheet.remarks:
        ahead, over = _("What will differ from the approved print"), _("What differed from the print before")
        flow.heading(over if sheet.over else ahead, 8)
        for remark in sheet.remarks:
            flow.words("– " + plain(remark), how.points(8.5))
    flow.y += 2
    columns = how.columns(room)
    wide = [column.wide for column in columns]
    rows = [_station(station, wide, how) for station in sheet.stations]
    if rows:
        table(flow, columns, rows, again=sheet.placement.name if sheet.layout > 1 else "")
    flow.heading(_("The whole placement"), 3 * WRITING)
    for line in how.settings([_aimed(setting) for setting in sheet.whole], room):
        flow.need(line.high)
        _put(flow, line)
    if sheet.changes:
        flow.heading(_("Changed during the run"), 8)
        for change in sheet.changes:
            flow.words("– " + plain(change), how.points(8.5))
    for told in sheet.measured:
        flow.words(plain(told), how.points(7.5))
    flow.need(2 * WRITING + 4)
    blanks = [
        SheetSetting(_("First print approved by"), "", sheet.approved),
        SheetSetting(_("How"), "", sheet.how),
        SheetSetting(_("Sample kept at"), "", sheet.sample),
    ]
    flow.y += 2
    for line in how.settings(blanks, room, 2):
        flow.need(line.high)
        _put(flow, line)
    if sheet.layout == 1:
        flow.y += 3
        for caution in sheet.job.cautions:
            flow.words(caution, 7.5)


def _setup_head(flow: Flow, sheet: SetupSheet) -> None:
    """The placement and its run, where the target comes from, and what is said of the whole print."""
    room = flow.right - flow.left
    flow.y += 1
    run = _("run {n}").format(n=sheet.run) if sheet.run else ""
    name, size = fit(" · ".join(filter(None, (sheet.placement.name, run))), room * 0.6, 16, 9, bold=True)
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


def _stops(flow: Flow, stops: Sequence[str], scale: float = 1.0) -> None:
    """What stops a print, behind a bar and under its word: it is seen on a copy without colours too."""
    if not stops:
        return
    lines = [line for text in stops for line in wrap(plain(text), 10 * scale, flow.right - flow.left - 5, bold=True)]
    high = (len(lines) * 10 + 14) * scale * PT * LEADING
    flow.need(high)
    flow.y += 1
    flow.pages.bar(flow.left, flow.y, flow.left + 2, flow.y + high)
    flow.words(_(WORDS[Level.STOP]), 13 * scale, True, flow.left + 5)
    for text in stops:
        flow.words(plain(text), 10 * scale, True, left=flow.left + 5)
    flow.y += 2


def _aimed(setting: SheetSetting) -> SheetSetting:
    """Settings without a column for their target have it beside their label."""
    return replace(setting, label=f"{setting.label} ({setting.target})") if setting.target else setting


def _put(flow: Flow, line: WrappedLine) -> None:
    """A line outside a table."""
    base = flow.y + line.high - line.size * PT * LEADING + ASCENT * line.size * PT
    flow.pages.text(flow.left, base, line.text, line.size, line.bold)
    for x, text, size, bold in line.more:
        flow.pages.text(flow.left + x, base, text, size, bold)
    for begin, end in line.rules:
        flow.pages.line(flow.left + begin, base + 0.7, flow.left + end, base + 0.7, 0.15)
    flow.y += line.high


def _station(station: SheetStation, wide: Sequence[float], how: SheetCloseness) -> TableRow:
    prints: list[Piece] = [(station.title or station.does, how.points(12.0), True)]
    prints += [(text, how.points(9.0), False) for text in (station.mesh, station.screen, station.need) if text]
    target: list[Piece] = [(text, how.points(9.0), False) for text in station.target]
    if how.packed:
        size = how.points(8.5)
        target = [(text, size, False) for text in _run_on(station.target, size, wide[2] - 2 * PAD)]
    cells = [
        cell(wide[0], (station.order, how.points(17.0), True)),
        cell(wide[1], *prints),
        cell(wide[2], *target),
        how.settings(station.settings, wide[3] - PAD, 2),
    ]
    return TableRow(cells)


def _run_on(texts: Sequence[str], size: float, room: float) -> list[str]:
    """Texts one after the other, each whole on its line where it fits one."""
    lines: list[str] = []
    for text in texts:
        joined = f"{lines[-1]} · {text}" if lines else text
        if lines and width(plain(joined), size) <= room:
            lines[-1] = joined
        else:
            lines += wrap(text, size, room)
    return lines


_BLANK, _GAP = 15.0, 3.0
"""Least length in mm of a line to write on, and what stands between two settings."""


def _packed(settings: Sequence[SheetSetting], room: float, how: SheetCloseness) -> Cell:
    """Settings side by side as they come, each as wide as it is; blanks share what a line has left. A long one, and a
    note, has a line of its own."""
    lines: Cell = []
    waiting: list[tuple[SheetSetting, float]] = []
    label, value = how.points(LABEL), how.points(VALUE)

    def flush() -> None:
        blanks = sum(not setting.as_run for setting, _wide in waiting)
        spare = (room - sum(wide + _GAP for _setting, wide in waiting)) / blanks if blanks else 0.0
        more, rules, x = [], [], 0.0
        for setting, wide in waiting:
            more.append((x, plain(setting.label), label, False))
            begin = x + width(plain(setting.label), label) + 1.5
            if setting.as_run:
                more.append((begin, _value(setting), value, True))
            else:
                wide += spare
                rules.append((begin, x + wide))
            x += wide + _GAP
        if waiting:
            lines.append(WrappedLine("", value, False, tuple(more), tuple(rules), how.writing))
        waiting.clear()

    for setting in settings:
        noted = width(_value(setting), value, bold=True) if setting.as_run else _BLANK
        wide = width(plain(setting.label), label) + 1.5 + noted
        if setting.label == _("Note") or wide + _GAP > room:
            flush()
            lines += _alone(setting, room, label, value, how.writing)
            continue
        if sum(one + _GAP for _setting, one in waiting) + wide + _GAP > room:
            flush()
        waiting.append((setting, wide))
    flush()
    return lines


def _writing(settings: Sequence[SheetSetting], room: float, across: int = 3) -> Cell:
    """Settings side by side, each with its label and what was noted, or a line to write on. A long one, and a note,
    has a line of its own."""
    lines: Cell = []
    share = room / across
    waiting: list[SheetSetting] = []

    def flush() -> None:
        if waiting:
            lines.append(_written(waiting, share))
            waiting.clear()

    for setting in settings:
        noted = width(_value(setting), VALUE, bold=True)
        alone = setting.label == _("Note") or noted > share - _labelled(setting) - 4
        if alone:
            flush()
            lines += _alone(setting, room)
            continue
        waiting.append(setting)
        if len(waiting) == across:
            flush()
    flush()
    return lines


def _labelled(setting: SheetSetting) -> float:
    return width(plain(setting.label), LABEL) + 1.5


def _written(settings: Sequence[SheetSetting], share: float) -> WrappedLine:
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
    return WrappedLine("", VALUE, False, tuple(more), tuple(rules), WRITING)


def _value(setting: SheetSetting) -> str:
    """A value that is not the target is marked, since colour and bold do not survive a copier."""
    return _("other: {value}").format(value=plain(setting.as_run)) if setting.differs else plain(setting.as_run)


def _alone(
    setting: SheetSetting, room: float, label: float = LABEL, value: float = VALUE, writing: float = WRITING
) -> Cell:
    begin = width(plain(setting.label), label) + 1.5
    said = (0.0, plain(setting.label), label, False)
    if not setting.as_run:
        return [WrappedLine("", value, False, (said,), ((begin, room - 2.5),), writing)]
    pieces = wrap(_value(setting), value, room - begin - 2, bold=True)
    first = WrappedLine("", value, False, (said, (begin, pieces[0], value, True)), (), writing)
    return [first, *(WrappedLine("", value, False, ((begin, piece, value, True),)) for piece in pieces[1:])]


# -- the comparison -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Density:
    """How closely a comparison is set: type by `scale`; `tight`: no rules between a station's settings, long texts in
    two columns; `packed`: what is known of one print only as a text instead of rows; `abreast`: two settings a line,
    one text for what is no row."""

    scale: float = 1.0
    tight: bool = False
    packed: bool = False
    abreast: bool = False

    def points(self, size: float) -> float:
        """The size of type that is `size` where there is room."""
        return max(LEAST, size * self.scale)

    def columns(self, room: float, headings: tuple[str, str]) -> list[PaperColumn]:
        """The columns of the table, twice where settings stand abreast."""
        setting, wide, by = (29, 23, 17) if self.abreast else (38, 45, 56) if self.tight else (42, 50, 42)
        shares = ((_("Setting"), setting), (headings[0], wide), (headings[1], wide), (_("Differs by"), by))
        return columns_of(room, *shares, *(shares if self.abreast else ()))


DENSITIES = (
    Density(),
    Density(0.9, True),
    Density(0.9, True, True),
    Density(0.85, True, True, True),
    Density(0.76, True, True, True),
)
"""From the one that reads best to the closest one."""


def _comparison(flow: Flow, sheet: ComparisonSheet, how: Density) -> None:
    flow.y += 1.5
    _stops(flow, sheet.stops, how.scale)
    for remark in sheet.remarks:
        flow.words("– " + plain(remark), how.points(8.5))
    flow.words(sheet.first, how.points(8.5))
    columns = how.columns(flow.right - flow.left, sheet.headings)
    wide = [column.wide for column in columns]
    rows: list[TableRow] = []
    for group in sheet.groups:
        rows += _group(group, wide, how)
    flow.y += 1.5
    if rows:
        table(flow, columns, rows)


def _group(group: ComparedGroup, wide: Sequence[float], how: Density) -> list[TableRow]:
    small, whole = how.points(7.5), sum(wide)
    lines = cell(whole, (group.title, how.points(10.0), True))
    rows = [row for row in group.rows if not (how.packed and row.one_sided)]
    packed = [row for row in group.rows if row not in rows]
    told = [(_("The same: {settings}"), group.same)]
    told.append((_("Known of the print before alone: {settings}"), _listed((row.label, row.before) for row in packed)))
    told.append((_("Known of this print alone: {settings}"), _listed((row.label, row.now) for row in packed)))
    texts = [group.small] if group.small else []
    texts += [text.format(settings=settings) for text, settings in told if settings]
    if not texts and not rows:
        texts.append(_("Nothing differs."))
    for text in [". ".join(texts)] if how.abreast and texts else texts:
        lines += _in_two(text, small, whole) if how.tight else cell(whole, (text, small, False))
    if how.abreast:
        return [TableRow([[*lines, *_abreast(rows, wide, how.points(8.5))]])]
    if how.tight:
        return [TableRow([[*lines, *(line for row in rows for line in _level(row, wide, how.points(8.5)))]])]
    return [TableRow([lines]), *(_row(row, wide) for row in rows)]


def _listed(settings: Iterable[tuple[str, str]]) -> str:
    return " · ".join(f"{label}: {value}" for label, value in settings if value not in {"–", _(NOT_MEASURED)})


def _in_two(text: str, size: float, room: float) -> Cell:
    """A long text in two columns where that takes no more room: small type reads ill over the width of a page."""
    whole, half = wrap(text, size, room - 2 * PAD), room / 2
    pieces = wrap(text, size, half - 2 * PAD - 1)
    split = (len(pieces) + 1) // 2
    if split > len(whole) or len(whole) < 3:
        return [WrappedLine(piece, size) for piece in whole]
    both = zip(pieces, [*pieces[split:], ""][:split], strict=False)
    return [WrappedLine(left, size, False, ((half, right, size, False),)) for left, right in both]


def _row(row: ComparedRow, wide: Sequence[float]) -> TableRow:
    told = ((row.verdict, 9.0, True), (row.by_how_much, 9.0, False), (row.why, 8.0, False))
    by: list[Piece] = [piece for piece in told if piece[0]]
    return TableRow(
        [
            cell(wide[0], (row.label, 8.5, False)),
            cell(wide[1], (row.before, 8.5, False)),
            cell(wide[2], (row.now, 8.5, True)),
            cell(wide[3], *by),
        ]
    )


def _by(row: ComparedRow) -> str:
    """By how much it differs, in one text."""
    return ". ".join(filter(None, (", ".join(filter(None, (row.verdict, row.by_how_much))), row.why)))


def _level(row: ComparedRow, wide: Sequence[float], size: float) -> Cell:
    """A setting as lines over the whole width of the table, its parts under their headings."""
    parts = (row.label, row.before, row.now, _by(row))
    rooms = enumerate(zip(parts, wide, strict=True))
    pieces = [wrap(text, size, room - 2 * PAD, place == 2) for place, (text, room) in rooms]
    lines: Cell = []
    for n in range(max(map(len, pieces))):
        more = [(sum(wide[:place]), some[n], size, place == 2) for place, some in enumerate(pieces) if n < len(some)]
        lines.append(WrappedLine("", size, False, tuple(more)))
    return lines


def _abreast(rows: Sequence[ComparedRow], wide: Sequence[float], size: float) -> Cell:
    """Settings two a line; one that is too long for its half is told over the whole width."""
    half = len(wide) // 2
    lines: Cell = []
    waiting: list[tuple[float, str, float, bool]] = []
    for row in rows:
        parts = (row.label, row.before, row.now, _by(row))
        rooms = enumerate(zip(parts, wide[:half], strict=True))
        if any(width(plain(text), size, place == 2) > room - PAD for place, (text, room) in rooms):
            told = _("{setting}: before {before}, now {now}").format(setting=row.label, before=row.before, now=row.now)
            by = _by(row)
            lines += cell(sum(wide), (f"{told} ({by})" if by else told, size, False))
            continue
        begin = half if waiting else 0
        waiting += [
            (sum(wide[: begin + place]), plain(text), size, place == 2) for place, text in enumerate(parts) if text
        ]
        if begin:
            lines.append(WrappedLine("", size, False, tuple(waiting)))
            waiting = []
    return [*lines, WrappedLine("", size, False, tuple(waiting))] if waiting else lines
