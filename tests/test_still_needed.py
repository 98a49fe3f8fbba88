"""What is asked before a stencil goes that something still needs: one question, everywhere, that names the job and the
day; and that no list says the contrary of the page beside it."""

from __future__ import annotations

import json
import re
import secrets
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from flask.testing import FlaskClient
from shop import Shop, clock, fresh, repeat_of, with_presses
from sqlite_utils import Database
from test_floor import on_press, the_shop
from test_run_counts import tickets
from test_web_runs import ready_to_print

from tickets import cli
from tickets.actions import jobs, noting, runs, screens
from tickets.domain.code import shown
from tickets.domain.posted import Asks, form
from tickets.domain.screens import needs
from tickets.domain.screens.frames import Has
from tickets.domain.screens.screen import Life, Stencil
from tickets.domain.stages import Standing
from tickets.i18n import day_text
from tickets.queries import asked, boards, desk, desk_today, find, repeats, sound
from tickets.queries import tickets as tickets_now
from tickets.store import entries
from tickets.store import jobs as store_jobs

__all__ = ["the_shop"]


def without_run(the_shop: Shop) -> tuple[store_jobs.Saved, str, int]:
    """A job and one ready screen of it, with no run opened; its separation."""
    job = the_shop.job("night-market")
    first = store_jobs.asked(the_shop.db, job, 1)[0]
    code = the_shop.frame(mesh=first.mesh.split(" ")[0], thread=f"{first.thread_um:g}")
    the_shop.ready(code, first.separation)
    return job, code, first.separation


def last(the_shop: Shop, code: str) -> Any:
    """The newest entry of a screen."""
    return entries.of(the_shop.db, "screen", find.screen(the_shop.db, code).id)[-1]


LOSES: list[tuple[str, dict[str, Any]]] = [
    ("strip", {}), ("decide", {"then": "strip"}), ("stretch", {"mesh_count_as_labelled": "230/in"}),
    ("retension", {}), ("retire", {"cause": "frame"}), ("fault", {"kind": "glue gone", "then": "restretch"}),
    ("coat", {"in_hand": "yes"}),
]  # fmt: skip


@pytest.mark.parametrize(("step", "fields"), LOSES, ids=[step for step, _fields in LOSES])
def test_a_step_that_takes_a_needed_stencil_asks_once_and_keeps_the_answer(
    the_shop: Shop, step: str, fields: dict[str, Any]
) -> None:
    job, code, _separation = without_run(the_shop)
    before = the_shop.db.table("entries").count
    with pytest.raises(Asks) as asks:
        the_shop.log(code, step, **fields)
    (said,) = asks.value.still_needed
    day = day_text(job.sheet.due, the_shop.now.date())
    assert shown(job.code) in said and job.sheet.title in said and day in said and shown(code) in said
    assert the_shop.db.table("entries").count == before and asks.value.fields == ("still_needed",)
    the_shop.log(code, step, still_needed="yes", **fields)
    values = last(the_shop, code).values
    assert (values["still_needed"], values["needed_by"]) == ("yes", [job.code])
    assert sound.check(the_shop.db) == []


def test_a_step_that_leaves_the_stencil_on_asks_nothing(the_shop: Shop) -> None:
    _job, code, _separation = without_run(the_shop)
    the_shop.log(code, "tension", readings_n_per_cm="24")
    the_shop.log(code, "rack", place="Rack 1")
    the_shop.log(code, "decide", then="keep")
    the_shop.log(code, "fault", kind="slack", then="use on")
    assert "still_needed" not in last(the_shop, code).values


def test_what_is_told_of_a_screen_is_not_asked_about(the_shop: Shop) -> None:
    _job, code, _separation = without_run(the_shop)
    the_shop.log(code, "found", standing_seen="stripped")  # it is gone: nobody can keep it any more
    assert the_shop.life(code).standing is Standing.STRIPPED


def test_who_says_that_the_stencil_was_stripped_answers_both_with_one_yes(the_shop: Shop) -> None:
    job, code, _separation = without_run(the_shop)
    with pytest.raises(Asks) as asks:
        the_shop.log(code, "degrease")
    assert asks.value.fields == ("in_hand", "still_needed") and shown(job.code) in asks.value.still_needed[0]
    the_shop.log(code, "degrease", in_hand="yes")
    assert last(the_shop, code).values["needed_by"] == [job.code]


def test_in_hand_and_still_needed_are_one_question(the_shop: Shop) -> None:
    """The screen hangs by the log, and its job still needs it: both are due, both are asked together."""
    _job, codes, _run = on_press(the_shop)
    with pytest.raises(Asks) as asks:
        the_shop.log(codes[0], "strip")
    assert asks.value.fields == ("in_hand", "still_needed")
    with pytest.raises(Asks) as asks:
        the_shop.log(codes[0], "strip", in_hand="yes")
    assert asks.value.fields == ("still_needed",)
    the_shop.log(codes[0], "strip", in_hand="yes", still_needed="yes")
    assert the_shop.life(codes[0]).standing is Standing.STRIPPED


def ruined(life: Life, stencil: Stencil) -> list[Life]:
    """A life with a stencil that nobody can print, for each reason there is."""
    return [
        replace(life, torn=True), replace(life, standing=Standing.TO_RESTRETCH),
        replace(life, stencil=replace(stencil, washout="fault", check="")),
        replace(life, stencil=replace(stencil, check="fault")),
        replace(life, stencil=replace(stencil, purpose="test strip")),
        replace(life, stencil=replace(stencil, separations=())), replace(life, stencil=None),
    ]  # fmt: skip


def test_a_stencil_that_cannot_be_printed_is_nobodys_loss() -> None:
    stencil = Stencil(1, (7,), washout="good", check="good")
    life = Life(standing=Standing.READY, stencil=stencil)
    assert needs.usable(life) and not any(needs.usable(one) for one in ruined(life, stencil))
    torn = replace(life, torn=True, standing=Standing.TO_RESTRETCH)
    assert not needs.gives_up(life, torn, "pull")  # that it tore is not chosen
    assert needs.gives_up(life, replace(life, decided="strip"), "decide")
    assert not needs.gives_up(replace(life, decided="strip"), replace(life, decided="strip"), "clean")


def test_a_job_that_is_done_or_closed_needs_nothing(the_shop: Shop) -> None:
    job, code, _separation = without_run(the_shop)
    jobs.close(the_shop.db, the_shop.me, job, True, post=fresh(), now=the_shop.tick())
    the_shop.log(code, "strip", in_hand="yes")
    assert "still_needed" not in last(the_shop, code).values


def test_another_screen_that_serves_leaves_nothing_to_ask(the_shop: Shop) -> None:
    job, code, separation = without_run(the_shop)
    first = store_jobs.asked(the_shop.db, job, 1)[0]
    spare = the_shop.frame(mesh=first.mesh.split(" ")[0], thread=f"{first.thread_um:g}")
    with pytest.raises(Asks):
        the_shop.log(code, "strip")
    the_shop.ready(spare, separation)
    assert asked.needed(the_shop.db, find.screen(the_shop.db, code), the_shop.now) == ()
    the_shop.log(code, "strip")
    with pytest.raises(Asks):  # it was the last but one
        the_shop.log(spare, "strip")


def test_two_screens_stripped_together_are_not_each_others_spare(the_shop: Shop) -> None:
    job, code, separation = without_run(the_shop)
    first = store_jobs.asked(the_shop.db, job, 1)[0]
    spare = the_shop.frame(mesh=first.mesh.split(" ")[0], thread=f"{first.thread_um:g}")
    the_shop.ready(spare, separation)
    both = [find.screen(the_shop.db, one) for one in (code, spare)]
    with pytest.raises(Asks) as asks:
        screens.log_many(the_shop.db, the_shop.me, both, "strip", form({}), post=fresh(), now=the_shop.tick())
    (said,) = asks.value.still_needed
    assert shown(code) in said and shown(spare) in said, "one sentence names them all"
    told = form({"still_needed": "yes"})
    screens.log_many(the_shop.db, the_shop.me, both, "strip", told, post=fresh(), now=the_shop.tick())
    assert [last(the_shop, one).values["needed_by"] for one in (code, spare)] == [[job.code]] * 2


def test_a_slack_spare_does_not_serve(the_shop: Shop) -> None:
    job, code, separation = without_run(the_shop)
    first = store_jobs.asked(the_shop.db, job, 1)[0]
    spare = the_shop.frame(mesh=first.mesh.split(" ")[0], thread=f"{first.thread_um:g}")
    the_shop.ready(spare, separation)
    the_shop.log(spare, "tension", readings_n_per_cm="8")
    with pytest.raises(Asks):
        the_shop.log(code, "strip")


def test_an_announced_repeat_and_a_day_to_keep_it_are_needs(the_shop: Shop) -> None:
    job, code, _separation = without_run(the_shop)
    again = repeat_of(job, job.sheet.due + timedelta(days=40))
    jobs.close(the_shop.db, the_shop.me, job, True, post=fresh(), now=the_shop.tick())
    until = (the_shop.now.date() + timedelta(days=60)).isoformat()
    the_shop.log(code, "decide", **{"then": "keep", "until": until, "for": "the autumn fair"})
    (kept,) = asked.needed(the_shop.db, find.screen(the_shop.db, code), the_shop.now)
    assert (kept.why, kept.day, kept.what) == ("kept", until, "the autumn fair")
    repeat = jobs.add(the_shop.db, the_shop.me, [again], post=fresh(), now=the_shop.tick())[0]
    with pytest.raises(Asks) as asks:
        the_shop.log(code, "strip")
    kept_for, reorder = sorted(asks.value.still_needed)
    assert "the autumn fair" in kept_for and reorder.startswith("Reorder") and shown(repeat) in reorder
    late = the_shop.now + timedelta(days=61)
    assert [one.why for one in asked.needed(the_shop.db, find.screen(the_shop.db, code), late)] == ["repeat"]


def test_what_a_pause_noted_is_of_its_run_alone(the_shop: Shop) -> None:
    _job, codes, run = on_press(the_shop)
    runs.log(the_shop.db, the_shop.press, run, "pause", form({}), post=fresh(), now=the_shop.tick())
    assert the_shop.life(codes[0]).keep_for
    still = asked.needed(the_shop.db, find.screen(the_shop.db, codes[0]), the_shop.now)
    assert [(one.why, one.run) for one in still] == [("job", run)]


def test_a_finish_that_leaves_the_job_short_asks_and_a_whole_one_does_not(the_shop: Shop) -> None:
    job, codes, run = on_press(the_shop)
    db, ordered = the_shop.db, job.sheet.pieces
    runs.log(db, the_shop.press, run, "start", form({}), post=fresh(), now=the_shop.tick())
    with pytest.raises(Asks) as asks:
        sent = form({"then": "strip", "good": str(ordered - 1)})
        runs.log(db, the_shop.press, run, "finish", sent, post=fresh(), now=the_shop.tick())
    (said,) = asks.value.still_needed
    assert all(shown(code) in said for code in codes) and shown(job.code) in said and "under way" not in said
    assert the_shop.life(codes[0]).standing is Standing.ON_PRESS
    sent = form({"then": "strip", "good": str(ordered)})
    runs.log(db, the_shop.press, run, "finish", sent, post=fresh(), now=the_shop.tick())
    assert the_shop.life(codes[0]).decided == "strip" and "still_needed" not in last(the_shop, codes[0]).values


def test_a_swap_for_a_stencil_that_breaks_down_asks_nothing(the_shop: Shop) -> None:
    """The new screen carries the same: nothing runs short."""
    job, codes, run = on_press(the_shop)
    first = store_jobs.asked(the_shop.db, job, 1)[0]
    spare = the_shop.frame(mesh=first.mesh.split(" ")[0], thread=f"{first.thread_um:g}")
    the_shop.ready(spare, first.separation)
    sent = form({"old": codes[0], "new": spare, "why": "stencil breaks down"})
    runs.log(the_shop.db, the_shop.press, run, "swap", sent, post=fresh(), now=the_shop.tick())
    assert the_shop.life(codes[0]).decided == "strip"


def test_a_line_typed_in_late_asks_only_about_what_is_on_the_screen_now(the_shop: Shop) -> None:
    job = the_shop.job("night-market")
    first = store_jobs.asked(the_shop.db, job, 1)[0]
    code = the_shop.frame(mesh=first.mesh.split(" ")[0], thread=f"{first.thread_um:g}")
    long_ago = the_shop.now
    the_shop.tick(days=1)
    the_shop.ready(code, first.separation)
    the_shop.log(code, "haze", at=(long_ago + timedelta(minutes=5)).isoformat())
    the_shop.log(code, "strip", in_hand="yes", at=(long_ago + timedelta(minutes=2)).isoformat())
    assert the_shop.life(code).stencil is not None


# What the lists say ---------------------------------------------------------------------------------------------


def to_strip(the_shop: Shop) -> tuple[store_jobs.Saved, str]:
    """A screen that was to be stripped while nobody asked for it, and a job that asks for it since."""
    job, code, _separation = without_run(the_shop)
    jobs.close(the_shop.db, the_shop.me, job, True, post=fresh(), now=the_shop.tick())
    the_shop.log(code, "decide", then="strip")
    again = repeat_of(job, the_shop.now.date() + timedelta(days=3))
    repeat = jobs.add(the_shop.db, the_shop.me, [again], post=fresh(), now=the_shop.tick())[0]
    return find.job(the_shop.db, repeat), code


def stages(the_shop: Shop) -> dict[str, int]:
    return {one.step: one.screens for one in boards.to_do(the_shop.db, the_shop.now)}


def at_work(the_shop: Shop, job: store_jobs.Saved) -> desk_today.StationAhead:
    """The first station of a job, as the boards and the job's page have it."""
    return desk_today.placement_ahead(the_shop.db, job, 1, the_shop.now).stations[0]


def test_no_list_says_strip_of_a_screen_that_a_job_beside_it_needs(the_shop: Shop) -> None:
    job, code = to_strip(the_shop)
    found = at_work(the_shop, job).progress
    assert found.has is Has.GOING and not found.has.covered
    assert found.frame is not None and found.frame.code == code
    assert stages(the_shop) == {"decide": 1}
    screen = find.screen(the_shop.db, code)
    assert asked.next_step(the_shop.db, screen, the_shop.now)[0] == "decide"
    assert asked.needed_among(the_shop.db, [screen], the_shop.now) == {screen.id}
    the_shop.log(code, "decide", then="keep")
    assert stages(the_shop) == {} and at_work(the_shop, job).progress.has is Has.KEPT


def test_once_it_was_said_that_it_goes_all_lists_say_so(the_shop: Shop) -> None:
    job, code = to_strip(the_shop)
    the_shop.log(code, "decide", then="keep")
    the_shop.log(code, "decide", then="strip", still_needed="yes")
    assert the_shop.life(code).let_go == (job.code,)
    assert stages(the_shop) == {"strip": 1} and at_work(the_shop, job).progress.has is Has.NONE
    the_shop.log(code, "strip")  # it was asked about, and is not asked about again
    assert the_shop.life(code).let_go == () and sound.check(the_shop.db) == []


def test_another_job_that_comes_after_the_answer_is_asked_about(the_shop: Shop) -> None:
    job, code = to_strip(the_shop)
    the_shop.log(code, "decide", then="keep")
    the_shop.log(code, "decide", then="strip", still_needed="yes")
    later = repeat_of(job, job.sheet.due + timedelta(days=9))
    other = jobs.add(the_shop.db, the_shop.me, [later], post=fresh(), now=the_shop.tick())[0]
    with pytest.raises(Asks) as asks:
        the_shop.log(code, "strip")
    assert shown(other) in asks.value.still_needed[0] and shown(job.code) not in " ".join(asks.value.still_needed)


def test_of_two_kept_screens_alike_the_strip_list_keeps_one(the_shop: Shop) -> None:
    job, code, separation = without_run(the_shop)
    first = store_jobs.asked(the_shop.db, job, 1)[0]
    spare = the_shop.frame(mesh=first.mesh.split(" ")[0], thread=f"{first.thread_um:g}")
    the_shop.ready(spare, separation)
    for one in (code, spare):
        the_shop.log(one, "decide", then="keep")
    late = the_shop.now + timedelta(days=400)
    rows, _more = desk.kept(the_shop.db, late)
    assert {str(row.one.code): (row.keep, row.why) for row in rows} == {code: (True, "asked"), spare: (False, "idle")}
    jobs.close(the_shop.db, the_shop.me, job, True, post=fresh(), now=the_shop.tick())
    rows, _more = desk.kept(the_shop.db, late, strip_only=True)
    assert len(rows) == 2


def test_what_is_kept_for_something_is_not_on_the_strip_list(the_shop: Shop) -> None:
    job, code, _separation = without_run(the_shop)
    jobs.close(the_shop.db, the_shop.me, job, True, post=fresh(), now=the_shop.tick())
    the_shop.log(code, "decide", **{"then": "keep", "for": "the autumn fair"})
    (row,), _more = desk.kept(the_shop.db, the_shop.now + timedelta(days=400))
    assert (row.keep, row.why) == (True, "for")
    with pytest.raises(Asks, match="autumn fair"):
        the_shop.log(code, "strip")


def test_what_will_differ_does_not_reckon_with_a_screen_that_goes(the_shop: Shop) -> None:
    job, codes, run = on_press(the_shop)
    db = the_shop.db
    sent = form({"approved_by": "Bo Lind", "approved_as": "press"})
    noting.save_sheet(db, the_shop.press, run, form({"s1.squeegee": "75 square"}), post=fresh(), now=the_shop.tick())
    runs.log(db, the_shop.press, run, "approve", sent, post=fresh(), now=the_shop.tick())
    again = repeat_of(job, the_shop.now.date() + timedelta(days=30))
    repeat = find.job(db, jobs.add(db, the_shop.me, [again], post=fresh(), now=the_shop.tick())[0])

    def keys() -> set[str]:
        return {one.key for one in repeats.differences(db, repeat, 1, the_shop.now).differences}

    done = form({"then": "keep", "good": str(job.sheet.pieces)})
    runs.log(db, the_shop.press, run, "finish", done, post=fresh(), now=the_shop.tick())
    assert "repeat-screen-given-up" not in keys()
    the_shop.log(codes[0], "decide", then="strip", still_needed="yes")
    assert "repeat-screen-given-up" in keys()


def of_repeat(the_shop: Shop) -> tuple[store_jobs.Saved, str]:
    """The reorder of a job that has printed, and the screen of its first print order, off the press as worn."""
    job, codes, run = on_press(the_shop)
    db = the_shop.db
    sent = form({"approved_by": "Bo Lind", "approved_as": "press"})
    noting.save_sheet(db, the_shop.press, run, form({"s1.squeegee": "75 square"}), post=fresh(), now=the_shop.tick())
    runs.log(db, the_shop.press, run, "approve", sent, post=fresh(), now=the_shop.tick())
    done = {"then": "keep", "good": str(job.sheet.pieces), f"condition.{codes[0]}": "worn"}
    runs.log(db, the_shop.press, run, "finish", form(done), post=fresh(), now=the_shop.tick())
    again = repeat_of(job, the_shop.now.date() + timedelta(days=30))
    repeat = jobs.add(db, the_shop.me, [again], post=fresh(), now=the_shop.tick())[0]
    return find.job(db, repeat), codes[0]


def keys_ahead(the_shop: Shop, job: store_jobs.Saved) -> set[str]:
    return {one.key for one in repeats.differences(the_shop.db, job, 1, the_shop.now).differences}


def ticket_screens(the_shop: Shop, job: store_jobs.Saved) -> list[tuple[str, str]]:
    """The screens that the ticket lists at the first print order, each with its stage."""
    says = tickets_now.job_ticket(the_shop.db, job, "http://shop.test", the_shop.now)
    return [(one.code, one.stage) for one in says.placements[0].stations[0].screens]


def test_a_worn_screen_covers_no_job_until_it_was_found_good(the_shop: Shop) -> None:
    job, code = of_repeat(the_shop)
    found = at_work(the_shop, job).progress
    assert found.has is Has.GOING and found.next_step == "check" and not found.has.covered
    assert "repeat-screen-worn" in keys_ahead(the_shop, job) and ticket_screens(the_shop, job) == []
    board = boards.screen_room(the_shop.db, the_shop.now)
    line = next(one for group in board.groups if group.code == job.code for one in group.lines if one.station == 1)
    assert line.progress.has is Has.GOING and (line.serves or line.instead), "another frame is offered"
    the_shop.log(code, "check", result="good")
    assert at_work(the_shop, job).progress.has is Has.KEPT
    assert "repeat-screen-worn" not in keys_ahead(the_shop, job)
    assert ticket_screens(the_shop, job) == [(code, "kept")]


def test_a_screen_decided_to_be_stripped_is_on_no_ticket(the_shop: Shop) -> None:
    job, code = of_repeat(the_shop)
    the_shop.log(code, "check", result="good")
    the_shop.log(code, "decide", then="strip", still_needed="yes")
    later = repeat_of(job, job.sheet.due + timedelta(days=9))
    other = find.job(the_shop.db, jobs.add(the_shop.db, the_shop.me, [later], post=fresh(), now=the_shop.tick())[0])
    assert ticket_screens(the_shop, other) == [] and "repeat-screen-to-strip" in keys_ahead(the_shop, other)
    assert at_work(the_shop, other).progress.has is Has.GOING
    assert at_work(the_shop, job).progress.has is Has.NONE, "that one said that it goes without"


def test_a_torn_screen_is_on_no_ticket(the_shop: Shop) -> None:
    job, code, _separation = without_run(the_shop)
    assert ticket_screens(the_shop, job) == [(code, "ready")]
    the_shop.log(code, "fault", kind="torn")
    assert ticket_screens(the_shop, job) == [] and not at_work(the_shop, job).progress.has.covered


def test_going_is_nothing_on_the_press() -> None:
    worn = Stencil(separations=(1,), condition="worn")
    assert needs.going(Life(standing=Standing.KEPT, stencil=worn)) == "worn"
    assert needs.going(Life(standing=Standing.ON_PRESS, stencil=worn)) == "", "it prints now"
    assert needs.going(Life(standing=Standing.TO_STRIP, stencil=Stencil(separations=(1,)), decided="strip")) == "strip"
    assert needs.going(Life(standing=Standing.STRIPPED, decided="strip")) == ""


# On the command line, on pages ----------------------------------------------------------------------------------


def test_the_command_exits_2_writes_nothing_and_names_the_job(the_shop: Shop, tmp_path: Path) -> None:
    job, code, _separation = without_run(the_shop)
    before = the_shop.db.table("entries").count

    def run(*more: str) -> Result:
        command = ["screen", "log", code, "strip", "--data", str(tmp_path), *more]
        return CliRunner().invoke(cli.root, command, catch_exceptions=False)

    refused = run()
    assert refused.exit_code == 2 and len(refused.stderr.splitlines()) == 1
    assert shown(job.code) in refused.stderr and "--still_needed yes" in refused.stderr
    assert the_shop.db.table("entries").count == before
    done = run("--still_needed", "yes", "--json")
    assert done.exit_code == 0 and json.loads(done.stdout)["standing"] == "stripped"
    assert last(the_shop, code).values["still_needed"] == "yes"


@pytest.fixture
def web(db: Database) -> Shop:
    return with_presses(db)


def fields_of(text: str) -> dict[str, str]:
    """The hidden fields of the question's form."""
    found = re.search(r'<form class="step".*?</form>', text, re.S)
    assert found is not None, text
    return dict(re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)"', found[0]))


def test_the_page_asks_once_and_one_tap_goes_on(
    web: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    job = web.job()
    code = web.screen(job, 1)
    sign_in(client, "Ada Holm")
    answer = client.post(f"/screens/{code}/strip", data={"entry": secrets.token_hex(12)})
    assert answer.status_code == 409 and shown(job.code) in answer.text and "Still needed" in answer.text
    assert entries.of(web.db, "screen", 1)[-1].step == "check"
    assert "Reclaimed anyway" in answer.text and "in front of you" not in answer.text
    answer = client.post(f"/screens/{code}/strip", data=fields_of(answer.text), follow_redirects=True)
    assert answer.status_code == 200 and entries.of(web.db, "screen", 1)[-1].values["needed_by"] == [job.code]
    assert f"Done although still needed for: {shown(job.code)}" in re.sub(r"<[^>]*>", "", answer.text)


def test_the_pages_ask_once_whether_it_is_kept_after_all(
    web: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    now = the_clock(client)
    first = web.job()
    code = web.screen(first, 1)
    jobs.close(web.db, web.manager, first, True, post=secrets.token_hex(12), now=now)
    screen = find.screen(web.db, code)
    screens.log(web.db, web.manager, screen, "decide", form({"then": "strip"}), post=secrets.token_hex(12), now=now)
    job = web.job()
    sign_in(client, "Ada Holm")
    for path in (f"/jobs/{job.code}", "/screen-room"):
        page = client.get(path).text
        word = "to reclaim" if "jobs" in path else "to be reclaimed"
        assert "Keep it after all?" in page and word in page, path
        assert "Pick a frame" in page or "/screen-room/pick" in page, path
    (entry,) = re.findall(rf'/screens/{code}/decide">\s*<input type="hidden" name="entry" value="([^"]*)"', page)
    sent = {"entry": entry, "still_needed": "yes", "then": "strip"}
    assert client.post(f"/screens/{code}/decide", data=sent).status_code in (200, 303)
    assert find.screen(web.db, code).life.let_go == (job.code,), "who needed it is kept"
    for path in (f"/jobs/{job.code}", "/screen-room"):
        assert "Keep it after all?" not in client.get(path).text, path
    sent = {"entry": secrets.token_hex(12), "then": "keep"}
    assert client.post(f"/screens/{code}/decide", data=sent).status_code in (200, 303)
    page = client.get(f"/jobs/{job.code}").text
    assert "Keep it after all?" not in page and "1 of 2 screens ready" in re.sub(r"<[^>]*>", "", page)


def test_a_worn_screen_says_so_on_its_own_page_and_among_the_kept(
    web: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    """White came off worn, blue as good; the job lacks pieces still. Every page says of white that it covers nothing
    until it was looked over, and none says it of blue."""
    now, job = the_clock(client), web.job()
    run, white, blue = ready_to_print(sign_in(client, "Bo Lind"), web, job)
    runs.log(web.db, web.actor("Bo Lind"), run, "start", form({}), post=secrets.token_hex(12), now=now)
    done = {"then": "keep", "good": "5", f"condition.{white}": "worn"}
    runs.log(web.db, web.actor("Bo Lind"), run, "finish", form(done), post=secrets.token_hex(12), now=now)
    boss = sign_in(client, "Di Novak")

    def said(path: str) -> str:
        return " ".join(re.sub(r"<[^>]*>", " ", boss.get(path).text).split())

    def of(code: str) -> list[bool]:
        kept = said("/desk/kept")
        row = kept[kept.index(shown(code)) :].split("tees", 2)[1]
        own = said(f"/screens/{code}")
        line = said(f"/jobs/{job.code}").partition(shown(code))[2][:60]
        return ["came off worn" in row, "off the press: worn" in own, "covers no job" in own, "came off worn" in line]

    assert of(white) == [True] * 4 and of(blue) == [False] * 4
    screen, later, good = find.screen(web.db, white), now + timedelta(minutes=2), form({"result": "good"})
    screens.log(web.db, web.manager, screen, "check", good, post=secrets.token_hex(12), now=later)
    assert of(white) == [False] * 4, "looked over and found good"


def test_the_commands_say_which_screens_of_a_job_serve(web: Shop) -> None:
    """Two screens of white, the first of them to be stripped though the job asks for it: it stands last, with why."""
    job, now = web.job(), clock()
    gone, good = (web.screen(job, 1) for _time in range(2))
    screen, answer = find.screen(web.db, gone), form({"then": "strip", "still_needed": "yes"})
    screens.log(web.db, web.manager, screen, "decide", answer, post=secrets.token_hex(12), now=now)
    stations = json.loads(tickets(web.db, "job", "show", job.code, "--json").stdout)["placements"][0]["stations"]
    assert [(one["code"], one["stage"], one["going"]) for one in stations[0]["screens"]] == [
        (good, "ready", ""), (gone, "to reclaim", "strip"),
    ]  # fmt: skip
    assert f"{shown(good)} ready; {shown(gone)} to reclaim" in tickets(web.db, "job", "show", job.code).stdout
    told = json.loads(tickets(web.db, "screen", "show", gone, "--json").stdout)
    assert (told["stage"], told["going"], told["condition"]) == ("to reclaim", "strip", "")
    screens.log(web.db, web.manager, find.screen(web.db, good), "fault", form({"kind": "torn", "then": "use on"}),
                post=secrets.token_hex(12), now=now)  # fmt: skip
    assert f"{shown(good)} ready, torn" in tickets(web.db, "job", "show", job.code).stdout


def test_a_rack_asks_one_question_that_names_them_all(
    web: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    from tickets.actions import places

    job = web.job()
    codes = [web.screen(job, 1), web.screen(job, 3)]
    now = the_clock(client)
    rack = places.add(web.db, web.manager, "Rack 1", "rack", post=secrets.token_hex(12), now=now)
    sign_in(client, "Ada Holm")
    answer = client.post(f"/places/{rack}/strip", data={"entry": secrets.token_hex(12), "screen": codes})
    assert answer.status_code == 409 and all(shown(code) in answer.text for code in codes)
    assert answer.text.count("still needs") == 1
    sent = {**fields_of(answer.text), "screen": codes}
    assert client.post(f"/places/{rack}/strip", data=sent).status_code == 303
    assert [entries.of(web.db, "screen", number)[-1].step for number in (1, 2)] == ["strip", "strip"]


def the_clock(_client: FlaskClient) -> Any:

    return clock()


def test_a_cart_does_not_tick_what_a_job_needs(
    web: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    from tickets.actions import places

    now = the_clock(client)
    cart = places.add(web.db, web.manager, "Cart 1", "cart", post=secrets.token_hex(12), now=now)
    job = web.job()
    needed_one, other = web.screen(job, 1), web.screen(job, 3)
    for code in (needed_one, other):
        for step, sent in (("rack", {"place": "Cart 1"}), ("decide", {"then": "strip", "still_needed": "yes"})):
            found = find.screen(web.db, code)
            screens.log(web.db, web.manager, found, step, form(sent), post=secrets.token_hex(12), now=now)
    again = repeat_of(job, date.fromisoformat(str(job.sheet.due)) + timedelta(days=5))
    first = again.placements[0]
    again = replace(again, placements=(replace(first, stations=first.stations[:1]),))
    jobs.add(web.db, web.manager, [again], post=secrets.token_hex(12), now=now)
    sign_in(client, "Ada Holm")
    text = client.get(f"/places/{cart}?step=strip&tick=due").text
    ticked = re.findall(r'<input[^>]*name="screen"[^>]*value="([^"]*)"[^>]*checked', text)
    assert ticked == [other]
    page = client.get(f"/screens/{needed_one}").text
    assert "Reorder" in page and page.index("<legend>Decided") < page.index("Reclaim the screen")
