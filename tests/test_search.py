"""One search for everything: forgiving of case, accents and a slip, kept up by whoever writes, proved, by an index."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from shop import Shop, commands, two_colours, with_presses
from sqlite_utils import Database

from tickets.actions import jobs, people, places, shop
from tickets.domain import searched
from tickets.domain.jobs import job as sheets
from tickets.domain.person import Actor
from tickets.queries import search, sound
from tickets.queries.said import Reader
from tickets.store import finding
from tickets.store import jobs as stored_jobs
from tickets.store import places as stored_places

SignIn = Callable[[FlaskClient, str], FlaskClient]


# Words --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Łódź – Zażółć", ["lodz", "zazolc"]),
        ("Straße ŒUVRE Ærø", ["strasse", "oeuvre", "aero"]),
        ("A-12/b", ["a", "12", "b"]),
        ("Ελλάς ΕΛΛΆΣ", ["ελλασ", "ελλασ"]),
        ("½ ﬁx", ["1", "2", "fix"]),
        ("_%*\"'():^", []),
    ],
)
def test_words_are_without_case_accents_and_signs(text: str, words: list[str]) -> None:
    assert searched.terms(text) == words


@given(st.text(alphabet="abcł", min_size=1, max_size=7), st.integers(0, 7), st.sampled_from("abx"), st.integers(0, 3))
def test_a_slip_is_one_letter_more_fewer_other_or_two_changed_over(word: str, at: int, letter: str, what: int) -> None:
    at %= len(word)
    other = (
        word[:at] + letter + word[at:],
        word[:at] + word[at + 1 :],
        word[:at] + letter + word[at + 1 :],
        word[:at] + word[at : at + 2][::-1] + word[at + 2 :],
    )[what]
    assert searched.one_slip(word, other) is (word != other)
    assert searched.one_slip(other, word) is (word != other)
    if other:
        assert searched.shorter(word) & searched.shorter(other)
    assert not searched.one_slip(word, f"{other}yy") or len(other) < len(word)


@pytest.mark.parametrize(("one", "other"), [("abcd", "badc"), ("kites", "kitten"), ("abc", "cba"), ("aabb", "bbaa")])
def test_two_slips_are_none(one: str, other: str) -> None:
    assert not searched.one_slip(one, other) and not searched.one_slip(other, one)


# What is found ------------------------------------------------------------------------------------------------------


@pytest.fixture
def made(db: Database) -> Shop:
    made = with_presses(db)
    made.place("Cart Ölwanne")
    first = made.job(two_colours("Kite club tees"))
    made.job(sheets.read(two_colours("Sommerfest Köln", revision="3", customer="Müller & Söhne", reference="PO-77/4")))
    made.frames(2, mark="A 12")
    for code, asked in zip(made.frames(2), stored_jobs.asked(db, first, 1), strict=True):
        made.made(code, [asked.separation])
    made.mix("Deep crimson", "discharge ink", lot="L-2026/17")
    return made


def found(made: Shop, text: str, who: Actor | None = None, kind: str = "") -> dict[str, list[str]]:
    asked = search.search(Reader.of(made.db, made.now), who or made.me, text, kind)
    return {one.kind: [hit.name for hit in one.hits] for one in asked.groups}


def test_everything_is_found_by_its_words(made: Shop) -> None:
    assert found(made, "olwanne") == {"place": ["Cart Ölwanne"]}
    assert found(made, "SOMMERFEST koln") == {"job": ["Sommerfest Köln"]}
    muller = found(made, "muller sohne")
    assert muller["customer"] == ["Müller & Söhne"] and muller["job"] == ["Sommerfest Köln"] and muller["separation"]
    assert found(made, "po77") == found(made, "PO-77") == {"job": ["Sommerfest Köln"]}
    assert len(found(made, "a-12")["screen"]) == 1
    crimson = found(made, "crims")
    assert list(crimson) == ["bucket"] and "Deep crimson" in crimson["bucket"][0]
    for typed in ("l2026", "L-2026/17", "l 2026 17", "L2026/17"):
        assert found(made, typed)["lot"] == ["L-2026/17"] and "bucket" in found(made, typed), typed
    assert found(made, "tees sommerfest") == {}
    assert found(made, "") == found(made, "%") == found(made, '" OR kind : job') == {}


def test_an_image_says_which_screens_carry_it(made: Shop) -> None:
    asked = search.search(Reader.of(made.db, made.now), made.me, "kite club", "separation")
    (group,) = asked.groups
    for hit in group.hits:
        assert len(hit.screens) == 1 and "on 1 screen" in hit.about and hit.job
        assert "ready" in hit.screens[0][1].lower()


def test_a_slip_finds_what_was_meant_and_says_so(made: Shop) -> None:
    for typed in ("somerfest", "sommerfset", "sommerfezt", "tsommerfest"):
        asked = search.search(Reader.of(made.db, made.now), made.me, typed)
        assert asked.instead == "sommerfest" and [one.kind for one in asked.groups] == ["job"], typed
    assert search.search(Reader.of(made.db, made.now), made.me, "sommerfest").instead == ""
    assert found(made, "somerfset") == {}, "two slips are another word"
    assert found(made, "somerfest kölm") == {"job": ["Sommerfest Köln"]}
    assert finding.one_slip_away(made.db, "2027") == [], "a digit is no slip"


def test_people_are_found_by_a_manager_and_by_themselves(made: Shop) -> None:
    ada = people.add_person(made.db, "Ada Quist", "press", "481516", made.now)
    bea = people.add_person(made.db, "Bea Quist", "press", "471859", made.now)
    assert sorted(found(made, "quist")["person"]) == ["Ada Quist", "Bea Quist"]
    assert found(made, "quist", Actor(ada, "Ada Quist", "press"))["person"] == ["Ada Quist"]
    assert found(made, "ada", Actor(bea, "Bea Quist", "press")) == {}


def test_words_follow_every_change_and_a_rebuild_finds_the_same(made: Shop) -> None:
    db = made.db
    job = next(one for one in store_jobs(db) if one.sheet.title == "Sommerfest Köln")
    sheet = sheets.read({**two_colours("Winterfest"), "customer": "Nord GmbH"})
    jobs.change(db, made.me, job, sheet, post=f"{1:024x}", now=made.tick(minutes=1))
    assert found(made, "sommerfest") == {} and "customer" not in found(made, "muller")
    assert found(made, "winterfest") == {"job": ["Winterfest"]} and found(made, "nord")["customer"] == ["Nord GmbH"]
    there = stored_places.find(db, "Cart Ölwanne")
    places.change(db, made.me, there, "Cart north", post=f"{2:024x}", now=made.tick(minutes=1))
    assert "place" not in found(made, "olwanne") and found(made, "north") == {"place": ["Cart north"]}
    (code,) = made.frames(1)
    made.steps(code, ("stretch", {"mesh_count_as_labelled": "230/in", "mark": "Zebra 9"}))
    assert found(made, "zebra") == {"screen": [search.shown(code)]}
    new = made.log(code, "retag")
    assert sound.check(db) == []
    before = db.execute("SELECT kind, thing, words FROM findable ORDER BY 1, 2").fetchall()
    shop.rebuild(db)
    assert db.execute("SELECT kind, thing, words FROM findable ORDER BY 1, 2").fetchall() == before
    assert new and sound.check(db) == []


def store_jobs(db: Database) -> list[Any]:
    return [found for number in stored_jobs.every_number(db) if (found := stored_jobs.get(db, number))]


@pytest.mark.parametrize(
    "spoil",
    [
        "UPDATE findable SET words = 'other' WHERE kind = 'place'",
        "DELETE FROM findable WHERE kind = 'lot'",
        "INSERT INTO findable_words (rowid, kind, words) VALUES (9999, 'job', 'ghost')",
        "DELETE FROM slips WHERE word = 'sommerfest'",
    ],
)
def test_the_check_finds_what_is_not_found_as_it_is_written_and_a_rebuild_mends_it(made: Shop, spoil: str) -> None:
    assert sound.check(made.db) == []
    made.db.execute(spoil)
    assert sound.check(made.db) != []
    shop.rebuild(made.db)
    assert sound.check(made.db) == []
    assert found(made, "somerfest") == {"job": ["Sommerfest Köln"]}


# The page and the command -------------------------------------------------------------------------------------------


def test_the_page_groups_what_it_found_and_leads_on(made: Shop, client: FlaskClient, sign_in: SignIn) -> None:
    boss = sign_in(client, "Di Novak")
    text = boss.get("/find?q=kite").text
    heads = re.findall(r"<h2>([^<]+)</h2>", text)
    assert heads == ["Jobs", "Images"] or heads == ["Jobs", "Customers", "Images"]
    assert "press date" in text and 'class="way" href="/screens/' in text
    text = boss.get("/find?q=somerfest").text
    assert "Found instead: sommerfest" in text and "Sommerfest Köln" in text
    assert "/desk/trace?lot=L-2026%2F17" in boss.get("/find?q=l-2026").text
    novak = boss.get("/find?q=novak").text
    assert 'href="/log?who=' in novak and 'href="/people"' in novak
    assert boss.get("/find?q=nothing+of+the+kind").status_code == 404
    made.frames(12, mark="Qzz 1")
    some = boss.get("/find?q=qzz").text
    assert some.count('<li><a href="/screens/') == search.SHOWN and "kind=screen" in some
    assert boss.get("/find?q=qzz&kind=screen").text.count('<li><a href="/screens/') == 12


def test_the_command_finds_the_same(made: Shop, folder: Path) -> None:
    tickets = commands(folder)
    done = tickets("find", "somerfest", "--json")
    assert done.exit_code == 0, done.output
    (one,) = json.loads(done.stdout)
    assert (one["kind"], one["name"], one["instead"]) == ("job", "Sommerfest Köln", "sommerfest")
    lines = tickets("find", "kite", "club", "--kind", "job").stdout.splitlines()
    assert lines[0] == "Jobs" and "Kite club tees" in lines[1]
    assert tickets("find", "zzz").stdout.strip() == "Nothing found."


def test_a_search_goes_by_the_index_alone(made: Shop) -> None:
    asked = list[str]()
    made.db.conn.set_trace_callback(asked.append)
    found(made, "kite")
    made.db.conn.set_trace_callback(None)
    for sql in asked:
        if sql.startswith("SELECT f.thing"):
            plan = " ".join(row[3] for row in made.db.execute(f"EXPLAIN QUERY PLAN {sql}").fetchall())
            assert "VIRTUAL TABLE" in plan and "TEMP B-TREE" not in plan and "SCAN f" not in plan, plan
    assert sum(one.startswith("SELECT f.thing") for one in asked) == len(search.KIND_WORDS)
