"""The network drops, the server stops, a reply is lost, the browser is closed, the phone changes hands, a sign-in ends:
what was filled in is kept, sent once, in order, with the time of the act, and never as another person's."""

from __future__ import annotations

import json
import re
import socket
import socketserver
import threading
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import timedelta
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
import shop as shops
from conftest import _chromium
from flask import Flask
from flask.testing import FlaskClient
from PIL import Image
from shop import HOST, NOW, PEOPLE, Clock, with_presses
from sqlite_utils import Database
from test_web_runs import hang_both, post

from tickets import store
from tickets.actions import buckets, screens, shop
from tickets.actions import people as people_acts
from tickets.domain.posted import form
from tickets.domain.refusal import Trouble
from tickets.queries import find, sound
from tickets.store import entries, people
from tickets.store.settings import setting
from web import coming_back


def frame(db: Database, mark: str = "A 1") -> str:
    sent = {"mesh_count_as_labelled": "230/in", "thread_um": "48", "frame": "aluminium", "mark": mark}
    return screens.add(
        db, shop.command_line(db, NOW), form(sent), post=f"new-frame-{mark.replace(' ', '-').lower():a<8}", now=NOW
    )[0]


@pytest.fixture
def code(db: Database) -> str:
    return frame(db)


def written(db: Database, step: str) -> list[Any]:
    """The entries of a step, in the order in which they were saved."""
    found = [row[0] for row in db.execute("SELECT entry FROM entries WHERE step = ? ORDER BY saved_at", [step])]
    return [entries.find(db, entry) for entry in found]


def notes_by(db: Database) -> list[tuple[str, str]]:
    """Each note, and who wrote it."""
    who = people.names(db)
    return [(one.values["note"], who[one.person]) for one in written(db, "note")]


def notes(db: Database) -> list[str]:
    return [one.values["note"] for one in written(db, "note")]


# -- a network that can be cut


class Network:
    """What stands between the phone and the shop's computer, on this machine: passes on what is asked. `lose` of the
    next replies to a post are lost after they were given; with `target` None nobody answers."""

    def __init__(self) -> None:
        self.target: int | None = None
        self.lose = 0
        self.posts: list[bytes] = []
        network = self

        class Passing(socketserver.StreamRequestHandler):
            def handle(self) -> None:
                network.passed(self)

        self.server = socketserver.ThreadingTCPServer(("127.0.0.1", 0), Passing)
        self.server.daemon_threads = True
        self.thread = threading.Thread(target=self.server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
        self.thread.start()

    @property
    def address(self) -> str:
        return f"http://{HOST}:{self.server.server_address[1]}"

    def passed(self, asked: Any) -> None:
        """One request and its reply."""
        head = b""
        while line := asked.rfile.readline():
            if line.lower().startswith(b"connection:"):
                continue
            head += line if line.strip() else b"Connection: close\r\n\r\n"
            if not line.strip():
                break
        if not head or self.target is None:
            return
        length = next(
            (int(line[15:]) for line in head.split(b"\r\n") if line.lower().startswith(b"content-length:")), 0
        )
        body = asked.rfile.read(length)
        with socket.create_connection(("127.0.0.1", self.target), timeout=20) as shop_side:
            shop_side.sendall(head + body)
            reply = b"".join(iter(lambda: shop_side.recv(65536), b""))
        if head.startswith(b"POST"):
            self.posts.append(body)
            if self.lose:
                self.lose -= 1
                return
        asked.wfile.write(reply)

    def close(self) -> None:
        self.server.shutdown()
        self.server.server_close()


@pytest.fixture
def network(server: str) -> Iterator[Network]:
    made = Network()
    made.target = int(server.rsplit(":", 1)[1])
    yield made
    made.close()


@pytest.fixture
def person(browser: Any, network: Network) -> Iterator[Any]:
    """A phone-sized page, by way of that network."""
    context = browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True, base_url=network.address)
    page = context.new_page()
    page.set_default_timeout(8000)
    yield page
    context.close()


def signed(page: Any, name: str = "Ada Holm") -> None:
    page.goto("/sign-in")
    page.get_by_role("radio", name=name).check()
    page.fill("input[name=secret]", PEOPLE[name][1])
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.locator(".who strong").filter(has_text=name).wait_for()


def note(page: Any, code: str, text: str) -> None:
    """Fills in the note of a screen and taps the button."""
    page.goto(f"/screens/{code}?step=note")
    fill(page, text)


def fill(page: Any, text: str) -> None:
    page.locator("main form.step textarea[name=note]").fill(text)
    page.locator("main form.step button.primary").click()


def unsent(page: Any) -> Any:
    return page.locator("#unsent")


NOT_SENT = "Not sent yet. It is kept on this phone"


def kept(page: Any) -> None:
    page.get_by_text(NOT_SENT).wait_for()


def later(page: Any, seconds: int) -> None:
    """That much later by the phone's clock."""
    page.evaluate("seconds => { const now = Date.now; Date.now = () => now() + seconds * 1000; }", seconds)


@pytest.mark.browser
def test_a_network_that_is_cut_keeps_what_was_typed_and_sends_it_once_with_the_time_of_the_act(
    person: Any, db: Database, code: str, clock: Clock
) -> None:
    signed(person)
    person.goto(f"/screens/{code}?step=note")
    assert unsent(person).is_hidden()
    person.context.set_offline(True)
    fill(person, "Scratch near the corner")
    kept(person)
    assert (
        "chrome-error" not in person.url
        and person.locator("textarea[name=note]").input_value() == "Scratch near the corner"
    )
    unsent(person).get_by_text("Not sent yet: 1.").first.wait_for()
    assert person.locator("main form.step button.primary").is_disabled() and notes(db) == []
    clock.on(hours=2)
    later(person, 2 * 3600)
    person.context.set_offline(False)
    person.get_by_role("link", name="It was sent: show it").wait_for()
    (entry,) = written(db, "note")
    assert entry.values["note"] == "Scratch near the corner" and entry.person == 1
    assert abs(entry.saved_at - entry.at - timedelta(hours=2)) < timedelta(seconds=30)
    unsent(person).get_by_text("Sent just now: 1.").wait_for()
    person.goto(f"/screens/{code}")
    unsent(person).wait_for(state="hidden")
    assert len(notes(db)) == 1 and sound.findings(db) == []


@pytest.mark.browser
def test_a_time_that_was_typed_stays_the_time_of_the_act(person: Any, db: Database, code: str) -> None:
    signed(person)
    person.goto(f"/screens/{code}?step=note")
    person.locator("main form.step summary").last.click()
    person.locator("input[name=at]").fill("2026-03-10T08:15")
    person.context.set_offline(True)
    fill(person, "Seen at a quarter past eight")
    kept(person)
    later(person, 3600)
    person.context.set_offline(False)
    person.get_by_role("link", name="It was sent: show it").wait_for()
    (entry,) = written(db, "note")
    assert entry.at.isoformat() == "2026-03-10T08:15:00+00:00"


@pytest.mark.browser
def test_a_reply_that_is_lost_after_the_commit_is_found_by_its_id(
    person: Any, network: Network, db: Database, code: str
) -> None:
    signed(person)
    network.lose = 1
    note(person, code, "Saved, and the answer lost")
    kept(person)
    assert notes(db) == ["Saved, and the answer lost"]  # it is there: the phone cannot know
    later(person, 90)  # what is sent again comes late, and is the same nonetheless
    person.get_by_role("link", name="It was sent: show it").wait_for()
    first, again = (body for body in network.posts if b"note=" in body)
    assert b"late=" not in first and b"late=" in again and len(notes(db)) == 1


NEVER_KEPT = """() => {
  const store = { put: () => ({}), getAll: () => ({}) };
  IDBDatabase.prototype.transaction = () => ({ objectStore: () => store });  // it never completes
}"""
TAPPED_AND_LEFT = """to => {
  document.querySelector("main form.step button.primary").click();
  location.assign(to);
}"""


@pytest.mark.browser
def test_what_is_tapped_just_before_the_next_scan_is_logged_once(
    person: Any, network: Network, db: Database, code: str
) -> None:
    """The page is left before the phone's store has it, and before the reply came."""
    signed(person)
    for number, text in enumerate(("left before it was kept", "left before the reply"), 1):
        person.goto(f"/screens/{code}?step=note")
        person.locator("main form.step textarea[name=note]").fill(text)
        if number == 1:
            person.evaluate(NEVER_KEPT)
        else:
            network.lose = 1
        person.evaluate(TAPPED_AND_LEFT, f"/t/{code}")
        person.wait_for_url(f"**/t/{code}")
        unsent(person).get_by_text("Sent just now: 1.").wait_for()
        assert len(notes(db)) == number and notes(db)[-1] == text
    person.reload()
    unsent(person).wait_for(state="hidden")
    assert len(notes(db)) == 2 and person.evaluate("localStorage.length") == 0


@pytest.mark.browser
def test_a_server_that_is_started_again_gets_what_was_filled_in_meanwhile(
    person: Any, network: Network, served: Flask, db: Database, code: str
) -> None:
    signed(person)
    person.goto(f"/screens/{code}?step=note")
    network.target = None
    fill(person, "While the server was down")
    kept(person)
    with shops.serving(served) as address:
        network.target = int(address.rsplit(":", 1)[1])
        person.get_by_role("link", name="It was sent: show it").wait_for()
        assert notes(db) == ["While the server was down"]


@pytest.mark.browser
def test_three_entries_are_sent_in_their_order(person: Any, db: Database, code: str) -> None:
    signed(person)
    person.goto(f"/screens/{code}?step=note")
    person.context.set_offline(True)
    for count, text in enumerate(("first", "second", "third"), 1):
        if count > 1:
            person.get_by_role("button", name="Log another one here").click()
            assert person.locator("textarea[name=note]").input_value() == ""
        fill(person, text)
        kept(person)
        person.get_by_text(f"Not sent yet: {count}.").wait_for()
        later(person, 60)
    person.context.set_offline(False)
    person.get_by_text("Sent just now: 3.").wait_for()
    assert notes(db) == ["first", "second", "third"]
    times = [one.at for one in written(db, "note")]
    assert times == sorted(times) and times[2] - times[0] >= timedelta(seconds=60)
    ids = [one.entry for one in written(db, "note")]
    assert len(set(ids)) == 3 and all(one.startswith("1-") for one in ids)


ASKED_FOR_THE_LIST = "performance.getEntriesByType('resource').filter(one => one.name.includes('/unsent.js')).length"


@pytest.mark.browser
def test_a_scan_asks_for_the_list_only_where_there_is_something_to_tell_and_sends_without_it(
    person: Any, db: Database, code: str
) -> None:
    signed(person)
    person.goto(f"/t/{code}")
    log = person.locator("main form.step button.primary").first
    log.wait_for()
    assert person.evaluate(ASKED_FOR_THE_LIST) == 0
    person.context.set_offline(True)
    log.click()
    kept(person)
    unsent(person).get_by_text("Not sent yet: 1.").wait_for()  # the phone has the list since its sign-in
    person.context.set_offline(False)
    person.get_by_role("link", name="It was sent: show it").wait_for()

    person.context.route("**/unsent.js*", lambda route: route.abort())  # it is new since then, and cannot be had now
    person.goto(f"/t/{code}")
    before = db.table("entries").count
    person.context.set_offline(True)
    log.click()
    kept(person)
    assert unsent(person).is_hidden()
    person.context.set_offline(False)
    person.get_by_role("link", name="It was sent: show it").wait_for()
    assert db.table("entries").count == before + 1
    person.context.unroute("**/unsent.js*")
    person.evaluate("dispatchEvent(new Event('online'))")
    unsent(person).get_by_text("Sent just now: 1.").wait_for()


@pytest.fixture
def reopened(server: str, network: Network, tmp_path: Path, browser: Any) -> Iterator[Callable[[], Any]]:
    """`reopened()`: the browser of the same phone, closed and opened again."""
    open_ones: list[Any] = []

    def act() -> Any:
        for one in open_ones:
            one.close()
        open_ones.clear()
        context = browser.browser_type.launch_persistent_context(
            str(tmp_path / "phone"),
            executable_path=_chromium(),
            args=["--no-sandbox", f"--host-resolver-rules=MAP {HOST} 127.0.0.1"],
            viewport={"width": 360, "height": 740},
            base_url=network.address,
        )
        context.set_default_timeout(8000)
        open_ones.append(context)
        return context.pages[0]

    yield act
    for one in open_ones:
        one.close()


@pytest.mark.browser
def test_what_is_not_sent_survives_the_browser_being_closed(
    reopened: Callable[[], Any], network: Network, db: Database, code: str
) -> None:
    page = reopened()
    signed(page)
    page.goto(f"/screens/{code}?step=note")
    target, network.target = network.target, None
    fill(page, "Before the battery was empty")
    kept(page)
    page = reopened()
    network.target = target
    page.goto("/words")
    page.get_by_text("Sent just now: 1.").wait_for()
    assert notes(db) == ["Before the battery was empty"]


@pytest.mark.browser
def test_entries_of_one_wait_while_another_holds_the_phone(
    person: Any, network: Network, db: Database, code: str
) -> None:
    signed(person)
    person.goto(f"/screens/{code}?step=note")
    target, network.target = network.target, None
    fill(person, "Ada saw this")
    kept(person)
    network.target = target
    person.context.clear_cookies()  # somebody signs in before the page tries again
    network.lose = 99
    signed_out = person.context.new_page()
    signed_out.set_default_timeout(8000)
    person.close()
    network.lose = 0
    signed_out.goto("/sign-in")
    unsent(signed_out).get_by_text("Ada Holm: 1 not sent yet.").first.wait_for()
    signed(signed_out, "Bo Lind")
    signed_out.goto(f"/screens/{code}?step=note")
    signed_out.get_by_text("Ada Holm: 1 not sent yet. Sent when Ada Holm signs in on this phone.").wait_for()
    assert "Ada saw this" not in signed_out.content()
    fill(signed_out, "Bo saw that")
    signed_out.wait_for_url("**?done=*")
    unsent(signed_out).get_by_text("Ada Holm: 1 not sent yet.").first.wait_for()
    assert notes(db) == ["Bo saw that"]
    signed(signed_out, "Ada Holm")
    signed_out.get_by_text("Sent just now: 1.").wait_for()
    assert notes_by(db) == [("Bo saw that", "Bo Lind"), ("Ada saw this", "Ada Holm")]


@pytest.mark.browser
def test_what_somebody_left_who_went_is_read_and_thrown_away_by_the_manager_alone(
    person: Any, network: Network, db: Database, code: str
) -> None:
    signed(person)
    person.goto(f"/screens/{code}?step=note")
    target, network.target = network.target, None
    fill(person, "Scratch near the corner")
    kept(person)
    phone = person.context.new_page()
    phone.set_default_timeout(8000)
    person.context.clear_cookies()
    person.close()
    people_acts.leave(db, 1, NOW)
    network.target = target
    signed(phone, "Bo Lind")
    phone.get_by_text("Ada Holm cannot sign in any more: 1 not sent. A manager").wait_for()
    assert "Scratch" not in phone.content() and phone.get_by_role("button", name="Throw it away").count() == 0
    signed(phone, "Di Novak")
    unsent(phone).get_by_text("nobody sends them under another name").wait_for()
    phone.get_by_text("Which?").click()
    told = unsent(phone).locator("pre").inner_text()
    assert "Ada Holm" in told and f"/screens/{code}/note" in told and "note: Scratch near the corner" in told
    phone.get_by_role("button", name="Copy as text").click()
    phone.get_by_role("button", name="Copied").wait_for()
    phone.get_by_role("button", name="Throw it away").click()
    assert unsent(phone).locator("pre").count() == 1
    phone.get_by_role("button", name="Tap again to throw it away").click()
    unsent(phone).wait_for(state="hidden")
    assert notes(db) == []


@pytest.mark.browser
def test_a_page_of_one_person_logs_nothing_as_the_other_who_took_the_phone_over_in_another_tab(
    person: Any, db: Database, code: str
) -> None:
    signed(person)
    person.goto(f"/screens/{code}?step=note")
    other = person.context.new_page()
    other.set_default_timeout(8000)
    signed(other, "Bo Lind")
    fill(person, "Typed by Ada")
    person.get_by_text("This form was Ada Holm’s, and Bo Lind holds the phone now.").wait_for()
    assert notes(db) == []
    other.reload()
    other.get_by_text("Ada Holm: 1 not sent yet.").wait_for()
    person.get_by_role("button", name="Bo Lind did it: log it").click()
    person.wait_for_url("**?done=*")
    assert notes_by(db) == [("Typed by Ada", "Bo Lind")]
    assert unsent(person).is_hidden()  # what Bo took upon himself does not wait for Ada any more


@pytest.mark.browser
def test_an_entry_that_is_refused_when_it_is_sent_late_waits_for_its_person(
    person: Any, db: Database, code: str
) -> None:
    signed(person)
    person.goto(f"/screens/{code}?step=coat")
    person.context.set_offline(True)
    person.locator("main form.step button.primary").click()
    kept(person)
    retired = form({"cause": "torn"})
    screens.log(
        db, shop.command_line(db, NOW), find.screen(db, code), "retire", retired, post="retired-meanwhile-1", now=NOW
    )
    person.context.set_offline(False)
    person.get_by_text("Not logged, and waiting for your answer: 1.").wait_for()
    unsent(person).get_by_text("Do you have it in front of you?").first.wait_for()
    assert written(db, "coat") == []
    person.reload()
    person.get_by_role("button", name="Open it").click()
    person.get_by_role("button", name="Yes").first.click()
    person.wait_for_url("**?done=*")
    unsent(person).wait_for(state="hidden")
    assert len(written(db, "coat")) == 1


@pytest.mark.browser
def test_what_nobody_wants_any_more_is_thrown_away_by_two_taps(person: Any, db: Database, code: str) -> None:
    signed(person)
    person.goto(f"/screens/{code}?step=note")
    person.context.set_offline(True)
    fill(person, "Not that")
    kept(person)
    unsent(person).get_by_text("Which?").click()
    assert code in unsent(person).inner_text().replace("-", "")
    unsent(person).get_by_role("button", name="Throw it away").click()
    unsent(person).get_by_role("button", name="Tap again to throw it away").click()
    unsent(person).wait_for(state="hidden")
    person.context.set_offline(False)
    person.goto(f"/screens/{code}")
    assert notes(db) == []


KEPT_THERE = """async () => JSON.stringify(await new Promise(done => {
    const open = indexedDB.open("unsent", 1);
    open.onsuccess = () => {
        const all = open.result.transaction("entries").objectStore("entries").getAll();
        all.onsuccess = () => done(all.result);
    };
}))"""


@pytest.mark.browser
def test_a_secret_is_never_kept_on_the_phone(
    person: Any, network: Network, db: Database, code: str, clock: Clock
) -> None:
    signed(person)
    note(person, code, "To be crossed out")
    person.wait_for_url("**?done=*")
    clock.on(minutes=10)
    (entry,) = written(db, "note")
    person.goto(f"/screens/{code}?cross={entry.entry}")
    target, network.target = network.target, None
    crossing = person.locator("main form").filter(has=person.locator("input[name=secret]")).first
    crossing.locator("input[name=secret]").fill("4711")
    crossing.locator("input[name=why][type=text]").fill("another screen")
    crossing.get_by_role("button", name="Cross out").click()
    kept(person)
    stored = person.evaluate(KEPT_THERE)
    assert entry.entry in stored and "4711" not in stored
    network.target = target
    person.get_by_text("Not logged, and waiting for your answer: 1.").wait_for()
    unsent(person).get_by_text("Your PIN again, please.").first.wait_for()
    assert written(db, "cross-out") == []


@pytest.mark.browser
def test_a_faulty_form_comes_back_in_its_place_with_scripts_that_work(person: Any, db: Database, code: str) -> None:
    signed(person)
    person.goto(f"/screens/{code}?step=tension")
    for box in person.get_by_label("Reading 1").all()[:1]:
        box.fill("twenty")
    person.locator("main form.step button.primary").click()
    person.locator(".fault").first.wait_for()
    assert person.get_by_label("Reading 1").first.input_value() == "twenty" and unsent(person).is_hidden()
    person.get_by_label("Reading 1").first.fill("25")
    person.context.set_offline(True)  # the page that came back keeps as well as the first one
    person.locator("main form.step button.primary").click()
    kept(person)
    person.context.set_offline(False)
    person.get_by_role("link", name="It was sent: show it").wait_for()
    assert len(written(db, "tension")) == 1


@pytest.mark.browser
def test_a_computer_that_cannot_save_now_gets_it_later(
    person: Any, db: Database, code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    signed(person)
    with monkeypatch.context() as patched:

        def full(*_args: Any, **_more: Any) -> None:
            raise Trouble("full", "The disk of the shop’s computer is full.")

        patched.setattr("tickets.actions.screens.log", full)
        note(person, code, "Nearly lost")
        kept(person)
        person.get_by_text("The disk of the shop’s computer is full.").wait_for()
    person.get_by_role("link", name="It was sent: show it").wait_for()
    assert notes(db) == ["Nearly lost"]


@pytest.mark.browser
def test_what_a_doubtful_clock_holds_is_sent_once_when_the_clock_was_said_right(
    person: Any, browser: Any, network: Network, db: Database, code: str, clock: Clock
) -> None:
    office = browser.new_context(base_url=network.address)
    desk, answers = office.new_page(), office.new_page()
    signed(desk, "Di Novak")
    signed(person)
    clock.on(minutes=-20)
    note(person, code, "Scratch near the corner")
    kept(person)
    person.get_by_text("Nothing can be saved now: the clock of the shop’s computer says").first.wait_for()
    assert person.locator("textarea[name=note]").input_value() == "Scratch near the corner"
    desk.goto("/settings")
    form = desk.locator('form[action="/settings/shop"]')
    form.locator("input[name=shop]").fill("The other shop")
    form.get_by_role("button").click()
    desk.get_by_role("heading", name="Not saved").wait_for()
    answers.goto("/clock")
    answers.fill("main input[name=secret]", PEOPLE["Di Novak"][1])
    answers.get_by_role("button", name="The clock is right").click()
    answers.get_by_text("They agree: nothing is asked.").wait_for()
    assert notes(db) == [] and setting(db, "shop") == ""
    desk.get_by_role("button", name="Send it again").click()
    desk.wait_for_url("**/settings*")
    assert setting(db, "shop") == "The other shop"
    person.evaluate("dispatchEvent(new Event('online'))")
    person.get_by_role("link", name="It was sent: show it").wait_for()
    office.close()
    (entry,) = written(db, "note")
    assert entry.values["note"] == "Scratch near the corner" and entry.at <= clock.now < NOW


@pytest.mark.browser
def test_under_the_safelight_what_is_not_sent_has_no_blue_and_no_box_to_type_in(person: Any, code: str) -> None:
    signed(person)
    person.get_by_role("button", name="Safelight").click()
    person.locator("html.safelight").wait_for()
    person.goto(f"/screens/{code}?step=degrease")
    person.context.set_offline(True)
    person.locator("main form.step button.primary").click()
    kept(person)
    unsent(person).get_by_text("Which?").click()
    _red, _green, blue = Image.open(BytesIO(person.screenshot(full_page=True))).convert("RGB").split()
    assert blue.getextrema() == (0, 0)
    assert unsent(person).locator("input, textarea").count() == 0
    assert shops.broken_rules(person) == []


# -- every form of the floor


@pytest.fixture
def run(db: Database, app: Flask, sign_in: Callable[[FlaskClient, str], FlaskClient]) -> int:
    """A run with its screens hung, by Bo Lind."""
    phone = sign_in(shops.phone_of(app), "Bo Lind")
    made = with_presses(db)
    number, _white, _blue = hang_both(phone, made, made.job())
    assert (
        post(phone, number, "approve", approved_by="Cy Marsh", approved_as="press", how="piece in hand").status_code
        == 303
    )
    assert post(phone, number, "start").status_code == 303
    return number


@pytest.mark.browser
def test_forms_of_runs_and_buckets_are_kept_too(person: Any, db: Database, run: int) -> None:
    bucket = buckets.mix(
        db,
        shop.command_line(db, NOW),
        form({"kind": "water-base ink", "product": "white A"}),
        post="a-bucket-of-white-1",
        now=NOW,
    )
    signed(person, "Bo Lind")
    person.goto(f"/runs/{run}")
    counts = person.locator(f'form[action="/runs/{run}/count"]').first
    counts.locator("xpath=ancestor-or-self::details").first.evaluate_all(
        "all => all.forEach(one => { one.open = true; })"
    )
    counts.locator("input[name=good]").fill("40")
    person.context.set_offline(True)
    counts.get_by_role("button").last.click()
    kept(person)
    person.context.set_offline(False)
    person.get_by_role("link", name="It was sent: show it").wait_for()
    (count,) = written(db, "count")
    assert count.values["good"] == 40
    person.goto(f"/buckets/{bucket}")
    use = person.locator(f'form[action="/buckets/{bucket}/use"]').first
    person.context.set_offline(True)
    use.locator("button.primary").click()
    kept(person)
    person.context.set_offline(False)
    person.get_by_role("link", name="It was sent: show it").wait_for()
    assert len(written(db, "use")) == 1 and sound.findings(db) == []


# -- a sign-in that ended, with and without scripts


TAPPED = ("radio", "checkbox")


class Forms(HTMLParser):
    """The forms of a page: what each would send, by where it goes."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.forms: list[tuple[str, dict[str, list[str]]]] = []
        self.into: tuple[str, str] | None = None
        self.chosen = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.forms.append((has.get("action", ""), {}))
        elif tag == "textarea" and self.forms:
            self.into = (self.forms[-1][0], has["name"])
            self.forms[-1][1].setdefault(has["name"], []).append("")
        elif tag == "select" and self.forms:
            self.forms[-1][1][has["name"]] = [""]
            self.chosen = has["name"]
        elif tag == "option" and "selected" in has:
            self.forms[-1][1][self.chosen] = [has.get("value", "")]
        elif tag == "input" and self.forms and has.get("name") and (has.get("type") not in TAPPED or "checked" in has):
            self.forms[-1][1].setdefault(has["name"], []).append(has.get("value", ""))

    def handle_data(self, data: str) -> None:
        if self.into:
            self.forms[-1][1][self.into[1]][-1] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea":
            self.into = None

    def of(self, action: str) -> dict[str, list[str]]:
        return next(sent for where, sent in self.forms if where == action)


@pytest.fixture
def phone(client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]) -> FlaskClient:
    return sign_in(client, "Ada Holm")


def after_sign_in(phone: FlaskClient, answer: Any, name: str = "Ada Holm") -> Any:
    sent = Forms(answer.text).of("/sign-in")
    return phone.post("/sign-in", data={**sent, "who": name, "secret": PEOPLE[name][1]})


def test_a_sign_in_that_ended_in_mid_form_loses_nothing(
    phone: FlaskClient, db: Database, code: str, clock: Clock
) -> None:
    sent = Forms(phone.get(f"/screens/{code}?step=note").text).of(f"/screens/{code}/note")
    clock.on(hours=30)
    answer = phone.post(f"/screens/{code}/note", data={**sent, "note": "Typed <before> it ended", "secret": "4711"})
    assert answer.status_code == 401 and "You were signed out" in answer.text and notes(db) == []
    assert "4711" not in answer.text and "Ada Holm" in answer.text
    wrong = phone.post("/sign-in", data={**Forms(answer.text).of("/sign-in"), "who": "Ada Holm", "secret": "0000"})
    assert wrong.status_code == 422 and "before" in "".join(Forms(wrong.text).of("/sign-in")["kept"])
    back = after_sign_in(phone, wrong)
    assert "this was not logged" in back.text and notes(db) == []
    filled = Forms(back.text).of(f"/screens/{code}/note")
    assert filled["note"] == ["Typed <before> it ended"] and filled["entry"] == sent["entry"]
    assert phone.post(f"/screens/{code}/note", data=filled).status_code == 303
    assert notes(db) == ["Typed <before> it ended"]


def test_what_was_saved_before_the_sign_in_ended_is_not_logged_twice(
    phone: FlaskClient, db: Database, code: str, clock: Clock
) -> None:
    sent = {**Forms(phone.get(f"/screens/{code}?step=note").text).of(f"/screens/{code}/note"), "note": "once"}
    assert phone.post(f"/screens/{code}/note", data=sent).status_code == 303
    clock.on(hours=30)
    back = after_sign_in(phone, phone.post(f"/screens/{code}/note", data=sent))
    assert back.status_code == 303 and "?done=" in back.location and notes(db) == ["once"]


def test_another_who_signs_in_does_not_log_it_as_theirs(
    phone: FlaskClient, db: Database, code: str, clock: Clock
) -> None:
    sent = Forms(phone.get(f"/screens/{code}?step=note").text).of(f"/screens/{code}/note")
    clock.on(hours=30)
    answer = phone.post(f"/screens/{code}/note", data={**sent, "note": "Ada saw it"})
    back = after_sign_in(phone, answer, "Bo Lind")
    assert back.status_code == 409 and "This form was Ada Holm’s, and Bo Lind holds the phone now." in back.text
    assert (
        phone.post(f"/screens/{code}/note", data={**sent, "note": "Ada saw it"}).status_code == 409 and notes(db) == []
    )
    again = after_sign_in(phone, back)
    assert Forms(again.text).of(f"/screens/{code}/note")["note"] == ["Ada saw it"]
    theirs = Forms(back.text).of(f"/screens/{code}/note")
    signed_in = shops.signed_in(phone, "Bo Lind")
    assert theirs["entry"] != sent["entry"] and signed_in.post(f"/screens/{code}/note", data=theirs).status_code == 303
    assert notes_by(db) == [("Ada saw it", "Bo Lind")]


def test_a_form_without_an_id_is_shown_and_sent_by_a_tap(
    app: Flask, client: FlaskClient, db: Database, clock: Clock
) -> None:
    manager = shops.signed_in(client, "Di Novak")
    clock.on(hours=30)
    answer = manager.post("/settings/shop", data={"value": "Fern Lane Prints"})
    assert answer.status_code == 401
    back = after_sign_in(manager, answer, "Di Novak")
    assert "this was not saved" in back.text and Forms(back.text).of("/settings/shop")["value"] == ["Fern Lane Prints"]


@pytest.mark.parametrize(
    "rubbish", ["", "{", "[]", '["/nowhere", "/", [], false]', '["//evil.test/", "/", [], false]', "[1,2,3]"]
)
def test_what_a_sign_in_carries_is_taken_only_where_a_form_goes(client: FlaskClient, code: str, rubbish: str) -> None:
    answer = client.post("/sign-in", data={"name": "Ada Holm", "secret": "4711", "kept": rubbish, "next": "/jobs"})
    assert (answer.status_code, answer.location) == (303, "/jobs")


def test_a_stranger_who_posts_is_sent_to_sign_in(client: FlaskClient, code: str) -> None:
    answer = client.post(f"/screens/{code}/note", data={"note": "x", "entry": "somebody-elses-id"})
    assert answer.status_code == 303 and answer.location.startswith("/sign-in")


# -- what the server takes


def test_how_late_an_entry_comes_is_no_part_of_it(phone: FlaskClient, db: Database, code: str, clock: Clock) -> None:
    sent = {"entry": "an-entry-sent-late-1", "note": "x", "at": ""}
    assert phone.post(f"/screens/{code}/note", data=sent).status_code == 303
    clock.on(minutes=5)
    assert phone.post(f"/screens/{code}/note", data={**sent, "late": "300"}).status_code == 303
    assert len(notes(db)) == 1
    assert phone.post(f"/screens/{code}/note", data={**sent, "at": "2026-03-10T09:00"}).status_code == 409


@pytest.mark.parametrize(("late", "back"), [("300", 300), ("-5", 0), ("x", 0), ("9" * 15, 90 * 86400), ("9" * 400, 0)])
def test_how_late_is_a_number_within_reason(phone: FlaskClient, db: Database, code: str, late: str, back: int) -> None:
    assert (
        phone.post(
            f"/screens/{code}/note", data={"entry": "an-entry-sent-late-1", "note": "x", "late": late}
        ).status_code
        == 303
    )
    (entry,) = written(db, "note")
    assert abs((entry.saved_at - entry.at).total_seconds() - back) < 2


def test_a_late_entry_that_is_refused_shows_its_time_in_the_form(phone: FlaskClient, code: str) -> None:
    sent = {"entry": "an-entry-sent-late-1", "readings_n_per_cm": "twenty", "late": "3600"}
    answer = phone.post(f"/screens/{code}/tension", data=sent)
    assert answer.status_code == 422 and Forms(answer.text).of(f"/screens/{code}/tension")["at"] == ["2026-03-10T09:00"]


def test_a_script_gets_the_way_on_as_it_is(phone: FlaskClient, code: str) -> None:
    by_script = {"Sent-By": "script"}
    answer = phone.post(f"/screens/{code}/note", data={"entry": "an-entry-by-script-1", "note": "x"}, headers=by_script)
    assert (answer.status_code, answer.headers["Next"]) == (204, f"/screens/{code}?done=an-entry-by-script-1")
    assert "Location" not in answer.headers and answer.data == b""
    assert json.loads(json.dumps(dict(answer.headers)))["Cache-Control"] == "no-store"


ID = re.compile(r'name="entry" value="\s*([^"]+)"')


def test_every_form_of_a_page_has_an_id_that_is_its_persons(tmp_path: Path, clock: Clock) -> None:
    """Pages of several forms put something behind the id of the page: it must go on saying whose form it is."""
    folder = shops.the_demo(tmp_path / "shop")
    with shops.pages(folder) as app, closing(store.connect(folder)) as there:
        phone = shops.signed_in(shops.phone_of(app), "Di Novak", "demo-heron")
        number = next(number for number, name in people.names(there).items() if name == "Di Novak")
        paths = ["/press", "/screen-room", "/screens", "/places", "/jobs/new", "/buckets/new"]
        paths += [
            f"/jobs/{row[0]}{more}"
            for row in there.execute("SELECT code FROM jobs LIMIT 3")
            for more in ("", "/ink", "/again")
        ]
        paths += [f"/runs/{row[0]}" for row in there.execute("SELECT id FROM runs ORDER BY id DESC LIMIT 4")]
        paths += [f"/exposure-units/{quote(row[0])}" for row in there.execute("SELECT name FROM exposure_units")]
        found = {path: ID.findall(phone.get(path).text) for path in paths}
    ids = [one for several in found.values() for one in several]
    assert len(ids) > 30 and found["/press"], found
    assert [one for one in ids if coming_back.made_for(one) != number or len(one) > 28] == []


@pytest.mark.browser
def test_lines_of_paper_are_kept_and_what_is_only_checked_stays_to_be_read(
    person: Any, db: Database, code: str
) -> None:
    signed(person, "Di Novak")
    person.goto(f"/screens/{code}/from-paper")
    person.locator("[name='row1.step']").select_option("note")
    person.locator("[name='row1.at']").fill("2026-03-10T09:00")
    person.locator("[name='row1.value']").fill("From the ticket")
    person.context.set_offline(True)
    person.get_by_role("button", name="Log these lines").click()
    kept(person)
    person.context.set_offline(False)
    person.get_by_role("link", name="It was sent: show it").wait_for()
    assert notes(db) == ["From the ticket"]
    person.goto("/jobs/new")
    assert unsent(person).is_hidden()
    person.locator("form.job [name=title]").fill("Typed for an hour")
    person.context.set_offline(True)
    person.get_by_role("button", name="Check without saving").first.click()
    kept(person)
    person.context.set_offline(False)
    person.get_by_text("Not logged, and waiting for your answer: 1.").wait_for()
    person.get_by_role("button", name="Open it").click()
    assert person.locator("form.job [name=title]").input_value() == "Typed for an hour"
