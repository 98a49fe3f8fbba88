"""The verdict's three faces on the page, and the roles behind them: what was found by eye, approvals by name."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from shop import Shop, answered, clock, fresh
from sqlite_utils import Database
from test_web_runs import post, start_run

from tickets.actions import places, screens
from tickets.domain.posted import form
from tickets.queries import find
from tickets.store import entries, jobs, people, runs
from tickets.store import screens as store_screens

SignIn = Callable[[FlaskClient, str], FlaskClient]


@pytest.fixture
def press(client: FlaskClient, sign_in: SignIn) -> FlaskClient:
    """The press operator's phone."""
    return sign_in(client, "Bo Lind")


def log(shop: Shop, code: str, step: str, by: str = "Ada Holm", **values: str) -> None:
    screen, now = find.screen(shop.db, code), clock()
    screens.log(shop.db, shop.actor(by), screen, step, form(values), post=fresh(), now=now)


def standing(shop: Shop, code: str) -> str:
    return str(find.screen(shop.db, code).life.standing)


# The three faces


@pytest.mark.parametrize(
    ("level", "word"), [("ok", "RIGHT SCREEN"), ("caution", "RIGHT SCREEN, BUT"), ("stop", "STOP")]
)
def test_each_face_says_its_word_and_its_reason_first(shop: Shop, press: FlaskClient, level: str, word: str) -> None:
    job = shop.job()
    code = shop.screen(job, 1, until="image" if level == "stop" else "check")
    if level == "caution":
        log(shop, code, "fault", kind="frame bent", then="use on")
    run = start_run(press, shop, job)
    page = press.get(f"/runs/{run}?screen={code}").text
    assert f'<h1 class="word">{word}</h1>' in page and f"verdict at-press {level}" in page
    face = page.partition('<section class="verdict at-press')[2].partition("</section>")[0]
    if level == "caution":
        first = face.index("Noted on the frame: frame bent. Noted by Ada Holm")
        assert first < face.index("Measure its tension") < face.index("white: position 1")
        assert "look at this first" not in page
    elif level == "stop":
        assert "This screen is not ready" in face and "Hung on head" not in page


@pytest.mark.parametrize("view", ["day", "safelight"])
def test_the_faces_differ_by_shape_and_size_without_hue(
    shop: Shop, phone: Any, sign_in_page: Callable[[Any, str], None], view: str
) -> None:
    job = shop.job()
    ok, wrong, odd = shop.screen(job, 1), shop.screen(job, 1, until="image"), shop.screen(job, 1)
    log(shop, odd, "fault", kind="frame bent", then="use on")
    sign_in_page(phone, "Bo Lind")
    if view == "safelight":
        with answered(phone):
            phone.get_by_role("button", name="Safelight").click()
    phone.goto("/press")
    phone.evaluate(
        """data => fetch("/runs", {method: "POST", body: new URLSearchParams(data)})""",
        {"entry": fresh(), "job": job.code, "placement": "1", "press": shop.first_press},
    )
    number = runs.open_ones(shop.db, limit=1)[0].id
    seen = {}
    for level, code in (("ok", ok), ("caution", odd), ("stop", wrong)):
        phone.goto(f"/runs/{number}?screen={code}")
        assert phone.locator(f".verdict.at-press.{level}").count() == 1
        seen[level] = phone.evaluate(
            """() => {
            const s = document.querySelector(".at-press .shape"), w = document.querySelector(".at-press .word");
            const of = getComputedStyle(s);
            return [of.clipPath + "/" + of.borderTopLeftRadius, s.getBoundingClientRect().width,
                    parseFloat(getComputedStyle(w).fontSize), getComputedStyle(s, "::before").content,
                    document.documentElement.scrollWidth]; }"""
        )
    shapes, sizes, words, marks, wide = zip(*seen.values(), strict=True)
    assert len(set(shapes)) == len(set(sizes)) == len(set(words)) == len(set(marks)) == 3
    assert sizes[0] < sizes[1] < sizes[2] and words[1] < words[0] < words[2]
    assert max(wide) <= 360


# Named by eye


def test_found_does_not_walk_past_a_stop_of_the_leads(
    shop: Shop, press: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    job = shop.job()
    code = shop.screen(job, 1, until="image")
    run = start_run(press, shop, job)
    sent = {"screen": code, "head": "1", "station": "1"}
    assert post(press, run, "hang", override="it is fine", secret="4712", **sent).status_code == 403
    answer = press.post(f"/screens/{code}/found", data={"entry": fresh(), "standing_seen": "ready"})
    assert answer.status_code == 303, answer.text
    assert post(press, run, "hang", **sent).status_code == 409
    assert post(press, run, "hang", override="it is fine", secret="4712", **sent).status_code == 403
    page = press.get(f"/runs/{run}?screen={code}").text
    assert "RIGHT SCREEN, BUT" in page and "judged by eye" in page and "Hung on head" not in page
    assert f"/screens/{code}?step=check" not in page  # who named it is no second pair of eyes
    assert f"/screens/{code}?step=check" in sign_in(press, "Ada Holm").get(f"/runs/{run}?screen={code}").text
    sign_in(press, "Bo Lind")
    assert post(press, run, "hang", **sent).status_code == 409
    # a good check of the same person does not do, another person's does
    log(shop, code, "check", by="Bo Lind", result="good")
    assert post(press, run, "hang", **sent).status_code == 409
    log(shop, code, "check", by="Ada Holm", result="good")
    assert "Hung on head" in press.get(f"/runs/{run}?screen={code}").text
    assert post(press, run, "hang", **sent).status_code == 303


def test_a_lead_hangs_what_was_named_by_eye_with_a_reason_that_stays(
    shop: Shop, press: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    job = shop.job()
    code = shop.screen(job, 1, until="image")
    log(shop, code, "found", by="Bo Lind", standing_seen="ready")
    run = start_run(press, shop, job)
    lead = sign_in(press, "Cy Marsh")
    sent = {"screen": code, "head": "1", "station": "1"}
    assert post(lead, run, "hang", **sent).status_code == 409
    assert post(lead, run, "hang", override="looked at it: it is fine", secret="4713", **sent).status_code == 303
    (hung,) = runs.get(db, run).story.hung.values()  # type: ignore[union-attr]
    assert hung.passed is not None and hung.passed["causes"] == ["named-by-eye"] and hung.level == "caution"
    assert "looked at it: it is fine" in lead.get(f"/runs/{run}").text


def test_who_works_alone_confirms_the_check_with_the_own_pin(shop: Shop, press: FlaskClient, db: Database) -> None:
    job = shop.job()
    code = shop.screen(job, 1, until="image")
    log(shop, code, "found", by="Bo Lind", standing_seen="ready")
    for one in people.every(db):
        if one.name != "Bo Lind":
            people.change(db, one.id, one.role, one.secret, "2026-01-01T00:00:00.000000Z")
    db.execute("UPDATE sign_ins SET secret_at = NULL, signed = 'tap'")
    answer = press.post(f"/screens/{code}/check", data={"entry": fresh(), "result": "good"})
    assert answer.status_code == 422 and "your PIN counts as a second look" in answer.text
    assert 'name="secret"' in answer.text
    wrong = press.post(f"/screens/{code}/check", data={"entry": fresh(), "result": "good", "secret": "9999"})
    assert wrong.status_code in (401, 403, 422) and find.screen(db, code).life.stencil.by_eye  # type: ignore[union-attr]
    done = press.post(f"/screens/{code}/check", data={"entry": fresh(), "result": "good", "secret": "4712"})
    assert done.status_code == 303, done.text
    assert find.screen(db, code).life.stencil.by_eye is None  # type: ignore[union-attr]
    last = entries.of(db, "screen", find.screen(db, code).id)[-1]
    assert last.values["confirmed"] == "alone"


def test_what_a_form_sends_never_stands_for_the_pin(shop: Shop, press: FlaskClient, db: Database) -> None:
    job = shop.job()
    code = shop.screen(job, 1, until="image")
    log(shop, code, "found", by="Bo Lind", standing_seen="ready")
    sent = {"entry": fresh(), "result": "good", "confirmed": "alone", "secret": "4712"}
    press.post(f"/screens/{code}/check", data=sent)  # not alone: three others work here
    assert find.screen(db, code).life.stencil.by_eye is not None  # type: ignore[union-attr]


# Forced screens, over the pages


@pytest.mark.parametrize("how", ["pause", "finish", "swap"])
def test_a_forced_bare_frame_comes_off_as_bare(
    shop: Shop, press: FlaskClient, sign_in: SignIn, db: Database, how: str
) -> None:
    job = shop.job()
    blue, bare = shop.screen(job, 3), shop.screen(job, 1, until="tension")
    run = start_run(press, shop, job)
    lead = sign_in(press, "Cy Marsh")
    assert post(lead, run, "hang", screen=blue, head="3", station="3").status_code == 303
    forced = {"screen": bare, "head": "1", "station": "1", "override": "no other screen in time", "secret": "4713"}
    assert post(lead, run, "hang", **forced).status_code == 303
    assert [one.step for one in entries.of(db, "screen", find.screen(db, bare).id)][-2:] == ["tension", "hang"]
    assert post(lead, run, "count", good="10").status_code == 303
    if how == "swap":
        right = shop.screen(job, 1)
        answer = post(lead, run, "swap", old=bare, new=right, why="stencil breaks down")
    else:
        answer = post(lead, run, how, **({"then": "keep"} if how == "finish" else {}))
    assert answer.status_code == 303, answer.text
    assert standing(shop, bare) == "bare"
    page = lead.get(f"/runs/{start_run(lead, shop, job, shop.other_press)}?screen={bare}").text
    assert ">STOP<" in page


# Approvals


@pytest.fixture
def hung_run(shop: Shop, press: FlaskClient) -> int:
    """A run whose screens hang."""
    job = shop.job()
    white, blue = shop.screen(job, 1), shop.screen(job, 3)
    run = start_run(press, shop, job)
    assert post(press, run, "hang", screen=white, head="1", station="1").status_code == 303
    assert post(press, run, "hang", screen=blue, head="3", station="3").status_code == 303
    return run


def approved(db: Database, run: int) -> dict[str, Any]:
    return dict(runs.get(db, run).story.approved or {})  # type: ignore[union-attr]


@pytest.mark.parametrize("role", ["press", "sales"])
def test_an_approval_of_the_shop_names_somebody_who_works_here(
    press: FlaskClient, db: Database, hung_run: int, role: str
) -> None:
    for nobody in ("Ines of the kite club", "x", "", "command line"):
        answer = post(press, hung_run, "approve", approved_by=nobody, approved_as=role)
        assert answer.status_code == 422 and "Which person of the shop approved it?" in answer.text
    gone = people.find(db, "Ada Holm")
    assert gone is not None
    people.change(db, gone.id, gone.role, gone.secret, "2026-01-01T00:00:00.000000Z")
    assert post(press, hung_run, "approve", approved_by="Ada Holm", approved_as=role).status_code == 422
    assert post(press, hung_run, "approve", approved_by="cy  marsh", approved_as=role).status_code == 303
    assert approved(db, hung_run)["approved_by"] == "Cy Marsh"


def test_the_customer_is_named_by_a_person_of_theirs(press: FlaskClient, db: Database, hung_run: int) -> None:
    # the tile with one's own name is no name of the customer's
    answer = post(press, hung_run, "approve", approved_by="Bo Lind", approved_as="customer")
    assert answer.status_code == 422 and "Which person of the customer approved it?" in answer.text
    sent = {"approved_by": "Bo Lind", "customer_person": "Ines of the kite club", "approved_as": "customer"}
    assert post(press, hung_run, "approve", **sent).status_code == 303
    said = approved(db, hung_run)
    assert (said["approved_by"], said["approved_as"]) == ("Ines of the kite club", "customer")
    assert "customer_person" not in said


def test_the_form_offers_the_people_of_the_shop_by_tap(press: FlaskClient, hung_run: int) -> None:
    page = press.get(f"/runs/{hung_run}").text
    for name in ("Ada Holm", "Bo Lind", "Cy Marsh", "Di Novak"):
        assert f'name="approved_by" value="{name}"' in page
    assert 'name="customer_person"' in page and 'value="command line"' not in page


# Every other way round a stop


def test_neither_swap_nor_going_on_after_a_pause_gets_round_the_lead(
    shop: Shop, press: FlaskClient, hung_run: int, db: Database
) -> None:
    run = runs.get(db, hung_run)
    job = jobs.get(db, run.job)  # type: ignore[union-attr]
    assert job is not None
    wrong = shop.screen(job, 1, until="image")
    white = runs.get(db, hung_run).story.hung[1].screen  # type: ignore[union-attr]
    code = store_screens.get(db, white).code  # type: ignore[union-attr]
    sent = {"old": code, "new": wrong, "why": "pinholes", "override": "it is fine", "secret": "4712"}
    assert post(press, hung_run, "swap", **sent).status_code == 403
    assert post(press, hung_run, "pause").status_code == 303
    sent = {"screen": wrong, "head": "1", "station": "1", "override": "it is fine", "secret": "4712"}
    assert post(press, hung_run, "hang", **sent).status_code == 403
    assert post(press, hung_run, "hang", screen=code, head="1", station="1").status_code == 303


@pytest.mark.parametrize("step", ["check", "clean", "harden", "decide", "rack"])
def test_a_step_that_asks_first_names_by_eye_as_well(shop: Shop, db: Database, press: FlaskClient, step: str) -> None:
    """`in_hand` writes what was found: what the log does not vouch for is named by eye in this way too."""
    job = shop.job()
    bare = shop.screen(job, 1, until="tension")
    places.add(db, shop.manager, "Rack 1", "rack", post=fresh(), now=clock())
    values = {"check": {"result": "good"}, "decide": {"then": "keep"}, "rack": {"place": "Rack 1"}}
    log(shop, bare, step, by="Bo Lind", in_hand="yes", separations_seen="1", **values.get(step, {}))
    run = start_run(press, shop, job)
    answer = post(press, run, "hang", screen=bare, head="1", station="1", override="fine", secret="4712")
    assert answer.status_code in (403, 409), step


def test_nobodys_own_crossing_out_hangs_a_screen(shop: Shop, press: FlaskClient, db: Database) -> None:
    """Crossing out what another noted is the manager's; a check that failed stays a stop for the operator."""
    job = shop.job()
    code = shop.screen(job, 1)
    log(shop, code, "check", by="Ada Holm", result="fault", fault="soft")
    wrong = entries.of(db, "screen", find.screen(db, code).id)[-1].entry
    sent = {"entry": fresh(), "crosses": wrong, "why": "not so bad", "secret": "4712"}
    assert press.post(f"/screens/{code}/cross-out", data=sent).status_code == 403
    run = start_run(press, shop, job)
    sent = {"screen": code, "head": "1", "station": "1", "override": "fine", "secret": "4712"}
    assert post(press, run, "hang", **sent).status_code == 403


def test_the_command_line_holds_to_the_same_roles(shop: Shop, press: FlaskClient, db: Database, folder: Path) -> None:
    from click.testing import CliRunner

    from tickets.cli import root

    job = shop.job()
    wrong, named, right = shop.screen(job, 1, until="image"), shop.screen(job, 1, until="image"), shop.screen(job, 1)
    log(shop, named, "found", by="Bo Lind", standing_seen="ready")
    run = str(start_run(press, shop, job, shop.other_press))

    def hang(code: str, *more: str, by: str = "Bo Lind") -> Any:
        asked = ["run", "log", run, "hang", "--screen", code, "--head", "1", "--station", "1", *more, "--by", by]
        return CliRunner().invoke(root, [*asked, "--data", str(folder)])

    for code in (wrong, named):
        refused = hang(code, "--override", "it is fine")
        assert refused.exit_code == 2 and "Only a press lead or a manager" in refused.output
    said = hang(right)
    assert said.exit_code == 0 and said.output.startswith("RIGHT SCREEN\n")
    assert post(press, int(run), "pause").status_code == 303
    passed = hang(named, "--override", "looked at it", by="Cy Marsh")
    assert passed.exit_code == 0 and passed.output.startswith(
        "RIGHT SCREEN, BUT\nCaution: What is on this screen was only judged by eye"
    )
