"""Paper on a printer: against a real IPP server (ippeveprinter), and against ones that hang, stop or say nonsense."""

from __future__ import annotations

import json
import re
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
import shop as shops
import zxingcpp
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from ipp_server import IppPrinter, ipp_printer, needs_printer
from shop import Clock, Tickets
from sqlite_utils import Database

from tickets.actions import places, printing
from tickets.actions import printers as acts
from tickets.actions import shop as shop_acts
from tickets.domain import printer as rules
from tickets.domain.person import Actor
from tickets.domain.printer import Printer, Target
from tickets.queries import addresses, find, ipp, printers, tags_wanted
from tickets.queries.ipp import PrinterFault
from tickets.store import printed

LAN = "http://192.0.2.7:8600"
SignIn = Callable[[FlaskClient, str], FlaskClient]


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory) -> Iterator[IppPrinter]:
    with ipp_printer(tmp_path_factory.mktemp("ipp") / "labels") as found:
        yield found


@pytest.fixture
def here(db: Database, monkeypatch: pytest.MonkeyPatch, clock: Clock) -> Database:
    """The shop on a machine with the address that its codes carry."""
    monkeypatch.setattr(addresses, "own_addresses", lambda: {"192.0.2.7"})
    monkeypatch.setattr(addresses, "_addresses_of", lambda name: set())
    monkeypatch.setattr(rules, "LOCAL", ("127.0.0.1", 1))
    monkeypatch.setattr(ipp, "LOCAL", ("127.0.0.1", 1))
    printing.set_address(db, me(db, clock), LAN, now=clock())
    return db


def me(db: Database, clock: Clock) -> Actor:
    return shop_acts.command_line(db, clock())


def name_them(db: Database, clock: Clock, *rows: tuple[str, str, str]) -> None:
    given = [{"name": name, "to": to, "holds": holds} for name, to, holds in rows]
    shop_acts.set_up(db, me(db, clock), "printers", given, now=clock())


def frames(commands: Tickets, number: int = 1, mesh: str = "230/in") -> list[str]:
    made = commands("screen", "add", "--count", mesh, "--frame", "aluminium", "--number", number, "--json")
    return [str(one["code"]) for one in json.loads(made.stdout)]


def once(page: str) -> str:
    return re.search(r'name="once" value="([^"]+)"', page)[1]  # type: ignore[index]


def tap(phone: FlaskClient, path: str, printer: str, **fields: Any) -> Any:
    """A tap of a printer's button on the page of a paper."""
    page = phone.get(path).text
    assert f'name="printer" value="{printer}"' in page, page
    return phone.post(path.partition("?")[0], data={"once": once(page), "printer": printer, **fields})


def settled(answer: Any, seconds: float = 20) -> acts.Sending:
    """How a paper went, once nothing more is found out of it."""
    assert answer.status_code == 303, answer.text
    sending = acts.of_post(answer.location.rpartition("/")[2].partition("?")[0])
    assert sending is not None
    until = time.monotonic() + seconds
    while not sending.over and time.monotonic() < until:
        time.sleep(0.05)
    return sending


@pytest.fixture
def phone(client: FlaskClient, sign_in: SignIn) -> FlaskClient:
    return sign_in(client, "Ada Holm")


# -- a real printer


@needs_printer
def test_a_tap_prints_the_very_pdf_once(
    here: Database, clock: Clock, commands: Tickets, phone: FlaskClient, real: IppPrinter
) -> None:
    """What the printer keeps is byte for byte what is drawn; a second tap of the same page prints nothing more."""
    name_them(here, clock, ("Label printer", real.uri, "100x50mm"), ("Office", real.uri, "A4"))
    (code,), before = frames(commands), len(real.received(0))
    page = phone.get(f"/print/tags?codes={code}").text
    assert "labels 100x50mm" in page and page.index("Print on Label printer") < page.index("Print on Office")
    sent = {"once": once(page), "printer": "Label printer", "codes": code, "label": "62x29mm"}
    first = phone.post("/print/tags", data=sent)
    again = phone.post("/print/tags", data=sent)
    assert again.location == f"{first.location}?again=1"
    assert settled(first).state == rules.COMPLETED
    (pdf,) = real.received(before + 1)[before:]
    assert pdf == printing.print_tags(here, me(here, clock), [code], now=clock(), label="100x50mm").pdf
    time.sleep(0.3)
    assert len(real.received(0)) == before + 1 and len(printed.of(here, code)) == 2  # with the one of this test
    assert real.sent_along("media")[-1] == "oe_rolls_100x50mm" and real.sent_along("print-scaling")[-1] == "none"
    assert real.sent_along("sides")[-1] == "one-sided"
    told = phone.get(again.location).text
    assert "sent once, and not a second time" in told and "is done" in told and "Make the PDF" in told
    # the page that is come back to, and another button: another paper
    other = phone.post("/print/tags", data={**sent, "printer": "Office"})
    assert other.location.partition("?")[0] != first.location and settled(other).state == rules.COMPLETED
    assert (
        real.received(before + 2)[-1]
        == printing.print_tags(here, me(here, clock), [code], now=clock(), label="62x29mm", sheet="A4").pdf
    )
    assert real.sent_along("media")[-1] == "iso_a4_210x297mm"


@needs_printer
def test_two_fingers_at_once_print_one(
    here: Database, clock: Clock, commands: Tickets, app: Any, real: IppPrinter, phone: FlaskClient
) -> None:
    name_them(here, clock, ("Label printer", real.uri, "100x50mm"))
    (code,), before = frames(commands), len(real.received(0))
    sent = {"once": once(phone.get(f"/print/tags?codes={code}").text), "printer": "Label printer", "codes": code}
    phones = [shops.signed_in(shops.phone_of(app), "Ada Holm") for _n in range(4)]
    answers: list[Any] = []
    taps = [
        threading.Thread(target=lambda one=one: answers.append(one.post("/print/tags", data=sent))) for one in phones
    ]
    for one in taps:
        one.start()
    for one in taps:
        one.join()
    assert sorted("again=1" in one.location for one in answers) == [False, True, True, True]
    settled(answers[0])
    time.sleep(0.3)
    assert len(real.received(before + 1)) == before + 1


@needs_printer
def test_tickets_sheets_and_labels_go_where_they_are_held(
    here: Database, clock: Clock, shop: shops.Shop, phone: FlaskClient, real: IppPrinter, commands: Tickets
) -> None:
    name_them(here, clock, ("Rolls", real.uri, "100x50mm"), ("Office", real.uri, "Letter"))
    job, before = shop.job(), len(real.received(0))
    page = phone.get(f"/print/job/{job.code}").text
    assert "Print on Office" in page and "Print on Rolls" not in page
    settled(tap(phone, f"/print/job/{job.code}", "Office", paper="A4"))
    assert (
        real.received(before + 1)[-1]
        == printing.print_job(here, me(here, clock), job.code, now=clock(), paper="Letter").pdf
    )
    assert real.sent_along("media")[-1] == "na_letter_8.5x11in"
    rack = commands("place", "add", "Rack 7", "--kind", "rack", "--json")
    code = json.loads(rack.stdout)[0]["code"]
    settled(tap(phone, f"/print/place/{code}", "Rolls"))
    assert real.received(before + 2)[-1] == printing.print_place(here, me(here, clock), code, now=clock()).pdf
    none = phone.post(f"/print/job/{job.code}", data={"once": once(page), "printer": "Old one"})
    assert none.status_code == 404 and "Office" in none.text


OUT_OF_LABELS = """#!/bin/sh
echo "STATE: +media-empty" >&2
sleep 4
echo "STATE: -media-empty" >&2
"""


@needs_printer
def test_out_of_labels_is_said_with_what_to_do(
    here: Database, clock: Clock, commands: Tickets, phone: FlaskClient, tmp_path: Path
) -> None:
    (code,) = frames(commands)
    with ipp_printer(tmp_path / "ipp", command=OUT_OF_LABELS) as empty:
        name_them(here, clock, ("Label printer", empty.uri, "100x50mm"))
        answer = tap(phone, f"/print/tags?codes={code}", "Label printer", codes=code)
        until = time.monotonic() + 4
        while "Out of labels" not in (page := phone.get(answer.location).text) and time.monotonic() < until:
            time.sleep(0.1)
        assert "Out of labels or paper: load it" in page and "Look again" in page
        assert "Out of labels" in phone.get("/printers").text
        assert settled(answer).state == rules.COMPLETED
        assert "Out of labels" not in phone.get(answer.location).text


@needs_printer
def test_a_printer_of_one_job_at_a_time_gets_them_all(
    here: Database, clock: Clock, commands: Tickets, phone: FlaskClient, tmp_path: Path
) -> None:
    codes = frames(commands, 3)
    with ipp_printer(tmp_path / "ipp", command="#!/bin/sh\nsleep 1\n") as slow:
        name_them(here, clock, ("Label printer", slow.uri, "100x50mm"))
        answers = [tap(phone, f"/print/tags?codes={code}", "Label printer", codes=code) for code in codes]
        assert [settled(one).phase for one in answers] == ["taken"] * 3
        drawn = {printing.print_tags(here, me(here, clock), [code], now=clock()).pdf for code in codes}
        assert set(slow.received(3)) == drawn


# -- printers that are none, hang, or refuse


@contextmanager
def answering(take: Callable[[bytes], bytes | None]) -> Iterator[str]:
    """Something that listens like a printer: `take` gets a request with its head and gives the whole answer; None: none
    ever comes. Gives its address."""
    listening = socket.create_server(("127.0.0.1", 0))
    ended, threads = threading.Event(), list[threading.Thread]()

    def serve(link: socket.socket) -> None:
        with link:
            link.settimeout(5)
            read = b""
            while b"\r\n\r\n" not in read:
                read += link.recv(65_536)
            head, _gap, body = read.partition(b"\r\n\r\n")
            length = int(re.search(rb"Content-Length: ([0-9]+)", head)[1])  # type: ignore[index]
            while len(body) < length:
                body += link.recv(65_536)
            said = take(body)
            if said is None:
                ended.wait(20)
            else:
                link.sendall(said)

    def accept() -> None:
        while not ended.is_set():
            try:
                link, _where = listening.accept()
            except OSError:
                return
            threads.append(threading.Thread(target=serve, args=[link], daemon=True))
            threads[-1].start()

    threading.Thread(target=accept, daemon=True).start()
    try:
        yield f"ipp://127.0.0.1:{listening.getsockname()[1]}/ipp/print"
    finally:
        ended.set()
        listening.shutdown(socket.SHUT_RDWR)
        listening.close()


def said(status: int, group: int = 0x04, **attributes: Any) -> bytes:
    """An answer of IPP over HTTP with one group behind the operation's."""
    rows = [
        (0x23 if isinstance(value, int) else 0x44, name.replace("_", "-"), [value] if isinstance(value, int) else value)
        for name, value in attributes.items()
    ]
    body = status.to_bytes(2, "big") + b"\0\0\0\1\x01" + bytes([group]) + b"".join(ipp._written(rows)) + b"\x03"
    return http(200, b"\x01\x01" + body)


def http(status: int, body: bytes = b"") -> bytes:
    return f"HTTP/1.1 {status} So\r\nContent-Length: {len(body)}\r\n\r\n".encode() + body


def asks_for(body: bytes) -> int:
    return int.from_bytes(body[2:4], "big")


READY = said(0, document_format_supported=["application/pdf"])


def test_one_that_hangs_holds_nothing_up(
    here: Database, clock: Clock, commands: Tickets, phone: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The tap is answered, other taps do not wait behind it, entries are taken meanwhile; then it is said."""
    monkeypatch.setattr(ipp, "ANSWER_S", 6.0)
    codes = frames(commands, 2)
    with answering(lambda body: None) as dead:
        name_them(here, clock, ("Label printer", dead, "100x50mm"))
        first = tap(phone, f"/print/tags?codes={codes[0]}", "Label printer", codes=codes[0])
        second = tap(phone, f"/print/tags?codes={codes[1]}", "Label printer", codes=codes[1])
        note = phone.post(f"/screens/{codes[0]}/note", data={"entry": "a-note-meanwhile-0001", "note": "still here"})
        assert note.status_code == 303
        assert "being handed over" in phone.get(first.location).text
        assert {settled(one).phase for one in (first, second)} == {"failed"}
        told = phone.get(first.location).text
        assert "did not answer in 6 s" in told and "Not printed" in told and "Make the PDF instead" in told
        assert "It has not answered yet." in phone.get("/printers").text


def test_one_that_hangs_with_the_pdf_may_have_printed(
    here: Database, clock: Clock, commands: Tickets, phone: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(acts, "HAND_OVER_S", 0.5)
    (code,) = frames(commands)
    with answering(lambda body: READY if asks_for(body) == ipp.GET_PRINTER else None) as dead:
        name_them(here, clock, ("Label printer", dead, "100x50mm"))
        answer = tap(phone, f"/print/tags?codes={code}", "Label printer", codes=code)
        assert settled(answer).phase == "failed"
        assert "It may have come through" in phone.get(answer.location).text


@pytest.mark.parametrize(
    ("answer", "told"),
    [
        (said(0, document_format_supported=["image/urf", "image/pwg-raster"]), "takes no PDF, only image/urf"),
        (said(0x0406), "has no printer at ipp://127.0.0.1"),
        (said(0x0506), "takes no jobs now"),
        (said(0x0403), "asks for a password"),
        (said(0x0500), "It refused: 0x0500"),
        (http(401), "asks for a password"),
        (http(404), "is not a printer (HTTP 404)"),
        (http(200, b"hello"), "is not a printer (HTTP 200)"),
        (http(200, READY.partition(b"\r\n\r\n")[2][:-12]), "is not a printer (HTTP 200)"),
        (b"nonsense", "is not a printer"),
        (b"", "is not a printer"),
    ],
)
def test_what_comes_in_the_way_is_said(
    here: Database, clock: Clock, commands: Tickets, phone: FlaskClient, answer: bytes, told: str
) -> None:
    (code,) = frames(commands)
    with answering(lambda body: answer) as there:
        name_them(here, clock, ("Label printer", there, "100x50mm"))
        sent = tap(phone, f"/print/tags?codes={code}", "Label printer", codes=code)
        assert settled(sent).phase == "failed"
    page = phone.get(sent.location).text
    assert "Not printed" in page and told in page


@pytest.mark.parametrize(
    ("state", "reasons", "told"),
    [
        (rules.PENDING, [], "Queued as job 7."),
        (rules.HELD, [], "Held as job 7"),
        (rules.JOB_STOPPED, ["printer-stopped"], "Stopped: job 7 goes on when the printer does."),
        (rules.ABORTED, ["document-format-error"], "could not read the PDF"),
        (rules.CANCELED, ["job-canceled-by-user"], "Somebody canceled it"),
        (rules.COMPLETED, ["job-completed-successfully"], "Printed: job 7 is done."),
        (rules.PROCESSING, ["our-own-word"], "It says: our-own-word."),
    ],
)
def test_what_the_print_system_says_is_said_in_words(
    here: Database, clock: Clock, commands: Tickets, phone: FlaskClient, monkeypatch: pytest.MonkeyPatch,
    state: int, reasons: list[str], told: str,
) -> None:  # fmt: skip
    monkeypatch.setattr(acts, "LOOK_S", 0.3)
    (code,) = frames(commands)
    job = said(0, 0x02, job_id=7, job_state=state, job_state_reasons=reasons)
    with answering(lambda body: READY if asks_for(body) == ipp.GET_PRINTER else job) as there:
        name_them(here, clock, ("Label printer", there, "100x50mm"))
        sent = tap(phone, f"/print/tags?codes={code}", "Label printer", codes=code)
        well = state in (rules.PENDING, rules.COMPLETED)
        assert acts.went_well(settled(sent)) is well
    assert told in phone.get(sent.location).text


def test_nothing_listens_there(here: Database, clock: Clock, commands: Tickets, phone: FlaskClient) -> None:
    name_them(here, clock, ("Label printer", "ipp://127.0.0.1:1/ipp/print", "100x50mm"), ("Queue", "rolls", "62x29mm"))
    (code,) = frames(commands)
    answer = tap(phone, f"/print/tags?codes={code}", "Label printer", codes=code)
    assert settled(answer).phase == "failed"
    told = phone.get(answer.location).text
    assert "Nothing answers at 127.0.0.1:1" in told and "Try Label printer again" in told
    pdf = phone.post("/print/tags", data={"codes": code})
    assert pdf.mimetype == "application/pdf"
    assert phone.get("/printers").text.count("Nothing answers at 127.0.0.1:1") == 2
    acts._on_their_way.clear()  # as after a start of the server
    assert "not known any more" in phone.get(answer.location).text
    assert phone.get("/print/sent/nothing-of-the-sort").status_code == 404


@given(st.binary(max_size=200))
def test_no_answer_breaks_its_reader(body: bytes) -> None:
    try:
        ipp.answer(b"\1\1\0\0\0\0\0\1" + body)
    except ValueError:
        pass


def test_a_request_is_read_back_as_it_was_written() -> None:
    """RFC 8010, 3: tags, names, values of one and of several; a collection in between is read over."""
    written = ipp.request(ipp.GET_PRINTER, Target("a", 631, "/p"), [(0x44, "requested-attributes", ["b", "c"])])
    _status, groups = ipp.answer(written)
    assert groups == [(1, {
        "attributes-charset": ["utf-8"], "attributes-natural-language": ["en"], "printer-uri": ["ipp://a:631/p"],
        "requested-attributes": ["b", "c"],
    })]  # fmt: skip
    collection = b"\x34\0\3col\0\0" + b"\x4a\0\0\0\1x" + b"\x21\0\0\0\4\0\0\0\5" + b"\x37\0\0\0\0"
    after = b"\x22\0\2up\0\1\1"
    assert ipp.answer(b"\1\1\0\0\0\0\0\1\4" + collection + after + b"\3") == (0, [(4, {"up": [True]})])


@pytest.mark.parametrize(
    ("holds", "supported", "name"),
    [
        ("100x50mm", ["iso_a4_210x297mm", "oe_rolls_100x50mm"], "oe_rolls_100x50mm"),
        ("100x50mm", ["oe_rolls_50x100mm"], "oe_rolls_50x100mm"),
        ("4x2in", ["oe_4x2-label_4x2in"], "oe_4x2-label_4x2in"),
        ("62x29mm", ["custom_min_12x10mm", "custom_max_103x300mm"], "custom_62x29mm_62x29mm"),
        ("62x29mm", ["custom_min_12x10mm", "custom_max_50x20mm"], ""),
        ("62x29mm", ["oe_rolls_100x50mm", "na_letter", "62x29"], ""),
        ("A4", ["iso_a4_210x297mm"], "iso_a4_210x297mm"),
        ("Letter", ["iso_a4_210x297mm", "na_letter_8.5x11in"], "na_letter_8.5x11in"),
    ],
)
def test_a_printer_is_told_its_own_name_of_what_it_holds(holds: str, supported: list[str], name: str) -> None:
    """Names of media as PWG 5101.1 makes them."""
    assert printers.medium(holds, supported) == name


def test_where_a_queue_listens() -> None:
    assert Printer("a", "rolls", "A4").target.uri == "ipp://localhost:631/printers/rolls"
    assert Printer("a", "ipp://[fe80::1]:8631/x", "A4").target.uri == "ipp://[fe80::1]:8631/x"
    assert rules.address("ipp://10.0.0.5") == "ipp://10.0.0.5:631/ipp/print"


def test_the_queues_of_the_print_system_are_found(here: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    """As CUPS answers: a group of attributes for each queue."""
    two = said(0, printer_name=["rolls"])[:-1] + b"\x04" + b"".join(ipp._written([(0x42, "printer-name", ["office"])]))
    body = two.partition(b"\r\n\r\n")[2] + b"\x03"
    with answering(lambda sent: http(200, body) if asks_for(sent) == ipp.GET_QUEUES else http(404)) as there:
        port = int(there.split(":")[2].partition("/")[0])
        monkeypatch.setattr(ipp, "LOCAL", ("127.0.0.1", port))
        assert ipp.queues() == ["office", "rolls"]
        assert printers.now(here).queues == ("office", "rolls")
    with pytest.raises(PrinterFault):
        ipp.queues()


# -- which tags, and what is printed once more


def test_tags_are_chosen_by_what_they_have_in_common(
    here: Database, clock: Clock, commands: Tickets, phone: FlaskClient, tmp_path: Path
) -> None:
    def tags(*how: str) -> list[str]:
        made = commands("print", "tags", *how, "--out", tmp_path / "x.pdf", "--json")
        assert made.exit_code == 0, made.output
        return [row["code"] for number in json.loads(made.stdout)["printed"]
                for row in here.query("SELECT code FROM printed WHERE id = ?", [number])]  # fmt: skip

    fine, coarse = frames(commands, 3, "230/in"), frames(commands, 2, "110/in")
    rack = json.loads(commands("place", "add", "Rack 7", "--kind", "rack", "--json").stdout)[0]["code"]
    for code in (fine[0], coarse[0]):
        assert commands("screen", "log", code, "rack", "--place", "Rack 7").exit_code == 0
    assert commands("screen", "log", fine[2], "retire", "--cause", "torn").exit_code == 0
    in_use = [*fine[:2], *coarse]
    assert tags("--all") == [*in_use, rack]
    assert tags("--mesh", "230/in") == fine[:2] and tags("--rack", "rack 7") == [fine[0], coarse[0]]
    assert tags("--rack", rack, "--mesh", "110/in") == [coarse[0]]
    assert tags("--mesh", "110/in", fine[1]) == [fine[1], *coarse]
    # what is out of use has no tag to print, and nothing was left behind where there is no address to compare with
    assert commands("place", "add", "Rack 8", "--kind", "rack").exit_code == 0
    places.retire(here, me(here, clock), find.place(here, "Rack 8"), post=shops.fresh(), now=clock())
    mixed = commands("bucket", "add", "--kind", "diazo emulsion", "--product", "Tern 20", "--json")
    bucket = json.loads(mixed.stdout)[0]["code"]
    assert tags("--all") == [*in_use, rack, bucket]
    assert commands("bucket", "log", bucket, "discard", "--why", "skin on it").exit_code == 0
    assert tags("--all") == [*in_use, rack]
    # nothing is outdated until the address changes; then all that was printed and is in use
    none = commands("print", "tags", "--outdated", "--out", tmp_path / "x.pdf")
    assert none.exit_code == 2 and "None of these tags has an old address" in none.output
    newer = frames(commands)[0]
    shop_acts.set_up(here, me(here, clock), "address", "http://192.0.2.9:8600", now=clock())
    assert "Print all 5 tags that have an old address" in phone.get("/print").text
    shown = phone.get("/print/tags?which=outdated&mesh=110/in").text
    assert ", ".join(coarse) in shown and fine[0] not in shown
    assert tags("--outdated", "--rack", "Rack 7", "--anyway") == [fine[0], coarse[0]]
    assert tags("--outdated", "--anyway") == [fine[1], coarse[1], rack]
    assert newer not in tags_wanted.codes_of(here, tags_wanted.TagsWanted(outdated=True))
    shop_acts.set_up(here, me(here, clock), "address", "", now=clock())
    assert tags_wanted.codes_of(here, tags_wanted.TagsWanted(outdated=True)) == []


@pytest.mark.parametrize(
    ("how", "told"),
    [
        (["--rack", "Nowhere"], "There is no place “Nowhere”"),
        (["--mesh", "soft"], "soft"),
        (["--import", "9"], "There is no such list"),
        (["--mesh", "355/in"], "Nothing in use fits that"),
        ([], "Name the codes"),
    ],
)
def test_a_choice_that_is_none_is_said(
    here: Database, commands: Tickets, phone: FlaskClient, tmp_path: Path, how: list[str], told: str
) -> None:
    frames(commands)
    refused = commands("print", "tags", *how, "--out", tmp_path / "x.pdf")
    assert refused.exit_code == 2 and told in refused.output and not (tmp_path / "x.pdf").exists()
    if how and how[0] != "--import":
        page = phone.get("/print/tags", query_string={how[0].lstrip("-"): how[1]})
        assert page.status_code == 422 and told in page.text


def test_the_tags_of_a_list_are_narrowed_as_all_are(here: Database, phone: FlaskClient) -> None:
    every = shops.brought(here, "Mark,Mesh\nT 1,230/in\nT 2,110/in\nT 3,230/in\n")
    assert tags_wanted.codes_of(here, tags_wanted.TagsWanted(of_list=1)) == every
    assert tags_wanted.codes_of(here, tags_wanted.TagsWanted(of_list=1, mesh="110/in")) == [every[1]]
    page = phone.get("/print/tags?list=1&mesh=110/in").text
    assert every[1] in page and every[0] not in page


def test_many_tags_are_shown_in_parts(
    here: Database, commands: Tickets, phone: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("web.printing.MOST_TAGS", 2)
    codes = frames(commands, 5)
    first, last = (phone.get(f"/print/tags?which=all&part={number}").text for number in (1, 3))
    assert "5 tags, in parts:" in first and ", ".join(codes[:2]) in first and codes[2] not in first and codes[4] in last
    assert 'href="/print/tags?which=all&amp;part=2"' in first


def test_a_reprint_never_has_an_old_address(
    here: Database, clock: Clock, commands: Tickets, phone: FlaskClient, tmp_path: Path
) -> None:
    (code,), out, new = frames(commands), tmp_path / "again.pdf", "http://192.0.2.9:8600"
    old_ones = tags_wanted.TagsWanted(outdated=True)
    old = phone.post("/print/tags", data={"codes": code}).data
    clock.on(hours=2)
    assert commands("print", "again", code, "--out", out).exit_code == 0
    assert out.read_bytes() == old and len(printed.of(here, code)) == 1  # nothing differs: the same bytes, kept once
    shop_acts.set_up(here, me(here, clock), "address", new, now=clock())
    assert tags_wanted.codes_of(here, old_ones) == [code]
    assert "a reprint gets today’s" in phone.get(f"/print/tags?codes={code}").text
    told = commands("print", "again", code, "--out", out)
    assert told.exit_code == 0 and f"printed with the address {LAN}. This one leads to {new}." in told.output
    assert codes_in(out.read_bytes()) == {f"{new}/t/{code}"} and codes_in(old) == {f"{LAN}/t/{code}"}
    assert [row["address"] for row in printed.of(here, code)] == [new, LAN]
    assert tags_wanted.codes_of(here, old_ones) == []
    page = phone.post(f"/print/again/{code}", data={"number": printed.of(here, code)[-1]["id"]})
    assert codes_in(page.data) == {f"{new}/t/{code}"}
    assert code not in phone.get("/print").text


def test_papers_of_a_job_and_of_its_run_are_printed_again_with_the_address_of_today(
    here: Database, clock: Clock, shop: shops.Shop, phone: FlaskClient
) -> None:
    new, made = "http://192.0.2.9:8600", shop.job(shops.one_colour())
    job, run = made.code, shop.set_up(made, {})
    phone.post(f"/print/job/{job}", data={})
    phone.post(f"/print/run/{run}", data={"what": "set-up"})
    shop_acts.set_up(here, me(here, clock), "address", new, now=clock())
    for row in printed.of(here, job, papers=True):
        paper = phone.post(f"/print/again/{job}", data={"number": row["id"]})
        held = codes_in(paper.data)
        assert f"{new}/t/{job}" in held and not [one for one in held if one.startswith(LAN)], row["kind"]
    assert {row["address"] for row in printed.of(here, job, papers=True)[:2]} == {new}


def test_a_reprint_to_an_address_that_no_phone_finds_is_refused_and_can_be_wanted(
    here: Database, clock: Clock, commands: Tickets, phone: FlaskClient, tmp_path: Path
) -> None:
    (code,), out = frames(commands), tmp_path / "again.pdf"
    phone.post("/print/tags", data={"codes": code})
    shop_acts.set_up(here, me(here, clock), "address", "http://127.0.0.1:8600", now=clock())
    page = phone.post(f"/print/again/{code}", data={})
    assert page.status_code == 422 and "leads every phone to itself" in page.text and 'name="anyway"' in page.text
    refused = commands("print", "again", code, "--out", out)
    assert refused.exit_code == 2 and not out.exists() and len(printed.of(here, code)) == 1
    assert commands("print", "again", code, "--out", out, "--anyway").exit_code == 0
    assert codes_in(out.read_bytes()) == {f"http://127.0.0.1:8600/t/{code}"}


def codes_in(pdf: bytes) -> set[str]:
    """What an independent reader finds in the QR codes of a PDF."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        images = [page.render(scale=4).to_pil() for page in document]
    finally:
        document.close()
    return {found.text for image in images for found in zxingcpp.read_barcodes(image)}
