"""How the people of the simulated shop reach the program: through the program's own acts, or through its pages.

`Pages` is a phone for each person. It reads the page, finds the form on it, fills in what its holder would, leaves the
rest as the page has it, and sends it; what the page does not offer cannot be sent. It does not run scripts.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

from flask.testing import FlaskClient
from sqlite_utils import Database

from tickets.actions import buckets, hanging, noting, runs, screens
from tickets.calculator.verdict import Level, Verdict
from tickets.domain.person import Actor
from tickets.domain.posted import Asks, Doubt, Worse, form
from tickets.domain.refusal import NotAllowed, Refused
from tickets.domain.screens.press_checks import FACES
from tickets.queries import at_press, find, run_plan
from tickets.store import entries
from tickets.store.screens import Screen
from web import create_app


class Floor:
    """By the functions that the pages call. `time`: what the clock says."""

    one_by_one = False
    """Whether a step of several screens is sent for each by itself."""
    dated = frozenset({"count", "finish"})
    """The steps of a run that can be typed in later, with the time when they were."""

    def __init__(self, db: Database, time: Callable[[], datetime]) -> None:
        self.db = db
        self.time = time

    def screens(self, who: Actor, many: Sequence[Screen], step: str, sent: Mapping[str, Any], post: str) -> Any:
        return screens.log_many(self.db, who, many, step, form(sent), post=post, now=self.time())

    def cross_out(self, who: Actor, entry: str, why: str, post: str) -> Any:
        sent = form({"crosses": entry, "why": why})
        return screens.cross_out(self.db, who, sent, post=post, now=self.time())

    def mix(self, who: Actor, sent: Mapping[str, Any], post: str) -> str:
        return buckets.mix(self.db, who, form(sent), post=post, now=self.time())

    def bucket(self, who: Actor, code: str, step: str, sent: Mapping[str, Any], post: str) -> Any:
        found = find.bucket(self.db, code)
        return buckets.log(self.db, who, found, step, form(sent), post=post, now=self.time())

    def open_run(self, who: Actor, sent: Mapping[str, Any], post: str) -> int:
        return runs.open_run(self.db, who, form(sent), post=post, now=self.time())

    def check(
        self, who: Actor, number: int, code: str, station: int, head: int | None, in_hand: bool, head_free: bool = False
    ) -> Verdict:
        """What a scan at the press says of a screen; `head_free`: somebody says so of a head that another run has."""
        plan, screen = run_plan.plan(self.db, number), find.screen(self.db, code)
        said = {"head": head, "in_hand": in_hand, "head_taken": head_free}
        return at_press.check(self.db, plan, screen, self.time(), station=station, **said).verdict

    def hang(self, who: Actor, number: int, sent: Mapping[str, Any], post: str) -> Verdict:
        return hanging.hang(self.db, who, number, form(sent), post=post, now=self.time()).verdict

    def going(self, who: Actor, number: int) -> Verdict:
        """What is said on starting, going on or counting in a run."""
        return at_press.going(self.db, run_plan.plan(self.db, number), self.time())

    def approving(self, number: int) -> Verdict:
        """What is said on approving the first print of a run."""
        return at_press.to_approve(self.db, run_plan.plan(self.db, number))

    def run(self, who: Actor, number: int, step: str, sent: Mapping[str, Any], post: str) -> list[str]:
        return runs.log(self.db, who, number, step, form(sent), post=post, now=self.time())

    def sheet(self, who: Actor, number: int, sent: Mapping[str, Any], post: str) -> None:
        noting.save_sheet(self.db, who, number, form(sent), post=post, now=self.time())


# Pages ---------------------------------------------------------------------------------------------------------------


@dataclass
class PageForm:
    """A form of a page: where it goes, what stands in it, what else it offers (radios, boxes that are not ticked)."""

    action: str
    method: str
    filled: dict[str, list[str]] = field(default_factory=dict)
    offered: dict[str, set[str]] = field(default_factory=dict)
    typed: set[str] = field(default_factory=set)
    buttons: list[tuple[str, str]] = field(default_factory=list)

    @property
    def names(self) -> set[str]:
        """All that can be sent with it."""
        return {*self.filled, *self.offered, *self.typed, *(name for name, _value in self.buttons)} - {""}


class Page(HTMLParser):
    """The forms of a page, those that come at request, and its visible words."""

    def __init__(self, text: str, status: int, path: str) -> None:
        super().__init__()
        self.status, self.path, self.html = status, path, text
        self.forms: list[PageForm] = []
        self.words: list[str] = []
        self.at_request: set[str] = set()
        self._open: PageForm | None = None
        self._area: str | None = None
        self.feed(text)

    def updatepos(self, i: int, j: int) -> int:
        """No line is counted: nobody asks where in a page a tag stands."""
        return j

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._open = PageForm(has.get("action", self.path), has.get("method", "get").lower())
            self.forms.append(self._open)
        if tag == "a":
            self.at_request.update(parse_qs(urlsplit(has.get("href", "")).query).get("open", ()))
        into = self._open
        if into is None:
            return
        name, value = has.get("name", ""), has.get("value", "")
        if tag == "input" and has.get("type") in {"radio", "checkbox"}:
            into.offered.setdefault(name, set()).add(value)
            if "checked" in has:
                into.filled.setdefault(name, []).append(value)
        elif tag == "input" and has.get("type") == "hidden":
            into.filled.setdefault(name, []).append(value)
        elif tag == "input" and has.get("type") not in {"file", "submit"}:
            into.typed.add(name)
            if value:
                into.filled.setdefault(name, []).append(value)
        elif tag == "textarea":
            into.typed.add(name)
            self._area = name
        elif tag == "button" or (tag == "input" and has.get("type") == "submit"):
            into.buttons.append((name, value))
            if name == "open":
                self.at_request.add(value)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._open = None
        self._area = None

    def handle_data(self, data: str) -> None:
        if self._area and self._open is not None and data.strip():
            self._open.filled.setdefault(self._area, []).append(data.strip())
        elif data.strip():
            self.words.append(" ".join(data.split()))

    def form(self, ends: str, *fields: str, **holds: str) -> PageForm | None:
        """The form that goes to an address with this end, has these fields and holds these values."""
        for one in self.forms:
            fits = one.action.split("?")[0].endswith(ends) and set(fields) <= one.names
            if fits and all(value in one.filled.get(name, ()) for name, value in holds.items()):
                return one
        return None


class NotOffered(AssertionError):
    """The page has no such form, or no such thing in it."""


class Asked(Asks):
    """A page that asks before it writes anything."""

    def __init__(self, page: Page) -> None:
        self.page = page
        said = "; ".join(page.words)[:4000]
        questions = {name: [said] for name in ("in_hand", "still_needed") if page.form("", **{name: "yes"})}
        super().__init__(page.path, **questions)


DOUBTS = ("over", "before", "later", "fewer")
"""What a page asks about a count, by the box that answers it."""


class Doubted(Doubt):
    """A page that shows a count again, and asks whether it is right."""

    def __init__(self, page: Page, where: str) -> None:
        self.page = page
        super().__init__("; ".join(page.words)[:400], where)


class Stopped(Worse):
    """A page that stops, shown again with what was typed and, to whom may, with a place for the reason."""

    def __init__(self, page: Page) -> None:
        self.page = page
        super().__init__("; ".join(page.words)[:400], Verdict(Level.STOP))


class Pages(Floor):
    """By the pages, each person with a phone of their own. `secrets`: what they sign in with; `photo`: the
    picture that a phone takes."""

    one_by_one = True
    dated = frozenset({"count"})

    def __init__(
        self, folder: Path, db: Database, time: Callable[[], datetime], secrets: Mapping[str, str], photo: bytes
    ) -> None:
        super().__init__(db, time)
        self.app = create_app(folder, clock=time, testing=True)
        self.secrets, self.photo = secrets, photo
        self.phones: dict[str, FlaskClient] = {}
        self.sent: dict[str, tuple[str, dict[str, list[str]], bytes]] = {}
        self.posts = 0

    def close(self) -> None:
        self.app.extensions["pool"].close()
        for handler in list(self.app.logger.handlers):
            handler.close()

    # One phone

    def phone(self, who: Actor) -> FlaskClient:
        phone = self.phones.get(who.name)
        if phone is None:
            phone = self.phones[who.name] = self.app.test_client()
            phone.environ_base["HTTP_ORIGIN"] = "http://localhost"
        return phone

    def get(self, who: Actor, path: str) -> Page:
        """A page; whoever is signed out by then signs in on the way, and comes back to it."""
        answer = self.phone(who).get(path)
        if answer.status_code == 303 and "/sign-in" in answer.location:
            page = self.page(self.phone(who).get(answer.location), answer.location)
            sign_in = page.form("/sign-in", "name", "secret")
            if sign_in is None:
                raise NotOffered(f"no way to sign in at {page.path}")
            sent = {**sign_in.filled, "name": [who.name], "secret": [self.secrets[who.name]]}
            answer = self.phone(who).post("/sign-in", data=sent)
            assert answer.status_code == 303, answer.text
            answer = self.phone(who).get(path)
        return self.page(answer, path)

    def page(self, answer: Any, path: str) -> Page:
        assert answer.status_code < 500, answer.text
        return Page(answer.text, answer.status_code, path)

    def send(
        self,
        who: Actor,
        form_: PageForm | None,
        sent: Mapping[str, Any],
        post: str,
        *,
        button: str = "",
        optional: Sequence[str] = (),
        picture: bytes = b"",
    ) -> Page:
        """Fills in a form and sends it: what is in `sent` (each must be there to be filled in, `optional` is left out
        where it is not), the rest as the page has it. The same post again: the very same content, as from a phone whose
        answer was lost. Raises what the program answers."""
        again = self.sent.get(post)
        if again is not None:
            return self._answer(who, *again)
        if form_ is None:
            raise NotOffered(f"no form for {dict(sent)}")
        if "secret" in form_.names:
            sent = {**sent, "secret": self.secrets[who.name]}
        data = {name: list(values) for name, values in form_.filled.items()}
        for name, value in sent.items():
            texts = [str(one) for one in (value if isinstance(value, (list, tuple)) else [value])]
            if name not in form_.names:
                if name in optional:
                    continue
                raise NotOffered(f"{form_.action} has no {name}: {sorted(form_.names)}")
            offered = {*form_.offered.get(name, ()), *(given for named, given in form_.buttons if named == name)}
            if name not in form_.typed and name not in form_.filled and not set(texts) <= offered:
                raise NotOffered(f"{form_.action} offers {sorted(offered)} for {name}, not {texts}")
            data[name] = texts
        if button and button not in data:
            value = next((given for named, given in form_.buttons if named == button), None)
            if value is not None:
                data[button] = [value]
        if post:
            data["entry"] = [post]
        if form_.method == "get":
            path = form_.action + "?" + "&".join(f"{name}={value}" for name, values in data.items() for value in values)
            return self.get(who, path)
        page = self._answer(who, form_.action, data, picture)
        if post:
            self.sent[post] = (form_.action, data, picture)
        return page

    def _answer(self, who: Actor, path: str, data: Mapping[str, Sequence[str]], picture: bytes = b"") -> Page:
        self.posts += 1
        sent: dict[str, Any] = {**data, "picture": (BytesIO(picture), "shirt.jpg")} if picture else dict(data)
        answer = self.phone(who).post(path, data=sent)
        if answer.status_code == 401 or (answer.status_code == 303 and "/sign-in" in answer.location):
            raise NotOffered(f"{who.name} was signed out before {path}")
        if answer.status_code == 303:
            return Page("", 303, answer.location)
        page = self.page(answer, path)
        said = "; ".join(page.words)[:4000]
        if answer.status_code == 409 and (page.form("", in_hand="yes") or page.form("", still_needed="yes")):
            raise Asked(page)
        if answer.status_code == 409 and (doubt := next((one for one in DOUBTS if page.form(path, one)), "")):
            raise Doubted(page, doubt)
        if answer.status_code == 403:
            raise NotAllowed(said)
        if answer.status_code == 409:
            raise Stopped(page)
        raise Refused(f"{answer.status_code} {path}: {said}")

    def written(self, post: str) -> list[str]:
        """The ids of the entries of a post."""
        return [row[0] for row in self.db.execute("SELECT entry FROM entries WHERE post = ? ORDER BY part", [post])]

    # The acts

    def screens(self, who: Actor, many: Sequence[Screen], step: str, sent: Mapping[str, Any], post: str) -> Any:
        (screen,) = many
        path = f"/screens/{screen.code}"
        answers = {"in_hand", "still_needed"} & set(sent)
        rest = {name: value for name, value in sent.items() if name not in answers}
        found = self.get(who, f"{path}?step={step}&all=1").form(f"{path}/{step}")
        if answers and post not in self.sent:
            try:
                self.send(who, found, rest, "")
            except Asked as asked:
                found, rest = asked.page.form(f"{path}/{step}", *answers), {}
        self.send(who, found, rest, post)
        return _Logged(tuple(self.written(post)))

    def cross_out(self, who: Actor, entry: str, why: str, post: str) -> Any:
        wrong = entries.find(self.db, entry)
        assert wrong is not None
        if wrong.run is not None and wrong.step != "hang":
            page = self.get(who, f"/runs/{wrong.run}?open=cross-out&crosses={entry}")
            to = f"/runs/{wrong.run}/cross-out"
        else:
            screen = screens.screens.get(self.db, wrong.screen)
            page = self.get(who, f"/screens/{screen.code}?cross={entry}")
            to = f"/screens/{screen.code}/cross-out"
        found = page.form(to, crosses=entry)
        if found is None and post not in self.sent:
            raise NotAllowed("the page does not offer to cross it out")
        self.send(who, found, {"why": why}, post)
        return _Logged(tuple(self.written(post)))

    def mix(self, who: Actor, sent: Mapping[str, Any], post: str) -> str:
        page = self.get(who, f"/buckets/new?kind={str(sent['kind']).replace(' ', '+')}")
        there = self.send(who, page.form("/buckets") or page.form("/buckets/mix"), sent, post)
        return there.path.split("?")[0].rpartition("/")[2]

    def bucket(self, who: Actor, code: str, step: str, sent: Mapping[str, Any], post: str) -> Any:
        page = self.get(who, f"/t/{code}")
        self.send(who, page.form(f"/{step}"), sent, post)
        return self.written(post)

    def open_run(self, who: Actor, sent: Mapping[str, Any], post: str) -> int:
        page = self.get(who, f"/jobs/{sent['job']}")
        press = find.place(self.db, sent["press"])
        given = {"placement": str(sent.get("placement", 1)), "press": press.code}
        there = self.send(who, page.form("/runs", "press"), given, post)
        return int(there.path.rpartition("/")[2])

    def at_work(self, who: Actor, number: int) -> Page:
        """The run's page on a phone that works on it."""
        path = f"/runs/{number}"
        page = self.get(who, path)
        here = page.form(f"/runs/{number}/here")
        if here is not None:
            self.send(who, here, {}, "")
            page = self.get(who, path)
        return page

    def form_of(self, who: Actor, number: int, step: str, fields: set[str]) -> PageForm | None:
        """The form of a step on the run's page, with these fields where there is one; what the page has at request is
        asked for."""
        page = self.at_work(who, number)
        if page.form(f"/runs/{number}/{step}", *fields) is None and step in page.at_request:
            page = self.get(who, f"/runs/{number}?open={step}")
        return page.form(f"/runs/{number}/{step}", *fields) or page.form(f"/runs/{number}/{step}")

    def scan(self, who: Actor, number: int, code: str, in_hand: bool) -> Page:
        self.at_work(who, number)
        page = self.get(who, f"/t/{code}")
        if in_hand:
            answer = page.form(f"/runs/{number}", in_hand="yes")
            if answer is not None:
                page = self.send(who, answer, {}, "")
        return page

    def check(
        self, who: Actor, number: int, code: str, station: int, head: int | None, in_hand: bool, head_free: bool = False
    ) -> Verdict:
        """What stands on the page: the word of the program's own verdict, and each of its reasons."""
        page = self.scan(who, number, code, in_hand)
        verdict = super().check(who, number, code, station, head, in_hand)
        shown = WORDS.get(next((word for word in page.words if word in WORDS), ""))
        if shown != str(verdict.level):
            raise NotOffered(f"the page of {code} in run {number} says {shown}, the floor {verdict.level}")
        return verdict

    def hang(self, who: Actor, number: int, sent: Mapping[str, Any], post: str) -> Verdict:
        page = self.scan(who, number, str(sent["screen"]), "in_hand" in sent)
        asks = page.form(f"/runs/{number}", in_hand="yes")
        found = page.form(f"/runs/{number}/hang", "screen")
        if post not in self.sent:
            if found is None and asks is not None:
                raise Worse("in your hands?", Verdict(Level.STOP), "in_hand")
            if found is None:
                raise NotAllowed("the page does not offer to hang it")
            if "override" in found.names and "override" not in sent:
                raise Worse("the page wants a reason", Verdict(Level.STOP))
        given = {name: sent[name] for name in ("station", "head", "override") if sent.get(name) is not None}
        if found is not None and "override" not in found.names:
            given.pop("override", None)
        self.send(who, found, given, post, optional=("station", "head"))
        last = entries.find(self.db, self.written(post)[-1])
        assert last is not None and last.verdict is not None
        return Verdict.from_dict(last.verdict)

    def run(self, who: Actor, number: int, step: str, sent: Mapping[str, Any], post: str) -> list[str]:
        sent = dict(sent)
        if step == "swap":
            self.at_work(who, number)
            old, new = str(sent["old"]), str(sent["new"])
            page = self.get(who, f"/t/{new}")
            sent = {name: value for name, value in sent.items() if name not in {"old", "new"}}
            found = page.form(f"/runs/{number}/swap", old=old)
            if found is not None and "override" not in found.names:
                sent.pop("override", None)
        else:
            found = self.form_of(who, number, step, set(sent) - {"photo"})
        if found is None and post not in self.sent:
            raise Refused(f"run {number} does not offer {step}")
        picture = self.photo if sent.pop("photo", "") else b""
        answers = {name: sent.pop(name) for name in (*DOUBTS, "still_needed") if name in sent}
        for _questions in answers if post not in self.sent else ():
            try:
                self.send(who, found, sent, "", button="then", picture=picture)
            except (Asked, Doubted) as asked:
                found = asked.page.form(f"/runs/{number}/{step}", *(fault.where for fault in asked.faults))
                sent = {fault.where: "yes" for fault in asked.faults}
        self.send(who, found, sent, post, button="then", picture=picture)
        return self.written(post)

    def sheet(self, who: Actor, number: int, sent: Mapping[str, Any], post: str) -> None:
        self.at_work(who, number)
        found = self.get(who, f"/runs/{number}?part=all").form(f"/runs/{number}/sheet")
        if found is not None and "override" in sent and post not in self.sent:
            try:
                self.send(who, found, {name: value for name, value in sent.items() if name != "override"}, "")
            except Stopped as stopped:
                found, sent = stopped.page.form(f"/runs/{number}/sheet"), {"override": sent["override"]}
        self.send(who, found, sent, post)


WORDS = {word: str(level) for level, word in FACES.items()}
"""The word on top of a verdict, and how loud it is."""


@dataclass(frozen=True)
class _Logged:
    entries: tuple[str, ...]
