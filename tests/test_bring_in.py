"""Lists that a shop has already, brought in: any headings, seen before anything is written, each line made once."""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook
from shop import NOW, Shop, Tickets, answered, brought, fresh, looked
from sqlite_utils import Database

from tickets.actions import lists, places
from tickets.actions import shop as shop_acts
from tickets.domain.lists import cells, columns, dates
from tickets.domain.lists.columns import Chosen, Sheet
from tickets.domain.refusal import NotAllowed, Refused
from tickets.queries import find, list_now, sound
from tickets.store import entries, screens
from tickets.store import lists as kept_lists

SignIn = Callable[[FlaskClient, str], FlaskClient]
OFFICE = (
    "Frames of the shop 2026;;\n\n"
    "Screen No;Mesh (tpi);Thread;Tension (N/cm);Date of tension;Location;Frame Type;Size;Supplier;Uses;Status\n"
    "A 1;230;48;24,5;3/2/26;Rack 1;Alu;23 x 31 in;North;4;clean\n"
    "A 2;110;80;25;13/2/26;rack 1;wooden;585 x 790;;0;\n"
)
"""A list as an office keeps it."""


def me(db: Database) -> Any:
    return shop_acts.command_line(db, NOW)


def workbook(*sheets: list[list[Any]], hidden: bool = False) -> bytes:
    book = Workbook()
    for at, rows in enumerate(sheets):
        sheet = book.active if at == 0 else book.create_sheet(f"Sheet {at + 1}")
        for row in rows:
            sheet.append(row)
        if hidden and at == 0:
            sheet.sheet_state = "hidden"
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def fields(kind: str, *heads: str, lines: str = "") -> list[str]:
    sheet = columns.headed(
        kind, cells.pasted(",".join(f'"{head}"' for head in heads) + "\n" + (lines or ",".join("x" * len(heads))))
    )
    return [one.field for one in columns.proposed(kind, sheet)]


# Headings ------------------------------------------------------------------------------------------------------------

NAMED = [
    (kind, field, said) for kind, some in columns.KINDS.items() for field in some for said in (*field.said, field.word)
]


@given(
    st.sampled_from(NAMED),
    st.sampled_from(["upper", "title", "lower"]),
    st.sampled_from([" ", "_", "-", ". "]),
    st.booleans(),
)
def test_a_heading_is_known_however_it_is_spelled(named: Any, case: str, between: str, unit: bool) -> None:
    kind, field, said = named
    head = getattr(between.join(said.split()), case)() + (
        f" ({field.units[-1][0]})" if unit and field.unit_kind not in ("", "date") else ""
    )
    sheet = Sheet((head, "zzz"), (cells.Line(2, (field.example, "")),))
    found = columns.proposed(kind, sheet)
    shared = {one.name for one in columns.KINDS[kind] if said in (*one.said, one.word)}
    assert found[0].field in shared and found[1] == Chosen()
    if unit and field.unit_kind not in ("", "date") and found[0].field == field.name:
        assert found[0].unit == field.units[-1][0]


@given(
    st.lists(st.text(max_size=30), min_size=1, max_size=8),
    st.lists(st.lists(st.text(max_size=20), max_size=8), max_size=4),
)
def test_any_headings_and_any_cells_are_proposed_something_and_no_field_twice(
    heads: list[str], rows: list[list[str]]
) -> None:
    lines = tuple(cells.Line(at, tuple(row)) for at, row in enumerate(rows, 2))
    for kind in columns.KINDS:
        sheet = columns.headed(kind, cells.Raw((cells.Line(1, tuple(heads)), *lines)))
        found = columns.proposed(kind, sheet)
        assert len(found) == len(sheet.heads)
        once = [one.field for one in found if one.field and not columns.field_of(kind, one.field).many]
        assert len(once) == len(set(once))


def test_spanish_headings_are_read() -> None:
    heads = (
        "Marco nº",
        "Malla (hilos/cm)",
        "Hilo (micras)",
        "Tensión",
        "Fecha de tensión",
        "Ubicación",
        "Estado",
        "Observaciones",
    )
    wanted = [
        "mark",
        "mesh_count_as_labelled",
        "thread_um",
        "readings_n_per_cm",
        "tension_on",
        "place",
        "stage",
        "note",
    ]
    lines = "1,77,55,22,2026-03-01,Estante 1,limpia,vieja"
    assert fields("frames", *heads, lines=lines) == wanted
    sheet = columns.headed("frames", cells.pasted(",".join(heads) + "\n" + lines))
    assert [one.unit for one in columns.proposed("frames", sheet)][1:3] == ["/cm", "um"]
    assert columns.word_of("stage", "Vacía") == "stripped" and columns.word_of("frame", "Madera") == "wood"


def test_what_stands_in_a_column_tells_what_it_is() -> None:
    """A heading that may be several things, one that says nothing, none at all."""
    assert fields("frames", "Frame", "Mesh", lines="wood,230/in") == ["frame", "mesh_count_as_labelled"]
    assert fields("frames", "Frame", "Mesh", lines="585 x 790 mm,230/in") == ["frame_size_mm", "mesh_count_as_labelled"]
    assert fields("frames", "Frame", "Mesh", lines="A 12,230/in") == ["mark", "mesh_count_as_labelled"]
    assert fields("frames", "aa", "bb", "cc", lines="230/in,48 um,aluminium") == [
        "mesh_count_as_labelled",
        "thread_um",
        "frame",
    ]
    bare = columns.headed("frames", cells.pasted("A 1,230/in,48 um\nA 2,110/in,80 um\n"))
    assert bare.heads == ("A", "B", "C") and len(bare.lines) == 2
    titled = columns.headed("frames", cells.pasted("Our frames,,\n\nId,Mesh,Thread\nA 1,230/in,48 um\n"))
    assert titled.heads == ("Id", "Mesh", "Thread") and [line.number for line in titled.lines] == [4]


def test_what_stands_within_quotation_marks_parts_no_columns() -> None:
    raw = cells.pasted('"Tension; N/cm; mean","Mesh"\n"24; 25; 26","230/in"\n')
    assert [line.cells for line in raw.lines] == [("Tension; N/cm; mean", "Mesh"), ("24; 25; 26", "230/in")]


# Files ---------------------------------------------------------------------------------------------------------------


def test_a_spreadsheet_is_read_as_its_owner_sees_it(db: Database) -> None:
    """Numbers plainly, days as days, text of digits as text, what a formula last came to and never the formula."""
    rows = [
        ["Screen", "Mesh tpi", "Thread", "Tension N/cm", "Tension measured", "Remark", "Uses"],
        [12, 230, 48.0, 24.5, datetime(2026, 2, 3), "=1+1", 7],
        ["0012", 110.0, 80, 25, date(2026, 2, 4), True, None],
    ]
    raw = cells.read(workbook(rows, [["other"]]))
    assert (raw.sheet, raw.others) == ("Sheet", ("Sheet 2",))
    assert raw.lines[1].cells == ("12", "230", "48", "24.5", "2026-02-03", "", "7")  # nothing was worked out
    assert raw.lines[2].cells == ("0012", "110", "80", "25", "2026-02-04", "yes")
    assert cells.read(workbook([["hidden"]], rows, hidden=True)).sheet == "Sheet 2"
    found = looked(db, workbook(rows))
    assert [(one.mark, one.mesh, one.tension_day) for one in found.items] == [
        ("12", "230/in", "2026-02-03"),
        ("0012", "110/in", "2026-02-04"),
    ]


def packed(**parts: bytes) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in parts.items():
            made.writestr(name.replace("__", "/").replace("_xml", ".xml"), content)
    return held.getvalue()


def swapped(data: bytes, name: str, content: bytes) -> bytes:
    """A spreadsheet with another part in the place of one of its own."""
    held = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.namelist():
            new.writestr(part, content if part == name else old.read(part))
    return held.getvalue()


SHEET = workbook([["Mesh"], ["230/in"]])
ENTITIES = b'<?xml version="1.0"?>' + b" " * 70_000 + b'<!DOCTYPE x [<!ENTITY a "aaaa">]><x>&a;</x>'
NO_LISTS = {
    "unpacks to more": packed(xl__workbook_xml=b"<a/>", bomb_xml=b"\0" * (cells.UNPACKED + 1)),
    "unpacks to more than": packed(xl__workbook_xml=b"<a/>", **{f"part{n}_xml": b"" for n in range(cells.MOST_PARTS)}),
    "not a spreadsheet": packed(word__document_xml=b"<a/>"),
    "cannot be read as a spreadsheet": b"PK\x03\x04 torn",
    "cannot be read as a": swapped(SHEET, "xl/workbook.xml", ENTITIES),
    "Save it again": swapped(SHEET, "xl/workbook.xml", "<?xml version='1.0' encoding='utf-16'?><a/>".encode("utf-16")),
    "older kind": b"\xd0\xcf\x11\xe0 xls",
    "too large": b"a" * (cells.LARGEST + 1),
    "too long": b"mesh\n" + b"230/in\n" * (cells.MOST_ROWS + 30),
    "columns": b"mesh" + b",x" * (cells.MOST_COLUMNS + 1),
    "characters": b"mesh\n" + b"x" * (cells.LONGEST_CELL + 1),
    "quotation mark": b'mark,mesh\n"A,230/in\n',
    "nothing in the list": b"mark,mesh\n\n",
}


@pytest.mark.parametrize("told", NO_LISTS)
def test_what_is_no_list_is_refused_in_words(db: Database, told: str) -> None:
    with pytest.raises(Refused, match=told):
        looked(db, NO_LISTS[told])
    assert kept_lists.every(db) == []


def test_a_sheet_that_lies_about_its_size_is_read_to_its_end(db: Database) -> None:
    far = workbook([["Mesh", "Mark"], ["230/in", "A"]])
    with zipfile.ZipFile(io.BytesIO(far)) as old:
        sheet = old.read("xl/worksheets/sheet1.xml")
    sheet = (
        re.sub(rb'<dimension ref="[^"]+"', b'<dimension ref="A1:A1"', sheet)
        .replace(b'r="2"', b'r="900000"')
        .replace(b'"A2"', b'"A900000"')
        .replace(b'"B2"', b'"B900000"')
    )
    raw = cells.read(swapped(far, "xl/worksheets/sheet1.xml", sheet))
    assert [(line.number, line.cells) for line in raw.lines] == [(1, ("Mesh", "Mark")), (900_000, ("230/in", "A"))]


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
@pytest.mark.parametrize(("code", "end"), [("utf-8", "\n"), ("utf-8-sig", "\r\n"), ("cp1252", "\r"), ("utf-16", "\n")])
def test_every_line_is_taken_or_refused_with_its_reason(db: Database, mark: str, code: str, end: str) -> None:
    bad = (
        ({"mesh": ""}, "This is needed"),
        ({"mesh": "230"}, "Say the unit of this column"),
        ({"mesh": "1e5/in"}, "is not a number we take"),
        ({"mesh": "9999/in"}, "is the most that would do"),
        ({"thread": "thick"}, "thick"),
        ({"mesh colour": "blue"}, "one of white, dyed"),
        ({"frame": "plastic"}, "one of aluminium, wood, roller"),
        ({"size": "huge"}, "cannot be read as a frame size"),
        ({"stretched": "31.02.2026"}, "cannot be read as a date"),
        ({"stretched": "2999-01-01"}, "is still to come"),
        ({"stretched": "3/4/2025"}, "which number is the day"),
        ({"stage": "ready"}, "an image is on it"),
        ({"stage": "shiny"}, "is not a stage"),
        ({"stage": "retired"}, "left out"),
        ({"stage": "on press"}, "log it at the frame"),
        ({"tension": "500 N/cm"}, "80 N/cm is the most"),
        ({"tension": "25"}, "Say the unit"),
        ({"place": "Nowhere"}, "There is no place"),
        ({"mark": "Ü 0"}, "Line 2 has the mark"),
        ({"uses": "many"}, "many"),
        ({"job": "Nothing"}, "has no job"),
        ({"image": "white"}, "Which job"),
    )
    names = [
        "mark",
        "mesh",
        "thread",
        "mesh colour",
        "frame",
        "size",
        "stretched",
        "stage",
        "tension",
        "place",
        "uses",
        "job",
        "image",
    ]
    lines, wanted = [mark.join(names)], {}
    for number in range(2 * len(bad)):
        row = {
            "mark": f"Ü {number}",
            "mesh": "90/cm",
            "thread": "48,5 um",
            "size": "585 x 790 mm",
            "tension": "24 25,5 N/cm",
            "stretched": "2026-01-09",
            "mesh colour": "white",
            "frame": "alu",
            "uses": "3",
        }
        if number % 2:
            what, reason = bad[number // 2]
            row |= what
            wanted[number + 2] = reason
        said = [f'"{cell}"' if mark in cell else cell for cell in (row.get(name, "") for name in names)]
        lines.append(mark.join(said))
    data = end.join(lines).encode(code)
    found = looked(db, data, units={"mesh": "", "tension": "", "stretched": ""})
    told = {line: " ".join(fault.message for fault in faults) for line, faults in found.faults.items()}
    assert set(told) == set(wanted) and all(reason in told[line] for line, reason in wanted.items()), told
    assert [one.mark for one in found.items] == [f"Ü {number}" for number in range(0, 2 * len(bad), 2)]
    assert all(
        one.stretch["thread_um"] == 48.5 and one.tension["readings_n_per_cm"] == [24.0, 25.5] for one in found.items
    )


# Units and days ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("head", "cell", "unit", "read"),
    [
        ("Mesh", "110", "", None),
        ("Mesh", "110", "/in", "110/in"),
        ("Mesh", "110", "/cm", "110/cm"),
        ("Mesh tpi", "110", "", "110/in"),
        ("Mesh (hilos/cm)", "77", "", "77/cm"),
        ("Mesh", "230", "", "230/in"),
        ("Mesh", "156T", "/in", "156/in"),
        ("Mesh", "77 T", "/cm", "77/cm"),
        ("Mesh", "77/55 Y", "/cm", "77/cm"),
        ("Mesh", "230/in", "", "230/in"),
        ("Mesh", "90 /cm", "/in", "90/cm"),
    ],
)
def test_the_unit_of_bare_counts_is_asked_once_a_column(
    db: Database, head: str, cell: str, unit: str, read: str | None
) -> None:
    found = looked(db, f"{head}\n{cell}\n{cell}\n", units={head: unit} if unit else {})
    assert [one.mesh for one in found.items] == ([read] * 2 if read else [])
    assert len(found.groups) == (0 if read else 1), "once for the column"
    assert found.columns[0].asks == (cell not in ("230/in", "90 /cm"))


@pytest.mark.parametrize(
    ("head", "cell", "unit", "field", "read"),
    [
        ("Thread", "48", "", "thread_um", "48 µm"),
        ("Thread", "1.9", "", "thread_um", "48.26 µm"),
        ("Thread", "0.048", "", "thread_um", "48 µm"),
        ("Size", "23x31", "in", "frame_size_mm", "584.2 x 787.4 mm"),
        ("Size", "58x79", "cm", "frame_size_mm", "580 x 790 mm"),
        ("Size", "585 x 790", "", "frame_size_mm", "585 x 790 mm"),
        ("Tension", "24; 25", "N/cm", "readings_n_per_cm", "24; 25 N/cm"),
        ("Tension (lbf/in)", "14", "", "readings_n_per_cm", "24.5178 N/cm"),
        ("Tension", "24 N/cm", "", "readings_n_per_cm", "24 N/cm"),
    ],
)
def test_bare_numbers_are_read_in_the_unit_of_their_column(
    db: Database, head: str, cell: str, unit: str, field: str, read: str
) -> None:
    found = looked(db, f'Mesh;{head}\n230/in;"{cell}"\n', units={head: unit} if unit else {})
    assert not found.faults and found.items[0].values[field] == read
    if unit:
        asked = looked(db, f'Mesh;{head};zzz\n230/in;"{cell}"\n')
        assert not asked.items and "Say the unit of this column" in asked.groups[0].message


@pytest.mark.parametrize(
    ("text", "order", "wanted"),
    [
        ("2026-03-09", "", date(2026, 3, 9)),
        ("9.3.2026", "", None),
        ("9.3.2026", "day-first", date(2026, 3, 9)),
        ("9/3/26", "month-first", date(2026, 9, 3)),
        ("13/2/2026", "", date(2026, 2, 13)),
        ("2/13/2026", "", date(2026, 2, 13)),
        ("13/2/2026", "month-first", None),
        ("3/3/26", "", date(2026, 3, 3)),
        ("9 Mar 2026", "", date(2026, 3, 9)),
        ("Mar 9, 2026", "", date(2026, 3, 9)),
        ("9 de enero de 2026", "", date(2026, 1, 9)),
        ("31.2.2026", "", None),
        ("soon", "", None),
        ("2026", "", None),
    ],
)
def test_days_as_lists_write_them(text: str, order: str, wanted: date | None) -> None:
    assert dates.day(text, order) == wanted


def test_one_day_past_the_twelfth_tells_the_order_of_its_column(db: Database) -> None:
    assert [one.tension_day for one in looked(db, OFFICE, make_places=True).items] == ["2026-02-03", "2026-02-13"]
    assert (
        dates.order_of(["3/4/26", "13/4/26", "4/13/26"]) == ""
        and dates.order_of(["4/13/26", "1/2/26"]) == "month-first"
    )


# What is written -----------------------------------------------------------------------------------------------------


def test_an_office_list_becomes_frames_with_real_entries(db: Database, shop: Shop) -> None:
    one, two = (find.screen(db, code) for code in brought(db, OFFICE, make_places=True))
    assert (one.life.mark, str(one.life.standing), one.life.mesh.said, one.life.mesh.frame) == (
        "A 1",
        "stripped",
        "230/in · 48 µm",
        "aluminium",
    )
    assert (one.life.mesh.in_use, one.life.mesh.uses_before, one.life.mesh.frame_size_mm) == (True, 4, "584.2 x 787.4")
    assert one.life.tension.minimum_n_per_cm == 24.5 and one.life.tension.at.startswith("2026-02-03T")
    assert (str(two.life.standing), two.life.mesh.in_use, two.life.mesh.uses_before) == ("unknown", False, 0), (
        "never used: new"
    )
    rack = next(one for one in shop.db.execute("SELECT id, name, kind FROM places WHERE name = 'Rack 1'").fetchall())
    assert rack[2] == "rack" and one.life.place == two.life.place == rack[0], "made once, however it is spelled"
    steps = [entry.step for entry in entries.of(db, "screen", one.id)]
    assert steps == ["stretch", "tension", "found", "rack"] and not one.life.conflict
    assert sound.check(db) == []
    shop_acts.rebuild(db)
    assert find.screen(db, str(one.code)).life == one.life and sound.check(db) == []


def test_a_mesh_was_there_when_it_was_measured(db: Database) -> None:
    """The day of stretching told, not told, today; readings without a day of their own are of the day that is said."""
    text = "Mark,Mesh,Tension (N/cm),Tension date,Stretched\n"
    text += (
        "A,230/in,24,2026-01-05,\nB,230/in,24,2026-01-05,2026-01-02\nC,230/in,24,,\nD,230/in,24,2026-01-01,2026-01-02\n"
    )
    kept, found = shops.listed(db, text, measured="2026-02-01")
    assert "before the mesh was stretched" in found.groups[0].message and found.groups[0].lines == (5,)
    lists.take_in(db, me(db), kept.id, now=NOW)
    lives = {one.life.mark: one.life for code in kept_lists.codes_of(db, kept.id) for one in [find.screen(db, code)]}
    days = {mark: (life.mesh.stretched_at[:10], life.tension.at[:10], life.mesh.in_use) for mark, life in lives.items()}
    assert days == {
        "A": ("2026-01-05", "2026-01-05", True),
        "B": ("2026-01-02", "2026-01-05", False),
        "C": ("2026-02-01", "2026-02-01", True),
    }
    assert sound.check(db) == []


def test_a_kept_screen_comes_in_with_its_image(db: Database, shop: Shop) -> None:
    job = shop.job()
    name = {
        number: one.name
        for number, one in shops.stored_jobs.separations(db, shops.stored_jobs.images_of(db, job.id)).items()
    }
    number, image = next(iter(name.items()))
    text = (
        f"Mesh,Job,Image,Status\n230/in,{job.sheet.title.upper()},{image},kept\n230/in,{job.code},{image},\n230/in,{job.code},,kept\n230/in,{job.code},chartreuse,kept\n"
        + f"230/in,{job.code},{image},clean\n"
    )
    kept, found = shops.listed(db, text)
    assert [(one.stage, one.images) for one in found.items] == [("kept", (number,)), ("kept", (number,))], (
        "an image named: it is kept"
    )
    told = [group.message for group in found.groups]
    assert all(
        said in one for said, one in zip(("Which image", "prints no image", "one of the two"), told, strict=True)
    )
    lists.take_in(db, me(db), kept.id, now=NOW)
    first = find.screen(db, kept_lists.codes_of(db, kept.id)[0])
    assert (
        str(first.life.standing) == "kept" and first.life.stencil.separations == (number,) and first.life.stencil.by_eye
    )
    assert sound.check(db) == []
    shop.job(title=job.sheet.title, customer="Another customer")
    assert "Several images are called so" in looked(db, text.replace("kept", "ready")).groups[0].message


def test_a_column_of_no_use_is_left_out_or_kept_in_the_note(db: Database) -> None:
    plain = find.screen(db, brought(db, "Mark;Mesh;Supplier\nA;230/in;North\n")[0])
    assert [entry.step for entry in entries.of(db, "screen", plain.id)] == ["stretch", "found"]
    noted = find.screen(
        db, brought(db, "Mark;Mesh;Supplier;Notes\nB;230/in;North;torn once\n", fields={"Supplier": "note"})[0]
    )
    assert entries.of(db, "screen", noted.id)[-1].values == {"note": "Supplier: North\ntorn once"}


def test_a_line_is_made_once_however_often_it_is_asked_for(db: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    """Broken off in the middle, it goes on where it was; a mark that somebody took meanwhile stays out."""
    text = "Mark,Mesh\n" + "".join(f"M {n},230/in\n" for n in range(55))
    kept, _found = shops.listed(db, text)

    def breaks_off(done: int, _all: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        lists.take_in(db, me(db), kept.id, now=NOW, told=breaks_off)
    half = len(kept_lists.made_by(db, kept.id))
    assert half == lists.FIRST_BATCH and kept_lists.get(db, kept.id).taken_at is None
    again, found = shops.listed(db, text)
    assert again.id == kept.id, "the same file is the same list"
    assert not found.faults and len(found.items) == 55 - half, "what is there is no fault"
    told: list[int] = []
    assert lists.take_in(db, me(db), kept.id, now=NOW, told=lambda done, _all: told.append(done)) == 55
    assert lists.take_in(db, me(db), kept.id, now=NOW) == 55
    assert db.execute("SELECT count(*), count(DISTINCT mark) FROM standings").fetchone() == (55, 55)
    assert told[-1] == 35 and sound.check(db) == []


def test_a_command_that_was_broken_off_goes_on_where_it_was(
    db: Database, commands: Tickets, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed in the middle and typed once more, with an id of its own or without: each line is made once."""
    file = tmp_path / "frames.csv"
    whole = lists.take_in

    def breaks_off(*args: Any, **kwargs: Any) -> int:
        return whole(*args, **{**kwargs, "told": stop})

    def stop(_done: int, _all: int) -> None:
        raise KeyboardInterrupt

    for turn, asked in enumerate(((), ("--entry", "0123456789abcdef0123"))):
        file.write_text("Mark,Mesh\n" + "".join(f"{turn} {n},230/in\n" for n in range(55)))
        monkeypatch.setattr(lists, "take_in", breaks_off)
        assert commands("screen", "import", file).exit_code != 0
        monkeypatch.setattr(lists, "take_in", whole)
        made = db.execute("SELECT list, count(*) FROM list_things GROUP BY list ORDER BY list").fetchall()
        assert made[turn][1] == lists.FIRST_BATCH
        for _sent in ((), asked) if asked else ((),):
            done = commands("screen", "import", file, *asked)
            assert done.exit_code == 0, done.output
        made = db.execute("SELECT list, count(*) FROM list_things GROUP BY list ORDER BY list").fetchall()
        assert [count for _list, count in made] == [55] * (turn + 1)
    assert db.execute("SELECT count(DISTINCT mark), count(*) FROM standings").fetchone() == (110, 110)
    assert sound.check(db) == []


def test_a_mark_that_was_taken_meanwhile_stays_out(db: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    kept, found = shops.listed(db, "Mark,Mesh\nA,230/in\nB,230/in\n")
    brought(db, "Mark,Mesh\nB,90/cm\n")
    monkeypatch.setattr(list_now, "comes_to", lambda *_how: found)  # as it was looked over just before
    assert lists.take_in(db, me(db), kept.id, now=NOW) == 1
    assert [line.cells[0] for line in kept_lists.get(db, kept.id).sheet.lines] == ["B"]


def test_batches_shrink_while_the_lock_is_held_for_long(db: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    kept, _found = shops.listed(db, "Mesh\n" + "230/in\n" * 100)
    ticks = iter(range(10_000))
    monkeypatch.setattr(lists.time, "perf_counter", lambda: next(ticks))  # each takes a second
    told: list[int] = []
    lists.take_in(db, me(db), kept.id, now=NOW, told=lambda done, _all: told.append(done))
    assert told[0] == lists.FIRST_BATCH and told[1] - told[0] == 2 and told[2] - told[1] == 1


def test_the_same_list_is_asked_about_before_it_is_brought_in_once_more(db: Database) -> None:
    brought(db, "Mesh\n230/in\n")
    kept, _found = shops.listed(db, "Mesh\n230/in\n")
    with pytest.raises(Refused, match="brought in before"):
        lists.take_in(db, me(db), kept.id, now=NOW)
    assert lists.take_in(db, me(db), kept.id, now=NOW, again=True) == 1


def test_columns_are_corrected_and_remembered_for_the_next_file(db: Database) -> None:
    """Under the same headings, in any case; a second file of others is proposed anew."""
    kept, found = shops.listed(db, "Nr.,Weave,Was\nA,110,North\n")
    assert found.missing == ("mesh_count_as_labelled",) and not found.items
    right = [Chosen("mark"), Chosen("mesh_count_as_labelled", "/in"), Chosen("note")]
    with pytest.raises(Refused, match="Another column is"):
        lists.choose(db, me(db), kept.id, [*right[:2], right[0]])
    lists.choose(db, me(db), kept.id, right)
    lists.take_in(db, me(db), kept.id, now=NOW)
    again, found = shops.listed(db, "NR,weave,was\nB,156,South\n")
    assert again.columns == tuple(right) and [one.mesh for one in found.items] == ["156/in"]
    assert shops.listed(db, "Nr.,Weave,Is\nC,156,South\n")[0].columns != tuple(right)
    lists.choose(
        db, me(db), again.id, [Chosen("mark", "/in"), Chosen("mesh_count_as_labelled", "furlong"), Chosen("note")]
    )
    assert [one.unit for one in kept_lists.get(db, again.id).columns] == ["", "", ""], "a unit of another thing is none"


def test_faults_are_told_once_a_kind_with_their_lines(db: Database) -> None:
    text = "Mark,Mesh,Place\n" + "".join(f"N {n},{'fine' if n % 3 else '230/in'},Rack {n}\n" for n in range(9))
    groups = looked(db, text).groups
    assert [(group.where, len(group.lines)) for group in groups] == [("place", 9), ("mesh_count_as_labelled", 6)]
    assert groups[1].lines == (3, 4, 6, 7, 9, 10)


def test_the_lines_left_out_come_back_as_a_file_to_mend(db: Database) -> None:
    kept, found = shops.listed(db, OFFICE.replace("A 2;110", "A 2;fine"), make_places=True)
    lists.take_in(db, me(db), kept.id, now=NOW)
    kept = lists.of(db, kept.id)
    rows = list(list_now.refused_rows(kept, list_now.comes_to(db, kept, NOW)))
    assert (
        len(rows) == 2
        and rows[0][-1] == "what is wrong"
        and rows[1][0] == "A 2"
        and "mesh count: “fine”" in rows[1][-1]
    )
    for data in (
        cells.csv_text(rows).replace("fine", "110").encode(),
        cells.xlsx([[cell.replace("fine", "110") for cell in row] for row in rows]),
    ):
        assert [one.mark for one in looked(db, data, fields={"what is wrong": ""}).items] == ["A 2"]


@pytest.mark.parametrize("kind", columns.KINDS)
def test_the_template_is_read_back_column_by_column(db: Database, kind: str) -> None:
    rows = list(list_now.template_rows(kind))
    for data in (cells.csv_text(rows).encode(), cells.xlsx(rows)):
        kept, found = shops.listed(db, data, kind=kind, make_places=True)
        assert [one.field for one in kept.columns] == [field.name for field in columns.KINDS[kind]]
        wrong = {fault.where for faults in found.faults.values() for fault in faults}
        assert wrong <= {"job", "stage", "tension_on"}, "but for what another shop does not have"


# People, places ------------------------------------------------------------------------------------------------------


def test_people_and_places_come_in_the_same_way(db: Database) -> None:
    kept, found = shops.listed(
        db, "Nombre;Puesto\nAna Ruiz;impresora\nLuz;Gerente\nAda Holm;press\nEva;baker\nana ruiz;press\n", kind="people"
    )
    assert found.by_mesh == {"press crew": 1, "manager": 1}
    assert [group.lines for group in found.groups] == [(4,), (5,), (6,)]
    assert lists.take_in(db, me(db), kept.id, now=NOW) == 2
    assert (
        shops.stored_people.find(db, "Ana Ruiz").role == "press" and shops.stored_people.find(db, "luz").secret is None
    )
    places.add(db, me(db), "Rack 1", "rack", post=fresh(), now=NOW)
    kept, found = shops.listed(
        db,
        "Place,Type,Heads,Outside\nRack 1,shelf,,\nRack 2,shelf,,\nAuto 8,press,8,\nStore,rack,,yes\nBig,press,99,\n",
        kind="places",
    )
    assert [group.lines for group in found.groups] == [(2,), (6,)]
    assert lists.take_in(db, me(db), kept.id, now=NOW) == 3 and len(kept_lists.codes_of(db, kept.id)) == 3
    rows = {row[0]: row[1:] for row in db.execute("SELECT name, kind, heads, outside FROM places").fetchall()}
    assert rows["Auto 8"] == ("press", 8, 0) and rows["Store"] == ("rack", None, 1)


@pytest.mark.parametrize(
    ("name", "kinds"),
    [
        ("Ada Holm", {"frames", "places"}),
        ("Bo Lind", set()),
        ("Cy Marsh", {"places"}),
        ("Di Novak", {"frames", "people", "places"}),
    ],
)
def test_who_brings_in_what(
    db: Database, shop: Shop, client: FlaskClient, sign_in: SignIn, name: str, kinds: set[str]
) -> None:
    lines = {"frames": "Mesh\n230/in\n", "people": "Name,Role\nEva,press\n", "places": "Name,Kind\nRack 9,rack\n"}
    phone = sign_in(client, name)
    for kind, text in lines.items():
        answer = phone.post("/bring", data={"kind": kind, "list": text})
        assert answer.status_code == (303 if kind in kinds else 403), kind
        number = lists.send(db, me(db), kind, "", cells.pasted(text), now=NOW)
        for path in (f"/bring/{number}", f"/bring/{number}/left-out"):
            assert phone.get(path).status_code == (200 if kind in kinds else 403)
        with pytest.raises(NotAllowed) if kind not in kinds else shops.nothing():
            lists.choose(db, shop.actor(name), number, [Chosen()])


# Pages, tags, commands -----------------------------------------------------------------------------------------------


def test_every_tag_of_a_list_is_printed_in_parts(
    db: Database,
    client: FlaskClient,
    sign_in: SignIn,
    monkeypatch: pytest.MonkeyPatch,
    commands: Tickets,
    tmp_path: Path,
) -> None:
    """Never the first of them without a word."""
    from web import bring, printing

    monkeypatch.setattr(printing, "MOST_TAGS", 3)
    monkeypatch.setattr(bring, "MOST_TAGS", 3)
    codes = brought(db, "Mark,Mesh\n" + "".join(f"T {n},230/in\n" for n in range(7)))
    phone = sign_in(client, "Ada Holm")
    page = phone.get("/bring/1").text
    parts = re.findall(r'href="/print/tags\?list=1&amp;part=(\d)">\s*Print tags (\d) to (\d)', page)
    assert parts == [("1", "1", "3"), ("2", "4", "6"), ("3", "7", "7")]
    for part, first, last in parts:
        assert f"Print {int(last) - int(first) + 1} tag" in phone.get(f"/print/tags?list=1&part={part}").text
        sent = phone.post("/print/tags", data={"list": "1", "part": part, "label": "100x50mm", "anyway": "yes"})
        assert sent.mimetype == "application/pdf"
    printed = [row[0] for row in db.execute("SELECT code FROM printed ORDER BY id")]
    assert printed == codes
    done = commands("print", "tags", "--import", "1", "--anyway", "--out", str(tmp_path / "tags.pdf"), "--json")
    assert len(json.loads(done.stdout)["printed"]) == 7
    assert commands("print", "tags", "--import", "9", "--out", str(tmp_path / "t.pdf")).exit_code == 2
    assert phone.get("/print/tags?list=9").status_code == 404


def test_the_page_asks_shows_and_writes_nothing_before_it_is_told(
    db: Database, client: FlaskClient, sign_in: SignIn
) -> None:
    phone = sign_in(client, "Ada Holm")
    assert "/bring?kind=frames" in phone.get("/screens").text, "found from the first page of an empty inventory"
    assert 'href="/bring"' in phone.get("/more").text
    assert phone.post("/bring", data={"kind": "frames"}).status_code == 422
    text = "Mark;Mesh;Tension;Place\nA;110;25;Rack 4\nB;fine;25;\n"
    where = phone.post("/bring", data={"kind": "frames", "file": (io.BytesIO(text.encode()), "frames.csv")}).location
    page = phone.get(where).text
    assert page.count("in which unit?") == 2 and "Bring in 1" not in page and "2 lines make nothing" in page
    chosen = {"column-1": "mesh_count_as_labelled", "unit-1": "/in", "unit-2": "N/cm", "make_places": "make_places"}
    assert phone.post(f"{where}/columns", data={"column-0": "mesh_count_as_labelled"}).status_code == 422
    shown = phone.post(f"{where}/take", data=chosen)
    assert "Nothing was written yet" in shown.text and db.execute("SELECT count(*) FROM screens").fetchone() == (0,)
    assert "Bring in 1 frame, leave out 1 line" in shops.said(shown.text) and "110/in: 1" in shown.text
    assert "<select" not in dark(phone, where) and 'type="radio" name="unit-1" value="/in" checked' in dark(
        phone, where
    )
    assert phone.post(f"{where}/take", data=chosen).status_code == 303
    after = phone.get(where).text
    assert "1 frame brought in" in shops.said(after) and "1 line makes nothing" in after
    left = list(csv.reader(io.StringIO(phone.get(f"{where}/left-out?as=csv").get_data(as_text=True).lstrip("\ufeff"))))
    assert [row[0] for row in left] == ["Mark", "B"]
    assert "1 frame " in shops.said(phone.get("/bring").text)
    assert phone.get("/bring/99").status_code == 404 and phone.get("/bring/template/none.csv").status_code == 404


def dark(phone: FlaskClient, path: str) -> str:
    phone.post("/view", data={"next": "/", "view": "safelight"})
    text = phone.get(path).text
    phone.post("/view", data={"next": "/", "view": "day"})
    return text


def test_the_command_does_the_same(db: Database, commands: Tickets, tmp_path: Path) -> None:
    file = tmp_path / "frames.csv"
    file.write_text("Mark;Mesh;Weight\nA;110;1\nB;fine;2\n")
    asked = commands("screen", "import", str(file), "--check")
    assert asked.exit_code == 2 and "Say the unit of this column" in asked.stderr
    columns_said = ("--columns", "Mesh=mesh_count_as_labelled:/in", "--columns", "Weight=note")
    told = commands("screen", "import", str(file), "--check", *columns_said)
    assert "1 frame would be made; nothing was written. 110/in: 1" in told.stdout and "line 3" in told.stderr
    assert commands("screen", "import", str(file), *columns_said).exit_code == 2, "all or none unless --leave-out"
    assert db.execute("SELECT count(*) FROM screens").fetchone() == (0,)
    out = tmp_path / "left.csv"
    how = (*columns_said, "--leave-out", "--refused", str(out), "--entry", "a-sender-of-its-own-1", "--json")
    done = commands("screen", "import", str(file), *how)
    made = json.loads(done.stdout)
    assert done.exit_code == 0 and len(made["frames"]) == 1 and "B,fine,2" in out.read_text("utf-8-sig")
    again = json.loads(commands("screen", "import", str(file), *how).stdout)
    assert [one["code"] for one in again["frames"]] == [one["code"] for one in made["frames"]], "sent twice, done once"
    file.write_text("Mark;Mesh\nC;90/cm\n")
    assert commands("screen", "import", str(file), "--entry", "a-sender-of-its-own-1").exit_code == 2
    for wrong in ("Nothing=mark", "Mesh=colour", "Mesh=mesh_count_as_labelled:kg"):
        assert commands("screen", "import", str(file), "--columns", wrong).exit_code == 2
    file.write_text("Name,Role\nEva,press\n")
    assert commands("person", "import", str(file)).exit_code == 0 and shops.stored_people.find(db, "Eva")
    file.write_text("Name,Kind\nRack 5,shelf\n")
    assert commands("place", "import", str(file)).exit_code == 0 and sound.check(db) == []


@pytest.mark.browser
def test_from_an_empty_shop_to_printed_tags(phone: Any, sign_in_page: Any, db: Database, tmp_path: Path) -> None:
    """A spreadsheet with headings of its own, in a browser: two questions, one yes, all tags in one file."""
    file = tmp_path / "frames.xlsx"
    file.write_bytes(workbook([["Nr", "Mesh", "Tension", "Shelf"], ["A", 110, 24, "S 1"], ["B", 156, 25, "S 2"]]))
    sign_in_page(phone, "Di Novak")
    phone.goto("/screens")
    phone.get_by_role("link", name="Bring in a list of frames").click()
    phone.set_input_files("#file", str(file))
    with answered(phone):
        phone.get_by_role("button", name="Show what would be made").click()
    phone.get_by_label("Unit of “Mesh”").select_option("/in")
    phone.get_by_label("Unit of “Tension”").select_option("N/cm")
    phone.get_by_label("make them, as racks").check()
    with answered(phone):
        phone.get_by_role("button", name="Read it so").click()
    assert "2 frames would be made" in phone.inner_text("main") and "110/in: 1" in phone.inner_text("main")
    with answered(phone):
        phone.get_by_role("button", name="Bring in 2 frames").click()
    with answered(phone):
        phone.get_by_role("link", name="Print all 2 tags").click()
    phone.get_by_label("Make the PDF anyway").check()
    with phone.expect_download() as came:
        phone.get_by_role("button", name="Make the PDF").click()
    assert Path(came.value.path()).read_bytes().startswith(b"%PDF")
    assert db.execute("SELECT count(*) FROM printed").fetchone() == (2,) and screens.by_mark(db, "A")
