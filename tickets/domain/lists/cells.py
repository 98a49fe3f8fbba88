"""A file of a spreadsheet, CSV or XLSX, as rows of text: bounded, nothing in it is worked out or followed."""

from __future__ import annotations

import codecs
import csv
import re
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, time
from io import BytesIO, StringIO
from typing import Any, NamedTuple

from tickets.domain.refusal import Refused
from tickets.i18n import gettext as _

LARGEST = 4_000_000
"""Bytes of a file: 5,000 frames with all that is known of them take half a million (measured)."""
UNPACKED = 40_000_000
"""Bytes of an XLSX once unpacked, and how many parts it has; more is no list (judgement)."""
MOST_PARTS = 1_000
MOST_ROWS, MOST_COLUMNS, LONGEST_CELL = 10_000, 60, 2_000
"""Lines, columns and characters of a cell that are taken at once."""
_PARTED_BY = (",", ";", "\t", "|")
_PROBED = 30
"""Lines by which it is seen what parts the columns."""


class Line(NamedTuple):
    """A line of a list: its number in the file, counted from 1, and its cells."""

    number: int
    cells: tuple[str, ...]

    @property
    def filled(self) -> bool:
        """Whether anything stands in it."""
        return any(self.cells)


class Raw(NamedTuple):
    """The lines of a file that hold anything. `sheet`: of which sheet they are; `others`: sheets that were not read."""

    lines: tuple[Line, ...]
    sheet: str = ""
    others: tuple[str, ...] = ()


def read(data: bytes) -> Raw:
    """The lines of a file. Raises Refused for one that cannot be read, with what would do."""
    if len(data) > LARGEST:
        most = f"{LARGEST / 1e6:g} MB"
        raise Refused(
            _("The file is too large: {most} at most. Split it, and send one part at a time.").format(most=most), "file"
        )
    if data.startswith(b"PK"):
        return _xlsx(data)
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise Refused(_("This is a spreadsheet of an older kind. Save it as XLSX or CSV, and send that."), "file")
    return pasted(decoded(data))


def pasted(text: str) -> Raw:
    """The lines of a text: columns parted by commas, semicolons, tabs or bars, whichever fits best. Raises Refused."""
    if len(text) > LARGEST:
        raise too_long()
    try:
        return Raw(tuple(_bounded(_csv_lines(text))))
    except csv.Error:
        message = _("A quotation mark is opened and never closed. Take the mark out, or save the list as CSV again.")
        raise Refused(message, "file") from None


def decoded(data: bytes) -> str:
    """A file's text: UTF-8, UTF-16 with its mark in front, else as older spreadsheets write it."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def too_long() -> Refused:
    """What is said of a list of too many lines."""
    said = _("The list is too long: at most {most} lines at once. Split it, and send one part at a time.")
    return Refused(said.format(most=f"{MOST_ROWS:,}"), "file")


def _bounded(lines: Iterable[tuple[int, Sequence[str]]]) -> Iterator[Line]:
    """The lines that hold anything, without empty cells at their ends; refused where there are too many or too much."""
    taken = 0
    for number, cells in lines:
        kept = [cell.strip(" \t\r\n\xa0") for cell in cells]
        while kept and not kept[-1]:
            kept.pop()
        if not kept:
            continue
        taken += 1
        if taken > MOST_ROWS + 20:  # a heading, and what stands above it
            raise too_long()
        if len(kept) > MOST_COLUMNS:
            said = _("Line {line} has {n} columns; {most} would do. Is this a list?")
            raise Refused(said.format(line=number, n=len(kept), most=MOST_COLUMNS), "file")
        if long := next((cell for cell in kept if len(cell) > LONGEST_CELL), ""):
            said = _("A cell of line {line} has {n} characters; {most} would do.")
            raise Refused(said.format(line=number, n=f"{len(long):,}", most=f"{LONGEST_CELL:,}"), "file")
        yield Line(number, tuple(kept))


# CSV -----------------------------------------------------------------------------------------------------------------


def _csv_lines(text: str) -> Iterator[tuple[int, list[str]]]:
    """The rows of a text, each with the number of the line where it begins. Raises csv.Error."""
    text = text.lstrip("\N{ZERO WIDTH NO-BREAK SPACE}").replace("\r\n", "\n").replace("\r", "\n")
    rows = text.split("\n")
    first = next((row for row in rows if row.strip()), "")
    told = re.fullmatch(r"sep=([,;\t|])", first.strip(), re.IGNORECASE)  # some spreadsheets name the mark in front
    reader = csv.reader(rows, delimiter=told[1] if told else _parted_by(rows), strict=True)
    at = 1
    for row in reader:
        if not (told and row and row[0].lower() == "sep="):
            yield at, row
        at = reader.line_num + 1


def _parted_by(rows: Sequence[str]) -> str:
    """What parts the columns: the mark that gives the most in most of the first lines, and in the line of headings (the
    first that is parted at all); what stands within quotation marks parts nothing."""
    probe = [re.sub('"[^"]*"', "", row) for row in rows if row.strip()][:_PROBED]
    heads = next((row for row in probe if any(mark in row for mark in _PARTED_BY)), "")

    def columns(mark: str) -> tuple[int, int]:
        counts = sorted(row.count(mark) for row in probe)
        usual = counts[len(counts) // 2] if counts else 0
        return min(usual, heads.count(mark)), usual

    return max(_PARTED_BY, key=columns)


def csv_text(rows: Iterable[Sequence[str]]) -> str:
    """Rows as CSV (RFC 4180), with the mark in front by which spreadsheets read it as UTF-8."""
    held = StringIO()
    held.write("\N{ZERO WIDTH NO-BREAK SPACE}")
    csv.writer(held).writerows(rows)
    return held.getvalue()


# XLSX (ISO/IEC 29500) ------------------------------------------------------------------------------------------------


def _xlsx(data: bytes) -> Raw:
    from openpyxl import load_workbook

    try:
        _checked(data)
        # values as they were last saved: nothing is worked out here, and no link followed
        book = load_workbook(BytesIO(data), read_only=True, data_only=True, keep_links=False)
        try:
            return _first_filled(book)
        finally:
            book.close()
    except Refused:
        raise
    except Exception:  # whatever a broken file brings about in its reader
        raise Refused(_("This file cannot be read as a spreadsheet. Save it again as XLSX or CSV."), "file") from None


def _checked(data: bytes) -> None:
    """Refuses a file that unpacks to more than a list holds, or that defines words of its own (which may grow without
    bound, or fetch things)."""
    with zipfile.ZipFile(BytesIO(data)) as packed:
        parts = packed.infolist()
        if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > UNPACKED:
            raise Refused(_("The file unpacks to more than any list holds. Save only the sheet with the list."), "file")
        if "xl/workbook.xml" not in packed.namelist():
            raise Refused(_("This is not a spreadsheet. Save the list as XLSX or CSV."), "file")
        for part in parts:
            if not part.filename.lower().endswith((".xml", ".rels", ".vml")):
                continue
            with packed.open(part) as content:  # reads no more than its size says
                before = b""
                while block := content.read(1 << 16):
                    if b"<!" in (both := before + block) and re.search(rb"<!(?:DOCTYPE|ENTITY)", both, re.IGNORECASE):
                        raise Refused(
                            _("This file cannot be read as a spreadsheet. Save it again as XLSX or CSV."), "file"
                        )
                    if not before and block.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE, b"<\0", b"\0<")):
                        raise Refused(
                            _("This file cannot be read as a spreadsheet. Save it again as XLSX or CSV."), "file"
                        )
                    before = block[-10:]


_LAST_ROW = 1_048_576
"""The last row that a sheet can have."""


def _first_filled(book: Any) -> Raw:
    """The first sheet that is shown and holds anything."""
    names = [sheet.title for sheet in book.worksheets]
    shown = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"]
    for sheet in shown or book.worksheets:
        sheet.reset_dimensions()  # what it says of its own size may be wrong
        rows = enumerate(sheet.iter_rows(max_row=_LAST_ROW, max_col=4 * MOST_COLUMNS, values_only=True), 1)
        filled = ((at, row) for at, row in rows if any(value is not None for value in row))
        lines = tuple(_bounded((at, [cell_text(value) for value in row]) for at, row in filled))
        if lines:
            return Raw(lines, sheet.title, tuple(name for name in names if name != sheet.title))
    return Raw((), "", tuple(names))


def cell_text(value: Any) -> str:
    """What stands in a cell, as somebody would type it: numbers plainly, days year first."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(round(value, 9))
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, time):
        return value.isoformat("minutes")
    return str(value)


def xlsx(rows: Iterable[Sequence[str]], widths: Sequence[int] = ()) -> bytes:
    """Rows as a spreadsheet of one sheet; every cell is text, so that nothing in it is worked out."""
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell

    book = Workbook(write_only=True)
    sheet = book.create_sheet(_("List"))
    for at, width in enumerate(widths):
        sheet.column_dimensions[chr(ord("A") + at)].width = width
    sheet.freeze_panes = "A2"
    for row in rows:
        cells = []
        for text in row:
            cell = WriteOnlyCell(sheet, value=text)
            cell.data_type = "s"
            cells.append(cell)
        sheet.append(cells)
    held = BytesIO()
    book.save(held)
    return held.getvalue()
