"""The pages of screens, places and buckets, through the pages themselves."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime
from html import unescape
from html.parser import HTMLParser

import pytest
from flask.testing import FlaskClient
from shop import answered, clock
from sqlite_utils import Database

from tickets import demo
from tickets.actions import buckets, jobs, places, runs, screens
from tickets.domain.jobs import job
from tickets.domain.person import Actor
from tickets.domain.posted import form
from tickets.queries import find as find_now
from tickets.queries.sound import check
from tickets.store import entries
from tickets.store import screens as rows

_ids = iter(range(10**6))


def post_id() -> str:
    return f"test-entry-{next(_ids):08d}"


@pytest.fixture
def room(client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]) -> FlaskClient:
    """Ada of the screen room holds the phone."""
    return sign_in(client, "Ada Holm")


def add(db: Database, ada: Actor, number: int = 1, when: datetime | None = None, **more: str) -> list[str]:
    sent = {"mesh_count_as_labelled": "230/in", "thread_um": "48", "frame": "aluminium", "mesh_colour": "dyed", **more}
    return screens.add(db, ada, form(sent), post=post_id(), now=when or clock(), number=number)


def log(db: Database, ada: Actor, code: str, *steps: str | tuple[str, dict[str, object]]) -> None:
    for step in steps:
        name, values = step if isinstance(step, tuple) else (step, {})
        screens.log(db, ada, find_now.screen(db, code), name, form(values), post=post_id(), now=clock())


class Forms(HTMLParser):
    """The forms of a page as a browser would send them: action, and the names and values of what is filled in."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.forms: list[tuple[str, list[tuple[str, str]]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = dict(attrs)
        if tag == "form":
            self.forms.append((has.get("action") or "", []))
        elif tag == "input" and self.forms and has.get("name"):
            tick = has.get("type") in {"radio", "checkbox"}
            if not tick or "checked" in has:
                self.forms[-1][1].append((str(has["name"]), has.get("value") or ""))

    def find(self, action: str) -> tuple[str, dict[str, list[str]]]:
        for where, fields in self.forms:
            if where.endswith(action):
                sent: dict[str, list[str]] = {}
                for name, value in fields:
                    sent.setdefault(name, []).append(value)
                return where, sent
        raise AssertionError(f"no form to {action} among {[where for where, _fields in self.forms]}")


def send(client: FlaskClient, page: str, action: str, **changes: object):
    """Sends the form of `page` that goes to `action` as it stands, with some fields changed."""
    where, sent = Forms(page).find(action)
    return client.post(where, data={**sent, **changes})


def words(page: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def test_the_answer_to_a_step_is_as_short_as_a_scan(room, db, ada):
    """What was logged and what comes next; the log itself, and the tension to come, are on the screen's page."""
    (code,) = add(db, ada, mark="A 12")
    for _each in range(12):
        log(db, ada, code, ("tension", {"readings_n_per_cm": "25 24 25"}))
    sent = {"entry": post_id(), "readings_n_per_cm": "24"}
    answer = room.get(room.post(f"/screens/{code}/tension", data=sent).headers["Location"]).text
    scanned, whole = room.get(f"/t/{code}").text, room.get(f"/screens/{code}").text
    assert "Logged: Tension measured" in words(answer) and f'href="/screens/{code}">Details, log, cross out' in answer
    assert "Tension forecast" in whole and "Tension forecast" not in answer
    assert len(answer) < len(scanned) + 2500 < len(whole)


def test_one_tap_logs_what_comes_next(room, db, ada):
    bucket = buckets.mix(db, ada, form({"kind": "photopolymer emulsion"}), post=post_id(), now=clock())
    (code,) = add(db, ada, mark="A 12")
    log(db, ada, code, "degrease")
    page = room.get(f"/t/{code}")
    assert page.status_code == 200 and "A 12" in page.text and "230/in" in page.text
    answer = send(room, page.text, f"/screens/{code}/coat")
    assert answer.status_code == 303
    shown = room.get(answer.headers["Location"])
    assert "Logged: Coated" in shown.text and "Imaged" in words(shown.text)
    entry = entries.latest_of(db, "screen", find_now.screen(db, code).id, 1)[0]
    assert entry.step == "coat" and entry.values["preset"] == "1+1 round edge"
    assert entry.values["bucket"] == find_now.bucket(db, bucket).id
    assert entry.person == ada.id and entry.signed == "pin"


def test_the_same_post_twice_makes_one_entry(room, db, ada):
    (code,) = add(db, ada)
    data = {"entry": "abcdefghijklmnop0001"}
    first = room.post(f"/screens/{code}/degrease", data=data)
    second = room.post(f"/screens/{code}/degrease", data=data)
    assert first.headers["Location"] == second.headers["Location"]
    assert [entry.step for entry in entries.of(db, "screen", find_now.screen(db, code).id)].count("degrease") == 1


def test_one_id_for_two_things_shows_what_was_saved_and_asks(room, db, ada):
    (code,) = add(db, ada)
    first, note = "abcdefghijklmnop0002", "corner glue is thin"
    room.post(f"/screens/{code}/note", data={"entry": first, "note": "corner glue is thick", "secret": "4711"})
    before = db.table("entries").count
    answer = room.post(f"/screens/{code}/note", data={"entry": first, "note": note, "secret": "4711"})
    said = words(answer.text)
    assert answer.status_code == 409 and db.table("entries").count == before
    assert "This form was saved at" in said and "sent by Ada Holm" in said and "corner glue is thick" in said
    assert "4711" not in answer.text and "Nothing is there twice" in said
    where, sent = Forms(answer.text).find(f"/screens/{code}/note")
    assert sent["note"] == [note] and sent["entry"] != [first] and "secret" not in sent
    assert "log it as well" in answer.text, "a fresh id only by a tap that says so"
    assert room.post(where, data=sent).status_code == 303 and room.post(where, data=sent).status_code == 303
    assert db.table("entries").count == before + 1


def test_a_form_that_another_person_sent_is_not_logged_twice(room, db, ada, sign_in):
    (code,) = add(db, ada)
    data = {"entry": "abcdefghijklmnop0003", "note": "corner glue is thin"}
    assert room.post(f"/screens/{code}/note", data=data).status_code == 303
    before = db.table("entries").count
    answer = sign_in(room, "Bo Lind").post(f"/screens/{code}/note", data=data)
    assert answer.status_code == 409 and "sent by Ada Holm" in words(answer.text)
    assert db.table("entries").count == before


@pytest.mark.parametrize(
    ("typed", "kept"),
    [("25,5", 25.5), ("25.5", 25.5), ("14.56lbf/in", 14.56 * 4.4482216152605 / 2.54)],
    # 1 lbf = 4.4482216152605 N exactly (NIST SP 811), 1 in = 2.54 cm exactly
)
def test_readings_mean_what_was_typed(room, db, ada, typed, kept):
    (code,) = add(db, ada)
    answer = room.post(f"/screens/{code}/tension", data={"entry": post_id(), "readings_n_per_cm": typed})
    assert answer.status_code == 303
    entry = entries.latest_of(db, "screen", find_now.screen(db, code).id, 1)[0]
    assert entry.values["readings_n_per_cm"] == [pytest.approx(kept)]


@pytest.mark.parametrize("typed", ["", "twenty", "255", "25 mm", "1e1"])
def test_a_faulty_reading_comes_back_beside_its_field(room, db, ada, typed):
    (code,) = add(db, ada)
    answer = room.post(
        f"/screens/{code}/tension", data={"entry": post_id(), "readings_n_per_cm": typed, "after": "wash"}
    )
    assert answer.status_code == 422
    assert re.search(r'class="field faulty"><legend>Readings, warp[^<]*</legend>\s*<p class="fault"', answer.text)
    _where, sent = Forms(answer.text).find(f"/screens/{code}/tension")
    assert sent["readings_n_per_cm"][0] == typed and sent["after"] == ["wash"]
    assert entries.latest_of(db, "screen", find_now.screen(db, code).id, 1)[0].step == "stretch"


def test_a_step_against_the_log_asks_once(room, db, ada):
    (code,) = add(db, ada)
    log(db, ada, code, "degrease", "coat")
    asked = room.post(f"/screens/{code}/strip", data={"entry": post_id(), "remover_s": "30"})
    assert asked.status_code == 303  # a coat may be stripped
    asked = room.post(f"/screens/{code}/washout", data={"entry": post_id(), "result": "good"})
    assert asked.status_code == 409 and "Do you have it in front of you?" in words(asked.text)
    before = len(entries.of(db, "screen", find_now.screen(db, code).id))
    answer = send(room, asked.text, f"/screens/{code}/washout")
    assert answer.status_code == 303
    new = entries.of(db, "screen", find_now.screen(db, code).id)[before:]
    assert [entry.step for entry in new] == ["found", "washout"]
    assert new[1].values == {"result": "good"}
    assert "it was not as the log said" in room.get(answer.headers["Location"]).text


def test_crossing_out_keeps_the_line_with_who_and_why(room, db, ada):
    (code,) = add(db, ada)
    log(db, ada, code, "degrease", "coat")
    entry = entries.latest_of(db, "screen", find_now.screen(db, code).id, 1)[0]
    page = room.get(f"/screens/{code}?cross={entry.entry}")
    missing = send(room, page.text, f"/screens/{code}/cross-out")
    assert missing.status_code == 422 and "Say why it is crossed out" in words(missing.text)
    done = send(room, page.text, f"/screens/{code}/cross-out", why="wrong screen")
    assert done.status_code == 303
    after = words(room.get(f"/screens/{code}").text)
    assert "Crossed out by Ada Holm" in after and "wrong screen" in after
    assert rows.get(db, entry.screen).life.standing == "degreased"


def test_somebody_elses_entry_is_the_managers_to_cross_out(client, sign_in, db, ada):
    (code,) = add(db, ada)
    log(db, ada, code, "degrease")
    entry = entries.latest_of(db, "screen", find_now.screen(db, code).id, 1)[0]
    data = {"crosses": entry.entry, "why": "wrong screen"}
    press = sign_in(client, "Bo Lind")
    assert "cross=" not in press.get(f"/screens/{code}").text
    assert press.post(f"/screens/{code}/cross-out", data={"entry": post_id(), **data}).status_code == 403
    manager = sign_in(client, "Di Novak")
    assert manager.post(f"/screens/{code}/cross-out", data={"entry": post_id(), **data}).status_code == 303


def test_every_step_has_a_form_that_works(room, db, ada):
    from tickets.domain.steps import SCREEN_STEPS

    places.add(db, ada, "Rack 1", "rack", post=post_id(), now=clock())
    needed = {
        "tension": {"readings_n_per_cm": "24"}, "fault": {"kind": "ghost"}, "retire": {"cause": "lost"},
        "note": {"note": "seen"}, "decide": {"then": "keep"}, "found": {"standing_seen": "stripped"},
        "washout": {"result": "good"}, "check": {"result": "good"},
    }  # fmt: skip
    for name in SCREEN_STEPS:
        if name in {"hang", "print", "cross-out", "image"}:
            continue
        (code,) = add(db, ada)
        page = room.get(f"/screens/{code}?step={name}")
        answer = send(room, page.text, f"/screens/{code}/{name}", **needed.get(name, {}))
        if answer.status_code == 409:
            answer = send(room, answer.text, f"/screens/{code}/{name}")
        assert answer.status_code == 303, (name, words(answer.text))
        shown = room.get(answer.headers["Location"])
        assert shown.status_code == 200 and "Logged:" in shown.text, name
        assert rows.get(db, find_now.screen(db, code).id) is not None
    assert check(db) == []


def test_new_screens_get_codes_and_a_link_to_their_tickets(room, db):
    page = room.get("/screens/new")
    sent = {"mesh_count_as_labelled": "90", "mesh_count_as_labelled.unit": "/cm", "number": "3", "mark": "B 9"}
    answer = send(room, page.text, "/screens/new", **sent)
    assert answer.status_code == 303
    made = room.get(answer.headers["Location"]).text
    codes = re.search(r"/print/tags\?codes=([0-9A-Z,]+)", made).group(1).split(",")
    assert len(codes) == 3
    lives = [find_now.screen(db, code).life for code in codes]
    assert [life.mark for life in lives] == ["B 9", "B 10", "B 11"]
    assert {life.mesh.count_as_labelled for life in lives} == {"90/cm"}
    faulty = send(room, room.get("/screens/new").text, "/screens/new", mesh_count_as_labelled="ninety", number="2.5")
    assert faulty.status_code == 422
    where, kept = Forms(faulty.text).find("/screens/new")
    assert kept["number"] == ["2.5"] and kept["mesh_count_as_labelled"] == ["ninety"]


def test_the_inventory_counts_and_narrows(room, db, ada):
    fine = add(db, ada, 3)
    add(db, ada, 2, mesh_count_as_labelled="110/in", thread_um="")
    log(db, ada, fine[0], "degrease")
    page = room.get("/screens").text
    assert "5 screens by mesh and stage" in page
    assert all(code in page for code in fine)
    only = room.get("/screens?mesh=230/in&standing=degreased").text
    assert fine[0] in only and fine[1] not in only
    assert room.get("/screens?standing=nowhere").status_code == 422
    never = room.get("/screens?due=tension").text
    assert fine[0] in never


def test_the_inventory_comes_page_by_page(room, db, ada):
    codes = add(db, ada, 120)
    seen: list[str] = []
    address = "/screens"
    while address:
        page = room.get(address).text
        seen += re.findall(r'<th scope="row"><a href="/screens/([0-9A-Z]{6})"', page)
        following = re.search(r'class="button" href="(/screens\?after=[^"]+)"', page)
        address = unescape(following.group(1)) if following else ""
    assert seen == codes


def test_a_rack_is_one_act(room, db, ada):
    rack = places.add(db, ada, "Rack 3", "rack", post=post_id(), now=clock())
    codes = add(db, ada, 6)
    for code in codes:
        log(db, ada, code, "degrease", ("rack", {"place": "Rack 3"}))
    page = room.get(f"/places/{rack}?tick=due").text
    _where, sent = Forms(page).find(f"/places/{rack}/coat")
    assert sorted(sent["screen"]) == sorted(codes)
    answer = send(room, page, f"/places/{rack}/coat", screen=codes[:4])
    assert answer.status_code == 303
    assert "Logged: Coated, 4 screens" in words(room.get(answer.headers["Location"]).text)
    standings = [find_now.screen(db, code).life.standing for code in codes]
    assert standings == ["coated"] * 4 + ["degreased"] * 2
    ids = [entries.latest_of(db, "screen", find_now.screen(db, code).id, 1)[0].entry for code in codes[:4]]
    assert [one.rpartition("-")[2] for one in ids] == ["1", "2", "3", "4"]
    none = send(room, page, f"/places/{rack}/coat", screen=[], entry=post_id())
    assert none.status_code == 422 and "Tick at least one" in none.text


def test_a_racks_ticks_without_scripts(room, db, ada):
    rack = places.add(db, ada, "Rack 5", "rack", post=post_id(), now=clock())
    codes = add(db, ada, 5)
    for code in codes:
        log(db, ada, code, ("rack", {"place": "Rack 5"}))
    log(db, ada, codes[0], "degrease", "coat")

    def ticked(address: str) -> list[str]:
        return sorted(Forms(room.get(address).text).find(f"/places/{rack}/coat")[1].get("screen", []))

    assert ticked(f"/places/{rack}?step=coat") == []  # what is put away is ticked by whoever took it in hand
    page = room.get(f"/places/{rack}?step=coat").text
    assert "Log all ticked: coated" in page and 'data-one="Log {n}: coated"' in page
    links = [unescape(one) for one in re.findall(r'href="([^"]*tick=[^"]*)"', page)]
    assert [one.rpartition("tick=")[2] for one in links] == ["none#screens", "due#screens", "all#screens"]
    assert [len(ticked(one.partition("#")[0])) for one in links] == [0, 4, 5]
    assert codes[0] not in ticked(links[1].partition("#")[0])
    assert "tick=all" not in room.get(f"/places/{rack}?step=strip").text  # nobody strips a whole rack by one slip


def test_only_what_waits_for_the_step_is_ticked(room, db, ada):
    rack = places.add(db, ada, "Rack 8", "rack", post=post_id(), now=clock())
    codes = add(db, ada, 3)
    for code in codes:
        log(db, ada, code, ("found", {"standing_seen": "imaged"}), ("rack", {"place": "Rack 8"}))
    for code in codes[:2]:
        log(db, ada, code, ("expose", {"exposure_s": "60"}))
    ticked = Forms(room.get(f"/places/{rack}?step=washout&tick=due").text).find(f"/places/{rack}/washout")[1]["screen"]
    assert sorted(ticked) == sorted(codes[:2])


def test_a_whole_act_is_crossed_out_at_once(room, db, ada, client, sign_in):
    rack = places.add(db, ada, "Rack 6", "rack", post=post_id(), now=clock())
    codes = add(db, ada, 4)
    for code in codes:
        log(db, ada, code, "degrease", ("rack", {"place": "Rack 6"}))
    answer = send(room, room.get(f"/places/{rack}?step=coat&tick=due").text, f"/places/{rack}/coat")
    after = room.get(answer.headers["Location"]).text
    link = unescape(re.search(r'href="([^"]*cross=[^"]*)"', after).group(1))
    asked = room.get(link).text
    assert "Coated, 4 screens" in words(asked)
    assert send(room, asked, f"/places/{rack}/cross-out").status_code == 422  # why?
    assert [find_now.screen(db, code).life.standing for code in codes] == ["coated"] * 4
    crossed = send(room, asked, f"/places/{rack}/cross-out", why="wrong step")
    assert crossed.status_code == 303
    assert "Crossed out" in words(room.get(crossed.headers["Location"]).text)
    assert [find_now.screen(db, code).life.standing for code in codes] == ["degreased"] * 4
    assert send(room, asked, f"/places/{rack}/cross-out", why="wrong step").status_code == 303  # a second tap
    last = [entries.latest_of(db, "screen", find_now.screen(db, code).id, 1)[0] for code in codes]
    assert [one.step for one in last] == ["cross-out"] * 4 and len({one.entry for one in last}) == 4
    assert [entries.crossed_by(db, [one.crosses])[one.crosses].entry for one in last] == [one.entry for one in last]


@pytest.mark.parametrize("kind", ["screens", "buckets", "runs", "places"])
def test_a_crossing_out_that_names_nothing_here_comes_back_with_what_was_typed(
    kind: str, room: FlaskClient, db: Database, ada: Actor
) -> None:
    now = clock()
    rack = places.add(db, ada, "Rack 6", "rack", post=post_id(), now=now)
    code = add(db, ada)[0]
    bucket = buckets.mix(db, ada, form({"kind": "plastisol ink"}), post=post_id(), now=now)
    thing = {"screens": code, "buckets": bucket, "places": rack, "runs": "1"}[kind]
    if kind == "runs":
        places.add(db, ada, "Press 1", "press", heads=10, post=post_id(), now=now)
        sheet = job.read_file(demo.sample_folder() / "night-market.toml")
        sent = {"job": jobs.add(db, ada, [sheet], post=post_id(), now=now)[0], "placement": "1", "press": "Press 1"}
        assert runs.open_run(db, ada, form(sent), post=post_id(), now=now) == 1
    other = entries.latest_of(db, "bucket" if kind != "buckets" else "screen", 1, 1)[0].entry
    before = db.table("entries").count
    for wrong in ("no-such-entry-0000", other):
        for named in ({"entry": post_id(), "crosses": wrong}, {"entry": wrong}):
            answer = room.post(f"/{kind}/{thing}/cross-out", data={**named, "why": "typed <twice>"})
            said = words(answer.text)
            assert answer.status_code == 422, said
            assert "There is no entry" in said or "That entry belongs to" in said
            _action, again = Forms(answer.text).find(f"/{kind}/{thing}/cross-out")
            assert again["crosses"] == [wrong] and again["why"][-1] == "typed <twice>" and again["entry"] != [wrong]
    assert db.table("entries").count == before and check(db) == []


def test_a_reason_of_ones_own_comes_back_beside_what_is_missing(room: FlaskClient, db: Database, ada: Actor) -> None:
    code = add(db, ada)[0]
    log(db, ada, code, "degrease")
    entry = entries.latest_of(db, "screen", 1, 1)[0].entry
    log(db, ada, code, ("cross-out", {"crosses": entry, "why": "slip"}))
    sent = {"entry": post_id(), "crosses": entry, "why": "my own reason"}
    answer = room.post(f"/screens/{code}/cross-out", data=sent)
    assert answer.status_code == 422 and "crossed out already" in words(answer.text)
    assert 'value="my own reason"' in answer.text


def test_a_place_crosses_out_an_act_that_is_named_by_entry_alone(room: FlaskClient, db: Database, ada: Actor) -> None:
    rack = places.add(db, ada, "Rack 6", "rack", post=post_id(), now=clock())
    codes = add(db, ada, 2)
    sent = {"screen": codes, "entry": post_id()}
    assert room.post(f"/places/{rack}/degrease", data=sent).status_code == 303
    for _twice in range(2):
        answer = room.post(f"/places/{rack}/cross-out", data={"entry": sent["entry"], "why": "slip"})
        assert answer.status_code == 303
    assert {str(find_now.screen(db, code).life.standing) for code in codes} == {"bare"} and check(db) == []


def test_a_screen_that_was_carried_on_says_where_it_was_last_seen(room: FlaskClient, db: Database, ada: Actor) -> None:
    places.add(db, ada, "Rack 6", "rack", post=post_id(), now=clock())
    code = add(db, ada)[0]
    log(db, ada, code, ("rack", {"place": "Rack 6"}))
    assert "Where: Rack 6" in words(room.get(f"/screens/{code}").text)
    log(db, ada, code, "degrease")
    for path in (f"/screens/{code}", f"/t/{code}"):
        assert "Where: last seen Rack 6" in words(room.get(path).text)


def test_anothers_act_is_not_crossed_out(room, db, ada, client, sign_in):
    rack = places.add(db, ada, "Rack 7", "rack", post=post_id(), now=clock())
    codes = add(db, ada, 2)
    for code in codes:
        log(db, ada, code, "degrease", ("rack", {"place": "Rack 7"}))
    answer = send(room, room.get(f"/places/{rack}?step=coat&tick=due").text, f"/places/{rack}/coat")
    post = answer.headers["Location"].rpartition("done=")[2]
    sign_in(client, "Bo Lind")
    assert "Cross it all out" not in client.get(answer.headers["Location"]).text
    sent = {"entry": post_id(), "crosses": post, "why": "wrong step"}
    assert client.post(f"/places/{rack}/cross-out", data=sent).status_code == 403
    assert [find_now.screen(db, code).life.standing for code in codes] == ["coated"] * 2


def test_a_rack_asks_about_all_that_do_not_fit(room, db, ada):
    rack = places.add(db, ada, "Rack 4", "rack", post=post_id(), now=clock())
    codes = add(db, ada, 3)
    for code in codes:
        log(db, ada, code, ("rack", {"place": "Rack 4"}))
    asked = room.post(f"/places/{rack}/washout", data={"entry": post_id(), "screen": codes, "result": "good"})
    assert asked.status_code == 409
    assert words(asked.text).count("Do you have it in front of you?") == 3
    assert send(room, asked.text, f"/places/{rack}/washout").status_code == 303
    assert {find_now.screen(db, code).life.standing for code in codes} == {"to check"}


def test_buckets_have_a_clock_in_words(room, db):
    page = room.get("/buckets/new").text
    answer = send(room, page, "/buckets/mix", kind="discharge ink", product="Bright base", lot="L7")
    assert answer.status_code == 303
    code = re.search(r"/buckets/([0-9A-Z]{6})", answer.headers["Location"]).group(1)
    shown = words(room.get(f"/buckets/{code}").text)
    assert "good for another" in shown and "Bright base" in shown
    used = send(room, room.get(f"/t/{code}").text, f"/buckets/{code}/use")
    for path in ("/buckets", "/buckets/mix"):  # as every other act: posted to the thing's own address
        sent = {"entry": post_id(), "kind": "discharge ink", "lot": path}
        assert room.post(path, data=sent).status_code == 303
        faulty = room.post(path, data={"entry": post_id(), "kind": "soup", "lot": "L9"})
        assert faulty.status_code == 422 and "discharge ink" in words(faulty.text) and 'value="L9"' in faulty.text
    again = room.post(f"/buckets/{code}/mix", data={"entry": post_id(), "kind": "discharge ink"})
    assert again.status_code == 422 and "A fresh mix is a bucket of its own" in words(again.text)
    assert "it has: use, discard" in words(room.post(f"/buckets/{code}/stir", data={"entry": post_id()}).text)
    assert used.status_code == 303
    assert "in use" in words(room.get("/buckets").text)
    assert send(room, page, "/buckets/mix", kind="soup", entry=post_id()).status_code == 422


def test_the_whole_log_comes_page_by_page(room, db, ada):
    codes = add(db, ada, 70)
    first = room.get("/log").text
    older = unescape(re.search(r'href="(/log\?after=[^"]+)"', first).group(1))
    both = first + room.get(older).text
    assert all(code in both for code in codes)
    assert both.count("New mesh stretched") == 70


ODD = ["²", "9" * 40, "-1", "nan", "\x00", "<b>", "٣", "a" * 3000, "' OR 1=1 --", "{{7*7}}", "{x}"]


@pytest.mark.parametrize("odd", ODD)
def test_nothing_that_is_sent_breaks_a_page(room, db, ada, odd):
    from urllib.parse import quote

    from tickets.domain.steps import BUCKET_STEPS, SCREEN_STEPS

    now = clock()
    rack = places.add(db, ada, "Rack 1", "rack", post=post_id(), now=now)
    bucket = buckets.mix(db, ada, form({"kind": "diazo emulsion"}), post=post_id(), now=now)
    (code,) = add(db, ada)
    log(db, ada, code, "degrease", "coat", ("rack", {"place": "Rack 1"}))
    names = (
        "after",
        "place",
        "mesh",
        "job",
        "separation",
        "standing",
        "due",
        "q",
        "step",
        "done",
        "cross",
        "before",
        "all",
    )
    for page in (
        "/screens",
        "/log",
        "/places",
        "/buckets",
        f"/screens/{code}",
        f"/places/{rack}",
        f"/buckets/{bucket}",
    ):
        for name in (*names, "made"):
            assert room.get(f"{page}?{name}={quote(odd)}").status_code < 500, (page, name)
    for page in ("/t/", "/screens/", "/places/", "/buckets/", "/find?q="):
        assert room.get(page + quote(odd)).status_code < 500, page
    for where, steps in ((f"/screens/{code}", SCREEN_STEPS), (f"/buckets/{bucket}", BUCKET_STEPS)):
        for step in steps.values():
            for name in (*(field.name for field in step.fields), "at", "seen", "accept", "separations_seen", "in_hand"):
                needed = {field.name: field.choices[0][0] for field in step.fields if field.required and field.choices}
                sent = {**needed, "entry": post_id(), "in_hand": "yes", name: odd}
                answer = room.post(f"{where}/{step.name}", data=sent)
                assert answer.status_code < 500, (step.name, name)
                assert "<b>" not in answer.text or odd != "<b>" or 'value="<b>' not in answer.text
    assert room.post(f"/places/{rack}/coat", data={"entry": post_id(), "screen": odd}).status_code < 500
    assert check(db) == []


def test_pages_of_what_is_not_there_say_so(room):
    for address in ("/screens/7K32XM", "/places/7K32XM", "/buckets/7K32XM", "/screens/nonsense"):
        assert room.get(address).status_code == 404, address


@pytest.mark.browser
def test_pages_fit_320_px_and_give_no_blue_under_the_safelight(browser, server, sign_in_page, db, ada):
    from io import BytesIO

    from PIL import Image

    now = clock()
    rack = places.add(db, ada, "Rack 1", "rack", post=post_id(), now=now)
    bucket = buckets.mix(db, ada, form({"kind": "diazo emulsion", "product": "Emulsion C"}), post=post_id(), now=now)
    codes = add(db, ada, 3, mark="A 1")
    for code in codes[1:]:
        log(db, ada, code, "degrease", ("rack", {"place": "Rack 1"}))
    slip = codes[0][:-1] + ("0" if codes[0][-1] != "0" else "1")
    context = browser.new_context(viewport={"width": 320, "height": 640}, has_touch=True, base_url=server)
    page = context.new_page()
    sign_in_page(page, "Ada Holm")
    pages = [
        "/screens",
        "/screens/new",
        "/places",
        "/buckets",
        "/buckets/new",
        "/log",
        "/find?q=",
        f"/buckets/{bucket}",
    ]
    pages += [f"/t/{codes[0]}", f"/t/{codes[1]}", f"/t/{rack}", f"/t/{slip}", f"/screens/{codes[1]}?step=tension"]
    for view in ("day", "safelight"):
        if view == "safelight":
            with answered(page):
                page.get_by_role("button", name="Safelight").click()
        for address in pages:
            page.goto(address)
            assert page.evaluate("document.documentElement.scrollWidth") <= 320, (view, address)
            if view == "safelight":
                picture = Image.open(BytesIO(page.screenshot())).convert("RGB")
                assert picture.getextrema()[2] == (0, 0), address
    context.close()


def test_a_tap_is_not_enough_to_cross_out(client, sign_in, db, ada):
    (code,) = add(db, ada)
    phone = sign_in(client, "Ada Holm")
    done = phone.post(f"/screens/{code}/degrease", data={"entry": post_id()})
    assert done.status_code == 303
    sign_in(phone, "Bo Lind")
    assert phone.post("/hand-over", data={"name": "Ada Holm", "next": "/"}).status_code == 303
    entry = entries.latest_of(db, "screen", find_now.screen(db, code).id, 1)[0]
    page = phone.get(f"/screens/{code}?cross={entry.entry}").text
    asked = send(phone, page, f"/screens/{code}/cross-out", why="wrong screen", secret="")
    assert asked.status_code == 422 and "Your PIN again" in words(asked.text)
    assert "wrong screen" in asked.text
    wrote = send(phone, asked.text, f"/screens/{code}/cross-out", why="wrong screen", secret="4711")
    assert wrote.status_code == 303
    crossing = entries.latest_of(db, "screen", entry.screen, 1)[0]
    assert crossing.step == "cross-out" and crossing.signed == "pin"
    again = phone.post(f"/screens/{code}/cross-out", data={"entry": post_id(), "crosses": entry.entry, "why": "again"})
    assert again.status_code == 422


def test_a_bucket_past_its_time_says_so_in_its_tile(room, db, ada):
    def mix(lot: str, when: datetime, until: str) -> None:
        sent = {"kind": "photopolymer emulsion", "product": "Emulsion B", "lot": lot, "good_until": until}
        buckets.mix(db, ada, form(sent), post=post_id(), now=when)

    mix("OLD7", datetime(2020, 1, 1, tzinfo=UTC), "2020-03-01")
    mix("NEW7", clock(), "2099-01-01")
    code = add(db, ada)[0]
    page = words(room.get(f"/screens/{code}?step=coat").text)
    assert "OLD7 – expired" in page and "NEW7 –" not in page


def test_rare_steps_are_folded_and_tension_is_offered_beside_the_next_step(room, db, ada):
    code = add(db, ada)[0]
    page = room.get(f"/screens/{code}").text
    beside = page.partition("</section>")[0].rpartition("</form>")[2]
    assert "Measure tension" in beside
    common, _sep, rare = page.partition("Rarely needed")
    assert "step=rack" in common and "step=fault" in common
    assert all(f"step={name}" in rare and f"step={name}" not in common for name in ("retire", "retag", "note"))
    log(db, ada, code, ("tension", {"readings_n_per_cm": "5"}))
    slack = room.get(f"/screens/{code}").text
    beside = slack.partition("</section>")[0].rpartition("</form>")[2]
    assert "Retension" in beside and "Measure tension" not in beside
    assert f'action="/screens/{code}/stretch"' in slack, "new mesh is what comes next, before a coat"


def test_a_reading_has_its_spot_and_what_was_typed_is_said_only_where_it_differs(room, db, ada):
    code = add(db, ada, frame_size_mm="585 x 790")[0]
    asked = words(room.get(f"/screens/{code}?step=tension").text)
    assert "centre" in asked and "corner 1" in asked and "corner 4" in asked and "side 4" in asked
    sent = {"readings_n_per_cm": ["24.0", "23"], "readings_n_per_cm.unit": "N/cm"}
    log(db, ada, code, ("tension", sent))
    shown = words(room.get(f"/screens/{code}").text)
    assert "typed" not in shown and "585 x 790 mm" in shown
    log(db, ada, code, ("tension", {"readings_n_per_cm": ["14"], "readings_n_per_cm.unit": "lbf/in"}))
    assert "(typed: 14 lbf/in)" in words(room.get(f"/screens/{code}").text)


def test_an_entry_is_crossed_out_by_its_id_alone(room, db, ada):
    """A post that names the wrong entry in `entry`, without an id of its own, is taken as well, once."""
    (code,) = add(db, ada)
    log(db, ada, code, "degrease")
    wrong = entries.of(db, "screen", 1)[-1].entry
    for _unused in range(2):
        answer = room.post(f"/screens/{code}/cross-out", data={"entry": wrong, "why": "wrong screen"})
        assert answer.status_code == 303, answer.text
    assert [one.step for one in entries.of(db, "screen", 1)].count("cross-out") == 1
