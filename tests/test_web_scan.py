"""What a scan shows, and what one phone may do with many screens."""

from __future__ import annotations

import os
import random
import re
import subprocess
import sys
import tomllib
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from shop import answered, clock
from sqlite_utils import Database
from test_web_screens import Forms, add, log, post_id, send, words

from tickets import store
from tickets.actions import buckets, jobs, people, places, screens
from tickets.domain.code import mint, shown
from tickets.domain.jobs import job as sheets
from tickets.domain.person import Actor
from tickets.domain.posted import form
from tickets.queries import find
from tickets.queries.sound import check
from tickets.store import entries, reads
from tickets.store import jobs as stored_jobs
from tickets.store import places as stored_places
from tickets.store import screens as stored_screens
from tickets.store.settings import save_setting, settings

SAMPLES = Path(__file__).parent.parent / "sample_jobs"


@pytest.fixture
def room(client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]) -> FlaskClient:
    """Ada of the screen room holds the phone."""
    return sign_in(client, "Ada Holm")


@pytest.fixture
def job(db: Database, ada: Actor) -> stored_jobs.Saved:
    sheet = sheets.read(tomllib.loads((SAMPLES / "harbour-lights.toml").read_text(encoding="utf-8")))
    (code,) = jobs.add(db, ada, [sheet], post=post_id(), now=clock())
    return find.job(db, code)


def last_step(db: Database, code: str) -> str:
    return entries.latest_of(db, "screen", find.screen(db, code).id, 1)[0].step


def test_a_scan_answers_itself_and_writes_nothing(room, db, ada):
    (code,) = add(db, ada)
    before = db.table("entries").count
    for spelling in (code, code.lower(), shown(code), shown(code).lower()):
        answer = room.get(f"/t/{spelling}")
        assert answer.status_code == 200 and shown(code) in answer.text
    assert db.table("entries").count == before
    assert room.post(f"/t/{code}").status_code == 405


def test_a_page_that_reads_sees_one_state_and_writes_nothing(db, folder, ada):
    other = store.connect(folder)
    reads.read_on(db)
    before = (settings(db)["shop"], db.table("entries").count, stored_places.names(db))
    add(other, ada)
    with store.writing(other):
        save_setting(other, "shop", "Invented Prints", "2026-01-01T00:00:00.000000Z", ada.id)
    assert (settings(db)["shop"], db.table("entries").count, stored_places.names(db)) == before
    with pytest.raises(RuntimeError), store.writing(db):
        raise AssertionError("written while a page reads")
    reads.read_enough(db)
    assert settings(db)["shop"] == "Invented Prints" and db.table("entries").count > before[1]
    with store.writing(db):  # and then it writes again
        save_setting(db, "shop", "Other Prints", "2026-01-02T00:00:00.000000Z", ada.id)
    assert settings(db)["shop"] == "Other Prints"
    other.close()


def test_a_scan_says_what_was_done_last_and_leads_to_the_log(room, db, ada):
    (code,) = add(db, ada)
    log(db, ada, code, "degrease", "coat")
    scanned = room.get(f"/t/{code}").text
    assert "Last: Coated, just now" in scanned and "Degreased" not in scanned
    assert f'href="/screens/{code}">Details, log, cross out' in scanned
    whole = room.get(f"/screens/{code}").text
    assert "<b>Coated</b>" in whole and "<b>Degreased</b>" in whole and "Details, log" not in whole


def test_signed_out_leads_to_sign_in_and_back(client, db, ada):
    (code,) = add(db, ada)
    answer = client.get(f"/t/{code}")
    assert answer.status_code == 303 and answer.headers["Location"] == f"/sign-in?next=/t/{code}"
    back = client.post("/sign-in", data={"name": "Ada Holm", "secret": "4711", "next": f"/t/{code}"})
    assert back.headers["Location"] == f"/t/{code}"


def test_a_mistyped_code_offers_what_was_issued_and_nothing_else(room, db, ada):
    codes = add(db, ada, 3)
    slip = codes[0][0] + codes[0][2] + codes[0][1] + codes[0][3:]  # two neighbours swapped
    if slip == codes[0]:
        slip = codes[0][:-1] + ("0" if codes[0][-1] != "0" else "1")
    answer = room.get(f"/t/{slip}")
    assert answer.status_code == 404
    assert "check character" in words(answer.text)
    offered = re.findall(r'href="/t/([0-9A-Z]{6})"', answer.text)
    assert codes[0] in offered and set(offered) <= set(codes)


def test_a_sound_code_that_was_never_issued_is_told_apart(room):
    never = mint(random.Random(7))  # by the same rules, but nobody gave it out
    answer = room.get(f"/t/{never}")
    assert answer.status_code == 404
    assert "never gave out" in words(answer.text)


@pytest.mark.parametrize("text", ["hello", "%00", "<script>", "7K32X-M/../..", "x" * 300])
def test_anything_else_behind_t_is_a_page_that_says_so(room, text):
    answer = room.get(f"/t/{text}")
    assert answer.status_code == 404 and "<script>" not in answer.text.replace("<script src=", "")


def test_a_replaced_code_shows_the_thing_and_its_new_code(room, db, ada):
    (old,) = add(db, ada)
    done = room.post(f"/screens/{old}/retag", data={"entry": post_id()})
    new = re.search(r"/screens/([0-9A-Z]{6})", done.headers["Location"]).group(1)
    assert new != old
    for address in (f"/t/{old}", f"/screens/{old}"):
        answer = room.get(address)
        assert answer.status_code == 200
        assert "This tag was replaced" in answer.text and shown(new) in answer.text
    assert "This tag was replaced" not in room.get(f"/t/{new}").text


def test_every_kind_of_ticket_answers_under_its_own_address(room, db, ada, job):
    now = clock()
    rack = places.add(db, ada, "Rack 1", "rack", post=post_id(), now=now)
    bucket = buckets.mix(db, ada, form({"kind": "diazo emulsion", "product": "Emulsion C"}), post=post_id(), now=now)
    for code, said in ((rack, "Rack 1"), (bucket, "Emulsion C"), (job.code, "Harbour Lights crew tees")):
        answer = room.get(f"/t/{code}")
        assert answer.status_code == 200 and said in answer.text


def test_finding(room, db, ada, job):
    codes = add(db, ada, 2, mark="A 7")
    add(db, ada, 1, mark="a8")
    places.add(db, ada, "Rack 1", "rack", post=post_id(), now=clock())
    assert room.get(f"/find?q={shown(codes[0]).lower()}").headers["Location"] == f"/t/{codes[0]}"
    assert room.get(f"/find?q=https://tickets.example/t/{codes[1]}").headers["Location"] == f"/t/{codes[1]}"
    assert room.get("/find?q=a7").headers["Location"] == f"/screens/{codes[0]}"
    several = room.get("/find?q=A 8")
    assert several.status_code == 200 and several.text.count('<li><a href="/screens/') == 2
    assert "/places/" in room.get("/find?q=rack 1").headers["Location"]
    assert room.get(f"/find?q={job.sheet.reference}").headers["Location"] == f"/jobs/{job.code}"
    assert room.get("/find?q=nothing like it").status_code == 404
    assert room.get("/find?q=").status_code == 200


@pytest.mark.parametrize("painted", ["A 12", "A-12", "a12"])
@pytest.mark.parametrize("typed", ["A-12", "A 12", "a12", "a - 12", "A\u201312"])
def test_hyphens_and_spaces_in_a_mark_do_not_matter(room, db, ada, painted, typed):
    (code,) = add(db, ada, mark=painted)
    assert room.get("/find", query_string={"q": typed}).headers["Location"] == f"/screens/{code}"
    assert find.screen(db, code).life.mark == painted  # what is said is what is painted


def test_a_mark_is_found_by_its_index(db):
    plan = " ".join(row[3] for row in db.execute(f"EXPLAIN QUERY PLAN {stored_screens.BY_MARK}", ["a12"]).fetchall())
    assert "standings_by_mark" in plan and "SCAN" not in plan


def test_a_mark_that_ends_in_the_same_number_is_offered(room, db, ada):
    (code,) = add(db, ada, mark="H 02")
    add(db, ada, mark="H 12")
    near = room.get("/find?q=h 2")
    assert near.status_code == 404 and f'href="/screens/{code}"' in near.text
    assert near.text.count('<li><a href="/screens/') == 1
    assert room.get("/find?q=H02").headers["Location"] == f"/screens/{code}"


def test_finding_goes_on_with_what_the_phone_is_doing(room, db, ada):
    (first,), (second,) = add(db, ada, mark="R 1"), add(db, ada, mark="R 2")
    done = send(room, room.get(f"/t/{first}").text, f"/screens/{first}/degrease")
    send(room, room.get(done.headers["Location"]).text, "/doing/repeat")
    for typed in ("r2", shown(second)):
        way = room.get(f"/find?q={typed}").headers["Location"]
        assert way == f"/t/{second}"
    assert "Degreased: this one too" in room.get(way).text


# What the phone is doing


class Phone:
    """Counts what a person does: scans, and taps on what a page shows."""

    def __init__(self, client: FlaskClient) -> None:
        self.client, self.scans, self.taps, self.page = client, 0, 0, ""

    def scan(self, code: str) -> None:
        self.scans += 1
        answer = self.client.get(f"/t/{code}")
        assert answer.status_code == 200
        self.page = answer.text

    def tap(self, action: str) -> None:
        """Sends a form of the page as it stands, and follows where it leads."""
        self.taps += 1
        answer = send(self.client, self.page, action)
        assert answer.status_code == 303, words(answer.text)
        self.page = self.client.get(answer.headers["Location"]).text


def test_twenty_screens_coated_and_racked_in_25_taps_and_21_scans(room, db, ada):
    now = clock()
    buckets.mix(db, ada, form({"kind": "photopolymer emulsion"}), post=post_id(), now=now)
    rack = places.add(db, ada, "Drying rack", "rack", post=post_id(), now=now)
    codes = add(db, ada, 20)
    for code in codes:
        log(db, ada, code, "degrease")
    phone = Phone(room)
    phone.scan(rack)
    phone.tap("/doing/place")
    for code in codes:
        phone.scan(code)
        phone.tap(f"/screens/{code}/rack")
        assert "Scan the next one" in phone.page
    assert "20 screens so far" in phone.page
    phone.tap("/doing/done")
    phone.tap(f"/places/{rack}/coat")
    assert "Logged: Coated, 20 screens" in words(phone.page)
    assert phone.taps <= 25 and phone.scans <= 21
    for code in codes:
        screen = find.screen(db, code)
        assert [entry.step for entry in entries.latest_of(db, "screen", screen.id, 2)] == ["coat", "rack"]
        assert screen.life.standing == "coated" and screen.life.place == find.place(db, rack).id
    assert check(db) == []


def test_a_step_is_repeated_with_its_values_given_once(room, db, ada):
    codes = add(db, ada, 4)
    for code in codes:
        log(db, ada, code, "degrease")
    values = {"entry": post_id(), "preset": "2+2 round edge", "coated_thickness_um": "80", "room_c": "70 degF"}
    first = room.post(f"/screens/{codes[0]}/coat", data=values)
    phone = Phone(room)
    phone.page = room.get(first.headers["Location"]).text
    phone.tap("/doing/repeat")
    for code in codes[1:]:
        phone.scan(code)
        assert "Coated: this one too" in phone.page
        phone.tap(f"/screens/{code}/coat")
    assert "3 screens so far" in phone.page
    kept = [entries.latest_of(db, "screen", find.screen(db, code).id, 1)[0] for code in codes]
    assert len({entry.entry for entry in kept}) == 4
    # 70 degF = (70 - 32) / 1.8 degC (NIST SP 811)
    assert kept[0].values["room_c"] == pytest.approx(21.1111, abs=1e-3)
    for entry in kept[1:]:
        assert entry.values["preset"] == "2+2 round edge"
        assert not {"coated_thickness_um", "room_c"} & set(entry.values)  # measured once, on the first
    rack = places.add(db, ada, "Rack 1", "rack", post=post_id(), now=clock())
    assert "Every scan: Coated, How coated: 2+2 round edge · 3 screens so far" in words(
        room.get(f"/places/{rack}").text
    )
    left = room.post("/doing/leave", headers={"Referer": f"http://localhost/t/{codes[0]}"})
    assert left.status_code == 303
    assert "Every scan" not in room.get(f"/t/{codes[0]}").text


def test_the_count_does_not_grow_by_a_double_post(room, db, ada):
    codes = add(db, ada, 2)
    first = room.post(f"/screens/{codes[0]}/degrease", data={"entry": post_id()})
    send(room, room.get(first.headers["Location"]).text, "/doing/repeat")
    page = room.get(f"/t/{codes[1]}").text
    for _time in range(2):
        answer = send(room, page, f"/screens/{codes[1]}/degrease")
        assert "1 screen so far" in room.get(answer.headers["Location"]).text


def test_readings_are_never_repeated(room, db, ada):
    codes = add(db, ada, 2)
    first = room.post(
        f"/screens/{codes[0]}/tension", data={"entry": post_id(), "readings_n_per_cm": "24", "after": "wash"}
    )
    send(room, room.get(first.headers["Location"]).text, "/doing/repeat")
    _where, sent = Forms(room.get(f"/t/{codes[1]}").text).find(f"/screens/{codes[1]}/tension")
    assert not any(sent["readings_n_per_cm"]) and sent["after"] == ["wash"]


def test_a_repeated_step_against_the_log_asks_and_stays_in_the_task(room, db, ada):
    codes = add(db, ada, 2)
    log(db, ada, codes[0], "degrease", "coat")
    first = room.post(f"/screens/{codes[0]}/strip", data={"entry": post_id()})
    send(room, room.get(first.headers["Location"]).text, "/doing/repeat")
    page = room.get(f"/t/{codes[1]}")
    assert "you are asked once" in page.text
    asked = send(room, page.text, f"/screens/{codes[1]}/strip")
    assert asked.status_code == 409
    answer = send(room, asked.text, f"/screens/{codes[1]}/strip")
    assert "1 screen so far" in room.get(answer.headers["Location"]).text


def test_steps_about_one_screen_are_not_repeated(room, db, ada):
    (code,) = add(db, ada)
    done = room.post(f"/screens/{code}/retag", data={"entry": post_id()})
    page = room.get(done.headers["Location"]).text
    assert "/doing/repeat" not in page
    entry = entries.latest_of(db, "screen", 1, 1)[0].entry
    assert room.post("/doing/repeat", data={"of": entry}).status_code == 422
    assert room.post("/doing/repeat", data={"of": "nonsense"}).status_code == 404


def fit_task(room: FlaskClient, db: Database, job: stored_jobs.Saved, station: int) -> None:
    token = room.get_cookie("shop").value
    people.set_doing(db, token, {"task": "fit", "job": job.id, "placement": 1, "station": station, "text": "Picking"})


def test_picking_a_frame_says_fit_or_not(room, db, ada, job):
    asked = stored_jobs.asked(db, job, 1)[0]
    label = job.sheet.placements[0].printing[0].mesh.count_as_labelled
    thread = f"{asked.thread_um:g}" if asked.thread_um else ""
    now = clock()
    bucket = buckets.mix(
        db,
        ada,
        form({"kind": "dual-cure emulsion", "water_resistant": "yes"}),
        post=post_id(),
        now=now - timedelta(days=1),
    )
    (right,) = add(db, ada, when=now - timedelta(days=2), mesh_count_as_labelled=label, thread_um=thread)
    (wrong,) = add(db, ada, when=now - timedelta(days=2), mesh_count_as_labelled="60/in", thread_um="120")
    for code in (right, wrong):
        for step, values in (("tension", {"readings_n_per_cm": "26"}), ("degrease", {}), ("coat", {"bucket": bucket})):
            screens.log(
                db, ada, find.screen(db, code), step, form(values), post=post_id(), now=now - timedelta(hours=9)
            )
    fit_task(room, db, job, asked.number)
    bad = room.get(f"/t/{wrong}").text
    assert 'class="verdict stop"' in bad and "accept" in bad
    good = room.get(f"/t/{right}").text
    assert 'class="verdict ok"' in good, words(good)
    answer = send(room, good, f"/screens/{right}/image")
    assert answer.status_code == 303
    assert find.screen(db, right).life.stencil.separations == (asked.separation,)
    # a substitute is taken with a reason, and its name is kept
    taken = send(room, bad, f"/screens/{wrong}/image", accept="the customer agreed")
    assert taken.status_code in (303, 409), words(taken.text)
    if taken.status_code == 409:
        taken = send(room, taken.text, f"/screens/{wrong}/image")
    assert find.screen(db, wrong).life.stencil.accepted["who"] == "Ada Holm"


def test_a_frame_that_got_worse_since_it_was_seen_is_shown_again(room, db, ada, job):
    asked = stored_jobs.asked(db, job, 1)[0]
    (code,) = add(db, ada, mesh_count_as_labelled="60/in", thread_um="120")
    log(db, ada, code, "degrease", "coat")
    data = {"entry": post_id(), "separations": asked.separation, "seen": "ok"}
    worse = room.post(f"/screens/{code}/image", data=data)
    assert worse.status_code == 409 and 'class="verdict stop"' in worse.text
    assert last_step(db, code) == "coat"
    assert send(room, worse.text, f"/screens/{code}/image").status_code == 303
    assert last_step(db, code) == "image"


@pytest.mark.browser
@pytest.mark.parametrize("view", ["day", "safelight"])
def test_a_phone_logs_what_comes_next_with_one_tap(
    phone,
    server,
    sign_in_page: Callable[[object, str], None],
    db,
    ada,
    view,
):
    now = clock()
    buckets.mix(db, ada, form({"kind": "photopolymer emulsion"}), post=post_id(), now=now)
    (code,) = add(db, ada, mark="A 12")
    log(db, ada, code, "degrease")
    sign_in_page(phone, "Ada Holm")
    if view == "safelight":
        with answered(phone):
            phone.get_by_role("button", name="Safelight").click()
    requests: list[str] = []
    phone.on("request", lambda request: requests.append(request.url))
    phone.goto(f"/t/{code}", wait_until="networkidle")
    assert len(requests) <= 3, requests
    button = phone.get_by_role("button", name="Coated", exact=True)
    box = button.bounding_box()
    assert box["height"] >= 48 and box["y"] + box["height"] <= 740, "the one button is on the first screenful"
    assert phone.evaluate("document.documentElement.scrollWidth") <= 360
    with answered(phone):
        button.click()
    assert phone.get_by_role("status").inner_text().startswith(
        "Logged: Coated"
    ) or "Logged: Coated" in phone.inner_text("main")
    assert last_step(db, code) == "coat"


def test_pages_of_the_screen_room_are_light(room, db, ada, job):
    now = clock()
    places.add_unit(db, Actor(ada.id, ada.name, "manager"), "Unit 1", "led", post=post_id(), now=now)
    (code,) = add(db, ada, mark="A 12")
    separations = [asked.separation for asked in stored_jobs.asked(db, job, 1)][:2]
    steps: list[tuple[str, dict[str, object]]] = [
        ("tension", {"readings_n_per_cm": ["24", "25", "23"]}),
        ("degrease", {}),
        ("coat", {"preset": "1+1 round edge"}),
        ("image", {"separations": separations}),
        ("expose", {"exposure_s": "40", "exposure_unit": "Unit 1"}),
        ("washout", {"result": "good"}),
        ("check", {"result": "good"}),
    ]
    for step in [*steps, *steps[1:], *steps[1:]]:
        log(db, ada, code, (step[0], {**step[1], "in_hand": "yes"}))
        for view in ("day", "safelight"):
            room.post("/view", data={"view": view, "next": "/"})
            for address in (f"/t/{code}", f"/screens/{code}"):
                sent = room.get(address, headers={"Accept-Encoding": "gzip"})
                assert len(sent.data) <= 15_000, (step[0], view, address, len(sent.data))


@pytest.mark.parametrize("name", ["scan", "lists", "desk"])
def test_the_benchmarks_start_from_a_checkout_that_is_not_installed(tmp_path, name):
    script = Path(__file__).parent / "benchmarks" / f"{name}.py"
    bare = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
    done = subprocess.run([sys.executable, script, "--help"], cwd=tmp_path, env=bare, capture_output=True, text=True)
    assert done.returncode == 0 and "--entries" in done.stdout, done.stderr


@pytest.mark.browser
def test_a_finger_that_taps_again_does_nothing_more(phone, sign_in_page: Callable[[object, str], None], db, ada):
    """At once and 0.9 s later, where it pressed and beside it, whatever the page that came has put there."""
    sign_in_page(phone, "Ada Holm")
    trap = """() => { const all = document.createElement("a");  // something to press all over that page
      all.href = "/more"; all.style = "position: fixed; inset: 0; z-index: 9"; document.body.append(all); }"""
    for code, part in zip(add(db, ada, 3), (0.1, 0.5, 0.9), strict=True):
        phone.goto(f"/t/{code}")
        box = phone.get_by_role("button", name="Degreased", exact=True).bounding_box()
        across, down = box["x"] + box["width"] * part, box["y"] + box["height"] / 2
        phone.touchscreen.tap(across, down)
        phone.wait_for_url("**done=*")
        phone.evaluate(trap)
        address, before = phone.url, db.table("entries").count
        phone.touchscreen.tap(across, down)
        phone.wait_for_timeout(900)
        phone.touchscreen.tap(across + 20, down - 20)
        phone.wait_for_timeout(650)
        assert phone.url == address and db.table("entries").count == before
        phone.touchscreen.tap(across, down)
        phone.wait_for_url("**/more")
