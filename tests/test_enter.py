"""What the Enter key does in every form of the program: never an override, an acceptance, a crossing out, a reclaim or
a retirement; and what was typed as a reason wins over one that was tapped.

A form's default button is the first submit button in tree order whose form it is; where that one is disabled, or there
is none and more than one field that a text is typed into, Enter sends nothing (HTML standard, implicit submission).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from flask.testing import FlaskClient
from shop import NOW, Shop, answered, fresh
from sqlite_utils import Database
from test_web_runs import hang_both, ready_to_print, start_run
from test_web_runs import post as send

from tickets import demo, store
from tickets.actions import buckets, places, screens
from tickets.domain.posted import form
from tickets.queries import find
from tickets.store import entries
from web.support import to_tap, typed_first

TYPED = {"text", "search", "tel", "url", "email", "password", "date", "month", "week", "time", "datetime-local",
         "number"}  # fmt: skip
"""The kinds of inputs that block implicit submission where a form has two and no button."""


@dataclass
class AForm:
    """A form of a page: where it goes, its buttons and controls in tree order."""

    action: str
    method: str
    buttons: list[dict[str, str | None]] = field(default_factory=list)
    controls: list[dict[str, str | None]] = field(default_factory=list)

    def default(self) -> dict[str, str | None] | None:
        """The button that Enter presses; None: it sends nothing, or sends the form without a button."""
        first = next(iter(self.buttons), None)
        return first if first is not None and "disabled" not in first else None

    def sends(self) -> bool:
        """Whether Enter sends it at all."""
        if self.buttons:
            return self.default() is not None
        return sum(one.get("type", "text") in TYPED for one in self.controls if one["tag"] == "input") == 1

    def sent(self, pressed: dict[str, str | None] | None) -> dict[str, list[str]]:
        """What goes out when a button is pressed, by the controls as they stand."""
        found: dict[str, list[str]] = {}
        for one in self.controls:
            name, kind = one.get("name"), one.get("type") or "text"
            if not name or "disabled" in one or kind in ("file", "image"):
                continue
            if kind not in ("radio", "checkbox") or "checked" in one:
                found.setdefault(name, []).append(one.get("value") or "")
        if pressed is not None and pressed.get("name"):
            found.setdefault(str(pressed["name"]), []).append(pressed.get("value") or "")
        return found

    @property
    def decides(self) -> set[str]:
        """The fields of a reason that decides: for an override, an acceptance, a crossing out."""
        names = {one.get("name") for one in [*self.controls, *self.buttons]}
        found = {"override", "accept"} & {str(name) for name in names}
        return found | ({"why"} if self.action.split("#")[0].endswith("/cross-out") else set())


class Page(HTMLParser):
    """The forms of a page, with the controls that name another form, and its links."""

    def __init__(self, text: str, path: str) -> None:
        super().__init__()
        self.path, self.forms, self.links = path, [], []
        self.ids: dict[str, AForm] = {}
        self.now: AForm | None = None
        self.later: list[tuple[str, str, dict[str, str | None]]] = []
        self.feed(text)
        for owner, kind, one in self.later:
            if owner in self.ids:
                getattr(self.ids[owner], kind).append(one)

    forms: list[AForm]
    links: list[str]

    def updatepos(self, i: int, j: int) -> int:
        """No line is counted: nobody asks where in a page a tag stands."""
        return j

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        one: dict[str, str | None] = {"tag": tag, **dict(attrs)}
        if tag == "form":
            assert self.now is None, f"a form within a form on {self.path}"
            self.now = AForm(one.get("action") or self.path, (one.get("method") or "get").lower())
            self.forms.append(self.now)
            if one.get("id"):
                self.ids[str(one["id"])] = self.now
        elif tag == "a" and one.get("href"):
            self.links.append(str(one["href"]))
        elif tag in ("button", "input", "textarea", "select"):
            button = tag == "button" and one.get("type", "submit") == "submit"
            kind = "buttons" if button or one.get("type") in ("submit", "image") else "controls"
            if one.get("form"):
                self.later.append((str(one["form"]), kind, one))
            elif self.now is not None and one.get("type") not in ("button", "reset"):
                getattr(self.now, kind).append(one)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.now = None


GRAVE = re.compile(r"/(strip|retire|cross-out)$")


def faults_of(one: AForm) -> Iterator[str]:
    """What Enter would do in a form that it must never do."""
    if one.method != "post" or not one.sends():
        return
    pressed = one.default()
    sent = one.sent(pressed)
    asks = (sent.get("ask") or [""])[-1] if pressed is not None and pressed.get("name") == "ask" else ""
    where = (pressed or {}).get("formaction") or one.action
    where = str(where).split("#")[0]
    for name in sorted(one.decides):
        if asks not in (name, "*"):
            yield f"{where}: Enter is not held back where {name} decides (default: {pressed})"
    if GRAVE.search(where) and not asks:
        yield f"{where}: Enter does it"
    if re.search(r"/(withdraw|leave)$", where) and pressed and pressed.get("formaction"):
        yield f"{where}: Enter does it"
    named = str((pressed or {}).get("name") or "")
    if named in {"override", "accept", "why", "cause", "still_needed", "then", "result"}:
        yield f"{where}: Enter presses {named}={(pressed or {}).get('value')}"


@pytest.mark.parametrize(
    ("html", "wrong"),
    [
        ('<button name="override" value="x">', True),
        ('<button name="ask" value="override"></button><button name="override" value="x">', False),
        ('<button disabled></button><input name="override"><button name="override" value="x">', False),
        ('<input name="override">', True),  # one box and no button is sent by Enter
        ('<input name="override"><input name="note">', False),  # two are not
        ('<input type="radio" name="accept" value="x"><button>Log it</button>', True),
        ('<button type="button">Fold</button><button name="ask" value="*"></button><input name="accept">', False),
        ('<button name="then" value="strip">', True),
        ("<button>Send</button>", False),
    ],
)
def test_the_walk_knows_a_form_that_overrides(html: str, wrong: bool) -> None:
    (one,) = Page(f'<form method="post" action="/x">{html}</form>', "/x").forms
    assert bool(list(faults_of(one))) is wrong
    owned = html.replace("<input", "<input form=f").replace("<button", "<button form=f")  # wherever they stand
    (other,) = Page(f'<form id="f" method="post" action="/x"></form><p>{owned}</p>', "/x").forms
    assert bool(list(faults_of(other))) is wrong


@pytest.mark.parametrize("where", ["/screens/7K32XM/strip", "/places/7K32XM/retire", "/runs/3/cross-out"])
def test_the_walk_knows_a_form_that_destroys(where: str) -> None:
    for html, wrong in (("<button>Do it</button>", True), ('<button name="ask" value="*"></button>', False)):
        (one,) = Page(f'<form method="post" action="{where}">{html}</form>', where).forms
        held = [fault for fault in faults_of(one) if "decides" not in fault]
        assert bool(held) is wrong


# Every page as every role --------------------------------------------------------------------------------------------


STARTS = ("/", "/press", "/screen-room", "/desk", "/jobs", "/screens", "/places", "/buckets", "/spec", "/people",
          "/log", "/more", "/calculator", "/jobs/new", "/screens/new", "/exposure-units", "/desk/wrong")  # fmt: skip
MOST_ALIKE = 2
"""Pages of one pattern that are looked at: by then their forms repeat."""


NARROWED = frozenset({"/log", "/screens", "/runs", "/jobs", "/people", "/places", "/buckets", "/desk/kept"})
"""Lists whose order and filters stand in the address: whatever narrows them, their forms are the same."""


def pattern_of(path: str) -> str:
    """A page without its numbers and codes: pages of one pattern have the same forms, but for a thing's stage."""
    bare, _mark, query = path.partition("?")
    if bare in NARROWED:
        return f"{bare}?{min(2, query.count('='))}"
    bare = re.sub(r"/([0-9A-HJKMNP-TV-Z]{6}|\d+)(?=/|$)", "/*", bare)
    names = re.sub(r"=(?!strip|retire|image|rack|pull|decide|washout|check|coat|expose|found|tension)[^&]*", "=", query)
    return f"{bare}?{names}"


def walk(phone: FlaskClient, starts: tuple[str, ...], most: int = MOST_ALIKE) -> Iterator[tuple[str, Page]]:
    """Every page that the links lead to, a few of each pattern."""
    seen, alike, waiting = set(starts), Counter[str](), list(starts)
    while waiting:
        path = waiting.pop(0)
        answer = phone.get(path)
        for _hop in range(3):
            if answer.status_code not in (302, 303):
                break
            answer = phone.get(answer.headers["Location"])
        assert answer.status_code < 500, path
        if answer.mimetype != "text/html":
            continue
        found = Page(answer.text, path)
        yield path, found
        for link in found.links:
            link = link.split("#")[0]
            if link.startswith("?"):
                link = path.partition("?")[0] + link
            if not link.startswith("/") or link in seen or re.match(r"/(pictures|static|desk/files/)", link):
                continue
            seen.add(link)
            alike[pattern_of(link)] += 1
            if alike[pattern_of(link)] <= most:
                waiting.append(link)


@pytest.fixture(scope="module")
def every_state(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, str], list[str]]:
    """The demo shop, and in it what it lacks: runs in every phase, stops, a swap, buckets that expired. Its people's
    secrets, and the addresses of pages that no link leads to."""
    now = NOW
    folder = shops.the_demo(tmp_path_factory.mktemp("every") / "shop")
    db = store.connect(folder)
    shop = Shop(db)  # the demo has presses already
    presses = [places.add(db, shop.manager, f"Walk {n}", "press", post=fresh(), now=now, heads=8) for n in range(1, 8)]
    shop.first_press = shop.other_press = presses[6]
    more: list[str] = []
    for kind, hours in (("diazo emulsion", 24 * 90), ("discharge ink", 30), ("plastisol ink", 1)):
        mixed = now - timedelta(hours=hours)
        more.append(f"/buckets/{buckets.mix(db, shop.manager, form({'kind': kind}), post=fresh(), now=mixed)}")
    app = shops.app_of(folder, shops.Clock())
    phone = shops.signed_in(shops.phone_of(app), "Cy Marsh", demo.SECRETS["Cy Marsh"][1])
    job = shop.job()
    other = shop.job(title="Walked too", revision="9")
    bare, slack = shop.screen(job, 1, until="coat"), shop.screen(job, 1, tension="14")
    elsewhere, old = shop.screen(job, 1), shop.screen(other, 1)
    lots = {"coated": bare, "exposed": shop.screen(job, 3, until="expose"), "washed": shop.screen(job, 3, "washout")}
    torn = shop.screen(job, 3)
    found = find.screen(db, torn)
    screens.log(db, shop.maker, found, "fault", form({"kind": "torn"}), post=fresh(), now=now)
    runs = [start_run(phone, shop, job, presses[0])]  # hang
    stops = (bare, slack, elsewhere, old, torn, shop.screen(job, 1))
    more += [f"/runs/{runs[0]}?screen={code}" for code in stops]
    sheet, _white, _blue = hang_both(phone, shop, job, presses[1])
    more += [f"/runs/{sheet}?screen={code}" for code in (*stops, _white)]  # all hang: swaps
    noted, _white, _blue = hang_both(phone, shop, job, presses[2])
    assert send(phone, noted, "sheet").status_code == 303
    printing, _white, _blue = ready_to_print(phone, shop, job)
    more += [f"/runs/{printing}?screen={code}" for code in stops]
    paused, _white, _blue = hang_both(phone, shop, job, presses[3])
    assert send(phone, paused, "pause").status_code == 303
    done, _white, _blue = hang_both(phone, shop, job, presses[4])
    for step, values in (("sheet", {}), ("approve", {"approved_by": "Cy Marsh", "approved_as": "press"}),
                         ("finish", {"good": "5", "then": "keep"})):  # fmt: skip
        assert send(phone, done, step, **values).status_code == 303
    under = shop.job(title="Changed under its run")
    changed, _white, _blue = hang_both(phone, shop, under, presses[5])
    assert send(phone, changed, "sheet").status_code == 303
    for number in (*runs, sheet, noted, printing, paused, done, changed):
        more += [f"/runs/{number}", f"/runs/{number}/sheet", f"/runs/{number}/comparison", f"/print/run/{number}"]
    for code in (*stops, *lots.values()):
        more += [f"/screens/{code}", f"/t/{code}", f"/desk/screens/{code}", f"/desk/trace/{code}"]
        more += [f"/screens/{code}?step={step}" for step in ("image", "strip", "retire")]
        last = entries.latest_of(db, "screen", find.screen(db, code).id, 1)[0]
        more += [f"/screens/{code}?cross={last.entry}", f"/screens/{code}?done={last.entry}"]
    others = ("rack", "found", "decide", "fault", "coat", "stretch", "tension")
    more += [f"/screens/{bare}?step={step}" for step in others]
    for place in places_of(db):
        more += [f"/places/{place}", f"/t/{place}", f"/desk/stocktake/{place}"]
        more += [f"/places/{place}?step={step}" for step in ("strip", "retire", "image", "check", "rack", "coat")]
    db.close()
    app.extensions["pool"].close()
    return folder, {name: secret for name, (_role, secret) in demo.SECRETS.items()}, more


def places_of(db: Database) -> list[str]:
    from tickets.store import places as store_places

    return [one.code for kind in ("rack", "cart", "cabinet") for one in store_places.every(db, kind)[:1]]


def signed_in(folder: Path, name: str, secret: str) -> FlaskClient:
    return shops.signed_in(shops.phone_of(shops.app_of(folder, shops.Clock(NOW + timedelta(minutes=5)))), name, secret)


WALKS = [("Ada Holm", "safelight"), ("Bo Lind", "day"), ("Cy Marsh", "safelight"), ("Di Novak", "day")]
"""Every role once and both views twice; the other pairs take as long again and go with the slow tests."""
SLOW_WALKS = [(name, view) for name in demo.SECRETS for view in ("day", "safelight") if (name, view) not in WALKS]


@pytest.mark.parametrize(
    ("name", "view"), [*WALKS, *[pytest.param(*pair, marks=pytest.mark.slow) for pair in SLOW_WALKS]]
)
def test_enter_decides_nothing_on_any_page_for_anybody(every_state: Any, name: str, view: str) -> None:
    folder, secrets, more = every_state
    phone = signed_in(folder, name, secrets[name])
    phone.post("/view", data={"view": view, "next": "/"})
    wrong: set[str] = set()
    held, forms, pages = set(), 0, 0
    for path, found in walk(phone, (*STARTS, *more)):
        pages += 1
        for one in found.forms:
            forms += 1
            wrong |= {f"{path} – {fault}" for fault in faults_of(one)}
            if (default := one.default()) is not None and default.get("name") == "ask":
                held.add((str(default["value"]), re.sub(r"/[^/]*\d[^/]*", "/*", one.action.split("#")[0])))
    assert not wrong, "\n".join(sorted(wrong))
    assert pages > 120 and forms > 300, (pages, forms)
    kinds = {(name_, where) for name_, where in held}
    wanted = {("*", "/screens/*/strip"), ("*", "/screens/*/retire"), ("why", "/screens/*/cross-out"),
              ("accept", "/screens/*/image"), ("why", "/runs/*/swap"), ("override", "/runs/*/hang")}  # fmt: skip
    lead = {("override", "/runs/*/swap")} if name in ("Cy Marsh", "Di Novak") else set()
    assert wanted | lead <= kinds, (wanted | lead) - kinds


# What the key sends --------------------------------------------------------------------------------------------------


@pytest.fixture
def lead(client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]) -> FlaskClient:
    return sign_in(client, "Cy Marsh")


def form_to(phone: FlaskClient, path: str, action: str) -> AForm:
    found = [one for one in Page(phone.get(path).text, path).forms if one.action.endswith(action)]
    assert len(found) == 1, (path, action, [one.action for one in found])
    return found[0]


@pytest.mark.parametrize("typed", ["", "agreed by the foreman"])
def test_enter_on_a_stop_hangs_nothing_and_keeps_what_was_typed(shop: Shop, lead: FlaskClient, typed: str) -> None:
    job = shop.job()
    run = start_run(lead, shop, job)
    code = shop.screen(job, 1, until="coat")
    one = form_to(lead, f"/runs/{run}?screen={code}", "/hang")
    before = shop.db.table("entries").count
    sent = one.sent(one.default()) | {"override": typed}
    sent.setdefault("station", ["1"])
    answer = lead.post(one.action, data=sent)
    assert answer.status_code in (409, 422) and shop.db.table("entries").count == before
    if typed:
        assert "The Enter key decides nothing here" in answer.text and f'value="{typed}"' in answer.text
    button = next(each for each in one.buttons if not each.get("name"))
    answer = lead.post(one.action, data=one.sent(button) | {"override": typed, "station": "1"})
    assert (answer.status_code == 303) is bool(typed), answer.text
    hung = [each for each in entries.of(shop.db, "screen", find.screen(shop.db, code).id) if each.step == "hang"]
    assert [each.override["why"] for each in hung if each.override] == ([typed] if typed else [])


def test_a_typed_reason_wins_over_one_that_is_tapped(shop: Shop, lead: FlaskClient) -> None:
    """By its button, whatever the order in which a browser sends them."""
    job = shop.job()
    for n, order in enumerate((["no other screen in time", "mine"], ["mine", "no other screen in time"])):
        run = start_run(lead, shop, job, (shop.first_press, shop.other_press)[n])
        code = shop.screen(job, 1, until="coat")
        sent = {"entry": fresh(), "screen": code, "station": "1", "seen": "stop", "override": order}
        assert lead.post(f"/runs/{run}/hang", data=sent).status_code == 303
        hung = entries.latest_of(shop.db, "screen", find.screen(shop.db, code).id, 1)[0]
        assert hung.override is not None and hung.override["why"] == "mine"
    code = shop.screen(job, 1)
    last = entries.latest_of(shop.db, "screen", find.screen(shop.db, code).id, 1)[0]
    sent = {"entry": fresh(), "crosses": last.entry, "why": ["wrong step", "not checked at all"], "secret": "4713"}
    phone = lead
    phone.post("/hand-over", data={"name": "Ada Holm", "secret": "4711"})
    assert phone.post(f"/screens/{code}/cross-out", data={**sent, "secret": "4711"}).status_code in (303, 403)
    to_tap("as before")
    assert typed_first(["as before", "", "mine"]) == ["mine", "as before", ""]
    assert typed_first(["", "as before"]) == ["", "as before"]


@pytest.mark.parametrize("step", ["strip", "retire", "cross-out"])
def test_enter_destroys_nothing_and_the_button_does(
    shop: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient], step: str
) -> None:
    phone = sign_in(client, "Di Novak")
    code = shop.screen(shop.job(), 1, until="coat")  # nothing that anybody waits for
    last = entries.latest_of(shop.db, "screen", find.screen(shop.db, code).id, 1)[0]
    path = f"/screens/{code}?cross={last.entry}" if step == "cross-out" else f"/screens/{code}?step={step}"
    one = form_to(phone, path, f"/{step}")
    values = {"strip": {"in_hand": "yes"}, "retire": {"cause": "torn"}, "cross-out": {"why": "wrong step"}}[step]
    before = shop.db.table("entries").count
    answer = phone.post(one.action, data=one.sent(one.default()) | values)
    assert answer.status_code == 422 and "The Enter key decides nothing here" in answer.text
    assert shop.db.table("entries").count == before
    button = next(each for each in one.buttons if not each.get("name"))
    answer = phone.post(one.action, data=one.sent(button) | values)
    assert answer.status_code == 303 and shop.db.table("entries").count > before


# In a real browser ---------------------------------------------------------------------------------------------------


def hung(db: Database, code: str) -> bool:
    return any(one.step == "hang" for one in entries.of(db, "screen", find.screen(db, code).id))


@pytest.mark.browser
@pytest.mark.parametrize("view", ["day", "safelight"])
@pytest.mark.parametrize("where", ["reason", "radio", "good pieces"])
def test_enter_in_a_real_browser_hangs_no_stopped_screen(
    phone: Any, shop: Shop, sign_in_page: Callable[[Any, str], None], client: FlaskClient,
    sign_in: Callable[[FlaskClient, str], FlaskClient], where: str, view: str,
) -> None:  # fmt: skip
    lead = sign_in(client, "Cy Marsh")
    job = shop.job()
    stopped = shop.screen(shop.job(title="Another", revision="9"), 1)  # of another revision: no station of its own
    if where == "radio":
        run = start_run(lead, shop, job)
    else:
        run, _white, _blue = ready_to_print(lead, shop, job)
        assert send(lead, run, "start").status_code in (303, 409)
    sign_in_page(phone, "Cy Marsh")
    if view == "safelight":
        with answered(phone):
            phone.get_by_role("button", name="Safelight").first.click()
    phone.goto(f"/runs/{run}?screen={stopped}")
    asked = phone.locator("form[action$='/hang'], form[action$='/swap']").last
    phone.get_by_text(re.compile(r"this screen (in )?anyway")).first.click()
    box = asked.locator("input[name=override][type=text]")
    if view == "day" and where != "radio":
        box.fill("typed by hand")
    target = {"reason": box, "radio": asked.locator("input[type=radio]").first, "good pieces":
              asked.locator("input[name^=good]").first}[where]  # fmt: skip
    if where == "reason" and view == "safelight":
        assert box.count() == 0  # nothing is typed in the dark
        target = asked.locator("input[type=radio]").first
    before = shop.db.table("entries").count
    with phone.expect_response(lambda answer: answer.request.method == "POST") as reply:
        if target.get_attribute("type") == "text":
            target.press("Enter")
        else:
            target.focus()
            phone.keyboard.press("Enter")
    assert reply.value.status in (409, 422)
    assert shop.db.table("entries").count == before and not hung(shop.db, stopped)
    if view == "day" and where != "radio":
        assert phone.locator("input[name=override][type=text]").input_value() == "typed by hand"
        phone.get_by_text("The Enter key decides nothing here").last.wait_for()
