"""The daily mail: what it says is what the desk shows; a real small mail server takes it, over TLS or plainly."""

from __future__ import annotations

import json
import os
import signal
import socket
import ssl
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, Envelope, LoginPassword
from flask.testing import FlaskClient
from shop import (
    NOW,
    PEOPLE,
    Clock,
    Shop,
    Tickets,
    as_installed,
    one_colour,
    pages,
    phone_of,
    said,
    signed_in,
    the_demo,
    two_colours,
)
from sqlite_utils import Database

from tickets import demo as invented
from tickets import store
from tickets.actions import backup, mail, mail_server, nightly, shop
from tickets.actions.mail_server import MailBox
from tickets.domain.desk.shop_settings import OF_MAIL
from tickets.domain.refusal import NotNow, Refused
from tickets.queries import desk_now
from tickets.queries.said import Reader
from tickets.store.settings import setting
from web import nights

SignIn = Callable[[FlaskClient, str], FlaskClient]
PEM = Path(__file__).parent / "tls" / "shop.test.pem"
MORNING = NOW.replace(hour=8, minute=0, second=0, microsecond=0)
SECRET = "not-for-anybody"
USER = "office@shop.test"


# -- a real small server, on this machine alone


class Inbox:
    """What a server took, and how often it was asked; it refuses an address that begins with `gone`."""

    def __init__(self) -> None:
        self.taken: list[EmailMessage] = []
        self.receivers: list[list[str]] = []
        self.logins: list[str] = []
        self.answer = "250 taken"

    async def handle_RCPT(self, _server: Any, _session: Any, envelope: Envelope, address: str, _options: Any) -> str:
        if address.startswith("gone"):
            return "550 nobody here"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Envelope) -> str:
        if self.answer.startswith("250"):
            self.taken.append(message_from_bytes(bytes(envelope.content or b""), policy=default))  # type: ignore[arg-type]
            self.receivers.append(list(envelope.rcpt_tos))
        return self.answer

    def let_in(self, _server: Any, _session: Any, _envelope: Any, _how: str, data: Any) -> AuthResult:
        assert isinstance(data, LoginPassword)
        self.logins.append(data.login.decode())
        return AuthResult(success=(data.login, data.password) == (USER.encode(), SECRET.encode()), handled=False)


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def knock(port: int) -> None:
    anybody = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    anybody.check_hostname, anybody.verify_mode = False, ssl.CERT_NONE
    with socket.create_connection(("127.0.0.1", port), 5) as plain, anybody.wrap_socket(plain) as line:
        line.recv(1000)


@contextmanager
def server(inbox: Inbox, secured: str = "none") -> Iterator[int]:
    """The port of a server that takes mail while the block runs."""
    port, how = free_port(), {}
    trusted = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    trusted.load_cert_chain(PEM)
    if secured == "starttls":
        how = {"tls_context": trusted, "require_starttls": True, "auth_required": True}
    if secured == "tls":
        how = {"ssl_context": trusted, "auth_require_tls": False}  # it is secured before aiosmtpd sees it
    if secured != "none":
        how |= {"authenticator": inbox.let_in}
    running = Controller(inbox, hostname="127.0.0.1", port=port, **how)
    if secured == "tls":
        running._trigger_server = lambda: knock(port)  # its own would trust no certificate
    running.start()
    try:
        yield port
    finally:
        running.stop()


@contextmanager
def talker(talk: Callable[[socket.socket], None]) -> Iterator[int]:
    """The port of something that takes one line and does with it what `talk` does."""
    with socket.create_server(("127.0.0.1", 0)) as listens:
        listens.settimeout(10)

        def take() -> None:
            try:
                line, _who = listens.accept()
            except OSError:
                return
            with line:
                line.settimeout(10)
                try:
                    talk(line)
                except OSError:
                    pass

        thread = threading.Thread(target=take, daemon=True)
        thread.start()
        yield int(listens.getsockname()[1])
    thread.join(10)


@pytest.fixture
def trusted(monkeypatch: pytest.MonkeyPatch) -> None:
    """`shop.test` is this machine, and its certificate is trusted."""
    real = socket.getaddrinfo
    monkeypatch.setattr(socket, "getaddrinfo", lambda host, *more, **how: real(
        "127.0.0.1" if host == "shop.test" else host, *more, **how))  # fmt: skip
    monkeypatch.setenv("SSL_CERT_FILE", str(PEM))


LONG_AGO = MORNING - timedelta(days=1)


def set_mail(db: Database, port: int, at: datetime = LONG_AGO, secret: str = "", **more: Any) -> None:
    """The shop's mail as its manager sets it, unsecured unless told."""
    given = {"mail_to": "office@shop.test", "mail_hour": "6", "mail_server": "127.0.0.1", "mail_secured": "none",
             "mail_port": str(port), "mail_user": "", "mail_from": "tickets@shop.test", **more}  # fmt: skip
    mail.set_up(db, shop.command_line(db, at), given, secret, now=at)


def sent(db: Database, now: datetime = MORNING, **how: Any) -> mail.MailState:
    found = mail.send(db, now, **how)
    assert found is not None
    return found


# -- what it says


@pytest.fixture
def demo_db(tmp_path: Path) -> Iterator[Database]:
    db = store.connect(the_demo(tmp_path / "demo"))
    yield db
    db.close()


def test_its_numbers_are_those_of_the_desk(demo_db: Database) -> None:
    """In the invented shop nine days on, when jobs are late: nothing more is late there, and nothing less."""
    later = NOW + timedelta(days=9)
    found = mail.composed(demo_db, later)
    with pages(Path(store.place_of(demo_db)).parent, lambda: later) as app:
        name, _role, secret = next(one for one in invented.people_shown() if one[1] == "manager")
        desk = said(signed_in(phone_of(app), name, secret).get("/desk").text)
    for part in found.parts:
        for line, path in part.lines:
            parts = line.split(" · ")[:3] if path.startswith("/jobs") else [line.partition(": ")[2]]
            assert all(" ".join(part.split()) in desk for part in parts), line
    it = desk_now.of(Reader.of(demo_db, later), desk_now.DAYS)
    late, short, _backups, lamps, off = (
        [one.job.title for one in it.jobs if one.job.late], [one.mesh for one in it.shortages if one.short], 0,
        [one.name for one in it.lamps], [one.unit for one in it.times_off],
    )  # fmt: skip
    assert len(late) >= 3 and short and off, "else nothing is tried here"
    counted = {part.counted: [line for line, _path in part.lines] for part in found.parts}
    assert [len(lines) for lines in counted.values()] == [len(some) for some in (late, short, lamps, off) if some]
    for title in late:
        assert sum(line.startswith(f"{title} · ") for lines in counted.values() for line in lines) == 1
    assert found.subject.endswith(", ".join(counted)) and f"{len(late)} jobs late" in counted


def test_each_line_leads_to_the_page_that_shows_it(client: FlaskClient, sign_in: SignIn, db: Database) -> None:
    shop.set_up(db, shop.command_line(db, NOW), "address", "http://192.0.2.7:8600", now=NOW)
    made = Shop(db)
    late = made.job(two_colours("Żółte koszulki", due=(NOW - timedelta(days=3)).date().isoformat()))
    fine = made.job(two_colours("Not late", due=(NOW + timedelta(days=20)).date().isoformat()))
    phone = sign_in(client, "Di Novak")
    found = mail.composed(db, NOW)
    assert "1 job late" in found.subject and "Żółte koszulki" in found.text and fine.sheet.title not in found.text
    assert f"  http://192.0.2.7:8600/jobs/{late.code}\n" in found.text
    paths = [path for part in found.parts for _line, path in part.lines]
    assert {"/desk", f"/jobs/{late.code}", "/desk/short?days=7"} <= set(paths)
    desk = said(phone.get("/desk").text)
    for part in found.parts:
        for line, path in part.lines:
            assert phone.get(path).status_code == 200
            if path.startswith(("/desk/short", "/desk")):
                assert line in desk, "in the words of the desk"
    assert "3 days late" in found.text and "3 days late" in desk and "0 of 2 screens ready" in found.text


def test_nothing_to_say_is_said_in_a_line(db: Database) -> None:
    """A day without a mail would look like a mail that is broken."""
    nightly.make(db, NOW)
    found = mail.composed(db, NOW)
    assert found.parts == () and found.subject.endswith("all is well") and "All is well:" in found.text


def test_backups_are_told_of_as_on_the_desk(db: Database) -> None:
    assert "There is no backup of this shop yet." in mail.composed(db, NOW).text
    nightly.make(db, NOW)
    late = NOW + timedelta(days=4)
    found = mail.composed(db, late)
    assert "backups to look at" in found.subject and "The last good backup is of" in found.text


def test_many_are_counted_and_ten_are_listed(db: Database) -> None:
    made = Shop(db)
    for number in range(12):
        sheet = one_colour() | {"title": f"Job {number:02}", "due": "2026-01-0" + str(1 + number % 9)}
        made.job(sheet)
    found = mail.composed(db, NOW)
    assert "12 jobs late" in found.subject and "- and 2 more" in found.text and found.text.count("- Job ") == 10


def test_it_speaks_the_language_of_the_shop(db: Database) -> None:
    shop.set_up(db, shop.command_line(db, NOW), "language", "es", now=NOW)
    assert "There is no backup" not in mail.composed(db, NOW).text


# -- sent


def test_a_real_server_takes_it_with_accents(db: Database, commands: Tickets) -> None:
    shop.set_up(db, shop.command_line(db, NOW), "shop", "Żółta Drukarnia", now=NOW)
    Shop(db).job(two_colours("Çırpıntı tişörtleri", due="2026-01-02"))
    inbox = Inbox()
    with server(inbox) as port:
        set_mail(db, port, mail_to="office@shop.test; second@shop.test")
        state = sent(db)
        assert state.sent_at and not state.error and not state.begun and state.tries == 1
    (got,) = inbox.taken
    expected = mail.composed(db, MORNING)
    assert got["Subject"] == expected.subject and "Żółta Drukarnia: 1 job late" in expected.subject
    assert got["From"].addresses[0].display_name == "Żółta Drukarnia" and "Çırpıntı" in got.get_content()
    assert got.get_content().splitlines() == expected.text.splitlines() and got.get_content_type() == "text/plain"
    assert inbox.receivers == [["office@shop.test", "second@shop.test"]]
    assert got["Auto-Submitted"] == "auto-generated" and got["Message-ID"].endswith("@shop.test>")
    assert socket.gethostname() not in got.as_string(), "no name of this machine goes out"


@pytest.mark.parametrize("secured", ["starttls", "tls"])
def test_a_secured_server_with_a_login(db: Database, trusted: None, secured: str) -> None:
    inbox = Inbox()
    with server(inbox, secured) as port:
        set_mail(db, port, secret=SECRET, mail_server="shop.test", mail_secured=secured, mail_user=USER)
        assert sent(db).sent_at
        mail.keep_secret(db, shop.command_line(db, NOW), "wrong", now=MORNING)
        refused = sent(db, MORNING + timedelta(minutes=1))
        assert "refused the user or the password (535)" in refused.error and not refused.begun
        assert "wrong" not in refused.error.replace("the password", "")
    assert len(inbox.taken) == 1 and set(inbox.logins) == {USER}


@pytest.mark.parametrize("secured", ["starttls", "tls"])
def test_a_certificate_that_nobody_vouches_for_gets_nothing(
    db: Database, trusted: None, secured: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("SSL_CERT_FILE")
    inbox = Inbox()
    with server(inbox, secured) as port:
        set_mail(db, port, secret=SECRET, mail_server="shop.test", mail_secured=secured, mail_user=USER)
        failed = sent(db)
        assert "certificate of shop.test is not to be trusted" in failed.error
    assert inbox.logins == [] and inbox.taken == []


def test_a_server_of_another_name_gets_nothing(db: Database, trusted: None) -> None:
    inbox = Inbox()
    with server(inbox, "starttls") as port:
        set_mail(db, port, secret=SECRET, mail_secured="starttls", mail_user=USER)  # by its number: no name of its own
        assert "is not to be trusted" in sent(db).error
    assert inbox.logins == []


def test_a_server_without_starttls_gets_nothing(db: Database) -> None:
    inbox = Inbox()
    with server(inbox) as port:
        set_mail(db, port, mail_secured="starttls")
        assert "does not offer what is set" in sent(db).error
    assert inbox.taken == []


def test_who_is_not_taken_is_said_and_the_others_get_it(db: Database) -> None:
    inbox = Inbox()
    with server(inbox) as port:
        set_mail(db, port, mail_to="gone@shop.test, office@shop.test")
        state = sent(db)
        assert state.sent_at and inbox.receivers == [["office@shop.test"]]
        assert "gone@shop.test (550 nobody here)" in mail.wrong(db, MORNING)
        assert not mail.due(db, MORNING + timedelta(hours=2))
        set_mail(db, port, MORNING + timedelta(hours=3), mail_to="gone@shop.test")
        later = MORNING + timedelta(hours=4)
        assert "takes no mail for gone@shop.test (550 nobody here)" in sent(db, later).error


def test_a_server_that_refuses_the_text_is_tried_again(db: Database) -> None:
    inbox = Inbox()
    with server(inbox) as port:
        set_mail(db, port)
        inbox.answer = "452 mailbox is full"
        failed = sent(db)
        assert "452 mailbox is full" in failed.error and not failed.begun and inbox.taken == []
        assert mail.due(db, MORNING + timedelta(hours=1))


def test_a_server_that_is_away(db: Database) -> None:
    set_mail(db, free_port())
    state = sent(db)
    assert "127.0.0.1 cannot be reached at port" in state.error and not state.sent_at
    told = mail.wrong(db, MORNING)
    assert "could not be sent" in told and "It is tried 4 more times today." in told


def test_a_name_that_is_not_there(db: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_args: Any, **_how: Any) -> None:
        raise socket.gaierror(-2, "Name or service not known")

    set_mail(db, 587, mail_server="nowhere.example")
    monkeypatch.setattr(socket, "getaddrinfo", none)
    assert "No server is found by the name nowhere.example" in sent(db).error


def test_a_silent_server_is_left_and_the_shop_goes_on(
    db: Database, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While the server says nothing, another connection writes: no lock is held."""
    monkeypatch.setattr(mail_server, "ANSWER_S", 0.6)
    wrote: list[bool] = []

    def silent(line: socket.socket) -> None:
        other = store.connect(folder)
        other.conn.execute("PRAGMA busy_timeout = 0")
        shop.set_up(other, shop.command_line(other, MORNING), "backup_hour", "3", now=MORNING)
        other.close()
        wrote.append(True)
        line.recv(1000)  # until it gives up

    with talker(silent) as port:
        set_mail(db, port)
        begun = time.monotonic()
        failed = sent(db)
        assert time.monotonic() - begun < 5 and "did not answer in time" in failed.error and not failed.begun
    assert wrote == [True]


def test_a_server_that_says_a_letter_at_a_time_is_left_too(db: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mail_server, "WHOLE_S", 0.6)
    over = threading.Event()

    def drips(line: socket.socket) -> None:
        for _letter in range(100):
            line.sendall(b"2")
            if over.wait(0.05):
                return

    with talker(drips) as port:
        set_mail(db, port)
        failed = sent(db)
        over.set()
    assert "took longer than" in failed.error and not failed.begun


def _until_the_text(line: socket.socket) -> None:
    """Says yes to all, takes the text, and never says whether it did."""
    file = line.makefile("rwb", buffering=0)
    file.write(b"220 here\r\n")
    for told in iter(file.readline, b""):
        if told.upper().startswith(b"DATA"):
            file.write(b"354 go on\r\n")
            while (text := file.readline()) not in (b".\r\n", b""):
                assert text
            return
        file.write(b"250 OK\r\n")


def test_what_may_have_arrived_is_not_sent_twice(db: Database, folder: Path) -> None:
    with talker(_until_the_text) as port:
        set_mail(db, port)
        state = sent(db)
    assert state.begun and not state.sent_at
    assert "not known whether the mail of" in mail.wrong(db, MORNING)
    for hours in (1, 5, 15):
        assert not mail.due(db, MORNING + timedelta(hours=hours))
    assert mail.due(db, MORNING + timedelta(days=1)), "tomorrow’s goes out"


def test_ended_while_it_was_handed_over_it_is_not_sent_twice(db: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is on the disk at that moment says so already."""
    seen: list[mail.MailState] = []

    def killed(box: MailBox, message: EmailMessage, begun: Callable[[], None]) -> dict[str, str]:
        seen.append(mail.state(db))
        begun()
        raise KeyboardInterrupt

    set_mail(db, 25)
    monkeypatch.setattr(mail_server, "hand_over", killed)
    with pytest.raises(KeyboardInterrupt):
        mail.send(db, MORNING)
    assert seen[0].tries == 1 and not seen[0].begun and "ended before it was sent" in seen[0].error
    assert mail.state(db).begun and not mail.due(db, MORNING + timedelta(hours=2))


# -- when


def test_it_goes_once_a_day_at_its_hour(db: Database) -> None:
    inbox = Inbox()
    with server(inbox) as port:
        set_mail(db, port, mail_hour="9")
        assert mail.send(db, MORNING, when_due=True) is None and not inbox.taken, "8 o’clock"
        nine = MORNING.replace(hour=9)
        assert sent(db, nine, when_due=True).sent_at
        for later in (1, 60, 14 * 60):
            assert mail.send(db, nine + timedelta(minutes=later), when_due=True) is None
        assert len(inbox.taken) == 1
        assert sent(db, nine + timedelta(days=1), when_due=True).sent_at and len(inbox.taken) == 2


def test_the_hour_is_the_shop_s(db: Database) -> None:
    set_mail(db, 25, mail_hour="6")
    shop.set_up(db, shop.command_line(db, NOW), "zone", "America/Chicago", now=NOW)
    assert not mail.due(db, datetime(2026, 12, 1, 11, 59, tzinfo=UTC))
    assert mail.due(db, datetime(2026, 12, 1, 12, 0, tzinfo=UTC))
    assert not mail.due(db, datetime(2026, 12, 2, 6, 0, tzinfo=UTC)), "midnight there"


def test_sent_by_hand_before_its_hour_it_comes_again_and_after_it_does_not(db: Database) -> None:
    inbox = Inbox()
    with server(inbox) as port:
        set_mail(db, port, mail_hour="9")
        assert sent(db, MORNING).sent_at and mail.due(db, MORNING.replace(hour=9))
        assert sent(db, MORNING.replace(hour=10)).sent_at and not mail.due(db, MORNING.replace(hour=11))


def test_failed_tries_are_bounded_and_an_hour_apart(db: Database) -> None:
    set_mail(db, free_port())
    now = MORNING
    for number in range(1, mail.MOST_TRIES + 1):
        assert mail.due(db, now)
        assert sent(db, now, when_due=True).tries == number
        assert not mail.due(db, now + timedelta(minutes=59))
        now += timedelta(minutes=61)
    assert not mail.due(db, now) and not mail.due(db, now + timedelta(hours=6))
    assert "tried again tomorrow" in mail.wrong(db, now)
    tomorrow = MORNING + timedelta(days=1)
    assert mail.due(db, tomorrow) and sent(db, tomorrow, when_due=True).tries == 1
    set_mail(db, free_port(), tomorrow + timedelta(minutes=5))
    assert mail.due(db, tomorrow + timedelta(minutes=6)), "whoever changed the settings wants to see"


def test_one_that_is_being_sent_is_not_sent_beside(db: Database) -> None:
    set_mail(db, 25)
    with mail._alone(db), pytest.raises(NotNow):
        mail.send(db, MORNING, when_due=True)


def test_a_shop_that_set_nothing_sends_nothing(db: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    def out(*_args: Any, **_how: Any) -> None:
        raise AssertionError("nothing leaves the shop")

    monkeypatch.setattr(socket, "create_connection", out)
    assert not mail.due(db, MORNING) and mail.send(db, MORNING, when_due=True) is None
    with pytest.raises(Refused, match="No mail is set up"):
        mail.send(db, MORNING)
    assert mail.wrong(db, MORNING) == "" and "Nothing is sent" in mail.standing(db, MORNING)
    me = shop.command_line(db, NOW)
    for name, value in (("mail_server", "127.0.0.1"), ("mail_from", "a@shop.test")):
        shop.set_up(db, me, name, value, now=NOW)
    assert not mail.due(db, MORNING), "no address yet"


def test_the_demo_sends_none(demo_db: Database) -> None:
    me = shop.command_line(demo_db, NOW)
    for name, value in (("mail_server", "127.0.0.1"), ("mail_to", "a@shop.test"), ("mail_from", "a@shop.test")):
        shop.set_up(demo_db, me, name, value, now=NOW)
    assert not mail.due(demo_db, MORNING)
    with pytest.raises(Refused, match="demo"):
        mail.send(demo_db, MORNING)


# -- the server, by itself


def wait_for(found: Callable[[], bool], seconds: float = 90) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if found():
            return True
        time.sleep(0.1)
    return False


def test_serving_sends_it_once_also_after_a_restart(folder: Path, db: Database) -> None:
    """The real command, ended and begun again: one mail."""
    inbox = Inbox()
    code = "import web.nights as n; n.Nights.__init__.__defaults__ = (0.1,); from tickets.cli import main; main()"
    command = [sys.executable, "-c", code, "serve", "--host", "127.0.0.1", "--port", "0", "--data", str(folder)]
    nightly.make(db, datetime.now(UTC))
    with server(inbox) as port:
        set_mail(db, port, datetime.now(UTC) - timedelta(days=2), mail_hour="0")
        for _start in range(2):
            running = subprocess.Popen(command, stdout=subprocess.PIPE, env=as_installed())
            try:
                assert running.stdout is not None and b"Serving" in running.stdout.readline()
                assert wait_for(lambda: bool(mail.state(db).sent_at))
                time.sleep(2)  # looks at the clock twenty times
            finally:
                os.kill(running.pid, signal.SIGTERM)
                assert running.wait(20) == 0
                running.stdout.close()
    assert len(inbox.taken) == 1


def test_one_that_fails_keeps_no_other_from_its_work(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = threading.Event()

    def fails(_db: Database, _now: datetime) -> bool:
        raise RuntimeError

    def other(_db: Database, _now: datetime) -> bool:
        asked.set()
        return False

    monkeypatch.setattr(nights, "BY_ITSELF", {"nightly": fails, "mail": other})
    watch = nights.Nights(folder, every=0.02)
    watch.start()
    try:
        assert asked.wait(20)
    finally:
        watch.end()


# -- the command


def test_the_command_shows_and_sends(db: Database, commands: Tickets) -> None:
    shown = commands("mail")
    assert shown.exit_code == 0 and "Subject: " in shown.output and "no backup of this shop yet" in shown.output
    refused = commands("mail", "--send")
    assert refused.exit_code == 2 and "No mail is set up" in refused.output
    assert commands("mail", "--when-due").exit_code == 0
    inbox = Inbox()
    with server(inbox) as port:
        set_mail(db, port)
        as_data = json.loads(commands("mail", "--json").stdout)
        assert as_data["to"] == ["office@shop.test"] and as_data["text"] and not inbox.taken
        done = commands("mail", "--send")
        assert done.exit_code == 0 and "last mail was sent" in done.output and len(inbox.taken) == 1
        assert commands("mail", "--send").exit_code == 0 and len(inbox.taken) == 2, "whoever asks for it gets it"
    failed = commands("mail", "--send")
    assert failed.exit_code == 2 and "could not be sent" in failed.output
    assert commands("mail", "--send", "--by", "Ada Holm").exit_code == 2, "a manager sends it"


def test_the_password_is_given_at_the_machine(db: Database, folder: Path, commands: Tickets) -> None:
    set_mail(db, 587, secret="first", mail_user=USER, mail_secured="starttls")
    assert commands("mail", "--secret-stdin", stdin=f"{SECRET}\n").exit_code == 0
    assert mail.box_of(db).secret == SECRET
    assert commands("mail", "--secret-stdin", stdin="\n").exit_code == 0
    assert not mail.has_secret(db) and not (folder / "mail" / "secret.json").exists()


# -- its settings


def filled(**more: str) -> dict[str, str]:
    return {"mail_to": "office@shop.test", "mail_hour": "7", "mail_server": "mail.shop.test", "mail_port": "465",
            "mail_secured": "tls", "mail_user": USER, "mail_from": USER, "mail_secret": SECRET, **more}  # fmt: skip


def test_a_manager_sets_it_up_and_nobody_else_sees_it(client: FlaskClient, sign_in: SignIn, db: Database) -> None:
    phone = sign_in(client, "Di Novak")
    assert phone.post("/settings/mail", data=filled()).status_code == 303
    page = phone.get("/settings").text
    assert "mail.shop.test" in page and "One is kept, and never shown" in page and SECRET not in page
    assert mail.box_of(db).secret == SECRET and setting(db, "mail_port") == 465
    assert phone.post("/settings/mail", data=filled(mail_secret="", mail_hour="8")).status_code == 303
    assert mail.box_of(db).secret == SECRET, "an empty box leaves it"
    for name in PEOPLE:
        if name != "Di Novak":
            other = sign_in(client, name)
            assert "mail.shop.test" not in other.get("/settings").text
            assert other.post("/settings/mail", data=filled()).status_code == 403


def test_the_password_goes_to_no_other_server(client: FlaskClient, sign_in: SignIn, db: Database) -> None:
    phone = sign_in(client, "Di Novak")
    phone.post("/settings/mail", data=filled())
    for change in ({"mail_server": "other.shop.test"}, {"mail_user": "other@shop.test"}):
        refused = phone.post("/settings/mail", data=filled(mail_secret="", **change))
        assert refused.status_code == 422 and "Type the password of" in said(refused.text)
    me = shop.command_line(db, NOW)
    shop.set_up(db, me, "mail_server", "other.shop.test", now=NOW)
    assert mail.box_of(db).secret == "" and "Type the password of" in sent(db, when_due=True).error


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"mail_to": "office"}, "is not a mail address"),
        ({"mail_to": "a@b.test\nBcc: c@d.test"}, "is not a mail address"),
        ({"mail_to": ",".join(f"a{n}@shop.test" for n in range(11))}, "At most 10 addresses"),
        ({"mail_from": "x@y.test, z@y.test"}, "is not a mail address"), ({"mail_from": ""}, "comes from"),
        ({"mail_from": "żółw@shop.test"}, "without accents"), ({"mail_server": "http://mail.shop.test"}, "no http://"),
        ({"mail_server": "mail.shop.test:25"}, "no port"), ({"mail_port": "0"}, "from 1 to 65535"),
        ({"mail_port": "70000"}, "from 1 to 65535"), ({"mail_hour": "24"}, "from 0 to 23"),
        ({"mail_secured": "somehow"}, "One of:"), ({"mail_secured": "none"}, "over a secured connection only"),
        ({"mail_secret": "zażółć"}, "without accents"), ({"mail_user": "a\nb"}, "without accents"),
        ({"mail_secret": ""}, "Type the password of"),
    ],
)  # fmt: skip
def test_what_would_not_do_is_said_and_nothing_is_kept(
    client: FlaskClient, sign_in: SignIn, db: Database, change: dict[str, str], told: str
) -> None:
    before = {name: setting(db, name) for name in OF_MAIL}
    answer = sign_in(client, "Di Novak").post("/settings/mail", data=filled(**change))
    assert answer.status_code == 422 and told in said(answer.text)
    assert SECRET not in answer.text and {name: setting(db, name) for name in OF_MAIL} == before
    assert not mail.has_secret(db)


def test_the_password_stays_at_home(
    client: FlaskClient, sign_in: SignIn, db: Database, folder: Path, tmp_path: Path, commands: Tickets, clock: Clock
) -> None:
    phone = sign_in(client, "Di Novak")
    phone.post("/settings/mail", data=filled())
    file = folder / "mail" / "secret.json"
    assert stat.S_IMODE(file.stat().st_mode) == 0o600 and stat.S_IMODE(file.parent.stat().st_mode) == 0o700
    made = backup.make(db, tmp_path / "copy.zip", now=NOW, with_secrets=True)
    assert made.bytes and not mail.has_secret(restored(tmp_path))
    assert SECRET not in str(commands("settings", "show").output)
    assert commands("export", "--out", tmp_path / "out").exit_code == 0
    told = [path for path in (tmp_path / "out").rglob("*") if path.is_file()]
    assert told and all(SECRET.encode() not in path.read_bytes() for path in told)
    shop_file = b"".join(path.read_bytes() for path in folder.glob("shop.db*"))
    assert SECRET.encode() not in shop_file and repr(mail.box_of(db)).count(SECRET) == 0
    clock.on(hours=20)
    back = phone.post("/settings/mail", data=filled())
    assert SECRET not in back.text and "mail.shop.test" in back.text, "the form comes back without it"


def restored(tmp_path: Path) -> Database:
    backup.restore(tmp_path / "copy.zip", tmp_path / "again", now=NOW)
    return store.connect(tmp_path / "again")


def test_turned_off_the_password_is_forgotten(db: Database, folder: Path) -> None:
    set_mail(db, 587, secret=SECRET, mail_user=USER, mail_secured="starttls")
    assert mail.has_secret(db)
    set_mail(db, 587, mail_server="")
    assert not (folder / "mail" / "secret.json").exists() and not mail.is_on(db)


def test_the_desk_says_that_it_could_not_be_sent(client: FlaskClient, sign_in: SignIn, db: Database) -> None:
    set_mail(db, free_port(), NOW - timedelta(days=1))
    sent(db, NOW)
    assert "daily mail could not be sent" in said(sign_in(client, "Di Novak").get("/desk").text)
    assert "daily mail could not be sent" in said(client.get("/settings").text)
    assert "daily mail" not in said(sign_in(client, "Ada Holm").get("/desk").text)


@pytest.mark.parametrize("kept", ["", "[]", "{", '{"tries": 1, "unheard": 2}', '{"left_out": 3}'])
def test_a_spoilt_note_of_what_came_of_it_is_as_none(db: Database, folder: Path, kept: str) -> None:
    (folder / "mail").mkdir()
    (folder / "mail" / "last.json").write_text(kept)
    assert mail.state(db) == mail.MailState()


def test_a_header_is_one_line() -> None:
    box = MailBox("m", 25, "none", "", "", "a@shop.test", ("b@shop.test",))
    made = mail_server.message_of(box, "A shop\r\nBcc: x@y.test", "late\r\n\r\nbody", "text\n", NOW)
    assert "Bcc" not in made and made["Subject"] == "late body"
    assert not any(line.startswith(b"Bcc") for line in bytes(made).splitlines())
