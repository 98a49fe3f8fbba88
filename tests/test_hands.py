"""Pages as things for hands: where the button is, and what a finger finds under it once it pressed."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from flask.testing import FlaskClient
from shop import Clock, Shop, answered, fresh, said, signed_in, two_colours

from tickets import store
from tickets.actions.posting import line, numbered, write
from tickets.domain.code import shown
from tickets.domain.refusal import Refused
from tickets.domain.stages import Standing

MAIN_BUTTON = """() => {
  const of = "main :is(button, .button).primary, main .picks button, main form.step button:not(.enter)";
  const button = [...document.querySelectorAll(of)].find((one) => one.checkVisibility());
  return button ? button.getBoundingClientRect().bottom : 0;
}"""
WAITS = frozenset({Standing.READY, Standing.KEPT, Standing.RETIRED})
"""Stages after which nobody logs anything in the screen room."""


@pytest.fixture
def of_each_stage(shop: Shop) -> dict[Standing, str]:
    """A screen at every stage that a screen can have; its code."""
    shop.me = shop.manager
    job, outside = shop.job(), shop.place("Stretching service", "rack", outside=True)
    for name in ("Rack 1", "Drying cabinet", "Cart A"):
        shop.place(name, "cart" if name == "Cart A" else "rack")
    shop.place("Unit 1", "rack")
    steps: list[tuple[str, dict[str, Any]]] = [
        ("degrease", {}), ("coat", {"dry": "yes"}), ("image", {"separations": shop.separation(job), "dry": "yes"}),
        ("expose", {"exposure_s": "60"}), ("washout", {"result": "good"}), ("check", {"result": "good", "dry": "yes"}),
    ]  # fmt: skip
    made: dict[Standing, str] = {}

    def log(code: str, *more: tuple[str, dict[str, Any]]) -> None:
        for step, values in more:
            shop.log(code, step, in_hand="yes", still_needed="yes", override="a test", **values)
        made[shop.life(code).standing] = code

    for number in range(len(steps) + 1):
        log(shop.frame(), *steps[:number])
    off = [*steps, ("pull", {"condition": "good"})]
    log(shop.frame(), *off)
    log(shop.frame(), *off, ("clean", {}), ("decide", {"then": "keep"}))
    log(shop.frame(), *off, ("clean", {}), ("decide", {"then": "strip"}))
    log(shop.frame(), *off, ("clean", {}), ("decide", {"then": "strip"}), ("strip", {}))
    log(shop.frame(), ("fault", {"kind": "torn"}))
    log(shop.frame(), ("rack", {"place": outside}))
    log(shop.frame(), ("retire", {"cause": "frame"}))
    hung = {asked: shop.screen(job, asked) for asked in (1, 3)}
    run = shop.set_up(job, hung, "Press 1")
    shop.approve(run)
    shop.step(run, "start")
    made[shop.life(hung[1]).standing] = hung[1]
    lost = shop.frame()
    against = line(shop.me, "washout", shop.now, shop.now, {"result": "good"}, screen=shop.find(lost).id)
    with store.writing(shop.db):  # against all that the log knows of it, and nobody was asked
        write(shop.db, numbered(fresh(), [against]))
    made[shop.life(lost).standing] = lost
    return made


@pytest.mark.browser
def test_the_main_button_is_where_the_thumb_is(
    phone: Any, sign_in_page: Callable[[Any, str], None], of_each_stage: dict[Standing, str]
) -> None:
    """At every stage, by day and under the safelight, upright and held across."""
    sign_in_page(phone, "Di Novak")
    missing = set(Standing) - set(of_each_stage)
    assert not missing, missing
    low = []
    for view in ("day", "safelight"):
        if view == "safelight":
            with answered(phone):
                phone.locator(".view button").click()
        for wide, high, most in ((360, 740, 640), (740, 360, 300)):
            phone.set_viewport_size({"width": wide, "height": high})
            for stage, code in of_each_stage.items():
                phone.goto(f"/t/{code}")
                bottom = phone.evaluate(MAIN_BUTTON)
                assert bottom > 0 or stage in WAITS, stage
                if bottom > most:
                    low.append((view, wide, str(stage), bottom))
                assert phone.evaluate("document.documentElement.scrollWidth") <= wide, stage
    assert low == []


SCANS = {"hang", "one hangs", "paused"}
"""States of a run in which screens are scanned."""


@pytest.mark.browser
def test_the_main_act_of_a_run_is_where_the_thumb_is(
    phone: Any, sign_in_page: Callable[[Any, str], None], shop: Shop
) -> None:
    """At every state of a run, by day and under the safelight, on a phone that is in it."""
    shop.me = shop.manager
    sign_in_page(phone, "Cy Marsh")
    job = shop.job()
    white, blue = shop.screen(job, 1), shop.screen(job, 3)
    run, low = shop.set_up(job, {}), []

    def looked(state: str) -> None:
        for view in ("safelight", "day"):
            with answered(phone):
                phone.locator(".view button").click()
            bottom = phone.evaluate(MAIN_BUTTON.replace("main form.step", "main .at-hand summary, main form"))
            scans = view == "safelight" and state in SCANS  # typing a code would bring up a white keyboard
            if not (scans or 0 < bottom <= 640):
                low.append((state, view, bottom))

    phone.set_viewport_size({"width": 360, "height": 740})
    phone.goto(f"/runs/{run}")
    with answered(phone):
        phone.get_by_role("button", name="Scan with this phone").click()
    acts: list[tuple[str, Callable[[], Any]]] = [
        ("hang", lambda: shop.step(run, "hang", screen=white, head="2", station="1")),
        ("one hangs", lambda: shop.step(run, "hang", screen=blue, head="4", station="3")),
        ("set-up", lambda: shop.step(run, "sheet")),
        ("approve", lambda: shop.approve(run)),
        ("start", lambda: shop.step(run, "start")),
        ("printing", lambda: shop.step(run, "pause", good="10")),
        (
            "paused",
            lambda: [shop.step(run, "hang", screen=one, head=head) for one, head in ((white, "2"), (blue, "4"))],
        ),
        ("all hang again", lambda: shop.step(run, "start")),
        ("printing again", lambda: shop.step(run, "finish")),
        ("over", lambda: None),
    ]
    for state, act in acts:
        phone.goto(f"/runs/{run}")
        looked(state)
        act()
    assert low == []


@pytest.mark.browser
def test_what_takes_back_or_begins_is_below_the_next_button(
    phone: Any, sign_in_page: Callable[[Any, str], None], shop: Shop
) -> None:
    """After a step, in a task, and for a whole rack: what crosses out is folded away, after all else."""
    sign_in_page(phone, "Ada Holm")
    shop.me = shop.maker
    rack = shop.place("Rack 1", "rack")
    *first, second = shop.frames(4)

    def tap(name: str) -> None:
        with answered(phone):
            phone.get_by_role("button", name=name).first.click()

    def crossed_below(what: str) -> None:
        cross = phone.get_by_role("link", name="Cross it", include_hidden=True)
        assert cross.count() == 1 and not cross.is_visible(), what
        assert phone.locator("details.last").evaluate(
            "last => [...document.querySelectorAll('main :is(button, .button):not(.last *)')].every("
            "one => !one.checkVisibility() || one.classList.contains('quiet')"
            " || one.compareDocumentPosition(last) & Node.DOCUMENT_POSITION_FOLLOWING)"
        ), what

    for code, place in zip(first, (0, 300, 10_000), strict=True):  # wherever the page stood when it was pressed
        shop.past(code, "degrease", 3)
        phone.goto(f"/t/{code}")
        phone.evaluate(f"scrollTo(0, {place})")
        tap("Coated")
        crossed_below(f"a step, at {place}")
        mode = phone.get_by_role("button", name="Same step on other screens").bounding_box()
        main = phone.locator(".next :is(.picks button, button.primary)").first.bounding_box()
        assert mode and main and mode["y"] > main["y"], "a mode begins below what comes next"
    phone.goto(f"/t/{rack}")
    tap("Scan screens to put them here")
    phone.goto(f"/t/{second}")
    tap("Put on Rack 1")
    crossed_below("in a task")
    tap("Done: show Rack 1")
    phone.goto(f"/places/{rack}?step=degrease&tick=all")
    assert phone.locator("#ticked[role=status]").inner_text() == "Log 1: degreased"  # and is heard
    tap("Log 1: degreased")
    crossed_below("a rack")


def test_an_image_that_nobody_entered_yet_is_named_later(shop: Shop) -> None:
    shop.me = shop.maker
    code = shop.frame()
    shop.log(code, "degrease")
    shop.log(code, "coat", dry="yes")
    shop.log(code, "image", separations="later", dry="yes")
    life = shop.life(code)
    assert life.standing is Standing.IMAGED and life.stencil is not None and life.stencil.separations == ()
    shop.log(code, "image", separations=["later", str(shop.separation())])  # a name wins
    named = shop.life(code).stencil
    assert named is not None and named.separations == (shop.separation(),)
    with pytest.raises(Refused, match="Image"):
        shop.log(code, "image")  # left empty it is no answer


def test_a_fault_in_words_is_said_on_the_screen_and_at_the_press(shop: Shop, client: FlaskClient) -> None:
    shop.me = shop.maker
    job = shop.job()
    code = shop.screen(job, 1)
    shop.log(code, "fault", kind="other", what="paint flakes off the corner", then="use on")
    assert shop.life(code).fault == "paint flakes off the corner"
    signed_in(client, "Di Novak")
    assert "Noted on the frame: paint flakes off the corner" in said(client.get(f"/t/{code}").text)
    run = shop.set_up(job, {})
    assert "paint flakes off the corner" in said(client.get(f"/runs/{run}?screen={code}").text)
    shop.tick(hours=1)
    shop.log(code, "tension", readings_n_per_cm="26 26 26 26 26")
    shop.log(code, "check", result="good")
    assert "paint flakes" not in said(client.get(f"/runs/{run}?screen={code}").text)


def test_a_mode_says_what_every_scan_does_and_ends_by_itself(shop: Shop, client: FlaskClient, clock: Clock) -> None:
    shop.me = shop.maker
    rack, (first, second) = shop.place("Rack 1"), shop.frames(2)
    bucket = shop.mix()
    signed_in(client, "Ada Holm")
    band = "Every scan: put on Rack 1"

    def doing(code: str) -> bool:
        return band in client.get(f"/t/{code}").text

    client.post("/doing/place", data={"place": rack})
    assert doing(first) and "own page" in said(client.get(f"/t/{first}").text)
    clock.now += timedelta(minutes=19)
    assert doing(first), "used 19 minutes ago"
    clock.now += timedelta(minutes=19)
    assert doing(first), "a scan is use"
    clock.now += timedelta(minutes=20)
    over = client.get(f"/t/{first}").text
    assert "Over: Every scan: put on Rack 1" in over and "Put on Rack 1</button>" not in over
    assert not doing(first)
    client.post("/doing/place", data={"place": rack})
    client.post(f"/screens/{second}/rack", data={"entry": fresh(), "place": "Rack 1", "then_to": "scan"})
    before = shop.db.table("entries").count
    ended = client.get(f"/t/{bucket}").text
    assert "Over: Every scan: put on Rack 1 · 1 screen so far" in ended and shop.db.table("entries").count == before
    assert not doing(first), "a ticket of another kind ended it"


def test_a_mode_hides_nothing_that_the_screen_needs(shop: Shop, client: FlaskClient) -> None:
    shop.me = shop.maker
    rack, code = shop.place("Rack 1"), shop.frame()
    shop.log(code, "fault", kind="torn")
    signed_in(client, "Ada Holm")
    client.post("/doing/place", data={"place": rack})
    page = said(client.get(f"/t/{code}").text)
    assert (
        "Put on Rack 1" in page
        and "The mesh is torn" in page
        and "Next for this screen by itself: Stretch new mesh" in page
    )


def test_a_scan_at_the_press_says_whether_the_screen_is_for_the_open_run(shop: Shop, client: FlaskClient) -> None:
    """From a phone that never joined a run: the verdict and one tap to hang, or a stop; whatever the run is at."""
    shop.me = shop.maker
    job, elsewhere = shop.job(), shop.job(two_colours("Harbour race shirts", art={"name": "Gull", "revision": "1"}))
    white, red, wrong = shop.screen(job, 1), shop.screen(job, 3), shop.screen(elsewhere, 3)
    signed_in(client, "Bo Lind")

    def scan(code: str) -> str:
        page = client.get(f"/t/{code}").text
        stops = "<title>Stop: " in page
        assert stops == ("✕ Stop:" in said(page)), page
        return ("STOP " if stops else "") + said(page).split("> ", 1)[1]

    assert "run" not in scan(white).lower(), "none stands open"
    run = shop.set_up(job, {})
    assert "RIGHT SCREEN" in scan(white) and "Hung on head" in scan(white)
    not_for = f"STOP ✕ Stop: Not for run {run} on Press 2: Kite club tees"
    assert scan(wrong).startswith(not_for)
    client.post(f"/runs/{run}/hang", data={"entry": fresh(), "screen": white, "head": 2, "seen": "ok"})
    shop.step(run, "hang", screen=red, head="4", station="3")
    spare = shop.screen(job, 3)
    shop.step(run, "sheet")
    shop.approve(run)
    for step in ("", "start", "pause"):  # set-up, printing, paused
        if step:
            shop.step(run, step, later="yes")
        if step != "start":
            assert scan(wrong).startswith(not_for), step
        else:  # all its screens hang: whoever looks at those of the next job is told, and not stopped
            assert f"Not for run {run} on Press 2" in scan(wrong) and "STOP" not in scan(wrong)
        if step != "pause":
            assert f"Head 2 of run {run} on Press 2: Kite club tees" in scan(white), step
            assert f"Run {run} on Press 2, position 3, has another screen: this one is a spare" in scan(spare), step
    assert "RIGHT SCREEN" in scan(red), "its screens are off: it goes on with them"
    bare = shop.frame()
    assert f"Not for run {run}" in scan(bare) and "STOP" not in scan(bare), "nobody can print with it"
    second = shop.set_up(elsewhere, {}, "Press 1")
    assert "RIGHT SCREEN" in scan(wrong) and "Harbour race shirts" in scan(wrong)
    shop.step(second, "hang", screen=wrong, head="4", station="3")
    third = shop.screen(shop.job(two_colours("Summer walk", art={"name": "Heron", "revision": "1"})), 1)
    assert scan(third).startswith("STOP ✕ Stop: For none of the 2 open runs.")
    signed_in(client, "Ada Holm")
    assert "run" not in scan(third).lower(), "the screen room hangs nothing"


def test_a_tear_leads_back_to_the_run_that_stands_still(shop: Shop, client: FlaskClient) -> None:
    """From the answer, a scan and the run: another screen on that head, or a pause in one tap."""
    shop.me = shop.maker
    job = shop.job()
    torn, spare, blue = shop.screen(job, 1), shop.screen(job, 1), shop.screen(job, 3)
    run = shop.set_up(job, {1: torn, 3: blue})
    shop.approve(run)
    shop.step(run, "start")
    signed_in(client, "Bo Lind")
    answer = client.post(f"/screens/{torn}/fault", data={"entry": fresh(), "kind": "torn"}, follow_redirects=True).text
    for page in (answer, client.get(f"/t/{torn}").text):
        assert f'<a class="button primary" href="/runs/{run}">Run {run}: hang another one</a>' in page
        assert page.count(" primary") + page.count('"primary') == 1 and "New mesh stretched" not in page
        assert f"Run {run} on Press 2, position 1, lacks a screen now: this one is torn." in said(page)
    stands = client.get(f"/runs/{run}").text
    assert f"Torn: {shown(torn)}" in stands and "hung elsewhere" not in stands
    other = shop.screen(shop.job(two_colours("Harbour race shirts", art={"name": "Gull", "revision": "1"})), 3)
    assert f"Stop: Not for run {run}" in said(client.get(f"/t/{other}").text), "a head is empty while it prints"
    assert f'href="/runs/{run}?screen={spare}&amp;head=2"' in stands
    signed_in(client, "Ada Holm")
    assert "New mesh stretched" in client.get(f"/t/{torn}").text, "the screen room mends it"
    signed_in(client, "Bo Lind")
    assert client.post(f"/runs/{run}/pause", data={"entry": fresh(), "later": "yes"}).status_code == 303
    client.post(f"/runs/{run}/hang", data={"entry": fresh(), "screen": spare, "head": 2, "seen": "ok"})
    assert "Torn:" not in client.get(f"/runs/{run}").text and shop.life(spare).standing is Standing.ON_PRESS


def test_a_phone_stays_in_a_run_that_is_paused(shop: Shop, client: FlaskClient) -> None:
    """A pause is for a swap: what is scanned then is checked as before."""
    shop.me = shop.maker
    job = shop.job()
    hung = {1: shop.screen(job, 1), 3: shop.screen(job, 3)}
    wrong = shop.screen(shop.job(two_colours("Harbour race shirts", art={"name": "Gull", "revision": "1"})), 3)
    run = shop.set_up(job, hung)
    signed_in(client, "Bo Lind")
    client.post(f"/runs/{run}/here", data={"entry": fresh()})
    client.post(f"/runs/{run}/pause", data={"entry": fresh()})
    page = client.get(f"/t/{wrong}").text
    assert f"Run {run} is paused" in page and "Do not hang this screen" in page
    client.post(f"/runs/{run}/finish", data={"entry": fresh(), "uncounted": "none"})
    assert "Do not hang this screen" not in client.get(f"/t/{wrong}").text


def logging_buttons(page: str) -> set[str]:
    """What the buttons say that log a step of a run or of a bucket."""
    forms = re.findall(r'<form[^>]*method="post" action="/(?:runs|buckets)/[^"]*".*?</form>', page, re.DOTALL)
    found = re.findall(r"<button([^>]*)>(.*?)</button>", "".join(forms), re.DOTALL)
    return {text.strip() for more, text in found if "enter" not in more and 'formmethod="get"' not in more}


def test_buttons_of_runs_and_buckets_say_what_is_logged(shop: Shop, client: FlaskClient) -> None:
    shop.me = shop.manager
    job, bucket = shop.job(), shop.mix()
    run = shop.set_up(job, {1: shop.screen(job, 1), 3: shop.screen(job, 3)})
    shop.approve(run)
    signed_in(client, "Cy Marsh")
    always = {"Log the note", "Run finished", "Log the change", "Paused, screens off", "Log the press stop"}
    assert logging_buttons(client.get(f"/runs/{run}").text) == always | {"Printing started"}
    shop.step(run, "start")
    assert logging_buttons(client.get(f"/runs/{run}").text) == always | {"Log the count", "Scan with this phone"}
    shop.step(run, "finish", good="40")
    assert logging_buttons(client.get(f"/runs/{run}").text) == {
        "Log as the target for next time", "Log the note", "Take the end of the run back",
    }  # fmt: skip
    of_bucket = {"Taken into use", "Good", "Fault", "Discarded", "Log the note"}
    assert logging_buttons(client.get(f"/buckets/{bucket}").text) == of_bucket
    assert logging_buttons(client.get("/buckets/new").text) == {"Bucket mixed"}


def test_on_a_place_only_what_was_scanned_or_chosen_is_ticked(shop: Shop, client: FlaskClient, clock: Clock) -> None:
    shop.me = shop.maker
    cart, (old, new) = shop.place("Cart A", "cart"), shop.frames(2)
    shop.log(old, "rack", place="Cart A")
    signed_in(client, "Ada Holm")

    def ticked(address: str) -> list[str]:
        return re.findall(r'name="screen" value="(\w+)" checked', client.get(address).text)

    assert ticked(f"/places/{cart}?step=degrease") == [] == ticked(f"/t/{cart}")
    assert ticked(f"/places/{cart}?step=degrease&tick=due") == [old]
    clock.on(minutes=3)
    client.post("/doing/place", data={"place": cart})
    client.post(f"/screens/{new}/rack", data={"entry": fresh(), "place": "Cart A", "then_to": "scan"})
    assert ticked(f"/t/{cart}") == [new], "the cart's own ticket ends it, with what was put there"


def test_own_slips_of_now_are_crossed_out_without_a_pin(shop: Shop, client: FlaskClient, clock: Clock) -> None:
    """One entry, and a whole rack at once; later, or of somebody else, the PIN is asked for."""
    shop.me = shop.maker
    cart, codes = shop.place("Cart A", "cart"), shop.frames(3)
    for code in codes:
        shop.log(code, "rack", place="Cart A")
    signed_in(client, "Ada Holm")
    clock.on(minutes=6)  # the PIN of the sign-in is no longer fresh

    def crossed(address: str, wrong: str) -> int:
        sent = {"entry": fresh(), "crosses": wrong, "why": "wrong screen"}
        return client.post(f"{address}/cross-out", data=sent).status_code

    mine, many = fresh(), fresh()
    client.post(f"/screens/{codes[0]}/degrease", data={"entry": mine})
    client.post(f"/places/{cart}/degrease", data={"entry": many, "screen": codes[1:]})
    clock.on(minutes=7)
    assert 'name="secret"' not in client.get(f"/screens/{codes[0]}?cross={mine}").text
    assert 'name="secret"' not in client.get(f"/places/{cart}?cross={many}").text
    assert crossed(f"/screens/{codes[0]}", mine) == crossed(f"/places/{cart}", many) == 303
    assert {shop.life(code).standing for code in codes} == {Standing.BARE}
    later, others = fresh(), shop.log(codes[1], "coat", who=shop.manager).entries[0]
    client.post(f"/screens/{codes[0]}/degrease", data={"entry": later})
    clock.on(minutes=11)
    assert 'name="secret"' in client.get(f"/screens/{codes[0]}?cross={later}").text
    assert crossed(f"/screens/{codes[0]}", later) == 422 and crossed(f"/screens/{codes[1]}", others) in (403, 422)


class Hand:
    """Counts what a person does with a phone after a scan: taps, and keys of digits or letters."""

    def __init__(self, phone: Any) -> None:
        self.phone, self.taps, self.keys, self.rows = phone, 0, 0, []  # type: Any, int, int, list[tuple[str, int, int]]

    def scan(self, code: str) -> Hand:
        self.taps = self.keys = 0
        self.phone.goto(f"/t/{code}")
        return self

    def tap(self, name: Any, role: str = "button") -> Hand:
        """A press that is answered by another page."""
        self.taps += 1
        with answered(self.phone):
            self.phone.get_by_role(role, name=name, exact=True).first.click()
        return self

    def open(self, words: str) -> Hand:
        fold = self.phone.locator("details", has=self.phone.locator("summary", has_text=words)).first
        if fold.get_attribute("open") is None:  # where nothing comes next it is open already
            self.taps += 1
            fold.locator("summary").first.click()
        return self

    def choose(self, words: str) -> Hand:
        self.taps += 1
        self.phone.locator("label", has_text=words).locator("visible=true").first.click()
        return self

    def key(self, *texts: str) -> Hand:
        """Types into the boxes of the readings, one after another: the first is tapped, Tab leads to the next."""
        for number, text in enumerate(texts):
            self.taps += not number
            self.phone.locator(".reading input").nth(number).fill(text)
            self.keys += len(text)
        return self

    def done(self, what: str) -> None:
        self.rows.append((what, self.taps, self.keys))


@pytest.mark.browser
def test_every_usual_step_is_two_taps_from_a_scan(
    phone: Any, sign_in_page: Callable[[Any, str], None], shop: Shop, clock: Clock
) -> None:
    """Walked as people do; `pytest -s` prints the table."""
    phone.set_default_timeout(8000)
    sign_in_page(phone, "Di Novak")
    shop.me = shop.manager
    job, bucket = shop.job(), shop.mix()
    shop.unit("Big lamp", "led")
    for name in ("Rack 1", "Rack 2"):
        shop.place(name)
    shop.log(shop.frame(), "expose", exposure_s="60", exposure_unit="Big lamp", in_hand="yes")
    code, hand = shop.frame(), Hand(phone)
    hand.scan(bucket).tap("Taken into use").done("take a bucket into use")
    steps: list[tuple[str, list[str]]] = [
        ("degrease", ["Degreased"]), ("coat", ["Coated"]), ("image", ["Imaged"]), ("expose", ["Exposed"]),
        ("washout", ["Good"]), ("check", ["Good"]),
    ]  # fmt: skip
    for step, names in steps:
        clock.on(minutes=6)  # nothing dries before
        hand.scan(code)
        if phone.get_by_text("it is dry", exact=True).count():
            hand.choose("it is dry")
        for name in names:
            hand.tap(name)
        hand.done(step)
    assert shop.life(code).standing is Standing.READY
    hand.scan(code).tap("Rack 1").done("put away")
    shop.set_up(job, {})
    hand.scan(code).tap(re.compile("^Hung on head")).done("hang for a run, from any phone")
    white = shop.screen(job, 1)
    hand.scan(white).tap(re.compile("^Hung on head")).done("hang the next")
    hand.scan(code).tap("Good").done("take off press")
    hand.scan(code).tap("Cleaned").done("clean")
    bare = shop.frame("355/in")
    hand.scan(bare).tap("Measure tension", "link").key("25", "25", "24", "25", "25").tap("Tension measured").done(
        "tension, five readings"
    )
    hand.scan(bare).open("Not just now?").choose("an hour ago").tap("Degreased").done("a step an hour ago")
    hand.scan(bare).open("Another step").tap("Report a fault", "link").tap("Torn").done("a fault")
    hand.scan(bare).tap("New mesh stretched").done("new mesh, as before")
    print()
    for what, taps, keys in hand.rows:
        print(f"{what:32} {taps} taps {keys or '-':>3} keys")
    many = {what: (taps, keys) for what, taps, keys in hand.rows}
    three = {"tension, five readings", "a step an hour ago", "a fault"}
    assert all(taps <= (3 if what in three else 2) for what, (taps, _keys) in many.items()), many
    assert {what for what, (_taps, keys) in many.items() if keys} == {"tension, five readings"}
    assert many["tension, five readings"] == (3, 10)


@pytest.mark.browser
def test_timers_run_on_the_phone_and_outlive_a_reload(
    phone: Any, sign_in_page: Callable[[Any, str], None], shop: Shop
) -> None:
    shop.me = shop.manager
    shop.unit("Big lamp", "led")
    shop.log(shop.frame(), "expose", exposure_s="60", exposure_unit="Big lamp", in_hand="yes")
    code, wet = shop.frames(2, thread_um="48")
    for step in ("degrease", "coat"):
        shop.past(code, step, 9)
    shop.past(code, "image", 8, separations=str(shop.separation()))
    shop.log(wet, "degrease")
    sign_in_page(phone, "Ada Holm")
    phone.clock.install()
    phone.goto(f"/t/{code}")
    timer = phone.locator(".timer")
    phone.get_by_role("button", name="Start 60 s").click()
    phone.clock.fast_forward(20_000)
    assert "0:4" in timer.inner_text() and "of exposure left" in phone.title()
    phone.reload()
    phone.clock.fast_forward(15_000)
    assert "0:2" in timer.inner_text(), "by its start, not by the page's"
    phone.clock.fast_forward(30_000)
    assert "Exposure time is over" in phone.get_by_role("alert").inner_text() and "over" in phone.title()
    phone.get_by_role("button", name="Back to 0:00").click()
    assert phone.get_by_role("button", name="Start 60 s").is_visible()
    phone.goto(f"/t/{wet}")
    assert re.search(r"Dry in \d+:\d\d", timer.inner_text())
    phone.clock.fast_forward(24 * 3600_000)
    assert "Should be dry now: feel it" in timer.inner_text()


def test_warmth_and_damp_of_the_room_are_kept_each_from_its_last_reading(shop: Shop, client: FlaskClient) -> None:
    shop.me = shop.maker
    first, second, third = shop.frames(3)
    for code in (first, second, third):
        shop.past(code, "degrease", 3)
    shop.past(first, "coat", 2, room_c="21", room_rh_pct="48", dry="yes")
    shop.past(second, "coat", 1, room_c="24", dry="yes")
    signed_in(client, "Ada Holm")
    page = said(client.get(f"/screens/{third}?step=coat").text)
    assert "Room by the last readings: 24 °C (Ada Holm, 1 h ago), 48 % (Ada Holm, 2 h ago)." in page
    shop.past(third, "coat", 0.5, room_rh_pct="70", dry="yes")
    assert "24 °C" in said(client.get(f"/screens/{shop.frame()}?step=coat").text), "damp alone drops no warmth"
    faulty = client.post(f"/screens/{third}/coat", data={"entry": fresh(), "room_c": "21 x"}).text
    assert "Use one of: °C, °F." in said(faulty) and "degC, degF" not in said(faulty)


def test_a_second_screen_with_an_image_says_which_one_carries_it_and_what_is_still_to_make(
    shop: Shop, client: FlaskClient
) -> None:
    shop.me = shop.maker
    job = shop.job()
    first, second = shop.screen(job, 1), shop.screen(job, 1, until="coat")
    signed_in(client, "Ada Holm")
    sent = {"entry": fresh(), "separations": str(shop.separation(job)), "dry": "yes"}
    answer = client.post(f"/screens/{second}/image", data=sent, follow_redirects=True).text
    assert f"{shown(first)} carries white already. Still to make for Kite club tees: blue." in said(answer)
    shop.screen(job, 3)
    answer = client.get(f"/screens/{second}?done={sent['entry']}").text
    assert "Every image of Kite club tees is on a screen." in said(answer)


def test_what_warns_of_an_exposure_stands_above_its_button(shop: Shop, client: FlaskClient) -> None:
    shop.me = shop.manager
    shop.unit("Big lamp", "led")
    code = shop.screen(shop.job(), 1, until="image")
    signed_in(client, "Ada Holm")
    page = client.get(f"/screens/{code}?step=expose&exposure_unit=Big+lamp").text
    warns = page.index('class="reason unknown"')
    assert "No exposure time yet" in page[warns:] and warns < page.index('<button class="primary">Exposed')


def test_a_screen_imaged_before_its_job_is_entered_is_named_later_by_an_entry_of_its_own(
    shop: Shop, client: FlaskClient
) -> None:
    shop.me = shop.maker
    code = shop.frame("230/in", days_ago=2)
    for step, hours in (("degrease", 9), ("coat", 8)):
        shop.past(code, step, hours)
    ada = signed_in(client, "Ada Holm")
    assert "None of these: name it later" in ada.get(f"/screens/{code}?step=image").text, "in a shop without any job"
    sent = {"entry": fresh(), "separations": "later", "dry": "yes"}
    assert ada.post(f"/screens/{code}/image", data=sent).status_code == 303
    exposed = {"entry": fresh(), "exposure_s": "60", "dry": "yes"}
    assert ada.post(f"/screens/{code}/expose", data=exposed).status_code == 303
    test_strip = shop.frame()
    shop.log(test_strip, "expose", exposure_s="60", purpose="test strip", in_hand="yes")
    room = ada.get("/screen-room").text
    assert "Say which image is on 1 screen" in said(room) and 'href="/screens?due=unnamed"' in room
    for page in (ada.get("/screens?due=unnamed").text, ada.get(f"/t/{code}").text):
        assert shown(code) in page and shown(test_strip) not in page
    assert "isn’t in the log, so the press will stop" in ada.get(f"/t/{code}").text
    assert "so the press will stop" not in ada.get(f"/t/{test_strip}").text
    image = str(shop.separation(shop.job()))
    to_name = re.findall(r'href="\s*(/screens/\w+\?step=found[^"]*)"', re.sub(r"\s+", "", ada.get(f"/t/{code}").text))
    form = ada.get("/" + to_name[0].strip("/").replace("&amp;", "&")).text if to_name else ""
    assert f'name="separations_seen" value="{image}"' in form
    named = {"entry": fresh(), "standing_seen": "exposed", "separations_seen": image}
    assert ada.post(f"/screens/{code}/found", data=named).status_code == 303
    life = shop.life(code)
    assert life.standing is Standing.EXPOSED and life.stencil is not None
    assert [str(one) for one in life.stencil.separations] == [image]
    logged = shop.db.execute("SELECT step FROM entries WHERE screen = ? ORDER BY at", [shop.find(code).id]).fetchall()
    assert [step for (step,) in logged][-3:] == ["image", "expose", "found"], "nothing that was written is changed"
    assert "Say which image" not in ada.get("/screen-room").text
    assert shown(code) not in ada.get("/screens?due=unnamed").text


def test_nobody_who_just_logged_a_coat_is_offered_that_it_is_dry(shop: Shop, client: FlaskClient, clock: Clock) -> None:
    """Under the finger that just pressed there is the next step; dry is said in the fold, minutes later in front."""
    shop.me = shop.maker
    code = shop.frame("230/in", days_ago=2)
    shop.past(code, "degrease", 9)
    job = shop.job()
    ada = signed_in(client, "Ada Holm")
    done = ada.post(f"/screens/{code}/coat", data={"entry": fresh()}, follow_redirects=True).text
    form = done[done.index(f'action="/screens/{code}/image"') :]
    fold = form.index('<details class="fold"')
    assert form.index("it is dry") > fold > form.index("Imaged"), "it can be said, in the fold"
    clock.on(minutes=6)
    form = ada.get(f"/t/{code}").text
    assert form.index("it is dry") < form.index('<details class="fold"')
    sent = {"entry": fresh(), "separations": str(shop.separation(job)), "dry": "yes"}
    assert ada.post(f"/screens/{code}/image", data=sent).status_code == 303


GAPS = """() => { const [good, fault] = ["good", "fault"].map((one) => document.querySelector(`.found-${one}`)
  .getBoundingClientRect()); return [fault.top - good.bottom, good.height, fault.height]; }"""


@pytest.mark.browser
def test_a_fault_is_no_slip_of_the_thumb_beside_good(
    phone: Any, sign_in_page: Callable[[Any, str], None], shop: Shop, of_each_stage: dict[Standing, str]
) -> None:
    """Below it, a finger away, in another weight; as large as a wet glove wants it. Both are in view."""
    sign_in_page(phone, "Di Novak")
    bucket = shop.mix()
    for view in ("day", "safelight"):
        if view == "safelight":
            with answered(phone):
                phone.locator(".view button").click()
        for path in (of_each_stage[Standing.EXPOSED], of_each_stage[Standing.TO_CHECK], bucket):
            phone.goto(f"/t/{path}")
            gap, good, fault = phone.evaluate(GAPS)
            assert gap >= 24 and good >= 64 and fault >= 56, (view, path, gap, good, fault)


@pytest.mark.browser
def test_an_older_line_of_the_log_is_two_taps_from_a_scan_to_be_crossed_out(
    phone: Any, sign_in_page: Callable[[Any, str], None], shop: Shop
) -> None:
    shop.me = shop.maker
    code = shop.frame()
    older = shop.log(code, "degrease").entries[0]
    shop.log(code, "coat", dry="yes")
    sign_in_page(phone, "Ada Holm")
    phone.goto(f"/t/{code}")
    with answered(phone):
        phone.get_by_role("link", name="Details, log, cross out").click()
    line = phone.locator(".log li", has_text="Degreased").get_by_role("link", name="Cross out")
    assert line.bounding_box()["height"] >= 48
    with answered(phone):
        line.click()
    assert phone.get_by_role("heading", name="Cross out this entry?").bounding_box()["y"] < 740
    assert older in phone.url and phone.locator("#cross").inner_text().count("Degreased") == 1
