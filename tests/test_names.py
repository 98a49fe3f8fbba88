"""Names and words that people type: nothing in them that nobody sees, wherever they come in."""

from __future__ import annotations

import html
from typing import Any

import pytest
import shop as shops
from conftest import PEOPLE
from sqlite_utils import Database

from tickets.actions import posting
from tickets.actions.jobs import add as add_jobs
from tickets.domain import names
from tickets.domain.jobs.job_reading import read
from tickets.domain.posted import form
from tickets.domain.refusal import Refused
from tickets.domain.runs import setup
from tickets.domain.steps import SCREEN_STEPS
from tickets.store import people as rows

UNSEEN = {
    "a control": "\x07", "a break": "\n", "a control of the second set": "\x85", "a separator of files": "\x1c",
    "right to left from here": "\u202e", "an isolate": "\u2066", "a mark of direction": "\u200f",
    "no width": "\u200b", "joined to what follows": "\u2060", "a byte order mark": "\ufeff",
    "a soft hyphen": "\xad", "a joiner between plain letters": "\u200d", "kept apart in plain letters": "\u200c",
    "a tag": "\U000e0041", "a filler": "\u3164", "a blank of braille": "\u2800",
    "letters joined for sorting": "\u034f", "a variation": "\ufe01", "another variation": "\U000e0101",
    "private": "\ue000", "a line separator": "\u2028", "half of a character": "\ud800",
}  # fmt: skip
"""What nobody sees, or what turns the order of what is beside it (Unicode: general categories Cc, Cf, Cs, Co, Zl, Zp,
and Default_Ignorable_Code_Point)."""


@pytest.mark.parametrize("sign", UNSEEN.values(), ids=UNSEEN)
def test_a_name_holds_nothing_that_is_not_seen(sign: str) -> None:
    with pytest.raises(names.BadName) as refused:
        names.name(f"An{sign}na")
    assert f"U+{ord(sign):04X}" in str(refused.value) and "behind “An”" in str(refused.value)
    assert "delete it" in str(refused.value) and sign not in str(refused.value)


@pytest.mark.parametrize(
    "text",
    ["Ada Holm", "Zoë O’Neill-Łuczak", "Кирилл", "محمد", "\u0645\u06cc\u200c\u0631\u0648\u0645",
     "\u0915\u094d\u200d\u0937", "王小明", "Press 2 \U0001f9d1\u200d\U0001f527", "Rack \u2600\ufe0f", "½ in · 3°"],
)  # fmt: skip
def test_a_name_may_be_written_in_any_script(text: str) -> None:
    assert names.name(text) == text


@pytest.mark.parametrize("text", ["\u0410da", "Rack \u0391b", "Press \u0440ress", "A\u0301da\u0430"])
def test_a_word_in_letters_of_two_alphabets_is_refused(text: str) -> None:
    with pytest.raises(names.BadName, match="letters of two alphabets"):
        names.name(text)


@pytest.mark.parametrize(
    ("text", "alike"),
    [
        ("A 1", ("\u0410 1", "\u0391 1")),
        ("\u0410 1", ("A 1", "\u0391 1")),
        ("Rack", ()),
        ("\u0421\u043e\u0432\u0430", ()),
        ("7", ()),
    ],
)
def test_how_a_name_is_spelled_in_letters_that_look_the_same(text: str, alike: tuple[str, ...]) -> None:
    assert names.spelled_alike(text) == alike


def test_a_name_that_looks_like_one_that_is_there_is_told(app: Any, folder: Any, db: Database) -> None:
    """`A 1` in Latin letters is there; the same in Cyrillic letters is another mark that nobody could tell from it."""
    di, cyrillic = shops.signed_in(shops.phone_of(app), "Di Novak"), "\u0410 1"
    mesh = {"mesh_count_as_labelled": "230/in", "frame": "aluminium"}
    forms = (
        ("/places/new", "name", {"kind": "rack"}), ("/exposure-units/new", "name", {"lamp": "led"}),
        ("/people", "name", {"role": "press", "new_secret": "472059"}), ("/screens/new", "mark", mesh),
    )  # fmt: skip
    for path, field, more in forms:
        for text, status in (("A 1", 303), (cyrillic, 422)):
            answer = di.post(path, data={**more, field: text, "entry": shops.fresh()})
            assert answer.status_code == status, (path, text, shops.said(answer.text))
        assert "looks like “A 1”" in answer.text and f'value="{cyrillic}"' in answer.text, path
    assert di.post("/places/new", data={"kind": "rack", "name": "\u0411 1", "entry": shops.fresh()}).status_code == 303
    listed = {"kind": "frames", "list": f"mark,mesh_count,frame\n{cyrillic},230/in,aluminium\n"}
    assert "looks like" in di.get(di.post("/bring", data=listed).location).text


def test_a_joiner_that_shows_nothing_is_refused_in_a_script_that_has_them() -> None:
    for text in ("\u062f\u200c\u0631", "\u0645\u200d\u0645", "\u0645\u200c", "\u200cm", "a\ufe0f"):
        assert names.unseen(text), text


def test_blanks_become_one_and_a_letter_with_its_sign_one_character() -> None:
    assert names.name("  Zoe\u0308 \u00a0\u3000 Holm ") == "Zoë Holm"
    assert names.mark("A\t12\r\n") == "A 12"
    for text in ("", " \u00a0", "x" * (names.NAME + 1)):
        with pytest.raises(names.BadName, match="1 to 60 characters is needed, such as “Rack 3”"):
            names.name(text)
    assert names.name("x" * names.NAME)


def test_a_note_has_lines_and_nothing_that_turns_their_order() -> None:
    assert names.words(" one\r\n\ttwo\u200f \u200b") == "one\n\ttwo\u200f \u200b"
    for sign in ("\x00", "\x1b", "\x9b", "\u202e", "\u2067", "\u2029"):
        with pytest.raises(names.BadName, match=r"delete it, or type this again"):
            names.words(f"one{sign}two")
    with pytest.raises(names.BadName, match="At most 2,000 characters: this has 2,001"):
        names.words("x" * 2001)


# -- wherever they come in

BAD = "Ga\u200bte"
TOLD = "cannot be seen (U+200B, behind “Ga”)"


def told_beside(page: str, field: str) -> bool:
    """What was typed is still in its field, and what is wrong with it is said on the page."""
    text = html.unescape(page)
    return TOLD in text and any(BAD in part[:400] for part in text.split(f'name="{field}"')[1:])


PRESET = {"preset.name": BAD, "preset.print_side": "1", "preset.squeegee_side": "1"}
FORMS = (
    ("Di Novak", "/people", "/people", {"name": BAD, "role": "press", "new_secret": "472059"}, "name"),
    ("Di Novak", "/places", "/places/new", {"name": BAD, "kind": "rack"}, "name"),
    ("Di Novak", "/places", "/exposure-units/new", {"name": BAD, "lamp": "led"}, "name"),
    ("Di Novak", "/settings", "/settings/shop", {"shop": BAD}, "shop"),
    ("Di Novak", "/settings", "/settings/presets", PRESET, "preset.name"),
    ("Ada Holm", "/screens/new", "/screens/new", {"mark": BAD, "mesh_count_as_labelled": "230/in"}, "mark"),
    ("Ada Holm", "/buckets", "/buckets", {"kind": "ink", "lot": BAD}, "lot"),
)  # fmt: skip


@pytest.mark.parametrize(("who", "on", "to", "sent", "field"), FORMS, ids=[row[2] for row in FORMS])
def test_a_page_says_so_beside_the_field(
    app: Any, who: str, on: str, to: str, sent: dict[str, str], field: str
) -> None:
    phone = shops.signed_in(shops.phone_of(app), who)
    assert phone.get(on).status_code == 200
    answer = phone.post(to, data={**sent, "entry": shops.fresh(), "secret": PEOPLE[who][1]})
    assert answer.status_code == 422 and told_beside(answer.text, field), answer.text


def test_a_set_up_sheet_says_so_at_its_words() -> None:
    placement = read(shops.one_colour()).placements[0]
    for words, faulty in (("base\u202eA, soft", True), ("base A,\nsoft", False)):
        found, faults = setup.read({"s1.additives": [words]}, placement, setup.of_job(placement))
        assert [one.where for one in faults] == ["s1.additives"] * faulty, words
        assert faulty or found["1"]["additives"]


def test_a_job_says_so_at_its_title_and_its_customer(db: Database, ada: Any) -> None:
    with pytest.raises(Refused) as refused:
        read({**shops.two_colours(), "title": BAD, "customer": BAD})
    found = {fault.where: fault.message for fault in refused.value.faults}
    assert TOLD in found["title"] and TOLD in found["customer"]


def test_what_was_taken_before_is_read_as_it_is() -> None:
    kept = read({**shops.two_colours(), "title": "Ga\u200bte"}, stored=True)
    assert kept.title == "Ga\u200bte"


def test_commands_and_files_say_so_too(folder: Any, db: Database, tmp_path: Any) -> None:
    tickets = shops.commands(folder)
    for command in (
        ("person", "add", BAD, "--role", "press"),
        ("place", "add", BAD, "--kind", "rack"),
        ("screen", "add", "--count", "230/in", "--frame", "wood", "--number", "1", "--mark", BAD),
        ("bucket", "add", "--kind", "ink", "--lot", BAD),
        ("settings", "set", "shop", BAD),
    ):
        answer = tickets(*command)
        assert answer.exit_code in (1, 2) and TOLD in answer.stderr, (command, answer.output)
    frames = tmp_path / "frames.csv"
    frames.write_text(f"mark,mesh_count_as_labelled\n{BAD},230/in\n", encoding="utf-8")
    answer = tickets("screen", "import", frames)
    assert answer.exit_code in (1, 2) and TOLD in answer.output + answer.stderr
    assert BAD not in rows.names(db).values()


def test_whatever_a_post_carries_is_looked_at(db: Database, ada: Any) -> None:
    for content in ({"step": "x", "any": ["fine", "a\x00b"]}, {"what": {"deep": [{"er": "\u202e"}]}}):
        with pytest.raises(Refused) as refused:
            posting.before(db, ada, shops.fresh(), content)
        assert refused.value.faults[0].where in ("any", "what")
    assert posting.before(db, ada, shops.fresh(), {"step": "x", "any": ["fine\n"]}) is None
    assert form({"why": "a\x1b"}).one("why") and add_jobs


def test_every_text_of_a_step_has_a_bound_that_its_box_says(app: Any) -> None:
    assert {field.longest for step in SCREEN_STEPS.values() for field in step.fields} == {60, 200, 2000}
    ada = shops.signed_in(shops.phone_of(app), "Ada Holm")
    page = ada.get("/screens/new").text
    mark = page[page.index('name="mark"') :][:200]
    assert 'maxlength="60"' in mark
    sent = {"mark": "x" * 61, "mesh_count_as_labelled": "230/in", "entry": shops.fresh()}
    answer = ada.post("/screens/new", data=sent)
    assert answer.status_code == 422 and "1 to 60 characters" in answer.text and "x" * 61 in answer.text
