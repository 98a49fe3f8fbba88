"""Printing out of a shop: what the tickets say is what the shop knows, every QR is read back by another reader
(zxing-cpp on pages rendered by pdfium), and what was printed is kept.

The address rules are the project's own (design: unset or loopback refused, another machine's printed with a warning).
"""

from __future__ import annotations

import re
import socket
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp
from shop import repeat_of
from sqlite_utils import Database

from tickets.actions import buckets, hanging, jobs, noting, pictures, places, printing, run_papers, runs, screens, shop
from tickets.domain.code import shown
from tickets.domain.jobs import job as sheets
from tickets.domain.papers.ticket import JobTicket, ScreenTag, from_dict
from tickets.domain.person import Actor
from tickets.domain.posted import form
from tickets.domain.refusal import NotAllowed, NotFound, Refused
from tickets.queries import addresses, find, tickets
from tickets.store import buckets as stored_buckets
from tickets.store import jobs as stored_jobs
from tickets.store import pictures as stored_pictures
from tickets.store import printed

NOW = datetime(2026, 3, 9, 22, 30, tzinfo=UTC)
LAN = "http://192.168.44.20:8600"
SAMPLES = Path(__file__).parent.parent / "sample_jobs"
_posts = iter(range(10**6))


def post() -> str:
    return f"printing-test-{next(_posts):08d}"


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Database]:
    """A shop on a machine whose only address is that of LAN."""
    monkeypatch.setattr(addresses, "own_addresses", lambda: {"192.168.44.20", "workshop"})
    monkeypatch.setattr(addresses, "_addresses_of", lambda name: set())
    db = shop.open_shop(tmp_path / "shop", NOW - timedelta(days=2))
    shop.set_up(db, me(db), "shop", "Gull & Anchor", now=NOW)
    yield db
    db.close()


def me(db: Database) -> Actor:
    return shop.command_line(db, NOW)


def screen(db: Database, mark: str = "A 12") -> str:
    fields = form({"mesh_count_as_labelled": "230/in", "thread_um": "48 um", "frame": "aluminium", "mark": mark})
    return screens.add(db, me(db), fields, post=post(), now=NOW)[0]


def read(pdf: bytes) -> tuple[str, list[str]]:
    """The text of all pages, and what their QR codes hold."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        text, held = "", []
        for page in document:
            text += page.get_textpage().get_text_bounded()
            held += [found.text for found in zxingcpp.read_barcodes(page.render(scale=200 / 72).to_pil())]
        return text, held
    finally:
        document.close()


def test_tags_lead_to_their_things(here: Database) -> None:
    printing.set_address(here, me(here), LAN, now=NOW)
    codes = [
        screen(here),
        places.add(here, me(here), "Rack 3", "rack", post=post(), now=NOW),
        buckets.mix(here, me(here), form({"kind": "diazo emulsion", "product": "Tern 20"}), post=post(), now=NOW),
    ]
    made = printing.print_tags(here, me(here), codes, now=NOW)
    text, held = read(made.pdf)
    assert sorted(set(held)) == sorted(f"{LAN}/t/{code}" for code in codes)
    assert len(held) == 6  # two codes on a label of 100 x 50 mm
    assert made.warnings == () and len(made.numbers) == 3
    for said in (*map(shown, codes), "A 12", "230/in", "48 µm", "Rack 3", "Tern 20", "Gull & Anchor"):
        assert said in text, said
    assert "DEMO" not in text


def test_a_day_is_the_shops_day(here: Database) -> None:
    """23:30 UTC is half past midnight in Warsaw in March, UTC+1 (tz database)."""
    printing.set_address(here, me(here), LAN, now=NOW)
    shop.set_up(here, me(here), "zone", "Europe/Warsaw", now=NOW)
    code = screen(here)
    printing.print_tags(here, me(here), [code], now=NOW + timedelta(hours=1))
    assert printed.of(here, code)[0]["says"]["printed_on"] == "2026-03-10"


def test_the_address_decides(here: Database) -> None:
    code = screen(here)
    with pytest.raises(Refused, match="The QR codes have no address to lead to"):
        printing.print_tags(here, me(here), [code], now=NOW)
    assert printed.of(here, code) == []
    anyway = printing.print_tags(here, me(here), [code], now=NOW, anyway=True)
    assert anyway.warnings and printed.of(here, code)[0]["address"] == "http://127.0.0.1:8600"

    assert "itself" in printing.set_address(here, me(here), "http://localhost:8600", now=NOW)[0]
    with pytest.raises(Refused, match="itself"):
        printing.print_tags(here, me(here), [code], now=NOW)

    assert printing.set_address(here, me(here), LAN, now=NOW) == ()
    assert printing.print_tags(here, me(here), [code], now=NOW).warnings == ()

    (warning,) = printing.set_address(here, me(here), "http://192.168.44.21", now=NOW)
    assert "not one of this machine" in warning
    assert printing.print_tags(here, me(here), [code], now=NOW).warnings == (warning,)

    longest = "http://" + "a" * (46 - len("/t/7K32XM") - len("http://"))  # ISO/IEC 18004: 46 bytes in version 4-Q
    printing.set_address(here, me(here), longest, now=NOW)
    with pytest.raises(Refused, match="too long"):
        printing.set_address(here, me(here), longest + "a", now=NOW)
    assert shop.setting(here, "address") == longest
    with pytest.raises(NotAllowed):
        printing.set_address(here, Actor(1, "Bo Lind", "press"), LAN, now=NOW)


def test_a_name_that_leads_here_is_this_machines(here: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(addresses, "_addresses_of", lambda name: {"192.168.44.20"} if name == "tickets.gull" else set())
    assert printing.set_address(here, me(here), "http://tickets.gull", now=NOW) == ()
    assert printing.set_address(here, me(here), "http://tickets.tern", now=NOW)


def test_this_machine_knows_its_own_address() -> None:
    own = addresses.own_addresses()
    assert socket.gethostname().lower() in own
    lan = addresses.lan_address()
    assert lan is None or lan in own


def test_the_demo_prints_its_own_address(here: Database) -> None:
    shop.set_up(here, me(here), "demo", True, now=NOW)
    printing.set_address(here, me(here), "http://127.0.0.1:8600", now=NOW)
    made = printing.print_tags(here, me(here), [screen(here)], now=NOW)
    text, held = read(made.pdf)
    assert made.warnings == () and "DEMO" in text and held[0].startswith("http://127.0.0.1:8600/t/")


def test_all_that_is_wrong_with_the_codes_is_said_and_nothing_is_kept(here: Database) -> None:
    printing.set_address(here, me(here), LAN, now=NOW)
    good = screen(here)
    (job,) = jobs.add(here, me(here), [sheets.read_file(SAMPLES / "harbour-lights.toml")], post=post(), now=NOW)
    with pytest.raises(Refused) as refused:
        printing.print_tags(here, me(here), [good, job, "7K32XM", "nothing"], now=NOW)
    assert len(refused.value.faults) == 3
    assert printed.of(here, good) == []
    with pytest.raises(Refused, match="not a place"):
        printing.print_place(here, me(here), good, now=NOW)
    with pytest.raises(Refused, match="label"):
        printing.print_tags(here, me(here), [good], now=NOW, label="8x8mm")
    assert printed.of(here, good) == []


def test_a_discarded_bucket_is_asked_about_and_its_label_says_so(here: Database) -> None:
    printing.set_address(here, me(here), LAN, now=NOW)
    fields = form({"kind": "diazo emulsion", "product": "Tern 20"})
    code = buckets.mix(here, me(here), fields, post=post(), now=NOW - timedelta(days=1))
    assert printing.print_bucket(here, me(here), code, now=NOW, ask=printing.QUESTIONS).warnings == ()
    bucket = stored_buckets.get(here, find.code(here, code).thing)
    assert bucket is not None
    buckets.log(here, me(here), bucket, "discard", form({"why": "old"}), post=post(), now=NOW)
    with pytest.raises(Refused, match="was discarded on 2026-03-09 22:30") as refused:
        printing.print_bucket(here, me(here), code, now=NOW, ask=printing.QUESTIONS)
    assert [one.where for one in refused.value.faults] == ["sure"] and len(printed.of(here, code)) == 1
    made = printing.print_bucket(here, me(here), code, now=NOW)
    assert "DISCARDED" in read(made.pdf)[0] and "the tag will say so" in made.warnings[0]


def test_letters_that_paper_lacks_are_said_before_it_is_printed(here: Database) -> None:
    printing.set_address(here, me(here), LAN, now=NOW)
    code = screen(here, "Рамка 框")
    with pytest.raises(Refused, match=r"this paper has no 框 \(U\+6846\)") as refused:
        printing.print_tags(here, me(here), [code], now=NOW, ask=[printing.LETTERS])
    assert refused.value.faults[0].where == "sure" and printed.of(here, code) == []
    made = printing.print_tags(here, me(here), [code], now=NOW, ask=[printing.DISCARDED])
    assert len(made.warnings) == 1 and "框 (U+6846)" in made.warnings[0]


def test_labels_are_printed_at_the_dots_of_the_shops_printer_and_again_too(here: Database) -> None:
    printing.set_address(here, me(here), LAN, now=NOW)
    code = screen(here)
    usual = printing.print_tags(here, me(here), [code], now=NOW, label="62x29mm").pdf
    shop.set_up(here, me(here), "label_dpi", "203", now=NOW)
    coarse = printing.print_tags(here, me(here), [code], now=NOW, label="62x29mm")
    assert coarse.pdf != usual and printed.of(here, code)[0]["says"]["dpi"] == 203
    shop.set_up(here, me(here), "label_dpi", "300", now=NOW)
    assert run_papers.draw_again(here, code).pdf == coarse.pdf


def test_a_measured_sheet_of_labels_is_filled_from_the_first_that_is_left(here: Database) -> None:
    printing.set_address(here, me(here), LAN, now=NOW)
    codes = [screen(here, f"A {number}") for number in range(3)]
    how = {"label": "60x30mm", "sheet": "A4", "grid": "3x9", "used": 26}
    text, held = read(printing.print_tags(here, me(here), codes, now=NOW, **how).pdf)
    assert sorted(held) == sorted(f"{LAN}/t/{code}" for code in codes)
    with pytest.raises(Refused, match="mm too many"):
        printing.print_tags(here, me(here), codes, now=NOW, **{**how, "grid": "4x9"})


def test_a_retagged_screen_gets_its_new_tag(here: Database) -> None:
    printing.set_address(here, me(here), LAN, now=NOW)
    old = screen(here)
    screens.log(here, me(here), find.screen(here, old), "retag", form({}), post=post(), now=NOW)
    new = find.screen(here, old).code
    assert new != old
    _text, held = read(printing.print_tags(here, me(here), [old], now=NOW).pdf)
    assert set(held) == {f"{LAN}/t/{new}"}


def test_a_job_ticket_names_its_screens_and_goes_stale_when_the_job_changes(here: Database) -> None:
    printing.set_address(here, me(here), LAN, now=NOW)
    sheet = sheets.read_file(SAMPLES / "harbour-lights.toml")
    (code,) = jobs.add(here, me(here), [sheet], post=post(), now=NOW)
    job = find.job(here, code)
    asked = stored_jobs.asked(here, job, 1)[0]
    carrier = screen(here, "B 7")
    for step, fields in (
        ("degrease", {}),
        ("coat", {}),
        ("image", {"separations": [asked.separation]}),
    ):
        screens.log(here, me(here), find.screen(here, carrier), step, form(fields), post=post(), now=NOW)
    made = printing.print_job(here, me(here), code, now=NOW, paper="Letter")
    text, held = read(made.pdf)
    assert set(held) == {f"{LAN}/t/{code}"}
    for said in (shown(code), shown(carrier), "B 7", "Harbour Lights", "underbase", "formaldehyde", "version 1"):
        assert said in text, said
    document = pypdfium2.PdfDocument(made.pdf)
    assert [round(side) for side in document[0].get_size()] == [612, 792]  # US Letter: 8.5 x 11 in of 72 points
    document.close()

    assert tickets.outdated_jobs(here) == []
    changed = sheets.read({**sheet.to_dict(), "title": "Harbour Lights, darker"})
    assert jobs.change(here, me(here), job, changed, post=post(), now=NOW) == 2
    (stale,) = tickets.outdated_jobs(here)
    assert (stale["code"], stale["printed"], stale["now"]) == (code, 1, 2)
    printing.print_job(here, me(here), code, now=NOW)
    assert tickets.outdated_jobs(here) == []


def test_a_job_ticket_shows_the_art(here: Database) -> None:
    printing.set_address(here, me(here), LAN, now=NOW)
    file = SAMPLES / "harbour-lights.toml"
    sheet = sheets.read_file(file)
    art = pictures.beside(here, me(here), [file], [sheet], now=NOW)
    (code,) = jobs.add(here, me(here), [sheet], post=post(), now=NOW, pictures=art)
    (bare,) = jobs.add(here, me(here), [sheets.read_file(SAMPLES / "night-run.toml")], post=post(), now=NOW)
    found = []
    for each in (code, bare):
        document = pypdfium2.PdfDocument(printing.print_job(here, me(here), each, now=NOW).pdf)
        found.append(sum(one.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE for one in document[0].get_objects()))
        document.close()
    assert found == [1, 0]


def test_jobs_of_one_call_repeat_one_another_in_any_order_and_hand_the_art_on(here: Database) -> None:
    file = SAMPLES / "harbour-lights.toml"
    first = replace(sheets.read_file(file), reference="A")
    (art,) = pictures.beside(here, me(here), [file], [first], now=NOW)
    second, third = replace(first, reference="B", repeats="a"), replace(first, reference="C", repeats="B")
    theirs = replace(first, customer="Invented Bakery", reference="B")
    given = [theirs, third, second, first]
    codes = jobs.add(here, me(here), given, post=post(), now=NOW, pictures=[None, None, None, art])
    numbers = [find.job(here, code).id for code in codes]
    assert [find.job(here, code).repeats for code in codes] == [None, numbers[2], numbers[3], None]
    shown = [stored_pictures.of_job(here, number, 1) for number in numbers]
    assert [one.hash if one else None for one in shown] == [None, art, art, art]


def test_a_repeats_ticket_carries_the_target_of_the_approved_run(here: Database) -> None:
    printing.set_address(here, me(here), LAN, now=NOW)
    sheet = sheets.read_file(SAMPLES / "night-run.toml")
    (code,) = jobs.add(here, me(here), [sheet], post=post(), now=NOW)
    job = find.job(here, code)
    press = places.add(here, me(here), "Carousel", "press", post=post(), now=NOW, heads=12)
    run = runs.open_run(here, me(here), form({"job": code, "placement": "1", "press": press}), post=post(), now=NOW)
    asked = stored_jobs.asked(here, job, 1)
    for one in asked:
        carrier = screen(here, f"C {one.number}")
        seen = {"standing_seen": "ready", "separations_seen": [one.separation]}
        screens.log(here, me(here), find.screen(here, carrier), "found", form(seen), post=post(), now=NOW)
        hang = {"screen": carrier, "station": str(one.number), "override": "test", "in_hand": "yes"}
        hanging.hang(here, me(here), run, form(hang), post=post(), now=NOW)
    first = asked[0].number
    squeegee = "75/90/75 · square"
    noting.save_sheet(
        here,
        me(here),
        run,
        form(
            {
                f"s{first}.squeegee": squeegee,
                f"s{first}.pressure": "firm",
                f"s{first}.strokes": "2",
                f"s{first}.off_contact": "2.3 mm",
                "run.adhesive": "web spray",
            }
        ),
        post=post(),
        now=NOW,
    )
    for step, fields in (
        ("approve", {"approved_by": "Cy Marsh", "approved_as": "press"}),
        ("start", {"garment": "1"}),
        ("count", {"good": "20"}),
        ("finish", {"then": "keep"}),
    ):
        runs.log(here, me(here), run, step, form(fields), post=post(), now=NOW)
    before = tickets.job_ticket(here, find.job(here, code), LAN, NOW)
    assert before.placements[0].where_from == "job sheet"  # nobody said yet that these are the ones for next time
    runs.log(here, me(here), run, "use-next-time", form({}), post=post(), now=NOW)

    again = repeat_of(find.job(here, code), sheet.due, "again")
    (repeat,) = jobs.add(here, me(here), [again], post=post(), now=NOW)
    says = tickets.job_ticket(here, find.job(here, repeat), LAN, NOW)
    row = says.placements[0].stations[first - 1]
    assert row.squeegee == f"{squeegee}, 15°, pressure firm" and row.strokes == "2 strokes"
    assert row.note == "Neither choked nor trapped." and "Adhesive: web spray" in says.placements[0].more
    assert says.placements[0].where_from == f"approved run {run}" and says.repeats == shown(code)
    text, _codes = read(printing.print_job(here, me(here), repeat, now=NOW).pdf)
    assert row.off_contact == "2.3 mm" and text.count("2.3 mm") == 1
    plain = before.placements[0].stations
    rest = [row for row in says.placements[0].stations if int(row.order) != first]
    assert [row.squeegee for row in rest] == [row.squeegee for row in plain if int(row.order) != first]


def test_what_was_printed_is_printed_again_saying_the_same(here: Database) -> None:
    printing.set_address(here, me(here), LAN, now=NOW)
    code = screen(here)
    first = printing.print_tags(here, me(here), [code], now=NOW, label="62x29mm")
    restretched = form({"mesh_count_as_labelled": "120/in", "frame": "aluminium"})
    screens.log(here, me(here), find.screen(here, code), "stretch", restretched, post=post(), now=NOW)
    second = printing.print_tags(here, me(here), [code], now=NOW + timedelta(days=1))
    assert run_papers.draw_again(here, code, first.numbers[0]).pdf == first.pdf
    assert run_papers.draw_again(here, code).pdf == second.pdf != first.pdf
    kept = from_dict(printed.of(here, code)[-1]["says"])
    assert isinstance(kept, ScreenTag) and kept.mesh.startswith("230/in")
    with pytest.raises(NotFound):
        run_papers.draw_again(here, screen(here))

    (job,) = jobs.add(here, me(here), [sheets.read_file(SAMPLES / "quiet-mooring.toml")], post=post(), now=NOW)
    ticket = printing.print_job(here, me(here), job, now=NOW, paper="Letter")
    assert run_papers.draw_again(here, job).pdf == ticket.pdf
    assert isinstance(from_dict(printed.of(here, job)[0]["says"]), JobTicket)


def test_tickets_left_behind_by_a_new_address(here: Database) -> None:
    printing.set_address(here, me(here), LAN, now=NOW)
    one, two = screen(here, "A 1"), screen(here, "A 2")
    printing.print_tags(here, me(here), [one, two], now=NOW)
    assert tickets.left_behind(here) == []
    printing.set_address(here, me(here), "http://workshop:8600", now=NOW)
    assert {row["code"] for row in tickets.left_behind(here)} == {one, two}
    printing.print_tags(here, me(here), [one], now=NOW)
    assert [row["code"] for row in tickets.left_behind(here)] == [two]
    assert tickets.left_behind(here)[0]["address"] == LAN


def test_the_terminals_qr_is_read_from_its_characters() -> None:
    """Drawn as the terminal would (half blocks, Unicode 2580, 2584, 2588), read by zxing-cpp."""
    from PIL import Image

    lines = [re.sub(r"\x1b\[[0-9;]*m", "", line) for line in addresses.terminal_qr(LAN).splitlines()]
    size = 8
    picture = Image.new("L", (len(lines[0]) * size, 2 * len(lines) * size), 255)
    for row, line in enumerate(lines):
        assert len(line) == len(lines[0])
        for column, mark in enumerate(line):
            for half, marks in ((0, "▀█"), (1, "▄█")):
                if mark in marks:
                    left, top = column * size, (2 * row + half) * size
                    picture.paste(0, (left, top, left + size, top + size))
    assert [found.text for found in zxingcpp.read_barcodes(picture)] == [LAN]
