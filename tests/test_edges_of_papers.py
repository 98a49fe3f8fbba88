"""What a customer reads of a print, line by line: what changed, what is the same, what nobody knows."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from test_repeat import SCREENS, TEE, job, run

from tickets.calculator.colour import Lab
from tickets.calculator.verdict import Level, Reason, judge
from tickets.domain.papers.customer_sheet import CustomerSheet, customer_sheet, first_sheet
from tickets.domain.papers.ticket import job_ticket
from tickets.domain.runs.as_run import AsRun
from tickets.domain.runs.comparison import ColourOf, ComparedLine

HOOD = {**TEE, "style": "Hood", "pieces": 20, "lot": "H1"}
WAS = run(7, day="2026-01-03")
NOW = run(12, day="2026-03-09")
LAB = {"lab": {"1": [92, 0, 2], "3": [45, 60, 35]}, "lab_conditions": "D50, 2°, M1, bench"}


def sheet(*lines: ComparedLine, before: AsRun = WAS, after: AsRun = NOW, **more: Any) -> CustomerSheet:
    ticket = job_ticket(after.job, "7K32XM", "http://192.168.1.20:8600")
    return customer_sheet(ticket, before, after, "", lines, more.pop("colours", ()), **more)


def line(what: str, a: str, b: str, station: int = 0, differs: bool | None = True, **more: Any) -> ComparedLine:
    return ComparedLine(station, more.pop("title", "red"), what, a, b, differs, **more)


@pytest.mark.parametrize(
    ("one", "said"),
    [
        (line("press", "A", "B"), "Last time it was printed on another press."),
        (line("order", "", "3", 3), "New in the print: red."),
        (line("order", "3", "", 4), "Not in the print any more: red."),
        (line("order", "2", "3", 3), "Position 2, red, is now position 3."),
        (line("strokes", "2", "3", 1), "Strokes, white: 3 instead of 2."),
        (line("time", "6 s", "7 s", 2), "Flash or cool-down time, position 2: 7 s instead of 6 s."),
        (line("hold", "60 s", "80 s", title=""), "Held at the peak: 80 s instead of 60 s."),
        (line("strokes", "2", "3", 9), "Strokes, red: 3 instead of 2."),
    ],
)
def test_what_changed_in_plain_words(one: ComparedLine, said: str) -> None:
    assert sheet(one).changed == (said,)
    for other in (replace(one, differs=False), replace(one, differs=None), replace(one, doubted=True)):
        assert sheet(other).changed == ()


@pytest.mark.parametrize(("lines", "same", "unknown"), [
    ([line("strokes", "2", "2", 1, False)], "The same as before: strokes.", ""),
    ([line("strokes", "2", "2", 1, False), line("hold", "9 s", "9 s", 0, False)],
     "The same as before: strokes, dryer.", ""),
    ([line("strokes", "2", "", 1, None)], "", "strokes."), ([line("strokes", "", "", 1, None)], "", ""),
    ([line("strokes", "2", "2", 1, False), line("flood", "", "on", 1, None)], "The same as before: strokes.", "flood."),
    ([line("strokes", "2", "2", 1, False), line("flood", "on", "off", 1)], "", ""),
    ([line("hold", "9 s", "9 s", 0, False, doubted=True)], "", "dryer."),
    ([line("hold", "9 s", "9 s", 0, False), line("peak_how", "probe", "", 0, None)], "The same as before: dryer.", ""),
    ([line("ink", "x", "x", 1, False)], "The same as before: ink colour and kind.", "")])  # fmt: skip
def test_what_is_the_same_and_what_nobody_knows(lines: list[ComparedLine], same: str, unknown: str) -> None:
    found = sheet(*lines)
    assert found.same == same and found.not_compared.endswith(unknown) and bool(found.not_compared) == bool(unknown)


@pytest.mark.parametrize(("good", "said"), [
    ({}, ["Heavy tee, navy, 100 % cotton: 100 ordered"]),
    ({"Heavy tee, navy": 90}, ["Heavy tee, navy, 100 % cotton: 90 printed, 100 ordered"]),
    ({"": 90}, ["Heavy tee, navy, 100 % cotton: 90 printed, 100 ordered"]),
    ({"": 5, "Heavy tee, navy": 90}, ["Heavy tee, navy, 100 % cotton: 95 printed, 100 ordered"]),
    ({"Hood, red": 5}, ["Heavy tee, navy, 100 % cotton: 0 printed, 100 ordered"])])  # fmt: skip
def test_how_many_were_printed_of_how_many(good: dict[str, int], said: list[str]) -> None:
    assert [text for name, text in sheet(good=good).facts if name == "Garment"] == said
    two = run(12, job(garment=[TEE, {**TEE, "lot": "L8", "pieces": 7}, HOOD]), day="2026-03-09")
    facts = [text for name, text in sheet(after=two, good=good).facts if name == "Garment"]
    assert len(facts) == 2 and facts[0].endswith("107 ordered") and ("printed" in facts[0]) == bool(good)
    if good == {"": 90}:
        assert ": 0 printed" in facts[0], "of which of two garments nobody said"


def test_print_artwork_and_approval_are_said() -> None:
    facts = dict(sheet().facts)
    assert facts["Print"] == "Front, 300 mm × 250 mm" and facts["Artwork"] == "Gull, revision 2"
    assert facts["Approved"] == "by the customer, 2026-03-09"
    bare = run(12, job(placement__0__from="the collar"), approved=None)
    told = dict(sheet(after=bare).facts)
    assert "Approved" not in told and told["Print"].endswith(", from the collar")
    assert sheet().headings == ("Print of 2026-01-03", "Print of 2026-03-09")


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({}, []),
        ({"screen": 99}, ["Another screen than last time printed: white."]),
        ({"screen": 99, "made_at": "2026-02-01T00:00"}, ["A new screen was made for: white."]),
        ({"made_at": "2026-02-01T00:00"}, ["A new screen was made for: white."]),
        ({"made_at": "2025-12-01T00:00"}, []),
    ],
)
def test_a_screen_is_new_by_its_stencil(more: dict[str, Any], said: list[str]) -> None:
    after = replace(NOW, screens={**SCREENS, 1: replace(SCREENS[1], **more)})
    before = replace(WAS, approved={"at": "2026-01-03T09:00", "approved_as": "customer"})
    assert list(sheet(before=before, after=after).changed) == said
    lines = (line("art", "1", "2"), line("strokes", "2", "3", 1))
    found = sheet(*lines, before=before, after=after).changed
    assert list(found[1:-1]) == said, "behind the artwork, before the strokes"
    assert list(sheet(before=replace(before, screens={}), after=after).changed) == (
        said if "new" in "".join(said) else []
    )


@pytest.mark.parametrize(("difference", "level", "word", "stop"), [
    (0.3, Level.OK, "The same to the eye", False), (1.5, Level.CAUTION, "A slight difference", False),
    (4.0, Level.STOP, "STOP: a clear difference", True), (None, Level.UNKNOWN, "Not compared", False)])  # fmt: skip
def test_a_colour_in_words(difference: float | None, level: Level, word: str, stop: bool) -> None:
    verdict = judge([Reason("colour-conditions-unknown", level)])
    read = ColourOf(3, Lab(45, 60, 35), Lab(48, 60, 30), difference, verdict)
    (told,) = sheet(colours=[read], after=replace(NOW, approved=LAB)).colours
    assert (told.name, told.ink, told.word, told.stop) == ("red", "plastisol, Guide C 44", word, stop)
    assert ("ΔE00" in told.said) == (difference is not None) and ("; " in told.said) == (
        level in (Level.CAUTION, Level.STOP)
    )
    assert ("Nobody noted" in told.said) == (difference is None)
    drift = line("drift", "", "", 3, False, by_how_much="ΔE00 2", day="2025-05-01", run=1)
    (told,) = sheet(drift, colours=[read]).colours
    assert told.drift == "from the first measured print, 2025-05-01: ΔE00 2"
    assert sheet(replace(drift, by_how_much=""), colours=[read]).colours[0].drift == ""


def test_a_first_print_shows_its_colours_as_they_were_read() -> None:
    ticket = job_ticket(NOW.job, "7K32XM", "http://192.168.1.20:8600")
    found = first_sheet(ticket, replace(NOW, approved=LAB))
    assert [(one.name, bool(one.now.said), bool(one.before.said)) for one in found.colours] == [
        ("white", True, False), ("red", True, False)]  # fmt: skip
    assert found.first and "D50, 2°, M1" in found.notes[0] and len(found.notes) == 2
    assert first_sheet(ticket, NOW).notes == ("No colour was measured.",)
    assert sheet().notes == ("No colour was measured, so none is compared.",)


def test_colours_that_nobody_read_are_named_where_others_were() -> None:
    read = ColourOf(3, Lab(45, 60, 35), Lab(45, 60, 35), 0.0, judge([Reason("colour-close", Level.OK)]))
    assert sheet(colours=[read]).not_compared == "Colour not measured, so not compared: white."
    assert sheet(colours=[read, replace(read, station=1)]).not_compared == sheet().not_compared == ""
