"""Job files: the samples are read, the broken ones are refused with the very words that stand in their first lines."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tickets.calculator.kinds import INKS
from tickets.domain.jobs.job import Job, origins_first, read_file, read_files, repeated, to_toml
from tickets.domain.jobs.job_file import toml_data
from tickets.domain.jobs.job_reading import read
from tickets.domain.refusal import Refused

SAMPLES = Path(__file__).parent.parent / "sample_jobs"
GOOD = sorted(SAMPLES.glob("*.toml"))
BROKEN = sorted((SAMPLES / "broken").glob("*.toml"))
MARK = "# refused: "

PLAIN = """
title = "Heron tees"
customer = "Saltmarsh Chapel"
due = 2026-12-15
{more}
[art]
name = "Heron"
revision = "1"
{art}
[[garment]]
style = "Heavy tee"
colour = "black"
pieces = 40
fibre = {{ cotton = 100 }}

[[placement]]
name = "Full front"
width = "300 mm"

[[placement.station]]
does = "print"
colour = "white"
ink = "plastisol"
mesh = {{ count = "156/in", thread = "64 um" }}
"""


def written(folder: Path, name: str = "heron.toml", more: str = "", art: str = "") -> Path:
    path = folder / name
    path.write_text(PLAIN.format(more=more, art=art), encoding="utf-8")
    return path


def said(path: Path) -> list[str]:
    with pytest.raises(Refused) as refused:
        read_file(path)
    return [str(fault) for fault in refused.value.faults]


@pytest.mark.parametrize("path", BROKEN, ids=lambda path: path.stem)
def test_a_broken_sample_is_refused_as_it_says(path: Path) -> None:
    lines = path.read_bytes().decode("utf-8", "replace").splitlines()
    expected = [f"{path.name}: {line.removeprefix(MARK)}" for line in lines if line.startswith(MARK)]
    assert expected, "a broken sample says what is wrong with it"
    assert said(path) == expected


def test_there_are_samples_of_every_trouble() -> None:
    assert len(BROKEN) >= 12


@pytest.mark.parametrize("path", GOOD, ids=lambda path: path.stem)
def test_a_sample_is_read_and_written_back_the_same(path: Path, tmp_path: Path) -> None:
    job = read_file(path)
    copy = tmp_path / path.name
    copy.write_text(to_toml(job), encoding="utf-8")
    if job.art.picture:
        (tmp_path / job.art.picture).write_bytes((SAMPLES / job.art.picture).read_bytes())
    assert read_file(copy) == job


def test_the_samples_show_what_a_shop_prints() -> None:
    samples = read_files(GOOD)
    stations = [
        (job, placement, station) for job in samples for placement in job.placements for station in placement.printing
    ]
    inks = {station.ink for _job, _placement, station in stations}
    assert {"discharge", "plastisol", "water-base", "low-cure plastisol"} <= inks <= set(INKS)
    assert any(station.flake_um for _job, _placement, station in stations)
    assert any(station.halftone for _job, _placement, station in stations)
    assert any(len(job.placements) > 1 for job in samples)
    assert any(len(job.colourways) > 1 for job in samples)
    assert any(job.art.picture for job in samples)
    assert any(repeated(place, samples) is not None for place in range(len(samples)))
    names = "".join(job.customer + job.art.name for job in samples)
    for alphabet in ("ąćęłńóśźż", "αβγδεηικλμνοπρστυω", "абвгдеиклмнопрстуя"):
        assert any(letter in names.casefold() for letter in alphabet)


def test_the_picture_of_the_samples_is_small() -> None:
    for picture in SAMPLES.glob("*.png"):
        assert picture.stat().st_size < 20_000


def test_the_file_may_begin_with_a_mark_and_end_its_lines_as_windows_does(tmp_path: Path) -> None:
    path = written(tmp_path)
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert read_file(path).title == "Heron tees"


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ('title = "a"\nname == 3\n', "Line 2, column 7"),
        ('title = "a"\ntitle = "b"\n', "Line 2, column"),
        ('title = """never closed\n\n\n', "Line 1, column 24"),
        ("x = " + "[" * 5000, "Line 1, column"),
    ],
)
def test_what_is_not_toml_is_refused_with_line_and_column(tmp_path: Path, text: str, place: str) -> None:
    path = tmp_path / "x.toml"
    path.write_text(text)
    (fault,) = said(path)
    assert fault.startswith(f"x.toml: {place}")


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    assert said(tmp_path / "none.toml") == ["none.toml: There is no such file."]
    (only,) = said(tmp_path)
    assert "cannot be read" in only
    large = tmp_path / "large.toml"
    large.write_bytes(b"#" * 1_000_001)
    assert said(large) == ["large.toml: This is too large for a job: at most 1 MB."]


@pytest.mark.parametrize("head", [b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff\xe0"])
def test_a_picture_is_known_by_its_first_bytes(tmp_path: Path, head: bytes) -> None:
    """The signatures of PNG (W3C PNG specification, 5.2) and of a JPEG stream (ISO/IEC 10918-1, SOI marker)."""
    (tmp_path / "heron.picture").write_bytes(head + b"more")
    assert read_file(written(tmp_path, art='picture = "heron.picture"')).art.picture == "heron.picture"


@pytest.mark.parametrize("name", ["../heron.png", "/etc/hostname", "a/b.png", "..", "C:\\\\x.png"])
def test_a_picture_elsewhere_is_not_looked_at(tmp_path: Path, name: str) -> None:
    (only,) = said(written(tmp_path, art=f'picture = "{name}"'))
    assert only.startswith("heron.toml: art.picture: ")


def test_a_missing_picture_is_told_together_with_the_rest(tmp_path: Path) -> None:
    found = said(written(tmp_path, more='colour = "x"', art='picture = "heron.png"'))
    assert [fault.split(": ")[1] for fault in found] == ["colour", "art.picture"]


def test_all_files_or_none_with_the_faults_of_all(tmp_path: Path) -> None:
    good = written(tmp_path, "good.toml")
    bad = [written(tmp_path, f"{name}.toml", more="nonsense = 1") for name in ("one", "two")]
    with pytest.raises(Refused) as refused:
        read_files([bad[0], good, bad[1]])
    assert [fault.where for fault in refused.value.faults] == ["one.toml: nonsense", "two.toml: nonsense"]


def test_one_call_holds_a_reference_once_for_a_customer(tmp_path: Path) -> None:
    paths = [written(tmp_path, f"{name}.toml", more='reference = "SC-4"') for name in ("one", "two")]
    with pytest.raises(Refused, match="two.toml: reference"):
        read_files(paths)


def chain(folder: Path, *links: tuple[str, str]) -> list[Path]:
    return [
        written(folder, f"{reference}.toml", more=f'reference = "{reference}"\nrepeats = "{repeats}"')
        for reference, repeats in links
    ]


def test_a_repeat_may_name_a_job_of_the_same_call(tmp_path: Path) -> None:
    samples = read_files(chain(tmp_path, ("C", "b"), ("B", "A"), ("A", ""), ("D", "elsewhere")))
    assert [job.reference for job in samples] == ["C", "B", "A", "D"]
    assert repeated(0, samples) == 1 and repeated(3, samples) is None
    assert [samples[place].reference for place in origins_first(samples)] == ["A", "B", "C", "D"]


def test_a_repeat_is_of_its_own_customer_first(tmp_path: Path) -> None:
    theirs = read_file(written(tmp_path, more='reference = "A"'))
    others = dataclasses.replace(theirs, customer="Somebody else")
    repeat = dataclasses.replace(theirs, reference="", repeats="a")
    among: list[Job] = [others, theirs, repeat]
    assert repeated(2, among) == 1 and repeated(1, [others, repeat]) == 0


def test_jobs_that_repeat_one_another_are_refused(tmp_path: Path) -> None:
    with pytest.raises(Refused) as refused:
        read_files(chain(tmp_path, ("A", "B"), ("B", "A")))
    assert [fault.where for fault in refused.value.faults] == ["A.toml: repeats", "B.toml: repeats"]


def test_a_job_that_repeats_jobs_in_a_ring_can_still_be_ordered(tmp_path: Path) -> None:
    a, b = (read_file(path) for path in chain(tmp_path, ("A", "B"), ("B", "A")))
    assert sorted(origins_first([a, b])) == [0, 1]


def places_in(data: Any, at: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The way to each value of a file, and to each table of it."""
    for key, value in data.items() if isinstance(data, dict) else enumerate(data):
        yield (*at, key)
        if isinstance(value, (dict, list)):
            yield from places_in(value, (*at, key))


def test_a_number_without_end_is_refused_wherever_it_stands() -> None:
    """More digits than a float holds, and more than Python prints; in the place of any value, and of any table."""
    for file in GOOD:
        for at in places_in(toml_data(file.read_text("utf-8"), "")):
            held = data = toml_data(file.read_text("utf-8"), "")
            for key in at[:-1]:
                held = held[key]
            held[at[-1]] = 16**5000
            with pytest.raises(Refused) as refused:
                read(data)
            assert max(len(fault.message) for fault in refused.value.faults) < 400, at


@pytest.mark.parametrize("number", [10**400, -(10**400), 10**15, -(10**15)], ids=["400", "-400", "16", "-16"])
def test_what_nothing_is_counted_in_is_no_text(number: int) -> None:
    with pytest.raises(Refused, match="title: This must be text between quotes"):
        read(toml_data(GOOD[0].read_text("utf-8"), "") | {"title": number})


@pytest.mark.parametrize("text", ["9" * 14, "0x" + "f" * 8])
def test_the_number_of_a_box_is_text_without_quotes_too(text: str) -> None:
    data = toml_data(GOOD[0].read_text("utf-8"), "")
    data["placement"][0]["station"][0]["series"] = toml_data(f"series = {text}", "")["series"]
    assert read(data).placements[0].stations[0].series == str(int(text, 0))


def test_a_table_inside_a_thousand_others_is_no_such_key() -> None:
    text = GOOD[0].read_text("utf-8") + "\n" + ".".join(["a"] * 3_000) + " = 1\n"
    with pytest.raises(Refused):
        read(toml_data(text, ""))
