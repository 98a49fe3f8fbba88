"""Forms that come back refused: on every page, each form with a wrong value in each of its fields. The page that comes
says that nothing was saved, in its title too; at its top is a list of what is wrong, each leading to its field; that
field, and no other, is marked; and what was typed is still in it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

import pytest
import shop as shops
from flask.testing import FlaskClient
from rubbish import SUITS
from shop import Shop, fresh
from test_enter import STARTS, every_state, pattern_of, signed_in, walk

from tickets import demo, store
from tickets.actions import places
from tickets.queries import find

__all__ = ["every_state"]

VOID = {"input", "br", "hr", "img", "link", "meta", "col", "source", "wbr"}
CONTROLS = ("input", "textarea", "select", "button")


@dataclass(eq=False)
class Tag:
    """An element of a page: its attributes, the elements it stands in, what is read in it."""

    name: str
    attrs: dict[str, str]
    inside: tuple[Tag, ...]
    texts: list[str] = field(default_factory=list)

    def get(self, name: str) -> str:
        """An attribute, or nothing."""
        return self.attrs.get(name, "")

    @property
    def text(self) -> str:
        """What is read in it, without the space between."""
        return re.sub(r"\s+", " ", "".join(self.texts)).strip()

    @property
    def value(self) -> str:
        """What a control holds."""
        return "".join(self.texts).removeprefix("\n") if self.name == "textarea" else self.get("value")

    def about(self, other: Tag) -> bool:
        """Whether one of the two is the other or stands in it."""
        return self is other or self in other.inside or other in self.inside


class Tree(HTMLParser):
    """All elements of a page, in their order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.all: list[Tag] = []
        self.open: list[Tag] = []
        self.feed(text)

    def updatepos(self, i: int, j: int) -> int:
        """No line is counted."""
        return j

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        made = Tag(tag, {name: value or "" for name, value in attrs}, tuple(self.open))
        self.all.append(made)
        if tag not in VOID:
            self.open.append(made)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.all.append(Tag(tag, {}, tuple(self.open)))

    def handle_endtag(self, tag: str) -> None:
        for at in range(len(self.open) - 1, -1, -1):
            if self.open[at].name == tag:
                del self.open[at:]
                return

    def handle_data(self, data: str) -> None:
        for one in self.open:
            one.texts.append(data)

    def named(self, *names: str) -> list[Tag]:
        """The elements of those names."""
        return [one for one in self.all if one.name in names]


def forms_of(tree: Tree, path: str) -> Iterator[tuple[str, list[Tag]]]:
    """Each form of a page that posts: where to, and its controls."""
    for form in tree.named("form"):
        if form.get("method").lower() == "post":
            mine = form.get("id") or "-"
            own = [one for one in tree.named(*CONTROLS)
                   if one.get("form") == mine or (form in one.inside and not one.get("form"))]  # fmt: skip
            yield (form.get("action") or path).split("#")[0], own


def filled(controls: list[Tag]) -> dict[str, list[str]]:
    """What the form sends as it stands, by its first button that somebody sees; what is asked for is tapped."""
    sent: dict[str, list[str]] = {}
    for one in controls:
        name, kind = one.get("name"), one.get("type")
        chosen = kind not in ("radio", "checkbox") or "checked" in one.attrs
        if name and chosen and one.name != "button" and kind not in ("file", "submit"):
            sent.setdefault(name, []).append(one.value)
    for one in controls:
        if one.get("type") == "radio" and one.get("value"):
            sent.setdefault(one.get("name"), [one.get("value")])
    if "entry" in sent:
        sent["entry"] = [fresh()]
    for one in controls:
        seen = one.get("type") != "button" and one.get("class") != "enter" and not one.get("formaction")
        if one.name == "button" and seen:
            if one.get("name"):
                sent.setdefault(one.get("name"), []).append(one.get("value"))
            break
    return sent


def typed_fields(controls: list[Tag]) -> dict[str, Tag]:
    """The fields that somebody types into, the first of each name."""
    kinds = ("", "text", "date", "datetime-local", "time")
    found: dict[str, Tag] = {}
    for one in controls:
        if one.get("name") and (one.name == "textarea" or (one.name == "input" and one.get("type") in kinds)):
            found.setdefault(one.get("name"), one)
    return found


def wrong_value(one: Tag) -> str:
    """What no field of that kind takes."""
    if one.get("inputmode") in ("numeric", "decimal"):
        return "abc"
    return "2026-13-45" if one.get("type") in ("date", "datetime-local", "time") else "x\u0007y"


def suiting(name: str) -> str:
    """What does in a field of that name."""
    mine = (("mesh.count", "230/in"), ("ruling", "55 lpi"), ("weighed_g", "150"), (".step", "note"),
            (".at", "2026-03-02T08:00"))  # fmt: skip
    return next((text for part, text in (*mine, *SUITS) if part in name), "seen")


LEFT_OUT = {
    ("/sign-in?", "name"): "nobody is told which of the two is wrong",
    ("/places/new?", "heads"): "counts of a press alone",
    ("/screens/*/image?", "at"): "asks for the image first",
}
"""Fields whose faults are told otherwise, and why."""
CHOSEN_THEN = {"separations"}
"""Typed only where there is nothing to tap; the page that comes back has what there is, to be tapped."""


def marked(tree: Tree) -> dict[str, set[str]]:
    """The fields that are marked as faulty, each with the fields that stand in it where it is a group."""
    found: dict[str, set[str]] = {}
    for one in tree.all:
        if one.get("aria-invalid"):
            names = {each.get("name") for each in tree.named(*CONTROLS) if one.about(each) and each.get("name")}
            for name in names:
                found.setdefault(name, set()).add(one.get("aria-describedby"))
    return found


def faults_of(text: str, name: str, wrong: str) -> Iterator[str]:
    """What is amiss with the page that came back when the field `name` held `wrong`."""
    tree = Tree(text)
    title = tree.named("title")[0].text
    if not title.startswith("Not saved: "):
        yield f"the title says {title}"
    if "Nothing was saved." not in text:
        yield "it does not say that nothing was saved"
    ids = [one.get("id") for one in tree.all if one.get("id")]
    if double := {one for one in ids if ids.count(one) > 1}:
        yield f"two have the id {sorted(double)}"
    lists = [one for one in tree.all if one.get("id") == "faults"]
    first = next(one for one in tree.all if one.name in ("h1", "form") and any(up.name == "main" for up in one.inside))
    if not lists or tree.all.index(lists[0]) > tree.all.index(first) or "autofocus" not in lists[0].attrs:
        yield "no list at its top that has the focus"
        return
    links = [one for one in tree.named("a") if lists[0] in one.inside]
    by_id = {one.get("id"): one for one in tree.all}
    invalid = [one for one in tree.all if one.get("aria-invalid")]
    for link in links:
        target = by_id.get(link.get("href")[1:])
        if target is None:
            yield f"“{link.text}” leads nowhere ({link.get('href')})"
        elif not any(one.about(target) for one in invalid):
            yield f"“{link.text}” leads to nothing that is marked"
    for one in invalid:
        if not set(one.get("aria-describedby").split()) <= set(ids) or not one.get("aria-describedby"):
            yield f"nothing describes what is wrong with {one.get('name') or one.name}"
    if len({link.text for link in links}) < len(links):
        yield f"it says one thing twice: {[link.text for link in links]}"
    boxes = [one for one in tree.named("input", "textarea") if one.get("name") == name]
    if name not in CHOSEN_THEN and not any(one.value == wrong for one in boxes):
        yield "what was typed is gone"


def refused_alone(phone: FlaskClient, action: str, controls: list[Tag], name: str, wrong: str) -> tuple[int, str]:
    """The answer to a form in which this field alone is wrong: what else is asked for is filled in."""
    sent = filled(controls) | {name: [wrong]}
    if "secret" in sent:
        sent["secret"] = [demo.SECRETS["Di Novak"][1]]
    for _again in range(4):
        answer = phone.post(action, data=sent)
        others = set(marked(Tree(answer.text))) - {name} if answer.status_code == 422 else set()
        others -= {"entry", "seen", "ask"}
        if not others:
            break
        for other in others:
            of_it = [one for one in controls if one.get("name") == other]
            taps = [one.get("value") for one in of_it if one.get("type") in ("radio", "checkbox") and one.get("value")]
            sent[other] = [taps[0] if taps else suiting(other)]
        if "entry" in sent:
            sent["entry"] = [fresh()]
    return answer.status_code, answer.text


def all_that_is_amiss(phone: FlaskClient, paths: Iterable[str], each: int = 1) -> tuple[int, list[str]]:
    """How many forms came back, and what was amiss with them; of a form one field in `each` is tried."""
    seen, amiss, came = set[tuple[str, str]](), list[str](), 0
    for path in paths:
        answer = phone.get(path)
        if answer.status_code != 200 or answer.mimetype != "text/html":
            continue
        for action, controls in forms_of(Tree(answer.text), path):
            where, fields = pattern_of(action), typed_fields(controls)
            names = [name for name in fields if (where, name) not in (*seen, *LEFT_OUT)]
            seen.update((where, name) for name in names)
            for name in names[::each]:
                wrong = wrong_value(fields[name])
                status, text = refused_alone(phone, action, controls, name, wrong)
                came += status == 422
                told = faults_of(text, name, wrong) if status == 422 else [f"answered {status}"]
                amiss += [f"{where} {name}: {one}" for one in told]
                if status == 422 and set(marked(Tree(text))) != {name}:
                    amiss.append(f"{where} {name}: marked are {sorted(marked(Tree(text)))}")
    return came, amiss


@pytest.fixture(scope="module")
def manager(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[FlaskClient, Any]]:
    """The manager of the invented shop, and its rows."""
    folder = shops.the_demo(tmp_path_factory.mktemp("forms") / "shop")
    db = store.connect(folder)
    with shops.pages(folder) as app:
        yield shops.signed_in(shops.phone_of(app), "Di Novak", demo.SECRETS["Di Novak"][1]), db
    db.close()


def test_a_wrong_value_is_told_at_its_field_and_at_the_top(manager: tuple[FlaskClient, Any]) -> None:
    phone, db = manager

    def first(sql: str) -> Any:
        return db.execute(f"{sql} LIMIT 1").fetchone()[0]

    code, place = first("SELECT code FROM screens"), first("SELECT code FROM places WHERE kind = 'rack'")
    unit, run = first("SELECT name FROM exposure_units"), first("SELECT max(id) FROM runs")
    job = first("SELECT code FROM jobs ORDER BY id DESC")
    paths = ["/places", f"/places/{place}", "/people", "/settings", "/jobs/new", f"/jobs/{job}/again", "/screens/new",
             "/spec/1", "/spec/new?key=tension-floor", f"/exposure-units/{unit}", "/buckets/new", "/print/tags",
             "/bring", f"/screens/{code}/from-paper", f"/screens/{code}?step=tension", f"/runs/{run}",
             f"/runs/{run}?open=sheet"]  # fmt: skip
    came, amiss = all_that_is_amiss(phone, paths, each=4)
    assert not amiss, "\n".join(sorted(amiss))
    assert came > 30, came


@pytest.mark.slow
def test_each_field_of_every_form_of_every_page(every_state: Any) -> None:
    folder, secrets, more = every_state
    phone = signed_in(folder, "Di Novak", secrets["Di Novak"])
    came, amiss = all_that_is_amiss(phone, [path for path, _page in walk(phone, (*STARTS, *more), 1)])
    assert not amiss, "\n".join(sorted(amiss))
    assert came > 200, came


def test_what_is_pasted_is_told_above_the_empty_form(manager: tuple[FlaskClient, Any]) -> None:
    """All that is wrong with a job file or a frame list, at the top; each leads to the text that was pasted."""
    phone, _db = manager
    sheet, frames = "title = 3\npieces = 4", 'mark,mesh_count\n"R 7,230/in\n'
    for path, name, text, least in (("/jobs/new", "toml", sheet, 2), ("/bring", "list", frames, 1)):
        answer = phone.post(path, data={"entry": fresh(), "act": "save", "kind": "frames", name: text})
        tree = Tree(answer.text)
        (told,) = [one for one in tree.all if one.get("id") == "faults"]
        links = [one for one in tree.named("a") if told in one.inside]
        (box,) = [one for one in tree.named("textarea") if one.get("id") == name]
        assert box.value.strip() == text.strip()
        assert answer.status_code == 422 and len(links) >= least and {one.get("href") for one in links} == {f"#{name}"}
        assert box.get("id") == name and box.get("aria-invalid") == "true"
        assert list(marked(tree)) == [name]
        assert all(one.attrs.get("open") == "" for one in box.inside if one.name == "details")


def test_a_job_with_nothing_in_it_says_of_which_row_each_fault_is(client: FlaskClient, sign_in: Any) -> None:
    phone = sign_in(client, "Di Novak")
    row = "placement[1].station"
    sent = {"entry": fresh(), "act": "save", f"{row}[1].does": "print", f"{row}[1].mesh.count": "90/in",
            f"{row}[2].does": "print", f"{row}[2].ink": "plastisol"}  # fmt: skip
    tree = Tree(phone.post("/jobs/new", data=sent).text)
    (told,) = [one for one in tree.all if one.get("id") == "faults"]
    said = [one.text for one in tree.named("a") if told in one.inside]
    assert len(said) > 10 and len(set(said)) == len(said), said
    assert {"Colour, garment 1: This is needed.", "Colour, position 1: This is needed.",
            "Colour, position 2: This is needed."} <= set(said)  # fmt: skip
    needed = {one.get("id") for one in tree.named("input") if one.get("aria-required")}
    assert {"title", "customer", "due", "garment[1].pieces"} <= needed and "reference" not in needed


@pytest.mark.parametrize("view", ["day", "safelight"])
def test_a_wrong_pin_is_told_at_its_field(client: FlaskClient, view: str) -> None:
    client.post("/view", data={"view": view, "next": "/"})
    sent = {"who": "Ada Holm", "secret": "9999"} if view == "day" else {"who": "Ada Holm", "secret.p1": "9"}
    tree = Tree(client.post("/sign-in", data=sent).text)
    (told,) = [one for one in tree.all if one.get("id") == "faults"]
    assert "Nothing was saved" not in told.text and tree.named("title")[0].text.startswith("Not signed in: ")
    (link,) = [one for one in tree.named("a") if told in one.inside]
    (target,) = [one for one in tree.all if one.get("id") == link.get("href")[1:]]
    assert all(one.about(target) for one in tree.all if one.get("aria-invalid"))
    assert {name.partition(".")[0] for name in marked(tree)} == {"secret"}


def test_what_empties_a_rack_is_asked_once(bench: Shop, client: FlaskClient, sign_in: Any) -> None:
    """A rack where nobody saw a screen; the same of a limit: test_web_spec."""
    rack = places.add(bench.db, bench.me, "Rack 9", "rack", post=fresh(), now=bench.now)
    (code,) = bench.frames(1, thread_um="48")
    bench.past(code, "rack", 1, place="Rack 9")
    phone = sign_in(client, "Ada Holm")
    path = f"/desk/stocktake/{rack}"
    assert phone.post(f"{path}/seen").status_code == 303
    sent = {"entry": fresh(), "gone": code}
    asked = phone.post(f"{path}/put-right", data=sent)
    assert asked.status_code == 409 and "No screen was seen here: 1 screen loses its place" in asked.text
    assert find.screen(bench.db, code).life.place is not None
    assert phone.post(f"{path}/put-right", data={**sent, "still": "yes"}).status_code == 200
    assert find.screen(bench.db, code).life.place is None
